"""The ledger of assumed values: every default has a line in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, TypeVar

from weavability.textiles.field_marks import Since

T = TypeVar("T")


class Grade(StrEnum):
    """How well a value that nobody stated is supported."""

    SOURCE = "source"
    COMMON_PRACTICE = "common_practice"
    FROM_MEMORY = "from_memory"
    ESTIMATE = "estimate"
    MILL = "mill"


@dataclass(frozen=True, slots=True)
class ValueBand:
    """The range in which the true value is expected, both ends included."""

    low: Annotated[float, "Least value that is expected, in the unit of the value"]
    high: Annotated[float, "Greatest value that is expected, in the unit of the value"]


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that was not given and was therefore assumed."""

    pointer: Annotated[
        str, "JSON Pointer of the field that would replace the assumption when given"
    ]
    value: Annotated[object, "The assumed value"]
    unit: Annotated[str | None, "Its unit, or null if it has none"]
    reason: Annotated[str, "Why this value, with its source or `common practice`"]
    grade: Annotated[
        Grade | None,
        "How well the value is supported: by a source, by common practice, from memory, as an "
        "estimate computed from what is stated, or by the mill itself",
        Since("0.2"),
    ] = None
    band: Annotated[
        ValueBand | None,
        "The range in which the true value is expected; null if it is not a number, or not known",
        Since("0.2"),
    ] = None

    def below(self, prefix: str) -> Assumption:
        """Return the same assumption with ``prefix`` before its pointer."""
        # Spelt out, as an answer has about fifty: `replace` takes three times as long.
        return Assumption(
            prefix + self.pointer, self.value, self.unit, self.reason, self.grade, self.band
        )


@dataclass(slots=True)
class Ledger:
    """Assumptions, collected while facts are computed; of two for one pointer the first is kept.

    Attributes:
        prefix: Written before every pointer that is noted.
        lines: The assumptions by their full pointer.
        keeps: Whether anything is written down; columns of orders list no assumptions.
    """

    prefix: str = ""
    lines: dict[str, Assumption] = field(default_factory=dict)
    keeps: bool = True

    def below(self, prefix: str) -> Ledger:
        """Return a view of the same ledger that writes ``prefix`` before every pointer."""
        return Ledger(self.prefix + prefix, self.lines, self.keeps) if self.keeps else self

    def note(
        self,
        pointer: str,
        value: T,
        *,
        unit: str | None,
        reason: str,
        grade: Grade | None = None,
        band: ValueBand | None = None,
    ) -> T:
        """Write down an assumed ``value`` for ``pointer`` and return it."""
        if self.keeps:
            full = self.prefix + pointer
            self.lines.setdefault(full, Assumption(full, value, unit, reason, grade, band))
        return value

    def take(
        self,
        pointer: str,
        given: T | None,
        default: T,
        *,
        unit: str | None,
        reason: str,
        grade: Grade | None = None,
        band: ValueBand | None = None,
    ) -> T:
        """Return ``given`` if it is stated; otherwise note and return ``default``."""
        if given is not None:
            return given
        return self.note(pointer, default, unit=unit, reason=reason, grade=grade, band=band)

    def extend(self, noted: Iterable[Assumption]) -> None:
        """Write down assumptions whose pointers are relative to the ledger's prefix."""
        for line in noted if self.keeps else ():
            self.lines.setdefault(self.prefix + line.pointer, line.below(self.prefix))

    def __iter__(self) -> Iterator[Assumption]:
        return iter(self.lines.values())
