"""Starting values of the limits of a loom, and how a loom that states none takes them.

Values and sources are in ``data/default_limits.toml``; each one that is used becomes an assumption.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from operator import attrgetter
from typing import Any, NamedTuple

from weavability.looms.loom import Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.sentences import Sentence, say_row


def default_limits_text() -> str:
    """Return the table of starting values as it is stored; it belongs to the rule set."""
    return resources.files("weavability").joinpath("data/default_limits.toml").read_text("utf-8")


@cache
def default_limits() -> Mapping[str, Mapping[str, Any]]:
    """Return the starting values of limits by the pointer of their field.

    A row has ``value``, ``values`` by insertion system, or ``share_of_reed_width`` by insertion
    system; ``band``, ``bands`` or ``share_bands`` in the same way; ``source`` and ``grade``, or
    ``sources`` and ``grades`` by insertion system; and ``unit``, if it has one.
    """
    rows: dict[str, dict[str, Any]] = tomllib.loads(default_limits_text())["limits"]
    return rows


def starting_value(*pointers: str) -> str:
    """Return a starting value with its source, as checks of the limit quote it.

    Args:
        pointers: The field; or the fields of both ends of a range, which have one source.

    >>> starting_value("/picks_per_cm/min", "/picks_per_cm/max")
    '3-120 picks/cm if the loom does not state it: [COMMON-PRACTICE]'
    """
    rows = [default_limits()[pointer] for pointer in pointers]
    values = [
        value
        for row in rows
        for value in (row["values"].values() if "values" in row else (row["value"],))
    ]
    ends = "-".join(f"{value:g}" for value in sorted({min(values), max(values)}))
    return f"{ends} {rows[0]['unit']} if the loom does not state it: {rows[0]['source']}"


@dataclass(slots=True)
class Defaults:
    """Takes the limits that one loom states, and notes a starting value for every other one."""

    loom: Loom
    ledger: Ledger

    def take(self, pointer: str) -> float:
        """Return the limit at a pointer relative to the loom: as stated, else as usual."""
        stated: float | None = _stated(self.loom, pointer)
        return self._noted(pointer, self._usual(pointer)) if stated is None else stated

    def whole(self, pointer: str) -> int:
        """Return a limit that is a whole number."""
        return int(self.take(pointer))

    def band(self, pointer: str) -> tuple[float, float]:
        """Return both ends of a range; an end left open gives way to the one that is stated."""
        low: float | None = _stated(self.loom, f"{pointer}/min")
        high: float | None = _stated(self.loom, f"{pointer}/max")
        if low is None:
            usual = self._usual(f"{pointer}/min")
            low = self._noted(f"{pointer}/min", usual if high is None else min(usual, high))
        if high is None:
            high = self._noted(f"{pointer}/max", max(self._usual(f"{pointer}/max"), low))
        return low, high

    def _noted(self, pointer: str, value: float) -> float:
        return _note(
            self.ledger,
            pointer,
            value,
            system=self.loom.insertion.system.value,
            band=self._band(pointer, value),
        )

    def _band(self, pointer: str, value: float) -> ValueBand | None:
        """Return the band of a starting value, which holds it even beside a stated other end.

        What is one unless more are stated, as beams are, has none.
        """
        system, per, row = self.loom.insertion.system.value, 1.0, default_limits()[pointer]
        if "share_bands" in row:
            ends, per = row["share_bands"][system], self.loom.reed_width_cm
        else:
            ends = row["bands"][system] if "bands" in row else row.get("band")
        if ends is None:
            return None
        low, high = (float(end) if per == 1 else round(end * per, 1) for end in ends)
        bounds = LOOM_BOUNDS.get(pointer)
        if bounds is not None:
            low, high = bounds.cut(low, high)
        return ValueBand(min(low, value), max(high, value))

    def ends(self, pointer: str, value: float) -> tuple[float, float]:
        """Return between which values a limit is expected: one that is stated is what it is."""
        line = self.ledger.lines.get(pointer)
        band = None if line is None else line.band
        return (value, value) if band is None else (band.low, band.high)

    def _usual(self, pointer: str) -> float:
        row, system = default_limits()[pointer], self.loom.insertion.system.value
        if "share_of_reed_width" in row:
            return round(float(row["share_of_reed_width"][system]) * self.loom.reed_width_cm, 1)
        value: float = row["values"][system] if "values" in row else row["value"]
        return value


def _stated(loom: Loom, pointer: str) -> Any:
    return _reader(pointer)(loom)


@cache
def _reader(pointer: str) -> attrgetter[Any]:
    return attrgetter(pointer[1:].replace("/", "."))


def take_limit(ledger: Ledger, pointer: str, stated: float | None) -> float:
    """Return a limit that is the same on every loom: as stated, else as usual."""
    if stated is not None:
        return stated
    row = default_limits()[pointer]
    return _note(ledger, pointer, row["value"], system="", band=ValueBand(*row["band"]))


def _note(
    ledger: Ledger, pointer: str, value: float, *, system: str, band: ValueBand | None
) -> float:
    said = _said(pointer, system)
    return ledger.note(
        pointer, value, unit=said.unit, reason=said.reason, grade=said.grade, band=band
    )


class _Said(NamedTuple):
    """What the assumption of a starting value says beside the value and its band."""

    unit: str | None
    reason: Sentence
    grade: Grade


@cache
def _said(pointer: str, system: str) -> _Said:
    row = default_limits()[pointer]
    source: str = row["sources"][system] if "sources" in row else row["source"]
    return _Said(
        row.get("unit"),
        say_row(_key(pointer, system if "sources" in row else ""), source),
        Grade(row["grades"][system] if "grades" in row else row["grade"]),
    )


def _key(pointer: str, system: str = "") -> str:
    place = pointer.removeprefix("/").replace("/", ".")
    return f"assumption.loom.{place}.{system}" if system else f"assumption.loom.{place}"


def patterns() -> Mapping[str, str]:
    """Return the reason of every starting value, by key."""
    return {
        _key(pointer, system): source
        for pointer, row in default_limits().items()
        for system, source in row.get("sources", {"": row.get("source")}).items()
    }
