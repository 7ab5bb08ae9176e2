"""The drawing of a pick: well-formed, described in words, and shaded where the danger is."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree as ET

import pytest
from builders import construction, loom, severity, threads

from weavability.answers.insertion_rate import RateRequest, Sweep, SweepOver, insertion_rates
from weavability.drawing.insertion_curve import (
    BAND_FILLS,
    LEFT,
    RIGHT,
    WIDTH,
    insertion_svg,
)
from weavability.drawing.insertion_view import draw_insertion
from weavability.looms.carriers import InsertionSetup, InsertionSystem, Rapiers
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.weft_tension import WeftYarn
from weavability.textiles.construction import Reed
from weavability.textiles.errors import InputError
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

SVG = "{http://www.w3.org/2000/svg}"
RAPIER = InsertionSetup(
    system=InsertionSystem.RAPIER,
    motion_law=MotionLaw.MODIFIED_SINE,
    rapiers=Rapiers.DOUBLE,
    entry_deg=60,
    transfer_deg=180,
    exit_deg=300,
    free_weft_length_m=0.5,
    base_tension_cn=15,
)
AIR_JET = InsertionSetup(
    system=InsertionSystem.AIR_JET,
    entry_deg=90,
    exit_deg=230,
    stopping_length_cm=30,
    free_weft_length_m=0.5,
    base_tension_cn=3,
)
COTTON = WeftYarn(linear_density_tex=30, weakest_strength_cn=335, modulus_cn_per_tex=400)


def draw(
    setup: InsertionSetup = RAPIER,
    yarn: WeftYarn = COTTON,
    *,
    picks: float = 500,
    width_cm: float = 190,
) -> ET.Element:
    return ET.fromstring(
        insertion_svg(setup, yarn, speed_picks_per_min=picks, reed_width_cm=width_cm)
    )


def words(picture: ET.Element) -> str:
    return " | ".join(text.text or "" for text in picture.iter(f"{SVG}text"))


def ids(picture: ET.Element) -> set[str]:
    return {each.attrib["id"] for each in picture.iter() if "id" in each.attrib}


def shades(picture: ET.Element) -> list[tuple[int, float]]:
    """Bands behind way and speed: their index and where they begin."""
    return [
        (BAND_FILLS.index(rect.attrib["fill"]), float(rect.attrib["x"]))
        for rect in picture.iter(f"{SVG}rect")
        if rect.attrib["fill"] in BAND_FILLS and float(rect.attrib["width"]) < WIDTH - LEFT - RIGHT
    ]


def test_it_says_in_words_what_it_shows() -> None:
    picture = draw()
    title, description = picture.find(f"{SVG}title"), picture.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    assert title.text == "Weft insertion by rapier: 500 picks/min at 190 cm in the reed"
    assert "Greatest speed 41.8 m/s" in (description.text or "")
    assert "taker draws at 206 degrees: 30.4 cN" in (description.text or "")
    assert picture.attrib["role"] == "img"


@pytest.mark.parametrize(
    ("setup", "marks"),
    [
        (RAPIER, ["entry 60°", "hand-over 180°", "exit 300°"]),
        (replace(RAPIER, rapiers=Rapiers.SINGLE), ["entry 60°", "turn 180°", "exit 300°"]),
        (AIR_JET, ["entry 90°", "exit 230°"]),
    ],
)
def test_entry_hand_over_and_exit_are_marked(setup: InsertionSetup, marks: list[str]) -> None:
    found = re.findall(r"(?:entry|hand-over|turn|exit) \d+°", words(draw(setup)))
    assert found == marks


def test_a_weft_out_of_danger_is_not_shaded() -> None:
    picture = draw()
    assert shades(picture) == []
    assert "below the first band" in words(picture)


def test_danger_is_shaded_on_way_and_speed_from_the_band_it_reaches() -> None:
    weak = replace(COTTON, weakest_strength_cn=70)
    picture = draw(yarn=weak)
    assert {index for index, _ in shades(picture)} == {0, 1}
    assert len(shades(picture)) % 2 == 0
    assert "43.5 % of the weakest strength: warning" in words(picture)


def test_a_blow_is_shaded_at_its_angle() -> None:
    weak = replace(COTTON, weakest_strength_cn=200)
    at_exit = LEFT + (230 - 3) / 360 * (WIDTH - LEFT - RIGHT)
    way, speed = shades(draw(AIR_JET, weak, picks=900))
    assert way == speed
    assert way[0] == 0
    assert way[1] == pytest.approx(at_exit, abs=0.1)


def test_a_band_far_above_is_named_instead_of_drawn() -> None:
    strong = replace(COTTON, weakest_strength_cn=9000)
    assert "first band begins at 2250 cN, far above the picture" in words(draw(yarn=strong))


@pytest.mark.slow
@pytest.mark.parametrize("picks", [1, 5000])
@pytest.mark.parametrize("setup", [RAPIER, AIR_JET, replace(RAPIER, overrun_cm=40)])
def test_everything_stays_inside_the_picture(setup: InsertionSetup, picks: float) -> None:
    picture = draw(setup, picks=picks)
    for line in picture.iter(f"{SVG}polyline"):
        for point in line.attrib["points"].split():
            x, y = (float(part) for part in point.split(","))
            assert 0 <= x <= WIDTH
            assert 0 <= y <= float(picture.attrib["height"])


AMPLE = 0.6
"""Width of a sign over its size, ample for all but capitals."""


def extents(picture: ET.Element) -> list[tuple[float, float, float, str]]:
    """Left and right edge, base line and words of every text."""
    found = []
    for text in picture.iter(f"{SVG}text"):
        width = AMPLE * float(text.attrib["font-size"]) * len(text.text or "")
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[text.attrib["text-anchor"]]
        found.append((left, left + width, y, text.text or ""))
    return found


def refused() -> ET.Element:
    """A coarse, soft weft in a cloth with many findings, at a speed that no loom has."""
    cloth = construction(
        weft=threads(22.0, yarns={"A": Yarn(designation="Nm 1", fibre="wool")}),
        reed=Reed(dents_per_10cm=333.0),
        requested_speed_picks_per_min=900.0,
    )
    on = loom(reeds_in_stock_dents_per_10cm=(80.0,))
    return ET.fromstring(draw_insertion(RateRequest(construction=cloth), on))


def overlapping(picture: ET.Element) -> list[tuple[str, str]]:
    """Words that lie over one another."""
    return [
        (one[3], other[3])
        for one, other in combinations(extents(picture), 2)
        if one[0] < other[1] and other[0] < one[1] and abs(one[2] - other[2]) < 11
    ]


def test_no_line_runs_over_the_edge_and_no_two_labels_meet() -> None:
    picture = refused()
    texts = extents(picture)
    assert all(left >= 0 and right <= WIDTH for left, right, _, _ in texts), texts
    assert max(base for _, _, base, _ in texts) < float(picture.attrib["height"])
    assert len([each for each in texts if re.search(r" cN, \d+ %$", each[3])]) == 4
    assert overlapping(picture) == []


@pytest.mark.slow
@pytest.mark.parametrize("strength", [30, 70, 200, 335])
@pytest.mark.parametrize(
    "setup",
    [RAPIER, AIR_JET, replace(RAPIER, entry_deg=150, exit_deg=230), replace(AIR_JET, exit_deg=120)],
)
def test_no_two_labels_meet_at_any_strength(setup: InsertionSetup, strength: float) -> None:
    picture = draw(
        setup, replace(COTTON, weakest_strength_cn=strength), picks=577.4, width_cm=175.5
    )
    assert overlapping(picture) == []
    assert "577 picks/min at 176 cm" in words(picture)


NAME = r"^(\d) .* cN, \d+ %$"
ANGLES = [RAPIER, AIR_JET, replace(RAPIER, entry_deg=150, exit_deg=230)]


@pytest.mark.parametrize("strength", [70, 335, 1500])
@pytest.mark.parametrize("setup", ANGLES)
def test_every_peak_has_its_number_at_its_dot_and_no_words_lie_on_a_line(
    setup: InsertionSetup, strength: float
) -> None:
    picture = draw(setup, replace(COTTON, weakest_strength_cn=strength))
    dots = [(float(d.attrib["cx"]), float(d.attrib["cy"])) for d in picture.iter(f"{SVG}circle")]
    texts = extents(picture)
    names = [found[1] for each in texts if (found := re.match(NAME, each[3]))]
    assert names == [f"{place + 1}" for place in range(len(dots))]
    at_dots = [each for each in texts if re.fullmatch(r"\d", each[3]) and each[0] > LEFT]
    numbers = {each[3]: each for each in at_dots if each[2] < 500}
    for name, (x, y) in zip(names, dots, strict=True):
        left, right, base, _ = numbers[name]
        assert abs((left + right) / 2 - x) <= 44
        assert abs(base - 4 - y) <= 44
        assert not [at for at in dashed(picture) if left < at < right]
        assert not [
            point
            for line in picture.iter(f"{SVG}polyline")
            for point in (each.split(",") for each in line.attrib["points"].split())
            if left < float(point[0]) < right and base - 8 < float(point[1]) < base
        ]


def dashed(picture: ET.Element) -> list[float]:
    lines = picture.iter(f"{SVG}line")
    return [float(each.attrib["x1"]) for each in lines if "stroke-dasharray" in each.attrib]


def test_it_names_what_the_requested_speed_is_beyond_and_what_it_does_not_show() -> None:
    said = words(refused()).replace(" | ", " ")
    # One end in a dent of the reed that is stated: 3840 ends are 115 cm wide.
    assert "900 picks/min are requested; the loom runs at 550, limited by the shedding." in said
    beyond = said.partition("900 picks/min are beyond: ")[2].partition(". Also")[0]
    assert "insertion.speed_exceeded (error)" in beyond
    assert "reed." not in beyond
    assert "reed.not_in_stock (warning)" in said.partition("Also found on the cloth: ")[2]


def test_it_names_what_refuses_a_cloth_at_any_speed() -> None:
    loose = construction(weave=Weave.from_rows(["1000", "1110", "0010", "1011"]))
    refused_cloth = RateRequest(construction=loose)
    said = words(ET.fromstring(draw_insertion(refused_cloth, loom())))
    assert "This setting is beyond: weave.falls_apart (error)" in said
    speeds = Sweep(over=SweepOver.SPEED, start=300.0, stop=400.0, points=2)
    points = insertion_rates(replace(refused_cloth, sweep=speeds), loom()).sweep
    assert all("weave.falls_apart" in point.beyond for point in points)
    fine = draw_insertion(RateRequest(construction=construction()), loom())
    assert "This setting is within all limits." in words(ET.fromstring(fine))


def test_it_refers_to_nothing_outside_itself() -> None:
    text = insertion_svg(RAPIER, COTTON, speed_picks_per_min=500, reed_width_cm=190)
    assert "href" not in text
    assert "<script" not in text
    assert re.findall(r"https?://[^\"]+", text) == ["http://www.w3.org/2000/svg"]


def test_a_speed_of_nothing_is_refused() -> None:
    with pytest.raises(InputError):
        draw(picks=0)


def test_two_drawings_in_one_page_have_ids_of_their_own() -> None:
    slow, fast = ids(draw(picks=400)), ids(draw(picks=500))
    assert len(slow) == len(fast) == 2
    assert slow.isdisjoint(fast)


def test_the_drawing_refers_to_its_own_title_and_description() -> None:
    picture = draw()
    assert set(picture.attrib["aria-labelledby"].split()) == ids(picture)


@pytest.mark.parametrize(
    ("tenacity", "heaviest"),
    [(1.0, "error"), (2.2, "warning"), (4.0, "warning"), (9.0, "note"), (17.0, None)],
)
def test_it_weighs_the_tension_as_the_report_does(tenacity: float, heaviest: str | None) -> None:
    """At 2.2 cN/tex the weft's strength limits the speed, so that 60 % are used exactly.

    Beyond that the report warns only, because most of what makes the tension is assumed.
    """
    weft = Yarn(designation="Ne 20", fibre="cotton", tenacity_cn_per_tex=tenacity)
    cloth = construction(weft=threads(22.0, yarns={"A": weft}))
    in_report = "warning" if heaviest == "error" else heaviest
    assert severity("weft.strength", cloth, loom()) == in_report
    picture = ET.fromstring(draw_insertion(RateRequest(construction=cloth), loom()))
    verdict = {None: "below the first band", "note": "worth a note"}.get(heaviest, heaviest)
    assert f"of the weakest strength: {verdict}." in words(picture)
    assert {index for index, _ in shades(picture)} == set(
        range({None: 0, "note": 1, "warning": 2, "error": 3}[heaviest])
    )
