"""The fields of an order as a form names them: labels of the trade, in groups.

What a field is, its unit and its bounds come from the schemas by way of the columns of a sheet;
only the words and the place on the form are written here. A field that has none gets its place
among the others of its part and the beginning of its description as a label.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, Final

from weavability.answers.few_names import capitalised
from weavability.answers.field_names import (
    POINTER,
    field_in_words,
    named_in_words,
    own_words,
)
from weavability.looms.reeds import reed_systems
from weavability.service.batches.csv_columns import Column, column, columns, yarn_fields
from weavability.service.batches.csv_grammar import Kind
from weavability.service.pages.wording import FIELD_NAME, members_in_words
from weavability.service.schemas.fields import Choice, Described, Flag, figure
from weavability.textiles.construction import INCH_FORMS
from weavability.textiles.drafting import NAMED_THREADINGS
from weavability.textiles.fibres import fibres
from weavability.textiles.notation import notations
from weavability.textiles.trade_names import trade_names


class Entry(StrEnum):
    """How a field is filled in."""

    LINE = "line"
    NUMBER = "number"
    CHOICE = "choice"
    AREA = "area"


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """A field of the form.

    Attributes:
        heading: Its name, the heading of its column.
        label: What people call it.
        unit: Unit of its number, as people write it.
        hint: What to write, or what it means; empty if the label says it.
        entry: How it is filled in.
        options: Value and words of each choice.
        suggestions: Name of the list of suggestions; empty without one.
    """

    heading: str
    label: str
    unit: str
    hint: str
    entry: Entry
    options: tuple[tuple[str, str], ...] = ()
    suggestions: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldedGroup:
    """Fields that are folded away, because most orders leave them open."""

    name: str
    title: str
    intro: str
    headings: tuple[str, ...]


_LABELS: Final[Mapping[str, tuple[str, str]]] = {
    "loom_id": ("Loom", ""),
    "reference": ("Order number", ""),
    "stage": ("Setts, width and length are those of", ""),
    "weave": ("Weave", ""),
    "warp_order": ("Warp order", "Such as 24A 4B, or with groups 3(2A 2B) 4C"),
    "weft_order": ("Weft order", "Such as 24A 4B, or with groups 3(2A 2B) 4C"),
    "ends_per_cm": ("Ends", ""),
    "ends_per_in": ("Ends", ""),
    "picks_per_cm": ("Picks", ""),
    "picks_per_in": ("Picks", ""),
    "warp_crimp_pct": ("Warp crimp", "On cloth length"),
    "warp_contraction_pct": ("or contraction", "On yarn length"),
    "weft_crimp_pct": ("Weft crimp", "On cloth width"),
    "weft_contraction_pct": ("or contraction", "On yarn length"),
    "width_cm": ("Width of the cloth", "Of one panel, usual selvedges included"),
    "width_in": ("Width of the cloth", "Of one panel, usual selvedges included"),
    "length_m": ("Length", "Cloth to weave, all panels together"),
    "length_yd": ("Length", "Cloth to weave, all panels together"),
    "order.pieces": ("or pieces", "Of finished cloth"),
    "order.piece_length_m": ("Length of a piece", ""),
    "order.overage_pct": ("Overage", "Made beyond the order"),
    "order.rejects_pct": ("Rejects", "Of the length woven"),
    "thickness_mm": ("Thickness of the grey cloth", ""),
    "reed_dents_per_10cm": ("Reed", ""),
    "reed_count": ("or reed count", ""),
    "reed_system": ("Counting system of the reed", ""),
    "reed_ends_per_dent": ("Ends in a dent", ""),
    "reed_ends_in_dents": ("or ends in each dent", "One repeat, such as 2 2 3; 0 is an empty dent"),
    "reed_wire_share_pct": ("Share of the wire in a dent", ""),
    "draft": ("Drawing-in", "A named draft, or the shaft of every end: 1 2 3 4"),
    "selvedge_ends_per_side": ("Selvedge ends a side", ""),
    "selvedge_ends_per_dent": ("Selvedge ends in a dent", ""),
    "selvedge_shafts": ("Shafts of its own", ""),
    "selvedge_yarn": ("Yarn of the selvedge", "Letter of a warp yarn"),
    "selvedge_weave": ("Weave of the selvedge", "As the ground if left open"),
    "selvedge_leno_ends_per_side": ("Leno ends a side", ""),
    "selvedge_catch_cord_ends": ("Ends of catch cords", "Of the whole loom"),
    "panels": ("Panels side by side", ""),
    "panel_gap_cm": ("Reed left between panels", ""),
    "warp_beams": (
        "Groups of ends with a beam of their own",
        'As JSON: [{"name": "ground", "yarns": ["A"]}, '
        '{"name": "pile", "yarns": ["P"], "pile_ratio": 5.2}]',
    ),
    "layers_ends": ("Layer of every end", "One letter a layer, such as 1F 1B"),
    "layers_picks": ("Layer of every pick", "One letter a layer, such as 1F 1B"),
    "layers_joined": ("The layers are", ""),
    "layers_pile": ("Layers that are pile", "Their letters"),
    "finish": ("Finish", "It decides on shrinkages that are not stated"),
    "width_shrinkage_pct": ("Shrinkage in width", "Grey to finished"),
    "length_shrinkage_pct": ("Shrinkage in length", "Grey to finished"),
    "relaxation_pct": ("Relaxation off the loom", ""),
    "mass_change_pct": ("Change of mass in finishing", "Negative for a loss"),
    "stabilised": ("A finish holds an open cloth together", ""),
    "warp_waste_pct": ("Waste of warp yarn", ""),
    "weft_waste_pct": ("Waste of weft yarn", ""),
    "size_pct": ("Size on the warp", ""),
    "loom_waste_m": ("Warp lost on the loom", "At tying-in and at the end"),
    "requested_speed_picks_per_min": ("Planned speed", ""),
    "requirements.fibre_pct": (
        "Share of fibres",
        'As JSON: {"cotton": {"min": 60}, "polyester": {"max": 40}}',
    ),
    "prices.currency": ("Currency", "A label; nothing is converted"),
    "prices.size_per_kg": ("Size", ""),
    "prices.loom_hour": ("Loom hour", "Of looms without a price of their own"),
    "prices.changeover_hour": ("Hour of change-over", ""),
    "prices.changeover_hours": ("Hours of change-over", "As planned or usual if left open"),
    "prices.energy_per_kwh": ("Electric energy", ""),
    "prices.air_per_m3": ("Compressed air", "As free air"),
    "prices.second_quality_value_pct": ("Value of seconds", "As a share of a first"),
}

_YARN_LABELS: Final[Mapping[str, tuple[str, str]]] = {
    "yarn": ("Count", ""),
    "linear_density_tex": ("Linear density", "In place of the count"),
    "sample_length_m": ("Weighed sample, length", ""),
    "sample_length_yd": ("Weighed sample, length in yards", ""),
    "sample_mass_g": ("Weighed sample, mass", ""),
    "sample_mass_grains": ("Weighed sample, mass in grains", ""),
    "crimp_pct": ("Crimp of this yarn", ""),
    "contraction_pct": ("or its contraction", ""),
    "monofilament": ("One filament", ""),
    "flattening_ratio": ("Width over thickness", "Of a yarn that lies flat"),
}
"""Where the form calls a field of a yarn otherwise than a sentence does, or adds a hint."""

YARN_ROW: Final = ("yarn", "fibre", "colour")
"""Words of the fields that every yarn shows; the others are folded away."""

REQUIRED_FIGURES: Final[Mapping[str, str]] = {
    "mass_g_per_m2": "Mass",
    "mass_g_per_m": "Mass of a running metre",
    "finished_width_cm": "Finished width",
    "ends_per_cm": "Ends",
    "picks_per_cm": "Picks",
    "thickness_mm": "Thickness",
    "open_area_pct": "Open area",
    "cover_factor": "Cover factor",
}
REQUIRED_LIMITS: Final[Mapping[str, str]] = {
    "min": "At least",
    "max": "At most",
    "nominal": "or nominal",
    "tolerance_pct": "tolerance",
}

_GROUPS: Final[Sequence[tuple[str, str, str, tuple[str, ...]]]] = (
    ("reed", "Reed and drawing-in", "Chosen for the order if left open.", ("reed_", "draft")),
    ("selvedge", "Selvedges and panels", "", ("selvedge_", "panel")),
    ("beams", "Beams", "For ends that take up differently, such as pile.", ("warp_beams",)),
    ("layers", "Layers and pile", "For double, backed and pile cloths.", ("layers_",)),
    (
        "finishing",
        "Finishing",
        "What happens between the loom and the finished cloth.",
        (
            *("finish", "width_shrinkage", "length_shrinkage", "relaxation", "mass_change"),
            *("stabilised", "thickness_mm"),
        ),
    ),
    ("waste", "Size and waste", "", ("size_pct", "warp_waste", "weft_waste", "loom_waste")),
    ("speed", "Speed", "", ("requested_speed",)),
    (
        "requirements",
        "Requirements of the customer",
        "Limits of the finished cloth: at least, at most, or nominal with its tolerance.",
        ("requirements.",),
    ),
    (
        "prices",
        "Prices",
        "They decide nothing, are part of no link and are not kept.",
        ("prices.",),
    ),
)

OPEN: Final = (
    *("loom_id", "reference", "stage", "weave", "width_cm", "width_in", "length_m", "length_yd"),
    *("ends_per_cm", "ends_per_in", "picks_per_cm", "picks_per_in", "warp_order", "weft_order"),
    *("warp_crimp_pct", "warp_contraction_pct", "weft_crimp_pct", "weft_contraction_pct"),
    *("order.pieces", "order.piece_length_m", "order.overage_pct", "order.rejects_pct"),
)
"""Headings of the fields that are always to be seen."""

INCH_HEADINGS: Final[Mapping[str, tuple[str, float]]] = {
    metric.rpartition("/")[2]: (inch.rpartition("/")[2], per_metric)
    for metric, (inch, per_metric) in INCH_FORMS.items()
}
"""The inch form of a field by its heading, and the number there for 1 in metric form."""

_CHOICES: Final[Mapping[str, str]] = {
    "loom_state": "the cloth in the loom",
    "grey": "the grey cloth",
    "finished": "the finished cloth",
    "pre_shrunk": "pre-shrunk",
    "S": "S",
    "Z": "Z",
}
STAGES: Final[Mapping[str, str]] = {
    "loom_state": "In the loom: in the reed, under the tension of the take-up.",
    "grey": "Grey: off the loom and relaxed, before any finishing. Taken if left open.",
    "finished": "Finished: as the customer measures it.",
}

_OPENING: Final = re.compile(r"[^,;:(`]+")
_YARN: Final = re.compile(r"(?:warp|weft)_([a-z0-9_]+)_[A-Z]\w*")


@cache
def form_field(heading: str) -> FormField:
    """Return the field of a heading.

    Raises:
        KeyError: There is no such column.
    """
    place = column(heading)
    if place is None:
        raise KeyError(heading)
    label, hint = _words(heading, place)
    return FormField(
        heading=heading,
        label=label,
        unit=place.field.unit.replace("g/cm3", "g/cm³"),
        hint=hint,
        entry=_entry(place),
        options=tuple(_options(heading, place.field)),
        suggestions=_suggestions(heading),
    )


def _words(heading: str, place: Column) -> tuple[str, str]:
    yarn = _YARN.fullmatch(heading)
    if heading in _LABELS:
        return _LABELS[heading]
    if yarn is not None:
        words = own_words("/".join(place.path))
        return _YARN_LABELS.get(yarn[1], (capitalised(words), ""))
    if heading.startswith("prices.yarn_per_kg."):
        return f"Yarn, {place.path[-1]}", ""
    match place.path:
        case (_, "requirements", name, limit) if name in REQUIRED_FIGURES:
            return f"{REQUIRED_FIGURES[name]}, {REQUIRED_LIMITS[limit].lower()}", ""
    opening = _OPENING.match(place.field.description)
    return (opening[0].strip() if opening else heading), ""


def _entry(place: Column) -> Entry:
    if place.kind is Kind.NUMBER:
        return Entry.NUMBER
    if isinstance(place.field, Choice | Flag) or place.name == "reed_system":
        return Entry.CHOICE
    return Entry.AREA if place.kind is Kind.JSON else Entry.LINE


def _options(heading: str, field: Described[Any]) -> Iterator[tuple[str, str]]:
    if isinstance(field, Choice):
        yield from ((each, _CHOICES.get(each, each.replace("_", " "))) for each in field.options)
    elif isinstance(field, Flag):
        yield from (("true", "yes"), ("false", "no"))
    elif heading == "reed_system":
        yield from ((each, _in_words(each)) for each in reed_systems())


def _in_words(system: str) -> str:
    """Write the name of a counting system.

    >>> _in_words("preston_6_4")
    'Preston 6/4'
    """
    name, *parts = system.split("_")
    return " ".join([name.capitalize(), "/".join(parts)]).strip()


def _suggestions(heading: str) -> str:
    yarn = _YARN.fullmatch(heading)
    if heading in ("weave", "selvedge_weave"):
        return "weaves"
    if heading == "draft":
        return "drafts"
    return "fibres" if yarn is not None and yarn[1] == "fibre" else ""


@cache
def suggestions() -> Mapping[str, Sequence[str]]:
    """Return what is suggested, by the name of the list."""
    weaves = [each.example for each in notations() if not each.example.startswith("{")]
    weaves += [each.example for each in trade_names().values() if each.example]
    return {
        "weaves": list(dict.fromkeys(weaves)),
        "fibres": [each.key for each in fibres()],
        "drafts": NAMED_THREADINGS,
    }


@cache
def folded_groups() -> Sequence[FoldedGroup]:
    """Return the groups that are folded away; each field is in one of them, or open."""
    left = [name for name in columns() if name not in OPEN]
    found: list[FoldedGroup] = []
    for name, title, intro, beginnings in _GROUPS:
        mine = tuple(each for each in left if each.startswith(beginnings))
        left = [each for each in left if each not in mine]
        found.append(FoldedGroup(name=name, title=title, intro=intro, headings=mine))
    if left:
        others = tuple(left)
        found.append(FoldedGroup(name="more", title="More", intro="", headings=others))
    return found


def yarn_headings(system: str, key: str) -> tuple[list[str], list[str]]:
    """Return the headings of a yarn: those in its row, and those that are folded away."""
    row = [f"{system}_{word}_{key}" for word in YARN_ROW]
    more = [f"{system}_{word}_{key}" for word in yarn_fields() if word not in YARN_ROW]
    return row, more


_MISSING: Final = re.compile(r"^([\w ]+ is missing): .*$", re.DOTALL)
_DESIGNATION: Final = re.compile(r"\b(a|the|yarn) designation\b", re.IGNORECASE)
_FIRST: Final = re.compile(r"^([a-z]+)\b(?= (?:is missing|must))")
_SPOKEN: Final = {
    "designation": "the count",
    "yarns": "the count",
    "order": "the thread order",
    "tolerance_pct": "the tolerance",
    "stage": "the stage",
}


def in_words(message: str, pointer: str) -> str:
    """Write a message to people: names of fields become what the form calls them.

    Args:
        message: A message of a fault.
        pointer: Where the fault is; its neighbours are what the message may name.

    >>> in_words("width_cm must be at most 500 cm.", "/construction/width_cm")
    'The width of the cloth must be at most 500 cm.'
    >>> in_words("stage must be one of grey, finished.", "/construction/stage")
    'The stage must be one of grey, finished.'
    >>> in_words("It has no meaning in a yarn designation (width.reed_space).", "")
    'It has no meaning in a yarn count (width.reed_space).'
    """
    around = tuple(pointer.split("/")[1:-1])
    # What is missing has its field beside the message, which says how to fill it in.
    message = _MISSING.sub(r"\1.", message)
    spoken = members_in_words(pointers_in_words(message))
    spoken = FIELD_NAME.sub(lambda found: _spoken(found[0], around), spoken)
    spoken = _FIRST.sub(lambda found: _spoken(found[1], around), spoken)
    if "/requirements/" in pointer:
        spoken = _LIMIT.sub(lambda found: f"“{REQUIRED_LIMITS[found[0]].lower()}”", spoken)
    spoken = _DESIGNATION.sub(r"\1 count", spoken.replace("exactly one of", "either"))
    spoken = spoken.replace("designation", _SPOKEN["designation"])
    return capitalised(spoken)


_LIMIT: Final = re.compile(r"\b(?:min|max)\b")


def pointers_in_words(message: str) -> str:
    """Write a message of a report to people: fields by what they are called, codes as they are.

    >>> pointers_in_words("sett.open rests on /construction/weft/crimp_pct = 4 %.")
    'sett.open rests on the weft crimp = 4 %.'
    """
    return POINTER.sub(lambda found: pointer_in_words(found[0]), message)


def pointer_in_words(pointer: str) -> str:
    """Name a field of a request in a sentence; that of a yarn without an article.

    >>> pointer_in_words("/construction/weft/crimp_pct"), pointer_in_words("/loom/running/weavers")
    ('the weft crimp', 'the weavers of the loom')
    """
    words = field_in_words(pointer)
    return words if "/yarns/" in pointer else f"the {words}"


def _spoken(name: str, around: tuple[str, ...]) -> str:
    if name in _SPOKEN:
        return _SPOKEN[name]
    label = _label_at((*around, name))
    words = label or named_in_words(name)
    return f"the {words[:1].lower()}{words[1:]}" if label else words


def _label_at(path: tuple[str, ...]) -> str:
    match path:
        case ("construction", system, "yarns", key, name) if name in yarn_fields():
            return _spoken_label(form_field(f"{system}_{name}_{key}")) if key[:1].isupper() else ""
    found = next((each.name for each in columns().values() if each.path == path), None)
    return _spoken_label(form_field(found)) if found else ""


def _spoken_label(field: FormField) -> str:
    unit = {"ends_per_in": " per inch", "ends_per_cm": " per cm", "width_in": " in inches"}
    unit |= {"picks_per_in": " per inch", "picks_per_cm": " per cm", "length_yd": " in yards"}
    return field.label.removeprefix("or ") + unit.get(field.heading, "")


def allowed_in_words(allowed: object) -> str:
    """Write what is allowed for people; empty if it is of use to programs only.

    >>> allowed_in_words("a number from 1 to 500 cm, such as 152"), allowed_in_words(["S", "Z"])
    ('a number from 1 to 500 cm, such as 152', 'S, Z')
    """
    if isinstance(allowed, list):
        words = [_CHOICES.get(str(each), str(each)) for each in allowed]
        more = len(words) - _MOST_ALLOWED
        return ", ".join(words[:_MOST_ALLOWED]) + (f" and {figure(more)} more" if more > 0 else "")
    if not isinstance(allowed, str) or _TECHNICAL.search(allowed):
        return ""
    return allowed


_MOST_ALLOWED: Final = 12
_TECHNICAL: Final = re.compile(r"[{\[]|_|object|a string|a list")
