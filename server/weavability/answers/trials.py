"""Try changes of one order on one loom: find the smallest that clears a check, and prove it.

A probe computes only the numbers that one check reads; a proof judges the changed order by every
check, as a validation of it does. Both are counted, and bounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Final, NamedTuple, cast

from weavability.answers.field_changes import Change, changed, distance_of, may_be_stated
from weavability.answers.levers import At, Options
from weavability.answers.verdicts import RANKS, verdict_of
from weavability.answers.weighed_findings import TIGHTNESS, Weighed, to_clear
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import Excess, excess_of, observe_altered, observe_pair
from weavability.checks.requirement import CODES as REQUIREMENTS
from weavability.checks.rules import About, Checks, Observation
from weavability.checks.trial_facts import Trial
from weavability.looms.figured_warp import woven_on
from weavability.looms.fit import Fit
from weavability.looms.thresholds import in_force
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import SLACK
from weavability.textiles.rounded_numbers import significant

CROSSINGS_OF_A_TRIAL: Final = 30_000
"""A design counts for one more trial for every so many crossings: its squares are set anew."""


PROBES_OF_A_REQUIREMENT: Final = 2
"""A probe of what a customer requires, which has a band, takes the time of so many others."""


AFTER_TRIALS: ContextVar[Callable[[int, int], None] | None] = ContextVar(
    "after_trials", default=None
)
"""Called with the number of probes and of proofs when the trials of an order on a loom are over."""


class Bound(NamedTuple):
    """How much may be tried for one order on one loom.

    Attributes:
        probes: Changes of which one check is computed.
        proofs: Changes that are judged by every check.
    """

    probes: int
    proofs: int


class Goal(NamedTuple):
    """What a change is to reach.

    Attributes:
        codes: Checks that are to find nothing.
        unwarned: Checks that are to find no more than a note.
        unrejected: Checks that are to find no more than a warning.
    """

    codes: Sequence[CheckCode] = ()
    unwarned: Sequence[CheckCode] = ()
    unrejected: Sequence[CheckCode] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """A change that was judged.

    Attributes:
        change: What was changed.
        distance: How far it is, in points.
        clears: Codes that are gone after it, or of which only a note is left.
        eases: Those of ``clears`` of which a note is left.
        mends: Errors that are none after it, and warnings that would be errors if what is assumed
            were stated and are none such: those of ``clears``, and those of which a lighter warning
            is left; of a requirement, if its figure is met as it is assumed.
        brings: Codes that were not there before, or weigh more than before.
        worsens: Codes for which it is no remedy: those of new errors, also if what is assumed makes
            warnings of them, those of limits that were passed and are passed by more, and that of
            a tightness that cannot be judged.
        trades: Warnings that it brings for as many that it helps of: those of ``worsens``, or none
            of them if it mends what it does not clear.
        doubts: Warnings after it that would be errors if what is assumed were stated.
        verdict: Of the order after it.
        left: How many checks still find an error after it, and how many a warning.
    """

    change: Change
    distance: float
    clears: frozenset[CheckCode]
    eases: frozenset[CheckCode]
    mends: frozenset[CheckCode]
    brings: frozenset[CheckCode]
    worsens: frozenset[CheckCode]
    trades: frozenset[CheckCode]
    doubts: frozenset[CheckCode]
    verdict: Verdict
    left: tuple[int, int]

    @property
    def rank(self) -> tuple[float, tuple[int, int], float]:
        """By which it is listed: the nearest first, of those as near what leaves less.

        Of those that leave as much, that first of which the numbers change less.
        """
        return self.distance, self.left, self.change.moved_pct

    @property
    def helps(self) -> frozenset[CheckCode]:
        """What it clears, and what it makes a lighter warning of."""
        return self.clears | self.mends

    @property
    def settles(self) -> frozenset[CheckCode]:
        """What it clears or mends, whatever the assumed values are."""
        return self.helps - self.doubts

    @property
    def rejected_if_assumed(self) -> frozenset[CheckCode]:
        """Codes for which the order is not weavable after it, if what is assumed is so."""
        return frozenset() if self.verdict is Verdict.NOT_WEAVABLE else self.doubts


@dataclass(slots=True)
class Trials:
    """Tries changes of one order on one loom, each once.

    Attributes:
        fit: The order on the loom.
        facts: Its numbers.
        found: What the checks find in them.
        bound: How much may be tried.
        probed: Probes that were made.
        proofs: By change what its judgement proved; ``None`` if it cannot be judged.
        is_of_use: Whether the options that were last tried pass the limits by less than the order,
            as far as they were tried.
    """

    fit: Fit
    facts: Facts[float]
    found: Sequence[Observation]
    bound: Bound
    probed: int = 0
    proofs: dict[object, Proof | None] = field(default_factory=dict)
    is_of_use: bool = False
    _made: dict[object, Trial | None] = field(default_factory=dict)
    _passed: dict[CheckCode, Excess] | None = None
    _helped: dict[CheckCode, At] = field(default_factory=dict)
    _now: dict[int, tuple[Checks, Excess]] = field(default_factory=dict)
    weighed: Weighed = field(init=False)

    def __post_init__(self) -> None:
        times = 1 + self.fit.cloth.weave.matrix.size // CROSSINGS_OF_A_TRIAL
        self.bound = Bound(*(max(2, each // times) for each in self.bound))
        self.weighed = Weighed.of(self.found, self.facts)

    @property
    def is_over(self) -> bool:
        """Whether no more may be tried."""
        return self.probed >= self.bound.probes or len(self.proofs) >= self.bound.proofs

    def announce(self) -> None:
        """Report how much was tried, for who counts it."""
        counted = AFTER_TRIALS.get()
        if counted is not None:
            counted(self.probed, len(self.proofs))

    @property
    def errors(self) -> frozenset[CheckCode]:
        """Codes of the errors of the order."""
        return self.weighed.errors

    def at(self, code: CheckCode) -> At:
        """Return what a lever has to know to help of a check: the yarns that it is about."""
        if code not in self._helped:
            self._helped[code] = self._at(code)
        return self._helped[code]

    def _at(self, code: CheckCode) -> At:
        fit = self.fit
        warps, wefts = tuple(fit.cloth.warp.yarns), tuple(fit.cloth.weft.order.counts)
        warp_key = max(warps, key=lambda key: fit.cloth.warp.yarns[key].linear_density_tex)
        weft_key = max(wefts, key=lambda key: fit.cloth.weft.yarns[key].linear_density_tex)
        if code is CheckCode.WARP_STRENGTH:
            warp_key = fit.hardest_warp[0]
        elif code in _OF_HARDEST_WEFT:
            weft_key = fit.hardest_weft.key
        for seen in self.found:
            if seen.code == code and seen.comparison.about is About.EACH_WARP:
                warp_key = warps[seen.warp]
            elif seen.code == code and seen.comparison.about is About.EACH_WEFT:
                weft_key = wefts[seen.weft]
        return At(fit=fit, code=code, warp_key=warp_key, weft_key=weft_key)

    def clearing(
        self,
        codes: Iterable[CheckCode],
        options: Options,
        most: int,
        *,
        unwarned: Iterable[CheckCode] = (),
        unrejected: Iterable[CheckCode] = (),
        begun: Change | None = None,
    ) -> list[Change]:
        """Return options that clear all codes, by probes alone: the nearest, or a few choices.

        Args:
            codes: What is to be cleared.
            options: The options of a lever.
            most: Most choices to return, if the options are not ordered.
            unwarned: Checks that are to find no more than a note.
            unrejected: Checks that are to find no more than a warning, also if what is assumed were
                stated: an end of a band is not aimed at.
            begun: What all options change as well; ``None`` if nothing.
        """
        made = self._reaching(codes, unwarned, unrejected)
        if options.is_ordered:
            now = self._worst_now(made) if begun is None else self._over(made, begun)
            nearest = self._nearest(made, options, now)
            return [] if nearest is None else [nearest]
        self.is_of_use = True  # which of a few choices leads to a limit only each of them can say
        found: list[Change] = []
        for one in options:
            if len(found) >= most or self.probed >= self.bound.probes:
                break
            if not self._over(made, one).is_found:
                found.append(one)
        return found

    def _reaching(
        self,
        codes: Iterable[CheckCode],
        unwarned: Iterable[CheckCode] = (),
        unrejected: Iterable[CheckCode] = (),
    ) -> Checks:
        """Return what is to find nothing; see :meth:`clearing`.

        Of threads that are no longer jammed the tightness is to be judged as well, if it is now.
        """
        wanted = tuple(codes)
        is_judged = CheckCode.SETT_NOT_JUDGED not in self.weighed.severities
        if CheckCode.SETT_JAMMED in wanted and is_judged:
            wanted = (*wanted, CheckCode.SETT_NOT_JUDGED)
        return to_clear(wanted, tuple(sorted(unwarned)), tuple(sorted(unrejected)))

    def helps(self, codes: Iterable[CheckCode], options: Options) -> bool:
        """Return whether the last of some ordered options passes the limits by less."""
        return self.leads(codes, options[len(options) - 1])

    def passed_by(
        self, codes: Iterable[CheckCode], *, unrejected: Iterable[CheckCode] = ()
    ) -> Excess:
        """Return how far the order is from what :meth:`clearing` would clear."""
        return self._worst_now(self._reaching(codes, (), unrejected))

    def leads(self, codes: Iterable[CheckCode], change: Change) -> bool:
        """Return whether a change passes the limits of all codes by less than the order does."""
        if self.probed >= self.bound.probes:
            return False
        made = self._reaching(codes)
        over, now = self._over(made, change), self._worst_now(made)
        return over < now or over.is_past(now)

    def _worst_now(self, made: Checks) -> Excess:
        """Return how far checks are passed by the order as it is."""
        if id(made) not in self._now:
            self._now[id(made)] = made, _worst(made, self.facts)
        return self._now[id(made)][1]

    def _nearest(self, made: Checks, options: Options, begun: Excess) -> Change | None:
        """Return the nearest of ordered options that clears: the one before it was seen to fail.

        Its place is guessed from how many times the limit is passed, and closed in on; also from
        beyond, if a figure is required to lie between two limits.

        Args:
            made: What is to be cleared.
            options: The options of a lever.
            begun: How far it is passed before the first of them.
        """
        fails, clears, is_cleared = _Place(-1, begun.times), _Place(len(options), 0.0), False
        now, self.is_of_use = fails.times, False
        aim, tried = options.guess(now) if now > 1.0 else 0, 0
        while clears.at - fails.at > 1:
            if self.probed >= self.bound.probes:
                return None
            place = min(max(aim, fails.at + 1), clears.at - 1)
            over = self._over(made, options[place])
            before, here = fails, _Place(place, over.times)
            self.is_of_use = self.is_of_use or not over.is_found or over.times * _FARTHER < now
            if not over.is_found:
                clears, is_cleared = here, True
            elif over.is_past(begun):
                clears, is_cleared, self.is_of_use = _Place(place, 1 / over.times), False, True
            elif over.times > before.times * _FARTHER:
                return None
            else:
                fails = here
            if clears.at == len(options):
                aim = _beyond(before, here, last=len(options) - 1)
            else:
                tried += 1
                aim = _crossing(fails, clears, is_even=tried <= _TRUSTED)
        return options[clears.at] if is_cleared else None

    def _over(self, made: Checks, change: Change) -> Excess:
        """Return how far checks are passed after a change; infinitely if it cannot be."""
        trial = self.trial(change, is_woven=_reads_design(made))
        if trial is None:
            return _IMPOSSIBLE
        requires = any(one.about is About.EACH_REQUIREMENT for some in made for one in some)
        self.probed += PROBES_OF_A_REQUIREMENT if requires else 1
        try:
            if requires:
                trial.require()
            # What a rule reads of a trial has the names of the facts of a pair.
            return _worst(made, cast("Facts[float]", trial))
        except InputError:
            return _IMPOSSIBLE

    def trial(self, change: Change, *, is_woven: bool = True) -> Trial | None:
        """Return the order after a change; ``None`` if it cannot be.

        Args:
            change: The change.
            is_woven: Whether a figured design is woven anew. A probe of what does not read it takes
                the cloth as it is woven now, which setts leave alike unless floats are bound.
        """
        key = change.key, is_woven or self.fit.cloth.construction.figured is None
        if key not in self._made:
            self._made[key] = self._make(change, is_woven=is_woven)
        return self._made[key]

    def _make(self, change: Change, *, is_woven: bool) -> Trial | None:
        order = self.fit.cloth.construction
        if not may_be_stated(order, change):
            return None
        try:
            limits = self.fit.limits
            after = changed(order, change)
            return Trial(
                woven_on(after, limits.loom) if is_woven else after, limits, self.fit, self.facts
            )
        except (InputError, KeyError):  # beside what else changes, a field may be gone
            return None

    def prove(self, change: Change) -> Proof | None:
        """Judge an order after a change; ``None`` if it cannot be judged, or no more may be."""
        key = change.key
        if key not in self.proofs:
            if len(self.proofs) >= self.bound.proofs:
                return None
            self.proofs[key] = self._prove(change)
        return self.proofs[key]

    def prove_or_farther(
        self,
        change: Change,
        codes: Iterable[CheckCode],
        options: Options,
        *,
        unwarned: Iterable[CheckCode] = (),
        unrejected: Iterable[CheckCode] = (),
    ) -> Proof | None:
        """Judge an option, or one past it: if it only trades warnings, that which clears these too.

        Args:
            change: The option.
            codes: What it clears.
            options: All options of its lever.
            unwarned: Checks of which it leaves no more than a note.
            unrejected: Checks of which it leaves no more than a warning.
        """
        proof = self.prove(change)
        if proof is None or not (options.is_ordered and proof.trades >= proof.worsens):
            return proof
        if not proof.trades:
            return proof
        first = options.place_of(change) + 1
        past = Options(len(options) - first, lambda at: options[first + at], is_ordered=True)
        lighter = sorted(proof.trades.union(unwarned))
        made = self._reaching(codes, lighter, unrejected)
        is_of_use = self.is_of_use
        farther = self._nearest(made, past, self._over(made, change))
        self.is_of_use = is_of_use
        other = None if farther is None else self.prove(farther)
        return proof if other is None or other.worsens or other.trades else other

    def _prove(self, change: Change) -> Proof | None:
        trial = self.trial(change)
        try:
            pair = None if trial is None else trial.pair()
        except InputError:
            return None
        if trial is None or pair is None:
            return None
        altered = trial.altered
        after = (
            observe_pair(pair) if altered is None else observe_altered(pair, self.found, altered)
        )
        found = Weighed.of(after, pair.facts)
        clears = self.weighed.cleared_in(found)
        mends = self.weighed.mended_in(found)
        trades = self._trades(pair.facts, found, clears | mends)
        worsens = self._worsens(pair.facts, after, found, clears, mends)
        severities = list(found.severities.values())
        return Proof(
            change=change,
            distance=significant(distance_of(change)),
            clears=clears,
            eases=clears & found.severities.keys(),
            mends=mends,
            brings=self.weighed.heavier_in(found),
            worsens=worsens if mends - clears else worsens | trades,
            trades=trades,
            doubts=found.doubts,
            verdict=verdict_of(after),
            left=(severities.count(Severity.ERROR), severities.count(Severity.WARNING)),
        )

    def _worsens(
        self,
        facts: Facts[float],
        after: Sequence[Observation],
        found: Weighed,
        clears: frozenset[CheckCode],
        mends: frozenset[CheckCode],
    ) -> frozenset[CheckCode]:
        """Return what forbids a change: limits passed by more than before, and graver findings.

        A remedy of one finding that leads away from the limit of another is none: the other has to
        be cleared, too; unless it clears an error, and the other is a requirement that is met as
        all is assumed. Warnings of which no error can come may get worse, but that of a tightness
        only for an error. What a change brings is no graver than what it clears, no error if all is
        stated, and no doubt about a requirement unless it clears an error. It does not make an
        order weavable by bringing only an end of a band inside what is required. It makes no error
        of a warning that rests on what is assumed, by settling that.
        """
        if self._passed is None:
            self._passed = {
                code: self._worst_now(to_clear((code,))) for code in _rejecting(self.found)
            }
        now = found.severities
        cleared = {self.weighed.severities[code] for code in clears | mends}
        most = next((each for each in Severity if each in cleared), Severity.NOTE)
        perhaps = frozenset[CheckCode]()
        if most is Severity.ERROR:
            perhaps = frozenset(REQUIREMENTS) - found.unmet
        farther = (
            code
            for code, passed in self._passed.items()
            if code in now
            and code not in mends | perhaps
            and _worst(to_clear((code,)), facts).times > passed.times * WORSE
        )
        brought = self.weighed.heavier_in(found)
        graver = (
            seen.code
            for seen in after
            if seen.code in brought
            and (
                seen.code is CheckCode.SETT_NOT_JUDGED
                or RANKS[seen.severity] < RANKS[most]
                or (seen.comparison.about is About.EACH_REQUIREMENT and most is not Severity.ERROR)
            )
        )
        tighter = frozenset[CheckCode]()
        if most is not Severity.ERROR and found.tightness_pct > self.weighed.warned_pct * WORSE:
            tighter = frozenset(TIGHTNESS).intersection(now)
        unmet = frozenset[CheckCode]()
        if verdict_of(after) is not Verdict.NOT_WEAVABLE:
            unmet = self.errors & found.unmet
        rejected = frozenset(code for code, each in now.items() if each is Severity.ERROR)
        beyond = (found.beyond - self.weighed.beyond) | (rejected - self.errors)
        return frozenset(farther) | frozenset(graver) | tighter | beyond | unmet

    def _trades(
        self, facts: Facts[float], found: Weighed, helped: frozenset[CheckCode]
    ) -> frozenset[CheckCode]:
        """Return the warnings that a change brings, if it helps of no more of them and no error.

        A cloth that comes out of a stated reed in a still more different width counts as one.
        """
        before = self.weighed.severities
        if not helped.isdisjoint(self.errors):
            return frozenset()
        brought = frozenset(
            code
            for code in self.weighed.heavier_in(found)
            if found.severities[code] is Severity.WARNING
            and code is not CheckCode.REED_NOT_IN_STOCK  # a reed can be bought
        )
        if CheckCode.REED_SETT_MISMATCH in before and self._comes_out_worse(facts):
            brought |= {CheckCode.REED_SETT_MISMATCH}
        warned = [code for code in helped if before[code] is Severity.WARNING]
        return brought if warned and len(brought) >= len(warned) else frozenset()

    def _comes_out_worse(self, facts: Facts[float]) -> bool:
        """Return whether the width out of a stated reed leaves its tolerance once more behind."""
        made = to_clear((CheckCode.REED_SETT_MISMATCH,))
        return _worst(made, facts).times > self._worst_now(made).times + 1.0


_OF_HARDEST_WEFT: Final = frozenset(
    {CheckCode.WEFT_STRENGTH, CheckCode.INSERTION_WEFT_SPEED, CheckCode.INSERTION_CRAWL}
)


_FARTHER: Final = 1 + SLACK
"""A change after which a limit is passed by more leads away from it."""


WORSE: Final = 1.0005
"""A limit that is passed by more than so many times as before is passed farther; a sett that moves
the crimp a little is not to blame for it."""


def _rejecting(found: Iterable[Observation]) -> frozenset[CheckCode]:
    """Return the codes of errors, of what would be one if it were stated, and of requirements."""
    return frozenset(
        seen.code
        for seen in found
        if seen.severity is Severity.ERROR
        or seen.is_assumed
        or seen.comparison.about is About.EACH_REQUIREMENT
    )


def _reads_design(made: Checks) -> bool:
    return any(one.code.startswith("design.") for some in made for one in some)


_IMPOSSIBLE: Final = Excess(is_found=True, times=math.inf)


class _Place(NamedTuple):
    """An option that was probed, and how many times the limit is passed there.

    Attributes:
        at: Its place; -1 for the order as it is.
    """

    at: int
    times: float


def _worst(made: Checks, facts: Facts[float]) -> Excess:
    usual = in_force().usual
    return max(excess_of(each, facts, usual) for each in made)


def _beyond(before: _Place, here: _Place, *, last: int) -> int:
    """Return the place at which a limit is reached, by the last two that passed it.

    If they are no nearer, the last option decides whether the lever helps at all.
    """
    if not here.times < before.times < math.inf:
        return last
    per_place = math.log(before.times / here.times) / (here.at - before.at)
    steps = math.ceil(math.log(here.times) / per_place) if here.times > 1.0 else 1
    return min(last, here.at + max(1, steps))


_TRUSTED: Final = 3
"""Probes between an option that clears and one that does not, after which they are halved."""


def _crossing(fails: _Place, clears: _Place, *, is_even: bool) -> int:
    """Return the first place that clears if the figure falls evenly, else the middle."""
    share = 0.5
    if is_even and 0.0 < clears.times <= 1.0 < fails.times < math.inf:
        share = math.log(fails.times) / math.log(fails.times / clears.times)
    return fails.at + math.ceil(share * (clears.at - fails.at))
