"""Guards of the loom functions: they refuse a number out of its domain in one sentence."""

from __future__ import annotations

from typing import Final

from weavability.textiles.errors import InputError

SMALLEST: Final = 1e-9
LARGEST: Final = 1e9


def positive(name: str, value: float) -> float:
    """Return ``value`` when it is above zero and of a size that arithmetic survives.

    Args:
        name: The field's name; it becomes the pointer.
        value: The number to judge; NaN and infinities are refused.

    Raises:
        InputError: The value is not within 1e-9 to 1e9.
    """
    if SMALLEST <= value <= LARGEST:
        return value
    raise InputError.of(
        f"/{name}",
        f"{name} must be a number above 0 (and at most 1e9).",
        given=value,
        allowed="above 0",
    )


def not_negative(name: str, value: float) -> float:
    """Return ``value`` when it is zero or more, and finite.

    Raises:
        InputError: The value is negative, NaN or above 1e9.
    """
    return between(name, value, least=0.0, most=LARGEST)


def between(name: str, value: float, *, least: float, most: float) -> float:
    """Return ``value`` when it lies from ``least`` to ``most``, both included.

    Raises:
        InputError: The value lies outside, or is NaN.
    """
    if least <= value <= most:
        return value
    raise InputError.of(
        f"/{name}",
        f"{name} must be from {least:g} to {most:g}.",
        given=value,
        allowed=[least, most],
    )


def whole(name: str, value: int, *, least: int, most: int) -> int:
    """Return ``value`` when it is a whole number from ``least`` to ``most``.

    Raises:
        InputError: The value lies outside or has a fraction.
    """
    if int(between(name, value, least=least, most=most)) == value:
        return int(value)
    raise InputError.of(
        f"/{name}", f"{name} must be a whole number.", given=value, allowed=[least, most]
    )
