"""Speed of a loom at a reed width with given wefts, and the tension of the wefts there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import inf, isfinite
from typing import Final

from weavability.looms.carriers import InsertionSetup
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.loom_numbers import LoomNumbers
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import (
    SpeedLimit,
    SpeedLimitName,
    speed_at_insertion_rate,
)
from weavability.looms.weft_tension import (
    BRITTLE_PCT,
    Rise,
    Strain,
    WeftTension,
    WeftYarn,
    initial_modulus_cn_per_tex,
    pick_rises,
    speed_at_strength_use,
    speed_within,
    weft_tension,
)
from weavability.textiles.bounds import SPEED_PICKS_PER_MIN
from weavability.textiles.guards import positive
from weavability.textiles.numbers import N, Record, Truth, either, least
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.yarn_facts import YarnFacts

SLOWEST_PICKS_PER_MIN: Final = float(SPEED_PICKS_PER_MIN.least)
"""Speed of a loom with a weft that is overloaded at any speed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedWeft:
    """A weft yarn on a loom: the yarn, and the insertion that carries it.

    Attributes:
        yarn: The yarn.
        motion: The loom's insertion, with the base tension of this yarn.
        strained: The figures of the yarn on which its tension depends.
    """

    yarn: YarnFacts
    motion: InsertionSetup
    strained: WeftYarn

    def tension(self, *, speed_picks_per_min: float, reed_width_cm: float) -> WeftTension:
        """Compute the tension over a pick.

        Raises:
            InputError: Speed or width is not a positive number.
        """
        return weft_tension(
            self.motion,
            self.strained,
            speed_picks_per_min=speed_picks_per_min,
            reed_width_cm=reed_width_cm,
        )

    def speed_at_use(self, strength_use_pct: float, *, reed_width_cm: float) -> float:
        """Return the picks a minute at which the peak tension uses a share of the weakest place.

        0 if it does at any speed.

        Raises:
            InputError: Share or width is not a positive number.
        """
        return speed_at_strength_use(
            self.motion,
            self.strained,
            strength_use_pct=strength_use_pct,
            reed_width_cm=reed_width_cm,
        )

    @property
    def numbers(self) -> StrainedWeft[float]:
        """Its figures."""
        return StrainedWeft(
            present=True,
            strain=self.strained.strain,
            base_tension_cn=self.motion.base_tension_cn,
            weakest_strength_cn=self.strained.weakest_strength_cn,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WeftShare:
    """One weft of an order: its key in the thread order, and its share of the picks, 0 to 1."""

    key: str
    share: float
    loaded: LoadedWeft


def weft_shares(limits: LoomLimits, weft: SystemFacts) -> tuple[WeftShare, ...]:
    """Put every weft of a cloth on a loom.

    Args:
        limits: The loom.
        weft: The weft of the cloth.

    Returns:
        One a yarn, in the sequence of the weft's order; the shares add up to 1.
    """
    order = weft.order
    return tuple(
        WeftShare(key=key, share=count / order.threads, loaded=load_weft(limits, weft.yarns[key]))
        for key, count in order.counts.items()
    )


def load_weft(limits: LoomLimits, yarn: YarnFacts) -> LoadedWeft:
    """Put a weft yarn on a loom.

    Its base tension is the loom's, in cN/tex, times its linear density; its weakest place is that
    of :func:`weakest_strength_cn`.

    Args:
        limits: The loom.
        yarn: The yarn as it runs into the cloth.
    """
    return LoadedWeft(
        yarn=yarn,
        motion=_tensioned(limits.motion, limits.base_tension_cn_per_tex * yarn.linear_density_tex),
        strained=WeftYarn(
            linear_density_tex=yarn.linear_density_tex,
            weakest_strength_cn=weakest_strength_cn(
                yarn, least_pct=in_force().usual.yarn_weakest_place_least_pct
            ),
            modulus_cn_per_tex=initial_modulus_cn_per_tex(
                secant_modulus_cn_per_tex=yarn.modulus_cn_per_tex,
                is_brittle=yarn.breaking_elongation_pct < BRITTLE_PCT,
                initial_modulus_times=limits.initial_modulus_times,
            ),
        ),
    )


@lru_cache(maxsize=4096)
def _tensioned(motion: InsertionSetup, base_tension_cn: float) -> InsertionSetup:
    return replace(motion, base_tension_cn=base_tension_cn)


def weakest_strength_cn(yarn: YarnFacts, *, least_pct: float) -> float:
    """Return the strength of a yarn's weakest place, in cN; always above 0.

    It is mean - 3 CV (:class:`weavability.textiles.yarn_facts.YarnFacts`), and at least a share of
    the mean strength, the threshold ``yarn_weakest_place_least_pct``: from a CV of 33 % on,
    mean - 3 CV would be 0 or less.
    """
    return max(yarn.weakest_strength_cn, least_pct / 100 * yarn.strength_cn)


def speed_limits(
    limits: LoomLimits,
    *,
    reed_width_cm: float,
    requested_picks_per_min: float | None,
    wefts: Iterable[LoadedWeft],
) -> Iterator[SpeedLimit]:
    """Yield every limit of the speed; of two equal ones the first counts.

    If the weft exceeds its limit at any speed, no speed is safe: its limit is then the slowest
    speed of a loom, :data:`SLOWEST_PICKS_PER_MIN`, so that a weaker weft never runs faster, and a
    check reports it.

    Args:
        limits: The loom.
        reed_width_cm: Reed width in use.
        requested_picks_per_min: Requested speed, if any.
        wefts: The weft yarns; empty if they are not known.

    Raises:
        InputError: The width is not a positive number.
    """
    positive("reed_width_cm", reed_width_cm)
    loom = limits.numbers
    of_weft = weft_speed(
        pick_rises(loom.insertion, reed_width_cm=reed_width_cm),
        [weft.numbers for weft in wefts],
        unlimited=inf,
        strength_use_pct=in_force().usual.weft_strength_error_pct,
    )
    numbers = speed_numbers(loom, reed_width_cm=reed_width_cm)
    yield from named_limits(loom, numbers, of_weft, requested_picks_per_min)


def named_limits(
    loom: LoomNumbers[float],
    numbers: SpeedNumbers[float],
    of_weft: WeftSpeed[float],
    requested_picks_per_min: float | None,
) -> Iterator[SpeedLimit]:
    """Yield the limits of :func:`speed_limits` by name, from the numbers."""
    if requested_picks_per_min is not None:
        yield SpeedLimit(name=SpeedLimitName.REQUESTED_SPEED, picks_per_min=requested_picks_per_min)
    yield SpeedLimit(name=SpeedLimitName.LOOM_SPEED, picks_per_min=loom.max_speed_picks_per_min)
    if loom.speed_curve.is_stated:
        yield SpeedLimit(name=SpeedLimitName.SPEED_CURVE, picks_per_min=numbers.by_curve)
    yield SpeedLimit(name=SpeedLimitName.INSERTION_RATE, picks_per_min=numbers.by_rate)
    shedding = loom.max_shedding_speed_picks_per_min
    yield SpeedLimit(name=SpeedLimitName.SHEDDING, picks_per_min=shedding)
    if isfinite(of_weft.by_strength):
        yield SpeedLimit(name=SpeedLimitName.WEFT_STRENGTH, picks_per_min=of_weft.by_strength)


@dataclass(slots=True, kw_only=True)
class StrainedWeft(Record[N]):
    """A weft yarn on a loom in numbers; an order that has no such yarn has ``present`` false."""

    present: Truth
    strain: Strain[N]
    base_tension_cn: N
    weakest_strength_cn: N


@dataclass(slots=True, kw_only=True)
class SpeedNumbers(Record[N]):
    """Limits of the speed that are the loom's own, in picks a minute.

    Attributes:
        by_curve: Of the loom's speed curve; infinite if it has none.
        by_loom: Of the loom at this width.
        by_rate: Of the loom's insertion rate.
        own: The least of all, weft and request aside.
    """

    by_curve: N
    by_loom: N
    by_rate: N
    own: N


@dataclass(slots=True, kw_only=True)
class WeftSpeed(Record[N]):
    """The limit of the speed that is the weft's, in picks a minute.

    Attributes:
        strength_limits: Whether the weft's strength allows a speed above 0.
        by_strength: That speed, the slowest of a loom if there is none; infinite if no weft is
            known.
    """

    strength_limits: Truth
    by_strength: N


def speed_numbers(loom: LoomNumbers[N], *, reed_width_cm: N) -> SpeedNumbers[N]:
    """Compute the limits of a loom at a reed width in use."""
    by_curve = loom.speed_curve.speed_at(reed_width_cm)
    by_loom: N = least(loom.max_speed_picks_per_min, by_curve)
    by_rate = speed_at_insertion_rate(
        rate_m_per_min=loom.max_rate_m_per_min, reed_width_cm=reed_width_cm
    )
    return SpeedNumbers(
        by_curve=by_curve,
        by_loom=by_loom,
        by_rate=by_rate,
        own=least(least(by_loom, by_rate), loom.max_shedding_speed_picks_per_min),
    )


def weft_speed(
    rises: Sequence[Rise[N]],
    wefts: Iterable[StrainedWeft[N]],
    *,
    unlimited: N,
    strength_use_pct: float,
) -> WeftSpeed[N]:
    """Compute the limit that the strength of the weft sets.

    Args:
        rises: The peaks of the weft tension over a pick at the reed width in use.
        wefts: The weft yarns; empty if they are not known.
        unlimited: Infinite, a number or a column.
        strength_use_pct: Share of the strength at the weakest place that may be used.
    """
    by_strength, known = unlimited, False
    for weft in wefts:
        speed = speed_within(
            rises,
            weft.strain,
            base_tension_cn=weft.base_tension_cn,
            weakest_strength_cn=weft.weakest_strength_cn,
            strength_use_pct=strength_use_pct,
        )
        by_strength = least(by_strength, either(weft.present, speed, inf))
        known = True
    strength_limits = (by_strength > 0) & known
    return WeftSpeed(
        strength_limits=strength_limits,
        by_strength=either(strength_limits, by_strength, SLOWEST_PICKS_PER_MIN if known else inf),
    )


def speed_at_use(
    wefts: Iterable[LoadedWeft], *, strength_use_pct: float, reed_width_cm: float
) -> float | None:
    """Return the least speed at which one of the wefts uses a share of its weakest place.

    Args:
        wefts: The weft yarns.
        strength_use_pct: Peak tension as a share of the strength of the weakest place.
        reed_width_cm: Reed width in use.

    Returns:
        Picks a minute; 0 if a weft reaches the share at any speed; ``None`` for no weft.

    Raises:
        InputError: Share or width is not a positive number.
    """
    return min(
        (weft.speed_at_use(strength_use_pct, reed_width_cm=reed_width_cm) for weft in wefts),
        default=None,
    )
