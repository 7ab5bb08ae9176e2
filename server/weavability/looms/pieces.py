"""Cut lengths: how the pieces of an order fall on cloth rolls and warp beams."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from weavability.textiles.numbers import SLACK
from weavability.textiles.order_lengths import Lengths


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """The pieces of an order on rolls and beams.

    Attributes:
        grey_m: Length of a piece of grey cloth.
        woven: Pieces to weave, overage and rejects included.
        rows: Pieces one after the other on the loom; panels side by side are woven at once.
        all_grey_m: Grey cloth of all panels in these rows.
        rows_per_roll: Whole ones on a full cloth roll; 0 if it holds none.
        rolls: Rolls of whole pieces; ``None`` likewise.
        rows_per_beam: Whole ones from a full warp beam; 0 if it holds none.
        beams: Beams that give all of them whole; ``None`` likewise.
        beam_end_m: Grey cloth that a full beam gives beyond whole pieces.
        cut: Pieces that the ends of full beams cut.
    """

    grey_m: float
    woven: int
    rows: int
    all_grey_m: float
    rows_per_roll: int
    rolls: int | None
    rows_per_beam: int
    beams: int | None
    beam_end_m: float
    cut: int


def cut_pieces(
    lengths: Lengths,
    *,
    panels: int,
    cloth_roll_capacity_m: float,
    cloth_per_beam_m: float,
) -> Pieces | None:
    """Lay the pieces of an order on rolls and beams; ``None`` if it is not in pieces.

    Args:
        lengths: Of the order.
        panels: Panels side by side.
        cloth_roll_capacity_m: Grey cloth on a full roll.
        cloth_per_beam_m: Grey cloth from a full beam, or the first of several that is empty.

    Returns:
        A piece goes on one roll and comes from one beam. Every full beam but the last cuts one
        piece of each panel, unless it ends with a piece.
    """
    if lengths.pieces is None:
        return None
    grey_m = lengths.piece_grey_m
    woven = ceil(lengths.finished_m / lengths.pieces.piece_length_m * (1 - SLACK))
    rows = ceil(woven / panels)
    per_roll, per_beam = (
        floor(room / grey_m * (1 + SLACK)) for room in (cloth_roll_capacity_m, cloth_per_beam_m)
    )
    beams = ceil(rows / per_beam) if per_beam else None
    end_m = max(0.0, cloth_per_beam_m - per_beam * grey_m)
    ends_within = beams - 1 if beams and end_m > SLACK * grey_m else 0
    return Pieces(
        grey_m=grey_m,
        woven=woven,
        rows=rows,
        all_grey_m=rows * panels * grey_m,
        rows_per_roll=per_roll,
        rolls=ceil(rows / per_roll) if per_roll else None,
        rows_per_beam=per_beam,
        beams=beams,
        beam_end_m=end_m,
        cut=ends_within * panels,
    )
