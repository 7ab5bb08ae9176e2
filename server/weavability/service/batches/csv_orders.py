"""Reading orders from comma-separated values (RFC 4180): one row an order."""

from __future__ import annotations

import csv
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, partial
from itertools import count, islice
from typing import Any, Final

from weavability.service.batches.csv_columns import Column, column, columns, yarn_fields
from weavability.service.batches.csv_grammar import (
    MOST_LINES_A_ROW,
    SEPARATORS,
    Kind,
    has_decimal_comma,
    has_line_end_inside,
    is_remark,
    put,
    read_cell,
    separator_of,
    stated_separator,
)
from weavability.service.batches.items import Entry, refuse, too_long
from weavability.service.batches.number_advice import advice
from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.suggestions import did_you_mean
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import Sentence, say

FIRST_ROW: Final = 2
"""Number of the row below the header."""

MOST_COLUMNS: Final = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSheet:
    """Which columns a sheet of orders may have.

    Attributes:
        more: Columns beside those of every sheet, by their names.
        unread: Names of columns of every sheet that say nothing here: they are left unread.
    """

    more: Mapping[str, Column] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()

    def column(self, heading: str) -> Column | None:
        """Return the column of a heading, in whatever case; ``None`` if there is none."""
        return self.more.get(heading.lower()) or column(heading)

    def names(self) -> Iterator[str]:
        """Yield the name of every column but those of the yarns."""
        yield from (name for name in columns() if name not in self.unread)
        yield from self.more


EVERY_SHEET: Final = OrderSheet()
"""Of orders that are held against one loom each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The layout of a file of orders.

    Attributes:
        delimiter: What separates two cells.
        columns: The columns in their order; ``None`` for one without a heading, or ignored.
        marked: Whether it began with a byte order mark, as spreadsheets write and want it.
        ignored: The headings of columns that are not read, by their place.
    """

    delimiter: str
    columns: tuple[Column | None, ...]
    marked: bool
    ignored: Mapping[int, str] = field(default_factory=dict)

    @property
    def decimal_comma(self) -> bool:
        """Whether numbers may have a comma: if something else separates the cells."""
        return has_decimal_comma(self.delimiter)

    def request(self, cells: Sequence[str]) -> dict[str, Any]:
        """Return the JSON request of a row.

        Raises:
            ProblemError: The row has cells without a heading, or ends before the last heading.
        """
        if len(cells) < len(self.columns):
            raise _bad_row(
                say(
                    "problem.row_cut_off",
                    "The row has {cells} cells, the header {columns}. It may be cut "
                    "off; leave cells empty where there is nothing to state.",
                    cells=len(cells),
                    columns=len(self.columns),
                )
            )
        if any(cell.strip() for cell in cells[len(self.columns) :]):
            raise _bad_row(
                say(
                    "problem.row_too_long",
                    "The row has {cells} cells, the header {columns}. A cell that "
                    "contains {delimiter!r} must be in quotation marks.",
                    cells=len(cells),
                    columns=len(self.columns),
                    delimiter=self.delimiter,
                )
            )
        request: dict[str, Any] = {}
        for number, (place, cell) in enumerate(
            zip(self.columns, map(str.strip, cells), strict=False)
        ):
            if cell and place is None and number not in self.ignored:
                raise _bad_row(
                    say("problem.no_heading", "The cell {cell!r} has no heading.", cell=cell[:40])
                )
            if cell and place is not None:
                value = read_cell(place.kind, cell, decimal_comma=self.decimal_comma)
                put(request, place.path, value)
        return request

    def in_cells(self, error: InputError) -> InputError:
        """Return the faults of a row in the words of a sheet: a cell needs no quotation marks."""
        numbers = {each.pointer: each for each in self.columns if each and each.kind is Kind.NUMBER}
        return InputError(
            replace(fault, message=self._number_message(numbers[fault.pointer], fault.given))
            if fault.pointer in numbers and isinstance(fault.given, str)
            else fault
            for fault in error.faults
        )

    def _number_message(self, place: Column, cell: str) -> Sentence:
        return say(
            "fault.sheet.not_a_number",
            "{field} must be a number. {advice}",
            field=place.name,
            advice=advice(cell, decimal_comma=self.decimal_comma),
        )

    def column_of(self, pointer: str) -> str:
        """Return the heading of the column of a pointer, or of the nearest part around it."""
        known = {**{each.pointer: each.name for each in self.columns if each}, **_headings()}
        while pointer and pointer not in known:
            pointer = pointer.rpartition("/")[0]
        return known.get(pointer, "")


@cache
def _headings() -> Mapping[str, str]:
    every = {each.pointer: each.name for each in columns().values()}
    for system in ("warp", "weft"):
        every[f"/construction/{system}/yarns"] = f"{system}_yarn_A"
    return every


def _bad_row(detail: Sentence) -> ProblemError:
    return ProblemError(kind=problems.UNREADABLE_CSV, detail=detail)


class Rows:
    """Splits lines into rows, and goes on after a row that cannot be read.

    Args:
        lines: The lines, from the beginning of a row.
        delimiter: What separates two cells.
        longest: Bytes that a row may have.
        first: Number of the first row; the header is row 1.
    """

    def __init__(
        self, lines: Iterator[bytes | None], *, delimiter: str, longest: int, first: int
    ) -> None:
        self._lines = lines
        self._delimiter = delimiter
        self._longest = longest
        self._first = first
        self._read = 0
        self._waiting: deque[bytes | None] = deque()
        self._taken: list[bytes | None] = []

    @property
    def lines_used(self) -> int:
        """How many lines the rows so far take; blank ones that were passed over count."""
        return self._read - len(self._waiting)

    def __iter__(self) -> Iterator[tuple[int, list[str] | ProblemError]]:
        """Yield each row with its number; blank rows are passed over."""
        for number in count(self._first):
            self._taken = []
            reader = csv.reader(self._text(), delimiter=self._delimiter, strict=True)
            try:
                cells = next(reader)
            except StopIteration:
                return
            except (csv.Error, UnicodeDecodeError, ProblemError) as error:
                # Perhaps a quotation mark too many: only its own line is lost, the rest read anew.
                self._waiting.extendleft(reversed(self._taken[1:]))
                is_split = isinstance(error, csv.Error) and self._has_line_end_inside()
                yield number, _line_end_inside(number) if is_split else _unreadable(error)
            else:
                if any(map(str.strip, cells)):
                    yield number, cells

    def _has_line_end_inside(self) -> bool:
        return has_line_end_inside((each.decode() for each in self._taken if each), self._delimiter)

    def _text(self) -> Iterator[str]:
        """Yield the lines of one row; the reader takes as many as the quotation marks need."""
        length = 0
        while len(self._taken) < MOST_LINES_A_ROW:
            if not self._waiting:
                self._waiting.extend(islice(self._lines, 1))
                self._read += len(self._waiting)
            if not self._waiting:
                return
            line = self._waiting.popleft()
            self._taken.append(line)
            length += self._longest + 1 if line is None else len(line)
            if line is None or length > self._longest:
                raise too_long(self._longest)
            yield line.decode() + "\n"
        raise csv.Error(f"no quotation mark ends a cell within {MOST_LINES_A_ROW} lines")


def _line_end_inside(row: int) -> ProblemError:
    return _bad_row(
        say(
            "problem.row_has_line_end",
            "Row {row} has a line end of its own inside, a carriage return (CR). Put the cell that "
            "contains it in quotation marks, or end every row with LF or CRLF.",
            row=row,
        )
    )


def _unreadable(error: Exception) -> ProblemError:
    if isinstance(error, ProblemError):
        return error
    if isinstance(error, UnicodeDecodeError):
        return _bad_row(
            say("problem.row_not_utf8", "The row is not UTF-8. Save the sheet as CSV in UTF-8.")
        )
    return _bad_row(
        say(
            "problem.row_not_csv",
            "The row is not CSV: {error}; check quotation marks.",
            error=str(error),
        )
    )


def read_orders(
    lines: Iterator[bytes | None],
    *,
    longest: int,
    marked: bool,
    ignore_columns: bool = False,
    orders: OrderSheet = EVERY_SHEET,
) -> tuple[Sheet, Iterator[Entry]]:
    """Read the header of a file of orders; return its layout, and its rows as they come.

    Args:
        lines: The lines of the file.
        longest: Bytes that a row may have.
        marked: Whether the file began with a byte order mark.
        ignore_columns: Whether columns with an unknown heading are left unread.
        orders: The columns that it may have.

    Raises:
        InputError: A heading is unknown, or there twice.
        ProblemError: There is no header that can be read.
    """
    sheet = read_header(lines, marked=marked, ignore_columns=ignore_columns, orders=orders)
    rows = Rows(lines, delimiter=sheet.delimiter, longest=longest, first=FIRST_ROW)
    return sheet, (row_entry(sheet, number, row) for number, row in rows)


def read_header(
    lines: Iterator[bytes | None],
    *,
    marked: bool,
    ignore_columns: bool = False,
    orders: OrderSheet = EVERY_SHEET,
) -> Sheet:
    """Read the header of a file of orders; return its layout.

    It is the first line that is neither blank nor a remark; see :func:`is_remark`. A line ``sep=;``
    before it states what separates the cells.

    Args:
        lines: The lines of the file, from which those to the header are taken.
        marked: Whether the file began with a byte order mark.
        ignore_columns: Whether columns with an unknown heading are left unread.
        orders: The columns that it may have.

    Raises:
        InputError: A heading is unknown, or there twice.
        ProblemError: There is no header that can be read.
    """
    delimiter = text = ""
    try:
        text = _first_of(lines)
        stated = stated_separator(text)
        text = _first_of(lines) if stated else text
        delimiter = stated or separator_of(text)
        headings = [
            each.strip() for each in next(csv.reader([text], delimiter=delimiter, strict=True))
        ]
    except (UnicodeDecodeError, csv.Error, StopIteration):
        headings = []
        if has_line_end_inside([text], delimiter or SEPARATORS[0]):
            raise _line_end_inside(FIRST_ROW - 1) from None
    if not any(headings) or len(headings) > MOST_COLUMNS:
        raise ProblemError(
            kind=problems.UNREADABLE_CSV,
            detail=say(
                "problem.no_header",
                "The first row must be a header in UTF-8 of 1 to {most_columns} "
                "columns, such as "
                "reference,loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A.",
                most_columns=MOST_COLUMNS,
            ),
        )
    ignored = {
        number: heading
        for number, heading in enumerate(headings)
        if heading and _is_unread(orders, heading, ignore_columns=ignore_columns)
    }
    read = ["" if number in ignored else each for number, each in enumerate(headings)]
    return Sheet(
        delimiter=delimiter, columns=columns_of(read, orders), marked=marked, ignored=ignored
    )


def _is_unread(orders: OrderSheet, heading: str, *, ignore_columns: bool) -> bool:
    found = orders.column(heading)
    return ignore_columns if found is None else found.name in orders.unread


def _first_of(lines: Iterator[bytes | None]) -> str:
    """Return the next line that says something; empty if it is too long or there is none."""
    for line in lines:
        text = "" if line is None else line.decode()
        if line is None or (text.strip() and not is_remark(text)):
            return text
    return ""


def columns_of(
    headings: Sequence[str], orders: OrderSheet = EVERY_SHEET
) -> tuple[Column | None, ...]:
    """Return the columns of headings in their order; ``None`` for an empty one.

    Raises:
        InputError: A heading is unknown, or there twice.
    """
    faults = list(_header_faults(headings, orders))
    if faults:
        raise InputError(faults)
    return tuple(orders.column(each) for each in headings)


def _header_faults(headings: Sequence[str], orders: OrderSheet) -> Iterator[Fault]:
    known = [
        *orders.names(),
        *(f"{each}_{word}_A" for each in ("warp", "weft") for word in yarn_fields()),
    ]
    seen: set[str] = set()
    for heading in filter(None, headings):
        found = orders.column(heading)
        if found is None:
            message = say(
                "fault.sheet.unknown_column",
                "There is no column {heading!r}.{hint}",
                heading=heading[:80],
                hint=did_you_mean(heading, known),
            )
            yield Fault("", message, heading, known)
            continue
        is_second = found.name in seen
        seen.add(found.name)
        if is_second:
            yield Fault(
                "",
                say(
                    "fault.sheet.column_twice",
                    "The column {heading} is there twice; remove one.",
                    heading=heading,
                ),
                heading,
            )


def row_entry(sheet: Sheet, number: int, row: list[str] | ProblemError) -> Entry:
    """Return a row as an item of a batch."""
    if isinstance(row, ProblemError):
        return Entry(line=number, read=partial(refuse, row))
    return Entry(
        line=number,
        read=partial(sheet.request, row),
        reference=_reference(sheet, row),
        faults=sheet.in_cells,
    )


def _reference(sheet: Sheet, row: Sequence[str]) -> str | None:
    for place, cell in zip(sheet.columns, row, strict=False):
        if place is not None and place.name == "reference":
            return cell.strip() or None
    return None
