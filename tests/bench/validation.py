"""CPU time of one validation in process, without HTTP: ``python tests/bench/validation.py``.

Every round has a width, or a design, that was not seen before, so that no cache of orders helps;
that of small weaves does, as it does in service. Jobs that need nothing to be known come last, in
rounds of their own: before each all caches of requests are cleared, which is not timed. Beside each
time is its ratio to a round trip of the example's report through JSON, measured in the same rounds:
machines differ, the ratio less.
"""

from __future__ import annotations

import functools
import gc
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import thread_time_ns
from typing import Any

import numpy as np
import orjson

sys.path.insert(0, str(Path(__file__).parents[1]))

from builders import construction, example_loom, example_order, jacquard, loom

from weavability.answers.rounding import plain
from weavability.answers.validation import assess, judge
from weavability.looms.loom import Loom
from weavability.service.openapi import example_requests
from weavability.service.schemas.request_schemas import ValidationRequestSchema
from weavability.textiles.construction import Construction
from weavability.textiles.weave_matrix import Weave

ROUNDS = 400
SCHEMA = ValidationRequestSchema()
REQUEST = orjson.dumps(example_requests.VALIDATION)
READ_ANEW = "request read, nothing known"
ANSWERED_ANEW = "request to answer, nothing known"
ANEW = {READ_ANEW, ANSWERED_ANEW}
Job = Callable[[float], object]


def figured(picks: int, ends: int, *, seed: int) -> Weave:
    """A design without any repeat in it."""
    crossings = np.random.default_rng(seed).integers(0, 2, (picks, ends), dtype=np.uint8)
    return Weave(matrix=crossings)


def judged(cloth: Construction, on: Loom) -> Job:
    return lambda wider: assess(replace(cloth, width_cm=cloth.width_cm + wider), on)


def of_new_design(cloth: Construction, on: Loom) -> Job:
    """A design that was not seen before: one crossing of the last is turned in every round."""
    design = cloth.weave.matrix.copy()

    def job(wider: float) -> object:
        place = np.unravel_index(round(wider * 1000), design.shape)
        design[place] ^= 1
        return assess(replace(cloth, weave=Weave(matrix=design)), on)

    return job


def facts_only(cloth: Construction, on: Loom) -> Job:
    return lambda wider: judge(replace(cloth, width_cm=cloth.width_cm + wider), on)


def wider_request(wider: float) -> Any:
    """The example with another width; its warp, weft and loom were read before."""
    request = orjson.loads(REQUEST)
    request["construction"]["width_cm"] += wider
    return request


def new_request(wider: float) -> Any:
    """The example with another value in every part, so that no part was read before."""
    request = orjson.loads(REQUEST)
    request["loom"]["reed_width_cm"] += wider
    for system in ("warp", "weft"):
        for yarn in request["construction"][system]["yarns"].values():
            yarn["strength_cv_pct"] = 8 + wider
    return request


def answered(request: Any) -> bytes:
    """The whole way from the request to what is sent."""
    found = SCHEMA.read(request)
    assert found.loom is not None
    return orjson.dumps(plain(assess(found.construction, found.loom, rounded=False)))


OF_THE_RULES = {"_described", "_ruleset"}
"""Caches of what follows from the thresholds in force alone: they hold nothing of a request."""


def bounded_caches() -> list[Any]:
    """Every cache of the package that holds what requests brought; tables of data stay."""
    return [
        each
        for each in gc.get_objects()
        if isinstance(each, functools._lru_cache_wrapper)
        and each.cache_parameters()["maxsize"]
        and each.__module__.startswith("weavability.")
        and each.__name__ not in OF_THE_RULES
    ]


def jobs() -> dict[str, Job]:
    order, on = example_order(), example_loom()
    failing = construction(width_cm=184.0, requested_speed_picks_per_min=700.0)
    figure = construction(weave=figured(800, 1200, seed=3))
    fast = construction(weave=figured(800, 1200, seed=4), requested_speed_picks_per_min=700.0)
    report = assess(order, on)
    return {
        "JSON round trip of the report": lambda _: orjson.loads(orjson.dumps(report)),
        "request of the example read": lambda wider: SCHEMA.read(wider_request(wider)),
        "request read, all parts new": lambda wider: SCHEMA.read(new_request(wider)),
        READ_ANEW: lambda wider: SCHEMA.read(new_request(wider + 1)),
        "request to answer": lambda wider: answered(wider_request(wider)),
        ANSWERED_ANEW: lambda wider: answered(new_request(wider + 2)),
        "example order": judged(order, on),
        "example order, facts alone": facts_only(order, on),
        "failing order, remedies tried": judged(failing, loom()),
        "Jacquard, plain ground": judged(construction(), jacquard()),
        "Jacquard, new design of 1200 x 800": of_new_design(figure, jacquard()),
        "another, too fast: remedies tried": of_new_design(fast, jacquard()),
    }


def measured(work: dict[str, Job], rounds: int) -> dict[str, list[int]]:
    """Nanoseconds of CPU of every job in every round, the jobs taking turns."""
    times: dict[str, list[int]] = {name: [] for name in work}
    caches = bounded_caches()
    for is_anew in (False, True):
        jobs = {name: job for name, job in work.items() if (name in ANEW) is is_anew}
        for number in range(rounds):
            for name, job in jobs.items():
                for cache in caches if is_anew else ():
                    cache.cache_clear()
                began = thread_time_ns()
                job(number / 1000)
                times[name].append(thread_time_ns() - began)
    return times


def main() -> None:
    work = jobs()
    measured(work, 5)
    times = {name: np.array(found) / 1000 for name, found in measured(work, ROUNDS).items()}
    (baseline, *_) = times.values()
    print(f"{'':38}{'p50 µs':>10}{'p95 µs':>10}{'ratio':>8}")
    for name, found in times.items():
        p50, p95 = np.percentile(found, (50, 95))
        print(f"{name:38}{p50:10.0f}{p95:10.0f}{p50 / np.median(baseline):8.1f}")


if __name__ == "__main__":
    main()
