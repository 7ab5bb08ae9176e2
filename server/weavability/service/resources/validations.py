"""``/v1/validations``: the judgement of a construction on a loom, and links to it."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from flask import Response, g, request

from weavability import __version__
from weavability.answers import validation as answers
from weavability.answers.caution import CAUTION, SHORT_CAUTION
from weavability.answers.decisive_assumptions import values_tried
from weavability.answers.report import Report
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
from weavability.service.http.work import READINGS_OF_A_VALUE, spend, spend_readings
from weavability.service.observability import request_log
from weavability.service.openapi import example_requests
from weavability.service.operations import QUERY, Parameter, operation
from weavability.service.pages import report_page
from weavability.service.requests.canonical import canonical_request
from weavability.service.requests.kept_answers import KeptAnswer
from weavability.service.requests.loom_choice import ResolvedRequest, identity, resolve_request
from weavability.service.requests.park import Park
from weavability.service.requests.report_summary import CAUTION_HEADER, SUMMARY, summary_of
from weavability.service.requests.validation_answer import WRITTEN, ValidationAnswer
from weavability.service.schemas.request_schemas import ValidationRequest, ValidationRequestSchema
from weavability.textiles.errors import InputError

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
            detail=f"{FIELDS.name} must be {' or '.join(Fields)}, not {given[:40]!r}.",
        )
    if g.media_type not in _SHORT_FORMS:
        raise ProblemError(
            kind=problems.NOT_ACCEPTABLE,
            detail=f"A summary is answered as {' or '.join(_SHORT_FORMS)}, not as {g.media_type}.",
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


def judged(found: ResolvedRequest[ValidationRequest]) -> ValidationAnswer:
    """Run every rule, and what is requested beside them."""
    options, cloth, loom = found.request.options, found.request.construction, found.loom
    report = _assessed(found, remedies=options.remedies)
    if options.decisive_assumptions:
        tried = values_tried(report.assumptions)
        spend(tried)
        spend_readings(cloth.weave.matrix.size, READINGS_OF_A_VALUE * tried)
        report = answers.with_decisive_assumptions(report, cloth, loom)
    return ValidationAnswer(validation_id=found.etag, report=report, links=links_of(found))


def _assessed(found: ResolvedRequest[ValidationRequest], *, remedies: bool) -> Report:
    """Run every rule, not rounded."""
    spend(1)
    read = found.request
    report = answers.assess(
        read.construction, found.loom, prices=read.prices, rounded=False, remedies=remedies
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
        return _page(found)
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
                judge=lambda given: judged(resolved(given, park)),
                line=ValidationAnswer.written,
                tidy=ValidationAnswer.rounded,
                member="report",
                orders=EVERY_SHEET,
                sheet=REPORTS_SHEET,
            ),
            ignore_columns=ignore_columns,
        )
    answer = answer_batch(
        Batch(
            judge=lambda given: summarised(resolved(given, park), fields),
            line=lambda summary: summary,
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


@operation(
    "GET",
    "/v1/validations/{token}",
    tag="Validations",
    answer=WRITTEN,
    short_answer=SUMMARY,
    answer_words="The report",
    parameters=(
        Parameter(
            name="token",
            place="path",
            description="The last part of a report's own link; it carries the technical request.",
            example=pack(canonical_request(example_requests.VALIDATION)) or "",
        ),
        FIELDS,
    ),
    problems=(problems.NOT_FOUND, problems.INVALID_REQUEST),
    media_types=(JSON, HTML),
    conditional=True,
)
def show_validation(token: str) -> Response:
    """Show the report of a link again.

    The service stores nothing: the link carries the technical request itself, without the reference
    and other free text. With `If-None-Match` the status is 304, without any computing, until the
    loom's limits or the rules change. A browser gets a page to read and to print.
    """
    park = state.current().park
    fields = _fields()
    packed = opened(token)
    given = parse(packed)
    if isinstance(given, dict) and "prices" in given:
        raise InputError.of("/prices", "A link holds no prices: send them with the request.")
    if g.media_type == HTML:
        return _page(resolved(given, park))
    known = _short_tag(identity_of(packed, given, park), fields)
    if names_copy(request, known):
        return not_modified(known)
    found = resolved(given, park)
    if fields is not None:
        return _in_short(found, fields)
    if is_current(request, found.etag):
        return not_modified(found.etag)
    return _answered(found)


def _page(found: ResolvedRequest[ValidationRequest]) -> Response:
    """Answer with the report as a page; its tag differs from that of the JSON form.

    A page with costs has none, and is not to be stored.
    """
    etag = f"{found.etag}-page-{__version__}" if found.request.prices is None else None
    if etag is not None and is_current(request, etag):
        return not_modified(etag)
    fit = answers.judge(found.request.construction, found.loom)
    return html_answer(report_page.render(judged(found).rounded(), fit), etag=etag)
