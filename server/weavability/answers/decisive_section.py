"""What a report says of the values on which its verdict rests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal, NamedTuple

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Verdict
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.field_marks import Since


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisiveAssumption:
    """An assumed value that turns the verdict inside its band."""

    pointer: Annotated[str, "The field that would replace the assumption when given"]
    name: Annotated[str, "The field in words", Since("0.2")]
    assumed: Annotated[float, "The assumed value"]
    band: Annotated[ValueBand, "The range in which the true value is expected"]
    turns_at: Annotated[
        float | None,
        "The last value with `verdict_otherwise`; one `resolution` further it is `verdict`. Null "
        "if `side` is `anywhere`",
    ]
    side: Annotated[
        Literal["above", "below", "anywhere"],
        "On which side of the value at which it turns `verdict` holds; `anywhere` if it does as "
        "soon as any value of the band is stated, because what is only assumed rejects nothing",
    ]
    until: Annotated[
        float | None, "The value on that side at which it turns back; null if it does not"
    ]
    where: Annotated[
        str, "On which values of its band `verdict` holds, in words: `above 7.1 %`", Since("0.2")
    ]
    resolution: Annotated[float, "How far apart the values are that were tried"]
    unit: Annotated[str | None, "Unit of the value, or null if it has none"]
    verdict: Annotated[Verdict, "The graver verdict, if the value were measured on that side"]
    verdict_otherwise: Annotated[Verdict, "The verdict if it were measured on the other side"]
    codes: Annotated[tuple[CheckCode, ...], "The checks that make it graver"]
    still_beyond: Annotated[
        tuple[CheckCode, ...],
        "Those of `codes` whose limit is passed with `verdict_otherwise` as well: no errors there "
        "only because other values are assumed, so that measuring this one alone settles nothing",
    ]
    is_of_stock: Annotated[
        bool,
        "Whether it decides nothing but which reed serves of those in stock, which is settled when "
        "the reed is chosen",
        Since("0.2"),
    ]
    message: Annotated[str, "What follows from the value, in sentences"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerValue:
    """A value at the end of its band that makes things worse."""

    pointer: Annotated[str, "The field"]
    name: Annotated[str, "The field in words", Since("0.2")]
    value: Annotated[
        float,
        "The value: an end of its band, or beyond it if the band of another value moves the band",
    ]
    unit: Annotated[str | None, "Its unit, or null if it has none"]
    towards_limit_pct: Annotated[
        float | None,
        "How much of the distance of the deciding figure, as all is assumed, to its limit it takes "
        "up alone: 0 if it acts only together with the others, 100 if the loom is slowed so far "
        "that the limit is just kept; null if the figure is at its limit already, or is not "
        "compared, as all is assumed",
        Since("0.2"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class TurningCorner:
    """Assumed values that turn the verdict together, each at the end that makes things worse."""

    verdict: Annotated[Verdict, "The verdict with them"]
    codes: Annotated[
        tuple[CheckCode, ...],
        "The checks that make it graver: what is found with them, and not if the same fields are "
        "stated as they are assumed; with `turns_at`, what is found one `resolution` beyond it, "
        "and not at it",
    ]
    values: Annotated[
        tuple[CornerValue, ...],
        "The values, the most effective first and as many as it takes, all others being as they "
        "are assumed; empty if the verdict is so with all as they are assumed",
    ]
    turns_at: Annotated[
        float | None,
        "If it is one value, the last at which the limits of `codes` are not yet passed, all other "
        "values being stated as they are assumed; null if they are several, or if the limit is "
        "passed only where estimates are made anew",
    ]
    resolution: Annotated[
        float | None,
        "How far apart the values are of which that is one; null as it is",
        Since("0.2"),
    ]
    stated_as_assumed: Annotated[
        tuple[str, ...],
        "Pointers of the values that have to be stated beside them, as they are assumed, so that a "
        "validation finds the verdict: until then an error is a warning that rests on them. Not "
        "one of them can be left out",
    ]
    also_missed: Annotated[
        tuple[str, ...],
        "Pointers of further limits that the customer requires, which other values inside their "
        "bands miss together, each at a corner of its own, and none alone",
        Since("0.2"),
    ]
    message: Annotated[str, "What follows from them, in sentences"]


class Decided(NamedTuple):
    """What a verdict rests on.

    Attributes:
        decisive: The values that turn it alone, those of the gravest verdict first.
        holds: Whether none does, nor all together at the ends that make things worse.
        corner: The values that turn it together, unless one of them alone turns it as far, or the
            requirement that they miss.
        note: Why the verdict does not hold; ``None`` if it does.
        reed_note: With which values no reed in stock serves; ``None`` if with none.
    """

    decisive: tuple[DecisiveAssumption, ...]
    holds: bool
    corner: TurningCorner | None
    note: str | None = None
    reed_note: str | None = None


def note_of_reeds(decisive: Iterable[DecisiveAssumption]) -> str | None:
    """Say with which values no reed in stock serves, which decides nothing else."""
    turns: dict[str, list[DecisiveAssumption]] = {}
    for each in decisive:
        if each.is_of_stock:
            turns.setdefault(each.name, []).append(each)
    if not turns:
        return None
    values = ", or with ".join(
        f"{name} {' or '.join(each.where for each in some)} (assumed: {some[0].assumed:.6g}"
        f"{f' {some[0].unit}' if some[0].unit else ''})"
        for name, some in turns.items()
    )
    return (
        f"With {values}, no reed in stock serves ({CheckCode.REED_NOT_IN_STOCK}). The choice of "
        "the reed settles this."
    )
