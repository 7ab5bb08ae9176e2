"""Machine interference: exact, stable, and bounded by what is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from builders import construction, loom
from scipy import linalg, special

from weavability.answers.report import Rates
from weavability.answers.validation import assess
from weavability.looms.default_limits import default_limits
from weavability.looms.interference import (
    MAX_MACHINES,
    EfficiencyFacts,
    StopNumbers,
    StopRates,
    constant_repair_running,
    efficiency_from_stops,
    efficiency_pct,
    finite_source_queue,
    order_stops,
)
from weavability.looms.loom import Running
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.assumptions import Grade
from weavability.textiles.errors import InputError

PICKS = 100_000
STOPS = StopRates(
    warp_stops_per_100k_picks=6,
    weft_stops_per_100k_picks=4,
    minutes_per_warp_stop=1.5,
    minutes_per_weft_stop=0.6,
    looms_per_set=8,
)


@pytest.mark.parametrize("machines", [1, 2, 7, 30])
@pytest.mark.parametrize("weavers", [1, 2, 5, 40])
def test_the_queue_solves_its_balance_equations(machines: int, weavers: int) -> None:
    """The generator of the birth-and-death process, solved as a linear system by NumPy."""
    run, repair = 10.0, 1.5
    generator = np.zeros((machines + 1, machines + 1))
    for k in range(machines + 1):
        if k < machines:
            generator[k, k + 1] = (machines - k) / run
        if k > 0:
            generator[k, k - 1] = min(k, weavers) / repair
        generator[k, k] = -generator[k].sum()
    system = np.vstack([generator.T, np.ones(machines + 1)])
    share = np.linalg.lstsq(system, np.append(np.zeros(machines + 1), 1.0), rcond=None)[0]
    stopped = float(share @ np.arange(machines + 1))
    facts = finite_source_queue(
        machines=machines, weavers=weavers, mean_run=run, mean_repair=repair
    )
    assert facts.running == pytest.approx(machines - stopped)
    assert facts.waiting == pytest.approx(
        float(share @ np.maximum(np.arange(machines + 1) - weavers, 0)), abs=1e-9
    )
    assert facts.all_running_probability == pytest.approx(share[0])


def test_ten_thousand_looms_agree_with_the_erlang_formula() -> None:
    """With one weaver P0 is 1 over a sum of falling factorials, an incomplete gamma function.

    ``1/P0 = sum N!/(N−k)!·r^k = N!·r^N·e^(1/r)·Q(N + 1, 1/r)`` (SciPy's regularised Q).
    """
    machines, ratio = MAX_MACHINES, 1 / 10_050
    log_inverse = (
        special.gammaln(machines + 1)
        + machines * math.log(ratio)
        + 1 / ratio
        + math.log(special.gammaincc(machines + 1, 1 / ratio))
    )
    facts = finite_source_queue(machines=machines, weavers=1, mean_run=1 / ratio, mean_repair=1)
    assert facts.all_running_probability == pytest.approx(math.exp(-log_inverse), rel=1e-6)


@pytest.mark.parametrize("weavers", [1, 9_000])
@pytest.mark.parametrize("mean_repair", [1e-9, 1.0, 1e9])
def test_nothing_overflows_at_the_bounds(weavers: int, mean_repair: float) -> None:
    facts = finite_source_queue(
        machines=MAX_MACHINES, weavers=weavers, mean_run=1.0, mean_repair=mean_repair
    )
    assert 0 < facts.running <= MAX_MACHINES
    assert facts.running + facts.in_repair + facts.waiting == pytest.approx(MAX_MACHINES)
    constant = constant_repair_running(machines=MAX_MACHINES, mean_run=1.0, mean_repair=mean_repair)
    assert 0 < constant <= MAX_MACHINES


@pytest.mark.parametrize(("machines", "weavers"), [(0, 1), (10_001, 1), (5, 0), (5, 10_001)])
def test_numbers_of_looms_and_weavers_are_bounded(machines: int, weavers: int) -> None:
    with pytest.raises(InputError):
        finite_source_queue(machines=machines, weavers=weavers, mean_run=1, mean_repair=1)


def test_the_two_probabilities_of_waiting_differ() -> None:
    """Published both ways for N 5, X 0.10: 0.386 is what a stopping machine meets."""
    facts = finite_source_queue(machines=5, weavers=1, mean_run=0.9, mean_repair=0.1)
    assert facts.waiting_probability_of_stopping_machine == pytest.approx(0.386, abs=1e-3)
    assert facts.all_weavers_busy_probability == pytest.approx(0.475, abs=1e-3)


SIMULATED = [(2, 1.8100), (6, 5.2776), (10, 8.2093), (15, 9.8885)]
"""Machines running of N, constant repair, ratio 0.10: a simulation of 400,000 repairs."""


@pytest.mark.parametrize(("machines", "running"), SIMULATED)
def test_constant_repair_agrees_with_simulation(machines: int, running: float) -> None:
    found = constant_repair_running(machines=machines, mean_run=10, mean_repair=1)
    assert found == pytest.approx(running, rel=1e-3)


def test_one_loom_never_waits() -> None:
    facts = efficiency_from_stops(replace(STOPS, looms_per_set=1), speed_picks_per_min=500)
    assert facts.waiting_loss_pct == 0
    assert facts.mean_wait_min == 0
    lost = 6 * 1.5 + 4 * 0.6
    assert facts.efficiency_pct == pytest.approx(200 / (200 + lost) * 100)
    assert facts.efficiency_pct == pytest.approx(facts.constant_repair_efficiency_pct)
    assert facts.efficiency_pct == pytest.approx(facts.efficiency_without_waiting_pct)


def test_time_running_under_repair_and_waiting_make_all_of_it() -> None:
    facts = efficiency_from_stops(STOPS, speed_picks_per_min=500)
    parts = facts.efficiency_pct + facts.stop_loss_pct + facts.waiting_loss_pct
    assert parts == pytest.approx(100)
    assert facts.constant_repair_efficiency_pct is not None
    assert facts.efficiency_pct < facts.constant_repair_efficiency_pct
    assert facts.constant_repair_efficiency_pct < facts.efficiency_without_waiting_pct
    assert facts.stop_meets_busy_weaver_pct < facts.weaver_load_pct


def test_looms_that_wait_are_stops_times_their_wait() -> None:
    """J. D. C. Little, A proof for the queuing formula L = lambda W, Oper. Res. 9 (1961)."""
    facts = efficiency_from_stops(STOPS, speed_picks_per_min=500)
    waiting = facts.stops_per_loom_hour / 60 * facts.mean_wait_min
    assert facts.waiting_loss_pct / 100 == pytest.approx(waiting)


def test_a_stop_an_hour_is_counted_by_the_clock() -> None:
    """10 stops in 100,000 picks at 500 picks/min: 3 stops a running hour."""
    facts = efficiency_from_stops(STOPS, speed_picks_per_min=500)
    assert facts.stops_per_loom_hour == pytest.approx(3 * facts.efficiency_pct / 100)


def test_a_loom_that_never_stops_is_fully_efficient() -> None:
    never = replace(STOPS, warp_stops_per_100k_picks=0, weft_stops_per_100k_picks=0)
    facts = efficiency_from_stops(never, speed_picks_per_min=500)
    assert facts.efficiency_pct == facts.constant_repair_efficiency_pct == 100
    assert facts.stops_per_loom_hour == 0


def test_stops_that_take_no_time_lose_nothing_but_are_counted() -> None:
    quick = replace(STOPS, minutes_per_warp_stop=0, minutes_per_weft_stop=0)
    facts = efficiency_from_stops(quick, speed_picks_per_min=500)
    assert facts.efficiency_pct == 100
    assert facts.stops_per_loom_hour == pytest.approx(3)


@pytest.mark.parametrize(
    "wrong",
    [
        {"warp_stops_per_100k_picks": -1.0},
        {"minutes_per_weft_stop": float("nan")},
        {"looms_per_set": 0},
        {"looms_per_set": 10_001},
        {"weavers": 0},
    ],
)
def test_stop_rates_out_of_their_domain_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        replace(STOPS, **wrong)  # type: ignore[arg-type]


def of(speed: float = 500, **changes: float) -> EfficiencyFacts:
    return efficiency_from_stops(
        replace(STOPS, **changes),  # type: ignore[arg-type]
        speed_picks_per_min=speed,
    )


@pytest.mark.slow
@pytest.mark.parametrize(("looms", "weavers"), [(8, 1), (24, 2), (24, 3), (7, 7), (60, 5)])
def test_the_efficiency_of_a_set_is_that_of_its_birth_and_death_chain(
    looms: int, weavers: int
) -> None:
    """The states 0 to N stopped, as the null space of the generator (SciPy)."""
    per_min = 10 / (PICKS / 500)
    repair_min = (6 * 1.5 + 4 * 0.6) / 10
    up = [(looms - stopped) * per_min for stopped in range(looms)]
    down = [min(stopped + 1, weavers) / repair_min for stopped in range(looms)]
    generator = np.diag(up, 1) + np.diag(down, -1)
    generator -= np.diag(generator.sum(axis=1))
    share = linalg.null_space(generator.T)[:, 0]
    share /= share.sum()
    found = of(looms_per_set=looms, weavers=weavers)
    stopped = np.arange(looms + 1)
    assert found.efficiency_pct == pytest.approx(100 * (1 - share @ stopped / looms))
    assert found.all_looms_run_pct == pytest.approx(100 * share[0])
    assert found.all_weavers_busy_pct == pytest.approx(100 * share[weavers:].sum())
    assert found.weaver_load_pct == pytest.approx(
        100 * (share @ np.minimum(stopped, weavers)) / weavers
    )
    waiting = share @ np.maximum(stopped - weavers, 0)
    assert found.waiting_loss_pct == pytest.approx(100 * waiting / looms, abs=1e-9)
    assert found.mean_stop_min == pytest.approx(found.mean_wait_min + repair_min)


def test_two_weavers_to_twice_the_looms_lose_less_than_one_to_half_of_them() -> None:
    apart, together = of(looms_per_set=12), of(looms_per_set=24, weavers=2)
    assert apart.efficiency_pct < together.efficiency_pct < apart.efficiency_without_waiting_pct
    assert together.constant_repair_efficiency_pct is None


def test_columns_of_sets_are_equal_to_each_alone() -> None:
    sets = [(8, 1), (24, 2), (24, 3), (8, 1), (1, 1)]
    alone = [
        replace(STOPS, looms_per_set=looms, weavers=weavers).numbers for looms, weavers in sets
    ]
    column = StopNumbers(
        present=np.ones(len(sets), dtype=np.bool_),
        minutes_per_100k_picks=np.array([each.minutes_per_100k_picks for each in alone]),
        looms_per_set=np.array([float(each.looms_per_set) for each in alone]),
        weavers=np.array([float(each.weavers) for each in alone]),
    )
    speeds = np.array([500.0, 611.1, 500.0, 987.6, 400.0])
    assert efficiency_pct(column, speed_picks_per_min=speeds).tolist() == [
        efficiency_pct(each, speed_picks_per_min=speed)
        for each, speed in zip(alone, speeds.tolist(), strict=True)
    ]


def test_one_more_stop_costs_what_it_costs() -> None:
    found = of()
    for kind in ("warp", "weft"):
        field = f"{kind}_stops_per_100k_picks"
        worse = of(**{field: getattr(STOPS, field) + 1})
        cost = getattr(found, f"further_{kind}_stop_cost_pct")
        assert cost == pytest.approx(found.efficiency_pct - worse.efficiency_pct)
        hours = getattr(order_stops(found, hours=100), f"further_{kind}_stop_hours")
        assert 100 + hours == pytest.approx(100 * found.efficiency_pct / worse.efficiency_pct)
    assert found.further_warp_stop_cost_pct > found.further_weft_stop_cost_pct > 0


def test_the_first_stop_of_a_loom_that_never_stops_has_its_cost() -> None:
    never = of(warp_stops_per_100k_picks=0, weft_stops_per_100k_picks=0, looms_per_set=1)
    assert never.further_warp_stop_cost_pct == pytest.approx(100 - 100 / (1 + 1.5 / 200))
    stops = order_stops(never, hours=100)
    assert (stops.stops, stops.deviation.high, stops.deviation_hours.high) == (0, 0, 0)


def test_stops_of_an_order_scatter_more_than_by_chance_and_length_does_not_help() -> None:
    short, long = (order_stops(of(), hours=hours) for hours in (10, 1000))
    for found in (short, long):
        assert found.poisson_deviation == pytest.approx(math.sqrt(found.stops))
        assert found.poisson_deviation < found.deviation.low < found.deviation.high
    assert long.deviation.high / long.stops == pytest.approx(0.378, abs=0.001)
    assert long.poisson_deviation / long.stops < short.poisson_deviation / short.stops / 9
    lost = 1000 * (1 - of().efficiency_pct / 100)
    assert long.deviation_hours.high / lost == pytest.approx(long.deviation.high / long.stops)


def rates(**running: float) -> tuple[Rates, dict[str, Grade]]:
    """The rates of an order on a loom that runs so, and what of it was assumed, with its grade."""
    found = assess(construction(length_m=1000.0), loom(running=Running(**running)))  # type: ignore[arg-type]
    prefix = "/loom/running/"
    assumed = {
        line.pointer.removeprefix(prefix): line.grade
        for line in found.assumptions
        if line.pointer.startswith(prefix)
    }
    return found.rates, assumed


def test_an_assumed_efficiency_has_its_band_and_so_have_the_hours() -> None:
    found, assumed = rates(hours_per_day=24)
    assert assumed == {"efficiency_pct": Grade.COMMON_PRACTICE}
    assert found.efficiency_pct_band is not None
    assert found.hours_for_order_band is not None
    assert found.hours_for_order is not None
    low, high = default_limits()["/running/efficiency_pct"]["band"]
    assert (found.efficiency_pct_band.low, found.efficiency_pct_band.high) == (low, high)
    assert found.hours_for_order_band.low == pytest.approx(
        found.hours_for_order * 88 / high, rel=1e-5
    )
    assert found.hours_for_order_band.high == pytest.approx(
        found.hours_for_order * 88 / low, rel=1e-5
    )
    assert found.stops is None
    assert found.stops_for_order is None


def test_nothing_that_is_stated_has_a_band() -> None:
    stated = {
        "warp_stops_per_100k_picks": 6,
        "weft_stops_per_100k_picks": 4,
        "minutes_per_warp_stop": 1.5,
        "minutes_per_weft_stop": 0.6,
        "looms_per_set": 24,
        "weavers": 2,
        "hours_per_day": 24,
    }
    found, assumed = rates(**stated)
    assert not assumed
    assert found.efficiency_pct_band is None
    assert found.hours_for_order_band is None
    assert found.stops is not None
    assert (found.stops.looms_per_set, found.stops.weavers) == (24, 2)


def test_stops_that_are_not_stated_are_assumed_and_give_the_efficiency_its_band() -> None:
    found, assumed = rates(
        looms_per_set=24, weavers=2, warp_stops_per_100k_picks=8, hours_per_day=24
    )
    assert assumed == {
        "weft_stops_per_100k_picks": Grade.COMMON_PRACTICE,
        "minutes_per_warp_stop": Grade.SOURCE,
        "minutes_per_weft_stop": Grade.COMMON_PRACTICE,
    }
    assert found.efficiency_pct_band is not None
    assert found.stops is not None
    speed = found.speed_picks_per_min
    # 8 x 1.5 + 4 x 0.6 = 14.4 min; each value by itself takes off or adds, in minutes:
    # weft stops 2 x 0.6, minutes a warp stop 8 x 0.65 or 1.37, a weft stop 4 x 0.3 or 0.4.
    best, worst = (
        StopRates(
            warp_stops_per_100k_picks=1,
            weft_stops_per_100k_picks=0,
            minutes_per_warp_stop=14.4 + math.copysign(math.hypot(*changes), changes[0]),
            minutes_per_weft_stop=0,
            looms_per_set=24,
            weavers=2,
        )
        for changes in ((-1.2, -5.2, -1.2), (1.2, 10.96, 1.6))
    )
    for band, ends in (
        (found.efficiency_pct_band.high, best),
        (found.efficiency_pct_band.low, worst),
    ):
        assert band == pytest.approx(
            efficiency_from_stops(ends, speed_picks_per_min=speed).efficiency_pct, rel=1e-5
        )
    assert found.efficiency_pct_band.low < found.efficiency_pct < found.efficiency_pct_band.high
    assert found.stops_for_order is not None
    assert found.hours_for_order is not None


@pytest.mark.parametrize(
    ("running", "pointer"),
    [
        ({"looms_per_weaver": 8, "looms_per_set": 24, "weavers": 2}, "/running/looms_per_set"),
        ({"looms_per_set": 24}, "/running/looms_per_set"),
        ({"weavers": 2}, "/running/looms_per_weaver"),
        ({"looms_per_set": 2, "weavers": 3}, "/running/looms_per_set"),
        ({"minutes_per_warp_stop": 1.0}, "/running/looms_per_weaver"),
        ({"efficiency_pct": 90.0, "weavers": 2}, "/running/weavers"),
    ],
)
def test_who_mends_the_looms_is_stated_in_one_way(running: dict[str, float], pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        resolve_loom(loom(running=Running(**running)))  # type: ignore[arg-type]
    assert [fault.pointer for fault in caught.value.faults] == [pointer]
