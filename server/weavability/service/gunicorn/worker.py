"""gunicorn's threaded worker, with problems instead of HTML pages and bounded patience.

A thread that waits for a client is a thread that answers nobody. gunicorn waits 5 s in a thread for
the first byte, and once that is there without end.
Here the head of a request, and then its body, have to arrive in time (``patience``). Many slow
clients can still occupy many threads for that time: a service that strangers reach stands behind
the buffering proxy of ``server/deploy``.
"""

from __future__ import annotations

import logging
import socket
import struct
from contextlib import suppress
from typing import Any, Final
from uuid import uuid4

import orjson
from gunicorn import util  # type: ignore[import-untyped]
from gunicorn.http import errors  # type: ignore[import-untyped]
from gunicorn.workers.gthread import _DEFER, ThreadWorker  # type: ignore[import-untyped]

from weavability.service.gunicorn.slow_clients import WATCH
from weavability.service.http import problems
from weavability.service.http.problems import MEDIA_TYPE, ProblemError, ProblemType
from weavability.service.http.responses import SECURITY_HEADERS
from weavability.service.observability.request_log import Exchange

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

    def handle(self, conn: Any) -> Any:
        """Read a request and answer it; runs in a thread of the pool."""
        if not conn.initialized:
            _bound_sending(conn.sock)
            if self.alive and not conn.wait_for_data(0):
                # gunicorn would let a thread wait 5 s for the first byte; the poller waits as well.
                return _DEFER
        WATCH.start(conn.sock, self.patience_s)
        try:
            return super().handle(conn)
        finally:
            WATCH.stop(conn.sock)

    def handle_request(self, req: Any, conn: Any) -> Any:
        """Answer a request whose head is complete."""
        WATCH.stop(conn.sock)
        return super().handle_request(req, conn)

    def _keepalive_after(self, conn: Any, keepalive: Any) -> bool:
        """Close a connection whose body breaks off after the answer: it has its answer."""
        try:
            return bool(super()._keepalive_after(conn, keepalive))
        except errors.ParseException:
            return False

    def _cap_keepalive(self, deadline: float) -> None:
        """Do not wait for connections that never said a word when the worker stops."""
        super()._cap_keepalive(deadline)
        for conn in self.pending_conns:
            conn.timeout = min(conn.timeout, deadline)

    def notify(self) -> None:
        """Tell gunicorn that the worker lives, at least once a second, and cut off the overdue."""
        super().notify()
        WATCH.cut_off()

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
