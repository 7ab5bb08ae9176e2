"""Arithmetic and comparisons that read alike for one number and for a column of numbers.

Rules and formulas are written once, with operators and the helpers below, and serve both a float
and a NumPy column. Every helper is defined for every input, because both sides of a choice are
always computed.

The three comparisons :func:`passed`, :func:`reached` and :func:`short` decide every verdict. They
alone allow for rounding.
"""

from __future__ import annotations

import math
from typing import Final, TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
"""A column of numbers."""

Truth: TypeAlias = bool | NDArray[np.bool_]
"""Yes or no, or a column of them; combine with ``&``, ``|`` and :func:`no`."""

N = TypeVar("N", float, Floats)
"""A float or a column; columns broadcast as NumPy does."""

SLACK: Final = 1e-9
"""Relative allowance of every comparison, so that rounding does not decide a verdict."""

_ABOVE: Final = 1 + SLACK
_BELOW: Final = 1 - SLACK


def passed(actual: N, limit: N) -> Truth:
    """Whether a value is above a greatest one by more than rounding.

    >>> passed(100.0, 100.0), passed(100.0 + 1e-8, 100.0), passed(100.0 + 1e-6, 100.0)
    (False, False, True)
    """
    return actual > limit * _ABOVE


def reached(actual: N, limit: N) -> Truth:
    """Whether a value is at a limit or above it, rounding forgiven.

    >>> reached(100.0, 100.0), reached(100.0 - 1e-8, 100.0), reached(100.0 - 1e-6, 100.0)
    (True, True, False)
    """
    return actual >= limit * _BELOW


def short(actual: N, limit: N) -> Truth:
    """Whether a value is below a least one by more than rounding.

    >>> short(100.0, 100.0), short(100.0 - 1e-8, 100.0), short(100.0 - 1e-6, 100.0)
    (False, False, True)
    """
    return actual < limit * _BELOW


def no(truth: Truth) -> Truth:
    """Negate; ``~`` would turn the bool ``True`` into the number -2, which is true."""
    return ~truth if isinstance(truth, np.ndarray) else not truth


def either(truth: Truth, this: N, other: N) -> N:
    """Choose ``this`` where it is true, else ``other``."""
    if isinstance(truth, np.ndarray):
        return cast("N", np.where(truth, this, other))
    return this if truth else other


def greatest(one: N, other: N) -> N:
    """Return the greater of two, element by element."""
    if _is_column(one) or _is_column(other):
        return cast("N", np.maximum(one, other))
    return one if one >= other else other


def whole(number: N) -> N:
    """Round to the nearest whole number, halves to the even one; infinity stays."""
    if isinstance(number, np.ndarray):
        return np.rint(number)
    return float(round(number)) if math.isfinite(number) else number


def quotient(dividend: N, divisor: N) -> N:
    """Divide; infinite where the divisor is 0."""
    if _is_column(dividend) or _is_column(divisor):
        with np.errstate(all="ignore"):
            return cast(
                "N", np.where(np.equal(divisor, 0.0), math.inf, np.divide(dividend, divisor))
            )
    return dividend / divisor if divisor else abs(dividend) + math.inf


def _is_column(number: object) -> bool:
    return isinstance(number, np.ndarray)
