"""The way out of an order that is not weavable: the changes that together make it so, on its page.

A report lists what clears each finding. Where none of that makes the order weavable, or only a far
change does, or one that leaves a rejection to what is assumed, the page has the answer of a search
in a place of its own, or leads to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import inf
from typing import Final

from weavability.answers.dominance import FAR_POINTS
from weavability.answers.loom_match import LoomMatch
from weavability.answers.loom_matching import match_looms
from weavability.answers.remedy_search import (
    MOST_LOOMS_SEARCHED,
    UNITS_OF_A_LOOM,
    LoomRemedies,
    search_remedies,
)
from weavability.answers.report import Report
from weavability.checks.finding import Remedy, Verdict
from weavability.looms.loom import Loom
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.work import spend, units_of
from weavability.service.requests.loom_choice import ResolvedRequest
from weavability.service.schemas.request_schemas import ValidationRequest

MOST_SHOWN: Final = 3
"""Ways out that a page lists; the search may have found more."""


MOST_LOOMS_TRIED: Final = 3
"""Other looms on which changes are sought, if none weaves the order as it is.

Further ones follow, up to as many as a search tries, while all changes found leave the order not
weavable if what is assumed is so.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherLooms:
    """What a page says of the other looms of the park.

    Attributes:
        as_it_is: Those that weave the order as it is, the best first.
        more: How many more do.
        changed: If none does whatever is assumed: the smallest change that makes it weavable on
            another one, smaller than any on its own, or without the rejection that all of these
            leave to what is assumed; the nearest first, but those that leave one after the others.
    """

    as_it_is: tuple[LoomMatch, ...] = ()
    more: int = 0
    changed: tuple[tuple[str | None, Remedy], ...] = ()


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


def other_looms_of(
    found: ResolvedRequest[ValidationRequest],
    park: Iterable[Loom],
    report: Report,
    way_out: WayOut | None,
) -> OtherLooms | None:
    """Return what a page says of the other looms for an order that its own does not weave.

    A change of the cloth, such as another weave, is farther than the cloth as ordered on a loom
    that takes fewer panels of it.

    Args:
        found: The order on its loom.
        park: The looms of the mill.
        report: The judgement.
        way_out: What was found on its own loom.

    Returns:
        ``None`` if it is weavable, no other loom helps, or to try them takes more than a request
        may.
    """
    others = [loom for loom in park if loom.loom_id != found.loom.loom_id]
    if report.verdict is not Verdict.NOT_WEAVABLE or not others:
        return None
    order, units = found.request.construction, units_of(found.request.construction)
    own = [*_whole_of(report), *(() if way_out is None else way_out.remedies)]
    best = min(map(_preference, own), default=(True, inf))
    try:
        spend(units * len(others))
        ranked = match_looms(order, others).matches
        weave_it = [each for each in ranked if each.verdict is not Verdict.NOT_WEAVABLE]
        changed: list[tuple[str | None, Remedy]] = []
        if best >= (False, FAR_POINTS) and all(each.rejected_if_assumed for each in weave_it):
            refused = [each for each in ranked if each.verdict is Verdict.NOT_WEAVABLE]
            for place, each in enumerate(refused[:MOST_LOOMS_SEARCHED]):
                are_doubtful = all(remedy["rejected_if_assumed"] for _, remedy in changed)
                if place >= MOST_LOOMS_TRIED and not (changed and are_doubtful):
                    break
                spend(units * UNITS_OF_A_LOOM)
                loom = others[each.index]
                nearest = _nearest_on(loom, found, best)
                changed += [(loom.loom_id, remedy) for remedy in nearest]
    except ProblemError as problem:
        if problem.kind is not problems.TOO_MUCH_WORK:
            raise
        return None
    if not weave_it and not changed:
        return None
    return OtherLooms(
        as_it_is=tuple(weave_it[:MOST_SHOWN]),
        more=max(0, len(weave_it) - MOST_SHOWN),
        changed=tuple(sorted(changed, key=lambda each: _preference(each[1]))[:MOST_SHOWN]),
    )


def _nearest_on(
    loom: Loom, found: ResolvedRequest[ValidationRequest], best: tuple[bool, float]
) -> list[Remedy]:
    """Return the preferred change on another loom, if it is preferred to the best on its own."""
    (on,) = search_remedies(found.request.construction, [loom]).looms
    better = (each for each in filter(_is_whole, on.remedies) if _preference(each) < best)
    return sorted(better, key=_preference)[:1]


def _preference(remedy: Remedy) -> tuple[bool, float]:
    """Rank changes by distance, those that leave a rejection to what is assumed last."""
    return bool(remedy["rejected_if_assumed"]), remedy["distance"]


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
