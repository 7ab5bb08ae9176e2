"""``/`` for a browser: the form on which an order is stated, and its judgement beside it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from itertools import islice
from typing import Any, Final

from flask import Response, request
from marshmallow import ValidationError

from weavability.answers.finding_remedies import MOST_LISTED
from weavability.answers.loom_matching import match_looms
from weavability.answers.remedy_search import LoomRemedies
from weavability.answers.report import Report
from weavability.answers.window import Stretch
from weavability.checks.finding import Finding
from weavability.service import state
from weavability.service.batches.flat_order import (
    FieldFault,
    FlatOrder,
    is_price,
    query_of_pairs,
    read_fields,
)
from weavability.service.batches.pasted_orders import read_pasted
from weavability.service.http import problems
from weavability.service.http.edition import edition
from weavability.service.http.form_bodies import FORM, MULTIPART, FormBody, form_body
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import HTML, html_answer, is_current, not_modified
from weavability.service.http.work import next_item, spend, units_of, yarns_beyond_few
from weavability.service.operations import operation
from weavability.service.pages import order_page
from weavability.service.pages.order_examples import examples
from weavability.service.pages.order_page import JudgedOrder
from weavability.service.pages.order_state import (
    BESIDE,
    PICTURE,
    PICTURE_IS,
    SEARCH,
    SHOWN,
    WINDOW,
    Pairs,
    settled,
    with_design,
    with_point_paper,
)
from weavability.service.pages.way_out import searched, way_out_of
from weavability.service.requests.canonical import digest
from weavability.service.requests.loom_choice import ResolvedRequest
from weavability.service.requests.park import Park
from weavability.service.resources import loom_matches, setup_sheets, validations
from weavability.service.resources.windows import OnPage, window_on_page
from weavability.service.schemas.base import described
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.request_schemas import ValidationRequest
from weavability.service.schemas.weave_schema import StatedWeave
from weavability.textiles.bounds import ENDS_PER_CM, PICKS_PER_CM, Bounds
from weavability.textiles.construction import INCH_FORMS, Construction
from weavability.textiles.errors import InputError
from weavability.textiles.weave_matrix import Weave

LONGEST_READ_TWICE: Final = 20_000
"""Characters of a weave that is read once more to be drawn, if the order has a fault elsewhere."""

LONGEST_SHOWN_AGAIN: Final = 20_000
"""Characters of what was pasted that are in the box again, beside what was not taken over."""

WINDOW_REACH: Final = 0.4
WINDOW_POINTS: Final = 40

NOTHING_PASTED: Final = "There is nothing in it: paste an order, or choose a file that holds one."

MANY_YARNS: Final = (
    "Which assumed values decide is not searched here for an order of so many yarns. Its report "
    "offers the search."
)
TOO_LARGE_TO_SEARCH: Final = (
    "The order is too large to search which assumed values decide: each of them would be tried on "
    "the whole design."
)
AS_SOON_AS_YOU_PAUSE: Final = "It is drawn as soon as you pause."
_PAGE: Final = {"type": "string", "description": "A page in HTML."}


def show_order_form() -> Response:
    """Answer with the form that an address states; an address with buttons leads to its own."""
    given = [(name, text.strip()) for name, text in request.args.items(multi=True)]
    pairs = settled(given)
    shown = tuple(pair for pair in pairs if not is_price(pair[0]))
    query = query_of_pairs(shown)
    if shown == pairs and query is not None and Counter(given) != Counter(pairs):
        return _see(query)
    here = state.current()
    rests_on = (here.park.digest, edition(), str(_is_typing()))
    etag = digest(request.query_string, *(each.encode() for each in rests_on))
    answer = (
        not_modified(etag)
        if is_current(request, etag)
        else html_answer(
            _page(shown, _judged(pairs, here.park, in_address=True), here.park), etag=etag
        )
    )
    answer.vary.add("Prefer")
    return answer


def _is_typing() -> bool:
    """Return whether the page is requested at once, without what takes long (RFC 7240)."""
    return request.headers.get("Prefer", "") == "return=minimal"


@operation(
    "POST",
    "/",
    tag="Service",
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
def validate_order_form() -> Response:
    """Judge the order on the form of the start page.

    It is for browsers: the body is a form, urlencoded or in parts, whose fields are named like the
    columns of a sheet of orders. The answer leads to the address of the form with this order; an
    order with prices, which no address holds, and one that is too long for an address are answered
    with the page itself. With `show`, `report` or `setup-sheet`, it is that page of the order, if
    the order can be judged. Programs use `POST /v1/validations`.
    """
    here = state.current()
    body = form_body(request, FORM, MULTIPART, longest=here.settings.max_body_bytes)
    given = [pair for pair in body.fields if pair[0] not in ("paste", SHOWN)]
    pasted = _pasted(body)
    notes: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    if "paste" in dict(body.fields) and not pasted.strip():
        notes = (NOTHING_PASTED,)
    elif pasted.strip():
        read = read_pasted(pasted)
        given, notes, remarks = list(read.cells.items()), read.notes, read.remarks
    pairs = settled(given)
    refused: tuple[FieldFault, ...] = ()
    picture = body.files.get(PICTURE)
    is_design = (PICTURE_IS, "design") in given
    if picture:
        try:
            pairs = with_design(pairs, picture) if is_design else with_point_paper(pairs, picture)
        except InputError as error:
            fault = replace(error.faults[0], pointer="", given="the picture")
            refused = (FieldFault(heading=PICTURE, fault=fault),)
        next_item(bounded=True)
    printed = dict(body.fields).get(SHOWN)
    is_whole = not notes and not refused
    if printed and is_whole and (page := _printed(pairs, here.park, printed)) is not None:
        return page
    query = query_of_pairs(pairs)
    said = notes or remarks or refused
    if query is not None and not said and not any(is_price(name) for name, _ in pairs):
        return _see(query)
    # What was stated before the picture is not judged in its place.
    judged = (
        JudgedOrder(faults=refused, is_design=is_design)
        if refused
        else _judged(pairs, here.park, in_address=False)
    )
    text = _page(
        pairs,
        judged,
        here.park,
        notes=notes,
        remarks=remarks,
        pasted=pasted[:LONGEST_SHOWN_AGAIN],
    )
    return html_answer(text, etag=None)


def _printed(pairs: Pairs, park: Park, which: str) -> Response | None:
    """Answer with a page to print of an order; ``None`` if it cannot be judged as it is."""
    order = read_fields(pairs, beside=BESIDE, in_address=False)
    if order.faults or "loom_id" not in order.cells:
        return None
    try:
        found = validations.resolved(order.request, park)
    except InputError:
        next_item(bounded=True)
        return None
    if which == "setup-sheet":
        return setup_sheets.sheet_of(found, None)
    return validations.report_of(found, order.request)


def _see(query: str) -> Response:
    """Lead to the address of an order."""
    answer = Response(status=303)
    answer.headers["Location"] = f"/?{query}" if query else "/"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _pasted(body: FormBody) -> str:
    """Return the order that was chosen as a file, or else what was pasted."""
    if body.files.get("order_file"):
        return body.files["order_file"].decode("utf-8-sig", "replace")
    return dict(reversed(body.fields)).get("paste", "")


def _page(
    pairs: Pairs,
    judged: JudgedOrder,
    park: Park,
    *,
    notes: tuple[str, ...] = (),
    remarks: tuple[str, ...] = (),
    pasted: str = "",
) -> str:
    looms = {name: str(each.document.get("description", "")) for name, each in park.looms.items()}
    book = examples(park.looms)
    return order_page.render(
        pairs, judged, looms=looms, book=book, notes=notes, remarks=remarks, pasted=pasted
    )


def _judged(pairs: Pairs, park: Park, *, in_address: bool) -> JudgedOrder:
    """Judge the order on its loom, or on the whole park if none is chosen."""
    order = read_fields(pairs, beside=BESIDE, in_address=in_address)
    if not order.faults and order.cells.keys() <= {"loom_id"}:
        return JudgedOrder()
    faults = order.faults
    judged = JudgedOrder()
    on_loom = "loom_id" in order.cells
    try:
        if not faults:
            judged = _on_loom(order, park, pairs) if on_loom else _on_park(order, park)
        elif on_loom:
            validations.resolved(order.request, park)
        else:
            loom_matches.resolved(order.request, park)
    except InputError as error:
        faults = (*faults, *order.faults_of(error))
    if faults:
        next_item(bounded=True)
        judged = JudgedOrder(weave=_weave_alone(order))
    return replace(judged, faults=faults, commas=order.commas)


def _on_loom(order: FlatOrder, park: Park, pairs: Pairs) -> JudgedOrder:
    found = validations.resolved(order.request, park)
    cloth = found.request.construction
    answer = validations.judged(found, several_fields=True)
    decides_note = ""
    if yarns_beyond_few(cloth):
        decides_note = MANY_YARNS
    elif not _is_typing():
        try:
            report = validations.with_what_decides(answer.report, cloth, found.loom)
            answer = replace(answer, report=report)
        except ProblemError as problem:
            decides_note = _if_too_much(problem, TOO_LARGE_TO_SEARCH)
    is_searched = (SEARCH, "1") in pairs
    more = searched(found) if is_searched else None
    way_out = way_out_of(answer.report, more)
    if more is not None:
        answer = replace(answer, report=_with_searched(answer.report, more))
    window = _window(found) if (WINDOW, "1") in pairs else OnPage()
    return JudgedOrder(
        answer=answer.rounded(),
        weave=cloth.weave,
        window=window.drawing,
        window_note=window.note,
        decides_note=decides_note,
        is_searched=is_searched,
        way_out=way_out,
    )


def _with_searched(report: Report, on_loom: LoomRemedies) -> Report:
    """Return a report whose findings without a remedy have those that a search found."""
    in_vain = {each.code: each.tried for each in on_loom.not_found}

    def with_searched(finding: Finding) -> Finding:
        if finding.remedies or not finding.tried:
            return finding
        helpful = (
            one
            for one in on_loom.remedies
            if finding.code in (*one["clears"], *one["leaves_warnings"])
        )
        remedies = tuple(islice(helpful, MOST_LISTED))
        tried = () if remedies else in_vain.get(finding.code, finding.tried)
        return replace(finding, remedies=remedies, tried=tried)

    return replace(report, findings=tuple(map(with_searched, report.findings)))


def _if_too_much(problem: ProblemError, words: str) -> str:
    """Return what is said if the work of what is shown beside a verdict is refused.

    Raises:
        ProblemError: It is another problem.
    """
    if problem.kind is not problems.TOO_MUCH_WORK:
        raise problem
    return words


def _on_park(order: FlatOrder, park: Park) -> JudgedOrder:
    found = loom_matches.resolved(order.request, park)
    read = found.request
    spend(units_of(read.construction) * len(found.looms))
    matches = match_looms(read.construction, found.looms, prices=read.prices)
    return JudgedOrder(matches=matches, weave=read.construction.weave)


def _weave_alone(order: FlatOrder) -> Weave | None:
    """Read the weave of an order that has a fault elsewhere, so that it is drawn all the same."""
    given: Mapping[str, Any] = order.request["construction"]
    if len(order.cells.get("weave", "")) > LONGEST_READ_TWICE or "weave" not in given:
        return None
    try:
        read = described(ConstructionSchema().fields["weave"]).deserialize(given["weave"])
    except (ValidationError, ProblemError):
        return None
    return read.weave if isinstance(read, StatedWeave) else None


def _window(found: ResolvedRequest[ValidationRequest]) -> OnPage:
    """Draw what could be woven with other setts, or say why it is not drawn."""
    cloth = found.request.construction
    if cloth.design is not None and _is_typing():
        return OnPage(note=AS_SOON_AS_YOU_PAUSE)
    stretches = {
        each.pointer: each
        for each in (
            _stretch(cloth, "/warp/ends_per_cm", cloth.warp.threads_per_cm, ENDS_PER_CM),
            _stretch(cloth, "/weft/picks_per_cm", cloth.weft.threads_per_cm, PICKS_PER_CM),
        )
    }
    across, along = stretches
    return window_on_page(
        cloth,
        found.loom,
        (across, along),
        lambda pointer, points: replace(stretches[pointer], points=points),
        points=WINDOW_POINTS,
    )


def _stretch(cloth: Construction, metric: str, per_cm: float, bounds: Bounds) -> Stretch:
    """Return the values of a sett around its own, in the unit in which it is stated."""
    inch, factor = INCH_FORMS[metric]
    in_inches = inch in cloth.inch_fields
    own, within = (per_cm * factor, bounds.in_inches()) if in_inches else (per_cm, bounds)
    return Stretch(
        pointer=f"/construction{inch if in_inches else metric}",
        start=max(within.least, round(own * (1 - WINDOW_REACH), 1)),
        stop=min(within.most, round(own * (1 + WINDOW_REACH), 1)),
        points=WINDOW_POINTS,
    )
