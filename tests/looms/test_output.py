"""Metres, square metres, hours and days."""

from __future__ import annotations

import pytest

from weavability.looms.output import (
    days_for_hours,
    hours_for_order,
    output_m2_per_h,
    output_m_per_h,
)
from weavability.textiles.errors import InputError


def test_area_is_length_times_width_and_an_order_takes_its_length_over_the_output() -> None:
    assert output_m2_per_h(output_m_per_h=10, cloth_width_cm=160) == pytest.approx(16)
    assert hours_for_order(length_m=1000, output_m_per_h=10) == pytest.approx(100)


def test_a_calendar_of_16_hours_stretches_the_order_by_half() -> None:
    assert days_for_hours(hours=480, hours_per_day=24) == pytest.approx(20)
    assert days_for_hours(hours=480, hours_per_day=16) == pytest.approx(30)


@pytest.mark.parametrize("hours_per_day", [0.0, 24.1, float("nan")])
def test_a_day_has_up_to_24_hours(hours_per_day: float) -> None:
    with pytest.raises(InputError):
        days_for_hours(hours=480, hours_per_day=hours_per_day)


@pytest.mark.parametrize("efficiency_pct", [-0.1, 100.1, float("nan")])
def test_efficiency_is_a_percentage(efficiency_pct: float) -> None:
    with pytest.raises(InputError):
        output_m_per_h(speed_picks_per_min=500, picks_per_cm=20, efficiency_pct=efficiency_pct)
