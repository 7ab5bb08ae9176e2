"""What strangers may send to the socket, and what they get to see."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from email import message_from_bytes
from email.message import Message
from typing import Any

import pytest
import requests
from gunicorn.http import errors  # type: ignore[import-untyped]
from service.servers import Server, serving
from service.support import small_request

from weavability.service.gunicorn.worker import refused_as, written_problem
from weavability.service.http import problems
from weavability.service.http.responses import SECURITY_HEADERS

pytestmark = pytest.mark.slow

MARK = b"evil-mark"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving("--workers", "1", "--threads", "2") as started:
        yield started


def exchange(server: Server, sent: bytes) -> bytes:
    """Send bytes as they are and return all that comes back."""
    received = b""
    with server.connect() as peer:
        peer.sendall(sent)
        while chunk := peer.recv(65536):
            received += chunk
    return received


def split(answer: bytes) -> tuple[int, Message, Any]:
    head, _, body = answer.partition(b"\r\n\r\n")
    first, _, fields = head.partition(b"\r\n")
    return int(first.split()[1]), message_from_bytes(fields), json.loads(body)


BROKEN = {
    "no HTTP": (b"\x16\x03\x01\x02\x00" + MARK + b"\r\n\r\n", 400),
    "a version of the future": (b"GET /" + MARK + b" HTTP/9.9\r\n\r\n", 400),
    "a method that is none": (b"G{T /" + MARK + b" HTTP/1.1\r\nHost: x\r\n\r\n", 400),
    "a long address": (b"GET /" + MARK + b"a" * 9000 + b" HTTP/1.1\r\nHost: x\r\n\r\n", 414),
    "many fields": (b"GET / HTTP/1.1\r\nHost: x\r\n" + b"X: evil-mark\r\n" * 99 + b"\r\n", 431),
    "a long field": (b"GET / HTTP/1.1\r\nX: " + MARK * 2000 + b"\r\n\r\n", 431),
    "a field without a name": (b"GET / HTTP/1.1\r\n: " + MARK + b"\r\n\r\n", 400),
    "a field that goes on": (b"GET / HTTP/1.1\r\nX: a\r\n " + MARK + b"\r\n\r\n", 400),
    "a NUL in a field": (b"GET / HTTP/1.1\r\nX: \x00" + MARK + b"\r\n\r\n", 400),
    "two lengths": (
        b"POST / HTTP/1.1\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\n" + MARK,
        400,
    ),
    "a length that is none": (b"POST / HTTP/1.1\r\nContent-Length: -5\r\n\r\n" + MARK, 400),
    "length and chunks": (
        b"POST / HTTP/1.1\r\nContent-Length: 9\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        400,
    ),
    "an unknown coding": (b"POST / HTTP/1.1\r\nTransfer-Encoding: evil-mark\r\n\r\n", 400),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_http_is_a_problem_that_repeats_nothing(server: Server, name: str) -> None:
    sent, expected = BROKEN[name]
    answer = exchange(server, sent)
    status, headers, problem = split(answer)
    assert status == problem["status"] == expected
    assert headers["Content-Type"] == "application/problem+json"
    assert headers["Connection"] == "close"
    assert headers["X-Request-Id"] == problem["request_id"]
    for field, value in SECURITY_HEADERS.items():
        assert headers[field] == value
    assert MARK not in answer
    assert problem["type"].removeprefix("/problems/") in problems.KINDS
    (line,) = (each for each in server.lines() if each.get("request_id") == problem["request_id"])
    assert line["status"] == expected


def test_smuggled_requests_are_not_answered(server: Server) -> None:
    """RFC 9112, section 6.1: a length beside chunks is an attempt at request smuggling."""
    hidden = b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n"
    sent = (
        b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Length: %d\r\n"
        b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n" % (5 + len(hidden)) + hidden
    )
    answer = exchange(server, sent)
    assert answer.count(b"HTTP/1.1 ") == 1
    assert answer.startswith(b"HTTP/1.1 400 ")


def test_the_parsers_reasons_become_types_of_problem() -> None:
    assert refused_as(errors.LimitRequestLine(1, 2)) is problems.ADDRESS_TOO_LONG
    assert refused_as(errors.LimitRequestHeaders("many")) is problems.HEADERS_TOO_LARGE
    assert refused_as(errors.InvalidHeader("x")) is problems.MALFORMED_HTTP
    assert refused_as(errors.InvalidResponseHeader("x")) is problems.INTERNAL_ERROR
    assert refused_as(ZeroDivisionError()) is problems.INTERNAL_ERROR


@pytest.mark.parametrize(
    "kind",
    [problems.MALFORMED_HTTP, problems.ADDRESS_TOO_LONG, problems.HEADERS_TOO_LARGE,
     problems.INTERNAL_ERROR],
)  # fmt: skip
def test_a_written_problem_is_whole_http(kind: problems.ProblemType) -> None:
    status, headers, problem = split(written_problem(kind, "r1"))
    assert (status, problem["request_id"]) == (kind.status, "r1")
    assert int(headers["Content-Length"]) == len(written_problem(kind, "r1").split(b"\r\n\r\n")[1])


def test_no_answer_shows_what_runs_here(server: Server) -> None:
    answers = [
        requests.get(f"{server.url}/healthz", timeout=10),
        requests.get(f"{server.url}/nowhere", timeout=10),
        requests.post(f"{server.url}/v1/validations", json={}, timeout=10),
        requests.options(f"{server.url}/v1/validations", timeout=10),
    ]
    for answer in answers:
        shown = str(answer.headers) + answer.text
        assert not re.search(r"(?i)traceback|werkzeug|flask|python/|gunicorn/?[0-9]", shown)
        for field, value in SECURITY_HEADERS.items():
            assert answer.headers[field] == value


@pytest.mark.parametrize("coding", ["gzip", "deflate", "br"])
def test_packed_bodies_are_refused_unread(server: Server, coding: str) -> None:
    headers = {"Content-Type": "application/json", "Content-Encoding": coding}
    answer = requests.post(
        f"{server.url}/v1/validations", data=b"\x1f\x8b" * 50_000, headers=headers, timeout=10
    )
    assert answer.status_code == 415
    good = requests.post(f"{server.url}/v1/validations", json=small_request(), timeout=10)
    assert good.status_code == 200


def test_a_request_cannot_write_headers_of_the_answer(server: Server) -> None:
    answer = requests.get(
        f"{server.url}/v1/looms/x%0d%0aSet-Cookie:%20a=b", headers={"X-Request-Id": "a"}, timeout=10
    )
    assert answer.status_code == 404
    assert "Set-Cookie" not in answer.headers
