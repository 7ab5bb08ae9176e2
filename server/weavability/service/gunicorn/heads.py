"""Connections on which the head of a request has not come whole: no thread waits for them.

gunicorn gives a thread to a connection with its first bytes, and the thread waits for the rest: as
many half-sent heads as there are threads keep everybody else waiting. Here the bytes stay in the
kernel until the head is there, and are only looked at, in the thread that accepts.
"""

from __future__ import annotations

import select
import socket
from collections.abc import Callable
from typing import Any, Final

from weavability.service.http.slow_clients import WATCH, Wait

HEAD_END: Final = b"\r\n\r\n"
LONGEST_BYTES: Final = 8_192
"""They are looked at; a longer head is read by a thread, which refuses most of them."""

MOST_WAITING: Final = 512
"""Of one worker; beyond them the oldest is cut off. gunicorn accepts nothing beyond 1,000."""

CAN_WAIT: Final = hasattr(select, "epoll")
"""Whether the system reports each arrival once: bytes that are left unread are no news again."""


class Heads:
    """The connections of a worker that wait for the head of a request.

    Args:
        patience_s: Longest time that a head may take.
    """

    def __init__(self, patience_s: float) -> None:
        self._patience_s = patience_s
        self._arrivals = select.epoll()
        self._waiting: dict[int, tuple[Any, Callable[[Any], None]]] = {}

    def fileno(self) -> int:
        """Return what becomes readable as soon as something has come."""
        return self._arrivals.fileno()

    def wait_for(self, conn: Any, begin: Callable[[Any], None]) -> None:
        """Call ``begin`` with the connection when its head is whole or nothing more will come."""
        if len(self._waiting) >= MOST_WAITING:
            oldest, _ = next(iter(self._waiting.values()))
            WATCH.cut_off(oldest.sock)
        number = conn.sock.fileno()
        self._waiting[number] = conn, begin
        WATCH.begin(conn.sock, Wait.HEAD, within_s=self._patience_s)
        self._arrivals.register(number, select.EPOLLIN | select.EPOLLRDHUP | select.EPOLLET)

    def look(self, _: object) -> None:
        """Go through the connections on which something has come, or that have ended."""
        for number, events in self._arrivals.poll(0):
            conn, begin = self._waiting[number]
            if events & ~select.EPOLLIN or is_whole(seen_of(conn)):
                del self._waiting[number]
                self._arrivals.unregister(number)
                WATCH.end(conn.sock)
                begin(conn)


def seen_of(conn: Any) -> bytes:
    """Return what has come of the next request, which stays unread.

    Its first part gunicorn may have read with the request before it.
    """
    ahead: bytes = conn.parser.unreader.buf.getvalue() if conn.parser is not None else b""
    try:
        come: bytes = conn.sock.recv(LONGEST_BYTES, socket.MSG_PEEK | socket.MSG_DONTWAIT)
    except OSError:  # nothing has come, or nothing can
        return ahead
    return ahead + come


def is_whole(seen: bytes) -> bool:
    """Return whether the head of a request has come, or so much that a thread must see it."""
    return HEAD_END in seen or len(seen) >= LONGEST_BYTES
