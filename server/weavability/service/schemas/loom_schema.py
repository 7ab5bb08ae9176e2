"""The loom as JSON, in a request and in a park file alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any, Final

from weavability.looms.carriers import InsertionSystem, Rapiers
from weavability.looms.loom import (
    Band,
    CurvePoint,
    Insertion,
    Loom,
    Running,
    Shedding,
    SheddingKind,
    WarpBeam,
    WarpStrain,
)
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.motion_laws import MotionLaw
from weavability.service.schemas.base import Body, Part, ascending, without
from weavability.service.schemas.fields import Choice, Items, Number, Text, WholeNumber
from weavability.textiles.errors import Fault

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


def _angle(words: str, example: float) -> Number:
    return Number(
        words, unit="degrees of the crank circle", example=example, minimum=0, maximum=360
    )


def _speed(words: str, example: float = 600, *, required: bool = False) -> Number:
    return Number(
        words, unit="picks/min", example=example, minimum=1, maximum=10_000, required=required
    )


def _width(words: str, example: float = 190, *, required: bool = False) -> Number:
    return Number(words, unit="cm", example=example, minimum=1, maximum=3_500, required=required)


class InsertionSchema(Body[Insertion]):
    """Weft insertion: the system, its limits and its motion."""

    title = "Insertion"
    makes = Insertion

    system = Choice(
        InsertionSystem,
        "What carries the weft through the shed",
        example=InsertionSystem.RAPIER,
        required=True,
    )
    max_rate_m_per_min = Number(
        "Greatest weft insertion rate", unit="m/min", example=1_150, minimum=1, maximum=20_000
    )
    entry_deg = _angle("Crank angle at which carrier or weft enters the shed", 70)
    transfer_deg = _angle("Crank angle of the hand-over between two rapiers", 180)
    exit_deg = _angle("Crank angle at which carrier or weft has left the shed", 290)
    motion_law = Choice(MotionLaw, "Law of the rapier's motion", example=MotionLaw.MODIFIED_SINE)
    rapiers = Choice(Rapiers, "A pair that hands over, or a single rapier", example=Rapiers.DOUBLE)
    overrun_cm = Number(
        "Travel of each rapier outside the reed width in use",
        unit="cm",
        example=8,
        minimum=0,
        maximum=300,
    )
    carrier_length_cm = Number(
        "Length of a shuttle or projectile", unit="cm", example=9, minimum=0, maximum=200
    )
    launch_length_cm = Number(
        "Travel over which a shuttle or projectile is brought to speed",
        unit="cm",
        example=6,
        minimum=0,
        maximum=300,
    )
    stopping_length_cm = Number(
        "Weft that runs in while the brakes bring it to rest",
        unit="cm",
        example=10,
        minimum=0,
        maximum=300,
    )
    extra_weft_cm = Number(
        "Weft used beyond the reed width at each pick",
        unit="cm",
        example=12,
        minimum=0,
        maximum=200,
    )
    free_weft_length_m = Number(
        "Weft between feeder and carrier that is accelerated",
        unit="m",
        example=1.2,
        minimum=0,
        maximum=50,
    )
    base_tension_cn_per_tex = Number(
        "Tension of the weft at rest, from feeder and brake",
        unit="cN/tex",
        example=0.5,
        minimum=0,
        maximum=20,
    )
    max_feeder_speed_m_per_min = Number(
        "Greatest speed of one weft feeder",
        unit="m/min",
        example=1_600,
        minimum=1,
        maximum=20_000,
    )


_SHAFT_FIELDS: Final = ("shafts", "max_healds_per_cm_per_shaft", "max_healds_per_shaft")
_HOOK_FIELDS: Final = ("hooks", "ends_per_hook", "harness_ends_per_cm", "selvedge_hooks")
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


class SheddingSchema(Body[Shedding]):
    """The shedding motion: cam and dobby need shafts, a Jacquard needs hooks."""

    title = "Shedding"
    makes = Shedding

    kind = Choice(SheddingKind, "How the shed is made", example=SheddingKind.DOBBY, required=True)
    shafts = WholeNumber(
        "Heald shafts; needed for cam and dobby", unit="shafts", example=20, minimum=2, maximum=64
    )
    max_repeat_picks = WholeNumber(
        "Longest lift repeat of a cam motion", unit="picks", example=8, minimum=1, maximum=100
    )
    max_pattern_picks = WholeNumber(
        "Longest lift plan of a dobby, or design of a Jacquard",
        unit="picks",
        example=6_400,
        minimum=1,
        maximum=10_000_000,
    )
    max_speed_picks_per_min = _speed("Greatest speed of the shedding motion")
    max_healds_per_cm_per_shaft = Number(
        "Crowding limit of the healds",
        unit="healds/cm/shaft",
        example=10,
        minimum=0.5,
        maximum=100,
    )
    max_healds_per_shaft = WholeNumber(
        "Healds that fit on one shaft", unit="healds", example=1_800, minimum=1, maximum=100_000
    )
    hooks = WholeNumber(
        "Hooks that lift ends of the ground; needed for a Jacquard",
        unit="hooks",
        example=2_688,
        minimum=8,
        maximum=100_000,
    )
    ends_per_hook = WholeNumber(
        "Ends tied to each hook: repeats of the harness across the width",
        unit="ends",
        example=4,
        minimum=1,
        maximum=1_000,
    )
    harness_ends_per_cm = Number(
        "Density to which the harness is tied, in the reed",
        unit="ends/cm",
        example=60,
        minimum=0.5,
        maximum=500,
    )
    selvedge_hooks = WholeNumber(
        "Further hooks kept for the selvedges",
        unit="hooks",
        example=32,
        minimum=0,
        maximum=10_000,
    )

    def coherence(self, values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require what this kind of shedding needs; refuse what belongs to another kind."""
        kind: SheddingKind = values["kind"]
        needed = _NEEDED[kind]
        if needed not in values:
            yield Fault(f"/{needed}", f"Give {needed}: a {kind} motion is limited by it.")
        yield from without(
            _STRANGERS[kind], frozenset(values), because=f"a {kind} motion has no such limit"
        )


class CurvePointSchema(Body[CurvePoint]):
    """One point of a loom's speed curve."""

    title = "SpeedCurvePoint"
    makes = CurvePoint

    reed_width_cm = _width("Reed width in use", 140, required=True)
    picks_per_min = _speed("Greatest speed at this width", 620, required=True)


class _BandSchema(Body[Band]):
    """A closed range; either end may be left open."""

    makes = Band

    def presence(self, names: frozenset[str], /) -> Iterator[Fault]:
        """Require at least one end of the range."""
        if not names & {"min", "max"}:
            yield Fault("", "Give min, max or both.")

    def coherence(self, values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require the ends in order."""
        yield from ascending(values, "min", "max", strict=False)


def _end_of_range(words: str, unit: str, *, example: float, maximum: float) -> Number:
    return Number(words, unit=unit, example=example, minimum=0.1, maximum=maximum)


class PicksBandSchema(_BandSchema):
    """Pick densities that the take-up allows."""

    title = "PicksPerCmRange"

    min = _end_of_range("Fewest picks", "picks/cm", example=4, maximum=500)
    max = _end_of_range("Most picks", "picks/cm", example=80, maximum=500)


class TexBandSchema(_BandSchema):
    """Linear densities of the weft that the insertion takes."""

    title = "WeftTexRange"

    min = _end_of_range("Finest weft", "tex", example=7, maximum=20_000)
    max = _end_of_range("Coarsest weft", "tex", example=500, maximum=20_000)


class WarpBeamSchema(Body[WarpBeam]):
    """The weaver's beam."""

    title = "WarpBeam"
    makes = WarpBeam

    flange_diameter_cm = Number(
        "Diameter of the flanges", unit="cm", example=100, minimum=2, maximum=400
    )
    barrel_diameter_cm = Number(
        "Diameter of the bare barrel", unit="cm", example=20, minimum=1, maximum=200
    )
    width_cm = _width("Distance between the flanges; the reed width where not given")
    count = WholeNumber("Beams that the loom takes", unit="beams", example=1, minimum=1, maximum=16)
    density_g_per_cm3 = Number(
        "Density of the yarn wound on the beam",
        unit="g/cm3",
        example=0.5,
        minimum=0.05,
        maximum=10,
    )

    def coherence(self, values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require flanges that stand above the barrel."""
        yield from ascending(values, "barrel_diameter_cm", "flange_diameter_cm")


class WarpStrainSchema(Body[WarpStrain]):
    """What the loom does to an end at every pick."""

    title = "WarpStrain"
    makes = WarpStrain

    base_tension_cn_per_tex = Number(
        "Tension of the warp with the shed closed",
        unit="cN/tex",
        example=1,
        minimum=0.01,
        maximum=20,
    )
    shed_half_height_cm = Number(
        "Way of the farthest heald eye from the warp line",
        unit="cm",
        example=5,
        minimum=0.5,
        maximum=50,
    )


def _minutes_of_change(words: str, example: float) -> Number:
    return Number(words, unit="min", example=example, minimum=0, maximum=100_000)


def _hours_of_change(words: str, example: float) -> Number:
    return Number(words, unit="h", example=example, minimum=0, maximum=10_000)


def _ends_per_hour(words: str, example: float) -> Number:
    return Number(words, unit="ends/h", example=example, minimum=1, maximum=10_000_000)


class ChangeoverRatesSchema(Body[tuple[tuple[str, float], ...]]):
    """The mill's own rates of changing a style; what is left out has a starting value."""

    title = "ChangeoverRates"

    minutes_per_weft = _minutes_of_change("Change one weft", 10)
    minutes_for_picks = _minutes_of_change("Set another pick density, and prove it", 10)
    minutes_for_design = _minutes_of_change("Load another lift plan or design", 5)
    hours_for_cams = _hours_of_change("Change the cams of a cam motion", 2)
    minutes_for_width = _minutes_of_change("Set temples and cutters to another width", 30)
    knots_per_h = Number(
        "Ends tied by the tying machine, stops included",
        unit="knots/h",
        example=6_000,
        minimum=1,
        maximum=10_000_000,
    )
    tie_in_ends_per_h = _ends_per_hour("Everything about tying that grows with the ends", 1_250)
    tie_in_fixed_hours = _hours_of_change("Bring the beam and couple it", 0.25)
    hand_drawing_ends_per_h = _ends_per_hour("Drawn in or out on the loom by one person", 150)
    reeding_ends_per_h = _ends_per_hour("Sleyed into another reed on the loom", 800)
    reeding_fixed_hours = _hours_of_change("Take the reed out, put the other in, weave up", 0.5)
    drawing_in_ends_per_h = _ends_per_hour("Drawn in away from the loom by a pair of hands", 1_000)
    gaiting_hours = _hours_of_change("Old warp and harness off, the new one gaited up", 6)
    jacquard_threading_ends_per_h = _ends_per_hour("Threaded through a harness on the loom", 100)
    harness_tie_ends_per_h = _ends_per_hour("Tying a new harness and levelling it", 100)
    harness_fixed_hours = _hours_of_change("Old harness down, comber board hung", 8)
    minutes_to_leave_ends_out = _minutes_of_change("Cut the outer ends that the new warp lacks", 20)

    def build(
        self, values: dict[str, Any], _given: Mapping[str, Any], /
    ) -> tuple[tuple[str, float], ...]:
        """Pair the rates with their names."""
        return tuple(sorted(values.items()))


_STOP_FIELDS: Final = (
    "warp_stops_per_100k_picks",
    "weft_stops_per_100k_picks",
    "minutes_per_warp_stop",
    "minutes_per_weft_stop",
    "looms_per_weaver",
)


def _stops(words: str, example: float) -> Number:
    return Number(words, unit="stops/100 000 picks", example=example, minimum=0, maximum=100_000)


def _minutes(words: str, example: float) -> Number:
    return Number(words, unit="min", example=example, minimum=0, maximum=10_000)


class RunningSchema(Body[Running]):
    """How the loom runs: an efficiency, or all the stop rates, from which it is computed."""

    title = "Running"
    makes = Running

    efficiency_pct = Number(
        "Share of the time that the loom runs; in place of stop rates",
        unit="%",
        example=88,
        minimum=1,
        maximum=100,
    )
    warp_stops_per_100k_picks = _stops("Stops for the warp", 3)
    weft_stops_per_100k_picks = _stops("Stops for the weft", 2)
    minutes_per_warp_stop = _minutes("Mean time to mend a warp stop", 1.5)
    minutes_per_weft_stop = _minutes("Mean time to mend a weft stop", 0.7)
    looms_per_weaver = WholeNumber(
        "Looms that one weaver tends", unit="looms", example=12, minimum=1, maximum=1_000
    )
    hours_per_day = Number("Hours of the mill's day", unit="h", example=24, minimum=0.5, maximum=24)

    def presence(self, names: frozenset[str], /) -> Iterator[Fault]:
        """Take an efficiency, or every stop rate; not both."""
        if "efficiency_pct" in names:
            yield from without(
                _STOP_FIELDS,
                names,
                because="the efficiency is given; either it or the stop rates",
            )
        elif names & set(_STOP_FIELDS):
            for name in _STOP_FIELDS:
                if name not in names:
                    yield Fault(
                        f"/{name}",
                        f"Give {name} too: efficiency is computed from all the stop rates.",
                        None,
                        ", ".join(_STOP_FIELDS),
                    )


class LoomSchema(Body[Loom]):
    """A loom: what it is and what it can do. Limits that are left out are assumed and listed."""

    title = "Loom"
    makes = Loom

    loom_id = loom_id_field("Name of the loom in its park")
    description = Text("What people call it", example="Rapier, 190 cm, dobby", longest=200)
    insertion = Part(
        InsertionSchema(), "Weft insertion", required=True, example={"system": "rapier"}
    )
    reed_width_cm = _width("Greatest reed width", required=True)
    min_reed_width_cm = _width("Smallest reed width at which it runs", 120)
    max_speed_picks_per_min = _speed("Greatest speed of the loom", 620, required=True)
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
        "Different wefts that it can insert", unit="wefts", example=8, minimum=1, maximum=64
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
        WarpStrainSchema(), "What an end bears", example={"base_tension_cn_per_tex": 1}
    )
    cloth_roll_diameter_cm = Number(
        "Greatest cloth roll", unit="cm", example=55, minimum=5, maximum=500
    )
    cloth_tube_diameter_cm = Number(
        "Tube on which the cloth is wound", unit="cm", example=10, minimum=0.5, maximum=200
    )
    max_tightness_pct = Number(
        "Greatest tightness that it beats up; 100 is the jammed cloth",
        unit="%",
        example=110,
        minimum=10,
        maximum=300,
    )
    reeds_in_stock_dents_per_10cm = Items(
        Number("Reed in stock", unit="dents/10 cm", example=160, minimum=5, maximum=1_000),
        "Reeds at hand [dents/10 cm]",
        most=MOST_REEDS,
    )
    running = Part(RunningSchema(), "How the loom runs", example={"efficiency_pct": 88})
    changeover_rates = Part(
        ChangeoverRatesSchema(), "Rates of changing a style", example={"knots_per_h": 6_000}
    )

    def coherence(self, values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require widths in order, in the loom and along its speed curve."""
        yield from ascending(values, "min_reed_width_cm", "reed_width_cm", strict=False)
        points = values.get("speed_curve", ())
        for index, (left, right) in enumerate(pairwise(points), start=1):
            if left.reed_width_cm >= right.reed_width_cm:
                yield Fault(
                    f"/speed_curve/{index}/reed_width_cm",
                    "Write the points of speed_curve in the order of rising width.",
                    right.reed_width_cm,
                    f"greater than {left.reed_width_cm:g}",
                )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> Loom:
        """Make the loom, once the domain finds no contradiction in its limits."""
        loom = Loom(**values)
        resolve_loom(loom)
        return loom
