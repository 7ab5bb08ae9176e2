"""The yarn that an order takes on a loom: by system and key, and by layer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from weavability.looms.fit import Fit, YarnOnLoom, ends_by_yarn, warp_lengths_m
from weavability.textiles.geometry import warp_yarn_length_km, weft_yarn_length_km, yarn_mass_kg
from weavability.textiles.records import record
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.yarn_facts import YarnFacts


@record(kw_only=True)
class YarnAmount:
    """Yarn of one key that the order takes, waste included.

    Attributes:
        system: ``warp``, ``weft``, ``leno`` or ``catch cord``.
        key: Its key among the yarns of the construction.
        threads: Ends of this yarn; ``None`` for weft.
        crimp_pct: Of this yarn in the grey cloth.
        waste_pct: Waste that is included, on the yarn woven.
    """

    system: str
    key: str
    yarn: YarnFacts
    threads: int | None
    crimp_pct: float
    waste_pct: float
    length_km: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerYarn:
    """Yarn that a layer takes, waste included, in kg; selvedge ends belong to none."""

    warp_kg: float
    weft_kg: float


def yarn_amounts(fit: Fit | YarnOnLoom) -> Iterable[YarnAmount]:
    """Yield the yarn that the order takes, by system and key, waste included.

    Lengths in km and masses in kg: for the length ordered, or the usual one if none is.
    """
    cloth = fit.cloth
    waste_pct = cloth.allowances.warp_waste_pct
    wasted = 1 + waste_pct / 100
    lengths_m = warp_lengths_m(cloth, fit.numbers)
    for key, count in ends_by_yarn(cloth).items():
        length_km = wasted * warp_yarn_length_km(ends=count, warp_length_m=lengths_m[key])
        yield _amount("warp", key, cloth.warp, count, length_km, waste_pct)
    picks = round(cloth.lengths.loom_m * 100 * cloth.weft.threads_per_cm)
    order = cloth.weft.order
    waste_pct = cloth.allowances.weft_waste_pct
    wasted = 1 + waste_pct / 100
    for key, count in order.counts.items():
        length_km = wasted * weft_yarn_length_km(
            picks=picks * count / order.threads,
            reed_width_cm=cloth.widths.reed_cm
            + _longer(cloth.panels * cloth.widths.grey_cm, cloth.weft, key),
            extra_per_pick_cm=fit.limits.extra_weft_cm,
        )
        yield _amount("weft", key, cloth.weft, None, length_km, waste_pct)
    yield from _edge_amounts(fit)


def _edge_amounts(fit: Fit | YarnOnLoom) -> Iterator[YarnAmount]:
    """Yield the yarn of leno and catch cords, each end as long as the warp."""
    cloth, edge = fit.cloth, fit.edge_yarn
    wasted = 1 + cloth.allowances.warp_waste_pct / 100
    selvedge = cloth.symbols.selvedge
    leno_ends = 2 * cloth.panels * edge.leno_ends_per_side
    for system, ends in (("leno", leno_ends), ("catch cord", edge.catch_cord_ends)):
        if ends:
            length_km = wasted * warp_yarn_length_km(
                ends=ends, warp_length_m=fit.numbers.warp_length_m
            )
            yield YarnAmount(
                system=system,
                key=selvedge.yarn_key,
                yarn=selvedge.yarn,
                threads=ends,
                crimp_pct=cloth.warp.crimp_pct,
                waste_pct=cloth.allowances.warp_waste_pct,
                length_km=length_km,
                mass_kg=yarn_mass_kg(
                    length_km=length_km, linear_density_tex=selvedge.yarn.linear_density_tex
                ),
            )


def _longer(cloth_length: float, system: SystemFacts, key: str) -> float:
    """Return by how much a yarn in a length of cloth is longer than the mean of its set."""
    return cloth_length * (system.crimps_pct[key] - system.crimp_pct) / 100


def layer_yarns(fit: Fit) -> Iterator[LayerYarn]:
    """Yield the yarn that each layer takes, in the order of the cloth's layers, waste included."""
    cloth = fit.cloth
    amounts = {(each.system, each.key): each for each in yarn_amounts(fit)}
    ground_ends = cloth.panels * cloth.ends.ground
    order = cloth.weft.order
    for layer in cloth.layers:
        warp_kg, weft_kg = 0.0, 0.0
        for key, share in layer.warp_shares.items():
            amount = amounts["warp", key]
            if amount.threads:
                warp_kg += amount.mass_kg * share * ground_ends / amount.threads
        for key, share in layer.weft_shares.items():
            weft_kg += amounts["weft", key].mass_kg * share * order.threads / order.counts[key]
        yield LayerYarn(warp_kg=warp_kg, weft_kg=weft_kg)


def _amount(
    name: str,
    key: str,
    system: SystemFacts,
    threads: int | None,
    length_km: float,
    waste_pct: float,
) -> YarnAmount:
    yarn = system.yarns[key]
    return YarnAmount(
        system=name,
        key=key,
        yarn=yarn,
        threads=threads,
        crimp_pct=system.crimps_pct[key],
        waste_pct=waste_pct,
        length_km=length_km,
        mass_kg=yarn_mass_kg(length_km=length_km, linear_density_tex=yarn.linear_density_tex),
    )
