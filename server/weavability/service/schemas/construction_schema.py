"""The construction as JSON: every field with its bounds, its unit and its meaning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

from weavability.service.schemas.base import Body, Part, at_most_one, exactly_one
from weavability.service.schemas.design_schema import OrderedWeave
from weavability.service.schemas.fields import (
    Choice,
    Flag,
    Items,
    Number,
    Text,
    WholeNumber,
)
from weavability.service.schemas.order_schema import PieceOrderSchema, RequirementsSchema
from weavability.service.schemas.reed_and_draft_schema import DraftSchema, ReedSchema
from weavability.service.schemas.thread_system_schema import (
    WARP_YARNS,
    WEFT_YARNS,
    WarpSchema,
    WeftSchema,
)
from weavability.service.schemas.weave_schema import (
    RowsSchema,
    StatedWeave,
    WordsOrObject,
)
from weavability.service.schemas.yarn_schema import order_faults
from weavability.textiles.bounds import (
    CONSTRUCTION_BOUNDS,
    MOST_YARNS,
    SPEED_PICKS_PER_MIN,
    WIDTH_CM,
)
from weavability.textiles.construction import (
    Allowances,
    Construction,
    Finish,
    Finishing,
    Joined,
    Layers,
    Selvedge,
    Stage,
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
from weavability.textiles.units import CM_PER_INCH, M_PER_YARD

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


_WIDTH: Final = (
    "Width of one panel at the stated stage, selvedges included; what very wide ones have beyond "
    "usual ones is beside it"
)
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
        WarpSchema(), "The warp", required=True, example={"yarns": WARP_YARNS, "ends_per_cm": 32}
    )
    weft = Part(
        WeftSchema(), "The weft", required=True, example={"yarns": WEFT_YARNS, "picks_per_cm": 24}
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
    """Return whether a weave, good or not, is a design that names its wefts."""
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
