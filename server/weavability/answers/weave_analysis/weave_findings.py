"""Faults of a weave, and of what the stated shedding motion cannot do with it.

The rules are those of a report; here they judge the weave, its setts and the shedding motion alone,
without a cloth or a loom.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Any, Final, TypeVar

from weavability.answers.weave_analysis.resolved_request import WeaveCase
from weavability.checks import shedding, weave
from weavability.checks.codes import CheckCode
from weavability.checks.facts import (
    WeaveNumbers,
    WeaveWords,
    contradiction_of,
    hooks_in_use,
    weave_counts,
)
from weavability.checks.finding import Finding
from weavability.checks.registry import (
    comparisons_of,
    explain_weave,
    observe_weave,
)
from weavability.checks.rules import AnyRule, Observation
from weavability.looms.shedding_limits import NO_MOTION
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Assumption
from weavability.textiles.sentences import NO_WORDS

OF_WEAVE: Final = (
    CheckCode.WEAVE_FALLS_APART,
    CheckCode.WEAVE_LOOSE_THREAD,
    CheckCode.WEAVE_LONG_FLOAT,
    CheckCode.WEAVE_DRAFT_MISMATCH,
    CheckCode.LAYERS_CONTRADICTED,
    CheckCode.LAYERS_UNSTITCHED,
)
OF_SHEDDING: Final = (
    CheckCode.SHEDDING_REPEAT_PICKS,
    CheckCode.SHEDDING_UNEVEN_LIFT,
    CheckCode.SHEDDING_SHAFTS,
    CheckCode.SHEDDING_HEALD_CROWDING,
    CheckCode.SHEDDING_HEALDS_PER_SHAFT,
    CheckCode.SHEDDING_HOOKS,
    CheckCode.SHEDDING_HOOKS_IDLE,
    CheckCode.SHEDDING_HARNESS_DENSITY,
)
"""The checks that apply, in the order in which their findings are listed."""

R = TypeVar("R", int, float)

ENDS: Final = "/total_ends"
THREADING: Final = "/draft/threading"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What the findings compare and other parts of the analysis compute.

    Attributes:
        longest_float_mm: If both setts are known; of layers, each by itself, and pile left out.
        free_float_mm: The longest of those over two threads or more.
        healds_per_shaft: Of the draft in use over the whole width, if the ends are known.
        healds_per_cm_per_shaft: On its fullest shaft, if the sett in the reed is known.
    """

    longest_float_mm: float | None
    free_float_mm: float | None
    healds_per_shaft: tuple[int, ...] | None
    healds_per_cm_per_shaft: float | None


def checks_of(case: WeaveCase) -> tuple[CheckCode, ...]:
    """Return the checks that apply to a weave, with or without a shedding motion."""
    return OF_WEAVE if case.shedding is None else OF_WEAVE + OF_SHEDDING


def find_faults(case: WeaveCase, measured: Measured) -> tuple[Finding, ...]:
    """Judge a weave; findings are listed in the order of the checks, the weave first."""
    numbers, words, thresholds = _numbers(case, measured), _words(case), in_force()
    checks = comparisons_of(checks_of(case))
    pointers = _pointers(case)
    rests_on = _assumed_limits(case)
    limits: dict[str, Any] = dict.fromkeys(rests_on.values(), inf)
    unlimited = replace(numbers, **limits)
    found = (
        (
            seen.comparison.rule,
            explain_weave(seen, numbers, words, thresholds, _decisive(seen, rests_on)),
        )
        for seen in observe_weave(checks, numbers, thresholds.usual, unlimited)
    )
    return tuple(
        replace(
            finding,
            pointer=finding.pointer
            if finding.rests_on
            else pointers.get(rule, finding.pointer.removeprefix("/construction")),
        )
        for rule, finding in found
    )


_LIMITS: Final = {
    "/shedding/max_healds_per_cm_per_shaft": "max_healds_per_cm",
    "/shedding/max_repeat_picks": "max_lift_picks",
    "/shedding/max_pattern_picks": "max_lift_picks",
}
"""Limits of a shedding motion that may be assumed, as the rules read them."""


def _assumed_limits(case: WeaveCase) -> dict[Assumption, str]:
    """Return the limits that are only assumed, which reject nothing."""
    return {line: _LIMITS[line.pointer] for line in case.assumptions if line.pointer in _LIMITS}


def _decisive(seen: Observation, lines: Iterable[Assumption]) -> tuple[Assumption, ...]:
    """Return the assumed limits on which an observation rests."""
    ends = seen.comparison.moves.ends
    return tuple(line for line in lines if seen.is_assumed and "/loom" + line.pointer in ends)


def _pointers(case: WeaveCase) -> Mapping[AnyRule, str]:
    """Return the fields of this request for rules that point elsewhere in a construction."""
    faults = case.drafts.given_faults
    return {
        weave.draft_mismatch: faults[0].pointer if faults else THREADING,
        shedding.heald_crowding: THREADING if case.drafts.given else case.sett_pointer,
        shedding.healds_on_a_shaft: ENDS,
        shedding.ends_on_hooks: ENDS,
        shedding.harness_too_thin: case.sett_pointer,
        shedding.harness_too_dense: case.sett_pointer,
    }


def _words(case: WeaveCase) -> WeaveWords:
    structure, faults = case.structure, case.drafts.given_faults
    return WeaveWords(
        loose_ends=structure.loose_ends,
        loose_picks=structure.loose_picks,
        shedding=case.shedding.kind.in_words if case.shedding else "",
        draft_fault=faults[0].message if faults else NO_WORDS,
        has_other_draft=case.drafts.in_use is not None,
        contradiction=contradiction_of(case.layers),
    )


def _numbers(case: WeaveCase, measured: Measured) -> WeaveNumbers[float]:
    """Gather the numbers of a weave; those of the shedding motion are neutral if none is given."""
    structure, setts = case.structure, case.setts
    motion = NO_MOTION if case.shedding is None else case.shedding.numbers
    draft = case.drafts.in_use
    counts = weave_counts(structure, case.layers)
    in_use, in_reed = hooks_in_use(motion.hooks, case.repeat.ends), setts.ends_per_cm_in_reed
    return WeaveNumbers(
        cloths=counts.cloths,
        cloths_meant=counts.cloths_meant,
        layer_clashes=counts.layer_clashes,
        layer_parts=counts.layer_parts,
        loose_ends=counts.loose_ends,
        loose_picks=counts.loose_picks,
        longest_float_mm=_or_zero(measured.longest_float_mm),
        free_float_mm=_or_zero(measured.free_float_mm),
        draft_faults=len(case.drafts.given_faults[:1]),
        lift_picks=structure.picks if draft is None or case.on_hooks else draft.picks,
        lift_swing_pct=100 * case.lift_swing,
        warp_up_pct=100 * structure.warp_up_share,
        repeat_ends=case.repeat.ends,
        shafts_needed=0 if case.on_hooks else structure.shafts_needed,
        shafts_used=0 if case.on_hooks or draft is None else draft.shafts,
        healds_per_cm=_or_zero(measured.healds_per_cm_per_shaft),
        healds_on_fullest_shaft=0
        if measured.healds_per_shaft is None
        else max(measured.healds_per_shaft),
        loom_shafts=motion.shafts,
        max_healds_per_cm=motion.max_healds_per_cm,
        max_healds_per_shaft=motion.max_healds_per_shaft,
        max_lift_picks=motion.max_lift_picks,
        is_jacquard=motion.is_jacquard,
        hooks=motion.hooks,
        hooks_in_use=in_use,
        ends_per_hook=motion.ends_per_hook,
        harness_ends=in_use * motion.ends_per_hook,
        harness_ends_per_cm=motion.harness_ends_per_cm,
        reed_ends_per_cm=_or_zero(in_reed),
        harness_known=in_reed is not None and motion.harness_ends_per_cm > 0,
        ground_ends=_or_zero(setts.total_ends) if motion.ends_per_hook else 0,
    )


def _or_zero(number: R | None) -> R:
    """Return a number, or 0 if it is not known: that is above no limit."""
    return 0 if number is None else number
