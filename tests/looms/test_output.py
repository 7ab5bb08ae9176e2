"""Metres, square metres, hours, days and looms."""

from __future__ import annotations

import pytest

from weavability.looms.output import (
    days_for_hours,
    efficiency_from_output_pct,
    hours_for_order,
    looms_for_order,
    output_m2_per_h,
    output_m_per_h,
)
from weavability.textiles.errors import InputError


def test_panels_count_in_area_and_in_the_order_but_not_in_the_length_of_the_loom() -> None:
    assert output_m2_per_h(output_m_per_h=10, cloth_width_cm=80, panels=2) == pytest.approx(16)
    assert hours_for_order(length_m=1000, output_m_per_h=10, panels=2) == pytest.approx(50)


def test_a_calendar_of_16_hours_stretches_the_order_by_half() -> None:
    assert days_for_hours(hours=480, hours_per_day=24) == pytest.approx(20)
    assert days_for_hours(hours=480, hours_per_day=16) == pytest.approx(30)
    assert days_for_hours(hours=480, hours_per_day=16, looms=3) == pytest.approx(10)


@pytest.mark.parametrize(("days", "looms"), [(30, 1), (29.9, 2), (15, 2), (14.9, 3), (1000, 1)])
def test_as_many_looms_as_the_date_wants(days: float, looms: int) -> None:
    assert looms_for_order(hours=480, hours_per_day=16, days=days) == looms


def test_efficiency_from_output_undoes_output() -> None:
    made = 24 * output_m_per_h(speed_picks_per_min=500, picks_per_cm=20, efficiency_pct=87)
    found = efficiency_from_output_pct(
        output_m=made, speed_picks_per_min=500, picks_per_cm=20, hours=24
    )
    assert found == pytest.approx(87)


@pytest.mark.parametrize("hours_per_day", [0.0, 24.1, float("nan")])
def test_a_day_has_up_to_24_hours(hours_per_day: float) -> None:
    with pytest.raises(InputError):
        days_for_hours(hours=480, hours_per_day=hours_per_day)


@pytest.mark.parametrize("efficiency_pct", [-0.1, 100.1, float("nan")])
def test_efficiency_is_a_percentage(efficiency_pct: float) -> None:
    with pytest.raises(InputError):
        output_m_per_h(speed_picks_per_min=500, picks_per_cm=20, efficiency_pct=efficiency_pct)
