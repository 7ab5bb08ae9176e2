"""The structure of a weave: floats, interlacings and layers, all from its matrix alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field
from functools import lru_cache, wraps
from itertools import pairwise
from typing import Final, Literal, NamedTuple, TypeVar, TypeVarTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.records import record
from weavability.textiles.weave_matrix import (
    Counts,
    Matrix,
    Repeat,
    Weave,
    ones_per_line,
    packed_lines,
    row_blocks,
    write_rows,
)

T = TypeVar("T")
Ts = TypeVarTuple("Ts")
Face = Literal["balanced", "warp", "weft"]
MAX_LAYERS_LISTED: Final = 64
"""Most layers whose threads are listed; ``layer_count`` always has the true number."""

MAX_REMEMBERED_CELLS: Final = 16_384
"""Largest weave whose analysis is kept for the next order of the same weave."""

MAX_KEPT_CELLS: Final = 4_194_304
"""Largest weave whose analysis is kept for the remedies of its own order."""


class Layer(NamedTuple):
    """Threads that hold one another: a cloth of its own, or a single unbound thread.

    Attributes:
        ends: Its ends, 1-based.
        picks: Its picks, 1-based.
    """

    ends: tuple[int, ...]
    picks: tuple[int, ...]


@record(kw_only=True, eq=False)
class Structure:
    """What follows from the matrix of a weave.

    A float is the number of successive crossing threads that a thread passes on one side; both
    sides of the repeat's edge count as neighbours, unless its ends are a whole cloth. A thread that
    never changes sides has no float: it is listed as loose.

    Attributes:
        ends: Ends of the true smallest repeat.
        picks: Picks of the true smallest repeat.
        shafts_needed: Ends that weave differently: the least shafts.
        distinct_picks: Picks that lift differently: the least treadles, or cards.
        warp_up_share: Share of crossings at which the warp is up, 0 to 1.
        face: Which system shows more on the face.
        interlacings_per_end: Changes of side of every end over the repeat.
        interlacings_per_pick: Changes of side of every pick over the repeat.
        interlacing_times: Interlacings of the busiest neighbouring ends over the fewest, see
            :func:`take_up_times`; 0 if some have none.
        lift_swing: Greatest less least share of the ends raised on a pick, 0 to 1.
        picks_per_shed: Picks after one another that lie in the same shed, at least.
        mean_float_of_picks: Ends per interlacing along a pick (M1): crossings over interlacings.
            Where no pick interlaces, all ends are alike, and it is 1.
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
    interlacing_times: float
    lift_swing: float
    picks_per_shed: float
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
    def cloths(self) -> int:
        """Cloths that are not bound to one another; a loose thread is a layer but no cloth."""
        return self.layer_count - len(self.loose_ends) - len(self.loose_picks)

    @property
    def longest_warp_float_picks(self) -> int:
        """The longest float of any end, on either side."""
        return max(self.warp_face_float_picks, self.warp_back_float_picks)

    @property
    def longest_weft_float_ends(self) -> int:
        """The longest float of any pick, on either side."""
        return max(self.weft_face_float_ends, self.weft_back_float_ends)


_FEW_CELLS: Final = 1024
"""Largest weave whose lines are measured as texts."""

_RUN_BYTES: Final = 2**18
"""Bytes of a block in which runs are sought: it stays in the cache of a processor."""


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
    # Along a pick a raised end hides the pick, so a run of 1 is a weft float on the back.
    (per_end, warp_face, warp_back), (per_pick, weft_back, weft_face) = _along_threads(
        matrix, has_edges=repeat.weave.has_edges
    )
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
        interlacing_times=take_up_times(per_end, has_edges=repeat.weave.has_edges),
        lift_swing=repeat.lift_swing,
        picks_per_shed=repeat.picks_per_shed,
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


class ThreadFloats(NamedTuple):
    """The floats of a :class:`Structure`, as far as the binding of an edge follows from them."""

    longest_warp_float_picks: int
    mean_float_of_picks: float
    mean_float_of_ends: float


def thread_floats(matrix: Matrix) -> ThreadFloats:
    """Find the floats of a weave, which need not be at its repeat.

    >>> thread_floats(np.array([[1, 1, 0, 0], [0, 0, 1, 1]], dtype=np.uint8))
    ThreadFloats(longest_warp_float_picks=1, mean_float_of_picks=2.0, mean_float_of_ends=1.0)
    """
    picks, ends = matrix.shape
    of_ends, of_picks = _along_threads(matrix, has_edges=False)
    return ThreadFloats(
        longest_warp_float_picks=max(of_ends.ones, of_ends.zeros),
        mean_float_of_picks=_mean_float(of_picks.interlacings, length=ends),
        mean_float_of_ends=_mean_float(of_ends.interlacings, length=picks),
    )


TAKE_UP_ENDS: Final = 4
"""Neighbouring ends whose mean take-up is compared; ours, no source.

A tight end or two among loose ones take up less than a cloth of them ([TAYLOR-1909],
p. 427-429); from this many on a stripe counts in full. So honeycomb, huckaback and mock leno are
woven from one beam.
"""


def take_up_times(per_end: NDArray[np.intp], *, has_edges: bool) -> float:
    """Return the interlacings of the busiest few neighbouring ends over the fewest; 0 if none.

    All ends come from one beam, and contract as the tightest weave: [BELL-1895], p. 106 and 126. A
    group begins at every end, so that it matters nowhere how stripes lie to the first end.

    Args:
        per_end: Interlacings of each end of the repeat.
        has_edges: Whether the cloth ends at the sides of the repeat.
    """
    sums = _sums_of_neighbours(per_end, has_edges=has_edges)
    return float(sums.max() / sums.min()) if sums.min() > 0 else 0.0


def take_up_ends(per_end: NDArray[np.intp], *, has_edges: bool) -> tuple[int, int]:
    """Return the first, from 1, of the busiest few neighbouring ends and of the least busy.

    Args:
        per_end: As for :func:`take_up_times`, and so is ``has_edges``.
        has_edges: See there.

    >>> take_up_ends(np.array([8, 8, 8, 8, 8, 2, 2, 2, 2]), has_edges=True)
    (1, 6)
    """
    sums = _sums_of_neighbours(per_end, has_edges=has_edges)
    return int(sums.argmax()) + 1, int(sums.argmin()) + 1


def _sums_of_neighbours(per_end: NDArray[np.intp], *, has_edges: bool) -> Counts:
    size = min(TAKE_UP_ENDS, max(1, len(per_end) // 2))
    around = per_end if has_edges else np.concatenate((per_end, per_end[: size - 1]))
    sums: Counts = np.convolve(around, np.ones(size, dtype=np.int64), mode="valid")
    return sums


def remembered_structure(weave: Weave) -> tuple[Repeat, Structure]:
    """Return the true repeat of a weave and its structure.

    Small weaves are remembered, because the same few are ordered again and again; of larger ones
    the last, because the remedies of its order are tried next.
    """
    if weave.matrix.size > MAX_KEPT_CELLS:
        return _examined(weave)
    if weave.matrix.size > MAX_REMEMBERED_CELLS:
        return _kept(weave, weave.name)
    return _remembered(weave, weave.name)


# Weaves of one matrix are equal whatever they are called, so the name is part of the key.
@lru_cache(maxsize=256)
def _remembered(weave: Weave, _name: str) -> tuple[Repeat, Structure]:
    return _examined(weave)


@lru_cache(maxsize=1)
def _kept(weave: Weave, _name: str) -> tuple[Repeat, Structure]:
    return _examined(weave)


def _examined(weave: Weave) -> tuple[Repeat, Structure]:
    repeat = Repeat.of(weave)
    return repeat, analyse(repeat)


def remembered_with_weave(
    found: Callable[[Repeat, *Ts], T],
) -> Callable[[Repeat, *Ts], T]:
    """Remember what a function of a repeat returns: for many small weaves, and for the last larger.

    What else it takes is hashable.
    """
    small, large = lru_cache(maxsize=512)(found), lru_cache(maxsize=1)(found)

    @wraps(found)
    def remembering(repeat: Repeat, /, *more: *Ts) -> T:
        if repeat.weave.matrix.size > MAX_KEPT_CELLS:
            return found(repeat, *more)
        keep = small if repeat.weave.matrix.size <= MAX_REMEMBERED_CELLS else large
        return keep(repeat, *more)

    return remembering


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
        The score form is derived from the strong-connection criterion of [CLAPHAM-1980];
        tested against a graph library and against exhaustive counts.

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


class _Along(NamedTuple):
    """The changes along each of some lines, and the longest runs along any that has both.

    The last crossing of a line is neighbour to the first.
    """

    interlacings: Counts
    ones: int
    zeros: int


def _along_threads(matrix: Matrix, *, has_edges: bool) -> tuple[_Along, _Along]:
    """Measure along all ends, and along all picks, whose last crossing may be at an edge."""
    if matrix.size <= _FEW_CELLS:
        texts = _along_texts(write_rows(matrix), has_edges=has_edges)
        return _along_texts(write_rows(matrix.T)), texts
    picks, ends = matrix.shape
    packed = packed_lines(matrix, axis=0)
    of_picks, runs_of_ends = _interlacings(packed, ends), _longest_runs(packed)
    packed = packed_lines(matrix, axis=1)
    of_ends, runs_of_picks = (
        _interlacings(packed, picks),
        _longest_runs(packed, has_edges=has_edges),
    )
    return _Along(of_ends, *runs_of_ends), _Along(of_picks, *runs_of_picks)


def _along_texts(lines: Sequence[str], *, has_edges: bool = False) -> _Along:
    """Measure short lines as texts of 1 and 0, which is faster than as an array."""
    changes = [2 * (line + line[0]).count("01") for line in lines]
    mixed = [
        line if has_edges else 2 * line for line, many in zip(lines, changes, strict=True) if many
    ]
    ones, zeros = (max(map(len, other.join(mixed).split(other))) for other in "01")
    return _Along(np.array(changes), ones, zeros)


def _interlacings(packed: Matrix, crossings: int) -> Counts:
    """Count the changes along every packed line, the last crossing being neighbour to the first."""
    counts = np.empty(len(packed), dtype=np.int64)
    to_last = np.uint8(1 << (-crossings % 8))
    for lines in row_blocks(packed):
        here = packed[lines]
        following = here + here
        following[:, :-1] |= here[:, 1:] >= _FIRST_OF_BYTE
        following[:, -1] |= (here[:, 0] >= _FIRST_OF_BYTE) * to_last
        # What goes down comes up again.
        counts[lines] = 2 * ones_per_line(here & ~following)
    return counts


_FIRST_OF_BYTE: Final = 128
"""A byte is as much at least if the first of its eight crossings is 1."""


def _longest_runs(packed: Matrix, *, has_edges: bool = False) -> tuple[int, int]:
    """Return the longest run of 1 and of 0 down any column of bits that has both.

    Runs are cyclic, unless the column has edges.
    """
    ones, zeros = 0, 0
    # Eight columns a byte; a block of columns bounds the memory.
    step = max(1, _RUN_BYTES // len(packed))
    for first in range(0, packed.shape[1], step):
        block = np.ascontiguousarray(packed[:, first : first + step])
        mixed = np.bitwise_or.reduce(block) & ~np.bitwise_and.reduce(block)
        of_ones, of_zeros = block & mixed, ~block & mixed
        if has_edges:
            of_ones, of_zeros = (np.pad(each, ((0, 1), (0, 0))) for each in (of_ones, of_zeros))
        ones, zeros = max(ones, _longest_run(of_ones)), max(zeros, _longest_run(of_zeros))
    return ones, zeros


def _longest_run(bits: Matrix) -> int:
    """Return the longest cyclic run of 1 down any column of bits, none of which is all 1.

    Runs of ``2n`` begin where one of ``n`` begins and another follows it, so that the length is
    found in as many steps as it has binary digits.
    """
    if not bits.max():
        return 0
    begins, length = [bits], 1
    while (longer := _followed(begins[-1], begins[-1], length)).max():
        begins.append(longer)
        length *= 2
    found = begins.pop()
    while begins:
        longer = _followed(found, begins[-1], length)
        if longer.max():
            found, length = longer, length + 2 ** (len(begins) - 1)
        begins.pop()
    return length


def _followed(begins: Matrix, other: Matrix, length: int) -> Matrix:
    """Return the beginnings of runs that one of the others follows after so many rows."""
    after = length % len(begins)
    longer = np.empty_like(begins)
    np.bitwise_and(begins[: len(begins) - after], other[after:], out=longer[: len(begins) - after])
    np.bitwise_and(begins[len(begins) - after :], other[:after], out=longer[len(begins) - after :])
    return longer


def _mean_float(interlacings: Counts, *, length: int) -> float:
    """Return threads per interlacing; 1, the whole repeat, if nothing interlaces."""
    total = int(interlacings.sum())
    return len(interlacings) * length / total if total else 1.0


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
    end_sums, pick_sums = np.zeros(ends + 1, np.int64), np.zeros(picks + 1, np.int64)
    end_scores.cumsum(out=end_sums[1:])
    pick_scores.cumsum(out=pick_sums[1:])
    above, rising = np.arange(picks + 1), -end_scores
    low = rising.searchsorted(above - picks)
    met = (pick_sums + end_sums[low] == above * ends + low * (picks - above)).nonzero()[0]
    high = rising.searchsorted(met - picks, side="right")
    return [
        (a, b)
        for a, first, last in zip(met.tolist(), low[met].tolist(), high.tolist(), strict=True)
        for b in range(first, last + 1)
    ]


def _numbers(chosen: NDArray[np.bool_]) -> tuple[int, ...]:
    """Return the 1-based places that are true."""
    return tuple((np.flatnonzero(chosen) + 1).tolist())


def _numbered(indices: NDArray[np.intp]) -> tuple[int, ...]:
    """Return indices as sorted 1-based numbers."""
    return tuple((np.sort(indices) + 1).tolist())
