"""A soak: mixed requests without a pause, and whether the workers' memory stays flat.

Run it with ``.venv/bin/python tests/bench/soak.py`` for ten minutes, or with ``--minutes 1`` for
fewer. It starts the service itself and prints a line every few seconds: requests, median and 99 %
of the latency, failures, and the resident memory of every worker. At the end it prints how much
memory rose from the end of the warm-up (the first fifth) to the end, and ends with 1 where a worker
grew by more than ``MOST_GROWTH_MIB`` or a request failed.
"""

from __future__ import annotations

import argparse
import json
import random
import statistics
import sys
import threading
import time
from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any, Final

import requests

sys.path.insert(0, str(Path(__file__).parents[1]))

from service.servers import Server, serving, until
from service.support import full_request, small_request

MOST_GROWTH_MIB: Final = 12.0
WARM_UP: Final = 0.2
BATCH_LINES: Final = 200
TIMEOUT_S: Final = 60
WEAVES: Final = ("plain", "2/1 twill Z", "3/1 twill S", "5-end satin move 2", "2/2 herringbone 8")


@dataclass(slots=True)
class Tally:
    """What was seen since it was last read."""

    latencies_s: list[float] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    total: int = 0

    def add(self, seconds: float, failure: str | None) -> None:
        self.latencies_s.append(seconds)
        self.total += 1
        if failure:
            self.failures.append(failure)

    def read(self) -> tuple[float, float]:
        """Return median and 99 % in milliseconds, and begin anew."""
        seen, self.latencies_s = sorted(self.latencies_s), []
        if not seen:
            return 0.0, 0.0
        return statistics.median(seen) * 1000, seen[int(len(seen) * 0.99)] * 1000


class Caller:
    """Sends one kind of request after the other, each a little different from the last."""

    def __init__(self, url: str, seed: int) -> None:
        self._url = url
        self._random = random.Random(seed)
        self._session = requests.Session()
        self._numbers = count()
        self._link = ""
        self._etag = ""

    def steps(self) -> list[tuple[Callable[[], requests.Response], int]]:
        """The kinds of request, each with the status that it must get."""
        return [
            (self._judge, 200),
            (self._refused, 422),
            (self._judge, 200),
            (self._again, 200),
            (self._unchanged, 304),
            (self._page, 200),
            (self._batch, 200),
            (lambda: self._get("/v1/looms"), 200),
            (lambda: self._get("/metrics"), 200),
            (lambda: self._get(f"/nowhere/{next(self._numbers)}"), 404),
        ]

    def _varied(self) -> dict[str, Any]:
        request = deepcopy(self._random.choice([full_request(), small_request()]))
        cloth = request["construction"]
        cloth["width_cm"] = round(self._random.uniform(100, 180), 2)
        cloth["warp"]["ends_per_cm"] = round(self._random.uniform(15, 40), 2)
        cloth["weave"] = self._random.choice(WEAVES)
        cloth["reference"] = f"order {next(self._numbers)}"
        cloth.pop("draft", None)
        return request

    def _post(self, body: bytes, media_type: str = "application/json") -> requests.Response:
        headers = {"Content-Type": media_type}
        return self._session.post(
            f"{self._url}/v1/validations", data=body, headers=headers, timeout=TIMEOUT_S
        )

    def _get(self, path: str, headers: Mapping[str, str] | None = None) -> requests.Response:
        return self._session.get(self._url + path, headers=headers, timeout=TIMEOUT_S)

    def _judge(self) -> requests.Response:
        answer = self._post(json.dumps(self._varied()).encode())
        if answer.ok:
            self._link, self._etag = answer.json()["links"]["self"], answer.headers["ETag"]
        return answer

    def _refused(self) -> requests.Response:
        request = self._varied()
        request["construction"]["width_cm"] = -next(self._numbers) - 1
        return self._post(json.dumps(request).encode())

    def _again(self) -> requests.Response:
        return self._get(self._link)

    def _unchanged(self) -> requests.Response:
        return self._get(self._link, {"If-None-Match": self._etag})

    def _page(self) -> requests.Response:
        return self._get(self._link, {"Accept": "text/html"})

    def _batch(self) -> requests.Response:
        lines = [json.dumps(self._varied()).encode() for _ in range(BATCH_LINES)]
        answer = self._post(b"\n".join(lines) + b"\n", "application/x-ndjson")
        if answer.text.count("\n") != BATCH_LINES:
            raise ValueError(f"{answer.text.count(chr(10))} lines came back")
        return answer


def keep_asking(url: str, seed: int, tally: Tally, stop: threading.Event) -> None:
    """Send requests until stopped."""
    caller = Caller(url, seed)
    while not stop.is_set():
        for step, expected in caller.steps():
            began = time.perf_counter()
            try:
                status = step().status_code
                failure = None if status == expected else f"{status} instead of {expected}"
            except (requests.RequestException, ValueError) as error:
                failure = repr(error)
            tally.add(time.perf_counter() - began, failure)


def memory_mib(pid: int) -> float:
    """Resident memory of a process that is not shared with its parent's file pages."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    (line,) = (each for each in status.splitlines() if each.startswith("RssAnon:"))
    return int(line.split()[1]) / 1024


def watch(server: Server, tally: Tally, *, minutes: float, every_s: float) -> dict[int, float]:
    """Print readings until the time is over; return what each worker grew by after the warm-up."""
    began = time.monotonic()
    after_warm_up: dict[int, float] = {}
    memory: dict[int, float] = {}
    print("   time   requests     /s  median ms   99 % ms  failures  memory of each worker, MiB")
    last_total = 0
    while (passed := time.monotonic() - began) < minutes * 60:
        time.sleep(min(every_s, minutes * 60 - passed))
        memory = {pid: memory_mib(pid) for pid in server.workers()}
        if not after_warm_up and time.monotonic() - began >= WARM_UP * minutes * 60:
            after_warm_up = memory
        median, most = tally.read()
        each = "  ".join(f"{value:6.1f}" for value in memory.values())
        rate = (tally.total - last_total) / every_s
        last_total = tally.total
        passed = time.monotonic() - began
        print(f"{passed:6.0f} s {tally.total:10} {rate:6.0f} {median:10.1f} {most:9.1f}"
              f" {len(tally.failures):9}  {each}", flush=True)  # fmt: skip
    return {pid: value - after_warm_up[pid] for pid, value in memory.items()}


def main() -> int:
    """Run the soak; 0 where memory stayed flat and nothing failed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--callers", type=int, default=4)
    options = parser.parse_args()
    tally, stop = Tally(), threading.Event()
    every_s = max(2.0, options.minutes * 60 / 20)
    with serving("--workers", str(options.workers)) as server:
        # The first worker answers before the others are there.
        until(lambda: len(server.workers()) == options.workers)
        callers = [
            threading.Thread(target=keep_asking, args=(server.url, seed, tally, stop))
            for seed in range(options.callers)
        ]
        workers = server.workers()
        for caller in callers:
            caller.start()
        grown = watch(server, tally, minutes=options.minutes, every_s=every_s)
        stop.set()
        for caller in callers:
            caller.join()
        lived = workers == server.workers()
    for failure in sorted(set(tally.failures))[:10]:
        print(f"failed: {failure}")
    worst = max(grown.values())
    flat = worst <= MOST_GROWTH_MIB
    print(f"{tally.total} requests in {options.minutes:g} min, {len(tally.failures)} failed; after "
          f"the warm-up the memory of a worker rose by at most {worst:.1f} MiB "
          f"({'flat' if flat else 'not flat'}: the bound is {MOST_GROWTH_MIB:g}); "
          f"the workers {'are the same' if lived else 'have changed'}")  # fmt: skip
    return 0 if flat and lived and not tally.failures else 1


if __name__ == "__main__":
    sys.exit(main())
