"""One order on one loom over a grid of two of its fields: every point judged, in columns.

Most windows vary figures that meet in no more than one place of the records that rules read: setts,
width, speed, the yarns of one set. Then a row of orders is read along either axis, and the records
of all points are put together from these; else every point is read by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property
from operator import attrgetter
from typing import Any, Final, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from weavability.answers.columns import (
    NOT_JUDGED,
    SEVERITY_RANKS,
    judge_columns,
    limiting_places,
)
from weavability.answers.moved_columns import FactsOnUse, Row
from weavability.answers.stated_values import Place, with_values
from weavability.checks.check_columns import Ranks, column_severities, settle_columns
from weavability.checks.facts import Facts, WeaveCounts, weave_counts
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons
from weavability.looms.denting import in_stated_reed
from weavability.looms.drawing_in import DrawnNumbers
from weavability.looms.drawing_in_columns import draw_in_alike
from weavability.looms.figured_warp import woven_on
from weavability.looms.loom import Loom
from weavability.looms.loom_columns import ParkColumns, moved_park, park_columns
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.order_numbers import OrderNumbers, order_numbers, order_numbers_like
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Ledger, Moves
from weavability.textiles.cloth_bounds import is_endless, refuse_impossible
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth
from weavability.textiles.cloth_states import grey_cloth
from weavability.textiles.cloth_symbols import CONSTRUCTION, cloth_symbols
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.moved_cloth import moved_cloth
from weavability.textiles.numbers import Floats, Lists, Record, columns_of
from weavability.textiles.sentences import say

MOST_POINTS_ALONE: Final = 1_024
"""Points of a window of which each has to be read by itself."""

_PLAIN: Final = frozenset(
    {
        "/construction/warp/ends_per_cm",
        "/construction/warp/ends_per_in",
        "/construction/weft/picks_per_cm",
        "/construction/weft/picks_per_in",
        "/construction/width_cm",
        "/construction/width_in",
        "/construction/requested_speed_picks_per_min",
    }
)
"""Figures on which nothing depends that is settled before anything is computed."""

_WEAVES_ANEW: Final = (
    "/construction/panels",
    "/construction/warp/ends_per_",
    "/construction/weft/picks_per_",
    "/loom/shedding/",
)
"""Figures that decide how a figured design is woven."""

_COUNTED: Final = ("/construction/panels", "/construction/selvedge/")
"""Figures that decide how the ends are dealt over the shafts, beside their number."""

_ITEMS_AT_A_TIME: Final = 500_000
"""Squares of weaves that are set side by side, which bounds the memory in use."""


class Axis(NamedTuple):
    """A field that is varied, and its values."""

    place: Place
    values: tuple[float, ...]


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
        is_read_alone: Whether every point was read by itself.
    """

    verdicts: Ranks
    severities: Ranks
    speeds_picks_per_min: Floats
    limited_by: Ranks
    is_read_alone: bool = False


class ApartError(ValueError):
    """Both fields act on one figure, so that the points cannot be put together from two rows."""


def judge_grid(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    """Judge an order on a loom at every point of a grid, as validations of these points would.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.
        across: The field that is varied along a row.
        along: The field that is varied from row to row.

    Raises:
        InputError: The points are too many for fields that act on one figure, at
            ``/along/points``; or a field decides how a figured design is woven, at its pointer.
    """
    construction = _woven(construction, loom, across, along)
    both_of_cloth = not (across.place.is_of_loom or along.place.is_of_loom)
    if across.place.is_of_loom != along.place.is_of_loom:
        return _product(construction, loom, across, along)
    try:
        if both_of_cloth and not _touch(across, along, _COUNTED):
            return _put_together(construction, loom, across, along)
    except ApartError:
        pass
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
    return _one_by_one(construction, loom, across, along)


def _woven(construction: Construction, loom: Loom, across: Axis, along: Axis) -> Construction:
    """Weave a figured design on the loom, once for all points."""
    if construction.design is None:
        return construction
    for name, axis in (("across", across), ("along", along)):
        if axis.place.pointer.startswith(_WEAVES_ANEW):
            message = say(
                "fault.window.figured_design",
                "A figured design is woven anew for each sett, number of panels and "
                "harness: vary other fields.",
            )
            raise InputError.of(f"/{name}/pointer", message, given=axis.place.pointer)
    with pointing_below("/loom"):
        return woven_on(construction, loom)


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
    )


def _judged(cloths: Sequence[Construction], looms: Sequence[Loom]) -> JudgedGrid:
    """Judge cloths, across, on looms, along; those that contradict themselves are not judged."""
    possible = [place for place, each in enumerate(looms) if _is_possible(each)]
    shape = (len(looms), len(cloths))
    verdicts = np.full(shape, NOT_JUDGED, np.int8)
    severities = np.zeros((*shape, len(comparisons())), np.int8)
    speeds, limited_by = np.full(shape, np.nan), np.full(shape, -1, np.int8)
    if possible:
        numbers = ("speed_picks_per_min", "limited_by")
        found = judge_columns(cloths, [looms[place] for place in possible], numbers=numbers)
        verdicts[possible] = found.verdicts.T
        severities[possible] = found.severities.transpose(1, 0, 2)
        speeds[possible] = found.numbers["speed_picks_per_min"].T
        limited_by[possible] = np.nan_to_num(found.numbers["limited_by"].T, nan=-1)
    return JudgedGrid(
        verdicts=verdicts,
        severities=severities,
        speeds_picks_per_min=speeds,
        limited_by=limited_by,
    )


def _is_possible(loom: Loom) -> bool:
    try:
        resolve_loom(loom)
    except InputError:
        return False
    return True


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
        is_read_alone=True,
    )


def _put_together(construction: Construction, loom: Loom, across: Axis, along: Axis) -> JudgedGrid:
    """Judge two fields of the cloth that act on figures of their own.

    Raises:
        ApartError: They do not.
    """
    park = park_columns((resolve_loom(loom),), at_least=1)
    rows = _Rows.read(construction, loom, across, along)
    shape = (len(along.values), len(across.values))
    points = shape[0] * shape[1]
    into = JudgedGrid(
        verdicts=np.full(points, NOT_JUDGED, np.int8),
        severities=np.zeros((points, len(comparisons())), np.int8),
        speeds_picks_per_min=np.full(points, np.nan),
        limited_by=np.full(points, -1, np.int8),
    )
    items = max(1, rows.base.stated.squares.items)
    with np.errstate(all="ignore"):
        for start in range(0, points, at_a_time := max(1, _ITEMS_AT_A_TIME // items)):
            some = np.arange(start, min(points, start + at_a_time))
            _judge_points(rows, park, some, into)
    return JudgedGrid(
        verdicts=into.verdicts.reshape(shape),
        severities=into.severities.reshape(*shape, -1),
        speeds_picks_per_min=into.speeds_picks_per_min.reshape(shape),
        limited_by=into.limited_by.reshape(shape),
    )


def _judge_points(
    rows: _Rows, park: ParkColumns, points: NDArray[np.intp], into: JudgedGrid
) -> None:
    usual = in_force().usual
    grid = _Points(rows, park, points)
    facts = cast("Facts[Floats]", grid)
    found = np.zeros((len(comparisons()), 1, points.size), np.int8)
    some = column_severities(facts, usual, SEVERITY_RANKS, found, grid)
    settle_columns([(each, grid) for each in some], usual, SEVERITY_RANKS[Severity.ERROR])
    cloth = grid.as_ordered
    endless = is_endless(
        total_ends=cloth.total_ends, reed_cm=cloth.reed_width_cm, warp_m=cloth.woven_warp_m
    )
    judged = np.ravel(np.asarray(facts.fit.is_judged) & ~np.asarray(endless)) & grid.is_read
    found *= judged
    verdicts = np.maximum(found[:, 0].max(axis=0) - np.int8(1), np.int8(0))
    into.verdicts[points] = np.where(judged, verdicts, NOT_JUDGED)
    into.severities[points] = found[:, 0].T
    into.speeds_picks_per_min[points] = np.where(judged, facts.fit.speed_picks_per_min, np.nan)
    into.limited_by[points] = np.where(judged, limiting_places(facts), -1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """Orders along both axes, each with the other field at its first value.

    Attributes:
        base: With both fields at their first value.
        across: Along the first axis; one that cannot be read is the base.
        along: Along the second.
        is_read: Which of them could be read, by axis.
        is_plain: Whether orders along an axis differ in a plain figure alone.
    """

    base: Row
    across: tuple[Row, ...]
    along: tuple[Row, ...]
    is_read: tuple[NDArray[np.bool_], NDArray[np.bool_]]
    is_plain: tuple[bool, bool]

    @classmethod
    def read(cls, construction: Construction, loom: Loom, across: Axis, along: Axis) -> _Rows:
        """Read the orders, and hold them against two further points.

        Raises:
            ApartError: The fields act on one figure.
        """

        def stated(order: Construction, axis: Axis, value: float) -> Construction:
            return with_values(order, loom, [(axis.place.pointer, value)])[0]

        xs, ys = across.values, along.values
        first_x, first_y = stated(construction, across, xs[0]), stated(construction, along, ys[0])
        try:
            base = _row(stated(first_x, along, ys[0]), None)
        except InputError:
            raise ApartError from None
        of_x = [_row_or_none(stated(first_y, across, x), _kept(across, base)) for x in xs]
        of_y = [_row_or_none(stated(first_x, along, y), _kept(along, base)) for y in ys]
        found = cls(
            base=base,
            across=tuple(row or base for row in of_x),
            along=tuple(row or base for row in of_y),
            is_read=(
                np.array([row is not None for row in of_x]),
                np.array([row is not None for row in of_y]),
            ),
            is_plain=(_kept(across, base) is not None, _kept(along, base) is not None),
        )
        if any(row.symbols.assumed != base.symbols.assumed for row in found.rows):
            raise ApartError
        for i, j in ((len(xs) - 1, len(ys) - 1), (len(xs) // 2, len(ys) // 2)):
            read = stated(stated(construction, across, xs[i]), along, ys[j])
            found.hold_against(_row_or_none(read, None), i, j)
        return found

    @property
    def rows(self) -> tuple[Row, ...]:
        """All of them."""
        return (*self.across, *self.along)

    def hold_against(self, row: Row | None, i: int, j: int) -> None:
        """Compare what is put together at a point with what is read there."""
        if row is None or not (self.is_read[0][i] and self.is_read[1][j]):
            return
        at = np.array([j * len(self.across) + i])
        for part in (_stated, _order):
            if not _is_alike(self.spread(part, at), part(row)):
                raise ApartError

    def moved(self, moves: Moves) -> _Rows:
        """Return the orders with other values assumed.

        Raises:
            ApartError: The values contradict one of them.
        """
        base = self.base.moved(moves)
        if base is None:
            raise ApartError
        across, along = (
            tuple(_moved(row, moves, base if is_plain else None) for row in rows)
            for rows, is_plain in zip((self.across, self.along), self.is_plain, strict=True)
        )
        return replace(self, base=base, across=across, along=along)

    def spread(
        self,
        part: Callable[[Row], Any],
        points: NDArray[np.intp],
        moved: Any = None,
    ) -> Any:
        """Put a record of the orders together for points of the grid.

        Args:
            part: Takes it from an order.
            points: Which points, row by row.
            moved: That of the base with other values assumed, which hold at every point.

        Raises:
            ApartError: A figure depends on both fields, or on one and on what is moved.
        """
        along, across = np.divmod(points, len(self.across))
        base = part(self.base)
        return _spread(
            base,
            base if moved is None else moved,
            [part(row) for row in self.across],
            [part(row) for row in self.along],
            across,
            along,
        )


def _kept(axis: Axis, base: Row) -> Row | None:
    """Return the order from which others along an axis take what they have in common with it."""
    return base if axis.place.pointer in _PLAIN else None


def _row_or_none(construction: Construction, like: Row | None) -> Row | None:
    try:
        return _row(construction, like)
    except InputError:
        return None


def _row(construction: Construction, like: Row | None) -> Row:
    """Read an order; one that differs from another in a plain figure takes the rest from it.

    Raises:
        InputError: It cannot be read.
    """
    if like is None:
        unkept = Ledger(CONSTRUCTION, keeps=False)
        symbols = cloth_symbols(construction, unkept, unkept)
        weave = weave_counts(symbols.structure, symbols.layered_weave)
        return Row(0, symbols, symbols.stated(), order_numbers(symbols), weave)
    refuse_impossible(construction)
    return _alike(like, construction)


def _alike(like: Row, construction: Construction) -> Row:
    symbols = replace(like.symbols, construction=construction)
    before, order = like.symbols.construction, like.order
    is_as_fast = construction.requested_speed_picks_per_min == before.requested_speed_picks_per_min
    if symbols.layers is not None or not is_as_fast:
        order = order_numbers_like(symbols, order)
    stated = replace(
        like.stated,
        ends_per_cm=construction.warp.threads_per_cm,
        picks_per_cm=construction.weft.threads_per_cm,
        width_cm=construction.width_cm,
    )
    return replace(like, symbols=symbols, stated=stated, requested=order)


def _moved(row: Row, moves: Moves, like: Row | None) -> Row:
    """Return an order with other values assumed.

    Args:
        row: The order.
        moves: The values.
        like: A moved order from which it differs in a plain figure alone, if there is one.

    Raises:
        ApartError: The values contradict the order.
    """
    found = row.moved(moves) if like is None else _alike(like, row.symbols.construction)
    if found is None:
        raise ApartError
    return found


def _spread(
    base: Any,
    moved: Any,
    across: Sequence[Any],
    along: Sequence[Any],
    at_across: NDArray[np.intp],
    at_along: NDArray[np.intp],
) -> Any:
    given = (at_across, at_along)
    if isinstance(base, bool | float | int):
        varies = [values.count(base) < len(values) for values in (across, along)]
        if sum((*varies, moved != base)) > 1:
            raise ApartError
        kind = np.bool_ if isinstance(base, bool) else np.float64
        for is_varied, values, at in zip(varies, (across, along), given, strict=True):
            if is_varied:
                column: NDArray[Any] = np.array(values, kind)[at]
                return column
        return np.array([moved], kind)
    shared = moved is base and all(each is base for each in (*across, *along))
    if shared and isinstance(base, Record):
        return columns_of([base], shape=(-1,))
    if isinstance(base, Lists):
        return _in_rows(base, [moved, *across, *along], at_across.size)
    if isinstance(base, Record):
        kind_of: Any = type(base)
        names, members_of = _members(kind_of)
        parts = (
            zip(*map(members_of, some), strict=True) for some in ([base, moved], across, along)
        )
        spread = (
            _spread(one, other, of_across, of_along, *given)
            for (one, other), of_across, of_along in zip(*parts, strict=True)
        )
        return kind_of(**dict(zip(names, spread, strict=True)))
    if shared:
        return base if not isinstance(base, tuple) else _columns_of_each(base)
    if isinstance(base, tuple):
        if any(len(each) != len(base) for each in (moved, *across, *along)):
            raise ApartError
        return tuple(
            _spread(
                base[place],
                moved[place],
                [each[place] for each in across],
                [each[place] for each in along],
                *given,
            )
            for place in range(len(base))
        )
    if any(each != base for each in (moved, *across, *along)):
        raise ApartError
    return base


@cache
def _members(kind: Any) -> tuple[tuple[str, ...], Callable[[Any], tuple[Any, ...]]]:
    """Return the names of the fields of a record, and what takes all of them from one."""
    names = tuple(each.name for each in fields(kind))
    return names, attrgetter(*names)


def _columns_of_each(records: tuple[Record[float], ...]) -> tuple[Any, ...]:
    return tuple([columns_of([record], shape=(-1,)) for record in records])


def _in_rows(base: Lists, others: Sequence[Lists], rows: int) -> Lists:
    """Give every row of a column the same list."""
    for other in others:
        if other is not base and not _is_alike(other, base):
            raise ApartError
    return Lists(
        figures={name: np.tile(figures, rows) for name, figures in base.figures.items()},
        lengths=np.full(rows, base.items),
    )


def _is_alike(spread: Any, read: Any) -> bool:
    """Whether a record of columns of one row says what a record of numbers does."""
    if isinstance(read, Lists):
        return all(
            np.array_equal(figures, spread.figures[name]) for name, figures in read.figures.items()
        )
    if isinstance(read, Record):
        names = [each.name for each in fields(cast("Any", read))]
        return all(_is_alike(getattr(spread, name), getattr(read, name)) for name in names)
    if isinstance(read, tuple):
        return len(spread) == len(read) and all(map(_is_alike, spread, read))
    if isinstance(read, bool | float | int):
        return bool(np.all(spread == read))
    return bool(spread == read)


class _Points(FactsOnUse):
    """Points of a grid as facts of which each part is computed when it is read.

    It is also what computes them again with other values assumed.
    """

    def __init__(
        self,
        rows: _Rows,
        park: ParkColumns,
        points: NDArray[np.intp],
        moved: tuple[Moves, Row, Floats] | None = None,
    ) -> None:
        (column,) = park.columns
        super().__init__(column)
        self._rows, self._park, self._points = rows, park, points
        self._moved = moved
        self._rows_moved: _Rows | None = None
        self._known: dict[Moves, tuple[Facts[Floats], NDArray[np.bool_]]] = {}

    @property
    def is_read(self) -> NDArray[np.bool_]:
        """Which points could be read."""
        along, across = np.divmod(self._points, len(self._rows.across))
        return self._rows.is_read[0][across] & self._rows.is_read[1][along]

    def rest_on(self, moves: Moves) -> NDArray[np.bool_]:
        """Return whether a value that is moved is assumed: of one loom in one row."""
        of_order = not moves.ends.keys().isdisjoint(self._rows.base.symbols.assumed)
        return self._column.rest_on(moves) | of_order

    def moved(
        self, moves: Moves, orders: NDArray[np.intp]
    ) -> tuple[Facts[Floats], NDArray[np.bool_]]:
        """Return the numbers of some points, and where they cannot be computed."""
        if moves not in self._known:
            base = self._rows.base.moved(moves)
            park = moved_park(self._park, moves)
            estimate = np.broadcast_to(
                np.ravel(self.cloth.estimated_weft_crimp_pct), self._points.size
            )
            moved = (moves, base or self._rows.base, estimate[orders])
            points = _Points(self._rows, park.park, self._points[orders], moved)
            kept = park.kept[0] | (base is None)
            self._known[moves] = cast("Facts[Floats]", points), kept
        return self._known[moves]

    @cached_property
    def _stated(self) -> StatedCloth[Floats]:
        found: StatedCloth[Floats] = self._spread(_stated)
        return found

    def _spread(self, part: Callable[[Row], Any]) -> Any:
        """Put a record together; if what is moved acts on a varied figure, from moved orders."""
        if self._moved is None:
            return self._rows.spread(part, self._points)
        moves, base, _ = self._moved
        try:
            return self._rows.spread(part, self._points, part(base))
        except ApartError:
            return self._moved_rows(moves).spread(part, self._points)

    def _moved_rows(self, moves: Moves) -> _Rows:
        if self._rows_moved is None:
            self._rows_moved = self._rows.moved(moves)
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
        if not self._rows.base.symbols.states_reed:
            return moved
        return in_stated_reed(self.order, moved, moves)

    @cached_property
    def order(self) -> OrderNumbers[Floats]:
        """What the order requests."""
        found: OrderNumbers[Floats] = self._spread(_order)
        return found

    def _counts(self) -> WeaveCounts[Floats]:
        found: WeaveCounts[Floats] = self._rows.spread(_weave, self._points)
        return found

    def _drawn(self) -> DrawnNumbers[Floats]:
        base = self._rows.base if self._moved is None else self._moved[1]
        cloth = replace(
            self.cloth,
            ground_ends=self._full(self.cloth.ground_ends),
            total_ends=self._full(self.cloth.total_ends),
            reed_width_cm=self._full(self.cloth.reed_width_cm),
        )
        return draw_in_alike(base.symbols, cloth, self._park.shedding_motions)

    def _full(self, number: Floats) -> Floats:
        return np.broadcast_to(np.ravel(number), self._points.size)


def _stated(row: Row) -> StatedCloth[float]:
    return row.stated


def _order(row: Row) -> OrderNumbers[float]:
    return row.order


def _weave(row: Row) -> WeaveCounts[float]:
    return row.weave
