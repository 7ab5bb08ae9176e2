"""``/v1/loom-matches``: the looms for a construction, the best first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from flask import Response, request

from weavability.answers.loom_match import MOST_LOOMS_DECIDED, MatchReport
from weavability.answers.loom_matching import match_looms, with_decisive_assumptions
from weavability.service import state
from weavability.service.batches.batch_answer import (
    FORMS,
    IGNORE_COLUMNS,
    Batch,
    answer_batch,
    ignores_columns,
)
from weavability.service.batches.csv_matches import MATCHES_SHEET, ORDERS_TO_MATCH
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body, require_media_type
from weavability.service.http.responses import JSON, is_current, json_answer, not_modified
from weavability.service.http.suggestions import did_you_mean
from weavability.service.http.work import spend, spend_values, units_of
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import (
    MOST_HINTS,
    ResolvedForLooms,
    resolve_for_looms,
)
from weavability.service.requests.park import Park
from weavability.service.schemas.faults import escape
from weavability.service.schemas.request_schemas import (
    LoomMatchRequest,
    LoomMatchRequestSchema,
)
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import NO_WORDS, say

_SCHEMA: Final = LoomMatchRequestSchema()


def resolved(given: object, park: Park) -> ResolvedForLooms[LoomMatchRequest]:
    """Read a request and find its looms.

    Raises:
        InputError: With every fault of the request, unknown looms among them.
    """
    found = resolve_for_looms(_SCHEMA, given, park)
    names = [loom.loom_id for loom in found.looms if loom.loom_id]
    faults = list(_not_tried(found.request, names))
    if faults:
        raise InputError(faults)
    return found


def _not_tried(read: LoomMatchRequest, names: Sequence[str]) -> Iterator[Fault]:
    """Yield a fault for each construction on a loom that is not among those to try."""
    known = frozenset(names)
    strangers = [loom_id for loom_id in read.on_loom if loom_id not in known]
    for place, loom_id in enumerate(strangers):
        hint = did_you_mean(loom_id, names) if place < MOST_HINTS else NO_WORDS
        message = say(
            "fault.matches.not_to_try", "This loom is not among those to try.{hint}", hint=hint
        )
        yield Fault(f"/on_loom/{escape(loom_id)}", message, loom_id, names)


def ranked(found: ResolvedForLooms[LoomMatchRequest]) -> MatchReport:
    """Judge the cloth on every loom."""
    read = found.request
    spend(units_of(read.construction) * len(found.looms))
    report = match_looms(
        read.construction,
        found.looms,
        on_loom=read.on_loom,
        prices=read.prices,
        rank_by=read.rank_by,
    )
    if read.options.decisive_assumptions:
        report = with_decisive_assumptions(report, read.construction, found.looms, spend_values)
    return report


@operation(
    "POST",
    "/v1/loom-matches",
    tag="Loom matches",
    body=_SCHEMA,
    answer=MatchReport,
    answer_words="Every loom, the best first",
    examples={
        "whole_park": {"construction": example_requests.CONSTRUCTION},
        "with_what_is_on_the_looms": example_requests.LOOM_MATCH,
    },
    problems=(*problems.OF_BODIES, problems.UNREADABLE_CSV),
    query=True,
    batches=FORMS,
    parameters=(IGNORE_COLUMNS,),
    quotes={"most_decided": MOST_LOOMS_DECIDED},
)
def rank_looms() -> Response:
    """Rank the looms for a construction.

    The answer lists every loom of the park, or of the request, with verdict, codes of findings,
    speed and hours, and the reason for its rank in a sentence. `ranked_by` states the order. With
    `prices` each has its costs; such an answer has no entity tag and is not to be stored.
    With `options.decisive_assumptions` the {most_decided} best say which assumed values turn their
    verdict.

    Many orders come as newline-delimited JSON or as a sheet, and are answered one by one as they
    are ranked: a line for each order, or a row for each order on each loom. A sheet may have the
    columns `loom_ids` and `rank_by`; its column `loom_id` is left unread, since the order is tried
    on every loom.
    """
    here = state.current()
    ignore_columns = ignores_columns()
    if request.mimetype in FORMS:
        return answer_batch(
            Batch(
                judge=lambda given: ranked(resolved(given, here.park)),
                member="report",
                orders=ORDERS_TO_MATCH,
                sheet=MATCHES_SHEET,
            ),
            ignore_columns=ignore_columns,
        )
    require_media_type(request, JSON, *FORMS)
    given = json_body(request, longest=here.settings.max_body_bytes)
    found = resolved(given, here.park)
    # The tag does not depend on prices, so that an answer with costs has none and is not stored.
    etag = found.etag if found.request.prices is None else None
    if etag is not None and is_current(request, etag):
        return not_modified(etag)
    return json_answer(ranked(found), etag=etag)
