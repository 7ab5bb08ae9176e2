"""What is wrong with a weave, and what the stated shedding motion cannot do.

The findings have the codes, limits and severities of the checks of a report; here they are judged
without a cloth or a loom, from the weave, its setts and the shedding motion alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from weavability.checks.finding import Finding, Observation, Severity, above, below
from weavability.checks.registry import find_check
from weavability.checks.shedding import (
    CROWDED_BEYOND_HOPE,
    HARNESS_TOLERANCE,
    HEAVY_LIFT_SHARE,
    IDLE_HOOKS_PCT,
    SPARSE_HARNESS_SHARE,
    UNEVEN_LIFT_SHARE,
)
from weavability.checks.weave import LONG_FLOAT_NOTE_MM, LONG_FLOAT_WARNING_MM
from weavability.looms.loom import Shedding, SheddingKind
from weavability.weave_sheets.case import WeaveCase
from weavability.weave_sheets.hooks import harness_of

Seen = Iterator[tuple[str, Observation]]

_LISTED: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What the findings compare and other parts of the sheet compute.

    Attributes:
        longest_float_mm: Where both setts are known.
        healds_per_shaft: Of the draft in use over the whole width, where the ends are known.
        healds_per_cm_per_shaft: On its fullest shaft, where the sett in the reed is known.
    """

    longest_float_mm: float | None
    healds_per_shaft: tuple[int, ...] | None
    healds_per_cm_per_shaft: float | None


def find_faults(case: WeaveCase, measured: Measured) -> tuple[Finding, ...]:
    """Judge a weave; findings stand in the order of the checks of a report, the weave first."""
    seen = [
        _layers(case),
        _loose_threads(case),
        _long_floats(measured),
        _draft_mismatch(case),
    ]
    if case.shedding is not None:
        seen += [_repeat_picks(case, case.shedding), _lift(case)]
        seen += _on_hooks(case) if case.on_hooks else _on_shafts(case, measured, case.shedding)
    return tuple(_finding(code, each) for part in seen for code, each in part)


def _finding(code: str, seen: Observation) -> Finding:
    info = find_check(code)
    if info is None:
        raise LookupError(f"no check has the code {code}")
    return Finding(
        code=code,
        severity=seen.severity,
        message=seen.message,
        pointer=seen.pointer,
        actual=seen.actual,
        limit=seen.limit,
        unit=seen.unit,
        margin_pct=seen.margin_pct,
        source=info.source,
    )


def _layers(case: WeaveCase) -> Seen:
    """The threads must hold one another in one cloth."""
    structure = case.structure
    # A loose thread is a layer of its own, and the next function speaks of it.
    cloths = structure.layer_count - len(structure.loose_ends) - len(structure.loose_picks)
    if cloths > 1:
        yield (
            "weave.falls_apart",
            Observation(
                severity=Severity.ERROR,
                message=f"The weave falls apart into {cloths} cloths that lie on one another "
                "unbound; the sheet lists their threads. Stitch the layers, or state the weave of "
                "one layer.",
                pointer="/weave",
                actual=cloths,
                limit=1,
                unit="layers",
            ),
        )


def _loose_threads(case: WeaveCase) -> Seen:
    """Every thread must interlace."""
    structure = case.structure
    for way, loose in (("End", structure.loose_ends), ("Pick", structure.loose_picks)):
        if loose:
            listed = ", ".join(map(str, loose[:_LISTED]))
            more = f" and {len(loose) - _LISTED} more" if len(loose) > _LISTED else ""
            yield (
                "weave.loose_thread",
                Observation(
                    severity=Severity.ERROR,
                    message=f"{way} {listed}{more} of the repeat never interlaces. Bind it with at "
                    "least one crossing in the repeat.",
                    pointer="/weave",
                    actual=len(loose),
                    limit=0,
                    unit="threads",
                ),
            )


def _long_floats(measured: Measured) -> Seen:
    """Long floats snag."""
    length_mm = measured.longest_float_mm
    if length_mm is None or not above(length_mm, LONG_FLOAT_NOTE_MM):
        return
    heavy = above(length_mm, LONG_FLOAT_WARNING_MM)
    yield (
        "weave.long_float",
        Observation(
            severity=Severity.WARNING if heavy else Severity.NOTE,
            message=f"The longest float is {length_mm:.1f} mm: it snags in use. Bind it more often "
            "or raise the sett.",
            pointer="/weave",
            actual=length_mm,
            limit=LONG_FLOAT_WARNING_MM if heavy else LONG_FLOAT_NOTE_MM,
            unit="mm",
        ),
    )


def _draft_mismatch(case: WeaveCase) -> Seen:
    """A given draft must make the weave."""
    faults = case.drafts.given_faults
    if faults:
        yield (
            "weave.draft_mismatch",
            Observation(
                severity=Severity.ERROR,
                message=f"The draft cannot weave this cloth: {faults[0].message}",
                pointer=faults[0].pointer,
                actual=None,
                limit=None,
                unit=None,
            ),
        )


def _repeat_picks(case: WeaveCase, shedding: Shedding) -> Seen:
    """Cam, dobby and design store hold so many picks."""
    cam = shedding.kind is SheddingKind.CAM
    limit = shedding.max_repeat_picks if cam else shedding.max_pattern_picks
    draft = case.drafts.in_use
    picks = case.structure.picks if draft is None else draft.picks
    if limit is None or picks <= limit:
        return
    helps = "Take a dobby" if cam else "Take a larger pattern store"
    yield (
        "shedding.repeat_picks",
        Observation(
            severity=Severity.ERROR,
            message=f"The lift repeats after {picks} picks; this {shedding.kind} repeats within "
            f"{limit}. {helps}, or a weave of a shorter repeat.",
            pointer="/weave",
            actual=picks,
            limit=limit,
            unit="picks",
        ),
    )


def _lift(case: WeaveCase) -> Seen:
    """Ends that are mostly up, or up all at once, load the shedding motion."""
    swing_pct = 100 * case.lift_swing
    up_pct = 100 * case.structure.warp_up_share
    if above(swing_pct, 100 * UNEVEN_LIFT_SHARE):
        yield (
            "shedding.uneven_lift",
            Observation(
                severity=Severity.WARNING,
                message=f"From pick to pick the lift swings by {swing_pct:.0f} % of the ends: "
                "expect uneven warp tension and a loaded shedding motion.",
                pointer="/weave",
                actual=swing_pct,
                limit=100 * UNEVEN_LIFT_SHARE,
                unit="%",
            ),
        )
    if above(up_pct, 100 * HEAVY_LIFT_SHARE):
        yield (
            "shedding.uneven_lift",
            Observation(
                severity=Severity.NOTE,
                message=f"On average {up_pct:.0f} % of the ends are raised: weave the cloth face "
                f"down, which lifts {100 - up_pct:.0f} %.",
                pointer="/weave",
                actual=up_pct,
                limit=100 * HEAVY_LIFT_SHARE,
                unit="%",
            ),
        )


def _on_shafts(case: WeaveCase, measured: Measured, shedding: Shedding) -> list[Seen]:
    """Shafts and healds of a cam or dobby."""
    return [
        _shafts(case, shedding),
        _crowding(case, measured, shedding),
        _healds_on_a_shaft(measured, shedding),
    ]


def _shafts(case: WeaveCase, shedding: Shedding) -> Seen:
    """Ends that weave differently need shafts of their own."""
    needed, limit = case.structure.shafts_needed, shedding.shafts
    draft = case.drafts.in_use
    used = needed if draft is None else max(needed, draft.shafts)
    if limit is None or used <= limit:
        return
    by_draft = needed <= limit
    helps = (
        f"Drawn in on the least shafts it takes {needed}."
        if by_draft
        else "Take more shafts or a Jacquard, or a weave of a smaller repeat."
    )
    yield (
        "shedding.shafts",
        Observation(
            severity=Severity.ERROR,
            message=f"The {'draft' if by_draft else 'weave'} needs {used} shafts; this "
            f"{shedding.kind} carries {limit}. {helps}",
            pointer="/draft/threading" if by_draft else "/weave",
            actual=used,
            limit=limit,
            unit="shafts",
        ),
    )


def _crowding(case: WeaveCase, measured: Measured, shedding: Shedding) -> Seen:
    """Crowded healds rub the ends and clear badly."""
    density, limit = measured.healds_per_cm_per_shaft, shedding.max_healds_per_cm_per_shaft
    draft = case.drafts.in_use
    if density is None or limit is None or draft is None or not above(density, limit):
        return
    yield (
        "shedding.heald_crowding",
        Observation(
            severity=Severity.ERROR
            if above(density, CROWDED_BEYOND_HOPE * limit)
            else Severity.WARNING,
            message=f"{density:.1f} healds/cm on the fullest of {draft.shafts} shafts; the limit "
            f"is {limit:g}. Deal the ends over more shafts, or lower the sett.",
            pointer="/draft/threading" if case.drafts.given else case.sett_pointer,
            actual=density,
            limit=limit,
            unit="healds/cm/shaft",
        ),
    )


def _healds_on_a_shaft(measured: Measured, shedding: Shedding) -> Seen:
    """A shaft holds so many healds and no more."""
    healds, limit = measured.healds_per_shaft, shedding.max_healds_per_shaft
    if healds and limit is not None and max(healds) > limit:
        yield (
            "shedding.healds_per_shaft",
            Observation(
                severity=Severity.ERROR,
                message=f"{max(healds)} healds on one shaft, which holds {limit}. Deal the ends "
                "over more shafts.",
                pointer="/total_ends",
                actual=max(healds),
                limit=limit,
                unit="healds/shaft",
            ),
        )


def _on_hooks(case: WeaveCase) -> list[Seen]:
    """Hooks and harness of a Jacquard."""
    return [_hooks(case), _idle_hooks(case), _harness_density(case)]


def _hooks(case: WeaveCase) -> Seen:
    """The repeat needs a hook for every end; all ends need a harness cord."""
    if case.shedding is None:
        return
    hooks, total_ends, each = (
        case.shedding.hooks,
        case.setts.total_ends,
        case.shedding.ends_per_hook,
    )
    if hooks is not None and case.hooks is None:
        yield (
            "shedding.hooks",
            Observation(
                severity=Severity.ERROR,
                message=f"The repeat takes {case.repeat.ends} ends; this Jacquard has {hooks} "
                "hooks. Take a larger machine or a smaller repeat.",
                pointer="/weave",
                actual=case.repeat.ends,
                limit=hooks,
                unit="hooks",
            ),
        )
    if case.hooks is None or total_ends is None or each is None:
        return
    lifted = case.hooks.hooks_used * each
    if total_ends > lifted:
        yield (
            "shedding.hooks",
            Observation(
                severity=Severity.ERROR,
                message=f"The cloth has {total_ends} ends; {case.hooks.hooks_used} hooks in use "
                f"with {each} ends on each lift {lifted}.",
                pointer="/total_ends",
                actual=total_ends,
                limit=lifted,
                unit="ends",
            ),
        )


def _idle_hooks(case: WeaveCase) -> Seen:
    """Hooks that the repeat cannot use are cast out."""
    plan = case.hooks
    if plan is None:
        return
    idle = plan.hooks % plan.repeat_ends
    idle_pct = 100 * idle / plan.hooks
    if above(idle_pct, IDLE_HOOKS_PCT):
        yield (
            "shedding.hooks_idle",
            Observation(
                severity=Severity.NOTE,
                message=f"{idle} of {plan.hooks} hooks are cast out, because the repeat of "
                f"{plan.repeat_ends} ends does not divide them.",
                pointer="/weave",
                actual=idle_pct,
                limit=IDLE_HOOKS_PCT,
                unit="%",
            ),
        )


def _harness_density(case: WeaveCase) -> Seen:
    """A harness serves the sett to which it is tied, and little above it."""
    harness = harness_of(case)
    if harness is None:
        return
    sett, density = harness.reed_ends_per_cm, harness.usable_ends_per_cm
    sparse = SPARSE_HARNESS_SHARE * density
    too_dense = above(sett, HARNESS_TOLERANCE * density)
    if not too_dense and not below(sett, sparse):
        return
    helps = (
        "Lower the sett or take a denser harness."
        if too_dense
        else "Cords left empty stand at a slant: cast hooks out evenly."
    )
    yield (
        "shedding.harness_density",
        Observation(
            severity=Severity.ERROR if too_dense else Severity.NOTE,
            message=f"{sett:.1f} ends/cm in the reed on a harness that gives {density:.1f} with "
            f"the hooks in use. {helps}",
            pointer=case.sett_pointer,
            actual=sett,
            limit=density if too_dense else sparse,
            unit="ends/cm",
            at_least=not too_dense,
        ),
    )
