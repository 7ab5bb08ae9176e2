"""An archive of 100,000 orders on the 12 looms of the demo park: time, and memory of all processes.

    .venv/bin/python tests/bench/archive.py [ORDERS [FORM]]

Writes ORDERS orders (100,000 if not stated) in a FORM (ndjson if not stated, csv or parquet) and
judges them with ``weavability-server archive`` and its default options. Prints wall time, processor
time, and the greatest sum of the resident sets of the command and all its processes, in which pages
that they share count once for each. Beside it, as a baseline from the same run: the processor time
of judging some of the orders one by one. Ends with 1 if the time passes two minutes or the memory
1 GiB.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

import psutil

sys.path.insert(0, str(Path(__file__).parents[1]))

from archived_orders import orders, write_csv, write_ndjson, write_parquet

from weavability.answers.validation import judge
from weavability.checks.registry import observe
from weavability.service.requests.park import load_park
from weavability.service.schemas.construction_schema import ConstructionSchema

MOST_S: Final = 120.0
MOST_MIB: Final = 1024.0
SAMPLE_EVERY_S: Final = 0.1
ONE_BY_ONE: Final = 200
DEMO_PARK: Final = Path(__file__).parents[2] / "server/weavability/data/demo_park.toml"

Writer = Callable[[Path, Sequence[dict[str, Any]]], Path]
WRITERS: Final[dict[str, Writer]] = {
    "ndjson": write_ndjson,
    "csv": write_csv,
    "parquet": lambda path, requests: write_parquet(path, requests, group=100_000),
}


def resident_mib(root: psutil.Process) -> float:
    """Resident sets of a process and of all below it, added."""
    total = 0
    for each in (root, *root.children(recursive=True)):
        try:
            total += each.memory_info().rss
        except psutil.NoSuchProcess:
            continue
    return total / 2**20


def one_by_one() -> float:
    """Microseconds of processor time of a pair that is judged alone, without its report."""
    looms = [each.loom for each in load_park(None).looms.values()]
    schema = ConstructionSchema()
    read = [schema.read(each["construction"]) for each in orders(ONE_BY_ONE)]
    begin = time.process_time()
    for construction in read:
        for loom in looms:
            observe(judge(construction, loom))
    return 1e6 * (time.process_time() - begin) / (ONE_BY_ONE * len(looms))


def main(arguments: list[str]) -> int:
    """Run, print and judge."""
    count = int(arguments[0]) if arguments else 100_000
    form = arguments[1] if len(arguments) > 1 else "ndjson"
    with tempfile.TemporaryDirectory() as directory:
        folder = Path(directory)
        # In a process of its own, so that what is measured does not share this one's memory.
        source = WRITERS[form](folder / f"orders.{form}", list(orders(count)))
        print(f"{count} orders, {source.stat().st_size / 2**20:.1f} MiB of {form}")
        return measure(source, folder / "out", count)


def measure(source: Path, out: Path, count: int) -> int:
    """Run the command and watch it."""
    begin = time.monotonic()
    command = psutil.Popen(
        [
            *(sys.executable, "-m", "weavability", "archive", str(source)),
            *("--looms", str(DEMO_PARK), "--out", str(out)),
        ],
        stdout=subprocess.DEVNULL,
    )
    readings = []
    while command.poll() is None:
        try:
            readings.append(resident_mib(command))
        except psutil.NoSuchProcess:
            break
        time.sleep(SAMPLE_EVERY_S)
    status = command.wait()
    taken = time.monotonic() - begin
    written = sum(each.stat().st_size for each in out.rglob("*.parquet"))
    pairs = count * len(load_park(None).looms)
    print(f"status {status}, {pairs} pairs, {written / 2**20:.1f} MiB of Parquet written")
    print(f"wall time {taken:.1f} s ({pairs / taken:,.0f} pairs/s), limit {MOST_S:g} s")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"processor time of all processes: {used.ru_utime + used.ru_stime:.1f} s")
    print(f"resident sets of all processes: {max(readings):.0f} MiB, limit {MOST_MIB:g} MiB")
    print(f"one pair judged alone: {one_by_one():.0f} us of processor time")
    return int(status != 0 or taken > MOST_S or max(readings) > MOST_MIB)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
