"""Connections that have begun when the service stops: the kernel hands them over, and no new ones.

``tests/deploy/stop_check.py`` tries the same under load.
"""

from __future__ import annotations

import select
import socket
from collections.abc import Iterator
from typing import Final

import pytest
from gunicorn.arbiter import Arbiter  # type: ignore[import-untyped]

from weavability.service.gunicorn import command
from weavability.service.gunicorn.handshakes import LINGER_S, begin_no_more
from weavability.service.http.slow_clients import wait_for_data

WITHIN_S: Final = 10.0


def has_ipv6() -> bool:
    """Whether this machine has the loopback address of IPv6: some containers have none."""
    if not socket.has_ipv6:
        return False
    try:
        with socket.create_server(("::1", 0), family=socket.AF_INET6):
            return True
    except OSError:
        return False


LOOPBACKS: Final = ["127.0.0.1", *(["::1"] if has_ipv6() else [])]


@pytest.fixture(params=LOOPBACKS)
def listener(request: pytest.FixtureRequest) -> Iterator[socket.socket]:
    family = socket.AF_INET6 if ":" in request.param else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as made:
        made.bind((request.param, 0))
        made.listen(16)
        wait_for_data(made, WITHIN_S)
        yield made


def connected(listener: socket.socket) -> socket.socket:
    return socket.create_connection(listener.getsockname()[:2], timeout=WITHIN_S)


def came(listener: socket.socket, *, within_s: float) -> bool:
    return bool(select.select([listener], [], [], within_s)[0])


def test_who_has_begun_is_served_and_nobody_new_begins(listener: socket.socket) -> None:
    with connected(listener) as first, socket.socket(listener.family) as second:
        assert not came(listener, within_s=0)  # it waits for the first bytes
        begin_no_more(listener)
        second.setblocking(False)
        second.connect_ex(listener.getsockname())
        first.sendall(b"late")
        assert came(listener, within_s=WITHIN_S)
        peer, _ = listener.accept()
        with peer:
            assert peer.recv(4) == b"late"
        assert not came(listener, within_s=LINGER_S)
        assert not select.select([], [second], [], 0)[1]  # neither connected nor refused


def test_the_first_process_lets_nobody_begin_before_it_stops_the_workers(
    listener: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[bool] = []

    def stop_workers(_master: Arbiter, _graceful: bool) -> None:
        with socket.socket(listener.family) as late:
            late.settimeout(LINGER_S)
            begun.append(late.connect_ex(listener.getsockname()) == 0)

    monkeypatch.setattr(Arbiter, "stop", stop_workers)
    master = command._Master.__new__(command._Master)
    master.LISTENERS = [listener]
    master.stop()
    assert begun == [False]
