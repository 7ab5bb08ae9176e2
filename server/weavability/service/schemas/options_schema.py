"""What is to be answered beside the report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.answers.loom_match import MOST_LOOMS_DECIDED
from weavability.service.schemas.base import Body
from weavability.service.schemas.fields import Flag


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerOptions:
    """What is to be answered beside the report.

    Attributes:
        remedies: Which changes would clear the findings.
        decisive_assumptions: Which assumed values turn the verdict inside their bands.
    """

    remedies: bool = True
    decisive_assumptions: bool = False


class AnswerOptionsSchema(Body[AnswerOptions]):
    """What is to be answered beside the report."""

    title = "AnswerOptions"
    makes = AnswerOptions

    remedies = Flag(
        "Whether to look for changes that clear the findings; without, no change of the order is "
        "tried; yes if not given",
        example=False,
    )
    decisive_assumptions = Flag(
        "Whether to find the assumed values that turn the verdict inside their bands; it takes the "
        "work of judging the order for each assumed value with a band, about 40; not if not given",
        example=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchOptions:
    """What is to be answered beside a ranking.

    Attributes:
        decisive_assumptions: Which assumed values turn the verdicts inside their bands.
    """

    decisive_assumptions: bool = False


class MatchOptionsSchema(Body[MatchOptions]):
    """What is to be answered beside a ranking."""

    title = "MatchOptions"
    makes = MatchOptions

    decisive_assumptions = Flag(
        f"Whether to find the assumed values that turn the verdicts of the {MOST_LOOMS_DECIDED} "
        "best ranked looms inside their bands; for each loom it takes the work of judging the "
        "order for each such value, about 40; not if not given",
        example=True,
    )


DEFAULTS: Final = {
    name: getattr(AnswerOptions(), name) for name in AnswerOptions.__dataclass_fields__
}
"""What each option is if it is not given: a link leaves it out."""
