"""What the service tells of its rules and of the notations that it reads."""

from __future__ import annotations

from weavability_client._record import Record, record
from weavability_client.models.findings import Severity


@record
class Check(Record):
    """One rule by which the service judges.

    Attributes:
        code: ``subject.topic``, as in the findings.
        says: What it says, in a sentence.
        compares: What is held against what.
        severities: The severities that it can give, the heaviest first.
        formula: How the compared value is computed.
        source: Where formula and limit come from.
    """

    code: str
    subject: str
    says: str | None = None
    compares: str | None = None
    severities: tuple[Severity, ...] = ()
    formula: str | None = None
    source: str | None = None


@record
class Notation(Record):
    """One way to write a weave, with examples."""
