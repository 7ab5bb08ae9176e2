"""``/v1/validations``: the judgement of a construction on a loom, and links to it."""

from __future__ import annotations

from typing import Final

from flask import Response, g, request

from weavability import __version__
from weavability.answers import validation as answers
from weavability.answers.decisive_assumptions import values_tried
from weavability.service import state
from weavability.service.batches.batch_answer import FORMS, IGNORE_COLUMNS, Batch, answer_batch
from weavability.service.batches.csv_orders import EVERY_SHEET
from weavability.service.batches.csv_reports import REPORTS_SHEET
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body, parse, require_media_type
from weavability.service.http.links import LONGEST_TOKEN, opened, pack
from weavability.service.http.responses import (
    HTML,
    JSON,
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
from weavability.service.requests.validation_answer import WRITTEN, ValidationAnswer
from weavability.service.schemas.request_schemas import ValidationRequest, ValidationRequestSchema
from weavability.textiles.errors import InputError

_SCHEMA: Final = ValidationRequestSchema()

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
    """Run every rule."""
    spend(1)
    options, cloth, loom = found.request.options, found.request.construction, found.loom
    report = answers.assess(
        cloth, loom, prices=found.request.prices, rounded=False, remedies=options.remedies
    )
    if options.decisive_assumptions:
        tried = values_tried(report.assumptions)
        spend(tried)
        spend_readings(cloth.weave.matrix.size, READINGS_OF_A_VALUE * tried)
        report = answers.with_decisive_assumptions(report, cloth, loom)
    request_log.report_made(
        report.verdict, [(each.code, each.severity) for each in report.findings]
    )
    return ValidationAnswer(validation_id=found.etag, report=report, links=links_of(found))


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
    parameters=(IGNORE_COLUMNS,),
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
    if request.mimetype in FORMS:
        return answer_batch(
            Batch(
                judge=lambda given: judged(resolved(given, here.park)),
                line=ValidationAnswer.written,
                tidy=ValidationAnswer.rounded,
                member="report",
                orders=EVERY_SHEET,
                sheet=REPORTS_SHEET,
            )
        )
    require_media_type(request, JSON, *FORMS)
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolved(given, here.park)
    if g.media_type == HTML:
        return _page(found)
    if found.request.prices is not None:
        # Its tag and its link are those of the report without costs, so it bears neither.
        return json_answer(judged(found).written())
    if is_current(request, found.etag):
        return not_modified(found.etag, headers=_addresses(links_of(found)["self"]))
    return _answered(found)


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
    answer_words="The report",
    parameters=(
        Parameter(
            name="token",
            place="path",
            description="The last part of a report's own link; it carries the technical request.",
            example=pack(canonical_request(example_requests.VALIDATION)) or "",
        ),
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
    packed = opened(token)
    given = parse(packed)
    if isinstance(given, dict) and "prices" in given:
        raise InputError.of("/prices", "A link holds no prices: send them with the request.")
    if g.media_type == HTML:
        return _page(resolved(given, park))
    known = identity_of(packed, given, park)
    if names_copy(request, known):
        return not_modified(known)
    found = resolved(given, park)
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
