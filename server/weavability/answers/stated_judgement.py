"""One order on one loom judged with values stated in place of what is assumed of it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.columns import NOT_JUDGED, SEVERITY_RANKS, WEAVABLE, judge_columns
from weavability.answers.order_columns import rank_on_looms
from weavability.answers.stated_values import with_values
from weavability.checks.check_columns import Ranks
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Pair, pair_of, words_of
from weavability.checks.registry import comparisons, comparisons_of, explain, observe_pair
from weavability.checks.rules import About, Observation
from weavability.checks.trial_facts import Trial
from weavability.looms.fit import fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits, is_possible, resolve_loom
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

Statement = tuple[tuple[str, object], ...]
"""Pointers, and the value that is stated at each."""


class Seen(NamedTuple):
    """What is found with a statement: the verdict as an array has it, and the severities."""

    rank: int
    severities: Ranks


class StatedJudge:
    """Judges one order on one loom with values stated, many statements at a time."""

    def __init__(self, of_cloth: ClothFacts, loom: Loom, now: Seen) -> None:
        self._of_cloth, self._construction, self._loom = of_cloth, of_cloth.construction, loom
        self._required = np.where(_of_requirements(), now.severities, np.int8(0))

    def __call__(
        self, statements: Sequence[Statement], checks: Collection[CheckCode] | None = None
    ) -> list[Seen]:
        """Judge each, which is about either the cloth or the loom: those of a kind in one column.

        What contradicts itself is not judged. Requirements, of which each order has to be computed
        by itself, are judged only with values that bear on them.

        Args:
            statements: What is stated each time.
            checks: By which alone it is judged, of no requirement; ``None`` for all.
        """
        found = [Seen(NOT_JUDGED, np.zeros(0, np.int8))] * len(statements)
        cloths: dict[int, Construction] = {}
        looms: dict[int, LoomLimits] = {}
        as_now: set[int] = set()
        for at, values in enumerate(statements):
            cloth, loom = with_values(self._construction, self._loom, values)
            if loom is self._loom:
                if cloth.requirements is not None and (checks or not any(map(_bears, values))):
                    cloth = replace(cloth, requirements=None)
                    as_now.add(at)
                cloths[at] = cloth
            elif is_possible(loom):
                looms[at] = resolve_loom(loom)
        if cloths:
            judged = judge_columns(list(cloths.values()), [self._loom], checks=checks)
            for row, at in enumerate(cloths):
                seen = Seen(int(judged.verdicts[row, 0]), judged.severities[row, 0])
                is_as_now = at in as_now and checks is None
                found[at] = self._with_required(seen) if is_as_now else seen
        if looms:
            ranks = rank_on_looms(self._of_cloth, list(looms.values()), checks)
            for at, rank, severities in zip(looms, *ranks, strict=True):
                found[at] = Seen(int(rank), severities)
        return found

    def _with_required(self, seen: Seen) -> Seen:
        """Add what is found of the requirements with nothing stated."""
        if seen.rank == NOT_JUDGED:
            return seen
        rank = max(seen.rank, int(self._required.max()) - 1)
        return Seen(rank, np.maximum(seen.severities, self._required))

    def at_once(self, values: Statement, checks: Collection[CheckCode] | None = None) -> Seen:
        """Judge with values of both stated.

        Args:
            values: What is stated.
            checks: By which alone it is judged; ``None`` for all.
        """
        pair = self._pair(values)
        if pair is None:
            return Seen(NOT_JUDGED, np.zeros(len(comparisons()), np.int8))
        return seen_of(observe_pair(pair, None if checks is None else comparisons_of(checks)))

    def rests_on(self, values: Statement, code: CheckCode) -> frozenset[str]:
        """Return the pointers on which the findings of a check rest with values stated."""
        cloth, loom = with_values(self._construction, self._loom, values)
        try:
            fit = fit_cloth(cloth_facts(cloth), resolve_loom(loom))
        except InputError:
            return frozenset()
        pair = pair_of(fit)
        words = words_of(fit, pair)
        found = observe_pair(pair, comparisons_of([code]))
        return frozenset(
            pointer for seen in found for pointer in explain(seen, pair.facts, words).rests_on
        )

    def beyond(self, values: Statement) -> frozenset[CheckCode]:
        """Return the checks whose limit is passed, and is no error only by what is assumed."""
        pair = self._pair(values)
        if pair is None:
            return frozenset()
        required = pair.facts.order.requirements
        return frozenset(
            seen.code
            for seen in observe_pair(pair)
            if seen.is_assumed
            or (
                seen.comparison.about is About.EACH_REQUIREMENT
                and seen.comparison.test(required[seen.requirement].value, seen.limit)
            )
        )

    def _pair(self, values: Statement) -> Pair | None:
        cloth, loom = with_values(self._construction, self._loom, values)
        try:
            return Trial(cloth, resolve_loom(loom)).pair()
        except InputError:
            return None


def _of_requirements() -> NDArray[np.bool_]:
    """Return which checks are of what the customer requires."""
    about = (any(one.about is About.EACH_REQUIREMENT for one in made) for made in comparisons())
    return np.array(list(about))


_ON_NO_REQUIREMENT: Final = re.compile(
    r"/construction/(?:(?:allowances|order|reed|selvedge|draft)/.*|panels|panel_gap_cm"
    r"|w(?:arp|eft)/yarns/[^/]+/(?:tenacity_cn_per_tex|strength_cv_pct|breaking_elongation_pct))"
)
"""Values of an order that no figure of its finished cloth depends on."""


def _bears(stated: tuple[str, object]) -> bool:
    return _ON_NO_REQUIREMENT.fullmatch(stated[0]) is None


def seen_of(found: Iterable[Observation]) -> Seen:
    """Return what was found as columns have it."""
    heaviest: dict[CheckCode, int] = {}
    for one in found:
        heaviest[one.code] = max(heaviest.get(one.code, 0), SEVERITY_RANKS[one.severity])
    severities = [heaviest.get(made[0].code, 0) for made in comparisons()]
    return Seen(max(WEAVABLE, max(severities) - 1), np.array(severities, np.int8))
