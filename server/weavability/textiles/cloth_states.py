"""The three states of a cloth: in the loom, grey and finished.

* **loom state**: in the reed (width) and under the take-up's tension (picks);
* **grey**: off the loom, relaxed, unfinished; the state in which cover, mass and crimp are stated;
* **finished**: after finishing, by its shrinkages and what it adds to the mass or takes off.

A cloth is stated in one of them; it is brought to the grey state, and from there to the others.

Only numbers here, of one cloth or of a column of cloths: what an order leaves open is settled in
``cloth_defaults``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from weavability.textiles.cloth_crimps import (
    ClothCrimps,
    any_group,
    by_itself,
    cloth_crimps,
    points_of_crimp,
    points_of_parts,
    unstated,
)
from weavability.textiles.cloth_numbers import (
    ClothNumbers,
    GreyLayer,
    GroupCrimp,
    StatedCloth,
    StatedCrimp,
    StatedLayer,
)
from weavability.textiles.construction import Stage
from weavability.textiles.crimp import (
    LARGEST_CRIMP_PCT,
    SMALLEST_CRIMP_PCT,
    Crimps,
    crimp_heights_pct,
)
from weavability.textiles.geometry import crowding, float_length_mm, free_float_length_mm
from weavability.textiles.jamming import jam_of_cloth
from weavability.textiles.layer_crimps import crimps_of_layer, total
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    changed,
    either,
    greatest,
    no,
    quotient,
    whole,
)
from weavability.textiles.weave_squares import NO_SQUARES

CRIMP_ROUNDS: Final = 40
"""Most rounds in which crimp and width of a cloth stated in the loom are brought together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkages:
    """What is left of a length after each step, as factors.

    Attributes:
        width_kept: Finished width over grey width.
        length_kept: Finished length over grey length.
        relaxed_kept: Grey length over length on the loom.
        mass_kept: Finished mass of a piece over its grey mass, above 1 if finishing adds to it.
    """

    width_kept: float
    length_kept: float
    relaxed_kept: float
    mass_kept: float


def grey_width_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey width over the width stated at ``stage``; in the loom state crimp decides it."""
    return 1 / shrinkages.width_kept if stage is Stage.FINISHED else 1.0


def grey_length_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey length over the length stated at ``stage``, above 0."""
    if stage is Stage.FINISHED:
        return 1 / shrinkages.length_kept
    return shrinkages.relaxed_kept if stage is Stage.LOOM_STATE else 1.0


def grey_cloth(stated: StatedCloth[N]) -> ClothNumbers[N]:
    """Bring a cloth to the grey state, and count and measure it there."""
    picks = stated.picks_per_cm / stated.grey_length_factor
    groups, estimated, crimp, width_factor = _grey_width(stated, picks)
    ends = stated.ends_per_cm / width_factor
    of_warp, of_weft = _stated_crimps(stated, estimated, crimp, ends, picks)
    width_cm = stated.width_cm * width_factor
    panel_reed_cm = width_cm * (1 + crimp.weft_crimp_pct / 100)
    ground: N = greatest(1.0, whole(ends * width_cm))
    jam = jam_of_cloth(
        stated.squares,
        lies_over=stated.lies_over | stated.has_tape,
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_diameter_mm=stated.warp_width_mm,
        weft_diameter_mm=stated.weft_width_mm,
        mean_float_of_picks=stated.mean_float_of_picks,
        mean_float_of_ends=stated.mean_float_of_ends,
        warp_depth_mm=stated.warp_depth_mm,
        weft_depth_mm=stated.weft_depth_mm,
        side_share=stated.side_share,
        picks_per_shed=stated.picks_per_shed,
    )
    layers = tuple(
        _grey_layer(stated, layer, crimps_of_layer(stated, slot, groups, estimated), ends, picks)
        for slot, layer in enumerate(stated.layers)
    )
    return ClothNumbers(
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_crimp_pct=crimp.warp_crimp_pct,
        weft_crimp_pct=crimp.weft_crimp_pct,
        estimated_warp_crimp_pct=estimated.warp_crimp_pct,
        estimated_weft_crimp_pct=estimated.weft_crimp_pct,
        grey_width_cm=width_cm,
        panel_reed_width_cm=panel_reed_cm,
        reed_width_cm=stated.panels * panel_reed_cm + (stated.panels - 1) * stated.panel_gap_cm,
        ground_ends=ground,
        total_ends=stated.panels * ground + stated.selvedge_ends,
        picks_per_cm_on_loom=picks * stated.taken_up_share * stated.relaxed_kept,
        tightness_pct=jam.tightness_pct,
        mean_tightness_pct=_greatest_of(
            layers, [layer.mean_tightness_pct for layer in layers], jam.mean_tightness_pct
        ),
        in_plane_tightness_pct=jam.in_plane_tightness_pct,
        held_tightness_pct=_greatest_of(
            layers, [layer.held_tightness_pct for layer in layers], jam.held_tightness_pct
        ),
        warp_cover_pct=100 * crowding(threads_per_cm=ends, diameter_mm=stated.warp_width_mm),
        weft_cover_pct=100 * crowding(threads_per_cm=picks, diameter_mm=stated.weft_width_mm),
        has_tape=stated.has_tape,
        warp_release_pct=100 * (1 - stated.length_kept / (1 + crimp.warp_crimp_pct / 100)),
        weft_release_pct=100 * (1 - stated.width_kept / (1 + crimp.weft_crimp_pct / 100)),
        longest_float_mm=_greatest_of(
            layers,
            [layer.longest_float_mm for layer in layers],
            _longest_float_mm(stated, ends, picks),
        ),
        free_float_mm=_greatest_of(
            layers, [layer.free_float_mm for layer in layers], _free_float_mm(stated, ends, picks)
        ),
        loom_length_m=stated.loom_length_m,
        woven_warp_m=stated.loom_length_m * (1 + crimp.warp_crimp_pct / 100),
        layers=layers,
        groups=groups,
        stated_warp_crimp=of_warp,
        stated_weft_crimp=of_weft,
        has_both_crimps=(stated.warp_stated_share >= 1.0)
        & (stated.weft_stated_share >= 1.0)
        & _is_one_layer(stated),
        crimp_heights_pct=crimp_heights_pct(
            crimp,
            ends_per_cm=ends,
            picks_per_cm=picks,
            warp_diameter_mm=stated.warp_depth_mm,
            weft_diameter_mm=stated.weft_depth_mm,
            mean_float_of_picks=stated.mean_float_of_picks,
            mean_float_of_ends=stated.mean_float_of_ends,
        ),
    )


def _is_one_layer(stated: StatedCloth[N]) -> Truth:
    """Return whether no layers are declared, or one that has all threads."""
    first = stated.layers[0]
    return no(first.present) | ((first.set_ends_share >= 1.0) & (first.set_picks_share >= 1.0))


def _stated_crimps(
    stated: StatedCloth[N], estimated: Crimps[N], crimp: Crimps[N], ends_per_cm: N, picks_per_cm: N
) -> tuple[StatedCrimp[N], StatedCrimp[N]]:
    """Put the stated crimps of warp and weft beside those that are expected."""
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


def _longest_float_mm(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> N:
    return greatest(
        float_length_mm(float_threads=stated.longest_warp_float_picks, threads_per_cm=picks_per_cm),
        float_length_mm(float_threads=stated.longest_weft_float_ends, threads_per_cm=ends_per_cm),
    )


def _free_float_mm(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> N:
    over_picks, over_ends = stated.longest_warp_float_picks, stated.longest_weft_float_ends
    return greatest(
        free_float_length_mm(float_threads=over_picks, threads_per_cm=picks_per_cm),
        free_float_length_mm(float_threads=over_ends, threads_per_cm=ends_per_cm),
    )


def _grey_layer(
    stated: StatedCloth[N],
    layer: StatedLayer[N],
    crimp: Crimps[N],
    ends_per_cm: N,
    picks_per_cm: N,
) -> GreyLayer[N]:
    """Set a layer against its own threads; 0 throughout if there is none."""
    ends, picks = ends_per_cm * layer.set_ends_share, picks_per_cm * layer.set_picks_share
    nothing: N = 0 * ends
    if not anywhere(layer.present):
        return GreyLayer(
            present=layer.present,
            ends_per_cm=ends,
            picks_per_cm=picks,
            warp_cover_pct=nothing,
            weft_cover_pct=nothing,
            mean_tightness_pct=nothing,
            held_tightness_pct=nothing,
            warp_crimp_pct=nothing,
            weft_crimp_pct=nothing,
            longest_float_mm=nothing,
            free_float_mm=nothing,
        )
    alone = by_itself(stated, layer)
    jam = jam_of_cloth(
        NO_SQUARES,
        lies_over=False,
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_diameter_mm=layer.warp_width_mm,
        weft_diameter_mm=layer.weft_width_mm,
        mean_float_of_picks=layer.mean_float_of_picks,
        mean_float_of_ends=layer.mean_float_of_ends,
        warp_depth_mm=layer.warp_depth_mm,
        weft_depth_mm=layer.weft_depth_mm,
        holding_ends_per_cm=ends_per_cm * layer.holding_ends_share,
        holding_picks_per_cm=picks_per_cm * layer.holding_picks_share,
    )
    return GreyLayer(
        present=layer.present,
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_cover_pct=100 * crowding(threads_per_cm=ends, diameter_mm=layer.warp_width_mm),
        weft_cover_pct=100 * crowding(threads_per_cm=picks, diameter_mm=layer.weft_width_mm),
        mean_tightness_pct=jam.mean_tightness_pct,
        held_tightness_pct=jam.held_tightness_pct,
        warp_crimp_pct=crimp.warp_crimp_pct,
        weft_crimp_pct=crimp.weft_crimp_pct,
        longest_float_mm=_longest_float_mm(alone, ends, picks),
        free_float_mm=_free_float_mm(alone, ends, picks),
    )


def _greatest_of(layers: Sequence[GreyLayer[N]], values: Sequence[N], of_cloth: N) -> N:
    """Return the greatest value of any layer; that of the cloth if it has no layers."""
    most: N = 0 * of_cloth
    for layer, value in zip(layers, values, strict=True):
        most = greatest(most, either(layer.present, value, 0.0))
    return either(layers[0].present, most, of_cloth)


def _grey_width(
    stated: StatedCloth[N], picks_per_cm: N
) -> tuple[tuple[GroupCrimp[N], ...], Crimps[N], Crimps[N], N]:
    """Return groups and crimps as :class:`ClothCrimps` has them, and grey over stated width."""
    factor = stated.grey_width_factor
    found: ClothCrimps[N] = cloth_crimps(stated, stated.ends_per_cm / factor, picks_per_cm)
    in_loom = stated.in_loom_state
    if not anywhere(in_loom):
        return found.groups, found.estimated, found.crimp, factor
    # In the reed the weft lies straight, so the grey width needs the crimp, which needs the
    # grey sett: a few rounds bring the two together.
    for _ in range(CRIMP_ROUNDS):
        before = found.crimp.weft_crimp_pct
        in_reed = stated.ends_per_cm * (1 + before / 100)
        ends: N = either(in_loom, in_reed, stated.ends_per_cm / factor)
        found = cloth_crimps(stated, ends, picks_per_cm)
        if not anywhere(found.crimp.weft_crimp_pct != before):
            break
    in_reed = 1 + found.crimp.weft_crimp_pct / 100
    width_factor: N = either(in_loom, 1 / in_reed, factor)
    return found.groups, found.estimated, found.crimp, width_factor


@dataclass(slots=True, kw_only=True)
class StateNumbers(Record[N]):
    """A cloth in one state.

    Attributes:
        ends_per_cm: Of the ground.
        width_cm: Of one panel.
        length_m: Of all panels together.
        mass_g_per_m2: Of the yarn in the cloth, without size.
    """

    ends_per_cm: N
    picks_per_cm: N
    width_cm: N
    length_m: N
    mass_g_per_m2: N


def in_loom_state(grey: StateNumbers[N], *, weft_crimp_pct: N, relaxed_kept: N) -> StateNumbers[N]:
    """Return a grey cloth as it is in the loom: the weft straight in the reed, the warp tight."""
    straight = 1 + weft_crimp_pct / 100
    return StateNumbers(
        ends_per_cm=grey.ends_per_cm / straight,
        picks_per_cm=grey.picks_per_cm * relaxed_kept,
        width_cm=grey.width_cm * straight,
        length_m=grey.length_m / relaxed_kept,
        mass_g_per_m2=grey.mass_g_per_m2 * relaxed_kept / straight,
    )


def in_finished_state(
    grey: StateNumbers[N], *, width_kept: N, length_kept: N, mass_kept: N
) -> StateNumbers[N]:
    """Return a grey cloth as it is when finished; the factors are those of ``Shrinkages``."""
    return StateNumbers(
        ends_per_cm=grey.ends_per_cm / width_kept,
        picks_per_cm=grey.picks_per_cm / length_kept,
        width_cm=grey.width_cm * width_kept,
        length_m=grey.length_m * length_kept,
        mass_g_per_m2=grey.mass_g_per_m2 * mass_kept / (width_kept * length_kept),
    )
