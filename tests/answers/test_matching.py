"""A construction against a park: ranking, reasons, identical looms, change-over counted in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

import orjson
import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import COTTON_20_TEX, construction, jacquard, loom, shedding, threads
from hypothesis import given, settings
from hypothesis import strategies as st
from profiles import examples

from weavability.answers import loom_matching
from weavability.answers.changeover import change_style
from weavability.answers.loom_match import RankBy
from weavability.answers.loom_matching import match_looms
from weavability.answers.prices import Prices
from weavability.answers.remedy_search import search_remedies
from weavability.answers.validation import assess
from weavability.checks.finding import Severity, Verdict
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom import Band, Loom
from weavability.looms.loom_limits import LoomLimits
from weavability.service.requests.park import load_park
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.construction import Construction, DraftRequest, Reed
from weavability.textiles.designation_parts import TwistDirection
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarns import Yarn

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


@pytest.mark.parametrize("looms", [1, 9])
def test_a_code_is_listed_once_at_its_heaviest_severity(looms: int) -> None:
    # Twist factors of 184 (a note) and 240 (a warning) on 20 tex.
    hard, crepe = (
        {"A": replace(COTTON_20_TEX, twist_per_m=twist, twist_direction=TwistDirection.Z)}
        for twist in (1300.0, 1700.0)
    )
    cloth = construction(warp=threads(24.0, yarns=hard), weft=threads(22.0, yarns=crepe))
    park = [loom(loom_id=str(each), reed_width_cm=190.0 + each) for each in range(looms)]
    severities = {
        each.severity for each in assess(cloth, park[0]).findings if each.code == "yarn.hard_twist"
    }
    assert severities == {Severity.WARNING, Severity.NOTE}
    (searched,) = search_remedies(cloth, park[:1]).looms
    for codes in (match_looms(cloth, park).matches[0].codes, searched.codes):
        assert "yarn.hard_twist" in codes.warnings
        assert "yarn.hard_twist" not in codes.notes


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
    assert first.changeover.loom_stop_hours_band == plan.loom_stop_hours_band
    assert first.changeover.off_loom_hours_band == plan.off_loom_hours_band
    assert first.hours == pytest.approx(first.running_hours + plan.loom_stop_hours)


def test_the_warps_after_the_first_are_counted_in() -> None:
    long = construction(length_m=40_000.0)
    quick = loom(loom_id="quick", changeover_rates=(("tie_in_ends_per_h", 6000.0),))
    sent = orjson.loads(assert_alike(long, [loom(loom_id="usual"), quick]))["matches"]
    plan = assess(long, loom()).warp
    assert plan.beams_needed > 2
    for match, pulled_through_per_h in zip(sent, (6000.0, 1250.0), strict=True):
        of_one = 0.25 + plan.knots / plan.beams_needed * (1 / 6000 + 1 / pulled_through_per_h)
        hours = (plan.beams_needed - 1) * of_one
        assert match["further_warps_hours"] == pytest.approx(hours, rel=1e-3)
        assert match["hours"] == pytest.approx(match["running_hours"] + hours, rel=1e-3)
        assert f"{hours:.1f} h to tie in further warps" in match["reason"]
        assert match["further_warps_hours_band"]["low"] < hours
    assert [match["loom_id"] for match in sent] == ["quick", "usual"]
    # Of what is stated only knots and coupling have a band, and 6000 ends an hour are stated.
    least = (plan.beams_needed - 1) * (
        0.15 + plan.knots / plan.beams_needed * (1 / 12_000 + 1 / 6000)
    )
    assert sent[0]["further_warps_hours_band"]["low"] == pytest.approx(least, rel=1e-3)


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


def test_looms_that_refuse_an_order_are_ranked_by_what_a_change_of_it_mends() -> None:
    # 250 cm take 262.5 cm in the reed. A fast narrow loom has the fewer hours, and no use.
    wide = construction(width_cm=250.0, requested_speed_picks_per_min=700.0)
    park = [
        loom(loom_id="fast", reed_width_cm=190.0, max_speed_picks_per_min=600.0),
        loom(loom_id="nearly", reed_width_cm=255.0),
        loom(loom_id="slow", reed_width_cm=360.0, max_speed_picks_per_min=300.0),
        loom(loom_id="range", reed_width_cm=360.0, weft_tex=Band(min=300.0, max=900.0)),
    ]
    found = match_looms(wide, park)
    assert {each.verdict for each in found.matches} == {Verdict.NOT_WEAVABLE}
    ranked = [each.loom_id for each in found.matches]
    assert ranked == ["slow", "range", "nearly", "fast"]
    narrow = [loom(loom_id=f"fast {place}", reed_width_cm=190.0) for place in range(8)]
    report = search_remedies(wide, [*narrow, park[2]])
    assert report.looms[0].loom_id == "slow"
    assert report.looms[0].remedies
    assert report.not_searched == ("fast 7",)


def doubtful_park(*, more: int) -> list[Loom]:
    """Looms without the reed of a cloth, the fastest of 162 cm."""
    stock = (40.0,)
    wide = [
        loom(loom_id=f"{width}", reed_width_cm=width, reeds_in_stock_dents_per_10cm=stock)
        for width in (200.0 + number for number in range(1 + more))
    ]
    fast = replace(wide[0], loom_id="tight", reed_width_cm=162.0, speed_curve=())
    return [fast, *wide, loom(loom_id="narrow", reed_width_cm=120.0)]


@pytest.mark.parametrize("more", [0, 9])
def test_a_loom_that_only_an_assumed_value_allows_comes_after_those_that_weave_it_anyhow(
    more: int,
) -> None:
    # 160 cm take 168 cm in the reed if the weft crimp is as it is estimated.
    cloth, park = construction(weft=threads(22.0, crimp_pct=None)), doubtful_park(more=more)
    found = match_looms(cloth, park)
    last = found.matches[-2:]
    assert [each.loom_id for each in last] == ["tight", "narrow"]
    assert {each.verdict for each in found.matches[:-1]} == {Verdict.WEAVABLE_WITH_WARNINGS}
    assert last[0].hours < found.matches[0].hours
    assert [each.rejected_if_assumed for each in last] == [("width.reed_space",), ()]
    assert last[0].reason.startswith("If what is assumed is so, not weavable (width.reed_space); ")
    assert "width.reed_space" not in last[0].reason.partition("warnings: ")[2]
    assert "width.reed_space" in last[0].codes.warnings
    dear = Prices(yarn_per_kg={"warp A": 4.0, "weft A": 4.0}, loom_hour=900.0)
    by_cost = match_looms(cloth, park, prices=dear, rank_by=RankBy.COST).matches
    assert [each.loom_id for each in by_cost[-2:]] == ["tight", "narrow"]
    first, tight = by_cost[0].costs, by_cost[-2].costs
    assert first is not None
    assert tight is not None
    assert (tight.cost_per_m or 0.0) < (first.cost_per_m or 0.0)


@settings(max_examples=examples(0.5))
@given(trade_orders, st.lists(trade_looms, min_size=1, max_size=6))
def test_a_ranking_names_what_the_notes_of_validations_do(
    order: Construction, some: list[Loom]
) -> None:
    try:
        matches = match_looms(order, some).matches
    except InputError:
        return
    for match in matches:
        note = assess(order, some[match.index], remedies=False).verdict_note
        codes = "" if note is None else note.partition("(")[2].partition(")")[0]
        assert set(match.rejected_if_assumed) == set(filter(None, codes.split(", ")))
    places = [(RANK[each.verdict], bool(each.rejected_if_assumed)) for each in matches]
    assert places == sorted(places)


def test_a_loom_on_which_fewer_panels_go_is_not_ranked_as_one_that_is_too_narrow() -> None:
    # Two panels of 160 cm take 336 cm in the reed, one of them 168. Two shafts weave no twill.
    two = construction(panels=2, panel_gap_cm=0.0, weave=parse_weave("2/1 twill Z"))
    park = [
        loom(loom_id="wide", reed_width_cm=360.0, shedding=shedding(shafts=2), speed_curve=()),
        loom(loom_id="nearly", reed_width_cm=166.0),
        loom(loom_id="usual", reed_width_cm=190.0),
    ]
    found = match_looms(two, park)
    assert {each.verdict for each in found.matches} == {Verdict.NOT_WEAVABLE}
    assert [each.loom_id for each in found.matches] == ["usual", "wide", "nearly"]
    (best, *_) = search_remedies(two, park).looms
    assert best.loom_id == "usual"
    assert [each["to"] for each in best.remedies[0]["changes"]] == [1]


@pytest.mark.slow
@given(widths=st.lists(st.floats(120, 400), min_size=1, max_size=12), data=st.data())
def test_the_order_of_the_ranking_is_the_stated_one(
    widths: list[float], data: st.DataObject
) -> None:
    tried = [
        loom(
            loom_id=f"L{number}",
            reed_width_cm=width,
            max_speed_picks_per_min=data.draw(st.floats(200, 700)),
        )
        for number, width in enumerate(widths)
    ]
    places = [
        (RANK[match.verdict], match.hours, -match.reed_width_use_pct)
        for match in match_looms(construction(), tried).matches
    ]
    assert [place[0] for place in places] == sorted(place[0] for place in places)
    for before, after in pairwise(places):
        # Figures are rounded on their way out, so equal ones may hide a real order.
        if before[0] == after[0] == RANK[Verdict.NOT_WEAVABLE]:
            # All that refuses it is the reed: the loom that is the least too narrow comes first.
            assert -before[2] <= -after[2]
        else:
            assert before[0] < after[0] or before[1] <= after[1]


def answer(
    order: Construction,
    looms: Sequence[Loom],
    *,
    in_columns: bool,
    on_loom: Mapping[str, Construction] = MappingProxyType({}),
) -> bytes:
    """The ranking as it is sent, judged in columns or one loom after the other."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loom_matching, "LOOMS_IN_COLUMNS", 1 if in_columns else len(looms) + 1)
        try:
            return orjson.dumps(match_looms(order, looms, on_loom=on_loom))
        except InputError as error:
            return repr(error.faults).encode()


def assert_alike(
    order: Construction,
    looms: Sequence[Loom],
    on_loom: Mapping[str, Construction] = MappingProxyType({}),
) -> bytes:
    """Require the same bytes of both; return them."""
    alone = answer(order, looms, in_columns=False, on_loom=on_loom)
    assert answer(order, looms, in_columns=True, on_loom=on_loom) == alone
    return alone


def test_many_unlike_looms_are_judged_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(cloth: ClothFacts, limits: LoomLimits) -> Fit:
        raise AssertionError

    monkeypatch.setattr(loom_matching, "fit_cloth", never)
    many = [loom(reed_width_cm=150.0 + 5 * number) for number in range(20)]
    assert len(match_looms(construction(), many).matches) == 20


PER_KIND = 17


@pytest.fixture(scope="module")
def many_looms() -> list[Loom]:
    """The demo park many times over, no two looms alike."""
    kinds = [entry.loom for entry in load_park(None).looms.values()]
    return [
        replace(
            kind,
            loom_id=f"{kind.loom_id} {number}",
            reed_width_cm=kind.reed_width_cm + 3 * number,
            max_speed_picks_per_min=kind.max_speed_picks_per_min + number,
            reeds_in_stock_dents_per_10cm=(40.0 + 8 * number, 200.0) if number % 3 else (),
        )
        for number in range(PER_KIND)
        for kind in kinds
    ]


@pytest.mark.slow
@pytest.mark.parametrize(
    "order",
    [
        construction(),
        construction(width_cm=260.0),
        construction(length_m=None, requested_speed_picks_per_min=640.0),
        construction(weave=parse_weave("8-end satin move 3"), warp=threads(60.0)),
        construction(draft=DraftRequest(threading=(1, 2, 3, 4, 3, 2))),
        construction(weft=threads(30.0, yarns={"A": Yarn(linear_density_tex=400.0)})),
    ],
    ids=("usual", "wide", "requested speed", "crowded", "draft", "coarse weft"),
)
def test_a_park_is_ranked_alike_in_columns_and_loom_by_loom(
    order: Construction, many_looms: list[Loom]
) -> None:
    found = orjson.loads(assert_alike(order, many_looms))
    assert len(found["matches"]) == len(many_looms) > 200


@pytest.mark.slow
@settings(max_examples=examples(0.5))
@given(
    st.one_of(trade_orders, constructions),
    st.lists(st.one_of(trade_looms, looms()), min_size=1, max_size=12),
    st.data(),
)
def test_any_order_is_ranked_alike_in_columns_and_loom_by_loom(
    order: Construction, some: list[Loom], data: st.DataObject
) -> None:
    named = [replace(one, loom_id=f"L{number}") for number, one in enumerate(some)]
    ids = st.sampled_from([str(one.loom_id) for one in named])
    occupied = data.draw(st.dictionaries(ids, trade_orders, max_size=3))
    assert_alike(order, named, occupied)


def test_a_fault_is_the_same_in_columns_and_loom_by_loom() -> None:
    broken = loom(min_reed_width_cm=300.0)
    many = [loom(reed_width_cm=150.0 + number) for number in range(20)]
    assert b"/looms/20/min_reed_width_cm" in assert_alike(construction(), [*many, broken])
    unread = construction(reed=Reed(ends_per_dent=99))
    assert b"/construction/reed/ends_per_dent" in assert_alike(unread, [*many, broken])
