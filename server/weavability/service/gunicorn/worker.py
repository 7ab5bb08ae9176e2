"""gunicorn's threaded worker: problems in place of its HTML pages, and four promises kept.

Health and readiness answer even if every thread waits for a slow client, and whatever clients do
that were answered. No thread waits for the head of a request, unless it is long. ``Connection:
close`` of an answer closes the connection, and the client reads so. A worker that stops closes its
sockets, so that nobody is left waiting at a socket that nothing accepts from.

Only what gunicorn hands over is used: its hooks, the pool that a worker may make, its poller, and
the methods by which it runs, begins to accept, gives a connection to a thread and answers what it
refuses.
"""

from __future__ import annotations

import logging
import selectors
import socket
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from threading import local
from typing import TYPE_CHECKING, Any, Final
from uuid import uuid4

import orjson
from gunicorn.http import errors  # type: ignore[import-untyped]
from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]

from weavability.service.gunicorn.heads import CAN_WAIT, HEAD_END, Heads, is_whole, seen_of
from weavability.service.gunicorn.lingering import Lingering
from weavability.service.http import problems
from weavability.service.http.problems import MEDIA_TYPE, ProblemError, ProblemType
from weavability.service.http.responses import SECURITY_HEADERS
from weavability.service.http.slow_clients import WATCH, Wait, bound_sending
from weavability.service.observability.request_log import Exchange

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

PROBES: Final = (b"GET /healthz", b"GET /readyz", b"HEAD /healthz", b"HEAD /readyz")
"""How requests begin that have a thread of their own."""

_log = logging.getLogger(__name__)
_here = local()
_OF_A_BODY: Final = (b"content-length", b"transfer-encoding")
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
    """Serves the application.

    Attributes:
        patience_s: Longest time that the head of a request may take; the command sets it.
    """

    patience_s: float

    def run(self) -> None:
        """Serve until stopped."""
        if CAN_WAIT:
            self._heads = Heads(self.patience_s)
            self.poller.register(self._heads, selectors.EVENT_READ, self._heads.look)
        super().run()

    def enqueue_req(self, conn: Any) -> None:
        """Give a connection to a thread, when the head of its request is there."""
        if CAN_WAIT and not is_whole(seen_of(conn)):
            self._heads.wait_for(conn, super().enqueue_req)
        else:
            super().enqueue_req(conn)

    def get_thread_pool(self) -> ThreadPoolExecutor:
        """Return the threads that answer requests; gunicorn calls this once, as it starts."""
        return _Threads(self.cfg.threads, patience_s=self.patience_s)

    def set_accept_enabled(self, enabled: bool) -> None:  # noqa: FBT001  (gunicorn's own signature)
        """Begin or cease to accept; a worker that stops closes its listening sockets."""
        super().set_accept_enabled(enabled)
        if not enabled and not self.alive:
            for listener in self.sockets:
                listener.close()

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


class _Threads(ThreadPoolExecutor):
    """The threads of a worker, and one for probes that nothing else may hold."""

    def __init__(self, threads: int, *, patience_s: float) -> None:
        super().__init__(max_workers=threads)
        self._for_probes = ThreadPoolExecutor(max_workers=1)
        self._lingering = Lingering()
        self._patience_s = patience_s

    def submit(self, handle: Callable[[Any], Any], /, conn: Any) -> Future[Any]:  # type: ignore[override]
        """Hand a connection to a thread, which reads a request from it and answers it."""
        conn.close = partial(self._lingering.close, conn.sock)
        begin = self._for_probes.submit if _is_probe(conn) else super().submit
        return begin(self._watched, handle, conn)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:  # noqa: FBT001, FBT002
        """Take nothing more."""
        super().shutdown(wait, cancel_futures=cancel_futures)
        self._for_probes.shutdown(wait, cancel_futures=cancel_futures)

    def _watched(self, handle: Callable[[Any], Any], conn: Any) -> Any:
        """Handle a connection; the head of a request has to arrive in time, however it trickles."""
        _here.client = conn.sock
        with WATCH.over(conn.sock, Wait.HEAD, within_s=self._patience_s):
            return handle(conn)


def head_has_come(worker: Any, request: Any) -> None:
    """Note the request that this thread answers: gunicorn's hook ``pre_request``."""
    WATCH.end(_here.client)
    _here.worker, _here.request = worker, request


def _is_probe(conn: Any) -> bool:
    """Return whether a whole request for health or readiness has come, and nothing else.

    Its thread then waits for no client. A head that is incomplete or promises a body is anybody's.
    """
    seen = seen_of(conn)
    if not seen.startswith(PROBES) or seen.find(HEAD_END) != len(seen) - len(HEAD_END):
        return False
    head = seen.lower()
    return not any(each in head for each in _OF_A_BODY)


def closing_as_said(application: WSGIApplication) -> WSGIApplication:
    """Close the connection after an answer that says so, in a header that gunicorn drops.

    And after one whose request came in while the worker began to stop: gunicorn decides before the
    body has arrived, and would promise to keep a connection that it closes.
    """

    def answer(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        def start(status: str, headers: list[tuple[str, str]], *more: Any) -> Callable[..., Any]:
            if not _here.worker.alive or ("Connection", "close") in headers:
                _here.request.force_close()
            return start_response(status, headers, *more)

        return application(environ, start)

    return answer


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
    problem = ProblemError(kind=kind, detail=kind.whole)
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
