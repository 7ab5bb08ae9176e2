"""The drawing of a window: legible without colour, with units, signs, words and the caution."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree as ET

import pytest
from builders import construction, loom, threads

from weavability.answers.caution import CAUTION, SHORT_CAUTION
from weavability.answers.window import Stretch, Window, make_window
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Verdict
from weavability.drawing.window_view import draw_window
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.yarns import Yarn

SVG = "{http://www.w3.org/2000/svg}"


@cache
def window(width_cm: float = 184.0) -> Window:
    return make_window(
        construction(width_cm=width_cm, weft=threads(22.0, crimp_pct=None), reference="A < B"),
        loom(max_tightness_pct=100.0),
        across=Stretch(pointer="/construction/width_cm", start=150.0, stop=200.0, points=40),
        along=Stretch(pointer="/construction/weft/picks_per_cm", start=14.0, stop=60.0, points=40),
    ).window


def drawn(of: Window) -> ET.Element:
    return ET.fromstring(draw_window(of))


def box_of(rect: ET.Element) -> tuple[float, float, float, float]:
    x, y, width, height = (float(rect.attrib[name]) for name in ("x", "y", "width", "height"))
    return x, y, x + width, y + height


def words(of: Window) -> list[str]:
    return ["".join(each.itertext()) for each in drawn(of).iter(f"{SVG}text")]


def test_it_has_a_title_a_description_and_the_caution() -> None:
    root = drawn(window())
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text == "Width and weft picks per cm: what can be woven"
    assert description is not None
    assert description.text is not None
    assert "width from 150 to 200 cm across" in description.text
    assert description.text.endswith(SHORT_CAUTION)
    metadata = root.find(f"{SVG}metadata")
    assert metadata is not None
    assert metadata.text == CAUTION


def test_the_shares_of_the_verdicts_are_those_of_their_points() -> None:
    found = window()
    counted = Counter(verdict for case in found.cases for verdict in [case.verdict] * case.points)
    description = drawn(found).findtext(f"{SVG}desc") or ""
    percent = sorted(int(each) for each in re.findall(r"at (\d+) %", description))
    assert percent == sorted(round(100 * points / 1600) for points in counted.values())
    assert sum(percent) == pytest.approx(100, abs=1)


@pytest.mark.slow
def test_every_verdict_has_a_hatching_of_its_own() -> None:
    text = draw_window(window())
    patterns = re.findall(r'<pattern id="(\w+)".*?<path d="([^"]+)"', text)
    assert len({lines for _, lines in patterns}) == 4
    shown = {case.verdict for case in window().cases}
    assert shown == {*Verdict}
    # So has a warning that is an error if what is assumed is so.
    doubted = [bool(case.rejected_if_assumed) for case in window().cases if case.warnings]
    assert {*doubted} == {True, False}
    for name, _ in patterns[:3]:
        assert f'fill="url(#{name})"' in text
    # Two drawings in one page do not share their hatchings.
    others = re.findall(r'<pattern id="(\w+)"', draw_window(window(150.0)))
    assert not {name for name, _ in patterns} & set(others)


def test_axes_have_names_units_and_round_figures() -> None:
    written = words(window())
    assert "width, cm" in written
    assert "weft picks per cm" in written
    assert {"150", "160", "170", "180", "190", "200"} <= set(written)
    assert {"20", "30", "40", "50", "60"} <= set(written)


def test_each_letter_of_the_field_is_explained() -> None:
    written = words(window())
    letters = [each for each in written if re.fullmatch("[A-Z]", each)]
    for letter in set(letters):
        assert letters.count(letter) >= 2, letter
    # Every check that decides is explained.
    assert "width.reed_space: The cloth must not be wider in the reed than the loom's" in " ".join(
        written
    )
    assert any(re.match(r"not weavable: .*width\.reed_space.* \(\d+ %\)", each) for each in written)
    assert sum("speed limited by" in each for each in written) >= 2


def test_an_area_names_what_decides_it_and_no_label_lies_over_another() -> None:
    made = window()
    written = words(made)
    for code in ("width.reed_space", "reed.sett_mismatch"):
        decides = any(code in (*case.errors, *case.warnings) for case in made.cases)
        assert (code in written) == decides, code
    boxes = [box_of(each) for each in drawn(made).iter() if each.attrib.get("rx") == "3"]
    assert len(boxes) > 3
    assert overlapping(boxes) == []


def outcomes(of: Window) -> list[tuple[object, ...]]:
    """What decides in each case: neither the speed limit nor a reed that can be bought."""
    found: list[tuple[object, ...]] = []
    for each in of.cases:
        codes = each.errors or each.warnings
        heavy = tuple(code for code in codes if code != "reed.not_in_stock") or codes
        found.append((each.verdict, heavy, each.rejected_if_assumed))
    return found


def thin_px(of: Window) -> tuple[float, float]:
    """Drawn lengths of the thin lines, upright and level."""
    lines = [each for each in drawn(of).iter() if each.attrib.get("stroke-width") == "1.1"]
    path = "".join(each.attrib["d"] for each in lines)
    return tuple(  # type: ignore[return-value]
        sum(float(each) for each in re.findall(rf"{sign}([\d.]+)", path)) for sign in ("v-", "h")
    )


def test_a_line_divides_all_outcomes_of_one_verdict() -> None:
    made = window()
    decides = outcomes(made)
    area = [[decides[at] for at in row] for row in made.grid]
    beside = [pair for row in area for pair in itertools.pairwise(row)]
    above = [pair for column in zip(*area, strict=True) for pair in itertools.pairwise(column)]
    upright, level = (
        sum(one[0] == other[0] and one != other for one, other in pairs)
        for pairs in (beside, above)
    )
    assert upright > 0
    assert level > 0
    wide_px, high_px = (960 - 84 - 40) / 40, 520 / 40
    assert thin_px(made) == pytest.approx((upright * high_px, level * wide_px), rel=0.002)


def test_cases_that_differ_only_in_speed_limit_or_a_reed_in_stock_are_one_area() -> None:
    made = window()
    first = next(each for each in made.cases if each.verdict is Verdict.WEAVABLE_WITH_WARNINGS)
    codes = first.warnings
    alike = [
        replace(first, limited_by=limit, warnings=warnings, errors=())
        for limit in SpeedLimitName
        for warnings in (codes, (*codes, CheckCode.REED_NOT_IN_STOCK))
    ]
    grid = tuple(tuple(at % len(alike) for at in range(40)) for _ in range(40))
    one = replace(
        made,
        cases=tuple(replace(each, points=1600 // len(alike)) for each in alike),
        grid=grid,
        borders=(),
    )
    assert [each for each in words(one) if re.fullmatch("[A-Z]", each)] == ["A", "A"]
    assert thin_px(one) == (0, 0)
    assert "in part also reed.not_in_stock" in " ".join(words(one))
    # What is found at all of its points is not in a part of them.
    bought = [replace(each, warnings=alike[1].warnings) for each in one.cases]
    said = " ".join(words(replace(one, cases=tuple(bought))))
    assert f": {', '.join(alike[1].warnings)}" in said
    assert "in part" not in said
    # By itself it is a decision: the order is not weavable without a warning.
    of_stock = (CheckCode.REED_NOT_IN_STOCK,)
    bare = replace(first, errors=(), warnings=of_stock, decided_by=of_stock, points=800)
    good = replace(bare, verdict=Verdict.WEAVABLE, warnings=(), decided_by=(), points=800)
    grid = tuple(tuple(at // 20 for at in range(40)) for _ in range(40))
    two = replace(made, cases=(bare, good), grid=grid, borders=())
    assert {"A", "B"} <= {*words(two)}


def test_outcomes_on_small_areas_share_a_letter_and_are_divided_by_lines() -> None:
    made = window()
    codes = [code for code in CheckCode if code != CheckCode.REED_NOT_IN_STOCK][:30]
    blank = replace(made.cases[0], errors=(), rejected_if_assumed=())
    cases = [replace(blank, warnings=(code,), decided_by=(code,), points=1) for code in codes]
    cases[0] = replace(cases[0], points=1600 - 29)
    # These two differ only in what is not weavable if what is assumed is so.
    cases[1] = replace(cases[2], rejected_if_assumed=cases[2].warnings)
    row = (*range(30), *([0] * 10))
    grid = (row, *([(0,) * 40] * 39))
    few = replace(made, cases=tuple(cases), grid=grid, borders=())
    wide_px, high_px = (960 - 84 - 40) / 40, 520 / 40
    assert thin_px(few) == pytest.approx((30 * high_px, 29 * wide_px), rel=0.002)
    letters = [each for each in words(few) if re.fullmatch("[A-Z]", each)]
    assert letters.count("B") == 2
    assert {*letters} == {"A", "B"}
    assert "29 other outcomes on small areas, each inside a line (2 %)" in " ".join(words(few))


def overlapping(boxes: list[tuple[float, float, float, float]]) -> list[object]:
    """The pairs of boxes that lie over each other."""
    return [
        (one, other)
        for one, other in itertools.combinations(boxes, 2)
        if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    ]


@pytest.mark.parametrize("share", [0.816, 0.98, 0.995, 1.085])
def test_words_of_the_order_and_of_a_point_close_to_it_do_not_lie_over_each_other(
    share: float,
) -> None:
    made = window()
    own = made.own
    assert own.across is not None
    near = replace(own, across=own.across * share)
    # Each is to the left and to the right of the other, and at both edges.
    for changed in (replace(made, nearest=near), replace(made, own=near, nearest=own)):
        root = drawn(changed)
        named = [each for each in root.iter() if each.attrib.get("height") == "21"]
        rings = [each for each in root.iter(f"{SVG}circle") if each.attrib["r"] == "12"]
        assert len(named) == len(rings) == 2
        boxes = [box_of(each) for each in named]
        for at, ring in enumerate(rings):
            x, y = float(ring.attrib["cx"]), float(ring.attrib["cy"])
            assert overlapping([boxes[1 - at], (x - 12, y - 12, x + 12, y + 12)]) == []
        assert overlapping(boxes) == []


def test_the_order_and_the_nearest_better_point_are_named() -> None:
    made = window()
    assert made.nearest is not None
    assert {"this order", "nearest better"} <= set(words(made))
    # An order outside of the window has no sign.
    assert "this order" not in words(window(140.0))
    assert "A < B on test-rapier: weavable with warnings as it is" in words(made)


def test_borders_are_lines_and_differ_by_their_dashes() -> None:
    lines = list(drawn(window()).iter(f"{SVG}polyline"))
    made = window()
    assert len(lines) == 2 * len(made.borders)  # Each has a rim of paper.
    dashed = [line for line in lines if "stroke-dasharray" in line.attrib]
    soft = [one for one in made.borders if one.verdict is Verdict.WEAVABLE_WITH_WARNINGS]
    assert len(dashed) == len(soft) > 0


def test_borders_of_wide_points_go_along_their_edges() -> None:
    made = make_window(
        construction(width_cm=50.0),
        loom(),
        across=Stretch(pointer="/construction/panels", start=1, stop=3, points=3),
        along=Stretch(pointer="/construction/width_cm", start=40.0, stop=120.0, points=5),
    ).window
    assert {"1", "2", "3"} <= set(words(made))
    assert not [each for each in words(made) if re.fullmatch(r"\d\.5", each)]
    hard = [each for each in drawn(made).iter() if each.attrib.get("stroke-width") == "2.4"]
    (line,) = hard
    wide_px, high_px = (960 - 84 - 40) / 3, 520 / 5
    verdicts = [[made.cases[at].verdict is Verdict.NOT_WEAVABLE for at in row] for row in made.grid]
    upright = sum(one != other for row in verdicts for one, other in itertools.pairwise(row))
    level = sum(
        one != other
        for above, below in itertools.pairwise(verdicts)
        for one, other in zip(above, below, strict=True)
    )
    drawn_px = [
        sum(float(each) for each in re.findall(rf"{way}-?([\d.]+)", line.attrib["d"]))
        for way in "hv"
    ]
    assert drawn_px == pytest.approx([level * wide_px, upright * high_px], abs=1)
    assert level > 0
    assert upright > 0


def plain(across: Stretch, along: Stretch, width_cm: float = 150.0) -> Window:
    return make_window(construction(width_cm=width_cm), loom(), across=across, along=along).window


def test_the_order_and_the_nearest_point_are_given_in_figures_or_why_there_is_none() -> None:
    written = " ".join(words(window()))
    assert window().nearest is not None
    assert "This order: width 184 cm, weft picks per cm 22: weavable with warnings (wid" in written
    assert "not weavable if what is assumed is so (width.reed_space)." in written
    assert "Nearest better: width " in written
    wide = plain(
        Stretch(pointer="/construction/width_cm", start=200.0, stop=250.0, points=5),
        Stretch(pointer="/construction/weft/crimp_pct", start=2.0, stop=8.0, points=5),
        width_cm=300.0,
    )
    written = " ".join(words(wide))
    assert "Its width is outside of this window." in written
    assert "No point of this window is weavable: each has an" in written
    assert "No nearest better point" not in written
    # Nothing is said of lines that are not drawn.
    assert "Solid line" not in written
    assert "Solid line" in " ".join(words(window()))


def test_large_figures_have_no_exponent() -> None:
    long = plain(
        Stretch(pointer="/construction/length_m", start=1000.0, stop=5_000_000.0, points=5),
        Stretch(pointer="/construction/weft/crimp_pct", start=2.0, stop=8.0, points=5),
    )
    written = words(long)
    assert {"1,000,000", "5,000,000"} <= set(written)
    assert not [each for each in written if "e+" in each]
    assert "length from 1,000 to 5,000,000 m across" in (drawn(long).findtext(f"{SVG}desc") or "")


def test_a_long_heading_has_room() -> None:
    long = plain(
        Stretch(pointer="/loom/shedding/max_healds_per_cm_per_shaft", start=5, stop=10, points=3),
        Stretch(
            pointer="/construction/allowances/size_elongation_loss_pct", start=2, stop=8, points=3
        ),
    )
    heading = next(drawn(long).iter(f"{SVG}text"))
    text = "".join(heading.itertext())
    assert len(text) > 80
    # A bold sign of DejaVu Sans is on average 0.63 of its size wide.
    assert 0.63 * float(heading.attrib["font-size"]) * len(text) <= 960 - 84


def test_a_border_ends_at_the_frame() -> None:
    made = plain(
        Stretch(pointer="/construction/width_cm", start=170.0, stop=190.0, points=40),
        Stretch(pointer="/construction/weft/crimp_pct", start=5.0, stop=6.0, points=40),
    )
    line = next(drawn(made).iter(f"{SVG}polyline"))
    levels = [float(each.split(",")[1]) for each in line.attrib["points"].split()]
    assert sorted((levels[0], levels[-1])) == [84.0, 604.0]


def test_every_large_area_of_a_case_has_its_letter() -> None:
    made = plain(
        Stretch(pointer="/construction/panels", start=1, stop=4, points=4),
        Stretch(pointer="/construction/width_cm", start=40.0, stop=120.0, points=6),
    )
    # Neither too narrow for the loom nor too wide: an area for each number of panels, and the key.
    shown = Counter(each for each in words(made) if re.fullmatch("[A-Z]", each))
    assert max(shown.values()) >= 3


def test_a_count_is_written_into_its_designation() -> None:
    order = construction(weft=threads(22.0, yarns={"A": Yarn(designation="Ne 20/2")}))
    made = make_window(
        order,
        loom(),
        across=Stretch(
            pointer="/construction/weft/yarns/A/designation", start=10.0, stop=40.0, points=4
        ),
        along=Stretch(pointer="/construction/width_cm", start=120.0, stop=150.0, points=4),
    ).window
    assert "count of weft yarn A, Ne …/2" in words(made)
    single = replace(made, across=replace(made.across, unit="Ne …"))
    assert "count of weft yarn A, Ne" in words(single)
    assert "This order: count of weft yarn A Ne 20/2, width 160 cm" in " ".join(words(made))


def test_a_field_in_inches_reads_as_a_quantity_with_its_unit() -> None:
    made = plain(
        Stretch(pointer="/construction/width_in", start=50.0, stop=70.0, points=4),
        Stretch(pointer="/construction/warp/ends_per_in", start=50.0, stop=90.0, points=4),
    )
    written = words(made)
    assert "Width and warp ends per inch: what can be woven" in written
    assert "width, in" in written
    assert "warp ends per inch" in written
    assert " in, warp ends per inch " in " ".join(written)
