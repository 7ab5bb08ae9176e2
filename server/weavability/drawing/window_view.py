"""A window of feasibility as SVG: hatched by verdict, with its cases named by letters.

Nothing depends on colour: the verdicts differ by their hatching, every case has a letter in the
field, with what decides it if the area has room, and a line of words below it; the order's own
point and the nearest better one have signs.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Sequence
from itertools import combinations, product
from string import ascii_uppercase
from textwrap import wrap
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.window import (
    Window,
    WindowBorder,
    WindowCase,
)
from weavability.checks.finding import Verdict
from weavability.drawing import svg
from weavability.drawing.window_words import (
    VERDICTS,
    case_words,
    deciding,
    description_of,
    heading,
    label_of,
    share_of,
    subheading,
)

WIDTH: Final = 960
LEFT: Final = 84
RIGHT: Final = 40
TOP: Final = 84
FIELD_HEIGHT: Final = 520
LINE: Final = 17
MOST_NAMED: Final = 14
"""Cases that get a letter; the others are counted."""

LEAST_NAMED_SHARE: Final = 0.002
_SIGNS_IN_A_LINE: Final = 125
_MOST_TICKS: Final = 9


def draw_window(window: Window) -> str:
    """Draw a window: both fields as axes, the verdict over them, borders and points.

    Args:
        window: As it is answered.

    Returns:
        An SVG document with title and description; it refers to nothing outside itself.
    """
    field = _Field(window)
    legend = list(_legend(field))
    height = TOP + FIELD_HEIGHT + 74 + LINE * (len(legend) + len(_BORDERS) + 1)
    return svg.document(
        width=WIDTH,
        height=height,
        title=heading(window),
        description=description_of(window),
        parts=_parts(field, legend),
    )


class _Shown(NamedTuple):
    """Cases that look alike: what decides is the same, the notes are not.

    Attributes:
        case: The first of them.
        places: Their places among all cases.
        points: Points at which one of them holds.
    """

    case: WindowCase
    places: tuple[int, ...]
    points: int


def _shown_cases(window: Window) -> list[_Shown]:
    """Put cases together that look alike, the most frequent first."""
    alike: dict[tuple[object, ...], list[int]] = {}
    for at, case in enumerate(window.cases):
        alike.setdefault((case.verdict, tuple(deciding(case)), case.limited_by), []).append(at)
    found = [
        _Shown(
            case=window.cases[some[0]],
            places=tuple(some),
            points=sum(window.cases[at].points for at in some),
        )
        for some in alike.values()
    ]
    return sorted(found, key=lambda each: -each.points)


class _Field:
    """The field of the drawing: places on it, and the cases that have letters."""

    def __init__(self, window: Window) -> None:
        self.window = window
        # Several drawings may be in one page: the ids of their hatchings must differ.
        self.key = f"{zlib.crc32(description_of(window).encode()):08x}"
        self.cases = _shown_cases(window)
        of_case = {at: shown for shown, each in enumerate(self.cases) for at in each.places}
        grid = np.array(window.grid)
        self.grid = np.array([of_case[at] for at in range(len(window.cases))])[grid]
        enough = LEAST_NAMED_SHARE * grid.size
        named = [at for at, each in enumerate(self.cases) if each.points >= enough][:MOST_NAMED]
        self.letters = {at: ascii_uppercase[place] for place, at in enumerate(named)}

    def x(self, value: float) -> float:
        """Return the place of a value across."""
        low, high = _edges(self.window.across.values)
        return LEFT + (value - low) / (high - low) * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Return the place of a value along; the least is at the bottom."""
        low, high = _edges(self.window.along.values)
        return TOP + FIELD_HEIGHT - (value - low) / (high - low) * FIELD_HEIGHT

    @property
    def cell(self) -> tuple[float, float]:
        """Width and height of a point."""
        rows, columns = self.grid.shape
        return (WIDTH - LEFT - RIGHT) / columns, FIELD_HEIGHT / rows


def _edges(values: Sequence[float]) -> tuple[float, float]:
    """Return where the first point begins and the last one ends."""
    half = (values[-1] - values[0]) / (len(values) - 1) / 2 if len(values) > 1 else 0.5
    return values[0] - half, values[-1] + half


def _parts(field: _Field, legend: Sequence[_Line]) -> Iterator[str]:
    window = field.window
    yield svg.text(LEFT, 30, heading(window), size=18, bold=True)
    yield svg.text(LEFT, 54, subheading(window), fill=svg.INK, size=13)
    yield _hatchings(field.key)
    yield from _areas(field)
    yield _divisions(field)
    yield (
        f'<rect x="{LEFT}" y="{TOP}" width="{WIDTH - LEFT - RIGHT}" height="{FIELD_HEIGHT}" '
        f'fill="none" stroke="{svg.INK}"/>'
    )
    yield from _borders(field)
    yield from _letters(field)
    yield from _axes(field)
    yield from _points(field)
    yield from _written(field.key, legend)


# ---------------------------------------------------------------------------------------- the field


def _hatchings(key: str) -> str:
    """Define a hatching for each verdict but the best; it covers a tint that is seen in colour."""

    def pattern(name: str, size: int, tint: str, lines: str) -> str:
        return (
            f'<pattern id="{name}{key}" width="{size}" height="{size}" '
            f'patternUnits="userSpaceOnUse"><rect width="{size}" height="{size}" fill="{tint}"/>'
            f'<path d="{lines}" stroke="{svg.INK}" stroke-width="0.8" fill="none"/></pattern>'
        )

    return (
        "<defs>"
        + pattern("fair", 12, "#fdf3d0", "M-3 3L3 -3M0 12L12 0M9 15L15 9")
        + pattern("bad", 6, "#eec9c1", "M-1 1L1 -1M0 6L6 0M5 7L7 5M-1 5L1 7M0 0L6 6M5 -1L7 1")
        + pattern("none", 8, "#e4e7e8", "M3 4h2")
        + "</defs>"
    )


def _areas(field: _Field) -> Iterator[str]:
    """Draw the areas of every verdict; what is weavable stays as the paper is."""
    wide, high = field.cell
    for verdict, (_, name) in VERDICTS.items():
        if verdict is Verdict.WEAVABLE:
            continue
        cases = [at for at, each in enumerate(field.cases) if each.case.verdict is verdict]
        filled = np.isin(field.grid, cases)
        if not filled.any():
            continue
        bars = "".join(
            f"M{svg.number(LEFT + start * wide)} "
            f"{svg.number(TOP + FIELD_HEIGHT - (row + 1) * high)}"
            f"h{svg.number(length * wide)}v{svg.number(high)}h-{svg.number(length * wide)}z"
            for row, start, length in svg.runs(filled)
        )
        yield f'<path d="{bars}" fill="url(#{name}{field.key})"/>'


def _divisions(field: _Field) -> str:
    """Draw a thin line between areas of one verdict that have letters of their own."""
    verdicts = np.array([list(VERDICTS).index(each.case.verdict) for each in field.cases])
    # What has no letter is too small for a line around it.
    area = np.where(np.isin(field.grid, list(field.letters)), field.grid, -1)
    of_verdict = np.where(area < 0, -1, verdicts[area])

    def divided(one: tuple[slice, ...], other: tuple[slice, ...]) -> NDArray[np.bool_]:
        alike = (of_verdict[one] == of_verdict[other]) & (of_verdict[one] >= 0)
        found: NDArray[np.bool_] = alike & (area[one] != area[other])
        return found

    every, but_last, but_first = slice(None), slice(None, -1), slice(1, None)
    lines = _lines(
        field,
        divided((every, but_last), (every, but_first)),
        divided((but_last,), (but_first,)),
    )
    path = f'<path d="{lines}" fill="none" stroke='
    halo = f'{path}"{svg.PAPER}" stroke-width="3"/>'
    return f'{halo}{path}"{svg.INK}" stroke-width="0.9"/>' if lines else ""


def _lines(field: _Field, upright: NDArray[np.bool_], level: NDArray[np.bool_]) -> str:
    """Return a path along edges of points.

    Args:
        field: The field.
        upright: Whether the edge between each point and the next one across belongs to it.
        level: The same between each point and the next one along.
    """
    wide, high = field.cell
    bottom = TOP + FIELD_HEIGHT
    lines = [
        f"M{svg.number(LEFT + (column + 1) * wide)} {svg.number(bottom - start * high)}"
        f"v-{svg.number(length * high)}"
        for column, start, length in svg.runs(upright.T)
    ]
    lines += [
        f"M{svg.number(LEFT + start * wide)} {svg.number(bottom - (row + 1) * high)}"
        f"h{svg.number(length * wide)}"
        for row, start, length in svg.runs(level)
    ]
    return "".join(lines)


def _borders(field: _Field) -> Iterator[str]:
    """Draw the borders of verdicts, that of what is not weavable on top.

    Of wide points they go along the edges, because a line that cuts corners would leave a part of
    the hatching on its other side.
    """
    if max(field.cell) > _WIDE_POINT:
        yield from _edged(field)
        return
    for border in sorted(field.window.borders, key=lambda each: each.verdict is _HARD):
        yield _border(field, border)


_WIDE_POINT: Final = 24.0
"""Pixels beyond which the half of a point is seen."""

_HARD: Final = Verdict.NOT_WEAVABLE


def _edged(field: _Field) -> Iterator[str]:
    """Draw the borders of verdicts along the edges of points."""
    ranks = [list(VERDICTS).index(each.case.verdict) for each in field.cases]
    of_point = np.array(ranks)[field.grid]

    def beyond(rank: int, axis: int) -> NDArray[np.bool_]:
        found: NDArray[np.bool_] = np.diff(of_point >= rank, axis=axis)
        return found

    fair, bad = (list(VERDICTS).index(each) for each in (Verdict.WEAVABLE_WITH_WARNINGS, _HARD))
    upright, level = beyond(bad, 1), beyond(bad, 0)
    soft = _lines(field, beyond(fair, 1) & ~upright, beyond(fair, 0) & ~level)
    for path, is_hard in ((soft, False), (_lines(field, upright, level), True)):
        if path:
            drawn = f'<path d="{path}" fill="none" stroke-linecap="square" stroke='
            yield f'{drawn}"{svg.PAPER}" stroke-width="5"/>{drawn}{_stroke(is_hard=is_hard)}/>'


def _border(field: _Field, border: WindowBorder) -> str:
    points = " ".join(
        f"{svg.number(field.x(x))},{svg.number(field.y(y))}"
        for x, y in zip(border.across, border.along, strict=True)
    )
    stroke = _stroke(is_hard=border.verdict is _HARD)
    return (
        f'<polyline points="{points}" fill="none" stroke="{svg.PAPER}" stroke-width="5"/>'
        f'<polyline points="{points}" fill="none" stroke={stroke} stroke-linejoin="round"/>'
    )


def _stroke(*, is_hard: bool) -> str:
    """Return how a border is drawn: colour, width and dashes."""
    dashes = "" if is_hard else ' stroke-dasharray="7 4"'
    return f'"{svg.INK}" stroke-width="{2.4 if is_hard else 1.6}"{dashes}'


class _Box(NamedTuple):
    """A place that is taken, in pixels."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        """Return whether it is closer to another than two labels may be."""
        return (
            self.left < other.right + _APART
            and other.left < self.right + _APART
            and self.top < other.bottom + _APART
            and other.top < self.bottom + _APART
        )


class _Size(NamedTuple):
    """How far a label reaches from the middle of its letter, in pixels."""

    left: float
    right: float
    half: float

    def at(self, x: float, y: float) -> _Box:
        """Return the label at a place."""
        return _Box(x - self.left, y - self.half, x + self.right, y + self.half)


_APART: Final = 3.0
_RADIUS: Final = 11.0
_LABEL_LINE: Final = 14
_SIGN_WIDTH: Final = 6.9
_MOST_LABELLED: Final = 3
"""Checks that are named in an area; the legend has all."""


def _letters(field: _Field) -> Iterator[str]:
    """Put the letter of each case well inside its area, with what limits it if there is room.

    No label lies over another, over a sign or its words, or beyond its area.
    """
    wide, high = field.cell
    taken = [sign.box for sign in _signs(field)]
    for at, letter in field.letters.items():
        inside = field.grid == at
        rows, columns = _inner_points(inside)
        for lines in _labels(field.cases[at].case):
            size = _size(lines)
            some = _room(inside, size, field.cell)[rows, columns] if lines else slice(None)
            xs = (LEFT + (columns[some] + 0.5) * wide).tolist()
            ys = (TOP + FIELD_HEIGHT - (rows[some] + 0.5) * high).tolist()
            places = (
                (x, y)
                for x, y in zip(xs, ys, strict=True)
                if not any(size.at(x, y).meets(each) for each in taken)
            )
            place = next(places, None)
            if place is not None:
                taken.append(size.at(*place))
                yield from _label_at(*place, letter, lines)
                break


def _labels(case: WindowCase) -> Iterator[tuple[str, ...]]:
    """Yield what may be written beside a letter, the longest first: what decides, or the speed."""
    found = deciding(case)
    if not found and case.limited_by is not None:
        yield (case.limited_by.replace("_", " "),)
    for count in range(min(len(found), _MOST_LABELLED), 0, -1):
        more = len(found) - count
        yield (*found[:count], *([f"and {more} more"] if more else []))
    yield ()


def _size(lines: Sequence[str]) -> _Size:
    if not lines:
        return _Size(_RADIUS, _RADIUS, _RADIUS)
    wide = _SIGN_WIDTH * max(map(len, lines)) + 8
    return _Size(_RADIUS, _RADIUS + wide, max(_RADIUS, _LABEL_LINE * len(lines) / 2 + 2))


def _room(inside: NDArray[np.bool_], size: _Size, cell: tuple[float, float]) -> NDArray[np.bool_]:
    """Return at which points of an area a label lies inside it."""
    wide, high = cell
    before, after, beside = (
        max(0, math.ceil((reach - half) / step))
        for reach, half, step in (
            (size.left, wide / 2, wide),
            (size.right, wide / 2, wide),
            (size.half, high / 2, high),
        )
    )
    rows, columns = inside.shape
    sums = np.pad(inside, ((1 + beside, beside), (1 + before, after))).cumsum(axis=0).cumsum(axis=1)
    down, across = 2 * beside + 1, before + after + 1
    covered = (
        sums[down : down + rows, across : across + columns]
        - sums[:rows, across : across + columns]
        - sums[down : down + rows, :columns]
        + sums[:rows, :columns]
    )
    found: NDArray[np.bool_] = covered == down * across
    return found


def _label_at(x: float, y: float, letter: str, lines: Sequence[str]) -> Iterator[str]:
    if lines:
        size = _size(lines)
        yield (
            f'<rect x="{svg.number(x)}" y="{svg.number(y - size.half)}" '
            f'width="{svg.number(size.right)}" height="{svg.number(2 * size.half)}" rx="3" '
            f'fill="{svg.PAPER}" stroke="{svg.INK}" stroke-width="0.8"/>'
        )
    yield (
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="{_RADIUS:g}" '
        f'fill="{svg.PAPER}" stroke="{svg.INK}"/>'
    )
    yield svg.text(x, y + 4.5, letter, size=13, anchor="middle", bold=True)
    first = y - _LABEL_LINE * (len(lines) - 1) / 2 + 4
    for place, words in enumerate(lines):
        yield svg.text(x + _RADIUS + 4, first + _LABEL_LINE * place, words, size=11)


def _inner_points(inside: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of an area, those first that are furthest from its edges."""
    depth, left = np.zeros(inside.shape, np.int64), np.pad(inside, 1)
    while left.any():
        depth += left[1:-1, 1:-1]
        inner = left.copy()
        inner[1:-1, 1:-1] &= left[:-2, 1:-1] & left[2:, 1:-1] & left[1:-1, :-2] & left[1:-1, 2:]
        left = inner
    rows, columns = np.nonzero(inside)
    middle = np.hypot(rows - rows.mean(), columns - columns.mean())
    first = np.lexsort((middle, -depth[rows, columns]))
    return rows[first], columns[first]


def _axes(field: _Field) -> Iterator[str]:
    across, along = field.window.across, field.window.along
    bottom = TOP + FIELD_HEIGHT
    for value in _ticks(across.values):
        x = svg.number(field.x(value))
        yield f'<path d="M{x} {bottom}v6" stroke="{svg.INK}"/>'
        yield svg.text(field.x(value), bottom + 21, f"{value:g}", anchor="middle", size=12)
    for value in _ticks(along.values):
        y = svg.number(field.y(value))
        yield f'<path d="M{LEFT} {y}h-6" stroke="{svg.INK}"/>'
        yield svg.text(LEFT - 10, field.y(value) + 4, f"{value:g}", anchor="end", size=12)
    middle = (LEFT + WIDTH - RIGHT) / 2
    yield svg.text(middle, bottom + 44, label_of(across), anchor="middle", size=13, bold=True)
    yield svg.text(LEFT, TOP - 10, label_of(along), size=13, bold=True)


def _ticks(values: Sequence[float]) -> list[float]:
    """Return at most nine round values between the first and the last; of whole ones, whole."""
    low, high = values[0], values[-1]
    if low == high:
        return [low]
    least = 1.0 if all(map(float.is_integer, values)) else 0.0
    power = 10.0 ** math.floor(math.log10(max((high - low) / _MOST_TICKS, least)))
    steps = (power * times for times in (1, 2, 5, 10, 20))
    step = next(each for each in steps if (high - low) / each < _MOST_TICKS)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(step * place, 10) for place in range(first, last + 1)]


class _Sign(NamedTuple):
    """The sign of a point, and the place of its words."""

    x: float
    y: float
    words: str
    start: float
    level: float
    width: float
    is_own: bool

    @property
    def of_words(self) -> _Box:
        """What its words take."""
        return _Box(self.start, self.level - 12, self.start + self.width, self.level + 12)

    @property
    def box(self) -> _Box:
        """What both take."""
        words = self.of_words
        return _Box(
            min(self.x - 12, words.left),
            min(self.y - 12, words.top),
            max(self.x + 12, words.right),
            max(self.y + 12, words.bottom),
        )

    def is_apart_from(self, other: _Sign) -> bool:
        """Return whether the words of neither lie over the other."""
        return not (self.of_words.meets(other.box) or other.of_words.meets(self.box))


def _signs(field: _Field) -> list[_Sign]:
    """Return the signs of the nearest point and of the order's own; outside the window is none.

    The words are on sides on which those of neither lie over the other.
    """
    window, found = field.window, list[list[_Sign]]()
    marked = ((window.nearest, "nearest better", False), (window.own, "this order", True))
    for point, words, is_own in marked:
        if point is None or point.across is None or point.along is None:
            continue
        x, y = field.x(point.across), field.y(point.along)
        if LEFT <= x <= WIDTH - RIGHT and TOP <= y <= TOP + FIELD_HEIGHT:
            width = 7.2 * len(words) + 8
            middle = min(max(x - width / 2, LEFT + 2), WIDTH - RIGHT - width - 2)
            sides = ((x + 18, y), (x - 18 - width, y), (middle, y - 28), (middle, y + 28))
            found.append(
                [
                    _Sign(x, y, words, start, level, width, is_own)
                    for start, level in sides
                    if LEFT <= start <= WIDTH - RIGHT - width
                    and TOP + 12 <= level <= TOP + FIELD_HEIGHT - 12
                ]
            )
    apart = (
        some
        for some in product(*found)
        if all(one.is_apart_from(other) for one, other in combinations(some, 2))
    )
    return list(next(apart, (each[0] for each in found)))


def _points(field: _Field) -> Iterator[str]:
    for sign in _signs(field):
        yield from _mark(sign)


def _mark(sign: _Sign) -> Iterator[str]:
    """Draw a sign with its words."""
    x, y = sign.x, sign.y
    shape = (
        f"M{svg.number(x - 8)} {svg.number(y)}h16M{svg.number(x)} {svg.number(y - 8)}v16"
        if sign.is_own
        else f"M{svg.number(x)} {svg.number(y - 8)}l8 8l-8 8l-8 -8z"
    )
    ring = f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="12" fill="{svg.PAPER}" '
    yield f'{ring}stroke="{svg.INK}" stroke-width="2"/>'
    fill = "none" if sign.is_own else svg.INK
    yield f'<path d="{shape}" fill="{fill}" stroke="{svg.INK}" stroke-width="2"/>'
    yield (
        f'<rect x="{svg.number(sign.start)}" y="{svg.number(sign.level - 11)}" '
        f'width="{svg.number(sign.width)}" height="21" rx="3" fill="{svg.PAPER}" '
        f'stroke="{svg.INK}"/>'
    )
    middle = sign.start + sign.width / 2
    yield svg.text(middle, sign.level + 4, sign.words, size=12, anchor="middle", bold=True)


# --------------------------------------------------------------------------------------- the legend


class _Line(NamedTuple):
    """A line of the legend; its first has a sample of the hatching and a letter."""

    words: str
    verdict: Verdict | None = None
    letter: str = ""


def _legend(field: _Field) -> Iterator[_Line]:
    total = field.grid.size
    for at, letter in field.letters.items():
        shown = field.cases[at]
        words = f"{case_words(shown.case)} ({share_of(shown.points, total)})"
        first, *more = wrap(words, _SIGNS_IN_A_LINE)
        yield _Line(first, shown.case.verdict, letter)
        yield from map(_Line, more)
    others = len(field.cases) - len(field.letters)
    if others:
        cases = "case on a small area is" if others == 1 else "cases on small areas are"
        yield _Line(f"{others} more {cases} in the JSON form.")


def _written(key: str, legend: Sequence[_Line]) -> Iterator[str]:
    y = TOP + FIELD_HEIGHT + 74
    for line in legend:
        if line.letter:
            name = VERDICTS[line.verdict][1]
            fill = svg.PAPER if name == "good" else f"url(#{name}{key})"
            yield (
                f'<rect x="{LEFT - 42}" y="{svg.number(y - 12)}" width="24" height="14" '
                f'fill="{fill}" stroke="{svg.INK}"/>'
            )
            yield svg.text(LEFT - 10, y, line.letter, size=13, bold=True)
        yield svg.text(LEFT + 8, y, line.words, size=12)
        y += LINE
    for words in _BORDERS:
        yield svg.text(LEFT - 42, y + 6, words, size=12)
        y += LINE


_BORDERS: Final = (
    "Solid line: border of what is not weavable. Dashed line: border of what is weavable without "
    "warnings.",
    "Thin line: other checks decide, or something else limits the speed. All lie half way between "
    "two points.",
)
