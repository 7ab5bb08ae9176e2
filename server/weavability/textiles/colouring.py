"""Colour and weave: repeat of the effect, shares of the face, centring of a check.

Threads are distinguished by any text, a colour or the name of a yarn; warp and weft threads with
the same text look the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd, lcm
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Weave, smallest_period

MAX_ORDER_THREADS: Final = 200_000
MAX_FACE_CELLS: Final = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourRepeat:
    """The repeat of a weave together with its thread orders.

    Attributes:
        ends: Ends of the effect: least common multiple of weave and warp order.
        picks: Picks of the effect, likewise.
        warp_order_ends: True repeat of the warp order.
        weft_order_picks: True repeat of the weft order.
        weave_breaks_in_warp: The warp order is no multiple of the weave's ends, so that equal
            stripes look different until the effect repeats.
        weave_breaks_in_weft: The same for the weft.
    """

    ends: int
    picks: int
    warp_order_ends: int
    weft_order_picks: int
    weave_breaks_in_warp: bool
    weave_breaks_in_weft: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """The colours that show on the face.

    Attributes:
        colours: The texts that distinguish the threads.
        matrix: Array of shape (picks, ends): at every crossing the index into ``colours`` of the
            thread on top; the first pick first.
    """

    colours: tuple[str, ...]
    matrix: NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Centring:
    """The position of a thread order over the whole width, or length."""

    order_threads: Annotated[int, "True repeat of the order"]
    total_threads: Annotated[int, "Threads over the whole width"]
    whole_repeats: Annotated[int, "Whole repeats over the width"]
    remainder_threads: Annotated[int, "Threads of the part repeat that is left"]
    symmetrical_order: Annotated[
        bool, "Whether the order is its own mirror image about some thread or gap"
    ]
    balanced: Annotated[
        bool, "Whether the cloth reads the same from both edges when begun at `first_thread`"
    ]
    first_thread: Annotated[
        int,
        "Thread of the order, 1-based, to begin with: the part repeat is shared between the "
        "edges, as symmetrically as the order allows, the widest band at the edge",
    ]
    left_edge_threads: Annotated[int, "Threads of the first band"]
    right_edge_threads: Annotated[int, "Threads of the last band"]


def colour_repeat(weave: Weave, *, warp: Sequence[str], weft: Sequence[str]) -> ColourRepeat:
    """Return the repeat of a colour-and-weave effect: the least common multiples of its parts.

    Args:
        weave: The weave.
        warp: Colour of every end of the warp order.
        weft: Colour of every pick of the weft order.

    Raises:
        InputError: An order is empty or has more than ``MAX_ORDER_THREADS`` threads.

    >>> from weavability.textiles.notation import parse_weave
    >>> hound = colour_repeat(parse_weave("2/2 twill Z"), warp="AAAABBBB", weft="AAAABBBB")
    >>> hound.ends, hound.picks
    (8, 8)
    """
    repeat = weave.reduced()
    across, along = _order_period(warp), _order_period(weft)
    return ColourRepeat(
        ends=lcm(repeat.ends, across),
        picks=lcm(repeat.picks, along),
        warp_order_ends=across,
        weft_order_picks=along,
        weave_breaks_in_warp=across > 1 and across % repeat.ends != 0,
        weave_breaks_in_weft=along > 1 and along % repeat.picks != 0,
    )


def face_of(
    weave: Weave, *, warp: Sequence[str], weft: Sequence[str], ends: int, picks: int
) -> Face:
    """Return the colours of the face from the first end and pick on.

    Args:
        weave: The weave.
        warp: Colour of every end of the warp order.
        weft: Colour of every pick of the weft order.
        ends: Ends to show.
        picks: Picks to show.

    Raises:
        InputError: An order or the window is empty or too large.
    """
    if ends < 1 or picks < 1 or ends * picks > MAX_FACE_CELLS:
        message = say(
            "fault.cloth_face.size",
            "Show at least one end and one pick, at most {most_crossings} crossings.",
            most_crossings=MAX_FACE_CELLS,
        )
        raise InputError.of("", message, given=[picks, ends])
    _order_period(warp)
    _order_period(weft)
    known: dict[str, int] = {}
    across, along = _numbers(warp, known), _numbers(weft, known)
    row, column = np.arange(picks)[:, None], np.arange(ends)[None, :]
    up = weave.matrix[row % weave.picks, column % weave.ends]
    top = np.where(up, across[column % len(across)], along[row % len(along)])
    return Face(colours=tuple(known), matrix=top)


def face_shares(weave: Weave, *, warp: Sequence[str], weft: Sequence[str]) -> dict[str, float]:
    """Return the share of the crossings at which each colour is on top.

    An end of the weave meets a thread of the order somewhere if and only if their numbers agree
    modulo the common factor of the repeats, and all that meet do so equally often, so that the
    whole repeat of the effect need not be laid out.

    Args:
        weave: The weave.
        warp: Colour of every end of the warp order, the first end first.
        weft: Colour of every pick of the weft order, the first pick first.

    Returns:
        Shares from 0 to 1 by colour, warp colours first; they add up to 1.

    Raises:
        InputError: An order is empty or has more than ``MAX_ORDER_THREADS`` threads.

    >>> from weavability.textiles.notation import parse_weave
    >>> face_shares(parse_weave("3/1 twill Z"), warp="A", weft="B")
    {'A': 0.75, 'B': 0.25}
    """
    _order_period(warp)
    _order_period(weft)
    up_per_end = weave.matrix.mean(axis=0)
    down_per_pick = 1.0 - weave.matrix.mean(axis=1)
    shares: dict[str, float] = defaultdict(float)
    for order, on_top in ((warp, up_per_end), (weft, down_per_pick)):
        common = gcd(len(order), len(on_top))
        meeting = on_top.reshape(-1, common).mean(axis=0)
        for place, colour in enumerate(order):
            shares[colour] += float(meeting[place % common]) / len(order)
    return dict(shares)


def centre_order(order: Sequence[str], *, total_threads: int) -> Centring:
    """Find where to begin a thread order so that the cloth is balanced over its width.

    Args:
        order: Colour of every thread of the order.
        total_threads: Threads over the whole width.

    Raises:
        InputError: There is no thread, or the order is empty or too long.

    >>> check = centre_order("AAAABB", total_threads=22)
    >>> check.first_thread, check.balanced, check.left_edge_threads, check.right_edge_threads
    (1, True, 4, 4)
    """
    if total_threads < 1:
        raise InputError.of(
            "", say("fault.colouring.no_thread", "Give one thread or more."), given=total_threads
        )
    threads = _order_period(order)
    mirror = _mirror_sum(order[:threads])
    starts = _balanced_starts(mirror, threads=threads, total_threads=total_threads)
    remainder = total_threads % threads
    first = (
        max(starts, key=lambda start: (_band(order, threads, start, 1), -start))
        if starts
        else (threads - remainder // 2) % threads
    )
    last = (first + total_threads - 1) % threads
    return Centring(
        order_threads=threads,
        total_threads=total_threads,
        whole_repeats=total_threads // threads,
        remainder_threads=remainder,
        symmetrical_order=mirror is not None,
        balanced=bool(starts),
        first_thread=first + 1,
        left_edge_threads=min(_band(order, threads, first, 1), total_threads),
        right_edge_threads=min(_band(order, threads, last, -1), total_threads),
    )


def _order_period(order: Sequence[str]) -> int:
    """Return the true repeat of a thread order, refusing one that is empty or too long."""
    if not 1 <= len(order) <= MAX_ORDER_THREADS:
        message = say(
            "fault.colouring.order_length",
            "A thread order has 1 to {most_threads} threads.",
            most_threads=MAX_ORDER_THREADS,
        )
        raise InputError.of("", message, given=len(order))
    return smallest_period(_numbers(order, {}))


def _numbers(order: Sequence[str], known: dict[str, int]) -> NDArray[np.intp]:
    """Return the number of every thread's colour, adding new colours to ``known``."""
    return np.array([known.setdefault(colour, len(known)) for colour in order], dtype=np.intp)


def _mirror_sum(order: Sequence[str]) -> int | None:
    """Return the sum of every two places (from 0, round the repeat) that mirror each other.

    A true repeat has at most one such sum: two would make it repeat within itself.
    """
    known: dict[str, int] = {}
    text = "".join(chr(number) for number in _numbers(order, known).tolist())
    shift = (text + text).find(text[::-1])
    return None if shift < 0 else (shift - 1) % len(text)


def _balanced_starts(mirror: int | None, *, threads: int, total_threads: int) -> list[int]:
    """Return the places to begin from which the first thread mirrors the last."""
    if mirror is None:
        return []
    twice = (mirror - total_threads + 1) % threads
    if threads % 2:
        return [(twice if twice % 2 == 0 else twice + threads) // 2]
    return [] if twice % 2 else [twice // 2, (twice + threads) // 2]


def _band(order: Sequence[str], threads: int, start: int, step: int) -> int:
    """Count the threads of one colour from ``start`` on; endless if there is one colour."""
    if threads == 1:
        return MAX_ORDER_THREADS
    width = 1
    while order[(start + step * width) % threads] == order[start]:
        width += 1
    return width
