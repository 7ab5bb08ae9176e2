"""All errors of the client, on one page.

``WeavabilityError`` is over all of them. Each one pickles, and its message alone says what to do.
Those of a status are below ``ApiError``, and those of 500 and more below ``ServiceFault``.
"""

# ruff: noqa: N818 (the names say what happened, as the API contract has them)

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Final

from weavability_client._json import elements
from weavability_client._printable import printable

__all__ = [
    "AddressTooLong",
    "AnswerUnreadable",
    "ApiError",
    "BadRequest",
    "ConnectionFailed",
    "FieldError",
    "HeadersTooLarge",
    "InvalidInput",
    "MethodNotAllowed",
    "NotAcceptable",
    "NotAuthenticated",
    "NotFound",
    "NotPermitted",
    "Problem",
    "ServiceFault",
    "TimedOut",
    "TooLarge",
    "TooManyRequests",
    "TooSlow",
    "Unavailable",
    "UnsupportedMediaType",
    "UsageError",
    "WeavabilityError",
]

MOST_NAMED: Final = 8
"""Allowed values that a message names; ``FieldError.allowed`` has them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldError:
    """One field that the service refused.

    Attributes:
        pointer: JSON Pointer (RFC 6901) into the request body; ``""`` is the whole body.
        message: What to change.
        message_key: Key of the message, for a translation; ``""`` from a service before 0.2.
        message_values: The values that the message quotes, by name.
        given: The value that was refused.
        allowed: What would be accepted.
    """

    pointer: str
    message: str
    message_key: str = ""
    message_values: Mapping[str, object] = field(default_factory=dict[str, object])
    given: object = None
    allowed: object = None

    def __str__(self) -> str:
        """Return the pointer, the message and what is allowed, on one line."""
        place = self.pointer or "(whole body)"
        hint = "" if self.allowed in (None, "", [], {}) else f" (allowed: {self._allowed_text()})"
        return f"{place}: {self.message}{hint}"

    def _allowed_text(self) -> str:
        allowed = elements(self.allowed)
        if allowed is None:
            return str(self.allowed)
        more = " ..." if len(allowed) > MOST_NAMED else ""
        return ", ".join(map(str, allowed[:MOST_NAMED])) + more


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """A problem document (RFC 9457); members that it does not name are in ``extra``.

    ``detail_key`` and ``detail_values`` are the detail for a translation; empty from a service
    before 0.2.
    """

    type: str = "about:blank"
    title: str = ""
    status: int
    detail: str = ""
    detail_key: str = ""
    detail_values: Mapping[str, object] = field(default_factory=dict[str, object])
    instance: str | None = None
    errors: tuple[FieldError, ...] = ()
    extra: Mapping[str, object] = field(default_factory=dict[str, object])


class WeavabilityError(Exception):
    """Anything that goes wrong between the caller and the answer.

    Its message may quote a service or a sheet, and is shown on terminals and in logs: characters
    that would steer a terminal are replaced in it.
    """

    def __init__(self, message: str = "") -> None:
        super().__init__(printable(message))


class UsageError(WeavabilityError, ValueError):
    """The call cannot be sent as it is: a bad address, or a value that JSON does not know."""


class ConnectionFailed(WeavabilityError):
    """No connection to the service, or it broke before the answer was complete."""


class TimedOut(WeavabilityError):
    """The service was silent for longer than the timeout."""


class AnswerUnreadable(WeavabilityError):
    """Something answered, but not as the service does: a proxy's page, a redirect, a cut answer."""


BY_STATUS: Final[dict[int, type[ApiError]]] = {}
"""The class of each status that has one of its own."""


class ApiError(WeavabilityError):
    """The service answered with a problem.

    Attributes:
        problem: The whole problem document.
        request_id: The service's name of this request, for its log.
        retry_after_s: Seconds after which the service asks to try again.
    """

    advice = "The service refused the request."

    def __init_subclass__(cls, *, status: int | None = None) -> None:
        if status is not None:
            BY_STATUS[status] = cls

    def __init__(
        self,
        problem: Problem,
        *,
        request_id: str | None = None,
        retry_after_s: float | None = None,
    ) -> None:
        self.problem = problem
        self.request_id = request_id
        self.retry_after_s = retry_after_s
        super().__init__(self._message())

    @property
    def status(self) -> int:
        """HTTP status of the answer."""
        return self.problem.status

    @property
    def errors(self) -> tuple[FieldError, ...]:
        """The fields that were refused, all at once."""
        return self.problem.errors

    @property
    def pointer(self) -> str:
        """JSON Pointer of the first field that was refused; ``""`` if no field is named."""
        return self.errors[0].pointer if self.errors else ""

    def _message(self) -> str:
        fields = "; ".join(str(error) for error in self.errors)
        said = fields or self.problem.detail or self.problem.title
        wait = "" if self.retry_after_s is None else f" Try again in {self.retry_after_s:g} s."
        request = "" if self.request_id is None else f" [request {self.request_id}]"
        return f"{self.status}: {self.advice} {said}".rstrip() + wait + request

    def __reduce__(self) -> tuple[Callable[[Problem], ApiError], tuple[Problem]]:
        rebuild = partial(type(self), request_id=self.request_id, retry_after_s=self.retry_after_s)
        return (rebuild, (self.problem,))


class BadRequest(ApiError, status=400):
    """400: the body is not JSON."""

    advice = "The body could not be read as JSON: send one JSON object."


class NotAuthenticated(ApiError, status=401):
    """401: no token, or one that the service does not know."""

    advice = "Pass a valid token: Client(token=...) or WEAVABILITY_TOKEN."


class NotPermitted(ApiError, status=403):
    """403: the token does not allow this."""

    advice = "The token does not allow this: ask the service's operator for the scope."


class NotFound(ApiError, status=404):
    """404: no such loom, check, report or address."""

    advice = "There is no such thing: check the name, and that base_url has no extra path."


class MethodNotAllowed(ApiError, status=405):
    """405: the address does not take this method."""

    advice = "The address does not take this method: client and service differ in version."


class NotAcceptable(ApiError, status=406):
    """406: the service does not write the requested form."""

    advice = "The service does not write the requested form."


class TooSlow(ApiError, status=408):
    """408: the request did not arrive within the time that the service waits."""

    advice = "The request did not arrive in time: look at the network, or send less at once."


class TooLarge(ApiError, status=413):
    """413: the request is larger than the service reads."""

    advice = "The request is too large: send less in one request."


class AddressTooLong(ApiError, status=414):
    """414: the address is longer than the service reads."""

    advice = "The address is too long: send the request itself instead of its link."


class UnsupportedMediaType(ApiError, status=415):
    """415: the service does not read the form that was sent."""

    advice = "The service does not read the form that was sent: send application/json."


class InvalidInput(ApiError, status=422):
    """422: well-formed but wrong; ``errors`` names every field."""

    advice = "Correct these fields:"


class TooManyRequests(ApiError, status=429):
    """429: more requests than the token is allowed."""

    advice = "Too many requests: slow down."


class HeadersTooLarge(ApiError, status=431):
    """431: more or longer headers than the service reads."""

    advice = "The headers are too large: look at the session, its cookies and the token."


class ServiceFault(ApiError):
    """5xx: the fault lies with the service, or with a proxy before it."""

    advice = "The fault is not in the request: report it with the request id."


class Unavailable(ServiceFault, status=503):
    """503: the service cannot answer just now."""

    advice = "The service cannot answer just now: try again later."


def class_of(status: int) -> type[ApiError]:
    """Return the error class of an HTTP ``status``."""
    return BY_STATUS.get(status, ServiceFault if status >= 500 else ApiError)
