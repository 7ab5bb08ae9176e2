"""``/v1/looms``: the loom park of the service."""

from __future__ import annotations

from typing import Any, Final

from flask import Response

from weavability.answers.caution import CAUTION
from weavability.looms.loom_limits import resolve_loom
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.edition import edition
from weavability.service.http.json_or_page import JSON_OR_HTML, data_or_page
from weavability.service.http.problems import ProblemError
from weavability.service.operations import Parameter, operation
from weavability.service.pages import looms_page
from weavability.service.requests.canonical import canonical, digest
from weavability.service.requests.park import ParkLoom
from weavability.service.schemas.loom_schema import LOOM_ID
from weavability.textiles.sentences import say

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


@operation(
    "GET",
    "/v1/looms",
    tag="Looms",
    answer=_PARK,
    answer_words="The park",
    media_types=JSON_OR_HTML,
    conditional=True,
)
def list_looms() -> Response:
    """List the looms of the park.

    Each loom is listed as in the park file. Limits that it does not state are assumed: `assumed`
    has each with its value, the band in which it is expected, its grade and its reason, as a report
    lists them in `assumptions`. A browser gets a page.
    """
    park = state.current().park
    return data_or_page(
        digest(park.digest.encode(), edition().encode()),
        compute=lambda: {
            "park": park.digest,
            "looms": [_shown(each) for each in park.looms.values()],
            "caution": CAUTION,
        },
        render=lambda: looms_page.render_list(park),
    )


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
    media_types=JSON_OR_HTML,
    conditional=True,
)
def show_loom(loom_id: str) -> Response:
    """Show one loom of the park.

    The answer can be sent as the `loom` of a request: `assumed`, the limits that it does not state,
    and `caution` are not read then. A browser gets a page.
    """
    park = state.current().park
    found = park.get(loom_id)
    if found is None:
        near = ", ".join(park.suggestions(loom_id))
        raise ProblemError(
            kind=problems.NOT_FOUND,
            detail=say(
                "problem.unknown_loom",
                "{fault} Looms here: {near}. GET /v1/looms lists all.",
                fault=park.unknown(loom_id).message,
                near=near,
            ),
        )
    return data_or_page(
        digest(canonical(found.document), edition().encode()),
        compute=lambda: {**_shown(found), "caution": CAUTION},
        render=lambda: looms_page.render(found),
    )
