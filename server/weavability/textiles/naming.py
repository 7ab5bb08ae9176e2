"""Names of weaves: what the trade calls a weave that was given as a matrix."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from weavability.textiles.basic_weaves import satin_moves
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Matrix, Weave
from weavability.textiles.weave_symmetry import equivalent_repeats

LARGEST_NAMED: Final = 200
"""Most ends, and most picks, of a repeat that is compared with the named weaves."""


def size_in_words(weave: Weave) -> str:
    """Describe a weave that has no name.

    >>> size_in_words(Weave.from_rows(["1", "0"]))
    'matrix of 1 end x 2 picks'
    """
    ends, picks = ("" if count == 1 else "s" for count in (weave.ends, weave.picks))
    return f"matrix of {weave.ends} end{ends} x {weave.picks} pick{picks}"


def name_of(weave: Weave) -> str | None:
    """Return the canonical notation of a weave, wherever its repeat begins.

    Returns:
        The notation, or ``None`` where the weave is none of plain weave, regular or broken twill,
        satin, rib, hopsack, even herringbone, pointed twill, honeycomb, mock leno, huckaback and
        bedford cord.

    >>> name_of(Weave.from_rows(["011", "101", "110"]))
    '2/1 twill Z'
    >>> name_of(Weave.from_rows(["00100", "10000", "00010", "01000", "00001"]))
    '5-end sateen move 3'
    """
    repeat = weave.reduced()
    if max(repeat.picks, repeat.ends) > LARGEST_NAMED:
        return None
    for text in dict.fromkeys(_candidates(repeat.matrix)):
        try:
            named = parse_weave(text)
        except InputError:
            continue
        if equivalent_repeats(named.matrix, repeat.matrix):
            return named.name
    return None


def _candidates(matrix: Matrix) -> Iterator[str]:
    """Yield the notations that a weave of this look may have."""
    across, upward = _fraction(matrix[0]), _fraction(matrix[:, 0])
    downward = _fraction(matrix[::-1, 0])
    if across is None or upward is None or downward is None:
        return
    picks, ends = matrix.shape
    # A twill, broken, turned or straight, has throughout the share of ones of its fraction.
    of_across, of_end = (
        int(line.sum()) * matrix.size == int(matrix.sum()) * len(line)
        for line in (matrix[0], matrix[:, 0])
    )
    yield "plain"
    yield f"{upward} warp rib"
    yield f"{across} weft rib"
    yield from _moving(matrix, across)
    yield f"{across} x {upward} hopsack"
    yield f"{across} x {_fraction(1 - matrix[:, 0])} hopsack"
    if of_across:
        yield from (f"{across} broken twill {direction}" for direction in "ZS")
    if of_end:
        yield from (f"{downward} broken twill Z", f"{upward} broken twill S")
        for fraction in (downward, upward):
            yield f"{fraction} herringbone {ends // 2}"
            yield f"{fraction} pointed twill {ends // 2 + 1}"
    yield f"honeycomb {ends}"
    yield f"mock leno {ends // 2}"
    yield f"huckaback {picks}"
    yield f"bedford cord {ends // 2 - 2}"


def _moving(matrix: Matrix, fraction: str) -> Iterator[str]:
    """Yield the twills and satins whose second pick is the first, moved."""
    ends = matrix.shape[1]
    if len(matrix) == 1:
        return
    raised = int(matrix[0].sum())
    for move in range(1, ends):
        if not np.array_equal(np.roll(matrix[0], move), matrix[1]):
            continue
        if raised in (1, ends - 1) and move in satin_moves(ends):
            yield f"{ends}-end {'sateen' if raised == 1 else 'satin'} move {move}"
        elif move in (1, ends - 1):
            yield f"{fraction} twill {'Z' if move == 1 else 'S'}"
        else:
            yield f"{fraction} reclined twill Z move {move}"


def _fraction(line: Matrix) -> str | None:
    """Return the fraction of a line read from where it rises; ``None`` where it never does."""
    changes = np.flatnonzero(line != np.roll(line, 1))
    if not changes.size:
        return None
    first = int(np.argmax(line[changes]))
    ordered = np.roll(changes, -first)
    lengths = np.diff(np.append(ordered, ordered[0])) % len(line)
    return "/".join(map(str, lengths.tolist()))
