"""The squares of a weave that may govern its jam: those where its threads are closest."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import accumulate
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.numbers import Floats, Lists, no, passed
from weavability.textiles.sett_thresholds import sett_thresholds
from weavability.textiles.square_lines import (
    SQUARE_THREADS,
    STEP_THREADS,
    Interlacings,
    compare_lines,
)
from weavability.textiles.weave_matrix import Repeat, turned
from weavability.textiles.weave_structure import MAX_KEPT_CELLS, MAX_REMEMBERED_CELLS

DENTS: Final = CONSTRUCTION_BOUNDS["/reed/ends_in_dents"]
"""Ends that a dent may hold."""

_STRIP_CELLS: Final = 1 << 17
"""Squares of a strip of a table of them."""

_CELLS: Final = SQUARE_THREADS * SQUARE_THREADS


class Place(NamedTuple):
    """Where a square lies in the weave's repeat, 1-based; it may go on into the next repeat."""

    first_end: int
    last_end: int
    first_pick: int
    last_pick: int


class LooseSquare(NamedTuple):
    """The square than which one in a hundred is as loose or looser, by its interlacings.

    Attributes:
        mean_float_of_picks: Its crossings over the interlacings of its picks.
        mean_float_of_ends: Likewise of its ends.
        picks_share: The sett of its picks over the mean.
        place: Where it lies, or the first one like it.
    """

    mean_float_of_picks: float
    mean_float_of_ends: float
    picks_share: float
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Squares:
    """The squares of a weave that may govern: any other is looser, whatever setts and yarns are.

    Attributes:
        lists: Of every square ``mean_float_of_picks`` and ``mean_float_of_ends``; ``side_share``
            of :func:`greater_side_share`, or half of a part of a larger weave; ``picks_per_shed``
            of the whole weave; the local setts and yarns over the mean ones of the cloth,
            ``ends_share``, ``picks_share``, ``warp_width_share``, ``warp_depth_share`` and those
            of the weft; ``lies_over``, which is 1 if its threads can lie over one another, else 0;
            and ``is_shared``, which is 1 for all threads of declared layers that share those which
            cross them.
        places: Of every square.
        is_whole: Whether the one square is the whole weave, in a cloth of one sett.
        loose: The loosest hundredth of all squares.
        all_lie_over: Whether all threads can lie over one another.
    """

    lists: Lists
    places: tuple[Place, ...]
    is_whole: bool
    loose: LooseSquare
    all_lie_over: bool = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "all_lie_over", bool(self.lists.figures["lies_over"].all()))

    def tightest(self, tightness_pct: Floats) -> tuple[Place, Place | None]:
        """Return the tightest square, and the tightest of those whose threads lie in one plane.

        Args:
            tightness_pct: Of every square; see ``jamming``.
        """
        over_pct = sett_thresholds().sett_over_pct
        over = (self.lists.figures["lies_over"] > 0) & no(passed(tightness_pct, over_pct))
        in_plane = np.where(over, 0.0, tightness_pct)
        tightest = self.places[int(tightness_pct.argmax())]
        return tightest, None if over.all() else self.places[int(in_plane.argmax())]


def remembered_squares(
    weave: Repeat, ends_in_dents: tuple[int, ...], taken_up: bytes = b""
) -> Squares:
    """Return the squares of a weave; see :func:`squares_of`.

    They depend on no sett, so that trials of other setts and yarns find them ready. Those of small
    weaves are remembered, and the last of larger ones, as the weaves themselves are.
    """
    if weave.weave.matrix.size > MAX_KEPT_CELLS:
        return squares_of(weave, ends_in_dents=ends_in_dents, taken_up=taken_up)
    if weave.weave.matrix.size > MAX_REMEMBERED_CELLS:
        return _kept(weave, ends_in_dents, taken_up)
    return _remembered(weave, ends_in_dents, taken_up)


@lru_cache(maxsize=256)
def _remembered(weave: Repeat, ends_in_dents: tuple[int, ...], taken_up: bytes) -> Squares:
    return squares_of(weave, ends_in_dents=ends_in_dents, taken_up=taken_up)


@lru_cache(maxsize=1)
def _kept(weave: Repeat, ends_in_dents: tuple[int, ...], taken_up: bytes) -> Squares:
    return squares_of(weave, ends_in_dents=ends_in_dents, taken_up=taken_up)


def squares_of(
    weave: Repeat, *, ends_in_dents: Sequence[int] = (), taken_up: bytes = b""
) -> Squares:
    """Find the squares of a weave that may govern its jam, in O(crossings).

    A square has 16 threads in either direction, or the whole repeat where that is shorter, and the
    squares begin at every eighth thread. It goes on into the next repeat at the edge. Its mean
    floats are its crossings over its interlacings; if nothing interlaces in it, over one. Threads
    can lie over one another if at least half of the picks (or ends) of the square lie over or under
    one before and one after it that are six picks apart at most, as pile picks do between two picks
    of the ground: of the crossings at which two picks are on unlike sides, more than one in four,
    one is above at three of four or more. One of two that are no neighbours lies so over or under a
    neighbour of its own, as the outer pile picks do over the ground: those of a honeycomb do not.
    Where they change places in both directions, as at the corners of a figure in two cloths, a
    square shows neither: it lies over likewise if the four about its corners do and it interlaces
    no more than they do at most. In a weave whose picks raise equally many ends none does. Where
    floats are longer than half a square, a square shows one end of a float and says nothing.

    Args:
        weave: The weave at its true repeat.
        ends_in_dents: One repeat of an uneven denting; the sett of a square is that of its 16 ends
            in the reed, the closest that they have wherever the two repeats meet.
        taken_up: Of each pick of a repeat 0 if the take-up stops on it, so that it lies at the one
            before; empty if it never does. The sett of a square is that of its picks.

    >>> from weavability.textiles.weave_matrix import Weave
    >>> squares = squares_of(Repeat.of(Weave.from_rows(["110", "011", "101"])))
    >>> squares.lists.figures["mean_float_of_picks"], squares.is_whole
    (array([1.5]), True)
    """
    of = all_squares(weave, ends_in_dents, taken_up)
    setts = np.unique(of.rows).tolist() if of.picks.size > 1 else ()
    kept = np.concatenate([[0]] if not setts else [_governing_of_rows(of, sett) for sett in setts])
    down, across = np.unravel_index(kept, of.picks.shape)
    first_ends = STEP_THREADS * across + of.began[across]
    # Ends in even dents have the mean sett, also in a square that is all of the weave.
    is_one = max(weave.weave.matrix.shape) <= SQUARE_THREADS
    return Squares(
        lists=of.listed(down, across),
        places=tuple(
            Place(end + 1, end + of.wide, pick + 1, pick + of.high)
            for end, pick in zip(first_ends.tolist(), (STEP_THREADS * down).tolist(), strict=True)
        ),
        is_whole=is_one and bool((of.shares == 1).all() and (of.rows == 1).all()),
        loose=_loose(of),
    )


class AllSquares(NamedTuple):
    """All squares of a weave, by rows from its first picks; each row from its first ends.

    Attributes:
        picks: Interlacings of the picks in each.
        ends: Interlacings of the ends in each.
        lies_over: Whether its threads can lie over one another.
        shares: By columns, the sett of the ends over the mean.
        rows: By rows, the sett of the picks over the mean.
        began: By columns, the first end of the repeat in which it lies.
        high: Picks of a square.
        wide: Ends of a square.
        side_share: See ``Squares``, as for the other.
        picks_per_shed: Picks of one shed.
    """

    picks: Interlacings
    ends: Interlacings
    lies_over: NDArray[np.bool_]
    shares: Floats
    rows: Floats
    began: NDArray[np.intp]
    high: int
    wide: int
    side_share: float
    picks_per_shed: float

    def kinds(self) -> tuple[Lists, NDArray[np.int32]]:
        """Return the figures of squares that differ in them, and of which kind each square is.

        Strips of squares bound the memory.
        """
        number_of: dict[int, int] = {}
        places: list[int] = []
        across = len(self.shares)
        which = np.empty((len(self.rows), across), dtype=np.int32)
        for rows in _strips_of_rows(len(self.rows), across):
            keys, first, inverse = np.unique(
                self._keys(rows), return_index=True, return_inverse=True
            )
            numbers = [number_of.setdefault(key, len(number_of)) for key in keys.tolist()]
            new = np.array(numbers) >= len(places)
            places += (first[new] + rows.start * across).tolist()
            which[rows] = np.array(numbers)[inverse].reshape(-1, across)
        return self.listed(*np.divmod(np.array(places), across)), which

    def _keys(self, rows: slice) -> NDArray[np.int64]:
        """Return a number for each square of some rows, alike for squares of one kind."""
        _, ranks = np.unique(self.shares, return_inverse=True)
        setts, of_rows = np.unique(self.rows, return_inverse=True)
        by_sett = ranks * len(setts) + of_rows[rows, None]
        picks, ends = self.picks[rows].astype(np.int64), self.ends[rows]
        keys: NDArray[np.int64] = (by_sett * (_CELLS + 1) + picks) * (_CELLS + 1) + ends
        return keys

    def listed(self, down: NDArray[np.intp], across: NDArray[np.intp]) -> Lists:
        """Return the figures of some squares."""
        crossings = self.high * self.wide
        return listed(
            mean_float_of_picks=crossings / np.maximum(self.picks[down, across], 1),
            mean_float_of_ends=crossings / np.maximum(self.ends[down, across], 1),
            lies_over=self.lies_over[down, across].astype(np.float64),
            ends_share=self.shares[across],
            picks_share=self.rows[down],
            side_share=np.full(len(down), self.side_share),
            picks_per_shed=np.full(len(down), self.picks_per_shed),
        )


def all_squares(weave: Repeat, ends_in_dents: Sequence[int], taken_up: bytes = b"") -> AllSquares:
    """Return all squares of a weave; see :func:`squares_of`."""
    matrix = weave.weave.matrix
    picks, ends = matrix.shape
    of_ends, picks_over = compare_lines(matrix)
    of_picks, ends_over = (found.T for found in compare_lines(matrix, of_ends=True))
    high, wide = min(picks, SQUARE_THREADS), min(ends, SQUARE_THREADS)
    shows_picks = (ends <= SQUARE_THREADS) | (high * wide <= STEP_THREADS * of_picks)
    shows_ends = (picks <= SQUARE_THREADS) | (high * wide <= STEP_THREADS * of_ends)
    lies_over = (2 * picks_over >= high) & shows_picks | (2 * ends_over >= wide) & shows_ends
    shares, began = _ends_shares(ends, of_picks.shape[1], ends_in_dents)
    whole = windows = len(shares)
    if weave.weave.has_edges and ends > SQUARE_THREADS:
        # No square goes on beyond the edge of a cloth.
        whole = (ends - SQUARE_THREADS) // STEP_THREADS + 1
    of_picks, of_ends, lies_over = of_picks[:, :whole], of_ends[:, :whole], lies_over[:, :whole]
    return AllSquares(
        of_picks,
        of_ends,
        lies_over | _between_those_over(of_picks, of_ends, lies_over, has_edges=whole < windows),
        shares[:whole],
        _picks_shares(picks, of_picks.shape[0], taken_up),
        began[:whole],
        high,
        wide,
        greater_side_share(weave) if max(picks, ends) <= SQUARE_THREADS else EVEN_SIDES,
        weave.picks_per_shed,
    )


def _between_those_over(
    of_picks: Interlacings,
    of_ends: Interlacings,
    lies_over: NDArray[np.bool_],
    *,
    has_edges: bool,
) -> NDArray[np.bool_]:
    """Return the squares between four that lie over, which interlace as much at most.

    Each of the four has a quarter of the square in it.
    """
    if lies_over.size == 1:
        return lies_over
    between: NDArray[np.bool_] = np.logical_and.reduce([*_at_corners(lies_over)])
    if has_edges:
        between[:, [0, -1]] = False
    if not between.any():
        return between
    for interlacings in (of_picks, of_ends):
        between &= np.maximum.reduce([*_at_corners(interlacings)]) >= interlacings
    return between


def _at_corners(cells: NDArray[Any]) -> Iterator[NDArray[Any]]:
    """Yield what is at the four cells about the corners of each; the sides meet one another."""
    for down in (-1, 1):
        moved = turned(cells, down)
        yield np.concatenate((moved[:, -1:], moved[:, :-1]), axis=1)
        yield np.concatenate((moved[:, 1:], moved[:, :1]), axis=1)


EVEN_SIDES: Final = 0.5
"""Share of the threads on either side of one that crosses them, at least on the fuller side."""


def greater_side_share(weave: Repeat) -> float:
    """Return the share of the threads that lie on the fuller side of those that cross them.

    >>> from weavability.textiles.weave_matrix import Weave
    >>> greater_side_share(Repeat.of(Weave.from_rows(["1110", "0111", "1011", "1101"])))
    0.75
    """
    up = float(weave.weave.matrix.mean())
    return max(up, 1.0 - up)


def listed(**figures: Floats) -> Lists:
    """Return squares as lists of their figures; a share that is not given is 1."""
    ones = np.ones_like(figures["mean_float_of_picks"])
    others = {"is_shared": 0 * ones, "side_share": EVEN_SIDES * ones, "picks_per_shed": ones}
    return Lists(figures=dict.fromkeys(_SHARES, ones) | others | figures)


_SHARES: Final = (
    *("ends_share", "picks_share"),
    *("warp_width_share", "weft_width_share", "warp_depth_share", "weft_depth_share"),
)

NO_SQUARES: Final = listed(
    mean_float_of_picks=np.empty(0), mean_float_of_ends=np.empty(0), lies_over=np.empty(0)
)
"""The squares of a cloth that is judged by the mean floats of its whole weave."""


def _ends_shares(
    ends: int, windows: int, ends_in_dents: Sequence[int]
) -> tuple[Floats, NDArray[np.intp]]:
    """Return the sett of each square's ends over the mean, and where its repeat begins.

    The repeats of weave and denting meet at every place that their common divisor allows; the one
    at which the ends are closest counts.
    """
    kinds = set(ends_in_dents)
    # A denting that no reed has is refused when the reed is read.
    even = len(kinds) < 2 or not all(type(kind) is int and kind in DENTS for kind in kinds)
    dented = 0 if even else sum(ends_in_dents)
    if even or math.lcm(ends, dented) <= SQUARE_THREADS:
        return np.ones(windows), np.zeros(windows, dtype=np.intp)
    local = _local_setts(ends_in_dents)
    common = math.gcd(ends, dented)
    # Row k has the places that lie k ends beyond a multiple of the common divisor.
    by_meeting = local.reshape(-1, common).T
    start = STEP_THREADS * np.arange(windows) % common
    phase = by_meeting.argmax(axis=1)[start] * common + start
    # The repeat that begins there: start + repeats x ends is phase, counted round the denting.
    round_ = dented // common
    inverse = pow(ends // common, -1, round_) if round_ > 1 else 0
    repeats = (phase - STEP_THREADS * np.arange(windows)) // common * inverse % round_
    return by_meeting.max(axis=1)[start], repeats * ends


def _picks_shares(picks: int, windows: int, taken_up: bytes) -> Floats:
    """Return the sett of each row's picks over the mean.

    If the take-up repeats on more picks than the weave, the closest counts that a row has anywhere.
    """
    if not taken_up:
        return np.ones(windows)
    moves = np.frombuffer(taken_up, dtype=np.uint8).astype(np.int64)
    high, repeats = min(picks, SQUARE_THREADS), -(-len(moves) // picks)
    edges = np.concatenate(([0], np.cumsum(np.resize(moves, len(moves) + high))))
    travels = np.maximum(edges[high:][: len(moves)] - edges[: len(moves)], 1)
    starts = STEP_THREADS * np.arange(windows)[:, None] + picks * np.arange(repeats)
    closest = travels[starts % len(moves)].min(axis=1)
    # Rounded, so that rows of one sett have one figure.
    shares: Floats = (high * moves.mean() / closest).round(12)
    return shares


def _local_setts(ends_in_dents: Sequence[int]) -> Floats:
    """Return the sett of 16 ends over the mean sett, beginning with each end of a denting."""
    pitches: list[float] = []
    empty = 0
    for ends in ends_in_dents:
        if ends:
            pitches += [empty + 1 / ends] + [1 / ends] * (ends - 1)
        empty = 0 if ends else empty + 1
    pitches[0] += empty
    ends_in_all = len(pitches)
    edges = np.cumsum(np.resize(pitches, ends_in_all + SQUARE_THREADS + 1))
    of_squares = edges[SQUARE_THREADS : SQUARE_THREADS + ends_in_all] - edges[:ends_in_all]
    of_squares = np.roll(of_squares, 1)
    mean_pitch = len(ends_in_dents) / ends_in_all
    # Rounded, so that squares of one sett have one figure.
    shares: Floats = (SQUARE_THREADS * mean_pitch / of_squares).round(12)
    return shares


def _governing_of_rows(of: AllSquares, sett: float) -> NDArray[np.intp]:
    """Return the squares that no other surpasses of the rows with one sett of the picks."""
    rows = np.flatnonzero(of.rows == sett)
    kept = _governing(of.picks[rows], of.ends[rows], of.shares, of.lies_over[rows])
    down, across = np.divmod(kept, len(of.shares))
    found: NDArray[np.intp] = rows[down] * len(of.shares) + across
    return found


def _governing(
    of_picks: Interlacings, of_ends: Interlacings, shares: Floats, lies_over: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Return the squares that no other surpasses in sett and in both interlacings.

    Those whose threads can lie over one another are compared among themselves only.
    """
    size = lies_over.size
    surpassed = np.full((2, _CELLS + 2), -1)
    kept: tuple[list[int], list[int]] = ([], [])
    for columns in _ranked(shares):
        best = np.full((2, _CELLS + 2), -1)
        for rows in _strips_of_rows(len(lies_over), len(columns)):
            flat = np.arange(len(lies_over))[rows, None] * len(shares) + columns
            ranked = of_ends[rows, columns] * np.int64(size) + (size - 1 - flat)
            at = of_picks[rows, columns] + best.shape[1] * lies_over[rows, columns].astype(np.intp)
            np.maximum.at(best.ravel(), at.ravel(), ranked.ravel())
        for over_or_not in (0, 1):
            if best[over_or_not].max() >= 0:
                found = _surpassing(best[over_or_not], size, surpassed[over_or_not])
                kept[over_or_not].extend(found)
    return np.array(kept[0] + kept[1])


def _strips_of_rows(rows: int, across: int) -> Iterator[slice]:
    """Yield slices of the rows of a table of squares, which bound the memory."""
    step = max(1, _STRIP_CELLS // across)
    for first in range(0, rows, step):
        yield slice(first, first + step)


_LOOSEST_SHARE: Final = 0.01
"""Share of a cloth that is loose enough to be an area of it; ours, no source."""


def _firmness_counted(of: AllSquares) -> Counter[float]:
    """Count the squares by how often they interlace in a length."""
    counted: Counter[float] = Counter()
    for rows in _strips_of_rows(*of.picks.shape):
        for sett in np.unique(of.rows[rows]).tolist():
            alike = np.flatnonzero(of.rows[rows] == sett) + rows.start
            times = np.bincount((of.picks[alike] + of.ends[alike]).ravel())
            interlacings = np.flatnonzero(times)
            values = interlacings * sett
            counted.update(dict(zip(values.tolist(), times[interlacings].tolist(), strict=True)))
    return counted


def _loose(of: AllSquares) -> LooseSquare:
    """Return the square than which one in a hundred is as loose or looser."""
    down, across = (0, 0) if of.picks.size == 1 else _loosest(of)
    crossings, first_pick = of.high * of.wide, STEP_THREADS * down + 1
    first_end = STEP_THREADS * across + int(of.began[across]) + 1
    return LooseSquare(
        crossings / max(int(of.picks[down, across]), 1),
        crossings / max(int(of.ends[down, across]), 1),
        float(of.rows[down]),
        Place(first_end, first_end + of.wide - 1, first_pick, first_pick + of.high - 1),
    )


def _loosest(of: AllSquares) -> tuple[int, int]:
    """Return row and column of that square, the first one like it."""
    counted = _firmness_counted(of)
    rising = sorted(counted)
    before = accumulate(counted[value] for value in rising)
    rank = int(_LOOSEST_SHARE * (of.picks.size - 1))
    at = next(value for value, number in zip(rising, before, strict=True) if number > rank)
    return next(
        (rows.start + int(row), int(column))
        for rows in _strips_of_rows(*of.picks.shape)
        for row, column in np.argwhere(
            (of.picks[rows] + of.ends[rows]) * of.rows[rows, None] == at
        )[:1]
    )


def _ranked(shares: Floats) -> list[NDArray[np.intp]]:
    """Return the columns of squares by their sett, the closest first."""
    _, which = np.unique(-shares, return_inverse=True)
    order = np.argsort(which, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(which[order])) + 1)


def _surpassing(best: NDArray[np.int64], size: int, surpassed: NDArray[np.int64]) -> list[int]:
    """Return squares that are not surpassed, and write down what they surpass.

    Args:
        best: For each number of interlacings of the picks, the most interlacings of the ends, times
            the number of all squares, plus how many of these come after the first square that has
            them; -1 if no square has so many.
        size: The number of all squares.
        surpassed: For each number of interlacings of the picks, the most interlacings of the ends
            among squares that have as many or more.
    """
    most, first = np.floor_divide(best, size), size - 1 - best % size
    as_many = np.maximum.accumulate(most[::-1])[::-1]
    beyond = np.maximum(surpassed[:-1], np.append(as_many[1:], -1)[:-1])
    kept = np.flatnonzero(most[:-1] > beyond)
    np.maximum(surpassed, as_many, out=surpassed)
    return [int(place) for place in first[kept]]
