"""From the pieces ordered to the warp on the beam: published chains, laws, and cut lengths."""

from __future__ import annotations

import math
from typing import Any

import pytest
from builders import construction, loom, report, threads
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from reference.compared import read

from weavability.answers.finding_remedies import OUT_OF_TRIALS
from weavability.answers.order_chain import OrderChain
from weavability.answers.remedy_search import search_remedies
from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.looms.loom import WarpBeam
from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.construction import Allowances, Finishing, PieceOrder
from weavability.textiles.errors import InputError
from weavability.textiles.units import M_PER_YARD

CASES: Any = read("order_lengths.json")["cases"]


def chain(**changes: Any) -> OrderChain:
    return assess(construction(**changes), loom(), rounded=False).order


def in_pieces(pieces: int, length_m: float, **changes: Any) -> dict[str, Any]:
    order = PieceOrder(pieces=pieces, piece_length_m=length_m, **changes)
    return {"length_m": None, "order": order}


def mill_chain(finished_yd: float, allowance_pct: float, contraction_pct: float) -> OrderChain:
    """An order as that mill planned it: one allowance on the grey cloth, contraction on the beam.

    The allowance is put in as shrinkage, which is on the grey cloth too.
    """
    return chain(
        **in_pieces(1, finished_yd * M_PER_YARD, overage_pct=0.0, rejects_pct=0.0),
        warp=threads(24.0, crimp_pct=None, contraction_pct=contraction_pct),
        finishing=Finishing(
            length_shrinkage_pct=allowance_pct, width_shrinkage_pct=0.0, relaxation_pct=1.5
        ),
    )


def middle_m(row: Any) -> float:
    """The middle of a range of lengths in proportion, of the first one of a half."""
    low_yd, high_yd = row["grey_yd"]
    middle_yd: float = ((low_yd or high_yd / 4) * high_yd) ** 0.5
    return middle_yd * M_PER_YARD


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["grey"])
def test_lengths_are_those_that_a_mill_planned(case: Any) -> None:
    found = mill_chain(case["finished_yd"], case["allowance_pct"], case["contraction_pct"])
    assert found.grey_m / M_PER_YARD == pytest.approx(case["grey_yd"], rel=1e-6, abs=0)
    assert found.beam_contraction_pct == pytest.approx(case["contraction_pct"])
    warp_m = found.steps[-1].from_m
    # The source rounds the yard: it is 0.91442 m to 0.914419 m there.
    assert warp_m == pytest.approx(case["beam_m"], rel=2e-5, abs=0)


def test_rejects_and_allowance_are_those_of_a_mill_by_the_length_of_the_order() -> None:
    for row in read("order_lengths.json")["by_length"]:
        answer = report(construction(**in_pieces(1, middle_m(row))))
        assumed = {line.pointer: line for line in answer.assumptions}
        rejects = assumed["/construction/order/rejects_pct"]
        assert rejects.value == pytest.approx(row["rejects_pct"], abs=0.02)
        assert "Data in Brief" in rejects.reason
        # Without shrinkage the allowance on grey is overage and rejects together.
        ordered_m = answer.order.ordered_m
        assert ordered_m is not None
        allowance_pct = 100 * (1 - ordered_m / answer.order.grey_m)
        assert allowance_pct == pytest.approx(row["allowance_pct"], abs=0.1)


def assumption(answer: Report, pointer: str) -> Assumption:
    return next(line for line in answer.assumptions if line.pointer == pointer)


def test_an_assumed_overage_is_what_shrinkage_and_rejects_leave_of_the_allowance() -> None:
    answer = report(
        construction(
            **in_pieces(20, 60.0, rejects_pct=2.0), finishing=Finishing(length_shrinkage_pct=30.0)
        )
    )
    line = assumption(answer, "/construction/order/overage_pct")
    assert (line.value, line.grade, line.band and line.band.low) == (0.0, Grade.ESTIMATE, 0.0)
    assert not any(each.pointer.endswith("rejects_pct") for each in answer.assumptions)


percentages = st.floats(0, 60)


@share_of_examples(0.6)
@given(
    st.integers(1, 5000),
    st.floats(1, 200),
    percentages,
    percentages,
    st.floats(-20, 60),
    st.floats(-20, 60),
    st.floats(0, 60),
    st.integers(1, 4),
)
def test_the_chain_is_invertible(
    pieces: int,
    length_m: float,
    overage_pct: float,
    rejects_pct: float,
    shrinkage_pct: float,
    relaxation_pct: float,
    crimp_pct: float,
    panels: int,
) -> None:
    order = construction(
        **in_pieces(pieces, length_m, overage_pct=overage_pct, rejects_pct=rejects_pct),
        warp=threads(24.0, crimp_pct=crimp_pct),
        width_cm=40.0,
        panels=panels,
        panel_gap_cm=0.0,
        finishing=Finishing(
            length_shrinkage_pct=shrinkage_pct, width_shrinkage_pct=0, relaxation_pct=relaxation_pct
        ),
    )
    found = assess(order, loom(), rounded=False).order
    back_m = found.beam_m
    for step in reversed(found.steps):
        assert back_m == pytest.approx(step.to_m, rel=1e-9)
        if step.pct is None:
            back_m *= panels
        elif step.pct_of == "from":
            back_m /= 1 + step.pct / 100
        else:
            back_m *= 1 - step.pct / 100
        assert back_m == pytest.approx(step.from_m, rel=1e-9)
    assert back_m == pytest.approx(pieces * length_m, rel=1e-9)
    assert (found.steps[0].pct, found.steps[1].pct) == pytest.approx(
        (overage_pct, rejects_pct), abs=1e-9
    )
    # The same cloth, ordered as the grey cloth to weave.
    as_length = construction(
        length_m=found.grey_m,
        warp=order.warp,
        width_cm=40.0,
        panels=panels,
        panel_gap_cm=0.0,
        finishing=order.finishing,
    )
    again = assess(as_length, loom(), rounded=False).order
    assert (again.grey_m, again.loom_m, again.beam_m, again.finished_m) == pytest.approx(
        (found.grey_m, found.loom_m, found.beam_m, found.finished_m)
    )
    assert (again.pieces, again.cuts) == (None, None)


def test_pieces_are_not_cut_by_the_ends_of_beams_that_are_wound_for_them() -> None:
    small = loom(warp_beam=WarpBeam(flange_diameter_cm=40, barrel_diameter_cm=20, width_cm=170))
    order = construction(
        **in_pieces(50, 80.0, overage_pct=0.0, rejects_pct=0.0),
        width_cm=80.0,
        panels=2,
        allowances=Allowances(loom_waste_m=5.0),
    )
    answer = assess(order, small)
    cuts = answer.order.cuts
    assert cuts is not None
    per_beam_m = (answer.warp.beam_capacity_m - 5.0) / 1.05
    assert cuts.pieces_to_weave == 50  # 25 rows of two panels
    assert cuts.pieces_per_beam == 2 * int(per_beam_m / 80.0)
    assert cuts.beam_end_m == pytest.approx(per_beam_m % 80.0, rel=1e-4)
    assert cuts.beams == -(-50 // cuts.pieces_per_beam)
    assert cuts.pieces_cut == 2 * (cuts.beams - 1) > 0
    rows = cuts.pieces_per_beam // 2
    assert cuts.warp_per_beam_m == pytest.approx(rows * 80.0 * 1.05 + 5.0)
    assert cuts.pieces_per_roll == 2 * int(answer.warp.cloth_roll_capacity_m / 80.0)
    assert cuts.doffs == -(-50 // cuts.pieces_per_roll)
    assert answer.warp.doffs == cuts.doffs
    assert cuts.warp_m == pytest.approx(25 * 80.0 * 1.05 + cuts.beams * 5.0)
    assert (cuts.grey_m, cuts.more_pct) == (50 * 80.0, 0.0)


def test_whole_pieces_are_more_than_the_length_to_which_yarn_and_hours_are() -> None:
    order = in_pieces(20, 60.0, overage_pct=5.0, rejects_pct=1.0)
    found = chain(**order, width_cm=80.0, panels=4)
    cuts = found.cuts
    assert cuts is not None
    # 1272.7 m are 21.2 pieces: 22, which takes 6 rows of 4 panels.
    assert cuts.pieces_to_weave == 22
    assert cuts.grey_m == pytest.approx(24 * 60.0)
    assert found.grey_m == pytest.approx(1200 * 1.05 / 0.99)
    assert cuts.more_pct == pytest.approx(100 * (24 * 60.0 / found.grey_m - 1))


def test_a_piece_that_no_roll_or_beam_holds_is_a_warning() -> None:
    order = construction(**in_pieces(20, 7800.0, overage_pct=0.0, rejects_pct=0.0))
    answer = report(order)
    cuts = answer.order.cuts
    assert cuts is not None
    assert (cuts.pieces_per_roll, cuts.doffs) == (0, None)
    assert (cuts.pieces_per_beam, cuts.beams) == (0, None)
    assert (cuts.warp_per_beam_m, cuts.warp_m, cuts.pieces_cut) == (None, None, 0)
    beam, roll = (each for each in answer.findings if each.code == "order.piece_length")
    assert (beam.message_key, roll.message_key) == (
        "order.piece_length.beam",
        "order.piece_length.roll",
    )
    assert beam.limit == pytest.approx(cuts.beam_end_m)
    assert roll.limit == pytest.approx(answer.warp.cloth_roll_capacity_m)
    assert beam.actual == roll.actual == 7800.0
    assert beam.tried == (OUT_OF_TRIALS,)  # Pieces and their length are two fields.
    (found,) = search_remedies(order, [loom()]).looms[0].remedies
    parts = math.ceil(7800.0 / answer.warp.cloth_roll_capacity_m)
    assert [(each["pointer"], each["to"]) for each in found["changes"]] == [
        ("/construction/order/pieces", 20 * parts),
        # Whole centimetres, so that the pieces are no shorter together than those ordered.
        ("/construction/order/piece_length_m", math.ceil(780_000.0 / parts) / 100),
    ]


def test_length_and_pieces_contradict_one_another() -> None:
    twice = construction(order=PieceOrder(pieces=2, piece_length_m=50.0))
    endless = construction(**in_pieces(1_000_000, 100_000.0))
    for order, pointer in (
        (twice, "/construction/length_m"),
        (endless, "/construction/order/pieces"),
    ):
        with pytest.raises(InputError) as error:
            assess(order, loom())
        assert error.value.faults[0].pointer == pointer


def test_a_short_order_in_pieces_is_noted_at_its_pieces() -> None:
    answer = report(construction(**in_pieces(1, 20.0)))
    noted = next(each for each in answer.findings if each.code == "order.length")
    assert noted.pointer == "/construction/order/pieces"


def test_yarn_has_its_own_waste() -> None:
    waste = Allowances(warp_waste_pct=3.0, weft_waste_pct=7.0)
    plain, wasted = (
        {each.yarn: each for each in report(construction(allowances=each)).yarn}
        for each in (Allowances(warp_waste_pct=0.0, weft_waste_pct=0.0), waste)
    )
    for yarn, pct in (("warp A", 3.0), ("weft A", 7.0)):
        assert wasted[yarn].waste_pct == pct
        assert wasted[yarn].mass_kg == pytest.approx(
            plain[yarn].mass_kg * (1 + pct / 100), rel=1e-5
        )
