"""What a worker keeps in memory after each of a series of mixed large designs, and takes at most.

Run it with ``.venv/bin/python tests/bench/memory.py``; ``--largest`` adds designs of 144 million
crossings, one of them beside others as large as may be computed with it. It starts the service
itself, with one worker. Each line has the designs, how many at once, what the worker took at most
meanwhile and what it has after them; the last one the CPU time of all. It ends with 1 if the worker
kept more than ``MOST_KEPT_MIB`` beyond what it had when idle, or took more than ``MOST_TAKEN_MIB``.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

import requests

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench import designs
from service.servers import cpu_ns, serving
from service.support import full_request

MOST_KEPT_MIB: Final = 40.0
MOST_TAKEN_MIB: Final = 1_000.0
FIRST_ORDERS: Final = 300
"""Orders without a design that fill the bounded caches of a worker first."""

Sent = tuple[str, bytes]


def order(weave: object) -> Sent:
    """Return an order of a weave."""
    request: dict[str, Any] = deepcopy(full_request())
    request["construction"].pop("draft", None)
    request["construction"]["weave"] = weave
    return "/v1/validations", json.dumps(request).encode()


def rows(side: int, chance: random.Random) -> Sent:
    """Return an order of a design in rows."""
    return order({"rows": [f"{chance.getrandbits(side):0{side}b}" for _ in range(side)]})


def draft(side: int, chance: random.Random) -> Sent:
    """Return an order of a design in two short plans."""
    lifted = [1 + chance.randrange(2) for _ in range(side)]
    return order({"threading": lifted, "tie_up": ["10", "01"], "treadling": lifted})


def plain(number: int) -> Sent:
    """Return an order without a design."""
    request = full_request()
    request["construction"]["width_cm"] = round(100 + number * 0.01, 2)
    return "/v1/validations", json.dumps(request).encode()


def picture(lines: int, columns: int, *, correct: bool) -> Sent:
    """Return a figured design."""
    pixels = designs.picture(lines, columns)
    return "/v1/designs", designs.request(pixels, correct=correct)


def series(chance: random.Random) -> list[tuple[str, Callable[[], list[Sent]]]]:
    """Return what is sent, alone and as many at once as a worker has threads."""
    kinds: dict[str, Callable[[], Sent]] = {
        "rows of 1500": lambda: rows(1500, chance),
        "rows of 2040": lambda: rows(2040, chance),
        "draft of 2200": lambda: draft(2200, chance),
        "draft of 3500": lambda: draft(3500, chance),
        "draft of 8000": lambda: draft(8000, chance),
        "picture of 1265 x 850": lambda: picture(1265, 850, correct=True),
        "picture of 4000 x 2688": lambda: picture(4000, 2688, correct=True),
    }

    def several(make: Callable[[], Sent], number: int) -> Callable[[], list[Sent]]:
        return lambda: [make() for _ in range(number)]

    found = [
        (f"{number} x {name}", several(make, number))
        for name, make in kinds.items()
        for number in (1, 8)
    ] * 2
    chance.shuffle(found)
    return found


def largest(chance: random.Random) -> list[tuple[str, Callable[[], list[Sent]]]]:
    """Return designs of the largest size, the last beside as much as a worker computes at once."""

    def whole(*, correct: bool) -> Sent:
        return picture(*designs.LARGEST, correct=correct)

    return [
        ("1 largest", lambda: [whole(correct=False)]),
        ("1 largest, corrected", lambda: [whole(correct=True)]),
        ("the same, 4 of middle size, 3 rows of 2040", lambda: [
            whole(correct=True),
            *(draft(3990, chance) for _ in range(4)),
            *(rows(2040, chance) for _ in range(3)),
        ]),
    ]  # fmt: skip


def memory_mib(pid: int, name: str) -> float:
    """Return a line of a process's status: ``RssAnon`` now, or ``VmHWM`` at most."""
    lines = Path(f"/proc/{pid}/status").read_text("ascii").splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith(name))


def send(url: str, sent: Sent) -> None:
    """Send a request until it has not to wait for another."""
    path, body = sent
    while True:
        answer = requests.post(
            url + path, data=body, headers={"Content-Type": "application/json"}, timeout=600
        )
        if answer.status_code != 503:
            answer.raise_for_status()
            return
        time.sleep(0.3)


def main() -> int:
    """Measure, print and judge."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--largest", action="store_true")
    options = parser.parse_args()
    chance = random.Random(7)
    sent = [*series(chance), *(largest(chance) if options.largest else ())]
    with serving("--workers", "1") as server, ThreadPoolExecutor(8) as callers:
        (pid,) = server.workers()
        for number in range(FIRST_ORDERS):
            send(server.url, plain(number))
        idle, took_s = memory_mib(pid, "RssAnon"), 0.0
        most_kept = most_taken = 0.0
        print(f"idle: {idle:.0f} MiB")
        for number, (name, make) in enumerate(sent):
            made = make()
            Path(f"/proc/{pid}/clear_refs").write_text("5", "ascii")
            began_ns = cpu_ns(pid)
            list(callers.map(lambda each: send(server.url, each), made))
            send(server.url, plain(FIRST_ORDERS + number))
            took_s += (cpu_ns(pid) - began_ns) / 1e9
            taken, kept = memory_mib(pid, "VmHWM"), memory_mib(pid, "RssAnon")
            most_kept, most_taken = max(most_kept, kept - idle), max(most_taken, taken)
            print(f"{name:44} at most {taken:5.0f} MiB, then {kept:5.0f}", flush=True)
    print(f"kept at most {most_kept:.0f} MiB beyond idle (bound {MOST_KEPT_MIB:g}), took at most "
          f"{most_taken:.0f} MiB (bound {MOST_TAKEN_MIB:g}), {took_s:.1f} s of CPU")  # fmt: skip
    return int(most_kept > MOST_KEPT_MIB or most_taken > MOST_TAKEN_MIB)


if __name__ == "__main__":
    sys.exit(main())
