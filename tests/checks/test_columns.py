"""Every rule gives a column of pairs what it gives each pair."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import construction, jacquard, loom
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from weavability.answers.validation import judge
from weavability.checks.facts import Facts, facts_of
from weavability.checks.registry import comparisons
from weavability.checks.rules import About, Comparison
from weavability.looms.loom import Loom
from weavability.looms.thresholds import shipped
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import columns_of

ALL = [one for made in comparisons() for one in made]


def compared(one: Comparison, facts: Any) -> Iterator[tuple[Any, tuple[Any, ...], Any]]:
    usual = shipped().usual
    if one.about is About.EACH_WEFT:
        for weft in facts.order.wefts:
            yield one.rule(facts, usual, weft)
    else:
        yield one.rule(facts.weave if one.about is About.WEAVE else facts, usual)


def found(one: Comparison, facts: Any) -> list[Any]:
    """What a comparison finds for each slot and severity: a truth, or a column of them."""
    return [
        one.test(actual, limit) & applies
        for actual, limits, applies in compared(one, facts)
        for _, limit in zip(one.severities, limits, strict=True)
    ]


def pairs() -> list[Facts[float]]:
    """A few hundred cloths on looms, good sense or not."""
    drawn: list[tuple[Construction, Loom]] = [
        (construction(), loom()),
        (construction(), jacquard()),
    ]

    @seed(10)
    @settings(
        max_examples=250,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(st.tuples(trade_orders, trade_looms), st.tuples(constructions, looms()))
    def draw(usual: tuple[Construction, Loom], any_pair: tuple[Construction, Loom]) -> None:
        drawn.extend((usual, any_pair))

    draw()
    gathered = []
    for cloth, on in drawn:
        try:
            gathered.append(facts_of(judge(cloth, on)))
        except InputError:
            continue
    return gathered


@pytest.fixture(scope="module")
def facts() -> list[Facts[float]]:
    return pairs()


@pytest.fixture(scope="module")
def in_columns(facts: list[Facts[float]]) -> Any:
    return columns_of(facts, shape=(-1,))


@pytest.mark.parametrize("one", ALL, ids=lambda one: f"{one.code}-{one.rule.__name__}")
def test_a_rule_judges_a_column_like_its_rows(
    one: Comparison, facts: list[Facts[float]], in_columns: Any
) -> None:
    by_row = [found(one, record) for record in facts]
    for place, column in enumerate(found(one, in_columns)):
        rows = np.broadcast_to(column, len(facts)).tolist()
        assert rows == [bool(row[place]) if place < len(row) else False for row in by_row]


def test_the_rows_see_both_answers_of_most_comparisons(in_columns: Any) -> None:
    # A column in which nothing is ever found would prove little.
    mixed = {one.code for one in ALL for column in found(one, in_columns) if 0 < column.mean() < 1}
    assert len(mixed) >= 40
