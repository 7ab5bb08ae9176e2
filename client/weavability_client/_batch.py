"""Many requests at once: packed, bounded in flight, answers in the order of the requests."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")


def in_order(work: Callable[[int, T], R], items: Iterable[T], *, at_once: int) -> Iterator[R]:
    """Yield ``work(index, item)`` for every item, in order, at most ``at_once`` under way.

    ``items`` is read in the caller's thread and only as far as needed, so it may be endless.
    Closing the iterator starts nothing new.

    Example:
        >>> list(in_order(lambda index, word: f"{index}{word}", "abc", at_once=2))
        ['0a', '1b', '2c']
    """
    numbered = enumerate(items)
    waiting: deque[Future[R]] = deque()
    pool = ThreadPoolExecutor(max_workers=at_once, thread_name_prefix="weavability")
    try:
        for index, item in islice(numbered, at_once):
            waiting.append(pool.submit(work, index, item))
        while waiting:
            yield waiting.popleft().result()
            for index, item in islice(numbered, 1):
                waiting.append(pool.submit(work, index, item))
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def packed(
    items: Iterable[T], *, size_of: Callable[[T], int], most_items: int, most_bytes: int
) -> Iterator[list[T]]:
    """Yield the items in packs, in order; one that is larger than a pack goes alone.

    Args:
        items: Read only as far as the pack that is needed, and at most one item more.
        size_of: Bytes of an item.
        most_items: Items of a pack.
        most_bytes: Bytes of a pack.

    Example:
        >>> list(packed(["a", "bb", "cccc", "d"], size_of=len, most_items=2, most_bytes=4))
        [['a', 'bb'], ['cccc'], ['d']]
    """
    pack: list[T] = []
    held = 0
    for item in items:
        size = size_of(item)
        if pack and held + size > most_bytes:
            yield pack
            pack, held = [], 0
        pack.append(item)
        held += size
        if len(pack) == most_items:
            yield pack
            pack, held = [], 0
    if pack:
        yield pack
