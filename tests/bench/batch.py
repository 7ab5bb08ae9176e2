"""A long batch through one worker: memory while it runs, and items a second.

    .venv/bin/python tests/bench/batch.py [ITEMS]

Starts the service with one worker, sends ITEMS orders (100,000 if not said) as one batch of
newline-delimited JSON, every fourth line a bad one, and prints the memory of the worker on the way.
Ends with 1 where the worker grew by more than a tenth after the first twentieth of the batch.
"""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import requests

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
        yield json.dumps(order).encode() + b"\n"


def resident_mib(process_id: int) -> float:
    """Memory of a process that is not shared out to disk."""
    status = Path(f"/proc/{process_id}/status").read_text()
    return next(float(line.split()[1]) for line in status.splitlines() if "VmRSS" in line) / 1024


def worker_of(process_id: int) -> int:
    """The only child of the service's first process."""
    children = Path(f"/proc/{process_id}/task/{process_id}/children").read_text()
    return int(children.split()[0])


def main(arguments: list[str]) -> int:
    """Run the batch; 1 where memory grew."""
    count = int(arguments[0]) if arguments else 100_000
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as directory:
        park = Path(directory) / "park.toml"
        park.write_text(PARK)
        options = ["--bind", f"127.0.0.1:{port}", "--workers", "1", "--looms", str(park)]
        program = (
            "import sys; from weavability.service.gunicorn.command import main; sys.exit(main())"
        )
        server = subprocess.Popen(
            [sys.executable, "-c", program, *options], stderr=subprocess.DEVNULL
        )
        try:
            return run(f"http://127.0.0.1:{port}", server.pid, count)
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(60)


def run(url: str, process_id: int, count: int) -> int:
    """Send the batch and read memory as its answers come."""
    wait_for(url)
    worker = worker_of(process_id)
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


def wait_for(url: str) -> None:
    """Wait until the service is ready."""
    for _ in range(300):
        try:
            if requests.get(f"{url}/readyz", timeout=2).ok:
                return
        except requests.ConnectionError:
            time.sleep(0.1)
    raise TimeoutError("the service did not start")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
