"""CPU time of remedies beside that of the judgement: ``python tests/bench/remedies.py [orders]``.

The usual report is one of the demo order book on its loom. The worst is sought among made-up orders
on made-up looms, as tests make them, and among trade orders: good sense or not.
"""

from __future__ import annotations

import sys
import tomllib
import warnings
from collections.abc import Callable, Iterator
from importlib import resources
from pathlib import Path
from time import thread_time_ns

import numpy as np
from hypothesis.errors import NonInteractiveExampleWarning

sys.path.insert(0, str(Path(__file__).parents[1]))

from answers.strategies import constructions, looms, trade_looms, trade_orders
from hypothesis import Phase, given, settings

from weavability.answers.validation import assess
from weavability.looms.loom import Loom
from weavability.service.requests.park import load_park
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

Order = tuple[Construction, Loom]
ROUNDS = 7


def demo_orders() -> Iterator[Order]:
    text = resources.files("weavability").joinpath("data/demo_orders.toml").read_text("utf-8")
    park = load_park(None).looms
    for each in tomllib.loads(text)["order"]:
        yield ConstructionSchema().read(each["construction"]), park[each["loom_id"]].loom


def made_up(count: int) -> list[Order]:
    found: list[Order] = []

    @settings(max_examples=count, database=None, phases=[Phase.generate], deadline=None)
    @given(constructions | trade_orders, looms() | trade_looms)
    def draw(order: Construction, loom: Loom) -> None:
        found.append((order, loom))

    draw()
    return found


def cpu_ms(job: Callable[[], object], rounds: int = ROUNDS) -> float:
    times = []
    for _ in range(rounds):
        began = thread_time_ns()
        job()
        times.append(thread_time_ns() - began)
    return float(np.median(times)) / 1e6


def compared(orders: list[Order], rounds: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Milliseconds of each order: without remedies, with them."""
    rows = []
    for order, loom in orders:
        try:
            assess(order, loom)
        except InputError:
            continue
        rows.append(
            [
                cpu_ms(lambda: assess(order, loom, rounded=False, remedies=some), rounds)  # noqa: B023
                for some in (False, True)
            ]
        )
    return np.array(rows)


def main() -> None:
    warnings.simplefilter("ignore", NonInteractiveExampleWarning)
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    demo = compared(list(demo_orders()), ROUNDS)
    judged, remedied = demo.sum(axis=0)
    print(
        f"{len(demo)} demo orders: judged {judged / len(demo):.2f} ms, their remedies "
        f"{(remedied - judged) / len(demo):.2f} ms, {(remedied - judged) / judged:.2f} times"
    )
    found = compared(made_up(count), 1)
    extra = found[:, 1] - found[:, 0]
    print(
        f"{len(found)} made-up orders: judged {np.median(found[:, 0]):.2f} ms (median), their "
        f"remedies p50 {np.median(extra):.2f}, p95 {np.percentile(extra, 95):.2f}, "
        f"worst {extra.max():.1f} ms"
    )


if __name__ == "__main__":
    main()
