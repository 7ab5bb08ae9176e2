"""Before every request: its id, its caller, and the caller's limits; after it, its work."""

from __future__ import annotations

import math
import re
import time
from dataclasses import dataclass
from typing import Final
from uuid import uuid4

from flask import g, request

from weavability.service.access.rate_limit import Allowance, Limiter, address_key
from weavability.service.access.tokens import Callers, Scope, scope_of
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import wants_page
from weavability.service.http.work import UNITS_OF_A_MILLION_CROSSINGS, units_done
from weavability.service.observability import request_log
from weavability.service.observability.trace_context import HEADER, read_traceparent
from weavability.textiles.sentences import Sentence, say

REQUEST_ID_HEADER: Final = "X-Request-Id"
_REQUEST_ID: Final = re.compile(r"[A-Za-z0-9._~:+/=@-]{1,128}")


def begin() -> None:
    """Name the request, and find its place in the caller's trace."""
    given = request.headers.get(REQUEST_ID_HEADER, "")
    g.request_id = given if _REQUEST_ID.fullmatch(given) else uuid4().hex
    exchange = request_log.current()
    exchange.request_id = g.request_id
    if request.environ.get("SERVER_PROTOCOL") == "HTTP/1.1" and not request.headers.get("Host"):
        raise ProblemError(
            kind=problems.MALFORMED_HTTP,
            detail=say("problem.no_host", "A request needs the header Host (RFC 9112)."),
        )
    exchange.trace = read_traceparent(request.headers.get(HEADER, ""))
    if request.url_rule is not None:
        exchange.route = request.url_rule.rule.replace("<", "{").replace(">", "}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one caller may do in a minute at one worker process; ``None`` for no limit."""

    requests_per_min: int | None
    work_per_min: int | None


UNLIMITED: Final = Limits(requests_per_min=None, work_per_min=None)


class Guard:
    """Knows the callers, and counts what each has sent and done."""

    def __init__(self, callers: Callers | None, limits: Limits) -> None:
        """Begin to count.

        Args:
            callers: Who has a token; ``None`` if nobody needs one.
            limits: Those of callers without limits of their own.
        """
        self.callers = callers
        self._limits = limits
        self._requests = Limiter()
        self._work = Limiter()

    def admit(self) -> None:
        """Let the request pass; addresses that do not exist need a token as well.

        Raises:
            ProblemError: 401 and 403, the token; 429, too many requests or too much work.
        """
        page = wants_page(request)
        scope = scope_of(request.path, page=page or _may_get_page())
        if scope is None:
            return
        caller = None
        if self.callers is not None:
            caller = self.callers.admit(
                request.headers.get("Authorization", ""), scope, browser=page or _is_of_own_page()
            )
            request_log.current().caller = caller.name
        if scope is Scope.METRICS:
            return
        key = caller.name if caller else address_key(request.remote_addr or "")
        most_requests = (caller and caller.requests_per_min) or self._limits.requests_per_min
        most_work = (caller and caller.work_per_min) or self._limits.work_per_min
        if most_requests is not None:
            taken = self._requests.take(key, per_min=most_requests, now_s=time.monotonic())
            _refuse_unless(
                taken,
                say(
                    "part.requests_per_min",
                    "One caller may send {requests_per_min} requests a minute.",
                    requests_per_min=most_requests,
                ),
            )
        if most_work is not None:
            g.account = _Account(self._work, key, most_work)
            g.account.open()

    @staticmethod
    def settle() -> None:
        """Count the work that the request at hand has done and that is not counted yet."""
        if "account" in g:
            g.account.settle(units_done())


def _may_get_page() -> bool:
    """Return whether the answer may be a page, which computes: the index at ``/`` does not."""
    return request.method == "POST" or "text/" in request.headers.get("Accept", "")


def _is_of_own_page() -> bool:
    """Return whether a page of this service sent the request, in a browser that says so."""
    return request.headers.get("Sec-Fetch-Site") == "same-origin"


class _Account:
    """The work of one request, counted for its caller as it becomes known."""

    def __init__(self, limiter: Limiter, key: str, per_min: int) -> None:
        self._limiter = limiter
        self._key = key
        self._per_min = per_min
        self._counted = 1
        self.allowance: Allowance | None = None

    def open(self) -> None:
        """Count a first unit.

        Raises:
            ProblemError: 429, the caller has too much work to its account.
        """
        self.allowance = self._limiter.take(
            self._key, per_min=self._per_min, now_s=time.monotonic()
        )
        _refuse_unless(
            self.allowance,
            say(
                "part.work_per_min",
                "One caller may have {units_per_min} units of work done in a minute: one for each "
                "order on each loom, {units_per_million_crossings} for each million crossings.",
                units_per_min=self._per_min,
                units_per_million_crossings=UNITS_OF_A_MILLION_CROSSINGS,
            ),
        )

    def settle(self, units: int) -> None:
        """Count up to ``units`` in all."""
        if units > self._counted:
            self.allowance = self._limiter.charge(
                self._key,
                units - self._counted,
                per_min=self._per_min,
                now_s=time.monotonic(),
            )
            self._counted = units


def _refuse_unless(allowance: Allowance, rule: Sentence) -> None:
    if not allowance.allowed:
        wait = math.ceil(allowance.wait_s)
        raise ProblemError(
            kind=problems.TOO_MANY_REQUESTS,
            detail=say(
                "problem.too_many_requests",
                "{rule} Send the next request in {wait_s} s.",
                rule=rule,
                wait_s=wait,
            ),
            headers={"Retry-After": str(wait)},
        )


def headers() -> dict[str, str]:
    """Return the headers that state the request id, and what work the caller has left."""
    named = {REQUEST_ID_HEADER: g.request_id}
    allowance: Allowance | None = g.account.allowance if "account" in g else None
    if allowance is None:
        return named
    return {
        **named,
        "RateLimit-Limit": str(allowance.per_min),
        "RateLimit-Remaining": str(allowance.remaining),
        "RateLimit-Reset": str(math.ceil(allowance.full_s)),
    }
