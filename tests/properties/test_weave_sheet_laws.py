"""Laws of the sheet of a weave that hold for every matrix."""

from __future__ import annotations

from typing import Any

import numpy as np
import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability.answers.weave_analysis.analysis import examine_weave
from weavability.answers.weave_analysis.answer import DraftSheet, WeaveSheet
from weavability.answers.weave_analysis.request import ColouredThreads, DraftToCheck, WeaveRequest
from weavability.looms.loom import Shedding, SheddingKind
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_symmetry import RELATIONS

pytestmark = pytest.mark.slow

COLOURS = ("#1c2a4a", "#f4f1e8", "#a8481f")


@st.composite
def weaves(draw: st.DrawFn, most: int = 8) -> Weave:
    picks, ends = draw(st.integers(1, most)), draw(st.integers(1, most))
    cells = draw(st.lists(st.integers(0, 1), min_size=picks * ends, max_size=picks * ends))
    return Weave(matrix=np.array(cells, dtype=np.uint8).reshape(picks, ends))


setts = st.floats(1, 120)
crowded = st.builds(
    Shedding,
    kind=st.sampled_from([SheddingKind.CAM, SheddingKind.DOBBY]),
    shafts=st.integers(2, 28),
    max_healds_per_cm_per_shaft=st.floats(2, 20),
)
hooked = st.builds(
    Shedding,
    kind=st.just(SheddingKind.JACQUARD),
    hooks=st.integers(1, 400),
    ends_per_hook=st.none() | st.integers(1, 12),
    harness_ends_per_cm=st.none() | st.floats(5, 100),
)
orders = st.lists(st.sampled_from("ABC"), min_size=1, max_size=30).map(
    lambda letters: ColouredThreads(
        order=" ".join(letters),
        colours=dict(zip(sorted(set(letters)), COLOURS, strict=False)),
    )
)
ends_in_all = st.integers(1, 20_000)


def sheet(weave: Weave, **known: Any) -> WeaveSheet:
    return examine_weave(WeaveRequest(weave=weave, **known))


def woven(draft: DraftSheet) -> Weave:
    """What a draft of the sheet makes, end by end."""
    assert draft.lift_plan is not None
    return Weave.from_rows(
        ["".join(pick[shaft - 1] for shaft in draft.threading) for pick in draft.lift_plan]
    )


@given(weave=weaves())
def test_law_the_printed_draft_makes_the_printed_repeat(weave: Weave) -> None:
    found = sheet(weave)
    assert found.drafting.least is not None
    assert woven(found.drafting.least).rows == found.repeat.rows


@given(weave=weaves(), per_cm=setts, shedding=crowded, total=ends_in_all)
def test_law_a_spread_draft_makes_the_same_cloth_with_no_more_healds_a_shaft(
    weave: Weave, per_cm: float, shedding: Shedding, total: int
) -> None:
    drafting = sheet(weave, ends_per_cm=per_cm, shedding=shedding, total_ends=total).drafting
    assert drafting.least is not None
    if drafting.spread is None:
        return
    assert woven(drafting.spread).reduced() == weave.reduced()
    assert sum(drafting.spread.healds_per_shaft or ()) == total
    assert max(drafting.spread.healds_per_shaft or ()) <= max(drafting.least.healds_per_shaft or ())
    assert drafting.spread.shafts <= max(shedding.shafts or 0, drafting.shafts_needed)


@given(weave=weaves())
def test_law_a_draft_of_the_sheet_is_accepted_when_it_is_given_back(weave: Weave) -> None:
    least = sheet(weave).drafting.least
    assert least is not None
    draft = DraftToCheck(threading=least.threading, lift_plan=least.lift_plan)
    given_back = sheet(weave, draft=draft).drafting.given
    assert given_back is not None
    assert given_back.weaves_the_cloth
    assert given_back.draft == least


@given(weave=weaves(), turn=st.sampled_from(sorted(RELATIONS)))
def test_law_every_turn_of_a_weave_is_recognised_as_one(weave: Weave, turn: str) -> None:
    found = sheet(weave, against=RELATIONS[turn](weave))
    assert found.comparison is not None
    assert turn in (found.comparison.relations or ())
    assert found.comparison.same == (turn in ("same", *(found.symmetries or ())))


@given(weave=weaves())
def test_law_the_back_of_the_sheet_has_the_face_as_its_back(weave: Weave) -> None:
    face = sheet(weave)
    back = sheet(Weave.from_rows(face.reverse_side.rows or ()))
    assert back.reverse_side.rows == face.repeat.rows
    assert back.warp_up_pct + face.warp_up_pct == pytest.approx(100, rel=1e-5)
    assert back.floats.warp_face_float_picks == face.floats.warp_back_float_picks
    assert back.symmetries == face.symmetries


@given(weave=weaves(), warp=orders, weft=orders, total=ends_in_all)
def test_law_the_colours_of_the_face_share_it(
    weave: Weave, warp: ColouredThreads, weft: ColouredThreads, total: int
) -> None:
    colour = sheet(weave, warp=warp, weft=weft, total_ends=total).colour
    assert colour is not None
    assert sum(share.share_pct for share in colour.face) == pytest.approx(100, rel=1e-4)
    assert colour.repeat_ends % colour.warp.repeat_threads == 0
    assert colour.repeat_picks % colour.weft.repeat_threads == 0
    assert colour.warp.threads == sum(yarn.threads for yarn in colour.warp.yarns)
    centring = colour.warp.centring
    assert centring is not None
    assert centring.whole_repeats * centring.order_threads + centring.remainder_threads == total


@given(weave=weaves(), shedding=hooked, total=st.none() | ends_in_all, per_cm=st.none() | setts)
def test_law_every_hook_is_used_or_idle(
    weave: Weave, shedding: Shedding, total: int | None, per_cm: float | None
) -> None:
    found = sheet(weave, shedding=shedding, total_ends=total, ends_per_cm=per_cm)
    plan = found.jacquard
    assert plan is not None
    assert plan.fits == (found.repeat.ends <= plan.hooks)
    if plan.fits:
        assert (plan.hooks_used or 0) + (plan.hooks_idle or 0) == plan.hooks
        assert all(plan.hooks % ends == 0 for ends in plan.nearest_full_repeats_ends)
    assert plan.fits == all("hooks." not in one.message for one in found.findings)


@given(
    weave=weaves(),
    ends_per_cm=st.none() | setts,
    picks_per_cm=st.none() | setts,
    total_ends=st.none() | ends_in_all,
    shedding=st.none() | crowded | hooked,
    warp=st.none() | orders,
)
def test_law_a_sheet_is_always_written_and_always_the_same(weave: Weave, **known: Any) -> None:
    first, second = sheet(weave, **known), sheet(weave, **known)
    assert orjson.dumps(first) == orjson.dumps(second)
    assert first.left_out == ()
