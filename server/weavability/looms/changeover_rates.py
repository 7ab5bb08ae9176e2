"""Rates of the work of a change of style, and the bands in which they are expected."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields
from importlib import resources
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from weavability.textiles.assumptions import Grade, ValueBand
from weavability.textiles.guards import not_negative, positive
from weavability.textiles.sentences import Sentence, say_row


class RateBasis(NamedTuple):
    """A starting value, how well it is supported, and the band in which it is expected."""

    value: float
    band: ValueBand
    grade: Grade
    source: str

    def reason(self, rate: str) -> Sentence:
        """Return why a rate has its starting value."""
        return say_row(f"assumption.changeover_rate.{rate}", self.source)


def _bases() -> Mapping[str, RateBasis]:
    text = resources.files("weavability").joinpath("data/changeover_rates.toml")
    rows: dict[str, dict[str, Any]] = tomllib.loads(text.read_text("utf-8"))["rates"]
    return {
        rate: RateBasis(
            float(row["value"]), ValueBand(*row["band"]), Grade(row["grade"]), row["source"]
        )
        for rate, row in rows.items()
    }


RATE_BASES: Final = MappingProxyType(_bases())
"""Starting value of every rate, with its support and band: ``data/changeover_rates.toml``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverRates:
    """Rates of the work of a change of style; the mill may set each of them.

    The starting values are those of :data:`RATE_BASES`.

    Attributes:
        minutes_per_weft: Change one weft: package, feeder, brake, selector.
        minutes_for_picks: Set another pick density, and prove it.
        minutes_for_design: Load another lift plan or design on dobby or Jacquard.
        hours_for_cams: Change the cams (tappets) of a cam motion.
        minutes_for_width: Set temples, cutters and weft stop motion to another width.
        knots_per_h: Ends tied an hour by the tying machine, stops included.
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

    minutes_per_weft: float = RATE_BASES["minutes_per_weft"].value
    minutes_for_picks: float = RATE_BASES["minutes_for_picks"].value
    minutes_for_design: float = RATE_BASES["minutes_for_design"].value
    hours_for_cams: float = RATE_BASES["hours_for_cams"].value
    minutes_for_width: float = RATE_BASES["minutes_for_width"].value
    knots_per_h: float = RATE_BASES["knots_per_h"].value
    tie_in_ends_per_h: float = RATE_BASES["tie_in_ends_per_h"].value
    tie_in_fixed_hours: float = RATE_BASES["tie_in_fixed_hours"].value
    most_further_ends_pct: float = RATE_BASES["most_further_ends_pct"].value
    hand_drawing_ends_per_h: float = RATE_BASES["hand_drawing_ends_per_h"].value
    reeding_ends_per_h: float = RATE_BASES["reeding_ends_per_h"].value
    reeding_fixed_hours: float = RATE_BASES["reeding_fixed_hours"].value
    drawing_in_ends_per_h: float = RATE_BASES["drawing_in_ends_per_h"].value
    gaiting_hours: float = RATE_BASES["gaiting_hours"].value
    jacquard_threading_ends_per_h: float = RATE_BASES["jacquard_threading_ends_per_h"].value
    harness_tie_ends_per_h: float = RATE_BASES["harness_tie_ends_per_h"].value
    harness_fixed_hours: float = RATE_BASES["harness_fixed_hours"].value
    minutes_to_leave_ends_out: float = RATE_BASES["minutes_to_leave_ends_out"].value
    hours_per_beam: float = RATE_BASES["hours_per_beam"].value
    minutes_for_pile: float = RATE_BASES["minutes_for_pile"].value

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name.endswith("_per_h"):
                positive(field.name, value)
            else:
                not_negative(field.name, value)


DEFAULT_RATES: Final = ChangeoverRates()


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
