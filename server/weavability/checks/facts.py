"""What the rules compare: flat records of numbers, for one pair or for columns of pairs.

A record holds numbers and truths only. What is absent has a neutral number: infinity for a greatest
limit, 0 for a least one. A request that may be absent is a truth beside its number. Names, keys and
texts, which only messages quote, are in :class:`Words`. Records of numbers are not frozen, because
they are made for every pair, and that would cost a tenth of its judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final, Generic

from weavability.looms.carriers import InsertionSystem
from weavability.looms.drawing_in import OnHooks, OnShafts
from weavability.looms.fit import Fit, WeftAtSpeed, least_beam_m
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.numbers import N, Truth
from weavability.textiles.thread_systems import SystemFacts, coarsest_and_finest

WATER_REPELLING: Final = frozenset(
    {
        "polyester",
        "textured-polyester",
        "nylon",
        "polypropylene",
        "polyethylene",
        "acetate",
        "glass",
        "carbon",
    }
)
"""Fibres, by their key, of which filament weft can be inserted by water."""


@dataclass(slots=True, kw_only=True)
class WeaveNumbers(Generic[N]):
    """A weave, its drawing-in and the shedding motion; all that a request about a weave alone has.

    Attributes:
        cloths: Cloths that are not bound to one another; loose threads do not count.
        draft_faults: Requested drafts that cannot weave the cloth.
        lift_picks: Picks after which the lift repeats.
        lift_swing_pct: Greatest less least share of the ends raised on a pick.
        warp_up_pct: Mean share of the ends raised.
        shafts_needed: Fewest shafts; 0 on a Jacquard.
        shafts_used: Shafts of the draft in use; 0 if there is none.
        healds_per_cm: On the fullest shaft; 0 if not known.
        healds_on_fullest_shaft: 0 if not known.
        max_healds_per_cm: On one shaft.
        hooks: 0 without a Jacquard.
        hooks_in_use: Hooks under whole repeats; 0 if they do not hold one.
        harness_ends_per_cm: Density to which the harness is tied; 0 if not known.
        reed_ends_per_cm: Ground ends per cm in the reed; 0 if not known.
        harness_known: Whether the densities of harness and reed are both known.
        ground_ends: Of all panels; 0 if not known.
    """

    cloths: N
    loose_ends: N
    loose_picks: N
    longest_float_mm: N
    draft_faults: N
    lift_picks: N
    lift_swing_pct: N
    warp_up_pct: N
    repeat_ends: N
    shafts_needed: N
    shafts_used: N
    healds_per_cm: N
    healds_on_fullest_shaft: N
    loom_shafts: N
    max_healds_per_cm: N
    max_healds_per_shaft: N
    max_lift_picks: N
    is_jacquard: Truth
    hooks: N
    hooks_in_use: N
    ends_per_hook: N
    harness_ends_per_cm: N
    reed_ends_per_cm: N
    harness_known: Truth
    ground_ends: N


@dataclass(slots=True, kw_only=True)
class WeftNumbers(Generic[N]):
    """One weft yarn; a slot that an order does not fill has ``present`` false."""

    present: Truth
    tex: N
    is_hydrophobic_filament: Truth


@dataclass(slots=True, kw_only=True)
class OrderNumbers(Generic[N]):
    """What the order states."""

    panels: N
    panel_gap_cm: N
    is_stabilised: Truth
    length_ordered: Truth
    speed_requested: Truth
    requested_speed_picks_per_min: N
    reed_requested: Truth
    requested_dents_per_10cm: N
    weft_yarns: N
    wefts: tuple[WeftNumbers[N], ...]
    has_warp_pattern: Truth
    has_weft_pattern: Truth
    warp_repeat_ends: N
    weft_repeat_picks: N
    waste_per_beam_m: N


@dataclass(slots=True, kw_only=True)
class ClothNumbers(Generic[N]):
    """What follows from the construction alone.

    Attributes:
        interlacing_times: Interlacings of the busiest end over the fewest; 0 if an end has none.
        joint_repeat_ends: Ends after which colour and weave repeat together.
        longer_repeat_ends: The longer repeat of the two.
    """

    grey_width_cm: N
    panel_reed_width_cm: N
    reed_width_cm: N
    ground_ends: N
    total_ends: N
    picks_per_cm: N
    picks_per_cm_on_loom: N
    loom_length_m: N
    tightness_pct: N
    warp_cover_pct: N
    warp_counts_times: N
    weft_counts_times: N
    interlacing_times: N
    weave_ends: N
    weave_picks: N
    joint_repeat_ends: N
    joint_repeat_picks: N
    longer_repeat_ends: N
    longer_repeat_picks: N


@dataclass(slots=True, kw_only=True)
class LoomNumbers(Generic[N]):
    """Limits of the loom; those of its shedding motion are in :class:`WeaveNumbers`."""

    reed_width_cm: N
    min_reed_width_cm: N
    is_shuttle: Truth
    is_water_jet: Truth
    max_tightness_pct: N
    weft_selectors: N
    min_weft_tex: N
    max_weft_tex: N
    min_picks_per_cm: N
    max_picks_per_cm: N
    max_feeder_speed_m_per_min: N
    max_rate_m_per_min: N
    max_shedding_speed_picks_per_min: N
    beam_count: N
    beam_width_cm: N


@dataclass(slots=True, kw_only=True)
class FitNumbers(Generic[N]):
    """What follows from cloth and loom together.

    Attributes:
        panels_in_reed: Panels of this width that fit side by side.
        nearest_dents_per_10cm: Nearest reed in stock; the one needed if there is no stock.
        requested_reeds_in_stock: Reeds in stock that are the one requested.
        speed_by_loom_picks_per_min: Greatest speed of the loom at this width.
        own_speed_picks_per_min: Least of the loom's own limits of speed, weft and request aside.
        strength_limits_speed: Whether the weft's strength allows a speed above 0.
        speed_by_strength_picks_per_min: That speed; infinite if there is none.
        weft_strength_use_pct: Of the weft that uses most of its weakest place.
        feeder_speed_m_per_min: Of the busiest feeder.
        hours: For the order; infinite if no length is ordered.
    """

    panels_in_reed: N
    has_stock: Truth
    requested_reeds_in_stock: N
    needed_dents_per_10cm: N
    nearest_dents_per_10cm: N
    dents_per_10cm: N
    ends_per_dent: N
    fullest_dent: N
    gap_fill_pct: N
    gap_mm: N
    knot_mm: N
    speed_by_loom_picks_per_min: N
    own_speed_picks_per_min: N
    strength_limits_speed: Truth
    speed_by_strength_picks_per_min: N
    insertion_rate_m_per_min: N
    weft_strength_use_pct: N
    weft_peak_tension_cn: N
    weft_peak_at_deg: N
    weft_weakest_place_cn: N
    feeder_speed_m_per_min: N
    warp_strength_use_pct: N
    warp_peak_tension_cn: N
    beam_capacity_m: N
    least_beam_m: N
    beams_needed: N
    warp_length_m: N
    hours: N


@dataclass(slots=True, kw_only=True)
class Facts(Generic[N]):
    """Everything that a rule may read."""

    weave: WeaveNumbers[N]
    order: OrderNumbers[N]
    cloth: ClothNumbers[N]
    loom: LoomNumbers[N]
    fit: FitNumbers[N]


@dataclass(slots=True, kw_only=True)
class WeaveWords:
    """Names and texts of a weave and its shedding motion, for messages.

    Attributes:
        draft_fault: Why the requested draft cannot weave the cloth; ``""`` if it can.
        has_other_draft: Whether another draft takes its place.
    """

    loose_ends: tuple[int, ...]
    loose_picks: tuple[int, ...]
    shedding: str
    draft_fault: str
    has_other_draft: bool


@dataclass(slots=True, kw_only=True)
class Words:
    """Names and texts of an order, for messages.

    Attributes:
        weft_keys: Key of each weft yarn, in the order of the numbers.
        weft_materials: Fibre and kind of each.
        hardest_weft: Key of the weft yarn that uses most of its weakest place.
    """

    weave: WeaveWords
    weft_keys: tuple[str, ...] = field(default=())
    weft_materials: tuple[str, ...] = field(default=())
    hardest_weft: str = ""
    busiest_weft: str = ""
    hardest_warp: str = ""


def facts_of(fit: Fit) -> Facts[float]:
    """Gather the numbers of one cloth on one loom."""
    return Facts(
        weave=_weave_numbers(fit),
        order=_order_numbers(fit),
        cloth=_cloth_numbers(fit.cloth),
        loom=_loom_numbers(fit),
        fit=_fit_numbers(fit),
    )


def words_of(fit: Fit) -> Words:
    """Gather the names and texts of one cloth on one loom."""
    structure = fit.cloth.structure
    drawn = fit.drawing_in.drawn if isinstance(fit.drawing_in, OnShafts) else None
    return Words(
        weave=WeaveWords(
            loose_ends=structure.loose_ends,
            loose_picks=structure.loose_picks,
            shedding=fit.limits.shedding.kind.in_words,
            draft_fault=(drawn.draft_fault or "") if drawn else "",
            has_other_draft=drawn is not None,
        ),
        weft_keys=tuple(run.key for run in fit.wefts),
        weft_materials=tuple(f"{run.yarn.fibre.key} {run.yarn.kind}" for run in fit.wefts),
        hardest_weft=fit.hardest_weft.key,
        busiest_weft=_busiest(fit).key,
        hardest_warp=fit.hardest_warp[0],
    )


def hooks_in_use(hooks: int, repeat_ends: int) -> int:
    """Hooks under whole repeats of the weave."""
    return hooks - hooks % repeat_ends


def bound_cloths(structure_layers: int, loose_ends: int, loose_picks: int) -> int:
    """Cloths that are not bound to one another; a loose thread is a layer of its own."""
    return structure_layers - loose_ends - loose_picks


def _weave_numbers(fit: Fit) -> WeaveNumbers[float]:
    cloth, structure, on = fit.cloth, fit.cloth.structure, fit.drawing_in
    loose_ends, loose_picks = len(structure.loose_ends), len(structure.loose_picks)
    is_jacquard = isinstance(on, OnHooks)
    drawn = on.drawn if isinstance(on, OnShafts) else None
    hooks = on.limits.hooks if isinstance(on, OnHooks) else 0
    return WeaveNumbers(
        cloths=bound_cloths(structure.layer_count, loose_ends, loose_picks),
        loose_ends=loose_ends,
        loose_picks=loose_picks,
        longest_float_mm=cloth.longest_float_mm,
        draft_faults=1 if drawn is not None and drawn.draft_fault is not None else 0,
        lift_picks=structure.picks,
        lift_swing_pct=100 * cloth.repeat.lift_swing,
        warp_up_pct=100 * structure.warp_up_share,
        repeat_ends=structure.ends,
        shafts_needed=on.shafts_needed if isinstance(on, OnShafts) else 0,
        shafts_used=drawn.shafts_used if drawn else 0,
        healds_per_cm=drawn.healds_per_cm_per_shaft if drawn else 0.0,
        healds_on_fullest_shaft=max(drawn.healds_per_shaft) if drawn else 0,
        loom_shafts=on.limits.shafts if isinstance(on, OnShafts) else math.inf,
        max_healds_per_cm=on.limits.max_healds_per_cm_per_shaft
        if isinstance(on, OnShafts)
        else math.inf,
        max_healds_per_shaft=at_most(on.limits.max_healds_per_shaft)
        if isinstance(on, OnShafts)
        else math.inf,
        max_lift_picks=at_most(on.limits.max_repeat_picks),
        is_jacquard=is_jacquard,
        hooks=hooks,
        hooks_in_use=hooks_in_use(hooks, structure.ends),
        ends_per_hook=on.limits.ends_per_hook if isinstance(on, OnHooks) else 0,
        harness_ends_per_cm=on.limits.harness_ends_per_cm if isinstance(on, OnHooks) else 0.0,
        reed_ends_per_cm=fit.denting.ends_per_cm_in_reed,
        harness_known=is_jacquard,
        ground_ends=cloth.panels * cloth.ends.ground,
    )


def at_most(limit: float | None) -> float:
    """Return a greatest limit as a number: infinity if there is none."""
    return math.inf if limit is None else limit


def _order_numbers(fit: Fit) -> OrderNumbers[float]:
    cloth, asked_dents = fit.cloth, fit.denting.asked_dents_per_10cm
    speed = cloth.construction.requested_speed_picks_per_min
    return OrderNumbers(
        panels=cloth.panels,
        panel_gap_cm=cloth.widths.panel_gap_cm,
        is_stabilised=cloth.construction.finishing.stabilised,
        length_ordered=cloth.lengths.ordered,
        speed_requested=speed is not None,
        requested_speed_picks_per_min=speed or 0.0,
        reed_requested=asked_dents is not None,
        requested_dents_per_10cm=asked_dents or 0.0,
        weft_yarns=fit.weft_selectors_used,
        wefts=tuple(_weft_numbers(run) for run in fit.wefts),
        has_warp_pattern=_has_pattern(cloth.warp),
        has_weft_pattern=_has_pattern(cloth.weft),
        warp_repeat_ends=cloth.warp.order.threads,
        weft_repeat_picks=cloth.weft.order.threads,
        waste_per_beam_m=cloth.allowances.loom_waste_m,
    )


def _has_pattern(system: SystemFacts) -> bool:
    return len(system.order.counts) > 1


def _weft_numbers(run: WeftAtSpeed) -> WeftNumbers[float]:
    fibres = (name for name, _ in run.yarn.fibre.components)
    return WeftNumbers(
        present=True,
        tex=run.yarn.linear_density_tex,
        is_hydrophobic_filament=run.yarn.kind == "filament" and WATER_REPELLING.issuperset(fibres),
    )


def _cloth_numbers(cloth: ClothFacts) -> ClothNumbers[float]:
    structure, interlacings = cloth.structure, cloth.structure.interlacings_per_end
    fewest, most = int(interlacings.min()), int(interlacings.max())
    ends, picks = cloth.warp.order.threads, cloth.weft.order.threads
    return ClothNumbers(
        grey_width_cm=cloth.widths.grey_cm,
        panel_reed_width_cm=cloth.widths.panel_reed_cm,
        reed_width_cm=cloth.widths.reed_cm,
        ground_ends=cloth.ends.ground,
        total_ends=cloth.ends.total,
        picks_per_cm=cloth.weft.threads_per_cm,
        picks_per_cm_on_loom=cloth.picks_per_cm_on_loom,
        loom_length_m=cloth.lengths.loom_m,
        tightness_pct=cloth.setting.tightness_pct,
        warp_cover_pct=100 * cloth.setting.warp_crowding,
        warp_counts_times=_counts_times(cloth.warp),
        weft_counts_times=_counts_times(cloth.weft),
        interlacing_times=most / fewest if fewest else 0.0,
        weave_ends=structure.ends,
        weave_picks=structure.picks,
        joint_repeat_ends=math.lcm(ends, structure.ends),
        joint_repeat_picks=math.lcm(picks, structure.picks),
        longer_repeat_ends=max(ends, structure.ends),
        longer_repeat_picks=max(picks, structure.picks),
    )


def _counts_times(system: SystemFacts) -> float:
    """Linear density of the coarsest yarn over the finest."""
    coarse, fine = coarsest_and_finest(system.yarns.values())
    return coarse.linear_density_tex / fine.linear_density_tex


def _loom_numbers(fit: Fit) -> LoomNumbers[float]:
    limits = fit.limits
    return LoomNumbers(
        reed_width_cm=limits.reed_width_cm,
        min_reed_width_cm=limits.min_reed_width_cm,
        is_shuttle=limits.system is InsertionSystem.SHUTTLE,
        is_water_jet=limits.system is InsertionSystem.WATER_JET,
        max_tightness_pct=limits.max_tightness_pct,
        weft_selectors=limits.weft_selectors,
        min_weft_tex=limits.min_weft_tex,
        max_weft_tex=limits.max_weft_tex,
        min_picks_per_cm=limits.min_picks_per_cm,
        max_picks_per_cm=limits.max_picks_per_cm,
        max_feeder_speed_m_per_min=limits.max_feeder_speed_m_per_min,
        max_rate_m_per_min=limits.max_rate_m_per_min,
        max_shedding_speed_picks_per_min=limits.shedding.max_speed_picks_per_min,
        beam_count=limits.beam_count,
        beam_width_cm=limits.beam_width_cm,
    )


def _fit_numbers(fit: Fit) -> FitNumbers[float]:
    denting, hardest, stock = fit.denting, fit.hardest_weft, fit.limits
    nearest, asked = denting.nearest_in_stock_dents_per_10cm, denting.asked_dents_per_10cm
    speeds = {limit.name: limit.picks_per_min for limit in fit.speed_limits}
    by_strength = speeds.pop(SpeedLimitName.WEFT_STRENGTH, None)
    speeds.pop(SpeedLimitName.REQUESTED_SPEED, None)
    curve = speeds.get(SpeedLimitName.SPEED_CURVE, math.inf)
    return FitNumbers(
        panels_in_reed=fit.panel_room,
        has_stock=nearest is not None,
        requested_reeds_in_stock=stock.reeds_in_stock_dents_per_10cm.count(asked or 0.0),
        needed_dents_per_10cm=denting.needed_dents_per_10cm,
        nearest_dents_per_10cm=denting.needed_dents_per_10cm if nearest is None else nearest,
        dents_per_10cm=denting.dents_per_10cm,
        ends_per_dent=denting.ends_per_dent,
        fullest_dent=denting.fullest_dent,
        gap_fill_pct=denting.air.fill_pct,
        gap_mm=denting.air.gap_mm,
        knot_mm=denting.air.knot_mm,
        speed_by_loom_picks_per_min=min(speeds[SpeedLimitName.LOOM_SPEED], curve),
        own_speed_picks_per_min=min(speeds.values()),
        strength_limits_speed=by_strength is not None,
        speed_by_strength_picks_per_min=at_most(by_strength),
        insertion_rate_m_per_min=fit.insertion_rate_m_per_min,
        weft_strength_use_pct=hardest.tension.strength_use_pct,
        weft_peak_tension_cn=hardest.tension.peak_tension_cn,
        weft_peak_at_deg=hardest.tension.at_deg,
        weft_weakest_place_cn=hardest.loaded.strained.weakest_strength_cn,
        feeder_speed_m_per_min=_busiest(fit).feeder_speed_m_per_min,
        warp_strength_use_pct=fit.hardest_warp[1].strength_use_pct,
        warp_peak_tension_cn=fit.hardest_warp[1].peak_tension_cn,
        beam_capacity_m=fit.warp.beam_capacity_m,
        least_beam_m=least_beam_m(fit.cloth.allowances.loom_waste_m),
        beams_needed=fit.warp.beams_needed,
        warp_length_m=fit.warp.warp_length_m,
        hours=math.inf if fit.hours is None else fit.hours,
    )


def _busiest(fit: Fit) -> WeftAtSpeed:
    """Find the weft yarn whose feeder runs fastest."""
    return max(fit.wefts, key=lambda run: run.feeder_speed_m_per_min)
