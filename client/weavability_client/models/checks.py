"""What the service tells of its rules and of the notations that it reads."""

from __future__ import annotations

from collections.abc import Mapping

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
    """One way of naming a weave.

    Attributes:
        name: What the trade calls it.
        pattern: How it is written; words in angle brackets stand for values.
        example: A weave, which can be sent as it is.
        meaning: What the values mean, and where the construction is from.
    """

    name: str
    pattern: str
    example: str | Mapping[str, object]
    meaning: str


@record
class WeaveForm(Record):
    """One way of writing a weave as an object.

    Attributes:
        members: The members that it needs.
        optional: Further members that it may have.
        meaning: What it says.
        example: An object of this form, which can be sent as it is.
    """

    members: tuple[str, ...]
    optional: tuple[str, ...] = ()
    meaning: str
    example: Mapping[str, object]


@record
class WeaveNotations(Record):
    """How a weave is written wherever one is asked for.

    Attributes:
        notations: In words: case, spaces, hyphens and the order of the words do not matter.
        forms: As an object.
    """

    notations: tuple[Notation, ...]
    forms: tuple[WeaveForm, ...] = ()
