"""What an order costs on a loom, as far as prices are stated, and the energy and air it takes.

Prices are no part of what is judged: they decide no finding, and nothing here is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from weavability.answers.costs_section import CostDriver, Costs, EnergyUse, NotPriced
from weavability.answers.prices import Prices
from weavability.looms.carriers import InsertionSystem
from weavability.looms.changeover_rates import (
    DEFAULT_RATES,
    RATE_BASES,
    ChangeoverRates,
    RateSpan,
    further_warps_hours,
    tie_in_hours,
)
from weavability.looms.fit import Fit, YarnOnLoom
from weavability.looms.loom import Loom, SheddingKind
from weavability.looms.loom_hour import own_loom_hour
from weavability.looms.power_and_air import (
    MEASURED_AIR_KG_PER_KG_WEFT,
    air_kg_per_kg_weft,
    running_hours,
)
from weavability.looms.yarn_amounts import yarn_amounts
from weavability.textiles.assumptions import Assumption, Grade, Ledger, ValueBand
from weavability.textiles.construction import Construction, Stage
from weavability.textiles.errors import Fault, InputError, pointing_below
from weavability.textiles.sentences import say
from weavability.textiles.sources import cite

_YARNS: Final = "/prices/yarn_per_kg"

SECONDS: Final = "seconds sold"
"""Driver of what cloth of second quality earns; it lowers the cost."""

_OF_TYING_IN: Final = ("knots_per_h", "tie_in_ends_per_h", "tie_in_fixed_hours")
_AIR_MEASURED: Final = cite(
    f"{MEASURED_AIR_KG_PER_KG_WEFT:g} kg/kg measured on a print cloth of 16.8 tex weft at "
    "500 picks/min over 127 cm, [AIR-CONSUMPTION]"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderQuantities:
    """What an order takes on a loom, in quantities that have a price.

    They are those of the order, or of the usual length of cloth if it states none.

    Attributes:
        yarn_kg: Waste included, by the yarn's name in the report.
        priced_as: Of yarn at the edges, the warp yarn whose price counts if it has none.
        loom_hours: For which the loom is occupied, stops for yarn included.
        running_hours: In which it weaves.
        changeover_hours: For which a change of style stops it, as planned or else as usual.
        further_warp_hours: For which it stops while every later filling of its beams is tied in.
        takes_air: Whether the loom inserts the weft by air.
        first_m: Cloth of first quality, in the state in which the order is stated.
        ordered_m: What of it is ordered, overage left out.
        first_m2: Its area.
        second_m: Cloth that is woven with it and rejected.
        is_ordered: Whether the order states a length.
    """

    yarn_kg: Mapping[str, float]
    priced_as: Mapping[str, str]
    size_kg: float
    loom_hours: float
    running_hours: float
    changeover_hours: float
    further_warp_hours: float
    takes_air: bool
    first_m: float
    ordered_m: float
    first_m2: float
    second_m: float
    is_ordered: bool
    stage: Stage


def order_cost(
    fit: Fit, loom: Loom, prices: Prices, *, changeover_hours: float | None = None
) -> Costs:
    """Return what an order costs on a loom, as far as it is priced; not rounded.

    Args:
        fit: The cloth on the loom.
        loom: The loom as stated, with the price of its hour, its power and its air.
        prices: What the mill pays.
        changeover_hours: The change-over as planned, if what is on the loom is known; those that
            the prices state count first.

    Raises:
        InputError: A price is for a yarn that the order does not have, or the loom states too
            little or too much of the price of its hour; pointers start with ``/prices`` or
            ``/loom``.
    """
    refuse_strange_yarns(fit.cloth.construction, prices)
    quantities = order_quantities(fit, loom, prices, changeover_hours=changeover_hours)
    with pointing_below("/loom"):
        return priced(quantities, loom, prices)


def refuse_strange_yarns(construction: Construction, prices: Prices) -> None:
    """Refuse prices of yarns that the order does not have.

    Raises:
        InputError: With a fault for each; pointers start with ``/prices``.
    """
    faults = list(strange_yarn_faults(construction, prices.yarn_per_kg))
    if faults:
        raise InputError(faults)


def strange_yarn_faults(
    construction: Construction, yarn_per_kg: Mapping[str, object]
) -> Iterator[Fault]:
    """Yield a fault for each price of a yarn that the order does not have."""
    warp, weft = construction.warp.yarns, construction.weft.yarns
    names = [f"warp {key}" for key in warp] + [f"weft {key}" for key in weft]
    names += [f"{edge} {key}" for edge in ("leno", "catch cord") for key in warp]
    for name, price in yarn_per_kg.items():
        if name not in names:
            at = name.replace("~", "~0").replace("/", "~1")
            message = say(
                "fault.prices.unknown_yarn",
                "The order has no yarn {yarn!r} for this price.",
                yarn=name[:80],
            )
            yield Fault(f"{_YARNS}/{at}", message, price, names)


def order_quantities(
    fit: Fit | YarnOnLoom, loom: Loom, prices: Prices, *, changeover_hours: float | None = None
) -> OrderQuantities:
    """Return what an order takes on a loom; arguments as of :func:`order_cost`.

    Of an order that is only tried, what decides how much yarn it takes is enough.
    """
    amounts = list(yarn_amounts(fit))
    hours = _loom_hours(fit)
    planned = changeover_hours if prices.changeover_hours is None else prices.changeover_hours
    basis = _basis(fit)
    return OrderQuantities(
        yarn_kg={f"{each.system} {each.key}": each.mass_kg for each in amounts},
        priced_as={
            f"{each.system} {each.key}": f"warp {each.key}"
            for each in amounts
            if each.system not in ("warp", "weft")
        },
        size_kg=sum(group.size_kg for group in fit.groups),
        loom_hours=hours,
        running_hours=running_hours(hours=hours, efficiency_pct=fit.numbers.efficiency_pct),
        changeover_hours=_usual_change(fit, loom, Ledger()) if planned is None else planned,
        further_warp_hours=_further_warp_hours(fit, loom, Ledger()),
        takes_air=fit.limits.system is InsertionSystem.AIR_JET,
        first_m=basis.first_m,
        ordered_m=basis.ordered_m,
        first_m2=basis.first_m2,
        second_m=basis.second_m,
        is_ordered=fit.cloth.lengths.ordered,
        stage=basis.stage,
    )


def _loom_hours(fit: Fit | YarnOnLoom) -> float:
    """Return the hours for which the loom is occupied, also if the order states no length."""
    return fit.cloth.lengths.loom_m / fit.numbers.output_m_per_h


class _Basis(NamedTuple):
    stage: Stage
    first_m: float
    ordered_m: float
    first_m2: float
    second_m: float


def _basis(fit: Fit | YarnOnLoom) -> _Basis:
    """Return the lengths over which an order is spread: in the state in which it is stated."""
    states, lengths = fit.cloth.states, fit.cloth.lengths
    stage = fit.cloth.symbols.stage if lengths.pieces is None else Stage.FINISHED
    state = {
        Stage.LOOM_STATE: states.loom_state,
        Stage.GREY: states.grey,
        Stage.FINISHED: states.finished,
    }[stage]
    second_m = state.length_m * lengths.rejects_pct / 100
    first_m = state.length_m - second_m
    ordered_m = first_m if lengths.pieces is None else lengths.ordered_m
    return _Basis(stage, first_m, ordered_m, first_m * state.width_cm / 100, second_m)


def _usual_change(fit: Fit | YarnOnLoom, loom: Loom, ledger: Ledger) -> float:
    """Return the hours of a change of style if nothing is known of what is on the loom.

    On shafts the warp comes with its harness; a Jacquard's harness stays, and the warp is tied in.
    """
    own = dict(loom.changeover_rates)
    rates = RateSpan.of(ChangeoverRates(**own), stated=own.keys())
    ends = fit.cloth.ends.total
    if fit.limits.shedding.kind is SheddingKind.JACQUARD:
        return ledger.note(
            "/prices/changeover_hours",
            tie_in_hours(ends, rates.usual),
            unit="h",
            reason=say(
                "assumption.changeover_hours.tying_in",
                "tying the new warp to that on the loom, by the rates of "
                "change-overs; state it, or rank the loom with what is on it",
            ),
            grade=Grade.ESTIMATE,
            band=ValueBand(tie_in_hours(ends, rates.quick), tie_in_hours(ends, rates.slow)),
        )
    return ledger.note(
        "/prices/changeover_hours",
        rates.usual.gaiting_hours,
        unit="h",
        reason=say(
            "assumption.changeover_hours.gaiting",
            "gaiting up a warp that comes with its harness, at the loom's rate "
            "or else {source}; state it, or rank the loom with what is on it",
            source=RATE_BASES["gaiting_hours"].reason("gaiting_hours"),
        ),
        grade=RATE_BASES["gaiting_hours"].grade,
        band=ValueBand(rates.quick.gaiting_hours, rates.slow.gaiting_hours),
    )


def _further_warp_hours(fit: Fit | YarnOnLoom, loom: Loom, ledger: Ledger) -> float:
    """Return the hours for which the loom stops for the warps of an order after the first."""
    if all(each.beams_needed == 1 for each in fit.groups):
        return 0.0
    own = dict(loom.changeover_rates)
    rates = {
        name: ledger.take(
            f"/loom/changeover_rates/{name}",
            own.get(name),
            getattr(DEFAULT_RATES, name),
            unit="1/h" if name.endswith("_per_h") else "h",
            reason=say(
                "assumption.changeover_rates.further_warps",
                "tying in further warps, {source}",
                source=RATE_BASES[name].reason(name),
            ),
            grade=RATE_BASES[name].grade,
            band=RATE_BASES[name].band,
        )
        for name in _OF_TYING_IN
    }
    return further_warps_hours(
        [(each.ends, each.beams_needed) for each in fit.groups],
        have_own_beams=len(fit.groups) <= fit.limits.beams.let_offs,
        rates=ChangeoverRates(**rates),
    )


def cost_assumptions(fit: Fit, loom: Loom, prices: Prices) -> Iterator[Assumption]:
    """Yield what the costs of one order assume."""
    if prices.changeover_hour is None or not fit.cloth.lengths.ordered:
        return
    ledger = Ledger()
    _further_warp_hours(fit, loom, ledger)
    if prices.changeover_hours is None:
        _usual_change(fit, loom, ledger)
    yield from ledger


def cost_change(
    before: Fit | YarnOnLoom, after: Fit | YarnOnLoom, loom: Loom, prices: Prices
) -> tuple[float, float] | None:
    """Return the cost of a metre before and after a change of an order on a loom.

    ``None`` if they cannot be compared: nothing is priced, something is priced in one of them only,
    or a yarn becomes another one, whose price is not known. A yarn may be gone.
    """
    if not _yarns(after).items() <= _yarns(before).items():
        return None
    old, new = (
        priced(order_quantities(each, loom, prices), loom, prices) for each in (before, after)
    )
    missing = [{each.driver for each in costs.not_priced} for costs in (old, new)]
    if old.cost_per_m is None or new.cost_per_m is None or missing[0] != missing[1]:
        return None
    return old.cost_per_m, new.cost_per_m


def _yarns(fit: Fit | YarnOnLoom) -> dict[str, tuple[str | None, float]]:
    return {
        f"{each.system} {each.key}": (each.yarn.designation, each.yarn.linear_density_tex)
        for each in yarn_amounts(fit)
    }


class _Line(NamedTuple):
    """A driver, with its price if there is one, or else where to state it."""

    driver: str
    quantity: float
    unit: str
    price: float | None
    pointer: str
    missing: str


class _Priced(NamedTuple):
    """A driver with its price, before it is spread over the order."""

    driver: str
    quantity: float
    unit: str
    price: float

    @property
    def cost(self) -> float:
        return self.quantity * self.price


def priced(quantities: OrderQuantities, loom: Loom, prices: Prices) -> Costs:
    """Return the costs of quantities on a loom; not rounded.

    With firsts of length G, seconds of length R that are worth v of a first each, and production
    costs C, a first must earn C / (G + v R) a metre.

    Raises:
        InputError: The loom states too little or too much of the price of its hour; pointers are
            relative to the loom.
    """
    hour = _loom_hour(loom, prices)
    lines = list(_lines(quantities, loom, prices, hour))
    found = [
        _Priced(line.driver, line.quantity, line.unit, line.price)
        for line in lines
        if line.price is not None
    ]
    firsts_m, seconds_m = quantities.first_m, quantities.second_m
    production = sum(line.cost for line in found)
    worth_pct = prices.second_quality_value_pct
    worth = 0.0 if worth_pct is None else worth_pct / 100
    if seconds_m and not found:
        missing = "State the price of anything else: rejects cost a share of that."
        lines.append(_Line(SECONDS, seconds_m, "m", None, "/prices/yarn_per_kg", missing))
    elif seconds_m and worth_pct is None:
        missing = "State what seconds are worth as a share of firsts; here they are worth nothing."
        pointer = "/prices/second_quality_value_pct"
        lines.append(_Line(SECONDS, seconds_m, "m", None, pointer, missing))
    elif seconds_m:
        earned = -worth * production / (firsts_m + worth * seconds_m)
        found.append(_Priced(SECONDS, seconds_m, "m", earned))
    total = sum(line.cost for line in found)
    return Costs(
        currency=prices.currency,
        cost_per_m=total / firsts_m if found else None,
        cost_per_m2=total / quantities.first_m2 if found else None,
        cost_for_order=total if found and quantities.is_ordered else None,
        cost_per_ordered_m=total / quantities.ordered_m
        if found and quantities.is_ordered
        else None,
        rejects_cost_per_m=(1 - worth)
        * production
        * seconds_m
        / ((firsts_m + worth * seconds_m) * (firsts_m + seconds_m))
        if found and seconds_m
        else None,
        stage=quantities.stage,
        first_quality_m=firsts_m,
        second_quality_m=seconds_m,
        loom_hour=hour.price,
        loom_hour_from=hour.pointer,
        drivers=tuple(_driver(line, quantities, total) for line in found),
        not_priced=tuple(
            NotPriced(driver=line.driver, pointer=line.pointer, message=line.missing)
            for line in lines
            if line.price is None
        ),
    )


def _driver(line: _Priced, quantities: OrderQuantities, total: float) -> CostDriver:
    return CostDriver(
        driver=line.driver,
        quantity=line.quantity,
        unit=line.unit,
        price=line.price,
        cost_per_m=line.cost / quantities.first_m,
        cost_per_m2=line.cost / quantities.first_m2,
        cost_for_order=line.cost if quantities.is_ordered else None,
        share_pct=100 * line.cost / total if total else None,
    )


class _LoomHour(NamedTuple):
    price: float | None
    pointer: str | None


def _loom_hour(loom: Loom, prices: Prices) -> _LoomHour:
    """Return the price of an hour: the loom's own, else that of any loom."""
    own = own_loom_hour(loom)
    if own is not None:
        return _LoomHour(own, "/loom/price" if loom.loom_hour is None else "/loom/loom_hour")
    if prices.loom_hour is not None:
        return _LoomHour(prices.loom_hour, "/prices/loom_hour")
    return _LoomHour(None, None)


def _lines(
    quantities: OrderQuantities, loom: Loom, prices: Prices, hour: _LoomHour
) -> Iterator[_Line]:
    """Yield everything that the order takes, but what rejects change of it."""
    for name, mass_kg in quantities.yarn_kg.items():
        as_warp = prices.yarn_per_kg.get(quantities.priced_as.get(name, name))
        price = prices.yarn_per_kg.get(name, as_warp)
        yield _Line(name, mass_kg, "kg", price, f"{_YARNS}/{name}", f"State the price of {name}.")
    if quantities.size_kg:
        yield _Line(
            *("size", quantities.size_kg, "kg", prices.size_per_kg),
            *("/prices/size_per_kg", "State the price of the size."),
        )
    yield _Line(
        *("loom hours", quantities.loom_hours, "h", hour.price, "/prices/loom_hour"),
        "State the price of a loom hour, of this loom or of any.",
    )
    yield _change(quantities, prices)
    if quantities.is_ordered and quantities.further_warp_hours:
        yield _Line(
            *("further warps", quantities.further_warp_hours, "h", prices.changeover_hour),
            *("/prices/changeover_hour", "State the price of an hour of change-over."),
        )
    yield _energy(quantities, loom, prices)
    if quantities.takes_air or loom.air_m3_per_h is not None:
        yield _air(quantities, loom, prices)


def _change(quantities: OrderQuantities, prices: Prices) -> _Line:
    hours = quantities.changeover_hours
    if quantities.is_ordered:
        return _Line(
            *("change-over", hours, "h", prices.changeover_hour),
            *("/prices/changeover_hour", "State the price of an hour of change-over."),
        )
    return _Line(
        *("change-over", hours, "h", None, "/construction/length_m"),
        "State the length ordered, over which a change-over is spread.",
    )


def _energy(quantities: OrderQuantities, loom: Loom, prices: Prices) -> _Line:
    if loom.power_kw is None:
        return _Line("energy", 0.0, "kWh", None, "/loom/power_kw", "State the power of the loom.")
    return _Line(
        *("energy", loom.power_kw * quantities.running_hours, "kWh", prices.energy_per_kwh),
        *("/prices/energy_per_kwh", "State the price of a kilowatt hour."),
    )


def _air(quantities: OrderQuantities, loom: Loom, prices: Prices) -> _Line:
    if loom.air_m3_per_h is None:
        return _Line(
            *("air", 0.0, "m³", None, "/loom/air_m3_per_h"),
            "State the air that the loom takes.",
        )
    return _Line(
        *("air", loom.air_m3_per_h * quantities.running_hours, "m³", prices.air_per_m3),
        *("/prices/air_per_m3", "State the price of a cubic metre of free air."),
    )


def energy_use(fit: Fit, loom: Loom) -> EnergyUse | None:
    """Return the energy and air that an order takes on a loom; ``None`` if it states neither."""
    power_kw, air_m3_per_h = loom.power_kw, loom.air_m3_per_h
    if power_kw is None and air_m3_per_h is None:
        return None
    basis, ordered = _basis(fit), fit.cloth.lengths.ordered
    hours = running_hours(hours=_loom_hours(fit), efficiency_pct=fit.efficiency_pct)
    grey = fit.cloth.states.grey
    grey_kg = grey.length_m * grey.width_cm / 100 * grey.mass_g_per_m2 / 1000
    energy_kwh = None if power_kw is None else power_kw * hours
    air_m3, share, note = None, None, None
    if air_m3_per_h is not None:
        air_m3 = air_m3_per_h * hours
        share = air_kg_per_kg_weft(
            air_m3_per_h=air_m3_per_h,
            insertion_rate_m_per_min=fit.insertion_rate_m_per_min,
            weft_tex=fit.cloth.weft.linear_density_tex,
        )
        times = share / MEASURED_AIR_KG_PER_KG_WEFT
        note = f"{times:.2g} times the {_AIR_MEASURED}."
    return EnergyUse(
        energy_kwh_per_m=None if energy_kwh is None else energy_kwh / basis.first_m,
        energy_kwh_per_kg=None if energy_kwh is None else energy_kwh / grey_kg,
        energy_kwh_for_order=energy_kwh if ordered else None,
        air_m3_per_m=None if air_m3 is None else air_m3 / basis.first_m,
        air_m3_for_order=air_m3 if ordered else None,
        air_kg_per_kg_weft=share,
        air_note=note,
    )
