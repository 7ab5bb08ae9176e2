"""The face of the cloth in its colours: every float a thread that lies on top.

Few threads are drawn as threads, many as coloured dots; the setts give the proportions.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from weavability.drawing import layer_signs, svg, thread_bands
from weavability.drawing.thread_bands import ThreadBand
from weavability.textiles.colouring import MAX_FACE_CELLS, Face, colour_repeat, face_of, face_shares
from weavability.textiles.errors import InputError
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Weave

MOST_THREADS_DRAWN: Final = 64
"""Most threads in either direction that are drawn one by one; more are dots."""

MOST_THREADS_SHOWN: Final = 1_600
"""Most threads in either direction that are shown at all."""

_LONGEST: Final = 380.0
_MARGIN: Final = 44
_COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")
_SHADOW: Final = "#3b3a38"
_ALIKE: Final = 32
"""Colours of which no channel differs by more than this, of 255, look the same as dots."""

_SHADE: Final = 0.16
"""By how much the weft of a cloth in one colour is drawn darker, or lighter if it is dark."""

_SHADED: Final = "The weft is shaded, so that it is seen"
_SCALE: Final = 26
"""Height of the scale bar with its length, in pixels."""

_LENGTHS_MM: Final = tuple(step * 10.0**power for power in range(-2, 4) for step in (1, 2, 5))
"""Round lengths for a scale bar."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """The part of the cloth that is shown, and its size on the sheet."""

    face: Face
    up: NDArray[np.bool_]
    cell_width: float
    cell_height: float

    @property
    def width(self) -> float:
        return float(self.up.shape[1] * self.cell_width)

    @property
    def height(self) -> float:
        return float(self.up.shape[0] * self.cell_height)


def draw_cloth_face(
    weave: Weave,
    *,
    warp_colours: Sequence[str],
    weft_colours: Sequence[str],
    ends_per_cm: float,
    picks_per_cm: float,
    name: str = "",
    layers: LayeredWeave | None = None,
    yarns: Sequence[ThreadBand] = (),
    longest: float = _LONGEST,
    faults: Iterable[str] = (),
) -> str:
    """Draw the face of a cloth as SVG.

    Args:
        weave: The weave.
        warp_colours: Colour of every end of the warp order, as ``#rrggbb``.
        weft_colours: Colour of every pick of the weft order.
        ends_per_cm: Ends per cm.
        picks_per_cm: Picks per cm.
        name: What the drawing is titled; the weave's own name when not given.
        layers: The layers that are declared. Threads have letters, and those of every layer but
            the first are hatched; dots are not.
        yarns: Warp and weft in their orders, for the legend.
        longest: The longer side of the cloth, in pixels.
        faults: What is wrong with the cloth, in sentences.

    Returns:
        An SVG document, showing at least one repeat of weave and colour if that is no more than
        ``MOST_THREADS_SHOWN`` threads, else the first of them.

    Raises:
        InputError: When an order is empty or a colour is not written ``#rrggbb``.
    """
    for colour in {*warp_colours, *weft_colours}:
        if not _COLOUR.fullmatch(colour):
            message = say(
                "fault.colours.not_a_colour",
                "'{colour}' is not a colour: write #rrggbb.",
                colour=colour[:20],
            )
            raise InputError.of("", message, given=colour[:20], allowed="#1c2a4a")
    repeat = colour_repeat(weave, warp=warp_colours, weft=weft_colours)
    ends, picks = _shown(repeat.ends), _shown(repeat.picks)
    if ends * picks > MAX_FACE_CELLS:
        picks = MAX_FACE_CELLS // ends
    face = face_of(weave, warp=warp_colours, weft=weft_colours, ends=ends, picks=picks)
    window = _window(
        weave, face, ends_per_cm=ends_per_cm, picks_per_cm=picks_per_cm, longest=longest
    )
    shares = face_shares(weave, warp=warp_colours, weft=weft_colours)
    shown = f"{ends} of {repeat.ends}" if ends < repeat.ends else f"{ends}"
    size_cm = (ends / ends_per_cm, picks / picks_per_cm)
    under = f"{shown} ends × {picks} picks, {_length(10 * size_cm[0])} × {_length(10 * size_cm[1])}"
    title = name or weave.name or "Cloth"
    as_threads = max(ends, picks) <= MOST_THREADS_DRAWN
    palette = _palette(window.face.colours)
    in_one_colour = bool((np.ptp(palette, axis=0) <= _ALIKE).all())
    is_shaded = in_one_colour and not as_threads
    width = max(window.width + 2 * _MARGIN, 320)
    parts = [svg.text(_MARGIN, 26, title, size=15)]
    parts.append(_threads(window) if as_threads else _dots(window, palette, shaded=is_shaded))
    described = f"First pick at the bottom, first end at the left: {under}. {_in_words(shares)}"
    y = _MARGIN + window.height + (28 if layers is not None and as_threads else 12)
    parts.append(_scale_bar(window.width / (10 * size_cm[0]), window.width, y))
    y += _SCALE
    parts.append(svg.text(_MARGIN, y + 12, under, size=11))
    y += 16
    if is_shaded:
        parts.append(svg.text(_MARGIN, y + 12, _SHADED, size=11))
        described += f" {_SHADED}."
        y += 16
    if layers is not None:
        parts += _layers(layers, window) if as_threads else []
        words = layer_signs.in_words(layers)
        if as_threads and len(layers.layers) > 1:
            words += f"; hatched {', '.join(one.letter for one in layers.layers[1:])}"
        parts.append(svg.text(_MARGIN, y + 13, words, size=11))
        described += f" {words}."
        y += layer_signs.LINE
    room = width - 2 * _MARGIN
    parts.append(thread_bands.draw_legend(yarns, x=_MARGIN, y=y, width=room))
    return svg.document(
        width=width,
        height=y + thread_bands.legend_height(yarns, width=room) + 8,
        title=f"Face of the cloth: {title}",
        description=described,
        parts=parts,
        faults=faults,
    )


def _length(length_mm: float) -> str:
    """Write a length with two digits.

    >>> _length(8.571), _length(35.7), _length(164.2)
    ('8.6 mm', '3.6 cm', '16 cm')
    """
    if length_mm < 10:
        return f"{float(f'{length_mm:.2g}'):g} mm"
    return f"{float(f'{length_mm / 10:.2g}'):g} cm"


def _scale_bar(px_per_mm: float, width: float, y: float) -> str:
    """Return a bar of a round length, at most a third as wide as the cloth; ``y`` is its top."""
    long_mm = max((each for each in _LENGTHS_MM if each * px_per_mm <= width / 3), default=0.01)
    x, end = float(_MARGIN), _MARGIN + long_mm * px_per_mm
    path = (
        f"M{svg.number(x)} {svg.number(y)}v8M{svg.number(x)} {svg.number(y + 4)}"
        f"H{svg.number(end)}M{svg.number(end)} {svg.number(y)}v8"
    )
    words = f"{long_mm:g} mm" if long_mm < 10 else f"{long_mm / 10:g} cm"
    bar = f'<path d="{path}" stroke="{svg.INK}" stroke-width="1.6" fill="none"/>'
    return bar + svg.text(end + 8, y + 8, words, size=11)


def _layers(layers: LayeredWeave, window: _Window) -> list[str]:
    """Hatch the threads of every layer but the first, and write the letters of all."""
    parts = []
    for letter, pattern, hatch in layer_signs.hatches(layers):
        mine = layer_signs.belonging(layers, letter, window.up)
        bars = _bars(window, mine & ~window.up, upright=False)
        bars += _bars(window, mine & window.up, upright=True)
        at = f'transform="translate({_MARGIN} {_MARGIN})" fill="{hatch}" fill-opacity="0.6"'
        parts.append(f"<defs>{pattern}</defs><g {at}>{bars}</g>")
    picks, ends = window.up.shape
    cell = (window.cell_width, window.cell_height)
    return [
        *parts,
        layer_signs.letters(layers, ends=ends, picks=picks, x=_MARGIN, y=_MARGIN, cell=cell),
    ]


def _shown(repeat: int) -> int:
    """Return the threads to show: whole repeats, enough to judge the effect, not too many."""
    return min(repeat * -(-24 // repeat), MOST_THREADS_SHOWN)


def _window(
    weave: Weave, face: Face, *, ends_per_cm: float, picks_per_cm: float, longest: float
) -> _Window:
    """Scale the cloth to the sheet, its proportions as woven."""
    picks, ends = face.matrix.shape
    row, column = np.arange(picks)[:, None], np.arange(ends)[None, :]
    up = weave.matrix[row % weave.picks, column % weave.ends].astype(np.bool_)
    longest_cm = max(ends / ends_per_cm, picks / picks_per_cm)
    px_per_cm = longest / longest_cm
    return _Window(
        face=face, up=up, cell_width=px_per_cm / ends_per_cm, cell_height=px_per_cm / picks_per_cm
    )


def _threads(window: _Window) -> str:
    """Draw every float as a rounded bar over the shadow between the threads."""
    parts = [
        f'<g transform="translate({_MARGIN} {_MARGIN})">'
        f'<rect width="{svg.number(window.width)}" height="{svg.number(window.height)}" '
        f'fill="{_SHADOW}"/>'
    ]
    for colour, name in enumerate(window.face.colours):
        mine = window.face.matrix == colour
        bars = _bars(window, mine & ~window.up, upright=False)
        bars += _bars(window, mine & window.up, upright=True)
        parts.append(f'<g fill="{name}" stroke="{_SHADOW}" stroke-width="0.6">{bars}</g>')
    return "".join([*parts, "</g>"])


def _bars(window: _Window, shown: NDArray[np.bool_], *, upright: bool) -> str:
    """Return the floats of the ends (upright) or picks as rounded bars."""
    along, across = window.cell_width, window.cell_height
    lines = shown[::-1]
    if upright:
        along, across, lines = across, along, lines.T
    radius = svg.number(0.32 * min(along, across))
    bars = []
    for line, start, length in svg.runs(lines):
        x, y = (start + 0.04) * along, (line + 0.09) * across
        w, h = (length - 0.08) * along, 0.82 * across
        if upright:
            x, y, w, h = y, x, h, w
        place = " ".join(
            f'{key}="{svg.number(value)}"'
            for key, value in (("x", x), ("y", y), ("width", w), ("height", h))
        )
        bars.append(f'<rect {place} rx="{radius}"/>')
    return "".join(bars)


def _dots(window: _Window, palette: NDArray[np.uint8], *, shaded: bool) -> str:
    """Draw every crossing as a dot of the colour on top, in a frame.

    The weft may be ``shaded``: a damask in white is seen by the light on it, and as bare colours it
    would be an empty sheet.
    """
    shown, up = window.face.matrix[::-1], window.up[::-1, :, None]
    dots = palette[shown]
    if shaded:
        away = np.where(palette.mean(axis=1, keepdims=True) > 127, 0, 255)
        of_weft = (palette + _SHADE * (away - palette)).astype(np.uint8)
        dots = np.where(up, dots, of_weft[shown])
    file = io.BytesIO()
    Image.fromarray(dots, mode="RGB").save(file, format="PNG")
    size = {"x": _MARGIN, "y": _MARGIN, "width": window.width, "height": window.height}
    frame = " ".join(f'{key}="{svg.number(value)}"' for key, value in size.items())
    return (
        svg.picture(file.getvalue(), **size)
        + f'<rect {frame} fill="none" stroke="{svg.QUIET}" stroke-width="0.8"/>'
    )


def _palette(colours: Sequence[str]) -> NDArray[np.uint8]:
    return np.array(
        [[int(name[place : place + 2], 16) for place in (1, 3, 5)] for name in colours],
        dtype=np.uint8,
    )


def _in_words(shares: dict[str, float]) -> str:
    """List the shares of the colours, the largest first."""
    largest = sorted(shares.items(), key=lambda item: -item[1])[:8]
    listed = ", ".join(f"{colour} {100 * share:.0f} %" for colour, share in largest)
    return f"Shares of the face: {listed}."
