"""Orders and their outcomes as comma-separated values (RFC 4180), for people with spreadsheets.

One row an order. The columns follow the fields of a construction, so that a new field has its
column at once: ``ends_per_cm``, ``warp_order``, ``reed_dents_per_10cm``. Yarns have a column for
each field and key: ``warp_yarn_A`` is the designation of warp yarn A, ``warp_fibre_A`` its fibre.
Looms are those of the park, named by ``loom_id``.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from io import StringIO
from itertools import count, islice
from typing import Any, Final

from weavability.answers.report import Report
from weavability.service.batches.csv_grammar import (
    YARN_KEY,
    Kind,
    has_decimal_comma,
    put,
    read_cell,
    separator_of,
)
from weavability.service.batches.items import Entry, Outcome, refuse, too_long
from weavability.service.http import problems
from weavability.service.http.problems import FieldError, Problem, ProblemError
from weavability.service.requests.suggestions import did_you_mean
from weavability.service.schemas.base import Body, Part, described
from weavability.service.schemas.construction_schema import (
    ConstructionSchema,
    Threading,
    YarnMap,
    YarnSchema,
)
from weavability.service.schemas.fields import (
    Described,
    Flag,
    Items,
    Number,
    WholeNumber,
)
from weavability.service.schemas.loom_schema import loom_id_field
from weavability.service.schemas.weave_schema import WeaveField
from weavability.textiles.errors import Fault, InputError

MOST_COLUMNS: Final = 1_000
MOST_LINES_A_ROW: Final = 100
"""Line breaks within quotation marks that one row may have, and one."""

_PREFIX_OF: Final[Mapping[str, str]] = {"finishing": "", "allowances": "", "draft": ""}
_RENAMED: Final[Mapping[str, str]] = {
    "warp_ends_per_cm": "ends_per_cm",
    "warp_ends_per_in": "ends_per_in",
    "weft_picks_per_cm": "picks_per_cm",
    "weft_picks_per_in": "picks_per_in",
    "threading": "draft",
}
# Spreadsheets take what begins so for a formula, and run it.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
_LONGEST_MESSAGE: Final = 2_000

Reader = Callable[[str], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of orders.

    Attributes:
        name: Its heading.
        path: Where its value stands in the JSON request.
        field: The field of the request that it fills.
    """

    name: str
    path: tuple[str, ...]
    field: Described[Any]

    @property
    def pointer(self) -> str:
        """The JSON Pointer of its value in the request."""
        return "/" + "/".join(self.path)

    @property
    def kind(self) -> Kind:
        """What its cells hold."""
        return next(kind for cls, kind in _KINDS if isinstance(self.field, cls))

    @property
    def words(self) -> str:
        """What it holds, with the unit and an example."""
        unit = f" [{self.field.unit}]" if self.field.unit else ""
        return f"{self.field.description}{unit}"


_KINDS: Final[Sequence[tuple[type, Kind]]] = (
    (Number, Kind.NUMBER),
    (WholeNumber, Kind.NUMBER),
    (Flag, Kind.FLAG),
    (WeaveField, Kind.WEAVE),
    (Items, Kind.LIST),
    (Threading, Kind.THREADING),
    (object, Kind.TEXT),
)
"""Kinds of cells by the field that they fill; the first that fits."""


@cache
def columns() -> Mapping[str, Column]:
    """Return every column by its name, but for those of the yarns."""
    loom = loom_id_field("The loom, by its name in the park")
    found = [Column(name="loom_id", path=("loom_id",), field=loom)]
    for name, field in ConstructionSchema().fields.items():
        found.extend(_columns_of(name, described(field)))
    return {column.name: column for column in found}


def _columns_of(name: str, field: Described[Any]) -> Iterator[Column]:
    if not isinstance(field, Part):
        yield Column(name=name, path=("construction", name), field=field)
        return
    prefix = _PREFIX_OF.get(name, f"{name}_")
    for inner, each in field.schema.fields.items():
        if not isinstance(each, YarnMap):
            heading = _RENAMED.get(prefix + inner, prefix + inner)
            path = ("construction", name, inner)
            yield Column(name=heading, path=path, field=described(each))


@cache
def yarn_fields() -> Mapping[str, Described[Any]]:
    """Return the fields of a yarn by the word that its columns use; ``yarn`` is the designation."""
    schema: Body[Any] = YarnSchema()
    found = {name: described(field) for name, field in schema.fields.items()}
    return {"yarn" if name == "designation" else name: field for name, field in found.items()}


@cache
def _yarn_heading() -> re.Pattern[str]:
    return re.compile(f"(warp|weft)_({'|'.join(yarn_fields())})_({YARN_KEY})")


def column(heading: str) -> Column | None:
    """Return the column of a heading; ``None`` where there is none.

    >>> column("warp_fibre_B").pointer
    '/construction/warp/yarns/B/fibre'
    """
    if heading in columns():
        return columns()[heading]
    yarn = _yarn_heading().fullmatch(heading)
    if yarn is None:
        return None
    system, word, key = yarn.groups()
    field = yarn_fields()[word]
    path = ("construction", system, "yarns", key, "designation" if word == "yarn" else word)
    return Column(name=heading, path=path, field=field)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """How a file of orders is laid out.

    Attributes:
        delimiter: What stands between two cells.
        columns: The columns in their order; ``None`` for one without a heading.
        marked: Whether it began with a byte order mark, as spreadsheets write and want it.
    """

    delimiter: str
    columns: tuple[Column | None, ...]
    marked: bool

    @property
    def decimal_comma(self) -> bool:
        """Whether numbers may have a comma: where the cells are divided by something else."""
        return has_decimal_comma(self.delimiter)

    def request(self, cells: Sequence[str]) -> dict[str, Any]:
        """Return the JSON request that a row stands for.

        Raises:
            ProblemError: The row has cells under no heading.
        """
        if any(cell.strip() for cell in cells[len(self.columns) :]):
            raise _bad_row(
                f"The row has {len(cells)} cells, the header {len(self.columns)}. A cell that "
                f"holds {self.delimiter!r} must stand in quotation marks."
            )
        request: dict[str, Any] = {}
        for place, cell in zip(self.columns, map(str.strip, cells), strict=False):
            if cell and place is None:
                raise _bad_row(f"The cell {cell[:40]!r} stands under no heading.")
            if cell and place is not None:
                value = read_cell(place.kind, cell, decimal_comma=self.decimal_comma)
                put(request, place.path, value)
        return request

    def column_of(self, pointer: str) -> str:
        """Return the heading of the column that a pointer means, as nearly as it can be told."""
        known = {**{each.pointer: each.name for each in self.columns if each}, **_headings()}
        while pointer and pointer not in known:
            pointer = pointer.rpartition("/")[0]
        return known.get(pointer, "")


@cache
def _headings() -> Mapping[str, str]:
    every = {each.pointer: each.name for each in columns().values()}
    for system in ("warp", "weft"):
        every[f"/construction/{system}/yarns"] = f"{system}_yarn_A"
    return every


def _bad_row(detail: str) -> ProblemError:
    return ProblemError(kind=problems.UNREADABLE_CSV, detail=detail)


class _Rows:
    """Splits lines into rows, and goes on after a row that cannot be read."""

    def __init__(self, lines: Iterator[bytes | None], *, delimiter: str, longest: int) -> None:
        self._lines = lines
        self._delimiter = delimiter
        self._longest = longest
        self._waiting: deque[bytes | None] = deque()
        self._taken: list[bytes | None] = []

    def __iter__(self) -> Iterator[tuple[int, list[str] | ProblemError]]:
        """Yield each row with its number, the header being row 1; blank rows are passed over."""
        for number in count(2):
            self._taken = []
            reader = csv.reader(self._text(), delimiter=self._delimiter, strict=True)
            try:
                cells = next(reader)
            except StopIteration:
                return
            except (csv.Error, UnicodeDecodeError, ProblemError) as error:
                # Perhaps a quotation mark too many: only its own line is lost, the rest read anew.
                self._waiting.extendleft(reversed(self._taken[1:]))
                yield number, _unreadable(error)
            else:
                if any(map(str.strip, cells)):
                    yield number, cells

    def _text(self) -> Iterator[str]:
        """Yield the lines of one row; the reader takes as many as the quotation marks ask for."""
        length = 0
        while len(self._taken) < MOST_LINES_A_ROW:
            if not self._waiting:
                self._waiting.extend(islice(self._lines, 1))
            if not self._waiting:
                return
            line = self._waiting.popleft()
            self._taken.append(line)
            length += self._longest + 1 if line is None else len(line)
            if line is None or length > self._longest:
                raise too_long(self._longest)
            yield line.decode() + "\n"
        raise csv.Error(f"no quotation mark ends a cell within {MOST_LINES_A_ROW} lines")


def _unreadable(error: Exception) -> ProblemError:
    if isinstance(error, ProblemError):
        return error
    if isinstance(error, UnicodeDecodeError):
        return _bad_row("The row is not UTF-8. Save the sheet as CSV in UTF-8.")
    return _bad_row(f"The row is not CSV: {error}.")


def read_orders(
    lines: Iterator[bytes | None], *, longest: int, marked: bool
) -> tuple[Sheet, Iterator[Entry]]:
    """Read the header of a file of orders; return its layout, and its rows as they come.

    Args:
        lines: The lines of the file.
        longest: Bytes that a row may have.
        marked: Whether the file began with a byte order mark.

    Raises:
        ProblemError: The header cannot be used.
    """
    header = next((line for line in lines if line is None or line.strip()), b"")
    sheet = _sheet(header, marked=marked)
    rows = _Rows(lines, delimiter=sheet.delimiter, longest=longest)
    return sheet, (_entry(sheet, number, row) for number, row in rows)


def _sheet(header: bytes | None, *, marked: bool) -> Sheet:
    try:
        text = (header or b"").decode()
        delimiter = separator_of(text)
        headings = [
            each.strip() for each in next(csv.reader([text], delimiter=delimiter, strict=True))
        ]
    except (UnicodeDecodeError, csv.Error, StopIteration):
        headings = []
    if not any(headings) or len(headings) > MOST_COLUMNS:
        raise ProblemError(
            kind=problems.UNREADABLE_CSV,
            detail=f"The first row must be a header in UTF-8 of 1 to {MOST_COLUMNS} columns, "
            "such as reference,loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,"
            "weft_yarn_A.",
        )
    faults = list(_header_faults(headings))
    if faults:
        raise InputError(faults)
    return Sheet(
        delimiter=delimiter, columns=tuple(column(each) for each in headings), marked=marked
    )


def _header_faults(headings: Sequence[str]) -> Iterator[Fault]:
    known = [
        *columns(),
        *(f"{each}_{word}_A" for each in ("warp", "weft") for word in yarn_fields()),
    ]
    for place, heading in enumerate(headings):
        if heading and column(heading) is None:
            message = f"There is no column of this name.{did_you_mean(heading, known)}"
            yield Fault("", message, heading, known)
        elif heading and heading in headings[:place]:
            yield Fault("", f"The column {heading} stands twice; leave one out.", heading)


def _entry(sheet: Sheet, number: int, row: list[str] | ProblemError) -> Entry:
    if isinstance(row, ProblemError):
        return Entry(line=number, read=partial(refuse, row))
    return Entry(line=number, read=partial(sheet.request, row), reference=_reference(sheet, row))


def _reference(sheet: Sheet, row: Sequence[str]) -> str | None:
    for place, cell in zip(sheet.columns, row, strict=False):
        if place is not None and place.name == "reference":
            return cell.strip() or None
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerColumn:
    """A column of the answer.

    Attributes:
        name: Its heading.
        words: What it holds.
        value: Takes it from a report.
    """

    name: str
    words: str
    value: Callable[[Report], object]


def _total_mass(system: str) -> Callable[[Report], object]:
    return lambda report: _rounded(
        sum(each.mass_kg for each in report.yarn if each.yarn.startswith(f"{system} "))
    )


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def _listed(codes: Iterable[str]) -> str:
    return " ".join(dict.fromkeys(codes))


ANSWER_COLUMNS: Final = (
    AnswerColumn(name="loom_id", words="Name of the loom", value=lambda r: r.loom_id),
    AnswerColumn(name="verdict", words="The answer in a word", value=lambda r: r.verdict.value),
    AnswerColumn(
        name="errors",
        words="Findings that mean: cannot or must not run",
        value=lambda r: r.counts.errors,
    ),
    AnswerColumn(
        name="warnings",
        words="Findings that mean: runs, but expect this",
        value=lambda r: r.counts.warnings,
    ),
    AnswerColumn(
        name="notes", words="Findings that are worth knowing", value=lambda r: r.counts.notes
    ),
    AnswerColumn(
        name="codes",
        words="Codes of the findings",
        value=lambda r: _listed(each.code for each in r.findings),
    ),
    AnswerColumn(
        name="speed_picks_per_min",
        words="Speed at which the cloth runs",
        value=lambda r: r.rates.speed_picks_per_min,
    ),
    AnswerColumn(
        name="limited_by", words="The limit that sets the speed", value=lambda r: r.rates.limited_by
    ),
    AnswerColumn(
        name="insertion_rate_m_per_min",
        words="Weft inserted per minute",
        value=lambda r: r.rates.insertion_rate_m_per_min,
    ),
    AnswerColumn(
        name="insertion_rate_use_pct",
        words="Insertion rate as a share of the loom's limit",
        value=lambda r: r.rates.insertion_rate_use_pct,
    ),
    AnswerColumn(
        name="efficiency_pct",
        words="Share of the time that the loom runs",
        value=lambda r: r.rates.efficiency_pct,
    ),
    AnswerColumn(
        name="output_m_per_h", words="Cloth woven per hour", value=lambda r: r.rates.output_m_per_h
    ),
    AnswerColumn(
        name="output_m2_per_h",
        words="Cloth woven per hour",
        value=lambda r: r.rates.output_m2_per_h,
    ),
    AnswerColumn(
        name="hours_for_order",
        words="Loom hours for the order",
        value=lambda r: r.rates.hours_for_order,
    ),
    AnswerColumn(
        name="total_ends", words="Ends over the whole width", value=lambda r: r.setup.total_ends
    ),
    AnswerColumn(
        name="reed_width_cm", words="Reed width in use", value=lambda r: r.setup.reed_width_cm
    ),
    AnswerColumn(
        name="reed_dents_per_10cm", words="Reed to use", value=lambda r: r.setup.reed_dents_per_10cm
    ),
    AnswerColumn(
        name="ends_per_dent",
        words="Ends drawn into one dent",
        value=lambda r: r.setup.ends_per_dent,
    ),
    AnswerColumn(
        name="picks_per_cm_on_loom",
        words="Picks to set on the take-up",
        value=lambda r: r.setup.picks_per_cm_on_loom,
    ),
    AnswerColumn(name="shafts_used", words="Shafts used", value=lambda r: r.setup.shafts_used),
    AnswerColumn(name="draft", words="Name of the draft", value=lambda r: r.setup.draft),
    AnswerColumn(
        name="mass_g_per_m2", words="Mass of the grey cloth", value=lambda r: r.cloth.mass_g_per_m2
    ),
    AnswerColumn(
        name="tightness_pct",
        words="How near the cloth is to jamming",
        value=lambda r: r.cloth.tightness_pct,
    ),
    AnswerColumn(name="warp_length_m", words="Length of the warp", value=lambda r: r.warp.length_m),
    AnswerColumn(name="warp_mass_kg", words="Warp yarn, waste included", value=_total_mass("warp")),
    AnswerColumn(name="weft_mass_kg", words="Weft yarn, waste included", value=_total_mass("weft")),
    AnswerColumn(
        name="validation_id",
        words="Digest of request, rules and limits",
        value=lambda r: r.validation_id,
    ),
    AnswerColumn(
        name="link",
        words="Address at which the report can be had again",
        value=lambda r: r.links.get("self"),
    ),
)
"""What the answer says of a report, after ``row``, ``reference`` and ``status``; ``message`` is
last: the findings in words, or what was wrong with the row."""


class CsvWriter:
    """Writes outcomes as rows in the layout of the sheet that they answer."""

    def __init__(self, sheet: Sheet | None) -> None:
        self._sheet = sheet
        self._comma = sheet is not None and sheet.decimal_comma
        self._written = StringIO()
        self._writer = csv.writer(
            self._written, delimiter=sheet.delimiter if sheet else ",", lineterminator="\r\n"
        )

    def header(self) -> bytes:
        """Return the header row."""
        mark = codecs.BOM_UTF8 if self._sheet and self._sheet.marked else b""
        names = [each.name for each in ANSWER_COLUMNS]
        return mark + self._row(["row", "reference", "status", *names, "message"])

    def row(self, outcome: Outcome) -> bytes:
        """Return the row of an outcome."""
        answer = outcome.answer
        reference: str | None
        if isinstance(answer, Report):
            values = [each.value(answer) for each in ANSWER_COLUMNS]
            reference = answer.reference
            message = " ".join(each.message for each in answer.findings)
        else:
            values = [None for _ in ANSWER_COLUMNS]
            reference = outcome.entry.reference
            message = self._complaint(answer)
        return self._row(
            [outcome.entry.line, reference, outcome.status, *values, message[:_LONGEST_MESSAGE]]
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
        if isinstance(value, float):
            text = f"{value:.10g}"
            return text.replace(".", ",") if self._comma else text
        return value
