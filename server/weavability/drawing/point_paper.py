"""Point paper: the weave, the threading above it and the lift plan at its side.

The first pick is at the bottom and the first end at the left. A filled square is a raised end, an
end drawn on a shaft, a lifted shaft. Small weaves are shown several times over, the first repeat in
ink and framed, the others pale.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from weavability.drawing import layer_signs, svg, thread_bands
from weavability.drawing.layer_signs import Sign
from weavability.drawing.thread_bands import ThreadBand
from weavability.textiles.drafting import Draft, draft_weave
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.weave_matrix import Matrix, Weave
from weavability.textiles.weave_squares import Place

LARGEST_RULED: Final = 400
"""Most threads in either direction that are ruled square by square; more are an overview."""

MOST_SHAFTS_SHOWN: Final = 40
"""Most shafts for which threading and lift plan are drawn: more are a Jacquard's."""

MOST_FOR_COLOURS: Final = 64
"""Most threads that are shown so that the colours repeat too."""

_SHOWN_AT_LEAST: Final = 12
_WIDEST: Final = 1_600
_LARGEST_CELL: Final = 16
_SMALLEST_CELL: Final = 4
_PATH_CELLS: Final = 40_000
_MARGIN: Final = 44
_GAP: Final = 16
_LETTERS: Final = 12
"""Height of the letters of layers below the numbers of the ends."""

_OVERVIEW: Final = 1_000
_PICKS_AT_ONCE: Final = 256
"""Picks of a large design that are made a picture at a time, so that it is never copied whole."""


def draw_point_paper(
    weave: Weave,
    *,
    draft: Draft | None = None,
    name: str = "",
    tightest: Place | None = None,
    layers: LayeredWeave | None = None,
    warp: ThreadBand | None = None,
    weft: ThreadBand | None = None,
    largest_ruled: int = LARGEST_RULED,
    widest: float = _WIDEST,
    on_hooks: bool = False,
    faults: Iterable[str] = (),
) -> str:
    """Draw a weave as SVG.

    Args:
        weave: The weave.
        draft: The threading and lift plan to show; the least draft when not given. A draft on more
            than ``MOST_SHAFTS_SHOWN`` shafts is not drawn.
        name: What the drawing is titled; the weave's own name when not given.
        tightest: Where the threads of the cloth are closest, to be marked.
        layers: The layers that are declared in it. Their threads have letters, and what is raised
            has another sign in each layer; an overview has neither.
        warp: The warp in its order: a band of its colours is below the weave; an overview has none.
        weft: The weft likewise, at the left.
        largest_ruled: Most threads in either direction that are ruled; ``LARGEST_RULED`` at most.
        widest: Pixels that the sheet may have in either direction, if its threads leave it so.
        on_hooks: Whether a Jacquard weaves it, so that no threading or lift plan is drawn.
        faults: What is wrong with the cloth, in sentences.

    Returns:
        An SVG document.
    """
    repeat = weave.reduced()
    if max(repeat.picks, repeat.ends) > min(largest_ruled, LARGEST_RULED):
        return _draw_overview(repeat, name or weave.name, tightest, faults)
    drawn = draft or draft_weave(repeat)
    if max(len(drawn.threading), drawn.picks) > LARGEST_RULED:
        drawn = draft_weave(repeat)
    with_draft = not on_hooks and drawn.shafts <= MOST_SHAFTS_SHOWN
    return _Sheet.of(
        repeat,
        drawn,
        name or weave.name,
        tightest,
        layers,
        warp,
        weft,
        widest=widest,
        with_draft=with_draft,
    ).draw(faults)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """The layout of a ruled sheet."""

    name: str
    repeat: Weave
    draft: Draft
    with_draft: bool
    ends: int
    picks: int
    cell: float
    tightest: Place | None
    layers: LayeredWeave | None
    warp: ThreadBand | None
    weft: ThreadBand | None

    @classmethod
    def of(
        cls,
        repeat: Weave,
        draft: Draft,
        name: str,
        tightest: Place | None,
        layers: LayeredWeave | None,
        warp: ThreadBand | None,
        weft: ThreadBand | None,
        *,
        widest: float,
        with_draft: bool,
    ) -> _Sheet:
        ends = len(draft.threading) if with_draft else repeat.ends
        picks = draft.picks if with_draft else repeat.picks
        if layers is not None:
            ends, picks = _together(ends, layers.joint_ends), _together(picks, layers.joint_picks)
        ends, picks = _shown(_coloured(ends, warp)), _shown(_coloured(picks, weft))
        squares = ends if widest == _WIDEST else max(ends, picks)
        squares += draft.shafts if with_draft else 0
        cell = min(_LARGEST_CELL, max(_SMALLEST_CELL, int((widest - 100) / squares)))
        return cls(
            name=name,
            repeat=repeat,
            draft=draft,
            with_draft=with_draft,
            ends=ends,
            picks=picks,
            cell=cell,
            tightest=tightest,
            layers=layers,
            warp=warp,
            weft=weft,
        )

    @property
    def bands(self) -> list[ThreadBand]:
        """The bands of colours that are drawn."""
        return [band for band in (self.warp, self.weft) if band is not None]

    @property
    def below(self) -> float:
        """Room of the band below the weave."""
        return 0 if self.warp is None else thread_bands.ROOM

    @property
    def beside(self) -> float:
        """Room of the band at the left of the weave."""
        return 0 if self.weft is None else thread_bands.ROOM

    def draw(self, faults: Iterable[str]) -> str:
        """Return the document."""
        shafts = self.draft.shafts if self.with_draft else 0
        beside = shafts * self.cell + _GAP if shafts else 0
        left, top = _MARGIN + self.beside, _MARGIN + beside
        width = left + self.ends * self.cell + beside + _MARGIN
        width = max(width, 480 if self.layers else 360)
        signs = self._signs()
        legend = layer_signs.legend_height(signs) + _LETTERS if self.layers else 0
        room = width - 2 * _MARGIN
        yarns = thread_bands.legend_height(self.bands, width=room)
        caption = top + self.picks * self.cell + self.below + _MARGIN
        caption += _LETTERS if self.layers else 0
        parts = [self._weave(left, top, signs)]
        if shafts:
            parts.append(self._threading(left, _MARGIN))
            parts.append(self._lift_plan(left + self.ends * self.cell + _GAP, top))
        if self.layers is not None:
            parts.append(layer_signs.legend(self.layers, signs, x=_MARGIN, y=caption - 10))
        height = caption + max(0, legend - _LETTERS)
        parts.append(thread_bands.draw_legend(self.bands, x=_MARGIN, y=height - 10, width=room))
        parts.append(self._caption(caption))
        return svg.document(
            width=width,
            height=height + yarns,
            title=f"Point paper: {self.name or 'weave'}",
            description=self._description(),
            parts=parts,
            faults=faults,
        )

    def _signs(self) -> dict[Sign, NDArray[np.bool_]]:
        """Sort the crossings by sign; none, without layers or if there are too many of them."""
        marks = _tiled(self.repeat.matrix, self.picks, self.ends)
        if self.layers is None or marks.size > _PATH_CELLS:
            return {}
        return layer_signs.signs_of(self.layers, marks)

    def _weave(self, x: float, y: float, signs: Mapping[Sign, NDArray[np.bool_]]) -> str:
        """Return the weave, its first repeat framed, with numbers along two sides."""
        marks = _tiled(self.repeat.matrix, self.picks, self.ends)
        first = (self.repeat.picks, self.repeat.ends)
        panel = _panel(marks, x=x, y=y, cell=self.cell, first=first, signs=signs)
        marked = ""
        if self.tightest is not None:
            bottom = y + self.picks * self.cell
            marked = _mark(self.tightest, self.repeat, x=x, bottom=bottom, cell=(self.cell,) * 2)
        panel += marked + self._colours(x, y) + self._numbers(x, y)
        if self.layers is None:
            return panel
        return panel + layer_signs.letters(
            self.layers,
            ends=self.ends,
            picks=self.picks,
            x=x,
            y=y,
            cell=(self.cell, self.cell),
            beside=(self.beside, self.below),
        )

    def _colours(self, x: float, y: float) -> str:
        """Return the bands of colours below the weave and at its left."""
        drawn, cell = "", self.cell
        if self.warp is not None:
            bottom = y + self.picks * cell + 3
            drawn += thread_bands.draw_band(
                self.warp, self.ends, x=x, y=bottom, cell=cell, is_upright=False
            )
        if self.weft is not None:
            left = x - 3 - thread_bands.WIDTH
            drawn += thread_bands.draw_band(
                self.weft, self.picks, x=left, y=y, cell=cell, is_upright=True
            )
        return drawn

    def _threading(self, x: float, y: float) -> str:
        """Return the threading, the first shaft nearest to the weave."""
        threading = np.array(self.draft.threading)
        marks = np.zeros((self.draft.shafts, self.ends), dtype=np.uint8)
        end = np.arange(self.ends)
        marks[threading[end % len(threading)] - 1, end] = 1
        first = (self.draft.shafts, len(threading))
        panel = _panel(marks, x=x, y=y, cell=self.cell, first=first)
        return panel + self._shaft_numbers(x - 6, y, upright=True)

    def _lift_plan(self, x: float, y: float) -> str:
        """Return the lift plan, the first shaft at the left."""
        plan = self.draft.lift_plan
        marks = _tiled(plan, self.picks, plan.shape[1])
        panel = _panel(marks, x=x, y=y, cell=self.cell, first=(len(plan), plan.shape[1]))
        return panel + self._shaft_numbers(x, y + self.picks * self.cell + 13, upright=False)

    def _numbers(self, x: float, y: float) -> str:
        """Write the numbers of ends below and of picks at the left of the weave."""
        bottom = y + self.picks * self.cell
        across = svg.label_step(self.cell, room=18 if self.ends < 100 else 26)
        along = svg.label_step(self.cell, room=14 if self.picks < 100 else 26)
        ends = (
            svg.text(
                x + (end - 0.5) * self.cell,
                bottom + 13 + self.below,
                str(end),
                size=10,
                anchor="middle",
            )
            for end in _labelled(self.ends, across)
        )
        picks = (
            svg.text(
                x - 6 - self.beside,
                bottom - (pick - 0.5) * self.cell + 3.5,
                str(pick),
                size=10,
                anchor="end",
            )
            for pick in _labelled(self.picks, along)
        )
        return "".join((*ends, *picks))

    def _shaft_numbers(self, x: float, y: float, *, upright: bool) -> str:
        """Write the numbers of the shafts of the threading (upright) or of the lift plan."""
        step = svg.label_step(self.cell, room=14 if upright else 18)
        labels = []
        for shaft in _labelled(self.draft.shafts, step):
            if upright:
                middle = y + (self.draft.shafts - shaft + 0.5) * self.cell + 3.5
                labels.append(svg.text(x, middle, str(shaft), size=10, anchor="end"))
            else:
                middle = x + (shaft - 0.5) * self.cell
                labels.append(svg.text(middle, y, str(shaft), size=10, anchor="middle"))
        return "".join(labels)

    def _caption(self, height: float) -> str:
        """Return the heading and the line under the drawing."""
        size = f"{self.repeat.ends} ends × {self.repeat.picks} picks"
        shafts = f"{self.draft.shafts} shafts, {self.draft.kind} draft"
        under = f"{size} · {shafts}" if self.with_draft else f"{size} · Jacquard"
        heading = svg.text(_MARGIN, 24, self.name or "Weave", size=15)
        return heading + svg.text(_MARGIN, height - 10, under, size=11, fill=svg.INK)

    def _description(self) -> str:
        """Describe the drawing in words."""
        what = (
            f"The weave repeats on {self.repeat.ends} ends and {self.repeat.picks} picks. "
            "First pick at the bottom, first end at the left; a filled square is a raised warp "
            "end."
        ) + _in_words(self.tightest)
        if self.layers is not None:
            what += f" {layer_signs.in_words(self.layers)}."
        if not self.with_draft:
            unlike = self.draft.shafts
            return (
                f"{what} It has {unlike} ends that weave unlike one another, for the hooks of a "
                "Jacquard, so no shafts are drawn."
            )
        threading = ", ".join(map(str, self.draft.threading[:60]))
        more = " and so on" if len(self.draft.threading) > 60 else ""
        return (
            f"{what} Above it the {self.draft.kind} threading on {self.draft.shafts} shafts: "
            f"{threading}{more}. At its right the lift plan, first shaft at the left."
        )


def _together(threads: int, repeat: int) -> int:
    """Return the threads after which a sheet and its layers repeat, unless they are too many."""
    both = math.lcm(threads, repeat)
    return both if both <= LARGEST_RULED else threads


def _coloured(threads: int, band: ThreadBand | None) -> int:
    """Return the threads after which a sheet and its colours repeat, unless they are too many."""
    if band is None or len(band.yarns) < 2:
        return threads
    both = math.lcm(threads, len(band.sequence))
    return both if both <= max(threads, MOST_FOR_COLOURS) else threads


def _shown(threads: int) -> int:
    """Return whole repeats of so many threads that make a sheet worth looking at."""
    return threads * -(-_SHOWN_AT_LEAST // threads)


def _labelled(count: int, step: int) -> list[int]:
    """Return the numbers that are written: the first, and multiples of the step not close to it.

    >>> _labelled(8, 1), _labelled(8, 2), _labelled(12, 5)
    ([1, 2, 3, 4, 5, 6, 7, 8], [1, 4, 6, 8], [1, 5, 10])
    """
    if step == 1:
        return list(range(1, count + 1))
    return [1, *range(step if step > 3 else 2 * step, count + 1, step)]


def _tiled(matrix: Matrix, rows: int, columns: int) -> Matrix:
    """Repeat a matrix to the given size."""
    row, column = np.arange(rows)[:, None], np.arange(columns)[None, :]
    tiled: Matrix = matrix[row % matrix.shape[0], column % matrix.shape[1]]
    return tiled


def _panel(
    marks: Matrix,
    *,
    x: float,
    y: float,
    cell: float,
    first: tuple[int, int],
    signs: Mapping[Sign, NDArray[np.bool_]] = MappingProxyType({}),
) -> str:
    """Return a ruled panel with its marks, those of the first repeat in ink and framed.

    Signs, if there are any, take the place of filled squares.
    """
    rows, columns = marks.shape
    inside = np.zeros(marks.shape, dtype=np.bool_)
    inside[: first[0], : first[1]] = True
    shown = signs or {Sign.OWN: marks.astype(np.bool_)}
    inked = "".join(
        _marks(sign, where & part, colour)
        for part, colour in ((~inside, svg.PALE_INK), (inside, svg.INK))
        for sign, where in shown.items()
    )
    place = f'transform="translate({svg.number(x)} {svg.number(y)}) scale({svg.number(cell)})"'
    frame = (
        f'<rect x="0" y="{rows - first[0]}" width="{first[1]}" height="{first[0]}" fill="none" '
        f'stroke="{svg.ACCENT}" stroke-width="{svg.number(max(1.6 / cell, 0.08))}"/>'
    )
    return (
        f"<g {place}>"
        f'<rect width="{columns}" height="{rows}" fill="#fff"/>'
        f"{inked}"
        f'<path d="{svg.grid(columns, rows)}" stroke="{svg.RULE}" '
        f'stroke-width="{svg.number(0.8 / cell)}" fill="none"/>'
        f'<path d="{svg.grid(columns, rows, every=8)}" stroke="{svg.STRONG_RULE}" '
        f'stroke-width="{svg.number(1 / cell)}" fill="none"/>{frame}</g>'
    )


def _marks(sign: Sign, filled: NDArray[np.bool_], colour: str) -> str:
    """Return signs as paths or, if there are very many, as an embedded picture of squares."""
    if not filled.any():
        return ""
    if filled.size <= _PATH_CELLS:
        return layer_signs.drawn(sign, filled, colour=colour)
    rows, columns = filled.shape
    levels = Image.fromarray(np.where(filled[::-1], 0, 1).astype(np.uint8), mode="P")
    levels.putpalette([int(colour[place : place + 2], 16) for place in (1, 3, 5)] + [255] * 3)
    file = io.BytesIO()
    levels.save(file, format="PNG", bits=1, transparency=1)
    return svg.picture(file.getvalue(), x=0, y=0, width=columns, height=rows)


def _mark(
    place: Place, repeat: Weave, *, x: float, bottom: float, cell: tuple[float, float]
) -> str:
    """Return frames round a square of the first repeat; what goes on into the next begins again."""
    wide, high = cell
    frames = "".join(
        f'<rect x="{svg.number(x + left * wide)}" y="{svg.number(bottom - top * high)}" '
        f'width="{svg.number((right - left) * wide)}" height="{svg.number((top - low) * high)}"/>'
        for left, right in _within(place.first_end, place.last_end, repeat.ends)
        for low, top in _within(place.first_pick, place.last_pick, repeat.picks)
    )
    return f'<g fill="{svg.ACCENT}" fill-opacity="0.18" stroke="{svg.ACCENT}">{frames}</g>'


def _within(first: int, last: int, repeat: int) -> list[tuple[int, int]]:
    """Return where threads lie in a repeat, as stretches from one edge to another."""
    start, threads = (first - 1) % repeat, min(last - first + 1, repeat)
    beyond = start + threads - repeat
    return [(start, start + threads)] if beyond <= 0 else [(start, repeat), (0, beyond)]


def _in_words(tightest: Place | None) -> str:
    if tightest is None:
        return ""
    return (
        f" The threads are closest at ends {tightest.first_end}-{tightest.last_end} and picks "
        f"{tightest.first_pick}-{tightest.last_pick}, which are marked."
    )


def _draw_overview(repeat: Weave, name: str, tightest: Place | None, faults: Iterable[str]) -> str:
    """Draw a large design small: every dot is the share of raised ends in a block."""
    longest = max(repeat.ends, repeat.picks)
    scale = min(1.0, _OVERVIEW / longest)
    size = (max(1, round(repeat.ends * scale)), max(1, round(repeat.picks * scale)))
    file = io.BytesIO()
    _small(repeat.matrix[::-1], size).save(file, format="PNG", optimize=True)
    width, height = max(size[0], 320), max(size[1], 8)
    drawn = max(size[0], 8)
    mark = ""
    if tightest is not None:
        cell = (drawn / repeat.ends, height / repeat.picks)
        mark = _mark(tightest, repeat, x=_MARGIN, bottom=_MARGIN + height, cell=cell)
    under = f"{repeat.ends} ends × {repeat.picks} picks · overview"
    if scale < 1:
        under += f", about {1 / scale:.1f} threads a dot"
    return svg.document(
        width=width + 2 * _MARGIN,
        height=height + 2 * _MARGIN,
        title=f"Overview of the design: {name or 'weave'}",
        description=(
            f"The design repeats on {repeat.ends} ends and {repeat.picks} picks, too many to rule "
            "square by square. First pick at the bottom, first end at the left; the darker, the "
            "more warp ends are raised."
        )
        + _in_words(tightest),
        parts=[
            svg.text(_MARGIN, 24, name or "Weave", size=15),
            svg.picture(file.getvalue(), x=_MARGIN, y=_MARGIN, width=drawn, height=height),
            mark,
            svg.text(_MARGIN, height + 2 * _MARGIN - 14, under, size=11),
        ],
        faults=faults,
    )


def _small(rows: Matrix, size: tuple[int, int]) -> Image.Image:
    """Return a design as a grey picture of a size: first narrowed band by band, then lowered."""
    narrow = Image.new("L", (size[0], len(rows)))
    for top in range(0, len(rows), _PICKS_AT_ONCE):
        band = Image.fromarray(255 * (1 - rows[top : top + _PICKS_AT_ONCE]), mode="L")
        narrow.paste(band.resize((size[0], band.height), Image.Resampling.BOX), (0, top))
    return narrow.resize(size, Image.Resampling.BOX)
