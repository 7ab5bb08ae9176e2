"""Apply one change of a field to a construction: how a remedy is tried."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any, Final

from weavability.textiles.construction import Construction, DraftRequest
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

_ATTRIBUTES: Final = {"ends_per_cm": "threads_per_cm", "picks_per_cm": "threads_per_cm"}


def value_at(construction: Construction, pointer: str) -> object:
    """Return the value of a field, by its pointer in metric form (``/construction/…``)."""
    value: Any = construction
    for name in _names(pointer):
        value = getattr(value, name, None)
    return value.name if isinstance(value, Weave) else value


def changed(construction: Construction, pointer: str, to: object) -> Construction:
    """Change one field of a construction, by its pointer in metric form (``/construction/…``).

    Raises:
        KeyError: The pointer names no field that a remedy changes.
    """
    if pointer == "/construction/draft/threading":
        return replace(construction, draft=DraftRequest(threading=str(to)))
    if pointer == "/construction/selvedge/weave":
        to = parse_weave(str(to))
    result: Construction = _with(construction, _names(pointer), to)
    return result


def _names(pointer: str) -> list[str]:
    return [_ATTRIBUTES.get(name, name) for name in pointer.split("/")[2:]]


def _with(parent: Any, names: list[str], to: object) -> Any:
    name, *rest = names
    if not is_dataclass(parent) or name not in {field.name for field in fields(parent)}:
        raise KeyError(name)
    value = _with(getattr(parent, name), rest, to) if rest else to
    return replace(parent, **{name: value})  # type: ignore[type-var]
