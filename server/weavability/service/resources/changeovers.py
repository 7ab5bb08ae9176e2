"""``/v1/changeovers``: from one style to another on a loom, or the best sequence of several."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.changeover import ChangeoverReport, change_style
from weavability.answers.changeover_sequence import SequenceReport, sequence_orders
from weavability.looms.loom import Loom
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.responses import json_answer
from weavability.service.http.work import spend, units_of
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import resolve_request
from weavability.service.schemas.request_schemas import (
    ChangeoverRequest,
    ChangeoverRequestSchema,
)

_SCHEMA: Final = ChangeoverRequestSchema()

CHANGES_A_UNIT: Final = 2
"""Changes from one style to another that cost as much as judging one."""


@operation(
    "POST",
    "/v1/changeovers",
    tag="Change-overs",
    body=_SCHEMA,
    answer=ChangeoverReport | SequenceReport,
    answer_words="The steps of the change and how long they take, or the best sequence of orders",
    examples={
        "other_weft_and_lift_plan": example_requests.CHANGEOVER,
        "other_warp_at_the_mills_own_rates": example_requests.CHANGEOVER_AT_OWN_RATES,
        "sequence_of_orders": example_requests.SEQUENCE,
    },
    problems=problems.OF_BODIES,
)
def plan_changeover() -> Response:
    """Plan the change from one style to another on a loom, or the best sequence of orders.

    With `from` and `to` the answer lists each step with its hours; `alternatives` are the routes
    not taken. What is on the loom stays as far as it serves: the draft, the reed, and the warp as
    far as it reaches (`warp_left_m`, else what the cloth on the loom leaves of full beams). With
    `orders` the answer is the sequence with the shortest stops, found by exact search over what may
    be on the loom at each change. A cloth that the loom cannot weave gets its findings and no
    steps. Hours are computed from rates: those of the request, else those of the loom, else default
    values, which are listed in `assumptions` with the bands that make the bands of the hours.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_request(_SCHEMA, given, here.park)
    return json_answer(_answer(found.request, found.loom), etag=found.etag)


def _answer(read: ChangeoverRequest, loom: Loom) -> ChangeoverReport | SequenceReport:
    rates = dict(read.rates)
    if read.old is None or read.new is None:
        styles = [*read.orders, *([] if read.on_loom is None else [read.on_loom])]
        spend(sum(map(units_of, styles)) * (1 + len(styles) / CHANGES_A_UNIT))
        return sequence_orders(
            read.orders, loom, on_loom=read.on_loom, warp_left_m=read.warp_left_m, rates=rates
        )
    spend(units_of(read.old) + units_of(read.new))
    return change_style(read.old, read.new, loom, warp_left_m=read.warp_left_m, rates=rates)
