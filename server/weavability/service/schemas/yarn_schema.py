"""Yarns as JSON: one, several by their keys, and the thread order that names them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, Final, Generic, TypeVar

from marshmallow import ValidationError, fields

from weavability.service.schemas.base import Part, Recurring, at_most_one, exactly_one
from weavability.service.schemas.faults import escape, faults_of, refused
from weavability.service.schemas.fields import (
    THE_VALUE,
    Choice,
    Described,
    Flag,
    Number,
    Shape,
    Text,
)
from weavability.textiles.assumptions import Ledger
from weavability.textiles.bounds import LONGEST_YARN_KEY, MOST_YARNS, YARN_BOUNDS, YARN_KEY
from weavability.textiles.designation_parts import TwistDirection
from weavability.textiles.designations import LONGEST_DESIGNATION, parse_designation
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.fibres import Fibre, find_fibre
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.thread_order import parse_order
from weavability.textiles.yarns import Yarn, resolve_yarn

T = TypeVar("T")

_KEY: Final = f"a letter, then letters, digits or _, at most {LONGEST_YARN_KEY}"


def _unreadable(fibre: str | None, designation: str | None) -> Iterator[Fault]:
    """Read fibre and count apart, so that the faults of both are found."""
    faults: list[Fault] = []
    known: Fibre | None = None
    if fibre is not None:
        with collecting(faults, below="/fibre"):
            known = find_fibre(fibre)
    if faults:
        # A count that only lacks its fibre is not unreadable: it is read as that of cotton.
        known = find_fibre("cotton")
    if designation is not None:
        with collecting(faults, below="/designation"):
            parse_designation(designation, fibre=known)
    yield from faults


def colour_field(description: str, *, called: Sentence = THE_VALUE) -> Text:
    """Return the field of a colour."""
    return Text(
        description,
        example="#1c2a4a",
        longest=7,
        pattern="#[0-9A-Fa-f]{6}",
        pattern_words="a # and six hexadecimal digits",
        is_of_one_length=True,
        called=called,
    )


def _yarn_number(name: str, description: str, *, example: float) -> Number:
    return Number(description, YARN_BOUNDS[name], example=example)


class YarnSchema(Recurring[Yarn]):
    """One yarn: count (designation or linear density), fibre, and what else is known of it."""

    title = "Yarn"
    makes = Yarn
    most_kept = 4_096

    designation = Text(
        "Count as it is written in the trade", example="Ne 40/2", longest=LONGEST_DESIGNATION
    )
    linear_density_tex = _yarn_number(
        "linear_density_tex",
        "Linear density of the yarn, in place of a designation",
        example=29.5,
    )
    sample_length_m = _yarn_number(
        "sample_length_m", "Length of a sample that was weighed, in place of a count", example=100
    )
    sample_length_yd = _yarn_number(
        "sample_length_yd",
        "Length of that sample in yards: 120 for a lea of cotton, 80 for one of worsted",
        example=120,
    )
    sample_mass_g = _yarn_number("sample_mass_g", "Mass of that sample", example=1.97)
    sample_mass_grains = _yarn_number(
        "sample_mass_grains", "Mass of that sample in grains", example=25
    )
    fibre = Text(
        "Fibre or blend, with the style of the yarn if it has one: slub, chenille, core-spun, "
        "monofilament or tape",
        example="cotton",
        longest=80,
    )
    colour = colour_field("Colour as #rrggbb")
    fibre_density_g_per_cm3 = _yarn_number(
        "fibre_density_g_per_cm3", "Density of the fibre substance", example=1.52
    )
    packing_fraction = _yarn_number(
        "packing_fraction", "Share of the yarn's cross-section that is fibre", example=0.6
    )
    diameter_mm = _yarn_number(
        "diameter_mm", "Measured diameter, in place of the packing fraction", example=0.2
    )
    tenacity_cn_per_tex = _yarn_number(
        "tenacity_cn_per_tex", "Mean breaking force per linear density", example=15
    )
    strength_cv_pct = _yarn_number(
        "strength_cv_pct", "Coefficient of variation of the breaking force", example=9
    )
    breaking_elongation_pct = _yarn_number(
        "breaking_elongation_pct", "Mean elongation at break", example=6
    )
    folding_take_up_pct = _yarn_number(
        "folding_take_up_pct",
        "Shortening of the singles in folding, on their length",
        example=2,
    )
    crimp_pct = _yarn_number(
        "crimp_pct",
        "Crimp of this yarn in the cloth, on the length of the grey cloth; "
        "in place of that of warp or weft",
        example=12,
    )
    contraction_pct = _yarn_number(
        "contraction_pct",
        "Contraction of this yarn in the cloth, on its own length; in place of crimp_pct",
        example=10.7,
    )
    twist_per_m = _yarn_number(
        "twist_per_m",
        "Turns per metre of the yarn as it is woven, 0 for none; needs twist_direction",
        example=800,
    )
    twist_direction = Choice(TwistDirection, "Direction of the twist", example=TwistDirection.Z)
    sized = Flag("Whether the yarn is sized as warp", example=True)
    monofilament = Flag("Whether the yarn is one filament", example=False)
    elastane_draft = _yarn_number(
        "elastane_draft",
        "Length of the elastane in the yarn over its length at rest; of elastane alone, as it is "
        "woven",
        example=3,
    )
    tape_width_mm = _yarn_number(
        "tape_width_mm", "Width of a tape or spread tow, in place of a diameter", example=2.5
    )
    tape_thickness_mm = _yarn_number(
        "tape_thickness_mm", "Thickness of a tape or spread tow", example=0.05
    )
    flattening_ratio = _yarn_number(
        "flattening_ratio", "Width over thickness of a yarn that lies flat in the cloth", example=6
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require the count and take the diameter in one form; ask the core for fibre and count."""
        faults = [
            *_count_faults(given),
            *at_most_one(
                given,
                "diameter_mm",
                "packing_fraction",
                words=say("part.the_diameter", "the diameter"),
            ),
            *at_most_one(
                given, "crimp_pct", "contraction_pct", words=say("part.the_crimp", "the crimp")
            ),
        ]
        of_core: list[Fault] = []
        if not faults and self.all_good(values, given):
            with collecting(of_core):
                resolve_yarn(self.makes(**values), Ledger(keeps=False))
            if not of_core:
                return
        # The core stops at the first of the two that it cannot read.
        faults.extend(_unreadable(values.get("fibre"), values.get("designation")))
        yield from faults or of_core


_SAMPLE_LENGTH: Final = ("sample_length_m", "sample_length_yd")
_SAMPLE_MASS: Final = ("sample_mass_g", "sample_mass_grains")


def _count_faults(given: Mapping[str, Any]) -> Iterator[Fault]:
    """Require the count in one form; a sample has one length and one mass."""
    sample = [name for name in (*_SAMPLE_LENGTH, *_SAMPLE_MASS) if name in given]
    forms = ("designation", "linear_density_tex", *sample[:1])
    # A monofilament has the count of its diameter; whether it is one, the core knows.
    if "diameter_mm" not in given or any(name in given for name in forms):
        yield from exactly_one(
            given,
            *forms,
            words=say("part.the_count", "the count"),
            at_start=say("part.the_count_at_start", "The count"),
        )
    yield from at_most_one(
        given,
        *_SAMPLE_LENGTH,
        words=say("part.the_length_of_the_sample", "the length of the sample"),
    )
    yield from at_most_one(
        given, *_SAMPLE_MASS, words=say("part.the_mass_of_the_sample", "the mass of the sample")
    )


class YarnKey(Described[str]):
    """The name of a yarn in a thread order."""

    def allowed(self) -> str:
        """Return what a key is made of."""
        return f"{_KEY} in all"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"type": "string", "maxLength": LONGEST_YARN_KEY, "pattern": f"^{YARN_KEY.pattern}$"}

    def _deserialize(self, value: Any, *_: object, **__: object) -> str:
        if not isinstance(value, str) or not YARN_KEY.fullmatch(value):
            raise refused(
                Fault(
                    "",
                    say("fault.yarn.not_a_key", "A yarn's key must be {rule}.", rule=_KEY),
                    value,
                    "A",
                )
            )
        return str(value)


class ByYarn(Described[Any], fields.Dict, Generic[T]):
    """An object with a member for each yarn, by the key that the thread order uses for it."""

    value_field: Described[T]

    def __init__(self, member: Described[T], description: str, *, example: object) -> None:
        super().__init__(
            description,
            example=example,
            required=True,
            keys=YarnKey("Key of a yarn", example="A"),
            values=member,
        )

    def parts(self) -> Iterable[Any]:
        """Return the object schemas of the members."""
        return self.value_field.parts()

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "object",
            "minProperties": 1,
            "maxProperties": MOST_YARNS,
            "propertyNames": {"pattern": f"^{YARN_KEY.pattern}$"},
            "additionalProperties": self.value_field.kind(),
        }

    def _deserialize(self, value: Any, *args: Any, **more: Any) -> Any:
        if not isinstance(value, dict) or not 1 <= len(value) <= MOST_YARNS:
            raise self.not_allowed(value)
        # Sorted, because the order of the keys must not change the report.
        try:
            members = dict(sorted(value.items()))
            return super()._deserialize(members, *args, **more)  # type: ignore[no-untyped-call]
        except ValidationError as error:
            raise refused(*_of_members(error)) from None


def _of_members(error: ValidationError) -> Iterator[Fault]:
    """Yield the faults of keys and values alike, at the member's own pointer."""
    for name, sides in error.messages_dict.items():
        for side in sides.values():
            for fault in faults_of(ValidationError(side)):
                yield replace(fault, pointer=f"/{escape(name)}{fault.pointer}")


class YarnMap(ByYarn[Yarn]):
    """Yarns by the key that the thread order uses for them."""

    def __init__(self, description: str, *, example: object) -> None:
        called = say("part.the_yarn", "the yarn")
        yarn = Part(YarnSchema(), "A yarn", example={}, called=called)
        super().__init__(yarn, description, example=example)

    def allowed(self) -> str:
        """Return how many and what the keys are."""
        return (
            f"an object of 1 to {MOST_YARNS} yarns; each key a letter, then letters, digits or _, "
            'such as {"A": {"designation": "Ne 40/2", "fibre": "cotton"}}'
        )


def order_faults(
    given: Mapping[str, Any],
    values: Mapping[str, Any],
    of_yarn: str,
    *,
    spare: str | None = None,
) -> Iterator[Fault]:
    """Require an order if there are several yarns; each of its keys must be a yarn.

    Yarns that are faulty themselves count as well: only their keys matter here.

    Args:
        given: The JSON object, without what is null.
        values: Its good values.
        of_yarn: Name of the field that has a member for each yarn.
        spare: A yarn that may be missing from the order.
    """
    named = given.get(of_yarn)
    if not isinstance(named, dict) or not 1 <= len(named) <= MOST_YARNS:
        return
    keys = sorted(named)
    if not all(map(YARN_KEY.fullmatch, keys)):
        return
    if "order" in values:
        faults: list[Fault] = []
        with collecting(faults, below="/order"):
            parse_order(values["order"], known=keys, spare=() if spare is None else (spare,))
        yield from faults
    elif "order" not in given and len([key for key in keys if key != spare]) > 1:
        message = say(
            "fault.thread_order.missing",
            "order is missing: with {yarns} {of_yarn} the thread order must be stated.",
            yarns=len(keys),
            of_yarn=of_yarn,
        )
        example = " ".join(f"4{key}" for key in keys)
        yield Fault("/order", message, None, f"a thread order such as {example[:200]!r}")
