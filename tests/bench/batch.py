"""A long batch through one worker: memory while it runs, items a second, and what a line costs.

    .venv/bin/python tests/bench/batch.py [ITEMS]

Starts the service with one worker, sends ITEMS orders (100,000 if not said) as one batch of
newline-delimited JSON, every fourth line a bad one, and prints the memory of the worker on the way.
Then sends good orders in turns with judging them in process, and prints the CPU time of the worker
for a line as a ratio to that of the same judgement, from the text of the order to that of the
report. Ends with 1 where the worker grew by more than a tenth after the first twentieth of the
batch.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from time import thread_time_ns

import orjson
import requests

sys.path.insert(0, str(Path(__file__).parents[1]))

from service.servers import cpu_ns, serving, until

from weavability.service.http.json_bodies import parse
from weavability.service.requests.park import parse_park
from weavability.service.resources.validations import judged, resolved

PARK = """
[[loom]]
loom_id = "rapier-190-dobby"
reed_width_cm = 190
max_speed_picks_per_min = 620
insertion = { system = "rapier", max_rate_m_per_min = 1150 }
shedding = { kind = "dobby", shafts = 20 }
"""
BAD_LINES = (b"{", b"[]", b'{"loom_id": "rapier-190-dobby", "loom_id": 1}', b"{}")
READINGS = 20
GROWTH_ALLOWED = 0.10
TURNS = 10
IN_A_TURN = 300


def lines(count: int) -> Iterator[bytes]:
    """Orders that all differ, as rows of a mill's order book do."""
    for number in range(count):
        if number % 4 == 3:
            yield BAD_LINES[number // 4 % 4] + b"\n"
            continue
        yarn = {"A": {"designation": f"Ne {20 + number % 40}", "fibre": "cotton"}}
        construction = {
            "reference": f"order {number}",
            "warp": {"yarns": yarn, "ends_per_cm": 20 + number % 977 / 100},
            "weft": {"yarns": yarn, "picks_per_cm": 18 + number % 499 / 100},
            "weave": "plain",
            "width_cm": 130 + number % 3001 / 100,
        }
        order = {"construction": construction, "loom_id": "rapier-190-dobby"}
        yield orjson.dumps(order) + b"\n"


def resident_mib(process_id: int) -> float:
    """Memory of a process that is not shared out to disk."""
    status = Path(f"/proc/{process_id}/status").read_text()
    return next(float(line.split()[1]) for line in status.splitlines() if "VmRSS" in line) / 1024


def main(arguments: list[str]) -> int:
    """Run the batch; 1 where memory grew."""
    count = int(arguments[0]) if arguments else 100_000
    with tempfile.TemporaryDirectory() as directory:
        park = Path(directory) / "park.toml"
        park.write_text(PARK)
        with serving("--workers", "1", "--looms", str(park)) as server:
            until(server.workers)
            (worker,) = server.workers()
            failed = run(server.url, worker, count)
            compare(server.url, worker)
            return failed


def run(url: str, worker: int, count: int) -> int:
    """Send the batch and read memory as its answers come."""
    print(f"before the batch: {resident_mib(worker):8.1f} MiB")
    started = time.perf_counter()
    answer = requests.post(
        f"{url}/v1/validations",
        data=lines(count),
        headers={"Content-Type": "application/x-ndjson"},
        stream=True,
        timeout=600,
    )
    answer.raise_for_status()
    print(f"all sent after    {time.perf_counter() - started:8.1f} s")
    readings: list[float] = []
    answered = good = 0
    for line in answer.iter_lines(chunk_size=65_536):
        start = line[:60].decode()
        if f'"index":{answered},' not in start:
            print(f"out of order at {answered}: {start}")
            return 1
        answered += 1
        good += '"status":200' in start
        if answered % (count // READINGS) == 0:
            readings.append(resident_mib(worker))
            rate = answered / (time.perf_counter() - started)
            print(f"{answered:9} answered: {readings[-1]:7.1f} MiB {rate:8.0f} items/s")
    growth = readings[-1] / readings[0] - 1
    print(f"{answered} answered, {good} reports, {answered - good} problems")
    print(f"growth after the first twentieth: {growth:+.1%}")
    return int(answered != count or growth > GROWTH_ALLOWED)


def compare(url: str, worker: int) -> None:
    """Print what a line costs the worker, and the same judgement in process."""
    park = parse_park(PARK, name="park")
    orders = (line for number, line in enumerate(lines(10**9)) if number % 4 != 3)
    there, here = [], []
    for turn in range(TURNS):
        chunk = list(islice(orders, IN_A_TURN))
        before = cpu_ns(worker)
        answer = requests.post(
            f"{url}/v1/validations",
            data=b"".join(chunk),
            headers={"Content-Type": "application/x-ndjson"},
            timeout=600,
        )
        assert answer.text.count('"status":200') == IN_A_TURN
        there.append((cpu_ns(worker) - before) / IN_A_TURN / 1000)
        began = thread_time_ns()
        for line in chunk:
            orjson.dumps(judged(resolved(parse(line), park)).written())
        here.append((thread_time_ns() - began) / IN_A_TURN / 1000)
        if turn == 0:  # what is only read once, on either side
            there.clear()
            here.clear()
    ratios = sorted(one / other for one, other in zip(there, here, strict=True))
    middle = len(ratios) // 2
    print(f"a line {sorted(there)[middle]:.0f} µs, the same judgement in process "
          f"{sorted(here)[middle]:.0f} µs of CPU: ratio {ratios[middle]:.2f} "
          f"({ratios[0]:.2f}-{ratios[-1]:.2f}; goal 1.10)")  # fmt: skip


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
