"""The base of all models: a frozen dataclass that reads itself from JSON and writes itself back.

A field's JSON name is its own name unless its metadata has ``key``. Fields that the class does not
know are kept in ``extra`` and written back, so that a newer service loses nothing in an older
client. A required field that is missing, or of another type, is an ``AnswerUnreadable`` that names
the place.
"""

from __future__ import annotations

import functools
import types
import typing
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, field, fields
from enum import StrEnum
from typing import Any, Self, TypeVar, Union, cast, dataclass_transform

from weavability_client._json import elements, members
from weavability_client.errors import AnswerUnreadable

C = TypeVar("C")
Decoder = Callable[[object, str], Any]
Scalar = int | float | str | bool | None

LONGEST_SHOWN = 6
"""Members of a list that ``repr`` shows before it counts the rest."""


@dataclass_transform(
    eq_default=True, frozen_default=True, kw_only_default=True, field_specifiers=(field,)
)
def record(cls: type[C]) -> type[C]:
    """Make ``cls``, a subclass of ``Record``, a frozen dataclass with slots and keywords.

    Comparison, hash and ``repr`` are inherited: generating them anew for every class would double
    the time that the import takes.
    """
    return dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)(cls)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Record:
    """Base of all models.

    Two are equal if class and members are. The ``repr`` leaves out what is not stated, and
    counts the rest of long lists.

    Attributes:
        extra: Members of the JSON object that this class does not know.
    """

    extra: Mapping[str, object] = field(default_factory=dict[str, object])

    @classmethod
    def from_json(cls, document: object, pointer: str = "") -> Self:
        """Read an object of parsed JSON.

        Args:
            document: Parsed JSON.
            pointer: JSON Pointer of ``document`` in the whole answer, for the error message.

        Raises:
            AnswerUnreadable: It is not an object, lacks a required member, or one has another type.
        """
        members = _object(document, pointer)
        plan = _PLANS.get(cls) or _PLANS.setdefault(cls, _plan(cls))
        missing = plan.required.difference(members)
        if missing:
            raise AnswerUnreadable(f"the answer has no {pointer}/{min(missing)}")
        values = {
            name: decode(members[key], f"{pointer}/{key}")
            for key, (name, decode) in plan.members.items()
            if key in members
        }
        extra = {key: value for key, value in members.items() if key not in plan.members}
        return cls(**values, extra=extra)

    def to_json(self) -> dict[str, object]:
        """Return the JSON object, without members that are ``None``."""
        stated = {_key(each): getattr(self, each.name) for each in _own_fields(type(self))}
        return {
            key: to_plain(value)
            for key, value in {**stated, **self.extra}.items()
            if value is not None
        }

    def to_row(self) -> dict[str, Scalar]:
        """Return one flat row for a data frame: every single value, nested ones by dotted names."""
        return dict(_flat(self, ""))

    def picked(self, *names: str) -> dict[str, Scalar]:
        """Return one flat row of some of its single values."""
        return {name: _plain(getattr(self, name)) for name in names}

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Record) or type(self) is not type(other):
            return NotImplemented
        return _values(self) == _values(other)

    def __hash__(self) -> int:
        return hash((type(self), _values(self)[1:]))

    def __repr__(self) -> str:
        stated = [each for each in fields(self) if getattr(self, each.name) not in (None, (), {})]
        shown = [f"{each.name}={_shown(getattr(self, each.name))}" for each in stated]
        return f"{type(self).__name__}({', '.join(shown)})"


_FOR_PROGRAMS = frozenset({"message_key", "reason_key"})
"""Members that a table for readers lacks, since they say nothing that the sentence does not."""


class Several(tuple[C, ...]):
    """A tuple of records that reads as a list of lines, and as a table in a notebook."""

    __slots__ = ()

    def __getitem__(self, key: Any) -> Any:
        found = super().__getitem__(key)
        return Several(found) if isinstance(key, slice) else found

    def __repr__(self) -> str:
        lines = "".join(f"  {place}: {_line(each)}\n" for place, each in enumerate(self))
        return f"[\n{lines}]" if lines else "[]"

    def _repr_html_(self) -> str:
        from weavability_client.notebooks import html_table  # not needed but in a notebook

        rows = [each.to_row() for each in self if isinstance(each, Record)]
        names = [
            name
            for name in dict.fromkeys(name for row in rows for name in row)
            if name not in _FOR_PROGRAMS and any(row.get(name) is not None for row in rows)
        ]
        table = html_table(names, [[row.get(name) for name in names] for row in rows])
        return table or "<p>none</p>"


def _line(each: object) -> str:
    """Return a record in a line: its own words, or its first single values."""
    if type(each).__str__ is not object.__str__ or not isinstance(each, Record):
        return str(each).partition("\n")[0]
    stated = [(name, value) for name, value in each.to_row().items() if value is not None]
    shown = ", ".join(f"{name}={value!r}" for name, value in stated[:LONGEST_SHOWN])
    return f"{type(each).__name__}({shown}{', ...' if len(stated) > LONGEST_SHOWN else ''})"


def to_plain(value: object) -> object:
    """Return ``value`` with models and tuples replaced by what JSON knows."""
    if isinstance(value, Record):
        return value.to_json()
    inner = members(value)
    if inner is not None:
        return {key: to_plain(each) for key, each in inner.items()}
    listed = elements(value)
    return value if listed is None else [to_plain(each) for each in listed]


def _values(each: Record) -> tuple[object, ...]:
    """Return every member, ``extra`` first."""
    return tuple(getattr(each, one.name) for one in fields(each))


def _shown(value: object) -> str:
    if isinstance(value, StrEnum):
        return repr(str(value))
    listed = elements(value)
    if listed is None or len(listed) <= LONGEST_SHOWN:
        return repr(value)
    first = ", ".join(map(_shown, listed[:LONGEST_SHOWN]))
    return f"({first}, ... {len(listed)} in all)"


def _flat(each: Record, prefix: str) -> Iterator[tuple[str, Scalar]]:
    for one in _own_fields(type(each)):
        name, value = prefix + _key(one), getattr(each, one.name)
        if isinstance(value, Record):
            yield from _flat(value, f"{name}.")
        elif value is None or isinstance(value, int | float | str):
            yield name, _plain(value)


def _plain(value: Any) -> Scalar:
    plain: Scalar = str(value) if isinstance(value, StrEnum) else value
    return plain


def _own_fields(cls: type[Record]) -> list[Field[Any]]:
    return [each for each in fields(cls) if each.name != "extra"]


def _key(each: Field[Any]) -> str:
    return str(each.metadata.get("key", each.name))


@dataclass(frozen=True, slots=True)
class _Plan:
    """How a class is read: attribute and decoder by JSON name, and the names it must have."""

    members: Mapping[str, tuple[str, Decoder]]
    required: frozenset[str]


_PLANS: dict[type[Record], _Plan] = {}
"""How each class is read, worked out once."""


def _plan(cls: type[Record]) -> _Plan:
    hints = typing.get_type_hints(cls)
    own = _own_fields(cls)
    members = {_key(each): (each.name, _decoder(hints[each.name])) for each in own}
    required = [
        _key(each) for each in own if each.default is MISSING and each.default_factory is MISSING
    ]
    return _Plan(members, frozenset(required))


def _decoder(hint: Any) -> Decoder:
    """Return the function that reads a value of the type ``hint``."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (Union, types.UnionType):
        choices = [_decoder(each) for each in arguments if each is not types.NoneType]
        return functools.partial(_either, choices, types.NoneType in arguments)
    if origin is tuple:
        return functools.partial(_tuple, _decoder(arguments[0]))
    if origin is not None:
        return functools.partial(_mapping, _decoder(arguments[1]))
    if hint is object:
        return lambda value, _pointer: value
    if issubclass(hint, Record):
        return cast("Decoder", hint.from_json)
    if issubclass(hint, StrEnum):
        return functools.partial(_member, hint)
    return functools.partial(_scalar, hint)


def _either(choices: list[Decoder], nullable: bool, value: object, pointer: str) -> object:  # noqa: FBT001 (bound by position)
    if value is None and nullable:
        return None
    *early, last = choices
    for decode in early:
        try:
            return decode(value, pointer)
        except AnswerUnreadable:
            continue
    return last(value, pointer)


def _tuple(decode: Decoder, value: object, pointer: str) -> tuple[Any, ...]:
    listed = elements(value)
    if listed is None:
        raise _unexpected(pointer, "a list", value)
    read = [decode(each, f"{pointer}/{place}") for place, each in enumerate(listed)]
    return Several(read) if read and isinstance(read[0], Record) else tuple(read)


def _mapping(decode: Decoder, value: object, pointer: str) -> dict[str, Any]:
    members = _object(value, pointer)
    return {key: decode(each, f"{pointer}/{key}") for key, each in members.items()}


def _member(kind: type[StrEnum], value: object, pointer: str) -> StrEnum:
    if not isinstance(value, str) or value not in list(kind):
        raise _unexpected(pointer, "one of " + ", ".join(kind), value)
    return kind(value)


def _scalar(kind: type[object], value: object, pointer: str) -> object:
    if kind is float and type(value) is int:
        return float(value)
    if type(value) is not kind:
        raise _unexpected(pointer, kind.__name__, value)
    return value


def _object(value: object, pointer: str) -> Mapping[str, object]:
    found = members(value)
    if found is None:
        raise _unexpected(pointer, "an object", value)
    return found


def _unexpected(pointer: str, expected: str, value: object) -> AnswerUnreadable:
    shown = repr(value)[:60]
    return AnswerUnreadable(f"{pointer or 'the answer'} should be {expected}, not {shown}")
