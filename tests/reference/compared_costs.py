"""Published values of costs, and of the air of a loom, beside the computed ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from builders import construction, loom, threads
from reference.compared import Subject, compared, read

from weavability.answers.costs import OrderQuantities, priced
from weavability.answers.costs_section import Costs
from weavability.answers.prices import Prices
from weavability.answers.published_evidence import EvidenceKind, EvidenceValue
from weavability.answers.validation import assess
from weavability.looms.loom_hour import capital_recovery_per_year
from weavability.looms.power_and_air import air_kg_per_kg_weft
from weavability.textiles.construction import Stage
from weavability.textiles.units import CM_PER_INCH, M_PER_YARD

PUBLISHED: Final = read("costs.json")
_LENGTH: Final = 1000.0


def subjects() -> Iterator[Subject]:
    """Yield the evidence on costs."""
    yield Subject(
        subject="Costs and air",
        about="Capital recovery, sums of costing examples, charges by picks, air of an air jet.",
        against="[ILO-1983], a trade article, teaching pages, [AIR-CONSUMPTION]",
        values=[*_capital_recovery(), *_sums(), _charge_by_picks(), _air()],
    )


def _capital_recovery() -> Iterator[EvidenceValue]:
    table = PUBLISHED["capital_recovery"]
    for case in table["cases"]:
        interest_pct, years = case["interest_pct"], case["life_years"]
        yield compared(
            f"cost {case['id']}",
            f"annual capital recovery at {interest_pct} % over {years} years",
            source=f"{table['source']}, {table['page']}",
            published=case["per_year"],
            computed=capital_recovery_per_year(interest_pct=interest_pct, life_years=years),
            tolerance=case["tolerance"],
            unit="1/year",
        )


def _sums() -> Iterator[EvidenceValue]:
    for case in PUBLISHED["sums"]:
        yield compared(
            f"cost {case['id']}",
            case["what"],
            source=case["source"],
            published=case["total"],
            computed=_per_m(cost_of_parts(case["per_m"])),
            tolerance=case["tolerance"],
            unit=case["unit"],
        )


def cost_of_parts(per_m: Mapping[str, float]) -> Costs:
    """Return the costs of an order whose parts cost so much a metre.

    Yarn, sizing and power are priced as such, all other parts in the loom hour.
    """
    yarn = {name: cost for name, cost in per_m.items() if name.startswith(("warp ", "weft "))}
    others = sum(cost for name, cost in per_m.items() if name not in {*yarn, "sizing", "power"})
    quantities = OrderQuantities(
        yarn_kg=dict.fromkeys(yarn, _LENGTH),
        priced_as={},
        size_kg=_LENGTH,
        loom_hours=_LENGTH,
        running_hours=_LENGTH,
        changeover_hours=0.0,
        further_warp_hours=0.0,
        takes_air=False,
        first_m=_LENGTH,
        ordered_m=_LENGTH,
        first_m2=1.5 * _LENGTH,
        second_m=0.0,
        is_ordered=True,
        stage=Stage.GREY,
    )
    prices = Prices(
        yarn_per_kg=yarn,
        size_per_kg=per_m.get("sizing", 0.0),
        loom_hour=others,
        energy_per_kwh=per_m.get("power", 0.0),
    )
    return priced(quantities, loom(power_kw=1.0), prices)


def _per_m(costs: Costs | None) -> float:
    assert costs is not None
    assert costs.cost_per_m is not None
    return costs.cost_per_m


def _charge_by_picks() -> EvidenceValue:
    """Charge a loom hour by the picks that it makes, and read the charge of a yard."""
    case: dict[str, Any] = PUBLISHED["charge_by_picks"]
    cloth = construction(weft=threads(case["picks_per_in"] / CM_PER_INCH), length_m=_LENGTH)
    rates = assess(cloth, loom(), rounded=False).rates
    picks_per_h = rates.speed_picks_per_min * 60 * rates.efficiency_pct / 100
    inches_per_yd = 100 * M_PER_YARD / CM_PER_INCH
    hour = case["charge_per_pick_per_in"] / inches_per_yd * picks_per_h
    costs = assess(cloth, loom(), prices=Prices(loom_hour=hour), rounded=False).costs
    return compared(
        f"cost {case['id']}",
        case["what"],
        source=case["source"],
        published=case["charge_per_yd"],
        computed=_per_m(costs) * M_PER_YARD,
        unit=case["unit"],
    )


def _air() -> EvidenceValue:
    case: dict[str, Any] = PUBLISHED["air"]
    return compared(
        f"cost {case['id']}",
        case["what"],
        source=f"{case['source']}, {case['page']}",
        kind=EvidenceKind.DERIVED,
        published=case["kg_per_kg"],
        computed=air_kg_per_kg_weft(
            air_m3_per_h=case["air_m3_per_h"],
            insertion_rate_m_per_min=case["picks_per_min"] * case["reed_width_cm"] / 100,
            weft_tex=case["weft_tex"],
        ),
        tolerance=case["tolerance"],
        unit="kg/kg",
    )
