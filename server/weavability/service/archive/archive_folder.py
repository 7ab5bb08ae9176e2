"""The folder of an archive's results: what it is the result of, and which partitions are there."""

from __future__ import annotations

import fcntl
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO, Final
from uuid import uuid4

import orjson
import pyarrow as pa
import pyarrow.parquet as pq

from weavability.service.archive.order_files import Form, Partition

VERDICTS: Final = "verdicts"
REFUSED: Final = "refused"
SUMMARY: Final = "summary.json"
COUNTS: Final = b"weavability.counts"
"""Key of a partition's counts in the metadata of its file of verdicts."""

_JOB: Final = "archive.json"
_UNFINISHED: Final = ".unfinished"
_SAME: Final = {
    "input_digest": "another file of orders",
    "park_digest": "another loom park",
    "ruleset": "other rules or thresholds",
    "orders_each": "partitions of another size",
    "version": "another version of weavability",
}
"""What must be alike to go on in a folder."""


class ArchiveError(Exception):
    """The archive cannot be judged like this; the message is for the user."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a folder is the result of; written into it, and read by every worker.

    Attributes:
        version: Version of the package.
        input_name: Name of the file of orders.
        input_form: How they are written.
        input_digest: SHA-256 digest of its content.
        park_digest: Digest of the loom park.
        ruleset: Digest of the rules, thresholds included.
        orders_each: Orders of a partition.
        thresholds: Those that the mill has set itself, by name.
        looms: The park, loom by loom, as stated.
    """

    version: str
    input_name: str
    input_form: Form
    input_digest: str
    park_digest: str
    ruleset: str
    orders_each: int
    thresholds: Mapping[str, float]
    looms: tuple[Mapping[str, Any], ...]


@lru_cache(maxsize=4)
def read_job(folder: Path, _digest: str) -> Job:
    """Return the job of a folder; the digest of its file says whether it is known already."""
    members = orjson.loads((folder / _JOB).read_bytes())
    return Job(**members | {"input_form": Form(members["input_form"])})


@contextmanager
def prepared(folder: Path, job: Job) -> Iterator[None]:
    """Make or take up the folder of a job, for this process alone as long as the block lasts.

    Raises:
        ArchiveError: The folder cannot be written, is in use, or holds something else.
    """
    with ExitStack() as stack:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            _refuse_others(folder, job)
            locked = stack.enter_context((folder / _JOB).open("ab"))
            _lock(locked, folder)
            for name in (VERDICTS, REFUSED, _UNFINISHED):
                (folder / name).mkdir(exist_ok=True)
            if not locked.tell():
                locked.write(orjson.dumps(job, option=orjson.OPT_INDENT_2))
                locked.flush()
        except OSError as error:
            raise ArchiveError(f"{folder} cannot be written: {error.strerror or error}") from None
        stack.callback(shutil.rmtree, folder / _UNFINISHED, ignore_errors=True)
        yield


def _lock(file: BinaryIO, folder: Path) -> None:
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise ArchiveError(f"Another command writes into {folder} at present.") from None


def write_whole(folder: Path, name: str, content: bytes) -> None:
    """Write a file of the folder that appears under its name when it is complete."""
    unfinished = folder / _UNFINISHED / name
    unfinished.write_bytes(content)
    unfinished.replace(folder / name)


def _refuse_others(folder: Path, job: Job) -> None:
    path = folder / _JOB
    if not path.exists():
        if any(folder.iterdir()):
            raise ArchiveError(
                f"{folder} holds other files. Name a new or empty folder with --out."
            )
        return
    try:
        before = orjson.loads(path.read_bytes() or b"{}")
    except orjson.JSONDecodeError:
        raise ArchiveError(f"{path} is damaged. Name a new folder with --out.") from None
    if not before:  # ended before it was written
        return
    for name, words in _SAME.items():
        if before.get(name) != getattr(job, name):
            raise ArchiveError(
                f"{folder} holds the results of {words} ({before.get(name)}, now "
                f"{getattr(job, name)}). Name a new folder with --out."
            )


def part(folder: Path, kind: str, partition: Partition) -> Path:
    """Return the file of a partition: its verdicts, or its refused orders."""
    return folder / kind / f"part-{partition.number:06}.parquet"


@contextmanager
def parquet_file(folder: Path, path: Path, schema: pa.Schema) -> Iterator[Any]:
    """Open a Parquet file for writing that appears under its name when it is complete.

    Args:
        folder: The folder of the job.
        path: The name.
        schema: Columns of the file.
    """
    unfinished = folder / _UNFINISHED / f"{path.stem}-{uuid4().hex}"
    try:
        with pq.ParquetWriter(unfinished, schema, compression="zstd") as writer:
            yield writer
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def counts_of(folder: Path, partition: Partition) -> Mapping[str, Any] | None:
    """Return the counts of a partition; ``None`` if it is not finished."""
    if not part(folder, REFUSED, partition).exists():
        return None
    try:
        metadata = pq.read_metadata(part(folder, VERDICTS, partition)).metadata
    except (OSError, pa.ArrowException):  # not there, or cut short when a machine went down
        return None
    counts: Mapping[str, Any] | None = orjson.loads((metadata or {}).get(COUNTS, b"null"))
    return counts


def first_refusals(
    folder: Path, partitions: Iterable[Partition], *, most: int
) -> list[Mapping[str, Any]]:
    """Return the first faults of refused orders, as rows of their table."""
    found: list[Mapping[str, Any]] = []
    for each in partitions:
        for batch in pq.ParquetFile(part(folder, REFUSED, each)).iter_batches(batch_size=most):
            found += batch.to_pylist()
            if len(found) >= most:
                return found[:most]
    return found
