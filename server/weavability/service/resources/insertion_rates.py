"""``/v1/insertion-rates``: the speed of weft insertion and the tension of the weft."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.insertion_rate import (
    RateCase,
    RateRequest,
    RateSheet,
    insertion_rates,
    resolve_rate_request,
)
from weavability.drawing.insertion_curve import insertion_svg
from weavability.looms.weft_insertion import speed_limit
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.json_or_svg import JSON_OR_SVG, figures_or_drawing
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import ResolvedRequest, resolve_request
from weavability.service.schemas.request_schemas import RateQuestion, RateRequestSchema
from weavability.textiles.errors import InputError

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
def compute_insertion_rates() -> Response:
    """Compute the speed of weft insertion, its limit, and the tension of the weft.

    The speed is the lowest of all limits, and `limited_by` names it. With
    `Accept: image/svg+xml` the travel, speed and tension of the weft are drawn over the crank
    angle, for the weft that uses most of its strength; the drawing needs a weft or a construction.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_request(_SCHEMA, given, here.park)
    rate_request = _rate_request(found)
    return figures_or_drawing(
        found.etag,
        compute=lambda: insertion_rates(rate_request),
        draw=lambda: draw_pick(rate_request),
    )


def _rate_request(found: ResolvedRequest[RateQuestion]) -> RateRequest:
    question = found.request
    return RateRequest(
        loom=found.loom,
        reed_width_cm=question.reed_width_cm,
        construction=question.construction,
        weft=question.weft,
        speed_picks_per_min=question.speed_picks_per_min,
        feeders=question.feeders,
        sweep=question.sweep,
    )


def draw_pick(rate_request: RateRequest) -> str:
    """Draw a pick over the crank circle, with the weft that uses most of its strength.

    Raises:
        InputError: Something cannot be read, or no weft is stated.
    """
    case = resolve_rate_request(rate_request)
    if not case.wefts:
        raise InputError.of(
            "/weft",
            "Give weft, or a construction: the drawing shows the tension of the weft.",
            allowed='a yarn such as {"designation": "Ne 20", "fibre": "cotton"}',
        )
    return _drawn(case)


def _drawn(case: RateCase) -> str:
    width_cm = case.reed_width_cm
    speed = speed_limit(case.speed_limits(reed_width_cm=width_cm)).picks_per_min
    hardest = max(
        (weft.loaded for weft in case.wefts),
        key=lambda weft: (
            weft.tension(speed_picks_per_min=speed, reed_width_cm=width_cm).strength_use_pct
        ),
    )
    return insertion_svg(
        hardest.motion, hardest.strained, speed_picks_per_min=speed, reed_width_cm=width_cm
    )
