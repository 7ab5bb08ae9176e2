"""Speed of a loom at a reed width with given wefts, and the tension of the wefts there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from weavability.looms.carriers import InsertionSetup
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import (
    SpeedLimit,
    SpeedLimitName,
    speed_at_insertion_rate,
    speed_on_curve,
)
from weavability.looms.weft_tension import (
    WeftTension,
    WeftYarn,
    speed_at_strength_use,
    weft_tension,
)
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.yarns import YarnFacts


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

        0 if the tension at rest already does.

        Raises:
            InputError: Share or width is not a positive number.
        """
        return speed_at_strength_use(
            self.motion,
            self.strained,
            strength_use_pct=strength_use_pct,
            reed_width_cm=reed_width_cm,
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
            weakest_strength_cn=weakest_strength_cn(yarn),
            modulus_cn_per_tex=yarn.modulus_cn_per_tex,
        ),
    )


@lru_cache(maxsize=4096)
def _tensioned(motion: InsertionSetup, base_tension_cn: float) -> InsertionSetup:
    return replace(motion, base_tension_cn=base_tension_cn)


def weakest_strength_cn(yarn: YarnFacts) -> float:
    """Return the strength of a yarn's weakest place, in cN; always above 0.

    It is mean - 3 CV (:class:`weavability.textiles.yarns.YarnFacts`), and at least the threshold
    ``yarn_weakest_place_least_pct`` of the mean strength: from a CV of 33 % on, mean - 3 CV would
    be 0 or less.
    """
    least_pct = in_force().usual.yarn_weakest_place_least_pct
    return max(yarn.weakest_strength_cn, least_pct / 100 * yarn.strength_cn)


def speed_limits(
    limits: LoomLimits,
    *,
    reed_width_cm: float,
    requested_picks_per_min: float | None,
    wefts: Iterable[LoadedWeft],
) -> Iterator[SpeedLimit]:
    """Yield every limit of the speed; of two equal ones the first counts.

    If the tension at rest already exceeds the limit of a weft, no speed is safe: no limit by
    strength is yielded, a check reports it, and all other figures are for the loom's own speed.

    Args:
        limits: The loom.
        reed_width_cm: Reed width in use.
        requested_picks_per_min: Requested speed, if any.
        wefts: The weft yarns; empty if they are not known.

    Raises:
        InputError: The width is not a positive number.
    """
    if requested_picks_per_min is not None:
        yield SpeedLimit(name=SpeedLimitName.REQUESTED_SPEED, picks_per_min=requested_picks_per_min)
    yield SpeedLimit(name=SpeedLimitName.LOOM_SPEED, picks_per_min=limits.max_speed_picks_per_min)
    if limits.speed_curve:
        yield SpeedLimit(
            name=SpeedLimitName.SPEED_CURVE,
            picks_per_min=speed_on_curve(limits.speed_curve, reed_width_cm=reed_width_cm),
        )
    yield SpeedLimit(
        name=SpeedLimitName.INSERTION_RATE,
        picks_per_min=speed_at_insertion_rate(
            rate_m_per_min=limits.max_rate_m_per_min, reed_width_cm=reed_width_cm
        ),
    )
    yield SpeedLimit(
        name=SpeedLimitName.SHEDDING,
        picks_per_min=limits.shedding.max_speed_picks_per_min,
    )
    by_strength = speed_at_use(
        wefts,
        strength_use_pct=in_force().usual.weft_strength_error_pct,
        reed_width_cm=reed_width_cm,
    )
    if by_strength:
        yield SpeedLimit(name=SpeedLimitName.WEFT_STRENGTH, picks_per_min=by_strength)


def speed_at_use(
    wefts: Iterable[LoadedWeft], *, strength_use_pct: float, reed_width_cm: float
) -> float | None:
    """Return the least speed at which one of the wefts uses a share of its weakest place.

    Args:
        wefts: The weft yarns.
        strength_use_pct: Peak tension as a share of the strength of the weakest place.
        reed_width_cm: Reed width in use.

    Returns:
        Picks a minute; 0 if the tension at rest already reaches the share; ``None`` for no weft.

    Raises:
        InputError: Share or width is not a positive number.
    """
    return min(
        (weft.speed_at_use(strength_use_pct, reed_width_cm=reed_width_cm) for weft in wefts),
        default=None,
    )
