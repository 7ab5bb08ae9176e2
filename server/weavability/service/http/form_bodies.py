"""Reading the fields that a page's form sends."""

from __future__ import annotations

from typing import Final

from flask import Request

from weavability.service.http import problems
from weavability.service.http.json_bodies import require_media_type
from weavability.service.http.problems import ProblemError

FORM: Final = "application/x-www-form-urlencoded"

MOST_FORM_FIELDS: Final = 2_000
"""Fields of one form; an order has at most half as many."""

LONGEST_URLENCODED: Final = 2 * 2**20
"""Bytes of a form that is not sent in parts: to read one takes up to eighty times its length."""

Pairs = list[tuple[str, str]]
"""Name and text of each field, in the order in which they were given."""


def form_fields(request: Request, *, longest: int) -> Pairs:
    """Return the fields of a form's body, which may have ``longest`` bytes.

    Raises:
        ProblemError: 415, it is no form; 413, it is too large or has too many fields.
    """
    if request.content_type is not None:
        require_media_type(request, FORM)
    bound_form(request, longest=longest)
    return list(request.form.items(multi=True))


def bound_form(request: Request, *, longest: int) -> None:
    """Bound the body of a form, in whatever form it is sent, before its fields are read.

    Raises:
        ProblemError: 413, it has too many fields.
    """
    if request.mimetype == FORM:
        longest = min(longest, LONGEST_URLENCODED)
    request.max_content_length = request.max_form_memory_size = longest
    request.max_form_parts = MOST_FORM_FIELDS
    if request.mimetype == FORM and request.get_data().count(b"&") >= MOST_FORM_FIELDS:
        raise ProblemError(
            kind=problems.BODY_TOO_LARGE,
            detail=f"A form has at most {MOST_FORM_FIELDS} fields.",
        )
