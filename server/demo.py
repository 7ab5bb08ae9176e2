"""The demo: starts the service with an invented mill's park and sends it the mill's order book."""

from __future__ import annotations

import argparse
import signal
import socket
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from math import inf
from pathlib import Path
from textwrap import fill
from types import FrameType
from typing import Any, BinaryIO, Final, TextIO

import requests

from weavability_client import Client, ItemResult, Report, VariedField, Verdict
from weavability_client.progress import Progress
from weavability_client.tables import money, text_table, words

HOST: Final = "127.0.0.1"
PORT: Final = 8080
READY_WITHIN_S: Final = 30.0
STOP_WITHIN_S: Final = 10.0
LOG_TAIL_BYTES: Final = 4000
INTERRUPTED: Final = 130

DATA: Final = Path(__file__).parent / "weavability" / "data"
PARK: Final = DATA / "demo_park.toml"
ORDERS: Final = DATA / "demo_orders.toml"

WIDTH: Final = 100
"""Columns within which everything is printed, but for addresses."""

FAR_POINTS: Final = 10.0
"""Distance from which on a change is worth a look at other looms."""

HEADER: Final = ("order", "cloth", "loom", "verdict", "picks/min", "hours")

_SENT: Final = ("construction", "loom_id", "prices")


class DemoError(Exception):
    """The demo cannot go on; the message says what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A line of the order book: its cloth for the reader, its request for the service."""

    cloth: str
    request: Mapping[str, Any]

    @property
    def reference(self) -> str:
        """The order's number."""
        return str(self.request["construction"]["reference"])


def read_orders(path: Path = ORDERS) -> list[Order]:
    """Read the order book."""
    with path.open("rb") as file:
        tables = tomllib.load(file)["order"]
    return [
        Order(
            cloth=table["cloth"],
            request={name: table[name] for name in _SENT if name in table},
        )
        for table in tables
    ]


def free_port(port: int) -> int:
    """Return ``port`` where it is free; any free port where it is 0.

    Raises:
        DemoError: Another program uses the port.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError as error:
            raise DemoError(
                f"port {port} cannot be used ({error.strerror}): end the program that uses it, "
                "or choose another with --port N (0 is any free one)"
            ) from error
        return int(probe.getsockname()[1])


@contextmanager
def service(port: int) -> Iterator[str]:
    """Run the service on ``port`` for as long as the block lasts; give its address."""
    command = Path(sys.executable).with_name("weavability-server")
    options = ["--bind", f"{HOST}:{port}", "--looms", str(PARK)]
    address = f"http://{HOST}:{port}"
    with tempfile.TemporaryFile() as log:
        process = subprocess.Popen(  # noqa: S603 (our own program, no shell)
            [str(command), *options],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        try:
            wait_until_ready(address, process, log)
            yield address
        finally:
            stop(process)


def wait_until_ready(address: str, process: subprocess.Popen[bytes], log: BinaryIO) -> None:
    """Return once the service answers ``/readyz``.

    Raises:
        DemoError: It ended, or is not ready in time; its last words are in the message.
    """
    deadline = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < deadline and process.poll() is None:
        if is_ready(address):
            return
        time.sleep(0.1)
    raise DemoError(f"the service did not start:\n{tail(log)}")


def is_ready(address: str) -> bool:
    """Return whether the service is ready to judge."""
    try:
        return requests.get(f"{address}/readyz", timeout=1).ok
    except requests.exceptions.RequestException:
        return False


def tail(log: BinaryIO) -> str:
    """Return the end of the service's log."""
    size = log.seek(0, 2)
    log.seek(max(0, size - LOG_TAIL_BYTES))
    return log.read().decode("utf-8", "replace").strip() or "(it said nothing)"


def stop(process: subprocess.Popen[bytes]) -> None:
    """End the service by its own process id: gracefully, and firmly where that does not help."""
    process.terminate()
    try:
        process.wait(STOP_WITHIN_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def table(orders: Sequence[Order], results: Sequence[ItemResult]) -> str:
    """Return the verdicts as a table, an order a line."""
    lines = [_line(order, result) for order, result in zip(orders, results, strict=True)]
    return text_table(HEADER, lines)


def _line(order: Order, result: ItemResult) -> tuple[object, ...]:
    head = (order.reference, order.cloth, order.request["loom_id"])
    report = result.report
    if report is None:
        return (*head, "refused", None, None)
    hours = report.rates.hours_for_order
    return (
        *head,
        words(report.verdict),
        round(report.rates.speed_picks_per_min),
        None if hours is None else round(hours),
    )


def refusals(orders: Sequence[Order], results: Sequence[ItemResult]) -> Iterator[str]:
    """Yield, for each order that could not be read, what is wrong with it."""
    for order, result in zip(orders, results, strict=True):
        if result.error is not None:
            yield f"{order.reference} {order.cloth}: {result.error}"


def reasons(orders: Sequence[Order], reports: Sequence[Report]) -> Iterator[str]:
    """Yield, for each order that cannot be woven, why."""
    for order, report in zip(orders, reports, strict=True):
        for finding in report.errors:
            yield f"{order.reference} {order.cloth}: {finding.message}"


def warnings(orders: Sequence[Order], reports: Sequence[Report]) -> Iterator[str]:
    """Yield, for each order that can be woven, what to look after."""
    for order, report in zip(orders, reports, strict=True):
        for finding in report.warnings if report.ok else ():
            yield f"{order.reference} {order.cloth}: {finding.message}"


def ways_out(client: Client, orders: Sequence[Order], reports: Sequence[Report]) -> Iterator[str]:
    """Yield, for each order that cannot be woven, what would help: a change, or another loom.

    An order for a Jacquard states only the ground of its figure, so it stays on one.
    """
    jacquards = [str(loom.loom_id) for loom in client.looms() if loom.shedding.kind == "jacquard"]
    for order, report in zip(orders, reports, strict=True):
        if not report.ok:
            found = client.remedies(order.request["construction"], loom_id=order.request["loom_id"])
            changes = [] if found.best is None else [found.best.message]
            figured = report.setup.hooks_used is not None
            best = client.match_looms(
                order.request["construction"], loom_ids=jacquards if figured else None
            ).best
            looms = [] if best is None else [f"Weave it on {best.loom_id}, {best.hours:.0f} h."]
            least = inf if found.best is None else found.best.distance or 0.0
            if best is None and least >= FAR_POINTS:
                looms = list(_elsewhere(client, order, jacquards if figured else None, least))
            helps = [*changes, *looms] or [
                "No change of up to three fields helps, on any loom searched here."
            ]
            yield f"{order.reference} {order.cloth}: {' '.join(helps)}"


def _elsewhere(
    client: Client, order: Order, loom_ids: Sequence[str] | None, least: float
) -> Iterator[str]:
    """Yield the smallest change that makes an order weavable on another loom, if it is smaller.

    A cloth as ordered on another loom is nearer than another weave. A change after which the order
    is weavable only if what is assumed is not so is yielded only without another.
    """
    found = client.remedies(order.request["construction"], loom_ids=loom_ids)
    smaller = [
        (bool(each.rejected_if_assumed), each.distance or 0.0, f"On {on.loom_id}: {each.message}")
        for on in found.looms
        for each in on.remedies
        if each.verdict not in (None, Verdict.NOT_WEAVABLE) and (each.distance or 0.0) < least
    ]
    smaller.sort(key=lambda each: each[:2])  # looms of equal changes stay as they were found
    yield from (words_of_it for _, _, words_of_it in smaller[:1])


def costs(client: Client, orders: Sequence[Order], reports: Sequence[Report]) -> Iterator[str]:
    """Yield the cost of each order that is priced and can be woven, and the cheapest loom of one.

    Orders for a Jacquard state only the ground of their figure, so the first other one is taken.
    """
    cheapest = ""
    for order, report in zip(orders, reports, strict=True):
        found = report.costs
        if found is None or not report.ok:
            continue
        largest = sorted(found.drivers, key=lambda each: -each.cost_per_m)[:3]
        parts = ", ".join(f"{each.driver} {money(each.cost_per_m)}" for each in largest)
        label = f"{found.currency}/m"
        yield f"{order.reference} {order.cloth}: {money(found.cost_per_m)} {label} ({parts}, …)"
        if not cheapest and report.setup.hooks_used is None:
            best = client.match_looms(
                order.request["construction"], prices=order.request["prices"], rank_by="cost"
            ).best
            if best is not None and best.costs is not None:
                cheapest = (
                    f"{order.reference} costs least on {best.loom_id}: "
                    f"{money(best.costs.cost_per_m)} {label}."
                )
    yield cheapest


def best_sequence(
    client: Client, orders: Sequence[Order], reports: Sequence[Report]
) -> Iterator[str]:
    """Yield the sequence of the orders on the loom that has most of them to weave."""
    by_loom: dict[str, list[Order]] = {}
    for order, report in zip(orders, reports, strict=True):
        if report.ok:
            by_loom.setdefault(order.request["loom_id"], []).append(order)
    loom_id, waiting = max(by_loom.items(), key=lambda each: len(each[1]))
    found = client.sequence([each.request["construction"] for each in waiting], loom_id=loom_id)
    for each in found.sequence:
        route = "first" if each.route is None else words(each.route)
        yield f"{each.reference} {waiting[each.index].cloth}: {route}, {each.loom_stop_hours:.1f} h"
    yield (
        f"The loom is stopped for {found.loom_stop_hours:.1f} h, in the order given for "
        f"{found.given_loom_stop_hours:.1f} h."
    )


def rests_on(client: Client, orders: Sequence[Order], reports: Sequence[Report]) -> Iterator[str]:
    """Yield, of the first order whose verdict one assumed value turns, what to measure."""
    for order, report in zip(orders, reports, strict=True):
        if report.ok:
            found = client.validate(
                order.request["construction"],
                loom_id=order.request["loom_id"],
                decisive_assumptions=True,
            )
            if found.decisive_assumptions:
                for each in found.decisive_assumptions:
                    yield f"{order.reference} {order.cloth}: {each.message}"
                return


def window(client: Client, orders: Sequence[Order], reports: Sequence[Report]) -> Iterator[str]:
    """Yield what can be woven of the first order that jams, if its setts are varied."""
    for order, report in zip(orders, reports, strict=True):
        if report.finding("sett.jammed") is not None:
            found = client.window(
                order.request["construction"],
                across=_around("/construction/warp/ends_per_cm", report.cloth.ends_per_cm),
                along=_around("/construction/weft/picks_per_cm", report.cloth.picks_per_cm),
                loom_id=order.request["loom_id"],
            )
            yield from (line for line in str(found).splitlines() if found.caution not in line)
            return


def _around(pointer: str, value: float) -> VariedField:
    return VariedField(
        pointer=pointer, start=round(0.5 * value), stop=round(1.25 * value), points=40
    )


def addresses(address: str, reports: Sequence[Report]) -> Iterator[str]:
    """Yield the addresses worth opening."""
    yield f"{address}/              judge an order of your own"
    yield f"{address}/matches       the looms for an order, ranked"
    yield f"{address}/board         reports that are kept an eye on"
    yield f"{address}/v1/looms      the loom park"
    yield f"{address}/v1/checks     what is checked, against what, and why"
    yield f"{address}/docs          every operation, and every field"
    links = [report.link for report in reports if report.link]
    if links:
        yield f"{address}{min(links, key=len)}  one of the reports above"


def show(address: str, out: TextIO) -> Sequence[Report]:
    """Send the order book and print the outcome; return the reports, if every order has one."""
    orders = read_orders()
    with Client(address) as client:
        requests_ = [order.request for order in orders]
        results = list(client.validate_many(requests_, progress=Progress(sys.stderr)))
        print(table(orders, results), file=out)
        reports = [result.report for result in results if result.report is not None]
        if len(reports) < len(orders):
            _say("Refused:", refusals(orders, results), out)
            return ()
        _say("Why not:", reasons(orders, reports), out)
        _say("What helps:", ways_out(client, orders, reports), out)
        _say("What to look after:", warnings(orders, reports), out)
        _say("What it costs:", costs(client, orders, reports), out)
        _say("What to measure:", rests_on(client, orders, reports), out)
        _say("What can be woven:", window(client, orders, reports), out)
        sequence = best_sequence(client, orders, reports)
        _say("In which sequence, on the loom with most orders:", sequence, out)
        _say("Caution:", [reports[0].caution], out)
    return reports


def _say(heading: str, lines: Iterable[str], out: TextIO) -> None:
    """Print lines below a heading; a long one goes on below itself."""
    print(f"\n{heading}", file=out)
    for line in lines:
        rest = line.lstrip()
        indent = " " * (2 + len(line) - len(rest))
        print(fill(rest, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  "), file=out)


def interrupted(_number: int, _frame: FrameType | None) -> None:
    """Turn a signal into the exception by which everything is put away."""
    raise KeyboardInterrupt


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the demo; return its exit status."""
    parser = argparse.ArgumentParser(prog="./server/demo", description=__doc__)
    parser.add_argument("--once", action="store_true", help="stop after printing")
    parser.add_argument("--port", type=int, default=PORT, help="0 is any free one")
    options = parser.parse_args(arguments)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, interrupted)
    try:
        with service(free_port(options.port)) as address:
            reports = show(address, sys.stdout)
            if not options.once:
                print("\nOpen:", *addresses(address, reports), sep="\n  ")
                print("\nServing; Ctrl-C stops.", flush=True)
                signal.pause()
    except KeyboardInterrupt:
        print("\nStopped.")
        return INTERRUPTED if options.once else 0
    except DemoError as error:
        print(f"demo: {error}", file=sys.stderr)
        return 2
    return 0 if reports else 1


if __name__ == "__main__":
    sys.exit(main())
