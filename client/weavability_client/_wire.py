"""The wire, as pure functions: what is sent for a call, and what an answer means.

Nothing here opens a connection, so that every path is tested with three literals: status, headers
and body.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Final
from urllib.parse import urlsplit

from weavability_client._json import elements, members
from weavability_client._record import to_plain
from weavability_client.errors import (
    AnswerUnreadable,
    ApiError,
    FieldError,
    Problem,
    UsageError,
    class_of,
)
from weavability_client.policies import EXCERPT_CHARACTERS, Timeout

JSON = "application/json"
LINES = "application/x-ndjson"
SVG = "image/svg+xml"
PNG = "image/png"
PROBLEM = "application/problem+json"
REQUEST_ID_HEADER = "x-request-id"
NOT_MODIFIED = 304


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What is sent: method, path below the base address, headers and body.

    Attributes:
        accept: Media type of the answer that is requested.
    """

    method: str
    path: str
    headers: Mapping[str, str]
    body: bytes | None = None
    accept: str = JSON


@dataclass(frozen=True, kw_only=True)
class RawAnswer:
    """An answer as it came.

    Attributes:
        status: HTTP status.
        headers: Headers, their names in small letters.
        body: Body, decompressed.
    """

    status: int
    headers: Mapping[str, str]
    body: bytes

    def json(self) -> object:
        """Return the body as parsed JSON.

        Raises:
            AnswerUnreadable: It is not complete JSON.
        """
        return _parse(self.body)


def read_base_url(base_url: str) -> str:
    """Return ``base_url`` without a slash at its end.

    Raises:
        UsageError: It is not a plain ``http`` or ``https`` address.
    """
    example = "for example http://127.0.0.1:8080"
    no_host = UsageError(
        f"the address of the service has a host that is none, {example}, or http://[::1]:8080 with "
        f"an address of IPv6 in brackets: {base_url!r}"
    )
    try:
        parts = urlsplit(base_url)
    except ValueError:
        raise no_host from None
    try:
        is_port = parts.port != 0
    except ValueError:
        is_port = False
    if not is_port:
        raise UsageError(
            f"the address of the service needs a port from 1 to 65535, {example}: {base_url!r}"
        )
    if parts.scheme not in ("http", "https") or not parts.hostname or _has_blanks(base_url):
        raise UsageError(
            f"the address of the service must be one of http or https, {example}: {base_url!r}"
        )
    if parts.query or parts.fragment or parts.username or parts.password:
        raise UsageError(
            f"the address of the service takes no query, fragment or password, {example}; pass the "
            "token as token=..."
        )
    import requests  # on use: to import the client alone is quick

    try:
        requests.Request("GET", base_url).prepare()
        parts.hostname.encode("idna")  # as its address is looked up
    except ValueError:
        raise no_host from None
    return base_url.rstrip("/")


def _has_blanks(text: str) -> bool:
    return " " in text or not text.isprintable()


def read_token(token: str | None) -> str | None:
    """Return ``token`` without white space around it; ``None`` if it is empty.

    Raises:
        UsageError: It holds something that a header cannot hold.
    """
    bare = (token or "").strip()
    if not bare.isascii() or not bare.isprintable() or " " in bare:
        raise UsageError("the token holds characters that no bearer token has: copy it again")
    return bare or None


def read_timeout(timeout: Timeout) -> Timeout:
    """Return ``timeout`` if it is a number of seconds above 0 and up to a day, or two of them.

    Raises:
        UsageError: It is something else.
    """
    given: object = timeout
    parts = given if isinstance(given, tuple) and len(given) == 2 else (given,)
    if all(map(_is_duration, parts)):
        return timeout
    raise UsageError(
        f"timeout must be seconds above 0, or two of them for connecting and reading: {timeout!r}"
    )


def _is_duration(value: object) -> bool:
    return isinstance(value, int | float) and value is not True and 0 < value <= LONGEST_WAIT_S


def build_request(
    method: str,
    path: str,
    *,
    payload: object = None,
    lines: Sequence[bytes] = (),
    accept: str = JSON,
    etag: str | None = None,
) -> Request:
    """Return the request for a call.

    Args:
        method: HTTP method.
        path: Path below the base address.
        payload: Sent as JSON if there is one.
        lines: Sent in its place, written JSON, a line each; a single one is sent as plain JSON.
        accept: Media type of the answer that is requested.
        etag: Of an answer that is known; the answer to an unchanged one is ``None``.

    Raises:
        UsageError: ``payload`` holds what JSON does not know, such as NaN or a set; or ``etag``
            does not fit into a header.
    """
    headers = {"Accept": f"{accept}, {PROBLEM}"}
    if etag is not None:
        headers["If-None-Match"] = f'"{_bare_etag(etag)}"'
    body = None if payload is None else to_bytes(payload)
    if lines:
        body = b"\n".join(lines)
    if body is not None:
        headers["Content-Type"] = LINES if len(lines) > 1 else JSON
    return Request(method=method, path=path, headers=headers, body=body, accept=accept)


def _bare_etag(etag: str) -> str:
    bare = etag.strip().removeprefix("W/").strip('"')
    if not bare or not bare.isascii() or not bare.isprintable() or '"' in bare:
        raise UsageError(f"not an etag of this service: {etag[:80]!r}; report.etag is one")
    return bare


def to_bytes(payload: object) -> bytes:
    """Return ``payload`` as JSON in UTF-8, models included.

    Raises:
        UsageError: It holds what JSON does not know, such as NaN or a set.
    """
    try:
        text = json.dumps(
            to_plain(payload), allow_nan=False, ensure_ascii=False, separators=(",", ":")
        )
        return text.encode()
    except (TypeError, ValueError, RecursionError) as error:
        raise UsageError(f"the request cannot be written as JSON: {error}") from error


def read_answer(answer: RawAnswer, request: Request) -> object:
    """Return what the answer to a request holds; see :func:`read_response`."""
    return read_response(
        **vars(answer), accept=request.accept, conditional="If-None-Match" in request.headers
    )


def read_response(
    *,
    status: int,
    headers: Mapping[str, str],
    body: bytes,
    accept: str = JSON,
    conditional: bool = False,
) -> object:
    """Return what an answer holds.

    Args:
        status: HTTP status.
        headers: Response headers; their names in any case.
        body: Response body, decompressed.
        accept: Media type that was requested.
        conditional: Whether only a changed answer was requested.

    Returns:
        The parsed JSON; a list of it for lines, the text of a drawing, ``None`` for 304.

    Raises:
        ApiError: The status is 400 or more; the class is that of the status.
        AnswerUnreadable: A redirect, another content type, or an answer that is cut.
    """
    lower = {name.lower(): value for name, value in headers.items()}
    refuse(RawAnswer(status=status, headers=lower, body=body))
    if status == NOT_MODIFIED and conditional:
        return None
    if status >= 300:
        raise _redirected(status, lower)
    if _media_type(lower) != accept:
        raise AnswerUnreadable(_not_ours(status, lower, body, expected=accept))
    return _FORMS[accept][1](body)


def refuse(answer: RawAnswer) -> None:
    """Raise the error of an answer that is a problem.

    Raises:
        ApiError: The status is 400 or more; the class is that of the status.
    """
    if answer.status >= 400:
        problem = _problem(answer.status, answer.headers, answer.body)
        raise _of_problem(problem, answer.headers)


def error_of_item(problem: object, *, status: int) -> ApiError:
    """Return the error that one item of a batch met, from its own problem document."""
    return _of_problem(_read_problem(members(problem) or {}, status), {})


def retry_after_s(headers: Mapping[str, str], *, now: datetime | None = None) -> float | None:
    """Return the seconds that ``Retry-After`` asks for, given in seconds or as a date.

    More than a day is nothing that a service asks for.

    Example:
        >>> retry_after_s({"Retry-After": "7"})
        7.0
    """
    stated = {name.lower(): value for name, value in headers.items()}.get("retry-after", "").strip()
    try:
        if stated.isdecimal():
            wait_s = float(stated)
        else:
            moment = parsedate_to_datetime(stated)
            aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
            wait_s = max(0.0, (aware - (now or datetime.now(UTC))).total_seconds())
    except ValueError:
        return None
    return wait_s if wait_s <= LONGEST_WAIT_S else None


def _of_problem(problem: Problem, headers: Mapping[str, str]) -> ApiError:
    request_id = headers.get(REQUEST_ID_HEADER) or problem.extra.get("request_id")
    return class_of(problem.status)(
        problem,
        request_id=None if request_id is None else str(request_id),
        retry_after_s=retry_after_s(headers),
    )


def _problem(status: int, headers: Mapping[str, str], body: bytes) -> Problem:
    """Read a problem document; what is not one becomes a problem that quotes it."""
    try:
        document = members(_parse(body)) if _media_type(headers) in (JSON, PROBLEM) else None
    except AnswerUnreadable:
        document = None
    if document is None:
        return Problem(status=status, detail=_not_ours(status, headers, body, expected=JSON))
    return _read_problem(document, status)


def _read_problem(document: Mapping[str, object], status: int) -> Problem:
    """Read a problem document, be it one of a proxy that has members of other kinds."""
    names = {each.name for each in fields(Problem)} - {"extra"}
    texts = {key: value for key, value in document.items() if isinstance(value, str)}
    listed = map(members, elements(document.get("errors")) or ())
    return Problem(
        **{name: texts[name] for name in _TEXTS if name in texts},
        status=status,
        detail_values=members(document.get("detail_values")) or {},
        errors=tuple(_field_error(each) for each in listed if each is not None),
        extra={key: value for key, value in document.items() if key not in names},
    )


_TEXTS: Final = ("type", "title", "detail", "detail_key", "instance")


def _field_error(document: Mapping[str, object]) -> FieldError:
    texts = ("pointer", "message", "message_key")
    return FieldError(
        **{name: str(document.get(name, "")) for name in texts},
        message_values=members(document.get("message_values")) or {},
        given=document.get("given"),
        allowed=document.get("allowed"),
    )


def _redirected(status: int, headers: Mapping[str, str]) -> AnswerUnreadable:
    target = headers.get("location", "another address")
    return AnswerUnreadable(
        f"{status}: the address redirects to {target}. Redirects are not followed, so that the "
        "token never goes astray: use the final address as base_url."
    )


def _media_type(headers: Mapping[str, str]) -> str:
    return headers.get("content-type", "").partition(";")[0].strip().lower()


def _parse(body: bytes) -> object:
    try:
        document: object = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise AnswerUnreadable(f"the answer is not complete JSON: {error}") from error
    return document


def _parse_lines(body: bytes) -> list[object]:
    return [_parse(line) for line in body.split(b"\n") if line.strip()]


def _text(body: bytes) -> str:
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        raise AnswerUnreadable(f"the answer is no text in UTF-8: {error}") from error


LONGEST_WAIT_S: Final = 86_400.0
_FORMS: Final[Mapping[str, tuple[str, Callable[[bytes], object]]]] = {
    JSON: ("JSON", _parse),
    LINES: ("lines of JSON", _parse_lines),
    SVG: ("SVG", _text),
    PNG: ("a picture", bytes),
}
"""What a form is called, and how it is read."""


def _not_ours(status: int, headers: Mapping[str, str], body: bytes, *, expected: str) -> str:
    kind = _media_type(headers) or "no content type"
    excerpt = _excerpt(body)
    quoted = f": {excerpt!r}" if excerpt else ""
    wanted, _ = _FORMS[expected]
    return (
        f"status {status} came with {kind} instead of {wanted}{quoted}. That is not the "
        "service itself: look at base_url, and at a proxy or sign-in page on the way."
    )


def _excerpt(body: bytes) -> str:
    """Return the title of a page, or else the beginning of its text."""
    text = body[:4_000].decode("utf-8", "replace")
    title = re.search(r"<title[^>]*>([^<]{1,300})", text, re.IGNORECASE)
    plain = title.group(1) if title else re.sub(r"<[^>]*>", " ", text)
    return " ".join(plain.split())[:EXCERPT_CHARACTERS]
