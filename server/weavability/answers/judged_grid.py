"""One order on one loom over a grid of two of its fields: every point judged, in columns.

Most windows vary figures that meet in no more than one place of the records that rules read: setts,
width, speed, the yarns of one set. Then a row of orders is read along either axis, and the records
of all points are put together from these; else every point is read by itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from weavability.answers.columns import (
    NOT_JUDGED,
    SEVERITY_RANKS,
    Doubts,
    doubts_of,
    judge_columns,
    limiting_places,
)
from weavability.answers.grid_rows import (
    ApartError,
    At,
    Axis,
    GridRows,
    is_plain,
    order_of_row,
    stated_of_row,
)
from weavability.answers.moved_columns import FactsOnUse, Row
from weavability.answers.stated_values import with_values
from weavability.checks.check_columns import (
    MovedOrders,
    Ranks,
    Unsettled,
    column_severities,
    settle_columns,
)
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, WeaveCounts
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons, place_of
from weavability.looms.denting import in_stated_reed
from weavability.looms.drawing_in import DrawnNumbers
from weavability.looms.drawing_in_columns import draw_in_alike
from weavability.looms.figured_warp import woven_on
from weavability.looms.loom import Loom
from weavability.looms.loom_columns import ParkColumns, moved_park, park_columns
from weavability.looms.loom_limits import is_possible, resolve_loom
from weavability.looms.order_numbers import OrderNumbers
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Moves
from weavability.textiles.cloth_bounds import is_endless
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth
from weavability.textiles.cloth_states import grey_cloth
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.moved_cloth import moved_cloth
from weavability.textiles.numbers import Floats
from weavability.textiles.sentences import say

MOST_POINTS_ALONE: Final = 1_024
"""Points of a window of which each has to be read by itself."""


MOST_WEAVINGS: Final = 64
"""How often a figured design is woven for one window: for each value that decides how."""

_WEAVES_ANEW: Final = (
    "/construction/panels",
    "/construction/warp/ends_per_",
    "/construction/weft/picks_per_",
    "/loom/shedding/hooks",
)
"""Figures that decide how a figured design is woven."""

_COUNTED: Final = ("/construction/panels", "/construction/selvedge/")
"""Figures that decide how the ends are dealt over the shafts, beside their number."""

_ITEMS_AT_A_TIME: Final = 500_000
"""Squares of weaves that are set side by side, which bounds the memory in use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedGrid:
    """What is found at every point; rows go along the second axis.

    Attributes:
        verdicts: Shape (along, across): as :class:`weavability.answers.columns.JudgedColumns` has
            them.
        severities: Shape (along, across, codes), likewise.
        speeds_picks_per_min: The speed at which the loom is to run; NaN if it cannot be judged.
        limited_by: The place of the limit that sets it among
            :class:`weavability.looms.weft_insertion.SpeedLimitName`; -1 likewise.
        doubts: Where a point is weavable, but not if what is assumed is so, by the check that says
            so; shape (along, across) each.
        is_read_alone: Whether every point was read by itself.
    """

    verdicts: Ranks
    severities: Ranks
    speeds_picks_per_min: Floats
    limited_by: Ranks
    doubts: Doubts
    is_read_alone: bool = False

    def doubted_at(self, row: int, column: int) -> tuple[CheckCode, ...]:
        """Return the checks that are in doubt at a point, in the order of reports."""
        return tuple(
            sorted((code for code in self.doubts if self.doubts[code][row, column]), key=place_of)
        )


def judge_grid(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    """Judge an order on a loom at every point of a grid, as validations of these points would.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.
        across: The field that is varied along a row.
        along: The field that is varied from row to row.

    Raises:
        InputError: The points are too many for fields that act on one figure, or a figured design
            would be woven too often, at ``/along/points``.
    """
    if construction.design is not None:
        with pointing_below("/loom"):
            construction = woven_on(construction, loom)
        if weavings_of(construction, across, along):
            return _woven_anew(construction, loom, across, along)
    both_of_cloth = not (across.place.is_of_loom or along.place.is_of_loom)
    if across.place.is_of_loom != along.place.is_of_loom:
        return _product(construction, loom, across, along)
    try:
        if both_of_cloth and not _touch(across, along, _COUNTED):
            if is_plain(across, construction) and not is_plain(along, construction):
                # What is judged again is chosen by its place across, and reading orders is dear.
                return _turned(_put_together(construction, loom, along, across))
            return _put_together(construction, loom, across, along)
    except ApartError:
        pass
    _refuse_many_alone(across, along)
    return _one_by_one(construction, loom, across, along)


def _refuse_many_alone(across: Axis, along: Axis) -> None:
    """Refuse more points than are read by themselves.

    Raises:
        InputError: They are more, at ``/along/points``.
    """
    points = len(across.values) * len(along.values)
    if points > MOST_POINTS_ALONE:
        raise InputError.of(
            "/along/points",
            say(
                "fault.window.too_many_points_alone",
                "These two fields act on the same figures, so that each point is read "
                "by itself: at most {most_points} points together.",
                most_points=MOST_POINTS_ALONE,
            ),
            given=points,
            allowed="such as 32 along and 32 across",
        )


def weavings_of(construction: Construction, across: Axis, along: Axis) -> int:
    """Return how often a figured design is woven anew for a grid; 0 if once is enough."""
    if construction.design is None:
        return 0
    counts = [len(axis.values) for axis in (across, along) if weaves_anew(axis.place.pointer)]
    return math.prod(counts) if counts else 0


def weaves_anew(pointer: str) -> bool:
    """Return whether a figured design is woven anew for each value of a field."""
    return pointer.startswith(_WEAVES_ANEW)


def _woven_anew(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    """Judge a figured design that is woven anew for each value of one field, or of both.

    Raises:
        InputError: It would be woven too often, or there are too many points, at ``/along/points``.
    """
    weavings = weavings_of(construction, across, along)
    if weavings > MOST_WEAVINGS:
        raise InputError.of(
            "/along/points",
            say(
                "fault.window.too_many_weavings",
                "A figured design is woven anew for each sett, number of panels and of hooks: at "
                "most {most} times for one window.",
                most=MOST_WEAVINGS,
            ),
            given=weavings,
            allowed="such as 8 setts of the warp and 8 of the weft, or 50 of one and 20 widths",
        )
    _refuse_many_alone(across, along)
    if not weaves_anew(along.place.pointer):
        return _turned(_woven_anew(construction, loom, along, across))
    rows = []
    for value in along.values:
        order, on = with_values(construction, loom, [(along.place.pointer, value)])
        pairs = [with_values(order, on, [(across.place.pointer, each)]) for each in across.values]
        if weaves_anew(across.place.pointer):
            rows.append(_turned(_stacked([_judged_woven([one], [it]) for one, it in pairs])))
        elif across.place.is_of_loom:
            rows.append(_turned(_judged_woven([order], [it for _, it in pairs])))
        else:
            rows.append(_judged_woven([one for one, _ in pairs], [on]))
    return replace(_stacked(rows), is_read_alone=True)


def _judged_woven(cloths: Sequence[Construction], looms: Sequence[Loom]) -> JudgedGrid:
    """Judge cloths of one figured design, which all are woven alike."""
    try:
        woven = woven_on(cloths[0], looms[0])
    except InputError:
        # Its tie does not fit these hooks.
        return _not_judged((len(looms), len(cloths)))
    alike = [replace(each, weave=woven.weave, figured=woven.figured) for each in cloths]
    return _judged(alike, looms)


def _not_judged(shape: tuple[int, int]) -> JudgedGrid:
    return JudgedGrid(
        verdicts=np.full(shape, NOT_JUDGED, np.int8),
        severities=np.zeros((*shape, len(comparisons())), np.int8),
        speeds_picks_per_min=np.full(shape, np.nan),
        limited_by=np.full(shape, -1, np.int8),
        doubts={},
    )


def _stacked(rows: Sequence[JudgedGrid]) -> JudgedGrid:
    """Put rows along one after the other."""
    nowhere = np.zeros(rows[0].verdicts.shape, np.bool_)
    codes = {code for row in rows for code in row.doubts}
    return JudgedGrid(
        verdicts=np.concatenate([row.verdicts for row in rows]),
        severities=np.concatenate([row.severities for row in rows]),
        speeds_picks_per_min=np.concatenate([row.speeds_picks_per_min for row in rows]),
        limited_by=np.concatenate([row.limited_by for row in rows]),
        doubts={
            code: np.concatenate([row.doubts.get(code, nowhere) for row in rows]) for code in codes
        },
    )


def _touch(across: Axis, along: Axis, pointers: tuple[str, ...]) -> bool:
    return any(axis.place.pointer.startswith(pointers) for axis in (across, along))


def _product(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    """Judge the cloths of one axis on the looms of the other."""
    of_cloth, of_loom = (along, across) if across.place.is_of_loom else (across, along)
    cloths = [
        with_values(construction, loom, [(of_cloth.place.pointer, value)])[0]
        for value in of_cloth.values
    ]
    looms = [
        with_values(construction, loom, [(of_loom.place.pointer, value)])[1]
        for value in of_loom.values
    ]
    found = _judged(cloths, looms)
    return _turned(found) if of_cloth is along else found


def _turned(grid: JudgedGrid) -> JudgedGrid:
    return JudgedGrid(
        verdicts=grid.verdicts.T,
        severities=grid.severities.transpose(1, 0, 2),
        speeds_picks_per_min=grid.speeds_picks_per_min.T,
        limited_by=grid.limited_by.T,
        is_read_alone=grid.is_read_alone,
        doubts={code: where.T for code, where in grid.doubts.items()},
    )


def _judged(cloths: Sequence[Construction], looms: Sequence[Loom]) -> JudgedGrid:
    """Judge cloths, across, on looms, along; those that contradict themselves are not judged."""
    possible = [place for place, each in enumerate(looms) if is_possible(each)]
    shape = (len(looms), len(cloths))
    verdicts = np.full(shape, NOT_JUDGED, np.int8)
    severities = np.zeros((*shape, len(comparisons())), np.int8)
    speeds, limited_by = np.full(shape, np.nan), np.full(shape, -1, np.int8)
    doubts: dict[CheckCode, NDArray[np.bool_]] = {}
    if possible:
        numbers = ("speed_picks_per_min", "limited_by")
        some = [looms[place] for place in possible]
        found = judge_columns(cloths, some, numbers=numbers, doubts=True)
        verdicts[possible] = found.verdicts.T
        severities[possible] = found.severities.transpose(1, 0, 2)
        speeds[possible] = found.numbers["speed_picks_per_min"].T
        limited_by[possible] = np.nan_to_num(found.numbers["limited_by"].T, nan=-1)
        for code, where in found.doubts.items():
            doubts[code] = np.zeros(shape, np.bool_)
            doubts[code][possible] = where.T
    return JudgedGrid(
        verdicts=verdicts,
        severities=severities,
        speeds_picks_per_min=speeds,
        limited_by=limited_by,
        doubts=doubts,
    )


def _one_by_one(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    pairs = [
        with_values(construction, loom, [(across.place.pointer, x), (along.place.pointer, y)])
        for y in along.values
        for x in across.values
    ]
    shape = (len(along.values), len(across.values))
    if across.place.is_of_loom:
        found = _turned(_judged([construction], [on for _, on in pairs]))
    else:
        found = _judged([cloth for cloth, _ in pairs], [loom])
    return JudgedGrid(
        verdicts=found.verdicts.reshape(shape),
        severities=found.severities.reshape(*shape, -1),
        speeds_picks_per_min=found.speeds_picks_per_min.reshape(shape),
        limited_by=found.limited_by.reshape(shape),
        doubts={code: where.reshape(shape) for code, where in found.doubts.items()},
        is_read_alone=True,
    )


def _put_together(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    """Judge two fields of the cloth that act on figures of their own.

    Raises:
        ApartError: They do not.
    """
    park = park_columns((resolve_loom(loom),), at_least=1)
    rows = GridRows.read(construction, loom, across, along)
    shape = rows_along, rows_across = (len(along.values), len(across.values))
    doubts: dict[CheckCode, NDArray[np.bool_]] = {}
    into = replace(_not_judged(shape), doubts=doubts)
    at_a_time = max(1, _ITEMS_AT_A_TIME // max(1, rows.base.stated.squares.items))
    wide = min(rows_across, at_a_time)
    with np.errstate(all="ignore"):
        for down in _parts(rows_along, at_a_time // wide):
            for over in _parts(rows_across, wide):
                for code, where in _judge_points(rows, park, (down, over), into).items():
                    whole = doubts.setdefault(code, np.zeros(shape, np.bool_))
                    whole[np.ix_(down, over)] = where
    return into


def _parts(rows: int, at_a_time: int) -> Iterator[NDArray[np.intp]]:
    return (np.arange(start, min(rows, start + at_a_time)) for start in range(0, rows, at_a_time))


def _judge_points(rows: GridRows, park: ParkColumns, at: At, into: JudgedGrid) -> Doubts:
    """Judge some points, write what is found, and return what is in doubt of it."""
    usual = in_force().usual
    grid = _Points(rows, park, at)
    facts = cast("Facts[Floats]", grid)
    found = np.zeros((len(comparisons()), *grid.is_read.shape), np.int8)
    some = column_severities(facts, usual, SEVERITY_RANKS, found, grid)
    settle_columns(list(_in_bands(some, grid)), usual, SEVERITY_RANKS[Severity.ERROR])
    cloth = grid.as_ordered
    endless = is_endless(
        total_ends=cloth.total_ends, reed_cm=cloth.reed_width_cm, warp_m=cloth.woven_warp_m
    )
    judged = np.asarray(facts.fit.is_judged) & ~np.asarray(endless) & grid.is_read
    found *= judged
    verdicts = np.maximum(found.max(axis=0) - np.int8(1), np.int8(0))
    here = np.ix_(*at)
    into.verdicts[here] = np.where(judged, verdicts, NOT_JUDGED)
    into.severities[here] = np.moveaxis(found, 0, -1)
    into.speeds_picks_per_min[here] = np.where(judged, facts.fit.speed_picks_per_min, np.nan)
    into.limited_by[here] = np.where(judged, limiting_places(facts), -1)
    return doubts_of(found, some, facts)


class _Band(NamedTuple):
    """Neighbouring rows of points, which are computed again with other values assumed."""

    points: _Points
    first: int
    stop: int

    def moved(
        self, moves: Moves, orders: NDArray[np.intp]
    ) -> tuple[Facts[Floats], NDArray[np.bool_]]:
        """Return the numbers of some orders across, and where they cannot be computed."""
        return self.points.moved(moves, orders, slice(self.first, self.stop))


def _in_bands(
    unsettled: Sequence[Unsettled], points: _Points
) -> Iterator[tuple[Unsettled, MovedOrders]]:
    """Yield errors that may rest on what is assumed, each within the rows that have such errors.

    What rests on the same values is in the same rows, so that these are computed once.
    """
    by_moves: dict[Moves, list[Unsettled]] = {}
    for each in unsettled:
        by_moves.setdefault(each.one.moves, []).append(each)
    for some in by_moves.values():
        rows = np.flatnonzero(np.any([each.here.any(axis=1) for each in some], axis=0))
        first, stop = int(rows[0]), int(rows[-1]) + 1
        for each in some:
            heaviest, here = each.heaviest[first:stop], each.here[first:stop]
            yield each._replace(heaviest=heaviest, here=here), _Band(points, first, stop)


class _Points(FactsOnUse):
    """Points of a grid as facts of which each part is computed when it is read."""

    def __init__(
        self,
        rows: GridRows,
        park: ParkColumns,
        at: At,
        moved: tuple[Moves, Row, Floats] | None = None,
    ) -> None:
        (column,) = park.columns
        super().__init__(column)
        self._rows, self._park, self._at = rows, park, at
        self._moved = moved
        self._rows_moved: GridRows | None = None

    @property
    def is_read(self) -> NDArray[np.bool_]:
        """Which points could be read."""
        down, over = self._at
        return self._rows.along.is_read[down, np.newaxis] & self._rows.across.is_read[over]

    def rest_on(self, moves: Moves) -> NDArray[np.bool_]:
        """Return whether a value that is moved is assumed: of one loom in one row."""
        return self._column.rest_on(moves) | self._rows.rest_on(moves, self._at)

    def moved(
        self, moves: Moves, orders: NDArray[np.intp], rows: slice
    ) -> tuple[Facts[Floats], NDArray[np.bool_]]:
        """Return the numbers of some points with other values assumed, or of which they are not."""
        base = self._rows.base.moved(moves)
        park = moved_park(self._park, moves)
        estimate = self.cloth.estimated_weft_crimp_pct
        if estimate.shape[0] > 1:
            estimate = estimate[rows]
        if estimate.shape[1] > 1:
            estimate = estimate[:, orders]
        moved = (moves, base or self._rows.base, estimate)
        down, over = self._at
        points = _Points(self._rows, park.park, (down[rows], over[orders]), moved)
        return cast("Facts[Floats]", points), park.kept[0] | (base is None)

    @cached_property
    def _stated(self) -> StatedCloth[Floats]:
        found: StatedCloth[Floats] = self._spread(stated_of_row)
        return found

    def _spread(self, part: Callable[[Row], Any]) -> Any:
        """Put a record together; if what is moved acts on a varied figure, from moved orders."""
        if self._moved is None:
            return self._rows.spread(part, self._at)
        moves, base, _ = self._moved
        if not self._rows.is_unlike(moves):
            with suppress(ApartError):
                return self._rows.spread(part, self._at, part(base))
        return self._moved_rows(moves).spread(part)

    def _moved_rows(self, moves: Moves) -> GridRows:
        if self._rows_moved is None:
            self._rows_moved = self._rows.moved(moves, self._at)
        return self._rows_moved

    @cached_property
    def as_ordered(self) -> ClothNumbers[Floats]:
        """The cloth with nothing moved, in a reed of its sett and width."""
        return grey_cloth(self._stated)

    @cached_property
    def cloth(self) -> ClothNumbers[Floats]:
        """The cloth."""
        if self._moved is None:
            return in_stated_reed(self.order, self.as_ordered)
        moves, _, estimate = self._moved
        moved = moved_cloth(self._stated, estimated_weft_crimp_pct=estimate, moves=moves)
        if not self._rows.base.symbols.fills_reed:
            return moved
        return in_stated_reed(self.order, moved, moves)

    @cached_property
    def order(self) -> OrderNumbers[Floats]:
        """What the order requests."""
        found: OrderNumbers[Floats] = self._spread(order_of_row)
        return found

    def _counts(self) -> WeaveCounts[Floats]:
        found: WeaveCounts[Floats] = self._rows.spread(_weave, self._at)
        return found

    def _drawn(self) -> DrawnNumbers[Floats]:
        base = self._rows.base if self._moved is None else self._moved[1]
        (motion,) = self._park.shedding_motions
        return draw_in_alike(base.symbols, self.cloth, motion)


def _weave(row: Row) -> WeaveCounts[float]:
    return row.weave
