"""``/v1/looms``: the loom park of the service."""

from __future__ import annotations

from typing import Any, Final

from flask import Response, request

from weavability.answers.caution import CAUTION
from weavability.answers.validation import ruleset
from weavability.looms.loom_limits import resolve_loom
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import is_current, json_answer, not_modified
from weavability.service.operations import Parameter, operation
from weavability.service.requests.canonical import canonical, digest
from weavability.service.requests.park import ParkLoom
from weavability.service.schemas.loom_schema import LOOM_ID

_LOOM: Final = {"$ref": "#/components/schemas/Loom"}
_PARK: Final = {
    "type": "object",
    "description": "The loom park.",
    "properties": {
        "park": {
            "type": "string",
            "description": "Digest of the park: it changes when a loom does.",
        },
        "looms": {
            "type": "array",
            "description": "Every loom as stated, and its limits that are assumed.",
            "items": _LOOM,
        },
        "caution": {"type": "string", "description": "What a computed result is not."},
    },
    "required": ["park", "looms", "caution"],
    "additionalProperties": False,
}


@operation("GET", "/v1/looms", tag="Looms", answer=_PARK, answer_words="The park", conditional=True)
def list_looms() -> Response:
    """List the looms of the park.

    Each loom is listed as in the park file. Limits that it does not state are assumed: `assumed`
    has each with its value, the band in which it is expected, its grade and its reason, as a report
    lists them in `assumptions`.
    """
    park = state.current().park
    etag = digest(park.digest.encode(), ruleset().encode())
    if is_current(request, etag):
        return not_modified(etag)
    looms = [_shown(each) for each in park.looms.values()]
    return json_answer({"park": park.digest, "looms": looms, "caution": CAUTION}, etag=etag)


def _shown(loom: ParkLoom) -> dict[str, Any]:
    return {**loom.document, "assumed": resolve_loom(loom.loom).assumptions}


@operation(
    "GET",
    "/v1/looms/{loom_id}",
    tag="Looms",
    answer=_LOOM,
    answer_words="The loom",
    parameters=(
        Parameter(
            name="loom_id",
            place="path",
            description="Name of the loom in the park.",
            example="rapier-190-dobby",
            pattern=f"^{LOOM_ID}$",
        ),
    ),
    problems=(problems.NOT_FOUND,),
    conditional=True,
)
def show_loom(loom_id: str) -> Response:
    """Show one loom of the park.

    The answer can be sent as the `loom` of a request: `assumed`, the limits that it does not state,
    and `caution` are not read then.
    """
    park = state.current().park
    found = park.get(loom_id)
    if found is None:
        near = ", ".join(park.suggestions(loom_id))
        raise ProblemError(
            kind=problems.NOT_FOUND,
            detail=f"{park.unknown(loom_id).message} Looms here: {near}. GET /v1/looms lists all.",
        )
    etag = digest(canonical(found.document), ruleset().encode())
    if is_current(request, etag):
        return not_modified(etag)
    return json_answer({**_shown(found), "caution": CAUTION}, etag=etag)
