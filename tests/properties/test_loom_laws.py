"""Laws of the loom, each over many looms, yarns and cloths."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability.looms.beams import beam_capacity_m, beams_needed
from weavability.looms.carriers import InsertionSetup, InsertionSystem, Rapiers, insertion_motion
from weavability.looms.interference import (
    StopRates,
    constant_repair_running,
    efficiency_from_stops,
    finite_source_queue,
)
from weavability.looms.loom import SheddingKind
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.output import output_m_per_h
from weavability.looms.reeds import ReedStock, convert_reed_count, reed_systems
from weavability.looms.style_change import changeover, ties_in
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.weft_insertion import (
    SpeedLimit,
    SpeedLimitName,
    feeder_speed_m_per_min,
    insertion_rate_m_per_min,
    speed_at_insertion_rate,
    speed_limit,
)
from weavability.looms.weft_tension import WeftYarn, speed_at_strength_use, weft_tension
from weavability.textiles.numbers import Steps

speeds = st.floats(50, 2000)
widths = st.floats(60, 540)
growth = st.floats(1.0, 3.0)
lengths = st.one_of(st.just(0.0), st.floats(0.001, 60))


@st.composite
def setups(draw: st.DrawFn) -> InsertionSetup:
    system = draw(st.sampled_from(InsertionSystem))
    common: dict[str, Any] = {
        "system": system,
        "entry_deg": draw(st.floats(20, 120)),
        "exit_deg": draw(st.floats(200, 340)),
        "free_weft_length_m": draw(st.one_of(st.just(0.0), st.floats(0.001, 2))),
        "base_tension_cn": draw(st.floats(0, 60)),
        "withdrawal_factor": draw(st.floats(1, 5)),
        "friction_coefficient": draw(st.floats(0, 0.5)),
        "wrap_deg": draw(st.floats(0, 360)),
        "picks_per_insertion": 2
        if system is InsertionSystem.NEEDLE
        else draw(st.sampled_from((1, 2))),
    }
    if system.has_strokes:
        pair = system is InsertionSystem.RAPIER
        return InsertionSetup(
            **common,
            motion_law=draw(st.sampled_from(MotionLaw)),
            rapiers=draw(st.sampled_from(Rapiers)) if pair else None,
            transfer_deg=draw(st.floats(140, 190)),
            overrun_cm=draw(st.one_of(st.just(0.0), st.floats(0.001, 30))),
            transfer_travel_cm=draw(st.one_of(st.just(0.0), st.floats(0.001, 30))),
        )
    return InsertionSetup(
        **common,
        carrier_length_cm=draw(lengths),
        launch_length_cm=draw(lengths),
        stopping_length_cm=draw(lengths),
    )


yarns = st.builds(
    WeftYarn,
    linear_density_tex=st.floats(2, 1000),
    weakest_strength_cn=st.floats(20, 20_000),
    modulus_cn_per_tex=st.floats(20, 5000),
)


@given(setup=setups(), yarn=yarns, speed=speeds, faster=growth, width=widths)
def test_weft_tension_rises_with_speed(
    setup: InsertionSetup, yarn: WeftYarn, speed: float, faster: float, width: float
) -> None:
    slow = weft_tension(setup, yarn, speed_picks_per_min=speed, reed_width_cm=width)
    quick = weft_tension(setup, yarn, speed_picks_per_min=speed * faster, reed_width_cm=width)
    assert quick.peak_tension_cn >= slow.peak_tension_cn >= setup.base_tension_cn
    for before, after in zip(slow.peaks, quick.peaks, strict=True):
        assert after.tension_cn >= before.tension_cn


@given(setup=setups(), yarn=yarns, speed=speeds, width=widths, wider=growth)
def test_strength_use_rises_with_width(
    setup: InsertionSetup, yarn: WeftYarn, speed: float, width: float, wider: float
) -> None:
    narrow, broad = (
        weft_tension(setup, yarn, speed_picks_per_min=speed, reed_width_cm=each)
        for each in (width, width * wider)
    )
    assert broad.strength_use_pct >= narrow.strength_use_pct * (1 - 1e-6)


@given(setup=setups(), yarn=yarns, width=widths, use=st.floats(1, 100))
def test_speed_at_strength_use_is_the_inverse_of_weft_tension(
    setup: InsertionSetup, yarn: WeftYarn, width: float, use: float
) -> None:
    speed = speed_at_strength_use(setup, yarn, strength_use_pct=use, reed_width_cm=width)
    if speed < 1e-6:
        drawn_cn = setup.base_tension_cn * setup.guide_times
        assert drawn_cn >= use / 100 * yarn.weakest_strength_cn * (1 - 1e-6)
        return
    reached = weft_tension(setup, yarn, speed_picks_per_min=speed, reed_width_cm=width)
    assert reached.strength_use_pct == pytest.approx(use, rel=1e-9)


@given(setup=setups(), yarn=yarns, width=widths, use=st.floats(1, 50), more=growth)
def test_a_greater_share_of_strength_allows_no_less_speed(
    setup: InsertionSetup, yarn: WeftYarn, width: float, use: float, more: float
) -> None:
    low, high = (
        speed_at_strength_use(setup, yarn, strength_use_pct=each, reed_width_cm=width)
        for each in (use, use * more)
    )
    assert high >= low


@given(setup=setups(), speed=speeds, faster=growth, width=widths)
def test_carrier_speed_follows_loom_speed_and_acceleration_its_square(
    setup: InsertionSetup, speed: float, faster: float, width: float
) -> None:
    slow = insertion_motion(setup, speed_picks_per_min=speed, reed_width_cm=width)
    quick = insertion_motion(setup, speed_picks_per_min=speed * faster, reed_width_cm=width)
    assert quick.peak_speed_m_per_s == pytest.approx(slow.peak_speed_m_per_s * faster)
    assert quick.insertion_time_ms == pytest.approx(slow.insertion_time_ms / faster)
    assert slow.peak_speed_m_per_s >= slow.mean_speed_m_per_s * (1 - 1e-12)
    if slow.peak_acceleration_m_per_s2 is not None:
        assert quick.peak_acceleration_m_per_s2 == pytest.approx(
            slow.peak_acceleration_m_per_s2 * faster**2
        )


def rate_of(loom: float, rate: float, shedding: float, width: float) -> float:
    allowed = speed_limit(
        [
            SpeedLimit(name=SpeedLimitName.LOOM_SPEED, picks_per_min=loom),
            SpeedLimit(name=SpeedLimitName.SHEDDING, picks_per_min=shedding),
            SpeedLimit(
                name=SpeedLimitName.INSERTION_RATE,
                picks_per_min=speed_at_insertion_rate(rate_m_per_min=rate, reed_width_cm=width),
            ),
        ]
    )
    return insertion_rate_m_per_min(speed_picks_per_min=allowed.picks_per_min, reed_width_cm=width)


@given(
    limits=st.tuples(speeds, st.floats(200, 3000), speeds, widths),
    which=st.integers(0, 3),
    less=st.floats(0.2, 1.0),
)
def test_the_rate_never_rises_when_a_width_or_a_limit_falls(
    limits: tuple[float, float, float, float], which: int, less: float
) -> None:
    fallen = [value * less if index == which else value for index, value in enumerate(limits)]
    assert rate_of(*fallen) <= rate_of(*limits) * (1 + 1e-12)
    assert rate_of(*limits) <= limits[1] * (1 + 1e-12)


@given(speed=speeds, picks=st.floats(3, 120), denser=growth, efficiency=st.floats(1, 100))
def test_output_falls_with_picks_and_rises_with_speed_and_efficiency(
    speed: float, picks: float, denser: float, efficiency: float
) -> None:
    def made(speed: float, picks: float, efficiency: float) -> float:
        return output_m_per_h(
            speed_picks_per_min=speed, picks_per_cm=picks, efficiency_pct=efficiency
        )

    here = made(speed, picks, efficiency)
    assert made(speed, picks * denser, efficiency) == pytest.approx(here / denser)
    assert made(speed * denser, picks, efficiency) == pytest.approx(here * denser)
    assert made(speed, picks, efficiency / denser) <= here


@given(
    rate=st.floats(100, 3000),
    extra=st.floats(0, 50),
    feeders=st.integers(1, 8),
)
def test_feeders_together_deliver_the_whole_weft(rate: float, extra: float, feeders: int) -> None:
    each = feeder_speed_m_per_min(
        insertion_rate_m_per_min=rate, extra_weft_pct=extra, feeders=feeders
    )
    assert each * feeders == pytest.approx(rate * (1 + extra / 100))


machines = st.integers(1, 60)
ratios = st.floats(1e-4, 2.0)


@given(machines=machines, weavers=st.integers(1, 8), ratio=ratios)
def test_every_machine_runs_waits_or_is_repaired(machines: int, weavers: int, ratio: float) -> None:
    facts = finite_source_queue(machines=machines, weavers=weavers, mean_run=1.0, mean_repair=ratio)
    assert facts.running + facts.in_repair + facts.waiting == pytest.approx(machines)
    assert facts.in_repair <= weavers * (1 + 1e-12)
    assert (
        facts.waiting_probability_of_stopping_machine <= facts.all_weavers_busy_probability + 1e-12
    )


@given(machines=machines, weavers=st.integers(1, 8), ratio=ratios)
def test_more_looms_to_a_weaver_never_make_each_run_more_and_more_weavers_never_less(
    machines: int, weavers: int, ratio: float
) -> None:
    def share(machines: int, weavers: int) -> float:
        return finite_source_queue(
            machines=machines, weavers=weavers, mean_run=1.0, mean_repair=ratio
        ).running_share

    assert share(machines + 1, weavers) <= share(machines, weavers) + 1e-12
    assert share(machines, weavers + 1) >= share(machines, weavers) - 1e-12


@given(machines=machines, ratio=ratios)
def test_constant_repairs_lose_no_more_than_exponential_ones(machines: int, ratio: float) -> None:
    constant = constant_repair_running(machines=machines, mean_run=1.0, mean_repair=ratio)
    exponential = finite_source_queue(
        machines=machines, weavers=1, mean_run=1.0, mean_repair=ratio
    ).running
    bound = min(machines / (1 + ratio), 1 / ratio)
    assert exponential * (1 - 1e-9) <= constant <= bound * (1 + 1e-9)


@given(
    warp=st.floats(0, 50),
    weft=st.floats(0, 50),
    minutes=st.tuples(st.floats(0, 5), st.floats(0, 5)),
    looms=st.integers(1, 40),
    speed=speeds,
    faster=growth,
)
def test_a_faster_loom_stops_more_often_and_is_less_efficient(
    warp: float,
    weft: float,
    minutes: tuple[float, float],
    looms: int,
    speed: float,
    faster: float,
) -> None:
    stops = StopRates(
        warp_stops_per_100k_picks=warp,
        weft_stops_per_100k_picks=weft,
        minutes_per_warp_stop=minutes[0],
        minutes_per_weft_stop=minutes[1],
        looms_per_set=looms,
    )
    slow = efficiency_from_stops(stops, speed_picks_per_min=speed)
    quick = efficiency_from_stops(stops, speed_picks_per_min=speed * faster)
    assert 0 < quick.efficiency_pct <= slow.efficiency_pct * (1 + 1e-9) <= 100 * (1 + 2e-9)
    parts = slow.efficiency_pct + slow.stop_loss_pct + slow.waiting_loss_pct
    assert parts == pytest.approx(100)


@given(
    count=st.floats(0.01, 1e5),
    systems=st.lists(st.sampled_from(sorted(reed_systems())), min_size=2, max_size=6),
)
def test_reed_counts_come_back_unchanged_round_any_tour_of_systems(
    count: float, systems: list[str]
) -> None:
    there = count
    for before, after in zip(systems, [*systems[1:], systems[0]], strict=True):
        there = convert_reed_count(there, from_system=before, to_system=after)
    assert there == pytest.approx(count, rel=1e-14)


@given(
    stock=st.lists(st.integers(20, 400), min_size=1, max_size=30),
    wanted=st.floats(1, 1000),
)
def test_no_reed_in_stock_is_nearer_than_the_nearest(stock: list[int], wanted: float) -> None:
    found = ReedStock(Steps(tuple(sorted(stock)))).nearest(wanted)
    assert found in stock
    nearest = min(max(reed / wanted, wanted / reed) for reed in stock)
    assert max(found / wanted, wanted / found) == pytest.approx(nearest, rel=1e-12)


@given(
    ends=st.integers(100, 20_000),
    tex=st.floats(2, 500),
    more=growth,
    length=st.floats(100, 50_000),
)
def test_more_or_coarser_ends_shorten_the_warp_on_a_beam(
    ends: int, tex: float, more: float, length: float
) -> None:
    def capacity(ends: int, tex: float) -> float:
        return beam_capacity_m(
            winding_diameter_cm=98,
            barrel_diameter_cm=15,
            width_cm=190,
            density_g_per_cm3=0.55,
            ends=ends,
            linear_density_tex=tex,
        )

    here = capacity(ends, tex)
    assert capacity(ends, tex * more) <= here
    assert capacity(2 * ends, tex) == pytest.approx(here / 2)
    waste = min(4.6, here / 2)
    beams = beams_needed(cloth_warp_length_m=length, beam_capacity_m=here, waste_per_beam_m=waste)
    assert beams * (here - waste) >= length * (1 - 1e-12)
    assert (beams - 1) * (here - waste) < length * (1 + 1e-12)


styles = st.builds(
    StyleOnLoom,
    ends=st.integers(100, 15_000),
    reed_dents_per_10cm=st.sampled_from([80, 120, 160]),
    ends_per_dent=st.sampled_from([2, 3]),
    threading=st.sampled_from([(1, 2), (1, 2, 3, 4)]),
    lift_plan=st.sampled_from(["plain", "twill"]),
    weft_yarns=st.sampled_from([("A",), ("A", "B"), ("B", "A")]),
    warp=st.sampled_from(["white", "navy"]),
    shedding=st.just(SheddingKind.DOBBY),
    picks_per_cm=st.sampled_from([18, 20]),
    reed_width_cm=st.sampled_from([160, 190]),
)


@given(old=styles, new=styles)
def test_warps_are_tied_in_wherever_the_rule_allows_and_else_the_shortest_stop_is_taken(
    old: StyleOnLoom, new: StyleOnLoom
) -> None:
    plan = changeover(old, new)
    stops = [route.stop_hours for route in plan.alternatives]
    assert stops == sorted(stops)
    if (old.threading, old.warp, old.ends) == (new.threading, new.warp, new.ends):
        assert plan.taken.route in ("keep", "change_reed")
    elif ties_in(old, new):
        assert plan.taken.route == "tie_in"
    else:
        assert all(plan.taken.stop_hours <= stop for stop in stops)
    assert plan.taken.stop_hours == pytest.approx(
        sum(step.hours for step in plan.taken.steps if step.stops_loom)
    )


@given(old=styles)
def test_a_style_to_itself_is_no_work_and_a_new_warp_always_is(old: StyleOnLoom) -> None:
    assert changeover(old, old).taken.steps == ()
    other = replace(old, warp="navy" if old.warp == "white" else "white")
    plan = changeover(old, other)
    assert plan.taken.route == "tie_in"
    assert plan.taken.stop_hours > 0
