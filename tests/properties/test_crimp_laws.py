"""Laws of crimp: how it is shared out between warp and weft."""

from __future__ import annotations

import numpy as np
import pytest
from builders import estimated_crimps
from hypothesis import given
from hypothesis import strategies as st
from properties.test_geometry_laws import Cloth, cloths, crimps, floats, setts

from weavability.textiles.crimp import (
    LARGEST_CRIMP_PCT,
    SMALLEST_CRIMP_PCT,
    contraction_of_crimp_pct,
    crimp_band,
    crimp_height_mm,
    crimp_of_contraction_pct,
    crimp_of_height_pct,
    estimate_crimps,
    mean_crimps,
)
from weavability.textiles.errors import InputError

shares = st.sampled_from((0.0, 0.25, 0.5, 1.0)) | st.floats(0.0, 1.0)


@given(st.floats(0.0, 300.0))
def test_crimp_and_contraction_are_inverses(crimp: float) -> None:
    contraction = contraction_of_crimp_pct(crimp)
    assert contraction <= crimp * (1 + 1e-12)
    assert crimp_of_contraction_pct(contraction) == pytest.approx(crimp)


@pytest.mark.parametrize("contraction", [-0.1, 75.1, 100.0, 150.0, float("nan")])
def test_a_contraction_that_leaves_no_cloth_is_refused(contraction: float) -> None:
    with pytest.raises(InputError, match="/contraction_pct: contraction_pct must be from 0 to 75"):
        crimp_of_contraction_pct(contraction)


def test_a_column_of_contractions_is_never_refused() -> None:
    assert crimp_of_contraction_pct(np.array([50.0, 80.0])).tolist() == [100.0, 400.0]


@given(crimps, setts, floats)
def test_crimp_and_height_are_inverses(crimp: float, sett: float, mean_float: float) -> None:
    height = crimp_height_mm(crimp_pct=crimp, crossed_per_cm=sett, mean_float=mean_float)
    again = crimp_of_height_pct(height_mm=height, crossed_per_cm=sett, mean_float=mean_float)
    assert again == pytest.approx(crimp)


@given(cloths, crimps)
def test_crimp_moves_from_one_set_to_the_other(cloth: Cloth, crimp: float) -> None:
    less = estimated_crimps(**cloth, warp_crimp_pct=crimp, weft_crimp_pct=None)
    more = estimated_crimps(**cloth, warp_crimp_pct=crimp * 1.5, weft_crimp_pct=None)
    assert more.weft_crimp_pct <= less.weft_crimp_pct


@given(cloths)
def test_estimated_crimps_are_sane_and_belong_together(cloth: Cloth) -> None:
    both = estimated_crimps(**cloth, warp_crimp_pct=None, weft_crimp_pct=None)
    low, high = SMALLEST_CRIMP_PCT, LARGEST_CRIMP_PCT
    assert low <= both.warp_crimp_pct <= high
    assert low <= both.weft_crimp_pct <= high
    if low < both.warp_crimp_pct < high:
        weft = estimated_crimps(**cloth, warp_crimp_pct=both.warp_crimp_pct, weft_crimp_pct=None)
        assert weft.weft_crimp_pct == pytest.approx(both.weft_crimp_pct, rel=1e-6)


@given(cloths)
def test_the_set_with_the_longer_floats_bends_more_than_in_plain(cloth: Cloth) -> None:
    plain: Cloth = {**cloth, "mean_float_of_picks": 1.0, "mean_float_of_ends": 1.0}
    m1, m2 = cloth["mean_float_of_picks"], cloth["mean_float_of_ends"]
    warp, in_plain = warp_height(cloth), warp_height(plain)
    if m2 > m1:
        assert warp >= in_plain * (1 - 1e-9)
    else:
        assert warp <= in_plain * (1 + 1e-9)


@given(cloths, st.floats(1.0, 12.0))
def test_equal_floats_share_the_height_as_plain_does(cloth: Cloth, mean_float: float) -> None:
    equal: Cloth = {**cloth, "mean_float_of_picks": mean_float, "mean_float_of_ends": mean_float}
    plain: Cloth = {**cloth, "mean_float_of_picks": 1.0, "mean_float_of_ends": 1.0}
    assert warp_height(equal) == pytest.approx(warp_height(plain), rel=1e-9)


def warp_height(cloth: Cloth) -> float:
    """Return the height of the warp by hand, and hold the estimate to it."""
    m1, m2 = cloth["mean_float_of_picks"], cloth["mean_float_of_ends"]
    of_warp = m2**1.5 * cloth["ends_per_cm"] ** 2
    of_weft = m1**1.5 * cloth["picks_per_cm"] ** 2
    height = 0.85 * (cloth["warp_diameter_mm"] + cloth["weft_diameter_mm"])
    expected: float = height * of_warp / (of_warp + of_weft)
    estimate = estimated_crimps(**cloth, warp_crimp_pct=None, weft_crimp_pct=None).warp_crimp_pct
    crimp = crimp_of_height_pct(
        height_mm=expected, crossed_per_cm=cloth["picks_per_cm"], mean_float=m2
    )
    kept = min(max(crimp, SMALLEST_CRIMP_PCT), LARGEST_CRIMP_PCT)
    assert estimate == pytest.approx(kept, rel=1e-6)
    return expected


@given(cloths, shares, shares, crimps, crimps)
def test_the_mean_lies_between_what_is_stated_and_what_is_estimated(
    cloth: Cloth, warp_share: float, weft_share: float, warp: float, weft: float
) -> None:
    stated = {
        "warp_stated_share": warp_share,
        "warp_crimp_pct": warp,
        "weft_stated_share": weft_share,
        "weft_crimp_pct": weft,
    }
    estimate = estimate_crimps(**cloth, **stated)
    mean = mean_crimps(estimate, **stated)
    for of_all, stated_pct, other in zip(mean, (warp, weft), estimate, strict=True):
        assert min(stated_pct, other) - 1e-9 <= of_all <= max(stated_pct, other) + 1e-9


@given(cloths, crimps)
def test_ends_that_state_what_is_estimated_leave_the_weft_as_it_is(
    cloth: Cloth, share: float
) -> None:
    unsaid = estimated_crimps(**cloth, warp_crimp_pct=None, weft_crimp_pct=None)
    if not SMALLEST_CRIMP_PCT < unsaid.warp_crimp_pct < LARGEST_CRIMP_PCT:
        return
    some = estimate_crimps(
        **cloth,
        warp_stated_share=share / 30.0,
        warp_crimp_pct=unsaid.warp_crimp_pct,
        weft_stated_share=0.0,
        weft_crimp_pct=0.0,
    )
    assert some.weft_crimp_pct == pytest.approx(unsaid.weft_crimp_pct, rel=1e-6)
    assert some.warp_crimp_pct == pytest.approx(unsaid.warp_crimp_pct, rel=1e-6)


@given(floats, floats, st.floats(0.0, 30.0))
def test_a_band_holds_its_estimate(m1: float, m2: float, estimate: float) -> None:
    low, high = crimp_band(mean_float_of_picks=m1, mean_float_of_ends=m2).around(estimate)
    assert 0.0 <= low <= estimate < high
