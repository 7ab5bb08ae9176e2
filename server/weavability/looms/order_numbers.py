"""What an order requests of a loom, in numbers: of one order or of a column of orders."""

from __future__ import annotations

import math
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Final, NamedTuple, cast

from weavability.looms.beam_density import BEAM_DENSITIES
from weavability.looms.beam_groups import GroupNumbers, group_numbers
from weavability.looms.pick_pairs import unlike_lifts, unlike_wefts
from weavability.looms.reeds import (
    MAX_ENDS_PER_DENT,
    DentingPattern,
    check_wire_share,
    dents_per_10cm,
)
from weavability.looms.shuttle_boxes import BoxesNeeded, boxes_needed
from weavability.looms.speed import weakest_strength_cn
from weavability.looms.thresholds import Thresholds, in_force
from weavability.looms.weft_tension import BRITTLE_PCT
from weavability.textiles.assumptions import Moves
from weavability.textiles.cloth import thickness_on_roll_mm
from weavability.textiles.cloth_defaults import AllowanceFacts
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.construction import Construction, Reed
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.figured.design_numbers import NO_DESIGN, DesignNumbers
from weavability.textiles.guards import whole
from weavability.textiles.numbers import N, Record, Truth, changed, on_use, passed
from weavability.textiles.required_values import (
    FinishedFigures,
    RequiredNumbers,
    finished_figures,
    required_numbers,
)
from weavability.textiles.selvedge_facts import SelvedgeFacts
from weavability.textiles.thread_systems import Threads, coarsest_and_finest
from weavability.textiles.trade_names import named_for_slack_ends
from weavability.textiles.warp_size import size_by_yarn_pct, size_effect_on
from weavability.textiles.weave_structure import MAX_KEPT_CELLS, MAX_REMEMBERED_CELLS
from weavability.textiles.yarn_facts import YarnFacts

WATER_REPELLING: Final = frozenset(
    {
        "polyester",
        "textured-polyester",
        "spun-polyester",
        "acrylic",
        "nylon",
        "polypropylene",
        "hdpe",
        "polyethylene",
        "acetate",
        "glass",
        "carbon",
        "basalt",
        "ptfe",
        "steel",
        "copper",
        "elastane",
    }
)
"""Fibres, by their key, that take up hardly any water: filament of them can be inserted by water,
and warp of them can get wet."""


@dataclass(slots=True, kw_only=True)
class YarnNature(Record[N]):
    """What kind of yarn it is, as far as that decides whether it can be woven.

    Attributes:
        is_monofilament: One filament, or a wire.
        is_tape: A tape, or a spread tow.
        is_bare_elastane: Elastane that no other yarn covers.
        has_elastane: Elastane, bare or in the yarn.
        contracts: Whether it contracts in the cloth beyond what bends it: elastane, yarn of hard
            twist, textured filaments.
        is_carbon: Carbon, in whole or in part.
        is_metal: Metal, in whole or in part.
        twist_factor: Turns/m x root of tex/1000; 0 if no twist is stated.
    """

    is_monofilament: Truth
    is_tape: Truth
    is_bare_elastane: Truth
    has_elastane: Truth
    contracts: Truth
    is_carbon: Truth
    is_metal: Truth
    twist_factor: N


@dataclass(slots=True, kw_only=True)
class WeftNumbers(Record[N]):
    """One weft yarn; a slot that an order does not fill has ``present`` false.

    Attributes:
        share: Its share of the picks, 0 to 1.
        is_brittle: Whether it breaks at so small a stretch that load and stretch are in proportion.
    """

    present: Truth
    tex: N
    weakest_strength_cn: N
    modulus_cn_per_tex: N
    share: N
    is_hydrophobic_filament: Truth
    is_brittle: Truth
    nature: YarnNature[N]


@dataclass(slots=True, kw_only=True)
class WarpNumbers(Record[N]):
    """One warp yarn; a slot that an order does not fill has ``present`` false.

    Attributes:
        size_pct: Size on this yarn, of its own mass; 0 if it is not sized.
        needs_size: Whether it is a single of short staple.
        is_loose: Whether nothing but twist or size holds its filaments together.
        twist_per_m: 0 if not stated.
        is_protection_stated: Whether its twist is stated, or that it is sized or not.
        strength_cn: As it is spun, on which the base tension rests.
        weakest_strength_cn: With its size, as is the modulus.
        repels_water: Whether all its fibres do.
        is_filament: Whether it is filament, which has no hairs and needs no size against them.
    """

    present: Truth
    tex: N
    strength_cn: N
    repels_water: Truth
    is_filament: Truth
    size_pct: N
    needs_size: Truth
    is_loose: Truth
    twist_per_m: N
    is_protection_stated: Truth
    weakest_strength_cn: N
    modulus_cn_per_tex: N
    nature: YarnNature[N]


@dataclass(slots=True, kw_only=True)
class DentingRequest(Record[N]):
    """The reed and denting that an order requests.

    Attributes:
        dents_per_10cm: 0 if no reed is requested.
        is_pattern_stated: Whether the ends in a dent are stated.
        ends_per_dent: As stated, the mean of an uneven denting; else 0.
        fullest_dent: Likewise, of the fullest dent.
        edge_ends_per_dent: In the selvedges; 0 if not stated.
        wire_share_pct: Share of a dent that its wire takes; 0 if not stated.
        mean_width_mm: Of the ends: the diameter, of tapes the width.
        coarsest_diameter_mm: Of the warp yarns; a tape is drawn together in a knot.
    """

    is_reed_stated: Truth
    dents_per_10cm: N
    is_pattern_stated: Truth
    ends_per_dent: N
    fullest_dent: N
    edge_ends_per_dent: N
    wire_share_pct: N
    mean_width_mm: N
    coarsest_diameter_mm: N


@dataclass(slots=True, kw_only=True)
class SelvedgeNumbers(Record[N]):
    """The edges of a cloth.

    Attributes:
        is_stated: Whether the order states selvedge ends.
        is_known: Whether it is known how they weave.
        has_own_weave: Whether the order states their weave.
        unheld_turns: Picks of the repeat at the edge that lie in one shed with the next.
        longest_float_picks: Of the ends at the edge.
        has_catch_cord: Whether the order states catch cords.
        own_lifts: Shafts or hooks that only selvedge ends are drawn on.
        lift_picks: Picks after which ground and selvedge repeat together.
        mean_float_of_picks: Of the weave at the edge; of the ground's, with two ends as one.
        mean_float_of_ends: Likewise.
        end_width_mm: Of an end of the selvedge: the diameter, of a tape the width.
        end_depth_mm: The diameter, of a tape the thickness.
        weft_width_mm: Mean over the order, likewise.
        weft_depth_mm: Mean over the order, likewise.
    """

    is_stated: Truth
    is_known: Truth
    has_own_weave: Truth
    unheld_turns: N
    longest_float_picks: N
    has_catch_cord: Truth
    own_lifts: N
    lift_picks: N
    mean_float_of_picks: N
    mean_float_of_ends: N
    end_width_mm: N
    end_depth_mm: N
    weft_width_mm: N
    weft_depth_mm: N


@dataclass(slots=True, kw_only=True)
class OrderNumbers(Record[N]):
    """What the order states, and what follows from its yarns, thread orders and weave alone.

    Attributes:
        piece_grey_m: Grey cloth of a piece; 0 if the order is not in pieces.
        cloth_thickness_mm: Of the grey cloth on the cloth roll.
        boxes: Shuttle boxes that the weft order needs.
        unlike_lifts: Pairs of picks of the weave's repeat that lift differently.
        unlike_wefts: Pairs of picks of the weft order that are not of one weft.
        groups: Groups of ends, each to have a beam of its own; one if none are stated.
        group_count: How many they are.
        take_ups: How many take-ups they have.
        names_slack_ends: Whether the weave is named for what ends do that are let off faster.
        joint_repeat_ends: Ends after which colour and weave repeat together.
        longer_repeat_ends: The longer repeat of the two.
        requirements: What the customer requires of the finished cloth.
        design: The figured design, as the loom weaves it.
    """

    panels: N
    panel_gap_cm: N
    selvedge_ends: N
    selvedge_shafts: N
    selvedge: SelvedgeNumbers[N]
    names_slack_ends: Truth
    is_stabilised: Truth
    length_ordered: Truth
    piece_grey_m: N
    cloth_thickness_mm: N
    speed_requested: Truth
    requested_speed_picks_per_min: N
    denting: DentingRequest[N]
    weft_yarns: N
    boxes: BoxesNeeded[N]
    unlike_lifts: N
    unlike_wefts: N
    wefts: tuple[WeftNumbers[N], ...]
    warps: tuple[WarpNumbers[N], ...]
    has_warp_pattern: Truth
    has_weft_pattern: Truth
    warp_repeat_ends: N
    weft_repeat_picks: N
    groups: tuple[GroupNumbers[N], ...]
    group_count: N
    take_ups: N
    waste_per_beam_m: N
    weft_counts_times: N
    weave_ends: N
    weave_picks: N
    joint_repeat_ends: N
    joint_repeat_picks: N
    longer_repeat_ends: N
    longer_repeat_picks: N
    requirements: tuple[RequiredNumbers[N], ...]
    design: DesignNumbers[N]


def order_numbers(symbols: ClothSymbols) -> OrderNumbers[float]:
    """Gather what an order requests of any loom.

    Raises:
        InputError: The requested reed or denting cannot be read; pointers are relative to the
            request.
    """
    # The bands of what is required are of what is assumed with nothing moved.
    if symbols.moves is not None:
        return _gathered(symbols, in_force())
    is_large = symbols.construction.weave.matrix.size > MAX_KEPT_CELLS
    return (_required if is_large else _kept_required)(symbols, in_force())


def _required(symbols: ClothSymbols, thresholds: Thresholds) -> OrderNumbers[float]:
    order = _gathered(symbols, thresholds)
    if symbols.construction.requirements is None:
        return order
    return with_requirements(order, finished_figures(symbols))


_kept_required = lru_cache(maxsize=2)(_required)
"""Kept for the looms of one park; large designs are not held on to."""


def order_on_use(
    symbols: ClothSymbols, like: OrderNumbers[float] | None = None
) -> OrderNumbers[float]:
    """Gather the same without what the customer requires, which depends on the whole cloth.

    The groups of ends, which few rules read, are computed when they are read.

    Args:
        symbols: The order.
        like: Of an order whose threads, weave and allowances it has.
    """
    if like is None:
        made = _gathered(symbols, in_force(), groups=())
    else:
        made = _requested_beside(symbols, like)
        if not _grouped_by_setts(symbols, like):
            return made
    return cast("OrderNumbers[float]", _OrderOnUse(symbols, made))


@on_use
class _OrderOnUse:
    """The same numbers, those of the groups of ends when they are read."""

    def __init__(self, symbols: ClothSymbols, others: OrderNumbers[float]) -> None:
        vars(self).update({name: getattr(others, name) for name in _BUT_GROUPS})
        self._symbols = symbols

    @property
    def groups(self) -> tuple[GroupNumbers[float], ...]:
        return _groups(self._symbols, in_force())

    @property
    def take_ups(self) -> int:
        return _take_ups(self.groups)


_BUT_GROUPS: Final = tuple(
    each.name for each in fields(OrderNumbers) if each.name not in {"groups", "take_ups"}
)


def with_requirements(order: OrderNumbers[float], figures: FinishedFigures) -> OrderNumbers[float]:
    """Return the numbers of an order with what the customer requires of its cloth."""
    other = copy(order)
    other.requirements = required_numbers(figures)
    return other


def at_requested_speed(
    construction: Construction, like: OrderNumbers[float]
) -> OrderNumbers[float]:
    """Return the numbers of an order at the speed that another requests."""
    speed = construction.requested_speed_picks_per_min
    return changed(
        like, speed_requested=speed is not None, requested_speed_picks_per_min=speed or 0.0
    )


def order_numbers_like(symbols: ClothSymbols, like: OrderNumbers[float]) -> OrderNumbers[float]:
    """Gather what an order requests whose threads, weave and allowances are those of another.

    What the customer requires is that of the other: see :func:`with_requirements`.

    Raises:
        InputError: As :func:`order_numbers` does.
    """
    other = _requested_beside(symbols, like)
    if not _grouped_by_setts(symbols, like):
        return other
    groups = _groups(symbols, in_force())
    return changed(other, groups=groups, take_ups=_take_ups(groups))


def _grouped_by_setts(symbols: ClothSymbols, like: OrderNumbers[float]) -> bool:
    """Whether stated crimps of groups of ends are compared with estimates, which follow setts."""
    return len(like.groups) > 1 and bool(symbols.warp.stated_crimps_pct)


def _requested_beside(symbols: ClothSymbols, like: OrderNumbers[float]) -> OrderNumbers[float]:
    """Gather what an order requests whose threads and weave are those of another, but groups."""
    speed = symbols.construction.requested_speed_picks_per_min
    return changed(
        like,
        speed_requested=speed is not None,
        requested_speed_picks_per_min=speed or 0.0,
        panels=symbols.panels,
        panel_gap_cm=symbols.panel_gap_cm,
        selvedge_ends=symbols.selvedge_ends,
        selvedge_shafts=symbols.selvedge_shafts,
        # The pile of layers is as high as their setts leave it.
        cloth_thickness_mm=like.cloth_thickness_mm
        if symbols.layers is None
        else thickness_on_roll_mm(symbols),
        denting=_denting_request(symbols),
    )


_OF_ORDER: Final = ("warp", "weft", "groups", "selvedge", "panel_gap_cm", "allowances")
"""What the numbers of an order follow from, among what may be assumed otherwise."""


def is_requested_alike(moved: ClothSymbols, symbols: ClothSymbols, moves: Moves) -> bool:
    """Whether an order of which other values are assumed has the same numbers.

    Args:
        moved: What it says with other values assumed.
        symbols: What it says.
        moves: The values.
    """
    # The density on the beam is assumed with the loom, and follows from the order's yarns.
    if not moves.ends.keys().isdisjoint(BEAM_DENSITIES) and any(
        group.density_g_per_cm3 is None for group in symbols.groups
    ):
        return False
    # Groups with crimps of their own, and the pile of layers, also follow from the grey cloth.
    of_cloth = symbols.layers is not None or len(symbols.groups) > 1
    names = (*_OF_ORDER, "shrinkages") if of_cloth else _OF_ORDER
    return all(getattr(moved, name) is getattr(symbols, name) for name in names)


def _groups(symbols: ClothSymbols, thresholds: Thresholds) -> tuple[GroupNumbers[float], ...]:
    return group_numbers(symbols, apart_points=thresholds.usual.warp_take_up_error_pct)


def _take_ups(groups: tuple[GroupNumbers[float], ...]) -> int:
    return sum(bool(group.is_first) for group in groups)


def _gathered(
    symbols: ClothSymbols,
    thresholds: Thresholds,
    groups: tuple[GroupNumbers[float], ...] | None = None,
) -> OrderNumbers[float]:
    construction, structure = symbols.construction, symbols.structure
    warp, weft = symbols.warp, symbols.weft
    ends, picks = warp.order.threads, weft.order.threads
    speed = construction.requested_speed_picks_per_min
    groups = _groups(symbols, thresholds) if groups is None else groups
    of_weft = (_remembered_of_weft if weft.is_remembered else _of_weft)(weft, thresholds)
    return OrderNumbers(
        panels=symbols.panels,
        panel_gap_cm=symbols.panel_gap_cm,
        selvedge_ends=symbols.selvedge_ends,
        selvedge_shafts=symbols.selvedge_shafts,
        selvedge=_selvedge_numbers(symbols),
        names_slack_ends=bool(named_for_slack_ends(construction.weave_notes)),
        is_stabilised=construction.finishing.stabilised,
        length_ordered=symbols.lengths.ordered,
        piece_grey_m=symbols.lengths.piece_grey_m,
        cloth_thickness_mm=thickness_on_roll_mm(symbols),
        speed_requested=speed is not None,
        requested_speed_picks_per_min=speed or 0.0,
        denting=_denting_request(symbols),
        weft_yarns=len(weft.order.counts),
        boxes=of_weft.boxes,
        unlike_lifts=unlike_lifts(symbols.repeat),
        unlike_wefts=of_weft.unlike_wefts,
        wefts=of_weft.wefts,
        warps=(_remembered_warps if warp.is_remembered else _warps)(
            warp, construction.allowances.size_pct, symbols.allowances, thresholds
        ),
        has_warp_pattern=len(warp.order.counts) > 1,
        has_weft_pattern=len(weft.order.counts) > 1,
        warp_repeat_ends=ends,
        weft_repeat_picks=picks,
        groups=groups,
        group_count=len(symbols.groups),
        take_ups=_take_ups(groups),
        waste_per_beam_m=symbols.allowances.loom_waste_m,
        weft_counts_times=of_weft.counts_times,
        weave_ends=structure.ends,
        weave_picks=structure.picks,
        joint_repeat_ends=math.lcm(ends, structure.ends),
        joint_repeat_picks=math.lcm(picks, structure.picks),
        longer_repeat_ends=max(ends, structure.ends),
        longer_repeat_picks=max(picks, structure.picks),
        requirements=(),
        design=NO_DESIGN if construction.figured is None else construction.figured.numbers,
    )


def _warps(
    warp: Threads, stated_pct: float | None, allowances: AllowanceFacts, thresholds: Thresholds
) -> tuple[WarpNumbers[float], ...]:
    return tuple(_warp_numbers(warp, stated_pct, allowances, thresholds))


def _warp_numbers(
    warp: Threads, stated_pct: float | None, allowances: AllowanceFacts, thresholds: Thresholds
) -> Iterator[WarpNumbers[float]]:
    sizes = size_by_yarn_pct(warp, stated_pct, allowances.size_pct)
    for key, yarn in warp.yarns.items():
        sized = size_effect_on(allowances.size_effect, yarn, sizes[key])
        yield WarpNumbers(
            present=True,
            tex=yarn.linear_density_tex,
            strength_cn=yarn.strength_cn,
            repels_water=WATER_REPELLING.issuperset(name for name, _ in yarn.fibre.components),
            is_filament=yarn.kind == "filament",
            size_pct=sizes[key],
            needs_size=yarn.is_short_staple_single,
            is_loose=yarn.is_multifilament and not yarn.fibre.is_bulked,
            twist_per_m=yarn.twist_per_m or 0.0,
            is_protection_stated=yarn.twist_per_m is not None or yarn.sized is not None,
            weakest_strength_cn=sized.strength_times
            * weakest_strength_cn(yarn, least_pct=thresholds.usual.yarn_weakest_place_least_pct),
            modulus_cn_per_tex=sized.modulus_times * yarn.modulus_cn_per_tex,
            nature=yarn_nature(yarn, thresholds),
        )


class _OfWeft(NamedTuple):
    """What follows from the yarns and the thread order of the weft alone."""

    wefts: tuple[WeftNumbers[float], ...]
    boxes: BoxesNeeded[float]
    unlike_wefts: int
    counts_times: float


def _of_weft(weft: Threads, thresholds: Thresholds) -> _OfWeft:
    sequence = weft.order.sequence
    coarse, fine = coarsest_and_finest(weft.yarns.values())
    return _OfWeft(
        wefts=tuple(
            _weft_numbers(weft.yarns[key], count / weft.order.threads, thresholds)
            for key, count in weft.order.counts.items()
        ),
        boxes=boxes_needed(sequence),
        unlike_wefts=unlike_wefts(sequence),
        counts_times=coarse.linear_density_tex / fine.linear_density_tex,
    )


_remembered_warps: Final = lru_cache(maxsize=256)(_warps)
_remembered_of_weft: Final = lru_cache(maxsize=256)(_of_weft)
"""Records of numbers are shared between orders: they are made once and not written to."""


def _weft_numbers(yarn: YarnFacts, share: float, thresholds: Thresholds) -> WeftNumbers[float]:
    fibres = (name for name, _ in yarn.fibre.components)
    return WeftNumbers(
        present=True,
        tex=yarn.linear_density_tex,
        weakest_strength_cn=weakest_strength_cn(
            yarn, least_pct=thresholds.usual.yarn_weakest_place_least_pct
        ),
        modulus_cn_per_tex=yarn.modulus_cn_per_tex,
        share=share,
        is_hydrophobic_filament=yarn.kind == "filament" and WATER_REPELLING.issuperset(fibres),
        is_brittle=yarn.breaking_elongation_pct < BRITTLE_PCT,
        nature=yarn_nature(yarn, thresholds),
    )


def yarn_nature(yarn: YarnFacts, thresholds: Thresholds) -> YarnNature[float]:
    """Say what kind of yarn it is."""
    return YarnNature(
        is_monofilament=yarn.is_monofilament,
        is_tape=yarn.is_tape,
        is_bare_elastane=yarn.is_bare_elastane,
        has_elastane=yarn.elastane_pct > 0.0,
        contracts=yarn.elastane_pct > 0.0
        or yarn.fibre.is_bulked
        or bool(passed(yarn.twist_factor, thresholds.usual.yarn_hard_twist_note_factor)),
        is_carbon=yarn.fibre.share_pct("carbon") > 0.0,
        is_metal=yarn.fibre.is_metal,
        twist_factor=yarn.twist_factor,
    )


def _selvedge_numbers(symbols: ClothSymbols) -> SelvedgeNumbers[float]:
    selvedge, weft = symbols.selvedge, symbols.weft
    is_small = symbols.repeat.weave.matrix.size <= MAX_REMEMBERED_CELLS and weft.is_remembered
    return (_remembered_selvedge if is_small else _of_selvedge)(
        selvedge, bool(symbols.construction.selvedge.catch_cord_ends), weft
    )


def _of_selvedge(
    selvedge: SelvedgeFacts,
    has_catch_cord: bool,  # noqa: FBT001 - a key of what is remembered
    weft: Threads,
) -> SelvedgeNumbers[float]:
    return SelvedgeNumbers(
        is_stated=selvedge.ends > 0,
        is_known=selvedge.is_known,
        has_own_weave=selvedge.repeat is not None,
        unheld_turns=selvedge.unheld_turns,
        longest_float_picks=selvedge.edge.longest_warp_float_picks,
        has_catch_cord=has_catch_cord,
        own_lifts=selvedge.shafts,
        lift_picks=selvedge.lift_picks,
        # Ends that weave as the ground do so in pairs where they are crammed.
        mean_float_of_picks=(2 if selvedge.repeat is None else 1)
        * selvedge.edge.mean_float_of_picks,
        mean_float_of_ends=selvedge.edge.mean_float_of_ends,
        end_width_mm=selvedge.yarn.width_mm,
        end_depth_mm=selvedge.yarn.depth_mm,
        weft_width_mm=weft.width_mm,
        weft_depth_mm=weft.depth_mm,
    )


_remembered_selvedge: Final = lru_cache(maxsize=1024)(_of_selvedge)


def _denting_request(symbols: ClothSymbols) -> DentingRequest[float]:
    stated, warp = symbols.construction, symbols.warp
    return (_remembered_denting if warp.is_remembered else _denting)(
        stated.reed, stated.selvedge.ends_per_dent, warp
    )


def _denting(reed: Reed, edge_ends_per_dent: int | None, warp: Threads) -> DentingRequest[float]:
    dents, pattern = _requested_dents_per_10cm(reed), stated_pattern(reed)
    return DentingRequest(
        is_reed_stated=dents is not None,
        dents_per_10cm=dents or 0.0,
        is_pattern_stated=pattern is not None,
        ends_per_dent=pattern.mean_ends_per_dent if pattern else 0.0,
        fullest_dent=pattern.fullest_dent if pattern else 0,
        edge_ends_per_dent=edge_ends_per_dent or 0,
        wire_share_pct=_wire_share_pct(reed),
        mean_width_mm=warp.width_mm,
        coarsest_diameter_mm=max(yarn.diameter_mm for yarn in warp.yarns.values()),
    )


_remembered_denting: Final = lru_cache(maxsize=256)(_denting)


def _requested_dents_per_10cm(reed: Reed) -> float | None:
    """Return the requested reed, converted from the counting system in which it is stated."""
    if reed.count is None:
        return reed.dents_per_10cm
    with pointing_below("/construction/reed"):
        return dents_per_10cm(reed.count, system=reed.system or "metric")


def _wire_share_pct(reed: Reed) -> float:
    if reed.wire_share_pct is None:
        return 0.0
    with pointing_below("/construction/reed"):
        return check_wire_share(reed.wire_share_pct)


@lru_cache(maxsize=256)
def stated_pattern(reed: Reed) -> DentingPattern | None:
    """Return one repeat of the denting as it is stated; ``None`` if it is not.

    Raises:
        InputError: It cannot be read; pointers are relative to the request.
    """
    if reed.ends_in_dents:
        try:
            return DentingPattern(ends_in_dent=reed.ends_in_dents)
        except InputError as error:
            raise InputError(
                replace(fault, pointer="/construction/reed/ends_in_dents") for fault in error.faults
            ) from None
    if reed.ends_per_dent is None:
        return None
    most = MAX_ENDS_PER_DENT
    whole("construction/reed/ends_per_dent", reed.ends_per_dent, least=1, most=most)
    return DentingPattern(ends_in_dent=(reed.ends_per_dent,))
