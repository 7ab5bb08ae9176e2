"""Crimps that an order states of warp and weft, beside those expected of its cloth.

Only numbers here, of one cloth or of a column of cloths, as in ``cloth_states``.
"""

from __future__ import annotations

from collections.abc import Sequence

from weavability.textiles.cloth_crimps import (
    ClothCrimps,
    any_group,
    cloth_crimps,
    points_of_crimp,
    points_of_parts,
    unstated,
)
from weavability.textiles.cloth_numbers import GroupCrimp, StatedCloth, StatedCrimp
from weavability.textiles.crimp import LARGEST_CRIMP_PCT, SMALLEST_CRIMP_PCT, Crimps
from weavability.textiles.layer_crimps import total
from weavability.textiles.numbers import N, Truth, anywhere, changed, either, no, quotient


def stated_crimps(
    stated: StatedCloth[N], estimated: Crimps[N], crimp: Crimps[N], ends_per_cm: N, picks_per_cm: N
) -> tuple[StatedCrimp[N], StatedCrimp[N]]:
    """Put the stated crimps of warp and weft beside those that are expected.

    Args:
        stated: The cloth.
        estimated: Expected of the threads that state none.
        crimp: Of the grey cloth, as stated and as far as not stated estimated.
        ends_per_cm: Of the grey cloth.
        picks_per_cm: Of the grey cloth.
    """
    some = (stated.warp_stated_share > 0.0) | (stated.weft_stated_share > 0.0)
    expected: ClothCrimps[N] = ClothCrimps((), estimated, estimated)
    if anywhere(some):
        expected = cloth_crimps(unstated(stated), ends_per_cm, picks_per_cm)
    points = points_of_crimp(stated)
    of_warp: StatedCrimp[N] = StatedCrimp(
        is_stated=stated.warp_stated_share > 0.0,
        stated_pct=stated.warp_crimp_pct,
        least_pct=stated.warp_least_crimp_pct,
        least_expected_pct=expected.estimated.warp_crimp_pct,
        least_points=points,
        greatest_pct=stated.warp_greatest_crimp_pct,
        expected_pct=expected.estimated.warp_crimp_pct,
        points=points,
        has_most=True,
        other_pct=crimp.weft_crimp_pct,
        other_is_bounded=_is_bounded(stated.weft_stated_share, estimated.weft_crimp_pct),
    )
    return (
        _beside_groups(stated, of_warp, expected.groups),
        StatedCrimp(
            is_stated=stated.weft_stated_share > 0.0,
            stated_pct=stated.weft_crimp_pct,
            least_pct=stated.weft_least_crimp_pct,
            least_expected_pct=expected.estimated.weft_crimp_pct,
            least_points=points,
            greatest_pct=stated.weft_greatest_crimp_pct,
            expected_pct=expected.estimated.weft_crimp_pct,
            points=points,
            has_most=True,
            other_pct=crimp.warp_crimp_pct,
            other_is_bounded=_is_bounded(stated.warp_stated_share, estimated.warp_crimp_pct),
        ),
    )


def _beside_groups(
    stated: StatedCloth[N], of_warp: StatedCrimp[N], groups: Sequence[GroupCrimp[N]]
) -> StatedCrimp[N]:
    """Compare what is stated of groups of ends that take up differently with their estimates."""
    if not groups:
        return changed(of_warp, has_most=no(any_group(stated)))
    nothing: N = 0 * of_warp.stated_pct
    farthest: N = nothing
    least_pct, expected_pct, points = nothing, nothing, nothing
    shares: list[N] = []
    for group, crimp in zip(stated.groups, groups, strict=True):
        counts = group.present & (group.stated_share > 0.0)
        of_group = points_of_parts(group.parts, otherwise=of_warp.points)
        below: N = quotient(group.least_crimp_pct - crimp.estimated_warp_crimp_pct, of_group)
        taken = counts & ((points <= 0.0) | (below < farthest))
        farthest = either(taken, below, farthest)
        least_pct = either(taken, group.least_crimp_pct, least_pct)
        expected_pct = either(taken, crimp.estimated_warp_crimp_pct, expected_pct)
        points = either(taken, of_group, points)
        shares.append(either(counts, group.stated_share, 0.0))
    found = points > 0.0
    mean = quotient(
        total(shares, [each.estimated_warp_crimp_pct for each in groups], nothing),
        sum(shares, nothing),
    )
    return changed(
        of_warp,
        least_pct=either(found, least_pct, of_warp.least_pct),
        least_expected_pct=either(found, expected_pct, of_warp.least_expected_pct),
        least_points=either(found, points, of_warp.least_points),
        expected_pct=either(found, mean, of_warp.expected_pct),
        has_most=no(any_group(stated)),
    )


def _is_bounded(stated_share: N, estimated_pct: N) -> Truth:
    at_bound = (estimated_pct <= SMALLEST_CRIMP_PCT) | (estimated_pct >= LARGEST_CRIMP_PCT)
    return (stated_share < 1.0) & at_bound
