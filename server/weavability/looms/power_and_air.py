"""Energy and compressed air that a loom takes while it weaves."""

from __future__ import annotations

from typing import Final

from weavability.textiles.guards import not_negative, positive

AIR_KG_PER_M3: Final = 1.2
"""Density of free air at room temperature and pressure."""

MEASURED_AIR_KG_PER_KG_WEFT: Final = 90.0
"""Air that a loom took for a kilogram of weft, [AIR-CONSUMPTION]."""


def running_hours(*, hours: float, efficiency_pct: float) -> float:
    """Return the hours of an order in which the loom runs, of those in which it is occupied.

    >>> running_hours(hours=200, efficiency_pct=90)
    180.0
    """
    return not_negative("hours", hours) * not_negative("efficiency_pct", efficiency_pct) / 100


def air_kg_per_kg_weft(
    *, air_m3_per_h: float, insertion_rate_m_per_min: float, weft_tex: float
) -> float:
    """Return the mass of air that carries a unit mass of weft.

    Args:
        air_m3_per_h: Free air while the loom runs.
        insertion_rate_m_per_min: Weft inserted per minute.
        weft_tex: Its linear density.

    Returns:
        kg/kg.

    Raises:
        InputError: A value is out of its domain.

    48 m³/h at 500 picks/min over 127 cm of 16.8 tex, [AIR-CONSUMPTION]:

    >>> round(air_kg_per_kg_weft(
    ...     air_m3_per_h=48, insertion_rate_m_per_min=635, weft_tex=16.8))
    90
    """
    km_per_h = positive("insertion_rate_m_per_min", insertion_rate_m_per_min) * 60 / 1000
    weft_kg_per_h = km_per_h * positive("weft_tex", weft_tex) / 1000
    return not_negative("air_m3_per_h", air_m3_per_h) * AIR_KG_PER_M3 / weft_kg_per_h
