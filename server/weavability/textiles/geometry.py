"""Cloth geometry: diameter, cover, mass; plain numbers in, plain numbers out.

Lengths along the cloth are in cm, thread diameters in mm, linear densities in tex. Index 1 is the
warp, 2 the weft, as in the literature after [PEIRCE-1937].

``mean_float_of_picks`` (M1) is the number of ends a pick passes between two of its interlacings,
on average; ``mean_float_of_ends`` (M2) is the number of picks an end passes. Both are 1 in plain.

A figure is checked when it is read (``yarns``, ``cloth_bounds``), not in every formula: in the
domain that its docstring states, a formula has a value.
"""

from __future__ import annotations

import math
from typing import Final

from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.numbers import N, either, greatest
from weavability.textiles.units import CM_PER_INCH

COTTON_PER_SI_COVER: Final = 10.0 * CM_PER_INCH / math.sqrt(TEX_NE)
"""Cover factor in cotton units over the same in SI units: 1.0452221."""

FULL_COVER_COTTON: Final = 28.0
"""Cover factor at which round cotton threads touch side by side (Peirce)."""

FULL_COVER: Final = FULL_COVER_COTTON / COTTON_PER_SI_COVER
"""The same in SI units: 26.788."""

LEAST_FREE_FLOAT_THREADS: Final = 2
"""Threads that a float passes over at the least; one over a single thread is an interlacing."""


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


def cover_factor(*, threads_per_cm: N, linear_density_tex: float) -> N:
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


def cloth_cover_factor(*, warp: N, weft: N) -> N:
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


def _both_covers(warp: N, weft: N, *, full: float) -> N:
    """Return full cover less what both sets leave open, which is K1 + K2 − K1·K2/full."""
    return full - greatest(full - warp, 0.0) * greatest(full - weft, 0.0) / full


def crowding(*, threads_per_cm: N, diameter_mm: N | float) -> N:
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


def open_area_pct(
    *, ends_per_cm: N, picks_per_cm: N, warp_width_mm: float, weft_width_mm: float
) -> N:
    """Return the share of the surface that no thread covers: ``100·(1 − n1·b1)·(1 − n2·b2)``.

    Args:
        ends_per_cm: n1.
        picks_per_cm: n2.
        warp_width_mm: b1, width of the ends: their diameter, or that of a tape.
        weft_width_mm: b2, width of the picks.

    Source: [PEIRCE-1937], in whose cover ``n·b`` is the share that a set covers.

    >>> open_area_pct(ends_per_cm=20, picks_per_cm=10, warp_width_mm=0.25, weft_width_mm=0.25)
    37.5
    """
    beside_ends, beside_picks = (
        greatest(1.0 - crowding(threads_per_cm=threads, diameter_mm=width), 0.0)
        for threads, width in ((ends_per_cm, warp_width_mm), (picks_per_cm, weft_width_mm))
    )
    return 100.0 * (beside_ends * beside_picks)


def fibre_volume_pct(
    *, mass_g_per_m2: float, thickness_mm: float, fibre_density_g_per_cm3: float
) -> float:
    """Return the share of a cloth's volume that is fibre: ``100·m/(1000·t·ρ)``, 100 at most.

    The rest is its porosity.

    Args:
        mass_g_per_m2: m, mass of the cloth.
        thickness_mm: t, its thickness, above 0.
        fibre_density_g_per_cm3: ρ, density of its fibre, above 0.

    Source: the definition of density; the example is an examination cloth ([EXAM-GATE]) with a
    porosity of 77.8 %.

    >>> round(fibre_volume_pct(mass_g_per_m2=400, thickness_mm=2, fibre_density_g_per_cm3=0.9), 1)
    22.2
    """
    return min(100.0, mass_g_per_m2 / (10.0 * thickness_mm * fibre_density_g_per_cm3))


def float_length_mm(*, float_threads: N, threads_per_cm: N) -> N:
    """Return the length of a float, in mm: threads passed over, times their spacing.

    Args:
        float_threads: Threads that the float passes over.
        threads_per_cm: Sett of the threads passed over: of the picks for a float of an end.

    >>> float_length_mm(float_threads=4, threads_per_cm=40)
    1.0
    """
    return 10.0 * float_threads / threads_per_cm


def free_float_length_mm(*, float_threads: N, threads_per_cm: N) -> N:
    """Return the length of a float that lies free, in mm; 0 of one over a single thread.

    A thread that passes over one other is bound on both sides of it, as in plain weave: how far
    that is, is the spacing of the cloth, however coarse it is.

    Args:
        float_threads: Threads that the float passes over.
        threads_per_cm: Sett of the threads passed over.

    >>> free_float_length_mm(float_threads=1, threads_per_cm=1.5)
    0.0
    """
    length = float_length_mm(float_threads=float_threads, threads_per_cm=threads_per_cm)
    return either(float_threads >= LEAST_FREE_FLOAT_THREADS, length, 0.0)


def mass_g_per_m2(
    *,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_tex: float,
    weft_tex: float,
    warp_crimp_pct: N,
    weft_crimp_pct: N,
) -> N:
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
