"""The draft that is made if none is requested: straight if the shafts are there, no skips."""

from __future__ import annotations

from dataclasses import replace

import pytest
from answers.strategies import trade_looms, trade_orders
from builders import construction, loom, named, report, threads, weave
from hypothesis import assume, given

from weavability.answers.report import Setup
from weavability.answers.validation import judge
from weavability.looms.drawing_in import OnShafts
from weavability.looms.loom import Loom
from weavability.textiles.construction import Construction
from weavability.textiles.drafting import check_draft
from weavability.textiles.weave_matrix import Weave

OXFORD = named("2/2 weft rib")
HERRINGBONE = named("2/2 pointed twill 16")


def drawn(of: Weave, *, shafts: int, healds_per_cm: float, ends_per_cm: float = 31.5) -> Setup:
    """The set-up of 30 ends/cm in the reed on a dobby."""
    dobby = replace(
        loom().shedding,
        shafts=shafts,
        max_healds_per_cm_per_shaft=healds_per_cm,
        max_healds_per_shaft=None,
    )
    return report(construction(weave=of, warp=threads(ends_per_cm)), loom(shedding=dobby)).setup


# 30 ends/cm: on as many shafts as keep each at the limit or below.
@pytest.mark.parametrize(
    ("notation", "shafts", "healds_per_cm", "over"),
    [
        ("plain", 16, 15.1, 2),
        ("plain", 16, 10.0, 4),
        ("plain", 16, 6.0, 6),
        ("2/1 twill", 16, 10.1, 3),
        ("2/1 twill", 6, 6.0, 6),
        ("2/2 twill", 16, 6.0, 8),
        ("3/1 twill", 16, 7.6, 4),
        ("5-end satin move 2", 10, 4.0, 10),
        ("3/3 hopsack", 16, 10.0, 6),
    ],
)
def test_straight_over_the_shafts_that_are_there(
    notation: str, shafts: int, healds_per_cm: float, over: int
) -> None:
    setup = drawn(named(notation), shafts=shafts, healds_per_cm=healds_per_cm)
    assert (setup.draft, setup.threading) == ("straight", tuple(range(1, over + 1)))


def test_oxford_is_drawn_on_eight_straight_or_on_six_without_needless_skips() -> None:
    # Six shafts would do for the healds: three of them for the ends of each column.
    on_eight = drawn(OXFORD, shafts=8, healds_per_cm=5.5)
    assert on_eight.threading == (1, 2, 3, 4, 5, 6, 7, 8)
    on_six = drawn(OXFORD, shafts=6, healds_per_cm=5.5)
    assert on_six.threading == (1, 2, 3, 4, 5, 1, 6, 3, 2, 5, 4, 6)


def test_a_point_draft_stays_while_its_healds_are_not_crowded() -> None:
    pointed = named("2/2 pointed twill 4")
    setup = drawn(pointed, shafts=16, healds_per_cm=12.0)
    assert (setup.draft, setup.shafts_used) == ("point", 4)


def test_a_straight_draft_is_not_worth_twice_the_shafts() -> None:
    setup = drawn(HERRINGBONE, shafts=32, healds_per_cm=4.5)
    assert setup.shafts_used is not None
    assert setup.shafts_used < 16
    # Two ends as one, on the two shafts that the weave needs, and not on four.
    assert drawn(OXFORD, shafts=16, healds_per_cm=15.1).threading == (1, 1, 2, 2)


def test_an_irregular_draft_is_straightened_if_the_shafts_are_there() -> None:
    # Six ends, the first and the fourth alike: five shafts would do.
    fancy = weave("100101", "110100", "011001", "001010", "100110", "010001")
    assert drawn(fancy, shafts=6, healds_per_cm=12.0).threading == (1, 2, 3, 4, 5, 6)
    assert drawn(fancy, shafts=5, healds_per_cm=12.0).shafts_used == 5


@pytest.mark.slow
@given(trade_orders, trade_looms)
def test_shafts_are_numbered_by_first_appearance_and_weave_the_cloth(
    cloth: Construction, on: Loom
) -> None:
    fit = judge(replace(cloth, draft=None), on)
    assume(isinstance(fit.drawing_in, OnShafts) and fit.draft is not None)
    assert fit.draft is not None
    met = list(dict.fromkeys(fit.draft.threading))
    assert met == list(range(1, len(met) + 1))
    whole = len(fit.draft.threading) % fit.cloth.structure.ends == 0
    if whole:
        check_draft(fit.cloth.symbols.repeat, fit.draft.threading, fit.draft.lift_plan)
