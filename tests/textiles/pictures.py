"""Point paper as PNG pictures, drawn for the tests that read them."""

from __future__ import annotations

import io

from PIL import Image

from weavability.textiles.weave_matrix import Weave


def png(picture: Image.Image, **options: object) -> bytes:
    """The file of a picture."""
    file = io.BytesIO()
    picture.save(file, format="PNG", **options)
    return file.getvalue()


def png_of_weave(weave: Weave) -> bytes:
    """A weave as a one-bit picture, one pixel a crossing, the first pick at the bottom."""
    picture = Image.fromarray(255 * (1 - weave.matrix[::-1]), mode="L").convert("1")
    return png(picture, optimize=True)
