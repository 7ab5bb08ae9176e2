"""How far a batch has come, how fast it goes and how long it will take, for a person who waits."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from typing import Final, TextIO

BAR_CELLS: Final = 30
RATE_AFTER_S: Final = 1.0
"""Seconds before which a rate says little."""


class Progress:
    """A bar on a terminal, with the rate and the time left; elsewhere a line a quarter, or nothing.

    Give it to ``Client.validate_many`` as ``progress``.

    Args:
        stream: Where it is written, usually ``sys.stderr``.
        after_s: Seconds without a bar: short work needs none.
        elsewhere: Whether anything is written if the stream is no terminal.
        before: Orders judged before this run, which say nothing of its rate.
        clock: What measures the time, in seconds.
    """

    def __init__(
        self,
        stream: TextIO,
        *,
        after_s: float = 0.0,
        elsewhere: bool = True,
        before: int = 0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._stream = stream
        self._bar = stream.isatty()
        self._elsewhere = elsewhere
        self._before = before
        self._quarter = 0
        self._clock = clock
        self._begin = clock()
        self._after_s = after_s
        self._drawn = 0

    def __call__(self, done: int, total: int | None) -> None:
        """Show that ``done`` of ``total`` orders are judged."""
        share = done / total if total else 0.0
        if self._bar and (self._drawn or self._clock() >= self._begin + self._after_s):
            self._draw(done, total, share)
        elif not self._bar and self._elsewhere and int(share * 4) > self._quarter:
            self._quarter = int(share * 4)
            self._write(f"{done} of {total} orders judged{self._pace(done, total)}\n")

    def _draw(self, done: int, total: int | None, share: float) -> None:
        filled = "#" * int(share * BAR_CELLS)
        bar = f"[{filled:.<{BAR_CELLS}}] {done}/{total}" if total else f"{done}"
        line = f"{bar} orders{self._pace(done, total)}"
        shown = line.ljust(self._drawn)
        self._drawn = len(line)
        self._write(f"\r{shown}" + ("\n" if done == total else ""))

    def _pace(self, done: int, total: int | None) -> str:
        """Return how many are judged in a second, and how long the rest takes at that rate."""
        took_s = self._clock() - self._begin
        if took_s < RATE_AFTER_S or done <= self._before:
            return ""
        rate = (done - self._before) / took_s
        left = f", {_duration((total - done) / rate)} left" if total and done < total else ""
        return f", {rate:.3g}/s{left}"

    def _write(self, text: str) -> None:
        with suppress(OSError):  # work goes on without the bar
            self._stream.write(text)
            self._stream.flush()


def _duration(seconds: float) -> str:
    """Return a time as a person says it.

    >>> _duration(4.2), _duration(200), _duration(9000)
    ('5 s', '4 min', '2.5 h')
    """
    if seconds <= 90:
        return f"{int(seconds) + 1} s"
    return f"{int(seconds / 60) + 1} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
