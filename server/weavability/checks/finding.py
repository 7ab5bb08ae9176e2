"""What a check says: an observation, the finding made of it, and the change that would clear it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final, TypedDict

EQUAL_WITHIN: Final = 1e-9
"""Relative slack of every comparison, so that rounding does not decide a verdict."""


class Severity(StrEnum):
    """How much a finding weighs."""

    ERROR = "error"  # cannot or must not run
    WARNING = "warning"  # runs, but expect this
    NOTE = "note"  # worth knowing


class Verdict(StrEnum):
    """The answer in a word."""

    WEAVABLE = "weavable"
    WEAVABLE_WITH_WARNINGS = "weavable_with_warnings"
    NOT_WEAVABLE = "not_weavable"


Figure = float | int | str | None
"""What a finding compares."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What a check function yields.

    Attributes:
        severity: How much it weighs.
        message: What, how much, against what limit, and what helps.
        pointer: JSON Pointer into the request, of the field that drives it, in metric form.
        actual: What the cloth asks for.
        limit: What the loom or the trade allows.
        unit: Of both.
        at_least: The limit is a least value; otherwise it is a greatest.
    """

    severity: Severity
    message: str
    pointer: str
    actual: Figure
    limit: Figure
    unit: str | None
    at_least: bool = False

    @property
    def margin_pct(self) -> float | None:
        """Room left in per cent of the limit, negative where it is passed."""
        if isinstance(self.actual, str) or isinstance(self.limit, str):
            return None
        if self.actual is None or not self.limit:
            return None
        room = (self.limit - self.actual) / self.limit * 100
        return -room if self.at_least else room


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A change of one field that may clear a finding; it is tried before it becomes a remedy.

    Attributes:
        pointer: JSON Pointer into the request, in metric form.
        to: The value to put there, in the metric unit.
        unit: Unit of the value.
        message: What the change means on the shop floor; ``{to}`` and ``{unit}`` are filled in, in
            the unit that the order uses.
    """

    pointer: str
    to: float | int | str
    unit: str | None
    message: str


Remedy = TypedDict(
    "Remedy",
    {
        "pointer": Annotated[str, "JSON Pointer into the request of the field to change"],
        "from": Annotated[object, "The value that it has"],
        "to": Annotated[float | int | str, "The value to put there"],
        "unit": Annotated[str | None, "Unit of both values"],
        "message": Annotated[str, "What the change means on the shop floor"],
        "clears": Annotated[list[str], "Codes of the findings that are gone after it"],
    },
)
Remedy.__doc__ = "A change that was tried: applying it and validating again clears the named codes."


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding of a report; ``code`` is ``subject.topic``, stable for ever."""

    code: Annotated[str, "`subject.topic`, stable for ever; `/v1/checks/{code}` explains it"]
    severity: Annotated[Severity, "How much the finding weighs"]
    message: Annotated[str, "What, how much, against what limit, and what helps"]
    pointer: Annotated[str, "JSON Pointer into the request of the field that drives it"]
    actual: Annotated[Figure, "What the cloth needs"]
    limit: Annotated[Figure, "What the loom or the trade allows"]
    unit: Annotated[str | None, "Unit of actual and limit"]
    margin_pct: Annotated[float | None, "Room left, on the limit; negative if it is passed"]
    remedies: Annotated[tuple[Remedy, ...], "Changes that were tried and clear the finding"] = ()
    source: Annotated[str, "Source of the limit"]


def above(actual: float, limit: float) -> bool:
    """Whether a value passes a greatest one by more than rounding."""
    return actual > limit * (1 + EQUAL_WITHIN)


def below(actual: float, limit: float) -> bool:
    """Whether a value falls short of a least one by more than rounding."""
    return actual < limit * (1 - EQUAL_WITHIN)
