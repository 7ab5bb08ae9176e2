"""Change of style: the right work, and the right order of hours."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from weavability.looms.changeover_rates import RATE_BASES, ChangeoverRates, RateSpan
from weavability.looms.loom import SheddingKind
from weavability.looms.style_change import Changeover, changeover
from weavability.looms.style_on_loom import StyleOnLoom
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
    return [step.step for step in plan.taken.steps]


def test_the_same_style_again_is_no_work() -> None:
    plan = changeover(DOBBY, DOBBY)
    assert (plan.taken.route, plan.taken.steps, plan.taken.stop_hours) == ("keep", (), 0)


def test_another_weft_on_one_selector_takes_minutes() -> None:
    plan = changeover(DOBBY, replace(DOBBY, weft_yarns=("A", "C")))
    assert steps(plan) == ["change_weft"]
    assert plan.taken.stop_hours == pytest.approx(1 / 6)


def test_wefts_that_are_on_other_selectors_are_not_changed() -> None:
    assert changeover(DOBBY, replace(DOBBY, weft_yarns=("B", "A"))).taken.steps == ()
    twice = changeover(DOBBY, replace(DOBBY, weft_yarns=("A", "A", "B")))
    assert steps(twice) == ["change_weft"]


def test_a_weft_no_longer_used_may_stay_on_its_selector() -> None:
    assert changeover(DOBBY, replace(DOBBY, weft_yarns=("A",))).taken.steps == ()


def test_another_weave_is_minutes_on_a_dobby_and_hours_on_cams() -> None:
    plain = changeover(DOBBY, replace(DOBBY, lift_plan="plain"))
    cams = changeover(CAM, replace(CAM, lift_plan="plain"))
    assert steps(plain) == ["load_design"]
    assert steps(cams) == ["change_cams"]
    assert plain.taken.stop_hours < 0.5 < 1 < cams.taken.stop_hours


def test_an_electronic_design_change_is_minutes() -> None:
    plan = changeover(JACQUARD, replace(JACQUARD, lift_plan="stripes"))
    assert steps(plan) == ["load_design"]
    assert plan.taken.stop_hours * 60 <= 10


def test_another_reed_is_sleyed_on_the_loom() -> None:
    plan = changeover(DOBBY, replace(DOBBY, reed_dents_per_10cm=130, reed_width_cm=184.6))
    assert plan.taken.route == "change_reed"
    assert steps(plan) == ["change_reed", "set_width"]


def test_the_same_reed_with_other_ends_in_a_dent_is_sleyed_again() -> None:
    plan = changeover(DOBBY, replace(DOBBY, reed_dents_per_10cm=80, ends_per_dent=3))
    assert plan.taken.route == "change_reed"


def test_a_new_warp_of_the_same_draft_is_tied_in() -> None:
    plan = changeover(DOBBY, replace(DOBBY, warp="navy"))
    assert plan.taken.route == "tie_in"
    assert [route.route for route in plan.alternatives] == ["draw_in"]
    assert plan.taken.stop_hours < plan.alternatives[0].stop_hours


def test_whole_tying_in_stops_are_those_published() -> None:
    """3 h at 3000 ends and 6 h at 6000: press note of a university textile college, 2022."""
    for ends, hours in ((3000, 3.0), (6000, 6.0)):
        old = replace(DOBBY, ends=ends)
        plan = changeover(old, replace(old, warp="navy"), rates=ChangeoverRates(gaiting_hours=99))
        assert plan.taken.stop_hours == pytest.approx(hours, rel=0.10)


def test_another_draft_is_drawn_in_away_from_the_loom() -> None:
    """Published for a change of style: 4 to 8 h of stop (trade press, 2017)."""
    plan = changeover(DOBBY, replace(DOBBY, threading=(1, 2, 3, 4, 3, 2)))
    assert plan.taken.route == "draw_in"
    assert steps(plan) == ["draw_in", "gait_up"]
    assert 4 <= plan.taken.stop_hours <= 8
    assert plan.taken.off_loom_hours == pytest.approx(4.8)


@pytest.mark.parametrize("ends", [100, 5_000, 8_384, 12_000, 20_000])
def test_new_ends_are_tied_in_at_any_number_and_a_shorter_stop_is_listed(ends: int) -> None:
    """By rule: drawing-in takes people and a second set of shafts. Common practice, no source."""
    old = replace(DOBBY, ends=ends)
    plan = changeover(old, replace(old, warp="navy"))
    assert plan.taken.route == "tie_in"
    (drawn,) = plan.alternatives
    assert drawn.route == "draw_in"
    assert (drawn.stop_hours < plan.taken.stop_hours) is (ends > 5_948)  # 0.25 + n/6000 + n/1250


def test_another_reed_leaves_the_choice_to_the_hours() -> None:
    new = replace(DOBBY, warp="navy", reed_dents_per_10cm=130)
    assert changeover(DOBBY, new).taken.route == "draw_in"
    few = replace(DOBBY, ends=400)
    assert changeover(few, replace(new, ends=400)).taken.route == "tie_in"


def test_the_share_of_further_ends_that_are_drawn_in_by_hand_is_the_mills_own() -> None:
    big = replace(DOBBY, ends=12_000)
    new = replace(big, warp="navy", ends=12_600)
    assert changeover(big, new).taken.route == "tie_in"  # 5 %, though the stop is longer
    assert changeover(big, replace(new, ends=12_601)).taken.route == "draw_in"
    few = ChangeoverRates(most_further_ends_pct=1)
    assert changeover(big, new, rates=few).taken.route == "draw_in"


def test_few_further_ends_are_drawn_in_by_hand_and_surplus_ones_left_out() -> None:
    more = changeover(DOBBY, replace(DOBBY, warp="navy", ends=4830))
    fewer = changeover(DOBBY, replace(DOBBY, warp="navy", ends=4700))
    assert steps(more) == ["tie_in", "draw_in_by_hand"]
    assert steps(fewer) == ["tie_in", "leave_out_ends"]
    assert "4700" in fewer.taken.steps[0].message


def test_many_further_ends_are_worth_a_new_drawing_in() -> None:
    plan = changeover(DOBBY, replace(DOBBY, warp="navy", ends=5600))
    assert plan.taken.route == "draw_in"


def test_threading_even_a_small_jacquard_takes_days_so_its_ends_are_tied() -> None:
    """Common practice, no source."""
    plan = changeover(JACQUARD, replace(JACQUARD, warp="navy"))
    assert plan.taken.route == "tie_in"
    (threading,) = plan.alternatives
    assert threading.route == "thread_jacquard"
    assert threading.stop_hours / 8 > 3
    assert plan.taken.stop_hours < 8


def test_a_new_harness_is_days_of_work() -> None:
    """2 to 15 days is common practice, no source."""
    plan = changeover(JACQUARD, replace(JACQUARD, harness="4 x 750"))
    assert plan.taken.route == "tie_harness"
    assert 2 <= plan.taken.stop_hours / 8 <= 15


def test_a_dobby_cloth_is_not_changed_into_a_jacquard_cloth() -> None:
    with pytest.raises(InputError, match="shedding motion"):
        changeover(DOBBY, JACQUARD)


def test_rates_may_be_the_mills_own() -> None:
    slow = ChangeoverRates(knots_per_h=225, tie_in_ends_per_h=1000, gaiting_hours=99)
    plan = changeover(DOBBY, replace(DOBBY, warp="navy"), rates=slow)
    assert plan.taken.stop_hours == pytest.approx(0.25 + 4800 / 225 + 4.8)


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
    assert {step.step: step.hours for step in plan.taken.steps} == pytest.approx(hours)


def test_hours_have_the_band_of_their_rates_and_stated_rates_have_none() -> None:
    """Published: knotting takes 30 to 120 min, the whole stop 1 h per 1000 ends.

    8000 ends take 2 to 3.5 h in many mills: common practice, no source.
    """
    old = replace(DOBBY, ends=8_000)
    new = replace(old, warp="navy")
    band = changeover(old, new, rates=RateSpan.of(ChangeoverRates())).taken.stop_band
    assert band.low == pytest.approx(0.15 + 8000 / 12_000 + 8000 / 6000)
    assert band.high == pytest.approx(0.5 + 8000 / 3000 + 8000 / 1250)
    assert band.low <= 3.5
    assert band.low <= 8.0 <= band.high
    every = list(RATE_BASES)
    exact = changeover(old, new, rates=RateSpan.of(ChangeoverRates(), stated=every)).taken
    assert exact.stop_band.low == exact.stop_band.high == exact.stop_hours


def test_every_rate_has_a_basis_whose_band_holds_its_starting_value() -> None:
    assert set(RATE_BASES) == {field.name for field in fields(ChangeoverRates)}
    for name, basis in RATE_BASES.items():
        assert basis.band.low <= getattr(ChangeoverRates(), name) <= basis.band.high, name


@pytest.mark.parametrize(("wider_cm", "expected"), [(0.4, []), (0.6, ["set_width"])])
def test_a_few_ends_do_not_have_the_temples_set(wider_cm: float, expected: list[str]) -> None:
    wider = replace(DOBBY, reed_width_cm=DOBBY.reed_width_cm + wider_cm)
    assert steps(changeover(DOBBY, wider)) == expected
