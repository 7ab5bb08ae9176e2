"""Arithmetic and comparisons that read alike for one number and for a column of numbers.

Rules and formulas are written once, with operators and the helpers below, and serve both a float
and a NumPy column. Every helper is defined for every input, because both sides of a choice are
always computed.

The three comparisons :func:`passed`, :func:`reached` and :func:`short` decide every verdict. They
alone allow for rounding.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache, cached_property
from operator import attrgetter
from typing import Any, Final, Generic, TypeAlias, TypeVar, cast, overload

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
"""A column of numbers."""

Truth: TypeAlias = bool | NDArray[np.bool_]
"""Yes or no, or a column of them; combine with ``&``, ``|`` and :func:`no`."""

N = TypeVar("N", float, Floats)
"""A float or a column; columns broadcast as NumPy does."""

SLACK: Final = 1e-9
"""Relative allowance of every comparison, so that rounding does not decide a verdict."""

_ARRAY: Final = np.ndarray
"""Choices test for this very type: of floats that takes two thirds of the time of ``isinstance``,
and there are thousands for one pair."""

_ABOVE: Final = 1 + SLACK
_BELOW: Final = 1 - SLACK


def passed(actual: N, limit: N | float) -> Truth:
    """Return whether a value is above a greatest one by more than rounding.

    >>> passed(100.0, 100.0), passed(100.0 + 1e-8, 100.0), passed(100.0 + 1e-6, 100.0)
    (False, False, True)
    """
    return actual > limit * _ABOVE


def reached(actual: N, limit: N | float) -> Truth:
    """Return whether a value is at a limit or above it, rounding forgiven.

    >>> reached(100.0, 100.0), reached(100.0 - 1e-8, 100.0), reached(100.0 - 1e-6, 100.0)
    (True, True, False)
    """
    return actual >= limit * _BELOW


def short(actual: N, limit: N | float) -> Truth:
    """Return whether a value is below a least one by more than rounding.

    >>> short(100.0, 100.0), short(100.0 - 1e-8, 100.0), short(100.0 - 1e-6, 100.0)
    (False, False, True)
    """
    return actual < limit * _BELOW


def no(truth: Truth) -> Truth:
    """Negate; ``~`` would turn the bool ``True`` into the number -2, which is true."""
    return ~truth if type(truth) is _ARRAY else not truth


def anywhere(truth: Truth) -> bool:
    """Return whether it is true of the number, or of any row: for iterations, not for rules."""
    return bool(truth.any()) if type(truth) is _ARRAY else bool(truth)


@overload
def either(truth: Truth, this: Floats, other: Floats | float) -> Floats: ...
@overload
def either(truth: Truth, this: float, other: Floats) -> Floats: ...
@overload
def either(truth: Truth, this: float, other: float) -> float: ...
def either(truth: Truth, this: Any, other: Any) -> Any:
    """Choose ``this`` where it is true, else ``other``."""
    if type(truth) is _ARRAY:
        return np.where(truth, this, other)
    return this if truth else other


@overload
def least(one: Floats, other: Floats | float) -> Floats: ...
@overload
def least(one: float, other: Floats) -> Floats: ...
@overload
def least(one: float, other: float) -> float: ...
def least(one: Any, other: Any) -> Any:
    """Return the lesser of two, element by element."""
    if type(one) is _ARRAY or type(other) is _ARRAY:
        return np.minimum(one, other)
    return one if one <= other else other


@overload
def greatest(one: Floats, other: Floats | float) -> Floats: ...
@overload
def greatest(one: float, other: Floats) -> Floats: ...
@overload
def greatest(one: float, other: float) -> float: ...
def greatest(one: Any, other: Any) -> Any:
    """Return the greater of two, element by element."""
    if type(one) is _ARRAY or type(other) is _ARRAY:
        return np.maximum(one, other)
    return one if one >= other else other


def whole(number: N) -> N:
    """Round to the nearest whole number, halves to the even one; infinity stays."""
    if isinstance(number, _ARRAY):
        return np.rint(number)
    return float(round(number)) if math.isfinite(number) else number


def up(number: N) -> N:
    """Round up to a whole number; infinity stays."""
    if isinstance(number, _ARRAY):
        return np.ceil(number)
    return float(math.ceil(number)) if math.isfinite(number) else number


def down(number: N) -> N:
    """Round down to a whole number; infinity stays."""
    if isinstance(number, _ARRAY):
        return np.floor(number)
    return float(math.floor(number)) if math.isfinite(number) else number


def root(number: N) -> N:
    """Return the square root of a number of 0 or more."""
    if isinstance(number, _ARRAY):
        return np.sqrt(number)
    return math.sqrt(number)


@overload
def quotient(dividend: Floats, divisor: Floats | float) -> Floats: ...
@overload
def quotient(dividend: float, divisor: Floats) -> Floats: ...
@overload
def quotient(dividend: float, divisor: float) -> float: ...
def quotient(dividend: Any, divisor: Any) -> Any:
    """Divide; infinite where the divisor is 0."""
    if isinstance(divisor, _ARRAY):
        with np.errstate(all="ignore"):
            return np.where(np.equal(divisor, 0.0), math.inf, np.divide(dividend, divisor))
    if divisor:
        return dividend / divisor
    return np.full_like(dividend, math.inf) if isinstance(dividend, _ARRAY) else math.inf


def taken(numbers: Floats, place: N) -> N:
    """Return the one of some numbers that is at a place, which is a whole number."""
    if isinstance(place, _ARRAY):
        return numbers[place.astype(np.intp)]
    return float(numbers[int(place)])


def first_alike(rows: NDArray[Any]) -> NDArray[np.intp]:
    """Return for each row of a matrix the place of the first one that is alike.

    A row of bytes is looked up; sorting ten thousand takes several times as long.
    """
    whole = np.dtype((np.void, rows.shape[1] * rows.itemsize))
    keys = cast("list[bytes]", np.ascontiguousarray(rows).view(whole).ravel().tolist())
    first: dict[bytes, int] = {}
    return np.array([*map(first.setdefault, keys, range(len(keys)))], np.intp)


@dataclass(frozen=True)
class Steps:
    """Rising numbers that are looked up by place, for a float and for a column.

    Attributes:
        values: The numbers.
    """

    values: tuple[float, ...]

    @cached_property
    def column(self) -> Floats:
        """The same as an array; one pair alone does not need it."""
        return np.array(self.values, dtype=np.float64)

    def below(self, number: N) -> N:
        """Return how many of them are less than a number."""
        if isinstance(number, _ARRAY):
            return np.searchsorted(self.column, number).astype(np.float64)
        return bisect_left(self.values, number)

    def up_to(self, number: N) -> N:
        """Return how many of them are a number or less."""
        if isinstance(number, _ARRAY):
            return np.searchsorted(self.column, number, side="right").astype(np.float64)
        return bisect_right(self.values, number)

    def at(self, place: N) -> N:
        """Return the one at a place, which is a whole number."""
        if isinstance(place, _ARRAY):
            return self.column[place.astype(np.intp)]
        return self.values[int(place)]

    @property
    def last(self) -> Any:
        """The place of the greatest, a number or a column."""
        return float(len(self.values) - 1)


@dataclass(frozen=True)
class StepsByKey(Steps):
    """Several tables of rising numbers in one column, in which each row has its own.

    Key and number together are looked up among all of them at once, as complex numbers: those
    are ordered by their real part, and then by their imaginary one.

    Attributes:
        values: The numbers of all tables, one table after the other.
        key: Which table each row has.
        start: The place at which the table of each row begins.
        end: The place of its last number.
    """

    key: Floats = field(compare=False)
    start: Floats = field(compare=False)
    end: Floats = field(compare=False)
    keyed: NDArray[np.complex128] = field(compare=False, repr=False)

    @classmethod
    def of(cls, tables: Sequence[Steps], *, shape: tuple[int, ...]) -> StepsByKey:
        """Put tables, one a row, into a column; those that are equal are kept once."""
        distinct = {table: key for key, table in enumerate(dict.fromkeys(tables))}
        length = np.array([len(table.values) for table in distinct], np.float64)
        end = np.cumsum(length)
        row = np.array([distinct[table] for table in tables])
        values = tuple(value for table in distinct for value in table.values)
        return cls(
            values,
            key=row.astype(np.float64).reshape(shape),
            start=(end - length)[row].reshape(shape),
            end=(end - 1)[row].reshape(shape),
            keyed=_keyed(np.repeat(np.arange(len(length)), length.astype(np.intp)), values),
        )

    def below(self, number: N) -> Any:
        """Return how many numbers of each row's table are less than a number."""
        return np.searchsorted(self.keyed, _keyed(self.key, number)) - self.start

    def up_to(self, number: N) -> Any:
        """Return how many numbers of each row's table are a number or less."""
        return np.searchsorted(self.keyed, _keyed(self.key, number), side="right") - self.start

    def at(self, place: N) -> Any:
        """Return the number at a place of each row's table."""
        return self.column[(self.start + place).astype(np.intp)]

    @property
    def last(self) -> Any:
        """The place of the greatest number of each row's table."""
        return self.end - self.start


def _keyed(key: Any, number: Any) -> NDArray[np.complex128]:
    """Join key and number; a product with 1j would turn infinity into NaN."""
    joined = np.empty(np.broadcast_shapes(np.shape(key), np.shape(number)), np.complex128)
    joined.real, joined.imag = key, number
    return joined


VARIOUS: Final = object()
"""A symbol in which the rows of a column differ; no formula can branch on it."""


class Record(Generic[N]):
    """A record of numbers and truths, or of columns of them; what else is in it, a column shares.

    Records are not frozen, because they are made for every pair.
    """

    __slots__ = ()


T = TypeVar("T")


def on_use(kind: type[T]) -> type[T]:
    """Let each property of a class be computed when it is first read, and then keep its value.

    It decorates classes that have the numbers of a record for a rule that reads few of them. The
    type checker sees properties: a ``cached_property`` of a generic class has no type for it, and
    holds a lock.
    """
    for name, each in list(vars(kind).items()):
        if isinstance(each, property) and each.fget is not None:
            setattr(kind, name, _Kept(name, each.fget))
    return kind


@dataclass(frozen=True, slots=True)
class _Kept:
    """What computes a number, until the object has it under its name."""

    name: str
    compute: Callable[[Any], Any]

    def __get__(self, owner: Any, _: Any) -> Any:
        value = vars(owner)[self.name] = self.compute(owner)
        return value


R = TypeVar("R", bound=Record[Any])


def changed(record: R, **changes: Any) -> R:
    """Return a record with some other numbers, like ``replace``, which takes twice as long.

    The numbers of a record without slots are copied together, which takes a tenth of that.
    """
    kind: Any = type(record)
    made: R = object.__new__(kind)
    if hasattr(record, "__dict__"):
        made.__dict__ = vars(record) | changes
        return made
    for name in _names(kind):
        setattr(made, name, changes[name] if name in changes else getattr(record, name))
    return made


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lists:
    """A list of figures that goes with a number or a whole column, or a list with each row of one.

    Most rows have none, and few have many, so that unlike lists of a column are kept end to end.

    Attributes:
        figures: By name, of every item of every list.
        lengths: Items of each row's list; ``None`` of one list, of whose items a column of numbers
            has a last axis.
    """

    figures: Mapping[str, Floats]
    lengths: NDArray[np.intp] | None = None

    @property
    def items(self) -> int:
        """Items of all lists."""
        return len(next(iter(self.figures.values())))

    @classmethod
    def end_to_end(cls, lists: Sequence[Lists], *, in_rows: bool) -> Lists:
        """Put lists with the same figures together, as one list or as one for each row."""
        lengths = np.array([each.items for each in lists], dtype=np.intp) if in_rows else None
        return cls(
            figures={
                name: np.concatenate([each.figures[name] for each in lists])
                for name in lists[0].figures
            },
            lengths=lengths,
        )

    def is_like(self, other: Lists) -> bool:
        """Return whether others are the same figures."""
        return other is self or (
            self.lengths is other.lengths
            and all(
                np.array_equal(each, other.figures[name]) for name, each in self.figures.items()
            )
        )

    def along(self, number: N) -> Floats:
        """Return a number, or each row of a column, once for every item of its list."""
        if self.lengths is None:
            if isinstance(number, _ARRAY):
                return number[..., np.newaxis]
            return np.full(self.items, number)
        return np.repeat(np.broadcast_to(number, len(self.lengths)), self.lengths)

    def greatest(self, values: Floats, *, like: N) -> N:
        """Return the greatest value of each list; 0 of an empty one.

        Args:
            values: Of every item, 0 or more.
            like: A number or column; the result is the same.
        """
        if self.lengths is None:
            if isinstance(like, _ARRAY):
                of_all: N = values.max(axis=-1, initial=0.0) + 0 * like
                return of_all
            most: float = values.max(initial=0.0).item()
            return most + 0 * like
        filled = self.lengths > 0
        of_rows: Any = np.zeros(len(self.lengths))
        of_rows[filled] = np.maximum.reduceat(
            values, (np.cumsum(self.lengths) - self.lengths)[filled]
        )
        found: N = of_rows + 0 * like
        return found


def columns_of(records: Sequence[Record[float]], *, shape: tuple[int, ...]) -> Any:
    """Put records of numbers of one class together into one record of columns of that class.

    A figure that all of them share is kept once, in a column of one row, which goes with any
    other; so is a table that all share, while unlike tables are looked up by key. Where a record
    has fewer slots than others, such as yarns, those that it lacks have ``present`` false. A symbol
    in which they differ is :data:`VARIOUS`.

    Args:
        records: At least one, each of numbers.
        shape: Shape of a column, -1 for its rows.
    """
    kind: Any = type(records[0])
    return kind(**{name: _column([*map(read, records)], shape) for name, read in _readers(kind)})


class ColumnsOnUse:
    """Columns of records, each put together when it is first read.

    Args:
        records: Of one kind; they may compute their numbers on use as well.
        shape: As in :func:`columns_of`.
    """

    def __init__(self, records: Sequence[Any], *, shape: tuple[int, ...]) -> None:
        self._records, self._shape = records, shape

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        column = _column([getattr(record, name) for record in self._records], self._shape)
        vars(self)[name] = column
        return column


def _column(values: list[Any], shape: tuple[int, ...]) -> Any:
    first = values[0]
    if isinstance(first, float | int):
        is_shared = first == values[-1] and values.count(first) == len(values)
        kind = np.bool_ if isinstance(first, bool) else np.float64
        return np.array(values[:1] if is_shared else values, kind).reshape(shape)
    if isinstance(first, Record | tuple):
        return _column_of_records(values, shape)
    if isinstance(first, Lists):
        is_one = all(map(first.is_like, values))
        return first if is_one else Lists.end_to_end(values, in_rows=True)
    if all(value == first for value in values):
        return first
    return StepsByKey.of(values, shape=shape) if isinstance(first, Steps) else VARIOUS


def _column_of_records(values: list[Any], shape: tuple[int, ...]) -> Any:
    """Put records together, or tuples of them; those of which many rows share a few are read once.

    What is remembered of a yarn or a weave is one object in all orders that have it.
    """
    if len(values) == 1:
        return _together(values, shape)
    place = {id(value): value for value in values}
    distinct = [*place.values()]
    if len(distinct) == 1:
        return _together(distinct, shape)
    if len(distinct) * _SHARED_BY > len(values) or not all(map(_is_flat, distinct)):
        return _together(values, shape)
    at = {key: index for index, key in enumerate(place)}
    which = np.array([at[id(value)] for value in values], np.intp)
    return _taken(_together(distinct, (-1,)), which, shape)


_SHARED_BY: Final = 4
"""Rows that share a record on average, from which on it is read once."""


def _together(values: list[Any], shape: tuple[int, ...]) -> Any:
    if isinstance(values[0], Record):
        return columns_of(values, shape=shape)
    longest = max(values, key=len)
    return tuple(
        columns_of([_slot(value, at, longest) for value in values], shape=shape)
        for at in range(len(longest))
    )


def _is_flat(value: Any) -> bool:
    """Return whether a record holds only numbers, records of them, and what all rows share."""
    if isinstance(value, Record):
        kind: Any = type(value)
        return all(_is_flat(read(value)) for _, read in _readers(kind))
    if isinstance(value, tuple):
        return all(map(_is_flat, value))
    return not isinstance(value, Lists | Steps)


def _taken(column: Any, which: NDArray[np.intp], shape: tuple[int, ...]) -> Any:
    """Take rows of a column of numbers, or of records of them."""
    if isinstance(column, Record):
        kind: Any = type(column)
        return kind(**{n: _taken(read(column), which, shape) for n, read in _readers(kind)})
    if isinstance(column, tuple):
        return tuple(_taken(each, which, shape) for each in column)
    if isinstance(column, _ARRAY):
        return (column if len(column) == 1 else column[which]).reshape(shape)
    return column


def _slot(records: tuple[Any, ...], at: int, longest: tuple[Any, ...]) -> Any:
    return records[at] if at < len(records) else replace((records or longest)[0], present=False)


def rows_of(columns: Record[Floats], rows: int) -> list[Any]:
    """Take a record of columns apart into one of numbers for each row: undo :func:`columns_of`."""
    kind: Any = type(columns)
    names = _names(kind)
    taken = [_rows(getattr(columns, name), rows) for name in names]
    return [kind(**dict(zip(names, row, strict=True))) for row in zip(*taken, strict=True)]


def _rows(column: Any, rows: int) -> list[Any]:
    if isinstance(column, Record):
        return rows_of(column, rows)
    if isinstance(column, tuple) and column:
        return list(zip(*(_rows(each, rows) for each in column), strict=True))
    if isinstance(column, _ARRAY | np.generic):
        one_axis = np.ravel(column)
        found: list[Any] = np.broadcast_to(one_axis, rows).tolist()
        return found
    return [column] * rows


@cache
def _readers(kind: Any) -> tuple[tuple[str, Callable[[Any], Any]], ...]:
    return tuple((name, attrgetter(name)) for name in _names(kind))


@cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(each.name for each in fields(kind))
