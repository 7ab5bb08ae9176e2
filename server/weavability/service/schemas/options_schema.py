"""What is to be answered beside the report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.service.schemas.base import Body
from weavability.service.schemas.fields import Flag


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerOptions:
    """What is to be answered beside the report.

    Attributes:
        decisive_assumptions: Which assumed values turn the verdict inside their bands.
    """

    decisive_assumptions: bool = False


class AnswerOptionsSchema(Body[AnswerOptions]):
    """What is to be answered beside the report."""

    title = "AnswerOptions"
    makes = AnswerOptions

    decisive_assumptions = Flag(
        "Whether to find the assumed values that turn the verdict inside their bands; it takes a "
        "unit of work for each assumed value with a band, about 40; not if not given",
        example=True,
    )


DEFAULTS: Final = {
    name: getattr(AnswerOptions(), name) for name in AnswerOptions.__dataclass_fields__
}
"""What each option is if it is not given: a link leaves it out."""
