"""Writing the outcomes of orders as comma-separated values (RFC 4180)."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Callable, Iterable
from dataclasses import dataclass, is_dataclass
from io import StringIO
from typing import Any, Final, Generic, TypeVar, get_args, get_type_hints

from weavability.answers.field_words import words_of
from weavability.service.batches.csv_orders import Sheet
from weavability.service.batches.items import Outcome
from weavability.service.http.problems import FieldError, Problem

A = TypeVar("A")
R = TypeVar("R")

# Spreadsheets take what begins so for a formula, and run it.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
_LONGEST_MESSAGE: Final = 2_000

MESSAGE: Final = "message"
"""Heading of the column that says what was wrong with a row."""


@dataclass(frozen=True, kw_only=True)
class AnswerColumn(Generic[R]):
    """A column of the answer.

    Attributes:
        name: Its heading.
        words: What it holds.
        value: Takes it from what a row says.
    """

    name: str
    words: str
    value: Callable[[R], object]


def field_column(
    name: str, owner: type, path: str, row_part: Callable[[R], object], words: str = ""
) -> AnswerColumn[R]:
    """Return the column of a field of an answer.

    Args:
        name: The heading.
        owner: The class of the answer.
        path: The field, dotted; the column is empty if a part of it is absent.
        row_part: Takes the answer from what a row says.
        words: What it holds, if the words of the field need those around it.
    """

    def value(row: R) -> object:
        found: Any = row_part(row)
        for part in path.split("."):
            found = None if found is None else getattr(found, part)
        return found

    return AnswerColumn(name=name, words=words or sheet_words(owner, path), value=value)


def sheet_words(owner: type, path: str) -> str:
    """Return the words of a field, as they are said of a cell.

    Raises:
        KeyError: The answer has no such field.
    """
    first, _, rest = path.partition(".")
    if not rest:
        return words_of(owner)[first].words.replace("null ", "empty ")
    hint = get_type_hints(owner)[first]
    kinds = (hint, *get_args(hint))
    (inner,) = (kind for kind in kinds if isinstance(kind, type) and is_dataclass(kind))
    return sheet_words(inner, rest)


@dataclass(frozen=True, kw_only=True)
class AnswerSheet(Generic[A, R]):
    """How answers are written as rows, after ``row``, ``reference`` and ``status``.

    Attributes:
        file_name: Name under which a browser keeps it.
        words: What a row is, in a sentence for the OpenAPI document.
        columns: Its columns; one has the heading ``MESSAGE``.
        reference: Takes the caller's name of the order from its answer.
        rows: Returns what each row of an answer says.
    """

    file_name: str
    words: str
    columns: tuple[AnswerColumn[R], ...]
    reference: Callable[[A], str | None]
    rows: Callable[[A], Iterable[R]]


class CsvWriter(Generic[A, R]):
    """Writes outcomes as rows, with the separators of the sheet that they answer."""

    def __init__(self, form: AnswerSheet[A, R], sheet: Sheet | None) -> None:
        self._form = form
        self._sheet = sheet
        self._comma = sheet is not None and sheet.decimal_comma
        self._written = StringIO()
        self._writer = csv.writer(
            self._written, delimiter=sheet.delimiter if sheet else ",", lineterminator="\r\n"
        )

    def header(self) -> bytes:
        """Return the header row."""
        mark = codecs.BOM_UTF8 if self._sheet and self._sheet.marked else b""
        names = [each.name for each in self._form.columns]
        return mark + self._row(["row", "reference", "status", *names])

    def rows(self, outcome: Outcome[A]) -> bytes:
        """Return the rows of an outcome; a problem is one row."""
        answer, line, columns = outcome.answer, outcome.entry.line, self._form.columns
        if isinstance(answer, Problem):
            said = self._complaint(answer)[:_LONGEST_MESSAGE]
            values = [said if each.name == MESSAGE else None for each in columns]
            return self._row([line, outcome.reference, outcome.status, *values])
        start = [line, self._form.reference(answer), outcome.status]
        return b"".join(
            self._row([*start, *(each.value(said) for each in columns)])
            for said in self._form.rows(answer)
        )

    def _complaint(self, problem: Problem) -> str:
        if not problem.errors:
            return problem.detail
        return " ".join(self._sentence(error) for error in problem.errors)

    def _sentence(self, error: FieldError) -> str:
        heading = self._sheet.column_of(error.pointer) if self._sheet else error.pointer
        return f"{heading}: {error.message}" if heading else error.message

    def _row(self, values: Iterable[object]) -> bytes:
        self._written.seek(0)
        self._written.truncate()
        self._writer.writerow([self._cell(value) for value in values])
        return self._written.getvalue().encode()

    def _cell(self, value: object) -> object:
        if isinstance(value, str):
            return f"'{value}" if value.startswith(_FORMULA) else value
        if isinstance(value, bool):
            return str(value).lower()
        if isinstance(value, float):
            text = f"{value:.10g}"
            return text.replace(".", ",") if self._comma else text
        return value


def shortened(message: str) -> str:
    """Return a message as far as a cell takes it."""
    return message[:_LONGEST_MESSAGE]
