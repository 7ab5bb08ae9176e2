"""The WSGI application: addresses, request ids, headers, and every failure as a problem."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from functools import cache, partial
from typing import Any

from flask import Flask, Response, g, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound
from werkzeug.middleware.proxy_fix import ProxyFix

from weavability.answers.trials import AFTER_TRIALS
from weavability.service import state
from weavability.service.access import cross_origin, request_guard
from weavability.service.access.request_guard import Guard
from weavability.service.http import problems, work
from weavability.service.http.failures import failure, problem_for
from weavability.service.http.problems import ProblemError
from weavability.service.http.responses import (
    HTML,
    PAGE_POLICY,
    SECURITY_HEADERS,
    negotiated,
    wants_page,
)
from weavability.service.http.slow_clients import TimedClients
from weavability.service.http.suggestions import did_you_mean, nearest
from weavability.service.observability import request_log
from weavability.service.observability.metrics import metrics
from weavability.service.openapi.document import document
from weavability.service.openapi.documented_responses import statuses
from weavability.service.openapi.example_answers import ExampleAnswers
from weavability.service.operations import Operation, View
from weavability.service.pages import problem_page
from weavability.service.pages.navigation import NAVIGATION
from weavability.service.requests.park import Park
from weavability.service.resources import OPERATIONS
from weavability.service.schemas.faults import escape
from weavability.service.settings import Settings
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import BEFORE_MAKING

_log = logging.getLogger(__name__)


def create_app(
    settings: Settings | None = None, *, park: Park | None = None, for_examples: bool = False
) -> Flask:
    """Make the application.

    Args:
        settings: How it is set up; the defaults if not given.
        park: The loom park; read from the settings' file if not given.
        for_examples: Whether it only answers the examples of its description, beside one that
            serves callers: nothing is counted or logged, and the thresholds in force stay.

    Raises:
        ParkError: The park file cannot be used.
        TokenFileError: The token file cannot be used.
        ThresholdFileError: The file of thresholds cannot be used.
    """
    chosen = settings or Settings()
    app = Flask(
        "weavability.service",
        template_folder="pages/templates",
        static_folder="pages/static",
        static_url_path="/static",
    )
    app.url_map.merge_slashes = False
    app.jinja_env.globals["navigation"] = NAVIGATION
    keep = state.keep if for_examples else state.put_to_use
    keep(app.extensions, state.load(chosen, describe=openapi_document, park=park))
    timed = TimedClients(app.wsgi_app, patience_s=chosen.patience_s)
    app.wsgi_app = request_log.Observed(timed, counts=not for_examples)  # type: ignore[method-assign]
    if chosen.proxies:
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=chosen.proxies, x_proto=0, x_host=0
        )
    app.before_request(_begin)
    app.before_request(_admit)
    app.after_request(_finish)
    app.teardown_request(_settle)
    app.register_error_handler(Exception, _answer)
    for operation in OPERATIONS.values():
        _add(app, operation)
        if not for_examples:
            metrics().expect(operation.methods, operation.path, statuses(operation))
    return app


def _refuse_unknown_parameters(operation: Operation) -> None:
    """Refuse an address whose query has a parameter that the operation does not know.

    Raises:
        InputError: It has one; pages outside the interface read their fields themselves.
    """
    known = [each.name for each in operation.parameters if each.place == "query"]
    strange = next((name for name in request.args if name not in known), None)
    if strange is not None and operation.is_of_interface:
        raise InputError.of(
            f"/{escape(strange[:40])}",
            say(
                "fault.address.unknown_parameter",
                "The address takes no parameter of this name.{hint}",
                hint=did_you_mean(strange, known),
            ),
            given=None,
            allowed=known,
        )


@cache
def openapi_document() -> Mapping[str, Any]:
    """Return the OpenAPI document; an application with the demo park answers its examples."""
    return document(OPERATIONS.values(), ExampleAnswers(partial(create_app, for_examples=True)))


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
        forms = operation.forms(request.mimetype)
        _refuse_unknown_parameters(operation)
        g.media_type = negotiated(request, *forms)
        answer = operation.view(**names)
        if len(forms) > 1:
            answer.vary.add("Accept")
        return answer

    return view


def _begin() -> None:
    request_guard.begin()
    work.begin()
    BEFORE_MAKING.set(work.spend_crossings)
    AFTER_TRIALS.set(_count_trials)


def _count_trials(probes: int, proofs: int) -> None:
    metrics().count_trials(probes, proofs)
    work.spend_trials(probes, proofs)


def _admit() -> None:
    here = state.current()
    if not cross_origin.is_preflight(here.settings.allow_origins):
        here.guard.admit()


def _settle(_error: BaseException | None) -> None:
    """Count what a batch has done, whose answer was written after its headers."""
    Guard.settle()
    metrics().work.inc(work.end())


def _finish(response: Response) -> Response:
    Guard.settle()
    response.headers.update(request_guard.headers())
    cross_origin.let_read(response, state.current().settings.allow_origins)
    if g.get("media_type") == HTML:
        # Also of a 304: a browser applies its policy to the page that it has kept.
        response.headers["Content-Security-Policy"] = PAGE_POLICY
    for name, value in SECURITY_HEADERS.items():
        response.headers.setdefault(name, value)
    posted = OPERATIONS.get(("POST", request.path))
    if posted is not None and posted.accept_query is not None:
        response.headers["Accept-Query"] = posted.accept_query
    if request.method == "OPTIONS" and response.status_code == 200:
        response.status_code = 204
        response.headers.pop("Content-Type", None)
    return response


def _answer(error: Exception) -> Response:
    """Answer an error that a request met."""
    problem = _refusal(error) if isinstance(error, HTTPException) else problem_for(error)
    if problem is None:
        _log.error("request %s failed", g.request_id, exc_info=error)
        problem = failure(g.request_id)
    exchange = request_log.current()
    exchange.problem = problem.kind.slug
    exchange.has_hung_up = isinstance(error, ConnectionResetError)
    answer = problem.response(path=request.path, request_id=g.request_id)
    if wants_page(request):
        g.media_type = HTML
        document = problem.document(path=request.path, request_id=g.request_id)
        answer.set_data(problem_page.render(document))
        answer.mimetype = HTML
    return answer


def _refusal(error: HTTPException) -> ProblemError | None:
    """Return the problem of what routing and the framework refuse."""
    if isinstance(error, NotFound):
        return _nothing_here()
    if isinstance(error, MethodNotAllowed):
        allow = ", ".join(sorted(error.valid_methods or ()))
        return ProblemError(
            kind=problems.METHOD_NOT_ALLOWED,
            detail=say(
                "problem.method_not_allowed",
                "{path} accepts {methods}.",
                path=request.path[:200],
                methods=allow,
            ),
            headers={"Allow": allow},
        )
    return problem_for(error)


def _nothing_here() -> ProblemError:
    known = {operation.path for operation in OPERATIONS.values()}
    found = nearest(request.path, known)
    hint = (
        say("part.did_you_mean_address", " Did you mean {names}?", names=" or ".join(found))
        if found
        else say("part.list_of_addresses", " GET / lists the addresses.")
    )
    return ProblemError(
        kind=problems.NOT_FOUND,
        detail=say(
            "problem.nothing_at_address",
            "There is nothing at {path}.{hint}",
            path=request.path[:200],
            hint=hint,
        ),
    )
