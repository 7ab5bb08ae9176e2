"""Fields of an order that hold several things, as rows of a table that people fill in.

A cell of a sheet holds them as JSON; a form has a row for each, with a field for each member. What
a row cannot state stays JSON.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from weavability.service.batches.csv_grammar import Kind, read_cell

Row = Mapping[str, str]
"""The text of each field of a row, by the name of its column."""

MOST_ROWS: Final = 64
_FIELD: Final = re.compile(r"([a-z]+)\.(\d{1,2})\.([a-z_]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A field that is filled in as rows.

    Attributes:
        heading: Its heading in a sheet.
        name: How the names of its fields begin: ``fibre.1.min``.
        columns: Label of each column by its name.
        rows_of: Returns the rows of a value; ``None`` if they cannot state it.
        value_of: Returns the value of rows of which none is empty.
    """

    heading: str
    name: str
    columns: Mapping[str, str]
    rows_of: Callable[[Any], list[Row] | None]
    value_of: Callable[[Sequence[Row]], Any]

    def rows(self, cell: str) -> list[Row] | None:
        """Return the rows of a cell; ``None`` if they cannot state it."""
        if not cell:
            return []
        value = read_cell(Kind.JSON, cell, decimal_comma=False)
        rows = self.rows_of(value)
        return rows if rows is not None and self.value_of(rows) == value else None


def _texts(value: Mapping[str, Any], names: Iterable[str]) -> Row | None:
    """Return the members of an object as texts; ``None`` if it has others."""
    if not isinstance(value, dict) or not value.keys() <= {*names}:
        return None
    return {name: _text(each) for name, each in value.items()}


def _text(value: Any) -> str:
    return " ".join(map(str, value)) if isinstance(value, list) else str(value)


def _number(text: str) -> Any:
    return read_cell(Kind.NUMBER, text, decimal_comma="," in text)


def _fibre_rows(value: Any) -> list[Row] | None:
    if not isinstance(value, dict):
        return None
    rows: list[Row] = [
        {"fibre": str(name), **limits}
        for name, each in value.items()
        if (limits := _texts(each, ("min", "max"))) is not None
    ]
    return rows if len(rows) == len(value) else None


def _fibres(rows: Sequence[Row]) -> Any:
    return {
        row.get("fibre", ""): {name: _number(row[name]) for name in ("min", "max") if row.get(name)}
        for row in rows
    }


def _beam_rows(value: Any) -> list[Row] | None:
    if not isinstance(value, list):
        return None
    rows = [_texts(each, BEAMS.columns) for each in value]
    return [row for row in rows if row is not None] if None not in rows else None


def _beams(rows: Sequence[Row]) -> Any:
    made: list[dict[str, Any]] = []
    for row in rows:
        beam: dict[str, Any] = {"name": row.get("name", ""), "yarns": row.get("yarns", "").split()}
        beam |= {
            name: _number(row[name])
            for name in ("pile_ratio", "density_g_per_cm3")
            if row.get(name)
        }
        made.append(beam)
    return made


FIBRES: Final = Table(
    heading="requirements.fibre_pct",
    name="fibre",
    columns={"fibre": "Fibre", "min": "At least, %", "max": "At most, %"},
    rows_of=_fibre_rows,
    value_of=_fibres,
)
BEAMS: Final = Table(
    heading="warp_beams",
    name="beam",
    columns={
        "name": "Ends of the beam, such as ground",
        "yarns": "Their yarns, such as A B",
        "pile_ratio": "Yarn length per cloth length, of pile",
        "density_g_per_cm3": "Density on the beam, g/cm³",
    },
    rows_of=_beam_rows,
    value_of=_beams,
)
TABLES: Final[Mapping[str, Table]] = {each.heading: each for each in (FIBRES, BEAMS)}
_BY_NAME: Final[Mapping[str, Table]] = {each.name: each for each in TABLES.values()}


def is_of_table(name: str) -> bool:
    """Return whether a field is one of a row.

    >>> is_of_table("fibre.1.min"), is_of_table("prices.loom_hour")
    (True, False)
    """
    return _place(name) is not None


def _place(name: str) -> tuple[Table, int, str] | None:
    found = _FIELD.fullmatch(name)
    table = _BY_NAME.get(found[1]) if found else None
    if found is None or table is None or found[3] not in table.columns:
        return None
    return table, int(found[2]), found[3]


def cells_of(fields: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return the cells that the fields of rows state, by their headings.

    >>> cells_of([("fibre.1.fibre", "cotton"), ("fibre.1.min", "60"), ("fibre.2.max", "")])
    {'requirements.fibre_pct': '{"cotton": {"min": 60}}'}
    """
    stated: dict[str, dict[int, dict[str, str]]] = {}
    for name, text in fields:
        place = _place(name)
        if place is not None and text:
            table, number, column = place
            rows = stated.setdefault(table.heading, {})
            rows.setdefault(number, {})[column] = text
    return {
        heading: json.dumps(
            TABLES[heading].value_of([rows[number] for number in sorted(rows)]),
            ensure_ascii=False,
        )
        for heading, rows in stated.items()
    }
