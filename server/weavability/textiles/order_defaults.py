"""Starting values of waste, size and relaxation that an order leaves open.

Values, bands, grades and sources are in ``data/order_defaults.toml``; each one that is used becomes
an assumption.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any, NamedTuple

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.sentences import Sentence, quoted, say_row


class OrderDefault(NamedTuple):
    """A starting value, with all that its assumption says of it."""

    value: float
    unit: str
    reason: Sentence
    grade: Grade
    band: ValueBand


@cache
def _rows() -> Mapping[str, Mapping[str, Any]]:
    text = resources.files("weavability").joinpath("data/order_defaults.toml")
    rows: dict[str, dict[str, Any]] = tomllib.loads(text.read_text("utf-8"))["defaults"]
    return rows


@cache
def order_default(field: str) -> OrderDefault:
    """Return the starting value of a field.

    >>> order_default("loom_waste_m").value
    4.6
    """
    row = _rows()[field]
    parts: dict[str, float] = row.get("parts", {})
    value = float(row["value"] if "value" in row else sum(parts.values()))
    quotable = {field: value, **parts}
    quotes = {each.name: quotable[each.name] for each in quoted(row["source"])}
    return OrderDefault(
        value,
        row["unit"],
        say_row(_key(row), row["source"], **quotes),
        Grade(row["grade"]),
        ValueBand(*map(float, row["band"])),
    )


def take_default(ledger: Ledger, field: str, stated: float | None) -> float:
    """Return a field as stated, else its starting value, of which the ledger takes a note."""
    usual = order_default(field)
    return ledger.take(
        f"/{field}",
        stated,
        usual.value,
        unit=usual.unit,
        reason=usual.reason,
        grade=usual.grade,
        band=usual.band,
    )


def _key(row: Mapping[str, Any]) -> str:
    return f"assumption.{row['key']}"


def patterns() -> Mapping[str, str]:
    """Return the reason of every starting value, by key."""
    return {_key(row): row["source"] for row in _rows().values()}
