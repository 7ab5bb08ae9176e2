"""Rankings in a sheet: which columns its orders may have, and a row for each order and loom."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from weavability.answers.caution import SHORT_CAUTION
from weavability.answers.loom_match import CostSummary, LoomMatch, MatchReport
from weavability.service.batches.answer_sheet import (
    MESSAGE,
    AnswerColumn,
    AnswerSheet,
    field_column,
    sheet_words,
)
from weavability.service.batches.csv_columns import Column
from weavability.service.batches.csv_orders import OrderSheet
from weavability.service.batches.csv_reports import DECISIVE_WORDS, HOLDS_WORDS, NOT_PRICED_WORDS
from weavability.service.schemas.base import described
from weavability.service.schemas.request_schemas import LoomMatchRequestSchema

ORDERS_TO_MATCH: Final = OrderSheet(
    more={
        name: Column(
            name=name,
            path=(name,),
            field=described(LoomMatchRequestSchema().fields[name]),
            has_names=name == "loom_ids",
        )
        for name in ("loom_ids", "rank_by")
    },
    unread=frozenset({"loom_id", "options.remedies"}),
)
"""Of orders whose looms are ranked; the loom that each is for otherwise says nothing there."""


class _Ranked(NamedTuple):
    """One loom of a ranking, and the ranking."""

    report: MatchReport
    match: LoomMatch


MatchColumn = AnswerColumn[_Ranked]


def _ranked(report: MatchReport) -> Iterator[_Ranked]:
    return (_Ranked(report, each) for each in report.matches)


def _codes(ranked: _Ranked) -> str:
    codes = ranked.match.codes
    return " ".join((*codes.errors, *codes.warnings, *codes.notes))


def _decisive(ranked: _Ranked) -> object:
    match = ranked.match
    said = [] if match.verdict_holds_note is None else [match.verdict_holds_note]
    said += [each.message for each in match.decisive_assumptions or ()]
    if match.turning_corner is not None:
        said.append(match.turning_corner.message)
    return " ".join(said) or None


def _match(ranked: _Ranked) -> LoomMatch:
    return ranked.match


def _field(name: str) -> MatchColumn:
    return field_column(name, LoomMatch, name, _match)


def _of_costs(name: str, take: Callable[[CostSummary], object], words: str) -> MatchColumn:
    def value(ranked: _Ranked) -> object:
        costs = ranked.match.costs
        return None if costs is None else take(costs)

    return AnswerColumn(name=f"costs.{name}", words=words, value=value)


_COLUMNS: Final[tuple[MatchColumn, ...]] = (
    _field("rank"),
    _field("loom_id"),
    AnswerColumn(
        name="verdict",
        words=sheet_words(LoomMatch, "verdict"),
        value=lambda row: row.match.verdict.value,
    ),
    AnswerColumn(name="codes", words="Codes of the findings, the errors first", value=_codes),
    *(
        _field(name)
        for name in (
            "speed_picks_per_min",
            "limited_by",
            "insertion_rate_m_per_min",
            "output_m_per_h",
            "running_hours",
            "hours",
            "reed_width_use_pct",
        )
    ),
    AnswerColumn(
        name="currency",
        words="Label of the currency of the costs",
        value=lambda row: row.report.currency,
    ),
    _of_costs("cost_per_m", lambda c: c.cost_per_m, "Cost of a metre, as far as it is priced"),
    _of_costs("cost_for_order", lambda c: c.cost_for_order, "Cost of the order, likewise"),
    _of_costs(
        "not_priced",
        lambda c: "; ".join(c.not_priced),
        NOT_PRICED_WORDS,
    ),
    AnswerColumn(
        name="verdict_holds",
        words=HOLDS_WORDS,
        value=lambda row: row.match.verdict_holds,
    ),
    AnswerColumn(
        name="decisive_assumptions",
        words=DECISIVE_WORDS,
        value=_decisive,
    ),
    _field("further_warps_hours"),
    AnswerColumn(
        name="rejected_if_assumed",
        words=sheet_words(LoomMatch, "rejected_if_assumed"),
        value=lambda row: " ".join(row.match.rejected_if_assumed) or None,
    ),
    _field("reason"),
    AnswerColumn(
        name=MESSAGE,
        words="The faults of the row, by column; empty if it could be read",
        value=lambda _: None,
    ),
    AnswerColumn(
        name="caution", words=sheet_words(MatchReport, "caution"), value=lambda _: SHORT_CAUTION
    ),
)

MATCHES_SHEET: Final = AnswerSheet(
    file_name="loom-matches.csv",
    words="One loom a row, those of each order together, the best first",
    columns=_COLUMNS,
    reference=lambda report: report.reference,
    rows=_ranked,
)
"""The rows of rankings."""
