"""Figures to six significant digits, as answers give them, and as few as a sentence needs."""

from __future__ import annotations

from bisect import bisect
from math import floor, isfinite, log10
from typing import Final

SIGNIFICANT_DIGITS: Final = 6

_MOST_DECIMALS: Final = 3

_FINEST: Final = -6
_DECADES: Final = [10.0**decade for decade in range(_FINEST, SIGNIFICANT_DIGITS + 1)]
_SCALES: Final = [
    0.0,
    *(10.0 ** (SIGNIFICANT_DIGITS - 1 - decade) for decade in range(_FINEST, SIGNIFICANT_DIGITS)),
    0.0,
]
"""By what a figure of a decade is multiplied to have six digits before the point; 0 beyond them."""

_TO_WHOLE: Final = 1.5 * 2**52
"""Added and taken away again, it leaves the nearest whole number: doubles there have no halves."""

_SURE: Final = 0.4999999
"""How far a figure may be from a whole number for this to be sure to be the nearest."""


def significant(value: float) -> float:
    """Return a float rounded to six significant digits.

    Raises:
        ArithmeticError: It is NaN or infinite.
    """
    # An answer has 400 figures, and `round` writes each out and reads it again. Here a power of ten
    # that is exact divides a whole number that is, which gives the same double.
    if type(value) is float:
        scale = _SCALES[bisect(_DECADES, abs(value))]
        scaled = value * scale
        whole = scaled + _TO_WHOLE - _TO_WHOLE
        if scale and -_SURE < scaled - whole < _SURE:
            return whole / scale
    if not isfinite(value):
        raise ArithmeticError(f"a figure came out as {value}")
    if value == 0:
        return 0.0
    return round(value, SIGNIFICANT_DIGITS - 1 - floor(log10(abs(value))))


def shown_beyond(value: float, limit: float) -> float:
    """Return a figure in as few decimals as show that it is beyond a limit.

    >>> shown_beyond(156.7, 150.0), shown_beyond(125.04, 125.0)
    (157.0, 125.04)
    """
    rounded = (round(value, each) for each in range(_MOST_DECIMALS + 1))
    return next((each for each in rounded if each != limit), value)
