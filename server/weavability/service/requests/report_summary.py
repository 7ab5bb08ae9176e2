"""The short form of a report: what a list of orders shows, without the words and the figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

from weavability.answers.caution import SHORT_CAUTION
from weavability.answers.field_words import DecidingLimit, HoursForOrder, RunningSpeed, Since
from weavability.answers.report import Report
from weavability.answers.rounding import plain
from weavability.checks.finding import Verdict
from weavability.service.http.responses import FlatAnswer

MOST_BYTES_OF_CODES: Final = 120
"""Bytes of the codes as they are written: with them, a line of a batch stays under 400."""

CAUTION_HEADER: Final = "Caution"
"""Header that has the caution of an answer whose lines are too short for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportSummary:
    """The verdict of a report with its codes, speed and hours."""

    validation_id: Annotated[
        str, "That of the whole report, by which `/v1/validation-changes` compares it", Since("0.2")
    ]
    verdict: Annotated[Verdict, "The answer in a word", Since("0.2")]
    codes: Annotated[
        tuple[str, ...], "Codes of the findings, each once, the gravest first", Since("0.2")
    ]
    more_codes: Annotated[
        int,
        f"How many more there are than fit into {MOST_BYTES_OF_CODES} bytes; missing if none",
        Since("0.2"),
    ]
    limited_by: Annotated[DecidingLimit, Since("0.2")]
    speed_picks_per_min: Annotated[RunningSpeed, Since("0.2")]
    insertion_rate_m_per_min: Annotated[float, "Weft inserted per minute", Since("0.2")]
    hours_for_order: Annotated[HoursForOrder, Since("0.2")]
    link: Annotated[
        str | None,
        "Address that gives the whole report, if it is requested; null if the request is too long "
        "for one",
        Since("0.2"),
    ]
    caution: Annotated[
        str,
        "What a computed result is not; of the lines of a batch it is once in the header "
        f"`{CAUTION_HEADER}`",
        Since("0.2"),
    ]


SUMMARY: Final = FlatAnswer(
    title="ReportSummary",
    words=f"A report in short. {SHORT_CAUTION}",
    members=dict.fromkeys(ReportSummary.__dataclass_fields__, ReportSummary),
    optional=frozenset({"more_codes", "link", "caution"}),
)
"""The members of the object that is sent, in order."""


def summary_of(report: Report, validation_id: str, **more: str | None) -> dict[str, object]:
    """Return the short form of a report, as it is sent.

    Args:
        report: The report, rounded or not.
        validation_id: Its name.
        more: Members that only some summaries have: ``link``, ``caution``.

    Raises:
        ArithmeticError: A figure is NaN or infinite.
    """
    codes = list(dict.fromkeys(each.code.value for each in report.findings))
    shown: list[str] = []
    left = MOST_BYTES_OF_CODES
    for code in codes:
        left -= len(code) + len('"",')
        if left < 0:
            break
        shown.append(code)
    rates = report.rates
    found: dict[str, object] = {
        "validation_id": validation_id,
        "verdict": report.verdict,
        "codes": shown,
        **({"more_codes": len(codes) - len(shown)} if len(shown) < len(codes) else {}),
        "limited_by": rates.limited_by,
        "speed_picks_per_min": rates.speed_picks_per_min,
        "insertion_rate_m_per_min": rates.insertion_rate_m_per_min,
        "hours_for_order": rates.hours_for_order,
    }
    summary: dict[str, object] = plain(found)
    return {**summary, **more}
