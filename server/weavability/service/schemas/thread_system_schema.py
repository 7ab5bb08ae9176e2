"""Warp and weft of a request: yarns, thread orders, setts and the beams of groups of ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

from weavability.service.schemas.base import Body, Part, Recurring, at_most_one, exactly_one
from weavability.service.schemas.fields import (
    Items,
    Number,
    Text,
)
from weavability.service.schemas.yarn_schema import YarnKey, YarnMap
from weavability.textiles.bounds import (
    CONSTRUCTION_BOUNDS,
    ENDS_PER_CM,
    MOST_WARP_GROUPS,
    MOST_YARNS,
    PICKS_PER_CM,
)
from weavability.textiles.construction import (
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.sentences import say
from weavability.textiles.thread_order import LONGEST_TEXT
from weavability.textiles.thread_systems import stated_crimps_pct
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.warp_groups import group_faults

WARP_YARNS: Final = {"A": {"designation": "Ne 40/2", "fibre": "cotton"}}


WEFT_YARNS: Final = {"A": {"designation": "Ne 20", "fibre": "cotton"}}


class _ThreadSystemSchema(Recurring[ThreadSystem]):
    """What warp and weft have in common."""

    most_kept = 1_024
    _threads: str

    yarns = YarnMap("Yarns by their key in the thread order", example=WARP_YARNS)
    order = Text(
        "Thread order, with groups if there are any: `24A 4B`, `3(2A 2B) 4C`; "
        "needed for more than one yarn",
        example="24A 4B 24A 8B",
        longest=LONGEST_TEXT,
    )
    crimp_pct = Number(
        "Crimp on the length of the grey cloth, (yarn - cloth) / cloth, "
        "of the yarns that state none of their own",
        CONSTRUCTION_BOUNDS["/warp/crimp_pct"],
        example=8,
    )
    contraction_pct = Number(
        "The same on yarn length, (yarn - cloth) / yarn, in place of crimp_pct",
        CONSTRUCTION_BOUNDS["/warp/contraction_pct"],
        example=7.4,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require the sett in exactly one unit, and the crimp once."""
        per_cm, per_in = f"{self._threads}_per_cm", f"{self._threads}_per_in"
        yield from exactly_one(
            given,
            per_cm,
            per_in,
            words=say("part.the_sett", "the sett"),
            at_start=say("part.the_sett_at_start", "The sett"),
        )
        twice = list(
            at_most_one(
                given, "crimp_pct", "contraction_pct", words=say("part.the_crimp", "the crimp")
            )
        )
        yield from twice
        if "yarns" in values and not twice:
            faults: list[Fault] = []
            with collecting(faults):
                stated_crimps_pct(
                    values["yarns"],
                    crimp_pct=values.get("crimp_pct"),
                    contraction_pct=values.get("contraction_pct"),
                )
            yield from faults

    def build(self, values: dict[str, Any], _given: Mapping[str, Any], /) -> ThreadSystem:
        """Make warp or weft, threads per inch converted."""
        per_cm = values.pop(f"{self._threads}_per_cm", None)
        per_in = values.pop(f"{self._threads}_per_in", None)
        threads_per_cm = per_cm if per_cm is not None else per_in / CM_PER_INCH
        return ThreadSystem(threads_per_cm=threads_per_cm, **values)


WARP_GROUP_NAME: Final = r"[A-Za-z][A-Za-z0-9_-]{0,31}"


class WarpGroupSchema(Body[WarpGroup]):
    """Ends with a beam of their own, such as those of pile."""

    title = "WarpGroup"
    makes = WarpGroup

    name = Text(
        "What the mill calls them",
        example="pile",
        longest=32,
        pattern=WARP_GROUP_NAME,
        pattern_words="a letter, then letters, digits, _ or -",
        required=True,
    )
    yarns = Items(
        YarnKey("Key of a yarn of the warp", example="P"),
        "Keys of their yarns; every yarn of the warp is in exactly one group",
        fewest=1,
        most=MOST_YARNS,
        required=True,
    )
    pile_ratio = Number(
        "Yarn length per cloth length, for ends that weave pile",
        CONSTRUCTION_BOUNDS["/warp/beams/pile_ratio"],
        example=5.2,
    )
    density_g_per_cm3 = Number(
        "Density of their yarn wound on the beam; that of the loom's beams, or by the kind of "
        "yarn, if not given",
        CONSTRUCTION_BOUNDS["/warp/beams/density_g_per_cm3"],
        example=0.45,
    )


_BEAMS: Final = [
    {"name": "ground", "yarns": ["A"]},
    {"name": "pile", "yarns": ["P"], "pile_ratio": 5.2},
]


_WARP_SETT: Final = "Sett of the warp at the stated stage"


_WEFT_SETT: Final = "Sett of the weft at the stated stage"


class WarpSchema(_ThreadSystemSchema):
    """The warp: yarns, their order, and the sett: exactly one of ends_per_cm and ends_per_in.

    A yarn that only the selvedge has may be missing from the order, which the construction judges.
    """

    title = "Warp"
    _threads = "ends"

    ends_per_cm = Number(_WARP_SETT, ENDS_PER_CM, example=32)
    ends_per_in = Number(_WARP_SETT, ENDS_PER_CM.in_inches(), example=80)
    beams = Items(
        Part(WarpGroupSchema(), "A group of ends", example=_BEAMS[0]),
        "Groups of ends with a beam of their own; all ends come from one warp if not given",
        example=_BEAMS,
        fewest=1,
        most=MOST_WARP_GROUPS,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require that the groups go with the yarns, too."""
        yield from super().judge(values, given)
        yarns = given.get("yarns")
        if "beams" in values and isinstance(yarns, dict):
            for fault in group_faults(values["beams"], yarns):
                yield replace(fault, pointer=f"/beams{fault.pointer}")


class WeftSchema(_ThreadSystemSchema):
    """The weft: yarns, their order, and the sett: exactly one of picks_per_cm and picks_per_in."""

    title = "Weft"
    _threads = "picks"

    picks_per_cm = Number(_WEFT_SETT, PICKS_PER_CM, example=24)
    picks_per_in = Number(_WEFT_SETT, PICKS_PER_CM.in_inches(), example=60)
