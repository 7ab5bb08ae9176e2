"""What all answers have in common: they print as a page and show as a table in a notebook."""

from __future__ import annotations

import html
from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from weavability_client._field_names import in_sentence
from weavability_client._printable import printable
from weavability_client._record import Record, Scalar, Several, record
from weavability_client.errors import UsageError
from weavability_client.models.findings import Finding, Remedy, Severity
from weavability_client.notebooks import LEFT as _LEFT
from weavability_client.notebooks import coloured, frame_of, html_table
from weavability_client.tables import text_table, wrapped

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """An answer laid out for a reader.

    Attributes:
        headline: The answer in a line.
        facts: Name and value of what matters most.
        rows: Rows of the table, each with its cells by the heads of their columns.
        least: Heads of columns that a narrow terminal may lack, the first one first.
        picture: A drawing in characters.
        remarks: Sentences below.
    """

    headline: str
    facts: Sequence[tuple[str, str]] = ()
    rows: Sequence[Mapping[str, object]] = ()
    least: Sequence[str] = ()
    picture: str = ""
    remarks: Sequence[str] = ()

    def text(self, width: int | None = None, table_width: int | None = None) -> str:
        """Return the page as plain text.

        Args:
            width: Characters in a line of a sentence; without it a sentence is one line.
            table_width: Characters in a line of the table.
        """
        sentences = [self.headline, *(f"  {name}: {value}" for name, value in self.facts)]
        lines = [line for each in sentences for line in wrapped(each, width)]
        if self.rows:
            room = None if table_width is None else table_width - 2
            table = text_table(*self._table(), width=room, least=self.least)
            lines += [f"  {line}" for line in table.splitlines()]
        lines += [f"    {printable(line)}" for line in self.picture.splitlines()]
        lines += [line for each in self.remarks for line in wrapped(f"  {each}", width)]
        return "\n".join(lines)

    def html(self) -> str:
        """Return the page as HTML in which nothing of the caller is markup.

        A notebook has styles of its own, so that what matters is said at each element: words at the
        left, verdicts and severities in colour.
        """
        facts = "".join(
            f"<tr><th scope='row'{_LEFT}>{html.escape(name)}</th>"
            f"<td{_LEFT}>{coloured(value)}</td></tr>"
            for name, value in self.facts
        )
        said = (each.replace(_LISTING, _LISTING_IN_A_NOTEBOOK) for each in self.remarks)
        remarks = "".join(f"<li>{coloured(each)}</li>" for each in said)
        picture = f"<pre>{html.escape(self.picture)}</pre>" if self.picture else ""
        return (
            f"<p{_LEFT}>{coloured(self.headline)}</p><table>{facts}</table>"
            f"{html_table(*self._table())}{picture}<ul>{remarks}</ul>"
        )

    def _table(self) -> tuple[list[str], list[list[object]]]:
        """Return the heads of the columns and the rows below them."""
        return list(self.rows[0]) if self.rows else [], [list(row.values()) for row in self.rows]


_LISTING = "--assumptions or .assumptions lists them"
_LISTING_IN_A_NOTEBOOK = ".assumptions lists them"  # which has no options


@record
class Answer(Record, ABC):
    """Base of the answers: ``print(answer)`` gives a page, a notebook shows a table."""

    @property
    def ok(self) -> bool:
        """Whether the cloth can be woven; yes of an answer that does not judge one."""
        return True

    @abstractmethod
    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return flat rows for a data frame or a spreadsheet."""

    def to_frame(self) -> pd.DataFrame:
        """Return the rows as a data frame.

        Raises:
            UsageError: pandas is not installed.
        """
        return frame_of(self.to_rows())

    @abstractmethod
    def _page(self) -> Page:
        """Lay the answer out for a reader, but for what is below every answer."""

    def _below(self) -> Iterator[str]:
        """Yield how many values are assumed and how they are listed, and the caution."""
        assumptions = getattr(self, "assumptions", None)
        if assumptions is not None:
            yield f"assumed: {len(assumptions)} values; {_LISTING}"
        if caution := getattr(self, "caution", None):
            yield caution

    def _whole_page(self) -> Page:
        page = self._page()
        return replace(
            page, remarks=[in_sentence(each) for each in (*page.remarks, *self._below())]
        )

    def to_page(self, width: int | None = None, table_width: int | None = None) -> str:
        """Return a page that a weaving manager can read.

        Args:
            width: Characters in a line of a sentence; without it a sentence is one line.
            table_width: Characters in a line of a table; without it a row is one line.
        """
        return self._whole_page().text(width, table_width)

    def __str__(self) -> str:
        """Return the page with each sentence and each row in a line."""
        return self.to_page()

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self._page().headline}>"

    def _repr_html_(self) -> str:
        return self._whole_page().html()


class WithFindings:
    """What answers with findings have in common."""

    __slots__ = ()

    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Findings because of which the cloth cannot or must not run."""
        return self._of(Severity.ERROR)

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """Findings with which the cloth runs, but not without trouble."""
        return self._of(Severity.WARNING)

    @property
    def notes(self) -> tuple[Finding, ...]:
        """Findings worth knowing."""
        return self._of(Severity.NOTE)

    def finding(self, code: str) -> Finding | None:
        """Return the first finding with ``code``, such as ``shedding.shafts``, or ``None``."""
        return next((each for each in self.findings if each.code == code), None)

    def _of(self, severity: Severity) -> tuple[Finding, ...]:
        return Several(each for each in self.findings if each.severity is severity)


class WithRequest:
    """What answers with remedies have in common: they know the request that they answer."""

    __slots__ = ()

    _request: Mapping[str, object]

    def for_request(self, request: Mapping[str, object]) -> Self:
        """Keep the request that this answers, for :meth:`fixed`; it is no part of it."""
        object.__setattr__(self, "_request", request)
        return self

    def fixed(self, remedy: Remedy, request: Mapping[str, object] | None = None) -> dict[str, Any]:
        """Return the request with a remedy made: ``validate(**fixed)`` proves it.

        Args:
            remedy: One of the remedies of this answer, or for a report of ``Client.remedies``.
            request: ``{construction, loom | loom_id}`` in the API's names, if the answer does not
                come from ``Client.validate`` or ``Client.remedies``, which keep it.

        Raises:
            UsageError: It is no remedy, or one of another answer; or the request is not known, and
                none is given.
        """
        if not isinstance(remedy, Remedy):
            raise UsageError(
                "fixed() takes a remedy of this answer, such as a member of finding.remedies; "
                f"{_as_given(remedy)} was given"
            )
        stated = request if request is not None else getattr(self, "_request", None)
        if stated is None:
            raise UsageError("this answer does not know its request: pass it to fixed()")
        return remedy.applied(self._for_remedy(stated, remedy))

    @abstractmethod
    def _for_remedy(self, request: Mapping[str, object], remedy: Remedy) -> Mapping[str, object]:
        """Return the request on the loom that a remedy is for.

        Raises:
            UsageError: The remedy is of another answer.
        """


def of_another_answer(remedy: Remedy, why: str) -> UsageError:
    """Return the error for a remedy that is not of the answer to which it is given."""
    return UsageError(f"this remedy is of another answer: {remedy.message!r} {why}")


def _as_given(value: object) -> str:
    if value is None:
        return "None, as where no remedy was found,"
    return f"a value of type {type(value).__name__}"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing in SVG; a notebook shows it.

    Attributes:
        svg: The SVG document.
    """

    svg: str

    def save(self, path: str | Path) -> Path:
        """Write the drawing to a file and return its path.

        Raises:
            OSError: The file cannot be written.
        """
        target = Path(path)
        target.write_text(self.svg, encoding="utf-8")
        return target

    def __str__(self) -> str:
        """Return the SVG document."""
        return self.svg

    def __repr__(self) -> str:
        return f"Drawing({len(self.svg)} characters of SVG)"

    def _repr_svg_(self) -> str:
        return self.svg
