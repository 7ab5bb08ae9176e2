"""A figured design as the order states it: a picture, and how each of its colours weaves."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from typing import Final

from weavability.textiles.bounds import DESIGNED_CM, FLOAT_MM
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.figured.effect_picture import EffectPicture
from weavability.textiles.guards import within
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import MAX_SIDE, Weave
from weavability.textiles.weave_structure import remembered_structure

MOST_WEAVE_THREADS: Final = 500
"""Most ends, and most picks, of the weave of an effect."""

MOST_WEFTS: Final = 8
"""Most wefts of a design: a ground weft and seven that figure."""


class Covers(StrEnum):
    """What a column of the picture is."""

    HOOKS = "hooks"
    CLOTH = "cloth"


class Face(StrEnum):
    """Which threads a weave shows most of."""

    WARP = "warp"
    WEFT = "weft"


class Role(StrEnum):
    """What a weft is for."""

    GROUND = "ground"
    FIGURE = "figure"


class Back(StrEnum):
    """What a figuring weft does behind the cloth."""

    BOUND = "bound"
    FLOAT = "float"
    CLIPPED = "clipped"


class Insertion(StrEnum):
    """On which lines a figuring weft is inserted."""

    EVERY_LINE = "every_line"
    WHERE_IT_SHOWS = "where_it_shows"


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a colour of the picture means.

    Attributes:
        name: In words; the colour if none is stated.
        weave: Its weave.
        face: The face that its weave is turned to: a weave of the other face is woven with warp and
            weft exchanged at the same places. ``None`` leaves it as it is.
        shift: Ends and picks by which the weave is moved from the first hook and line.
        weft: Key of the weft that shows in it; ``None`` for the ground weft.
        max_float_mm: Longest float that it may have, in place of the limits of the design.

    Raises:
        InputError: No float is so long.
    """

    name: str
    weave: Weave
    face: Face | None = None
    shift: tuple[int, int] = (0, 0)
    weft: str | None = None
    max_float_mm: float | None = None

    def __post_init__(self) -> None:
        if self.max_float_mm is not None:
            within("max_float_mm", self.max_float_mm, FLOAT_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignWeft:
    """A weft of a design.

    Attributes:
        role: Whether it weaves the ground or figures on it.
        weave: How the ground weft weaves under the figures of other wefts; ``None`` if it lies
            under them, all ends raised.
        back: What a figuring weft does where it does not show.
        binding: The weave by which it is bound there, counted on its own picks and turned to its
            warp face.
        insert: On which lines it is inserted.
        without_take_up: Whether the take-up is stopped for a figuring weft, so that a line is as
            high with its pick as without.
    """

    role: Role
    weave: Weave | None = None
    back: Back | None = None
    binding: Weave | None = None
    insert: Insertion = Insertion.EVERY_LINE
    without_take_up: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatLimits:
    """Longest floats that are allowed; ``None`` for no limit.

    Attributes:
        warp_mm: Of an end, on either side of the cloth.
        weft_mm: Of a pick, on either side; what figuring wefts do behind the cloth does not count.
        back_mm: Of a figuring weft behind the cloth; ``None`` for the usual limits.

    Raises:
        InputError: No float is so long.
    """

    warp_mm: float | None = None
    weft_mm: float | None = None
    back_mm: float | None = None

    def __post_init__(self) -> None:
        for each in fields(self):
            length_mm = getattr(self, each.name)
            if length_mm is not None:
                within(each.name, length_mm, FLOAT_MM)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """A figured design. Two designs are the same only if they are one object.

    Attributes:
        effects: By colour; each colour of the picture has one, and no other has.
        wefts: By key, in the order in which they are inserted in a line; empty if one weft weaves
            it all.
        correct: Whether floats beyond the limits are bound by further dots.
        designed_cm: Width and height in the cloth for which the picture was drawn, all of it;
            ``None`` if that is not stated.
        cast_out: Columns and lines of the picture that are left out; ``picture`` is without them.

    Raises:
        InputError: Effects, colours and wefts do not go together; every fault at once.
    """

    picture: EffectPicture
    covers: Covers = Covers.HOOKS
    effects: Mapping[str, Effect]
    wefts: Mapping[str, DesignWeft] = field(default_factory=dict)
    float_limits: FloatLimits = field(default_factory=FloatLimits)
    correct: bool = False
    designed_cm: tuple[float, float] | None = None
    cast_out: tuple[int, int] = (0, 0)

    def __post_init__(self) -> None:
        faults = [
            *colour_faults(self.picture, self.effects),
            *_effect_faults(self.effects, self.wefts),
            *weft_faults(self.wefts),
            *_size_faults(self),
        ]
        if faults:
            raise InputError(faults)

    @property
    def columns(self) -> int:
        """Columns that are woven."""
        return self.picture.columns

    @property
    def lines(self) -> int:
        """Lines that are woven."""
        return self.picture.lines

    @property
    def has_limits(self) -> bool:
        """Whether it limits any float."""
        limits = self.float_limits
        own = (each.max_float_mm for each in self.effects.values())
        return any((limits.warp_mm, limits.weft_mm, *own))

    def cut_to(self, *, columns: int | None = None, lines: int | None = None) -> Design:
        """Return the design of the first columns and lines; the others are cast out.

        Raises:
            InputError: The picture has fewer.
        """
        wide, high = columns or self.columns, lines or self.lines
        faults = [
            Fault(
                f"/{name}",
                say(
                    "fault.design.cut_beyond",
                    "The picture has {count} {what}.",
                    count=drawn,
                    what=name,
                ),
                number,
                f"1 to {drawn}",
            )
            for name, number, drawn in (
                ("columns", wide, self.columns),
                ("lines", high, self.lines),
            )
            if number > drawn
        ]
        if faults:
            raise InputError(faults)
        if (wide, high) == (self.columns, self.lines):
            return self
        picture = self.picture.cut_to(columns=wide, lines=high)
        return replace(
            self,
            picture=picture,
            effects={colour: self.effects[colour] for colour in picture.colours},
            cast_out=(
                self.cast_out[0] + self.columns - wide,
                self.cast_out[1] + self.lines - high,
            ),
        )

    @property
    def effects_by_value(self) -> tuple[Effect, ...]:
        """The effects in the order of the picture's values."""
        return tuple(self.effects[colour] for colour in self.picture.colours)

    @property
    def weft_keys(self) -> tuple[str, ...]:
        """The keys of the wefts; one without a name if they are not stated."""
        return tuple(self.wefts) or ("",)

    @property
    def ground_key(self) -> str:
        """The key of the ground weft."""
        grounds = (key for key, weft in self.wefts.items() if weft.role is Role.GROUND)
        return next(grounds, "")

    def weft_of(self, effect: Effect) -> int:
        """Return the place of the weft that shows in an effect."""
        return self.weft_keys.index(self.ground_key if effect.weft is None else effect.weft)


def colour_faults(picture: EffectPicture, effects: Mapping[str, object]) -> Iterator[Fault]:
    """Yield a fault for each colour without an effect, and each effect without its colour."""
    used = list(picture.colours)
    for colour in used:
        if colour not in effects:
            message = say(
                "fault.design.no_effect",
                "The picture uses {colour}, for which there is no effect. Add one.",
                colour=colour,
            )
            yield Fault("/effects", message, colour, sorted(effects))
    for colour in effects:
        if colour not in used:
            message = say(
                "fault.design.colour_not_used",
                "The picture does not use {colour}. Leave the effect out.",
                colour=colour,
            )
            yield Fault(f"/effects/{colour}", message, colour, used)


def _effect_faults(
    effects: Mapping[str, Effect], wefts: Mapping[str, DesignWeft]
) -> Iterator[Fault]:
    for colour, effect in effects.items():
        yield from effect_faults(colour, effect.weave, effect.face, effect.weft, wefts)


def effect_faults(
    colour: str,
    weave: Weave | None,
    face: Face | None,
    weft: str | None,
    wefts: Collection[str],
) -> Iterator[Fault]:
    """Yield the faults of an effect, as far as it could be read.

    Args:
        colour: Its colour.
        weave: Its weave; ``None`` if that could not be read.
        face: The face that the weave is turned to, if any.
        weft: Key of the weft that shows in it, if it names one.
        wefts: Keys of the wefts of the design.
    """
    at = f"/effects/{colour}"
    if weave is not None:
        yield from _weave_faults(f"{at}/weave", weave)
    if weft is not None and weft not in wefts:
        message = say(
            "fault.design.unknown_weft",
            "The effect names a weft {weft!r} that the design does not have.",
            weft=weft,
        )
        yield Fault(f"{at}/weft", message, weft, list(wefts))
    if weave is None or face is None:
        return
    if remembered_structure(weave)[1].face == "balanced":
        message = say(
            "fault.design.no_face",
            "The weave shows as much warp as weft and has no face to turn; leave face out.",
        )
        yield Fault(f"{at}/face", message, face.value)


def _weave_faults(pointer: str, weave: Weave) -> Iterator[Fault]:
    if max(weave.ends, weave.picks) > MOST_WEAVE_THREADS:
        message = say(
            "fault.design.weave_too_large",
            "A weave in a design has {most_threads} ends and picks at most.",
            most_threads=MOST_WEAVE_THREADS,
        )
        yield Fault(pointer, message, [weave.picks, weave.ends], MOST_WEAVE_THREADS)


def weft_faults(wefts: Mapping[str, DesignWeft]) -> Iterator[Fault]:
    """Yield the faults of the wefts of a design, each by itself and together."""
    if not wefts:
        return
    grounds = [key for key, weft in wefts.items() if weft.role is Role.GROUND]
    if len(grounds) != 1:
        message = say(
            "fault.design.one_ground_weft", "A design has exactly one weft whose role is ground."
        )
        yield Fault("/wefts", message, grounds, "one ground weft")
    for key, weft in wefts.items():
        at = f"/wefts/{key}"
        for name, weave in (("weave", weft.weave), ("binding", weft.binding)):
            if weave is not None:
                yield from _weave_faults(f"{at}/{name}", weave)
        if weft.role is Role.GROUND:
            yield from _of_figuring_wefts_only(at, weft)
        else:
            yield from _figuring_weft_faults(at, weft)


def _of_figuring_wefts_only(at: str, weft: DesignWeft) -> Iterator[Fault]:
    stated: dict[str, object] = {"back": weft.back, "binding": weft.binding}
    if weft.insert is not Insertion.EVERY_LINE:
        stated["insert"] = weft.insert
    if weft.without_take_up:
        stated["without_take_up"] = True
    for name, value in stated.items():
        if value is not None:
            message = say(
                "fault.design.of_figuring_wefts",
                "The ground weft weaves on every line; leave {field} out.",
                field=name,
            )
            yield Fault(f"{at}/{name}", message)


def _figuring_weft_faults(at: str, weft: DesignWeft) -> Iterator[Fault]:
    if weft.weave is not None:
        message = say(
            "fault.design.weave_of_figuring_weft",
            "A figuring weft weaves as the effects in which it shows; leave weave out.",
        )
        yield Fault(f"{at}/weave", message)
    if weft.back is Back.BOUND and weft.binding is None:
        message = say(
            "fault.design.no_binding", "State the weave by which the weft is bound at the back."
        )
        yield Fault(f"{at}/binding", message, None, "such as 16-end sateen move 7")
    if weft.back is not Back.BOUND and weft.binding is not None:
        message = say(
            "fault.design.binding_of_loose_weft",
            "Only a weft whose back is bound has a binding; leave it out, or say bound.",
        )
        yield Fault(f"{at}/binding", message)


def _size_faults(design: Design) -> Iterator[Fault]:
    picks = design.picture.lines * len(design.weft_keys)
    if picks > MAX_SIDE:
        message = say(
            "fault.design.too_many_picks",
            "{lines} lines of {wefts} wefts are {picks} picks; {most_picks} at most.",
            lines=design.picture.lines,
            wefts=len(design.weft_keys),
            picks=picks,
            most_picks=MAX_SIDE,
        )
        yield Fault("/wefts", message, picks, f"1 to {MAX_SIDE} picks")
    if len(design.wefts) > MOST_WEFTS:
        message = say(
            "fault.design.too_many_wefts",
            "A design has {most_wefts} wefts at most.",
            most_wefts=MOST_WEFTS,
        )
        yield Fault("/wefts", message, len(design.wefts), MOST_WEFTS)
    for name, size_cm in zip(("width", "height"), design.designed_cm or (), strict=False):
        faults: list[Fault] = []
        with collecting(faults):
            within(f"designed_{name}_cm", size_cm, DESIGNED_CM)
        yield from faults
    if design.correct and not design.has_limits:
        message = say(
            "fault.design.no_float_limits",
            "State the longest floats that the correction may leave.",
        )
        yield Fault("/float_limits", message, None, {"warp_mm": 5, "weft_mm": 5})
