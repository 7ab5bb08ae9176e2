"""The way out of an order that is not weavable: the changes that together make it so, on its page.

A report lists what clears each finding. Where none of that makes the order weavable, or only a far
change does, or one that leaves a rejection to what is assumed, the page has the answer of a search
in a place of its own, or leads to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from weavability.answers.dominance import FAR_POINTS
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
        is_only: Whether no remedy of a finding makes the order weavable.
    """

    remedies: tuple[Remedy, ...] = ()
    is_searched: bool = False
    is_only: bool = True


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
    """Return whether an order is not weavable, and no near remedy of a finding makes it so.

    One that does only if what is assumed is not so is no end of a search.
    """
    return report.verdict is Verdict.NOT_WEAVABLE and not any(
        each["distance"] <= FAR_POINTS and not each["rejected_if_assumed"]
        for each in _whole_of(report)
    )


def way_out_of(report: Report, found: LoomRemedies | None) -> WayOut | None:
    """Return what a page says of the way out.

    Args:
        report: The judgement.
        found: What a search found; ``None`` if nothing was searched.

    Returns:
        ``None`` if nothing need be said: the order is weavable, a near remedy of a finding makes
        it so, or no search found more than the report has.
    """
    if not is_needed(report):
        return None
    below = [each["changes"] for each in _whole_of(report)]
    is_only = not below
    if found is None:
        return WayOut(is_only=is_only)
    remedies = tuple(filter(_is_whole, found.remedies))[:MOST_SHOWN]
    if not is_only and (not remedies or remedies[0]["changes"] in below):
        return None
    return WayOut(remedies=remedies, is_searched=True, is_only=is_only)


def lead_of(way_out: WayOut) -> str:
    """Return what a page says above the changes that make an order weavable."""
    are_several = len(way_out.remedies) > 1
    if way_out.is_only:
        does = "These do" if are_several else "This does"
        return f"None of the changes below makes the order weavable by itself. {does}"
    if are_several:
        return "The nearest changes that were found to make the order weavable"
    return "The nearest change that was found to make the order weavable"


def _whole_of(report: Report) -> Iterator[Remedy]:
    return filter(_is_whole, (each for finding in report.findings for each in finding.remedies))


def _is_whole(remedy: Remedy) -> bool:
    return remedy["verdict"] is not Verdict.NOT_WEAVABLE
