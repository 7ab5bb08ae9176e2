"""The figures of a finished cloth that a customer may require; of one cloth or of columns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, TypeAlias

from weavability.textiles.cloth import EstimatedCrimps, finished_state, grey_state
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.construction import Stage
from weavability.textiles.crimp import Crimps
from weavability.textiles.fibres import Fibre, content_pct
from weavability.textiles.geometry import cloth_cover_factor, cover_factor, open_area_pct
from weavability.textiles.numbers import N
from weavability.textiles.thread_systems import Threads, crimps_by_yarn, mass_crimp_pct
from weavability.textiles.warp_groups import pile_ratio_of

YarnPlace: TypeAlias = tuple[str, str]
"""``warp`` or ``weft``, and the key of a yarn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedCloth(Generic[N]):
    """A finished cloth; masses by yarn are of cloth of one size.

    Attributes:
        mass_g_per_m: Of the ordered width, without selvedge ends.
        finished_width_cm: The ordered width.
        selvedge_end_g_per_m: Mass of one selvedge end.
        weft_g_per_m: Of the ordered width.
        grey: The grey cloth.
    """

    mass_g_per_m2: N
    mass_g_per_m: N
    finished_width_cm: N
    ends_per_cm: N
    picks_per_cm: N
    thickness_mm: N
    open_area_pct: N
    cover_factor: N
    selvedge_end_g_per_m: N
    weft_g_per_m: N
    masses: Mapping[YarnPlace, N]
    fibres: Mapping[YarnPlace, Fibre]
    grey: ClothNumbers[N]

    def figure(self, name: str) -> N:
        """Return one of its figures but a share of a fibre, by name."""
        found: N = getattr(self, name)
        return found

    def share_pct(self, fibre: str) -> N:
        """Return the share of a fibre in the mass of the yarn."""
        nothing: N = 0 * self.mass_g_per_m2
        of_fibre = (mass * content_pct(self.fibres[at], fibre) for at, mass in self.masses.items())
        return sum(of_fibre, nothing) / sum(self.masses.values(), nothing)


def finished_cloth(
    symbols: ClothSymbols,
    numbers: ClothNumbers[N],
    estimated: EstimatedCrimps[N],
    thickness_mm: float,
) -> FinishedCloth[N]:
    """Return the figures of a cloth when it is finished.

    Args:
        symbols: What the order says.
        numbers: The grey cloth.
        estimated: Crimps of the threads that state none.
        thickness_mm: Of the grey cloth; the finished is taken to be as thick.
    """
    warp, weft = symbols.warp, symbols.weft
    of_warp = crimps_by_yarn(warp, estimated.warp_pct, pile_ratio_of(symbols.groups))
    of_weft = crimps_by_yarn(weft, dict.fromkeys(weft.yarns, estimated.weft_pct))
    by_mass = Crimps(
        mass_crimp_pct(warp, numbers.warp_crimp_pct, of_warp),
        mass_crimp_pct(weft, numbers.weft_crimp_pct, of_weft),
    )
    finished = finished_state(symbols, grey_state(symbols, numbers, by_mass))
    ends_per_cm, picks_per_cm = finished.ends_per_cm, finished.picks_per_cm
    area, edge, kept = _like_area(symbols), symbols.selvedge, symbols.shrinkages
    end_g_per_m = (
        edge.yarn.linear_density_tex / 1000 * (1 + of_warp[edge.yarn_key] / 100) * kept.mass_kept
    ) / kept.length_kept
    weft_g_per_m = (
        (numbers.picks_per_cm * weft.linear_density_tex / 1000 * (1 + by_mass.weft_crimp_pct / 100))
        * numbers.grey_width_cm
        * kept.mass_kept
        / kept.length_kept
    )
    return FinishedCloth(
        mass_g_per_m2=finished.mass_g_per_m2,
        mass_g_per_m=finished.mass_g_per_m2 * finished.width_cm / 100,
        finished_width_cm=finished.width_cm,
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        thickness_mm=thickness_mm + 0 * ends_per_cm,
        open_area_pct=open_area_pct(
            ends_per_cm=ends_per_cm,
            picks_per_cm=picks_per_cm,
            warp_width_mm=warp.width_mm,
            weft_width_mm=weft.width_mm,
        ),
        cover_factor=cloth_cover_factor(
            warp=cover_factor(
                threads_per_cm=ends_per_cm, linear_density_tex=warp.linear_density_tex
            ),
            weft=cover_factor(
                threads_per_cm=picks_per_cm, linear_density_tex=weft.linear_density_tex
            ),
        ),
        selvedge_end_g_per_m=end_g_per_m + 0 * ends_per_cm,
        weft_g_per_m=weft_g_per_m,
        masses={
            **_masses("warp", warp, numbers.ends_per_cm / area, of_warp),
            **_masses("weft", weft, numbers.picks_per_cm / area, of_weft),
        },
        fibres={
            (name, key): yarn.fibre
            for name, threads in (("warp", warp), ("weft", weft))
            for key, yarn in threads.yarns.items()
        },
        grey=numbers,
    )


def _like_area(symbols: ClothSymbols) -> float:
    """Return the size of grey cloth that is compared with one of other shrinkages.

    If the grey cloth is given, its shrinkages change no share of its yarns; if the finished cloth
    is, warp and weft lie in it longer by what each shrinks.
    """
    kept = symbols.shrinkages
    return kept.width_kept * kept.length_kept if symbols.stage is Stage.FINISHED else 1.0


def _masses(
    name: str, threads: Threads, threads_per_cm: N, crimps_pct: Mapping[str, N | float]
) -> dict[YarnPlace, N]:
    """Return the mass of each yarn of warp or weft, all in the same unit."""
    return {
        (name, key): threads_per_cm
        * count
        / threads.order.threads
        * (threads.yarns[key].linear_density_tex * (1 + crimps_pct[key] / 100))
        for key, count in threads.order.counts.items()
    }
