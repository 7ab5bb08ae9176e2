"""Many at once: bounded in flight, in order, lazily read."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability_client._batch import in_order


@given(st.lists(st.integers(), max_size=30), st.integers(1, 8))
@share_of_examples(0.4)
def test_law_the_answers_are_those_of_a_plain_loop(items: list[int], at_once: int) -> None:
    found = list(in_order(lambda index, item: (index, item * 2), items, at_once=at_once))
    assert found == [(index, item * 2) for index, item in enumerate(items)]


def test_an_endless_stream_is_read_only_as_far_as_needed() -> None:
    read: list[int] = []

    def items() -> Iterator[int]:
        for number in count():
            read.append(number)
            yield number

    results = in_order(lambda _, item: item, items(), at_once=3)
    assert [next(results) for _ in range(5)] == [0, 1, 2, 3, 4]
    results.close()  # type: ignore[attr-defined]
    assert len(read) <= 8


def test_no_more_than_allowed_are_under_way() -> None:
    lock = threading.Lock()
    under_way = most = 0

    def work(_: int, __: int) -> None:
        nonlocal under_way, most
        with lock:
            under_way += 1
            most = max(most, under_way)
        time.sleep(0.01)
        with lock:
            under_way -= 1

    list(in_order(work, range(24), at_once=4))
    assert 1 < most <= 4


def test_a_slow_first_answer_does_not_lose_its_place() -> None:
    def work(index: int, item: str) -> str:
        time.sleep(0.05 if index == 0 else 0)
        return item

    assert list(in_order(work, "abcd", at_once=4)) == ["a", "b", "c", "d"]


def test_an_error_of_the_work_reaches_the_caller() -> None:
    def work(index: int, _: int) -> int:
        return 1 // (index - 2)

    results = in_order(work, range(5), at_once=2)
    assert next(results) == -1
    assert next(results) == -1
    with pytest.raises(ZeroDivisionError):
        next(results)


def test_an_error_of_the_stream_reaches_the_caller() -> None:
    def items() -> Iterator[int]:
        yield 1
        raise OSError("the file ends here")

    with pytest.raises(OSError, match="ends here"):
        list(in_order(lambda _, item: item, items(), at_once=1))
