"""About the service itself: index, health, description, and the types of problem."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Final

import orjson
from flask import Response, g, render_template, request

from weavability import __version__
from weavability.answers import validation
from weavability.answers.field_words import RulesetDigest
from weavability.service import state
from weavability.service.http import problems
from weavability.service.http.problems import KINDS, ProblemError, ProblemType
from weavability.service.http.responses import (
    HTML,
    JSON,
    html_answer,
    is_current,
    json_answer,
    not_modified,
)
from weavability.service.http.suggestions import did_you_mean
from weavability.service.observability.metrics import MEDIA_TYPE as TEXT
from weavability.service.observability.metrics import PARAMETERS, metrics
from weavability.service.operations import OPERATIONS, Parameter, operation
from weavability.service.pages import docs_page
from weavability.service.requests.canonical import digest
from weavability.service.resources.order_form import show_order_form
from weavability.textiles.sentences import say


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """A method at an address."""

    method: Annotated[str, "HTTP method"]
    path: Annotated[str, "Path, with parameters in braces"]
    summary: Annotated[str, "What it answers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """The addresses of the service."""

    service: Annotated[str, "What this is"]
    description: Annotated[str, "Address of the OpenAPI description"]
    addresses: Annotated[tuple[Address, ...], "Every method at every address"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """The health of a process."""

    status: Annotated[str, "Always `ok`"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """The readiness of the service, with its park and its rules."""

    status: Annotated[str, "Always `ready`; a service that is not ready answers 503"]
    looms: Annotated[int, "Looms in the park"]
    park: Annotated[str, "Digest of the park: two replicas with the same digest answer alike"]
    ruleset: RulesetDigest


@operation(
    "GET",
    "/",
    tag="Service",
    answer=Index,
    answer_words="The index",
    moves="A page with another address was meant",
    media_types=(JSON, HTML),
)
def list_addresses() -> Response:
    """List the addresses of the service; in a browser, state an order and judge it.

    Each is listed with its method and one line of what it does. A browser gets a form, whose fields
    are parameters of the address, named like the columns of a sheet of orders.
    """
    if g.media_type == HTML:
        return show_order_form()
    addresses = tuple(
        Address(method=each.method, path=each.path, summary=each.summary)
        for each in OPERATIONS.values()
    )
    return json_answer(
        Index(
            service="Judges a woven construction against a loom's limits, and states how the loom "
            "is set up and how fast it runs.",
            description="/openapi.json",
            addresses=addresses,
        )
    )


@operation("GET", "/healthz", tag="Service", answer=Health, answer_words="The process answers")
def show_health() -> Response:
    """Show that the process answers.

    Nothing else is looked at: it is for a supervisor that restarts processes.
    """
    return json_answer(Health(status="ok"))


@operation(
    "GET",
    "/readyz",
    tag="Service",
    answer=Readiness,
    answer_words="The service is ready",
    problems=(problems.NOT_READY,),
)
def show_readiness() -> Response:
    """Show that the service is ready, and with which park and rules.

    Replicas with the same digests give the same answers.
    """
    park = state.current().park
    return json_answer(
        Readiness(
            status="ready",
            looms=len(park.looms),
            park=park.digest,
            ruleset=validation.ruleset(),
        )
    )


_TEXT: Final = {"type": "string", "description": "Prometheus' text format, version 0.0.4."}


@operation(
    "GET",
    "/metrics",
    tag="Service",
    answer=_TEXT,
    answer_words="The metrics",
    media_types=(TEXT,),
)
def show_metrics() -> Response:
    """Show the metrics, in Prometheus' text format.

    They are those of all worker processes together. If the service needs tokens, this address
    takes one with the scope `metrics`.
    """
    info = {
        "version": __version__,
        "park": state.current().park.digest,
        "ruleset": validation.ruleset(),
    }
    answer = Response(metrics().written(info), mimetype=TEXT)
    answer.headers["Content-Type"] = f"{TEXT}; {PARAMETERS}"
    answer.headers["Cache-Control"] = "no-store"
    return answer


_ANY_OBJECT: Final = {"type": "object", "description": "An OpenAPI 3.1 document."}


@cache
def _description(describe: Callable[[], Mapping[str, Any]]) -> tuple[bytes, str]:
    written = orjson.dumps(describe())
    return written, digest(written)


@operation(
    "GET",
    "/openapi.json",
    tag="Service",
    answer=_ANY_OBJECT,
    answer_words="The description",
    conditional=True,
)
def show_description() -> Response:
    """Show the description of the service in OpenAPI 3.1.

    Clients can be generated from it; the tests hold every answer to it.
    """
    written, etag = _description(state.current().describe)
    if is_current(request, etag):
        return not_modified(etag)
    answer = json_answer(None, etag=etag)
    answer.data = written
    return answer


_PAGE: Final = {"type": "string", "description": "A page in HTML."}


@cache
def _docs(describe: Callable[[], Mapping[str, Any]]) -> tuple[str, str]:
    page = docs_page.render(describe())
    return page, digest(page.encode())


@operation(
    "GET",
    "/docs",
    tag="Service",
    answer=_PAGE,
    answer_words="The page",
    media_types=(HTML,),
    conditional=True,
)
def show_documentation() -> Response:
    """Show this description as a page, to read and to try out.

    It lists every operation with its fields, units, bounds and examples.
    """
    page, etag = _docs(state.current().describe)
    if is_current(request, etag):
        return not_modified(etag)
    return html_answer(page, etag=etag)


@operation(
    "GET",
    "/problems/{slug}",
    tag="Service",
    answer=ProblemType,
    answer_words="The type of problem",
    parameters=(
        Parameter(
            name="slug",
            place="path",
            description="The last part of a problem's `type`.",
            example="invalid-request",
            pattern="^[a-z-]+$",
        ),
    ),
    problems=(problems.NOT_FOUND,),
    media_types=(JSON, HTML),
)
def show_problem(slug: str) -> Response:
    """Show a type of problem: the page at the `type` of a problem.

    It states what has happened and what the caller can do.
    """
    kind = KINDS.get(slug)
    if kind is None:
        raise ProblemError(
            kind=problems.NOT_FOUND,
            detail=say(
                "problem.unknown_problem",
                "There is no type of problem of this name.{hint}",
                hint=did_you_mean(slug, KINDS),
            ),
        )
    if g.media_type == HTML:
        return Response(render_template("problem_type.html", kind=kind), mimetype=HTML)
    return json_answer(kind)
