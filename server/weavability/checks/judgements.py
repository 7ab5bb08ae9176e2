"""What is judged of a weave and of its shedding, from plain facts.

The checks of a report and the sheet of a weave judge alike: both call these functions, each with
the field of its own request to point at. ``None`` for a fact or a limit says that it is not known
or does not apply; then nothing is said of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.looms.loom import SheddingKind
from weavability.textiles.weave_structure import Structure

LONG_FLOAT_NOTE_MM: Final = 5.0
LONG_FLOAT_WARNING_MM: Final = 10.0

CROWDED_BEYOND_HOPE: Final = 1.25
"""Crowding, as a multiple of the loom's limit, at which ends no longer part in the shed."""

HEAVY_LIFT_PCT: Final = 200 / 3
UNEVEN_LIFT_PCT: Final = 60.0
IDLE_HOOKS_PCT: Final = 10.0
SPARSE_HARNESS_SHARE: Final = 0.75
HARNESS_TOLERANCE: Final = 1.02

_LISTED: Final = 8


def falls_apart(structure: Structure, *, pointer: str) -> Iterator[Observation]:
    """The threads must hold one another in one cloth."""
    # A loose thread is a layer of its own, and another judgement speaks of it.
    cloths = structure.layer_count - len(structure.loose_ends) - len(structure.loose_picks)
    if cloths > 1:
        yield Observation(
            severity=Severity.ERROR,
            message=f"The weave falls apart into {cloths} cloths that lie on one another unbound. "
            "Stitch the layers, or state the weave of one layer.",
            pointer=pointer,
            actual=cloths,
            limit=1,
            unit="layers",
        )


def loose_threads(structure: Structure, *, pointer: str) -> Iterator[Observation]:
    """Every thread must interlace."""
    for way, loose in (("End", structure.loose_ends), ("Pick", structure.loose_picks)):
        if loose:
            yield Observation(
                severity=Severity.ERROR,
                message=_name_loose(way, loose),
                pointer=pointer,
                actual=len(loose),
                limit=0,
                unit="threads",
            )


def _name_loose(way: str, loose: tuple[int, ...]) -> str:
    if len(loose) == 1:
        return (
            f"{way} {loose[0]} of the repeat never interlaces and lies loose on the cloth. Bind it "
            "with at least one crossing in the repeat."
        )
    listed = ", ".join(map(str, loose[:_LISTED]))
    more = f" and {len(loose) - _LISTED} more" if len(loose) > _LISTED else ""
    return (
        f"{way}s {listed}{more} of the repeat never interlace and lie loose on the cloth. Bind "
        "each with at least one crossing in the repeat."
    )


def long_float(length_mm: float | None, *, pointer: str) -> Iterator[Observation]:
    """Long floats snag in use."""
    if length_mm is None or not above(length_mm, LONG_FLOAT_NOTE_MM):
        return
    heavy = above(length_mm, LONG_FLOAT_WARNING_MM)
    yield Observation(
        severity=Severity.WARNING if heavy else Severity.NOTE,
        message=f"The longest float is {length_mm:.1f} mm: it snags in use. Bind it more often or "
        "raise the sett.",
        pointer=pointer,
        actual=length_mm,
        limit=LONG_FLOAT_WARNING_MM if heavy else LONG_FLOAT_NOTE_MM,
        unit="mm",
    )


def draft_mismatch(fault: str | None, *, another: bool, pointer: str) -> Iterator[Observation]:
    """A draft that was asked for must make the weave; ``another`` says that one is in its place."""
    if fault is None:
        return
    instead = " What is told of shafts and healds is of a draft that can." if another else ""
    yield Observation(
        severity=Severity.ERROR,
        message=f"The draft asked for cannot weave this cloth: {fault}{instead}",
        pointer=pointer,
        actual=None,
        limit=None,
        unit=None,
    )


def repeat_picks(
    *, picks: int, max_picks: int | None, kind: SheddingKind, pointer: str
) -> Iterator[Observation]:
    """The lift must repeat within what cam, dobby or Jacquard can do."""
    if max_picks is None or picks <= max_picks:
        return
    helps = "Take a dobby" if kind is SheddingKind.CAM else "Take a larger pattern store"
    yield Observation(
        severity=Severity.ERROR,
        message=f"The lift repeats after {picks} picks; the {kind} repeats within {max_picks}. "
        f"{helps}, or a weave of a shorter repeat.",
        pointer=pointer,
        actual=picks,
        limit=max_picks,
        unit="picks",
    )


def uneven_lift(*, swing_pct: float, warp_up_pct: float, pointer: str) -> Iterator[Observation]:
    """Ends that are mostly up, or up all at once, load the shedding motion."""
    if above(swing_pct, UNEVEN_LIFT_PCT):
        yield Observation(
            severity=Severity.WARNING,
            message=f"From pick to pick the lift swings by {swing_pct:.0f} % of the ends: expect "
            "uneven warp tension and a loaded shedding motion; run slower.",
            pointer=pointer,
            actual=swing_pct,
            limit=UNEVEN_LIFT_PCT,
            unit="%",
        )
    if above(warp_up_pct, HEAVY_LIFT_PCT):
        yield Observation(
            severity=Severity.NOTE,
            message=f"On average {warp_up_pct:.0f} % of the ends are raised: weave the cloth face "
            f"down, which lifts {100 - warp_up_pct:.0f} %.",
            pointer=pointer,
            actual=warp_up_pct,
            limit=HEAVY_LIFT_PCT,
            unit="%",
        )


def shafts(
    *,
    needed: int | None,
    used: int | None,
    carried: int | None,
    kind: SheddingKind,
    weave_pointer: str,
    draft_pointer: str,
) -> Iterator[Observation]:
    """Ends that weave differently need shafts of their own; a draft may ask for more."""
    if needed is None or carried is None:
        return
    asked = max(needed, used or 0)
    if asked <= carried:
        return
    by_draft = needed <= carried
    helps = (
        f"Drawn in on the fewest shafts the weave needs {needed}."
        if by_draft
        else "Take more shafts or a Jacquard, or a weave of a smaller repeat."
    )
    yield Observation(
        severity=Severity.ERROR,
        message=f"The {'draft asked for' if by_draft else 'weave'} needs {asked} shafts; the "
        f"{kind} carries {carried}. {helps}",
        pointer=draft_pointer if by_draft else weave_pointer,
        actual=asked,
        limit=carried,
        unit="shafts",
    )


def heald_crowding(
    *,
    healds_per_cm_per_shaft: float | None,
    max_healds_per_cm_per_shaft: float | None,
    shafts_used: int | None,
    pointer: str,
) -> Iterator[Observation]:
    """Crowded healds rub the ends and clear badly."""
    density, limit = healds_per_cm_per_shaft, max_healds_per_cm_per_shaft
    if density is None or limit is None or not above(density, limit):
        return
    hopeless = above(density, CROWDED_BEYOND_HOPE * limit)
    yield Observation(
        severity=Severity.ERROR if hopeless else Severity.WARNING,
        message=f"{density:.1f} healds/cm on the fullest of {shafts_used} shafts; the limit is "
        f"{limit:g}. Deal the ends over more shafts, or lower the sett.",
        pointer=pointer,
        actual=density,
        limit=limit,
        unit="healds/cm/shaft",
    )


def healds_on_a_shaft(
    *, healds_per_shaft: tuple[int, ...] | None, max_healds_per_shaft: int | None, pointer: str
) -> Iterator[Observation]:
    """A shaft holds so many healds and no more."""
    fullest = max(healds_per_shaft or (0,))
    if max_healds_per_shaft is None or fullest <= max_healds_per_shaft:
        return
    yield Observation(
        severity=Severity.ERROR,
        message=f"{fullest} healds on one shaft; a shaft holds {max_healds_per_shaft}. Deal the "
        "ends over more shafts.",
        pointer=pointer,
        actual=fullest,
        limit=max_healds_per_shaft,
        unit="healds/shaft",
    )


def repeat_on_hooks(*, repeat_ends: int, hooks: int | None, pointer: str) -> Iterator[Observation]:
    """A Jacquard realises a repeat with a hook for every end of it."""
    if hooks is None or repeat_ends <= hooks:
        return
    yield Observation(
        severity=Severity.ERROR,
        message=f"The repeat takes {repeat_ends} ends; the Jacquard has {hooks} hooks. Take a "
        "larger machine or a smaller repeat.",
        pointer=pointer,
        actual=repeat_ends,
        limit=hooks,
        unit="hooks",
    )


def ends_on_hooks(
    *,
    ground_ends: int | None,
    repeat_ends: int,
    hooks: int | None,
    ends_per_hook: int | None,
    pointer: str,
) -> Iterator[Observation]:
    """Every end of the ground needs a cord on a hook."""
    in_use = _hooks_in_use(hooks, repeat_ends)
    if not in_use or ground_ends is None or ends_per_hook is None:
        return
    lifted = in_use * ends_per_hook
    if ground_ends > lifted:
        yield Observation(
            severity=Severity.ERROR,
            message=f"The cloth has {ground_ends} ground ends; {in_use} hooks in use with "
            f"{ends_per_hook} ends on each lift {lifted}.",
            pointer=pointer,
            actual=ground_ends,
            limit=lifted,
            unit="ends",
        )


def hooks_idle(*, repeat_ends: int, hooks: int | None, pointer: str) -> Iterator[Observation]:
    """Hooks that the repeat cannot use are cast out, and the harness thins."""
    in_use = _hooks_in_use(hooks, repeat_ends)
    if not in_use or hooks is None:
        return
    idle = hooks - in_use
    idle_pct = 100 * idle / hooks
    if above(idle_pct, IDLE_HOOKS_PCT):
        yield Observation(
            severity=Severity.NOTE,
            message=f"{idle} of {hooks} hooks are cast out, because the repeat of {repeat_ends} "
            f"ends does not divide them; a repeat that divides {hooks} would use them all.",
            pointer=pointer,
            actual=idle_pct,
            limit=IDLE_HOOKS_PCT,
            unit="%",
        )


def harness_density(
    *,
    reed_ends_per_cm: float | None,
    harness_ends_per_cm: float | None,
    repeat_ends: int,
    hooks: int | None,
    pointer: str,
) -> Iterator[Observation]:
    """A harness serves the sett to which it is tied, and little above it.

    Hooks that are cast out thin the harness. A narrow cloth does not: it leaves cords empty at its
    sides only.
    """
    in_use = _hooks_in_use(hooks, repeat_ends)
    if not in_use or hooks is None or reed_ends_per_cm is None or harness_ends_per_cm is None:
        return
    density = harness_ends_per_cm * in_use / hooks
    sparse = SPARSE_HARNESS_SHARE * density
    too_dense = above(reed_ends_per_cm, HARNESS_TOLERANCE * density)
    if not too_dense and not below(reed_ends_per_cm, sparse):
        return
    helps = (
        "Lower the sett or take a denser harness."
        if too_dense
        else "Cords left empty stand at a slant: cast hooks out evenly."
    )
    yield Observation(
        severity=Severity.ERROR if too_dense else Severity.NOTE,
        message=f"{reed_ends_per_cm:.1f} ends/cm in the reed on a harness that gives "
        f"{density:.1f} with the hooks in use. {helps}",
        pointer=pointer,
        actual=reed_ends_per_cm,
        limit=density if too_dense else sparse,
        unit="ends/cm",
        at_least=not too_dense,
    )


def _hooks_in_use(hooks: int | None, repeat_ends: int) -> int:
    """Hooks under whole repeats; 0 where there is no Jacquard or it holds no whole repeat."""
    return 0 if hooks is None else hooks - hooks % repeat_ends
