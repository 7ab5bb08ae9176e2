"""Checks of the shedding: shafts and healds, lift repeat, hooks and harness of a Jacquard."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.fit import Fit

CROWDED_BEYOND_HOPE: Final = 1.25
"""Crowding, as a multiple of the loom's limit, at which ends no longer part in the shed."""

HEAVY_LIFT_SHARE: Final = 2 / 3
UNEVEN_LIFT_SHARE: Final = 0.6
IDLE_HOOKS_PCT: Final = 10.0
SPARSE_HARNESS_SHARE: Final = 0.75
HARNESS_TOLERANCE: Final = 1.02


@check(
    "shedding.shafts",
    compares="ends that weave differently, with the selvedge's own shafts, against the shafts",
    severities=(Severity.ERROR,),
    formula="shafts needed = distinct columns of the weave repeat + shafts of the selvedge",
    source="definition of a draft",
)
def shafts(fit: Fit) -> Iterator[Observation]:
    """Ends that weave differently need shafts of their own."""
    harness, limit = fit.harness, fit.limits.shedding.shafts
    if harness.shafts_needed is None or limit is None:
        return
    needed = max(harness.shafts_needed, harness.shafts_used or 0)
    if needed > limit:
        by_draft = harness.shafts_needed <= limit
        yield Observation(
            severity=Severity.ERROR,
            message=f"The {'draft asked for' if by_draft else 'weave'} needs {needed} shafts; this "
            f"loom carries {limit}. "
            + (
                f"Drawn in on the fewest shafts the weave needs {harness.shafts_needed}."
                if by_draft
                else "Take a loom with more shafts or a Jacquard, or a weave of a smaller repeat."
            ),
            pointer="/construction/draft/threading" if by_draft else "/construction/weave",
            actual=needed,
            limit=limit,
            unit="shafts",
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
    density = fit.harness.healds_per_cm_per_shaft
    limit = fit.limits.shedding.max_healds_per_cm_per_shaft
    if density is None or limit is None or not above(density, limit):
        return
    hopeless = above(density, CROWDED_BEYOND_HOPE * limit)
    yield Observation(
        severity=Severity.ERROR if hopeless else Severity.WARNING,
        message=f"{density:.1f} healds/cm on the fullest of {fit.harness.shafts_used} shafts; the "
        f"loom's limit is {limit:g}. Deal the ends over more shafts, or lower the sett.",
        pointer="/construction/warp/ends_per_cm",
        actual=density,
        limit=limit,
        unit="healds/cm/shaft",
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
    healds, limit = fit.harness.healds_per_shaft, fit.limits.shedding.max_healds_per_shaft
    if healds and limit is not None and max(healds) > limit:
        yield Observation(
            severity=Severity.ERROR,
            message=f"{max(healds)} healds on one shaft; a shaft of this loom holds {limit}. Deal "
            "the ends over more shafts.",
            pointer="/construction/warp/ends_per_cm",
            actual=max(healds),
            limit=limit,
            unit="healds/shaft",
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
    picks, shedding = fit.cloth.structure.picks, fit.limits.shedding
    limit = shedding.max_repeat_picks
    if limit is None or picks <= limit:
        return
    yield Observation(
        severity=Severity.ERROR,
        message=f"The lift repeats after {picks} picks; the {shedding.kind} of this loom repeats "
        f"within {limit}. Take a loom with a dobby or a larger pattern store.",
        pointer="/construction/weave",
        actual=picks,
        limit=limit,
        unit="picks",
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
    structure, swing = fit.cloth.structure, fit.cloth.lift_swing
    if above(swing, UNEVEN_LIFT_SHARE):
        yield Observation(
            severity=Severity.WARNING,
            message=f"From pick to pick the lift swings by {100 * swing:.0f} % of the ends: expect "
            "uneven warp tension and a loaded shedding motion; run slower.",
            pointer="/construction/weave",
            actual=100 * swing,
            limit=100 * UNEVEN_LIFT_SHARE,
            unit="%",
        )
    if above(structure.warp_up_share, HEAVY_LIFT_SHARE):
        yield Observation(
            severity=Severity.NOTE,
            message=f"On average {100 * structure.warp_up_share:.0f} % of the ends are raised: "
            "weave the cloth face down, which lifts "
            f"{100 * (1 - structure.warp_up_share):.0f} %.",
            pointer="/construction/weave",
            actual=100 * structure.warp_up_share,
            limit=100 * HEAVY_LIFT_SHARE,
            unit="%",
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
    harness, cloth, available = fit.harness, fit.cloth, fit.limits.shedding.hooks
    if available is None or harness.harness_ends is None:
        return
    if cloth.structure.ends > available:
        yield Observation(
            severity=Severity.ERROR,
            message=f"The repeat takes {cloth.structure.ends} ends; this Jacquard has {available} "
            "hooks. Take a larger machine or a smaller repeat.",
            pointer="/construction/weave",
            actual=cloth.structure.ends,
            limit=available,
            unit="hooks",
        )
    ground_ends = cloth.panels * cloth.ground_ends
    if ground_ends > harness.harness_ends:
        yield Observation(
            severity=Severity.ERROR,
            message=f"The cloth has {ground_ends} ground ends; {harness.hooks_used} hooks in use "
            f"with {harness.harness_repeats} ends on each lift {harness.harness_ends}.",
            pointer="/construction/warp/ends_per_cm",
            actual=ground_ends,
            limit=harness.harness_ends,
            unit="ends",
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
    idle, hooks_in_all = fit.harness.hooks_idle, fit.limits.shedding.hooks
    if not idle or not hooks_in_all:
        return
    idle_pct = 100 * idle / hooks_in_all
    if above(idle_pct, IDLE_HOOKS_PCT):
        yield Observation(
            severity=Severity.NOTE,
            message=f"{idle} of {hooks_in_all} hooks are cast out, because the repeat of "
            f"{fit.cloth.structure.ends} ends does not divide them; a repeat that divides "
            f"{hooks_in_all} would use them all.",
            pointer="/construction/weave",
            actual=idle_pct,
            limit=IDLE_HOOKS_PCT,
            unit="%",
        )


@check(
    "shedding.harness_density",
    compares="ground ends per cm in the reed against the density to which the harness is tied",
    severities=(Severity.ERROR, Severity.NOTE),
    formula="harness density in use = tied density x hooks in use / hooks",
    source="a harness is tied to one density: common practice, no source; 2 % give, note under "
    "75 % of it",
)
def harness_density(fit: Fit) -> Iterator[Observation]:
    """A harness serves the sett to which it is tied, and little above it."""
    density, sett = fit.harness.harness_ends_per_cm, fit.denting.ends_per_cm_in_reed
    if density is None:
        return
    if above(sett, HARNESS_TOLERANCE * density):
        yield Observation(
            severity=Severity.ERROR,
            message=f"The cloth has {sett:.1f} ends/cm in the reed; the harness in use is tied to "
            f"{density:.1f}. Lower the sett or take a loom with a denser harness.",
            pointer="/construction/warp/ends_per_cm",
            actual=sett,
            limit=density,
            unit="ends/cm",
        )
    if below(sett, SPARSE_HARNESS_SHARE * density):
        yield Observation(
            severity=Severity.NOTE,
            message=f"The cloth has {sett:.1f} ends/cm in the reed on a harness tied to "
            f"{density:.1f}: harness cords left empty stand at a slant; cast hooks out evenly.",
            pointer="/construction/warp/ends_per_cm",
            actual=sett,
            limit=SPARSE_HARNESS_SHARE * density,
            unit="ends/cm",
            at_least=True,
        )
