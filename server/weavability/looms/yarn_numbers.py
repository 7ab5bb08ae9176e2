"""The yarns of an order in numbers, as far as they decide whether it can be woven."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from weavability.looms.speed import weakest_strength_cn
from weavability.looms.thresholds import Thresholds
from weavability.looms.weft_tension import BRITTLE_PCT
from weavability.textiles.cloth_defaults import AllowanceFacts
from weavability.textiles.numbers import N, Record, Truth, passed
from weavability.textiles.thread_systems import Threads
from weavability.textiles.warp_size import size_by_yarn_pct, size_effect_on
from weavability.textiles.yarn_facts import YarnFacts

WATER_REPELLING: Final = frozenset(
    {
        "polyester",
        "textured-polyester",
        "spun-polyester",
        "acrylic",
        "nylon",
        "polypropylene",
        "hdpe",
        "polyethylene",
        "acetate",
        "glass",
        "carbon",
        "basalt",
        "ptfe",
        "steel",
        "copper",
        "elastane",
    }
)
"""Fibres, by their key, that take up hardly any water: filament of them can be inserted by water,
and warp of them can get wet."""


@dataclass(slots=True, kw_only=True)
class YarnNature(Record[N]):
    """What kind of yarn it is, as far as that decides whether it can be woven.

    Attributes:
        is_monofilament: One filament, or a wire.
        is_tape: A tape, or a spread tow.
        is_bare_elastane: Elastane that no other yarn covers.
        has_elastane: Elastane, bare or in the yarn.
        contracts: Whether it contracts in the cloth beyond what bends it: elastane, yarn of hard
            twist, textured filaments.
        is_carbon: Carbon, in whole or in part.
        is_metal: Metal, in whole or in part.
        twist_factor: Turns/m x root of tex/1000; 0 if no twist is stated.
    """

    is_monofilament: Truth
    is_tape: Truth
    is_bare_elastane: Truth
    has_elastane: Truth
    contracts: Truth
    is_carbon: Truth
    is_metal: Truth
    twist_factor: N


@dataclass(slots=True, kw_only=True)
class WeftNumbers(Record[N]):
    """One weft yarn; a slot that an order does not fill has ``present`` false.

    Attributes:
        share: Its share of the picks, 0 to 1.
        is_brittle: Whether it breaks at so small a stretch that load and stretch are in proportion.
    """

    present: Truth
    tex: N
    weakest_strength_cn: N
    modulus_cn_per_tex: N
    share: N
    is_hydrophobic_filament: Truth
    is_brittle: Truth
    nature: YarnNature[N]


@dataclass(slots=True, kw_only=True)
class WarpNumbers(Record[N]):
    """One warp yarn; a slot that an order does not fill has ``present`` false.

    Attributes:
        size_pct: Size on this yarn, of its own mass; 0 if it is not sized.
        needs_size: Whether it is a single of short staple.
        is_loose: Whether nothing but twist or size holds its filaments together.
        twist_per_m: 0 if not stated.
        is_protection_stated: Whether its twist is stated, or that it is sized or not.
        strength_cn: As it is spun, on which the base tension rests.
        weakest_strength_cn: With its size, as is the modulus.
        repels_water: Whether all its fibres do.
        is_filament: Whether it is filament, which has no hairs and needs no size against them.
    """

    present: Truth
    tex: N
    strength_cn: N
    repels_water: Truth
    is_filament: Truth
    size_pct: N
    needs_size: Truth
    is_loose: Truth
    twist_per_m: N
    is_protection_stated: Truth
    weakest_strength_cn: N
    modulus_cn_per_tex: N
    nature: YarnNature[N]


def warp_numbers(
    warp: Threads, stated_pct: float | None, allowances: AllowanceFacts, thresholds: Thresholds
) -> tuple[WarpNumbers[float], ...]:
    """Gather the numbers of every warp yarn, with its size."""
    return tuple(_each_warp(warp, stated_pct, allowances, thresholds))


def _each_warp(
    warp: Threads, stated_pct: float | None, allowances: AllowanceFacts, thresholds: Thresholds
) -> Iterator[WarpNumbers[float]]:
    sizes = size_by_yarn_pct(warp, stated_pct, allowances.size_pct)
    for key, yarn in warp.yarns.items():
        sized = size_effect_on(allowances.size_effect, yarn, sizes[key])
        yield WarpNumbers(
            present=True,
            tex=yarn.linear_density_tex,
            strength_cn=yarn.strength_cn,
            repels_water=WATER_REPELLING.issuperset(name for name, _ in yarn.fibre.components),
            is_filament=yarn.kind == "filament",
            size_pct=sizes[key],
            needs_size=yarn.is_short_staple_single,
            is_loose=yarn.is_multifilament and not yarn.fibre.is_bulked,
            twist_per_m=yarn.twist_per_m or 0.0,
            is_protection_stated=yarn.twist_per_m is not None or yarn.sized is not None,
            weakest_strength_cn=sized.strength_times
            * weakest_strength_cn(yarn, least_pct=thresholds.usual.yarn_weakest_place_least_pct),
            modulus_cn_per_tex=sized.modulus_times * yarn.modulus_cn_per_tex,
            nature=yarn_nature(yarn, thresholds),
        )


def weft_numbers(yarn: YarnFacts, share: float, thresholds: Thresholds) -> WeftNumbers[float]:
    """Gather the numbers of a weft yarn that has a share of the picks."""
    fibres = (name for name, _ in yarn.fibre.components)
    return WeftNumbers(
        present=True,
        tex=yarn.linear_density_tex,
        weakest_strength_cn=weakest_strength_cn(
            yarn, least_pct=thresholds.usual.yarn_weakest_place_least_pct
        ),
        modulus_cn_per_tex=yarn.modulus_cn_per_tex,
        share=share,
        is_hydrophobic_filament=yarn.kind == "filament" and WATER_REPELLING.issuperset(fibres),
        is_brittle=yarn.breaking_elongation_pct < BRITTLE_PCT,
        nature=yarn_nature(yarn, thresholds),
    )


def yarn_nature(yarn: YarnFacts, thresholds: Thresholds) -> YarnNature[float]:
    """Say what kind of yarn it is."""
    return YarnNature(
        is_monofilament=yarn.is_monofilament,
        is_tape=yarn.is_tape,
        is_bare_elastane=yarn.is_bare_elastane,
        has_elastane=yarn.elastane_pct > 0.0,
        contracts=yarn.elastane_pct > 0.0
        or yarn.fibre.is_bulked
        or bool(passed(yarn.twist_factor, thresholds.usual.yarn_hard_twist_note_factor)),
        is_carbon=yarn.fibre.share_pct("carbon") > 0.0,
        is_metal=yarn.fibre.is_metal,
        twist_factor=yarn.twist_factor,
    )
