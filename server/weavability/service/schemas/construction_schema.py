"""The construction as JSON: every field with its bounds, its unit and its meaning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

from weavability.looms.reeds import reed_system, reed_systems
from weavability.service.schemas.base import Body, Part, Recurring, at_most_one, exactly_one
from weavability.service.schemas.design_schema import OrderedWeave
from weavability.service.schemas.faults import refused
from weavability.service.schemas.fields import (
    Choice,
    Described,
    Flag,
    Items,
    Number,
    Shape,
    Text,
    WholeNumber,
)
from weavability.service.schemas.order_schema import PieceOrderSchema, RequirementsSchema
from weavability.service.schemas.weave_schema import (
    RowsSchema,
    StatedWeave,
    WordsOrObject,
)
from weavability.service.schemas.yarn_schema import MOST_YARNS, YarnKey, YarnMap, order_faults
from weavability.textiles.bounds import (
    CONSTRUCTION_BOUNDS,
    DENTS_PER_10CM,
    ENDS_PER_CM,
    PICKS_PER_CM,
    SHAFT,
    SPEED_PICKS_PER_MIN,
    WIDTH_CM,
)
from weavability.textiles.construction import (
    Allowances,
    Construction,
    DraftRequest,
    Finish,
    Finishing,
    Joined,
    Layers,
    Reed,
    Selvedge,
    Stage,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.layer_declaration import LETTER, MOST_LAYERS, layer_orders
from weavability.textiles.selvedge_facts import (
    MAX_SELVEDGE_SIDE,
    check_selvedge_weave,
    unknown_selvedge_yarn,
)
from weavability.textiles.sentences import say
from weavability.textiles.thread_order import LONGEST_TEXT
from weavability.textiles.thread_systems import stated_crimps_pct
from weavability.textiles.units import CM_PER_INCH, M_PER_YARD
from weavability.textiles.warp_groups import group_faults

LONGEST_DRAFT: Final = 20_000
_WARP_YARNS: Final = {"A": {"designation": "Ne 40/2", "fibre": "cotton"}}
_WEFT_YARNS: Final = {"A": {"designation": "Ne 20", "fibre": "cotton"}}


class _ThreadSystemSchema(Recurring[ThreadSystem]):
    """What warp and weft have in common."""

    most_kept = 1_024
    _threads: str

    yarns = YarnMap("Yarns by their key in the thread order", example=_WARP_YARNS)
    order = Text(
        "Thread order, with groups if there are any: `24A 4B`, `3(2A 2B) 4C`; "
        "needed for more than one yarn",
        example="24A 4B 24A 8B",
        longest=LONGEST_TEXT,
    )
    crimp_pct = Number(
        "Crimp on the length of the grey cloth, (yarn - cloth) / cloth, "
        "of the yarns that state none of their own",
        CONSTRUCTION_BOUNDS["/warp/crimp_pct"],
        example=8,
    )
    contraction_pct = Number(
        "The same on yarn length, (yarn - cloth) / yarn, in place of crimp_pct",
        CONSTRUCTION_BOUNDS["/warp/contraction_pct"],
        example=7.4,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require the sett in exactly one unit, and the crimp once."""
        per_cm, per_in = f"{self._threads}_per_cm", f"{self._threads}_per_in"
        yield from exactly_one(
            given,
            per_cm,
            per_in,
            words=say("part.the_sett", "the sett"),
            at_start=say("part.the_sett_at_start", "The sett"),
        )
        twice = list(
            at_most_one(
                given, "crimp_pct", "contraction_pct", words=say("part.the_crimp", "the crimp")
            )
        )
        yield from twice
        if "yarns" in values and not twice:
            faults: list[Fault] = []
            with collecting(faults):
                stated_crimps_pct(
                    values["yarns"],
                    crimp_pct=values.get("crimp_pct"),
                    contraction_pct=values.get("contraction_pct"),
                )
            yield from faults

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> ThreadSystem:
        """Make warp or weft, threads per inch converted."""
        per_cm = values.pop(f"{self._threads}_per_cm", None)
        per_in = values.pop(f"{self._threads}_per_in", None)
        threads_per_cm = per_cm if per_cm is not None else per_in / CM_PER_INCH
        return ThreadSystem(threads_per_cm=threads_per_cm, **values)


WARP_GROUP_NAME: Final = r"[A-Za-z][A-Za-z0-9_-]{0,31}"
MOST_WARP_GROUPS: Final = 16


class WarpGroupSchema(Body[WarpGroup]):
    """Ends with a beam of their own, such as those of pile."""

    title = "WarpGroup"
    makes = WarpGroup

    name = Text(
        "What the mill calls them",
        example="pile",
        longest=32,
        pattern=WARP_GROUP_NAME,
        pattern_words="a letter, then letters, digits, _ or -",
        required=True,
    )
    yarns = Items(
        YarnKey("Key of a yarn of the warp", example="P"),
        "Keys of their yarns; every yarn of the warp is in exactly one group",
        fewest=1,
        most=MOST_YARNS,
        required=True,
    )
    pile_ratio = Number(
        "Yarn length per cloth length, for ends that weave pile",
        CONSTRUCTION_BOUNDS["/warp/beams/pile_ratio"],
        example=5.2,
    )
    density_g_per_cm3 = Number(
        "Density of their yarn wound on the beam; that of the loom's beams, or by the kind of "
        "yarn, if not given",
        CONSTRUCTION_BOUNDS["/warp/beams/density_g_per_cm3"],
        example=0.45,
    )


_BEAMS: Final = [
    {"name": "ground", "yarns": ["A"]},
    {"name": "pile", "yarns": ["P"], "pile_ratio": 5.2},
]
_WARP_SETT: Final = "Sett of the warp at the stated stage"
_WEFT_SETT: Final = "Sett of the weft at the stated stage"


class WarpSchema(_ThreadSystemSchema):
    """The warp: yarns, their order, and the sett: exactly one of ends_per_cm and ends_per_in.

    A yarn that only the selvedge has may be missing from the order, which the construction judges.
    """

    title = "Warp"
    _threads = "ends"

    ends_per_cm = Number(_WARP_SETT, ENDS_PER_CM, example=32)
    ends_per_in = Number(_WARP_SETT, ENDS_PER_CM.in_inches(), example=80)
    beams = Items(
        Part(WarpGroupSchema(), "A group of ends", example=_BEAMS[0]),
        "Groups of ends with a beam of their own; all ends come from one warp if not given",
        example=_BEAMS,
        fewest=1,
        most=MOST_WARP_GROUPS,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require that the groups go with the yarns, too."""
        yield from super().judge(values, given)
        yarns = given.get("yarns")
        if "beams" in values and isinstance(yarns, dict):
            for fault in group_faults(values["beams"], yarns):
                yield replace(fault, pointer=f"/beams{fault.pointer}")


class WeftSchema(_ThreadSystemSchema):
    """The weft: yarns, their order, and the sett: exactly one of picks_per_cm and picks_per_in."""

    title = "Weft"
    _threads = "picks"

    picks_per_cm = Number(_WEFT_SETT, PICKS_PER_CM, example=24)
    picks_per_in = Number(_WEFT_SETT, PICKS_PER_CM.in_inches(), example=60)


LAYER_ORDER_WORDS: Final = "as a thread order with one letter a layer: `1F 1B`, `2(F B) 1F`"


class LayersSchema(Body[Layers]):
    """Which layer each thread belongs to, for cloths whose threads lie over one another.

    Layers are listed by letter; each is set against its own threads, and pile against none.
    Selvedge ends are outside.
    """

    title = "Layers"
    makes = Layers

    ends = Text(
        f"The layer of every end, {LAYER_ORDER_WORDS}",
        example="1F 1B",
        longest=LONGEST_TEXT,
        required=True,
    )
    picks = Text(
        f"The layer of every pick, {LAYER_ORDER_WORDS}",
        example="1F 1B",
        longest=LONGEST_TEXT,
        required=True,
    )
    joined = Choice(
        Joined,
        "How the layers that are not pile are joined; needed if there are several",
        example=Joined.SEPARATE,
    )
    pile = Items(
        Text(
            "Letter of a layer",
            example="P",
            longest=1,
            pattern=LETTER.pattern,
            pattern_words="one letter",
        ),
        "The layers that are pile",
        most=MOST_LAYERS,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require that the letters and how they are joined agree."""
        if self.all_good(values, given):
            faults: list[Fault] = []
            with collecting(faults):
                layer_orders(self.makes(**values))
            yield from faults


class SelvedgeSchema(Body[Selvedge]):
    """The edges of each panel."""

    title = "Selvedge"
    makes = Selvedge

    ends_per_side = WholeNumber(
        "Extra ends at each side of each panel",
        CONSTRUCTION_BOUNDS["/selvedge/ends_per_side"],
        example=24,
    )
    ends_per_dent = WholeNumber(
        "Selvedge ends in one dent; if not given, twice those of the ground, or as many if the "
        "selvedge has a weave of its own",
        CONSTRUCTION_BOUNDS["/selvedge/ends_per_dent"],
        example=4,
    )
    shafts = WholeNumber(
        "Shafts of its own that the selvedge weave needs",
        CONSTRUCTION_BOUNDS["/selvedge/shafts"],
        example=2,
    )
    yarn = Text(
        "Key of the warp yarn of the selvedge, also of leno and catch cords; it need not be in the "
        "thread order",
        example="A",
        longest=32,
    )
    weave = WordsOrObject(
        f"Weave of the selvedge, in words or as rows; at most {MAX_SELVEDGE_SIDE} ends and picks. "
        "Without it the ends weave as the ground",
        example="2/2 weft rib",
        forms=(RowsSchema(),),
        required=False,
    )
    leno_ends_per_side = WholeNumber(
        "Ends of a leno, from bobbins, at each side of each panel",
        CONSTRUCTION_BOUNDS["/selvedge/leno_ends_per_side"],
        example=2,
    )
    catch_cord_ends = WholeNumber(
        "Ends of the catch cords of the whole loom, which are cut off",
        CONSTRUCTION_BOUNDS["/selvedge/catch_cord_ends"],
        example=12,
    )

    def judge(self, values: Mapping[str, Any], _given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require a weave that is short enough for an edge."""
        if "weave" in values:
            faults: list[Fault] = []
            with collecting(faults, below="/weave"):
                check_selvedge_weave(values["weave"].weave)
            yield from faults

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> Selvedge:
        """Make the selvedge; what its weave leaves open is kept beside it."""
        stated: StatedWeave | None = values.pop("weave", None)
        if stated is None:
            return Selvedge(**values)
        return Selvedge(weave=stated.weave, weave_notes=stated.notes, **values)


class ReedSchema(Body[Reed]):
    """The reed that the order requests: dents_per_10cm, or count and system.

    It holds ends_per_dent everywhere, or the repeat of an uneven denting.
    """

    title = "Reed"
    makes = Reed

    dents_per_10cm = Number("Dents in 10 cm of the reed", DENTS_PER_10CM, example=160)
    count = Number(
        "The reed in another counting system, in place of dents_per_10cm",
        CONSTRUCTION_BOUNDS["/reed/count"],
        example=60,
    )
    system = Text("Counting system of count", example="stockport", longest=40)
    ends_per_dent = WholeNumber(
        "Ends drawn into one dent", CONSTRUCTION_BOUNDS["/reed/ends_per_dent"], example=2
    )
    ends_in_dents = Items(
        WholeNumber("Ends in a dent", CONSTRUCTION_BOUNDS["/reed/ends_in_dents"], example=2),
        "One repeat of an uneven denting: ends in each dent, 0 for an empty one",
        fewest=1,
        most=1_000,
    )
    wire_share_pct = Number(
        "Share of a dent that its wire takes",
        CONSTRUCTION_BOUNDS["/reed/wire_share_pct"],
        example=35,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take the reed and its denting in one form each; a count needs its system."""
        yield from at_most_one(
            given, "dents_per_10cm", "count", words=say("part.the_reed", "the reed")
        )
        yield from at_most_one(
            given, "ends_per_dent", "ends_in_dents", words=say("part.the_denting", "the denting")
        )
        if "count" in given and "system" not in given:
            systems = sorted(reed_systems())
            yield Fault(
                "/system",
                say(
                    "fault.reed.system_missing", "system is missing: the counting system of count."
                ),
                None,
                systems,
            )
        if "system" in given and "count" not in given:
            yield Fault(
                "/count",
                say(
                    "fault.reed.count_missing",
                    "count is missing: a counting system alone states no reed.",
                ),
            )
        if "system" in values:
            faults: list[Fault] = []
            with collecting(faults):
                reed_system(values["system"])
            yield from faults


_NAMED_THREADING: Final = Text("Named draft", example="straight", longest=80)
_SHAFT: Final = WholeNumber("Shaft of an end", SHAFT, example=1)


class Threading(Described[str | tuple[int, ...]]):
    """A named draft, or the shaft of every end of the repeat."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example, required=True)

    def allowed(self) -> str:
        """Return both forms."""
        return 'a named draft such as "straight", or a list of shafts such as [1, 2, 3, 4]'

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        shafts: Shape = {
            "type": "array",
            "minItems": 1,
            "maxItems": LONGEST_DRAFT,
            "items": _SHAFT.kind(),
        }
        return {"anyOf": [_NAMED_THREADING.kind(), shafts]}

    def _deserialize(self, value: Any, *_: object, **__: object) -> str | tuple[int, ...]:
        if isinstance(value, str):
            named: str = _NAMED_THREADING.deserialize(value)
            return named
        if isinstance(value, list) and 1 <= len(value) <= LONGEST_DRAFT:
            return tuple(_shafts(value))
        message = say(
            "fault.draft.not_a_threading",
            "{field} must be a named draft or a list of 1 to {most_shafts} shafts.",
            field=self.label,
            most_shafts=LONGEST_DRAFT,
        )
        raise self.refusal(message, value)


def _shafts(stated: list[object]) -> list[int]:
    """Read a list in one pass: a draft may have 20 000 ends."""
    good = [shaft for shaft in stated if type(shaft) is int and shaft in SHAFT]
    if len(good) < len(stated):
        least, most = SHAFT.least, SHAFT.most
        raise refused(
            *(
                Fault(
                    f"/{index}",
                    say(
                        "fault.draft.not_a_shaft",
                        "A shaft is a whole number from {least} to {most}.",
                        least=least,
                        most=most,
                    ),
                    shaft,
                    f"{least} to {most}",
                )
                for index, shaft in enumerate(stated)
                if type(shaft) is not int or shaft not in SHAFT
            )
        )
    return good


class DraftSchema(Body[DraftRequest]):
    """The drawing-in that the order requests."""

    title = "Draft"
    makes = DraftRequest

    threading = Threading(
        "Named draft, or the shaft (from 1) of every end of the repeat", example="straight"
    )


class FinishingSchema(Body[Finishing]):
    """What happens to the cloth after the loom."""

    title = "Finishing"
    makes = Finishing

    finish = Choice(
        Finish,
        "How the cloth is finished, which decides about shrinkages that are not stated: scoured, "
        "bleached or dyed and dried to width (washed), also shrunk in length (pre_shrunk), or "
        "felted (milled)",
        example=Finish.WASHED,
    )
    width_shrinkage_pct = Number(
        "Loss of width from grey to finished, on the grey width",
        CONSTRUCTION_BOUNDS["/finishing/width_shrinkage_pct"],
        example=4,
    )
    length_shrinkage_pct = Number(
        "Loss of length from grey to finished, on the grey length",
        CONSTRUCTION_BOUNDS["/finishing/length_shrinkage_pct"],
        example=3,
    )
    relaxation_pct = Number(
        "Loss of length when the cloth leaves the loom's tension",
        CONSTRUCTION_BOUNDS["/finishing/relaxation_pct"],
        example=2,
    )
    mass_change_pct = Number(
        "Gain of mass in finishing, or loss if negative, on the mass of the yarn without size",
        CONSTRUCTION_BOUNDS["/finishing/mass_change_pct"],
        example=-4,
    )
    stabilised = Flag("Whether a finish, or leno, holds an open cloth together", example=False)


class AllowancesSchema(Body[Allowances]):
    """What is used beyond the yarn that lies in the cloth."""

    title = "Allowances"
    makes = Allowances

    warp_waste_pct = Number(
        "Warp yarn lost in preparation, on the warp woven",
        CONSTRUCTION_BOUNDS["/allowances/warp_waste_pct"],
        example=1.5,
    )
    weft_waste_pct = Number(
        "Weft yarn lost at package and stops, on the weft inserted",
        CONSTRUCTION_BOUNDS["/allowances/weft_waste_pct"],
        example=2,
    )
    size_pct = Number(
        "Size on the warp, on the mass of the unsized warp",
        CONSTRUCTION_BOUNDS["/allowances/size_pct"],
        example=8,
    )
    loom_waste_m = Number(
        "Warp lost at tying and at the end of the warp",
        CONSTRUCTION_BOUNDS["/allowances/loom_waste_m"],
        example=3,
    )
    size_strength_gain_pct = Number(
        "What the size adds to the strength of the spun yarns that are sized",
        CONSTRUCTION_BOUNDS["/allowances/size_strength_gain_pct"],
        example=30,
    )
    size_elongation_loss_pct = Number(
        "What the size takes off the elongation at break of the spun yarns that are sized, on that "
        "elongation",
        CONSTRUCTION_BOUNDS["/allowances/size_elongation_loss_pct"],
        example=25,
    )


_WIDTH: Final = "Width of one panel at the stated stage, selvedges included"
_LENGTH: Final = "Cloth to weave, all panels together, as long as it is at the stated stage"


class ConstructionSchema(Body[Construction]):
    """A woven construction as an order states it.

    Exactly one of width_cm and width_in; at most one of length_m, length_yd and order. What is left
    out, or null, is assumed if it is needed, and listed in the report's assumptions.
    """

    title = "Construction"
    makes = Construction

    reference = Text(
        "The caller's own name of the order; returned in the report, never part of a link",
        example="SO-10482/1",
        longest=200,
    )
    stage = Choice(Stage, "Stage at which sett, width and length were measured", example=Stage.GREY)
    warp = Part(
        WarpSchema(), "The warp", required=True, example={"yarns": _WARP_YARNS, "ends_per_cm": 32}
    )
    weft = Part(
        WeftSchema(), "The weft", required=True, example={"yarns": _WEFT_YARNS, "picks_per_cm": 24}
    )
    weave = OrderedWeave("The weave", example="2/2 twill Z")
    layers = Part(
        LayersSchema(),
        "The layer of each thread, for double, backed and pile cloths",
        example={"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"},
    )
    width_cm = Number(_WIDTH, WIDTH_CM, example=152)
    width_in = Number(_WIDTH, WIDTH_CM.in_inches(), example=60)
    thickness_mm = Number(
        "Thickness of the grey cloth under the tension of winding",
        CONSTRUCTION_BOUNDS["/thickness_mm"],
        example=0.5,
    )
    selvedge = Part(SelvedgeSchema(), "The edges of each panel", example={"ends_per_side": 24})
    panels = WholeNumber("Panels woven side by side", CONSTRUCTION_BOUNDS["/panels"], example=1)
    panel_gap_cm = Number(
        "Reed width left between two panels", CONSTRUCTION_BOUNDS["/panel_gap_cm"], example=2
    )
    length_m = Number(_LENGTH, CONSTRUCTION_BOUNDS["/length_m"], example=3_000)
    length_yd = Number(_LENGTH, CONSTRUCTION_BOUNDS["/length_m"].in_inches(), example=3_300)
    reed = Part(ReedSchema(), "The reed requested", example={"dents_per_10cm": 160})
    draft = Part(DraftSchema(), "The drawing-in requested", example={"threading": "straight"})
    finishing = Part(
        FinishingSchema(), "What happens after the loom", example={"width_shrinkage_pct": 4}
    )
    allowances = Part(
        AllowancesSchema(), "Waste, size and loom waste", example={"warp_waste_pct": 1.5}
    )
    requested_speed_picks_per_min = Number(
        "Speed at which the order is planned", SPEED_PICKS_PER_MIN, example=520
    )
    order = Part(
        PieceOrderSchema(),
        "The order in pieces of finished cloth, in place of length_m",
        example={"pieces": 20, "piece_length_m": 60},
    )
    requirements = Part(
        RequirementsSchema(),
        "What the customer requires of the finished cloth",
        example={"mass_g_per_m2": {"min": 170, "max": 185}},
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require width and length in one unit only, and thread orders that go with the yarns."""
        yield from exactly_one(
            given,
            "width_cm",
            "width_in",
            words=say("part.the_width", "the width"),
            at_start=say("part.the_width_at_start", "The width"),
        )
        yield from at_most_one(
            given, "order", "length_m", "length_yd", words=say("part.the_length", "the length")
        )
        yield from _warp_order_faults(given)
        stated: StatedWeave | None = values.get("weave")
        if stated is not None and stated.design is not None and stated.design.design.wefts:
            yield from _design_weft_faults(given, stated.design)
        elif not _names_wefts(given.get("weave")):
            yield from _weft_order_faults(given)

    def build(self, values: dict[str, Any], given: Mapping[str, Any], /) -> Construction:
        """Make the construction in metric units; keep which fields were stated in inches."""
        if "width_in" in values:
            values["width_cm"] = values.pop("width_in") * CM_PER_INCH
        if "length_yd" in values:
            values["length_m"] = values.pop("length_yd") * M_PER_YARD
        stated: StatedWeave = values.pop("weave")
        if stated.design is not None and stated.design.weft_order:
            values["weft"] = replace(values["weft"], order=stated.design.weft_order)
        return Construction(
            weave=stated.weave,
            weave_notes=stated.notes,
            design=stated.design,
            inch_fields=_inch_fields(given),
            **values,
        )


def _names_wefts(weave: object) -> bool:
    """Whether a weave, good or not, is a design that names its wefts."""
    design = weave.get("design") if isinstance(weave, dict) else None
    return isinstance(design, dict) and design.get("wefts") is not None


def _weft_order_faults(given: Mapping[str, Any]) -> Iterator[Fault]:
    """Require an order that goes with the weft's yarns."""
    weft = given.get("weft")
    if isinstance(weft, dict):
        stated = {name: value for name, value in weft.items() if value is not None}
        for fault in order_faults(stated, _readable_order(stated), "yarns"):
            yield replace(fault, pointer=f"/weft{fault.pointer}")


def _readable_order(stated: Mapping[str, Any]) -> dict[str, str]:
    order = stated.get("order")
    return {"order": order} if isinstance(order, str) and 0 < len(order) <= LONGEST_TEXT else {}


def _design_weft_faults(given: Mapping[str, Any], lifts: HookLifts) -> Iterator[Fault]:
    """Require the yarns of a design's wefts, whose order follows from it."""
    weft = given.get("weft")
    if not isinstance(weft, dict):
        return
    keys, yarns = sorted(lifts.design.wefts), weft.get("yarns")
    if isinstance(yarns, dict) and sorted(yarns) != keys:
        message = say(
            "fault.design.wefts_unlike_yarns",
            "The yarns of the weft must be those of the design's wefts.",
        )
        yield Fault("/weft/yarns", message, sorted(yarns)[:MOST_YARNS], keys)
    if weft.get("order") is not None:
        message = say(
            "fault.design.order_of_weft",
            "Leave order out: it follows from the wefts of the design.",
        )
        yield Fault("/weft/order", message, weft["order"])
    if len(lifts.weft_order) > LONGEST_TEXT:
        message = say(
            "fault.design.figuring_wefts_too_often",
            "The figuring wefts come and go too often; insert them on every line.",
        )
        yield Fault("/weave/design/wefts", message, None, "insert: every_line")
    missing = [key for key, picks in lifts.picks_by_weft.items() if not picks]
    for key in missing:
        message = say(
            "fault.design.weft_not_shown",
            "No effect shows weft {weft}, so that it is never inserted; leave it out.",
            weft=key,
        )
        yield Fault(f"/weave/design/wefts/{key}", message, key)


def _warp_order_faults(given: Mapping[str, Any]) -> Iterator[Fault]:
    """Require an order that goes with the warp's yarns, and a selvedge yarn that is one of them."""
    warp, selvedge = given.get("warp"), given.get("selvedge")
    if not isinstance(warp, dict):
        return
    yarn = selvedge.get("yarn") if isinstance(selvedge, dict) else None
    spare = yarn if isinstance(yarn, str) else None
    stated = {name: value for name, value in warp.items() if value is not None}
    for fault in order_faults(stated, _readable_order(stated), "yarns", spare=spare):
        yield replace(fault, pointer=f"/warp{fault.pointer}")
    yarns = stated.get("yarns")
    if spare is not None and isinstance(yarns, dict) and spare not in yarns:
        yield unknown_selvedge_yarn(spare, yarns)


def _inch_fields(given: Mapping[str, Any]) -> frozenset[str]:
    found = {f"/{name}" for name in ("width_in", "length_yd") if given.get(name) is not None}
    for part, name in (("warp", "ends_per_in"), ("weft", "picks_per_in")):
        if given[part].get(name) is not None:
            found.add(f"/{part}/{name}")
    return frozenset(found)
