"""The columns of a sheet of orders, made from the fields of a request.

A new field of a construction has its column at once: ``ends_per_cm``, ``warp_order``,
``reed_dents_per_10cm``. Yarns have a column for each field and key: ``warp_yarn_A`` is the
designation of warp yarn A, ``warp_fibre_A`` its fibre. Looms are those of the park, named by
``loom_id``. Fields of the newer parts have dotted names: ``order.pieces``,
``requirements.mass_g_per_m2.min``, ``prices.size_per_kg``, ``prices.yarn_per_kg.warp A``,
``options.decisive_assumptions``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from weavability.service.batches.csv_grammar import YARN_KEY, YARN_PRICE, Kind, spelt
from weavability.service.schemas.base import Body, Part, described
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.fields import (
    Described,
    Flag,
    Items,
    Number,
    WholeNumber,
)
from weavability.service.schemas.loom_schema import loom_id_field
from weavability.service.schemas.options_schema import AnswerOptionsSchema
from weavability.service.schemas.order_schema import ByFibre
from weavability.service.schemas.prices_schema import YARN_NAME, PricesSchema, YarnPrices
from weavability.service.schemas.reed_and_draft_schema import Threading
from weavability.service.schemas.weave_schema import WordsOrObject
from weavability.service.schemas.yarn_schema import YarnMap, YarnSchema

_PREFIX_OF: Final[Mapping[str, str]] = {"finishing": "", "allowances": "", "draft": ""}
_DOTTED: Final = ("order", "requirements")
_RENAMED: Final[Mapping[str, str]] = {
    "warp_ends_per_cm": "ends_per_cm",
    "warp_ends_per_in": "ends_per_in",
    "weft_picks_per_cm": "picks_per_cm",
    "weft_picks_per_in": "picks_per_in",
    "threading": "draft",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of orders.

    Attributes:
        name: Its heading.
        path: Place of its value in the JSON request.
        field: The field of the request that it fills.
        about: Of what it is a part; empty if its own words say that.
        has_names: Whether its cells list names, which are never read as numbers.
    """

    name: str
    path: tuple[str, ...]
    field: Described[Any]
    about: str = ""
    has_names: bool = False

    @property
    def pointer(self) -> str:
        """The JSON Pointer of its value in the request."""
        return "/" + "/".join(self.path)

    @property
    def kind(self) -> Kind:
        """The kind of its cells; what holds objects is written as JSON."""
        if self.has_names:
            return Kind.NAMES
        if isinstance(self.field, Items | ByFibre) and any(self.field.parts()):
            return Kind.JSON
        return next(kind for cls, kind in _KINDS if isinstance(self.field, cls))

    @property
    def words(self) -> str:
        """Its meaning and its unit."""
        unit = f" [{self.field.unit}]" if self.field.unit else ""
        words = f"{self.about}: {self.field.description}" if self.about else self.field.description
        return f"{words}{unit}"


_KINDS: Final[Sequence[tuple[type, Kind]]] = (
    (Number, Kind.NUMBER),
    (WholeNumber, Kind.NUMBER),
    (Flag, Kind.FLAG),
    (WordsOrObject, Kind.WEAVE),
    (Items, Kind.LIST),
    (Threading, Kind.THREADING),
    (object, Kind.TEXT),
)
"""Kinds of cells by the field that they fill; the first that fits."""


@cache
def columns() -> Mapping[str, Column]:
    """Return every column by its name, but for those of the yarns."""
    loom = loom_id_field("The loom, by its name in the park")
    found = [Column(name="loom_id", path=("loom_id",), field=loom)]
    for name, field in ConstructionSchema().fields.items():
        found.extend(_columns_of(name, described(field)))
    beside: dict[str, Body[Any]] = {"prices": PricesSchema(), "options": AnswerOptionsSchema()}
    for part, schema in beside.items():
        for name, field in schema.fields.items():
            if not isinstance(field, YarnPrices):
                path = (part, name)
                found.append(Column(name=".".join(path), path=path, field=described(field)))
    return {column.name: column for column in found}


def _columns_of(name: str, field: Described[Any]) -> Iterator[Column]:
    if not isinstance(field, Part):
        yield Column(name=name, path=("construction", name), field=field)
        return
    if name in _DOTTED:
        for inner, each in field.schema.fields.items():
            yield from _dotted(("construction", name, inner), described(each))
        return
    prefix = _PREFIX_OF.get(name, f"{name}_")
    for inner, each in field.schema.fields.items():
        if not isinstance(each, YarnMap):
            heading = _RENAMED.get(prefix + inner, prefix + inner)
            path = ("construction", name, inner)
            yield Column(name=heading, path=path, field=described(each))


def _dotted(path: tuple[str, ...], field: Described[Any], about: str = "") -> Iterator[Column]:
    """Yield the column of a field, or those of its parts."""
    if not isinstance(field, Part):
        yield Column(name=".".join(path[1:]), path=path, field=field, about=about)
        return
    for name, each in field.schema.fields.items():
        yield from _dotted((*path, name), described(each), field.description)


@cache
def yarn_fields() -> Mapping[str, Described[Any]]:
    """Return the fields of a yarn by the word that its columns use; ``yarn`` is the designation."""
    schema: Body[Any] = YarnSchema()
    found = {name: described(field) for name, field in schema.fields.items()}
    return {"yarn" if name == "designation" else name: field for name, field in found.items()}


@cache
def _yarn_heading() -> re.Pattern[str]:
    return re.compile(f"(warp|weft)_({'|'.join(yarn_fields())})_({YARN_KEY})")


def column(heading: str) -> Column | None:
    """Return the column of a heading, in whatever case; ``None`` if there is none.

    >>> column("warp_fibre_B").pointer, column("Ends_per_cm").name
    ('/construction/warp/yarns/B/fibre', 'ends_per_cm')
    """
    heading = spelt(heading, columns(), yarn_fields())
    if heading in columns():
        return columns()[heading]
    yarn = _yarn_heading().fullmatch(heading)
    if yarn is None:
        return _yarn_price(heading)
    system, word, key = yarn.groups()
    field = yarn_fields()[word]
    path = ("construction", system, "yarns", key, "designation" if word == "yarn" else word)
    return Column(name=heading, path=path, field=field)


def _yarn_price(heading: str) -> Column | None:
    name = heading.removeprefix(YARN_PRICE)
    if name == heading or not re.fullmatch(YARN_NAME, name):
        return None
    field = described(PricesSchema().fields["yarn_per_kg"])
    if not isinstance(field, YarnPrices):
        raise TypeError("the prices of yarn have no field of their own")
    return Column(name=heading, path=("prices", "yarn_per_kg", name), field=field.price)
