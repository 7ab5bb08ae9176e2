"""Columns of pairs are judged like the pairs one by one."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import bare_order, construction, jacquard, loom, shedding, threads
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from profiles import examples

from weavability.answers import columns
from weavability.answers.columns import NUMBERS, SEVERITY_RANKS, judge_columns
from weavability.answers.order_columns import rank_on_looms
from weavability.answers.validation import judge
from weavability.answers.verdicts import verdict_of
from weavability.answers.weighed_findings import Weighed
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, facts_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import observe
from weavability.looms.drawing_in import OnShafts
from weavability.looms.fit import Fit
from weavability.looms.loom import Band, Loom, Running, WarpBeam
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.speed import named_limits
from weavability.looms.weft_insertion import SpeedLimitName, speed_limit
from weavability.service.requests.park import load_park
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import (
    Allowances,
    Construction,
    Reed,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

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


NO_DOUBTS: frozenset[CheckCode] = frozenset()


def one_by_one(
    order: Construction, machine: Loom
) -> tuple[int, dict[str, int], frozenset[CheckCode]]:
    """Verdict, severities and doubts of a pair, as the columns write them; -1 if it is refused."""
    try:
        fit = judge(order, machine)
        found = observe(fit)
    except InputError:
        return -1, {}, NO_DOUBTS
    worst: dict[str, int] = {}
    for seen in found:
        worst[seen.code] = max(worst.get(seen.code, 0), SEVERITY_RANKS[seen.severity])
    verdict = verdict_of(found)
    doubts = Weighed.of(found, facts_of(fit)).doubts
    return VERDICTS.index(verdict), worst, NO_DOUBTS if verdict is Verdict.NOT_WEAVABLE else doubts


def assert_like_pairs(
    orders: Sequence[Construction], machines: Sequence[Loom], pairs: Sequence[tuple[int, int]]
) -> None:
    judged = judge_columns(orders, machines, doubts=True)
    for i, j in pairs:
        found = {
            code.value: int(rank)
            for code, rank in zip(judged.codes, judged.severities[i, j], strict=True)
            if rank
        }
        doubts = frozenset(code for code, where in judged.doubts.items() if where[i, j])
        expected = one_by_one(orders[i], machines[j])
        assert (int(judged.verdicts[i, j]), found, doubts) == expected, (orders[i], machines[j])


def some_pairs(sample: Sample, each: int) -> list[tuple[int, int]]:
    """Every order with some of the looms."""
    orders, machines = sample
    choose = random.Random(1)
    every = range(len(machines))
    return [(i, j) for i in range(len(orders)) for j in choose.sample(every, each)]


@pytest.mark.slow
def test_columns_find_what_pairs_find() -> None:
    sample = drawn(max(20, examples(0.6)), seed_=11)
    assert_like_pairs(*sample, some_pairs(sample, 6))


@pytest.mark.slow
def test_columns_find_what_many_pairs_find() -> None:
    orders, machines = drawn(examples(0.5), seed_=12)
    sample = (orders, machines + varied_park(random.Random(3), count=100))
    pairs = some_pairs(sample, 10)
    assert len(pairs) == 20 * examples(0.5)
    assert_like_pairs(*sample, pairs)


def varied_park(choose: random.Random, *, count: int) -> list[Loom]:
    """The looms of the demo park, changed here and there."""
    kinds = [entry.loom for entry in load_park(None).looms.values()]
    looms_: list[Loom] = []
    while len(looms_) < count:
        base = kinds[len(looms_) % len(kinds)]
        width = round(base.reed_width_cm * choose.uniform(0.7, 1.3), 1)
        machine = replace(
            base,
            reed_width_cm=width,
            min_reed_width_cm=round(width * choose.uniform(0.3, 0.8), 1),
            max_speed_picks_per_min=float(round(choose.uniform(200, 1000))),
            max_tightness_pct=round(choose.uniform(80, 125), 1),
            weft_selectors=choose.choice((1, 2, 4)),
            reeds_in_stock_dents_per_10cm=tuple(
                sorted({round(choose.uniform(30, 220), 1) for _ in range(choose.randint(0, 9))})
            ),
            insertion=replace(
                base.insertion, base_tension_cn_per_tex=round(choose.uniform(0.05, 2), 2)
            ),
        )
        if readable(machine):
            looms_.append(machine)
    return looms_


SLACKS = (-1e-6, -2e-9, -5e-10, 0.0, 5e-10, 2e-9, 1e-6)


def at_its_limits(fit: Fit, slack: float) -> Loom:
    """The loom with its limits at the figures of the cloth, or a little beside them."""
    order, machine, times = fit.cloth.construction, fit.limits.loom, 1 + slack
    cloth, wefts = fit.cloth, [run.yarn.linear_density_tex for run in fit.wefts]
    motion = machine.shedding
    drawn_in = fit.drawing_in.drawn if isinstance(fit.drawing_in, OnShafts) else None
    if drawn_in is not None:
        crowding = drawn_in.healds_per_cm_per_shaft * times
        motion = replace(motion, max_healds_per_cm_per_shaft=crowding)
    speed = order.requested_speed_picks_per_min or fit.speed_picks_per_min
    return replace(
        machine,
        reed_width_cm=cloth.widths.reed_cm * times,
        min_reed_width_cm=cloth.widths.reed_cm * times,
        max_tightness_pct=cloth.setting.tightness_pct * times,
        picks_per_cm=Band(min=cloth.picks_per_cm_on_loom * times),
        weft_tex=Band(max=max(wefts) * times),
        max_speed_picks_per_min=speed * times,
        insertion=replace(
            machine.insertion, max_rate_m_per_min=speed * cloth.widths.reed_cm / 100 * times
        ),
        shedding=motion,
    )


@pytest.mark.slow
def test_columns_find_what_pairs_find_at_the_limits_of_the_loom() -> None:
    orders, machines = drawn(max(15, examples(0.45)), seed_=13)
    tried: list[tuple[int, Loom]] = []
    for i, order in enumerate(orders):
        try:
            fit = judge(order, machines[i % len(machines)])
        except InputError:
            continue
        tried += [(i, at_its_limits(fit, slack)) for slack in SLACKS]
    tried = [(i, machine) for i, machine in tried if readable(machine)]
    # What is drawn follows the constants in the code, so how many can be read at all does too.
    assert len(tried) > len(orders)
    assert_like_pairs(
        orders, [machine for _, machine in tried], [(i, j) for j, (i, _) in enumerate(tried)]
    )


def test_orders_that_share_yarns_weaves_and_reeds_are_judged_like_each_alone() -> None:
    """Records of which many rows share a few are put into a column once."""
    base = construction()
    cotton, fine, tape = (
        Yarn(linear_density_tex=29.5, fibre="cotton"),
        Yarn(linear_density_tex=8.0, fibre="polyester"),
        Yarn(designation="111 tex", fibre="polypropylene tape"),
    )
    one = ThreadSystem(yarns={"A": cotton}, threads_per_cm=20.0)
    two = ThreadSystem(yarns={"A": cotton, "B": fine}, order="2A 1B", threads_per_cm=20.0)
    systems = (one, two, replace(one, yarns={"A": tape}), replace(two, crimp_pct=6.0))
    weaves = [parse_weave(name) for name in ("plain", "2/2 twill Z")]
    reeds = (Reed(), Reed(dents_per_10cm=100.0, ends_per_dent=2))
    choose = random.Random(6)
    orders = [
        replace(
            base,
            width_cm=100.0 + place,
            weave=choose.choice(weaves),
            reed=choose.choice(reeds),
            warp=replace(choose.choice(systems), threads_per_cm=choose.uniform(10, 40)),
            weft=replace(choose.choice(systems), threads_per_cm=choose.uniform(10, 40)),
        )
        for place in range(48)
    ]
    # Two kinds in turn, so that the looms of a column are not evenly apart.
    machines = [loom(), jacquard(), loom(), jacquard(), replace(loom(), weft_selectors=1), loom()]
    assert_like_pairs(orders, machines, [(i, i % len(machines)) for i in range(len(orders))])


def test_orders_changed_from_one_are_judged_beside_it_as_without_it() -> None:
    """What a change leaves as it is, is taken from that order, and nothing else."""
    cotton, fine = (Yarn(linear_density_tex=tex, fibre="cotton") for tex in (29.5, 8.0))
    yarns = {"A": replace(cotton, crimp_pct=3.0), "B": fine}
    beams = (WarpGroup(name="ground", yarns=("A",)), WarpGroup(name="cord", yarns=("B",)))
    warp = ThreadSystem(yarns=yarns, order="2A 1B", threads_per_cm=30.0, beams=beams)
    base = construction(warp=warp, weft=threads(22.0, crimp_pct=None))
    orders = [
        base,
        replace(base, width_cm=120.0),
        replace(base, requested_speed_picks_per_min=300.0),
        replace(base, reed=Reed(dents_per_10cm=140.0, ends_per_dent=2)),
        replace(base, allowances=Allowances(size_pct=12.0, loom_waste_m=9.0)),
        replace(base, warp=replace(warp, threads_per_cm=48.0)),
        replace(base, warp=replace(warp, yarns=yarns | {"B": replace(fine, crimp_pct=14.0)})),
        replace(base, warp=replace(warp, yarns=yarns | {"B": replace(fine, fibre="polyester")})),
        replace(base, weft=replace(base.weft, crimp_pct=12.0)),
        replace(base, weave=parse_weave("2/2 twill Z")),
    ]
    machines = [loom(), replace(loom(), weft_selectors=1)]
    beside = judge_columns(orders, machines, numbers=NUMBERS, like=cloth_facts(base).symbols)
    assert len({row.tobytes() for row in beside.severities}) > 1
    for place, order in enumerate(orders):
        alone = judge_columns([order], machines, numbers=NUMBERS)
        assert (beside.severities[place] == alone.severities[0]).all()
        for name in NUMBERS:
            np.testing.assert_array_equal(beside.numbers[name][place], alone.numbers[name][0])


def test_an_order_takes_the_grey_cloth_of_another_only_if_both_are_one() -> None:
    order = construction(weft=threads(22.0, crimp_pct=None))
    base = cloth_facts(order).symbols
    sized = cloth_facts(replace(order, allowances=Allowances(size_pct=12.0))).symbols
    denser = cloth_facts(construction(weft=threads(25.0, crimp_pct=None))).symbols
    own_pct = denser.grey.warp_crimp_pct, denser.grey.weft_crimp_pct
    for each in (sized, denser):
        each.take_grey_of(base)
    assert sized.grey is base.grey
    assert (denser.grey.warp_crimp_pct, denser.grey.weft_crimp_pct) == own_pct
    assert own_pct != (base.grey.warp_crimp_pct, base.grey.weft_crimp_pct)


@pytest.mark.slow
def test_blocks_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    orders, machines = drawn(10, seed_=14)
    whole = judge_columns(orders, machines, numbers=NUMBERS)
    monkeypatch.setattr(columns, "PAIRS_AT_A_TIME", 3 * len(machines))
    in_blocks = judge_columns(orders, machines, numbers=NUMBERS)
    assert (in_blocks.severities == whole.severities).all()
    assert (in_blocks.verdicts == whole.verdicts).all()
    for name, column in whole.numbers.items():
        np.testing.assert_allclose(in_blocks.numbers[name], column, rtol=1e-12)


def test_some_checks_alone_find_what_they_find_among_all() -> None:
    orders = [construction(), construction(width_cm=187.0, warp=threads(60.0, crimp_pct=None))]
    machines = [loom(), replace(loom(), max_tightness_pct=60.0)]
    whole = judge_columns(orders, machines)
    some = {CheckCode.WIDTH_REED_SPACE, CheckCode.SETT_JAMMED}
    alone = judge_columns(orders, machines, checks=some)
    where = np.array([code in some for code in whole.codes])
    assert (whole.severities[..., where] > 0).any(axis=(0, 1)).all()
    assert (alone.severities == whole.severities * where).all()
    heaviest = np.maximum(alone.severities.max(axis=2) - 1, 0)
    assert (alone.verdicts == heaviest).all()


@pytest.mark.slow
def test_a_cloth_is_ranked_on_looms_as_columns_rank_it() -> None:
    machines = [each.loom for each in load_park(None).looms.values()]
    for order in (bare_order(), construction(weft=threads(22.0, crimp_pct=None))):
        whole = judge_columns([order], machines)
        limits = [resolve_loom(each) for each in machines]
        verdicts, severities = rank_on_looms(cloth_facts(order), limits)
        assert (verdicts == whole.verdicts[0]).all()
        assert (severities == whole.severities[0]).all()


def test_no_orders_and_no_looms_are_judged_too() -> None:
    assert judge_columns([], [loom()]).verdicts.shape == (0, 1)
    assert judge_columns([construction()], []).severities.shape[:2] == (1, 0)


def test_an_order_that_cannot_be_read_is_masked() -> None:
    good = construction()
    bad = replace(good, width_cm=1e9)
    judged = judge_columns([good, bad, good], [loom(), jacquard()], numbers=("hours",))
    assert list(judged.refused) == [1]
    assert judged.refused[1].faults[0].pointer == "/construction/width_cm"
    assert judged.verdicts[1].tolist() == [-1, -1]
    assert np.isnan(judged.numbers["hours"][1]).all()
    assert (judged.verdicts[0] == judged.verdicts[2]).all()


def refused(order: Construction) -> InputError:
    with pytest.raises(InputError) as error:
        judge(order, loom())
    return error.value


@pytest.mark.parametrize(
    "change",
    [
        {"width_cm": 1e9},
        {"width_cm": 3000.0, "panels": 100},
        # A reed that would hold it in less room does not make the width that is stated possible.
        {
            "width_cm": 3000.0,
            "panels": 40,
            "warp": threads(0.5),
            "reed": Reed(dents_per_10cm=200.0, ends_per_dent=2),
        },
        {"length_m": 1e8, "panels": 1, "warp": threads(24.0, crimp_pct=301.0)},
        {"reed": Reed(ends_in_dents=(0, 0))},
        {"reed": Reed(ends_per_dent=99)},
        {"reed": Reed(wire_share_pct=95.0)},
        {"reed": Reed(count=40.0, system="nonsense")},
    ],
    ids=str,
)
def test_an_order_is_refused_for_the_reason_that_it_has_alone(change: dict[str, Any]) -> None:
    order = replace(construction(), **change)
    error = judge_columns([construction(), order], [loom()]).refused[1]
    assert error.faults == refused(order).faults
    assert error.faults[0].pointer.startswith("/construction/")


def test_a_stated_reed_that_spreads_the_warp_beyond_any_loom_is_judged() -> None:
    order = replace(construction(), width_cm=300.0, reed=Reed(dents_per_10cm=1.0, ends_per_dent=1))
    assert_like_pairs([construction(), order], [loom()], [(0, 0), (1, 0)])


def test_a_cloth_without_squares_is_judged_alike_beside_one_with_squares() -> None:
    """Its picks are nested, so that it is not judged up to a limit, and 953 % is beyond it."""
    rows = ["00", "11", "11", "11", "10", "11", "10", "00", "01", "01", "01"]
    close = replace(
        construction(),
        weave=Weave.from_rows(rows),
        warp=threads(403.0),
        weft=threads(2.0),
    )
    machine = replace(loom(), max_tightness_pct=95.8)
    orders = [close, *local_orders()]
    assert_like_pairs(orders, [machine], [(0, 0)])


def number(facts: Facts[float], name: str) -> float:
    """A number of a pair by its name, wherever it is kept."""
    if name == "limited_by":
        order = facts.order
        requested = order.requested_speed_picks_per_min if order.speed_requested else None
        fit = facts.fit
        limits = list(named_limits(facts.loom, fit.speeds, fit.weft_speed, requested))
        return float(list(SpeedLimitName).index(speed_limit(limits).name))
    records = (facts.cloth, facts.fit, facts.fit.denting, facts.weave)
    return float(next(getattr(record, name) for record in records if hasattr(record, name)))


def local_orders() -> list[Construction]:
    """Cloths that are judged by squares beside others that are not, at several setts."""
    plain, satin = parse_weave("plain"), parse_weave("8-end satin move 3")
    double = Weave.from_rows(["1000", "1110", "0010", "1011"])
    cloths: list[dict[str, Any]] = [
        {"weave": striped_weave([Stripe(weave=one, ends=40), Stripe(weave=other, ends=40)])}
        for one, other in ((plain, satin), (plain, double), (satin, double))
    ]
    by_chance = np.random.default_rng(1).integers(0, 2, (70, 90), dtype=np.uint8)
    dents = Reed(ends_in_dents=(2,) * 12 + (6,) * 4)
    cloths += [{"weave": double}, {"weave": Weave(matrix=by_chance)}, {"reed": dents}, {}]
    cloths += [{"reed": dents, **cloth} for cloth in cloths[:2]]
    return [
        construction(warp=threads(per_cm), weft=threads(0.8 * per_cm), **cloth)
        for per_cm in (14.0, 30.0, 38.0, 50.0, 60.0)
        for cloth in cloths
    ]


@pytest.mark.slow
@pytest.mark.parametrize("limit", [None, 105.0])
def test_columns_find_the_tightest_square_of_each_cloth(limit: float | None) -> None:
    orders = local_orders()
    machines = [replace(on, max_tightness_pct=limit) for on in (loom(), jacquard())]
    assert_like_pairs(orders, machines, [(i, j) for i in range(len(orders)) for j in (0, 1)])
    judged = judge_columns(orders, machines, numbers=("tightness_pct", "mean_tightness_pct"))
    for i, order in enumerate(orders):
        cloth = judge(order, machines[0]).cloth.setting
        found = [column[i, 0] for column in judged.numbers.values()]
        assert found == [cloth.tightness_pct, cloth.mean_tightness_pct]
    codes = [
        code for code in judged.codes if judged.severities[..., judged.codes.index(code)].any()
    ]
    assert {"sett.jammed", "sett.not_judged", "sett.tight", "sett.open"} <= set(codes)


@pytest.mark.slow
def test_numbers_are_those_of_the_pair() -> None:
    orders, machines = drawn(max(15, examples(0.44)), seed_=15)
    machines = machines[:30] + [entry.loom for entry in load_park(None).looms.values()]
    judged = judge_columns(orders, machines, numbers=NUMBERS)
    choose, compared = random.Random(4), 0
    for i, order in enumerate(orders):
        if i in judged.refused:
            continue
        for j in choose.sample(range(len(machines)), 9):
            facts = facts_of(judge(order, machines[j]))
            expected = [number(facts, name) for name in NUMBERS]
            found = [column[i, j] for column in judged.numbers.values()]
            assert found == pytest.approx(expected, rel=1e-9), (order, machines[j])
            compared += 1
    assert compared > 6 * len(orders)


def test_ends_that_weave_alike_are_spread_alike_though_one_has_an_end_more() -> None:
    # 3601 ends of plain: a shaft that holds 1800 healds has room for one of the two columns.
    order = construction(width_cm=150.04, warp=threads(24.0))
    machine = loom(shedding=shedding(max_healds_per_shaft=1800, max_healds_per_cm_per_shaft=40.0))
    judged = judge_columns([order, order], [machine], numbers=("total_ends", "shafts_used"))
    assert judged.numbers["total_ends"][0, 0] == 3601
    assert judged.numbers["shafts_used"][0, 0] == 4
    assert facts_of(judge(order, machine)).weave.shafts_used == 4


def test_looms_that_differ_in_their_weavers_alone_share_a_column() -> None:
    stops = Running(
        warp_stops_per_100k_picks=6.0,
        weft_stops_per_100k_picks=5.0,
        minutes_per_warp_stop=1.6,
        minutes_per_weft_stop=0.8,
    )
    park = [loom(running=replace(stops, looms_per_weaver=count)) for count in (4, 40)]
    hours = judge_columns([construction()], park, numbers=("hours",)).numbers["hours"]
    assert hours[0].tolist() == pytest.approx([judge(construction(), on).hours for on in park])
    assert hours[0, 0] < hours[0, 1]


def test_an_unknown_number_and_an_impossible_loom_are_refused() -> None:
    with pytest.raises(InputError) as unknown:
        judge_columns([construction()], [loom()], numbers=("hours", "speed"))
    assert unknown.value.faults[0].pointer == "/numbers/1"
    with pytest.raises(InputError) as impossible:
        judge_columns([construction()], [loom(), replace(loom(), reed_width_cm=-1.0)])
    assert impossible.value.faults[0].pointer == "/looms/1/reed_width_cm"


def test_an_assumed_density_on_the_beam_is_moved_in_columns_too() -> None:
    """0.9 m on a beam that must hold 1 m, if nothing else of the order bears on it."""
    order = construction(allowances=Allowances(size_pct=0.0, loom_waste_m=0.0))
    beam = WarpBeam(flange_diameter_cm=18.6, barrel_diameter_cm=10.0, width_cm=1.0, count=1)
    assert_like_pairs([order], [loom(warp_beam=beam)], [(0, 0)])
    found = judge_columns([order], [loom(warp_beam=beam)])
    at = found.codes.index(CheckCode.WARP_BEAM_CAPACITY)
    assert found.severities[0, 0, at] == SEVERITY_RANKS[Severity.WARNING]
