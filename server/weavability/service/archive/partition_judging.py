"""The judging of a partition: what a worker does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from functools import lru_cache
from operator import itemgetter
from pathlib import Path
from threading import Lock
from typing import Any, Final

import numpy as np
import orjson
import pyarrow as pa
from numpy.typing import NDArray

from weavability.answers.caution import CAUTION
from weavability.answers.columns import SEVERITY_RANKS, JudgedColumns, judge_columns
from weavability.answers.validation import ruleset
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Verdict
from weavability.looms.loom import Loom
from weavability.looms.thresholds import Thresholds, put_in_force, shipped
from weavability.service.archive.archive_folder import (
    COUNTS,
    REFUSED,
    VERDICTS,
    ArchiveError,
    Job,
    parquet_file,
    part,
    read_job,
)
from weavability.service.archive.archived_order import ArchivedOrderSchema
from weavability.service.archive.order_files import Partition, entries
from weavability.service.batches.items import Entry, reference_in
from weavability.service.http import problems
from weavability.service.http.failures import problem_for
from weavability.service.http.problems import FieldError, ProblemError
from weavability.service.schemas.loom_schema import LoomSchema
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

VERDICT_WORDS: Final = (*(each.value for each in Verdict), "not_judged")
"""Verdicts in the order of their numbers; a pair that cannot be judged, -1, is the last."""

NUMBERS: Final = {
    "speed_picks_per_min": "speed_picks_per_min",
    "insertion_rate_m_per_min": "insertion_rate_m_per_min",
    "output_m_per_h": "output_m_per_h",
    "hours_for_order": "hours",
    "reed_width_cm": "reed_width_cm",
    "reed_dents_per_10cm": "dents_per_10cm",
    "tightness_pct": "tightness_pct",
}
"""The numbers that are kept of every pair, named as in a sheet of reports; and their names in the
core."""

VERDICT_SCHEMA: Final = pa.schema(
    [
        pa.field("row", pa.int64(), nullable=False),
        pa.field("reference", pa.string()),
        pa.field("loom_id", pa.dictionary(pa.int16(), pa.string()), nullable=False),
        pa.field("verdict", pa.dictionary(pa.int8(), pa.string()), nullable=False),
        pa.field("severity", pa.int8(), nullable=False),
        *(pa.field(name, pa.float64()) for name in NUMBERS),
        *(pa.field(code.value, pa.int8(), nullable=False) for code in CheckCode),
    ]
)
"""Columns of the verdicts, one row a pair; severities are 0 none, 1 note, 2 warning, 3 error."""

REFUSED_SCHEMA: Final = pa.schema(
    [
        pa.field("row", pa.int64(), nullable=False),
        *(
            pa.field(name, pa.string())
            for name in ("reference", "problem", "pointer", "reason", "given", "allowed")
        ),
    ]
)
"""Columns of the refused orders, one row a fault."""

_PAIRS_A_BLOCK: Final = 60_000
_MOST_ORDERS_A_BLOCK: Final = 2_500
_CROSSINGS_A_BLOCK: Final = 16_000_000
_SCHEMA: Final = ArchivedOrderSchema()
_one_at_a_time = Lock()
"""Thresholds hold for a process, and another scheduler's worker may have several threads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A partition to judge, as it is sent to a worker.

    Attributes:
        source: The file of orders, as the worker sees it.
        folder: The folder of the job, as the worker sees it.
        job_digest: Digest of the job in the folder.
        partition: The rows to judge.
    """

    source: Path
    folder: Path
    job_digest: str
    partition: Partition


@dataclass(slots=True)
class _Tally:
    """Counts of a partition, from which the summary is made."""

    looms: int
    orders: int = 0
    refused: int = 0
    woven_nowhere: int = 0
    verdicts: NDArray[np.int64] = field(init=False)
    codes: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        self.verdicts = np.zeros((self.looms, len(VERDICT_WORDS)), np.int64)
        self.codes = np.zeros((self.looms, len(CheckCode), len(SEVERITY_RANKS)), np.int64)

    def add(self, judged: JudgedColumns, kept: Sequence[int]) -> None:
        """Count the orders of a block that were judged."""
        verdicts, severities = judged.verdicts[kept], judged.severities[kept]
        self.orders += len(kept)
        self.woven_nowhere += int((verdicts == VERDICT_WORDS.index("not_weavable")).all(1).sum())
        for place in range(len(VERDICT_WORDS)):
            number = place if place < len(Verdict) else -1
            self.verdicts[:, place] += (verdicts == number).sum(0)
        columns = [judged.codes.index(code) for code in CheckCode]
        for place, rank in enumerate(SEVERITY_RANKS.values()):
            self.codes[:, :, place] += (severities == rank).sum(0)[:, columns]

    def written(self) -> bytes:
        """Return the counts as JSON."""
        return orjson.dumps(
            {
                "orders": self.orders,
                "refused": self.refused,
                "woven_nowhere": self.woven_nowhere,
                "verdicts": self.verdicts,
                "codes": self.codes,
            },
            option=orjson.OPT_SERIALIZE_NUMPY,
        )


@dataclass(slots=True)
class _Block:
    """Some orders that are judged together.

    Attributes:
        size: How many there are, readable or not.
        crossings: Of the weaves of all.
        rows: Those that can be read, each with its row in the file.
        faults: Those of the others, as they are written.
    """

    size: int = 0
    crossings: int = 0
    rows: list[tuple[int, Construction]] = field(default_factory=list)
    faults: list[dict[str, Any]] = field(default_factory=list)


def judge_partition(task: Task) -> None:
    """Judge a partition on every loom; write its verdicts and its refused orders.

    Raises:
        ArchiveError: The worker has other rules than the job, or a file cannot be read or written.
    """
    try:
        job = read_job(task.folder, task.job_digest)
        _judge_and_write(task, job)
    except (OSError, pa.ArrowException) as error:
        raise ArchiveError(f"a file cannot be read or written: {error}") from None
    except (InputError, ProblemError) as error:
        raise ArchiveError(f"the file of orders cannot be read: {error}") from None


def _judge_and_write(task: Task, job: Job) -> None:
    looms = _looms(task.folder, task.job_digest)
    tally = _Tally(len(looms))
    found = entries(task.source, job.input_form, task.partition)
    with (
        _writing(task, REFUSED, REFUSED_SCHEMA) as refusals,
        _writing(task, VERDICTS, VERDICT_SCHEMA) as verdicts,
    ):
        for block in _blocks(found, len(looms)):
            judged = _judged(block, looms, job)
            kept = [place for place in range(len(block.rows)) if place not in judged.refused]
            tally.add(judged, kept)
            tally.refused += block.size - len(kept)
            verdicts.write_batch(_verdicts(block, kept, looms, judged))
            refusals.write_batch(_refusals(block))
        verdicts.add_key_value_metadata({COUNTS: tally.written(), b"caution": CAUTION.encode()})


def _writing(task: Task, kind: str, schema: pa.Schema) -> AbstractContextManager[Any]:
    return parquet_file(task.folder, part(task.folder, kind, task.partition), schema)


@lru_cache(maxsize=4)
def _looms(folder: Path, job_digest: str) -> tuple[Loom, ...]:
    schema = LoomSchema()
    return tuple(schema.read(each) for each in read_job(folder, job_digest).looms)


@lru_cache(maxsize=4)
def _thresholds(replaced: tuple[tuple[str, float], ...]) -> Thresholds:
    return Thresholds(usual=replace(shipped().usual, **dict(replaced)), replaced=replaced)


def _blocks(found: Iterator[Entry], looms: int) -> Iterator[_Block]:
    """Yield the orders block by block, so that the memory in use is bounded."""
    size = max(1, min(_MOST_ORDERS_A_BLOCK, _PAIRS_A_BLOCK // looms))
    block = _Block()
    for entry in found:
        _read(entry, block)
        if block.size == size or block.crossings > _CROSSINGS_A_BLOCK:
            yield block
            block = _Block()
    if block.size:
        yield block


def _read(entry: Entry, block: _Block) -> None:
    """Read an order; whatever is wrong with it, the others go on."""
    block.size += 1
    given: object = None
    try:
        given = entry.read()
        order = _SCHEMA.read(given).construction
    except Exception as error:
        block.faults.extend(_faults(entry.line, error, entry.reference or reference_in(given)))
    else:
        block.rows.append((entry.line, order))
        block.crossings += order.weave.matrix.size


def _faults(row: int, error: Exception, reference: str | None) -> Iterator[dict[str, Any]]:
    """Yield the faults of an order in the words of the service, one a row."""
    found = problem_for(error) or ProblemError(
        kind=problems.INTERNAL_ERROR,
        detail=say(
            "problem.not_judged", "The order could not be judged: {error}.", error=repr(error)
        ),
    )
    shared = {"row": row, "reference": reference, "problem": found.kind.slug}
    if not found.faults:
        yield shared | {"pointer": "", "reason": found.detail}
    for each in map(FieldError.of, found.faults[: problems.MOST_ERRORS]):
        yield shared | {
            "pointer": each.pointer,
            "reason": each.message,
            "given": _text(each.given),
            "allowed": _text(each.allowed),
        }


def _text(value: object) -> str | None:
    if value is None or isinstance(value, str):
        return value
    return orjson.dumps(value, default=str).decode()


def _judged(block: _Block, looms: Sequence[Loom], job: Job) -> JudgedColumns:
    with _one_at_a_time:
        put_in_force(_thresholds(tuple(sorted(job.thresholds.items()))))
        if ruleset() != job.ruleset:
            raise ArchiveError(
                f"the worker has other rules ({ruleset()}) than the command ({job.ruleset}); "
                "install the same version of weavability for both"
            )
        try:
            judged = _columns(block, looms)
        except Exception:  # a fault of ours; find the orders that meet it, and judge the others
            block.rows = [each for each in block.rows if _can_be_judged(*each, looms, block)]
            judged = _columns(block, looms)
    for place, error in judged.refused.items():
        row, order = block.rows[place]
        block.faults.extend(_faults(row, error, order.reference))
    return judged


def _columns(block: _Block, looms: Sequence[Loom]) -> JudgedColumns:
    orders = [order for _, order in block.rows]
    return judge_columns(orders, looms, numbers=tuple(NUMBERS.values()))


def _can_be_judged(row: int, order: Construction, looms: Sequence[Loom], block: _Block) -> bool:
    try:
        judge_columns([order], looms)
    except Exception as error:
        block.faults.extend(_faults(row, error, order.reference))
        return False
    return True


def _verdicts(
    block: _Block, kept: Sequence[int], looms: Sequence[Loom], judged: JudgedColumns
) -> pa.RecordBatch:
    """Return the pairs of a block, each order with all its looms."""
    each, places = len(looms), np.array(kept, dtype=np.int64)
    rows = np.array([block.rows[place][0] for place in kept], dtype=np.int64)
    references = pa.array([block.rows[place][1].reference for place in kept], pa.string())
    severities = judged.severities[places]
    columns: dict[str, Any] = {
        "row": np.repeat(rows, each),
        "reference": references.take(pa.array(np.repeat(np.arange(len(kept)), each))),
        "loom_id": pa.DictionaryArray.from_arrays(
            pa.array(np.tile(np.arange(each, dtype=np.int16), len(kept))),
            pa.array([loom.loom_id for loom in looms]),
        ),
        "verdict": pa.DictionaryArray.from_arrays(
            pa.array((judged.verdicts[places].ravel() % len(VERDICT_WORDS)).astype(np.int8)),
            pa.array(VERDICT_WORDS),
        ),
        "severity": severities.max(2).ravel(),
    }
    for name, in_core in NUMBERS.items():
        numbers = judged.numbers[in_core][places].ravel()
        columns[name] = pa.array(numbers, mask=~np.isfinite(numbers))
    for place, code in enumerate(judged.codes):
        columns[code.value] = severities[:, :, place].ravel()
    arrays = [pa.array(columns[name]) for name in VERDICT_SCHEMA.names]
    return pa.RecordBatch.from_arrays(arrays, schema=VERDICT_SCHEMA)


def _refusals(block: _Block) -> pa.RecordBatch:
    block.faults.sort(key=itemgetter("row"))
    return pa.RecordBatch.from_pylist(block.faults, schema=REFUSED_SCHEMA)
