"""The colours of the threads beside a drawing, and the legend of their yarns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final, NamedTuple

from weavability.drawing import svg

WIDTH: Final = 8
"""Width of a band, in pixels."""

ROOM: Final = 12
"""Room of a band with the gap beside it, in pixels."""

LINE: Final = 17
"""Height of a line of the legend, in pixels."""

_SIZE: Final = 11
_SIGN: Final = 6.3
"""Ample width of a sign of that size, in pixels."""

_SWATCH: Final = 11
_GAP: Final = 18
_MOST_ORDER_SHOWN: Final = 90


class YarnSwatch(NamedTuple):
    """A yarn in a legend: its colour as ``#rrggbb``, and what it is."""

    colour: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadBand:
    """The threads of warp or weft in their order.

    Attributes:
        name: ``Warp`` or ``Weft``.
        sequence: Key of the yarn of every thread of the order, the first thread first.
        order: The order as it is written.
        yarns: Each yarn by its key.
    """

    name: str
    sequence: Sequence[str]
    order: str
    yarns: Mapping[str, YarnSwatch]

    def colours(self, shown: int) -> list[str]:
        """Return the colours of the first threads."""
        repeat = [self.yarns[key].colour for key in self.sequence]
        return [repeat[place % len(repeat)] for place in range(shown)]


def draw_band(
    band: ThreadBand, shown: int, *, x: float, y: float, cell: float, is_upright: bool
) -> str:
    """Return a band of colours along the first threads.

    Args:
        band: The threads.
        shown: Threads that are drawn.
        x: Left of the band, in pixels.
        y: Its top.
        cell: Length of a thread along it.
        is_upright: Whether it goes up, the first thread at the bottom, as along the picks.
    """
    parts: list[str] = []
    start = 0.0
    for colour, run in groupby(band.colours(shown)):
        length = len(list(run)) * cell
        left, top, wide, high = x + start, y, length, float(WIDTH)
        if is_upright:
            left, top, wide, high = x, y + shown * cell - start - length, float(WIDTH), length
        start += length
        parts.append(
            f'<rect x="{svg.number(left)}" y="{svg.number(top)}" width="{svg.number(wide)}" '
            f'height="{svg.number(high)}" fill="{colour}"/>'
        )
    return f'<g stroke="{svg.QUIET}" stroke-width="0.6">{"".join(parts)}</g>'


class _Item(NamedTuple):
    """Words of a legend, behind the swatch of a colour if they name a yarn."""

    words: str
    colour: str | None

    @property
    def width(self) -> float:
        return len(self.words) * _SIGN + (0 if self.colour is None else _SWATCH + 5)


def legend_height(bands: Sequence[ThreadBand], *, width: float) -> float:
    """Return the height of the legend of bands, in pixels."""
    return LINE * len(list(_lines(bands, width)))


def draw_legend(bands: Sequence[ThreadBand], *, x: float, y: float, width: float) -> str:
    """Return the legend of bands: the order of each, and its yarns; ``y`` is its top."""
    parts = []
    for line in _lines(bands, width):
        at = x
        y += LINE
        for item in line:
            if item.colour is not None:
                parts.append(
                    f'<rect x="{svg.number(at)}" y="{svg.number(y - 10)}" width="{_SWATCH}" '
                    f'height="{_SWATCH}" fill="{item.colour}" stroke="{svg.QUIET}" '
                    'stroke-width="0.6"/>'
                )
                at += _SWATCH + 5
            parts.append(svg.text(at, y, item.words, size=_SIZE))
            at += len(item.words) * _SIGN + _GAP
    return "".join(parts)


def _lines(bands: Sequence[ThreadBand], width: float) -> Iterator[list[_Item]]:
    """Yield the lines of the legend of bands, none longer than the width if its words are not."""
    alike = [band for band in bands if band.yarns == bands[0].yarns]
    if len(alike) == len(bands) > 1 and len({band.order for band in bands}) == 1:
        names = " and ".join((bands[0].name, *(band.name.lower() for band in bands[1:])))
        yield from _wrapped(_items(names, bands[0]), width)
        return
    for band in bands:
        yield from _wrapped(_items(band.name, band), width)


def _items(name: str, band: ThreadBand) -> list[_Item]:
    """Return the order of a band and its yarns; what all of them are is written once."""
    if len(band.yarns) == 1:
        ((key, only),) = band.yarns.items()
        return [_Item(f"{name}:", None), _Item(only.words or key, only.colour)]
    order = band.order
    if len(order) > _MOST_ORDER_SHOWN:
        order = f"{order[:_MOST_ORDER_SHOWN].rsplit(' ', 1)[0]} …"
    same = len({yarn.words for yarn in band.yarns.values()}) == 1
    yarns = [
        _Item(key if same else f"{key} {yarn.words}".strip(), yarn.colour)
        for key, yarn in band.yarns.items()
    ]
    words = next(iter(band.yarns.values())).words
    return [_Item(f"{name}: {order}", None), *yarns, *([_Item(words, None)] if same else [])]


def _wrapped(items: Sequence[_Item], width: float) -> Iterator[list[_Item]]:
    line: list[_Item] = []
    used = 0.0
    for item in items:
        if line and used + item.width > width:
            yield line
            line, used = [], 0.0
        line.append(item)
        used += item.width + _GAP
    yield line
