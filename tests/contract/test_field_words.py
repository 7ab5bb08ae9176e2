"""The words of a field reach the OpenAPI document from the field itself."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import pytest

from weavability.answers.field_words import Since, Unit
from weavability.service.openapi.json_schema import Components


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """A lamp."""

    glow_pct: Annotated[float, "Light that it gives"]
    life: Annotated[float | None, "How long it burns; null if it is broken", Unit("d")]
    colour: Annotated[str, "Its `colour`", Since("0.2")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mute:
    """A lamp that nobody describes."""

    glow_pct: float


def test_a_field_is_described_with_its_unit_and_its_first_version() -> None:
    components = Components()
    components.answer(Lamp)
    assert components.schemas["Lamp"]["properties"] == {
        "glow_pct": {"type": "number", "description": "Light that it gives [%].", "x-unit": "%"},
        "life": {
            "type": ["number", "null"],
            "description": "How long it burns; null if it is broken [d].",
            "x-unit": "d",
        },
        "colour": {"type": "string", "description": "Its `colour`.", "x-since": "0.2"},
    }


def test_a_field_without_words_is_refused() -> None:
    with pytest.raises(TypeError, match=r"Mute\.glow_pct has no words"):
        Components().answer(Mute)


def test_a_figure_whose_name_has_hours_or_minutes_is_in_these() -> None:
    text = (Path(__file__).parents[2] / "openapi/openapi.json").read_text("utf-8")
    units = {
        name: field["x-unit"]
        for schema in json.loads(text)["components"]["schemas"].values()
        for name, field in schema.get("properties", {}).items()
        if "x-unit" in field and re.search(r"(^|_)(hours?|minutes)(_|$)", name)
    }
    assert len(units) > 15
    assert {
        name: unit for name, unit in units.items() if "h" not in unit and "min" not in unit
    } == {}
