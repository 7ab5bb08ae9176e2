"""How long a client may take to send: bounded, so that slow ones do not hold the threads.

A thread that reads from a socket waits inside the kernel; only another thread can end that, by
shutting the reading side. The worker's main loop does so once a second for every read that is
overdue. What is overdue follows from the bytes that have come: a body may take ``patience_s`` and a
second for each ``SLOWEST_BYTES_PER_S`` of it, counting only the time in which it was waited for.
"""

from __future__ import annotations

import logging
import socket
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import IO, Final

from weavability.service.http import problems
from weavability.service.http.problems import ProblemError

SLOWEST_BYTES_PER_S: Final = 2_048
_PIECE: Final = 4_096
_log = logging.getLogger(__name__)


class Watch:
    """The reads under way in this process, and when each is overdue."""

    def __init__(self) -> None:
        self._until: dict[socket.socket, float] = {}

    def start(self, sock: socket.socket, within_s: float) -> None:
        """Watch a read that may take ``within_s``."""
        self._until[sock] = time.monotonic() + within_s

    def stop(self, sock: socket.socket) -> None:
        """Watch it no longer."""
        self._until.pop(sock, None)

    def cut_off(self) -> None:
        """Shut the reading side of every socket that is overdue: its read ends with no more."""
        now = time.monotonic()
        for sock, until in list(self._until.items()):
            if until < now:
                self.stop(sock)
                _log.warning("a request did not arrive in time and was cut off")
                with suppress(OSError):
                    sock.shutdown(socket.SHUT_RD)


WATCH: Final = Watch()


class PatientStream:
    """The body of a request, whose reads are watched.

    Raises, in every method that reads:
        ProblemError: 408, the body did not arrive in time.
    """

    def __init__(self, stream: IO[bytes], sock: socket.socket, patience_s: float) -> None:
        self._stream = stream
        self._sock = sock
        self._left_s = patience_s

    def read(self, size: int = -1) -> bytes:
        """Read at most ``size`` bytes, piece by piece: every piece that comes earns more time."""
        pieces: list[bytes] = []
        left = size if size >= 0 else sys.maxsize
        while left > 0 and (piece := self._piece(min(left, _PIECE))):
            pieces.append(piece)
            left -= len(piece)
        return b"".join(pieces)

    def _piece(self, size: int) -> bytes:
        return self._watched(lambda: self._stream.read(size))

    def readline(self, size: int = -1) -> bytes:
        """Read a line of at most ``size`` bytes."""
        return self._watched(lambda: self._stream.readline(size))

    def __iter__(self) -> Iterator[bytes]:
        while line := self.readline():
            yield line

    def readlines(self, _hint: int = -1) -> list[bytes]:
        """Read all lines."""
        return list(self)

    def _watched(self, read: Callable[[], bytes]) -> bytes:
        with self._counted():
            got = read()
        self._left_s += len(got) / SLOWEST_BYTES_PER_S
        return got

    @contextmanager
    def _counted(self) -> Iterator[None]:
        began = time.monotonic()
        WATCH.start(self._sock, self._left_s)
        try:
            yield
        finally:
            WATCH.stop(self._sock)
            self._left_s -= time.monotonic() - began
            if self._left_s <= 0:
                raise ProblemError(
                    kind=problems.REQUEST_TIMEOUT,
                    detail="The body did not arrive in time.",
                    headers={"Connection": "close"},
                )
