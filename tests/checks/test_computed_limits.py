"""Checks whose limit follows from a computation: found first, then tried on both sides."""

from __future__ import annotations

import math

import pytest
from builders import construction, finding, insertion, loom, report, severity, threads
from stating import assumed, stated

from weavability.answers.validation import judge
from weavability.looms.loom import Loom, WarpStrain
from weavability.textiles.construction import Allowances, Construction
from weavability.textiles.yarns import Yarn


def yarn(tenacity_cn_per_tex: float) -> Yarn:
    return Yarn(
        designation="20 tex",
        fibre="cotton",
        tenacity_cn_per_tex=tenacity_cn_per_tex,
        strength_cv_pct=10.0,
        breaking_elongation_pct=6.0,
    )


def weft_of(tenacity_cn_per_tex: float) -> Construction:
    return construction(weft=threads(22.0, yarns={"A": yarn(tenacity_cn_per_tex)}))


def warp_of(tenacity_cn_per_tex: float) -> Construction:
    warp = threads(24.0, yarns={"A": yarn(tenacity_cn_per_tex)})
    return construction(warp=warp, allowances=Allowances(size_pct=0.0))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("band_pct", "inside", "outside"), [(25.0, None, "note"), (40.0, "note", "warning")]
)
def test_weft_strength_bands(band_pct: float, inside: str | None, outside: str) -> None:
    # By bisection, as a weaker yarn is also a softer one, which a jerk strains less.
    low, high = 2.0, 40.0
    for _ in range(40):
        at_band = (low + high) / 2
        is_used = report(weft_of(at_band)).rates.weft_strength_use_pct > band_pct
        low, high = (at_band, high) if is_used else (low, at_band)
    assert severity("weft.strength", weft_of(at_band * 1.001)) == inside
    assert severity("weft.strength", weft_of(at_band * 0.999)) == outside


def test_a_weft_that_rest_tension_overloads_is_an_error() -> None:
    # 20 tex x 0.5 cN/tex = 10 cN at rest, as no guide adds to it; 60 % of the weakest place is
    # 0.6 x 20 x T x 0.7.
    rapier = loom(insertion=insertion(base_tension_cn_per_tex=0.5, wrap_deg=0.0))
    at_limit = 10.0 / (0.6 * 20 * 0.7)
    assert severity("weft.strength", weft_of(at_limit * 1.001), rapier) == "warning"
    assert severity("weft.strength", weft_of(at_limit * 0.999), rapier) == "error"


def loom_of_stated_insertion() -> Loom:
    """The loom that states what is otherwise assumed of its insertion, as it is assumed."""
    lines = assumed(judge(construction(), loom()))
    values = [(at, line.value) for at, line in lines.items() if at.startswith("/loom/insertion/")]
    return stated(construction(), loom(), values)[1]


def test_speed_that_the_weft_cannot_follow() -> None:
    weak, rapier = weft_of(2.8), loom_of_stated_insertion()
    limit = report(weak).rates.speed_limits_picks_per_min["weft_strength"]
    assert limit < 500
    for factor, expected in ((0.999, None), (1.001, "error")):
        cloth = construction(weft=weak.weft, requested_speed_picks_per_min=limit * factor)
        assert severity("insertion.weft_speed", cloth, rapier) == expected
    # The tension rests on what is assumed of the insertion, unless the loom states it.
    assert severity("insertion.weft_speed", cloth) == "warning"


@pytest.mark.slow
def test_a_weft_that_lets_the_loom_only_crawl() -> None:
    # The tenacity at which the weft allows half of the 524.4 picks/min of the loom, by bisection.
    low, high = 0.8, 17.0
    for _ in range(40):
        middle = (low + high) / 2
        allowed = report(weft_of(middle)).rates.speed_limits_picks_per_min.get("weft_strength", 0.0)
        low, high = (middle, high) if allowed < 524.444 / 2 else (low, middle)
    rapier = loom_of_stated_insertion()
    assert severity("insertion.crawl", weft_of(high * 1.001), rapier) is None
    assert severity("insertion.crawl", weft_of(low * 0.999), rapier) == "error"
    assert severity("insertion.crawl", weft_of(low * 0.999)) == "warning"


@pytest.mark.parametrize(
    ("overrun_cm", "width_cm"), [(8.0, 10.0), (8.0, 3.0), (30.0, 40.0), (0.5, 160.0)]
)
def test_a_rapier_that_starts_far_outside_a_narrow_cloth(
    overrun_cm: float, width_cm: float
) -> None:
    far = loom(min_reed_width_cm=1.0, insertion=insertion(overrun_cm=overrun_cm))
    rates = report(construction(width_cm=width_cm), far).rates
    assert rates.peak_weft_tension_cn > 0


@pytest.mark.parametrize(
    ("band_pct", "inside", "outside"), [(25.0, None, "note"), (40.0, "note", "warning")]
)
def test_warp_strength_bands(band_pct: float, inside: str | None, outside: str) -> None:
    # So weak an end is strained most at beat-up: 1.5 cN/tex on 0.7 of its tenacity.
    at_band = 1.5 / (band_pct / 100 * 0.7)
    at_1_cn_per_tex = loom(warp_strain=WarpStrain(base_tension_cn_per_tex=1.0))
    assert severity("warp.strength", warp_of(at_band * 1.001), at_1_cn_per_tex) == inside
    assert severity("warp.strength", warp_of(at_band * 0.999), at_1_cn_per_tex) == outside


@pytest.mark.parametrize(
    ("band_pct", "inside", "outside"), [(25.0, None, "note"), (40.0, "note", "warning")]
)
def test_warp_strength_bands_of_a_stiff_end(
    band_pct: float, inside: str | None, outside: str
) -> None:
    # 6 % of the breaking load, and half of the stretch of a shed of 4 cm over the elongation.
    detour_cm = math.hypot(25, 4) - 25 + math.hypot(50, 4) - 50
    elongation_pct = 0.5 * 100 * detour_cm / 150 / (band_pct / 100 * 0.7 - 0.06)
    for factor, expected in ((1.001, inside), (0.999, outside)):
        stiff = Yarn(
            designation="20 tex",
            fibre="cotton",
            strength_cv_pct=10.0,
            breaking_elongation_pct=elongation_pct * factor,
        )
        warp = threads(24.0, yarns={"A": stiff})
        cloth = construction(warp=warp, allowances=Allowances(size_pct=0.0))
        assert severity("warp.strength", cloth) == expected


def test_an_order_longer_than_the_beam() -> None:
    plain = report()
    room_m = (plain.warp.beam_capacity_m - 4.6) / 1.05
    assert finding("warp.beam_capacity", construction(length_m=room_m * 0.999)) is None
    second = finding("warp.beam_capacity", construction(length_m=room_m * 1.001))
    assert second is not None
    assert "2 warps" in second.message
