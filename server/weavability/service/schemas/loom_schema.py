"""The loom as JSON, in a request and in a park file alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any, ClassVar, Final

from weavability.answers.caution import SHORT_CAUTION
from weavability.looms.carriers import InsertionSystem, Rapiers
from weavability.looms.harness_tie import MOST_SECTIONS, TieOrder, TiePoint, TieSection
from weavability.looms.loom import (
    Band,
    BeamArrangement,
    CurvePoint,
    Insertion,
    Loom,
    Running,
    Shedding,
    SheddingKind,
    WarpBeam,
    WarpStrain,
)
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.loom_hour import loom_hour_faults
from weavability.looms.loom_limits import CREW, STOP_RATES, resolve_loom
from weavability.looms.motion_laws import MotionLaw
from weavability.service.schemas.base import Body, Part, Recurring, ascending, at_most_one, without
from weavability.service.schemas.fields import Choice, Items, Number, ReadOnly, Text, WholeNumber
from weavability.textiles.errors import Fault, collecting

LOOM_ID: Final = r"[A-Za-z0-9][A-Za-z0-9._\-]{0,63}"
LOOM_ID_WORDS: Final = "letters, digits, dots, hyphens and underscores, a letter or digit first"
MOST_CURVE_POINTS: Final = 64
MOST_REEDS: Final = 200


def loom_id_field(description: str, *, required: bool = False) -> Text:
    """Return the field of a loom's name; the name is used in addresses, hence the few signs."""
    return Text(
        description,
        example="rapier-190-dobby",
        longest=64,
        pattern=LOOM_ID,
        pattern_words=LOOM_ID_WORDS,
        required=required,
    )


class InsertionSchema(Body[Insertion]):
    """Weft insertion: the system, its limits and its motion."""

    title = "Insertion"
    makes = Insertion
    elsewhere: ClassVar[Mapping[str, str]] = {
        name: f" {name} is a field of the loom, beside insertion."
        for name in ("boxes", "weft_selectors", "weft_tex", "max_speed_picks_per_min")
    }

    system = Choice(
        InsertionSystem,
        "What carries the weft through the shed",
        example=InsertionSystem.RAPIER,
        required=True,
    )
    max_rate_m_per_min = Number(
        "Greatest weft insertion rate", LOOM_BOUNDS["/insertion/max_rate_m_per_min"], example=1_150
    )
    entry_deg = Number(
        "Crank angle at which carrier or weft enters the shed",
        LOOM_BOUNDS["/insertion/entry_deg"],
        example=70,
    )
    transfer_deg = Number(
        "Crank angle of the hand-over between two rapiers",
        LOOM_BOUNDS["/insertion/transfer_deg"],
        example=180,
    )
    exit_deg = Number(
        "Crank angle at which carrier or weft has left the shed",
        LOOM_BOUNDS["/insertion/exit_deg"],
        example=290,
    )
    motion_law = Choice(
        MotionLaw, "Law of the motion of rapier or needle", example=MotionLaw.MODIFIED_SINE
    )
    picks_per_insertion = WholeNumber(
        "Picks that one turn of the crank inserts: 2 of a needle, or of a loom that inserts two "
        "wefts at once; speeds and picks/cm count every pick",
        LOOM_BOUNDS["/insertion/picks_per_insertion"],
        example=1,
    )
    rapiers = Choice(
        Rapiers,
        "A pair of rapiers that hand over the weft, or a single one",
        example=Rapiers.DOUBLE,
    )
    overrun_cm = Number(
        "Travel of each rapier outside the reed width in use",
        LOOM_BOUNDS["/insertion/overrun_cm"],
        example=8,
    )
    transfer_travel_cm = Number(
        "Travel of the taker from its turning point until it draws the weft",
        LOOM_BOUNDS["/insertion/transfer_travel_cm"],
        example=1,
    )
    carrier_length_cm = Number(
        "Length of a shuttle or projectile", LOOM_BOUNDS["/insertion/carrier_length_cm"], example=9
    )
    launch_length_cm = Number(
        "Distance over which a shuttle or projectile is accelerated",
        LOOM_BOUNDS["/insertion/launch_length_cm"],
        example=6,
    )
    stopping_length_cm = Number(
        "Length of weft inserted while it is braked to rest",
        LOOM_BOUNDS["/insertion/stopping_length_cm"],
        example=10,
    )
    extra_weft_cm = Number(
        "Weft used beyond the reed width at each pick",
        LOOM_BOUNDS["/insertion/extra_weft_cm"],
        example=12,
    )
    free_weft_length_m = Number(
        "Length of weft between feeder and carrier that is accelerated",
        LOOM_BOUNDS["/insertion/free_weft_length_m"],
        example=1.2,
    )
    base_tension_cn_per_tex = Number(
        "Tension of the weft at rest, from feeder and brake",
        LOOM_BOUNDS["/insertion/base_tension_cn_per_tex"],
        example=0.5,
    )
    withdrawal_factor = Number(
        "Tension that withdrawal from the feeder adds, over linear density x speed squared; 1 for "
        "setting the yarn in motion, more with a balloon",
        LOOM_BOUNDS["/insertion/withdrawal_factor"],
        example=2,
    )
    friction_coefficient = Number(
        "Friction of the weft at brake, eyes and guides",
        LOOM_BOUNDS["/insertion/friction_coefficient"],
        example=0.2,
    )
    wrap_deg = Number(
        "Angle through which brake, eyes and guides turn the weft in all",
        LOOM_BOUNDS["/insertion/wrap_deg"],
        example=180,
    )
    initial_modulus_times = Number(
        "Initial modulus of a weft over its mean modulus up to the break, for a jerk",
        LOOM_BOUNDS["/insertion/initial_modulus_times"],
        example=3,
    )
    max_feeder_speed_m_per_min = Number(
        "Greatest speed of one weft feeder",
        LOOM_BOUNDS["/insertion/max_feeder_speed_m_per_min"],
        example=1_600,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Compare the angles that are good, if another field keeps the core from it."""
        if not self.all_good(values, given):
            yield from ascending(values, "entry_deg", "transfer_deg", "exit_deg")


_SHAFT_FIELDS: Final = ("shafts", "max_healds_per_cm_per_shaft", "max_healds_per_shaft")
_HOOK_FIELDS: Final = (
    *("hooks", "ends_per_hook", "harness_ends_per_cm", "selvedge_hooks"),
    *("cord_cm", "hook_lift_cm", "tie"),
)
_TIE: Final[list[object]] = [
    {"from_hook": 1, "hooks": 80, "order": "centred"},
    {"from_hook": 81, "hooks": 120, "times": 4},
    {"from_hook": 1, "hooks": 80, "order": "centred"},
]
_STRANGERS: Final[Mapping[SheddingKind, tuple[str, ...]]] = {
    SheddingKind.CAM: ("max_pattern_picks", *_HOOK_FIELDS),
    SheddingKind.DOBBY: ("max_repeat_picks", *_HOOK_FIELDS),
    SheddingKind.JACQUARD: ("max_repeat_picks", *_SHAFT_FIELDS),
}
_NEEDED: Final[Mapping[SheddingKind, str]] = {
    SheddingKind.CAM: "shafts",
    SheddingKind.DOBBY: "shafts",
    SheddingKind.JACQUARD: "hooks",
}
_MOTIONS: Final[Mapping[SheddingKind, str]] = {
    SheddingKind.CAM: "A cam motion",
    SheddingKind.DOBBY: "A dobby",
    SheddingKind.JACQUARD: "A Jacquard",
}


class TieSectionSchema(Body[TieSection]):
    """Neighbouring ends of a Jacquard whose hooks follow one another."""

    title = "TieSection"
    makes = TieSection

    from_hook = WholeNumber(
        "The first hook of the section, from 1",
        LOOM_BOUNDS["/shedding/tie/from_hook"],
        example=1,
        required=True,
    )
    hooks = WholeNumber(
        "Hooks of the section", LOOM_BOUNDS["/shedding/tie/hooks"], example=80, required=True
    )
    order = Choice(
        TieOrder,
        "From the first hook to the last, from the last to the first, or there and back; straight "
        "if not given",
        example=TieOrder.CENTRED,
    )
    times = WholeNumber(
        "How often the section is repeated side by side; once if not given",
        LOOM_BOUNDS["/shedding/tie/times"],
        example=4,
    )
    point = Choice(
        TiePoint,
        "Whether a centred section has one end on the hook at which it turns, or two; two if not "
        "given",
        example=TiePoint.DOUBLE,
    )


class SheddingSchema(Body[Shedding]):
    """The shedding motion: cam and dobby need shafts, a Jacquard needs hooks."""

    title = "Shedding"
    makes = Shedding

    kind = Choice(SheddingKind, "How the shed is made", example=SheddingKind.DOBBY, required=True)
    shafts = WholeNumber(
        "Heald shafts; needed for cam and dobby", LOOM_BOUNDS["/shedding/shafts"], example=20
    )
    max_repeat_picks = WholeNumber(
        "Longest lift repeat of a cam motion", LOOM_BOUNDS["/shedding/max_repeat_picks"], example=8
    )
    max_pattern_picks = WholeNumber(
        "Longest lift plan of a dobby, or design of a Jacquard",
        LOOM_BOUNDS["/shedding/max_pattern_picks"],
        example=6_400,
    )
    max_speed_picks_per_min = Number(
        "Greatest speed of the shedding motion",
        LOOM_BOUNDS["/shedding/max_speed_picks_per_min"],
        example=600,
    )
    max_healds_per_cm_per_shaft = Number(
        "Crowding limit of the healds",
        LOOM_BOUNDS["/shedding/max_healds_per_cm_per_shaft"],
        example=10,
    )
    max_healds_per_shaft = WholeNumber(
        "Healds that fit on one shaft", LOOM_BOUNDS["/shedding/max_healds_per_shaft"], example=1_800
    )
    hooks = WholeNumber(
        "Hooks that lift ends of the ground; needed for a Jacquard",
        LOOM_BOUNDS["/shedding/hooks"],
        example=2_688,
    )
    ends_per_hook = WholeNumber(
        "Ends tied to each hook: repeats of the harness across the width",
        LOOM_BOUNDS["/shedding/ends_per_hook"],
        example=4,
    )
    harness_ends_per_cm = Number(
        "Density to which the harness is tied, in the reed",
        LOOM_BOUNDS["/shedding/harness_ends_per_cm"],
        example=60,
    )
    selvedge_hooks = WholeNumber(
        "Further hooks kept for the selvedges", LOOM_BOUNDS["/shedding/selvedge_hooks"], example=32
    )
    cord_cm = Number(
        "Height of the hooks above the comber board; with the lift, what the slant of the "
        "outermost cords takes of it is judged",
        LOOM_BOUNDS["/shedding/cord_cm"],
        example=140,
    )
    hook_lift_cm = Number(
        "How high the hooks are lifted", LOOM_BOUNDS["/shedding/hook_lift_cm"], example=7
    )
    tie = Items(
        Part(TieSectionSchema(), "A section", required=True, example=_TIE[0]),
        "How the ends are tied to the hooks, section by section from the left, in place of "
        "ends_per_hook",
        fewest=1,
        most=MOST_SECTIONS,
        example=_TIE,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require what this kind of shedding needs; refuse what belongs to another kind."""
        if "kind" not in values:
            return
        kind: SheddingKind = values["kind"]
        needed = _NEEDED[kind]
        if needed not in given:
            yield Fault(f"/{needed}", f"{_MOTIONS[kind]} needs {needed}.")
        yield from without(_STRANGERS[kind], given, because=f"a {kind} motion has no such limit")
        if "tie" in given:
            because = "the tie says how many ends each hook has"
            yield from without(("ends_per_hook",), given, because=because)


class CurvePointSchema(Body[CurvePoint]):
    """One point of a loom's speed curve."""

    title = "SpeedCurvePoint"
    makes = CurvePoint

    reed_width_cm = Number(
        "Reed width in use", LOOM_BOUNDS["/speed_curve/reed_width_cm"], example=140, required=True
    )
    picks_per_min = Number(
        "Greatest speed at this width",
        LOOM_BOUNDS["/speed_curve/picks_per_min"],
        example=620,
        required=True,
    )


class _BandSchema(Body[Band]):
    """A closed range; either end may be left open."""

    makes = Band

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require at least one end of the range, and both in order."""
        if not given.keys() & {"min", "max"}:
            yield Fault("", "State min, max or both.")
        yield from ascending(values, "min", "max", strict=False)


class PicksBandSchema(_BandSchema):
    """Pick densities that the take-up allows."""

    title = "PicksPerCmRange"

    min = Number("Fewest picks", LOOM_BOUNDS["/picks_per_cm/min"], example=4)
    max = Number("Most picks", LOOM_BOUNDS["/picks_per_cm/max"], example=80)


class TexBandSchema(_BandSchema):
    """Linear densities of the weft that the insertion takes."""

    title = "WeftTexRange"

    min = Number("Finest weft", LOOM_BOUNDS["/weft_tex/min"], example=7)
    max = Number("Coarsest weft", LOOM_BOUNDS["/weft_tex/max"], example=500)


class WarpBeamSchema(Body[WarpBeam]):
    """The weaver's beam."""

    title = "WarpBeam"
    makes = WarpBeam

    flange_diameter_cm = Number(
        "Diameter of the flanges", LOOM_BOUNDS["/warp_beam/flange_diameter_cm"], example=100
    )
    barrel_diameter_cm = Number(
        "Diameter of the bare barrel", LOOM_BOUNDS["/warp_beam/barrel_diameter_cm"], example=20
    )
    width_cm = Number(
        "Distance between the flanges of one beam; if not given the reed width, which beams "
        "abreast share",
        LOOM_BOUNDS["/warp_beam/width_cm"],
        example=190,
    )
    count = WholeNumber("Beams that the loom takes", LOOM_BOUNDS["/warp_beam/count"], example=1)
    arrangement = Choice(
        BeamArrangement,
        "How they are arranged: abreast they share the ends of one warp and a let-off speed, "
        "stacked each has a let-off of its own",
        example=BeamArrangement.ONE,
    )
    density_g_per_cm3 = Number(
        "Density of the yarn wound on the beam",
        LOOM_BOUNDS["/warp_beam/density_g_per_cm3"],
        example=0.5,
    )

    def judge(self, values: Mapping[str, Any], _given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require flanges that are larger than the barrel."""
        yield from ascending(values, "barrel_diameter_cm", "flange_diameter_cm")


class WarpStrainSchema(Body[WarpStrain]):
    """What the loom does to an end at every pick."""

    title = "WarpStrain"
    makes = WarpStrain

    base_tension_cn_per_tex = Number(
        "Tension of the warp with the shed closed",
        LOOM_BOUNDS["/warp_strain/base_tension_cn_per_tex"],
        example=1,
    )
    base_tension_pct = Number(
        "Tension of the warp with the shed closed as a share of its breaking load, in place of "
        "base_tension_cn_per_tex",
        LOOM_BOUNDS["/warp_strain/base_tension_pct"],
        example=6,
    )
    shed_half_height_cm = Number(
        "Distance of the farthest heald eye from the warp line",
        LOOM_BOUNDS["/warp_strain/shed_half_height_cm"],
        example=5,
    )
    easing_pct = Number(
        "Share of the shed's detour that the back rest gives back",
        LOOM_BOUNDS["/warp_strain/easing_pct"],
        example=50,
    )

    def judge(self, _values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take the base tension in one form."""
        forms = ("base_tension_cn_per_tex", "base_tension_pct")
        yield from at_most_one(given, *forms, words="the base tension of the warp")


class ChangeoverRatesSchema(Body[tuple[tuple[str, float], ...]]):
    """The mill's own rates of changing a style; what is left out has a starting value."""

    title = "ChangeoverRates"

    minutes_per_weft = Number(
        "Time to change one weft", LOOM_BOUNDS["/changeover_rates/minutes_per_weft"], example=10
    )
    minutes_for_picks = Number(
        "Time to set another pick density and prove it",
        LOOM_BOUNDS["/changeover_rates/minutes_for_picks"],
        example=10,
    )
    minutes_for_design = Number(
        "Time to load another lift plan or design",
        LOOM_BOUNDS["/changeover_rates/minutes_for_design"],
        example=5,
    )
    hours_for_cams = Number(
        "Time to change the cams of a cam motion",
        LOOM_BOUNDS["/changeover_rates/hours_for_cams"],
        example=2,
    )
    minutes_for_width = Number(
        "Time to set temples and cutters to another width",
        LOOM_BOUNDS["/changeover_rates/minutes_for_width"],
        example=30,
    )
    knots_per_h = Number(
        "Rate of the tying machine, stops included",
        LOOM_BOUNDS["/changeover_rates/knots_per_h"],
        example=6_000,
    )
    tie_in_ends_per_h = Number(
        "Rate of all tying-in work that grows with the number of ends",
        LOOM_BOUNDS["/changeover_rates/tie_in_ends_per_h"],
        example=1_250,
    )
    tie_in_fixed_hours = Number(
        "Time to bring the beam and couple it",
        LOOM_BOUNDS["/changeover_rates/tie_in_fixed_hours"],
        example=0.25,
    )
    most_further_ends_pct = Number(
        "Most ends beyond those on the loom that are drawn in by hand so that a warp is tied in",
        LOOM_BOUNDS["/changeover_rates/most_further_ends_pct"],
        example=5,
    )
    hand_drawing_ends_per_h = Number(
        "Rate of drawing in or out on the loom by one person",
        LOOM_BOUNDS["/changeover_rates/hand_drawing_ends_per_h"],
        example=150,
    )
    reeding_ends_per_h = Number(
        "Rate of sleying into another reed on the loom",
        LOOM_BOUNDS["/changeover_rates/reeding_ends_per_h"],
        example=800,
    )
    reeding_fixed_hours = Number(
        "Time to take the reed out, fit the other and weave up",
        LOOM_BOUNDS["/changeover_rates/reeding_fixed_hours"],
        example=0.5,
    )
    drawing_in_ends_per_h = Number(
        "Rate of drawing in away from the loom by a pair of hands",
        LOOM_BOUNDS["/changeover_rates/drawing_in_ends_per_h"],
        example=1_000,
    )
    gaiting_hours = Number(
        "Time to take the old warp and harness off and gait up the new one",
        LOOM_BOUNDS["/changeover_rates/gaiting_hours"],
        example=6,
    )
    jacquard_threading_ends_per_h = Number(
        "Rate of threading through a harness on the loom",
        LOOM_BOUNDS["/changeover_rates/jacquard_threading_ends_per_h"],
        example=100,
    )
    harness_tie_ends_per_h = Number(
        "Rate of tying a new harness and levelling it",
        LOOM_BOUNDS["/changeover_rates/harness_tie_ends_per_h"],
        example=100,
    )
    harness_fixed_hours = Number(
        "Time to take the old harness down and hang the comber board",
        LOOM_BOUNDS["/changeover_rates/harness_fixed_hours"],
        example=8,
    )
    minutes_to_leave_ends_out = Number(
        "Time to cut the outer ends that the new warp lacks",
        LOOM_BOUNDS["/changeover_rates/minutes_to_leave_ends_out"],
        example=20,
    )

    def build(
        self, values: dict[str, Any], _given: Mapping[str, Any], /
    ) -> tuple[tuple[str, float], ...]:
        """Pair the rates with their names."""
        return tuple(sorted(values.items()))


class RunningSchema(Body[Running]):
    """How the loom runs: an efficiency, or stops and weavers, from which it is computed.

    One weaver minds `looms_per_weaver` looms, or several `weavers` mind `looms_per_set` together;
    stops and minutes that are left out are assumed.
    """

    title = "Running"
    makes = Running

    efficiency_pct = Number(
        "Share of the time that the loom runs; in place of stop rates",
        LOOM_BOUNDS["/running/efficiency_pct"],
        example=88,
    )
    warp_stops_per_100k_picks = Number(
        "Stops for the warp", LOOM_BOUNDS["/running/warp_stops_per_100k_picks"], example=3
    )
    weft_stops_per_100k_picks = Number(
        "Stops for the weft", LOOM_BOUNDS["/running/weft_stops_per_100k_picks"], example=2
    )
    minutes_per_warp_stop = Number(
        "Mean time to mend a warp stop", LOOM_BOUNDS["/running/minutes_per_warp_stop"], example=1.5
    )
    minutes_per_weft_stop = Number(
        "Mean time to mend a weft stop", LOOM_BOUNDS["/running/minutes_per_weft_stop"], example=0.7
    )
    looms_per_weaver = WholeNumber(
        "Looms that one weaver tends", LOOM_BOUNDS["/running/looms_per_weaver"], example=12
    )
    looms_per_set = WholeNumber(
        "Looms that several weavers tend together, in place of looms_per_weaver",
        LOOM_BOUNDS["/running/looms_per_set"],
        example=24,
    )
    weavers = WholeNumber(
        "Weavers to that set of looms", LOOM_BOUNDS["/running/weavers"], example=2
    )
    hours_per_day = Number(
        "Hours of the mill's day", LOOM_BOUNDS["/running/hours_per_day"], example=24
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take an efficiency, or stops with those who mend them; not both."""
        stops = (*STOP_RATES, *CREW)
        if "efficiency_pct" in given:
            yield from without(
                stops,
                given,
                because="the efficiency is given; either it or the stop rates",
            )
        elif "looms_per_weaver" in given:
            yield from without(
                ("looms_per_set", "weavers"),
                given,
                because="looms_per_weaver is given, which are the looms of one weaver",
            )
        elif given.keys() & {"looms_per_set", "weavers"}:
            for name in ("looms_per_set", "weavers"):
                if name not in given:
                    yield Fault(
                        f"/{name}",
                        f"{name} is missing: state looms_per_set and weavers together.",
                        None,
                        "looms_per_set and weavers",
                    )
            yield from ascending(values, "weavers", "looms_per_set", strict=False)
        elif given.keys() & set(stops):
            yield Fault(
                "/looms_per_weaver",
                "looms_per_weaver is missing: the efficiency is computed from stops and from who "
                "mends them.",
                None,
                "looms_per_weaver, or looms_per_set and weavers",
            )


class LoomSchema(Recurring[Loom]):
    """A loom: what it is and what it can do. Limits that are left out are assumed and listed."""

    title = "Loom"
    makes = Loom
    most_kept = 1_024

    loom_id = loom_id_field("Name of the loom in its park")
    description = Text(
        "Description of the loom in words", example="Rapier, 190 cm, dobby", longest=200
    )
    insertion = Part(
        InsertionSchema(), "Weft insertion", required=True, example={"system": "rapier"}
    )
    reed_width_cm = Number(
        "Greatest reed width", LOOM_BOUNDS["/reed_width_cm"], example=190, required=True
    )
    min_reed_width_cm = Number(
        "Smallest reed width at which it runs", LOOM_BOUNDS["/min_reed_width_cm"], example=120
    )
    max_speed_picks_per_min = Number(
        "Greatest speed of the loom",
        LOOM_BOUNDS["/max_speed_picks_per_min"],
        example=620,
        required=True,
    )
    speed_curve = Items(
        Part(
            CurvePointSchema(),
            "Point of the curve",
            required=True,
            example={"reed_width_cm": 140, "picks_per_min": 620},
        ),
        "Greatest speed by reed width in use, widths rising",
        most=MOST_CURVE_POINTS,
    )
    shedding = Part(
        SheddingSchema(),
        "The shedding motion",
        required=True,
        example={"kind": "dobby", "shafts": 20},
    )
    weft_selectors = WholeNumber(
        "Number of different wefts that it can insert", LOOM_BOUNDS["/weft_selectors"], example=8
    )
    boxes = Items(
        WholeNumber("Boxes of one side", LOOM_BOUNDS["/boxes"], example=1),
        "Shuttle boxes on the two sides of a shuttle loom",
        fewest=2,
        most=2,
        example=[1, 4],
    )
    picks_per_cm = Part(
        PicksBandSchema(), "Pick densities of the take-up [picks/cm]", example={"min": 4, "max": 80}
    )
    weft_tex = Part(
        TexBandSchema(), "Linear densities of the weft [tex]", example={"min": 7, "max": 500}
    )
    warp_beam = Part(
        WarpBeamSchema(),
        "The weaver's beam",
        example={"flange_diameter_cm": 100, "barrel_diameter_cm": 20},
    )
    warp_strain = Part(
        WarpStrainSchema(),
        "Tension and shed height that strain the warp",
        example={"base_tension_cn_per_tex": 1},
    )
    cloth_roll_diameter_cm = Number(
        "Greatest cloth roll", LOOM_BOUNDS["/cloth_roll_diameter_cm"], example=55
    )
    cloth_tube_diameter_cm = Number(
        "Tube on which the cloth is wound", LOOM_BOUNDS["/cloth_tube_diameter_cm"], example=10
    )
    max_tightness_pct = Number(
        "Greatest tightness that can be beaten up; 100 is the jammed cloth",
        LOOM_BOUNDS["/max_tightness_pct"],
        example=110,
    )
    reeds_in_stock_dents_per_10cm = Items(
        Number("Reed in stock", LOOM_BOUNDS["/reeds_in_stock_dents_per_10cm"], example=160),
        "Reeds in stock [dents/10 cm]",
        most=MOST_REEDS,
    )
    running = Part(RunningSchema(), "How the loom runs", example={"efficiency_pct": 88})
    changeover_rates = Part(
        ChangeoverRatesSchema(), "Rates of changing a style", example={"knots_per_h": 6_000}
    )
    power_kw = Number("Mean electric power while it weaves", LOOM_BOUNDS["/power_kw"], example=4.5)
    air_m3_per_h = Number(
        "Compressed air while it weaves, as free air", LOOM_BOUNDS["/air_m3_per_h"], example=48
    )
    loom_hour = Number(
        "Price of an hour for which it is occupied, stops included, in the currency of the prices. "
        "Prices of a loom are in no link and no list of looms, and count only beside prices",
        LOOM_BOUNDS["/loom_hour"],
        example=6.5,
    )
    price = Number(
        "Price of the loom, in place of loom_hour: with interest, years and hours it gives the "
        "capital cost of an hour",
        LOOM_BOUNDS["/price"],
        example=60_000,
    )
    interest_pct = Number("Interest a year", LOOM_BOUNDS["/interest_pct"], example=8)
    life_years = Number(
        "Years over which the price is paid back", LOOM_BOUNDS["/life_years"], example=10
    )
    hours_per_year = Number(
        "Hours a year for which it is occupied, stops included",
        LOOM_BOUNDS["/hours_per_year"],
        example=6_000,
    )
    assumed = ReadOnly(
        "Limits that the loom does not state and that are assumed, in the list of the park",
        {"type": "array", "items": {"$ref": "#/components/schemas/Assumption"}},
        example=[],
    )
    caution = ReadOnly("What a computed result is not", {"type": "string"}, example=SHORT_CAUTION)

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require widths in order; ask the core for contradictions once there is no other fault."""
        faults = [
            *ascending(values, "min_reed_width_cm", "reed_width_cm", strict=False),
            *_falling_widths(given.get("speed_curve")),
            *loom_hour_faults(given),
        ]
        if not self.all_good(values, given):
            faults += ascending(values, "cloth_tube_diameter_cm", "cloth_roll_diameter_cm")
        elif not faults:
            with collecting(faults):
                resolve_loom(self.makes(**values))
        yield from faults


def _falling_widths(points: object) -> Iterator[Fault]:
    """Compare neighbouring points whose widths are good, whatever else is wrong with them."""
    if not isinstance(points, list) or len(points) > MOST_CURVE_POINTS:
        return
    for index, (left, right) in enumerate(pairwise(map(_width_of, points)), start=1):
        if left is not None and right is not None and left >= right:
            yield Fault(
                f"/speed_curve/{index}/reed_width_cm",
                "Write the points of speed_curve in the order of rising width.",
                right,
                f"greater than {left:g}",
            )


def _width_of(point: object) -> float | None:
    width: Any = point.get("reed_width_cm") if isinstance(point, dict) else None
    bounds = LOOM_BOUNDS["/speed_curve/reed_width_cm"]
    return float(width) if type(width) in (int, float) and width in bounds else None
