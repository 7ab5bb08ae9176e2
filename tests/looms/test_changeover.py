"""Change of style: the right work, and the right order of hours."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from weavability.looms.loom import SheddingKind
from weavability.looms.style_change import (
    Changeover,
    ChangeoverRates,
    StyleOnLoom,
    changeover,
)
from weavability.textiles.errors import InputError

DOBBY = StyleOnLoom(
    ends=4800,
    reed_dents_per_10cm=120,
    ends_per_dent=2,
    threading=(1, 2, 3, 4),
    lift_plan="2/2 twill",
    weft_yarns=("A", "B"),
    warp="white",
    shedding=SheddingKind.DOBBY,
    picks_per_cm=20,
    reed_width_cm=200,
)
JACQUARD = replace(
    DOBBY,
    ends=3000,
    shedding=SheddingKind.JACQUARD,
    threading=(),
    harness="8 x 375",
    lift_plan="roses",
)
CAM = replace(DOBBY, shedding=SheddingKind.CAM)


def steps(plan: Changeover) -> list[str]:
    return [step.step for step in plan.steps]


def test_the_same_style_again_is_no_work() -> None:
    plan = changeover(DOBBY, DOBBY)
    assert (plan.route, plan.steps, plan.loom_stop_hours) == ("keep", (), 0)


def test_another_weft_on_one_selector_takes_minutes() -> None:
    plan = changeover(DOBBY, replace(DOBBY, weft_yarns=("A", "C")))
    assert steps(plan) == ["change_weft"]
    assert plan.loom_stop_hours == pytest.approx(1 / 6)


def test_a_weft_no_longer_used_may_stay_on_its_selector() -> None:
    assert changeover(DOBBY, replace(DOBBY, weft_yarns=("A",))).steps == ()


def test_another_weave_is_minutes_on_a_dobby_and_hours_on_cams() -> None:
    plain = changeover(DOBBY, replace(DOBBY, lift_plan="plain"))
    cams = changeover(CAM, replace(CAM, lift_plan="plain"))
    assert steps(plain) == ["load_design"]
    assert steps(cams) == ["change_cams"]
    assert plain.loom_stop_hours < 0.5 < 1 < cams.loom_stop_hours


def test_an_electronic_design_change_is_minutes() -> None:
    plan = changeover(JACQUARD, replace(JACQUARD, lift_plan="stripes"))
    assert steps(plan) == ["load_design"]
    assert plan.loom_stop_hours * 60 <= 10


def test_another_reed_is_sleyed_on_the_loom() -> None:
    plan = changeover(DOBBY, replace(DOBBY, reed_dents_per_10cm=130, reed_width_cm=184.6))
    assert plan.route == "change_reed"
    assert steps(plan) == ["change_reed", "set_width"]


def test_the_same_reed_with_other_ends_in_a_dent_is_sleyed_again() -> None:
    plan = changeover(DOBBY, replace(DOBBY, reed_dents_per_10cm=80, ends_per_dent=3))
    assert plan.route == "change_reed"


def test_a_new_warp_of_the_same_draft_is_tied_in() -> None:
    plan = changeover(DOBBY, replace(DOBBY, warp="navy"))
    assert plan.route == "tie_in"
    assert [route.route for route in plan.alternatives] == ["draw_in"]
    assert plan.loom_stop_hours < plan.alternatives[0].stop_hours


def test_whole_tying_in_stops_are_those_published() -> None:
    """3 h at 3000 ends and 6 h at 6000: press note of a university textile college, 2022."""
    for ends, hours in ((3000, 3.0), (6000, 6.0)):
        old = replace(DOBBY, ends=ends)
        plan = changeover(old, replace(old, warp="navy"), rates=ChangeoverRates(gaiting_hours=99))
        assert plan.loom_stop_hours == pytest.approx(hours, rel=0.10)


def test_another_draft_is_drawn_in_away_from_the_loom() -> None:
    """Published for a change of style: 4 to 8 h of stop (trade press, 2017)."""
    plan = changeover(DOBBY, replace(DOBBY, threading=(1, 2, 3, 4, 3, 2)))
    assert plan.route == "draw_in"
    assert steps(plan) == ["draw_in", "gait_up"]
    assert 4 <= plan.loom_stop_hours <= 8
    assert plan.off_loom_hours == pytest.approx(4.8)


def test_a_huge_warp_is_drawn_in_because_that_stops_the_loom_for_less() -> None:
    big = replace(DOBBY, ends=12_000)
    assert changeover(big, replace(big, warp="navy")).route == "draw_in"


def test_few_further_ends_are_drawn_in_by_hand_and_surplus_ones_left_out() -> None:
    more = changeover(DOBBY, replace(DOBBY, warp="navy", ends=4830))
    fewer = changeover(DOBBY, replace(DOBBY, warp="navy", ends=4700))
    assert steps(more) == ["tie_in", "draw_in_by_hand"]
    assert steps(fewer) == ["tie_in", "leave_out_ends"]
    assert "4700" in fewer.steps[0].message


def test_many_further_ends_are_worth_a_new_drawing_in() -> None:
    assert changeover(DOBBY, replace(DOBBY, warp="navy", ends=5600)).route == "draw_in"


def test_threading_even_a_small_jacquard_takes_days_so_its_ends_are_tied() -> None:
    """Common practice, no source."""
    plan = changeover(JACQUARD, replace(JACQUARD, warp="navy"))
    assert plan.route == "tie_in"
    (threading,) = plan.alternatives
    assert threading.route == "thread_jacquard"
    assert threading.stop_hours / 8 > 3
    assert plan.loom_stop_hours < 8


def test_a_new_harness_is_days_of_work() -> None:
    """2 to 15 days is common practice, no source."""
    plan = changeover(JACQUARD, replace(JACQUARD, harness="4 x 750"))
    assert plan.route == "tie_harness"
    assert 2 <= plan.loom_stop_hours / 8 <= 15


def test_a_dobby_cloth_is_not_changed_into_a_jacquard_cloth() -> None:
    with pytest.raises(InputError, match="shedding motion"):
        changeover(DOBBY, JACQUARD)


def test_rates_may_be_the_mills_own() -> None:
    slow = ChangeoverRates(knots_per_h=225, tie_in_ends_per_h=1000, gaiting_hours=99)
    plan = changeover(DOBBY, replace(DOBBY, warp="navy"), rates=slow)
    assert plan.loom_stop_hours == pytest.approx(0.25 + 4800 / 225 + 4.8)


@pytest.mark.parametrize(
    "wrong", [{"knots_per_h": 0.0}, {"gaiting_hours": -1.0}, {"minutes_per_weft": float("nan")}]
)
def test_rates_out_of_their_domain_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        ChangeoverRates(**wrong)


# The rates of the table in ChangeoverRates, each for the work that it is for: 4800 ends, or 3000.
@pytest.mark.parametrize(
    ("old", "changes", "hours"),
    [
        (DOBBY, {"weft_yarns": ("A", "C")}, {"change_weft": 10 / 60}),
        (DOBBY, {"picks_per_cm": 25}, {"set_picks": 10 / 60}),
        (DOBBY, {"lift_plan": "plain"}, {"load_design": 5 / 60}),
        (CAM, {"lift_plan": "plain"}, {"change_cams": 2.0}),
        (
            DOBBY,
            {"reed_dents_per_10cm": 130, "reed_width_cm": 184.6},
            {"change_reed": 0.5 + 4800 / 800, "set_width": 30 / 60},
        ),
        (DOBBY, {"warp": "navy"}, {"tie_in": 0.25 + 4800 / 6000 + 4800 / 1250}),
        (
            DOBBY,
            {"warp": "navy", "ends": 4830},
            {"tie_in": 0.25 + 4800 / 6000 + 4800 / 1250, "draw_in_by_hand": 30 / 150},
        ),
        (
            DOBBY,
            {"warp": "navy", "ends": 4700},
            {"tie_in": 0.25 + 4700 / 6000 + 4700 / 1250, "leave_out_ends": 15 / 60},
        ),
        (DOBBY, {"threading": (1, 2, 3, 4, 3, 2)}, {"draw_in": 4800 / 1000, "gait_up": 6.0}),
        (
            JACQUARD,
            {"harness": "4 x 750"},
            {"tie_harness": 8.0 + 3000 / 75, "thread_jacquard": 3000 / 100},
        ),
    ],
)
def test_the_hours_of_every_step_by_hand(
    old: StyleOnLoom, changes: dict[str, Any], hours: dict[str, float]
) -> None:
    plan = changeover(old, replace(old, **changes))
    assert {step.step: step.hours for step in plan.steps} == pytest.approx(hours)
