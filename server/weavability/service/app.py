"""The WSGI application: addresses, request ids, headers, and every failure as a problem."""

from __future__ import annotations

import logging
import math
import re
import time
from typing import Final
from uuid import uuid4

from flask import Flask, Response, g, request
from gunicorn.http.errors import ParseException  # type: ignore[import-untyped]
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound
from werkzeug.middleware.proxy_fix import ProxyFix

from weavability.service import exchanges, problems, resources, state
from weavability.service.access import Caller, Scope, scope_of
from weavability.service.answers import SECURITY_HEADERS, negotiated
from weavability.service.limits import Allowance, address_key
from weavability.service.operations import OPERATIONS, Operation, View
from weavability.service.park import Park
from weavability.service.problems import ProblemError
from weavability.service.settings import Settings
from weavability.service.suggestions import nearest
from weavability.service.tracing import HEADER, read_traceparent
from weavability.textiles.errors import InputError

REQUEST_ID_HEADER: Final = "X-Request-Id"
_REQUEST_ID: Final = re.compile(r"[A-Za-z0-9._~:+/=@-]{1,128}")
_log = logging.getLogger(__name__)


def create_app(settings: Settings | None = None, *, park: Park | None = None) -> Flask:
    """Make the application.

    Args:
        settings: How it is set up; the defaults where not given.
        park: The loom park; read from the settings' file where not given.

    Raises:
        ParkError: The park file cannot be used.
        TokenFileError: The token file cannot be used.
    """
    chosen = settings or Settings()
    app = Flask(
        "weavability.service",
        template_folder="../pages",
        static_folder="../pages/static",
        static_url_path="/static",
    )
    app.url_map.merge_slashes = False
    state.keep(app.extensions, state.load(chosen, park=park))
    app.wsgi_app = exchanges.Observed(app.wsgi_app)  # type: ignore[method-assign]
    if chosen.proxies:
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=chosen.proxies, x_proto=0, x_host=0
        )
    app.before_request(_begin)
    app.before_request(_admit)
    app.after_request(_finish)
    app.register_error_handler(ProblemError, _answer_problem)
    app.register_error_handler(InputError, _answer_input_error)
    app.register_error_handler(ParseException, _answer_broken_framing)
    app.register_error_handler(HTTPException, _answer_http_exception)
    app.register_error_handler(Exception, _answer_failure)
    resources.load()
    for operation in OPERATIONS.values():
        _add(app, operation)
    return app


def _add(app: Flask, operation: Operation) -> None:
    app.add_url_rule(
        operation.rule,
        endpoint=f"{operation.method} {operation.path}",
        view_func=_with_negotiation(operation),
        methods=operation.methods,
    )


def _with_negotiation(operation: Operation) -> View:
    """Settle the form of the answer before anything is computed."""

    def view(**names: str) -> Response:
        g.media_type = negotiated(request, *operation.forms(request.mimetype))
        return operation.view(**names)

    return view


def _begin() -> None:
    """Name the request and find its place in the caller's trace."""
    given = request.headers.get(REQUEST_ID_HEADER, "")
    g.request_id = given if _REQUEST_ID.fullmatch(given) else uuid4().hex
    exchange = exchanges.current()
    exchange.request_id = g.request_id
    exchange.trace = read_traceparent(request.headers.get(HEADER, ""))
    if request.url_rule is not None:
        exchange.route = request.url_rule.rule.replace("<", "{").replace(">", "}")


def _admit() -> None:
    """Let the request pass, or end it: 401, 403 or 429. Unknown addresses ask for a token too."""
    scope = scope_of(request.path)
    if scope is None:
        return
    here = state.current()
    caller = None
    if here.callers is not None:
        caller = here.callers.admit(request.headers.get("Authorization", ""), scope)
        exchanges.current().caller = caller.name
    if scope is not Scope.METRICS:
        _count(here, caller)


def _count(here: state.State, caller: Caller | None) -> None:
    limit = (caller and caller.requests_per_min) or here.settings.requests_per_min
    if limit is None:
        return
    key = caller.name if caller else address_key(request.remote_addr or "")
    g.allowance = here.limiter.take(key, requests_per_min=limit, now_s=time.monotonic())
    if not g.allowance.allowed:
        wait = math.ceil(g.allowance.wait_s)
        raise ProblemError(
            kind=problems.TOO_MANY_REQUESTS,
            detail=f"One caller may ask {limit} times a minute here. Come again in {wait} s.",
            headers={"Retry-After": str(wait)},
        )


def _limit_headers(allowance: Allowance) -> dict[str, str]:
    """Tell callers where they stand, in the common form of these headers."""
    return {
        "RateLimit-Limit": str(allowance.limit),
        "RateLimit-Remaining": str(allowance.remaining),
        "RateLimit-Reset": str(math.ceil(allowance.full_s)),
    }


def _finish(response: Response) -> Response:
    response.headers[REQUEST_ID_HEADER] = g.request_id
    if "allowance" in g:
        response.headers.update(_limit_headers(g.allowance))
    for name, value in SECURITY_HEADERS.items():
        response.headers.setdefault(name, value)
    asked = OPERATIONS.get(("POST", request.path))
    if asked is not None and asked.accept_query is not None:
        response.headers["Accept-Query"] = asked.accept_query
    if request.method == "OPTIONS" and response.status_code == 200:
        response.status_code = 204
        response.headers.pop("Content-Type", None)
    return response


def _answer_problem(problem: ProblemError) -> Response:
    exchanges.current().problem = problem.kind.slug
    return problem.response(path=request.path, request_id=g.request_id)


def _answer_broken_framing(_error: ParseException) -> Response:
    """Answer a body whose chunks are broken; where the next request begins, nobody knows."""
    return _answer_problem(
        ProblemError(
            kind=problems.MALFORMED_HTTP,
            detail="The chunks of the body are broken.",
            headers={"Connection": "close"},
        )
    )


def _answer_input_error(error: InputError) -> Response:
    return _answer_problem(ProblemError.of_input(error))


def _answer_http_exception(error: HTTPException) -> Response:
    """Answer what routing and the framework refuse."""
    if isinstance(error, NotFound):
        return _answer_problem(_nothing_here())
    kind = problems.KIND_OF_STATUS.get(error.code or 500)
    if kind is None:
        return _answer_failure(error)
    headers = {}
    detail = kind.advice
    if isinstance(error, MethodNotAllowed):
        allow = ", ".join(sorted(error.valid_methods or ()))
        headers["Allow"] = allow
        detail = f"{request.path[:200]} takes {allow}."
    return _answer_problem(ProblemError(kind=kind, detail=detail, headers=headers))


def _nothing_here() -> ProblemError:
    known = {operation.path for operation in OPERATIONS.values()}
    found = nearest(request.path, known)
    hint = f" Did you mean {' or '.join(found)}?" if found else " GET / lists the addresses."
    return ProblemError(
        kind=problems.NOT_FOUND, detail=f"There is nothing at {request.path[:200]}.{hint}"
    )


def _answer_failure(error: Exception) -> Response:
    _log.error("the request failed", exc_info=error)
    return _answer_problem(
        ProblemError(
            kind=problems.INTERNAL_ERROR,
            detail=f"The service failed; its log has more under {g.request_id}.",
        )
    )
