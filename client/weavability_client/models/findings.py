"""What the checks find, what was assumed, and the words for both."""

from __future__ import annotations

from dataclasses import field
from enum import StrEnum

from weavability_client._record import Record, record


class Verdict(StrEnum):
    """The answer in a word."""

    WEAVABLE = "weavable"
    WEAVABLE_WITH_WARNINGS = "weavable_with_warnings"
    NOT_WEAVABLE = "not_weavable"


class Severity(StrEnum):
    """How much a finding weighs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@record
class Remedy(Record):
    """A change that was tried: ``to_value`` at ``pointer`` clears the codes in ``clears``."""

    pointer: str
    from_value: object = field(default=None, metadata={"key": "from"})
    to_value: object = field(metadata={"key": "to"})
    unit: str | None = None
    message: str
    clears: tuple[str, ...]


@record
class Finding(Record):
    """What one check found.

    Attributes:
        code: ``subject.topic``, stable for ever.
        message: What, how much, against what limit, and what helps.
        pointer: JSON Pointer into the request of the field that drives it.
        margin_pct: Room left, in per cent of the limit; negative where the limit is passed.
        source: Where the limit comes from.
    """

    code: str
    severity: Severity
    message: str
    pointer: str
    actual: float | str | None = None
    limit: float | str | None = None
    unit: str | None = None
    margin_pct: float | None = None
    remedies: tuple[Remedy, ...] = ()
    source: str = ""

    def __str__(self) -> str:
        """Return severity, code and message on one line."""
        return f"{self.severity} {self.code}: {self.message}"


@record
class Assumption(Record):
    """A value that was not stated and was therefore assumed; state it at ``pointer``."""

    pointer: str
    value: object
    unit: str | None = None
    reason: str

    def __str__(self) -> str:
        """Return the field, the value and the reason on one line."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.pointer} = {self.value}{unit}: {self.reason}"
