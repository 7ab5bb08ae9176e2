"""Measure the analysis of Jacquard designs: time, memory, and growth with the crossings.

Run it as a program; it keeps to one core and exits 1 when a limit is missed. Times are also given
as multiples of a baseline from the same run (one pass over the design that counts its raised
crossings), so that runs on different machines can be compared.
"""

from __future__ import annotations

import io
import os
import resource
import sys
import time
from collections.abc import Callable
from functools import partial

import numpy as np
from PIL import Image

from weavability.answers.weave_analysis.analysis import examine_weave
from weavability.answers.weave_analysis.request import WeaveRequest
from weavability.textiles.drafting import draft_weave
from weavability.textiles.notation import parse_weave
from weavability.textiles.point_paper_image import weave_from_png
from weavability.textiles.weave_matrix import MAX_SIDE, Weave
from weavability.textiles.weave_structure import analyse

ENDS, PICKS = 2_688, 4_000
MOST_SECONDS, MOST_MB = 0.5, 300.0
MOST_SHEET_SECONDS = 1.0
LARGEST_KINDS = 64
MOST_LARGEST_SECONDS, MOST_LARGEST_MB = 5.0, 1_000.0
RUNS = 5


def png_of_weave(weave: Weave) -> bytes:
    """A one-bit picture of a weave, one pixel a crossing, the first pick at the bottom."""
    picture = Image.fromarray(255 * (1 - weave.matrix[::-1]), mode="L").convert("1")
    file = io.BytesIO()
    picture.save(file, format="PNG", optimize=True)
    return file.getvalue()


def figured(picks: int, ends: int) -> Weave:
    """Make a damask of warp and weft satin, with a little noise so that no two lines are alike."""
    rng = np.random.default_rng(1)
    y, x = np.mgrid[0:picks, 0:ends].astype(np.float32)
    figure = np.sin(x / 60) * np.cos(y / 80) > 0.2
    satin = parse_weave("8-end satin move 3").matrix
    ground = satin[np.arange(picks)[:, None] % 8, np.arange(ends)[None, :] % 8]
    noise = rng.integers(0, 64, size=(picks, ends), dtype=np.uint8) == 0
    return Weave(matrix=np.where(figure, ground, 1 - ground) ^ noise)


def scattered(picks: int, ends: int) -> Weave:
    """Make a design of crossings by chance: as many floats as there can be."""
    rng = np.random.default_rng(2)
    return Weave(matrix=rng.integers(0, 2, size=(picks, ends), dtype=np.uint8))


def shafted(picks: int, ends: int, kinds: int) -> Weave:
    """Make a design of so many kinds of ends in disorder: the largest that is still drawn in."""
    rng = np.random.default_rng(3)
    columns = rng.integers(0, 2, size=(picks, kinds), dtype=np.uint8)
    return Weave(matrix=columns[:, rng.integers(0, kinds, size=ends)])


def seconds(work: Callable[[], object]) -> float:
    """Return the median time of several runs."""
    taken = []
    for _ in range(RUNS):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return sorted(taken)[RUNS // 2]


def peak_mb() -> float:
    """Return the most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> int:
    """Measure, print and judge."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    slowest = 0.0
    print(f"{'design':<34}{'ms':>9}{'× baseline':>12}{'ns/crossing':>13}")
    design = scattered(PICKS, ENDS)
    slowest = max(slowest, report("scattered, analysed", design, partial(analyse, design)))
    memory = peak_mb()
    for share in (4, 2):
        smaller = scattered(PICKS // share, ENDS)
        report(f"scattered / {share}, analysed", smaller, partial(analyse, smaller))
    damask = figured(PICKS, ENDS)
    slowest = max(slowest, report("damask, analysed", damask, partial(analyse, damask)))
    request = WeaveRequest(weave=damask, ends_per_cm=60, picks_per_cm=40, total_ends=8_400)
    sheet = report("damask, sheet of the weave", damask, partial(examine_weave, request))
    report("damask, drawn in", damask, partial(draft_weave, damask))
    png = png_of_weave(damask)
    report(f"damask, read from {len(png) // 1000} kB PNG", damask, partial(weave_from_png, png))
    small = parse_weave("8-end satin move 3")
    report("8-end satin, analysed", small, partial(analyse, small))
    print(f"analysis of {ENDS} × {PICKS}: at most {1e3 * slowest:.0f} ms, {memory:.0f} MB")
    large = shafted(MAX_SIDE, MAX_SIDE, LARGEST_KINDS)
    request = WeaveRequest(weave=large, ends_per_cm=60, picks_per_cm=40, total_ends=MAX_SIDE)
    largest = report(f"{LARGEST_KINDS} shafts, sheet", large, partial(examine_weave, request))
    largest_memory = peak_mb()
    print(f"sheet of {MAX_SIDE} × {MAX_SIDE}: {largest:.1f} s, {largest_memory:.0f} MB")
    missed = slowest > MOST_SECONDS or memory > MOST_MB or sheet > MOST_SHEET_SECONDS
    return int(missed or largest > MOST_LARGEST_SECONDS or largest_memory > MOST_LARGEST_MB)


def report(name: str, design: Weave, work: Callable[[], object]) -> float:
    """Print one line and return the seconds."""
    taken = seconds(work)
    baseline = seconds(partial(np.count_nonzero, design.matrix))
    per_crossing = 1e9 * taken / design.matrix.size
    print(f"{name:<34}{1e3 * taken:>9.2f}{taken / baseline:>12.0f}{per_crossing:>13.2f}")
    return taken


if __name__ == "__main__":
    sys.exit(main())
