"""The reed for a cloth: counted reeds, uneven dentings, stock, selvedges, panels."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import construction, loom, report, threads
from hypothesis import given
from hypothesis import strategies as st

from weavability.answers.validation import assess, judge
from weavability.looms.denting import Denting
from weavability.looms.loom import Loom, Running
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import Construction, Reed, Selvedge
from weavability.textiles.errors import InputError


def denting(on: Loom | None = None, **changes: Any) -> Denting:
    return judge(construction(**changes), on or loom()).denting


def test_reed_follows_from_ends_and_reed_width() -> None:
    # 3840 ends over 168 cm, two in a dent: 1920 dents, 114.29 in 10 cm.
    found = denting()
    assert found.dents == 1920
    assert found.needed_dents_per_10cm == pytest.approx(10 * 1920 / 168)


# The fewest ends in a dent that keep the reed within 40-180 dents/10 cm; where more than five would
# be needed, within what is made, 30-354.
@pytest.mark.parametrize(
    ("ends_per_10cm", "per_dent"), [(300, 2), (500, 3), (700, 4), (880, 5), (950, 3)]
)
def test_as_few_ends_in_a_dent_as_the_usual_reeds_allow(ends_per_10cm: int, per_dent: int) -> None:
    sett = threads(1.05 * ends_per_10cm / 10)
    found = denting(warp=sett, reed=Reed(), selvedge=Selvedge(ends_per_side=0))
    assert found.ends_per_dent == per_dent


def test_a_reed_may_be_counted_in_a_system_of_the_trade() -> None:
    # Stockport counts dents in 2 inches (C. P. Brooks, Cotton Manufacturing, 1892): 60 are 118.11.
    found = denting(reed=Reed(count=60.0, system="stockport", ends_per_dent=2))
    assert found.asked_dents_per_10cm == pytest.approx(60 / 5.08 * 10)


def test_the_report_tells_the_reed_in_every_counting_system() -> None:
    stated = construction(reed=Reed(count=60.0, system="stockport", ends_per_dent=2))
    counts = report(stated).setup.reed_counts
    assert counts["stockport"] == 60.0
    assert counts["metric"] == pytest.approx(118.11, abs=0.005)
    # 40 Stockport are 24 1/4 Bolton (C. P. Brooks, 1892), so 60 are 36.375.
    assert counts["bolton"] == pytest.approx(36.375)


def test_an_unknown_counting_system_is_pointed_at() -> None:
    with pytest.raises(InputError) as refused:
        denting(reed=Reed(count=60.0, system="furlong"))
    assert refused.value.faults[0].pointer == "/construction/reed/system"


def test_crammed_and_empty_dents_are_counted_as_dents() -> None:
    # J. T. Taylor, Cotton Weaving and Designing (1909): this stripe puts 71 ends in 25 dents.
    stripe = (4,) * 12 + (5, 0, 1, 0) * 3 + (5,)
    found = denting(warp=threads(71.0 / 2.5), reed=Reed(ends_in_dents=stripe))
    assert found.ends_per_dent == pytest.approx(71 / 25)
    assert found.fullest_dent == 5
    assert found.dents == pytest.approx(160 * 71 / 2.5 * 25 / 71, abs=25)


def test_an_empty_denting_is_refused_at_its_field() -> None:
    with pytest.raises(InputError) as refused:
        denting(reed=Reed(ends_in_dents=(0, 0)))
    assert refused.value.faults[0].pointer == "/construction/reed/ends_in_dents"


def test_selvedges_take_dents_of_their_own() -> None:
    found = denting(selvedge=Selvedge(ends_per_side=24, ends_per_dent=4))
    assert found.selvedge_dents == 6
    assert found.dents == 1920 + 2 * 6
    assert found.needed_dents_per_10cm == pytest.approx(10 * (1920 + 12) / 168)


def test_a_reed_in_stock_is_preferred_when_it_is_near() -> None:
    found = denting(loom(reeds_in_stock_dents_per_10cm=(100.0, 115.0)))
    assert (found.dents_per_10cm, found.from_stock) == (115.0, True)


def test_the_usual_denting_fits_the_stock_where_nobody_states_it() -> None:
    # 228.57 ends in 10 cm: three in a dent fit 76 dents, two would need 114.
    found = denting(loom(reeds_in_stock_dents_per_10cm=(76.0,)), reed=Reed())
    assert (found.ends_per_dent, found.dents_per_10cm) == (3, 76.0)


@given(
    ends_per_cm=st.floats(4, 80),
    ends_per_dent=st.integers(1, 5),
    panels=st.integers(1, 4),
    width_cm=st.floats(20, 45),
)
def test_every_end_stands_in_a_dent(
    ends_per_cm: float, ends_per_dent: int, panels: int, width_cm: float
) -> None:
    cloth = construction(
        warp=threads(ends_per_cm),
        width_cm=width_cm,
        panels=panels,
        panel_gap_cm=2.0,
        reed=Reed(ends_per_dent=ends_per_dent),
    )
    wide = loom(reed_width_cm=400.0, min_reed_width_cm=10.0, speed_curve=())
    found = judge(cloth, wide)
    ground_ends = found.cloth.panels * found.cloth.ends.ground
    assert ground_ends <= found.denting.dents * ends_per_dent
    assert found.denting.dents * ends_per_dent < ground_ends + panels * ends_per_dent


def test_days_and_doffs_follow_the_calendar_and_the_roll() -> None:
    one_shift = loom(running=Running(efficiency_pct=88.0, hours_per_day=8.0))
    day, shift = report().rates, report(on=one_shift).rates
    assert shift.hours_for_order == day.hours_for_order
    assert shift.days_for_order == pytest.approx(3 * (day.days_for_order or 0))
    # pi/4 (55^2 - 15^2) cm^2 of cloth 0.5 mm thick are 439.8 m; 3000 m fill seven rolls.
    thick = replace(construction(), thickness_mm=0.5)
    assert report(thick).warp.cloth_roll_capacity_m == pytest.approx(439.8, abs=0.05)
    assert report(thick).warp.doffs == 7


def test_what_is_assumed_of_a_dent_can_be_stated() -> None:
    # 30.5 ends/cm in a reed of 5 dents/10 cm would be 61 ends in a dent.
    coarse = construction(warp=threads(32.0, crimp_pct=5.0), reed=Reed(dents_per_10cm=5.0))
    most = CONSTRUCTION_BOUNDS["/reed/ends_per_dent"].most
    answer = report(coarse)
    (assumed,) = (a for a in answer.assumptions if a.pointer.endswith("/reed/ends_per_dent"))
    assert assumed.value == most
    assert "reed.sett_mismatch" in {found.code for found in answer.findings}


@given(constructions | trade_orders, looms() | trade_looms)
def test_every_number_that_is_assumed_of_an_order_can_be_stated(
    cloth: Construction, on: Loom
) -> None:
    try:
        answer = assess(cloth, on)
    except InputError:
        return
    for line in answer.assumptions:
        bounds = CONSTRUCTION_BOUNDS.get(line.pointer.removeprefix("/construction"))
        if bounds is not None and isinstance(line.value, int | float):
            assert line.value in bounds, line
