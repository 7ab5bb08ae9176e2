"""The figured design of a report: how it is on the hooks, how it is bound, what was found where."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final, TypeAlias

import numpy as np

from weavability.answers.design_places import places_of
from weavability.answers.field_words import HooksCastOut, Unit
from weavability.answers.tightest_square import TightestSquare, tightest_square
from weavability.checks.codes import CheckCode
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.looms.shedding_limits import JacquardLimits
from weavability.textiles.errors import InputError
from weavability.textiles.figured.design_figures import lift_by_picks, raised_by_effect
from weavability.textiles.figured.figured_cloth import FiguredCloth
from weavability.textiles.figured.figured_design import (
    Back,
    Covers,
    Face,
    Insertion,
    Role,
)
from weavability.textiles.figured.float_binding import MOST_DOTS, MOST_TRIALS
from weavability.textiles.figured.float_limits import NO_LIMIT, System
from weavability.textiles.figured.float_search import blocks_of_picks
from weavability.textiles.jacquard import design_paper
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Matrix, Weave
from weavability.textiles.weave_structure import remembered_structure

NEEDLES: Final = 8
"""Needles in a row of the machine, by which design paper is ruled: [BELL-1895], p. 112."""


class Side(StrEnum):
    """A side of the cloth."""

    FACE = "face"
    BACK = "back"


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPlan:
    """The design on the machine."""

    design_id: Annotated[str, "Digest of what the hooks lift: the same point paper has the same"]
    covers: Annotated[Covers, "What a column of the picture is: a hook, or an end of the cloth"]
    columns: Annotated[int, "Columns of the picture that are woven"]
    lines: Annotated[int, "Lines of the design"]
    columns_cast_out: Annotated[int, "Columns of the picture that are left out"]
    lines_cast_out: Annotated[int, "Lines of the picture that are left out"]
    wefts: Annotated[tuple[str, ...], "Keys of the wefts, in the order of insertion in a line"]
    picks: Annotated[int, "Picks of a repeat, all wefts together"]
    cards: Annotated[int, "Cards, one for each pick"]
    picks_by_weft: Annotated[Mapping[str, int], "Picks of each weft", Unit("picks")]
    hooks_used: Annotated[int | None, "Hooks that lift ends; null without a Jacquard"]
    hooks_idle: HooksCastOut
    selvedge_hooks: Annotated[int | None, "Hooks kept for the selvedges; null without a Jacquard"]
    repeat_ends: Annotated[int, "Ends after which the cloth repeats, through the tie"]
    is_whole_cloth: Annotated[
        bool,
        "Whether that repeat is a cloth from edge to edge, so that its last end is no neighbour to "
        "the first",
    ]
    hooks_by_cords: Annotated[
        Mapping[str, int], "Hooks by the number of their ends in that repeat", Unit("hooks")
    ]
    repeat_width_cm: Annotated[float, "Width of that repeat at the stated sett"]
    repeat_height_cm: Annotated[float, "Height of the repeat at the stated sett"]
    paper: Annotated[
        tuple[int, int], "Columns and lines of a large square of design paper, 8 needles to a row"
    ]
    fitting_columns: Annotated[
        int,
        "Greatest number of columns, up to those of the picture, at which no weave breaks where "
        "the repeats meet; 0 if there is none",
    ]
    fitting_lines: Annotated[int, "The same of lines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectFigures:
    """An effect of the design; floats are those of its own weave."""

    name: Annotated[str, "Its name, or its colour if it has none"]
    colour: Annotated[str, "Its colour in the picture"]
    weave: Annotated[str, "Its weave, by its notation or its size"]
    face: Annotated[Face | None, "The face that the weave is turned to; null if it is as stated"]
    shift: Annotated[
        tuple[int, int], "Ends and picks by which the weave is moved from the first hook and line"
    ]
    weft: Annotated[str, "Key of the weft that shows in it; empty if one weft weaves it all"]
    share_pct: Annotated[float, "Share of the picture"]
    warp_up_pct: Annotated[float, "Hooks of it that are raised, over all picks"]
    is_bound: Annotated[bool, "Whether its weave binds it within the limits"]
    longest_warp_float_picks: Annotated[
        int | None, "Longest float of an end in its weave; null if no end of it is bound"
    ]
    longest_weft_float_ends: Annotated[
        int | None, "Longest float of a pick in its weave; null if no pick of it is bound"
    ]
    warp_float_limit_picks: Annotated[int | None, "Picks that an end may float; null for no limit"]
    weft_float_limit_ends: Annotated[int | None, "Ends that a pick may float; null for no limit"]
    dots: Annotated[int, "Dots that the correction made in it"]
    thin_pct: Annotated[float, "Share of it that is one thread thin, up or across"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignWeftFigures:
    """A weft of the design."""

    key: Annotated[str, "Its key among the yarns of the weft"]
    role: Annotated[Role, "Whether it weaves the ground or figures on it"]
    insert: Annotated[Insertion, "On which lines it is inserted"]
    without_take_up: Annotated[bool, "Whether the take-up stops on its picks"]
    picks: Annotated[int, "Its picks, and cards, in a repeat"]
    weave: Annotated[
        str | None, "How the ground weft weaves under figures; null if it lies under them"
    ]
    back: Annotated[Back | None, "What a figuring weft does behind the cloth; null of the ground"]
    binding: Annotated[str | None, "The weave by which it is bound there; null if it is not"]
    back_float_ends: Annotated[
        int | None, "Its longest float behind the cloth; null of the ground weft"
    ]
    back_float_mm: Annotated[float | None, "The same in the cloth"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedFloatLimits:
    """The longest floats that the design allows; null where it states no limit."""

    warp_mm: Annotated[float | None, "Longest float of an end"]
    weft_mm: Annotated[float | None, "Longest float of a pick, but for figuring wefts behind"]
    back_mm: Annotated[
        float | None, "Longest float of a figuring weft behind the cloth; null for the usual limits"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LongestFloat:
    """The longest float of one system on one side of the cloth, after the correction."""

    system: Annotated[System, "Which threads float"]
    side: Annotated[Side, "On which side"]
    longest: Annotated[int, "Longest float; 0 if no thread is bound", Unit("threads")]
    longest_mm: Annotated[float, "The same in the cloth"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionFigures:
    """What the correction did."""

    requested: Annotated[bool, "Whether it was requested"]
    dots: Annotated[int, "Crossings of the hooks that were changed"]
    changed_ppm: Annotated[float, "The same, of a million crossings", Unit("ppm")]
    floats_before: Annotated[int, "Floats beyond the limits before it"]
    floats_left: Annotated[int, "Floats beyond the limits that remain"]
    is_complete: Annotated[
        bool,
        f"Whether it ended by itself, not at {MOST_DOTS:,} dots or {MOST_TRIALS:,} ends at which a "
        "dot was tried",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class TieConflicts:
    """Where a picture of the cloth contradicts the tie of the harness; 0 if it agrees."""

    pixels: Annotated[int, "Pixels that differ from those of the first end on the same hook"]
    ends: Annotated[int, "Ends with such a pixel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPlace:
    """A place in the cloth where something was found."""

    end: Annotated[int, "End of the repeat, from 1; of a tie conflict, of the whole cloth"]
    pick: Annotated[int, "Pick of the repeat, from 1"]
    what: Annotated[str, "What is there"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignTightness:
    """How near to its jam the design is set, by the squares that the checks of the sett judge."""

    greatest_pct: Annotated[float, "Tightness of its tightest square, as `cloth.tightness_pct`"]
    mean_pct: Annotated[float, "Tightness by the mean floats of the whole"]
    tightest: Annotated[
        TightestSquare | None, "The tightest square; null if the cloth is as tight everywhere"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftShares:
    """The cords raised, as shares of all."""

    mean_pct: Annotated[float, "Mean over the picks"]
    least_pct: Annotated[float, "Least of any pick"]
    greatest_pct: Annotated[float, "Most of any pick"]
    heaviest_pick: Annotated[int, "The pick with most, from 1"]


# Figures that the section of a report and the answer of its own have alike.
PlanOfDesign: TypeAlias = Annotated[DesignPlan, "The design on the machine"]
EffectsOfDesign: TypeAlias = Annotated[
    tuple[EffectFigures, ...], "The effects: of each colour its weave"
]
WeftsOfDesign: TypeAlias = Annotated[
    tuple[DesignWeftFigures, ...], "The wefts; empty if one weft weaves it all"
]
FloatLimitsOfDesign: TypeAlias = Annotated[
    StatedFloatLimits, "Longest floats that the design allows"
]
Correction: TypeAlias = Annotated[CorrectionFigures, "What the correction did"]
ConflictsWithTie: TypeAlias = Annotated[
    TieConflicts, "How a picture of the cloth agrees with the tie"
]
TurnFloatEnds: TypeAlias = Annotated[
    int, "Longest weft float across a turn of the tie; 0 if it does not turn"
]
PlacesFound: TypeAlias = Annotated[
    tuple[DesignPlace, ...],
    "Where something was found: one place for each finding that has one, and at most 20 ends in "
    "conflict with the tie and 50 floats beyond their limits",
]
TightnessOfDesign: TypeAlias = Annotated[DesignTightness, "How closely it is set"]
TakeUpTimes: TypeAlias = Annotated[
    float,
    "Interlacings of the neighbouring ends that have most over those with fewest",
    Unit("times"),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignSection:
    """The figured design of an order, as the loom weaves it."""

    plan: PlanOfDesign
    effects: EffectsOfDesign
    wefts: WeftsOfDesign
    float_limits: FloatLimitsOfDesign
    floats: Annotated[tuple[LongestFloat, ...], "Longest floats of the cloth"]
    correction: Correction
    tie_conflicts: ConflictsWithTie
    turn_float_ends: TurnFloatEnds
    places: PlacesFound
    tightness: TightnessOfDesign
    take_up_times: TakeUpTimes
    lift: Annotated[LiftShares, "Cords raised"]


def figured_cloth_of(fit: Fit) -> FiguredCloth:
    """Return the figured design of a cloth.

    Raises:
        InputError: The construction is no figured design.
    """
    figured = fit.cloth.construction.figured
    if figured is None:
        message = say(
            "fault.design.needed",
            "This needs a figured design: a weave with a picture and its effects.",
        )
        raise InputError.of("/construction/weave", message, allowed={"design": {}})
    return figured


def design_section(fit: Fit, codes: Collection[CheckCode]) -> DesignSection:
    """Return the figured design of an order, with the places of what the checks found.

    The cost is linear in the crossings of the hooks, and a small share of judging the cloth.

    Raises:
        InputError: The construction is no figured design.
    """
    cloth = figured_cloth_of(fit)
    numbers, lift = cloth.numbers, lift_by_picks(cloth)
    limits = cloth.lifts.design.float_limits
    return DesignSection(
        plan=_plan(fit, cloth),
        effects=tuple(_effects(cloth)),
        wefts=tuple(_wefts(cloth)),
        float_limits=StatedFloatLimits(
            warp_mm=limits.warp_mm, weft_mm=limits.weft_mm, back_mm=limits.back_mm
        ),
        floats=tuple(_floats(fit, cloth)),
        correction=_correction(cloth),
        tie_conflicts=TieConflicts(
            pixels=int(numbers.tie_conflicts), ends=int(numbers.conflicting_ends)
        ),
        turn_float_ends=cloth.words.longest_turn_ends,
        places=tuple(DesignPlace(**place._asdict()) for place in places_of(fit, cloth, codes)),
        tightness=_tightness(fit),
        take_up_times=numbers.take_up_times,
        lift=LiftShares(
            mean_pct=lift.mean_pct,
            least_pct=lift.least_pct,
            greatest_pct=lift.greatest_pct,
            heaviest_pick=lift.heaviest_pick,
        ),
    )


def _plan(fit: Fit, cloth: FiguredCloth) -> DesignPlan:
    lifts, shedding = cloth.lifts, fit.limits.shedding
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    jacquard = shedding if isinstance(shedding, JacquardLimits) else None
    hooks = range(cloth.weave.ends) if cloth.tie is None else cloth.tie.tolist()
    cords = Counter(Counter(hooks).values())
    lines, on = lifts.design.picture.lines, fit.drawing_in
    return DesignPlan(
        design_id=_digest(cloth.correction.lift),
        covers=cloth.covers,
        columns=int(cloth.numbers.columns),
        lines=lines,
        columns_cast_out=lifts.design.cast_out[0],
        lines_cast_out=lifts.design.cast_out[1],
        wefts=tuple(key for key in lifts.design.weft_keys if key),
        picks=len(lifts.lift),
        cards=len(lifts.lift),
        picks_by_weft={key or fit.wefts[0].key: n for key, n in lifts.picks_by_weft.items()},
        hooks_used=on.hooks_used if isinstance(on, OnHooks) else None,
        hooks_idle=on.hooks_idle if isinstance(on, OnHooks) else None,
        selvedge_hooks=None if jacquard is None else jacquard.selvedge_hooks,
        repeat_ends=cloth.weave.ends,
        is_whole_cloth=cloth.has_edges,
        hooks_by_cords={str(number): cords[number] for number in sorted(cords)},
        repeat_width_cm=cloth.weave.ends / ends_per_cm,
        repeat_height_cm=cloth.weave.picks / picks_per_cm,
        paper=design_paper(
            ends=ends_per_cm, picks=picks_per_cm * lines / len(lifts.lift), first=NEEDLES
        ),
        fitting_columns=cloth.words.fitting_ends,
        fitting_lines=cloth.words.fitting_lines,
    )


def _digest(lift: Matrix) -> str:
    """Return a digest of what the hooks lift, and of its size."""
    digest = hashlib.sha256(f"{lift.shape}".encode())
    for _, rows in blocks_of_picks(lift):
        digest.update(np.packbits(rows, axis=1).tobytes())
    return digest.hexdigest()[:16]


def _effects(cloth: FiguredCloth) -> Iterator[EffectFigures]:
    lifts, limits = cloth.lifts, cloth.limits
    design = lifts.design
    shares = 100 * lifts.effect_lines.sum(axis=0) / design.picture.pixels.size
    raised = 100 * raised_by_effect(cloth)
    for value, (colour, effect) in enumerate(
        zip(design.picture.colours, design.effects_by_value, strict=True)
    ):
        own = remembered_structure(effect.weave)[1]
        yield EffectFigures(
            name=effect.name,
            colour=colour,
            weave=_named(effect.weave),
            face=effect.face,
            shift=effect.shift,
            weft=design.weft_keys[design.weft_of(effect)],
            share_pct=float(shares[value]),
            warp_up_pct=float(raised[value]),
            is_bound=value not in cloth.unbound,
            longest_warp_float_picks=own.longest_warp_float_picks or None,
            longest_weft_float_ends=own.longest_weft_float_ends or None,
            warp_float_limit_picks=_limit(int(limits.warp[value])),
            weft_float_limit_ends=_limit(int(limits.weft[value])),
            dots=cloth.correction.dots_by_effect[value],
            thin_pct=100 * cloth.words.thin_shares[value],
        )


def _named(weave: Weave) -> str:
    return weave.name or f"{weave.ends} ends x {weave.picks} picks"


def _limit(threads: int) -> int | None:
    return None if threads >= NO_LIMIT else threads


def _wefts(cloth: FiguredCloth) -> Iterator[DesignWeftFigures]:
    lifts = cloth.lifts
    for key, weft in lifts.design.wefts.items():
        floats = cloth.words.back_floats.get(key)
        yield DesignWeftFigures(
            key=key,
            role=weft.role,
            insert=weft.insert,
            without_take_up=weft.without_take_up,
            picks=lifts.picks_by_weft[key],
            weave=None if weft.weave is None else _named(weft.weave),
            back=None if weft.role is Role.GROUND else weft.back or Back.FLOAT,
            binding=None if weft.binding is None else _named(weft.binding),
            back_float_ends=floats,
            back_float_mm=None if floats is None else 10 * floats / cloth.setts_per_cm[0],
        )


def _floats(fit: Fit, cloth: FiguredCloth) -> Iterator[LongestFloat]:
    """Yield the floats of the cloth, which its structure has counted already."""
    of, (ends_per_cm, picks_per_cm) = fit.cloth.structure, cloth.setts_per_cm
    for system, side, longest, threads_per_cm in (
        (System.WARP, Side.FACE, of.warp_face_float_picks, picks_per_cm),
        (System.WARP, Side.BACK, of.warp_back_float_picks, picks_per_cm),
        (System.WEFT, Side.FACE, of.weft_face_float_ends, ends_per_cm),
        (System.WEFT, Side.BACK, of.weft_back_float_ends, ends_per_cm),
    ):
        yield LongestFloat(
            system=system, side=side, longest=longest, longest_mm=10 * longest / threads_per_cm
        )


def _correction(cloth: FiguredCloth) -> CorrectionFigures:
    made = cloth.correction
    return CorrectionFigures(
        requested=cloth.lifts.design.correct,
        dots=made.dots,
        changed_ppm=1e6 * made.dots / made.lift.size,
        floats_before=cloth.words.uncorrected_floats,
        floats_left=int(cloth.numbers.long_floats),
        is_complete=made.is_complete,
    )


def _tightness(fit: Fit) -> DesignTightness:
    numbers = fit.cloth.numbers
    return DesignTightness(
        greatest_pct=numbers.tightness_pct,
        mean_pct=numbers.mean_tightness_pct,
        tightest=tightest_square(fit.cloth),
    )
