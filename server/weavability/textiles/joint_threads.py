"""Threads that two orders along the same set have in common."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.thread_order import ThreadOrder


def joint_shares(one: ThreadOrder, other: ThreadOrder) -> dict[tuple[str, str], float]:
    """Return the share of all threads that has a name of one order and a name of another.

    Both orders begin at the first thread. Threads whose places leave the same remainder by the
    greatest common divisor of both repeats meet equally often, so the joint repeat, which may be
    very long, is not written out.

    >>> from weavability.textiles.thread_order import parse_order
    >>> joint_shares(parse_order("A B", known="AB"), parse_order("F F B", known="FB"))[("A", "F")]
    0.3333333333333333
    """
    step = math.gcd(one.threads, other.threads)
    counts = [_by_remainder(order, step) for order in (one, other)]
    total = one.threads * other.threads / step
    return {
        (name, second): float(mine @ theirs) / total
        for name, mine in counts[0].items()
        for second, theirs in counts[1].items()
        if mine @ theirs
    }


def _by_remainder(order: ThreadOrder, step: int) -> dict[str, NDArray[np.float64]]:
    names = np.array(order.sequence)
    remainders = np.arange(len(names)) % step
    return {
        name: np.bincount(remainders[names == name], minlength=step).astype(np.float64)
        for name in order.counts
    }
