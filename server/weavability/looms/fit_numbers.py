"""A cloth on a loom in numbers: of one pair, or of orders and looms in columns.

Orders are put in columns of one column, looms in one row, so that what depends on both has a place
for every pair, and what depends on one of them is computed for that one only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from weavability.looms.beams import (
    beam_capacity_m,
    beams_needed,
    end_tension,
    winding_diameter_cm,
)
from weavability.looms.carriers import flight_of
from weavability.looms.denting import DentingNumbers, denting_numbers
from weavability.looms.guards import LARGEST, sound
from weavability.looms.interference import efficiency_pct
from weavability.looms.loom_numbers import LoomNumbers
from weavability.looms.order_numbers import OrderNumbers
from weavability.looms.output import hours_for_order, output_m_per_h
from weavability.looms.reeds import panels_in_reed
from weavability.looms.speed import SpeedNumbers, StrainedWeft, speed_numbers
from weavability.looms.thresholds import Usual
from weavability.looms.weft_insertion import insertion_rate_m_per_min
from weavability.looms.weft_tension import (
    Rise,
    initial_modulus_cn_per_tex,
    peak_tension_cn,
    strain_of,
    strength_use_pct,
)
from weavability.textiles.cloth_states import ClothNumbers
from weavability.textiles.jamming import tightness_pct
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    either,
    greatest,
    least,
    whole,
)


@dataclass(slots=True, kw_only=True)
class FitNumbers(Record[N]):
    """What follows from cloth and loom together.

    Attributes:
        is_judged: Whether every figure is of a size that arithmetic survives; others are refused.
        panels_in_reed: Panels of this width that fit side by side.
        selvedge_tightness_pct: Of the selvedges at their own sett; 0 if the order does not state
            their weave: doubled dents of the ground's weave are usual, with ends in pairs.
        speed_picks_per_min: Speed at which the loom is to run: the least of all limits.
        flight_speed_m_per_s: Mean speed of what flies; of no meaning on a rapier or needle.
        weft_strength_use_pct: Of the weft that uses most of its weakest place.
        feeder_speed_m_per_min: Of the busiest feeder.
        warp_strength_use_pct: Of the warp yarn that uses most of its weakest place.
        usable_beam_m: Capacity by which beams are counted: of one large beam if the loom's are
            mostly waste, as a check refuses those.
        warp_length_m: Warp to prepare, the waste of every beam included.
        hours: For the order; infinite if no length is ordered.
    """

    is_judged: Truth
    panels_in_reed: N
    denting: DentingNumbers[N]
    selvedge_tightness_pct: N
    speeds: SpeedNumbers[N]
    speed_picks_per_min: N
    insertion_rate_m_per_min: N
    flight_speed_m_per_s: N
    weft_strength_use_pct: N
    feeder_speed_m_per_min: N
    warp_strength_use_pct: N
    beam_capacity_m: N
    least_beam_m: N
    usable_beam_m: N
    beams_needed: N
    warp_length_m: N
    efficiency_pct: N
    output_m_per_h: N
    hours: N


def fit_numbers(
    order: OrderNumbers[N],
    cloth: ClothNumbers[N],
    loom: LoomNumbers[N],
    rises: Sequence[Rise[N]],
    usual: Usual[float],
) -> FitNumbers[N]:
    """Compute what follows from a cloth on a loom.

    Args:
        order: What the order requests.
        cloth: The cloth.
        loom: The loom.
        rises: The peaks of the weft tension over a pick at the width of the cloth.
        usual: The thresholds in force.
    """
    width_cm = cloth.reed_width_cm
    wefts = [
        StrainedWeft(
            present=weft.present,
            strain=strain_of(
                linear_density_tex=weft.tex,
                modulus_cn_per_tex=initial_modulus_cn_per_tex(
                    secant_modulus_cn_per_tex=weft.modulus_cn_per_tex,
                    is_brittle=weft.is_brittle,
                    initial_modulus_times=loom.initial_modulus_times,
                ),
            ),
            base_tension_cn=loom.base_tension_cn_per_tex * weft.tex,
            weakest_strength_cn=weft.weakest_strength_cn,
        )
        for weft in order.wefts
    ]
    speeds = speed_numbers(
        loom,
        rises,
        wefts,
        reed_width_cm=width_cm,
        strength_use_pct=usual.weft_strength_error_pct,
    )
    requested: N = either(order.speed_requested, order.requested_speed_picks_per_min, inf)
    speed: N = least(least(requested, speeds.own), speeds.by_strength)
    denting = denting_numbers(order, cloth, loom.reeds, usual)
    capacity_m = _beam_capacity_m(order, cloth, loom)
    waste_m, woven_m = order.waste_per_beam_m, cloth.woven_warp_m
    least_m = least_beam_m(waste_m, least_useful_m=usual.warp_beam_least_useful_m)
    usable_m = usable_beam_m(capacity_m, least_m=least_m, woven_m=woven_m, waste_m=waste_m)
    beams = beams_needed(
        cloth_warp_length_m=woven_m, beam_capacity_m=usable_m, waste_per_beam_m=waste_m
    )
    efficiency = loom.efficiency_pct
    if anywhere(loom.stops.present):
        by_stops = efficiency_pct(loom.stops, speed_picks_per_min=speed)
        efficiency = either(loom.stops.present, by_stops, efficiency)
    output = output_m_per_h(
        speed_picks_per_min=speed, picks_per_cm=cloth.picks_per_cm, efficiency_pct=efficiency
    )
    hours = hours_for_order(length_m=cloth.loom_length_m, output_m_per_h=output)
    lasting = either(speeds.strength_limits, speeds.by_strength, 1.0) <= LARGEST
    return FitNumbers(
        is_judged=sound(speed) & sound(output) & sound(usable_m - waste_m) & lasting,
        panels_in_reed=panels_in_reed(
            reed_width_cm=loom.reed_width_cm,
            panel_reed_width_cm=cloth.panel_reed_width_cm,
            panel_gap_cm=order.panel_gap_cm,
        ),
        denting=denting,
        selvedge_tightness_pct=_selvedge_tightness_pct(order, cloth, denting),
        speeds=speeds,
        speed_picks_per_min=speed,
        insertion_rate_m_per_min=insertion_rate_m_per_min(
            speed_picks_per_min=speed, reed_width_cm=width_cm
        ),
        flight_speed_m_per_s=speed
        * flight_of(loom.insertion, reed_width_cm=width_cm).speed_per_pick(),
        weft_strength_use_pct=_weft_strength_use_pct(wefts, rises, speed),
        feeder_speed_m_per_min=_feeder_speed_m_per_min(order, cloth, loom, speed),
        warp_strength_use_pct=_warp_strength_use_pct(order, loom),
        beam_capacity_m=capacity_m,
        least_beam_m=least_m,
        usable_beam_m=usable_m,
        beams_needed=beams,
        warp_length_m=woven_m + beams * waste_m,
        efficiency_pct=efficiency,
        output_m_per_h=output,
        hours=either(order.length_ordered, hours, inf),
    )


def _selvedge_tightness_pct(
    order: OrderNumbers[N], cloth: ClothNumbers[N], denting: DentingNumbers[N]
) -> N:
    """Return the tightness of the selvedges; their picks are those of the ground."""
    edge = order.selvedge
    none = 0 * denting.dents_per_10cm
    is_judged = edge.is_stated & edge.has_own_weave
    if not anywhere(is_judged):
        return none
    in_reed = denting.selvedge_ends_per_dent * denting.dents_per_10cm / 10
    found = tightness_pct(
        ends_per_cm=in_reed * cloth.panel_reed_width_cm / cloth.grey_width_cm,
        picks_per_cm=cloth.picks_per_cm,
        warp_diameter_mm=edge.end_diameter_mm,
        weft_diameter_mm=edge.weft_diameter_mm,
        mean_float_of_picks=edge.mean_float_of_picks,
        mean_float_of_ends=edge.mean_float_of_ends,
    )
    return either(is_judged, found, none)


def _weft_strength_use_pct(
    wefts: Sequence[StrainedWeft[N]], rises: Sequence[Rise[N]], speed_picks_per_min: N
) -> N:
    most: N = 0 * speed_picks_per_min
    for weft in wefts:
        peak_cn = peak_tension_cn(
            rises,
            weft.strain,
            base_tension_cn=weft.base_tension_cn,
            speed_picks_per_min=speed_picks_per_min,
        )
        use_pct = strength_use_pct(peak_cn, weft.weakest_strength_cn)
        most = greatest(most, either(weft.present, use_pct, 0.0))
    return most


def _feeder_speed_m_per_min(
    order: OrderNumbers[N], cloth: ClothNumbers[N], loom: LoomNumbers[N], speed_picks_per_min: N
) -> N:
    share: N = 0 * order.panels
    for weft in order.wefts:
        share = greatest(share, either(weft.present, weft.share, 0.0))
    return weft_rate_m_per_min(cloth, loom, speed_picks_per_min) * share


def weft_rate_m_per_min(cloth: ClothNumbers[N], loom: LoomNumbers[N], speed_picks_per_min: N) -> N:
    """Return the weft that the feeders deliver together, what lies beside the cloth included."""
    return speed_picks_per_min * (cloth.reed_width_cm + loom.extra_weft_cm) / 100


def _warp_strength_use_pct(order: OrderNumbers[N], loom: LoomNumbers[N]) -> N:
    most: N = 0 * order.panels
    for warp in order.warps:
        peak_cn = end_tension(
            base_cn_per_tex=loom.warp_base_cn_per_tex,
            base_strength_pct=loom.warp_base_strength_pct,
            beat_up_share=loom.warp_beat_up_share,
            shed_stretch_pct=loom.warp_shed_stretch_pct,
            linear_density_tex=warp.tex,
            modulus_cn_per_tex=warp.modulus_cn_per_tex,
            strength_cn=warp.strength_cn,
        ).peak_cn
        use_pct = strength_use_pct(peak_cn, warp.weakest_strength_cn)
        most = greatest(most, either(warp.present, use_pct, 0.0))
    return most


def beam_density_g_per_cm3(order: OrderNumbers[N], loom: LoomNumbers[N]) -> N:
    """Return the density of the wound warp: as the loom states it, else by the kind of yarn."""
    stated: N = loom.beam_density_g_per_cm3
    return either(stated > 0, stated, order.beam_density_g_per_cm3)


def _beam_capacity_m(order: OrderNumbers[N], cloth: ClothNumbers[N], loom: LoomNumbers[N]) -> N:
    return beam_capacity_m(
        winding_diameter_cm=winding_diameter_cm(flange_diameter_cm=loom.flange_diameter_cm),
        barrel_diameter_cm=loom.barrel_diameter_cm,
        width_cm=loom.beam_width_cm,
        density_g_per_cm3=beam_density_g_per_cm3(order, loom),
        ends=cloth.total_ends - pile_ends(order, cloth),
        linear_density_tex=order.warp_tex,
        size_pct=order.size_pct,
        beams_abreast=loom.beam_count,
    )


def pile_ends(order: OrderNumbers[N], cloth: ClothNumbers[N]) -> N:
    """Return the ends that come from beams of their own for pile; selvedges are not among them."""
    return whole(order.pile_ends_share * order.panels * cloth.ground_ends)


def usable_beam_m(capacity_m: N, *, least_m: N, woven_m: N, waste_m: N) -> N:
    """Return the capacity by which beams are counted: that of one large beam if it is mostly waste.

    Args:
        capacity_m: Warp that a filling of the beams holds.
        least_m: The least that is worth a beam, see :func:`least_beam_m`.
        woven_m: Warp that goes into cloth.
        waste_m: Warp lost at every beam.
    """
    return least(either(capacity_m >= least_m, capacity_m, woven_m + 2 * waste_m), LARGEST)


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
