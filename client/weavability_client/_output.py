"""What the command line prints: pages and tables for people, JSON and CSV for programs."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TextIO

from weavability_client._many import ItemResult
from weavability_client._paint import painted, wants_colour
from weavability_client._printable import printable, printable_json
from weavability_client._sheets import write_xlsx
from weavability_client.errors import UsageError
from weavability_client.models import Answer, Assumption, Report
from weavability_client.models.answer import Page
from weavability_client.tables import money, text_table, words, wrapped

COLUMNS: Final[Mapping[str, Callable[[Report], object]]] = {
    "loom": lambda report: report.loom_id,
    "verdict": lambda report: words(report.verdict),
    "picks/min": lambda report: report.rates.speed_picks_per_min,
    "limited by": lambda report: words(report.rates.limited_by),
    "weft m/min": lambda report: report.rates.insertion_rate_m_per_min,
    "lifted by": lambda report: report.setup.lifting,
    "tightness %": lambda report: report.cloth.tightness_pct,
}
"""Columns of the table of reports between the order and its gravest finding."""

LEAST: Final = ("tightness %", "lifted by", "weft m/min", "limited by")
"""Columns that a narrow terminal lacks, the first one first."""

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""How a text begins that a spreadsheet would run."""

SAVED: Final = (".xlsx", ".csv", ".json")
"""Endings of the files into which answers are saved."""

WIDTH: Final = 100
"""Characters in a line of a sentence that does not go to a terminal."""

NARROWEST: Final = 40


def _room(out: TextIO) -> tuple[int, int | None]:
    """Return the characters in a line of a sentence, and in one of a table.

    The latter is ``None`` if a table is for programs rather than for a terminal.
    """
    if not out.isatty():
        return WIDTH, None
    columns = max(shutil.get_terminal_size((WIDTH, 24)).columns, NARROWEST)
    return columns, columns


def say(text: str) -> None:
    """Write a sentence to standard error, if there is one that takes it."""
    err = sys.stderr
    if err is None:
        return
    with suppress(OSError):
        _, width = _room(err)
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

    def to_json(self) -> dict[str, object]:
        """Return the report as JSON; for an order that was refused, what is wrong with it."""
        if self.result.report is not None:
            return self.result.report.to_json()
        named = {} if self.reference is None else {"reference": self.reference}
        return {**named, "error": str(self.result.error)}

    def to_row(self) -> dict[str, object]:
        """Return a flat row, also of an order that was refused."""
        head: dict[str, object] = {"order": self.result.index + 1}
        report = self.result.report
        if report is None:
            error = str(self.result.error)
            return head | {"reference": self.reference, "verdict": "refused", "error": error}
        return head | report.summary() | {"caution": report.caution}


Shown = Answer | Sequence[Judged]
"""One answer, or what became of a batch."""


def write(shown: Shown, form: str, out: TextIO, *, assumptions: bool = False) -> None:
    """Write an answer, or a batch, as ``page``, ``json`` or ``csv``; a batch also as ``table``."""
    if form == "json":
        out.write(printable_json(json.dumps(_document(shown), indent=2, ensure_ascii=False)) + "\n")
    elif form == "csv":
        _write_csv(_rows(shown), out)
    elif form == "table" and not isinstance(shown, Answer):
        _write_text("\n\n".join(_table_and_remarks(shown, out, assumptions=assumptions)), out)
    else:
        pages = [_page(each, out, assumptions=assumptions) for each in _answers(shown)]
        _write_text("\n\n".join(pages), out)


def save(shown: Shown, path: Path) -> None:
    """Save an answer, or a batch, as the ending of the file says: XLSX, CSV or JSON.

    Raises:
        UsageError: The file cannot be written.
    """
    ending = path.suffix.lower()
    if ending == ".xlsx":
        write_xlsx(path, _rows(shown))
    else:
        text = io.StringIO()
        write(shown, ending[1:], text)
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


def _rows(shown: Shown) -> list[dict[str, object]]:
    """Return flat rows, each with the caution if there is one."""
    if not isinstance(shown, Answer):
        return [each.to_row() for each in shown]
    caution = shown.to_json().get("caution")
    return [{**row, "caution": caution} for row in shown.to_rows()]


def _document(shown: Shown) -> object:
    if isinstance(shown, Answer):
        return shown.to_json()
    documents = [each.to_json() for each in shown]
    return documents[0] if len(documents) == 1 else documents


def _answers(shown: Shown) -> Sequence[Answer]:
    return [shown] if isinstance(shown, Answer) else _reports(shown)


def _reports(batch: Sequence[Judged]) -> list[Report]:
    return [each.result.report for each in batch if each.result.report is not None]


def _page(answer: Answer, out: TextIO, *, assumptions: bool) -> str:
    page = answer.to_page(*_room(out))
    return f"{page}\n{_assumed(answer, out)}" if assumptions else page


def _assumed(answer: Answer, out: TextIO) -> str:
    """Return the assumptions of an answer as tables, one for each grade."""
    by_grade: dict[str, list[Assumption]] = {}
    for each in getattr(answer, "assumptions", ()):
        by_grade.setdefault(words(each.grade) or "no grade", []).append(each)
    named = getattr(answer, "reference", None) or getattr(answer, "loom_id", None)
    of = f" of {named}" if named else ""
    pages = [
        Page(
            headline=f"assumed{of}, {grade}: {len(listed)}",
            rows=[
                {
                    "field": each.pointer,
                    "value": _short(each.value),
                    "unit": each.unit,
                    "low": each.band and _short(each.band.low),
                    "high": each.band and _short(each.band.high),
                    "reason": each.reason,
                }
                for each in listed
            ],
        )
        for grade, listed in sorted(by_grade.items())
    ]
    return "\n".join(each.text(*_room(out)) for each in pages) or f"assumed{of}: nothing"


def _short(value: object) -> str:
    """Return a value in four figures."""
    if isinstance(value, float):
        return f"{value:.4g}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _write_text(text: str, out: TextIO) -> None:
    if text:
        out.write((painted(text) if wants_colour(out) else text) + "\n")


def _write_csv(rows: Iterable[Mapping[str, Any]], out: TextIO) -> None:
    """Write rows that may differ in their columns; every column that occurs has its place."""
    listed = list(rows)
    columns = dict.fromkeys(name for row in listed for name in row)
    writer = csv.DictWriter(out, list(columns), lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _harmless(value) for name, value in row.items()} for row in listed)


def _harmless(value: object) -> object:
    """Return a text that neither a spreadsheet nor a terminal obeys; truth in small letters."""
    if isinstance(value, bool):
        return str(value).lower()
    if not isinstance(value, str):
        return value
    return printable(f"'{value}" if value.startswith(FORMULA) else value)


def _table_and_remarks(batch: Sequence[Judged], out: TextIO, *, assumptions: bool) -> Iterator[str]:
    """Yield the table, what the verdicts rest on, the assumptions if requested, each caution."""
    width, table_width = _room(out)
    reports = _reports(batch)
    yield _table(batch, table_width)
    decided = [f"{each.reference or 'order'}: {one}" for each in reports for one in each.decides()]
    if decided:
        yield "\n".join(line for each in decided for line in wrapped(each, width))
    if assumptions:
        yield from (_assumed(each, out) for each in reports)
    for caution in dict.fromkeys(each.caution for each in reports):
        yield "\n".join(wrapped(caution, width))


def _table(batch: Sequence[Judged], width: int | None) -> str:
    """Return a line an order; with costs if any is priced, of several currencies each its own."""
    columns = dict(COLUMNS)
    currencies = {each.costs.currency for each in _reports(batch) if each.costs}
    if currencies:
        several = len(currencies) > 1
        head = "cost" if several else next(iter(currencies)) or "cost"
        columns[f"{head}/m"] = lambda report: _cost(report, named=several)
    header = ("order", *columns, "gravest finding")
    return text_table(header, [_line(each, columns) for each in batch], width=width, least=LEAST)


def _line(judged: Judged, columns: Mapping[str, Callable[[Report], object]]) -> list[object]:
    report = judged.result.report
    number = str(judged.result.index + 1)
    if report is None:
        return [judged.reference or number, None, "refused", *[None] * (len(columns) - 1)]
    gravest = report.gravest and report.gravest.code
    return [report.reference or number, *(of(report) for of in columns.values()), gravest]


def _cost(report: Report, *, named: bool) -> str | None:
    costs = report.costs
    if costs is None or costs.cost_per_m is None:
        return None
    label = f" {costs.currency}" if named and costs.currency else ""
    return money(costs.cost_per_m) + label
