"""The last step of every answer: figures to six significant digits, and none that is no number."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import is_dataclass
from functools import cache
from typing import Any, Final, TypeVar

T = TypeVar("T")

SIGNIFICANT_DIGITS: Final = 6


def tidy(answer: T) -> T:
    """Return an answer with every float rounded to six significant digits.

    Args:
        answer: A dataclass, mapping, tuple or figure; dataclasses are made anew.

    Raises:
        ArithmeticError: A figure is NaN or infinite, which the writer would turn into null.

    >>> tidy({"rate": 720.5513784461153, "picks": 24})
    {'rate': 720.551, 'picks': 24}
    """
    result: T = _tidied(answer)
    return result


def _tidied(value: Any) -> Any:
    if isinstance(value, float):
        return significant(value)
    if isinstance(value, str | int) or value is None:
        return value
    if isinstance(value, tuple):
        # Long tuples are all of one kind: threadings, lift plans, healds.
        plain = not value or isinstance(value[0], str | int)
        return value if plain else tuple(_tidied(item) for item in value)
    if isinstance(value, Mapping):
        return {key: _tidied(item) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        kind = type(value)
        return kind(**{name: _tidied(getattr(value, name)) for name in _names(kind)})
    return value


@cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(kind.__dataclass_fields__)  # type: ignore[attr-defined]


def significant(value: float) -> float:
    """Return a float rounded to six significant digits.

    Raises:
        ArithmeticError: It is NaN or infinite.
    """
    if not math.isfinite(value):
        raise ArithmeticError(f"a figure came out as {value}")
    if value == 0:
        return 0.0
    return round(value, SIGNIFICANT_DIGITS - 1 - math.floor(math.log10(abs(value))))
