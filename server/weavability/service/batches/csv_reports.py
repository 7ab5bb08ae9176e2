"""The columns of reports in a sheet: one row an order."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Final

import orjson

from weavability.answers.caution import SHORT_CAUTION
from weavability.checks.finding import Remedy
from weavability.service.batches.answer_sheet import (
    MESSAGE,
    AnswerColumn,
    AnswerSheet,
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
        sum(each.mass_kg for each in answer.report.yarn if each.yarn.startswith(f"{system} "))
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


def _value_at(path: str) -> Callable[[ValidationAnswer], object]:
    """Return what takes a value by its dotted path in a report; absent if a part of it is."""

    def value(answer: ValidationAnswer) -> object:
        found: Any = answer.report
        for name in path.split("."):
            found = None if found is None else getattr(found, name)
        return found

    return value


def _of_order(name: str, words: str) -> ReportColumn:
    """Return the column of a length, or of a number of pieces, of the order."""
    path = f"order.{name}"
    value = _value_at(path)

    def if_ordered(answer: ValidationAnswer) -> object:
        return value(answer) if answer.report.order.is_ordered else None

    return AnswerColumn(
        name=path, words=f"{words}; empty if no length is ordered", value=if_ordered
    )


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
    return (
        AnswerColumn(name=f"{path}.low", words=f"Least {words}", value=_value_at(f"{path}.low")),
        AnswerColumn(
            name=f"{path}.high", words=f"Greatest {words}", value=_value_at(f"{path}.high")
        ),
    )


ANSWER_COLUMNS: Final[tuple[ReportColumn, ...]] = (
    AnswerColumn(name="loom_id", words="Name of the loom", value=lambda a: a.report.loom_id),
    AnswerColumn(
        name="verdict",
        words="The verdict",
        value=lambda a: a.report.verdict.value,
    ),
    AnswerColumn(
        name="errors",
        words="Number of errors: findings that rule out weaving",
        value=lambda a: a.report.counts.errors,
    ),
    AnswerColumn(
        name="warnings",
        words="Number of warnings: findings to expect when it runs",
        value=lambda a: a.report.counts.warnings,
    ),
    AnswerColumn(
        name="notes",
        words="Number of notes: findings worth knowing",
        value=lambda a: a.report.counts.notes,
    ),
    AnswerColumn(
        name="codes",
        words="Codes of the findings",
        value=lambda a: _listed(each.code for each in a.report.findings),
    ),
    AnswerColumn(
        name="speed_picks_per_min",
        words="Speed at which the cloth runs",
        value=lambda a: a.report.rates.speed_picks_per_min,
    ),
    AnswerColumn(
        name="limited_by",
        words="The limit that sets the speed",
        value=lambda a: a.report.rates.limited_by,
    ),
    AnswerColumn(
        name="insertion_rate_m_per_min",
        words="Weft inserted per minute",
        value=lambda a: a.report.rates.insertion_rate_m_per_min,
    ),
    AnswerColumn(
        name="insertion_rate_use_pct",
        words="Insertion rate as a share of the loom's limit",
        value=lambda a: a.report.rates.insertion_rate_use_pct,
    ),
    AnswerColumn(
        name="efficiency_pct",
        words="Share of the time that the loom runs",
        value=lambda a: a.report.rates.efficiency_pct,
    ),
    AnswerColumn(
        name="output_m_per_h",
        words="Cloth woven per hour",
        value=lambda a: a.report.rates.output_m_per_h,
    ),
    AnswerColumn(
        name="output_m2_per_h",
        words="Cloth woven per hour",
        value=lambda a: a.report.rates.output_m2_per_h,
    ),
    AnswerColumn(
        name="hours_for_order",
        words="Loom hours for the order",
        value=lambda a: a.report.rates.hours_for_order,
    ),
    AnswerColumn(
        name="total_ends",
        words="Ends over the whole width",
        value=lambda a: a.report.setup.total_ends,
    ),
    AnswerColumn(
        name="reed_width_cm",
        words="Reed width in use",
        value=lambda a: a.report.setup.reed_width_cm,
    ),
    AnswerColumn(
        name="reed_dents_per_10cm",
        words="Reed to use",
        value=lambda a: a.report.setup.reed_dents_per_10cm,
    ),
    AnswerColumn(
        name="ends_per_dent",
        words="Ends drawn into one dent",
        value=lambda a: a.report.setup.ends_per_dent,
    ),
    AnswerColumn(
        name="picks_per_cm_on_loom",
        words="Picks to set at the take-up",
        value=lambda a: a.report.setup.picks_per_cm_on_loom,
    ),
    AnswerColumn(
        name="shafts_used",
        words="Shafts used",
        value=lambda a: a.report.setup.shafts_used,
    ),
    AnswerColumn(
        name="draft",
        words="Name of the draft",
        value=lambda a: a.report.setup.draft,
    ),
    AnswerColumn(
        name="mass_g_per_m2",
        words="Mass of the grey cloth",
        value=lambda a: a.report.cloth.mass_g_per_m2,
    ),
    AnswerColumn(
        name="tightness_pct",
        words="Tightness of the cloth; 100 is jammed",
        value=lambda a: a.report.cloth.tightness_pct,
    ),
    AnswerColumn(
        name="warp_length_m",
        words="Length of the warp",
        value=lambda a: a.report.warp.length_m,
    ),
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
    AnswerColumn(
        name="beams_needed",
        words="Beams, or sets of beams abreast, one after the other; the most of the groups "
        "without pile",
        value=lambda a: a.report.warp.beams_needed,
    ),
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
    AnswerColumn(
        name="rates.stops.further_warp_stop_cost_pct",
        words="Percentage points of efficiency that one more warp stop in 100,000 picks costs",
        value=_value_at("rates.stops.further_warp_stop_cost_pct"),
    ),
    AnswerColumn(
        name="rates.stops_for_order.further_warp_stop_hours",
        words="Hours that one more warp stop in 100,000 picks costs the order",
        value=_value_at("rates.stops_for_order.further_warp_stop_hours"),
    ),
    AnswerColumn(
        name="verdict_note",
        words="Which stated values would decide, if the verdict rests on what is only assumed",
        value=lambda a: a.report.verdict_note,
    ),
    _of_order("ordered_m", "Finished cloth ordered, all panels together"),
    _of_order("finished_m", "Finished cloth to make, overage and rejects included"),
    _of_order("grey_m", "Grey cloth for it, all panels together"),
    _of_order("loom_m", "Cloth on the loom, under its tension"),
    _of_order("beam_m", "Warp on the beams, their waste included"),
    AnswerColumn(
        name="order.beam_contraction_pct",
        words="Contraction of the warp on the length on the beam",
        value=_value_at("order.beam_contraction_pct"),
    ),
    _of_order("cuts.pieces_to_weave", "Pieces to weave, overage and rejects included"),
    _of_order("cuts.pieces_cut", "Pieces that the ends of full beams cut"),
    AnswerColumn(
        name="requirements",
        words="What the customer requires, with what is computed of it, as JSON",
        value=_requirements,
    ),
    *(
        AnswerColumn(name=path, words=words, value=_value_at(path))
        for path, words in (
            ("energy.energy_kwh_per_m", "Electric energy for a metre, if the loom states a power"),
            ("energy.air_m3_per_m", "Free air for a metre, if the loom states its air"),
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
        words="What a computed result is not",
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
