"""Two reports side by side: only what differs, in the order, the loom, findings and figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, Final

from weavability.answers.cloth_words import cloth_in_words
from weavability.answers.costs_section import NotPriced
from weavability.answers.few_names import capitalised
from weavability.answers.field_words import FieldWords, unit_of, words_of
from weavability.answers.order_chain import OrderStep
from weavability.answers.report import Report, YarnUse
from weavability.checks.finding import Finding, Severity
from weavability.looms.loom import Loom
from weavability.service.batches.csv_columns import column
from weavability.service.batches.csv_grammar import Kind
from weavability.service.batches.flat_order import write_fields
from weavability.service.pages.key_figures import headline_figures
from weavability.service.pages.looms_page import LimitRow, assumed_limits, stated_limits
from weavability.service.pages.order_fields import (
    REQUIRED_LIMITS,
    form_field,
    pointers_in_words,
    yarn_headings,
)
from weavability.service.pages.order_state import yarn_of
from weavability.service.pages.wording import SEVERITIES, VERDICTS, measure, show, spoken
from weavability.service.requests.validation_answer import ValidationAnswer
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.construction import Construction

ABSENT: Final = "–"
"""What is written for what one of the two does not have."""

LONGEST_SHOWN: Final = 160
_SIGNS: Final = {Severity.ERROR: "✕", Severity.WARNING: "!", Severity.NOTE: "·"}
_NAMES: Final = ("yarn", "driver", "step", "name", "layer", "beam")
"""Fields that name an item of a list, of which the first that it has does."""

_PARTS: Final = (
    ("Speed and hours", "rates"),
    ("Costs", "costs"),
    ("Setting up the loom", "setup"),
    ("The cloth", "cloth"),
    ("The cloth in the loom", "states.loom_state"),
    ("The grey cloth", "states.grey"),
    ("The finished cloth", "states.finished"),
    ("The order in lengths", "order"),
    ("The warp", "warp"),
    ("Yarn", "yarn"),
    ("Energy and air", "energy"),
)
_BRIEF: Final[Mapping[type, Sequence[str]]] = {
    YarnUse: ("threads", "mass_kg"),
    OrderStep: ("to_m",),
    NotPriced: ("message",),
}
"""Of lists of many figures those that are compared; the others follow from them."""

Cells = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedReport:
    """One of the two.

    Attributes:
        title: What it is called.
        request: The request that it answers.
        construction: Its cloth.
        loom: Its loom.
        loom_document: The same as stated.
        answer: What was answered.
    """

    title: str
    request: Mapping[str, Any]
    construction: Construction
    loom: Loom
    loom_document: Mapping[str, Any]
    answer: ValidationAnswer

    @property
    def cloth(self) -> str:
        """The cloth in a line."""
        return cloth_in_words(self.construction)

    @property
    def verdict(self) -> tuple[str, str, str]:
        """Class, sign and words of its verdict."""
        return VERDICTS[self.answer.report.verdict]

    @property
    def figures(self) -> str:
        """What counts most, in a line."""
        found = headline_figures(self.answer.report)
        return ", ".join(f"{words.lower()} {value} {unit}" for words, value, unit in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A line of which the two say unlike things."""

    words: str
    one: str
    other: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Differences of one subject."""

    title: str
    rows: tuple[Difference, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidFinding:
    """A finding as it is written in a cell."""

    mark: str
    sign: str
    severity: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingDifference:
    """What the two say of one check; empty for the one that finds nothing."""

    code: str
    one: tuple[SaidFinding, ...]
    other: tuple[SaidFinding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What differs between two reports."""

    one: ComparedReport
    other: ComparedReport
    order: tuple[Difference, ...]
    loom: tuple[Difference, ...]
    findings: tuple[FindingDifference, ...]
    figures: tuple[Group, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing differs."""
        return not (self.order or self.loom or self.findings or self.figures)


def compare_reports(one: ComparedReport, other: ComparedReport) -> Comparison:
    """Return what differs between two reports, as it is written: unlike digits, not unlike bits."""
    reports = one.answer.report, other.answer.report
    figures = (
        Group(title=title, rows=tuple(_differences(*(_figures_at(each, path) for each in reports))))
        for title, path in _PARTS
    )
    return Comparison(
        one=one,
        other=other,
        order=tuple(_differences(_order(one), _order(other))),
        loom=tuple(_differences(_limits(one), _limits(other))),
        findings=tuple(_findings(*reports)),
        figures=tuple(group for group in figures if group.rows),
    )


def _differences(one: Cells, other: Cells) -> Iterator[Difference]:
    for words in dict.fromkeys((*one, *other)):
        values = one.get(words, ABSENT), other.get(words, ABSENT)
        if values[0] != values[1]:
            yield Difference(words=words, one=values[0], other=values[1])


def _order(each: ComparedReport) -> Cells:
    """Return the order as stated, by what its fields are called; a yarn in one cell."""
    written = write_fields({"construction": each.request["construction"]})
    cells: dict[str, str] = {}
    for heading in sorted(written.cells, key=_is_beside):
        field = form_field(heading)
        value = _written(each.request, heading, written.cells[heading])
        yarn = yarn_of(heading)
        if yarn is None:
            label = field.label.removeprefix("or ")
            cells[capitalised(label)] = _cut(value)
            continue
        name = f"{yarn[0].capitalize()} yarn {yarn[1]}"
        is_plain = heading in yarn_headings(*yarn)[0]
        said = value if is_plain else f"{field.label.lower()} {value}"
        cells[name] = f"{cells[name]}, {said}" if name in cells else said
    for pointer in written.left_out:
        words = spoken(pointer.removeprefix("/construction/").replace("/", " "))
        cells[words] = _cut(str(_at(each.request, pointer)))
    return cells


def _is_beside(heading: str) -> int:
    """Return the place of a field of a yarn among its others: count, fibre and colour first."""
    yarn = yarn_of(heading)
    row = yarn_headings(*yarn)[0] if yarn else []
    return row.index(heading) if heading in row else len(row)


def _written(request: Mapping[str, Any], heading: str, text: str) -> str:
    """Write what a field states, objects in words."""
    field, place = form_field(heading), column(heading)
    if place is not None and place.kind is Kind.JSON:
        return _in_words(_at(request, place.pointer), field.unit)
    return measure(show(text) if field.options else text, field.unit)


def _in_words(value: Any, unit: str) -> str:
    """Write an object or a list that a cell holds as JSON.

    >>> _in_words({"cotton": {"min": 60}}, "%"), _in_words([{"name": "pile", "yarns": ["P"]}], "")
    ('cotton: at least 60\u202f%', 'name: pile, yarns: P')
    """
    if isinstance(value, Mapping):
        return ", ".join(
            f"{REQUIRED_LIMITS[name].lower()} {_in_words(each, unit)}"
            if name in REQUIRED_LIMITS
            else f"{spoken(name).lower()}: {_in_words(each, unit)}"
            for name, each in value.items()
        )
    if isinstance(value, list):
        return "; ".join(_in_words(each, unit) for each in value)
    return measure(value, unit)


def _at(request: Mapping[str, Any], pointer: str) -> Any:
    value: Any = request
    for step in pointer.split("/")[1:]:
        value = value[step.replace("~1", "/").replace("~0", "~")]
    return value


def _limits(each: ComparedReport) -> Cells:
    """Return the limits of the loom; those that it does not state are marked."""
    stated, assumed = stated_limits(each.loom_document), assumed_limits(each.loom)
    return {
        **{_limit(row): f"{row.value} (assumed)" for row in assumed},
        **{_limit(row): _cut(row.value) for row in stated},
    }


def _limit(row: LimitRow) -> str:
    return f"{row.part}: {row.name.lower()}" if row.part else row.name


def _findings(one: Report, other: Report) -> Iterator[FindingDifference]:
    ranks = list(SEVERITIES)
    every = sorted((*one.findings, *other.findings), key=lambda each: ranks.index(each.severity))
    for code in dict.fromkeys(each.code for each in every):
        left, right = _said_of(one, code), _said_of(other, code)
        if left != right:
            yield FindingDifference(code=code, one=left, other=right)


def _said_of(report: Report, code: str) -> tuple[SaidFinding, ...]:
    return tuple(_said(each) for each in report.findings if each.code == code)


def _said(finding: Finding) -> SaidFinding:
    return SaidFinding(
        mark=SEVERITIES[finding.severity][0],
        sign=_SIGNS[finding.severity],
        severity=finding.severity.value,
        message=pointers_in_words(finding.message),
    )


def _figures_at(report: Report, path: str) -> Cells:
    value: Any = report
    for name in path.split("."):
        value = getattr(value, name)
    return dict(_figures("", value, FieldWords(words="", unit=None, since=None)))


def _figures(about: str, value: Any, field: FieldWords) -> Iterator[tuple[str, str]]:
    """Yield words and text of every figure of a value, whatever it is made of."""
    own = field.words.partition("; null")[0].replace("`", "").replace("*", "")
    own = own.removeprefix("Every ").removesuffix(", by name")
    words = f"{about}: {own[:1].lower()}{own[1:]}" if about and own else about or own
    words = capitalised(words)
    unit = "per min" if field.unit == "1/min" else field.unit
    if value is None:
        return
    if isinstance(value, ValueBand):
        yield words, f"{show(value.low)} to {measure(value.high, unit)}"
    elif is_dataclass(value) and not isinstance(value, type):
        known = words_of(type(value))
        for name in _BRIEF.get(type(value)) or [each.name for each in fields(value)]:
            of_band = unit_of(name.removesuffix("_band"))
            own_field = replace(known[name], unit=known[name].unit or of_band)
            yield from _figures(about, getattr(value, name), own_field)
    elif isinstance(value, Mapping):
        for name, each in value.items():
            yield f"{words}: {show(name)}", measure(each, unit)
    elif isinstance(value, tuple):
        yield from _of_items(words, value, field)
    else:
        yield words, measure(value, unit)


def _of_items(words: str, items: tuple[Any, ...], field: FieldWords) -> Iterator[tuple[str, str]]:
    """Yield the figures of a list: of items with a name one by one, else of all in a cell."""
    for each in items:
        name = next((getattr(each, name) for name in _NAMES if hasattr(each, name)), None)
        if name is not None and is_dataclass(each):
            yield from _figures(spoken(str(name)), each, field)
    if items and not is_dataclass(items[0]):
        yield words, _cut(" ".join(show(each) for each in items))


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]} …"
