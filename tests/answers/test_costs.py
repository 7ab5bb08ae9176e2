"""Costs: worked by hand, their laws, what is not priced, and energy and air."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from builders import bare_order, construction, jacquard, loom, report, threads
from hypothesis import example, given
from hypothesis import strategies as st
from profiles import share_of_examples
from reference.compared_costs import cost_of_parts, subjects

from weavability.answers.costs import (
    OrderQuantities,
    cost_change,
    order_cost,
    priced,
)
from weavability.answers.costs_section import Costs
from weavability.answers.loom_match import RankBy
from weavability.answers.loom_matching import match_looms
from weavability.answers.prices import Prices
from weavability.answers.validation import assess, judge
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Insertion, Loom
from weavability.looms.loom_hour import capital_recovery_per_year, own_loom_hour
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.construction import Construction, PieceOrder, Stage
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn

ALL = Prices(
    currency="EUR",
    yarn_per_kg={"warp A": 4.0, "weft A": 3.0},
    size_per_kg=1.5,
    loom_hour=6.0,
    changeover_hour=40.0,
    changeover_hours=5.0,
    energy_per_kwh=0.2,
    air_per_m3=0.02,
    second_quality_value_pct=50.0,
)
POWERED = loom(power_kw=5.0, air_m3_per_h=50.0)


def costs_of(prices: Prices, cloth: Construction | None = None, on: Loom = POWERED) -> Costs:
    found = assess(cloth or construction(), on, prices=prices, rounded=False).costs
    assert found is not None
    return found


def per_m(costs: Costs) -> float:
    """The cost of a metre; nothing if nothing is priced."""
    return costs.cost_per_m or 0.0


def amounts(costs: Costs) -> dict[str, float]:
    return {each.driver: each.cost_per_m for each in costs.drivers}


def refusal(call: Any, *arguments: Any) -> str:
    with pytest.raises(InputError) as caught:
        call(*arguments)
    return caught.value.faults[0].pointer


def test_published_costs_are_met() -> None:
    apart = [value.case for each in subjects() for value in each.values if not value.agrees]
    assert apart == []


def test_an_order_is_priced_as_by_hand() -> None:
    whole = report(on=POWERED)
    costs = costs_of(ALL)
    kg = {each.yarn: each.mass_kg for each in whole.yarn}
    hours = 3000 / whole.rates.output_m_per_h
    expected = {
        "warp A": 4.0 * kg["warp A"],
        "weft A": 3.0 * kg["weft A"],
        # Leno and catch cords are of warp yarn.
        "leno A": 4.0 * kg["leno A"],
        "catch cord A": 4.0 * kg["catch cord A"],
        "size": 1.5 * whole.warp.size_kg,
        "loom hours": 6.0 * hours,
        "change-over": 40.0 * 5.0,
        # The loom runs 88 % of its hours.
        "energy": 0.2 * 5.0 * 0.88 * hours,
        "air": 0.02 * 50.0 * 0.88 * hours,
    }
    found = {each.driver: each.cost_for_order for each in costs.drivers}
    assert found == pytest.approx(expected, rel=1e-4)
    assert costs.cost_for_order == pytest.approx(sum(expected.values()), rel=1e-4)
    assert per_m(costs) == pytest.approx(sum(expected.values()) / 3000, rel=1e-4)
    assert costs.cost_per_m2 == pytest.approx(per_m(costs) / 1.6)
    assert costs.not_priced == ()
    assert sum(each.share_pct or 0 for each in costs.drivers) == pytest.approx(100)


def quantities(**changes: Any) -> OrderQuantities:
    plain = OrderQuantities(
        yarn_kg={"warp A": 100.0, "weft A": 80.0},
        priced_as={},
        size_kg=10.0,
        loom_hours=50.0,
        running_hours=45.0,
        changeover_hours=4.0,
        further_warp_hours=0.0,
        takes_air=True,
        first_m=900.0,
        ordered_m=900.0,
        first_m2=1350.0,
        second_m=100.0,
        is_ordered=True,
        stage=Stage.FINISHED,
    )
    return replace(plain, **changes)


def test_seconds_earn_a_share_of_what_a_first_must_earn() -> None:
    made = quantities()
    costs = priced(made, POWERED, ALL)
    production = 100 * 4 + 80 * 3 + 10 * 1.5 + 50 * 6 + 4 * 40 + 45 * (5 * 0.2 + 50 * 0.02)
    assert per_m(costs) == pytest.approx(production / (900 + 0.5 * 100))
    assert 900 * per_m(costs) + 50 * per_m(costs) == pytest.approx(production)
    assert costs.rejects_cost_per_m == pytest.approx(per_m(costs) - production / 1000)
    assert costs.drivers[-1].driver == "seconds sold"
    assert costs.drivers[-1].quantity * costs.drivers[-1].price == pytest.approx(-50 * per_m(costs))
    as_firsts = priced(made, POWERED, replace(ALL, second_quality_value_pct=100.0))
    assert as_firsts.rejects_cost_per_m == 0.0
    unstated = priced(made, POWERED, replace(ALL, second_quality_value_pct=None))
    assert per_m(unstated) == pytest.approx(production / 900)
    assert [each.pointer for each in unstated.not_priced] == ["/prices/second_quality_value_pct"]


def test_the_metres_that_bear_the_cost_are_those_of_the_order() -> None:
    pieces = PieceOrder(pieces=50, piece_length_m=60, overage_pct=4.0, rejects_pct=2.0)
    found = costs_of(ALL, construction(length_m=None, order=pieces))
    assert found.stage is Stage.FINISHED
    assert found.first_quality_m == pytest.approx(3000 * 1.04)
    assert found.second_quality_m == pytest.approx(3000 * 1.04 * 0.02 / 0.98)
    grey = costs_of(ALL, construction(stage=Stage.GREY))
    assert (grey.stage, grey.first_quality_m, grey.second_quality_m) == (Stage.GREY, 3000, 0)


def test_a_metre_ordered_bears_the_overage_that_is_made_beside_it() -> None:
    # 20 pieces of 60 m are ordered, 10 % more are made, and nobody has bought them.
    pieces = PieceOrder(pieces=20, piece_length_m=60.0, overage_pct=10.0, rejects_pct=0.0)
    found = costs_of(ALL, construction(length_m=None, order=pieces))
    assert found.first_quality_m == pytest.approx(1320)
    assert found.cost_for_order is not None
    assert found.cost_per_ordered_m == pytest.approx(found.cost_for_order / 1200)
    assert per_m(found) == pytest.approx(found.cost_for_order / 1320)
    by_length = costs_of(ALL)
    assert by_length.cost_per_ordered_m == pytest.approx(per_m(by_length))
    assert costs_of(ALL, bare_order()).cost_per_ordered_m is None
    assert costs_of(Prices()).cost_per_ordered_m is None


def test_what_is_not_priced_is_in_no_sum_and_is_named() -> None:
    nothing = costs_of(Prices(), bare_order(), loom())
    assert (nothing.drivers, nothing.cost_per_m, nothing.cost_for_order) == ((), None, None)
    missing = {each.driver: each.pointer for each in nothing.not_priced}
    assert missing == {
        "warp A": "/prices/yarn_per_kg/warp A",
        "weft A": "/prices/yarn_per_kg/weft A",
        "leno A": "/prices/yarn_per_kg/leno A",
        "catch cord A": "/prices/yarn_per_kg/catch cord A",
        "size": "/prices/size_per_kg",
        "loom hours": "/prices/loom_hour",
        "change-over": "/construction/length_m",
        "energy": "/loom/power_kw",
    }
    half = costs_of(replace(ALL, yarn_per_kg={"warp A": 4.0}, air_per_m3=None))
    assert {each.driver for each in half.not_priced} == {"weft A", "air"}
    assert per_m(half) == pytest.approx(
        per_m(costs_of(ALL)) - sum(amounts(costs_of(ALL))[each] for each in ("weft A", "air"))
    )


def test_an_air_jet_without_its_air_says_so() -> None:
    jet = loom(insertion=Insertion(system=InsertionSystem.AIR_JET), power_kw=3.0)
    missing = [each.pointer for each in costs_of(ALL, on=jet).not_priced]
    assert missing == ["/loom/air_m3_per_h"]


def test_a_loom_hour_is_that_of_the_loom_before_that_of_any() -> None:
    capital: dict[str, Any] = {
        "price": 60_000.0,
        "interest_pct": 15.0,
        "life_years": 10.0,
        "hours_per_year": 6_000.0,
    }
    by_price = costs_of(ALL, on=loom(**capital))
    # 0.199 is printed for 15 % over 10 years.
    assert by_price.loom_hour == pytest.approx(60_000 * 0.199 / 6_000, abs=0.01)
    assert by_price.loom_hour_from == "/loom/price"
    own = costs_of(ALL, on=loom(loom_hour=9.0))
    assert (own.loom_hour, own.loom_hour_from) == (9.0, "/loom/loom_hour")
    any_loom = costs_of(ALL, on=loom())
    assert (any_loom.loom_hour, any_loom.loom_hour_from) == (6.0, "/prices/loom_hour")
    assert own_loom_hour(loom()) is None
    assert refusal(costs_of, ALL, None, loom(price=60_000.0)) == "/loom/interest_pct"
    assert refusal(own_loom_hour, loom(loom_hour=9.0, **capital)) == "/price"
    assert capital_recovery_per_year(interest_pct=0, life_years=8) == 1 / 8
    tiny = capital_recovery_per_year(interest_pct=1e-9, life_years=8)
    assert tiny == pytest.approx(1 / 8)


def test_a_change_of_style_is_assumed_unless_its_hours_are_known() -> None:
    unknown = replace(ALL, changeover_hours=None)
    whole = assess(construction(), POWERED, prices=unknown)
    line = whole.assumptions[-1]
    assert (line.pointer, line.value) == ("/prices/changeover_hours", 6.0)
    assert line.band == ValueBand(4, 8)
    assert amounts(costs_of(unknown))["change-over"] == pytest.approx(40 * 6 / 3000)
    tied = assess(construction(), jacquard(), prices=unknown)
    assert tied.costs is not None
    change = next(each for each in tied.costs.drivers if each.driver == "change-over")
    # 3840 ends: 0.25 h, 6000 knots an hour, and all work that grows with the ends.
    assert 2 < change.quantity < 6
    pointers = [each.pointer for each in assess(construction(), POWERED, prices=ALL).assumptions]
    assert "/prices/changeover_hours" not in pointers


def test_every_further_warp_of_an_order_is_tied_in_at_a_price() -> None:
    long = construction(length_m=60_000.0)
    found = assess(long, POWERED, prices=ALL, rounded=False)
    costs, warp = found.costs, found.warp
    assert costs is not None
    assert warp.beams_needed > 2
    drivers = {each.driver: each for each in costs.drivers}
    # 6000 knots an hour, 1250 ends an hour of what else grows with them, 0.25 h for each beam.
    ends = found.setup.total_ends
    hours = (warp.beams_needed - 1) * (0.25 + ends / 6000 + ends / 1250)
    assert drivers["further warps"].quantity == pytest.approx(hours)
    assert drivers["further warps"].price == 40.0
    assert drivers["change-over"].quantity == 5.0
    rates = {each.pointer for each in found.assumptions if "changeover_rates" in each.pointer}
    assert rates == {
        f"/loom/changeover_rates/{name}"
        for name in ("knots_per_h", "tie_in_ends_per_h", "tie_in_fixed_hours")
    }
    missing = costs_of(replace(ALL, changeover_hour=None), long).not_priced
    assert "further warps" in {each.driver for each in missing}
    # One beam is brought by the change-over.
    assert "further warps" not in amounts(costs_of(ALL))


def test_prices_of_strange_yarns_and_impossible_ones_are_refused_at_their_place() -> None:
    assert refusal(costs_of, Prices(yarn_per_kg={"warp Z": 1.0})) == "/prices/yarn_per_kg/warp Z"
    assert refusal(lambda: Prices(size_per_kg=-1.0)) == "/prices/size_per_kg"
    assert refusal(lambda: Prices(yarn_per_kg={"warp A": -1.0})) == "/prices/yarn_per_kg/warp A"
    fit = judge(construction(), POWERED)
    assert refusal(order_cost, fit, POWERED, Prices(yarn_per_kg={"A": 1.0})).endswith("/A")


def test_no_price_is_printed_with_the_object() -> None:
    prices = Prices(yarn_per_kg={"warp A": 7.531}, loom_hour=8.642, second_quality_value_pct=97.53)
    shown = repr(prices) + repr(loom(loom_hour=9.876)) + repr(loom(price=86_420.0))
    assert [each for each in ("7.531", "8.642", "97.53", "9.876", "86420") if each in shown] == []


PRICE = st.floats(0, 1e6)


@st.composite
def price_lists(draw: st.DrawFn) -> Prices:
    numbers: dict[str, Any] = {
        name: draw(st.none() | PRICE)
        for name in ("size_per_kg", "loom_hour", "changeover_hour", "energy_per_kwh", "air_per_m3")
    }
    yarns = {name: draw(PRICE) for name in draw(st.sets(st.sampled_from(["warp A", "weft A"])))}
    share = draw(st.none() | st.floats(0, 100))
    return Prices(yarn_per_kg=yarns, second_quality_value_pct=share, **numbers)


def times(prices: Prices, factor: float) -> Prices:
    names = ("size_per_kg", "loom_hour", "changeover_hour", "energy_per_kwh", "air_per_m3")
    return replace(
        prices,
        yarn_per_kg={name: factor * price for name, price in prices.yarn_per_kg.items()},
        **{
            name: None if (price := getattr(prices, name)) is None else factor * price
            for name in names
        },
    )


@example(prices=Prices(), factor=1.0, second_m=40.0)
@share_of_examples(0.5)
@given(prices=price_lists(), factor=st.floats(0.01, 100), second_m=st.sampled_from([0.0, 40.0]))
def test_cost_is_linear_in_prices_and_the_sum_of_its_drivers(
    prices: Prices, factor: float, second_m: float
) -> None:
    made = quantities(second_m=second_m)
    costs = priced(made, POWERED, prices)
    assert per_m(costs) == pytest.approx(sum(each.cost_per_m for each in costs.drivers))
    assert (costs.cost_per_m2 or 0.0) == pytest.approx(
        sum(each.cost_per_m2 for each in costs.drivers)
    )
    assert (costs.cost_per_m is None) == (costs.drivers == ())
    scaled = priced(made, POWERED, times(prices, factor))
    assert per_m(scaled) == pytest.approx(factor * per_m(costs))
    named = {each.driver for each in costs.drivers} | {each.driver for each in costs.not_priced}
    expected = {*made.yarn_kg, "size", "loom hours", "change-over", "energy", "air"}
    assert named == expected | ({"seconds sold"} if second_m else set())


def test_half_the_speed_doubles_the_loom_hours_and_the_energy() -> None:
    fast, slow = (
        amounts(costs_of(ALL, construction(requested_speed_picks_per_min=speed)))
        for speed in (400.0, 200.0)
    )
    for driver in ("loom hours", "energy", "air"):
        assert slow[driver] == pytest.approx(2 * fast[driver])
    for driver in ("warp A", "weft A", "size", "change-over"):
        assert slow[driver] == pytest.approx(fast[driver])


def test_a_change_to_another_yarn_has_no_cost_to_compare() -> None:
    fit = judge(construction(), POWERED)
    finer = Yarn(designation="15 tex", fibre="cotton")
    other = judge(construction(weft=threads(22.0, yarns={"A": finer})), POWERED)
    assert cost_change(fit, other, POWERED, ALL) is None
    assert cost_change(fit, fit, POWERED, Prices()) is None
    closer = judge(construction(weft=threads(24.0)), POWERED)
    change = cost_change(fit, closer, POWERED, ALL)
    assert change is not None
    assert change[0] == per_m(costs_of(ALL)) < change[1]


def test_prices_decide_nothing_else() -> None:
    plain = assess(construction(), POWERED)
    assert replace(assess(construction(), POWERED, prices=ALL), costs=None) == plain
    assert plain.costs is None


def test_energy_and_air_follow_from_what_the_loom_states() -> None:
    whole = report(on=POWERED)
    energy = whole.energy
    assert energy is not None
    running_per_m = 0.88 / whole.rates.output_m_per_h
    assert energy.energy_kwh_per_m == pytest.approx(5.0 * running_per_m, rel=1e-4)
    assert energy.air_m3_per_m == pytest.approx(50.0 * running_per_m, rel=1e-4)
    grey_kg_per_m = whole.cloth.mass_g_per_m2 * 1.6 / 1000
    assert energy.energy_kwh_per_kg == pytest.approx(5.0 * running_per_m / grey_kg_per_m, rel=1e-4)
    weft_kg_per_h = whole.rates.insertion_rate_m_per_min * 60 * 20 / 1e6
    assert energy.air_kg_per_kg_weft == pytest.approx(50 * 1.2 / weft_kg_per_h, rel=1e-4)
    assert "90 kg/kg" in str(energy.air_note)
    only_power = report(on=loom(power_kw=5.0)).energy
    assert only_power is not None
    assert (only_power.air_m3_per_m, only_power.air_note) == (None, None)
    assert report().energy is None


def test_looms_are_ranked_by_cost_on_request() -> None:
    looms = [
        loom(loom_id="fast-dear", loom_hour=30.0),
        loom(loom_id="slow-cheap", loom_hour=2.0, max_speed_picks_per_min=300.0, speed_curve=()),
        loom(loom_id="unpriced", max_speed_picks_per_min=300.0, speed_curve=()),
    ]
    prices = replace(ALL, loom_hour=None)
    by_hours = match_looms(construction(), looms, prices=prices)
    by_cost = match_looms(construction(), looms, prices=prices, rank_by=RankBy.COST)
    assert by_hours.matches[0].loom_id == "fast-dear"
    assert [each.loom_id for each in by_cost.matches] == ["slow-cheap", "fast-dear", "unpriced"]
    assert "cost" in by_cost.ranked_by
    cheapest = by_cost.matches[0]
    assert cheapest.costs is not None
    own = costs_of(prices, on=looms[1])
    assert cheapest.costs.cost_per_m == pytest.approx(own.cost_per_m, rel=1e-5)
    assert "EUR/m" in cheapest.reason
    assert by_cost.matches[2].costs is not None
    assert "loom hours" in by_cost.matches[2].costs.not_priced
    assert refusal(lambda: match_looms(construction(), looms, rank_by=RankBy.COST)) == "/rank_by"
    unpriced = match_looms(construction(), looms)
    assert {each.costs for each in unpriced.matches} == {None}


def test_the_change_over_from_what_is_on_the_loom_is_priced() -> None:
    prices = replace(ALL, changeover_hours=None)
    woven_now = construction(weft=threads(20.0))
    (match,) = match_looms(
        construction(), [loom()], on_loom={"test-rapier": woven_now}, prices=prices
    ).matches
    assert match.changeover is not None
    assert match.costs is not None
    assert match.costs.changeover_hours == match.changeover.loom_stop_hours < 1


def test_parts_of_a_published_cost_keep_their_share() -> None:
    costs = cost_of_parts({"warp A": 45.0, "weft A": 24.0, "weaving": 18.0})
    assert amounts(costs)["loom hours"] == pytest.approx(18.0)
