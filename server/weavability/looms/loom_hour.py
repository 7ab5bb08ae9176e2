"""What an hour of a loom costs: as stated, or its price spread over its years and hours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import expm1, log1p
from typing import Final

from weavability.looms.loom import Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.guards import not_negative, within
from weavability.textiles.sentences import say

CAPITAL: Final = ("price", "interest_pct", "life_years", "hours_per_year")
"""Fields of a loom from which the capital cost of its hour follows."""

PRICES_OF_LOOM: Final = ("loom_hour", *CAPITAL)
"""Fields of a loom that are money, or serve only to spread it: no part of what it can do."""


def capital_recovery_per_year(*, interest_pct: float, life_years: float) -> float:
    """Return the capital recovery factor, i / (1 - (1 + i)^-n) [ILO-1983].

    Args:
        interest_pct: Interest a year, i.
        life_years: Years over which the money comes back, n.

    Returns:
        Share of the price that every year must earn, in equal amounts; 1/n without interest.

    Raises:
        InputError: A value is out of its domain.

    15 % over 10 years:

    >>> round(capital_recovery_per_year(interest_pct=15, life_years=10), 3)
    0.199
    """
    interest = _within("interest_pct", interest_pct) / 100
    years = _within("life_years", life_years)
    if interest == 0:
        return 1 / years
    return interest / -expm1(-years * log1p(interest))


def capital_cost_per_h(
    *, price: float, interest_pct: float, life_years: float, hours_per_year: float
) -> float:
    """Return what of the price of a loom falls on one of its hours.

    Args:
        price: Price of the loom, in any currency.
        interest_pct: Interest a year.
        life_years: Years over which it is paid back.
        hours_per_year: Hours a year for which it is occupied, stops included.

    Returns:
        Cost of an hour in the same currency: capital alone, without wages, room and repairs.

    Raises:
        InputError: A value is out of its domain.

    >>> round(capital_cost_per_h(
    ...     price=60_000, interest_pct=15, life_years=10, hours_per_year=6_000), 3)
    1.993
    """
    share = capital_recovery_per_year(interest_pct=interest_pct, life_years=life_years)
    return not_negative("price", price) * share / _within("hours_per_year", hours_per_year)


def loom_hour_faults(stated: Mapping[str, object]) -> Iterator[Fault]:
    """Yield what is wrong with the fields that a loom states of the cost of its hour.

    Args:
        stated: What it states, by the names of the fields; pointers are relative to the loom.
    """
    capital = [name for name in CAPITAL if name in stated]
    if "loom_hour" in stated:
        for name in capital:
            yield Fault(
                f"/{name}",
                say(
                    "fault.loom_hour.stated_twice",
                    "Leave out {field}: loom_hour states what an hour of this loom costs.",
                    field=name,
                ),
                stated[name],
                f"loom_hour, or {', '.join(CAPITAL)}",
            )
    elif capital:
        for name in CAPITAL:
            if name not in stated:
                yield Fault(
                    f"/{name}",
                    say(
                        "fault.loom_hour.incomplete",
                        "{field} is missing: an hour of the loom follows from {fields} together.",
                        field=name,
                        fields=", ".join(CAPITAL),
                    ),
                    None,
                    f"{', '.join(CAPITAL)}, or loom_hour in their place",
                )


def own_loom_hour(loom: Loom) -> float | None:
    """Return what an hour of a loom costs by what it states; ``None`` if it states nothing.

    Raises:
        InputError: It states too little or too much; pointers are relative to the loom.
    """
    stated = {name: value for name in PRICES_OF_LOOM if (value := getattr(loom, name)) is not None}
    faults = list(loom_hour_faults(stated))
    if faults:
        raise InputError(faults)
    if (
        loom.price is None
        or loom.interest_pct is None
        or loom.life_years is None
        or loom.hours_per_year is None
    ):
        return loom.loom_hour
    return capital_cost_per_h(
        price=loom.price,
        interest_pct=loom.interest_pct,
        life_years=loom.life_years,
        hours_per_year=loom.hours_per_year,
    )


def _within(name: str, value: float) -> float:
    return within(name, value, LOOM_BOUNDS[f"/{name}"])
