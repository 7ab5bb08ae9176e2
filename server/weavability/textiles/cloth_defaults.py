"""What an order leaves open about its cloth: the values that are taken, each with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from weavability.textiles.assumptions import Grade, Ledger, ValueBand, remembered
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth, StatedLayer
from weavability.textiles.cloth_states import Shrinkages
from weavability.textiles.construction import Allowances, Construction, Finishing, Stage
from weavability.textiles.crimp import (
    CRIMP_FLATTENING,
    LARGEST_CRIMP_PCT,
    CrimpBand,
    crimp_band,
)
from weavability.textiles.finishes import UsualChange, finished_fibre
from weavability.textiles.order_defaults import take_default
from weavability.textiles.sentences import NO_WORDS, say
from weavability.textiles.thread_systems import Threads
from weavability.textiles.warp_groups import GroupFacts
from weavability.textiles.warp_size import SizeEffect, resolve_size_effect, resolve_size_pct

LEAST_THICKNESS_MM: Final = 0.001
"""An estimate of the thickness is rounded to micrometres, and is not rounded to nothing."""

PILE_ON_ROLL: Final = 0.5
"""Height of the pile on the cloth roll over its full height: half way between that and lying down;
common practice, no source."""

PANEL_GAP_CM: Final = 2.0
"""Reed width between two panels, for the cutters; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowanceFacts:
    """Waste and size, with nothing left open.

    Attributes:
        warp_waste_pct: Warp yarn lost in preparation, on the warp woven.
        weft_waste_pct: Weft yarn lost at the package and in stops, on the weft inserted.
        size_pct: Size added to the warp, on the mass of the unsized warp.
        loom_waste_m: Warp that is lost at tying and at the end of the warp.
        size_effect: What the size does to the yarns that are sized.
    """

    warp_waste_pct: float
    weft_waste_pct: float
    size_pct: float
    loom_waste_m: float
    size_effect: SizeEffect


def note_weave(construction: Construction, ledger: Ledger) -> None:
    """Note what the notation of the weave left open."""
    for note in construction.weave_notes:
        ledger.repeat(note, "/weave")


def resolve_stage(construction: Construction, ledger: Ledger) -> Stage:
    """Return the stage at which sett, width and length were measured: grey, if not stated."""
    return ledger.take(
        "/stage",
        construction.stage,
        Stage.GREY,
        unit=None,
        reason=say(
            "assumption.cloth.grey_stage",
            "most orders state grey sett and width; [COMMON-PRACTICE]",
        ),
        grade=Grade.COMMON_PRACTICE,
    )


def resolve_shrinkages(
    construction: Construction, stage: Stage, *, warp: Threads, weft: Threads, ledger: Ledger
) -> Shrinkages:
    """Return what relaxation and finishing leave of a length, finishing of a width and the mass.

    Cloth whose finish is stated, or that is stated as finished, is taken to shrink as usual: in
    width by the fibre and finish of the weft, in length by those of the warp. Other cloth is taken
    as sold grey.

    Args:
        construction: As stated.
        stage: At which sett, width and length were measured.
        warp: Yarns and thread order of the warp.
        weft: Yarns and thread order of the weft.
        ledger: Takes a note of every change that is not stated.
    """
    return _shrinkages(
        ledger.below("/finishing"),
        construction.finishing,
        stage is Stage.FINISHED or construction.finishing.finish is not None,
        weft.shrinking_fibre,
        warp.shrinking_fibre,
    )


@remembered(maxsize=256)
def _shrinkages(
    at: Ledger,
    finishing: Finishing,
    is_finished: bool,  # noqa: FBT001 - a key of what is remembered
    weft_fibre: str,
    warp_fibre: str,
) -> Shrinkages:
    across, along = finished_fibre(weft_fibre), finished_fibre(warp_fibre)
    width_pct = _take_change(
        at,
        "/width_shrinkage_pct",
        finishing.width_shrinkage_pct,
        across.width_shrinkage_pct[finishing.finish],
        is_finished=is_finished,
    )
    length_pct = _take_change(
        at,
        "/length_shrinkage_pct",
        finishing.length_shrinkage_pct,
        along.length_shrinkage_pct[finishing.finish],
        is_finished=is_finished,
    )
    relaxation_pct = take_default(at, "relaxation_pct", finishing.relaxation_pct)
    mass_pct = _take_change(
        at,
        "/mass_change_pct",
        finishing.mass_change_pct,
        along.mass_change_pct,
        is_finished=is_finished,
    )
    return Shrinkages(
        width_kept=1 - width_pct / 100,
        length_kept=1 - length_pct / 100,
        relaxed_kept=1 - relaxation_pct / 100,
        mass_kept=1 + mass_pct / 100,
    )


def _take_change(
    at: Ledger, pointer: str, stated: float | None, usual: UsualChange, *, is_finished: bool
) -> float:
    """Return a change in finishing: as stated, as usual, or 0 if no finishing is stated."""
    if is_finished:
        return at.take(
            pointer,
            stated,
            usual.value,
            unit="%",
            reason=usual.reason,
            grade=usual.grade,
            band=usual.band,
        )
    return at.take(
        pointer,
        stated,
        0.0,
        unit="%",
        reason=say(
            "assumption.finishing.not_stated", "no finishing stated: finished cloth taken as grey"
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(min(0.0, usual.band.low), max(0.0, usual.band.high)),
    )


def note_crimps(
    stated: StatedCloth[float],
    numbers: ClothNumbers[float],
    warp: Threads,
    groups: Sequence[GroupFacts],
    ledger: Ledger,
) -> None:
    """Note the crimps that were estimated, with the error of the estimate, of layers the widest.

    Groups of ends that take up differently have a crimp for each of their yarns.

    Args:
        stated: The cloth in numbers, as it is stated.
        numbers: The grey cloth.
        warp: The warp.
        groups: Groups of ends.
        ledger: Takes the notes.
    """
    of_cloth = (stated.mean_float_of_picks, stated.mean_float_of_ends)
    known = _widest_band(stated.layers, of_cloth)
    if not any(group.present for group in stated.groups):
        if stated.warp_stated_share < 1.0:
            _note_crimp(ledger, "/warp/crimp_pct", numbers.estimated_warp_crimp_pct, known)
    else:
        for group, own, found in zip(groups, stated.groups, numbers.groups, strict=True):
            band = _widest_band(own.parts, of_cloth)
            for key in group.yarns if group.pile_ratio is None else ():
                if key not in warp.stated_crimps_pct:
                    at = f"/warp/yarns/{key}/crimp_pct"
                    _note_crimp(ledger, at, found.estimated_warp_crimp_pct, band, group.name)
    if stated.weft_stated_share < 1.0:
        _note_crimp(ledger, "/weft/crimp_pct", numbers.estimated_weft_crimp_pct, known)


def _widest_band(layers: Sequence[StatedLayer[float]], of_cloth: tuple[float, float]) -> CrimpBand:
    floats = [
        (layer.mean_float_of_picks, layer.mean_float_of_ends) for layer in layers if layer.present
    ] or [of_cloth]
    return max(
        (crimp_band(mean_float_of_picks=m1, mean_float_of_ends=m2) for m1, m2 in floats),
        key=lambda band: band.points,
    )


def _note_crimp(
    ledger: Ledger, pointer: str, estimate_pct: float, known: CrimpBand, group: str = ""
) -> None:
    at_bound = estimate_pct >= LARGEST_CRIMP_PCT
    end = (
        say("part.crimp_at_bound", "; estimates end there, so that it may be far out: state it")
        if at_bound
        else NO_WORDS
    )
    floats = (
        say("part.floats_of_group", "the average floats of the ends of {group}", group=group)
        if group
        else say("part.floats_of_weave", "the weave's average floats")
    )
    ledger.note(
        pointer,
        estimate_pct,
        unit="%",
        reason=say(
            "assumption.cloth.crimp",
            "estimated from the geometry of [PEIRCE-1937] with crossings "
            "flattened to {crimp_flattening:g} and {floats}; within "
            "{points_pct:g} percentage points on {crimps} published crimps of "
            "{cloths} cloths in {published_floats}, on most of which the estimate was chosen{end}",
            crimp_flattening=CRIMP_FLATTENING,
            floats=floats,
            points_pct=known.points,
            crimps=known.published_crimps,
            cloths=known.cloths,
            published_floats=known.floats,
            end=end,
        ),
        grade=Grade.ESTIMATE,
        band=ValueBand(*known.around(estimate_pct)),
    )


def resolve_panels(construction: Construction, ledger: Ledger) -> tuple[int, float]:
    """Return the number of panels, and the gap between two in the reed in cm.

    One panel has the gap that a second one would need.
    """
    panels = ledger.take(
        "/panels",
        construction.panels,
        1,
        unit=None,
        reason=say("assumption.cloth.one_panel", "one cloth across the loom"),
        grade=Grade.COMMON_PRACTICE,
    )
    stated = construction.panel_gap_cm
    if panels == 1:
        return panels, PANEL_GAP_CM if stated is None else stated
    gap_cm = ledger.take(
        "/panel_gap_cm",
        stated,
        PANEL_GAP_CM,
        unit="cm",
        reason=say(
            "assumption.cloth.panel_gap",
            "room for the cutters between two panels; [COMMON-PRACTICE]",
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(1.0, 4.0),
    )
    return panels, gap_cm


def resolve_thickness_mm(
    construction: Construction, warp: Threads, weft: Threads, ledger: Ledger
) -> float:
    """Return the thickness of the grey cloth in mm.

    If it is not stated, the two yarns lie one over the other, as thick as each is in the cloth.

    Args:
        construction: As stated.
        warp: The yarns of the warp and their order.
        weft: The yarns of the weft and their order.
        ledger: Takes a note of an assumption.
    """
    thickness_mm = yarns_thickness_mm(warp, weft)
    return ledger.take(
        "/thickness_mm",
        construction.thickness_mm,
        thickness_mm,
        unit="mm",
        reason=say(
            "assumption.cloth.thickness",
            "warp over weft: round yarns flattened to {crimp_flattening:g}, "
            "filaments by their flattening ratio, tapes as measured",
            crimp_flattening=CRIMP_FLATTENING,
        ),
        grade=Grade.ESTIMATE,
        band=_thickness_band(thickness_mm),
    )


def yarns_thickness_mm(warp: Threads, weft: Threads) -> float:
    """Return the thickness of a cloth whose two yarns lie one over the other, in mm."""
    return round(warp.thickness_mm + weft.thickness_mm, 3) or LEAST_THICKNESS_MM


def resolve_layered_thickness_mm(
    construction: Construction, *, ground_mm: float, pile_mm: float, ledger: Ledger
) -> float:
    """Return the thickness of a grey cloth with layers, in mm.

    If it is not stated, the layers lie one over the other, and the pile rises from them.

    Args:
        construction: As stated.
        ground_mm: Of all layers without pile.
        pile_mm: Height of the pile.
        ledger: Takes a note of an assumption.
    """
    high = round(ground_mm + pile_mm, 3)
    reason = (
        say(
            "assumption.cloth.thickness_with_pile",
            "the layers one over the other, each flattened at its crossings, and the pile at its "
            "full height; on the roll it is taken as pressed to {pile_on_roll:g} of that "
            "([COMMON-PRACTICE])",
            pile_on_roll=PILE_ON_ROLL,
        )
        if pile_mm
        else say(
            "assumption.cloth.thickness_of_layers",
            "the layers one over the other, each flattened at its crossings",
        )
    )
    return ledger.take(
        "/thickness_mm",
        construction.thickness_mm,
        high,
        unit="mm",
        reason=reason,
        grade=Grade.ESTIMATE,
        band=_thickness_band(round(ground_mm, 3), pile_mm=high - round(ground_mm, 3)),
    )


def _thickness_band(flat_mm: float, pile_mm: float = 0.0) -> ValueBand:
    """Return the range of a thickness: pile may lie down on the ground."""
    least = flat_mm if pile_mm > 0 else 0.75 * flat_mm
    return ValueBand(round(least, 4), round(1.3 * flat_mm + pile_mm, 4))


def resolve_allowances(construction: Construction, warp: Threads, ledger: Ledger) -> AllowanceFacts:
    """Return waste and size: as usual if not stated, size by the yarns of the warp."""
    resolve = _remembered_allowances if warp.is_remembered else _allowances
    return resolve(ledger.below("/allowances"), construction.allowances, warp)


def _allowances(at: Ledger, given: Allowances, warp: Threads) -> AllowanceFacts:
    size_pct = resolve_size_pct(given, warp, at)
    return AllowanceFacts(
        warp_waste_pct=take_default(at, "warp_waste_pct", given.warp_waste_pct),
        weft_waste_pct=take_default(at, "weft_waste_pct", given.weft_waste_pct),
        size_pct=size_pct,
        size_effect=resolve_size_effect(given, warp, size_pct, at),
        loom_waste_m=take_default(at, "loom_waste_m", given.loom_waste_m),
    )


_remembered_allowances: Final = remembered(maxsize=256)(_allowances)
