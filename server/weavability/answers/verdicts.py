"""The verdict that findings amount to, and their codes by severity."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Final

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.checks.rules import Observation

RANKS: Final = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}
"""Places of the severities, the heaviest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """Codes of the findings, each once, at its heaviest severity, in the order of the report."""

    errors: Annotated[tuple[str, ...], "Codes of what cannot or must not run"]
    warnings: Annotated[tuple[str, ...], "Codes of what runs, but with trouble to expect"]
    notes: Annotated[tuple[str, ...], "Codes of what is worth knowing"]


def verdict_of(findings: Iterable[Finding | Observation]) -> Verdict:
    """Return the verdict that a list of findings amounts to."""
    severities = {finding.severity for finding in findings}
    if Severity.ERROR in severities:
        return Verdict.NOT_WEAVABLE
    if Severity.WARNING in severities:
        return Verdict.WEAVABLE_WITH_WARNINGS
    return Verdict.WEAVABLE


def by_weight(findings: Iterable[Finding | Observation]) -> dict[CheckCode, Severity]:
    """Return the codes of findings with their heaviest severities, the heaviest first."""
    heaviest: dict[CheckCode, Severity] = {}
    for one in sorted(findings, key=lambda each: RANKS[each.severity]):
        heaviest.setdefault(one.code, one.severity)
    return heaviest


def codes_of(findings: Iterable[Finding | Observation]) -> Codes:
    """Return the codes of findings by severity."""
    by_code = by_weight(findings)

    def of(severity: Severity) -> tuple[str, ...]:
        return tuple(code for code, heaviest in by_code.items() if heaviest is severity)

    return Codes(errors=of(Severity.ERROR), warnings=of(Severity.WARNING), notes=of(Severity.NOTE))
