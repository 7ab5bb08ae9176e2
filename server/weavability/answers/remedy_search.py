"""The way out of an order that is not weavable as it is: every remedy that can be proved.

Single changes first; if none clears a finding, or none makes the order weavable, two together. What
was tried in vain is listed, and so are the other looms that weave the order as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, islice
from math import inf
from typing import Annotated, Final

from weavability.answers.altered import Pricing
from weavability.answers.caution import CAUTION
from weavability.answers.check_levers import LEVERS
from weavability.answers.costs import Prices, refuse_strange_yarns
from weavability.answers.field_changes import Change
from weavability.answers.finding_remedies import (
    NOTHING_HELPS,
    STATE_FIRST,
    is_sought,
    undecided_of,
)
from weavability.answers.levers import Lever, Options
from weavability.answers.loom_matching import CostSummary, match_looms
from weavability.answers.rounding import tidy
from weavability.answers.trials import Bound, Proof, Trials
from weavability.answers.validation import judge, ruleset
from weavability.answers.verdicts import Codes, by_weight, codes_of, verdict_of
from weavability.checks.codes import CheckCode
from weavability.checks.facts import pair_of
from weavability.checks.finding import Remedy, Severity, Verdict
from weavability.checks.registry import observe_pair
from weavability.looms.loom import Loom
from weavability.textiles.construction import Construction

OF_SEARCH: Final = Bound(probes=140, proofs=40)
"""What is tried for one order on one loom."""

MOST_CHOICES: Final = 3
"""Choices of one lever that are proved, if they are not ordered."""

MOST_REMEDIES: Final = 12
"""Remedies that are listed for one loom."""

MOST_PAIRS: Final = 12
"""Pairs of levers that are tried for one finding, and first changes to which a second is sought."""

FAR_POINTS: Final = 10.0
"""Distance beyond which one change is hardly the same order: two smaller ones are then sought."""

MOST_LOOMS_SEARCHED: Final = 8
"""Looms of which the remedies are sought; the best ranked of those that are named."""

_OUT_OF_TRIALS: Final = "nothing, because the trials of a search were used up"

UNITS_OF_A_LOOM: Final = 50
"""Units of work that a search on one loom counts as; see the bound on the work of a request."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRemedy:
    """A finding that nothing that was tried clears."""

    code: Annotated[CheckCode, "Code of the finding"]
    severity: Annotated[Severity, "How much it weighs"]
    tried: Annotated[tuple[str, ...], "What was tried, or why nothing was"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomRemedies:
    """The remedies of an order on one loom."""

    loom_id: Annotated[str | None, "Name of the loom, if it has one"]
    verdict: Annotated[Verdict, "The answer for the order as it is"]
    codes: Annotated[Codes, "Codes of its findings; `/v1/checks/{code}` explains each"]
    remedies: Annotated[
        tuple[Remedy, ...],
        "Changes that were proved, the smallest first. Two fields are changed together only if no "
        f"single change clears the finding, or none within {FAR_POINTS:g} points makes the order "
        "weavable",
    ]
    not_found: Annotated[tuple[NoRemedy, ...], "Errors and warnings without any remedy"]
    trials: Annotated[int, "Changed orders that were judged by every check"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherLoom:
    """A loom that weaves the order as it is, or with fewer errors than the loom requested."""

    loom_id: Annotated[str | None, "Name of the loom"]
    verdict: Annotated[Verdict, "The answer for this loom"]
    codes: Annotated[Codes, "Codes of its findings"]
    costs: Annotated[
        CostSummary | None,
        "What the order costs on it; null if the request states no prices",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyReport:
    """The remedies of an order, loom by loom, and the looms that need none."""

    ruleset: Annotated[str, "Digest of the rules, thresholds and default limits"]
    reference: Annotated[str | None, "The caller's own name of the order, as sent"]
    looms: Annotated[
        tuple[LoomRemedies, ...],
        "The loom requested, or the best ranked of those that are named or in the park",
    ]
    not_searched: Annotated[
        tuple[str | None, ...],
        f"Names of the looms, of more than {MOST_LOOMS_SEARCHED}, on which no remedies were sought "
        "because others ranked before them; ask for them by name",
    ]
    other_looms: Annotated[
        tuple[OtherLoom, ...], "Looms on which the order is weavable as it is, the best first"
    ]
    caution: Annotated[str, "What a computed result is not"]


def search_remedies(
    construction: Construction,
    looms: Sequence[Loom],
    others: Sequence[Loom] = (),
    *,
    prices: Prices | None = None,
) -> RemedyReport:
    """Search for the remedies of an order.

    Args:
        construction: The cloth as ordered.
        looms: The looms on which remedies are sought; of several, the best ranked.
        others: Looms that are only judged, as the order is.
        prices: What the mill pays, if the change of cost is to be reported.

    Raises:
        InputError: Something cannot be read; pointers start with ``/construction``, ``/loom`` or
            ``/prices``.
    """
    if prices is not None:
        refuse_strange_yarns(construction, prices)
    chosen, left_out = list(looms), []
    if len(chosen) > 1:
        ranked = match_looms(construction, chosen).matches
        chosen = [looms[each.index] for each in ranked[:MOST_LOOMS_SEARCHED]]
        left_out = [each.loom_id for each in ranked[MOST_LOOMS_SEARCHED:]]
        others = looms
    searched = tuple(_on_loom(construction, loom, prices) for loom in chosen)
    named = {loom.loom_id for loom in chosen} if len(looms) == 1 else set()
    others = [loom for loom in others if loom.loom_id not in named]
    return tidy(
        RemedyReport(
            ruleset=ruleset(),
            reference=construction.reference,
            looms=searched,
            not_searched=tuple(left_out),
            other_looms=tuple(_weavable(construction, others, prices)),
            caution=CAUTION,
        )
    )


def _weavable(
    construction: Construction, looms: Sequence[Loom], prices: Prices | None
) -> Iterator[OtherLoom]:
    if not looms:
        return
    for each in match_looms(construction, looms, prices=prices).matches:
        if each.verdict is not Verdict.NOT_WEAVABLE:
            yield OtherLoom(
                loom_id=each.loom_id, verdict=each.verdict, codes=each.codes, costs=each.costs
            )


def _on_loom(construction: Construction, loom: Loom, prices: Prices | None) -> LoomRemedies:
    fit = judge(construction, loom)
    pair = pair_of(fit)
    found = observe_pair(pair)
    pricing = None if prices is None else Pricing(loom=loom, prices=prices)
    search = _Search(Trials(fit, pair.facts, found, OF_SEARCH, pricing))
    search.run()
    search.trials.announce()
    return LoomRemedies(
        loom_id=loom.loom_id,
        verdict=verdict_of(found),
        codes=codes_of(found),
        remedies=tuple(search.trials.remedy(each) for each in search.listed()),
        not_found=tuple(search.not_found()),
        trials=len(search.trials.proofs),
    )


@dataclass(slots=True)
class _Search:
    """The search on one loom.

    Attributes:
        trials: Tries the changes.
        proofs: What was proved, by change.
        moved_by: The lever of each single change.
        tried: What was tried, by the code that it was to clear.
    """

    trials: Trials
    proofs: dict[object, Proof] = field(default_factory=dict)
    tried: dict[CheckCode, list[str]] = field(default_factory=dict)
    moved_by: dict[object, Lever] = field(default_factory=dict)

    @property
    def codes(self) -> dict[CheckCode, Severity]:
        """The findings of which remedies are sought, the errors first."""
        found = by_weight(self.trials.found)
        return {code: each for code, each in found.items() if is_sought(code, each)}

    def run(self) -> None:
        """Try single changes of every finding, then two together where they do not do."""
        undecided = undecided_of(self.trials.found)
        self.tried |= {code: [STATE_FIRST] for code in undecided}
        for code in (each for each in self.codes if each not in undecided):
            for lever in LEVERS.get(code, ()):
                self._try([code], code, lever)
        errors = sorted(self.trials.errors)
        if len(errors) > 1:
            for lever in dict.fromkeys(one for code in errors for one in LEVERS.get(code, ())):
                self._try(errors, None, lever)
        for code, severity in self.codes.items():
            is_open = code not in undecided and not self._clearing(code)
            if severity is not Severity.NOTE and is_open:
                self._two_levers(code)
        whole = [one.distance for one in self.proofs.values() if self.trials.errors <= one.clears]
        if errors and min(whole, default=inf) > FAR_POINTS:
            self._second_changes()

    def _try(self, codes: Sequence[CheckCode], named: CheckCode | None, lever: Lever) -> None:
        if self.trials.is_over:
            return
        options = lever.options(self.trials.at(codes[0]))
        if options and named is not None:
            self.tried.setdefault(named, []).append(lever.words)
        for change in self.trials.clearing(codes, options, MOST_CHOICES):
            self.moved_by[change.key] = lever
            self._prove(change)

    def _prove(self, change: Change) -> None:
        proof = self.trials.prove(change)
        if proof is not None and proof.clears:
            self.proofs[change.key] = proof

    def _clearing(self, code: CheckCode) -> list[Proof]:
        return [one for one in self.proofs.values() if code in one.clears]

    def _two_levers(self, code: CheckCode) -> None:
        """Move two levers that help of one check by the same share of their reach."""
        at = self.trials.at(code)
        levers = [(one.words, one.options(at)) for one in LEVERS.get(code, ())]
        helpful = [
            (words, some)
            for words, some in levers
            if some and some.is_ordered and self.trials.helps([code], some)
        ]
        pairs = (
            (f"{first} with {second}", one, other, joint)
            for (first, one), (second, other) in combinations(helpful, 2)
            if (joint := _jointly(one, other))
        )
        for words, one, other, joint in islice(pairs, MOST_PAIRS):
            self.tried.setdefault(code, []).append(words)
            for change in self.trials.clearing([code], joint, 1):
                self._prove(change)
                if change.is_double and change.key in self.proofs:
                    self._prove(self._moved_back(self.proofs[change.key], one, other))

    def _moved_back(self, proof: Proof, one: Options, other: Options) -> Change:
        """Return a change by two levers with each moved back as far as all stays clear.

        Args:
            proof: What was proved of the change by both.
            one: Options of the first lever.
            other: Of the second.
        """
        change, codes = proof.change, sorted(proof.clears)
        second = next(each for each in other if change.writes[-len(each.writes) :] == each.writes)
        smaller = self.trials.clearing(codes, _after(second, one), 1)
        if not smaller:
            return change
        moved_back = smaller[0].writes[len(second.writes) :]
        first = next(each for each in one if each.writes == moved_back)
        least = self.trials.clearing(codes, _after(first, other), 1)
        return (least or smaller)[0]

    def _second_changes(self) -> None:
        """Add to the changes that clear some errors a second one that clears the rest."""
        errors = self.trials.errors
        partial = sorted(
            (one for one in self.proofs.values() if errors & one.clears and errors - one.clears),
            key=lambda one: (-len(errors & one.clears), one.distance),
        )
        for proof in partial[:MOST_PAIRS]:
            rest = sorted(errors - proof.clears)
            for lever in LEVERS.get(rest[0], ()):
                options = _after(proof.change, lever.options(self.trials.at(rest[0])))
                for change in self.trials.clearing(rest, options, 1):
                    self._prove(self._tightened(proof, change))

    def _tightened(self, first: Proof, both: Change) -> Change:
        """Return a change of two fields with the first no larger than need be beside the other.

        Args:
            first: What was proved of the first field alone.
            both: Both changes.
        """
        lever = self.moved_by.get(first.change.key)
        if lever is None:
            return both
        second = Change(
            writes=both.writes[len(first.change.writes) :],
            message=both.message.removeprefix(first.change.message).strip(),
        )
        codes = sorted(self.trials.errors & first.clears) or sorted(first.clears)
        options = _after(second, lever.options(self.trials.at(codes[0])))
        smaller = self.trials.clearing(sorted(self.trials.errors), options, 1)
        return smaller[0] if options.is_ordered and smaller else both

    def listed(self) -> list[Proof]:
        """Return the proofs that are worth listing, the nearest first.

        A change of two fields goes if a nearer one clears as much; every code that can be cleared
        keeps its nearest.
        """
        nearest = sorted(self.proofs.values(), key=lambda one: one.distance)
        useful = [
            one
            for place, one in enumerate(nearest)
            if not (
                one.change.is_double and any(one.clears <= each.clears for each in nearest[:place])
            )
        ]
        first: dict[object, Proof] = {}
        for code in self.codes:
            best = next((one for one in useful if code in one.clears), None)
            if best is not None:
                first[best.change.key] = best
        whole = next((one for one in useful if self.trials.errors <= one.clears), None)
        if whole is not None:
            first[whole.change.key] = whole
        for one in useful:
            if len(first) >= MOST_REMEDIES:
                break
            first[one.change.key] = one
        return sorted(first.values(), key=lambda one: one.distance)

    def not_found(self) -> Iterable[NoRemedy]:
        """Yield the errors and warnings that nothing clears."""
        for code, severity in self.codes.items():
            if severity is not Severity.NOTE and not self._clearing(code):
                is_cut = self.trials.is_over and code in LEVERS
                nothing = (_OUT_OF_TRIALS if is_cut else NOTHING_HELPS,)
                tried = tuple(self.tried.get(code, ())) or nothing
                yield NoRemedy(code=code, severity=severity, tried=tried)


def _jointly(one: Options, other: Options) -> Options | None:
    """Return two levers moved together, by the same share of the reach of each."""
    count = max(len(one), len(other))

    def make(place: int) -> Change | None:
        shares = (-(-(place + 1) * len(each) // count) - 1 for each in (one, other))
        first, second = (each[at] for each, at in zip((one, other), shares, strict=True))
        return first.beside(second)

    if make(0) is None:
        return None
    return Options(count, lambda place: make(place) or one[place], is_ordered=True)


def _after(change: Change, options: Options) -> Options:
    """Return options of a lever made beside another change; none if they write the same part."""
    if not options or options[0].beside(change) is None:
        return Options(0, options.__getitem__, is_ordered=True)
    return Options(
        len(options),
        lambda place: change.beside(options[place]) or change,
        is_ordered=options.is_ordered,
        guess=options.guess,
    )
