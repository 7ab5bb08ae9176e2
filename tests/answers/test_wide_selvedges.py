"""Selvedges within the width of an order or beside it, and the figures that count their ends."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from builders import COTTON_20_TEX, construction, loom, named, threads
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from stating import stated

from weavability.answers.report import Report
from weavability.answers.requirement_summary import RequirementSummary
from weavability.answers.validation import assess
from weavability.checks.finding import Finding
from weavability.looms.loom import Loom
from weavability.textiles.assumptions import Assumption, ValueBand
from weavability.textiles.construction import (
    Construction,
    Finishing,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
)
from weavability.textiles.yarns import Yarn

DIGITS_CM = 0.001
"""Widths of a report have six digits."""

WIDE_LOOM = loom(reed_width_cm=230.0)
SETT = "/construction/reed/ends_per_dent"
EDGE_SETT = "/construction/selvedge/ends_per_dent"
SELVEDGE = "/construction/selvedge/ends_per_side"


def judged(cloth: Construction, on: Loom = WIDE_LOOM) -> Report:
    return assess(cloth, on, remedies=False)


def edged(ends: int, reed: Reed | None = None, **changes: Any) -> Construction:
    return construction(selvedge=Selvedge(ends_per_side=ends, **changes), reed=reed or Reed())


def assumed(report: Report, pointer: str) -> Assumption | None:
    return next((each for each in report.assumptions if each.pointer == pointer), None)


def found(report: Report, code: str) -> list[Finding]:
    return [each for each in report.findings if each.code == code]


@pytest.mark.parametrize("own_weave", [None, "2/2 weft rib"])
def test_an_end_more_at_each_side_makes_the_cloth_no_wider_than_two_ends_of_the_ground(
    own_weave: str | None,
) -> None:
    weave = None if own_weave is None else named(own_weave)
    found = [judged(edged(ends, weave=weave)).setup for ends in range(44, 148)]
    an_end_cm = 168 / 3840  # of the ground, in the reed
    for setup, after in pairwise(found):
        wider_cm = after.reed_width_cm - setup.reed_width_cm
        assert -DIGITS_CM <= wider_cm <= 2 * an_end_cm + DIGITS_CM
        # At most a dent more at each side: an end may be the first of the last one.
        assert abs(after.reed_dents_per_10cm / setup.reed_dents_per_10cm - 1) <= 2 / 1920 + 1e-6
    assert found[0].reed_width_cm == 168.0 < found[-1].reed_width_cm


def test_only_what_is_more_than_a_usual_selvedge_is_beside_the_ordered_width() -> None:
    # 4 ends in a dent beside 2 of the ground, of which 3840 are in 168 cm: 137.1 ends in 3 cm.
    assert judged(edged(137)).setup.reed_width_cm == 168.0
    beside = (138 / 2 - 3 * 3840 / 168) * 168 / 3840
    assert judged(edged(138)).setup.reed_width_cm == pytest.approx(168 + 2 * beside, abs=DIGITS_CM)
    # 48 ends are within it, however coarse: 20 ends/cm of 100 cm, in one dent as the ground.
    coarse = replace(edged(48, weave=named("plain")), warp=threads(8.0), width_cm=100.0)
    assert judged(coarse).setup.reed_width_cm == 105.0
    more = replace(coarse, selvedge=Selvedge(ends_per_side=50, weave=named("plain")))
    assert judged(more).setup.reed_width_cm == pytest.approx(105 + 2 * 2 * 105 / 800)


@pytest.mark.parametrize(
    ("in_edge_dent", "own_weave"), [(4, None), (6, None), (3, None), (3, "plain"), (1, None)]
)
def test_the_denting_on_which_wide_selvedges_rest_is_assumed_aloud(
    in_edge_dent: int, own_weave: str | None
) -> None:
    """What the width is computed with, is what the report lists, and stating it changes nothing."""
    weave = None if own_weave is None else named(own_weave)
    for stock in ((), (80.0, 120.0)):
        on = replace(WIDE_LOOM, reeds_in_stock_dents_per_10cm=stock)
        cloth = edged(500, ends_per_dent=in_edge_dent, weave=weave)
        open_order = judged(cloth, on)
        line = assumed(open_order, SETT)
        assert line is not None
        assert (line.value, line.band) == (2, ValueBand(1, 6))
        assert "selvedge" in line.reason
        stated = judged(replace(cloth, reed=Reed(ends_per_dent=2)), on)
        assert assumed(stated, SETT) is None
        assert stated.setup == open_order.setup
        end_cm = 2 / in_edge_dent * 168 / 3840
        beside = 500 * end_cm - max(3, 48 * end_cm)
        assert open_order.setup.reed_width_cm == pytest.approx(168 + 2 * beside, abs=DIGITS_CM)


@pytest.mark.parametrize("in_edge_dent", [None, 1, 2, 3, 6])
@pytest.mark.parametrize("per_cm", [16.0, 24.0, 32.0, 52.0])
def test_an_end_more_than_is_usual_leaves_the_ground_its_reed(
    per_cm: float, in_edge_dent: int | None
) -> None:
    """48 ends a side are usual. Of the reed a side more, of an end in a dent, takes two dents."""
    before, after = (
        judged(replace(edged(ends, ends_per_dent=in_edge_dent), warp=threads(per_cm)))
        for ends in (48, 49)
    )
    assert after.setup.ends_per_dent == before.setup.ends_per_dent
    reeds = [each.setup.reed_dents_per_10cm for each in (before, after)]
    assert reeds[1] == pytest.approx(reeds[0], abs=10 * 2 / 160)
    codes = [{each.code for each in report.findings} for report in (before, after)]
    assert codes[1] - codes[0] <= {"selvedge.wide"}


@pytest.mark.parametrize("in_edge_dent", [2, 3, 4, 6])
def test_wide_selvedges_are_as_wide_as_their_own_dents_make_them(in_edge_dent: int) -> None:
    """400 ends take their dents of the reed that suits the ground."""
    report = judged(edged(400, ends_per_dent=in_edge_dent))
    assert report.setup.ends_per_dent == 2
    dents = -(-400 // in_edge_dent)
    width_cm = 10 * dents / report.setup.reed_dents_per_10cm
    assert report.setup.selvedge.width_cm == pytest.approx(width_cm, rel=1e-4)
    # 3840 ends in 168 cm; 3 cm of each selvedge are within, and set the ground that much closer.
    own_cm = 400 * 2 / in_edge_dent * 168 / 3840
    assert own_cm * (1 - 2 * 3 / 168) <= width_cm <= own_cm


@pytest.mark.parametrize("ends", [24, 60, 200])
@pytest.mark.parametrize("in_edge_dent", [1, 2, 4])
@pytest.mark.parametrize("per_cm", [18.0, 21.0, 24.0, 27.0, 30.0])
def test_the_denting_that_is_said_to_serve_a_reed_in_stock_does(
    per_cm: float, in_edge_dent: int, ends: int
) -> None:
    on = loom(reed_width_cm=230.0, reeds_in_stock_dents_per_10cm=(40.0, 60.0, 80.0, 100.0))
    cloth = replace(edged(ends, ends_per_dent=in_edge_dent), warp=threads(per_cm))
    for note in found(judged(cloth, on), "reed.not_in_stock"):
        if note.severity == "note":
            other = int(str(note.message_values["ends_per_dent"]))
            assert not found(
                judged(replace(cloth, reed=Reed(ends_per_dent=other)), on), "reed.not_in_stock"
            )


@pytest.mark.parametrize("own_weave", [None, "plain"])
@pytest.mark.parametrize("stock", [(), (76.0, 80.0), (40.0, 160.0)])
def test_stating_the_denting_of_wide_selvedges_as_it_is_assumed_changes_no_width(
    own_weave: str | None, stock: tuple[float, ...]
) -> None:
    on = replace(WIDE_LOOM, reeds_in_stock_dents_per_10cm=stock)
    cloth = edged(301, weave=None if own_weave is None else named(own_weave))
    before = judged(cloth, on)
    in_dent, in_edge_dent = assumed(before, SETT), assumed(before, EDGE_SETT)
    assert in_dent is not None
    assert in_edge_dent is not None
    reed = Reed(ends_per_dent=int(str(in_dent.value)))
    edge = replace(cloth.selvedge, ends_per_dent=int(str(in_edge_dent.value)))
    for settled in (
        replace(cloth, reed=reed),
        replace(cloth, selvedge=edge),
        replace(cloth, reed=reed, selvedge=edge),
    ):
        after = judged(settled, on).setup
        assert after.reed_width_cm == before.setup.reed_width_cm
        assert after.reed_dents_per_10cm == before.setup.reed_dents_per_10cm


def test_a_width_that_rests_on_the_assumed_denting_of_wide_selvedges_rejects_nothing() -> None:
    # As dense as the ground they are 500 * 168 / 3840 cm each, of which 3 cm are within: 205.75 cm.
    cloth = edged(500, ends_per_dent=4)
    narrow = loom(reed_width_cm=230.0, min_reed_width_cm=190.0)
    (finding,) = found(judged(cloth, narrow), "width.below_minimum")
    assert (finding.severity, finding.rests_on) == ("warning", (SETT,))
    stated = replace(cloth, reed=Reed(ends_per_dent=2))
    (finding,) = found(judged(stated, narrow), "width.below_minimum")
    assert finding.severity == "error"
    in_fours = replace(cloth, reed=Reed(ends_per_dent=4))
    assert not found(judged(in_fours, narrow), "width.below_minimum")
    # With both open, both have to be stated to settle it.
    (finding,) = found(judged(edged(500), narrow), "width.below_minimum")
    assert (finding.severity, set(finding.rests_on)) == ("warning", {SETT, EDGE_SETT})


def test_selvedges_that_press_the_ground_within_the_width_are_noted() -> None:
    # 15 dents of 2 ends of the ground at each side of 3840 ends: 1.6 %; 14 are 1.5 %.
    assert not found(judged(edged(56)), "selvedge.wide")
    (note,) = found(judged(edged(60)), "selvedge.wide")
    assert note.severity == "note"
    assert note.actual == pytest.approx(100 * 60 / 3840)
    assert note.limit == 1.5
    setup = judged(edged(60)).setup
    in_reed = setup.reed_dents_per_10cm * setup.ends_per_dent / 10
    assert 100 * (in_reed / setup.ends_per_cm_in_reed - 1) == pytest.approx(note.actual, rel=1e-2)
    # A stated reed sets the ground as it does, and `reed.sett_mismatch` says what that changes.
    reed = Reed(dents_per_10cm=116.0, ends_per_dent=2)
    assert not found(judged(edged(60, reed)), "selvedge.wide")


def test_few_ends_of_a_selvedge_are_noted_only_in_a_cloth_that_is_too_narrow_for_them() -> None:
    # 24 in a side of 240 ends are 6 dents of 120, 5 % of the width each; in 200 they are 6 %.
    usual, narrow = replace(edged(24), width_cm=10.0), replace(edged(24), width_cm=10.0 / 1.2)
    on = loom(min_reed_width_cm=1.0)
    assert not found(judged(usual, on), "selvedge.wide")
    (note,) = found(judged(narrow, on), "selvedge.wide")
    assert note.severity == "note"
    assert note.actual == pytest.approx(12.0)
    assert judged(narrow, on).setup.reed_width_cm == pytest.approx(10.5 / 1.2, abs=DIGITS_CM)


def test_a_pressed_ground_is_noted_whether_or_not_its_denting_is_stated() -> None:
    # One end in a dent of the edges, two of the ground: of 30 ends the edge takes 2/30, more than
    # 5 % of the width; beside one of the ground it would take 1/30.
    cloth = replace(edged(1, ends_per_dent=1), width_cm=1.0, warp=threads(30.0))
    on = loom(min_reed_width_cm=0.5)
    ends_per_dent = judged(cloth, on).setup.ends_per_dent
    for order in (cloth, replace(cloth, reed=Reed(ends_per_dent=2))):
        assert ends_per_dent == 2
        assert found(judged(order, on), "selvedge.wide")


COARSE = Yarn(designation="60 tex", fibre="cotton")
selvedges = st.builds(
    Selvedge,
    ends_per_side=st.sampled_from((0, 1, 7, 24, 48, 49, 60, 150, 400)),
    ends_per_dent=st.none() | st.integers(1, 8),
    shafts=st.none() | st.integers(0, 4),
    yarn=st.sampled_from((None, "A", "S")),
    weave=st.none() | st.sampled_from(("plain", "2/2 warp rib", "3/1 twill S")).map(named),
    leno_ends_per_side=st.none() | st.integers(0, 4),
    catch_cord_ends=st.none() | st.integers(0, 20),
)
reeds = st.builds(
    Reed,
    dents_per_10cm=st.none() | st.sampled_from((80.0, 115.0)),
    ends_per_dent=st.none() | st.integers(1, 4),
) | st.sampled_from((Reed(ends_in_dents=(2, 2, 0, 4)), Reed(ends_in_dents=(1, 3))))
ONE_YARN = threads(24.0)
OWN_YARN = threads(24.0, yarns={"A": COTTON_20_TEX, "S": COARSE}, order="A")
edged_orders = st.builds(
    lambda selvedge, **changes: construction(
        warp=OWN_YARN if selvedge.yarn == "S" else ONE_YARN, selvedge=selvedge, **changes
    ),
    selvedges,
    weave=st.sampled_from(("plain", "2/2 twill Z", "5-end satin")).map(named),
    width_cm=st.floats(20.0, 80.0).map(lambda width: round(width, 1)),
    panels=st.integers(1, 3),
    panel_gap_cm=st.sampled_from((0.0, 2.0)),
    reed=reeds,
)


@share_of_examples(0.5)
@given(edged_orders, st.sampled_from(((), (76.0, 80.0, 120.0))))
def test_all_figures_count_the_same_selvedge_ends(
    cloth: Construction, stock: tuple[float, ...]
) -> None:
    on = loom(reed_width_cm=330.0, reeds_in_stock_dents_per_10cm=stock)
    report = judged(cloth, on)
    setup, edge, panels = report.setup, report.setup.selvedge, cloth.panels or 1
    ground = round(24.0 * cloth.width_cm)
    # Ends: ground and selvedges, on the beam, in the yarn need and in healds.
    assert edge.ends_per_side == cloth.selvedge.ends_per_side
    assert setup.selvedge_ends == 2 * panels * edge.ends_per_side
    assert setup.total_ends == panels * ground + setup.selvedge_ends
    assert sum(each.ends for each in setup.beams) == setup.total_ends
    threads_of = {each.yarn: each.threads for each in report.yarn}
    assert sum(threads_of.get(f"warp {key}") or 0 for key in "AS") == setup.total_ends
    if edge.yarn == "S" and setup.selvedge_ends:
        assert threads_of["warp S"] == setup.selvedge_ends
    assert threads_of.get("leno " + edge.yarn, 0) == 2 * panels * edge.leno_ends_per_side
    assert threads_of.get("catch cord " + edge.yarn, 0) == edge.catch_cord_ends
    if setup.healds_per_shaft is not None:
        assert sum(setup.healds_per_shaft) == setup.total_ends
    # Dents: those of the ground, and whole ones of each selvedge.
    assert setup.selvedge_dents_per_side == edge.dents_per_side
    if edge.ends_per_dent:
        assert edge.dents_per_side == -(-edge.ends_per_side // edge.ends_per_dent)
    of_ground = setup.dents / panels - 2 * edge.dents_per_side
    assert abs(of_ground * setup.ends_per_dent - ground) <= 2 * max(setup.ends_per_dent, 4)
    # Width: what these dents fill in the reed to use; in the reed needed that is the width in use.
    gaps_cm = (panels - 1) * (cloth.panel_gap_cm or 0.0)
    filled_cm = 10 * setup.dents / setup.reed_dents_per_10cm
    assert setup.filled_width_cm == pytest.approx(filled_cm + gaps_cm, rel=1e-4)
    assert edge.width_cm == pytest.approx(
        10 * edge.dents_per_side / setup.reed_dents_per_10cm, rel=1e-4
    )
    if cloth.reed.dents_per_10cm is not None or setup.reed_dents_per_10cm not in stock:
        # Less than a dent a panel is part-filled.
        slack_cm = 40 * panels / setup.reed_dents_per_10cm
        assert setup.reed_width_cm == pytest.approx(setup.filled_width_cm, abs=slack_cm)
    used_pct = 100 * setup.reed_width_cm / 330.0
    assert setup.reed_width_use_pct == pytest.approx(used_pct, rel=1e-4)


FINISHING = Finishing(width_shrinkage_pct=5.0, length_shrinkage_pct=2.0, mass_change_pct=-1.0)
REQUIRED = Requirements(
    finished_width_cm=RequiredRange(min=1.0), mass_g_per_m=RequiredRange(min=1.0)
)


def required(cloth: Construction, on: Loom = WIDE_LOOM) -> dict[str, RequirementSummary]:
    summaries = judged(replace(cloth, requirements=cloth.requirements or REQUIRED), on).requirements
    return {each.figure: each for each in summaries}


@pytest.mark.parametrize("ends", [0, 24, 60, 301])
def test_what_is_required_is_compared_with_the_whole_cloth(ends: int) -> None:
    """Width over all, and the mass of all its ends and of the weft over all of it."""
    cloth = replace(edged(ends, ends_per_dent=4), reed=Reed(ends_per_dent=2), finishing=FINISHING)
    in_reed_cm, found = judged(cloth).setup.reed_width_cm, required(cloth)
    width_cm = 160.0 * in_reed_cm / 168.0 * 0.95
    assert found["finished_width_cm"].value == pytest.approx(width_cm, rel=1e-5)
    # 20 tex; 5 % crimp of the warp, and the weft lies straight over the width in the reed.
    warp_g = (3840 + 2 * ends) * 20 / 1000 * 1.05
    weft_g = 22 * 100 * in_reed_cm / 100 * 20 / 1000
    mass_g = (warp_g + weft_g) * 0.99 / 0.98
    assert found["mass_g_per_m"].value == pytest.approx(mass_g, rel=1e-5)


def test_selvedges_beside_the_width_decide_whether_a_required_width_is_met() -> None:
    wide = required(edged(301, Reed(ends_per_dent=2), ends_per_dent=4))["finished_width_cm"].value
    limits = RequiredRange(min=wide - 0.5, max=wide + 0.5)
    narrower = RequiredRange(max=required(edged(0))["finished_width_cm"].value + 0.5)
    cloth = edged(301, Reed(ends_per_dent=2), ends_per_dent=4)
    met = replace(cloth, requirements=Requirements(finished_width_cm=limits))
    missed = replace(cloth, requirements=Requirements(finished_width_cm=narrower))
    assert required(met)["finished_width_cm"].met == "yes"
    assert not found(judged(met), "requirement.width")
    assert required(missed)["finished_width_cm"].met == "no"
    (error,) = found(judged(missed), "requirement.width")
    assert error.severity == "error"
    (warning,) = found(judged(missed), "selvedge.wide")
    assert f"{wide:.1f} cm" in warning.message


def test_an_assumed_denting_of_wide_selvedges_rejects_no_required_width() -> None:
    """As dense as the ground they are wider by far than doubled, as is assumed."""
    cloth = edged(301)
    width = required(cloth)["finished_width_cm"]
    assert width.band.low == width.value < width.band.high
    limits = RequiredRange(min=width.band.high - 1.0)
    over = replace(cloth, requirements=Requirements(finished_width_cm=limits))
    (warning,) = found(judged(over), "requirement.width")
    assert (warning.severity, set(warning.rests_on)) == ("warning", {SETT, EDGE_SETT})
    in_twos = replace(
        over, selvedge=replace(over.selvedge, ends_per_dent=2), reed=Reed(ends_per_dent=2)
    )
    assert not found(judged(in_twos), "requirement.width")
    in_fours = replace(
        over, selvedge=replace(over.selvedge, ends_per_dent=4), reed=Reed(ends_per_dent=2)
    )
    (error,) = found(judged(in_fours), "requirement.width")
    assert error.severity == "error"


def test_selvedge_ends_that_nobody_states_may_weigh() -> None:
    open_order, none, most = (
        required(construction(selvedge=Selvedge(ends_per_side=ends)))["mass_g_per_m"]
        for ends in (None, 0, 48)
    )
    assert open_order.value == none.value
    # 2 x 48 ends of 20 tex with 5 % crimp.
    assert most.value - none.value == pytest.approx(96 * 20 / 1000 * 1.05)
    assert open_order.band.high == pytest.approx(most.band.high)
    assert none.band.high == pytest.approx(most.band.high - (most.value - none.value), rel=1e-3)


@share_of_examples(0.5)
@given(edged_orders, st.sampled_from((SETT, EDGE_SETT, SELVEDGE)), st.booleans())
def test_stating_of_selvedges_what_may_be_stays_in_the_bands_of_what_is_required(
    cloth: Construction, pointer: str, is_high: bool
) -> None:
    on = loom(reed_width_cm=330.0)
    line = assumed(judged(cloth, on), pointer)
    if line is None or line.band is None:
        return
    before = required(cloth, on)
    value = int(line.band.high if is_high else line.band.low)
    for at in (value, line.value):
        after = required(stated(cloth, on, [(pointer, at)])[0], on)
        for figure, found in after.items():
            band = before[figure].band
            assert band.low * (1 - 1e-9) <= found.value <= band.high * (1 + 1e-9), figure
            if at == line.value:
                assert found.value == pytest.approx(before[figure].value)
