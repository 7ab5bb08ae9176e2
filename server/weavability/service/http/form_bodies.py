"""Reading what a page's form sends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from flask import Request

from weavability.service.http import problems
from weavability.service.http.json_bodies import require_media_type
from weavability.service.http.problems import ProblemError
from weavability.textiles.sentences import say

FORM: Final = "application/x-www-form-urlencoded"
MULTIPART: Final = "multipart/form-data"

MOST_FORM_FIELDS: Final = 2_000
"""Fields of one form; an order has at most half as many."""

LONGEST_URLENCODED: Final = 2 * 2**20
"""Bytes of a form that is not sent in parts: to read one takes up to eighty times its length."""

Pairs = list[tuple[str, str]]
"""Name and text of each field, in the order in which they were given."""


class FormBody(NamedTuple):
    """The fields of a form, and its files by name."""

    fields: Pairs
    files: Mapping[str, bytes]


def form_body(request: Request, *media_types: str, longest: int) -> FormBody:
    """Return what a form's body of some media types holds, which may have ``longest`` bytes.

    Raises:
        ProblemError: 415, it is no such form; 413, it has too many fields or too large a file.
        RequestEntityTooLarge: It is too large, or has too many parts.
    """
    if request.content_type is not None:
        require_media_type(request, *media_types)
    if request.mimetype == FORM:
        longest = min(longest, LONGEST_URLENCODED)
    elif (request.content_length or 0) > longest:
        raise ProblemError(
            kind=problems.BODY_TOO_LARGE,
            detail=say(
                "problem.file_too_large",
                "The picture or file is too large: with the order it has {given_mib:.3g} MiB, and "
                "at most {most_mib:g} MiB are read. Save it smaller, a picture with one pixel for "
                "each end and pick.",
                given_mib=(request.content_length or 0) / 2**20,
                most_mib=longest / 2**20,
            ),
        )
    request.max_content_length = request.max_form_memory_size = longest
    request.max_form_parts = MOST_FORM_FIELDS
    if request.mimetype == FORM and request.get_data().count(b"&") >= MOST_FORM_FIELDS:
        raise ProblemError(
            kind=problems.BODY_TOO_LARGE,
            detail=say(
                "problem.too_many_form_fields",
                "A form has at most {most_fields} fields.",
                most_fields=MOST_FORM_FIELDS,
            ),
        )
    files = {name: each.read() for name, each in request.files.items()}
    return FormBody(list(request.form.items(multi=True)), files)
