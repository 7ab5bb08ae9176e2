"""The facts of one cloth on one loom, computed once; every check and the report read them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from weavability.looms.beams import (
    WarpPlan,
    WarpTension,
    beam_capacity_m,
    cloth_roll_capacity_m,
    warp_length_m,
    warp_plan,
    warp_tension,
    winding_diameter_cm,
)
from weavability.looms.carriers import InsertionMotion, insertion_motion
from weavability.looms.denting import Denting, dent
from weavability.looms.drawing_in import Harness, draw_in
from weavability.looms.guards import LARGEST
from weavability.looms.interference import EfficiencyFacts, efficiency_from_stops
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.output import output_m2_per_h, output_m_per_h
from weavability.looms.speed import LoadedWeft, load_weft, speed_limits, weakest_strength_cn
from weavability.looms.weft_insertion import (
    SpeedLimit,
    insertion_rate_m_per_min,
    speed_limit,
)
from weavability.looms.weft_tension import WeftTension
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.geometry import warp_yarn_length_km, weft_yarn_length_km, yarn_mass_kg
from weavability.textiles.thread_systems import threads_by_yarn
from weavability.textiles.yarns import YarnFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class WeftRun:
    """One weft yarn at the loom's speed.

    Attributes:
        key: Its key in the weft's order.
        share: Its share of the picks.
        loaded: The yarn on this loom.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnAmount:
    """Yarn of one key that the order takes, waste included."""

    system: str
    key: str
    yarn: YarnFacts
    threads: int | None
    length_km: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Everything about one cloth on one loom.

    Attributes:
        speed_limits: Every limit of the speed, named.
        limited_by: The least of them.
        wefts: Every weft yarn at that speed.
        hardest_weft: The weft yarn that uses most of its strength.
        efficiency: Where stop rates are stated: how the efficiency came about.
        hardest_warp: The warp yarn that uses most of its strength, and its tension.
        hours: For the order; ``None`` where no length is stated.
        days: The same in days of the mill's calendar.
        warp: Beams, doffs and knots of the order, or of 1000 m where no length is stated.
    """

    cloth: ClothFacts
    limits: LoomLimits
    harness: Harness
    denting: Denting
    speed_limits: tuple[SpeedLimit, ...]
    limited_by: SpeedLimit
    insertion_rate_m_per_min: float
    motion: InsertionMotion
    wefts: tuple[WeftRun, ...]
    hardest_weft: WeftRun
    weft_selectors_used: int
    efficiency_pct: float
    efficiency: EfficiencyFacts | None
    output_m_per_h: float
    output_m2_per_h: float
    hours: float | None
    days: float | None
    warp: WarpPlan
    cloth_roll_capacity_m: float
    hardest_warp: tuple[str, WarpTension]
    assumptions: tuple[Assumption, ...]

    @property
    def speed_picks_per_min(self) -> float:
        """Speed at which the loom is to run."""
        return self.limited_by.picks_per_min


def fit_cloth(cloth: ClothFacts, limits: LoomLimits) -> Fit:
    """Compute the facts of a cloth on a loom.

    Raises:
        InputError: The construction asks for something contradictory on any loom; pointers are
            relative to the request.
    """
    ledger = Ledger()
    width_cm = cloth.widths.reed_cm
    loaded = {key: load_weft(limits, yarn) for key, yarn in cloth.weft.yarns.items()}
    limits_of_speed = tuple(
        speed_limits(
            limits,
            reed_width_cm=width_cm,
            requested_picks_per_min=cloth.construction.requested_speed_picks_per_min,
            wefts=loaded.values(),
        )
    )
    slowest = speed_limit(limits_of_speed)
    speed = slowest.picks_per_min
    wefts = tuple(_weft_runs(cloth, limits, loaded, speed))
    efficiency = (
        efficiency_from_stops(limits.stop_rates, speed_picks_per_min=speed)
        if limits.stop_rates
        else None
    )
    efficiency_pct = efficiency.efficiency_pct if efficiency else limits.efficiency_pct or 0.0
    metres_per_h = output_m_per_h(
        speed_picks_per_min=speed,
        picks_per_cm=cloth.weft.threads_per_cm,
        efficiency_pct=efficiency_pct,
    )
    roll_capacity_m = _roll_capacity_m(cloth, limits)
    hours = cloth.lengths.loom_m / metres_per_h if cloth.lengths.ordered else None
    warp = _warp(cloth, limits, output_m_per_h=metres_per_h, roll_capacity_m=roll_capacity_m)
    return Fit(
        cloth=cloth,
        limits=limits,
        harness=draw_in(cloth, limits.shedding),
        denting=dent(cloth, limits, ledger),
        speed_limits=limits_of_speed,
        limited_by=slowest,
        insertion_rate_m_per_min=insertion_rate_m_per_min(
            speed_picks_per_min=speed, reed_width_cm=width_cm
        ),
        motion=insertion_motion(limits.motion, speed_picks_per_min=speed, reed_width_cm=width_cm),
        wefts=wefts,
        hardest_weft=max(wefts, key=lambda run: run.tension.strength_use_pct),
        weft_selectors_used=len(cloth.weft.order.counts),
        efficiency_pct=efficiency_pct,
        efficiency=efficiency,
        output_m_per_h=metres_per_h,
        output_m2_per_h=output_m2_per_h(
            output_m_per_h=metres_per_h, cloth_width_cm=cloth.panels * cloth.widths.grey_cm
        ),
        hours=hours,
        days=None if hours is None else hours / limits.hours_per_day,
        warp=warp,
        cloth_roll_capacity_m=roll_capacity_m,
        hardest_warp=_hardest_warp(cloth, limits),
        assumptions=tuple(ledger),
    )


def _weft_runs(
    cloth: ClothFacts, limits: LoomLimits, loaded: Mapping[str, LoadedWeft], speed: float
) -> Iterable[WeftRun]:
    order = cloth.weft.order
    rate = speed * (cloth.widths.reed_cm + limits.extra_weft_cm) / 100
    for key, count in order.counts.items():
        share = count / order.threads
        yield WeftRun(
            key=key,
            share=share,
            loaded=loaded[key],
            tension=loaded[key].tension(
                speed_picks_per_min=speed, reed_width_cm=cloth.widths.reed_cm
            ),
            feeder_speed_m_per_min=rate * share,
        )


def _roll_capacity_m(cloth: ClothFacts, limits: LoomLimits) -> float:
    return cloth_roll_capacity_m(
        roll_diameter_cm=limits.cloth_roll_diameter_cm,
        tube_diameter_cm=limits.cloth_tube_diameter_cm,
        cloth_thickness_mm=cloth.thickness_mm,
    )


def _warp(
    cloth: ClothFacts, limits: LoomLimits, *, output_m_per_h: float, roll_capacity_m: float
) -> WarpPlan:
    """The warp. Where a beam is mostly waste, a check says so and one large beam is planned."""
    capacity_m = _beam_capacity_m(cloth, limits)
    waste_m = cloth.allowances.loom_waste_m
    woven_m = warp_length_m(
        cloth_length_m=cloth.lengths.loom_m, warp_crimp_pct=cloth.warp.crimp_pct
    )
    enough = capacity_m >= least_beam_m(waste_m)
    plan = warp_plan(
        cloth_length_m=cloth.lengths.loom_m,
        warp_crimp_pct=cloth.warp.crimp_pct,
        waste_per_beam_m=waste_m,
        beam_capacity_m=min(capacity_m if enough else woven_m + 2 * waste_m, LARGEST),
        ends=cloth.ends.total,
        cloth_roll_capacity_m=roll_capacity_m,
        output_m_per_h=output_m_per_h,
        hours_per_day=limits.hours_per_day,
    )
    return replace(plan, beam_capacity_m=capacity_m)


def least_beam_m(waste_m: float) -> float:
    """The least warp that is worth a beam: as much again as is lost, and a metre at the least."""
    return waste_m + max(waste_m, 1.0)


def _beam_capacity_m(cloth: ClothFacts, limits: LoomLimits) -> float:
    return beam_capacity_m(
        winding_diameter_cm=winding_diameter_cm(flange_diameter_cm=limits.flange_diameter_cm),
        barrel_diameter_cm=limits.barrel_diameter_cm,
        width_cm=limits.beam_width_cm,
        density_g_per_cm3=limits.beam_density_g_per_cm3,
        ends=cloth.ends.total,
        linear_density_tex=cloth.warp.linear_density_tex,
        size_pct=cloth.allowances.size_pct,
        beams_abreast=limits.beam_count,
    )


def _hardest_warp(cloth: ClothFacts, limits: LoomLimits) -> tuple[str, WarpTension]:
    tensions = {
        key: warp_tension(
            limits.warp_tension,
            linear_density_tex=yarn.linear_density_tex,
            modulus_cn_per_tex=yarn.modulus_cn_per_tex,
            weakest_strength_cn=weakest_strength_cn(yarn),
        )
        for key, yarn in cloth.warp.yarns.items()
    }
    hardest = max(tensions, key=lambda key: tensions[key].strength_use_pct)
    return hardest, tensions[hardest]


def yarn_amounts(fit: Fit) -> Iterable[YarnAmount]:
    """Yield the yarn that the order takes, by system and key, waste included."""
    cloth, warp = fit.cloth, fit.warp
    wasted = 1 + (cloth.allowances.warp_waste_pct) / 100
    ends = threads_by_yarn(
        cloth.warp, total=cloth.panels * cloth.ends.ground, extra=cloth.ends.selvedge
    )
    for key, count in ends.items():
        length_km = wasted * warp_yarn_length_km(ends=count, warp_length_m=warp.warp_length_m)
        yield _amount("warp", key, cloth.warp.yarns[key], count, length_km)
    picks = round(cloth.lengths.loom_m * 100 * cloth.weft.threads_per_cm)
    order = cloth.weft.order
    wasted = 1 + (cloth.allowances.weft_waste_pct) / 100
    for key, count in order.counts.items():
        length_km = wasted * weft_yarn_length_km(
            picks=picks * count / order.threads,
            reed_width_cm=cloth.widths.reed_cm,
            extra_per_pick_cm=fit.limits.extra_weft_cm,
        )
        yield _amount("weft", key, cloth.weft.yarns[key], None, length_km)


def _amount(
    system: str, key: str, yarn: YarnFacts, threads: int | None, length_km: float
) -> YarnAmount:
    return YarnAmount(
        system=system,
        key=key,
        yarn=yarn,
        threads=threads,
        length_km=length_km,
        mass_kg=yarn_mass_kg(length_km=length_km, linear_density_tex=yarn.linear_density_tex),
    )
