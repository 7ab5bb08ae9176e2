"""A window of feasibility as SVG: hatched by verdict, with its cases named by letters.

Nothing depends on colour: the verdicts differ by their hatching, every case has a letter in the
field, with what decides it if the area has room, and a line of words below it; the order's own
point and the nearest better one have signs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.window import Window, WindowBorder
from weavability.checks.finding import Verdict
from weavability.checks.registry import all_checks
from weavability.drawing import svg
from weavability.drawing.window_field import FIELD_HEIGHT, LEFT, LINE, RIGHT, TOP, WIDTH, Field
from weavability.drawing.window_labels import letters_in, points_in
from weavability.drawing.window_words import (
    VERDICTS,
    deciding,
    description_of,
    figure,
    heading,
    label_of,
    outcome_words,
    point_lines,
    share_of,
    subheading,
)

_SIGNS_IN_A_LINE: Final = 125
_MOST_TICKS: Final = 9


def draw_window(window: Window) -> str:
    """Draw a window: both fields as axes, the verdict over them, borders and points.

    Args:
        window: As it is answered.

    Returns:
        An SVG document with title and description; it refers to nothing outside itself.
    """
    field = Field(window)
    legend = list(_legend(field))
    height = TOP + FIELD_HEIGHT + 74 + LINE * (len(legend) + 1)
    return svg.document(
        width=WIDTH,
        height=height,
        title=heading(window),
        description=description_of(window),
        parts=_parts(field, legend),
    )


def _parts(field: Field, legend: Sequence[_Line]) -> Iterator[str]:
    window = field.window
    yield _fitted(30, heading(window), size=18, bold=True)
    yield _fitted(54, subheading(window), size=13)
    yield _hatchings(field.key)
    yield from _areas(field)
    yield _divisions(field)
    yield (
        f'<rect x="{LEFT}" y="{TOP}" width="{WIDTH - LEFT - RIGHT}" height="{FIELD_HEIGHT}" '
        f'fill="none" stroke="{svg.INK}"/>'
    )
    yield from _borders(field)
    yield from letters_in(field)
    yield from _axes(field)
    yield from points_in(field)
    yield from _written(field.key, legend)


def _fitted(y: float, words: str, *, size: int, bold: bool = False) -> str:
    """Write a heading, smaller if its words would not have room."""
    room = (WIDTH - LEFT - RIGHT) / (_WIDTH_OF_SIGN * len(words))
    return svg.text(LEFT, y, words, fill=svg.INK, size=min(size, room), bold=bold)


_WIDTH_OF_SIGN: Final = 0.63
"""Ample, as a share of the size of the type."""


# ---------------------------------------------------------------------------------------- the field


def _hatchings(key: str) -> str:
    """Define a hatching for each verdict but the best; it covers a tint that is seen in colour.

    The graver, the closer: what may not be weavable has twice the lines of other warnings.
    """

    def pattern(name: str, size: int, tint: str, lines: str) -> str:
        return (
            f'<pattern id="{name}{key}" width="{size}" height="{size}" '
            f'patternUnits="userSpaceOnUse"><rect width="{size}" height="{size}" fill="{tint}"/>'
            f'<path d="{lines}" stroke="{svg.INK}" stroke-width="0.8" fill="none"/></pattern>'
        )

    return (
        "<defs>"
        + pattern("fair", 12, "#fdf3d0", "M-3 3L3 -3M0 12L12 0M9 15L15 9")
        + pattern("doubt", 6, "#f9e0c0", "M-1 1L1 -1M0 6L6 0M5 7L7 5")
        + pattern("bad", 6, "#eec9c1", "M-1 1L1 -1M0 6L6 0M5 7L7 5M-1 5L1 7M0 0L6 6M5 -1L7 1")
        + pattern("none", 8, "#e4e7e8", "M3 4h2")
        + "</defs>"
    )


def _areas(field: Field) -> Iterator[str]:
    """Draw the areas of every verdict; what is weavable stays as the paper is."""
    wide, high = field.cell
    for name in ("fair", "doubt", "bad", "none"):
        outcomes = [at for at, each in enumerate(field.outcomes) if each.hatching == name]
        filled = np.isin(field.grid, outcomes)
        if not filled.any():
            continue
        bars = "".join(
            f"M{svg.number(LEFT + start * wide)} "
            f"{svg.number(TOP + FIELD_HEIGHT - (row + 1) * high)}"
            f"h{svg.number(length * wide)}v{svg.number(high)}h-{svg.number(length * wide)}z"
            for row, start, length in svg.runs(filled)
        )
        yield f'<path d="{bars}" fill="url(#{name}{field.key})"/>'


def _divisions(field: Field) -> str:
    """Draw a thin line between outcomes of one verdict, however small their areas are."""
    verdicts = np.array([list(VERDICTS).index(each.case.verdict) for each in field.outcomes])
    of_point = verdicts[field.grid]

    def divided(one: tuple[slice, ...], other: tuple[slice, ...]) -> NDArray[np.bool_]:
        alike = of_point[one] == of_point[other]
        found: NDArray[np.bool_] = alike & (field.grid[one] != field.grid[other])
        return found

    every, but_last, but_first = slice(None), slice(None, -1), slice(1, None)
    lines = _lines(
        field,
        divided((every, but_last), (every, but_first)),
        divided((but_last,), (but_first,)),
    )
    path = f'<path d="{lines}" fill="none" stroke='
    halo = f'{path}"{svg.PAPER}" stroke-width="4"/>'
    return f'{halo}{path}"{svg.INK}" stroke-width="1.1"/>' if lines else ""


def _lines(field: Field, upright: NDArray[np.bool_], level: NDArray[np.bool_]) -> str:
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


def _borders(field: Field) -> Iterator[str]:
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


def _edged(field: Field) -> Iterator[str]:
    """Draw the borders of verdicts along the edges of points."""
    ranks = [list(VERDICTS).index(each.case.verdict) for each in field.outcomes]
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


def _border(field: Field, border: WindowBorder) -> str:
    corners = list(zip(border.across, border.along, strict=True))
    places = [(field.x(x), field.y(y)) for x, y in corners]
    # Half a point is left to the frame.
    ends = [_on_frame(field, corner, place) for corner, place in zip(corners, places, strict=True)]
    points = " ".join(
        f"{svg.number(x)},{svg.number(y)}" for x, y in (*ends[:1], *places, *ends[-1:])
    )
    stroke = _stroke(is_hard=border.verdict is _HARD)
    return (
        f'<polyline points="{points}" fill="none" stroke="{svg.PAPER}" stroke-width="5"/>'
        f'<polyline points="{points}" fill="none" stroke={stroke} stroke-linejoin="round"/>'
    )


def _on_frame(
    field: Field, corner: tuple[float, float], place: tuple[float, float]
) -> tuple[float, float]:
    """Return where a corner of a border meets the frame, if it is on the edge of the grid."""
    (across, along), (x, y) = corner, place
    window = field.window
    if across in (window.across.values[0], window.across.values[-1]):
        x = LEFT if across == window.across.values[0] else WIDTH - RIGHT
    if along in (window.along.values[0], window.along.values[-1]):
        y = TOP + FIELD_HEIGHT if along == window.along.values[0] else TOP
    return x, y


def _stroke(*, is_hard: bool) -> str:
    """Return how a border is drawn: colour, width and dashes."""
    dashes = "" if is_hard else ' stroke-dasharray="7 4"'
    return f'"{svg.INK}" stroke-width="{2.4 if is_hard else 1.6}"{dashes}'


def _axes(field: Field) -> Iterator[str]:
    across, along = field.window.across, field.window.along
    bottom = TOP + FIELD_HEIGHT
    for value in _ticks(across.values):
        x = svg.number(field.x(value))
        yield f'<path d="M{x} {bottom}v6" stroke="{svg.INK}"/>'
        yield svg.text(field.x(value), bottom + 21, figure(value), anchor="middle", size=12)
    for value in _ticks(along.values):
        y = svg.number(field.y(value))
        yield f'<path d="M{LEFT} {y}h-6" stroke="{svg.INK}"/>'
        yield svg.text(LEFT - 10, field.y(value) + 4, figure(value), anchor="end", size=12)
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


# --------------------------------------------------------------------------------------- the legend


class _Line(NamedTuple):
    """A line of the legend; the first of a case has a sample of the hatching and a letter."""

    words: str
    is_of_case: bool = True
    hatching: str = ""
    letter: str = ""


def _legend(field: Field) -> Iterator[_Line]:
    total = field.grid.size
    for number, outcome in enumerate(field.outcomes[: field.named]):
        words = f"{outcome_words(outcome.cases)} ({share_of(outcome.points, total)})"
        first, *more = wrap(words, _SIGNS_IN_A_LINE)
        yield _Line(first, hatching=outcome.hatching, letter=field.letter(number))
        yield from map(_Line, more)
    if field.rest:
        share = share_of(sum(each.points for each in field.rest), total)
        yield _Line(
            f"{len(field.rest)} other outcomes on small areas, each inside a line ({share}); the "
            "JSON form has them.",
            letter=field.letter(field.named),
        )
    for said in (*_checks_in_words(field), *point_lines(field.window), *_kinds_of_lines(field)):
        yield from (_Line(line, is_of_case=False) for line in wrap(said, _SIGNS_IN_A_LINE))


def _checks_in_words(field: Field) -> Iterator[str]:
    """Yield what the checks require that decide in an area with a letter."""
    cases = (case for each in field.outcomes[: field.named] for case in each.cases)
    found = dict.fromkeys(code for case in cases for code in deciding(case))
    says = {each.code: each.says for each in all_checks()}
    yield from (f"{code}: {says[code]}" for code in found)


def _kinds_of_lines(field: Field) -> Iterator[str]:
    """Yield what the lines of a drawing are, of those kinds that it has."""
    window = field.window
    verdicts = {border.verdict for border in window.borders}
    is_fair = any(case.verdict is Verdict.WEAVABLE_WITH_WARNINGS for case in window.cases)
    is_dashed = is_fair and verdicts - {_HARD}
    kinds = [
        "Solid line: border of what is not weavable." if _HARD in verdicts else "",
        "Dashed line: border of what is weavable without warnings." if is_dashed else "",
        "Thin line: between unlike outcomes of one verdict." if _divisions(field) else "",
    ]
    if any(kinds):
        yield " ".join(filter(None, (*kinds, "All lie half way between two points.")))


def _written(key: str, legend: Sequence[_Line]) -> Iterator[str]:
    y = TOP + FIELD_HEIGHT + 74
    for line in legend:
        if line.letter:
            if line.hatching:
                fill = svg.PAPER if line.hatching == "good" else f"url(#{line.hatching}{key})"
                yield (
                    f'<rect x="{LEFT - 42}" y="{svg.number(y - 12)}" width="24" height="14" '
                    f'fill="{fill}" stroke="{svg.INK}"/>'
                )
            yield svg.text(LEFT - 10, y, line.letter, size=13, bold=True)
        if line.is_of_case:
            yield svg.text(LEFT + 8, y, line.words, size=12)
        else:
            yield svg.text(LEFT - 42, y + 6, line.words, size=12)
        y += LINE
