"""Search for the changes of an order on one loom: single ones first, then several together."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, islice, product
from math import inf
from typing import Final

from weavability.answers.another_cloth import PROBES_BEYOND, as_another_cloth
from weavability.answers.change_parts import (
    Part,
    Step,
    change_without,
    does_instead,
    jointly,
    options_after,
    parts_of,
    tightened,
    together_of,
)
from weavability.answers.check_levers import LEVERS
from weavability.answers.dominance import FAR_POINTS, FARTHEST_POINTS, worth_listing
from weavability.answers.field_changes import distance_of
from weavability.answers.finding_remedies import (
    EASED_AS_WELL,
    STATE_FIRST,
    but_no_remedy,
    is_no_remedy,
    is_sought,
    known_first,
    undecided_of,
)
from weavability.answers.levers import Lever, Options, up_to_the_last
from weavability.answers.trials import Bound, Goal, Proof, Trials
from weavability.answers.verdicts import by_weight
from weavability.answers.weighed_findings import can_be_eased
from weavability.answers.written_remedies import RemedyWriter
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Remedy, Severity
from weavability.checks.requirement import CODES as REQUIREMENTS

OF_SEARCH: Final = Bound(probes=140, proofs=40)
"""What is tried for one order on one loom."""

KEPT_FOR_SEVERAL: Final = Bound(probes=50, proofs=8)
"""What is kept of it for changes made together, if the order has an error."""

KEPT_TO_SETTLE: Final = 8
"""Proofs of a search that are kept to prove that no step less of changes made together would do."""

MOST_CHOICES: Final = 3
"""Choices of one lever that are proved, if they are not ordered."""

MOST_PAIRS: Final = 12
"""Pairs of levers that are tried for one finding, and changes to which a further one is sought."""

MOST_MENDED: Final = 3
"""Changes that clear a finding and bring another to which one more is sought, for one finding."""

MOST_TOGETHER: Final = 3
"""Changes that are made together, at most: more are another order."""


@dataclass(slots=True)
class Search:
    """The search on one loom.

    Attributes:
        trials: Tries the changes.
        proofs: What was proved, by change.
        steps: What was judged of changes that one lever makes, or several together, by change.
        tried: What was tried, by the code that it was to clear.
        sought: Goals for which a further change was sought, with what is changed.
        in_vain: Levers that do not clear a check, by its code and their words.
        ranges: The same levers, by its code and what was said of them.
        settled: Of changes made together, whether it is proved that no step less of one would do.
        is_certain: Whether what is a warning only by what is assumed counts as left to do.
        is_cut_short: Whether no more could be tried before everything was.
    """

    trials: Trials
    proofs: dict[object, Proof] = field(default_factory=dict)
    steps: dict[object, Step] = field(default_factory=dict)
    tried: dict[CheckCode, list[str]] = field(default_factory=dict)
    sought: set[object] = field(default_factory=set)
    in_vain: set[tuple[CheckCode, str]] = field(default_factory=set)
    ranges: dict[tuple[CheckCode, str], Lever] = field(default_factory=dict)
    settled: dict[object, bool] = field(default_factory=dict)
    is_certain: bool = False
    is_cut_short: bool = False

    @property
    def codes(self) -> dict[CheckCode, Severity]:
        """The findings of which remedies are sought, the errors first."""
        found = by_weight(self.trials.found)
        return {code: each for code, each in found.items() if is_sought(code, each)}

    def run(self) -> None:
        """Try single changes of every finding, then several together where they do not do."""
        bound = self.trials.bound
        kept = min(KEPT_TO_SETTLE, bound.proofs // 5)  # of a large design few can be made
        together = bound._replace(proofs=bound.proofs - kept)
        undecided = undecided_of(self.trials.found, self.trials.facts)
        self.tried |= {code: [STATE_FIRST] for code in undecided}
        self.trials.bound = self._for_single(together)
        self._single(undecided)
        self.is_cut_short, self.trials.bound = self.trials.is_over, together
        self._several(undecided)
        self.is_cut_short, self.trials.bound = self.is_cut_short or self.trials.is_over, bound
        while left := [one for one in self.listed() if self._is_unsettled(one)]:
            self._settle(self.steps[left[0].change.key])
        self._name_another_cloth()

    def _name_another_cloth(self) -> None:
        """Say of what was tried in vain at which sett or width the finding would be gone."""
        self.trials.bound = bound = Bound(self.trials.probed + PROBES_BEYOND, 0)
        open_codes = self.open_codes()
        for (code, said), lever in self.ranges.items():
            is_said = said in self.tried.get(code, ())
            if is_said and code in open_codes and self.trials.probed < bound.probes:
                beyond = as_another_cloth(self.trials, self.trials.at(code), lever)
                tried = self.tried[code]
                self.tried[code] = [beyond if beyond and one == said else one for one in tried]

    def _is_unsettled(self, proof: Proof) -> bool:
        return proof.change.is_combined and proof.change.key not in self.settled

    def _for_single(self, bound: Bound) -> Bound:
        """Return how much of a bound single changes may take."""
        if not self.trials.weighed.rejected:
            return bound
        kept = zip(bound, KEPT_FOR_SEVERAL, strict=True)
        return Bound(*(most - min(each, most // 3) for most, each in kept))

    def _single(self, undecided: frozenset[CheckCode]) -> None:
        for code in (each for each in known_first(self.codes) if each not in undecided):
            for lever in LEVERS.get(code, ()):
                self._try(Goal(codes=[code]), code, lever)
            if code in EASED_AS_WELL:
                self._eased(code)

    def _several(self, undecided: frozenset[CheckCode]) -> None:
        rejected = sorted(self.trials.weighed.rejected)
        if len(rejected) > 1:
            self._united(rejected, FARTHEST_POINTS)
            for lever in dict.fromkeys(one for code in rejected for one in LEVERS.get(code, ())):
                if not any((code, lever.words) in self.in_vain for code in rejected):
                    self._try(Goal(codes=rejected), None, lever)
        self._as_assumed(rejected)
        self._met_beside(frozenset(rejected))
        for code, severity in self.codes.items():
            is_open = code not in undecided and not self._clearing(code)
            if severity is not Severity.NOTE and is_open:
                self._eased(code)
                if not self._clearing(code):
                    self._two_of_one(code)
        is_decided = undecided.isdisjoint(rejected)
        for together in range(2, MOST_TOGETHER + 1) if rejected else ():
            far = FAR_POINTS if together == 2 else FARTHEST_POINTS  # a pair
            # A requirement that nothing brings inside its limits is cleared by no change.
            if is_decided and min(self._whole(), default=inf) > far:
                self._further_changes(frozenset(rejected), together)
            if min(self._whole(), default=inf) > FARTHEST_POINTS:
                if together == 2 and not set(rejected).issubset(REQUIREMENTS):  # a pair
                    self._unrejected(rejected)
                self._further_changes(frozenset(rejected), together, may_warn=True)
        for code in sorted(self.trials.errors):
            if FAR_POINTS < self._nearest_of(code) < inf:
                self._two_of_one(code)
        self._make_certain(undecided)
        for code, severity in self.codes.items():
            is_open = code not in undecided and not self._clearing(code)
            if severity is not Severity.NOTE and is_open:
                self._mended(code, undecided)

    def _as_assumed(self, rejected: list[CheckCode]) -> None:
        """Meet what the customer requires as all is assumed, beside what does so for certain."""
        required = [code for code in rejected if code in REQUIREMENTS]
        self._unrejected(required)
        if required and len(rejected) > 1 and min(self._whole(), default=inf) > FAR_POINTS:
            self._united(rejected, FAR_POINTS)

    def _met_beside(self, rejected: frozenset[CheckCode]) -> None:
        """Add to a change that mends all, but misses what is required, one that meets it.

        As all is assumed, and before the trials go to what helps of no error.
        """
        begun = [
            step
            for step in sorted(self.steps.values(), key=lambda one: one.proof.distance)
            if len(step.parts) == 1
            and rejected <= step.proof.mends
            and step.proof.worsens
            and step.proof.worsens.issubset(REQUIREMENTS)
        ]
        for step in begun[:MOST_MENDED]:
            rest, before = sorted(step.proof.worsens), step.proof.change
            for lever in LEVERS.get(rest[0], ()):
                if self.trials.is_over or min(self._whole(), default=inf) <= FAR_POINTS:
                    return
                options = options_after(before, lever.options(self.trials.at(rest[0])))
                for both in self.trials.clearing((), options, 1, unrejected=rest, begun=before):
                    parts = (*step.parts, Part(lever, change_without(before, both)))
                    self._prove(parts, rejected, step.proof.worsens)

    def _make_certain(self, undecided: frozenset[CheckCode]) -> None:
        """Seek changes that do not leave it to what is assumed whether an order is rejected.

        If those that do leave it are near, or all that makes the order weavable.
        """
        errors, doubts = self.trials.errors, self.trials.weighed.doubts
        wanted = errors | doubts
        is_left = any(one.rejected_if_assumed for one in self.proofs.values())
        if not (errors and is_left):
            return
        self.is_certain = True
        if min(self._whole(), default=inf) > FAR_POINTS:
            self._unrejected(sorted(doubts.intersection(REQUIREMENTS)))
            self._united(sorted(wanted), FAR_POINTS)
        for together, far in ((2, FAR_POINTS), (3, FARTHEST_POINTS)):
            if undecided.isdisjoint(wanted) and min(self._whole(), default=inf) > far:
                self._further_changes(wanted, together)
        self.is_certain = False

    def _does(self, proof: Proof) -> frozenset[CheckCode]:
        """Return what a change does of what is sought."""
        return proof.settles if self.is_certain else proof.mends

    def _nearest_of(self, code: CheckCode) -> float:
        """Return how far the nearest change is that clears a finding; infinite if none does."""
        return min((one.distance for one in self._clearing(code)), default=inf)

    def _united(self, errors: list[CheckCode], far: float) -> None:
        """Make those single changes together of which each is the nearest that mends an error.

        Args:
            errors: What is to be mended.
            far: Distance within which what mends them all need not be sought any more.
        """
        alone = [one for one in self.steps.values() if len(one.parts) == 1]
        alone.sort(key=lambda one: (bool(one.proof.worsens), one.proof.distance))
        chosen: list[Step] = []
        left, cleared = set(errors), set[CheckCode]()
        while left and alone:
            most = max(alone, key=lambda one: len(left & self._does(one.proof)))
            chosen.append(most)
            left -= self._does(most.proof)
            cleared |= most.proof.clears
            alone = [
                one
                for one in alone
                if left & self._does(one.proof) and one.proof.change.beside(most.proof.change)
            ]
        chosen.sort(key=lambda one: one.proof.distance)
        parts = tuple(part for step in chosen for part in step.parts)
        if not left and 1 < len(parts) <= MOST_TOGETHER:
            warned = sorted(set(errors) - cleared)
            goal = Goal(codes=sorted(cleared.intersection(errors)), unrejected=warned)
            # What changes the order most is made smaller first.
            for made in (tightened(self.trials, parts[::-1], goal)[::-1], parts):
                if min(self._whole(), default=inf) > far:
                    self._prove(made, frozenset(errors))

    def _whole(self) -> Iterator[float]:
        """Yield how far each change is that leaves no rejection, and if it is sought no doubt."""
        rejected = self.trials.weighed.rejected
        return (
            one.distance
            for one in self.proofs.values()
            if rejected <= one.mends and not (self.is_certain and one.doubts)
        )

    def _eased(self, code: CheckCode) -> None:
        """Leave a note of a finding, if it cannot be cleared."""
        for lever in LEVERS.get(code, ()) if can_be_eased(code) else ():
            self._try(Goal(unwarned=[code]), code, lever)

    def _unrejected(self, errors: list[CheckCode]) -> None:
        """Make warnings of errors and doubts, all at once and one by one."""
        alone = [[each] for each in errors if can_be_eased(each, Severity.WARNING)]
        for codes in (errors, *alone) if alone and len(errors) > 1 else alone:
            for lever in dict.fromkeys(one for code in codes for one in LEVERS.get(code, ())):
                if not self._is_least(lever, codes):
                    self._try(Goal(unrejected=codes), None, lever)

    def _is_least(self, lever: Lever, codes: list[CheckCode]) -> bool:
        """Return whether the least change by a lever mends errors already."""
        first = lever.options(self.trials.at(codes[0]))[:1]
        step = self.steps.get(first[0].key) if first else None
        return step is not None and step.proof.mends.issuperset(codes)

    def _try(self, goal: Goal, named: CheckCode | None, lever: Lever) -> None:
        if self.trials.is_over:
            return
        codes, unwarned, unrejected = goal
        options = lever.options(self.trials.at((*codes, *unwarned, *unrejected)[0]))
        changes = self.trials.clearing(
            codes, options, MOST_CHOICES, unwarned=unwarned, unrejected=unrejected
        )
        words = lever.words
        was_tried = self.trials.probed < self.trials.bound.probes
        if named is not None and named in codes and was_tried and not changes:
            self.in_vain.add((named, words))
            words = up_to_the_last(words, options)
            self.ranges[named, words] = lever
        for change in changes:
            proof = self.trials.prove_or_farther(
                change, codes, options, unwarned=unwarned, unrejected=unrejected
            )
            if proof is not None:
                self._keep(proof)
                self.steps[proof.change.key] = Step((Part(lever, proof.change),), proof)
                if named in proof.clears and is_no_remedy(proof):
                    words = but_no_remedy(lever.words, proof)
        if named is not None and options and self.trials.is_of_use:
            tried = self.tried.setdefault(named, [])
            if not any(
                one == words or one.startswith((f"{words} (", f"{words}, ")) for one in tried
            ):
                tried.append(words)

    def _prove(
        self,
        parts: tuple[Part, ...],
        wanted: frozenset[CheckCode],
        mended: frozenset[CheckCode] = frozenset(),
    ) -> None:
        """Judge changes made together; keep them if they are a remedy of all that is wanted."""
        proof = self.trials.prove(together_of(parts))
        if proof is not None:
            self.steps[proof.change.key] = Step(parts, proof, mended)
            if wanted <= (proof.settles if self.is_certain else proof.helps):
                self._keep(proof)

    def _keep(self, proof: Proof) -> None:
        is_way_out = proof.clears or (proof.mends and self.trials.weighed.rejected <= proof.mends)
        if is_way_out and not is_no_remedy(proof):
            self.proofs[proof.change.key] = proof

    def _clearing(self, code: CheckCode) -> list[Proof]:
        return [one for one in self.proofs.values() if code in one.clears]

    def _two_of_one(self, code: CheckCode) -> None:
        """Make two changes that both help of one check."""
        self._beside_choices(code)
        self._two_levers(code)

    def _two_levers(self, code: CheckCode) -> None:
        """Move two levers that help of one check by the same share of their reach."""
        at = self.trials.at(code)
        helpful = [
            (lever, some)
            for lever in LEVERS.get(code, ())
            if (some := lever.options(at)) and some.is_ordered and self.trials.helps([code], some)
        ]
        pairs = (
            ((first, one), (second, other), joint)
            for (first, one), (second, other) in combinations(helpful, 2)
            if (joint := jointly(one, other)) and (joint := self._nearer(joint, code))
        )
        for one, other, joint in islice(pairs, MOST_PAIRS):
            said = words = f"{one[0].words} with {other[0].words}"
            changes = self.trials.clearing([code], joint, 1)
            if not (changes or self.trials.is_over):
                said = up_to_the_last(words, joint)
            for change in changes:
                nearest = self.trials.prove(change)
                proof = self.trials.prove_or_farther(change, [code], joint)
                if nearest is None or proof is None:
                    continue
                self._keep(proof)
                if not proof.change.is_combined:
                    continue
                parts = parts_of(joint.place_of(proof.change), one, other)
                self.steps[proof.change.key] = Step(parts, proof)
                if proof.worsens:
                    said = but_no_remedy(words, proof)
                else:
                    goal = Goal(codes=sorted(proof.clears), unwarned=sorted(nearest.trades))
                    self._prove(tightened(self.trials, parts, goal), proof.clears)
            self.tried.setdefault(code, []).append(said)

    def _beside_choices(self, code: CheckCode) -> None:
        """Move a number beside a choice that leads towards the limit of a check, but not to it."""
        at, wanted = self.trials.at(code), frozenset([code])
        levers = [(lever, lever.options(at)) for lever in LEVERS.get(code, ())]
        numbers = [(lever, some) for lever, some in levers if some and some.is_ordered]
        chosen = (
            (lever, one)
            for lever, some in levers
            if not some.is_ordered
            for one in some
            if one.key not in self.steps and self.trials.leads([code], one)
        )
        for (lever, one), (other, some) in product(islice(chosen, MOST_CHOICES), numbers):
            nearer = self._nearer(options_after(one, some), code)
            for both in self.trials.clearing([code], nearer, 1, begun=one) if nearer else ():
                self._prove((Part(lever, one), Part(other, change_without(one, both))), wanted)

    def _nearer(self, options: Options, code: CheckCode) -> Options:
        """Return those ordered options that are nearer than what clears a finding already."""
        most = min(self._nearest_of(code), FARTHEST_POINTS)
        return options.up_to(bisect_left(options, most, key=distance_of))

    def _mended(self, code: CheckCode, undecided: frozenset[CheckCode]) -> None:
        """Add to a change that clears a finding, and for something else is no remedy, one more."""
        begun = [
            (each, sorted(each.proof.worsens))
            for each in sorted(self.steps.values(), key=lambda one: one.proof.distance)
            if code in each.proof.clears
            and each.proof.worsens
            and each.proof.worsens.isdisjoint(undecided)
            and len(each.parts) == 1
        ]
        for step, rest in begun[:MOST_MENDED]:
            for lever in LEVERS.get(rest[0], ()):
                if self.trials.is_over or self._clearing(code):
                    return
                self._add(step, rest, lever, frozenset([code]))

    def _further_changes(
        self, errors: frozenset[CheckCode], together: int, *, may_warn: bool = False
    ) -> None:
        """Add to changes that mend some errors one more, which mends the rest.

        What a change brings is part of the rest. If no lever clears all of it, one that clears some
        of it is a step to a change of one more field.

        Args:
            errors: What is to be mended.
            together: How many changes are made together then.
            may_warn: Whether a warning may be left of an error.
        """
        begun: dict[object, tuple[Step, list[CheckCode]]] = {}
        for step in sorted(self.steps.values(), key=lambda one: one.proof.distance):
            done = self._does(step.proof)
            if len(step.parts) == together - 1 and errors & done:
                rest = sorted((errors - done) | step.proof.worsens)
                # Of changes after which the same is left to do, the nearest.
                begun.setdefault(tuple(rest), (step, rest))
        for step, rest in sorted(begun.values(), key=lambda one: len(one[1]))[:MOST_PAIRS]:
            for lever in self._nearest_first(rest[0]) if rest else ():
                if self.trials.is_over:
                    return
                self._add(step, rest, lever, errors, may_warn=may_warn)

    def _nearest_first(self, code: CheckCode) -> list[Lever]:
        """Return the levers of a check, first those that clear it alone by the smallest change."""
        alone: dict[str, float] = {}
        for parts, proof, _ in self.steps.values():
            if len(parts) == 1 and code in proof.clears:
                words = parts[0].lever.words
                alone[words] = min(proof.distance, alone.get(words, inf))
        return sorted(LEVERS.get(code, ()), key=lambda lever: alone.get(lever.words, inf))

    def _add(
        self,
        step: Step,
        rest: list[CheckCode],
        lever: Lever,
        wanted: frozenset[CheckCode],
        *,
        may_warn: bool = False,
    ) -> None:
        """Make one more change, and each of the others no larger than it has to be beside it.

        Args:
            step: Changes that are made.
            rest: What is left to be cleared after them; if nothing clears all of it, the first of
                it is, as a step to one more change.
            lever: Makes one more.
            wanted: What all together are to clear.
            may_warn: Whether a warning may be left of an error that cannot be cleared.
        """
        before = step.proof.change
        options = options_after(before, lever.options(self.trials.at(rest[0])))
        left = step.proof.mends - step.proof.clears - set(rest)
        some = rest[:1] if len(step.parts) + 1 < MOST_TOGETHER else rest
        for codes in (rest, some) if some != rest else (rest,):
            for goal in self._goals(codes, (before.key, lever.words), may_warn=may_warn):
                found = self.trials.clearing(
                    goal.codes, options, 1, unrejected=goal.unrejected, begun=before
                )
                for both in found:
                    parts = (*step.parts, Part(lever, change_without(before, both)))
                    if codes == rest:
                        warned = left.union(goal.unrejected)
                        cleared = sorted(wanted.union(rest, step.mended) - warned)
                        parts = tightened(
                            self.trials, parts, Goal(codes=cleared, unrejected=sorted(warned))
                        )
                    self._prove(parts, wanted, step.mended | step.proof.worsens)
                if found:
                    return

    def _goals(self, codes: list[CheckCode], tried: object, *, may_warn: bool) -> Iterator[Goal]:
        """Yield what a further change is to reach: all clear, or no error left of them.

        Args:
            codes: What is to be cleared.
            tried: What is changed and how; none of it is sought twice.
            may_warn: Whether a warning may be left of an error.
        """
        weighed = self.trials.weighed
        errors = [
            each
            for each in codes
            if (each not in weighed.severities or each in weighed.errors | weighed.doubts)
            and can_be_eased(each, Severity.ERROR)
        ]
        is_eased = may_warn and any(can_be_eased(each, Severity.WARNING) for each in errors)
        others = [each for each in codes if each not in errors]
        eased = (Goal(codes=others, unrejected=errors),) if is_eased else ()
        for goal in (Goal(codes=codes), *eased):
            key = (tried, tuple(goal.codes), tuple(goal.unrejected))
            if key not in self.sought:
                self.sought.add(key)
                yield goal

    def _settle(self, step: Step) -> None:
        """Take back what is not needed of changes made together, until no step less would do.

        What clears a finding may not do so farther on, and again beyond that, as the reeds in
        stock: a change was then found from the wrong side. One of three is first left out.
        """
        self.settled[step.proof.change.key] = False
        for place in range(len(step.parts)) if len(step.parts) > 2 else ():  # more than two
            step = self._instead(step, (*step.parts[:place], *step.parts[place + 1 :])) or step
            if len(step.parts) == 2:  # two are left
                break
        place, stride, needed = 0, 1, 0
        while needed < len(step.parts):
            place %= len(step.parts)
            fewer = self._fewer_steps(step.parts, place, stride)
            less = self._instead(step, fewer) if fewer else None
            if less is not None:
                step, stride, needed = less, 2 * stride, 0
            elif fewer and together_of(fewer).key not in self.trials.proofs:
                return  # no more may be proved
            elif stride > 1:
                stride = 1
            else:
                place, needed = place + 1, needed + 1
        self.settled[step.proof.change.key] = True

    def _instead(self, step: Step, parts: tuple[Part, ...]) -> Step | None:
        """Return smaller changes if they do as much, and keep them; ``None`` if they do not."""
        proof = self.trials.prove(together_of(parts))
        if proof is None or not does_instead(proof, step.proof):
            return None
        less = step._replace(parts=parts, proof=proof)
        self.steps[proof.change.key] = less
        self.settled.setdefault(proof.change.key, False)
        self._keep(proof)
        return less

    def _fewer_steps(self, parts: tuple[Part, ...], place: int, stride: int) -> tuple[Part, ...]:
        """Return changes with one of them some steps smaller, or left out if it has not as many."""
        lever, change = parts[place]
        less: tuple[Part, ...] = ()
        if change.writes[0].step is not None:
            options = lever.options(self.trials.at(next(iter(self.codes))))
            at = options.place_of(change)
            less = () if at < stride else (Part(lever, options[at - stride]),)
        return (*parts[:place], *less, *parts[place + 1 :])

    def listed(self) -> list[Proof]:
        """Return the proofs that are worth listing, those of errors first, then the nearest."""
        return worth_listing(self.proofs.values(), self.codes, self.trials.weighed)

    def remedies(self, writer: RemedyWriter) -> Iterator[Remedy]:
        """Yield what is listed as a report has it."""
        for one in self.listed():
            yield writer.remedy(one, may_be_large=not self.settled.get(one.change.key, True))

    def open_codes(self) -> dict[CheckCode, Severity]:
        """Return the errors and warnings that no remedy clears."""
        cleared = {code for one in self.listed() for code in one.clears}
        return {
            code: severity
            for code, severity in self.codes.items()
            if severity is not Severity.NOTE and code not in cleared
        }
