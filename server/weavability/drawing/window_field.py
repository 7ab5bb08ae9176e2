"""The field of a drawing of a window: places on it, and its outcomes."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from string import ascii_uppercase
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.window import Window, WindowCase
from weavability.checks.finding import Verdict
from weavability.drawing.window_words import description_of

WIDTH: Final = 960
LEFT: Final = 84
RIGHT: Final = 40
TOP: Final = 84
FIELD_HEIGHT: Final = 520
LINE: Final = 17
MOST_NAMED: Final = 20
"""Outcomes that get a letter of their own; the others share one."""

LEAST_NAMED_SHARE: Final = 0.002
LEAST_AGAIN_SHARE: Final = 0.005
"""Of an area that is not the largest of its outcome."""


class Outcome(NamedTuple):
    """Cases in which the same decides; speed limit, notes and a reed to be bought may differ.

    Attributes:
        places: Their places among all cases, the most frequent first.
        cases: The cases.
        points: Points at which one of them holds.
    """

    places: tuple[int, ...]
    cases: tuple[WindowCase, ...]
    points: int

    @property
    def case(self) -> WindowCase:
        """The first of them."""
        return self.cases[0]

    @property
    def hatching(self) -> str:
        """The name of the hatching of its area; one in doubt has one of its own."""
        if self.case.verdict is None:
            return "none"
        return "doubt" if self.case.rejected_if_assumed else _HATCHINGS[self.case.verdict]


_HATCHINGS: Final = {
    Verdict.WEAVABLE: "good",
    Verdict.WEAVABLE_WITH_WARNINGS: "fair",
    Verdict.NOT_WEAVABLE: "bad",
}


def _outcomes(window: Window) -> list[Outcome]:
    """Put cases together in which the same decides, the most frequent outcome first."""
    alike: dict[tuple[object, ...], list[int]] = {}
    for at, case in enumerate(window.cases):
        key = case.verdict, case.decided_by, case.rejected_if_assumed
        alike.setdefault(key, []).append(at)
    found = [
        Outcome(
            places=tuple(places),
            cases=tuple(window.cases[at] for at in places),
            points=sum(window.cases[at].points for at in places),
        )
        for places in alike.values()
    ]
    return sorted(found, key=lambda each: -each.points)


class Field:
    """The field of the drawing: places on it, and the outcomes with their letters.

    Attributes:
        grid: The outcome of every point.
        named: How many outcomes have a letter of their own: the most frequent.
        rest: The others, which share the next letter.
        lettered: The number of the letter of every point.
        areas: The area of every point: points with one letter that lie together.
    """

    def __init__(self, window: Window) -> None:
        self.window = window
        # Several drawings may be in one page: the ids of their hatchings must differ.
        self.key = f"{zlib.crc32(description_of(window).encode()):08x}"
        self.outcomes = _outcomes(window)
        of_case = {at: number for number, each in enumerate(self.outcomes) for at in each.places}
        self.grid = np.array([of_case[at] for at in range(len(window.cases))])[
            np.array(window.grid)
        ]
        enough = LEAST_NAMED_SHARE * self.grid.size
        count = sum(each.points >= enough for each in self.outcomes[:MOST_NAMED])
        # One that is left over takes no more room by its name.
        self.named = count + 1 if len(self.outcomes) == count + 1 else count
        self.rest = self.outcomes[self.named :]
        self.lettered = np.minimum(self.grid, self.named)
        self.areas = _areas(self.lettered)

    @staticmethod
    def letter(number: int) -> str:
        """Return the letter of an outcome; that of the rest follows the others."""
        return ascii_uppercase[number]

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


def _areas(grid: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the number of the area of each point: points of one case that lie together have one.

    >>> _areas(np.array([[0, 1, 0], [0, 0, 0], [1, 2, 2]])).tolist()
    [[0, 1, 0], [0, 0, 0], [4, 5, 5]]
    """
    begins = np.diff(grid, axis=1, prepend=-1) != 0
    runs = begins.cumsum().reshape(grid.shape) - 1
    area = list(range(int(runs[-1, -1]) + 1))

    def first_of(run: int) -> int:
        while area[run] != run:
            area[run] = area[area[run]]
            run = area[run]
        return run

    beside = (grid[1:] == grid[:-1]) & np.diff(
        np.stack((runs[1:], runs[:-1])), axis=2, prepend=-1
    ).any(axis=0)
    for one, other in zip(runs[:-1][beside].tolist(), runs[1:][beside].tolist(), strict=True):
        low, high = sorted((first_of(one), first_of(other)))
        area[high] = low
    found: NDArray[np.intp] = np.array([first_of(run) for run in area])[runs]
    return found
