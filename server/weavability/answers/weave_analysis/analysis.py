"""Examine a weave: from one request to its sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from weavability.answers.caution import CAUTION
from weavability.answers.layer_summary import layers_in_weave
from weavability.answers.rounding import tidy
from weavability.answers.weave_analysis.answer import (
    Comparison,
    DraftFault,
    DraftingSheet,
    DraftInUse,
    DraftSheet,
    FloatSheet,
    GivenDraft,
    IntegritySheet,
    InterlacingSheet,
    LayerSheet,
    LeftOut,
    RepeatSheet,
    TurnedWeave,
    WeaveSheet,
)
from weavability.answers.weave_analysis.colours import colour_sheet
from weavability.answers.weave_analysis.hooks import jacquard_sheet
from weavability.answers.weave_analysis.request import WeaveRequest
from weavability.answers.weave_analysis.resolved_request import (
    Setts,
    WeaveCase,
    name_if_small,
    resolve_weave_request,
)
from weavability.answers.weave_analysis.weave_findings import Measured, checks_of, find_faults
from weavability.checks.registry import set_by_mill
from weavability.textiles.drafting import Draft, healds_per_shaft, treadling
from weavability.textiles.errors import Fault
from weavability.textiles.geometry import LEAST_FREE_FLOAT_THREADS, float_length_mm
from weavability.textiles.naming import LARGEST_NAMED, name_of
from weavability.textiles.weave_matrix import Counts, Weave, write_rows
from weavability.textiles.weave_structure import MAX_LAYERS_LISTED, Structure
from weavability.textiles.weave_symmetry import RELATIONS, equivalent, quarter_turn, reverse_side

MOST_CROSSINGS_PRINTED: Final = 40_000
"""Most crossings of a matrix that is written out in rows."""

MOST_THREADS_LISTED: Final = 2_000
"""Most threads of one kind whose numbers, or figures, are listed."""

MOST_CROSSINGS_COMPARED: Final = 524_288
"""Most crossings of a weave that is compared with another at every shift and turn."""


@dataclass(slots=True)
class _Printer:
    """Prints what is short enough, and keeps account of what is not."""

    left_out: list[LeftOut] = field(default_factory=list)

    def skip(self, pointer: str, reason: str) -> None:
        """Write down that a part is missing, and why."""
        self.left_out.append(LeftOut(pointer=pointer, reason=reason))

    def rows(self, pointer: str, matrix: np.typing.NDArray[np.uint8]) -> tuple[str, ...] | None:
        """Return a matrix in rows."""
        if matrix.size <= MOST_CROSSINGS_PRINTED:
            return write_rows(matrix)
        size = " x ".join(map(str, matrix.shape))
        self.skip(pointer, f"{size} signs; at most {MOST_CROSSINGS_PRINTED} are written out")
        return None

    def counts(self, pointer: str, counts: Counts) -> tuple[int, ...] | None:
        """Return a figure for every thread."""
        if len(counts) <= MOST_THREADS_LISTED:
            return tuple(counts.tolist())
        self.skip(pointer, f"{len(counts)} threads; at most {MOST_THREADS_LISTED} are listed")
        return None

    def numbers(self, pointer: str, numbers: Sequence[int]) -> tuple[int, ...]:
        """Return the first of some thread numbers."""
        if len(numbers) > MOST_THREADS_LISTED:
            self.skip(pointer, f"only {MOST_THREADS_LISTED} of {len(numbers)} threads are listed")
        return tuple(numbers[:MOST_THREADS_LISTED])


def examine_weave(request: WeaveRequest) -> WeaveSheet:
    """Find everything that follows from a weave.

    Setts, colours, a draft and a shedding motion are optional; each adds its part to the sheet.
    The work is linear in the crossings, and what would be too long to print is left out with a
    reason.

    Args:
        request: The weave, and what else is known.

    Raises:
        InputError: Something cannot be read; pointers are relative to the request.

    The stripe of 20 ends of five-end satin and 16 of plain needs seven shafts and repeats on ten
    picks ([TAYLOR-1909], p. 166):

    >>> from weavability.textiles.notation import parse_weave
    >>> from weavability.textiles.stripes import Stripe, striped_weave
    >>> satin, plain = parse_weave("5-end satin move 2"), parse_weave("plain")
    >>> stripe = striped_weave([Stripe(weave=satin, ends=20), Stripe(weave=plain, ends=16)])
    >>> sheet = examine_weave(WeaveRequest(weave=stripe))
    >>> sheet.repeat.ends, sheet.repeat.picks, sheet.drafting.shafts_needed
    (36, 10, 7)
    """
    case = resolve_weave_request(request)
    printer = _Printer()
    if max(case.repeat.picks, case.repeat.ends) > LARGEST_NAMED:
        reason = f"repeats of up to {LARGEST_NAMED} threads are compared with the named weaves"
        printer.skip("/recognised_name", reason)
    floats = _floats(case.structure, case.setts)
    drafting = _drafting(case, printer)
    measured = _measured(case)
    return tidy(
        WeaveSheet(
            name=case.repeat.name or None,
            recognised_name=case.recognised_name,
            repeat=_repeat(case, printer),
            warp_up_pct=100 * case.structure.warp_up_share,
            face=case.structure.face,
            floats=floats,
            interlacings=_interlacings(case.structure, printer),
            integrity=_integrity(case.structure, printer),
            layers=layers_in_weave(case.layers),
            reverse_side=_turned("/reverse_side", case.repeat, reverse_side, printer),
            quarter_turn=_turned("/quarter_turn", case.repeat, quarter_turn, printer),
            symmetries=_symmetries(case.repeat, printer),
            comparison=_comparison(case, printer),
            drafting=drafting,
            jacquard=jacquard_sheet(case),
            colour=None
            if case.colours is None
            else colour_sheet(
                case.colours,
                case.repeat,
                total_ends=case.setts.total_ends,
                ends_per_cm=case.setts.ends_per_cm,
                picks_per_cm=case.setts.picks_per_cm,
            ),
            findings=find_faults(case, measured),
            left_out=tuple(printer.left_out),
            assumptions=(*case.assumptions, *set_by_mill(checks_of(case))),
            caution=CAUTION,
        )
    )


def _repeat(case: WeaveCase, printer: _Printer) -> RepeatSheet:
    repeat, setts = case.repeat, case.setts
    return RepeatSheet(
        ends=repeat.ends,
        picks=repeat.picks,
        crossings=repeat.matrix.size,
        width_cm=None if setts.ends_per_cm is None else repeat.ends / setts.ends_per_cm,
        length_cm=None if setts.picks_per_cm is None else repeat.picks / setts.picks_per_cm,
        rows=printer.rows("/repeat/rows", repeat.matrix),
    )


def _floats(structure: Structure, setts: Setts) -> FloatSheet:
    warp = structure.warp_face_float_picks, structure.warp_back_float_picks
    weft = structure.weft_face_float_ends, structure.weft_back_float_ends
    # An end passes over picks, so that its float is as long as their spacing makes it.
    warp_mm = [_length_mm(picks, setts.picks_per_cm) for picks in warp]
    weft_mm = [_length_mm(ends, setts.ends_per_cm) for ends in weft]
    known = [length for length in (*warp_mm, *weft_mm) if length is not None]
    return FloatSheet(
        warp_face_float_picks=warp[0],
        warp_back_float_picks=warp[1],
        weft_face_float_ends=weft[0],
        weft_back_float_ends=weft[1],
        mean_warp_float_picks=structure.mean_float_of_ends,
        mean_weft_float_ends=structure.mean_float_of_picks,
        warp_face_float_mm=warp_mm[0],
        warp_back_float_mm=warp_mm[1],
        weft_face_float_mm=weft_mm[0],
        weft_back_float_mm=weft_mm[1],
        longest_float_mm=max(known) if len(known) == len(warp_mm) + len(weft_mm) else None,
    )


def _length_mm(threads: int, threads_per_cm: float | None) -> float | None:
    if threads_per_cm is None:
        return None
    return float_length_mm(float_threads=threads, threads_per_cm=threads_per_cm)


def _float_lengths_mm(case: WeaveCase) -> list[tuple[int, float]] | None:
    """Return threads and length of the longest floats, of layers by themselves; pile is meant."""
    ends_per_cm, picks_per_cm = case.setts.ends_per_cm, case.setts.picks_per_cm
    if ends_per_cm is None or picks_per_cm is None:
        return None
    sets = [(case.structure, 1.0, 1.0)]
    if case.layers is not None:
        sets = [
            (layer.structure, *case.layers.set_shares(layer))
            for layer in case.layers.layers
            if layer.structure is not None and not layer.is_pile
        ]
    return [
        (threads, float_length_mm(float_threads=threads, threads_per_cm=threads_per_cm))
        for structure, ends, picks in sets
        for threads, threads_per_cm in (
            (structure.longest_warp_float_picks, picks_per_cm * picks),
            (structure.longest_weft_float_ends, ends_per_cm * ends),
        )
    ]


def _interlacings(structure: Structure, printer: _Printer) -> InterlacingSheet:
    ends, picks = structure.interlacings_per_end, structure.interlacings_per_pick
    return InterlacingSheet(
        of_ends=int(ends.sum()),
        of_picks=int(picks.sum()),
        per_end=printer.counts("/interlacings/per_end", ends),
        per_pick=printer.counts("/interlacings/per_pick", picks),
        uneven_ends=bool(np.ptp(ends)),
    )


def _integrity(structure: Structure, printer: _Printer) -> IntegritySheet:
    at = "/integrity"
    if structure.layer_count > MAX_LAYERS_LISTED:
        reason = f"only {MAX_LAYERS_LISTED} of {structure.layer_count} layers are listed"
        printer.skip(f"{at}/layers", reason)
    return IntegritySheet(
        hangs_together=structure.hangs_together,
        layer_count=structure.layer_count,
        layers=()
        if structure.hangs_together
        else tuple(
            LayerSheet(
                end_count=len(layer.ends),
                pick_count=len(layer.picks),
                ends=printer.numbers(f"{at}/layers/{place}/ends", layer.ends),
                picks=printer.numbers(f"{at}/layers/{place}/picks", layer.picks),
            )
            for place, layer in enumerate(structure.layers)
        ),
        loose_end_count=len(structure.loose_ends),
        loose_pick_count=len(structure.loose_picks),
        loose_ends=printer.numbers(f"{at}/loose_ends", structure.loose_ends),
        loose_picks=printer.numbers(f"{at}/loose_picks", structure.loose_picks),
    )


def _turned(
    pointer: str, repeat: Weave, turn: Callable[[Weave], Weave], printer: _Printer
) -> TurnedWeave:
    """Turn a weave that is small enough to be written out."""
    if repeat.matrix.size > MOST_CROSSINGS_PRINTED:
        reason = f"{repeat.matrix.size} crossings; at most {MOST_CROSSINGS_PRINTED} are turned"
        printer.skip(pointer, reason)
        return TurnedWeave(name=None, rows=None)
    turned = turn(repeat)
    return TurnedWeave(name=name_if_small(turned), rows=turned.rows)


def _symmetries(repeat: Weave, printer: _Printer) -> tuple[str, ...] | None:
    """Name every turn that leaves the weave as it is, wherever the repeat begins."""
    if repeat.matrix.size > MOST_CROSSINGS_PRINTED:
        reason = f"{repeat.matrix.size} crossings; at most {MOST_CROSSINGS_PRINTED} are turned"
        printer.skip("/symmetries", reason)
        return None
    return tuple(name for name in _relations(repeat, repeat) if name != "same")


def _relations(weave: Weave, other: Weave) -> tuple[str, ...]:
    """Name every turn of a weave that gives the other."""
    return tuple(name for name, turn in RELATIONS.items() if equivalent(turn(weave), other))


def _comparison(case: WeaveCase, printer: _Printer) -> Comparison | None:
    other = case.request.against
    if other is None:
        return None
    largest = max(case.repeat.matrix.size, other.matrix.size)
    if largest > MOST_CROSSINGS_COMPARED:
        reason = f"{largest} crossings; at most {MOST_CROSSINGS_COMPARED} are compared"
        printer.skip("/comparison/relations", reason)
        return Comparison(name=other.name or None, same=None, relations=None)
    found = _relations(case.repeat, other.reduced())
    return Comparison(name=other.name or name_of(other), same="same" in found, relations=found)


def _drafting(case: WeaveCase, printer: _Printer) -> DraftingSheet:
    drafts, structure = case.drafts, case.structure
    if drafts.least is None:
        reason = f"{structure.shafts_needed} shafts: no loom carries so many, it is a Jacquard's"
        printer.skip("/drafting/least", reason)
    return DraftingSheet(
        shafts_needed=structure.shafts_needed,
        picks_needed=structure.distinct_picks,
        in_use=_in_use(case),
        least=_draft("/drafting/least", drafts.least, case.setts, printer),
        spread=_draft("/drafting/spread", drafts.spread, case.setts, printer),
        given=None
        if case.request.draft is None
        else GivenDraft(
            weaves_the_cloth=drafts.given is not None,
            faults=tuple(map(_fault, drafts.given_faults)),
            draft=_draft("/drafting/given/draft", drafts.given, case.setts, printer),
        ),
    )


def _in_use(case: WeaveCase) -> DraftInUse | None:
    drafts = case.drafts
    if drafts.in_use is None:
        return None
    if drafts.in_use is drafts.given:
        return "given"
    return "spread" if drafts.in_use is drafts.spread else "least"


def _fault(fault: Fault) -> DraftFault:
    return DraftFault(
        pointer=fault.pointer,
        message=fault.message,
        message_key=fault.message.key,
        message_values=fault.message.written_values(),
    )


def _draft(pointer: str, draft: Draft | None, setts: Setts, printer: _Printer) -> DraftSheet | None:
    if draft is None:
        return None
    pegs = treadling(draft)
    tie_up = pegs.tie_up if len(pegs.tie_up) * draft.shafts <= MOST_CROSSINGS_PRINTED else None
    if tie_up is None:
        printer.skip(f"{pointer}/tie_up", f"{len(pegs.tie_up)} treadles")
    return DraftSheet(
        kind=draft.kind,
        shafts=draft.shafts,
        threading_ends=len(draft.threading),
        threading=draft.threading,
        lift_plan_picks=draft.picks,
        lift_plan=printer.rows(f"{pointer}/lift_plan", draft.lift_plan),
        treadles=len(pegs.tie_up),
        tie_up=tie_up,
        treadling=None if tie_up is None else pegs.treadling,
        healds_per_repeat=healds_per_shaft(draft, len(draft.threading)),
        healds_per_shaft=_healds(draft, setts),
        healds_per_cm_per_shaft=_crowding(draft, setts),
    )


def _healds(draft: Draft, setts: Setts) -> tuple[int, ...] | None:
    return None if setts.total_ends is None else healds_per_shaft(draft, setts.total_ends)


def _crowding(draft: Draft, setts: Setts) -> float | None:
    """Return the healds per cm on the fullest shaft: over the width, else the mean of a repeat."""
    healds = _healds(draft, setts)
    if healds is not None and setts.reed_width_cm is not None:
        return max(healds) / setts.reed_width_cm
    if setts.ends_per_cm_in_reed is None:
        return None
    in_repeat = healds_per_shaft(draft, len(draft.threading))
    return setts.ends_per_cm_in_reed * max(in_repeat) / len(draft.threading)


def _measured(case: WeaveCase) -> Measured:
    draft = case.drafts.in_use
    lengths = _float_lengths_mm(case)
    free = [mm for threads, mm in lengths or () if threads >= LEAST_FREE_FLOAT_THREADS]
    return Measured(
        longest_float_mm=None if lengths is None else max((mm for _, mm in lengths), default=0.0),
        free_float_mm=None if lengths is None else max(free, default=0.0),
        healds_per_shaft=None if draft is None else _healds(draft, case.setts),
        healds_per_cm_per_shaft=None if draft is None else _crowding(draft, case.setts),
    )
