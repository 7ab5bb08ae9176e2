"""What all answers have in common: they print as a page and show as a table in a notebook."""

from __future__ import annotations

import html
from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from weavability_client._record import Record, Scalar, record
from weavability_client.tables import cell, text_table


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """An answer laid out for a reader.

    Attributes:
        headline: The answer in a line.
        facts: Name and value of what matters most.
        header: Heads of the columns of the table; none without a table.
        rows: Rows of the table.
        picture: A drawing in characters.
        remarks: Sentences below.
    """

    headline: str
    facts: Sequence[tuple[str, str]] = ()
    header: Sequence[str] = ()
    rows: Sequence[Sequence[object]] = ()
    picture: str = ""
    remarks: Sequence[str] = ()

    def text(self) -> str:
        """Return the page as plain text."""
        lines = [self.headline, *(f"  {name}: {value}" for name, value in self.facts)]
        if self.rows:
            lines += [f"  {line}" for line in text_table(self.header, self.rows).splitlines()]
        lines += [f"    {line}" for line in self.picture.splitlines()]
        return "\n".join([*lines, *(f"  {each}" for each in self.remarks)])

    def html(self) -> str:
        """Return the page as HTML in which nothing of the caller is markup."""
        facts = "".join(
            f"<tr><th scope='row'>{html.escape(name)}</th><td>{html.escape(value)}</td></tr>"
            for name, value in self.facts
        )
        remarks = "".join(f"<li>{html.escape(each)}</li>" for each in self.remarks)
        return (
            f"<table><caption>{html.escape(self.headline)}</caption>{facts}</table>"
            f"{self._table_html()}{self._picture_html()}<ul>{remarks}</ul>"
        )

    def _picture_html(self) -> str:
        return f"<pre>{html.escape(self.picture)}</pre>" if self.picture else ""

    def _table_html(self) -> str:
        if not self.rows:
            return ""
        head = _cells("th scope='col'", "th", self.header)
        body = "".join(f"<tr>{_cells('td', 'td', row)}</tr>" for row in self.rows)
        return f"<table><tr>{head}</tr>{body}</table>"


def assumed_line(assumptions: Sequence[object]) -> str:
    """Return a remark that counts the assumptions and says how to list them."""
    return f"assumed: {len(assumptions)} values; --format json or .assumptions lists them"


def _cells(opening: str, closing: str, values: Iterable[object]) -> str:
    return "".join(f"<{opening}>{html.escape(cell(each))}</{closing}>" for each in values)


@record
class Answer(Record, ABC):
    """Base of the answers: ``print(answer)`` gives a page, a notebook shows a table."""

    @abstractmethod
    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return flat rows for a data frame or a spreadsheet."""

    @abstractmethod
    def _page(self) -> Page:
        """Lay the answer out for a reader."""

    def __str__(self) -> str:
        """Return a page that a weaving manager can read."""
        return self._page().text()

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self._page().headline}>"

    def _repr_html_(self) -> str:
        return self._page().html()
