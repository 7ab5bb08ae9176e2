"""Laws of cloth geometry."""

from __future__ import annotations

import math
from typing import TypedDict, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from weavability.textiles import geometry, jamming, setting_rules

setts = st.floats(2.0, 150.0)
diameters = st.floats(0.02, 1.5)
floats = st.floats(1.0, 12.0)
crimps = st.floats(0.5, 30.0)
growth = st.floats(1.0, 3.0)


class Cloth(TypedDict):
    ends_per_cm: float
    picks_per_cm: float
    warp_diameter_mm: float
    weft_diameter_mm: float
    mean_float_of_picks: float
    mean_float_of_ends: float


cloths: st.SearchStrategy[Cloth] = st.builds(
    Cloth,
    ends_per_cm=setts,
    picks_per_cm=setts,
    warp_diameter_mm=diameters,
    weft_diameter_mm=diameters,
    mean_float_of_picks=floats,
    mean_float_of_ends=floats,
)


def grown(cloth: Cloth, **factors: float) -> Cloth:
    changed: dict[str, float] = {**cast("dict[str, float]", cloth)}
    for name, factor in factors.items():
        changed[name] *= factor
    return cast("Cloth", changed)


@given(cloths, growth)
@pytest.mark.parametrize(
    "name", ["ends_per_cm", "picks_per_cm", "warp_diameter_mm", "weft_diameter_mm"]
)
def test_tightness_grows_with_sett_and_diameter(name: str, cloth: Cloth, factor: float) -> None:
    before = jamming.tightness_pct(**cloth)
    after = jamming.tightness_pct(**grown(cloth, **{name: factor}))
    assert after >= before * (1 - 1e-9)


@given(cloths, growth)
@pytest.mark.parametrize("name", ["mean_float_of_picks", "mean_float_of_ends"])
def test_tightness_falls_with_longer_floats(name: str, cloth: Cloth, factor: float) -> None:
    before = jamming.tightness_pct(**cloth)
    after = jamming.tightness_pct(**grown(cloth, **{name: factor}))
    assert after <= before * (1 + 1e-9)


@given(cloths, st.floats(0.3, 3.0))
def test_tightness_does_not_depend_on_the_unit_of_length(cloth: Cloth, factor: float) -> None:
    scaled = grown(
        cloth,
        ends_per_cm=1 / factor,
        picks_per_cm=1 / factor,
        warp_diameter_mm=factor,
        weft_diameter_mm=factor,
    )
    assert jamming.tightness_pct(**scaled) == pytest.approx(jamming.tightness_pct(**cloth))


@given(cloths, st.floats(0.3, 3.0))
def test_tightness_is_proportional_to_both_setts(cloth: Cloth, factor: float) -> None:
    scaled = grown(cloth, ends_per_cm=factor, picks_per_cm=factor)
    assert jamming.tightness_pct(**scaled) == pytest.approx(factor * jamming.tightness_pct(**cloth))


@given(cloths)
def test_tightness_does_not_change_when_the_cloth_is_turned(cloth: Cloth) -> None:
    turned = Cloth(
        ends_per_cm=cloth["picks_per_cm"],
        picks_per_cm=cloth["ends_per_cm"],
        warp_diameter_mm=cloth["weft_diameter_mm"],
        weft_diameter_mm=cloth["warp_diameter_mm"],
        mean_float_of_picks=cloth["mean_float_of_ends"],
        mean_float_of_ends=cloth["mean_float_of_picks"],
    )
    assert jamming.tightness_pct(**turned) == pytest.approx(jamming.tightness_pct(**cloth))


def rooms(cloth: Cloth, spacing_factor: float) -> tuple[float, float]:
    """Room at an interlacing along the weft and along the warp, in mm, spacings multiplied."""
    m1, m2 = cloth["mean_float_of_picks"], cloth["mean_float_of_ends"]
    p1 = 10 * spacing_factor / cloth["ends_per_cm"]
    p2 = 10 * spacing_factor / cloth["picks_per_cm"]
    return (
        m1 * p1 - (m1 - 1) * cloth["warp_diameter_mm"],
        m2 * p2 - (m2 - 1) * cloth["weft_diameter_mm"],
    )


def overfilling(cloth: Cloth, spacing_factor: float) -> float:
    """Positive where the crossing threads do not find room: Peirce's condition less 1."""
    spread = cloth["warp_diameter_mm"] + cloth["weft_diameter_mm"]
    return (
        sum(math.sqrt(max(0.0, 1 - (room / spread) ** 2)) for room in rooms(cloth, spacing_factor))
        - 1
    )


@given(cloths)
def test_at_the_jam_the_condition_holds_or_threads_touch(cloth: Cloth) -> None:
    at_jam = jamming.tightness_pct(**cloth) / 100
    touching = (
        max(
            cloth["ends_per_cm"] * cloth["warp_diameter_mm"],
            cloth["picks_per_cm"] * cloth["weft_diameter_mm"],
        )
        / 10
    )
    assert at_jam >= touching * (1 - 1e-12)
    if at_jam > touching * (1 + 1e-9):
        assert (
            overfilling(cloth, at_jam * (1 + 1e-9)) <= 0 <= overfilling(cloth, at_jam * (1 - 1e-9))
        )
    else:
        assert overfilling(cloth, touching * (1 + 1e-9)) <= 0


@given(cloths)
def test_the_jam_is_the_root_that_another_solver_finds(cloth: Cloth) -> None:
    touching = (
        max(
            cloth["ends_per_cm"] * cloth["warp_diameter_mm"],
            cloth["picks_per_cm"] * cloth["weft_diameter_mm"],
        )
        / 10
    )
    if overfilling(cloth, touching) <= 0:
        jam = touching
    else:
        jam = brentq(lambda factor: overfilling(cloth, factor), touching, 1e4, xtol=1e-14)
    assert jamming.tightness_pct(**cloth) == pytest.approx(100 * jam, rel=1e-8)


@given(setts, setts, st.floats(1, 500), st.floats(1, 500), crimps, crimps)
def test_mass_is_that_of_the_yarn_in_a_square_metre(
    ends: float, picks: float, warp_tex: float, weft_tex: float, warp: float, weft: float
) -> None:
    ends_in_a_metre, picks_in_a_metre = 100 * ends, 100 * picks
    kilograms = geometry.yarn_mass_kg(
        length_km=geometry.warp_yarn_length_km(ends=ends_in_a_metre, warp_length_m=1 + warp / 100),
        linear_density_tex=warp_tex,
    ) + geometry.yarn_mass_kg(
        length_km=geometry.weft_yarn_length_km(picks=picks_in_a_metre, reed_width_cm=100 + weft),
        linear_density_tex=weft_tex,
    )
    mass = geometry.mass_g_per_m2(
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_tex=warp_tex,
        weft_tex=weft_tex,
        warp_crimp_pct=warp,
        weft_crimp_pct=weft,
    )
    assert mass == pytest.approx(1000 * kilograms)


@given(st.floats(0, 26), st.floats(0, 26))
def test_cloth_cover_lies_between_the_greater_set_and_full(warp: float, weft: float) -> None:
    cover = geometry.cloth_cover_factor(warp=warp, weft=weft)
    assert max(warp, weft) - 1e-9 <= cover <= geometry.FULL_COVER
    assert cover == pytest.approx(warp + weft - warp * weft / geometry.FULL_COVER)


@given(st.floats(0, 500), st.floats(0, 500), st.floats(0, 100))
def test_more_threads_never_cover_less(warp: float, weft: float, more: float) -> None:
    for form in (geometry.cloth_cover_factor, geometry.cloth_cover_factor_cotton):
        assert form(warp=warp, weft=weft) <= form(warp=warp + more, weft=weft)
        assert form(warp=warp, weft=weft) <= form(warp=warp, weft=weft + more)


@given(setts, diameters, floats)
def test_ends_plus_intersections_leaves_room_for_the_crossing_threads(
    sett: float, thread: float, mean_float: float
) -> None:
    limit = setting_rules.ends_plus_intersections_limit_per_cm(
        diameter_mm=thread, mean_float=mean_float
    )
    per_repeat = mean_float * thread + thread
    assert mean_float / limit * 10 == pytest.approx(per_repeat)
    use = setting_rules.ends_plus_intersections_use_pct(
        threads_per_cm=sett, diameter_mm=thread, mean_float=mean_float
    )
    assert use == pytest.approx(100 * sett / limit)
