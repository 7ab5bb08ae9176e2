"""Files of orders of any length, cut into partitions that are read each on its own."""

from __future__ import annotations

import codecs
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice
from pathlib import Path
from typing import BinaryIO, Final

from weavability.service.archive import parquet_orders
from weavability.service.batches.csv_orders import FIRST_ROW, Rows, Sheet, read_header, row_entry
from weavability.service.batches.items import Entry, json_entries
from weavability.service.http.streams import lines
from weavability.service.settings import Settings

LONGEST_LINE: Final = Settings().max_line_bytes
"""Bytes that a line or a row may have; the same as in a batch."""

_PIECE: Final = 2**20


class Form(StrEnum):
    """How the orders are written."""

    NDJSON = "ndjson"
    CSV = "csv"
    PARQUET = "parquet"


FORM_OF_SUFFIX: Final = {
    ".ndjson": Form.NDJSON,
    ".jsonl": Form.NDJSON,
    ".csv": Form.CSV,
    ".tsv": Form.CSV,
    ".parquet": Form.PARQUET,
}
"""The form by the end of the file's name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Partition:
    """Successive rows of a file.

    Attributes:
        number: Its place in the file, from 0.
        first: Number of its first row: of newline-delimited JSON the line, of CSV the row with the
            header as row 1, of Parquet the row, each counted from 1.
        last: Number of its last row.
        orders: Rows that are not blank.
        offset: Byte at which the first row begins; 0 for Parquet.
    """

    number: int
    first: int
    last: int
    orders: int
    offset: int


def digest_of(path: Path) -> str:
    """Return the SHA-256 digest of a file's content.

    Raises:
        OSError: The file cannot be read.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def cut(path: Path, form: Form, *, orders_each: int) -> list[Partition]:
    """Cut a file into partitions; the file is read once, and none of it is kept.

    Args:
        path: The file.
        form: How its orders are written.
        orders_each: Orders of a partition; the last may have fewer.

    Raises:
        InputError: Columns are unknown, or there twice.
        OSError: The file cannot be read.
        ProblemError: It has no header, or is not of its form.
    """
    match form:
        case Form.PARQUET:
            spans = parquet_orders.spans(path, rows_each=orders_each)
        case Form.CSV:
            spans = _sheet_spans(path, orders_each)
        case Form.NDJSON:
            spans = _line_spans(path, orders_each)
    return [
        Partition(number=number, first=first, last=last, orders=orders, offset=offset)
        for number, (first, last, orders, offset) in enumerate(spans)
    ]


def entries(path: Path, form: Form, partition: Partition) -> Iterator[Entry]:
    """Yield the orders of a partition as they are read; see :func:`cut` for the errors."""
    if form is Form.PARQUET:
        yield from parquet_orders.entries(path, first=partition.first, last=partition.last)
        return
    with path.open("rb") as file:
        sheet = _sheet(file) if form is Form.CSV else None
        file.seek(partition.offset)
        found = lines(file, longest=LONGEST_LINE)
        if sheet is None:
            of_partition = islice(found, partition.last - partition.first + 1)
            yield from json_entries(of_partition, longest=LONGEST_LINE, first=partition.first)
            return
        for number, row in _rows(found, sheet, first=partition.first):
            yield row_entry(sheet, number, row)
            if number == partition.last:
                return


def _sheet(file: BinaryIO) -> Sheet:
    """Read the header of a sheet from its beginning."""
    marked = _is_marked(file)
    return read_header(lines(file, longest=LONGEST_LINE), marked=marked)


def _is_marked(file: BinaryIO) -> bool:
    """Return whether a file begins with a byte order mark, and go back to its beginning."""
    found = file.read(len(codecs.BOM_UTF8)) == codecs.BOM_UTF8
    file.seek(0)
    return found


def _rows(found: Iterator[bytes | None], sheet: Sheet, *, first: int) -> Rows:
    return Rows(found, delimiter=sheet.delimiter, longest=LONGEST_LINE, first=first)


def _line_ends(file: BinaryIO) -> Iterator[tuple[int, bool]]:
    """Yield where each line ends, and whether it is blank; of a long one only a piece is kept."""
    at, blank, ended = 0, True, True
    while piece := file.readline(_PIECE):
        at += len(piece)
        blank = blank and not piece.strip()
        ended = piece.endswith(b"\n")
        if ended:
            yield at, blank
            blank = True
    if not ended:
        yield at, blank


def _line_spans(path: Path, orders_each: int) -> Iterator[tuple[int, int, int, int]]:
    first, orders, offset, number, end = 1, 0, 0, 0, 0
    with path.open("rb") as file:
        for number, (end, blank) in enumerate(_line_ends(file), start=1):
            orders += not blank
            if orders == orders_each:
                yield first, number, orders, offset
                first, orders, offset = number + 1, 0, end
    if orders:
        yield first, number, orders, offset


def _sheet_spans(path: Path, orders_each: int) -> Iterator[tuple[int, int, int, int]]:
    """Cut a sheet between rows, which quotation marks may spread over several lines.

    The rows are found by the reader that reads them later, so that both agree also on rows that
    are broken; the lines that they take are counted off beside it to find the bytes.
    """
    with path.open("rb") as file, path.open("rb") as again:
        marked = _is_marked(file)
        found = lines(file, longest=LONGEST_LINE)
        ends = _line_ends(again)
        offset = 0

        def to_the_header() -> Iterator[bytes | None]:
            nonlocal offset
            for line in found:
                offset, _ = next(ends)
                yield line

        sheet = read_header(to_the_header(), marked=marked)
        rows = _rows(found, sheet, first=FIRST_ROW)
        first, orders, used, number = FIRST_ROW, 0, 0, FIRST_ROW
        for number, _ in rows:
            orders += 1
            if orders == orders_each:
                yield first, number, orders, offset
                offset, _ = next(islice(ends, rows.lines_used - used - 1, None))
                first, orders, used = number + 1, 0, rows.lines_used
    if orders:
        yield first, number, orders, offset
