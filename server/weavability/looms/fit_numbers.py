"""A cloth on a loom in numbers: of one pair, or of orders and looms in columns.

Orders are put in columns of one column, looms in one row, so that what depends on both has a place
for every pair, and what depends on one of them is computed for that one only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from math import inf
from typing import Final, Generic, cast

from weavability.looms.beam_groups import (
    GroupOnLoom,
    greatest_of_some,
    group_on_loom,
    least_beam_m,
    least_of_some,
)
from weavability.looms.beams import cloth_roll_capacity_m, end_tension
from weavability.looms.carriers import flight_of, rapier_acceleration_m_per_s2
from weavability.looms.denting import (
    DentingNumbers,
    denting_numbers,
    filled_panel_cm,
)
from weavability.looms.edge_dents import edge_ends_per_dent
from weavability.looms.interference import efficiency_pct
from weavability.looms.loom_numbers import LoomNumbers
from weavability.looms.order_numbers import OrderNumbers
from weavability.looms.output import hours_for_order, output_m_per_h
from weavability.looms.reeds import panels_in_reed
from weavability.looms.speed import (
    SpeedNumbers,
    StrainedWeft,
    WeftSpeed,
    speed_numbers,
    weft_speed,
)
from weavability.looms.thresholds import Usual
from weavability.looms.weft_insertion import insertion_rate_m_per_min
from weavability.looms.weft_tension import (
    Rise,
    initial_modulus_cn_per_tex,
    peak_tension_cn,
    strain_of,
    strength_use_pct,
)
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.geometry import crowding
from weavability.textiles.guards import LARGEST, sound
from weavability.textiles.jamming import tightness_pct
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    either,
    greatest,
    least,
    on_use,
)


@dataclass(slots=True, kw_only=True)
class FitNumbers(Record[N]):
    """What follows from cloth and loom together.

    Attributes:
        is_judged: Whether every figure is of a size that arithmetic survives; others are refused.
        panels_in_reed: Panels of this width that fit side by side.
        selvedge_tightness_pct: Of the selvedges at their own sett; 0 if the order states neither
            their weave nor fuller dents than are usual: doubled ones of the ground's weave, with
            ends in pairs.
        selvedge_cover_pct: Widths of their ends over the spacing.
        speed_picks_per_min: Speed at which the loom is to run: the least of all limits.
        flight_speed_m_per_s: Mean speed of what flies; of no meaning on a rapier or needle.
        rapier_acceleration_m_per_s2: Greatest acceleration of a rapier or needle; 0 in free flight.
        weft_strength_use_pct: Of the weft that uses most of its weakest place.
        feeder_speed_m_per_min: Of the busiest feeder.
        warp_strength_use_pct: Of the warp yarn that uses most of its weakest place.
        least_beam_m: Least warp that is worth a beam.
        groups: The warp of every group of ends.
        beam_capacity_m: The least of the groups without pile.
        beams_needed: The most of them.
        warp_length_m: Warp to prepare, the waste of every beam included: the longest of them.
        cloth_per_beam_m: Cloth from one filling of the beams: the least of all groups.
        cloth_roll_capacity_m: Cloth on a full roll.
        interlacing_times: Interlacings of the busiest end over the fewest, of ends on one beam; 0
            if an end has none. Of layers, those within a layer; ends of pile do not count.
        warp_counts_times: Linear density of the coarsest yarn over the finest, of one beam.
        crimp_spread_pct: Greatest crimp less the least, of ends on one beam, by which they differ
            at the least.
        hours: For the order; infinite if no length is ordered.
    """

    is_judged: Truth
    panels_in_reed: N
    denting: DentingNumbers[N]
    selvedge_tightness_pct: N
    selvedge_cover_pct: N
    speeds: SpeedNumbers[N]
    weft_speed: WeftSpeed[N]
    speed_picks_per_min: N
    insertion_rate_m_per_min: N
    flight_speed_m_per_s: N
    rapier_acceleration_m_per_s2: N
    weft_strength_use_pct: N
    feeder_speed_m_per_min: N
    warp_strength_use_pct: N
    least_beam_m: N
    groups: tuple[GroupOnLoom[N], ...]
    beam_capacity_m: N
    beams_needed: N
    warp_length_m: N
    cloth_per_beam_m: N
    cloth_roll_capacity_m: N
    interlacing_times: N
    warp_counts_times: N
    crimp_spread_pct: N
    efficiency_pct: N
    output_m_per_h: N
    hours: N


@on_use
class _FitOnUse(Generic[N]):
    """The same numbers, each computed when it is read: a rule that reads few costs little."""

    _order: OrderNumbers[N]
    _cloth: ClothNumbers[N]
    _loom: LoomNumbers[N]
    _usual: Usual[float]
    _driven: bool
    _find_rises: Callable[[], Sequence[Rise[N]]]

    def __init__(
        self,
        order: OrderNumbers[N],
        cloth: ClothNumbers[N],
        loom: LoomNumbers[N],
        rises: Callable[[], Sequence[Rise[N]]],
        usual: Usual[float],
        *,
        driven: bool,
    ) -> None:
        self._order, self._cloth, self._loom, self._usual = order, cloth, loom, usual
        self._find_rises, self._driven = rises, driven

    @property
    def _rises(self) -> Sequence[Rise[N]]:
        return self._find_rises()

    @property
    def _wefts(self) -> list[StrainedWeft[N]]:
        loom = self._loom
        return [
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
            for weft in self._order.wefts
        ]

    @property
    def is_judged(self) -> Truth:
        of_weft = self.weft_speed
        lasting = either(of_weft.strength_limits, of_weft.by_strength, 1.0) <= LARGEST
        return (
            sound(self.speed_picks_per_min)
            & sound(self.output_m_per_h)
            & sound(self.cloth_per_beam_m)
            & lasting
        )

    @property
    def panels_in_reed(self) -> N:
        return panels_in_reed(
            reed_width_cm=self._loom.reed_width_cm,
            panel_reed_width_cm=filled_panel_cm(self._order, self._cloth),
            panel_gap_cm=self._order.panel_gap_cm,
        )

    @property
    def denting(self) -> DentingNumbers[N]:
        return denting_numbers(self._order, self._cloth, self._loom.reeds, self._usual)

    @property
    def selvedge_tightness_pct(self) -> N:
        return _selvedge_tightness_pct(self._order, self._cloth, self.denting)

    @property
    def selvedge_cover_pct(self) -> N:
        return 100 * crowding(
            threads_per_cm=_selvedge_ends_per_cm(self._cloth, self.denting),
            diameter_mm=self._order.selvedge.end_width_mm,
        )

    @property
    def speeds(self) -> SpeedNumbers[N]:
        return speed_numbers(self._loom, reed_width_cm=self._cloth.reed_width_cm)

    @property
    def weft_speed(self) -> WeftSpeed[N]:
        return weft_speed(
            self._rises,
            self._wefts,
            unlimited=inf + 0 * self._cloth.reed_width_cm,
            strength_use_pct=self._usual.weft_strength_error_pct,
        )

    @property
    def speed_picks_per_min(self) -> N:
        order = self._order
        requested: N = either(order.speed_requested, order.requested_speed_picks_per_min, inf)
        speed: N = least(least(requested, self.speeds.own), self.weft_speed.by_strength)
        return either(order.speed_requested, requested, speed) if self._driven else speed

    @property
    def insertion_rate_m_per_min(self) -> N:
        return insertion_rate_m_per_min(
            speed_picks_per_min=self.speed_picks_per_min, reed_width_cm=self._cloth.reed_width_cm
        )

    @property
    def flight_speed_m_per_s(self) -> N:
        flight = flight_of(self._loom.insertion, reed_width_cm=self._cloth.reed_width_cm)
        return self.speed_picks_per_min * flight.speed_per_pick()

    @property
    def rapier_acceleration_m_per_s2(self) -> N:
        return rapier_acceleration_m_per_s2(
            self._loom.insertion,
            law_times=self._loom.rapier_law_times,
            strokes=self._loom.rapier_strokes,
            reed_width_cm=self._cloth.reed_width_cm,
            speed_picks_per_min=self.speed_picks_per_min,
        )

    @property
    def weft_strength_use_pct(self) -> N:
        return _weft_strength_use_pct(self._wefts, self._rises, self.speed_picks_per_min)

    @property
    def feeder_speed_m_per_min(self) -> N:
        return _feeder_speed_m_per_min(
            self._order, self._cloth, self._loom, self.speed_picks_per_min
        )

    @property
    def warp_strength_use_pct(self) -> N:
        return _warp_strength_use_pct(self._order, self._loom)

    @property
    def least_beam_m(self) -> N:
        return least_beam_m(
            self._order.waste_per_beam_m, least_useful_m=self._usual.warp_beam_least_useful_m
        )

    @property
    def groups(self) -> tuple[GroupOnLoom[N], ...]:
        return tuple(_groups_on_loom(self._order, self._cloth, self._loom, self.least_beam_m))

    @property
    def _present(self) -> list[Truth]:
        return [one.present for one in self.groups]

    @property
    def _of_ground(self) -> list[Truth]:
        return [one.of_ground for one in self.groups]

    @property
    def beam_capacity_m(self) -> N:
        return least_of_some([one.beam_capacity_m for one in self.groups], self._of_ground)

    @property
    def beams_needed(self) -> N:
        return greatest_of_some([one.beams_needed for one in self.groups], self._of_ground)

    @property
    def warp_length_m(self) -> N:
        return greatest_of_some([one.warp_length_m for one in self.groups], self._of_ground)

    @property
    def cloth_per_beam_m(self) -> N:
        return least_of_some([one.cloth_per_beam_m for one in self.groups], self._present)

    @property
    def cloth_roll_capacity_m(self) -> N:
        return cloth_roll_capacity_m(
            roll_diameter_cm=self._loom.cloth_roll_diameter_cm,
            tube_diameter_cm=self._loom.cloth_tube_diameter_cm,
            cloth_thickness_mm=self._order.cloth_thickness_mm,
        )

    @property
    def interlacing_times(self) -> N:
        return greatest_of_some([one.interlacing_times for one in self.groups], self._present)

    @property
    def warp_counts_times(self) -> N:
        return greatest_of_some([one.counts_times for one in self.groups], self._present)

    @property
    def crimp_spread_pct(self) -> N:
        return greatest_of_some([one.crimp_spread_pct for one in self.groups], self._present)

    @property
    def efficiency_pct(self) -> N:
        loom = self._loom
        efficiency = loom.efficiency_pct
        if anywhere(loom.stops.present):
            by_stops = efficiency_pct(loom.stops, speed_picks_per_min=self.speed_picks_per_min)
            efficiency = either(loom.stops.present, by_stops, efficiency)
        return efficiency

    @property
    def output_m_per_h(self) -> N:
        return output_m_per_h(
            speed_picks_per_min=self.speed_picks_per_min,
            picks_per_cm=self._cloth.picks_per_cm,
            efficiency_pct=self.efficiency_pct,
        )

    @property
    def hours(self) -> N:
        hours = hours_for_order(
            length_m=self._cloth.loom_length_m, output_m_per_h=self.output_m_per_h
        )
        return either(self._order.length_ordered, hours, inf)


_NAMES: Final = tuple(each.name for each in fields(FitNumbers))

OF_SPEED: Final = frozenset(
    {
        *("is_judged", "speed_picks_per_min", "insertion_rate_m_per_min", "flight_speed_m_per_s"),
        *("rapier_acceleration_m_per_s2", "weft_strength_use_pct", "feeder_speed_m_per_min"),
        *("efficiency_pct", "output_m_per_h", "hours"),
    }
)
"""What depends on the speed that an order requests."""


def fit_on_use(
    order: OrderNumbers[N],
    cloth: ClothNumbers[N],
    loom: LoomNumbers[N],
    rises: Callable[[], Sequence[Rise[N]]],
    usual: Usual[float],
    but_for_speed: FitNumbers[N] | None = None,
    *,
    driven: bool = False,
) -> FitNumbers[N]:
    """Return what follows from a cloth on a loom, each number computed when it is read.

    Args:
        order: What the order requests.
        cloth: The cloth.
        loom: The loom.
        rises: Finds the peaks of the weft tension over a pick at the width of the cloth.
        usual: The thresholds in force.
        but_for_speed: The numbers of the same cloth, if nothing but the requested speed differs.
        driven: Whether a requested speed counts as it is, although a limit is lower.
    """
    found = _FitOnUse(order, cloth, loom, rises, usual, driven=driven)
    if but_for_speed is not None:
        kept = (name for name in _NAMES if name not in OF_SPEED)
        vars(found).update({name: getattr(but_for_speed, name) for name in kept})
    return cast("FitNumbers[N]", found)


def fit_numbers(
    order: OrderNumbers[N],
    cloth: ClothNumbers[N],
    loom: LoomNumbers[N],
    rises: Sequence[Rise[N]],
    usual: Usual[float],
    *,
    driven: bool = False,
) -> FitNumbers[N]:
    """Compute what follows from a cloth on a loom; see :func:`fit_on_use`."""
    found = fit_on_use(order, cloth, loom, lambda: rises, usual, driven=driven)
    return FitNumbers(**{name: getattr(found, name) for name in _NAMES})


def _groups_on_loom(
    order: OrderNumbers[N], cloth: ClothNumbers[N], loom: LoomNumbers[N], least_m: N
) -> Iterator[GroupOnLoom[N]]:
    for group, crimp in zip(order.groups, cloth.groups, strict=True):
        yield group_on_loom(
            group,
            crimp,
            cloth,
            loom,
            groups=order.group_count,
            panels=order.panels,
            selvedge_ends=order.selvedge_ends,
            waste_m=order.waste_per_beam_m,
            least_m=least_m,
        )


def _selvedge_ends_per_cm(cloth: ClothNumbers[N], denting: DentingNumbers[N]) -> N:
    in_reed = denting.selvedge_ends_per_dent * denting.dents_per_10cm / 10
    return in_reed * cloth.panel_reed_width_cm / cloth.grey_width_cm


def _selvedge_tightness_pct(
    order: OrderNumbers[N], cloth: ClothNumbers[N], denting: DentingNumbers[N]
) -> N:
    """Return the tightness of the selvedges; their picks are those of the ground."""
    edge = order.selvedge
    none = 0 * denting.dents_per_10cm
    usual = edge_ends_per_dent(denting.fullest_dent)
    is_crammed = edge.is_known & (order.denting.edge_ends_per_dent > usual)
    is_judged = edge.is_stated & (edge.has_own_weave | is_crammed)
    if not anywhere(is_judged):
        return none
    found = tightness_pct(
        ends_per_cm=_selvedge_ends_per_cm(cloth, denting),
        picks_per_cm=cloth.picks_per_cm,
        warp_diameter_mm=edge.end_width_mm,
        weft_diameter_mm=edge.weft_width_mm,
        warp_depth_mm=edge.end_depth_mm,
        weft_depth_mm=edge.weft_depth_mm,
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
