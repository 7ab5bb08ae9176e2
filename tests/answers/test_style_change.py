"""From one construction to another: what must be done, and what the stopped loom costs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from builders import COTTON_20_TEX, construction, jacquard, loom, named, threads

from weavability.answers.changeover import RATE_NAMES, ChangeoverReport, change_style
from weavability.textiles.construction import Construction, Reed
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn


def change(new: Construction, **options: Any) -> ChangeoverReport:
    return change_style(construction(), new, loom(), **options)


def steps(report: ChangeoverReport) -> list[str]:
    return [step.step for step in report.steps]


def test_the_same_cloth_needs_nothing() -> None:
    found = change(construction())
    assert (found.route, found.steps, found.loom_stop_hours) == ("keep", (), 0.0)


def test_another_weft_is_minutes() -> None:
    navy = Yarn(designation="20 tex", fibre="cotton", colour="#101040")
    found = change(construction(weft=threads(22.0, yarns={"A": navy})))
    assert steps(found) == ["change_weft"]
    assert found.loom_stop_hours < 0.5


def test_the_name_of_a_yarn_is_no_change() -> None:
    renamed = construction(weft=threads(22.0, yarns={"Z": COTTON_20_TEX}))
    assert change(renamed).route == "keep"


def test_a_new_colour_in_the_same_draft_is_tied_in() -> None:
    red = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")
    found = change(construction(warp=threads(24.0, yarns={"A": red})))
    assert found.route == "tie_in"
    assert {route.route for route in found.alternatives} == {"draw_in"}


def test_a_reed_that_serves_stays_on_the_loom() -> None:
    # Another weft changes the estimated crimp and so the computed reed, in its second decimal.
    finer = Yarn(designation="19.5 tex", fibre="cotton")
    estimated = {"crimp_pct": None}
    old = construction(weft=threads(22.0, **estimated))
    new = construction(weft=threads(22.0, **estimated, yarns={"A": finer}))
    found = change_style(old, new, loom())
    assert found.old.reed_dents_per_10cm != found.new.reed_dents_per_10cm
    assert "change_reed" not in steps(found)


def test_another_reed_alone_is_sleyed() -> None:
    found = change(construction(reed=Reed(dents_per_10cm=76.19, ends_per_dent=3)))
    assert found.route == "change_reed"


def test_another_weave_with_another_draft_is_drawn_in() -> None:
    found = change(construction(weave=named("5-end satin move 2")))
    assert found.route == "draw_in"
    assert found.off_loom_hours > 0


def test_another_design_on_the_jacquard_is_minutes() -> None:
    old, new = construction(), construction(weave=named("2/2 twill Z"))
    found = change_style(old, new, jacquard())
    assert steps(found) == ["load_design"]
    assert found.loom_stop_hours < 0.5


def test_threading_a_jacquard_takes_days_so_new_ends_are_tied() -> None:
    """Trade fact (common practice, no source): even a few thousand ends take days to thread."""
    red = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")
    new = construction(warp=threads(24.0, yarns={"A": red}))
    found = change_style(construction(), new, jacquard())
    assert found.route == "tie_in"
    threading = next(one for one in found.alternatives if one.route == "thread_jacquard")
    assert threading.loom_stop_hours > 24
    assert found.loom_stop_hours < 8


def test_rates_come_from_the_request_before_the_loom_before_the_default() -> None:
    red = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")
    new = construction(warp=threads(24.0, yarns={"A": red}))
    own = loom(changeover_rates=(("knots_per_h", 12000.0),))
    default = change_style(construction(), new, loom())
    by_loom = change_style(construction(), new, own)
    by_request = change_style(construction(), new, own, rates={"knots_per_h": 24000.0})
    hours = [one.loom_stop_hours for one in (default, by_loom, by_request)]
    assert hours == sorted(hours, reverse=True)
    assert len(set(hours)) == 3
    assumed = {line.pointer for line in by_loom.assumptions}
    assert "/rates/knots_per_h" not in assumed
    assert {f"/rates/{name}" for name in RATE_NAMES} - assumed == {"/rates/knots_per_h"}


@pytest.mark.parametrize(
    ("rates", "pointer"),
    [({"knots_per_h": 0.0}, "/rates/knots_per_h"), ({"knots": 5.0}, "/rates/knots")],
)
def test_a_rate_that_cannot_be_is_pointed_at(rates: dict[str, float], pointer: str) -> None:
    with pytest.raises(InputError) as refused:
        change(construction(), rates=rates)
    assert refused.value.faults[0].pointer == pointer


def test_faults_tell_which_of_the_two_cloths() -> None:
    wrong = construction(warp=threads(24.0, order="7Q"))
    with pytest.raises(InputError) as refused:
        change(wrong)
    assert refused.value.faults[0].pointer == "/to/warp/order"
    with pytest.raises(InputError) as refused:
        change_style(wrong, construction(), loom())
    assert refused.value.faults[0].pointer == "/from/warp/order"


def test_each_style_tells_its_verdict_on_the_loom() -> None:
    found = change(replace(construction(), width_cm=400.0))
    assert (found.old.verdict, found.new.verdict) == ("weavable", "not_weavable")
