"""Windows: every point is what a validation finds there, and borders are where they should be."""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from answers.test_layered_cloths import double_cloth
from builders import construction, example_loom, example_order, jacquard, loom, named, threads
from checks.test_design_checks import jacquard as figured_jacquard
from checks.test_design_checks import order as figured_order
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from textiles.figured import design_of

from weavability.answers.field_names import field_in_words
from weavability.answers.remedy_search import search_remedies
from weavability.answers.stated_values import numeric_field, unit_at, with_values
from weavability.answers.validation import assess, judge
from weavability.answers.window import MOST_POINTS, Stretch, Window, WindowCase, make_window
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity, Verdict
from weavability.looms.carriers import InsertionSystem
from weavability.looms.harness_tie import TieOrder, TieSection
from weavability.looms.loom import BeamArrangement, Insertion, Loom, WarpBeam
from weavability.textiles.construction import (
    Construction,
    Joined,
    PieceOrder,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.designations import parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import find_fibre
from weavability.textiles.figured.figured_design import Covers
from weavability.textiles.sentences import Sentence
from weavability.textiles.yarns import Yarn

ENDS = "/construction/warp/ends_per_cm"
PICKS = "/construction/weft/picks_per_cm"
WIDTH = "/construction/width_cm"
CRIMP = "/construction/weft/crimp_pct"
LENGTH = "/construction/length_m"
COUNT = "/construction/weft/yarns/A/designation"

FIELDS = {
    ENDS: (10, 60),
    PICKS: (10, 60),
    WIDTH: (60, 220),
    "/construction/width_in": (24, 90),
    "/construction/requested_speed_picks_per_min": (200, 800),
    COUNT: (10, 60),
    CRIMP: (0, 20),
    "/construction/finishing/width_shrinkage_pct": (0, 10),
    LENGTH: (100, 10_000),
    "/construction/reed/dents_per_10cm": (60, 300),
    "/construction/warp/yarns/A/linear_density_tex": (5, 80),
    "/construction/warp/yarns/A/tenacity_cn_per_tex": (2, 30),
    "/construction/panels": (1, 5),
    "/construction/selvedge/ends_per_side": (0, 60),
    "/loom/reed_width_cm": (100, 300),
    "/loom/max_speed_picks_per_min": (200, 900),
    "/loom/max_tightness_pct": (80, 120),
    "/loom/insertion/max_rate_m_per_min": (500, 1500),
}

PAIRS = {
    "plain": (construction(), loom()),
    "open": (
        construction(weft=threads(22.0, crimp_pct=None), warp=threads(24.0, crimp_pct=None)),
        loom(max_tightness_pct=None, min_reed_width_cm=None),
    ),
    "example": (example_order(), example_loom()),
    "jacquard": (construction(weave=named("8-end satin move 3")), jacquard()),
    "required": (
        construction(
            requirements=Requirements(
                mass_g_per_m2=RequiredRange(min=150.0, max=190.0),
                fibre_pct={"cotton": RequiredRange(min=80.0)},
            )
        ),
        loom(),
    ),
    "in layers": (double_cloth(Joined.STITCHED, (1, 2)), loom(max_tightness_pct=None)),
}


COUNT_IN_TEX = "/construction/weft/yarns/A/linear_density_tex"
SPEED = "/construction/requested_speed_picks_per_min"
REQUIRED = Requirements(
    mass_g_per_m2=RequiredRange(min=150.0, max=160.0),
    mass_g_per_m=RequiredRange(min=150.0, max=300.0),
    open_area_pct=RequiredRange(max=30.0),
    cover_factor=RequiredRange(min=15.0),
    thickness_mm=RequiredRange(max=0.5),
    finished_width_cm=RequiredRange(min=100.0),
    fibre_pct={"cotton": RequiredRange(min=55.0)},
)
REQUIRED_OF = {
    "all": (construction(), loom()),
    "example": (example_order(), example_loom()),
    "wide selvedges": (construction(selvedge=Selvedge(ends_per_side=300)), loom()),
}


def stretch(pointer: str, points: int = 12, ends: tuple[float, float] | None = None) -> Stretch:
    start, stop = ends or FIELDS[pointer]
    return Stretch(pointer=pointer, start=float(start), stop=float(stop), points=points)


def window(order: Construction, on: Loom, across: Stretch, along: Stretch) -> Window:
    return make_window(order, on, across=across, along=along).window


def case_at(made: Window, across: float, along: float) -> WindowCase:
    row, column = made.along.values.index(along), made.across.values.index(across)
    return made.cases[made.grid[row][column]]


def found_at(order: Construction, on: Loom, made: Window, row: int, column: int) -> Any:
    """What a validation finds with the values of a point."""
    values = [
        (made.across.pointer, made.across.values[column]),
        (made.along.pointer, made.along.values[row]),
    ]
    try:
        report = assess(*with_values(order, on, values))
    except InputError:
        return None
    codes = {
        severity: tuple(
            dict.fromkeys(one.code for one in report.findings if one.severity is severity)
        )
        for severity in Severity
    }
    lesser = set(codes[Severity.ERROR])
    warnings = tuple(code for code in codes[Severity.WARNING] if code not in lesser)
    lesser |= set(warnings)
    notes = tuple(code for code in codes[Severity.NOTE] if code not in lesser)
    rates = report.rates
    return (
        report.verdict,
        codes[Severity.ERROR],
        warnings,
        notes,
        doubted_in(report.verdict_note),
        rates.limited_by,
        pytest.approx(rates.speed_picks_per_min, rel=1e-5),
    )


def doubted_in(verdict_note: str | None) -> set[str]:
    """The codes that the note of a verdict names."""
    return set(re.findall(r"[a-z_]+\.[a-z_]+", (verdict_note or "").partition(")")[0]))


@share_of_examples(0.15)
@given(
    st.sampled_from(sorted(PAIRS)),
    # Two forms of one figure are refused.
    st.lists(st.sampled_from(sorted(FIELDS)), min_size=2, max_size=2, unique=True).filter(
        lambda fields: set(fields) != {WIDTH, "/construction/width_in"}
    ),
    st.integers(0, 10**6),
)
def test_a_point_of_a_window_is_what_a_validation_finds(
    name: str, fields: list[str], seed: int
) -> None:
    order, on = PAIRS[name]
    made = window(order, on, *(stretch(each) for each in fields))
    for step in range(3):
        row = (seed + 5 * step) % len(made.along.values)
        column = (seed // 7 + 3 * step) % len(made.across.values)
        expected = found_at(order, on, made, row, column)
        case = made.cases[made.grid[row][column]]
        if expected is None:
            assert case.verdict is None
            continue
        doubted = set(case.rejected_if_assumed)
        seen = (case.verdict, case.errors, case.warnings, case.notes, doubted, case.limited_by)
        assert (*seen, made.speeds_picks_per_min[row][column]) == expected


def test_the_border_of_the_width_is_that_of_arithmetic() -> None:
    made = window(
        construction(), loom(), stretch(WIDTH, 41, (150, 200)), stretch(CRIMP, 11, (0, 20))
    )
    for row, crimp_pct in enumerate(made.along.values):
        for column, width_cm in enumerate(made.across.values):
            case = made.cases[made.grid[row][column]]
            too_wide = width_cm * (1 + crimp_pct / 100) > 190
            assert (CheckCode.WIDTH_REED_SPACE in case.errors) is too_wide
    (border,) = [one for one in made.borders if one.verdict is Verdict.NOT_WEAVABLE]
    step_cm = made.across.values[1] - made.across.values[0]
    for width_cm, crimp_pct in zip(border.across, border.along, strict=True):
        fits_cm = 190 / (1 + crimp_pct / 100)
        # Half a step across, and what half a step along the crimp is worth.
        assert abs(width_cm - fits_cm) <= step_cm / 2 + 0.01 * fits_cm + 1e-6
    assert border.along[0] == 0.0
    assert border.along[-1] == 20.0


def test_a_straight_border_has_two_ends_and_nothing_between() -> None:
    # The width in the reed does not follow from the length of the order.
    across, along = stretch(WIDTH, 9, (150, 220)), stretch(LENGTH, 5)
    made = window(construction(), loom(), across, along)
    (border,) = [one for one in made.borders if one.verdict is Verdict.NOT_WEAVABLE]
    assert border.across[0] == border.across[1]
    assert border.along == (100.0, 10_000.0)


def test_the_border_of_the_jam_is_that_of_peirce() -> None:
    """Plain weave of round yarns jams at (1 - (p1/D)²)^½ + (1 - (p2/D)²)^½ = 1 [PEIRCE-1937]."""
    round_yarn = Yarn(linear_density_tex=30.0, fibre="cotton", diameter_mm=0.2)
    threads_of = ThreadSystem(yarns={"A": round_yarn}, threads_per_cm=20.0, crimp_pct=5.0)
    order = construction(warp=threads_of, weft=threads_of, width_cm=120.0)
    made = window(
        order,
        loom(max_tightness_pct=100.0),
        stretch(ENDS, 25, (26.0, 38.0)),
        stretch(PICKS, 25, (20.0, 32.0)),
    )
    counted = 0
    for row, picks in enumerate(made.along.values):
        for column, ends in enumerate(made.across.values):
            spaces = [10 / (0.4 * each) for each in (ends, picks)]
            total = sum(math.sqrt(max(0.0, 1 - space**2)) for space in spaces)
            case = made.cases[made.grid[row][column]]
            jammed = CheckCode.SETT_JAMMED in case.errors
            if all(space < 1 for space in spaces) and abs(total - 1) > 1e-6:
                counted += 1
                assert jammed is (total > 1), (ends, picks, total)
    assert counted > 300
    assert {one.verdict for one in made.borders} >= {Verdict.NOT_WEAVABLE}


def test_the_nearest_point_changes_the_order_least() -> None:
    wide = construction(width_cm=190.0)
    made = window(wide, loom(), stretch(WIDTH, 31, (170, 200)), stretch(CRIMP, 11, (0, 10)))
    assert (made.own.across, made.own.along) == (190.0, 5.0)
    assert (made.own.verdict, made.own.codes) == (Verdict.NOT_WEAVABLE, ("width.reed_space",))
    assert made.nearest is not None
    good = [
        (width_cm, crimp_pct)
        for width_cm in made.across.values
        for crimp_pct in made.along.values
        if width_cm * (1 + crimp_pct / 100) <= 190
    ]
    # A point for each per cent of the width, and of what no remedy changes.
    least = min(good, key=lambda at: abs(at[0] / 190 - 1) + abs(at[1] / 5 - 1))
    assert (made.nearest.across, made.nearest.along) == least
    assert made.nearest.verdict is Verdict.WEAVABLE
    assert made.nearest_note is None


def test_a_window_without_a_nearest_point_says_why() -> None:
    good, wide = construction(), construction(width_cm=300.0)
    widths, picks = stretch(WIDTH, 5, (250, 300)), stretch(PICKS, 5, (15, 30))
    fair = replace(example_order(), width_cm=150.0)
    assert window(fair, example_loom(), widths, picks).own.verdict is not Verdict.WEAVABLE
    required = construction(
        width_cm=150.0,
        weft=threads(22.0, crimp_pct=None),
        requirements=Requirements(mass_g_per_m2=RequiredRange(min=125.0)),
    )
    bare = loom(max_tightness_pct=None)
    broad = replace(wide, requirements=Requirements(finished_width_cm=RequiredRange(min=250)))
    for order, on, across, along, says in (
        (good, loom(), widths, picks, "The order is weavable without warnings as it is."),
        (wide, loom(), widths, picks, "each has an error of width.reed_space."),
        (
            broad,
            loom(),
            stretch(WIDTH, 5, (150, 300)),
            picks,
            "an error of one of width.reed_space, requirement.width",
        ),
        (fair, example_loom(), widths, picks, "No point of this window is weavable without warn"),
        (
            required,
            bare,
            stretch(WIDTH, 3, (149, 151)),
            stretch(PICKS, 3, (28.0, 32.0)),
            "only an end of a band",
        ),
    ):
        made = window(order, on, across, along)
        assert made.nearest is None
        assert made.nearest_note is not None
        assert says in made.nearest_note
    # It is so: at the better points the mass is missed as all is assumed.
    better = [case for case in made.cases if case.verdict is not Verdict.NOT_WEAVABLE]
    assert better
    assert all(CheckCode.REQUIREMENT_MASS in case.rejected_if_assumed for case in better)


def test_a_point_that_rests_on_what_is_assumed_is_nearest_only_without_another() -> None:
    # 187 cm take 190 cm of reed at a crimp of 1.6 %, which is in the band of its estimate.
    order = construction(width_cm=190.0, weft=threads(22.0, crimp_pct=None))
    picks = stretch(PICKS, 3, (22, 24))
    made = window(order, loom(), stretch(WIDTH, 21, (170, 190)), picks)
    assert made.nearest is not None
    doubtful = [
        width
        for width in made.across.values
        if case_at(made, width, 22.0).rejected_if_assumed == (CheckCode.WIDTH_REED_SPACE,)
    ]
    assert doubtful
    assert made.nearest.across == min(doubtful) - 1.0
    assert made.nearest.rejected_if_assumed == ()
    assert assess(*with_values(order, loom(), [(WIDTH, made.nearest.across)])).verdict_note is None
    only = window(order, loom(), stretch(WIDTH, 2, (min(doubtful), 190.0)), picks)
    assert only.nearest is not None
    assert only.nearest.across == min(doubtful)
    assert only.nearest.rejected_if_assumed == (CheckCode.WIDTH_REED_SPACE,)
    assert only.nearest_note is not None
    assert "not weavable there (width.reed_space) if what is assumed is so" in only.nearest_note
    # A remedy to there says the same of itself, and so does the order there.
    own = replace(order, width_cm=min(doubtful))
    there = window(own, loom(), stretch(WIDTH, 2, (min(doubtful), 190.0)), picks)
    assert there.own.rejected_if_assumed == (CheckCode.WIDTH_REED_SPACE,)
    remedies = search_remedies(order, [loom()]).looms[0].remedies
    narrower = [each for each in remedies if each["pointer"] == WIDTH]
    assert narrower
    for each in narrower:
        is_doubtful = float(str(each["to"])) >= min(doubtful)
        assert (each["rejected_if_assumed"] == ["width.reed_space"]) is is_doubtful


@pytest.mark.slow
def test_the_nearest_point_is_the_remedy_that_is_nearest() -> None:
    # 10 % of speed are one point, 1 % of width is one too.
    fast = construction(requested_speed_picks_per_min=700.0)
    speeds = stretch("/construction/requested_speed_picks_per_min", 51, (200, 700))
    made = window(fast, loom(), speeds, stretch(WIDTH, 81, (120, 160)))
    remedy = next(
        each
        for each in search_remedies(fast, [loom()]).looms[0].remedies
        if len(each["changes"]) == 1 and each["verdict"] is not Verdict.NOT_WEAVABLE
    )
    assert remedy["pointer"] == made.across.pointer
    assert made.nearest is not None
    assert made.nearest.along == 160.0
    to = float(str(remedy["to"]))
    assert made.nearest.across is not None
    assert to - 10.0 < made.nearest.across <= to
    # Of a count it is the linear density: from Ne 20 to Ne 25 it falls by 20 %, to Ne 16 rises.
    order = construction(requirements=Requirements(mass_g_per_m2=RequiredRange(max=90.0)))
    yarn = Yarn(designation="Ne 20", fibre="cotton")
    order = replace(order, weft=threads(22.0, yarns={"A": yarn}))
    made = window(order, loom(), stretch(COUNT, 31, (20, 50)), stretch(PICKS, 23, (11, 22)))
    assert made.nearest is not None
    assert made.nearest.across is not None
    assert made.nearest.across > 20.0
    assert made.nearest.along == 22.0


def test_a_value_that_is_assumed_is_the_orders_own() -> None:
    order, on = PAIRS["open"]
    made = window(order, on, stretch(WIDTH), stretch(CRIMP))
    assert made.along.own == pytest.approx(assess(order, on).cloth.weft_crimp_pct)
    unstated = window(
        order, on, stretch(WIDTH), stretch("/construction/requested_speed_picks_per_min")
    )
    assert (unstated.along.own, unstated.own.along) == (None, None)


def test_a_count_is_varied_inside_its_designation() -> None:
    made = window(*PAIRS["example"], stretch(COUNT, 3, (10, 30)), stretch(PICKS, 2))
    assert made.across.unit == "Ne …"
    assert made.across.own == 20.0
    assert made.across.words == "count of weft yarn A"


def test_count_and_linear_density_of_a_yarn_are_one_figure() -> None:
    tex = stretch(COUNT.replace("designation", "linear_density_tex"), 3, (20, 60))
    for fields in ((stretch(COUNT), tex), (tex, stretch(COUNT))):
        with pytest.raises(InputError) as error:
            window(*PAIRS["example"], *fields)
        assert [fault.pointer for fault in error.value.faults] == ["/along/pointer"]


def test_the_own_value_is_in_the_unit_that_is_varied() -> None:
    yarn = Yarn(designation="Ne 7", fibre="cotton")
    order = construction(weft=threads(18.0, yarns={"A": yarn}, crimp_pct=25.0))
    tex = stretch(COUNT.replace("designation", "linear_density_tex"), 3, (40, 120))
    made = window(order, loom(), tex, stretch("/construction/weft/picks_per_in", 3, (30, 60)))
    # Ne 7 has 7 hanks of 840 yd in a pound; 18 picks/cm are 45.7 in an inch.
    assert made.own.across == pytest.approx(453_592.37 / (7 * 840 * 0.9144), rel=1e-3)
    assert made.own.along == pytest.approx(18 * 2.54)
    # A crimp of 25 % of the cloth is a fifth of the yarn.
    axis = numeric_field("/construction/weft/contraction_pct", order, loom())
    assert axis.in_use(judge(order, loom()).cloth, (), loom()) == pytest.approx(20.0)
    assumed = judge(construction(weft=threads(22.0, crimp_pct=None)), loom())
    crimp_pct, contraction_pct = (
        numeric_field(each, order, loom()).in_use(assumed.cloth, assumed.assumptions, loom())
        for each in (CRIMP, axis.pointer)
    )
    assert crimp_pct is not None
    assert contraction_pct == pytest.approx(100 * crimp_pct / (100 + crimp_pct))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("designation", "own", "unit", "tex_at_40"),
    [
        ("2/30 Ne", 30.0, "2/… Ne", 2 * 590.541 / 40),
        ("30s", 30.0, "…s", 590.541 / 40),
        ("R 60 tex/2", 60.0, "R … tex/2", 40.0),
        ("2 x 20 tex Z 400", 20.0, "2 x … tex Z 400", 80.0),
    ],
)
def test_the_count_of_a_designation_is_varied_wherever_it_is_written(
    designation: str, own: float, unit: str, tex_at_40: float
) -> None:
    yarn = Yarn(designation=designation, fibre="cotton")
    order = construction(weft=replace(threads(22.0), yarns={"A": yarn}))
    place = numeric_field(COUNT, order, loom())
    assert (place.stated(order, loom()), unit_at(place, order)) == (own, unit)
    changed, _ = with_values(order, loom(), [(COUNT, 40.0)])
    text = changed.weft.yarns["A"].designation
    assert text == unit.replace("…", "40")
    read = parse_designation(text, fibre=find_fibre("cotton"))
    assert read.linear_density_tex == pytest.approx(tex_at_40, rel=1e-4)


@pytest.mark.parametrize("designation", ["20 tex x 2; R 41.2 tex", "Ne 30 + Ne 40"])
def test_several_numbers_of_one_yarn_are_not_varied_as_one(designation: str) -> None:
    order = construction(
        weft=replace(threads(22.0), yarns={"A": Yarn(designation=designation, fibre="cotton")})
    )
    with pytest.raises(InputError, match=r"cannot be varied; vary linear_density_tex"):
        numeric_field(COUNT, order, loom())


@pytest.mark.parametrize("name", ["designation", "linear_density_tex"])
def test_a_count_by_which_other_values_are_assumed_goes_with_a_sett_in_columns(name: str) -> None:
    # Fine wool is taken for worsted and coarse for woollen; few counts of folded cotton are usual.
    for fibre, text in (("wool", "Nm 24/2"), ("cotton", "Ne 30/2")):
        yarn = Yarn(designation=text, fibre=fibre)
        order = construction(weft=threads(20.0, yarns={"A": yarn}, crimp_pct=None))
        counts = stretch(COUNT.replace("designation", name), 40, (12, 110))
        found = make_window(order, loom(), across=counts, along=stretch(PICKS, 30, (8, 40)))
        assert found.points_alone == 0
        for row, column in ((0, 0), (29, 39), (10, 20), (20, 5)):
            case = found.window.cases[found.window.grid[row][column]]
            expected = found_at(order, loom(), found.window, row, column)
            assert (case.verdict, case.errors, case.warnings, case.notes) == expected[:4]


def test_the_nearest_point_meets_what_is_required_itself() -> None:
    order = construction(
        width_cm=150.0,
        weft=threads(22.0, crimp_pct=None),
        requirements=Requirements(mass_g_per_m2=RequiredRange(min=125.0)),
    )
    across, along = stretch(PICKS, 17, (18, 34)), stretch(WIDTH, 3, (140, 160))
    made = window(order, loom(max_tightness_pct=None), across, along)
    assert CheckCode.REQUIREMENT_MASS in made.own.codes
    assert made.own.verdict is Verdict.NOT_WEAVABLE
    assert made.nearest is not None

    def mass(picks: float, width: float) -> tuple[Verdict, float]:
        there = with_values(order, loom(max_tightness_pct=None), [(PICKS, picks), (WIDTH, width)])
        report = assess(*there)
        (one,) = report.requirements
        return report.verdict, one.value

    assert made.nearest.across is not None
    assert made.nearest.along is not None
    verdict, found = mass(made.nearest.across, made.nearest.along)
    assert verdict is made.nearest.verdict
    assert found >= 125.0
    # A pick step less is weavable too, if only by an end of the band.
    step = made.across.values[1] - made.across.values[0]
    verdict, found = mass(made.nearest.across - step, made.nearest.along)
    assert verdict is not Verdict.NOT_WEAVABLE
    assert found < 125.0


def test_what_counts_has_each_whole_number_once() -> None:
    made = window(*PAIRS["plain"], stretch("/construction/panels", 50, (1, 3)), stretch(WIDTH))
    assert made.across.values == (1.0, 2.0, 3.0)


@pytest.mark.parametrize("is_turned", [False, True])
@pytest.mark.parametrize("is_figured", [False, True], ids=["plain", "figured"])
def test_a_point_that_contradicts_the_request_has_no_verdict(
    *, is_figured: bool, is_turned: bool
) -> None:
    order, on = PAIRS["plain"]  # Its narrowest cloth is 100 cm wide in the reed.
    across, along = stretch("/loom/reed_width_cm", 3, (80, 180)), stretch(WIDTH, 2)
    if is_figured:  # Its tie needs 96 hooks.
        tie = TieSection(from_hook=1, hooks=96, order=TieOrder.CENTRED)
        on = figured_jacquard(tie, hooks=96)
        pixels = np.zeros((56, 192), dtype=int)
        design = design_of(pixels, ["8-end satin move 3"], covers=Covers.CLOTH)
        order = figured_order(design, width_cm=8.0)
        across, along = stretch("/loom/shedding/hooks", 3, (48, 144)), stretch(LENGTH, 2)
    made = window(order, on, *((along, across) if is_turned else (across, along)))
    grid, speeds = np.array(made.grid), np.array(made.speeds_picks_per_min, dtype=float)
    if is_turned:
        grid, speeds = grid.T, speeds.T
    (without,) = {*grid[:, 0].tolist()}
    assert without not in grid[:, 1:]
    assert made.cases[without] == WindowCase(
        verdict=None,
        errors=(),
        warnings=(),
        notes=(),
        rejected_if_assumed=(),
        limited_by=None,
        decided_by=(),
        points=2,
    )
    assert np.isnan(speeds).tolist() == 2 * [[True, False, False]]


def test_fields_that_act_on_the_same_figures_are_read_point_by_point() -> None:
    order, on = PAIRS["example"]
    along = "/construction/warp/yarns/B/linear_density_tex"
    across = "/construction/warp/yarns/A/linear_density_tex"
    ends = (10.0, 60.0)
    made = make_window(order, on, across=stretch(across, 6, ends), along=stretch(along, 5, ends))
    assert made.points_alone == 30
    for row, column in ((0, 0), (4, 5), (2, 3)):
        expected = found_at(order, on, made.window, row, column)
        case = made.window.cases[made.window.grid[row][column]]
        assert (case.verdict, case.errors, case.warnings) == expected[:3]
    with pytest.raises(InputError) as error:
        make_window(order, on, across=stretch(across, 40, ends), along=stretch(along, 40, ends))
    assert [fault.pointer for fault in error.value.faults] == ["/along/points"]


@pytest.mark.parametrize(
    ("across", "along", "pointer"),
    [
        (
            stretch(WIDTH),
            Stretch(pointer="/construction/weave", start=1, stop=2, points=2),
            "/along/pointer",
        ),
        (stretch(WIDTH), stretch(WIDTH), "/along/pointer"),
        (stretch(WIDTH), stretch("/construction/width_in"), "/along/pointer"),
        (stretch(PICKS), stretch("/construction/weft/picks_per_in", 5, (30, 90)), "/along/pointer"),
        (
            stretch(WIDTH),
            Stretch(pointer="/loom/boxes/0", start=1, stop=2, points=2),
            "/along/pointer",
        ),
        (
            stretch("/construction/weft/yarns/Z/crimp_pct", 2, (1, 2)),
            stretch(WIDTH),
            "/across/pointer",
        ),
        (stretch("/construction/weft/yarns/A/fibre", 2, (1, 2)), stretch(WIDTH), "/across/pointer"),
        (stretch(WIDTH, 2, (0.5, 100)), stretch(CRIMP), "/across/from"),
        (stretch(WIDTH, 2, (1, 5000)), stretch(CRIMP), "/across/to"),
        (stretch(WIDTH, 101), stretch(CRIMP, 100), "/along/points"),
        (
            stretch(WIDTH),
            stretch("/construction/weft/contraction_pct", 2, (1, 2)),
            "/construction/weft/contraction_pct",
        ),
    ],
)
def test_what_cannot_be_varied_is_refused(across: Stretch, along: Stretch, pointer: str) -> None:
    with pytest.raises(InputError) as error:
        window(*PAIRS["plain"], across, along)
    assert [fault.pointer for fault in error.value.faults] == [pointer]
    assert error.value.faults[0].message


def numbers_of(schema: Any, schemas: Any, at: str) -> Iterator[str]:
    """The pointers of all numbers of a schema; of a list that of its first item."""
    while "$ref" in schema:
        schema = schemas[schema["$ref"].rpartition("/")[2]]
    for kind in ("anyOf", "oneOf", "allOf"):
        for each in schema.get(kind, ()):
            yield from numbers_of(each, schemas, at)
    kinds = schema.get("type", ())
    if not {"number", "integer"}.isdisjoint([kinds] if isinstance(kinds, str) else kinds):
        yield at
    for name, part in schema.get("properties", {}).items():
        yield from numbers_of(part, schemas, f"{at}/{name}")
    for name, part in (("0", schema.get("items")), ("A", schema.get("additionalProperties"))):
        if isinstance(part, dict) and "reason_values" not in at:
            yield from numbers_of(part, schemas, f"{at}/{name}")


def test_every_number_of_a_request_is_varied_or_refused_for_a_reason_of_its_own() -> None:
    document = Path(__file__).parents[2] / "openapi" / "openapi.json"
    schemas = json.loads(document.read_text())["components"]["schemas"]
    order = replace(
        construction(length_m=None),
        order=PieceOrder(pieces=20, piece_length_m=60.0),
        reed=Reed(count=40.0, system="stockport"),
    )
    order = replace(order, warp=replace(order.warp, beams=(WarpGroup(name="all", yarns=("A",)),)))
    pointers = {
        *numbers_of(schemas["Construction"], schemas, "/construction"),
        *numbers_of(schemas["Loom"], schemas, "/loom"),
    }
    assert len(pointers) > 200
    refused: dict[str, set[str]] = {}
    for pointer in pointers:
        try:
            place = numeric_field(pointer, order, loom())
        except InputError as error:
            message = error.faults[0].message
            assert isinstance(message, Sentence)
            refused.setdefault(message.key.removeprefix("fault.window."), set()).add(pointer)
            continue
        changed = with_values(order, loom(), [(pointer, place.bounds.least)])
        assert place.stated(*changed) == pytest.approx(place.bounds.least), pointer
    assert refused.keys() == {
        *("another_weave", "draft", "ends_in_dents", "reeds_in_stock", "speed_curve", "boxes"),
        *("tie", "changeover_rates", "price_of_loom", "assumed", "tolerance"),
        *("power_and_air", "yarn_alone", "catch_cords", "hours_of_a_day"),
    }
    assert refused["power_and_air"] == {"/loom/power_kw", "/loom/air_m3_per_h"}
    assert refused["yarn_alone"] == {
        "/construction/allowances/warp_waste_pct",
        "/construction/allowances/weft_waste_pct",
        "/construction/selvedge/leno_ends_per_side",
    }
    assert refused["catch_cords"] == {"/construction/selvedge/catch_cord_ends"}
    on_shuttle = replace(loom(), insertion=Insertion(system=InsertionSystem.SHUTTLE))
    assert numeric_field("/construction/selvedge/catch_cord_ends", order, on_shuttle).is_whole
    assert refused["hours_of_a_day"] == {"/loom/running/hours_per_day"}
    assert "/loom/loom_hour" in refused["price_of_loom"]
    assert refused["speed_curve"] == {"/loom/speed_curve/0/reed_width_cm"}


def assert_like_validations(order: Construction, on: Loom, made: Window, points: int = 6) -> None:
    """Compare points of a window with validations there."""
    choose = random.Random(3)
    for _ in range(points):
        row, column = choose.randrange(len(made.grid)), choose.randrange(len(made.grid[0]))
        expected = found_at(order, on, made, row, column)
        case = made.cases[made.grid[row][column]]
        if expected is None:
            assert case.verdict is None
            continue
        doubted = set(case.rejected_if_assumed)
        seen = (case.verdict, case.errors, case.warnings, case.notes, doubted, case.limited_by)
        assert (*seen, made.speeds_picks_per_min[row][column]) == expected, (row, column)


@pytest.mark.slow
def test_what_a_customer_requires_is_varied_against_a_sett() -> None:
    most, least = (f"/construction/requirements/mass_g_per_m2/{each}" for each in ("max", "min"))
    required = construction(requirements=Requirements(mass_g_per_m2=RequiredRange(min=120.0)))
    for order in (construction(), required):
        across = stretch(most, 24, (90.0, 200.0))
        made = make_window(order, loom(), across=across, along=stretch(PICKS, 24))
        assert made.points_alone == 0
        assert_like_validations(order, loom(), made.window)
        window_ = made.window
        assert (window_.across.words, window_.across.unit) == ("greatest required mass", "g/m²")
        refused = {
            value
            for column, value in enumerate(window_.across.values)
            if window_.cases[window_.grid[0][column]].verdict is None
        }
        # At most less than at least is no request.
        assert refused == {
            each for each in window_.across.values if order is required and each < 120
        }
    made = make_window(
        required, loom(), across=stretch(least, 12, (90, 200)), along=stretch(WIDTH, 12)
    )
    assert (made.points_alone, made.window.across.own) == (0, 120.0)
    assert_like_validations(required, loom(), made.window)
    fibre = "/construction/requirements/fibre_pct/cotton/min"
    assert field_in_words(fibre) == "least required share of cotton"
    made = make_window(
        construction(), loom(), across=stretch(fibre, 3, (10, 100)), along=stretch(WIDTH, 3)
    )
    assert_like_validations(construction(), loom(), made.window)


@pytest.mark.slow
@pytest.mark.parametrize("name", list(REQUIRED_OF))
@pytest.mark.parametrize(
    ("across", "along"),
    [
        (stretch(ENDS, 40, (10.0, 50.0)), stretch(PICKS, 40, (10.0, 50.0))),
        (stretch(WIDTH, 40, (80.0, 200.0)), stretch(PICKS, 40, (10.0, 50.0))),
        (stretch(PICKS, 40, (10.0, 50.0)), stretch(COUNT_IN_TEX, 40, (10.0, 60.0))),
        (stretch(COUNT_IN_TEX, 40, (10.0, 60.0)), stretch(WIDTH, 40, (80.0, 200.0))),
        (stretch(ENDS, 40, (10.0, 50.0)), stretch(SPEED, 40, (200.0, 900.0))),
    ],
    ids=["ends x picks", "width x picks", "picks x count", "count x width", "ends x speed"],
)
def test_a_window_in_which_required_figures_differ_is_judged_in_columns(
    name: str, across: Stretch, along: Stretch
) -> None:
    order, on = REQUIRED_OF[name]
    made = make_window(replace(order, requirements=REQUIRED), on, across=across, along=along)
    assert made.points_alone == 0
    assert_like_validations(replace(order, requirements=REQUIRED), on, made.window)


@pytest.mark.slow
@pytest.mark.parametrize("along", ["/construction/selvedge/ends_per_side", WIDTH])
def test_a_required_width_is_varied_against_what_makes_selvedges_wide(along: str) -> None:
    order = construction(
        selvedge=Selvedge(ends_per_side=300, ends_per_dent=4),
        requirements=Requirements(
            finished_width_cm=RequiredRange(min=155.0), mass_g_per_m=RequiredRange(max=160.0)
        ),
    )
    on = loom(reed_width_cm=250.0)
    most = stretch("/construction/requirements/finished_width_cm/max", 12, (158.0, 180.0))
    ends = (40.0, 600.0) if along != WIDTH else (140.0, 170.0)
    made = make_window(order, on, across=most, along=stretch(along, 12, ends)).window
    assert_like_validations(order, on, made, 16)
    assert {case.verdict for case in made.cases} >= {Verdict.NOT_WEAVABLE}
    assert len(made.cases) > 2


def test_a_beam_and_a_point_of_a_speed_curve_are_varied_by_their_place() -> None:
    terry = construction()
    groups = (
        WarpGroup(name="ground", yarns=("A",)),
        WarpGroup(name="pile", yarns=("P",), pile_ratio=4.0),
    )
    yarns = dict.fromkeys("AP", next(iter(terry.warp.yarns.values())))
    terry = replace(terry, warp=replace(terry.warp, yarns=yarns, order="1A 1P", beams=groups))
    on = loom(warp_beam=WarpBeam(arrangement=BeamArrangement.STACKED, count=2))
    ratio = "/construction/warp/beams/1/pile_ratio"
    made = window(terry, on, stretch(ratio, 5, (2.0, 6.0)), stretch(PICKS, 5))
    assert (made.across.own, made.across.words) == (4.0, "pile ratio of warp beam no. 2")
    assert_like_validations(terry, on, made)
    speed = "/loom/speed_curve/1/picks_per_min"
    made = window(construction(), loom(), stretch(speed, 5, (300, 500)), stretch(WIDTH, 5))
    assert made.across.own == loom().speed_curve[1].picks_per_min
    assert_like_validations(construction(), loom(), made)
    with pytest.raises(InputError) as error:
        numeric_field("/construction/warp/beams/2/pile_ratio", terry, on)
    assert error.value.faults[0].message.startswith("This list has no item 2: 2 are stated")


@pytest.mark.slow
def test_a_figured_design_is_woven_anew_for_each_sett() -> None:
    pixels = np.kron(np.random.default_rng(1).integers(0, 3, (9, 5)), np.ones((8, 8), int))
    order = figured_order(design_of(pixels, ("8-end satin move 3", "plain", "3/1 twill Z")))
    on = figured_jacquard(hooks=40)
    hooks, speed = "/loom/shedding/hooks", "/loom/max_speed_picks_per_min"
    for across, along, anew in (
        (stretch(PICKS, 4, (10, 40)), stretch(WIDTH, 5, (40, 100)), True),
        (stretch(WIDTH, 5, (40, 100)), stretch(PICKS, 4, (10, 40)), True),
        (stretch(ENDS, 3, (10, 40)), stretch(PICKS, 3, (10, 40)), True),
        (stretch(PICKS, 3, (10, 40)), stretch(speed, 5), True),
        (stretch(hooks, 3, (20, 80)), stretch(PICKS, 3, (10, 40)), True),
        (stretch("/loom/shedding/max_speed_picks_per_min", 5, (100, 900)), stretch(WIDTH), False),
    ):
        made = make_window(order, on, across=across, along=along)
        assert made.points_alone == (
            len(made.window.grid) * len(made.window.grid[0]) if anew else 0
        )
        assert_like_validations(order, on, made.window, points=3)
    with pytest.raises(InputError) as error:
        make_window(order, on, across=stretch(ENDS, 9), along=stretch(PICKS, 8))
    assert [fault.pointer for fault in error.value.faults] == ["/along/points"]
    assert "woven anew" in error.value.faults[0].message


def test_a_window_has_at_most_ten_thousand_points() -> None:
    made = window(*PAIRS["plain"], stretch(ENDS, 100), stretch(PICKS, 100))
    assert sum(case.points for case in made.cases) == MOST_POINTS
    assert len(made.grid) == len(made.speeds_picks_per_min) == 100
    assert [case.points for case in made.cases] == sorted(
        (case.points for case in made.cases), reverse=True
    )


def test_fields_have_names() -> None:
    assert field_in_words("/loom/insertion/max_rate_m_per_min") == "greatest insertion rate"
