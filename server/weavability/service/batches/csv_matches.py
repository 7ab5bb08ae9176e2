"""Rankings in a sheet: which columns its orders may have, and a row for each order and loom."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from weavability.answers.caution import SHORT_CAUTION
from weavability.answers.loom_match import CostSummary, LoomMatch, MatchReport
from weavability.service.batches.answer_sheet import MESSAGE, AnswerColumn, AnswerSheet
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


def _holds(ranked: _Ranked) -> object:
    holds = ranked.match.verdict_holds
    return None if holds is None else str(holds).lower()


def _decisive(ranked: _Ranked) -> object:
    decisive = ranked.match.decisive_assumptions
    return " ".join(each.message for each in decisive) if decisive else None


def _of_match(name: str) -> Callable[[_Ranked], object]:
    return lambda ranked: getattr(ranked.match, name)


def _of_costs(name: str, take: Callable[[CostSummary], object], words: str) -> MatchColumn:
    def value(ranked: _Ranked) -> object:
        costs = ranked.match.costs
        return None if costs is None else take(costs)

    return AnswerColumn(name=f"costs.{name}", words=words, value=value)


_COLUMNS: Final[tuple[MatchColumn, ...]] = (
    AnswerColumn(name="rank", words="1 for the best", value=_of_match("rank")),
    AnswerColumn(name="loom_id", words="Name of the loom", value=_of_match("loom_id")),
    AnswerColumn(name="verdict", words="The verdict", value=lambda row: row.match.verdict.value),
    AnswerColumn(name="codes", words="Codes of the findings, the errors first", value=_codes),
    *(
        AnswerColumn(name=name, words=words, value=_of_match(name))
        for name, words in (
            ("speed_picks_per_min", "Speed at which the cloth runs"),
            ("limited_by", "The limit that sets the speed"),
            ("insertion_rate_m_per_min", "Weft inserted per minute"),
            ("output_m_per_h", "Cloth woven per hour"),
            ("running_hours", "Hours of weaving for the order, or for 1000 m"),
            ("hours", "Running, change-over and tying in further warps together"),
            ("reed_width_use_pct", "Reed width in use as a share of the loom's"),
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
        value=_holds,
    ),
    AnswerColumn(
        name="decisive_assumptions",
        words=DECISIVE_WORDS,
        value=_decisive,
    ),
    AnswerColumn(
        name="further_warps_hours",
        words="Hours to tie in the warps after the first",
        value=_of_match("further_warps_hours"),
    ),
    AnswerColumn(name="reason", words="Why it has this rank", value=_of_match("reason")),
    AnswerColumn(
        name=MESSAGE,
        words="The faults of the row, by column; empty if it could be read",
        value=lambda _: None,
    ),
    AnswerColumn(
        name="caution", words="What a computed result is not", value=lambda _: SHORT_CAUTION
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
