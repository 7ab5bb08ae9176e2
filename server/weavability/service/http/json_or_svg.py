"""Answers that are figures or a drawing, as the caller accepts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from flask import Response, g, request

from weavability.service.http.responses import (
    JSON,
    REVALIDATE,
    is_current,
    json_answer,
    not_modified,
)

SVG: Final = "image/svg+xml"
JSON_OR_SVG: Final = (JSON, SVG)

# Drawings style themselves, and large designs are pictures inside them; nothing is fetched.
_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"


def figures_or_drawing(
    etag: str, *, compute: Callable[[], object], draw: Callable[[], str]
) -> Response:
    """Answer in the negotiated form, or that the caller's copy of it is current.

    Args:
        etag: Names the answer; the drawing has a tag of its own.
        compute: Computes the figures.
        draw: Draws them as SVG.
    """
    drawn = g.media_type == SVG
    own_tag = f"{etag}-svg" if drawn else etag
    headers = {"Vary": "Accept"}
    if is_current(request, own_tag):
        return not_modified(own_tag, headers=headers)
    if not drawn:
        return json_answer(compute(), etag=own_tag, headers=headers)
    return picture_answer(draw(), SVG, etag=own_tag, headers=headers)


def picture_answer(
    picture: str | bytes, media_type: str, *, etag: str, headers: Mapping[str, str]
) -> Response:
    """Answer with a drawing or picture."""
    answer = Response(picture, mimetype=media_type, headers=headers)
    answer.headers["ETag"] = f'"{etag}"'
    answer.headers["Cache-Control"] = REVALIDATE
    answer.headers["Content-Security-Policy"] = _POLICY
    return answer
