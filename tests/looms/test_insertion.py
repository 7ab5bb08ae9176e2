"""Motion of the weft carrier, tension of the weft, and the limits of speed."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy import integrate, optimize

from weavability.looms.carriers import (
    InsertionSetup,
    InsertionSystem,
    Rapiers,
    insertion_motion,
)
from weavability.looms.default_limits import default_limits
from weavability.looms.insertion_defaults import default_insertion
from weavability.looms.motion_laws import GRID_STEPS, MotionLaw
from weavability.looms.pick_over_crank import insertion_curve
from weavability.looms.weft_insertion import (
    SpeedCurve,
    SpeedLimit,
    SpeedLimitName,
    extra_weft_pct,
    feeder_speed_m_per_min,
    insertion_rate_m_per_min,
    speed_at_insertion_rate,
    speed_limit,
)
from weavability.looms.weft_tension import (
    Moment,
    WeftYarn,
    secant_modulus_cn_per_tex,
    speed_at_strength_use,
    strain_of,
    weft_tension,
)
from weavability.textiles.errors import InputError

COTTON_30_TEX = WeftYarn(linear_density_tex=30, weakest_strength_cn=335, modulus_cn_per_tex=400)
"""About 15 cN/tex with a CV of 8.5 %; common practice, no source."""

WOOLLEN_100_TEX = WeftYarn(linear_density_tex=100, weakest_strength_cn=256, modulus_cn_per_tex=60)
"""A weak single: about 4 cN/tex with a CV of 12 %; common practice, no source."""


class Point(NamedTuple):
    reed_width_cm: float
    picks_per_min: float


def setup_by_default(system: InsertionSystem, *, tex: float = 30, **given: Any) -> InsertionSetup:
    values = {name: default.value for name, default in default_insertion(system).items()}
    values["base_tension_cn"] = float(values.pop("base_tension_cn_per_tex")) * tex
    del values["initial_modulus_times"]
    if "motion_law" in values:
        values["motion_law"] = MotionLaw(str(values["motion_law"]))
    fields: dict[str, Any] = {**values, **given}
    return InsertionSetup(system=system, **fields)


# Without balloon and friction, and taken up from rest, the tension is T0 + mu·v² + mu·L·a.
BARE = {"base_tension_cn": 15.0, "withdrawal_factor": 1.0, "wrap_deg": 0.0}
FROM_REST = {**BARE, "overrun_cm": 0.0, "transfer_travel_cm": 0.0}
RAPIER = setup_by_default(InsertionSystem.RAPIER, **FROM_REST)
AIR_JET = setup_by_default(InsertionSystem.AIR_JET, **BARE)
PROJECTILE = setup_by_default(InsertionSystem.PROJECTILE, **BARE)
SHUTTLE = setup_by_default(InsertionSystem.SHUTTLE, **BARE)


@pytest.mark.parametrize("law", MotionLaw)
def test_velocity_and_acceleration_are_the_derivatives_of_displacement(law: MotionLaw) -> None:
    inside = np.linspace(0.01, 0.99, 197)
    h = 1e-5
    velocity = (law.displacement(inside + h) - law.displacement(inside - h)) / (2 * h)
    acceleration = (law.velocity(inside + h) - law.velocity(inside - h)) / (2 * h)
    assert velocity == pytest.approx(law.velocity(inside), abs=1e-7)
    assert acceleration == pytest.approx(law.acceleration(inside), abs=2e-3)


@pytest.mark.parametrize("law", MotionLaw)
def test_integrating_the_acceleration_twice_covers_one_stroke_from_rest_to_rest(
    law: MotionLaw,
) -> None:
    joints = [1 / 8, 3 / 8, 5 / 8, 7 / 8]
    gained, _ = integrate.quad(lambda u: float(law.acceleration(u)), 0, 1, points=joints)
    covered, _ = integrate.quad(lambda u: float(law.acceleration(u)) * (1 - u), 0, 1, points=joints)
    assert gained == pytest.approx(0, abs=1e-9)
    assert covered == pytest.approx(1, abs=1e-9)


CAM_HANDBOOK = {
    MotionLaw.SIMPLE_HARMONIC: (1.57, 4.93),
    MotionLaw.CYCLOIDAL: (2.00, 6.28),
    MotionLaw.MODIFIED_SINE: (1.76, 5.53),
    MotionLaw.POLYNOMIAL_345: (1.875, 5.77),
    MotionLaw.MODIFIED_TRAPEZOID: (2.00, 4.89),
}
"""Peak velocity and acceleration as cam handbooks print them; from memory."""


@pytest.mark.parametrize("law", MotionLaw)
def test_peak_coefficients_are_the_maxima_and_those_of_the_cam_handbooks(law: MotionLaw) -> None:
    def highest(curve: Any) -> float:
        start = float(np.argmax(curve(np.linspace(0, 1, 201)))) / 200
        found = optimize.minimize_scalar(
            lambda u: -float(curve(u)),
            bounds=(max(start - 0.01, 0), min(start + 0.01, 1)),
            method="bounded",
            options={"xatol": 1e-10},
        )
        return float(-found.fun)

    peaks = (highest(law.velocity), highest(law.acceleration))
    assert (law.peak_velocity, law.peak_acceleration) == pytest.approx(peaks, rel=1e-7)
    assert peaks == pytest.approx(CAM_HANDBOOK[law], abs=0.006)


@pytest.mark.parametrize("time", [-0.01, 1.01, float("nan")])
def test_a_time_outside_the_stroke_is_refused(time: float) -> None:
    with pytest.raises(InputError):
        MotionLaw.CYCLOIDAL.displacement([0.5, time])


def test_at_1000_picks_1150_m_a_minute_is_a_narrow_loom_that_hands_over_1000_times() -> None:
    """Common practice, no source: the hand-over happens more than a thousand times a minute."""
    assert insertion_rate_m_per_min(speed_picks_per_min=1000, reed_width_cm=115) == 1150
    assert speed_at_insertion_rate(rate_m_per_min=1150, reed_width_cm=190) < 606
    motion = insertion_motion(RAPIER, speed_picks_per_min=1010, reed_width_cm=113.8)
    assert motion.hand_overs_per_min == 1010


def test_a_single_rapier_makes_the_whole_way_in_half_the_window() -> None:
    single = replace(RAPIER, rapiers=Rapiers.SINGLE)
    pair = insertion_motion(RAPIER, speed_picks_per_min=300, reed_width_cm=190)
    alone = insertion_motion(single, speed_picks_per_min=300, reed_width_cm=190)
    assert alone.insertion_time_ms == pytest.approx(pair.insertion_time_ms / 2)
    assert alone.peak_speed_m_per_s == pytest.approx(2 * pair.peak_speed_m_per_s)
    assert alone.hand_overs_per_min is None


def test_overrun_lengthens_both_strokes() -> None:
    far = insertion_motion(
        replace(RAPIER, overrun_cm=10), speed_picks_per_min=500, reed_width_cm=190
    )
    assert [stroke.length_m for stroke in far.strokes] == pytest.approx([1.05, 1.05])
    assert far.mean_speed_m_per_s == pytest.approx(2.10 / 0.08)


def test_a_single_rapier_makes_its_overrun_once() -> None:
    far = replace(RAPIER, rapiers=Rapiers.SINGLE, overrun_cm=10)
    (stroke,) = insertion_motion(far, speed_picks_per_min=300, reed_width_cm=190).strokes
    assert stroke.length_m == pytest.approx(2.0)


def test_uneven_halves_put_the_peak_into_the_shorter_one() -> None:
    uneven = replace(RAPIER, transfer_deg=170)
    giver, taker = insertion_motion(uneven, speed_picks_per_min=500, reed_width_cm=190).strokes
    assert giver.peak_speed_m_per_s > taker.peak_speed_m_per_s
    assert giver.time_ms + taker.time_ms == pytest.approx(80)


def test_flight_has_no_acceleration_and_no_hand_over() -> None:
    motion = insertion_motion(AIR_JET, speed_picks_per_min=900, reed_width_cm=190)
    assert motion.peak_acceleration_m_per_s2 is None
    assert motion.hand_overs_per_min is None
    assert motion.peak_speed_m_per_s == motion.mean_speed_m_per_s


WINDOWS = {
    "rapier": 240,
    "projectile": 150,
    "air_jet": 140,
    "water_jet": 140,
    "shuttle": 135,
    "needle": 240,
}
"""Rapier: a trade-journal series, shuttle: course slides of 2006; others common practice."""


@pytest.mark.parametrize("system", InsertionSystem)
def test_every_system_has_defaults_with_reasons_that_make_a_setup(system: InsertionSystem) -> None:
    assert all(default.reason for default in default_insertion(system).values())
    for name, default in default_insertion(system).items():
        if default.band is not None:
            assert isinstance(default.value, float), name
            assert default.band.low <= default.value <= default.band.high, name
    setup = setup_by_default(system)
    assert setup.exit_deg - setup.entry_deg == WINDOWS[system]


def test_carriers_are_as_long_as_published() -> None:
    """A projectile of 90 mm: data published for the class; a shuttle of 0.30 m: course slides."""
    assert setup_by_default(InsertionSystem.PROJECTILE).carrier_length_cm == 9.0
    assert setup_by_default(InsertionSystem.SHUTTLE).carrier_length_cm == 30.0


@pytest.mark.parametrize(
    ("system", "picks", "width_cm"),
    [
        (InsertionSystem.RAPIER, 600, 190),
        (InsertionSystem.RAPIER, 1000, 115),
        (InsertionSystem.PROJECTILE, 320, 340),
        (InsertionSystem.AIR_JET, 900, 190),
        (InsertionSystem.SHUTTLE, 200, 120),
    ],
)
def test_ordinary_cotton_at_ordinary_speed_is_far_from_a_warning(
    system: InsertionSystem, picks: float, width_cm: float
) -> None:
    tension = weft_tension(
        setup_by_default(system),
        COTTON_30_TEX,
        speed_picks_per_min=picks,
        reed_width_cm=width_cm,
    )
    assert 3 < tension.strength_use_pct < 30
    assert 10 < tension.peak_tension_cn < 100


def test_a_weak_woollen_single_is_in_danger_at_high_speed_only() -> None:
    setup = setup_by_default(InsertionSystem.RAPIER, tex=100)
    use = [
        weft_tension(
            setup, WOOLLEN_100_TEX, speed_picks_per_min=picks, reed_width_cm=190
        ).strength_use_pct
        for picks in (200, 600)
    ]
    assert use[0] < 40
    assert use[1] > 60


@pytest.mark.slow
@pytest.mark.parametrize("law", MotionLaw)
@pytest.mark.parametrize("overrun_cm", [0.0, 6.0])
@pytest.mark.parametrize("held", [BARE, {**BARE, "withdrawal_factor": 3.0, "wrap_deg": 300.0}])
def test_stroke_peaks_are_the_maxima_of_the_tension_formula(
    law: MotionLaw, overrun_cm: float, held: dict[str, Any]
) -> None:
    """(T0 + c·mu·v²)·e^(f·w) + mu·L·a, maximised by SciPy over each stroke on its own."""
    setup = replace(RAPIER, motion_law=law, overrun_cm=overrun_cm, **held)
    times, drum = held["withdrawal_factor"], np.exp(0.2 * np.radians(held["wrap_deg"]))
    tension = weft_tension(setup, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190)
    found = {peak.moment: peak.tension_cn for peak in tension.peaks}
    stroke_m, time_s = 0.95 + overrun_cm / 100, 0.04
    for carrier, start_m in (("giver", -overrun_cm / 100), ("taker", 0.95)):

        def formula(u: float, start_m: float = start_m) -> float:
            s, v, a = (float(part) for part in law.stroke(u))
            length_m = 0.5 + start_m + stroke_m * s
            if start_m + stroke_m * s < -1e-12:
                return 0.0
            speed, acceleration = v * stroke_m / time_s, a * stroke_m / time_s**2
            drawn = (15 + times * 30e-6 * 100 * speed**2) * drum
            return float(drawn + 30e-6 * 100 * length_m * acceleration)

        best = max((formula(u), u) for u in np.linspace(0, 1, 401))[1]
        near = optimize.minimize_scalar(
            lambda u, f=formula: -f(u),
            bounds=(max(best - 0.004, 0), min(best + 0.004, 1)),
            method="bounded",
            options={"xatol": 1e-9},
        )
        expected = max(-float(near.fun), formula(best))
        assert found[Moment(carrier)] == pytest.approx(expected, rel=1e-4)


def test_a_rapier_at_rest_strikes_nothing_a_moving_one_does() -> None:
    rest = weft_tension(RAPIER, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190)
    assert rest.pick_up_jerk_cn == 0
    assert "pick_up" not in {peak.moment for peak in rest.peaks}
    moving = weft_tension(
        replace(RAPIER, overrun_cm=6), COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190
    )
    assert moving.moment == "pick_up"
    assert moving.pick_up_jerk_cn is not None
    assert moving.peak_tension_cn == pytest.approx(15 + moving.pick_up_jerk_cn)


def test_the_pick_up_strikes_with_the_speed_that_the_rapier_has_at_the_reeds_edge() -> None:
    setup = replace(RAPIER, motion_law=MotionLaw.SIMPLE_HARMONIC, overrun_cm=10)
    tension = weft_tension(setup, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190)
    turned = np.arccos(1 - 2 * 0.10 / 1.05)
    speed = np.pi / 2 * np.sin(turned) * 1.05 / 0.04
    expected = float(speed) * strain_of(linear_density_tex=30.0, modulus_cn_per_tex=400.0).blow
    assert tension.pick_up_jerk_cn == pytest.approx(expected, rel=1e-6)
    assert tension.peaks[0].at_deg == pytest.approx(60 + 120 * float(turned) / np.pi, abs=1e-6)


def test_a_soft_brake_follows_its_way_a_hard_one_the_blow() -> None:
    def stop(length_cm: float) -> float:
        setup = replace(AIR_JET, stopping_length_cm=length_cm)
        found = weft_tension(setup, COTTON_30_TEX, speed_picks_per_min=600, reed_width_cm=190)
        assert found.stopping_jerk_cn is not None
        return found.stopping_jerk_cn

    speed = 6 * 600 * 1.9 / 140
    blow = speed * strain_of(linear_density_tex=30.0, modulus_cn_per_tex=400.0).blow
    assert stop(40) == pytest.approx(30e-6 * 2.4 * speed**2 / (2 * 0.40) * 100)
    assert stop(80) == pytest.approx(stop(40) / 2)
    assert stop(0.5) == pytest.approx(blow)


def test_a_launch_sets_the_free_weft_in_motion_over_its_way() -> None:
    """The steady force mu·L·v²/(2·d): 0.5 m of 30 tex over 6.5 cm."""
    tension = weft_tension(PROJECTILE, COTTON_30_TEX, speed_picks_per_min=320, reed_width_cm=340)
    speed = 6 * 320 * 3.49 / 150
    expected = 30e-6 * 0.5 * speed**2 / (2 * 0.065) * 100
    assert tension.pick_up_jerk_cn == pytest.approx(expected)


def test_a_weft_that_no_brake_stops_and_nothing_launches_only_flies() -> None:
    loose = replace(PROJECTILE, stopping_length_cm=0, launch_length_cm=0)
    tension = weft_tension(loose, COTTON_30_TEX, speed_picks_per_min=320, reed_width_cm=340)
    assert [peak.moment for peak in tension.peaks] == ["flight"]
    assert tension.stopping_jerk_cn is None
    assert tension.pick_up_jerk_cn is None
    speed = 6 * 320 * 3.49 / 150
    assert tension.peak_tension_cn == pytest.approx(15 + 30e-6 * speed**2 * 100)


def test_base_tension_above_the_share_leaves_no_speed() -> None:
    setup = replace(RAPIER, base_tension_cn=100)
    for use_pct, expected in ((29.8, 0.0), (29.9, 1.0)):
        speed = speed_at_strength_use(
            setup, COTTON_30_TEX, strength_use_pct=use_pct, reed_width_cm=190
        )
        assert (speed > 0) == (expected > 0)


@pytest.mark.parametrize("system", InsertionSystem)
def test_the_curve_carries_the_weft_across_once(system: InsertionSystem) -> None:
    setup = setup_by_default(system)
    curve = insertion_curve(setup, COTTON_30_TEX, speed_picks_per_min=300, reed_width_cm=150)
    assert curve.displacement_m[0] == 0
    assert curve.displacement_m[-1] == pytest.approx(1.5)
    assert np.all(np.diff(curve.displacement_m) >= -1e-12)
    outside = (curve.angle_deg < setup.entry_deg) | (curve.angle_deg > setup.exit_deg)
    assert np.all(curve.speed_m_per_s[outside] == 0)
    assert curve.tension_cn[outside] == pytest.approx(setup.base_tension_cn)
    assert np.all(curve.tension_cn >= 0)


def test_the_curve_peaks_where_and_as_the_tension_says() -> None:
    tension = weft_tension(RAPIER, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190)
    curve = insertion_curve(
        RAPIER, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190, steps=GRID_STEPS * 3
    )
    top = int(curve.tension_cn.argmax())
    assert curve.tension_cn[top] == pytest.approx(tension.peak_tension_cn, rel=1e-6)
    assert curve.angle_deg[top] == pytest.approx(tension.at_deg, abs=0.06)
    motion = insertion_motion(RAPIER, speed_picks_per_min=500, reed_width_cm=190)
    assert curve.speed_m_per_s.max() == pytest.approx(motion.peak_speed_m_per_s, rel=1e-6)


CURVE = [Point(190, 560), Point(140, 620), Point(220, 500)]


@pytest.mark.parametrize(
    ("width_cm", "picks"),
    [(100, 620), (140, 620), (165, 590), (190, 560), (205, 530), (220, 500), (230, 500)],
)
def test_the_speed_curve_is_interpolated_and_never_carried_on(
    width_cm: float, picks: float
) -> None:
    assert SpeedCurve.through(CURVE).speed_at(float(width_cm)) == pytest.approx(picks)


@pytest.mark.parametrize(
    "points", [[], [Point(140, 620), Point(140, 600)], [Point(-1, 600)], [Point(140, 0)]]
)
def test_a_curve_that_says_nothing_or_two_things_is_refused(points: list[Point]) -> None:
    with pytest.raises(InputError):
        SpeedCurve.through(points)


def test_the_least_limit_decides_and_of_equals_the_first() -> None:
    limits = [
        SpeedLimit(name=SpeedLimitName.LOOM_SPEED, picks_per_min=620),
        SpeedLimit(name=SpeedLimitName.SHEDDING, picks_per_min=600),
        SpeedLimit(name=SpeedLimitName.REQUESTED_SPEED, picks_per_min=600),
    ]
    assert speed_limit(limits).name == "shedding"
    assert speed_limit(limits[::-1]).name == "requested_speed"
    with pytest.raises(InputError):
        speed_limit([])


def test_a_feeder_of_every_third_pick_in_two_runs_at_a_sixth() -> None:
    extra = extra_weft_pct(extra_weft_cm=12, reed_width_cm=160)
    alone = feeder_speed_m_per_min(insertion_rate_m_per_min=800, extra_weft_pct=extra, feeders=1)
    shared = feeder_speed_m_per_min(
        insertion_rate_m_per_min=800, extra_weft_pct=extra, feeders=2, share_of_picks=1 / 3
    )
    assert alone == pytest.approx(860)
    assert shared == pytest.approx(860 / 6)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"entry_deg": 180.0}, "exit_deg"),
        ({"transfer_deg": 300.0}, "exit_deg"),
        ({"exit_deg": 361.0}, "exit_deg"),
        ({"entry_deg": -1.0}, "entry_deg"),
        ({"motion_law": None}, "motion_law"),
        ({"transfer_deg": None}, "transfer_deg"),
        ({"overrun_cm": -0.1}, "overrun_cm"),
        ({"transfer_travel_cm": 0.0009}, "transfer_travel_cm"),
        ({"launch_length_cm": 300.1}, "launch_length_cm"),
        ({"free_weft_length_m": float("nan")}, "free_weft_length_m"),
        ({"base_tension_cn": float("inf")}, "base_tension_cn"),
    ],
)
def test_a_rapier_setup_out_of_its_domain_names_the_field(
    changed: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError) as refusal:
        replace(RAPIER, **changed)
    assert refusal.value.faults[0].pointer == f"/{field}"


@pytest.mark.parametrize(
    "given",
    [{"motion_law": MotionLaw.CYCLOIDAL}, {"rapiers": Rapiers.DOUBLE}, {"transfer_deg": 160.0}],
)
def test_a_jet_has_no_rapier_fields(given: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="has no"):
        replace(AIR_JET, **given)


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf"), 1e300])
def test_speed_and_width_must_be_numbers_that_a_loom_can_have(wrong: float) -> None:
    with pytest.raises(InputError):
        insertion_motion(RAPIER, speed_picks_per_min=wrong, reed_width_cm=190)
    with pytest.raises(InputError):
        weft_tension(RAPIER, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=wrong)
    with pytest.raises(InputError):
        speed_at_strength_use(RAPIER, COTTON_30_TEX, strength_use_pct=wrong, reed_width_cm=190)
    with pytest.raises(InputError):
        replace(COTTON_30_TEX, weakest_strength_cn=wrong)


@pytest.mark.parametrize("steps", [35, 36001])
def test_the_steps_of_a_curve_are_bounded(steps: int) -> None:
    with pytest.raises(InputError):
        insertion_curve(
            RAPIER, COTTON_30_TEX, speed_picks_per_min=500, reed_width_cm=190, steps=steps
        )


def test_the_secant_modulus_is_tenacity_over_elongation() -> None:
    assert secant_modulus_cn_per_tex(
        tenacity_cn_per_tex=40, breaking_elongation_pct=20
    ) == pytest.approx(200)


def test_the_band_of_the_rate_of_projectiles_holds_what_their_class_inserts() -> None:
    # 914 to 1100 m/min: published picking notes on projectile looms.
    low, high = default_limits()["/insertion/max_rate_m_per_min"]["bands"]["projectile"]
    assert low <= 914 < 1100 <= high


def test_starting_values_with_a_source_are_what_is_published() -> None:
    # Rapier looms insert up to 1300 m/min [RAPIER-ENCYCLOPAEDIA], projectile looms up to 1100, with
    # 1.5 cm tucked in at each side [PROJECTILE-NOTES]; the widest shuttle loom of the table of
    # [BROOKS-1892], p. 44, has 150 picks/min at 66 in, 251.46 m/min: 252.
    rate = default_limits()["/insertion/max_rate_m_per_min"]["values"]
    assert (rate["rapier"], rate["projectile"]) == (1300, 1100)
    assert rate["shuttle"] == math.ceil(150 * 66 * 2.54 / 100)
    extra_cm = default_limits()["/insertion/extra_weft_cm"]["values"]
    assert (extra_cm["projectile"], extra_cm["shuttle"], extra_cm["needle"]) == (2 * 1.5, 0, 0)
