"""The service as it really runs: its own process, its workers, its log."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import requests

WITHIN_S: Final = 30.0
START_WITHIN_S: Final = 150.0
"""A start takes seconds of CPU time, of which a shared machine may give it a small part."""


def free_port() -> int:
    """A port that nobody uses."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """A running service."""

    port: int
    process: subprocess.Popen[bytes]
    log: Path

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def workers(self) -> list[int]:
        """The process ids of its living workers."""
        pid = self.process.pid
        listed = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()
        return [int(each) for each in listed]

    def signal(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def lines(self) -> list[dict[str, Any]]:
        """The log so far; every line of it is JSON."""
        written = self.log.read_text("utf-8").rpartition("\n")[0]  # the last may be half written
        return [json.loads(line) for line in written.splitlines()]

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=WITHIN_S)


def until(true: Callable[[], object], *, within_s: float = WITHIN_S) -> None:
    """Wait until something is true."""
    deadline = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < deadline, "it did not come true in time"
        time.sleep(0.02)


@contextmanager
def serving(*arguments: str, port: int | None = None) -> Iterator[Server]:
    """Run the service for as long as the block lasts, and end it by its own process id."""
    chosen = port or free_port()
    handle, name = tempfile.mkstemp(suffix=".log")
    options = ["--bind", f"127.0.0.1:{chosen}", *arguments]
    process = subprocess.Popen(
        [sys.executable, "-m", "weavability", *options], stdout=handle, stderr=handle
    )
    os.close(handle)
    server = Server(port=chosen, process=process, log=Path(name))
    try:
        until(
            lambda: process.poll() is not None or is_ready(server.url),
            within_s=START_WITHIN_S,
        )
        assert process.poll() is None, server.log.read_text("utf-8")
        yield server
    finally:
        process.terminate()
        process.wait(WITHIN_S)
        Path(name).unlink()


def cpu_ns(pid: int) -> int:
    """CPU time that the living threads of a process have taken."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text("ascii").split()[0]) for task in tasks)


def is_ready(url: str) -> bool:
    """Whether the service answers ``/readyz``."""
    try:
        return requests.get(f"{url}/readyz", timeout=2).ok
    except requests.RequestException:
        return False
