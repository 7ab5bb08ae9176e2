"""The columns of the service's own sheet that are no plain number or text of a report."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from weavability_client._record import Record

if TYPE_CHECKING:
    from weavability_client.models._generated import ReportFields, ValueBand
    from weavability_client.models.findings import Remedy


def sheet_columns(report: ReportFields) -> dict[str, object]:
    """Return message, link, yarn, warps, requirements and remedies; an absent text is empty."""
    rates, remedies = report.rates, _smallest(report)
    return {
        "validation_id": report.validation_id,
        "link": report.links.get("self") or "",
        "warp_length_m": report.warp.length_m,
        "warp_mass_kg": _mass_kg(report, "warp"),
        "weft_mass_kg": _mass_kg(report, "weft"),
        "beams_needed": report.warp.beams_needed,
        "warps": _json(report.warp.beams),
        "message": " ".join(each.message for each in report.findings),
        **_ends("rates.efficiency_pct_band", rates.efficiency_pct_band),
        **_ends("rates.hours_for_order_band", rates.hours_for_order_band),
        **_stops(report),
        "requirements": _json(report.requirements),
        "remedies": " ".join(f"{each.message} Clears {_listed(each.clears)}." for each in remedies),
        "remedies.changes": _changes(remedies),
    }


def _smallest(report: ReportFields) -> list[Remedy]:
    """Return the smallest remedy of each finding; one that clears several is there once."""
    firsts = (remedy for each in report.findings for remedy in each.remedies[:1])
    return list({json.dumps(_writes(each)): each for each in firsts}.values())


def _writes(remedy: Remedy) -> list[Mapping[str, object]]:
    changes: Iterable[Record] = remedy.changes or (remedy,)
    wrote = [each.to_json() for each in changes]
    return [{name: each.get(name) for name in ("pointer", "from", "to")} for each in wrote]


def _changes(remedies: Iterable[Remedy]) -> str:
    listed = [{**each, "clears": one.clears} for one in remedies for each in _writes(one)]
    return _dumped(listed) if listed else ""


def _stops(report: ReportFields) -> dict[str, object]:
    stops, for_order = report.rates.stops, report.rates.stops_for_order
    found = {
        "rates.stops.further_warp_stop_cost_pct": stops and stops.further_warp_stop_cost_pct,
        "rates.stops_for_order.further_warp_stop_hours": for_order
        and for_order.further_warp_stop_hours,
    }
    return {name: value for name, value in found.items() if value is not None}


def _ends(path: str, band: ValueBand | None) -> dict[str, object]:
    return {} if band is None else {f"{path}.low": band.low, f"{path}.high": band.high}


def _mass_kg(report: ReportFields, system: str) -> float:
    masses_kg = (each.mass_kg for each in report.yarn if each.yarn.startswith(f"{system} "))
    return float(f"{sum(masses_kg):.6g}")


def _listed(codes: Iterable[str]) -> str:
    return " ".join(dict.fromkeys(codes))


def _json(records: Iterable[Record] | None) -> str:
    listed = [each.to_json() for each in records or ()]
    return _dumped(listed) if listed else ""


def _dumped(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
