"""The facts of one cloth on one loom, computed once for all checks and the report."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from weavability.looms.beam_density import note_beam_densities
from weavability.looms.beams import (
    WarpPlan,
    WarpTension,
    days_between_warps,
    doffs,
    warp_tension,
)
from weavability.looms.carriers import InsertionMotion, insertion_motion
from weavability.looms.denting import cloth_in_reed
from weavability.looms.denting_facts import Denting, dent
from weavability.looms.drawing_in import DrawingIn, OnShafts, draw_in
from weavability.looms.fit_numbers import (
    FitNumbers,
    fit_numbers,
    weft_rate_m_per_min,
)
from weavability.looms.interference import (
    Efficiency,
    EfficiencyFacts,
    OrderStops,
    Running,
    efficiency_at,
    efficiency_from_stops,
    order_stops,
)
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.order_numbers import OrderNumbers, order_numbers
from weavability.looms.output import days_for_hours, output_m2_per_h
from weavability.looms.pieces import cut_pieces
from weavability.looms.selvedge_yarn import EdgeYarn, edge_yarn
from weavability.looms.speed import (
    LoadedWeft,
    WeftShare,
    named_limits,
    weft_shares,
)
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import SpeedLimit, speed_limit
from weavability.looms.weft_tension import Rise, WeftTension, pick_rises, tension_of
from weavability.looms.yarn_numbers import WarpNumbers
from weavability.textiles.assumptions import Assumption, Ledger, ValueBand
from weavability.textiles.cloth import ClothFacts, ClothMeasures
from weavability.textiles.drafting import Draft
from weavability.textiles.guards import positive
from weavability.textiles.numbers import on_use
from weavability.textiles.records import record
from weavability.textiles.thread_systems import threads_by_yarn
from weavability.textiles.warp_groups import GroupFacts
from weavability.textiles.warp_size import size_by_yarn_pct
from weavability.textiles.yarn_facts import YarnFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class WeftAtSpeed:
    """One weft yarn of the cloth at the speed of the loom.

    Attributes:
        key: Its key in the weft's order.
        share: Its share of the picks, 0 to 1.
        loaded: The yarn on this loom.
        tension: Its tension over a pick.
        feeder_speed_m_per_min: Mean speed of its feeder.
    """

    key: str
    share: float
    loaded: LoadedWeft
    tension: WeftTension
    feeder_speed_m_per_min: float

    @property
    def yarn(self) -> YarnFacts:
        """The yarn."""
        return self.loaded.yarn


@record(kw_only=True)
class GroupWarp:
    """The warp of a group of ends with a beam of its own.

    Attributes:
        ends: Its ends over all panels; selvedge ends count with the group of their yarn.
        length_m: Warp to prepare, the waste of every beam included; mean over its ends.
        crimp_pct: Its crimp on the length of the grey cloth.
        beam_capacity_m: Warp that a filling of its beams holds, with the groups that share them.
        beams_needed: Beams, or sets of beams abreast, one after the other.
        density_g_per_cm3: Density of the wound yarn.
        yarn_kg: Mass of that warp, unsized.
        size_kg: Mass of the size on it.
        cloth_per_beam_m: Cloth from one filling.
        days_between_beams: Days that it lasts.
    """

    group: GroupFacts
    ends: int
    length_m: float
    crimp_pct: float
    beam_capacity_m: float
    beams_needed: int
    density_g_per_cm3: float
    yarn_kg: float
    size_kg: float
    cloth_per_beam_m: float
    days_between_beams: float

    @property
    def take_up(self) -> float:
        """Warp length per cloth length."""
        return 1 + self.crimp_pct / 100


@record(kw_only=True)
class Fit:
    """The facts of one cloth on one loom.

    Attributes:
        order: What the order requests of any loom, in numbers.
        numbers: The facts in numbers, from which the others are made.
        rises: Of the weft tension over a pick, at the width in the reed.
        drawing_in: The ends on the shafts or hooks of the loom.
        edge_yarn: Ends at the edges beside the warp.
        speed_limits: Every limit of the speed, named.
        limited_by: The least of them.
        wefts: Every weft yarn at that speed.
        hardest_weft: The weft yarn that uses most of its strength.
        efficiency: How the efficiency results from stop rates; ``None`` if the loom states none.
        efficiency_band: Between which values it is expected; ``None`` if nothing of it is assumed.
        stops: The stops of the order; ``None`` without stop rates or without a length.
        hardest_warp: The warp yarn that uses most of its strength, and its tension.
        hours: For the order; ``None`` if it states no length.
        days: The same in days of the mill's calendar.
        warp: Beams, doffs and knots of the order, or of the usual length if it states none.
        groups: The warp of every group of ends with a beam of its own.
        assumptions: Every value that was assumed, with its pointer into the request.
    """

    cloth: ClothFacts
    limits: LoomLimits
    order: OrderNumbers[float]
    numbers: FitNumbers[float]
    rises: Sequence[Rise[float]]
    drawing_in: DrawingIn
    denting: Denting
    edge_yarn: EdgeYarn
    speed_limits: tuple[SpeedLimit, ...]
    limited_by: SpeedLimit
    insertion_rate_m_per_min: float
    motion: InsertionMotion
    wefts: tuple[WeftAtSpeed, ...]
    hardest_weft: WeftAtSpeed
    weft_selectors_used: int
    efficiency_pct: float
    efficiency: EfficiencyFacts | None
    efficiency_band: ValueBand | None
    stops: OrderStops | None
    output_m_per_h: float
    output_m2_per_h: float
    hours: float | None
    days: float | None
    warp: WarpPlan
    groups: tuple[GroupWarp, ...]
    cloth_roll_capacity_m: float
    hardest_warp: tuple[str, WarpTension]
    assumptions: tuple[Assumption, ...]

    @property
    def speed_picks_per_min(self) -> float:
        """Speed at which the loom is to run."""
        return self.limited_by.picks_per_min

    @property
    def hours_band(self) -> ValueBand | None:
        """Between how many hours the order is expected to take, by the band of the efficiency."""
        band = self.efficiency_band
        if band is None or self.hours is None:
            return None
        at_full = self.hours * self.efficiency_pct
        return ValueBand(at_full / band.high, at_full / band.low)

    @property
    def ends_on_beams(self) -> tuple[tuple[tuple[str, ...], int], ...]:
        """Names of the groups of ends on each beam of the loom, and its ends.

        Beams abreast deal all ends between them, the first ones one more if they do not divide.
        Empty if the loom has fewer let-offs than the order has take-ups.
        """
        order, beams = self.order, self.limits.beams
        if order.take_ups > beams.let_offs:
            return ()
        names = tuple(each.group.name for each in self.groups)
        if beams.abreast > 1:
            each, more = divmod(self.cloth.ends.total, beams.abreast)
            return tuple((names, each + (beam < more)) for beam in range(beams.abreast))
        if order.group_count <= beams.let_offs:
            return tuple(((each.group.name,), each.ends) for each in self.groups)
        alike: dict[float, list[GroupWarp]] = {}
        for one, numbers in zip(self.groups, order.groups, strict=True):
            alike.setdefault(numbers.take_up, []).append(one)
        return tuple(
            (tuple(one.group.name for one in some), sum(one.ends for one in some))
            for some in alike.values()
        )

    @property
    def draft(self) -> Draft | None:
        """Draft of the ground; ``None`` on a Jacquard, or if the weave needs too many shafts."""
        on = self.drawing_in
        return on.drawn.draft if isinstance(on, OnShafts) and on.drawn else None


def fit_cloth(cloth: ClothFacts, limits: LoomLimits) -> Fit:
    """Compute the facts of a cloth on a loom.

    Args:
        cloth: The facts of the cloth.
        limits: The resolved limits of the loom.

    Returns:
        The facts on which every check and the report are based, at the speed that the least of all
        limits allows.

    Raises:
        InputError: The construction states something contradictory on any loom; pointers are
            relative to the request.
    """
    ledger = Ledger()
    if not limits.beam_density_g_per_cm3:
        note_beam_densities(cloth, ledger)
    order, loom = order_numbers(cloth.symbols), limits.numbers
    cloth = cloth_in_reed(cloth, order)
    width_cm = cloth.widths.reed_cm
    rises = pick_rises(loom.insertion, reed_width_cm=positive("reed_width_cm", width_cm))
    numbers = fit_numbers(order, cloth.numbers, loom, rises, in_force().usual)
    requested_speed = cloth.construction.requested_speed_picks_per_min
    found = tuple(named_limits(loom, numbers.speeds, numbers.weft_speed, requested_speed))
    slowest = speed_limit(found)
    speed = slowest.picks_per_min
    rate = weft_rate_m_per_min(cloth.numbers, loom, speed)
    shares = weft_shares(limits, cloth.weft)
    wefts = tuple(_at_speed(weft, rises, speed, rate) for weft in shares)
    output = _output(cloth, limits, numbers)
    roll_capacity_m = numbers.cloth_roll_capacity_m
    groups = tuple(_group_warps(cloth, limits, numbers))
    return Fit(
        cloth=cloth,
        limits=limits,
        order=order,
        numbers=numbers,
        rises=rises,
        drawing_in=draw_in(cloth.symbols, cloth.numbers, limits.shedding),
        denting=dent(cloth, limits, order, numbers.denting, ledger),
        edge_yarn=edge_yarn(
            cloth.construction.selvedge, cloth.symbols.selvedge, limits.system, ledger
        ),
        speed_limits=found,
        limited_by=slowest,
        insertion_rate_m_per_min=numbers.insertion_rate_m_per_min,
        motion=insertion_motion(limits.motion, speed_picks_per_min=speed, reed_width_cm=width_cm),
        wefts=wefts,
        hardest_weft=max(wefts, key=lambda weft: weft.tension.strength_use_pct),
        weft_selectors_used=len(shares),
        efficiency_pct=numbers.efficiency_pct,
        efficiency=output.efficiency,
        efficiency_band=_efficiency_band(limits, speed),
        stops=output.stops,
        output_m_per_h=numbers.output_m_per_h,
        output_m2_per_h=output.m2_per_h,
        hours=output.hours,
        days=output.days,
        warp=_warp(cloth, limits, numbers, groups, roll_capacity_m=roll_capacity_m),
        groups=groups,
        cloth_roll_capacity_m=roll_capacity_m,
        hardest_warp=_hardest_warp(cloth, limits, order.warps),
        assumptions=(
            *[line.below("/construction") for line in cloth.assumptions],
            *[line.below("/loom") for line in limits.assumptions],
            *ledger,
        ),
    )


def _at_speed(
    weft: WeftShare, rises: Sequence[Rise[float]], speed: float, rate_m_per_min: float
) -> WeftAtSpeed:
    loaded = weft.loaded
    return WeftAtSpeed(
        key=weft.key,
        share=weft.share,
        loaded=loaded,
        tension=tension_of(loaded.motion, loaded.strained, rises, speed_picks_per_min=speed),
        feeder_speed_m_per_min=rate_m_per_min * weft.share,
    )


def _efficiency_band(limits: LoomLimits, speed: float) -> ValueBand | None:
    if limits.running_at_best == limits.running_at_worst:
        return None
    return ValueBand(
        low=efficiency_at(limits.running_at_worst, speed_picks_per_min=speed),
        high=efficiency_at(limits.running_at_best, speed_picks_per_min=speed),
    )


class _Output(NamedTuple):
    efficiency: EfficiencyFacts | None
    stops: OrderStops | None
    m2_per_h: float
    hours: float | None
    days: float | None


def _output(cloth: ClothFacts, limits: LoomLimits, numbers: FitNumbers[float]) -> _Output:
    """Say what the output of a loom amounts to, and the time of an order that states a length."""
    hours, days, of_order = None, None, None
    efficiency = _stops(limits.running, numbers.speed_picks_per_min)
    if cloth.lengths.ordered:
        hours = numbers.hours
        days = days_for_hours(hours=hours, hours_per_day=limits.hours_per_day)
        of_order = None if efficiency is None else order_stops(efficiency, hours=hours)
    return _Output(
        efficiency=efficiency,
        stops=of_order,
        m2_per_h=output_m2_per_h(
            output_m_per_h=numbers.output_m_per_h,
            cloth_width_cm=cloth.panels * cloth.widths.grey_cm,
        ),
        hours=hours,
        days=days,
    )


def _stops(running: Running, speed: float) -> EfficiencyFacts | None:
    if isinstance(running, Efficiency):
        return None
    return efficiency_from_stops(running, speed_picks_per_min=speed)


def _warp(
    cloth: ClothFacts,
    limits: LoomLimits,
    numbers: FitNumbers[float],
    groups: Sequence[GroupWarp],
    *,
    roll_capacity_m: float,
) -> WarpPlan:
    pieces = cut_pieces(
        cloth.lengths,
        panels=cloth.panels,
        cloth_roll_capacity_m=roll_capacity_m,
        cloth_per_beam_m=numbers.cloth_per_beam_m,
    )
    rolls = None if pieces is None else pieces.rolls
    if rolls is None:
        rolls = doffs(cloth_length_m=cloth.lengths.loom_m, cloth_roll_capacity_m=roll_capacity_m)
    return WarpPlan(
        warp_length_m=numbers.warp_length_m,
        beam_capacity_m=numbers.beam_capacity_m,
        beams_needed=int(numbers.beams_needed),
        knots=sum(group.ends * group.beams_needed for group in groups),
        doffs=rolls,
        pieces=pieces,
        days_between_warps=_days(numbers.cloth_per_beam_m, limits, numbers),
    )


def _days(cloth_per_beam_m: float, limits: LoomLimits, numbers: FitNumbers[float]) -> float:
    return days_between_warps(
        cloth_per_warp_m=cloth_per_beam_m,
        output_m_per_h=numbers.output_m_per_h,
        hours_per_day=limits.hours_per_day,
    )


def _group_warps(
    cloth: ClothMeasures, limits: LoomLimits, numbers: FitNumbers[float]
) -> Iterator[GroupWarp]:
    """Yield the warp of each group of ends."""
    ends, warp = ends_by_yarn(cloth), cloth.warp
    of_groups, lengths_m = _grouped(cloth, ends), warp_lengths_m(cloth, numbers)
    stated_pct = cloth.construction.allowances.size_pct
    sizes = size_by_yarn_pct(cloth.symbols.warp, stated_pct, cloth.allowances.size_pct)
    for group, of_group, on_loom in zip(
        cloth.symbols.groups, of_groups, numbers.groups, strict=True
    ):
        masses_kg = {
            key: ends.get(key, 0) * warp.yarns[key].linear_density_tex * lengths_m[key] / 1e6
            for key in group.yarns
        }
        yield GroupWarp(
            group=group,
            ends=of_group,
            length_m=on_loom.warp_length_m,
            crimp_pct=on_loom.crimp_pct,
            beam_capacity_m=on_loom.beam_capacity_m,
            beams_needed=int(on_loom.beams_needed),
            density_g_per_cm3=on_loom.density_g_per_cm3,
            yarn_kg=sum(masses_kg.values()),
            size_kg=sum(sizes[key] / 100 * mass_kg for key, mass_kg in masses_kg.items()),
            cloth_per_beam_m=on_loom.cloth_per_beam_m,
            days_between_beams=_days(on_loom.cloth_per_beam_m, limits, numbers),
        )


def warp_lengths_m(cloth: ClothMeasures, numbers: FitNumbers[float]) -> dict[str, float]:
    """Return the warp to prepare of each yarn, the waste of every beam included.

    That of its group is a mean; each yarn takes more or less by its own crimp.
    """
    loom_m, crimps_pct = cloth.lengths.loom_m, cloth.warp.crimps_pct
    return {
        key: on_loom.warp_length_m + loom_m * (crimps_pct[key] - on_loom.crimp_pct) / 100
        for group, on_loom in zip(cloth.symbols.groups, numbers.groups, strict=True)
        for key in group.yarns
    }


def ends_by_group(cloth: ClothMeasures) -> tuple[int, ...]:
    """Count the ends of each group over all panels, selvedges included."""
    return _grouped(cloth, ends_by_yarn(cloth))


def _grouped(cloth: ClothMeasures, ends: Mapping[str, int]) -> tuple[int, ...]:
    return tuple(sum(ends.get(key, 0) for key in group.yarns) for group in cloth.symbols.groups)


def ends_by_yarn(cloth: ClothMeasures) -> dict[str, int]:
    """Count the ends of each yarn over all panels, selvedges included."""
    return threads_by_yarn(
        cloth.warp,
        total=cloth.panels * cloth.ends.ground,
        extra=cloth.ends.selvedge,
        extra_key=cloth.symbols.selvedge.yarn_key,
    )


def _hardest_warp(
    cloth: ClothFacts, limits: LoomLimits, warps: Sequence[WarpNumbers[float]]
) -> tuple[str, WarpTension]:
    tensions = {
        key: warp_tension(
            limits.warp_tension,
            linear_density_tex=warp.tex,
            modulus_cn_per_tex=warp.modulus_cn_per_tex,
            strength_cn=warp.strength_cn,
            weakest_strength_cn=warp.weakest_strength_cn,
        )
        for key, warp in zip(cloth.warp.yarns, warps, strict=True)
    }
    hardest = max(tensions, key=lambda key: tensions[key].strength_use_pct)
    return hardest, tensions[hardest]


@on_use
class YarnOnLoom:
    """What of a cloth on a loom decides how much yarn it takes; see :class:`Fit`.

    Args:
        cloth: The cloth.
        limits: The loom.
        numbers: What follows from both.
    """

    def __init__(
        self, cloth: ClothMeasures, limits: LoomLimits, numbers: FitNumbers[float]
    ) -> None:
        self.cloth, self.limits, self.numbers = cloth, limits, numbers

    @property
    def groups(self) -> tuple[GroupWarp, ...]:
        """The warp of every group of ends with a beam of its own."""
        return tuple(_group_warps(self.cloth, self.limits, self.numbers))

    @property
    def edge_yarn(self) -> EdgeYarn:
        """Ends at the edges beside the warp."""
        cloth = self.cloth
        return edge_yarn(
            cloth.construction.selvedge,
            cloth.symbols.selvedge,
            self.limits.system,
            Ledger(keeps=False),
        )
