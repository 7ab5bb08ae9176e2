"""Try changes of one order on one loom: find the smallest that clears a check, and prove it.

A probe computes only the numbers that one check reads; a proof judges the changed order by every
check, as a validation of it does. Both are counted, and bounded.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple, cast

from weavability.answers.altered import Pricing, alterations, figures_of
from weavability.answers.field_changes import (
    Change,
    Write,
    changed,
    distance_of,
    form_of,
    may_be_stated,
    value_at,
)
from weavability.answers.levers import At, Options
from weavability.answers.rounding import significant
from weavability.answers.verdicts import verdict_of
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Trial
from weavability.checks.finding import Alteration, FieldChange, Remedy, Severity, Verdict
from weavability.checks.registry import comparisons_of, excess_of, observe_pair
from weavability.checks.rules import About, Checks, Observation
from weavability.looms.figured_warp import woven_on
from weavability.looms.fit import Fit
from weavability.looms.thresholds import in_force
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

CROSSINGS_OF_A_TRIAL: Final = 30_000
"""A design counts for one more trial for every so many crossings: its squares are set anew."""


PROBES_OF_A_REQUIREMENT: Final = 2
"""A probe of what a customer requires, which has a band, takes the time of so many others."""


class Bound(NamedTuple):
    """How much may be tried for one order on one loom.

    Attributes:
        probes: Changes of which one check is computed.
        proofs: Changes that are judged by every check.
    """

    probes: int
    proofs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """A change that was judged, and brings no new error.

    Attributes:
        change: What was changed.
        distance: How far it is, in points.
        clears: Codes that are gone after it.
        brings: Codes that were not there before, none of them an error.
        verdict: Of the order after it.
    """

    change: Change
    distance: float
    clears: frozenset[CheckCode]
    brings: frozenset[CheckCode]
    verdict: Verdict


@dataclass(slots=True)
class Trials:
    """Tries changes of one order on one loom, each once.

    Attributes:
        fit: The order on the loom.
        facts: Its numbers.
        found: What the checks find in them.
        bound: How much may be tried.
        pricing: For the change of cost; ``None`` if no prices are stated.
        probed: Probes that were made.
        proofs: By change what its judgement proved; ``None`` if it brings an error or cannot be.
    """

    fit: Fit
    facts: Facts[float]
    found: Sequence[Observation]
    bound: Bound
    pricing: Pricing | None = None
    probed: int = 0
    proofs: dict[object, Proof | None] = field(default_factory=dict)
    _made: dict[object, Trial | None] = field(default_factory=dict)
    _figures: dict[str, float] | None = None

    def __post_init__(self) -> None:
        times = 1 + self.fit.cloth.weave.matrix.size // CROSSINGS_OF_A_TRIAL
        self.bound = Bound(*(max(2, each // times) for each in self.bound))

    @property
    def is_over(self) -> bool:
        """Whether no more may be tried."""
        return self.probed >= self.bound.probes or len(self.proofs) >= self.bound.proofs

    @property
    def errors(self) -> frozenset[CheckCode]:
        """Codes of the errors of the order."""
        return _errors(self.found)

    def at(self, code: CheckCode) -> At:
        """Return what a lever has to know to help of a check: the yarns that it is about."""
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

    def clearing(self, codes: Iterable[CheckCode], options: Options, most: int) -> list[Change]:
        """Return options that clear all codes, by probes alone: the nearest, or a few choices.

        Args:
            codes: What is to be cleared.
            options: The options of a lever.
            most: Most choices to return, if the options are not ordered.
        """
        if options.is_ordered:
            nearest = self._nearest(codes, options)
            return [] if nearest is None else [nearest]
        made = comparisons_of(codes)
        found: list[Change] = []
        for one in options:
            if len(found) >= most or self.probed >= self.bound.probes:
                break
            if self._over(made, one) == 0.0:
                found.append(one)
        return found

    def helps(self, codes: Iterable[CheckCode], options: Options) -> bool:
        """Return whether the last of some ordered options passes the limits by less."""
        if self.probed >= self.bound.probes:
            return False
        made = comparisons_of(codes)
        return self._over(made, options[len(options) - 1]) < _worst(made, self.facts)

    def _nearest(self, codes: Iterable[CheckCode], options: Options) -> Change | None:
        """Return the nearest of ordered options that clears: the one before it was seen to fail.

        Its place is guessed from how many times the limit is passed, and closed in on.
        """
        made = comparisons_of(codes)
        low, high, stride = -1, len(options), 1
        over_low = _worst(made, self.facts)
        aim = options.guess(over_low)
        while high - low > 1:
            if self.probed >= self.bound.probes:
                return None
            place = min(max(aim, low + 1), high - 1)
            over = self._over(made, options[place])
            if over == 0.0:
                high, aim, stride = place, place - stride, 2 * stride
            elif over > over_low * _FARTHER:
                return None
            else:
                aim = (
                    (place + high) // 2
                    if high < len(options)
                    else _beyond(low, over_low, place, over, last=high - 1)
                )
                low, over_low = place, over
        return options[high] if high < len(options) else None

    def _over(self, made: Checks, change: Change) -> float:
        """Return how many times checks are passed after a change; infinity if it cannot be."""
        trial = self._trial(change)
        if trial is None:
            return math.inf
        requires = any(one.about is About.EACH_REQUIREMENT for some in made for one in some)
        self.probed += PROBES_OF_A_REQUIREMENT if requires else 1
        try:
            if requires:
                trial.require()
            # What a rule reads of a trial has the names of the facts of a pair.
            return _worst(made, cast("Facts[float]", trial))
        except InputError:
            return math.inf

    def _trial(self, change: Change) -> Trial | None:
        key = change.key
        if key not in self._made:
            self._made[key] = self._make(change)
        return self._made[key]

    def _make(self, change: Change) -> Trial | None:
        order = self.fit.cloth.construction
        if not may_be_stated(order, change):
            return None
        try:
            limits = self.fit.limits
            return Trial(woven_on(changed(order, change), limits.loom), limits, self.fit)
        except InputError:
            return None

    def prove(self, change: Change) -> Proof | None:
        """Judge an order after a change; ``None`` if it brings a new error or cannot be judged."""
        key = change.key
        if key not in self.proofs:
            if len(self.proofs) >= self.bound.proofs:
                return None
            self.proofs[key] = self._prove(change)
        return self.proofs[key]

    def _prove(self, change: Change) -> Proof | None:
        trial = self._trial(change)
        try:
            pair = None if trial is None else trial.pair()
        except InputError:
            return None
        if pair is None:
            return None
        after = observe_pair(pair)
        if not _errors(after) <= self.errors:
            return None
        before, now = _codes(self.found), _codes(after)
        return Proof(
            change=change,
            distance=significant(distance_of(change)),
            clears=before - now,
            brings=now - before,
            verdict=verdict_of(after),
        )

    def remedy(self, proof: Proof) -> Remedy:
        """Write a proved change down, with what else it changes."""
        order = self.fit.cloth.construction
        changes = tuple(_stated(order, write) for write in proof.change.writes)
        first = changes[0]
        return {
            "pointer": first["pointer"],
            "from": first["from"],
            "to": first["to"],
            "unit": first["unit"],
            "message": proof.change.message,
            "clears": sorted(proof.clears),
            "brings": sorted(proof.brings),
            "verdict": proof.verdict,
            "distance": proof.distance,
            "changes": changes,
            "alters": tuple(self._alters(proof.change)),
        }

    def _alters(self, change: Change) -> Iterator[Alteration]:
        if self._figures is None:
            self._figures = figures_of(self.fit)
        trial = self._trial(change)
        if trial is None:
            return
        after = trial.on_loom()
        yield from alterations(self._figures, figures_of(after))
        if self.pricing is not None:
            yield from self.pricing.alteration(self.fit, after)


_OF_HARDEST_WEFT: Final = frozenset(
    {CheckCode.WEFT_STRENGTH, CheckCode.INSERTION_WEFT_SPEED, CheckCode.INSERTION_CRAWL}
)


_FARTHER: Final = 1 + 1e-9
"""A change after which a limit is passed by more leads away from it."""


def _worst(made: Checks, facts: Facts[float]) -> float:
    usual = in_force().usual
    return max(excess_of(each, facts, usual) for each in made)


def _beyond(low: int, over_low: float, place: int, over: float, *, last: int) -> int:
    """Return the place at which a limit is reached, by the last two that passed it.

    If they are no nearer, the last option decides whether the lever helps at all.
    """
    if not over < over_low < math.inf:
        return last
    per_place = math.log(over_low / over) / (place - low)
    steps = math.ceil(math.log(over) / per_place) if over > 1.0 else 1
    return min(last, place + max(1, steps))


def _codes(found: Iterable[Observation]) -> frozenset[CheckCode]:
    return frozenset(seen.code for seen in found)


def _errors(found: Iterable[Observation]) -> frozenset[CheckCode]:
    return frozenset(seen.code for seen in found if seen.severity is Severity.ERROR)


def _stated(order: Construction, write: Write) -> FieldChange:
    """Write the change of a field in the form that the order uses."""
    form = form_of(order, write.field)
    now = value_at(order, write.field)
    return {
        "pointer": form.pointer,
        "from": round(now * form.per_metric, 6) if form.in_inches and now is not None else now,
        "to": write.to,
        "unit": write.unit,
        "step": write.step,
    }
