"""Measure figured designs: time, memory, and growth with the crossings.

Run it as a program; it keeps to one core and exits 1 when a limit is missed. Times are CPU time of
the whole answer of ``POST /v1/designs``, and multiples of a baseline from the same run: one NumPy
pass over the same crossings that compares each with its neighbour. Memory is what the process has
at most above what it has when it is idle.
"""

from __future__ import annotations

import base64
import gc
import json
import os
import sys
import time
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1]))

from textiles.pictures import png

from weavability.service import create_app
from weavability.service.openapi.example_requests import DESIGN

WEAVES = ("8-end satin move 3", "8-end sateen move 3", "3/1 twill Z", "2/2 twill Z")
COLOURS = ("#ffffff", "#c80000", "#00c800", "#0000c8")
SIZES = ((126, 85), (400, 268), (1_265, 850), (4_000, 2_688))
LARGEST = (12_000, 12_000)
MOST_SECONDS = 2.0
MOST_MB, MOST_CORRECTED_MB = 350.0, 600.0
MOST_GROWTH = 2.0
"""Most times that a crossing of the largest size may cost of one of the next smaller size."""


def picture(lines: int, columns: int) -> NDArray[np.uint8]:
    """Make a figure of four effects, a strip of lines at a time."""
    pixels = np.empty((lines, columns), dtype=np.uint8)
    x = np.arange(columns)[None, :]
    for first in range(0, lines, 500):
        y = np.arange(first, min(first + 500, lines))[:, None]
        waves = np.sin(x / 40) + np.sin(y / 55) + np.sin((x + y) / 77) + np.cos(x * y / 90_000)
        pixels[first : first + 500] = (waves * 1.2 + 2).clip(0, 3)
    # Every effect occurs, however small the picture is.
    pixels[0, :4] = range(4)
    return pixels


def request(pixels: NDArray[np.uint8], *, correct: bool) -> bytes:
    """Return the body of a request."""
    image = Image.fromarray(pixels, mode="P")
    image.putpalette([int(each[at : at + 2], 16) for each in COLOURS for at in (1, 3, 5)])
    body: dict[str, Any] = deepcopy(DESIGN)
    body["construction"]["weave"]["design"] |= {
        "picture_png": base64.b64encode(png(image)).decode(),
        "effects": {
            colour: {"weave": weave} for colour, weave in zip(COLOURS, WEAVES, strict=True)
        },
        "float_limits": {"warp_mm": 3.2, "weft_mm": 2.6},
        "correct": correct,
    }
    body["loom"]["shedding"] = {"kind": "jacquard", "hooks": LARGEST[1], "ends_per_hook": 1}
    return json.dumps(body).encode()


def memory_mb(name: str) -> float:
    """Return a line of the process's status: ``VmRSS`` now, or ``VmHWM`` at most."""
    lines = Path("/proc/self/status").read_text("utf-8").splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith(name))


def main() -> int:
    """Measure, print and judge."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    client = create_app().test_client()
    client.post("/v1/designs", json=DESIGN)
    print(f"{'design':<26}{'s':>8}{'× baseline':>12}{'ns/crossing':>13}{'MB':>8}{'dots':>8}")
    per_crossing, missed = [], False
    for lines, columns in (*SIZES, LARGEST):
        for correct in (False, True):
            pixels = picture(lines, columns)
            begin = time.process_time()
            np.count_nonzero(pixels[:, 1:] != pixels[:, :-1])
            baseline = max(time.process_time() - begin, 1e-6)
            body = request(pixels, correct=correct)
            del pixels
            gc.collect()
            idle = memory_mb("VmRSS")
            Path("/proc/self/clear_refs").write_text("5", "utf-8")
            begin = time.process_time()
            answer = client.post("/v1/designs", data=body, content_type="application/json")
            taken = time.process_time() - begin
            above = memory_mb("VmHWM") - idle
            each = 1e9 * taken / (lines * columns)
            name = f"{columns} × {lines}{', corrected' if correct else ''}"
            dots = answer.get_json()["correction"]["dots"]
            print(
                f"{name:<26}{taken:>8.2f}{taken / baseline:>12.0f}{each:>13.1f}{above:>8.0f}"
                f"{dots:>8}"
            )
            if correct:
                per_crossing.append(each)
            missed |= (lines, columns) == SIZES[-1] and taken > MOST_SECONDS
            missed |= above > (MOST_CORRECTED_MB if correct else MOST_MB)
    return int(missed or per_crossing[-1] > MOST_GROWTH * per_crossing[-2])


if __name__ == "__main__":
    sys.exit(main())
