"""What a loom makes: metres and square metres an hour, hours and days for an order."""

from __future__ import annotations

from math import ceil
from typing import Final

from weavability.looms.guards import between, positive, whole

MINUTES_PER_HOUR: Final = 60.0
CM_PER_M: Final = 100.0


def output_m_per_h(
    *, speed_picks_per_min: float, picks_per_cm: float, efficiency_pct: float
) -> float:
    """Cloth woven an hour: picks an hour, less the time lost, over picks a metre.

    Args:
        speed_picks_per_min: Loom speed.
        picks_per_cm: Picks in the cloth whose metres are counted.
        efficiency_pct: Running time as a share of the time counted, 0 to 100.

    Returns:
        m/h. Cloth woven side by side counts once: it is the length that leaves the loom.

    Raises:
        InputError: A value is out of its domain.

    >>> round(output_m_per_h(speed_picks_per_min=500, picks_per_cm=20, efficiency_pct=92), 3)
    13.8
    """
    positive("speed_picks_per_min", speed_picks_per_min)
    positive("picks_per_cm", picks_per_cm)
    between("efficiency_pct", efficiency_pct, least=0.0, most=100.0)
    picks_per_h = speed_picks_per_min * MINUTES_PER_HOUR * efficiency_pct / 100
    return picks_per_h / (picks_per_cm * CM_PER_M)


def output_m2_per_h(*, output_m_per_h: float, cloth_width_cm: float, panels: int = 1) -> float:
    """Area woven an hour: length an hour times the width of one cloth times the cloths.

    Raises:
        InputError: A value is out of its domain.
    """
    between("output_m_per_h", output_m_per_h, least=0.0, most=1e9)
    positive("cloth_width_cm", cloth_width_cm)
    whole("panels", panels, least=1, most=1000)
    return output_m_per_h * cloth_width_cm / CM_PER_M * panels


def hours_for_order(*, length_m: float, output_m_per_h: float, panels: int = 1) -> float:
    """Hours that one loom needs for an order of ``length_m`` of cloth.

    Args:
        length_m: Cloth ordered; metres of every panel count.
        output_m_per_h: Output of the loom, 0 excluded.
        panels: Cloths woven side by side.

    Raises:
        InputError: A value is out of its domain.
    """
    positive("length_m", length_m)
    positive("output_m_per_h", output_m_per_h)
    return length_m / output_m_per_h / whole("panels", panels, least=1, most=1000)


def days_for_hours(*, hours: float, hours_per_day: float, looms: int = 1) -> float:
    """Days that an order takes under a calendar of ``hours_per_day`` on ``looms`` looms.

    Raises:
        InputError: A value is out of its domain; a day has at most 24 hours.

    12,000 m at 13.8 m/h around the clock:

    >>> round(days_for_hours(hours=12000 / 13.8, hours_per_day=24), 3)
    36.232
    """
    between("hours", hours, least=0.0, most=1e9)
    positive("hours_per_day", hours_per_day)
    between("hours_per_day", hours_per_day, least=0.0, most=24.0)
    return hours / hours_per_day / whole("looms", looms, least=1, most=100_000)


def looms_for_order(*, hours: float, hours_per_day: float, days: float) -> int:
    """Looms that finish an order within ``days`` of ``hours_per_day``.

    Raises:
        InputError: A value is out of its domain.
    """
    positive("days", days)
    return max(1, ceil(days_for_hours(hours=hours, hours_per_day=hours_per_day) / days))


def efficiency_from_output_pct(
    *, output_m: float, speed_picks_per_min: float, picks_per_cm: float, hours: float
) -> float:
    """Efficiency that a measured output shows: cloth made over cloth possible.

    Returns:
        %; above 100 where the figures contradict each other.

    Raises:
        InputError: A value is not a positive number.
    """
    positive("output_m", output_m)
    possible = output_m_per_h(
        speed_picks_per_min=speed_picks_per_min, picks_per_cm=picks_per_cm, efficiency_pct=100.0
    )
    return output_m / (possible * positive("hours", hours)) * 100
