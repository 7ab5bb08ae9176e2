"""``/v1/weaves``: the notations of a weave, and the analysis of one."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.weave_analysis.analysis import examine_weave
from weavability.answers.weave_analysis.answer import WeaveSheet
from weavability.drawing.weave_view import draw_weave
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.json_or_page import JSON_OR_HTML, data_or_page
from weavability.service.http.json_or_svg import JSON_OR_SVG, figures_or_drawing
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.pages import weaves_page
from weavability.service.requests.canonical import canonical
from weavability.service.requests.loom_choice import identity
from weavability.service.requests.weave_notations import WeaveNotations, known_notations
from weavability.service.schemas.weave_request_schema import WeaveRequestSchema

_SCHEMA: Final = WeaveRequestSchema()


@operation(
    "GET",
    "/v1/weaves",
    tag="Weaves",
    answer=WeaveNotations,
    answer_words="The notations, forms and names",
    media_types=JSON_OR_HTML,
    conditional=True,
)
def list_weave_notations() -> Response:
    """List the notations of a weave, and the names by which the trade calls weaves.

    Each notation has an example that can be sent as the `weave` of a construction, or to
    `POST /v1/weaves`. A browser gets a page.
    """
    known, etag = known_notations()
    return data_or_page(etag, compute=lambda: known, render=lambda: weaves_page.render(known))


@operation(
    "POST",
    "/v1/weaves",
    tag="Weaves",
    body=_SCHEMA,
    answer=WeaveSheet,
    answer_words="The analysis of the weave",
    examples={
        "checked_twill": example_requests.WEAVE,
        "rows": {"weave": {"rows": ["1001", "0110", "1100", "0011"]}},
        "lift_plan_on_a_dobby": example_requests.WEAVE_ON_DOBBY,
        "stripes_on_a_jacquard": example_requests.WEAVE_ON_JACQUARD,
    },
    problems=problems.OF_BODIES,
    media_types=JSON_OR_SVG,
    query=True,
)
def analyse_weave() -> Response:
    """Analyse a weave.

    The answer states repeat, floats, interlacings, whether the cloth holds together, shafts, drafts
    and lift plans, hooks, colours and faults. With `Accept: image/svg+xml` the weave is drawn: as
    point paper with threading and lift plan, first pick at the bottom and first end at the left,
    or, by `view`, as the face of the cloth in its colours.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    read = _SCHEMA.read(given)
    return figures_or_drawing(
        identity(canonical(given)),
        compute=lambda: examine_weave(read.request),
        draw=lambda: draw_weave(read.request, view=read.view.value),
    )
