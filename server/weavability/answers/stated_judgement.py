"""One order on one loom judged with values stated in place of what is assumed of it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from weavability.answers.columns import (
    NOT_JUDGED,
    SEVERITY_RANKS,
    WEAVABLE,
    judge_columns,
)
from weavability.answers.order_columns import rank_on_looms
from weavability.answers.stated_values import with_values
from weavability.checks.check_columns import Ranks
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Grounds, Pair, pair_of, words_of
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons, comparisons_of, explain, observe_pair
from weavability.checks.requirement import CODES, Beyond, beyond
from weavability.checks.rules import Observation
from weavability.checks.settling import decisive
from weavability.checks.trial_facts import Trial
from weavability.looms.finished_figures import figures_like, required_numbers
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits, is_possible, resolve_loom
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.cloth_symbols import (
    EDGE_ENDS_PER_DENT,
    ENDS_PER_DENT,
    SELVEDGE_ENDS,
    changed_fields,
    cloth_symbols,
)
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.required_values import OF_WHOLE_WIDTH, RequiredNumbers

Statement = tuple[tuple[str, object], ...]
"""Pointers, and the value that is stated at each."""

_NEEDED: Final = "needed_dents_per_10cm"

Passed = tuple[tuple[CheckCode, int, bool, Severity], ...]
"""The limits of what is required that all or a part of a band passes: check, place among what is
required, whether it is the greatest, and what is found."""


class Seen(NamedTuple):
    """What is found with a statement.

    Attributes:
        rank: The verdict as an array has it.
        severities: What every check finds.
        needed_dents_per_10cm: The reed that the cloth needs; NaN unless it is computed.
    """

    rank: int
    severities: Ranks
    needed_dents_per_10cm: float = float("nan")


class Sought(NamedTuple):
    """What a check may find.

    Attributes:
        rank: The least verdict that it gives, as an array has it.
        limit: Of a requirement, its place among what is required, and whether it is the greatest.
    """

    code: CheckCode
    rank: int
    limit: tuple[int, bool] | None = None


class StatedJudge:
    """Judges one order on one loom with values stated, many statements at a time.

    Args:
        fit: The order as it is assumed.
        loom: The loom as stated.
    """

    def __init__(self, fit: Fit, loom: Loom) -> None:
        self._fit, self._construction, self._loom = fit, fit.cloth.construction, loom
        self._without = replace(self._construction, requirements=None)
        self._is_required = self._construction.requirements is not None
        self._as_now = _passed(beyond(fit.order.requirements))
        self._along: dict[str, dict[float, Passed]] = {}
        self._pairs: dict[Statement, Pair | None] = {}

    @property
    def has_stock(self) -> bool:
        """Whether the loom states its reeds."""
        return bool(self._fit.limits.numbers.reeds.present)

    def __call__(
        self, statements: Sequence[Statement], checks: Collection[CheckCode] | None = None
    ) -> list[Seen]:
        """Judge each, which is about one value of either the cloth or the loom: a kind in a column.

        What contradicts itself is not judged.

        Args:
            statements: What is stated each time.
            checks: By which alone it is judged, of no requirement; ``None`` for all.
        """
        found = [Seen(NOT_JUDGED, np.zeros(0, np.int8))] * len(statements)
        cloths: dict[int, Construction] = {}
        looms: dict[int, LoomLimits] = {}
        for at, values in enumerate(statements):
            cloth, loom = with_values(self._without, self._loom, values)
            if loom is self._loom:
                cloths[at] = cloth
            elif is_possible(loom):
                looms[at] = resolve_loom(loom)
        if cloths:
            judged = judge_columns(
                list(cloths.values()),
                [self._loom],
                numbers=[_NEEDED],
                checks=checks,
                like=self._fit.cloth.symbols,
            )
            for row, at in enumerate(cloths):
                needed = float(judged.numbers[_NEEDED][row, 0])
                rank = int(judged.verdicts[row, 0])
                found[at] = Seen(rank, judged.severities[row, 0], needed)
        if looms:
            ranks = rank_on_looms(self._fit.cloth, list(looms.values()), checks)
            for at, rank, severities in zip(looms, *ranks, strict=True):
                found[at] = Seen(int(rank), severities)
        if checks is None and self._is_required:
            self._require([at for at in cloths if found[at].rank != NOT_JUDGED], statements, found)
        return found

    def missed(self, pointer: str, value: float) -> list[tuple[int, bool]]:
        """Return the limits of what is required that are passed with a value that was judged.

        Each is the place among what is required, and whether it is the greatest.
        """
        passed = self._along.get(pointer, {}).get(value, ())
        return [(at, is_most) for _, at, is_most, what in passed if what is Severity.ERROR]

    def _require(
        self, places: Iterable[int], statements: Sequence[Statement], found: list[Seen]
    ) -> None:
        """Add what is found of the requirements."""
        values: dict[str, list[float]] = {}
        for at in places:
            ((pointer, value),) = statements[at]
            if self._bears(pointer):
                values.setdefault(pointer, []).append(float(str(value)))
            else:
                found[at] = _with_required(found[at], self._as_now)
        for pointer, some in values.items():
            self._settle(pointer, some)
        for at in places:
            ((pointer, value),) = statements[at]
            if pointer in values:
                passed = self._along[pointer][float(str(value))]
                found[at] = _with_required(found[at], passed)

    def _bears(self, pointer: str) -> bool:
        """Return whether a figure that is required depends on a value."""
        if pointer in _ON_WHOLE_WIDTH:
            required = self._construction.requirements
            return any(getattr(required, name) is not None for name in OF_WHOLE_WIDTH)
        return _ON_NO_REQUIREMENT.fullmatch(pointer) is None

    def _settle(self, pointer: str, values: Iterable[float]) -> None:
        """Find what is required that is passed with values of a field.

        Each value moves a figure one way (``required_values``), and so what is found at two values
        alike is found between them.
        """
        known = self._along.setdefault(pointer, {})
        ordered = sorted({*known, *values})

        def at(place: int) -> Passed:
            value = ordered[place]
            if value not in known:
                known[value] = self._passed_with(((pointer, value),))
            return known[value]

        def settle(first: int, last: int) -> None:
            if at(first) == at(last):
                known.update(dict.fromkeys(ordered[first:last], at(first)))
            elif last - first > 1:
                middle = (first + last) // 2
                settle(first, middle)
                settle(middle, last)

        ends = {0, len(ordered) - 1}
        places = [each for each, value in enumerate(ordered) if value in known or each in ends]
        for first, last in pairwise([*places, places[-1]]):
            settle(first, last)

    def _passed_with(self, values: Statement) -> Passed:
        return _passed(beyond(self._required(values)))

    def _required(self, values: Statement) -> tuple[RequiredNumbers[float], ...]:
        """Return what is required of the cloth; what contradicts itself passes no limit."""
        cloth, _ = with_values(self._construction, self._loom, values)
        unkept, like = Ledger(keeps=False), self._fit.cloth.symbols
        try:
            other = changed_fields(cloth, like.construction)
            symbols = cloth_symbols(cloth, unkept, unkept, like, other)
            return required_numbers(figures_like(symbols, like))
        except InputError:
            return ()

    def at_once(self, values: Statement) -> Seen:
        """Judge with values of both stated."""
        pair = self._pair(values)
        if pair is None:
            return Seen(NOT_JUDGED, np.zeros(len(comparisons()), np.int8))
        passed = self._passed_with(values) if self._is_required else ()
        return _with_required(seen_of(observe_pair(pair)), passed)

    def finds(self, values: Statement, sought: Sought, *, as_assumed: bool = False) -> bool:
        """Return whether something is found with values of both stated.

        Args:
            values: What is stated.
            sought: What.
            as_assumed: Whether what is not stated counts as it is assumed, and not over its band.
        """
        if sought.limit is not None:
            required = self._required(values)
            return any(
                (each.place, each.is_most) == sought.limit
                and (
                    each.test(required[each.place].value, each.limit)
                    if as_assumed
                    else each.severity is Severity.ERROR
                )
                for each in beyond(required)
            )
        pair = self._pair(values)
        found = [] if pair is None else observe_pair(pair, comparisons_of([sought.code]))
        return any(
            SEVERITY_RANKS[Severity.ERROR if as_assumed and seen.is_assumed else seen.severity]
            > sought.rank
            for seen in found
        )

    def rests_on(
        self, values: Statement, code: CheckCode, lines: Sequence[Assumption]
    ) -> frozenset[str]:
        """Return the pointers on which the findings of a check rest with values stated.

        Args:
            values: What is stated.
            code: The check.
            lines: What is assumed with nothing stated.
        """
        if code in CODES:
            return self._requirement_rests_on(values, code)
        pair = self._pair(values)
        if pair is None:
            return frozenset()
        taken = {pointer for pointer, _ in values}
        grounds = Grounds(pair, tuple(line for line in lines if line.pointer not in taken))
        usual = in_force().usual
        found = observe_pair(pair, comparisons_of([code]))
        return frozenset(
            line.pointer
            for seen in found
            if seen.is_assumed
            for line in decisive(seen, grounds, usual)
        )

    def _requirement_rests_on(self, values: Statement, code: CheckCode) -> frozenset[str]:
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
        found = {seen.code for seen in observe_pair(pair) if seen.is_assumed}
        required = self._required(values) if self._is_required else ()
        missed = {
            each.code
            for each in beyond(required)
            if each.test(required[each.place].value, each.limit)
        }
        return frozenset(found | missed)

    def _pair(self, values: Statement) -> Pair | None:
        """Return the numbers of the order with values stated, but for what is required of it."""
        if values not in self._pairs:
            self._pairs[values] = self._pair_with(values)
        return self._pairs[values]

    def _pair_with(self, values: Statement) -> Pair | None:
        cloth, loom = with_values(self._without, self._loom, values)
        try:
            if loom is self._loom:
                return Trial(cloth, self._fit.limits, self._fit).pair()
            return Trial(cloth, resolve_loom(loom)).pair()
        except InputError:
            return None


_ON_NO_REQUIREMENT: Final = re.compile(
    r"/construction/(?:(?:allowances|order|draft)/.*|panels|panel_gap_cm"
    r"|(?:reed|selvedge)/.*"
    r"|w(?:arp|eft)/yarns/[^/]+/(?:tenacity_cn_per_tex|strength_cv_pct|breaking_elongation_pct))"
)
"""Values of an order that no figure of its finished cloth depends on."""

_ON_WHOLE_WIDTH: Final = frozenset({ENDS_PER_DENT, EDGE_ENDS_PER_DENT, SELVEDGE_ENDS})
"""Values on which only figures of the whole cloth depend, its selvedges included."""


def _passed(found: Iterable[Beyond]) -> Passed:
    return tuple((each.code, each.place, each.is_most, each.severity) for each in found)


def _with_required(seen: Seen, passed: Passed) -> Seen:
    """Add what is found of the requirements."""
    if not passed or seen.rank == NOT_JUDGED:
        return seen
    severities = seen.severities.copy()
    for code, _, _, severity in passed:
        place = _PLACES[code]
        severities[place] = max(int(severities[place]), SEVERITY_RANKS[severity])
    return seen._replace(rank=max(seen.rank, int(severities.max()) - 1), severities=severities)


_PLACES: Final = {made[0].code: place for place, made in enumerate(comparisons())}
"""Of the checks in an array of severities."""


def seen_of(found: Iterable[Observation]) -> Seen:
    """Return what was found as columns have it."""
    heaviest: dict[CheckCode, int] = {}
    for one in found:
        heaviest[one.code] = max(heaviest.get(one.code, 0), SEVERITY_RANKS[one.severity])
    severities = [heaviest.get(made[0].code, 0) for made in comparisons()]
    return Seen(max(WEAVABLE, max(severities) - 1), np.array(severities, np.int8))
