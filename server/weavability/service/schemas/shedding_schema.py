"""The shedding motion of a loom as JSON, with the tie of a harness."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from weavability.looms.harness_tie import MOST_SECTIONS, TieOrder, TiePoint, TieSection
from weavability.looms.loom import Shedding, SheddingKind
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.service.schemas.base import Body, Part, without
from weavability.service.schemas.fields import Choice, Items, Number, WholeNumber
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import Sentence, say

_SHAFT_FIELDS: Final = ("shafts", "max_healds_per_cm_per_shaft", "max_healds_per_shaft")
_HOOK_FIELDS: Final = (
    *("hooks", "ends_per_hook", "harness_ends_per_cm", "selvedge_hooks"),
    *("cord_cm", "hook_lift_cm", "tie"),
)
_TIE: Final[list[object]] = [
    {"from_hook": 1, "hooks": 80, "order": "centred"},
    {"from_hook": 81, "hooks": 120, "times": 4},
    {"from_hook": 1, "hooks": 80, "order": "centred"},
]
_STRANGERS: Final[Mapping[SheddingKind, tuple[str, ...]]] = {
    SheddingKind.CAM: ("max_pattern_picks", *_HOOK_FIELDS),
    SheddingKind.DOBBY: ("max_repeat_picks", *_HOOK_FIELDS),
    SheddingKind.JACQUARD: ("max_repeat_picks", *_SHAFT_FIELDS),
}
_NEEDED: Final[Mapping[SheddingKind, str]] = {
    SheddingKind.CAM: "shafts",
    SheddingKind.DOBBY: "shafts",
    SheddingKind.JACQUARD: "hooks",
}
_MOTIONS: Final[Mapping[SheddingKind, Sentence]] = {
    SheddingKind.CAM: say("part.a_cam_motion", "A cam motion"),
    SheddingKind.DOBBY: say("part.a_dobby", "A dobby"),
    SheddingKind.JACQUARD: say("part.a_jacquard", "A Jacquard"),
}


class TieSectionSchema(Body[TieSection]):
    """Neighbouring ends of a Jacquard whose hooks follow one another."""

    title = "TieSection"
    makes = TieSection

    from_hook = WholeNumber(
        "The first hook of the section, from 1",
        LOOM_BOUNDS["/shedding/tie/from_hook"],
        example=1,
        required=True,
    )
    hooks = WholeNumber(
        "Hooks of the section", LOOM_BOUNDS["/shedding/tie/hooks"], example=80, required=True
    )
    order = Choice(
        TieOrder,
        "From the first hook to the last, from the last to the first, or there and back; straight "
        "if not given",
        example=TieOrder.CENTRED,
    )
    times = WholeNumber(
        "How often the section is repeated side by side; once if not given",
        LOOM_BOUNDS["/shedding/tie/times"],
        example=4,
    )
    point = Choice(
        TiePoint,
        "Whether a centred section has one end on the hook at which it turns, or two; two if not "
        "given",
        example=TiePoint.DOUBLE,
    )


class SheddingSchema(Body[Shedding]):
    """The shedding motion: cam and dobby need shafts, a Jacquard needs hooks."""

    title = "Shedding"
    makes = Shedding

    kind = Choice(SheddingKind, "How the shed is made", example=SheddingKind.DOBBY, required=True)
    shafts = WholeNumber(
        "Heald shafts; needed for cam and dobby", LOOM_BOUNDS["/shedding/shafts"], example=20
    )
    max_repeat_picks = WholeNumber(
        "Longest lift repeat of a cam motion", LOOM_BOUNDS["/shedding/max_repeat_picks"], example=8
    )
    max_pattern_picks = WholeNumber(
        "Longest lift plan of a dobby, or design of a Jacquard",
        LOOM_BOUNDS["/shedding/max_pattern_picks"],
        example=6_400,
    )
    max_speed_picks_per_min = Number(
        "Greatest speed of the shedding motion",
        LOOM_BOUNDS["/shedding/max_speed_picks_per_min"],
        example=600,
    )
    max_healds_per_cm_per_shaft = Number(
        "Crowding limit of the healds",
        LOOM_BOUNDS["/shedding/max_healds_per_cm_per_shaft"],
        example=10,
    )
    max_healds_per_shaft = WholeNumber(
        "Healds that fit on one shaft", LOOM_BOUNDS["/shedding/max_healds_per_shaft"], example=1_800
    )
    hooks = WholeNumber(
        "Hooks that lift ends of the ground; needed for a Jacquard",
        LOOM_BOUNDS["/shedding/hooks"],
        example=2_688,
    )
    ends_per_hook = WholeNumber(
        "Ends tied to each hook: repeats of the harness across the width",
        LOOM_BOUNDS["/shedding/ends_per_hook"],
        example=4,
    )
    harness_ends_per_cm = Number(
        "Density to which the harness is tied, in the reed",
        LOOM_BOUNDS["/shedding/harness_ends_per_cm"],
        example=60,
    )
    selvedge_hooks = WholeNumber(
        "Further hooks kept for the selvedges", LOOM_BOUNDS["/shedding/selvedge_hooks"], example=32
    )
    cord_cm = Number(
        "Height of the hooks above the comber board; with the lift, what the slant of the "
        "outermost cords takes of it is judged",
        LOOM_BOUNDS["/shedding/cord_cm"],
        example=140,
    )
    hook_lift_cm = Number(
        "How high the hooks are lifted", LOOM_BOUNDS["/shedding/hook_lift_cm"], example=7
    )
    tie = Items(
        Part(TieSectionSchema(), "A section", required=True, example=_TIE[0]),
        "How the ends are tied to the hooks, section by section from the left, in place of "
        "ends_per_hook",
        fewest=1,
        most=MOST_SECTIONS,
        example=_TIE,
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Require what this kind of shedding needs; refuse what belongs to another kind."""
        if "kind" not in values:
            return
        kind: SheddingKind = values["kind"]
        needed = _NEEDED[kind]
        if needed not in given:
            yield Fault(
                f"/{needed}",
                say(
                    "fault.shedding.field_missing",
                    "{motion} needs {field}.",
                    motion=_MOTIONS[kind],
                    field=needed,
                ),
            )
        yield from without(
            _STRANGERS[kind],
            given,
            because=say(
                "part.limit_of_other_motion", "a {kind} motion has no such limit", kind=kind
            ),
        )
        if "tie" in given:
            because = say("part.tie_states_ends", "the tie says how many ends each hook has")
            yield from without(("ends_per_hook",), given, because=because)
