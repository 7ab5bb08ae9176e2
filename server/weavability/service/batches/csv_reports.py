"""The columns of reports in a sheet: one row an order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import orjson

from weavability.answers.caution import SHORT_CAUTION
from weavability.answers.report import Report
from weavability.service.batches.answer_sheet import (
    MESSAGE,
    AnswerColumn,
    AnswerSheet,
    sheet_words,
    shortened,
)
from weavability.service.batches.report_row import Part, row_of
from weavability.textiles.order_lengths import USUAL_LENGTH

# Columns that a sheet of reports and one of rankings have.
NOT_PRICED_WORDS: Final = "What is in no cost because it is not priced, separated by semicolons"
HOLDS_WORDS: Final = (
    "Whether the verdict is the same over the bands of all assumed values, if requested"
)
DECISIVE_WORDS: Final = (
    "Why the verdict does not hold, and which assumed values turn it, alone or together, and "
    "where, in sentences; likewise"
)

Row = Mapping[str, object]
ReportColumn = AnswerColumn[Row]


def _computed(name: str, words: str) -> ReportColumn:
    """Return the column of what the row of a report has under a name."""
    return AnswerColumn(name=name, words=words, value=lambda row: row.get(name))


def _field(path: str, words: str = "") -> ReportColumn:
    """Return the column of a field of the report, headed by its path."""
    return _computed(path, words or sheet_words(Report, path))


def _named(path: str) -> ReportColumn:
    """Return the column of a field of the report, headed by its name alone."""
    return _computed(path.rpartition(".")[2], sheet_words(Report, path))


def _of_order(name: str) -> ReportColumn:
    """Return the column of a length, or of a number of pieces, of the order."""
    heading = f"order.{name}"
    words = sheet_words(Report, heading).partition("; empty")[0]
    return AnswerColumn(
        name=heading,
        words=f"{words}; empty if no length is ordered",
        value=lambda row: row.get(heading) if "order.ordered_m" in row else None,
    )


def _sentences(name: str, words: str) -> ReportColumn:
    """Return the column of sentences, as far as a cell takes them."""
    return AnswerColumn(name=name, words=words, value=lambda row: shortened(str(row[name])))


def _ends_of(path: str, words: str) -> tuple[ReportColumn, ReportColumn]:
    """Return the columns of both ends of a band."""
    return _field(f"{path}.low", f"Least {words}"), _field(f"{path}.high", f"Greatest {words}")


def _dump(listed: object) -> str:
    return orjson.dumps(listed).decode()


ANSWER_COLUMNS: Final[tuple[ReportColumn, ...]] = (
    _field("loom_id"),
    _field("verdict"),
    _named("counts.errors"),
    _named("counts.warnings"),
    _named("counts.notes"),
    AnswerColumn(
        name="codes",
        words="Codes of the findings",
        value=lambda row: " ".join(dict.fromkeys(str(row["codes"]).split())),
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
    _computed("warp_length_m", sheet_words(Report, "warp.length_m")),
    _computed("warp_mass_kg", "Warp yarn, waste included"),
    _computed("weft_mass_kg", "Weft yarn, waste included"),
    _computed("validation_id", "Digest of request, rules and limits"),
    _computed("link", "Address that gives the report again"),
    _named("warp.beams_needed"),
    _computed("warps", "The warp of every group of ends with a beam of its own, as JSON"),
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
    _computed("requirements", "What the customer requires, with what is computed of it, as JSON"),
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
    _computed(
        "costs.drivers", f"What the cost of the order, or of {USUAL_LENGTH}, is made up of, as JSON"
    ),
    _computed("costs.not_priced", NOT_PRICED_WORDS),
    _computed("verdict_holds", HOLDS_WORDS),
    _computed("decisive_assumptions", DECISIVE_WORDS),
    _sentences(
        "remedies",
        "The smallest change found for each finding, in words, with the codes that it clears",
    ),
    _computed(
        "remedies.changes",
        "The fields to change for it, as JSON: a list of `pointer`, `from`, `to`, `clears`",
    ),
    AnswerColumn(
        name="caution",
        words=sheet_words(Report, "caution"),
        value=lambda _: SHORT_CAUTION,
    ),
)
"""Columns that were added later: they come after the message, and others keep their places."""


REPORTS_SHEET: Final[AnswerSheet[Part, Row]] = AnswerSheet(
    file_name="reports.csv",
    words="One order a row",
    columns=(
        *ANSWER_COLUMNS,
        _sentences(MESSAGE, "The findings in words, or the faults of the row, by column"),
        *APPENDED_COLUMNS,
    ),
    reference=lambda report: report["reference"],
    rows=lambda report: (row_of(report, _dump),),
)
"""The rows of reports."""
