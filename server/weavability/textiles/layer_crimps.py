"""The crimps of the layers of a cloth: what is stated of them, and what is estimated.

The estimate for ends of one beam, or for all picks, is a mean over the layers in which they weave,
while each layer bends by itself; so that what is stated counts by how far it is from its estimate.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Generic, NamedTuple

from weavability.textiles.cloth_numbers import GroupCrimp, StatedCloth, StatedLayer
from weavability.textiles.crimp import Crimps, mean_crimps
from weavability.textiles.numbers import N, either, greatest, quotient

LEAST_SHARE: Final = 1e-9
"""Share of the threads below which none are left, but for rounding."""


class GivenCrimps(NamedTuple, Generic[N]):
    """The crimps that the threads of a layer have, as far as they are stated, as of a cloth."""

    warp_stated_share: N
    warp_crimp_pct: N
    warp_least_crimp_pct: N
    weft_stated_share: N
    weft_crimp_pct: N
    weft_least_crimp_pct: N


def given_of_layer(
    stated: StatedCloth[N],
    slot: int,
    own: Crimps[N],
    *,
    groups: Sequence[GroupCrimp[N]],
    estimated: Crimps[N],
) -> GivenCrimps[N]:
    """Return what is stated of the crimps of a layer, as of a cloth of its own.

    Args:
        stated: The cloth.
        slot: Place of the layer among its layers.
        own: Estimate of the layer as a cloth of its own, if nothing is stated.
        groups: Estimate of each group of ends, likewise.
        estimated: Of all threads, likewise.
    """
    layer = stated.layers[slot]
    of_warp = _given_of_set(
        own.warp_crimp_pct,
        _mean_of_groups(
            stated, slot, "stated_ends_share", groups, otherwise=estimated.warp_crimp_pct
        ),
        share=_stated_ends(layer),
        stated_pct=layer.stated_ends_pct,
        least_pct=layer.least_ends_pct,
        moved_points=stated.warp_moved_points,
    )
    of_weft = _given_of_set(
        own.weft_crimp_pct,
        estimated.weft_crimp_pct,
        share=_stated_picks(layer),
        stated_pct=layer.stated_picks_pct,
        least_pct=layer.least_picks_pct,
        moved_points=stated.weft_moved_points,
    )
    return GivenCrimps(*of_warp, *of_weft)


def _given_of_set(
    own_pct: N, expected_pct: N, *, share: N, stated_pct: N, least_pct: N, moved_points: N
) -> tuple[N, N, N]:
    """Return stated share, mean and least crimp of the ends, or of the picks, of a layer.

    Args:
        own_pct: Its estimate as a cloth of its own.
        expected_pct: What is estimated of the threads that state a crimp.
        share: Those, as a share of its threads.
        stated_pct: Mean of what they state.
        least_pct: The least.
        moved_points: Percentage points by which all are moved beside that.
    """
    beyond = stated_pct - expected_pct
    is_moved = moved_points != 0.0
    mean: N = greatest(0.0, own_pct + either(is_moved, share * beyond + moved_points, beyond))
    least_of_them: N = greatest(0.0, own_pct + least_pct - expected_pct)
    return (
        either(is_moved, 1.0, share),
        either((share > 0.0) | is_moved, mean, 0.0),
        either(is_moved, mean, least_of_them),
    )


def _stated_share(stated: N, open_share: N) -> N:
    """Return the share of some threads that state a crimp, exactly 1 if all do."""
    some: N = quotient(stated, stated + open_share)
    return either(stated <= 0.0, 0.0, either(open_share <= LEAST_SHARE, 1.0, some))


def _stated_ends(layer: StatedLayer[N]) -> N:
    return _stated_share(layer.stated_ends_share, layer.open_ends_share)


def _stated_picks(layer: StatedLayer[N]) -> N:
    stated = layer.stated_picks_share
    return _stated_share(stated, layer.set_picks_share - stated)


def _mean_of_groups(
    stated: StatedCloth[N],
    slot: int,
    share: str,
    groups: Sequence[GroupCrimp[N]],
    *,
    otherwise: N,
) -> N:
    """Return the mean estimate of some ends of a layer.

    Args:
        stated: The cloth.
        slot: Place of the layer among its layers.
        share: Figure of the part of a group in the layer by which its ends count.
        groups: The estimates of the groups.
        otherwise: The estimate for all ends, which holds if the groups take up alike.
    """
    nothing: N = 0 * otherwise
    counted: list[N] = [
        either(group.present, getattr(group.parts[slot], share), 0.0)
        if slot < len(group.parts)
        else nothing
        for group in stated.groups
    ]
    of_groups = [each.estimated_warp_crimp_pct for each in groups]
    ends = sum(counted, nothing)
    return either(ends > 0.0, quotient(total(counted, of_groups, nothing), ends), otherwise)


def crimps_of_layer(
    stated: StatedCloth[N], slot: int, groups: Sequence[GroupCrimp[N]], estimated: Crimps[N]
) -> Crimps[N]:
    """Return the mean crimps of the threads of a layer, stated or estimated.

    All picks are inserted over one width in the reed, and all ends of a beam are let off alike.

    Args:
        stated: The cloth.
        slot: Place of the layer among its layers.
        groups: The estimate of each group of ends.
        estimated: Of all threads.
    """
    layer = stated.layers[slot]
    open_pct = _mean_of_groups(
        stated, slot, "open_ends_share", groups, otherwise=estimated.warp_crimp_pct
    )
    found = mean_crimps(
        Crimps(open_pct, estimated.weft_crimp_pct),
        warp_stated_share=_stated_ends(layer),
        warp_crimp_pct=layer.stated_ends_pct,
        weft_stated_share=_stated_picks(layer),
        weft_crimp_pct=layer.stated_picks_pct,
    )
    return Crimps(
        found.warp_crimp_pct + stated.warp_moved_points,
        found.weft_crimp_pct + stated.weft_moved_points,
    )


def total(shares: Sequence[N], values: Sequence[N], nothing: N) -> N:
    """Return the sum of values, each times its share."""
    return sum((share * value for share, value in zip(shares, values, strict=True)), nothing)
