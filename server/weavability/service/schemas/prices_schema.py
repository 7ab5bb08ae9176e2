"""The prices of a mill as JSON, beside the construction that they are for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any, Final

from marshmallow import ValidationError

from weavability.answers.costs import strange_yarn_faults
from weavability.answers.prices import PRICE_BOUNDS, Prices
from weavability.service.schemas.base import Body
from weavability.service.schemas.faults import escape, faults_of, refused
from weavability.service.schemas.fields import Described, Number, Shape, Text
from weavability.textiles.bounds import MOST_YARNS, YARN_KEY
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import say

YARN_NAME: Final = rf"(?:warp|weft|leno|catch cord) {YARN_KEY.pattern}"
"""A yarn of an order as its report names it."""

_MOST_PRICES: Final = 4 * MOST_YARNS


class YarnPrices(Described[Mapping[str, float]]):
    """Prices of a kilogram by the name of the yarn; whether the order has it is judged later."""

    def __init__(self, description: str, *, example: Mapping[str, float]) -> None:
        bounds = PRICE_BOUNDS["/yarn_per_kg"]
        super().__init__(description, example=example, unit=bounds.unit)
        called = say("part.the_price", "the price")
        self.price = Number("Price of a kilogram", bounds, example=4.2, called=called)

    def allowed(self) -> str:
        """Return what the names are."""
        return 'an object of prices by yarn, such as {"warp A": 4.2, "weft A": 3.9}'

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        return {
            "type": "object",
            "maxProperties": _MOST_PRICES,
            "propertyNames": {"pattern": f"^{YARN_NAME}$"},
            "additionalProperties": self.price.kind(),
        }

    def _deserialize(self, value: Any, *_: object, **__: object) -> Mapping[str, float]:
        if not isinstance(value, dict) or len(value) > _MOST_PRICES:
            raise self.not_allowed(value)
        faults: list[Fault] = []
        prices: dict[str, float] = {}
        for name, price in value.items():
            try:
                prices[name] = self.price.deserialize(price)
            except ValidationError as error:
                below = f"/{escape(name)}"
                faults += [
                    Fault(below + each.pointer, each.message, each.given, each.allowed)
                    for each in faults_of(error)
                ]
        if faults:
            raise refused(*faults)
        return prices


class PricesSchema(Body[Prices]):
    """What the mill pays, in one currency; what is left out is not priced.

    Prices decide no finding. They are in no link, no `validation_id`, no entity tag and no log: the
    answer to a request with prices has no entity tag, and a report from a link has no costs.
    """

    title = "Prices"
    makes = Prices

    currency = Text(
        "Label of the currency of all prices; nothing is converted", example="EUR", longest=16
    )
    yarn_per_kg = YarnPrices(
        "Prices of yarn, by its name in the report: `warp A`, `weft A`; that of leno ends and "
        "catch cords costs what its warp yarn does, unless `leno A` or `catch cord A` is stated",
        example={"warp A": 4.2, "weft A": 3.9},
    )
    size_per_kg = Number("Price of size, dry", PRICE_BOUNDS["/size_per_kg"], example=1.1)
    loom_hour = Number(
        "Price of an hour for which a loom is occupied, of looms that state none of their own",
        PRICE_BOUNDS["/loom_hour"],
        example=6.5,
    )
    changeover_hour = Number(
        "Price of an hour for which a change-over stops the loom",
        PRICE_BOUNDS["/changeover_hour"],
        example=40,
    )
    changeover_hours = Number(
        "Hours for which it does; if not given, as planned from what is on the loom, else as "
        "assumed for a new style",
        PRICE_BOUNDS["/changeover_hours"],
        example=6,
    )
    energy_per_kwh = Number(
        "Price of electric energy", PRICE_BOUNDS["/energy_per_kwh"], example=0.18
    )
    air_per_m3 = Number(
        "Price of compressed air, as free air", PRICE_BOUNDS["/air_per_m3"], example=0.02
    )
    second_quality_value_pct = Number(
        "Value of a metre of seconds as a share of that of a first",
        PRICE_BOUNDS["/second_quality_value_pct"],
        example=50,
    )


def price_faults(values: Mapping[str, Any], given: Mapping[str, Any]) -> Iterator[Fault]:
    """Yield a fault for each price, good or not, of a yarn that the order does not have.

    Args:
        values: The good values of the request.
        given: The request.
    """
    construction, prices = values.get("construction"), given.get("prices")
    yarns = prices.get("yarn_per_kg") if isinstance(prices, dict) else None
    if isinstance(construction, Construction) and isinstance(yarns, dict):
        yield from islice(strange_yarn_faults(construction, yarns), _MOST_PRICES)
