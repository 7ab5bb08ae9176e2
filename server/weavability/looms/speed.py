"""How fast a loom may run at a width with given wefts, and what the wefts suffer there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from weavability.looms.carriers import InsertionSetup
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.weft_insertion import SpeedLimit, speed_at_insertion_rate, speed_on_curve
from weavability.looms.weft_tension import (
    WeftTension,
    WeftYarn,
    speed_at_strength_use,
    weft_tension,
)
from weavability.textiles.yarns import YarnFacts

WEFT_STRENGTH_ERROR_PCT: Final = 60.0
"""Use of the weft's weakest place above which it will not run; common practice, no source."""

LEAST_STRENGTH_SHARE: Final = 0.01
"""Of the mean strength, the least that a weakest place is taken to have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedWeft:
    """A weft yarn with the insertion that carries it: the base tension follows the yarn.

    Attributes:
        yarn: The yarn.
        motion: The loom's insertion with the base tension that this yarn is given.
        strained: What the tension of the yarn depends on.
    """

    yarn: YarnFacts
    motion: InsertionSetup
    strained: WeftYarn

    def tension(self, *, speed_picks_per_min: float, reed_width_cm: float) -> WeftTension:
        """Its tension over a pick."""
        return weft_tension(
            self.motion,
            self.strained,
            speed_picks_per_min=speed_picks_per_min,
            reed_width_cm=reed_width_cm,
        )

    def speed_at_use(self, strength_use_pct: float, *, reed_width_cm: float) -> float:
        """The speed at which it uses a share of its weakest place; 0 where it does at rest."""
        return speed_at_strength_use(
            self.motion,
            self.strained,
            strength_use_pct=strength_use_pct,
            reed_width_cm=reed_width_cm,
        )


def load_weft(limits: LoomLimits, yarn: YarnFacts) -> LoadedWeft:
    """Put a weft yarn on a loom."""
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
    """Strength of the weakest place, above zero also for yarns where mean - 3 CV is not."""
    return max(yarn.weakest_strength_cn, LEAST_STRENGTH_SHARE * yarn.strength_cn)


def speed_limits(
    limits: LoomLimits,
    *,
    reed_width_cm: float,
    requested_picks_per_min: float | None,
    wefts: Iterable[LoadedWeft],
) -> Iterator[SpeedLimit]:
    """Yield every limit of the speed; where two are equal, the first counts.

    A weft that its tension at rest alone overloads runs at no speed: it sets no limit here, a
    check says so, and the other figures are told for the speed that the loom itself allows.

    Args:
        limits: The loom.
        reed_width_cm: Reed width in use.
        requested_picks_per_min: Speed that is wished for, if any.
        wefts: The weft yarns; none where they are not known.
    """
    if requested_picks_per_min is not None:
        yield SpeedLimit(name="requested_speed", picks_per_min=requested_picks_per_min)
    yield SpeedLimit(name="loom_speed", picks_per_min=limits.max_speed_picks_per_min)
    if limits.speed_curve:
        yield SpeedLimit(
            name="speed_curve",
            picks_per_min=speed_on_curve(limits.speed_curve, reed_width_cm=reed_width_cm),
        )
    yield SpeedLimit(
        name="insertion_rate",
        picks_per_min=speed_at_insertion_rate(
            rate_m_per_min=limits.max_rate_m_per_min, reed_width_cm=reed_width_cm
        ),
    )
    yield SpeedLimit(name="shedding", picks_per_min=limits.shedding.max_speed_picks_per_min)
    by_strength = speed_at_use(
        wefts, strength_use_pct=WEFT_STRENGTH_ERROR_PCT, reed_width_cm=reed_width_cm
    )
    if by_strength:
        yield SpeedLimit(name="weft_strength", picks_per_min=by_strength)


def speed_at_use(
    wefts: Iterable[LoadedWeft], *, strength_use_pct: float, reed_width_cm: float
) -> float | None:
    """The least speed at which a weft uses a share of its weakest place; ``None`` for no weft."""
    return min(
        (weft.speed_at_use(strength_use_pct, reed_width_cm=reed_width_cm) for weft in wefts),
        default=None,
    )
