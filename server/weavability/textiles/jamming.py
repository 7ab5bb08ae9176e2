"""The jam of a cloth: how close its threads are set where they are set closest.

Threads jam where they are, whatever the average of the cloth. A weave that repeats within 16 x 16
threads is judged by its own mean floats, any other by squares of so many threads, each with its own
mean floats and setts (``weave_squares``). The tightest square governs.

``mean_float_of_picks`` (M1) and ``mean_float_of_ends`` (M2) are those of ``geometry``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Generic, NamedTuple

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
    passed,
    reached,
    root,
)
from weavability.textiles.sett_thresholds import sett_thresholds
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_squares import EVEN_SIDES, all_squares

JAM_TOLERANCE: Final = 1e-12
"""Relative step at which the search for the jam ends."""

MOST_STEPS: Final = 60
"""Steps after which it ends in any case: halving alone would have reached the tolerance."""

LEAST_ROOM: Final = 1e-300
"""In place of 0 under a root that divides."""


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
        side_by_side: Whether nothing but the width of the threads of one set limits it, up to
            ``sett_jammed_error_pct``; beyond it, if they have room to pass, and take no more than a
            cloth of its width may, and those on one side of the threads that cross them take at
            most ``sett_abreast_pct``.
        has_passing_room: Whether the closer set can pass one another on levels: between two threads
            that cross it there is room for those that change sides there; if they are fewer than
            two, for one more, up to two; and those take at most ``sett_abreast_pct`` side by side.
        has_gap: Whether nothing but the width of the closer set limits it, there is such room for
            any that change sides, and half of them lie on either side, as in published webbing, or
            the cloth is wider than webbing: too many abreast are all that is against it.
    """

    pct: N
    side_by_side: Truth
    has_passing_room: Truth
    has_gap: Truth


def _tightness(
    warp: _Set[N],
    weft: _Set[N],
    side_share: N | float = EVEN_SIDES,
    picks_per_shed: N | float = 1.0,
    most_passing: N | float = math.inf,
) -> _Tightness[N]:
    """Return how near a cloth is to jamming; see :func:`tightness_pct` and :func:`jam_of_cloth`.

    ``most_passing`` is the greatest share of their room that threads side by side take that have
    room to pass.
    """
    usual = sett_thresholds()
    w1, w2 = warp.width_mm, weft.width_mm
    t1 = w1 if warp.depth_mm is None else warp.depth_mm
    t2 = w2 if weft.depth_mm is None else weft.depth_mm
    spread = 10.0 / (t1 + t2)
    of_ends, of_picks = warp.threads_per_cm * w1 / 10.0, weft.threads_per_cm * w2 / 10.0
    touching: N = greatest(of_ends, of_picks)
    unbound = (warp.mean_float == math.inf) | (weft.mean_float == math.inf)
    m1: N = either(unbound, 1.0, warp.mean_float)
    m2: N = either(unbound, 1.0, weft.mean_float)
    slope1, offset1 = m1 * spread / warp.threads_per_cm, (m1 * w1 - t1) * spread / 10.0
    slope2, offset2 = m2 * spread / weft.threads_per_cm, (m2 * w2 - t2) * spread / 10.0
    jam, sought = _jam_factor(
        touching=touching, slope1=slope1, offset1=offset1, slope2=slope2, offset2=offset2
    )
    ends_touch = of_ends >= of_picks
    apart = (ends_touch & (slope2 - offset2 >= 1.0)) | (no(ends_touch) & (slope1 - offset1 >= 1.0))
    # Picks of one shed lie side by side, and the ends change sides between those of two sheds.
    changing_ends, changing_picks = of_ends * picks_per_shed / m2, of_picks / m1
    between_sheds = (10.0 / weft.threads_per_cm - w2) * picks_per_shed
    between_ends = 10.0 / warp.threads_per_cm - w1
    ends_have_gap = reached(between_sheds, _threads_to_pass(changing_ends) * t1)
    picks_have_gap = reached(between_ends, _threads_to_pass(changing_picks) * t2)
    most_touching, most_abreast = usual.most_touching, usual.most_abreast
    has_gap = (ends_touch & ends_have_gap) | (no(ends_touch) & picks_have_gap)
    changing: N = either(ends_touch, changing_ends, changing_picks)
    passing = no(unbound) & has_gap & no(passed(changing, most_abreast))
    webbed = passing & no(
        passed(touching, most_passing) | passed(touching * side_share, most_abreast)
    )
    close = no(passed(touching, most_touching)) | webbed
    is_loose = apart & no(sought) & no(unbound)
    pct: N = 100.0 * either(unbound, touching, jam)
    is_countable: Truth = (side_share <= EVEN_SIDES) | (most_passing < math.inf)
    return _Tightness(pct, is_loose & close, passing, is_loose & has_gap & is_countable)


def _threads_to_pass(changing: N) -> N:
    """Return the threads for which a gap has room if those that change sides in it can pass.

    Args:
        changing: Those threads, side by side over the room that they have.
    """
    return least(2.0 + 0 * changing, 1.0 + changing)


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
        lists: The squares of a cloth, or of the cloths of a column; see
            ``weave_squares``.
        ends_per_cm: Mean warp sett of the cloth.
        picks_per_cm: Mean weft sett of the cloth.
        warp_diameter_mm: Mean diameter of the ends; of tapes their width.
        weft_diameter_mm: Mean diameter of the picks, likewise.
        warp_depth_mm: Mean thickness of the ends, if it is not their diameter.
        weft_depth_mm: Mean thickness of the picks, likewise.

    The stripes of plain in a cloth jam where plain does:

    >>> from weavability.textiles.weave_matrix import Repeat, Weave
    >>> from weavability.textiles.weave_squares import squares_of
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
        math.inf + 0 * ends_per_cm,
    ).pct


def _of_squares(lists: Lists, warp: _Set[N], weft: _Set[N], most_passing: N) -> _Tightness[Floats]:
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
        of["side_share"],
        of["picks_per_shed"],
        lists.along(most_passing),
    )


class Jam(NamedTuple, Generic[N]):
    """How near a cloth is to its jam, in per cent of it.

    Attributes:
        tightness_pct: Of its tightest square.
        mean_tightness_pct: By the mean floats of the whole weave and the mean setts.
        in_plane_tightness_pct: Of the tightest square whose threads lie in one plane; 0 if all can
            lie over one another.
        gapless_tightness_pct: Of the tightest of those that have no gap to pass, so that it is no
            matter how many are abreast of one another; 0 likewise.
        held_tightness_pct: By the mean floats, with neither set closer than
            ``sett_holding_times`` the other, unless its threads touch.
    """

    tightness_pct: N
    mean_tightness_pct: N
    in_plane_tightness_pct: N
    gapless_tightness_pct: N
    held_tightness_pct: N


def is_webbing(width_cm: N) -> Truth:
    """Return whether a cloth is so narrow that any number of its ends may pass one another."""
    return no(passed(width_cm, sett_thresholds().sett_abreast_width_cm))


def jam_of_cloth(
    squares: Lists,
    *,
    lies_over: Truth,
    width_cm: N,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    mean_float_of_picks: N,
    mean_float_of_ends: N,
    warp_depth_mm: N | None = None,
    weft_depth_mm: N | None = None,
    holding_ends_per_cm: N | None = None,
    holding_picks_per_cm: N | None = None,
    side_share: N | float = EVEN_SIDES,
    picks_per_shed: N | float = 1.0,
) -> Jam[N]:
    """Return how near a cloth is to its jam, in its tightest square and on average.

    Threads that are closer than side by side, crossed by others that are so far apart that nothing
    else jams, pass one another on levels, as the ends of webbing and of a warp-faced rib do:
    they do not lie in one plane; in cloth wider than webbing no closer than in the closest ribs.
    Nor do those of a declared layer: then it has more levels. Layers
    that share the threads which cross them are set each by itself only if these leave room to pass.
    No threads lie over one another at more than ``sett_over_pct``.

    Args:
        squares: Those that may govern; none of a cloth that is judged by its mean floats.
        lies_over: Whether all threads of the cloth can lie over one another.
        width_cm: Of the cloth.
        ends_per_cm: Mean warp sett, above 0.
        picks_per_cm: Mean weft sett, above 0.
        warp_diameter_mm: Mean diameter of the ends, above 0; of tapes their width.
        weft_diameter_mm: Mean diameter of the picks, likewise.
        mean_float_of_picks: M1 of the whole weave.
        mean_float_of_ends: M2 of the whole weave.
        warp_depth_mm: Mean thickness of the ends, if it is not their diameter.
        weft_depth_mm: Mean thickness of the picks, likewise.
        holding_ends_per_cm: Of a layer, all ends that its picks interlace with; its own ones if not
            given.
        holding_picks_per_cm: All picks that its ends interlace with, likewise.
        side_share: Share of the threads on the fuller side of those that cross them.
        picks_per_shed: Picks after one another that lie in the same shed, at least.
    """
    warp = _Set(ends_per_cm, warp_diameter_mm, warp_depth_mm, mean_float_of_picks)
    weft = _Set(picks_per_cm, weft_diameter_mm, weft_depth_mm, mean_float_of_ends)
    usual = sett_thresholds()
    most_passing: N = either(is_webbing(width_cm), math.inf, 0 * width_cm + usual.most_passing)
    of_mean = _tightness(warp, weft, side_share, picks_per_shed, most_passing)
    mean = of_mean.pct
    holding_ends: N = ends_per_cm if holding_ends_per_cm is None else holding_ends_per_cm
    holding_picks: N = picks_per_cm if holding_picks_per_cm is None else holding_picks_per_cm
    held_warp, held_weft = _held(
        warp._replace(threads_per_cm=holding_ends), weft._replace(threads_per_cm=holding_picks)
    )
    is_held_otherwise = (held_warp.threads_per_cm != ends_per_cm) | (
        held_weft.threads_per_cm != picks_per_cm
    )
    held = _tightness(held_warp, held_weft).pct if anywhere(is_held_otherwise) else mean
    over_pct = usual.sett_over_pct
    mean_over = lies_over & no(passed(mean, over_pct))
    mean_in_plane: N = either(mean_over | of_mean.side_by_side, 0.0, mean)
    mean_gapless: N = either(of_mean.has_gap, 0.0, mean_in_plane)
    if not squares.items:
        return Jam(mean, mean, mean_in_plane, mean_gapless, held)
    of_squares = _of_squares(squares, warp, weft, most_passing)
    by_layer = (squares.figures["is_shared"] > 0) & (
        of_squares.has_passing_room | of_squares.side_by_side
    )
    pct: Floats = either(by_layer, 0.0, of_squares.pct)
    worst = squares.greatest(pct, like=mean)
    over = (squares.figures["lies_over"] > 0) & no(passed(pct, over_pct))
    pct_in_plane: Floats = either(of_squares.side_by_side | over, 0.0, pct)
    in_plane = squares.greatest(pct_in_plane, like=mean)
    gapless = squares.greatest(either(of_squares.has_gap, 0.0, pct_in_plane), like=mean)
    has_squares = worst > 0
    all_over = lies_over & no(passed(worst, over_pct))
    return Jam(
        either(has_squares, worst, mean),
        mean,
        # A row of a column may have no squares where others have some.
        either(has_squares, either(all_over, 0.0, in_plane), mean_in_plane),
        either(has_squares, either(all_over, 0.0, gapless), mean_gapless),
        held,
    )


def tightness_by_place(
    weave: Repeat,
    *,
    ends_in_dents: Sequence[int] = (),
    taken_up: bytes = b"",
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
        ends_in_dents: As for :func:`squares_of`, and so is ``taken_up``.
        taken_up: See there.
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
    # Few squares differ in sett and interlacings: each kind is computed once.
    kinds, which = all_squares(weave, ends_in_dents, taken_up).kinds()
    tightness = squares_tightness_pct(
        kinds,
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        warp_diameter_mm=warp_diameter_mm,
        weft_diameter_mm=weft_diameter_mm,
        warp_depth_mm=warp_depth_mm,
        weft_depth_mm=weft_depth_mm,
    )
    by_place: Floats = tightness[which]
    return by_place


def _held(warp: _Set[N], weft: _Set[N]) -> tuple[_Set[N], _Set[N]]:
    """Return warp and weft with neither set closer than so many times the other, by their cover.

    Threads that touch side by side clamp those that cross them, which need not be close then.
    """
    holding = sett_thresholds().sett_holding_times
    times: N = holding * weft.width_mm / warp.width_mm
    ends: N = least(warp.threads_per_cm, times * weft.threads_per_cm)
    picks: N = least(weft.threads_per_cm, holding**2 / times * warp.threads_per_cm)
    covers = (one.threads_per_cm * one.width_mm / 10.0 for one in (warp, weft))
    clamped = greatest(*covers) >= 1.0
    return (
        warp._replace(threads_per_cm=either(clamped, warp.threads_per_cm, ends)),
        weft._replace(threads_per_cm=either(clamped, weft.threads_per_cm, picks)),
    )
