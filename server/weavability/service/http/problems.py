"""The problems (RFC 9457) by which the service answers a request that it refuses."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import orjson
from flask import Response

from weavability.textiles.errors import Fault, InputError
from weavability.textiles.field_marks import Since
from weavability.textiles.sentences import NestedSentence, Sentence, WrittenValue, say, say_row

MEDIA_TYPE: Final = "application/problem+json"
MOST_ERRORS: Final = 50
LONGEST_GIVEN: Final = 200
LONGEST_POINTER: Final = 500
LONGEST_MESSAGE: Final = 1_000
_MOST_ALLOWED: Final = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemType:
    """A type of problem."""

    slug: Annotated[str, "Last part of the address of its page"]
    status: Annotated[int, "HTTP status"]
    title: Annotated[str, "The problem in a few words; the same every time"]
    meaning: Annotated[str, "What has happened, in general"]
    advice: Annotated[str, "What the caller can do"]

    @property
    def type(self) -> str:
        """The problem's ``type``: the address of its page, relative to the service."""
        return f"/problems/{self.slug}"

    @property
    def detail(self) -> Sentence:
        """What to do, if no more is known of this very request."""
        return say_row(self._key("advice"), self.advice)

    @property
    def whole(self) -> Sentence:
        """What has happened and what to do, if nothing is known of this very request."""
        meaning = say_row(self._key("meaning"), self.meaning)
        return say("problem.of_type", "{meaning} {advice}", meaning=meaning, advice=self.detail)

    @property
    def patterns(self) -> Mapping[str, str]:
        """Its sentences by key; the title, which every problem of the type has, is one of them."""
        return {self._key(name): getattr(self, name) for name in ("title", "meaning", "advice")}

    def _key(self, name: str) -> str:
        return f"problem.{self.slug.replace('-', '_')}.{name}"


UNREADABLE_JSON: Final = ProblemType(
    slug="unreadable-json",
    status=400,
    title="The body is not readable JSON",
    meaning="The body is empty, is not JSON (RFC 8259) in UTF-8, names a field twice in one "
    "object, or is nested too deeply.",
    advice="Correct the body at the place that detail names. NaN and Infinity are not JSON: omit "
    "such a field.",
)
UNREADABLE_CSV: Final = ProblemType(
    slug="unreadable-csv",
    status=400,
    title="The sheet or row is not readable CSV",
    meaning="The text is not CSV (RFC 4180) in UTF-8, has no header row, or a row does not fit the "
    "header.",
    advice="Save the sheet as CSV in UTF-8, with the names of the columns in the first row. Put a "
    "cell that contains the delimiter or a quotation mark in quotation marks.",
)
MALFORMED_HTTP: Final = ProblemType(
    slug="malformed-http",
    status=400,
    title="The request is not valid HTTP",
    meaning="The request breaks the rules of HTTP (RFC 9112): its first line, a header, or the "
    "framing of its body.",
    advice="Use a standard HTTP library without changes; check whether a proxy alters requests.",
)
UNAUTHORIZED: Final = ProblemType(
    slug="unauthorized",
    status=401,
    title="A valid token is needed",
    meaning="The request has no token, or an unknown one.",
    advice="Send Authorization: Bearer and the token that the operator of the service issued; in a "
    "browser, type any name, and the token as the password. A token that was valid before has been "
    "replaced.",
)
FORBIDDEN: Final = ProblemType(
    slug="forbidden",
    status=403,
    title="The token does not allow this",
    meaning="The token is valid, but lacks the scope that this address needs.",
    advice="Ask the operator of the service for a token with the scope that detail names.",
)
NOT_FOUND: Final = ProblemType(
    slug="not-found",
    status=404,
    title="There is nothing at this address",
    meaning="The address is unknown, or names a loom, a check or a link that does not exist.",
    advice="GET / lists the addresses; GET /v1/looms and GET /v1/checks list the names.",
)
METHOD_NOT_ALLOWED: Final = ProblemType(
    slug="method-not-allowed",
    status=405,
    title="This address does not accept this method",
    meaning="The address exists, but not for this method.",
    advice="Use one of the methods of the Allow header.",
)
NOT_ACCEPTABLE: Final = ProblemType(
    slug="not-acceptable",
    status=406,
    title="The answer is not available in this form",
    meaning="The answer is not available in any media type of the Accept header.",
    advice="Request one of the media types that detail names, or omit Accept.",
)
REQUEST_TIMEOUT: Final = ProblemType(
    slug="request-timeout",
    status=408,
    title="The body did not arrive in time",
    meaning="The service waited for the body, which did not arrive within the time limit.",
    advice="Send the request again; repeating it is safe.",
)
TOO_MUCH_WORK: Final = ProblemType(
    slug="too-much-work",
    status=413,
    title="The request asks for too much work",
    meaning="The body is short enough, but what it asks for is more than one request may do: too "
    "many orders and looms, or designs that are too large.",
    advice="Divide the request; detail states the bound.",
)
BODY_TOO_LARGE: Final = ProblemType(
    slug="body-too-large",
    status=413,
    title="The body is too large",
    meaning="The body is longer than the service accepts.",
    advice="Send less in one request.",
)
ADDRESS_TOO_LONG: Final = ProblemType(
    slug="address-too-long",
    status=414,
    title="The address is too long",
    meaning="The address is longer than the service accepts.",
    advice="Send the request in the body of a POST.",
)
UNSUPPORTED_MEDIA_TYPE: Final = ProblemType(
    slug="unsupported-media-type",
    status=415,
    title="The media type of the body is not supported",
    meaning="The body is not declared as JSON, or it is compressed.",
    advice="Send UTF-8 JSON, uncompressed, with Content-Type: application/json.",
)
INVALID_REQUEST: Final = ProblemType(
    slug="invalid-request",
    status=422,
    title="The request is well-formed, but some of its fields are wrong",
    meaning="Fields are missing, unknown, out of range or contradict one another. A cloth that "
    "cannot be woven is not a problem: its report has the verdict not_weavable.",
    advice="Each entry of errors has a JSON Pointer (RFC 6901) to the field, a message that states "
    "what to change, the value given and what is allowed. All faults are listed at once, at most "
    f"{MOST_ERRORS}.",
)
TOO_MANY_REQUESTS: Final = ProblemType(
    slug="too-many-requests",
    status=429,
    title="Too many requests",
    meaning="This caller has sent more requests, or more work, than the service allows one caller.",
    advice="Wait for the number of seconds in Retry-After. Send many orders in one batch "
    "instead of one by one.",
)
HEADERS_TOO_LARGE: Final = ProblemType(
    slug="headers-too-large",
    status=431,
    title="The headers are too large",
    meaning="The request has more or longer headers than the service accepts.",
    advice="Send fewer and shorter headers.",
)
INTERNAL_ERROR: Final = ProblemType(
    slug="internal-error",
    status=500,
    title="The service failed",
    meaning="The cause is a fault of the service, not of the request.",
    advice="Report it with the request id, by which the entry in the service's log is found.",
)
NOT_READY: Final = ProblemType(
    slug="not-ready",
    status=503,
    title="The service is not ready",
    meaning="The service is starting or stopping, or lacks something that it needs.",
    advice="Try again shortly.",
)
BUSY: Final = ProblemType(
    slug="busy",
    status=503,
    title="The service is busy with another large design",
    meaning="One large design is computed at a time, and one is being computed now.",
    advice="Send the request again after the number of seconds in Retry-After.",
)

OF_BODIES: Final = (
    UNREADABLE_JSON,
    TOO_MUCH_WORK,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
    INVALID_REQUEST,
    BUSY,
)
"""The problems of a request's body."""

KINDS: Final[Mapping[str, ProblemType]] = {
    kind.slug: kind
    for kind in (
        UNREADABLE_JSON,
        UNREADABLE_CSV,
        MALFORMED_HTTP,
        UNAUTHORIZED,
        FORBIDDEN,
        NOT_FOUND,
        METHOD_NOT_ALLOWED,
        NOT_ACCEPTABLE,
        REQUEST_TIMEOUT,
        TOO_MUCH_WORK,
        BODY_TOO_LARGE,
        ADDRESS_TOO_LONG,
        UNSUPPORTED_MEDIA_TYPE,
        INVALID_REQUEST,
        TOO_MANY_REQUESTS,
        HEADERS_TOO_LARGE,
        INTERNAL_ERROR,
        BUSY,
        NOT_READY,
    )
}
KIND_OF_STATUS: Final[Mapping[int, ProblemType]] = {kind.status: kind for kind in KINDS.values()}
"""For what the framework refuses; of two with the same status, the later."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldError:
    """One thing that is wrong with the request."""

    pointer: Annotated[str, "JSON Pointer (RFC 6901) into the request body"]
    message: Annotated[str, "What to change, for a person"]
    message_key: Annotated[
        str, "Key of the message, for a translation; `GET /v1/messages` lists all", Since("0.2")
    ]
    message_values: Annotated[
        Mapping[str, WrittenValue], "The values that the message quotes, by name", Since("0.2")
    ]
    given: Annotated[object, "The value as given, shortened if it is long"]
    allowed: Annotated[object, "What is accepted, as a sentence or a list"]

    @classmethod
    def of(cls, fault: Fault) -> FieldError:
        """Write down a fault of the domain or of a schema."""
        return cls(
            pointer=_cut(fault.pointer, LONGEST_POINTER),
            message=_cut(fault.message, LONGEST_MESSAGE),
            message_key=fault.message.key,
            message_values=_cut_values(fault.message.written_values()),
            given=_shortened(fault.given),
            allowed=_listed(fault.allowed),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """A problem as it is sent (RFC 9457)."""

    type: Annotated[str, "Address of the page about this type of problem, relative to the service"]
    title: Annotated[str, "The type of problem in a few words"]
    status: Annotated[int, "The HTTP status"]
    detail: Annotated[str, "What is wrong with this very request"]
    detail_key: Annotated[
        str, "Key of the detail, for a translation; `GET /v1/messages` lists all", Since("0.2")
    ]
    detail_values: Annotated[
        Mapping[str, WrittenValue], "The values that the detail quotes, by name", Since("0.2")
    ]
    instance: Annotated[str, "This occurrence: the requested path and the request id"]
    request_id: Annotated[
        str, "The request id, as in the X-Request-Id header and in the service's log"
    ]
    errors: Annotated[tuple[FieldError, ...], "Every fault found, at most 50"]


class ProblemError(Exception):
    """Ends a request with a problem; raised anywhere below a view.

    Attributes:
        kind: The type of problem.
        detail: What is wrong with this very request, in a sentence or two.
        faults: Every fault found.
        headers: Headers that the answer needs, such as ``Allow``.
    """

    def __init__(
        self,
        *,
        kind: ProblemType,
        detail: Sentence,
        faults: Sequence[Fault] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.faults = faults
        self.headers = headers or {}

    @classmethod
    def of_input(cls, error: InputError) -> ProblemError:
        """Make the problem of a request that the schemas or the domain refuse."""
        return cls(kind=INVALID_REQUEST, detail=_summary(error.faults), faults=error.faults)

    def document(self, *, path: str, request_id: str) -> Problem:
        """Write the problem down for the request at ``path``."""
        return Problem(
            type=self.kind.type,
            title=self.kind.title,
            status=self.kind.status,
            detail=_cut(self.detail, 2 * LONGEST_MESSAGE),
            detail_key=self.detail.key,
            detail_values=_cut_values(self.detail.written_values()),
            instance=f"{path[:LONGEST_GIVEN]}#{request_id}",
            request_id=request_id,
            errors=tuple(FieldError.of(fault) for fault in self.faults[:MOST_ERRORS]),
        )

    def response(self, *, path: str, request_id: str) -> Response:
        """Answer the request at ``path``."""
        document = self.document(path=path, request_id=request_id)
        response = Response(
            orjson.dumps(document, default=str), status=self.kind.status, mimetype=MEDIA_TYPE
        )
        response.headers.update(self.headers)
        response.headers["Cache-Control"] = "no-store"
        return response


def _summary(faults: Sequence[Fault]) -> Sentence:
    pointer, message = _cut(faults[0].pointer, LONGEST_POINTER), faults[0].message
    if pointer:
        first = say("problem.fault", "{pointer}: {fault}", pointer=pointer, fault=message)
    else:
        first = say("problem.fault_of_body", "The body: {fault}", fault=message)
    if len(faults) == 1:
        return first
    if len(faults) > MOST_ERRORS:  # not all are looked for
        return say(
            "problem.most_faults",
            "More than {most_errors} things need to be changed; the first {most_errors} are "
            "listed. {first}",
            most_errors=MOST_ERRORS,
            first=first,
        )
    return say(
        "problem.several_faults",
        "{errors} things need to be changed. {first}",
        errors=len(faults),
        first=first,
    )


def _cut_values(values: Mapping[str, WrittenValue]) -> Mapping[str, WrittenValue]:
    """Cut the texts among the values of a sentence, which may be as long as a request."""
    return {
        name: _cut(value, LONGEST_MESSAGE)
        if isinstance(value, str)
        else value
        if isinstance(value, int | float)
        else _cut_sentence(value)
        for name, value in values.items()
    }


def _cut_sentence(value: NestedSentence) -> NestedSentence:
    return {
        "message_key": value["message_key"],
        "message_values": _cut_values(value["message_values"]),
    }


def _shortened(value: object) -> object:
    """Return ``value``, or its beginning as text if it would fill the page."""
    if value is None or isinstance(value, bool | float):
        return value
    if isinstance(value, int):
        return value if abs(value) < 2**53 else f"{value:.6g}"
    if isinstance(value, str):
        return _cut(value, LONGEST_GIVEN)
    try:
        text = orjson.dumps(value, default=str).decode()
    except TypeError:
        # Such as a list with a number that JSON's readers would not take.
        return _cut(repr(value), LONGEST_GIVEN)
    return value if len(text) <= LONGEST_GIVEN else _cut(text, LONGEST_GIVEN)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _listed(allowed: object) -> object:
    if isinstance(allowed, str | int | float | bool) or allowed is None:
        return allowed
    if isinstance(allowed, Iterable):
        return list(allowed)[:_MOST_ALLOWED]
    return str(allowed)
