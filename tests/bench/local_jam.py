"""Measure how the tightest square of a large design is found, and what a trial of a sett costs.

Run it as a program; it keeps to one core. Times are also given as multiples of a baseline from the
same run (one pass over the design that counts its raised crossings), memory as the most that the
squares take beside the design.
"""

from __future__ import annotations

import os
import sys
import time
import tracemalloc
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.weave_analysis import ENDS, PICKS, figured, scattered, seconds

from weavability.textiles.jamming import jam_of_cloth
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_squares import Squares, squares_of

CRAMMED = (2,) * 40 + (6,) * 16 + (0,)


def striped() -> Weave:
    """Plain beside satins that come out on many picks only."""
    names = ("plain", "8-end satin move 3", "5-end satin move 2", "7-end satin move 3", "2/1 twill")
    return striped_weave([Stripe(weave=parse_weave(name), ends=500) for name in names])


def main() -> None:
    """Measure and print."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    print(f"{'design':<42}{'ms':>9}{'× baseline':>12}{'ns/crossing':>13}{'MB':>7}{'squares':>9}")
    for name, design in (
        ("damask on a Jacquard", figured(PICKS, ENDS)),
        ("damask / 4", figured(PICKS // 4, ENDS)),
        ("by chance", scattered(PICKS, ENDS)),
        ("stripes", striped()),
    ):
        repeat = Repeat.of(design)
        report(f"{name}, {design.ends} × {design.picks}", repeat, ())
        report(f"{name}, crammed dents", repeat, CRAMMED)


def report(name: str, repeat: Repeat, ends_in_dents: tuple[int, ...]) -> None:
    """Print the time of the squares and of a trial of another sett."""
    taken = seconds(partial(squares_of, repeat, ends_in_dents=ends_in_dents))
    baseline = seconds(partial(np.count_nonzero, repeat.weave.matrix))
    tracemalloc.start()
    squares = squares_of(repeat, ends_in_dents=ends_in_dents)
    peak_mb = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    size = repeat.weave.matrix.size
    print(
        f"{name:<42}{1e3 * taken:>9.2f}{taken / baseline:>12.0f}{1e9 * taken / size:>13.2f}"
        f"{peak_mb:>7.0f}{squares.lists.items:>9}"
    )
    trial(squares)


def trial(squares: Squares) -> None:
    """Print the time of a trial of another sett."""
    begin, rounds = time.perf_counter(), 200
    for place in range(rounds):
        jam_of_cloth(
            squares.lists,
            lies_over=False,
            width_cm=160.0,
            ends_per_cm=40.0 + place / 10,
            picks_per_cm=30.0,
            warp_diameter_mm=0.16,
            weft_diameter_mm=0.16,
            mean_float_of_picks=3.0,
            mean_float_of_ends=3.0,
        )
    print(f"{'  a trial of another sett':<42}{1e3 * (time.perf_counter() - begin) / rounds:>9.3f}")


if __name__ == "__main__":
    main()
