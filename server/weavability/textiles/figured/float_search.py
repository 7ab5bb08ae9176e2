"""Floats of a large design: the long ones by place, all of them by length.

Lines are the rows of an array of 0 and 1; the last thread of a line is neighbour to the first,
unless the line goes from edge to edge of the cloth. A float of 1 along a pick is a weft float on
the back, along an end a warp float on the face.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.weave_matrix import Counts, Matrix, transposed

_BLOCK_CELLS: Final = 1 << 20
"""Crossings that are looked at at once; they bound the memory."""


class Floats(NamedTuple):
    """The floats of one line.

    Attributes:
        starts: First thread of each.
        lengths: Threads of each; that of a line without a change is the whole line.
        values: Its side, 0 or 1.
    """

    starts: NDArray[np.intp]
    lengths: NDArray[np.intp]
    values: Matrix


def floats_of(line: Matrix, *, has_edges: bool = False) -> Floats:
    """Return the floats of a line, the first one that begins first.

    >>> line = np.array([1, 0, 0, 1], dtype=np.uint8)
    >>> floats_of(line).lengths, floats_of(line, has_edges=True).lengths
    (array([2, 2]), array([1, 2, 1]))
    """
    changed = line != np.roll(line, 1)
    if has_edges:
        changed[0] = True
    starts = np.flatnonzero(changed)
    if not len(starts):
        return Floats(np.zeros(1, dtype=np.intp), np.array([len(line)]), line[:1])
    lengths = np.diff(np.append(starts, starts[0] + len(line)))
    return Floats(starts, lengths, line[starts])


def blocks_of_picks(matrix: Matrix) -> Iterator[tuple[int, Matrix]]:
    """Yield the picks of a design in blocks, each with the number of its first."""
    step = max(1, _BLOCK_CELLS // matrix.shape[1])
    for first in range(0, len(matrix), step):
        yield first, matrix[first : first + step]


def blocks_of_ends(matrix: Matrix) -> Iterator[tuple[int, Matrix]]:
    """Yield the ends of a design in blocks, as rows, each with the number of its first."""
    step = max(1, _BLOCK_CELLS // len(matrix))
    for first in range(0, matrix.shape[1], step):
        yield first, transposed(matrix[:, first : first + step])


def lines_with_long_floats(lines: Matrix, limit: int, *, has_edges: bool = False) -> list[int]:
    """Return the rows that have a float of more than ``limit`` threads.

    ``limit`` + 1 neighbours that are equal in pairs are found by doubling, in as many steps over
    the block as the limit has binary digits.

    >>> lines_with_long_floats(np.array([[1, 1, 0, 1], [1, 0, 1, 0]], dtype=np.uint8), 2)
    [0]
    """
    if limit >= lines.shape[1]:
        return np.flatnonzero((lines == lines[:, :1]).all(axis=1)).tolist()
    joined, done = lines == np.roll(lines, 1, axis=1), 1
    if has_edges:
        joined[:, 0] = False
    while done < limit:
        step = min(done, limit - done)
        joined = joined & np.roll(joined, step, axis=1)
        done += step
    return np.flatnonzero(joined.any(axis=1)).tolist()


def count_lengths(
    lines: Matrix, weights: NDArray[np.intp] | None = None, *, has_edges: bool = False
) -> tuple[Counts, Counts]:
    """Count the floats of lines by their length: those of 0, and those of 1.

    A line without a change has no float.

    Args:
        lines: Rows of 0 and 1.
        weights: How often each line counts; once if not given.
        has_edges: Whether a line goes from edge to edge, so that no float goes over its ends.

    Returns:
        Counts by length, from 0 threads to the threads of a line.
    """
    length = lines.shape[1]
    changed = lines != np.roll(lines, 1, axis=1)
    if has_edges:
        changed[:, 0] = changed[:, 1:].any(axis=1)
    flat = np.flatnonzero(changed)
    in_row = np.count_nonzero(changed, axis=1)
    if not len(flat):
        return np.zeros(length + 1, dtype=np.int64), np.zeros(length + 1, dtype=np.int64)
    lengths = np.empty_like(flat)
    lengths[:-1] = flat[1:] - flat[:-1]
    after = np.cumsum(in_row)[in_row > 0]
    first = np.concatenate(([0], after[:-1]))
    lengths[after - 1] = flat[first] + length - flat[after - 1]
    # Length and side in one number, so that both are counted at once.
    sides = 2 * lengths + lines.ravel()[flat]
    each = None if weights is None else np.repeat(weights, in_row)
    counted = np.bincount(sides, weights=each, minlength=2 * length + 2).astype(np.int64)
    return counted[::2], counted[1::2]
