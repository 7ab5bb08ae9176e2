"""Warp and weft with their yarns and thread orders resolved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from weavability.textiles.assumptions import Ledger
from weavability.textiles.construction import Construction, ThreadSystem
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.thread_order import ThreadOrder, parse_order
from weavability.textiles.yarns import YarnFacts, resolve_yarn


@dataclass(frozen=True, slots=True, kw_only=True)
class Threads:
    """The yarns of warp or weft and the order in which they follow one another.

    Attributes:
        yarns: The facts of each yarn, by its key.
        order: One repeat of the thread order.
        linear_density_tex: Mean over the order.
        diameter_mm: Mean over the order.
        width_mm: Mean over the order; of tapes their width, else the diameter.
        thickness_mm: Mean over the order of what the yarns add to the thickness of the cloth.
    """

    yarns: Mapping[str, YarnFacts]
    order: ThreadOrder
    linear_density_tex: float
    diameter_mm: float
    width_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemFacts:
    """Warp or weft in the grey cloth.

    Attributes:
        yarns: The facts of each yarn, by its key.
        order: One repeat of the thread order.
        linear_density_tex: Mean over the order.
        diameter_mm: Mean over the order.
        threads_per_cm: Ends or picks per cm of the grey cloth.
        crimp_pct: Crimp on the length of the grey cloth.
    """

    yarns: Mapping[str, YarnFacts]
    order: ThreadOrder
    linear_density_tex: float
    diameter_mm: float
    threads_per_cm: float
    crimp_pct: float

    @classmethod
    def of(cls, threads: Threads, *, threads_per_cm: float, crimp_pct: float) -> SystemFacts:
        """Put resolved threads into the grey cloth."""
        return cls(
            yarns=threads.yarns,
            order=threads.order,
            linear_density_tex=threads.linear_density_tex,
            diameter_mm=threads.diameter_mm,
            threads_per_cm=threads_per_cm,
            crimp_pct=crimp_pct,
        )

    def mean(self, values: Mapping[str, float]) -> float:
        """Return the mean of a value by yarn, weighted by the threads of one repeat."""
        return order_mean(self.order, values)


def order_mean(order: ThreadOrder, values: Mapping[str, float]) -> float:
    """Return the mean of a value over one repeat of the order.

    Args:
        order: The order.
        values: The value of each yarn, by its key.
    """
    return sum(values[key] * count for key, count in order.counts.items()) / order.threads


def resolve_threads(construction: Construction, ledger: Ledger) -> tuple[Threads, Threads]:
    """Resolve the yarns and thread orders of warp and weft.

    Args:
        construction: As stated.
        ledger: Takes a note of every value of a yarn that is not stated.

    Raises:
        InputError: Every yarn and every order that cannot be read, at ``/warp`` and ``/weft``.
    """
    faults: list[Fault] = []
    with collecting(faults, below="/warp"):
        warp = _threads(construction.warp, ledger.below("/warp"))
    with collecting(faults, below="/weft"):
        faults.extend(
            Fault(f"/weft/yarns/{key}/sized", "Leave it out: only warp is sized.", given=yarn.sized)
            for key, yarn in construction.weft.yarns.items()
            if yarn.sized
        )
        weft = _threads(construction.weft, ledger.below("/weft"))
    if faults:
        raise InputError(faults)
    return warp, weft


def _threads(system: ThreadSystem, ledger: Ledger) -> Threads:
    yarns: dict[str, YarnFacts] = {}
    faults: list[Fault] = []
    for key, yarn in system.yarns.items():
        with collecting(faults, below=f"/yarns/{key}"):
            yarns[key] = resolve_yarn(yarn, ledger.below(f"/yarns/{key}"))
    with collecting(faults, below="/order"):
        order = _order(system)
    if faults:
        raise InputError(faults)
    return Threads(
        yarns=yarns,
        order=order,
        linear_density_tex=order_mean(
            order, {key: yarn.linear_density_tex for key, yarn in yarns.items()}
        ),
        diameter_mm=order_mean(order, {key: yarn.diameter_mm for key, yarn in yarns.items()}),
        width_mm=order_mean(order, {key: yarn.width_mm for key, yarn in yarns.items()}),
        thickness_mm=order_mean(order, {key: yarn.thickness_mm for key, yarn in yarns.items()}),
    )


def _order(system: ThreadSystem) -> ThreadOrder:
    text = system.order
    if text is None:
        if len(system.yarns) != 1:
            raise InputError.of(
                "",
                f"{len(system.yarns)} yarns are given but no thread order; say how they follow "
                "one another.",
                allowed="a thread order such as 24A 4B or 3(2A 2B) 4C",
            )
        text = next(iter(system.yarns))
    return parse_order(text, known=tuple(system.yarns))


def threads_by_yarn(system: SystemFacts, *, total: int, extra: int = 0) -> dict[str, int]:
    """Count the threads of each yarn in a warp or a number of picks.

    Args:
        system: Warp or weft.
        total: Threads that follow the order, a last part repeat included.
        extra: Threads beside the order, such as selvedge ends; they are of its first yarn.

    Returns:
        Threads by the key of the yarn.
    """
    threads = system.order.over(total)
    if extra:
        first = system.order.sequence[0]
        threads[first] = threads.get(first, 0) + extra
    return threads


def coarsest_and_finest(yarns: Iterable[YarnFacts]) -> tuple[YarnFacts, YarnFacts]:
    """Return the coarsest and the finest of some yarns, by linear density."""
    ranked = sorted(yarns, key=lambda yarn: yarn.linear_density_tex)
    return ranked[-1], ranked[0]
