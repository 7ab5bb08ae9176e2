"""Figures to six significant digits, as answers and their sentences give them."""

from __future__ import annotations

from math import floor, isfinite, log10
from typing import Final

SIGNIFICANT_DIGITS: Final = 6


def significant(value: float) -> float:
    """Return a float rounded to six significant digits.

    Raises:
        ArithmeticError: It is NaN or infinite.
    """
    if not isfinite(value):
        raise ArithmeticError(f"a figure came out as {value}")
    if value == 0:
        return 0.0
    return round(value, SIGNIFICANT_DIGITS - 1 - floor(log10(abs(value))))
