"""The flat row of a report, as the service computes it. Generated: run ``openapi/regenerate``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

Part = Mapping[str, Any]
Dump = Callable[[object], str]

_SUMS: Final = ("currency", "cost_per_m", "cost_per_m2", "cost_for_order", "cost_per_ordered_m")
_OF_STOPS: Final = (
    "rates.stops.further_warp_stop_cost_pct",
    "rates.stops_for_order.further_warp_stop_hours",
)


def row_of(report: Part, dump: Dump) -> dict[str, object]:
    """Return the row of a report; what the report lacks has no column, or an empty cell.

    Args:
        report: The report as parsed JSON; what is null in it may be left out.
        dump: Writes a list as compact JSON.
    """
    findings, costs = report["findings"], report.get("costs")
    decisive = report.get("decisive_assumptions")
    remedies = _smallest(findings, dump)
    writes = [{**one, "clears": each["clears"]} for each, changes in remedies for one in changes]
    row: dict[str, object] = {
        "reference": report.get("reference"),
        "loom_id": report.get("loom_id"),
        "verdict": str(report["verdict"]),
        **_singles(report, "counts"),
        "codes": " ".join([each["code"] for each in findings]),
        **_singles(report, "rates"),
        **_singles(report, "setup"),
        **_singles(report, "cloth"),
        "validation_id": report["validation_id"],
        "link": report["links"].get("self") or "",
        "warp_length_m": report["warp"]["length_m"],
        "warp_mass_kg": _mass_kg(report, "warp"),
        "weft_mass_kg": _mass_kg(report, "weft"),
        "beams_needed": report["warp"]["beams_needed"],
        "warps": _listed(report["warp"].get("beams"), dump),
        "message": " ".join([each["message"] for each in findings]),
        **_singles(report, "rates.efficiency_pct_band", dotted=True),
        **_singles(report, "rates.hours_for_order_band", dotted=True),
        **{name: found for name in _OF_STOPS if (found := _at(report, name)) is not None},
        "requirements": _listed(report.get("requirements"), dump),
        "remedies": " ".join(
            f"{each['message']} Clears {' '.join(dict.fromkeys(each['clears']))}."
            for each, _ in remedies
        ),
        "remedies.changes": _listed(writes, dump),
        **{name: report[name] for name in ("verdict_note",) if name in report},
        **_singles(report, "order", dotted=True),
        **_singles(report, "order.cuts", dotted=True),
        **_singles(report, "energy", dotted=True),
    }
    if costs is not None:
        row |= {f"costs.{name}": costs.get(name) for name in _SUMS}
        row["costs.drivers"] = _listed(costs["drivers"], dump)
        row["costs.not_priced"] = "; ".join([each["driver"] for each in costs["not_priced"]])
    if decisive is not None:
        row["verdict_holds"] = report.get("verdict_holds")
        corner = report.get("turning_corner")
        note = report.get("verdict_holds_note")
        said = [each["message"] for each in (*decisive, *([corner] if corner else []))]
        row["decisive_assumptions"] = " ".join([*([note] if note else []), *said])
    return row


def _at(report: Part, path: str) -> Any:
    """Return what is at a place of a report, such as ``order.cuts``; ``None`` if nothing is."""
    found: Any = report
    for name in path.split("."):
        found = (found or {}).get(name)
    return found


def _singles(report: Part, path: str, *, dotted: bool = False) -> dict[str, object]:
    """Return the single numbers and texts of a part of a report, named with its path or without."""
    prefix = f"{path}." if dotted else ""
    return {
        f"{prefix}{name}": value
        for name, value in (_at(report, path) or {}).items()
        if isinstance(value, int | float | str) and not isinstance(value, bool)
    }


def _smallest(findings: list[Part], dump: Dump) -> list[tuple[Part, list[Part]]]:
    """Return the smallest remedy of each finding and what it writes; each remedy once."""
    found: dict[str, tuple[Part, list[Part]]] = {}
    for remedy in (each["remedies"][0] for each in findings if each["remedies"]):
        changes: list[Part] = [
            {name: each.get(name) for name in ("pointer", "from", "to")}
            for each in remedy.get("changes") or [remedy]
        ]
        found[dump(changes)] = (remedy, changes)
    return list(found.values())


def _mass_kg(report: Part, system: str) -> float:
    yarns = (each for each in report["yarn"] if each["yarn"].startswith(f"{system} "))
    return float(f"{sum(each['mass_kg'] for each in yarns):.6g}")


def _listed(parts: object, dump: Dump) -> str:
    return dump(parts) if parts else ""
