"""Output of a loom: metres and square metres an hour, hours and days of an order."""

from __future__ import annotations

from weavability.textiles.guards import between, positive
from weavability.textiles.numbers import N
from weavability.textiles.units import CM_PER_M, MINUTES_PER_HOUR


def output_m_per_h(*, speed_picks_per_min: N, picks_per_cm: N, efficiency_pct: N) -> N:
    """Return the cloth woven an hour: picks an hour, less the time lost, over picks a metre.

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


def output_m2_per_h(*, output_m_per_h: float, cloth_width_cm: float) -> float:
    """Return the area woven an hour: length an hour times the width of all cloths abreast.

    Args:
        output_m_per_h: Length that leaves the loom in an hour.
        cloth_width_cm: Width of all panels together, without the gaps between them.

    Returns:
        m²/h.

    Raises:
        InputError: A value is out of its domain.

    >>> output_m2_per_h(output_m_per_h=10, cloth_width_cm=2 * 80)
    16.0
    """
    between("output_m_per_h", output_m_per_h, least=0.0, most=1e9)
    return output_m_per_h * positive("cloth_width_cm", cloth_width_cm) / CM_PER_M


def hours_for_order(*, length_m: N, output_m_per_h: N) -> N:
    """Return the hours that one loom runs for a length of cloth.

    Args:
        length_m: Length that leaves the loom; panels side by side are woven at once.
        output_m_per_h: Output of the loom, see :func:`output_m_per_h`.

    Returns:
        h.

    Raises:
        InputError: A value is not a positive number.

    >>> round(hours_for_order(length_m=12000, output_m_per_h=13.8), 2)
    869.57
    """
    return positive("length_m", length_m) / positive("output_m_per_h", output_m_per_h)


def days_for_hours(*, hours: float, hours_per_day: float) -> float:
    """Return the days of the mill's calendar that some hours of running take.

    Args:
        hours: Running time of one loom.
        hours_per_day: Hours of a working day, above 0 and at most 24.

    Returns:
        Working days.

    Raises:
        InputError: The hours of a day are out of their domain.

    12,000 m at 13.8 m/h around the clock:

    >>> round(days_for_hours(hours=12000 / 13.8, hours_per_day=24), 3)
    36.232
    """
    positive("hours_per_day", hours_per_day)
    return hours / between("hours_per_day", hours_per_day, least=0.0, most=24.0)
