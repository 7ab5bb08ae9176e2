"""Warp stripes of several weaves: repeat and shafts of the whole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from weavability.textiles.drafting import draft_weave, healds_per_shaft
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import MAX_STRIPES, Stripe, striped_weave
from weavability.textiles.weave_structure import analyse

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_drafting.json").read_text("utf-8")
)


def stripes(*parts: tuple[str, int]) -> list[Stripe]:
    return [Stripe(weave=parse_weave(name), ends=ends) for name, ends in parts]


@pytest.mark.parametrize("case", REFERENCE["stripes"], ids=lambda case: case["id"])
def test_published_stripes(case: dict[str, Any]) -> None:
    cloth = striped_weave(stripes(*((name, ends) for name, ends in case["stripes"])))
    draft = draft_weave(cloth)
    assert (cloth.ends, cloth.picks, draft.shafts) == (case["ends"], case["picks"], case["shafts"])
    assert list(healds_per_shaft(draft, cloth.ends)) == case["healds"]
    assert draft.kind == "grouped"
    assert analyse(cloth).hangs_together


def test_ends_add_up_and_picks_meet_on_the_common_multiple() -> None:
    cloth = striped_weave(stripes(("2/1 twill Z", 7), ("plain", 4), ("2/2 twill S", 10)))
    assert (cloth.ends, cloth.picks) == (21, 12)
    twill = parse_weave("2/1 twill Z").matrix
    assert np.array_equal(cloth.matrix[:3, :3], twill)
    assert np.array_equal(cloth.matrix[:3, 6], twill[:, 0])


def test_stripes_of_one_weave_are_that_weave() -> None:
    assert striped_weave(stripes(("plain", 4), ("plain", 6))) == parse_weave("plain")


@pytest.mark.parametrize(
    ("parts", "pointer"),
    [
        ([], "/stripes"),
        ([("plain", 2)] * (MAX_STRIPES + 1), "/stripes"),
        ([("plain", 2), ("plain", 0)], "/stripes/1/ends"),
        ([("plain", 12_001)], "/stripes"),
        ([("99/98 twill Z", 9), ("100/99 twill Z", 9)], "/stripes"),
        ([("49/50 twill Z", 6_000), ("50/51 twill Z", 1)], "/stripes"),
    ],
)
def test_stripes_that_cannot_be_are_pointed_at(parts: list[tuple[str, int]], pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        striped_weave(stripes(*parts))
    assert caught.value.faults[0].pointer == pointer


def test_the_most_stripes_are_read() -> None:
    assert striped_weave(stripes(*[("plain", 2)] * MAX_STRIPES)) == parse_weave("plain")
