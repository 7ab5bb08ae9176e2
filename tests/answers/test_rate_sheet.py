"""Weft insertion on a loom: limits, motion, bands, feeders, sweeps, and the facts of the trade."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from answers.strategies import trade_looms, trade_orders
from builders import construction, insertion, loom, shedding
from builders import loom as build_loom
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.insertion_rate import (
    RateRequest,
    RateSheet,
    Sweep,
    SweepOver,
    insertion_rates,
)
from weavability.answers.validation import assess
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Insertion, Loom
from weavability.looms.motion_laws import MotionLaw
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn

COTTON = Yarn(designation="Ne 20", fibre="cotton")

OF_THE_SPEED_RUN = {
    CheckCode.WEFT_STRENGTH,
    CheckCode.WEFT_FEEDER_SPEED,
    CheckCode.INSERTION_ACCELERATION,
    CheckCode.INSERTION_WEFT_VELOCITY,
}


def sheet(*, loom: Loom | None = None, **known: Any) -> RateSheet:
    return insertion_rates(RateRequest(**known), loom or build_loom())


def test_1000_picks_a_minute_at_1150_m_a_minute_are_narrow_looms_only() -> None:
    """Trade fact (common practice, no source): such a loom is 1.15 m wide in the reed."""
    fast = loom(
        max_speed_picks_per_min=1000.0,
        speed_curve=(),
        shedding=shedding(max_speed_picks_per_min=1000.0),
        insertion=insertion(max_rate_m_per_min=1150.0),
    )
    at_limit = sheet(loom=fast, reed_width_cm=115.0)
    assert at_limit.speed_picks_per_min == 1000.0
    assert at_limit.insertion_rate_m_per_min == 1150.0
    wider = sheet(loom=fast, reed_width_cm=116.0)
    assert wider.limited_by == "insertion_rate"
    assert wider.speed_picks_per_min < 1000.0


def test_a_fast_rapier_hands_over_a_thousand_times_a_minute() -> None:
    """Trade fact (common practice, no source)."""
    fast = loom(
        max_speed_picks_per_min=1100.0,
        speed_curve=(),
        shedding=shedding(max_speed_picks_per_min=1100.0),
    )
    motion = sheet(loom=fast, reed_width_cm=105.0).motion
    assert motion.hand_overs_per_min is not None
    assert motion.hand_overs_per_min > 1000


def test_the_bands_of_strength_say_how_much_weft_goes_in() -> None:
    """160 cm in the reed: 1.6 m a pick, and with 12 cm of waste 1.72 m from each of two feeders."""
    answer = sheet(weft=COTTON, reed_width_cm=160.0, feeders=2, speed_picks_per_min=500.0)
    (weft,) = answer.wefts
    for band in weft.bands:
        assert band.insertion_rate_m_per_min == pytest.approx(
            1.6 * band.speed_picks_per_min, rel=1e-5
        )
    assert weft.feeder_speed_m_per_min == pytest.approx(500 * 1.72 / 2, rel=1e-5)
    assert weft.feeder_speed_with_one_more_m_per_min == pytest.approx(500 * 1.72 / 3, rel=1e-5)


def test_the_worked_example_of_harmonic_motion() -> None:
    """1.90 m, 500 picks/min, 240 degrees: mean 23.75 m/s, peak 37.31 m/s, 2930 m/s² (mechanics)."""
    rapier = loom(
        insertion=insertion(
            entry_deg=60.0,
            transfer_deg=180.0,
            exit_deg=300.0,
            motion_law=MotionLaw.SIMPLE_HARMONIC,
            overrun_cm=0.0,
        )
    )
    motion = sheet(loom=rapier, reed_width_cm=190.0, speed_picks_per_min=500.0).motion
    assert motion.mean_speed_m_per_s == pytest.approx(23.75, abs=0.005)
    assert motion.peak_speed_m_per_s == pytest.approx(37.31, abs=0.005)
    assert motion.peak_acceleration_m_per_s2 == pytest.approx(2930, abs=1)


def test_a_construction_gives_width_wefts_and_speed_as_its_validation_does() -> None:
    cloth = construction(requested_speed_picks_per_min=480.0)
    found, whole = sheet(construction=cloth), assess(cloth, loom()).rates
    assert found.speed_limits_picks_per_min == whole.speed_limits_picks_per_min
    assert found.insertion_rate_m_per_min == whole.insertion_rate_m_per_min
    assert found.wefts[0].peak_tension_cn == whole.peak_weft_tension_cn
    assert found.wefts[0].feeder_speed_m_per_min == whole.feeder_speed_m_per_min


def test_without_a_weft_no_tension_is_given() -> None:
    found = sheet(reed_width_cm=150.0)
    assert found.wefts == ()
    assert "weft_strength" not in found.speed_limits_picks_per_min


def test_the_full_reed_is_an_assumption_where_no_width_is_given() -> None:
    found = sheet(weft=COTTON)
    assert found.reed_width_cm == 190.0
    assert "/reed_width_cm" in {line.pointer for line in found.assumptions}


def test_at_the_speed_of_a_band_the_weft_is_used_that_far() -> None:
    weak = replace(COTTON, tenacity_cn_per_tex=4.0)
    for band in sheet(weft=weak, reed_width_cm=180.0).wefts[0].bands:
        at_band = loom(
            max_speed_picks_per_min=band.speed_picks_per_min,
            speed_curve=(),
            shedding=shedding(max_speed_picks_per_min=5000.0),
            insertion=insertion(max_rate_m_per_min=20000.0),
        )
        use_pct = sheet(loom=at_band, weft=weak, reed_width_cm=180.0).wefts[0].strength_use_pct
        assert use_pct == pytest.approx(band.strength_use_pct, rel=1e-4)


def test_one_more_feeder_halves_the_speed_of_one() -> None:
    weft = sheet(weft=COTTON, reed_width_cm=180.0).wefts[0]
    assert weft.feeder_speed_with_one_more_m_per_min == pytest.approx(
        weft.feeder_speed_m_per_min / 2, rel=1e-5
    )


@pytest.mark.parametrize("system", list(InsertionSystem))
def test_every_system_has_a_sheet(system: InsertionSystem) -> None:
    plain = loom(insertion=Insertion(system=system), max_speed_picks_per_min=200.0, speed_curve=())
    yarn = Yarn(designation="110 dtex f36", fibre="polyester")
    found = sheet(loom=plain, weft=yarn, reed_width_cm=120.0)
    assert found.motion.mean_speed_m_per_s > 0
    assert found.wefts[0].peak_tension_cn >= found.wefts[0].base_tension_cn


def test_a_sweep_over_width_takes_each_width_at_its_own_speed() -> None:
    sweep = Sweep(over=SweepOver.WIDTH, start=100.0, stop=190.0, points=10)
    points = sheet(weft=COTTON, sweep=sweep).sweep
    assert [point.reed_width_cm for point in points] == pytest.approx(range(100, 191, 10))
    speeds = [point.speed_picks_per_min for point in points]
    assert speeds == sorted(speeds, reverse=True)
    assert {point.limited_by for point in points} == {"shedding", "speed_curve"}


def test_a_sweep_over_speed_raises_the_tension() -> None:
    sweep = Sweep(over=SweepOver.SPEED, start=100.0, stop=1000.0, points=10)
    points = sheet(weft=COTTON, reed_width_cm=180.0, sweep=sweep).sweep
    tensions = [point.peak_tension_cn or 0.0 for point in points]
    assert tensions == sorted(tensions)
    assert tensions[0] < tensions[-1]


@pytest.mark.parametrize(
    ("start", "stop", "points", "pointer"),
    [
        (100.0, 100.0, 5, "/sweep"),
        (0.0, 10.0, 5, "/sweep/from"),
        (1.0, 2.0, 1, "/sweep"),
        (1.0, 2.0, 201, "/sweep"),
    ],
)
def test_a_sweep_that_leads_nowhere_is_refused(
    start: float, stop: float, points: int, pointer: str
) -> None:
    sweep = Sweep(over=SweepOver.SPEED, start=start, stop=stop, points=points)
    with pytest.raises(InputError) as refused:
        sheet(weft=COTTON, sweep=sweep)
    assert refused.value.faults[0].pointer == pointer


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"reed_width_cm": 190.1}, "/reed_width_cm"),
        (
            {"sweep": Sweep(over=SweepOver.WIDTH, start=100.0, stop=190.1, points=3)},
            "/sweep/to",
        ),
    ],
)
def test_a_width_that_the_loom_has_not_is_pointed_at(asked: dict[str, Any], pointer: str) -> None:
    with pytest.raises(InputError) as refused:
        sheet(**asked)
    assert refused.value.faults[0].pointer == pointer


def test_a_cloth_that_is_too_wide_has_the_finding_of_its_validation() -> None:
    stated = construction(width_cm=181.0)
    estimated = replace(stated, weft=replace(stated.weft, crimp_pct=None))
    for cloth in (stated, estimated):
        both = sheet(construction=cloth).findings, assess(cloth, loom()).findings
        found, judged = (
            next(one for one in findings if one.code == CheckCode.WIDTH_REED_SPACE)
            for findings in both
        )
        assert found.severity is judged.severity
    assert found.severity is Severity.WARNING


@given(width_cm=st.floats(60, 190), tex=st.floats(5, 400), speed=st.floats(50, 1500))
def test_the_speed_is_the_least_of_its_limits(width_cm: float, tex: float, speed: float) -> None:
    found = sheet(
        weft=Yarn(linear_density_tex=tex, fibre="cotton"),
        reed_width_cm=width_cm,
        speed_picks_per_min=speed,
    )
    limits = found.speed_limits_picks_per_min
    assert found.speed_picks_per_min == min(limits.values()) == limits[found.limited_by]


def of_setting(findings: Any) -> set[str]:
    """Errors, and warnings of what speed and width may exceed; others are the cloth's own."""
    subjects = ("width", "insertion", "weft", "shedding")
    return {
        found.code
        for found in findings
        if found.severity is Severity.ERROR
        or (found.severity is Severity.WARNING and found.code.partition(".")[0] in subjects)
    }


@share_of_examples(0.3)
@given(cloth=trade_orders, on=trade_looms, speed=st.sampled_from((300.0, 520.0, 900.0)))
def test_a_setting_has_the_findings_of_its_validation(
    cloth: Construction, on: Loom, speed: float
) -> None:
    asked = replace(cloth, requested_speed_picks_per_min=speed)
    try:
        whole = assess(asked, on, remedies=False)
        found = sheet(loom=on, construction=cloth, speed_picks_per_min=speed)
    except InputError:
        return  # too wide for the loom, which a rate refuses and a validation reports
    assert [(one.code, one.severity, one.message) for one in found.findings] == [
        (one.code, one.severity, one.message) for one in whole.findings
    ]


@pytest.mark.slow
@share_of_examples(0.2)
@given(cloth=trade_orders, on=trade_looms)
def test_a_point_of_a_sweep_is_beyond_what_its_validation_says(
    cloth: Construction, on: Loom
) -> None:
    sweep = Sweep(over=SweepOver.SPEED, start=200.0, stop=1000.0, points=4)
    try:
        points = sheet(loom=on, construction=cloth, sweep=sweep).sweep
    except InputError:
        return
    for point in points:
        asked = replace(cloth, requested_speed_picks_per_min=point.speed_picks_per_min)
        whole = assess(asked, on, rounded=False, remedies=False)
        said = of_setting(whole.findings)
        # Faster than the loom can run, tension and motion are those of the point, and so judged.
        faster = OF_THE_SPEED_RUN if point.limited_by is not None else set()
        assert said <= set(point.beyond) <= said | faster
        assert point.beyond or point.limited_by is None


def test_a_point_faster_than_the_loom_is_judged_at_its_own_speed() -> None:
    """A loom that reaches every point has the same codes there, but for its greatest speed."""
    fast = loom(
        max_speed_picks_per_min=3000.0,
        speed_curve=(),
        shedding=shedding(max_speed_picks_per_min=3000.0),
        insertion=insertion(max_rate_m_per_min=9000.0, max_feeder_speed_m_per_min=1000.0),
    )
    slow = replace(fast, max_speed_picks_per_min=300.0)
    sweep = Sweep(over=SweepOver.SPEED, start=250.0, stop=1150.0, points=4)
    points = sheet(loom=slow, construction=construction(), sweep=sweep).sweep
    own = {"insertion.speed_exceeded"}
    for point in points:
        asked = replace(construction(), requested_speed_picks_per_min=point.speed_picks_per_min)
        reached = of_setting(assess(asked, fast, rounded=False, remedies=False).findings)
        assert set(point.beyond) - own == reached - own
    assert points[-1].beyond == (
        "weft.feeder_speed",
        "insertion.speed_exceeded",
        "insertion.acceleration",
    )


def test_a_sweep_over_width_marks_what_the_validation_of_that_width_warns_of() -> None:
    cloth = construction(requested_speed_picks_per_min=540.0)
    sweep = Sweep(over=SweepOver.WIDTH, start=90.0, stop=190.0, points=11)
    for point in sheet(construction=cloth, sweep=sweep).sweep:
        other = replace(cloth, width_cm=point.reed_width_cm / 1.05)
        assert set(point.beyond) == of_setting(assess(other, loom()).findings)
    first, *_, last = sheet(construction=cloth, sweep=sweep).sweep
    assert first.beyond == ("width.below_minimum",)
    assert last.beyond == ("insertion.speed_exceeded",)


def test_a_reed_that_is_not_in_stock_is_found_but_no_point_is_beyond_it() -> None:
    on = loom(reeds_in_stock_dents_per_10cm=(80.0,))
    sweep = Sweep(over=SweepOver.SPEED, start=300.0, stop=400.0, points=2)
    found = sheet(loom=on, construction=construction(), sweep=sweep)
    assert "reed.not_in_stock" in {one.code for one in found.findings}
    assert [point.beyond for point in found.sweep] == [(), ()]


def test_a_weft_and_a_width_alone_are_judged_by_what_concerns_them() -> None:
    found = sheet(
        weft=Yarn(designation="6 tex", fibre="cotton"),
        reed_width_cm=160.0,
        speed_picks_per_min=800.0,
    )
    pointers = {one.code.value: one.pointer for one in found.findings}
    assert pointers["weft.linear_density"] == "/weft"
    assert pointers["insertion.rate_exceeded"] == "/speed_picks_per_min"
    assert {code.partition(".")[0] for code in pointers} <= {"weft", "insertion", "width"}


def test_what_a_finding_rests_on_is_named_as_the_request_does() -> None:
    wool = Yarn(designation="Nm 8", fibre="wool")
    found = sheet(weft=wool, reed_width_cm=190.0, speed_picks_per_min=800.0).findings
    speed = next(one for one in found if one.code == "insertion.weft_speed")
    assert any(pointer.startswith("/weft/") for pointer in speed.rests_on)
    for pointer in speed.rests_on:
        assert pointer.startswith(("/loom/", "/weft/"))
        assert f" {pointer} = " in speed.message


def test_without_a_weft_only_speed_and_width_are_judged() -> None:
    found = sheet(reed_width_cm=90.0, speed_picks_per_min=560.0)
    assert {one.code: one.pointer for one in found.findings} == {
        "width.below_minimum": "/reed_width_cm",
        "insertion.shedding_speed": "/speed_picks_per_min",
    }


def test_a_needle_is_not_judged_by_a_weave_that_nobody_states() -> None:
    needle = build_loom(
        insertion=Insertion(system=InsertionSystem.NEEDLE),
        reed_width_cm=10.0,
        min_reed_width_cm=None,
        speed_curve=(),
    )
    sheet = insertion_rates(RateRequest(reed_width_cm=8.0), needle)
    assert "insertion.double_pick" not in {one.code for one in sheet.findings}


def test_a_sweep_over_speed_names_the_least_limit_below_a_point() -> None:
    sweep = Sweep(over=SweepOver.SPEED, start=500.0, stop=560.0, points=2)
    slow, fast = sheet(weft=COTTON, reed_width_cm=100.0, sweep=sweep).sweep
    assert (slow.limited_by, slow.beyond) == (None, ())
    assert (fast.limited_by, fast.beyond) == ("shedding", ("insertion.shedding_speed",))


def test_a_weaker_weft_never_runs_faster() -> None:
    """At 1 cN/tex the feeder alone overloads it, whatever the speed: the loom is not to run."""
    weak = (
        Yarn(designation="Ne 20", fibre="cotton", tenacity_cn_per_tex=each, strength_cv_pct=10.0)
        for each in (0.5, 1.0, 1.5, 2.2, 3.0, 5.0)
    )
    stated = insertion(base_tension_cn_per_tex=0.3, withdrawal_factor=2.0, wrap_deg=180.0)
    stated = replace(stated, friction_coefficient=0.2)
    sheets = [sheet(loom=loom(insertion=stated), weft=yarn, reed_width_cm=160.0) for yarn in weak]
    speeds = [each.speed_picks_per_min for each in sheets]
    assert speeds == sorted(speeds)
    assert (speeds[0], sheets[0].limited_by) == (1, "weft_strength")
    fast = sheet(
        loom=loom(insertion=stated),
        weft=Yarn(designation="Ne 20", fibre="cotton", tenacity_cn_per_tex=0.5),
        reed_width_cm=160.0,
        speed_picks_per_min=900.0,
    )
    errors = {one.code.value for one in fast.findings if one.severity is Severity.ERROR}
    assert "insertion.speed_exceeded" in errors
    assert "insertion.weft_speed" not in errors
    (broken,) = [one for one in sheets[0].findings if one.code == "weft.strength"]
    assert (broken.severity, broken.message_key) == ("error", "weft.strength.any_speed")
    assert "however slowly the loom runs" in broken.message
