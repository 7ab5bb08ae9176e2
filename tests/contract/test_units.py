"""Every figure of the document has its unit for machines, in a code that others can read."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from weavability.service.app import openapi_document
from weavability.service.openapi.ucum import UNIT, UNIT_IN


def numeric(shape: Any) -> bool:
    if not isinstance(shape, Mapping):
        return False
    stated = shape.get("type", [])
    if {"number", "integer"} & set([stated] if isinstance(stated, str) else stated):
        return True
    below = [shape.get("items"), shape.get("additionalProperties"), *shape.get("anyOf", ())]
    return any(map(numeric, below))


def figures() -> Iterator[tuple[str, Mapping[str, Any]]]:
    for name, schema in openapi_document()["components"]["schemas"].items():
        for field, shape in schema.get("properties", {}).items():
            if numeric(shape):
                yield f"{name}.{field}", shape
    for name, header in openapi_document()["components"]["headers"].items():
        if numeric(header["schema"]):
            yield name, header["schema"]


def test_every_figure_has_a_unit_or_says_where_it_is() -> None:
    lacking = [name for name, shape in figures() if (UNIT in shape) == (UNIT_IN in shape)]
    assert lacking == []


@pytest.mark.slow
def test_every_unit_can_be_read() -> None:
    """By a parser of the grammar of The Unified Code for Units of Measure, version 2.2."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from ucumvert import get_ucum_parser  # type: ignore[import-untyped] # slow to import
    parser = get_ucum_parser()
    for code in sorted({shape[UNIT] for _, shape in figures() if UNIT in shape}):
        parser.parse(code)


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Loom.reed_width_cm", "cm"),
        ("Loom.reeds_in_stock_dents_per_10cm", "{dents}/dm"),
        ("Insertion.max_rate_m_per_min", "m/min"),
        ("Warp.ends_per_in", "{ends}/[in_i]"),
        ("Construction.length_yd", "[yd_i]"),
        ("Rates.speed_picks_per_min", "{picks}/min"),
        ("ClothState.mass_g_per_m2", "g/m2"),
        ("Retry-After", "s"),
    ],
)
def test_the_unit_is_that_of_the_name(name: str, unit: str) -> None:
    assert dict(figures())[name][UNIT] == unit


def test_a_figure_whose_unit_differs_names_the_member_that_has_it() -> None:
    known = dict(figures())
    assert known["Finding.actual"][UNIT_IN] == "the member unit"
    assert known["ValueBand.low"][UNIT_IN] == "the unit beside the band"
