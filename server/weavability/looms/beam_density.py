"""Density of the warp wound on a beam, by its kind of yarn."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.sentences import say
from weavability.textiles.thread_systems import SystemFacts, Threads
from weavability.textiles.warp_groups import GroupFacts
from weavability.textiles.yarn_facts import YarnFacts

BEAM_DENSITY: Final = "/loom/warp_beam/density_g_per_cm3"
BEAM_DENSITIES: Final = (BEAM_DENSITY, "/construction/warp/beams/*/density_g_per_cm3")
"""Pointers of the densities that are assumed of a loom, or of groups of ends."""

SPUN_G_PER_CM3: Final = 0.5
"""Spun yarn on a beam, 0.50 to 0.60 g/cm³ [COURSE-MILL-DESIGN]."""

FILAMENT_FILL: Final = 0.57
"""Share of the fibre's density on a beam of filament yarn: 0.79 g/cm³ of polyester; from memory."""

BULKED_FILL: Final = 0.45
"""The same of textured yarn; from memory."""

TAPE_FILL: Final = 0.75
"""The same of tapes, which lie flat on one another without the gaps between round yarns; from
memory. A racetrack fills its width and thickness by 1 - (1 - pi/4) x thickness over width."""

_BAND: Final = ValueBand(0.8, 1.2)
"""The band, as multiples of the density."""


def group_density_g_per_cm3(warp: Threads | SystemFacts, group: GroupFacts) -> float:
    """Return the density of a group of ends on its beam: as stated, else by their kind of yarn.

    Args:
        warp: Yarns and thread order of the warp.
        group: The group.

    Returns:
        g/cm³.
    """
    if group.density_g_per_cm3 is not None:
        return group.density_g_per_cm3
    counts = ends_in_repeat(warp, group.yarns)
    masses = {key: count * warp.yarns[key].linear_density_tex for key, count in counts.items()}
    volume = sum(mass / _density(warp.yarns[key]) for key, mass in masses.items())
    # Rounded to the reported precision, so that stating it changes nothing.
    return round(sum(masses.values()) / volume, 4)


_remembered: Final = lru_cache(maxsize=256)(group_density_g_per_cm3)


def moved_density_g_per_cm3(symbols: ClothSymbols, group: GroupFacts) -> float:
    """Return the density of a group of ends on its beam, or what an assumed one is moved to."""
    of_group = _remembered if symbols.warp.is_remembered else group_density_g_per_cm3
    density = of_group(symbols.warp, group)
    if symbols.moves is None or group.density_g_per_cm3 is not None:
        return density
    pointer = BEAM_DENSITY
    if symbols.construction.warp.beams:
        place = next(at for at, one in enumerate(symbols.groups) if one is group)
        pointer = f"/construction/warp/beams/{place}/density_g_per_cm3"
    return symbols.moves.moved(pointer, density, _band(density), None)


def _band(density: float) -> ValueBand:
    return ValueBand(round(_BAND.low * density, 4), round(_BAND.high * density, 4))


def ends_in_repeat(warp: Threads | SystemFacts, keys: Iterable[str]) -> dict[str, int]:
    """Return the ends of some yarns in a repeat of the order.

    Yarns of a selvedge need not be in the order; without any other they count one each.
    """
    counts = {key: warp.order.counts.get(key, 0) for key in keys}
    return counts if any(counts.values()) else dict.fromkeys(counts, 1)


def _density(yarn: YarnFacts) -> float:
    if yarn.is_tape:
        return TAPE_FILL * yarn.packing_fraction * yarn.fibre_density_g_per_cm3
    if yarn.kind == "spun":
        return SPUN_G_PER_CM3
    fill = BULKED_FILL if yarn.fibre.is_bulked else FILAMENT_FILL
    return fill * yarn.fibre_density_g_per_cm3


def note_beam_densities(cloth: ClothFacts, ledger: Ledger) -> None:
    """Note the density of the wound warp, which no beam states: of the warp, or of each group.

    Args:
        cloth: The cloth.
        ledger: That of the request.
    """
    groups = cloth.symbols.groups
    if not cloth.construction.warp.beams:
        _note(cloth.warp, groups[0], BEAM_DENSITY, ledger)
        return
    for place, group in enumerate(groups):
        if group.density_g_per_cm3 is None:
            pointer = f"/construction/warp/beams/{place}/density_g_per_cm3"
            _note(cloth.warp, group, pointer, ledger)


def _note(warp: SystemFacts, group: GroupFacts, pointer: str, ledger: Ledger) -> None:
    density = group_density_g_per_cm3(warp, group)
    is_spun = {warp.yarns[key].kind for key in group.yarns} == {"spun"}
    ledger.note(
        pointer,
        density,
        unit="g/cm³",
        reason=say(
            "assumption.warp_beam.density_of_spun",
            "spun yarn, 0.50-0.60 usual: [COURSE-MILL-DESIGN]",
        )
        if is_spun
        else say(
            "assumption.warp_beam.density",
            "by the kind of yarn and the density of its fibre: [FROM-MEMORY]",
        ),
        grade=Grade.SOURCE if is_spun else Grade.FROM_MEMORY,
        band=_band(density),
    )
