"""Thread orders."""

from __future__ import annotations

import pytest
from textiles.sentences import is_sentence

from weavability.textiles.errors import InputError
from weavability.textiles.thread_order import (
    DEEPEST_NESTING,
    LONGEST_TEXT,
    MOST_THREADS,
    parse_order,
)

AB = frozenset("AB")


@pytest.mark.parametrize(
    ("text", "canonical", "sequence"),
    [
        ("A B", "A B", "AB"),
        ("2A 2B", "2A 2B", "AABB"),
        ("2 A, 2 B", "2A 2B", "AABB"),
        ("A A A B", "3A B", "AAAB"),
        ("2(A B) A", "2(A B) A", "ABABA"),
        ("2 ( 2A B )", "2(2A B)", "AABAAB"),
        ("1(A) 2B", "A 2B", "ABB"),
        ("2(A 2(B A))", "2(A 2(B A))", "ABABAABABA"),
        ("2A 1(A B)", "3A B", "AAAB"),
        ("B A", "B A", "BA"),
    ],
)
def test_order_is_read(text: str, canonical: str, sequence: str) -> None:
    order = parse_order(text, known=AB)
    assert order.text == canonical
    assert "".join(order.sequence) == sequence
    assert order.threads == len(sequence)
    assert order.counts == {yarn: sequence.count(yarn) for yarn in sequence}


def test_a_check_of_the_pattern_book() -> None:
    order = parse_order("24A 4B 24A 8B", known=AB)
    assert order.counts == {"A": 48, "B": 12}
    assert order.over(4864) == {"A": 3892, "B": 972}
    assert order.remainder(4864) == 4


def test_names_of_several_characters() -> None:
    order = parse_order("2navy 3(1ecru_1 2navy)", known={"navy", "ecru_1"})
    assert order.counts == {"navy": 8, "ecru_1": 3}
    assert parse_order("AB", known={"AB"}).sequence == ("AB",)


def test_a_misspelt_yarn_is_named_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"no yarn 'Nevy_2'.* Did you mean 'navy_2'"):
        parse_order("24ecru 4Nevy_2", known={"ecru", "navy_2"})


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "at least one thread"),
        (" , ", "at least one thread"),
        ("A", "B is not in the order"),
        ("A B C", "no yarn 'C'"),
        ("a B", "no yarn 'a'; the yarns are A, B. Did you mean 'A'"),
        ("2A2B", "write '2A 2B'"),
        ("AB", "no yarn 'AB'"),
        ("0A B", "between 1 and"),
        ("2(A B", "not closed"),
        ("A B)", "never opened"),
        ("A () B", "in each bracket"),
        ("A B 3", "after 3"),
        ("2 3A B", "after 2"),
        ("2) A B", "after 2"),
        ("A - B", "'-' has no meaning"),
        ("A B é", "'é' has no meaning"),
        ("٣A B", "digits 0 to 9"),
    ],
)
def test_order_is_refused_with_a_reason(text: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        parse_order(text, known=AB)
    (fault,) = caught.value.faults
    assert "24A 4B" in str(fault.allowed)
    assert is_sentence(fault.message)
    assert ("end at a space" in fault.message) is (text == "2A2B")


def nested(depth: int) -> str:
    return "2(" * depth + "A B" + ")" * depth


@pytest.mark.parametrize(
    ("inside", "outside"),
    [
        (f"{MOST_THREADS - 1}A B", f"{MOST_THREADS}A B"),
        (f"{MOST_THREADS // 2}(A B)", f"{MOST_THREADS // 2 + 1}(A B)"),
        (nested(DEEPEST_NESTING), nested(DEEPEST_NESTING + 1)),
        ("A B".ljust(LONGEST_TEXT), "A B".ljust(LONGEST_TEXT + 1)),
    ],
)
def test_bounds_of_an_order(inside: str, outside: str) -> None:
    assert parse_order(inside, known=AB).threads <= MOST_THREADS
    with pytest.raises(InputError):
        parse_order(outside, known=AB)


@pytest.mark.parametrize(
    "hostile",
    ["9" * 1999, "(" * 2000, "99999(" * 300, "99999(99999(99999(99999(A B))))", "A" * 2000],
)
def test_hostile_orders_are_refused_at_once(hostile: str) -> None:
    with pytest.raises(InputError):
        parse_order(hostile, known=AB)
