"""gunicorn's threaded worker, with problems in place of its HTML pages."""

from __future__ import annotations

import logging
import socket
from contextlib import suppress
from typing import Any, Final
from uuid import uuid4

import orjson
from gunicorn.http import errors  # type: ignore[import-untyped]
from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]

from weavability.service.http import problems
from weavability.service.http.problems import MEDIA_TYPE, ProblemError, ProblemType
from weavability.service.http.responses import SECURITY_HEADERS
from weavability.service.http.slow_clients import bound_sending
from weavability.service.observability.request_log import Exchange

_log = logging.getLogger(__name__)
_REFUSED: Final = {
    errors.LimitRequestLine: problems.ADDRESS_TOO_LONG,
    errors.LimitRequestHeaders: problems.HEADERS_TOO_LARGE,
}
_REASONS: Final = {
    400: "Bad Request",
    414: "URI Too Long",
    431: "Request Header Fields Too Large",
    500: "Internal Server Error",
}


class Worker(ThreadWorker):  # type: ignore[misc]
    """Serves the application."""

    def handle_error(self, req: Any, client: socket.socket, addr: Any, exc: Exception) -> None:
        """Answer what gunicorn refuses before the application sees it, or what went wrong there."""
        kind = refused_as(exc)
        if kind is problems.INTERNAL_ERROR:
            _log.error("a request failed outside the application", exc_info=exc)
        exchange = Exchange(
            method=str(getattr(req, "method", "") or ""),
            address=addr[0] if isinstance(addr, tuple) else "",
            bytes_in=None,
            request_id=uuid4().hex,
            status=kind.status,
            problem=kind.slug,
        )
        bound_sending(client)
        with suppress(OSError):
            client.sendall(written_problem(kind, exchange.request_id))
        exchange.finish()


def refused_as(error: Exception) -> ProblemType:
    """Return the type of problem by which an error of the server's HTTP parser is answered."""
    if isinstance(error, errors.InvalidResponseHeader | errors.InvalidResponseHeaderName):
        return problems.INTERNAL_ERROR
    for kind, refusal in _REFUSED.items():
        if isinstance(error, kind):
            return refusal
    return (
        problems.MALFORMED_HTTP
        if isinstance(error, errors.ParseException)
        else problems.INTERNAL_ERROR
    )


def written_problem(kind: ProblemType, request_id: str) -> bytes:
    """Write a whole HTTP answer; nothing of the request is repeated in it."""
    problem = ProblemError(kind=kind, detail=f"{kind.meaning} {kind.advice}")
    body = orjson.dumps(problem.document(path="", request_id=request_id))
    headers = {
        **SECURITY_HEADERS,
        "Content-Type": MEDIA_TYPE,
        "Content-Length": str(len(body)),
        "Cache-Control": "no-store",
        "Connection": "close",
        "X-Request-Id": request_id,
    }
    lines = [f"HTTP/1.1 {kind.status} {_REASONS[kind.status]}"]
    lines += [f"{name}: {value}" for name, value in headers.items()]
    return "\r\n".join([*lines, "", ""]).encode("ascii") + body
