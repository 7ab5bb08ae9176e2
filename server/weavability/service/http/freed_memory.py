"""Memory that requests have freed, given back to the system as far as the C library can do that.

By default each thread of a process gets a heap of its own, of which glibc keeps up to 64 MiB that
were freed, also when it is asked to give memory back: with eight threads a worker that has computed
large designs stays at several times of what it needs. From one heap for all threads everything is
given back. What threads wait for one another there is little, since Python lets one run at a time.
"""

from __future__ import annotations

import ctypes
import gc
from typing import Final

_LIBRARY: Final = ctypes.CDLL(None)
_OPTION: Final = getattr(_LIBRARY, "mallopt", None)
_TRIM: Final = getattr(_LIBRARY, "malloc_trim", None)
_ARENA_MAX: Final = -8  # M_ARENA_MAX of glibc's malloc.h


def use_one_heap() -> None:
    """Let all threads of this process, and of those forked from it, share a heap.

    Call it before a second thread starts: a heap that a thread has stays.
    """
    if _OPTION is not None:
        _OPTION(_ARENA_MAX, 1)


def give_back() -> None:
    """Return to the system what is free, and what only rings of objects hold."""
    gc.collect()  # of a millisecond: what a worker was forked with is left out
    if _TRIM is not None:
        _TRIM(0)
