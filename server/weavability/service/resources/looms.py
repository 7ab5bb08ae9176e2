"""``/v1/looms``: the loom park of the service."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import is_current, json_answer, not_modified
from weavability.service.operations import Parameter, operation
from weavability.service.requests.canonical import canonical, digest
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
        "looms": {"type": "array", "description": "Every loom as stated.", "items": _LOOM},
    },
    "required": ["park", "looms"],
    "additionalProperties": False,
}


@operation("GET", "/v1/looms", tag="Looms", answer=_PARK, answer_words="The park", conditional=True)
def list_looms() -> Response:
    """List the looms of the park.

    Each loom is listed as in the park file. Limits that it does not state are assumed, and a report
    lists them in `assumptions`.
    """
    park = state.current().park
    if is_current(request, park.digest):
        return not_modified(park.digest)
    looms = [each.document for each in park.looms.values()]
    return json_answer({"park": park.digest, "looms": looms}, etag=park.digest)


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

    The answer can be sent as the `loom` of a request.
    """
    park = state.current().park
    found = park.get(loom_id)
    if found is None:
        near = ", ".join(park.suggestions(loom_id))
        raise ProblemError(
            kind=problems.NOT_FOUND,
            detail=f"{park.unknown(loom_id).message} Looms here: {near}. GET /v1/looms lists all.",
        )
    etag = digest(canonical(found.document))
    if is_current(request, etag):
        return not_modified(etag)
    return json_answer(found.document, etag=etag)
