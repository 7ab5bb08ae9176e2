"""Memory that requests have freed is not kept by the threads that answered them."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import pytest
import requests
from service.servers import Server, serving
from service.support import small_request

pytestmark = pytest.mark.slow

THREADS = 4
HEAP_BYTES = 64 * 2**20
"""Room that glibc sets aside for each heap but the first (HEAP_MAX_SIZE of its malloc/arena.c)."""


@pytest.fixture
def server() -> Iterator[Server]:
    with serving("--workers", "1", "--threads", str(THREADS)) as started:
        yield started


def heaps_of_threads(pid: int) -> int:
    """How many heaps besides the first a process has: a part in use, and the rest of its room."""
    found = []
    for line in Path(f"/proc/{pid}/maps").read_text("ascii").splitlines():
        begin, end = (int(each, 16) for each in line.split()[0].split("-"))
        found.append((begin, end, line.split()[1]))
    return sum(
        in_use[2] == "rw-p" and rest[2] == "---p" and rest[1] - in_use[0] == HEAP_BYTES
        for in_use, rest in pairwise(found)
    )


def test_the_threads_of_a_worker_share_one_heap(server: Server) -> None:
    """With heaps of their own they kept 200 MiB and more of what large designs had taken."""
    with ThreadPoolExecutor(2 * THREADS) as callers:
        sent = callers.map(
            lambda _: requests.post(
                f"{server.url}/v1/validations", json=small_request(), timeout=30
            ),
            range(8 * THREADS),
        )
        assert all(answer.ok for answer in sent)
    (worker,) = server.workers()
    assert heaps_of_threads(worker) == 0
