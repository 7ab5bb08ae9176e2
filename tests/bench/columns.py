"""Time judging in columns against judging pair by pair: ``PYTHONPATH=server:tests python <this>``.

The looms are the demo park and variations of it, a hundred of twelve kinds; the orders are those of
the trade with repeated yarns and weaves. All times are CPU time of one process.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from time import process_time

from builders import construction

from weavability.answers.columns import judge_columns
from weavability.answers.validation import judge
from weavability.checks.registry import observe
from weavability.looms.loom import Loom
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
    faster = choose.uniform(0.8, 1.2)
    return replace(
        loom,
        max_speed_picks_per_min=round(loom.max_speed_picks_per_min * faster),
        weft_selectors=choose.choice((2, 4, 8)),
        max_tightness_pct=choose.choice((95.0, 105.0, 115.0)),
    )


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


def main() -> None:
    looms, cloths = park(), orders(ORDERS)
    judge_columns(cloths[:10], looms)
    columns = cpu_s(lambda: judge_columns(cloths, looms)) / (ORDERS * LOOMS)
    reading = cpu_s(lambda: judge_columns(cloths, [])) / ORDERS
    some = [(order, looms[place % LOOMS]) for place, order in enumerate(cloths[:PAIRS])]
    pairs = cpu_s(lambda: [observe(judge(order, loom)) for order, loom in some], 2) / PAIRS
    print(f"columns, a pair          {1e6 * columns:8.2f} µs ({1 / columns:,.0f} pairs/CPU s)")
    print(f"an order's scalar part   {1e6 * reading:8.1f} µs")
    print(f"pair by pair             {1e6 * pairs:8.1f} µs")
    print(f"columns over pairs       {columns / pairs:8.4f}")
    for count in (1, 2, 3, 6, 12, 25, 50, 100):
        one = cpu_s(lambda count=count: judge_columns(cloths[:1], looms[:count]))  # type: ignore[misc]
        print(f"1 order on {count:3} looms      {1e6 * one / count:8.1f} µs a pair")


if __name__ == "__main__":
    main()
