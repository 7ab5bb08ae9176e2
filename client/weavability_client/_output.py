"""What the command line prints: pages and tables for people, JSON and CSV for programs."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TextIO

from weavability_client._many import ItemResult
from weavability_client._paint import painted, wants_colour
from weavability_client._sheets import write_xlsx
from weavability_client.errors import UsageError
from weavability_client.models import Answer, Assumption, Costs
from weavability_client.models.answer import Page
from weavability_client.tables import money, text_table, words, wrapped

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
LEAST: Final = ("tightness %", "lifted by", "weft m/min", "limited by")
"""Columns that a narrow terminal lacks, the first one first."""

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""How a text begins that a spreadsheet would run."""

SAVED: Final = (".xlsx", ".csv", ".json")
"""Endings of the files into which answers are saved."""

WIDTH: Final = 100
"""Characters in a line of a sentence that does not go to a terminal."""

NARROWEST: Final = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Characters in a line.

    Attributes:
        sentence: In a line of a sentence.
        table: In a line of a table; ``None`` if a table is for programs rather than for a terminal.
    """

    sentence: int
    table: int | None

    @classmethod
    def of(cls, out: TextIO) -> Room:
        """Return the room that a stream has."""
        if not out.isatty():
            return cls(sentence=WIDTH, table=None)
        columns = max(shutil.get_terminal_size((WIDTH, 24)).columns, NARROWEST)
        return cls(sentence=columns, table=columns)


def say(text: str) -> None:
    """Write a sentence to standard error, if there is one that takes it."""
    err = sys.stderr
    if err is None:
        return
    with suppress(OSError):
        width = Room.of(err).sentence if err.isatty() else None
        err.write("\n".join(wrapped(f"weavability: {text}", width)) + "\n")
        err.flush()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """An order of a batch with what became of it.

    Attributes:
        result: Report or error.
        reference: The reference of the order as it was sent or read, if it has one.
    """

    result: ItemResult
    reference: str | None


def write_results(
    results: Sequence[Judged], form: str, out: TextIO, *, assumptions: bool = False
) -> None:
    """Write what became of a batch, as ``table``, ``page``, ``json`` or ``csv``."""
    reports = [each.result.report for each in results if each.result.report is not None]
    room = Room.of(out)
    match form:
        case "json":
            documents = [_document(each) for each in results]
            _write_json(documents[0] if len(documents) == 1 else documents, out)
        case "csv":
            _write_csv(result_rows(results), out)
        case "page":
            pages = [_page(report, room, assumptions=assumptions) for report in reports]
            _write_text("\n\n".join(pages), out)
        case _:
            costs = {report.costs.currency for report in reports if report.costs is not None}
            header = (*HEADER[:-1], *_cost_header(costs), HEADER[-1])
            rows = [_row(each, priced=costs) for each in results]
            table = text_table(header, rows, width=room.table, least=LEAST)
            assumed = [_assumed(report, room) for report in reports if assumptions]
            cautions = dict.fromkeys(report.caution for report in reports)
            shown = ["\n".join(wrapped(each, room.sentence)) for each in cautions]
            decided = [
                "\n".join(wrapped(f"{report.reference or 'order'}: {each}", room.sentence))
                for report in reports
                for each in report.decides()
            ]
            parts = (table, "\n".join(decided), *assumed, *shown)
            _write_text("\n\n".join(filter(None, parts)), out)


def write_answer(answer: Answer, form: str, out: TextIO, *, assumptions: bool = False) -> None:
    """Write one answer, as ``page``, ``json`` or ``csv``."""
    match form:
        case "json":
            _write_json(answer.to_json(), out)
        case "csv":
            _write_csv(answer_rows(answer), out)
        case _:
            _write_text(_page(answer, Room.of(out), assumptions=assumptions), out)


def save_results(results: Sequence[Judged], path: Path) -> None:
    """Save what became of a batch, as the ending of the file says: XLSX, CSV or JSON.

    Raises:
        UsageError: The file cannot be written.
    """
    if path.suffix.lower() == ".xlsx":
        write_xlsx(path, result_rows(results))
    else:
        text = io.StringIO()
        write_results(results, path.suffix.lower()[1:], text)
        save_bytes(path, text.getvalue().encode())


def save_answer(answer: Answer, path: Path) -> None:
    """Save one answer, as :func:`save_results` does."""
    if path.suffix.lower() == ".xlsx":
        write_xlsx(path, answer_rows(answer))
    else:
        text = io.StringIO()
        write_answer(answer, path.suffix.lower()[1:], text)
        save_bytes(path, text.getvalue().encode())


def save_bytes(path: Path, content: bytes) -> None:
    """Write a file.

    Raises:
        UsageError: It cannot be written.
    """
    try:
        path.write_bytes(content)
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror}") from error


def answer_rows(answer: Answer) -> list[dict[str, object]]:
    """Return the rows of an answer, each with the caution if there is one."""
    caution = answer.to_json().get("caution")
    return [{**row, "caution": caution} for row in answer.to_rows()]


def result_rows(results: Sequence[Judged]) -> list[dict[str, object]]:
    """Return a row an order, also of one that was refused."""
    return list(map(_summary, results))


def _page(answer: Answer, room: Room, *, assumptions: bool) -> str:
    page = answer.to_page(room.sentence, room.table)
    return f"{page}\n{_assumed(answer, room)}" if assumptions else page


def _assumed(answer: Answer, room: Room) -> str:
    """Return the assumptions of an answer as tables, one for each grade."""
    by_grade: dict[str, list[Assumption]] = {}
    for each in getattr(answer, "assumptions", ()):
        by_grade.setdefault(words(each.grade) or "no grade", []).append(each)
    named = getattr(answer, "reference", None) or getattr(answer, "loom_id", None)
    of = f" of {named}" if named else ""
    pages = [
        Page(
            headline=f"assumed{of}, {grade}: {len(listed)}",
            header=("field", "value", "unit", "low", "high", "reason"),
            rows=[
                (
                    each.pointer,
                    _short(each.value),
                    each.unit,
                    None if each.band is None else _short(each.band.low),
                    None if each.band is None else _short(each.band.high),
                    each.reason,
                )
                for each in listed
            ],
        )
        for grade, listed in sorted(by_grade.items())
    ]
    if not pages:
        return f"assumed{of}: nothing"
    return "\n".join(each.text(room.sentence, room.table) for each in pages)


def _short(value: object) -> str:
    """Return a value in four figures."""
    if isinstance(value, float):
        return f"{value:.4g}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


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


def _document(judged: Judged) -> dict[str, object]:
    """Return the report as JSON; for an order that was refused, what is wrong with it."""
    if judged.result.report is not None:
        return judged.result.report.to_json()
    named = {} if judged.reference is None else {"reference": judged.reference}
    return {**named, "error": str(judged.result.error)}


def _summary(judged: Judged) -> dict[str, object]:
    result = judged.result
    head: dict[str, object] = {"order": result.index + 1}
    if result.report is None:
        refused = {"reference": judged.reference, "verdict": "refused", "error": str(result.error)}
        return head | refused
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


def _row(judged: Judged, *, priced: Collection[str | None]) -> tuple[object, ...]:
    report = judged.result.report
    number = str(judged.result.index + 1)
    if report is None:
        blank = (None,) * (len(HEADER) - 3 + bool(priced))
        return (judged.reference or number, None, "refused", *blank)
    return (
        report.reference or number,
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
