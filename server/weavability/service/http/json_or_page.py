"""Answers that are data for programs or a page for people, as the caller accepts."""

from __future__ import annotations

from collections.abc import Callable

from flask import Response, g, request

from weavability.service.http.edition import edition
from weavability.service.http.responses import (
    HTML,
    JSON,
    html_answer,
    is_current,
    json_answer,
    not_modified,
)

JSON_OR_HTML = (JSON, HTML)


def data_or_page(
    etag: str, *, compute: Callable[[], object], render: Callable[[], str]
) -> Response:
    """Answer in the negotiated form, or that the caller's copy of it is current.

    Args:
        etag: Names the data; the page has a tag of its own, which holds its edition.
        compute: Computes the data.
        render: Renders the page.
    """
    of_page = g.media_type == HTML
    own_tag = f"{etag}-page-{edition()}" if of_page else etag
    if is_current(request, own_tag):
        return not_modified(own_tag)
    return html_answer(render(), etag=own_tag) if of_page else json_answer(compute(), etag=own_tag)
