"""What small change would make it run: proposals by code of the finding.

A proposal is only a candidate; :mod:`weavability.answers.validation` tries it and keeps those that
work. Numbers are rounded to what a shop floor can set, towards the side that runs.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Proposal
from weavability.looms.fit import Fit
from weavability.looms.speed import speed_at_use
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.jamming import Jam, jam_of_cloth

Proposer = Callable[[Fit], Iterable[Proposal]]

WIDTH_STEP_CM: Final = 0.5
LEAST_WIDTH_CM: Final = 2.0
"""Narrower than this is a tape, which is woven on other machines; common practice, no source."""

SETT_STEP_PER_CM: Final = 0.1
SAME_CLOTH_PCT: Final = 25.0
"""A sett or width changed by more makes another cloth, and is not proposed; common practice."""

SPEED_STEP_PICKS_PER_MIN: Final = 5.0
JUST_BELOW: Final = 0.999
JUST_ABOVE: Final = 1.001
"""How far beyond a threshold a change aims, so that it clears the finding for certain."""


def proposals(code: CheckCode, fit: Fit) -> Iterator[Proposal]:
    """Yield the changes that may clear a finding, the smallest intervention first."""
    for proposer in _PROPOSERS.get(code, ()):
        yield from proposer(fit)


def _small(to: float, stated: float) -> bool:
    """Whether a change leaves it the same cloth."""
    return abs(to / stated - 1) * 100 <= SAME_CLOTH_PCT


def _down(value: float, step: float) -> float:
    return round(math.floor(value / step + 1e-9) * step, 6)


def _up(value: float, step: float) -> float:
    return round(math.ceil(value / step - 1e-9) * step, 6)


def _stated_per_grey(fit: Fit) -> float:
    """Factor from a grey width to the width as the order states it."""
    return fit.cloth.construction.width_cm / fit.cloth.widths.grey_cm


def _narrower(fit: Fit) -> Iterator[Proposal]:
    cloth = fit.cloth
    room_cm = fit.limits.reed_width_cm - (cloth.panels - 1) * cloth.widths.panel_gap_cm
    grey_cm = room_cm / cloth.panels / (1 + cloth.weft.crimp_pct / 100)
    to = _down(grey_cm * _stated_per_grey(fit), WIDTH_STEP_CM)
    if to >= LEAST_WIDTH_CM and _small(to, cloth.construction.width_cm):
        yield Proposal(
            pointer="/construction/width_cm",
            to=to,
            unit="cm",
            message="Weave it {to:g} {unit} wide, the widest that this loom takes.",
        )


def _as_wide_as_the_tie(fit: Fit) -> Iterator[Proposal]:
    """Propose the width of which every end has its cord, and every cord of a tie its end."""
    tied = fit.order.design.tie_ends
    ends = fit.cloth.panels * fit.cloth.ends.ground
    stated = fit.cloth.construction.width_cm
    to = round(stated * tied / ends, 2)
    if tied and _small(to, stated):
        yield Proposal(
            pointer="/construction/width_cm",
            to=to,
            unit="cm",
            message="Weave it {to:g} {unit} wide, as the harness is tied.",
        )


def _fewer_panels(fit: Fit) -> Iterator[Proposal]:
    if fit.cloth.panels > 1:
        yield from _panels(fit)


def _panels(fit: Fit) -> Iterator[Proposal]:
    to = fit.panel_room
    if to >= 1:
        yield Proposal(
            pointer="/construction/panels",
            to=to,
            unit="panels",
            message=f"Weave {to} panel{'s' if to > 1 else ''} side by side.",
        )


def _slower(fit: Fit) -> Iterator[Proposal]:
    yield from _at_speed(
        min(
            limit.picks_per_min
            for limit in fit.speed_limits
            if limit.name is not SpeedLimitName.REQUESTED_SPEED
        )
    )


def _slower_for_weft(fit: Fit) -> Iterator[Proposal]:
    speed = speed_at_use(
        (run.loaded for run in fit.wefts),
        strength_use_pct=in_force().usual.weft_strength_note_pct * JUST_BELOW,
        reed_width_cm=fit.cloth.widths.reed_cm,
    )
    if speed is not None:
        yield from _at_speed(speed)


def _at_speed(picks_per_min: float) -> Iterator[Proposal]:
    to = _down(picks_per_min, SPEED_STEP_PICKS_PER_MIN)
    if to > 0:
        yield Proposal(
            pointer="/construction/requested_speed_picks_per_min",
            to=to,
            unit="picks/min",
            message="Run at {to:g} {unit}.",
        )


def _setts_for_tightness(
    fit: Fit, target_pct: float, of: Callable[[Jam[float]], float], *, closer: bool
) -> tuple[float | None, float | None]:
    """Stated picks/cm, and stated ends/cm, that bring a tightness to a target; one at a time.

    Each is the last step of a sett that is looser than the target, or the first that is not.
    """
    cloth, stated_cloth = fit.cloth, fit.cloth.symbols.stated()
    ends, picks = cloth.warp.threads_per_cm, cloth.weft.threads_per_cm

    def solve(change: Callable[[float], float], now: float) -> float | None:
        steps = _steps_of_same_cloth(now)
        # The tightness rises with the sett, so a few of the steps are tried, not all.
        first = bisect_left(steps, target_pct, key=lambda step: change(_sett_at(step) / now))
        place = first if closer else first - 1
        return _sett_at(steps[place]) if place >= 0 and first < len(steps) else None

    def tightness(ends_factor: float, picks_factor: float) -> float:
        return of(
            jam_of_cloth(
                stated_cloth.squares,
                lies_over=stated_cloth.lies_over,
                ends_per_cm=ends * ends_factor,
                picks_per_cm=picks * picks_factor,
                warp_diameter_mm=cloth.warp.diameter_mm,
                weft_diameter_mm=cloth.weft.diameter_mm,
                mean_float_of_picks=cloth.structure.mean_float_of_picks,
                mean_float_of_ends=cloth.structure.mean_float_of_ends,
            )
        )

    stated = cloth.construction
    return (
        solve(lambda factor: tightness(1.0, factor), stated.weft.threads_per_cm),
        solve(lambda factor: tightness(factor, 1.0), stated.warp.threads_per_cm),
    )


def _steps_of_same_cloth(sett_per_cm: float) -> range:
    """Return the steps of a sett that leave it the same cloth."""
    now, change = sett_per_cm / SETT_STEP_PER_CM, SAME_CLOTH_PCT / 100
    least, most = now * (1 - change), now * (1 + change)
    return range(math.ceil(least - 1e-9), math.floor(most + 1e-9) + 1)


def _sett_at(step: int) -> float:
    return round(step * SETT_STEP_PER_CM, 6)


def _in_plane(jam: Jam[float]) -> float:
    return jam.in_plane_tightness_pct


def _tightest(jam: Jam[float]) -> float:
    return jam.tightness_pct


def _mean(jam: Jam[float]) -> float:
    return jam.mean_tightness_pct


def _looser_to(target_pct: Callable[[Fit], float], of: Callable[[Jam[float]], float]) -> Proposer:
    def propose(fit: Fit) -> Iterator[Proposal]:
        yield from _setts(fit, target_pct(fit), of, closer=False)

    return propose


def _closer(fit: Fit) -> Iterator[Proposal]:
    target_pct = in_force().usual.sett_open_warning_pct * JUST_ABOVE
    yield from _setts(fit, target_pct, _mean, closer=True)


def _setts(
    fit: Fit, target_pct: float, of: Callable[[Jam[float]], float], *, closer: bool
) -> Iterator[Proposal]:
    stated = fit.cloth.construction
    picks, ends = _setts_for_tightness(fit, target_pct, of, closer=closer)
    for which, to, now in (
        ("weft/picks", picks, stated.weft.threads_per_cm),
        ("warp/ends", ends, stated.warp.threads_per_cm),
    ):
        if to is not None:
            yield from _sett(which, to, now)


def _sett(
    which: str, to: float, now: float, message: str = "Set {to:g} {unit}."
) -> Iterator[Proposal]:
    if not _small(to, now):
        return
    system, threads = which.split("/")
    yield Proposal(
        pointer=f"/construction/{system}/{threads}_per_cm",
        to=to,
        unit=f"{threads}/cm",
        message=message,
    )


def _picks_in_range(fit: Fit) -> Iterator[Proposal]:
    now = fit.cloth.construction.weft.threads_per_cm
    stated = now / fit.cloth.picks_per_cm_on_loom
    if fit.cloth.picks_per_cm_on_loom > fit.limits.max_picks_per_cm:
        to = _down(fit.limits.max_picks_per_cm * stated, SETT_STEP_PER_CM)
    else:
        to = _up(fit.limits.min_picks_per_cm * stated, SETT_STEP_PER_CM)
    yield from _sett("weft/picks", to, now)


def _sett_of_stock_reed(fit: Fit) -> Iterator[Proposal]:
    denting, stated = fit.denting, fit.cloth.construction
    if stated.reed.count is not None:
        return
    nearest = denting.nearest_in_stock_dents_per_10cm
    if nearest is None:
        return
    if denting.asked_dents_per_10cm is not None:
        yield Proposal(
            pointer="/construction/reed/dents_per_10cm",
            to=nearest,
            unit="dents/10 cm",
            message=f"Use the reed of {nearest:g} dents/10 cm that is in stock.",
        )
        return
    now = stated.warp.threads_per_cm
    to = round(now * nearest / denting.needed_dents_per_10cm, 2)
    message = f"Set {{to:g}} {{unit}}, which the reed of {nearest:g} gives."
    yield from _sett("warp/ends", to, now, message)


def _reed_of_sett(fit: Fit) -> Iterator[Proposal]:
    if fit.cloth.construction.reed.count is not None:
        return
    to = round(fit.denting.needed_dents_per_10cm, 1)
    usual = in_force().usual
    if usual.reed_coarsest_dents_per_10cm <= to <= usual.reed_finest_dents_per_10cm:
        yield Proposal(
            pointer="/construction/reed/dents_per_10cm",
            to=to,
            unit="dents/10 cm",
            message=f"Use a reed of {to:g} dents/10 cm.",
        )


def _fewer_per_dent(fit: Fit) -> Iterator[Proposal]:
    for to in (4, 3, 2):
        if to < fit.denting.ends_per_dent and not fit.cloth.construction.reed.ends_in_dents:
            yield Proposal(
                pointer="/construction/reed/ends_per_dent",
                to=to,
                unit="ends/dent",
                message=f"Draw {to} ends in a dent of a finer reed.",
            )


def _whole_repeats(fit: Fit) -> Iterator[Proposal]:
    cloth = fit.cloth
    repeat = cloth.warp.order.threads
    whole = round(cloth.ends.ground / repeat) * repeat
    to = round(whole / cloth.warp.threads_per_cm * _stated_per_grey(fit), 3)
    if to >= LEAST_WIDTH_CM and _small(to, cloth.construction.width_cm):
        yield Proposal(
            pointer="/construction/width_cm",
            to=to,
            unit="cm",
            message=f"Weave it {{to:g}} {{unit}} wide, for {whole // repeat} whole repeats.",
        )


def _straight_draft(fit: Fit) -> Iterator[Proposal]:
    draft = fit.cloth.construction.draft
    if draft is None or draft.threading == "straight":
        return
    yield Proposal(
        pointer="/construction/draft/threading",
        to="straight",
        unit=None,
        message="Draw in straight.",
    )


def _binding_selvedge(fit: Fit) -> Iterator[Proposal]:
    if not fit.cloth.ends.selvedge:
        return
    for to in ("2/2 weft rib", "plain"):
        yield Proposal(
            pointer="/construction/selvedge/weave",
            to=to,
            unit=None,
            message=f"Weave the selvedge in {to}.",
        )


def _fewer_per_selvedge_dent(fit: Fit) -> Iterator[Proposal]:
    for to in (4, 3, 2):
        if to < fit.denting.selvedge_ends_per_dent:
            yield Proposal(
                pointer="/construction/selvedge/ends_per_dent",
                to=to,
                unit="ends/dent",
                message=f"Draw {to} selvedge ends in a dent.",
            )


_PROPOSERS: Final[dict[CheckCode, tuple[Proposer, ...]]] = {
    CheckCode.WIDTH_REED_SPACE: (_fewer_panels, _narrower),
    CheckCode.WIDTH_BELOW_MINIMUM: (_panels,),
    CheckCode.REED_NOT_IN_STOCK: (_sett_of_stock_reed,),
    CheckCode.REED_SETT_MISMATCH: (_reed_of_sett,),
    CheckCode.REED_ENDS_PER_DENT: (_fewer_per_dent,),
    CheckCode.REED_COUNT: (_fewer_per_dent,),
    CheckCode.WEAVE_DRAFT_MISMATCH: (_straight_draft,),
    CheckCode.DESIGN_PROPORTION: (_as_wide_as_the_tie,),
    CheckCode.SHEDDING_HOOKS: (_as_wide_as_the_tie,),
    CheckCode.SELVEDGE_UNBOUND: (_binding_selvedge,),
    CheckCode.SELVEDGE_TIGHT: (_fewer_per_selvedge_dent,),
    CheckCode.SETT_JAMMED: (_looser_to(lambda fit: fit.limits.max_tightness_pct, _in_plane),),
    CheckCode.SETT_TIGHT: (
        _looser_to(lambda _: in_force().usual.sett_tight_note_pct * JUST_BELOW, _tightest),
    ),
    CheckCode.SETT_OPEN: (_closer,),
    CheckCode.WEFT_STRENGTH: (_slower_for_weft,),
    CheckCode.INSERTION_RATE_EXCEEDED: (_slower,),
    CheckCode.INSERTION_SPEED_EXCEEDED: (_slower,),
    CheckCode.INSERTION_SHEDDING_SPEED: (_slower,),
    CheckCode.INSERTION_WEFT_SPEED: (_slower,),
    CheckCode.PICKS_OUT_OF_RANGE: (_picks_in_range,),
    CheckCode.COLOUR_WARP_REMAINDER: (_whole_repeats,),
}
