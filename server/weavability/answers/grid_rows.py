"""Orders along both axes of a grid, and the records of all its points put together from these.

A figure that differs along one axis is a column of that axis alone, (1, n) across and (n, 1) along,
so that what follows from one field is computed once for a row or column of the grid.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache, partial
from operator import attrgetter
from types import MappingProxyType
from typing import Any, Final, NamedTuple, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from weavability.answers.moved_columns import Row
from weavability.answers.stated_values import Place, with_values
from weavability.checks.facts import weave_counts
from weavability.checks.registry import comparisons
from weavability.looms.finished_figures import FinishedFigures, figures_over, required_numbers
from weavability.looms.loom import Loom
from weavability.looms.order_numbers import OrderNumbers, order_numbers, order_without_figures
from weavability.textiles.assumptions import Ledger, Moves
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.cloth_numbers import StatedCloth
from weavability.textiles.cloth_symbols import CONSTRUCTION, cloth_symbols
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import Floats, Lists, Record, changed, columns_of
from weavability.textiles.required_values import (
    RequiredNumbers,
    required_of,
)

_SPEED: Final = "/construction/requested_speed_picks_per_min"
_PLAIN: Final[Mapping[str, str]] = MappingProxyType(
    {
        "/construction/warp/ends_per_cm": "ends_per_cm",
        "/construction/weft/picks_per_cm": "picks_per_cm",
        "/construction/width_cm": "width_cm",
        _SPEED: "requested_speed_picks_per_min",
    }
)
"""Figures on which nothing depends that is settled before anything is computed, by their pointers:
the name of each in the record that has it."""


class Axis(NamedTuple):
    """A field that is varied, and its values."""

    place: Place
    values: tuple[float, ...]


At: TypeAlias = tuple[NDArray[np.intp], NDArray[np.intp]]
"""Points of a grid: some of its rows along and some of its columns across."""


class ApartError(ValueError):
    """Both fields act on one figure, so that the points cannot be put together from two rows."""


def stated_of_row(row: Row) -> StatedCloth[float]:
    """Return the cloth that an order states."""
    return row.stated


def order_of_row(row: Row) -> OrderNumbers[float]:
    """Return what an order requests of any loom."""
    return row.order


def _order_without_figures(row: Row) -> OrderNumbers[float]:
    found = row.order
    return changed(found, requirements=()) if found.requirements else found


def is_plain(axis: Axis, construction: Construction) -> bool:
    """Return whether orders along an axis differ in one figure alone, so that none is read."""
    pointer = axis.place.metric_pointer
    # The pile of layers is as high as their setts leave it.
    return pointer in _PLAIN and (construction.layers is None or pointer == _SPEED)


class _Orders(Protocol):
    """Orders along an axis, with the other field at its value of the base."""

    @property
    def is_read(self) -> NDArray[np.bool_]:
        """Which of them could be read."""

    @property
    def unlike(self) -> Sequence[frozenset[str]]:
        """What bears on a verdict and is assumed of each but not of the base, or the reverse."""

    def columns(self, part: Callable[[Row], Any], base: Row) -> Any:
        """Return a record of theirs in columns; what is that of the base need be in none.

        Args:
            part: Takes it from an order.
            base: The order at which both axes cross.
        """

    def moved(self, moves: Moves, some: NDArray[np.intp]) -> _Orders:
        """Return some of them with other values assumed.

        Raises:
            ApartError: The values contradict one of them.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class _PlainOrders:
    """Orders that differ from the base in a plain figure alone, so that none of them is read.

    Attributes:
        name: Of the figure, in the record that has it.
        values: The figure of each.
        is_read: Which of them a cloth can have.
    """

    name: str
    values: Floats
    is_read: NDArray[np.bool_]

    @property
    def unlike(self) -> Sequence[frozenset[str]]:
        return (frozenset[str](),) * len(self.values)

    @classmethod
    def of(cls, axis: Axis) -> _PlainOrders:
        pointer = axis.place.metric_pointer
        values = [axis.place.in_metric(value) for value in axis.values]
        bounds = CONSTRUCTION_BOUNDS[pointer.removeprefix(CONSTRUCTION)]
        return cls(
            name=_PLAIN[pointer],
            values=np.array(values),
            is_read=np.array([value in bounds for value in values]),
        )

    def columns(self, part: Callable[[Row], Any], base: Row) -> Any:
        record = part(base)
        return changed(record, **{self.name: self.values}) if hasattr(record, self.name) else record

    def moved(self, _: Moves, some: NDArray[np.intp]) -> _PlainOrders:
        return replace(self, values=self.values[some], is_read=self.is_read[some])


@dataclass(frozen=True, slots=True, kw_only=True)
class _ReadOrders:
    """Orders that are read one by one.

    Attributes:
        rows: The orders; one that cannot be read is the base.
        is_read: Which of them could be read.
        unlike: What is assumed of each otherwise than of the base.
    """

    rows: tuple[Row, ...]
    is_read: NDArray[np.bool_]
    unlike: tuple[frozenset[str], ...]

    @classmethod
    def of(cls, orders: Iterable[Construction], base: Row, *, with_figures: bool) -> _ReadOrders:
        found = [_row_or_none(order, base, with_figures=with_figures) for order in orders]
        return cls(
            rows=tuple(row or base for row in found),
            is_read=np.array([row is not None for row in found]),
            unlike=tuple(_assumed_otherwise(row or base, base) for row in found),
        )

    def columns(self, part: Callable[[Row], Any], base: Row) -> Any:
        parts, record = [part(row) for row in self.rows], part(base)
        is_one = all(each is record for each in parts)
        return record if is_one else columns_of(parts, shape=(-1,))

    def moved(self, moves: Moves, some: NDArray[np.intp]) -> _ReadOrders:
        rows = tuple(_moved(self.rows[place], moves) for place in some.tolist())
        unlike = tuple(self.unlike[place] for place in some.tolist())
        return _ReadOrders(rows=rows, is_read=self.is_read[some], unlike=unlike)


@dataclass(frozen=True, slots=True, kw_only=True)
class GridRows:
    """Orders along both axes, each with the other field at its value of the base.

    Attributes:
        base: With both fields at their first value, or at their last if that is no order.
        across: Along the first axis.
        along: Along the second.
        lacks_figures: Whether all orders but the base were read without the figures of the finished
            cloth that they require, which are computed in columns along a sett or the width.
        grids: Records of all points, in columns, by what takes them from an order.
    """

    base: Row
    across: _Orders
    along: _Orders
    lacks_figures: bool = False
    grids: dict[Callable[[Row], Any], Any] = field(default_factory=dict)

    @classmethod
    def read(cls, construction: Construction, loom: Loom, across: Axis, along: Axis) -> GridRows:
        """Read the orders, and hold them against further points.

        Raises:
            ApartError: The fields act on one figure.
        """

        def stated(order: Construction, axis: Axis, value: float) -> Construction:
            return with_values(order, loom, [(axis.place.pointer, value)])[0]

        xs, ys = across.values, along.values
        # A limit that is required may contradict another at one end.
        for x, y in ((xs[0], ys[0]), (xs[-1], ys[-1])):
            first_x, first_y = stated(construction, across, x), stated(construction, along, y)
            order = stated(first_x, along, y)
            in_columns = order.requirements is not None and any(
                is_plain(a, order) and not _is_speed(a) for a in (across, along)
            )
            base = _row_or_none(order)
            if base is not None:
                break
        else:
            raise ApartError

        def orders_along(axis: Axis, beside: Construction) -> _Orders:
            if is_plain(axis, beside):
                return _PlainOrders.of(axis)
            orders = (stated(beside, axis, value) for value in axis.values)
            return _ReadOrders.of(orders, base, with_figures=not in_columns)

        found = cls(
            base=base,
            across=orders_along(across, first_y),
            along=orders_along(along, first_x),
            lacks_figures=in_columns,
        )
        if not _any_of(found.across.unlike).isdisjoint(_any_of(found.along.unlike)):
            raise ApartError
        other_end = (len(xs) - 1, len(ys) - 1) if x == xs[0] else (0, 0)
        for i, j in (other_end, (len(xs) // 2, len(ys) // 2)):
            read = stated(stated(construction, across, xs[i]), along, ys[j])
            found.hold_against(_row_or_none(read, base), i, j)
        return found

    def hold_against(self, row: Row | None, i: int, j: int) -> None:
        """Compare what is put together at a point with what is read there."""
        if row is None or not (self.across.is_read[i] and self.along.is_read[j]):
            return
        if _assumed_otherwise(row, self.base) != self.across.unlike[i] | self.along.unlike[j]:
            raise ApartError
        for part in (stated_of_row, order_of_row):
            if not _is_alike(self._grid(part), part(row), (j, i)):
                raise ApartError

    def rest_on(self, moves: Moves, at: At) -> NDArray[np.bool_]:
        """Return the points, or one for all, at which a value that is moved is assumed."""
        down, over = at
        found = np.zeros((1, 1), np.bool_)
        for pointer in moves.ends:
            (of_x, of_y) = (
                np.array([pointer in each for each in axis.unlike])
                for axis in (self.across, self.along)
            )
            unlike = of_y[down, np.newaxis] if of_y.any() else of_x[over] if of_x.any() else False
            found = found | (unlike ^ (pointer in self.base.symbols.assumed))
        return found

    def is_unlike(self, moves: Moves) -> bool:
        """Return whether a value that is moved is assumed at some points and not at others."""
        unlike = _any_of(self.across.unlike) | _any_of(self.along.unlike)
        return not moves.ends.keys().isdisjoint(unlike)

    def moved(self, moves: Moves, at: At) -> GridRows:
        """Return the orders of some points with other values assumed.

        Raises:
            ApartError: The values contradict one of them.
        """
        down, over = at
        return GridRows(
            base=_moved(self.base, moves),
            across=self.across.moved(moves, over),
            along=self.along.moved(moves, down),
        )

    def spread(self, part: Callable[[Row], Any], at: At | None = None, moved: Any = None) -> Any:
        """Put a record of the orders together for points of the grid.

        Args:
            part: Takes it from an order.
            at: Which points; ``None`` for all.
            moved: That of the base with other values assumed, which hold at every point.

        Raises:
            ApartError: A figure depends on both fields, or on one and on what is moved.
        """
        base, whole = part(self.base), (self.along.is_read.size, self.across.is_read.size)
        some = None if at is None or (at[0].size, at[1].size) == whole else at
        return _taken(self._grid(part), some, base, base if moved is None else moved)

    def _grid(self, part: Callable[[Row], Any]) -> Any:
        if part not in self.grids:
            lacks_figures = part is order_of_row and self.lacks_figures
            taken = _order_without_figures if lacks_figures else part
            of_x, of_y = (each.columns(taken, self.base) for each in (self.across, self.along))
            crossed = _crossed(of_x, of_y, taken(self.base))
            if lacks_figures:
                crossed = changed(crossed, requirements=self._requirements())
            self.grids[part] = crossed
        return self.grids[part]

    def _requirements(self) -> tuple[RequiredNumbers[Floats], ...]:
        """Return what is required at every point, with what is computed of it."""
        if isinstance(self.across, _ReadOrders):
            return _required_of_rows(self.across.rows, self.along, axis=1)
        if isinstance(self.along, _ReadOrders):
            return _required_of_rows(self.along.rows, self.across, axis=0)
        figures = figures_over(self.base.symbols, self._grid(stated_of_row))
        return tuple(_required(_as_grid, [one]) for one in required_numbers(figures))


def _required_of_rows(
    rows: Sequence[Row], beside: _Orders, *, axis: int
) -> tuple[RequiredNumbers[Floats], ...]:
    """Return what is required at every point, of orders that were read along one axis.

    Args:
        rows: The orders.
        beside: Those along the other axis, of which none was read.
        axis: Along which axis of the grid the rows are set side by side.
    """
    last: FinishedFigures[Floats] | None = None
    found = []
    for row in rows:
        last = figures_over(row.symbols, beside.columns(stated_of_row, row), last)
        found.append(required_numbers(last))
    return tuple(
        _required(partial(_side_by_side, axis=axis, points=beside.is_read.size), slot)
        for slot in zip(*found, strict=True)
    )


def _as_grid(columns: Sequence[Any]) -> Floats:
    (column,) = columns
    return np.array(column, ndmin=2)


def _side_by_side(columns: Sequence[Floats], *, axis: int, points: int) -> Floats:
    return np.stack([np.broadcast_to(each, points) for each in columns], axis=axis)


def _required(
    put: Callable[[Sequence[Any]], Floats], slot: Sequence[RequiredNumbers[Floats]]
) -> RequiredNumbers[Floats]:
    """Put the numbers of one figure of several rows together."""
    kind: Any = RequiredNumbers
    names, members = _members(kind)
    columns = zip(*map(members, slot), strict=True)
    made: RequiredNumbers[Floats] = kind(**dict(zip(names, map(put, columns), strict=True)))
    return made


def _is_speed(axis: Axis) -> bool:
    return axis.place.metric_pointer == _SPEED


def _row_or_none(
    construction: Construction, like: Row | None = None, *, with_figures: bool = True
) -> Row | None:
    try:
        return _row(construction, like, with_figures=with_figures)
    except InputError:
        return None


def _assumed_otherwise(row: Row, base: Row) -> frozenset[str]:
    """Return what bears on a verdict and is assumed of one of two orders alone."""
    if row.symbols.assumed is base.symbols.assumed:
        return _NOTHING
    return (row.symbols.assumed ^ base.symbols.assumed) & _bearing()


_NOTHING: Final = frozenset[str]()
_LAST_DIGITS: Final = 1e-12


@cache
def _bearing() -> frozenset[str]:
    """Return the pointers of assumed values on which an error of a check may rest."""
    return frozenset(at for made in comparisons() for one in made for at in one.moves.ends)


def _any_of(sets: Sequence[frozenset[str]]) -> frozenset[str]:
    return _NOTHING.union(*sets)


def _row(construction: Construction, like: Row | None, *, with_figures: bool) -> Row:
    """Read an order; what it has in common with another is taken from that one.

    Args:
        construction: The order.
        like: The other.
        with_figures: Whether to compute what the order requires of the finished cloth; else it is
            only read.

    Raises:
        InputError: It cannot be read.
    """
    unkept = Ledger(CONSTRUCTION, keeps=False)
    other = None if like is None else like.symbols
    symbols = cloth_symbols(construction, unkept, unkept, other)
    woven = symbols.structure, symbols.layered_weave
    is_alike = other is not None and woven == (other.structure, other.layered_weave)
    weave = like.weave if like is not None and is_alike else weave_counts(*woven)
    if with_figures:
        return Row(0, symbols, symbols.stated(), order_numbers(symbols, other), weave)
    required_of(construction.requirements)
    return Row(0, symbols, symbols.stated(), order_without_figures(symbols), weave)


def _moved(row: Row, moves: Moves) -> Row:
    """Return an order with other values assumed.

    Raises:
        ApartError: The values contradict the order.
    """
    found = row.moved(moves)
    if found is None:
        raise ApartError
    return found


def _crossed(across: Any, along: Any, base: Any) -> Any:
    """Give each column of both axes the direction of the one along which it varies.

    Args:
        across: A record of the orders across, in columns or as the base has it.
        along: That of the orders along.
        base: That of the base.

    Raises:
        ApartError: A figure varies along both.
    """
    if isinstance(base, Record):
        kind: Any = type(base)
        names, members = _members(kind)
        of = zip(members(across), members(along), members(base), strict=True)
        return kind(**dict(zip(names, [_crossed(*each) for each in of], strict=True)))
    if isinstance(base, tuple) and len(across) == len(along) == len(base):
        return tuple(map(_crossed, across, along, base))
    if isinstance(base, bool | float | int):
        if _is_alone(along, base):
            dtype = np.bool_ if isinstance(base, bool) else np.float64
            return np.array(across, dtype, ndmin=2)
        if _is_alone(across, base):
            return along.reshape(-1, 1)
    elif _is_same(across, base) and _is_same(along, base):
        return base
    raise ApartError


def _is_alone(column: Any, base: Any) -> bool:
    """Return whether a figure of all orders along an axis is that of the base."""
    return column is base or bool((column == base).all())


def _is_same(other: Any, base: Any) -> bool:
    """Return whether what is no figure is that of the base."""
    return bool(
        other is base or (base.is_like(other) if isinstance(base, Lists) else other == base)
    )


def _taken(grid: Any, at: At | None, base: Any, moved: Any) -> Any:
    """Take some points of a grid, or all of them, with what is moved at every point.

    Raises:
        ApartError: What is moved varies over the grid, or is no figure.
    """
    if at is None and moved is base:
        return grid
    if isinstance(grid, Record):
        kind: Any = type(base)
        names, members = _members(kind)
        of = zip(members(grid), members(base), members(moved), strict=True)
        return kind(**dict(zip(names, [_taken(one, at, *two) for one, *two in of], strict=True)))
    if isinstance(grid, tuple) and len(moved) == len(base):
        return tuple(_taken(one, at, *two) for one, *two in zip(grid, base, moved, strict=True))
    if isinstance(grid, np.ndarray):
        if moved is base or moved == base:
            if at is None:
                return grid
            rows, columns = grid.shape
            taken = grid if columns == 1 else grid[:, at[1]]
            return taken if rows == 1 else taken[at[0]]
        if grid.size == 1:
            return np.array([[moved]], grid.dtype)
    elif _is_same(moved, base):
        return grid
    raise ApartError


@cache
def _members(kind: Any) -> tuple[tuple[str, ...], Callable[[Any], tuple[Any, ...]]]:
    """Return the names of the fields of a record, and what takes all of them from one."""
    names = tuple(each.name for each in fields(kind))
    return names, attrgetter(*names)


def _is_alike(grid: Any, read: Any, at: tuple[int, int]) -> bool:
    """Return whether a record of a grid says at a point what one that is read there does."""
    if isinstance(read, Lists):
        return read.is_like(grid)
    if isinstance(read, Record):
        kind: Any = type(read)
        _, members = _members(kind)
        return all(_is_alike(*each, at) for each in zip(members(grid), members(read), strict=True))
    if isinstance(read, tuple):
        return len(grid) == len(read) and all(
            _is_alike(*each, at) for each in zip(grid, read, strict=True)
        )
    if isinstance(read, bool | float | int):
        row, column = at[0] if len(grid) > 1 else 0, at[1] if grid.shape[1] > 1 else 0
        # What is computed in columns may differ from a float in its last digit.
        return math.isclose(grid[row, column], read, rel_tol=_LAST_DIGITS)
    return bool(grid == read)
