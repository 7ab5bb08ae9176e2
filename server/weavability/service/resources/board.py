"""``/board``: a list of reports that lives in the browser, and polls for changes."""

from __future__ import annotations

from typing import Final

from flask import Response, request

from weavability.service.http.edition import edition
from weavability.service.http.responses import HTML, html_answer, is_current, not_modified
from weavability.service.operations import operation
from weavability.service.pages import board_page
from weavability.service.requests.canonical import digest

_PAGE: Final = {"type": "string", "description": "A page in HTML."}


@operation(
    "GET",
    "/board",
    tag="Validations",
    answer=_PAGE,
    answer_words="The page",
    media_types=(HTML,),
    conditional=True,
)
def show_board() -> Response:
    """Show the board: reports that somebody keeps an eye on, as a page.

    The list lives in the browser, which polls `POST /v1/validation-changes` and shows what has
    changed since it was seen. `/board#add=` and a link or its token put a report on it, with
    `&label=` under a name; browsers do not send what follows the `#`.
    """
    page = board_page.render()
    etag = digest(page.encode(), edition().encode())
    if is_current(request, etag):
        return not_modified(etag)
    return html_answer(page, etag=etag)
