"""The sections of a report on costs, energy and air."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from weavability.answers.field_words import (
    CostForOrder,
    CostPerM,
    CostPerM2,
    LoomHourPrice,
    Unit,
)
from weavability.textiles.construction import Stage
from weavability.textiles.order_lengths import USUAL_LENGTH


@dataclass(frozen=True, slots=True, kw_only=True)
class CostDriver:
    """What one cause adds to the cost."""

    driver: Annotated[
        str,
        "A yarn as in `yarn`, `size`, `loom hours`, `change-over`, `further warps` (tying in each "
        "filling of the beams after the first), `energy`, `air`, or `seconds sold`, which earn",
    ]
    quantity: Annotated[
        float, f"How much of it the order takes; {USUAL_LENGTH} of cloth if no length is ordered"
    ]
    unit: Annotated[str, "Unit of the quantity"]
    price: Annotated[
        float, "Price of a unit; negative for what is earned, such as by seconds", Unit("per unit")
    ]
    cost_per_m: Annotated[float, "Quantity x price, for a metre of first quality", Unit("per m")]
    cost_per_m2: Annotated[float, "The same for a square metre", Unit("per m²")]
    cost_for_order: Annotated[
        float | None, "The same for the order; null if no length is ordered", Unit("per order")
    ]
    share_pct: Annotated[float | None, "Share of the total; null if that is 0"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotPriced:
    """Something that the order takes and that is in no sum, because its price is missing."""

    driver: Annotated[str, "What it is, as among the drivers"]
    pointer: Annotated[str, "JSON Pointer of the field that would price it"]
    message: Annotated[str, "What to state"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """The cost of the order, as far as it is priced: the sum of its drivers."""

    currency: Annotated[str | None, "The label as sent; nothing is converted"]
    cost_per_m: CostPerM
    cost_per_m2: CostPerM2
    cost_for_order: CostForOrder
    cost_per_ordered_m: Annotated[
        float | None,
        "The same for a metre that is ordered, which bears the overage as long as nobody buys it; "
        "null likewise, or if no length is ordered",
        Unit("per m"),
    ]
    rejects_cost_per_m: Annotated[
        float | None,
        "What of it rejects add, after what seconds earn; null likewise, or if none are expected",
        Unit("per m"),
    ]
    stage: Annotated[Stage, "State of the cloth whose metres are counted"]
    first_quality_m: Annotated[
        float,
        "Length that bears the cost, all panels together, overage included and rejects left out; "
        f"of {USUAL_LENGTH} of grey cloth if none is ordered",
    ]
    second_quality_m: Annotated[float, "Length that is rejected and sold as seconds"]
    loom_hour: LoomHourPrice
    loom_hour_from: Annotated[
        str | None,
        "JSON Pointer of the field that it follows from: `/loom/loom_hour`, `/loom/price` (capital "
        "alone, without wages, room and repairs) or `/prices/loom_hour`, the first that is stated",
    ]
    drivers: Annotated[tuple[CostDriver, ...], "What the cost is made up of"]
    not_priced: Annotated[
        tuple[NotPriced, ...], "What the order takes and is in no sum, with what to state"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyUse:
    """Energy and compressed air by the power and the air that the loom states."""

    energy_kwh_per_m: Annotated[
        float | None,
        "Electric energy for a metre of first quality; null if the loom states none",
        Unit("kWh/m"),
    ]
    energy_kwh_per_kg: Annotated[
        float | None, "The same for a kilogram of grey cloth; null likewise", Unit("kWh/kg")
    ]
    energy_kwh_for_order: Annotated[
        float | None,
        "The same for the order; null likewise, or if no length is ordered",
        Unit("kWh"),
    ]
    air_m3_per_m: Annotated[
        float | None,
        "Free air for a metre of first quality; null if the loom states none",
        Unit("m³/m"),
    ]
    air_m3_for_order: Annotated[
        float | None,
        "The same for the order; null likewise, or if no length is ordered",
        Unit("m³"),
    ]
    air_kg_per_kg_weft: Annotated[
        float | None, "Air for a mass of weft, while the loom runs; null likewise", Unit("kg/kg")
    ]
    air_note: Annotated[
        str | None, "How that compares with what was measured on an air jet; null likewise"
    ]
