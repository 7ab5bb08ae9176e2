"""Bounds on the time that a client may take to send a body and to read its answer.

A thread that reads from a socket waits inside the kernel; only another thread can end that, by
shutting the reading side. One thread of each process does so for every read that is overdue. What
is overdue follows from the bytes that have come: a body may take ``patience_s`` and a second for
each ``SLOWEST_BYTES_PER_S`` of it, counting only the time in which it was waited for.

The head of a request is read before the application is called; see ``gunicorn.command`` for what
bounds it. Whoever serves strangers puts the buffering proxy of ``server/deploy`` in front.
"""

from __future__ import annotations

import logging
import math
import socket
import struct
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from io import BufferedReader, RawIOBase
from threading import Lock, Thread
from typing import IO, TYPE_CHECKING, Final

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

SLOWEST_BYTES_PER_S: Final = 2_048
SEND_WITHIN_S: Final = 60
"""Longest time in which a client may take nothing of its answer."""

_PIECE: Final = 4_096
_LOOK_EVERY_S: Final = 0.5
_log = logging.getLogger(__name__)


class BodyLateError(Exception):
    """The body did not arrive in time."""


class Watch:
    """The reads under way in this process, and when each is overdue."""

    def __init__(self) -> None:
        self._until: dict[socket.socket, float] = {}
        self._starting = Lock()
        self._thread: Thread | None = None

    @contextmanager
    def over(self, sock: socket.socket, *, within_s: float) -> Iterator[None]:
        """Watch the block, which reads from ``sock`` and may take ``within_s``."""
        self._start()
        self._until[sock] = time.monotonic() + within_s
        try:
            yield
        finally:
            self._until.pop(sock, None)

    def _start(self) -> None:
        """Start the thread; a forked process has none of its parent's."""
        with self._starting:
            if self._thread is None or not self._thread.is_alive():
                self._thread = Thread(target=self._look, name="slow clients", daemon=True)
                self._thread.start()

    def _look(self) -> None:
        while True:
            time.sleep(_LOOK_EVERY_S)
            self._cut_off()

    def _cut_off(self) -> None:
        """Shut the reading side of every socket that is overdue: its read ends with no more."""
        now = time.monotonic()
        for sock, until in list(self._until.items()):
            if until < now and self._until.pop(sock, None) is not None:
                _log.warning("a body did not arrive in time and was cut off")
                with suppress(OSError):
                    sock.shutdown(socket.SHUT_RD)


WATCH: Final = Watch()


class TimedBody(RawIOBase):
    """The body of a request, whose reads are watched: every piece that comes earns more time.

    Raises, in every method that reads:
        BodyLateError: The body did not arrive in time.
    """

    def __init__(self, stream: IO[bytes], sock: socket.socket, patience_s: float) -> None:
        self._stream = stream
        self._sock = sock
        self._left_s = patience_s

    def readable(self) -> bool:
        """Return that it can be read."""
        return True

    def readinto(self, buffer: WriteableBuffer, /) -> int:
        """Read a piece into ``buffer``; return its length, 0 at the end."""
        room = memoryview(buffer)
        began = time.monotonic()
        try:
            with WATCH.over(self._sock, within_s=self._left_s):
                piece = self._stream.read(min(len(room), _PIECE))
        except BlockingIOError:  # the socket's own timeout
            raise BodyLateError from None
        finally:
            self._left_s -= time.monotonic() - began
            if self._left_s <= 0:
                raise BodyLateError
        self._left_s += len(piece) / SLOWEST_BYTES_PER_S
        room[: len(piece)] = piece
        return len(piece)


class TimedBodies:
    """An application whose clients have limited time, if its server names their sockets."""

    def __init__(self, application: WSGIApplication, *, patience_s: float) -> None:
        self._application = application
        self._patience_s = patience_s

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        sock = environ.get("gunicorn.socket")
        if sock is not None:
            bound_sending(sock)
            timed = TimedBody(environ["wsgi.input"], sock, self._patience_s)
            environ["wsgi.input"] = BufferedReader(timed, _PIECE)
        return self._application(environ, start_response)


def bound_sending(sock: socket.socket) -> None:
    """Let the kernel end a send that makes no headway in ``SEND_WITHIN_S``."""
    _bound(sock, socket.SO_SNDTIMEO, SEND_WITHIN_S)


def bound_receiving(sock: socket.socket, within_s: float) -> None:
    """Let the kernel end a read in which nothing comes; sockets accepted from it do the same."""
    _bound(sock, socket.SO_RCVTIMEO, within_s)


def wait_for_data(listener: socket.socket, within_s: float) -> None:
    """Let the kernel hand a connection over when its first bytes have come, if it can do that."""
    option = getattr(socket, "TCP_DEFER_ACCEPT", None)
    if option is not None:
        with suppress(OSError):
            listener.setsockopt(socket.IPPROTO_TCP, option, math.ceil(within_s))


def _bound(sock: socket.socket, option: int, within_s: float) -> None:
    whole, part = divmod(within_s, 1)
    with suppress(OSError):
        sock.setsockopt(socket.SOL_SOCKET, option, struct.pack("ll", int(whole), int(part * 1e6)))
