"""Machine interference: exact, stable, and bounded by what is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import special

from weavability.looms.interference import (
    MAX_MACHINES,
    StopRates,
    constant_repair_running,
    efficiency_from_stops,
    finite_source_queue,
)
from weavability.textiles.errors import InputError

STOPS = StopRates(
    warp_stops_per_100k_picks=6,
    weft_stops_per_100k_picks=4,
    minutes_per_warp_stop=1.5,
    minutes_per_weft_stop=0.6,
    looms_per_weaver=8,
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
    standing = float(share @ np.arange(machines + 1))
    facts = finite_source_queue(
        machines=machines, weavers=weavers, mean_run=run, mean_repair=repair
    )
    assert facts.running == pytest.approx(machines - standing)
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
    facts = efficiency_from_stops(replace(STOPS, looms_per_weaver=1), speed_picks_per_min=500)
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
        {"looms_per_weaver": 0},
        {"looms_per_weaver": 10_001},
    ],
)
def test_stop_rates_out_of_their_domain_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        replace(STOPS, **wrong)  # type: ignore[arg-type]
