"""The way out of an order that is not weavable: the changes that together make it so, on its page.

A report lists what clears each finding. Where none of that makes the order weavable, the page has
the answer of a search in a place of its own, or leads to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.answers.remedy_search import UNITS_OF_A_LOOM, LoomRemedies, search_remedies
from weavability.answers.report import Report
from weavability.checks.finding import Remedy, Verdict
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.work import spend, units_of
from weavability.service.requests.loom_choice import ResolvedRequest
from weavability.service.schemas.request_schemas import ValidationRequest

MOST_SHOWN: Final = 3
"""Ways out that a page lists; the search may have found more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """What a page says of the way out.

    Attributes:
        remedies: The smallest changes that make the order weavable.
        is_searched: Whether they were searched; if not, the page leads to the search.
    """

    remedies: tuple[Remedy, ...] = ()
    is_searched: bool = False


def searched(found: ResolvedRequest[ValidationRequest]) -> LoomRemedies | None:
    """Search for the remedies of an order on its loom.

    Returns:
        What was found; ``None`` if it takes more than a request may.
    """
    read = found.request
    try:
        spend(units_of(read.construction) * UNITS_OF_A_LOOM)
        return search_remedies(read.construction, [found.loom], prices=read.prices).looms[0]
    except ProblemError as problem:
        if problem.kind is not problems.TOO_MUCH_WORK:
            raise
        return None


def is_needed(report: Report) -> bool:
    """Return whether an order is not weavable, and no remedy of a finding makes it so."""
    return report.verdict is Verdict.NOT_WEAVABLE and not any(
        _is_whole(remedy) for finding in report.findings for remedy in finding.remedies
    )


def way_out_of(report: Report, found: LoomRemedies | None) -> WayOut | None:
    """Return what a page says of the way out.

    Args:
        report: The judgement.
        found: What a search found; ``None`` if nothing was searched.

    Returns:
        ``None`` if nothing need be said: the order is weavable, or a remedy of a finding makes it
        so.
    """
    if not is_needed(report):
        return None
    if found is None:
        return WayOut()
    return WayOut(remedies=tuple(filter(_is_whole, found.remedies))[:MOST_SHOWN], is_searched=True)


def _is_whole(remedy: Remedy) -> bool:
    return remedy["verdict"] is not Verdict.NOT_WEAVABLE
