"""Guards of formulas: they refuse a number out of its domain in one sentence.

A column is never refused, because a row of it cannot be: who computes with columns leaves out what
cannot be judged (:attr:`weavability.looms.fit_numbers.FitNumbers.is_judged`).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from weavability.textiles.bounds import Bounds
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import N, Truth
from weavability.textiles.sentences import say

SMALLEST: Final = 1e-9
LARGEST: Final = 1e9


def positive(name: str, value: N) -> N:
    """Return ``value`` when it is above zero and of a size that arithmetic survives.

    Args:
        name: The field's name; it becomes the pointer.
        value: The number to judge; NaN and infinities are refused.

    Raises:
        InputError: The value is not within 1e-9 to 1e9.
    """
    if isinstance(value, np.ndarray):
        return value
    if SMALLEST <= value <= LARGEST:
        return value
    raise InputError.of(
        f"/{name}",
        say(
            "fault.value.not_above_zero",
            "{field} must be a number above 0 (and at most 1e9).",
            field=name,
        ),
        given=value,
        allowed="above 0",
    )


def not_negative(name: str, value: N) -> N:
    """Return ``value`` when it is zero or more, and finite.

    Raises:
        InputError: The value is negative, NaN or above 1e9.
    """
    return between(name, value, least=0.0, most=LARGEST)


def between(name: str, value: N, *, least: float, most: float) -> N:
    """Return ``value`` when it lies from ``least`` to ``most``, both included.

    Raises:
        InputError: The value lies outside, or is NaN.
    """
    if isinstance(value, np.ndarray):
        return value
    if least <= value <= most:
        return value
    raise InputError.of(
        f"/{name}",
        say(
            "fault.value.not_between",
            "{field} must be from {least:g} to {most:g}.",
            field=name,
            least=least,
            most=most,
        ),
        given=value,
        allowed=[least, most],
    )


def within(name: str, value: N, bounds: Bounds) -> N:
    """Return ``value`` when it lies within its bounds, as the request schemas read them.

    Raises:
        InputError: The value lies outside, or is NaN.
    """
    if not bounds.or_zero:
        return between(name, value, least=bounds.least, most=bounds.most)
    if isinstance(value, np.ndarray):
        return value
    if value in bounds:
        return value
    raise InputError.of(
        f"/{name}",
        say(
            "fault.value.neither_zero_nor_between",
            "{field} must be 0, or from {least:g} to {most:g}.",
            field=name,
            least=bounds.least,
            most=bounds.most,
        ),
        given=value,
        allowed=[0, bounds.least, bounds.most],
    )


def counted(name: str, value: N, *, least: float, most: float) -> N:
    """Return ``value`` when it is a whole number from ``least`` to ``most``.

    Raises:
        InputError: The value lies outside or has a fraction.
    """
    if isinstance(value, np.ndarray):
        return value
    if int(between(name, value, least=least, most=most)) == value:
        return value
    raise InputError.of(
        f"/{name}",
        say("fault.value.not_whole", "{field} must be a whole number.", field=name),
        given=value,
        allowed=[least, most],
    )


def whole(name: str, value: int, *, least: int, most: int) -> int:
    """Return ``value`` as ``int`` under the same condition as :func:`counted`.

    Raises:
        InputError: The value lies outside or has a fraction.
    """
    return int(counted(name, value, least=least, most=most))


def sound(number: N) -> Truth:
    """Return whether a number is of a size that arithmetic survives, as :func:`positive` asks."""
    return (number >= SMALLEST) & (number <= LARGEST)


def is_so(truth: Truth) -> bool:
    """Return whether it is true of a number; a column is never refused."""
    return not isinstance(truth, np.ndarray) and bool(truth)
