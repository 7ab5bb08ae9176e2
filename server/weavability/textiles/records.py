"""Records of which an order makes many; the type checker alone keeps their fields from change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar, dataclass_transform

T = TypeVar("T")


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def record(
    *, kw_only: bool = False, eq: bool = True, slots: bool = True
) -> Callable[[type[T]], type[T]]:
    """Make a class a dataclass that is frozen for the type checker, and hashable as a frozen one.

    A dataclass that is frozen when it runs takes eight times as long to make: it sets each field by
    a call. Those of which an order has dozens, or that have dozens of fields, are records; a report
    with all that leads to it has some 4000 fields.

    Args:
        kw_only: Whether fields are given by name alone.
        eq: Whether objects with equal fields are equal; otherwise each is equal to itself alone.
        slots: Whether objects have these fields only, and keep nothing else.
    """

    def made(kind: type[T]) -> type[T]:
        return dataclass(kw_only=kw_only, eq=eq, slots=slots, unsafe_hash=eq)(kind)

    return made
