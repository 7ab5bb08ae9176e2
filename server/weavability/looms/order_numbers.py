"""What an order requests of a loom, in numbers: of one order or of a column of orders."""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Final, NamedTuple, TypedDict, cast

from weavability.looms.beam_density import BEAM_DENSITIES
from weavability.looms.beam_groups import GroupNumbers, group_numbers
from weavability.looms.denting_request import DentingRequest, denting_request
from weavability.looms.finished_figures import (
    figures_like,
    finished_figures,
    required_numbers,
)
from weavability.looms.pick_pairs import unlike_lifts, unlike_wefts
from weavability.looms.selvedge_numbers import SelvedgeNumbers, selvedge_numbers
from weavability.looms.shuttle_boxes import BoxesNeeded, boxes_needed
from weavability.looms.thresholds import Thresholds, in_force
from weavability.looms.yarn_numbers import WarpNumbers, WeftNumbers, warp_numbers, weft_numbers
from weavability.textiles.assumptions import Moves
from weavability.textiles.cloth import thickness_on_roll_mm
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.construction import Construction
from weavability.textiles.figured.design_numbers import NO_DESIGN, DesignNumbers
from weavability.textiles.numbers import N, Record, Truth, changed, on_use
from weavability.textiles.required_values import (
    RequiredNumbers,
)
from weavability.textiles.thread_systems import Threads, coarsest_and_finest
from weavability.textiles.trade_names import named_for_slack_ends
from weavability.textiles.weave_structure import MAX_KEPT_CELLS


@dataclass(kw_only=True)
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


def order_numbers(symbols: ClothSymbols, like: ClothSymbols | None = None) -> OrderNumbers[float]:
    """Gather what an order requests of any loom.

    Args:
        symbols: The order.
        like: One from which what is required may take what both have in common.

    Raises:
        InputError: The requested reed or denting cannot be read; pointers are relative to the
            request.
    """
    # The bands of what is required are of what is assumed with nothing moved.
    if symbols.moves is not None:
        return _gathered(symbols, in_force())
    is_large = symbols.construction.weave.matrix.size > MAX_KEPT_CELLS
    if is_large or like is not None:
        return _required(symbols, in_force(), like)
    return _kept_required(symbols, in_force())


def order_without_figures(symbols: ClothSymbols) -> OrderNumbers[float]:
    """Gather the same without what the customer requires, which depends on the whole cloth."""
    return _gathered(symbols, in_force())


def _required(
    symbols: ClothSymbols, thresholds: Thresholds, like: ClothSymbols | None = None
) -> OrderNumbers[float]:
    order = _gathered(symbols, thresholds)
    if symbols.construction.requirements is None:
        return order
    figures = finished_figures(symbols) if like is None else figures_like(symbols, like)
    return with_requirements(order, required_numbers(figures))


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


def with_requirements(
    order: OrderNumbers[float], required: tuple[RequiredNumbers[float], ...]
) -> OrderNumbers[float]:
    """Return the numbers of an order with what the customer requires of its cloth."""
    other = copy(order)
    other.requirements = required
    return other


def at_requested_speed(
    construction: Construction, like: OrderNumbers[float]
) -> OrderNumbers[float]:
    """Return the numbers of an order at the speed that another requests."""
    return changed(like, **_speed_requested(construction))


class _SpeedRequested(TypedDict):
    speed_requested: bool
    requested_speed_picks_per_min: float


REQUESTED_SPEED: Final = frozenset(_SpeedRequested.__annotations__)
"""The numbers of an order that state the speed that it requests."""


def _speed_requested(construction: Construction) -> _SpeedRequested:
    """Return whether a speed is requested, and which; of none it is 0."""
    speed = construction.requested_speed_picks_per_min
    return {
        "speed_requested": speed is not None,
        "requested_speed_picks_per_min": 0.0 if speed is None else speed,
    }


def _grouped_by_setts(symbols: ClothSymbols, like: OrderNumbers[float]) -> bool:
    """Say whether stated crimps of groups of ends are compared with estimates that follow setts."""
    return len(like.groups) > 1 and bool(symbols.warp.stated_crimps_pct)


def _requested_beside(symbols: ClothSymbols, like: OrderNumbers[float]) -> OrderNumbers[float]:
    """Gather what an order requests whose threads and weave are those of another, but groups."""
    return changed(
        like,
        **_speed_requested(symbols.construction),
        panels=symbols.panels,
        panel_gap_cm=symbols.panel_gap_cm,
        selvedge_ends=symbols.selvedge_ends,
        selvedge_shafts=symbols.selvedge_shafts,
        # The pile of layers is as high as their setts leave it.
        cloth_thickness_mm=like.cloth_thickness_mm
        if symbols.layers is None
        else thickness_on_roll_mm(symbols),
        denting=denting_request(symbols),
    )


OF_NO_THREAD: Final = REQUESTED_SPEED | {
    *("panels", "panel_gap_cm", "selvedge_ends", "selvedge_shafts", "cloth_thickness_mm"),
    *("denting", "groups", "take_ups", "requirements"),
}
"""The numbers of an order in which one with its threads and weave may differ from it."""


_OF_ORDER: Final = ("warp", "weft", "groups", "selvedge", "panel_gap_cm", "allowances")
"""What the numbers of an order follow from, among what may be assumed otherwise."""


def is_requested_alike(moved: ClothSymbols, symbols: ClothSymbols, moves: Moves) -> bool:
    """Return whether an order of which other values are assumed has the same numbers.

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
    groups = _groups(symbols, thresholds) if groups is None else groups
    of_weft = (_remembered_of_weft if weft.is_remembered else _of_weft)(weft, thresholds)
    return OrderNumbers(
        panels=symbols.panels,
        panel_gap_cm=symbols.panel_gap_cm,
        selvedge_ends=symbols.selvedge_ends,
        selvedge_shafts=symbols.selvedge_shafts,
        selvedge=selvedge_numbers(symbols),
        names_slack_ends=bool(named_for_slack_ends(construction.weave_notes)),
        is_stabilised=construction.finishing.stabilised,
        length_ordered=symbols.lengths.ordered,
        piece_grey_m=symbols.lengths.piece_grey_m,
        cloth_thickness_mm=thickness_on_roll_mm(symbols),
        **_speed_requested(construction),
        denting=denting_request(symbols),
        weft_yarns=len(weft.order.counts),
        boxes=of_weft.boxes,
        unlike_lifts=unlike_lifts(symbols.repeat),
        unlike_wefts=of_weft.unlike_wefts,
        wefts=of_weft.wefts,
        warps=(_remembered_warps if warp.is_remembered else warp_numbers)(
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
            weft_numbers(weft.yarns[key], count / weft.order.threads, thresholds)
            for key, count in weft.order.counts.items()
        ),
        boxes=boxes_needed(sequence),
        unlike_wefts=unlike_wefts(sequence),
        counts_times=coarse.linear_density_tex / fine.linear_density_tex,
    )


_remembered_warps: Final = lru_cache(maxsize=256)(warp_numbers)
_remembered_of_weft: Final = lru_cache(maxsize=256)(_of_weft)
"""Records of numbers are shared between orders: they are made once and not written to."""
