"""Change of style: from two constructions and a loom to the work between them, and its hours."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import Annotated, Final

import numpy as np

from weavability.answers.rounding import tidy
from weavability.answers.validation import CAUTION, assumptions_of, judge, verdict_of
from weavability.checks.finding import Verdict
from weavability.checks.registry import observe
from weavability.looms.denting import is_within_stock_tolerance
from weavability.looms.drawing_in import OnHooks, OnShafts
from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import JacquardLimits
from weavability.looms.style_change import (
    DEFAULT_RATES,
    Changeover,
    ChangeoverRates,
    ChangeoverStep,
    RouteKind,
    StyleOnLoom,
    WarpRoute,
    changeover,
)
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.sources import cite
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.weave_matrix import Matrix

RATE_NAMES: Final = tuple(field.name for field in fields(ChangeoverRates))


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleSummary:
    """A style on the loom: the figures that a change of style compares."""

    reference: Annotated[str | None, "The caller's own name of the order, as sent"]
    verdict: Annotated[Verdict, "The answer for this loom in a word"]
    total_ends: Annotated[int, "Ends over the whole width, selvedges included"]
    reed_dents_per_10cm: Annotated[float, "Reed to use"]
    ends_per_dent: Annotated[float, "Ends drawn into one dent of the ground"]
    shafts_used: Annotated[
        int | None, "Shafts used so that no shaft is crowded; null on a Jacquard"
    ]
    draft: Annotated[str | None, "Name of the draft"]
    hooks_used: Annotated[int | None, "Hooks used; null without a Jacquard"]
    reed_width_cm: Annotated[float, "Reed width in use"]
    picks_per_cm: Annotated[float, "Picks in the grey cloth"]
    weft_selectors_used: Annotated[int, "Different wefts to insert"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A route to the new warp that was not taken, and how long it would stop the loom."""

    route: Annotated[RouteKind, "How the warp is brought on"]
    loom_stop_hours: Annotated[float, "Hours that the loom is stopped"]
    steps: Annotated[tuple[ChangeoverStep, ...], "Its work, in order"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverReport:
    """The answer to one change of style."""

    loom_id: Annotated[str | None, "Name of the loom, if it has one"]
    route: Annotated[RouteKind, "How the warp is brought on"]
    steps: Annotated[tuple[ChangeoverStep, ...], "All work in order"]
    loom_stop_hours: Annotated[float, "Hours that the loom is stopped"]
    off_loom_hours: Annotated[float, "Hours of work away from the loom"]
    alternatives: Annotated[tuple[Route, ...], "The routes not taken, the shortest stop first"]
    old: Annotated[StyleSummary, "The style on the loom"]
    new: Annotated[StyleSummary, "The next style"]
    assumptions: Annotated[
        tuple[Assumption, ...], "Every value that was not given and was therefore assumed"
    ]
    caution: Annotated[str, "What a computed result is not"]


def change_style(
    old: Construction,
    new: Construction,
    loom: Loom,
    *,
    rates: Mapping[str, float] = MappingProxyType({}),
) -> ChangeoverReport:
    """Plan the change from one construction to another on a loom.

    Args:
        old: The construction on the loom.
        new: The construction that follows.
        loom: The loom; its own changeover rates count if ``rates`` does not state one.
        rates: Rates by name, see :data:`RATE_NAMES`.

    Raises:
        InputError: Something cannot be read; pointers start with ``/from``, ``/to``, ``/loom`` or
            ``/rates``.
    """
    ledger = Ledger()
    full_rates = rates_for(loom, rates, ledger)
    before, after = _judged(old, loom, "/from"), _judged(new, loom, "/to")
    plan = plan_change(after, style_on_loom(before), style_on_loom(after), full_rates)
    return tidy(
        ChangeoverReport(
            loom_id=loom.loom_id,
            route=plan.route,
            steps=plan.steps,
            loom_stop_hours=plan.loom_stop_hours,
            off_loom_hours=plan.off_loom_hours,
            alternatives=tuple(_route(route) for route in plan.alternatives),
            old=_summary(before),
            new=_summary(after),
            assumptions=tuple(_assumptions(before, after, ledger)),
            caution=CAUTION,
        )
    )


def rates_for(loom: Loom, stated: Mapping[str, float], ledger: Ledger) -> ChangeoverRates:
    """Return every rate: as the request states it, as the loom does, else its starting value.

    Raises:
        InputError: A rate has an unknown name or is out of its domain; pointers start with
            ``/rates`` or ``/loom/changeover_rates``.
    """
    own = dict(loom.changeover_rates)
    for pointer, given in (("/rates", stated), ("/loom/changeover_rates", own)):
        for name in given:
            if name not in RATE_NAMES:
                raise InputError.of(
                    f"{pointer}/{name}",
                    f"There is no changeover rate named {name}.",
                    given=name,
                    allowed=list(RATE_NAMES),
                )
    values: dict[str, float] = {
        field.name: ledger.take(
            f"/rates/{field.name}",
            stated.get(field.name, own.get(field.name)),
            getattr(DEFAULT_RATES, field.name),
            unit=_unit(field.name),
            reason=cite(
                "[TYING-NOTE-2022] and [SEYAM-OXENHAM-2017] for what they state; otherwise "
                "[COMMON-PRACTICE]"
            ),
        )
        for field in fields(ChangeoverRates)
    }
    with pointing_below("/rates"):
        return ChangeoverRates(**values)


def _unit(name: str) -> str:
    if name.startswith("minutes"):
        return "min"
    return "1/h" if name.endswith("_per_h") else "h"


def plan_change(
    after: Fit, old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates
) -> Changeover:
    """Plan the change between two cloths, keeping the reed on the loom if it serves.

    A reed that the order does not state is computed from sett and crimp. If the one on the loom is
    within the threshold ``reed_stock_tolerance_pct``, a mill keeps it.

    Args:
        after: The new cloth on the loom.
        old: The style on the loom.
        new: The style that follows.
        rates: How fast the work goes.

    Raises:
        InputError: The styles are for different shedding motions.
    """
    free = after.denting.asked_dents_per_10cm is None
    change_pct = 100 * (after.denting.needed_dents_per_10cm / old.reed_dents_per_10cm - 1)
    serves = old.ends_per_dent == new.ends_per_dent and is_within_stock_tolerance(change_pct)
    if free and serves:
        new = replace(new, reed_dents_per_10cm=old.reed_dents_per_10cm)
    return changeover(old, new, rates=rates)


def style_on_loom(fit: Fit, *, lift_plan: str | None = None) -> StyleOnLoom:
    """Collect the figures that a change of style compares from the facts of a cloth on a loom.

    Args:
        fit: The cloth on the loom.
        lift_plan: The fingerprint of its lift plan, if it is known already.
    """
    shedding = fit.limits.shedding
    return StyleOnLoom(
        ends=fit.cloth.ends.total,
        reed_dents_per_10cm=round(fit.denting.dents_per_10cm, 2),
        ends_per_dent=fit.denting.ends_per_dent,
        threading=_threading(fit),
        lift_plan=lift_plan or fingerprint(lift_plan_of(fit)),
        weft_yarns=tuple(_yarn_keys(fit.cloth.weft)),
        warp=f"{fit.cloth.warp.order.text} {sorted(_yarn_keys(fit.cloth.warp))}",
        shedding=shedding.kind,
        harness=f"{shedding.hooks} x {shedding.ends_per_hook}"
        if isinstance(shedding, JacquardLimits)
        else None,
        picks_per_cm=round(fit.cloth.picks_per_cm_on_loom, 3),
        reed_width_cm=round(fit.cloth.widths.reed_cm, 1),
    )


def lift_plan_of(fit: Fit) -> Matrix:
    """Return what the shedding lifts: shafts by the draft; without one, hooks by the weave."""
    return fit.cloth.weave.matrix if fit.draft is None else fit.draft.lift_plan


def fingerprint(plan: Matrix) -> str:
    """Return a short text that differs between lift plans."""
    return f"{plan.shape}{hashlib.sha256(np.packbits(plan).tobytes()).hexdigest()}"


def _threading(fit: Fit) -> tuple[int, ...]:
    """Return the draft; on a Jacquard the hooks in use, as casting others out is another draft."""
    on = fit.drawing_in
    if isinstance(on, OnHooks):
        return (on.hooks_used,)
    return on.drawn.draft.threading if on.drawn else ()


def _yarn_keys(system: SystemFacts) -> Iterator[str]:
    """Yield a key for each yarn: its fibre, linear density, plies and colour, not its name."""
    for yarn in system.yarns.values():
        yield f"{yarn.fibre.key} {yarn.linear_density_tex:.4g} tex/{yarn.plies} {yarn.colour}"


def _judged(construction: Construction, loom: Loom, prefix: str) -> Fit:
    try:
        return judge(construction, loom)
    except InputError as error:
        raise InputError(
            replace(fault, pointer=fault.pointer.replace("/construction", prefix, 1))
            for fault in error.faults
        ) from None


def _summary(fit: Fit) -> StyleSummary:
    on = fit.drawing_in
    return StyleSummary(
        reference=fit.cloth.construction.reference,
        verdict=verdict_of(observe(fit)),
        total_ends=fit.cloth.ends.total,
        reed_dents_per_10cm=fit.denting.dents_per_10cm,
        ends_per_dent=fit.denting.ends_per_dent,
        shafts_used=on.drawn.shafts_used if isinstance(on, OnShafts) and on.drawn else None,
        draft=fit.draft.kind if fit.draft else None,
        hooks_used=on.hooks_used if isinstance(on, OnHooks) else None,
        reed_width_cm=fit.cloth.widths.reed_cm,
        picks_per_cm=fit.cloth.weft.threads_per_cm,
        weft_selectors_used=fit.weft_selectors_used,
    )


def _route(route: WarpRoute) -> Route:
    return Route(route=route.route, loom_stop_hours=route.stop_hours, steps=route.steps)


def _assumptions(before: Fit, after: Fit, ledger: Ledger) -> Iterator[Assumption]:
    for prefix, fit in (("/from", before), ("/to", after)):
        for line in assumptions_of(fit):
            if line.pointer.startswith("/construction"):
                yield replace(line, pointer=line.pointer.replace("/construction", prefix, 1))
    for line in assumptions_of(after):
        if line.pointer.startswith(("/loom", "/thresholds")):
            yield line
    yield from ledger
