"""Letters and signs in the field of a drawing of a window, with their words.

No label lies over another, over a sign or its words, or beyond the area that it names.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, product
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.window import WindowCase
from weavability.drawing import svg
from weavability.drawing.window_field import (
    FIELD_HEIGHT,
    LEAST_AGAIN_SHARE,
    LEFT,
    RIGHT,
    TOP,
    WIDTH,
    Field,
)
from weavability.drawing.window_words import VERDICTS


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


def letters_in(field: Field) -> Iterator[str]:
    """Put the letter of each outcome well inside its areas, in the largest with what decides it.

    No label lies over another, over a sign or its words, or beyond its area.
    """
    taken = [sign.box for sign in _signs(field)]
    for number, outcome in enumerate(field.outcomes[: field.named]):
        first, *more = _areas_of(field, number)
        letter = field.letter(number)
        yield from _letter_in(field, first, letter, _labels(outcome.case), taken)
        for area in more:
            yield from _letter_in(field, area, letter, ((),), taken)
    if field.rest:
        for area in _areas_of(field, field.named):
            yield from _letter_in(field, area, field.letter(field.named), ((),), taken)


def _areas_of(field: Field, number: int) -> list[NDArray[np.bool_]]:
    """Return the areas of a letter, the largest first, without small ones beside it."""
    sizes = np.bincount(field.areas[field.lettered == number])
    largest, *others = np.argsort(-sizes, kind="stable").tolist()
    enough = LEAST_AGAIN_SHARE * field.grid.size
    return [
        field.areas == area
        for area in (largest, *others)
        if area == largest or sizes[area] >= enough
    ]


def _letter_in(
    field: Field,
    inside: NDArray[np.bool_],
    letter: str,
    labels: Iterable[tuple[str, ...]],
    taken: list[_Box],
) -> Iterator[str]:
    """Put a letter in an area with the longest words that have room, and take the place."""
    wide, high = field.cell
    rows, columns = _inner_points(inside)
    for lines in labels:
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
            return


def _labels(case: WindowCase) -> Iterator[tuple[str, ...]]:
    """Yield what may be written beside a letter, the longest first: checks, or the verdict."""
    found = case.decided_by
    if not found:
        yield (VERDICTS[case.verdict],)
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


def _signs(field: Field) -> list[_Sign]:
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


def points_in(field: Field) -> Iterator[str]:
    """Draw the signs of the order and of the nearest better point."""
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
