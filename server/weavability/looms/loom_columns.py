"""Looms in one column: their tables are looked up by key, their carriers by kind of motion."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields, replace
from math import inf
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from weavability.looms.carriers import InsertionNumbers
from weavability.looms.loom_numbers import LoomNumbers
from weavability.looms.weft_insertion import SpeedCurve
from weavability.looms.weft_tension import Rise, pick_rises
from weavability.textiles.numbers import (
    Floats,
    N,
    Steps,
    StepsByKey,
    Truth,
    columns_of,
    either,
)

_SHAPE: Final = (-1, 1)
"""Looms are rows, so that orders can be columns."""


@dataclass(frozen=True, slots=True)
class SpeedCurves(SpeedCurve):
    """The speed curves of a column of looms; a loom without one has no limit by it.

    Attributes:
        present: Whether each loom states a curve.
    """

    present: Truth

    def speed_at(self, reed_width_cm: N) -> N:
        """Return the picks a minute that the curve of each loom allows at a reed width."""
        speed = SpeedCurve.speed_at(self, reed_width_cm)
        return either(self.present, speed, inf)


def _curve_of(curves: Sequence[SpeedCurve | None]) -> SpeedCurve | None:
    first = next((curve for curve in curves if curve is not None), None)
    if first is None or all(curve == first for curve in curves):
        return first
    filled = [curve or first for curve in curves]
    return SpeedCurves(
        _steps_of([curve.widths_cm for curve in filled]),
        _steps_of([curve.picks_per_min for curve in filled]),
        np.array([curve is not None for curve in curves]).reshape(_SHAPE),
    )


def _steps_of(tables: list[Steps]) -> Steps:
    return StepsByKey.of(tables, shape=_SHAPE)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomColumns:
    """Looms in a column.

    Attributes:
        numbers: Their limits. Which law moves the carriers differs from row to row, so the peaks of
            the weft tension are taken from :meth:`pick_rises`.
        motions: The rows of every kind of motion, and the figures of it.
    """

    numbers: LoomNumbers[Floats]
    motions: tuple[tuple[NDArray[np.intp], InsertionNumbers[Floats]], ...]

    @classmethod
    def of(cls, looms: Sequence[LoomNumbers[float]]) -> LoomColumns:
        """Put looms into a column."""
        numbers: LoomNumbers[Floats] = columns_of(looms, shape=_SHAPE)
        kinds: dict[Hashable, list[int]] = {}
        for row, loom in enumerate(looms):
            kinds.setdefault(_kind_of_motion(loom), []).append(row)
        return cls(
            numbers=replace(numbers, speed_curve=_curve_of([loom.speed_curve for loom in looms])),
            motions=tuple(
                (
                    np.array(rows),
                    columns_of([looms[row].insertion for row in rows], shape=_SHAPE),
                )
                for rows in kinds.values()
            ),
        )

    def pick_rises(self, *, reed_width_cm: Floats) -> list[Rise[Floats]]:
        """Return the peaks of :func:`weavability.looms.weft_tension.pick_rises` on every loom.

        Kinds of motion have unlike peaks: the first of each share a column, and so on. A loom that
        has fewer than others has ``present`` false in the last, which never rise.
        """
        found = [
            (rows, pick_rises(motion, reed_width_cm=reed_width_cm)) for rows, motion in self.motions
        ]
        if len(found) == 1:
            return found[0][1]
        looms = sum(len(rows) for rows, _ in found)
        most = max(len(rises) for _, rises in found)
        return [
            _gathered([(rows, rises[at]) for rows, rises in found if at < len(rises)], looms)
            for at in range(most)
        ]


def _kind_of_motion(loom: LoomNumbers[float]) -> Hashable:
    return (loom.insertion.motion_law, loom.insertion.rapiers)


def _gathered(parts: list[tuple[NDArray[np.intp], Rise[Floats]]], looms: int) -> Rise[Floats]:
    """Put the peaks of some looms into a column of all; zeros, on the others, are no peak."""
    return replace(
        parts[0][1],
        **{
            each.name: _column([(rows, getattr(rise, each.name)) for rows, rise in parts], looms)
            for each in fields(Rise)
        },
    )


def _column(parts: list[tuple[NDArray[np.intp], Any]], looms: int) -> Any:
    values = [value for _, value in parts]
    if isinstance(values[0], str):
        return values[0]
    orders = max(np.shape(value)[-1] if np.ndim(value) else 1 for value in values)
    column = np.zeros((looms, orders), np.result_type(*values))
    for rows, value in parts:
        column[rows] = value
    return column
