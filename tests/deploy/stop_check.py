"""Tries that no request is lost or left hanging when the service stops, reloads or dies.

Alone, and behind the proxy of ``server/deploy`` with three replicas, with callers that repeat a
request that failed, callers that do not, and callers that keep their connections. Run it with
``.venv/bin/python tests/deploy/stop_check.py``; it prints what it counted and ends with 0 if
nothing was lost. Without nginx it tries the service alone.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

import requests
from deploy.proxy_check import proxy
from service.servers import Server, serving, until
from service.support import small_request

CALLERS: Final = 8
LONGEST_ANSWER_S: Final = 10.0
REPLICAS: Final = 3
SETTLE_S: Final = 1.0
CALLED: Final = (
    ("repeating", False, True),
    ("not repeating", False, False),
    ("keeping connections", True, False),
)
"""Kinds of callers: whether they keep their connections, and whether they repeat."""


@dataclass(slots=True)
class Load:
    """Callers that send one request after another.

    Attributes:
        url: The service.
        keeps: Whether a caller keeps its connection; otherwise each request has one of its own.
        repeats: Whether a request that failed is sent again until it is answered.
        counts: Answered, refused (never taken), lost (taken and not answered), late, cut (an answer
            that had begun and is shorter than it says).
    """

    url: str
    keeps: bool
    repeats: bool
    counts: Counter[str] = field(default_factory=Counter)
    stop: threading.Event = field(default_factory=threading.Event)

    def call(self) -> None:
        with requests.Session() as session:
            session.headers["Connection"] = "keep-alive" if self.keeps else "close"
            while not self.stop.is_set():
                outcome = self._outcome(session)
                self.counts[outcome] += 1
                if outcome != "answered" and self.repeats:
                    time.sleep(0.05)

    def _outcome(self, session: requests.Session) -> str:
        try:
            answer = session.post(
                f"{self.url}/v1/validations", json=small_request(), timeout=LONGEST_ANSWER_S
            )
        except requests.Timeout:
            return "late"
        except requests.exceptions.ChunkedEncodingError:
            return "cut"
        except requests.ConnectionError as error:
            return "refused" if "refused" in str(error) else "lost"
        return "answered" if answer.status_code == 200 else f"status {answer.status_code}"

    @contextmanager
    def running(self) -> Iterator[None]:
        threads = [threading.Thread(target=self.call) for _ in range(CALLERS)]
        for thread in threads:
            thread.start()
        try:
            time.sleep(SETTLE_S)
            yield
            time.sleep(SETTLE_S)
        finally:
            self.stop.set()
            for thread in threads:
                thread.join()


def tried(name: str, url: str, act: Callable[[], None], *, allowed: set[str]) -> bool:
    """Act under load of each kind of callers; print what came of it."""
    held = True
    for who, keeps, repeats in CALLED:
        load = Load(url, keeps=keeps, repeats=repeats)
        with load.running():
            act()
        bad = {what: n for what, n in load.counts.items() if what not in allowed | {"answered"}}
        held &= not bad
        print(f"{name}, {who}: {dict(load.counts)}{' WRONG' if bad else ''}", flush=True)
    return held


def alone() -> bool:
    """One service: at a stop and a start, connections are refused, and what was taken answered."""
    with ExitStack() as stack:
        running = [stack.enter_context(serving("--workers", "2"))]
        port = running[0].port

        def restart() -> None:
            running[-1].signal(signal.SIGTERM)
            running[-1].process.wait(60)
            running.append(stack.enter_context(serving("--workers", "2", port=port)))

        def reload() -> None:
            before = set(running[-1].workers())
            running[-1].signal(signal.SIGHUP)
            until(lambda: not before & set(running[-1].workers()))

        url = running[0].url
        held = tried("reload", url, reload, allowed=set())
        return tried("stop and start", url, restart, allowed={"refused"}) and held


def replicated() -> bool:
    """Three replicas behind the proxy: one is stopped, and nobody notices; another is killed."""
    with ExitStack() as stack:
        replicas = [
            stack.enter_context(serving("--workers", "1", "--proxies", "1"))
            for _ in range(REPLICAS)
        ]
        url = stack.enter_context(proxy(*replicas))

        def replace(number: int, end: Callable[[Server], None]) -> None:
            old = replicas[number]
            end(old)
            old.process.wait(60)
            time.sleep(1)
            arguments = ["--workers", "1", "--proxies", "1"]
            replicas[number] = stack.enter_context(serving(*arguments, port=old.port))

        def stopped() -> None:
            replace(0, lambda old: old.signal(signal.SIGTERM))

        def killed() -> None:
            replace(1, kill)

        held = tried("proxy, one replica stopped", url, stopped, allowed=set())
        # An answer that has begun when its process is killed cannot be begun again elsewhere.
        return tried("proxy, one replica killed", url, killed, allowed={"cut"}) and held


def kill(server: Server) -> None:
    for pid in (server.process.pid, *server.workers()):
        os.kill(pid, signal.SIGKILL)


def main() -> int:
    """Try everything that can be tried here."""
    held = alone()
    if shutil.which("nginx") is None:
        print("nginx is not here: replicas were not tried")
    else:
        held = replicated() and held
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
