"""``/v1/validations``: the judgement of a construction on a loom, and links to it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from flask import Response, g, request

from weavability import __version__
from weavability.answers import validation as answers
from weavability.answers.report import Report
from weavability.checks.finding import Verdict
from weavability.checks.registry import run_checks
from weavability.looms.loom import Loom
from weavability.service import state
from weavability.service.batches.batch_answer import FORMS, answer_batch
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body, parse, require_media_type
from weavability.service.http.responses import (
    HTML,
    JSON,
    html_answer,
    is_current,
    json_answer,
    names_copy,
    not_modified,
)
from weavability.service.observability import request_log
from weavability.service.openapi import example_requests
from weavability.service.operations import QUERY, Parameter, operation
from weavability.service.pages import report_page
from weavability.service.requests.canonical import canonical_request, digest
from weavability.service.requests.links import LONGEST_TOKEN, opened, pack
from weavability.service.requests.park import Park
from weavability.service.schemas.loom_schema import LOOM_ID
from weavability.service.schemas.request_schemas import ValidationRequest, ValidationRequestSchema
from weavability.textiles.errors import Fault, InputError

_SCHEMA: Final = ValidationRequestSchema()
_NO_LINK: Final = (
    f"This request is too long for a link: its address would pass {LONGEST_TOKEN} characters. "
    "Keep the request and send it again instead."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgeable:
    """A request that is known to be good, with the identity of its answer; no rule has run yet.

    Attributes:
        request: Construction and loom.
        validation_id: Digest of request, rule set and the loom's limits; the strong ETag.
        canonical: The technical request in canonical form, of which links are made.
    """

    request: ValidationRequest
    validation_id: str
    canonical: bytes

    def report(self) -> Report:
        """Run every rule."""
        report = answers.assess(
            self.request.construction,
            self.loom,
            validation_id=self.validation_id,
            links=self.links(),
        )
        request_log.report_made(report.verdict, report.findings)
        return report

    def outcome(self) -> tuple[Verdict, tuple[str, ...]]:
        """Run every rule, without set-up and remedies; return the verdict and the codes found."""
        fit = answers.judge(self.request.construction, self.loom)
        found = tuple(run_checks(fit))
        codes = sorted({finding.code for finding in found})
        return answers.verdict_of(found), tuple(codes)

    @property
    def loom(self) -> Loom:
        """The loom that the cloth is held against."""
        if self.request.loom is None:
            raise TypeError("a judgeable request has its loom")
        return self.request.loom

    def links(self) -> dict[str, str | None]:
        """Make the links of the report: its own address, and the loom's where it is in the park."""
        token = pack(self.canonical)
        links: dict[str, str | None] = {
            "self": f"/v1/validations/{token}" if token else None,
        }
        if token is None:
            links["self_note"] = _NO_LINK
        if self.request.loom_id is not None:
            links["loom"] = f"/v1/looms/{self.request.loom_id}"
        return links


def judgeable(given: object, park: Park) -> Judgeable:
    """Read a request and name its answer, without judging the cloth.

    Raises:
        InputError: With every fault of the request, an unknown loom among them.
    """
    faults = list(_unknown_loom(given, park))
    try:
        read = _SCHEMA.read(given)
    except InputError as error:
        raise InputError([*error.faults, *faults]) from None
    if faults:
        raise InputError(faults)
    limits = b""
    if read.loom_id is not None:
        found = park.find(read.loom_id)
        limits = found.limits
        read = ValidationRequest(
            construction=read.construction, loom=found.loom, loom_id=read.loom_id
        )
    canonical = canonical_request(_as_object(given))
    return Judgeable(
        request=read,
        validation_id=_tag(canonical, limits),
        canonical=canonical,
    )


def identity(canonical: bytes, given: object, park: Park) -> str:
    """Return the entity tag of a request in canonical form, without a look at the cloth.

    It is that of :func:`judgeable` where the request is good, and that of no report where it is
    not. A link can therefore be compared with a tag at the cost of one digest.

    Args:
        canonical: The request in canonical form.
        given: The same, read.
        park: Where its loom is looked up.
    """
    loom_id = given.get("loom_id") if isinstance(given, dict) else None
    found = park.looms.get(loom_id) if isinstance(loom_id, str) else None
    return _tag(canonical, found.limits if found else b"")


def _tag(canonical: bytes, limits: bytes) -> str:
    return digest(canonical, answers.ruleset().encode(), limits)


def _as_object(given: object) -> dict[str, Any]:
    if not isinstance(given, dict):
        raise TypeError("a request that was read is an object")
    return given


def _unknown_loom(given: object, park: Park) -> Iterator[Fault]:
    """Say that the park has no such loom, beside whatever else is wrong."""
    loom_id = given.get("loom_id") if isinstance(given, dict) else None
    if isinstance(loom_id, str) and re.fullmatch(LOOM_ID, loom_id):
        try:
            park.find(loom_id)
        except InputError as error:
            yield from error.below("/loom_id").faults


@operation(
    "POST",
    "/v1/validations",
    tag="Validations",
    body=_SCHEMA,
    answer=Report,
    answer_words="The report, whatever its verdict",
    examples={
        "shirting": example_requests.VALIDATION,
        "park_loom": {
            "construction": example_requests.SMALL_CONSTRUCTION,
            "loom_id": "rapier-190-dobby",
        },
    },
    problems=(*problems.OF_BODIES, problems.UNREADABLE_CSV),
    query=True,
    batches=FORMS,
)
def validate() -> Response:
    """Judge a construction on a loom.

    Answers 200 also where the verdict is `not_weavable`: the answer is the product, not a failure.
    `ETag` is the report's `validation_id`; `Content-Location` is the address at which the same
    report can be had again, without the caller's reference.
    """
    here = state.current()
    if request.mimetype in FORMS:
        return answer_batch(lambda given: judgeable(given, here.park).report())
    require_media_type(request, JSON, *FORMS)
    given = json_body(request, longest=here.settings.max_body_bytes)
    judged = judgeable(given, here.park)
    if is_current(request, judged.validation_id):
        return not_modified(judged.validation_id, headers=_addresses(judged))
    return json_answer(judged.report(), etag=judged.validation_id, headers=_addresses(judged))


def _addresses(judged: Judgeable) -> dict[str, str]:
    """Say where the same answer can be had again; to a query, also as the query's own address."""
    own = judged.links()["self"]
    if own is None:
        return {}
    return {"Content-Location": own, **({"Location": own} if request.method == QUERY else {})}


@operation(
    "GET",
    "/v1/validations/{token}",
    tag="Validations",
    answer=Report,
    answer_words="The report",
    parameters=(
        Parameter(
            name="token",
            place="path",
            description="The last part of a report's own link; it carries the technical request.",
            example=pack(canonical_request(example_requests.VALIDATION)) or "",
        ),
    ),
    problems=(problems.NOT_FOUND, problems.INVALID_REQUEST),
    media_types=(JSON, HTML),
    conditional=True,
)
def validation(token: str) -> Response:
    """Give a report again from its link.

    The service keeps nothing: the link carries the technical request itself, without reference and
    other free text. With `If-None-Match` the answer is 304, at no cost, until the loom's limits or
    the rules change. A browser gets a page to read and to print.
    """
    park = state.current().park
    packed = opened(token)
    given = parse(packed)
    if g.media_type == HTML:
        return _page(judgeable(given, park))
    known = identity(packed, given, park)
    if names_copy(request, known):
        return not_modified(known)
    judged = judgeable(given, park)
    if is_current(request, judged.validation_id):
        return not_modified(judged.validation_id)
    return json_answer(judged.report(), etag=judged.validation_id)


def _page(judged: Judgeable) -> Response:
    """Answer with the report as a page; its tag differs from that of the JSON form."""
    etag = f"{judged.validation_id}-page-{__version__}"
    if is_current(request, etag):
        return not_modified(etag)
    fit = answers.judge(judged.request.construction, judged.loom)
    return html_answer(report_page.render(judged.report(), fit), etag=etag)
