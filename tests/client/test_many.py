"""Batches against a played service: packs of lines, and what happens where they are not taken."""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Iterator
from itertools import count, islice
from typing import Any

import pytest
import responses
from client.recorded import sample

from weavability_client import (
    AnswerUnreadable,
    Client,
    InvalidInput,
    NotPermitted,
    ServiceFault,
    TooManyRequests,
    UsageError,
)
from weavability_client.policies import BATCH_BYTES, BATCH_ITEMS, BATCHES_AT_ONCE

URL = "http://mill.example"
VALIDATIONS = f"{URL}/v1/validations"
LINES = "application/x-ndjson"
PROBLEM = "application/problem+json"
ANSWER: dict[str, Any] = sample("weavable")["answer"]
Answer = tuple[int, dict[str, str], str]


@pytest.fixture
def played() -> Iterator[responses.RequestsMock]:
    with responses.RequestsMock() as mock:
        yield mock
        for thread in threading.enumerate():  # what is under way ends within its own test
            if thread.name.startswith("weavability"):
                thread.join(5)


@pytest.fixture(autouse=True)
def _no_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("weavability_client.client.time.sleep", lambda _: None)


def item(reference: str) -> dict[str, Any]:
    return {"construction": {"reference": reference}, "loom_id": "L"}


def items(number: int) -> list[dict[str, Any]]:
    return [item(f"o{place}") for place in range(number)]


def judged(request: dict[str, Any]) -> tuple[int, dict[str, Any]]:
    """Judge one request as the service would, by its reference."""
    reference = request["construction"]["reference"]
    if reference.startswith("bad"):
        return 422, {"title": "wrong", "detail": f"{reference} is wrong", "request_id": "r-9"}
    return 200, ANSWER | {"reference": reference}


def line(index: int, request: dict[str, Any]) -> str:
    status, document = judged(request)
    name = "report" if status == 200 else "problem"
    return json.dumps({"index": index, "status": status, name: document})


class Mill:
    """A played service; ``refuse`` is the status with which it answers packs."""

    def __init__(self, *, refuse: int | None = None) -> None:
        self.refuse = refuse
        self.packs: list[list[dict[str, Any]]] = []
        self.singles = 0

    def __call__(self, request: Any) -> Answer:
        if request.headers["Content-Type"] == LINES:
            return self._pack([json.loads(each) for each in request.body.splitlines()])
        self.singles += 1
        status, document = judged(json.loads(request.body))
        kind = "application/json" if status == 200 else PROBLEM
        return status, {"Content-Type": kind}, json.dumps(document)

    def _pack(self, requests: list[dict[str, Any]]) -> Answer:
        self.packs.append(requests)
        if self.refuse:
            return self.refuse, {"Content-Type": PROBLEM}, "{}"
        answers = [line(index, each) for index, each in enumerate(requests)]
        return 200, {"Content-Type": f"{LINES}; charset=utf-8"}, "\n".join(answers) + "\n"


def run(played: responses.RequestsMock, mill: Mill, requests: Any) -> list[Any]:
    played.add_callback("POST", VALIDATIONS, mill)
    return list(Client(URL).validate_many(requests))


def references(results: list[Any]) -> list[str | None]:
    return [each.report.reference if each.report else None for each in results]


@pytest.mark.slow
def test_many_items_travel_in_few_requests_and_keep_their_order(
    played: responses.RequestsMock,
) -> None:
    mill = Mill()
    results = run(played, mill, items(100))
    assert references(results) == [f"o{place}" for place in range(100)]
    assert [each.index for each in results] == list(range(100))
    assert len(mill.packs) == BATCHES_AT_ONCE
    assert mill.singles == 0


@pytest.mark.slow
def test_a_stream_of_unknown_length_travels_in_full_packs(played: responses.RequestsMock) -> None:
    mill = Mill()
    run(played, mill, iter(items(2 * BATCH_ITEMS + 1)))
    assert sorted(map(len, mill.packs)) == [BATCH_ITEMS, BATCH_ITEMS]
    assert mill.singles == 1


@pytest.mark.slow
def test_an_endless_stream_is_read_only_as_far_ahead_as_is_under_way(
    played: responses.RequestsMock,
) -> None:
    read: list[int] = []

    def endless() -> Iterator[dict[str, Any]]:
        for number in count():
            read.append(number)
            yield item(f"o{number}")

    played.add_callback("POST", VALIDATIONS, Mill())
    results = Client(URL).validate_many(endless())
    first = list(islice(results, 3))
    results.close()  # type: ignore[attr-defined]
    assert references(first) == ["o0", "o1", "o2"]
    assert len(read) <= (BATCHES_AT_ONCE + 1) * BATCH_ITEMS


def test_no_pack_is_longer_than_a_proxy_takes(played: responses.RequestsMock) -> None:
    mill = Mill()
    long = [item("o" + "x" * (BATCH_BYTES // 3)) for _ in range(8)]
    run(played, mill, iter(long))
    assert max(len(json.dumps(each)) for each in mill.packs) <= BATCH_BYTES
    assert sum(map(len, mill.packs)) == 8


def test_a_bad_item_of_a_pack_spoils_only_itself(played: responses.RequestsMock) -> None:
    results = run(played, Mill(), iter([item("a"), item("bad"), item("c")]))
    assert references(results) == ["a", None, "c"]
    assert isinstance(results[1].error, InvalidInput)
    assert "bad is wrong" in str(results[1].error)
    assert results[1].error.request_id == "r-9"


def test_an_item_that_is_no_json_leaves_its_pack_whole(played: responses.RequestsMock) -> None:
    mill = Mill()
    wrong = item("b") | {"loom_id": float("nan")}
    results = run(played, mill, iter([item("a"), wrong, item("c")]))
    assert references(results) == ["a", None, "c"]
    assert isinstance(results[1].error, UsageError)
    assert [len(each) for each in mill.packs] == [2]


@pytest.mark.parametrize("status", [406, 415])
def test_a_service_without_batches_is_called_one_by_one_from_then_on(
    played: responses.RequestsMock, caplog: pytest.LogCaptureFixture, status: int
) -> None:
    mill = Mill(refuse=status)
    played.add_callback("POST", VALIDATIONS, mill)
    client = Client(URL, pool_size=1)
    with caplog.at_level(logging.WARNING, logger="weavability_client"):
        first = list(client.validate_many(iter(items(3))))
        second = list(client.validate_many(iter(items(3))))
    assert references(first) == references(second) == ["o0", "o1", "o2"]
    assert len(mill.packs) == 1
    assert mill.singles == 6
    assert [each.message[:31] for each in caplog.records] == ["the service takes no batches; s"]


@pytest.mark.parametrize("status", [413, 500])
def test_a_pack_that_is_refused_as_such_is_sent_one_by_one(
    played: responses.RequestsMock, status: int
) -> None:
    mill = Mill(refuse=status)
    results = run(played, mill, iter([item("a"), item("bad"), item("c")]))
    assert references(results) == ["a", None, "c"]
    assert mill.singles == 3


@pytest.mark.parametrize(("status", "kind"), [(429, TooManyRequests), (503, ServiceFault)])
def test_a_service_that_is_busy_is_not_called_more_often(
    played: responses.RequestsMock, status: int, kind: type[Exception]
) -> None:
    mill = Mill(refuse=status)
    results = run(played, mill, iter(items(3)))
    assert all(isinstance(each.error, kind) for each in results)
    assert mill.singles == 0


def test_a_token_without_the_scope_ends_the_batch(played: responses.RequestsMock) -> None:
    with pytest.raises(NotPermitted):
        run(played, Mill(refuse=403), iter(items(3)))


@pytest.mark.parametrize("missing", [1, 2])
def test_a_stream_that_ends_early_is_requested_one_by_one(
    played: responses.RequestsMock, missing: int
) -> None:
    class Cut(Mill):
        def _pack(self, requests: list[dict[str, Any]]) -> Answer:
            status, headers, text = super()._pack(requests)
            return status, headers, "".join(text.splitlines(keepends=True)[:-missing])

    mill = Cut()
    results = run(played, mill, iter(items(3)))
    assert references(results) == ["o0", "o1", "o2"]
    assert mill.singles == 3


def test_a_line_that_says_nothing_is_an_error_of_its_item(played: responses.RequestsMock) -> None:
    class Odd(Mill):
        def _pack(self, requests: list[dict[str, Any]]) -> Answer:
            status, headers, text = super()._pack(requests)
            _first, *rest = text.splitlines()
            return status, headers, "\n".join(["[]", *rest])

    results = run(played, Odd(), iter(items(2)))
    assert isinstance(results[0].error, AnswerUnreadable)
    assert references(results) == [None, "o1"]


def test_the_recorded_batch_is_read(played: responses.RequestsMock) -> None:
    recorded = sample("batch")
    body = "\n".join(map(json.dumps, recorded["answer"]))
    played.post(VALIDATIONS, body=body, content_type=LINES)
    good, bad = Client(URL, pool_size=1).validate_many(recorded["request"])
    assert good.unwrap().reference == recorded["request"][0]["construction"]["reference"]
    assert isinstance(bad.error, InvalidInput)
    assert bad.error.pointer == "/construction/warp/ends_per_cm"


def test_no_items_are_no_requests(played: responses.RequestsMock) -> None:
    assert list(Client(URL).validate_many([])) == []
