"""The body of a request about a weave on its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from weavability.answers.weave_analysis.request import ColouredThreads, DraftToCheck, WeaveRequest
from weavability.service.schemas.base import Body, Part, at_most_one
from weavability.service.schemas.construction_schema import LayersSchema
from weavability.service.schemas.fields import Choice, Number, Text, WholeNumber
from weavability.service.schemas.reed_and_draft_schema import Threading
from weavability.service.schemas.shedding_schema import SheddingSchema
from weavability.service.schemas.weave_schema import Rows, StatedWeave, WeaveField
from weavability.service.schemas.yarn_schema import ByYarn, colour_field, order_faults
from weavability.textiles.bounds import (
    ENDS_PER_CM,
    MOST_YARNS,
    PICKS_PER_CM,
    SHAFT,
    WIDTH_CM,
    Bounds,
)
from weavability.textiles.cloth_bounds import MOST_ENDS
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import say
from weavability.textiles.thread_order import LONGEST_TEXT
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.weave_matrix import write_rows

_COLOURS: Final = {"A": "#1c2a4a", "B": "#f4f1e8"}


class View(StrEnum):
    """What a drawing shows."""

    POINT_PAPER = "point_paper"
    CLOTH_FACE = "cloth_face"


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveQuestion:
    """A request about a weave, and what a drawing of it shows."""

    request: WeaveRequest
    view: View


class ColourMap(ByYarn[str]):
    """The colour of each yarn by the key that the thread order uses for it."""

    def __init__(self, description: str) -> None:
        colour = colour_field("Colour as #rrggbb", called=say("part.the_colour", "the colour"))
        super().__init__(colour, description, example=_COLOURS)

    def allowed(self) -> str:
        """Return how many and what the keys are."""
        return f'an object of 1 to {MOST_YARNS} colours by key, such as {{"A": "#1c2a4a"}}'


class ColouredThreadsSchema(Body[ColouredThreads]):
    """Warp or weft in colours: the thread order, and the colour of each of its yarns."""

    title = "ColouredThreads"

    order = Text(
        "Thread order, such as `24A 4B`; needed for more than one colour",
        example="24A 4B",
        longest=LONGEST_TEXT,
    )
    colours = ColourMap("Colours by their key in the thread order")

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require an order that goes with the colours."""
        yield from order_faults(given, values, "colours")

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> ColouredThreads:
        """Make the order; that of a single colour is plain."""
        colours = values["colours"]
        return ColouredThreads(order=values.get("order") or next(iter(colours)), colours=colours)


class DraftToCheckSchema(Body[DraftToCheck]):
    """A drawing-in that is checked against the weave; its lift plan is derived if not given."""

    title = "DraftToCheck"
    makes = DraftToCheck

    threading = Threading(
        "Named draft, or the shaft (from 1) of every end, for one repeat or several",
        example="straight",
    )
    lift_plan = Rows(
        "One string a pick, one character a shaft, 1 = lifted",
        example=["1100", "0110", "0011", "1001"],
        required=False,
    )
    shafts = WholeNumber(
        "Shafts of a named threading", Bounds(SHAFT.least, SHAFT.most, "shafts"), example=8
    )


class WeaveRequestSchema(Body[WeaveQuestion]):
    """A weave, and as much else as is known: the more is stated, the more is computed.

    Setts give the floats in mm and the repeat in cm; colours give the colour repeat and the face;
    shedding and width give the shafts or hooks needed. A weave that is stated by a threading is
    also checked against it, unless draft gives another.
    """

    title = "WeaveRequest"

    weave = WeaveField("The weave", example="2/2 twill Z")
    ends_per_cm = Number("Sett of the warp in the cloth", ENDS_PER_CM, example=32)
    ends_per_in = Number("Sett of the warp in the cloth", ENDS_PER_CM.in_inches(), example=80)
    picks_per_cm = Number("Sett of the weft in the cloth", PICKS_PER_CM, example=24)
    picks_per_in = Number("Sett of the weft in the cloth", PICKS_PER_CM.in_inches(), example=60)
    layers = Part(
        LayersSchema(),
        "The layer of each thread, for double, backed and pile cloths",
        example={"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"},
    )
    warp = Part(ColouredThreadsSchema(), "Colours of the ends", example={"colours": _COLOURS})
    weft = Part(ColouredThreadsSchema(), "Colours of the picks", example={"colours": _COLOURS})
    total_ends = WholeNumber(
        "Ends of the ground over the whole width, without selvedges",
        Bounds(1, MOST_ENDS, "ends"),
        example=4_864,
    )
    reed_width_cm = Number("Width of those ends in the reed", WIDTH_CM, example=160)
    reed_width_in = Number("Width of those ends in the reed", WIDTH_CM.in_inches(), example=63)
    draft = Part(
        DraftToCheckSchema(),
        "A drawing-in that is checked against the weave",
        example={"threading": "straight"},
    )
    shedding = Part(
        SheddingSchema(),
        "The shedding motion that is to weave it",
        example={"kind": "dobby", "shafts": 20},
    )
    against = WeaveField(
        "Another weave, which is compared with it", example="2/2 twill S", required=False
    )
    view = Choice(
        View,
        "What a drawing shows: point paper with draft and lift plan if not given, or the face "
        "of the cloth in its colours",
        example=View.POINT_PAPER,
    )

    def judge(self, _values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take setts and width in one unit each."""
        yield from at_most_one(
            given, "ends_per_cm", "ends_per_in", words=say("part.the_ends", "the ends")
        )
        yield from at_most_one(
            given, "picks_per_cm", "picks_per_in", words=say("part.the_picks", "the picks")
        )
        yield from at_most_one(
            given,
            "reed_width_cm",
            "reed_width_in",
            words=say("part.the_reed_width", "the reed width"),
        )

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> WeaveQuestion:
        """Make the question in metric units."""
        view = values.pop("view", View.POINT_PAPER)
        stated: StatedWeave = values.pop("weave")
        against: StatedWeave | None = values.pop("against", None)
        for threads in ("ends", "picks"):
            if f"{threads}_per_in" in values:
                values[f"{threads}_per_cm"] = values.pop(f"{threads}_per_in") / CM_PER_INCH
        if "reed_width_in" in values:
            values["reed_width_cm"] = values.pop("reed_width_in") * CM_PER_INCH
        values.setdefault("draft", _draft_of(stated))
        request = WeaveRequest(
            weave=stated.weave,
            weave_notes=stated.notes,
            against=None if against is None else against.weave,
            **values,
        )
        return WeaveQuestion(request=request, view=view)


def _draft_of(stated: StatedWeave) -> DraftToCheck | None:
    """Return the draft by which the weave was stated."""
    if stated.draft is None:
        return None
    plan = write_rows(stated.draft.lift_plan)
    return DraftToCheck(threading=stated.draft.threading, lift_plan=plan)
