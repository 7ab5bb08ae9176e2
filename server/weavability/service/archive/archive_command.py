"""``weavability-server archive``: a file of orders on every loom of a park."""

from __future__ import annotations

import argparse
import hashlib
import os
import signal
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any, Final

import orjson
from distributed import Client

from weavability import __version__
from weavability.answers.caution import CAUTION
from weavability.answers.validation import ruleset
from weavability.looms.thresholds import ThresholdFileError, put_in_force, read_thresholds
from weavability.service.archive.archive_folder import (
    REFUSED,
    SUMMARY,
    ArchiveError,
    Job,
    counts_of,
    first_refusals,
    prepared,
    write_whole,
)
from weavability.service.archive.archive_summary import Summary, summed
from weavability.service.archive.dask_cluster import cluster_at, judge_all, local_cluster
from weavability.service.archive.order_files import FORM_OF_SUFFIX, Form, Partition, cut, digest_of
from weavability.service.archive.partition_judging import Task
from weavability.service.http.problems import ProblemError
from weavability.service.requests.park import ParkError, load_park
from weavability.textiles.errors import InputError
from weavability_client.progress import Progress

DONE: Final = 0
SOME_REFUSED: Final = 1
WRONG_USE: Final = 2
INTERRUPTED: Final = 128 + signal.SIGINT
_ORDERS_EACH: Final = 5_000
_WORKER_MEMORY_MIB: Final = 1_024
_MOST_FAILURES_SHOWN: Final = 5
_MOST_REFUSALS_SHOWN: Final = 3


def main(arguments: Sequence[str] | None = None) -> int:
    """Judge an archive; 0 if every order was judged, 1 if some were refused, 2 if it cannot be."""
    options = _parser().parse_args(arguments)
    try:
        return _run(options)
    except (ArchiveError, ParkError, ThresholdFileError) as error:
        return _refuse(str(error))
    except KeyboardInterrupt:
        return INTERRUPTED


def _run(options: argparse.Namespace) -> int:
    if options.scheduler and options.workers is not None:
        raise ArchiveError("--workers is for processes of this machine; leave out --scheduler.")
    thresholds = read_thresholds(options.thresholds)
    put_in_force(thresholds)
    source = options.file.resolve()
    form = _form(source)
    partitions, digest = _cut(source, form, options.partition_orders)
    park = load_park(options.looms)
    job = Job(
        version=__version__,
        input_name=source.name,
        input_form=form,
        input_digest=digest,
        park_digest=park.digest,
        ruleset=ruleset(),
        orders_each=options.partition_orders,
        thresholds=dict(thresholds.replaced),
        looms=tuple(each.document for each in park.looms.values()),
    )
    folder = options.out.resolve()
    with prepared(folder, job):
        waiting = [each for each in partitions if counts_of(folder, each) is None]
        failures = _judge(options, _tasks(source, folder, job, waiting), partitions)
        if failures is None:
            return _interrupted(folder, partitions)
        if failures:
            return _failed(failures, of=len(partitions))
        summary = summed(job, filter(None, (counts_of(folder, each) for each in partitions)))
        document = orjson.dumps(summary.document(), option=orjson.OPT_INDENT_2)
        write_whole(folder, SUMMARY, document)
        refusals = first_refusals(folder, partitions, most=_MOST_REFUSALS_SHOWN)
    _print(summary, options.out)
    sys.stderr.writelines(map(_refusal, refusals))
    return SOME_REFUSED if summary.refused else DONE


def _form(source: Path) -> Form:
    form = FORM_OF_SUFFIX.get(source.suffix.lower())
    if form is None:
        raise ArchiveError(
            f"{source.name} has none of the endings {', '.join(FORM_OF_SUFFIX)}, which state how "
            "orders are written. Rename it."
        )
    return form


def _cut(source: Path, form: Form, orders_each: int) -> tuple[list[Partition], str]:
    try:
        partitions, digest = cut(source, form, orders_each=orders_each), digest_of(source)
    except OSError as error:
        raise ArchiveError(f"{source.name} cannot be read: {error.strerror or error}") from None
    except ProblemError as error:
        raise ArchiveError(f"{source.name}: {error}") from None
    except InputError as error:
        faults = (f"  {fault.given!r}: {fault.message}" for fault in error.faults)
        raise ArchiveError("\n".join([f"{source.name} cannot be used:", *faults])) from None
    if not partitions:
        raise ArchiveError(f"{source.name} has no orders.")
    return partitions, digest


def _tasks(source: Path, folder: Path, job: Job, waiting: Sequence[Partition]) -> list[Task]:
    digest = hashlib.sha256(orjson.dumps(job)).hexdigest()
    return [
        Task(source=source, folder=folder, job_digest=digest, partition=each) for each in waiting
    ]


def _judge(
    options: argparse.Namespace, tasks: Sequence[Task], partitions: Sequence[Partition]
) -> list[tuple[Task, str]] | None:
    """Judge what waits; return the partitions that failed, ``None`` if it was interrupted."""
    if not tasks:
        return []
    orders = sum(each.orders for each in partitions)
    done = orders - sum(task.partition.orders for task in tasks)
    failures = []
    try:
        with _ended_like_an_interrupt(), _cluster(options, len(tasks)) as client:
            progress = Progress(sys.stderr, elsewhere=False, before=done)
            progress(done, orders)
            for task, failure in judge_all(client, tasks):
                if failure is not None:
                    failures.append((task, failure))
                    continue
                done += task.partition.orders
                progress(done, orders)
    except KeyboardInterrupt:
        return None
    return failures


def _cluster(options: argparse.Namespace, tasks: int) -> AbstractContextManager[Client]:
    if options.scheduler:
        return cluster_at(options.scheduler)
    workers = options.workers or len(os.sched_getaffinity(0))
    return local_cluster(min(workers, tasks), memory_bytes=options.worker_memory_mib * 2**20)


@contextmanager
def _ended_like_an_interrupt() -> Iterator[None]:
    """Let SIGTERM end the command as Ctrl-C does: processes end, finished partitions stay."""
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _interrupted(folder: Path, partitions: Sequence[Partition]) -> int:
    finished = sum(counts_of(folder, each) is not None for each in partitions)
    sys.stderr.write(
        f"\nInterrupted: {finished} of {len(partitions)} partitions are finished and kept. "
        "Give the same command again to go on from there.\n"
    )
    return INTERRUPTED


def _failed(failures: Sequence[tuple[Task, str]], *, of: int) -> int:
    shown = [
        f"  rows {task.partition.first} to {task.partition.last}: {words}"
        for task, words in failures[:_MOST_FAILURES_SHOWN]
    ]
    return _refuse(
        "\n".join(
            [
                f"{len(failures)} of {of} partitions failed; those that are finished are kept.",
                *shown,
                "Give the same command again to go on from there.",
            ]
        )
    )


def _print(summary: Summary, out: Path) -> None:
    sys.stdout.write(
        f"{summary.tables()}\n"
        f"\n{_counted(summary.orders, 'order')} on {_counted(len(summary.verdicts), 'loom')}; "
        f"{summary.woven_nowhere} weavable on none; {summary.refused} refused, with their reasons "
        f"in {out / REFUSED}."
        f"\nRule set {summary.job.ruleset}, park {summary.job.park_digest}: "
        f"{out / SUMMARY}\n\n{CAUTION}\n"
    )


def _refusal(fault: Mapping[str, Any]) -> str:
    named = f" ({fault['reference']})" if fault["reference"] else ""
    pointer = f"{fault['pointer']}: " if fault["pointer"] else ""
    given = f" Given: {fault['given']}." if fault["given"] is not None else ""
    return f"refused: row {fault['row']}{named}: {pointer}{fault['reason']}{given}\n"


def _counted(count: int, name: str) -> str:
    return f"{count} {name}{'' if count == 1 else 's'}"


def _refuse(complaint: str) -> int:
    sys.stderr.write(f"weavability-server archive: {complaint}\n")
    return WRONG_USE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="weavability-server archive",
        description="Judge every order of a file on every loom of a park, and keep the verdicts "
        "as Parquet. A folder with finished partitions of the same orders, park and rules is "
        "taken up.",
        epilog="Example: weavability-server archive orders.csv --looms park.toml --out before. The "
        "columns of the results are in server/docs/archive.md. Exit status: 0 all orders judged, 1 "
        "some refused, 2 wrong use or trouble, 130 interrupted.",
    )
    parser.add_argument(
        "file",
        type=Path,
        metavar="FILE",
        help=f"orders, one a line or row: {', '.join(FORM_OF_SUFFIX)}",
    )
    parser.add_argument(
        "--looms", type=Path, required=True, metavar="FILE", help="loom park in TOML"
    )
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FOLDER", help="folder of the results"
    )
    parser.add_argument(
        "--thresholds", type=Path, metavar="FILE", help="the mill's own thresholds in TOML"
    )
    parser.add_argument(
        "--scheduler", metavar="ADDRESS",
        help="a running Dask scheduler, such as tcp://10.0.0.5:8786, whose workers see FILE and "
        "FOLDER under the same names (processes of this machine)",
    )  # fmt: skip
    parser.add_argument(
        "--workers", type=_positive, metavar="N", help="worker processes (one a processor)"
    )
    parser.add_argument(
        "--worker-memory-mib", type=_positive, default=_WORKER_MEMORY_MIB, metavar="N",
        help="memory of a worker process, which is ended and started again above it "
        "(%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--partition-orders", type=_positive, default=_ORDERS_EACH, metavar="N",
        help="orders of a partition: what is judged as a whole or not at all (%(default)s)",
    )  # fmt: skip
    return parser


def _positive(text: str) -> int:
    is_whole = text.isascii() and text.isdecimal()
    if not is_whole or not 1 <= int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError("must be from 1 to 1000000, in the digits 0 to 9")
    return int(text)
