"""The construction as JSON: every field with its bounds, its unit and its meaning."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any, Final

from weavability.looms.reeds import dents_per_10cm, reed_systems
from weavability.service.schemas.base import Body, Part, at_most_one, exactly_one
from weavability.service.schemas.fields import (
    Choice,
    Described,
    Flag,
    Items,
    Number,
    Shape,
    Text,
    WholeNumber,
    escape,
    read_all,
)
from weavability.service.schemas.weave_schema import StatedWeave, WeaveField
from weavability.textiles.assumptions import Ledger
from weavability.textiles.construction import (
    Allowances,
    Construction,
    DraftRequest,
    Finishing,
    Reed,
    Selvedge,
    Stage,
    ThreadSystem,
)
from weavability.textiles.designations import LONGEST_DESIGNATION
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.thread_order import parse_order
from weavability.textiles.units import CM_PER_INCH, M_PER_YARD
from weavability.textiles.yarns import BOUNDS, Yarn, resolve_yarn

MOST_YARNS: Final = 64
LONGEST_DRAFT: Final = 20_000
YARN_KEY: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,31}")


_YARN_BOUNDS: Final = {name: (least, most) for name, least, most in BOUNDS}


def _yarn_number(name: str, description: str, *, example: float, unit: str | None = None) -> Number:
    least, most = _YARN_BOUNDS[name]
    return Number(description, unit=unit, example=example, minimum=least, maximum=most)


@lru_cache(maxsize=4096)
def _yarn_faults(yarn: Yarn) -> tuple[Fault, ...]:
    """Ask the domain whether it can read the yarn; the same yarns come back order after order."""
    try:
        resolve_yarn(yarn, Ledger())
    except InputError as error:
        return error.faults
    return ()


class YarnSchema(Body[Yarn]):
    """One yarn: count (designation or linear density), fibre, and what else is known of it."""

    title = "Yarn"
    makes = Yarn

    designation = Text(
        "Count as the trade writes it", example="Ne 40/2", longest=LONGEST_DESIGNATION
    )
    linear_density_tex = _yarn_number(
        "linear_density_tex",
        "Linear density of the yarn, in place of a designation",
        unit="tex",
        example=29.5,
    )
    fibre = Text("Fibre or blend", example="cotton", longest=80)
    colour = Text(
        "Colour as #rrggbb",
        example="#1c2a4a",
        longest=7,
        pattern="#[0-9A-Fa-f]{6}",
        pattern_words="a # and six hexadecimal digits",
    )
    fibre_density_g_per_cm3 = _yarn_number(
        "fibre_density_g_per_cm3", "Density of the fibre substance", unit="g/cm3", example=1.52
    )
    packing_fraction = _yarn_number(
        "packing_fraction", "Share of the yarn's cross-section that is fibre", example=0.6
    )
    diameter_mm = _yarn_number(
        "diameter_mm", "Measured diameter, in place of the packing fraction", unit="mm", example=0.2
    )
    tenacity_cn_per_tex = _yarn_number(
        "tenacity_cn_per_tex", "Mean breaking force per linear density", unit="cN/tex", example=15
    )
    strength_cv_pct = _yarn_number(
        "strength_cv_pct", "Coefficient of variation of the breaking force", unit="%", example=9
    )
    breaking_elongation_pct = _yarn_number(
        "breaking_elongation_pct", "Mean elongation at break", unit="%", example=6
    )
    folding_take_up_pct = _yarn_number(
        "folding_take_up_pct",
        "Shortening of the singles in folding, on their length",
        unit="%",
        example=2,
    )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> Yarn:
        """Make the yarn, once the domain can read it."""
        yarn = Yarn(**values)
        faults = _yarn_faults(yarn)
        if faults:
            raise InputError(faults)
        return yarn


class YarnMap(Described[dict[str, Yarn]]):
    """Yarns by the key that the thread order uses for them."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example, required=True)
        self.schema = YarnSchema()

    def allowed(self) -> str:
        """Say how many and what the keys are."""
        return (
            f"an object of 1 to {MOST_YARNS} yarns; each key a letter, then letters, digits or _, "
            'such as {"A": {"designation": "Ne 40/2", "fibre": "cotton"}}'
        )

    def parts(self) -> Iterable[Body[Any]]:
        """Return the schema of a yarn."""
        return (self.schema,)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "object",
            "minProperties": 1,
            "maxProperties": MOST_YARNS,
            "propertyNames": {"pattern": f"^{YARN_KEY.pattern}$"},
            "additionalProperties": {"$ref": f"#/components/schemas/{YarnSchema.title}"},
        }

    def take(self, value: Any) -> dict[str, Yarn]:
        """Read a value, strictly."""
        if not isinstance(value, dict) or not 1 <= len(value) <= MOST_YARNS:
            raise InputError.of(
                "",
                f"{self.label} must be an object of 1 to {MOST_YARNS} yarns by key.",
                given=value,
                allowed=self.allowed(),
            )
        for key in value:
            if not YARN_KEY.fullmatch(key):
                raise InputError.of(
                    f"/{escape(key)}",
                    "A yarn's key must be a letter, then letters, digits or _, at most 32.",
                    given=key,
                    allowed="A",
                )
        # Sorted, because the order of the keys must not change the report.
        return dict(read_all(sorted(value.items()), self.schema.read))


_WARP_YARNS: Final = {"A": {"designation": "Ne 40/2", "fibre": "cotton"}}
_WEFT_YARNS: Final = {"A": {"designation": "Ne 20", "fibre": "cotton"}}


class _ThreadSystemSchema(Body[ThreadSystem]):
    """What warp and weft have in common."""

    _threads: str

    yarns = YarnMap("Yarns by their key in the thread order", example=_WARP_YARNS)
    order = Text(
        "Thread order, with groups where there are any: `24A 4B`, `3(2A 2B) 4C`; "
        "needed where there is more than one yarn",
        example="24A 4B 24A 8B",
        longest=2_000,
    )
    crimp_pct = Number(
        "Crimp on the length of the grey cloth, (yarn - cloth) / cloth",
        unit="%",
        example=8,
        minimum=0,
        maximum=300,
    )

    def presence(self, names: frozenset[str], /) -> Iterator[Fault]:
        """Require the sett in exactly one unit."""
        yield from exactly_one(
            names, f"{self._threads}_per_cm", f"{self._threads}_per_in", words="the sett"
        )

    def coherence(self, values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require an order where the yarns do not tell it; each of its keys must be a yarn."""
        if "order" in values:
            yield from _order_faults(values["order"], values["yarns"])
        elif len(values["yarns"]) > 1:
            keys = " ".join(f"4{key}" for key in values["yarns"])
            yield Fault(
                "/order",
                f"Give order: with {len(values['yarns'])} yarns it must be said which lies where.",
                None,
                f"a thread order such as {keys[:200]!r}",
            )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> ThreadSystem:
        """Make warp or weft, threads per inch converted."""
        per_cm = values.pop(f"{self._threads}_per_cm", None)
        per_in = values.pop(f"{self._threads}_per_in", None)
        threads_per_cm = per_cm if per_cm is not None else per_in / CM_PER_INCH
        return ThreadSystem(threads_per_cm=threads_per_cm, **values)


def _order_faults(order: str, yarns: Mapping[str, Yarn]) -> Iterator[Fault]:
    try:
        parse_order(order, known=yarns.keys())
    except InputError as error:
        yield from error.below("/order").faults


def _sett(words: str, *, per: str, example: float, scale: float) -> Number:
    return Number(
        f"{words.capitalize()} per {per} at the stated stage",
        unit=f"{words}/{per}",
        example=example,
        minimum=0.5 * scale,
        maximum=500 * scale,
    )


class WarpSchema(_ThreadSystemSchema):
    """The warp: yarns, their order, and the sett: exactly one of ends_per_cm and ends_per_in."""

    title = "Warp"
    _threads = "ends"

    ends_per_cm = _sett("ends", per="cm", example=32, scale=1)
    ends_per_in = _sett("ends", per="in", example=80, scale=CM_PER_INCH)


class WeftSchema(_ThreadSystemSchema):
    """The weft: yarns, their order, and the sett: exactly one of picks_per_cm and picks_per_in."""

    title = "Weft"
    _threads = "picks"

    picks_per_cm = _sett("picks", per="cm", example=24, scale=1)
    picks_per_in = _sett("picks", per="in", example=60, scale=CM_PER_INCH)


class SelvedgeSchema(Body[Selvedge]):
    """The edges of each panel."""

    title = "Selvedge"
    makes = Selvedge

    ends_per_side = WholeNumber(
        "Extra ends at each side of each panel", unit="ends", example=24, minimum=0, maximum=2_000
    )
    ends_per_dent = WholeNumber(
        "Selvedge ends in one dent; as the ground where not given",
        unit="ends",
        example=4,
        minimum=1,
        maximum=24,
    )
    shafts = WholeNumber(
        "Shafts of its own that the selvedge weave needs",
        unit="shafts",
        example=2,
        minimum=0,
        maximum=8,
    )


class ReedSchema(Body[Reed]):
    """The reed that the order asks for: dents_per_10cm, or count and system.

    It holds ends_per_dent everywhere, or the repeat of an uneven denting.
    """

    title = "Reed"
    makes = Reed

    dents_per_10cm = Number(
        "Dents in 10 cm of the reed", unit="dents/10 cm", example=160, minimum=5, maximum=1_000
    )
    count = Number(
        "The reed in another counting system, in place of dents_per_10cm",
        unit="as its system counts",
        example=60,
        minimum=0.1,
        maximum=2_000,
    )
    system = Text("Counting system of count", example="stockport", longest=40)
    ends_per_dent = WholeNumber(
        "Ends drawn into one dent", unit="ends", example=2, minimum=1, maximum=24
    )
    ends_in_dents = Items(
        WholeNumber("Ends in a dent", unit="ends", example=2, minimum=0, maximum=24),
        "One repeat of an uneven denting: ends in each dent, 0 for an empty one",
        fewest=1,
        most=1_000,
    )
    wire_share_pct = Number(
        "Share of a dent that its wire takes", unit="%", example=35, minimum=5, maximum=90
    )

    def presence(self, names: frozenset[str], /) -> Iterator[Fault]:
        """Take the reed and its denting in one form each; a count is nothing without its system."""
        yield from at_most_one(names, "dents_per_10cm", "count", words="the reed")
        yield from at_most_one(names, "ends_per_dent", "ends_in_dents", words="the denting")
        if "count" in names and "system" not in names:
            systems = sorted(reed_systems())
            yield Fault("/system", "Give system: by it the count is counted.", None, systems)
        if "system" in names and "count" not in names:
            yield Fault("/count", "Give count: system says how it is counted.")

    def coherence(self, values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Ask the domain for the counting system."""
        if "count" in values:
            try:
                dents_per_10cm(values["count"], system=values["system"])
            except InputError as error:
                yield from error.faults


_NAMED_THREADING: Final = Text("Named draft", example="straight", longest=80)
_SHAFT: Final = WholeNumber("Shaft of an end", example=1, minimum=1, maximum=64)


class Threading(Described[str | tuple[int, ...]]):
    """A named draft, or the shaft of every end of the repeat."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example, required=True)

    def allowed(self) -> str:
        """Say both forms."""
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

    def take(self, value: Any) -> str | tuple[int, ...]:
        """Read a value, strictly."""
        if isinstance(value, str):
            return _NAMED_THREADING.take(value)
        if isinstance(value, list) and 1 <= len(value) <= LONGEST_DRAFT:
            return self._shafts(value)
        raise InputError.of(
            "",
            f"{self.label} must be a named draft or a list of 1 to {LONGEST_DRAFT} shafts.",
            given=value,
            allowed=self.allowed(),
        )

    def _shafts(self, value: list[object]) -> tuple[int, ...]:
        wrong = [
            Fault(f"/{index}", "A shaft is a whole number from 1 to 64.", shaft, "1 to 64")
            for index, shaft in enumerate(value)
            if type(shaft) is not int or not 1 <= shaft <= 64
        ]
        if wrong:
            raise InputError(wrong)
        return tuple(shaft for shaft in value if isinstance(shaft, int))


class DraftSchema(Body[DraftRequest]):
    """The drawing-in that the order asks for."""

    title = "Draft"
    makes = DraftRequest

    threading = Threading(
        "Named draft, or the shaft (from 1) of every end of the repeat", example="straight"
    )


def _loss(words: str, example: float) -> Number:
    return Number(words, unit="%", example=example, minimum=-50, maximum=80)


class FinishingSchema(Body[Finishing]):
    """What happens to the cloth after the loom."""

    title = "Finishing"
    makes = Finishing

    width_shrinkage_pct = _loss("Loss of width from grey to finished, on the grey width", 4)
    length_shrinkage_pct = _loss("Loss of length from grey to finished, on the grey length", 3)
    relaxation_pct = _loss("Loss of length when the cloth leaves the loom's tension", 2)
    stabilised = Flag("A finish, or leno, that holds an open cloth together", example=False)


def _waste(words: str, example: float) -> Number:
    return Number(words, unit="%", example=example, minimum=0, maximum=100)


class AllowancesSchema(Body[Allowances]):
    """What is used beyond the yarn that lies in the cloth."""

    title = "Allowances"
    makes = Allowances

    warp_waste_pct = _waste("Warp yarn lost in preparation, on the warp woven", 1.5)
    weft_waste_pct = _waste("Weft yarn lost at package and stops, on the weft inserted", 2)
    size_pct = _waste("Size on the warp, on the mass of the unsized warp", 8)
    loom_waste_m = Number(
        "Warp lost at tying and at the end of the warp",
        unit="m",
        example=3,
        minimum=0,
        maximum=1_000,
    )


class ConstructionSchema(Body[Construction]):
    """A woven construction as an order states it.

    Exactly one of width_cm and width_in; at most one of length_m and length_yd. What is left out,
    or null, is assumed where it is needed, and listed in the report's assumptions.
    """

    title = "Construction"
    makes = Construction

    reference = Text(
        "The caller's own name of the order; returned in the report, never part of a link",
        example="SO-10482/1",
        longest=200,
    )
    stage = Choice(Stage, "Where sett, width and length were measured", example=Stage.GREY)
    warp = Part(
        WarpSchema(), "The warp", required=True, example={"yarns": _WARP_YARNS, "ends_per_cm": 32}
    )
    weft = Part(
        WeftSchema(), "The weft", required=True, example={"yarns": _WEFT_YARNS, "picks_per_cm": 24}
    )
    weave = WeaveField("The weave", example="2/2 twill Z")
    width_cm = Number(
        "Width of one panel at the stated stage, selvedges included",
        unit="cm",
        example=152,
        minimum=1,
        maximum=3_500,
    )
    width_in = Number(
        "Width of one panel at the stated stage, selvedges included",
        unit="in",
        example=60,
        minimum=0.4,
        maximum=1_400,
    )
    thickness_mm = Number(
        "Thickness of the grey cloth under the tension of winding",
        unit="mm",
        example=0.5,
        minimum=0.01,
        maximum=100,
    )
    selvedge = Part(SelvedgeSchema(), "The edges of each panel", example={"ends_per_side": 24})
    panels = WholeNumber("Panels woven side by side", example=1, minimum=1, maximum=100)
    panel_gap_cm = Number(
        "Reed width left between two panels", unit="cm", example=2, minimum=0, maximum=100
    )
    length_m = Number(
        "Cloth ordered, all panels together",
        unit="m",
        example=3_000,
        minimum=0.01,
        maximum=100_000_000,
    )
    length_yd = Number(
        "Cloth ordered, all panels together",
        unit="yd",
        example=3_300,
        minimum=0.01,
        maximum=100_000_000,
    )
    reed = Part(ReedSchema(), "The reed asked for", example={"dents_per_10cm": 160})
    draft = Part(DraftSchema(), "The drawing-in asked for", example={"threading": "straight"})
    finishing = Part(
        FinishingSchema(), "What happens after the loom", example={"width_shrinkage_pct": 4}
    )
    allowances = Part(
        AllowancesSchema(), "Waste, size and loom waste", example={"warp_waste_pct": 1.5}
    )
    requested_speed_picks_per_min = Number(
        "Speed at which the order is planned",
        unit="picks/min",
        example=520,
        minimum=1,
        maximum=10_000,
    )

    def presence(self, names: frozenset[str], /) -> Iterator[Fault]:
        """Require the width, and take the length, in one unit only."""
        yield from exactly_one(names, "width_cm", "width_in", words="the width")
        yield from at_most_one(names, "length_m", "length_yd", words="the length")

    def build(self, values: dict[str, Any], given: Mapping[str, Any], /) -> Construction:
        """Make the construction in metric units; keep which fields were stated in inches."""
        if "width_in" in values:
            values["width_cm"] = values.pop("width_in") * CM_PER_INCH
        if "length_yd" in values:
            values["length_m"] = values.pop("length_yd") * M_PER_YARD
        stated: StatedWeave = values.pop("weave")
        return Construction(
            weave=stated.weave,
            weave_notes=stated.notes,
            inch_fields=_inch_fields(given),
            **values,
        )


def _inch_fields(given: Mapping[str, Any]) -> frozenset[str]:
    found = {f"/{name}" for name in ("width_in", "length_yd") if given.get(name) is not None}
    for part, name in (("warp", "ends_per_in"), ("weft", "picks_per_in")):
        if given[part].get(name) is not None:
            found.add(f"/{part}/{name}")
    return frozenset(found)
