"""Bounds on the time that a client may take to send a body and to read its answer.

A thread that waits for a socket does so inside the kernel; only another thread can end that, by
shutting the socket. One thread of each process does so for every wait that is overdue. Bodies and
answers have to move: a client has ``patience_s`` at first, and every ``SLOWEST_BYTES_PER_S`` bytes
earn it a second, of which it never holds more than twice its patience. So a client that stops is
cut off after twice the patience at most, however much it has sent or taken before. Only the time in
which the client is waited for counts.

The head of a request is read before the application is called; ``gunicorn.heads`` bounds it, by
the patience in all. A service that strangers reach has the buffering proxy of ``server/deploy`` in
front.
"""

from __future__ import annotations

import errno
import logging
import math
import socket
import struct
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum
from io import BufferedReader, RawIOBase
from threading import Lock, Thread
from typing import IO, TYPE_CHECKING, Final

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

SLOWEST_BYTES_PER_S: Final = 2_048
MOST_PATIENCES: Final = 2
"""Most time that a client can save up, in patiences."""

SEND_WITHIN_S: Final = 60
"""Longest time in which a client may take nothing of its answer."""

_PIECE: Final = 4_096
_SHARE_FOR_A_PIECE: Final = 0.25
"""Of the time that a client has, for a longer piece of a body at the slowest rate."""

_PIECE_SENT: Final = 16_384
_LOOK_EVERY_S: Final = 0.5
_log = logging.getLogger(__name__)


class BodyLateError(Exception):
    """The body did not arrive in time."""


class BodyCutError(Exception):
    """The body ended before its ``Content-Length``."""


class Wait(StrEnum):
    """What the service waits for, as its log puts it; a client that sends still gets an answer."""

    HEAD = "a request did not arrive"
    BODY = "a body did not arrive"
    ANSWER = "an answer was not read"


class Watch:
    """The waits for clients under way in this process, and when each is overdue."""

    def __init__(self) -> None:
        self._until: dict[socket.socket, tuple[float, Wait]] = {}
        self._starting = Lock()
        self._thread: Thread | None = None

    @contextmanager
    def over(self, sock: socket.socket, wait: Wait, *, within_s: float) -> Iterator[None]:
        """Watch the block, which waits for ``sock`` and may take ``within_s``.

        Args:
            sock: The client's socket.
            wait: What is waited for.
            within_s: Time that it may take.
        """
        self.begin(sock, wait, within_s=within_s)
        try:
            yield
        finally:
            self.end(sock)

    def begin(self, sock: socket.socket, wait: Wait, *, within_s: float) -> None:
        """Watch a socket until ``end``."""
        self._start()
        self._until[sock] = (time.monotonic() + within_s, wait)

    def end(self, sock: socket.socket) -> None:
        """Watch a socket no longer: what was waited for has come."""
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
            now = time.monotonic()
            for sock, (until, _) in list(self._until.items()):
                if until < now:
                    self.cut_off(sock)

    def cut_off(self, sock: socket.socket) -> None:
        """Shut a socket that is watched: what waits for it then ends."""
        _, wait = self._until.pop(sock, (0.0, None))
        if wait is not None:
            _log.warning("%s in time and was cut off", wait.value)
            with suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR if wait is Wait.ANSWER else socket.SHUT_RD)


WATCH: Final = Watch()


class Allowance:
    """The time that a client still has, for one direction of one request."""

    def __init__(self, sock: socket.socket, wait: Wait, *, patience_s: float) -> None:
        self._sock = sock
        self._most_s = MOST_PATIENCES * patience_s
        self._left_s = patience_s
        self._wait = wait

    @property
    def is_used_up(self) -> bool:
        """Whether the client has no time left."""
        return self._left_s <= 0

    @property
    def piece_bytes(self) -> int:
        """Bytes that are waited for at once: a body in few pieces costs less to read."""
        return max(_PIECE, int(_SHARE_FOR_A_PIECE * self._left_s * SLOWEST_BYTES_PER_S))

    @contextmanager
    def spent(self) -> Iterator[None]:
        """Count the time of the block, which waits for the client; end it when none is left."""
        began = time.monotonic()
        try:
            with WATCH.over(self._sock, self._wait, within_s=self._left_s):
                yield
        finally:
            self._left_s -= time.monotonic() - began

    def earn(self, length: int) -> None:
        """Add the time that ``length`` bytes are worth."""
        self._left_s = min(self._left_s + length / SLOWEST_BYTES_PER_S, self._most_s)


class TimedBody(RawIOBase):
    """The body of a request, whose reads are watched: every piece that comes earns more time.

    Args:
        stream: The body.
        allowance: The client's time.
        length: Its ``Content-Length``; ``None`` for a chunked body, whose end is marked.

    Raises, in every method that reads:
        BodyLateError: The body did not arrive in time.
        BodyCutError: The client ended it before its ``Content-Length``.
    """

    def __init__(self, stream: IO[bytes], allowance: Allowance, length: int | None) -> None:
        self._stream = stream
        self._allowance = allowance
        self._missing = length

    def readable(self) -> bool:
        """Return that it can be read."""
        return True

    def readinto(self, buffer: WriteableBuffer, /) -> int:
        """Read a piece into ``buffer``; return its length, 0 at the end."""
        room = memoryview(buffer)
        size = min(len(room), self._allowance.piece_bytes)
        try:
            with self._allowance.spent():
                piece = self._stream.read(size)
        except BlockingIOError:  # the socket's own timeout
            raise BodyLateError from None
        if self._allowance.is_used_up:
            raise BodyLateError
        self._allowance.earn(len(piece))
        if self._missing is not None:
            self._missing -= len(piece)
            if self._missing > 0 and len(piece) < size:
                raise BodyCutError
        room[: len(piece)] = piece
        return len(piece)


class TimedAnswer:
    """The pieces of an answer: the time between two is the time in which the client takes one."""

    def __init__(self, pieces: Iterable[bytes], allowance: Allowance) -> None:
        self._pieces = pieces
        self._allowance = allowance

    def __iter__(self) -> Iterator[bytes]:
        """Yield the pieces, long ones in parts.

        Raises:
            ConnectionResetError: The client has used up its time; an answer that merely ended would
                look whole.
        """
        for piece in self._pieces:
            for start in range(0, len(piece), _PIECE_SENT):
                part = piece[start : start + _PIECE_SENT]
                with self._allowance.spent():
                    yield part
                if self._allowance.is_used_up:
                    raise ConnectionResetError(errno.ECONNRESET, "the answer was not read in time")
                self._allowance.earn(len(part))

    def close(self) -> None:
        """End the answer, whether all of it was sent or not."""
        close = getattr(self._pieces, "close", None)
        if close is not None:
            close()


class TimedClients:
    """An application whose clients have limited time, if its server names their sockets."""

    def __init__(self, application: WSGIApplication, *, patience_s: float) -> None:
        self._application = application
        self._patience_s = patience_s

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        sock = environ.get("gunicorn.socket")
        if sock is None:
            return self._application(environ, start_response)
        bound_sending(sock)
        arriving = Allowance(sock, Wait.BODY, patience_s=self._patience_s)
        timed = TimedBody(environ["wsgi.input"], arriving, _stated_length(environ))
        environ["wsgi.input"] = BufferedReader(timed, _PIECE)
        leaving = Allowance(sock, Wait.ANSWER, patience_s=self._patience_s)
        return TimedAnswer(self._application(environ, start_response), leaving)


def _stated_length(environ: WSGIEnvironment) -> int | None:
    """Return the length of the body, which the server has checked to be a number."""
    length: str = environ.get("CONTENT_LENGTH", "")
    return int(length) if length else None


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
