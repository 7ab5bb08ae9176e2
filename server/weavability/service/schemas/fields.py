"""The fields of request bodies: strict, bounded, and able to say what they accept.

A field refuses rather than converts: a number in quotation marks is a string, ``true`` is not 1.
Each knows its description, unit and an example; messages, the ``allowed`` member of a problem and
the OpenAPI document are all written from those.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from enum import StrEnum
from math import isfinite
from typing import Any, ClassVar, Generic, Protocol, TypeVar

from marshmallow import ValidationError, fields

from weavability.service.http.suggestions import did_you_mean
from weavability.textiles.errors import Fault, InputError

T = TypeVar("T")
Shape = dict[str, object]
"""A JSON Schema (2020-12, as OpenAPI 3.1 uses it)."""

# C0 and C1 control characters: never part of a name that a person wrote, and trouble in logs.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
TEXT_PATTERN = r"^[^\x00-\x1f\x7f-\x9f]*$"
"""The same as a pattern that every text matches, for JSON Schema."""

_WHOLE_NUMBER_LIMIT = 2**53


def escape(name: str) -> str:
    """Write ``name`` as one reference token of a JSON Pointer (RFC 6901)."""
    return name.replace("~", "~0").replace("/", "~1")


def figure(value: float) -> str:
    """Write a bound the way a person would: ``500`` rather than ``500.0``.

    >>> figure(500.0), figure(0.5), figure(20_000_000.0)
    ('500', '0.5', '20 000 000')
    """
    return f"{value:,.10g}".replace(",", " ")


class Titled(Protocol):
    """An object schema that the OpenAPI document knows by its title."""

    title: ClassVar[str]


class Described(fields.Field[T], Generic[T]):
    """A field that can describe itself.

    Attributes:
        description: What the value means; one sentence or phrase.
        unit: Unit of the value, ``None`` where it has none.
        example: A value that is accepted.
    """

    def __init__(
        self,
        description: str,
        *,
        example: object,
        unit: str | None = None,
        required: bool = False,
    ) -> None:
        super().__init__(required=required, allow_none=not required)
        self.description = description
        self.example = example
        self.unit = unit

    @property
    def label(self) -> str:
        """The name by which messages call the field."""
        return self.name or "the value"

    def allowed(self) -> object:
        """Say what is accepted, for the ``allowed`` member of a problem."""
        return None

    def absence(self) -> Fault:
        """Say that the field is missing although it is needed."""
        pointer = f"/{escape(self.label)}"
        return Fault(pointer, f"Give {self.label}: {self.description}.", None, self.allowed())

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        raise TypeError(f"{type(self).__name__} has no schema")

    def take(self, value: Any) -> T:
        """Read a value that is there and not null.

        Raises:
            InputError: With the faults of the value, pointers relative to it.
        """
        raise TypeError(f"{type(self).__name__} cannot read {value!r}")

    def _deserialize(self, value: Any, *_: object, **__: object) -> T:
        try:
            return self.take(value)
        except InputError as error:
            raise ValidationError(str(error)) from error

    def parts(self) -> Iterable[Titled]:
        """Return the object schemas that :meth:`kind` refers to."""
        return ()

    def shape(self) -> Shape:
        """Return the JSON Schema of the field, description and example included.

        An optional field also takes ``null``, which means the same as leaving it out.
        """
        kind = self.kind()
        words = f"{self.description} [{self.unit}]." if self.unit else f"{self.description}."
        told: Shape = {"description": words}
        # The example of an object is for messages; it names only a field or two.
        if not any(self.parts()):
            told["examples"] = [self.example]
        if self.required:
            return {**kind, **told}
        if isinstance(kind.get("type"), str) and "enum" not in kind:
            kind = {**kind, "type": [kind["type"], "null"]}
        else:
            kind = {"anyOf": [kind, {"type": "null"}]}
        return {**kind, **told}


class Number(Described[float]):
    """A finite number within closed bounds; whole numbers are numbers, strings and booleans not."""

    def __init__(
        self,
        description: str,
        *,
        example: float,
        minimum: float,
        maximum: float,
        unit: str | None = None,
        required: bool = False,
    ) -> None:
        super().__init__(description, example=example, unit=unit, required=required)
        self.minimum = minimum
        self.maximum = maximum

    def allowed(self) -> str:
        """Say the range and an example."""
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"a number from {figure(self.minimum)} to {figure(self.maximum)}{unit}, "
            f"such as {figure(float(str(self.example)))}"
        )

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"type": "number", "minimum": self.minimum, "maximum": self.maximum}

    def take(self, value: Any) -> float:
        """Read a value, strictly."""
        if type(value) is not float and type(value) is not int:
            raise self._not_a_number(value)
        # Written so that NaN fails as well.
        if not self.minimum <= value <= self.maximum:
            raise self._out_of_range(value)
        return float(value) + 0.0  # takes the sign off a negative zero

    def _not_a_number(self, value: object) -> InputError:
        hint = ""
        if isinstance(value, str) and _reads_as_number(value):
            hint = f" Leave out the quotation marks: {value.strip()} instead of {value!r}."
        return InputError.of(
            "", f"{self.label} must be a number.{hint}", given=value, allowed=self.allowed()
        )

    def _out_of_range(self, value: float) -> InputError:
        if not isfinite(value):
            return InputError.of(
                "",
                f"{self.label} must be a finite number.",
                given=str(value),
                allowed=self.allowed(),
            )
        unit = f" {self.unit}" if self.unit else ""
        bound, side = (
            (self.minimum, "at least") if value < self.minimum else (self.maximum, "at most")
        )
        return InputError.of(
            "",
            f"{self.label} must be {side} {figure(bound)}{unit}.",
            given=value,
            allowed=self.allowed(),
        )


def _reads_as_number(text: str) -> bool:
    try:
        return isfinite(float(text))
    except ValueError:
        return False


class WholeNumber(Described[int]):
    """A whole number within closed bounds; ``13.0`` is one, ``13.5`` and ``"13"`` are not."""

    def __init__(
        self,
        description: str,
        *,
        example: int,
        minimum: int,
        maximum: int,
        unit: str | None = None,
        required: bool = False,
    ) -> None:
        super().__init__(description, example=example, unit=unit, required=required)
        self.minimum = minimum
        self.maximum = maximum
        if max(abs(minimum), abs(maximum)) > _WHOLE_NUMBER_LIMIT:
            raise ValueError("bounds beyond 2**53 are not exact in JSON")

    def allowed(self) -> str:
        """Say the range and an example."""
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"a whole number from {figure(self.minimum)} to {figure(self.maximum)}{unit}, "
            f"such as {self.example}"
        )

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "integer",
            "format": "int64",
            "minimum": self.minimum,
            "maximum": self.maximum,
        }

    def take(self, value: Any) -> int:
        """Read a value, strictly."""
        if type(value) is int:
            whole = value
        elif type(value) is float and value.is_integer():
            whole = int(value)
        else:
            given = str(value) if isinstance(value, float) and not isfinite(value) else value
            raise InputError.of(
                "", f"{self.label} must be a whole number.", given=given, allowed=self.allowed()
            )
        if not self.minimum <= whole <= self.maximum:
            raise InputError.of(
                "", f"{self.label} must be {self.allowed()}.", given=value, allowed=self.allowed()
            )
        return whole


class Flag(Described[bool]):
    """``true`` or ``false``."""

    def allowed(self) -> list[bool]:
        """List both values."""
        return [True, False]

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"type": "boolean"}

    def take(self, value: Any) -> bool:
        """Read a value, strictly."""
        if not isinstance(value, bool):
            raise InputError.of(
                "", f"{self.label} must be true or false.", given=value, allowed=self.allowed()
            )
        return value


class Text(Described[str]):
    """A string of bounded length without control characters, of a pattern where one is stated."""

    def __init__(
        self,
        description: str,
        *,
        example: str,
        longest: int,
        pattern: str | None = None,
        pattern_words: str = "",
        required: bool = False,
    ) -> None:
        super().__init__(description, example=example, required=required)
        self.longest = longest
        self.pattern = re.compile(pattern) if pattern else None
        self.pattern_words = pattern_words

    def allowed(self) -> str:
        """Say the length, the pattern in words and an example."""
        words = f" of {self.pattern_words}" if self.pattern_words else ""
        return f"a string{words}, 1 to {self.longest} characters, such as {self.example!r}"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        shape: Shape = {"type": "string", "minLength": 1, "maxLength": self.longest}
        shape["pattern"] = f"^(?:{self.pattern.pattern})$" if self.pattern else TEXT_PATTERN
        return shape

    def take(self, value: Any) -> str:
        """Read a value, strictly."""
        complaint = self._complaint(value)
        if complaint:
            raise InputError.of(
                "", f"{self.label} {complaint}.", given=value, allowed=self.allowed()
            )
        return str(value)

    def _complaint(self, value: object) -> str | None:
        if not isinstance(value, str):
            return "must be a string"
        if not 1 <= len(value) <= self.longest:
            return f"must be 1 to {self.longest} characters long"
        if _CONTROL.search(value):
            return "must not contain control characters such as line breaks or tabs"
        if self.pattern and not self.pattern.fullmatch(value):
            return f"must consist of {self.pattern_words}"
        return None


E = TypeVar("E", bound=StrEnum)


class Choice(Described[E], Generic[E]):
    """One word of a list."""

    def __init__(
        self, options: type[E], description: str, *, example: E, required: bool = False
    ) -> None:
        super().__init__(description, example=example.value, required=required)
        self.options: dict[str, E] = {option.value: option for option in options}

    def allowed(self) -> list[str]:
        """List the words."""
        return list(self.options)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"type": "string", "enum": self.allowed()}

    def take(self, value: Any) -> E:
        """Read a value, strictly."""
        option = self.options.get(value) if isinstance(value, str) else None
        if option is None:
            words = ", ".join(self.options)
            hint = did_you_mean(value, self.options)
            raise InputError.of(
                "",
                f"{self.label} must be one of {words}.{hint}",
                given=value,
                allowed=self.allowed(),
            )
        return option


class Items(Described[tuple[T, ...]], Generic[T]):
    """A list of bounded length whose items are all read by one field."""

    def __init__(
        self,
        item: Described[T],
        description: str,
        *,
        most: int,
        fewest: int = 0,
        example: Sequence[object] | None = None,
        required: bool = False,
    ) -> None:
        super().__init__(description, example=example or [item.example], required=required)
        self.item = item
        self.fewest = fewest
        self.most = most

    def allowed(self) -> str:
        """Say the length and what the items are."""
        return f"a list of {self.fewest} to {self.most} items, each {self.item.allowed()}"

    def parts(self) -> Iterable[Titled]:
        """Return the object schemas of the items."""
        return self.item.parts()

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "array",
            "minItems": self.fewest,
            "maxItems": self.most,
            "items": self.item.kind(),
        }

    def take(self, value: Any) -> tuple[T, ...]:
        """Read a value, strictly."""
        if not isinstance(value, list):
            raise InputError.of(
                "", f"{self.label} must be a list.", given=value, allowed=self.allowed()
            )
        if not self.fewest <= len(value) <= self.most:
            raise InputError.of(
                "",
                f"{self.label} must have {self.fewest} to {figure(self.most)} items, "
                f"not {figure(len(value))}.",
                allowed=self.allowed(),
            )
        named = ((str(index), each) for index, each in enumerate(value))
        return tuple(read for _, read in read_all(named, self.item.take))


def read_all(
    named: Iterable[tuple[str, object]], take: Callable[[Any], T]
) -> Iterator[tuple[str, T]]:
    """Read every named value with ``take`` and yield it with its name.

    Raises:
        InputError: At the end, with the faults of all values below their names.
    """
    faults: list[Fault] = []
    for name, value in named:
        try:
            yield name, take(value)
        except InputError as error:
            faults.extend(error.below(f"/{escape(name)}").faults)
    if faults:
        raise InputError(faults)
