"""``/v1/setup-sheets``, ``/v1/validations/{token}/setup-sheet``: how to set a loom up, to print."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.validation import judge
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body, require_media_type
from weavability.service.http.links import opened
from weavability.service.http.responses import HTML, JSON, html_answer, is_current, not_modified
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.pages import setup_sheet_page
from weavability.service.requests.canonical import digest
from weavability.service.requests.loom_choice import ResolvedRequest
from weavability.service.resources.validations import (
    REFERENCE,
    TOKEN,
    address,
    given_by,
    judged,
    page_query,
    resolved,
)
from weavability.service.schemas.request_schemas import ValidationRequest, ValidationRequestSchema

_PAGE: Final = {"type": "string", "description": "A page in HTML, to print on A4."}
_SCHEMA: Final = ValidationRequestSchema()


@operation(
    "GET",
    "/v1/validations/{token}/setup-sheet",
    tag="Validations",
    answer=_PAGE,
    answer_words="The set-up sheet",
    parameters=(TOKEN, REFERENCE),
    problems=(problems.NOT_FOUND, problems.INVALID_REQUEST),
    media_types=(HTML,),
    conditional=True,
)
def show_setup_sheet(token: str) -> Response:
    """Show how the loom is set up for the order of a link, on a page to print.

    The steps are in the order in which they are done, on one page of A4 in black and white if they
    fit; the rest goes on under the same heading. An order that the loom cannot weave has no steps:
    the page says why. The reader's browser writes the date. It is for people: a program finds
    the same figures in the report, in `setup`, `warp`, `yarn`, `states` and `rates`.
    """
    return sheet_of(resolved(given_by(opened(token)), state.current().park), token)


@operation(
    "POST",
    "/v1/setup-sheets",
    tag="Validations",
    body=_SCHEMA,
    answer=_PAGE,
    answer_words="The set-up sheet",
    parameters=(REFERENCE,),
    examples={"shirting": example_requests.VALIDATION},
    problems=problems.OF_BODIES,
    media_types=(HTML,),
)
def plan_setup() -> Response:
    """Plan how the loom is set up for an order that is too long for a link, on a page to print.

    It is the page that the link of its report would lead to.
    """
    here = state.current()
    require_media_type(request, JSON)
    given = json_body(request, longest=here.settings.max_body_bytes)
    return sheet_of(resolved(given, here.park), None)


def sheet_of(found: ResolvedRequest[ValidationRequest], token: str | None) -> Response:
    """Answer with the set-up sheet of an order, and the token of its link if there is one."""
    reference = page_query(found).reference
    etag = f"{found.etag}-sheet-{digest((reference or '').encode())}"
    if is_current(request, etag):
        return not_modified(etag)
    fit = judge(found.request.construction, found.loom)
    answer = judged(found).rounded()
    own = f"/v1/validations/{token}" if token else answer.links["self"]
    named = {} if reference is None else {"reference": reference}
    page = setup_sheet_page.render(
        answer,
        fit,
        reference=reference,
        report_link=None if own is None else address(own, named),
    )
    return html_answer(page, etag=etag)
