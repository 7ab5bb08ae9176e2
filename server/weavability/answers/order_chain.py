"""What an answer states of the order: the way from the pieces ordered to the warp on the beam."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from weavability.looms.fit import Fit, GroupWarp
from weavability.looms.pieces import Pieces
from weavability.textiles.assumptions import Grade
from weavability.textiles.crimp import contraction_of_crimp_pct

StepName = Literal[
    "overage", "rejects", "finishing", "panels", "relaxation", "contraction", "loom_waste"
]
Base = Literal["from", "to"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStep:
    """A step of the chain: with `pct` of `from_m` or of `to_m`, one follows from the other."""

    step: Annotated[
        StepName,
        "`overage` and `rejects` of an order in pieces, `finishing` to grey cloth, `panels` woven "
        "side by side, `relaxation` to the cloth on the loom, `contraction` to the warp in it, "
        "`loom_waste` to the warp on the beams",
    ]
    from_m: Annotated[float, "Length before the step"]
    to_m: Annotated[float, "Length after it"]
    pct: Annotated[
        float | None, "What the step adds, on the length that `pct_of` names; null of `panels`"
    ]
    pct_of: Annotated[
        Base | None,
        "`from`: to = from x (1 + pct/100); `to`: from = to x (1 - pct/100); null likewise",
    ]
    grade: Annotated[
        Grade | None, "How well the percentage is supported if it is assumed; null if it is stated"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceCuts:
    """The pieces of the order on rolls and beams, none of them in two parts."""

    piece_grey_m: Annotated[float, "Length of a piece of grey cloth"]
    pieces_to_weave: Annotated[int, "Pieces to weave, overage and rejects included"]
    grey_m: Annotated[float, "Grey cloth of these pieces, all panels together"]
    more_pct: Annotated[
        float,
        "How much more that is than `grey_m` of the order, for which yarn, hours, warp and costs "
        "are: for whole pieces they grow by as much",
    ]
    pieces_per_roll: Annotated[
        int, "Whole pieces on a full cloth roll, of all panels; 0 if it holds none"
    ]
    doffs: Annotated[int | None, "Rolls of whole pieces; null if a roll holds none"]
    pieces_per_beam: Annotated[
        int, "Whole pieces from a full warp beam, of all panels; 0 if it gives none"
    ]
    beams: Annotated[int | None, "Beams that give whole pieces; null if a beam gives none"]
    beam_end_m: Annotated[float, "Grey cloth that a full beam gives beyond whole pieces"]
    pieces_cut: Annotated[
        int, "Pieces that the ends of full beams cut; none if they are wound for whole pieces"
    ]
    warp_per_beam_m: Annotated[
        float | None, "Warp to wind on a beam for whole pieces, its waste included; null likewise"
    ]
    warp_m: Annotated[
        float | None,
        "Warp to wind on all these beams, of the ends without pile; null likewise",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChain:
    """The lengths of the order; those of the usual grey length if none is ordered."""

    is_ordered: Annotated[bool, "Whether the order states a length"]
    pieces: Annotated[int | None, "Pieces ordered; null if the order is not in pieces"]
    piece_length_m: Annotated[float | None, "Length of a finished piece; null likewise"]
    ordered_m: Annotated[
        float | None, "Finished cloth ordered, all panels together; null if the order states none"
    ]
    finished_m: Annotated[float, "Finished cloth to make, overage and rejects included"]
    grey_m: Annotated[float, "Grey cloth for it, all panels together"]
    loom_m: Annotated[float, "Cloth on the loom, under its tension; panels are woven at once"]
    beam_m: Annotated[
        float,
        "Warp on the beams, their waste included; of the ends without pile, the longest",
    ]
    warp_crimp_pct: Annotated[float, "Crimp of that warp on the length of the grey cloth"]
    beam_contraction_pct: Annotated[
        float, "The same on the length on the beam, as planners state it: 1 - grey / beam"
    ]
    steps: Annotated[tuple[OrderStep, ...], "From the length ordered to that on the beams"]
    cuts: Annotated[PieceCuts | None, "The pieces on rolls and beams; null if it is not in pieces"]


def order_chain(fit: Fit) -> OrderChain:
    """Describe the lengths of an order on a loom."""
    cloth = fit.cloth
    lengths, pieces = cloth.lengths, cloth.lengths.pieces
    steps = tuple(_steps(fit))
    crimp_pct = _longest_warp(fit).crimp_pct
    return OrderChain(
        is_ordered=lengths.ordered,
        pieces=None if pieces is None else pieces.pieces,
        piece_length_m=None if pieces is None else pieces.piece_length_m,
        ordered_m=lengths.ordered_m if lengths.ordered else None,
        finished_m=lengths.finished_m,
        grey_m=lengths.grey_m,
        loom_m=steps[-2].from_m,
        beam_m=steps[-1].to_m,
        warp_crimp_pct=crimp_pct,
        beam_contraction_pct=contraction_of_crimp_pct(crimp_pct),
        steps=steps,
        cuts=_cuts(fit),
    )


def _steps(fit: Fit) -> Iterator[OrderStep]:
    cloth = fit.cloth
    lengths, kept = cloth.lengths, cloth.symbols.shrinkages
    grades = {line.pointer: line.grade for line in fit.assumptions}

    def step(
        name: StepName, lengths_m: tuple[float, float], pct: float, field: str, base: Base = "to"
    ) -> OrderStep:
        return OrderStep(
            step=name,
            from_m=lengths_m[0],
            to_m=lengths_m[1],
            pct=pct,
            pct_of=base,
            grade=grades.get(f"/construction/{field}"),
        )

    made_m, grey_m, shared_m = lengths.finished_m, lengths.grey_m, lengths.loom_m
    if lengths.pieces is not None:
        more_m = lengths.ordered_m * (1 + lengths.overage_pct / 100)
        with_more = (lengths.ordered_m, more_m)
        yield step("overage", with_more, lengths.overage_pct, "order/overage_pct", "from")
        yield step("rejects", (more_m, made_m), lengths.rejects_pct, "order/rejects_pct")
    shrinkage_pct = 100 * (1 - kept.length_kept)
    yield step("finishing", (made_m, grey_m), shrinkage_pct, "finishing/length_shrinkage_pct")
    if cloth.panels > 1:
        shared = step("panels", (grey_m, shared_m), 0.0, "panels")
        yield replace(shared, pct=None, pct_of=None)
    on_loom_m = shared_m / kept.relaxed_kept
    relaxation_pct = 100 * (1 - kept.relaxed_kept)
    yield step("relaxation", (shared_m, on_loom_m), relaxation_pct, "finishing/relaxation_pct")
    warp = _longest_warp(fit)
    waste_m = warp.beams_needed * cloth.allowances.loom_waste_m
    woven_m = shared_m * warp.take_up
    contraction_pct = 100 * (1 - 1 / (kept.relaxed_kept * warp.take_up))
    yield step("contraction", (on_loom_m, woven_m), contraction_pct, "warp/crimp_pct")
    waste_pct = 100 * waste_m / warp.length_m
    yield step("loom_waste", (woven_m, warp.length_m), waste_pct, "allowances/loom_waste_m")


def _longest_warp(fit: Fit) -> GroupWarp:
    """Return the longest warp of the ends without pile."""
    ground = [group for group in fit.groups if group.group.pile_ratio is None]
    return max(ground or fit.groups, key=lambda group: group.length_m)


def _cuts(fit: Fit) -> PieceCuts | None:
    cloth, found = fit.cloth, fit.warp.pieces
    if found is None:
        return None
    return PieceCuts(
        piece_grey_m=found.grey_m,
        pieces_to_weave=found.woven,
        grey_m=found.all_grey_m,
        # Without what rounding leaves if the length is one of whole pieces.
        more_pct=round(100 * (found.all_grey_m / cloth.lengths.grey_m - 1), 6),
        pieces_per_roll=found.rows_per_roll * cloth.panels,
        doffs=found.rolls,
        pieces_per_beam=found.rows_per_beam * cloth.panels,
        beams=found.beams,
        beam_end_m=found.beam_end_m,
        pieces_cut=found.cut,
        warp_per_beam_m=_warp_per_beam_m(fit, found),
        warp_m=_warp_m(fit, found),
    )


def _warp_m(fit: Fit, pieces: Pieces) -> float | None:
    if pieces.beams is None:
        return None
    waste_m = pieces.beams * fit.cloth.allowances.loom_waste_m
    return pieces.rows * pieces.grey_m * _longest_warp(fit).take_up + waste_m


def _warp_per_beam_m(fit: Fit, pieces: Pieces) -> float | None:
    rows = min(pieces.rows, pieces.rows_per_beam)
    if not rows:
        return None
    warp = _longest_warp(fit)
    return rows * pieces.grey_m * warp.take_up + fit.cloth.allowances.loom_waste_m
