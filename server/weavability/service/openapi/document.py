"""The OpenAPI 3.1 document: paths from the operations, examples answered by the service."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import orjson

from weavability import __version__
from weavability.service.access.tokens import scope_of
from weavability.service.http.problems import Problem
from weavability.service.http.responses import JSON
from weavability.service.openapi.batch_bodies import BATCH_BODIES
from weavability.service.openapi.documented_responses import HEADERS, Responses
from weavability.service.openapi.example_answers import ExampleAnswers, example_bodies
from weavability.service.openapi.json_schema import Components
from weavability.service.operations import Operation, Parameter
from weavability.service.schemas.base import Body
from weavability.service.schemas.fields import TEXT_PATTERN, Shape
from weavability.service.schemas.weave_schema import weave_shape

_DESCRIPTION: Final = (
    "States whether a woven construction can be made on a loom, how fast it runs there and how the "
    "loom is set up. The name of a measured figure has its unit, or `unit` beside it states it; "
    "counts and ratios have none. `null` in a request means the same as omitting the field; in an "
    "answer it means that a figure does not apply, is not known, or was not requested. Nothing is "
    "stored: the same request gives the same answer from any replica. A computed result is not a "
    "safety approval: follow the machine maker's instructions and local rules."
    "\n\n"
    "Within `/v1` fields, codes and routes are added, never renamed or removed: `x-since` names "
    "the version that added a field, and a program ignores what it does not know. What is to go is "
    "marked `deprecated` here for at least a year and two minor versions, and goes with `/v2` at "
    "the earliest. Where a figure of an answer changes, `server/docs/changes.md` lists it under "
    "*Answers changed*; `ruleset` changes with every such version. `x-unit` is the unit of a "
    "figure in UCUM, `x-unit-in` states where the unit is found."
)
_SERVER: Final = {
    "url": "/",
    "description": "The service that serves this document, in production or in a test",
    "x-internal": True,
}
_TAGS: Final = {
    "Validations": "A construction judged against a loom's limits",
    "Loom matches": "The looms for a construction, ranked",
    "Remedies": "The smallest changes that make an order weavable",
    "Windows": "What can be woven if two fields of an order are varied",
    "Insertion rates": "Weft insertion: speed, motion and tension of the weft",
    "Change-overs": "From one style to another on a loom",
    "Weaves": "The analysis of a weave on its own, and drawings of it",
    "Designs": "Figured designs for a Jacquard, on the tie of its harness",
    "Looms": "The loom park",
    "Checks": "The checks, their limits and the sources of these",
    "Service": "About the service itself",
}
# OpenAPI 3.1 has no place for methods of its own.
_QUERY_TOO: Final = (
    "The method QUERY (RFC 10008) does the same, with the same body: it is safe and repeatable, "
    "and with `If-None-Match` its status is 304 before any rule runs."
)
_BEARER: Final = {
    "type": "http",
    "scheme": "bearer",
    "description": "A token (RFC 6750) that the operator of the service issued, with the scope "
    "`metrics` for /metrics or `validate` for everything else. Browsers send it as the password of "
    "HTTP Basic (RFC 7617), with any name, so that links open in them. A service that only its own "
    "machine can reach needs no token.",
}


def document(operations: Iterable[Operation], examples: ExampleAnswers) -> Mapping[str, Any]:
    """Make the document; it is the same for every park.

    Args:
        operations: The operations, in the order in which they are listed.
        examples: Answers the example requests.
    """
    components = Components()
    responses = Responses(components, examples)
    components.schemas["Weave"] = weave_shape()
    paths: dict[str, dict[str, Any]] = {}
    for operation in operations:
        method = operation.method.lower()
        paths.setdefault(operation.path, {})[method] = _described(operation, responses)
    components.answer(Problem)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Weavability",
            "version": __version__,
            "summary": "Judges woven constructions against loom limits",
            "description": _DESCRIPTION,
        },
        "servers": [_SERVER],
        "tags": [{"name": name, "description": words} for name, words in _TAGS.items()],
        "paths": paths,
        "components": {
            "schemas": dict(sorted(components.schemas.items())),
            "responses": dict(sorted(components.responses.items())),
            "headers": HEADERS,
            "securitySchemes": {"bearer": _BEARER},
        },
    }


def written(document: Mapping[str, Any]) -> bytes:
    """Return a document as it is committed: indented, with a last line break."""
    return orjson.dumps(document, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)


def _described(operation: Operation, responses: Responses) -> Shape:
    facts: Shape = {
        "operationId": operation.name,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": _explained(operation),
        "security": _security(operation),
        "parameters": _parameters(operation),
        "responses": responses.of(operation),
    }
    if operation.body is not None:
        facts["requestBody"] = _request_body(operation, operation.body, responses.components)
    return facts


def _security(operation: Operation) -> list[Shape]:
    """Return no token, or a token if the service needs one: both are listed, the stricter last."""
    return [{}, {"bearer": []}] if scope_of(operation.path, page=True) else []


def _explained(operation: Operation) -> str:
    return f"{operation.description} {_QUERY_TOO}" if operation.query else operation.description


def _request_body(operation: Operation, body: Body[Any], components: Components) -> Shape:
    content: dict[str, dict[str, Any]] = {JSON: {"schema": components.body(body), "examples": {}}}
    for media_type in operation.batches:
        content[media_type] = {"schema": BATCH_BODIES[media_type](body), "examples": {}}
    for media_type, name, value in example_bodies(operation):
        content[media_type]["examples"][name] = {"value": value}
    return {"required": True, "description": body.title, "content": content}


def _parameters(operation: Operation) -> list[Shape]:
    found = [_parameter(each) for each in operation.parameters]
    if operation.conditional:
        found.append(
            _header(
                "If-None-Match",
                "Entity tag that the caller has; the status is 304 while it is current.",
            )
        )
    found.append(
        _header(
            "X-Request-Id",
            "The caller's own id of the request, for logs: up to 128 letters, digits and "
            "`._~:+/=@-`; anything else is replaced by a new id.",
        )
    )
    return found


def _parameter(parameter: Parameter) -> Shape:
    return {
        "name": parameter.name,
        "in": parameter.place,
        "required": parameter.place == "path",
        "description": parameter.description,
        "schema": {
            "type": "string",
            # An empty parameter of an address is the same as none.
            **({"minLength": 1} if parameter.place == "path" else {}),
            "maxLength": 4096,
            "pattern": parameter.pattern or TEXT_PATTERN,
        },
        "example": parameter.example,
    }


def _header(name: str, words: str) -> Shape:
    return {
        "name": name,
        "in": "header",
        "required": False,
        "description": words,
        "schema": {"type": "string"},
    }
