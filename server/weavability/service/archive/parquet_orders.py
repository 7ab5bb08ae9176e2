"""Orders in Parquet: the columns of a sheet, one order a row, numbers and lists as such."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq

from weavability.service.batches.csv_columns import Column
from weavability.service.batches.csv_grammar import Kind, put, read_cell
from weavability.service.batches.csv_orders import columns_of
from weavability.service.batches.items import Entry
from weavability.service.http import problems
from weavability.service.http.json_bodies import parse
from weavability.service.http.problems import ProblemError
from weavability.textiles.sentences import say

_ROWS_A_READ: Final = 1_000
_BUFFER_BYTES: Final = 2**20
_LISTED: Final = frozenset({Kind.LIST, Kind.THREADING, Kind.WEAVE})


def spans(path: Path, *, rows_each: int) -> Iterator[tuple[int, int, int, int]]:
    """Yield first row, last row and number of rows of each partition; see :func:`entries`."""
    with _opened(path) as file:
        columns_of(file.schema_arrow.names)
        rows = file.metadata.num_rows
    for first in range(1, rows + 1, rows_each):
        last = min(rows, first + rows_each - 1)
        yield first, last, last - first + 1, 0


def entries(path: Path, *, first: int, last: int) -> Iterator[Entry]:
    """Yield the orders of some rows, counted from 1, as they are read.

    Raises:
        InputError: Columns are unknown, or there twice.
        OSError: The file cannot be read.
        ProblemError: The file is not Parquet, or is damaged.
    """
    with _opened(path) as file:
        headings = file.schema_arrow.names
        columns = columns_of(headings)
        groups, number = _groups(file.metadata, first, last)
        for batch in file.iter_batches(batch_size=_ROWS_A_READ, row_groups=groups):
            begin = max(first, number)
            stretch = batch.slice(begin - number, max(0, last - begin + 1))
            for place, row in enumerate(stretch.to_pylist(), start=begin):
                yield _entry(columns, [row[name] for name in headings], place)
            number += batch.num_rows


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open a Parquet file, so that large row groups are read piece by piece."""
    try:
        with pq.ParquetFile(path, pre_buffer=False, buffer_size=_BUFFER_BYTES) as file:
            yield file
    except pa.ArrowException as error:
        raise ProblemError(
            kind=problems.UNSUPPORTED_MEDIA_TYPE,
            detail=say(
                "problem.not_parquet",
                "{file} is not Parquet, or is damaged: {error}",
                file=path.name,
                error=str(error),
            ),
        ) from None


def _groups(metadata: Any, first: int, last: int) -> tuple[list[int], int]:
    """Return the row groups that hold some rows, and the number of the first row in them."""
    found: list[int] = []
    begin = number = 1
    for group in range(metadata.num_row_groups):
        beyond = number + metadata.row_group(group).num_rows
        if number <= last and first < beyond:
            begin = begin if found else number
            found.append(group)
        number = beyond
    return found, begin


def _entry(columns: Sequence[Column | None], cells: Sequence[object], number: int) -> Entry:
    pairs = zip(columns, cells, strict=True)
    named = next((cell for place, cell in pairs if place and place.name == "reference"), None)
    return Entry(
        line=number,
        read=partial(_request, columns, cells),
        reference=None if named is None else str(named),
    )


def _request(columns: Sequence[Column | None], cells: Sequence[object]) -> Mapping[str, Any]:
    """Return the JSON request of a row; an empty cell states nothing."""
    request: dict[str, Any] = {}
    for place, cell in zip(columns, cells, strict=True):
        if cell is None or (isinstance(cell, str) and not cell.strip()):
            continue
        if place is None:
            raise ProblemError(
                kind=problems.UNREADABLE_CSV,
                detail=say(
                    "problem.no_heading", "The cell {cell!r} has no heading.", cell=str(cell)[:40]
                ),
            )
        put(request, place.path, _value(place.kind, cell))
    return request


def _value(kind: Kind, cell: object) -> object:
    """Return the JSON value of a cell, which has a type of its own or is text as in a sheet."""
    match cell:
        case str() if kind in _LISTED and cell.lstrip().startswith(("[", "{")):
            return parse(cell.encode())
        case str():
            return read_cell(kind, cell.strip(), decimal_comma=False)
        case int() if kind is Kind.TEXT and not isinstance(cell, bool):
            return str(cell)
        case Decimal():
            return float(cell)
    return cell
