"""Rules by which the trade sets cloth: second opinions beside the jam.

Setts are in threads per cm, diameters in mm, linear densities in tex.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.weave_matrix import Matrix, Weave


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


BRIERLEY_K: Final = 200.0
"""K of cotton for threads per inch and Ne, so that plain has 14.14·√Ne."""

BRIERLEY_EXPONENT: Final = 0.39
"""m of plain and regular twill."""


def brierley_square_sett_per_cm(*, linear_density_tex: float, mean_float: float) -> float:
    """Return the greatest square sett of cotton cloth, ``F^m·√(K·Ne)`` threads per inch, per cm.

    It holds for plain and regular twill; other weaves and fibres have other constants.

    Args:
        linear_density_tex: Of both sets; of cloth with two counts their mean.
        mean_float: F, average float of the weave, at least 1.

    Source: S. Brierley's setting theory as [EXAM-GATE] quotes it, with K and m for cotton.

    >>> round(2.54 * brierley_square_sett_per_cm(linear_density_tex=60, mean_float=2), 1)
    58.1
    """
    per_inch: float = mean_float**BRIERLEY_EXPONENT * math.sqrt(
        BRIERLEY_K * TEX_NE / linear_density_tex
    )
    return per_inch / CM_PER_INCH


def is_plain_or_regular_twill(weave: Weave) -> bool:
    """Return whether a weave at its true repeat is plain or an a/b twill.

    In these every pick floats once over and once under in the repeat, and the next pick does so one
    end further.

    >>> is_plain_or_regular_twill(Weave.from_rows(["1100", "0110", "0011", "1001"]))
    True
    >>> is_plain_or_regular_twill(Weave.from_rows(["1100", "1100", "0011", "0011"]))
    False
    """
    matrix = weave.matrix
    if weave.ends != weave.picks or weave.ends < 2:
        return False
    first = matrix[0].tobytes()
    if (first + first[:1]).count(b"\0\1") != 1:
        return False
    return _moves_on(matrix) or _moves_on(matrix[:, ::-1])


def _moves_on(matrix: Matrix) -> bool:
    """Return whether every pick does as the last one did, one end further to the right."""
    picks = (pick.tobytes() for pick in matrix)
    return all(after == before[-1:] + before[:-1] for before, after in pairwise(picks))


class Opinion(NamedTuple):
    """What a rule of setting says of a cloth.

    Attributes:
        rule: Its name in a sentence.
        use_pct: The cloth as a share of what the rule allows.
    """

    rule: str
    use_pct: float


def disagreement(opinions: Sequence[Opinion]) -> str | None:
    """Say which rules find a cloth too close and which do not; ``None`` if they agree.

    >>> disagreement([Opinion("the jam", 83.1), Opinion("Brierley's square sett", 104.2)])
    "Too close by Brierley's square sett (104 %), but not by the jam (83 %)."
    """
    close = [each for each in opinions if each.use_pct > 100]
    if len(close) in (0, len(opinions)):
        return None
    loose = [each for each in opinions if each.use_pct <= 100]
    return f"Too close by {_named(close)}, but not by {_named(loose)}."


def _named(opinions: Sequence[Opinion]) -> str:
    each = [f"{rule} ({use_pct:.0f} %)" for rule, use_pct in opinions]
    return " and ".join(filter(None, (", ".join(each[:-1]), each[-1])))
