"""Exact unit constants. The pound and the yard are exact by the agreement of 1959."""

from __future__ import annotations

from typing import Final

CM_PER_INCH: Final = 2.54
M_PER_YARD: Final = 0.9144
G_PER_LB: Final = 453.59237
G_PER_GRAIN: Final = G_PER_LB / 7000
CN_PER_N: Final = 100.0
CM_PER_M: Final = 100.0
MINUTES_PER_HOUR: Final = 60.0
TEX_M_PER_G: Final = 1000.0
"""A yarn of 1 tex measures 1000 m a gram."""
