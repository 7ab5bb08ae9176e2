"""The loom as JSON, in a request and in a park file alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any, ClassVar, Final

from weavability.answers.caution import SHORT_CAUTION
from weavability.looms.carriers import InsertionSystem, Rapiers
from weavability.looms.loom import (
    Band,
    BeamArrangement,
    CurvePoint,
    Insertion,
    Loom,
    WarpBeam,
    WarpStrain,
)
from weavability.looms.loom_bounds import LOOM_BOUNDS, MOST_CURVE_POINTS, MOST_REEDS
from weavability.looms.loom_hour import loom_hour_faults
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.motion_laws import MotionLaw
from weavability.service.schemas.base import Body, Part, Recurring, ascending, at_most_one
from weavability.service.schemas.fields import Choice, Items, Number, ReadOnly, Text, WholeNumber
from weavability.service.schemas.running_schema import ChangeoverRatesSchema, RunningSchema
from weavability.service.schemas.shedding_schema import SheddingSchema
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.sentences import Sentence, say

LOOM_ID: Final = r"[A-Za-z0-9][A-Za-z0-9._\-]{0,63}"
LOOM_ID_WORDS: Final = "letters, digits, dots, hyphens and underscores, a letter or digit first"


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
    elsewhere: ClassVar[Mapping[str, Sentence]] = {
        name: say(
            "part.field_of_the_loom",
            " {field} is a field of the loom, beside insertion.",
            field=name,
        )
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
            yield Fault("", say("fault.value.no_min_or_max", "State min, max or both."))
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
        yield from at_most_one(
            given,
            *forms,
            words=say("part.the_base_tension_of_the_warp", "the base tension of the warp"),
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
                say(
                    "fault.speed_curve.falling_widths",
                    "Write the points of speed_curve in the order of rising width.",
                ),
                right,
                f"greater than {left:g}",
            )


def _width_of(point: object) -> float | None:
    width: Any = point.get("reed_width_cm") if isinstance(point, dict) else None
    bounds = LOOM_BOUNDS["/speed_curve/reed_width_cm"]
    return float(width) if type(width) in (int, float) and width in bounds else None
