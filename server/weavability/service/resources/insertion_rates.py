"""``/v1/insertion-rates``: how fast a loom inserts weft, and the tension of the weft."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.insertion_rate import RateSheet, insertion_rates
from weavability.drawing.insertion_view import draw_insertion
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.json_or_svg import JSON_OR_SVG, tell_or_draw
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import settle
from weavability.service.schemas.request_schemas import RateRequestSchema

_SCHEMA: Final = RateRequestSchema()


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
def tell_insertion_rates() -> Response:
    """Compute how fast a loom inserts weft, what limits it, and the tension of the weft.

    The speed is the least of all limits, and `limited_by` names it. With
    `Accept: image/svg+xml` travel, speed and tension of the weft are drawn over the crank angle,
    for the weft that uses most of its strength; the drawing needs a weft or a construction.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    settled = settle(_SCHEMA, given, here.park)
    asked, loom = settled.request, settled.loom
    return tell_or_draw(
        settled.etag,
        tell=lambda: insertion_rates(asked, loom),
        draw=lambda: draw_insertion(asked, loom),
    )
