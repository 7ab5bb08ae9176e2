"""Dask: a cluster of processes of this machine, or any scheduler by its address."""

from __future__ import annotations

import logging
import signal
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from typing import Final

import dask
from distributed import Client, KilledWorker, LocalCluster, WorkerPlugin, as_completed

from weavability.service.archive.archive_folder import ArchiveError
from weavability.service.archive.partition_judging import Task, judge_partition

CONNECT_WITHIN_S: Final = 30
_RETRIES: Final = 2
_LOOPBACK: Final = "127.0.0.1"
_NO_PAGES: Final[dict[str, object]] = {
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
}
"""Dask opens a port for web pages in any case; it has none, and only this machine can connect."""


class _IgnoreInterrupts(WorkerPlugin):  # type: ignore[misc]  # Dask has no types
    """Leaves Ctrl-C, which a terminal sends to all processes, to the command."""

    def setup(self, **_: object) -> None:
        """Ignore the signal in a worker that starts."""
        signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def local_cluster(workers: int, *, memory_bytes: int) -> Iterator[Client]:
    """Run worker processes on this machine for as long as the block lasts.

    Args:
        workers: How many; each judges one partition at a time.
        memory_bytes: Memory of each; one that needs more is ended and started again.
    """
    # Dask is silent only until its cluster is closed; connections that break then have a traceback.
    for handler in logging.getLogger("distributed").handlers:
        handler.setLevel(logging.CRITICAL)
    with ExitStack() as stack:
        directory = stack.enter_context(tempfile.TemporaryDirectory(prefix="weavability-"))
        stack.enter_context(dask.config.set(_NO_PAGES | {"temporary-directory": directory}))
        cluster = stack.enter_context(
            LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                host=_LOOPBACK,
                dashboard_address=None,
                scheduler_kwargs={"dashboard_address": f"{_LOOPBACK}:0"},
                memory_limit=memory_bytes,
                silence_logs=logging.CRITICAL,
                security=True,  # without it, any user of this machine could give workers code
            )
        )
        client = stack.enter_context(Client(cluster))
        client.register_plugin(_IgnoreInterrupts())
        yield client


@contextmanager
def cluster_at(address: str) -> Iterator[Client]:
    """Use the workers of a scheduler.

    Raises:
        ArchiveError: It does not answer, or has no workers.
    """
    try:
        client = Client(address, timeout=CONNECT_WITHIN_S)
    except (OSError, ValueError, TimeoutError) as error:
        raise ArchiveError(f"No scheduler answers at {address}: {error}") from None
    with client:
        try:
            client.wait_for_workers(1, timeout=CONNECT_WITHIN_S)
        except TimeoutError:
            raise ArchiveError(f"The scheduler at {address} has no workers.") from None
        yield client


def judge_all(client: Client, tasks: Sequence[Task]) -> Iterator[tuple[Task, str | None]]:
    """Judge partitions; yield each when it is done, with what went wrong.

    A partition whose worker ends under way is judged again by another.
    """
    futures = {
        client.submit(judge_partition, task, pure=False, retries=_RETRIES): task for task in tasks
    }
    for future in as_completed(futures):
        error = future.exception()
        yield futures[future], None if error is None else _words(error)


def _words(error: BaseException) -> str:
    match error:
        case ArchiveError():
            return str(error)
        case KilledWorker():
            return "every worker that judged it was ended; give workers more memory"
    return f"{type(error).__name__}: {error}"
