"""The notations and names of weaves as a page for people, each drawn."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Final

import numpy as np
from flask import render_template
from markupsafe import Markup

from weavability.drawing.svg import squares
from weavability.service.requests.weave_notations import WeaveNotations

DRAWN_THREADS: Final = 16
"""How many threads each way a small drawing shows; a longer repeat is cut there."""


def render(known: WeaveNotations) -> str:
    """Return the page."""
    return render_template(
        "weaves.html", known=known, drawn=_drawn, written=_written, caution=known.caution
    )


def _drawn(rows: Sequence[str]) -> Markup:
    """Draw a weave small, its repeat again and again, the first pick at the bottom."""
    repeat = np.array([[sign == "1" for sign in row] for row in rows])
    picks, ends = repeat.shape
    shown = np.tile(repeat, (-(-DRAWN_THREADS // picks), -(-DRAWN_THREADS // ends)))
    shown = shown[:DRAWN_THREADS, :DRAWN_THREADS]
    svg = (
        f'<svg class="weave" viewBox="0 0 {DRAWN_THREADS} {DRAWN_THREADS}" aria-hidden="true">'
        f'<path d="{squares(shown)}"/></svg>'
    )
    return Markup(svg)  # noqa: S704 (made of numbers alone)


def _written(example: object) -> str:
    return example if isinstance(example, str) else json.dumps(example)
