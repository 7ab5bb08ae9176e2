"""The columns of reports in a sheet: one row an order."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final

import orjson

from weavability.answers.caution import SHORT_CAUTION
from weavability.answers.report import Report
from weavability.checks.finding import Remedy
from weavability.service.batches.answer_sheet import (
    MESSAGE,
    AnswerColumn,
    AnswerSheet,
    field_column,
    sheet_words,
    shortened,
)
from weavability.service.requests.validation_answer import ValidationAnswer
from weavability.textiles.order_lengths import USUAL_LENGTH

# Columns that a sheet of reports and one of rankings have.
NOT_PRICED_WORDS: Final = "What is in no cost because it is not priced, separated by semicolons"
HOLDS_WORDS: Final = (
    "Whether the verdict is the same over the bands of all assumed values, if requested"
)
DECISIVE_WORDS: Final = "Which assumed values turn the verdict, and where, in sentences; likewise"

ReportColumn = AnswerColumn[ValidationAnswer]


def _total_mass(system: str) -> Callable[[ValidationAnswer], object]:
    return lambda answer: _rounded(
        sum(each.mass_kg for each in answer.report.yarn if each.system == system)
    )


def _warps(answer: ValidationAnswer) -> object:
    warps = answer.report.warp.beams
    return orjson.dumps(warps).decode() if warps else None


def _drivers(answer: ValidationAnswer) -> object:
    costs = answer.report.costs
    return orjson.dumps(costs.drivers).decode() if costs else None


def _holds(answer: ValidationAnswer) -> object:
    holds = answer.report.verdict_holds
    return None if holds is None else str(holds).lower()


def _decisive(answer: ValidationAnswer) -> object:
    decisive = answer.report.decisive_assumptions
    return " ".join(each.message for each in decisive) if decisive else None


def _not_priced(answer: ValidationAnswer) -> object:
    costs = answer.report.costs
    return "; ".join(each.driver for each in costs.not_priced) if costs else None


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def _listed(codes: Iterable[str]) -> str:
    return " ".join(dict.fromkeys(codes))


def _report(answer: ValidationAnswer) -> Report:
    return answer.report


def _field(path: str, words: str = "") -> ReportColumn:
    """Return the column of a field of the report, headed by its path."""
    return field_column(path, Report, path, _report, words)


def _named(path: str) -> ReportColumn:
    """Return the column of a field of the report, headed by its name alone."""
    return field_column(path.rpartition(".")[2], Report, path, _report)


def _of_order(name: str) -> ReportColumn:
    """Return the column of a length, or of a number of pieces, of the order."""
    column = _field(f"order.{name}")

    def if_ordered(answer: ValidationAnswer) -> object:
        return column.value(answer) if answer.report.order.is_ordered else None

    words = column.words.partition("; empty")[0]
    return replace(column, words=f"{words}; empty if no length is ordered", value=if_ordered)


def _smallest(answer: ValidationAnswer) -> list[Remedy]:
    """Return the smallest remedy of each finding; one that clears several is there once."""
    firsts = (remedy for each in answer.report.findings for remedy in each.remedies[:1])
    return list({orjson.dumps(each["changes"]): each for each in firsts}.values())


def _remedies(answer: ValidationAnswer) -> object:
    found = (f"{each['message']} Clears {_listed(each['clears'])}." for each in _smallest(answer))
    return shortened(" ".join(found)) or None


def _changes(answer: ValidationAnswer) -> object:
    listed = [
        {**{name: change.get(name) for name in ("pointer", "from", "to")}, "clears": each["clears"]}
        for each in _smallest(answer)
        for change in each["changes"]
    ]
    return orjson.dumps(listed).decode() if listed else None


def _requirements(answer: ValidationAnswer) -> object:
    required = answer.report.requirements
    return orjson.dumps(required).decode() if required else None


def _ends_of(path: str, words: str) -> tuple[ReportColumn, ReportColumn]:
    """Return the columns of both ends of a band."""
    return _field(f"{path}.low", f"Least {words}"), _field(f"{path}.high", f"Greatest {words}")


ANSWER_COLUMNS: Final[tuple[ReportColumn, ...]] = (
    _named("loom_id"),
    AnswerColumn(
        name="verdict",
        words=sheet_words(Report, "verdict"),
        value=lambda a: a.report.verdict.value,
    ),
    _named("counts.errors"),
    _named("counts.warnings"),
    _named("counts.notes"),
    AnswerColumn(
        name="codes",
        words="Codes of the findings",
        value=lambda a: _listed(each.code for each in a.report.findings),
    ),
    _named("rates.speed_picks_per_min"),
    _named("rates.limited_by"),
    _named("rates.insertion_rate_m_per_min"),
    _named("rates.insertion_rate_use_pct"),
    _named("rates.efficiency_pct"),
    _named("rates.output_m_per_h"),
    _named("rates.output_m2_per_h"),
    _named("rates.hours_for_order"),
    _named("setup.total_ends"),
    _named("setup.reed_width_cm"),
    _named("setup.reed_dents_per_10cm"),
    _named("setup.ends_per_dent"),
    _named("setup.picks_per_cm_on_loom"),
    _named("setup.shafts_used"),
    _named("setup.draft"),
    _named("cloth.mass_g_per_m2"),
    _named("cloth.tightness_pct"),
    field_column("warp_length_m", Report, "warp.length_m", _report),
    AnswerColumn(
        name="warp_mass_kg",
        words="Warp yarn, waste included",
        value=_total_mass("warp"),
    ),
    AnswerColumn(
        name="weft_mass_kg",
        words="Weft yarn, waste included",
        value=_total_mass("weft"),
    ),
    AnswerColumn(
        name="validation_id",
        words="Digest of request, rules and limits",
        value=lambda a: a.validation_id,
    ),
    AnswerColumn(
        name="link",
        words="Address that gives the report again",
        value=lambda a: a.links.get("self"),
    ),
    _named("warp.beams_needed"),
    AnswerColumn(
        name="warps",
        words="The warp of every group of ends with a beam of its own, as JSON",
        value=_warps,
    ),
)
"""The columns of a report, after ``row``, ``reference`` and ``status``; then comes ``message``: the
findings in words, or what was wrong with the row."""

APPENDED_COLUMNS: Final[tuple[ReportColumn, ...]] = (
    *_ends_of("rates.efficiency_pct_band", "efficiency that is expected, if it is assumed"),
    *_ends_of("rates.hours_for_order_band", "hours for the order, by that efficiency"),
    _field(
        "rates.stops.further_warp_stop_cost_pct",
        "Percentage points of efficiency that one more warp stop in 100,000 picks costs",
    ),
    _field("rates.stops_for_order.further_warp_stop_hours"),
    _named("verdict_note"),
    _of_order("ordered_m"),
    _of_order("finished_m"),
    _of_order("grey_m"),
    _of_order("loom_m"),
    _of_order("beam_m"),
    _field("order.beam_contraction_pct", "Contraction of the warp on the length on the beam"),
    _of_order("cuts.pieces_to_weave"),
    _of_order("cuts.pieces_cut"),
    AnswerColumn(
        name="requirements",
        words="What the customer requires, with what is computed of it, as JSON",
        value=_requirements,
    ),
    _field("energy.energy_kwh_per_m"),
    _field("energy.air_m3_per_m"),
    *(
        _field(path, words)
        for path, words in (
            ("costs.currency", "Label of the currency of the costs"),
            ("costs.cost_per_m", "Cost of a metre, as far as it is priced"),
            ("costs.cost_per_m2", "Cost of a square metre, as far as it is priced"),
            ("costs.cost_for_order", "Cost of the order, as far as it is priced"),
            ("costs.cost_per_ordered_m", "The same for a metre that is ordered, overage left out"),
        )
    ),
    AnswerColumn(
        name="costs.drivers",
        words=f"What the cost of the order, or of {USUAL_LENGTH}, is made up of, as JSON",
        value=_drivers,
    ),
    AnswerColumn(
        name="costs.not_priced",
        words=NOT_PRICED_WORDS,
        value=_not_priced,
    ),
    AnswerColumn(
        name="verdict_holds",
        words=HOLDS_WORDS,
        value=_holds,
    ),
    AnswerColumn(
        name="decisive_assumptions",
        words=DECISIVE_WORDS,
        value=_decisive,
    ),
    AnswerColumn(
        name="remedies",
        words="The smallest change found for each finding, in words, with the codes that it clears",
        value=_remedies,
    ),
    AnswerColumn(
        name="remedies.changes",
        words="The fields to change for it, as JSON: a list of `pointer`, `from`, `to`, `clears`",
        value=_changes,
    ),
    AnswerColumn(
        name="caution",
        words=sheet_words(Report, "caution"),
        value=lambda _: SHORT_CAUTION,
    ),
)
"""Columns that were added later: they come after the message, and others keep their places."""


REPORTS_SHEET: Final[AnswerSheet[ValidationAnswer, ValidationAnswer]] = AnswerSheet(
    file_name="reports.csv",
    words="One order a row",
    columns=(
        *ANSWER_COLUMNS,
        AnswerColumn(
            name=MESSAGE,
            words="The findings in words, or the faults of the row, by column",
            value=lambda a: shortened(" ".join(each.message for each in a.report.findings)),
        ),
        *APPENDED_COLUMNS,
    ),
    reference=lambda answer: answer.report.reference,
    rows=lambda answer: (answer,),
)
"""The rows of reports."""
