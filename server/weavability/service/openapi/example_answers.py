"""The answers of the service to the examples: given by the service itself, never by hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import cached_property, partial
from hashlib import sha256
from itertools import islice
from typing import Any, Final

import orjson
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from weavability.service import state
from weavability.service.access.request_guard import UNLIMITED, Guard
from weavability.service.access.tokens import Caller, Callers, Scope
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError, ProblemType
from weavability.service.http.responses import CSV, HTML, JSON, PNG
from weavability.service.openapi import example_requests
from weavability.service.operations import Operation
from weavability.service.settings import Settings

REQUEST_ID: Final = "an-example"

_DIGEST: Final = re.compile(
    r'(?P<before>"(?:ruleset|validation_id|etag|park)":"|,)'  # a member of JSON, or a cell
    r'(?P<digest>[0-9a-f]{16,32})(?P<after>"|,|\r\n)'
)
_DIGITS: Final = 4 * "0123456789abcdef"

LONGEST_TEXT: Final = 40_000
"""Longest drawing or page that is shown; the service gives longer ones."""
LONGEST_JSON: Final = 120_000
"""Longest answer in JSON that is shown whole, in characters."""
SHOWN_OF_A_LIST: Final = 2
"""Items that are shown of each list of a longer one."""

_PATH: Final = "/v1/validations"
_METRICS_TOKEN: Final = "metrics-only"  # noqa: S105 -- the token of an example


def example_bodies(operation: Operation) -> Iterator[tuple[str, str, Any]]:
    """Yield media type, name and value of every body that is shown for an operation."""
    for name, value in operation.examples.items():
        yield JSON, name, value
    for media_type in operation.batches:
        yield media_type, "orders", _batch(operation, media_type)


_LINES: Final[Mapping[str, tuple[Mapping[str, object], ...]]] = {
    "ValidationRequest": ({"loom_id": "rapier-190-dobby"}, {"loom_id": "rapier-190-doby"}),
    "LoomMatchRequest": (
        {"loom_ids": ["rapier-190-dobby", "rapier-190-cam"]},
        {"loom_ids": ["rapier-190-doby"]},
    ),
}
"""What is beside the construction in the lines that are shown, by the title of a request."""


def _batch(operation: Operation, media_type: str) -> str:
    """Return the batch that is shown for an operation: its last item has a slip of the pen."""
    if media_type == CSV or operation.body is None:
        return example_requests.ORDERS_CSV
    return "".join(
        f"{orjson.dumps({'construction': example_requests.SMALL_CONSTRUCTION, **each}).decode()}\n"
        for each in _LINES[operation.body.title]
    )


_JSON_HEADER: Final = {"Content-Type": JSON}
_PROVOKED: Final[Mapping[ProblemType, Mapping[str, Any]]] = {
    problems.UNREADABLE_JSON: {
        "data": b'{"construction": {"width_cm": NaN}}',
        "headers": _JSON_HEADER,
    },
    problems.UNREADABLE_CSV: {"data": b"\n", "headers": {"Content-Type": CSV}},
    problems.NOT_FOUND: {"path": "/v1/looms/rapier-190-doby", "method": "GET"},
    problems.METHOD_NOT_ALLOWED: {"path": "/v1/looms", "method": "DELETE"},
    problems.NOT_ACCEPTABLE: {
        "path": "/v1/looms",
        "method": "GET",
        "headers": {"Accept": "image/png"},
    },
    problems.BODY_TOO_LARGE: {
        "environ_overrides": {"CONTENT_LENGTH": str(2 * Settings().max_body_bytes)},
        "headers": _JSON_HEADER,
    },
    problems.UNSUPPORTED_MEDIA_TYPE: {
        "data": b"construction=1",
        "headers": {"Content-Type": "application/x-www-form-urlencoded"},
    },
    problems.INVALID_REQUEST: {"json": example_requests.FAULTY_VALIDATION},
}


class ExampleAnswers:
    """Sends the examples to applications that are made for it, with the demo park.

    Args:
        make: Makes an application.
    """

    def __init__(self, make: Callable[[Settings], Flask]) -> None:
        self._make = make

    @cached_property
    def _client(self) -> FlaskClient:
        return self._make(Settings()).test_client()

    def answers(self, operation: Operation) -> Iterator[tuple[str, str, Any]]:
        """Yield media type, name and value of the answer to every body, in every form.

        Raises:
            ValueError: The service refuses one of its own examples.
        """
        for media_type in operation.media_types:
            if media_type in (HTML, PNG):
                continue  # pages are for browsers, and /docs shows this very document
            most = None if media_type == JSON else 1  # of drawings, one is enough
            for name, sent in islice(_requests(operation), most):
                yield from self._answer(operation, media_type, name, sent)
        for given, forms in operation.batches.items():
            sent = {"data": _batch(operation, given), "headers": {"Content-Type": given}}
            yield from self._answer(operation, forms[0], "orders", sent)

    def _answer(
        self, operation: Operation, media_type: str, name: str, sent: Mapping[str, Any]
    ) -> Iterator[tuple[str, str, Any]]:
        headers = {"Accept": media_type, **sent.get("headers", {})}
        path = _example_path(operation)
        answer = _send(
            self._client, **{**sent, "headers": headers}, method=operation.method, path=path
        )
        if answer.status_code != 200:
            raise ValueError(f"the example of {operation.method} {path} fails: {answer.text}")
        text = _without_digests(answer.text)
        if media_type == JSON:
            whole = orjson.loads(text)
            yield media_type, name, whole if len(text) <= LONGEST_JSON else _shortened(whole)
        elif path == "/metrics":
            yield media_type, name, _without_counts(answer.text)
        elif len(text) <= LONGEST_TEXT or media_type in operation.batches:
            yield media_type, name, text

    def problem(self, kind: ProblemType) -> Any:
        """Return a problem of this kind: provoked if a request can, else as it would be written."""
        if kind in _PROVOKED:
            return _provoked(self._client, _PROVOKED[kind])
        if kind in (problems.UNAUTHORIZED, problems.FORBIDDEN):
            token = {"Authorization": f"Bearer {_METRICS_TOKEN}"} if kind.status == 403 else {}
            return _provoked(self._guarded_client, {"headers": token})
        if kind is problems.TOO_MANY_REQUESTS:
            client = self._make(Settings(requests_per_min=1)).test_client()
            send = partial(_provoked, client, {"path": "/v1/looms", "method": "GET"})
            return [send() for _ in range(2)][-1]
        written = ProblemError(kind=kind, detail=kind.detail)
        return orjson.loads(orjson.dumps(written.document(path=_PATH, request_id=REQUEST_ID)))

    @cached_property
    def _guarded_client(self) -> FlaskClient:
        """A client of a service whose only token cannot judge anything."""
        app = self._make(Settings())
        only = Caller(
            name="monitoring",
            digest=sha256(_METRICS_TOKEN.encode()).digest(),
            scopes=frozenset({Scope.METRICS}),
        )
        with app.app_context():
            found = state.current()
        state.keep(app.extensions, replace(found, guard=Guard(Callers((only,)), UNLIMITED)))
        return app.test_client()


def _shortened(part: Any) -> Any:
    """Return a part of an answer with the first items of its lists."""
    if isinstance(part, dict):
        return {name: _shortened(each) for name, each in part.items()}
    if isinstance(part, list):
        return [_shortened(each) for each in part[:SHOWN_OF_A_LIST]]
    return part


def _requests(operation: Operation) -> Iterator[tuple[str, dict[str, Any]]]:
    for name, body in operation.examples.items():
        yield name, {"json": body}
    if operation.body is None and operation.path != "/openapi.json":
        yield "demo", {}


def _send(client: FlaskClient, **sent: Any) -> TestResponse:
    headers = {"X-Request-Id": REQUEST_ID, **sent.pop("headers", {})}
    return client.open(headers=headers, **sent)


def _provoked(client: FlaskClient, sent: Mapping[str, Any]) -> Any:
    return orjson.loads(_send(client, **{"path": _PATH, "method": "POST", **sent}).data)


def _without_digests(answer: str) -> str:
    """Put the same digits into every digest, so that no commit of the core changes the document."""
    return _DIGEST.sub(
        lambda found: found["before"] + _DIGITS[: len(found["digest"])] + found["after"], answer
    )


def _without_counts(metrics: str) -> str:
    """Keep what is the same every time."""
    return "".join(line for line in metrics.splitlines(keepends=True) if line.startswith("#"))


def _example_path(operation: Operation) -> str:
    path = operation.path
    for parameter in operation.parameters:
        path = path.replace(f"{{{parameter.name}}}", parameter.example)
    return path
