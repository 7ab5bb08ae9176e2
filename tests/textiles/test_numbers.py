"""Arithmetic that reads alike for one number and for a column."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability.textiles.numbers import (
    Floats,
    either,
    greatest,
    no,
    passed,
    quotient,
    reached,
    short,
    whole,
)

numbers = st.floats(-1e12, 1e12) | st.sampled_from((0.0, 0.5, 1.5, 2.5, math.inf))
columns = st.lists(st.tuples(numbers, numbers), min_size=2, max_size=20)
OF_TWO: list[Callable[..., object]] = [passed, reached, short, greatest, quotient]
OF_ONE: list[Callable[..., object]] = [whole]


def column(values: list[float]) -> Floats:
    return np.array(values, dtype=np.float64)


@given(columns)
def test_a_column_is_computed_like_its_numbers(pairs: list[tuple[float, float]]) -> None:
    one, other = (column(list(side)) for side in zip(*pairs, strict=True))
    for function in OF_TWO:
        each = [function(*pair) for pair in pairs]
        np.testing.assert_array_equal(function(one, other), each)
    for function in OF_ONE:
        np.testing.assert_array_equal(function(one), [function(value) for value in one.tolist()])


@given(columns)
def test_a_choice_of_columns_is_made_row_by_row(pairs: list[tuple[float, float]]) -> None:
    one, other = (column(list(side)) for side in zip(*pairs, strict=True))
    chosen = either(passed(one, other), one, other)
    assert isinstance(chosen, np.ndarray)
    assert chosen.tolist() == [either(passed(*pair), *pair) for pair in pairs]
    assert np.array_equal(no(passed(one, other)), [not passed(*pair) for pair in pairs])


@pytest.mark.parametrize("limit", [1e-6, 1.0, 92.0, 1e9])
def test_rounding_decides_no_comparison(limit: float) -> None:
    near = (limit * (1 - 5e-10), limit, limit * (1 + 5e-10))
    assert [passed(actual, limit) for actual in near] == [False] * 3
    assert [reached(actual, limit) for actual in near] == [True] * 3
    assert [short(actual, limit) for actual in near] == [False] * 3
    below, above = limit * (1 - 2e-9), limit * (1 + 2e-9)
    assert (passed(above, limit), reached(below, limit), short(below, limit)) == (True, False, True)


def test_nothing_passes_or_is_short_of_an_absent_limit() -> None:
    assert not passed(1e300, math.inf)
    assert not short(0.0, 0.0)
    assert quotient(3.0, 0.0) == math.inf
