"""Bounds of every number of a cloth: what a request may state and what the core takes.

The request schemas, the guards of the core and the remedies read the same table, so that nothing
is accepted that cannot be computed and nothing is proposed that would be refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from types import MappingProxyType
from typing import Final

from weavability.textiles.units import CM_PER_INCH, M_PER_YARD

_SIGNIFICANT_DIGITS: Final = 4
INCH_UNITS: Final[Mapping[str, tuple[str, float]]] = MappingProxyType(
    {
        "cm": ("in", 1 / CM_PER_INCH),
        "m": ("yd", 1 / M_PER_YARD),
        "ends/cm": ("ends/in", CM_PER_INCH),
        "picks/cm": ("picks/in", CM_PER_INCH),
    }
)
"""By metric unit that of the inch form, and how many of it are one metric unit."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """A closed range of values.

    Attributes:
        least: Least value.
        most: Greatest value.
        unit: Unit of both, as it is written in messages; empty for a plain number.
        or_zero: Whether 0 is a value as well, although the least is above it.
    """

    least: float
    most: float
    unit: str = ""
    or_zero: bool = False

    def __contains__(self, value: float) -> bool:
        """Return whether ``value`` lies in the range; NaN does not."""
        return self.least <= value <= self.most or (self.or_zero and value == 0)

    def cut(self, low: float, high: float) -> tuple[float, float]:
        """Return the part of a band that may be stated in the field.

        >>> Bounds(0.1, 1).cut(0.0975, 0.2025)
        (0.1, 0.2025)
        """
        return low if low in self else max(low, self.least), min(high, self.most)

    def in_inches(self) -> Bounds:
        """Return the same range for the inch or yard form of the field.

        Both ends are rounded inwards to 4 significant digits: a value within them is within the
        metric range as well.

        >>> Bounds(1, 100, "cm").in_inches()
        Bounds(least=0.3938, most=39.37, unit='in', or_zero=False)
        """
        unit, factor = INCH_UNITS[self.unit]
        return Bounds(
            _rounded(self.least * factor, ROUND_CEILING),
            _rounded(self.most * factor, ROUND_FLOOR),
            unit,
        )


def _rounded(value: float, rounding: str) -> float:
    # Ten digits first: 500 * 2.54 is 1270, not the nearest float below it.
    exact = Decimal(f"{value:.10g}")
    place = Decimal(1).scaleb(exact.adjusted() - _SIGNIFICANT_DIGITS + 1)
    return float(exact.quantize(place, rounding=rounding)) if exact else 0.0


ENDS_PER_CM: Final = Bounds(0.5, 500, "ends/cm")
PICKS_PER_CM: Final = Bounds(0.5, 500, "picks/cm")
WIDTH_CM: Final = Bounds(1, 3_556, "cm")
"""Width of a cloth or of a reed; the greatest is 1 400 in."""

SPEED_PICKS_PER_MIN: Final = Bounds(1, 10_000, "picks/min")
DENTS_PER_10CM: Final = Bounds(5, 1_000, "dents/10 cm")
SHAFT: Final = Bounds(1, 64)
"""Number of a shaft, counted from 1."""

MOST_YARNS: Final = 64
"""Most yarns of a warp, and of a weft."""

LONGEST_YARN_KEY: Final = 32
YARN_KEY: Final = re.compile(rf"[A-Za-z][A-Za-z0-9_]{{0,{LONGEST_YARN_KEY - 1}}}", re.ASCII)
"""Key of a yarn in the thread order."""

MOST_WARP_GROUPS: Final = 16
"""Most groups of ends with a beam of their own."""

LONGEST_DRAFT: Final = 20_000
"""Most ends of a draft that is stated shaft by shaft; one drawn to a width may be longer."""

FLOAT_MM: Final = Bounds(0.1, 1_000, "mm")
"""Longest float that a design may have."""

DESIGNED_CM: Final = Bounds(0.01, 100_000, "cm")
"""Width and height for which a design was drawn."""

LENGTH_M: Final = Bounds(0.001, 100_000_000, "m")
"""Length of an order."""

REQUIRED_UNITS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "mass_g_per_m2": "g/m²",
        "mass_g_per_m": "g/m",
        "finished_width_cm": "cm",
        "ends_per_cm": "ends/cm",
        "picks_per_cm": "picks/cm",
        "thickness_mm": "mm",
        "open_area_pct": "%",
        "cover_factor": "threads/cm × √tex ÷ 10",
        "fibre_pct": "%",
    }
)
"""Unit of each figure of the finished cloth that a customer may require."""

_REQUIRED_MOST: Final = MappingProxyType({"%": 100})
"""The greatest figure that may be required, by its unit; of others there is no share."""

_CRIMP_PCT: Final = Bounds(0, 300, "%")
CONTRACTION_PCT: Final = Bounds(0, 75, "%")
"""The same range as that of the crimp: a contraction of 100 % would leave no cloth."""

_LOSS_PCT: Final = Bounds(-50, 80, "%")
_WASTE_PCT: Final = Bounds(0, 100, "%")
_ENDS_PER_DENT: Final = Bounds(1, 24, "ends")

YARN_BOUNDS: Final[Mapping[str, Bounds]] = MappingProxyType(
    {
        "linear_density_tex": Bounds(0.1, 100_000, "tex"),
        "fibre_density_g_per_cm3": Bounds(0.5, 20, "g/cm³"),
        "packing_fraction": Bounds(0.1, 1),
        "diameter_mm": Bounds(0.005, 20, "mm"),
        "tenacity_cn_per_tex": Bounds(0.1, 1_000, "cN/tex"),
        "strength_cv_pct": Bounds(0, 50, "%"),
        "breaking_elongation_pct": Bounds(0.1, 1_500, "%"),
        "folding_take_up_pct": Bounds(0, 25, "%"),
        "crimp_pct": _CRIMP_PCT,
        "contraction_pct": CONTRACTION_PCT,
        "sample_length_m": Bounds(0.01, 1_000_000, "m"),
        "sample_length_yd": Bounds(0.01, 1_000_000, "yd"),
        "sample_mass_g": Bounds(0.0001, 1_000_000, "g"),
        "sample_mass_grains": Bounds(0.001, 10_000_000, "grains"),
        "twist_per_m": Bounds(0, 10_000, "turns/m"),
        "elastane_draft": Bounds(1, 8),
        "tape_width_mm": Bounds(0.05, 100, "mm"),
        "tape_thickness_mm": Bounds(0.005, 10, "mm"),
        "flattening_ratio": Bounds(1, 100),
    }
)
"""By name of the field of a yarn."""

CONSTRUCTION_BOUNDS: Final[Mapping[str, Bounds]] = MappingProxyType(
    {
        "/warp/ends_per_cm": ENDS_PER_CM,
        "/warp/crimp_pct": _CRIMP_PCT,
        "/warp/contraction_pct": CONTRACTION_PCT,
        "/warp/beams/pile_ratio": Bounds(1, 30, "m/m"),
        "/warp/beams/density_g_per_cm3": Bounds(0.05, 10, "g/cm³"),
        "/weft/picks_per_cm": PICKS_PER_CM,
        "/weft/crimp_pct": _CRIMP_PCT,
        "/weft/contraction_pct": CONTRACTION_PCT,
        "/width_cm": WIDTH_CM,
        "/thickness_mm": Bounds(0.01, 100, "mm"),
        "/selvedge/ends_per_side": Bounds(0, 2_000, "ends"),
        "/selvedge/ends_per_dent": _ENDS_PER_DENT,
        # What is assumed for a selvedge weave of many unlike ends can be stated.
        "/selvedge/shafts": Bounds(0, SHAFT.most, "shafts"),
        "/selvedge/leno_ends_per_side": Bounds(0, 24, "ends"),
        "/selvedge/catch_cord_ends": Bounds(0, 200, "ends"),
        "/panels": Bounds(1, 100),
        "/panel_gap_cm": Bounds(0, 100, "cm"),
        "/length_m": LENGTH_M,
        "/order/pieces": Bounds(1, 1_000_000, "pieces"),
        "/order/piece_length_m": Bounds(0.001, 100_000, "m"),
        "/order/overage_pct": Bounds(0, 200, "%"),
        "/order/rejects_pct": Bounds(0, 80, "%"),
        "/reed/dents_per_10cm": DENTS_PER_10CM,
        "/reed/count": Bounds(0.1, 2_000, "as its system counts"),
        "/reed/ends_per_dent": _ENDS_PER_DENT,
        "/reed/ends_in_dents": Bounds(0, 24, "ends"),
        "/reed/wire_share_pct": Bounds(5, 90, "%"),
        "/draft/threading": SHAFT,
        "/finishing/width_shrinkage_pct": _LOSS_PCT,
        "/finishing/length_shrinkage_pct": _LOSS_PCT,
        "/finishing/relaxation_pct": _LOSS_PCT,
        "/finishing/mass_change_pct": Bounds(-80, 500, "%"),
        "/allowances/warp_waste_pct": _WASTE_PCT,
        "/allowances/weft_waste_pct": _WASTE_PCT,
        "/allowances/size_pct": _WASTE_PCT,
        "/allowances/loom_waste_m": Bounds(0, 1_000, "m"),
        "/allowances/size_strength_gain_pct": Bounds(0, 100, "%"),
        "/allowances/size_elongation_loss_pct": Bounds(0, 80, "%"),
        "/requested_speed_picks_per_min": SPEED_PICKS_PER_MIN,
        **{
            f"/requirements/{figure}/{limit}": Bounds(0, _REQUIRED_MOST.get(unit, 1_000_000), unit)
            for figure, unit in REQUIRED_UNITS.items()
            for limit in ("min", "max", "nominal")
        },
        **{
            f"/requirements/{figure}/tolerance_pct": Bounds(0, 100, "%")
            for figure in REQUIRED_UNITS
        },
    }
)
"""By JSON Pointer relative to the construction, in metric form; of a list, those of its items."""
