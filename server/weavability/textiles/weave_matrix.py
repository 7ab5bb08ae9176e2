"""The weave: which warp end lies over which pick, and everything that follows from it.

A weave is a matrix ``M[pick, end]`` of 0 and 1; 1 means that the warp end is raised over the pick.
Row 0 is the first pick (the bottom line of point paper), column 0 the first end (at the left).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.errors import Fault, InputError

Matrix = NDArray[np.uint8]
Counts = NDArray[np.int64]
Face = Literal["balanced", "warp", "weft"]

MAX_SIDE: Final = 12_000
"""Most ends, and most picks, of a weave that is accepted."""

MAX_LAYERS_LISTED: Final = 64
"""Most layers whose threads are listed; ``layer_count`` always has the true number."""

MAX_CELLS_COMPARED: Final = 4_194_304
"""Most crossings of a repeat that ``equivalent`` compares at every shift."""

MAX_FAULTS_LISTED: Final = 10
_BLOCK_CELLS: Final = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weave:
    """A weave repeat.

    Attributes:
        matrix: ``uint8`` array of shape (picks, ends), 1 where the warp end is raised; read-only.
        name: The canonical notation, or ``""`` where the weave has none.

    Raises:
        InputError: When the matrix is empty, larger than ``MAX_SIDE`` either way, or holds
            anything but 0 and 1.

    Two weaves are equal when their matrices are, whatever they are called:

    >>> Weave.from_rows(["10", "01"], name="plain") == Weave.from_rows(["10", "01"])
    True
    """

    matrix: Matrix
    name: str = ""

    def __post_init__(self) -> None:
        _check_size(self.matrix.shape)
        if int(self.matrix.max()) > 1:
            raise InputError.of("", "A crossing is 1 (warp end raised) or 0.", allowed=[0, 1])
        take = np.array if self.matrix.flags.writeable else np.asarray
        owned = take(self.matrix, dtype=np.uint8, order="C")
        owned.setflags(write=False)
        object.__setattr__(self, "matrix", owned)

    @classmethod
    def from_rows(cls, rows: Sequence[str], *, name: str = "") -> Weave:
        """Read a weave from one string a pick, the first pick first.

        Args:
            rows: Strings of ``1`` (warp end raised) and ``0``, all of one length.
            name: Canonical notation, where there is one.

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
        return np.array_equal(self.matrix, other.matrix)

    def __hash__(self) -> int:
        return hash((self.matrix.shape, self.matrix.tobytes()))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Repeat:
    """The true smallest repeat of a weave, with all that one reading of its lines tells.

    Reading the lines is the dear part of a large weave: who analyses a weave and draws it in reads
    it once and hands this on in place of the weave.

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
        by_pick = packed_lines(weave.matrix, axis=0)
        by_end = packed_lines(weave.matrix, axis=1)
        pick_kinds, end_kinds = number_lines(by_pick), number_lines(by_end)
        picks, ends = smallest_period(pick_kinds), smallest_period(end_kinds)
        return cls(
            weave=_cut(weave, picks=picks, ends=ends),
            end_kinds=end_kinds[:ends],
            pick_kinds=pick_kinds[:picks],
            up_per_end=_bits(by_end[:ends]) // (weave.picks // picks),
            up_per_pick=_bits(by_pick[:picks]) // (weave.ends // ends),
        )

    @property
    def shafts_needed(self) -> int:
        """Ends that weave differently."""
        return int(self.end_kinds.max()) + 1

    @property
    def lift_swing(self) -> float:
        """Greatest less least share of the ends raised on a pick, 0 to 1."""
        return float(np.ptp(self.up_per_pick)) / self.weave.ends


class Layer(NamedTuple):
    """Threads that hold one another: a cloth of its own, or a single unbound thread.

    Attributes:
        ends: Its ends, 1-based.
        picks: Its picks, 1-based.
    """

    ends: tuple[int, ...]
    picks: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Structure:
    """What follows from the matrix of a weave.

    A float is the number of successive crossing threads that a thread passes on one side; both
    sides of the repeat's edge count as neighbours. A thread that never changes sides has no float:
    it is listed as loose.

    Attributes:
        ends: Ends of the true smallest repeat.
        picks: Picks of the true smallest repeat.
        shafts_needed: Ends that weave differently: the least shafts.
        distinct_picks: Picks that lift differently: the least treadles, or cards.
        warp_up_share: Share of crossings at which the warp is up, 0 to 1.
        face: Which system shows more on the face.
        interlacings_per_end: Changes of side of every end over the repeat.
        interlacings_per_pick: Changes of side of every pick over the repeat.
        mean_float_of_picks: Ends per interlacing along a pick (M1): crossings over interlacings.
            Where no pick interlaces, the ends of the repeat.
        mean_float_of_ends: Picks per interlacing along an end (M2), likewise.
        warp_face_float_picks: Longest float of an end on the face, in picks.
        warp_back_float_picks: Longest float of an end on the back, in picks.
        weft_face_float_ends: Longest float of a pick on the face, in ends.
        weft_back_float_ends: Longest float of a pick on the back, in ends.
        loose_ends: Ends that never interlace, 1-based.
        loose_picks: Picks that never interlace, 1-based.
        hangs_together: Whether the cloth is one cloth.
        layer_count: Parts that could be lifted off one another; 1 when it hangs together.
        layers: The parts from the top of the cloth down, at most ``MAX_LAYERS_LISTED``.
    """

    ends: int
    picks: int
    shafts_needed: int
    distinct_picks: int
    warp_up_share: float
    face: Face
    interlacings_per_end: Counts = field(repr=False)
    interlacings_per_pick: Counts = field(repr=False)
    mean_float_of_picks: float
    mean_float_of_ends: float
    warp_face_float_picks: int
    warp_back_float_picks: int
    weft_face_float_ends: int
    weft_back_float_ends: int
    loose_ends: tuple[int, ...]
    loose_picks: tuple[int, ...]
    hangs_together: bool
    layer_count: int
    layers: tuple[Layer, ...] = field(repr=False)

    @property
    def longest_warp_float_picks(self) -> int:
        """The longest float of any end, on either side."""
        return max(self.warp_face_float_picks, self.warp_back_float_picks)

    @property
    def longest_weft_float_ends(self) -> int:
        """The longest float of any pick, on either side."""
        return max(self.weft_face_float_ends, self.weft_back_float_ends)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatLengths:
    """The four longest floats as lengths in the cloth, in mm."""

    warp_face_mm: float
    warp_back_mm: float
    weft_face_mm: float
    weft_back_mm: float

    @property
    def longest_mm(self) -> float:
        """The longest of the four."""
        return max(self.warp_face_mm, self.warp_back_mm, self.weft_face_mm, self.weft_back_mm)


def read_rows(rows: Sequence[str], *, pointer: str) -> Matrix:
    """Read strings of ``1`` and ``0`` of one length into a matrix, one row a string.

    Args:
        rows: The strings.
        pointer: JSON Pointer of the list, for errors.

    Raises:
        InputError: For every row that cannot be read, at most ten.
    """
    if not rows or not rows[0]:
        raise InputError.of(pointer, "Give at least one row of 1 and 0.", allowed=["10", "01"])
    if len(rows) > MAX_SIDE or len(rows[0]) > MAX_SIDE:
        raise _too_large(pointer, (len(rows), len(rows[0])))
    faults = _row_faults(rows, pointer)
    if faults:
        raise InputError(faults)
    cells = np.frombuffer("".join(rows).encode("ascii"), dtype=np.uint8) - np.uint8(ord("0"))
    return cells.reshape(len(rows), len(rows[0]))


def write_rows(matrix: Matrix) -> tuple[str, ...]:
    """Write a matrix of 0 and 1 as one string a row.

    >>> write_rows(np.eye(2, dtype=np.uint8))
    ('10', '01')
    """
    text = (matrix + np.uint8(ord("0"))).tobytes().decode("ascii")
    width = matrix.shape[1]
    return tuple(text[start : start + width] for start in range(0, len(text), width))


def analyse(weave: Weave | Repeat) -> Structure:
    """Find everything about a weave that its matrix alone decides.

    The cost is linear in the crossings. Whether the cloth hangs together is decided exactly, from
    the counts of raised crossings alone; see ``layers_from_counts``.

    >>> twill = analyse(Weave.from_rows(["1100", "0110", "0011", "1001"]))
    >>> twill.shafts_needed, twill.mean_float_of_picks, twill.warp_face_float_picks
    (4, 2.0, 2)
    """
    repeat = Repeat.of(weave)
    matrix = repeat.weave.matrix
    picks, ends = matrix.shape
    turned = _turned(matrix)
    per_end, per_pick = _interlacings(turned), _interlacings(matrix)
    warp_face, warp_back = _longest_runs(matrix)
    # Along a pick a raised end hides the pick, so a run of 1 is a weft float on the back.
    weft_back, weft_face = _longest_runs(turned)
    layer_count, layers = layers_from_counts(
        up_per_end=repeat.up_per_end, up_per_pick=repeat.up_per_pick
    )
    up = int(repeat.up_per_end.sum())
    return Structure(
        ends=ends,
        picks=picks,
        shafts_needed=repeat.shafts_needed,
        distinct_picks=int(repeat.pick_kinds.max()) + 1,
        warp_up_share=up / matrix.size,
        face=_face(up, matrix.size),
        interlacings_per_end=per_end,
        interlacings_per_pick=per_pick,
        mean_float_of_picks=_mean_float(per_pick, length=ends),
        mean_float_of_ends=_mean_float(per_end, length=picks),
        warp_face_float_picks=warp_face,
        warp_back_float_picks=warp_back,
        weft_face_float_ends=weft_face,
        weft_back_float_ends=weft_back,
        loose_ends=_numbers(per_end == 0),
        loose_picks=_numbers(per_pick == 0),
        hangs_together=layer_count == 1,
        layer_count=layer_count,
        layers=layers,
    )


def float_lengths(structure: Structure, *, ends_per_cm: float, picks_per_cm: float) -> FloatLengths:
    """Return the longest floats as lengths: threads passed over, times their spacing.

    Args:
        structure: The analysed weave.
        ends_per_cm: Ends per cm of the cloth.
        picks_per_cm: Picks per cm of the cloth.
    """
    pick_mm, end_mm = 10.0 / picks_per_cm, 10.0 / ends_per_cm
    return FloatLengths(
        warp_face_mm=structure.warp_face_float_picks * pick_mm,
        warp_back_mm=structure.warp_back_float_picks * pick_mm,
        weft_face_mm=structure.weft_face_float_ends * end_mm,
        weft_back_mm=structure.weft_back_float_ends * end_mm,
    )


def layers_from_counts(*, up_per_end: Counts, up_per_pick: Counts) -> tuple[int, tuple[Layer, ...]]:
    """Find the parts of a cloth that can be lifted off one another.

    At every crossing draw an arrow from the upper thread to the lower. The cloth hangs together if
    and only if this graph is strongly connected, and its strongly connected components are the
    layers. The ``a`` picks and ``b`` ends of highest score (threads that they lie over) lie on top
    of all the others exactly when their scores add up to ``a*ends + b*picks - a*b``, so sorting the
    scores finds every layer without a graph.

    Args:
        up_per_end: For every end, the picks that it lies over.
        up_per_pick: For every pick, the ends that lie over it.

    Returns:
        The number of layers, and the layers from the top down (at most ``MAX_LAYERS_LISTED``).

    Source:
        The score form is derived from the strong-connection criterion of C. R. J. Clapham, When a
        fabric hangs together (Bull. London Math. Soc. 12, 1980); tested against a graph library
        and against exhaustive counts.

    >>> layers_from_counts(up_per_end=np.array([1, 1]), up_per_pick=np.array([1, 1]))
    (1, (Layer(ends=(1, 2), picks=(1, 2)),))
    """
    ends = len(up_per_end)
    end_order = np.argsort(-up_per_end, kind="stable")
    pick_order = np.argsort(up_per_pick, kind="stable")
    cuts = _cuts(up_per_end[end_order], ends - up_per_pick[pick_order])
    listed = [
        Layer(_numbered(end_order[b0:b1]), _numbered(pick_order[a0:a1]))
        for (a0, b0), (a1, b1) in pairwise(cuts[: MAX_LAYERS_LISTED + 1])
    ]
    return len(cuts) - 1, tuple(listed)


def reverse_side(weave: Weave) -> Weave:
    """Return the weave as seen from the back, the cloth turned over about its length.

    >>> reverse_side(Weave.from_rows(["110", "011", "101"])).rows
    ('100', '001', '010')
    """
    return Weave(matrix=1 - weave.matrix[:, ::-1])


def quarter_turn(weave: Weave) -> Weave:
    """Return the cloth turned a quarter anticlockwise, so that ends become picks.

    >>> quarter_turn(Weave.from_rows(["10", "10", "01", "01"])).rows
    ('1100', '0011')
    """
    return Weave(matrix=1 - weave.matrix[::-1].T)


def mirrored(weave: Weave) -> Weave:
    """Return the weave with left and right exchanged: Z becomes S."""
    return Weave(matrix=weave.matrix[:, ::-1])


def upside_down(weave: Weave) -> Weave:
    """Return the weave with the order of its picks reversed."""
    return Weave(matrix=weave.matrix[::-1])


def complement(weave: Weave) -> Weave:
    """Return the weave with raised and lowered exchanged, thread for thread."""
    return Weave(matrix=1 - weave.matrix)


RELATIONS: Final[Mapping[str, Callable[[Weave], Weave]]] = {
    "same": lambda weave: weave,
    "mirrored": mirrored,
    "upside down": upside_down,
    "reverse side": reverse_side,
    "complement": complement,
    "half turn": lambda weave: mirrored(upside_down(weave)),
    "quarter turn": quarter_turn,
    "three quarter turns": lambda weave: quarter_turn(quarter_turn(quarter_turn(weave))),
}
"""What can be done to a weave without changing what the loom needs in kind."""


def relation(a: Weave, b: Weave) -> str | None:
    """Name the first of ``RELATIONS`` that turns ``a`` into ``b``, wherever the repeat begins.

    Raises:
        InputError: When the repeats are too large to compare at every shift.
    """
    return next((name for name, turn in RELATIONS.items() if equivalent(turn(a), b)), None)


def equivalent(a: Weave, b: Weave) -> bool:
    """Tell whether two weaves differ only in the end and the pick at which the repeat begins.

    Raises:
        InputError: When equal-sized repeats hold more than ``MAX_CELLS_COMPARED`` crossings.

    >>> equivalent(Weave.from_rows(["10", "01"]), Weave.from_rows(["01", "10"]))
    True
    """
    first, second = a.reduced().matrix, b.reduced().matrix
    if first.shape != second.shape or first.sum(dtype=np.int64) != second.sum(dtype=np.int64):
        return False
    if np.array_equal(first, second):
        return True
    if first.size > MAX_CELLS_COMPARED:
        raise InputError.of(
            "",
            "The repeats are too large to compare at every shift.",
            given=list(first.shape),
            allowed=f"at most {MAX_CELLS_COMPARED} crossings",
        )
    shift = _best_shift(first, second)
    return np.array_equal(np.roll(first, shift, axis=(0, 1)), second)


def distinct_lines(matrix: Matrix, *, axis: Literal[0, 1]) -> NDArray[np.intp]:
    """Number the rows (axis 0) or columns (axis 1) of a matrix by first appearance, from 0.

    >>> distinct_lines(np.array([[1, 1, 0, 0]], dtype=np.uint8), axis=1)
    array([0, 0, 1, 1])
    """
    return number_lines(packed_lines(matrix, axis=axis))


def packed_lines(matrix: Matrix, *, axis: Literal[0, 1]) -> Matrix:
    """Pack every row (axis 0) or column (axis 1) of a matrix into bits, one line a row."""
    if axis == 0:
        return np.packbits(matrix, axis=1)
    packed = np.empty((matrix.shape[1], -(-len(matrix) // 8)), dtype=np.uint8)
    for rows in _blocks(matrix):
        bits = np.packbits(_turned(matrix[rows]), axis=1)
        packed[:, rows.start // 8 : rows.start // 8 + bits.shape[1]] = bits
    return packed


def number_lines(packed: Matrix) -> NDArray[np.intp]:
    """Number packed lines by first appearance, from 0: equal lines get equal numbers."""
    seen: dict[bytes, int] = {}
    return np.array([seen.setdefault(line.tobytes(), len(seen)) for line in packed], dtype=np.intp)


def smallest_period(numbers: NDArray[np.intp]) -> int:
    """Return the smallest divisor of the length after which a sequence of numbers repeats.

    >>> smallest_period(np.array([0, 1, 0, 1]))
    2
    """
    period = len(numbers)
    for prime in _prime_factors(period):
        shorter = period // prime
        while period % prime == 0 and np.array_equal(
            numbers[: period - shorter], numbers[shorter:period]
        ):
            period, shorter = shorter, shorter // prime
    return period


def _cut(weave: Weave, *, picks: int, ends: int) -> Weave:
    """Cut a weave to its first picks and ends; a weave that is no larger is returned as it is."""
    if weave.matrix.shape == (picks, ends):
        return weave
    return Weave(matrix=weave.matrix[:picks, :ends], name=weave.name)


def _check_size(shape: tuple[int, ...]) -> None:
    """Refuse a matrix that is not two-dimensional, is empty or is too large."""
    if len(shape) != 2 or 0 in shape:
        raise InputError.of("", "A weave has at least one pick and one end.", given=list(shape))
    if max(shape) > MAX_SIDE:
        raise _too_large("", shape)


def _too_large(pointer: str, shape: Sequence[int]) -> InputError:
    """Make the error for a matrix over the limit."""
    return InputError.of(
        pointer,
        f"The weave is too large: at most {MAX_SIDE} picks and {MAX_SIDE} ends.",
        given=list(shape),
        allowed=f"1 to {MAX_SIDE} each way",
    )


def _row_faults(rows: Sequence[str], pointer: str) -> list[Fault]:
    """Find the first rows that differ in length from row 0 or hold other characters."""
    width = len(rows[0])
    faults: list[Fault] = []
    for index, row in enumerate(rows):
        if len(row) != width:
            message = f"Row {index + 1} has {len(row)} threads; the first row has {width}."
            faults.append(Fault(f"{pointer}/{index}", message, len(row), width))
        elif row.count("0") + row.count("1") != width:
            message = f"Row {index + 1} holds something other than 1 (up) and 0 (down)."
            faults.append(Fault(f"{pointer}/{index}", message, row[:80], "1 and 0 only"))
        if len(faults) == MAX_FAULTS_LISTED:
            break
    return faults


def _bits(packed: Matrix) -> Counts:
    """Count the ones of every packed line."""
    counts: Counts = np.bitwise_count(packed).sum(axis=1, dtype=np.int64)
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


def _interlacings(lines: Matrix) -> Counts:
    """Count the changes of every row, the last place being neighbour to the first."""
    counts = np.empty(len(lines), dtype=np.int64)
    for rows in _blocks(lines):
        changed = lines[rows] ^ np.roll(lines[rows], 1, axis=1)
        counts[rows] = _bits(np.packbits(changed, axis=1))
    return counts


def _turned(matrix: Matrix) -> Matrix:
    """Exchange rows and columns, a block at a time: memory is touched in long stretches."""
    turned = np.empty(matrix.shape[::-1], dtype=np.uint8)
    for rows in _blocks(matrix):
        turned[:, rows] = matrix[rows].T
    return turned


def _blocks(matrix: Matrix) -> list[slice]:
    """Cut the rows into blocks that bound the memory of what is computed from them.

    A block is a multiple of eight rows, so that its columns pack into whole bytes.
    """
    rows = max(8, _BLOCK_CELLS // matrix.shape[1] // 8 * 8)
    return [slice(first, first + rows) for first in range(0, len(matrix), rows)]


def _longest_runs(matrix: Matrix) -> tuple[int, int]:
    """Return the longest cyclic run of 1 and of 0 down any column that has both."""
    width = matrix.shape[1]
    run, best = np.zeros((2, 2 * width), dtype=np.uint16)
    # Twice round: the second time every run has been entered from its beginning.
    for rows in (*_blocks(matrix), *_blocks(matrix)):
        for row in np.concatenate((matrix[rows], 1 - matrix[rows]), axis=1).astype(np.uint16):
            run += 1
            run *= row
            np.maximum(best, run, out=best)
    longest_of_each = best.reshape(2, width)
    longest = (longest_of_each * longest_of_each.all(axis=0)).max(axis=1)
    return int(longest[0]), int(longest[1])


def _mean_float(interlacings: Counts, *, length: int) -> float:
    """Return threads per interlacing; the whole repeat where nothing interlaces."""
    total = int(interlacings.sum())
    return len(interlacings) * length / total if total else float(length)


def _face(up: int, cells: int) -> Face:
    """Name the system that shows more on the face."""
    if 2 * up == cells:
        return "balanced"
    return "warp" if 2 * up > cells else "weft"


def _cuts(end_scores: Counts, pick_scores: Counts) -> list[tuple[int, int]]:
    """Return every (picks, ends) of the top that lie over all the rest, both scores descending.

    For ``a`` picks the sum in ``layers_from_counts`` is convex in the ends, so that it can only be
    met from the ends that lie over more than ``picks - a`` picks to those that lie over as many.
    """
    ends, picks = len(end_scores), len(pick_scores)
    end_sums = np.concatenate(([0], np.cumsum(end_scores)))
    pick_sums = np.concatenate(([0], np.cumsum(pick_scores)))
    a = np.arange(picks + 1)
    low = np.searchsorted(-end_scores, a - picks, side="left")
    high = np.searchsorted(-end_scores, a - picks, side="right")
    met = pick_sums + end_sums[low] == a * ends + low * picks - a * low
    return [(int(i), b) for i in a[met] for b in range(int(low[i]), int(high[i]) + 1)]


def _numbers(chosen: NDArray[np.bool_]) -> tuple[int, ...]:
    """Return the 1-based places that are true."""
    return tuple((np.flatnonzero(chosen) + 1).tolist())


def _numbered(indices: NDArray[np.intp]) -> tuple[int, ...]:
    """Return indices as sorted 1-based numbers."""
    return tuple((np.sort(indices) + 1).tolist())


def _best_shift(first: Matrix, second: Matrix) -> tuple[int, int]:
    """Return the cyclic shift of ``first`` under which most raised crossings coincide."""
    spectrum = np.conj(np.fft.rfft2(first)) * np.fft.rfft2(second)
    matches = np.fft.irfft2(spectrum, s=first.shape)
    down, across = np.unravel_index(int(np.argmax(matches)), first.shape)
    return int(down), int(across)
