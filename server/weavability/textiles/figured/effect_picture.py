"""The picture of a figured design: one pixel a hook and line, and a colour for every effect.

The bottom line of the picture is the first line of the design, its left column the first hook.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from PIL import Image

from weavability.textiles.errors import InputError
from weavability.textiles.point_paper_image import looked_up, open_png, palette_of
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Matrix

MOST_COLOURS: Final = 64
"""Most colours that a picture may use; ours, no source."""

_VALUES: Final = 256


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EffectPicture:
    """A picture of a design.

    Attributes:
        pixels: ``uint8`` array of shape (lines, columns), the number of the colour; read-only.
        colours: By that number, as ``#rrggbb``, in ascending order.
    """

    pixels: Matrix
    colours: tuple[str, ...]

    @property
    def lines(self) -> int:
        """Lines of the design."""
        return int(self.pixels.shape[0])

    @property
    def columns(self) -> int:
        """Hooks, or ends, that the picture covers."""
        return int(self.pixels.shape[1])

    def cut_to(self, *, columns: int, lines: int) -> EffectPicture:
        """Return the first columns and lines."""
        cut = np.ascontiguousarray(self.pixels[:lines, :columns])
        return EffectPicture(pixels=cut, colours=self.colours).without_unused()

    def without_unused(self) -> EffectPicture:
        """Return the picture without colours that no pixel has."""
        used = np.unique(self.pixels)
        if len(used) == len(self.colours):
            return self
        table = np.zeros(len(self.colours), dtype=np.uint8)
        table[used] = np.arange(len(used), dtype=np.uint8)
        return EffectPicture(
            pixels=table[self.pixels], colours=tuple(self.colours[value] for value in used)
        )


def read_effect_picture(png: bytes) -> EffectPicture:
    """Read the picture of a design from a PNG file with a palette.

    Colours count by their red, green and blue.

    Args:
        png: The bytes of the file, of 1 to 8 bits; at most 12 000 pixels either side. Size and kind
            are read from the header before anything is unpacked.

    Raises:
        InputError: When the file is no such picture, is damaged, uses more than ``MOST_COLOURS``
            colours or one colour under two values, or has pixels beyond its palette.
    """
    image = open_png(png, indexed=True)
    used = _values_in_use(image)
    colour_of = palette_of(png)
    beyond = [value for value in used if value >= len(colour_of)]
    if beyond:
        message = say(
            "fault.design.pixels_beyond_palette",
            "The picture has pixels of value {value}; its palette ends at "
            "{last_value}. Save it again with its whole palette.",
            value=beyond[0],
            last_value=len(colour_of) - 1,
        )
        raise InputError.of("", message, given=beyond[0], allowed=f"0 to {len(colour_of) - 1}")
    value_of: dict[str, int] = {}
    for value in used:
        first = value_of.setdefault(colour_of[value], value)
        if first != value:
            message = say(
                "fault.design.colour_twice",
                "The picture uses {colour} under the values {first_value} and "
                "{second_value} of its palette, which no effect could separate. "
                "Give each its own colour.",
                colour=colour_of[value],
                first_value=first,
                second_value=value,
            )
            raise InputError.of("", message, given=[first, value], allowed="a colour for each")
    colours = tuple(sorted(value_of))
    if len(colours) > MOST_COLOURS:
        message = say(
            "fault.design.too_many_colours",
            "The picture uses {colours} colours; {most_colours} at most. Reduce it "
            "to the colours of the effects, without smoothed edges.",
            colours=len(colours),
            most_colours=MOST_COLOURS,
        )
        raise InputError.of("", message, given=len(colours), allowed=f"1 to {MOST_COLOURS}")
    table = np.zeros(_VALUES, dtype=np.uint8)
    for value in used:
        table[value] = colours.index(colour_of[value])
    return EffectPicture(pixels=looked_up(image, table), colours=colours)


def _values_in_use(image: Image.Image) -> list[int]:
    counted = image.getcolors(_VALUES) or []
    return sorted(value for _, value in counted if isinstance(value, int))
