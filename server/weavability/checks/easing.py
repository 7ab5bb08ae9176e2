"""Which assumed values decide an error, and the end of its band at which each would clear it.

A pointer is that of the field in a request; ``*`` means the key of any yarn. A value that is
stated does not move. The tests move every assumed value alone and hold these tables against it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from weavability.textiles.assumptions import End
from weavability.textiles.cloth_symbols import SELVEDGE_ENDS

Ends = Mapping[str, End]

LOW, HIGH = End.LOW, End.HIGH
NO_MOST, NO_LEAST = End.NO_MOST, End.NO_LEAST

_WARP: Final = "/construction/warp/yarns/*/"
_WEFT: Final = "/construction/weft/yarns/*/"
_FINISHING: Final = "/construction/finishing/"
_INSERTION: Final = "/loom/insertion/"


def _below(prefix: str, ends: Ends) -> Ends:
    return {prefix + name: end for name, end in ends.items()}


def away(*pointers: str) -> Ends:
    """Take greatest limits of a loom away, by their pointers relative to it."""
    return dict.fromkeys((f"/loom/{one}" for one in pointers), NO_MOST)


def no_least(*pointers: str) -> Ends:
    """Take least limits of a loom away, by their pointers relative to it."""
    return dict.fromkeys((f"/loom/{one}" for one in pointers), NO_LEAST)


def at(end: End, names: Iterable[str]) -> Ends:
    """Move values to one end, by their full pointers."""
    return dict.fromkeys(names, end)


_WIDTH: Final = (
    "/construction/weft/crimp_pct",
    _FINISHING + "width_shrinkage_pct",
    "/construction/panel_gap_cm",
)
_IN_DENTS: Final = ("/construction/reed/ends_per_dent", "/construction/selvedge/ends_per_dent")
NARROW: Final = {**at(LOW, _WIDTH), **at(HIGH, _IN_DENTS)}
"""The cloth takes little of the reed."""

WIDE: Final = {**at(HIGH, _WIDTH), **at(LOW, _IN_DENTS)}
"""It takes much of it."""

_LENGTH: Final = (_FINISHING + "length_shrinkage_pct", _FINISHING + "relaxation_pct")
MANY_PICKS: Final = at(LOW, _LENGTH)
"""Many picks per cm on the loom."""

FEW_PICKS: Final = at(HIGH, _LENGTH)
"""Few of them."""

_LIGHT: Final = {"folding_take_up_pct": LOW, "elastane_draft": HIGH}
_HEAVY: Final = {"folding_take_up_pct": HIGH, "elastane_draft": LOW}
LIGHT_WARP: Final = _below(_WARP, _LIGHT)
LIGHT_WEFT: Final = _below(_WEFT, _LIGHT)
HEAVY_WEFT: Final = _below(_WEFT, _HEAVY)

_THIN: Final = {"packing_fraction": HIGH, "fibre_density_g_per_cm3": HIGH, **_LIGHT}
LOOSE_AS_WOVEN: Final = at(
    HIGH, (_FINISHING + "width_shrinkage_pct", _FINISHING + "length_shrinkage_pct")
)
"""The finished cloth is much closer than it was woven."""

ROUGHLY_KNOWN: Final = {
    **LOOSE_AS_WOVEN,
    _WARP + "packing_fraction": End.HIGH_IF_WIDE,
    _WEFT + "packing_fraction": End.HIGH_IF_WIDE,
}
"""The cloth as woven is only guessed, or the diameter of a yarn, as that of chenille is."""

ROOMY: Final = {
    **_below(_WARP, _THIN),
    **_below(_WEFT, _THIN),
    "/construction/weft/crimp_pct": LOW,
    **LOOSE_AS_WOVEN,
    _FINISHING + "relaxation_pct": LOW,
}
"""The threads of the grey cloth are far from one another."""

THIN_WARP: Final = {**_below(_WARP, _THIN), **LOOSE_AS_WOVEN}
"""The ends are far from one another."""

_THICK: Final = {
    "packing_fraction": LOW,
    "fibre_density_g_per_cm3": LOW,
    "folding_take_up_pct": HIGH,
    "elastane_draft": LOW,
}
CLOSE: Final = {
    **_below(_WARP, _THICK),
    **_below(_WEFT, _THICK),
    "/construction/weft/crimp_pct": HIGH,
    **at(LOW, (_FINISHING + "width_shrinkage_pct", _FINISHING + "length_shrinkage_pct")),
}
"""The threads of the grey cloth are near one another."""

SELVEDGES_IN_REED: Final = {SELVEDGE_ENDS: HIGH}
"""Selvedges of which no ends are stated take dents of a stated reed, and bring no healds."""

FEW_SELVEDGE_SHAFTS: Final = {"/construction/selvedge/shafts": LOW}
"""The selvedges leave most shafts to the ground."""

GENTLE: Final = {
    **_below(
        _WEFT,
        {
            "fibre": End.OTHER,
            "tenacity_cn_per_tex": HIGH,
            "strength_cv_pct": LOW,
            "breaking_elongation_pct": HIGH,
            "elastane_draft": HIGH,
        },
    ),
    **_below(
        _INSERTION,
        {
            "base_tension_cn_per_tex": LOW,
            "withdrawal_factor": LOW,
            "friction_coefficient": LOW,
            "wrap_deg": LOW,
            "initial_modulus_times": LOW,
            "free_weft_length_m": LOW,
            "overrun_cm": LOW,
            "transfer_travel_cm": LOW,
            "entry_deg": LOW,
            "exit_deg": HIGH,
            "launch_length_cm": HIGH,
            "stopping_length_cm": HIGH,
        },
    ),
    **NARROW,
}
"""A strong weft, of which insertion asks little."""

STRONG_WARP: Final = {
    **_below(
        _WARP,
        {
            "fibre": End.OTHER,
            "tenacity_cn_per_tex": HIGH,
            "strength_cv_pct": LOW,
            "breaking_elongation_pct": HIGH,
        },
    ),
    "/construction/allowances/size_strength_gain_pct": HIGH,
    "/construction/allowances/size_elongation_loss_pct": LOW,
    "/loom/warp_strain/base_tension_pct": LOW,
    "/loom/warp_strain/shed_half_height_cm": LOW,
    "/loom/warp_strain/easing_pct": HIGH,
}
"""A strong warp, of which the shed asks little."""

SHORT_FLIGHT: Final = {
    **NARROW,
    "/loom/insertion/entry_deg": LOW,
    "/loom/insertion/exit_deg": HIGH,
    "/loom/insertion/overrun_cm": LOW,
}
"""The weft has little width to cross, and much time for it."""

RELEASED: Final = at(
    HIGH,
    (
        "/construction/warp/crimp_pct",
        "/construction/weft/crimp_pct",
        _FINISHING + "width_shrinkage_pct",
        _FINISHING + "length_shrinkage_pct",
    ),
)
"""The cloth shortens much from straight yarn to finished cloth."""

LARGE_BEAM: Final = {
    **away("warp_beam/flange_diameter_cm", "warp_beam/width_cm"),
    "/loom/warp_beam/count": HIGH,
    "/loom/warp_beam/barrel_diameter_cm": LOW,
    "/loom/warp_beam/density_g_per_cm3": HIGH,
    "/construction/warp/beams/*/density_g_per_cm3": HIGH,
    "/construction/allowances/size_pct": LOW,
    "/construction/allowances/loom_waste_m": LOW,
    **LIGHT_WARP,
}
"""The beam holds much of the warp."""
