"""The generated modules of the client are those of the service as it is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import weavability
from client_modules import generated, records
from weavability_client import _version
from weavability_client.models import _generated

GENERATED = generated()


@pytest.mark.parametrize("path", GENERATED, ids=lambda path: path.name)
def test_a_generated_module_is_current(path: Path) -> None:
    assert path.read_text("utf-8") == GENERATED[path], (
        "the service has changed: run openapi/regenerate and commit what it writes"
    )


def schema(**members: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of an object, all of whose members the service writes."""
    described = {name: {"description": "Words.", **each} for name, each in members.items()}
    return {"description": "Something.", "properties": described, "required": list(members)}


@pytest.mark.parametrize(
    ("member", "line"),
    [
        ({"type": "number"}, "glow: float"),
        ({"type": ["number", "null"]}, "glow: float | None = None"),
        ({"type": "number", "x-since": "0.2"}, "glow: float | None = None"),
        ({"type": "array", "items": {"type": "integer"}}, "glow: tuple[int, ...]"),
        (
            {"type": ["array", "null"], "items": {"type": "integer"}},
            "glow: tuple[int, ...] | None = None",
        ),
        (
            {"anyOf": [{"type": "number"}, {"type": "string"}, {"type": "integer"}]},
            "glow: int | float | str",
        ),
        ({}, "glow: object = None"),
    ],
)
def test_a_field_is_what_its_schema_says(
    monkeypatch: pytest.MonkeyPatch, member: dict[str, Any], line: str
) -> None:
    monkeypatch.setattr("client_modules.ROOTS", ("Lamp",))
    written = records({"Lamp": schema(glow=member)})
    assert f"    {line}\n" in written
    assert "        glow: Words.\n" in written


def test_the_words_of_a_field_come_with_its_unit() -> None:
    words = _generated.ClothSummary.__doc__ or ""
    assert "grey_width_cm: Width of a panel in the grey [cm]." in words


def test_the_version_is_that_of_the_service() -> None:
    assert _version.__version__ == weavability.__version__
