"""``/v1/messages``: every sentence of an answer by its key, for a translation."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import is_current, json_answer, not_modified
from weavability.service.openapi.message_list import FINDING, KINDS, MessageList, known_messages
from weavability.service.operations import Parameter, operation
from weavability.textiles.sentences import say

_ALL_KINDS: Final = (FINDING, *KINDS)
KIND: Final = Parameter(
    name="kind",
    place="query",
    description=f"Only sentences of this kind: {', '.join(_ALL_KINDS)}.",
    example="problem",
    pattern=f"^({'|'.join(_ALL_KINDS)})$",
)


@operation(
    "GET",
    "/v1/messages",
    tag="Service",
    answer=MessageList,
    answer_words="The sentences",
    parameters=(KIND,),
    problems=(problems.INVALID_REQUEST,),
    conditional=True,
)
def list_messages() -> Response:
    """List every sentence that an answer may have, by its key.

    Findings, assumptions and the faults of a problem have a key and values beside their English
    text. A program that translates has a pattern of its own for each key listed here.
    """
    kind = request.args.get(KIND.name)
    if kind is not None and kind not in _ALL_KINDS:
        raise ProblemError(
            kind=problems.INVALID_REQUEST,
            detail=say(
                "problem.parameter_not_one_of",
                "{parameter} must be {allowed}, not {given!r}.",
                parameter=KIND.name,
                allowed=" or ".join(_ALL_KINDS),
                given=kind[:40],
            ),
        )
    known, etag = known_messages(kind)
    return not_modified(etag) if is_current(request, etag) else json_answer(known, etag=etag)
