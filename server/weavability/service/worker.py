"""gunicorn's threaded worker, with problems instead of HTML pages and bounded patience.

A thread that waits for a client is a thread that answers nobody. gunicorn leaves connections that
are silent from the start to its poller, but once the first byte is there it waits without end.
Here the head of a request has to be complete in time, or the reading side is shut; the body has its
own limit where it is read (``bodies``). Many slow clients can still occupy many threads for that
time: a service that strangers reach stands behind the buffering proxy of ``server/deploy``.
"""

from __future__ import annotations

import logging
import socket
import struct
import time
from contextlib import suppress
from typing import Any, Final
from uuid import uuid4

import orjson
from gunicorn import util  # type: ignore[import-untyped]
from gunicorn.http import errors  # type: ignore[import-untyped]
from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]

from weavability.service import problems
from weavability.service.answers import SECURITY_HEADERS
from weavability.service.exchanges import Exchange
from weavability.service.problems import MEDIA_TYPE, ProblemError, ProblemType

SEND_WITHIN_S: Final = 60
"""Longest time in which a client may take nothing of its answer."""

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
    """Serves the application; set up by ``command``."""

    patience_s: float = 20.0

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._reading: dict[Any, float] = {}

    def handle(self, conn: Any) -> Any:
        """Read a request and answer it; runs in a thread of the pool."""
        if not conn.initialized:
            _bound_sending(conn.sock)
        self._reading[conn] = time.monotonic() + self.patience_s
        try:
            return super().handle(conn)
        finally:
            self._reading.pop(conn, None)

    def handle_request(self, req: Any, conn: Any) -> Any:
        """Answer a request whose head is complete."""
        self._reading.pop(conn, None)
        return super().handle_request(req, conn)

    def notify(self) -> None:
        """Tell gunicorn that the worker lives, at least once a second; cut off who is too slow."""
        super().notify()
        now = time.monotonic()
        for conn, until in list(self._reading.items()):
            if until < now:
                self._reading.pop(conn, None)
                _log.warning("the head of a request did not come in time; connection closed")
                with suppress(OSError):
                    conn.sock.shutdown(socket.SHUT_RD)

    def handle_error(self, req: Any, client: Any, addr: Any, exc: Exception) -> None:
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
        with suppress(OSError):
            util.write_nonblock(client, written_problem(kind, exchange.request_id))
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


def _bound_sending(sock: socket.socket) -> None:
    """Let the kernel end a send that makes no headway; gunicorn's sockets have no timeout."""
    with suppress(OSError):
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, struct.pack("ll", SEND_WITHIN_S, 0))
