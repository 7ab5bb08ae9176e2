"""The threads of every square of a weave beside their neighbours: changes of side, and layers.

All squares of a strip are compared at once. The crossings of a line are packed eight a byte, and a
square is two bytes of each of its lines, or one if the weave has no more.
"""

from __future__ import annotations

from itertools import accumulate
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.weave_matrix import Matrix, packed_lines, turned

SQUARE_THREADS: Final = 16
"""Threads of a square in either direction; ours, no source."""

STEP_THREADS: Final = 8
"""Threads from one square to the next."""

NEAR_THREADS: Final = 6
"""Threads from one of a layer to the next, at most: five pile picks lie between two of the ground
in the closest of the published velvets."""

OVER_TIMES: Final = 3
"""A thread lies over another if it is above at so many times as many crossings as below, as in
``layered_weave``; our definition."""

LEAST_UNLIKE_TIMES: Final = 4
"""Crossings of two threads are more than one in so many on unlike sides, if one lies over the
other; our definition."""

Interlacings = NDArray[np.uint16]
"""Of each square, at most its crossings: large designs have millions of squares."""

_LEAST_STRIP_SQUARES: Final = 32
_STRIP_BYTES: Final = 2**17
"""Bytes of a strip of squares, which stay in the cache of a processor."""


class ComparedLines(NamedTuple):
    """What is found of the lines of every square: (squares along their order, squares across).

    Attributes:
        changes: Changes of side from one line to the next.
        over: Lines that lie over or under one before them and one after them, both near.
    """

    changes: Interlacings
    over: Interlacings


def compare_lines(matrix: Matrix, *, of_ends: bool = False) -> ComparedLines:
    """Compare the neighbouring picks of every square, or ends, the last being next to the first.

    Strips of squares bound the memory.

    Args:
        matrix: Of shape (picks, ends), 0 and 1.
        of_ends: Whether the lines are ends.

    >>> compare_lines(np.eye(4, dtype=np.uint8)).changes
    array([[8]], dtype=uint16)
    """
    lines, across = matrix.shape[::-1] if of_ends else matrix.shape
    squares, strip = _squares(across), max(_LEAST_STRIP_SQUARES, _STRIP_BYTES // lines)
    found = [
        _compared(
            _packed(matrix, first, last, of_ends=of_ends),
            crossings=min(across, SQUARE_THREADS),
            squares=last - first,
        )
        for first in range(0, squares, strip)
        for last in [min(first + strip, squares)]
    ]
    if len(found) == 1:
        return found[0]
    changes, over = zip(*found, strict=True)
    return ComparedLines(np.concatenate(changes, axis=1), np.concatenate(over, axis=1))


def _packed(matrix: Matrix, first: int, last: int, *, of_ends: bool) -> Matrix:
    """Return the crossings of every line in some squares, eight a byte."""
    axis = 0 if of_ends else 1
    across = matrix.shape[axis]
    begin = STEP_THREADS * first
    end = min(STEP_THREADS * (last + 1), _threads_counted_on(across))
    lines = matrix.T if of_ends else matrix
    if end <= across:
        return _packed_cut(lines[:, begin:end], of_ends=of_ends)
    # Where the next repeat begins, its first crossings share a byte with the last of this one.
    whole = across // STEP_THREADS * STEP_THREADS
    meeting = np.concatenate((lines[:, whole:], lines[:, : end - across]), axis=1)
    parts = (lines[:, begin:whole], meeting)
    return np.concatenate([_packed_cut(each, of_ends=of_ends) for each in parts], axis=1)


def _packed_cut(lines: Matrix, *, of_ends: bool) -> Matrix:
    return packed_lines(lines.T, axis=1) if of_ends else packed_lines(lines, axis=0)


def _compared(packed: Matrix, *, crossings: int, squares: int) -> ComparedLines:
    """Compare packed lines in squares of so many crossings a line."""
    lines = len(packed)
    most_apart = max(1, min(NEAR_THREADS - 1, lines - 1))
    ones = (OVER_TIMES + 1) * _in_squares(np.bitwise_count(packed)).view(np.int8)
    # The lines before the first are the last ones of the repeat before.
    before, ones_before = (np.concatenate((each[-most_apart:], each)) for each in (packed, ones))
    unlike: list[NDArray[np.bool_]] = []
    changes = np.zeros((0, 0), dtype=np.uint16)
    for apart in range(1, most_apart + 1):
        others = slice(most_apart - apart, most_apart - apart + lines)
        differing = _in_squares(np.bitwise_count(packed ^ before[others]))
        # Of d crossings that differ by m more on one side, (d + m) / 2 are there.
        more = np.abs(ones - ones_before[others]).view(np.uint8)
        many = differing > crossings // LEAST_UNLIKE_TIMES
        unlike.append(many & ((OVER_TIMES - 1) * differing <= more))
        if apart == 1:
            changes = _sums(differing, squares)
            if not unlike[0].any():
                return ComparedLines(changes, np.zeros_like(changes))
    return ComparedLines(changes, _sums(_lie_over(unlike).view(np.uint8), squares))


def _lie_over(unlike: list[NDArray[np.bool_]]) -> NDArray[np.bool_]:
    """Return the lines that lie over or under one before them and one after them, both near.

    Args:
        unlike: Which lines are over or under the one before them, the one before that, and so on.
    """
    anchored = unlike[0] | turned(unlike[0], -1)
    over = [
        each & (anchored | turned(anchored, apart)) for apart, each in enumerate(unlike, start=1)
    ]
    under = (turned(each, -apart) for apart, each in enumerate(over, start=1))
    # One before and the nearest after are together no further apart than near threads.
    after = list(accumulate(under, np.bitwise_or))
    near = np.zeros(anchored.shape, dtype=np.bool_)
    for apart, before in enumerate(over, start=1):
        near |= before & after[min(NEAR_THREADS - apart, len(after)) - 1]
    return near


def _in_squares(counts: Matrix) -> Matrix:
    """Add up the counts of the two bytes of a line in every square.

    There is a column more than squares then, which means nothing.
    """
    if counts.shape[1] == 1:
        return counts
    together = np.empty_like(counts)
    of_bytes, of_both = counts.ravel(), together.ravel()
    np.add(of_bytes[:-1], of_bytes[1:], out=of_both[:-1])
    of_both[-1] = of_bytes[-1]
    return together


def _sums(counts: Matrix, squares: int) -> Interlacings:
    """Add up counts over the lines of every square, of which a line has 16 at most."""
    lines, counts = len(counts), counts[:, :squares]
    if lines <= SQUARE_THREADS:
        whole: Interlacings = counts.sum(axis=0, dtype=np.uint16)[None]
        return whole
    counted_on = np.concatenate((counts, counts[: _threads_counted_on(lines) - lines]))
    steps = counted_on.reshape(-1, STEP_THREADS, squares).sum(axis=1, dtype=np.uint8)
    sums: Interlacings = steps[:-1] + steps[1:].astype(np.uint16)
    return sums


def _squares(threads: int) -> int:
    """Return the squares along a repeat."""
    return 1 if threads <= SQUARE_THREADS else -(-threads // STEP_THREADS)


def _threads_counted_on(threads: int) -> int:
    """Return the threads of a repeat and of the next one into which the last square goes."""
    if threads <= SQUARE_THREADS:
        return threads
    return STEP_THREADS * (_squares(threads) + 1)
