"""The verdict that findings amount to."""

from __future__ import annotations

from collections.abc import Iterable

from weavability.checks.finding import Finding, Severity, Verdict
from weavability.checks.rules import Observation


def verdict_of(findings: Iterable[Finding | Observation]) -> Verdict:
    """Return the verdict that a list of findings amounts to."""
    severities = {finding.severity for finding in findings}
    if Severity.ERROR in severities:
        return Verdict.NOT_WEAVABLE
    if Severity.WARNING in severities:
        return Verdict.WEAVABLE_WITH_WARNINGS
    return Verdict.WEAVABLE
