"""The report: what one validation answers. Plain data, in the order in which it is written out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from weavability.answers.costs_section import Costs, EnergyUse
from weavability.answers.decisive_section import DecisiveAssumption, TurningCorner
from weavability.answers.design_section import DesignSection
from weavability.answers.field_words import (
    AssumedValues,
    CanonicalDesignation,
    CautionText,
    DecidingLimit,
    DraftName,
    FinishedPanelWidth,
    GreyPanelWidth,
    GreyPicks,
    HandOvers,
    HooksCastOut,
    HooksUsed,
    HoursForOrder,
    InsertedWeft,
    InsertionRateLimit,
    InsertionRateUse,
    InsertionTime,
    LinearDensity,
    LoomName,
    MeanInsertionSpeed,
    OrderReference,
    OutputPerHour,
    PeakInsertionSpeed,
    PeakWeftTension,
    ReedToUse,
    ReedWidthInUse,
    ReedWidthUse,
    RulesetDigest,
    RunningSpeed,
    ShaftsUsed,
    SpeedLimits,
    TotalEnds,
    Unit,
    WeftsToInsert,
    WeftStrengthUse,
)
from weavability.answers.layer_summary import LayersSummary
from weavability.answers.order_chain import OrderChain
from weavability.answers.requirement_summary import RequirementSummary
from weavability.answers.tightest_square import TightestSquare
from weavability.checks.finding import Finding, Verdict
from weavability.looms.denting_facts import WholeWarp
from weavability.looms.interference import EfficiencyFacts, OrderStops
from weavability.looms.loom import BeamArrangement
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.field_marks import Since
from weavability.textiles.order_lengths import USUAL_LENGTH
from weavability.textiles.records import record


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Findings by severity."""

    errors: Annotated[int, "Findings that mean: cannot or must not run"]
    warnings: Annotated[int, "Findings that mean: runs, but expect this"]
    notes: Annotated[int, "Findings that are worth knowing"]


@record(kw_only=True)
class Rates:
    """How fast this cloth runs on this loom, and what limits it."""

    speed_picks_per_min: RunningSpeed
    limited_by: DecidingLimit
    speed_limits_picks_per_min: SpeedLimits
    insertion_rate_m_per_min: InsertedWeft
    insertion_rate_limit_m_per_min: InsertionRateLimit
    insertion_rate_use_pct: InsertionRateUse
    insertion_time_ms: InsertionTime
    mean_insertion_speed_m_per_s: MeanInsertionSpeed
    peak_insertion_speed_m_per_s: PeakInsertionSpeed
    hand_overs_per_min: HandOvers
    peak_weft_tension_cn: PeakWeftTension
    weft_strength_use_pct: WeftStrengthUse
    feeder_speed_m_per_min: Annotated[float, "Speed at which one weft feeder winds"]
    efficiency_pct: Annotated[float, "Share of the time that the loom runs"]
    stops: Annotated[
        EfficiencyFacts | None, "How the efficiency is made up, if the loom states stop rates"
    ]
    output_m_per_h: OutputPerHour
    output_m2_per_h: OutputPerHour
    hours_for_order: HoursForOrder
    days_for_order: Annotated[
        float | None, "Days for the order, by the mill's hours a day", Unit("d")
    ]
    efficiency_pct_band: Annotated[
        ValueBand | None,
        "Between which values the efficiency is expected, as far as it rests on assumed stops, "
        "minutes or efficiency; null if all of these are stated",
        Unit("%"),
        Since("0.2"),
    ]
    hours_for_order_band: Annotated[
        ValueBand | None,
        "The same of the hours; null if no length is ordered either. How the stops of one order "
        "scatter comes on top: `stops_for_order`",
        Unit("h"),
        Since("0.2"),
    ]
    stops_for_order: Annotated[
        OrderStops | None,
        "The stops of the order, how far they scatter, and what one more costs; null if the loom "
        "states no stop rates or the order no length",
        Since("0.2"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamOnLoom:
    """A warp beam that is on the loom while the cloth is woven."""

    beam: Annotated[int, "Its number, from 1"]
    warps: Annotated[tuple[str, ...], "Names of the groups of ends on it"]
    ends: Annotated[int, "Ends on it"]
    width_cm: Annotated[float, "Distance between its flanges"]
    ends_per_cm: Annotated[float, "Ends on it per cm between the flanges"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SelvedgeSetup:
    """The setting-up data of each selvedge."""

    ends_per_side: Annotated[int, "Extra ends at each side of each panel"]
    ends_per_dent: Annotated[int | None, "Ends in a dent; null without selvedge ends"]
    dents_per_side: Annotated[int, "Dents of one selvedge"]
    width_cm: Annotated[float, "Width of one selvedge in the reed"]
    ends_per_cm_in_reed: Annotated[float | None, "Sett in the reed; null without selvedge ends"]
    tightness_pct: Annotated[
        float | None,
        "How near the selvedge is to jamming at its own sett; null if its weave is not stated",
    ]
    yarn: Annotated[str, "Key of its warp yarn, also that of leno and catch cords"]
    weave: Annotated[str | None, "Its own weave in words; null if it weaves as the ground"]
    rows: Annotated[
        tuple[str, ...] | None, "That weave, one string a pick, first pick first, `1` = raised"
    ]
    own_shafts: Annotated[int, "Shafts, or hooks, that only selvedge ends are drawn on"]
    lift_repeat_picks: Annotated[int, "Picks after which ground and selvedge repeat together"]
    leno_ends_per_side: Annotated[int, "Ends of the leno at each side of each panel"]
    catch_cord_ends: Annotated[int, "Ends of the catch cords of the loom, which are cut off"]


@record(kw_only=True)
class Setup:
    """The setting-up data."""

    total_ends: TotalEnds
    selvedge_ends: Annotated[int, "Extra ends of all selvedges"]
    panels: Annotated[int, "Panels woven side by side"]
    reed_width_cm: ReedWidthInUse
    reed_width_use_pct: ReedWidthUse
    reed_dents_per_10cm: ReedToUse
    reed_counts: Annotated[
        dict[str, float], "The same reed in every counting system, by the system's name"
    ]
    ends_per_dent: Annotated[float, "Ground ends in a dent; the mean of an uneven denting"]
    dents: Annotated[int, "Dents filled, selvedges included"]
    filled_width_cm: Annotated[
        float,
        "Width of these dents in the reed to use, which a reed in stock makes wider or narrower "
        "than `reed_width_cm`",
        Since("0.2"),
    ]
    first_dent_cm: Annotated[
        float | None,
        "From each end of the loom's reed to the first filled dent; null if they do not fit",
        Since("0.2"),
    ]
    selvedge_dents_per_side: Annotated[int, "Dents of each selvedge"]
    ends_per_cm_in_reed: Annotated[
        float,
        "Ends of the ground over the ordered width in the reed; in their dents they are closer by "
        "what selvedges in that width take",
    ]
    wire_share_pct: Annotated[float, "Share of the reed's pitch that its wires take", Since("0.2")]
    gap_fill_pct: Annotated[
        float,
        "Ends of the fullest dent, side by side, as a share of the clear gap between two wires",
        Since("0.2"),
    ]
    whole_dents: Annotated[
        WholeWarp, "The ends nearest to those ordered that fill their dents", Since("0.2")
    ]
    whole_repeats: Annotated[
        WholeWarp | None,
        "The ends nearest to those ordered that make whole repeats of weave, colours and denting "
        "together; null if the cloth is narrower than one",
        Since("0.2"),
    ]
    picks_per_cm_on_loom: Annotated[float, "Picks to set on the take-up, under the loom's tension"]
    shafts_needed: Annotated[int | None, "Fewest shafts that the weave needs; null on a Jacquard"]
    shafts_used: ShaftsUsed
    draft: DraftName
    threading: Annotated[
        tuple[int, ...] | None,
        "Shaft of every end of the drawing-in repeat (1-based); null on a Jacquard",
    ]
    lift_plan: Annotated[
        tuple[str, ...] | None,
        "One string a pick, first pick first, one character a shaft, `1` = raised",
    ]
    lift_plan_picks: Annotated[int, "Picks of the lift plan"]
    healds_per_shaft: Annotated[tuple[int, ...] | None, "Healds on each shaft over the whole width"]
    healds_per_cm_per_shaft: Annotated[float | None, "Healds on the fullest shaft"]
    hooks_used: HooksUsed
    hooks_idle: HooksCastOut
    ends_per_hook: Annotated[int | None, "Ends tied to each hook; null without a Jacquard"]
    weave_repeats_across: Annotated[float, "Repeats of the weave over the width"]
    weft_selectors_used: WeftsToInsert
    selvedge: Annotated[SelvedgeSetup, "The selvedges, leno and catch cords", Since("0.2")]
    beam_arrangement: Annotated[
        BeamArrangement, "How the loom's warp beams are arranged", Since("0.2")
    ]
    beams: Annotated[
        tuple[BeamOnLoom, ...],
        "The warp beams on the loom; empty if it has too few let-offs for the order",
        Since("0.2"),
    ]


@record(kw_only=True)
class ClothSummary:
    """What the cloth is, in its grey state unless a name says otherwise."""

    weave: Annotated[str, "The weave in words"]
    repeat_ends: Annotated[int, "Ends of the weave's true repeat"]
    repeat_picks: Annotated[int, "Picks of the weave's true repeat"]
    ends_per_cm: Annotated[float, "Ends in the grey cloth"]
    picks_per_cm: GreyPicks
    grey_width_cm: GreyPanelWidth
    finished_width_cm: FinishedPanelWidth
    warp_tex: Annotated[float, "Mean linear density of the warp"]
    weft_tex: Annotated[float, "Mean linear density of the weft"]
    warp_diameter_mm: Annotated[float, "Mean diameter of the warp yarn"]
    weft_diameter_mm: Annotated[float, "Mean diameter of the weft yarn"]
    warp_cover_factor: Annotated[
        float, "Cover factor of the warp, SI form", Unit("threads/cm × √tex ÷ 10")
    ]
    weft_cover_factor: Annotated[
        float, "Cover factor of the weft, SI form", Unit("threads/cm × √tex ÷ 10")
    ]
    cloth_cover_factor: Annotated[
        float, "Cover factor of the cloth, SI form", Unit("threads/cm × √tex ÷ 10")
    ]
    warp_cover_factor_cotton: Annotated[
        float, "Cover factor of the warp, cotton form", Unit("threads/in ÷ √Ne")
    ]
    weft_cover_factor_cotton: Annotated[
        float, "Cover factor of the weft, cotton form", Unit("threads/in ÷ √Ne")
    ]
    cloth_cover_factor_cotton: Annotated[
        float, "Cover factor of the cloth, cotton form", Unit("threads/in ÷ √Ne")
    ]
    warp_crimp_pct: Annotated[
        float,
        "Crimp of the warp on the length of the cloth, mean over its ends; those of beams that "
        "state a pile ratio are left out",
    ]
    weft_crimp_pct: Annotated[float, "Crimp of the weft on the width of the cloth"]
    warp_contraction_pct: Annotated[
        float, "Contraction of the warp on the length of the yarn", Since("0.2")
    ]
    weft_contraction_pct: Annotated[
        float, "Contraction of the weft on the length of the yarn", Since("0.2")
    ]
    mass_g_per_m2: Annotated[float, "Mass of the grey cloth"]
    finished_mass_g_per_m2: Annotated[float, "Mass of the finished cloth"]
    thickness_mm: Annotated[float, "Thickness of the grey cloth, by which rolls are wound"]
    fibre_volume_pct: Annotated[
        float,
        "Share of the volume of the grey cloth that is fibre, by that thickness; the rest is its "
        "porosity",
        Since("0.2"),
    ]
    tightness_pct: Annotated[
        float,
        "How near the cloth is to jamming where its threads are closest: 100 is the jammed cloth; "
        "of layers, each is set against itself",
    ]
    mean_tightness_pct: Annotated[
        float,
        "The same by the mean floats and setts of the whole cloth, or of the tightest layer",
        Since("0.2"),
    ]
    tightest_square: Annotated[
        TightestSquare | None,
        "Where the threads are closest; null if the weave repeats within 16 x 16 threads and is "
        "set evenly, so that it is judged as a whole, and of layers, each of which has its own",
        Since("0.2"),
    ]
    ends_setting_use_pct: Annotated[
        float, "Ends as a share of the most that ends-plus-intersections allows"
    ]
    picks_setting_use_pct: Annotated[
        float, "Picks as a share of the most that ends-plus-intersections allows"
    ]
    brierley_square_sett_per_cm: Annotated[
        float | None,
        "Greatest square sett by Brierley's rule, of the mean count; null for other cloth than "
        "cotton in plain and regular twill",
        Unit("threads/cm"),
        Since("0.2"),
    ]
    brierley_setting_use_pct: Annotated[
        float | None,
        "Geometric mean of both setts as a share of Brierley's square sett; null likewise",
        Since("0.2"),
    ]
    setting_disagreement: Annotated[
        str | None,
        "Which of these rules and the jam find the cloth too close, and which do not; null if "
        "they agree",
        Since("0.2"),
    ]
    longest_warp_float_picks: Annotated[int, "Longest float of an end"]
    longest_weft_float_ends: Annotated[int, "Longest float of a pick"]
    longest_float_mm: Annotated[
        float,
        "Longest float in the cloth; what figuring wefts do behind a design is in `design.wefts`",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothState:
    """The cloth in one of its states."""

    ends_per_cm: Annotated[float, "Ends per centimetre"]
    picks_per_cm: Annotated[float, "Picks per centimetre"]
    width_cm: Annotated[
        float, "Width of a panel, without what `selvedge.wide` finds beside the ordered width"
    ]
    length_m: Annotated[
        float, f"Length of all panels; from {USUAL_LENGTH} of grey cloth if none is ordered"
    ]
    mass_g_per_m2: Annotated[float, "Mass of the cloth, without size"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothStates:
    """The cloth in the loom, grey and finished, whichever of them the order states."""

    loom_state: Annotated[ClothState, "In the reed and under the tension of the take-up"]
    grey: Annotated[ClothState, "Off the loom, relaxed, unfinished"]
    finished: Annotated[ClothState, "After finishing"]


@record(kw_only=True)
class YarnUse:
    """Yarn of one colour for the order, waste included; for the usual length if none is ordered."""

    yarn: Annotated[str, "`warp`, `weft`, `leno` or `catch cord`, and the yarn's key"]
    designation: CanonicalDesignation
    colour: Annotated[str | None, "Colour as given"]
    linear_density_tex: LinearDensity
    threads: Annotated[int | None, "Ends of this yarn over the width; null in the weft"]
    crimp_pct: Annotated[float, "Crimp of this yarn on the length of the cloth", Since("0.2")]
    contraction_pct: Annotated[float, "Contraction of this yarn on its own length", Since("0.2")]
    waste_pct: Annotated[float, "Waste that is included, on the yarn woven", Since("0.2")]
    length_km: Annotated[
        float, f"Yarn needed, waste included; for {USUAL_LENGTH} of cloth if no length is ordered"
    ]
    mass_kg: Annotated[float, "Mass of that yarn"]

    @property
    def system(self) -> str:
        """Of what it is a yarn: ``warp``, ``weft``, ``leno`` or ``catch cord``."""
        return self.yarn.rpartition(" ")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpGroupSummary:
    """The warp of a group of ends with a beam of its own."""

    name: Annotated[str, "Its name"]
    yarns: Annotated[tuple[str, ...], "Keys of its yarns"]
    pile_ratio: Annotated[
        float | None, "Yarn length per cloth length; null for ends without pile", Unit("m/m")
    ]
    take_up: Annotated[float, "Warp length per length of cloth on the loom", Unit("m/m")]
    ends: Annotated[int, "Its ends; those of selvedges belong to the group of their yarn"]
    length_m: Annotated[float, "Warp needed, loom waste included"]
    mass_kg: Annotated[float, "Mass of that warp, its size included"]
    size_kg: Annotated[float, "Mass of the size on it"]
    density_g_per_cm3: Annotated[float, "Density of its yarn wound on the beam"]
    beam_capacity_m: Annotated[
        float,
        "Warp that its beam holds; groups of the same take-up share one if the loom has no "
        "let-off for each",
    ]
    beams_needed: Annotated[int, "Beams, or sets of beams abreast, one after the other"]
    cloth_per_beam_m: Annotated[float, "Cloth from a full beam"]
    days_between_beams: Annotated[float, "Days that a full beam lasts", Unit("d")]
    knots: Annotated[int, "Knots of its tyings-in, the first too"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpSummary:
    """The warp: its length and beams, and the tension of its weakest ends in the shed."""

    length_m: Annotated[
        float,
        f"Warp needed, loom waste included; for {USUAL_LENGTH} of cloth if no length is ordered. "
        "Of the ends without pile, the longest; beams has every group of ends",
    ]
    mass_kg: Annotated[float, "Mass of the warp, that of pile and its size included"]
    size_kg: Annotated[float, "Mass of the size on it", Since("0.2")]
    beam_capacity_m: Annotated[
        float, "Warp that one filling of the beams holds; the least of the groups without pile"
    ]
    beams_needed: Annotated[
        int,
        "Beams, or sets of beams abreast, one after the other; the most of the groups without pile",
    ]
    knots: Annotated[int, "Knots of all tyings-in, the first warp too"]
    cloth_roll_capacity_m: Annotated[float, "Cloth that one roll holds"]
    doffs: Annotated[
        int, "Cloth rolls taken off; of an order in pieces, of whole pieces if a roll holds one"
    ]
    days_between_warps: Annotated[
        float, "Days that a full beam lasts; of several groups of ends, the first empty", Unit("d")
    ]
    peak_tension_cn: Annotated[float, "Greatest tension of an end in the shed"]
    strength_use_pct: Annotated[
        float, "Peak tension as a share of the strength of the end's weakest place"
    ]
    beams: Annotated[
        tuple[WarpGroupSummary, ...],
        "The warp of every group of ends with a beam of its own; empty if the order states none",
        Since("0.2"),
    ]


@record(kw_only=True)
class Report:
    """The answer to one validation."""

    ruleset: RulesetDigest
    reference: OrderReference
    loom_id: LoomName
    verdict: Annotated[Verdict, "The answer in a word"]
    verdict_note: Annotated[
        str | None,
        "Which stated values would decide, if the verdict rests on what is only assumed; null if "
        "it does not",
        Since("0.2"),
    ]
    verdict_holds: Annotated[
        bool | None,
        "Whether no assumed value turns the verdict inside its band, neither alone nor with all "
        "others at the ends that make things worse; null unless `decisive_assumptions` are "
        "requested",
        Since("0.2"),
    ]
    verdict_holds_note: Annotated[
        str | None,
        "Why the verdict does not hold; null if it does, or unless that is requested",
        Since("0.2"),
    ]
    decisive_assumptions: Annotated[
        tuple[DecisiveAssumption, ...] | None,
        "The assumed values that turn the verdict inside their bands, one at a time, those of the "
        "gravest verdict first; null unless they are requested in `options`",
        Since("0.2"),
    ]
    reed_note: Annotated[
        str | None,
        "With which assumed values no reed in stock serves, in a sentence: those of which "
        "`is_of_stock` is true; null if with none, or unless that is requested",
        Since("0.2"),
    ]
    turning_corner: Annotated[
        TurningCorner | None,
        "Assumed values that turn the verdict together; null if one alone turns it as far and no "
        "requirement is in doubt, if none do, or if they are not requested",
        Since("0.2"),
    ]
    counts: Annotated[Counts, "Findings by severity"]
    findings: Annotated[tuple[Finding, ...], "Every finding, by subject"]
    rates: Annotated[Rates, "How fast the cloth runs on this loom, and what limits it"]
    setup: Annotated[Setup, "How the loom is set up for it"]
    cloth: Annotated[ClothSummary, "What the cloth is"]
    states: Annotated[ClothStates, "The cloth in the loom, grey and finished", Since("0.2")]
    layers: Annotated[
        LayersSummary | None,
        "The layers of the cloth, each set against itself; null if the order declares none",
        Since("0.2"),
    ]
    design: Annotated[
        DesignSection | None,
        "The figured design as the loom weaves it; null if the weave is no design",
        Since("0.2"),
    ]
    order: Annotated[
        OrderChain, "The lengths of the order, from finished cloth to the beam", Since("0.2")
    ]
    requirements: Annotated[
        tuple[RequirementSummary, ...],
        "What the customer requires of the finished cloth, with what is computed of it",
        Since("0.2"),
    ]
    yarn: Annotated[tuple[YarnUse, ...], "Yarn that the order takes, a line a yarn"]
    warp: Annotated[WarpSummary, "The warp: length and beams"]
    energy: Annotated[
        EnergyUse | None,
        "Energy and compressed air; null if the loom states neither its power nor its air",
        Since("0.2"),
    ]
    costs: Annotated[
        Costs | None,
        "What the order costs, as far as it is priced; null if the request states no prices, as in "
        "every report that is had from a link",
        Since("0.2"),
    ]
    assumptions: AssumedValues
    caution: CautionText
