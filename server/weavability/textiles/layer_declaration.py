"""Which layer each thread belongs to, as an order declares it, judged by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from weavability.textiles.construction import Joined, Layers
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.thread_order import ThreadOrder, parse_order

MOST_JOINT_THREADS: Final = 4_096
"""Most ends, and most picks, of the repeat of weave and layers together."""

MOST_LAYERS: Final = 12

LETTER: Final = re.compile(r"[A-Za-z]")

_NAME: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]*", re.ASCII)

_EXAMPLE: Final = "a thread order with one letter a layer, such as 1F 1B"


def layer_orders(stated: Layers) -> tuple[ThreadOrder, ThreadOrder]:
    """Read which layer each end and each pick belongs to, and judge the declaration by itself.

    Raises:
        InputError: Every fault of it; pointers are relative to it.

    >>> ends, picks = layer_orders(Layers(ends="1F 1B", picks="2F 1B", joined=Joined.STITCHED))
    >>> ends.sequence, picks.counts
    (('F', 'B'), {'F': 2, 'B': 1})
    """
    faults: list[Fault] = []
    orders: list[ThreadOrder] = []
    for name, text in (("ends", stated.ends), ("picks", stated.picks)):
        with collecting(faults, below=f"/{name}"):
            orders.append(_order(text))
    if len(orders) == 2:
        faults.extend(_letter_faults(stated, {*orders[0].counts, *orders[1].counts}))
        faults.extend(_case_faults(stated, *orders))
    if len(orders) == 2 and not faults:
        faults.extend(_join_faults(stated, *orders))
    if faults:
        raise InputError(faults)
    return orders[0], orders[1]


def _order(text: str) -> ThreadOrder:
    names = set(_NAME.findall(text))
    longer = sorted(name for name in names if len(name) > 1)
    if longer:
        raise InputError.of(
            "",
            f"A layer is named by one letter; {longer[0][:20]!r} is none. Set the terms apart by "
            "spaces: 1F 1B.",
            given=text[:200],
            allowed=_EXAMPLE,
        )
    order = parse_order(text, known=names, called="layer")
    if order.threads > MOST_JOINT_THREADS:
        raise too_long_repeat("", text, order.threads)
    return order


def too_long_repeat(pointer: str, text: str, threads: int) -> InputError:
    """Return the fault of layers that repeat with the weave, or alone, after too many threads.

    Args:
        pointer: Of the order of layers.
        text: The order.
        threads: Of the repeat.
    """
    return InputError.of(
        pointer,
        f"Weave and layers repeat together after {threads} threads, more than "
        f"{MOST_JOINT_THREADS}: state the layers over one repeat of the weave.",
        given=text[:200],
        allowed=f"at most {MOST_JOINT_THREADS} threads",
    )


def _letter_faults(stated: Layers, letters: set[str]) -> Iterator[Fault]:
    known = sorted(letters)
    if len(known) > MOST_LAYERS:
        message = f"{len(known)} layers are named; a cloth has at most {MOST_LAYERS}."
        yield Fault("/ends", message, len(known), MOST_LAYERS)
    for place, letter in enumerate(stated.pile):
        if letter not in letters:
            message = f"No thread belongs to a layer {letter[:20]!r}: pile names layers of ends or "
            yield Fault(f"/pile/{place}", message + "picks.", letter[:20], known)
        elif letter in stated.pile[:place]:
            yield Fault(f"/pile/{place}", f"Layer {letter} is named twice.", letter, known)


def _case_faults(stated: Layers, ends: ThreadOrder, picks: ThreadOrder) -> Iterator[Fault]:
    """Find letters that differ from another one in their case alone."""
    named: dict[str, str] = {}
    for name, text, order in (("ends", stated.ends, ends), ("picks", stated.picks, picks)):
        for letter in order.counts:
            other = named.setdefault(letter.lower(), letter)
            if other != letter:
                message = (
                    f"Layers {other} and {letter} differ in their case alone: give each layer one "
                    "letter, for its ends and its picks."
                )
                yield Fault(f"/{name}", message, text[:200], other)


def _join_faults(stated: Layers, ends: ThreadOrder, picks: ThreadOrder) -> Iterator[Fault]:
    ground = {*ends.counts, *picks.counts} - set(stated.pile)
    if not ground & ends.counts.keys() & picks.counts.keys():
        yield Fault(
            "/picks",
            "No layer without pile has both ends and picks: a cloth needs one that does. Give its "
            "ends and its picks the same letter.",
            stated.picks[:200],
            "a letter of ends that is not pile",
        )
    elif len(ground) > 1 and stated.joined is None:
        listed = ", ".join(sorted(ground))
        message = f"joined is missing: state how the layers {listed} are joined."
        yield Fault("/joined", message, None, [each.value for each in Joined])
    elif len(ground) == 1 and stated.joined not in (None, Joined.STITCHED):
        yield Fault(
            "/joined",
            f"Leave out joined: layer {next(iter(ground))} is the only one"
            + (" that is not pile, and the pile is bound in it." if stated.pile else "."),
            stated.joined.value,
            Joined.STITCHED.value,
        )
