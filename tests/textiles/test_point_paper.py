"""Point paper as PNG pictures: every kind that is read, and everything that is refused."""

from __future__ import annotations

import base64
import io
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from PIL import Image
from textiles.pictures import png, png_of_weave

from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.point_paper_image import weave_from_base64, weave_from_png
from weavability.textiles.weave_matrix import MAX_SIDE, Weave


def grey(rows: list[list[int]], mode: str = "L") -> bytes:
    return png(Image.fromarray(np.array(rows, dtype=np.uint8)).convert(mode))


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def header(width: int, height: int, *, depth: int = 8, colour: int = 0) -> bytes:
    return b"\x89PNG\r\n\x1a\n" + chunk(
        b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    )


def test_the_bottom_line_is_the_first_pick_and_dark_is_up() -> None:
    # Drawn as seen: the lower line dark at the left.
    weave = weave_from_png(grey([[255, 255, 0], [0, 255, 255]]))
    assert weave.rows == ("100", "001")


@pytest.mark.parametrize("level", [0, 127])
def test_a_grey_below_the_threshold_is_up(level: int) -> None:
    assert weave_from_png(grey([[level]])).rows == ("1",)


@pytest.mark.parametrize("level", [128, 255])
def test_a_grey_at_the_threshold_or_lighter_is_down(level: int) -> None:
    assert weave_from_png(grey([[level]])).rows == ("0",)


def test_the_threshold_can_be_moved() -> None:
    picture = grey([[200, 201]])
    assert weave_from_png(picture, dark_below=201).rows == ("10",)
    with pytest.raises(InputError):
        weave_from_png(picture, dark_below=0)
    with pytest.raises(InputError):
        weave_from_png(picture, dark_below=256)


def test_a_palette_is_read_by_the_luminance_of_its_colours() -> None:
    picture = Image.new("P", (4, 1))
    # Pure green is light (149.7), pure red (76.2) and pure blue (29.1) are dark.
    picture.putpalette([0, 255, 0, 255, 0, 0, 0, 0, 255, 255, 255, 255])
    picture.putdata([0, 1, 2, 3])
    assert weave_from_png(png(picture)).rows == ("0110",)
    assert weave_from_png(png(picture, bits=2)).rows == ("0110",)


def test_transparent_pixels_are_light() -> None:
    picture = Image.new("P", (3, 1))
    picture.putpalette([0, 0, 0, 0, 0, 0, 0, 0, 0])
    picture.putdata([0, 1, 2])
    assert weave_from_png(png(picture, transparency=bytes([0, 127, 128]))).rows == ("001",)
    shades = Image.fromarray(np.array([[0, 7]], dtype=np.uint8))
    assert weave_from_png(png(shades, transparency=0)).rows == ("01",)


def test_one_bit_pictures_are_read() -> None:
    assert weave_from_png(grey([[0, 255], [255, 0]], mode="1")).rows == ("01", "10")


@pytest.mark.parametrize("name", ["plain", "8-end satin move 3", "honeycomb 8", "3/2 hopsack"])
def test_a_weave_drawn_and_read_again_is_the_same(name: str) -> None:
    weave = parse_weave(name)
    picture = png_of_weave(weave)
    assert weave_from_png(picture) == weave
    text = base64.encodebytes(picture).decode("ascii")
    assert weave_from_base64(text) == weave


def test_a_jacquard_design_is_read() -> None:
    rng = np.random.default_rng(3)
    design = Weave(matrix=(rng.random((400, 1000)) < 0.5).astype(np.uint8))
    assert weave_from_png(png_of_weave(design)) == design


@pytest.mark.slow
def test_a_picture_of_many_strips_is_read_in_order() -> None:
    rng = np.random.default_rng(4)
    levels = rng.integers(0, 256, size=(1_500, 2_000), dtype=np.uint8)
    weave = weave_from_png(png(Image.fromarray(levels)))
    assert np.array_equal(weave.matrix, levels[::-1] < 128)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b"", "not a PNG"),
        (b"GIF89a" + b"\0" * 40, "not a PNG"),
        (header(MAX_SIDE + 1, 1), "12001 by 1 pixels"),
        (header(1, MAX_SIDE + 1), "1 by 12001 pixels"),
        (header(0, 5), "0 by 5 pixels"),
        (header(2**31 - 1, 2**31 - 1), "at most"),
        (header(8, 8, colour=2), "grey"),
        (header(8, 8, colour=6), "grey"),
        (header(8, 8, depth=16), "grey"),
        (header(8, 8), "damaged"),
        (header(8, 8) + chunk(b"IDAT", b"not zlib"), "damaged"),
        (header(8, 8) + chunk(b"IDAT", zlib.compress(b"\0" * 9)) + chunk(b"IEND", b""), "damaged"),
        (header(8, 8) + b"\xff" * 40, "damaged"),
    ],
)
def test_other_and_damaged_files_are_refused(body: bytes, says: str) -> None:
    with pytest.raises(InputError) as caught:
        weave_from_png(body)
    assert says in caught.value.faults[0].message


def test_a_picture_of_several_frames_is_refused() -> None:
    """The library would show the first of them without a word."""
    still = Image.fromarray(np.zeros((8, 8), dtype=np.uint8))
    file = io.BytesIO()
    moving = [Image.fromarray(np.full((8, 8), 255, dtype=np.uint8))]
    still.save(file, format="PNG", save_all=True, append_images=moving)
    with pytest.raises(InputError, match="one frame can be woven"):
        weave_from_png(file.getvalue())


def test_every_truncation_of_a_picture_is_refused() -> None:
    whole = grey([[0, 255] * 8, [255, 0] * 8])
    for length in range(len(whole)):
        with pytest.raises(InputError):
            weave_from_png(whole[:length])


@pytest.mark.parametrize("pixels", [8 * 8 - 1, 8 * 8 + 1])
def test_a_picture_with_missing_or_surplus_pixels_is_refused(pixels: int) -> None:
    lines = zlib.compress(b"\0" * (8 + pixels))
    with pytest.raises(InputError, match="damaged"):
        weave_from_png(header(8, 8) + chunk(b"IDAT", lines) + chunk(b"IEND", b""))


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
@pytest.mark.parametrize(("width", "height"), [(1, 1), (3, 2), (9, 17)])
def test_every_depth_is_read_whole(depth: int, width: int, height: int) -> None:
    lines = (b"\0" + b"\xff" * ((width * depth + 7) // 8)) * height
    picture = chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")
    weave = weave_from_png(header(width, height, depth=depth) + picture)
    assert weave.matrix.shape == (height, width)
    assert not weave.matrix.any()


def test_an_interlaced_picture_is_read() -> None:
    # A 2 by 2 picture has its pixels in passes 1, 6 and 7.
    body = struct.pack(">IIBBBBB", 2, 2, 8, 0, 0, 0, 1)
    lines = b"\0\x00" + b"\0\xff" + b"\0\xff\x00"
    picture = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", body)
    picture += chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")
    assert weave_from_png(picture).rows == ("01", "10")


# Start and step of the columns, and of the rows, of each pass: the PNG specification, "Adam7".
ADAM7 = (
    *((0, 8, 0, 8), (4, 8, 0, 8), (0, 4, 4, 8), (2, 4, 0, 4)),
    *((0, 2, 2, 4), (1, 2, 0, 2), (0, 1, 1, 2)),
)


@pytest.mark.parametrize("side", range(1, 18))
def test_an_interlaced_picture_of_any_size_is_read(side: int) -> None:
    size = side, 18 - side
    pixels = np.random.default_rng(side).integers(0, 2, size, dtype=np.uint8)
    lines = b"".join(
        b"\0" + line.tobytes()
        for column, across, row, down in ADAM7
        for line in 255 * (1 - pixels[row::down, column::across])
        if line.size
    )
    body = struct.pack(">IIBBBBB", size[1], size[0], 8, 0, 0, 0, 1)
    picture = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", body)
    picture += chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")
    assert np.array_equal(weave_from_png(picture).matrix, pixels[::-1])


@pytest.mark.slow
def test_a_refused_picture_is_not_unpacked() -> None:
    # 200 million pixels in 200 kB: the header alone must stop it.
    bomb = header(20_000, 10_000) + chunk(b"IDAT", zlib.compress(b"\0" * 200_000_000, 1))
    tracemalloc.start()
    try:
        with pytest.raises(InputError):
            weave_from_png(bomb)
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()


@pytest.mark.slow
def test_a_small_header_over_endless_pixels_is_refused_at_once() -> None:
    surplus = chunk(b"IDAT", zlib.compress(b"\0" * 300_000_000, 1)) + chunk(b"IEND", b"")
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="damaged"):
            weave_from_png(header(8, 8) + surplus)
        assert tracemalloc.get_traced_memory()[1] < 10_000_000
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("text", ["", "%%%", "iVBORw0KGgo", "ü", "AAAA"])
def test_text_that_is_no_picture_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        weave_from_base64(text)
