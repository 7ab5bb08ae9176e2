"""Withdrawal, friction and jerks of the weft, jets by width, needles, and published figures."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from answers.fabrics import Row, construction, loom, rows, why_not
from builders import construction as plain_cloth
from builders import finding, named, severity, threads
from builders import insertion as stated_insertion
from builders import loom as build_loom

from weavability.answers.validation import assess, judge
from weavability.checks.finding import Severity
from weavability.looms.carriers import (
    InsertionSetup,
    InsertionSystem,
    Rapiers,
    insertion_motion,
)
from weavability.looms.insertion_defaults import default_insertion, jet_window_deg
from weavability.looms.loom import Band, Insertion, Loom, Shedding, SheddingKind
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.speed import load_weft
from weavability.looms.weft_tension import WeftYarn, strain_of, weft_tension
from weavability.textiles.assumptions import Ledger
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn, resolve_yarn

PUBLISHED: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "insertion_published.json").read_text("utf-8")
)
COTTON = WeftYarn(linear_density_tex=30, weakest_strength_cn=335, modulus_cn_per_tex=400)
RAPIER = InsertionSetup(
    system=InsertionSystem.RAPIER,
    motion_law=MotionLaw.SIMPLE_HARMONIC,
    rapiers=Rapiers.DOUBLE,
    entry_deg=60,
    transfer_deg=180,
    exit_deg=300,
    free_weft_length_m=0.5,
    base_tension_cn=10,
)


def any_loom(
    system: InsertionSystem, *, width_cm: float = 190.0, speed: float = 300.0, **insertion: Any
) -> Loom:
    return Loom(
        insertion=Insertion(system=system, **insertion),
        reed_width_cm=width_cm,
        min_reed_width_cm=10.0,
        max_speed_picks_per_min=speed,
        shedding=Shedding(kind=SheddingKind.DOBBY, shafts=16),
    )


@pytest.mark.parametrize("case", PUBLISHED["capstan"])
def test_guides_multiply_the_tension_as_published(case: dict[str, Any]) -> None:
    setup = replace(RAPIER, friction_coefficient=case["friction"], wrap_deg=case["wrap_deg"])
    out_cn = case["in_cn"] * setup.guide_times
    assert out_cn == pytest.approx(case["out_cn"], abs=case["tolerance_cn"])


def test_a_double_rapier_of_medium_speed_accelerates_the_weft_as_published() -> None:
    motion = insertion_motion(RAPIER, speed_picks_per_min=500, reed_width_cm=190)
    published = PUBLISHED["acceleration"]
    assert motion.peak_acceleration_m_per_s2 == pytest.approx(
        published["m_per_s2"], rel=published["tolerance_pct"] / 100
    )


@pytest.mark.parametrize("case", PUBLISHED["rates"], ids=lambda case: case["system"])
def test_published_rates_are_products_of_published_speeds_and_widths(case: dict[str, Any]) -> None:
    """A top speed and a top width do not belong together, so their product is above the rate."""
    for place in (0, 1):
        assert case["rate_m_per_min"][place] <= case["picks_per_min"][1] * case["width_m"][1]
    least = case["picks_per_min"][0] * case["width_m"][0]
    assert least <= case["rate_m_per_min"][1]


def test_water_jets_at_their_published_rates_are_not_warned_of() -> None:
    (case,) = (case for case in PUBLISHED["rates"] if case["system"] == "water_jet")
    speed = case["picks_per_min"][1]
    for width_m in (case["width_m"][0], case["rate_m_per_min"][1] / speed):
        jet = any_loom(InsertionSystem.WATER_JET, width_cm=100 * width_m, speed=speed)
        weft = threads(
            20.0, yarns={"A": Yarn(designation="84 dtex f36", fibre="polyester")}, crimp_pct=0.0
        )
        cloth = plain_cloth(weft=weft, width_cm=100 * width_m)
        assert severity("insertion.weft_velocity", cloth, jet) in (None, "note")


@pytest.mark.parametrize(
    ("width_cm", "window_deg"), [(150, 140), (190, 140), (265, 165), (340, 190), (540, 190)]
)
def test_a_wide_jet_loom_gives_the_flight_more_time(width_cm: float, window_deg: float) -> None:
    assert jet_window_deg(width_cm) == pytest.approx(window_deg)
    window = default_insertion(InsertionSystem.AIR_JET, reed_width_cm=width_cm)
    assert window["exit_deg"].value - window["entry_deg"].value == pytest.approx(window_deg)  # type: ignore[operator]


@pytest.mark.parametrize(("width_cm", "speed"), [(190, 800), (280, 650), (340, 600)])
def test_an_ordinary_air_jet_flies_at_a_credible_speed(width_cm: float, speed: float) -> None:
    """35 to 70 m/s (from memory): it was 87 m/s on 3.4 m at 600 picks/min."""
    limits = resolve_loom(any_loom(InsertionSystem.AIR_JET, width_cm=width_cm, speed=speed))
    motion = insertion_motion(limits.motion, speed_picks_per_min=speed, reed_width_cm=width_cm)
    assert 35 < motion.mean_speed_m_per_s < 70


@pytest.mark.slow
def test_a_rapier_faster_than_any_that_is_published_is_noted() -> None:
    # pi^2/2 x 0.95 m x (6 n / 120)^2: 6000 m/s2 at 715.5 picks/min, 9000 at 876.3.
    found = []
    for speed in (715, 716, 876, 877):
        rapier = any_loom(
            InsertionSystem.RAPIER,
            speed=speed,
            max_rate_m_per_min=5000.0,
            entry_deg=60.0,
            transfer_deg=180.0,
            exit_deg=300.0,
            overrun_cm=0.0,
            motion_law=MotionLaw.SIMPLE_HARMONIC,
        )
        cloth = plain_cloth(weft=threads(22.0, crimp_pct=0.0), width_cm=190.0)
        report = assess(cloth, rapier)
        found.append(
            next((one.severity for one in report.findings if "acceleration" in one.code), None)
        )
        motion = insertion_motion(
            resolve_loom(rapier).motion, speed_picks_per_min=speed, reed_width_cm=190.0
        )
        computed = judge(cloth, rapier).numbers.rapier_acceleration_m_per_s2
        assert computed == pytest.approx(motion.peak_acceleration_m_per_s2)
    assert found == [None, "note", "note", "warning"]


def test_a_weft_that_must_fly_too_fast_is_warned_of() -> None:
    # 6 x n x 1.9 m / 140 degrees: 80 m/s at 982.5 picks/min, 70 at 859.6.
    cloth = plain_cloth(weft=threads(22.0, crimp_pct=0.0), width_cm=190.0)
    found = [
        severity(
            "insertion.weft_velocity",
            cloth,
            any_loom(InsertionSystem.AIR_JET, speed=speed, max_rate_m_per_min=5000.0),
        )
        for speed in (859, 860, 982, 983)
    ]
    assert found == [None, "note", "note", "warning"]


def test_withdrawal_and_friction_are_as_worked_by_hand() -> None:
    """(10 + 2·mu·v²)·e^(0.2·pi) at mid-flight: 6·300·3.49/150 = 41.88 m/s, 5.262 cN of mu·v²."""
    flight = InsertionSetup(
        system=InsertionSystem.PROJECTILE,
        entry_deg=110,
        exit_deg=260,
        carrier_length_cm=9,
        free_weft_length_m=0.5,
        base_tension_cn=10,
        withdrawal_factor=2,
        friction_coefficient=0.2,
        wrap_deg=180,
    )
    tension = weft_tension(flight, COTTON, speed_picks_per_min=300, reed_width_cm=340)
    assert tension.peak_tension_cn == pytest.approx((10 + 2 * 5.2618) * 1.87446, rel=1e-4)


def test_the_taker_jerks_with_the_speed_that_it_has_after_its_travel() -> None:
    setup = replace(RAPIER, transfer_travel_cm=2.0)
    tension = weft_tension(setup, COTTON, speed_picks_per_min=500, reed_width_cm=190)
    turned = np.arccos(1 - 2 * 0.02 / 0.95)
    speed = np.pi / 2 * np.sin(turned) * 0.95 / 0.04
    jerk = float(speed) * strain_of(linear_density_tex=30.0, modulus_cn_per_tex=400.0).blow
    assert tension.transfer_jerk_cn == pytest.approx(jerk, rel=1e-6)
    (peak,) = (peak for peak in tension.peaks if peak.moment == "transfer")
    assert peak.tension_cn == pytest.approx(10 + jerk)
    assert peak.at_deg == pytest.approx(180 + 120 * float(turned) / np.pi, abs=1e-6)
    assert (
        weft_tension(
            replace(RAPIER, rapiers=Rapiers.SINGLE),
            COTTON,
            speed_picks_per_min=200,
            reed_width_cm=190,
        ).transfer_jerk_cn
        is None
    )


@pytest.mark.parametrize(
    ("fibre", "times"), [("cotton", 3.0), ("polyester", 3.0), ("linen", 1.0), ("glass", 1.0)]
)
def test_a_brittle_yarn_meets_a_blow_with_its_mean_modulus(fibre: str, times: float) -> None:
    limits = resolve_loom(any_loom(InsertionSystem.RAPIER))
    yarn = resolve_yarn(Yarn(linear_density_tex=30, fibre=fibre), Ledger())
    loaded = load_weft(limits, yarn)
    assert loaded.strained.modulus_cn_per_tex == pytest.approx(times * yarn.modulus_cn_per_tex)


@pytest.mark.parametrize(
    ("designation", "fibre", "slower_than", "faster_than"),
    [
        ("Nm 12", "wool", 700, 400),
        ("Nm 60/2", "worsted", 900, 600),
        ("jute 8 lb", "jute", 700, 300),
        ("Ne 20", "cotton", 1600, 1000),
    ],
)
def test_a_weak_weft_limits_the_speed_of_a_rapier_and_a_strong_one_hardly(
    designation: str, fibre: str, slower_than: float, faster_than: float
) -> None:
    limits = resolve_loom(any_loom(InsertionSystem.RAPIER))
    weft = load_weft(limits, resolve_yarn(Yarn(designation=designation, fibre=fibre), Ledger()))
    assert faster_than < weft.speed_at_use(60.0, reed_width_cm=190.0) < slower_than


@pytest.mark.slow
@pytest.mark.parametrize("speed", [300.0, 450.0])
def test_no_published_cloth_is_refused_for_its_weft(speed: float) -> None:
    """60 cloths that are woven by trade, on rapiers of ordinary speed."""
    woven: list[Row] = [
        row for row in rows() if row["test_use"] == "false_alarm" and why_not(row) is None
    ]
    assert len(woven) == 60
    refused = {
        (row["id"], found.code)
        for row in woven
        for found in assess(
            construction(row), replace(loom(row), max_speed_picks_per_min=speed)
        ).findings
        if found.severity is Severity.ERROR and found.code.value.startswith(("weft.", "insertion."))
    }
    assert refused == set()


def test_every_parameter_of_the_tension_is_stated_or_has_a_band_and_a_grade() -> None:
    for system in InsertionSystem:
        for line in resolve_loom(any_loom(system)).assumptions:
            if line.pointer.startswith("/insertion/") and line.pointer.endswith(
                ("_deg", "_times", "_factor", "_coefficient", "per_tex", "_travel_cm", "length_m")
            ):
                assert line.grade is not None
                assert line.band is not None
                assert line.band.low <= float(str(line.value)) <= line.band.high


def test_a_stated_parameter_is_no_assumption_and_changes_the_tension() -> None:
    cloth = plain_cloth()
    soft = build_loom(insertion=stated_insertion(wrap_deg=0.0, withdrawal_factor=1.0))
    report = assess(cloth, soft)
    assert not {line.pointer for line in report.assumptions} & {
        "/loom/insertion/wrap_deg",
        "/loom/insertion/withdrawal_factor",
    }
    assert (
        report.rates.peak_weft_tension_cn <= assess(cloth, build_loom()).rates.peak_weft_tension_cn
    )


NEEDLE = InsertionSetup(
    system=InsertionSystem.NEEDLE,
    motion_law=MotionLaw.SIMPLE_HARMONIC,
    picks_per_insertion=2,
    entry_deg=60,
    transfer_deg=180,
    exit_deg=300,
    free_weft_length_m=0.001,
    base_tension_cn=0,
)


def test_a_needle_lays_two_picks_at_a_turn_and_draws_the_weft_twice_as_fast() -> None:
    """1000 turns/min: 5 cm in 20 ms are 2.5 m/s in the mean; the weft peaks at twice pi/2 of it."""
    motion = insertion_motion(NEEDLE, speed_picks_per_min=2000, reed_width_cm=5)
    assert motion.mean_speed_m_per_s == pytest.approx(2.5)
    tension = weft_tension(NEEDLE, COTTON, speed_picks_per_min=2000, reed_width_cm=5)
    weft_speed = 2 * np.pi / 2 * 2.5
    # At mid-stroke the acceleration is nil; before it the needle still accelerates half the loop.
    assert tension.peak_tension_cn >= 30e-6 * weft_speed**2 * 100
    assert tension.peak_tension_cn < 1.3 * 30e-6 * weft_speed**2 * 100


def test_a_needle_that_lays_one_pick_is_refused() -> None:
    with pytest.raises(InputError, match="loop"):
        replace(NEEDLE, picks_per_insertion=1)


def test_two_picks_at_a_turn_halve_the_speed_of_the_rapier() -> None:
    double = replace(RAPIER, picks_per_insertion=2)
    one = insertion_motion(RAPIER, speed_picks_per_min=300, reed_width_cm=190)
    two = insertion_motion(double, speed_picks_per_min=600, reed_width_cm=190)
    assert two.peak_speed_m_per_s == pytest.approx(one.peak_speed_m_per_s)
    assert two.hand_overs_per_min == 300


@pytest.mark.slow
def test_a_limit_that_is_only_assumed_warns_and_a_stated_one_rejects() -> None:
    chiffon = Yarn(designation="4.7 tex", fibre="silk")
    cloth = plain_cloth(weft=threads(40.0, yarns={"A": chiffon}))
    usual = any_loom(InsertionSystem.RAPIER)
    assert severity("weft.linear_density", cloth, usual) == "warning"
    stated = replace(usual, weft_tex=Band(min=5.0))
    assert severity("weft.linear_density", cloth, stated) == "error"
    fast = plain_cloth(requested_speed_picks_per_min=900.0)
    usual = any_loom(InsertionSystem.RAPIER, speed=1000.0)
    assert severity("insertion.rate_exceeded", fast, usual) == "warning"
    stated = any_loom(InsertionSystem.RAPIER, speed=1000.0, max_rate_m_per_min=1300.0)
    assert severity("insertion.rate_exceeded", fast, stated) == "error"
    many = plain_cloth(
        weft=threads(
            22.0,
            yarns={key: Yarn(designation="20 tex", fibre="cotton") for key in "ABCDEFGHI"},
            order="A B C D E F G H I",
        )
    )
    assert severity("weft.selectors", many, usual) == "warning"
    assert severity("weft.selectors", many, replace(usual, weft_selectors=8)) == "error"


@pytest.mark.parametrize(
    ("yarn", "system", "expected"),
    [
        (Yarn(linear_density_tex=66, fibre="carbon"), InsertionSystem.AIR_JET, "warning"),
        (Yarn(linear_density_tex=66, fibre="carbon"), InsertionSystem.RAPIER, "note"),
        (Yarn(linear_density_tex=66, fibre="carbon"), InsertionSystem.SHUTTLE, "warning"),
        (Yarn(linear_density_tex=66, fibre="carbon"), InsertionSystem.NEEDLE, "warning"),
        (Yarn(linear_density_tex=250, fibre="steel"), InsertionSystem.SHUTTLE, "note"),
        (Yarn(designation="44 tex", fibre="elastane"), InsertionSystem.AIR_JET, "warning"),
        (Yarn(designation="44 tex", fibre="elastane"), InsertionSystem.RAPIER, "warning"),
        (
            Yarn(linear_density_tex=50, fibre="polyethylene", monofilament=True),
            InsertionSystem.AIR_JET,
            "warning",
        ),
        (
            Yarn(linear_density_tex=50, fibre="polyethylene", monofilament=True),
            InsertionSystem.PROJECTILE,
            None,
        ),
        (
            Yarn(
                linear_density_tex=90,
                fibre="polypropylene",
                tape_width_mm=2.5,
                tape_thickness_mm=0.05,
            ),
            InsertionSystem.AIR_JET,
            "error",
        ),
        (
            Yarn(
                linear_density_tex=90,
                fibre="polypropylene",
                tape_width_mm=2.5,
                tape_thickness_mm=0.05,
            ),
            InsertionSystem.PROJECTILE,
            "note",
        ),
        (Yarn(designation="Ne 30", fibre="cotton"), InsertionSystem.AIR_JET, None),
        (Yarn(designation="Ne 30", fibre="cotton"), InsertionSystem.WATER_JET, "error"),
    ],
)
def test_a_weft_that_does_not_suit_the_system(
    yarn: Yarn, system: InsertionSystem, expected: str | None
) -> None:
    cloth = plain_cloth(weft=threads(10.0, yarns={"A": yarn}))
    assert severity("weft.unsuitable_for_system", cloth, any_loom(system)) == expected


TAPE = Yarn(linear_density_tex=90, fibre="polypropylene", tape_width_mm=2.5, tape_thickness_mm=0.05)
SPECIAL = {
    "steel": Yarn(linear_density_tex=30, fibre="steel"),
    "tape": TAPE,
    "carbon": Yarn(linear_density_tex=66, fibre="carbon"),
    "monofilament": Yarn(linear_density_tex=50, fibre="nylon", monofilament=True),
    "elastane": Yarn(designation="44 tex", fibre="elastane"),
}


@pytest.mark.parametrize(
    ("system", "steel", "tape", "carbon", "monofilament", "elastane"),
    [  # Common practice, no source.
        ("rapier", "note", "note", "note", None, "warning"),
        ("projectile", "note", "note", "warning", None, "warning"),
        ("shuttle", "note", "note", "warning", "note", "warning"),
        ("needle", "note", "note", "warning", None, "warning"),
        ("air_jet", "error", "error", "warning", "warning", "warning"),
        ("water_jet", "error", "warning", "warning", "note", "warning"),
    ],
)
def test_how_each_system_takes_each_kind_of_weft(
    system: str,
    steel: str,
    tape: str,
    carbon: str,
    monofilament: str | None,
    elastane: str,
) -> None:
    on = any_loom(InsertionSystem(system))
    found = {
        kind: severity(
            "weft.unsuitable_for_system",
            plain_cloth(weft=threads(10.0, yarns={"A": yarn})),
            on,
        )
        for kind, yarn in SPECIAL.items()
    }
    expected = (steel, tape, carbon, monofilament, elastane)
    assert found == dict(zip(SPECIAL, expected, strict=True))


def test_the_finding_says_what_the_system_does_to_the_weft() -> None:
    cloth = plain_cloth(
        weft=threads(10.0, yarns={"A": Yarn(linear_density_tex=66, fibre="carbon")})
    )
    seen = finding("weft.unsuitable_for_system", cloth, any_loom(InsertionSystem.AIR_JET))
    assert seen is not None
    assert "conduct electricity" in seen.message
    assert seen.pointer == "/construction/weft/yarns/A"


@pytest.mark.parametrize(
    ("weave", "order", "pointers"),
    [
        ("2/2 warp rib", "A", []),
        ("2/2 warp rib", "2A 2B", []),
        ("plain", "A", ["/construction/weave"]),
        ("2/1 twill Z", "2A 2B", ["/construction/weave"]),
        ("2/2 warp rib", "A B", ["/construction/weft/order"]),
        ("plain", "3A 1B", ["/construction/weave", "/construction/weft/order"]),
    ],
)
def test_a_needle_lays_two_picks_of_one_weft_in_one_shed(
    weave: str, order: str, pointers: list[str]
) -> None:
    keys = "AB" if "B" in order else "A"
    yarns = {key: Yarn(designation="20 tex", fibre="cotton") for key in keys}
    tape = plain_cloth(
        weave=named(weave), width_cm=5.0, weft=threads(22.0, yarns=yarns, order=order)
    )
    narrow = build_loom(
        insertion=Insertion(system=InsertionSystem.NEEDLE),
        reed_width_cm=6.0,
        min_reed_width_cm=None,
        speed_curve=(),
        weft_selectors=2,
    )
    found = [one for one in assess(tape, narrow).findings if one.code == "insertion.double_pick"]
    assert [one.pointer for one in found] == pointers
    assert all(one.severity == "warning" for one in found)
    rapier = build_loom(weft_selectors=2)
    assert severity("insertion.double_pick", plain_cloth(weave=named("plain")), rapier) is None
    two = build_loom(weft_selectors=2, insertion=stated_insertion(picks_per_insertion=2))
    at_once = finding("insertion.double_pick", plain_cloth(weave=named("plain")), two)
    assert at_once is not None
    assert at_once.message_key == "insertion.double_pick.lift_at_once"
    rib = plain_cloth(weave=named("2/2 warp rib"))
    assert severity("insertion.double_pick", rib, two) is None


@pytest.mark.parametrize(
    ("fibre", "warp", "weft"),
    [  # Common practice, no source: what takes up water, and what the water only ruffles.
        ("ptfe", None, None),
        ("basalt", None, None),
        ("glass", None, None),
        ("steel", None, "error"),
        ("cotton", "water_jet", "error"),
        ("acrylic", "spun", "error"),
        ("spun-polyester", "spun", "error"),
    ],
)
def test_what_a_water_jet_says_of_each_fibre(
    fibre: str, warp: str | None, weft: str | None
) -> None:
    on = any_loom(InsertionSystem("water_jet"))
    yarn = threads(10.0, yarns={"A": Yarn(linear_density_tex=50, fibre=fibre)})
    found = finding("warp.unsuitable_for_system", plain_cloth(warp=yarn), on)
    variant = None if found is None else found.message_key.rsplit(".", 1)[-1]
    assert variant == warp
    assert severity("weft.unsuitable_for_system", plain_cloth(weft=yarn), on) == weft
    if warp == "spun":
        assert found is not None
        assert "hairs" in found.message
