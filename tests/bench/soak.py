"""A soak: mixed requests and faults without a pause; nothing is lost, and memory stays flat.

Run it with ``.venv/bin/python tests/bench/soak.py`` for half an hour, or with ``--minutes 3`` for
fewer. It starts the service itself. Callers send orders, new and repeated, faulty ones, links,
pages, batches and polls, small designs and such as are computed alone in a worker; others send
bodies that stop or are cut short, or read none of the answers to a batch. In the first third
workers are killed and the service is reloaded, in turns; a request whose connection ends then is
sent again, as its answer is the same. It prints a line every few seconds: requests, median and 99 %
of the latency, failures, and the resident memory of every worker. At the end it prints by how much
the least memory of a worker rose from the second third to the last, and ends with 1 if a worker
grew by more than ``MOST_GROWTH_MIB`` or a request was lost or answered otherwise than it must be.
A worker that began a few minutes ago still fills its bounded caches: in runs of less than
``SETTLED_MINUTES`` the growth is printed and does not count.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import socket
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
SETTLED_MINUTES: Final = 10.0
DISTURBED: Final = 1 / 3
"""Share of the time in which workers are killed and reloaded."""

DISTURBANCES: Final = 6
BATCH_LINES: Final = 200
POLLED: Final = 20
TIMEOUT_S: Final = 120
PATIENCE_S: Final = 5
TRIES: Final = 5
SMALL_DESIGN: Final = 600
LARGE_DESIGN: Final = 4_100
"""Sides of designs; the large one is computed alone in its worker."""

LARGE_EVERY_S: Final = 15.0
WEAVES: Final = ("plain", "2/1 twill Z", "3/1 twill S", "5-end satin move 2", "2/2 herringbone 8")


@dataclass(slots=True)
class Tally:
    """What was seen since it was last read."""

    latencies_s: list[float] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    total: int = 0
    sent_again: int = 0
    faults: int = 0

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

    def __init__(self, url: str, seed: int, tally: Tally) -> None:
        self._url = url
        self._tally = tally
        self._random = random.Random(seed)
        self._session = requests.Session()
        self._numbers = count()
        self._body = b""
        self._answer = b""
        self._link = ""
        self._etag = ""
        self._known: list[dict[str, str]] = []

    def steps(self) -> list[tuple[Callable[[], requests.Response], int]]:
        """The kinds of request, each with the status that it must get."""
        return [
            (self._judge, 200),
            (self._refused, 422),
            (self._judge, 200),
            (self._repeated, 200),
            (self._again, 200),
            (self._unchanged, 304),
            (self._page, 200),
            (self._batch, 200),
            (self._polled, 200),
            (self._design, 200),
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

    def _post(
        self, body: bytes, media_type: str = "application/json", path: str = "/v1/validations"
    ) -> requests.Response:
        return self._send("POST", path, data=body, headers={"Content-Type": media_type})

    def _get(self, path: str, headers: Mapping[str, str] | None = None) -> requests.Response:
        return self._send("GET", path, headers=headers)

    def _send(self, method: str, path: str, **parts: Any) -> requests.Response:
        """Send a request, again if its connection ends: every one may be repeated."""
        for _ in range(TRIES - 1):
            try:
                return self._session.request(method, self._url + path, timeout=TIMEOUT_S, **parts)
            except (requests.ConnectionError, requests.exceptions.ChunkedEncodingError):
                self._tally.sent_again += 1
                time.sleep(0.1)
        return self._session.request(method, self._url + path, timeout=TIMEOUT_S, **parts)

    def _judge(self) -> requests.Response:
        self._body = json.dumps(self._varied()).encode()
        answer = self._post(self._body)
        if answer.ok:
            self._answer = answer.content
            self._link, self._etag = answer.json()["links"]["self"], answer.headers["ETag"]
            self._known = [*self._known[1 - POLLED :], {"link": self._link, "etag": self._etag}]
        return answer

    def _repeated(self) -> requests.Response:
        answer = self._post(self._body)
        if answer.content != self._answer:
            raise ValueError("a repeated order was answered otherwise")
        return answer

    def _polled(self) -> requests.Response:
        body = json.dumps({"items": self._known}).encode()
        answer = self._post(body, path="/v1/validation-changes")
        if answer.ok and answer.json()["items"]:
            raise ValueError("reports have changed that have not")
        return answer

    def _design(self) -> requests.Response:
        request = self._varied()
        side = range(SMALL_DESIGN)
        rows = [f"{self._random.getrandbits(SMALL_DESIGN):0{SMALL_DESIGN}b}" for _ in side]
        request["construction"]["weave"] = {"rows": rows}
        return self._post(json.dumps(request).encode())

    def large_design(self) -> requests.Response:
        """Send a design that is computed alone in its worker; it may have to wait."""
        request = self._varied()
        lifted = [1 + self._random.randrange(2) for _ in range(LARGE_DESIGN)]
        tied = {"threading": lifted, "tie_up": ["10", "01"], "treadling": lifted}
        request["construction"]["weave"] = tied
        while (answer := self._post(json.dumps(request).encode())).status_code == 503:
            time.sleep(float(answer.headers["Retry-After"]))
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
    """Send requests of every kind until stopped."""
    caller = Caller(url, seed, tally)
    while not stop.is_set():
        for step, expected in caller.steps():
            answered(step, expected, tally)


def keep_designing(url: str, seed: int, tally: Tally, stop: threading.Event) -> None:
    """Send a large design now and then until stopped."""
    caller = Caller(url, seed, tally)
    while not stop.wait(LARGE_EVERY_S):
        answered(caller.large_design, 200, tally)


def answered(step: Callable[[], requests.Response], expected: int, tally: Tally) -> None:
    """Count a request, and whether it was answered as it must be."""
    began = time.perf_counter()
    try:
        status = step().status_code
        failure = None if status == expected else f"{status} instead of {expected}"
    except (requests.RequestException, ValueError) as error:
        failure = repr(error)
    tally.add(time.perf_counter() - began, failure)


def keep_erring(server: Server, tally: Tally, stop: threading.Event) -> None:
    """Be a bad client until stopped: each of these has to end by itself, within its bound."""
    body = json.dumps(small_request()).encode()
    head = (
        b"POST /v1/validations HTTP/1.1\r\nHost: x\r\n"
        b"Content-Type: %b\r\nContent-Length: %d\r\n\r\n"
    )
    ndjson = (body + b"\n") * BATCH_LINES
    while not stop.is_set():
        for kind, length, sent, cut in (
            (b"application/json", len(body), body[:-9], False),  # stops
            (b"application/json", len(body), body[:-9], True),  # is cut short
            (b"application/x-ndjson", len(ndjson), ndjson, False),  # its answer is not read
        ):
            try:
                with server.connect() as peer:
                    peer.settimeout(TIMEOUT_S)
                    peer.sendall(head % (kind, length) + sent)
                    if cut:
                        peer.shutdown(socket.SHUT_WR)
                    if len(sent) < length:
                        status = peer.recv(65_536)[9:12]
                        if status not in (b"", b"400", b"408"):
                            tally.failures.append(f"{status!r} to a body that is not whole")
                    else:
                        stop.wait(PATIENCE_S)
            except TimeoutError:
                tally.failures.append("a bad client was not cut off")
            except OSError:  # the connection ended, as it may
                pass
            tally.faults += 1


def disturb(server: Server, workers: int, minutes: float, stop: threading.Event) -> None:
    """Kill a worker and reload the service in turns."""
    pause_s = minutes * 60 * DISTURBED / (DISTURBANCES + 1)
    for number in range(DISTURBANCES):
        if stop.wait(pause_s):
            return
        if number % 2:
            server.signal(signal.SIGHUP)
        else:
            until(lambda: len(server.workers()) == workers, within_s=TIMEOUT_S)
            os.kill(server.workers()[0], signal.SIGKILL)


def memory_mib(pid: int) -> float:
    """Resident memory of a process that is not shared with its parent's file pages."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    (line,) = (each for each in status.splitlines() if each.startswith("RssAnon:"))
    return int(line.split()[1]) / 1024


def watch(server: Server, tally: Tally, *, minutes: float, every_s: float) -> dict[int, float]:
    """Print readings until the time is over; return what each worker grew by at the end.

    The least memory of the last third is compared with the least of the second, because a design
    that is being computed takes its memory only as long as it is.
    """
    began = time.monotonic()
    thirds: list[dict[int, float]] = [{}, {}, {}]
    print("   time   requests     /s  median ms   99 % ms  failures  memory of each worker, MiB")
    last_total, until_s = 0, minutes * 60
    while (passed := time.monotonic() - began) < until_s:
        readings: list[dict[int, float]] = []
        ends = min(passed + every_s, until_s)
        while (now := time.monotonic() - began) < ends:
            time.sleep(min(1.0, max(0.0, ends - now)))
            readings.append(memory_of(server))
            least = thirds[min(2, int(3 * now / until_s))]
            for pid, value in readings[-1].items():
                least[pid] = min(value, least.get(pid, value))
        median, most = tally.read()
        each = "  ".join(f"{value:6.1f}" for value in readings[-1].values())
        rate = (tally.total - last_total) / every_s
        last_total = tally.total
        passed = time.monotonic() - began
        print(f"{passed:6.0f} s {tally.total:10} {rate:6.0f} {median:10.1f} {most:9.1f}"
              f" {len(tally.failures):9}  {each}", flush=True)  # fmt: skip
    before, after = thirds[1], thirds[2]
    return {pid: value - before[pid] for pid, value in after.items() if pid in before}


def memory_of(server: Server) -> dict[int, float]:
    """Resident memory of every worker that lives."""
    found = {}
    for pid in server.workers():
        try:
            found[pid] = memory_mib(pid)
        except (OSError, ValueError):  # it has just ended
            continue
    return found


def main() -> int:
    """Run the soak; 0 if memory stayed flat and nothing was lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--callers", type=int, default=4)
    options = parser.parse_args()
    tally, stop = Tally(), threading.Event()
    every_s = max(2.0, options.minutes * 60 / 20)
    given = ("--workers", str(options.workers), "--patience-s", str(PATIENCE_S))
    with serving(*given) as server:
        # The first worker answers before the others are there.
        until(lambda: len(server.workers()) == options.workers)
        threads = [
            *(
                threading.Thread(target=keep_asking, args=(server.url, seed, tally, stop))
                for seed in range(options.callers)
            ),
            threading.Thread(target=keep_designing, args=(server.url, -1, tally, stop)),
            threading.Thread(target=keep_erring, args=(server, tally, stop)),
            threading.Thread(target=disturb, args=(server, options.workers, options.minutes, stop)),
        ]
        for thread in threads:
            thread.start()
        grown = watch(server, tally, minutes=options.minutes, every_s=every_s)
        stop.set()
        for thread in threads:
            thread.join()
    for failure in sorted(set(tally.failures))[:10]:
        print(f"failed: {failure}")
    lived = len(grown) == options.workers
    worst = max(grown.values(), default=float("nan"))
    settled = options.minutes >= SETTLED_MINUTES
    flat = worst <= MOST_GROWTH_MIB
    print(f"{tally.total} requests in {options.minutes:g} min, {len(tally.failures)} lost or "
          f"wrong, {tally.sent_again} sent again")  # fmt: skip
    print(f"{tally.faults} bad clients; {DISTURBANCES} times a worker was killed or the service "
          f"reloaded; then the workers {'were the same' if lived else 'have changed'}")  # fmt: skip
    print(f"from the second third to the last the memory of a worker rose by at most "
          f"{worst:.1f} MiB ({'flat' if flat else 'not flat'}: the bound is {MOST_GROWTH_MIB:g}"
          f"{'' if settled else f', and counts from {SETTLED_MINUTES:g} min on'})")  # fmt: skip
    return 0 if (flat or not settled) and lived and not tally.failures else 1


if __name__ == "__main__":
    sys.exit(main())
