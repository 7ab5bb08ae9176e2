"""Rates of the work of a change of style, and the bands in which they are expected."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Final, NamedTuple

from weavability.textiles.assumptions import Grade, ValueBand
from weavability.textiles.guards import not_negative, positive
from weavability.textiles.sentences import Sentence, say_row


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverRates:
    """Rates of the work of a change of style; the mill may set each of them.

    Sources and bands of the starting values are in :data:`RATE_BASES`.

    Attributes:
        minutes_per_weft: Change one weft: package, feeder, brake, selector.
        minutes_for_picks: Set another pick density, and prove it.
        minutes_for_design: Load another lift plan or design on dobby or Jacquard.
        hours_for_cams: Change the cams (tappets) of a cam motion.
        minutes_for_width: Set temples, cutters and weft stop motion to another width.
        knots_per_h: Ends tied an hour by the tying machine, stops included: 100 a minute.
        tie_in_ends_per_h: Ends an hour of everything about tying that grows with them: brushing
            and clamping both warps, mending the missed knots, pulling the knots through healds
            and reed; set so that the whole stop is the published one.
        tie_in_fixed_hours: Bring the beam and couple it.
        most_further_ends_pct: Most ends beyond those on the loom, in % of these, that are drawn in
            by hand at the sides so that the warp is still tied in.
        hand_drawing_ends_per_h: Ends an hour that one person draws in or out on the loom, through
            drop wire, heald and reed.
        reeding_ends_per_h: Ends an hour sleyed into another reed on the loom.
        reeding_fixed_hours: Take the reed out, put the other in, weave up.
        drawing_in_ends_per_h: Ends an hour drawn in away from the loom by a pair of hands.
        gaiting_hours: Take the old warp with its harness off and gait the loom up with the new
            one.
        jacquard_threading_ends_per_h: Ends an hour threaded through a harness on the loom.
        harness_tie_ends_per_h: Ends an hour of tying a new harness and levelling it.
        harness_fixed_hours: Take the old harness down and hang the comber board.
        minutes_to_leave_ends_out: Cut the outer ends of the old warp that the new one lacks.
        hours_per_beam: Mount one more beam with its let-off and tension rollers, or take one off.
        minutes_for_pile: Set pile let-off and loops to another ratio, and prove it.
    """

    minutes_per_weft: float = 10.0
    minutes_for_picks: float = 10.0
    minutes_for_design: float = 5.0
    hours_for_cams: float = 2.0
    minutes_for_width: float = 30.0
    knots_per_h: float = 6000.0
    tie_in_ends_per_h: float = 1250.0
    tie_in_fixed_hours: float = 0.25
    most_further_ends_pct: float = 5.0
    hand_drawing_ends_per_h: float = 150.0
    reeding_ends_per_h: float = 800.0
    reeding_fixed_hours: float = 0.5
    drawing_in_ends_per_h: float = 1000.0
    gaiting_hours: float = 6.0
    jacquard_threading_ends_per_h: float = 100.0
    harness_tie_ends_per_h: float = 75.0
    harness_fixed_hours: float = 8.0
    minutes_to_leave_ends_out: float = 15.0
    hours_per_beam: float = 2.0
    minutes_for_pile: float = 30.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name.endswith("_per_h"):
                positive(field.name, value)
            else:
                not_negative(field.name, value)


DEFAULT_RATES: Final = ChangeoverRates()


class RateBasis(NamedTuple):
    """How well the starting value of a rate is supported, and the band in which it is expected."""

    band: ValueBand
    grade: Grade
    source: str

    def reason(self, rate: str) -> Sentence:
        """Return why a rate has its starting value."""
        return say_row(f"assumption.changeover_rate.{rate}", self.source)


def _usual(low: float, high: float) -> RateBasis:
    return RateBasis(ValueBand(low, high), Grade.COMMON_PRACTICE, "[COMMON-PRACTICE]")


RATE_BASES: Final[Mapping[str, RateBasis]] = MappingProxyType(
    {
        "minutes_per_weft": _usual(5, 20),
        "minutes_for_picks": _usual(5, 20),
        "minutes_for_design": _usual(2, 15),
        "hours_for_cams": _usual(1, 4),
        "minutes_for_width": _usual(15, 60),
        # 6000 ends, a number that is ours, in the published 30 to 120 min.
        "knots_per_h": RateBasis(
            ValueBand(3000, 12_000),
            Grade.SOURCE,
            "[SEYAM-OXENHAM-2017], tying-in 30 to 120 min",
        ),
        # The low end makes the published stop; the high end one of 2 h for 8000 ends.
        "tie_in_ends_per_h": RateBasis(
            ValueBand(1250, 6000),
            Grade.SOURCE,
            "[TYING-NOTE-2022], a stop of 3 h for 3000 ends and 6 h for 6000; faster: "
            "[COMMON-PRACTICE]",
        ),
        "tie_in_fixed_hours": _usual(0.15, 0.5),
        "most_further_ends_pct": _usual(1, 10),
        "hand_drawing_ends_per_h": _usual(100, 250),
        "reeding_ends_per_h": _usual(500, 1200),
        "reeding_fixed_hours": _usual(0.25, 1),
        "drawing_in_ends_per_h": _usual(600, 1500),
        "gaiting_hours": RateBasis(
            ValueBand(4, 8),
            Grade.SOURCE,
            "the middle of a change of style of 4 to 8 h, [SEYAM-OXENHAM-2017]",
        ),
        "jacquard_threading_ends_per_h": _usual(60, 150),
        "harness_tie_ends_per_h": _usual(50, 120),
        "harness_fixed_hours": _usual(4, 16),
        "minutes_to_leave_ends_out": _usual(5, 30),
        "hours_per_beam": _usual(1, 4),
        "minutes_for_pile": _usual(10, 60),
    }
)
"""Support and band of the starting value of every rate."""


class RateSpan(NamedTuple):
    """Rates as they are expected, and at the quick and the slow end of their bands."""

    usual: ChangeoverRates
    quick: ChangeoverRates
    slow: ChangeoverRates

    @classmethod
    def of(cls, usual: ChangeoverRates, *, stated: Collection[str] = ()) -> RateSpan:
        """Put the bands around rates; one that is stated has none.

        >>> span = RateSpan.of(ChangeoverRates(), stated=["gaiting_hours"])
        >>> span.quick.knots_per_h, span.slow.knots_per_h, span.slow.gaiting_hours
        (12000, 3000, 6.0)
        """
        quick, slow = {}, {}
        for name, basis in RATE_BASES.items():
            if name in stated or name == "most_further_ends_pct":
                quick[name] = slow[name] = getattr(usual, name)
            else:
                ends = basis.band.low, basis.band.high
                slow[name], quick[name] = ends if name.endswith("_per_h") else ends[::-1]
        return cls(usual, ChangeoverRates(**quick), ChangeoverRates(**slow))


def tie_in_hours(knots: float, rates: ChangeoverRates) -> float:
    """Return the hours for which tying a warp in stops the loom."""
    return rates.tie_in_fixed_hours + knots / rates.knots_per_h + knots / rates.tie_in_ends_per_h


def further_warps_hours(
    warps: Sequence[tuple[int, int]], *, have_own_beams: bool, rates: ChangeoverRates
) -> float:
    """Return the hours for which a loom stops for the warps of an order after the first.

    Each is tied to the one before; groups of ends without beams of their own are tied in together.

    Args:
        warps: Of each group of ends the ends, and how many fillings of its beams the order takes.
        have_own_beams: Whether each group is let off by itself.
        rates: How fast the work goes.

    Two warps of 3000 ends after the first, 3.15 h each:

    >>> round(further_warps_hours([(3000, 3)], have_own_beams=True, rates=DEFAULT_RATES), 2)
    6.3
    """
    further = [(ends, fillings - 1) for ends, fillings in warps]
    counts = [count for _, count in further]
    stops = sum(counts) if have_own_beams else max(counts)
    if not stops:
        return 0.0
    knots = sum(ends * count for ends, count in further)
    return stops * tie_in_hours(knots / stops, rates)


def patterns() -> Mapping[str, str]:
    """Return the reason of every starting value, by key."""
    return {
        f"assumption.changeover_rate.{name}": basis.source for name, basis in RATE_BASES.items()
    }
