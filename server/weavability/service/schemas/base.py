"""The base of every request schema: all faults at once, each with its pointer and a remedy."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice, pairwise
from typing import Any, ClassVar, Final, Generic, TypeVar

from marshmallow import (
    EXCLUDE,
    Schema,
    ValidationError,
    fields,
    post_load,
    pre_load,
    validates_schema,
)

from weavability.service.http.suggestions import did_you_mean
from weavability.service.schemas.faults import (
    escape,
    faults_of,
    in_document_order,
    only_faults,
    refused,
)
from weavability.service.schemas.fields import Described, Shape
from weavability.textiles.errors import Fault, InputError

T = TypeVar("T")

_MOST_UNKNOWN: Final = 60
_LONGEST_KEPT: Final = 4_000
"""Characters of an object that is kept: longer ones are rare, and would fill the memory."""


class Body(Schema, Generic[T]):
    """A JSON object that is read into a dataclass.

    A subclass declares the fields, and states in :meth:`judge` how they must agree and in
    :meth:`build` what is made of them. marshmallow reads field by field and gathers the errors.
    """

    class Meta(Schema.Meta):
        """Options of marshmallow.

        Unknown fields are refused by :meth:`_judge`: marshmallow's own refusal would name them
        without bound and in no order.
        """

        unknown = EXCLUDE

    title: ClassVar[str]
    """Name of the schema in the OpenAPI document."""

    makes: ClassVar[Callable[..., Any]]
    """The dataclass that is made of the values."""

    def judge(self, _values: Mapping[str, Any], _given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Judge the fields against each other; also called when some of them are faulty.

        Args:
            _values: What was read of each field that is good.
            _given: The JSON object, without what is null.
        """
        yield from ()

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> T:
        """Make the object of good values; the second argument is the JSON object as it came."""
        made: T = self.makes(**values)
        return made

    def read(self, given: object) -> T:
        """Read one JSON object; a field that is null counts as not given.

        Raises:
            InputError: With every fault that was found; pointers are relative to the object.
        """
        try:
            made: T = self.load(given)  # type: ignore[arg-type]  # what is no object is refused
        except ValidationError as error:
            raise InputError(in_document_order(faults_of(error), given)) from None
        return made

    def all_good(self, values: Mapping[str, Any], given: Mapping[str, Any]) -> bool:
        """Whether each field that is given or needed is good, so that the core can judge them."""
        needed = {name for name, field in self.fields.items() if field.required}
        return values.keys() >= given.keys() & self.fields.keys() | needed

    @pre_load
    def _without_nulls(self, given: object, **_: object) -> dict[str, Any]:
        if not isinstance(given, dict):
            raise refused(Fault("", "This must be a JSON object: { … }.", given))
        return _stated(given)

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _judge(self, values: dict[str, Any], given: dict[str, Any], **_: object) -> None:
        faults = list(islice(self._unknown(given), _MOST_UNKNOWN))
        faults.extend(self.judge(values, _stated(given)))
        if faults:
            raise refused(*faults)

    @post_load(pass_original=True)
    def _make(self, values: dict[str, Any], given: dict[str, Any], **_: object) -> T:
        try:
            return self.build(values, given)
        except InputError as error:
            raise refused(*error.faults) from None

    def _unknown(self, given: Mapping[str, Any]) -> Iterator[Fault]:
        """Refuse unknown fields: a misspelt limit must not be silently ignored."""
        if given.keys() <= self.fields.keys():
            return
        for name, value in given.items():
            if name not in self.fields:
                hint = did_you_mean(name, self.fields)
                message = f"There is no field of this name here.{hint}"
                yield Fault(f"/{escape(name)}", message, value, list(self.fields))


class Recurring(Body[T]):
    """A JSON object that comes back order after order: what was read of it is kept.

    What is made of it must be immutable.
    """

    most_kept: ClassVar[int]
    """Objects that are kept; when there are more, all are forgotten."""

    def __init__(self) -> None:
        super().__init__()
        self._kept: dict[str, T] = {}

    def load(self, data: Any, **options: Any) -> T:
        """Read the object, or find what was read of the same object before.

        Raises:
            ValidationError: As every schema does; nothing is kept of it.
        """
        try:
            # Distinguishes 1 from 1.0, true and "1", which are equal or alike in other keys.
            key = repr(data)
        except (ValueError, RecursionError):  # a whole number without end, nesting without end
            return self._loaded(data, options)
        found = self._kept.get(key)
        return self._to_keep(key, self._loaded(data, options)) if found is None else found

    def _to_keep(self, key: str, made: T) -> T:
        if len(key) <= _LONGEST_KEPT:
            if len(self._kept) >= self.most_kept:
                self._kept.clear()
            self._kept[key] = made
        return made

    def _loaded(self, data: Any, options: dict[str, Any]) -> T:
        made: T = super().load(data, **options)
        return made


def _stated(given: dict[str, Any]) -> dict[str, Any]:
    """Return the members of an object that are not null."""
    if None not in given.values():
        return given
    return {name: value for name, value in given.items() if value is not None}


def described(field: fields.Field[Any]) -> Described[Any]:
    """Narrow a field of a schema to ours; schemas are built of nothing else."""
    if not isinstance(field, Described):
        raise TypeError(f"{field!r} cannot describe itself")
    return field


class Part(Described[Any], fields.Nested, Generic[T]):
    """A nested JSON object, read by its own schema."""

    def __init__(
        self, schema: Body[T], description: str, *, example: object, required: bool = False
    ) -> None:
        super().__init__(description, example=example, required=required, nested=schema)

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

    def _deserialize(self, value: Any, *args: Any, **more: Any) -> Any:
        if not isinstance(value, dict):
            raise self.refusal("must be an object: { … }.", value)
        try:
            return super()._deserialize(value, *args, **more)
        except ValidationError as error:
            raise only_faults(error) from None


def exactly_one(given: Mapping[str, Any], *pair: str, words: str) -> Iterator[Fault]:
    """Yield a fault unless exactly one field of ``pair`` is given."""
    found = [name for name in pair if name in given]
    if len(found) == 1:
        return
    yield from at_most_one(given, *pair, words=words)
    if not found:
        listed = " or ".join(pair)
        yield Fault(
            f"/{pair[0]}",
            f"{words[:1].upper()}{words[1:]} is missing: give exactly one of {listed}.",
            None,
            listed,
        )


def at_most_one(given: Mapping[str, Any], *pair: str, words: str) -> Iterator[Fault]:
    """Yield a fault if more than one field of ``pair`` is given."""
    found = [name for name in pair if name in given]
    if len(found) > 1:
        yield Fault(
            f"/{found[-1]}",
            f"State {words} once: both {' and '.join(found)} are given; leave one out.",
            given[found[-1]],
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


def without(names: Iterable[str], given: Mapping[str, Any], *, because: str) -> Iterator[Fault]:
    """Yield a fault for each of ``names`` that is given although it does not belong."""
    for name in names:
        if name in given:
            yield Fault(f"/{name}", f"Leave out {name}: {because}.", given[name])
