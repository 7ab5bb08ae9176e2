"""The sheet of a weave: the answer to one request, plain data in the order in which it is written.

Rows are picks, the first pick first; 1 is a raised warp end, the first end first. Threads, shafts
and treadles are numbered from 1. What would be too long to print is ``None``, and ``left_out`` says
why.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from weavability.checks.finding import Finding
from weavability.textiles.assumptions import Assumption
from weavability.textiles.colouring import Centring
from weavability.textiles.drafting import DraftKind
from weavability.textiles.weave_structure import Face

DraftInUse = Literal["given", "spread", "least"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A part of the sheet that was not computed or not printed.

    Attributes:
        pointer: JSON Pointer of the part, relative to the sheet.
        reason: Why, with the size that decided it.
    """

    pointer: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatSheet:
    """The true smallest repeat.

    Attributes:
        width_cm: Of one repeat, where the ends per cm are known.
        length_cm: Of one repeat, where the picks per cm are known.
        rows: The matrix.
    """

    ends: int
    picks: int
    crossings: int
    width_cm: float | None
    length_cm: float | None
    rows: tuple[str, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatSheet:
    """The longest floats of four kinds: threads that a thread passes on one side.

    Attributes:
        warp_face_float_picks: Picks that an end passes over.
        warp_back_float_picks: Picks that an end passes under.
        weft_face_float_ends: Ends that a pick passes over.
        weft_back_float_ends: Ends that a pick passes under.
        mean_warp_float_picks: Picks per interlacing along an end.
        mean_weft_float_ends: Ends per interlacing along a pick.
        longest_float_mm: The longest of the four in the cloth, where both setts are known.
    """

    warp_face_float_picks: int
    warp_back_float_picks: int
    weft_face_float_ends: int
    weft_back_float_ends: int
    mean_warp_float_picks: float
    mean_weft_float_ends: float
    warp_face_float_mm: float | None
    warp_back_float_mm: float | None
    weft_face_float_mm: float | None
    weft_back_float_mm: float | None
    longest_float_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class InterlacingSheet:
    """Changes of side over the repeat.

    Attributes:
        of_ends: Of all ends together.
        of_picks: Of all picks together.
        per_end: Of every end.
        per_pick: Of every pick.
        uneven_ends: The ends do not all interlace equally often, so that they take up unequally.
    """

    of_ends: int
    of_picks: int
    per_end: tuple[int, ...] | None
    per_pick: tuple[int, ...] | None
    uneven_ends: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSheet:
    """A cloth of its own, or a thread that lies loose.

    Attributes:
        end_count: Its ends in the repeat.
        pick_count: Its picks in the repeat.
        ends: Its ends, as many as are listed.
        picks: Its picks, as many as are listed.
    """

    end_count: int
    pick_count: int
    ends: tuple[int, ...]
    picks: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class IntegritySheet:
    """Whether the threads hold one another in one cloth.

    Attributes:
        layer_count: Parts that could be lifted off one another; 1 when it hangs together.
        layers: The parts from the top of the cloth down; none when it hangs together.
        loose_end_count: Ends that never interlace.
        loose_pick_count: Picks that never interlace.
        loose_ends: Those ends, as many as are listed.
        loose_picks: Those picks, as many as are listed.
    """

    hangs_together: bool
    layer_count: int
    layers: tuple[LayerSheet, ...]
    loose_end_count: int
    loose_pick_count: int
    loose_ends: tuple[int, ...]
    loose_picks: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedWeave:
    """The weave seen another way, and its name where the trade has one."""

    name: str | None
    rows: tuple[str, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """How another weave is related to this one.

    Attributes:
        name: What the other is called.
        same: Whether the two differ at most in where the repeat begins.
        relations: Everything that can be done to this weave to get the other: ``same``,
            ``mirrored``, ``reverse side``, ``quarter turn`` and so on; ``None`` where the weaves
            are too large to be compared.
    """

    name: str | None
    same: bool | None
    relations: tuple[str, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftSheet:
    """A drawing-in with its lift plan; ``cloth[pick, end] = lift_plan[pick, threading[end]]``.

    Attributes:
        kind: Straight, point, skip, broken, grouped, repeated or irregular.
        threading_ends: Ends of the threading's repeat.
        threading: The shaft of every end.
        lift_plan_picks: Picks of the lift plan.
        lift_plan: One string a pick, one character a shaft.
        treadles: Picks that lift differently.
        tie_up: One string a treadle, one character a shaft.
        treadling: The treadle of every pick.
        healds_per_repeat: Healds of every shaft in one repeat of the threading.
        healds_per_shaft: Healds of every shaft over the whole width, where the ends are known.
        healds_per_cm_per_shaft: On the fullest shaft, where the sett in the reed is known.
    """

    kind: DraftKind
    shafts: int
    threading_ends: int
    threading: tuple[int, ...]
    lift_plan_picks: int
    lift_plan: tuple[str, ...] | None
    treadles: int
    tie_up: tuple[str, ...] | None
    treadling: tuple[int, ...] | None
    healds_per_repeat: tuple[int, ...]
    healds_per_shaft: tuple[int, ...] | None
    healds_per_cm_per_shaft: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftFault:
    """Why a draft that was given cannot weave this cloth; the pointer is into the request."""

    pointer: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenDraft:
    """The draft that was given, held against the weave.

    Attributes:
        weaves_the_cloth: Whether it makes this weave.
        faults: Why not; the first ten.
        draft: The draft with its lift plan, where it does.
    """

    weaves_the_cloth: bool
    faults: tuple[DraftFault, ...]
    draft: DraftSheet | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftingSheet:
    """The drawings-in of the weave.

    Attributes:
        shafts_needed: Ends that weave differently: the least shafts.
        picks_needed: Picks that lift differently: the least treadles, or cards.
        in_use: Which draft the findings are about: the given one where it weaves the cloth, else
            the spread one where the healds ask for it, else the least; ``None`` on a Jacquard or
            where no draft is made.
        least: On the least shafts, numbered by first appearance.
        spread: The skip draft that heald crowding asks for, where it does.
        given: The draft that was given.
    """

    shafts_needed: int
    picks_needed: int
    in_use: DraftInUse | None
    least: DraftSheet | None
    spread: DraftSheet | None
    given: GivenDraft | None


@dataclass(frozen=True, slots=True, kw_only=True)
class JacquardSheet:
    """The weave on the hooks of the stated Jacquard.

    Attributes:
        hooks: Hooks for the figure.
        fits: Whether the hooks hold a whole repeat. What follows is ``None`` where they do not.
        repeats_on_hooks: Repeats of the design side by side on the hooks.
        hooks_used: Hooks that lift an end.
        hooks_idle: Hooks cast out.
        nearest_full_repeats_ends: The repeats nearest to this one, shorter and longer, that leave
            no hook idle.
        ends_per_hook: Harness cords on a hook; where the warp does not divide, the most on any.
        hooks_with_fewer: Hooks with one cord less.
        repeats_across: Whole repeats of the design over the width.
        remainder_ends: Ends of the part repeat that is left.
        repeat_width_cm: Width of one repeat in the cloth.
        harness_ends_per_cm: Ends per cm for which the comber board is built.
        usable_harness_ends_per_cm: What it gives with the idle hooks left empty.
        harness_width_cm: Width of the comber board that the ends take up.
        harness_density_ratio: Ends per cm in the reed over those usable in the harness.
        design_paper: Squares across and up a large square of eight ends.
    """

    hooks: int
    fits: bool
    repeats_on_hooks: int | None = None
    hooks_used: int | None = None
    hooks_idle: int | None = None
    nearest_full_repeats_ends: tuple[int, ...] = ()
    ends_per_hook: int | None = None
    hooks_with_fewer: int | None = None
    repeats_across: int | None = None
    remainder_ends: int | None = None
    repeat_width_cm: float | None = None
    harness_ends_per_cm: float | None = None
    usable_harness_ends_per_cm: float | None = None
    harness_width_cm: float | None = None
    harness_density_ratio: float | None = None
    design_paper: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnInOrder:
    """A yarn of a thread order, and its threads in the order as written."""

    yarn: str
    colour: str
    threads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSheet:
    """A thread order.

    Attributes:
        order: In canonical form.
        threads: Threads of the order as written.
        repeat_threads: Threads of the true repeat of its colours.
        yarns: Its yarns.
        centring: How it lies over the whole width; only for a warp whose ends are known.
    """

    order: str
    threads: int
    repeat_threads: int
    yarns: tuple[YarnInOrder, ...]
    centring: Centring | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceShare:
    """The share of the face at which a colour is on top."""

    colour: str
    share_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourSheet:
    """Colour and weave together.

    Attributes:
        repeat_ends: Ends after which colour and weave repeat together.
        repeat_picks: Picks, likewise.
        weave_breaks_in_warp: Equal stripes of the warp meet the weave at different places.
        weave_breaks_in_weft: The same for the weft.
        face: The colours of the face, the largest share first; the shares add up to 100.
    """

    repeat_ends: int
    repeat_picks: int
    repeat_width_cm: float | None
    repeat_length_cm: float | None
    weave_breaks_in_warp: bool
    weave_breaks_in_weft: bool
    warp: OrderSheet
    weft: OrderSheet
    face: tuple[FaceShare, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveSheet:
    """The answer about one weave.

    Attributes:
        name: Its canonical notation, where it was given by name.
        recognised_name: What the trade calls the matrix, wherever the repeat begins.
        warp_up_pct: Share of the crossings at which the warp is up.
        face: Which system shows more.
        symmetries: What can be done to the weave without changing it: names as in ``Comparison``.
        findings: What is wrong with the weave, and what the stated shedding cannot do; codes as in
            a report.
    """

    name: str | None
    recognised_name: str | None
    repeat: RepeatSheet
    warp_up_pct: float
    face: Face
    floats: FloatSheet
    interlacings: InterlacingSheet
    integrity: IntegritySheet
    reverse_side: TurnedWeave
    quarter_turn: TurnedWeave
    symmetries: tuple[str, ...] | None
    comparison: Comparison | None
    drafting: DraftingSheet
    jacquard: JacquardSheet | None
    colour: ColourSheet | None
    findings: tuple[Finding, ...]
    left_out: tuple[LeftOut, ...]
    assumptions: tuple[Assumption, ...]
    caution: str
