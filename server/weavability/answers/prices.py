"""What a mill pays, as a request states it; no part of what is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from weavability.looms.loom_bounds import LOOM_BOUNDS, MOST_MONEY
from weavability.textiles.bounds import Bounds
from weavability.textiles.errors import pointing_below
from weavability.textiles.guards import between

PRICE_BOUNDS: Final[Mapping[str, Bounds]] = MappingProxyType(
    {
        "/yarn_per_kg": Bounds(0, MOST_MONEY, "per kg"),
        "/size_per_kg": Bounds(0, MOST_MONEY, "per kg"),
        "/loom_hour": LOOM_BOUNDS["/loom_hour"],
        "/changeover_hour": Bounds(0, MOST_MONEY, "per h"),
        "/changeover_hours": Bounds(0, 10_000, "h"),
        "/energy_per_kwh": Bounds(0, MOST_MONEY, "per kWh"),
        "/air_per_m3": Bounds(0, MOST_MONEY, "per m³"),
        "/second_quality_value_pct": Bounds(0, 100, "%"),
    }
)
"""Bounds of every number of the prices, by JSON Pointer relative to them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What the mill pays, in one currency; what is not stated is ``None`` and not priced.

    No price is shown when it is printed, so that none gets into a log by chance.

    Attributes:
        currency: Its label; nothing is converted.
        yarn_per_kg: By the yarn's name in the report: ``warp A``, ``weft A``; yarn of leno ends and
            catch cords costs what its warp yarn does unless it has a price.
        size_per_kg: Of the size on the warp.
        loom_hour: An hour of any loom that states none of its own.
        changeover_hour: An hour for which a change-over stops the loom.
        changeover_hours: How long it does, if that is known.
        energy_per_kwh: Of electric energy.
        air_per_m3: Of free air.
        second_quality_value_pct: Value of a metre of seconds, as a share of that of a first.

    Raises:
        InputError: A price is negative or beyond all measure; pointers start with ``/prices``.
    """

    currency: str | None = None
    yarn_per_kg: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({}), repr=False
    )
    size_per_kg: float | None = field(default=None, repr=False)
    loom_hour: float | None = field(default=None, repr=False)
    changeover_hour: float | None = field(default=None, repr=False)
    changeover_hours: float | None = field(default=None, repr=False)
    energy_per_kwh: float | None = field(default=None, repr=False)
    air_per_m3: float | None = field(default=None, repr=False)
    second_quality_value_pct: float | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        numbers = {f"yarn_per_kg/{name}": price for name, price in self.yarn_per_kg.items()}
        numbers |= {
            name: value
            for each in PRICE_BOUNDS
            if isinstance(value := getattr(self, name := each[1:]), int | float)
        }
        for name, value in numbers.items():
            bounds = PRICE_BOUNDS["/" + name.partition("/")[0]]
            with pointing_below("/prices"):
                between(name, value, least=bounds.least, most=bounds.most)
