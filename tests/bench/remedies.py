"""CPU time of remedies beside the judgement: ``python tests/bench/remedies.py [orders [FILE]]``.

The usual report is one of the demo order book on its loom. The worst is sought among 1000 orders
that can be judged, made up as tests make them, with looms, and among trade orders: good sense or
not. Each is timed once, and the longest again, also in judgements of the usual order in the same
run: machines differ, the ratio less. What is made up follows from the sources too, so that two
versions are compared on the orders that the first run keeps in FILE.
"""

from __future__ import annotations

import pickle
import sys
import tomllib
import warnings
from collections.abc import Callable, Iterator
from importlib import resources
from itertools import islice
from pathlib import Path
from time import thread_time_ns

import numpy as np
from hypothesis.errors import NonInteractiveExampleWarning

sys.path.insert(0, str(Path(__file__).parents[1]))

from answers.strategies import constructions, looms, trade_looms, trade_orders
from hypothesis import Phase, given, settings

from weavability.answers.finding_remedies import remedies_of
from weavability.answers.remedy_search import search_remedies
from weavability.answers.validation import assess, judge
from weavability.checks.facts import pair_of
from weavability.checks.registry import observe_pair
from weavability.looms.loom import Loom
from weavability.service.requests.park import load_park
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

Order = tuple[Construction, Loom]
ROUNDS = 7
AGAIN = 10
"""Orders that are timed again, because a busy machine makes a search long too."""


def demo_orders() -> Iterator[Order]:
    text = resources.files("weavability").joinpath("data/demo_orders.toml").read_text("utf-8")
    park = load_park(None).looms
    for each in tomllib.loads(text)["order"]:
        yield ConstructionSchema().read(each["construction"]), park[each["loom_id"]].loom


def kept_orders(count: int, file: Path | None) -> list[Order]:
    """Return made-up orders that can be judged: those kept in a file, or new ones, kept there."""
    if file is not None and file.exists():
        kept: list[Order] = pickle.loads(file.read_bytes())
        return kept[:count]
    orders = [order for order, _ in islice(judged(made_up(2 * count)), count)]
    if file is not None:
        file.write_bytes(pickle.dumps(orders))
    return orders


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


def judged(orders: list[Order]) -> Iterator[tuple[Order, float]]:
    """Yield the orders that can be judged, with the milliseconds of a report without remedies."""
    for order, loom in orders:
        try:
            yield (
                (order, loom),
                cpu_ms(lambda: assess(order, loom, rounded=False, remedies=False), 1),  # noqa: B023
            )
        except InputError:
            continue


def remedies_ms(order: Order, rounds: int, *, is_search: bool) -> float:
    """Milliseconds of the remedies of a report, or of a search on one loom."""
    if is_search:
        return cpu_ms(lambda: search_remedies(order[0], [order[1]]), rounds)
    fit = judge(*order)
    pair = pair_of(fit)
    found = observe_pair(pair)
    return cpu_ms(lambda: remedies_of(fit, pair.facts, found), rounds)


def main() -> None:
    warnings.simplefilter("ignore", NonInteractiveExampleWarning)
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    demo = list(demo_orders())
    plain = [
        cpu_ms(lambda: assess(*order, rounded=False, remedies=False))  # noqa: B023
        for order in demo
    ]
    extra = [remedies_ms(order, ROUNDS, is_search=False) for order in demo]
    print(
        f"{len(demo)} demo orders: judged {np.mean(plain):.2f} ms, their remedies "
        f"{np.mean(extra):.2f} ms, {sum(extra) / sum(plain):.2f} times"
    )
    file = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    orders = list(judged(kept_orders(count, file)))
    print(f"{len(orders)} made-up orders: judged {np.median([ms for _, ms in orders]):.2f} ms")
    for words, is_search in (("of their reports", False), ("of a search", True)):
        once = np.array([remedies_ms(order, 1, is_search=is_search) for order, _ in orders])
        longest = np.argsort(once)[-AGAIN:]
        again = [remedies_ms(orders[place][0], ROUNDS, is_search=is_search) for place in longest]
        print(
            f"  remedies {words}: p50 {np.median(once):.2f}, p95 {np.percentile(once, 95):.2f}, "
            f"worst of {len(orders)} {max(again):.1f} ms, "
            f"{max(again) / np.mean(plain):.0f} judgements of a demo order"
        )


if __name__ == "__main__":
    main()
