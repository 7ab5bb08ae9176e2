"""``/v1/insertion-rates``: the speed of weft insertion and the tension of the weft."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.insertion_rate import RateSheet, insertion_rates
from weavability.drawing.insertion_view import draw_insertion
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.json_or_svg import JSON_OR_SVG, figures_or_drawing
from weavability.service.http.work import spend
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import resolve_request
from weavability.service.schemas.rate_request_schema import RateRequestSchema

_SCHEMA: Final = RateRequestSchema()

POINTS_A_UNIT: Final = 2
"""Points of a sweep that are a unit of work."""


@operation(
    "POST",
    "/v1/insertion-rates",
    tag="Insertion rates",
    body=_SCHEMA,
    answer=RateSheet,
    answer_words="The rates, the motion and the weft's tension",
    examples={
        "weft_on_a_park_loom": example_requests.INSERTION_RATE,
        "construction_swept_over_the_width": example_requests.INSERTION_RATE_SWEEP,
    },
    problems=problems.OF_BODIES,
    media_types=JSON_OR_SVG,
)
def compute_insertion_rates() -> Response:
    """Compute the speed of weft insertion, its limit, and the tension of the weft.

    The speed is the lowest of all limits, and `limited_by` names it. With
    `Accept: image/svg+xml` the travel, speed and tension of the weft are drawn over the crank
    angle, for the weft that uses most of its strength; the drawing needs a weft or a construction.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_request(_SCHEMA, given, here.park)
    rates, loom = found.request, found.loom
    spend(1 + (0 if rates.sweep is None else rates.sweep.points) / POINTS_A_UNIT)
    return figures_or_drawing(
        found.etag,
        compute=lambda: insertion_rates(rates, loom),
        draw=lambda: draw_insertion(rates, loom),
    )
