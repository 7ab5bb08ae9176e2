"""Time what is computed for one cloth on one loom; run as a program, it prints microseconds.

Every round has a width that was not seen before, so that no cache helps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import count
from timeit import repeat

from weavability.looms.carriers import InsertionSetup, InsertionSystem, Rapiers, insertion_motion
from weavability.looms.interference import StopRates, efficiency_from_stops
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.weft_insertion import (
    SpeedLimit,
    SpeedLimitName,
    speed_at_insertion_rate,
    speed_limit,
)
from weavability.looms.weft_tension import WeftYarn, speed_at_strength_use, weft_tension

YARN = WeftYarn(linear_density_tex=30, weakest_strength_cn=335, modulus_cn_per_tex=400)
ROUNDS = 2000


def rapier(overrun_cm: float) -> InsertionSetup:
    """A pair of rapiers."""
    return InsertionSetup(
        system=InsertionSystem.RAPIER,
        motion_law=MotionLaw.MODIFIED_SINE,
        rapiers=Rapiers.DOUBLE,
        entry_deg=60,
        transfer_deg=180,
        exit_deg=300,
        overrun_cm=overrun_cm,
        free_weft_length_m=0.5,
        base_tension_cn=15,
    )


def judge(setup: InsertionSetup, reed_width_cm: float) -> float:
    """Limits, motion and tension of one cloth on one loom."""
    by_rate = speed_at_insertion_rate(rate_m_per_min=1150, reed_width_cm=reed_width_cm)
    by_weft = speed_at_strength_use(setup, YARN, strength_use_pct=60, reed_width_cm=reed_width_cm)
    picks = speed_limit(
        [
            SpeedLimit(name=SpeedLimitName.LOOM_SPEED, picks_per_min=620),
            SpeedLimit(name=SpeedLimitName.INSERTION_RATE, picks_per_min=by_rate),
            SpeedLimit(name=SpeedLimitName.WEFT_STRENGTH, picks_per_min=by_weft),
        ]
    ).picks_per_min
    insertion_motion(setup, speed_picks_per_min=picks, reed_width_cm=reed_width_cm)
    tension = weft_tension(setup, YARN, speed_picks_per_min=picks, reed_width_cm=reed_width_cm)
    return tension.strength_use_pct


def judge_fresh(setup: InsertionSetup, widths: Iterator[int]) -> float:
    """Judge at the next width."""
    return judge(setup, next(widths) / 1000)


def microseconds(work: Callable[[], object]) -> float:
    """Best of five, for one round."""
    return min(repeat(work, number=ROUNDS, repeat=5)) / ROUNDS * 1e6


def main() -> None:
    """Print the times."""
    widths = count(100_000)
    for words, overrun_cm in (("from rest", 0.0), ("in motion", 5.0)):
        work = partial(judge_fresh, rapier(overrun_cm), widths)
        print(f"limits, motion, tension, weft taken up {words}: {microseconds(work):.0f} µs")
    fresh = count(1)
    spent = microseconds(
        lambda: efficiency_from_stops(
            StopRates(
                warp_stops_per_100k_picks=6,
                weft_stops_per_100k_picks=4,
                minutes_per_warp_stop=1.5,
                minutes_per_weft_stop=0.6,
                looms_per_set=12,
            ),
            speed_picks_per_min=400 + next(fresh) / 1000,
        )
    )
    print(f"efficiency from stops, 12 looms a weaver: {spent:.0f} µs")


if __name__ == "__main__":
    main()
