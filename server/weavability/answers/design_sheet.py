"""The answer on a figured design: what the hooks lift, what was corrected, where it is tight."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final

import numpy as np

from weavability.answers.field_words import Unit
from weavability.answers.report import Counts, Rates
from weavability.answers.rounding import tidy
from weavability.answers.validation import judge, report_on
from weavability.checks.finding import Finding, Verdict
from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.looms.shedding_limits import JacquardLimits
from weavability.textiles.assumptions import Assumption
from weavability.textiles.construction import Construction
from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.errors import InputError
from weavability.textiles.figured.design_figures import (
    FloatCounts,
    count_floats,
    lift_by_picks,
    raised_by_effect,
    take_up,
    tightness_map,
)
from weavability.textiles.figured.figured_cloth import FiguredCloth
from weavability.textiles.figured.float_limits import NO_LIMIT, System
from weavability.textiles.jacquard import design_paper
from weavability.textiles.numbers import Floats
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

    lines: Annotated[int, "Lines of the design"]
    wefts: Annotated[tuple[str, ...], "Keys of the wefts, in the order of insertion in a line"]
    picks: Annotated[int, "Picks of a repeat, all wefts together"]
    cards: Annotated[int, "Cards, one for each pick"]
    picks_by_weft: Annotated[Mapping[str, int], "Picks of each weft", Unit("picks")]
    hooks_used: Annotated[int | None, "Hooks that lift ends; null without a Jacquard"]
    hooks_idle: Annotated[int | None, "Hooks cast out; null without a Jacquard"]
    selvedge_hooks: Annotated[int | None, "Hooks kept for the selvedges; null without a Jacquard"]
    repeat_ends: Annotated[int, "Ends after which the cloth repeats, through the tie"]
    hooks_by_cords: Annotated[
        Mapping[str, int], "Hooks by the number of their ends in that repeat", Unit("hooks")
    ]
    repeat_width_cm: Annotated[float, "Width of that repeat at the stated sett"]
    repeat_height_cm: Annotated[float, "Height of the repeat at the stated sett"]
    paper: Annotated[
        tuple[int, int], "Columns and lines of a large square of design paper, 8 needles to a row"
    ]
    fitting_columns: Annotated[
        int, "Greatest number of columns, up to those of the picture, that all weaves divide"
    ]
    fitting_lines: Annotated[int, "The same of lines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectFigures:
    """An effect of the design; floats are those of its own weave."""

    name: Annotated[str, "Its name, or its colour if it has none"]
    colour: Annotated[str, "Its colour in the picture"]
    weft: Annotated[str, "Key of the weft that shows in it; empty if one weft weaves it all"]
    share_pct: Annotated[float, "Share of the picture"]
    warp_up_pct: Annotated[float, "Hooks of it that are raised, over all picks"]
    is_bound: Annotated[bool, "Whether its weave binds it within the limits"]
    longest_warp_float_picks: Annotated[int, "Longest float of an end in its weave"]
    longest_weft_float_ends: Annotated[int, "Longest float of a pick in its weave"]
    warp_float_limit_picks: Annotated[int | None, "Picks that an end may float; null for no limit"]
    weft_float_limit_ends: Annotated[int | None, "Ends that a pick may float; null for no limit"]
    dots: Annotated[int, "Dots that the correction made in it"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatFigures:
    """The floats of one system on one side of the cloth, before and after the correction."""

    system: Annotated[System, "Which threads float"]
    side: Annotated[Side, "On which side"]
    longest_before: Annotated[int, "Longest float as the design requests it", Unit("threads")]
    longest: Annotated[int, "Longest float after the correction", Unit("threads")]
    longest_mm: Annotated[float, "The same in the cloth"]
    histogram: Annotated[
        tuple[tuple[int, int], ...],
        "Pairs of threads and number of floats of that length, after the correction",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionFigures:
    """What the correction did."""

    requested: Annotated[bool, "Whether it was requested"]
    dots: Annotated[int, "Crossings of the hooks that were changed"]
    changed_ppm: Annotated[float, "The same, of a million crossings", Unit("ppm")]
    floats_left: Annotated[int, "Floats beyond the limits that remain"]
    is_complete: Annotated[bool, "Whether it ended by itself, not at the most dots it may make"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeUpFigures:
    """The take-up of neighbouring ends."""

    from_end: Annotated[int, "First end of the repeat, from 1"]
    to_end: Annotated[int, "Last end"]
    interlacings_per_cm: Annotated[float, "Mean interlacings of an end"]
    contraction_pct: Annotated[
        float, "By a rule of thumb that only compares: 4 x interlacings per inch / weft Ne"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessMap:
    """How near to jamming each part of the repeat is."""

    rows: Annotated[int, "Rows of squares, the first picks first"]
    columns: Annotated[int, "Columns of squares, from the first end"]
    values_pct: Annotated[tuple[tuple[float, ...], ...], "Tightness of every square, by rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftFigures:
    """The cords raised, as shares of all."""

    mean_pct: Annotated[float, "Mean over the picks"]
    least_pct: Annotated[float, "Least of any pick"]
    greatest_pct: Annotated[float, "Most of any pick"]
    heaviest_pick: Annotated[int, "The pick with most, from 1"]
    left_pct: Annotated[float, "Mean of the left half of the repeat"]
    right_pct: Annotated[float, "Mean of the right half"]
    by_picks_pct: Annotated[tuple[float, ...], "Means of equal groups of picks, at most 64"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPlace:
    """A place in the cloth where something was found."""

    end: Annotated[int, "End of the repeat, from 1"]
    pick: Annotated[int, "Pick of the repeat, from 1"]
    what: Annotated[str, "What is there"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignSheet:
    """What becomes of a figured design on a loom."""

    ruleset: Annotated[str, "Digest of the rules, thresholds and default limits"]
    reference: Annotated[str | None, "The caller's own name of the order, as sent"]
    loom_id: Annotated[str | None, "Name of the loom, if it has one"]
    verdict: Annotated[Verdict, "The answer for the whole cloth, as its validation gives it"]
    verdict_note: Annotated[
        str | None, "Which stated values would decide a verdict that rests on what is assumed"
    ]
    counts: Annotated[Counts, "Findings by severity"]
    findings: Annotated[tuple[Finding, ...], "All findings of the validation"]
    plan: Annotated[DesignPlan, "The design on the machine"]
    effects: Annotated[tuple[EffectFigures, ...], "The effects"]
    floats: Annotated[tuple[FloatFigures, ...], "Floats of the cloth"]
    correction: Annotated[CorrectionFigures, "What the correction did"]
    places: Annotated[
        tuple[DesignPlace, ...], "Where something was found: at most 50 floats beyond their limits"
    ]
    take_up: Annotated[tuple[TakeUpFigures, ...], "Take-up by groups of ends"]
    tightness_map: Annotated[TightnessMap, "Tightness by place"]
    lift: Annotated[LiftFigures, "Cords raised"]
    rates: Annotated[Rates, "How fast the cloth runs on the loom"]
    assumptions: Annotated[tuple[Assumption, ...], "Every value that was assumed"]
    caution: Annotated[str, "What a computed result is not"]


def figured_cloth_of(fit: Fit) -> FiguredCloth:
    """Return the figured design of a cloth.

    Raises:
        InputError: The construction is no figured design.
    """
    figured = fit.cloth.construction.figured
    if figured is None:
        message = "This needs a figured design: a weave with a picture and its effects."
        raise InputError.of("/construction/weave", message, allowed={"design": {}})
    return figured


def judge_design(construction: Construction, loom: Loom) -> DesignSheet:
    """Judge a figured design on a loom.

    Args:
        construction: The cloth as ordered; its weave is a figured design.
        loom: The loom as stated.

    Raises:
        InputError: As a validation does, or the construction is no figured design.
    """
    fit = judge(construction, loom)
    cloth = figured_cloth_of(fit)
    report = report_on(fit, loom)
    return tidy(
        DesignSheet(
            ruleset=report.ruleset,
            reference=report.reference,
            loom_id=report.loom_id,
            verdict=report.verdict,
            verdict_note=report.verdict_note,
            counts=report.counts,
            findings=report.findings,
            plan=_plan(fit, cloth),
            effects=tuple(_effects(cloth)),
            floats=tuple(_floats(cloth)),
            correction=_correction(cloth),
            places=tuple(DesignPlace(**place._asdict()) for place in cloth.words.places),
            take_up=tuple(_take_up(fit, cloth)),
            tightness_map=_map(fit, cloth),
            lift=LiftFigures(**lift_by_picks(cloth)._asdict()),
            rates=report.rates,
            assumptions=report.assumptions,
            caution=report.caution,
        )
    )


def _plan(fit: Fit, cloth: FiguredCloth) -> DesignPlan:
    lifts, shedding = cloth.lifts, fit.limits.shedding
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    jacquard = shedding if isinstance(shedding, JacquardLimits) else None
    used = getattr(fit.drawing_in, "hooks_used", None)
    hooks = range(cloth.weave.ends) if cloth.tie is None else cloth.tie.tolist()
    cords = Counter(Counter(hooks).values())
    lines = lifts.design.picture.lines
    return DesignPlan(
        lines=lines,
        wefts=tuple(key for key in lifts.design.weft_keys if key),
        picks=len(lifts.lift),
        cards=len(lifts.lift),
        picks_by_weft={key or fit.wefts[0].key: n for key, n in lifts.picks_by_weft.items()},
        hooks_used=used,
        hooks_idle=getattr(fit.drawing_in, "hooks_idle", None),
        selvedge_hooks=None if jacquard is None else jacquard.selvedge_hooks,
        repeat_ends=cloth.weave.ends,
        hooks_by_cords={str(number): cords[number] for number in sorted(cords)},
        repeat_width_cm=cloth.weave.ends / ends_per_cm,
        repeat_height_cm=cloth.weave.picks / picks_per_cm,
        paper=design_paper(
            ends=ends_per_cm, picks=picks_per_cm * lines / len(lifts.lift), first=NEEDLES
        ),
        fitting_columns=cloth.words.fitting_ends,
        fitting_lines=cloth.words.fitting_lines,
    )


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
            weft=design.weft_keys[design.weft_of(effect)],
            share_pct=float(shares[value]),
            warp_up_pct=float(raised[value]),
            is_bound=value not in cloth.unbound,
            longest_warp_float_picks=own.longest_warp_float_picks,
            longest_weft_float_ends=own.longest_weft_float_ends,
            warp_float_limit_picks=_limit(int(limits.warp[value])),
            weft_float_limit_ends=_limit(int(limits.weft[value])),
            dots=cloth.correction.dots_by_effect[value],
        )


def _limit(threads: int) -> int | None:
    return None if threads >= NO_LIMIT else threads


def _floats(cloth: FiguredCloth) -> Iterator[FloatFigures]:
    asked, lift = cloth.lifts.lift, cloth.correction.lift
    after = tuple(count_floats(cloth, lift))
    before = after if lift is asked else tuple(count_floats(cloth, asked))
    for one, other in zip(before, after, strict=True):
        yield FloatFigures(
            system=other.system,
            side=Side.FACE if other.is_face else Side.BACK,
            longest_before=one.longest,
            longest=other.longest,
            longest_mm=10 * other.longest / _threads_per_cm(cloth, other),
            histogram=tuple(
                (int(threads), int(other.counts[threads]))
                for threads in np.flatnonzero(other.counts)
            ),
        )


def _threads_per_cm(cloth: FiguredCloth, floats: FloatCounts) -> float:
    """Return the sett of the threads that the floats pass over."""
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    return picks_per_cm if floats.system is System.WARP else ends_per_cm


def _correction(cloth: FiguredCloth) -> CorrectionFigures:
    made = cloth.correction
    return CorrectionFigures(
        requested=cloth.lifts.design.correct,
        dots=made.dots,
        changed_ppm=1e6 * made.dots / made.lift.size,
        floats_left=int(cloth.numbers.long_floats),
        is_complete=made.is_complete,
    )


def _take_up(fit: Fit, cloth: FiguredCloth) -> Iterator[TakeUpFigures]:
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    weft_ne = TEX_NE / fit.cloth.weft.linear_density_tex
    for group in take_up(
        cloth, ends_per_cm=ends_per_cm, picks_per_cm=picks_per_cm, weft_ne=weft_ne
    ):
        yield TakeUpFigures(**group._asdict())


def _map(fit: Fit, cloth: FiguredCloth) -> TightnessMap:
    values = tightness_of(fit, cloth)
    return TightnessMap(
        rows=len(values),
        columns=len(values[0]),
        values_pct=tuple(map(tuple, values.tolist())),
    )


def tightness_of(fit: Fit, cloth: FiguredCloth) -> Floats:
    """Return the tightness of the squares of a cloth, in per cent."""
    warp, weft = fit.cloth.warp, fit.cloth.weft
    return tightness_map(
        cloth,
        ends_per_cm=warp.threads_per_cm,
        picks_per_cm=weft.threads_per_cm,
        warp_diameter_mm=warp.diameter_mm,
        weft_diameter_mm=weft.diameter_mm,
    )
