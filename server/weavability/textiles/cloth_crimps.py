"""The crimps of a cloth: of its layers, of its groups of ends, and the means over all threads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, NamedTuple

from weavability.textiles.cloth_numbers import GroupCrimp, StatedCloth, StatedLayer
from weavability.textiles.crimp import (
    CRIMP_SCALE,
    Crimps,
    crimp_points,
    estimate_crimps,
    mean_crimps,
)
from weavability.textiles.layer_crimps import GivenCrimps, given_of_layer, total
from weavability.textiles.numbers import (
    N,
    Truth,
    anywhere,
    changed,
    either,
    greatest,
    no,
    quotient,
    whole,
)


def points_of_crimp(stated: StatedCloth[N]) -> N:
    """Return the half width of the band of an estimated crimp; of layers, the widest."""
    of_cloth = crimp_points(
        mean_float_of_picks=stated.mean_float_of_picks, mean_float_of_ends=stated.mean_float_of_ends
    )
    return points_of_parts(stated.layers, otherwise=of_cloth)


def points_of_parts(parts: Sequence[StatedLayer[N]], *, otherwise: N) -> N:
    """Return the widest half band of some layers or parts; ``otherwise`` if none is there."""
    widest: N = 0 * otherwise
    for part in parts:
        of_part = crimp_points(
            mean_float_of_picks=part.mean_float_of_picks,
            mean_float_of_ends=part.mean_float_of_ends,
        )
        widest = greatest(widest, either(part.present, of_part, 0.0))
    return either(widest > 0.0, widest, otherwise)


def unstated(stated: StatedCloth[N]) -> StatedCloth[N]:
    """Return the cloth as if it stated no crimp."""
    nothing: N = 0 * stated.warp_stated_share
    return changed(
        stated,
        warp_stated_share=nothing,
        weft_stated_share=nothing,
        warp_moved_points=nothing,
        weft_moved_points=nothing,
    )


class ClothCrimps(NamedTuple, Generic[N]):
    """The crimps of a cloth.

    Attributes:
        groups: Of every group of ends.
        estimated: Of the threads that state none.
        crimp: Means over all threads of a set.
    """

    groups: tuple[GroupCrimp[N], ...]
    estimated: Crimps[N]
    crimp: Crimps[N]


def any_group(stated: StatedCloth[N]) -> Truth:
    """Return whether groups of ends take up differently."""
    some: Truth = False
    for group in stated.groups:
        some = some | group.present
    return some


def cloth_crimps(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> ClothCrimps[N]:
    """Return the crimps of a cloth."""
    given = _given(stated, ends_per_cm, picks_per_cm)
    estimated = _estimated(stated, given, ends_per_cm, picks_per_cm)
    groups, estimated = _of_groups(stated, estimated, given, ends_per_cm, picks_per_cm)
    return ClothCrimps(groups, estimated, _mean_crimps(stated, estimated))


def _given(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> list[GivenCrimps[N]]:
    """Return what is stated of the crimps of each layer; of a cloth without layers, of the cloth.

    A layer bends as if nothing were stated, but for what is stated beyond the estimates: those may
    be means over several layers, so that stating an estimate changes nothing in any layer.
    """
    of_cloth = _given_of_cloth(stated)
    some = (stated.warp_stated_share > 0.0) | (stated.weft_stated_share > 0.0)
    layered = stated.layers[0].present
    if not anywhere(some & layered):
        return [of_cloth] * len(stated.layers)
    without = unstated(stated)
    expected: ClothCrimps[N] = cloth_crimps(without, ends_per_cm, picks_per_cm)
    found: list[GivenCrimps[N]] = []
    for slot, layer in enumerate(stated.layers):
        own = _estimate(
            layer,
            _given_of_cloth(without),
            ends_per_cm * layer.set_ends_share,
            picks_per_cm * layer.set_picks_share,
        )
        of_layer = given_of_layer(
            stated, slot, own, groups=expected.groups, estimated=expected.estimated
        )
        both = (
            either(layered, its, its_cloth)
            for its, its_cloth in zip(of_layer, of_cloth, strict=True)
        )
        found.append(GivenCrimps(*both))
    return found


def _given_of_cloth(stated: StatedCloth[N]) -> GivenCrimps[N]:
    return GivenCrimps(
        stated.warp_stated_share,
        stated.warp_crimp_pct,
        stated.warp_least_crimp_pct,
        stated.weft_stated_share,
        stated.weft_crimp_pct,
        stated.weft_least_crimp_pct,
    )


def by_itself(stated: StatedCloth[N], layer: StatedLayer[N]) -> StatedCloth[N]:
    """Return a layer as a cloth of its own."""
    return changed(
        stated,
        warp_width_mm=layer.warp_width_mm,
        weft_width_mm=layer.weft_width_mm,
        warp_depth_mm=layer.warp_depth_mm,
        weft_depth_mm=layer.weft_depth_mm,
        mean_float_of_picks=layer.mean_float_of_picks,
        mean_float_of_ends=layer.mean_float_of_ends,
        longest_warp_float_picks=layer.longest_warp_float_picks,
        longest_weft_float_ends=layer.longest_weft_float_ends,
    )


def _estimated(
    stated: StatedCloth[N],
    given: Sequence[GivenCrimps[N]],
    ends_per_cm: N,
    picks_per_cm: N,
    open_warp_pct: N | None = None,
) -> Crimps[N]:
    """Return the crimps of the threads that state none; see :func:`_estimate`.

    Of layers the estimate is the mean by their own ends and picks: all picks are inserted over one
    width in the reed, and all ends of a warp are let off alike, so that the threads of every layer
    have the crimp of the cloth.
    """
    estimated = _estimate(stated, _given_of_cloth(stated), ends_per_cm, picks_per_cm, open_warp_pct)
    layered = stated.layers[0].present
    if anywhere(layered):
        of_layers = _estimate_of_parts(stated.layers, given, estimated, ends_per_cm, picks_per_cm)
        estimated = Crimps(
            either(layered, of_layers.warp_crimp_pct, estimated.warp_crimp_pct),
            either(layered, of_layers.weft_crimp_pct, estimated.weft_crimp_pct),
        )
    return estimated


def _of_groups(
    stated: StatedCloth[N],
    estimated: Crimps[N],
    given: Sequence[GivenCrimps[N]],
    ends_per_cm: N,
    picks_per_cm: N,
) -> tuple[tuple[GroupCrimp[N], ...], Crimps[N]]:
    """Estimate the crimp of every group of ends, and the crimps that follow from them.

    Each takes up as a cloth of its own weave and yarn would; all are then scaled so that their mean
    is the estimate for the whole warp, whichever of them state their own. By those the weft bends.
    """
    whole_pct = estimated.warp_crimp_pct
    some = any_group(stated)
    if not anywhere(some):
        alike = GroupCrimp(present=some, estimated_warp_crimp_pct=whole_pct)
        return (alike,) * len(stated.groups), estimated
    nothing: N = 0 * whole_pct
    shares: list[N] = []
    own: list[N] = []
    for group in stated.groups:
        found = _estimate_of_parts(group.parts, given, estimated, ends_per_cm, picks_per_cm)
        ends = sum((either(each.present, each.ends_share, 0.0) for each in group.parts), nothing)
        shares.append(either(group.present, ends, 0.0))
        own.append(found.warp_crimp_pct)
    scale = quotient(whole_pct * sum(shares, nothing), total(shares, own, nothing))
    scaled: list[N] = [
        either(group.present, _as_reported(scale * pct), whole_pct)
        for group, pct in zip(stated.groups, own, strict=True)
    ]
    open_shares: list[N] = [either(group.present, group.open_share, 0.0) for group in stated.groups]
    open_share = sum(open_shares, nothing)
    open_pct: N = either(
        open_share > 0.0, quotient(total(open_shares, scaled, nothing), open_share), whole_pct
    )
    weft_pct: N = estimated.weft_crimp_pct
    partly = some & (stated.warp_stated_share > 0.0) & no(stated.layers[0].present)
    if anywhere(partly):
        bent = _estimated(stated, given, ends_per_cm, picks_per_cm, open_warp_pct=open_pct)
        weft_pct = either(partly, bent.weft_crimp_pct, weft_pct)
    groups = tuple(
        GroupCrimp(present=group.present, estimated_warp_crimp_pct=pct)
        for group, pct in zip(stated.groups, scaled, strict=True)
    )
    return groups, Crimps(open_pct, weft_pct)


def _estimate_of_parts(
    parts: Sequence[StatedLayer[N]],
    given: Sequence[GivenCrimps[N]],
    of_cloth: Crimps[N],
    ends_per_cm: N,
    picks_per_cm: N,
) -> Crimps[N]:
    """Return the mean of the estimates of layers, or of parts of them, by their ends and picks."""
    warp: N = 0 * of_cloth.warp_crimp_pct
    weft, ends, picks = warp, warp, warp
    for layer, its in zip(parts, given, strict=False):
        found = _estimate(
            layer,
            its,
            ends_per_cm * layer.set_ends_share,
            picks_per_cm * layer.set_picks_share,
        )
        its_ends: N = either(layer.present, layer.ends_share, 0.0)
        its_picks: N = either(layer.present, layer.picks_share, 0.0)
        ends, picks = ends + its_ends, picks + its_picks
        warp = warp + its_ends * found.warp_crimp_pct
        weft = weft + its_picks * found.weft_crimp_pct
    return Crimps(
        _as_reported(either(ends > 0.0, quotient(warp, ends), of_cloth.warp_crimp_pct)),
        _as_reported(either(picks > 0.0, quotient(weft, picks), of_cloth.weft_crimp_pct)),
    )


def _estimate(
    woven: StatedCloth[N] | StatedLayer[N],
    given: GivenCrimps[N],
    ends_per_cm: N,
    picks_per_cm: N,
    open_warp_pct: N | None = None,
) -> Crimps[N]:
    """Return the crimps of the threads that state none, of a cloth in one plane.

    Args:
        woven: The cloth, or a layer as a cloth of its own.
        given: What is stated of its crimps.
        ends_per_cm: Of the grey cloth, as are the picks.
        picks_per_cm: Picks per cm.
        open_warp_pct: Mean crimp of the ends that state none, if they do not take up alike.
    """
    found = estimate_crimps(
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        warp_diameter_mm=woven.warp_depth_mm,
        weft_diameter_mm=woven.weft_depth_mm,
        mean_float_of_picks=woven.mean_float_of_picks,
        mean_float_of_ends=woven.mean_float_of_ends,
        warp_stated_share=given.warp_stated_share,
        warp_crimp_pct=given.warp_crimp_pct,
        weft_stated_share=given.weft_stated_share,
        weft_crimp_pct=given.weft_crimp_pct,
        warp_least_pct=given.warp_least_crimp_pct,
        weft_least_pct=given.weft_least_crimp_pct,
        warp_open_pct=open_warp_pct,
    )
    # Rounded to the reported precision, so that stating the estimate changes nothing.
    return Crimps(_as_reported(found.warp_crimp_pct), _as_reported(found.weft_crimp_pct))


def _mean_crimps(stated: StatedCloth[N], estimated: Crimps[N]) -> Crimps[N]:
    return mean_crimps(
        estimated,
        warp_stated_share=stated.warp_stated_share,
        warp_crimp_pct=stated.warp_crimp_pct,
        weft_stated_share=stated.weft_stated_share,
        weft_crimp_pct=stated.weft_crimp_pct,
    )


def _as_reported(crimp_pct: N) -> N:
    return whole(crimp_pct * CRIMP_SCALE) / CRIMP_SCALE
