"""Turns and mirror images of a weave, and whether two weaves are the same."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Matrix, Weave

MAX_CELLS_COMPARED: Final = 4_194_304
"""Most crossings of a repeat that ``equivalent`` compares at every shift."""


def reverse_side(weave: Weave) -> Weave:
    """Return the weave as seen from the back, the cloth turned over about its length.

    >>> reverse_side(Weave.from_rows(["110", "011", "101"])).rows
    ('100', '001', '010')
    """
    return Weave(matrix=1 - weave.matrix[:, ::-1])


def quarter_turn(weave: Weave) -> Weave:
    """Return the cloth turned a quarter anticlockwise, so that ends become picks.

    >>> quarter_turn(Weave.from_rows(["10", "10", "01", "01"])).rows
    ('1100', '0011')
    """
    return Weave(matrix=1 - weave.matrix[::-1].T)


def mirrored(weave: Weave) -> Weave:
    """Return the weave with left and right exchanged: Z becomes S."""
    return Weave(matrix=weave.matrix[:, ::-1])


def upside_down(weave: Weave) -> Weave:
    """Return the weave with the order of its picks reversed."""
    return Weave(matrix=weave.matrix[::-1])


def complement(weave: Weave) -> Weave:
    """Return the weave with raised and lowered exchanged, thread for thread."""
    return Weave(matrix=1 - weave.matrix)


RELATIONS: Final[Mapping[str, Callable[[Weave], Weave]]] = {
    "same": lambda weave: weave,
    "mirrored": mirrored,
    "upside down": upside_down,
    "reverse side": reverse_side,
    "complement": complement,
    "half turn": lambda weave: mirrored(upside_down(weave)),
    "quarter turn": quarter_turn,
    "three quarter turns": lambda weave: quarter_turn(quarter_turn(quarter_turn(weave))),
}
"""Turns of a weave, by name, and what each makes of it."""


def equivalent(a: Weave, b: Weave) -> bool:
    """Return whether two weaves differ only in the end and the pick at which the repeat begins.

    Args:
        a: One weave.
        b: The other; the names do not matter.

    Raises:
        InputError: Equal-sized repeats hold more than ``MAX_CELLS_COMPARED`` crossings.

    >>> equivalent(Weave.from_rows(["10", "01"]), Weave.from_rows(["01", "10"]))
    True
    """
    ones_of_a, ones_of_b = (int(each.matrix.sum(dtype=np.int64)) for each in (a, b))
    if ones_of_a * b.matrix.size != ones_of_b * a.matrix.size:  # no repeat makes the shares equal
        return False
    return equivalent_repeats(a.reduced().matrix, b.reduced().matrix)


def equivalent_repeats(first: Matrix, second: Matrix) -> bool:
    """Return the same of the matrices of two weaves that are their true smallest repeats.

    Args:
        first: That of one weave.
        second: That of the other.

    Raises:
        InputError: As :func:`equivalent`.
    """
    if first.shape != second.shape or first.sum(dtype=np.int64) != second.sum(dtype=np.int64):
        return False
    if np.array_equal(first, second):
        return True
    if first.size > MAX_CELLS_COMPARED:
        raise InputError.of(
            "",
            say(
                "fault.weave.comparison_too_large",
                "The repeats are too large to compare at every shift.",
            ),
            given=list(first.shape),
            allowed=f"at most {MAX_CELLS_COMPARED} crossings",
        )
    shift = _best_shift(first, second)
    return np.array_equal(np.roll(first, shift, axis=(0, 1)), second)


def _best_shift(first: Matrix, second: Matrix) -> tuple[int, int]:
    """Return the cyclic shift of ``first`` under which most raised crossings coincide."""
    spectrum = np.conj(np.fft.rfft2(first)) * np.fft.rfft2(second)
    matches = np.fft.irfft2(spectrum, s=first.shape)
    down, across = np.unravel_index(int(np.argmax(matches)), first.shape)
    return int(down), int(across)
