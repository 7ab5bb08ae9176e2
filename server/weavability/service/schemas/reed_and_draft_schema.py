"""Reed and drawing-in of a request."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from weavability.looms.reeds import reed_system, reed_systems
from weavability.service.schemas.base import Body, at_most_one
from weavability.service.schemas.faults import refused
from weavability.service.schemas.fields import (
    Described,
    Items,
    Number,
    Shape,
    Text,
    WholeNumber,
)
from weavability.textiles.bounds import (
    CONSTRUCTION_BOUNDS,
    DENTS_PER_10CM,
    LONGEST_DRAFT,
    SHAFT,
)
from weavability.textiles.construction import (
    DraftRequest,
    Reed,
)
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.sentences import say


class ReedSchema(Body[Reed]):
    """The reed that the order requests: dents_per_10cm, or count and system.

    It holds ends_per_dent everywhere, or the repeat of an uneven denting.
    """

    title = "Reed"
    makes = Reed

    dents_per_10cm = Number("Dents in 10 cm of the reed", DENTS_PER_10CM, example=160)
    count = Number(
        "The reed in another counting system, in place of dents_per_10cm",
        CONSTRUCTION_BOUNDS["/reed/count"],
        example=60,
    )
    system = Text("Counting system of count", example="stockport", longest=40)
    ends_per_dent = WholeNumber(
        "Ends drawn into one dent", CONSTRUCTION_BOUNDS["/reed/ends_per_dent"], example=2
    )
    ends_in_dents = Items(
        WholeNumber("Ends in a dent", CONSTRUCTION_BOUNDS["/reed/ends_in_dents"], example=2),
        "One repeat of an uneven denting: ends in each dent, 0 for an empty one",
        fewest=1,
        most=1_000,
    )
    wire_share_pct = Number(
        "Share of a dent that its wire takes",
        CONSTRUCTION_BOUNDS["/reed/wire_share_pct"],
        example=35,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take the reed and its denting in one form each; a count needs its system."""
        yield from at_most_one(
            given, "dents_per_10cm", "count", words=say("part.the_reed", "the reed")
        )
        yield from at_most_one(
            given, "ends_per_dent", "ends_in_dents", words=say("part.the_denting", "the denting")
        )
        if "count" in given and "system" not in given:
            systems = sorted(reed_systems())
            yield Fault(
                "/system",
                say(
                    "fault.reed.system_missing", "system is missing: the counting system of count."
                ),
                None,
                systems,
            )
        if "system" in given and "count" not in given:
            yield Fault(
                "/count",
                say(
                    "fault.reed.count_missing",
                    "count is missing: a counting system alone states no reed.",
                ),
            )
        if "system" in values:
            faults: list[Fault] = []
            with collecting(faults):
                reed_system(values["system"])
            yield from faults


_NAMED_THREADING: Final = Text("Named draft", example="straight", longest=80)


_SHAFT: Final = WholeNumber("Shaft of an end", SHAFT, example=1)


class Threading(Described[str | tuple[int, ...]]):
    """A named draft, or the shaft of every end of the repeat."""

    def __init__(self, description: str, *, example: object) -> None:
        super().__init__(description, example=example, required=True)

    def allowed(self) -> str:
        """Return both forms."""
        return 'a named draft such as "straight", or a list of shafts such as [1, 2, 3, 4]'

    def kind(self) -> Shape:
        """Return the JSON Schema of the value alone."""
        shafts: Shape = {
            "type": "array",
            "minItems": 1,
            "maxItems": LONGEST_DRAFT,
            "items": _SHAFT.kind(),
        }
        return {"anyOf": [_NAMED_THREADING.kind(), shafts]}

    def _deserialize(self, value: Any, *_: object, **__: object) -> str | tuple[int, ...]:
        if isinstance(value, str):
            named: str = _NAMED_THREADING.deserialize(value)
            return named
        if isinstance(value, list) and 1 <= len(value) <= LONGEST_DRAFT:
            return tuple(_shafts(value))
        message = say(
            "fault.draft.not_a_threading",
            "{field} must be a named draft or a list of 1 to {most_shafts} shafts.",
            field=self.label,
            most_shafts=LONGEST_DRAFT,
        )
        raise self.refusal(message, value)


def _shafts(stated: list[object]) -> list[int]:
    """Read a list in one pass: a draft may have 20 000 ends."""
    good = [shaft for shaft in stated if type(shaft) is int and shaft in SHAFT]
    if len(good) < len(stated):
        least, most = SHAFT.least, SHAFT.most
        raise refused(
            *(
                Fault(
                    f"/{index}",
                    say(
                        "fault.draft.not_a_shaft",
                        "A shaft is a whole number from {least} to {most}.",
                        least=least,
                        most=most,
                    ),
                    shaft,
                    f"{least} to {most}",
                )
                for index, shaft in enumerate(stated)
                if type(shaft) is not int or shaft not in SHAFT
            )
        )
    return good


class DraftSchema(Body[DraftRequest]):
    """The drawing-in that the order requests."""

    title = "Draft"
    makes = DraftRequest

    threading = Threading(
        "Named draft, or the shaft (from 1) of every end of the repeat", example="straight"
    )
