"""Orders along both axes of a grid, and the records of all its points put together from these."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from itertools import repeat
from operator import attrgetter
from typing import Any, Final, NamedTuple, cast

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
from weavability.textiles.cloth_symbols import CONSTRUCTION, cloth_symbols
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import Lists, Record, columns_of

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
    """

    base: Row
    across: tuple[Row, ...]
    along: tuple[Row, ...]
    is_read: tuple[NDArray[np.bool_], NDArray[np.bool_]]
    is_plain: tuple[bool, bool]

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
        first = np.zeros(1, np.intp)
        for part in (stated_of_row, order_of_row):
            base, of_x, of_y = map(part, (self.base, self.across[i], self.along[j]))
            if not _is_alike(_spread(base, base, [of_x], [of_y], first, first), part(row)):
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
            _unlike(base, [part(row) for row in self.across]),
            _unlike(base, [part(row) for row in self.along]),
            across,
            along,
        )


def _unlike(base: Any, parts: list[Any]) -> list[Any]:
    """Return the parts of the orders along an axis; none if all of them are that of the base."""
    return [] if all(part is base for part in parts) else parts


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
    return _alike(replace(like, symbols=replace(like.symbols, construction=construction)), like)


def _alike(row: Row, like: Row) -> Row:
    """Return an order with all but its plain figures from another."""
    construction, before, order = row.symbols.construction, like.symbols.construction, like.order
    is_as_fast = construction.requested_speed_picks_per_min == before.requested_speed_picks_per_min
    if like.symbols.layers is not None or not is_as_fast:
        order = order_numbers_like(replace(like.symbols, construction=construction), order)
    stated = replace(
        like.stated,
        ends_per_cm=construction.warp.threads_per_cm,
        picks_per_cm=construction.weft.threads_per_cm,
        width_cm=construction.width_cm,
    )
    return Row(like.place, row.symbols, stated, order, like.weave)


def _moved(row: Row, moves: Moves, like: Row | None) -> Row:
    """Return an order with other values assumed.

    Args:
        row: The order.
        moves: The values.
        like: A moved order from which it differs in a plain figure alone, if there is one.

    Raises:
        ApartError: The values contradict the order.
    """
    found = row.moved(moves) if like is None else _alike(row, like)
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
        none: Any = repeat(())
        parts = (
            zip(*map(members_of, some), strict=True) if some else none
            for some in ([base, moved], across, along)
        )
        spread = (
            _spread(one, other, of_across, of_along, *given)
            for (one, other), of_across, of_along in zip(*parts, strict=False)
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
    """Return whether a record of columns of one row says what a record of numbers does."""
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
