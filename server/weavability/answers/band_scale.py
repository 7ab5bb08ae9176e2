"""The round values of a band at which an assumed value is tried."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from weavability.answers.stated_values import is_whole
from weavability.textiles.assumptions import Assumption, ValueBand

LEAST_STEPS: Final = 50
"""Into so many steps at least a band is divided, each of them a round number; at most ten times as
many."""


class BandScale(NamedTuple):
    """The values of a band that are tried: multiples of a round step, and some between.

    Attributes:
        step: How far apart they are.
        places: Of the decimals of a step.
        is_whole: Whether the field counts.
    """

    step: float
    places: int
    is_whole: bool

    @classmethod
    def of(cls, line: Assumption, band: ValueBand) -> BandScale:
        """Divide a band into round steps; what is counted, into ones."""
        power = math.floor(math.log10((band.high - band.low) / LEAST_STEPS))
        if is_whole(line.pointer):
            return cls(1.0, 0, is_whole=True)
        return cls(10.0**power, max(0, -power), is_whole=False)

    def at(self, multiple: int) -> float:
        """Return a multiple of the step."""
        return round(multiple * self.step, self.places)

    def nearest(self, value: float) -> float:
        """Return the multiple that is nearest to a value."""
        return self.at(round(value / self.step))

    def stated(self, value: float) -> float:
        """Return a value as a request has it."""
        return int(value) if self.is_whole else value
