"""A figured design on its harness: the whole in the colours of its effects, or its point paper.

The first pick is at the bottom and the first end at the left.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from weavability.answers.design_places import places_of
from weavability.answers.design_section import figured_cloth_of
from weavability.answers.design_sheet import tightness_of
from weavability.checks.finding import Severity
from weavability.checks.registry import run_checks
from weavability.drawing import svg
from weavability.looms.fit import Fit
from weavability.textiles.figured.design_figures import tightest_of_parts
from weavability.textiles.figured.design_numbers import FoundPlace
from weavability.textiles.figured.figured_cloth import FiguredCloth

MOST_PIXELS: Final = 512
"""Most pixels of a side of the pictures in an overview."""

_SIDE: Final = 520
_LEAST_SIDE: Final = 90
_MARGIN: Final = 44
_TIE: Final = 90
_MAP: Final = 260
_LIST: Final = 330
_LIST_LETTERS: Final = 54
_GAP: Final = 28
_SCALE: Final = 10
_WIDE_SCALE_PCT: Final = 4.0
"""A scale over so much or more has figures without decimals."""

_WEFT_LETTERS: Final = 6
_LINE: Final = 18
_SWATCH: Final = 12
_MOST_MARKED: Final = 20
_LIGHT, _DARK = np.array([250, 246, 232]), np.array([120, 30, 16])


def draw_design(fit: Fit) -> str:
    """Draw a design as SVG: effects, tie, tight and loose areas, and places of findings.

    Raises:
        InputError: The construction is no figured design.
    """
    cloth = figured_cloth_of(fit)
    width, height = _size(cloth)
    left, top = _MARGIN, 2 * _MARGIN + _TIE
    beside = left + width + _GAP
    squares = tightness_of(fit)
    tightness = None if squares is None else tightest_of_parts(squares)
    found = list(run_checks(fit))
    findings = [each for each in found if each.severity is not Severity.NOTE]
    places = places_of(fit, cloth, {each.code for each in found})
    legend = [*_legend(cloth, beside), *_listed(cloth, places, beside, top + 0.0)]
    parts = [
        svg.text(left, 24, f"{cloth.weave.ends} ends × {cloth.weave.picks} picks", bold=True),
        *_tie(cloth, left, _MARGIN + 14, width),
        svg.picture(_effects_png(cloth), x=left, y=top, width=width, height=height),
        _frame(left, top, width, height),
        *_marks(cloth, places, left, top, width, height),
        *legend,
    ]
    described = (
        f"The design of {len(cloth.lifts.design.picture.colours)} effects as the loom weaves it, "
        f"first pick at the bottom. Above it is the hook of every end. "
        f"{min(len(places), _MOST_MARKED)} places are marked."
    )
    if tightness is not None:
        parts += _map(tightness, beside, top + _MAP, width, height)
        low, high = float(tightness.min()), float(tightness.max())
        described += f" The tightest squares of its parts are from {low:.0f} to {high:.0f} %."
    return svg.document(
        width=beside + _LIST + _MARGIN,
        height=max(top + height, top + _MAP + _map_height(width, height) + 2 * _GAP) + _GAP,
        title="Figured design",
        description=described,
        parts=parts,
        faults=[each.message for each in findings if each.code.startswith(("design.", "sett."))],
    )


def _size(cloth: FiguredCloth) -> tuple[float, float]:
    """Return the pixels of the repeat, in the proportion of the cloth as far as it can be seen."""
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    wide, high = cloth.weave.ends / ends_per_cm, cloth.weave.picks / picks_per_cm
    scale = _SIDE / max(wide, high)
    return max(_LEAST_SIDE, wide * scale), max(_LEAST_SIDE, high * scale)


def _sampled(threads: int) -> NDArray[np.intp]:
    """Return the threads that a picture of at most so many pixels shows."""
    return np.arange(min(threads, MOST_PIXELS)) * threads // min(threads, MOST_PIXELS)


def _effects_png(cloth: FiguredCloth) -> bytes:
    design = cloth.lifts.design
    ends, picks = _sampled(cloth.weave.ends), _sampled(cloth.weave.picks)
    hooks = ends if cloth.tie is None else cloth.tie[ends]
    shown = design.picture.pixels[np.ix_(cloth.lifts.line_of_pick[picks], hooks)]
    return _png(shown, [channel for each in design.picture.colours for channel in _rgb(each)])


def _rgb(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5))


def _png(shown: NDArray[np.uint8], palette: list[int]) -> bytes:
    picture = Image.frombytes("P", shown.shape[::-1], np.ascontiguousarray(shown[::-1]).tobytes())
    picture.putpalette(palette)
    file = io.BytesIO()
    picture.save(file, format="PNG")
    return file.getvalue()


def _frame(x: float, y: float, width: float, height: float) -> str:
    return (
        f'<rect x="{svg.number(x)}" y="{svg.number(y)}" width="{svg.number(width)}" '
        f'height="{svg.number(height)}" fill="none" stroke="{svg.STRONG_RULE}"/>'
    )


def _tie(cloth: FiguredCloth, left: float, top: float, width: float) -> Iterator[str]:
    """Yield the hook of every end, the first hook at the bottom."""
    ends = _sampled(cloth.weave.ends)
    hooks = ends if cloth.tie is None else cloth.tie[ends]
    most = cloth.weave.ends if cloth.tie is None else int(cloth.tie.max()) + 1
    steps = np.abs(np.diff(hooks, prepend=hooks[0]))
    jumps = steps > 2 * max(1, cloth.weave.ends // MOST_PIXELS)
    x = left + (ends + 0.5) / cloth.weave.ends * width
    y = top + _TIE - 14 - (hooks + 0.5) / most * (_TIE - 24)
    path = "".join(
        f"{'M' if jump or first else 'L'}{svg.number(float(at))} {svg.number(float(up))}"
        for first, (at, up, jump) in (
            (place == 0, each) for place, each in enumerate(zip(x, y, jumps.tolist(), strict=True))
        )
    )
    yield svg.text(left, top - 4, f"Tie: hook of each end, 1 to {most}", fill=svg.QUIET)
    yield f'<path d="{path}" fill="none" stroke="{svg.INK}" stroke-width="1.4"/>'
    yield _frame(left, top, width, _TIE - 4)


def _marks(
    cloth: FiguredCloth,
    places: Sequence[FoundPlace],
    left: float,
    top: float,
    width: float,
    height: float,
) -> Iterator[str]:
    drawn: list[tuple[float, float]] = []
    for number, place in enumerate(places[:_MOST_MARKED], start=1):
        end = (place.end - 1) % cloth.weave.ends
        x = left + (end + 0.5) / cloth.weave.ends * width
        y = top + height - (place.pick - 0.5) / cloth.weave.picks * height
        if any(abs(x - one) + abs(y - other) < _LINE for one, other in drawn):
            continue
        drawn.append((x, y))
        yield (
            f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="8" fill="{svg.PAPER}" '
            f'stroke="{svg.ACCENT}" stroke-width="2"/>'
        )
        yield svg.text(
            x, y + 3.5, f"{number}", size=10, anchor="middle", fill=svg.ACCENT, bold=True
        )


def _legend(cloth: FiguredCloth, left: float) -> Iterator[str]:
    """Yield the colours of the effects, as many as there is room for."""
    design = cloth.lifts.design
    shares = 100 * cloth.lifts.effect_lines.sum(axis=0) / design.picture.pixels.size
    yield svg.text(left, 24, "Effects", bold=True)
    room = (2 * _MARGIN + _TIE - 34) // _LINE
    for row, (colour, effect) in enumerate(
        list(zip(design.picture.colours, design.effects_by_value, strict=True))[:room]
    ):
        y = 32 + row * _LINE
        yield (
            f'<rect x="{svg.number(left)}" y="{svg.number(y)}" width="{_SWATCH}" '
            f'height="{_SWATCH}" fill="{colour}" stroke="{svg.STRONG_RULE}"/>'
        )
        share = float(shares[row])
        yield svg.text(left + _LINE, y + 10, f"{effect.name[:28]}, {share:.0f} %")
    if len(design.picture.colours) > room:
        more = len(design.picture.colours) - room
        yield svg.text(left, 32 + room * _LINE + 8, f"and {more} more", fill=svg.QUIET)


def _listed(
    cloth: FiguredCloth, places: Sequence[FoundPlace], left: float, top: float
) -> Iterator[str]:
    """Yield what is at the places that are marked, as many as there is room for."""
    yield svg.text(left, top + 8, "Places", bold=True)
    y, last = top + 8 + _LINE, top + _MAP - 2 * _LINE
    if not places:
        yield svg.text(left, y, "Nothing was found that has a place.", fill=svg.QUIET)
        y += _LINE
        if not cloth.lifts.design.has_limits:
            yield svg.text(left, y, "The design states no limits of floats.", fill=svg.QUIET)
    for number, place in enumerate(places, start=1):
        lines = textwrap.wrap(f"{number}: {place.what}", _LIST_LETTERS)
        if y + (len(lines) - 1) * _LINE > last - _LINE * (number < len(places)):
            marked = min(len(places), _MOST_MARKED)
            more = f"and {len(places) - number + 1} more; {marked} places are marked at most"
            yield svg.text(left, y, more, fill=svg.QUIET)
            return
        for line in lines:
            yield svg.text(left, y, line)
            y += _LINE


def _map_height(width: float, height: float) -> float:
    return min(_MAP * 1.4, max(40.0, _MAP * height / width))


def _map(
    tightness: NDArray[np.float64], left: float, top: float, width: float, height: float
) -> Iterator[str]:
    """Yield the squares of the cloth, the tightest dark and the loosest light."""
    low, high = float(tightness.min()), float(tightness.max())
    levels = np.round(255 * (tightness - low) / max(high - low, 1e-9)).astype(np.uint8)
    steps = np.linspace(0, 1, 256)[:, None]
    palette = np.rint(_LIGHT + steps * (_DARK - _LIGHT)).astype(int).ravel().tolist()
    yield svg.text(left, top - 8, "Tightness, % of the jam", bold=True)
    high_px = _map_height(width, height)
    yield svg.picture(_png(levels, palette), x=left, y=top, width=_MAP, height=high_px)
    yield _frame(left, top, _MAP, high_px)
    scale, below = np.arange(256, dtype=np.uint8)[None, :], top + high_px + 10
    yield svg.picture(_png(scale, palette), x=left, y=below, width=_MAP, height=_SCALE)
    yield _frame(left, below, _MAP, _SCALE)
    digits = 0 if high - low >= _WIDE_SCALE_PCT else 1
    for share, anchor in ((0.0, "start"), (0.5, "middle"), (1.0, "end")):
        at = low + share * (high - low)
        y = below + _SCALE + 13
        figure = f"{at:.{digits}f}"
        yield svg.text(left + share * _MAP, y, figure, size=10, anchor=anchor)


def draw_window(fit: Fit, *, first_hook: int, first_pick: int, hooks: int, picks: int) -> str:
    """Draw a part of the corrected point paper as SVG, at a size that can be read.

    A square is tinted in the colour of its effect, and filled where the hook is raised; dots of the
    correction are in another colour. A window that reaches over the edge ends there.

    Args:
        fit: The cloth on the loom.
        first_hook: First hook that is shown, from 1; one of the design.
        first_pick: First pick, from 1; one of the design.
        hooks: Hooks that are shown.
        picks: Picks that are shown.

    Raises:
        InputError: The construction is no figured design.
    """
    cloth = figured_cloth_of(fit)
    left, bottom = first_hook - 1, first_pick - 1
    shown = np.s_[bottom : bottom + picks, left : left + hooks]
    lift, uncorrected = cloth.correction.lift[shown], cloth.lifts.lift[shown]
    rows, columns = lift.shape
    cell = max(6, min(16, int(1_200 / max(rows, columns))))
    effects = cloth.lifts.design.picture.pixels[cloth.lifts.line_of_pick[shown[0]]][:, shown[1]]
    palette = [_tint(colour) for colour in cloth.lifts.design.picture.colours]
    tinted = _png(effects, [channel for colour in palette for channel in colour])
    moved = lift != uncorrected
    parts = [
        svg.picture(tinted, x=_MARGIN, y=_MARGIN, width=columns * cell, height=rows * cell),
        f'<g transform="translate({_MARGIN} {_MARGIN}) scale({cell})">'
        f'<path d="{svg.squares((lift == 1) & ~moved)}" fill="{svg.INK}"/>'
        f'<path d="{svg.squares((lift == 1) & moved)}" fill="{svg.ACCENT}"/>'
        f'<path d="{svg.grid(columns, rows)}" stroke="{svg.RULE}" stroke-width="0.04" '
        'fill="none"/>'
        f'<path d="{svg.grid(columns, rows, every=8)}" stroke="{svg.STRONG_RULE}" '
        'stroke-width="0.09" fill="none"/></g>',
        *_taken_away(moved & (lift == 0), cell),
        *_numbers(left, bottom, columns, rows, cell),
        *_wefts(cloth, bottom, columns, rows, cell),
    ]
    changed = int(moved.sum())
    return svg.document(
        width=2 * _MARGIN + columns * cell,
        height=2 * _MARGIN + rows * cell,
        title=f"Point paper, hooks {left + 1} to {left + columns}, picks {bottom + 1} to "
        f"{bottom + rows}",
        description="A filled square is a raised hook, first pick at the bottom. "
        f"{changed} squares were changed by the correction.",
        parts=parts,
    )


def _tint(colour: str) -> tuple[int, ...]:
    """Return a colour that is pale enough to write on."""
    return tuple(int(255 - 0.35 * (255 - channel)) for channel in _rgb(colour))


def _taken_away(cells: NDArray[np.bool_], cell: float) -> Iterator[str]:
    """Yield a frame for each square that the correction emptied."""
    for row, column in np.argwhere(cells[::-1]).tolist():
        x, y = _MARGIN + column * cell + 1, _MARGIN + row * cell + 1
        yield (
            f'<rect x="{svg.number(x)}" y="{svg.number(y)}" width="{cell - 2}" '
            f'height="{cell - 2}" fill="none" stroke="{svg.ACCENT}" stroke-width="2"/>'
        )


def _numbers(left: int, bottom: int, columns: int, rows: int, cell: float) -> Iterator[str]:
    """Yield the numbers of hooks below, and of picks at the left, every eighth."""
    for column in range(0, columns, 8):
        x = _MARGIN + (column + 0.5) * cell
        yield svg.text(
            x, _MARGIN + rows * cell + 14, str(left + column + 1), anchor="middle", size=9
        )
    for row in range(0, rows, 8):
        y = _MARGIN + (rows - row - 0.5) * cell + 3
        yield svg.text(_MARGIN - 6, y, str(bottom + row + 1), anchor="end", size=9)


def _wefts(cloth: FiguredCloth, bottom: int, columns: int, rows: int, cell: float) -> Iterator[str]:
    """Yield at the right of every pick the key of its weft, if there are several."""
    lifts = cloth.lifts
    keys = lifts.design.weft_keys
    x = _MARGIN + columns * cell + 6
    for row in range(rows if len(keys) > 1 else 0):
        y = _MARGIN + (rows - row - 0.5) * cell + 3
        key = keys[int(lifts.weft_of_pick[bottom + row])]
        yield svg.text(x, y, key[:_WEFT_LETTERS], size=min(9, cell))
