"""The jam of a cloth: how close its threads are set where they are set closest.

Threads jam where they are, whatever the average of the cloth. A weave that repeats within 16 x 16
threads is judged by its own mean floats, any other by squares of so many threads, each with its own
mean floats and setts. The tightest square governs.

``mean_float_of_picks`` (M1) and ``mean_float_of_ends`` (M2) are those of ``geometry``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Generic, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.numbers import (
    Floats,
    Lists,
    N,
    Truth,
    anywhere,
    either,
    greatest,
    least,
    no,
    root,
)
from weavability.textiles.weave_matrix import Matrix, Repeat, transposed
from weavability.textiles.weave_structure import MAX_KEPT_CELLS, MAX_REMEMBERED_CELLS

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

MOST_HOLDING_TIMES: Final = 1.5
"""Cover of a set over that of the other up to which it helps to hold it: threads slip along those
that cross them, however close these are; ours, no source."""

JAM_TOLERANCE: Final = 1e-12
"""Relative step at which the search for the jam ends."""

MOST_STEPS: Final = 60
"""Steps after which it ends in any case: halving alone would have reached the tolerance."""

LEAST_ROOM: Final = 1e-300
"""In place of 0 under a root that divides."""

DENTS: Final = CONSTRUCTION_BOUNDS["/reed/ends_in_dents"]
"""Ends that a dent may hold."""

Interlacings = NDArray[np.int32]
"""Of each square, at most its crossings; times the squares of the largest weave they still fit."""

_STRIP_SQUARES: Final = 128

_CELLS: Final = SQUARE_THREADS * SQUARE_THREADS


def tightness_pct(
    *,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    mean_float_of_picks: N,
    mean_float_of_ends: N,
    warp_depth_mm: N | None = None,
    weft_depth_mm: N | None = None,
) -> N:
    """Return how near the cloth is to jamming; 100 is the jam of incompressible yarn.

    With D = d1 + d2 and spacing p = 1/n, an interlacing has the room q1 = M1·p1 − (M1 − 1)·d1
    along the weft and likewise q2 along the warp: the threads of a float close up side by side,
    and what is left is open for the crossing thread. The cloth jams when g(q1) + g(q2) = 1 with
    g(q) = √(1 − (q/D)²) below D and 0 above; besides, no room may be under its own diameter.
    The result is 100/s, where s multiplies both setts up to the jam. For plain weave this is
    Peirce's jamming exactly.

    A tape of width w and thickness t has the section of a racetrack: straight over w − t, with
    round edges of diameter t. Then D = t1 + t2, and the room is q1 = M1·p1 − (M1·w1 − t1): of each
    pitch what is straight does not bend.

    Args:
        ends_per_cm: Warp sett, above 0.
        picks_per_cm: Weft sett, above 0.
        warp_diameter_mm: Diameter of the ends, above 0; of tapes their width.
        weft_diameter_mm: Diameter of the picks, likewise.
        mean_float_of_picks: M1, at least 1; ``inf`` if picks never interlace.
        mean_float_of_ends: M2, at least 1; ``inf`` if ends never interlace.
        warp_depth_mm: Thickness of the ends; of round ones, and if not given, their diameter.
        weft_depth_mm: Thickness of the picks, likewise.

    Returns:
        Per cent of the jam; more than 100 for a cloth set closer than the yarn allows.

    Source: [PEIRCE-1937] for plain and round yarn, [KEMP-1958] for the racetrack; for other weaves
    the room at an interlacing is our extension.

    Peirce's square plain cloth jams at p/D = 0.8660:

    >>> round(
    ...     tightness_pct(
    ...         ends_per_cm=23.09401,
    ...         picks_per_cm=23.09401,
    ...         warp_diameter_mm=0.25,
    ...         weft_diameter_mm=0.25,
    ...         mean_float_of_picks=1,
    ...         mean_float_of_ends=1,
    ...     ),
    ...     3,
    ... )
    100.0
    """
    return _tightness(
        _Set(ends_per_cm, warp_diameter_mm, warp_depth_mm, mean_float_of_picks),
        _Set(picks_per_cm, weft_diameter_mm, weft_depth_mm, mean_float_of_ends),
    ).pct


class _Set(NamedTuple, Generic[N]):
    """One set of threads, and the mean float of those that cross it."""

    threads_per_cm: N
    width_mm: N
    depth_mm: N | None
    mean_float: N


class _Tightness(NamedTuple, Generic[N]):
    """How near a cloth is to its jam.

    Attributes:
        pct: Share of it.
        side_by_side: Whether nothing but the width of the threads of one set limits it: the threads
            that cross them are so far apart that they have room to pass one another on two levels.
    """

    pct: N
    side_by_side: Truth


def _tightness(warp: _Set[N], weft: _Set[N]) -> _Tightness[N]:
    """Return how near a cloth is to jamming; see :func:`tightness_pct`."""
    w1, w2 = warp.width_mm, weft.width_mm
    t1 = w1 if warp.depth_mm is None else warp.depth_mm
    t2 = w2 if weft.depth_mm is None else weft.depth_mm
    spread = 10.0 / (t1 + t2)
    touching: N = greatest(warp.threads_per_cm * w1, weft.threads_per_cm * w2) / 10.0
    unbound = (warp.mean_float == math.inf) | (weft.mean_float == math.inf)
    m1: N = either(unbound, 1.0, warp.mean_float)
    m2: N = either(unbound, 1.0, weft.mean_float)
    slope1, offset1 = m1 * spread / warp.threads_per_cm, (m1 * w1 - t1) * spread / 10.0
    slope2, offset2 = m2 * spread / weft.threads_per_cm, (m2 * w2 - t2) * spread / 10.0
    jam, sought = _jam_factor(
        touching=touching, slope1=slope1, offset1=offset1, slope2=slope2, offset2=offset2
    )
    ends_touch = warp.threads_per_cm * w1 >= weft.threads_per_cm * w2
    passing = (ends_touch & (slope2 - offset2 >= 1.0)) | (
        no(ends_touch) & (slope1 - offset1 >= 1.0)
    )
    side_by_side = passing & no(sought) & no(unbound)
    return _Tightness(100.0 * either(unbound, touching, jam), side_by_side)


def _jam_factor(*, touching: N, slope1: N, offset1: N, slope2: N, offset2: N) -> tuple[N, Truth]:
    """Return the factor x on both spacings at which the cloth jams, at least ``touching``.

    The rooms are u = slope1·x − offset1 and v = slope2·x − offset2 in units of D. The excess
    √(1−u²) + √(1−v²) − 1 falls with x; its root lies where both rooms are under 1, because no
    room reaches 0. Newton, kept inside a shrinking bracket; what has converged stays. Beside the
    factor it is returned whether there is a root, so that the jam is one of interlacings.
    """
    low: N = touching
    high: N = least((1.0 + offset1) / slope1, (1.0 + offset2) / slope2)
    excess = _excess(slope1 * low - offset1, slope2 * low - offset2)
    sought = (high > low) & (excess > 0.0)
    x: N = 0.5 * (low + high)
    moving = sought
    for _ in range(MOST_STEPS):
        if not anywhere(moving):
            break
        u, v = slope1 * x - offset1, slope2 * x - offset2
        g1: N = root(greatest(LEAST_ROOM, 1.0 - u * u))
        g2: N = root(greatest(LEAST_ROOM, 1.0 - v * v))
        excess = g1 + g2 - 1.0
        low, high = either(excess > 0.0, x, low), either(excess > 0.0, high, x)
        following = x + excess / (slope1 * u / g1 + slope2 * v / g2)
        moving = moving & (abs(following - x) > JAM_TOLERANCE * x)
        inside = (low < following) & (following < high)
        x = either(moving, either(inside, following, 0.5 * (low + high)), x)
    return either(sought, x, touching), sought


def _excess(u: N, v: N) -> N:
    """Return g(u) + g(v) − 1 for rooms in units of D: above 0 the threads cannot lie so close."""
    g1: N = root(greatest(0.0, 1.0 - u * u))
    g2: N = root(greatest(0.0, 1.0 - v * v))
    return g1 + g2 - 1.0


class Place(NamedTuple):
    """Where a square lies in the weave's repeat, 1-based; it may go on into the next repeat."""

    first_end: int
    last_end: int
    first_pick: int
    last_pick: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Squares:
    """The squares of a weave that may govern: any other is looser, whatever setts and yarns are.

    Attributes:
        lists: Of every square ``mean_float_of_picks`` and ``mean_float_of_ends``; the local setts
            and yarns over the mean ones of the cloth, ``ends_share``, ``picks_share``,
            ``warp_width_share``, ``warp_depth_share`` and those of the weft; and ``lies_over``,
            which is 1 if its threads can lie over one another, else 0.
        places: Of every square.
        is_whole: Whether the one square is the whole weave, in a cloth of one sett.
    """

    lists: Lists
    places: tuple[Place, ...]
    is_whole: bool

    @property
    def all_lie_over(self) -> bool:
        """Whether all threads can lie over one another."""
        return bool(self.lists.figures["lies_over"].all())

    def tightest(self, tightness_pct: Floats) -> tuple[Place, Place | None]:
        """Return the tightest square, and the tightest of those whose threads lie in one plane.

        Args:
            tightness_pct: Of every square; see :func:`squares_tightness_pct`.
        """
        in_plane = tightness_pct * (1 - self.lists.figures["lies_over"])
        tightest = self.places[int(tightness_pct.argmax())]
        return tightest, None if self.all_lie_over else self.places[int(in_plane.argmax())]


def squares_tightness_pct(
    lists: Lists,
    *,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    warp_depth_mm: N | None = None,
    weft_depth_mm: N | None = None,
) -> Floats:
    """Return how near each square is to its jam, in per cent; see :func:`tightness_pct`.

    Args:
        lists: The squares of a cloth, or of the cloths of a column; see :class:`Squares`.
        ends_per_cm: Mean warp sett of the cloth.
        picks_per_cm: Mean weft sett of the cloth.
        warp_diameter_mm: Mean diameter of the ends; of tapes their width.
        weft_diameter_mm: Mean diameter of the picks, likewise.
        warp_depth_mm: Mean thickness of the ends, if it is not their diameter.
        weft_depth_mm: Mean thickness of the picks, likewise.

    The stripes of plain in a cloth jam where plain does:

    >>> from weavability.textiles.weave_matrix import Weave
    >>> plain = Weave.from_rows(["10", "01"])
    >>> tightness = squares_tightness_pct(
    ...     squares_of(Repeat.of(plain)).lists,
    ...     ends_per_cm=60.0,
    ...     picks_per_cm=44.0,
    ...     warp_diameter_mm=0.1435,
    ...     weft_diameter_mm=0.1435,
    ... )
    >>> tightness.round(0).tolist()
    [121.0]
    """
    return _of_squares(
        lists,
        _Set(ends_per_cm, warp_diameter_mm, warp_depth_mm, 1.0 + 0 * ends_per_cm),
        _Set(picks_per_cm, weft_diameter_mm, weft_depth_mm, 1.0 + 0 * picks_per_cm),
    ).pct


def _of_squares(lists: Lists, warp: _Set[N], weft: _Set[N]) -> _Tightness[Floats]:
    """Return how near each square is to its jam; the mean floats are those of the squares."""
    of = lists.figures

    def local(of_cloth: _Set[N], system: str, threads: str, mean_float: str) -> _Set[Floats]:
        width = lists.along(of_cloth.width_mm) * of[f"{system}_width_share"]
        depth = None
        if of_cloth.depth_mm is not None:
            depth = lists.along(of_cloth.depth_mm) * of[f"{system}_depth_share"]
        in_square = lists.along(of_cloth.threads_per_cm) * of[f"{threads}_share"]
        return _Set(in_square, width, depth, of[mean_float])

    return _tightness(
        local(warp, "warp", "ends", "mean_float_of_picks"),
        local(weft, "weft", "picks", "mean_float_of_ends"),
    )


class Jam(NamedTuple, Generic[N]):
    """How near a cloth is to its jam, in per cent of it.

    Attributes:
        tightness_pct: Of its tightest square.
        mean_tightness_pct: By the mean floats of the whole weave and the mean setts.
        in_plane_tightness_pct: Of the tightest square whose threads lie in one plane; 0 if all can
            lie over one another.
        held_tightness_pct: By the mean floats, with neither set closer than
            ``MOST_HOLDING_TIMES`` the other, unless its threads touch.
    """

    tightness_pct: N
    mean_tightness_pct: N
    in_plane_tightness_pct: N
    held_tightness_pct: N


def jam_of_cloth(
    squares: Lists,
    *,
    lies_over: Truth,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    mean_float_of_picks: N,
    mean_float_of_ends: N,
    warp_depth_mm: N | None = None,
    weft_depth_mm: N | None = None,
    in_layers: Truth = False,
) -> Jam[N]:
    """Return how near a cloth is to its jam, in its tightest square and on average.

    Threads that are closer than side by side, crossed by others that are so far apart that nothing
    else jams, pass one another on two levels, as the ends of webbing and of a warp-faced rib do:
    without layers they do not lie in one plane.

    Args:
        squares: Those that may govern; none of a cloth that is judged by its mean floats.
        lies_over: Whether all threads of the cloth can lie over one another.
        ends_per_cm: Mean warp sett, above 0.
        picks_per_cm: Mean weft sett, above 0.
        warp_diameter_mm: Mean diameter of the ends, above 0; of tapes their width.
        weft_diameter_mm: Mean diameter of the picks, likewise.
        mean_float_of_picks: M1 of the whole weave.
        mean_float_of_ends: M2 of the whole weave.
        warp_depth_mm: Mean thickness of the ends, if it is not their diameter.
        weft_depth_mm: Mean thickness of the picks, likewise.
        in_layers: Whether its layers are declared, so that each is set against itself.
    """
    warp = _Set(ends_per_cm, warp_diameter_mm, warp_depth_mm, mean_float_of_picks)
    weft = _Set(picks_per_cm, weft_diameter_mm, weft_depth_mm, mean_float_of_ends)
    mean, on_levels = _tightness(warp, weft)
    held = _held(warp, weft)
    mean_in_plane: N = either(lies_over | (on_levels & no(in_layers)), 0.0, mean)
    if not squares.items:
        return Jam(mean, mean, mean_in_plane, held)
    of_squares = _of_squares(squares, warp, weft)
    worst = squares.greatest(of_squares.pct, like=mean)
    flat = 1 - squares.figures["lies_over"]
    layered: N = either(in_layers, 1.0 + 0 * ends_per_cm, 0.0)
    of_layers = squares.along(layered) > 0
    in_plane = squares.greatest(
        either(of_squares.side_by_side & no(of_layers), 0.0, of_squares.pct * flat), like=mean
    )
    has_squares = worst > 0
    return Jam(
        either(has_squares, worst, mean),
        mean,
        either(lies_over, 0.0, either(has_squares, in_plane, mean_in_plane)),
        held,
    )


def _held(warp: _Set[N], weft: _Set[N]) -> N:
    """Return the tightness with neither set closer than so many times the other, by their cover.

    Threads that touch side by side clamp those that cross them, which need not be close then.
    """
    times: N = MOST_HOLDING_TIMES * weft.width_mm / warp.width_mm
    ends: N = least(warp.threads_per_cm, times * weft.threads_per_cm)
    picks: N = least(weft.threads_per_cm, MOST_HOLDING_TIMES**2 / times * warp.threads_per_cm)
    covers = (one.threads_per_cm * one.width_mm / 10.0 for one in (warp, weft))
    clamped = greatest(*covers) >= 1.0
    return _tightness(
        warp._replace(threads_per_cm=either(clamped, warp.threads_per_cm, ends)),
        weft._replace(threads_per_cm=either(clamped, weft.threads_per_cm, picks)),
    ).pct


def remembered_squares(weave: Repeat, ends_in_dents: tuple[int, ...]) -> Squares:
    """Return the squares of a weave; see :func:`squares_of`.

    They depend on no sett, so that trials of other setts and yarns find them ready. Those of small
    weaves are remembered, and the last of larger ones, as the weaves themselves are.
    """
    if weave.weave.matrix.size > MAX_KEPT_CELLS:
        return squares_of(weave, ends_in_dents=ends_in_dents)
    if weave.weave.matrix.size > MAX_REMEMBERED_CELLS:
        return _kept(weave, ends_in_dents)
    return _remembered(weave, ends_in_dents)


@lru_cache(maxsize=256)
def _remembered(weave: Repeat, ends_in_dents: tuple[int, ...]) -> Squares:
    return squares_of(weave, ends_in_dents=ends_in_dents)


@lru_cache(maxsize=1)
def _kept(weave: Repeat, ends_in_dents: tuple[int, ...]) -> Squares:
    return squares_of(weave, ends_in_dents=ends_in_dents)


def squares_of(weave: Repeat, *, ends_in_dents: Sequence[int] = ()) -> Squares:
    """Find the squares of a weave that may govern its jam, in O(crossings).

    A square has 16 threads in either direction, or the whole repeat where that is shorter, and the
    squares begin at every eighth thread. It goes on into the next repeat at the edge. Its mean
    floats are its crossings over its interlacings; if nothing interlaces in it, over one. Threads
    can lie over one another if at least half of the picks (or ends) of the square lie over or under
    one before and one after it that are six picks apart at most, as pile picks do between two picks
    of the ground: of the crossings at which two picks are on unlike sides, one is above at three of
    four or more. In a weave whose picks raise equally many ends none does. Where floats are longer
    than half a square, a square shows one end of a float and says nothing.

    Args:
        weave: The weave at its true repeat.
        ends_in_dents: One repeat of an uneven denting; the sett of a square is that of its 16 ends
            in the reed, the closest that they have wherever the two repeats meet.

    >>> from weavability.textiles.weave_matrix import Weave
    >>> squares = squares_of(Repeat.of(Weave.from_rows(["110", "011", "101"])))
    >>> squares.lists.figures["mean_float_of_picks"], squares.is_whole
    (array([1.5]), True)
    """
    of = _all_squares(weave, ends_in_dents)
    kept = _governing(of.picks, of.ends, of.shares, of.lies_over)
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
        is_whole=is_one and bool((of.shares == 1).all()),
    )


class _AllSquares(NamedTuple):
    """All squares of a weave, by rows from its first picks; each row from its first ends.

    Attributes:
        picks: Interlacings of the picks in each.
        ends: Interlacings of the ends in each.
        lies_over: Whether its threads can lie over one another.
        shares: By columns, the sett of the ends over the mean.
        began: By columns, the first end of the repeat in which it lies.
        high: Picks of a square.
        wide: Ends of a square.
    """

    picks: Interlacings
    ends: Interlacings
    lies_over: NDArray[np.bool_]
    shares: Floats
    began: NDArray[np.intp]
    high: int
    wide: int

    def listed(self, down: NDArray[np.intp], across: NDArray[np.intp]) -> Lists:
        """Return the figures of some squares."""
        crossings = self.high * self.wide
        return listed(
            mean_float_of_picks=crossings / np.maximum(self.picks[down, across], 1),
            mean_float_of_ends=crossings / np.maximum(self.ends[down, across], 1),
            lies_over=self.lies_over[down, across].astype(np.float64),
            ends_share=self.shares[across],
        )


def _all_squares(weave: Repeat, ends_in_dents: Sequence[int]) -> _AllSquares:
    matrix = weave.weave.matrix
    picks, ends = matrix.shape
    of_ends, picks_over = _between_lines(matrix)
    of_picks, ends_over = (found.T for found in _between_lines(matrix, of_ends=True))
    high, wide = min(picks, SQUARE_THREADS), min(ends, SQUARE_THREADS)
    shows_picks = (ends <= SQUARE_THREADS) | (high * wide <= STEP_THREADS * of_picks)
    shows_ends = (picks <= SQUARE_THREADS) | (high * wide <= STEP_THREADS * of_ends)
    lies_over = (2 * picks_over >= high) & shows_picks | (2 * ends_over >= wide) & shows_ends
    shares, began = _ends_shares(ends, of_picks.shape[1], ends_in_dents)
    whole = len(shares)
    if weave.weave.has_edges and ends > SQUARE_THREADS:
        # No square goes on beyond the edge of a cloth.
        whole = (ends - SQUARE_THREADS) // STEP_THREADS + 1
    return _AllSquares(
        of_picks[:, :whole],
        of_ends[:, :whole],
        lies_over[:, :whole],
        shares[:whole],
        began[:whole],
        high,
        wide,
    )


def tightness_by_place(
    weave: Repeat,
    *,
    ends_in_dents: Sequence[int] = (),
    ends_per_cm: float,
    picks_per_cm: float,
    warp_diameter_mm: float,
    weft_diameter_mm: float,
    warp_depth_mm: float | None = None,
    weft_depth_mm: float | None = None,
) -> Floats:
    """Return how near each square of a weave is to its jam, in per cent.

    The squares and their tightness are those by which :func:`jam_of_cloth` judges, so that the
    greatest is the one that governs.

    Args:
        weave: The weave at its true repeat.
        ends_in_dents: As for :func:`squares_of`.
        ends_per_cm: As for :func:`squares_tightness_pct`, and so are the others.
        picks_per_cm: Mean weft sett of the cloth.
        warp_diameter_mm: Mean diameter of the ends.
        weft_diameter_mm: Mean diameter of the picks.
        warp_depth_mm: Mean thickness of the ends.
        weft_depth_mm: Mean thickness of the picks.

    Returns:
        An array of the squares, that of the first picks and ends first; each begins
        ``STEP_THREADS`` after the one before.
    """
    of = _all_squares(weave, ends_in_dents)
    _, ranks = np.unique(of.shares, return_inverse=True)
    # Few squares differ in sett and interlacings: each kind is computed once.
    kinds = (ranks * (_CELLS + 1) + of.picks.astype(np.int64)) * (_CELLS + 1) + of.ends
    _, first, which = np.unique(kinds, return_index=True, return_inverse=True)
    down, across = np.divmod(first, len(of.shares))
    tightness = squares_tightness_pct(
        of.listed(down, across),
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        warp_diameter_mm=warp_diameter_mm,
        weft_diameter_mm=weft_diameter_mm,
        warp_depth_mm=warp_depth_mm,
        weft_depth_mm=weft_depth_mm,
    )
    by_place: Floats = tightness[which].reshape(of.picks.shape)
    return by_place


def listed(**figures: Floats) -> Lists:
    """Return squares as lists of their figures; a share that is not given is 1."""
    ones = np.ones_like(figures["mean_float_of_picks"])
    return Lists(figures=dict.fromkeys(_SHARES, ones) | figures)


_SHARES: Final = (
    *("ends_share", "picks_share"),
    *("warp_width_share", "weft_width_share", "warp_depth_share", "weft_depth_share"),
)

NO_SQUARES: Final = listed(
    mean_float_of_picks=np.empty(0), mean_float_of_ends=np.empty(0), lies_over=np.empty(0)
)
"""The squares of a cloth that is judged by the mean floats of its whole weave."""


def _between_lines(matrix: Matrix, *, of_ends: bool = False) -> tuple[Interlacings, Interlacings]:
    """Compare the neighbouring picks of every square, or ends, the last being next to the first.

    Strips of squares bound the memory.

    Returns:
        For every square the changes from one line to the next, and the lines that lie over or under
        a near one; of shape (squares along the lines' order, squares across).
    """
    length = matrix.shape[0 if of_ends else 1]
    counted_on, squares = _threads_counted_on(length), _windows(length)
    changed, over = [], []
    for first in range(0, squares, _STRIP_SQUARES):
        last = min(first + _STRIP_SQUARES, squares)
        threads = np.arange(STEP_THREADS * first, min(STEP_THREADS * (last + 1), counted_on))
        threads %= length
        words = _words(transposed(matrix[threads]) if of_ends else matrix[:, threads])
        changed.append(_sums(np.bitwise_count(words ^ np.roll(words, 1, axis=0))))
        over.append(_sums(_lie_over(words).view(np.uint8)))
    return np.concatenate(changed, axis=1), np.concatenate(over, axis=1)


def _lie_over(words: NDArray[np.uint16]) -> NDArray[np.bool_]:
    """Return the lines that lie over or under one before them and one after them, both near."""
    before, after = (np.full(words.shape, NEAR_THREADS, dtype=np.uint8) for _ in range(2))
    for apart in range(min(NEAR_THREADS, len(words)) - 1, 0, -1):
        other = np.roll(words, apart, axis=0)
        here, there = np.bitwise_count(words & ~other), np.bitwise_count(other & ~words)
        fewer, more = np.minimum(here, there), np.maximum(here, there)
        over = (more > 0) & (OVER_TIMES * fewer <= more)
        before[over] = apart
        after[np.roll(over, -apart, axis=0)] = apart
    near: NDArray[np.bool_] = before + after <= NEAR_THREADS
    return near


def _words(lines: Matrix) -> NDArray[np.uint16]:
    """Return the crossings of every line in every square, as the bits of one number."""
    packed: NDArray[np.uint16] = np.packbits(lines, axis=1).astype(np.uint16)
    if lines.shape[1] <= STEP_THREADS:
        return packed
    joined: NDArray[np.uint16] = packed[:, :-1] << np.uint16(8) | packed[:, 1:]
    return joined


def _sums(counts: NDArray[np.uint8]) -> Interlacings:
    """Add up counts over the lines of every square."""
    lines = len(counts)
    if lines <= SQUARE_THREADS:
        whole: Interlacings = counts.sum(axis=0, dtype=np.int32)[None]
        return whole
    counted_on = np.concatenate((counts, counts[: _threads_counted_on(lines) - lines]))
    steps = counted_on.reshape(-1, STEP_THREADS, counts.shape[1]).sum(axis=1, dtype=np.int32)
    sums: Interlacings = steps[:-1] + steps[1:]
    return sums


def _windows(threads: int) -> int:
    """Squares along a repeat."""
    return 1 if threads <= SQUARE_THREADS else -(-threads // STEP_THREADS)


def _threads_counted_on(threads: int) -> int:
    """Threads of a repeat and of the next one into which the last square goes."""
    if threads <= SQUARE_THREADS:
        return threads
    return STEP_THREADS * (_windows(threads) + 1)


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


def _governing(
    of_picks: Interlacings, of_ends: Interlacings, shares: Floats, lies_over: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Return the squares that no other surpasses in sett and in both interlacings.

    Those whose threads can lie over one another are compared among themselves only.
    """
    kept: list[int] = []
    order = _ranked(shares)
    for over in (False, True):
        surpassed = np.full(_CELLS + 2, -1)
        for columns in order:
            here = np.flatnonzero(lies_over[:, columns] == over)
            if not len(here):
                continue
            down, across = np.divmod(here, len(columns))
            flat = down * len(shares) + columns[across]
            kept += _surpassing(of_picks.flat[flat], of_ends.flat[flat], flat, surpassed)
    return np.array(kept)


def _ranked(shares: Floats) -> list[NDArray[np.intp]]:
    """Return the columns of squares by their sett, the closest first."""
    _, which = np.unique(-shares, return_inverse=True)
    order = np.argsort(which, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(which[order])) + 1)


def _surpassing(
    of_picks: Interlacings,
    of_ends: Interlacings,
    flat: NDArray[np.intp],
    surpassed: NDArray[np.int64],
) -> list[int]:
    """Return squares that are not surpassed, and write down what they surpass.

    Args:
        of_picks: Interlacings of the picks in each square.
        of_ends: Interlacings of the ends.
        flat: The squares.
        surpassed: For each number of interlacings of the picks, the most interlacings of the ends
            among squares that have as many or more.
    """
    # The first square counts of those with the same interlacings.
    size = int(flat.max()) + 1
    best = np.full(len(surpassed), -1)
    np.maximum.at(best, of_picks, of_ends * size + (size - 1 - flat))
    most, first = np.floor_divide(best, size), size - 1 - best % size
    as_many = np.maximum.accumulate(most[::-1])[::-1]
    beyond = np.maximum(surpassed[:-1], np.append(as_many[1:], -1)[:-1])
    kept = np.flatnonzero(most[:-1] > beyond)
    np.maximum(surpassed, as_many, out=surpassed)
    return [int(place) for place in first[kept]]
