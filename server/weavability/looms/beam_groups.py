"""The groups of ends of a warp and the beams that they are wound on, in numbers.

A loom has one let-off for all its beams, or one for each of those that are stacked. If it has a
let-off for every group, each group has a beam of its own; else groups of one take-up share one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import gcd, inf
from typing import Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from weavability.looms.beam_density import ends_in_repeat, moved_density_g_per_cm3
from weavability.looms.beams import (
    beam_capacity_m,
    beams_needed,
    warp_length_m,
    winding_diameter_cm,
)
from weavability.looms.loom_numbers import LoomNumbers
from weavability.textiles.cloth_numbers import ClothNumbers, GroupCrimp
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.guards import LARGEST
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    either,
    greatest,
    least,
    no,
    passed,
    reached,
    whole,
)
from weavability.textiles.thread_systems import Threads, coarsest_and_finest
from weavability.textiles.warp_groups import GroupFacts
from weavability.textiles.warp_size import size_by_yarn_pct
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_structure import Structure, remembered_with_weave


@dataclass(slots=True, kw_only=True)
class WoundEnds(Record[N]):
    """Ends that are wound on the same beams.

    Attributes:
        ends_share: Them as a share of the ends of the thread order.
        selvedges_share: Likewise of the selvedge ends: 1 if they are among them, else 0.
        tex: Mean linear density, unsized.
        size_pct: Size on the mass of their yarn.
        density_g_per_cm3: Of the wound yarn: as the groups state it, else by the kind of yarn.
        density_stated: Whether all their groups state it.
        is_all_ground: Whether they are all ends that are woven without pile.
        crimp_stated_share: Share of them whose crimp is stated, 0 to 1.
        stated_crimp_pct: Mean crimp of those; 0 if there are none.
        least_crimp_pct: The least that any of them states; 0 likewise.
        greatest_crimp_pct: The greatest; 0 likewise.
        interlacing_times: Interlacings of the busiest end over the fewest; 0 if an end has none.
        counts_times: Linear density of the coarsest yarn over the finest.
    """

    ends_share: N
    selvedges_share: N
    tex: N
    size_pct: N
    density_g_per_cm3: N
    density_stated: Truth
    is_all_ground: Truth
    crimp_stated_share: N
    stated_crimp_pct: N
    least_crimp_pct: N
    greatest_crimp_pct: N
    interlacing_times: N
    counts_times: N


@dataclass(slots=True, kw_only=True)
class GroupNumbers(Record[N]):
    """A group of ends; a slot that an order does not fill has ``present`` false.

    Attributes:
        pile_ratio: Yarn length per cloth length; 0 for ends that are woven without pile.
        has_pile_layer: Whether the order declares which layer is pile.
        take_up: Which of the take-ups of the order it has, from 0.
        is_first: Whether no group before it has the same take-up.
        alone: Its own ends.
        shared: The ends of all groups of its take-up.
    """

    present: Truth
    pile_ratio: N
    has_pile_layer: Truth
    take_up: N
    is_first: Truth
    alone: WoundEnds[N]
    shared: WoundEnds[N]


@dataclass(slots=True, kw_only=True)
class GroupOnLoom(Record[N]):
    """The warp of a group of ends on a loom.

    Attributes:
        speaks: Whether findings on its beams are made of it, if it is there: of groups that share
            them the first.
        of_ground: Whether it is there, and has no pile ratio.
        has_pile_layer: Whether it has one, and the order declares which layer is pile.
        crimp_pct: Crimp of the ends on its beams; of pile what its ratio makes.
        beam_capacity_m: Warp that a filling of its beams holds.
        beams_needed: Beams, or sets of beams abreast, one after the other.
        warp_length_m: Warp to prepare, the waste of every beam included.
        cloth_per_beam_m: Cloth from one filling.
        crimp_spread_pct: Greatest crimp of ends on its beams less the least, by which they differ
            at the least: that of ends that state none may be anywhere in its band.
        interlacing_times: Interlacings of the busiest of those ends over the fewest.
        counts_times: Linear density of their coarsest yarn over the finest.
        density_g_per_cm3: Density of the wound yarn.
    """

    present: Truth
    speaks: Truth
    of_ground: Truth
    has_pile_layer: Truth
    crimp_pct: N
    beam_capacity_m: N
    beams_needed: N
    warp_length_m: N
    cloth_per_beam_m: N
    crimp_spread_pct: N
    interlacing_times: N
    counts_times: N
    density_g_per_cm3: N


def has_beams_of_its_own(groups: N, loom: LoomNumbers[N]) -> Truth:
    """Return whether the loom has a let-off for every group of ends."""
    return groups <= loom.let_offs


def group_on_loom(
    group: GroupNumbers[N],
    crimp: GroupCrimp[N],
    cloth: ClothNumbers[N],
    loom: LoomNumbers[N],
    *,
    groups: N,
    panels: N,
    selvedge_ends: N,
    waste_m: N,
    least_m: N,
) -> GroupOnLoom[N]:
    """Compute the beams of a group of ends.

    Args:
        group: The group.
        crimp: Its crimp if it has a beam of its own.
        cloth: The cloth.
        loom: The loom.
        groups: Groups of the order.
        panels: Panels side by side.
        selvedge_ends: Extra ends of all selvedges.
        waste_m: Warp lost at every beam.
        least_m: The least that is worth a beam.
    """
    own = has_beams_of_its_own(groups, loom)
    wound = _of_the_two(own, group.alone, group.shared)
    ends = whole(wound.ends_share * panels * cloth.ground_ends)
    ends = ends + wound.selvedges_share * selvedge_ends
    density: N = either(
        wound.density_stated | (loom.beam_density_g_per_cm3 <= 0),
        wound.density_g_per_cm3,
        loom.beam_density_g_per_cm3,
    )
    capacity_m = beam_capacity_m(
        winding_diameter_cm=winding_diameter_cm(flange_diameter_cm=loom.flange_diameter_cm),
        barrel_diameter_cm=loom.barrel_diameter_cm,
        width_cm=loom.beam_width_cm,
        density_g_per_cm3=density,
        ends=greatest(ends, 1.0),
        linear_density_tex=wound.tex,
        size_pct=wound.size_pct,
        beams_abreast=loom.beams_abreast,
    )
    of_ground = group.pile_ratio <= 0
    share = wound.crimp_stated_share
    open_pct: N = either(own, crimp.estimated_warp_crimp_pct, cloth.estimated_warp_crimp_pct)
    of_ends: N = share * wound.stated_crimp_pct + (1.0 - share) * open_pct
    woven_pct: N = either(wound.is_all_ground, cloth.warp_crimp_pct, of_ends)
    crimp_pct: N = either(of_ground, woven_pct, 100 * (group.pile_ratio - 1))
    woven_m = warp_length_m(cloth_length_m=cloth.loom_length_m, warp_crimp_pct=crimp_pct)
    usable_m = usable_beam_m(capacity_m, least_m=least_m, woven_m=woven_m, waste_m=waste_m)
    beams = beams_needed(
        cloth_warp_length_m=woven_m, beam_capacity_m=usable_m, waste_per_beam_m=waste_m
    )
    return GroupOnLoom(
        present=group.present,
        speaks=own | group.is_first,
        of_ground=group.present & of_ground,
        has_pile_layer=group.present & no(of_ground) & group.has_pile_layer,
        crimp_pct=crimp_pct,
        beam_capacity_m=capacity_m,
        beams_needed=beams,
        warp_length_m=woven_m + beams * waste_m,
        cloth_per_beam_m=(usable_m - waste_m) / (1 + crimp_pct / 100),
        crimp_spread_pct=either(of_ground, _crimp_spread_pct(wound, open_pct, cloth), 0.0),
        interlacing_times=wound.interlacing_times,
        counts_times=wound.counts_times,
        density_g_per_cm3=density,
    )


def _crimp_spread_pct(wound: WoundEnds[N], open_pct: N, cloth: ClothNumbers[N]) -> N:
    """Return by how much the crimps of ends on one beam differ at the least.

    Args:
        wound: The ends.
        open_pct: Crimp of those that state none, in the middle of its band.
        cloth: The cloth.
    """
    points = cloth.stated_warp_crimp.points
    stated = wound.greatest_crimp_pct - wound.least_crimp_pct
    above = wound.greatest_crimp_pct - (open_pct + points)
    below = open_pct - points - wound.least_crimp_pct
    some = (wound.crimp_stated_share > 0.0) & (wound.crimp_stated_share < 1.0)
    return either(some, greatest(stated, greatest(above, below)), stated)


def _of_the_two(truth: Truth, this: WoundEnds[N], other: WoundEnds[N]) -> WoundEnds[N]:
    return WoundEnds(
        ends_share=either(truth, this.ends_share, other.ends_share),
        selvedges_share=either(truth, this.selvedges_share, other.selvedges_share),
        tex=either(truth, this.tex, other.tex),
        size_pct=either(truth, this.size_pct, other.size_pct),
        density_g_per_cm3=either(truth, this.density_g_per_cm3, other.density_g_per_cm3),
        density_stated=(truth & this.density_stated) | (no(truth) & other.density_stated),
        is_all_ground=(truth & this.is_all_ground) | (no(truth) & other.is_all_ground),
        crimp_stated_share=either(truth, this.crimp_stated_share, other.crimp_stated_share),
        stated_crimp_pct=either(truth, this.stated_crimp_pct, other.stated_crimp_pct),
        least_crimp_pct=either(truth, this.least_crimp_pct, other.least_crimp_pct),
        greatest_crimp_pct=either(truth, this.greatest_crimp_pct, other.greatest_crimp_pct),
        interlacing_times=either(truth, this.interlacing_times, other.interlacing_times),
        counts_times=either(truth, this.counts_times, other.counts_times),
    )


def least_of_some(values: Sequence[N], which: Sequence[Truth]) -> N:
    """Return the least of some values; infinity if there are none."""
    found: N = either(which[0], values[0], inf)
    for value, counts in zip(values[1:], which[1:], strict=True):
        found = least(found, either(counts, value, inf))
    return found


def greatest_of_some(values: Sequence[N], which: Sequence[Truth]) -> N:
    """Return the greatest of some values; 0 if there are none."""
    found: N = either(which[0], values[0], 0.0)
    for value, counts in zip(values[1:], which[1:], strict=True):
        found = greatest(found, either(counts, value, 0.0))
    return found


def usable_beam_m(capacity_m: N, *, least_m: N, woven_m: N, waste_m: N) -> N:
    """Return the capacity by which beams are counted: that of one large beam if it is mostly waste.

    Args:
        capacity_m: Warp that a filling of the beams holds.
        least_m: The least that is worth a beam, see :func:`least_beam_m`.
        woven_m: Warp that goes into cloth.
        waste_m: Warp lost at every beam.
    """
    return least(either(reached(capacity_m, least_m), capacity_m, woven_m + 2 * waste_m), LARGEST)


def least_beam_m(waste_m: N, *, least_useful_m: float) -> N:
    """Return the least warp that is worth a beam: twice its waste, or its waste and a threshold.

    Args:
        waste_m: Warp lost at every beam.
        least_useful_m: The threshold ``warp_beam_least_useful_m``.

    Returns:
        m.

    >>> least_beam_m(4.6, least_useful_m=1.0), least_beam_m(0.2, least_useful_m=1.0)
    (9.2, 1.2)
    """
    return waste_m + greatest(waste_m, least_useful_m)


def group_numbers(symbols: ClothSymbols, *, apart_points: float) -> tuple[GroupNumbers[float], ...]:
    """Gather the groups of ends of an order; one, if it states none.

    Args:
        symbols: The order.
        apart_points: Percentage points of crimp beyond which ends cannot come from one beam.
    """
    groups, construction = symbols.groups, symbols.construction
    layered = symbols.layered_weave
    winding = _Winding(
        warp=symbols.warp,
        groups=groups,
        take_ups=take_ups(symbols, apart_points),
        densities_g_per_cm3=tuple([moved_density_g_per_cm3(symbols, group) for group in groups]),
        stated_size_pct=construction.allowances.size_pct,
        size_pct=symbols.allowances.size_pct,
        selvedge_key=symbols.selvedge.yarn_key,
        interlacing_times=interlacing_times(symbols) if len(groups) == 1 else 0.0,
        weave=None if len(groups) == 1 else _Weave(symbols.repeat, symbols.structure, layered),
        has_pile_layer=layered is not None and any(each.is_pile for each in layered.layers),
    )
    if not symbols.warp.is_remembered:
        return _numbers(winding)
    if len(groups) == 1:
        return _remembered_numbers(winding)
    return _numbers_in_weave(symbols.repeat, winding)


_YarnSets: TypeAlias = tuple[tuple[str, ...], ...]


class _Weave(NamedTuple):
    """What the ends of several groups weave; ``layers`` is ``None`` if none are declared."""

    repeat: Repeat
    structure: Structure
    layers: LayeredWeave | None


class _Winding(NamedTuple):
    """All from which the numbers of the groups of ends follow.

    Attributes:
        take_ups: Which of the take-ups each group has.
        densities_g_per_cm3: Of each group on its beam.
        stated_size_pct: Size as stated; ``None`` if it is not.
        size_pct: Size of the warp.
        selvedge_key: The yarn of the selvedge ends.
        interlacing_times: Of the warp; 0 if it has several groups, which have their own.
        weave: In which several groups have their own; ``None`` of one.
        has_pile_layer: Whether it is declared which layer is pile.
    """

    warp: Threads
    groups: tuple[GroupFacts, ...]
    take_ups: tuple[int, ...]
    densities_g_per_cm3: tuple[float, ...]
    stated_size_pct: float | None
    size_pct: float
    selvedge_key: str
    interlacing_times: float
    weave: _Weave | None
    has_pile_layer: bool


def take_ups(symbols: ClothSymbols, apart_points: float) -> tuple[int, ...]:
    """Return which of the take-ups of the order each group of ends has, numbered from 0.

    Groups of pile have one for each ratio. Those of the ground have the same, unless the crimps
    that are stated of some set them apart, whatever the estimate of others in its band.

    Args:
        symbols: The order.
        apart_points: As in :func:`group_numbers`.
    """
    groups = symbols.groups
    if len(groups) == 1:
        return (0,)
    labels: list[float] = [-(group.pile_ratio or 0.0) for group in groups]
    ground = [place for place, group in enumerate(groups) if group.pile_ratio is None]
    stated = symbols.warp.stated_crimps_pct
    if len(ground) > 1 and any(key in stated for place in ground for key in groups[place].yarns):
        labels = _by_stated_crimps(symbols, labels, ground, apart_points)
    seen = list(dict.fromkeys(labels))
    return tuple(seen.index(label) for label in labels)


def _by_stated_crimps(
    symbols: ClothSymbols, labels: list[float], ground: Sequence[int], apart_points: float
) -> list[float]:
    """Label the groups of the ground by their crimps, from the least."""
    stated = symbols.warp.stated_crimps_pct
    is_open = any(key not in stated for place in ground for key in symbols.groups[place].yarns)
    cloth = symbols.grey if is_open else None
    points = 0.0 if cloth is None else cloth.stated_warp_crimp.points
    ranges: dict[int, tuple[float, float]] = {}
    for place in ground:
        open_pct = 0.0 if cloth is None else cloth.groups[place].estimated_warp_crimp_pct
        of_yarns = [stated.get(key) for key in symbols.groups[place].yarns]
        ranges[place] = (
            min(open_pct - points if pct is None else pct for pct in of_yarns),
            max(open_pct + points if pct is None else pct for pct in of_yarns),
        )
    label, most = 0.0, inf
    for place in sorted(ground, key=lambda place: sum(ranges[place])):
        low, high = ranges[place]
        if passed(low - most, apart_points):
            label, most = label + 1.0, inf
        labels[place] = label
        most = min(most, high)
    return labels


def _numbers(of: _Winding) -> tuple[GroupNumbers[float], ...]:
    """Return the numbers of every group."""
    alone = [(place,) for place in range(len(of.groups))]
    shared = [
        tuple([one for one, its in enumerate(of.take_ups) if its == take_up])
        for take_up in of.take_ups
    ]
    together = list(dict.fromkeys([*alone, *shared]))
    yarns = tuple([tuple(_yarns(of, places)) for places in together])
    times = (of.interlacing_times,) if of.weave is None else _times_of(yarns, of.warp, of.weave)
    sizes = size_by_yarn_pct(of.warp, of.stated_size_pct, of.size_pct)
    wound = {
        places: _wound(of, places, sizes, its_times)
        for places, its_times in zip(together, times, strict=True)
    }
    return tuple(
        GroupNumbers(
            present=True,
            pile_ratio=group.pile_ratio or 0.0,
            has_pile_layer=of.has_pile_layer,
            take_up=float(of.take_ups[place]),
            is_first=of.take_ups[place] not in of.take_ups[:place],
            alone=wound[alone[place]],
            shared=wound[shared[place]],
        )
        for place, group in enumerate(of.groups)
    )


_remembered_numbers: Final = lru_cache(maxsize=512)(_numbers)


@remembered_with_weave
def _numbers_in_weave(_repeat: Repeat, of: _Winding) -> tuple[GroupNumbers[float], ...]:
    return _numbers(of)


def _wound(
    of: _Winding,
    places: Sequence[int],
    sizes: Mapping[str, float],
    interlacing_times: float,
) -> WoundEnds[float]:
    warp, groups = of.warp, [of.groups[place] for place in places]
    keys = _yarns(of, places)
    whole_warp = len(groups) == len(of.groups)
    counts = ends_in_repeat(warp, keys)
    ends = sum(counts.values())
    masses = {key: count * warp.yarns[key].linear_density_tex for key, count in counts.items()}
    size = sum(mass * sizes[key] for key, mass in masses.items())
    coarse, fine = coarsest_and_finest([warp.yarns[key] for key in keys])
    crimp_share, crimp_pct = warp.stated_crimp(pile=set(warp.yarns) - set(keys))
    crimps = [pct for key, pct in warp.stated_crimps_pct.items() if key in keys]
    ground = {key for each in of.groups if each.pile_ratio is None for key in each.yarns}
    return WoundEnds(
        ends_share=sum(warp.order.counts.get(key, 0) for key in keys) / warp.order.threads,
        selvedges_share=1.0 if of.selvedge_key in keys else 0.0,
        tex=warp.linear_density_tex if whole_warp else sum(masses.values()) / ends,
        size_pct=of.size_pct if whole_warp else size / sum(masses.values()),
        density_g_per_cm3=_density_g_per_cm3(of, places),
        density_stated=all(group.density_g_per_cm3 is not None for group in groups),
        is_all_ground=ground == set(keys),
        crimp_stated_share=crimp_share,
        stated_crimp_pct=crimp_pct,
        least_crimp_pct=min(crimps, default=0.0),
        greatest_crimp_pct=max(crimps, default=0.0),
        interlacing_times=interlacing_times,
        counts_times=coarse.linear_density_tex / fine.linear_density_tex,
    )


def _yarns(of: _Winding, places: Sequence[int]) -> list[str]:
    return [key for place in places for key in of.groups[place].yarns]


def _density_g_per_cm3(of: _Winding, places: Sequence[int]) -> float:
    """Return the density of groups on one beam, their volumes added."""
    densities = [of.densities_g_per_cm3[place] for place in places]
    if len(places) == 1:
        return densities[0]
    groups = [of.groups[place] for place in places]
    masses = [group.ends_share * group.linear_density_tex for group in groups]
    volume = sum(mass / density for mass, density in zip(masses, densities, strict=True))
    return sum(masses) / volume


def interlacing_times(symbols: ClothSymbols) -> float:
    """Return the interlacings of the busiest neighbouring ends over the fewest; 0 if some have 0.

    Of layers, of single ends, those within a layer over one length of cloth; ends of pile do not
    count.
    """
    if symbols.layered_weave is None:
        return symbols.structure.interlacing_times
    return _times(_interlacing_rates(symbols.structure, symbols.layered_weave))


def _times_of(yarns_of_each: _YarnSets, warp: Threads, weave: _Weave) -> tuple[float, ...]:
    """Return the same of the ends of some yarns, and of others."""
    find = _remembered_times_at if warp.is_remembered else _times_at
    return find(weave.repeat, weave, warp.order.sequence, yarns_of_each)


def _times(rates: NDArray[np.float64]) -> float:
    counted = rates[~np.isnan(rates)]
    if not len(counted) or not counted.min():
        return 0.0
    return float(counted.max() / counted.min())


def _interlacing_rates(structure: Structure, woven: LayeredWeave | None) -> NDArray[np.float64]:
    """Return the interlacings a pick of every end of a repeat; NaN if it is not to be compared."""
    if woven is None:
        return structure.interlacings_per_end / structure.picks
    return _rates_in_layers(woven)


def _rates_in_layers(woven: LayeredWeave) -> NDArray[np.float64]:
    letters = np.array(woven.ends.sequence)
    letters = np.tile(letters, woven.joint_ends // len(letters))
    rates = np.full(woven.joint_ends, np.nan)
    for layer in woven.layers:
        if layer.structure is None or layer.is_pile or not layer.ends_share:
            continue
        _, picks_share = woven.set_shares(layer)
        own = np.flatnonzero(letters == layer.letter)
        per_pick = layer.structure.interlacings_per_end * picks_share / layer.structure.picks
        rates[own] = np.resize(per_pick, len(own))
    return rates


def _times_at(
    _repeat: Repeat,
    weave: _Weave,
    sequence: tuple[str, ...],
    yarns_of_each: _YarnSets,
) -> tuple[float, ...]:
    """Return the interlacings of the busiest end over the fewest, for each set of yarns.

    However order and weave repeat, an end and a place in the order meet if they leave the same rest
    by the greatest common divisor of both repeats.
    """
    rates, order = _interlacing_rates(weave.structure, weave.layers), np.array(sequence)
    step = gcd(len(rates), len(sequence))
    rates = rates.reshape(-1, step)
    here = (np.isin(order, yarns).reshape(-1, step).any(axis=0) for yarns in yarns_of_each)
    return tuple([_times(rates[:, np.flatnonzero(each)].ravel()) for each in here])


_remembered_times_at: Final = remembered_with_weave(_times_at)
"""They follow from weave and thread order, not from what the yarns are."""
