"""Answers that scripts of other origins may read: CORS (Fetch Standard, 3.2), for stated origins.

An origin is allowed by its whole name, never by a pattern, and credentials that a browser keeps are
not allowed with it (no ``Access-Control-Allow-Credentials``): a dashboard sends its own token in
``Authorization``. Scripts of all other origins can send requests, as any page can, and read none of
the answers. The policies of our own pages stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Final

from flask import Response, request

_ORIGIN: Final = re.compile(
    r"(?P<scheme>https?)://(?:[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?|\[[0-9a-f:.]+\])(?::(?P<port>[0-9]+))?"
)
_USUAL_PORTS: Final = {"http": "80", "https": "443"}
_SENT: Final = "Accept, Authorization, Content-Type, If-None-Match, X-Request-Id, traceparent"
_REMEMBERED_S: Final = 7_200
"""Browsers keep a preflight no longer than two hours, whatever is said."""

EXPOSED: Final = (
    "Accept-Query", "Allow", "Caution", "Content-Disposition", "Content-Location", "ETag",
    "Ignored-Columns", "Location",
    "RateLimit-Limit", "RateLimit-Remaining", "RateLimit-Reset", "Retry-After",
    "WWW-Authenticate", "X-Request-Id",
)  # fmt: skip
"""Headers that a script may read, beside those that every script may."""


def as_origin(text: str) -> str:
    """Return an origin that is written as browsers send it.

    >>> as_origin("https://board.example"), as_origin("http://[::1]:8000")
    ('https://board.example', 'http://[::1]:8000')

    Raises:
        ValueError: It is not written so.
    """
    match = _ORIGIN.fullmatch(text)
    if match is None:
        raise ValueError(
            f"{text[:80]!r} is not an origin: scheme and host in lower case, and the port if it is "
            "not the usual one, such as https://board.example or http://10.0.0.7:8000; no path and "
            "no *"
        )
    if match["port"] == _USUAL_PORTS[match["scheme"]]:
        raise ValueError(f"{text!r}: browsers omit the usual port, :{match['port']}")
    return text


def is_preflight(allowed: Collection[str]) -> bool:
    """Return whether a browser asks what an allowed origin may send; it asks without a token."""
    return (
        request.method == "OPTIONS"
        and "Access-Control-Request-Method" in request.headers
        and request.headers.get("Origin") in allowed
    )


def let_read(response: Response, allowed: Collection[str]) -> None:
    """Let an allowed origin read a response; nothing changes if none is allowed anything."""
    if not allowed:
        return
    response.vary.add("Origin")
    origin = request.headers.get("Origin")
    if origin not in allowed:
        return
    response.headers["Access-Control-Allow-Origin"] = origin
    if is_preflight(allowed):
        response.headers["Access-Control-Allow-Methods"] = response.headers.get("Allow", "")
        response.headers["Access-Control-Allow-Headers"] = _SENT
        response.headers["Access-Control-Max-Age"] = str(_REMEMBERED_S)
    else:
        response.headers["Access-Control-Expose-Headers"] = ", ".join(EXPOSED)
