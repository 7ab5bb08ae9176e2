"""The grammar of a sheet of orders: what divides its cells, and what a cell says.

The service reads sheets by it, and so does the client, which holds a copy of this file: it imports
nothing but the standard library.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import Any, Final


class Kind(StrEnum):
    """What the cells of a column hold."""

    TEXT = "text"
    NUMBER = "number"
    FLAG = "flag"
    LIST = "list"
    NAMES = "names"
    THREADING = "threading"
    WEAVE = "weave"
    JSON = "json"


SEPARATORS: Final = ",;\t"
MOST_LINES_A_ROW: Final = 100
"""Line breaks within quotation marks that one row may have, and one."""

YARN_KEY: Final = "[A-Z][A-Za-z0-9_]{0,31}"
"""Key of a yarn at the end of a heading: the capital shows where the name of the field ends."""

YARN_PRICE: Final = "prices.yarn_per_kg."
"""How the heading of a yarn's price begins; its name in the report follows."""

_FLAGS: Final[Mapping[str, bool]] = {"true": True, "yes": True, "false": False, "no": False}
_NUMBER: Final = re.compile(r"[+-]?\d{1,30}(\.\d{1,30})?([eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE: Final = re.compile(r"[+-]?\d{1,18}", re.ASCII)
_AMBIGUOUS: Final = re.compile(r"[+-]?\d{1,3}\.\d{3}", re.ASCII)
_GROUPED: Final = re.compile(r"[+-]?\d{1,3}([ ,.'\u00a0\u202f])\d{3}(\1\d{3})*([.,]\d+)?", re.ASCII)
_STATED_SEPARATOR: Final = re.compile(r'"?sep=(.)"?', re.IGNORECASE)
_ROWS: Final = re.compile(r"[01]+(\|[01]+)+")


def separator_of(header: str) -> str:
    """Return what divides the cells: the separator that the first line has most of."""
    return max(SEPARATORS, key=header.count)


def stated_separator(line: str) -> str | None:
    """Return the separator that the first line of a spreadsheet states; ``None`` if it is a header.

    >>> stated_separator("sep=;"), stated_separator("reference;weave")
    (';', None)
    """
    found = _STATED_SEPARATOR.fullmatch(line.strip("\r\n"))
    return found[1] if found and found[1] in SEPARATORS else None


def is_remark(line: str) -> bool:
    """Return whether a line before the header is a remark: ``#``, and no separator behind it.

    >>> is_remark("# orders.csv"), is_remark("#,reference,weave")
    (True, False)
    """
    return line.startswith("#") and line[1:2] not in tuple(SEPARATORS)


def spelt(heading: str, columns: Iterable[str], yarn_words: Iterable[str]) -> str:
    """Return a heading in the spelling of the column that it names in another case.

    Args:
        heading: The heading.
        columns: The names of the columns that every sheet can have.
        yarn_words: The words of the columns of yarns.

    >>> spelt("Ends_Per_cm", ["ends_per_cm"], ["yarn"]), spelt("WARP_YARN_A", [], ["yarn"])
    ('ends_per_cm', 'warp_yarn_A')
    """
    lower = heading.lower()
    plain = next((each for each in columns if each.lower() == lower), None)
    if plain is not None:
        return plain
    starts = [f"{system}_{word}_" for system in ("warp", "weft") for word in yarn_words]
    start = max((each for each in starts if lower.startswith(each)), key=len, default="")
    if lower.startswith(YARN_PRICE):
        kind, blank, key = heading[len(YARN_PRICE) :].rpartition(" ")
        return f"{YARN_PRICE}{kind.lower()}{blank}{_spelt_key(key)}"
    return f"{start}{_spelt_key(heading[len(start) :])}" if start else heading


def _spelt_key(key: str) -> str:
    """Return a yarn's key; a longer one in small letters is rather a word that nobody knows."""
    return key.upper() if len(key) == 1 else key


def has_decimal_comma(separator: str) -> bool:
    """Return whether numbers may have a comma: if the cells are divided by a semicolon."""
    return separator == ";"


def read_cell(kind: Kind, cell: str, *, decimal_comma: bool) -> Any:
    """Return the JSON value of a cell; a cell that is none of its kind stays text.

    >>> read_cell(Kind.WEAVE, "1100|0110|0011|1001", decimal_comma=False)
    {'rows': ['1100', '0110', '0011', '1001']}
    >>> read_cell(Kind.NUMBER, "152,5", decimal_comma=True)
    152.5
    >>> read_cell(Kind.JSON, '[{"name": "ground", "yarns": ["A"]}]', decimal_comma=False)
    [{'name': 'ground', 'yarns': ['A']}]
    """
    match kind:
        case Kind.NUMBER:
            return _number(cell, decimal_comma=decimal_comma)
        case Kind.FLAG:
            return _FLAGS.get(cell.lower(), cell)
        case Kind.WEAVE if _ROWS.fullmatch(cell):
            return {"rows": cell.split("|")}
        case Kind.WEAVE if cell.startswith("{"):
            return _json(cell)
        case Kind.THREADING if " " not in cell:
            return cell
        case Kind.JSON:
            return _json(cell)
        case Kind.NAMES:
            return cell.split()
        case Kind.LIST | Kind.THREADING:
            return [_number(each, decimal_comma=False) for each in cell.split()]
    return cell


def _json(cell: str) -> Any:
    """Read a list or an object that is written as JSON."""
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        return cell


def _number(cell: str, *, decimal_comma: bool) -> float | int | str:
    """Read a number; with a decimal comma, ``1.250`` could mean either and stays text."""
    if decimal_comma:
        if _AMBIGUOUS.fullmatch(cell):
            return cell
        cell = cell.replace(",", ".", 1) if "." not in cell else cell
    if _WHOLE.fullmatch(cell):
        return int(cell)
    return float(cell) if _NUMBER.fullmatch(cell) else cell


ADVICE: Final[Mapping[str, str]] = {
    "part.decimal_comma_or_thousands": "Write a decimal comma: {with_decimals}. If thousands are "
    "meant, leave out the point: {with_thousands}.",
    "part.no_thousands": "Leave out what separates the thousands: {written}.",
    "part.digits_0_to_9": "Write it with the digits 0 to 9.",
    "part.digits_and_comma": "Write digits, and a decimal comma if it has one.",
    "part.digits_and_point": "Write digits, and a decimal point if it has one.",
}
"""How a number is to be written: the patterns by key."""


def number_advice(cell: str, *, decimal_comma: bool) -> str:
    """Return how to write the number of a cell that is not read as one.

    >>> number_advice("1.250", decimal_comma=True)
    'Write a decimal comma: 1,25. If thousands are meant, leave out the point: 1250.'
    >>> number_advice("1,250.5", decimal_comma=False)
    'Leave out what separates the thousands: 1250.5.'
    """
    key, values = advice_of(cell, decimal_comma=decimal_comma)
    return ADVICE[key].format_map(values)


def advice_of(cell: str, *, decimal_comma: bool) -> tuple[str, dict[str, str]]:
    """Return the key of :data:`ADVICE` for a cell that is not read as a number, and its values."""
    if decimal_comma and _AMBIGUOUS.fullmatch(cell):
        whole, decimals = cell.split(".")
        return "part.decimal_comma_or_thousands", {
            "with_decimals": f"{whole},{decimals.rstrip('0') or '0'}",
            "with_thousands": f"{whole}{decimals}",
        }
    grouped = _GROUPED.fullmatch(cell)
    if grouped:
        whole = cell[: len(cell) - len(grouped[3] or "")].replace(grouped[1], "")
        decimals = (grouped[3] or "")[1:]
        written = f"{whole}{',' if decimal_comma else '.'}{decimals}" if decimals else whole
        return "part.no_thousands", {"written": written}
    if any(each.isdecimal() and not each.isascii() for each in cell):
        return "part.digits_0_to_9", {}
    return f"part.digits_and_{'comma' if decimal_comma else 'point'}", {}


def has_line_end_inside(lines: Iterable[str], separator: str) -> bool:
    r"""Return whether a row that cannot be read could be read but for a carriage return in it.

    >>> has_line_end_inside(["D-1,plain\r,28\n"], ","), has_line_end_inside(['D-1,"a"b\r\n'], ",")
    (True, False)
    """
    ended = [each.rstrip("\r\n") for each in lines]
    if not any("\r" in each for each in ended):
        return False
    blanked = (each.replace("\r", " ") + "\n" for each in ended)
    try:
        return next(csv.reader(blanked, delimiter=separator, strict=True), None) is not None
    except csv.Error:
        return False


def put(request: dict[str, Any], path: Sequence[str], value: Any) -> None:
    """Set the member of a request at a path; objects on the way are made."""
    for step in path[:-1]:
        request = request.setdefault(step, {})
    request[path[-1]] = value
