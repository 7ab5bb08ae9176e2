"""Setts and widths that bring a figure of the finished cloth within what is required."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from weavability.answers.field_changes import changed, value_at
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Proposal
from weavability.looms.fit import Fit
from weavability.textiles.assumptions import Ledger
from weavability.textiles.cloth import CONSTRUCTION, cloth_symbols
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.numbers import passed, short
from weavability.textiles.required_values import FIBRE, FinishedFigures, required_of

MOST_CHANGE_PCT: Final = 25.0
"""A change by more makes another cloth; common practice, no source."""

MOST_STEPS_FURTHER: Final = 3
"""Steps that are tried beyond the place that two figures foretell."""


class Lever(NamedTuple):
    """A field that moves figures of the finished cloth.

    Attributes:
        step: By which it is set.
        message: What the change means.
    """

    pointer: str
    step: float
    unit: str
    message: str = "Set {to:g} {unit}."


PICKS: Final = Lever("/construction/weft/picks_per_cm", 0.1, "picks/cm")
ENDS: Final = Lever("/construction/warp/ends_per_cm", 0.1, "ends/cm")
WIDTH: Final = Lever("/construction/width_cm", 0.5, "cm", "Weave it {to:g} {unit} wide.")

LEVERS: Final[dict[CheckCode, tuple[str, tuple[Lever, ...]]]] = {
    CheckCode.REQUIREMENT_MASS: ("mass_g_per_m2", (PICKS, ENDS)),
    CheckCode.REQUIREMENT_MASS_PER_M: ("mass_g_per_m", (PICKS, ENDS)),
    CheckCode.REQUIREMENT_WIDTH: ("finished_width_cm", (WIDTH,)),
    CheckCode.REQUIREMENT_ENDS: ("ends_per_cm", (ENDS,)),
    CheckCode.REQUIREMENT_PICKS: ("picks_per_cm", (PICKS,)),
    CheckCode.REQUIREMENT_OPEN_AREA: ("open_area_pct", (PICKS, ENDS)),
    CheckCode.REQUIREMENT_COVER: ("cover_factor", (PICKS, ENDS)),
    CheckCode.REQUIREMENT_FIBRE: (FIBRE, (PICKS, ENDS)),
}
"""By check the figure, and what moves it; nothing but other yarn moves the thickness."""


def within_limits(code: CheckCode) -> Callable[[Fit], Iterator[Proposal]]:
    """Return what proposes changes that bring the figure of a check within its limits."""
    figure, levers = LEVERS[code]

    def propose(fit: Fit) -> Iterator[Proposal]:
        for place, one in enumerate(required_of(fit.cloth.construction.requirements)):
            aim = _aim(fit, place) if one.figure == figure else None
            if aim is not None:
                for lever in levers:
                    yield from _moved(fit, place, lever, aim)

    return propose


class _Aim(NamedTuple):
    """Which end of the band is beyond which limit."""

    is_high: bool
    now: float
    limit: float

    def reached(self, end: float) -> bool:
        """Whether an end of a band is within the limit."""
        beyond = passed(end, self.limit) if self.is_high else short(end, self.limit)
        return not beyond


def _aim(fit: Fit, place: int) -> _Aim | None:
    """Return what is to be changed; nothing, if the band is wider than the limits are apart."""
    one = fit.order.requirements[place]
    is_low, is_high = short(one.low, one.least), passed(one.high, one.most)
    if bool(is_low) == bool(is_high):
        return None
    now, limit = (one.high, one.most) if is_high else (one.low, one.least)
    return _Aim(bool(is_high), now, limit)


def _moved(fit: Fit, place: int, lever: Lever, aim: _Aim) -> Iterator[Proposal]:
    """Propose the least change of a field that brings the end of the band within the limit."""
    construction = fit.cloth.construction
    now = value_at(construction, lever.pointer)
    if not isinstance(now, float):
        return

    def end_at(to: float) -> float:
        with pointing_below(CONSTRUCTION):
            unkept = Ledger(CONSTRUCTION, keeps=False)
            symbols = cloth_symbols(changed(construction, lever.pointer, to), unkept, unkept)
        return FinishedFigures(symbols).end_of(place, is_high=aim.is_high)

    try:
        to = _least_change(now, lever.step, aim, end_at)
    except InputError:  # Beyond what a cloth may have.
        return
    if to is not None:
        yield Proposal(pointer=lever.pointer, to=to, unit=lever.unit, message=lever.message)


def _least_change(
    now: float, step: float, aim: _Aim, end_at: Callable[[float], float]
) -> float | None:
    """Return the first step at which the limit is reached; figures are nearly linear in a field."""
    change = MOST_CHANGE_PCT / 100
    for side in (1, -1):
        far = now * (1 + side * change)
        at_far = end_at(far)
        if aim.reached(at_far):
            break
    else:
        return None
    share = (aim.limit - aim.now) / (at_far - aim.now)
    first = _step_beyond(now + share * (far - now), step, side)
    for more in range(MOST_STEPS_FURTHER + 1):
        to = round((first + side * more) * step, 6)
        if abs(to / now - 1) > change:
            return None
        if aim.reached(end_at(to)):
            return to
    return None


def _step_beyond(value: float, step: float, side: int) -> int:
    return math.ceil(value / step - 1e-9) if side > 0 else math.floor(value / step + 1e-9)
