"""Sentences for people that machines can translate: a key, an English pattern, and its values.

Whatever is written to a caller about what is wrong or was assumed is a :class:`Sentence`, made by
:func:`say` of a key, a pattern and the values that it quotes. A plain text is none, so that the
type checker refuses a sentence without a key. ``data/messages.json`` lists all of them; it is made
from the code and its tables by ``openapi/regenerate``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import Enum
from functools import cache
from math import isfinite
from string import Formatter
from types import MappingProxyType
from typing import Annotated, Final, NamedTuple, TypeAlias, TypedDict

from weavability.textiles.rounded_numbers import significant
from weavability.textiles.sources import cite

Value: TypeAlias = str | int | float
"""What a sentence quotes: a number, a word as it was stated, or another sentence."""


class NestedSentence(TypedDict):
    """A sentence within a sentence, as an answer lists it among the values."""

    message_key: Annotated[str, "Its key"]
    message_values: Annotated[Mapping[str, WrittenValue], "The values that it quotes, by name"]


WrittenValue: TypeAlias = str | int | float | NestedSentence
"""A value as an answer lists it."""

_NOTHING: Final[Mapping[str, Value]] = MappingProxyType({})


class Sentence(str):
    """A text with the key of its pattern and the values that the pattern quotes.

    Attributes:
        key: ``kind.area.topic``, stable for ever; its kind is ``fault``, ``assumption``,
            ``problem`` or, of what is part of such a sentence, ``part``.
        values: The values by the names by which the pattern quotes them.
    """

    __slots__ = ("key", "values")

    key: str
    values: Mapping[str, Value]

    def __new__(cls, text: str, key: str, values: Mapping[str, Value]) -> Sentence:
        """Make the sentence of a text that is rendered already."""
        made = super().__new__(cls, text)
        made.key = key
        made.values = values
        return made

    def __reduce__(self) -> tuple[type[Sentence], tuple[str, str, dict[str, Value]]]:
        return Sentence, (str(self), self.key, dict(self.values))

    def __deepcopy__(self, _known: object) -> Sentence:
        return self

    def written_values(self) -> Quotation:
        """Return the values as an answer lists them."""
        return quotation(self.values) if self.values else _NO_QUOTATION


class Quotation(dict[str, "WrittenValue"]):
    """What a sentence quotes, by name, as an answer lists it: every figure is rounded already."""


_NO_QUOTATION: Final = Quotation()

NO_WORDS: Final = Sentence("", "part.nothing", _NOTHING)
"""What a sentence quotes in place of a part that it does not have."""


_AS_THEY_ARE: Final = frozenset({str, int, Sentence})


def written(value: Value) -> WrittenValue:
    """Return a value as an answer lists it; a sentence in a sentence keeps its key."""
    if isinstance(value, Sentence):
        return {"message_key": value.key, "message_values": value.written_values()}
    return value


def quotation(values: Mapping[str, Value]) -> Quotation:
    """Return reported values as an answer lists them."""
    return Quotation({name: written(value) for name, value in values.items()})


def say(key: str, pattern: str, /, **values: Value) -> Sentence:
    """Make a sentence.

    Args:
        key: The literal key; one key has one pattern.
        pattern: The literal English pattern, which quotes each value as ``{name}`` or with a
            format, ``{name:.1f}``; ``_`` in a format separates thousands by a space; sources
            are quoted by their keys, ``[PEIRCE-1937]``.
        values: The values, numbers as numbers, with the unit at the end of the name.

    >>> say("fault.cloth.too_wide", "{width_cm:.0f} cm are too wide.", width_cm=412.4)
    '412 cm are too wide.'
    """
    if not values:
        return _constant(key, pattern)
    for name, value in values.items():
        if type(value) not in _AS_THEY_ARE:
            values[name] = reported_as(value)
    shown: Mapping[str, Value] = values
    if ":_" in pattern:
        shown = {
            name: value if isinstance(value, str) else _Spaced(value)
            for name, value in values.items()
        }
    return Sentence(cite(pattern).format_map(shown), key, values)


def reported_as(value: Value) -> Value:
    """Return a value as it is reported, so that the text and what is rendered anew agree."""
    if type(value) in _AS_THEY_ARE:
        return value
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, float):
        return significant(float(value)) if isfinite(value) else str(value)
    return int(value)  # such as one of NumPy


class _Spaced(float):
    """A number whose thousands a space separates, if its format groups them."""

    def __format__(self, form: str) -> str:
        if not form:
            return str(int(self)) if self.is_integer() else str(float(self))
        return super().__format__(form).replace("_", " ")


def listed(parts: Sequence[Sentence]) -> Sentence:
    """Make one sentence of several, separated by semicolons; none of none.

    >>> listed([say("part.a", "one"), say("part.b", "another")])
    'one; another'
    """
    if not parts:
        return NO_WORDS
    first, *further = parts
    if not further:
        return first
    return say("part.several", "{first}; {further}", first=first, further=listed(further))


@cache
def _constant(key: str, pattern: str) -> Sentence:
    return Sentence(cite(pattern).format_map(_NOTHING), key, _NOTHING)


def say_row(key: str, pattern: str, /, **values: Value) -> Sentence:
    """Make a sentence whose key and pattern come from a table, which lists them in ``patterns``."""
    return say(key, pattern, **values)


class Quoted(NamedTuple):
    """A value that a pattern quotes, and how it is written: ``.1f``, ``g``, ``!r``; or as it is."""

    name: str
    form: str


def quoted(pattern: str) -> tuple[Quoted, ...]:
    """Return what a pattern quotes, each name and form once."""
    found = (
        Quoted(name, form or (f"!{conversion}" if conversion else ""))
        for _, name, form, conversion in Formatter().parse(pattern)
        if name
    )
    return tuple(dict.fromkeys(found))
