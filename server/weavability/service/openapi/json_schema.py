"""JSON Schemas of what goes in (the schemas) and of what comes out (frozen dataclasses)."""

from __future__ import annotations

import types
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from enum import StrEnum
from functools import cache
from inspect import cleandoc
from typing import Any, Final, Literal, Union, get_args, get_origin, get_type_hints, is_typeddict

from weavability.answers.field_words import FieldWords, words_of
from weavability.service.http.responses import FlatAnswer
from weavability.service.openapi.ucum import with_unit
from weavability.service.schemas.base import Body, described
from weavability.service.schemas.fields import Described, Items, Shape

_SCALARS: Final[Mapping[object, str]] = {
    float: "number",
    int: "integer",
    str: "string",
    bool: "boolean",
    type(None): "null",
}


class Components:
    """Collects the named schemas and responses that a document refers to."""

    def __init__(self) -> None:
        self.schemas: dict[str, Shape] = {}
        self.responses: dict[str, Shape] = {}
        self._owners: dict[str, object] = {}

    def body(self, schema: Body[Any]) -> Shape:
        """Add a request schema and all its parts; return the reference to it."""
        if self._take(schema.title, type(schema)):
            members = {name: described(field) for name, field in schema.fields.items()}
            self.schemas[schema.title] = {
                "type": "object",
                "description": " ".join(cleandoc(type(schema).__doc__ or "").split()),
                "properties": {
                    name: with_unit(member.shape(), _unit_of(member), of=schema.title)
                    for name, member in members.items()
                },
                "required": [name for name, member in members.items() if member.required],
                "additionalProperties": False,
            }
            for member in members.values():
                for part in member.parts():
                    if isinstance(part, Body):
                        self.body(part)
        return _reference(schema.title)

    def answer(self, kind: Any) -> Shape:
        """Return the schema of a type; those with members are added by their names."""
        if isinstance(kind, FlatAnswer):
            return self._object(kind, kind)
        if isinstance(kind, type) and is_dataclass(kind):
            return self._object(kind, _as_flat(kind, [field.name for field in fields(kind)]))
        if is_typeddict(kind):
            return self._object(kind, _as_flat(kind, _hints(kind)))
        if isinstance(kind, type) and issubclass(kind, StrEnum):
            return _open([option.value for option in kind])
        if kind is int:
            return {"type": "integer", "format": "int64"}
        if kind in _SCALARS:
            return {"type": _SCALARS[kind]}
        if kind in (object, Any):
            return {}
        return self._composed(get_origin(kind), get_args(kind))

    def _object(self, owner: object, flat: FlatAnswer) -> Shape:
        if self._take(flat.title, owner):
            self.schemas[flat.title] = {
                "type": "object",
                "description": flat.words,
                "properties": {
                    name: with_unit(
                        {
                            **self.answer(_hints(kind)[name]),
                            **_described(words_of(kind)[name]),
                        },
                        words_of(kind)[name].unit,
                        of=flat.title,
                        beside="unit" in flat.members,
                        by_name=name.endswith("_values"),
                    )
                    for name, kind in flat.members.items()
                },
                "required": [name for name in flat.members if name not in flat.optional],
            }
        return _reference(flat.title)

    def _composed(self, origin: object, arguments: tuple[Any, ...]) -> Shape:
        if origin in (tuple, list):
            return {"type": "array", "items": self.answer(arguments[0])}
        if origin is not None and origin in (dict, Mapping):
            return {"type": "object", "additionalProperties": self.answer(arguments[1])}
        if origin is Literal:
            return _open(list(arguments))
        if origin in (Union, types.UnionType):
            return _any_of([self.answer(each) for each in arguments])
        raise TypeError(f"no schema for {origin!r}")

    def _take(self, title: str, owner: object) -> bool:
        """Reserve a name; return whether it is new."""
        if title in self._owners:
            if self._owners[title] is not owner:
                raise ValueError(f"two schemas are called {title}")
            return False
        self._owners[title] = owner
        self.schemas[title] = {}
        return True


@cache
def _hints(kind: type) -> Mapping[str, Any]:
    """Return the types of all members: to find them for each member anew takes half a second."""
    return get_type_hints(kind)


def _unit_of(field: Described[Any]) -> str:
    return field.inner.unit if isinstance(field, Items) else field.unit


def _open(values: list[str]) -> Shape:
    """Return the schema of a name in an answer: a later version may know further ones."""
    return {"type": "string", "x-known-values": values}


def _reference(title: str) -> Shape:
    return {"$ref": f"#/components/schemas/{title}"}


def _any_of(options: list[Shape]) -> Shape:
    if all(option.keys() == {"type"} for option in options):
        return {"type": [option["type"] for option in options]}
    if len(options) == 2 and options[1] == {"type": "null"}:
        only = options[0]
        if isinstance(only.get("type"), str):
            return {**only, "type": [only["type"], "null"]}
    return {"anyOf": options}


def _described(field: FieldWords) -> Shape:
    unit = f" [{field.unit}]" if field.unit else ""
    since = {"x-since": field.since} if field.since else {}
    deprecated = {"deprecated": True} if field.is_deprecated else {}
    return {"description": f"{field.words}{unit}.", **since, **deprecated}


def _as_flat(kind: type, names: Iterable[str]) -> FlatAnswer:
    words = (kind.__doc__ or kind.__name__).strip().splitlines()[0].replace("``", "`")
    return FlatAnswer(title=kind.__name__, words=words, members=dict.fromkeys(names, kind))


def references(shape: object) -> Iterable[str]:
    """Yield the names of all schemas that ``shape`` refers to directly."""
    if isinstance(shape, Mapping):
        for key, value in shape.items():
            if key == "$ref" and isinstance(value, str):
                yield value.rpartition("/")[2]
            else:
                yield from references(value)
    elif isinstance(shape, list):
        for each in shape:
            yield from references(each)
