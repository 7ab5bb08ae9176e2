"""Size on the warp: which yarns get it, and how much."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final, NamedTuple

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.construction import Allowances
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.order_defaults import order_default, take_default
from weavability.textiles.sentences import say
from weavability.textiles.thread_systems import Threads
from weavability.textiles.yarn_facts import YarnFacts


class SizeEffect(NamedTuple):
    """What size does to a yarn, as factors: it is stronger and stiffer.

    Attributes:
        strength_times: Strength of the sized yarn over that of the unsized one.
        modulus_times: Its modulus, likewise.
    """

    strength_times: float
    modulus_times: float


NO_SIZE: Final = SizeEffect(1.0, 1.0)


def sized_yarns(warp: Threads, stated_pct: float | None) -> frozenset[str]:
    """Return the keys of the warp yarns that are sized.

    A yarn is sized as it states. Of the others, size that is stated or assumed goes on the singles
    of short staple; if there are none, size that is stated goes on all.

    Args:
        warp: The yarns of the warp and their order.
        stated_pct: The size of the warp; ``None`` if the order states none.
    """
    singles = {key for key, yarn in warp.yarns.items() if yarn.is_short_staple_single}
    others = set(warp.yarns) if stated_pct and not singles else singles
    if stated_pct == 0.0:
        others = set()
    return frozenset(
        key
        for key, yarn in warp.yarns.items()
        if yarn.sized or (yarn.sized is None and key in others)
    )


def sized_share(warp: Threads, keys: Collection[str]) -> float:
    """Return the share of some yarns in the mass of the warp."""
    masses = {
        key: count * warp.yarns[key].linear_density_tex for key, count in warp.order.counts.items()
    }
    return sum(mass for key, mass in masses.items() if key in keys) / sum(masses.values())


def size_by_yarn_pct(warp: Threads, stated_pct: float | None, size_pct: float) -> dict[str, float]:
    """Return the size on each warp yarn, in % of its own mass.

    Args:
        warp: The yarns of the warp and their order.
        stated_pct: The size of the warp as stated; ``None`` if the order states none.
        size_pct: The size of the warp.
    """
    keys = sized_yarns(warp, stated_pct)
    share = sized_share(warp, keys)
    return {key: size_pct / share if key in keys and share else 0.0 for key in warp.yarns}


def resolve_size_pct(stated: Allowances, warp: Threads, ledger: Ledger) -> float:
    """Return the size on the whole warp, in % of its unsized mass.

    Args:
        stated: Waste and size as stated.
        warp: The yarns of the warp and their order.
        ledger: That of the allowances; takes a note of an assumption.

    Raises:
        InputError: Size and yarns contradict each other, at the yarn; pointers are relative to the
            construction.
    """
    stated_pct = stated.size_pct
    if stated_pct is not None:
        faults = [
            Fault(
                f"/warp/yarns/{key}/sized",
                say(
                    "fault.yarn.size_twice",
                    "allowances.size_pct states {size_pct:g} % of size: leave out one of the two.",
                    size_pct=stated_pct,
                ),
                yarn.sized,
                stated_pct > 0.0,
            )
            for key, yarn in warp.yarns.items()
            if yarn.sized is not None and yarn.sized is not (stated_pct > 0.0)
        ]
        if faults:
            raise InputError(faults)
        return stated_pct
    if all(yarn.sized is False for yarn in warp.yarns.values()):
        return 0.0
    share = sized_share(warp, sized_yarns(warp, None))
    if not share:
        return ledger.note(
            "/size_pct",
            0.0,
            unit="%",
            reason=say(
                "assumption.size.none",
                "no size stated, and none usual on folded, long-staple, bast and "
                "filament yarn; [COMMON-PRACTICE]",
            ),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(0.0, 8.0),
        )
    usual = order_default("size_pct")
    return ledger.note(
        "/size_pct",
        round(usual.value * share, 2),
        unit=usual.unit,
        reason=usual.reason
        if share == 1.0
        else say(
            "assumption.size.of_part_of_the_warp",
            "{size_pct:g} % on the sized yarns, which are {share_pct:.0f} % of the warp's mass; "
            "common practice, its band: [LCI-SIZING]",
            size_pct=usual.value,
            share_pct=100 * share,
        ),
        grade=usual.grade,
        band=ValueBand(round(usual.band.low * share, 2), round(usual.band.high * share, 2)),
    )


def resolve_size_effect(
    stated: Allowances, warp: Threads, size_pct: float, ledger: Ledger
) -> SizeEffect:
    """Return what the size does to the spun yarns that are sized.

    Strength and stiffness of a yarn are stated as it is spun; the size binds its fibres. Stiffness
    is strength over elongation, so that a sized yarn takes more load at the same stretch. The
    filaments of a yarn break as they do without it.

    Args:
        stated: Waste and size as stated.
        warp: The yarns of the warp and their order.
        size_pct: The size of the warp.
        ledger: That of the allowances; takes a note of what is assumed, if a spun yarn is sized.
    """
    sized = sized_yarns(warp, stated.size_pct) if size_pct > 0.0 else ()
    if not any(warp.yarns[key].kind == "spun" for key in sized):
        return NO_SIZE
    gain_pct = take_default(ledger, "size_strength_gain_pct", stated.size_strength_gain_pct)
    loss_pct = take_default(ledger, "size_elongation_loss_pct", stated.size_elongation_loss_pct)
    strength_times = 1.0 + gain_pct / 100.0
    return SizeEffect(strength_times, strength_times / (1.0 - loss_pct / 100.0))


def size_effect_on(effect: SizeEffect, yarn: YarnFacts, size_pct: float) -> SizeEffect:
    """Return what the size does to one warp yarn: nothing if it has none, or is of filament."""
    return effect if size_pct > 0.0 and yarn.kind == "spun" else NO_SIZE
