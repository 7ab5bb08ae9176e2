"""Figured designs for tests: random pictures of blocks, and weaves for their colours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn
from numpy.typing import NDArray

from weavability.textiles.figured.effect_picture import EffectPicture
from weavability.textiles.figured.figured_design import Design, Effect
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

WEAVES = (
    "8-end satin move 3",
    "8-end sateen move 3",
    "3/1 twill Z",
    "plain",
    "5-end satin move 2",
    "2/2 twill S",
)


def design_of(
    pixels: NDArray[Any],
    weaves: Sequence[Weave | str],
    shifts: Sequence[tuple[int, int]] | None = None,
    **more: Any,
) -> Design:
    """A design whose pixels of value ``k`` weave ``weaves[k]``; other weaves are left out."""
    used = np.unique(pixels).tolist()
    colours = [f"#{value:06x}" for value in used]
    effects = {}
    for colour, value in zip(colours, used, strict=True):
        weave = weaves[value]
        effects[colour] = Effect(
            name=f"effect {value}",
            weave=parse_weave(weave) if isinstance(weave, str) else weave,
            shift=(0, 0) if shifts is None else shifts[value],
        )
    picture = EffectPicture(
        pixels=np.searchsorted(used, pixels).astype(np.uint8), colours=tuple(colours)
    )
    return Design(picture=picture, effects=effects, **more)


@st.composite
def pictures(draw: DrawFn, *, colours: int = 4, least: int = 16, most: int = 48) -> NDArray[Any]:
    """Blocks of one to seven threads in a few colours."""
    lines, columns = draw(st.integers(least, most)), draw(st.integers(least, most))
    across, up = draw(st.integers(1, 7)), draw(st.integers(1, 7))
    source = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    blocks = source.integers(0, colours, (lines // up + 1, columns // across + 1))
    return np.kron(blocks, np.ones((up, across), dtype=np.int64))[:lines, :columns]
