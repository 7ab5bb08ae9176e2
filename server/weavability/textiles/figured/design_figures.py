"""Figures of a figured cloth: floats by length, effects, take-up, tightness and lift by place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.figured.effect_picture import MOST_COLOURS
from weavability.textiles.figured.figured_cloth import FiguredCloth
from weavability.textiles.figured.float_limits import System
from weavability.textiles.figured.float_search import (
    blocks_of_ends,
    blocks_of_picks,
    count_lengths,
)
from weavability.textiles.numbers import Floats
from weavability.textiles.weave_matrix import Counts, Matrix
from weavability.textiles.weave_structure import TAKE_UP_ENDS, remembered_structure

MOST_MAPPED: Final = 64
"""Most parts of a map in either direction."""

CONTRACTION_TIMES: Final = 4.0
"""Contraction in per cent times the weft's cotton count, for an interlacing per inch."""


class FloatCounts(NamedTuple):
    """Floats of a cloth by length, from 0 threads, of one side and one system."""

    system: System
    is_face: bool
    counts: Counts

    @property
    def longest(self) -> int:
        """Threads of the longest; 0 if there is none."""
        return int(np.flatnonzero(self.counts).max(initial=0))


def count_floats(cloth: FiguredCloth, lift: Matrix) -> Iterator[FloatCounts]:
    """Count the floats of the cloth of all four kinds, over one repeat of the tie.

    Args:
        cloth: The cloth.
        lift: What the hooks lift: before the correction or after it.
    """
    tie = cloth.tie
    picks, hooks = lift.shape
    cords = None if tie is None else np.bincount(tie, minlength=hooks)
    down, up = np.zeros(picks + 1, dtype=np.int64), np.zeros(picks + 1, dtype=np.int64)
    for first, block in blocks_of_ends(lift):
        times = None if cords is None else cords[first : first + len(block)]
        below, above = count_lengths(block, times)
        down, up = down + below, up + above
    yield FloatCounts(System.WARP, is_face=True, counts=up)
    yield FloatCounts(System.WARP, is_face=False, counts=down)
    ends = hooks if tie is None else len(tie)
    down, up = np.zeros(ends + 1, dtype=np.int64), np.zeros(ends + 1, dtype=np.int64)
    for _, block in blocks_of_picks(lift):
        rows = block if tie is None else block[:, tie]
        below, above = count_lengths(rows, has_edges=cloth.has_edges)
        down, up = down + below, up + above
    yield FloatCounts(System.WEFT, is_face=True, counts=down)
    yield FloatCounts(System.WEFT, is_face=False, counts=up)


def raised_by_effect(cloth: FiguredCloth) -> NDArray[np.float64]:
    """Return the share of the hooks of each effect that are raised, over all picks."""
    effects = len(cloth.lifts.design.picture.colours)
    counted = np.zeros(2 * MOST_COLOURS, dtype=np.int64)
    for pick, row in enumerate(cloth.correction.lift):
        # Effect and lift in one number, so that both are counted at once.
        sides = 2 * cloth.lifts.effects_of_pick(pick) + row
        counted += np.bincount(sides, minlength=len(counted))
    down, raised = counted[: 2 * effects : 2], counted[1 : 2 * effects : 2]
    shares: NDArray[np.float64] = raised / np.maximum(down + raised, 1)
    return shares


class TakeUpGroup(NamedTuple):
    """Neighbouring ends of a repeat, from 1, and how they take up."""

    from_end: int
    to_end: int
    interlacings_per_cm: float
    contraction_pct: float


def take_up(cloth: FiguredCloth, *, picks_per_cm: float, weft_ne: float) -> Iterator[TakeUpGroup]:
    """Yield the take-up of equal groups of ends, at most 64.

    Args:
        cloth: The cloth.
        picks_per_cm: Picks of the cloth.
        weft_ne: Mean cotton count of the weft.
    """
    structure, ends = remembered_structure(cloth.weave)[1], cloth.weave.ends
    groups = min(MOST_MAPPED, max(1, ends // TAKE_UP_ENDS))
    edges = np.arange(groups + 1) * ends // groups
    # The structure is that of the smallest repeat: of one effect alone, that of its weave.
    per_end = np.resize(structure.interlacings_per_end, ends)
    sums = np.add.reduceat(per_end, edges[:-1])
    for group, mean in enumerate((sums / np.diff(edges)).tolist()):
        per_cm = mean / structure.picks * picks_per_cm
        yield TakeUpGroup(
            from_end=int(edges[group]) + 1,
            to_end=int(edges[group + 1]),
            interlacings_per_cm=per_cm,
            contraction_pct=contraction_pct(per_cm, weft_ne=weft_ne),
        )


def contraction_pct(interlacings_per_cm: float, *, weft_ne: float) -> float:
    """Return the contraction of an end by the rule of the trade, which only parts more from less.

    Contraction in per cent is 4 times the interlacings per inch over the cotton count of the weft
    ([TAYLOR-1909], p. 427-429); in medium cloths 3 times.

    Plain with 120 picks of 70s per inch contracts by 6 6/7 %:

    >>> round(contraction_pct(120 / 2.54, weft_ne=70), 4)
    6.8571
    """
    return CONTRACTION_TIMES * interlacings_per_cm * 2.54 / weft_ne


def tightest_of_parts(squares: Floats) -> Floats:
    """Return a map of at most 64 x 64 parts of a repeat: of each its tightest square.

    Args:
        squares: The tightness of all squares; see ``jamming.tightness_by_place``.
    """
    rows, columns = (parts_of_map(number) for number in squares.shape)
    by_rows = np.stack([part.max(axis=0) for part in np.split(squares, rows[1:])])
    tightest: Floats = np.maximum.reduceat(by_rows, columns, axis=1)
    return tightest


def parts_of_map(squares: int) -> NDArray[np.intp]:
    """Return the first square of each part that a line of squares is divided into for a map."""
    parts = min(MOST_MAPPED, squares)
    return np.arange(parts) * squares // parts


class Lift(NamedTuple):
    """The cords raised on the picks of a repeat, as shares in per cent.

    Attributes:
        by_picks_pct: Means of equal groups of picks, at most 64.
        heaviest_pick: The pick with most, from 1.
        left_pct: Mean of the left half of the repeat.
        right_pct: Mean of the right half.
    """

    mean_pct: float
    least_pct: float
    greatest_pct: float
    heaviest_pick: int
    left_pct: float
    right_pct: float
    by_picks_pct: tuple[float, ...]


def lift_by_picks(cloth: FiguredCloth) -> Lift:
    """Return how many cords are raised, pick by pick, and how they lie across the repeat."""
    matrix = cloth.weave.matrix
    picks, ends = matrix.shape
    middle = max(1, ends // 2)
    raised = matrix.sum(axis=1, dtype=np.int64)
    left = matrix[:, :middle].sum(dtype=np.int64)
    shares = 100 * raised / ends
    groups = min(MOST_MAPPED, picks)
    starts = np.arange(groups) * picks // groups
    means = np.add.reduceat(shares, starts) / np.diff(np.append(starts, picks))
    return Lift(
        mean_pct=float(shares.mean()),
        least_pct=float(shares.min()),
        greatest_pct=float(shares.max()),
        heaviest_pick=int(raised.argmax()) + 1,
        left_pct=100 * float(left) / (picks * middle),
        right_pct=100 * float(raised.sum() - left) / (picks * max(1, ends - middle)),
        by_picks_pct=tuple(means.tolist()),
    )
