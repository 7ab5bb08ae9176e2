"""Naming a matrix: every named weave is found again, wherever its repeat begins."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability.textiles.naming import LARGEST_NAMED, name_of
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_symmetry import equivalent, quarter_turn, reverse_side

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_structure.json").read_text("utf-8")
)

NAMES = (
    "plain",
    "2/1 twill Z",
    "3/1 twill S",
    "5/2/1/2 twill Z",
    "5/2/1/2 reclined twill Z move 3",
    "5-end satin move 2",
    "8-end sateen move 5",
    "2/2 warp rib",
    "3/1 warp rib",
    "2/2 weft rib",
    "2/2 hopsack",
    "3/2 hopsack",
    "4/4 x 2/2 hopsack",
    "2/2 herringbone 8",
    "2/1 herringbone 6",
    "2/2 pointed twill 8",
    "2/2 broken twill Z",
    "3/2 broken twill Z",
    "honeycomb 8",
    "mock leno 3",
    "huckaback 10",
)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
@given(down=st.integers(0, 20), across=st.integers(0, 20))
def test_a_named_weave_is_found_from_any_start(name: str, down: int, across: int) -> None:
    moved = Weave(matrix=np.roll(parse_weave(name).matrix, (down, across), axis=(0, 1)))
    found = name_of(moved)
    assert found is not None
    assert equivalent(parse_weave(found), moved)


@pytest.mark.parametrize("name", [name for name in NAMES if "broken" not in name])
def test_a_weave_that_begins_as_named_keeps_its_name(name: str) -> None:
    assert name_of(parse_weave(name)) == name


@pytest.mark.parametrize(
    ("name", "back"),
    [
        ("3/1 twill Z", "1/3 twill S"),
        ("2/2 twill Z", "2/2 twill S"),
        ("plain", "plain"),
        ("5-end satin move 2", "5-end sateen move 3"),
    ],
)
def test_the_published_names_of_the_back(name: str, back: str) -> None:
    assert name_of(reverse_side(parse_weave(name))) == back


def test_the_quarter_turn_of_a_warp_rib_is_a_weft_rib() -> None:
    assert name_of(quarter_turn(parse_weave("2/2 warp rib"))) == "2/2 weft rib"


@pytest.mark.parametrize("case", REFERENCE["structures"], ids=lambda case: case["name"])
def test_what_is_named_is_that_weave(case: dict[str, str]) -> None:
    weave = Weave.from_rows(case["matrix"].split("/"))
    found = name_of(weave)
    assert found is None or equivalent(parse_weave(found), weave)
    assert (found is None) == (
        case["name"] in ("herringbone 1/3 comp.", "double plain (heald order)")
    )


@pytest.mark.parametrize("rows", [["1"], ["0"], ["10"], ["1", "0"], ["110", "010"]])
def test_what_never_interlaces_has_no_name(rows: list[str]) -> None:
    assert name_of(Weave.from_rows(rows)) is None


def test_the_largest_repeat_that_is_named() -> None:
    largest = parse_weave(f"{LARGEST_NAMED - 1}/1 twill Z")
    assert name_of(largest) == largest.name
    larger = Weave(matrix=1 - np.eye(LARGEST_NAMED + 1, dtype=np.uint8))
    assert name_of(larger) is None
