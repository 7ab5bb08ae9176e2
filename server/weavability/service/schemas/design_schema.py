"""The ``weave`` field as a figured design: a picture, and how each of its colours weaves."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any, Final, Generic, TypeVar

from marshmallow import ValidationError, fields

from weavability.service.schemas.base import Body, Part
from weavability.service.schemas.faults import escape, faults_of, refused
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
from weavability.service.schemas.weave_schema import (
    FORMS,
    Form,
    Picture,
    RowsSchema,
    StatedWeave,
    WordsOrObject,
)
from weavability.textiles.assumptions import Assumption, Grade, Ledger
from weavability.textiles.bounds import DESIGNED_CM, FLOAT_MM, YARN_KEY, Bounds
from weavability.textiles.errors import Fault, collecting, pointing_below
from weavability.textiles.figured.effect_picture import MOST_COLOURS, read_effect_picture
from weavability.textiles.figured.figured_design import (
    MOST_WEAVE_THREADS,
    MOST_WEFTS,
    Back,
    Covers,
    Design,
    DesignWeft,
    Effect,
    Face,
    FloatLimits,
    Insertion,
    Role,
    colour_faults,
    effect_faults,
    weft_faults,
)
from weavability.textiles.figured.hook_lifts import lay_on_hooks
from weavability.textiles.point_paper_image import png_of_base64
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import MAX_SIDE

T = TypeVar("T")

_COLOUR: Final = re.compile(r"#[0-9A-Fa-f]{6}")
_DRAWN: Final = Bounds(1, MAX_SIDE, "threads")
_SHIFT: Final = Bounds(-MAX_SIDE, MAX_SIDE, "threads")
EXAMPLE_PICTURE: Final = (
    "iVBORw0KGgoAAAANSUhEUgAAACAAAAAgAQMAAABJtOi3AAAABlBMVEX////AEDCodmfDAAAAX0lEQVR4"
    "2nXMoQ3CQAAF0NffiqoGQ4KjkhFwdCwUgslgkwoM7gTixCUgsPAGePy0E2ZhEdCtVWyIscp7IK7F4P68"
    "MZ0K9jWmufaOhy2XFa1I14g6igLO37SnPXrayz8flnkW1DL47bwAAAAASUVORK5CYII="
)
"""A flower of two colours as a PNG, in Base64."""


def _weave(description: str, *, required: bool = False, example: str) -> WordsOrObject:
    return WordsOrObject(
        f"{description}, in words or as rows; at most {MOST_WEAVE_THREADS} ends and picks",
        example=example,
        forms=(RowsSchema(),),
        required=required,
    )


class _ByName(Described[Any], fields.Dict, Generic[T]):
    """An object with a member for each name of one form."""

    value_field: Described[T]

    def __init__(
        self,
        member: Described[T],
        description: str,
        *,
        pattern: re.Pattern[str],
        words: str,
        most: int,
        example: object,
        required: bool = False,
    ) -> None:
        super().__init__(
            description, example=example, required=required, keys=fields.Raw(), values=member
        )
        self.pattern, self.words, self.most = pattern, words, most

    def allowed(self) -> str:
        """Return how many members there are, and what their names are."""
        return f"an object of 1 to {self.most} members, each name {self.words}"

    def parts(self) -> Iterable[Any]:
        """Return the object schemas of the members."""
        return self.value_field.parts()

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "object",
            "minProperties": 1,
            "maxProperties": self.most,
            "propertyNames": {"pattern": f"^(?:{self.pattern.pattern})$"},
            "additionalProperties": self.value_field.kind(),
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> dict[str, T]:
        if not isinstance(value, dict) or not 1 <= len(value) <= self.most:
            raise self.not_allowed(value)
        read: dict[str, T] = {}
        faults: list[Fault] = []
        # Sorted, because the order of the names must not change the answer.
        for name in sorted(value):
            try:
                if not self.pattern.fullmatch(name):
                    raise refused(
                        Fault(
                            "",
                            say(
                                "fault.design.not_a_name",
                                "A name here is {words}.",
                                words=self.words,
                            ),
                            name,
                        )
                    )
                if self._named(name) in read:
                    message = say(
                        "fault.design.named_twice",
                        "This is {name} again; state it once.",
                        name=self._named(name),
                    )
                    raise refused(Fault("", message, name))
                read[self._named(name)] = self.value_field.deserialize(value[name])
            except ValidationError as error:
                at = f"/{escape(name)}"
                faults += [replace(each, pointer=at + each.pointer) for each in faults_of(error)]
        if faults:
            raise refused(*faults)
        return read

    @staticmethod
    def _named(name: str) -> str:
        return name.lower() if name.startswith("#") else name


class _StatedEffect(dict[str, Any]):
    """An effect as it was read; its weave has notes of its own."""


class EffectSchema(Body[_StatedEffect]):
    """What a colour of the picture means."""

    title = "DesignEffect"
    makes = _StatedEffect

    name = Text("What the effect is called", example="flower", longest=80)
    weave = _weave("Its weave", required=True, example="8-end satin move 3")
    face = Choice(
        Face,
        "The threads that it shows most of: a weave of the other face is turned, warp and weft "
        "exchanged at the same places",
        example=Face.WARP,
    )
    shift = Items(
        WholeNumber("Threads", _SHIFT, example=0),
        "Ends to the right and picks up by which the weave is moved from the first hook and line "
        "[threads]",
        fewest=2,
        most=2,
        example=[0, 3],
    )
    weft = Text(
        "Key of the weft that shows in it; the ground weft if not given", example="B", longest=32
    )
    max_float_mm = Number(
        "Longest float that it may have on either side, in place of float_limits",
        FLOAT_MM,
        example=4,
    )


_EFFECT: Final = EffectSchema()


class DesignWeftSchema(Body[_StatedEffect]):
    """A weft of a figured design; one of them is the ground, the others figure on it."""

    title = "DesignWeft"
    makes = _StatedEffect

    role = Choice(Role, "What it is for", example=Role.FIGURE, required=True)
    weave = _weave(
        "How the ground weft weaves under the figures of other wefts; without it, it lies under "
        "them",
        example="plain",
    )
    back = Choice(
        Back,
        "What a figuring weft does behind the cloth: it is bound, floats there, or floats and is "
        "clipped off after weaving; if not given, it floats there",
        example=Back.BOUND,
    )
    binding = _weave(
        "How it is bound behind the cloth, counted on its own picks", example="16-end sateen move 7"
    )
    insert = Choice(
        Insertion,
        "On which lines a figuring weft is inserted; on every line if not given",
        example=Insertion.WHERE_IT_SHOWS,
    )
    without_take_up = Flag(
        "Whether the take-up stops on the picks of a figuring weft, so that a line is as high with "
        "them as without; picks_per_cm still counts every pick, as the mean of a repeat",
        example=True,
    )


class FloatLimitsSchema(Body[FloatLimits]):
    """Longest floats that the design may have: on either side of the cloth, or behind it."""

    title = "DesignFloatLimits"
    makes = FloatLimits

    warp_mm = Number("Longest float of an end", FLOAT_MM, example=5)
    weft_mm = Number(
        "Longest float of a pick; what figuring wefts do behind the cloth does not count",
        FLOAT_MM,
        example=5,
    )
    back_mm = Number(
        "Longest float of a figuring weft behind the cloth; the usual limits if not given. No dots "
        "are made for it: its binding decides",
        FLOAT_MM,
        example=8,
    )


_EFFECTS: Final[dict[str, object]] = {
    "#ffffff": {"name": "ground", "weave": "8-end satin move 3"},
    "#c01030": {"name": "flower", "weave": "8-end sateen move 3"},
}


class DesignSchema(Body[StatedWeave]):
    """A figured design for a Jacquard: a picture, and a weave for each of its colours.

    Weaves are laid on the hooks from the bottom left, and turned and repeated by the tie of the
    loom. The order of wefts in a line is that of their keys.
    """

    title = "FiguredDesign"

    picture_png = Picture(
        f"The PNG file in base64: a palette of 1 to 8 bits, at most {MOST_COLOURS} colours in use "
        f"and {MAX_SIDE} pixels a side; one pixel a hook and line, the bottom line first",
        example=EXAMPLE_PICTURE,
        required=True,
    )
    covers = Choice(
        Covers,
        "What a column of the picture is: a hook, or an end of the whole width, which is held "
        "against the tie",
        example=Covers.HOOKS,
    )
    effects = _ByName(
        Part(EffectSchema(), "An effect", example={"weave": "plain"}),
        "The effect of each colour of the picture, as #rrggbb",
        pattern=_COLOUR,
        words="a colour such as #c01030",
        most=MOST_COLOURS,
        example=_EFFECTS,
        required=True,
    )
    wefts = _ByName(
        Part(DesignWeftSchema(), "A weft", example={"role": "ground"}),
        "The wefts by their keys among the weft's yarns, if there are several",
        pattern=YARN_KEY,
        words="a letter, then letters, digits or _",
        most=MOST_WEFTS,
        example={"A": {"role": "ground"}, "B": {"role": "figure"}},
    )
    float_limits = Part(
        FloatLimitsSchema(), "Longest floats allowed", example={"warp_mm": 5, "weft_mm": 5}
    )
    designed_width_cm = Number(
        "Width in the cloth for which the whole picture was drawn; with the height, its proportion "
        "is compared",
        DESIGNED_CM,
        example=0.8,
    )
    designed_height_cm = Number("The height that goes with it", DESIGNED_CM, example=1)
    columns = WholeNumber(
        "Columns of the picture that are woven, from the first; the others are cast out. All if "
        "not given",
        _DRAWN,
        example=32,
    )
    lines = WholeNumber(
        "Lines of the picture that are woven, from the first; all if not given", _DRAWN, example=32
    )
    correct = Flag("Whether floats beyond the limits are bound by further dots", example=True)

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Read the picture also if other fields are faulty; a good design is held against it."""
        size = ("designed_width_cm", "designed_height_cm")
        for name, other in (size, size[::-1]):
            if name in given and other not in given:
                yield Fault(
                    f"/{other}",
                    say(
                        "fault.design.proportion",
                        "State it beside {field}: the two make the proportion.",
                        field=name,
                    ),
                )
        if self.all_good(values, given):
            return
        effects = _of_colours(given.get("effects"))
        if "picture_png" in values:
            faults: list[Fault] = []
            with collecting(faults, below="/picture_png"):
                picture = read_effect_picture(png_of_base64(values["picture_png"]))
                if effects is not None:
                    faults += colour_faults(picture, effects)
            yield from faults
        for colour, stated in (effects or {}).items():
            yield from _faults_of_readable(colour, stated, given.get("wefts"))
        if "wefts" in values:
            yield from weft_faults({key: _weft(weft) for key, weft in values["wefts"].items()})

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Lay the design on the hooks; what its weaves leave open is kept beside it."""
        with pointing_below("/picture_png"):
            picture = read_effect_picture(png_of_base64(values["picture_png"]))
        ledger = Ledger()
        design = Design(
            picture=picture,
            covers=ledger.take(
                "/covers",
                values.get("covers"),
                Covers.HOOKS,
                unit=None,
                reason=say(
                    "assumption.design.drawn_for_hooks",
                    "a design is drawn for the hooks; [COMMON-PRACTICE]",
                ),
                grade=Grade.COMMON_PRACTICE,
            ),
            effects={
                colour: _effect(colour, stated) for colour, stated in values["effects"].items()
            },
            wefts={key: _weft(stated) for key, stated in values.get("wefts", {}).items()},
            float_limits=values.get("float_limits", FloatLimits()),
            correct=values.get("correct", False),
            designed_cm=_designed_cm(values),
        ).cut_to(columns=values.get("columns"), lines=values.get("lines"))
        lifts = lay_on_hooks(design)
        return StatedWeave(weave=lifts.weave, notes=(*ledger, *_notes(values)), design=lifts)


def _of_colours(given: object) -> dict[str, object] | None:
    """Return the effects as they are given, by colour; ``None`` if they are no such object."""
    if not isinstance(given, dict) or len(given) > MOST_COLOURS:
        return None
    return {name.lower(): each for name, each in given.items() if _COLOUR.fullmatch(name)}


def _faults_of_readable(colour: str, stated: object, wefts: object) -> Iterator[Fault]:
    """Hold the fields of an effect that can be read against each other and against the wefts."""
    if not isinstance(stated, dict):
        return
    read: dict[str, Any] = {}
    for name in ("weave", "face", "weft"):
        with suppress(ValidationError):
            read[name] = _EFFECT.fields[name].deserialize(stated.get(name))
    weave = read.get("weave")
    keys = wefts if isinstance(wefts, dict) else {}
    yield from effect_faults(
        colour, weave and weave.weave, read.get("face"), read.get("weft"), sorted(map(str, keys))
    )


def _designed_cm(values: Mapping[str, Any]) -> tuple[float, float] | None:
    if "designed_width_cm" not in values:
        return None
    return values["designed_width_cm"], values["designed_height_cm"]


def _effect(colour: str, stated: Mapping[str, Any]) -> Effect:
    weave: StatedWeave = stated["weave"]
    return Effect(**{"name": colour, **stated, "weave": weave.weave})


def _weft(stated: Mapping[str, Any]) -> DesignWeft:
    woven: dict[str, Any] = {
        name: each.weave if isinstance(each, StatedWeave) else each for name, each in stated.items()
    }
    return DesignWeft(**woven)


def _notes(values: Mapping[str, Any]) -> Iterator[Assumption]:
    """Yield what the weaves of effects and wefts leave open."""
    for part in ("effects", "wefts"):
        for name, stated in values.get(part, {}).items():
            for field, weave in stated.items():
                if isinstance(weave, StatedWeave):
                    for note in weave.notes:
                        at = f"/{part}/{escape(name)}/{field}{note.pointer}"
                        yield replace(note, pointer=at)


class FiguredForm(Form):
    """A figured design."""

    title = "WeaveAsDesign"

    design = Part(
        DesignSchema(),
        "A picture, and a weave for each of its colours",
        example={"picture_png": EXAMPLE_PICTURE, "effects": _EFFECTS},
        required=True,
    )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> StatedWeave:
        """Return the design, its notes below its own name."""
        stated: StatedWeave = values["design"]
        notes = tuple(replace(note, pointer=f"/design{note.pointer}") for note in stated.notes)
        return replace(stated, notes=notes)


class OrderedWeave(WordsOrObject):
    """The weave of an order: any form of a weave, or a figured design."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example, forms=(*FORMS, FiguredForm()))

    def kind(self) -> Shape:
        """Refer to the schemas of the forms."""
        return {
            "anyOf": [
                {"$ref": "#/components/schemas/Weave"},
                {"$ref": f"#/components/schemas/{FiguredForm.title}"},
            ]
        }
