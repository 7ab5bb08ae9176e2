"""``/v1/designs``: a figured design on the harness of a loom."""

from __future__ import annotations

from typing import Final

from flask import Response, g, request

from weavability.answers.design_section import figured_cloth_of
from weavability.answers.design_sheet import DesignSheet, judge_design
from weavability.answers.validation import judge
from weavability.drawing.design_view import draw_design, draw_window
from weavability.drawing.point_paper_picture import point_paper_png
from weavability.looms.figured_warp import woven_on
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.json_or_svg import SVG, figures_or_drawing, picture_answer
from weavability.service.http.responses import JSON, PNG, is_current, not_modified
from weavability.service.http.work import spend_order
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import ResolvedRequest, resolve_request
from weavability.service.schemas.design_request_schema import (
    DesignRequest,
    DesignRequestSchema,
    DesignView,
    Paper,
    Window,
)
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Matrix

_SCHEMA: Final = DesignRequestSchema()


@operation(
    "POST",
    "/v1/designs",
    tag="Designs",
    body=_SCHEMA,
    answer=DesignSheet,
    answer_words="The design as the loom weaves it",
    examples={"damask_on_a_centred_tie": example_requests.DESIGN},
    problems=problems.OF_BODIES,
    media_types=(JSON, SVG, PNG),
    query=True,
)
def analyse_design() -> Response:
    """Analyse a figured design on the harness of a loom.

    A picture with a weave for each colour is laid on the hooks, woven through the tie, and judged
    as a whole, with the findings of its validation. The answer states hooks, picks and cards,
    floats before and after the correction, take-up and tightness by place, and the load of the
    lift. With `Accept: image/svg+xml` the design is drawn, or a window of its point paper; with
    `Accept: image/png` the point paper is a picture, one pixel a hook and pick, which can be sent
    as a weave.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_request(_SCHEMA, given, here.park)
    spend_order(found.request.construction)
    if g.media_type == PNG:
        return _picture(found)
    return figures_or_drawing(
        found.etag,
        compute=lambda: judge_design(found.request.construction, found.loom),
        draw=lambda: _drawn(found),
    )


def _drawn(found: ResolvedRequest[DesignRequest]) -> str:
    options = found.request.options
    fit = judge(found.request.construction, found.loom)
    if options.view is DesignView.OVERVIEW:
        return draw_design(fit)
    window, lift = options.window, figured_cloth_of(fit).correction.lift
    _refuse_beyond(window, picks=len(lift), hooks=lift.shape[1])
    return draw_window(
        fit,
        first_hook=window.first_hook,
        first_pick=window.first_pick,
        hooks=window.hooks,
        picks=window.picks,
    )


def _refuse_beyond(window: Window, *, picks: int, hooks: int) -> None:
    """Refuse a window that begins beyond the design."""
    faults = [
        Fault(
            f"/options/window/{name}",
            say(
                "fault.design.window_beyond",
                "The design has {most} {words}, and the window begins at {first}.",
                most=most,
                words=words,
                first=first,
            ),
            first,
            f"1 to {most}",
        )
        for name, first, most, words in (
            ("first_hook", window.first_hook, hooks, "hooks"),
            ("first_pick", window.first_pick, picks, "picks"),
        )
        if first > most
    ]
    if faults:
        raise InputError(faults)


def _picture(found: ResolvedRequest[DesignRequest]) -> Response:
    etag = f"{found.etag}-png"
    headers = {"Vary": "Accept"}
    if is_current(request, etag):
        return not_modified(etag, headers=headers)
    return picture_answer(point_paper_png(_paper(found)), PNG, etag=etag, headers=headers)


def _paper(found: ResolvedRequest[DesignRequest]) -> Matrix:
    construction, paper = found.request.construction, found.request.options.paper
    woven = woven_on(construction, found.loom)
    if paper is Paper.CLOTH or woven.figured is None:
        return woven.weave.matrix
    uncorrected, corrected = woven.figured.lifts.lift, woven.figured.correction.lift
    return uncorrected if paper in (Paper.UNCORRECTED, Paper.ASKED) else corrected
