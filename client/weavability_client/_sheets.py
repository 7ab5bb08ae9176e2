"""Orders from a spreadsheet, and results into one: XLSX, as openpyxl reads and writes it."""

from __future__ import annotations

import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from weavability_client._columns import read_cells
from weavability_client.errors import UsageError

if TYPE_CHECKING:
    from types import ModuleType

ZIP: Final = b"PK\x03\x04"
"""How an XLSX file begins: it is a ZIP archive."""

LABELS: Final = frozenset({"cloth", "remark"})
"""Members and columns of an order that are for its readers only; they are not sent."""

MOST_UNPACKED_BYTES: Final = 256 * 1024 * 1024
MOST_TEXT: Final = 32_767
"""Characters that a cell can hold."""

WIDEST_COLUMN: Final = 40


def read_xlsx(
    path: str | Path, *, ignore: Callable[[str], object] | None = None
) -> list[dict[str, object] | UsageError]:
    """Return the orders in the first sheet of an XLSX file, one a row below the headings.

    The headings are the columns of a CSV sheet of orders, in any case. A row with faults becomes a
    ``UsageError`` with its number and reference, so that the others can be sent.

    Args:
        path: The file.
        ignore: Called with each unknown heading, whose column is then left unread; without it an
            unknown heading is an error.

    Raises:
        UsageError: The file cannot be read, a heading is unknown, or openpyxl is not installed.
    """
    try:
        content = Path(path).read_bytes()
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror}") from error
    return read_sheet(content, name=str(path), ignore=ignore)


def read_sheet(
    content: bytes, *, name: str, ignore: Callable[[str], object] | None = None
) -> list[dict[str, object] | UsageError]:
    """Return the orders in the bytes of an XLSX file, as :func:`read_xlsx` does."""
    openpyxl = _openpyxl()
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            unpacked_bytes = sum(each.file_size for each in parts.infolist())
        if unpacked_bytes > MOST_UNPACKED_BYTES:
            raise UsageError(f"{name}: unpacks to more than {MOST_UNPACKED_BYTES >> 20} MiB")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts that are not read, such as validations
            book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
            try:
                rows = list(_rows(book.worksheets[0]))
            finally:
                book.close()
    except UsageError:
        raise
    except Exception as error:  # a file that is broken inside fails in many ways
        raise UsageError(f"{name}: not readable as XLSX: {error}") from error
    return read_cells(rows, name=name, labels=LABELS, ignore=ignore)


def write_xlsx(path: str | Path, rows: Iterable[Mapping[str, Any]]) -> None:
    """Write rows, such as ``answer.to_rows()``, into the one sheet of an XLSX file.

    Every key is a column and the row of headings stays in sight. Numbers stay numbers. Text stays
    text, also if it begins as a formula does.

    Args:
        path: The file, which is written anew.
        rows: Rows that may differ in their columns.

    Raises:
        UsageError: The file cannot be written, or openpyxl is not installed.
    """
    listed = list(rows)
    columns = list(dict.fromkeys(name for row in listed for name in row))
    openpyxl = _openpyxl()
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("weavability")
    sheet.freeze_panes = "A2"
    letter = openpyxl.utils.get_column_letter
    for number, name in enumerate(columns, 1):
        longest = max(len(str(each)) for each in (name, *(row.get(name, "") for row in listed)))
        sheet.column_dimensions[letter(number)].width = min(longest + 2, WIDEST_COLUMN)
    sheet.append([_cell(sheet, name) for name in columns])
    for row in listed:
        sheet.append([_cell(sheet, row.get(name)) for name in columns])
    content = io.BytesIO()
    book.save(content)
    try:
        Path(path).write_bytes(content.getvalue())
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror}") from error


def _openpyxl() -> ModuleType:
    try:
        import openpyxl  # an extra, and slow to import
    except ImportError as error:
        raise UsageError("XLSX needs openpyxl: install weavability[xlsx]") from error
    return openpyxl


def _rows(sheet: Any) -> Iterator[tuple[int, Sequence[object]]]:
    """Yield number and values of each row that has any."""
    sheet.reset_dimensions()  # what a file states of its size need not be so
    for number, cells in enumerate(sheet.iter_rows(), 1):
        values = [_value(each) for each in cells]
        if any(value is not None and value != "" for value in values):
            yield number, values


def _value(cell: Any) -> object:
    """Return the value of a cell, or a ``ValueError`` that says why it is none for an order."""
    value = cell.value
    if value is None:
        return None
    match cell.data_type:
        case "f":
            return ValueError("the cell is a formula. Put its value in its place.")
        case "e":
            return ValueError(f"the cell is the error {value}.")
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        return ValueError(
            f"the cell is a date or time ({value}). Format it as text and write it again."
        )
    if isinstance(value, int | float) and "%" in (cell.number_format or ""):
        return ValueError(
            f"the cell is formatted as a percentage and holds {value:g}. Format it as a number and "
            f"write {100 * value:g}."
        )
    return value if isinstance(value, bool | int | float) else str(value)


def _cell(sheet: Any, value: object) -> Any:
    """Return a cell that no spreadsheet takes for a formula."""
    cells = _openpyxl().cell.cell
    if value is None or isinstance(value, bool | int | float):
        return cells.WriteOnlyCell(sheet, value)
    text = cells.ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", str(value))
    if len(text) > MOST_TEXT:
        text = f"{text[: MOST_TEXT - 1]}…"
    made = cells.WriteOnlyCell(sheet, text)
    made.data_type = "s"
    made.quotePrefix = True
    return made
