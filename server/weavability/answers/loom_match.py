"""A loom in a ranking, and the ranking: the records that the answer is written from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, Final

from weavability.answers.decisive_section import DecisiveAssumption, TurningCorner
from weavability.answers.field_words import (
    CautionText,
    CostForOrder,
    CostPerM,
    CostPerM2,
    DecidingLimit,
    ExpectedHours,
    HooksCastOut,
    InsertedWeft,
    LoomHourPrice,
    LoomName,
    OffLoomHours,
    OrderReference,
    OutputPerHour,
    ReedWidthUse,
    RejectedIfAssumed,
    RouteTaken,
    RulesetDigest,
    RunningSpeed,
    Since,
)
from weavability.answers.verdicts import Codes
from weavability.checks.finding import Verdict
from weavability.textiles.assumptions import Assumption
from weavability.textiles.order_lengths import USUAL_LENGTH

MOST_LOOMS_DECIDED: Final = 8
"""The best ranked looms, of which it is found what their verdicts rest on, if that is requested."""


class RankBy(StrEnum):
    """What looms of the same verdict are ranked by."""

    HOURS = "hours"
    COST = "cost"


_REFUSED_FIRST: Final = (
    "of those that cannot weave it first by what a change of the order mends: reed width that is "
    "missing for a panel, then the number of errors"
)


_VERDICT: Final = "verdict, then whether it is weavable if all is as it is assumed"
_HOURS: Final = "running, change-over and tying in further warps"


RANKED_BY: Final[Mapping[RankBy, str]] = MappingProxyType(
    {
        RankBy.HOURS: f"{_VERDICT}, then hours ({_HOURS}) for the order, then reed width use; "
        f"{_REFUSED_FIRST}",
        RankBy.COST: f"{_VERDICT}, then the fewest things that are not priced, then cost per "
        f"metre, then hours ({_HOURS}) for the order, then reed width use; "
        f"{_REFUSED_FIRST}",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverSummary:
    """The change from the cloth that is on the loom."""

    route: RouteTaken
    loom_stop_hours: Annotated[float, "Hours that the loom is stopped"]
    loom_stop_hours_band: Annotated[ExpectedHours, Since("0.2")]
    off_loom_hours: OffLoomHours
    off_loom_hours_band: Annotated[ExpectedHours, Since("0.2")]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostSummary:
    """The cost of the order on one loom, as far as it is priced."""

    cost_per_m: CostPerM
    cost_per_m2: CostPerM2
    cost_for_order: CostForOrder
    loom_hour: LoomHourPrice
    changeover_hours: Annotated[
        float,
        "Hours of change-over that are priced: those of `changeover`, or as usual for a new style",
    ]
    not_priced: Annotated[tuple[str, ...], "What the order takes and is in no sum"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomMatch:
    """One loom in the ranking."""

    rank: Annotated[int, "1 for the best; looms with equal figures follow in the order given"]
    index: Annotated[int, "Its place among the looms as given, from 0"]
    loom_id: LoomName
    verdict: Annotated[Verdict, "The answer for this loom in a word"]
    codes: Annotated[Codes, "Codes of the findings; `/v1/checks/{code}` explains each"]
    rejected_if_assumed: RejectedIfAssumed
    speed_picks_per_min: RunningSpeed
    limited_by: DecidingLimit
    insertion_rate_m_per_min: InsertedWeft
    output_m_per_h: OutputPerHour
    running_hours: Annotated[
        float, f"Hours of weaving for the order, or for {USUAL_LENGTH} if it states no length"
    ]
    further_warps_hours: Annotated[
        float,
        "Hours that the loom is stopped while the warps of the order after the first are tied in",
        Since("0.2"),
    ]
    further_warps_hours_band: Annotated[ExpectedHours, Since("0.2")]
    hours: Annotated[
        float,
        "Running, change-over and tying in further warps together; what the ranking compares",
    ]
    reed_width_use_pct: ReedWidthUse
    idle_shafts: Annotated[int | None, "Shafts of the loom that stay empty; null on a Jacquard"]
    idle_hooks: HooksCastOut
    changeover: Annotated[
        ChangeoverSummary | None,
        "The change from the cloth that is on the loom, if that was stated and the loom can weave "
        "the new one",
    ]
    costs: Annotated[
        CostSummary | None,
        "What the order costs on this loom; null if the request states no prices",
        Since("0.2"),
    ]
    reason: Annotated[str, "Why it has this rank, in a line"]
    verdict_holds: Annotated[
        bool | None,
        "Whether the verdict is the same over the bands of all assumed values, as in a validation; "
        f"null unless requested, and below rank {MOST_LOOMS_DECIDED}",
        Since("0.2"),
    ]
    verdict_holds_note: Annotated[
        str | None, "Why it does not hold; null if it does, or likewise", Since("0.2")
    ]
    decisive_assumptions: Annotated[
        tuple[DecisiveAssumption, ...] | None,
        "Assumed values that turn the verdict inside their bands; null likewise",
        Since("0.2"),
    ]
    reed_note: Annotated[
        str | None,
        "With which of them no reed in stock serves, in a sentence; null if with none, or likewise",
        Since("0.2"),
    ]
    turning_corner: Annotated[
        TurningCorner | None,
        "Assumed values that turn it together; null likewise, or if none do or one alone does as "
        "much and no requirement is in doubt",
        Since("0.2"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchReport:
    """Every loom, the best first."""

    ruleset: RulesetDigest
    reference: OrderReference
    ranked_by: Annotated[str, "The order of the ranking"]
    currency: Annotated[str | None, "Label of the currency of the costs, as sent", Since("0.2")]
    counts: Annotated[dict[str, int], "Looms by verdict"]
    matches: Annotated[tuple[LoomMatch, ...], "Every loom, the best first"]
    assumptions: Annotated[
        tuple[Assumption, ...],
        "On the construction, and thresholds that the mill has set itself; those on a loom are in "
        "its own validation",
    ]
    caution: CautionText
