"""Crimp: how much longer a thread is than the cloth in which it lies, stated or estimated.

Crimp is on cloth length, ``(yarn - cloth) / cloth``; contraction is the same on yarn length,
``(yarn - cloth) / yarn``. Index 1 is the warp, 2 the weft, as in the literature after
[PEIRCE-1937]; M1 and M2 are the mean floats of picks and of ends, as in ``geometry``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Generic, NamedTuple

from weavability.textiles.bounds import CONTRACTION_PCT
from weavability.textiles.guards import within
from weavability.textiles.numbers import N, either, greatest, least, root, whole
from weavability.textiles.sentences import Sentence, say

PEIRCE_HEIGHT: Final = 4.0 / 3.0
"""Peirce's approximation of the crimp height: h = (4/3)·p·√c."""

CRIMP_FLATTENING: Final = 0.85
"""h1 + h2 over D in woven cloth: yarns flatten where they cross; Peirce's round yarn has 1.

Five published cloths with both crimps give 0.70 to 1.03, 0.87 on average ([BROOKS-1892],
[TAYLOR-1909] and the silk rows of the list of constructions in the tests).
"""

CRIMP_SCALE: Final = 100.0
"""An estimated crimp has two decimals in per cent: its error is a hundred times larger."""

SMALLEST_CRIMP_PCT: Final = 0.5
LARGEST_CRIMP_PCT: Final = 30.0
"""Bounds of an estimate: outside them the geometry no longer describes a woven cloth."""

EQUAL_FLOATS_WITHIN: Final = 1.1
"""Mean floats that differ by less than this factor count as equal: the split hardly moves."""


class Crimps(NamedTuple, Generic[N]):
    """Crimps of both sets on cloth length, in per cent."""

    warp_crimp_pct: N
    weft_crimp_pct: N


@dataclass(frozen=True, slots=True, kw_only=True)
class CrimpBand:
    """How far an estimate may be out, and what is known of that.

    The half width is the least whole number of points that holds every estimate of the published
    woven cloths of the class, from nothing and from the other crimp of the cloth. The flattening
    was chosen on some of them.

    Attributes:
        floats: The class, by the mean floats of warp and weft.
        points: Half width of the band, in percentage points of crimp.
        published_crimps: Published crimps behind it.
        cloths: Cloths that have them.
    """

    floats: Sentence
    points: float
    published_crimps: int
    cloths: int

    def around(self, estimate_pct: float) -> tuple[float, float]:
        """Return the least and the greatest crimp that are expected."""
        return max(0.0, estimate_pct - self.points), estimate_pct + self.points


PLAIN: Final = CrimpBand(
    floats=say("part.plain_weave", "plain weave"), points=6.0, published_crimps=7, cloths=4
)
EQUAL_FLOATS: Final = CrimpBand(
    floats=say("part.equal_floats", "weaves with equal mean floats of warp and weft"),
    points=4.0,
    published_crimps=6,
    cloths=4,
)
UNEQUAL_FLOATS: Final = CrimpBand(
    floats=say("part.unequal_floats", "weaves with unequal mean floats of warp and weft"),
    points=12.0,
    published_crimps=2,
    cloths=2,
)


def crimp_band(*, mean_float_of_picks: float, mean_float_of_ends: float) -> CrimpBand:
    """Return the band of an estimated crimp, by the mean floats M1 and M2 of the weave.

    >>> crimp_band(mean_float_of_picks=1.0, mean_float_of_ends=3.0).points
    12.0
    """
    m1, m2 = mean_float_of_picks, mean_float_of_ends
    if m1 == m2 == 1.0:
        return PLAIN
    alike = math.isfinite(m1 + m2) and max(m1, m2) < EQUAL_FLOATS_WITHIN * min(m1, m2)
    return EQUAL_FLOATS if alike else UNEQUAL_FLOATS


def crimp_points(*, mean_float_of_picks: N, mean_float_of_ends: N) -> N:
    """Return the half width of :func:`crimp_band`, of a number or of a column.

    >>> crimp_points(mean_float_of_picks=1.0, mean_float_of_ends=3.0)
    12.0
    """
    m1, m2 = mean_float_of_picks, mean_float_of_ends
    plain = (m1 == 1.0) & (m2 == 1.0)
    alike = greatest(m1, m2) < EQUAL_FLOATS_WITHIN * least(m1, m2)
    of_others: N = either(alike, EQUAL_FLOATS.points + 0 * plain, UNEQUAL_FLOATS.points)
    return either(plain, PLAIN.points, of_others)


def contraction_of_crimp_pct(crimp_pct: N) -> N:
    """Return the contraction on yarn length, in per cent, of a crimp of 0 or more: ``c/(1 + c)``.

    >>> round(contraction_of_crimp_pct(6.0), 2)
    5.66
    """
    return 100.0 * crimp_pct / (100.0 + crimp_pct)


def crimp_of_contraction_pct(contraction_pct: N) -> N:
    """Return the crimp on cloth length, in per cent, of a contraction: ``t/(1 - t)``.

    Args:
        contraction_pct: t, on yarn length.

    Raises:
        InputError: It is not from 0 to 75 %; one of 100 % would leave no cloth.

    >>> round(crimp_of_contraction_pct(5.66), 2)
    6.0
    """
    within("contraction_pct", contraction_pct, CONTRACTION_PCT)
    return 100.0 * contraction_pct / (100.0 - contraction_pct)


def crimp_height_mm(*, crimp_pct: N, crossed_per_cm: N, mean_float: N) -> N:
    """Return the height of the crimp wave in mm, ``h = (4/3)·p·√(M·c)``.

    Only one of M spacings bends, so that the crimp at an interlacing is M times the mean. The
    approximation is good to about a tenth: at the jam of square plain cloth it gives 18.75 % of
    crimp, and the exact arcs have 20.92 %.

    Args:
        crimp_pct: c, mean crimp of the thread on cloth length, 0 or more.
        crossed_per_cm: 1/p, sett of the threads that it crosses, above 0.
        mean_float: M of the thread in threads crossed, at least 1 and finite.

    Source: [PEIRCE-1937] for M = 1; the generalisation by M is ours.

    >>> round(crimp_height_mm(crimp_pct=9, crossed_per_cm=25, mean_float=1), 2)
    0.16
    """
    spacing_mm = 10.0 / crossed_per_cm
    return PEIRCE_HEIGHT * spacing_mm * root(mean_float * crimp_pct / 100.0)


def crimp_heights_pct(
    crimps: Crimps[N],
    *,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    mean_float_of_picks: N,
    mean_float_of_ends: N,
) -> N:
    """Return the heights of both waves over D = d1 + d2, in per cent.

    Args:
        crimps: Of warp and weft.
        ends_per_cm: As in :func:`estimate_crimps`, and so are the others.
        picks_per_cm: Picks per cm of the grey cloth.
        warp_diameter_mm: Diameter of the ends.
        weft_diameter_mm: Diameter of the picks.
        mean_float_of_picks: M1; 1 is taken if threads never interlace.
        mean_float_of_ends: M2, likewise.
    """
    unbound = (mean_float_of_picks == math.inf) | (mean_float_of_ends == math.inf)
    warp_mm = crimp_height_mm(
        crimp_pct=crimps.warp_crimp_pct,
        crossed_per_cm=picks_per_cm,
        mean_float=either(unbound, 1.0, mean_float_of_ends),
    )
    weft_mm = crimp_height_mm(
        crimp_pct=crimps.weft_crimp_pct,
        crossed_per_cm=ends_per_cm,
        mean_float=either(unbound, 1.0, mean_float_of_picks),
    )
    return 100.0 * (warp_mm + weft_mm) / (warp_diameter_mm + weft_diameter_mm)


def crimp_of_height_pct(*, height_mm: N, crossed_per_cm: N, mean_float: N) -> N:
    """Return the crimp on cloth length, in per cent: the inverse of ``crimp_height_mm``.

    Args:
        height_mm: Height of the wave; a negative one is a straight thread.
        crossed_per_cm: Sett of the threads that the thread crosses, above 0.
        mean_float: M of the thread, at least 1; ``inf``, for no interlacing, gives 0.

    >>> round(crimp_of_height_pct(height_mm=0.16, crossed_per_cm=25, mean_float=1), 2)
    9.0
    """
    slope: N = greatest(0.0, height_mm) * crossed_per_cm / (10.0 * PEIRCE_HEIGHT)
    return 100.0 * slope * slope / mean_float


def estimate_crimps(
    *,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    mean_float_of_picks: N,
    mean_float_of_ends: N,
    warp_stated_share: N,
    warp_crimp_pct: N,
    weft_stated_share: N,
    weft_crimp_pct: N,
    warp_least_pct: N | None = None,
    weft_least_pct: N | None = None,
    warp_open_pct: N | None = None,
    flattening: float = CRIMP_FLATTENING,
) -> Crimps[N]:
    """Estimate the crimps that are not stated from Peirce's geometry, h1 + h2 = flattening·D.

    If neither is stated, both yarns bend to the same curvature over what bends of them, so that
    the heights are in the ratio ``h1 : h2 = (M2^k·p2²) : (M1^k·p1²)`` with k = 1.5: a close warp
    keeps the weft straight and is itself wavy, as in poplin, and so is the set with the longer
    floats, as the warp of a warp rib. If one is stated, the other takes the height that is left.
    Of a set in which only some threads state a crimp, or not all the same, the mean over all
    threads bends the other set, but no more than the tight ones would: what slack threads have
    beyond those puckers the cloth. Estimates are kept within 0.5 and 30 %.

    That a span bends over M spacings gives k between 1 and 2. Of the two published cloths with
    unequal floats a warp rib wants 2 or more and a weft cord less than 1: two rows cannot settle
    it, which is why their band is wide.

    Args:
        ends_per_cm: Ends per cm of the grey cloth, above 0.
        picks_per_cm: Picks per cm of the grey cloth, above 0.
        warp_diameter_mm: Diameter of the ends, above 0.
        weft_diameter_mm: Diameter of the picks, above 0.
        mean_float_of_picks: M1 in ends, at least 1; ``inf`` if picks never interlace.
        mean_float_of_ends: M2 in picks, at least 1; ``inf`` if ends never interlace.
        warp_stated_share: Share of the ends whose crimp is stated, 0 to 1.
        warp_crimp_pct: Mean crimp of those ends, on cloth length; 0 if there are none.
        weft_stated_share: Share of the picks whose crimp is stated.
        weft_crimp_pct: Mean crimp of those picks; 0 if there are none.
        warp_least_pct: Least crimp that any of those ends states; all state the mean if not given.
        weft_least_pct: Least crimp of those picks, likewise.
        warp_open_pct: Mean crimp of the ends that state none; not given, they all take up alike.
        flattening: Height of both waves over D = d1 + d2; 1 is Peirce's round yarn.

    Returns:
        Crimps of the threads that state none, in per cent, to within ``crimp_band``.

    Source: [PEIRCE-1937] for the heights; the split and the generalisation by M are ours.

    A square plain cloth bends warp and weft alike:

    >>> estimate = estimate_crimps(
    ...     ends_per_cm=24.0,
    ...     picks_per_cm=24.0,
    ...     warp_diameter_mm=0.18,
    ...     weft_diameter_mm=0.18,
    ...     mean_float_of_picks=1.0,
    ...     mean_float_of_ends=1.0,
    ...     warp_stated_share=0.0,
    ...     warp_crimp_pct=0.0,
    ...     weft_stated_share=0.0,
    ...     weft_crimp_pct=0.0,
    ... )
    >>> round(estimate.warp_crimp_pct, 2), round(estimate.weft_crimp_pct, 2)
    (7.58, 7.58)
    """
    sum_mm = flattening * (warp_diameter_mm + weft_diameter_mm)
    unbound = (mean_float_of_picks == math.inf) | (mean_float_of_ends == math.inf)
    m1: N = either(unbound, 1.0, mean_float_of_picks)
    m2: N = either(unbound, 1.0, mean_float_of_ends)
    warp_bends = m2 * root(m2) * ends_per_cm * ends_per_cm
    weft_bends = m1 * root(m1) * picks_per_cm * picks_per_cm
    warp_mm = sum_mm * warp_bends / (warp_bends + weft_bends)
    weft_mm = sum_mm - warp_mm
    warp_alike = crimp_of_height_pct(height_mm=warp_mm, crossed_per_cm=picks_per_cm, mean_float=m2)
    weft_alike = crimp_of_height_pct(height_mm=weft_mm, crossed_per_cm=ends_per_cm, mean_float=m1)
    warp_open = warp_alike if warp_open_pct is None else warp_open_pct
    warp_mean = _bending(warp_stated_share, warp_crimp_pct, warp_least_pct, warp_alike, warp_open)
    weft_mean = _bending(weft_stated_share, weft_crimp_pct, weft_least_pct, weft_alike, weft_alike)
    warp_left_mm = sum_mm - crimp_height_mm(
        crimp_pct=weft_mean, crossed_per_cm=ends_per_cm, mean_float=m1
    )
    weft_left_mm = sum_mm - crimp_height_mm(
        crimp_pct=warp_mean, crossed_per_cm=picks_per_cm, mean_float=m2
    )
    warp = crimp_of_height_pct(
        height_mm=warp_left_mm, crossed_per_cm=picks_per_cm, mean_float=mean_float_of_ends
    )
    weft = crimp_of_height_pct(
        height_mm=weft_left_mm, crossed_per_cm=ends_per_cm, mean_float=mean_float_of_picks
    )
    return Crimps(_kept_sane(warp), _kept_sane(weft))


def mean_crimps(
    estimate: Crimps[N],
    *,
    warp_stated_share: N,
    warp_crimp_pct: N,
    weft_stated_share: N,
    weft_crimp_pct: N,
) -> Crimps[N]:
    """Return the mean crimps over all threads: as stated, and the estimate for the others.

    Args:
        estimate: Crimps of the threads that state none.
        warp_stated_share: As in :func:`estimate_crimps`, and so are the others.
        warp_crimp_pct: Mean crimp of the ends that state one.
        weft_stated_share: Share of the picks that state one.
        weft_crimp_pct: Mean crimp of those picks.
    """
    return Crimps(
        _mean(warp_stated_share, warp_crimp_pct, estimate.warp_crimp_pct),
        _mean(weft_stated_share, weft_crimp_pct, estimate.weft_crimp_pct),
    )


def _bending(stated_share: N, stated_pct: N, least_pct: N | None, alike_pct: N, open_pct: N) -> N:
    """Return the crimp by which a set bends the other: its mean, or that of its tight threads.

    Threads that state none are as tight as the weave makes all alike. The estimate counts as it is
    reported, so that stating it changes nothing.
    """
    mean = _mean(stated_share, stated_pct, open_pct)
    reported = whole(alike_pct * CRIMP_SCALE) / CRIMP_SCALE
    stated_least = stated_pct if least_pct is None else least_pct
    tight: N = either(stated_share < 1.0, reported, greatest(reported, stated_least))
    slack = (stated_share > 0.0) & (mean > tight + 1.0 / CRIMP_SCALE)
    return either(slack, tight, mean)


def _mean(stated_share: N, stated_pct: N, other_pct: N) -> N:
    return stated_share * stated_pct + (1.0 - stated_share) * other_pct


def _kept_sane(estimate_pct: N) -> N:
    return least(greatest(estimate_pct, SMALLEST_CRIMP_PCT), LARGEST_CRIMP_PCT)
