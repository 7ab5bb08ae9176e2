"""Closing connections without a loss, and without anybody waiting for it.

A socket that is closed while the client still sends is reset, and the client may lose the end of
its answer with it. So a connection is first closed in one direction, and what still comes is read
and dropped until the client closes too (RFC 9112, 9.6). gunicorn waits for that in the thread that
accepts for everybody: a few clients that close nothing would keep all others waiting.
"""

from __future__ import annotations

import socket
import time
from threading import Lock, Thread
from typing import Final

LINGER_S: Final = 2.0
"""Longest time in which a client that was answered may close its side."""

MOST_LINGERING: Final = 256
"""Of one worker; beyond them the oldest is closed at once."""

_LOOK_EVERY_S: Final = 0.05
_PIECE: Final = 4_096
_PIECES_AT_ONCE: Final = 16


class Lingering:
    """The connections of a process that are closed in one direction."""

    def __init__(self) -> None:
        self._until: dict[socket.socket, float] = {}
        self._lock = Lock()
        self._looks = False

    def close(self, client: socket.socket, graceful: bool = False) -> None:  # noqa: FBT001, FBT002
        """Close a connection, as gunicorn's own ``close``; if ``graceful`` when its client does."""
        if not graceful or not _half_closed(client) or _has_ended(client):
            client.close()
            return
        with self._lock:
            self._until[client] = time.monotonic() + LINGER_S
            if len(self._until) > MOST_LINGERING:
                self._end(next(iter(self._until)))
            if self._looks:
                return
            self._looks = True
        # No daemon: a worker that stops lets the last clients read their answers.
        Thread(target=self._look, name="lingering", daemon=False).start()

    def _look(self) -> None:
        """Close what has ended or lingered long enough, until there is nothing left."""
        while True:
            time.sleep(_LOOK_EVERY_S)
            now = time.monotonic()
            with self._lock:
                for client, until in list(self._until.items()):
                    if until < now or _has_ended(client):
                        self._end(client)
                if not self._until:
                    self._looks = False
                    return

    def _end(self, client: socket.socket) -> None:
        del self._until[client]
        client.close()


def _half_closed(client: socket.socket) -> bool:
    """Send nothing more; return whether the connection was still there."""
    try:
        client.settimeout(0)
        client.shutdown(socket.SHUT_WR)
    except OSError:
        return False
    return True


def _has_ended(client: socket.socket) -> bool:
    """Drop what has come; return whether the client has closed its side."""
    try:
        for _ in range(_PIECES_AT_ONCE):
            if not client.recv(_PIECE):
                return True
    except BlockingIOError:
        return False
    except OSError:
        return True
    return False
