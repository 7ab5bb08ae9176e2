"""``/v1/loom-matches``: which loom to take."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from flask import Response, request

from weavability.answers.loom_matching import MatchReport, match_looms
from weavability.looms.loom import Loom
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body
from weavability.service.http.responses import is_current, json_answer, not_modified
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.loom_choice import tag
from weavability.service.requests.park import Park, ParkLoom
from weavability.service.requests.suggestions import did_you_mean
from weavability.service.schemas.faults import escape
from weavability.service.schemas.loom_schema import LOOM_ID
from weavability.service.schemas.request_schemas import (
    MOST_LOOMS_MATCHED,
    LoomMatchRequest,
    LoomMatchRequestSchema,
)
from weavability.textiles.errors import Fault, InputError

_SCHEMA: Final = LoomMatchRequestSchema()
# Comparing a name with those of a large park takes a tenth of a second.
_MOST_HINTS: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Matchable:
    """A request that is known to be good, with the identity of its answer; no rule has run yet."""

    request: LoomMatchRequest
    looms: Sequence[Loom]
    etag: str

    def report(self) -> MatchReport:
        """Judge every loom."""
        asked = self.request
        return match_looms(asked.construction, self.looms, on_loom=asked.on_loom)


def matchable(given: object, park: Park) -> Matchable:
    """Read a request and find its looms.

    Raises:
        InputError: With every fault of the request, unknown looms among them.
    """
    faults = list(_unknown_looms(given, park))
    try:
        read = _SCHEMA.read(given)
    except InputError as error:
        raise InputError([*error.faults, *faults]) from None
    if faults:
        raise InputError(faults)
    found = _named(read, park)
    looms = read.looms or tuple(each.loom for each in found)
    faults = list(_not_tried(read, [loom.loom_id for loom in looms if loom.loom_id]))
    if faults:
        raise InputError(faults)
    return Matchable(request=read, looms=looms, etag=tag(given, *(each.limits for each in found)))


def _unknown_looms(given: object, park: Park) -> Iterator[Fault]:
    """Say which looms the park has not, beside whatever else is wrong; the first with a hint."""
    loom_ids = given.get("loom_ids") if isinstance(given, dict) else None
    if not isinstance(loom_ids, list):
        return
    unknown = [
        (index, loom_id)
        for index, loom_id in enumerate(loom_ids[:MOST_LOOMS_MATCHED])
        if isinstance(loom_id, str) and re.fullmatch(LOOM_ID, loom_id)
        if loom_id not in park.looms
    ]
    for place, (index, loom_id) in enumerate(unknown):
        if place < _MOST_HINTS:
            try:
                park.find(loom_id)
            except InputError as error:
                yield from error.below(f"/loom_ids/{index}").faults
        else:
            yield Fault(f"/loom_ids/{index}", "There is no loom of this name.", loom_id)


def _named(read: LoomMatchRequest, park: Park) -> list[ParkLoom]:
    """Look up the looms of the park that are asked for; none where looms are stated."""
    if read.looms is not None:
        return []
    if read.loom_ids is None:
        return list(park.looms.values())
    return [park.find(loom_id) for loom_id in read.loom_ids]


def _not_tried(read: LoomMatchRequest, names: Sequence[str]) -> Iterator[Fault]:
    """Say that something is said to be on a loom that is not among those to try."""
    known = frozenset(names)
    strangers = [loom_id for loom_id in read.on_loom if loom_id not in known]
    for place, loom_id in enumerate(strangers):
        hint = did_you_mean(loom_id, names) if place < _MOST_HINTS else ""
        message = f"This loom is not among those that are tried.{hint}"
        yield Fault(f"/on_loom/{escape(loom_id)}", message, loom_id, names)


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
    problems=problems.OF_BODIES,
    query=True,
)
def match() -> Response:
    """Rank the looms for a construction.

    Every loom of the park, or of the request, with verdict, codes of findings, speed and hours,
    and the reason for its place in a line. The order is that of `ranked_by`.
    """
    here = state.current()
    given = json_body(request, longest=here.settings.max_body_bytes)
    asked = matchable(given, here.park)
    if is_current(request, asked.etag):
        return not_modified(asked.etag)
    return json_answer(asked.report(), etag=asked.etag)
