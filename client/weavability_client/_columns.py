"""Orders from a sheet: one a row, under the headings of the service's own CSV.

``reference``, ``loom_id``, ``weave``, ``ends_per_cm``, ``reed_ends_per_dent`` and so on; yarns have
a column for each field and key: ``warp_yarn_A`` is the designation of warp yarn A, ``warp_fibre_A``
its fibre. Prices are ``prices.loom_hour`` and so on, that of a yarn ``prices.yarn_per_kg.warp A``.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from weavability_client._csv_grammar import (
    COLUMNS,
    MOST_LINES_A_ROW,
    SEPARATORS,
    YARN_KEY,
    Kind,
    has_decimal_comma,
    has_line_end_inside,
    is_remark,
    number_advice,
    put,
    read_cell,
    separator_of,
    spelt,
    stated_separator,
)
from weavability_client._json import members
from weavability_client.errors import UsageError

_YARN: Final = re.compile(rf"(warp|weft)_([a-z0-9_]+)_({YARN_KEY})")
_YARN_PRICE: Final = re.compile(r"(prices\.yarn_per_kg\.)((?:warp|weft|leno|catch cord) .+)")

_YARN_WORDS: Final = [
    each[5:-2] for each in COLUMNS if each.startswith("warp_") and each.endswith("_A")
]
_BY_LOWER: Final = {
    each.lower(): each
    for each in (*COLUMNS, *(f"weft{each[4:]}" for each in COLUMNS if each.endswith("_A")))
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """A column; without a path it is for readers."""

    name: str
    path: Sequence[str]
    kind: Kind

    def read(self, cell: object, *, decimal_comma: bool) -> object:
        """Return the value of a cell: a text, or a number or a truth of a spreadsheet.

        Raises:
            ValueError: It is not of the kind of this column.
        """
        if isinstance(cell, ValueError):
            raise cell
        if isinstance(cell, bool):
            cell = str(cell).lower()
        if isinstance(cell, int | float) and self.kind is Kind.NUMBER:
            return cell
        value = read_cell(self.kind, str(cell), decimal_comma=decimal_comma)
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, str) and self.kind not in (Kind.TEXT, Kind.WEAVE, Kind.THREADING):
                comma = decimal_comma and self.kind is Kind.NUMBER
                number = f"a number. {number_advice(each, decimal_comma=comma)}"
                wanted = "true or false." if self.kind is Kind.FLAG else number
                raise ValueError(f"{each[:60]!r} is not {wanted}")
        return value


def read_columns(
    text: str,
    *,
    name: str,
    labels: frozenset[str] = frozenset(),
    ignore: Callable[[str], object] | None = None,
) -> list[dict[str, object] | UsageError]:
    r"""Return the validation requests in a table, one a row; of a faulty row, all its faults.

    Comma, semicolon or tabulator part the cells; with semicolons a decimal comma is understood. A
    line ``sep=;`` before the headings states which, and one that begins with ``#`` is passed over.
    An empty cell states nothing. Headings may be in any case.

    Args:
        text: The table, its first line the headings.
        name: Name of the file, for messages.
        labels: Columns that are for readers only.
        ignore: Called with each unknown heading, whose column is then left unread; without it an
            unknown heading is an error.

    Raises:
        UsageError: A heading is unknown, or the first row is not CSV.

    Example:
        >>> read_columns("weave;width_cm;loom_id\nplain;152,5;L1\n", name="book.csv")
        [{'construction': {'weave': 'plain', 'width_cm': 152.5}, 'loom_id': 'L1'}]
    """
    stated, text, passed = _from_the_headings(text)
    separator = stated or separator_of(text.partition("\n")[0])
    rows = ((f"{name}, line {line + passed}", cells) for line, cells in _rows(text, separator))
    comma = has_decimal_comma(separator)
    columns = _headings(next(rows, ("", ()))[1], name, labels, ignore)
    return _requests(columns, rows, decimal_comma=comma)


def _from_the_headings(text: str) -> tuple[str | None, str, int]:
    """Return the separator that is stated, the table from its headings, and the lines before it."""
    stated, passed = None, 0
    while True:
        first, _, rest = text.partition("\n")
        found = None if stated else stated_separator(first)
        if not found and not is_remark(first):
            return stated, text, passed
        stated, text, passed = found or stated, rest, passed + 1


def read_cells(
    rows: Iterable[tuple[int, Sequence[object]]],
    *,
    name: str,
    labels: frozenset[str] = frozenset(),
    ignore: Callable[[str], object] | None = None,
) -> list[dict[str, object] | UsageError]:
    """Return the validation requests in rows of a spreadsheet, the headings first.

    Args:
        rows: Number and cells of each row that has any: text, numbers, truths, ``None``, or a
            ``ValueError`` that says why a cell cannot be used.
        name: As for :func:`read_columns`.
        labels: As for :func:`read_columns`.
        ignore: As for :func:`read_columns`.

    Raises:
        UsageError: A heading is unknown, or there are none.
    """
    places = ((f"{name}, row {number}", cells) for number, cells in rows)
    columns = _headings(next(places, ("", ()))[1], name, labels, ignore)
    if not any(columns):
        raise UsageError(f"{name}: the first sheet has no headings")
    return _requests(columns, places, decimal_comma=False)


class _LineEndInside(csv.Error):
    """A row with a carriage return outside quotation marks."""

    def __init__(self) -> None:
        super().__init__(
            "the row has a line end of its own inside, a carriage return (CR). Put the cell that "
            "contains it in quotation marks, or end every row with LF or CRLF."
        )


class RowRefused(UsageError):  # noqa: N818 (as the errors of the client are called)
    """A row with faults, and the reference by which the caller knows it.

    Attributes:
        reference: The reference in the row, if it has one.
    """

    def __init__(self, message: str, reference: str | None = None) -> None:
        super().__init__(message)
        self.reference = reference


def _requests(
    columns: Sequence[_Column | None],
    rows: Iterable[tuple[str, Sequence[object] | csv.Error]],
    *,
    decimal_comma: bool,
) -> list[dict[str, object] | UsageError]:
    """Return the request of each row that states something, or what is wrong with its cells."""
    read: list[dict[str, object] | UsageError] = []
    for place, cells in rows:
        if isinstance(cells, csv.Error):
            read.append(UsageError(f"{place}, {_why_not_csv(cells)}"))
        elif any(_stripped(each) != "" for each in cells):
            request, faults = _request(columns, cells, decimal_comma=decimal_comma)
            read.append(_refused(place, request, faults) if faults else request)
    return read


def _why_not_csv(error: csv.Error) -> str:
    if isinstance(error, _LineEndInside):
        return str(error)
    return f"the row is not CSV: {error}; check quotation marks."


def _refused(place: str, request: dict[str, object], faults: Sequence[str]) -> RowRefused:
    """Return the faults of a row, with the reference by which the caller knows it."""
    reference = (members(request.get("construction")) or {}).get("reference")
    named = f"{place} ({reference})" if reference else place
    return RowRefused(f"{named}, {' '.join(faults)}", None if reference is None else str(reference))


def _rows(text: str, separator: str) -> Iterator[tuple[int, list[str] | csv.Error]]:
    """Yield each row, or why it cannot be read, with the number of its last line.

    Perhaps that has a quotation mark too many: only its first line is lost, the rest read anew.
    """
    # A sheet whose rows end with CR has no LF; beside LF, a lone CR is a fault of its row.
    lines, begin = list(io.StringIO(text, newline="\n" if "\n" in text else "")), 0
    while begin < len(lines):
        some = lines[begin : begin + MOST_LINES_A_ROW]
        reader = csv.reader(some, delimiter=separator, strict=True)
        try:
            cells = next(reader)
        except csv.Error as error:
            begin += 1
            yield begin, _LineEndInside() if has_line_end_inside(some, separator) else error
        else:
            begin += reader.line_num
            yield begin, cells


def looks_like_columns(text: str) -> bool:
    """Return whether the first line holds headings, the weave's among them."""
    header = _from_the_headings(text)[1].partition("\n")[0]
    cells = re.split(f"[{SEPARATORS}]", header)
    return len(cells) > 1 and "weave" in {each.strip().strip('"').lower() for each in cells}


def _headings(
    headings: Sequence[object] | csv.Error,
    name: str,
    labels: frozenset[str],
    ignore: Callable[[str], object] | None,
) -> list[_Column | None]:
    """Return the columns of a table.

    Raises:
        UsageError: A heading is unknown or occurs twice, or the row is not CSV.
    """
    try:
        if isinstance(headings, csv.Error):
            raise headings
        words = [str(_stripped(each)) for each in headings]
        read = [_column_or_label(each, labels, ignore) for each in words]
        names = [each.name for each in read if each is not None and each.path]
        twice = next((each for each in names if names.count(each) > 1), None)
        if twice is not None:
            raise ValueError(f"the column {twice!r} occurs twice; leave one out")
    except (csv.Error, ValueError) as error:
        raise UsageError(f"{name}: {error}") from None
    return read


def _column_or_label(
    heading: str, labels: frozenset[str], ignore: Callable[[str], object] | None
) -> _Column | None:
    if not heading:
        return None
    if heading in labels:
        return _Column(name=heading, path=(), kind=Kind.TEXT)
    try:
        return _column(heading)
    except ValueError:
        if ignore is None:
            raise
        ignore(heading)
        return _Column(name=heading, path=(), kind=Kind.TEXT)


def _column(heading: str) -> _Column:
    heading = spelt(heading, COLUMNS, _YARN_WORDS)
    yarn = _YARN.fullmatch(heading)
    price = _YARN_PRICE.fullmatch(heading)
    known = f"warp_{yarn[2]}_A" if yarn else f"{price[1]}warp A" if price else heading
    if known not in COLUMNS:
        near = get_close_matches(heading.lower(), _BY_LOWER, n=1)
        hint = f"; did you mean {_BY_LOWER[near[0]]}?" if near else ""
        raise ValueError(f"there is no column {heading!r}{hint}")
    pointer, kind = COLUMNS[known]
    path = pointer.split("/")[1:]
    if yarn:
        path = ["construction", yarn[1], "yarns", yarn[3], path[-1]]
    if price:
        path = [*path[:-1], price[2]]
    return _Column(name=heading, path=path, kind=kind)


def _request(
    columns: Sequence[_Column | None], cells: Sequence[object], *, decimal_comma: bool
) -> tuple[dict[str, object], list[str]]:
    """Return the request of a row, and what is wrong with its cells."""
    request: dict[str, object] = {}
    if any(map(_stripped, cells[len(columns) :])):
        return request, [
            f"{len(cells)} cells under {len(columns)} headings; a cell that holds the separator "
            "needs quotation marks."
        ]
    faults: list[str] = []
    for column, cell in zip(columns, map(_stripped, cells), strict=False):
        if cell != "" and column is None:
            faults.append(f"{str(cell)[:40]!r} has no heading.")
        if cell != "" and column is not None and column.path:
            try:
                put(request, column.path, column.read(cell, decimal_comma=decimal_comma))
            except ValueError as error:
                faults.append(f"{column.name}: {error}")
    return request, faults


def _stripped(cell: object) -> object:
    """Return a cell without blanks around it; one that holds nothing is an empty text."""
    if cell is None:
        return ""
    return cell.strip() if isinstance(cell, str) else cell
