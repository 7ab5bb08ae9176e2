"""Crimp against published values: what is measured, what is only assumed, and what is left out."""

from __future__ import annotations

import csv
import math
from statistics import median
from typing import Final

import pytest
from builders import construction, estimated_crimps, named, threads
from textiles.published import REFERENCE, setting_cases, tolerance
from textiles.published_crimps import (
    READ_AS,
    PublishedCrimp,
    crimp_of,
    crimp_rows,
    facts_of_row,
    group_of,
    published_crimps,
    published_of,
    root_mean_square,
    weft_crimp_by_exponent,
)

from weavability.textiles.cloth import cloth_facts
from weavability.textiles.crimp import (
    CRIMP_FLATTENING,
    EQUAL_FLOATS,
    LARGEST_CRIMP_PCT,
    PLAIN,
    SMALLEST_CRIMP_PCT,
    UNEQUAL_FLOATS,
    CrimpBand,
    contraction_of_crimp_pct,
    crimp_band,
    crimp_height_mm,
    crimp_of_height_pct,
)
from weavability.textiles.yarns import Yarn

MILL: Final = REFERENCE / "mill_constructions.csv"


def plain(*, ends: float, picks: float, warp_mm: float, weft_mm: float) -> dict[str, float]:
    return {
        "ends_per_cm": ends,
        "picks_per_cm": picks,
        "warp_diameter_mm": warp_mm,
        "weft_diameter_mm": weft_mm,
        "mean_float_of_picks": 1.0,
        "mean_float_of_ends": 1.0,
    }


def test_a_thread_that_crosses_none_has_no_crimp() -> None:
    assert crimp_of_height_pct(height_mm=0.1, crossed_per_cm=20, mean_float=math.inf) == 0


def test_height_approximation_is_low_at_the_jam() -> None:
    # Square plain cloth at its jam: h is D/2 and p is 0.866·D. Exact arcs have 20.92 %
    # (N. Balasubramanian, lecture notes; GATE 2009, question 54: 21 %).
    exact = 100 * setting_cases()["S118"]["published"]
    spread_mm = 0.4
    approximate = crimp_of_height_pct(
        height_mm=spread_mm / 2, crossed_per_cm=10 / (0.8660254 * spread_mm), mean_float=1
    )
    assert approximate == pytest.approx(18.75, abs=0.01)
    assert 2.0 < exact - approximate < 2.5
    assert exact == pytest.approx(
        setting_cases()["S119"]["published"], abs=tolerance(setting_cases()["S119"])
    )


def test_given_crimps_are_left_alone() -> None:
    cloth = plain(ends=25, picks=24, warp_mm=0.2, weft_mm=0.2)
    assert estimated_crimps(**cloth, warp_crimp_pct=8.0, weft_crimp_pct=0.1) == (8.0, 0.1)


def test_a_close_warp_crimps_more_than_the_weft() -> None:
    # S. M. H. Uzzal, notes on crimp: cotton poplin may have 14 % in the warp and 2 % in the weft.
    # Here 133 × 72 per inch, Ne 40 both ways, the trade's common poplin.
    thread_mm = 25.4 / (28 * 40**0.5)
    poplin = plain(ends=52.36, picks=28.35, warp_mm=thread_mm, weft_mm=thread_mm)
    found = estimated_crimps(**poplin, warp_crimp_pct=None, weft_crimp_pct=None)
    assert found.warp_crimp_pct == pytest.approx(14.0, abs=PLAIN.points)
    assert found.weft_crimp_pct == pytest.approx(2.0, abs=PLAIN.points)


@pytest.mark.parametrize(
    ("warp_crimp", "weft_crimp"), [(None, 60.0), (60.0, None), (None, 0.0), (0.0, None)]
)
def test_estimates_stay_within_sane_bounds(
    warp_crimp: float | None, weft_crimp: float | None
) -> None:
    cloth = plain(ends=60, picks=60, warp_mm=0.1, weft_mm=0.1)
    found = estimated_crimps(**cloth, warp_crimp_pct=warp_crimp, weft_crimp_pct=weft_crimp)
    estimated = found.warp_crimp_pct if warp_crimp is None else found.weft_crimp_pct
    extreme = 60.0 in (warp_crimp, weft_crimp)
    bound = SMALLEST_CRIMP_PCT if extreme else LARGEST_CRIMP_PCT
    assert estimated == bound


# Heights 3^1.5 : 1, so that the weft has 0.34 / 6.196 mm of them: by hand.
def test_a_warp_rib_leaves_the_weft_nearly_straight() -> None:
    rib = plain(ends=30.0, picks=30.0, warp_mm=0.2, weft_mm=0.2) | {"mean_float_of_ends": 3.0}
    found = estimated_crimps(**rib, warp_crimp_pct=None, weft_crimp_pct=None)
    assert found.weft_crimp_pct == pytest.approx(1.524, abs=1e-3)
    assert found.warp_crimp_pct == pytest.approx(13.72, abs=1e-2)


def test_cloths_on_which_a_number_of_the_estimate_was_chosen_are_no_evidence() -> None:
    woven = [one for one in published_crimps() if one.group == "woven"]
    of_flattening = {one.row for one in woven if one.from_other is not None}
    of_split = {one.row for one in woven if one.band is UNEQUAL_FLOATS}
    assert set(READ_AS["chosen_on"]) == of_flattening | of_split
    assert {one.row for one in woven if not one.is_fitted} == {"F029", "F035", "F036"}


def crimps(group: str, band: CrimpBand) -> list[PublishedCrimp]:
    return [one for one in published_crimps() if one.group == group and one.band is band]


def errors(found: list[PublishedCrimp]) -> list[float]:
    return [error for one in found for error in one.errors]


@pytest.mark.parametrize(
    ("band", "estimates", "rms"),
    [(PLAIN, 13, 3.4), (EQUAL_FLOATS, 10, 2.0), (UNEQUAL_FLOATS, 2, 8.2)],
    ids=lambda value: value.floats if isinstance(value, CrimpBand) else str(value),
)
def test_a_band_is_what_holds_every_estimate_of_woven_cloth(
    band: CrimpBand, estimates: int, rms: float
) -> None:
    woven = crimps("woven", band)
    assert len(woven) == band.published_crimps
    assert len({one.row for one in woven}) == band.cloths
    found = errors(woven)
    assert len(found) == estimates
    assert math.ceil(max(map(abs, found))) == band.points
    assert root_mean_square(found) == pytest.approx(rms, abs=0.05)


def test_jammed_and_assumed_crimps_are_kept_apart_and_lie_outside() -> None:
    jammed, assumed = crimps("jammed", PLAIN), crimps("assumed", PLAIN)
    assert {one.row for one in jammed} == {"L018", "L019", "L020"}
    assert all(one.alone - one.published < -PLAIN.points for one in jammed)
    outside = {one.row for one in assumed if abs(one.alone - one.published) > PLAIN.points}
    assert outside == {"F109", "F111"}
    assert all(one.why for one in (*jammed, *assumed))


def test_every_published_crimp_is_compared_or_left_out_for_a_reason() -> None:
    left_out = READ_AS["left_out"]
    named_rows = {name.split()[0] for name in left_out}
    for row in crimp_rows().values():
        assert (group_of(row) is None) <= (row["id"] in left_out), row["id"]
    assert named_rows <= set(crimp_rows())
    assert all(left_out.values())


# The rib needs an exponent of 2 and more, the cord one below 1: two rows cannot settle it.
def test_two_cloths_with_unequal_floats_do_not_agree_on_the_exponent() -> None:
    rib, cord = crimp_rows()["F038"], crimp_rows()["F039"]
    for row in (rib, cord):
        computed = crimp_of(facts_of_row(row, {}), "weft")
        assert computed == pytest.approx(weft_crimp_by_exponent(row, 1.5), abs=0.02)
    by_exponent = [
        (weft_crimp_by_exponent(rib, k), weft_crimp_by_exponent(cord, k)) for k in (1, 2)
    ]
    (rib_at_1, cord_at_1), (rib_at_2, cord_at_2) = by_exponent
    assert rib_at_1 > rib_at_2 > rib["weft_crimp_pct"] + 1.0
    assert cord["weft_crimp_pct"] + 4.0 < cord_at_1 < cord_at_2


def test_flattening_is_that_of_published_cloths() -> None:
    shares = []
    for row in crimp_rows().values():
        if group_of(row) != "woven" or len(published_of(row)) < 2:
            continue
        facts = facts_of_row(row, published_of(row))
        heights = crimp_height_mm(
            crimp_pct=row["warp_crimp_pct"],
            crossed_per_cm=facts.weft.threads_per_cm,
            mean_float=row["avg_float_warp"],
        ) + crimp_height_mm(
            crimp_pct=row["weft_crimp_pct"],
            crossed_per_cm=facts.warp.threads_per_cm,
            mean_float=row["avg_float_weft"],
        )
        shares.append(heights / (facts.warp.diameter_mm + facts.weft.diameter_mm))
    assert len(shares) == 5
    assert sum(shares) / 5 == pytest.approx(CRIMP_FLATTENING, abs=0.03)


def mill_rows() -> list[dict[str, str]]:
    lines = [line for line in MILL.read_text("utf-8").splitlines() if not line.startswith("#")]
    return [row for row in csv.DictReader(lines) if row["warp_ne"].isdecimal()]


def estimated_contraction_pct(row: dict[str, str]) -> float:
    """The warp contraction of a row as a plain grey cloth."""
    warp, weft = (
        threads(
            float(row[sett]) / 2.54,
            crimp_pct=None,
            yarns={"A": Yarn(designation=f"Ne {row[count]}", fibre="cotton")},
        )
        for count, sett in (("warp_ne", "epi"), ("weft_ne", "ppi"))
    )
    return contraction_of_crimp_pct(cloth_facts(construction(warp=warp, weft=weft)).warp.crimp_pct)


# What the mill plans includes the planner's safety, and weave and stage of the sett are not
# recorded: a range in which the level of the estimate is plausible, to which nothing is fitted.
def test_close_plain_shirtings_contract_about_as_a_mill_plans() -> None:
    rows = [row for row in mill_rows() if row["weft_ne"].isdecimal()]
    close = [row for row in rows if float(row["planned_contraction_median"]) >= 13.0]
    assert len(close) == 42
    planned = median(float(row["planned_contraction_median"]) for row in close)
    assert planned == pytest.approx(14.1, abs=0.05)
    assert 13.0 <= median(map(estimated_contraction_pct, close)) <= 17.0


@pytest.mark.parametrize(
    ("weave", "band"),
    [
        ("plain", PLAIN),
        ("2/2 twill Z", EQUAL_FLOATS),
        ("8-end satin move 3", EQUAL_FLOATS),
        ("2/2 hopsack", EQUAL_FLOATS),
        ("2/2 warp rib", UNEQUAL_FLOATS),
        ("3/3 weft rib", UNEQUAL_FLOATS),
    ],
)
def test_the_assumption_carries_the_band_of_the_weave(weave: str, band: CrimpBand) -> None:
    unsaid = construction(
        weave=named(weave), warp=threads(24.0, crimp_pct=None), weft=threads(22.0, crimp_pct=None)
    )
    lines = {line.pointer: line for line in cloth_facts(unsaid).assumptions}
    for pointer in ("/warp/crimp_pct", "/weft/crimp_pct"):
        line = lines[pointer]
        assert isinstance(line.value, float)
        assert line.band is not None
        assert (line.band.low, line.band.high) == band.around(line.value)
        assert line.grade == "estimate"
        assert f"{band.published_crimps} published crimps of {band.cloths} cloths" in line.reason


def test_a_figure_of_other_floats_in_plain_counts_as_equal_floats() -> None:
    assert crimp_band(mean_float_of_picks=1.0, mean_float_of_ends=1.05) is EQUAL_FLOATS
    assert crimp_band(mean_float_of_picks=1.0, mean_float_of_ends=1.2) is UNEQUAL_FLOATS
    assert crimp_band(mean_float_of_picks=math.inf, mean_float_of_ends=math.inf) is UNEQUAL_FLOATS
