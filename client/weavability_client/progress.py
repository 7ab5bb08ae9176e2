"""How far a batch has come, for a person who waits."""

from __future__ import annotations

import time
from typing import Final, TextIO

BAR_CELLS: Final = 30


class Progress:
    """A bar on a terminal; elsewhere a line a quarter, or nothing.

    Give it to ``Client.validate_many`` as ``progress``.

    Args:
        stream: Where it is written, usually ``sys.stderr``.
        after_s: Seconds without a bar: short work needs none.
        elsewhere: Whether anything is written if the stream is no terminal.
    """

    def __init__(self, stream: TextIO, *, after_s: float = 0.0, elsewhere: bool = True) -> None:
        self._stream = stream
        self._bar = stream.isatty()
        self._elsewhere = elsewhere
        self._quarter = 0
        self._begin = time.monotonic() + after_s
        self._drawn = False

    def __call__(self, done: int, total: int | None) -> None:
        """Show that ``done`` of ``total`` orders are judged."""
        share = done / total if total else 0.0
        if self._bar and (self._drawn or time.monotonic() >= self._begin):
            self._draw(done, total, share)
        elif not self._bar and self._elsewhere and int(share * 4) > self._quarter:
            self._quarter = int(share * 4)
            self._write(f"{done} of {total} orders judged\n")

    def _draw(self, done: int, total: int | None, share: float) -> None:
        self._drawn = True
        filled = "#" * int(share * BAR_CELLS)
        bar = f"[{filled:.<{BAR_CELLS}}] {done}/{total}" if total else f"{done}"
        self._write(f"\r{bar} orders" + ("\n" if done == total else ""))

    def _write(self, text: str) -> None:
        self._stream.write(text)
        self._stream.flush()
