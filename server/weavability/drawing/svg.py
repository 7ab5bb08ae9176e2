"""The elements of SVG of which all drawings are made."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterable
from html import escape
from textwrap import wrap
from typing import Final

import numpy as np
from numpy.typing import NDArray

from weavability.answers.caution import CAUTION, SHORT_CAUTION

INK: Final = "#1d2a33"
QUIET: Final = "#5a6670"
PALE_INK: Final = "#9aa3a9"
PAPER: Final = "#fcfbf8"
RULE: Final = "#d8d6cf"
STRONG_RULE: Final = "#a5a39b"
ACCENT: Final = "#0b4f8a"
FAULT: Final = "#9c1c1c"
FONT: Final = "system-ui, 'DejaVu Sans', sans-serif"
"""The colours and the type of the pages; ``QUIET`` is the palest ink in which words are written."""

_FOOT_SIZE: Final = 10
_FOOT_LINE: Final = 13
_FOOT_LEFT: Final = 12
_FOOT_SIGN: Final = 6.0
"""Pixels: size, distance of lines, left edge, and ample width of a sign of what is below."""


def document(
    *,
    width: float,
    height: float,
    title: str,
    description: str,
    parts: Iterable[str],
    faults: Iterable[str] = (),
) -> str:
    """Return a whole SVG document with a title and description for screen readers.

    A loom may be set up from a drawing, so that each carries the caution: in short below what is
    drawn and at the end of the description, in full in its metadata.

    Args:
        width: Width in pixels.
        height: Height in pixels, without the caution.
        title: What is drawn.
        description: What there is to see, in sentences.
        parts: SVG elements.
        faults: Sentences that whoever uses the drawing must not miss; they are written below it.
    """
    signs = int((width - 2 * _FOOT_LEFT) / _FOOT_SIGN)
    wrong = [line for fault in faults for line in wrap(fault, signs)]
    lines = [
        *((line, True) for line in wrong),
        *((line, False) for line in wrap(SHORT_CAUTION, signs)),
    ]
    foot = "".join(
        text(
            _FOOT_LEFT,
            height + _FOOT_LINE * place,
            line,
            size=_FOOT_SIZE,
            fill=FAULT if bold else INK,
            bold=bold,
        )
        for place, (line, bold) in enumerate(lines, start=1)
    )
    description = " ".join((description, *wrong, SHORT_CAUTION))
    # Several drawings may be in one page: their ids must differ.
    key = f"{zlib.crc32(f'{title}{description}'.encode()):08x}"
    drawing = root(
        width=width,
        height=height + _FOOT_LINE * (len(lines) + 1),
        label=f'aria-labelledby="t{key} d{key}"',
        head=f'<title id="t{key}">{escape(title)}</title>'
        f'<desc id="d{key}">{escape(description)}</desc>'
        f"<metadata>{escape(CAUTION)}</metadata>",
        inner=f"{''.join(parts)}{foot}",
    )
    return f"{drawing}\n"


def root(
    *, width: float, height: float, label: str, inner: str, head: str = "", paper: str = PAPER
) -> str:
    """Return the element of a whole drawing on its paper.

    Args:
        width: Width in pixels.
        height: Height in pixels.
        label: The attribute that names it for screen readers.
        inner: What is drawn, as SVG elements.
        head: Elements before it that draw nothing.
        paper: Colour of the paper.
    """
    w, h = number(width), number(height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}" '
        f'role="img" {label} font-family="{escape(FONT)}">'
        f'{head}<rect width="{w}" height="{h}" fill="{paper}"/>{inner}</svg>'
    )


def number(value: float) -> str:
    """Write a coordinate with at most two decimals.

    >>> number(2.0), number(0.12345)
    ('2', '0.12')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".")


def text(
    x: float,
    y: float,
    content: str,
    *,
    size: float = 11,
    anchor: str = "start",
    fill: str = INK,
    bold: bool = False,
    over_lines: bool = False,
) -> str:
    """Return a line of text; ``x`` and ``y`` are the pixels of its anchor on the base line.

    Words ``over_lines`` have a rim of paper, so that no line crosses them.
    """
    weight = ' font-weight="600"' if bold else ""
    rim = f' paint-order="stroke" stroke="{PAPER}" stroke-width="4"' if over_lines else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" '
        f'text-anchor="{anchor}" fill="{fill}"{weight}{rim}>{escape(content)}</text>'
    )


def squares(filled: NDArray[np.bool_]) -> str:
    """Return path data that fills unit squares, the last row of the array at the top.

    Neighbouring squares of a column are drawn as one bar, or of a row if that takes fewer.
    """
    turned = filled[::-1]
    across, upright = runs(turned), runs(turned.T)
    if len(across) <= len(upright):
        return "".join(f"M{start} {line}h{length}v1h-{length}z" for line, start, length in across)
    return "".join(f"M{line} {start}v{length}h1v-{length}z" for line, start, length in upright)


def grid(columns: int, rows: int, *, every: int = 1) -> str:
    """Return path data of ruled lines at every so many units, the rows counted from the bottom."""
    upright = "".join(f"M{x} 0V{rows}" for x in range(0, columns + 1, every))
    across = "".join(f"M0 {rows - y}H{columns}" for y in range(0, rows + 1, every))
    return upright + across


def label_step(unit: float, *, room: float) -> int:
    """Return the round number of units after which labels have ``room`` pixels each.

    >>> label_step(18, room=18), label_step(4, room=30), label_step(2.5, room=30)
    (1, 10, 20)
    """
    steps = (step * scale for scale in (1, 10, 100, 1_000, 10_000) for step in (1, 2, 4, 5))
    return next((step for step in steps if step * unit >= room), 100_000)


def picture(png: bytes, *, x: float, y: float, width: float, height: float) -> str:
    """Return an embedded PNG picture whose pixels stay sharp when it is enlarged."""
    data = base64.b64encode(png).decode("ascii")
    return (
        f'<image x="{number(x)}" y="{number(y)}" width="{number(width)}" '
        f'height="{number(height)}" preserveAspectRatio="none" '
        f'image-rendering="pixelated" href="data:image/png;base64,{data}"/>'
    )


def runs(filled: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Return (row, first column, length) of every run of filled squares along the rows."""
    edges = np.diff(np.pad(filled.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    lines, starts = np.nonzero(edges == 1)
    ends = np.nonzero(edges == -1)[1]
    return list(zip(lines.tolist(), starts.tolist(), (ends - starts).tolist(), strict=True))
