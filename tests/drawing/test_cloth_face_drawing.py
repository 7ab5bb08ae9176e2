"""The cloth's face as SVG: the thread on top shows, in its colour, in the cloth's proportions."""

from __future__ import annotations

import base64
import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from weavability.drawing.cloth_face import MOST_THREADS_DRAWN, draw_cloth_face
from weavability.textiles.colouring import face_of
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

NS = "{http://www.w3.org/2000/svg}"
DARK, LIGHT = "#1c2a4a", "#f4f1e8"


def draw(
    weave: Weave, warp: list[str], weft: list[str], *, ends_per_cm: float = 20.0
) -> ET.Element:
    return ET.fromstring(
        draw_cloth_face(
            weave,
            warp_colours=warp,
            weft_colours=weft,
            ends_per_cm=ends_per_cm,
            picks_per_cm=20.0,
        )
    )


def colours_on_top(root: ET.Element, *, picks: int, ends: int) -> np.typing.NDArray[np.str_]:
    """Find the colour in the middle of every crossing, the first pick first."""
    cloth = root.find(f"{NS}g")
    assert cloth is not None
    ground = cloth.find(f"{NS}rect")
    assert ground is not None
    wide, high = float(ground.attrib["width"]) / ends, float(ground.attrib["height"]) / picks
    found = np.full((picks, ends), "", dtype="U7")
    for group in cloth.findall(f"{NS}g"):
        for bar in group.findall(f"{NS}rect"):
            x, y, w, h = (float(bar.attrib[key]) for key in ("x", "y", "width", "height"))
            for pick in range(picks):
                for end in range(ends):
                    inside = x < (end + 0.5) * wide < x + w and y < (pick + 0.5) * high < y + h
                    if inside:
                        assert found[pick, end] == ""
                        found[pick, end] = group.attrib["fill"]
    return found[::-1]


@pytest.mark.parametrize("name", ["plain", "2/2 twill Z", "2/2 weft rib", "8-end satin move 3"])
def test_every_crossing_shows_the_colour_on_top_once(name: str) -> None:
    weave = parse_weave(name)
    warp, weft = [DARK] * 2 + [LIGHT] * 2, [LIGHT] * 3 + [DARK]
    top = colours_on_top(draw(weave, warp, weft), picks=24, ends=24)
    face = face_of(weave, warp=warp, weft=weft, ends=24, picks=24)
    assert np.array_equal(top, np.array(face.colours)[face.matrix])


def test_setts_give_the_proportions() -> None:
    root = draw(parse_weave("plain"), [DARK], [LIGHT], ends_per_cm=40.0)
    ground = root.find(f"{NS}g/{NS}rect")
    assert ground is not None
    assert float(ground.attrib["height"]) == pytest.approx(2 * float(ground.attrib["width"]))


def test_more_threads_than_are_drawn_become_dots_of_the_same_colours() -> None:
    weave = parse_weave("plain")
    drawn = draw(weave, [DARK] * (MOST_THREADS_DRAWN - 1) + [LIGHT], [LIGHT])
    assert not list(drawn.iter(f"{NS}image"))
    order = [DARK] * (MOST_THREADS_DRAWN + 1) + [LIGHT]
    dots = next(draw(weave, order, [LIGHT]).iter(f"{NS}image"))
    data = base64.b64decode(dots.attrib["href"].removeprefix("data:image/png;base64,"))
    pixels = np.asarray(Image.open(io.BytesIO(data)))
    assert pixels[-1, 0].tolist() == [0x1C, 0x2A, 0x4A]
    assert pixels[-1, 1].tolist() == [0xF4, 0xF1, 0xE8]
    assert pixels[0, 1].tolist() == [0x1C, 0x2A, 0x4A]


def test_the_weft_of_a_cloth_in_one_colour_is_shaded_so_that_a_figure_is_seen() -> None:
    weave = Weave(matrix=np.eye(90, dtype=np.uint8))
    drawn = draw(weave, ["#fbfaf5"], ["#ffffff"])
    data = next(drawn.iter(f"{NS}image")).attrib["href"].partition("base64,")[2]
    pixels = np.asarray(Image.open(io.BytesIO(base64.b64decode(data))))
    assert {tuple(each) for each in pixels.reshape(-1, 3).tolist()} == {
        (0xFB, 0xFA, 0xF5),
        (214, 214, 214),
    }
    assert any("weft is shaded" in (each.text or "") for each in drawn.iter(f"{NS}text"))


@pytest.mark.slow
def test_a_face_too_large_to_show_whole_says_so() -> None:
    weave = Weave(matrix=np.eye(3000, dtype=np.uint8))
    text = draw_cloth_face(
        weave, warp_colours=[DARK], weft_colours=[LIGHT], ends_per_cm=20.0, picks_per_cm=20.0
    )
    assert "1600 of 3000 ends" in text


def test_the_description_states_the_shares_of_the_colours() -> None:
    root = draw(parse_weave("3/1 twill Z"), [DARK], [LIGHT])
    description = root.find(f"{NS}desc")
    assert description is not None
    assert f"{DARK} 75 %, {LIGHT} 25 %" in (description.text or "")


@pytest.mark.parametrize("colour", ["red", "#12345", '"/><script>', "", "#gggggg"])
def test_what_is_no_colour_is_refused(colour: str) -> None:
    with pytest.raises(InputError, match="#rrggbb"):
        draw(parse_weave("plain"), [colour], [LIGHT])


@pytest.mark.parametrize(
    ("ends_per_cm", "length"), [(20.0, "2 mm"), (2.0, "2 cm"), (200.0, "0.2 mm")]
)
def test_a_scale_bar_is_as_long_as_it_says(ends_per_cm: float, length: str) -> None:
    root = draw(parse_weave("plain"), [DARK], [LIGHT], ends_per_cm=ends_per_cm)
    (bar,) = (each for each in root.findall(f"{NS}path"))
    start, end = (
        float(part) for part in re.findall(r"M([\d.]+) [\d.]+H([\d.]+)", bar.attrib["d"])[0]
    )
    ground = root.find(f"{NS}g/{NS}rect")
    assert ground is not None
    cm = 24 / ends_per_cm * (end - start) / float(ground.attrib["width"])
    number, unit = length.split()
    written = [each.text for each in root.iter(f"{NS}text")]
    assert cm == pytest.approx(float(number) / (10 if unit == "mm" else 1), rel=0.01), written
    assert length in written
