"""Findings, and the changes that would clear them."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, TypedDict

from weavability.checks.codes import CheckCode
from weavability.textiles.field_marks import Since, Unit
from weavability.textiles.records import record
from weavability.textiles.sentences import WrittenValue


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


FieldChange = TypedDict(
    "FieldChange",
    {
        "pointer": Annotated[str, "JSON Pointer into the request of the field to change"],
        "from": Annotated[object, "The value that it has; null if it is not stated"],
        "to": Annotated[object, "The value to put there; null to state nothing there"],
        "unit": Annotated[str | None, "Unit of both values"],
        "step": Annotated[
            float | None,
            "Resolution in the same unit: one step less is no remedy; null if it is one of a "
            "few, or if the trials were used up before that was proved",
        ],
    },
)
FieldChange.__doc__ = "One field of an order, and the value to put there."

Alteration = TypedDict(
    "Alteration",
    {
        "name": Annotated[str, "What changes with it, named like the field of the report"],
        "from": Annotated[float, "Before the change"],
        "to": Annotated[float, "After the change"],
        "unit": Annotated[str, "Unit of both values"],
    },
)
Alteration.__doc__ = "A figure of the cloth or the order that a remedy changes as well."

Remedy = TypedDict(
    "Remedy",
    {
        "pointer": Annotated[str, "JSON Pointer into the request of the field to change"],
        "from": Annotated[object, "The value that it has"],
        "to": Annotated[object, "The value to put there; null to state nothing there"],
        "unit": Annotated[str | None, "Unit of both values"],
        "message": Annotated[str, "What the change means on the shop floor"],
        "clears": Annotated[
            list[str], "Codes of the findings that are gone after it, or of which a note is left"
        ],
        "leaves_notes": Annotated[
            list[str], "Those of `clears` of which a note is left", Since("0.2")
        ],
        "leaves_warnings": Annotated[
            list[str],
            "Codes of errors, and of warnings that would be errors if what is assumed is so, of "
            "which a lighter warning is left; they are not in `clears`. A requirement among them "
            "is met then if what is assumed is so",
            Since("0.2"),
        ],
        "rejected_if_assumed": Annotated[
            list[str],
            "Codes for which the order after it is not weavable if what is assumed is so: those of "
            "its `verdict_note`. Of an order that is not weavable, remedies without any are first",
            Since("0.2"),
        ],
        "brings": Annotated[
            list[str],
            "Codes of warnings and notes that come with it, also of notes that become warnings; "
            "never an error",
            Since("0.2"),
        ],
        "verdict": Annotated[Verdict, "The answer for the order after it", Since("0.2")],
        "distance": Annotated[
            float,
            "How far the order is changed; remedies are listed by it. One point is one per cent of "
            "sett or width; server/docs/ways_out.md lists the points of other fields",
            Unit("points"),
            Since("0.2"),
        ],
        "changes": Annotated[
            tuple[FieldChange, ...],
            "Every field to change, that of `pointer` first; in a finding there is only this one",
            Since("0.2"),
        ],
        "alters": Annotated[
            tuple[Alteration, ...],
            "What else changes: mass, cover and width of the grey cloth, hours and yarn",
            Since("0.2"),
        ],
    },
)
Remedy.__doc__ = (
    "A change that was tried. Made and validated again, it clears the named codes and brings no "
    "new error."
)


@record(kw_only=True)
class Finding:
    """One finding of a report; ``code`` is ``subject.topic``, stable for ever."""

    code: Annotated[CheckCode, "`subject.topic`, stable for ever; `/v1/checks/{code}` explains it"]
    severity: Annotated[Severity, "How much the finding weighs"]
    message: Annotated[str, "What, how much, against what limit, and what helps"]
    message_key: Annotated[
        str, "Key of the sentence, for a translation; stable like the code", Since("0.2")
    ]
    message_values: Annotated[
        Mapping[str, WrittenValue],
        "The values that the sentence quotes, by name",
        Since("0.2"),
    ]
    pointer: Annotated[str, "JSON Pointer into the request of the field that drives it"]
    actual: Annotated[Figure, "What the cloth needs"]
    limit: Annotated[Figure, "What the loom or the trade allows"]
    unit: Annotated[str | None, "Unit of actual and limit"]
    margin_pct: Annotated[float | None, "Room left, on the limit; negative if it is passed"]
    remedies: Annotated[
        tuple[Remedy, ...],
        "Changes that were tried and clear the finding, or have it in `leaves_warnings`, the "
        "smallest first",
    ] = ()
    tried: Annotated[
        tuple[str, ...],
        "What was tried if no remedy of an error or warning was found; empty if one was, or if "
        "none was looked for",
        Since("0.2"),
    ] = ()
    source: Annotated[str, "Source of the limit"]
    rests_on: Annotated[
        tuple[str, ...],
        "Pointers of the assumed values on which a warning or note rests, the most effective "
        "first: elsewhere in their bands it would be lighter or none. Empty if it rests on none. "
        "If its `message_key` ends in `_if_assumed`, it is an error if they are stated as "
        "they are assumed. `assumptions` has their bands",
        Since("0.2"),
    ] = ()


def margin_pct(actual: Figure, limit: Figure, *, at_least: bool) -> float | None:
    """Return the room left in per cent of the limit, negative where it is passed.

    Args:
        actual: What the cloth needs.
        limit: What is allowed.
        at_least: Whether the limit is a least value; otherwise it is a greatest.
    """
    if isinstance(actual, str) or isinstance(limit, str):
        return None
    if actual is None or not limit:
        return None
    room = (limit - actual) / limit * 100
    return -room if at_least else room
