"""Reading the fields that a page's form sends."""

from __future__ import annotations

from typing import Final

from flask import Request

from weavability.service.http.json_bodies import require_media_type

FORM: Final = "application/x-www-form-urlencoded"

Pairs = list[tuple[str, str]]
"""Name and text of each field, in the order in which they were given."""


def form_fields(request: Request, *, longest: int) -> Pairs:
    """Return the fields of a form's body, which may have ``longest`` bytes.

    Raises:
        ProblemError: 415, it is no form; 413, it is too large.
    """
    if request.content_type is not None:
        require_media_type(request, FORM)
    request.max_content_length = request.max_form_memory_size = longest
    return list(request.form.items(multi=True))
