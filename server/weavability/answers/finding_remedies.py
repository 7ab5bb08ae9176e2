"""The remedies of a report: for each finding the smallest single changes that clear it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from weavability.answers.altered import Pricing
from weavability.answers.check_levers import LEVERS
from weavability.answers.design_levers import CAST_OUT, too_large_to_cast_out
from weavability.answers.dominance import FARTHEST_POINTS, certain_first, undominated
from weavability.answers.few_names import listed
from weavability.answers.field_changes import Change
from weavability.answers.layers_to_state import (
    as_stated,
    layers_of_parts,
    layers_of_pile,
    layers_that_agree,
)
from weavability.answers.lever_choices import (
    COARSER_WARP,
    COARSER_WEFT,
    FINER_WARP,
    FINER_WEFT,
    ONE_SELECTOR,
    perhaps_the_same_wefts,
)
from weavability.answers.levers import (
    At,
    Lever,
    Options,
    is_a_value,
    up_to_the_last,
    with_unit,
)
from weavability.answers.nearest_levers import nearest_first
from weavability.answers.reed_levers import is_denting_of_cloth
from weavability.answers.trials import Bound, Goal, Proof, Trials
from weavability.answers.verdicts import by_weight
from weavability.answers.weighed_findings import can_be_eased
from weavability.answers.written_remedies import RemedyWriter
from weavability.answers.yarn_counts import tied_to_the_count
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts
from weavability.checks.finding import Remedy, Severity
from weavability.checks.requirement import CODES as REQUIREMENTS
from weavability.checks.rules import About, Observation
from weavability.looms.fit import Fit
from weavability.textiles.numbers import passed

OF_REPORT: Final = Bound(probes=30, proofs=8)
"""What is tried for one report; ``POST /v1/remedies`` tries more."""

MOST_OF_FINDING: Final = 2
"""Remedies that are looked for for one finding of a report."""

MOST_LISTED: Final = 3
"""Remedies that are listed with one finding: those found for others may clear it as well."""

OF_NOTES: Final = frozenset(
    {
        *(CheckCode.SETT_TIGHT, CheckCode.WEFT_STRENGTH),
        *(CheckCode.SELVEDGE_UNBOUND, CheckCode.COLOUR_WARP_REMAINDER),
        *(CheckCode.WARP_YARN_VARIETY, CheckCode.DESIGN_PROPORTION),
        CheckCode.REED_NOT_IN_STOCK,
    }
)
"""Notes that get remedies, because mills often heed them. Others are left as they are."""


EASED_AS_WELL: Final = frozenset({CheckCode.SELVEDGE_WIDE})
"""Findings of which a note is sought also where they can be cleared: selvedge ends are as near."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRemedies:
    """What came of the search for one finding.

    Attributes:
        remedies: The smallest first.
        tried: What was tried, if nothing helped an error or a warning.
    """

    remedies: tuple[Remedy, ...] = ()
    tried: tuple[str, ...] = ()


STATE_FIRST: Final = (
    "nothing, because the band of the figure is wider than its limits: state what is assumed first"
)
"""What was tried of a requirement whose band is wider than its limits."""

_IN_PROPORTION: Final = frozenset(
    {
        *(CheckCode.REQUIREMENT_MASS, CheckCode.REQUIREMENT_MASS_PER_M),
        *(CheckCode.REQUIREMENT_WIDTH, CheckCode.REQUIREMENT_ENDS, CheckCode.REQUIREMENT_PICKS),
    }
)
"""Requirements of figures of which the band moves in proportion, whatever is changed."""

NOTHING_HELPS: Final = "nothing, because no change of the order is known to help"
"""What was tried of an error or a warning that no lever is for, or for which none has an option."""

ANOTHER_LOOM: Final = "nothing, because only another loom weaves it as it is"

_HOLD_PARTS: Final = (
    "nothing, because only the order can say how its parts are to hold together: stitch them, or "
    "if they are layers that come off one another state "
)
_MEANT_WHERE: Final = (
    "nothing, because only the order can say which threads are meant to lie where: "
)
_OF_PARTS: Final = f"{_HOLD_PARTS}whose each thread is, in layers"

WHY_NOTHING: Final = MappingProxyType(
    {
        CheckCode.WEAVE_FALLS_APART: _OF_PARTS,
        CheckCode.LAYERS_UNSTITCHED: _OF_PARTS,
        CheckCode.LAYERS_CONTRADICTED: f"{_MEANT_WHERE}correct the letters of ends and picks, or "
        "the weave",
        CheckCode.SHEDDING_UNEVEN_LIFT: "nothing, because no other weave of the family lifts more "
        "evenly: run it slower",
        CheckCode.WARP_SECOND_WARP: ANOTHER_LOOM,
        CheckCode.WARP_UNSUITABLE_FOR_SYSTEM: ANOTHER_LOOM,
        CheckCode.WEFT_BOXES: ANOTHER_LOOM,
        CheckCode.WEFT_SELECTORS: ANOTHER_LOOM,
        CheckCode.WEFT_UNSUITABLE_FOR_SYSTEM: ANOTHER_LOOM,
        CheckCode.YARN_ELASTANE: "nothing, because it rests on how far the elastane draws the "
        "cloth in: state the shrinkage of finishing",
        CheckCode.DESIGN_GROUND_BREAK: "nothing, because it cannot be cast out in this cloth: "
        "draw it over whole repeats of the weaves that go on over its edge",
        CheckCode.CONTRACTION_IMPLAUSIBLE: "nothing, because the crimp was stated: state another",
    }
)
"""Why nothing was tried of an error or a warning, if that can be said better."""

OUT_OF_TRIALS: Final = "no more within a report; a search for remedies tries on"
"""Last of what was tried, if the trials of a report were used up before a finding was helped, or if
what is left writes several fields."""


def remedies_of(
    fit: Fit,
    facts: Facts[float],
    found: Sequence[Observation],
    pricing: Pricing | None = None,
    *,
    several_fields: bool = False,
) -> dict[CheckCode, FoundRemedies]:
    """Return the remedies of every check that found something, by its code.

    Args:
        fit: The order on the loom.
        facts: Its numbers.
        found: What the checks find in them.
        pricing: For the change of cost; ``None`` if no prices are stated.
        several_fields: Whether a change may write several fields, if none of one field helps.
    """
    trials = Trials(fit, facts, found, OF_REPORT)
    undecided = undecided_of(found, facts)
    tried: dict[CheckCode, dict[str, str]] = {}
    own = trials.bound
    trials.bound = Bound(own.probes // 2, own.proofs // 2)
    proofs = list(_as_assumed(trials, several_fields=several_fields))
    trials.bound = Bound(own.probes + trials.probed, own.proofs + len(trials.proofs))
    for code, severity in known_first(by_weight(found)).items():
        words = tried.setdefault(code, {})
        if not is_sought(code, severity):
            continue
        if code in undecided:
            words[STATE_FIRST] = STATE_FIRST
            continue
        helped, has_more = 0, False
        for lever, options, goal in _one_field_first(code, severity, trials):
            is_enough = helped and goal.unwarned and code not in EASED_AS_WELL
            if helped >= MOST_OF_FINDING or trials.is_over or is_enough:
                break
            if len(options[0].writes) > 1 and (helped or not several_fields):
                has_more = True
                continue
            if not (several_fields or options.is_ordered):
                single = [each for each in options if len(each.writes) == 1]
                has_more = has_more or len(single) < len(options)
                options = Options.of(single)
            changes = trials.clearing(
                goal.codes, options, MOST_OF_FINDING - helped, unwarned=goal.unwarned
            )
            if trials.is_of_use:
                is_whole = not (changes or trials.is_over)
                said = up_to_the_last(lever.words, options) if is_whole else lever.words
                words.setdefault(lever.words, said)
            for change in changes:
                proof = trials.prove_or_farther(change, goal.codes, options, unwarned=goal.unwarned)
                if proof is None or code not in proof.clears:
                    continue
                if is_no_remedy(proof):
                    words[lever.words] = but_no_remedy(lever.words, proof)
                else:
                    proofs.append(proof)
                    helped += 1
        if helped or severity is Severity.NOTE:
            words.clear()
        elif (trials.is_over and LEVERS.get(code)) or has_more:
            words[OUT_OF_TRIALS] = OUT_OF_TRIALS
        elif not words:
            nothing = nothing_for(trials.at(code))
            words[nothing] = nothing
    trials.announce()
    listed = {code: _listed(code, proofs, trials.errors) for code in tried}
    writer = RemedyWriter(trials=trials, pricing=pricing)
    written = {id(one): writer.remedy(one) for some in listed.values() for one in some}
    return {
        code: FoundRemedies(
            remedies=tuple(written[id(one)] for one in listed[code]),
            tried=() if listed[code] else tuple(tried[code].values()),
        )
        for code in tried
    }


def _one_field_first(
    code: CheckCode, severity: Severity, trials: Trials
) -> Iterator[tuple[Lever, Options, Goal]]:
    """Yield the levers of a check that have options; last those that write several fields.

    Of what is required, those that are estimated to be nearest come first. Then all again, to leave
    a note where one may be left.
    """
    one, several = [], []
    for lever, options in _levers_of(code, trials):
        if options and len(options[0].writes) > 1:
            several.append((lever, options))
        elif options:
            one.append((lever, options))
            yield lever, options, Goal(codes=(code,))
    for lever, options in several:
        yield lever, options, Goal(codes=(code,))
    if severity is not Severity.NOTE and can_be_eased(code):
        for lever, options in (*one, *several):
            yield lever, options, Goal(unwarned=(code,))


def _levers_of(code: CheckCode, trials: Trials) -> Iterator[tuple[Lever, Options]]:
    """Yield the levers of a check with their options."""
    at = trials.at(code)
    if code in REQUIREMENTS:
        for reach in nearest_first(at, trials.passed_by([code])):
            yield reach.lever, reach.options
    else:
        for lever in LEVERS.get(code, ()):
            yield lever, lever.options(at)


def _as_assumed(trials: Trials, *, several_fields: bool) -> Iterator[Proof]:
    """Yield what meets each requirement that rejects the order, as all is assumed.

    What is estimated to be nearest is tried first. If it leaves another one missed, it is moved on
    until both are met.
    """
    required = [code for code in REQUIREMENTS if code in trials.weighed.rejected]
    reaches = [
        (code, each)
        for code in required
        for each in nearest_first(trials.at(code), trials.passed_by((), unrejected=[code]))
        if several_fields or len(each.choices[0].writes) == 1
    ]
    found = dict.fromkeys(required, 0)
    for code, reach in sorted(reaches, key=lambda one: one[1].rank):
        if trials.is_over:
            return
        if found[code] == MOST_OF_FINDING:
            continue
        proof = _meeting((code,), reach.options, trials)
        missed = frozenset[CheckCode]() if proof is None else proof.worsens.intersection(required)
        if proof is not None and missed and missed == proof.worsens:
            past, both = reach.past(proof.change), (code, *sorted(missed))
            proof = _meeting(both, past, trials, begun=proof.change)
        if proof is not None and code in proof.mends and not is_no_remedy(proof):
            for each in proof.mends.intersection(required):
                found[each] += 1
            yield proof


def _meeting(
    codes: tuple[CheckCode, ...], options: Options, trials: Trials, begun: Change | None = None
) -> Proof | None:
    """Judge the nearest of some options after which requirements are met as all is assumed."""
    for change in trials.clearing((), options, 1, unrejected=codes, begun=begun):
        return trials.prove_or_farther(change, (), options, unrejected=codes)
    return None


def known_first(codes: Mapping[CheckCode, Severity]) -> dict[CheckCode, Severity]:
    """Return findings with those first of which a remedy is known before any trial.

    Of a large design hardly more than that one can be tried.
    """
    return dict(sorted(codes.items(), key=lambda each: CAST_OUT not in LEVERS.get(each[0], ())))


def nothing_for(at: At) -> str:
    """Say why nothing was tried of a finding."""
    levers = LEVERS.get(at.code, ())
    too_large = too_large_to_cast_out(at.fit) if CAST_OUT in levers else None
    why = too_large or _tied_yarn(at, levers) or _not_known_to_differ(at, levers)
    return why or _dented(at) or _layers_to_state(at) or WHY_NOTHING.get(at.code, NOTHING_HELPS)


def _layers_to_state(at: At) -> str | None:
    """Say which layers the weave would not contradict, if that can be known."""
    cloth, found, why = at.fit.cloth, None, ""
    if WHY_NOTHING.get(at.code) == _OF_PARTS:
        found, why = layers_of_parts(cloth.structure), f"{_HOLD_PARTS}how they lie in the weave, "
    elif at.code is CheckCode.LAYERS_CONTRADICTED:
        found = layers_that_agree(cloth)
        why = f"{_MEANT_WHERE}the weave agrees with "
    elif at.code is CheckCode.WARP_PILE_RATIO:
        found = layers_of_pile(cloth)
        why = "nothing, because only the order can say that the ends are pile: state their layer, "
    return None if found is None else why + as_stated(found)


def _dented(at: At) -> str | None:
    """Say why another denting is not proposed, if the stated one makes the cloth."""
    if at.code is CheckCode.REED_ENDS_PER_DENT and is_denting_of_cloth(at.fit):
        return (
            "nothing, because crammed and empty dents make the cloth: state how its ends lie in "
            "more dents of a finer reed"
        )
    if at.code is CheckCode.REED_NOT_IN_STOCK and is_denting_of_cloth(at.fit):
        return (
            "nothing, because crammed and empty dents make the cloth, and no reed for them is near"
        )
    return None


def _not_known_to_differ(at: At, levers: Sequence[Lever]) -> str | None:
    """Say which wefts would need one selector, if their colour is the same."""
    wefts = perhaps_the_same_wefts(at) if ONE_SELECTOR in levers else []
    if not wefts:
        return None
    return (
        f"nothing, because wefts {listed(wefts)} state no colour: give those of one colour one key"
    )


def _tied_yarn(at: At, levers: Sequence[Lever]) -> str | None:
    """Say why a yarn that another count would help of is proposed in none."""
    stated = at.fit.cloth.construction
    for system, threads, key, of_count in (
        ("weft", stated.weft, at.weft_key, (FINER_WEFT, COARSER_WEFT)),
        ("warp", stated.warp, at.warp_key, (FINER_WARP, COARSER_WARP)),
    ):
        why = tied_to_the_count(threads.yarns[key])
        if why is not None and not set(of_count).isdisjoint(levers):
            return f"nothing, because {system} {key} is proposed in no other count: {why}"
    return None


def is_no_remedy(proof: Proof) -> bool:
    """Return whether a change is none for what it brings, or because it makes another cloth."""
    return bool(proof.worsens) or proof.distance > FARTHEST_POINTS


def but_no_remedy(words: str, proof: Proof) -> str:
    """Say of a lever that its change clears a finding, and why it is no remedy."""
    if proof.worsens:
        return f"{words}, but for {', '.join(sorted(proof.worsens))}"
    to = "".join(f"{each}, " for each in values_of(proof.change))
    return f"{words}, but only as another cloth: {to}{proof.distance:.0f} points away"


def values_of(change: Change) -> list[str]:
    """Return the numbers and counts to which a change moves, not those that move with them."""
    writes = (each for each in change.writes if each.step is not None or each.change_pct)
    return list(dict.fromkeys(with_unit(each) for each in writes if is_a_value(each)))


def is_sought(code: CheckCode, severity: Severity) -> bool:
    """Return whether remedies of a finding are sought."""
    return severity is not Severity.NOTE or code in OF_NOTES


def undecided_of(found: Iterable[Observation], facts: Facts[float]) -> frozenset[CheckCode]:
    """Return the requirements whose band is wider than their limits: no change brings it inside."""
    sides: dict[tuple[CheckCode, int], set[object]] = {}
    too_wide: set[CheckCode] = set()
    for seen in found:
        if seen.comparison.about is About.EACH_REQUIREMENT:
            sides.setdefault((seen.code, seen.requirement), set()).add(seen.comparison.test)
            one = facts.order.requirements[seen.requirement]
            if seen.code in _IN_PROPORTION and passed(one.high * one.least, one.low * one.most):
                too_wide.add(seen.code)
    return frozenset(too_wide.union(code for (code, _), tests in sides.items() if len(tests) > 1))


def _listed(code: CheckCode, proofs: Iterable[Proof], errors: frozenset[CheckCode]) -> list[Proof]:
    """Return the nearest proofs that help of a code, each once, and none for which less does.

    Of errors, those that leave a rejection to what is assumed come last. One that clears the code
    is among them, if any does.
    """
    unique = {one.change.key: one for one in proofs if code in one.helps}
    found = certain_first(undominated(unique.values()), errors)
    clearing = next((one for one in found if code in one.clears), None)
    listed = found[:MOST_LISTED]
    return listed if clearing is None or clearing in listed else [*listed[:-1], clearing]
