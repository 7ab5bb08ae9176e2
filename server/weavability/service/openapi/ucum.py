"""The units of fields in the Unified Code for Units of Measure, for programs.

What is counted is in braces, as that code writes an annotation, which has no blanks; a program
may read it as 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from weavability.service.schemas.fields import Shape

UNIT: Final = "x-unit"
UNIT_IN: Final = "x-unit-in"
"""Instead, where the unit of a figure differs from answer to answer: what states it."""

_ELSEWHERE: Final[Mapping[str, str]] = {
    "ValueBand": "the unit beside the band",
    "VariedField": "the field at the pointer",
    "WindowBorder": "the unit of the axis",
    "WindowPoint": "the unit of the axis",
}
"""Objects without a unit of their own whose figures have one."""

CODES: Final[Mapping[str, str]] = {
    "%": "%",
    "cm": "cm",
    "mm": "mm",
    "m": "m",
    "km": "km",
    "in": "[in_i]",
    "yd": "[yd_i]",
    "m/m": "m/m",
    "1/cm²": "/cm2",
    "g": "g",
    "kg": "kg",
    "grains": "[gr]",
    "kg/kg": "kg/kg",
    "g/m": "g/m",
    "g/m²": "g/m2",
    "g/cm³": "g/cm3",
    "tex": "tex",
    "h": "h",
    "d": "d",
    "min": "min",
    "ms": "ms",
    "years": "a",
    "per h": "/h",
    "1/min": "/min",
    "m/s": "m/s",
    "m/s²": "m/s2",
    "m/h": "m/h",
    "m/min": "m/min",
    "m²/h": "m2/h",
    "cN": "cN",
    "cN/tex": "cN/tex",
    "degrees": "deg",
    "degrees of the crank circle": "deg",
    "kW": "kW",
    "kWh": "kW.h",
    "kWh/m": "kW.h/m",
    "kWh/kg": "kW.h/kg",
    "m³": "m3",
    "m³/m": "m3/m",
    "m³/h": "m3/h",
    "ppm": "[ppm]",
    "ends": "{ends}",
    "picks": "{picks}",
    "threads": "{threads}",
    "wefts": "{wefts}",
    "shafts": "{shafts}",
    "healds": "{healds}",
    "hooks": "{hooks}",
    "beams": "{beams}",
    "feeders": "{feeders}",
    "boxes": "{boxes}",
    "looms": "{looms}",
    "weavers": "{weavers}",
    "stops": "{stops}",
    "pieces": "{pieces}",
    "points": "{points}",
    "times": "{times}",
    "of 255": "{of_255}",
    "ends/cm": "{ends}/cm",
    "picks/cm": "{picks}/cm",
    "threads/cm": "{threads}/cm",
    "ends/in": "{ends}/[in_i]",
    "picks/in": "{picks}/[in_i]",
    "dents/10 cm": "{dents}/dm",
    "healds/cm/shaft": "{healds_per_shaft}/cm",
    "turns/m": "{turns}/m",
    "picks/min": "{picks}/min",
    "ends/h": "{ends}/h",
    "knots/h": "{knots}/h",
    "stops/100 000 picks": "{stops}/(10*5.{picks})",
    "stops/h": "{stops}/h",
    "threads/cm × √tex ÷ 10": "{cover_factor-SI}",
    "threads/in ÷ √Ne": "{cover_factor-cotton}",
    "times mu v^2": "{times_mu_v^2}",
    "percentage points of efficiency": "%",
    "per m": "{currency}/m",
    "per m²": "{currency}/m2",
    "per m³": "{currency}/m3",
    "per kg": "{currency}/kg",
    "per kWh": "{currency}/(kW.h)",
    "per order": "{currency_per_order}",
    "per unit": "{currency_per_unit}",
    "in that currency": "{currency}",
    "as its system counts": "{count_of_the_reed}",
    "picks/min or cm": "{picks/min_or_cm}",
}
"""The code of every unit that a field is described with."""


def with_unit(
    shape: Shape, unit: str | None, *, of: str, beside: bool = False, by_name: bool = False
) -> Shape:
    """Return the schema of a field with its unit, if the field holds a number or several.

    Args:
        shape: The schema of the field.
        unit: Its unit as it is described; ``None`` or empty for a bare number.
        of: The name of the object's schema.
        beside: Whether the object has a member ``unit``, which is that of its figures.
        by_name: Whether the field holds what a sentence quotes, each value with its own unit.

    Raises:
        KeyError: The unit has no code yet.
    """
    if not _has_numbers(shape):
        return shape
    if by_name:
        return {**shape, UNIT_IN: "the end of each name; GET /v1/messages lists them"}
    if unit:
        return {**shape, UNIT: CODES[unit]}
    if beside or of in _ELSEWHERE:
        return {**shape, UNIT_IN: _ELSEWHERE.get(of, "the member unit")}
    return {**shape, UNIT: "1"}


def _has_numbers(shape: Any) -> bool:
    """Return whether a value, or the values of a list or a map, can be a number."""
    if not isinstance(shape, Mapping):
        return False
    stated = shape.get("type", [])
    if not {"number", "integer"}.isdisjoint([stated] if isinstance(stated, str) else stated):
        return True
    inner = [shape.get("items"), shape.get("additionalProperties"), *shape.get("anyOf", ())]
    return any(_has_numbers(each) for each in inner)
