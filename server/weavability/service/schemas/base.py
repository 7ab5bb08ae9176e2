"""The base of every request schema: all faults at once, each with its pointer and a remedy."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice, pairwise
from typing import Any, ClassVar, Final, Generic, TypeVar

from marshmallow import Schema, ValidationError, fields

from weavability.service.http.suggestions import did_you_mean
from weavability.service.schemas.fields import Described, Shape, escape
from weavability.textiles.errors import Fault, InputError

T = TypeVar("T")

_MOST_UNKNOWN: Final = 60


class Body(Schema, Generic[T]):
    """A JSON object that is read into a dataclass.

    A subclass declares the fields, and says in :meth:`presence` which of them go together, in
    :meth:`coherence` how their values must agree, and in :meth:`build` what is made of them.
    """

    title: ClassVar[str]
    """Name of the schema in the OpenAPI document."""

    makes: ClassVar[Callable[..., Any]]
    """The dataclass that is made of the values."""

    def presence(self, _names: frozenset[str], /) -> Iterator[Fault]:
        """Judge which fields are given together; the names are those given and not null."""
        yield from ()

    def coherence(self, _values: Mapping[str, Any], /) -> Iterator[Fault]:
        """Judge values against each other; called once every single one is good."""
        yield from ()

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> T:
        """Make the object of good values; the second argument is the JSON object as it came."""
        made: T = self.makes(**values)
        return made

    def read(self, given: object) -> T:
        """Read one JSON object; a field that is null counts as not given.

        This takes the place of marshmallow's own loop, which costs twice the time and reports
        messages without the value, the remedy and a JSON Pointer.

        Raises:
            InputError: With every fault that was found; pointers are relative to the object.
        """
        if not isinstance(given, dict):
            raise InputError.of("", "This must be a JSON object: { … }.", given=given)
        values, faults = self._take_fields(given)
        if not given.keys() <= self.fields.keys():
            faults.extend(islice(self._unknown(given), _MOST_UNKNOWN))
        names = frozenset(name for name, value in given.items() if value is not None)
        faults.extend(self.presence(names))
        faults = faults or list(self.coherence(values))
        if faults:
            raise InputError(faults)
        return self.build(values, given)

    def load(self, data: Any, **_: object) -> T:
        """Read one JSON object the way marshmallow's callers expect.

        Raises:
            ValidationError: With the messages by JSON Pointer.
        """
        try:
            return self.read(data)
        except InputError as error:
            messages = {fault.pointer: [fault.message] for fault in error.faults}
            raise ValidationError(messages) from error

    def _take_fields(self, given: Mapping[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
        values: dict[str, Any] = {}
        faults: list[Fault] = []
        for name, field in self.fields.items():
            value = given.get(name)
            if value is None:
                if field.required:
                    faults.append(described(field).absence())
                continue
            try:
                values[name] = described(field).take(value)
            except InputError as error:
                faults.extend(error.below(f"/{name}").faults)
        return values, faults

    def _unknown(self, given: Mapping[str, Any]) -> Iterator[Fault]:
        """Refuse unknown fields: a misspelt limit must not be silently ignored."""
        for name, value in given.items():
            if name not in self.fields:
                hint = did_you_mean(name, self.fields)
                message = f"There is no field of this name here.{hint}"
                yield Fault(f"/{escape(name)}", message, value, list(self.fields))


def described(field: fields.Field[Any]) -> Described[Any]:
    """Narrow a field of a schema to ours; schemas are built of nothing else."""
    if not isinstance(field, Described):
        raise TypeError(f"{field!r} cannot describe itself")
    return field


class Part(Described[T], Generic[T]):
    """A nested JSON object, read by its own schema."""

    def __init__(
        self, schema: Body[T], description: str, *, example: object, required: bool = False
    ) -> None:
        super().__init__(description, example=example, required=required)
        self.schema = schema

    def allowed(self) -> str:
        """Name the fields of the object."""
        return f"an object with {', '.join(self.schema.fields)}"

    def parts(self) -> Iterable[Body[Any]]:
        """Return the schema."""
        return (self.schema,)

    def kind(self) -> Shape:
        """Refer to the schema by its name."""
        return {"$ref": f"#/components/schemas/{self.schema.title}"}

    def take(self, value: Any) -> T:
        """Read a value, strictly."""
        if not isinstance(value, dict):
            raise InputError.of(
                "",
                f"{self.label} must be an object: {{ … }}.",
                given=value,
                allowed=self.allowed(),
            )
        return self.schema.read(value)


def exactly_one(names: frozenset[str], *pair: str, words: str) -> Iterator[Fault]:
    """Yield a fault unless exactly one field of ``pair`` is among ``names``."""
    found = [name for name in pair if name in names]
    if len(found) == 1:
        return
    yield from at_most_one(names, *pair, words=words)
    if not found:
        listed = " or ".join(pair)
        yield Fault(f"/{pair[0]}", f"Give {words}: exactly one of {listed}.", None, listed)


def at_most_one(names: frozenset[str], *pair: str, words: str) -> Iterator[Fault]:
    """Yield a fault where more than one field of ``pair`` is among ``names``."""
    found = [name for name in pair if name in names]
    if len(found) > 1:
        yield Fault(
            f"/{found[-1]}",
            f"Give {words} once: both {' and '.join(found)} are given; leave one out.",
            found,
            " or ".join(pair),
        )


def ascending(values: Mapping[str, Any], *names: str, strict: bool = True) -> Iterator[Fault]:
    """Yield a fault for each neighbouring pair of ``names`` whose values do not rise."""
    given = [name for name in names if name in values]
    for low, high in pairwise(given):
        rises = values[low] < values[high] if strict else values[low] <= values[high]
        if not rises:
            words = "greater than" if strict else "at least"
            yield Fault(
                f"/{high}",
                f"{high} must be {words} {low} ({values[low]:g}).",
                values[high],
                f"{words} {values[low]:g}",
            )


def without(names: Iterable[str], present: frozenset[str], *, because: str) -> Iterator[Fault]:
    """Yield a fault for each of ``names`` that is present although it does not belong."""
    for name in names:
        if name in present:
            yield Fault(f"/{name}", f"Leave out {name}: {because}.", name)
