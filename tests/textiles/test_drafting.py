"""Drafting: published drafts and peg plans, spreading, and drafts held against a weave."""

from __future__ import annotations

import json
import tracemalloc
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from weavability.textiles.draft_kinds import draft_kind
from weavability.textiles.drafting import (
    WIDEST_WARP_ENDS,
    Draft,
    check_draft,
    draft_from_lift_plan,
    draft_from_treadling,
    draft_weave,
    healds_per_shaft,
    spread_draft,
    treadling,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave, read_rows, write_rows

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_drafting.json").read_text("utf-8")
)


def pointers(caught: pytest.ExceptionInfo[InputError]) -> list[str]:
    return [fault.pointer for fault in caught.value.faults]


@pytest.mark.parametrize("case", REFERENCE["drafts"], ids=lambda case: case["weave"])
def test_published_drafts(case: dict[str, Any]) -> None:
    draft = draft_weave(parse_weave(case["weave"]))
    assert list(draft.threading) == case["threading"]
    assert draft.shafts == case["shafts"]
    assert draft.kind == case["kind"]
    if "lift_plan" in case:
        assert "/".join(write_rows(draft.lift_plan)) == case["lift_plan"]
    if "healds" in case:
        assert list(healds_per_shaft(draft, len(draft.threading))) == case["healds"]


@pytest.mark.parametrize("case", REFERENCE["kinds"], ids=lambda case: case["id"])
def test_published_kinds_of_draft(case: dict[str, Any]) -> None:
    assert draft_kind(case["threading"]) == case["kind"]


@pytest.mark.parametrize(
    ("threading", "kind"),
    [
        ([1], "straight"),
        ([4, 3, 2, 1], "straight"),
        ([3, 4, 1, 2], "straight"),
        ([1, 2, 3, 4] * 3, "straight"),
        ([1, 3, 5, 2, 4], "skip"),
        ([1, 3, 2, 4], "skip"),
        ([1, 3, 5, 2, 4, 6], "skip"),
        ([1, 4, 2, 5, 3, 6], "skip"),
        ([2, 5, 3, 6, 1, 4], "skip"),
        ([3, 6, 2, 5, 1, 4], "irregular"),
        ([1, 2, 3, 4, 2, 1, 4, 3], "broken"),
        ([1, 2, 3, 4, 1, 4], "broken"),
        ([1, 3, 2, 4, 1, 4], "broken"),
        ([1, 2, 3, 4, 5, 6, 7, 8, 4, 3, 2, 1, 8, 7, 6, 5], "broken"),
        ([1, 2, 3, 4, 5] * 4 + [6, 7] * 8, "grouped"),
        ([1, 2] * 8 + [3, 4] * 8, "grouped"),
        ([1, 1, 2, 2], "repeated"),
        ([1, 1, 2, 2, 3, 3, 2, 2], "repeated"),
        ([1, 4, 2, 2, 5, 3, 3, 1, 2], "irregular"),
    ],
)
def test_kinds_of_draft(threading: list[int], kind: str) -> None:
    assert draft_kind(threading) == kind


def test_published_peg_plan_makes_the_published_cloth() -> None:
    case = REFERENCE["peg_plan"]
    draft = draft_from_lift_plan(case["threading"], case["lift_plan"])
    assert "/".join(draft.cloth().rows) == case["cloth"]


def test_published_heald_counts_of_a_block_threading() -> None:
    case = REFERENCE["healds"]
    threading = [
        shaft
        for block, times in enumerate(case["blocks"], start=3)
        for shaft in [1, block, 2, block] * times
    ]
    draft = draft_from_lift_plan(threading, ["1" * 8, "0" * 8])
    assert list(healds_per_shaft(draft, len(threading))) == case["healds"]


def test_healds_count_the_part_repeat_at_the_end() -> None:
    draft = draft_weave(parse_weave("2/2 pointed twill 4"))
    assert healds_per_shaft(draft, 0) == (0, 0, 0, 0)
    assert healds_per_shaft(draft, 6) == (1, 2, 2, 1)
    assert healds_per_shaft(draft, 9) == (2, 3, 3, 1)
    with pytest.raises(InputError):
        healds_per_shaft(draft, -1)


@pytest.mark.parametrize(
    ("weave", "per_column", "threading"),
    [
        ("plain", [1, 1], (1, 2)),
        ("plain", [2, 2], (1, 3, 2, 4)),
        ("plain", [3, 3], (1, 4, 2, 5, 3, 6)),
        ("plain", [1, 2], (1, 2, 1, 3)),
        ("2/2 weft rib", [2, 2], (1, 2, 3, 4)),
        ("2/2 weft rib", [3, 1], (1, 2, 4, 4, 3, 1, 4, 4, 2, 3, 4, 4)),
    ],
)
def test_spread_drafts(weave: str, per_column: list[int], threading: tuple[int, ...]) -> None:
    spread = spread_draft(parse_weave(weave), shafts_per_column=per_column)
    assert spread.threading == threading
    assert spread.cloth().reduced() == parse_weave(weave)


@pytest.mark.parametrize("per_column", [[2], [2, 2, 2], [0, 2], [-1, 2], [1, 12_000]])
def test_a_spread_that_cannot_be_is_refused(per_column: list[int]) -> None:
    with pytest.raises(InputError):
        spread_draft(parse_weave("plain"), shafts_per_column=per_column)


def test_a_spread_that_never_comes_out_even_ends_with_the_widest_warp() -> None:
    twill = parse_weave("2/2 twill Z")
    spread = spread_draft(twill, shafts_per_column=[97, 89, 83, 79])
    assert len(spread.threading) == WIDEST_WARP_ENDS
    healds = healds_per_shaft(spread, WIDEST_WARP_ENDS)
    first = np.cumsum([0, 97, 89, 83, 79])
    for begin, end in pairwise(first.tolist()):
        assert max(healds[begin:end]) - min(healds[begin:end]) <= 1


def test_a_draft_wider_than_a_weave_may_be_is_not_laid_out() -> None:
    wide = draft_from_lift_plan([1, 2] * 6_001, ["10", "01"])
    with pytest.raises(InputError, match="12000"):
        wide.cloth()
    assert healds_per_shaft(wide, 12_002) == (6_001, 6_001)


@pytest.mark.slow
def test_a_wide_threading_of_a_tall_weave_is_checked_without_laying_it_out() -> None:
    # Laid out, this cloth would have 2.4 thousand million crossings.
    tall = Weave.from_rows(["10", *["01", "10"] * 5_999, "10"])
    tracemalloc.start()
    try:
        assert check_draft(tall, [1, 2] * 100_000).shafts == 2
        assert tracemalloc.get_traced_memory()[1] < 50_000_000
    finally:
        tracemalloc.stop()


def test_a_spread_draft_is_dealt_evenly() -> None:
    spread = spread_draft(parse_weave("honeycomb 8"), shafts_per_column=[1, 2, 2, 2, 1])
    counts = np.bincount(spread.threading)[1:]
    assert counts.tolist() == [1, 1, 1, 1, 1, 1, 1, 1]
    assert spread.kind == "skip"


def test_a_given_threading_is_held_against_the_weave() -> None:
    twill = parse_weave("2/2 twill Z")
    assert check_draft(twill, [1, 2, 3, 4]).cloth() == twill
    assert check_draft(twill, "straight").threading == (1, 2, 3, 4)
    assert check_draft(twill, "Straight", shafts=8).cloth().reduced() == twill
    assert check_draft(twill, [4, 3, 2, 1, 4, 3, 2, 1]).cloth().reduced() == twill


def test_ends_on_one_shaft_that_weave_differently_are_named() -> None:
    with pytest.raises(InputError) as caught:
        check_draft(parse_weave("2/2 twill Z"), [1, 2, 3, 1])
    assert pointers(caught) == ["/threading/3"]
    assert "Ends 1 and 4 are both on shaft 1 but weave differently, first on pick 1" in str(
        caught.value
    )


@pytest.mark.parametrize("threading", [[1, 2, 3, 4], [1, 2], [1]])
def test_a_threading_goes_on_for_whole_repeats_of_the_weave(threading: list[int]) -> None:
    with pytest.raises(InputError, match="3 ends or a multiple"):
        check_draft(parse_weave("2/1 twill Z"), threading)


def test_point_threading_by_name() -> None:
    pointed = parse_weave("2/2 pointed twill 8")
    assert check_draft(pointed, "point").threading == (*range(1, 9), *range(7, 1, -1))
    with pytest.raises(InputError):
        check_draft(parse_weave("2/2 twill Z"), "point")


def test_skip_threading_by_name() -> None:
    assert check_draft(parse_weave("plain"), "skip").threading == (1, 3, 2, 4)
    assert check_draft(parse_weave("plain"), "skip", shafts=6).shafts == 6
    with pytest.raises(InputError, match="multiple of 2"):
        check_draft(parse_weave("plain"), "skip", shafts=5)


@pytest.mark.parametrize("threading", ["satin", "", [], [0, 1], [1, 12_001]])
def test_threadings_that_are_none_are_refused(threading: Any) -> None:
    with pytest.raises(InputError) as caught:
        check_draft(parse_weave("plain"), threading)
    assert pointers(caught)[0].startswith("/threading")


def test_a_weave_of_one_end_is_drawn_on_one_shaft() -> None:
    assert check_draft(Weave.from_rows(["1", "0"]), "straight").threading == (1,)


def test_a_lift_plan_is_held_against_the_weave() -> None:
    twill = parse_weave("2/1 twill Z")
    plan = read_rows(["110", "011", "101"], pointer="/lift_plan")
    assert check_draft(twill, [1, 2, 3], plan).picks == 3
    with pytest.raises(InputError) as caught:
        check_draft(twill, [1, 2, 3], plan[::-1])
    assert pointers(caught) == ["/lift_plan/0", "/lift_plan/2"]
    assert "On pick 1 " in caught.value.faults[0].message
    assert "shaft(s) [2, 3]" in caught.value.faults[0].message


def test_a_lift_plan_may_repeat_the_weave_and_lift_idle_shafts() -> None:
    plan = read_rows(["1010", "0110"] * 2, pointer="/lift_plan")
    assert check_draft(parse_weave("plain"), [1, 2], plan).picks == 4


def test_a_lift_plan_goes_on_for_whole_repeats_of_the_weave() -> None:
    plan = read_rows(["10", "01", "10"], pointer="/lift_plan")
    with pytest.raises(InputError, match="2 picks or a multiple"):
        check_draft(parse_weave("plain"), [1, 2], plan)


def test_a_lift_plan_with_too_few_shafts_is_refused() -> None:
    plan = read_rows(["10", "01"], pointer="/lift_plan")
    with pytest.raises(InputError) as caught:
        check_draft(parse_weave("plain"), [1, 3], plan)
    assert pointers(caught) == ["/lift_plan"]


def test_tie_up_and_treadling_make_the_lift_plan() -> None:
    draft = draft_weave(parse_weave("mock leno 3"))
    pegs = treadling(draft)
    assert pegs.treadling == (1, 2, 1, 3, 4, 3)
    again = draft_from_treadling(draft.threading, pegs.tie_up, pegs.treadling)
    assert again == draft
    assert hash(again) == hash(draft)
    assert again != draft_weave(parse_weave("plain"))
    assert draft != "draft"


@pytest.mark.parametrize(
    ("threading", "tie_up", "picks", "pointer"),
    [
        ([1, 3], ["10", "01"], [1, 2], "/threading/1"),
        ([1, 2], ["10", "0"], [1, 2], "/tie_up/1"),
        ([1, 2], ["10", "01"], [1, 3], "/treadling/1"),
        ([1, 2], ["10", "01"], [], "/treadling"),
        ([1, 2], ["10", "01"], [1] * 12_001, "/treadling"),
        ([1] * 200_001, ["10", "01"], [1], "/threading"),
    ],
)
def test_tie_ups_that_cannot_be_read_are_pointed_at(
    threading: list[int], tie_up: list[str], picks: list[int], pointer: str
) -> None:
    with pytest.raises(InputError) as caught:
        draft_from_treadling(threading, tie_up, picks)
    assert pointers(caught)[0] == pointer


def test_a_draft_refuses_a_shaft_that_its_plan_has_not() -> None:
    with pytest.raises(InputError):
        Draft(threading=(1, 3), lift_plan=np.eye(2, dtype=np.uint8), kind="straight")


def test_the_lift_plan_has_as_few_columns_as_ends_that_differ() -> None:
    weave = Weave.from_rows(["110011", "001100"])
    assert draft_weave(weave).shafts == 2
