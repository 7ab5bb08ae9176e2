"""The body of a request for a window: an order on a loom, and the two fields that are varied."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from marshmallow import fields

from weavability.answers.window import MOST_ALONG_AN_AXIS, MOST_POINTS, Stretch
from weavability.looms.loom import Loom
from weavability.service.schemas.base import Body, Part, ascending
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.fields import Number, Text, WholeNumber
from weavability.service.schemas.request_schemas import OnLoomSchema
from weavability.textiles.bounds import Bounds
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault

_ANY_VALUE: Final = Bounds(-1_000, 100_000_000)
_POINTS: Final = 50
_LONGEST_POINTER: Final = 120


class VariedFieldSchema(Body[Stretch]):
    """A numeric field of construction or loom, and the values over which it is varied.

    Both ends are included. A field that counts has each whole number once.
    """

    title = "VariedField"

    class Meta(Body.Meta):
        """Fields whose names are keywords of the language."""

        include: ClassVar[dict[str, fields.Field[Any]]] = {
            "from": Number(
                "First value, within the bounds of the field", _ANY_VALUE, example=16, required=True
            ),
            "to": Number(
                "Last value, within the bounds of the field", _ANY_VALUE, example=40, required=True
            ),
        }

    pointer = Text(
        "JSON Pointer of the field in this request; of a yarn's designation, the count in it is "
        "varied",
        longest=_LONGEST_POINTER,
        example="/construction/weft/picks_per_cm",
        required=True,
    )
    points = WholeNumber(
        f"Points; {_POINTS} if not given, and at most {MOST_POINTS} with those of the other field",
        Bounds(2, MOST_ALONG_AN_AXIS, "points"),
        example=_POINTS,
    )

    def judge(self, values: Mapping[str, Any], _given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require a greater value at the end."""
        yield from ascending(values, "from", "to")

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> Stretch:
        """Make the stretch."""
        return Stretch(
            pointer=values["pointer"],
            start=values["from"],
            stop=values["to"],
            points=values.get("points", _POINTS),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowRequest:
    """An order, its loom (stated, or named in the park), and the two fields that are varied."""

    construction: Construction
    across: Stretch
    along: Stretch
    loom: Loom | None = None
    loom_id: str | None = None


class WindowRequestSchema(OnLoomSchema[WindowRequest]):
    """An order on a loom (exactly one of loom and loom_id), and two numeric fields to vary."""

    title = "WindowRequest"
    makes = WindowRequest

    construction = Part(
        ConstructionSchema(), "The cloth as ordered", required=True, example={"weave": "plain"}
    )
    across = Part(
        VariedFieldSchema(),
        "The field that is varied along each row of the grid",
        required=True,
        example={"pointer": "/construction/warp/ends_per_cm", "from": 16, "to": 40},
    )
    along = Part(
        VariedFieldSchema(),
        "The field that is varied from row to row",
        required=True,
        example={"pointer": "/construction/weft/picks_per_cm", "from": 12, "to": 40},
    )
