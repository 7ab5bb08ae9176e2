"""Carry faults through marshmallow: every error message of a schema is a fault.

A field or a schema raises a ``ValidationError`` of faults, each with a pointer relative to what was
read. marshmallow files them under the name of the field or the index of the item; here they are
collected into one list, with the whole pointer.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace

from marshmallow import ValidationError
from marshmallow.exceptions import SCHEMA

from weavability.textiles.errors import Fault, InputError


def escape(name: str) -> str:
    """Write ``name`` as one reference token of a JSON Pointer (RFC 6901)."""
    return name.replace("~", "~0").replace("/", "~1")


def refused(*faults: Fault) -> ValidationError:
    """Make marshmallow's error of faults whose pointers are relative to the value."""
    return ValidationError(list(faults))


@contextmanager
def refused_by_core() -> Iterator[None]:
    """Turn the core's refusal of a value into marshmallow's error, faults and all.

    Raises:
        ValidationError: The block raised an ``InputError``.
    """
    try:
        yield
    except InputError as error:
        raise refused(*error.faults) from None


def faults_of(error: ValidationError) -> tuple[Fault, ...]:
    """Return every fault of an error, with pointers relative to the value that was read."""
    return tuple(_collected(error.messages, ""))


def in_document_order(faults: Iterable[Fault], given: object) -> list[Fault]:
    """Return faults as a reader of the document meets them; what is missing follows its siblings.

    Args:
        faults: Faults whose pointers are relative to the document.
        given: The document.
    """
    known: _Known = {}
    return sorted(faults, key=lambda fault: tuple(_places(fault.pointer, given, known)))


_Known = dict[int, tuple[Mapping[str, int], list[object]]]
"""Places and values of the members of objects, by the identity of the object."""


def _places(pointer: str, given: object, known: _Known) -> Iterator[int]:
    """Yield the place of each step of a pointer among its siblings."""
    for step in pointer.split("/")[1:]:
        below: object = None
        if isinstance(given, dict):
            if id(given) not in known:
                names = {escape(str(name)): place for place, name in enumerate(given)}
                known[id(given)] = names, [*given.values(), None]
            places, values = known[id(given)]
            place = places.get(step, len(places))
            below = values[place]
        elif isinstance(given, list) and step.isdecimal():
            place = int(step)
            below = given[place] if place < len(given) else None
        else:
            place = 0
        yield place
        given = below


def _collected(messages: object, pointer: str) -> Iterator[Fault]:
    if isinstance(messages, Mapping):
        for name, below in messages.items():
            here = pointer if name == SCHEMA else f"{pointer}/{escape(str(name))}"
            yield from _collected(below, here)
    elif isinstance(messages, list):
        for each in messages:
            yield from _collected(each, pointer)
    elif isinstance(messages, Fault):
        yield replace(messages, pointer=pointer + messages.pointer)
    else:
        raise TypeError(f"{messages!r} is not a fault")
