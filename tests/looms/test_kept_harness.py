"""Which cloths the draft on a loom can weave: by hand, and as laws over random weaves."""

from __future__ import annotations

import numpy as np
import pytest
from builders import named
from hypothesis import given
from hypothesis import strategies as st

from weavability.looms.kept_harness import is_renumbered, lift_plan_on
from weavability.textiles.drafting import draft_weave
from weavability.textiles.weave_matrix import Repeat, Weave

ENDS = 4_000
STRAIGHT = (1, 2, 3, 4)
POINT = (1, 2, 3, 4, 3, 2)
HERRINGBONE = (1, 2, 3, 4, 2, 1, 4, 3)
"""Herringbone with a clean cut: at the cut, shafts 4 and 2 are neighbours."""


def weaves(threading: tuple[int, ...], name: str) -> bool:
    return lift_plan_on(threading, Repeat.of(named(name)), ends=ENDS) is not None


@pytest.mark.parametrize(
    ("threading", "name", "can"),
    [
        (STRAIGHT, "plain", True),
        (STRAIGHT, "2/2 twill S", True),
        (STRAIGHT, "2/2 warp rib", True),
        (STRAIGHT, "2/2 hopsack", True),
        (STRAIGHT, "5-end satin move 2", False),
        (STRAIGHT, "2/1 twill Z", False),
        ((1, 2, 3), "plain", False),
        ((1, 2, 3, 4, 5, 6), "2/1 twill Z", True),
        ((1, 2, 3, 4, 5, 6), "plain", True),
        (POINT, "plain", True),
        (POINT, "2/2 twill Z", False),
        # Plain lifts shafts 2 and 4 alike, and at the cut they are side by side.
        (HERRINGBONE, "plain", False),
        (HERRINGBONE, "2/2 herringbone 4", True),
        ((1, 3, 2, 4), "plain", True),  # a skip draft for plain
        ((1, 3, 2, 4), "3/1 twill Z", True),
    ],
)
def test_what_a_draft_can_weave(threading: tuple[int, ...], name: str, can: bool) -> None:
    """Worked by hand: an apprentice's drafts, common practice, no source."""
    assert weaves(threading, name) is can


def test_a_herringbone_is_drawn_in_with_a_clean_cut_where_plain_fails() -> None:
    drawn = draft_weave(named("2/2 herringbone 4"))
    assert drawn.threading == HERRINGBONE
    before, after = drawn.threading[3], drawn.threading[4]
    assert before % 2 == after % 2  # plain would lift these neighbours alike


def test_a_warp_that_ends_before_drafts_disagree_can_be_woven() -> None:
    plain = Repeat.of(named("plain"))
    assert lift_plan_on((1, 2, 3), plain, ends=3) is not None
    assert lift_plan_on((1, 2, 3), plain, ends=4) is None


small = st.integers(1, 6).flatmap(
    lambda picks: st.integers(1, 6).flatmap(
        lambda ends: st.lists(
            st.text("01", min_size=ends, max_size=ends), min_size=picks, max_size=picks
        )
    )
)
threadings = st.lists(st.integers(1, 6), min_size=1, max_size=12).map(tuple)


@given(rows=small, threading=threadings, ends=st.integers(1, 100))
def test_a_lift_plan_weaves_the_cloth_and_there_is_none_only_if_a_shaft_would_lift_two_ways(
    rows: list[str], threading: tuple[int, ...], ends: int
) -> None:
    weave = Repeat.of(Weave.from_rows(rows))
    cloth = weave.weave.matrix[:, np.arange(ends) % weave.weave.ends]
    shaft = np.array(threading)[np.arange(ends) % len(threading)]
    plan = lift_plan_on(threading, weave, ends=ends)
    if plan is not None:
        assert np.array_equal(plan[:, shaft - 1], cloth)
    else:
        assert any(
            len({cloth[:, end].tobytes() for end in np.flatnonzero(shaft == one)}) > 1
            for one in set(shaft.tolist())
        )


@given(rows=small, renumbering=st.permutations(range(1, 7)))
def test_the_numbers_of_the_shafts_do_not_matter(rows: list[str], renumbering: list[int]) -> None:
    own = draft_weave(Weave.from_rows(rows))
    other = tuple(renumbering[shaft - 1] for shaft in own.threading)
    assert is_renumbered(own.threading, other, ends=ENDS)
    assert lift_plan_on(other, Repeat.of(Weave.from_rows(rows)), ends=ENDS) is not None
