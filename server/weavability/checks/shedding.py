"""Checks of the shedding: shafts and healds, lift repeat, hooks and harness of a Jacquard."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks import judgements
from weavability.checks.finding import Observation, Severity
from weavability.checks.registry import check
from weavability.looms.drawing_in import OnShafts
from weavability.looms.fit import Fit
from weavability.looms.loom_limits import JacquardLimits

WEAVE: Final = "/construction/weave"
THREADING: Final = "/construction/draft/threading"
SETT: Final = "/construction/warp/ends_per_cm"


@check(
    "shedding.shafts",
    compares="ends that weave differently, with the selvedge's own shafts, against the shafts",
    severities=(Severity.ERROR,),
    formula="shafts needed = distinct columns of the weave repeat + shafts of the selvedge",
    source="definition of a draft",
)
def shafts(fit: Fit) -> Iterator[Observation]:
    """Ends that weave differently need shafts of their own."""
    on = fit.drawing_in
    if isinstance(on, OnShafts):
        yield from judgements.shafts(
            needed=on.shafts_needed,
            used=on.drawn.shafts_used if on.drawn else None,
            carried=on.limits.shafts,
            kind=on.limits.kind,
            weave_pointer=WEAVE,
            draft_pointer=THREADING,
        )


@check(
    "shedding.heald_crowding",
    compares="healds per cm on the fullest shaft against the loom's crowding limit",
    severities=(Severity.ERROR, Severity.WARNING),
    formula="healds on the fullest shaft / reed width in use; columns are dealt over more shafts "
    "while the loom has them",
    source="limit of the loom; 8-12 usual: common practice; 9.8-17.7 for silk: A. Wolfensberger, "
    "Theory of Silk Weaving (1921); error from 1.25 times the limit: common practice, no source",
)
def heald_crowding(fit: Fit) -> Iterator[Observation]:
    """Crowded healds rub the ends and clear badly."""
    on = fit.drawing_in
    if isinstance(on, OnShafts) and on.drawn:
        yield from judgements.heald_crowding(
            healds_per_cm_per_shaft=on.drawn.healds_per_cm_per_shaft,
            max_healds_per_cm_per_shaft=on.limits.max_healds_per_cm_per_shaft,
            shafts_used=on.drawn.shafts_used,
            pointer=SETT,
        )


@check(
    "shedding.healds_per_shaft",
    compares="healds on the fullest shaft, over the whole width, against what a shaft holds",
    severities=(Severity.ERROR,),
    formula="ends drawn on each shaft, selvedges included",
    source="limit of the loom",
)
def healds_on_a_shaft(fit: Fit) -> Iterator[Observation]:
    """A shaft holds so many healds and no more."""
    on = fit.drawing_in
    if isinstance(on, OnShafts) and on.drawn:
        yield from judgements.healds_on_a_shaft(
            healds_per_shaft=on.drawn.healds_per_shaft,
            max_healds_per_shaft=on.limits.max_healds_per_shaft,
            pointer=SETT,
        )


@check(
    "shedding.repeat_picks",
    compares="picks of the lift repeat against what cam, dobby or Jacquard can store",
    severities=(Severity.ERROR,),
    formula="picks of the true weave repeat",
    source="limit of the loom; cams repeat to 8-10 picks: published comparison of shedding motions",
)
def repeat_picks(fit: Fit) -> Iterator[Observation]:
    """The lift must repeat within what the shedding motion can do."""
    return judgements.repeat_picks(
        picks=fit.cloth.structure.picks,
        max_picks=fit.limits.shedding.max_repeat_picks,
        kind=fit.limits.shedding.kind,
        pointer=WEAVE,
    )


@check(
    "shedding.uneven_lift",
    compares="share of the warp raised, on average and from pick to pick, against two limits",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="mean share raised over the repeat; greatest less least share raised on a pick",
    source="note above 2/3 raised, warning where the lift swings by more than 60 % of the ends: "
    "common practice, no source",
)
def uneven_lift(fit: Fit) -> Iterator[Observation]:
    """Shafts that are mostly up, or up all at once, load the shedding motion."""
    return judgements.uneven_lift(
        swing_pct=100 * fit.cloth.repeat.lift_swing,
        warp_up_pct=100 * fit.cloth.structure.warp_up_share,
        pointer=WEAVE,
    )


@check(
    "shedding.hooks",
    compares="hooks that the weave repeat needs, and ends that the harness lifts, against the "
    "Jacquard",
    severities=(Severity.ERROR,),
    formula="hooks needed = ends of the true repeat; harness ends = hooks in use x ends per hook",
    source="definition of a Jacquard tie",
)
def hooks(fit: Fit) -> Iterator[Observation]:
    """A Jacquard realises a repeat with a hook for every end of it."""
    repeat_ends, shedding = fit.cloth.structure.ends, fit.limits.shedding
    if not isinstance(shedding, JacquardLimits):
        return
    yield from judgements.repeat_on_hooks(
        repeat_ends=repeat_ends, hooks=shedding.hooks, pointer=WEAVE
    )
    yield from judgements.ends_on_hooks(
        ground_ends=fit.cloth.panels * fit.cloth.ends.ground,
        repeat_ends=repeat_ends,
        hooks=shedding.hooks,
        ends_per_hook=shedding.ends_per_hook,
        pointer=SETT,
    )


@check(
    "shedding.hooks_idle",
    compares="hooks cast out because the repeat does not divide the machine, against 10 %",
    severities=(Severity.NOTE,),
    formula="idle = hooks - repeat x whole repeats that the hooks hold",
    source="casting out: C. P. Brooks, Cotton Manufacturing (1892); 10 %: common practice, no "
    "source",
)
def hooks_idle(fit: Fit) -> Iterator[Observation]:
    """Hooks that the repeat cannot use are cast out, and the harness thins."""
    shedding = fit.limits.shedding
    if isinstance(shedding, JacquardLimits):
        yield from judgements.hooks_idle(
            repeat_ends=fit.cloth.structure.ends, hooks=shedding.hooks, pointer=WEAVE
        )


@check(
    "shedding.harness_density",
    compares="ground ends per cm in the reed against the density to which the harness is tied",
    severities=(Severity.ERROR, Severity.NOTE),
    formula="harness density in use = tied density x hooks under whole repeats / hooks",
    source="a harness is tied to one density: common practice, no source; 2 % give, note under "
    "75 % of it",
)
def harness_density(fit: Fit) -> Iterator[Observation]:
    """A harness serves the sett to which it is tied, and little above it."""
    shedding = fit.limits.shedding
    if isinstance(shedding, JacquardLimits):
        yield from judgements.harness_density(
            reed_ends_per_cm=fit.denting.ends_per_cm_in_reed,
            harness_ends_per_cm=shedding.harness_ends_per_cm,
            repeat_ends=fit.cloth.structure.ends,
            hooks=shedding.hooks,
            pointer=SETT,
        )
