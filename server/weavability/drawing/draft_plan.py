"""Drawing-in and lift plan for the shop floor: black on white, large enough to be read at a loom.

One repeat is drawn, or several of a small one, the first of them framed. What is too wide or too
high for one drawing goes on in further ones. A page that shows them carries the caution.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from html import escape
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from weavability.drawing import svg
from weavability.textiles.drafting import Draft
from weavability.textiles.weave_matrix import Weave

WIDTH: Final = 680
"""Width of a sheet, in pixels of a 96th of an inch: that of A4 within its margins."""

MOST_DRAWN: Final = 400
"""Most ends or picks that are drawn; longer plans are for the machine's own files."""

_HIGH: Final = 208
"""Height of a drawing that leaves a page room for all else, in pixels."""

_STRIP_ENDS: Final = 52
_COLUMN_PICKS: Final = 48
_SHOWN_AT_LEAST: Final = 8
_CELLS: Final = (7, 12)
"""Least and greatest side of a square, in pixels."""

_SIZE: Final = 13.4
"""Size of the numbers: 10 points."""

_LEFT: Final = 30
_BELOW: Final = 19
_GAP: Final = 12
_PICTURE: Final = 190


class Plan(NamedTuple):
    """A drawing, as an SVG element, and its width in pixels."""

    drawing: str
    width: float


def draw_draft_plans(draft: Draft) -> list[Plan]:
    """Draw a drawing-in with its weave and lift plan; empty if it is too long to be drawn.

    Args:
        draft: The drawing-in of the ground.

    Returns:
        One drawing, or several if the draft is long: the threading in strips, then the lift
        plan in columns.
    """
    ends, picks = len(draft.threading), draft.picks
    if max(ends, picks) > MOST_DRAWN:
        return []
    if ends <= _STRIP_ENDS and picks <= _COLUMN_PICKS and picks + draft.shafts <= _COLUMN_PICKS:
        return [_whole(draft)]
    return [*_strips(draft), *_columns(draft)]


def draw_lift_picture(weave: Weave) -> Plan:
    """Draw what the hooks lift as a picture: small weaves square by square, designs as they look.

    Args:
        weave: The weave, or what the hooks of a design lift.
    """
    repeat = weave.reduced()
    if max(repeat.ends, repeat.picks) <= _STRIP_ENDS:
        times_up = -(-_SHOWN_AT_LEAST // repeat.picks)
        times_across = -(-_SHOWN_AT_LEAST // repeat.ends)
        marks = np.tile(repeat.matrix, (times_up, times_across)).astype(np.bool_)
        cell = _cell(marks.shape[1] * 1.0, marks.shape[0] * 1.0)
        inner = _panel(marks, _LEFT, 2, cell, first=repeat.matrix.shape)
        inner += _numbers(marks.shape[1], x=_LEFT, y=2 + marks.shape[0] * cell, cell=cell)
        inner += _upright_numbers(marks.shape[0], x=_LEFT, y=2, cell=cell)
        width, height = _LEFT + marks.shape[1] * cell + 4, marks.shape[0] * cell + _BELOW + 4
        return _document(width, height, "The weave, first pick at the bottom", inner)
    scale = _PICTURE / max(repeat.ends, repeat.picks)
    size = (max(1, round(repeat.ends * scale)), max(1, round(repeat.picks * scale)))
    shown = Image.fromarray(255 * (1 - repeat.matrix[::-1]), mode="L")
    if scale < 1:
        shown = shown.resize(size, Image.Resampling.BOX)
    file = io.BytesIO()
    shown.save(file, format="PNG")
    inner = svg.picture(file.getvalue(), x=2, y=2, width=size[0], height=size[1])
    inner += f'<rect x="2" y="2" width="{size[0]}" height="{size[1]}" fill="none" stroke="#000"/>'
    return _document(
        size[0] + 4, size[1] + 4, "What the hooks lift, first pick at the bottom", inner
    )


def _whole(draft: Draft) -> Plan:
    """Draw threading, weave and lift plan in one drawing."""
    ends, picks, shafts = len(draft.threading), draft.picks, draft.shafts
    shown_ends = ends * -(-_SHOWN_AT_LEAST // ends)
    shown_picks = picks * -(-_SHOWN_AT_LEAST // picks)
    cell = _cell(shown_ends + shafts, shown_picks + shafts)
    threading = _threading(draft, 0, shown_ends)
    plan = _repeated(draft.lift_plan, shown_picks)
    woven = plan[:, np.array(draft.threading)[np.arange(shown_ends) % ends] - 1]
    top = 2 + shafts * cell + _GAP
    beside = _LEFT + shown_ends * cell + _GAP
    inner = _panel(threading, _LEFT, 2, cell, first=(shafts, ends))
    inner += _upright_numbers(shafts, x=_LEFT, y=2, cell=cell)
    inner += _panel(woven, _LEFT, top, cell, first=(picks, ends))
    inner += _upright_numbers(shown_picks, x=_LEFT, y=top, cell=cell)
    bottom = top + shown_picks * cell
    inner += _numbers(shown_ends, x=_LEFT, y=bottom, cell=cell)
    inner += _panel(plan, beside, top, cell, first=(picks, shafts))
    inner += _numbers(shafts, x=beside, y=bottom, cell=cell)
    width, height = beside + shafts * cell + 8, bottom + _BELOW
    return _document(
        width,
        height,
        f"Drawing-in above, lift plan at the right, on {shafts} shafts; first end at the left, "
        "first pick at the bottom",
        inner,
    )


def _strips(draft: Draft) -> Iterator[Plan]:
    """Draw a long threading in strips, the first ends first."""
    ends, shafts = len(draft.threading), draft.shafts
    cell = _cell(_STRIP_ENDS, shafts)
    for start in range(0, ends, _STRIP_ENDS):
        shown = min(_STRIP_ENDS, ends - start)
        marks = _threading(draft, start, shown)
        inner = _panel(marks, _LEFT, 2, cell, first=None)
        inner += _upright_numbers(shafts, x=_LEFT, y=2, cell=cell)
        inner += _numbers(shown, x=_LEFT, y=2 + shafts * cell, cell=cell, start=start)
        words = f"Drawing-in of ends {start + 1} to {start + shown}"
        yield _document(WIDTH, 2 + shafts * cell + _BELOW, words, inner)


def _columns(draft: Draft) -> Iterator[Plan]:
    """Draw a lift plan in columns side by side, the first picks at the bottom of the first."""
    shafts, picks = draft.shafts, draft.picks
    cell = float(_CELLS[1])
    wide = _LEFT + shafts * cell + _GAP
    at_once = max(1, int(WIDTH // wide))
    starts = list(range(0, picks, _COLUMN_PICKS))
    for first in range(0, len(starts), at_once):
        some = starts[first : first + at_once]
        high = min(_COLUMN_PICKS, picks - some[0])
        inner = ""
        for place, start in enumerate(some):
            marks = draft.lift_plan[start : start + _COLUMN_PICKS].astype(np.bool_)
            x, y = _LEFT + place * wide, 2 + (high - len(marks)) * cell
            inner += _panel(marks, x, y, cell, first=None)
            inner += _upright_numbers(len(marks), x=x, y=y, cell=cell, start=start)
            inner += _numbers(shafts, x=x, y=2 + high * cell, cell=cell)
        last = min(some[-1] + _COLUMN_PICKS, picks)
        words = f"Lift plan of picks {some[0] + 1} to {last}"
        yield _document(WIDTH, 2 + high * cell + _BELOW, words, inner)


def _cell(across: float, upright: float) -> float:
    """Return the side of a square with which so many have room."""
    room = min((WIDTH - _LEFT - _GAP) / across, (_HIGH - _BELOW - _GAP) / upright)
    return float(max(_CELLS[0], min(_CELLS[1], int(room))))


def _threading(draft: Draft, start: int, shown: int) -> NDArray[np.bool_]:
    threading = np.array(draft.threading)
    marks = np.zeros((draft.shafts, shown), dtype=np.bool_)
    end = np.arange(start, start + shown) % len(threading)
    marks[threading[end] - 1, np.arange(shown)] = True
    return marks


def _repeated(plan: NDArray[np.uint8], picks: int) -> NDArray[np.bool_]:
    return plan[np.arange(picks) % len(plan)].astype(np.bool_)


def _panel(
    marks: NDArray[np.bool_], x: float, y: float, cell: float, *, first: tuple[int, int] | None
) -> str:
    """Return a ruled panel; the first repeat is framed."""
    rows, columns = marks.shape
    frame = ""
    if first is not None and first != marks.shape:
        frame = (
            f'<rect y="{rows - first[0]}" width="{first[1]}" height="{first[0]}" fill="none" '
            f'stroke="#000" stroke-width="{svg.number(2.4 / cell)}"/>'
        )
    thin = svg.number(0.7 / cell)
    return (
        f'<g transform="translate({svg.number(x)} {svg.number(y)}) scale({svg.number(cell)})">'
        f'<path d="{svg.squares(marks)}" fill="#000"/>'
        f'<path d="{svg.grid(columns, rows)}" stroke="#888" stroke-width="{thin}" '
        f'fill="none"/><rect width="{columns}" height="{rows}" fill="none" stroke="#000" '
        f'stroke-width="{svg.number(1 / cell)}"/>{frame}</g>'
    )


def _numbers(count: int, *, x: float, y: float, cell: float, start: int = 0) -> str:
    """Write the numbers of ends or shafts below a panel."""
    step = svg.label_step(cell, room=4 + 8.5 * len(str(start + count)))
    return "".join(
        svg.text(
            x + (place - 0.5) * cell,
            y + 14,
            str(start + place),
            size=_SIZE,
            anchor="middle",
            fill="#000",
        )
        for place in _labelled(count, step, start)
    )


def _upright_numbers(count: int, *, x: float, y: float, cell: float, start: int = 0) -> str:
    """Write the numbers of shafts or picks at the left of a panel, the first at the bottom."""
    step = svg.label_step(cell, room=12.5)
    return "".join(
        svg.text(
            x - 5,
            y + (count - place + 0.5) * cell + 4.7,
            str(start + place),
            size=_SIZE,
            anchor="end",
            fill="#000",
        )
        for place in _labelled(count, step, start)
    )


def _labelled(count: int, step: int, start: int) -> list[int]:
    """Return the places that are numbered: the first, and every multiple of the step."""
    places = [place for place in range(1, count + 1) if (start + place) % step == 0]
    return places if step == 1 else [1, *(place for place in places if place > step)]


def _document(width: float, height: float, words: str, inner: str) -> Plan:
    label = f'aria-label="{escape(words)}"'
    drawing = svg.root(width=width, height=height, label=label, inner=inner, paper="#fff")
    return Plan(drawing, width)
