"""The report: what one validation answers. Plain data, in the order in which it is written out."""

from __future__ import annotations

from dataclasses import dataclass

from weavability.checks.finding import Finding, Verdict
from weavability.looms.interference import EfficiencyFacts
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.assumptions import Assumption


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Findings by severity."""

    errors: int
    warnings: int
    notes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """How fast this cloth runs on this loom, and what limits it.

    Attributes:
        stops: How the efficiency came about, where the loom states stop rates.
        days_for_order: In days of the mill's calendar.
    """

    speed_picks_per_min: float
    limited_by: SpeedLimitName
    speed_limits_picks_per_min: dict[str, float]
    insertion_rate_m_per_min: float
    insertion_rate_limit_m_per_min: float
    insertion_rate_use_pct: float
    insertion_time_ms: float
    mean_insertion_speed_m_per_s: float
    peak_insertion_speed_m_per_s: float
    hand_overs_per_min: float | None
    peak_weft_tension_cn: float
    weft_strength_use_pct: float
    feeder_speed_m_per_min: float
    efficiency_pct: float
    stops: EfficiencyFacts | None
    output_m_per_h: float
    output_m2_per_h: float
    hours_for_order: float | None
    days_for_order: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """The setting-up data.

    Attributes:
        threading: Shaft of every end of the drawing-in repeat (1-based); ``None`` on a Jacquard.
        lift_plan: One string a pick, first pick first, one character a shaft, ``1`` = raised.
        lift_plan_picks: Picks of the lift plan (also where the plan itself is too long to print).
        reed_counts: The same reed in every counting system, by the system's name.
        ends_per_dent: Ground ends in a dent; the mean of an uneven denting.
        dents: Dents filled, selvedges included.
    """

    total_ends: int
    selvedge_ends: int
    panels: int
    reed_width_cm: float
    reed_width_use_pct: float
    reed_dents_per_10cm: float
    reed_counts: dict[str, float]
    ends_per_dent: float
    dents: int
    selvedge_dents_per_side: int
    ends_per_cm_in_reed: float
    picks_per_cm_on_loom: float
    shafts_needed: int | None
    shafts_used: int | None
    draft: str | None
    threading: tuple[int, ...] | None
    lift_plan: tuple[str, ...] | None
    lift_plan_picks: int
    healds_per_shaft: tuple[int, ...] | None
    healds_per_cm_per_shaft: float | None
    hooks_used: int | None
    hooks_idle: int | None
    ends_per_hook: int | None
    weave_repeats_across: float
    weft_selectors_used: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothSummary:
    """What the cloth is, in its grey state unless a name says otherwise."""

    weave: str
    repeat_ends: int
    repeat_picks: int
    ends_per_cm: float
    picks_per_cm: float
    grey_width_cm: float
    finished_width_cm: float
    warp_tex: float
    weft_tex: float
    warp_diameter_mm: float
    weft_diameter_mm: float
    warp_cover_factor: float
    weft_cover_factor: float
    cloth_cover_factor: float
    warp_cover_factor_cotton: float
    weft_cover_factor_cotton: float
    cloth_cover_factor_cotton: float
    warp_crimp_pct: float
    weft_crimp_pct: float
    mass_g_per_m2: float
    finished_mass_g_per_m2: float
    thickness_mm: float
    tightness_pct: float
    ends_setting_use_pct: float
    picks_setting_use_pct: float
    longest_warp_float_picks: int
    longest_weft_float_ends: int
    longest_float_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnUse:
    """Yarn of one colour for the order, waste included; for 1000 m where none is ordered."""

    yarn: str
    designation: str | None
    colour: str | None
    linear_density_tex: float
    threads: int | None
    length_km: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpSummary:
    """The warp: how long, how many beams, and what the shed asks of its weakest ends.

    Attributes:
        length_m: For the order, loom waste included; for 1000 m of cloth where none is ordered.
        beams_needed: Beams, or sets of beams abreast, one after the other.
        knots: Knots of all tyings-in, the first warp too.
        doffs: Cloth rolls taken off.
        days_between_warps: Days that a full beam lasts.
    """

    length_m: float
    mass_kg: float
    beam_capacity_m: float
    beams_needed: int
    knots: int
    cloth_roll_capacity_m: float
    doffs: int
    days_between_warps: float
    peak_tension_cn: float
    strength_use_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The answer to one validation."""

    validation_id: str
    ruleset: str
    reference: str | None
    loom_id: str | None
    verdict: Verdict
    counts: Counts
    findings: tuple[Finding, ...]
    rates: Rates
    setup: Setup
    cloth: ClothSummary
    yarn: tuple[YarnUse, ...]
    warp: WarpSummary
    assumptions: tuple[Assumption, ...]
    links: dict[str, str | None]
    caution: str
