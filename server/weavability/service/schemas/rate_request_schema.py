"""Insertion rates of a loom as a request asks for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Final

from marshmallow import fields

from weavability.answers.insertion_rate import (
    FEEDERS,
    MOST_SWEEP_POINTS,
    SWEPT,
    USUAL_SWEEP_POINTS,
    RateRequest,
    Sweep,
    SweepOver,
)
from weavability.looms.loom import Loom
from weavability.service.schemas.base import (
    Body,
    Part,
    ascending,
    at_most_one,
    without,
)
from weavability.service.schemas.fields import (
    Choice,
    Number,
    WholeNumber,
)
from weavability.service.schemas.request_schemas import OnLoomSchema, construction_part
from weavability.service.schemas.yarn_schema import YarnSchema
from weavability.textiles.bounds import SPEED_PICKS_PER_MIN, WIDTH_CM, Bounds
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import say
from weavability.textiles.units import CM_PER_INCH

_VARIED: Final = Bounds(
    min(each.least for each in SWEPT.values()),
    max(each.most for each in SWEPT.values()),
    " or ".join(each.unit for each in SWEPT.values()),
)
"""What either may be; the core knows the bounds of each."""


class SweepSchema(Body[Sweep]):
    """A row of points, both ends included: over the speed at the width in use, or over the width.

    Over the width, each point runs at the speed that the loom allows there.
    """

    title = "Sweep"

    class Meta(Body.Meta):
        """Fields whose names are keywords of the language."""

        include: ClassVar[dict[str, fields.Field[Any]]] = {
            "from": Number("First value of what is varied", _VARIED, example=300, required=True),
            "to": Number("Last value of what is varied", _VARIED, example=600, required=True),
        }

    over = Choice(SweepOver, "What is varied", example=SweepOver.SPEED, required=True)
    points = WholeNumber(
        f"Points; {USUAL_SWEEP_POINTS} if not given",
        Bounds(2, MOST_SWEEP_POINTS, "points"),
        example=USUAL_SWEEP_POINTS,
    )

    def judge(self, values: Mapping[str, Any], _given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require a greater value at the end."""
        yield from ascending(values, "from", "to")

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> Sweep:
        """Make the sweep."""
        return Sweep(start=values.pop("from"), stop=values.pop("to"), **values)


@dataclass(frozen=True, slots=True, kw_only=True)
class RateQuestion(RateRequest):
    """What is known of weft, width and speed, and the loom: stated, or named in the park."""

    loom: Loom | None = None
    loom_id: str | None = None


class RateRequestSchema(OnLoomSchema[RateQuestion]):
    """A loom (exactly one of loom and loom_id), width in use, weft and requested speed.

    Width, wefts and speed come from the construction if they are not stated beside it. At most
    one of reed_width_cm and reed_width_in; without either, and without a construction, the loom's
    full reed width is taken.
    """

    title = "InsertionRateRequest"
    makes = RateQuestion

    reed_width_cm = Number("Reed width in use", WIDTH_CM, example=160)
    reed_width_in = Number("Reed width in use", WIDTH_CM.in_inches(), example=63)
    construction = construction_part("The cloth that is to be woven")
    weft = Part(YarnSchema(), "The weft", example={"designation": "Ne 20", "fibre": "cotton"})
    speed_picks_per_min = Number("Requested speed", SPEED_PICKS_PER_MIN, example=520)
    feeders = WholeNumber("Feeders that deliver each weft in turn", FEEDERS, example=2)
    sweep = Part(
        SweepSchema(), "A row of points to compute as well", example={"over": "reed_width_cm"}
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require one loom; take the width in one unit only."""
        yield from super().judge(values, given)
        yield from at_most_one(
            given,
            "reed_width_cm",
            "reed_width_in",
            words=say("part.the_reed_width", "the reed width"),
        )
        weft = given.get("weft")
        if isinstance(weft, dict):
            because = say(
                "part.straight_weft",
                "the weft is inserted straight, whatever its crimp in the cloth",
            )
            for fault in without(("crimp_pct", "contraction_pct"), weft, because=because):
                yield replace(fault, pointer=f"/weft{fault.pointer}")

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> RateQuestion:
        """Make the question in metric units."""
        if "reed_width_in" in values:
            values["reed_width_cm"] = values.pop("reed_width_in") * CM_PER_INCH
        return RateQuestion(**values)
