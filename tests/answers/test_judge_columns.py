"""Columns of pairs are judged like the pairs one by one."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import construction, jacquard, loom
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from weavability.answers.columns import NUMBERS, SEVERITY_RANKS, judge_columns
from weavability.answers.validation import judge, verdict_of
from weavability.checks.finding import Verdict
from weavability.checks.registry import observe
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

VERDICTS = (Verdict.WEAVABLE, Verdict.WEAVABLE_WITH_WARNINGS, Verdict.NOT_WEAVABLE)
Sample = tuple[list[Construction], list[Loom]]


def drawn(count: int, *, seed_: int) -> Sample:
    """Orders and looms of the trade and of any kind, half and half."""
    orders: list[Construction] = []
    machines: list[Loom] = []

    @seed(seed_)
    @settings(
        max_examples=count,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(st.tuples(trade_orders, trade_looms), st.tuples(constructions, looms()))
    def draw(usual: tuple[Construction, Loom], any_pair: tuple[Construction, Loom]) -> None:
        for order, machine in (usual, any_pair):
            orders.append(order)
            if readable(machine):
                machines.append(machine)

    draw()
    return orders, machines


def readable(machine: Loom) -> bool:
    try:
        resolve_loom(machine)
    except InputError:
        return False
    return True


def one_by_one(order: Construction, machine: Loom) -> tuple[int, dict[str, int]]:
    """Verdict and severities of a pair, as the columns write them; -1 if it is refused."""
    try:
        found = observe(judge(order, machine))
    except InputError:
        return -1, {}
    worst: dict[str, int] = {}
    for seen in found:
        worst[seen.code] = max(worst.get(seen.code, 0), SEVERITY_RANKS[seen.severity])
    return VERDICTS.index(verdict_of(found)), worst


def assert_like_pairs(
    orders: Sequence[Construction], machines: Sequence[Loom], pairs: Sequence[tuple[int, int]]
) -> None:
    judged = judge_columns(orders, machines)
    for i, j in pairs:
        found = {
            code.value: int(rank)
            for code, rank in zip(judged.codes, judged.severities[i, j], strict=True)
            if rank
        }
        expected = one_by_one(orders[i], machines[j])
        assert (int(judged.verdicts[i, j]), found) == expected, (orders[i], machines[j])


def test_columns_find_what_pairs_find() -> None:
    orders, machines = drawn(60, seed_=11)
    choose = random.Random(1)
    pairs = [(i, j) for i in range(len(orders)) for j in choose.sample(range(len(machines)), 6)]
    assert_like_pairs(orders, machines, pairs)


def test_an_order_that_cannot_be_read_is_masked() -> None:
    good = construction()
    bad = replace(good, width_cm=1e9)
    judged = judge_columns([good, bad, good], [loom(), jacquard()], numbers=("hours",))
    assert list(judged.refused) == [1]
    assert judged.refused[1].faults[0].pointer == "/construction/width_cm"
    assert judged.verdicts[1].tolist() == [-1, -1]
    assert np.isnan(judged.numbers["hours"][1]).all()
    assert (judged.verdicts[0] == judged.verdicts[2]).all()


def test_numbers_are_those_of_the_pair() -> None:
    orders = [construction(), construction(width_cm=150.0)]
    judged = judge_columns(orders, [loom(), jacquard()], numbers=NUMBERS)
    for i, order in enumerate(orders):
        for j, machine in enumerate((loom(), jacquard())):
            fit = judge(order, machine)
            told = {name: column[i, j] for name, column in judged.numbers.items()}
            assert told["speed_picks_per_min"] == pytest.approx(fit.speed_picks_per_min)
            assert told["tightness_pct"] == pytest.approx(fit.cloth.setting.tightness_pct)
            assert told["output_m_per_h"] == pytest.approx(fit.output_m_per_h)
            assert told["beam_capacity_m"] == pytest.approx(fit.warp.beam_capacity_m)


def test_an_unknown_number_and_an_impossible_loom_are_refused() -> None:
    with pytest.raises(InputError) as unknown:
        judge_columns([construction()], [loom()], numbers=("hours", "speed"))
    assert unknown.value.faults[0].pointer == "/numbers/1"
    with pytest.raises(InputError) as impossible:
        judge_columns([construction()], [loom(), replace(loom(), reed_width_cm=-1.0)])
    assert impossible.value.faults[0].pointer == "/looms/1/reed_width_cm"
