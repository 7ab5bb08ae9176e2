"""The facts of one cloth on one loom, computed once for all checks and the report."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

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
from weavability.looms.drawing_in import DrawingIn, OnShafts, draw_in
from weavability.looms.guards import LARGEST
from weavability.looms.interference import (
    Efficiency,
    EfficiencyFacts,
    StopRates,
    efficiency_from_stops,
)
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.output import (
    days_for_hours,
    hours_for_order,
    output_m2_per_h,
    output_m_per_h,
)
from weavability.looms.reeds import panels_in_reed
from weavability.looms.speed import (
    LoadedWeft,
    WeftShare,
    speed_limits,
    weakest_strength_cn,
    weft_shares,
)
from weavability.looms.weft_insertion import (
    SpeedLimit,
    insertion_rate_m_per_min,
    speed_limit,
)
from weavability.looms.weft_tension import WeftTension
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.drafting import Draft
from weavability.textiles.geometry import warp_yarn_length_km, weft_yarn_length_km, yarn_mass_kg
from weavability.textiles.thread_systems import threads_by_yarn
from weavability.textiles.yarns import YarnFacts


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


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnAmount:
    """Yarn of one key that the order takes, waste included.

    Attributes:
        system: ``warp`` or ``weft``.
        key: Its key in the thread order.
        threads: Ends of this yarn; ``None`` for weft.
    """

    system: str
    key: str
    yarn: YarnFacts
    threads: int | None
    length_km: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The facts of one cloth on one loom.

    Attributes:
        drawing_in: The ends on the shafts or hooks of the loom.
        speed_limits: Every limit of the speed, named.
        limited_by: The least of them.
        wefts: Every weft yarn at that speed.
        hardest_weft: The weft yarn that uses most of its strength.
        efficiency: How the efficiency results from stop rates; ``None`` if the loom states none.
        hardest_warp: The warp yarn that uses most of its strength, and its tension.
        hours: For the order; ``None`` if it states no length.
        days: The same in days of the mill's calendar.
        warp: Beams, doffs and knots of the order, or of 1000 m if it states no length.
    """

    cloth: ClothFacts
    limits: LoomLimits
    drawing_in: DrawingIn
    denting: Denting
    speed_limits: tuple[SpeedLimit, ...]
    limited_by: SpeedLimit
    insertion_rate_m_per_min: float
    motion: InsertionMotion
    wefts: tuple[WeftAtSpeed, ...]
    hardest_weft: WeftAtSpeed
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

    @property
    def panel_room(self) -> int:
        """Panels of this width that fit side by side in the reed of the loom."""
        return panels_in_reed(
            reed_width_cm=self.limits.reed_width_cm,
            panel_reed_width_cm=self.cloth.widths.panel_reed_cm,
            panel_gap_cm=self.cloth.widths.panel_gap_cm,
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
    width_cm = cloth.widths.reed_cm
    shares = weft_shares(limits, cloth.weft)
    found = _speed_limits(cloth, limits, shares)
    slowest = speed_limit(found)
    speed = slowest.picks_per_min
    wefts = tuple(_at_speed(weft, cloth, limits, speed) for weft in shares)
    output = _output(cloth, limits, speed)
    roll_capacity_m = _roll_capacity_m(cloth, limits)
    warp = _warp(cloth, limits, output_m_per_h=output.m_per_h, roll_capacity_m=roll_capacity_m)
    return Fit(
        cloth=cloth,
        limits=limits,
        drawing_in=draw_in(cloth, limits.shedding),
        denting=dent(cloth, limits, ledger),
        speed_limits=found,
        limited_by=slowest,
        insertion_rate_m_per_min=insertion_rate_m_per_min(
            speed_picks_per_min=speed, reed_width_cm=width_cm
        ),
        motion=insertion_motion(limits.motion, speed_picks_per_min=speed, reed_width_cm=width_cm),
        wefts=wefts,
        hardest_weft=max(wefts, key=lambda weft: weft.tension.strength_use_pct),
        weft_selectors_used=len(shares),
        efficiency_pct=output.efficiency_pct,
        efficiency=output.efficiency,
        output_m_per_h=output.m_per_h,
        output_m2_per_h=output.m2_per_h,
        hours=output.hours,
        days=output.days,
        warp=warp,
        cloth_roll_capacity_m=roll_capacity_m,
        hardest_warp=_hardest_warp(cloth, limits),
        assumptions=tuple(ledger),
    )


def _speed_limits(
    cloth: ClothFacts, limits: LoomLimits, wefts: Iterable[WeftShare]
) -> tuple[SpeedLimit, ...]:
    return tuple(
        speed_limits(
            limits,
            reed_width_cm=cloth.widths.reed_cm,
            requested_picks_per_min=cloth.construction.requested_speed_picks_per_min,
            wefts=[weft.loaded for weft in wefts],
        )
    )


def _at_speed(weft: WeftShare, cloth: ClothFacts, limits: LoomLimits, speed: float) -> WeftAtSpeed:
    rate = speed * (cloth.widths.reed_cm + limits.extra_weft_cm) / 100
    return WeftAtSpeed(
        key=weft.key,
        share=weft.share,
        loaded=weft.loaded,
        tension=weft.loaded.tension(speed_picks_per_min=speed, reed_width_cm=cloth.widths.reed_cm),
        feeder_speed_m_per_min=rate * weft.share,
    )


class _Output(NamedTuple):
    efficiency_pct: float
    efficiency: EfficiencyFacts | None
    m_per_h: float
    m2_per_h: float
    hours: float | None
    days: float | None


def _output(cloth: ClothFacts, limits: LoomLimits, speed: float) -> _Output:
    """Compute efficiency and output at a speed, and the time of an order that states its length."""
    efficiency_pct, efficiency = _efficiency(limits.running, speed)
    m_per_h = output_m_per_h(
        speed_picks_per_min=speed,
        picks_per_cm=cloth.weft.threads_per_cm,
        efficiency_pct=efficiency_pct,
    )
    hours, days = None, None
    if cloth.lengths.ordered:
        hours = hours_for_order(length_m=cloth.lengths.loom_m, output_m_per_h=m_per_h)
        days = days_for_hours(hours=hours, hours_per_day=limits.hours_per_day)
    cloth_width_cm = cloth.panels * cloth.widths.grey_cm
    return _Output(
        efficiency_pct=efficiency_pct,
        efficiency=efficiency,
        m_per_h=m_per_h,
        m2_per_h=output_m2_per_h(output_m_per_h=m_per_h, cloth_width_cm=cloth_width_cm),
        hours=hours,
        days=days,
    )


def _efficiency(
    running: Efficiency | StopRates, speed: float
) -> tuple[float, EfficiencyFacts | None]:
    if isinstance(running, Efficiency):
        return running.efficiency_pct, None
    facts = efficiency_from_stops(running, speed_picks_per_min=speed)
    return facts.efficiency_pct, facts


def _roll_capacity_m(cloth: ClothFacts, limits: LoomLimits) -> float:
    return cloth_roll_capacity_m(
        roll_diameter_cm=limits.cloth_roll_diameter_cm,
        tube_diameter_cm=limits.cloth_tube_diameter_cm,
        cloth_thickness_mm=cloth.thickness_mm,
    )


def _warp(
    cloth: ClothFacts, limits: LoomLimits, *, output_m_per_h: float, roll_capacity_m: float
) -> WarpPlan:
    """Plan the warp; for beams that are mostly waste one large beam, as a check refuses those."""
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
    return plan if plan.beam_capacity_m == capacity_m else replace(plan, beam_capacity_m=capacity_m)


LEAST_USEFUL_WARP_M: Final = 1.0
"""Warp that a beam must hold at least beyond its waste; common practice, no source."""


def least_beam_m(waste_m: float) -> float:
    """Return the least warp that is worth a beam: twice its waste, or waste and a metre.

    Common practice, no source.

    Args:
        waste_m: Warp lost at every beam.

    Returns:
        m.

    >>> least_beam_m(4.6), least_beam_m(0.2)
    (9.2, 1.2)
    """
    return waste_m + max(waste_m, LEAST_USEFUL_WARP_M)


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
    """Yield the yarn that the order takes, by system and key, waste included.

    Lengths in km and masses in kg: for the length ordered, or for 1000 m if none is.
    """
    cloth, warp = fit.cloth, fit.warp
    wasted = 1 + cloth.allowances.warp_waste_pct / 100
    ends = threads_by_yarn(
        cloth.warp, total=cloth.panels * cloth.ends.ground, extra=cloth.ends.selvedge
    )
    for key, count in ends.items():
        length_km = wasted * warp_yarn_length_km(ends=count, warp_length_m=warp.warp_length_m)
        yield _amount("warp", key, cloth.warp.yarns[key], count, length_km)
    picks = round(cloth.lengths.loom_m * 100 * cloth.weft.threads_per_cm)
    order = cloth.weft.order
    wasted = 1 + cloth.allowances.weft_waste_pct / 100
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
