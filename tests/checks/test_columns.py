"""Every rule gives a column of pairs what it gives each pair."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import construction, jacquard, loom
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from profiles import examples

from weavability.answers.validation import judge
from weavability.checks.facts import Facts, facts_of
from weavability.checks.registry import comparisons
from weavability.checks.rules import About, Comparison, read_by
from weavability.looms.fit_numbers import OF_SPEED
from weavability.looms.loom import Loom
from weavability.looms.order_numbers import REQUESTED_SPEED
from weavability.looms.thresholds import NAMES, Usual, shipped
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import changed, columns_of

USUAL = shipped().usual
ALL = [one for made in comparisons() for one in made]


def compared(
    one: Comparison, facts: Any, usual: Usual[float]
) -> Iterator[tuple[Any, tuple[Any, ...], Any]]:
    if one.about is About.EACH_WEFT:
        for weft in facts.order.wefts:
            yield one.rule(facts, usual, weft)
    elif one.about is About.EACH_WARP:
        for warp in facts.order.warps:
            yield one.rule(facts, usual, warp)
    elif one.about is About.EACH_GROUP:
        for group in facts.fit.groups:
            yield one.rule(facts, usual, group)
    elif one.about is About.EACH_REQUIREMENT:
        for required in facts.order.requirements:
            yield one.rule(facts, usual, required)
    else:
        yield one.rule(facts.weave if one.about is About.WEAVE else facts, usual)


def without(record: Any, names: frozenset[str]) -> SimpleNamespace:
    """The numbers of a record but for some: reading one of these raises."""
    kept = (each.name for each in fields(record) if each.name not in names)
    return SimpleNamespace(**{name: getattr(record, name) for name in kept})


def test_a_rule_reads_only_what_is_found_in_its_text() -> None:
    facts = facts_of(judge(construction(), loom()))
    of_speed = OF_SPEED | REQUESTED_SPEED
    others = [one for one in ALL if of_speed.isdisjoint(read_by(one.rule))]
    still: Any = changed(
        facts, order=without(facts.order, of_speed), fit=without(facts.fit, of_speed)
    )
    assert 0 < len(others) < len(ALL)
    assert [found(one, still) for one in others] == [found(one, facts) for one in others]


def found(one: Comparison, facts: Any, usual: Usual[float] = USUAL) -> list[Any]:
    """What a comparison finds for each slot and severity: a truth, or a column of them."""
    return [
        one.test(actual, limit) & applies
        for actual, limits, applies in compared(one, facts, usual)
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
        max_examples=max(25, examples(0.8)),
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


@pytest.mark.slow
@pytest.mark.parametrize("one", ALL, ids=lambda one: f"{one.code}-{one.rule.__name__}")
def test_a_rule_judges_a_column_like_its_rows(
    one: Comparison, facts: list[Facts[float]], in_columns: Any
) -> None:
    by_row = [found(one, record) for record in facts]
    for place, column in enumerate(found(one, in_columns)):
        rows = np.broadcast_to(column, len(facts)).tolist()
        assert rows == [bool(row[place]) if place < len(row) else False for row in by_row]


SLACKS = (-1e-6, -2e-9, -5e-10, 0.0, 5e-10, 2e-9, 1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("one", "name"),
    [(one, name) for one in ALL for name in one.rule.__code__.co_names if name in NAMES],
    ids=lambda given: given if isinstance(given, str) else f"{given.code}-{given.rule.__name__}",
)
def test_a_rule_judges_a_column_like_its_rows_at_a_threshold(
    one: Comparison, name: str, facts: list[Facts[float]], in_columns: Any
) -> None:
    """A threshold is put at the figure of a row, and a little beside it."""
    for row, record in enumerate(facts[:: len(facts) // 12]):
        for actual, limits, _ in compared(one, record, USUAL):
            for limit, slack in product(limits, SLACKS):
                at = getattr(USUAL, name) * actual / limit * (1 + slack) if limit else 0.0
                if not 0 < at < math.inf:
                    continue
                moved = replace(USUAL, **{name: at})
                expected = [bool(here) for here in found(one, record, moved)]
                place = row * (len(facts) // 12)
                columns = found(one, in_columns, moved)
                got = [bool(np.broadcast_to(column, len(facts))[place]) for column in columns]
                assert got[: len(expected)] == expected


@pytest.mark.slow
def test_the_rows_see_both_answers_of_most_comparisons(in_columns: Any) -> None:
    # A column in which nothing is ever found would prove little.
    mixed = {one.code for one in ALL for column in found(one, in_columns) if 0 < column.mean() < 1}
    assert len(mixed) >= 40
