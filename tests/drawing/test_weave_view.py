"""Drawings of a weave from a request: what is shown, and what is said of what was assumed."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree as ET

import pytest
from builders import jacquard, shedding

from weavability.answers.weave_analysis.request import ColouredThreads, DraftToCheck, WeaveRequest
from weavability.drawing.weave_view import View, draw_weave
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

SVG = "{http://www.w3.org/2000/svg}"
CHECK = ColouredThreads(order="4A 4B", colours={"A": "#1c2a4a", "B": "#f4f1e8"})


def drawn(view: View, weave: str = "2/2 twill Z", **known: Any) -> ET.Element:
    request = WeaveRequest(weave=parse_weave(weave), **known)
    return ET.fromstring(draw_weave(request, view=view))


def words(svg: ET.Element, tag: str) -> str:
    found = svg.find(SVG + tag)
    assert found is not None
    return found.text or ""


def test_point_paper_shows_the_least_draft() -> None:
    svg = drawn("point_paper")
    assert words(svg, "title") == "Point paper: 2/2 twill Z"
    assert "straight threading on 4 shafts" in words(svg, "desc")


def test_point_paper_names_a_matrix() -> None:
    request = WeaveRequest(weave=Weave.from_rows(["011", "101", "110"]))
    assert "2/1 twill Z" in draw_weave(request, view="point_paper")


def test_point_paper_shows_the_draft_in_use() -> None:
    given = drawn("point_paper", draft=DraftToCheck(threading="straight", shafts=8))
    assert "on 8 shafts" in words(given, "desc")
    limits = shedding(shafts=12, max_healds_per_cm_per_shaft=10.0)
    crowded = drawn("point_paper", weave="plain", ends_per_cm=40.0, shedding=limits)
    assert "straight threading on 4 shafts: 1, 2, 3, 4" in words(crowded, "desc")


def test_point_paper_says_when_the_given_draft_is_not_the_one_drawn() -> None:
    svg = drawn("point_paper", draft=DraftToCheck(threading=(1, 2, 3, 3)))
    assert "the draft given does not weave it" in words(svg, "title")
    assert "on 4 shafts" in words(svg, "desc")


def test_point_paper_is_drawn_for_hooks_too() -> None:
    svg = drawn("point_paper", shedding=jacquard().shedding)
    assert words(svg, "title") == "Point paper: 2/2 twill Z"


def test_the_face_is_drawn_in_the_colours_and_setts_that_are_stated() -> None:
    svg = drawn("cloth_face", warp=CHECK, weft=CHECK, ends_per_cm=20.0, picks_per_cm=16.0)
    assert words(svg, "title") == "Face of the cloth: 2/2 twill Z"
    assert "#1c2a4a 50 %" in words(svg, "desc")


@pytest.mark.parametrize(
    ("known", "assumed"),
    [
        ({}, "20 ends and 20 picks per cm; dark warp, light weft"),
        ({"picks_per_cm": 16.0}, "16 ends and 16 picks per cm; dark warp, light weft"),
        ({"ends_per_cm": 30.0}, "30 ends and 30 picks per cm; dark warp, light weft"),
        ({"ends_per_cm": 30.0, "picks_per_cm": 20.0, "warp": CHECK}, "undyed weft"),
        ({"ends_per_cm": 30.0, "picks_per_cm": 20.0, "weft": CHECK}, "undyed warp"),
    ],
)
def test_the_face_says_what_nobody_stated(known: dict[str, Any], assumed: str) -> None:
    title = words(drawn("cloth_face", **known), "title")
    assert title == f"Face of the cloth: 2/2 twill Z (assumed: {assumed})"


@pytest.mark.parametrize("view", ["point_paper", "cloth_face"])
def test_what_cannot_be_read_is_refused_whatever_is_drawn(view: View) -> None:
    with pytest.raises(InputError) as caught:
        drawn(view, draft=DraftToCheck(threading="zigzag"))
    assert caught.value.faults[0].pointer == "/draft/threading"
