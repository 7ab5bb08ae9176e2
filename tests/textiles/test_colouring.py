"""Colour and weave: published repeats and effects, shares of the face, centring of a check."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability.textiles.colouring import (
    MAX_FACE_CELLS,
    MAX_ORDER_THREADS,
    centre_order,
    colour_repeat,
    face_of,
    face_shares,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_symmetry import equivalent

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_colouring.json").read_text("utf-8")
)


def effect(weave: Weave, warp: str, weft: str) -> tuple[tuple[str, ...], Weave]:
    """Return the colours of one repeat of the effect, and the effect as a matrix of two colours."""
    repeat = colour_repeat(weave, warp=warp, weft=weft)
    face = face_of(weave, warp=warp, weft=weft, ends=repeat.ends, picks=repeat.picks)
    rows = tuple("".join(face.colours[index] for index in row) for row in face.matrix)
    return rows, Weave(matrix=face.matrix.astype(np.uint8))


@pytest.mark.parametrize("case", REFERENCE["effects"], ids=lambda case: f"{case['weave']}")
def test_published_effects(case: dict[str, Any]) -> None:
    weave = parse_weave(case["weave"])
    repeat = colour_repeat(weave, warp=case["warp"], weft=case["weft"])
    rows, picture = effect(weave, case["warp"], case["weft"])
    true = picture.reduced()
    assert (true.ends, true.picks) == (case["ends"], case["picks"])
    assert repeat.ends % case["ends"] == repeat.picks % case["picks"] == 0
    if "dark_share" in case:
        shares = face_shares(weave, warp=case["warp"], weft=case["weft"])
        assert shares["A"] == pytest.approx(case["dark_share"])
    if "face" in case:
        published = case["face"].split("/")
        assert [row[: case["ends"]] for row in rows[: case["picks"]]] == published


@pytest.mark.parametrize("case", REFERENCE["repeats"], ids=lambda case: f"{case['repeat']}")
def test_published_repeats_of_weave_and_colour(case: dict[str, Any]) -> None:
    weave = Weave(matrix=np.eye(case["weave"], dtype=np.uint8))
    order = "A" * (case["colour"] - 1) + "B"
    repeat = colour_repeat(weave, warp=order, weft=order)
    assert repeat.ends == repeat.picks == case["repeat"]
    assert repeat.weave_breaks_in_warp == (case["colour"] % case["weave"] != 0)


def test_changing_the_position_of_the_weave_changes_the_effect() -> None:
    # 2-and-2 hopsack coloured 4 and 4: eight effects among sixteen positions (computed elsewhere).
    hopsack = parse_weave("2/2 hopsack").matrix
    found: list[Weave] = []
    for down in range(4):
        for across in range(4):
            moved = Weave(matrix=np.roll(hopsack, (down, across), axis=(0, 1)))
            picture = effect(moved, "AAAABBBB", "AAAABBBB")[1]
            if not any(equivalent(picture, other) for other in found):
                found.append(picture)
    assert len(found) == 8


def test_orders_are_cut_to_their_true_repeat() -> None:
    repeat = colour_repeat(parse_weave("plain"), warp="ABAB", weft="AAAA")
    assert (repeat.warp_order_ends, repeat.weft_order_picks) == (2, 1)
    assert (repeat.ends, repeat.picks) == (2, 2)
    assert not repeat.weave_breaks_in_weft


def test_an_order_of_two_breaks_a_weave_of_three() -> None:
    repeat = colour_repeat(parse_weave("2/1 twill Z"), warp="AB", weft="AB")
    assert (repeat.weave_breaks_in_warp, repeat.weave_breaks_in_weft) == (True, True)
    assert (repeat.ends, repeat.picks) == (6, 6)


orders = st.text("ABC", min_size=1, max_size=12)
weaves = st.sampled_from(
    ["plain", "2/1 twill Z", "3/1 twill S", "5-end satin move 2", "2/2 hopsack", "honeycomb 8"]
)


@given(name=weaves, warp=orders, weft=orders)
def test_shares_are_those_of_the_laid_out_face(name: str, warp: str, weft: str) -> None:
    weave = parse_weave(name)
    repeat = colour_repeat(weave, warp=warp, weft=weft)
    face = face_of(weave, warp=warp, weft=weft, ends=repeat.ends, picks=repeat.picks)
    for colour, share in face_shares(weave, warp=warp, weft=weft).items():
        assert share == pytest.approx(np.mean(face.matrix == face.colours.index(colour)))


def test_a_check_is_centred_with_equal_bands_at_both_edges() -> None:
    # 24 ground, 4 over, 24 ground, 8 over: 60 ends.
    order = "A" * 24 + "B" * 4 + "A" * 24 + "B" * 8
    check = centre_order(order, total_threads=4832)
    assert (check.whole_repeats, check.remainder_threads) == (80, 32)
    assert check.balanced
    assert check.symmetrical_order
    assert check.left_edge_threads == check.right_edge_threads == 14


def test_an_order_of_even_repeat_cannot_balance_an_odd_number_between_its_axes() -> None:
    order = "AABB"
    assert centre_order(order, total_threads=10).balanced
    assert not centre_order(order, total_threads=9).balanced


def test_an_order_without_symmetry_shares_its_part_repeat_between_the_edges() -> None:
    check = centre_order("AAABBC", total_threads=64)
    assert not check.symmetrical_order
    assert not check.balanced
    # Four threads are over: two at either edge.
    assert check.first_thread == 5


def test_one_colour_is_always_balanced() -> None:
    check = centre_order("AAAA", total_threads=7)
    assert check.balanced
    assert check.left_edge_threads == check.right_edge_threads == 7


@given(order=orders, total=st.integers(1, 60))
def test_a_balanced_cloth_reads_the_same_from_both_edges(order: str, total: int) -> None:
    check = centre_order(order, total_threads=total)
    cloth = [order[(check.first_thread - 1 + place) % len(order)] for place in range(total)]
    assert (cloth == cloth[::-1]) or not check.balanced
    starts = range(len(order))
    possible = any(
        all(
            order[(start + place) % len(order)] == order[(start + total - 1 - place) % len(order)]
            # Balanced for good, not only because the cloth is narrower than the order.
            for place in range(total + len(order))
        )
        for start in starts
    )
    assert check.balanced == possible


def test_a_face_window_is_bounded() -> None:
    plain = parse_weave("plain")
    for ends, picks in ((0, 1), (1, 0), (MAX_FACE_CELLS + 1, 1)):
        with pytest.raises(InputError):
            face_of(plain, warp="A", weft="B", ends=ends, picks=picks)
    assert face_of(plain, warp="A", weft="B", ends=2000, picks=2000).matrix.shape == (2000, 2000)


def test_orders_are_bounded() -> None:
    plain = parse_weave("plain")
    colour_repeat(plain, warp="A" * MAX_ORDER_THREADS, weft="A")
    for order in ("", "A" * (MAX_ORDER_THREADS + 1)):
        with pytest.raises(InputError):
            colour_repeat(plain, warp=order, weft="A")
        with pytest.raises(InputError):
            face_shares(plain, warp="A", weft=order)
    with pytest.raises(InputError):
        centre_order("A", total_threads=0)
