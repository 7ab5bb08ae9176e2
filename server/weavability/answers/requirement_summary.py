"""What an answer states of each figure that the customer requires."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

from weavability.answers.field_names import required_figure
from weavability.looms.fit import Fit
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.bounds import REQUIRED_UNITS
from weavability.textiles.field_marks import Since
from weavability.textiles.numbers import passed, short
from weavability.textiles.required_values import Required, RequiredNumbers, required_of

Met = Literal["yes", "perhaps", "no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RequirementSummary:
    """A figure of the finished cloth beside what the customer requires of it."""

    figure: Annotated[str, "The figure, by its field in `requirements`"]
    words: Annotated[str, "The figure in words", Since("0.2")]
    fibre: Annotated[str | None, "The fibre of a share, as the order calls it; null of all else"]
    min: Annotated[float | None, "The least that is required; null if none is"]
    max: Annotated[float | None, "The greatest that is allowed; null if none is"]
    value: Annotated[float, "The figure as computed"]
    unit: Annotated[str, "Unit of all these figures"]
    band: Annotated[ValueBand, "Between which values it lies over the bands of what is assumed"]
    met: Annotated[
        Met,
        "`yes` if all of the band is within the limits, `no` if all of it is beyond one, else "
        "`perhaps`; width and mass per metre are those of the whole cloth, with what "
        "`selvedge.wide` finds beside the ordered width",
    ]


def requirement_summaries(fit: Fit) -> Iterator[RequirementSummary]:
    """Describe what is required of a cloth, in the order of the fields of the request."""
    required = required_of(fit.cloth.construction.requirements)
    for one, numbers in zip(required, fit.order.requirements, strict=True):
        yield RequirementSummary(
            figure=one.figure,
            words=required_in_words(one),
            fibre=one.name or None,
            min=one.limits.min,
            max=one.limits.max,
            value=numbers.value,
            unit=REQUIRED_UNITS[one.figure],
            band=ValueBand(numbers.low, numbers.high),
            met=_met(numbers),
        )


def required_in_words(required: Required) -> str:
    """Name what is required: the mass of a running metre apart from that of a square metre."""
    if required.fibre:
        return f"share of {required.name}"
    return required_figure(required.figure)


def _met(numbers: RequiredNumbers[float]) -> Met:
    if short(numbers.high, numbers.least) or passed(numbers.low, numbers.most):
        return "no"
    if short(numbers.low, numbers.least) or passed(numbers.high, numbers.most):
        return "perhaps"
    return "yes"
