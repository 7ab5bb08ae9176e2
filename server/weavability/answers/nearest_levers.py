"""Which levers bring a required figure within its limits with the nearest change, by estimate.

A report can try only a few changes. Of a figure that is the sum of what warp and weft give, or
moves with the width, it can be said without a trial about how far each lever has to be moved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from weavability.answers.check_levers import COARSER, FINER, LEVERS
from weavability.answers.field_changes import Change, distance_of
from weavability.answers.lever_choices import (
    COARSER_WARP,
    COARSER_WEFT,
    FINER_WARP,
    FINER_WEFT,
    LESS_PILE,
    MORE_PILE,
)
from weavability.answers.levers import (
    CLOSER_SETTS,
    FEWER_ENDS,
    FEWER_PICKS,
    FEWER_SELVEDGE_ENDS,
    MORE_ENDS,
    MORE_PICKS,
    NARROWER,
    SETTS,
    WIDER,
    At,
    Lever,
    Options,
)
from weavability.checks.codes import CheckCode
from weavability.checks.registry import Excess
from weavability.textiles.numbers import SLACK

_MORE: Final = frozenset({MORE_PILE, *CLOSER_SETTS, WIDER, *COARSER})
"""Levers that raise what is required, but for an open area."""

_LESS: Final = frozenset({LESS_PILE, *SETTS, NARROWER, *FINER, FEWER_SELVEDGE_ENDS})
"""Those that lower it."""

_OF_WARP: Final = frozenset({LESS_PILE, MORE_PILE, FEWER_ENDS, MORE_ENDS, FINER_WARP, COARSER_WARP})
_OF_WEFT: Final = frozenset({FEWER_PICKS, MORE_PICKS, FINER_WEFT, COARSER_WEFT})
_OF_COUNT: Final = frozenset({*FINER, *COARSER})

_MASSES: Final = frozenset({CheckCode.REQUIREMENT_MASS, CheckCode.REQUIREMENT_MASS_PER_M})
_OF_BOTH_SYSTEMS: Final = _MASSES | {
    CheckCode.REQUIREMENT_THICKNESS,
    CheckCode.REQUIREMENT_COVER,
    CheckCode.REQUIREMENT_OPEN_AREA,
}

_SHARE_WITHOUT_CRIMP: Final = 0.9
"""Share of the way to a limit that a lever is estimated to need: a closer sett or a coarser yarn
adds crimp as well. What is estimated too far would not be tried, what is too near is proved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far a lever has to be moved, by estimate.

    Attributes:
        lever: The lever.
        choices: Its options.
        share: By what share of a change of its number the figure changes.
        is_short: Whether the last of them is estimated not to do.
        distance: Of the first that is estimated to do, or else the last.
    """

    lever: Lever
    choices: Options
    share: float
    is_short: bool
    distance: float

    @classmethod
    def of(cls, lever: Lever, choices: Options, share: float, times: float) -> Reach:
        """Estimate how far a lever has to be moved for a figure so many times its limit."""
        needed = _moved(choices, share, 1 + (times - 1) * _SHARE_WITHOUT_CRIMP)
        place = min(max(0, choices.guess(needed)), len(choices) - 1)
        return cls(
            lever=lever,
            choices=choices,
            share=share,
            is_short=_times(choices[place]) < needed * (1 - SLACK),
            distance=distance_of(choices[place]),
        )

    @property
    def rank(self) -> tuple[bool, float]:
        """By which they are tried: the nearest first."""
        return self.is_short, self.distance

    @property
    def options(self) -> Options:
        """The options, tried from where the figure is estimated to be within its limits."""
        return self._from(0, 1.0)

    def past(self, change: Change) -> Options:
        """Return the options past one of them, tried likewise."""
        return self._from(self.choices.place_of(change) + 1, _times(change))

    def _from(self, first: int, times: float) -> Options:
        choices, share = self.choices, self.share

        def guess(over: float) -> int:
            return max(0, choices.guess(times * _moved(choices, share, over)) - first)

        return Options(
            len(choices) - first,
            lambda place: choices[first + place],
            is_ordered=choices.is_ordered,
            guess=guess,
        )


def _moved(choices: Options, share: float, over: float) -> float:
    """Return how many times a lever's number has to rise, or fall, for a figure to do so."""
    if choices[0].writes[0].change_pct > 0 or not math.isfinite(over):
        return 1 + (over - 1) / share
    left = 1 - (1 - 1 / over) / share
    return 1 / left if left > 0 else math.inf


def _times(change: Change) -> float:
    """Return how many times the number of a change is what it was, or the inverse."""
    times = 1 + change.writes[0].change_pct / 100
    return max(times, 1 / times) if times > 0 else math.inf


def nearest_first(at: At, passed: Excess) -> list[Reach]:
    """Return the levers of a required figure that lead to its limit, the nearest first.

    Args:
        at: The check of the figure.
        passed: How far its limit is passed by what is to come in.
    """
    there = (
        (lever, lever.options(at))
        for lever in LEVERS.get(at.code, ())
        if _leads_there(at.code, lever, is_above=passed.is_above)
    )
    times = max(1.0, passed.times)
    found = (Reach.of(lever, made, _share(at, lever, made), times) for lever, made in there if made)
    return sorted(found, key=lambda each: each.rank)


def _leads_there(code: CheckCode, lever: Lever, *, is_above: bool) -> bool:
    if code is CheckCode.REQUIREMENT_FIBRE:
        return True  # which way it goes depends on what the others are of
    away = _MORE if is_above is not (code is CheckCode.REQUIREMENT_OPEN_AREA) else _LESS
    return lever not in away


def _share(at: At, lever: Lever, options: Options) -> float:
    """Return by what share of a change of a lever's number a figure changes, about."""
    cloth = at.fit.cloth
    if lever is FEWER_SELVEDGE_ENDS:
        drawn = at.fit.denting.ends_per_dent / at.fit.denting.selvedge_ends_per_dent
        return drawn * max(cloth.ends.selvedge, 1) / cloth.ends.total
    if at.code not in _OF_BOTH_SYSTEMS or lever not in _OF_WARP | _OF_WEFT:
        return 1.0
    if at.code not in _MASSES:
        # They go with the setts or, at the root of the counts, with the diameters of both systems.
        return 0.25 if lever in _OF_COUNT else 0.5
    warp = cloth.numbers.ends_per_cm * cloth.warp.linear_density_tex
    weft = cloth.numbers.picks_per_cm * cloth.weft.linear_density_tex
    system, mass = (cloth.warp, warp) if lever in _OF_WARP else (cloth.weft, weft)
    share = mass / (warp + weft)
    if lever not in _OF_COUNT:
        return share
    written = {each.field.split("/")[4] for each in options[0].writes}
    of_yarns = {
        key: count * system.yarns[key].linear_density_tex
        for key, count in system.order.counts.items()
    }
    changed = sum(mass for key, mass in of_yarns.items() if key in written)
    return share * changed / sum(of_yarns.values()) or 1.0
