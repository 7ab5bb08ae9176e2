"""Warp and weft with their yarns and thread orders resolved."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import field
from functools import lru_cache
from types import MappingProxyType
from typing import Final, NamedTuple

from weavability.textiles.assumptions import Ledger, Moves, remembered
from weavability.textiles.construction import Construction, ThreadSystem
from weavability.textiles.crimp import crimp_of_contraction_pct
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.fibres import ELASTANE
from weavability.textiles.numbers import N, anywhere
from weavability.textiles.records import record
from weavability.textiles.sentences import say
from weavability.textiles.thread_order import ThreadOrder, parse_order
from weavability.textiles.yarn_facts import YarnFacts
from weavability.textiles.yarns import Yarn, resolve_yarn

MOST_REMEMBERED_YARNS: Final = 8
MOST_REMEMBERED_THREADS: Final = 1_000
"""Of a warp or weft that is remembered, and with it what follows from it alone."""


@record(kw_only=True, eq=False)
class Threads:
    """The yarns of warp or weft and the order in which they follow one another.

    Attributes:
        yarns: The facts of each yarn, by its key.
        order: One repeat of the thread order.
        linear_density_tex: Mean over the order.
        diameter_mm: Mean over the order.
        width_mm: Mean over the order; of tapes their width, else the diameter.
        depth_mm: Mean over the order; of tapes their thickness, else the diameter.
        thickness_mm: Mean over the order of what the yarns add to the thickness of the cloth.
        stated_crimps_pct: Crimp of each yarn for which one is stated, by its key.
        has_tape: Whether any thread of the order is a tape.
        is_remembered: Whether it is small enough that what follows from it may be remembered with
            it.
        shrinking_fibre: The fibre that decides how the threads shrink, by its key: that of which
            they hold most by mass; elastane, however little there is.
    """

    yarns: Mapping[str, YarnFacts]
    order: ThreadOrder
    linear_density_tex: float
    diameter_mm: float
    width_mm: float
    depth_mm: float
    thickness_mm: float
    stated_crimps_pct: Mapping[str, float]
    has_tape: bool = field(init=False, repr=False)
    is_remembered: bool = field(init=False, repr=False)
    shrinking_fibre: str = field(init=False, repr=False)
    _stated_crimp: tuple[float, float] = field(init=False, repr=False)
    _stated_range_pct: tuple[float, float] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        few = len(self.yarns) <= MOST_REMEMBERED_YARNS
        for name, found in (
            ("has_tape", any(self.yarns[key].is_tape for key in self.order.counts)),
            ("is_remembered", few and self.order.threads <= MOST_REMEMBERED_THREADS),
            ("shrinking_fibre", _shrinking_fibre(self.yarns, self.order)),
            ("_stated_crimp", self._stated_crimp_without(())),
            ("_stated_range_pct", self._stated_range_without_pct(())),
        ):
            object.__setattr__(self, name, found)

    def stated_crimp(self, *, pile: Collection[str] = ()) -> tuple[float, float]:
        """Return the share of the threads whose crimp is stated, and their mean crimp.

        Of no threads the mean is 0.

        Args:
            pile: Keys of the yarns of pile, which are not counted.
        """
        return self._stated_crimp_without(pile) if pile else self._stated_crimp

    def _stated_crimp_without(self, pile: Collection[str]) -> tuple[float, float]:
        if not self.stated_crimps_pct:
            return 0.0, 0.0
        counts = {key: count for key, count in self.order.counts.items() if key not in pile}
        stated = {key: pct for key, pct in self.stated_crimps_pct.items() if key in counts}
        if not stated:
            return 0.0, 0.0
        threads = sum(counts[key] for key in stated)
        share = threads / sum(counts.values())
        crimps = set(stated.values())
        if len(crimps) == 1:
            return share, crimps.pop()
        total = sum(crimp * counts[key] for key, crimp in stated.items())
        return share, total / threads

    def stated_crimp_range_pct(self, *, pile: Collection[str] = ()) -> tuple[float, float]:
        """Return the least and the greatest crimp that threads state, of pile apart; 0 if none do.

        Args:
            pile: Keys of the yarns of pile, which are not counted.
        """
        return self._stated_range_without_pct(pile) if pile else self._stated_range_pct

    def _stated_range_without_pct(self, pile: Collection[str]) -> tuple[float, float]:
        of = self.order.counts
        known = [
            pct for key, pct in self.stated_crimps_pct.items() if key in of and key not in pile
        ]
        return min(known, default=0.0), max(known, default=0.0)


def _shrinking_fibre(yarns: Mapping[str, YarnFacts], order: ThreadOrder) -> str:
    mass: dict[str, float] = {}
    for key, count in order.counts.items():
        for fibre, share in yarns[key].fibre.components:
            mass[fibre] = mass.get(fibre, 0.0) + count * yarns[key].linear_density_tex * share
    return ELASTANE if ELASTANE in mass else max(mass, key=lambda fibre: mass[fibre])


@record(kw_only=True)
class SystemFacts:
    """Warp or weft in the grey cloth.

    Attributes:
        yarns: The facts of each yarn, by its key.
        order: One repeat of the thread order.
        linear_density_tex: Mean over the order.
        diameter_mm: Mean over the order.
        width_mm: Mean over the order; of tapes their width, else the diameter.
        depth_mm: Mean over the order; of tapes their thickness, else the diameter.
        threads_per_cm: Ends or picks per cm of the grey cloth.
        crimp_pct: Crimp on the length of the grey cloth, mean over the order but for pile.
        crimps_pct: Crimp of each yarn, by its key; of pile what its ratio makes.
    """

    yarns: Mapping[str, YarnFacts]
    order: ThreadOrder
    linear_density_tex: float
    diameter_mm: float
    width_mm: float
    depth_mm: float
    threads_per_cm: float
    crimp_pct: float
    crimps_pct: Mapping[str, float]

    @classmethod
    def of(
        cls,
        threads: Threads,
        *,
        threads_per_cm: float,
        crimp_pct: float,
        estimated_crimps_pct: Mapping[str, float],
        pile_ratios: Mapping[str, float] = MappingProxyType({}),
    ) -> SystemFacts:
        """Put resolved threads into the grey cloth.

        Args:
            threads: Warp or weft.
            threads_per_cm: Ends or picks per cm of the grey cloth.
            crimp_pct: Mean over the order but for pile.
            estimated_crimps_pct: Of every yarn that states none, by its key.
            pile_ratios: Yarn length per cloth length of the yarns of pile, by key.
        """
        return cls(
            yarns=threads.yarns,
            order=threads.order,
            linear_density_tex=threads.linear_density_tex,
            diameter_mm=threads.diameter_mm,
            width_mm=threads.width_mm,
            depth_mm=threads.depth_mm,
            threads_per_cm=threads_per_cm,
            crimp_pct=crimp_pct,
            crimps_pct=crimps_by_yarn(threads, estimated_crimps_pct, pile_ratios),
        )

    @property
    def mass_crimp_pct(self) -> float:
        """The mean crimp by which the mass of the threads is reckoned."""
        return mass_crimp_pct(self, self.crimp_pct, self.crimps_pct)

    def mean(self, values: Mapping[str, float]) -> float:
        """Return the mean of a value by yarn, weighted by the threads of one repeat."""
        return order_mean(self.order, values)


def crimps_by_yarn(
    threads: Threads,
    estimated_crimps_pct: Mapping[str, N],
    pile_ratios: Mapping[str, float] = MappingProxyType({}),
) -> dict[str, N | float]:
    """Return the crimp of each yarn, by its key; of pile what its ratio makes.

    Args:
        threads: Warp or weft.
        estimated_crimps_pct: Of every yarn that states none, by its key.
        pile_ratios: Yarn length per cloth length of the yarns of pile, by key.
    """
    return {
        **estimated_crimps_pct,
        **threads.stated_crimps_pct,
        **{key: 100 * (ratio - 1) for key, ratio in pile_ratios.items()},
    }


def mass_crimp_pct(
    threads: Threads | SystemFacts, crimp_pct: N, crimps_pct: Mapping[str, N | float]
) -> N:
    """Return the mean crimp, weighted by linear density: by it the mass of threads is reckoned.

    Args:
        threads: Warp or weft.
        crimp_pct: Mean over the order but for pile.
        crimps_pct: Of each yarn, by its key.
    """
    first, *others = crimps_pct.values()
    if all(other is first for other in others) or not any(
        anywhere(other != first) for other in others
    ):
        return crimp_pct
    in_order: N = 0 * crimp_pct
    for key, count in threads.order.counts.items():
        in_order = in_order + threads.yarns[key].linear_density_tex * crimps_pct[key] * count
    return in_order / threads.order.threads / threads.linear_density_tex


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
        warp = _known_threads(construction.warp, ledger.below("/warp"), construction.selvedge.yarn)
    with collecting(faults, below="/weft"):
        faults.extend(
            Fault(
                f"/weft/yarns/{key}/sized",
                say("fault.yarn.weft_not_sized", "Leave it out: only warp is sized."),
                given=yarn.sized,
            )
            for key, yarn in construction.weft.yarns.items()
            if yarn.sized
        )
        weft = _known_threads(construction.weft, ledger.below("/weft"))
    if faults:
        raise InputError(faults)
    return warp, weft


class _Reading(NamedTuple):
    """Warp or weft that is read with values moved: the very same ones are read alike."""

    system: ThreadSystem
    spare: str | None
    prefix: str
    moves: Moves

    def __hash__(self) -> int:
        return hash((id(self.system), self.spare, self.prefix, id(self.moves)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Reading) and (
            self.system is other.system and self.moves is other.moves and self[1:3] == other[1:3]
        )


def _known_threads(system: ThreadSystem, ledger: Ledger, spare: str | None = None) -> Threads:
    """Resolve warp or weft, once for the same moved values if what is assumed is not listed."""
    if ledger.keeps or ledger.moves is None:
        return _threads(system, ledger, spare)
    threads, assumed = _kept_threads(_Reading(system, spare, ledger.prefix, ledger.moves))
    ledger.assumed |= assumed
    return threads


@lru_cache(maxsize=8)
def _kept_threads(reading: _Reading) -> tuple[Threads, frozenset[str]]:
    ledger = Ledger(reading.prefix, keeps=False, moves=reading.moves)
    threads = _threads(reading.system, ledger, reading.spare)
    return threads, frozenset(ledger.assumed)


def _threads(system: ThreadSystem, ledger: Ledger, spare: str | None = None) -> Threads:
    resolve = _remembered_threads if _is_small(system, spare) else _resolved_threads
    return resolve(
        ledger,
        tuple(system.yarns.items()),
        system.order,
        system.crimp_pct,
        system.contraction_pct,
        spare,
    )


def _is_small(system: ThreadSystem, spare: str | None) -> bool:
    """Return whether a warp or weft that can be read has few yarns and threads."""
    if len(system.yarns) > MOST_REMEMBERED_YARNS:
        return False
    if system.order is None:
        return True
    try:
        order = _order(tuple(system.yarns), system.order, spare)
    except InputError:
        return False
    return order.threads <= MOST_REMEMBERED_THREADS


def _resolved_threads(
    ledger: Ledger,
    stated: tuple[tuple[str, Yarn], ...],
    text: str | None,
    crimp_pct: float | None,
    contraction_pct: float | None,
    spare: str | None,
) -> Threads:
    yarns: dict[str, YarnFacts] = {}
    faults: list[Fault] = []
    for key, yarn in stated:
        with collecting(faults, below=f"/yarns/{key}"):
            yarns[key] = resolve_yarn(yarn, ledger.below(f"/yarns/{key}", "/yarns/*"))
    with collecting(faults, below="/order"):
        order = _order(tuple(key for key, _ in stated), text, spare)
    if faults:
        raise InputError(faults)
    crimps = stated_crimps_pct(dict(stated), crimp_pct=crimp_pct, contraction_pct=contraction_pct)
    return Threads(
        yarns=yarns,
        order=order,
        linear_density_tex=order_mean(
            order, {key: yarn.linear_density_tex for key, yarn in yarns.items()}
        ),
        diameter_mm=order_mean(order, {key: yarn.diameter_mm for key, yarn in yarns.items()}),
        stated_crimps_pct=crimps,
        width_mm=order_mean(order, {key: yarn.width_mm for key, yarn in yarns.items()}),
        depth_mm=order_mean(order, {key: yarn.depth_mm for key, yarn in yarns.items()}),
        thickness_mm=order_mean(order, {key: yarn.thickness_mm for key, yarn in yarns.items()}),
    )


_remembered_threads: Final = remembered(maxsize=512)(_resolved_threads)


def stated_crimps_pct(
    yarns: Mapping[str, Yarn], *, crimp_pct: float | None, contraction_pct: float | None
) -> dict[str, float]:
    """Return the crimp of each yarn for which one is stated, by its key.

    Args:
        yarns: The yarns of warp or weft, as stated.
        crimp_pct: Crimp of the yarns that state none of their own.
        contraction_pct: The same on yarn length, in its place.

    Raises:
        InputError: Crimp and contraction are both stated, of the set or of a yarn; or every yarn
            states its own, so that the set's holds for none.
    """
    faults: list[Fault] = []
    with collecting(faults):
        of_set = _crimp_pct(crimp_pct, contraction_pct)
    found: dict[str, float] = {}
    for key, yarn in yarns.items():
        with collecting(faults, below=f"/yarns/{key}"):
            own = _crimp_pct(yarn.crimp_pct, yarn.contraction_pct)
            if own is not None:
                found[key] = own
    if not faults and of_set is not None and len(found) == len(yarns):
        name = "crimp_pct" if crimp_pct is not None else "contraction_pct"
        raise InputError.of(
            f"/{name}",
            say(
                "fault.yarn.crimp_of_set",
                "Leave out {field}: it is for yarns that state none of their own, and all do.",
                field=name,
            ),
            given=crimp_pct if crimp_pct is not None else contraction_pct,
        )
    if faults:
        raise InputError(faults)
    return found if of_set is None else {key: found.get(key, of_set) for key in yarns}


def _crimp_pct(crimp_pct: float | None, contraction_pct: float | None) -> float | None:
    if contraction_pct is None:
        return crimp_pct
    if crimp_pct is not None:
        raise InputError.of(
            "/contraction_pct",
            say(
                "fault.yarn.crimp_twice",
                "State the crimp once: crimp_pct is on cloth length, contraction_pct on "
                "yarn length.",
            ),
            given=contraction_pct,
            allowed="crimp_pct or contraction_pct",
        )
    return crimp_of_contraction_pct(contraction_pct)


def _order(yarns: tuple[str, ...], text: str | None, spare: str | None) -> ThreadOrder:
    """Read the thread order; a yarn of the selvedge may be missing from it."""
    if text is None:
        ordered = [key for key in yarns if key != spare] or list(yarns)
        if len(ordered) != 1:
            raise InputError.of(
                "",
                say(
                    "fault.thread_order.several_yarns",
                    "{yarns} yarns are given but no thread order; say how they follow one another.",
                    yarns=len(yarns),
                ),
                allowed="a thread order such as 24A 4B or 3(2A 2B) 4C",
            )
        text = ordered[0]
    return parse_order(text, known=yarns, spare=() if spare is None else (spare,))


def threads_by_yarn(
    system: SystemFacts, *, total: int, extra: int = 0, extra_key: str = ""
) -> dict[str, int]:
    """Count the threads of each yarn in a warp or a number of picks.

    Args:
        system: Warp or weft.
        total: Threads that follow the order, a last part repeat included.
        extra: Threads beside the order, such as selvedge ends.
        extra_key: Key of their yarn.

    Returns:
        Threads by the key of the yarn.
    """
    threads = system.order.over(total)
    if extra:
        threads[extra_key] = threads.get(extra_key, 0) + extra
    return threads


def coarsest_and_finest(yarns: Iterable[YarnFacts]) -> tuple[YarnFacts, YarnFacts]:
    """Return the coarsest and the finest of some yarns, by linear density."""
    ranked = sorted(yarns, key=lambda yarn: yarn.linear_density_tex)
    return ranked[-1], ranked[0]
