"""When a failed attempt is made again, and after which pause."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability_client._retry import backoff_s, pause_s
from weavability_client.errors import (
    AnswerUnreadable,
    ConnectionFailed,
    Problem,
    TimedOut,
    UsageError,
    WeavabilityError,
    class_of,
)
from weavability_client.policies import BACKOFF_CAP_S, RETRY_AFTER_CAP_S, RETRY_STATUSES


def refused(status: int, retry_after_s: float | None = None) -> WeavabilityError:
    return class_of(status)(Problem(status=status), retry_after_s=retry_after_s)


@pytest.mark.parametrize("status", sorted(RETRY_STATUSES))
def test_what_a_later_attempt_may_cure_is_tried_again(status: int) -> None:
    assert pause_s(refused(status), attempt=0) is not None


@pytest.mark.parametrize("status", [400, 401, 403, 404, 413, 422, 500, 501])
def test_what_stays_wrong_is_not_tried_again(status: int) -> None:
    assert pause_s(refused(status), attempt=0) is None
    assert pause_s(refused(status, 1.0), attempt=0) is None


@pytest.mark.parametrize("error", [ConnectionFailed("x"), TimedOut("x")])
def test_a_broken_connection_and_a_silence_are_tried_again(error: WeavabilityError) -> None:
    assert pause_s(error, attempt=0) is not None


@pytest.mark.parametrize("error", [AnswerUnreadable("x"), UsageError("x")])
def test_what_is_no_answer_is_not_requested_again(error: WeavabilityError) -> None:
    assert pause_s(error, attempt=0) is None


def test_a_retry_after_at_the_cap_is_waited_out() -> None:
    assert pause_s(refused(429, RETRY_AFTER_CAP_S), attempt=0) == RETRY_AFTER_CAP_S


def test_a_retry_after_above_the_cap_is_raised_rather_than_slept() -> None:
    assert pause_s(refused(503, RETRY_AFTER_CAP_S + 0.1), attempt=0) is None


@given(st.integers(0, 10_000))
def test_law_a_pause_lies_between_nothing_and_the_cap(attempt: int) -> None:
    pause = pause_s(TimedOut("x"), attempt=attempt)
    assert pause is not None
    assert 0 <= pause <= backoff_s(attempt) <= BACKOFF_CAP_S


@given(st.integers(0, 30))
def test_law_the_longest_pause_never_falls(attempt: int) -> None:
    assert backoff_s(attempt) <= backoff_s(attempt + 1)
