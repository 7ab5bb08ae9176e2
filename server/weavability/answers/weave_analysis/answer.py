"""The sheet of a weave: the answer to one request, plain data in the order in which it is written.

Rows are picks, the first pick first; 1 is a raised warp end, the first end first. Threads, shafts
and treadles are numbered from 1. What would be too long to print is ``None``, and ``left_out`` says
why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from weavability.answers.field_words import AssumedValues, CautionText
from weavability.answers.layer_summary import LayersInWeave
from weavability.checks.finding import Finding
from weavability.textiles.colouring import Centring
from weavability.textiles.draft_kinds import DraftKind
from weavability.textiles.field_marks import Since
from weavability.textiles.sentences import WrittenValue
from weavability.textiles.weave_structure import Face

DraftInUse = Literal["given", "spread", "least"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A part of the sheet that was not computed or not printed."""

    pointer: Annotated[str, "JSON Pointer of the part, relative to the sheet"]
    reason: Annotated[str, "Why, with the size that decided it"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatSheet:
    """The true smallest repeat."""

    ends: Annotated[int, "Ends of the repeat"]
    picks: Annotated[int, "Picks of the repeat"]
    crossings: Annotated[int, "Ends times picks"]
    width_cm: Annotated[float | None, "Width of one repeat; null if the ends per cm are not known"]
    length_cm: Annotated[
        float | None, "Length of one repeat; null if the picks per cm are not known"
    ]
    rows: Annotated[tuple[str, ...] | None, "The matrix"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatSheet:
    """The longest floats of four kinds: threads that a thread passes on one side."""

    warp_face_float_picks: Annotated[int, "Picks that an end passes over"]
    warp_back_float_picks: Annotated[int, "Picks that an end passes under"]
    weft_face_float_ends: Annotated[int, "Ends that a pick passes over"]
    weft_back_float_ends: Annotated[int, "Ends that a pick passes under"]
    mean_warp_float_picks: Annotated[float, "Picks per interlacing along an end"]
    mean_weft_float_ends: Annotated[float, "Ends per interlacing along a pick"]
    warp_face_float_mm: Annotated[
        float | None, "The longest float of an end on the face, if the picks are known"
    ]
    warp_back_float_mm: Annotated[
        float | None, "The longest float of an end on the back, if the picks are known"
    ]
    weft_face_float_mm: Annotated[
        float | None, "The longest float of a pick on the face, if the ends are known"
    ]
    weft_back_float_mm: Annotated[
        float | None, "The longest float of a pick on the back, if the ends are known"
    ]
    longest_float_mm: Annotated[
        float | None, "The longest of the four in the cloth, if both setts are known"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class InterlacingSheet:
    """Changes of side over the repeat."""

    of_ends: Annotated[int, "Changes of side of all ends together"]
    of_picks: Annotated[int, "Changes of side of all picks together"]
    per_end: Annotated[tuple[int, ...] | None, "Changes of side of every end"]
    per_pick: Annotated[tuple[int, ...] | None, "Changes of side of every pick"]
    uneven_ends: Annotated[
        bool, "The ends do not all interlace equally often, so that they take up unequally"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSheet:
    """A cloth of its own, or a thread that lies loose."""

    end_count: Annotated[int, "Its ends in the repeat"]
    pick_count: Annotated[int, "Its picks in the repeat"]
    ends: Annotated[tuple[int, ...], "Its ends, as many as are listed"]
    picks: Annotated[tuple[int, ...], "Its picks, as many as are listed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class IntegritySheet:
    """Whether the threads hold one another in one cloth."""

    hangs_together: Annotated[bool, "Whether the threads hold one another in one cloth"]
    layer_count: Annotated[
        int, "Parts that could be lifted off one another; 1 when it hangs together"
    ]
    layers: Annotated[
        tuple[LayerSheet, ...],
        "The parts from the top of the cloth down; empty if it hangs together",
    ]
    loose_end_count: Annotated[int, "Ends that never interlace"]
    loose_pick_count: Annotated[int, "Picks that never interlace"]
    loose_ends: Annotated[tuple[int, ...], "Those ends, as many as are listed"]
    loose_picks: Annotated[tuple[int, ...], "Those picks, as many as are listed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedWeave:
    """The weave seen another way, and its name where the trade has one."""

    name: Annotated[str | None, "Its name in the trade; null if it has none"]
    rows: Annotated[
        tuple[str, ...] | None, "The matrix, first pick first; null if it is too long to print"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """How another weave is related to this one."""

    name: Annotated[str | None, "What the other is called"]
    same: Annotated[bool | None, "Whether the two differ at most in where the repeat begins"]
    relations: Annotated[
        tuple[str, ...] | None,
        "Everything that can be done to this weave to get the other: `same`, `mirrored`, `reverse"
        " side`, `quarter turn` and so on; null if the weaves are too large to be compared",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftSheet:
    """A drawing-in with its lift plan; ``cloth[pick, end] = lift_plan[pick, threading[end]]``."""

    kind: Annotated[DraftKind, "Straight, point, skip, broken, grouped, repeated or irregular"]
    shafts: Annotated[int, "Shafts that the draft takes"]
    threading_ends: Annotated[int, "Ends of the threading's repeat"]
    threading: Annotated[tuple[int, ...], "The shaft of every end"]
    lift_plan_picks: Annotated[int, "Picks of the lift plan"]
    lift_plan: Annotated[tuple[str, ...] | None, "One string a pick, one character a shaft"]
    treadles: Annotated[int, "Picks that lift differently"]
    tie_up: Annotated[tuple[str, ...] | None, "One string a treadle, one character a shaft"]
    treadling: Annotated[tuple[int, ...] | None, "The treadle of every pick"]
    healds_per_repeat: Annotated[
        tuple[int, ...], "Healds of every shaft in one repeat of the threading"
    ]
    healds_per_shaft: Annotated[
        tuple[int, ...] | None, "Healds of every shaft over the whole width, if the ends are known"
    ]
    healds_per_cm_per_shaft: Annotated[
        float | None, "Healds on the fullest shaft; null if the sett in the reed is not known"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftFault:
    """Why a draft that was given cannot weave this cloth; the pointer is into the request."""

    pointer: Annotated[str, "JSON Pointer into the request of what is wrong"]
    message: Annotated[str, "What is wrong there"]
    message_key: Annotated[str, "Key of the message, for a translation", Since("0.2")]
    message_values: Annotated[
        Mapping[str, WrittenValue], "The values that the message quotes, by name", Since("0.2")
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenDraft:
    """The draft that was given, held against the weave."""

    weaves_the_cloth: Annotated[bool, "Whether it makes this weave"]
    faults: Annotated[tuple[DraftFault, ...], "Why not; the first ten"]
    draft: Annotated[DraftSheet | None, "The draft with its lift plan, if it weaves the cloth"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftingSheet:
    """The drawings-in of the weave."""

    shafts_needed: Annotated[int, "Ends that weave differently: the least shafts"]
    picks_needed: Annotated[int, "Picks that lift differently: the least treadles, or cards"]
    in_use: Annotated[
        DraftInUse | None,
        "The draft that the findings refer to: the given one if it weaves the cloth, else the "
        "spread one if the healds need it, else the least; null on a Jacquard or if no draft is "
        "made",
    ]
    least: Annotated[DraftSheet | None, "On the least shafts, numbered by first appearance"]
    spread: Annotated[
        DraftSheet | None,
        "The draft that relieves crowded healds, straight if the shafts are there; null if they "
        "are not crowded",
    ]
    given: Annotated[GivenDraft | None, "The draft that was given"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JacquardSheet:
    """The weave on the hooks of the stated Jacquard."""

    hooks: Annotated[int, "Hooks for the figure"]
    fits: Annotated[
        bool, "Whether the hooks hold a whole repeat; if not, the fields below are null"
    ]
    repeats_on_hooks: Annotated[int | None, "Repeats of the design side by side on the hooks"]
    hooks_used: Annotated[int | None, "Hooks that lift an end"]
    hooks_idle: Annotated[int | None, "Hooks cast out"]
    nearest_full_repeats_ends: Annotated[
        tuple[int, ...],
        "The repeats nearest to this one, shorter and longer, that leave no hook idle",
    ]
    ends_per_hook: Annotated[
        int | None, "Harness cords on a hook; if the warp does not divide, the most on any"
    ]
    hooks_with_fewer: Annotated[int | None, "Hooks with one cord less"]
    repeats_across: Annotated[int | None, "Whole repeats of the design over the width"]
    remainder_ends: Annotated[int | None, "Ends of the part repeat that is left"]
    repeat_width_cm: Annotated[float | None, "Width of one repeat in the cloth"]
    harness_ends_per_cm: Annotated[float | None, "Ends per cm for which the comber board is built"]
    usable_harness_ends_per_cm: Annotated[
        float | None, "What it gives with the idle hooks left empty"
    ]
    harness_width_cm: Annotated[float | None, "Width of the comber board that the ends take up"]
    harness_density_ratio: Annotated[
        float | None, "Ends per cm in the reed over those usable in the harness"
    ]
    design_paper: Annotated[
        tuple[int, int] | None, "Squares across and up a large square of eight ends"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnInOrder:
    """A yarn of a thread order, and its threads in the order as written."""

    yarn: Annotated[str, "Key of the yarn in the thread order"]
    colour: Annotated[str, "Colour as given"]
    threads: Annotated[int, "Ends of this yarn over the width; null in the weft"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSheet:
    """A thread order."""

    order: Annotated[str, "In canonical form"]
    threads: Annotated[int, "Threads of the order as written"]
    repeat_threads: Annotated[int, "Threads of the true repeat of its colours"]
    yarns: Annotated[tuple[YarnInOrder, ...], "Its yarns"]
    centring: Annotated[
        Centring | None, "How it lies over the whole width; only for a warp whose ends are known"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceShare:
    """The share of the face at which a colour is on top."""

    colour: Annotated[str, "Colour as given"]
    share_pct: Annotated[float, "Share of the face"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourSheet:
    """Colour and weave together."""

    repeat_ends: Annotated[int, "Ends after which colour and weave repeat together"]
    repeat_picks: Annotated[int, "Picks, likewise"]
    repeat_width_cm: Annotated[
        float | None, "Width of one repeat; null if the ends per cm are not known"
    ]
    repeat_length_cm: Annotated[
        float | None, "Length of one repeat; null if the picks per cm are not known"
    ]
    weave_breaks_in_warp: Annotated[
        bool, "Equal stripes of the warp meet the weave at different places"
    ]
    weave_breaks_in_weft: Annotated[bool, "The same for the weft"]
    warp: Annotated[OrderSheet, "The order of the ends, and how it lies over the width"]
    weft: Annotated[OrderSheet, "The order of the picks"]
    face: Annotated[
        tuple[FaceShare, ...],
        "The colours of the face, the largest share first; the shares add up to 100",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveSheet:
    """The answer about one weave."""

    name: Annotated[str | None, "Its canonical notation; null if it was not given by name"]
    recognised_name: Annotated[
        str | None, "What the trade calls the matrix, wherever the repeat begins"
    ]
    repeat: Annotated[RepeatSheet, "The true smallest repeat"]
    warp_up_pct: Annotated[float, "Share of the crossings at which the warp is up"]
    face: Annotated[Face, "Which system shows more"]
    floats: Annotated[FloatSheet, "The longest floats of four kinds, and the mean ones"]
    interlacings: Annotated[InterlacingSheet, "Changes from one side of the cloth to the other"]
    integrity: Annotated[
        IntegritySheet, "Whether it hangs together, and which threads are loose if not"
    ]
    layers: Annotated[
        LayersInWeave | None, "The layers, if they are declared; else null", Since("0.2")
    ]
    reverse_side: Annotated[TurnedWeave, "The weave seen from the back"]
    quarter_turn: Annotated[TurnedWeave, "The weave with warp and weft exchanged"]
    symmetries: Annotated[
        tuple[str, ...] | None,
        "What can be done to the weave without changing it: names as in `Comparison`",
    ]
    comparison: Annotated[
        Comparison | None, "How the other weave is related to it; null if no other was given"
    ]
    drafting: Annotated[DraftingSheet, "Shafts, drawings-in and lift plans"]
    jacquard: Annotated[JacquardSheet | None, "The weave on the hooks; null without a Jacquard"]
    colour: Annotated[ColourSheet | None, "Colour and weave together; null without colours"]
    findings: Annotated[
        tuple[Finding, ...],
        "What is wrong with the weave, and what the stated shedding cannot do; codes as in a "
        "report",
    ]
    left_out: Annotated[
        tuple[LeftOut, ...], "What was too large to be computed or printed, and why"
    ]
    assumptions: AssumedValues
    caution: CautionText
