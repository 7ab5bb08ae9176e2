"""Point paper as a picture: one pixel a crossing, dark where the warp end is raised.

The bottom line of the picture is the first pick, its left column the first end, as on ruled paper.
"""

from __future__ import annotations

import base64
import binascii
import io
import struct
import zlib
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, PngImagePlugin

from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import MAX_SIDE, Weave, about_to_make

DARK_BELOW: Final = 128
"""A pixel is dark when its luminance (0.299 R + 0.587 G + 0.114 B, 0 to 255) is below this."""

_SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
_HEADER: Final = struct.Struct(">8sI4sIIBBBBB")
_CHUNK: Final = struct.Struct(">I4s")
# First column and row, then step across and down, of the passes of an interlaced picture.
_PASSES: Final = (
    (0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4),
    (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2),
)  # fmt: skip
_INFLATE_BYTES: Final = 1 << 20
_STRIP_PIXELS: Final = 1 << 20
_GREY, _PALETTE = 0, 3
_KINDS: Final = {
    0: "grey",
    2: "true colours",
    4: "grey with transparency",
    6: "true colours with transparency",
}
_LUMINANCE: Final = np.array([299, 587, 114])


def weave_from_base64(text: str, *, dark_below: int = DARK_BELOW) -> Weave:
    """Read a weave from a PNG picture in base64.

    Args:
        text: The picture in standard base64, white space allowed.
        dark_below: See ``weave_from_png``.

    Raises:
        InputError: When the text is not base64, or as ``weave_from_png``.
    """
    return weave_from_png(png_of_base64(text), dark_below=dark_below)


def png_of_base64(text: str) -> bytes:
    """Return the bytes of a file that is written in standard base64, white space allowed.

    Raises:
        InputError: The text is not base64.
    """
    try:
        return base64.b64decode("".join(text.split()), validate=True)
    except (binascii.Error, ValueError) as error:
        message = say(
            "fault.weave_image.not_base64",
            "The picture is not base64: encode the bytes of a PNG file.",
        )
        raise InputError.of("", message, given=text[:40], allowed="iVBORw0KGgo...") from error


def weave_from_png(png: bytes, *, dark_below: int = DARK_BELOW) -> Weave:
    """Read a weave from a PNG picture of point paper, one pixel a crossing.

    Args:
        png: The bytes of the file: grey of 1 to 8 bits, or palette; at most ``MAX_SIDE`` pixels
            either side. Size and kind are read from the header before anything is unpacked.
        dark_below: A pixel means "warp end raised" when its luminance is below this, 1 to 255.
            Pixels that are more than half transparent are light.

    Raises:
        InputError: When the file is no such picture, is too large or is damaged.
    """
    if not 1 <= dark_below <= 255:
        message = say(
            "fault.weave_image.threshold", "The threshold between dark and light is 1 to 255."
        )
        raise InputError.of("", message, given=dark_below, allowed="1 to 255")
    image = open_png(png)
    return Weave(matrix=looked_up(image, _dark_of_values(image, dark_below)))


def has_more_than_dark_and_light(text: str) -> bool:
    """Return whether a picture in base64 has more colours or greys than point paper needs.

    Raises:
        InputError: As :func:`weave_from_base64`.
    """
    return open_png(png_of_base64(text)).getcolors(2) is None


def open_png(png: bytes, *, indexed: bool = False) -> Image.Image:
    """Unpack a PNG picture of grey or palette, after its size, kind and length are checked.

    Args:
        png: The bytes of the file.
        indexed: Whether it must have a palette.

    Raises:
        InputError: When the file is no such picture, is too large or is damaged.
    """
    _check_header(png, kinds=(_PALETTE,) if indexed else (_GREY, _PALETTE))
    _check_still(png)
    if indexed:
        palette_of(png)
    try:
        _check_whole(png)
        image = PngImagePlugin.PngImageFile(io.BytesIO(png))
        image.load()
    except (OSError, SyntaxError, ValueError, EOFError, struct.error, zlib.error) as error:
        message = say(
            "fault.weave_image.damaged",
            "The PNG picture is damaged: save it again and send it whole.",
        )
        raise InputError.of("", message) from error
    return image


def _check_header(png: bytes, *, kinds: tuple[int, ...]) -> None:
    """Refuse by the header alone what must not be unpacked."""
    if len(png) < _HEADER.size or not png.startswith(_SIGNATURE) or png[12:16] != b"IHDR":
        message = say("fault.weave_image.not_png", "This is not a PNG picture.")
        grey = ", grey or" if _GREY in kinds else ""
        raise InputError.of("", message, allowed=f"a PNG file{grey} with a palette")
    _, _, _, width, height, depth, colour, *_ = _HEADER.unpack_from(png)
    if not (1 <= width <= MAX_SIDE and 1 <= height <= MAX_SIDE):
        message = say(
            "fault.weave_image.too_large",
            "The picture is {width_px} by {height_px} pixels; {most_px} by {most_px} at most.",
            width_px=width,
            height_px=height,
            most_px=MAX_SIDE,
        )
        raise InputError.of("", message, given=[width, height], allowed=[MAX_SIDE, MAX_SIDE])
    if colour not in kinds or depth > 8:
        message = (
            say(
                "fault.weave_image.no_grey_or_palette",
                "Save the picture as grey (1 to 8 bits) or with a palette (indexed colours, 256 at "
                "most).",
            )
            if _GREY in kinds
            else say(
                "fault.weave_image.not_with_palette",
                "Save the picture with a palette (indexed colours, 256 at most).",
            )
        )
        kind = _KINDS.get(colour, f"colour type {colour}")
        raise InputError.of("", message, given=f"{kind}, {depth} bits")
    about_to_make(ends=width, picks=height)


def _check_still(png: bytes) -> None:
    """Refuse a picture of several frames, of which the library would show the first."""
    try:
        is_animated = next(_bodies_of(png, b"acTL"), None) is not None
    except (ValueError, struct.error):
        return  # It is damaged, as is said later.
    if is_animated:
        message = say(
            "fault.weave_image.animated",
            "The picture is animated, and one frame can be woven. Save that frame alone.",
        )
        raise InputError.of("", message, given="several frames", allowed="one frame")


def palette_of(png: bytes) -> list[str]:
    """Return the colours of the palette as ``#rrggbb``, from the first value on.

    Args:
        png: The bytes of a file whose header says that it has a palette.

    Raises:
        InputError: It has none, or one of more colours than its bits allow.
    """
    depth = _HEADER.unpack_from(png)[5]
    try:
        body = next(_bodies_of(png, b"PLTE"), b"")
    except (ValueError, struct.error):
        body = b""
    colours = [f"#{body[first : first + 3].hex()}" for first in range(0, len(body) - 2, 3)]
    if not colours:
        message = say(
            "fault.weave_image.no_palette",
            "The picture says that it has a palette, and has none. Save it again with it.",
        )
        raise InputError.of("", message, given=0, allowed=f"1 to {2**depth} colours")
    if len(body) % 3:
        message = say(
            "fault.weave_image.palette_cut",
            "The palette has {bytes} bytes, which are no whole colours of three. Save the picture "
            "again.",
            bytes=len(body),
        )
        raise InputError.of("", message, given=len(body), allowed="three bytes for each colour")
    if len(colours) > 2**depth:
        message = say(
            "fault.weave_image.palette_size",
            "The palette has {colours} colours; {depth_bits}-bit pixels allow "
            "{most_colours}. Save the picture again with its own palette.",
            colours=len(colours),
            depth_bits=depth,
            most_colours=2**depth,
        )
        raise InputError.of("", message, given=len(colours), allowed=f"1 to {2**depth} colours")
    return colours


def _check_whole(png: bytes) -> None:
    """Refuse a picture that lacks pixels: the library would fill them in without a word."""
    inflater, missing = zlib.decompressobj(), _filtered_bytes(png)
    for body in _bodies_of(png, b"IDAT"):
        pending = body
        # Stops at the first surplus byte, so that a small file cannot inflate without end.
        while pending and missing >= 0:
            missing -= len(inflater.decompress(pending, _INFLATE_BYTES))
            pending = inflater.unconsumed_tail
    if missing or not inflater.eof:
        raise ValueError("the picture has too few or too many pixels")


def _bodies_of(png: bytes, kind: bytes) -> Iterator[bytes]:
    """Yield the bodies of the chunks of one kind; raise when the end mark is missing."""
    place, name = len(_SIGNATURE), b""
    while name != b"IEND":
        length, name = _CHUNK.unpack_from(png, place)
        begin = place + _CHUNK.size
        place = begin + length + 4
        if place > len(png):
            raise ValueError("the picture ends within a chunk")
        if name == kind:
            yield png[begin : begin + length]


def _filtered_bytes(png: bytes) -> int:
    """Return the bytes that the unpacked lines take, each with its filter byte."""
    _, _, _, width, height, depth, _, _, _, interlaced = _HEADER.unpack_from(png)
    passes = _PASSES if interlaced else ((0, 0, 1, 1),)
    total = 0
    for left, top, across, down in passes:
        columns, lines = -((left - width) // across), -((top - height) // down)
        if columns > 0 and lines > 0:
            total += lines * (1 + (columns * depth + 7) // 8)
    return total


def looked_up(image: Image.Image, table: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Look the value of every pixel up in a table, the lowest line first.

    It is done in strips, to save memory; the result is read-only.
    """
    width, height = image.size
    found = np.empty((height, width), dtype=np.uint8)
    lines = max(1, _STRIP_PIXELS // width)
    for top in range(0, height, lines):
        bottom = min(top + lines, height)
        strip = np.asarray(image.crop((0, top, width, bottom)), dtype=np.uint8)
        found[height - bottom : height - top] = table[strip[::-1]]
    found.setflags(write=False)
    return found


def _dark_of_values(image: Image.Image, dark_below: int) -> NDArray[np.uint8]:
    """Return for every pixel value, 0 to 255, whether it is dark."""
    if image.mode == "P":
        # A picture may use more values than its palette has colours: those are black, as shown.
        palette = np.zeros(768, dtype=np.int64)
        colours = (image.getpalette("RGB") or [])[:768]
        palette[: len(colours)] = colours
        luminance = palette.reshape(256, 3) @ _LUMINANCE // 1000
    elif image.mode == "1":
        luminance = np.where(np.arange(256) > 0, 255, 0)
    else:
        luminance = np.arange(256)
    dark = luminance < dark_below
    dark[_transparent_values(image)] = False
    return np.array(dark, dtype=np.uint8)


def _transparent_values(image: Image.Image) -> list[int]:
    """Return the pixel values that are more than half transparent."""
    clear = image.info.get("transparency")
    if isinstance(clear, bytes):
        return [value for value, alpha in enumerate(clear[:256]) if alpha < 128]
    return [clear] if isinstance(clear, int) and 0 <= clear <= 255 else []
