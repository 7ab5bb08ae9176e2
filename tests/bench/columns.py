"""Time judging in columns against judging pair by pair: ``python tests/bench/columns.py``.

The looms are the demo park and variations of it, a hundred of twelve kinds; the orders are those of
the trade with repeated yarns and weaves. All times are CPU time of one process.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from builders import construction

from weavability.answers.columns import judge_columns
from weavability.answers.validation import judge
from weavability.checks.registry import observe, observe_pair
from weavability.checks.trial_facts import Trial
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import resolve_loom
from weavability.service.requests.park import load_park
from weavability.textiles.construction import Construction
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarns import Yarn

LOOMS = 100
ORDERS = 4_000
PAIRS = 2_000
WEAVES = ("plain", "2/1 twill Z", "2/2 twill Z", "5-end satin move 2", "8-end satin move 3")


def park() -> list[Loom]:
    """A hundred looms of the twelve kinds of the demo park."""
    choose = random.Random(12)
    kinds = [entry.loom for entry in load_park(None).looms.values()]
    return [varied(kinds[place % len(kinds)], choose) for place in range(LOOMS)]


def varied(loom: Loom, choose: random.Random) -> Loom:
    """Another loom of the same kind, whose figures differ."""
    width = round(loom.reed_width_cm * choose.uniform(0.9, 1.2), 1)
    beam = loom.warp_beam
    return replace(
        loom,
        reed_width_cm=width,
        min_reed_width_cm=round(width * choose.uniform(0.4, 0.7), 1),
        max_speed_picks_per_min=round(loom.max_speed_picks_per_min * choose.uniform(0.8, 1.2)),
        insertion=replace(
            loom.insertion,
            max_rate_m_per_min=round(choose.uniform(600, 1800)),
            base_tension_cn_per_tex=round(choose.uniform(0.1, 1.0), 2),
        ),
        warp_beam=replace(beam, flange_diameter_cm=choose.choice((70.0, 80.0, 100.0))),
        weft_selectors=choose.choice((2, 4, 8)),
        max_tightness_pct=choose.choice((95.0, 105.0, 115.0)),
    )


def all_different(looms: list[Loom]) -> list[Loom]:
    """The same looms, each with reeds of its own, so that no two share a column."""
    return [
        replace(loom, reeds_in_stock_dents_per_10cm=(40.0 + place, 90.0, 120.0, 180.0 + place))
        for place, loom in enumerate(looms)
    ]


def orders(count: int) -> list[Construction]:
    """Orders that differ in setts, width and length, of a few yarns and weaves."""
    choose = random.Random(7)
    weaves = [parse_weave(name) for name in WEAVES]
    yarns = [
        Yarn(linear_density_tex=tex, fibre=fibre)
        for tex in (15.0, 20.0, 29.5, 50.0)
        for fibre in ("cotton", "polyester", "worsted")
    ]
    base = construction()
    return [
        replace(
            base,
            weave=choose.choice(weaves),
            width_cm=round(choose.uniform(80, 200), 1),
            length_m=choose.choice((None, 300.0, 5000.0)),
            warp=replace(
                base.warp,
                yarns={key: choose.choice(yarns) for key in base.warp.yarns},
                threads_per_cm=round(choose.uniform(10, 40), 1),
            ),
            weft=replace(
                base.weft,
                yarns={key: choose.choice(yarns) for key in base.weft.yarns},
                threads_per_cm=round(choose.uniform(8, 35), 1),
            ),
        )
        for _ in range(count)
    ]


def cpu_s(job: Callable[[], object], times: int = 3) -> float:
    """The least CPU time of some runs."""
    found = []
    for _ in range(times):
        began = process_time()
        job()
        found.append(process_time() - began)
    return min(found)


def tried_alone(cloths: list[Construction], loom: Loom) -> None:
    """Judge changes of an order as remedies are tried."""
    limits = resolve_loom(loom)
    for cloth in cloths:
        pair = Trial(cloth, limits).pair()
        assert pair is not None
        observe_pair(pair)


def main() -> None:
    looms, cloths = park(), orders(ORDERS)
    judge_columns(cloths[:10], looms)
    columns = cpu_s(lambda: judge_columns(cloths, looms)) / (ORDERS * LOOMS)
    unlike = all_different(looms)
    apart = cpu_s(lambda: judge_columns(cloths, unlike)) / (ORDERS * LOOMS)
    reading = cpu_s(lambda: judge_columns(cloths, [])) / ORDERS
    some = [(order, looms[place % LOOMS]) for place, order in enumerate(cloths[:PAIRS])]
    pairs = cpu_s(lambda: [observe(judge(order, loom)) for order, loom in some], 2) / PAIRS
    print(f"columns, a pair          {1e6 * columns:8.2f} µs ({1 / columns:,.0f} pairs/CPU s)")
    print(f"no two looms of a kind   {1e6 * apart:8.2f} µs")
    print(f"an order's scalar part   {1e6 * reading:8.1f} µs")
    print(f"pair by pair             {1e6 * pairs:8.1f} µs")
    print(f"columns over pairs       {columns / pairs:8.4f}")
    for count in (1, 2, 4, 8, 12, 16, 24):
        some_widths = [replace(cloths[0], width_cm=100 + place / 7) for place in range(count)]
        alone = cpu_s(lambda tried=some_widths: tried_alone(tried, looms[0]))  # type: ignore[misc]
        together = cpu_s(lambda tried=some_widths: judge_columns(tried, looms[:1]))  # type: ignore[misc]
        print(
            f"{count:3} changes tried alone {1e6 * alone:8.0f} µs, in columns {1e6 * together:.0f}"
        )
    for count in (1, 2, 3, 6, 12, 25, 50, 100):
        one = cpu_s(lambda count=count: judge_columns(cloths[:1], looms[:count]))  # type: ignore[misc]
        print(f"1 order on {count:3} looms      {1e6 * one / count:8.1f} µs a pair")


if __name__ == "__main__":
    main()
