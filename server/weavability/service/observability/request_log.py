"""Log and metrics of one request, from its first byte to the last byte of its answer.

A wrapper around the application, because only there is the end of a streamed answer seen.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from flask import has_request_context, request

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity, Verdict
from weavability.service.observability.json_logs import REQUESTS
from weavability.service.observability.metrics import UNMATCHED, known_method, metrics
from weavability.service.observability.trace_context import Trace

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

HUNG_UP: Final = "caller-hung-up"
"""Where the log else has the type of a problem."""

STATUS_OF_HUNG_UP: Final = 499
"""Written down of a caller who left before the answer: no server fault, and no late body either."""

_KEY: Final = "weavability.exchange"


@dataclass(slots=True, kw_only=True)
class Exchange:
    """One request and its answer.

    Attributes:
        route: Template of the address, such as ``/v1/looms/{loom_id}``; ``None`` if none fits.
        caller: Name of the token.
        problem: Type of the problem that was answered.
        verdict: Of the only report that was made.
        reports: Reports that were made.
        has_hung_up: Whether the caller left before it was answered.
        counts: Whether it is a caller's, and not an example of the service's own description.
    """

    method: str
    address: str
    bytes_in: int | None
    started_s: float = field(default_factory=time.perf_counter)
    request_id: str = ""
    trace: Trace | None = None
    route: str | None = None
    caller: str | None = None
    problem: str | None = None
    verdict: Verdict | None = None
    reports: int = 0
    status: int = 0
    bytes_out: int = 0
    has_hung_up: bool = False
    counts: bool = True

    def finish(self) -> None:
        """Log and count it, if it counts."""
        if not self.counts:
            return
        if self.has_hung_up:
            self.status = STATUS_OF_HUNG_UP
        duration_s = time.perf_counter() - self.started_s
        method, route = known_method(self.method), self.route or UNMATCHED
        counted = metrics()
        counted.requests.labels(method, route, self.status).inc()
        counted.duration.labels(method, route).observe(duration_s)
        if self.problem and not self.has_hung_up:
            counted.rejections.labels(self.problem).inc()
        REQUESTS.log(_level(self.status), "request", extra={"facts": self._facts(duration_s)})

    def _facts(self, duration_s: float) -> dict[str, Any]:
        trace = self.trace
        return {
            "request_id": self.request_id,
            "trace_id": trace.trace_id if trace else None,
            "parent_id": trace.parent_id if trace else None,
            "span_id": trace.span_id if trace else None,
            "address": self.address,
            "caller": self.caller,
            "method": self.method[:32],
            "route": self.route,
            "status": self.status,
            "duration_ms": round(duration_s * 1000, 3),
            "bytes_in": self.bytes_in,
            "bytes_out": self.bytes_out,
            "problem": HUNG_UP if self.has_hung_up else self.problem,
            "verdict": self.verdict,
            "reports": self.reports,
        }


def _level(status: int) -> int:
    if status >= 500 or not status:
        return logging.ERROR
    return logging.WARNING if status >= 400 else logging.INFO


def current() -> Exchange:
    """Return the exchange of the request being handled."""
    exchange = request.environ[_KEY]
    if not isinstance(exchange, Exchange):
        raise TypeError("the application is not observed")
    return exchange


def report_made(verdict: Verdict, findings: Iterable[tuple[CheckCode, Severity]]) -> None:
    """Count a report; within a request also write its verdict down for the log.

    Args:
        verdict: Its verdict.
        findings: Code and severity of each finding.
    """
    exchange = current() if has_request_context() else None
    if exchange is None or exchange.counts:
        metrics().count_report(verdict, findings)
    if exchange is not None:
        exchange.reports += 1
        exchange.verdict = verdict if exchange.reports == 1 else None


class Observed:
    """An application whose exchanges are logged and counted, if they count."""

    def __init__(self, application: WSGIApplication, *, counts: bool = True) -> None:
        self._application = application
        self._counts = counts

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        exchange = Exchange(
            method=environ.get("REQUEST_METHOD", ""),
            address=environ.get("REMOTE_ADDR", ""),
            bytes_in=_length(environ.get("CONTENT_LENGTH")),
            counts=self._counts,
        )
        environ[_KEY] = exchange

        def started(status: str, headers: Any, exc_info: Any = None) -> Any:
            exchange.status = int(status[:3])
            return start_response(status, headers, exc_info)

        if self._counts:
            metrics().in_flight.inc()
        try:
            chunks = self._application(environ, started)
        except BaseException:
            _end(exchange)
            raise
        return _Watched(chunks, exchange)


def _length(given: str | None) -> int | None:
    return int(given) if given and given.isascii() and given.isdecimal() else None


def _end(exchange: Exchange) -> None:
    if exchange.counts:
        metrics().in_flight.dec()
    exchange.finish()


class _Watched:
    """The chunks of an answer, counted; the exchange ends when they are closed."""

    def __init__(self, chunks: Iterable[bytes], exchange: Exchange) -> None:
        self._chunks = chunks
        self._exchange = exchange

    def __iter__(self) -> Iterator[bytes]:
        for chunk in self._chunks:
            self._exchange.bytes_out += len(chunk)
            yield chunk

    def close(self) -> None:
        """End the exchange."""
        try:
            close = getattr(self._chunks, "close", None)
            if close is not None:
                close()
        finally:
            _end(self._exchange)
