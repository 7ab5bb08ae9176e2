"""A construction against a park: ranking, reasons, identical looms, change-over counted in."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from builders import construction, jacquard, loom, shedding, threads
from hypothesis import given
from hypothesis import strategies as st

from weavability.answers import loom_matching
from weavability.answers.changeover import change_style
from weavability.answers.loom_matching import match_looms
from weavability.answers.validation import assess
from weavability.checks.finding import Severity, Verdict
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom_limits import LoomLimits
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.errors import InputError

RANK = {Verdict.WEAVABLE: 0, Verdict.WEAVABLE_WITH_WARNINGS: 1, Verdict.NOT_WEAVABLE: 2}

PARK = [
    loom(loom_id="narrow", reed_width_cm=150.0),
    loom(loom_id="slow", max_speed_picks_per_min=300.0),
    loom(loom_id="usual"),
    loom(loom_id="wide", reed_width_cm=220.0),
    loom(loom_id="crowded", shedding=shedding(shafts=2, max_healds_per_shaft=2500)),
    replace(jacquard(), loom_id="figured"),
]


def test_the_best_loom_comes_first_and_the_impossible_one_last() -> None:
    found = match_looms(construction(), PARK)
    # Equal hours: the better use of the reed; then the order given. A slow loom still comes before
    # one that weaves it with warnings.
    assert [match.loom_id for match in found.matches] == [
        "usual",
        "figured",
        "wide",
        "slow",
        "crowded",
        "narrow",
    ]
    assert [match.rank for match in found.matches] == [1, 2, 3, 4, 5, 6]
    assert found.counts == {"weavable": 4, "weavable_with_warnings": 1, "not_weavable": 1}
    assert "168.0 cm in the reed" in found.matches[-1].reason


def test_every_place_agrees_with_the_validation_of_that_loom() -> None:
    cloth = construction()
    for match in match_looms(cloth, PARK).matches:
        stated = next(one for one in PARK if one.loom_id == match.loom_id)
        alone = assess(cloth, stated)
        codes = {one.code for one in alone.findings if one.severity is Severity.ERROR}
        assert match.verdict is alone.verdict
        assert set(match.codes.errors) == codes
        assert match.speed_picks_per_min == alone.rates.speed_picks_per_min
        assert match.running_hours == alone.rates.hours_for_order


def test_looms_that_differ_only_in_name_are_computed_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    judged: list[Fit] = []

    def counted(cloth: ClothFacts, limits: LoomLimits) -> Fit:
        judged.append(fit_cloth(cloth, limits))
        return judged[-1]

    monkeypatch.setattr(loom_matching, "fit_cloth", counted)
    alike = [loom(loom_id=f"L{number}", description=f"row {number}") for number in range(20)]
    found = match_looms(construction(), alike)
    assert len(judged) == 1
    assert [match.loom_id for match in found.matches] == [one.loom_id for one in alike]


def test_the_change_over_from_what_is_on_the_loom_is_counted_in() -> None:
    cloth, other = construction(), construction(warp=threads(30.0))
    pair = [loom(loom_id="first"), loom(loom_id="second")]
    found = match_looms(cloth, pair, on_loom={"first": other, "second": cloth})
    assert [match.loom_id for match in found.matches] == ["second", "first"]
    second, first = found.matches
    assert second.changeover is not None
    assert second.changeover.route == "keep"
    assert first.changeover is not None
    plan = change_style(other, cloth, pair[0])
    assert first.changeover.loom_stop_hours == plan.loom_stop_hours
    assert first.hours == pytest.approx(first.running_hours + plan.loom_stop_hours)


def test_a_cloth_without_a_length_is_ranked_on_1000_m() -> None:
    stated, unstated = construction(length_m=1000.0), construction(length_m=None)
    by_length = match_looms(stated, PARK).matches
    assert [match.hours for match in match_looms(unstated, PARK).matches] == [
        match.hours for match in by_length
    ]


def test_a_fault_of_a_loom_is_pointed_at_in_the_list() -> None:
    broken = loom(min_reed_width_cm=300.0)
    with pytest.raises(InputError) as refused:
        match_looms(construction(), [loom(), broken])
    assert refused.value.faults[0].pointer == "/looms/1/min_reed_width_cm"


@given(widths=st.lists(st.floats(120, 400), min_size=1, max_size=12), data=st.data())
def test_the_order_of_the_ranking_is_the_stated_one(
    widths: list[float], data: st.DataObject
) -> None:
    looms = [
        loom(
            loom_id=f"L{number}",
            reed_width_cm=width,
            max_speed_picks_per_min=data.draw(st.floats(200, 700)),
        )
        for number, width in enumerate(widths)
    ]
    places = [
        (RANK[match.verdict], match.hours, -match.reed_width_use_pct)
        for match in match_looms(construction(), looms).matches
    ]
    assert [place[0] for place in places] == sorted(place[0] for place in places)
    for before, after in pairwise(places):
        # Figures are rounded on their way out, so equal ones may hide a real order.
        assert before[0] < after[0] or before[1] <= after[1]
