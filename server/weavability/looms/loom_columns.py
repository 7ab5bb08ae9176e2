"""Looms in one column: their tables are looked up by key, their carriers by kind of motion."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from itertools import chain
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.looms.carriers import InsertionNumbers
from weavability.looms.drawing_in import DrawnNumbers
from weavability.looms.loom_limits import LoomLimits, resolve_moved_loom
from weavability.looms.loom_numbers import LoomNumbers, SheddingNumbers
from weavability.looms.shedding_limits import SheddingLimits
from weavability.looms.weft_insertion import SpeedCurve
from weavability.looms.weft_tension import Rise, pick_rises
from weavability.textiles.assumptions import Moves
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import (
    Floats,
    Steps,
    StepsByKey,
    columns_of,
)

_SHAPE: Final = (-1, 1)
"""Looms are rows, so that orders can be columns."""


def _curve_of(curves: Sequence[SpeedCurve]) -> SpeedCurve:
    first = curves[0]
    if all(curve == first for curve in curves):
        return first
    return SpeedCurve(
        _steps_of([curve.widths_cm for curve in curves]),
        _steps_of([curve.picks_per_min for curve in curves]),
        np.array([curve.is_stated for curve in curves]).reshape(_SHAPE),
    )


def _steps_of(tables: list[Steps]) -> Steps:
    return StepsByKey.of(tables, shape=_SHAPE)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomColumn:
    """Looms in one column.

    Attributes:
        places: Their places among all looms.
        limits: The looms themselves.
        numbers: Their limits. Which law moves the carriers differs from row to row, so the peaks of
            the weft tension are taken from :meth:`pick_rises`.
        shedding: Limits of their shedding motions.
        shedding_motions: The place of the shedding motion of each among the distinct ones.
        carrier_motions: The rows of every kind of motion of the carriers, and the figures of it.
    """

    places: NDArray[np.intp]
    limits: tuple[LoomLimits, ...]
    numbers: LoomNumbers[Floats]
    shedding: SheddingNumbers[Floats]
    shedding_motions: NDArray[np.intp]
    carrier_motions: tuple[tuple[NDArray[np.intp], InsertionNumbers[Floats]], ...]

    def pick_rises(self, *, reed_width_cm: Floats) -> list[Rise[Floats]]:
        """Return the peaks of :func:`weavability.looms.weft_tension.pick_rises` on every loom.

        Kinds of motion have unlike peaks: the first of each share a column, and so on. A loom that
        has fewer than others has ``present`` false in the last, which never rise.
        """
        found = [
            (rows, pick_rises(motion, reed_width_cm=reed_width_cm))
            for rows, motion in self.carrier_motions
        ]
        if len(found) == 1:
            return found[0][1]
        most = max(len(rises) for _, rises in found)
        return [
            _gathered([(rows, rises[at]) for rows, rises in found if at < len(rises)], self.looms)
            for at in range(most)
        ]

    def drawing_in(self, on_motions: DrawnNumbers[Floats]) -> DrawnNumbers[Floats]:
        """Return the drawing-in on every loom from that on the distinct shedding motions."""
        motions = self.shedding_motions
        some = motions[:1] if (motions == motions[0]).all() else motions
        return DrawnNumbers(
            shafts_needed=on_motions.shafts_needed[some],
            shafts_used=on_motions.shafts_used[some],
            healds_per_cm=on_motions.healds_per_cm[some],
            healds_on_fullest_shaft=on_motions.healds_on_fullest_shaft[some],
            draft_faults=on_motions.draft_faults[some],
        )

    def rest_on(self, moves: Moves) -> NDArray[np.bool_]:
        """Return the looms of which a value that is moved is assumed, one a row."""
        ends = moves.ends.keys()
        return np.array([not ends.isdisjoint(one.assumed) for one in self.limits]).reshape(_SHAPE)

    @property
    def looms(self) -> int:
        """How many they are."""
        return len(self.places)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ParkColumns:
    """All looms, in one column or in several, and their distinct shedding motions."""

    columns: tuple[LoomColumn, ...]
    shedding_motions: tuple[SheddingLimits, ...]


class MovedPark(NamedTuple):
    """A park with other values assumed.

    Attributes:
        park: Its columns, in the places of the park as it is.
        kept: Of each column, the looms that stay as they are, one a row.
    """

    park: ParkColumns
    kept: tuple[NDArray[np.bool_], ...]


@lru_cache(maxsize=16)
def park_columns(looms: tuple[LoomLimits, ...], *, at_least: int) -> ParkColumns:
    """Put looms into columns of so many at least, as far as there are any; once for a park.

    Looms with the same tables are neighbours: a column of those alone needs no look-up by key.
    """
    motions: dict[SheddingLimits, int] = {}
    alike: dict[Hashable, list[int]] = {}
    for place, one in enumerate(looms):
        motions.setdefault(one.shedding, len(motions))
        alike.setdefault(one.numbers.tables, []).append(place)
    return ParkColumns(
        columns=tuple(
            _loom_column(places, [looms[place] for place in places], motions)
            for places in _joined(alike.values(), at_least)
        ),
        shedding_motions=tuple(motions),
    )


@lru_cache(maxsize=64)
def moved_park(park: ParkColumns, moves: Moves) -> MovedPark:
    """Return the same columns of looms with other values assumed.

    A loom that cannot be resolved with them stays as it is.
    """
    limits = [[_moved(loom, moves) for loom in column.limits] for column in park.columns]
    kept = tuple(np.array([kept for _, kept in some]).reshape(_SHAPE) for some in limits)
    before = [loom for column in park.columns for loom in column.limits]
    if all(loom is was for (loom, _), was in zip(chain.from_iterable(limits), before, strict=True)):
        return MovedPark(park, kept)
    motions: dict[SheddingLimits, int] = {}
    for loom, _ in chain.from_iterable(limits):
        motions.setdefault(loom.shedding, len(motions))
    return MovedPark(
        park=ParkColumns(
            columns=tuple(
                _loom_column(column.places.tolist(), [loom for loom, _ in some], motions)
                for column, some in zip(park.columns, limits, strict=True)
            ),
            shedding_motions=tuple(motions),
        ),
        kept=kept,
    )


def _moved(limits: LoomLimits, moves: Moves) -> tuple[LoomLimits, bool]:
    try:
        return resolve_moved_loom(limits, moves), False
    except InputError:
        return limits, True


def _joined(kinds: Iterable[list[int]], at_least: int) -> Iterator[list[int]]:
    """Join kinds of looms that follow one another until there are so many looms together."""
    joined: list[int] = []
    for places in kinds:
        joined = joined + places
        if len(joined) >= at_least:
            yield joined
            joined = []
    if joined:
        yield joined


def _loom_column(
    places: list[int], looms: list[LoomLimits], motions: Mapping[SheddingLimits, int]
) -> LoomColumn:
    limits = [loom.numbers for loom in looms]
    numbers: LoomNumbers[Floats] = columns_of(limits, shape=_SHAPE)
    kinds: dict[Hashable, list[int]] = {}
    for row, loom in enumerate(limits):
        kinds.setdefault(loom.insertion.tables, []).append(row)
    return LoomColumn(
        places=np.array(places),
        limits=tuple(looms),
        numbers=replace(numbers, speed_curve=_curve_of([loom.speed_curve for loom in limits])),
        shedding=columns_of([loom.shedding.numbers for loom in looms], shape=_SHAPE),
        shedding_motions=np.array([motions[loom.shedding] for loom in looms]),
        carrier_motions=tuple(
            (np.array(rows), columns_of([limits[row].insertion for row in rows], shape=_SHAPE))
            for rows in kinds.values()
        ),
    )


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
