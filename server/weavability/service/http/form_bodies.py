"""Reading what a page's form sends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from flask import Request

from weavability.service.http.json_bodies import require_media_type

FORM: Final = "application/x-www-form-urlencoded"
MULTIPART: Final = "multipart/form-data"

MOST_PARTS: Final = 2_000

Pairs = list[tuple[str, str]]
"""Name and text of each field, in the order in which they were given."""


class FormBody(NamedTuple):
    """The fields of a form, and its files by name."""

    fields: Pairs
    files: Mapping[str, bytes]


def form_body(request: Request, *media_types: str, longest: int) -> FormBody:
    """Return what a form's body of some media types holds, which may have ``longest`` bytes.

    Raises:
        ProblemError: 415, it is no such form.
        RequestEntityTooLarge: It is too large, or has too many parts.
    """
    if request.content_type is not None:
        require_media_type(request, *media_types)
    request.max_content_length = request.max_form_memory_size = longest
    request.max_form_parts = MOST_PARTS
    files = {name: each.read() for name, each in request.files.items()}
    return FormBody(list(request.form.items(multi=True)), files)
