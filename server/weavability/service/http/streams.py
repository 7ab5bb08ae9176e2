"""Bodies without a bound: read ahead within limits, and line by line."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from contextlib import suppress
from tempfile import SpooledTemporaryFile
from typing import IO, Final, Protocol

from weavability.service.http.slow_clients import BodyCutError

_CHUNK: Final = 64 * 2**10
_IN_MEMORY: Final = 2**20
_MOST_DRAINED: Final = 64 * 2**20


class Readable(Protocol):
    """A source of bytes."""

    def read(self, size: int, /) -> bytes:
        """Return up to ``size`` bytes, none at the end."""


def drain(source: Readable) -> None:
    """Read on, within bounds: a client that is still sending receives its answer only then."""
    left = _MOST_DRAINED
    with suppress(BodyCutError):
        while left > 0 and (chunk := source.read(_CHUNK)):
            left -= len(chunk)


class ReadAhead:
    """A body that is taken off the wire before the first answer is sent.

    Most clients send their whole request before they read. Were it read only as fast as it is
    answered, client and service would wait for each other as soon as the answers fill the buffers
    between them. So up to ``most`` bytes are kept in a temporary file first; what a longer body
    still holds is read as the answers are taken, and then the client has to read while it sends.

    Args:
        source: The body.
        most: Bytes that are read ahead.
    """

    def __init__(self, source: Readable, *, most: int) -> None:
        self._source = source
        self._kept: IO[bytes] = SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115
        self._all_kept = False
        try:
            self._keep(most)
        except BaseException:
            self._kept.close()
            raise

    def _keep(self, most: int) -> None:
        while most > 0:
            chunk = self._source.read(min(_CHUNK, most))
            if not chunk:
                self._all_kept = True
                break
            try:
                self._kept.write(chunk)
            except OSError:  # no room
                drain(self._source)
                raise
            most -= len(chunk)
        self._kept.seek(0)

    def begins_with(self, start: bytes) -> bool:
        """Return whether the body begins with ``start``, without reading on."""
        found = self._kept.read(len(start))
        self._kept.seek(0)
        return found == start

    def read(self, size: int, /) -> bytes:
        """Return up to ``size`` bytes: what was kept, then what still comes."""
        kept = self._kept.read(size)
        if kept or self._all_kept:
            return kept
        return self._source.read(size)

    def close(self) -> None:
        """Delete what was kept."""
        self._kept.close()


def lines(source: Readable, *, longest: int) -> Iterator[bytes | None]:
    r"""Yield the lines of ``source`` without line ends; ``None`` for one over ``longest`` bytes.

    A byte order mark in front is passed over, the last line need not have an end, and both ``\n``
    and ``\r\n`` end a line. At no time is more kept than a line and a chunk.

    >>> from io import BytesIO
    >>> list(lines(BytesIO(b"one\r\nlonger\n\nend"), longest=5))
    [b'one', None, b'', b'end']
    """
    rest, too_long = b"", False
    chunk = source.read(_CHUNK).removeprefix(codecs.BOM_UTF8)
    while chunk:
        *ended, rest = (rest + chunk).split(b"\n")
        for line in ended:
            bare = line.removesuffix(b"\r")
            yield None if too_long or len(bare) > longest else bare
            too_long = False
        if len(rest) > longest + 1:
            rest, too_long = b"", True
        chunk = source.read(_CHUNK)
    if too_long or len(rest) > longest:
        yield None
    elif rest:
        yield rest.removesuffix(b"\r")
