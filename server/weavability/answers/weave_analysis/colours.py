"""Warp and weft orders in colours, and how they come out with the weave."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from weavability.answers.weave_analysis.answer import (
    ColourSheet,
    FaceShare,
    OrderSheet,
    YarnInOrder,
)
from weavability.answers.weave_analysis.request import ColouredThreads
from weavability.textiles.assumptions import Grade, Ledger
from weavability.textiles.colouring import centre_order, colour_repeat, face_shares
from weavability.textiles.errors import Fault, InputError, collecting, pointing_below
from weavability.textiles.sentences import say
from weavability.textiles.thread_order import ThreadOrder, parse_order
from weavability.textiles.weave_matrix import Weave

UNDYED: Final = "#efe8d8"
_COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderInColours:
    """A thread order with the colour of every thread.

    Attributes:
        sequence: The colour of every thread of the order, as ``#rrggbb`` in small letters.
        colours: The colour of every yarn, likewise.
    """

    order: ThreadOrder
    sequence: tuple[str, ...]
    colours: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourCase:
    """Both thread orders."""

    warp: OrderInColours
    weft: OrderInColours


def resolve_colours(
    warp: ColouredThreads | None, weft: ColouredThreads | None, ledger: Ledger
) -> ColourCase | None:
    """Read both orders; where only one is stated, the other is taken as undyed.

    Raises:
        InputError: At ``/warp`` or ``/weft``, ``order`` or ``colours/<yarn>``.
    """
    if warp is None and weft is None:
        return None
    faults: list[Fault] = []
    read = []
    for pointer, threads in (("/warp", warp), ("/weft", weft)):
        with collecting(faults, below=pointer):
            read.append(_read(threads or _undyed(pointer, ledger)))
    if faults:
        raise InputError(faults)
    return ColourCase(warp=read[0], weft=read[1])


def colour_sheet(
    case: ColourCase,
    repeat: Weave,
    *,
    total_ends: int | None,
    ends_per_cm: float | None,
    picks_per_cm: float | None,
) -> ColourSheet:
    """Work out repeat, breaks, shares of the face, and how the warp order lies over the width."""
    warp, weft = case.warp.sequence, case.weft.sequence
    together = colour_repeat(repeat, warp=warp, weft=weft)
    shares = face_shares(repeat, warp=warp, weft=weft)
    return ColourSheet(
        repeat_ends=together.ends,
        repeat_picks=together.picks,
        repeat_width_cm=None if ends_per_cm is None else together.ends / ends_per_cm,
        repeat_length_cm=None if picks_per_cm is None else together.picks / picks_per_cm,
        weave_breaks_in_warp=together.weave_breaks_in_warp,
        weave_breaks_in_weft=together.weave_breaks_in_weft,
        warp=_order_sheet(case.warp, together.warp_order_ends, total_threads=total_ends),
        weft=_order_sheet(case.weft, together.weft_order_picks, total_threads=None),
        face=tuple(
            FaceShare(colour=colour, share_pct=100 * share)
            for colour, share in sorted(shares.items(), key=lambda item: -item[1])
        ),
    )


def _undyed(pointer: str, ledger: Ledger) -> ColouredThreads:
    """Assume one colour for the system that states none."""
    ledger.note(
        pointer,
        UNDYED,
        unit=None,
        reason=say("assumption.colours.undyed", "no colours stated: undyed threads of one kind"),
        grade=Grade.COMMON_PRACTICE,
    )
    return ColouredThreads(order="A", colours={"A": UNDYED})


def _read(threads: ColouredThreads) -> OrderInColours:
    with pointing_below("/order"):
        order = parse_order(threads.order, known=tuple(threads.colours))
    faults = [_no_colour(yarn, text) for yarn, text in threads.colours.items() if _wrong(text)]
    if faults:
        raise InputError(faults)
    colours = {yarn: text.casefold() for yarn, text in threads.colours.items()}
    return OrderInColours(
        order=order, sequence=tuple(colours[yarn] for yarn in order.sequence), colours=colours
    )


def _wrong(colour: str) -> bool:
    return _COLOUR.fullmatch(colour) is None


def _no_colour(yarn: str, text: str) -> Fault:
    message = say(
        "fault.colours.not_a_colour_of_yarn",
        "The colour of yarn {yarn} must be written #rrggbb.",
        yarn=yarn,
    )
    return Fault(f"/colours/{yarn}", message, text[:20], "#1c2a4a")


def _order_sheet(
    threads: OrderInColours, repeat_threads: int, *, total_threads: int | None
) -> OrderSheet:
    centring = None
    if total_threads is not None:
        centring = centre_order(threads.sequence, total_threads=total_threads)
    return OrderSheet(
        order=threads.order.text,
        threads=threads.order.threads,
        repeat_threads=repeat_threads,
        yarns=tuple(_yarns(threads)),
        centring=centring,
    )


def _yarns(threads: OrderInColours) -> Iterator[YarnInOrder]:
    for yarn, count in threads.order.counts.items():
        yield YarnInOrder(yarn=yarn, colour=threads.colours[yarn], threads=count)
