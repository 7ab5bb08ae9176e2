"""The limits of a loom in numbers, of one loom or of a column of looms."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from weavability.looms.carriers import InsertionNumbers
from weavability.looms.interference import StopNumbers
from weavability.looms.reeds import ReedStock
from weavability.looms.weft_insertion import SpeedCurve
from weavability.textiles.numbers import N, Record, Truth


@dataclass(slots=True, kw_only=True)
class SheddingNumbers(Record[N]):
    """Limits of a shedding motion; a greatest limit that is absent is infinite.

    Attributes:
        shafts: Infinite on a Jacquard, as are the limits of the healds.
        max_lift_picks: Longest lift repeat.
        hooks: 0 without a Jacquard, as are the other figures of its harness.
        selvedge_hooks: Infinite without a Jacquard.
        tied_ends: Ends of the tie, if it is stated; else 0.
        cord_cm: Height of the hooks above the comber board.
        hook_lift_cm: How high the hooks are lifted.
        lift_is_known: Whether height and lift are stated; if not, both are 0.
    """

    shafts: N
    max_healds_per_cm: N
    max_healds_per_shaft: N
    max_lift_picks: N
    is_jacquard: Truth
    hooks: N
    ends_per_hook: N
    harness_ends_per_cm: N
    selvedge_hooks: N
    tied_ends: N
    cord_cm: N
    hook_lift_cm: N
    lift_is_known: Truth


@dataclass(slots=True, kw_only=True)
class LoomNumbers(Record[N]):
    """Limits of a loom but those of its shedding motion.

    Attributes:
        initial_modulus_times: Initial modulus of a weft over its secant modulus to the break.
        fewer_boxes: Shuttle boxes on the side that has fewer.
        more_boxes: Those on the other side.
        is_jet: Whether air or water carries the weft.
        insertion: The motion of the carrier.
        rapier_law_times: Peak acceleration of its law, over stroke by the square of its time; 0 in
            free flight.
        rapier_strokes: Strokes by which the weft crosses the shed: 2 of a pair of rapiers, else 1.
        speed_curve: Without limits if the loom states none.
        reeds: Reeds in stock.
        efficiency_pct: As stated; 0 if it follows from the stops.
        beam_width_cm: Distance between the flanges of one beam.
        beams_abreast: Beams side by side, which share the ends; 1 if they are stacked.
        let_offs: Let-offs, each for a warp of its own: the beams, if they are stacked, else 1.
        beam_density_g_per_cm3: 0 if it follows from the kind of yarn.
        warp_base_cn_per_tex: Tension of an end in the closed shed; 0 if it follows from strength.
        warp_base_strength_pct: The same as a share of the breaking load; 0 if it is stated by tex.
        warp_beat_up_share: Rise at beat-up as a share of it.
        warp_shed_stretch_pct: Stretch of an end in the open shed.
    """

    reed_width_cm: N
    min_reed_width_cm: N
    is_shuttle: Truth
    is_water_jet: Truth
    is_jet: Truth
    is_air_jet: Truth
    is_projectile: Truth
    is_rapier: Truth
    is_needle: Truth
    max_tightness_pct: N
    fewer_boxes: N
    more_boxes: N
    weft_selectors: N
    min_weft_tex: N
    max_weft_tex: N
    min_picks_per_cm: N
    max_picks_per_cm: N
    max_feeder_speed_m_per_min: N
    extra_weft_cm: N
    base_tension_cn_per_tex: N
    initial_modulus_times: N
    insertion: InsertionNumbers[N]
    rapier_law_times: N
    rapier_strokes: N
    max_speed_picks_per_min: N
    speed_curve: SpeedCurve
    max_rate_m_per_min: N
    max_shedding_speed_picks_per_min: N
    reeds: ReedStock[N]
    flange_diameter_cm: N
    barrel_diameter_cm: N
    beam_width_cm: N
    beams_abreast: N
    let_offs: N
    beam_density_g_per_cm3: N
    cloth_roll_diameter_cm: N
    cloth_tube_diameter_cm: N
    warp_base_cn_per_tex: N
    warp_base_strength_pct: N
    warp_beat_up_share: N
    warp_shed_stretch_pct: N
    stops: StopNumbers[N]
    efficiency_pct: N

    @property
    def tables(self) -> Hashable:
        """What is no number: looms of which it is equal need no look-up by key in a column."""
        stops = self.stops
        return (
            self.insertion.tables,
            self.speed_curve,
            self.reeds,
            stops.present,
            stops.looms_per_set,
            stops.weavers,
        )
