"""``/v1/changeovers``: from one style to another on a loom."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.service import examples, problems, state
from weavability.service.answers import json_answer
from weavability.service.bodies import json_body
from weavability.service.chosen_looms import settle
from weavability.service.operations import operation
from weavability.service.schemas.requests import ChangeoverRequestSchema
from weavability.style_change import ChangeoverReport, change_style

_SCHEMA: Final = ChangeoverRequestSchema()


@operation(
    "POST",
    "/v1/changeovers",
    tag="Change-overs",
    body=_SCHEMA,
    answer=ChangeoverReport,
    answer_words="What the change asks for, and how long it takes",
    examples={
        "other_weft_and_lift_plan": examples.CHANGEOVER,
        "other_warp_at_the_mills_own_rates": examples.CHANGEOVER_AT_OWN_RATES,
    },
    problems=problems.OF_BODIES,
)
def plan_changeover() -> Response:
    """Plan the change from one style to another on a loom.

    Step by step, with hours; `alternatives` are the ways not taken. Hours are computed from rates:
    those of the request, else those of the loom, else starting values, which are listed in
    `assumptions`.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    settled = settle(_SCHEMA, given, here.park)
    asked = settled.request
    report = change_style(asked.old, asked.new, settled.loom, rates=dict(asked.rates))
    return json_answer(report, etag=settled.etag)
