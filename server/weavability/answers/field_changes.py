"""A change of an order: which fields get which values, how far that is, and the order after it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields, is_dataclass, replace
from enum import StrEnum
from fnmatch import fnmatchcase
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from weavability.answers.rounding import tidy
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, INCH_UNITS, YARN_BOUNDS, Bounds
from weavability.textiles.construction import (
    INCH_FORMS,
    Construction,
    DraftRequest,
    Joined,
    Layers,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.figured.figured_design import Covers
from weavability.textiles.figured.hook_lifts import lay_on_hooks
from weavability.textiles.notation import parse_weave
from weavability.textiles.records import record
from weavability.textiles.sentences import say
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.units import CM_PER_INCH, M_PER_YARD
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

ROOT: Final = "/construction"
_ANY: Final = Bounds(-math.inf, math.inf)
_INCH_UNITS: Final = MappingProxyType({metric: inch for metric, (inch, _) in INCH_UNITS.items()})
_INCH_LENGTHS: Final = MappingProxyType({"width_cm": CM_PER_INCH, "length_m": M_PER_YARD})
_ATTRIBUTES: Final = {"ends_per_cm": "threads_per_cm", "picks_per_cm": "threads_per_cm"}
_SYSTEMS: Final = ("warp", "weft")


class Weight(NamedTuple):
    """How far a change of a field is: so many points, and so many for each per cent.

    Attributes:
        points: However little the field changes.
        per_pct: For each per cent by which its number changes; of a weave, its mean float; of a
            count, its linear density; of beams, the length of pile.
        why: What the change asks for.
    """

    points: float
    per_pct: float
    why: str


_DESIGN: Final = ["weave", "design"]

POINTS_OF_FACE: Final = 0.2
"""For each percentage point by which the share of warp on the face changes: a twill that is turned
looks otherwise with floats as long; a choice of this service, common practice, no source."""

WEIGHTS: Final[Mapping[str, Weight]] = MappingProxyType(
    {
        "requested_speed_picks_per_min": Weight(0.0, 0.1, "the cloth stays as it is"),
        "reed/count": Weight(0.0, 0.0, "the reed is stated in dents per 10 cm instead"),
        "reed/system": Weight(0.0, 0.0, "the reed is stated in dents per 10 cm instead"),
        "reed/*": Weight(0.5, 0.0, "another reed or denting of the same cloth"),
        "draft": Weight(0.5, 0.0, "the drawing-in is left to the report"),
        "draft/*": Weight(0.5, 0.0, "another drawing-in of the same cloth"),
        "layers": Weight(0.5, 0.0, "the layers of the same weave are stated"),
        "weft/order": Weight(0.5, 0.0, "other feeders of the same yarns"),
        "weft/yarns": Weight(0.0, 0.0, "the same yarns under fewer keys"),
        "warp/order": Weight(0.0, 0.0, "the same ends under other keys"),
        "warp/yarns/*/sized": Weight(0.5, 0.0, "size, which is washed out"),
        "allowances/size_pct": Weight(0.5, 0.0, "more size, which is washed out"),
        "panels": Weight(1.0, 0.0, "more or fewer of the same cloth side by side"),
        "selvedge/*": Weight(1.0, 0.0, "another edge of the same cloth"),
        "warp/beams": Weight(1.0, 0.5, "other beams for the same cloth, or another length of pile"),
        "length_m": Weight(0.0, 0.5, "more or less of the same cloth"),
        "order/*": Weight(0.5, 0.0, "the same cloth in more pieces"),
        "width_cm": Weight(0.0, 1.0, "a narrower or wider cloth"),
        "warp/ends_per_cm": Weight(0.0, 1.0, "another sett"),
        "weft/picks_per_cm": Weight(0.0, 1.0, "another sett"),
        "finishing/stabilised": Weight(3.0, 0.0, "another finish"),
        "w???/yarns/*/designation": Weight(2.0, 0.5, "another yarn"),
        "w???/yarns/*/linear_density_tex": Weight(2.0, 0.5, "another yarn"),
        "w???/yarns/*/twist_per_m": Weight(0.0, 0.0, "the same twist factor in another count"),
        "w???/yarns/*/diameter_mm": Weight(0.0, 0.0, "as firm a yarn in another count"),
        "w???/yarns/*": Weight(0.0, 0.0, "the same yarn under another key"),
        "weave/design/correct": Weight(1.0, 0.0, "dots in the same design"),
        "weave/design/covers": Weight(1.0, 0.0, "the same picture, laid out otherwise"),
        "weave/design/effects/*/weave": Weight(
            5.0, 0.1, "another weave of effects, and its face as that of a weave"
        ),
        "weave/design/*": Weight(1.0, 1.0, "a part of the design is cast out"),
        "weave": Weight(
            10.0,
            0.1,
            f"another face, {POINTS_OF_FACE:g} points more for each percentage point of warp on it",
        ),
    }
)
"""Points by field, ``*`` for any name; a choice of this service, common practice, no source.

One point is one per cent of sett or width. A change of several yarns of one kind counts once.
"""


@lru_cache(maxsize=1024)
def weight_of(field: str) -> Weight:
    """Return the weight of a field, by its pointer in metric form."""
    name = field.removeprefix(ROOT + "/")
    return next(one for pattern, one in WEIGHTS.items() if fnmatchcase(name, pattern))


_AS_A_SETT: Final = Weight(0.0, 1.0, "what no remedy changes counts like a sett")


def weight_of_number(field: str) -> Weight:
    """Return the weight of any numeric field; one that no remedy changes counts like a sett."""
    name = field.removeprefix(ROOT + "/")
    found = (one for pattern, one in WEIGHTS.items() if fnmatchcase(name, pattern))
    return next((one for one in found if one.points or one.per_pct), _AS_A_SETT)


class Form(NamedTuple):
    """The form of a field that the caller used.

    Attributes:
        pointer: As the order states the field.
        per_metric: Its figure for a metric figure of 1.
        bounds: Within which a request may state it.
        in_inches: Whether it is an inch form.
    """

    pointer: str
    per_metric: float
    bounds: Bounds
    in_inches: bool

    def unit_of(self, metric: str | None) -> str | None:
        """Return the unit that goes with the form."""
        return _INCH_UNITS.get(metric or "", metric) if self.in_inches else metric


def form_of(construction: Construction, field: str) -> Form:
    """Return the form in which an order states a field, by its pointer in metric form.

    A field that is none of the order's has but one form.
    """
    if not field.startswith(ROOT):
        return Form(field, 1.0, _ANY, in_inches=False)
    metric = field.removeprefix(ROOT)
    stated = construction.as_stated(metric)
    bounds = CONSTRUCTION_BOUNDS.get(metric)
    if bounds is None:
        name = metric.rpartition("/")[2]
        bounds = YARN_BOUNDS.get(name, _ANY) if "/yarns/" in metric else _ANY
    if stated not in construction.inch_fields:
        return Form(ROOT + stated, 1.0, bounds, in_inches=False)
    _, per_metric = INCH_FORMS[metric]
    return Form(ROOT + stated, per_metric, bounds.in_inches(), in_inches=True)


@record(kw_only=True)
class Write:
    """One field of an order and the value to put there.

    Attributes:
        field: Pointer in metric form.
        to: The value, in the form that the order uses, as it is written in JSON.
        unit: Its unit.
        step: The resolution of the value, in the form that the order uses; ``None`` if it is one of
            a few.
        change_pct: By how much its number changes, or what it amounts to if it is no number: mean
            float of a weave, linear density of a designation.
        face_pct: By how many percentage points another weave changes the share of warp on the face.
    """

    field: str
    to: Any
    unit: str | None = None
    step: float | None = None
    change_pct: float = 0.0
    face_pct: float = 0.0

    @property
    def field_name(self) -> str:
        """The field within the construction, in metric form."""
        return self.field.removeprefix(ROOT + "/")


@record(kw_only=True)
class Change:
    """A change of an order that may clear a finding; it is tried before it becomes a remedy.

    Attributes:
        writes: The fields and their values.
        message: What it means on the shop floor.
        is_combined: Whether it is several changes made together.
    """

    writes: tuple[Write, ...]
    message: str
    is_combined: bool = False

    @property
    def key(self) -> tuple[tuple[str, str], ...]:
        """What identifies it."""
        return tuple((each.field, repr(each.to)) for each in self.writes)

    @property
    def moved_pct(self) -> float:
        """By how much all of its numbers change."""
        return sum(abs(each.change_pct) for each in self.writes)

    def beside(self, other: Change) -> Change | None:
        """Return both changes as one; ``None`` if they write the same part of the order.

        What the other writes of a yarn that this one takes out is left out; if nothing is left, or
        it would write anew what this one changes a part of, they cannot be made together.
        """
        theirs = tuple(each for each in other.writes if not self._takes_out(each))
        mine = {part_of(each.field) for each in self.writes}
        is_anew = any(part.startswith(f"{each.field_name}/") for part in mine for each in theirs)
        if not theirs or is_anew or mine & {part_of(each.field) for each in theirs}:
            return None
        return Change(
            writes=(*self.writes, *theirs),
            message=f"{self.message} {other.message}",
            is_combined=True,
        )

    def _takes_out(self, write: Write) -> bool:
        """Return whether a field is of a yarn that is gone after this change."""
        whole, _, key = part_of(write.field).rpartition("/")
        return any(
            each.field_name == whole and isinstance(each.to, Mapping) and key not in each.to
            for each in self.writes
        )


def one_field(
    field: str,
    to: Any,
    message: str,
    *,
    unit: str | None = None,
    step: float | None = None,
    now: float | None = None,
) -> Change:
    """Return a change of one field.

    Args:
        field: Pointer in metric form.
        to: The value, in the form that the order uses.
        message: What it means; ``{to}`` and ``{unit}`` are filled in.
        unit: Unit of the value.
        step: Its resolution.
        now: The number that it has, in the same form; ``None`` if it is no number.
    """
    to = tidy(to)
    change_pct = 100 * (to / now - 1) if now else 0.0
    write = Write(field=field, to=to, unit=unit, step=step, change_pct=change_pct)
    return Change(writes=(write,), message=message.format(to=to, unit=unit))


def part_of(field: str) -> str:
    """Return the part of an order that a field belongs to.

    A yarn and its count are one part, and so are a draft and its threading.
    """
    names = field.removeprefix(ROOT + "/").split("/")
    if names[0] == "draft":
        return names[0]
    return "/".join(names[:3]) if "yarns" in names else "/".join(names)


def distance_of(change: Change) -> float:
    """Return how far a change is, in points; see :data:`WEIGHTS`."""
    points: dict[str, float] = {}
    for write in change.writes:
        weight = weight_of(write.field)
        kind = _kind_of(write.field)
        far = (
            weight.points
            + weight.per_pct * abs(write.change_pct)
            + POINTS_OF_FACE * abs(write.face_pct)
        )
        points[kind] = max(points.get(kind, 0.0), far)
    return sum(points.values())


def _kind_of(field: str) -> str:
    """Return a field without the key of a yarn or of an effect: those alike count once."""
    names = field.split("/")
    if "effects" in names:
        return "/".join(names[:5] + names[6:])
    return "/".join(names[:4] + names[5:]) if "yarns" in names else field


def metric_value(construction: Construction, write: Write) -> Any:
    """Return the value that a field gets, in its metric form."""
    form = form_of(construction, write.field)
    if not form.in_inches:
        return write.to
    # As a request is read, to the last digit: it may decide whether there is one end more.
    unit = _INCH_LENGTHS.get(write.field_name)
    return write.to / form.per_metric if unit is None else write.to * unit


def may_be_stated(construction: Construction, change: Change) -> bool:
    """Return whether a request may state the values of a change; a text it may."""
    return all(
        isinstance(each.to, bool)
        or not isinstance(each.to, int | float)
        or each.to in form_of(construction, each.field).bounds
        for each in change.writes
    )


def value_at(construction: Construction, field: str) -> Any:
    """Return the value of a field as JSON writes it, by its pointer in metric form."""
    value: Any = construction
    names = _names(field)
    if names[:2] == _DESIGN and construction.design is not None:
        value, names = construction.design.design, names[2:]
    for name in names:
        is_mapping = isinstance(value, Mapping)
        value = value.get(name) if is_mapping else getattr(value, name, None)
    if isinstance(value, Weave):
        return weave_as_json(value) if value.name or value.stripes else None
    if isinstance(value, tuple):
        return [as_json(each) for each in value] or None
    return as_json(value)


def weave_as_json(weave: Weave) -> Any:
    """Return a weave as JSON writes it: its stripes, its notation or its rows."""
    if weave.stripes:
        stripes = ({"weave": weave_as_json(each), "ends": ends} for each, ends in weave.stripes)
        return {"stripes": list(stripes)}
    return weave.name or {"rows": list(weave.rows)}


def as_json(value: Any) -> Any:
    """Return a value of an order as JSON writes it; a record without what it does not state."""
    if is_dataclass(value) and not isinstance(value, type):
        stated = {name: as_json(each) for name, each in asdict(value).items()}
        return {name: each for name, each in stated.items() if each not in (None, [], {})}
    if isinstance(value, Mapping):
        return {name: as_json(each) for name, each in value.items()}
    if isinstance(value, StrEnum):
        return value.value
    return [as_json(each) for each in value] if isinstance(value, tuple) else value


def changed(construction: Construction, change: Change) -> Construction:
    """Return an order after a change.

    Raises:
        KeyError: It writes a field that an order has not.
        InputError: A weave in it cannot be read.
    """
    for write in change.writes:
        construction = _written(construction, write.field, metric_value(construction, write))
    return construction


def _written(construction: Construction, field: str, to: Any) -> Construction:
    names = _names(field)
    match names:
        case ["draft"]:
            return replace(construction, draft=None)
        case ["draft", "threading"]:
            threading = to if isinstance(to, str) else tuple(to)
            return replace(construction, draft=DraftRequest(threading=threading))
        case ["weave", "design", *names]:
            return _with_design(construction, names, to)
        case ["layers"]:
            joined = Joined(to["joined"])
            layers = Layers(ends=to["ends"], picks=to["picks"], joined=joined)
            return replace(construction, layers=layers)
        case ["weave"]:
            return replace(construction, weave=_weave(to), weave_notes=())
        case ["reed", "ends_in_dents"]:
            return replace(construction, reed=replace(construction.reed, ends_in_dents=()))
        case ["selvedge", "weave"]:
            weave = None if to is None else parse_weave(str(to))
            edge = replace(construction.selvedge, weave=weave, weave_notes=())
            return replace(construction, selvedge=edge)
        case ["warp", "beams"]:
            return replace(construction, warp=replace(construction.warp, beams=_groups(to or ())))
        case ["weft", "yarns"]:
            yarns = {key: Yarn(**yarn) for key, yarn in to.items()}
            return replace(construction, weft=replace(construction.weft, yarns=yarns))
        case [system, "yarns", key, *rest] if system in _SYSTEMS:
            threads: ThreadSystem = getattr(construction, system)
            yarn = _with(threads.yarns[key], rest, to) if rest else Yarn(**to)
            other = replace(threads, yarns={**threads.yarns, key: yarn})
            return replace(construction, **{system: other})  # type: ignore[arg-type]
    result: Construction = _with(construction, names, to)
    return result


def _weave(to: Any) -> Weave:
    """Read a weave as a change writes it; see :func:`weave_as_json`."""
    match to:
        case {"stripes": stripes}:
            return striped_weave(
                [Stripe(weave=_weave(each["weave"]), ends=each["ends"]) for each in stripes]
            )
        case {"rows": rows}:
            return Weave.from_rows(rows)
    return parse_weave(str(to))


def _with_design(construction: Construction, names: list[str], to: Any) -> Construction:
    if construction.design is None:
        raise KeyError(*names)
    design = construction.design.design
    match names:
        case ["correct"]:
            other = replace(design, correct=to)
        case ["covers"]:
            other = replace(design, covers=Covers(to))
        case ["effects", colour, "weave"]:
            effect = replace(design.effects[colour], weave=_weave(to))
            other = replace(design, effects={**design.effects, colour: effect})
        case [name]:
            other = design.cut_to(**{name: int(to)})
        case _:
            raise KeyError(*names)
    lifts = lay_on_hooks(other)
    if not all(lifts.picks_by_weft.values()):
        raise InputError.of(
            "/weave/design/wefts",
            say("fault.design.weft_never_inserted", "A weft of the design is never inserted."),
        )
    weft = replace(construction.weft, order=lifts.weft_order or construction.weft.order)
    return replace(construction, weave=lifts.weave, design=lifts, figured=None, weft=weft)


def _groups(to: Iterable[Mapping[str, Any]]) -> tuple[WarpGroup, ...]:
    return tuple(WarpGroup(**{**each, "yarns": tuple(each["yarns"])}) for each in to)


def _names(field: str) -> list[str]:
    return [_ATTRIBUTES.get(name, name) for name in field.split("/")[2:]]


def _with(parent: Any, names: list[str], to: object) -> Any:
    name, *rest = names
    kind: Any = type(parent)
    if name not in _names_of(kind):
        raise KeyError(name)
    value = _with(getattr(parent, name), rest, to) if rest else to
    return replace(parent, **{name: value})


@cache
def _names_of(kind: Any) -> frozenset[str]:
    return frozenset(each.name for each in fields(kind)) if is_dataclass(kind) else frozenset()
