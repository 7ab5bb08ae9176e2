"""Making answers: JSON, conditions, negotiation, and the headers that every answer carries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import orjson
from flask import Request, Response

from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.textiles.sentences import say

JSON: Final = "application/json"
HTML: Final = "text/html"
NDJSON: Final = "application/x-ndjson"
CSV: Final = "text/csv"
PNG: Final = "image/png"

SECURITY_HEADERS: Final[Mapping[str, str]] = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
}

PAGE_POLICY: Final = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "img-src 'self' data: blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
"""Content security policy of a page: our own scripts and styles, and no other service."""

_SAFE: Final = frozenset({"GET", "HEAD", "QUERY"})

REVALIDATE: Final = "private, no-cache"
"""Keep it, but revalidate with If-None-Match before every use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatAnswer:
    """An answer that is sent as one object although several classes state its members.

    Attributes:
        title: Its name in the OpenAPI document.
        words: What it is, in a sentence.
        members: The class that states each member, in the order in which they are sent.
        optional: Names of members that only some answers have.
    """

    title: str
    words: str
    members: Mapping[str, type]
    optional: frozenset[str] = frozenset()


def json_answer(
    payload: object, *, etag: str | None = None, headers: Mapping[str, str] | None = None
) -> Response:
    """Answer with ``payload``: dataclasses, dicts and lists of finite numbers, as JSON."""
    return _with_condition(Response(orjson.dumps(payload), mimetype=JSON), etag, headers)


def html_answer(page: str, *, etag: str | None) -> Response:
    """Answer with a page."""
    return _with_condition(Response(page, mimetype=HTML), etag, None)


def not_modified(etag: str, *, headers: Mapping[str, str] | None = None) -> Response:
    """Answer that the caller's copy is still good."""
    return _with_condition(Response(status=304), etag, headers)


def _with_condition(
    response: Response, etag: str | None, headers: Mapping[str, str] | None
) -> Response:
    if etag is None:
        response.headers["Cache-Control"] = "no-store"
    else:
        response.headers["ETag"] = f'"{etag}"'
        response.headers["Cache-Control"] = REVALIDATE
    response.headers.update(headers or {})
    return response


def is_current(request: Request, etag: str) -> bool:
    """Return whether the caller's If-None-Match names ``etag``; only safe methods may use it."""
    return (
        request.method in _SAFE
        and bool(request.if_none_match)
        and request.if_none_match.contains_weak(etag)
    )


def names_copy(request: Request, etag: str) -> bool:
    """Return whether If-None-Match spells ``etag`` out; any good answer would meet ``*``."""
    return not request.if_none_match.star_tag and is_current(request, etag)


def negotiated(request: Request, *offers: str) -> str:
    """Return the media type to answer in; the first of ``offers`` if the caller names none.

    Raises:
        ProblemError: 406, none of ``offers`` is accepted.
    """
    if not request.headers.get("Accept", "").strip():
        return offers[0]
    best = request.accept_mimetypes.best_match(offers)
    if best is None:
        raise ProblemError(
            kind=problems.NOT_ACCEPTABLE,
            detail=say(
                "problem.not_in_this_form",
                "This address answers in {media_types}.",
                media_types=" or ".join(offers),
            ),
        )
    return best


def wants_page(request: Request) -> bool:
    """Return whether a person's browser asks, and not a program."""
    if HTML not in request.headers.get("Accept", ""):
        return False
    return request.accept_mimetypes.best_match((problems.MEDIA_TYPE, JSON, HTML)) == HTML
