"""From one construction to another: what must be done, and what the stopped loom costs."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from builders import (
    COTTON_20_TEX,
    construction,
    jacquard,
    loom,
    named,
    report,
    severity,
    shedding,
    threads,
)
from hypothesis import assume, given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.changeover import RATE_NAMES, ChangeoverReport, change_style
from weavability.answers.changeover_sequence import sequence_orders
from weavability.answers.loom_matching import match_looms
from weavability.looms.loom import Loom, SheddingKind
from weavability.textiles.construction import (
    Construction,
    DraftRequest,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
)
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn

RED = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")


def change(new: Construction, **options: Any) -> ChangeoverReport:
    return change_style(construction(), new, loom(), **options)


def stop_hours(found: ChangeoverReport) -> float:
    assert found.loom_stop_hours is not None
    return found.loom_stop_hours


def steps(report: ChangeoverReport) -> list[str]:
    return [step.step for step in report.steps]


def test_the_same_cloth_needs_nothing() -> None:
    found = change(construction())
    assert (found.route, found.steps, found.loom_stop_hours) == ("keep", (), 0.0)


def test_another_weft_is_minutes() -> None:
    navy = Yarn(designation="20 tex", fibre="cotton", colour="#101040")
    found = change(construction(weft=threads(22.0, yarns={"A": navy})))
    assert steps(found) == ["change_weft"]
    assert stop_hours(found) < 0.5


def test_the_name_of_a_yarn_is_no_change() -> None:
    renamed = construction(weft=threads(22.0, yarns={"Z": COTTON_20_TEX}))
    assert change(renamed).route == "keep"


def test_another_order_of_the_wefts_is_work_and_a_longer_repeat_of_it_is_none() -> None:
    short, same, long = (
        construction(weft=threads(22.0, yarns={"A": COTTON_20_TEX, "B": RED}, order=order))
        for order in ("2A 2B", "2A 2B 2A 2B", "4A 4B")
    )
    assert steps(change_style(short, same, loom())) == []
    assert steps(change_style(short, long, loom())) == ["load_design"]


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
    assert found.old.reed_dents_per_10cm == found.new.reed_dents_per_10cm
    assert "change_reed" not in steps(found)
    assert found.width is not None
    assert found.width.change_pct != 0


class TestTheNewStyleIsJudgedAsItIsWoven:
    """At 5 % of weft crimp 114.29 dents/10 cm give 160 cm; the loom that follows keeps them."""

    ON = loom(reeds_in_stock_dents_per_10cm=(117.0,))
    NEW = construction(weft=threads(22.0, crimp_pct=6.0))

    def test_all_sections_speak_of_the_reed_that_stays(self) -> None:
        found = change_style(construction(), self.NEW, self.ON)
        assert found.route == "keep"
        assert found.width is not None
        # 160 x 1.06 / 1.05 cm would need 113.21 dents/10 cm.
        assert found.width.change_pct == pytest.approx(100 * (1.05 / 1.06 - 1), abs=0.01)
        assert found.new.reed_dents_per_10cm == found.width.reed_dents_per_10cm == 114.29
        assert found.new.reed_width_cm == found.width.reed_width_cm
        # Alone it would need a reed that is not in stock; that on the loom is there.
        assert severity("reed.not_in_stock", self.NEW, self.ON) == "warning"
        assert found.findings == ()
        again = change_style(construction(), construction(weave=named("2/2 twill Z")), self.ON)
        assert (again.route, again.findings) == ("keep", ())
        anew = change_style(construction(), construction(weave=named("2/1 twill Z")), self.ON)
        assert anew.route == "draw_in"
        assert "reed.not_in_stock" in {each.code for each in anew.findings}
        for change, is_missing in ((found, False), (anew, True)):
            assert change.width is not None
            assert ("dents/10 cm, which is not in stock:" in change.width.message) is is_missing

    def test_a_reed_in_which_the_cloth_has_an_error_does_not_stay(self) -> None:
        wide = Requirements(finished_width_cm=RequiredRange(min=159.5))
        found = change_style(construction(), replace(self.NEW, requirements=wide), self.ON)
        assert (found.route, found.new.reed_dents_per_10cm) == ("change_reed", 113.21)
        kept = [each.route for each in found.alternatives]
        assert "keep" not in kept

    def test_a_width_beyond_the_accepted_change_is_a_finding(self) -> None:
        old = construction(weft=threads(22.0, crimp_pct=None))
        fine = {"A": Yarn(designation="12 tex", fibre="cotton")}
        new = construction(weft=threads(22.0, crimp_pct=None, yarns=fine))
        found = change_style(old, new, loom())
        assert found.width is not None
        assert 1.5 < found.width.change_pct <= 3.0
        (warned,) = (each for each in found.findings if each.code == "reed.sett_mismatch")
        assert warned.message_values["change_pct"] == pytest.approx(
            found.width.change_pct, abs=1e-3
        )
        assert warned.pointer == "/to/reed/dents_per_10cm"
        assert found.new.verdict == "weavable_with_warnings"


@pytest.mark.parametrize("crimp_pct", [None, 1.0])
def test_a_width_that_is_far_from_the_order_is_not_left_to_an_estimate(
    crimp_pct: float | None,
) -> None:
    old = construction(weft=threads(22.0, crimp_pct=None))
    new = construction(weft=threads(22.0, crimp_pct=crimp_pct), weave=named("2/2 warp rib"))
    found = change_style(old, new, loom())
    assert found.route == "change_reed"
    (kept,) = found.alternatives
    assert (kept.route, "another width to be accepted" in kept.needs) == ("keep", True)


@pytest.mark.parametrize("dents", [105.0, 125.0])
def test_a_reed_that_did_not_give_its_own_cloth_its_width_is_not_kept(dents: float) -> None:
    unknown = threads(22.0, crimp_pct=None)
    old = construction(weft=unknown, reed=Reed(dents_per_10cm=dents, ends_per_dent=2))
    for new in (
        construction(weft=unknown),
        construction(weft=unknown, warp=threads(24.0, yarns={"A": RED})),
    ):
        found = change_style(old, new, loom())
        assert found.width is not None
        assert abs(found.width.change_pct) < 1.5
        assert found.new.verdict == "weavable"


def test_another_reed_alone_is_sleyed() -> None:
    found = change(construction(reed=Reed(dents_per_10cm=76.19, ends_per_dent=3)))
    assert found.route == "change_reed"


def test_another_weave_with_another_draft_is_drawn_in() -> None:
    found = change(construction(weave=named("5-end satin move 2")))
    assert found.route == "draw_in"
    assert found.off_loom_hours


def test_another_design_on_the_jacquard_is_minutes() -> None:
    old, new = construction(), construction(weave=named("2/2 twill Z"))
    found = change_style(old, new, jacquard())
    assert steps(found) == ["load_design"]
    assert stop_hours(found) < 0.5


def test_threading_a_jacquard_takes_days_so_new_ends_are_tied() -> None:
    """Trade fact (common practice, no source): even a few thousand ends take days to thread."""
    red = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")
    new = construction(warp=threads(24.0, yarns={"A": red}))
    found = change_style(construction(), new, jacquard())
    assert found.route == "tie_in"
    threading = next(one for one in found.alternatives if one.route == "thread_jacquard")
    assert threading.loom_stop_hours > 24
    assert stop_hours(found) < 8


def test_rates_come_from_the_request_before_the_loom_before_the_default() -> None:
    red = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")
    new = construction(warp=threads(24.0, yarns={"A": red}))
    own = loom(changeover_rates=(("knots_per_h", 12000.0),))
    default = change_style(construction(), new, loom())
    by_loom = change_style(construction(), new, own)
    by_request = change_style(construction(), new, own, rates={"knots_per_h": 24000.0})
    hours = [stop_hours(one) for one in (default, by_loom, by_request)]
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


def test_faults_say_which_of_the_two_cloths() -> None:
    wrong = construction(warp=threads(24.0, order="7Q"))
    with pytest.raises(InputError) as refused:
        change(wrong)
    assert refused.value.faults[0].pointer == "/to/warp/order"
    with pytest.raises(InputError) as refused:
        change_style(wrong, construction(), loom())
    assert refused.value.faults[0].pointer == "/from/warp/order"


def test_each_style_has_its_verdict_on_the_loom() -> None:
    found = change(replace(construction(), width_cm=400.0))
    assert (found.old.verdict, found.new.verdict) == ("weavable", "not_weavable")


RED = Yarn(designation="20 tex", fibre="cotton", colour="#a01010")


class TestADraftThatCanWeaveTheNewClothStays:
    """What a draft can weave, worked by hand: common practice, no source."""

    def test_twill_to_plain_on_a_straight_draft_is_minutes(self) -> None:
        found = change_style(construction(weave=named("2/2 twill Z")), construction(), loom())
        assert (found.route, steps(found)) == ("keep", ["load_design"])
        assert found.loom_stop_hours == pytest.approx(5 / 60, rel=1e-4)
        assert found.draft is not None
        assert found.draft.kept
        assert (found.draft.threading, found.draft.lift_plan) == ((1, 2, 3, 4), ("1010", "0101"))

    @pytest.mark.parametrize("weave", ["2/2 warp rib", "2/2 hopsack", "3/1 twill S", "1/3 twill Z"])
    def test_so_is_every_weave_of_four_ends(self, weave: str) -> None:
        found = change_style(
            construction(weave=named("2/2 twill Z")), construction(weave=named(weave)), loom()
        )
        assert found.route == "keep"

    def test_on_cams_other_cams_are_put_in_and_nothing_is_drawn_in(self) -> None:
        cams = loom(shedding=shedding(kind=SheddingKind.CAM, shafts=8, max_pattern_picks=8))
        twill = construction(weave=named("2/2 twill Z"))
        assert steps(change_style(twill, construction(), cams)) == ["change_cams"]

    def test_plain_on_a_herringbones_draft_fails_at_the_clean_cut(self) -> None:
        """At the cut two neighbours are on shafts that plain lifts alike."""
        herringbone = construction(weave=named("2/2 herringbone 4"))
        assert change_style(herringbone, construction(), loom()).route == "draw_in"
        assert change_style(construction(), herringbone, loom()).route == "draw_in"

    def test_plain_on_a_point_draft_is_woven(self) -> None:
        diamond = construction(draft=DraftRequest(threading=(1, 2, 3, 4, 3, 2)))
        assert change_style(diamond, construction(), loom()).route == "keep"

    def test_a_draft_over_more_shafts_stays_for_the_cloth_that_needs_fewer(self) -> None:
        """Gabardine straight over six shafts, then the same cloth without a requested draft."""
        six = DraftRequest(threading=(1, 2, 3, 4, 5, 6))
        old = construction(weave=named("2/1 twill Z"), draft=six)
        found = change_style(old, construction(weave=named("2/1 twill Z")), loom())
        assert (found.route, found.loom_stop_hours) == ("keep", 0)

    def test_a_requested_draft_stays_if_only_the_numbers_of_its_shafts_differ(self) -> None:
        twill = construction(weave=named("2/2 twill Z"))
        renumbered = replace(twill, draft=DraftRequest(threading=(2, 4, 1, 3)))
        other = replace(twill, draft=DraftRequest(threading=(1, 2, 3, 4, 5, 6, 7, 8)))
        assert change_style(twill, renumbered, loom()).route == "keep"
        assert change_style(twill, other, loom()).route == "draw_in"

    def test_a_draft_requested_by_its_name_may_be_over_more_shafts(self) -> None:
        eight = DraftRequest(threading=(1, 2, 3, 4, 5, 6, 7, 8))
        old = construction(weave=named("2/2 twill Z"), draft=eight)
        straight = replace(old, draft=DraftRequest(threading="straight"))
        assert change_style(old, straight, loom()).route == "keep"
        skip = construction(draft=DraftRequest(threading=(1, 3, 2, 4)))
        assert change_style(skip, replace(skip, draft=straight.draft), loom()).route == "draw_in"

    def test_a_draft_whose_healds_would_be_crowded_does_not_serve(self) -> None:
        """3840 ends on two shafts at 168 cm are 11.4 healds/cm; the loom allows 10."""
        two = construction(draft=DraftRequest(threading=(1, 2)))
        assert change_style(two, construction(), loom()).route == "draw_in"
        roomy = loom(shedding=shedding(max_healds_per_cm_per_shaft=12.0, max_healds_per_shaft=None))
        assert change_style(two, construction(), roomy).route == "keep"

    def test_only_the_selvedges_are_drawn_in_anew_if_the_ground_stays(self) -> None:
        own = construction(selvedge=Selvedge(ends_per_side=20, shafts=2))
        ground = construction(selvedge=Selvedge(ends_per_side=20))
        plan = change_style(ground, own, loom())
        assert plan.route == "keep"
        assert [step.step for step in plan.steps] == ["draw_selvedges", "load_design"]
        assert plan.steps[0].hours == pytest.approx(40 / 150, rel=1e-4)
        assert "Draw 40 selvedge ends in anew by hand, on 2 shafts of their own" in (
            plan.steps[0].message
        )
        back = change_style(own, ground, loom())
        assert "on the shafts of the ground" in back.steps[0].message
        # Twenty ends more, all of them of the selvedges: only these are drawn in.
        wider = replace(own, selvedge=Selvedge(ends_per_side=30, shafts=2))
        kinds = [step.step for step in change_style(own, wider, loom()).steps]
        assert "draw_in_by_hand" in kinds
        assert "draw_selvedges" not in kinds
        # As many ends, of which twenty of the ground go to the selvedges.
        pinched = replace(wider, width_cm=wider.width_cm - 20 / wider.warp.threads_per_cm)
        step = change_style(own, pinched, loom()).steps[0]
        assert step.step == "draw_selvedges"
        assert step.hours == pytest.approx(20 / 150, rel=1e-4)
        twill = replace(own, weave=named("2/2 twill Z"))
        assert [step.step for step in change_style(twill, own, loom()).steps] == ["load_design"]
        # The loom has no shafts for them beside the draft that is on it.
        few = loom(shedding=shedding(shafts=5, max_healds_per_shaft=None))
        assert change_style(ground, own, few).route == "draw_in"

    def test_another_number_of_panels_is_sleyed_anew(self) -> None:
        wide = loom(reed_width_cm=340.0)
        two = construction(panels=2, width_cm=150.0, length_m=500.0)
        one = construction(width_cm=300.0, length_m=500.0)
        plan = change_style(two, one, wide)
        assert plan.route == "change_reed"
        step = plan.steps[0]
        # Half of the ends are moved over the gap, 800 an hour, and half an hour besides.
        assert step.hours == pytest.approx(0.5 + plan.new.total_ends / 2 / 800, rel=1e-3)
        assert "for 1 panel instead of 2" in step.message
        assert change_style(two, two, wide).route == "keep"

    def test_cords_cast_out_evenly_are_threaded_anew(self) -> None:
        """Outer ends left out would leave a harness of 120 cm for 150 cm in the reed."""
        harness = jacquard(harness_ends_per_cm=30.0)
        satin = construction(weave=named("8-end satin"), width_cm=150.0)
        dense, sparse = (replace(satin, warp=threads(sett)) for sett in (30.0, 24.0))
        found = change_style(dense, sparse, harness)
        assert "shedding.harness_density" in {each.code for each in found.findings}
        assert (found.route, steps(found)) == ("thread_jacquard", ["thread_jacquard"])
        # A sett that is near enough is woven through the cords that are in use.
        near = replace(satin, warp=threads(24.5))
        assert change_style(sparse, near, harness).route == "tie_in"

    def test_on_a_jacquard_the_hooks_take_the_place_of_the_shafts(self) -> None:
        """1200 hooks serve all repeats that divide 1200; of 7 ends, three hooks are cast out."""
        plain, seven = construction(), construction(weave=named("7-end satin move 3"))
        for name in ("2/1 twill Z", "5-end satin move 2", "8-end satin move 3"):
            assert change_style(plain, construction(weave=named(name)), jacquard()).route == "keep"
        assert change_style(plain, seven, jacquard()).route == "thread_jacquard"


@pytest.mark.parametrize("ends_per_cm", [24.0, 40.0, 52.4])
def test_a_new_warp_of_the_same_cloth_is_tied_in_at_any_number_of_ends(ends_per_cm: float) -> None:
    """The poplin of 8384 ends was to be drawn in, while its own report counted the knots."""
    old = construction(warp=threads(ends_per_cm))
    new = construction(warp=threads(ends_per_cm, yarns={"A": RED}))
    found = change_style(old, new, loom())
    assert found.route == "tie_in"
    (drawn,) = found.alternatives
    shorter = drawn.loom_stop_hours < stop_hours(found)
    assert shorter is (ends_per_cm >= 40)  # 6400 ends: 7.8 h against 6
    assert ("h less, but needs people to draw" in drawn.needs) is shorter
    assert "second set of shafts" in drawn.needs


ordinary = st.builds(
    construction,
    warp=st.builds(
        threads,
        st.sampled_from((14.0, 18.5, 24.0)),
        crimp_pct=st.sampled_from((None, 5.0, 7.0)),
        yarns=st.sampled_from(({"A": COTTON_20_TEX}, {"A": RED})),
    ),
    weft=st.builds(
        threads, st.sampled_from((12.0, 18.0)), crimp_pct=st.sampled_from((None, 4.0, 6.0))
    ),
    weave=st.sampled_from(("plain", "2/2 twill Z", "2/2 herringbone 4", "5-end satin move 2")).map(
        named
    ),
    width_cm=st.sampled_from((120.0, 150.0, 155.0)),
    selvedge=st.builds(Selvedge, ends_per_side=st.sampled_from((0, 24))),
    reed=st.builds(Reed, ends_per_dent=st.sampled_from((None, 2, 3))),
    draft=st.sampled_from((None, DraftRequest(threading="straight"))),
)
"""Cloths that the loom weaves, and pairs of which ask for every route."""

shaft_looms_and_jacquards = st.sampled_from((loom(), jacquard(harness_ends_per_cm=None)))


@pytest.mark.slow
@given(cloth=ordinary, on=shaft_looms_and_jacquards)
@share_of_examples(0.5)
def test_a_further_warp_is_tied_in_with_the_knots_of_the_report(
    cloth: Construction, on: Loom
) -> None:
    """The plan of the warp in a report and the change-over never contradict one another."""
    dyed = Yarn(designation="20 tex", fibre="cotton", colour="#20a030")
    again = replace(cloth, warp=replace(cloth.warp, yarns={"A": dyed}))
    found = change_style(cloth, again, on)
    assume(found.route is not None)
    plan = report(again, on).warp
    assert found.route == "tie_in"
    knots = f"Tie {plan.knots // plan.beams_needed} new ends"
    assert found.steps[0].message.startswith(knots)


@given(old=ordinary, new=ordinary, on=shaft_looms_and_jacquards)
@share_of_examples(0.5)
def test_ranking_and_change_over_decide_alike(
    old: Construction, new: Construction, on: Loom
) -> None:
    found = change_style(old, new, on)
    (match,) = match_looms(new, [on], on_loom={"test-rapier": old}).matches
    if match.changeover is None:
        assert (match.verdict, found.route, found.steps) == ("not_weavable", None, ())
    else:
        assert (found.route, found.loom_stop_hours, found.off_loom_hours) == (
            match.changeover.route,
            match.changeover.loom_stop_hours,
            match.changeover.off_loom_hours,
        )


class TestWidth:
    """The same ends in the same reed are as wide; what changes is the cloth's width."""

    def test_another_weft_in_the_same_reed_changes_the_cloths_width(self) -> None:
        old = construction(weft=threads(22.0, crimp_pct=5.0))
        new = construction(weft=threads(22.0, crimp_pct=6.0))
        found = change_style(old, new, loom())
        assert found.route == "keep"
        assert "set_width" not in steps(found)
        assert found.width is not None
        assert found.width.reed_width_cm == pytest.approx(160 * 1.05, rel=1e-4)
        assert found.width.grey_width_cm == pytest.approx(160 * 1.05 / 1.06, rel=1e-4)
        assert found.width.change_pct == pytest.approx(100 * (1.05 / 1.06 - 1), rel=1e-2)
        assert "158.5 cm wide in the grey, -0.9 %" in found.width.message

    def test_a_stated_crimp_that_needs_another_reed_gets_it_and_the_width_is_offered(
        self,
    ) -> None:
        old = construction(weft=threads(22.0, crimp_pct=5.0))
        new = construction(weft=threads(22.0, crimp_pct=9.0))
        found = change_style(old, new, loom())
        assert found.route == "change_reed"
        (kept,) = found.alternatives
        assert kept.route == "keep"
        assert kept.loom_stop_hours == 0
        assert "another width to be accepted" in kept.needs
        assert "154.1 cm wide" in kept.needs  # 160 x 1.05 / 1.09

    def test_an_estimated_crimp_alone_does_not_have_the_warp_sleyed_again(self) -> None:
        unknown = {
            "warp": threads(24.0, crimp_pct=None),
            "weft": threads(22.0, crimp_pct=None),
        }
        old = construction(weave=named("2/2 twill Z"), **unknown)
        new = construction(**unknown)
        found = change_style(old, new, loom())
        assert found.route == "keep"
        assert found.width is not None
        assert found.width.change_pct < -1.5
        assert "rests on an estimated weft crimp" in found.width.message
        (sleyed,) = found.alternatives
        assert sleyed.route == "change_reed"

    def test_another_sett_with_as_many_ends_is_sleyed_again(self) -> None:
        """24 and 25.6 ends/cm at 160 and 150 cm: 3840 ends, but the orders differ in width."""
        unknown = threads(22.0, crimp_pct=None)
        new = construction(width_cm=150.0, warp=threads(25.6), weft=unknown)
        found = change_style(construction(weft=unknown), new, loom())
        assert found.route == "change_reed"


DAMASK_LOOM = jacquard(hooks=2400, harness_ends_per_cm=36.0, selvedge_hooks=64)
DAMASK_LOOM = replace(DAMASK_LOOM, reed_width_cm=280.0, speed_curve=())


def unknown_crimp(weave: str, ends_per_cm: float = 36.0, colour: str | None = None) -> Construction:
    yarn = Yarn(designation="Ne 40", fibre="cotton")
    return construction(
        weave=named(weave),
        warp=threads(ends_per_cm, crimp_pct=None, yarns={"A": replace(yarn, colour=colour)}),
        weft=threads(24.0, crimp_pct=None, yarns={"A": yarn}),
        width_cm=250.0,
        length_m=1000.0,
    )


class TestTheCordsOfAHarnessInTheReedThatStays:
    """Cords that are cast out for a reed run in it as before, whatever cloth is woven in it."""

    def test_an_estimated_crimp_alone_has_no_harness_threaded_anew(self) -> None:
        plain, twill = unknown_crimp("plain"), unknown_crimp("2/2 twill Z")
        found = change_style(plain, twill, DAMASK_LOOM)
        on_shafts = change_style(
            plain,
            twill,
            replace(DAMASK_LOOM, shedding=shedding(max_healds_per_shaft=None)),
        )
        for each in (found, on_shafts):
            assert (each.route, steps(each)) == ("keep", ["load_design"])
            assert [other.route for other in each.alternatives] == ["change_reed"]
        assert found.width is not None
        assert found.width.change_pct == pytest.approx(2.0, abs=0.1)
        # The same with the reed on the loom written into the order, and in a sequence.
        stated = replace(
            twill, reed=replace(twill.reed, dents_per_10cm=found.old.reed_dents_per_10cm)
        )
        assert change_style(plain, stated, DAMASK_LOOM).route == "keep"
        twill_first = sequence_orders([twill], DAMASK_LOOM, on_loom=plain)
        assert [each.route for each in twill_first.sequence] == ["keep"]
        # A new warp is tied to the old one in either reed.
        red = change_style(plain, unknown_crimp("2/2 twill Z", colour="#a01010"), DAMASK_LOOM)
        assert red.route == "tie_in"
        assert [each.route for each in red.alternatives] == ["tie_in", "thread_jacquard"]

    def test_a_cloth_that_would_be_wider_by_more_is_listed_in_the_reed_on_the_loom(self) -> None:
        found = change_style(
            unknown_crimp("plain"), unknown_crimp("8-end satin move 3"), DAMASK_LOOM
        )
        # In the reed of its own the cords that stay are between one and two inches aslant.
        assert found.route == "change_reed"
        assert found.width is not None
        aslant = re.search(r"(\d+) mm wider than the warp on either side", found.width.message)
        assert aslant is not None
        kept, threaded = found.alternatives
        assert (kept.route, threaded.route) == ("keep", "thread_jacquard")
        assert "another width to be accepted" in kept.needs
        assert found.loom_stop_hours is not None
        assert found.loom_stop_hours < threaded.loom_stop_hours / 5
        assert 25.4 < float(aslant[1]) < 50.8
        (next_one,) = sequence_orders(
            [unknown_crimp("8-end satin move 3")], DAMASK_LOOM, on_loom=unknown_crimp("plain")
        ).sequence
        assert next_one.width == found.width

    def test_another_tie_and_another_density_of_cords_are_still_threaded(self) -> None:
        sparse = unknown_crimp("plain", 24.0)
        found = change_style(unknown_crimp("plain"), sparse, DAMASK_LOOM)
        assert (found.route, found.alternatives) == ("thread_jacquard", ())
        # 7 ends do not divide the hooks in use: three of them are cast out for the repeat.
        seven = unknown_crimp("7-end satin move 3")
        assert change_style(unknown_crimp("plain"), seven, DAMASK_LOOM).route == "thread_jacquard"


def test_a_cloth_that_cannot_be_woven_gets_its_findings_and_nothing_to_set_up() -> None:
    found = change_style(construction(), construction(width_cm=400.0), loom())
    assert (found.route, found.steps, found.alternatives) == (None, (), ())
    assert (found.loom_stop_hours, found.draft, found.width) == (None, None, None)
    (error,) = [each for each in found.findings if each.severity == "error"]
    assert (error.code, error.pointer) == ("width.reed_space", "/to/width_cm")
    assert found.caution


def test_what_is_on_the_loom_need_not_be_weavable_by_the_rules() -> None:
    found = change_style(construction(width_cm=400.0), construction(), loom())
    assert found.old.verdict == "not_weavable"
    assert found.route is not None


def test_the_faults_of_both_cloths_come_in_one_answer() -> None:
    wrong = construction(warp=threads(24.0, order="7Q"))
    with pytest.raises(InputError) as refused:
        change_style(wrong, replace(wrong), loom())
    assert [fault.pointer for fault in refused.value.faults] == [
        "/from/warp/order",
        "/to/warp/order",
    ]


def test_assumed_rates_have_a_band_and_a_grade() -> None:
    rates = [line for line in change(construction()).assumptions if "/rates/" in line.pointer]
    assert len(rates) == len(RATE_NAMES)
    assert all(line.band is not None and line.grade is not None for line in rates)


class TestWarpLeftOnTheLoom:
    """20 tex, 3840 ends, 5 % of crimp. Worked by hand; beams are taken as filled."""

    def test_a_warp_that_does_not_suffice_gets_a_new_beam(self) -> None:
        old, new = construction(length_m=4000.0), construction(length_m=4000.0)
        found = change_style(old, new, loom())
        assert (found.route, steps(found)) == ("tie_in", ["weave_out", "tie_in"])
        assert stop_hours(found) == pytest.approx(0.25 + 3840 / 6000 + 3840 / 1250, rel=1e-4)
        assert found.warp is not None
        assert found.warp.needed_m == pytest.approx(4200)
        filling = report(old).warp.beam_capacity_m - (report(old).warp.length_m - 4200)
        assert found.warp.left_m == pytest.approx(filling - 4200, rel=1e-3)
        assert found.warp.left_after_m == pytest.approx(2 * (filling - 4200), rel=1e-3)

    def test_the_warp_that_is_left_may_be_stated(self) -> None:
        old, new = construction(length_m=4000.0), construction(length_m=1000.0)
        enough = change_style(old, new, loom(), warp_left_m=1050.0)
        short = change_style(old, new, loom(), warp_left_m=1049.0)
        assert (enough.route, short.route) == ("keep", "tie_in")
        assert enough.warp is not None
        assert (enough.warp.kept, enough.warp.left_after_m) == (True, 0)
        assert "until the 1049 m of warp that are left" in short.steps[0].message
        assert "needs 1050 m" in short.steps[0].message
        assumed = {line.pointer: line for line in change_style(old, new, loom()).assumptions}
        band = assumed["/warp_left_m"].band
        assert band is not None
        assert band.low == 0
        assert "/warp_left_m" not in {line.pointer for line in enough.assumptions}

    def test_a_new_beam_follows_when_the_rest_is_woven_out_in_the_new_style(self) -> None:
        old = construction(length_m=4000.0)
        new = construction(weave=named("2/2 twill Z"), weft=threads(20.0), length_m=4000.0)
        found = change_style(old, new, loom(), warp_left_m=2100.0)
        assert steps(found) == ["load_design", "set_picks", "weave_out", "tie_in"]
        # 5 min for the lift plan and 10 for the picks; the knots stop the loom 2000 m later.
        assert found.loom_stop_hours_at_start == pytest.approx(0.25, rel=1e-4)
        knots = 0.25 + 3840 / 6000 + 3840 / 1250
        assert stop_hours(found) == pytest.approx(0.25 + knots, rel=1e-4)
        weaving = found.steps[2]
        assert weaving.hours == pytest.approx(2000 / report(new).rates.output_m_per_h, rel=1e-4)
        assert (weaving.stops_loom, found.off_loom_hours) == (False, 0)

    def test_what_is_left_of_a_long_order_spares_the_next_one_of_its_fillings(self) -> None:
        """Of 10 500 m of warp, on beams that hold less than half, one filling is spared."""
        long = construction(length_m=10_000.0)
        few, many = (
            change_style(long, long, loom(), warp_left_m=left_m) for left_m in (10.0, 4000.0)
        )
        assert (few.route, many.route) == ("tie_in", "keep")
        # It takes two fillings: one in the steps and one further, or one that no step brings.
        knots = 0.25 + 3840 / 6000 + 3840 / 1250
        assert few.further_warps_hours == many.further_warps_hours
        assert many.further_warps_hours == pytest.approx(knots, rel=1e-4)
        assert many.further_warps_hours_band is not None
        assert many.further_warps_hours_band.low < knots < many.further_warps_hours_band.high
        (match,) = match_looms(long, [loom()]).matches
        assert match.further_warps_hours == pytest.approx(knots, rel=1e-4)

    def test_another_warp_needs_nothing_of_what_is_left(self) -> None:
        new = construction(warp=threads(24.0, yarns={"A": RED}))
        found = change_style(construction(), new, loom())
        assert found.warp is not None
        assert (found.warp.kept, found.warp.left_m) == (False, None)
        assert found.further_warps_hours == 0.0
        assert "/warp_left_m" not in {line.pointer for line in found.assumptions}

    def test_a_length_that_cannot_be_is_pointed_at(self) -> None:
        with pytest.raises(InputError) as refused:
            change(construction(), warp_left_m=-1.0)
        assert refused.value.faults[0].pointer == "/warp_left_m"


class TestAnAssumedDentingFollowsTheLoom:
    def test_threes_on_the_loom_serve_an_order_that_leaves_the_denting_open(self) -> None:
        old = construction(reed=Reed(ends_per_dent=3))
        found = change_style(old, construction(reed=Reed()), loom())
        assert (found.new.ends_per_dent, found.new.reed_dents_per_10cm) == (3, 76.19)
        assert (found.route, steps(found)) == ("keep", [])
        assert found.width is not None
        assert found.width.change_pct == pytest.approx(0, abs=0.01)

    def test_a_stated_denting_is_sleyed(self) -> None:
        old = construction(reed=Reed(ends_per_dent=3))
        assert change_style(old, construction(), loom()).route == "change_reed"

    def test_a_denting_that_a_check_warns_of_does_not_serve(self) -> None:
        old = construction(reed=Reed(ends_per_dent=12))
        assert change_style(old, construction(reed=Reed()), loom()).route == "change_reed"


def test_the_findings_on_the_cloth_on_the_loom_are_reported() -> None:
    found = change_style(construction(width_cm=400.0), construction(), loom())
    assert "/from/width_cm" in {each.pointer for each in found.findings_on_loom}
