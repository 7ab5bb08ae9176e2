"""``/v1/validations``: the judgement of a construction on a loom, and links to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from typing import Final
from urllib.parse import urlencode

import orjson
from flask import Response, g, request

from weavability.answers import validation as answers
from weavability.answers.caution import CAUTION, SHORT_CAUTION
from weavability.answers.cloth_words import metric_figure
from weavability.answers.decisive_assumptions import values_tried
from weavability.answers.report import Report
from weavability.answers.window import Stretch
from weavability.looms.loom import Loom
from weavability.service import state
from weavability.service.batches.batch_answer import (
    FORMS,
    IGNORE_COLUMNS,
    Batch,
    answer_batch,
    ignores_columns,
)
from weavability.service.batches.csv_orders import EVERY_SHEET
from weavability.service.batches.csv_reports import REPORTS_SHEET
from weavability.service.batches.flat_order import form_address, query_of, write_fields
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body, parse, require_media_type
from weavability.service.http.links import LONGEST_TOKEN, opened, pack
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import (
    HTML,
    JSON,
    NDJSON,
    html_answer,
    is_current,
    json_answer,
    names_copy,
    not_modified,
)
from weavability.service.http.work import spend_order, spend_values
from weavability.service.observability import request_log
from weavability.service.openapi import example_requests
from weavability.service.operations import QUERY, Parameter, operation
from weavability.service.pages import report_page
from weavability.service.pages.report_page import ReportLinks
from weavability.service.pages.way_out import (
    is_needed,
    other_looms_of,
    searched,
    way_out_of,
)
from weavability.service.requests.canonical import canonical_request, digest
from weavability.service.requests.kept_answers import KeptAnswer
from weavability.service.requests.loom_choice import ResolvedRequest, identity, resolve_request
from weavability.service.requests.park import Park
from weavability.service.requests.report_summary import CAUTION_HEADER, SUMMARY, summary_of
from weavability.service.requests.validation_answer import WRITTEN, ValidationAnswer
from weavability.service.resources.windows import OnPage, window_on_page
from weavability.service.schemas.fields import Described
from weavability.service.schemas.page_query_schema import PageQuery, PageQuerySchema, PageWindow
from weavability.service.schemas.request_schemas import ValidationRequest, ValidationRequestSchema
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

_SCHEMA: Final = ValidationRequestSchema()


class Fields(StrEnum):
    """Which members of a report are answered; without it, all."""

    SUMMARY = "summary"
    SUMMARY_AND_LINK = "summary,link"


FIELDS: Final = Parameter(
    name="fields",
    place="query",
    description="`summary` answers with a ReportSummary in place of the report, `summary,link` "
    "with its link as well. No remedies are sought for it, nothing is priced. In JSON only; its "
    "entity tag is the report's, and `-summary` or `-summary-link`.",
    example="summary",
    pattern="^summary(,link)?$",
)
_SHORT_FORMS: Final = (JSON, NDJSON)


def _fields() -> Fields | None:
    """Return which members the address asks for; ``None`` for all.

    Raises:
        ProblemError: 422, it asks for something else; 406, the answer is not JSON.
    """
    given = request.args.get(FIELDS.name)
    if given is None:
        return None
    if given not in tuple(Fields):
        raise ProblemError(
            kind=problems.INVALID_REQUEST,
            detail=say(
                "problem.parameter_not_one_of",
                "{parameter} must be {allowed}, not {given!r}.",
                parameter=FIELDS.name,
                allowed=" or ".join(Fields),
                given=given[:40],
            ),
        )
    if g.media_type not in _SHORT_FORMS:
        raise ProblemError(
            kind=problems.NOT_ACCEPTABLE,
            detail=say(
                "problem.no_summary_in_this_form",
                "A summary is answered as {media_types}, not as {media_type}.",
                media_types=" or ".join(_SHORT_FORMS),
                media_type=g.media_type,
            ),
        )
    return Fields(given)


_NO_LINK: Final = (
    f"This request is too long for a link: its address would exceed {LONGEST_TOKEN} characters. "
    "Keep the request and send it again."
)


def resolved(given: object, park: Park) -> ResolvedRequest[ValidationRequest]:
    """Read a request and name its answer, without judging the cloth.

    Raises:
        InputError: With every fault of the request, an unknown loom among them.
    """
    return resolve_request(_SCHEMA, given, park, write=canonical_request)


def judged(
    found: ResolvedRequest[ValidationRequest], *, several_fields: bool = False
) -> ValidationAnswer:
    """Run every rule, and what is requested beside them.

    Args:
        found: The request.
        several_fields: Whether a remedy may write several fields, as on a page; who reads only the
            ``pointer`` of a remedy would make half of it.
    """
    options, cloth, loom = found.request.options, found.request.construction, found.loom
    report = _assessed(found, remedies=options.remedies, several_fields=several_fields)
    if options.decisive_assumptions:
        report = with_what_decides(report, cloth, loom)
    return ValidationAnswer(validation_id=found.etag, report=report, links=links_of(found))


def with_what_decides(report: Report, cloth: Construction, loom: Loom) -> Report:
    """Return a report with the assumed values that decide its verdict.

    Raises:
        ProblemError: 413, to find them takes too much.
    """
    spend_values(cloth, values_tried(report.assumptions))
    return answers.with_decisive_assumptions(report, cloth, loom)


def _assessed(
    found: ResolvedRequest[ValidationRequest], *, remedies: bool, several_fields: bool = False
) -> Report:
    """Run every rule, not rounded."""
    read = found.request
    spend_order(read.construction)
    report = answers.assess(
        read.construction,
        found.loom,
        prices=read.prices,
        rounded=False,
        remedies=remedies,
        several_fields=several_fields,
    )
    request_log.report_made(
        report.verdict, [(each.code, each.severity) for each in report.findings]
    )
    return report


def summarised(
    found: ResolvedRequest[ValidationRequest], fields: Fields, **more: str
) -> dict[str, object]:
    """Run every rule, and return the short form: no change of the order is tried for it."""
    linked = {"link": links_of(found)["self"]} if fields is Fields.SUMMARY_AND_LINK else {}
    return summary_of(_assessed(found, remedies=False), found.etag, **linked, **more)


def links_of(found: ResolvedRequest[ValidationRequest]) -> dict[str, str | None]:
    """Return the links of a report: its own, and the loom's if the park has it."""
    token = pack(found.written)
    links: dict[str, str | None] = {"self": f"/v1/validations/{token}" if token else None}
    if token is None:
        links["self_note"] = _NO_LINK
    if found.request.loom_id is not None:
        links["loom"] = f"/v1/looms/{found.request.loom_id}"
    return links


def identity_of(packed: bytes, given: object, park: Park) -> str:
    """Return the entity tag of a request in canonical form, without a look at the cloth.

    It is that of :func:`resolved` if the request is good, and that of no report if it is not. A
    link can therefore be compared with a tag at the cost of one digest.

    Args:
        packed: The request in canonical form.
        given: The same, read.
        park: Has its loom, if it names one.
    """
    loom_id = given.get("loom_id") if isinstance(given, dict) else None
    found = park.get(loom_id) if isinstance(loom_id, str) else None
    return identity(packed, [found] if found else [])


@operation(
    "POST",
    "/v1/validations",
    tag="Validations",
    body=_SCHEMA,
    answer=WRITTEN,
    short_answer=SUMMARY,
    answer_words="The report, whatever its verdict",
    examples={
        "shirting": example_requests.VALIDATION,
        "park_loom": {
            "construction": example_requests.SMALL_CONSTRUCTION,
            "loom_id": "rapier-190-dobby",
        },
        "with_prices": example_requests.PRICED,
    },
    problems=(*problems.OF_BODIES, problems.UNREADABLE_CSV),
    media_types=(JSON, HTML),
    query=True,
    batches=FORMS,
    parameters=(IGNORE_COLUMNS, FIELDS),
)
def validate_construction() -> Response:
    """Judge a construction on a loom.

    The status is 200 also if the verdict is `not_weavable`: the report is the product, not a
    failure. `ETag` is the report's `validation_id`; `Content-Location` is an address that gives the
    same report again, without the caller's reference. A request with `prices` also gets `costs`;
    its answer bears neither of them, since they name the report without costs, and is not to be
    stored.
    """
    here = state.current()
    ignore_columns, fields = ignores_columns(), _fields()
    if request.mimetype in FORMS:
        return _batch(fields, ignore_columns=ignore_columns)
    require_media_type(request, JSON, *FORMS)
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolved(given, here.park)
    if g.media_type == HTML:
        return report_of(found, given)
    if fields is not None:
        return _in_short(found, fields)
    if found.request.prices is not None:
        # Its tag and its link are those of the report without costs, so it bears neither.
        return json_answer(judged(found).written())
    if is_current(request, found.etag):
        return not_modified(found.etag, headers=_addresses(links_of(found)["self"]))
    return _answered(found)


def _batch(fields: Fields | None, *, ignore_columns: bool) -> Response:
    park = state.current().park
    if fields is None:
        return answer_batch(
            Batch(
                judge=lambda given: judged(resolved(given, park)).written(),
                member="report",
                orders=EVERY_SHEET,
                sheet=REPORTS_SHEET,
            ),
            ignore_columns=ignore_columns,
        )
    answer = answer_batch(
        Batch(
            judge=lambda given: summarised(resolved(given, park), fields),
            member="summary",
            orders=EVERY_SHEET,
        ),
        ignore_columns=ignore_columns,
    )
    answer.headers[CAUTION_HEADER] = SHORT_CAUTION
    return answer


def _in_short(found: ResolvedRequest[ValidationRequest], fields: Fields) -> Response:
    """Answer with the summary; its tag differs from that of the report.

    That of a request with prices has none, like its report.
    """
    etag = _short_tag(found.etag, fields) if found.request.prices is None else None
    own = links_of(found)["self"] if etag and request.method != "GET" else None
    addresses = _addresses(own and f"{own}?{FIELDS.name}={fields}")
    if etag is not None and is_current(request, etag):
        return not_modified(etag, headers=addresses)
    return json_answer(summarised(found, fields, caution=CAUTION), etag=etag, headers=addresses)


def _short_tag(etag: str, fields: Fields | None) -> str:
    return etag if fields is None else f"{etag}-{fields.replace(',', '-')}"


def _answered(found: ResolvedRequest[ValidationRequest]) -> Response:
    """Answer with the report, which is computed unless it is kept."""
    cloth, answers_kept = found.request.construction, state.current().answers
    answer = answers_kept.find(found.etag)
    if answer is None:
        answer = KeptAnswer.of(judged(found))
        answers_kept.keep(found.etag, answer)
    else:
        request_log.report_made(answer.verdict, answer.findings)
    return json_answer(
        answer.written(cloth.reference), etag=found.etag, headers=_addresses(answer.own)
    )


def _addresses(own: str | None) -> dict[str, str]:
    """Return the address at which the same answer can be had again, to a query as its own too."""
    if own is None or request.method in ("GET", "HEAD"):
        return {}
    return {"Content-Location": own, **({"Location": own} if request.method == QUERY else {})}


_PAGE_QUERY: Final = PageQuerySchema()


def _of_page(name: str) -> Parameter:
    """Describe a parameter of a page."""
    field = _PAGE_QUERY.fields[name]
    if not isinstance(field, Described):
        raise TypeError(f"{name} has no description")
    return Parameter(
        name=name,
        place="query",
        description=f"{field.description}.",
        example=str(field.example),
    )


REFERENCE: Final = _of_page("reference")
TOKEN: Final = Parameter(
    name="token",
    place="path",
    description="The last part of a report's own link; it carries the technical request.",
    example=pack(canonical_request(example_requests.VALIDATION)) or "",
)
_WINDOWS: Final[Mapping[PageWindow, tuple[str, tuple[str, str]]]] = {
    PageWindow.SETTS: (
        "ends and picks",
        ("/construction/warp/ends_per_cm", "/construction/weft/picks_per_cm"),
    ),
    PageWindow.WIDTH: (
        "width and picks",
        ("/construction/width_cm", "/construction/weft/picks_per_cm"),
    ),
}
"""The windows of feasibility that a page draws: what each varies, and its fields."""

_WINDOW_REACH: Final = 0.25
_WINDOW_POINTS: Final = 32


@operation(
    "GET",
    "/v1/validations/{token}",
    tag="Validations",
    answer=WRITTEN,
    short_answer=SUMMARY,
    answer_words="The report",
    parameters=(
        TOKEN,
        FIELDS,
        REFERENCE,
        _of_page("window"),
    ),
    problems=(problems.NOT_FOUND, problems.INVALID_REQUEST),
    media_types=(JSON, HTML),
    conditional=True,
)
def show_validation(token: str) -> Response:
    """Show the report of a link again.

    The service stores nothing: the link carries the technical request itself, without the reference
    and other free text. With `If-None-Match` the status is 304, without any computing, until the
    loom's limits or the rules change. A browser gets a page to read and to print, which takes
    `reference` and `window`.
    """
    park = state.current().park
    fields = _fields()
    _of_address()
    packed = opened(token)
    given = given_by(packed)
    if g.media_type == HTML:
        return report_of(resolved(given, park), given, token=token)
    known = _short_tag(identity_of(packed, given, park), fields)
    if names_copy(request, known):
        return not_modified(known)
    found = resolved(given, park)
    if fields is not None:
        return _in_short(found, fields)
    if is_current(request, found.etag):
        return not_modified(found.etag)
    return _answered(found)


def given_by(packed: bytes) -> object:
    """Read the request of a link.

    Raises:
        InputError: It states prices.
    """
    given = parse(packed)
    if isinstance(given, dict) and "prices" in given:
        raise InputError.of(
            "/prices",
            say("fault.link.no_prices", "A link holds no prices: send them with the request."),
        )
    return given


def page_query(found: ResolvedRequest[ValidationRequest]) -> PageQuery:
    """Read what the address says of a page; its reference is before that of the request.

    Raises:
        InputError: It cannot be read.
    """
    read = _of_address()
    return replace(read, reference=read.reference or found.request.construction.reference)


def _of_address() -> PageQuery:
    """Read what the address says of a page, which counts as a fault in any form of the answer.

    Raises:
        InputError: It cannot be read.
    """
    stated = {name: request.args[name] for name in _PAGE_QUERY.fields if request.args.get(name)}
    return _PAGE_QUERY.read(stated)


def report_of(
    found: ResolvedRequest[ValidationRequest], given: object, token: str | None = None
) -> Response:
    """Answer with the report as a page; its tag differs from that of the JSON form.

    A page with costs has none, and is not to be stored. The reference of an address and the window
    are part of what is answered.
    """
    query = page_query(found)
    reference, window = query.reference, query.window
    etag = None
    if found.request.prices is None:
        # The page of an order that is not weavable names other looms of the park.
        said = (reference or "", window or "", state.current().park.digest)
        shown = digest(*(each.encode() for each in said))
        etag = f"{found.etag}-page-{shown}"
        if is_current(request, etag):
            return not_modified(etag)
    fit = answers.judge(found.request.construction, found.loom)
    answer = judged(found, several_fields=True)
    # Each trial weaves a design anew; the form searches for a large order when a person wishes it.
    is_quick = found.request.options.remedies and found.request.construction.design is None
    more = searched(found) if is_quick and is_needed(answer.report) else None
    way_out = way_out_of(answer.report, more)
    park = (each.loom for each in state.current().park.looms.values())
    others = other_looms_of(found, park, answer.report, way_out) if is_quick else None
    answer = answer.rounded()
    own = token or (answer.links["self"] or "").rpartition("/")[2] or None
    leads_to = ReportLinks() if own is None else _leads_to(found, own, reference)
    form, ranking = _start_pages_of(given, reference)
    drawn = OnPage() if window is None else _drawn(found, window)
    page = report_page.render(
        answer,
        fit,
        reference=reference,
        leads_to=replace(leads_to, form=form, ranking=ranking),
        way_out=way_out,
        other_looms=others,
        window=drawn.drawing or None,
        window_note=drawn.note,
    )
    return html_answer(page, etag=etag)


def _leads_to(
    found: ResolvedRequest[ValidationRequest], token: str, reference: str | None
) -> ReportLinks:
    named = {} if reference is None else {"reference": reference}
    own = f"/v1/validations/{token}"
    return ReportLinks(
        setup_sheet=address(f"{own}/setup-sheet", named),
        decisive=_deciding(found, named),
        windows=[
            (address(own, {**named, "window": name}), words)
            for name, (words, _) in _WINDOWS.items()
        ],
    )


def _start_pages_of(given: object, reference: str | None) -> tuple[str | None, str | None]:
    """Return the addresses of the start page and of the ranking with an order.

    Either is ``None`` if its fields cannot hold the order; a ranking with prices has no address.
    """
    if not isinstance(given, dict):
        return None, None
    stated = {name: value for name, value in given.items() if name != "options"}
    named = {} if reference is None else {"reference": reference}
    written = write_fields({**stated, "construction": {**given["construction"], **named}})
    if written.left_out:
        return None, None
    cloth = {name: text for name, text in written.cells.items() if name != "loom_id"}
    query = None if "prices" in given else query_of(cloth)
    return form_address(written.cells), None if query is None else f"/matches?{query}"


def _deciding(found: ResolvedRequest[ValidationRequest], named: Mapping[str, str]) -> str | None:
    """Return the address of the same report with decisive assumptions; ``None`` if too long."""
    technical = orjson.loads(found.written)
    options = {**technical.get("options", {}), "decisive_assumptions": True}
    token = pack(canonical_request({**technical, "options": options}))
    return None if token is None else address(f"/v1/validations/{token}", named)


def address(path: str, query: Mapping[str, str]) -> str:
    """Return an address with its parameters."""
    return f"{path}?{urlencode(query)}" if query else path


def _drawn(found: ResolvedRequest[ValidationRequest], window: PageWindow) -> OnPage:
    """Draw a window a quarter up and down from what the order states."""
    cloth, (_, pointers) = found.request.construction, _WINDOWS[window]

    def around(pointer: str, points: int) -> Stretch:
        value = metric_figure(cloth, pointer.removeprefix("/construction"))
        start, stop = (1 - _WINDOW_REACH) * value, (1 + _WINDOW_REACH) * value
        return Stretch(pointer=pointer, start=start, stop=stop, points=points)

    return window_on_page(cloth, found.loom, pointers, around, points=_WINDOW_POINTS)
