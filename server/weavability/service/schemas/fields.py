"""Fields of request bodies: strict, bounded, and able to describe what they accept.

A field refuses rather than converts: a number in quotation marks is a string, ``true`` is not 1.
Each knows its description, unit and an example; messages, the ``allowed`` member of a problem and
the OpenAPI document are all written from those.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from math import isfinite
from typing import Any, ClassVar, Final, Generic, Protocol, TypeVar

from marshmallow import Schema, ValidationError, fields, missing

from weavability.service.http.problems import MOST_ERRORS
from weavability.service.http.suggestions import did_you_mean
from weavability.service.schemas.faults import refused
from weavability.textiles.bounds import Bounds
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import Sentence, say

T = TypeVar("T")
Shape = dict[str, object]
"""A JSON Schema (2020-12, as OpenAPI 3.1 uses it)."""

# C0 and C1 control characters: never part of a name that a person wrote, and trouble in logs.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
TEXT_PATTERN = r"^[^\x00-\x1f\x7f-\x9f]*$"
"""The same as a pattern that every text matches, for JSON Schema."""

_WHOLE_NUMBER_LIMIT = 2**53


def figure(value: float) -> str:
    """Write a bound the way a person would: ``500`` rather than ``500.0``.

    >>> figure(500.0), figure(0.5), figure(20_000_000.0)
    ('500', '0.5', '20 000 000')
    """
    return f"{value:,.10g}".replace(",", " ")


class Titled(Protocol):
    """An object schema that the OpenAPI document knows by its title."""

    title: ClassVar[str]


THE_VALUE: Final = say("part.the_value", "the value")


class Described(fields.Field[T], Generic[T]):
    """A field that can describe itself; its errors are faults.

    A subclass reads a value in marshmallow's ``_deserialize``, which gets neither a missing value
    nor null. Further arguments go to the field of marshmallow that it may be combined with.

    Attributes:
        description: What the value means; one sentence or phrase.
        unit: Unit of the value; empty for a value without one.
        example: A value that is accepted.
        called: What messages call a field without a name of its own, such as that of a list's
            items.
    """

    def __init__(
        self,
        description: str,
        *,
        example: object,
        unit: str = "",
        required: bool = False,
        called: Sentence = THE_VALUE,
        **of_marshmallow: Any,
    ) -> None:
        super().__init__(required=required, **of_marshmallow)
        self.description = description
        self.example = example
        self.unit = unit
        self.called = called

    @property
    def label(self) -> str | Sentence:
        """What messages call the field."""
        named = self.name if isinstance(self.parent, Schema) else None
        return named or self.called

    def allowed(self) -> object:
        """Return what is accepted, for the ``allowed`` member of a problem."""
        return None

    def refusal(self, message: Sentence, given: object = None) -> ValidationError:
        """Make the error of a value; its message begins with :attr:`label`."""
        return refused(Fault("", message, given, self.allowed()))

    def not_allowed(self, given: object) -> ValidationError:
        """Make the error of a value that is none of what :meth:`allowed` states."""
        message = say(
            "fault.value.not_allowed",
            "{field} must be {allowed}.",
            field=self.label,
            allowed=str(self.allowed()),
        )
        return self.refusal(message, given)

    def deserialize(
        self,
        value: Any,
        attr: str | None = None,
        data: Mapping[str, Any] | None = None,
        **_options: Any,
    ) -> Any:
        """Read a value by ``_deserialize`` alone: no field of ours has validators or options."""
        if value is missing or value is None:
            return super().deserialize(value, attr, data)
        return self._deserialize(value, attr, data)

    def make_error(self, key: str, **_: Any) -> ValidationError:
        """Make the error of a missing value, or of a null that is an item of a list."""
        if key == "null":
            # The words for any other value of a wrong type fit null as well.
            try:
                self._deserialize(None, None, None)
            except ValidationError as error:
                return error
        words = self.description[:1].lower() + self.description[1:]
        if words.removeprefix("the ") == self.label:
            message = say("fault.value.missing", "{field} is missing.", field=self.label)
        else:
            message = say(
                "fault.value.missing_field",
                "{field} is missing: {meaning}.",
                field=self.label,
                meaning=words,
            )
        return self.refusal(message)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        raise TypeError(f"{type(self).__name__} has no schema")

    def parts(self) -> Iterable[Titled]:
        """Return the object schemas that :meth:`kind` refers to."""
        return ()

    def shape(self) -> Shape:
        """Return the JSON Schema of the field, description and example included.

        An optional field also takes ``null``, which means the same as leaving it out.
        """
        kind = self.kind()
        words = f"{self.description} [{self.unit}]." if self.unit else f"{self.description}."
        described: Shape = {"description": words}
        # The example of an object is for messages; it names only a field or two.
        if not any(self.parts()):
            described["examples"] = [self.example]
        if self.required:
            return {**kind, **described}
        if isinstance(kind.get("type"), str) and "enum" not in kind:
            kind = {**kind, "type": [kind["type"], "null"]}
        else:
            kind = {"anyOf": [kind, {"type": "null"}]}
        return {**kind, **described}


class ReadOnly(Described[object]):
    """A member that answers have; a request in which it comes back may keep it, and it is not read.

    Args:
        description: What it holds.
        kind: The JSON Schema of the value.
    """

    def __init__(self, description: str, kind: Shape, *, example: object) -> None:
        super().__init__(description, example=example, dump_only=True)
        self._kind = kind

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return self._kind

    def shape(self) -> Shape:
        """Return the JSON Schema of the member, which says that it is for answers."""
        return {**super().shape(), "readOnly": True}


class Number(Described[float]):
    """A finite number within closed bounds; whole numbers are numbers, strings and booleans not."""

    def __init__(
        self,
        description: str,
        bounds: Bounds,
        *,
        example: float,
        required: bool = False,
        called: Sentence = THE_VALUE,
    ) -> None:
        super().__init__(
            description, example=example, unit=bounds.unit, required=required, called=called
        )
        self.bounds = bounds

    def allowed(self) -> str:
        """Return the range and an example."""
        zero = "0, or " if self.bounds.or_zero else ""
        example = figure(float(str(self.example)))
        return f"{zero}a number {_range(self.bounds)}, such as {example}"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        least, most = self.bounds.least, self.bounds.most
        if self.bounds.or_zero:
            between = {"exclusiveMinimum": 0, "exclusiveMaximum": least}
            return {"type": "number", "minimum": 0, "maximum": most, "not": between}
        return {"type": "number", "minimum": least, "maximum": most}

    def _deserialize(self, value: Any, *_: object, **__: object) -> float:
        if type(value) is not float and type(value) is not int:
            raise self._not_a_number(value)
        # Written out, because a request has fifty numbers and a call costs more than comparing.
        if not self.bounds.least <= value <= self.bounds.most and value not in self.bounds:
            raise self._out_of_range(value)
        return float(value) + 0.0  # takes the sign off a negative zero

    def _not_a_number(self, value: object) -> ValidationError:
        if isinstance(value, str) and _reads_as_number(value):
            message = say(
                "fault.value.quoted_number",
                "{field} must be a number. Leave out the quotation marks: {number} instead of "
                "{given!r}.",
                field=self.label,
                number=value.strip(),
                given=value,
            )
        else:
            message = say("fault.value.not_a_number", "{field} must be a number.", field=self.label)
        return self.refusal(message, value)

    def _out_of_range(self, value: float) -> ValidationError:
        if _is_not_finite(value):
            message = say(
                "fault.value.not_finite", "{field} must be a finite number.", field=self.label
            )
            return self.refusal(message, str(value))
        unit = f" {self.unit}" if self.unit else ""
        if value < self.bounds.least and self.bounds.or_zero:
            message = say(
                "fault.value.below_least_not_zero",
                "{field} must be 0, or at least {least:_.10g}{unit}.",
                field=self.label,
                least=self.bounds.least,
                unit=unit,
            )
        elif value < self.bounds.least:
            message = say(
                "fault.value.below_least",
                "{field} must be at least {least:_.10g}{unit}.",
                field=self.label,
                least=self.bounds.least,
                unit=unit,
            )
        else:
            message = say(
                "fault.value.above_most",
                "{field} must be at most {most:_.10g}{unit}.",
                field=self.label,
                most=self.bounds.most,
                unit=unit,
            )
        return self.refusal(message, value)


def _range(bounds: Bounds) -> str:
    return f"from {figure(bounds.least)} to {figure(bounds.most)} {bounds.unit}".rstrip()


def _is_not_finite(value: object) -> bool:
    """Return whether a value is NaN or infinite; a whole number of any length is neither."""
    return isinstance(value, float) and not isfinite(value)


def _reads_as_number(text: str) -> bool:
    try:
        return text.isascii() and isfinite(float(text))
    except ValueError:
        return False


class WholeNumber(Described[int]):
    """A whole number within closed bounds; ``13.0`` is one, ``13.5`` and ``"13"`` are not."""

    def __init__(
        self, description: str, bounds: Bounds, *, example: int, required: bool = False
    ) -> None:
        super().__init__(description, example=example, unit=bounds.unit, required=required)
        self.bounds = bounds
        if max(abs(bounds.least), abs(bounds.most)) > _WHOLE_NUMBER_LIMIT:
            raise ValueError("bounds beyond 2**53 are not exact in JSON")

    def allowed(self) -> str:
        """Return the range and an example."""
        return f"a whole number {_range(self.bounds)}, such as {self.example}"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "integer",
            "format": "int64",
            "minimum": int(self.bounds.least),
            "maximum": int(self.bounds.most),
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> int:
        if type(value) is int:
            whole = value
        elif type(value) is float and value.is_integer():
            whole = int(value)
        else:
            given = str(value) if _is_not_finite(value) else value
            message = say(
                "fault.value.not_a_whole_number",
                "{field} must be a whole number.",
                field=self.label,
            )
            raise self.refusal(message, given)
        if whole not in self.bounds:
            raise self.not_allowed(value)
        return whole


class Flag(Described[bool]):
    """``true`` or ``false``."""

    def allowed(self) -> list[bool]:
        """Return both values."""
        return [True, False]

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"type": "boolean"}

    def _deserialize(self, value: Any, *_: object, **__: object) -> bool:
        if not isinstance(value, bool):
            message = say(
                "fault.value.not_a_flag", "{field} must be true or false.", field=self.label
            )
            raise self.refusal(message, value)
        return value


class Text(Described[str]):
    """A string of bounded length without control characters, matching a pattern if one is set."""

    def __init__(
        self,
        description: str,
        *,
        example: str,
        longest: int,
        pattern: str | None = None,
        pattern_words: str = "",
        required: bool = False,
        is_of_one_length: bool = False,
        called: Sentence = THE_VALUE,
    ) -> None:
        super().__init__(description, example=example, required=required, called=called)
        self.longest = longest
        self.is_of_one_length = is_of_one_length
        self.pattern = re.compile(pattern) if pattern else None
        self.pattern_words = pattern_words

    def allowed(self) -> str:
        """Return the length, the pattern in words and an example."""
        words = f" of {self.pattern_words}" if self.pattern_words else ""
        return f"a string{words}, 1 to {self.longest} characters, such as {self.example!r}"

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        shape: Shape = {"type": "string", "minLength": 1, "maxLength": self.longest}
        shape["pattern"] = f"^(?:{self.pattern.pattern})$" if self.pattern else TEXT_PATTERN
        return shape

    def _deserialize(self, value: Any, *_: object, **__: object) -> str:
        complaint = self._complaint(value)
        if complaint:
            raise self.refusal(complaint, value)
        return str(value)

    def _complaint(self, value: object) -> Sentence | None:
        if not isinstance(value, str):
            return say("fault.text.not_a_string", "{field} must be a string.", field=self.label)
        if not 1 <= len(value) <= self.longest:
            return (self._of_pattern(value) if self.is_of_one_length else None) or say(
                "fault.text.length",
                "{field} must be 1 to {most_characters} characters long.",
                field=self.label,
                most_characters=self.longest,
            )
        if _CONTROL.search(value):
            return say(
                "fault.text.control_characters",
                "{field} must not contain control characters such as line breaks or tabs.",
                field=self.label,
            )
        return self._of_pattern(value)

    def _of_pattern(self, value: str) -> Sentence | None:
        if self.pattern is None or self.pattern.fullmatch(value):
            return None
        return say(
            "fault.text.characters",
            "{field} must consist of {rule}.",
            field=self.label,
            rule=self.pattern_words,
        )


E = TypeVar("E", bound=StrEnum)


class Choice(Described[E], Generic[E]):
    """One word of a list."""

    def __init__(
        self, options: type[E], description: str, *, example: E, required: bool = False
    ) -> None:
        super().__init__(description, example=example.value, required=required)
        self.options: dict[str, E] = {option.value: option for option in options}

    def allowed(self) -> list[str]:
        """Return the words."""
        return list(self.options)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {"type": "string", "enum": self.allowed()}

    def _deserialize(self, value: Any, *_: object, **__: object) -> E:
        option = self.options.get(value) if isinstance(value, str) else None
        if option is None:
            words = ", ".join(self.options)
            hint = did_you_mean(value, self.options)
            message = say(
                "fault.value.not_one_of",
                "{field} must be one of {words}.{hint}",
                field=self.label,
                words=words,
                hint=hint,
            )
            raise self.refusal(message, value)
        return option


class Items(Described[Any], fields.List[T], Generic[T]):
    """A list of bounded length whose items are all read by one field; it becomes a tuple."""

    inner: Described[T]

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
        super().__init__(
            description,
            example=example or [item.example],
            required=required,
            cls_or_instance=item,
        )
        self.fewest = fewest
        self.most = most

    def allowed(self) -> str:
        """Return the length and what the items are."""
        count = f"{self.fewest}" if self.fewest == self.most else f"{self.fewest} to {self.most}"
        return f"a list of {count} items, each {self.inner.allowed()}"

    def parts(self) -> Iterable[Titled]:
        """Return the object schemas of the items."""
        return self.inner.parts()

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "array",
            "minItems": self.fewest,
            "maxItems": self.most,
            "items": self.inner.kind(),
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> Any:
        if not isinstance(value, list):
            message = say("fault.list.no_list", "{field} must be a list.", field=self.label)
            raise self.refusal(message, value)
        if len(value) != self.fewest == self.most:
            message = say(
                "fault.list.exact_length",
                "{field} must have {most:_.10g} items, not {items:_.10g}.",
                field=self.label,
                most=self.most,
                items=len(value),
            )
            raise self.refusal(message)
        if not self.fewest <= len(value) <= self.most:
            message = say(
                "fault.list.length",
                "{field} must have {fewest} to {most:_.10g} items, not {items:_.10g}.",
                field=self.label,
                fewest=self.fewest,
                most=self.most,
                items=len(value),
            )
            raise self.refusal(message)
        read: list[T] = []
        refused: dict[int, Any] = {}
        for place, each in enumerate(value):
            try:
                read.append(self.inner.deserialize(each))
            except ValidationError as error:
                refused[place] = error.messages
                # Enough for what an answer lists; marshmallow would go on to the last item.
                if len(refused) > MOST_ERRORS:
                    break
        if refused:
            raise ValidationError(refused)
        return tuple(read)
