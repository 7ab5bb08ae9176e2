"""``/evidence``: published values beside the computed ones."""

from __future__ import annotations

from flask import Response

from weavability.answers.published_evidence import Evidence, evidence
from weavability.service.http.edition import edition
from weavability.service.http.json_or_page import JSON_OR_HTML, data_or_page
from weavability.service.operations import operation
from weavability.service.pages import evidence_page


@operation(
    "GET",
    "/evidence",
    tag="Checks",
    answer=Evidence,
    answer_words="The evidence",
    media_types=JSON_OR_HTML,
    conditional=True,
)
def list_evidence() -> Response:
    """List the published values that this service is tested against.

    Each has its source, the published and the computed figure, deviation and tolerance, by subject;
    so does what does not agree. What was left out is listed with the reason. A browser gets a page.
    """
    return data_or_page(
        edition(), compute=evidence, render=lambda: evidence_page.render(evidence())
    )
