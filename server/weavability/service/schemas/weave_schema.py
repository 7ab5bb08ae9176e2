"""The ``weave`` field: a notation in words, or an object in one of several forms."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from marshmallow import ValidationError

from weavability.service.http.suggestions import did_you_mean
from weavability.service.schemas.base import Body, Part, described
from weavability.service.schemas.faults import escape, faults_of, refused, refused_by_core
from weavability.service.schemas.fields import (
    TEXT_PATTERN,
    Described,
    Items,
    Shape,
    Text,
    Titled,
    WholeNumber,
    figure,
)
from weavability.textiles.assumptions import Assumption, Grade, Ledger, ValueBand
from weavability.textiles.bounds import Bounds
from weavability.textiles.drafting import Draft, draft_from_lift_plan, draft_from_treadling
from weavability.textiles.errors import Fault, pointing_below
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.notation import MAX_TEXT_LENGTH, parse_weave
from weavability.textiles.point_paper_image import DARK_BELOW, weave_from_base64
from weavability.textiles.sentences import say
from weavability.textiles.stripes import MAX_STRIPES, Stripe, striped_weave
from weavability.textiles.weave_code import EXAMPLE, MAX_CODE_LENGTH, weave_from_code
from weavability.textiles.weave_matrix import MAX_SIDE, Weave

LONGEST_IMAGE: Final = 24 * 2**20
"""Characters of base64: 18 MiB, a one-bit picture of the largest design even uncompressed."""

_MOST_NAMED: Final = 10
_SQUARES: Final = ["1100", "0110", "0011", "1001"]
_PICTURE: Final = (
    "iVBORw0KGgoAAAANSUhEUgAAAAQAAAAEAQAAAACBiqPTAAAAEElEQVR42mNIYDjAdIH5BQAJzgLe8rLf2gAAAABJRU5E"
    "rkJggg=="
)
_STRIPES: Final[list[object]] = [
    {"weave": "plain", "ends": 40},
    {"weave": "5-end satin move 2", "ends": 60},
]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedWeave:
    """A weave as it was stated.

    Attributes:
        weave: The weave.
        notes: What its statement left open; pointers are relative to it.
        draft: The draft by which it was stated, if it was.
        design: The figured design that it is, if it is one.
    """

    weave: Weave
    notes: tuple[Assumption, ...] = ()
    draft: Draft | None = None
    design: HookLifts | None = None

    @classmethod
    def of_draft(cls, draft: Draft) -> StatedWeave:
        """Weave a draft."""
        return cls(weave=draft.cloth(), draft=draft)


class Rows(Described[tuple[str, ...]]):
    """A matrix as strings of 1 and 0; the domain judges the rows that are strings."""

    def __init__(self, description: str, *, example: list[str], required: bool = True) -> None:
        super().__init__(description, example=example, required=required)

    def allowed(self) -> str:
        """Return what the rows are."""
        return f"a list of strings of 1 and 0, 1 to {figure(MAX_SIDE)}, such as {self.example}"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "array",
            "minItems": 1,
            "maxItems": MAX_SIDE,
            "items": {"type": "string", "pattern": "^[01]+$", "maxLength": MAX_SIDE},
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> tuple[str, ...]:
        if not isinstance(value, list) or not 1 <= len(value) <= MAX_SIDE:
            raise self.not_allowed(value)
        wrong = [
            Fault(
                f"/{index}",
                say("fault.weave.row_not_text", "Each row must be a string of 1 and 0."),
                row,
                "1100",
            )
            for index, row in enumerate(value)
            if not isinstance(row, str)
        ]
        if wrong:
            raise refused(*wrong)
        return tuple(value)


class Picture(Described[str]):
    """A picture in base64, bounded by its length."""

    def allowed(self) -> str:
        """Return what is encoded, and how long it may be."""
        return f"a PNG file in base64, 1 to {figure(LONGEST_IMAGE)} characters"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "string",
            "minLength": 1,
            "maxLength": LONGEST_IMAGE,
            "pattern": r"^[A-Za-z0-9+/\s]+={0,2}\s*$",
            "contentEncoding": "base64",
            "contentMediaType": "image/png",
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> str:
        if not isinstance(value, str) or not 1 <= len(value) <= LONGEST_IMAGE:
            raise self.not_allowed(value)
        return value


class Form(Body[StatedWeave]):
    """One way to write a weave as an object; its required fields distinguish it from the others."""

    @property
    def example(self) -> Mapping[str, object]:
        """An object of this form."""
        return {name: described(field).example for name, field in self.needed.items()}


class RowsSchema(Form):
    """The matrix: one string a pick, first pick first; 1 = warp up, first end first."""

    title = "WeaveAsRows"

    rows = Rows("One string a pick, first pick first, 1 = warp up", example=_SQUARES)

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Make the weave."""
        return StatedWeave(weave=Weave.from_rows(values["rows"]))


class CodeSchema(Form):
    """A weave code of the form of ISO 9354: kind, up and down, threads together, move.

    The digits of the kinds are from memory, not from the standard; the report names the weave that
    was read.
    """

    title = "WeaveAsCode"

    code = Text(
        "Weave code: two digits of the kind, warp up and down, threads together, move",
        example=EXAMPLE,
        longest=MAX_CODE_LENGTH,
        required=True,
    )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Read the code."""
        with pointing_below("/code"):
            return StatedWeave(weave=weave_from_code(values["code"]))


def _places(description: str, thread: str, *, example: list[int]) -> Items[int]:
    each = WholeNumber(f"{thread} of one thread", Bounds(1, MAX_SIDE), example=1)
    return Items(each, description, fewest=1, most=MAX_SIDE, example=example, required=True)


class LiftPlanSchema(Form):
    """Threading and lift plan: the shaft of every end, and the shafts that each pick lifts.

    In a construction they only define the weave; its draft field requests a drawing-in.
    """

    title = "WeaveAsLiftPlan"

    threading = _places("Shaft of every end of the repeat, from 1", "Shaft", example=[1, 2, 3, 4])
    lift_plan = Rows("One string a pick, one character a shaft, 1 = lifted", example=_SQUARES)

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Weave the draft."""
        return StatedWeave.of_draft(draft_from_lift_plan(**values))


class TieUpSchema(Form):
    """Threading, tie-up and treadling: shaft of every end, shafts of a treadle, treadle of a pick.

    The tie-up has one string a treadle, first treadle first.
    """

    title = "WeaveAsTieUp"

    threading = _places("Shaft of every end of the repeat, from 1", "Shaft", example=[1, 2, 3, 4])
    tie_up = Rows("One string a treadle, one character a shaft, 1 = lifted", example=_SQUARES)
    treadling = _places("Treadle of every pick, from 1", "Treadle", example=[1, 2, 3, 4])

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Weave the draft."""
        return StatedWeave.of_draft(draft_from_treadling(**values))


class ImageSchema(Form):
    """Point paper as a PNG picture: one pixel an interlacing, dark = warp up.

    Grey of 1 to 8 bits, or with a palette; at most 12 000 by 12 000 pixels. The bottom line is the
    first pick, the left column the first end.
    """

    title = "WeaveAsImage"

    image_png = Picture("The PNG file in base64", example=_PICTURE, required=True)
    dark_below = WholeNumber(
        "Luminance, 0 to 255, below which a pixel is dark",
        Bounds(1, 255, "of 255"),
        example=DARK_BELOW,
    )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Read the picture."""
        ledger = Ledger()
        dark_below = ledger.take(
            "/dark_below",
            values.get("dark_below"),
            DARK_BELOW,
            unit="of 255",
            reason=say(
                "assumption.weave_image.dark_below",
                "pixels darker than the middle grey are raised ends; [COMMON-PRACTICE]",
            ),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(64, 192),
        )
        with pointing_below("/image_png"):
            weave = weave_from_base64(values["image_png"], dark_below=dark_below)
        return StatedWeave(weave=weave, notes=tuple(ledger))


class WordsOrObject(Described[StatedWeave]):
    """A weave in words, or as an object of one of several forms."""

    def __init__(
        self,
        description: str,
        *,
        example: object,
        forms: Sequence[Form],
        required: bool = True,
    ) -> None:
        super().__init__(description, example=example, required=required)
        self.forms = forms

    def allowed(self) -> str:
        """Name the forms."""
        forms = ", ".join(f"{{{_members(form)}}}" for form in self.forms)
        return f'a notation such as "2/2 twill Z", or an object in one of the forms {forms}'

    def parts(self) -> Iterable[Titled]:
        """Return the schemas of the forms."""
        return self.forms

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return _any_form(self.forms)

    def _deserialize(self, value: Any, *_: object, **__: object) -> StatedWeave:
        if isinstance(value, str):
            with refused_by_core():
                return _notation(value)
        if isinstance(value, dict):
            return self._object({name: each for name, each in value.items() if each is not None})
        raise self.refusal(
            say(
                "fault.weave.not_text_or_object",
                "{field} must be a notation or an object.",
                field=self.label,
            ),
            value,
        )

    def _object(self, given: Mapping[str, Any]) -> StatedWeave:
        """Read an object by its form; with unknown members, for the faults of the others alone."""
        strangers = list(_strangers(given, self.forms))
        known = {name: each for name, each in given.items() if self._knows(name)}
        form = self._form(known)
        if form is None:
            raise refused(*strangers) if strangers else self._no_form(known)
        try:
            read: StatedWeave = form.load(known)
        except ValidationError as error:
            raise refused(*strangers, *faults_of(error)) from None
        if strangers:
            raise refused(*strangers)
        return read

    def _knows(self, name: str) -> bool:
        return any(name in form.fields for form in self.forms)

    def _meant(self, given: Mapping[str, Any]) -> list[Form]:
        """Return the forms that have every member that is given."""
        return [form for form in self.forms if given and given.keys() <= form.fields.keys()]

    def _form(self, given: Mapping[str, Any]) -> Form | None:
        """Find the form that an object has, or is meant to have."""
        meant = self._meant(given)
        whole = [form for form in meant if given.keys() >= form.needed.keys()]
        return (whole or meant)[0] if whole or len(meant) == 1 else None

    def _no_form(self, given: Mapping[str, Any]) -> ValidationError:
        meant = self._meant(given)
        members = "; ".join(_members(form) for form in meant or self.forms)
        message = (
            say(
                "fault.weave.incomplete",
                "Complete the weave: an object has {members}.",
                members=members,
            )
            if meant
            else say(
                "fault.weave.no_form",
                "Write the weave in exactly one form: an object has {members}.",
                members=members,
            )
        )
        return refused(Fault("", message, sorted(given), self.allowed()))


def _notation(text: str) -> StatedWeave:
    ledger = Ledger()
    weave = parse_weave(text, ledger=ledger)
    return StatedWeave(weave=weave, notes=tuple(ledger))


def _members(form: Form) -> str:
    """Return the members that a form needs, for messages."""
    return " + ".join(form.needed)


def _strangers(names: Iterable[str], forms: Sequence[Form]) -> Iterator[Fault]:
    known = list(dict.fromkeys(name for form in forms for name in form.fields))
    for name in sorted(set(names) - set(known))[:_MOST_NAMED]:
        hint = did_you_mean(name, known)
        message = say(
            "fault.weave.unknown_member", "A weave has no member of this name.{hint}", hint=hint
        )
        if name == "design":
            message = say(
                "fault.weave.design_elsewhere",
                "A figured design is woven on a loom: send it to /v1/designs.",
            )
        yield Fault(f"/{escape(name)}", message, name, known)


def _any_form(forms: Sequence[Form]) -> Shape:
    notation: Shape = {
        "type": "string",
        "minLength": 1,
        "maxLength": MAX_TEXT_LENGTH,
        "pattern": TEXT_PATTERN,
        "description": "A notation in words; GET /v1/weaves lists them",
        "examples": ["2/2 twill Z"],
    }
    references = [{"$ref": f"#/components/schemas/{form.title}"} for form in forms]
    return {"anyOf": [notation, *references]}


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedStripe:
    """A stripe of the warp as it was stated."""

    weave: StatedWeave
    ends: int


class StripeSchema(Body[StatedStripe]):
    """A stripe of the warp: its weave, which begins at the stripe's left edge, and its ends."""

    title = "WeaveStripe"
    makes = StatedStripe

    weave = WordsOrObject(
        "Weave of the stripe: a notation, or rows", example="plain", forms=(RowsSchema(),)
    )
    ends = WholeNumber(
        "Ends of the stripe; they need not be whole repeats",
        Bounds(1, MAX_SIDE, "ends"),
        example=40,
        required=True,
    )


class StripesSchema(Form):
    """Warp stripes: several weaves side by side; their ends add up to the repeat.

    Each stripe's weave is a notation or rows.
    """

    title = "WeaveAsStripes"

    stripes = Items(
        Part(StripeSchema(), "A stripe", required=True, example=_STRIPES[0]),
        "The stripes of one repeat, from the left",
        fewest=1,
        most=MAX_STRIPES,
        example=_STRIPES,
        required=True,
    )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Put the stripes side by side."""
        stripes: Sequence[StatedStripe] = values["stripes"]
        weave = striped_weave([Stripe(weave=each.weave.weave, ends=each.ends) for each in stripes])
        return StatedWeave(weave=weave, notes=tuple(_notes(stripes)))


def _notes(stripes: Iterable[StatedStripe]) -> Iterator[Assumption]:
    for index, stripe in enumerate(stripes):
        for note in stripe.weave.notes:
            yield replace(note, pointer=f"/stripes/{index}/weave{note.pointer}")


FORMS: Final[tuple[Form, ...]] = (
    RowsSchema(),
    CodeSchema(),
    LiftPlanSchema(),
    TieUpSchema(),
    ImageSchema(),
    StripesSchema(),
)


class WeaveField(WordsOrObject):
    """A weave in any form that the service understands."""

    def __init__(self, description: str, *, example: object, required: bool = True) -> None:
        super().__init__(description, example=example, forms=FORMS, required=required)

    def kind(self) -> Shape:
        """Refer to the schema of every form, which the OpenAPI document has once."""
        return {"$ref": "#/components/schemas/Weave"}


def weave_shape() -> Shape:
    """Return the JSON Schema of every form, for the OpenAPI document."""
    words = "The weave: which warp ends are raised over which pick."
    return {"description": words, **_any_form(FORMS)}
