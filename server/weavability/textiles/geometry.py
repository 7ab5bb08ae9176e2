"""Cloth geometry: diameter, cover, jamming, mass; plain numbers in, plain numbers out.

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
from weavability.textiles.numbers import N, anywhere, either, greatest, least, root
from weavability.textiles.units import CM_PER_INCH

COTTON_PER_SI_COVER: Final = 10.0 * CM_PER_INCH / math.sqrt(TEX_NE)
"""Cover factor in cotton units over the same in SI units: 1.0452221."""

FULL_COVER_COTTON: Final = 28.0
"""Cover factor at which round cotton threads touch side by side (Peirce)."""

FULL_COVER: Final = FULL_COVER_COTTON / COTTON_PER_SI_COVER
"""The same in SI units: 26.788."""

JAM_TOLERANCE: Final = 1e-12
"""Relative step at which the search for the jam ends."""

MOST_STEPS: Final = 60
"""Steps after which it ends in any case: halving alone would have reached the tolerance."""

LEAST_ROOM: Final = 1e-300
"""In place of 0 under a root that divides."""


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


def tightness_pct(
    *,
    ends_per_cm: N,
    picks_per_cm: N,
    warp_diameter_mm: N,
    weft_diameter_mm: N,
    mean_float_of_picks: N,
    mean_float_of_ends: N,
) -> N:
    """Return how near the cloth is to jamming; 100 is the jam of round, incompressible yarn.

    With D = d1 + d2 and spacing p = 1/n, an interlacing has the room q1 = M1·p1 − (M1 − 1)·d1
    along the weft and likewise q2 along the warp: the threads of a float close up side by side,
    and what is left is open for the crossing thread. The cloth jams when g(q1) + g(q2) = 1 with
    g(q) = √(1 − (q/D)²) below D and 0 above; besides, no room may be under its own diameter.
    The result is 100/s, where s multiplies both setts up to the jam. For plain weave this is
    Peirce's jamming exactly.

    Args:
        ends_per_cm: Warp sett, above 0.
        picks_per_cm: Weft sett, above 0.
        warp_diameter_mm: Diameter of the ends, above 0.
        weft_diameter_mm: Diameter of the picks, above 0.
        mean_float_of_picks: M1, at least 1; ``inf`` if picks never interlace.
        mean_float_of_ends: M2, at least 1; ``inf`` if ends never interlace.

    Returns:
        Per cent of the jam; more than 100 for a cloth set closer than round yarn allows.

    Source: [PEIRCE-1937] for plain; for other weaves the room at an interlacing is our extension.

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
    d1, d2 = warp_diameter_mm, weft_diameter_mm
    spread = 10.0 / (d1 + d2)
    touching: N = greatest(ends_per_cm * d1, picks_per_cm * d2) / 10.0
    unbound = (mean_float_of_picks == math.inf) | (mean_float_of_ends == math.inf)
    m1: N = either(unbound, 1.0, mean_float_of_picks)
    m2: N = either(unbound, 1.0, mean_float_of_ends)
    jam = _jam_factor(
        touching=touching,
        slope1=m1 * spread / ends_per_cm,
        offset1=(m1 - 1.0) * d1 * spread / 10.0,
        slope2=m2 * spread / picks_per_cm,
        offset2=(m2 - 1.0) * d2 * spread / 10.0,
    )
    return 100.0 * either(unbound, touching, jam)


def _jam_factor(*, touching: N, slope1: N, offset1: N, slope2: N, offset2: N) -> N:
    """Return the factor x on both spacings at which the cloth jams, at least ``touching``.

    The rooms are u = slope1·x − offset1 and v = slope2·x − offset2 in units of D. The excess
    √(1−u²) + √(1−v²) − 1 falls with x; its root lies where both rooms are under 1, because no
    room reaches 0. Newton, kept inside a shrinking bracket; what has converged stays.
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
    return either(sought, x, touching)


def _excess(u: N, v: N) -> N:
    """Return g(u) + g(v) − 1 for rooms in units of D: above 0 the threads cannot lie so close."""
    g1: N = root(greatest(0.0, 1.0 - u * u))
    g2: N = root(greatest(0.0, 1.0 - v * v))
    return g1 + g2 - 1.0


def ends_plus_intersections_limit_per_cm(*, diameter_mm: float, mean_float: float) -> float:
    """Return the threads per cm that ends-plus-intersections allows: touching threads × M/(M + 1).

    A comfort limit, which many trade cloths exceed in one of the two directions.

    Args:
        diameter_mm: Diameter of the counted threads, above 0.
        mean_float: M of the threads that cross the counted ones, at least 1: of the picks (in
            ends) for the ends, of the ends (in picks) for the picks; ``inf`` if they never
            interlace.

    Source: T. R. Ashenhurst's rule, quoted by [TAYLOR-1909], pp. 436 and 464.

    >>> ends_plus_intersections_limit_per_cm(diameter_mm=0.25, mean_float=1)
    20.0
    """
    touching = 10.0 / diameter_mm
    return touching if math.isinf(mean_float) else touching * mean_float / (mean_float + 1.0)


def ends_plus_intersections_use_pct(
    *, threads_per_cm: float, diameter_mm: float, mean_float: float
) -> float:
    """Return the sett as a share of the ends-plus-intersections limit, in per cent.

    Args:
        threads_per_cm: Ends or picks per cm.
        diameter_mm: Diameter of these threads, above 0.
        mean_float: M of the threads that cross them; see ``ends_plus_intersections_limit_per_cm``.

    >>> ends_plus_intersections_use_pct(threads_per_cm=25, diameter_mm=0.25, mean_float=1)
    125.0
    """
    limit = ends_plus_intersections_limit_per_cm(diameter_mm=diameter_mm, mean_float=mean_float)
    return 100.0 * threads_per_cm / limit


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
