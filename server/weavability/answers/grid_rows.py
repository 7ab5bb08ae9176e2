"""Orders along both axes of a grid, and the records of all its points put together from these.

A figure that differs along one axis is a column of that axis alone, (1, n) across and (n, 1) along,
so that what follows from one field is computed once for a row or column of the grid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from functools import cache
from operator import attrgetter
from typing import Any, Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from weavability.answers.moved_columns import Row
from weavability.answers.stated_values import Place, with_values
from weavability.checks.facts import weave_counts
from weavability.looms.loom import Loom
from weavability.looms.order_numbers import OrderNumbers, order_numbers, order_numbers_like
from weavability.textiles.assumptions import Ledger, Moves
from weavability.textiles.cloth_bounds import refuse_impossible
from weavability.textiles.cloth_numbers import StatedCloth
from weavability.textiles.cloth_symbols import CONSTRUCTION, ClothSymbols, cloth_symbols
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import Lists, Record, changed, columns_of

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


@dataclass(frozen=True, slots=True, kw_only=True)
class GridRows:
    """Orders along both axes, each with the other field at its first value.

    Attributes:
        base: With both fields at their first value.
        across: Along the first axis; one that cannot be read is the base.
        along: Along the second.
        is_read: Which of them could be read, by axis.
        is_plain: Whether orders along an axis differ in a plain figure alone.
        grids: Records of all points, in columns, by what takes them from an order.
    """

    base: Row
    across: tuple[Row, ...]
    along: tuple[Row, ...]
    is_read: tuple[NDArray[np.bool_], NDArray[np.bool_]]
    is_plain: tuple[bool, bool]
    grids: dict[Callable[[Row], Any], Any] = field(default_factory=dict)

    @classmethod
    def read(cls, construction: Construction, loom: Loom, across: Axis, along: Axis) -> GridRows:
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
        at = np.array([j]), np.array([i])
        for part in (stated_of_row, order_of_row):
            if not _is_alike(self.spread(part, at), part(row)):
                raise ApartError

    def moved(self, moves: Moves) -> GridRows:
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
        return replace(self, base=base, across=across, along=along, grids={})

    def spread(self, part: Callable[[Row], Any], at: At, moved: Any = None) -> Any:
        """Put a record of the orders together for points of the grid.

        Args:
            part: Takes it from an order.
            at: Which points.
            moved: That of the base with other values assumed, which hold at every point.

        Raises:
            ApartError: A figure depends on both fields, or on one and on what is moved.
        """
        base = part(self.base)
        if part not in self.grids:
            parts = [part(row) for row in self.rows]
            is_one = all(each is base for each in parts)
            columns = columns_of([base] if is_one else parts, shape=(-1,))
            self.grids[part] = _apart(columns, base, len(self.across))
        return _taken(self.grids[part], at, base, base if moved is None else moved)


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
    refuse_impossible(construction, like.symbols.construction)
    return _alike(replace(like.symbols, construction=construction), like)


def _alike(symbols: ClothSymbols, like: Row) -> Row:
    """Return an order with all but its plain figures from another."""
    construction, before, order = symbols.construction, like.symbols.construction, like.order
    is_as_fast = construction.requested_speed_picks_per_min == before.requested_speed_picks_per_min
    if like.symbols.layers is not None or not is_as_fast:
        order = order_numbers_like(replace(like.symbols, construction=construction), order)
    stated = changed(
        like.stated,
        ends_per_cm=construction.warp.threads_per_cm,
        picks_per_cm=construction.weft.threads_per_cm,
        width_cm=construction.width_cm,
    )
    return Row(like.place, symbols, stated, order, like.weave)


def _moved(row: Row, moves: Moves, like: Row | None) -> Row:
    """Return an order with other values assumed.

    Args:
        row: The order.
        moves: The values.
        like: A moved order from which it differs in a plain figure alone, if there is one.

    Raises:
        ApartError: The values contradict the order.
    """
    found = row.moved(moves) if like is None else _alike(row.symbols, like)
    if found is None:
        raise ApartError
    return found


def _apart(column: Any, base: Any, across: int) -> Any:
    """Give each column of both axes, one after the other, the direction of the one it varies along.

    Raises:
        ApartError: It varies along both.
    """
    if isinstance(base, Record):
        kind: Any = type(base)
        names, members = _members(kind)
        of = zip(members(column), members(base), strict=True)
        return kind(**dict(zip(names, [_apart(*each, across) for each in of], strict=True)))
    if isinstance(base, tuple) and len(column) == len(base):
        return tuple(_apart(*each, across) for each in zip(column, base, strict=True))
    if isinstance(base, bool | float | int):
        of_x, of_y = column[:across], column[across:]
        if column.size == 1 or (of_y == base).all():
            return of_x.reshape(1, -1)
        if (of_x == base).all():
            return of_y.reshape(-1, 1)
    elif column is base or (base.is_like(column) if isinstance(base, Lists) else column == base):
        return base
    raise ApartError


def _taken(grid: Any, at: At, base: Any, moved: Any) -> Any:
    """Take some points of a grid, with what is moved at every point.

    Raises:
        ApartError: What is moved varies over the grid, or is no figure.
    """
    if isinstance(grid, Record):
        kind: Any = type(base)
        names, members = _members(kind)
        of = zip(members(grid), members(base), members(moved), strict=True)
        return kind(**dict(zip(names, [_taken(one, at, *two) for one, *two in of], strict=True)))
    if isinstance(grid, tuple) and len(moved) == len(base):
        return tuple(_taken(one, at, *two) for one, *two in zip(grid, base, moved, strict=True))
    if isinstance(grid, np.ndarray):
        if moved is base or moved == base:
            rows, columns = grid.shape
            taken = grid if columns == 1 else grid[:, at[1]]
            return taken if rows == 1 else taken[at[0]]
        if grid.size == 1:
            return np.array([[moved]], grid.dtype)
    elif moved is base or (base.is_like(moved) if isinstance(base, Lists) else moved == base):
        return grid
    raise ApartError


@cache
def _members(kind: Any) -> tuple[tuple[str, ...], Callable[[Any], tuple[Any, ...]]]:
    """Return the names of the fields of a record, and what takes all of them from one."""
    names = tuple(each.name for each in fields(kind))
    return names, attrgetter(*names)


def _is_alike(spread: Any, read: Any) -> bool:
    """Return whether a record of columns of one row says what a record of numbers does."""
    if isinstance(read, Lists):
        return read.is_like(spread)
    if isinstance(read, Record):
        kind: Any = type(read)
        _, members = _members(kind)
        return all(map(_is_alike, members(spread), members(read)))
    if isinstance(read, tuple):
        return len(spread) == len(read) and all(map(_is_alike, spread, read))
    if isinstance(read, bool | float | int):
        return bool(spread.item() == read)
    return bool(spread == read)
