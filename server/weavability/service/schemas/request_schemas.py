"""The bodies of requests: constructions and looms, put together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Final, TypeVar

import orjson
from marshmallow import ValidationError, fields

from weavability.answers.loom_match import RankBy
from weavability.answers.prices import Prices
from weavability.looms.loom import Loom
from weavability.looms.warp_left import WARP_LEFT_M
from weavability.looms.weaving_sequence import MOST_ORDERS
from weavability.service.schemas.base import (
    Body,
    Part,
    at_most_one,
    described,
    exactly_one,
    without,
)
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.faults import escape, refused
from weavability.service.schemas.fields import (
    Choice,
    Described,
    Items,
    Number,
    Shape,
    Titled,
)
from weavability.service.schemas.loom_schema import (
    LOOM_ID,
    LOOM_ID_WORDS,
    LoomSchema,
    loom_id_field,
)
from weavability.service.schemas.options_schema import (
    AnswerOptions,
    AnswerOptionsSchema,
    MatchOptions,
    MatchOptionsSchema,
)
from weavability.service.schemas.prices_schema import PricesSchema, price_faults
from weavability.service.schemas.running_schema import ChangeoverRatesSchema
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.sentences import Sentence, say

T = TypeVar("T")

MOST_LOOMS_MATCHED: Final = 500
"""Looms that one request may state, name, or give the present cloth of."""

MOST_CROSSINGS_ON_LOOMS: Final = 32_000_000
"""Crossings of all weaves together that are on the looms now."""


class OnLoomSchema(Body[T]):
    """A request about one loom: stated, or named in the park."""

    loom = Part(LoomSchema(), "The loom, stated in full", example={"reed_width_cm": 190})
    loom_id = loom_id_field("The loom, by its name in the park")

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require exactly one loom."""
        faults = list(
            exactly_one(
                given,
                "loom_id",
                "loom",
                words=say("part.the_loom", "the loom"),
                at_start=say("part.the_loom_at_start", "The loom"),
            )
        )
        yield from faults
        if faults or given.keys() != values.keys():
            yield from cloth_faults(values)


def cloth_faults(values: Mapping[str, Any]) -> Iterator[Fault]:
    """Judge the cloths of a request that is refused anyway; the answer judges those of a good one.

    Args:
        values: The good values of the request.
    """
    faults: list[Fault] = []
    for name, value in values.items():
        cloths = {f"/{name}": value} if isinstance(value, Construction) else {}
        if name == "orders":
            cloths = {f"/{name}/{index}": cloth for index, cloth in enumerate(value)}
        for pointer, cloth in cloths.items():
            with collecting(faults, below=pointer):
                cloth_facts(cloth)
    yield from faults


def construction_part(description: str, *, required: bool = False) -> Part[Construction]:
    """Return the field of a request that is a construction."""
    return Part(ConstructionSchema(), description, required=required, example={"weave": "plain"})


def _prices() -> Part[Prices]:
    return Part(PricesSchema(), "What the mill pays, for costs", example={"loom_hour": 6.5})


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidationRequest:
    """A construction, and the loom that it is held against: stated, or named in the park."""

    construction: Construction
    loom: Loom | None = None
    loom_id: str | None = None
    prices: Prices | None = None
    options: AnswerOptions = field(default_factory=AnswerOptions)


class ValidationRequestSchema(OnLoomSchema[ValidationRequest]):
    """A construction, and the loom that it is to be woven on: exactly one of loom and loom_id."""

    title = "ValidationRequest"
    makes = ValidationRequest

    construction = construction_part("The cloth as ordered", required=True)
    prices = _prices()
    options = Part(
        AnswerOptionsSchema(),
        "What is to be answered beside the report",
        example={"decisive_assumptions": True},
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require exactly one loom, and the yarn of every price."""
        yield from super().judge(values, given)
        yield from price_faults(values, given)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverRequest:
    """What is on a loom, what is to come, and the loom; rates as pairs of name and value.

    Attributes:
        old: The style on the loom; ``None`` if several orders are given.
        new: The style to come; likewise.
        orders: Several orders of which the best sequence is sought; else none.
        on_loom: What is on the loom before them.
        warp_left_m: Warp that is left of what is on the loom.
    """

    old: Construction | None = None
    new: Construction | None = None
    orders: tuple[Construction, ...] = ()
    on_loom: Construction | None = None
    warp_left_m: float | None = None
    loom: Loom | None = None
    loom_id: str | None = None
    rates: tuple[tuple[str, float], ...] = ()


class Orders(Described[tuple[Construction, ...]]):
    """Several orders; equal ones are read once and are one object."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example)
        self.schema = ConstructionSchema()

    def allowed(self) -> str:
        """Return how many there may be."""
        return f"a list of 1 to {MOST_ORDERS} constructions"

    def parts(self) -> Iterable[Titled]:
        """Return the schema of a construction."""
        return (self.schema,)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_ORDERS,
            "items": {"$ref": f"#/components/schemas/{self.schema.title}"},
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> tuple[Construction, ...]:
        if not isinstance(value, list) or not 1 <= len(value) <= MOST_ORDERS:
            raise self.not_allowed(value)
        reader = _CountingReader(
            self.schema,
            say("part.the_orders", "the orders"),
            say("part.fewer_orders", "send fewer orders at once"),
        )
        for index, given in enumerate(value):
            with collecting(reader.faults, below=f"/{index}"):
                reader.read(str(index), given)
        if reader.faults:
            raise refused(*reader.faults)
        return tuple(reader.found.values())


class ChangeoverRequestSchema(OnLoomSchema[ChangeoverRequest]):
    """From and to, or several orders, and the loom: exactly one of loom and loom_id.

    Of several orders the best sequence is found; on_loom may state what is woven before them. Each
    rate is taken from rates, else from the loom, else from the starting values.
    """

    title = "ChangeoverRequest"

    class Meta(Body.Meta):
        """Fields whose names are keywords of the language."""

        include: ClassVar[dict[str, fields.Field[Any]]] = {
            "from": construction_part("The style that is on the loom"),
            "to": construction_part("The style that is to come"),
        }

    orders = Orders(
        "Several orders, to find the sequence with the shortest stops",
        example=[{"weave": "plain"}, {"weave": "2/2 twill Z"}],
    )
    on_loom = construction_part("What is on the loom before these orders")
    warp_left_m = Number(
        "Warp left of what is on the loom when the new cloth begins; of several beams on that "
        "which runs out first",
        WARP_LEFT_M,
        example=850,
    )
    rates = Part(ChangeoverRatesSchema(), "The mill's own rates", example={"knots_per_h": 6_000})

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require one change or several orders, and one loom."""
        yield from super().judge(values, given)
        if "orders" in given:
            yield from without(
                ("from", "to"),
                given,
                because=say(
                    "part.orders_state_cloths", "orders states which cloths are to be woven"
                ),
            )
            if "on_loom" not in given:
                because = say(
                    "part.left_of_cloth_on_loom",
                    "it is left of the cloth on the loom, which on_loom states",
                )
                yield from without(("warp_left_m",), given, because=because)
            return
        yield from without(
            ("on_loom",),
            given,
            because=say("part.goes_with_orders", "it goes with orders; from states it here"),
        )
        for name in ("from", "to"):
            if name not in given:
                yield Fault(
                    f"/{name}",
                    say(
                        "fault.changeover.incomplete",
                        "{field} is missing: give from and to for one change, or orders "
                        "for the best sequence of several.",
                        field=name,
                    ),
                    None,
                    described(self.fields[name]).allowed(),
                )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> ChangeoverRequest:
        """Make the request."""
        old, new = values.pop("from", None), values.pop("to", None)
        return ChangeoverRequest(old=old, new=new, **values)


class OnLooms(Described[dict[str, Construction]]):
    """What is woven now, by loom; equal constructions are read once and are one object."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example)
        self.schema = ConstructionSchema()
        self.name_of_loom = loom_id_field("A loom")

    def allowed(self) -> str:
        """Return how many there may be and what the names are."""
        return f"an object of at most {MOST_LOOMS_MATCHED} constructions by the name of their loom"

    def parts(self) -> Iterable[Titled]:
        """Return the schema of a construction."""
        return (self.schema,)

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "object",
            "maxProperties": MOST_LOOMS_MATCHED,
            "propertyNames": {"pattern": f"^{LOOM_ID}$"},
            "additionalProperties": {"$ref": f"#/components/schemas/{self.schema.title}"},
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> dict[str, Construction]:
        if not isinstance(value, dict) or len(value) > MOST_LOOMS_MATCHED:
            raise self.not_allowed(value)
        reader = _CountingReader(
            self.schema,
            say("part.the_looms", "the looms"),
            say("part.fewer_looms", "ask for fewer looms"),
        )
        for loom_id, given in value.items():
            with collecting(reader.faults, below=f"/{escape(loom_id)}"):
                self._check_name(loom_id)
            with collecting(reader.faults, below=f"/{escape(loom_id)}"):
                reader.read(loom_id, given)
        if reader.faults:
            raise refused(*reader.faults)
        return reader.found

    def _check_name(self, loom_id: str) -> None:
        try:
            self.name_of_loom.deserialize(loom_id)
        except ValidationError:
            raise InputError.of(
                "",
                say("fault.loom.name", "A loom's name consists of {rule}.", rule=LOOM_ID_WORDS),
                given=loom_id,
                allowed="rapier-190-cam",
            ) from None


@dataclass(slots=True)
class _CountingReader:
    """Reads constructions one after the other, as long as their weaves stay within bounds.

    Attributes:
        schema: Reads each of them.
        where: What they are on or in, for the message.
        remedy: What to do if they are too large together.
    """

    schema: ConstructionSchema
    where: Sentence
    remedy: Sentence
    found: dict[str, Construction] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    crossings: int = 0
    read_before: dict[bytes, Construction] = field(default_factory=dict)

    def read(self, name: str, given: object) -> None:
        """Read a construction."""
        written = orjson.dumps(given, option=orjson.OPT_SORT_KEYS)
        if written not in self.read_before:
            self._check_room()
            construction = self.schema.read(given)
            self.crossings += construction.weave.matrix.size
            self.read_before[written] = construction
        self.found[name] = self.read_before[written]

    def _check_room(self) -> None:
        if self.crossings > MOST_CROSSINGS_ON_LOOMS:
            raise InputError.of(
                "/weave",
                say(
                    "fault.matches.too_many_crossings",
                    "The weaves of {looms} have too many crossings together; {remedy}.",
                    looms=self.where,
                    remedy=self.remedy,
                ),
                allowed=f"at most {MOST_CROSSINGS_ON_LOOMS} crossings",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomMatchRequest:
    """A construction and the looms to try: stated, named, or (neither) the whole park."""

    construction: Construction
    looms: tuple[Loom, ...] | None = None
    loom_ids: tuple[str, ...] | None = None
    on_loom: Mapping[str, Construction] = field(default_factory=dict)
    prices: Prices | None = None
    rank_by: RankBy = RankBy.HOURS
    options: MatchOptions = field(default_factory=MatchOptions)


class LoomMatchRequestSchema(Body[LoomMatchRequest]):
    """A construction, and the looms to try: looms, or loom_ids, or neither for the whole park.

    If on_loom states what is woven now, the change-over from it counts in the ranking. With prices
    each loom has its costs, and rank_by may rank the looms of one verdict by them.
    """

    title = "LoomMatchRequest"
    makes = LoomMatchRequest

    construction = construction_part("The cloth as ordered", required=True)
    looms = Items(
        Part(LoomSchema(), "A loom", required=True, example={"reed_width_cm": 190}),
        "The looms, stated in full",
        fewest=1,
        most=MOST_LOOMS_MATCHED,
    )
    loom_ids = Items(
        loom_id_field("A loom", required=True),
        "The looms, by their names in the park",
        fewest=1,
        most=MOST_LOOMS_MATCHED,
    )
    on_loom = OnLooms(
        "What is woven now, by the name of the loom",
        example={"rapier-190-dobby": {"weave": "plain"}},
    )
    prices = _prices()
    rank_by = Choice(
        RankBy,
        "What looms of the same verdict are ranked by: `hours` if not given, or `cost`, which "
        "needs prices",
        example=RankBy.HOURS,
    )
    options = Part(
        MatchOptionsSchema(),
        "What is to be answered beside the ranking",
        example={"decisive_assumptions": True},
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take the looms in one form, and each once: its name identifies it in the answer."""
        faults = [
            *at_most_one(given, "looms", "loom_ids", words=say("part.the_looms", "the looms")),
            *_repeated("/looms/{}/loom_id", map(_own_name, _listed(given.get("looms")))),
            *_repeated("/loom_ids/{}", _listed(given.get("loom_ids"))),
        ]
        yield from faults
        yield from price_faults(values, given)
        if values.get("rank_by") is RankBy.COST and "prices" not in given:
            yield Fault(
                "/rank_by",
                say(
                    "fault.matches.cost_without_prices_beside",
                    "Looms are ranked by cost only if prices are stated beside the construction.",
                ),
                "cost",
                "hours, or cost with prices",
            )
        if faults or given.keys() != values.keys():
            yield from cloth_faults(values)


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyRequest:
    """A construction and the looms on which its remedies are sought."""

    construction: Construction
    looms: tuple[Loom, ...] | None = None
    loom_ids: tuple[str, ...] | None = None
    prices: Prices | None = None


class RemedyRequestSchema(Body[RemedyRequest]):
    """A construction, and where its remedies are sought: on one loom, or on the best of several.

    At most one of loom, loom_id and loom_ids; without any, the best ranked looms of the park.
    """

    title = "RemedyRequest"

    construction = construction_part("The cloth as ordered", required=True)
    loom = Part(LoomSchema(), "The loom, stated in full", example={"reed_width_cm": 190})
    loom_id = loom_id_field("The loom, by its name in the park")
    loom_ids = Items(
        loom_id_field("A loom", required=True),
        "Several looms, by their names in the park",
        fewest=1,
        most=MOST_LOOMS_MATCHED,
    )
    prices = _prices()

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take the looms in one form, and each once."""
        faults = [
            *at_most_one(
                given, "loom", "loom_id", "loom_ids", words=say("part.the_looms", "the looms")
            ),
            *_repeated("/loom_ids/{}", _listed(given.get("loom_ids"))),
        ]
        yield from faults
        yield from price_faults(values, given)
        if faults or given.keys() != values.keys():
            yield from cloth_faults(values)

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> RemedyRequest:
        """Make the request; one loom is a list of one."""
        loom, loom_id = values.pop("loom", None), values.pop("loom_id", None)
        if loom is not None:
            values["looms"] = (loom,)
        if loom_id is not None:
            values["loom_ids"] = (loom_id,)
        return RemedyRequest(**values)


def _listed(looms: object) -> list[object]:
    """Return the looms of a request, good or not, unless they are too many."""
    return looms if isinstance(looms, list) and len(looms) <= MOST_LOOMS_MATCHED else []


def _own_name(loom: object) -> object:
    return loom.get("loom_id") if isinstance(loom, dict) else None


def _repeated(pointer: str, names: Iterable[object]) -> Iterator[Fault]:
    seen: set[str] = set()
    for index, name in enumerate(names):
        if isinstance(name, str):
            if name in seen:
                message = say(
                    "fault.matches.name_twice", "Another loom of this request has this name."
                )
                yield Fault(pointer.format(index), message, name)
            seen.add(name)
