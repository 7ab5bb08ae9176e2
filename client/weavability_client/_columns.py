"""Orders from a spreadsheet: one a row, under the headings that the service's own CSV has.

``reference``, ``loom_id``, ``weave``, ``ends_per_cm``, ``reed_ends_per_dent`` and so on; yarns have
a column for each field and key: ``warp_yarn_A`` is the designation of warp yarn A, ``warp_fibre_A``
its fibre. Which columns there are, and what stands in them, is read off the input classes.
"""

from __future__ import annotations

import csv
import io
import re
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Any, Final, Union

from weavability_client._record import Record
from weavability_client.errors import UsageError
from weavability_client.models import Construction, Yarn

SEPARATORS: Final = ",;\t"
_PREFIX_OF: Final[Mapping[str, str]] = {"finishing": "", "allowances": "", "draft": ""}
_RENAMED: Final[Mapping[str, str]] = {
    "warp_ends_per_cm": "ends_per_cm",
    "warp_ends_per_in": "ends_per_in",
    "weft_picks_per_cm": "picks_per_cm",
    "weft_picks_per_in": "picks_per_in",
    "threading": "draft",
}
_FLAGS: Final[Mapping[str, bool]] = {"true": True, "yes": True, "false": False, "no": False}
_NUMBER: Final = re.compile(r"[+-]?\d{1,30}(\.\d{1,30})?([eE][+-]?\d{1,3})?")
_WHOLE: Final = re.compile(r"[+-]?\d{1,18}")
_AMBIGUOUS: Final = re.compile(r"[+-]?\d{1,3}\.\d{3}")
_ROWS: Final = re.compile(r"[01]+(\|[01]+)+")
_YARN: Final = re.compile(r"(warp|weft)_(\w+)_([A-Z][A-Z0-9]{0,7})")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """A column: heading, place and types of its values; without a place it is for readers."""

    name: str
    path: tuple[str, ...]
    kinds: frozenset[Any]

    def read(self, cell: str, *, decimal_comma: bool) -> object:
        """Return the value of a cell.

        Raises:
            ValueError: It is none of this column.
        """
        if bool in self.kinds:
            return _FLAGS[cell.lower()]
        if self.kinds & {int, float}:
            return _number(cell, decimal_comma=decimal_comma)
        if self.name == "weave" and _ROWS.fullmatch(cell):
            return {"rows": cell.split("|")}
        listed = any(typing.get_origin(each) is tuple for each in self.kinds)
        if listed and (" " in cell or str not in self.kinds):
            return [_number(each, decimal_comma=False) for each in cell.split()]
        return cell


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """How a table is laid out; a column without a heading is ``None``."""

    name: str
    columns: Sequence[_Column | None]
    decimal_comma: bool

    def request(self, cells: Sequence[str], line: int) -> dict[str, object]:
        """Return the request that a row stands for."""
        if any(cell.strip() for cell in cells[len(self.columns) :]):
            raise UsageError(
                f"{self.name}, line {line}: {len(cells)} cells under {len(self.columns)} headings; "
                "a cell that holds the separator must stand in quotation marks"
            )
        request: dict[str, object] = {}
        for column, cell in zip(self.columns, map(str.strip, cells), strict=False):
            if cell and column is None:
                raise UsageError(f"{self.name}, line {line}: {cell[:40]!r} has no heading")
            if cell and column is not None and column.path:
                _put(request, column.path, self._value(column, cell, line))
        return request

    def _value(self, column: _Column, cell: str, line: int) -> object:
        try:
            return column.read(cell, decimal_comma=self.decimal_comma)
        except (KeyError, ValueError):
            wanted = "true or false" if bool in column.kinds else "a number, with a decimal point"
            raise UsageError(
                f"{self.name}, line {line}, {column.name}: {cell[:60]!r} is not {wanted}"
            ) from None


def read_columns(
    text: str, *, name: str, labels: frozenset[str] = frozenset()
) -> list[dict[str, object]]:
    r"""Return the validation requests in a table, one a row.

    Comma, semicolon or tabulator part the cells; with semicolons a decimal comma is understood. An
    empty cell states nothing.

    Args:
        text: The table, its first line the headings.
        name: Name of the file, for messages.
        labels: Columns that are for readers only.

    Raises:
        UsageError: A heading is unknown, or a cell is not of its column's kind.

    Example:
        >>> read_columns("weave;width_cm;loom_id\nplain;152,5;L1\n", name="book.csv")
        [{'construction': {'weave': 'plain', 'width_cm': 152.5}, 'loom_id': 'L1'}]
    """
    separator = max(SEPARATORS, key=text.partition("\n")[0].count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        names = [each.strip() for each in next(rows, ())]
        twice = next((each for each in names if each and names.count(each) > 1), None)
        if twice is not None:
            raise UsageError(f"{name}: the column {twice!r} stands twice; leave one out")
        sheet = _Sheet(
            name=name,
            columns=[_label(each) if each in labels else _column(each, name) for each in names],
            decimal_comma=separator == ";",
        )
        return [sheet.request(cells, rows.line_num) for cells in rows if any(map(str.strip, cells))]
    except csv.Error as error:
        raise UsageError(f"{name}, line {rows.line_num}: {error}") from error


def looks_like_columns(text: str) -> bool:
    """Tell whether the first line holds headings, the weave's among them."""
    cells = re.split(f"[{SEPARATORS}]", text.partition("\n")[0])
    return len(cells) > 1 and "weave" in {each.strip().strip('"') for each in cells}


@cache
def headings() -> Mapping[str, _Column]:
    """Return every column but those of the yarns, by its heading."""
    columns = [_Column(name="loom_id", path=("loom_id",), kinds=frozenset({str}))]
    for name, hint in _members(Construction).items():
        columns.extend(_columns_of(name, _kinds(hint)))
    return {each.name: each for each in columns}


@cache
def yarn_headings() -> Mapping[str, str]:
    """Return the fields of a yarn by the word in their headings; ``yarn`` is the designation."""
    return {"yarn" if name == "designation" else name: name for name in _members(Yarn)}


def _columns_of(name: str, kinds: frozenset[Any]) -> Iterator[_Column]:
    part = next(
        (each for each in kinds if isinstance(each, type) and issubclass(each, Record)), None
    )
    if part is None:
        yield _Column(name=name, path=("construction", name), kinds=kinds)
        return
    for inner, hint in _members(part).items():
        if inner != "yarns":
            heading = _PREFIX_OF.get(name, f"{name}_") + inner
            path = ("construction", name, inner)
            yield _Column(name=_RENAMED.get(heading, heading), path=path, kinds=_kinds(hint))


def _label(heading: str) -> _Column:
    return _Column(name=heading, path=(), kinds=frozenset())


def _column(heading: str, file: str) -> _Column | None:
    if not heading:
        return None
    if heading in headings():
        return headings()[heading]
    found = _YARN.fullmatch(heading)
    if found and found[2] in yarn_headings():
        system, word, key = found.groups()
        field = yarn_headings()[word]
        path = ("construction", system, "yarns", key, field)
        return _Column(name=heading, path=path, kinds=_kinds(_members(Yarn)[field]))
    yarns = [f"{system}_{word}_A" for system in ("warp", "weft") for word in yarn_headings()]
    near = get_close_matches(heading, [*headings(), *yarns], n=1)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise UsageError(f"{file}: there is no column {heading!r}{hint}")


def _members(kind: type[Record]) -> dict[str, Any]:
    return {name: hint for name, hint in typing.get_type_hints(kind).items() if name != "extra"}


def _kinds(hint: Any) -> frozenset[Any]:
    if typing.get_origin(hint) in (Union, types.UnionType):
        return frozenset(typing.get_args(hint)) - {types.NoneType}
    return frozenset([hint])


def _put(request: dict[str, object], path: Sequence[str], value: object) -> None:
    *parents, last = path
    node: Any = request
    for name in parents:
        node = node.setdefault(name, {})
    node[last] = value


def _number(cell: str, *, decimal_comma: bool) -> int | float:
    """Read a number; where the comma is decimal, ``1.250`` could be either and is refused."""
    if decimal_comma:
        if _AMBIGUOUS.fullmatch(cell):
            raise ValueError(cell)
        cell = cell.replace(",", ".", 1) if "." not in cell else cell
    if _WHOLE.fullmatch(cell):
        return int(cell)
    if not _NUMBER.fullmatch(cell):
        raise ValueError(cell)
    return float(cell)
