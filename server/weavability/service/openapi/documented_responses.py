"""The responses of every operation: its answer, and every problem that can occur."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from weavability.service.access.tokens import Scope, scope_of
from weavability.service.http import problems
from weavability.service.http.problems import Problem, ProblemType
from weavability.service.http.responses import JSON
from weavability.service.http.work import UNITS_OF_A_MILLION_CROSSINGS
from weavability.service.openapi.batch_bodies import batch_answer
from weavability.service.openapi.example_answers import ExampleAnswers
from weavability.service.openapi.json_schema import Components
from weavability.service.openapi.ucum import UNIT
from weavability.service.operations import Operation
from weavability.service.requests.report_summary import CAUTION_HEADER
from weavability.service.schemas.fields import Shape

_COUNT: Final[Shape] = {"type": "integer", "format": "int32", "minimum": 0, "maximum": 2**31 - 1}
_WORK: Final[Shape] = {**_COUNT, UNIT: "1"}
_SECONDS: Final[Shape] = {**_COUNT, UNIT: "s"}


def _text(longest: int) -> Shape:
    return {"type": "string", "maxLength": longest, "pattern": "^[ -~]*$"}


HEADERS: Final[Mapping[str, Shape]] = {
    "X-Request-Id": {
        "description": "The request id: the caller's own, or a new one; it is in the log.",
        "schema": _text(128),
    },
    "ETag": {
        "description": "Strong entity tag; send it back in If-None-Match.",
        "schema": _text(80),
    },
    "Content-Location": {
        "description": "Address that gives the same answer again, without the caller's reference; "
        "missing if the request is too long for an address.",
        "schema": _text(4096),
    },
    CAUTION_HEADER: {
        "description": "What a computed result is not, if the lines of the answer are too short "
        "to say so.",
        "schema": _text(200),
    },
    "Location": {
        "description": "Address of the answer, within the service.",
        "schema": _text(8192),
    },
    "Accept-Query": {
        "description": "Media types that the method QUERY accepts here (RFC 10008).",
        "schema": _text(200),
    },
    "RateLimit-Limit": {
        "description": "Units of work that the caller may have done in a minute, if there is a "
        f"limit: one for each order on each loom, {UNITS_OF_A_MILLION_CROSSINGS} for each million "
        "crossings of a design.",
        "schema": _WORK,
    },
    "RateLimit-Remaining": {
        "description": "Units of work that the caller may have done at once now, if there is a "
        "limit: at most ten seconds' worth of it.",
        "schema": _WORK,
    },
    "RateLimit-Reset": {
        "description": "Seconds until ten seconds' worth of work may be done at once again, if "
        "there is a limit.",
        "schema": _SECONDS,
    },
    "Retry-After": {
        "description": "Seconds to wait before the request is sent again.",
        "schema": _SECONDS,
    },
    "WWW-Authenticate": {
        "description": "How the caller identifies itself: as a bearer (RFC 6750), in a browser by "
        "HTTP Basic (RFC 7617).",
        "schema": _text(200),
    },
}
_LIMITS: Final = ("RateLimit-Limit", "RateLimit-Remaining", "RateLimit-Reset")
_HEADERS_OF: Final[Mapping[ProblemType, tuple[str, ...]]] = {
    problems.UNAUTHORIZED: ("WWW-Authenticate",),
    problems.FORBIDDEN: ("WWW-Authenticate",),
    problems.TOO_MANY_REQUESTS: ("Retry-After",),
}

_GUARDED: Final = (problems.UNAUTHORIZED, problems.FORBIDDEN)
_EVERYWHERE: Final = (problems.MALFORMED_HTTP, problems.NOT_ACCEPTABLE, problems.INTERNAL_ERROR)
_WITH_BODY: Final = (problems.REQUEST_TIMEOUT,)
_RARELY: Final = (
    problems.METHOD_NOT_ALLOWED,
    problems.ADDRESS_TOO_LONG,
    problems.HEADERS_TOO_LARGE,
    problems.NOT_READY,
)


class Responses:
    """Makes the responses of operations; what they share goes into ``components``.

    Args:
        components: Collects the schemas and responses that are shared.
        examples: Answers the example requests.
    """

    def __init__(self, components: Components, examples: ExampleAnswers) -> None:
        self.components = components
        self._examples = examples

    def of(self, operation: Operation) -> dict[str, Shape]:
        """Return the responses of an operation by status."""
        found = {"200": self._good(operation)}
        if operation.moves:
            found["303"] = {
                "description": operation.moves,
                "headers": _headers(operation, "Location"),
            }
        if operation.conditional:
            found["304"] = {
                "description": "The caller's copy is current",
                "headers": _headers(operation, "ETag"),
            }
        for status, kinds in groupby(_kinds(operation), key=lambda kind: kind.status):
            found[str(status)] = self._problem(list(kinds))
        found["default"] = self._problem(_RARELY, title="Any other problem")
        return found

    def _good(self, operation: Operation) -> Shape:
        answer = (
            dict(operation.answer)
            if isinstance(operation.answer, Mapping)
            else self.components.answer(operation.answer)
        )
        content: dict[str, dict[str, Any]] = {}
        brief = operation.short_answer
        short = None if brief is None else self.components.answer(brief)
        either = {"anyOf": [answer, short]} if short else answer
        for media_type in operation.media_types:
            schema = either if media_type == JSON else {"type": "string"}
            content[media_type] = {"schema": schema}
        if operation.body is not None:
            for form, *_ in operation.batches.values():
                schema = batch_answer(operation.body, form, (answer, short), self.components)
                content[form] = {"schema": schema}
        for media_type, name, value in self._examples.answers(operation):
            content[media_type].setdefault("examples", {})[name] = {"value": value}
        return {
            "description": operation.answer_words,
            "headers": _headers(operation, *_own_headers(operation)),
            "content": content,
        }

    def _problem(self, kinds: Sequence[ProblemType], *, title: str | None = None) -> Shape:
        name = "-or-".join(kind.slug for kind in kinds) if title is None else "any-other-problem"
        if name not in self.components.responses:
            more = [header for kind in kinds for header in _HEADERS_OF.get(kind, ())]
            self.components.responses[name] = {
                "description": title or ", or: ".join(kind.title for kind in kinds),
                "headers": _header_references("X-Request-Id", *_LIMITS, *more),
                "content": {
                    problems.MEDIA_TYPE: {
                        "schema": self.components.answer(Problem),
                        "examples": {kind.slug: self._example(kind) for kind in kinds},
                    }
                },
            }
        return {"$ref": f"#/components/responses/{name}"}

    def _example(self, kind: ProblemType) -> Shape:
        return {"summary": kind.title, "value": self._examples.problem(kind)}


def statuses(operation: Operation) -> set[int]:
    """Return the statuses that an operation answers with, but for the rare ones of any address."""
    good = {200, 304} if operation.conditional else {200}
    return good | {kind.status for kind in _kinds(operation)}


def _kinds(operation: Operation) -> list[ProblemType]:
    kinds = {*operation.problems, *_EVERYWHERE}
    if operation.body is not None:
        kinds.update(_WITH_BODY)
    if operation.is_of_interface:
        kinds.add(problems.INVALID_REQUEST)
    if scope_of(operation.path, page=True):
        kinds.update(_GUARDED)
    if _is_limited(operation):
        kinds.add(problems.TOO_MANY_REQUESTS)
    return sorted(kinds, key=lambda kind: (kind.status, kind.slug))


def _own_headers(operation: Operation) -> Iterable[str]:
    if operation.conditional or operation.query:
        yield "ETag"
    if operation.query:
        yield "Accept-Query"
    if operation.path == "/v1/validations":
        yield "Content-Location"
    if operation.batches and operation.short_answer is not None:
        yield CAUTION_HEADER


def _headers(operation: Operation, *more: str) -> dict[str, Shape]:
    return _header_references("X-Request-Id", *more, *(_LIMITS if _is_limited(operation) else ()))


def _is_limited(operation: Operation) -> bool:
    return scope_of(operation.path, page=True) is Scope.VALIDATE


def _header_references(*names: str) -> dict[str, Shape]:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}
