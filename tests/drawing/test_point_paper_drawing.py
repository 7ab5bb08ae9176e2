"""Point paper as SVG: read back from the drawing, it is the weave, its threading and lift plan."""

from __future__ import annotations

import base64
import io
import re
import tracemalloc
import xml.etree.ElementTree as ET
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from weavability.drawing import svg
from weavability.drawing.point_paper import (
    LARGEST_RULED,
    MOST_SHAFTS_SHOWN,
    draw_point_paper,
)
from weavability.drawing.thread_bands import ThreadBand, YarnSwatch
from weavability.textiles.drafting import draft_weave, spread_draft
from weavability.textiles.notation import parse_weave
from weavability.textiles.thread_order import parse_order
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_squares import Place

NS = "{http://www.w3.org/2000/svg}"
Marks = np.typing.NDArray[np.uint8]


def parsed(text: str) -> ET.Element:
    return ET.fromstring(text)


def panels(root: ET.Element) -> list[ET.Element]:
    return root.findall(f"{NS}g")


def marks(panel: ET.Element) -> Marks:
    """Read the filled squares of a panel back, the first row being the lowest line."""
    paper = panel.find(f"{NS}rect")
    assert paper is not None
    rows, columns = int(paper.attrib["height"]), int(paper.attrib["width"])
    found = np.zeros((rows, columns), dtype=np.uint8)
    for path in panel.findall(f"{NS}path"):
        if path.attrib["fill"] == "none":
            continue
        data = path.attrib["d"]
        for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", data):
            found[int(y), int(x) : int(x) + int(length)] += 1
        for x, y, length in re.findall(r"M(\d+) (\d+)v(\d+)h1v-\d+z", data):
            found[int(y) : int(y) + int(length), int(x)] += 1
    return found[::-1]


def embedded(image: ET.Element) -> Image.Image:
    data = image.attrib["href"].removeprefix("data:image/png;base64,")
    return Image.open(io.BytesIO(base64.b64decode(data)))


def words(root: ET.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{NS}text")]


@pytest.mark.parametrize(
    "name", ["plain", "2/1 twill Z", "honeycomb 8", "2/2 herringbone 8", "8-end sateen move 3"]
)
def test_the_drawing_shows_whole_repeats_from_the_first_pick_at_the_bottom(name: str) -> None:
    weave = parse_weave(name)
    draft = draft_weave(weave)
    shown, threading, lift_plan = map(marks, panels(parsed(draw_point_paper(weave))))
    assert shown.shape[0] >= 12
    assert shown.shape[0] % weave.picks == shown.shape[1] % weave.ends == 0
    times = (shown.shape[0] // weave.picks, shown.shape[1] // weave.ends)
    assert np.array_equal(shown, np.tile(weave.matrix, times))
    assert np.array_equal(lift_plan, np.tile(draft.lift_plan, (times[0], 1)))
    # Shaft 1 is the line nearest to the weave.
    drawn = threading.argmax(axis=0) + 1
    assert tuple(drawn[: weave.ends]) == draft.threading
    assert (threading.sum(axis=0) == 1).all()


def test_a_draft_that_was_given_is_drawn() -> None:
    plain = parse_weave("plain")
    spread = spread_draft(plain, shafts_per_column=[2, 2])
    shown, threading, _ = map(marks, panels(parsed(draw_point_paper(plain, draft=spread))))
    assert shown.shape[1] == threading.shape[1]
    assert tuple(threading.argmax(axis=0)[:4] + 1) == (1, 3, 2, 4)


def test_title_and_description_are_there_for_screen_readers() -> None:
    root = parsed(draw_point_paper(parse_weave("2/1 twill S")))
    title, description = root.find(f"{NS}title"), root.find(f"{NS}desc")
    assert title is not None
    assert description is not None
    assert title.text == "Point paper: 2/1 twill S"
    assert "3 ends and 3 picks" in (description.text or "")
    assert "straight threading on 3 shafts: 1, 2, 3." in (description.text or "")
    assert root.attrib["aria-labelledby"] == f"{title.attrib['id']} {description.attrib['id']}"


def test_a_name_is_escaped() -> None:
    text = draw_point_paper(parse_weave("plain"), name="<script>&\"'")
    assert "<script" not in text
    assert parsed(text).find(f"{NS}title") is not None


def striped(ends: int, picks: int) -> Weave:
    """Make a weave of just that repeat on few shafts."""
    matrix = np.zeros((picks, ends), dtype=np.uint8)
    matrix[:, ::2] = np.arange(picks)[:, None] % 2
    matrix[:, 1::2] = 1 - matrix[:, :1]
    matrix[0, 0] ^= 1
    return Weave(matrix=matrix)


def test_labels_stay_apart_and_readable_at_4_and_at_400_ends() -> None:
    for weave in (parse_weave("3/1 twill Z"), striped(400, 4)):
        root = parsed(draw_point_paper(weave))
        labels = [text for text in root.iter(f"{NS}text") if (text.text or "").isdigit()]
        assert all(float(text.attrib["font-size"]) >= 10 for text in labels)
        lowest = max(float(text.attrib["y"]) for text in labels)
        row = sorted(
            (float(text.attrib["x"]), len(text.text or ""))
            for text in labels
            if float(text.attrib["y"]) == lowest
        )
        gaps = [(b[0] - a[0], 6 * (a[1] + b[1]) / 2) for a, b in pairwise(row)]
        assert all(gap > room for gap, room in gaps)


def test_the_largest_ruled_weave_and_the_first_that_is_an_overview() -> None:
    ruled = parsed(draw_point_paper(striped(LARGEST_RULED, 4)))
    assert len(panels(ruled)) == 3
    overview = parsed(draw_point_paper(striped(LARGEST_RULED + 2, 4)))
    assert not panels(overview)
    assert any("overview" in line for line in words(overview))


def test_more_shafts_than_are_drawn_are_called_a_jacquard() -> None:
    assert (
        len(panels(parsed(draw_point_paper(parse_weave(f"{MOST_SHAFTS_SHOWN - 1}/1 twill Z")))))
        == 3
    )
    root = parsed(draw_point_paper(parse_weave(f"{MOST_SHAFTS_SHOWN}/1 twill Z")))
    assert len(panels(root)) == 1
    assert any("Jacquard" in line for line in words(root))


def test_many_squares_are_embedded_as_a_picture_of_the_same_weave() -> None:
    rng = np.random.default_rng(9)
    weave = Weave(matrix=(rng.random((300, 260)) < 0.5).astype(np.uint8))
    text = draw_point_paper(weave)
    assert len(text) < 200_000
    image = embedded(next(parsed(text).iter(f"{NS}image")))
    assert np.array_equal(np.asarray(image)[::-1] == 0, weave.matrix == 1)


def test_an_overview_averages_blocks_and_keeps_the_first_pick_at_the_bottom() -> None:
    matrix = np.zeros((3000, 2000), dtype=np.uint8)
    matrix[:1500, :1000] = 1
    text = draw_point_paper(Weave(matrix=matrix, name="Corner"))
    image = embedded(next(parsed(text).iter(f"{NS}image")))
    assert max(image.size) == 1000
    levels = np.asarray(image)
    assert levels[-1, 0] == 0
    assert levels[0, 0] == levels[-1, -1] == 255
    assert "Corner" in words(parsed(text))


@pytest.mark.slow
def test_an_overview_is_that_of_the_whole_picture_and_copies_it_nowhere() -> None:
    matrix = (np.random.default_rng(4).random((3000, 2000)) < 0.3).astype(np.uint8)
    weave = Weave(matrix=matrix)
    weave.reduced()
    tracemalloc.start()
    text = draw_point_paper(weave)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < matrix.nbytes
    whole = Image.fromarray(255 * (1 - matrix[::-1]))
    image = embedded(next(parsed(text).iter(f"{NS}image")))
    expected = whole.resize(image.size, Image.Resampling.BOX)
    assert np.array_equal(np.asarray(image), np.asarray(expected))


@pytest.mark.parametrize("shape", [(1, 1), (1, 12_000), (12_000, 1)])
def test_extreme_weaves_are_drawn(shape: tuple[int, int]) -> None:
    matrix = np.zeros(shape, dtype=np.uint8)
    matrix[0, 0] = 1
    assert parsed(draw_point_paper(Weave(matrix=matrix))).tag == f"{NS}svg"


def test_squares_are_drawn_by_the_shorter_path() -> None:
    upright = np.array([[1, 0, 1]] * 6, dtype=np.bool_)
    assert svg.squares(upright) == "M0 0v6h1v-6zM2 0v6h1v-6z"
    assert svg.squares(upright.T) == "M0 0h6v1h-6zM0 2h6v1h-6z"


def marked(text: str) -> list[tuple[float, ...]]:
    """The frames of the marked square: x, y, width and height, from the marked group."""
    groups = [one for one in parsed(text).findall(f"{NS}g") if "fill-opacity" in one.attrib]
    return [
        tuple(float(rect.attrib[name]) for name in ("x", "y", "width", "height"))
        for group in groups
        for rect in group.findall(f"{NS}rect")
    ]


def test_the_tightest_square_is_marked_and_named() -> None:
    weave = striped(40, 24)
    assert marked(draw_point_paper(weave)) == []
    drawn = draw_point_paper(weave, tightest=Place(9, 24, 1, 16))
    ((x, y, wide, high),) = marked(drawn)
    cell = wide / 16
    assert x == pytest.approx(44 + 8 * cell)
    assert high == pytest.approx(16 * cell)
    paper_top = y - 8 * cell
    whole = draw_point_paper(weave, tightest=Place(1, 16, 9, 24))
    assert marked(whole)[0][1] == pytest.approx(paper_top)
    assert "closest at ends 9-24 and picks 1-16, which are marked" in drawn


def test_a_square_that_goes_on_into_the_next_repeat_is_marked_at_both_edges() -> None:
    frames = marked(draw_point_paper(striped(40, 24), tightest=Place(33, 48, 17, 32)))
    cell = max(frame[2] for frame in frames) / 8
    assert len(frames) == 4
    assert sum(wide * high for _, _, wide, high in frames) == pytest.approx(256 * cell**2)
    assert {frame[0] for frame in frames} == {44.0, 44 + 32 * cell}


def test_the_tightest_square_is_marked_on_an_overview() -> None:
    ends = LARGEST_RULED + 80
    ((x, _, wide, _),) = marked(draw_point_paper(striped(ends, 16), tightest=Place(17, 32, 1, 16)))
    assert wide / (x - 44) == pytest.approx(1.0)


def banded(order: str, colours: dict[str, str], name: str = "Warp") -> ThreadBand:
    read = parse_order(order, known=colours)
    yarns = {key: YarnSwatch(colour, "Ne 30 cotton") for key, colour in colours.items()}
    return ThreadBand(name=name, sequence=read.sequence, order=read.text, yarns=yarns)


def test_bands_of_colours_go_along_ends_and_picks_and_are_explained() -> None:
    blue, white = "#1c2a4a", "#f4f1e8"
    weave = parse_weave("2/2 twill Z")
    warp = banded("6A 2B", {"A": blue, "B": white})
    weft = banded("A", {"A": white}, "Weft")
    root = parsed(draw_point_paper(weave, warp=warp, weft=weft))
    below, beside = (
        [(rect.attrib["fill"], float(rect.attrib["width"]), float(rect.attrib["height"]))
         for rect in group.findall(f"{NS}rect")]
        for group in root.findall(f"{NS}g") if group.attrib.get("stroke-width") == "0.6"
    )  # fmt: skip
    shown = marks(panels(root)[0])
    assert shown.shape == (12, 16)  # whole repeats of weave and colours
    cell = below[0][1] / 6
    assert [(colour, wide / cell) for colour, wide, _ in below] == [(blue, 6), (white, 2)] * 2
    assert [(colour, high / cell) for colour, _, high in beside] == [(white, 12)]
    assert {"Warp: 6A 2B", "A", "B", "Ne 30 cotton", "Weft:"} <= set(words(root))


def test_one_legend_is_enough_for_warp_and_weft_alike() -> None:
    colours = {"A": "#1c2a4a", "B": "#f4f1e8"}
    bands = [banded("4A 4B", colours, name) for name in ("Warp", "Weft")]
    written = words(parsed(draw_point_paper(parse_weave("plain"), warp=bands[0], weft=bands[1])))
    assert "Warp and weft: 4A 4B" in written
    assert written.count("Ne 30 cotton") == 1
