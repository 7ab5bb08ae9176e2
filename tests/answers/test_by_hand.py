"""Figures of a report worked out with pencil and paper."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import construction, loom, named, report, shedding, threads

from weavability.answers.loom_matching import match_looms
from weavability.checks.finding import Remedy
from weavability.looms.loom import Band, Loom, WarpBeam
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import (
    Allowances,
    Construction,
    DraftRequest,
    Finishing,
    Stage,
)


def shrinking(*, width_pct: float = 0.0, length_pct: float = 0.0) -> Finishing:
    return Finishing(
        width_shrinkage_pct=width_pct, length_shrinkage_pct=length_pct, relaxation_pct=0.0
    )


# Each gram of a square metre of grey cloth is on 0.95 x 0.97 m2 of it when finished.
def test_finished_cloth_is_heavier_by_what_it_shrank() -> None:
    facts = cloth_facts(construction(finishing=shrinking(width_pct=5.0, length_pct=3.0)))
    assert facts.states.grey.mass_g_per_m2 == pytest.approx((2.4 * 1.05 + 2.2 * 1.05) * 20)
    assert facts.states.finished.mass_g_per_m2 == pytest.approx(96.6 / (0.95 * 0.97))


# 30 ends/cm measured on finished cloth that shrank by a fifth were 24 in the grey; the estimate of
# crimp goes by the grey sett, in whatever stage it is stated.
def test_an_estimated_crimp_is_that_of_the_grey_cloth() -> None:
    unsaid = construction(warp=threads(24.0, crimp_pct=None), weft=threads(22.0, crimp_pct=None))
    shrunk = replace(
        unsaid,
        stage=Stage.FINISHED,
        finishing=shrinking(width_pct=20.0),
        warp=threads(30.0, crimp_pct=None),
        width_cm=128.0,
    )
    grey, finished = cloth_facts(unsaid), cloth_facts(shrunk)
    assert finished.warp.threads_per_cm == pytest.approx(24.0)
    assert finished.warp.crimp_pct == grey.warp.crimp_pct
    assert finished.weft.crimp_pct == grey.weft.crimp_pct


# A beam holds a mass of warp: with a tenth of size on it, that is a length of 1/1.1.
@pytest.mark.parametrize(("size_pct", "share"), [(None, 1.1), (10.0, 1.1), (14.0, 1.14)])
def test_a_beam_holds_less_warp_by_its_size_a_tenth_on_cotton_singles(
    size_pct: float | None, share: float
) -> None:
    bare = report(construction(allowances=Allowances(size_pct=0.0))).warp
    sized = report(construction(allowances=Allowances(size_pct=size_pct))).warp
    assert bare.beam_capacity_m / sized.beam_capacity_m == pytest.approx(share, rel=1e-5)


def remedies(code: str, cloth: Construction, on: Loom) -> list[Remedy]:
    (found,) = (one for one in report(cloth, on).findings if one.code == code)
    return list(found.remedies)


# Under tension 22 picks/cm lie at 22 x 0.9 = 19.8; a take-up of 18 gives 18 / 0.9 = 20 in the grey,
# and one of 22 at the least 22 / 0.9 = 24.44, rounded up to what can be set.
@pytest.mark.parametrize(("least", "most", "to"), [(4.0, 18.0, 20.0), (22.0, 80.0, 24.5)])
def test_picks_out_of_range_are_brought_to_the_limit_of_the_take_up(
    least: float, most: float, to: float
) -> None:
    relaxing = construction(finishing=replace(shrinking(), relaxation_pct=10.0))
    on = loom(picks_per_cm=Band(min=least, max=most))
    assert [each["to"] for each in remedies("picks.out_of_range", relaxing, on)] == [to]


# Near the jam, threads are taken out of one system until 95 % of the jam is
# just reached; two steps of 0.1 per cm more are beyond it.
@pytest.mark.parametrize("way", ["warp", "weft"])
def test_a_tight_cloth_is_loosened_by_no_more_than_it_needs(way: str) -> None:
    tight = construction(warp=threads(36.0), weft=threads(33.0))
    assert cloth_facts(tight).setting.tightness_pct > 95.0
    (remedy,) = (each for each in remedies("sett.tight", tight, loom()) if way in each["pointer"])

    def tightness_pct(per_cm: float) -> float:
        changed = replace(getattr(tight, way), threads_per_cm=per_cm)
        return cloth_facts(replace(tight, **{way: changed})).setting.tightness_pct

    to = float(str(remedy["to"]))
    assert tightness_pct(to) <= 95.0 < tightness_pct(to + 0.2)


# 190 cm less the gap of 4 cm leave 93 cm in the reed for each of two panels: 93 / 1.05 = 88.57 cm.
def test_two_panels_share_the_reed_space_less_the_gap() -> None:
    two = construction(width_cm=90.0, panels=2, panel_gap_cm=4.0)
    narrower = remedies("width.reed_space", two, loom())[-1]
    assert narrower["to"] == 88.5


# A barrel nearly as thick as the flange holds less warp than is wasted at each change of beam: the
# plan then takes one beam that holds the order, 3000 x 1.05 m, and twice the waste.
def test_an_order_whose_beam_would_be_mostly_waste_is_planned_on_one_large_beam() -> None:
    wasteful = construction(allowances=Allowances(loom_waste_m=1000.0))
    thin = loom(warp_beam=WarpBeam(flange_diameter_cm=30.0, barrel_diameter_cm=26.0, count=1))
    answer = report(wasteful, thin)
    warp, output_m_per_day = answer.warp, 24 * answer.rates.output_m_per_h
    assert warp.beam_capacity_m < 1000.0
    assert warp.beams_needed == 1
    assert warp.length_m == pytest.approx(3150.0 + 1000.0)
    # One of the two wastes stays on the loom.
    cloth_m = (3150.0 + 1000.0) / 1.05
    assert warp.days_between_warps == pytest.approx(cloth_m / output_m_per_day, rel=1e-4)


# 160 cm of cloth at 5 % of weft crimp are 168 cm in a reed of 190: 88 %.
def test_the_reason_of_a_match_says_how_much_of_the_reed_is_used() -> None:
    (found,) = match_looms(construction(), (loom(),)).matches
    assert "88 % of the reed used" in found.reason


# Nobody says how many healds a shaft takes: then eight shafts for a satin of eight, not sixteen;
# and where the loom has only six, the straight draft is still the one of eight, which is refused.
@pytest.mark.parametrize(("shafts", "fits"), [(6, False), (8, True), (16, True)])
def test_a_straight_draft_takes_the_shafts_of_one_repeat(shafts: int, fits: bool) -> None:
    satin = construction(
        weave=named("8-end satin move 3"), draft=DraftRequest(threading="straight")
    )
    dobby = shedding(shafts=shafts, max_healds_per_cm_per_shaft=None, max_healds_per_shaft=None)
    answer = report(satin, loom(shedding=dobby))
    assert answer.setup.threading == (1, 2, 3, 4, 5, 6, 7, 8)
    assert ("shedding.shafts" not in {found.code for found in answer.findings}) is fits


# 3840 ends and 66,000 picks are no whole sevens; but seven threads of one yarn are no pattern.
def test_one_yarn_in_an_order_of_several_threads_is_no_pattern() -> None:
    sevens = construction(
        warp=threads(24.0, order="7A"), weft=threads(22.0, order="7A"), length_m=0.02
    )
    codes = {found.code for found in report(sevens).findings}
    assert not {code for code in codes if code.startswith("colour.")}
