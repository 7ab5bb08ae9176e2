"""``/v1/changeovers``: from one style to another on a loom."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.changeover import ChangeoverReport, change_style
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.responses import json_answer
from weavability.service.http.work import spend
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import resolve_request
from weavability.service.schemas.request_schemas import ChangeoverRequestSchema

_SCHEMA: Final = ChangeoverRequestSchema()


@operation(
    "POST",
    "/v1/changeovers",
    tag="Change-overs",
    body=_SCHEMA,
    answer=ChangeoverReport,
    answer_words="The steps of the change, and how long they take",
    examples={
        "other_weft_and_lift_plan": example_requests.CHANGEOVER,
        "other_warp_at_the_mills_own_rates": example_requests.CHANGEOVER_AT_OWN_RATES,
    },
    problems=problems.OF_BODIES,
)
def plan_changeover() -> Response:
    """Plan the change from one style to another on a loom.

    The answer lists each step with its hours; `alternatives` are the routes not taken. Hours are
    computed from rates: those of the request, else those of the loom, else default values, which
    are listed in `assumptions`.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_request(_SCHEMA, given, here.park)
    read = found.request
    spend(2)
    report = change_style(read.old, read.new, found.loom, rates=dict(read.rates))
    return json_answer(report, etag=found.etag)
