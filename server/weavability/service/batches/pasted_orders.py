"""An order that was pasted: JSON, TOML, the first row of a sheet, or a line of text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from weavability.service.batches.csv_columns import column, columns, yarn_fields
from weavability.service.batches.csv_grammar import separator_of, stated_separator
from weavability.service.batches.csv_orders import MOST_COLUMNS, Rows, Sheet, read_header
from weavability.service.batches.flat_order import write_fields
from weavability.service.batches.order_lines import read_order_line
from weavability.service.http.json_bodies import parse
from weavability.service.http.problems import ProblemError
from weavability.service.http.suggestions import did_you_mean
from weavability.textiles.errors import InputError
from weavability.textiles.toml_files import TomlFileError, parse_toml

_PARTS: Final = ("construction", "loom_id", "prices")
_LISTS: Final = ("order", "orders")
_MOST_NAMED: Final = 8
_LONGEST_LINE: Final = 500
_LONGEST_QUOTED: Final = 60
_TOML_BEGINS: Final = re.compile(r"\s*(?:\[{1,2}[\w.\"-]+\]|[\w.\"-]+\s*=)")
_TOML_LINE: Final = re.compile(r"\bat line (\d+)")
NO_ORDER: Final = (
    "No order was found in it. What can be read is JSON or TOML with the fields of an order, a row "
    "of a sheet below its headings, or a line such as "
    "Ne 30 x Ne 20 / 32 x 24 per cm, 2/2 twill Z, 152 cm, cotton."
)
"""What is said of a text that is in none of the forms."""

_BYTE_ORDER_MARK: Final = "\ufeff"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastedOrder:
    """An order that was pasted.

    Attributes:
        cells: The text of each field by its heading.
        notes: What was not understood, or passed over, in sentences.
        remarks: How it was read, where that is not plain from the text.
    """

    cells: Mapping[str, str]
    notes: tuple[str, ...]
    remarks: tuple[str, ...] = ()


def read_pasted(text: str) -> PastedOrder:
    """Read an order in any of the forms; what cannot be taken over is named.

    >>> read_pasted('{"weave": "plain", "width_cm": 150, "colour": "blue"}').notes
    ('Not understood: colour.',)
    """
    text = text.strip().removeprefix(_BYTE_ORDER_MARK)
    if _is_sheet(text):
        return _of_sheet(text)
    try:
        found = parse(text.encode())
    except ProblemError as problem:
        if text[:1] == "{":
            return _unread(f"This begins like JSON, but cannot be read. {problem.detail}")
        try:
            found = parse_toml(text)
        except TomlFileError as complaint:
            return _of_line(text) or _unread(_of_toml(text, str(complaint)))
    return _of_document(found)


def _unread(note: str) -> PastedOrder:
    return PastedOrder(cells={}, notes=(note,))


def _of_line(text: str) -> PastedOrder | None:
    """Read the text of an order, if it is short enough and anything of it is understood."""
    if len(text) > _LONGEST_LINE:
        return None
    cells, notes, remarks = read_order_line(text)
    return PastedOrder(cells=cells, notes=notes, remarks=remarks) if cells else None


def _of_toml(text: str, complaint: str) -> str:
    """Say which line of TOML cannot be read; that it is no order, if it is no TOML either."""
    lines = text.splitlines()
    stated = next((each for each in lines if each.strip() and not each.startswith("#")), "")
    place = _TOML_LINE.search(complaint)
    if not _TOML_BEGINS.match(stated) or place is None or int(place[1]) > len(lines):
        return NO_ORDER
    line = lines[int(place[1]) - 1].strip()
    cut = f"{line[:_LONGEST_QUOTED]} …" if len(line) > _LONGEST_QUOTED else line
    return f"This begins like TOML, but line {place[1]} cannot be read: {cut}"


def _is_sheet(text: str) -> bool:
    """Return whether it begins with headings of columns, two at least."""
    first, _, rest = text.partition("\n")
    separator = stated_separator(first)
    header = rest.partition("\n")[0] if separator else first
    cells = header.split(separator or separator_of(header), MOST_COLUMNS)[:MOST_COLUMNS]
    return sum(column(each.strip().strip('"')) is not None for each in cells) > 1


def _of_sheet(text: str) -> PastedOrder:
    raw = text.encode()
    lines = iter(raw.splitlines())
    try:
        sheet = read_header(lines, marked=False, ignore_columns=True)
        rows = [row for _, row in Rows(lines, delimiter=sheet.delimiter, longest=len(raw), first=2)]
        if not rows:
            return _unread("The sheet has headings and no row below them.")
        request = _row(sheet, rows[0])
    except (InputError, ProblemError) as error:
        return _unread(f"The sheet cannot be read. {_reason(error)}")
    written = write_fields(request, texts_as_typed=True)
    ignored = tuple(sheet.ignored.values())
    notes = [
        f"Not understood: the column {each[:60]!r}.{_meant(each)}" for each in ignored[:_MOST_NAMED]
    ]
    if len(ignored) > _MOST_NAMED:
        notes.append(f"{len(ignored) - _MOST_NAMED} more columns were not understood.")
    if len(rows) > 1:
        notes.append(f"Only the first order was taken; there are {len(rows)} rows.")
    return PastedOrder(cells=written.cells, notes=tuple(notes))


def _row(sheet: Sheet, row: list[str] | ProblemError) -> dict[str, Any]:
    if isinstance(row, ProblemError):
        raise row
    return sheet.request(row)


def _reason(error: InputError | ProblemError) -> str:
    return error.detail if isinstance(error, ProblemError) else error.faults[0].message


def _meant(heading: str) -> str:
    yarns = [f"{system}_{word}_A" for system in ("warp", "weft") for word in yarn_fields()]
    return did_you_mean(heading, [*columns(), *yarns])


def _of_document(found: object) -> PastedOrder:
    notes: list[str] = []
    order = _first(found, notes)
    if not isinstance(order, dict):
        notes.append(NO_ORDER)
        return PastedOrder(cells={}, notes=tuple(notes))
    stated = _request(order)
    written = write_fields(stated, texts_as_typed=True)
    left = [*_strangers(order, stated), *written.left_out]
    named = [" › ".join(_steps(pointer)) for pointer in left[:_MOST_NAMED]]
    more = f" and {len(left) - _MOST_NAMED} more" if len(left) > _MOST_NAMED else ""
    if named:
        notes.append(f"Not understood: {', '.join(named)}{more}.")
    return PastedOrder(cells=written.cells, notes=tuple(notes))


def _first(found: object, notes: list[str]) -> object:
    """Return the order of a document, the first if it holds several."""
    if isinstance(found, dict) and "construction" not in found:
        found = next((found[name] for name in _LISTS if isinstance(found.get(name), list)), found)
    if not isinstance(found, list) or not found:
        return found
    if len(found) > 1 and isinstance(found[0], dict):
        notes.append(f"Only the first order was taken; there are {len(found)}.")
    return found[0]


def _request(order: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request that is stated: as it is, as a construction alone, or in flat fields."""
    if "construction" in order:
        return {name: order[name] for name in _PARTS if name in order}
    flat = {name: value for name, value in order.items() if column(name) is not None}
    nested = {
        name: value
        for name, value in order.items()
        if isinstance(value, dict) and name not in flat and name not in _PARTS
    }
    request: dict[str, Any] = {"construction": nested}
    if isinstance(order.get("prices"), dict):
        request["prices"] = order["prices"]
    for name, value in flat.items():
        place = column(name)
        if place is not None:
            _put(request, place.path, value)
    return request


def _put(request: dict[str, Any], path: tuple[str, ...], value: Any) -> None:
    for step in path[:-1]:
        inner = request.setdefault(step, {})
        if not isinstance(inner, dict):
            return
        request = inner
    request[path[-1]] = value


def _strangers(order: Mapping[str, Any], stated: Mapping[str, Any]) -> Iterator[str]:
    """Yield a pointer for each member of an order that is no part of the request."""
    taken = {*stated, *stated.get("construction", {})} if "construction" not in order else {*stated}
    for name in order:
        if name not in taken and column(str(name)) is None:
            yield f"/{name}"


def _steps(pointer: str) -> list[str]:
    steps = pointer.split("/")[1:]
    return [each[:40] for each in (steps[1:] if steps[0] == "construction" else steps)]
