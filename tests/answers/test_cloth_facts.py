"""The facts of a cloth: the same in whatever stage and unit it is stated."""

from __future__ import annotations

from dataclasses import astuple, replace

import pytest
from builders import (
    COTTON_20_TEX,
    construction,
    example_loom,
    example_order,
    loom,
    report,
    threads,
)
from hypothesis import assume, given
from hypothesis import strategies as st

from weavability.answers.validation import assess
from weavability.checks.finding import Verdict
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import (
    Construction,
    Finishing,
    Selvedge,
    Stage,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.thread_systems import threads_by_yarn
from weavability.textiles.yarns import Yarn

setts = st.floats(2.0, 80.0)
widths = st.floats(10.0, 400.0)
crimps = st.floats(0.0, 40.0)
losses = st.floats(-5.0, 30.0)


@st.composite
def grey_cloths(draw: st.DrawFn) -> Construction:
    return construction(
        warp=threads(draw(setts), crimp_pct=draw(crimps)),
        weft=threads(draw(setts), crimp_pct=draw(crimps)),
        weave=parse_weave(draw(st.sampled_from(("plain", "2/2 twill Z", "5-end satin move 2")))),
        width_cm=draw(widths),
        length_m=draw(st.floats(1.0, 1e5)),
        panels=draw(st.integers(1, 3)),
        panel_gap_cm=draw(st.floats(0.0, 10.0)),
        selvedge=Selvedge(ends_per_side=draw(st.integers(0, 40))),
        finishing=Finishing(
            width_shrinkage_pct=draw(losses),
            length_shrinkage_pct=draw(losses),
            relaxation_pct=draw(losses),
        ),
    )


def kept(loss_pct: float | None) -> float:
    return 1 - (loss_pct or 0.0) / 100


def as_finished(grey: Construction) -> Construction:
    """The same cloth as it is measured after finishing."""
    width, length = (
        kept(grey.finishing.width_shrinkage_pct),
        kept(grey.finishing.length_shrinkage_pct),
    )
    return replace(
        grey,
        stage=Stage.FINISHED,
        warp=replace(grey.warp, threads_per_cm=grey.warp.threads_per_cm / width),
        weft=replace(grey.weft, threads_per_cm=grey.weft.threads_per_cm / length),
        width_cm=grey.width_cm * width,
        length_m=(grey.length_m or 0.0) * length,
    )


def on_the_loom(grey: Construction) -> Construction:
    """The same cloth as it is measured in the reed and under the take-up's tension."""
    straight = 1 + (grey.weft.crimp_pct or 0.0) / 100
    length = kept(grey.finishing.relaxation_pct)
    return replace(
        grey,
        stage=Stage.LOOM_STATE,
        warp=replace(grey.warp, threads_per_cm=grey.warp.threads_per_cm / straight),
        weft=replace(grey.weft, threads_per_cm=grey.weft.threads_per_cm * length),
        width_cm=grey.width_cm * straight,
        length_m=(grey.length_m or 0.0) / length,
    )


def figures(facts: ClothFacts) -> list[float]:
    states = facts.states
    three = (states.loom_state, states.grey, states.finished)
    parts = (facts.widths, facts.lengths, facts.setting, *three)
    found = [
        float(figure)
        for part in parts
        for figure in astuple(part)
        if isinstance(figure, float | int)
    ]
    found += [facts.ends.total / facts.widths.reed_cm, facts.picks_per_cm_on_loom]
    found += [facts.thickness_mm, facts.longest_float_mm]
    systems = (facts.warp, facts.weft)
    return found + [one.threads_per_cm for one in systems] + [one.crimp_pct for one in systems]


def between_two_ends(cloth: Construction) -> bool:
    """Whether rounding decides the number of ends: then the last digit of a sett may too."""
    ends = cloth.warp.threads_per_cm * cloth.width_cm
    return abs(ends % 1 - 0.5) < 1e-6


@given(grey_cloths(), st.sampled_from((as_finished, on_the_loom)))
def test_the_stage_in_which_a_cloth_is_stated_changes_nothing(
    grey: Construction, measured: object
) -> None:
    assume(not between_two_ends(grey))
    other = as_finished(grey) if measured is as_finished else on_the_loom(grey)
    one, two = cloth_facts(grey), cloth_facts(other)
    assert figures(two) == pytest.approx(figures(one), rel=1e-9)
    assert (two.ends.ground, two.ends.total) == (one.ends.ground, one.ends.total)
    assert two.covers.cloth == pytest.approx(one.covers.cloth, rel=1e-9)


@given(grey_cloths())
def test_a_crimp_that_is_estimated_is_found_again_from_the_loom(grey: Construction) -> None:
    unsaid = replace(
        grey,
        warp=replace(grey.warp, crimp_pct=None),
        weft=replace(grey.weft, crimp_pct=None),
    )
    facts = cloth_facts(unsaid)
    stated = replace(grey, weft=replace(grey.weft, crimp_pct=facts.weft.crimp_pct))
    loom_stated = on_the_loom(stated)
    asked = replace(
        loom_stated,
        warp=replace(loom_stated.warp, crimp_pct=None),
        weft=replace(loom_stated.weft, crimp_pct=None),
    )
    # The estimate's own band is 5 points; one refinement must not add a tenth of it.
    assert cloth_facts(asked).weft.crimp_pct == pytest.approx(facts.weft.crimp_pct, abs=0.5)


@given(grey_cloths())
def test_what_a_cloth_is_made_of_adds_up(grey: Construction) -> None:
    facts = cloth_facts(grey)
    panels, per_side = facts.panels, grey.selvedge.ends_per_side or 0
    assert facts.ends.selvedge == 2 * panels * per_side
    assert facts.ends.total == panels * facts.ends.ground + facts.ends.selvedge
    assert facts.ends.ground == pytest.approx(
        facts.warp.threads_per_cm * facts.widths.grey_cm, abs=0.5 + 1e-6
    )
    assert facts.widths.reed_cm == pytest.approx(
        panels * facts.widths.panel_reed_cm + (panels - 1) * facts.widths.panel_gap_cm
    )
    assert facts.widths.panel_reed_cm == pytest.approx(
        facts.widths.grey_cm * (1 + facts.weft.crimp_pct / 100)
    )
    assert facts.lengths.loom_m * panels == pytest.approx(facts.lengths.grey_m)


@given(grey_cloths(), st.floats(1.01, 2.0))
def test_a_closer_cloth_is_tighter_heavier_and_more_covered(
    grey: Construction, factor: float
) -> None:
    closer = replace(
        grey, weft=replace(grey.weft, threads_per_cm=grey.weft.threads_per_cm * factor)
    )
    one, two = cloth_facts(grey), cloth_facts(closer)
    assert two.setting.tightness_pct >= one.setting.tightness_pct * (1 - 1e-9)
    assert two.states.grey.mass_g_per_m2 > one.states.grey.mass_g_per_m2
    assert two.covers.weft == pytest.approx(factor * one.covers.weft)
    assert two.setting.picks_use_pct == pytest.approx(factor * one.setting.picks_use_pct)
    assert two.covers.warp == one.covers.warp


@given(grey_cloths())
def test_cover_in_cotton_units_is_the_same_cover(grey: Construction) -> None:
    covers = cloth_facts(grey).covers
    for si, cotton in (
        (covers.warp, covers.warp_cotton),
        (covers.weft, covers.weft_cotton),
        (covers.cloth, covers.cloth_cotton),
    ):
        assert cotton == pytest.approx(1.0452221 * si, rel=1e-6, abs=1e-9)


@given(st.integers(1, 5000), st.integers(0, 200))
def test_every_end_is_of_some_yarn(total: int, extra: int) -> None:
    warp = threads(24.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="24A 4B 24A 8B")
    counts = threads_by_yarn(
        cloth_facts(construction(warp=warp)).warp, total=total, extra=extra, extra_key="A"
    )
    assert sum(counts.values()) == total + extra
    assert counts["A"] >= extra


@given(st.lists(st.sampled_from("AB"), min_size=2, max_size=40))
def test_means_are_weighted_by_the_order(order: list[str]) -> None:
    assume({"A", "B"} == set(order))
    yarns = {"A": Yarn(designation="10 tex"), "B": Yarn(designation="40 tex")}
    facts = cloth_facts(construction(warp=threads(24.0, yarns=yarns, order=" ".join(order))))
    expected = sum(10.0 if key == "A" else 40.0 for key in order) / len(order)
    assert facts.warp.linear_density_tex == pytest.approx(expected)


def test_the_longest_float_is_threads_passed_over_times_their_spacing() -> None:
    # A 3/1 twill floats over three threads: picks 0.5 mm apart, ends 0.3125 mm apart.
    facts = cloth_facts(
        construction(weave=parse_weave("3/1 twill Z"), warp=threads(32.0), weft=threads(20.0))
    )
    assert facts.longest_float_mm == pytest.approx(1.5)


def test_two_yarns_need_an_order() -> None:
    yarns = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    with pytest.raises(InputError) as refused:
        cloth_facts(construction(warp=threads(24.0, yarns=yarns), weft=threads(22.0, yarns=yarns)))
    assert [fault.pointer for fault in refused.value.faults] == ["/warp/order", "/weft/order"]


def test_all_yarns_that_cannot_be_read_are_reported_at_once() -> None:
    wrong = Yarn(designation="twenty")
    with pytest.raises(InputError) as refused:
        cloth_facts(
            construction(
                warp=threads(24.0, yarns={"A": wrong}), weft=threads(22.0, yarns={"W": wrong})
            )
        )
    assert [fault.pointer for fault in refused.value.faults] == [
        "/warp/yarns/A/designation",
        "/weft/yarns/W/designation",
    ]


# Finished cloth is stated, its shrinkage is not: 5 % and 3 %, common practice.
def test_a_finished_cloth_is_taken_to_have_shrunk() -> None:
    facts = cloth_facts(construction(stage=Stage.FINISHED, finishing=Finishing()))
    assert facts.widths.grey_cm == pytest.approx(160.0 / 0.95)
    assert facts.warp.threads_per_cm == pytest.approx(24.0 * 0.95)
    assert facts.weft.threads_per_cm == pytest.approx(22.0 * 0.97)
    assert facts.widths.finished_cm == pytest.approx(160.0)
    pointers = {line.pointer for line in facts.assumptions}
    assert {"/finishing/width_shrinkage_pct", "/finishing/length_shrinkage_pct"} <= pointers


# Worked by hand: 32 x 152 = 4864 and 2 x 24 ends; 2432 and 2 x 6 dents in a reed of 160 are 152.75
# cm, where sett and crimp would need 152 x 1.05 = 159.6; 5.2 x 152.75 m/min.
def test_the_example_order_by_hand() -> None:
    answer = assess(example_order(), example_loom())
    setup, rates, cloth = answer.setup, answer.rates, answer.cloth
    assert setup.total_ends == 4912
    assert setup.selvedge_ends == 48
    assert setup.reed_width_cm == 152.75
    assert setup.reed_width_use_pct == pytest.approx(100 * 152.75 / 190, rel=1e-5)
    assert setup.threading == (1, 2, 3, 4)
    assert setup.healds_per_shaft == (1228,) * 4
    assert setup.healds_per_cm_per_shaft == pytest.approx(1228 / 152.75, rel=1e-5)
    assert rates.limited_by == "requested_speed"
    assert rates.speed_limits_picks_per_min["speed_curve"] == pytest.approx(604.7)
    assert rates.speed_limits_picks_per_min["insertion_rate"] == pytest.approx(752.864)
    assert rates.insertion_rate_m_per_min == 794.3
    assert rates.insertion_rate_use_pct == pytest.approx(69.07, abs=1e-2)
    assert rates.insertion_time_ms == pytest.approx(220 / (6 * 520) * 1000, rel=1e-5)
    assert rates.hand_overs_per_min == 520
    assert rates.output_m_per_h == 11.44
    assert rates.output_m2_per_h == 17.3888
    assert rates.hours_for_order == pytest.approx(3000 / 11.44, rel=1e-5)
    # tex = 590.5412474 / 20, both ways; 3.2 x 1.08 and 2.4 x 1.05 of it in each gram per m2.
    tex = 590.5412474 / 20
    assert cloth.warp_tex == cloth.weft_tex == pytest.approx(tex, rel=1e-5)
    assert cloth.mass_g_per_m2 == pytest.approx((3.2 * 1.08 + 2.4 * 1.05) * tex, rel=1e-5)
    assert answer.warp.length_m == pytest.approx(3000 * 1.08 + 4.6)
    # 4864 ends are 81 repeats of 60 and 4 over, all of A: 48 of 60, and the selvedges' 48.
    (of_a, of_b, weft, _leno, _catch_cord) = answer.yarn
    assert (of_a.threads, of_b.threads) == (81 * 48 + 4 + 48, 81 * 12)
    # 3000 m x 24 picks/cm x (1.5275 + 0.12 m, the usual rapier's waste) and 1 % of waste.
    assert weft.length_km == pytest.approx(7_200_000 * 1.6475e-3 * 1.01, rel=1e-5)
    assert weft.mass_kg == pytest.approx(weft.length_km * tex / 1000, rel=1e-4)


# 30.476 ground ends/cm at two a dent want 152.4 dents/10 cm, and the selvedges 12 dents more:
# the reed of 160 that was asked for does not go with sett, width and crimp.
def test_the_example_order_requests_the_wrong_reed() -> None:
    answer = assess(example_order(), example_loom())
    assert answer.verdict is Verdict.WEAVABLE_WITH_WARNINGS
    (warned,) = (found for found in answer.findings if found.severity == "warning")
    assert warned.code == "reed.sett_mismatch"
    assert warned.pointer == "/construction/reed/dents_per_10cm"
    assert warned.actual == 160.0
    assert warned.limit == pytest.approx(10 * (4864 / 2 + 2 * 6) / 159.6, abs=0.01)
    assert warned.remedies


IN_INCHES = frozenset({"/warp/ends_per_in", "/weft/picks_per_in", "/width_in", "/length_yd"})


@given(grey_cloths())
def test_inches_are_only_another_way_to_write_it(grey: Construction) -> None:
    one, two = cloth_facts(grey), cloth_facts(replace(grey, inch_fields=IN_INCHES))
    assert figures(one) == figures(two)
    assert one.assumptions == two.assumptions


def test_the_take_up_spaces_picks_under_tension() -> None:
    relaxed = construction(finishing=Finishing(relaxation_pct=2.0))
    assert report(relaxed).setup.picks_per_cm_on_loom == pytest.approx(22.0 * 0.98)
    assert report(relaxed, loom()).cloth.picks_per_cm == 22.0
