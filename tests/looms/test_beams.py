"""Warp length, beams, cloth rolls, and the ends under tension."""

from __future__ import annotations

from math import pi

import pytest
from scipy import integrate

from weavability.looms.beam_groups import least_beam_m, usable_beam_m
from weavability.looms.beams import (
    WarpTensionRule,
    beam_capacity_m,
    beam_volume_cm3,
    beams_needed,
    cloth_roll_capacity_m,
    doffs,
    warp_mass_kg,
    warp_tension,
    winding_diameter_cm,
)
from weavability.textiles.assumptions import Ledger
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn, resolve_yarn


def test_a_wound_beam_holds_its_shells() -> None:
    shells, _ = integrate.quad(lambda r: 2 * pi * r * 180, 12, 32)
    volume = beam_volume_cm3(winding_diameter_cm=64, barrel_diameter_cm=24, width_cm=180)
    assert volume == pytest.approx(shells)


def test_a_full_beam_weighs_what_its_warp_weighs() -> None:
    length = beam_capacity_m(
        winding_diameter_cm=78,
        barrel_diameter_cm=15,
        width_cm=190,
        density_g_per_cm3=0.55,
        ends=4912,
        linear_density_tex=30,
        size_pct=8,
    )
    volume = beam_volume_cm3(winding_diameter_cm=78, barrel_diameter_cm=15, width_cm=190)
    mass = warp_mass_kg(length_m=length, ends=4912, linear_density_tex=30, size_pct=8)
    assert mass == pytest.approx(volume * 0.55 / 1000)


def test_a_beam_that_holds_the_least_that_is_worth_it_is_counted_as_it_is() -> None:
    least_m = least_beam_m(4.6, least_useful_m=1.0)
    assert usable_beam_m(least_m, least_m=least_m, woven_m=500.0, waste_m=4.6) == least_m
    below = usable_beam_m(least_m - 0.1, least_m=least_m, woven_m=500.0, waste_m=4.6)
    assert below == pytest.approx(509.2)


def test_two_beams_abreast_hold_twice_the_length() -> None:
    def length(beams: int) -> float:
        return beam_capacity_m(
            winding_diameter_cm=78,
            barrel_diameter_cm=15,
            width_cm=90,
            density_g_per_cm3=0.55,
            ends=4912,
            linear_density_tex=30,
            beams_abreast=beams,
        )

    assert length(2) == pytest.approx(2 * length(1))


@pytest.mark.parametrize("barrel_cm", [57.0, 60.0, 0.0, float("nan")])
def test_a_barrel_as_thick_as_the_beam_is_refused(barrel_cm: float) -> None:
    with pytest.raises(InputError):
        beam_volume_cm3(winding_diameter_cm=57, barrel_diameter_cm=barrel_cm, width_cm=184)


def test_the_winding_stays_below_the_flange() -> None:
    """The winding is 1 to 3 cm less than the flange in course work on weaving mills."""
    assert 1 <= 80 - winding_diameter_cm(flange_diameter_cm=80) <= 3
    assert 0 < winding_diameter_cm(flange_diameter_cm=1) < 1


@pytest.mark.parametrize(("length_m", "beams"), [(2986.2, 3), (2986.3, 4), (1, 1)])
def test_each_beam_loses_its_waste(length_m: float, beams: int) -> None:
    found = beams_needed(cloth_warp_length_m=length_m, beam_capacity_m=1000, waste_per_beam_m=4.6)
    assert found == beams


@pytest.mark.parametrize("waste_m", [4.6, 5.0])
def test_a_beam_that_is_all_waste_is_refused(waste_m: float) -> None:
    with pytest.raises(InputError):
        beams_needed(cloth_warp_length_m=100, beam_capacity_m=4.6, waste_per_beam_m=waste_m)


def test_a_cloth_roll_is_a_spiral_of_its_thickness() -> None:
    turns = (55 - 15) / 2 / 0.05
    mean_turn_m = pi * (55 + 15) / 2 / 100
    found = cloth_roll_capacity_m(roll_diameter_cm=55, tube_diameter_cm=15, cloth_thickness_mm=0.5)
    assert found == pytest.approx(turns * mean_turn_m)


@pytest.mark.parametrize("roll_cm", [15.0, 10.0])
def test_a_roll_no_thicker_than_its_tube_is_refused(roll_cm: float) -> None:
    with pytest.raises(InputError):
        cloth_roll_capacity_m(roll_diameter_cm=roll_cm, tube_diameter_cm=15, cloth_thickness_mm=0.5)


@pytest.mark.parametrize(("length_m", "rolls"), [(440, 1), (441, 2), (880, 2)])
def test_the_last_roll_need_not_be_full(length_m: float, rolls: int) -> None:
    assert doffs(cloth_length_m=length_m, cloth_roll_capacity_m=440) == rolls


def cotton_use(rule: WarpTensionRule) -> float:
    return warp_tension(
        rule,
        linear_density_tex=30,
        modulus_cn_per_tex=250,
        strength_cn=450,
        weakest_strength_cn=335,
    ).strength_use_pct


def test_ordinary_cotton_warp_uses_less_than_a_quarter_of_its_strength() -> None:
    assert 10 < cotton_use(WarpTensionRule()) < 25


def test_the_stretch_of_a_shed_is_the_detour_over_the_heald_eye() -> None:
    """For a low shed h²/2·(1/front + 1/back) over the free length."""
    rule = WarpTensionRule(shed_half_height_cm=2, easing_pct=0)
    approximate = 2**2 / 2 * (1 / 25 + 1 / 50) / 150 * 100
    assert rule.shed_stretch_pct == pytest.approx(approximate, rel=5e-3)
    eased = WarpTensionRule(shed_half_height_cm=2, easing_pct=70)
    assert eased.shed_stretch_pct == pytest.approx(0.3 * rule.shed_stretch_pct)
    assert WarpTensionRule(easing_pct=100).shed_stretch_pct == 0
    assert WarpTensionRule(shed_half_height_cm=0).shed_stretch_pct == 0


def test_the_peak_is_at_beat_up_or_in_the_open_shed() -> None:
    by_tex = {"base_cn_per_tex": 1.0, "base_strength_pct": 0.0}
    low = warp_tension(
        WarpTensionRule(shed_half_height_cm=0.5, **by_tex),
        linear_density_tex=30,
        modulus_cn_per_tex=250,
        strength_cn=450,
        weakest_strength_cn=335,
    )
    assert low.peak_tension_cn == pytest.approx(45)
    open_shed = WarpTensionRule(shed_half_height_cm=6, **by_tex)
    high = warp_tension(
        open_shed,
        linear_density_tex=30,
        modulus_cn_per_tex=250,
        strength_cn=450,
        weakest_strength_cn=335,
    )
    stretched_cn = open_shed.shed_stretch_pct / 100 * 250 * 30
    assert high.peak_tension_cn == pytest.approx(30 + stretched_cn)
    assert high.peak_tension_cn > 45


def test_the_base_tension_is_a_share_of_the_breaking_load_or_goes_by_linear_density() -> None:
    share = warp_tension(
        WarpTensionRule(shed_half_height_cm=0.5),
        linear_density_tex=30,
        modulus_cn_per_tex=250,
        strength_cn=450,
        weakest_strength_cn=335,
    )
    assert share.base_tension_cn == pytest.approx(27.0)
    assert share.peak_tension_cn == pytest.approx(40.5)
    with pytest.raises(InputError, match="base_cn_per_tex"):
        WarpTensionRule(base_strength_pct=0.0)
    with pytest.raises(InputError, match="easing_pct"):
        WarpTensionRule(easing_pct=100.1)


@pytest.mark.parametrize(
    ("yarn", "use_pct"),
    [
        # What a technologist expects of warps that are woven every day; within a point.
        (Yarn(designation="Ne 30", fibre="cotton"), 13.0),
        (Yarn(designation="Nm 12", fibre="wool"), 16.0),
        (Yarn(designation="NeL 25", fibre="linen"), 27.0),
        (Yarn(designation="Nm 10", fibre="hemp"), 35.0),
        (Yarn(designation="jute 8 lb", fibre="jute"), 37.0),
    ],
    ids=lambda given: given.fibre if isinstance(given, Yarn) else "",
)
def test_everyday_warps_use_a_moderate_share_of_their_weakest_place(
    yarn: Yarn, use_pct: float
) -> None:
    facts = resolve_yarn(yarn, Ledger())
    tension = warp_tension(
        WarpTensionRule(),
        linear_density_tex=facts.linear_density_tex,
        modulus_cn_per_tex=facts.modulus_cn_per_tex,
        strength_cn=facts.strength_cn,
        weakest_strength_cn=facts.weakest_strength_cn,
    )
    assert tension.strength_use_pct == pytest.approx(use_pct, abs=1.0)


@pytest.mark.parametrize(("flange_cm", "wound_cm"), [(80.0, 78.0), (4.0, 2.0), (3.0, 1.5)])
def test_a_beam_is_wound_to_2_cm_below_its_flange_a_small_one_to_half(
    flange_cm: float, wound_cm: float
) -> None:
    assert winding_diameter_cm(flange_diameter_cm=flange_cm) == wound_cm


@pytest.mark.parametrize("flange_cm", [0.0, -1.0, float("nan"), float("inf")])
def test_a_flange_without_a_diameter_is_refused(flange_cm: float) -> None:
    with pytest.raises(InputError) as refusal:
        winding_diameter_cm(flange_diameter_cm=flange_cm)
    assert refusal.value.faults[0].pointer == "/flange_diameter_cm"
