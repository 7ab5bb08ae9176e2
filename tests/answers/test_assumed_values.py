"""What is only assumed rejects nothing: laws over random orders and looms, and what is answered."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from typing import Any

import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import (
    construction,
    insertion,
    jacquard,
    loom,
    named,
    report,
    severity,
    shedding,
    threads,
)
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from stating import assumed, stated

from weavability.answers.stated_values import numeric_field
from weavability.answers.validation import assess, judge
from weavability.checks import facts as judged
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.checks.registry import all_checks, observe, run_checks
from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.textiles.assumptions import Assumption, Grade, ValueBand
from weavability.textiles.construction import Construction, Reed, Selvedge, ThreadSystem
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn

Pair = tuple[Construction, Loom]

TAKEN_OVER = {
    CheckCode.INSERTION_WEFT_SPEED: CheckCode.WEFT_STRENGTH,
    CheckCode.INSERTION_CRAWL: CheckCode.WEFT_STRENGTH,
    CheckCode.WARP_BEAM_WIDTH: CheckCode.WIDTH_REED_SPACE,
}
"""Errors in whose place another one is reported if it is there: of the same figure, and worse."""

pairs = st.tuples(trade_orders, trade_looms) | st.tuples(constructions, looms())
seeds = st.integers(0, 2**32)

SAMPLES = 3

WHATEVER_IS_ASSUMED = frozenset({CheckCode.SETT_JAMMED, CheckCode.SHEDDING_HEALDS_PER_SHAFT})
"""Above 115 % of the jam no loom weaves, wherever usual yarns may be in their bands. Over how
many shafts the ends are divided goes up and down with the width, in steps."""


def fit_of(pair: Pair) -> Fit | None:
    try:
        return judge(*pair)
    except InputError:
        return None


def codes(fit: Fit, severity: Severity) -> set[CheckCode]:
    return {seen.code for seen in observe(fit) if seen.severity is severity}


def somewhere(line: Assumption, choose: random.Random) -> Any:
    """A value inside the band of an assumption, often at an end."""
    assert line.band is not None
    low, high = line.band.low, line.band.high
    value = choose.choice((low, high, choose.uniform(low, high)))
    return round(value) if isinstance(line.value, int) else value


NO_BAND = {
    "weave": "a name",
    "designation": "a reading",
    "fibre": "a name",
    "yarn": "a name",
    "stage": "a word",
    "motion_law": "a name",
    "rapiers": "a word",
    "arrangement": "a word",
    "boxes": "two numbers",
    "panels": "one unless more are stated",
    "picks_per_insertion": "how needles work",
    "length_m": "a convention for figures of an order that states no length",
}
"""Assumptions without a range, by the last part of their pointer, and why."""


@pytest.mark.slow
@given(pairs, seeds)
def test_what_is_only_assumed_rejects_nothing(pair: Pair, seed: int) -> None:
    fit = fit_of(pair)
    if fit is None:
        return
    has_a_grade_and_a_band_that_holds_it(fit)
    no_value_inside_its_band_clears_an_error(fit, pair, random.Random(seed))
    what_rests_on_assumed_values_is_an_error_if_they_are_stated(fit, pair)


def no_value_inside_its_band_clears_an_error(fit: Fit, pair: Pair, choose: random.Random) -> None:
    errors = codes(fit, Severity.ERROR) - WHATEVER_IS_ASSUMED
    banded = [line for line in assumed(fit).values() if line.band is not None]
    for _ in range(SAMPLES if errors else 0):
        values = [(line.pointer, somewhere(line, choose)) for line in banded]
        moved = fit_of(stated(*pair, values))
        if moved is not None:
            after = codes(moved, Severity.ERROR)
            after |= {code for code, other in TAKEN_OVER.items() if other in after}
            assert errors <= after, values


def what_rests_on_assumed_values_is_an_error_if_they_are_stated(fit: Fit, pair: Pair) -> None:
    known = assumed(fit)
    found = list(run_checks(fit))
    for finding in found:
        if not finding.rests_on:
            continue
        assert finding.severity is not Severity.ERROR
        if not finding.message_key.endswith("_if_assumed"):
            assert set(finding.rests_on) <= set(known)
            continue
        assert finding.severity is Severity.WARNING
        assert finding.pointer == finding.rests_on[0]
        as_it_is = stated(*pair, [(at, known[at].value) for at in finding.rests_on])
        again = fit_of(as_it_is)
        if again is None:  # What was assumed beside peculiar figures may be no request.
            continue
        after = list(run_checks(again))
        assert finding.code in {one.code for one in after if one.severity is Severity.ERROR}
        # A requirement is compared with a band, which what is stated makes narrower, and a crimp
        # is held against what is expected of it if it is stated.
        others = [
            {
                one.code
                for one in some
                if not one.code.startswith(("requirement.", "contraction.implausible"))
            }
            for some in (found, after)
        ]
        assert others[0] == others[1]


def has_a_grade_and_a_band_that_holds_it(fit: Fit) -> None:
    for line in assumed(fit).values():
        assert isinstance(line.grade, Grade), line
        if line.pointer.rpartition("/")[2] in NO_BAND:
            assert line.band is None, line
            continue
        assert line.band is not None, line
        assert isinstance(line.value, int | float), line
        slack = 1e-6 * abs(line.value)
        assert line.band.low - slack <= line.value <= line.band.high + slack, line


def test_a_warning_of_a_strength_names_what_is_assumed_of_it() -> None:
    wool = Yarn(designation="Nm 60/2", fibre="woollen")
    cloth = construction(weft=threads(22.0, yarns={"W": wool}))
    on = loom(max_speed_picks_per_min=650.0, speed_curve=(), reed_width_cm=230.0)
    (seen,) = (one for one in report(cloth, on).findings if one.code == "weft.strength")
    yarn = "/construction/weft/yarns/W/"
    assert seen.severity == "warning"
    assert seen.rests_on == (yarn + "tenacity_cn_per_tex", yarn + "strength_cv_pct")
    assert "5.5 cN/tex (4.125 to 6.875)" in seen.message
    assert seen.pointer == "/construction/requested_speed_picks_per_min"
    assert report(cloth, on).verdict_note is None
    known = replace(wool, tenacity_cn_per_tex=5.5, strength_cv_pct=14.0)
    stated_so = construction(weft=threads(22.0, yarns={"W": known}))
    (sure,) = (one for one in report(stated_so, on).findings if one.code == "weft.strength")
    assert sure.message_key == "weft.strength.warning"
    # What the loom's feeder, brake and guides do is still assumed.
    assert sure.rests_on
    assert all(at.startswith("/loom/insertion/") for at in sure.rests_on)


def test_the_values_that_a_warning_names_clear_it_together() -> None:
    """Of two strokes one is bound by exit_deg alone, so that it is named beside entry_deg."""
    strong = {"A": Yarn(linear_density_tex=20, fibre="polyester", tenacity_cn_per_tex=200.0)}
    order = construction(
        width_cm=170.0,
        weft=threads(22.0, crimp_pct=None, yarns=strong),
        requested_speed_picks_per_min=900.0,
    )
    on = loom(
        insertion=insertion(max_rate_m_per_min=3000.0),
        max_speed_picks_per_min=1200.0,
        speed_curve=(),
        shedding=shedding(max_speed_picks_per_min=1200.0),
    )
    (hard,) = (one for one in report(order, on).findings if one.code == "insertion.acceleration")
    assert {"/loom/insertion/entry_deg", "/loom/insertion/exit_deg"} < set(hard.rests_on)
    known = {line.pointer: line.band for line in report(order, on).assumptions}
    gentle = []
    for at in hard.rests_on:
        band = known[at]
        assert band is not None
        gentle.append((at, band.high if at.endswith("exit_deg") else band.low))
    after = report(*stated(order, on, gentle)).findings
    assert ("insertion.acceleration", "warning") not in {(one.code, one.severity) for one in after}


def test_a_warning_or_note_names_the_assumed_values_that_may_clear_it() -> None:
    close, on = construction(warp=threads(36.0), weft=threads(36.0)), loom(max_tightness_pct=None)
    (tight,) = (one for one in report(close, on).findings if one.code == "sett.tight")
    yarns = [f"/construction/{system}/yarns/A/packing_fraction" for system in ("warp", "weft")]
    assert (tight.severity, sorted(tight.rests_on)) == ("warning", sorted(yarns))
    assert tight.pointer == "/construction/weft/picks_per_cm"
    known, _ = stated(close, on, [(at, 0.6) for at in tight.rests_on])
    (sure,) = (one for one in report(known, on).findings if one.code == "sett.tight")
    assert (sure.severity, sure.message, sure.rests_on) == ("warning", tight.message, ())
    # So close that no yarn within its band is thin enough.
    closer = construction(warp=threads(40.5), weft=threads(40.5))
    (sure,) = (
        one
        for one in report(closer, loom(max_tightness_pct=120.0)).findings
        if one.code == "sett.tight"
    )
    assert sure.rests_on == ()
    # Coarse ends by twos in a reed whose wires are not known.
    coarse = threads(24.0, yarns={"A": Yarn(designation="Ne 7", fibre="cotton")})
    full = construction(warp=coarse, weave=named("3/1 twill Z"), reed=Reed(ends_per_dent=2))
    (dent,) = (one for one in report(full).findings if one.code == "reed.air_space")
    assert dent.rests_on == ("/construction/reed/wire_share_pct",)


def test_a_jam_says_whether_the_limit_is_the_looms_own() -> None:
    dense = construction(warp=threads(39.0), weft=threads(39.0))
    denser = construction(warp=threads(40.5), weft=threads(40.5))
    seen = found("sett.jammed", dense, loom(max_tightness_pct=None))
    assert seen.message_key == "sett.jammed.error_of_assumed_limit_if_assumed"
    assert "states no max_tightness_pct, and one of its kind is taken to beat up at most 110 %" in (
        seen.message
    )
    seen = found("sett.jammed", dense, loom(max_tightness_pct=105.0))
    assert "this loom can beat up at most 105 %." in seen.message
    seen = found("sett.jammed", denser, loom(max_tightness_pct=None))
    assert (seen.severity, seen.limit) == (Severity.ERROR, 110.0)
    assert "no loom is taken to beat up more than 115 %." in seen.message


def found(code: str, order: Construction, machine: Loom) -> Finding:
    return next(one for one in assess(order, machine).findings if one.code == code)


def test_an_assumed_limit_warns_and_names_the_field_that_settles_it() -> None:
    machine = loom(min_reed_width_cm=None)
    narrow = construction(width_cm=60.0)
    seen = found("width.below_minimum", narrow, machine)
    assert (seen.severity, seen.pointer) == (Severity.WARNING, "/loom/min_reed_width_cm")
    assert seen.rests_on == ("/loom/min_reed_width_cm",)
    assert seen.message_key == "width.below_minimum.error_if_assumed"
    assert seen.message.endswith(
        " It is no error, because it rests on values that are only assumed: "
        "/loom/min_reed_width_cm = 114 cm (57 to 133). State them to settle it."
    )
    report = assess(narrow, machine)
    assert report.verdict is Verdict.WEAVABLE_WITH_WARNINGS
    assert report.verdict_note == (
        "It is not weavable (width.below_minimum) if what is assumed is so; it may be weavable if "
        "it is not. State /loom/min_reed_width_cm to decide it."
    )
    stated_loom = loom(min_reed_width_cm=114.0)
    assert found("width.below_minimum", narrow, stated_loom).severity is Severity.ERROR
    refused = assess(narrow, stated_loom)
    assert (refused.verdict, refused.verdict_note) == (Verdict.NOT_WEAVABLE, None)


def test_an_error_stays_one_if_other_values_cannot_be_computed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    narrow, machine = construction(width_cm=60.0), loom(min_reed_width_cm=None)
    monkeypatch.setattr(judged.Pair, "moved", lambda *_: None)
    seen = found("width.below_minimum", narrow, machine)
    assert (seen.severity, seen.rests_on) == (Severity.ERROR, ())


def test_a_warning_names_the_threshold_that_decides_and_how_far_a_crimp_would_go() -> None:
    """Above 1.25 times the limit is an error, and no crimp within its own band clears it."""
    fine = {"A": Yarn(designation="Ne 60", fibre="cotton")}
    dense = construction(
        warp=threads(60.0, crimp_pct=None, yarns=fine),
        weft=threads(24.0, crimp_pct=None, yarns=fine),
    )
    on = loom(shedding=shedding(shafts=4, max_healds_per_shaft=None))
    seen = found("shedding.heald_crowding", dense, on)
    assert (seen.severity, seen.rests_on) == (Severity.WARNING, ("/construction/weft/crimp_pct",))
    assert "the limit is 10; more than 12.5 is an error" in seen.message
    band = assumed(judge(dense, on))[seen.pointer].band
    assert band is not None
    within, _ = stated(dense, on, [(seen.pointer, band.high)])
    assert found("shedding.heald_crowding", within, on).severity is Severity.ERROR
    farther = re.search(r"or (\S+) beside another warp crimp", seen.message)
    assert farther is not None
    beside, _ = stated(dense, on, [(seen.pointer, float(farther[1]))])
    assert found("shedding.heald_crowding", beside, on).message_key.endswith("crowding.any")


def test_ends_of_a_selvedge_that_may_be_there_reach_the_minimum_of_a_loom() -> None:
    # 1584 ends in twos at 80 dents/10 cm are 99 cm in the reed; 96 more in fours are 3 cm.
    narrow = construction(
        width_cm=66.0,
        reed=Reed(dents_per_10cm=80.0, ends_per_dent=2),
        selvedge=Selvedge(ends_per_dent=4),
    )
    seen = found("width.below_minimum", narrow, loom())
    ends = "/construction/selvedge/ends_per_side"
    assert (seen.severity, seen.rests_on) == (Severity.WARNING, (ends,))
    # With no selvedge there is none in its dents either; one end in each would reach the minimum.
    few = construction(
        width_cm=1.0,
        warp=threads(2.0),
        reed=Reed(dents_per_10cm=20.0, ends_per_dent=1),
        selvedge=Selvedge(),
    )
    small = loom(min_reed_width_cm=None, reed_width_cm=60.0, speed_curve=())
    seen = found("width.below_minimum", few, small)
    assert set(seen.rests_on) == {"/loom/min_reed_width_cm", ends}
    bare = replace(narrow, selvedge=Selvedge(ends_per_side=0))
    assert found("width.below_minimum", bare, loom()).severity is Severity.ERROR


def test_ends_of_a_selvedge_that_may_be_there_widen_a_crowded_warp_in_a_stated_reed() -> None:
    """One end takes half a dent of two; with an end at each side, it is three in two and a half."""
    ends, in_dents = (
        f"/construction/selvedge/{name}" for name in ("ends_per_side", "ends_per_dent")
    )
    one = construction(
        width_cm=1.0,
        warp=threads(0.9),
        weft=threads(10.0),
        selvedge=Selvedge(),
        reed=Reed(dents_per_10cm=7.389, ends_per_dent=2),
    )
    on = loom(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=0.5))
    seen = found("shedding.heald_crowding", one, on)
    assert (seen.severity, seen.rests_on) == (Severity.WARNING, (ends,))
    edged = stated(one, on, [(ends, 1), (in_dents, 2)])
    assert found("shedding.heald_crowding", *edged).message_key.endswith("crowding.any")
    bare = stated(one, on, [(ends, 0)])
    assert found("shedding.heald_crowding", *bare).severity is Severity.ERROR
    # Beside a ground of usual width they are next to nothing.
    dense = construction(
        warp=threads(60.0), selvedge=Selvedge(), reed=Reed(dents_per_10cm=300.0, ends_per_dent=2)
    )
    seen = found("shedding.heald_crowding", dense, loom(shedding=shedding(shafts=4)))
    assert (seen.severity, seen.rests_on) == (Severity.ERROR, ())


def test_ends_of_a_selvedge_that_may_be_there_set_the_ground_wider_in_a_stated_reed() -> None:
    ends = "/construction/selvedge/ends_per_side"
    few = construction(
        width_cm=100.0, selvedge=Selvedge(), reed=Reed(dents_per_10cm=160.0, ends_per_dent=2)
    )
    thin = jacquard(harness_ends_per_cm=28.0)
    seen = found("shedding.harness_density", few, thin)
    assert (seen.severity, seen.rests_on) == (Severity.WARNING, (ends,))
    bare = replace(few, selvedge=Selvedge(ends_per_side=0))
    assert found("shedding.harness_density", bare, thin).severity is Severity.ERROR


def test_a_cloth_that_only_its_estimated_crimp_makes_too_wide_warns() -> None:
    wide = construction(width_cm=184.0, weft=threads(22.0, crimp_pct=None))
    seen = found("width.reed_space", wide, loom())
    assert (seen.severity, seen.pointer) == (Severity.WARNING, "/construction/weft/crimp_pct")
    # Straight in the reed it is still wider than the loom.
    wider = construction(width_cm=190.5, weft=threads(22.0, crimp_pct=None))
    assert found("width.reed_space", wider, loom()).severity is Severity.ERROR


def test_beyond_the_jam_no_loom_weaves_whatever_is_assumed() -> None:
    dense = construction(warp=threads(42.0), weft=threads(42.0))
    seen = found("sett.jammed", dense, loom(max_tightness_pct=None))
    assert (seen.severity, seen.rests_on) == (Severity.ERROR, ())


def test_a_diameter_that_is_a_rough_guess_makes_no_jam() -> None:
    yarns = {
        "A": Yarn(designation="Nm 4.5", fibre="viscose chenille"),
        "B": Yarn(designation="300 den", fibre="polyester filament"),
    }
    warp = threads(56.0, yarns={"A": Yarn(designation="150 den", fibre="polyester filament")})

    def woven(picks_per_cm: float) -> Finding:
        weft = threads(picks_per_cm, yarns=yarns, order="1A 1B")
        cloth = construction(warp=warp, weft=weft, weave=named("5-end sateen"))
        return found("sett.jammed", cloth, loom())

    seen = woven(16.0)
    assert seen.severity is Severity.WARNING
    assert seen.rests_on == ("/construction/weft/yarns/A/packing_fraction",)
    assert woven(20.0).severity is Severity.ERROR


def test_several_values_are_named_if_only_all_of_them_settle_it() -> None:
    crawling = construction(
        weft=ThreadSystem(
            yarns={
                "A": Yarn(
                    designation="20 tex",
                    fibre="cotton",
                    tenacity_cn_per_tex=2.0,
                    strength_cv_pct=10.0,
                    breaking_elongation_pct=6.0,
                )
            },
            threads_per_cm=22.0,
            crimp_pct=5.0,
        ),
        requested_speed_picks_per_min=550.0,
    )
    seen = found("insertion.weft_speed", crawling, loom())
    assert seen.severity is Severity.WARNING
    assert len(seen.rests_on) > 1
    assert all(at.startswith("/loom/insertion/") for at in seen.rests_on)


def test_each_check_names_the_values_that_an_error_needs() -> None:
    checks = {info.code: info for info in all_checks()}
    assert "/loom/weft_selectors" in checks[CheckCode.WEFT_SELECTORS].stated_for_error
    assert checks[CheckCode.WEAVE_FALLS_APART].stated_for_error == ()
    for info in checks.values():
        if info.stated_for_error:
            assert {Severity.ERROR, Severity.WARNING} <= set(info.severities)
            assert any(key.endswith("_if_assumed") for key in info.messages)


def test_a_width_rests_on_both_crimps_that_are_estimated_from_one_another() -> None:
    fine = threads(32.0, yarns={"A": Yarn(designation="Ne 100", fibre="cotton")}, crimp_pct=None)
    coarse = threads(40.0, yarns={"A": Yarn(designation="Ne 20", fibre="cotton")}, crimp_pct=None)
    wide = construction(width_cm=188.0, weave=named("2/2 twill Z"), warp=fine, weft=coarse)
    warp = assumed(judge(wide, loom()))["/construction/warp/crimp_pct"]
    assert warp.band is not None
    crimped, _ = stated(wide, loom(), [(warp.pointer, warp.band.high)])
    for order in (wide, crimped):
        (seen,) = (one for one in report(order).findings if one.code == "width.reed_space")
        assert seen.severity == "warning"
        assert seen.rests_on == ("/construction/weft/crimp_pct",)
    assert severity("width.reed_space", replace(wide, width_cm=191.0)) == "error"


DECIDE_NO_VERDICT = {
    "/construction/allowances/warp_waste_pct",
    "/construction/allowances/weft_waste_pct",
    "/construction/selvedge/catch_cord_ends",
    "/construction/selvedge/leno_ends_per_side",
    "/loom/running/hours_per_day",
}
"""No window varies them."""


@share_of_examples(0.2)
@given(pairs)
def test_a_band_holds_nothing_that_its_field_refuses(pair: Pair) -> None:
    fit = fit_of(pair)
    for line in () if fit is None else fit.assumptions:
        if line.band is None or line.band.low >= line.band.high or "/beams/" in line.pointer:
            continue
        if line.pointer in DECIDE_NO_VERDICT:
            continue
        bounds = numeric_field(line.pointer, *pair).bounds
        assert line.band.low in bounds, line
        assert line.band.high in bounds, line


def test_the_band_of_the_packing_of_chenille_ends_where_the_field_does() -> None:
    chenille = {"A": Yarn(designation="Nm 4", fibre="acrylic chenille")}
    found = judge(construction(weft=threads(8.0, yarns=chenille)), loom()).assumptions
    (line,) = (each for each in found if each.pointer.endswith("weft/yarns/A/packing_fraction"))
    assert line.band == ValueBand(0.1, 0.2025)
