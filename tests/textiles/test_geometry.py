"""Diameter, cover, jamming and mass against published values."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypedDict

import pytest
from builders import estimated_crimps
from textiles.published import read, setting_cases, tolerance

from weavability.textiles import crimp, geometry, jamming, setting_rules
from weavability.textiles.assumptions import Ledger
from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.designations import parse_designation
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarn_facts import YarnFacts
from weavability.textiles.yarns import Yarn, resolve_yarn

MM_PER_INCH = 25.4
KM_PER_YARD = 0.0009144
LB_PER_KG = 1.0 / 0.45359237
G_PER_M2_OF_OZ_PER_YD2 = 33.905747

# Yarn density that goes with a book's diameter rule, threads touching per inch = CF·√(yd per lb);
# from that rule and the definition of the count: 1000·π/4·(25.4/CF)²·ρ = 496054.65.
TAYLOR_G_PER_CM3 = 496054.64786 / (250.0 * math.pi * (MM_PER_INCH / 0.95) ** 2)
ASHENHURST_G_PER_CM3 = 496054.64786 / (250.0 * math.pi * (MM_PER_INCH / 0.90) ** 2)
PEIRCE_G_PER_CM3 = 4.0 * TEX_NE * 28.0**2 / (1000.0 * math.pi * MM_PER_INCH**2)


class Cloth(TypedDict):
    ends_per_cm: float
    picks_per_cm: float
    warp_diameter_mm: float
    weft_diameter_mm: float
    mean_float_of_picks: float
    mean_float_of_ends: float


def plain(
    *, ends: float, picks: float, warp_mm: float, weft_mm: float, floats: float = 1.0
) -> Cloth:
    return Cloth(
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_diameter_mm=warp_mm,
        weft_diameter_mm=weft_mm,
        mean_float_of_picks=floats,
        mean_float_of_ends=floats,
    )


def diameter(tex: float, yarn_density: float) -> float:
    return geometry.yarn_diameter_mm(
        linear_density_tex=tex, fibre_density_g_per_cm3=yarn_density, packing_fraction=1.0
    )


def touching_per_inch(cotton_count: float, yarn_density: float) -> float:
    return MM_PER_INCH / diameter(TEX_NE / cotton_count, yarn_density)


def limit_per_inch(diameters_per_inch: float, mean_float: float) -> float:
    return 2.54 * setting_rules.ends_plus_intersections_limit_per_cm(
        diameter_mm=MM_PER_INCH / diameters_per_inch, mean_float=mean_float
    )


def pounds(yards: float, designation: str) -> float:
    tex = parse_designation(designation).linear_density_tex
    return LB_PER_KG * geometry.yarn_mass_kg(length_km=yards * KM_PER_YARD, linear_density_tex=tex)


def ounces_per_square_yard(cotton_count: float, per_inch: float) -> float:
    grams = geometry.mass_g_per_m2(
        ends_per_cm=per_inch / 2.54,
        picks_per_cm=0.0,
        warp_tex=TEX_NE / cotton_count,
        weft_tex=1.0,
        warp_crimp_pct=0.0,
        weft_crimp_pct=0.0,
    )
    return grams / G_PER_M2_OF_OZ_PER_YD2


def square_sett(grams: float, cotton_count: float, pct: float) -> float:
    one = geometry.mass_g_per_m2(
        ends_per_cm=1.0,
        picks_per_cm=1.0,
        warp_tex=TEX_NE / cotton_count,
        weft_tex=TEX_NE / cotton_count,
        warp_crimp_pct=pct,
        weft_crimp_pct=pct,
    )
    return grams / one


def gate_2008_weft_crimp() -> float:
    """25 × 28 per cm, 30 and 15 tex, warp crimp 12 %, d = 4.44e-3·√(tex/ρ) cm, ρ 1.53."""
    given = plain(
        ends=25, picks=28, warp_mm=0.0444 * (30 / 1.53) ** 0.5, weft_mm=0.0444 * (15 / 1.53) ** 0.5
    )
    return estimated_crimps(
        **given, warp_crimp_pct=12.0, weft_crimp_pct=None, flattening=1.0
    ).weft_crimp_pct


def warp_length_m(cloth_m: float, pct: float) -> float:
    return cloth_m / (1.0 - crimp.contraction_of_crimp_pct(pct) / 100.0)


def square_jam_per_cm(thread_mm: float) -> float:
    """Scale a sett of 10 + 10 up to the jam."""
    tightness = jamming.tightness_pct(
        **plain(ends=10, picks=10, warp_mm=thread_mm, weft_mm=thread_mm)
    )
    return 10.0 * 100.0 / tightness


GATE_DENSITY = 1.54 * 4.0 / (1000.0 * math.pi * 0.0444**2)
"""4.44e-3·√(tex/1.54) cm as a yarn density: packing 0.6459 times fibre density 1.54, over 1.54."""

CASES: dict[str, Callable[[], float]] = {
    "S077": lambda: touching_per_inch(32, TAYLOR_G_PER_CM3),
    "S078": lambda: touching_per_inch(60, TAYLOR_G_PER_CM3),
    "S080": lambda: touching_per_inch(26, TAYLOR_G_PER_CM3),
    "S081": lambda: touching_per_inch(78, TAYLOR_G_PER_CM3),
    "S082": lambda: touching_per_inch(200, TAYLOR_G_PER_CM3),
    "S083": lambda: (
        156 * touching_per_inch(50, TAYLOR_G_PER_CM3) / touching_per_inch(32, TAYLOR_G_PER_CM3)
    ),
    "S088": lambda: touching_per_inch(1, ASHENHURST_G_PER_CM3),
    "S089": lambda: touching_per_inch(40, ASHENHURST_G_PER_CM3),
    "S091": lambda: (
        165
        * touching_per_inch(35, ASHENHURST_G_PER_CM3)
        / touching_per_inch(40, ASHENHURST_G_PER_CM3)
    ),
    "S093": lambda: touching_per_inch(4, ASHENHURST_G_PER_CM3),
    "S094": lambda: touching_per_inch(36, PEIRCE_G_PER_CM3),
    "S097": lambda: touching_per_inch(1, 1.0 / 1.1),
    "S098": lambda: diameter(30, GATE_DENSITY) / 10.0,
    "S099": lambda: (diameter(1, 1.0) * 26.6) ** 2,
    "S100": lambda: geometry.cover_factor(threads_per_cm=28, linear_density_tex=20),
    "S102": lambda: geometry.crowding(
        threads_per_cm=28, diameter_mm=diameter(TEX_NE / 36, PEIRCE_G_PER_CM3)
    ),
    "S104": lambda: (0.1627 / diameter(1, GATE_DENSITY)) ** 2,
    "S105": lambda: (
        9.1 / geometry.cover_factor(threads_per_cm=1, linear_density_tex=0.64 * 20.67902)
    ),
    "S107": lambda: 103 * limit_per_inch(156, 2) / limit_per_inch(156, 1),
    "S108": lambda: 137 * limit_per_inch(156, 2.5) / limit_per_inch(156, 2),
    "S109": lambda: limit_per_inch(52, 1),
    "S111": lambda: limit_per_inch(184, 2),
    "S114": lambda: limit_per_inch(28, 2.5),
    "S120": lambda: square_jam_per_cm(0.25),
    "S121": lambda: limit_per_inch(13, 1),
    "S122": lambda: limit_per_inch(13, 2),
    "S131": lambda: warp_length_m(94, 4),
    "S133": lambda: crimp.crimp_of_contraction_pct(100 * 2 / 38),
    "S135": lambda: crimp.contraction_of_crimp_pct(6.0),
    "S136": lambda: warp_length_m(160, 12),
    "S137": lambda: 800 * (1 - crimp.contraction_of_crimp_pct(8.0) / 100),
    "S138": lambda: warp_length_m(220 * 110, 9),
    "S139": lambda: 10 / 28 * 1.12 / (0.0444 * ((30 / 1.54) ** 0.5 + (15 / 1.54) ** 0.5)),
    "S140": gate_2008_weft_crimp,
    "S141": lambda: crimp.crimp_height_mm(crimp_pct=9, crossed_per_cm=25, mean_float=1) + 0.2,
    "S147": lambda: square_sett(101, 36, 10),
    "S148": lambda: ounces_per_square_yard(1, 1),
    "S153": lambda: 16 * pounds(2280 * 38, "30s cotton"),
    "S159": lambda: pounds(2260 * 38, "30s cotton"),
    "S161": lambda: pounds(2300 * 36 * 37.5 / 36, "36s cotton"),
    "S169": lambda: pounds(30 * 70 * 95, "30s cotton"),
    "S170": lambda: pounds(30 * 80 * 90, "40s cotton"),
    "S172": lambda: pounds(28 * 48 * 200 * 1.75, "20s worsted"),
    "S173": lambda: pounds(24 * 60 * 150 * 1.75, "15s worsted"),
    "S174": lambda: pounds(24 * 60 * 150 * 2, "12 skein"),
    "S175": lambda: pounds(24 * 60 * 320 * 2.25, "16s cotton"),
    "S181": lambda: 50 / pounds(60 * 120 * 1.75, "18 skein"),
}


@pytest.mark.parametrize("case_id", CASES)
def test_as_published(case_id: str) -> None:
    case = setting_cases()[case_id]
    assert CASES[case_id]() == pytest.approx(case["published"], abs=tolerance(case)), case


@pytest.mark.parametrize("row", read("setting_jamming.json")["rows"])
def test_jamming_of_plain_cloth_after_peirce(row: dict[str, float]) -> None:
    # Equal yarns of 0.2 mm: D is 0.4 mm, the spacing in cm is 0.04·(p/D).
    cloth = plain(
        ends=1 / (0.04 * row["p1_over_D"]),
        picks=1 / (0.04 * row["p2_over_D"]),
        warp_mm=0.2,
        weft_mm=0.2,
    )
    assert jamming.tightness_pct(**cloth) == pytest.approx(100.0, abs=1e-4)


@pytest.mark.parametrize("row", read("setting_jamming.json")["rows"])
def test_cover_factors_of_the_jam_after_peirce(row: dict[str, float]) -> None:
    # Ne 25, of 1/(28·5) inch: D is twice that, K = 14/(p/D).
    tex, spread_cm = TEX_NE / 25, 2 * 2.54 / (28 * 5)
    for share, printed in [
        (row["p1_over_D"], row["warp_cover_factor_cotton"]),
        (row["p2_over_D"], row["weft_cover_factor_cotton"]),
    ]:
        cover = geometry.cover_factor_cotton(
            threads_per_cm=1 / (share * spread_cm), linear_density_tex=tex
        )
        assert cover == pytest.approx(printed, abs=1e-3)


@pytest.mark.parametrize(("cover", "tightness"), [(12, 78), (14, 91), (16, 103)])
def test_the_teaching_rule_of_cover_factors(cover: int, tightness: int) -> None:
    # Woven Fabric Calculation (teaching handout): 12 + 12 easy, 14 + 14 fairly strong machines,
    # 16 + 16 jams; the percentages are Peirce's jamming at those cover factors.
    threads = 10 * cover / 20**0.5
    thread_mm = diameter(20, PEIRCE_G_PER_CM3)
    found = jamming.tightness_pct(
        **plain(ends=threads, picks=threads, warp_mm=thread_mm, weft_mm=thread_mm)
    )
    assert found == pytest.approx(tightness, abs=0.6)


def test_diameter_of_cotton_is_peirces() -> None:
    # F. T. Peirce, The Geometry of Cloth Structure, 1937: d = 1/(28·√Ne) inch.
    for cotton_count in (6, 20, 60, 100):
        facts = resolve_yarn(Yarn(designation=f"Ne {cotton_count}", fibre="cotton"), Ledger())
        peirce = MM_PER_INCH / (28 * cotton_count**0.5)
        assert facts.diameter_mm == pytest.approx(peirce, rel=2e-3)


def test_the_room_under_its_own_thread_ends_the_jam() -> None:
    # A sheer one way, touching the other way: the ends lie side by side before the cloth jams.
    cloth = plain(ends=50, picks=1, warp_mm=0.2, weft_mm=0.01)
    assert jamming.tightness_pct(**cloth) == pytest.approx(100.0)


def test_threads_that_never_interlace_jam_side_by_side_only() -> None:
    cloth = plain(ends=30, picks=20, warp_mm=0.2, weft_mm=0.2, floats=math.inf)
    assert jamming.tightness_pct(**cloth) == pytest.approx(60.0)
    assert setting_rules.ends_plus_intersections_limit_per_cm(
        diameter_mm=0.2, mean_float=math.inf
    ) == pytest.approx(50.0)


@pytest.mark.parametrize("never", ["mean_float_of_picks", "mean_float_of_ends"])
def test_threads_of_one_system_that_never_interlace_jam_side_by_side_too(never: str) -> None:
    cloth = plain(ends=30, picks=20, warp_mm=0.2, weft_mm=0.2)
    cloth |= {never: math.inf}  # type: ignore[misc]
    assert jamming.tightness_pct(**cloth) == pytest.approx(60.0)


def test_longer_floats_make_room_between_plain_and_side_by_side() -> None:
    by_float = [
        jamming.tightness_pct(**plain(ends=30, picks=30, warp_mm=0.2, weft_mm=0.2, floats=floats))
        for floats in (1.0, 1.5, 2.0, 4.0, 100.0, math.inf)
    ]
    assert by_float == sorted(by_float, reverse=True)
    assert by_float[-2] == pytest.approx(by_float[-1], rel=0.01)


def test_full_cover_in_both_units() -> None:
    assert pytest.approx(1.0452221, abs=5e-8) == geometry.COTTON_PER_SI_COVER
    for warp in (0.0, 10.0, 28.0):
        assert geometry.cloth_cover_factor_cotton(warp=warp, weft=28.0) == pytest.approx(28.0)
        in_si = geometry.cloth_cover_factor(
            warp=warp / geometry.COTTON_PER_SI_COVER, weft=12.0 / geometry.COTTON_PER_SI_COVER
        )
        in_cotton = geometry.cloth_cover_factor_cotton(warp=warp, weft=12.0)
        assert in_si * geometry.COTTON_PER_SI_COVER == pytest.approx(in_cotton)


@pytest.mark.parametrize(("warp", "weft"), [(28.0, 10.0), (40.0, 10.0), (10.0, 400.0), (99, 99)])
def test_no_cloth_covers_more_than_its_whole_surface(warp: float, weft: float) -> None:
    assert geometry.cloth_cover_factor_cotton(warp=warp, weft=weft) == 28.0
    assert geometry.cloth_cover_factor(warp=warp, weft=weft) == geometry.FULL_COVER


def test_use_of_ends_plus_intersections() -> None:
    # J. T. Taylor 1909, p. 436: half of the threads that touch, in plain.
    use = setting_rules.ends_plus_intersections_use_pct(
        threads_per_cm=20, diameter_mm=0.25, mean_float=1
    )
    assert use == pytest.approx(100.0)


def test_float_length() -> None:
    assert geometry.float_length_mm(float_threads=4, threads_per_cm=40) == pytest.approx(1.0)


def test_yarn_lengths_of_a_piece() -> None:
    assert geometry.warp_yarn_length_km(ends=4912, warp_length_m=3300) == pytest.approx(16209.6)
    weft = geometry.weft_yarn_length_km(picks=7_200_000, reed_width_cm=160, extra_per_pick_cm=12)
    assert weft == pytest.approx(12384.0)


# The constructions of fabrics.json: woven cloth and textbook limits, each with its own source.


def complete_rows() -> list[dict[str, Any]]:
    needed = ("warp_tex", "weft_tex", "ends_per_cm", "picks_per_cm", "avg_float_warp")
    return [row for row in read("fabrics.json") if all(name in row for name in needed)]


def side(row: dict[str, Any], which: str) -> YarnFacts:
    stated = Yarn(linear_density_tex=row[f"{which}_tex"], fibre=row[f"{which}_fibre"])
    return resolve_yarn(stated, Ledger())


def cloth_of(row: dict[str, Any]) -> Cloth:
    return Cloth(
        ends_per_cm=row["ends_per_cm"],
        picks_per_cm=row["picks_per_cm"],
        warp_diameter_mm=side(row, "warp").diameter_mm,
        weft_diameter_mm=side(row, "weft").diameter_mm,
        mean_float_of_picks=row["avg_float_weft"],
        mean_float_of_ends=row["avg_float_warp"],
    )


def tightness_by_use(*uses: str) -> dict[str, float]:
    return {
        row["id"]: jamming.tightness_pct(**cloth_of(row))
        for row in complete_rows()
        if row["test_use"] in uses
    }


def test_cloth_that_is_woven_does_not_jam() -> None:
    woven = tightness_by_use("false_alarm", "false_alarm_unverified")
    assert len(woven) == 72
    assert max(woven.values()) < 110.0
    assert sum(value > 100.0 for value in woven.values()) == 4
    assert sum(value > 92.0 for value in woven.values()) == 10


def test_textbook_comfort_limits_lie_under_the_jam() -> None:
    limits = tightness_by_use("soft_limit")
    assert len(limits) == 11
    assert all(80.0 < value < 92.0 for value in limits.values())


def test_published_jams_are_at_one_hundred() -> None:
    # Setts are printed to four digits, and our cotton is 0.2 % thicker than Peirce's.
    jams = tightness_by_use("jam_limit")
    assert set(jams) == {"L018", "L019", "L020"}
    assert list(jams.values()) == pytest.approx([100.0] * 3, abs=0.2)


def test_threads_side_by_side_both_ways_are_far_over_the_jam() -> None:
    impossible = tightness_by_use("miss")
    assert set(impossible) == {"L013", "L022"}
    assert min(impossible.values()) > 170.0


def test_jam_by_thickness() -> None:
    # GATE 2013, question 41: square plain polyester, yarn of 0.25 mm, 23.1 threads/cm at the jam.
    (row,) = (row for row in read("fabrics.json") if row["id"] == "L021")
    cloth = plain(ends=row["ends_per_cm"], picks=row["picks_per_cm"], warp_mm=0.25, weft_mm=0.25)
    assert jamming.tightness_pct(**cloth) == pytest.approx(100.0, abs=0.1)


def with_crimp(rows: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    return (row for row in rows if "warp_crimp_pct" in row or "weft_crimp_pct" in row)


MASS_ROWS = [row for row in with_crimp(read("fabrics.json")) if "mass_published_gsm" in row]
MISPRINTED = {"F110": "printed 104.77, 110.9 by the source's own formula: the crimp was left out"}


@pytest.mark.parametrize("row", MASS_ROWS, ids=lambda row: row["id"])
def test_mass_that_a_source_computed_from_its_yarn(row: dict[str, Any]) -> None:
    found = geometry.mass_g_per_m2(
        ends_per_cm=row["ends_per_cm"] * row["warp_ends_weaving_as_one"],
        picks_per_cm=row["picks_per_cm"],
        warp_tex=row["warp_tex"],
        weft_tex=row["weft_tex"],
        warp_crimp_pct=row.get("warp_crimp_pct", 0.0),
        weft_crimp_pct=row.get("weft_crimp_pct", 0.0),
    )
    assert found == pytest.approx(row["gsm_from_published_crimp"], rel=1e-3)
    if row["id"] not in MISPRINTED:
        assert found == pytest.approx(row["mass_published_gsm"], rel=0.03)


# An examination's key: the square sett of cotton in 2/2 twill, in threads per inch and per 10 cm.
@pytest.mark.parametrize("case", read("setting_brierley.json"), ids=lambda case: case["id"])
def test_brierleys_square_sett(case: dict[str, Any]) -> None:
    given, published = case["inputs"], case["published"]
    per_cm = setting_rules.brierley_square_sett_per_cm(
        linear_density_tex=given["yarn tex"], mean_float=given["F (average float)"]
    )
    found = per_cm * {"threads/in": 2.54, "threads/dm": 10.0}[published["unit"]]
    assert found == pytest.approx(published["value"], abs=float(case["tolerance"]))


# Plain has the rule of the square root of the count: 14.14 in threads per inch.
def test_brierleys_plain_is_the_root_of_the_count() -> None:
    per_cm = setting_rules.brierley_square_sett_per_cm(
        linear_density_tex=590.5412474 / 40, mean_float=1
    )
    assert 2.54 * per_cm == pytest.approx(14.142 * math.sqrt(40), rel=1e-4)


@pytest.mark.parametrize(
    ("name", "is_one"),
    [
        ("plain", True),
        ("2/1 twill", True),
        ("3/1 twill S", True),
        ("4/4 twill", True),
        ("5/2/1/2 twill", False),
        ("2/2 hopsack", False),
        ("2/2 warp rib", False),
        ("5-end satin move 2", False),
        ("2/2 herringbone 8", False),
    ],
)
def test_which_weaves_brierleys_constants_are_for(name: str, is_one: bool) -> None:
    assert setting_rules.is_plain_or_regular_twill(parse_weave(name).reduced()) is is_one
