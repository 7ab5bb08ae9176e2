"""``/evidence``: published values beside the computed ones."""

from __future__ import annotations

from flask import Response, g, request

from weavability import __version__
from weavability.answers import validation
from weavability.answers.published_evidence import Evidence, evidence
from weavability.service.http.responses import (
    HTML,
    JSON,
    html_answer,
    is_current,
    json_answer,
    not_modified,
)
from weavability.service.operations import operation
from weavability.service.pages import evidence_page

_VARY = {"Vary": "Accept"}


@operation(
    "GET",
    "/evidence",
    tag="Checks",
    answer=Evidence,
    answer_words="The evidence",
    media_types=(JSON, HTML),
    conditional=True,
)
def list_evidence() -> Response:
    """List the published values that this service is tested against.

    Each has its source, the published and the computed figure, deviation and tolerance, by subject;
    so does what does not agree. What was left out is listed with the reason. A browser gets a page.
    """
    found = validation.ruleset()
    if g.media_type != HTML:
        if is_current(request, found):
            return not_modified(found, headers=_VARY)
        return json_answer(evidence(), etag=found, headers=_VARY)
    etag = f"{found}-page-{__version__}"
    if is_current(request, etag):
        return not_modified(etag, headers=_VARY)
    answer = html_answer(evidence_page.render(evidence()), etag=etag)
    answer.headers.update(_VARY)
    return answer
