"""Weft insertion: rate, speed limits, speed curve, feeders.

The weft insertion rate is picks a minute times the reed width in use. How fast a loom may run is
the least of several limits; the limit that decides has a name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import inf
from typing import Final, Protocol

from weavability.looms.loom_bounds import LOOM_BOUNDS, MOST_CURVE_POINTS
from weavability.textiles.errors import InputError
from weavability.textiles.guards import LARGEST, between, not_negative, positive, within
from weavability.textiles.numbers import N, Steps, Truth, either
from weavability.textiles.sentences import say


class WidthAndSpeed(Protocol):
    """A point of a speed curve: the speed of the loom at a reed width."""

    @property
    def reed_width_cm(self) -> float:
        """Reed width in use."""

    @property
    def picks_per_min(self) -> float:
        """Speed at this width."""


class SpeedLimitName(StrEnum):
    """What limits the speed of a loom."""

    REQUESTED_SPEED = "requested_speed"
    LOOM_SPEED = "loom_speed"
    SPEED_CURVE = "speed_curve"
    INSERTION_RATE = "insertion_rate"
    SHEDDING = "shedding"
    WEFT_STRENGTH = "weft_strength"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedLimit:
    """One limit of the speed of a loom.

    Attributes:
        name: What limits.
        picks_per_min: The speed it allows.
    """

    name: SpeedLimitName
    picks_per_min: float


def speed_limit(limits: Sequence[SpeedLimit]) -> SpeedLimit:
    """Return the least of the limits; of equal ones the first stated.

    Raises:
        InputError: There is no limit, or one is negative or not a number.

    >>> speed_limit([SpeedLimit(name=SpeedLimitName.LOOM_SPEED, picks_per_min=620),
    ...              SpeedLimit(name=SpeedLimitName.SHEDDING, picks_per_min=600)]).name.value
    'shedding'
    """
    if not limits:
        raise InputError.of(
            "", say("fault.loom.no_speed_limit", "State at least one limit of the speed.")
        )
    for limit in limits:
        not_negative("picks_per_min", limit.picks_per_min)
    return min(limits, key=lambda limit: limit.picks_per_min)


def picks_per_min_by_name(limits: Sequence[SpeedLimit]) -> dict[str, float]:
    """Return the picks a minute that each limit allows, by the limit's name.

    >>> picks_per_min_by_name([SpeedLimit(name=SpeedLimitName.SHEDDING, picks_per_min=600)])
    {'shedding': 600}
    """
    return {limit.name.value: limit.picks_per_min for limit in limits}


@dataclass(frozen=True, slots=True)
class SpeedCurve:
    """The speed that a loom's curve allows at a reed width.

    Between two stated widths the speed is interpolated on a straight line. A cloth narrower than
    the narrowest point runs at that point's speed, one wider than the widest at that one's: the
    curve is never carried on upward.

    Attributes:
        widths_cm: Reed widths, rising, from 0 to one that no loom has.
        picks_per_min: The speeds there.
        is_stated: Whether the loom states a curve; without one it has no limit by it.
    """

    widths_cm: Steps
    picks_per_min: Steps
    is_stated: Truth = True

    @classmethod
    def through(cls, points: Sequence[WidthAndSpeed]) -> SpeedCurve:
        """Draw the curve through at least one point, in any order, each width once.

        Raises:
            InputError: No point, too many, a width twice, or a number out of its domain.
        """
        widths, speeds = zip(*_sorted_curve(points), strict=True)
        return cls(Steps((0.0, *widths, LARGEST)), Steps((speeds[0], *speeds, speeds[-1])))

    def speed_at(self, reed_width_cm: N) -> N:
        """Return the picks a minute that the curve allows at a reed width."""
        place = self.widths_cm.below(reed_width_cm)
        width_1, width_2 = self.widths_cm.at(place - 1), self.widths_cm.at(place)
        speed_1, speed_2 = self.picks_per_min.at(place - 1), self.picks_per_min.at(place)
        share = (reed_width_cm - width_1) / (width_2 - width_1)
        return either(self.is_stated, speed_1 + (speed_2 - speed_1) * share, inf + 0 * share)


NO_CURVE: Final = SpeedCurve(Steps((0.0, LARGEST)), Steps((LARGEST, LARGEST)), is_stated=False)
"""That of a loom which states none."""


def _sorted_curve(points: Sequence[WidthAndSpeed]) -> list[tuple[float, float]]:
    if not 1 <= len(points) <= MOST_CURVE_POINTS:
        raise InputError.of(
            "/speed_curve",
            say(
                "fault.speed_curve.length",
                "A speed curve has 1 to {most_points} points.",
                most_points=MOST_CURVE_POINTS,
            ),
            given=len(points),
            allowed='for example [{"reed_width_cm": 140, "picks_per_min": 620}]',
        )
    for index, point in enumerate(points):
        for name in ("reed_width_cm", "picks_per_min"):
            bounds = LOOM_BOUNDS[f"/speed_curve/{name}"]
            within(f"speed_curve/{index}/{name}", getattr(point, name), bounds)
    curve = sorted((point.reed_width_cm, point.picks_per_min) for point in points)
    if any(a[0] == b[0] for a, b in pairwise(curve)):
        raise InputError.of(
            "/speed_curve",
            say("fault.speed_curve.width_twice", "State each reed width of the speed curve once."),
        )
    return curve


def insertion_rate_m_per_min(*, speed_picks_per_min: N, reed_width_cm: N) -> N:
    """Return the weft insertion rate in m/min: picks a minute times reed width in use.

    Raises:
        InputError: A value is not a positive number.

    800 picks/min at 5 m (an option of [EXAM-INSERTION-RATE]):

    >>> insertion_rate_m_per_min(speed_picks_per_min=800, reed_width_cm=500)
    4000.0
    """
    positive("speed_picks_per_min", speed_picks_per_min)
    return speed_picks_per_min * positive("reed_width_cm", reed_width_cm) / 100


def speed_at_insertion_rate(*, rate_m_per_min: N, reed_width_cm: N) -> N:
    """Return the picks a minute at which a width reaches an insertion rate.

    Raises:
        InputError: A value is not a positive number.

    1150 m/min at 1000 picks/min is a reed width of 1.15 m, no more:

    >>> speed_at_insertion_rate(rate_m_per_min=1150, reed_width_cm=115)
    1000.0
    """
    positive("rate_m_per_min", rate_m_per_min)
    return rate_m_per_min * 100 / positive("reed_width_cm", reed_width_cm)


def extra_weft_pct(*, extra_weft_cm: float, reed_width_cm: float) -> float:
    """Return the weft used beyond the reed width as a percentage of the reed width.

    Args:
        extra_weft_cm: Weft beyond the reed width at each pick, such as catch ends.
        reed_width_cm: Reed width in use.

    Raises:
        InputError: The extra weft is negative, or the width is not a positive number.

    >>> extra_weft_pct(extra_weft_cm=12, reed_width_cm=160)
    7.5
    """
    not_negative("extra_weft_cm", extra_weft_cm)
    return extra_weft_cm / positive("reed_width_cm", reed_width_cm) * 100


def feeder_speed_m_per_min(
    *,
    insertion_rate_m_per_min: float,
    extra_weft_pct: float,
    feeders: int,
    share_of_picks: float = 1.0,
) -> float:
    """Return the mean speed of one weft feeder: rate × (1 + extra) × share ÷ feeders.

    Feeders in alternation share a weft evenly, as each fills its store while the others deliver.

    Args:
        insertion_rate_m_per_min: Weft insertion rate of the loom.
        extra_weft_pct: Weft beyond the reed width, in % of it.
        feeders: Feeders that deliver this weft in turn.
        share_of_picks: Part of all picks that are of this weft; 1 if it is the only one.

    Raises:
        InputError: A value is out of its domain.

    500 picks/min through 1.90 m with 6 % for false edges [FEEDER-TEXT]: 1007 m/min
    from one feeder, half of it from each of two:

    >>> round(feeder_speed_m_per_min(
    ...     insertion_rate_m_per_min=950, extra_weft_pct=6, feeders=2), 3)
    503.5
    """
    positive("insertion_rate_m_per_min", insertion_rate_m_per_min)
    not_negative("extra_weft_pct", extra_weft_pct)
    between("share_of_picks", share_of_picks, least=0.0, most=1.0)
    positive("feeders", feeders)
    return insertion_rate_m_per_min * (1 + extra_weft_pct / 100) * share_of_picks / feeders
