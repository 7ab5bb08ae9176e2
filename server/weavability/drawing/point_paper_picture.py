"""The point paper of a design as a PNG picture: one pixel a hook and pick, dark where it is raised.

It can be read back as a weave. The same design gives the same bytes.
"""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, PngImagePlugin

from weavability.answers.caution import CAUTION
from weavability.textiles.weave_matrix import Matrix


def point_paper_png(lift: Matrix) -> bytes:
    """Return a one-bit picture of what is raised, the first pick at the bottom.

    The caution is in it as a text, under the keyword ``Disclaimer`` of the PNG standard.

    Args:
        lift: Of shape (picks, hooks), 1 where the hook is raised.
    """
    picks, hooks = lift.shape
    light = np.packbits(lift[::-1] == 0, axis=1)
    picture = Image.frombytes("1", (hooks, picks), light.tobytes())
    words = PngImagePlugin.PngInfo()
    words.add_text("Disclaimer", CAUTION)
    file = io.BytesIO()
    picture.save(file, format="PNG", pnginfo=words, optimize=False)
    return file.getvalue()
