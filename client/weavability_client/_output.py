"""What the command line prints: pages and tables for people, JSON and CSV for programs."""

from __future__ import annotations

import csv
import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, Final, TextIO

from weavability_client._many import ItemResult
from weavability_client._paint import painted, wants_colour
from weavability_client.models import Answer, Costs
from weavability_client.tables import money, text_table, words

HEADER: Final = (
    "order",
    "loom",
    "verdict",
    "picks/min",
    "limited by",
    "weft m/min",
    "lifted by",
    "tightness %",
    "gravest finding",
)
FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""How a text begins that a spreadsheet would run."""


def write_results(results: Sequence[ItemResult], form: str, out: TextIO) -> None:
    """Write what became of a batch, as ``table``, ``page``, ``json`` or ``csv``."""
    reports = [result.report for result in results if result.report is not None]
    match form:
        case "json":
            documents = [_document(result) for result in results]
            _write_json(documents[0] if len(documents) == 1 else documents, out)
        case "csv":
            _write_csv(map(_summary, results), out)
        case "page":
            _write_text("\n\n".join(map(str, reports)), out)
        case _:
            costs = {report.costs.currency for report in reports if report.costs is not None}
            header = (*HEADER[:-1], *_cost_header(costs), HEADER[-1])
            rows = [_row(result, priced=costs) for result in results]
            table = text_table(header, rows)
            cautions = dict.fromkeys(report.caution for report in reports)
            _write_text("\n\n".join((table, *cautions)), out)


def write_answer(answer: Answer, form: str, out: TextIO) -> None:
    """Write one answer, as ``page``, ``json`` or ``csv``."""
    match form:
        case "json":
            _write_json(answer.to_json(), out)
        case "csv":
            caution = answer.to_json().get("caution")
            _write_csv(({**row, "caution": caution} for row in answer.to_rows()), out)
        case _:
            _write_text(str(answer), out)


def _write_text(text: str, out: TextIO) -> None:
    if text:
        out.write((painted(text) if wants_colour(out) else text) + "\n")


def _write_json(document: object, out: TextIO) -> None:
    out.write(json.dumps(document, indent=2, ensure_ascii=False) + "\n")


def _write_csv(rows: Iterable[Mapping[str, Any]], out: TextIO) -> None:
    """Write rows that may differ in their columns; every column that occurs has its place."""
    listed = list(rows)
    columns = dict.fromkeys(name for row in listed for name in row)
    writer = csv.DictWriter(out, list(columns), lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _harmless(value) for name, value in row.items()} for row in listed)


def _harmless(value: object) -> object:
    """Return a text such that no spreadsheet takes it for a formula; truth in small letters."""
    if isinstance(value, bool):
        return str(value).lower()
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value


def _document(result: ItemResult) -> dict[str, object]:
    """Return the report as JSON; for an order that was refused, what is wrong with it."""
    if result.report is not None:
        return result.report.to_json()
    return {"error": str(result.error)}


def _summary(result: ItemResult) -> dict[str, object]:
    head: dict[str, object] = {"order": result.index + 1}
    if result.report is None:
        return head | {"verdict": "refused", "error": str(result.error)}
    return head | result.report.summary() | {"caution": result.report.caution}


def _cost_header(currencies: Collection[str | None]) -> tuple[str, ...]:
    """Return the head of the costs, if any; of several currencies each row names its own."""
    if not currencies:
        return ()
    (currency,) = currencies if len(currencies) == 1 else (None,)
    return (f"{currency or 'cost'}/m",)


def _cost(costs: Costs | None, currencies: Collection[str | None]) -> str | None:
    if costs is None or costs.cost_per_m is None:
        return None
    label = f" {costs.currency}" if len(currencies) > 1 and costs.currency else ""
    return money(costs.cost_per_m) + label


def _row(result: ItemResult, *, priced: Collection[str | None]) -> tuple[object, ...]:
    report = result.report
    if report is None:
        blank = (None,) * (len(HEADER) - 3 + bool(priced))
        return (str(result.index + 1), None, "refused", *blank)
    return (
        report.reference or str(result.index + 1),
        report.loom_id,
        words(report.verdict),
        report.rates.speed_picks_per_min,
        words(report.rates.limited_by),
        report.rates.insertion_rate_m_per_min,
        report.setup.lifting,
        report.cloth.tightness_pct,
        *([_cost(report.costs, priced)] if priced else []),
        report.gravest.code if report.gravest else None,
    )
