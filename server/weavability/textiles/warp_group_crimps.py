"""What the crimp of a group of ends follows from: its own yarns, and how they weave."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np

from weavability.textiles.cloth_numbers import StatedGroup, StatedLayer
from weavability.textiles.layered_cloth import NO_LAYERS, LayeredThreads, crimps_in_layer
from weavability.textiles.numbers import Floats, changed
from weavability.textiles.thread_systems import Threads
from weavability.textiles.warp_groups import GroupFacts
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_structure import Structure, remembered_with_weave

_ALIKE: Final = StatedGroup(
    present=False, open_share=0.0, stated_share=0.0, least_crimp_pct=0.0, parts=NO_LAYERS
)


class EndFloats(NamedTuple):
    """How some ends weave.

    Attributes:
        mean_float_of_picks: Ends that the picks pass between two interlacings among these ends.
        mean_float_of_ends: Picks that these ends pass.
    """

    mean_float_of_picks: float
    mean_float_of_ends: float


def stated_groups(
    groups: tuple[GroupFacts, ...],
    warp: Threads,
    weft: Threads,
    repeat: Repeat,
    structure: Structure,
    layers: LayeredThreads | None,
) -> tuple[StatedGroup[float], ...]:
    """Gather what the crimps of groups of ends follow from.

    In a cloth without layers a group has the mean floats at its own ends; in layers those of each
    layer in which its ends weave.

    Args:
        groups: All groups.
        warp: The warp.
        weft: The weft.
        repeat: The weave at its true repeat.
        structure: Of that weave.
        layers: The layers and their yarns; ``None`` if none is declared.
    """
    woven = tuple([group for group in groups if group.pile_ratio is None and group.ends_share])
    if len(woven) < 2:
        return (_ALIKE,) * len(groups)
    is_small = layers is None and warp.is_remembered and weft.is_remembered
    return (_remembered_of_several if is_small else _of_several)(
        repeat, structure, groups, woven, warp, weft, layers
    )


def _of_several(
    repeat: Repeat,
    structure: Structure,
    groups: tuple[GroupFacts, ...],
    woven: tuple[GroupFacts, ...],
    warp: Threads,
    weft: Threads,
    layers: LayeredThreads | None,
) -> tuple[StatedGroup[float], ...]:
    """Gather the same of groups of which several are woven without pile."""
    floats = {} if layers is not None else _floats_of_yarns(woven, warp, repeat, structure)
    found = []
    for group in groups:
        parts: tuple[StatedLayer[float], ...] = ()
        if group in woven and layers is not None:
            parts = _parts_in_layers(group, warp, layers)
        elif group in woven:
            parts = (_part(group, warp, weft, floats[group.yarns]),)
        counts = {key: warp.order.counts.get(key, 0) for key in group.yarns}
        crimps = {key: pct for key, pct in warp.stated_crimps_pct.items() if key in counts}
        stated = sum(counts[key] for key in crimps)
        found.append(
            StatedGroup(
                present=any(part.present for part in parts),
                open_share=(sum(counts.values()) - stated) / warp.order.threads,
                stated_share=stated / warp.order.threads,
                least_crimp_pct=min(crimps.values(), default=0.0),
                parts=parts or NO_LAYERS,
            )
        )
    return tuple(found)


_remembered_of_several: Final = remembered_with_weave(_of_several)


def _floats_of_yarns(
    groups: Sequence[GroupFacts], warp: Threads, repeat: Repeat, structure: Structure
) -> Mapping[tuple[str, ...], EndFloats]:
    """Return how the ends of groups weave in a cloth without layers, by their yarns."""
    found = (_remembered_end_floats if warp.is_remembered else _end_floats)(
        repeat, structure, warp.order.sequence, tuple([group.yarns for group in groups])
    )
    return {group.yarns: floats for group, floats in zip(groups, found, strict=True)}


def _end_floats(
    repeat: Repeat,
    structure: Structure,
    sequence: tuple[str, ...],
    yarns_of_each: tuple[tuple[str, ...], ...],
) -> tuple[EndFloats, ...]:
    """Return the mean floats at the ends of some yarns, and of others.

    An end and a place in the thread order meet if they leave the same rest by the greatest common
    divisor of both repeats, and all that do meet equally often.
    """
    ends, both_changes = structure.ends, _changes_per_end(repeat, structure)
    step, order = math.gcd(ends, len(sequence)), np.array(sequence)
    found = []
    for yarns in yarns_of_each:
        met = np.isin(order, yarns).reshape(-1, step).sum(axis=0)
        crossings = structure.picks * float(met.sum()) * ends / step
        floats = []
        for of_ends in both_changes:
            changes = float(of_ends.reshape(-1, step).sum(axis=0) @ met)
            floats.append(crossings / changes if changes else math.inf)
        found.append(EndFloats(*floats))
    return tuple(found)


_remembered_end_floats: Final = remembered_with_weave(_end_floats)
"""They follow from weave and thread order, not from what the yarns are."""


def _changes_per_end(repeat: Repeat, structure: Structure) -> tuple[Floats, Floats]:
    """Return for every end the changes of side of the picks at it, and its own.

    A change of a pick lies between two ends, and half of it belongs to each.
    """
    matrix = repeat.weave.matrix
    between = np.count_nonzero(matrix != np.roll(matrix, -1, axis=1), axis=0)
    of_picks = (between + np.roll(between, 1)) / 2
    return of_picks, structure.interlacings_per_end.astype(np.float64)


def _part(group: GroupFacts, warp: Threads, weft: Threads, floats: EndFloats) -> StatedLayer[float]:
    return changed(
        NO_LAYERS[0],
        present=True,
        ends_share=group.ends_share,
        warp_depth_mm=_mean_depth_mm(
            warp, {key: warp.order.counts.get(key, 0) for key in group.yarns}
        ),
        weft_depth_mm=weft.depth_mm,
        mean_float_of_picks=floats.mean_float_of_picks,
        mean_float_of_ends=floats.mean_float_of_ends,
    )


def _parts_in_layers(
    group: GroupFacts, warp: Threads, layers: LayeredThreads
) -> tuple[StatedLayer[float], ...]:
    """Return the ends of a group in each layer, an absent part if there are none."""
    set_ones = [layer for layer in layers.woven.layers if layer.is_set]
    parts = []
    for woven, layer in zip(set_ones, layers.stated, strict=True):
        of_group = {key: share for key, share in layers.warp.items() if key[0] in group.yarns}
        shares = {
            yarn: share for (yarn, letter), share in of_group.items() if letter == woven.letter
        }
        ends_share = sum(shares.values())
        crimps = crimps_in_layer(warp, of_group, woven.set_with_ends)
        parts.append(
            changed(
                layer,
                present=bool(ends_share),
                ends_share=ends_share,
                stated_ends_share=crimps.stated_share,
                open_ends_share=crimps.open_share,
                warp_depth_mm=_mean_depth_mm(warp, shares) if ends_share else layer.warp_depth_mm,
            )
        )
    return tuple(parts)


def _mean_depth_mm(warp: Threads, weights: dict[str, float] | dict[str, int]) -> float:
    total = sum(weight * warp.yarns[key].depth_mm for key, weight in weights.items())
    return total / sum(weights.values())
