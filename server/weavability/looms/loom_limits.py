"""Limits of a loom, resolved: as the loom states them, else starting values.

The starting values and their sources are in ``data/default_limits.toml``; each one that is used
becomes an assumption.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, lru_cache

from weavability.looms.beam_arrangement import Beams, resolve_beams
from weavability.looms.beam_density import BEAM_DENSITY
from weavability.looms.beams import WarpTensionRule
from weavability.looms.carriers import InsertionSetup, InsertionSystem, Rapiers
from weavability.looms.default_limits import Defaults
from weavability.looms.insertion_defaults import resolve_boxes, resolve_motion
from weavability.looms.interference import (
    NO_STOP_RATES,
    Efficiency,
    Running,
    StopRates,
)
from weavability.looms.loom import CurvePoint, Loom
from weavability.looms.loom_contradictions import Extents, impossible_figures, without_room
from weavability.looms.loom_numbers import LoomNumbers
from weavability.looms.reeds import NO_STOCK, ReedStock
from weavability.looms.running_limits import resolve_running
from weavability.looms.shedding_limits import SheddingLimits, resolve_shedding
from weavability.looms.weft_insertion import NO_CURVE, SpeedCurve
from weavability.textiles.assumptions import Assumption, End, Ledger, Moves
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.numbers import Steps
from weavability.textiles.records import record
from weavability.textiles.sentences import say


@record(kw_only=True, eq=False, slots=False)
class LoomLimits:
    """Every limit of a loom as a number; equal looms share one, so it is compared by identity.

    Attributes:
        loom: As stated.
        motion: The insertion; its base tension is 0 until a weft is known.
        base_tension_cn_per_tex: Tension of the weft at rest, by its linear density.
        initial_modulus_times: Initial modulus of a weft over its secant modulus to the break.
        extra_weft_cm: Weft used beyond the reed width at each pick.
        speed_curve: By rising reed width; empty if the loom states none.
        beams: Number, arrangement and width of the beams.
        beam_density_g_per_cm3: 0 if not stated: it then follows from the kind of yarn.
        running: How the loom runs: an efficiency, or the stop rates from which it is computed.
        running_at_best: The same with the least work of mending that is expected, by the bands of
            what is assumed.
        running_at_worst: With the most; both are ``running`` if all of it is stated.
        assumptions: The starting values that were used, with pointers relative to the loom.
    """

    loom: Loom
    system: InsertionSystem
    motion: InsertionSetup
    base_tension_cn_per_tex: float
    initial_modulus_times: float
    max_rate_m_per_min: float
    extra_weft_cm: float
    max_feeder_speed_m_per_min: float
    reed_width_cm: float
    min_reed_width_cm: float
    max_speed_picks_per_min: float
    speed_curve: tuple[CurvePoint, ...]
    shedding: SheddingLimits
    weft_selectors: int
    boxes: tuple[int, int]
    min_picks_per_cm: float
    max_picks_per_cm: float
    min_weft_tex: float
    max_weft_tex: float
    flange_diameter_cm: float
    barrel_diameter_cm: float
    beams: Beams
    beam_density_g_per_cm3: float
    warp_tension: WarpTensionRule
    cloth_roll_diameter_cm: float
    cloth_tube_diameter_cm: float
    max_tightness_pct: float
    reeds_in_stock_dents_per_10cm: tuple[float, ...]
    running: Running
    running_at_best: Running
    running_at_worst: Running
    hours_per_day: float
    assumptions: tuple[Assumption, ...]

    @cached_property
    def assumed(self) -> frozenset[str]:
        """Pointers in the request of everything that is assumed of the loom."""
        found = {"/loom" + line.pointer for line in self.assumptions}
        if not self.beam_density_g_per_cm3:
            found.add(BEAM_DENSITY)
        return frozenset(found)

    @cached_property
    def numbers(self) -> LoomNumbers[float]:
        """The limits in numbers."""
        reeds, warp, running = self.reeds_in_stock_dents_per_10cm, self.warp_tension, self.running
        law = self.motion.motion_law
        return LoomNumbers(
            reed_width_cm=self.reed_width_cm,
            min_reed_width_cm=self.min_reed_width_cm,
            is_shuttle=self.system is InsertionSystem.SHUTTLE,
            is_water_jet=self.system is InsertionSystem.WATER_JET,
            is_jet=self.system.is_jet,
            is_air_jet=self.system is InsertionSystem.AIR_JET,
            is_projectile=self.system is InsertionSystem.PROJECTILE,
            is_rapier=self.system is InsertionSystem.RAPIER,
            is_needle=self.system is InsertionSystem.NEEDLE,
            fewer_boxes=min(self.boxes),
            more_boxes=max(self.boxes),
            max_tightness_pct=self.max_tightness_pct,
            weft_selectors=self.weft_selectors,
            min_weft_tex=self.min_weft_tex,
            max_weft_tex=self.max_weft_tex,
            min_picks_per_cm=self.min_picks_per_cm,
            max_picks_per_cm=self.max_picks_per_cm,
            max_feeder_speed_m_per_min=self.max_feeder_speed_m_per_min,
            extra_weft_cm=self.extra_weft_cm,
            base_tension_cn_per_tex=self.base_tension_cn_per_tex,
            initial_modulus_times=self.initial_modulus_times,
            insertion=self.motion.numbers,
            rapier_law_times=law.peak_acceleration if law else 0.0,
            rapier_strokes=2 if self.motion.rapiers is Rapiers.DOUBLE else 1,
            max_speed_picks_per_min=self.max_speed_picks_per_min,
            speed_curve=SpeedCurve.through(self.speed_curve) if self.speed_curve else NO_CURVE,
            max_rate_m_per_min=self.max_rate_m_per_min,
            max_shedding_speed_picks_per_min=self.shedding.max_speed_picks_per_min,
            reeds=ReedStock(Steps(reeds)) if reeds else NO_STOCK,
            flange_diameter_cm=self.flange_diameter_cm,
            barrel_diameter_cm=self.barrel_diameter_cm,
            beam_width_cm=self.beams.width_cm,
            beams_abreast=self.beams.abreast,
            let_offs=self.beams.let_offs,
            beam_density_g_per_cm3=self.beam_density_g_per_cm3,
            cloth_roll_diameter_cm=self.cloth_roll_diameter_cm,
            cloth_tube_diameter_cm=self.cloth_tube_diameter_cm,
            warp_base_cn_per_tex=warp.base_cn_per_tex,
            warp_base_strength_pct=warp.base_strength_pct,
            warp_beat_up_share=warp.beat_up_share,
            warp_shed_stretch_pct=warp.shed_stretch_pct,
            stops=running.numbers if isinstance(running, StopRates) else NO_STOP_RATES,
            efficiency_pct=running.efficiency_pct if isinstance(running, Efficiency) else 0.0,
        )


@lru_cache(maxsize=4096)
def resolve_loom(loom: Loom) -> LoomLimits:
    """Resolve every limit of a loom to a number.

    Args:
        loom: The loom as stated.

    Returns:
        Its limits as stated; a limit that is not stated has the starting value of its insertion
        system, with a line in ``assumptions``.

    Raises:
        InputError: The limits contradict one another: all contradictions (pointers relative to the
            loom).
    """
    return _limits(loom, None)


def is_possible(loom: Loom) -> bool:
    """Return whether the limits of a loom agree with one another, so that it can be resolved."""
    try:
        resolve_loom(loom)
    except InputError:
        return False
    return True


def resolve_moved_loom(limits: LoomLimits, moves: Moves) -> LoomLimits:
    """Resolve the limits of a loom with other values assumed.

    Those of a loom of which nothing is assumed that is moved are the same.

    Raises:
        InputError: As :func:`resolve_loom` does.
    """
    if not moves.touch(limits.assumed, "/loom/"):
        return limits
    if moves.only is None:
        return _kept_moved(limits.loom, moves)
    own = [
        (at, end) for at, end in moves.ends.items() if at in moves.only and at.startswith("/loom/")
    ]
    return _kept_moved(limits.loom, _moves_of_loom(frozenset(own)))


@lru_cache(maxsize=1024)
def _moves_of_loom(ends: frozenset[tuple[str, End]]) -> Moves:
    """Return moves to some ends; alike ones are one object, so that what follows is kept."""
    return Moves(dict(ends))


@lru_cache(maxsize=2048)
def _kept_moved(loom: Loom, moves: Moves) -> LoomLimits:
    return _limits(loom, moves)


def _limits(loom: Loom, moves: Moves | None) -> LoomLimits:
    """Resolve and judge the limits of a loom; what it states was judged before it is moved."""
    faults = impossible_figures(loom) if moves is None else []
    if faults:
        raise InputError(faults)
    try:
        limits = _resolved(loom, moves)
    except InputError:
        raise InputError(_faults_of_parts(loom)) from None
    faults = list(
        without_room(
            loom,
            Extents(
                min_reed_width_cm=limits.min_reed_width_cm,
                reed_width_cm=limits.reed_width_cm,
                picks_per_cm=(limits.min_picks_per_cm, limits.max_picks_per_cm),
                weft_tex=(limits.min_weft_tex, limits.max_weft_tex),
                flange_diameter_cm=limits.flange_diameter_cm,
                barrel_diameter_cm=limits.barrel_diameter_cm,
                cloth_roll_diameter_cm=limits.cloth_roll_diameter_cm,
                cloth_tube_diameter_cm=limits.cloth_tube_diameter_cm,
            ),
        )
    )
    if faults:
        raise InputError(faults)
    return limits


def _faults_of_parts(loom: Loom) -> list[Fault]:
    """Return the contradictions of every part of a loom, each part read by itself."""
    ledger = Ledger()
    defaults = Defaults(loom, ledger)
    faults: list[Fault] = []
    parts: tuple[Callable[[], object], ...] = (
        lambda: resolve_motion(loom, ledger),
        lambda: resolve_shedding(loom, defaults),
        lambda: resolve_boxes(loom, _weft_selectors(loom, defaults), ledger),
        lambda: resolve_beams(loom, defaults.whole, ledger),
        lambda: _warp_tension(loom, defaults),
        lambda: resolve_running(defaults),
    )
    for part in parts:
        with collecting(faults):
            part()
    faults += without_room(
        loom,
        Extents(
            min_reed_width_cm=defaults.take("/min_reed_width_cm"),
            reed_width_cm=loom.reed_width_cm,
            picks_per_cm=defaults.band("/picks_per_cm"),
            weft_tex=defaults.band("/weft_tex"),
            flange_diameter_cm=defaults.take("/warp_beam/flange_diameter_cm"),
            barrel_diameter_cm=defaults.take("/warp_beam/barrel_diameter_cm"),
            cloth_roll_diameter_cm=defaults.take("/cloth_roll_diameter_cm"),
            cloth_tube_diameter_cm=defaults.take("/cloth_tube_diameter_cm"),
        ),
    )
    return faults


def _resolved(loom: Loom, moves: Moves | None) -> LoomLimits:
    ledger = Ledger() if moves is None else Ledger("/loom", keeps=False, moves=moves)
    defaults = Defaults(loom, ledger)
    take = defaults.take
    motion, of_weft = resolve_motion(loom, ledger)
    min_picks_per_cm, max_picks_per_cm = defaults.band("/picks_per_cm")
    min_weft_tex, max_weft_tex = defaults.band("/weft_tex")
    running = resolve_running(defaults)
    selectors = _weft_selectors(loom, defaults)
    return LoomLimits(
        loom=loom,
        system=loom.insertion.system,
        motion=motion,
        base_tension_cn_per_tex=of_weft["base_tension_cn_per_tex"],
        initial_modulus_times=of_weft["initial_modulus_times"],
        max_rate_m_per_min=take("/insertion/max_rate_m_per_min"),
        extra_weft_cm=take("/insertion/extra_weft_cm"),
        max_feeder_speed_m_per_min=take("/insertion/max_feeder_speed_m_per_min"),
        reed_width_cm=loom.reed_width_cm,
        min_reed_width_cm=take("/min_reed_width_cm"),
        max_speed_picks_per_min=loom.max_speed_picks_per_min,
        speed_curve=tuple(sorted(loom.speed_curve, key=lambda point: point.reed_width_cm)),
        shedding=resolve_shedding(loom, defaults),
        weft_selectors=selectors,
        boxes=resolve_boxes(loom, selectors, ledger),
        min_picks_per_cm=min_picks_per_cm,
        max_picks_per_cm=max_picks_per_cm,
        min_weft_tex=min_weft_tex,
        max_weft_tex=max_weft_tex,
        flange_diameter_cm=take("/warp_beam/flange_diameter_cm"),
        barrel_diameter_cm=take("/warp_beam/barrel_diameter_cm"),
        beams=resolve_beams(loom, defaults.whole, ledger),
        beam_density_g_per_cm3=loom.warp_beam.density_g_per_cm3 or 0.0,
        warp_tension=_warp_tension(loom, defaults),
        cloth_roll_diameter_cm=take("/cloth_roll_diameter_cm"),
        cloth_tube_diameter_cm=take("/cloth_tube_diameter_cm"),
        max_tightness_pct=take("/max_tightness_pct"),
        reeds_in_stock_dents_per_10cm=tuple(sorted(loom.reeds_in_stock_dents_per_10cm)),
        running=running.expected,
        running_at_best=running.at_best,
        running_at_worst=running.at_worst,
        hours_per_day=take("/running/hours_per_day"),
        assumptions=tuple(ledger),
    )


def _warp_tension(loom: Loom, defaults: Defaults) -> WarpTensionRule:
    """Return the rule of the warp tension; a base tension by linear density replaces the share."""
    per_tex, share = loom.warp_strain.base_tension_cn_per_tex, loom.warp_strain.base_tension_pct
    if per_tex is not None and share is not None:
        raise InputError.of(
            "/warp_strain/base_tension_pct",
            say(
                "fault.warp_strain.base_tension_twice",
                "State the base tension of the warp once: leave out "
                "base_tension_cn_per_tex or this.",
            ),
            given=share,
        )
    return WarpTensionRule(
        base_cn_per_tex=0.0 if per_tex is None else per_tex,
        base_strength_pct=defaults.take("/warp_strain/base_tension_pct")
        if per_tex is None
        else 0.0,
        shed_half_height_cm=defaults.take("/warp_strain/shed_half_height_cm"),
        easing_pct=defaults.take("/warp_strain/easing_pct"),
    )


def _weft_selectors(loom: Loom, defaults: Defaults) -> int:
    """Return the wefts that a loom takes; with boxes stated, one box is free for the next pick."""
    if loom.boxes is None or loom.weft_selectors is not None:
        return defaults.whole("/weft_selectors")
    return sum(loom.boxes) - 1
