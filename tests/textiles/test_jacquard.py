"""Jacquard sizes held against textbook cases of casting out, sharing and design paper."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from weavability.textiles.errors import InputError
from weavability.textiles.jacquard import (
    design_paper,
    fit_harness,
    plan_hooks,
    repeat_width_cm,
    repeats_without_casting_out,
)

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_jacquard.json").read_text("utf-8")
)
CM_PER_INCH = 2.54


def cases(name: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", REFERENCE[name], ids=lambda case: case["id"])


@cases("paper")
def test_published_design_paper(case: dict[str, Any]) -> None:
    paper = design_paper(ends=case["ends"], picks=case["picks"], first=case["first"])
    assert paper == (case["first"], case["second"])


@cases("casting_out")
def test_published_casting_out(case: dict[str, Any]) -> None:
    plan = plan_hooks(repeat_ends=case["ground"], hooks=case["hooks"], total_ends=case["used"] * 3)
    assert (plan.hooks_used, plan.hooks_idle) == (case["used"], case["idle"])


@cases("divisors")
def test_published_repeats_without_casting_out(case: dict[str, Any]) -> None:
    assert list(repeats_without_casting_out(case["hooks"])) == case["repeats"]
    for repeat in case["repeats"]:
        assert plan_hooks(repeat_ends=repeat, hooks=case["hooks"], total_ends=400).hooks_idle == 0


@cases("ends_per_hook")
def test_published_ends_per_hook(case: dict[str, Any]) -> None:
    plan = plan_hooks(repeat_ends=case["repeat"], hooks=case["hooks"], total_ends=case["ends"])
    assert plan.ends_per_hook == case["ends_per_hook"]
    assert plan.repeats_across == case["similar"]
    assert plan.hooks_with_fewer == 0


@cases("hooks")
def test_published_hooks_of_a_repeat(case: dict[str, Any]) -> None:
    width_cm = repeat_width_cm(case["hooks"], ends_per_cm=case["ends_per_in"] / CM_PER_INCH)
    assert width_cm / CM_PER_INCH == pytest.approx(case["repeat_in"])


@cases("width")
def test_published_width_of_several_repeats(case: dict[str, Any]) -> None:
    total = case["repeats"] * case["hooks"]
    width_cm = repeat_width_cm(total, ends_per_cm=case["ends_per_in"] / CM_PER_INCH)
    assert width_cm / CM_PER_INCH == pytest.approx(case["inches"], rel=case["tolerance"] or 1e-9)


@cases("inches")
def test_published_inches_of_repeat_that_a_machine_allows(case: dict[str, Any]) -> None:
    sizes = repeats_without_casting_out(case["hooks"])
    whole = [size // case["ends_per_in"] for size in sizes if size % case["ends_per_in"] == 0]
    assert [inches for inches in whole if inches > 1] == case["inches"]


@cases("reed")
def test_published_reed_after_casting_out(case: dict[str, Any]) -> None:
    used = case["hooks"] - case["cast_out"]
    plan = plan_hooks(repeat_ends=used, hooks=case["hooks"], total_ends=used * 4)
    fit = fit_harness(plan, harness_ends_per_cm=case["reed_in"], reed_ends_per_cm=87.5)
    # The source drops the half.
    assert int(fit.usable_ends_per_cm) == case["reed_out"]
    assert fit.density_ratio == pytest.approx(1.0)
    assert fit.harness_width_cm == pytest.approx(used * 4 / 87.5)


def test_a_warp_that_does_not_divide_lifts_unevenly() -> None:
    plan = plan_hooks(repeat_ends=100, hooks=400, total_ends=1650)
    assert (plan.ends_per_hook, plan.hooks_with_fewer) == (5, 350)
    assert (plan.repeats_across, plan.remainder_ends) == (16, 50)


def test_a_warp_of_fewer_ends_than_hooks_leaves_hooks_idle() -> None:
    plan = plan_hooks(repeat_ends=100, hooks=400, total_ends=250)
    assert (plan.hooks_used, plan.hooks_idle, plan.ends_per_hook) == (250, 150, 1)


@pytest.mark.parametrize(("repeat", "fits"), [(400, True), (401, False)])
def test_a_design_of_more_ends_than_hooks_is_refused(repeat: int, fits: bool) -> None:
    if fits:
        assert plan_hooks(repeat_ends=repeat, hooks=400, total_ends=4_000).hooks_used == 400
    else:
        with pytest.raises(InputError, match="401 ends but the machine has 400 hooks"):
            plan_hooks(repeat_ends=repeat, hooks=400, total_ends=4_000)


@pytest.mark.parametrize(("repeat", "hooks", "ends"), [(0, 1, 1), (1, 0, 1), (1, 1, 0)])
def test_sizes_under_one_are_refused(repeat: int, hooks: int, ends: int) -> None:
    with pytest.raises(InputError):
        plan_hooks(repeat_ends=repeat, hooks=hooks, total_ends=ends)


def test_paper_needs_something_to_rule() -> None:
    with pytest.raises(InputError):
        design_paper(ends=0, picks=80, first=8)
