"""Cloth geometry: diameter, cover, crimp, mass; plain numbers in, plain numbers out.

Lengths along the cloth are in cm, thread diameters in mm, linear densities in tex. Index 1 is the
warp, 2 the weft, as in the literature after [PEIRCE-1937].

``mean_float_of_picks`` (M1) is the number of ends a pick passes between two of its interlacings,
on average; ``mean_float_of_ends`` (M2) is the number of picks an end passes. Both are 1 in plain.

A figure is checked when it is read (``yarns``, ``cloth_bounds``), not in every formula: in the
domain that its docstring states, a formula has a value. Only a conversion that has a pole among
the figures that a caller may write, such as a take-up of 100 %, refuses it with ``InputError``.
"""

from __future__ import annotations

import math
from typing import Final, Generic, NamedTuple

from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import N, Truth, either, greatest, least, root
from weavability.textiles.units import CM_PER_INCH

COTTON_PER_SI_COVER: Final = 10.0 * CM_PER_INCH / math.sqrt(TEX_NE)
"""Cover factor in cotton units over the same in SI units: 1.0452221."""

FULL_COVER_COTTON: Final = 28.0
"""Cover factor at which round cotton threads touch side by side (Peirce)."""

FULL_COVER: Final = FULL_COVER_COTTON / COTTON_PER_SI_COVER
"""The same in SI units: 26.788."""

PEIRCE_HEIGHT: Final = 4.0 / 3.0
"""Peirce's approximation of the crimp height: h = (4/3)·p·√c."""


def yarn_diameter_mm(
    *, linear_density_tex: float, fibre_density_g_per_cm3: float, packing_fraction: float
) -> float:
    """Return the diameter of a round yarn in mm: ``sqrt(4·T / (1000·π·φ·ρ))``.

    Args:
        linear_density_tex: T, above 0.
        fibre_density_g_per_cm3: ρ, density of the fibre substance, above 0.
        packing_fraction: φ, share of the yarn's cross-section that is fibre, above 0 and up to 1.

    Source: the definition of linear density. Cotton with ρ 1.52 and φ 0.60 gives Peirce's
    1/(28·√Ne) inch within 0.2 %.

    >>> round(
    ...     yarn_diameter_mm(
    ...         linear_density_tex=25, fibre_density_g_per_cm3=1.52, packing_fraction=0.60
    ...     ),
    ...     4,
    ... )
    0.1868
    """
    solid = 1000.0 * math.pi * packing_fraction * fibre_density_g_per_cm3
    return math.sqrt(4.0 * linear_density_tex / solid)


def cover_factor(*, threads_per_cm: float, linear_density_tex: float) -> float:
    """Return the cover factor of one set of threads in SI units, ``K = n·√T/10``.

    Args:
        threads_per_cm: n, ends or picks per cm.
        linear_density_tex: T, mean linear density of the set.

    Source: [FABRIC-HANDOUT] (20 tex, 28 threads/cm: 12.5).

    >>> round(cover_factor(threads_per_cm=28, linear_density_tex=20), 2)
    12.52
    """
    return threads_per_cm * math.sqrt(linear_density_tex) / 10.0


def cover_factor_cotton(*, threads_per_cm: float, linear_density_tex: float) -> float:
    """Return the cover factor of one set in cotton units, threads per inch ÷ √Ne.

    Args:
        threads_per_cm: Ends or picks per cm.
        linear_density_tex: Mean linear density of the set.

    Source: [PEIRCE-1937].

    >>> round(cover_factor_cotton(threads_per_cm=28, linear_density_tex=20), 2)
    13.09
    """
    return COTTON_PER_SI_COVER * cover_factor(
        threads_per_cm=threads_per_cm, linear_density_tex=linear_density_tex
    )


def cloth_cover_factor(*, warp: float, weft: float) -> float:
    """Return the cover factor of the cloth in SI units, ``K1 + K2 − K1·K2/26.788``.

    What both sets cover is counted once. A set covers all of the surface when its threads touch
    side by side, at 26.788 (28 in cotton units); closer threads overlap or flatten and cover no
    more, so that above it each set counts as 26.788, and the cloth never has more. Some handouts
    call the plain sum K1 + K2 the cloth cover; this is not that.

    Args:
        warp: K1, cover factor of the ends in SI units, 0 or more.
        weft: K2, cover factor of the picks in SI units, 0 or more.

    Source: [PEIRCE-1937] for the formula; that it ends at full cover follows from its derivation,
    in which K/28 is the share of the surface that a set covers.

    >>> round(cloth_cover_factor(warp=12, weft=12), 2)
    18.62
    >>> round(cloth_cover_factor(warp=40, weft=12), 2)
    26.79
    """
    return _both_covers(warp, weft, full=FULL_COVER)


def cloth_cover_factor_cotton(*, warp: float, weft: float) -> float:
    """Return the cover factor of the cloth in cotton units, ``K1 + K2 − K1·K2/28``.

    Above 28 each set counts as 28; see ``cloth_cover_factor``.

    Args:
        warp: K1, cover factor of the ends in cotton units, 0 or more.
        weft: K2, cover factor of the picks in cotton units, 0 or more.

    Source: [PEIRCE-1937].

    >>> cloth_cover_factor_cotton(warp=14, weft=14)
    21.0
    >>> cloth_cover_factor_cotton(warp=34, weft=14)
    28.0
    """
    return _both_covers(warp, weft, full=FULL_COVER_COTTON)


def _both_covers(warp: float, weft: float, *, full: float) -> float:
    """Return full cover less what both sets leave open, which is K1 + K2 − K1·K2/full."""
    return full - max(0.0, full - warp) * max(0.0, full - weft) / full


def crowding(*, threads_per_cm: N, diameter_mm: N) -> N:
    """Return the diameters of one set of threads over their spacing, ``n·d``.

    Up to 1, at which the threads touch side by side, this is also the share of the surface that
    they cover [PEIRCE-1937]. Above 1 they overlap or flatten, and cover all of it.

    Args:
        threads_per_cm: Ends or picks per cm.
        diameter_mm: Diameter of the threads.

    >>> crowding(threads_per_cm=40, diameter_mm=0.25)
    1.0
    """
    return threads_per_cm * diameter_mm / 10.0


def float_length_mm(*, float_threads: N, threads_per_cm: N) -> N:
    """Return the length of a float, in mm: threads passed over, times their spacing.

    Args:
        float_threads: Threads that the float passes over.
        threads_per_cm: Sett of the threads passed over: of the picks for a float of an end.

    >>> float_length_mm(float_threads=4, threads_per_cm=40)
    1.0
    """
    return 10.0 * float_threads / threads_per_cm


def take_up_pct(*, crimp_pct: float) -> float:
    """Return the take-up on yarn length, in per cent, for a crimp on cloth length: ``c/(1 + c)``.

    Args:
        crimp_pct: (Yarn length − cloth length) / cloth length, 0 % or more.

    Raises:
        InputError: At ``/crimp_pct``: it is negative or not a number.

    >>> round(take_up_pct(crimp_pct=6.0), 2)
    5.66
    """
    if not 0.0 <= crimp_pct < math.inf:
        raise InputError.of(
            "/crimp_pct", "A crimp is a number of 0 or more.", given=crimp_pct, allowed="0 or more"
        )
    return 100.0 * crimp_pct / (100.0 + crimp_pct)


def crimp_pct(*, take_up_pct: float) -> float:
    """Return the crimp on cloth length, in per cent, for a take-up on yarn length: ``t/(1 − t)``.

    Args:
        take_up_pct: (Yarn length − cloth length) / yarn length, from 0 to less than 100 %.

    Raises:
        InputError: At ``/take_up_pct``: it is outside that range, so that no cloth would be left.

    >>> round(crimp_pct(take_up_pct=5.66), 2)
    6.0
    """
    if not 0.0 <= take_up_pct < 100.0:
        raise InputError.of(
            "/take_up_pct",
            "A take-up on yarn length is from 0 to less than 100 %.",
            given=take_up_pct,
            allowed="from 0 to less than 100",
        )
    return 100.0 * take_up_pct / (100.0 - take_up_pct)


CRIMP_FLATTENING: Final = 0.85
"""h1 + h2 over D in woven cloth: yarns flatten where they cross; Peirce's round yarn has 1.

Five published cloths with both crimps give 0.70 to 1.03, 0.87 on average ([BROOKS-1892],
[TAYLOR-1909] and the silk rows of the list of constructions in the tests).
"""

CRIMP_ERROR_BAND_PCT: Final = 5.0
"""Half width of the band, in percentage points of crimp, around an estimate.

Of 25 estimates of 15 published crimps, 22 lie within it; the root mean square error is 3.4 points.
The flattening was chosen on these same cloths, so that on others worse is to be expected.
"""

SMALLEST_CRIMP_PCT: Final = 0.5
LARGEST_CRIMP_PCT: Final = 30.0
"""Bounds of an estimate: outside them the geometry no longer describes a woven cloth."""


class Crimps(NamedTuple, Generic[N]):
    """Crimps of both sets on cloth length, in per cent."""

    warp_crimp_pct: N
    weft_crimp_pct: N


def crimp_height_mm(*, crimp_pct: N, crossed_per_cm: N, mean_float: N) -> N:
    """Return the height of the crimp wave in mm, ``h = (4/3)·p·√(M·c)``.

    Only one of M spacings bends, so that the crimp at an interlacing is M times the mean. The
    approximation is good to about a tenth: at the jam of square plain cloth it gives 18.75 % of
    crimp, and the exact arcs have 20.92 %.

    Args:
        crimp_pct: c, mean crimp of the thread on cloth length, 0 or more.
        crossed_per_cm: 1/p, sett of the threads that it crosses, above 0.
        mean_float: M of the thread in threads crossed, at least 1.

    Source: [PEIRCE-1937] for M = 1; the generalisation by M is ours.

    >>> round(crimp_height_mm(crimp_pct=9, crossed_per_cm=25, mean_float=1), 2)
    0.16
    """
    spacing_mm = 10.0 / crossed_per_cm
    return PEIRCE_HEIGHT * spacing_mm * root(mean_float * crimp_pct / 100.0)


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
    warp_stated: Truth,
    warp_crimp_pct: N,
    weft_stated: Truth,
    weft_crimp_pct: N,
    flattening: float = CRIMP_FLATTENING,
) -> Crimps[N]:
    """Estimate the crimps that are not stated from Peirce's geometry, h1 + h2 = flattening·D.

    If one is stated, the other thread takes the height that is left. If neither is, both yarns
    bend to the same curvature, so that the heights are in the ratio of the squares of the
    spacings, h1 : h2 = p2² : p1² (a close warp keeps the weft straight and is itself wavy, as in
    poplin). Estimates are kept within 0.5 and 30 %.

    Args:
        ends_per_cm: Ends per cm of the grey cloth, above 0.
        picks_per_cm: Picks per cm of the grey cloth, above 0.
        warp_diameter_mm: Diameter of the ends, above 0.
        weft_diameter_mm: Diameter of the picks, above 0.
        mean_float_of_picks: M1 in ends, at least 1; ``inf`` if picks never interlace.
        mean_float_of_ends: M2 in picks, at least 1; ``inf`` if ends never interlace.
        warp_stated: Whether the crimp of the ends is stated.
        warp_crimp_pct: It, on cloth length; 0 if it is not stated.
        weft_stated: Whether the crimp of the picks is stated.
        weft_crimp_pct: It, on cloth length; 0 if it is not stated.
        flattening: Height of both waves over D = d1 + d2; 1 is Peirce's round yarn.

    Returns:
        Both crimps in per cent: as stated, or estimated to about 5 percentage points.

    Source: [PEIRCE-1937] for the heights; the split and the generalisation by M are ours, with the
    error band measured on published cloths.

    A square plain cloth bends warp and weft alike:

    >>> estimate = estimate_crimps(
    ...     ends_per_cm=24.0,
    ...     picks_per_cm=24.0,
    ...     warp_diameter_mm=0.18,
    ...     weft_diameter_mm=0.18,
    ...     mean_float_of_picks=1.0,
    ...     mean_float_of_ends=1.0,
    ...     warp_stated=False,
    ...     warp_crimp_pct=0.0,
    ...     weft_stated=False,
    ...     weft_crimp_pct=0.0,
    ... )
    >>> round(estimate.warp_crimp_pct, 2), round(estimate.weft_crimp_pct, 2)
    (7.58, 7.58)
    """
    sum_mm = flattening * (warp_diameter_mm + weft_diameter_mm)
    ends_squared, picks_squared = ends_per_cm * ends_per_cm, picks_per_cm * picks_per_cm
    alike = sum_mm * ends_squared / (ends_squared + picks_squared)
    of_warp = crimp_height_mm(
        crimp_pct=warp_crimp_pct, crossed_per_cm=picks_per_cm, mean_float=mean_float_of_ends
    )
    of_weft = crimp_height_mm(
        crimp_pct=weft_crimp_pct, crossed_per_cm=ends_per_cm, mean_float=mean_float_of_picks
    )
    left: N = either(weft_stated, sum_mm - of_weft, alike)
    warp_mm: N = either(warp_stated, of_warp, left)
    warp = crimp_of_height_pct(
        height_mm=warp_mm, crossed_per_cm=picks_per_cm, mean_float=mean_float_of_ends
    )
    weft = crimp_of_height_pct(
        height_mm=sum_mm - warp_mm, crossed_per_cm=ends_per_cm, mean_float=mean_float_of_picks
    )
    return Crimps(
        either(warp_stated, warp_crimp_pct, _kept_sane(warp)),
        either(weft_stated, weft_crimp_pct, _kept_sane(weft)),
    )


def _kept_sane(estimate_pct: N) -> N:
    return least(greatest(estimate_pct, SMALLEST_CRIMP_PCT), LARGEST_CRIMP_PCT)


def mass_g_per_m2(
    *,
    ends_per_cm: float,
    picks_per_cm: float,
    warp_tex: float,
    weft_tex: float,
    warp_crimp_pct: float,
    weft_crimp_pct: float,
) -> float:
    """Return the mass of the yarn in cloth, in g/m²: ``(n1·T1·(1+c1) + n2·T2·(1+c2))/10``.

    Size, finish and moisture beyond the yarn's own are not in it.

    Args:
        ends_per_cm: n1.
        picks_per_cm: n2.
        warp_tex: T1, mean linear density of the ends.
        weft_tex: T2, mean linear density of the picks.
        warp_crimp_pct: c1, on cloth length.
        weft_crimp_pct: c2, on cloth length.

    Source: the definitions of tex and crimp; the example is an examination cloth ([EXAM-GATE],
    40 × 30 per cm, 30 and 20 tex, 10 % crimp: 198 g/m²).

    >>> round(
    ...     mass_g_per_m2(
    ...         ends_per_cm=40,
    ...         picks_per_cm=30,
    ...         warp_tex=30,
    ...         weft_tex=20,
    ...         warp_crimp_pct=10,
    ...         weft_crimp_pct=10,
    ...     ),
    ...     1,
    ... )
    198.0
    """
    warp = ends_per_cm * warp_tex * (1.0 + warp_crimp_pct / 100.0)
    weft = picks_per_cm * weft_tex * (1.0 + weft_crimp_pct / 100.0)
    return (warp + weft) / 10.0


def warp_yarn_length_km(*, ends: float, warp_length_m: float) -> float:
    """Return the length of yarn in a warp, in km: ends × warp length.

    Args:
        ends: Ends of the warp.
        warp_length_m: Length of the warp, which is longer than the cloth by the warp crimp.

    >>> warp_yarn_length_km(ends=3000, warp_length_m=1080)
    3240.0
    """
    return ends * warp_length_m / 1000.0


def weft_yarn_length_km(
    *, picks: float, reed_width_cm: float, extra_per_pick_cm: float = 0.0
) -> float:
    """Return the length of weft, in km: picks × (reed width + extra per pick).

    The weft lies straight across the reed at beat-up, so that its crimp is in the reed width.

    Args:
        picks: Picks inserted.
        reed_width_cm: Width of the warp in the reed.
        extra_per_pick_cm: Weft of each pick beyond the warp, at both sides together.

    >>> weft_yarn_length_km(picks=100_000, reed_width_cm=170, extra_per_pick_cm=10)
    180.0
    """
    return picks * (reed_width_cm + extra_per_pick_cm) / 100_000.0


def yarn_mass_kg(*, length_km: float, linear_density_tex: float) -> float:
    """Return the mass of a length of yarn, in kg: 1 tex is 1 g per km.

    Args:
        length_km: Length of the yarn.
        linear_density_tex: Its linear density.

    >>> yarn_mass_kg(length_km=100, linear_density_tex=20)
    2.0
    """
    return length_km * linear_density_tex / 1000.0
