"""Measure one order against a park of 200 looms: in process, and with the request around it.

Run it as a program; it keeps to one core and exits 1 when the limit is missed. Medians are also
given as multiples of a baseline from the same run (so many rounds of adding and formatting
numbers), so that runs on different machines, or on a busy one, can be compared; the limit is held
against the least time. No two looms are alike, and every round has a width that was not seen
before, so that no cache helps.
"""

from __future__ import annotations

import gc
import os
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import replace
from functools import partial
from itertools import count
from typing import Any
from unittest.mock import patch

import orjson

from weavability.answers import loom_matching
from weavability.answers.loom_matching import match_looms
from weavability.looms.loom import Loom
from weavability.service import create_app
from weavability.service.openapi import example_requests
from weavability.service.requests.park import load_park
from weavability.service.resources.loom_matches import resolved
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.loom_schema import LoomSchema

LOOMS = 200
MOST_MS = 20.0
FEW = (4, 6, 8, 10, 12, 25, 60)
ROUNDS = 31
BASELINE_STEPS = 150_000


def baseline() -> str:
    """Work of the kind that matching is: plain arithmetic and text, no arrays."""
    total = 0.0
    text = ""
    for step in range(BASELINE_STEPS):
        total += step * 0.5
        if not step % 20:
            text = f"{total:.1f} picks/min"
    return text


def stated_looms(number: int = LOOMS) -> list[dict[str, Any]]:
    """Looms of the demo park, each of another top speed."""
    park = [dict(each.document) for each in load_park(None).looms.values()]
    looms = []
    for index in range(number):
        loom = deepcopy(park[index % len(park)])
        loom |= {"loom_id": f"L{index}", "max_speed_picks_per_min": 300 + index}
        looms.append(loom)
    return looms


def widths() -> Iterator[float]:
    """Widths that were not seen before."""
    return (150 + step / 100 for step in count())


def measured(work: Callable[[], object]) -> tuple[float, float, float]:
    """Return median and least time in ms, and the median as a multiple of the baseline.

    Work and baseline take turns, so that both suffer alike from what else the machine does.
    """
    works, bases = [], []
    for _ in range(ROUNDS):
        bases.append(timed(baseline))
        works.append(timed(work))
    median = statistics.median(works)
    return median, min(works), median / statistics.median(bases)


def timed(work: Callable[[], object]) -> float:
    """Return the milliseconds that some work takes."""
    begin = time.perf_counter()
    work()
    return 1e3 * (time.perf_counter() - begin)


def main() -> int:
    """Measure, print and judge."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    documents, park, width = stated_looms(), load_park(None), widths()
    schema = LoomSchema()
    looms = [schema.read(each) for each in documents]
    order = ConstructionSchema().read(example_requests.CONSTRUCTION)
    client = create_app().test_client()
    gc.freeze()

    def match(tried: list[Loom]) -> object:
        return match_looms(replace(order, width_cm=next(width)), tried)

    def stated() -> dict[str, Any]:
        construction = example_requests.CONSTRUCTION | {"width_cm": next(width)}
        return {"construction": construction, "looms": documents}

    def posted() -> object:
        body = orjson.dumps(stated())
        return client.post("/v1/loom-matches", data=body, content_type="application/json")

    alike = [replace(looms[0], loom_id=f"A{index}") for index in range(LOOMS)]
    print(f"{'1 order against':<38}{'p50 ms':>9}{'least ms':>10}{'× baseline':>12}")
    report(f"(baseline: {BASELINE_STEPS} additions)", baseline)
    for number in FEW:
        for name, least_looms in (("one by one", number + 1), ("in columns", 1)):
            with patch.object(loom_matching, "LOOMS_IN_COLUMNS", least_looms):
                report(f"{number} looms, {name}", partial(match, looms[:number]))
    least = report(f"{LOOMS} looms, all different", partial(match, looms))
    report(f"{LOOMS} looms, all alike", partial(match, alike))
    report("the 12 looms of the demo park", partial(match, looms[:12]))
    report(f"{LOOMS} stated looms, read only", lambda: resolved(stated(), park))
    report(f"{LOOMS} stated looms, over HTTP", posted)
    print(f"{LOOMS} different looms: {least:.1f} ms where nothing disturbs, limit {MOST_MS:g} ms")
    return int(least > MOST_MS)


def report(name: str, work: Callable[[], object]) -> float:
    """Print one line and return the least milliseconds."""
    median, least, ratio = measured(work)
    print(f"{name:<38}{median:>9.2f}{least:>10.2f}{ratio:>12.2f}")
    return least


if __name__ == "__main__":
    sys.exit(main())
