"""Before every request: its id, its caller, and the caller's limit."""

from __future__ import annotations

import math
import re
import time
from typing import Final
from uuid import uuid4

from flask import g, request

from weavability.service.access.rate_limit import Allowance, Limiter, address_key
from weavability.service.access.tokens import Callers, Scope, scope_of
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.observability import request_log
from weavability.service.observability.trace_context import HEADER, read_traceparent

REQUEST_ID_HEADER: Final = "X-Request-Id"
_REQUEST_ID: Final = re.compile(r"[A-Za-z0-9._~:+/=@-]{1,128}")


def begin() -> None:
    """Name the request, and find its place in the caller's trace."""
    given = request.headers.get(REQUEST_ID_HEADER, "")
    g.request_id = given if _REQUEST_ID.fullmatch(given) else uuid4().hex
    exchange = request_log.current()
    exchange.request_id = g.request_id
    exchange.trace = read_traceparent(request.headers.get(HEADER, ""))
    if request.url_rule is not None:
        exchange.route = request.url_rule.rule.replace("<", "{").replace(">", "}")


def admit(*, callers: Callers | None, limiter: Limiter, requests_per_min: int | None) -> None:
    """Let the request pass; addresses that do not exist need a token as well.

    Args:
        callers: Who has a token; ``None`` if nobody needs one.
        limiter: Counts the requests of each caller.
        requests_per_min: Limit of a caller without a limit of its own; ``None`` for no limit.

    Raises:
        ProblemError: 401 and 403, the token; 429, too many requests.
    """
    scope = scope_of(request.path)
    if scope is None:
        return
    caller = None
    if callers is not None:
        caller = callers.admit(request.headers.get("Authorization", ""), scope)
        request_log.current().caller = caller.name
    limit = (caller and caller.requests_per_min) or requests_per_min
    if scope is not Scope.METRICS and limit is not None:
        key = caller.name if caller else address_key(request.remote_addr or "")
        _count(limiter, key, limit)


def _count(limiter: Limiter, key: str, limit: int) -> None:
    g.allowance = limiter.take(key, requests_per_min=limit, now_s=time.monotonic())
    if not g.allowance.allowed:
        wait = math.ceil(g.allowance.wait_s)
        raise ProblemError(
            kind=problems.TOO_MANY_REQUESTS,
            detail=f"One caller may send {limit} requests a minute. Send the next in {wait} s.",
            headers={"Retry-After": str(wait)},
        )


def headers() -> dict[str, str]:
    """Return the headers that state request id and allowance."""
    named = {REQUEST_ID_HEADER: g.request_id}
    return {**named, **_standing(g.allowance)} if "allowance" in g else named


def _standing(allowance: Allowance) -> dict[str, str]:
    return {
        "RateLimit-Limit": str(allowance.requests_per_min),
        "RateLimit-Remaining": str(allowance.remaining),
        "RateLimit-Reset": str(math.ceil(allowance.full_s)),
    }
