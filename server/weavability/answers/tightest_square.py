"""Where the threads of a cloth are closest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from weavability.textiles.cloth import ClothFacts
from weavability.textiles.weave_squares import Place


@dataclass(frozen=True, slots=True, kw_only=True)
class TightestSquare:
    """Where the threads of a cloth are closest, counted from the first end and pick of the weave.

    Numbers beyond the repeat go on into the next one.
    """

    first_end: Annotated[int, "First end of the square, from 1"]
    last_end: Annotated[int, "Last end of the square"]
    first_pick: Annotated[int, "First pick of the square, from 1"]
    last_pick: Annotated[int, "Last pick of the square"]


def tightest_square(cloth: ClothFacts) -> TightestSquare | None:
    """Return where a cloth is set closest; ``None`` if it is so everywhere, or in layers."""
    return square_at(cloth.setting.tightest)


def square_at(place: Place | None) -> TightestSquare | None:
    """Return a square as an answer gives it."""
    return None if place is None else TightestSquare(**place._asdict())
