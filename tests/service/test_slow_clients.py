"""Clients that dawdle, over real sockets: they are cut off, and nobody else waits for them."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator

import pytest
import requests
from service.servers import Server, serving, until
from service.support import small_request

from weavability.service.gunicorn.heads import MOST_WAITING
from weavability.service.http.slow_clients import MOST_PATIENCES, SLOWEST_BYTES_PER_S

pytestmark = pytest.mark.slow

PATIENCE_S = 2
# What a shared machine may add before an answer that came in time is seen.
BUSY_MACHINE_S = 8
THREADS = 2
HEAD = (
    b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    b"Content-Length: %d\r\n\r\n"
)
BODY = json.dumps(small_request()).encode()


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    arguments = ["--workers", "1", "--threads", str(THREADS), "--patience-s", str(PATIENCE_S)]
    with serving(*arguments) as started:
        yield started


def trickle(peer: socket.socket, data: bytes, *, every_s: float) -> None:
    """Send a byte at a time until all is sent or the service has had enough."""
    for place in range(len(data)):
        try:
            peer.sendall(data[place : place + 1])
        except OSError:
            return
        time.sleep(every_s)


def received(peer: socket.socket) -> bytes:
    answer = b""
    try:
        while chunk := peer.recv(65536):
            answer += chunk
    except ConnectionResetError:
        return answer
    return answer


def dawdle(server: Server, head: bytes, data: bytes) -> tuple[float, bytes]:
    """Send ``head``, trickle ``data``; return how long the service bore it, and what it said."""
    began = time.monotonic()
    with server.connect() as peer:
        peer.sendall(head)
        sender = threading.Thread(target=trickle, args=(peer, data), kwargs={"every_s": 0.2})
        sender.start()
        answer = received(peer)
        took_s = time.monotonic() - began
        peer.close()
        sender.join()
    return took_s, answer


@pytest.mark.parametrize("trickling", [b"", b"y" * 200])
def test_a_head_that_stops_or_trickles_is_cut_off(server: Server, trickling: bytes) -> None:
    took_s, answer = dawdle(server, b"GET /v1/looms HTTP/1.1\r\nX: ", trickling)
    assert PATIENCE_S - 0.5 < took_s < PATIENCE_S + BUSY_MACHINE_S
    assert answer == b""
    assert "a request did not arrive in time and was cut off" in {
        line["message"] for line in server.lines() if line["level"] == "warning"
    }


def test_a_body_that_trickles_is_refused_with_the_reason(server: Server) -> None:
    took_s, answer = dawdle(server, HEAD % 5000, b"{" * 200)
    assert took_s < PATIENCE_S + BUSY_MACHINE_S
    head, _, body = answer.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 408 ")
    assert json.loads(body)["type"] == "/problems/request-timeout"


def test_a_long_body_may_take_its_time_while_it_moves(server: Server) -> None:
    """At twice the slowest rate, for longer than the patience with one that pauses."""
    data = BODY + b" " * (2 * SLOWEST_BYTES_PER_S * (PATIENCE_S + 1) - len(BODY))
    with server.connect() as peer:
        peer.sendall(HEAD % len(data))
        for start in range(0, len(data), SLOWEST_BYTES_PER_S // 2):
            peer.sendall(data[start : start + SLOWEST_BYTES_PER_S // 2])
            time.sleep(0.25)
        assert peer.recv(65536).startswith(b"HTTP/1.1 200 ")


@pytest.mark.parametrize("sent", [40_000, 400_000])
def test_what_has_been_sent_buys_no_time_without_end(server: Server, sent: int) -> None:
    began = time.monotonic()
    with server.connect() as peer:
        peer.sendall(HEAD % (sent + 1) + b" " * sent)
        assert received(peer).startswith(b"HTTP/1.1 408 ")
    assert time.monotonic() - began < MOST_PATIENCES * PATIENCE_S + BUSY_MACHINE_S


@pytest.mark.parametrize("media_type", ["application/json", "text/csv", "application/x-ndjson"])
def test_a_body_that_is_cut_is_refused(server: Server, media_type: str) -> None:
    """A sheet that is cut within its last cell would be judged on another number."""
    sheet = b"weave,length_m\n1/1 plain,3000\n"
    body = {"text/csv": sheet}.get(media_type, BODY + b"\n")
    head = HEAD.replace(b"application/json", media_type.encode()) % len(body)
    with server.connect() as peer:
        peer.sendall(head + body[:-3])
        peer.shutdown(socket.SHUT_WR)
        answer = received(peer)
    head, _, written = answer.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 400 ")
    assert b"\r\nConnection: close" in head
    problem = json.loads(written)
    assert problem["type"] == "/problems/malformed-http"
    assert "Content-Length" in problem["detail"]


def test_an_answer_that_closes_the_connection_says_so(server: Server) -> None:
    with server.connect() as peer:
        peer.sendall(HEAD % 2**40)
        peer.shutdown(socket.SHUT_WR)
        answer = received(peer)
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert answer.count(b"HTTP/1.1 ") == 1
    assert b"\r\nConnection: close\r\n" in answer


def reader_of_nothing(server: Server) -> socket.socket:
    """Order far more than the buffers between client and service hold, and read nothing of it."""
    peer = socket.socket()
    peer.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4_096)
    peer.connect(("127.0.0.1", server.port))
    lines = (BODY.replace(b"\n", b" ") + b"\n") * 4_000
    head = HEAD.replace(b"application/json", b"application/x-ndjson") % len(lines)
    peer.sendall(head + lines)
    return peer


def test_those_who_read_nothing_are_cut_off_and_probes_answer(server: Server) -> None:
    readers = [reader_of_nothing(server) for _ in range(2 * THREADS)]
    try:
        until(lambda: "an answer was not read in time and was cut off" in messages(server))
    finally:
        for peer in readers:
            peer.close()


def messages(server: Server) -> set[str]:
    """Look at the log, and whether the service still answers a probe."""
    assert requests.get(f"{server.url}/healthz", timeout=BUSY_MACHINE_S).ok
    return {line["message"] for line in server.lines()}


def test_those_who_say_nothing_keep_nobody_waiting(server: Server) -> None:
    silent = [server.connect() for _ in range(20 * THREADS)]
    try:
        assert requests.get(f"{server.url}/healthz", timeout=BUSY_MACHINE_S).ok
    finally:
        for peer in silent:
            peer.close()


def test_half_sent_heads_keep_nobody_waiting(server: Server) -> None:
    """If each held a thread for the patience, the last would let go of it after 20 times that."""
    halves = [server.connect() for _ in range(20 * THREADS)]
    try:
        for peer in halves:
            peer.sendall(b"GET /v1/looms HTTP/1.1\r\nHost: x\r\n")
        assert requests.get(f"{server.url}/v1/looms", timeout=BUSY_MACHINE_S).ok
    finally:
        for peer in halves:
            peer.close()


def test_more_half_sent_heads_than_may_wait_cut_off_the_oldest(server: Server) -> None:
    halves = [server.connect() for _ in range(MOST_WAITING + 1)]
    try:
        for peer in halves:
            peer.sendall(b"GET /v1/looms HTTP/1.1\r\nHost: x\r\n")
        assert received(halves[0]) == b""
        assert requests.get(f"{server.url}/v1/looms", timeout=BUSY_MACHINE_S).ok
    finally:
        for peer in halves:
            peer.close()


@pytest.mark.parametrize("path", [b"/healthz", b"/v1/looms"])
@pytest.mark.parametrize("length", [1, 7_000])
def test_heads_in_pieces_are_answered(server: Server, path: bytes, length: int) -> None:
    """The first piece of the second head comes with the end of the first request."""
    request = b"GET %b HTTP/1.1\r\nHost: x\r\nX: %b\r\n\r\n" % (path, b"x" * length)
    with server.connect() as peer:
        for piece in (request[:9], request[9:-2], request[-2:] + request[:30], request[30:-1]):
            peer.sendall(piece)
            time.sleep(0.1)
        last = request[-1:] + request.replace(b"Host", b"Connection: close\r\nHost")
        peer.sendall(last)
        assert received(peer).count(b"HTTP/1.1 200 ") == 3


def test_a_client_that_leaves_amid_a_head_is_let_go_at_once(server: Server) -> None:
    began = time.monotonic()
    with server.connect() as peer:
        peer.sendall(b"GET /v1/looms HTTP/1.1\r\nHost: x\r\n")
        time.sleep(0.1)
        peer.shutdown(socket.SHUT_WR)
        assert received(peer) == b""
    assert time.monotonic() - began < PATIENCE_S


@pytest.mark.parametrize(
    "sent",
    [
        b"GET /healthz HTTP/1.1\r\nHost: x\r\n",
        b"GET /healthz HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n",
        b"GET /healthz HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n",
    ],
    ids=["half a head", "a body that never comes", "no chunk"],
)
def test_probes_that_are_left_unfinished_keep_no_probe_waiting(server: Server, sent: bytes) -> None:
    unfinished = [server.connect() for _ in range(8 * THREADS)]
    try:
        for peer in unfinished:
            peer.sendall(sent)
        assert requests.get(f"{server.url}/readyz", timeout=BUSY_MACHINE_S).ok
    finally:
        for peer in unfinished:
            peer.close()


def test_clients_that_were_answered_and_close_nothing_keep_nobody_waiting(server: Server) -> None:
    answered = [server.connect() for _ in range(40)]
    try:
        for peer in answered:
            peer.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        time.sleep(0.5)
        assert requests.get(f"{server.url}/readyz", timeout=BUSY_MACHINE_S).ok
        assert all(received(peer).startswith(b"HTTP/1.1 200 ") for peer in answered)
    finally:
        for peer in answered:
            peer.close()


def test_the_service_is_itself_again_after_more_slow_clients_than_threads(server: Server) -> None:
    slow = [server.connect() for _ in range(2 * THREADS)]
    try:
        for peer in slow:
            peer.sendall(HEAD % 5000 + b"{")
        for probe in ("healthz", "readyz"):
            assert requests.get(f"{server.url}/{probe}", timeout=BUSY_MACHINE_S).ok
    finally:
        for peer in slow:
            peer.close()
    for _ in range(5):
        assert requests.post(f"{server.url}/v1/validations", json=small_request(), timeout=30).ok


def test_a_body_in_two_halves_is_in_time(server: Server) -> None:
    with server.connect() as peer:
        peer.sendall(HEAD % len(BODY) + BODY[:100])
        time.sleep(PATIENCE_S / 2)
        peer.sendall(BODY[100:])
        assert peer.recv(65536).startswith(b"HTTP/1.1 200 ")


@pytest.mark.parametrize(
    "chunks",
    [b"zz\r\n{}\r\n0\r\n\r\n", b"2\r\n{}XX0\r\n\r\n", b"-2\r\n{}\r\n", b"2;\x00\r\n{}\r\n"],
)
def test_broken_chunks_are_a_problem_and_one_answer(server: Server, chunks: bytes) -> None:
    head = HEAD.replace(b"Content-Length: %d", b"Transfer-Encoding: chunked")
    with server.connect() as peer:
        peer.sendall(head + chunks)
        peer.shutdown(socket.SHUT_WR)
        answer = received(peer)
    assert answer.startswith(b"HTTP/1.1 4")
    assert answer.count(b"HTTP/1.1") == 1
    assert answer.count(b"application/problem+json") == 1


def test_a_body_that_breaks_off_is_no_failure_of_the_service(server: Server) -> None:
    with server.connect() as peer:
        peer.sendall(HEAD % 500 + b'{"construction": {')
        peer.shutdown(socket.SHUT_WR)
        answer = received(peer)
    assert answer == b"" or answer.startswith(b"HTTP/1.1 4")
    assert [line for line in server.lines() if line["level"] == "error"] == []
