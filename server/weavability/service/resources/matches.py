"""``/matches`` and ``/compare``: the looms for an order, and two reports side by side, as pages."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final
from urllib.parse import unquote_plus, urlencode

from flask import Response, request

from weavability.answers.loom_match import RankBy
from weavability.answers.loom_matching import match_looms
from weavability.service import state
from weavability.service.batches.flat_order import FlatOrder, query_of, read_fields
from weavability.service.http import problems
from weavability.service.http.edition import edition
from weavability.service.http.form_bodies import FORM, Pairs, form_body
from weavability.service.http.links import unpack
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import HTML, html_answer, is_current, not_modified
from weavability.service.http.work import spend, units_of
from weavability.service.operations import operation
from weavability.service.pages import compare_page, matches_page
from weavability.service.pages.matches_page import RankedOrder
from weavability.service.pages.report_comparison import ComparedReport, compare_reports
from weavability.service.requests.canonical import digest
from weavability.service.requests.loom_choice import MOST_HINTS
from weavability.service.requests.park import Park
from weavability.service.resources import loom_matches, validations
from weavability.textiles.errors import InputError

BESIDE: Final = frozenset({"compare", "rank_by", "on_loom", "loom_id"})
"""Fields of the page that are no part of the order that is ranked."""

_PAGE: Final = {"type": "string", "description": "A page in HTML."}
_TOKEN: Final = re.compile(r"v1\.[A-Za-z0-9_-]+")
_REFERENCE: Final = re.compile(r"[?&]reference=([^&#\s]*)")


@operation(
    "GET",
    "/matches",
    tag="Loom matches",
    answer=_PAGE,
    answer_words="The page",
    media_types=(HTML,),
    conditional=True,
)
def show_matches() -> Response:
    """Show the looms of the park for an order, as a page.

    The order is in the address, its parameters named like the columns of a sheet of orders:
    `/matches?weave=plain&ends_per_cm=28&warp_yarn_A=Ne 30&…`. `on_loom` has links to the reports on
    what is on the looms now, which name these; with `compare` and a loom's name twice, two looms
    are side by side. `rank_by` may be `cost`, which needs prices and therefore a POST. Programs use
    `POST /v1/loom-matches`.
    """
    here = state.current()
    digests = here.park.digest, edition()
    etag = digest(request.query_string, *(each.encode() for each in digests))
    if is_current(request, etag):
        return not_modified(etag)
    pairs = list(request.args.items(multi=True))
    order = read_fields(pairs, beside=BESIDE, in_address=True)
    return html_answer(matches_page.render(_ranked(pairs, order, here.park)), etag=etag)


@operation(
    "POST",
    "/matches",
    tag="Loom matches",
    answer=_PAGE,
    answer_words="The page, if the order has no address",
    moves="The order has an address: the same page is there",
    problems=(
        problems.INVALID_REQUEST,
        problems.BODY_TOO_LARGE,
        problems.TOO_MUCH_WORK,
        problems.BUSY,
        problems.UNSUPPORTED_MEDIA_TYPE,
    ),
    media_types=(HTML,),
)
def rank_order_form() -> Response:
    """Rank the looms for an order that a form sends.

    It is for browsers: the body is a form, urlencoded, with the fields of an order and of its
    prices, named like the columns of a sheet of orders, and with `rank_by`, `on_loom` and
    `compare`. An order with prices, which no address holds, and one that is too long for an
    address are answered with the page itself; any other leads to its address.
    """
    here = state.current()
    pairs = form_body(request, FORM, longest=here.settings.max_body_bytes).fields
    order = read_fields(pairs, beside=BESIDE)
    has_address = bool(order.cells) and "prices" not in order.request
    query = _query(pairs, order) if has_address else None
    if query is not None:
        return Response(
            status=303, headers={"Location": f"/matches?{query}", "Cache-Control": "no-store"}
        )
    return html_answer(matches_page.render(_ranked(pairs, order, here.park)), etag=None)


def _query(pairs: Pairs, order: FlatOrder) -> str | None:
    """Write what was sent as the query of an address; ``None`` if it is too long, or has faults."""
    beside = {name: text.strip() for name, text in pairs if name in BESIDE - {"compare"}}
    stated = {name: text for name, text in beside.items() if text and (name, text) != _BY_HOURS}
    query = None if order.faults else query_of({**order.cells, **stated})
    if query is None:
        return None
    return "&".join((query, *(urlencode({"compare": each}) for each in _given(pairs, "compare"))))


_BY_HOURS: Final = ("rank_by", "hours")


def _given(pairs: Pairs, name: str) -> list[str]:
    return [text.strip() for each, text in pairs if each == name and text.strip()]


def _ranked(pairs: Pairs, order: FlatOrder, park: Park) -> RankedOrder:
    """Rank the park for an order, and compare two of its looms if these are ticked."""
    beside = {name: text for name, text in pairs if name in BESIDE}
    loom_id = {name: text for name, text in beside.items() if name == "loom_id" and text}
    empty = RankedOrder(
        cells={**order.cells, **loom_id},
        on_loom=" ".join(_given(pairs, "on_loom")),
        ranked_by=beside.get("rank_by", "hours"),
        ticked=tuple(_given(pairs, "compare")),
        request=order.request if order.cells else {},
        descriptions={
            name: str(each.document.get("description", "")) for name, each in park.looms.items()
        },
    )
    if not order.faults and not order.cells:
        return empty
    faults = order.faults
    try:
        ranked = _on_park(empty, park)
    except InputError as error:
        faults = (*faults, *order.faults_of(error))
    if faults:
        return replace(empty, notes=tuple(map(matches_page.note, faults)))
    return ranked


def _on_park(order: RankedOrder, park: Park) -> RankedOrder:
    on_loom, strange = _present(order.on_loom, park)
    notes = [
        f"This is no link to a report on a loom of the park: {each[:60]}"
        for each in strange[:MOST_HINTS]
    ]
    if len(strange) > MOST_HINTS:
        notes.append(f"{len(strange) - MOST_HINTS} more are none either.")
    rank_by = RankBy.COST if order.ranked_by == RankBy.COST else RankBy.HOURS
    if rank_by is RankBy.COST and "prices" not in order.request:
        notes.append(
            "Looms are ranked by cost only if prices are stated; they are ranked by hours."
        )
        rank_by = RankBy.HOURS
    given = {**order.request, "rank_by": rank_by.value, "on_loom": on_loom}
    found = loom_matches.resolved(given, park)
    read = found.request
    spend(units_of(read.construction) * len(found.looms))
    matches = match_looms(
        read.construction,
        found.looms,
        on_loom=read.on_loom,
        prices=read.prices,
        rank_by=read.rank_by,
    )
    ranked = replace(
        order,
        ranked_by=rank_by.value,
        construction=read.construction,
        matches=matches,
        notes=tuple(notes),
    )
    return _with_comparison(ranked, park)


def _present(text: str, park: Park) -> tuple[dict[str, Any], list[str]]:
    """Read what is on the looms: constructions by loom, and what is no link to such a report."""
    found: dict[str, Any] = {}
    strange: list[str] = []
    for each in text.split():
        token = _TOKEN.search(each)
        try:
            given = unpack(token[0]) if token else None
        except ProblemError:
            given = None
        loom_id = given.get("loom_id") if isinstance(given, dict) else None
        if isinstance(given, dict) and isinstance(loom_id, str) and park.get(loom_id):
            found[loom_id] = given.get("construction")
        else:
            strange.append(each)
    return found, strange


def _with_comparison(ranked: RankedOrder, park: Park) -> RankedOrder:
    """Compare the two looms that are ticked."""
    ticked = tuple(dict.fromkeys(ranked.ticked))
    if not ticked:
        return ranked
    unknown = [each for each in ticked if each not in park.looms]
    notes: list[str] = [park.unknown(each).message for each in unknown[:1]]
    known = [each for each in ticked if each in park.looms][:2]
    if len(known) < 2:
        notes.append("Tick two looms to compare them.")
        return replace(ranked, notes=(*ranked.notes, *notes))
    if len(ticked) > 2:
        notes.append(f"Two looms are compared: {known[0]} and {known[1]}.")
    one, other = (
        _compared({**ranked.request, "loom_id": each}, title=each, park=park) for each in known
    )
    comparison = compare_reports(one, other)
    notes = [*ranked.notes, *notes]
    return replace(ranked, ticked=tuple(known), comparison=comparison, notes=tuple(notes))


def _compared(given: Mapping[str, Any], *, title: str, park: Park) -> ComparedReport:
    """Judge one of two requests; remedies are not compared, and not sought.

    Raises:
        InputError: The request has faults.
    """
    found = validations.resolved({**given, "options": {"remedies": False}}, park)
    loom_id = found.request.loom_id
    return ComparedReport(
        title=title,
        request=given,
        construction=found.request.construction,
        loom=found.loom,
        loom_document=given["loom"] if loom_id is None else park.looms[loom_id].document,
        answer=validations.judged(found).rounded(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opened:
    """What a field of the page to compare reports holds."""

    report: ComparedReport | None = None
    fault: str = ""


@operation(
    "GET",
    "/compare",
    tag="Validations",
    answer=_PAGE,
    answer_words="The page",
    media_types=(HTML,),
    conditional=True,
)
def show_comparison() -> Response:
    """Show what differs between two reports, as a page.

    They are given by their links: `/compare?one=v1.…&other=v1.…`. The page lists what differs in
    the order, the loom, the findings and the figures, as both are answered now.
    """
    here = state.current()
    digests = here.park.digest, edition()
    etag = digest(request.query_string, *(each.encode() for each in digests))
    if is_current(request, etag):
        return not_modified(etag)
    texts = [request.args.get(name, "").strip() for name in ("one", "other")]
    names = ("First report", "Second report")
    one, other = (_opened(*each, here.park) for each in zip(texts, names, strict=True))
    comparison = compare_reports(one.report, other.report) if one.report and other.report else None
    page = compare_page.render(texts, (one.fault, other.fault), comparison)
    return html_answer(page, etag=etag)


def _opened(text: str, name: str, park: Park) -> _Opened:
    """Open a link to a report."""
    if not text:
        return _Opened()
    token = _TOKEN.search(text)
    if token is None:
        return _Opened(fault="This is no link to a report: it ends in v1. and many letters.")
    reference = _REFERENCE.search(text)
    title = unquote_plus(reference[1]) if reference and reference[1] else name
    try:
        given = unpack(token[0])
        if not isinstance(given, dict) or "prices" in given:
            return _Opened(fault="This is no link to a report: those hold an order and no prices.")
        return _Opened(report=_compared(given, title=title, park=park))
    except ProblemError as error:
        if error.kind.status >= 429:
            raise
        return _Opened(fault=error.detail)
    except InputError as error:
        return _Opened(fault=error.faults[0].message)
