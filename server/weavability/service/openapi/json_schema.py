"""JSON Schemas of what goes in (the schemas) and of what comes out (frozen dataclasses)."""

from __future__ import annotations

import re
import types
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import StrEnum
from inspect import cleandoc
from textwrap import dedent
from typing import Any, Final, Literal, Union, get_args, get_origin, get_type_hints, is_typeddict

from weavability.checks.codes import CheckCode
from weavability.looms.thresholds import Grade
from weavability.service.openapi.glossary import unit_of, words_for
from weavability.service.schemas.base import Body, described
from weavability.service.schemas.fields import Shape

_SCALARS: Final[Mapping[object, str]] = {
    float: "number",
    int: "integer",
    str: "string",
    bool: "boolean",
    type(None): "null",
}
MAY_GROW: Final = frozenset({CheckCode, Grade})
"""Enumerations that get new values: a client has to read those that it does not know."""

_ATTRIBUTE: Final = re.compile(r"^(\w+): (.*(?:\n {4,}.*)*)", re.MULTILINE)


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
                "properties": {name: member.shape() for name, member in members.items()},
                "required": [name for name, member in members.items() if member.required],
                "additionalProperties": False,
            }
            for member in members.values():
                for part in member.parts():
                    if isinstance(part, Body):
                        self.body(part)
        return _reference(schema.title)

    def answer(self, kind: Any) -> Shape:
        """Return the schema of a type; dataclasses and typed dicts are added by their names."""
        if is_dataclass(kind):
            return self._members(kind, [field.name for field in fields(kind)])
        if is_typeddict(kind):
            return self._members(kind, list(get_type_hints(kind)))
        if isinstance(kind, type) and issubclass(kind, StrEnum):
            known = "x-known-values" if kind in MAY_GROW else "enum"
            return {"type": "string", known: [option.value for option in kind]}
        if kind is int:
            return {"type": "integer", "format": "int64"}
        if kind in _SCALARS:
            return {"type": _SCALARS[kind]}
        if kind in (object, Any):
            return {}
        return self._composed(get_origin(kind), get_args(kind))

    def _members(self, kind: Any, names: list[str]) -> Shape:
        title: str = kind.__name__
        if self._take(title, kind):
            hints = get_type_hints(kind)
            words = documented_attributes(kind)
            self.schemas[title] = {
                "type": "object",
                "description": _first_sentence(kind),
                "properties": {
                    name: _with_words(self.answer(hints[name]), title, name, words)
                    for name in names
                },
                "required": names,
            }
        return _reference(title)

    def _composed(self, origin: object, arguments: tuple[Any, ...]) -> Shape:
        if origin in (tuple, list):
            return {"type": "array", "items": self.answer(arguments[0])}
        if origin is not None and origin in (dict, Mapping):
            return {"type": "object", "additionalProperties": self.answer(arguments[1])}
        if origin is Literal:
            return {"type": "string", "enum": list(arguments)}
        if origin in (Union, types.UnionType):
            return _any_of([self.answer(each) for each in arguments])
        raise TypeError(f"no schema for {origin!r}")

    def _take(self, title: str, owner: object) -> bool:
        """Reserve a name; tell whether it is new."""
        if title in self._owners:
            if self._owners[title] is not owner:
                raise ValueError(f"two schemas are called {title}")
            return False
        self._owners[title] = owner
        self.schemas[title] = {}
        return True


def _reference(title: str) -> Shape:
    return {"$ref": f"#/components/schemas/{title}"}


def _any_of(options: list[Shape]) -> Shape:
    if all(option.keys() == {"type"} for option in options):
        return {"type": [option["type"] for option in options]}
    if len(options) == 2 and options[1] == {"type": "null"} and "enum" not in options[0]:
        only = options[0]
        if isinstance(only.get("type"), str):
            return {**only, "type": [only["type"], "null"]}
    return {"anyOf": options}


def _with_words(shape: Shape, title: str, name: str, documented: Mapping[str, str]) -> Shape:
    words = documented.get(name) or words_for(title, name) or spoken(name)
    unit = unit_of(name)
    text = words.rstrip(".")
    return {**shape, "description": f"{text} [{unit}]." if unit else f"{text}."}


def spoken(name: str) -> str:
    """Return a field's name as words, where nothing better is known of it.

    >>> spoken("reed_width_cm")
    'Reed width cm'
    """
    return name.replace("_", " ").capitalize()


def documented_attributes(kind: type) -> dict[str, str]:
    """Return what the ``Attributes`` section of a docstring says of each."""
    _, _, section = cleandoc(kind.__doc__ or "").partition("Attributes:\n")
    return {
        name: " ".join(words.replace("``", "`").split())
        for name, words in _attributes(dedent(section))
    }


def _attributes(section: str) -> Iterator[tuple[str, str]]:
    for match in _ATTRIBUTE.finditer(section):
        yield match[1], match[2]


def _first_sentence(kind: type) -> str:
    return (kind.__doc__ or kind.__name__).strip().splitlines()[0].replace("``", "`")


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
