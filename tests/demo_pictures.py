"""The pictures of the demo's figured orders, drawn by formulas: a rosette for damask, a sprig.

Run it as a program to print them in base64, as the order book holds them.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from textiles.pictures import png


def rosette(side: int = 96) -> NDArray[np.uint8]:
    """A rose of eight petals, and a quarter of one in each corner, so that repeats join."""
    y, x = np.mgrid[:side, :side]
    found = np.zeros((side, side), dtype=np.uint8)
    for middle_x, middle_y, size in ((side / 2, side / 2, 0.4), (0, 0, 0.26)):
        across = (x - middle_x + side / 2) % side - side / 2 + 0.5
        up = (y - middle_y + side / 2) % side - side / 2 + 0.5
        radius, angle = np.hypot(across, up) / (size * side), np.arctan2(up, across)
        petals = radius < 0.72 + 0.28 * np.cos(8 * angle)
        found |= (petals & (radius > 0.3)) | (radius < 0.18)
    return found


def sprig(side: int = 120) -> NDArray[np.uint8]:
    """A stem with four leaves and a flower, twice in the repeat, set half a step apart."""
    y, x = np.mgrid[:side, :side]
    found = np.zeros((side, side), dtype=np.uint8)
    for middle_x, middle_y in ((side / 4, side / 4), (3 * side / 4, 3 * side / 4)):
        across = (x - middle_x + side / 2) % side - side / 2 + 0.5
        up = (y - middle_y + side / 2) % side - side / 2 + 0.5
        stem = (abs(across) < 1.6) & (abs(up) < 22)
        flower = np.hypot(across, up - 18) < 7
        for turn, height in ((0.7, -12), (-0.7, -12), (0.7, 0), (-0.7, 0)):
            along = across * np.cos(turn) * np.sign(turn) + (up - height) * abs(np.sin(turn))
            beside = (up - height) * np.cos(turn) - across * np.sin(turn)
            found |= (((along - 9) / 9) ** 2 + (beside / 3.2) ** 2 < 1).astype(np.uint8)
        found |= (stem | flower).astype(np.uint8)
    return found


def in_base64(pixels: NDArray[Any], *colours: str) -> str:
    """Return a picture as a PNG file in base64, the first line at the bottom."""
    image = Image.fromarray(pixels[::-1], mode="P")
    image.putpalette([int(each[at : at + 2], 16) for each in colours for at in (1, 3, 5)])
    return base64.b64encode(png(image, bits=1, optimize=True)).decode()


PICTURES: dict[str, Callable[[], str]] = {
    "D-105": lambda: in_base64(rosette(), "#fbfaf5", "#e4dfd0"),
    "D-123": lambda: in_base64(sprig(), "#5d1f3c", "#c9a96a"),
}

if __name__ == "__main__":
    for reference, made in PICTURES.items():
        print(reference, made())
