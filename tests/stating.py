"""State in a request what was assumed of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from typing import Any

from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.textiles.assumptions import Assumption
from weavability.textiles.construction import Construction

NOT_STATED = frozenset(
    {
        # What a name means is not stated by a value at its own place.
        "/construction/weave",
        # Of a length, hours are given; a default length is no assumption about the order.
        "/construction/length_m",
        # An estimated thickness follows from the yarns.
        "/construction/thickness_mm",
    }
)


def assumed(fit: Fit) -> dict[str, Assumption]:
    """Everything that was assumed for a pair, by its pointer."""
    return {line.pointer: line for line in fit.assumptions}


def stated(
    construction: Construction, loom: Loom, values: Iterable[tuple[str, Any]]
) -> tuple[Construction, Loom]:
    """Return a pair with values stated at pointers."""
    pair: dict[str, Any] = {"construction": construction, "loom": loom}
    for pointer, value in values:
        part, *path = pointer[1:].split("/")
        pair[part] = _with(pair[part], path, value)
    return pair["construction"], pair["loom"]


def _with(record: Any, path: list[str], value: Any) -> Any:
    if not path:
        return value
    name, *rest = path
    if isinstance(record, Mapping):
        return {**record, name: _with(record[name], rest, value)}
    if isinstance(record, tuple):
        place = int(name)
        return (*record[:place], _with(record[place], rest, value), *record[place + 1 :])
    assert name in {field.name for field in fields(record)}, (name, path)
    return replace(record, **{name: _with(getattr(record, name), rest, value)})
