"""The layers of a cloth in a drawing: letters of threads, signs of crossings, and the legend.

Layers differ by letter and by shape, never by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from weavability.drawing import svg
from weavability.textiles.construction import Joined
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.thread_order import ThreadOrder
from weavability.textiles.weave_matrix import Matrix

LINE: Final = 18
"""Height of a line of the legend, in pixels."""

LEAST_LETTERED: Final = 8.0
"""Least room of a thread for its letter, in pixels."""

_SIZE: Final = 11
_MOST_ORDER_SHOWN: Final = 60

Marks = NDArray[np.bool_]


class Sign(StrEnum):
    """What is marked at a crossing."""

    OWN = "own"
    LIFT = "lift"
    RAISED = "raised"
    LOWERED = "lowered"
    PILE = "pile"


WORDS: Final[Mapping[Sign, str]] = {
    Sign.OWN: "end raised over a pick of its own layer",
    Sign.LIFT: "end raised over a pick of another layer, which lies below it there",
    Sign.RAISED: "stitch: end of a lower layer raised over a pick of an upper one",
    Sign.LOWERED: "stitch: end of an upper layer left under a pick of a lower one",
    Sign.PILE: "end raised where pile crosses",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Threads:
    """Threads of a drawing: the rank of the layer of each, the pile having -1."""

    letters: tuple[str, ...]
    ranks: NDArray[np.intp]


def _threads(woven: LayeredWeave, order: ThreadOrder, shown: int) -> _Threads:
    rank = {
        layer.letter: -1 if layer.is_pile else place for place, layer in enumerate(woven.layers)
    }
    letters = tuple(order.sequence[place % order.threads] for place in range(shown))
    return _Threads(letters=letters, ranks=np.array([rank[letter] for letter in letters]))


def signs_of(woven: LayeredWeave, marks: Matrix) -> dict[Sign, Marks]:
    """Sort the crossings of a drawing by sign.

    Args:
        woven: The layers.
        marks: Raised ends, as many repeats of the weave as are drawn.
    """
    rows, columns = marks.shape
    end = _threads(woven, woven.ends, columns).ranks[None, :]
    pick = _threads(woven, woven.picks, rows).ranks[:, None]
    up = marks.astype(np.bool_)
    pile = (end < 0) | (pick < 0)
    other = ~pile & (end != pick) & ~_shared(woven)[end, pick]
    stitched = woven.joined is Joined.STITCHED
    found = {
        Sign.OWN: up & ~pile & ~other,
        Sign.LIFT: up & other & (end < pick) if stitched else up & other,
        Sign.PILE: up & pile,
    }
    if stitched:
        found[Sign.RAISED] = up & other & (end > pick)
        found[Sign.LOWERED] = ~up & other & (end < pick)
    return {sign: where for sign, where in found.items() if where.any()}


def _shared(woven: LayeredWeave) -> Marks:
    """Mark where ends of one layer, by its rank, weave with picks of another as with their own."""
    letters = [layer.letter for layer in woven.layers]
    found = np.zeros((len(letters), len(letters)), dtype=np.bool_)
    for upper, lower in woven.sharing:
        one, other = letters.index(upper), letters.index(lower)
        found[one, other] = found[other, one] = True
    return found


def drawn(sign: Sign, where: Marks, *, colour: str) -> str:
    """Return the signs of one kind as a path in unit squares, the last row at the top."""
    if sign is Sign.OWN:
        return f'<path d="{svg.squares(where)}" fill="{colour}"/>'
    rows, columns = np.nonzero(where[::-1])
    shape, filled = _SHAPES[sign]
    data = "".join(
        shape.format(x=svg.number(x + dx), y=svg.number(y + dy))
        for x, y in zip(columns.tolist(), rows.tolist(), strict=True)
        for dx, dy in [_STARTS[sign]]
    )
    look = f'fill="{colour}"' if filled else f'fill="none" stroke="{colour}" stroke-width="0.14"'
    return f'<path d="{data}" {look}/>'


_CIRCLE: Final = "M{x} {y}a.32 .32 0 1 0 .64 0a.32 .32 0 1 0-.64 0z"
_SHAPES: Final[Mapping[Sign, tuple[str, bool]]] = {
    Sign.LIFT: ("M{x} {y}l.6 .6m0-.6l-.6 .6", False),
    Sign.RAISED: (_CIRCLE, True),
    Sign.LOWERED: (_CIRCLE, False),
    Sign.PILE: ("M{x} {y}l.4 .4-.4 .4-.4-.4z", True),
}
_STARTS: Final = {
    Sign.LIFT: (0.2, 0.2),
    Sign.RAISED: (0.18, 0.5),
    Sign.LOWERED: (0.18, 0.5),
    Sign.PILE: (0.5, 0.1),
}


def letters(
    woven: LayeredWeave,
    *,
    ends: int,
    picks: int,
    x: float,
    y: float,
    cell: tuple[float, float],
    beside: tuple[float, float] = (0, 0),
) -> str:
    """Write the letter of its layer below each end and at the left of each pick, if there is room.

    Args:
        woven: The layers.
        ends: Ends drawn.
        picks: Picks drawn.
        x: Left of the weave, in pixels.
        y: Top of the weave, in pixels.
        cell: Width of an end and height of a pick, in pixels.
        beside: Room that bands of colours take at the left and below, in pixels.
    """
    (wide, high), (left, below) = cell, beside
    bottom = y + picks * high
    parts = []
    if wide >= LEAST_LETTERED:
        parts += [
            svg.text(
                x + (place + 0.5) * wide, bottom + 25 + below, letter, size=10, anchor="middle"
            )
            for place, letter in enumerate(_threads(woven, woven.ends, ends).letters)
        ]
    if high >= LEAST_LETTERED:
        parts += [
            svg.text(
                x - 28 - left, bottom - (place + 0.5) * high + 3.5, letter, size=10, anchor="middle"
            )
            for place, letter in enumerate(_threads(woven, woven.picks, picks).letters)
        ]
    return "".join(parts)


def legend_height(signs: Mapping[Sign, Marks]) -> float:
    """Return the height of a legend, in pixels."""
    return (1 + len(signs)) * LINE


def legend(woven: LayeredWeave, signs: Mapping[Sign, Marks], *, x: float, y: float) -> str:
    """Return the legend: the layers, and what each sign means; ``y`` is the top, in pixels."""
    parts = [svg.text(x, y + 13, in_words(woven), size=_SIZE)]
    for line, sign in enumerate(signs, start=1):
        top = y + line * LINE
        one = np.ones((1, 1), dtype=np.bool_)
        place = f'transform="translate({svg.number(x)} {svg.number(top + 3)}) scale(12)"'
        parts.append(f"<g {place}>{drawn(sign, one, colour=svg.INK)}</g>")
        parts.append(svg.text(x + 20, top + 13, WORDS[sign], size=_SIZE))
    return "".join(parts)


def in_words(woven: LayeredWeave) -> str:
    """Return the layers from the face to the back, and which threads are theirs."""
    ground = [layer.letter for layer in woven.layers if not layer.is_pile]
    pile = [layer.letter for layer in woven.layers if layer.is_pile]
    named = (
        f"Layers from the face: {', '.join(ground)}" if len(ground) > 1 else f"Layer {ground[0]}"
    )
    piled = f"; pile {', '.join(pile)}" if pile else ""
    joined = f", {woven.joined}" if woven.joined else ""
    return f"{named}{joined}{piled}; ends {_short(woven.ends)}; picks {_short(woven.picks)}"


def _short(order: ThreadOrder) -> str:
    text = order.text
    return text if len(text) <= _MOST_ORDER_SHOWN else f"{text[:_MOST_ORDER_SHOWN]} …"


def hatches(woven: LayeredWeave) -> Iterator[tuple[str, str, str]]:
    """Yield letter, definition and reference of a hatch for every layer but the first."""
    for place, layer in enumerate(woven.layers[1:], start=1):
        step, turn = 3 + 2 * ((place - 1) // 4), (45, -45, 0, 90)[(place - 1) % 4]
        name = f"layer-{layer.letter}"
        yield (
            layer.letter,
            f'<pattern id="{name}" width="{step}" height="{step}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({turn})"><path d="M0 0H{step}" stroke="{svg.INK}" '
            f'stroke-width="1.4"/><path d="M0 1.4H{step}" stroke="{svg.PAPER}" '
            'stroke-width="0.8"/></pattern>',
            f"url(#{name})",
        )


def belonging(woven: LayeredWeave, letter: str, up: Marks) -> Marks:
    """Return the crossings of a drawing whose upper thread belongs to a layer."""
    rows, columns = up.shape
    ends = np.array(_threads(woven, woven.ends, columns).letters) == letter
    picks = np.array(_threads(woven, woven.picks, rows).letters) == letter
    found: Marks = np.where(up, ends[None, :], picks[:, None])
    return found
