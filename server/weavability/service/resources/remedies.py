"""``/v1/remedies``: the smallest proved changes that make an order weavable."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.answers.remedy_search import (
    MOST_LOOMS_SEARCHED,
    UNITS_OF_A_LOOM,
    RemedyReport,
    search_remedies,
)
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.responses import json_answer
from weavability.service.http.work import spend, units_of
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.canonical import digest
from weavability.service.requests.loom_choice import resolve_for_looms
from weavability.service.schemas.request_schemas import RemedyRequestSchema

_SCHEMA: Final = RemedyRequestSchema()


@operation(
    "POST",
    "/v1/remedies",
    tag="Remedies",
    body=_SCHEMA,
    answer=RemedyReport,
    answer_words="The remedies on each loom, and the looms that need none",
    examples={"too_wide": example_requests.REMEDIES},
    problems=problems.OF_BODIES,
    quotes={"most_looms": MOST_LOOMS_SEARCHED, "units": UNITS_OF_A_LOOM},
)
def find_remedies() -> Response:
    """Find the smallest changes that make an order weavable.

    For every error and warning the changes that clear it, each proved by judging the changed order
    again: setts, width, panels, speed, reed, draft, yarn of a usual count, a weave of the same
    family, two feeders, a second beam. Two fields are changed together if no single change does.
    They are listed by `distance`, how far the order is changed; `alters` says what else changes,
    with `prices` also the cost of a metre. `not_found` says what was tried in vain. Without a loom,
    the {most_looms} best ranked looms of the park are searched; `other_looms` lists those that
    weave the order as it is. A search takes {units} times the work of judging the order for each
    loom, and that of judging it for each other one.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolve_for_looms(_SCHEMA, given, here.park)
    read = found.request
    # The tag does not depend on prices, so that an answer with costs has none and is not stored.
    etag = digest(found.etag.encode(), here.park.digest.encode()) if read.prices is None else None
    park = [each.loom for each in here.park.looms.values()]
    others = park if len(found.looms) == 1 else found.looms
    searched = min(len(found.looms), MOST_LOOMS_SEARCHED)
    spend(units_of(read.construction) * (len(others) + UNITS_OF_A_LOOM * searched))
    report = search_remedies(read.construction, found.looms, others, prices=read.prices)
    return json_answer(report, etag=etag)
