"""The words of a field reach the OpenAPI document from the field itself."""

from __future__ import annotations

from dataclasses import dataclass
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
