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
from dataclasses import dataclass, replace
from typing import Final

from weavability.textiles.construction import Stage
from weavability.textiles.crimp import (
    LARGEST_CRIMP_PCT,
    SMALLEST_CRIMP_PCT,
    Crimps,
    crimp_points,
    estimate_crimps,
    mean_crimps,
)
from weavability.textiles.geometry import crowding, float_length_mm, free_float_length_mm
from weavability.textiles.jamming import NO_SQUARES, jam_of_cloth
from weavability.textiles.numbers import (
    Lists,
    N,
    Record,
    Truth,
    anywhere,
    either,
    greatest,
    no,
    quotient,
    whole,
)

CRIMP_ROUNDS: Final = 40
"""Most rounds in which crimp and width of a cloth stated in the loom are brought together."""

CRIMP_SCALE: Final = 100.0
"""An estimated crimp has two decimals in per cent: its error is a hundred times larger."""


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


@dataclass(slots=True, kw_only=True)
class StatedLayer(Record[N]):
    """A layer whose threads are set against one another, in numbers.

    The first slot of a cloth without layers has ``present`` false.

    Attributes:
        ends_share: Its own ends as a share of all ends; 0 of a backing that has only picks.
        picks_share: Its own picks, likewise.
        set_ends_share: The ends that its picks are set with: its own, or those that bind it.
        set_picks_share: The picks, likewise.
        holding_ends_share: All ends that those picks interlace with, of whatever layer but pile.
        holding_picks_share: All picks that those ends interlace with, likewise.
        warp_width_mm: Mean of those ends, as are the figures below, or of those picks.
    """

    present: Truth
    ends_share: N
    picks_share: N
    set_ends_share: N
    set_picks_share: N
    holding_ends_share: N
    holding_picks_share: N
    warp_width_mm: N
    weft_width_mm: N
    warp_depth_mm: N
    weft_depth_mm: N
    mean_float_of_picks: N
    mean_float_of_ends: N
    longest_warp_float_picks: N
    longest_weft_float_ends: N


@dataclass(slots=True, kw_only=True)
class StatedGroup(Record[N]):
    """Ends on a beam of their own, which take up as their own weave asks.

    The groups of a cloth of which only one weaves the ground have ``present`` false: its crimp is
    that of the cloth.

    Attributes:
        open_share: Its ends that state no crimp, as a share of all ends.
        parts: Its ends in each layer; one part in a cloth without layers. ``ends_share`` is theirs.
    """

    present: Truth
    open_share: N
    parts: tuple[StatedLayer[N], ...]


@dataclass(slots=True, kw_only=True)
class StatedCloth(Record[N]):
    """A cloth as an order states it, in numbers, with nothing left open but its crimps.

    Attributes:
        ends_per_cm: At the stage of the order, as are picks and width.
        width_cm: Of one panel.
        grey_width_factor: Grey width over stated width, unless stated in the loom.
        grey_length_factor: Grey length over stated length.
        in_loom_state: Whether it is stated in the loom.
        relaxed_kept: Grey length over length on the loom.
        width_kept: Finished width over grey width.
        length_kept: Finished length over grey length.
        warp_width_mm: Mean over the order, as are the other figures of the yarns: the diameter of a
            round yarn, the width of a tape.
        warp_depth_mm: The diameter of a round yarn, the thickness of a tape.
        has_tape: Whether warp or weft holds tapes, which fold where they have no room.
        warp_stated_share: Share of the ends whose crimp is stated, 0 to 1; ends of pile, whose
            ratio is stated, are not counted.
        warp_crimp_pct: Mean crimp of those ends; 0 if there are none.
        squares: Squares of the weave that may govern its jam; none if its mean floats do.
        lies_over: Whether all its threads can lie over one another.
        weft_stated_share: Share of the picks whose crimp is stated.
        weft_crimp_pct: Mean crimp of those picks; 0 if there are none.
        selvedge_ends: Extra ends of all selvedges of all panels.
        loom_length_m: Grey cloth to weave on the loom.
        layers: Layers that are set each against itself.
        groups: Groups of ends, each on a beam of its own; one if none are stated.
    """

    ends_per_cm: N
    picks_per_cm: N
    width_cm: N
    grey_width_factor: N
    grey_length_factor: N
    in_loom_state: Truth
    relaxed_kept: N
    width_kept: N
    length_kept: N
    warp_width_mm: N
    weft_width_mm: N
    warp_depth_mm: N
    weft_depth_mm: N
    has_tape: Truth
    mean_float_of_picks: N
    mean_float_of_ends: N
    squares: Lists
    lies_over: Truth
    longest_warp_float_picks: N
    longest_weft_float_ends: N
    warp_stated_share: N
    warp_crimp_pct: N
    weft_stated_share: N
    weft_crimp_pct: N
    panels: N
    panel_gap_cm: N
    selvedge_ends: N
    loom_length_m: N
    layers: tuple[StatedLayer[N], ...]
    groups: tuple[StatedGroup[N], ...]


@dataclass(slots=True, kw_only=True)
class GreyLayer(Record[N]):
    """A layer in the grey cloth, set against its own threads.

    Attributes:
        ends_per_cm: The ends that its picks are set with.
        picks_per_cm: The picks, likewise.
        mean_tightness_pct: Share of its own jam, by its mean floats.
        held_tightness_pct: The same as far as the threads hold one another, those of other layers
            among them; see ``jamming``.
        warp_cover_pct: Widths of those ends over their spacing, likewise of those picks.
    """

    present: Truth
    ends_per_cm: N
    picks_per_cm: N
    warp_cover_pct: N
    weft_cover_pct: N
    mean_tightness_pct: N
    held_tightness_pct: N
    warp_crimp_pct: N
    weft_crimp_pct: N
    longest_float_mm: N
    free_float_mm: N


@dataclass(slots=True, kw_only=True)
class GroupCrimp(Record[N]):
    """The crimp of a group of ends.

    Attributes:
        present: Whether it takes up differently from others; else its crimp is that of the cloth.
        estimated_warp_crimp_pct: Of its ends that state none.
    """

    present: Truth
    estimated_warp_crimp_pct: N


@dataclass(slots=True, kw_only=True)
class StatedCrimp(Record[N]):
    """The crimp that an order states of warp or weft, beside what is expected of the cloth.

    Attributes:
        is_stated: Whether it states one, of some threads at least.
        stated_pct: Mean of what it states.
        expected_pct: What would be estimated if no crimp were stated.
        points: Half width of the band in which a crimp is expected.
        has_most: Whether there is a greatest: not if groups of ends take up differently.
        other_pct: Crimp of the other set of threads.
        other_is_bounded: Whether that is an estimate at a bound of estimates.
    """

    is_stated: Truth
    stated_pct: N
    expected_pct: N
    points: N
    has_most: Truth
    other_pct: N
    other_is_bounded: Truth


@dataclass(slots=True, kw_only=True)
class ClothNumbers(Record[N]):
    """What follows from a construction alone, in numbers; grey unless otherwise stated.

    Attributes:
        warp_crimp_pct: Mean over the ends, stated or estimated.
        weft_crimp_pct: Mean over the picks.
        estimated_warp_crimp_pct: Of the ends that state none.
        estimated_weft_crimp_pct: Of the picks that state none.
        grey_width_cm: Of one panel.
        panel_reed_width_cm: Of one panel in the reed: the weft lies straight at beat-up.
        reed_width_cm: Of all panels in the reed, with the gaps between them.
        ground_ends: Of one panel, without the extra ends of its selvedges.
        total_ends: Of all panels, selvedges included.
        tightness_pct: Share of the jam where the threads are closest; at 100 % round yarns can come
            no closer; of layers, each is set against itself.
        mean_tightness_pct: The same by mean floats and setts of the whole cloth, or of the layer in
            which it is greatest.
        in_plane_tightness_pct: Where threads that lie in one plane are closest; 0 if all can lie
            over one another.
        held_tightness_pct: The mean one as far as the threads hold one another; see ``jamming``.
        warp_cover_pct: Diameters of the ends over their spacing; of tapes their widths.
        weft_cover_pct: Likewise of the picks.
        has_tape: Whether warp or weft holds tapes.
        warp_release_pct: Shortening from straight yarn to finished cloth, on the yarn.
        weft_release_pct: Likewise across: from the reed to finished cloth.
        longest_float_mm: Longest float on either side of the cloth, warp or weft; of layers, each
            by itself.
        free_float_mm: The longest of those over two threads or more; 0 if there is none.
        loom_length_m: Grey cloth to weave on the loom.
        woven_warp_m: Warp that goes into it.
        layers: The layers, each set against itself.
        groups: The groups of ends, each with its crimp.
        stated_warp_crimp: The crimp that is stated of the warp, beside what is expected.
        stated_weft_crimp: Likewise of the weft.
    """

    ends_per_cm: N
    picks_per_cm: N
    warp_crimp_pct: N
    weft_crimp_pct: N
    estimated_warp_crimp_pct: N
    estimated_weft_crimp_pct: N
    grey_width_cm: N
    panel_reed_width_cm: N
    reed_width_cm: N
    ground_ends: N
    total_ends: N
    picks_per_cm_on_loom: N
    tightness_pct: N
    mean_tightness_pct: N
    in_plane_tightness_pct: N
    held_tightness_pct: N
    warp_cover_pct: N
    weft_cover_pct: N
    has_tape: Truth
    warp_release_pct: N
    weft_release_pct: N
    longest_float_mm: N
    free_float_mm: N
    loom_length_m: N
    woven_warp_m: N
    layers: tuple[GreyLayer[N], ...]
    groups: tuple[GroupCrimp[N], ...]
    stated_warp_crimp: StatedCrimp[N]
    stated_weft_crimp: StatedCrimp[N]

    @property
    def estimated_crimps(self) -> Crimps[N]:
        """Crimps of the threads that state none."""
        return Crimps(self.estimated_warp_crimp_pct, self.estimated_weft_crimp_pct)


def grey_cloth(stated: StatedCloth[N]) -> ClothNumbers[N]:
    """Bring a cloth to the grey state, and count and measure it there."""
    picks = stated.picks_per_cm / stated.grey_length_factor
    estimated, crimp, width_factor = _grey_width(stated, picks)
    ends = stated.ends_per_cm / width_factor
    of_warp, of_weft = _stated_crimps(stated, estimated, crimp, ends, picks)
    groups, estimated, crimp = _of_groups(stated, estimated, crimp, ends, picks)
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
    )
    layers = tuple(_grey_layer(stated, layer, ends, picks) for layer in stated.layers)
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
        picks_per_cm_on_loom=picks * stated.relaxed_kept,
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
    )


def _stated_crimps(
    stated: StatedCloth[N], estimated: Crimps[N], crimp: Crimps[N], ends_per_cm: N, picks_per_cm: N
) -> tuple[StatedCrimp[N], StatedCrimp[N]]:
    """Put the stated crimps of warp and weft beside those that are expected."""
    expected = _expected(stated, estimated, ends_per_cm, picks_per_cm)
    points = points_of_crimp(stated)
    unlike: Truth = False
    for group in stated.groups:
        unlike = unlike | group.present
    return (
        StatedCrimp(
            is_stated=stated.warp_stated_share > 0.0,
            stated_pct=stated.warp_crimp_pct,
            expected_pct=expected.warp_crimp_pct,
            points=points,
            has_most=no(unlike),
            other_pct=crimp.weft_crimp_pct,
            other_is_bounded=_is_bounded(stated.weft_stated_share, estimated.weft_crimp_pct),
        ),
        StatedCrimp(
            is_stated=stated.weft_stated_share > 0.0,
            stated_pct=stated.weft_crimp_pct,
            expected_pct=expected.weft_crimp_pct,
            points=points,
            has_most=True,
            other_pct=crimp.warp_crimp_pct,
            other_is_bounded=_is_bounded(stated.warp_stated_share, estimated.warp_crimp_pct),
        ),
    )


def _is_bounded(stated_share: N, estimated_pct: N) -> Truth:
    at_bound = (estimated_pct <= SMALLEST_CRIMP_PCT) | (estimated_pct >= LARGEST_CRIMP_PCT)
    return (stated_share < 1.0) & at_bound


def _expected(
    stated: StatedCloth[N], estimated: Crimps[N], ends_per_cm: N, picks_per_cm: N
) -> Crimps[N]:
    """Estimate the crimps as if none were stated."""
    some = (stated.warp_stated_share > 0.0) | (stated.weft_stated_share > 0.0)
    if not anywhere(some):
        return estimated
    unstated = replace(
        stated,
        warp_stated_share=0 * stated.warp_stated_share,
        weft_stated_share=0 * stated.weft_stated_share,
    )
    return _crimps(unstated, ends_per_cm, picks_per_cm)[0]


def points_of_crimp(stated: StatedCloth[N]) -> N:
    """Return the half width of the band of an estimated crimp; of layers, the widest."""
    of_cloth = crimp_points(
        mean_float_of_picks=stated.mean_float_of_picks, mean_float_of_ends=stated.mean_float_of_ends
    )
    widest: N = 0 * of_cloth
    for layer in stated.layers:
        of_layer = crimp_points(
            mean_float_of_picks=layer.mean_float_of_picks,
            mean_float_of_ends=layer.mean_float_of_ends,
        )
        widest = greatest(widest, either(layer.present, of_layer, 0.0))
    return either(stated.layers[0].present, widest, of_cloth)


def _of_groups(
    stated: StatedCloth[N], estimated: Crimps[N], crimp: Crimps[N], ends_per_cm: N, picks_per_cm: N
) -> tuple[tuple[GroupCrimp[N], ...], Crimps[N], Crimps[N]]:
    """Estimate the crimp of every group of ends, and the means that follow from them.

    Each takes up as a cloth of its own weave and yarn would; all are then scaled so that their mean
    is the estimate for the whole warp, on which the crimp of the weft rests.
    """
    whole_pct = estimated.warp_crimp_pct
    some: Truth = False
    for group in stated.groups:
        some = some | group.present
    if not anywhere(some):
        alike = GroupCrimp(present=some, estimated_warp_crimp_pct=whole_pct)
        return (alike,) * len(stated.groups), estimated, crimp
    shares: list[N] = []
    own: list[N] = []
    for group in stated.groups:
        found = _estimate_of_parts(stated, group.parts, estimated, ends_per_cm, picks_per_cm)
        shares.append(either(group.present, group.open_share, 0.0))
        own.append(found.warp_crimp_pct)
    open_share = sum(shares, start=0 * whole_pct)
    weighted = [share * pct for share, pct in zip(shares, own, strict=True)]
    scale = quotient(whole_pct * open_share, sum(weighted, start=0 * whole_pct))
    scaled: list[N] = [
        either(group.present & (open_share > 0.0), _as_reported(scale * pct), whole_pct)
        for group, pct in zip(stated.groups, own, strict=True)
    ]
    total = sum(
        (share * pct for share, pct in zip(shares, scaled, strict=True)), start=0 * whole_pct
    )
    mean_pct: N = either(some & (open_share > 0.0), quotient(total, open_share), whole_pct)
    of_ends = Crimps(mean_pct, estimated.weft_crimp_pct)
    return (
        tuple(
            GroupCrimp(present=group.present, estimated_warp_crimp_pct=pct)
            for group, pct in zip(stated.groups, scaled, strict=True)
        ),
        of_ends,
        Crimps(_mean_crimps(stated, of_ends).warp_crimp_pct, crimp.weft_crimp_pct),
    )


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


def _by_itself(stated: StatedCloth[N], layer: StatedLayer[N]) -> StatedCloth[N]:
    """Return a layer as a cloth of its own."""
    return replace(
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


def _grey_layer(
    stated: StatedCloth[N], layer: StatedLayer[N], ends_per_cm: N, picks_per_cm: N
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
    alone = _by_itself(stated, layer)
    crimp = _mean_crimps(stated, _estimate(alone, ends, picks))
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


def _grey_width(stated: StatedCloth[N], picks_per_cm: N) -> tuple[Crimps[N], Crimps[N], N]:
    """Return the crimps of the grey cloth, and its width over the stated one.

    The crimps are those that are estimated for the threads that state none, and the means.
    """
    factor = stated.grey_width_factor
    estimated, crimp = _crimps(stated, stated.ends_per_cm / factor, picks_per_cm)
    in_loom = stated.in_loom_state
    if not anywhere(in_loom):
        return estimated, crimp, factor
    # In the reed the weft lies straight, so the grey width needs the crimp, which needs the
    # grey sett: a few rounds bring the two together.
    for _ in range(CRIMP_ROUNDS):
        before = crimp.weft_crimp_pct
        in_reed = stated.ends_per_cm * (1 + before / 100)
        ends: N = either(in_loom, in_reed, stated.ends_per_cm / factor)
        estimated, crimp = _crimps(stated, ends, picks_per_cm)
        if not anywhere(crimp.weft_crimp_pct != before):
            break
    return estimated, crimp, either(in_loom, 1 / (1 + crimp.weft_crimp_pct / 100), factor)


def _crimps(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> tuple[Crimps[N], Crimps[N]]:
    """Return the crimps that are estimated, and the means over all threads of a set.

    Of layers the estimate is the mean by their own ends and picks: all picks are inserted over one
    width in the reed, and all ends of a warp are let off alike, so that the threads of every layer
    have the crimp of the cloth.
    """
    estimated = _estimate(stated, ends_per_cm, picks_per_cm)
    layered = stated.layers[0].present
    if anywhere(layered):
        of_layers = _estimate_of_parts(stated, stated.layers, estimated, ends_per_cm, picks_per_cm)
        estimated = Crimps(
            either(layered, of_layers.warp_crimp_pct, estimated.warp_crimp_pct),
            either(layered, of_layers.weft_crimp_pct, estimated.weft_crimp_pct),
        )
    return estimated, _mean_crimps(stated, estimated)


def _estimate_of_parts(
    stated: StatedCloth[N],
    parts: Sequence[StatedLayer[N]],
    of_cloth: Crimps[N],
    ends_per_cm: N,
    picks_per_cm: N,
) -> Crimps[N]:
    """Return the mean of the estimates of layers, or of parts of them, by their ends and picks."""
    warp: N = 0 * of_cloth.warp_crimp_pct
    weft, ends, picks = warp, warp, warp
    for layer in parts:
        found = _estimate(
            _by_itself(stated, layer),
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


def _estimate(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> Crimps[N]:
    """Return the crimps of the threads that state none, of a cloth in one plane."""
    found = estimate_crimps(
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        warp_diameter_mm=stated.warp_depth_mm,
        weft_diameter_mm=stated.weft_depth_mm,
        mean_float_of_picks=stated.mean_float_of_picks,
        mean_float_of_ends=stated.mean_float_of_ends,
        warp_stated_share=stated.warp_stated_share,
        warp_crimp_pct=stated.warp_crimp_pct,
        weft_stated_share=stated.weft_stated_share,
        weft_crimp_pct=stated.weft_crimp_pct,
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
