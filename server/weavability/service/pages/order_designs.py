"""A figured design on the form: its picture, and a row for the effect of each of its colours."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from weavability.service.batches.csv_grammar import Kind, read_cell
from weavability.textiles.figured.effect_picture import read_effect_picture

MEMBERS: Final = ("weave", "name", "face")
"""Members of an effect that have a field of the form; the others stay as they are stated."""

_FIELD: Final = re.compile(rf"effect\.([0-9a-f]{{6}})\.({'|'.join(MEMBERS)})")


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectRow:
    """An effect as the form shows it: its colour, and the text of each of its fields."""

    colour: str
    texts: Mapping[str, str]

    @property
    def name(self) -> str:
        """How the names of its fields begin."""
        return f"effect.{self.colour.removeprefix('#')}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRows:
    """A design as the form shows it.

    Attributes:
        picture: Address of its picture, within the page.
        effects: Its effects, by colour.
    """

    picture: str
    effects: tuple[EffectRow, ...]


def is_of_effect(name: str) -> bool:
    """Return whether a field is one of an effect.

    >>> is_of_effect("effect.c01030.weave"), is_of_effect("effect.c01030.colour")
    (True, False)
    """
    return _FIELD.fullmatch(name) is not None


def design_rows(cell: str) -> DesignRows | None:
    """Return what the form shows of a weave; ``None`` if it is no design that rows can show."""
    design = _design(cell)
    if design is None:
        return None
    effects = sorted(design["effects"].items())
    return DesignRows(
        picture=f"data:image/png;base64,{design['picture_png']}",
        effects=tuple(EffectRow(colour=colour, texts=_texts(each)) for colour, each in effects),
    )


def _design(cell: str) -> dict[str, Any] | None:
    value = read_cell(Kind.WEAVE, cell, decimal_comma=False)
    design = value.get("design") if isinstance(value, dict) else None
    effects = design.get("effects") if isinstance(design, dict) else None
    if not isinstance(design, dict) or not isinstance(effects, dict):
        return None
    if not isinstance(design.get("picture_png"), str):
        return None
    good = all(
        re.fullmatch(r"#[0-9a-f]{6}", colour) and isinstance(each, dict)
        for colour, each in effects.items()
    )
    return design if good else None


def _texts(effect: Mapping[str, Any]) -> dict[str, str]:
    texts = {name: effect.get(name) or "" for name in MEMBERS}
    weave = texts["weave"]
    if isinstance(weave, dict) and isinstance(weave.get("rows"), list):
        texts["weave"] = "|".join(map(str, weave["rows"]))
    return {
        name: text if isinstance(text, str) else json.dumps(text) for name, text in texts.items()
    }


def with_effects(cell: str, fields: Iterable[tuple[str, str]]) -> str:
    """Return a design with what the fields of its effects state; another weave as it is."""
    design = _design(cell)
    if design is None:
        return cell
    for colour, member, text in _stated(fields):
        effect = design["effects"].get(colour)
        if effect is None or _texts(effect)[member] == text:
            continue
        effect.pop(member, None)
        if text:
            effect[member] = (
                read_cell(Kind.WEAVE, text, decimal_comma=False) if member == "weave" else text
            )
    return _written(design)


def _stated(fields: Iterable[tuple[str, str]]) -> Iterator[tuple[str, str, str]]:
    for name, text in fields:
        found = _FIELD.fullmatch(name)
        if found is not None:
            yield f"#{found[1]}", found[2], text


def design_of_picture(picture: bytes) -> str:
    """Return a design of a picture, an effect without a weave for each of its colours.

    Raises:
        InputError: It is no picture of a design.
    """
    colours = read_effect_picture(picture).colours
    effects: dict[str, dict[str, str]] = {colour: {} for colour in colours}
    stated = {"picture_png": base64.b64encode(picture).decode(), "effects": effects}
    return _written(stated)


def _written(design: Mapping[str, Any]) -> str:
    return json.dumps({"design": design}, ensure_ascii=False, separators=(",", ":"))
