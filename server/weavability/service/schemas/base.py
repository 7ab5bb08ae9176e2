"""The base of every request schema: all faults at once, each with its pointer and a remedy."""

from __future__ import annotations

import marshal
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice, pairwise
from typing import Any, ClassVar, Final, Generic, TypeVar

from marshmallow import EXCLUDE, Schema, ValidationError, fields
from marshmallow.exceptions import SCHEMA

from weavability.service.http.suggestions import did_you_mean
from weavability.service.schemas.faults import escape, faults_of, in_document_order, refused
from weavability.service.schemas.fields import THE_VALUE, Described, Shape
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import Sentence, say

T = TypeVar("T")

_MOST_UNKNOWN: Final = 60
_LONGEST_KEPT: Final = 4_000
"""Bytes of an object that is kept: longer ones are rare, and would fill the memory."""


class Body(Schema, Generic[T]):
    """A JSON object that is read into a dataclass.

    A subclass declares the fields, and states in :meth:`judge` how they must agree and in
    :meth:`build` what is made of them. marshmallow reads field by field and gathers the errors.
    """

    title: ClassVar[str]
    """Name of the schema in the OpenAPI document."""

    makes: ClassVar[Callable[..., Any]]
    """The dataclass that is made of the values."""

    needed: Mapping[str, fields.Field[Any]]
    """The fields that every object must have."""

    elsewhere: ClassVar[Mapping[str, Sentence]] = {}
    """Where fields are that are often looked for here, as a sentence with a leading space."""

    def __init__(self) -> None:
        super().__init__()
        self.needed = {name: field for name, field in self.fields.items() if field.required}

    def judge(self, _values: Mapping[str, Any], _given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Judge the fields against each other; also called when some of them are faulty.

        Args:
            _values: What was read of each field that is good.
            _given: The JSON object, without the fields that are null.
        """
        yield from ()

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> T:
        """Make the object of good values; the second argument is the one of :meth:`judge`."""
        made: T = self.makes(**values)
        return made

    def read(self, given: object) -> T:
        """Read one JSON object; a field that is null counts as not given.

        Raises:
            InputError: With every fault that was found; pointers are relative to the object.
        """
        try:
            return self.load(given)
        except ValidationError as error:
            raise InputError(in_document_order(faults_of(error), given)) from None

    def load(self, data: Any, **_options: Any) -> T:
        """Read one JSON object, as :meth:`read` does; no option of marshmallow changes how.

        Raises:
            ValidationError: Of faults, see :func:`weavability.service.schemas.faults.refused`.
        """
        if not isinstance(data, dict):
            raise refused(
                Fault(
                    "",
                    say("fault.value.not_an_object", "This must be a JSON object: {{ … }}."),
                    data,
                )
            )
        given = data if None not in data.values() else self._stated(data)
        messages: dict[str, Any] = {}
        try:
            # marshmallow would name unknown fields without bound and in no order: see _unknown.
            # It would also call every field that is absent, which is most of them.
            values = super().load(given, unknown=EXCLUDE, partial=True)
        except ValidationError as error:
            values, messages = error.valid_data, error.messages_dict
        for name, field in self.needed.items():
            if name not in given:
                messages[name] = field.make_error("required").messages
        faults = list(self.judge(values, given))
        if not given.keys() <= self.fields.keys():
            faults[:0] = islice(self._unknown(given), _MOST_UNKNOWN)
        if faults:
            messages[SCHEMA] = faults
        if messages:
            raise ValidationError(messages)
        try:
            return self.build(values, given)
        except InputError as error:
            raise refused(*error.faults) from None

    def all_good(self, values: Mapping[str, Any], given: Mapping[str, Any]) -> bool:
        """Return whether each field that is given or needed is good, for the core to judge."""
        return values.keys() >= given.keys() & self.load_fields.keys() | self.needed.keys()

    def _stated(self, given: dict[str, Any]) -> dict[str, Any]:
        """Leave the fields out that are null; an unknown one stays, to be refused."""
        known = self.fields
        return {
            name: value for name, value in given.items() if value is not None or name not in known
        }

    def _unknown(self, given: Mapping[str, Any]) -> Iterator[Fault]:
        """Refuse unknown fields: a misspelt limit must not be silently ignored."""
        for name, value in given.items():
            if name not in self.fields:
                hint = self.elsewhere.get(name) or did_you_mean(name, self.load_fields)
                message = say(
                    "fault.value.unknown_field",
                    "There is no field of this name here.{hint}",
                    hint=hint,
                )
                yield Fault(f"/{escape(name)}", message, value, list(self.load_fields))


class Recurring(Body[T]):
    """A JSON object that comes back order after order: what was read of it is kept.

    What is made of it must be immutable.
    """

    most_kept: ClassVar[int]
    """Objects that are kept; when there are more, all are forgotten."""

    def __init__(self) -> None:
        super().__init__()
        self._kept: dict[bytes, T] = {}

    def load(self, data: Any, **_options: Any) -> T:
        """Read the object, or find what was read of the same object before.

        Raises:
            ValidationError: As every schema does; nothing is kept of it.
        """
        try:
            # Distinguishes 1 from 1.0, true and "1", which are equal or alike in other keys. The
            # format with references, version 3, would write equal objects in more than one form.
            key = marshal.dumps(data, 2)
        except ValueError:  # a date of TOML, nesting without end
            return super().load(data)
        found = self._kept.get(key)
        if found is None:
            found = super().load(data)
            self._keep(key, found)
        return found

    def _keep(self, key: bytes, made: T) -> None:
        if len(key) <= _LONGEST_KEPT:
            if len(self._kept) >= self.most_kept:
                self._kept.clear()
            self._kept[key] = made


def described(field: fields.Field[Any]) -> Described[Any]:
    """Narrow a field of a schema to ours; schemas are built of nothing else."""
    if not isinstance(field, Described):
        raise TypeError(f"{field!r} cannot describe itself")
    return field


class Part(Described[Any], fields.Nested, Generic[T]):
    """A nested JSON object, read by its own schema."""

    def __init__(
        self,
        schema: Body[T],
        description: str,
        *,
        example: object,
        required: bool = False,
        unit: str = "",
        called: Sentence = THE_VALUE,
    ) -> None:
        super().__init__(
            description,
            example=example,
            required=required,
            unit=unit,
            called=called,
            nested=schema,
        )

    @property
    def body(self) -> Body[T]:
        """The schema of the object."""
        schema = self.schema
        if not isinstance(schema, Body):
            raise TypeError(f"{schema!r} is no schema of a body")
        return schema

    def allowed(self) -> str:
        """Name the fields of the object."""
        return f"an object with {', '.join(self.body.fields)}"

    def parts(self) -> Iterable[Body[Any]]:
        """Return the schema."""
        return (self.body,)

    def kind(self) -> Shape:
        """Refer to the schema by its name."""
        return {"$ref": f"#/components/schemas/{self.body.title}"}

    def _deserialize(self, value: Any, *_: object, **__: object) -> Any:
        if not isinstance(value, dict):
            message = say(
                "fault.value.not_object", "{field} must be an object: {{ … }}.", field=self.label
            )
            raise self.refusal(message, value)
        return self.schema.load(value)


def exactly_one(
    given: Mapping[str, Any], *pair: str, words: Sentence, at_start: Sentence
) -> Iterator[Fault]:
    """Yield a fault unless exactly one field of ``pair`` is given.

    Args:
        given: The JSON object, without what is null.
        pair: Names of fields.
        words: What they state.
        at_start: The same words at the start of a sentence.
    """
    found = [name for name in pair if name in given]
    if len(found) == 1:
        return
    yield from at_most_one(given, *pair, words=words)
    if not found:
        listed = " or ".join(pair)
        yield Fault(
            f"/{pair[0]}",
            say(
                "fault.value.exactly_one",
                "{words} is missing: give exactly one of {fields}.",
                words=at_start,
                fields=listed,
            ),
            None,
            listed,
        )


def at_most_one(given: Mapping[str, Any], *pair: str, words: Sentence) -> Iterator[Fault]:
    """Yield a fault if more than one field of ``pair`` is given."""
    found = [name for name in pair if name in given]
    if len(found) > 1:
        yield Fault(
            f"/{found[-1]}",
            say(
                "fault.value.stated_twice",
                "State {words} once: both {fields} are given; leave one out.",
                words=words,
                fields=" and ".join(found),
            ),
            given[found[-1]],
            " or ".join(pair),
        )


def ascending(values: Mapping[str, Any], *names: str, strict: bool = True) -> Iterator[Fault]:
    """Yield a fault for each neighbouring pair of ``names`` whose values do not rise."""
    given = [name for name in names if name in values]
    for low, high in pairwise(given):
        rises = values[low] < values[high] if strict else values[low] <= values[high]
        if not rises:
            message = (
                say(
                    "fault.value.not_greater",
                    "{field} must be greater than {other} ({other_value:g}).",
                    field=high,
                    other=low,
                    other_value=values[low],
                )
                if strict
                else say(
                    "fault.value.not_at_least",
                    "{field} must be at least {other} ({other_value:g}).",
                    field=high,
                    other=low,
                    other_value=values[low],
                )
            )
            allowed = f"{'greater than' if strict else 'at least'} {values[low]:g}"
            yield Fault(f"/{high}", message, values[high], allowed)


def without(
    names: Iterable[str], given: Mapping[str, Any], *, because: Sentence
) -> Iterator[Fault]:
    """Yield a fault for each of ``names`` that is given although it does not belong."""
    for name in names:
        if name in given:
            yield Fault(
                f"/{name}",
                say(
                    "fault.value.leave_out",
                    "Leave out {field}: {reason}.",
                    field=name,
                    reason=because,
                ),
                given[name],
            )
