"""Looms whose tables differ, in one column: each row has what the loom has alone."""

from __future__ import annotations

import pickle
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from builders import loom
from hypothesis import given
from hypothesis import strategies as st

from weavability.looms.carriers import InsertionSystem, Rapiers
from weavability.looms.interference import efficiency_pct
from weavability.looms.loom import CurvePoint, Insertion, Loom, Running
from weavability.looms.loom_columns import LoomColumn, park_columns
from weavability.looms.loom_limits import LoomLimits, resolve_loom
from weavability.looms.loom_numbers import LoomNumbers
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.weft_tension import (
    peak_tension_cn,
    pick_rises,
    speed_within,
    strain_of,
)
from weavability.textiles.numbers import Floats, Steps, StepsByKey, columns_of, rows_of

tables = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=9, unique=True).map(
    lambda values: Steps(tuple(sorted(values)))
)
numbers = st.floats(-2e6, 2e6) | st.sampled_from((-np.inf, np.inf))


@given(rows=st.lists(st.tuples(tables, numbers), min_size=1, max_size=12), data=st.data())
def test_a_table_looked_up_by_key_is_the_table_of_the_row(
    rows: list[tuple[Steps, float]], data: st.DataObject
) -> None:
    # A number of a table itself is where "less" and "not more" part.
    values = [
        data.draw(st.sampled_from(table.values)) if data.draw(st.booleans()) else number
        for table, number in rows
    ]
    by_key = pickle.loads(pickle.dumps(StepsByKey.of([table for table, _ in rows], shape=(-1,))))
    column = np.array(values)
    alone = [(table, number) for (table, _), number in zip(rows, values, strict=True)]
    assert by_key.below(column).tolist() == [table.below(number) for table, number in alone]
    assert by_key.up_to(column).tolist() == [table.up_to(number) for table, number in alone]
    assert by_key.last.tolist() == [table.last for table, _ in alone]
    assert by_key.at(by_key.last).tolist() == [table.values[-1] for table, _ in alone]
    assert by_key.at(np.zeros(len(alone))).tolist() == [table.values[0] for table, _ in alone]


def of_motion(**fields: Any) -> Loom:
    return loom(insertion=Insertion(**fields))


RAPIERS = [
    of_motion(system=InsertionSystem.RAPIER, motion_law=law, rapiers=rapiers, overrun_cm=overrun)
    for law in MotionLaw
    for rapiers in Rapiers
    for overrun in (0.0, 8.0)
]
FLIGHTS = [
    of_motion(system=system) for system in InsertionSystem if system is not InsertionSystem.RAPIER
]
PARK = [
    *RAPIERS,
    *FLIGHTS,
    loom(speed_curve=()),
    loom(speed_curve=(CurvePoint(reed_width_cm=100.0, picks_per_min=500.0),)),
    loom(
        speed_curve=(
            CurvePoint(reed_width_cm=120.0, picks_per_min=600.0),
            CurvePoint(reed_width_cm=180.0, picks_per_min=400.0),
        ),
        reeds_in_stock_dents_per_10cm=(80.0, 100.0, 120.0),
    ),
    loom(reeds_in_stock_dents_per_10cm=(90.0,)),
    *(
        loom(
            running=Running(
                warp_stops_per_100k_picks=stops,
                weft_stops_per_100k_picks=2.0,
                minutes_per_warp_stop=1.5,
                minutes_per_weft_stop=0.7,
                looms_per_weaver=looms,
            )
        )
        for stops, looms in ((3.0, 8), (5.0, 8), (3.0, 20), (0.0, 8))
    ),
]
WIDTHS_CM = np.array([60.0, 120.0, 150.0, 180.0])


def park() -> list[LoomLimits]:
    return [resolve_loom(one) for one in PARK]


def one_column(looms: list[LoomLimits]) -> tuple[LoomColumn, list[LoomNumbers[float]]]:
    """The column of some looms, and the numbers of each in the sequence of its rows."""
    (column,) = park_columns(tuple(looms), at_least=len(looms)).columns
    return column, [looms[place].numbers for place in column.places.tolist()]


def assert_rows(column: Any, rows: list[list[float]]) -> None:
    found = np.broadcast_to(column, (len(rows), len(rows[0])))
    assert found.tolist() == rows


@pytest.mark.parametrize("of", [PARK, [RAPIERS[0], FLIGHTS[0]]], ids=["all", "two"])
def test_every_kind_of_motion_has_its_own_peaks_in_one_column(of: list[Loom]) -> None:
    column_of_looms, looms = one_column([resolve_loom(one) for one in of])
    rises = column_of_looms.pick_rises(reed_width_cm=WIDTHS_CM)
    weft = strain_of(linear_density_tex=30.0, modulus_cn_per_tex=300.0)
    column: Any = (rises, weft)
    alone = [
        [(pick_rises(one.insertion, reed_width_cm=width), weft) for width in WIDTHS_CM.tolist()]
        for one in looms
    ]
    assert_rows(
        peak_tension_cn(*column, base_tension_cn=15.0, speed_picks_per_min=500.0 + 0 * WIDTHS_CM),
        [
            [
                peak_tension_cn(*each, base_tension_cn=15.0, speed_picks_per_min=500.0)
                for each in row
            ]
            for row in alone
        ],
    )
    room: Any = {"base_tension_cn": 15.0, "weakest_strength_cn": 300.0, "strength_use_pct": 50.0}
    assert_rows(
        speed_within(*column, **room),
        [[speed_within(*each, **room) for each in row] for row in alone],
    )


def test_every_loom_has_its_own_curve_and_reeds_in_one_column() -> None:
    column, looms = one_column(park())
    numbers: LoomNumbers[Floats] = column.numbers
    assert {one.speed_curve.is_stated for one in looms} == {True, False}
    assert_rows(
        numbers.speed_curve.speed_at(WIDTHS_CM),
        [
            [
                one.speed_curve.speed_at(width) if one.speed_curve.is_stated else np.inf
                for width in WIDTHS_CM.tolist()
            ]
            for one in looms
        ],
    )
    reeds = np.array([20.0, 80.0, 95.0, 200.0])
    assert_rows(
        numbers.reeds.nearest(reeds),
        [[one.reeds.nearest(reed) for reed in reeds.tolist()] for one in looms],
    )
    assert_rows(
        numbers.reeds.count(reeds),
        [[one.reeds.count(reed) for reed in reeds.tolist()] for one in looms],
    )


def test_every_loom_has_its_own_weaver_in_one_column() -> None:
    column, looms = one_column([one for one in park() if one.numbers.stops.present])
    speeds = np.array([200.0, 411.3, 600.0, 987.6])
    assert len(looms) == 4
    assert_rows(
        efficiency_pct(column.numbers.stops, speed_picks_per_min=speeds),
        [
            [efficiency_pct(one.stops, speed_picks_per_min=speed) for speed in speeds.tolist()]
            for one in looms
        ],
    )


def test_looms_with_one_table_look_nothing_up_by_key() -> None:
    one, other = (
        resolve_loom(loom(reed_width_cm=width, reeds_in_stock_dents_per_10cm=(80.0, 100.0)))
        for width in (150.0, 190.0)
    )
    shared: Any = one_column([one, other])[0].numbers.reeds
    assert shared == one.numbers.reeds


def test_columns_are_taken_apart_as_they_were_put_together() -> None:
    one = resolve_loom(loom()).numbers
    shedding = [resolve_loom(each).shedding.numbers for each in (loom(), PARK[3])]
    assert rows_of(columns_of(shedding, shape=(-1, 1)), 2) == shedding
    moved = replace(one.insertion, entry_deg=55.0)
    assert rows_of(columns_of([one.insertion, moved], shape=(-1,)), 2) == [one.insertion, moved]
