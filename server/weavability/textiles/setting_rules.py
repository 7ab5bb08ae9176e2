"""Rules by which the trade sets cloth: second opinions beside the jam.

Setts are in threads per cm, diameters in mm, linear densities in tex.
"""

from __future__ import annotations

import math


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
