"""Which layer each thread belongs to, as an order declares it, judged by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from weavability.textiles.construction import Joined, Layers
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.sentences import say
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
            say(
                "fault.layers.not_a_letter",
                "A layer is named by one letter; {word!r} is none. Set the terms apart "
                "by spaces: 1F 1B.",
                word=longer[0][:20],
            ),
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
        say(
            "fault.layers.repeat_too_long",
            "Weave and layers repeat together after {threads} threads, more than "
            "{most_threads}: state the layers over one repeat of the weave.",
            threads=threads,
            most_threads=MOST_JOINT_THREADS,
        ),
        given=text[:200],
        allowed=f"at most {MOST_JOINT_THREADS} threads",
    )


def _letter_faults(stated: Layers, letters: set[str]) -> Iterator[Fault]:
    known = sorted(letters)
    if len(known) > MOST_LAYERS:
        message = say(
            "fault.layers.too_many",
            "{layers} layers are named; a cloth has at most {most_layers}.",
            layers=len(known),
            most_layers=MOST_LAYERS,
        )
        yield Fault("/ends", message, len(known), MOST_LAYERS)
    for place, letter in enumerate(stated.pile):
        if letter not in letters:
            message = say(
                "fault.layers.unknown_pile",
                "No thread belongs to a layer {layer!r}: pile names layers of ends or picks.",
                layer=letter[:20],
            )
            yield Fault(f"/pile/{place}", message, letter[:20], known)
        elif letter in stated.pile[:place]:
            yield Fault(
                f"/pile/{place}",
                say("fault.layers.pile_twice", "Layer {layer} is named twice.", layer=letter),
                letter,
                known,
            )


def _case_faults(stated: Layers, ends: ThreadOrder, picks: ThreadOrder) -> Iterator[Fault]:
    """Find letters that differ from another one in their case alone."""
    named: dict[str, str] = {}
    for name, text, order in (("ends", stated.ends, ends), ("picks", stated.picks, picks)):
        for letter in order.counts:
            other = named.setdefault(letter.lower(), letter)
            if other != letter:
                message = say(
                    "fault.layers.case",
                    "Layers {other} and {layer} differ in their case alone: give "
                    "each layer one letter, for its ends and its picks.",
                    other=other,
                    layer=letter,
                )
                yield Fault(f"/{name}", message, text[:200], other)


def _join_faults(stated: Layers, ends: ThreadOrder, picks: ThreadOrder) -> Iterator[Fault]:
    ground = {*ends.counts, *picks.counts} - set(stated.pile)
    if not ground & ends.counts.keys() & picks.counts.keys():
        yield Fault(
            "/picks",
            say(
                "fault.layers.no_ground",
                "No layer without pile has both ends and picks: a cloth needs one that "
                "does. Give its ends and its picks the same letter.",
            ),
            stated.picks[:200],
            "a letter of ends that is not pile",
        )
    elif len(ground) > 1 and stated.joined is None:
        listed = ", ".join(sorted(ground))
        message = say(
            "fault.layers.joined_missing",
            "joined is missing: state how the layers {layers} are joined.",
            layers=listed,
        )
        yield Fault("/joined", message, None, [each.value for each in Joined])
    elif len(ground) == 1 and stated.joined not in (None, Joined.STITCHED):
        yield Fault(
            "/joined",
            say(
                "fault.layers.one_beside_pile",
                "Leave out joined: layer {layer} is the only one that is not pile, and the pile "
                "is bound in it.",
                layer=next(iter(ground)),
            )
            if stated.pile
            else say(
                "fault.layers.only_one",
                "Leave out joined: layer {layer} is the only one.",
                layer=next(iter(ground)),
            ),
            stated.joined.value,
            Joined.STITCHED.value,
        )
