"""Layers in drawings: a letter a thread, a sign for each kind of crossing, and the legend."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from weavability.drawing.cloth_face import draw_cloth_face
from weavability.drawing.layer_signs import WORDS, Sign, signs_of
from weavability.drawing.point_paper import draw_point_paper
from weavability.textiles.basic_weaves import multiple_cloth
from weavability.textiles.construction import Joined, Layers
from weavability.textiles.layered_weave import LayeredWeave, layered_weave
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

NS = "{http://www.w3.org/2000/svg}"
TWILL = parse_weave("2/2 twill Z")
DOUBLE = multiple_cloth([TWILL, TWILL], stitches=[(1, 2), (4, 5)])
TERRY = Weave.from_rows(["1000", "1101", "0111"])


def stitched(weave: Weave = DOUBLE) -> LayeredWeave:
    return layered_weave(weave, Layers(ends="F B", picks="F B", joined=Joined.STITCHED))


def terry() -> LayeredWeave:
    return layered_weave(TERRY, Layers(ends="G P", picks="G", pile=("P",)))


def words(text: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(text).iter(f"{NS}text")]


def weave_panel(text: str) -> ET.Element:
    panel = ET.fromstring(text).find(f"{NS}g")
    assert panel is not None
    return panel


def test_every_raised_end_has_one_sign() -> None:
    signs = signs_of(stitched(), DOUBLE.matrix)
    raised = [where for sign, where in signs.items() if sign is not Sign.LOWERED]
    assert (np.sum(raised, axis=0) == DOUBLE.matrix).all()
    assert not (signs[Sign.LOWERED] & (DOUBLE.matrix == 1)).any()


def test_stitches_are_signed_where_they_are() -> None:
    signs = signs_of(stitched(), DOUBLE.matrix)
    assert np.argwhere(signs[Sign.RAISED]).tolist() == [[0, 1]]
    assert np.argwhere(signs[Sign.LOWERED]).tolist() == [[3, 4]]
    own = signs[Sign.OWN][::2, ::2]
    assert (own == TWILL.matrix).all()


def test_ends_that_share_the_picks_of_another_layer_make_no_stitches() -> None:
    belt = layered_weave(TWILL, Layers(ends="A B C", picks="A", joined=Joined.STITCHED))
    marks = np.tile(TWILL.matrix, (1, 3))
    assert signs_of(belt, marks).keys() == {Sign.OWN}
    assert (belt.stitches, belt.unbound_parts) == (None, 1)


def test_pile_has_a_sign_of_its_own() -> None:
    signs = signs_of(terry(), TERRY.matrix)
    assert set(signs) == {Sign.OWN, Sign.PILE}
    assert (signs[Sign.PILE][:, 1::2] == TERRY.matrix[:, 1::2]).all()


def test_point_paper_has_letters_signs_and_a_legend() -> None:
    text = draw_point_paper(DOUBLE, layers=stitched())
    lines = words(text)
    assert "Layers from the face: F, B, stitched; ends F B; picks F B" in lines
    assert [line for line in lines if line in WORDS.values()] == [
        WORDS[sign] for sign in (Sign.OWN, Sign.LIFT, Sign.RAISED, Sign.LOWERED)
    ]
    shown = int(weave_panel(text).find(f"{NS}rect").attrib["width"])  # type: ignore[union-attr]
    assert lines.count("F") == lines.count("B") == shown
    description = ET.fromstring(text).find(f"{NS}desc")
    assert description is not None
    assert "Layers from the face: F, B" in (description.text or "")


def test_the_signs_are_drawn_at_their_crossings() -> None:
    text = draw_point_paper(DOUBLE, layers=stitched())
    rows = int(weave_panel(text).find(f"{NS}rect").attrib["height"])  # type: ignore[union-attr]
    circles = re.findall(r"M([\d.]+) ([\d.]+)a\.32", text)
    places = {(int(float(x)), rows - 1 - int(float(y))) for x, y in circles}
    times = rows // DOUBLE.picks
    expected = {
        (end + DOUBLE.ends * across, pick + DOUBLE.picks * up)
        for end, pick in ((1, 0), (4, 3))
        for across in range(rows // DOUBLE.ends)
        for up in range(times)
    }
    assert expected <= places


def test_a_sheet_is_as_before_without_layers() -> None:
    assert "Layer" not in draw_point_paper(DOUBLE)


def test_layers_that_repeat_on_more_threads_are_shown_whole() -> None:
    layers = layered_weave(TWILL, Layers(ends="4F 3B", picks="F B", joined=Joined.STITCHED))
    panel = weave_panel(draw_point_paper(TWILL, layers=layers))
    paper = panel.find(f"{NS}rect")
    assert paper is not None
    assert int(paper.attrib["width"]) == layers.joint_ends == 28


@pytest.mark.parametrize("ends", [396, 4000])
def test_large_weaves_with_layers_are_drawn(ends: int) -> None:
    weave = Weave(matrix=np.tile(DOUBLE.matrix, (1, ends // DOUBLE.ends)))
    matrix = weave.matrix.copy()
    matrix[0, -1] ^= 1
    large = Weave(matrix=matrix)
    layers = layered_weave(large, Layers(ends="F B", picks="F B", joined=Joined.STITCHED))
    assert ET.fromstring(draw_point_paper(large, layers=layers)).tag == f"{NS}svg"


def test_the_face_hatches_and_names_the_layers() -> None:
    text = draw_cloth_face(
        DOUBLE,
        warp_colours=["#1c2a4a"],
        weft_colours=["#f4f1e8"],
        ends_per_cm=40.0,
        picks_per_cm=40.0,
        layers=stitched(),
    )
    lines = words(text)
    assert "Layers from the face: F, B, stitched; ends F B; picks F B; hatched B" in lines
    assert lines.count("F") == lines.count("B") > 0
    assert 'id="layer-B"' in text
    assert 'fill="url(#layer-B)"' in text
    assert "layer-F" not in text
