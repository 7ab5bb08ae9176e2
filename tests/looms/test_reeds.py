"""Reed counts, dents, reeds in stock, air space and cloths side by side."""

from __future__ import annotations

from fractions import Fraction

import pytest

from weavability.looms.reeds import (
    DentingPattern,
    ReedStock,
    air_space,
    convert_reed_count,
    reed_system,
    reed_systems,
)
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import Steps

DENTS_PER_10CM = {
    "metric": 1.0,
    "stockport": 1.9685,
    "radcliffe": 3.9370,
    "bolton": 3.2470,
    "bradford": 2.1872,
    "blackburn": 1.7498,
    "scotch": 0.10641,
    "preston_6_4": 1.3576,
    "preston_9_8": 1.7895,
    "preston_4_4": 2.0190,
    "preston_7_8": 2.3159,
    "irish": 9.8425,
    "leeds": 8.3115,
    "macclesfield": 10.936,
}
"""One unit of each count, worked out by hand from the definitions of Brooks 1892, Taylor 1909 and
a textbook of the hand-loom trade."""


@pytest.mark.parametrize("name", reed_systems())
def test_one_unit_of_each_count_is_what_its_definition_says(name: str) -> None:
    count = convert_reed_count(1, from_system=name, to_system="metric")
    assert count == pytest.approx(DENTS_PER_10CM[name], rel=5e-5)


def test_conversion_is_exact() -> None:
    assert reed_system("bolton").dents_per_10cm_per_count == Fraction(20 * 4 * 500, 97 * 127)


def test_an_unknown_system_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError) as refusal:
        convert_reed_count(40, from_system="furlong", to_system="metric")
    assert "stockport" in str(refusal.value.faults[0].allowed)


def test_a_warp_ends_within_a_pattern_in_the_dent_it_has_begun() -> None:
    pattern = DentingPattern(ends_in_dent=(3, 0, 1))
    assert [pattern.dents_of_warp(ends) for ends in (0, 1, 3, 4, 5, 8)] == [0, 1, 1, 3, 4, 6]
    assert pattern.fullest_dent == 3
    assert pattern.mean_ends_per_dent == pytest.approx(4 / 3)


@pytest.mark.parametrize("dents", [(), (0, 0), (2, -1), (65,)])
def test_a_pattern_without_ends_or_with_impossible_dents_is_refused(dents: tuple[int, ...]) -> None:
    with pytest.raises(InputError):
        DentingPattern(ends_in_dent=dents)


STOCK = (120.0, 140.0, 160.0, 180.0)


@pytest.mark.parametrize(
    ("needed", "reed"), [(149.6, 140.0), (149.7, 160.0), (281.0, 180.0), (3.1, 120.0)]
)
def test_the_nearest_reed_changes_at_the_geometric_mean(needed: float, reed: float) -> None:
    assert ReedStock(Steps(STOCK)).nearest(needed) == reed


@pytest.mark.parametrize(("diameter_mm", "passes"), [(0.199, True), (0.201, False)])
def test_a_knot_passes_while_the_gap_is_two_and_a_half_diameters(
    diameter_mm: float, passes: bool
) -> None:
    room = air_space(
        dents_per_10cm=120,
        ends_per_dent=2,
        end_width_mm=diameter_mm,
        wire_share_pct=40,
        knot_widths=2.5,
    )
    assert (room.knot_room_pct >= 100) == passes


def test_thicker_wire_and_more_ends_fill_the_gap() -> None:
    def fill(ends: float, wire: float) -> float:
        return air_space(
            dents_per_10cm=120,
            ends_per_dent=ends,
            end_width_mm=0.2,
            wire_share_pct=wire,
            knot_widths=2.5,
        ).fill_pct

    assert fill(2, 40) == pytest.approx(80)
    assert fill(4, 40) == pytest.approx(160)
    assert fill(2, 30) < fill(2, 40)


@pytest.mark.parametrize("wire_share_pct", [0.9, 90.1, float("nan")])
def test_a_reed_all_air_or_all_wire_is_refused(wire_share_pct: float) -> None:
    with pytest.raises(InputError):
        air_space(
            dents_per_10cm=120,
            ends_per_dent=2,
            end_width_mm=0.2,
            wire_share_pct=wire_share_pct,
            knot_widths=2.5,
        )
