"""A weaving machine as its park file or the request states it: nothing assumed.

The defaults by insertion system are added in :mod:`weavability.looms.loom_limits`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from weavability.looms.carriers import InsertionSystem, Rapiers
from weavability.looms.harness_tie import TieSection
from weavability.looms.motion_laws import MotionLaw
from weavability.textiles.records import record


class SheddingKind(StrEnum):
    """How the shed is made."""

    CAM = "cam"
    DOBBY = "dobby"
    JACQUARD = "jacquard"

    @property
    def in_words(self) -> str:
        """Its name in a sentence: Jacquard is a proper name."""
        return "Jacquard" if self is SheddingKind.JACQUARD else self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A closed range; either end may be open (``None``)."""

    min: float | None = None
    max: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Insertion:
    """Weft insertion: the system, its limits and its motion.

    Attributes:
        max_rate_m_per_min: Greatest weft insertion rate.
        entry_deg: Crank angle at which the carrier or the weft enters the shed.
        transfer_deg: Crank angle of the hand-over (a pair of rapiers only).
        exit_deg: Crank angle at which it has left the shed.
        motion_law: Law of the motion of rapier or needle.
        rapiers: A pair that hands over, or a single rapier.
        picks_per_insertion: Picks that one turn of the crank inserts, 1 or 2.
        overrun_cm: Travel of each rapier outside the reed width in use.
        transfer_travel_cm: Travel of the taker from its turning point until it draws the weft.
        carrier_length_cm: Length of a shuttle or projectile.
        launch_length_cm: Travel over which a shuttle or projectile is brought to speed.
        stopping_length_cm: Weft that runs in while the brakes bring it to rest.
        extra_weft_cm: Weft used beyond the reed width at each pick (catch ends, tucked ends).
        free_weft_length_m: Weft between feeder and carrier that is accelerated.
        base_tension_cn_per_tex: Tension of the weft at rest, from feeder and brake.
        withdrawal_factor: Tension that withdrawal from the feeder adds, over mu·v².
        friction_coefficient: Of the weft at brake, eyes and guides.
        wrap_deg: Angle through which brake, eyes and guides turn the weft in all.
        initial_modulus_times: Initial modulus of a weft over its secant modulus to the break.
        max_feeder_speed_m_per_min: Greatest speed of one weft feeder.
    """

    system: InsertionSystem
    max_rate_m_per_min: float | None = None
    entry_deg: float | None = None
    transfer_deg: float | None = None
    exit_deg: float | None = None
    motion_law: MotionLaw | None = None
    rapiers: Rapiers | None = None
    picks_per_insertion: int | None = None
    overrun_cm: float | None = None
    transfer_travel_cm: float | None = None
    carrier_length_cm: float | None = None
    launch_length_cm: float | None = None
    stopping_length_cm: float | None = None
    extra_weft_cm: float | None = None
    free_weft_length_m: float | None = None
    base_tension_cn_per_tex: float | None = None
    withdrawal_factor: float | None = None
    friction_coefficient: float | None = None
    wrap_deg: float | None = None
    initial_modulus_times: float | None = None
    max_feeder_speed_m_per_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shedding:
    """Shedding motion and what it carries.

    Attributes:
        shafts: Heald shafts (cam, dobby).
        max_repeat_picks: Longest lift repeat of a cam motion.
        max_pattern_picks: Longest lift plan of a dobby or design of a Jacquard.
        max_speed_picks_per_min: Greatest speed of the shedding motion.
        max_healds_per_cm_per_shaft: Crowding limit of the healds.
        max_healds_per_shaft: Healds that fit on one shaft.
        hooks: Hooks of the Jacquard that lift ends of the ground.
        ends_per_hook: Ends tied to each hook; repeats of the harness across the width.
        harness_ends_per_cm: Density to which the harness is tied, in the reed.
        selvedge_hooks: Further hooks kept for the selvedges.
        cord_cm: Height of the hooks above the comber board.
        hook_lift_cm: How high the hooks are lifted.
        tie: How the ends are tied to the hooks, from the left, in place of ``ends_per_hook``.
    """

    kind: SheddingKind
    shafts: int | None = None
    max_repeat_picks: int | None = None
    max_pattern_picks: int | None = None
    max_speed_picks_per_min: float | None = None
    max_healds_per_cm_per_shaft: float | None = None
    max_healds_per_shaft: int | None = None
    hooks: int | None = None
    ends_per_hook: int | None = None
    harness_ends_per_cm: float | None = None
    selvedge_hooks: int | None = None
    cord_cm: float | None = None
    hook_lift_cm: float | None = None
    tie: tuple[TieSection, ...] = ()


class BeamArrangement(StrEnum):
    """How the warp beams of a loom are arranged.

    Beams abreast hold the ends of a wide warp side by side and are let off at one speed; stacked
    beams lie one above the other, each with a let-off of its own.
    """

    ONE = "one"
    ABREAST = "abreast"
    STACKED = "stacked"


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpBeam:
    """The weaver's beam.

    Attributes:
        flange_diameter_cm: Diameter of the flanges.
        barrel_diameter_cm: Diameter of the bare barrel.
        width_cm: Distance between the flanges of one beam; if not given the reed width, which
            beams abreast share.
        count: Beams that the loom takes.
        arrangement: How they are arranged.
        density_g_per_cm3: Density of the yarn wound on the beam; by the kind of yarn if not given.
    """

    flange_diameter_cm: float | None = None
    barrel_diameter_cm: float | None = None
    width_cm: float | None = None
    count: int | None = None
    arrangement: BeamArrangement | None = None
    density_g_per_cm3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpStrain:
    """The strain of an end at every pick.

    Attributes:
        base_tension_cn_per_tex: Tension of the warp with the shed closed.
        base_tension_pct: The same as a share of the breaking load of the end, in its place.
        shed_half_height_cm: Travel of the farthest heald eye from the warp line.
        easing_pct: Share of the shed's detour that the back rest gives back.
    """

    base_tension_cn_per_tex: float | None = None
    base_tension_pct: float | None = None
    shed_half_height_cm: float | None = None
    easing_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """How the loom runs: an efficiency, or the stop rates from which it is computed.

    Attributes:
        looms_per_weaver: Looms of one weaver.
        looms_per_set: Or looms that several weavers mind together.
        weavers: Weavers to that set.
        hours_per_day: The mill's calendar.
    """

    efficiency_pct: float | None = None
    warp_stops_per_100k_picks: float | None = None
    weft_stops_per_100k_picks: float | None = None
    minutes_per_warp_stop: float | None = None
    minutes_per_weft_stop: float | None = None
    looms_per_weaver: int | None = None
    looms_per_set: int | None = None
    weavers: int | None = None
    hours_per_day: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One point of a loom's speed curve."""

    reed_width_cm: float
    picks_per_min: float


@record(kw_only=True)
class Loom:
    """A loom as stated. Two looms are equal when they can do the same, whatever they are called.

    Attributes:
        description: In words; never part of a computation.
        boxes: Shuttle boxes on the two sides of a shuttle loom.
        changeover_rates: The mill's own rates of changing a style, by their names in
            :class:`weavability.looms.changeover_rates.ChangeoverRates`.
        power_kw: Mean power while it weaves; like all that follows no part of what it can do.
        air_m3_per_h: Free air while it weaves.
        loom_hour: Price of an hour, or else its capital cost from what follows.
        price: Price of the loom.
        interest_pct: Interest a year.
        life_years: Years over which it is paid back.
        hours_per_year: Hours a year for which it is occupied.
    """

    loom_id: str | None = field(default=None, compare=False)
    description: str | None = field(default=None, compare=False)
    insertion: Insertion
    reed_width_cm: float
    min_reed_width_cm: float | None = None
    max_speed_picks_per_min: float
    speed_curve: tuple[CurvePoint, ...] = ()
    shedding: Shedding
    weft_selectors: int | None = None
    boxes: tuple[int, int] | None = None
    picks_per_cm: Band = field(default_factory=Band)
    weft_tex: Band = field(default_factory=Band)
    warp_beam: WarpBeam = field(default_factory=WarpBeam)
    warp_strain: WarpStrain = field(default_factory=WarpStrain)
    cloth_roll_diameter_cm: float | None = None
    cloth_tube_diameter_cm: float | None = None
    max_tightness_pct: float | None = None
    reeds_in_stock_dents_per_10cm: tuple[float, ...] = ()
    running: Running = field(default_factory=Running)
    changeover_rates: tuple[tuple[str, float], ...] = ()
    power_kw: float | None = field(default=None, compare=False)
    air_m3_per_h: float | None = field(default=None, compare=False)
    loom_hour: float | None = field(default=None, compare=False, repr=False)
    price: float | None = field(default=None, compare=False, repr=False)
    interest_pct: float | None = field(default=None, compare=False, repr=False)
    life_years: float | None = field(default=None, compare=False, repr=False)
    hours_per_year: float | None = field(default=None, compare=False, repr=False)
