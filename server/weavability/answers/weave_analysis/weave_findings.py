"""What is wrong with a weave, and what the stated shedding motion cannot do.

The findings have the codes, limits, severities and words of the checks of a report; here they are
judged without a cloth or a loom, from the weave, its setts and the shedding motion alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from weavability.answers.weave_analysis.resolved_request import WeaveCase
from weavability.checks import judgements
from weavability.checks.finding import Finding, Observation
from weavability.checks.registry import find_check, finding_of
from weavability.looms.loom import Shedding, SheddingKind

Judged = Iterator[tuple[str, Iterable[Observation]]]
"""Codes of checks, each with what is seen of it."""

WEAVE: Final = "/weave"
THREADING: Final = "/draft/threading"


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
    return tuple(_finding(code, each) for code, seen in _judge(case, measured) for each in seen)


def _finding(code: str, seen: Observation) -> Finding:
    info = find_check(code)
    if info is None:
        raise LookupError(f"no check has the code {code}")
    return finding_of(info, seen)


def _judge(case: WeaveCase, measured: Measured) -> Judged:
    """The weave, and what lifts it where that is stated."""
    yield from _of_weave(case, measured)
    if case.shedding is None:
        return
    yield from _of_lift(case, case.shedding)
    if case.on_hooks:
        yield from _of_hooks(case, case.shedding)
    else:
        yield from _of_shafts(case, measured, case.shedding)


def _of_weave(case: WeaveCase, measured: Measured) -> Judged:
    yield "weave.falls_apart", judgements.falls_apart(case.structure, pointer=WEAVE)
    yield "weave.loose_thread", judgements.loose_threads(case.structure, pointer=WEAVE)
    yield "weave.long_float", judgements.long_float(measured.longest_float_mm, pointer=WEAVE)
    for fault in case.drafts.given_faults[:1]:
        another = case.drafts.in_use is not None
        yield (
            "weave.draft_mismatch",
            judgements.draft_mismatch(fault.message, another=another, pointer=fault.pointer),
        )


def _of_lift(case: WeaveCase, shedding: Shedding) -> Judged:
    cam, draft = shedding.kind is SheddingKind.CAM, case.drafts.in_use
    yield (
        "shedding.repeat_picks",
        judgements.repeat_picks(
            picks=case.structure.picks if draft is None else draft.picks,
            max_picks=shedding.max_repeat_picks if cam else shedding.max_pattern_picks,
            kind=shedding.kind,
            pointer=WEAVE,
        ),
    )
    yield (
        "shedding.uneven_lift",
        judgements.uneven_lift(
            swing_pct=100 * case.lift_swing,
            warp_up_pct=100 * case.structure.warp_up_share,
            pointer=WEAVE,
        ),
    )


def _of_shafts(case: WeaveCase, measured: Measured, shedding: Shedding) -> Judged:
    """Shafts and healds of a cam or dobby."""
    used = None if case.drafts.in_use is None else case.drafts.in_use.shafts
    yield (
        "shedding.shafts",
        judgements.shafts(
            needed=case.structure.shafts_needed,
            used=used,
            carried=shedding.shafts,
            kind=shedding.kind,
            weave_pointer=WEAVE,
            draft_pointer=THREADING,
        ),
    )
    yield (
        "shedding.heald_crowding",
        judgements.heald_crowding(
            healds_per_cm_per_shaft=measured.healds_per_cm_per_shaft,
            max_healds_per_cm_per_shaft=shedding.max_healds_per_cm_per_shaft,
            shafts_used=used,
            pointer=THREADING if case.drafts.given else case.sett_pointer,
        ),
    )
    yield (
        "shedding.healds_per_shaft",
        judgements.healds_on_a_shaft(
            healds_per_shaft=measured.healds_per_shaft,
            max_healds_per_shaft=shedding.max_healds_per_shaft,
            pointer="/total_ends",
        ),
    )


def _of_hooks(case: WeaveCase, shedding: Shedding) -> Judged:
    """Hooks and harness of a Jacquard."""
    repeat_ends, hooks = case.repeat.ends, shedding.hooks
    yield (
        "shedding.hooks",
        judgements.repeat_on_hooks(repeat_ends=repeat_ends, hooks=hooks, pointer=WEAVE),
    )
    yield (
        "shedding.hooks",
        judgements.ends_on_hooks(
            ground_ends=case.setts.total_ends,
            repeat_ends=repeat_ends,
            hooks=hooks,
            ends_per_hook=shedding.ends_per_hook,
            pointer="/total_ends",
        ),
    )
    yield (
        "shedding.hooks_idle",
        judgements.hooks_idle(repeat_ends=repeat_ends, hooks=hooks, pointer=WEAVE),
    )
    yield (
        "shedding.harness_density",
        judgements.harness_density(
            reed_ends_per_cm=case.setts.ends_per_cm_in_reed,
            harness_ends_per_cm=shedding.harness_ends_per_cm,
            repeat_ends=repeat_ends,
            hooks=hooks,
            pointer=case.sett_pointer,
        ),
    )
