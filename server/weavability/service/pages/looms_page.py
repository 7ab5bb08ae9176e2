"""The loom park as pages for people: the looms side by side, and one loom with its limits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from flask import render_template

from weavability.answers.caution import CAUTION
from weavability.answers.few_names import capitalised
from weavability.answers.field_names import own_words
from weavability.answers.field_words import unit_of, without_unit
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import resolve_loom
from weavability.service.pages.wording import measure, show, spoken
from weavability.service.requests.park import Park, ParkLoom
from weavability.service.schemas.base import Body, Part, described
from weavability.service.schemas.fields import Described
from weavability.service.schemas.loom_schema import LoomSchema
from weavability.textiles.assumptions import Assumption


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRow:
    """A value of a loom, stated or assumed.

    Attributes:
        part: The part of the loom that it belongs to; empty for the loom itself.
        name: What it is called.
        value: The value with its unit.
        band: The range in which an assumed value is expected; empty if none is known.
        words: What it means; why, if it is assumed.
    """

    part: str
    name: str
    value: str
    words: str
    band: str = ""


def render_list(park: Park) -> str:
    """Return the page of the park."""
    return render_template("looms.html", looms=park.looms.values(), show=show, caution=CAUTION)


def render(loom: ParkLoom) -> str:
    """Return the page of one loom."""
    return render_template(
        "loom.html",
        document=loom.document,
        stated=stated_limits(loom.document),
        assumed=assumed_limits(loom.loom),
        caution=CAUTION,
    )


def stated_limits(document: Mapping[str, Any]) -> list[LimitRow]:
    """Return what a loom states, its name and description left out."""
    return list(_stated(LoomSchema(), document))


def assumed_limits(loom: Loom) -> list[LimitRow]:
    """Return the limits that a loom leaves to be assumed."""
    return [_assumed(each) for each in resolve_loom(loom).assumptions]


def _stated(schema: Body[Any], given: Mapping[str, Any], part: str = "") -> Iterator[LimitRow]:
    """Yield a row for every value, those of the loom itself first."""
    inner: list[tuple[Part[Any], str, Mapping[str, Any]]] = []
    for name, value in given.items():
        field = described(schema.fields[name])
        if name in ("loom_id", "description"):
            continue
        if isinstance(field, Part) and value.keys() <= {"min", "max"}:
            yield LimitRow(
                part=spoken(part),
                name=_name(f"/loom/{part}/{name}" if part else f"/loom/{name}"),
                value=_range(value, field.body),
                words=_without_brackets(field.description),
            )
            continue
        if isinstance(field, Part):
            inner.append((field, name, value))
            continue
        yield LimitRow(
            part=spoken(part),
            name=_name(f"/loom/{part}/{name}" if part else f"/loom/{name}"),
            value=_value(value, field),
            words=_without_brackets(field.description),
        )
    for field, name, value in inner:
        yield from _stated(field.body, value, name)


def _value(value: object, field: Described[Any]) -> str:
    if isinstance(value, list):
        return "; ".join(_item(each) for each in value) + (f" {field.unit}" if field.unit else "")
    unit = field.unit.removesuffix("s") if value == 1 and field.unit.isalpha() else field.unit
    return measure(value, unit or None)


def _without_brackets(words: str) -> str:
    """Write the unit that ends a description as its last words.

    >>> _without_brackets("Reeds in stock [dents/10 cm]")
    'Reeds in stock, dents/10 cm'
    """
    return words.replace(" [", ", ").removesuffix("]") if words.endswith("]") else words


def _range(given: Mapping[str, Any], schema: Body[Any]) -> str:
    unit = described(schema.fields["max"]).unit
    if "min" not in given:
        return f"at most {measure(given['max'], unit)}"
    if "max" not in given:
        return f"at least {measure(given['min'], unit)}"
    return f"{show(given['min'])} to {measure(given['max'], unit)}"


def _item(item: object) -> str:
    """Write an item of a list; one of several values as words."""
    if isinstance(item, Mapping):
        return ", ".join(_member(name, value) for name, value in item.items())
    return show(item)


def _member(name: str, value: object) -> str:
    """Write a value of an item with its name, unless the name is its unit.

    >>> _member("reed_width_cm", 140), _member("picks_per_min", 620)
    ('reed width 140\u202fcm', '620\u202fpicks/min')
    """
    words = without_unit(name)
    written = measure(value, unit_of(name))
    return written if unit_of(name) and words == name else f"{spoken(words).lower()} {written}"


def _name(pointer: str) -> str:
    return capitalised(own_words(pointer))


def _assumed(assumption: Assumption) -> LimitRow:
    part = assumption.pointer.strip("/").rpartition("/")[0]
    band = assumption.band
    return LimitRow(
        part=spoken(part),
        name=_name(assumption.pointer),
        value=measure(assumption.value, assumption.unit),
        words=assumption.reason,
        band=f"{show(band.low)} to {measure(band.high, assumption.unit)}" if band else "",
    )
