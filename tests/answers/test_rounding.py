"""Rounding: six significant digits, wherever a figure is, and the same in both forms."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import orjson
import pytest
from answers.strategies import trade_looms, trade_orders
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.rounding import plain, tidy
from weavability.answers.validation import assess
from weavability.looms.loom import Loom
from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.construction import Construction
from weavability.textiles.sentences import say


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_figure_has_six_significant_digits(value: float) -> None:
    assert tidy(value) == float(f"{value:.6g}")


@given(st.integers(-(10**8), 10**8), st.integers(0, 12))
def test_a_figure_between_two_others_is_rounded_to_the_nearest(whole: int, places: int) -> None:
    middle = (10 * whole + 5) / 10**places
    for value in (middle, math.nextafter(middle, -math.inf), math.nextafter(middle, math.inf)):
        assert tidy(value) == float(f"{value:.6g}")


def test_a_zero_has_no_sign() -> None:
    assert math.copysign(1, tidy(-0.0)) == 1


@pytest.mark.slow
@share_of_examples(0.2)
@given(trade_orders, trade_looms)
def test_a_report_is_written_as_the_rounded_one(order: Construction, on: Loom) -> None:
    written = orjson.dumps(plain(assess(order, on, rounded=False)))
    assert written == orjson.dumps(assess(order, on))


@pytest.mark.parametrize("rounded", [tidy, plain])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    "put",
    [
        lambda value: Assumption.of("/x", value, None, say("part.x", "a reason"), Grade.ESTIMATE),
        lambda value: (1.0, value),
        lambda value: {"a": {"b": value}},
    ],
    ids=["dataclass", "tuple", "mapping"],
)
def test_what_is_no_number_is_no_answer(
    put: Callable[[float], Any], value: float, rounded: Callable[[Any], Any]
) -> None:
    with pytest.raises(ArithmeticError):
        rounded(put(value))
