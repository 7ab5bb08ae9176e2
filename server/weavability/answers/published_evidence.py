"""Published values beside what is computed: how far the formulas are from what others printed.

``data/evidence.json`` is made by ``openapi/regenerate`` from the published values that the tests
use; nothing is computed here but the counts.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Annotated, Any

from weavability.answers.caution import CAUTION


class EvidenceKind(StrEnum):
    """Where a value comes from that a computed one is compared with."""

    OUTSIDE = "outside"  # printed or measured by others
    FITTED = "fitted"  # likewise, but a number of the formula was chosen on it
    DERIVED = "derived"  # follows from a printed rule or drawing; worked out for the tests
    RECALLED = "recalled"  # of common knowledge, the document was not read


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceValue:
    """A published value beside the computed one."""

    case: Annotated[str, "Name of the case in the tests"]
    what: Annotated[str, "What is compared, with the inputs"]
    source: Annotated[str, "Who published it, and on which page as far as known"]
    kind: Annotated[
        EvidenceKind,
        "`outside` was printed or measured by others; `fitted` likewise, but a number of the "
        "formula was chosen on it; `derived` follows from a printed rule or "
        "drawing; `recalled` is of common knowledge, the document was not read",
    ]
    published: Annotated[float | str, "The published figure, or what was stated"]
    computed: Annotated[float | str, "What this service computes or answers"]
    unit: Annotated[str | None, "Unit of both figures; null if they have none"]
    deviation: Annotated[
        float | None, "Computed less published; null if they are not two different figures"
    ]
    deviation_pct: Annotated[
        float | None, "The same in per cent of the published figure; null if that is 0 or no figure"
    ]
    tolerance: Annotated[
        float | None, "Greatest deviation that counts as agreement; null if it has to be the same"
    ]
    agrees: Annotated[bool, "Whether the two agree"]
    note: Annotated[str | None, "What explains a deviation or a reading; null if nothing does"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceCount:
    """How many values were compared, and how many agree."""

    outside: Annotated[int, "Values printed or measured by others"]
    outside_agree: Annotated[int, "How many of them agree"]
    fitted: Annotated[int, "Values on which a number of the formula was chosen"]
    fitted_agree: Annotated[int, "How many of them agree"]
    derived: Annotated[int, "Values that follow from a printed rule or drawing"]
    derived_agree: Annotated[int, "How many of them agree"]
    recalled: Annotated[int, "Values of common knowledge whose document was not read"]
    recalled_agree: Annotated[int, "How many of them agree"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceSubject:
    """The evidence on one subject."""

    subject: Annotated[str, "Name of the subject"]
    about: Annotated[str, "What is compared, and how"]
    counts: Annotated[EvidenceCount, "Counts of this subject"]
    values: Annotated[tuple[EvidenceValue, ...], "Every value; those that do not agree first"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutValue:
    """A published value that is not compared."""

    case: Annotated[str, "Name of the case in the tests"]
    what: Annotated[str, "What was published"]
    source: Annotated[str, "Who published it"]
    reason: Annotated[str, "Why it is not compared"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Every published value beside the computed one, and what was left out."""

    about: Annotated[str, "What counts as evidence here"]
    counts: Annotated[EvidenceCount, "Counts over all subjects"]
    subjects: Annotated[tuple[EvidenceSubject, ...], "The evidence by subject"]
    left_out: Annotated[tuple[LeftOutValue, ...], "Published values that are not compared"]
    caution: Annotated[str, "What a computed figure is not"]


ABOUT = (
    "Published values that the tests hold this service to, each beside what it computes. Only "
    "outside values are evidence: on fitted ones a number of the formula was chosen, and derived "
    "ones guard against changes. Published cloths are judged "
    "on permissive looms that were made around them, because their own looms are not known, so "
    "that "
    "they test how close a cloth may be set and no limit of a machine."
)


@cache
def evidence() -> Evidence:
    """Return all evidence; read once a process."""
    text = resources.files("weavability").joinpath("data/evidence.json").read_text("utf-8")
    return evidence_of(json.loads(text))


def evidence_of(document: Mapping[str, Any]) -> Evidence:
    """Return the evidence of a document of subjects with their values, and of what was left out."""
    subjects = tuple(_subject(each) for each in document["subjects"])
    return Evidence(
        about=ABOUT,
        counts=_counts(value for each in subjects for value in each.values),
        subjects=subjects,
        left_out=tuple(LeftOutValue(**each) for each in document["left_out"]),
        caution=CAUTION,
    )


def _subject(given: Mapping[str, Any]) -> EvidenceSubject:
    values = tuple(
        EvidenceValue(**{**each, "kind": EvidenceKind(each["kind"])}) for each in given["values"]
    )
    return EvidenceSubject(
        subject=given["subject"],
        about=given["about"],
        counts=_counts(values),
        values=tuple(sorted(values, key=lambda each: each.agrees)),
    )


def _counts(values: Iterable[EvidenceValue]) -> EvidenceCount:
    counted = dict.fromkeys((f"{kind}{end}" for kind in EvidenceKind for end in ("", "_agree")), 0)
    for each in values:
        counted[each.kind] += 1
        counted[f"{each.kind}_agree"] += each.agrees
    return EvidenceCount(**counted)
