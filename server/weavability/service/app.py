"""The WSGI application: addresses, request ids, headers, and every failure as a problem."""

from __future__ import annotations

import logging
import re
from typing import Final
from uuid import uuid4

from flask import Flask, Response, g, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound

from weavability.service import problems, resources, state
from weavability.service.answers import SECURITY_HEADERS, negotiated
from weavability.service.operations import OPERATIONS, Operation, View
from weavability.service.park import Park, load_park
from weavability.service.problems import ProblemError
from weavability.service.settings import Settings
from weavability.service.suggestions import nearest
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
    """
    chosen = settings or Settings()
    app = Flask(
        "weavability.service",
        template_folder="../pages",
        static_folder="../pages/static",
        static_url_path="/static",
    )
    app.url_map.merge_slashes = False
    state.keep(app.extensions, state.State(settings=chosen, park=park or load_park(chosen.looms)))
    app.before_request(_take_request_id)
    app.after_request(_finish)
    app.register_error_handler(ProblemError, _answer_problem)
    app.register_error_handler(InputError, _answer_input_error)
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
        methods=[operation.method],
    )


def _with_negotiation(operation: Operation) -> View:
    """Settle the form of the answer before anything is computed."""

    def view(**names: str) -> Response:
        g.media_type = negotiated(request, *operation.media_types)
        return operation.view(**names)

    return view


def _take_request_id() -> None:
    given = request.headers.get(REQUEST_ID_HEADER, "")
    g.request_id = given if _REQUEST_ID.fullmatch(given) else uuid4().hex


def _finish(response: Response) -> Response:
    response.headers[REQUEST_ID_HEADER] = g.request_id
    for name, value in SECURITY_HEADERS.items():
        response.headers.setdefault(name, value)
    if request.method == "OPTIONS" and response.status_code == 200:
        response.status_code = 204
        response.headers.pop("Content-Type", None)
    return response


def _answer_problem(problem: ProblemError) -> Response:
    return problem.response(path=request.path, request_id=g.request_id)


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
    _log.error("request %s failed", g.request_id, exc_info=error)
    return _answer_problem(
        ProblemError(
            kind=problems.INTERNAL_ERROR,
            detail=f"The service failed; its log has more under {g.request_id}.",
        )
    )
