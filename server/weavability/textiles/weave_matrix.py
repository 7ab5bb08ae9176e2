"""The weave: which warp end lies over which pick, and its true repeat.

A weave is a matrix ``M[pick, end]`` of 0 and 1; 1 means that the warp end is raised over the pick.
Row 0 is the first pick (the bottom line of point paper), column 0 the first end (at the left).
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import cached_property
from itertools import count
from typing import Any, Final, Literal, cast

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import say

Matrix = NDArray[np.uint8]
Counts = NDArray[np.int64]
MAX_SIDE: Final = 12_000
"""Most ends, and most picks, of a weave that is accepted."""

BEFORE_MAKING: ContextVar[Callable[[int], None] | None] = ContextVar("before_making", default=None)
"""Called with the number of crossings before a stated design is made; it may raise."""

MAX_FAULTS_LISTED: Final = 10
_BLOCK_CELLS: Final = 1 << 20
_TURNED_ROWS: Final = 128
_DIGESTED_FROM, _DIGEST_BYTES = 256, 32
_FEW_PICKS: Final = 64
"""Of so few, columns are packed at once."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weave:
    """A weave repeat.

    Attributes:
        matrix: ``uint8`` array of shape (picks, ends), 1 where the warp end is raised; read-only.
        name: The canonical notation; ``""`` for a weave without one.
        has_edges: Whether its ends are a cloth from edge to edge, so that the last of them is no
            neighbour to the first.
        stripes: The weaves that lie side by side in it, and the ends of each, the first beginning
            at the first end; empty unless it was made of stripes.

    Raises:
        InputError: The matrix is empty, has more than ``MAX_SIDE`` picks or ends, or holds
            anything but 0 and 1.

    Two weaves are equal when their matrices and edges are, whatever they are called:

    >>> Weave.from_rows(["10", "01"], name="plain") == Weave.from_rows(["10", "01"])
    True
    """

    matrix: Matrix
    name: str = ""
    has_edges: bool = False
    stripes: tuple[tuple[Weave, int], ...] = ()

    def __post_init__(self) -> None:
        _check_size(self.matrix.shape)
        if int(self.matrix.max()) > 1:
            raise InputError.of(
                "",
                say("fault.weave.not_a_crossing", "A crossing is 1 (warp end raised) or 0."),
                allowed=[0, 1],
            )
        take = np.array if self.matrix.flags.writeable else np.asarray
        owned = take(self.matrix, dtype=np.uint8, order="C")
        owned.setflags(write=False)
        object.__setattr__(self, "matrix", owned)

    @classmethod
    def from_rows(cls, rows: Sequence[str], *, name: str = "") -> Weave:
        """Read a weave from one string a pick, the first pick first.

        Args:
            rows: Strings of ``1`` (warp end raised) and ``0``, all of one length.
            name: Canonical notation, if there is one.

        Raises:
            InputError: At ``/rows`` or ``/rows/<index>``, for every row that cannot be read (at
                most ten are listed).

        >>> Weave.from_rows(["110", "011", "101"]).ends
        3
        """
        return cls(matrix=read_rows(rows, pointer="/rows"), name=name)

    @property
    def picks(self) -> int:
        """Picks of the matrix."""
        return int(self.matrix.shape[0])

    @property
    def ends(self) -> int:
        """Ends of the matrix."""
        return int(self.matrix.shape[1])

    @property
    def rows(self) -> tuple[str, ...]:
        """The matrix as strings, the first pick first: the inverse of ``from_rows``."""
        return write_rows(self.matrix)

    def reduced(self) -> Weave:
        """Return the true smallest repeat.

        >>> Weave.from_rows(["1010", "0101"]).reduced().rows
        ('10', '01')
        """
        return Repeat.of(self).weave

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Weave):
            return NotImplemented
        return self.has_edges == other.has_edges and np.array_equal(self.matrix, other.matrix)

    def __hash__(self) -> int:
        return hash((self.matrix.shape, np.packbits(self.matrix).tobytes(), self.has_edges))


@dataclass(frozen=True, kw_only=True, eq=False)
class Repeat:
    """The true smallest repeat of a weave, with its rows and columns classified.

    Classifying them dominates the cost of a large weave: build one ``Repeat`` and pass it to both
    analysis and drafting.

    Attributes:
        weave: The weave, cut to its repeat.
        end_kinds: For every end the number of its column, by first appearance, from 0.
        pick_kinds: For every pick the number of its row, likewise.
        up_per_end: For every end, the picks that it lies over.
        up_per_pick: For every pick, the ends that lie over it.
    """

    weave: Weave
    end_kinds: NDArray[np.intp] = field(repr=False)
    pick_kinds: NDArray[np.intp] = field(repr=False)
    up_per_end: Counts = field(repr=False)
    up_per_pick: Counts = field(repr=False)

    @classmethod
    def of(cls, weave: Weave | Repeat) -> Repeat:
        """Read a weave; what is read already is returned as it is.

        >>> Repeat.of(Weave.from_rows(["110110", "001001"])).end_kinds
        array([0, 0, 1])
        """
        if isinstance(weave, Repeat):
            return weave
        end_kinds, up_per_end = _kinds_and_ones(weave.matrix, axis=1)
        pick_kinds, up_per_pick = _kinds_and_ones(weave.matrix, axis=0)
        picks, ends = smallest_period(pick_kinds), smallest_period(end_kinds)
        return cls(
            weave=_cut(weave, picks=picks, ends=ends),
            end_kinds=end_kinds[:ends],
            pick_kinds=pick_kinds[:picks],
            up_per_end=up_per_end[:ends] // (weave.picks // picks),
            up_per_pick=up_per_pick[:picks] // (weave.ends // ends),
        )

    @property
    def shafts_needed(self) -> int:
        """Ends that weave differently."""
        return int(self.end_kinds.max()) + 1

    @property
    def lift_swing(self) -> float:
        """Greatest less least share of the ends raised on a pick, 0 to 1."""
        return float(np.ptp(self.up_per_pick)) / self.weave.ends

    @cached_property
    def picks_per_shed(self) -> float:
        """Picks after one another that lie in the same shed, at least.

        >>> Repeat.of(Weave.from_rows(["1010", "1010", "0101", "0101"])).picks_per_shed
        2.0
        """
        kinds = self.pick_kinds
        changes = np.flatnonzero(kinds != turned(kinds, 1))
        if not len(changes):
            return 1.0
        following = np.concatenate((changes[1:], changes[:1] + len(kinds)))
        return float((following - changes).min())


def about_to_make(*, ends: int, picks: int) -> None:
    """Announce a stated design, so that who bounds the work can refuse it before it is made."""
    announced = BEFORE_MAKING.get()
    if announced is not None:
        announced(ends * picks)


def read_rows(rows: Sequence[str], *, pointer: str) -> Matrix:
    """Read strings of ``1`` and ``0`` of one length into a matrix, one row a string.

    Args:
        rows: The strings.
        pointer: JSON Pointer of the list, for errors.

    Raises:
        InputError: For every row that cannot be read, at most ten.
    """
    if not rows or not rows[0]:
        raise InputError.of(
            pointer,
            say("fault.weave.no_row", "Give at least one row of 1 and 0."),
            allowed=["10", "01"],
        )
    if len(rows) > MAX_SIDE or len(rows[0]) > MAX_SIDE:
        raise _too_large(pointer, (len(rows), len(rows[0])))
    about_to_make(ends=len(rows[0]), picks=len(rows))
    # Whatever is not ASCII becomes a question mark, which is no crossing either.
    text = "".join(rows).encode("ascii", "replace")
    cells = np.frombuffer(text, dtype=np.uint8) - np.uint8(ord("0"))
    cells.setflags(write=False)  # so that a weave of them needs no copy
    if {*map(len, rows)} != {len(rows[0])} or cells.max(initial=0) > 1:
        raise InputError(_row_faults(rows, pointer))
    return cells.reshape(len(rows), len(rows[0]))


def write_rows(matrix: Matrix) -> tuple[str, ...]:
    """Write a matrix of 0 and 1 as one string a row.

    >>> write_rows(np.eye(2, dtype=np.uint8))
    ('10', '01')
    """
    text = (matrix + np.uint8(ord("0"))).tobytes().decode("ascii")
    width = matrix.shape[1]
    return tuple(text[start : start + width] for start in range(0, len(text), width))


def distinct_lines(matrix: Matrix, *, axis: Literal[0, 1]) -> NDArray[np.intp]:
    """Return a number for every row (axis 0) or column (axis 1): equal lines have equal numbers.

    Lines are numbered by first appearance, from 0.

    Args:
        matrix: Of shape (picks, ends), 0 and 1.
        axis: 0 for the rows, 1 for the columns.

    >>> distinct_lines(np.array([[1, 1, 0, 0]], dtype=np.uint8), axis=1)
    array([0, 0, 1, 1])
    """
    return number_lines(packed_lines(matrix, axis=axis))


def packed_lines(matrix: Matrix, *, axis: Literal[0, 1]) -> Matrix:
    """Pack every row (axis 0) or column (axis 1) of a matrix into bits.

    Args:
        matrix: Of shape (picks, ends), 0 and 1.
        axis: 0 for the rows, 1 for the columns.

    Returns:
        ``uint8`` array, one line a row, eight crossings a byte.
    """
    if axis == 0:
        return np.packbits(matrix, axis=1)
    if len(matrix) <= _FEW_PICKS:
        return np.packbits(transposed(matrix), axis=1)
    packed = np.empty((matrix.shape[1], -(-len(matrix) // 8)), dtype=np.uint8)
    for rows in row_blocks(matrix):
        bits = _packed_down(matrix[rows])
        packed[:, rows.start // 8 : rows.start // 8 + len(bits)] = bits.T
    return packed


def _packed_down(matrix: Matrix) -> Matrix:
    """Pack every column into bits, eight crossings a byte; a column stays a column."""
    bits = np.zeros((-(-len(matrix) // 8), matrix.shape[1]), dtype=np.uint8)
    for first in range(8):
        bits += bits
        some = matrix[first::8]
        bits[: len(some)] |= some
    return bits


def number_lines(packed: Matrix) -> NDArray[np.intp]:
    """Return a number for every packed line, by first appearance, from 0."""
    names = list(_names_of(packed))
    unlike = dict.fromkeys(names)
    if len(unlike) == len(names):
        return np.arange(len(names))
    number_of = dict(zip(unlike, count(), strict=False))
    return np.array([number_of[name] for name in names], dtype=np.intp)


def _names_of(packed: Matrix) -> Iterable[bytes]:
    """Return what two packed lines share only if they are equal: of long ones digests."""
    length = packed.shape[1]
    if length > _DIGESTED_FROM:
        return (hashlib.blake2b(line.data, digest_size=_DIGEST_BYTES).digest() for line in packed)
    # A row of bytes is one name.
    return cast("list[bytes]", packed.view(np.dtype((np.void, length))).ravel().tolist())


def _kinds_and_ones(matrix: Matrix, *, axis: Literal[0, 1]) -> tuple[NDArray[np.intp], Counts]:
    """Return the number of every line, and how many ones it has."""
    packed = packed_lines(matrix, axis=axis)
    return number_lines(packed), ones_per_line(packed)


def smallest_period(numbers: NDArray[np.intp]) -> int:
    """Return the smallest divisor of the length after which a sequence of numbers repeats.

    >>> smallest_period(np.array([0, 1, 0, 1]))
    2
    """
    period, listed = len(numbers), numbers.tolist()
    for prime in _prime_factors(period):
        shorter = period // prime
        while period % prime == 0 and listed[: period - shorter] == listed[shorter:period]:
            period, shorter = shorter, shorter // prime
    return period


def _cut(weave: Weave, *, picks: int, ends: int) -> Weave:
    """Cut a weave to its first picks and ends; a weave that is no larger is returned as it is."""
    if weave.matrix.shape == (picks, ends):
        return weave
    has_edges = weave.has_edges and weave.ends == ends
    return Weave(matrix=weave.matrix[:picks, :ends], name=weave.name, has_edges=has_edges)


def _check_size(shape: tuple[int, ...]) -> None:
    """Refuse a matrix that is not two-dimensional, is empty or is too large."""
    if len(shape) != 2 or 0 in shape:
        raise InputError.of(
            "",
            say("fault.weave.empty", "A weave has at least one pick and one end."),
            given=list(shape),
        )
    if max(shape) > MAX_SIDE:
        raise _too_large("", shape)


def _too_large(pointer: str, shape: Sequence[int]) -> InputError:
    """Make the error for a matrix over the limit."""
    return InputError.of(
        pointer,
        say(
            "fault.weave.too_large",
            "The weave is too large: at most {most_picks} picks and {most_ends} ends.",
            most_picks=MAX_SIDE,
            most_ends=MAX_SIDE,
        ),
        given=list(shape),
        allowed=f"1 to {MAX_SIDE} picks and 1 to {MAX_SIDE} ends",
    )


def _row_faults(rows: Sequence[str], pointer: str) -> list[Fault]:
    """Find the first rows that differ in length from row 0 or hold other characters."""
    width = len(rows[0])
    faults: list[Fault] = []
    for index, row in enumerate(rows):
        if len(row) != width:
            threads = (
                say("part.one_thread", "1 thread")
                if len(row) == 1
                else say("part.threads", "{threads} threads", threads=len(row))
            )
            message = say(
                "fault.weave.unequal_rows",
                "Row {row} has {threads}; the first row has {first_row_threads}.",
                row=index + 1,
                threads=threads,
                first_row_threads=width,
            )
            faults.append(Fault(f"{pointer}/{index}", message, len(row), width))
        elif row.count("0") + row.count("1") != width:
            message = say(
                "fault.weave.row_characters",
                "Row {row} holds something other than 1 (up) and 0 (down).",
                row=index + 1,
            )
            faults.append(Fault(f"{pointer}/{index}", message, row[:80], "1 and 0 only"))
        if len(faults) == MAX_FAULTS_LISTED:
            break
    return faults


def turned(lines: NDArray[Any], by: int) -> NDArray[Any]:
    """Return lines moved on by some places, the last before the first: ``np.roll``, but for few."""
    return np.concatenate((lines[-by:], lines[:-by]))


def ones_per_line(packed: Matrix) -> Counts:
    """Count the ones of every packed line."""
    counts: Counts = np.bitwise_count(packed).sum(axis=1, dtype=np.uint32).astype(np.int64)
    return counts


def _prime_factors(number: int) -> list[int]:
    """Return the different primes that divide ``number``."""
    primes = []
    for candidate in range(2, math.isqrt(number) + 1):
        if number % candidate == 0:
            primes.append(candidate)
            while number % candidate == 0:
                number //= candidate
    return primes + [number] * (number > 1)


def transposed(matrix: Matrix) -> Matrix:
    """Return the matrix with rows and columns exchanged.

    A block of rows at a time: what is read stays in the cache until whole lines of it are written.
    """
    turned = np.empty(matrix.shape[::-1], dtype=np.uint8)
    for first in range(0, len(matrix), _TURNED_ROWS):
        rows = slice(first, first + _TURNED_ROWS)
        turned[:, rows] = matrix[rows].T
    return turned


def row_blocks(matrix: Matrix) -> list[slice]:
    """Return slices of the rows that bound the memory of what is computed from them.

    A block is a multiple of eight rows, so that its columns pack into whole bytes.
    """
    rows = max(8, _BLOCK_CELLS // matrix.shape[1] // 8 * 8)
    return [slice(first, first + rows) for first in range(0, len(matrix), rows)]
