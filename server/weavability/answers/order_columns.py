"""One cloth on many looms in columns, and what each pair amounts to in numbers of its own."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property
from typing import Any, NamedTuple, cast

import numpy as np

from weavability.answers.columns import NOT_JUDGED, SEVERITY_RANKS
from weavability.answers.moved_columns import MovedBlock, MovedOnLooms, Row
from weavability.checks.check_columns import (
    Ranks,
    column_severities,
    observe_rows,
    settle_columns,
)
from weavability.checks.codes import CheckCode
from weavability.checks.facts import (
    Facts,
    WeaveCounts,
    WeaveWords,
    Words,
    facts_from,
    pair_of,
    warp_keys,
    weave_counts,
    weave_words,
    weft_elastane_dtex,
    weft_keys,
    weft_materials,
    words_of,
)
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons
from weavability.checks.rules import Observation
from weavability.looms.denting import in_stated_reed
from weavability.looms.drawing_in import DrawnNumbers, draw_in
from weavability.looms.drawing_in_columns import draw_in_columns
from weavability.looms.fit import fit_cloth
from weavability.looms.fit_numbers import fit_numbers
from weavability.looms.loom_columns import LoomColumn, park_columns
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.order_numbers import OrderNumbers, order_numbers
from weavability.looms.thresholds import in_force
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.numbers import Floats, rows_of
from weavability.textiles.required_values import Required, required_of


class JudgedPair(NamedTuple):
    """What is found for a cloth on a loom, with what its sentences need."""

    facts: Facts[float]
    found: Sequence[Observation]
    words: Words


def judge_on_looms(cloth: ClothFacts, looms: Sequence[LoomLimits]) -> list[JudgedPair | None]:
    """Judge a cloth on looms in one column.

    What depends on the cloth alone stays a float, which goes with any column.

    Args:
        cloth: The cloth.
        looms: The looms, one or more.

    Returns:
        What :func:`weavability.checks.registry.observe` finds for each pair, to the last digit;
        ``None`` for a pair that cannot be judged.

    Raises:
        InputError: No pair can be judged.
    """
    with np.errstate(all="ignore"):
        on = _on_looms(cloth, looms)
        found = observe_rows(on.facts, in_force().usual, len(looms), on.moved)
    judged: list[JudgedPair | None] = [None] * len(looms)
    rows = zip(
        on.column.places.tolist(),
        rows_of(on.facts.fit, len(looms)),
        rows_of(on.drawn, len(looms)),
        found,
        strict=True,
    )
    for place, fit_row, drawn_row, seen in rows:
        if fit_row.is_judged:
            limits = looms[place]
            pair = facts_from(
                on.weave,
                on.order,
                on.cloth,
                limits.shedding.numbers,
                drawn_row,
                limits.numbers,
                fit_row,
            )
            words = cast("Words", _WordsOnUse(cloth, limits))
            judged[place] = JudgedPair(facts=pair, found=seen, words=words)
    return judged


def rank_on_looms(
    cloth: ClothFacts, looms: Sequence[LoomLimits], checks: Collection[CheckCode] | None = None
) -> tuple[Ranks, Ranks]:
    """Judge a cloth on looms in one column, without messages.

    Args:
        cloth: The cloth.
        looms: The looms, one or more.
        checks: By which alone verdicts are given; ``None`` for all.

    Returns:
        The verdicts, and the severities by loom and check, as
        :class:`weavability.answers.columns.JudgedColumns` has them.
    """
    usual = in_force().usual
    ranks = np.zeros((len(comparisons()), len(looms), 1), np.int8)
    with np.errstate(all="ignore"):
        on = _on_looms(cloth, looms)
        some = column_severities(on.facts, usual, SEVERITY_RANKS, ranks, on.moved, checks)
        settle_columns([(each, on.moved) for each in some], usual, SEVERITY_RANKS[Severity.ERROR])
        judged = np.broadcast_to(on.facts.fit.is_judged, ranks.shape[1:])
    ranks *= judged
    verdicts = np.where(judged, np.maximum(ranks.max(axis=0) - np.int8(1), np.int8(0)), NOT_JUDGED)
    here = np.argsort(on.column.places)
    return verdicts[here, 0], ranks[:, here, 0].T


class _OnLooms(NamedTuple):
    """The numbers of a cloth on looms in a column: those of the cloth alone are floats."""

    order: OrderNumbers[float]
    cloth: ClothNumbers[float]
    weave: WeaveCounts[float]
    column: LoomColumn
    drawn: DrawnNumbers[Floats]
    facts: Facts[Floats]
    moved: MovedOnLooms


def _on_looms(cloth: ClothFacts, looms: Sequence[LoomLimits]) -> _OnLooms:
    park = park_columns(tuple(looms), at_least=len(looms))
    order = order_numbers(cloth.symbols)
    numbers = in_stated_reed(order, cloth.numbers)
    weave = weave_counts(cloth.structure, cloth.symbols.layered_weave)
    shared = cast("tuple[OrderNumbers[Floats], ClothNumbers[Floats], Any]", (order, numbers, weave))
    (column,) = park.columns
    on_motions = draw_in_columns([cloth.symbols], shared[1], park.shedding_motions)
    drawn, loom = column.drawing_in(on_motions), column.numbers
    rises = column.pick_rises(reed_width_cm=shared[1].reed_width_cm)
    fit = fit_numbers(shared[0], shared[1], loom, rises, in_force().usual)
    row = Row(0, cloth.symbols, cloth.symbols.stated(), order, weave)
    return _OnLooms(
        order=order,
        cloth=numbers,
        weave=weave,
        column=column,
        drawn=drawn,
        facts=facts_from(shared[2], shared[0], shared[1], column.shedding, drawn, loom, fit),
        moved=MovedBlock([row], shared[1], park).on(0),
    )


class _WordsOnUse:
    """The words of a pair, gathered when a sentence quotes them: few do."""

    def __init__(self, cloth: ClothFacts, limits: LoomLimits) -> None:
        self._cloth, self._limits = cloth, limits

    @cached_property
    def weave(self) -> WeaveWords:
        """Those about the weave, for which the other figures of the pair are not needed."""
        cloth = self._cloth
        on = draw_in(cloth.symbols, cloth.numbers, self._limits.shedding)
        return weave_words(cloth.symbols, on)

    @property
    def weft_keys(self) -> tuple[str, ...]:
        """Likewise known from the cloth alone."""
        return weft_keys(self._cloth)

    @property
    def weft_materials(self) -> tuple[str, ...]:
        """Likewise."""
        return weft_materials(self._cloth)

    @property
    def weft_elastane_dtex(self) -> tuple[float, ...]:
        """Likewise."""
        return weft_elastane_dtex(self._cloth)

    @property
    def warp_keys(self) -> tuple[str, ...]:
        """Likewise."""
        return warp_keys(self._cloth)

    @property
    def requirements(self) -> tuple[Required, ...]:
        """Likewise."""
        return required_of(self._cloth.construction.requirements)

    @cached_property
    def _all(self) -> Words:
        fit = fit_cloth(self._cloth, self._limits)
        return words_of(fit, pair_of(fit))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._all, name)
