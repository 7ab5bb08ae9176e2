"""The last step of every answer: figures to six significant digits, and none that is no number."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import is_dataclass
from functools import cache
from typing import Any, Final, TypeVar

T = TypeVar("T")

SIGNIFICANT_DIGITS: Final = 6
_PLAIN: Final = (str, int)
_AS_THEY_ARE: Final = frozenset({str, int, bool, type(None)})


def tidy(answer: T) -> T:
    """Return an answer with every float rounded to six significant digits.

    Args:
        answer: A dataclass, mapping, tuple or figure; dataclasses that change are made anew.

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
    if value is None or isinstance(value, _PLAIN):
        return value
    if isinstance(value, tuple):
        # Long tuples are all of one kind: threadings, lift plans, healds.
        plain = not value or isinstance(value[0], _PLAIN)
        return value if plain else tuple(_tidied(item) for item in value)
    if isinstance(value, Mapping):
        return {key: _tidied(item) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return _tidied_record(value)
    return value


def _tidied_record(record: Any) -> Any:
    """Return a dataclass with its figures rounded; the same one if that changes nothing."""
    kind: type = type(record)
    is_new, members = False, {}
    for name in _names(kind):
        member = members[name] = getattr(record, name)
        if type(member) not in _AS_THEY_ARE:
            members[name] = tidied = _tidied(member)
            # An equal zero may have had a sign.
            is_new = is_new or (tidied is not member and (tidied != member or not member))
    return kind(**members) if is_new else record


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
