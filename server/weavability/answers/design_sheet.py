"""The answer on a figured design: its section of the report, with all figures by place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np

from weavability.answers.design_section import (
    ConflictsWithTie,
    Correction,
    EffectsOfDesign,
    FloatLimitsOfDesign,
    LiftShares,
    PlacesFound,
    PlanOfDesign,
    Side,
    TakeUpTimes,
    TightnessOfDesign,
    TurnFloatEnds,
    WeftsOfDesign,
    design_section,
    figured_cloth_of,
)
from weavability.answers.field_words import (
    CautionText,
    LoomName,
    OrderReference,
    RulesetDigest,
    Unit,
)
from weavability.answers.report import Counts, Rates
from weavability.answers.rounding import tidy
from weavability.answers.tightest_square import TightestSquare
from weavability.answers.validation import judge, report_on
from weavability.checks.finding import Finding, Verdict
from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Assumption
from weavability.textiles.cloth_symbols import picks_taken_up
from weavability.textiles.construction import Construction
from weavability.textiles.count_systems import TEX_NE
from weavability.textiles.figured.design_figures import (
    FloatCounts,
    count_floats,
    lift_by_picks,
    parts_of_map,
    take_up,
    tightest_of_parts,
)
from weavability.textiles.figured.figured_cloth import FiguredCloth
from weavability.textiles.figured.float_limits import System
from weavability.textiles.jamming import tightness_by_place
from weavability.textiles.numbers import Floats
from weavability.textiles.square_lines import SQUARE_THREADS, STEP_THREADS

MOST_TIGHT_AREAS: Final = 20
"""Most tight areas that are listed, the tightest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatFigures:
    """The floats of one system on one side of the cloth, before and after the correction."""

    system: Annotated[System, "Which threads float"]
    side: Annotated[Side, "On which side"]
    longest_before: Annotated[int, "Longest float as the design requests it", Unit("threads")]
    longest: Annotated[int, "Longest float after the correction", Unit("threads")]
    longest_mm: Annotated[float, "The same in the cloth"]
    histogram_before: Annotated[
        tuple[tuple[int, int], ...],
        "Pairs of threads and number of floats of that length, as the design requests it",
    ]
    histogram: Annotated[
        tuple[tuple[int, int], ...],
        "Pairs of threads and number of floats of that length, after the correction",
    ]


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
class TightArea(TightestSquare):
    """A part of the map that is tight."""

    tightness_pct: Annotated[float, "Tightness of its tightest square"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessMap:
    """How near to jamming each part of the repeat is: of each its tightest square."""

    rows: Annotated[int, "Rows of parts, the first picks first"]
    columns: Annotated[int, "Columns of parts, from the first end"]
    values_pct: Annotated[
        tuple[tuple[float, ...], ...],
        "Tightness of every part, by rows; the greatest is that of the cloth",
    ]
    tight_from_pct: Annotated[float, "Tightness from which `sett.tight` notes it"]
    tight_share_pct: Annotated[float, "Squares that are as tight or tighter, of all"]
    tight_areas: Annotated[
        tuple[TightArea, ...], "Parts of the map with such a square, the tightest first; 20 at most"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftFigures(LiftShares):
    """The cords raised, as shares of all."""

    left_pct: Annotated[float, "Mean of the left half of the repeat"]
    right_pct: Annotated[float, "Mean of the right half"]
    by_picks_pct: Annotated[tuple[float, ...], "Means of equal groups of picks, at most 64"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignSheet:
    """What becomes of a figured design on a loom."""

    ruleset: RulesetDigest
    reference: OrderReference
    loom_id: LoomName
    verdict: Annotated[Verdict, "The answer for the whole cloth, as its validation gives it"]
    verdict_note: Annotated[
        str | None, "Which stated values would decide a verdict that rests on what is assumed"
    ]
    counts: Annotated[Counts, "Findings by severity"]
    findings: Annotated[tuple[Finding, ...], "All findings of the validation"]
    plan: PlanOfDesign
    effects: EffectsOfDesign
    wefts: WeftsOfDesign
    float_limits: FloatLimitsOfDesign
    floats: Annotated[tuple[FloatFigures, ...], "Floats of the cloth"]
    correction: Correction
    tie_conflicts: ConflictsWithTie
    turn_float_ends: TurnFloatEnds
    places: PlacesFound
    take_up: Annotated[tuple[TakeUpFigures, ...], "Take-up by groups of ends"]
    take_up_times: TakeUpTimes
    tightness: TightnessOfDesign
    tightness_map: Annotated[
        TightnessMap | None, "Tightness by place; null if the order declares layers"
    ]
    lift: Annotated[LiftFigures, "Cords raised"]
    rates: Annotated[Rates, "How fast the cloth runs on the loom"]
    assumptions: Annotated[tuple[Assumption, ...], "Every value that was assumed"]
    caution: CautionText


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
    design = report.design or design_section(fit, {each.code for each in report.findings})
    return tidy(
        DesignSheet(
            ruleset=report.ruleset,
            reference=report.reference,
            loom_id=report.loom_id,
            verdict=report.verdict,
            verdict_note=report.verdict_note,
            counts=report.counts,
            findings=report.findings,
            plan=design.plan,
            effects=design.effects,
            wefts=design.wefts,
            float_limits=design.float_limits,
            floats=tuple(_floats(cloth)),
            correction=design.correction,
            tie_conflicts=design.tie_conflicts,
            turn_float_ends=design.turn_float_ends,
            places=design.places,
            take_up=tuple(_take_up(fit, cloth)),
            take_up_times=design.take_up_times,
            tightness=design.tightness,
            tightness_map=_map(fit),
            lift=LiftFigures(**lift_by_picks(cloth)._asdict()),
            rates=report.rates,
            assumptions=report.assumptions,
            caution=report.caution,
        )
    )


def _floats(cloth: FiguredCloth) -> Iterator[FloatFigures]:
    uncorrected, lift = cloth.lifts.lift, cloth.correction.lift
    after = tuple(count_floats(cloth, lift))
    before = after if lift is uncorrected else tuple(count_floats(cloth, uncorrected))
    for one, other in zip(before, after, strict=True):
        yield FloatFigures(
            system=other.system,
            side=Side.FACE if other.is_face else Side.BACK,
            longest_before=one.longest,
            longest=other.longest,
            longest_mm=10 * other.longest / _threads_per_cm(cloth, other),
            histogram_before=_histogram(one),
            histogram=_histogram(other),
        )


def _histogram(floats: FloatCounts) -> tuple[tuple[int, int], ...]:
    return tuple(
        (int(threads), int(floats.counts[threads])) for threads in np.flatnonzero(floats.counts)
    )


def _threads_per_cm(cloth: FiguredCloth, floats: FloatCounts) -> float:
    """Return the sett of the threads that the floats pass over."""
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    return picks_per_cm if floats.system is System.WARP else ends_per_cm


def _take_up(fit: Fit, cloth: FiguredCloth) -> Iterator[TakeUpFigures]:
    picks_per_cm = cloth.setts_per_cm[1]
    weft_ne = TEX_NE / fit.cloth.weft.linear_density_tex
    for group in take_up(cloth, picks_per_cm=picks_per_cm, weft_ne=weft_ne):
        yield TakeUpFigures(**group._asdict())


def _map(fit: Fit) -> TightnessMap | None:
    squares = tightness_of(fit)
    if squares is None:
        return None
    values, tight_pct = tightest_of_parts(squares), in_force().usual.sett_tight_note_pct
    return TightnessMap(
        rows=len(values),
        columns=len(values[0]),
        values_pct=tuple(map(tuple, values.tolist())),
        tight_from_pct=tight_pct,
        tight_share_pct=100 * float((squares >= tight_pct).mean()),
        tight_areas=tuple(_tight_areas(squares, values, tight_pct)),
    )


def _tight_areas(squares: Floats, values: Floats, tight_pct: float) -> Iterator[TightArea]:
    """Yield the tightest parts of a map, each from its first square to its last."""
    rows, columns = (np.append(parts_of_map(n), n).tolist() for n in squares.shape)
    for place in np.argsort(-values, axis=None, kind="stable")[:MOST_TIGHT_AREAS].tolist():
        row, column = divmod(place, len(columns) - 1)
        if values[row, column] < tight_pct:
            return
        yield TightArea(
            first_end=STEP_THREADS * columns[column] + 1,
            last_end=STEP_THREADS * (columns[column + 1] - 1) + SQUARE_THREADS,
            first_pick=STEP_THREADS * rows[row] + 1,
            last_pick=STEP_THREADS * (rows[row + 1] - 1) + SQUARE_THREADS,
            tightness_pct=float(values[row, column]),
        )


def tightness_of(fit: Fit) -> Floats | None:
    """Return the tightness of all squares of a cloth, in per cent; ``None`` of one in layers.

    They are those that the checks of the sett judge.
    """
    cloth, warp, weft = fit.cloth, fit.cloth.warp, fit.cloth.weft
    if cloth.symbols.in_layers:
        return None
    return tightness_by_place(
        cloth.repeat,
        ends_in_dents=cloth.construction.reed.ends_in_dents,
        taken_up=picks_taken_up(cloth.construction),
        ends_per_cm=warp.threads_per_cm,
        picks_per_cm=weft.threads_per_cm,
        warp_diameter_mm=warp.width_mm,
        weft_diameter_mm=weft.width_mm,
        warp_depth_mm=warp.depth_mm,
        weft_depth_mm=weft.depth_mm,
    )
