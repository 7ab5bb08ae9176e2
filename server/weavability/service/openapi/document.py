"""The OpenAPI 3.1 document: paths from the operations, answers as the service really gives them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, Final

import orjson
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from weavability import __version__
from weavability.service import examples, problems, resources
from weavability.service.answers import JSON
from weavability.service.openapi.shapes import Components
from weavability.service.operations import OPERATIONS, Operation, Parameter
from weavability.service.problems import KINDS, Problem, ProblemError, ProblemType
from weavability.service.schemas.fields import Shape
from weavability.service.schemas.weave import weave_shape

_REQUEST_ID: Final = "an-example"
_DESCRIPTION: Final = (
    "Says whether a woven construction can be made on a loom, how fast it runs there and how the "
    "loom is set up. Every number's name ends in its unit. `null` in a request means the same as "
    "leaving the field out; `null` in an answer means: not applicable. Nothing is kept: the same "
    "request gives the same answer from any replica. A computed result is not a safety approval: "
    "follow the machine maker's instructions and local rules."
)
_TAGS: Final = {
    "Validations": "A construction held against a loom's limits",
    "Looms": "The loom park",
    "Checks": "What is checked, against what, and where the limits come from",
    "Service": "About the service itself",
}
_REQUEST_ID_HEADER: Final = {
    "description": "The request id: the caller's own, or one that was made; it is in the log.",
    "schema": {"type": "string", "maxLength": 128},
}
_ETAG_HEADER: Final = {
    "description": "Strong entity tag; send it back in If-None-Match.",
    "schema": {"type": "string"},
}
# OpenAPI 3.1 has no place for methods of its own.
_QUERY_TOO: Final = (
    "The method QUERY (RFC 10008) asks the same, with the same body: it is safe and repeatable, "
    "and with `If-None-Match` it is answered 304 before any rule runs."
)
_EVERYWHERE: Final = (problems.NOT_ACCEPTABLE, problems.INTERNAL_ERROR)


@cache
def document() -> Mapping[str, Any]:
    """Make the document; it is the same for every park, its examples use the demo park."""
    resources.load()
    components = Components()
    components.schemas["Weave"] = weave_shape()
    client = _demo_client()
    paths: dict[str, dict[str, Any]] = {}
    for operation in OPERATIONS.values():
        method = operation.method.lower()
        paths.setdefault(operation.path, {})[method] = _described(operation, components, client)
    components.answer(Problem)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Weavability",
            "version": __version__,
            "summary": "Judges woven constructions against loom limits",
            "description": _DESCRIPTION,
        },
        "servers": [{"url": "/", "description": "The service that serves this document"}],
        "tags": [{"name": name, "description": words} for name, words in _TAGS.items()],
        "paths": paths,
        "components": {
            "schemas": dict(sorted(components.schemas.items())),
            "responses": {slug: _problem_response(kind, client) for slug, kind in KINDS.items()},
            "headers": {"X-Request-Id": _REQUEST_ID_HEADER, "ETag": _ETAG_HEADER},
        },
    }


def written() -> bytes:
    """Return the document as it is committed: indented, with a last line break."""
    return orjson.dumps(document(), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)


def _demo_client() -> FlaskClient:
    # Imported here: the application itself serves this document.
    from weavability.service.app import create_app

    app: Flask = create_app()
    return app.test_client()


def _described(operation: Operation, components: Components, client: FlaskClient) -> Shape:
    answers = _examples(operation, client)
    facts: Shape = {
        "operationId": operation.name,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": _explained(operation),
        "parameters": _parameters(operation),
        "responses": _responses(operation, components, answers),
    }
    if operation.body is not None:
        facts["requestBody"] = {
            "required": True,
            "description": operation.body.title,
            "content": {
                JSON: {
                    "schema": components.body(operation.body),
                    "examples": {
                        name: {"value": body} for name, body in operation.examples.items()
                    },
                }
            },
        }
    return facts


def _explained(operation: Operation) -> str:
    words = operation.description or f"{operation.summary}."
    return f"{words} {_QUERY_TOO}" if operation.query else words


def _parameters(operation: Operation) -> list[Shape]:
    found = [_parameter(each) for each in operation.parameters]
    if operation.conditional:
        found.append(
            _header(
                "If-None-Match", "Entity tag that the caller has; 304 while it is current.", 4096
            )
        )
    found.append(_header("X-Request-Id", "The caller's own id of the request, for logs.", 128))
    return found


def _parameter(parameter: Parameter) -> Shape:
    schema: Shape = {"type": "string", "minLength": 1, "maxLength": 4096}
    if parameter.pattern:
        schema["pattern"] = parameter.pattern
    return {
        "name": parameter.name,
        "in": parameter.place,
        "required": parameter.place == "path",
        "description": parameter.description,
        "schema": schema,
        "example": parameter.example,
    }


def _header(name: str, words: str, longest: int) -> Shape:
    return {
        "name": name,
        "in": "header",
        "required": False,
        "description": words,
        "schema": {"type": "string", "maxLength": longest},
    }


def _responses(
    operation: Operation, components: Components, answers: Mapping[str, Any]
) -> dict[str, Shape]:
    headers: Shape = {"X-Request-Id": {"$ref": "#/components/headers/X-Request-Id"}}
    if operation.conditional or operation.body is not None:
        headers["ETag"] = {"$ref": "#/components/headers/ETag"}
    schema = (
        dict(operation.answer)
        if isinstance(operation.answer, Mapping)
        else components.answer(operation.answer)
    )
    content: dict[str, Shape] = {}
    for media_type in operation.media_types:
        if media_type == JSON:
            content[JSON] = {"schema": schema}
            if answers:
                shown = {name: {"value": value} for name, value in answers.items()}
                content[JSON]["examples"] = shown
        else:
            content[media_type] = {"schema": {"type": "string"}}
    good: Shape = {"description": operation.answer_words, "headers": headers, "content": content}
    found = {"200": good}
    if operation.conditional:
        found["304"] = {"description": "The caller's copy is current", "headers": headers}
    for kind in sorted((*operation.problems, *_EVERYWHERE), key=lambda each: each.status):
        found[str(kind.status)] = {"$ref": f"#/components/responses/{kind.slug}"}
    return found


def _examples(operation: Operation, client: FlaskClient) -> dict[str, Any]:
    """Ask the service itself for the answers that the document shows."""
    if operation.path == "/openapi.json" or JSON not in operation.media_types:
        return {}
    if operation.examples:
        return {
            name: _asked(client, operation.method, operation.path, json=body)
            for name, body in operation.examples.items()
        }
    path = operation.path
    for parameter in operation.parameters:
        path = path.replace(f"{{{parameter.name}}}", parameter.example)
    return {"demo": _asked(client, operation.method, path)}


def _asked(client: FlaskClient, method: str, path: str, **request: Any) -> Any:
    answer = _send(client, method, path, **request)
    if answer.status_code != 200:
        raise ValueError(f"the example of {method} {path} fails: {answer.text}")
    return orjson.loads(answer.data)


def _send(client: FlaskClient, method: str, path: str, **request: Any) -> TestResponse:
    headers = {"X-Request-Id": _REQUEST_ID, **request.pop("headers", {})}
    return client.open(path, method=method, headers=headers, **request)


_PROVOKED: Final[Mapping[ProblemType, Mapping[str, Any]]] = {
    problems.UNREADABLE_JSON: {
        "path": "/v1/validations",
        "method": "POST",
        "data": b'{"construction": {"width_cm": NaN}}',
        "headers": {"Content-Type": JSON},
    },
    problems.NOT_FOUND: {"path": "/v1/looms/R190-doby", "method": "GET"},
    problems.METHOD_NOT_ALLOWED: {"path": "/v1/looms", "method": "DELETE"},
    problems.NOT_ACCEPTABLE: {
        "path": "/v1/looms",
        "method": "GET",
        "headers": {"Accept": "image/png"},
    },
    problems.UNSUPPORTED_MEDIA_TYPE: {
        "path": "/v1/validations",
        "method": "POST",
        "data": b"construction=1",
        "headers": {"Content-Type": "application/x-www-form-urlencoded"},
    },
    problems.INVALID_REQUEST: {
        "path": "/v1/validations",
        "method": "POST",
        "json": examples.FAULTY_VALIDATION,
    },
}


def _problem_response(kind: ProblemType, client: FlaskClient) -> Shape:
    return {
        "description": kind.title,
        "headers": {"X-Request-Id": {"$ref": "#/components/headers/X-Request-Id"}},
        "content": {
            problems.MEDIA_TYPE: {
                "schema": {"$ref": f"#/components/schemas/{Problem.__name__}"},
                "examples": {kind.slug: {"value": _problem_example(kind, client)}},
            }
        },
    }


def _problem_example(kind: ProblemType, client: FlaskClient) -> Any:
    """Provoke the problem where a request can; else write it as the service would."""
    if kind in _PROVOKED:
        return orjson.loads(_send(client, **_PROVOKED[kind]).data)
    problem = ProblemError(kind=kind, detail=kind.advice)
    return orjson.loads(
        orjson.dumps(problem.document(path="/v1/validations", request_id=_REQUEST_ID))
    )
