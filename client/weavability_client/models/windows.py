"""The answer to a request for a window: what can be woven if two fields are varied."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from weavability_client._record import Scalar
from weavability_client.models._generated import (
    WindowAxis,
    WindowCase,
    WindowFields,
    WindowPoint,
)
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Verdict
from weavability_client.tables import cell, words

_SIGNS: Final = {
    Verdict.WEAVABLE: ".",
    Verdict.WEAVABLE_WITH_WARNINGS: "!",
    Verdict.NOT_WEAVABLE: "#",
    None: " ",
}
_KEY: Final = "key: . weavable, ! with warnings, # not weavable"
_WIDEST: Final = 60
_HIGHEST: Final = 20


class Window(WindowFields, Answer):
    """A window of feasibility; its fields are those of ``WindowFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether the order as it is can be woven, with warnings or without."""
        return self.own.verdict is not Verdict.NOT_WEAVABLE

    def case_at(self, across: float, along: float) -> WindowCase:
        """Return what holds at the point of the grid that is nearest to two values."""
        row = _nearest(self.along.values, along)
        return self.cases[self.grid[row][_nearest(self.across.values, across)]]

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a point, for a data frame or a spreadsheet."""
        rows: list[dict[str, Scalar]] = []
        for along, places, speeds in zip(
            self.along.values, self.grid, self.speeds_picks_per_min, strict=True
        ):
            for across, place, speed in zip(self.across.values, places, speeds, strict=True):
                case = self.cases[place]
                rows.append(
                    {
                        self.across.pointer: across,
                        self.along.pointer: along,
                        "verdict": None if case.verdict is None else str(case.verdict),
                        "errors": " ".join(case.errors),
                        "warnings": " ".join(case.warnings),
                        "limited_by": case.limited_by,
                        "speed_picks_per_min": speed,
                    }
                )
        return rows

    def _page(self) -> Page:
        """Lay the window out: the cases as a table, and the field in signs."""
        return Page(
            headline=f"{self.reference or 'construction'}"
            f"{f' on {self.loom_id}' if self.loom_id else ''}: "
            f"{self.across.words} and {self.along.words}",
            facts=[
                ("across", _span(self.across)),
                ("along", _span(self.along)),
                ("the order", self._point_text(self.own)),
                ("nearest better", self._nearest_text()),
            ],
            header=("verdict", "share %", "errors", "warnings", "speed limited by"),
            rows=self._case_rows(),
            picture="\n".join([*self._picture(), _KEY]),
            remarks=[self.caution],
        )

    def _case_rows(self) -> list[tuple[object, ...]]:
        """Return a row for the cases that differ in no more than notes."""
        points: dict[tuple[object, ...], int] = {}
        for case in self.cases:
            key = (
                "cannot be requested" if case.verdict is None else words(case.verdict),
                " ".join(case.errors),
                " ".join(case.warnings),
                "" if case.limited_by is None else words(case.limited_by),
            )
            points[key] = points.get(key, 0) + case.points
        total = sum(points.values())
        listed = sorted(points.items(), key=lambda each: -each[1])
        return [(key[0], round(100 * count / total, 1), *key[1:]) for key, count in listed]

    def _point_text(self, point: WindowPoint) -> str:
        codes = f" ({', '.join(point.codes)})" if point.codes else ""
        return (
            f"{_value(self.across, point.across)}, {_value(self.along, point.along)}: "
            f"{words(point.verdict)}{codes}"
        )

    def _nearest_text(self) -> str:
        return "none in this window" if self.nearest is None else self._point_text(self.nearest)

    def _picture(self) -> list[str]:
        """Draw the field in signs, the greatest value of ``along`` at the top."""
        rows, columns = _thinned(len(self.grid), _HIGHEST), _thinned(len(self.grid[0]), _WIDEST)
        signs = [_SIGNS.get(case.verdict, "?") for case in self.cases]
        return [
            "".join(signs[self.grid[row][column]] for column in columns) for row in reversed(rows)
        ]


def _nearest(values: Sequence[float], value: float) -> int:
    return min(range(len(values)), key=lambda place: abs(values[place] - value))


def _thinned(count: int, most: int) -> list[int]:
    """Return at most so many places, from the first to the last."""
    if count <= most:
        return list(range(count))
    return [round(place * (count - 1) / (most - 1)) for place in range(most)]


def _unit(axis: WindowAxis) -> str:
    """Return the unit of a field, unless its name says it: ends per cm."""
    said = axis.unit is None or axis.unit.replace("/", " per ") in axis.words
    return "" if said else f" {axis.unit}"


def _span(axis: WindowAxis) -> str:
    first, last = axis.values[0], axis.values[-1]
    return f"{axis.words}, {cell(first)} to {cell(last)}{_unit(axis)}"


def _value(axis: WindowAxis, value: float | None) -> str:
    return (
        f"{axis.words} not stated" if value is None else f"{axis.words} {cell(value)}{_unit(axis)}"
    )
