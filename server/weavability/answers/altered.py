"""What else a remedy changes: figures of the cloth and of the order, before and after it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from weavability.answers.costs import cost_change
from weavability.answers.field_words import unit_of, words_of
from weavability.answers.prices import Prices
from weavability.answers.report import ClothSummary, Rates
from weavability.checks.finding import Alteration
from weavability.looms.fit import Fit, YarnOnLoom
from weavability.looms.loom import Loom
from weavability.looms.yarn_amounts import yarn_amounts
from weavability.textiles.rounded_numbers import significant


class Quantity(NamedTuple):
    """A figure that a change may alter.

    Attributes:
        name: As the report calls it.
        of: Computes it; ``None`` if an order has none.
        section: The part of the report that has it and its unit; ``None`` if the name ends in it.
        follows_speed: Whether it depends on the speed of the loom.
    """

    name: str
    of: Callable[[Fit | YarnOnLoom], float | None]
    section: type | None = None
    follows_speed: bool = False

    @property
    def unit(self) -> str:
        """Its unit, as in the report."""
        of_report = None if self.section is None else words_of(self.section)[self.name].unit
        return of_report or unit_of(self.name) or ""


def _requires(fit: Fit | YarnOnLoom, figure: str) -> bool:
    required = fit.cloth.construction.requirements
    return required is not None and getattr(required, figure) is not None


def _grey_mass(fit: Fit | YarnOnLoom) -> float | None:
    if _requires(fit, "mass_g_per_m2"):
        return None
    return fit.cloth.states.grey.mass_g_per_m2


def _finished_mass(fit: Fit | YarnOnLoom) -> float | None:
    if not _requires(fit, "mass_g_per_m2"):
        return None
    return fit.cloth.states.finished.mass_g_per_m2


def _width_from_reed(fit: Fit | YarnOnLoom) -> float | None:
    """Return the width in which the grey cloth comes out of a reed that is stated."""
    reed = fit.cloth.construction.reed
    if reed.dents_per_10cm is None and reed.count is None:
        return None
    denting = fit.numbers.denting
    return fit.cloth.widths.grey_cm * denting.needed_dents_per_10cm / denting.dents_per_10cm


QUANTITIES: Final = (
    Quantity("mass_g_per_m2", _grey_mass),
    Quantity("finished_mass_g_per_m2", _finished_mass),
    Quantity("cloth_cover_factor", lambda fit: fit.cloth.covers.cloth, ClothSummary),
    Quantity("grey_width_cm", lambda fit: fit.cloth.widths.grey_cm),
    Quantity("grey_width_from_reed_cm", _width_from_reed),
    Quantity(
        "hours_for_order",
        lambda fit: fit.numbers.hours if fit.cloth.lengths.ordered else None,
        Rates,
        follows_speed=True,
    ),
    Quantity("yarn_mass_kg", lambda fit: sum(each.mass_kg for each in yarn_amounts(fit))),
)
"""In the order in which they are listed; the cost comes after them. The mass is that of the grey
cloth, unless the order requires one of the finished cloth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pricing:
    """By which the change of cost is reported: the mill's prices, and those of the loom."""

    loom: Loom
    prices: Prices

    def alteration(self, before: Fit | YarnOnLoom, after: Fit | YarnOnLoom) -> Iterator[Alteration]:
        """Yield the cost of a metre, if it differs and can be compared."""
        found = cost_change(before, after, self.loom, self.prices)
        if found is not None:
            old, new = map(significant, found)
            if old != new:
                unit = f"{self.prices.currency}/m" if self.prices.currency else "per m"
                yield {"name": "cost_per_m", "from": old, "to": new, "unit": unit}


def figures_of(
    fit: Fit | YarnOnLoom, but_for_speed: Mapping[str, float] | None = None
) -> Mapping[str, float]:
    """Return every quantity that an order has, rounded as it is reported.

    Args:
        fit: The order on the loom.
        but_for_speed: The quantities of the same cloth, if it is woven at another speed alone.
    """
    sought = (each for each in QUANTITIES if but_for_speed is None or each.follows_speed)
    found = ((each.name, each.of(fit)) for each in sought)
    figures = {name: significant(value) for name, value in found if value is not None}
    return figures if but_for_speed is None else {**but_for_speed, **figures}


def alterations(before: Mapping[str, float], after: Mapping[str, float]) -> Iterator[Alteration]:
    """Yield the quantities that differ."""
    for each in QUANTITIES:
        old, new = before.get(each.name), after.get(each.name)
        if old is not None and new is not None and old != new:
            yield {"name": each.name, "from": old, "to": new, "unit": each.unit}
