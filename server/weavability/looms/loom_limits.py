"""Limits of a loom, resolved: as the loom states them, else starting values.

The starting values and their sources are in ``data/default_limits.toml``; each one that is used
becomes an assumption.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from importlib import resources
from math import copysign, hypot, inf
from operator import attrgetter
from typing import Any, Final, NamedTuple

from weavability.looms.beam_arrangement import Beams, resolve_beams
from weavability.looms.beam_density import BEAM_DENSITY
from weavability.looms.beams import WarpTensionRule
from weavability.looms.carriers import InsertionSetup, InsertionSystem
from weavability.looms.harness_tie import TieSection, check_tie, hook_of_end
from weavability.looms.insertion_defaults import resolve_boxes, resolve_motion
from weavability.looms.interference import (
    NO_STOP_RATES,
    Efficiency,
    Running,
    StopRates,
    efficiency_at,
)
from weavability.looms.loom import CurvePoint, Loom, Shedding, SheddingKind
from weavability.looms.loom import Running as StatedRunning
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.loom_contradictions import Extents, impossible_figures, without_room
from weavability.looms.loom_numbers import LoomNumbers, SheddingNumbers
from weavability.looms.reeds import NO_STOCK, ReedStock
from weavability.looms.weft_insertion import SpeedCurve
from weavability.textiles.assumptions import Assumption, Grade, Ledger, Moves, ValueBand
from weavability.textiles.errors import Fault, InputError, collecting, pointing_below
from weavability.textiles.numbers import Steps
from weavability.textiles.sources import cite

DENSEST_HARNESS_ENDS_PER_CM: Final = 80.0
"""The closest to which harnesses are usually tied, for silk; common practice, no source."""

LEAST_EFFICIENCY_PCT: Final = LOOM_BOUNDS["/running/efficiency_pct"].least
"""An efficiency below this is an input error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftLimits:
    """Limits of a cam or dobby motion.

    Attributes:
        kind: ``SheddingKind.CAM`` or ``SheddingKind.DOBBY``.
        shafts: Heald shafts that the loom carries.
        max_repeat_picks: Longest lift repeat.
        max_speed_picks_per_min: Greatest speed of the shedding motion.
        max_healds_per_cm_per_shaft: Crowding limit of the healds.
        max_healds_per_shaft: Healds that fit on one shaft; ``None`` for no limit.
    """

    kind: SheddingKind
    shafts: int
    max_repeat_picks: int
    max_speed_picks_per_min: float
    max_healds_per_cm_per_shaft: float
    max_healds_per_shaft: int | None

    @property
    def numbers(self) -> SheddingNumbers[float]:
        """The limits in numbers."""
        return SheddingNumbers(
            shafts=self.shafts,
            max_healds_per_cm=self.max_healds_per_cm_per_shaft,
            max_healds_per_shaft=at_most(self.max_healds_per_shaft),
            max_lift_picks=self.max_repeat_picks,
            is_jacquard=False,
            hooks=0,
            ends_per_hook=0,
            harness_ends_per_cm=0.0,
            selvedge_hooks=inf,
            tied_ends=0,
            cord_cm=0.0,
            hook_lift_cm=0.0,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class JacquardLimits:
    """Limits of a Jacquard and its harness.

    Attributes:
        hooks: Hooks that lift ends of the ground.
        ends_per_hook: Ends tied to each hook; the most of any hook, if the tie is stated.
        harness_ends_per_cm: Density to which the harness is tied, in the reed.
        selvedge_hooks: Further hooks for the selvedges.
        tie: How the ends are tied to the hooks; empty if it is not stated.
        cord_cm: Height of the hooks above the comber board; ``None`` if it is not stated.
        hook_lift_cm: How high the hooks are lifted; ``None`` if it is not stated.
        max_repeat_picks: Longest design; ``None`` for no limit.
        max_speed_picks_per_min: Greatest speed of the Jacquard.
    """

    hooks: int
    ends_per_hook: int
    harness_ends_per_cm: float
    selvedge_hooks: int
    tie: tuple[TieSection, ...]
    cord_cm: float | None
    hook_lift_cm: float | None
    max_repeat_picks: int | None
    max_speed_picks_per_min: float

    @property
    def kind(self) -> SheddingKind:
        """The kind of shedding, as for shafts."""
        return SheddingKind.JACQUARD

    @property
    def numbers(self) -> SheddingNumbers[float]:
        """The limits in numbers."""
        return SheddingNumbers(
            shafts=inf,
            max_healds_per_cm=inf,
            max_healds_per_shaft=inf,
            max_lift_picks=at_most(self.max_repeat_picks),
            is_jacquard=True,
            hooks=self.hooks,
            ends_per_hook=self.ends_per_hook,
            harness_ends_per_cm=self.harness_ends_per_cm,
            selvedge_hooks=self.selvedge_hooks,
            tied_ends=sum(section.ends for section in self.tie),
            cord_cm=self.cord_cm or 0.0,
            hook_lift_cm=self.hook_lift_cm or 0.0,
        )


def at_most(limit: float | None) -> float:
    """Return a greatest limit as a number: infinity if there is none."""
    return inf if limit is None else limit


SheddingLimits = ShaftLimits | JacquardLimits


@dataclass(frozen=True, kw_only=True, eq=False)
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
            max_speed_picks_per_min=self.max_speed_picks_per_min,
            speed_curve=SpeedCurve.through(self.speed_curve) if self.speed_curve else None,
            max_rate_m_per_min=self.max_rate_m_per_min,
            max_shedding_speed_picks_per_min=self.shedding.max_speed_picks_per_min,
            reeds=ReedStock(Steps(reeds)) if reeds else NO_STOCK,
            flange_diameter_cm=self.flange_diameter_cm,
            barrel_diameter_cm=self.barrel_diameter_cm,
            beam_width_cm=self.beams.width_cm,
            beams_abreast=self.beams.abreast,
            let_offs=self.beams.let_offs,
            beam_density_g_per_cm3=self.beam_density_g_per_cm3,
            warp_base_cn_per_tex=warp.base_cn_per_tex,
            warp_base_strength_pct=warp.base_strength_pct,
            warp_beat_up_share=warp.beat_up_share,
            warp_shed_stretch_pct=warp.shed_stretch_pct,
            stops=running.numbers if isinstance(running, StopRates) else NO_STOP_RATES,
            efficiency_pct=running.efficiency_pct if isinstance(running, Efficiency) else 0.0,
        )


def default_limits_text() -> str:
    """Return the table of starting values as it is stored; it belongs to the rule set."""
    return resources.files("weavability").joinpath("data/default_limits.toml").read_text("utf-8")


@cache
def default_limits() -> Mapping[str, Mapping[str, Any]]:
    """Return the starting values of limits by the pointer of their field.

    A row has ``value``, ``values`` by insertion system, or ``share_of_reed_width`` by insertion
    system; ``band``, ``bands`` or ``share_bands`` in the same way; ``source`` and ``grade``, or
    ``sources`` and ``grades`` by insertion system; and ``unit``, if it has one.
    """
    rows: dict[str, dict[str, Any]] = tomllib.loads(default_limits_text())["limits"]
    return rows


def starting_value(*pointers: str) -> str:
    """Return a starting value with its source, as checks of the limit quote it.

    Args:
        pointers: The field; or the fields of both ends of a range, which have one source.

    >>> starting_value("/picks_per_cm/min", "/picks_per_cm/max")
    '3-120 picks/cm if the loom does not state it: [COMMON-PRACTICE]'
    """
    rows = [default_limits()[pointer] for pointer in pointers]
    values = [
        value
        for row in rows
        for value in (row["values"].values() if "values" in row else (row["value"],))
    ]
    ends = "-".join(f"{value:g}" for value in sorted({min(values), max(values)}))
    return f"{ends} {rows[0]['unit']} if the loom does not state it: {rows[0]['source']}"


@dataclass(slots=True)
class _Defaults:
    """Takes the limits that one loom states, and notes a starting value for every other one."""

    loom: Loom
    ledger: Ledger

    def take(self, pointer: str) -> float:
        """Return the limit at a pointer relative to the loom: as stated, else as usual."""
        stated: float | None = _stated(self.loom, pointer)
        return self._noted(pointer, self._usual(pointer)) if stated is None else stated

    def whole(self, pointer: str) -> int:
        return int(self.take(pointer))

    def band(self, pointer: str) -> tuple[float, float]:
        """Return both ends of a range; an end left open gives way to the one that is stated."""
        low: float | None = _stated(self.loom, f"{pointer}/min")
        high: float | None = _stated(self.loom, f"{pointer}/max")
        if low is None:
            usual = self._usual(f"{pointer}/min")
            low = self._noted(f"{pointer}/min", usual if high is None else min(usual, high))
        if high is None:
            high = self._noted(f"{pointer}/max", max(self._usual(f"{pointer}/max"), low))
        return low, high

    def _noted(self, pointer: str, value: float) -> float:
        row, system = default_limits()[pointer], self.loom.insertion.system.value
        source: str = row["sources"][system] if "sources" in row else row["source"]
        return self.ledger.note(
            pointer,
            value,
            unit=row.get("unit"),
            reason=cite(source),
            grade=Grade(row["grades"][system] if "grades" in row else row["grade"]),
            band=self._band(row, value),
        )

    def _band(self, row: Mapping[str, Any], value: float) -> ValueBand | None:
        """Return the band of a starting value, which holds it even beside a stated other end.

        What is one unless more are stated, as beams are, has none.
        """
        system, per = self.loom.insertion.system.value, 1.0
        if "share_bands" in row:
            ends, per = row["share_bands"][system], self.loom.reed_width_cm
        else:
            ends = row["bands"][system] if "bands" in row else row.get("band")
        if ends is None:
            return None
        low, high = (float(end) if per == 1 else round(end * per, 1) for end in ends)
        return ValueBand(min(low, value), max(high, value))

    def ends(self, pointer: str, value: float) -> tuple[float, float]:
        """Return between which values a limit is expected: one that is stated is what it is."""
        line = self.ledger.lines.get(pointer)
        band = None if line is None else line.band
        return (value, value) if band is None else (band.low, band.high)

    def _usual(self, pointer: str) -> float:
        row, system = default_limits()[pointer], self.loom.insertion.system.value
        if "share_of_reed_width" in row:
            return round(float(row["share_of_reed_width"][system]) * self.loom.reed_width_cm, 1)
        value: float = row["values"][system] if "values" in row else row["value"]
        return value


def _stated(loom: Loom, pointer: str) -> Any:
    return attrgetter(pointer[1:].replace("/", "."))(loom)


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


def resolve_moved_loom(loom: Loom, moves: Moves) -> LoomLimits:
    """Resolve the limits of a loom with other values assumed; kept unless it is for one order.

    Raises:
        InputError: As :func:`resolve_loom` does.
    """
    return _kept_moved(loom, moves) if moves.only is None else _limits(loom, moves)


@lru_cache(maxsize=512)
def _kept_moved(loom: Loom, moves: Moves) -> LoomLimits:
    return _limits(loom, moves)


def _limits(loom: Loom, moves: Moves | None) -> LoomLimits:
    """Resolve and judge the limits of a loom."""
    faults = impossible_figures(loom)
    if faults:
        raise InputError(faults)
    try:
        limits = _resolved(loom, moves)
    except InputError:
        raise InputError(_faults_of_parts(loom)) from None
    faults = list(
        without_room(
            Extents(
                min_reed_width_cm=limits.min_reed_width_cm,
                reed_width_cm=limits.reed_width_cm,
                picks_per_cm=(limits.min_picks_per_cm, limits.max_picks_per_cm),
                weft_tex=(limits.min_weft_tex, limits.max_weft_tex),
                flange_diameter_cm=limits.flange_diameter_cm,
                barrel_diameter_cm=limits.barrel_diameter_cm,
                cloth_roll_diameter_cm=limits.cloth_roll_diameter_cm,
                cloth_tube_diameter_cm=limits.cloth_tube_diameter_cm,
            )
        )
    )
    if faults:
        raise InputError(faults)
    return limits


def _faults_of_parts(loom: Loom) -> list[Fault]:
    """Return the contradictions of every part of a loom, each part read by itself."""
    ledger = Ledger()
    defaults = _Defaults(loom, ledger)
    faults: list[Fault] = []
    parts: tuple[Callable[[], object], ...] = (
        lambda: resolve_motion(loom, ledger),
        lambda: _shedding(loom, defaults),
        lambda: resolve_boxes(loom, _weft_selectors(loom, defaults), ledger),
        lambda: resolve_beams(loom, defaults.whole, ledger),
        lambda: _warp_tension(loom, defaults),
        lambda: _running(defaults),
    )
    for part in parts:
        with collecting(faults):
            part()
    faults += without_room(
        Extents(
            min_reed_width_cm=defaults.take("/min_reed_width_cm"),
            reed_width_cm=loom.reed_width_cm,
            picks_per_cm=defaults.band("/picks_per_cm"),
            weft_tex=defaults.band("/weft_tex"),
            flange_diameter_cm=defaults.take("/warp_beam/flange_diameter_cm"),
            barrel_diameter_cm=defaults.take("/warp_beam/barrel_diameter_cm"),
            cloth_roll_diameter_cm=defaults.take("/cloth_roll_diameter_cm"),
            cloth_tube_diameter_cm=defaults.take("/cloth_tube_diameter_cm"),
        )
    )
    return faults


def _resolved(loom: Loom, moves: Moves | None) -> LoomLimits:
    ledger = Ledger() if moves is None else Ledger("/loom", keeps=False, moves=moves)
    defaults = _Defaults(loom, ledger)
    take = defaults.take
    motion, of_weft = resolve_motion(loom, ledger)
    min_picks_per_cm, max_picks_per_cm = defaults.band("/picks_per_cm")
    min_weft_tex, max_weft_tex = defaults.band("/weft_tex")
    running = _running(defaults)
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
        shedding=_shedding(loom, defaults),
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


def _warp_tension(loom: Loom, defaults: _Defaults) -> WarpTensionRule:
    """Return the rule of the warp tension; a base tension by linear density replaces the share."""
    per_tex, share = loom.warp_strain.base_tension_cn_per_tex, loom.warp_strain.base_tension_pct
    if per_tex is not None and share is not None:
        raise InputError.of(
            "/warp_strain/base_tension_pct",
            "State the base tension of the warp once: leave out base_tension_cn_per_tex or this.",
            given=share,
        )
    return WarpTensionRule(
        base_cn_per_tex=per_tex or 0.0,
        base_strength_pct=0.0 if per_tex else defaults.take("/warp_strain/base_tension_pct"),
        shed_half_height_cm=defaults.take("/warp_strain/shed_half_height_cm"),
        easing_pct=defaults.take("/warp_strain/easing_pct"),
    )


def _weft_selectors(loom: Loom, defaults: _Defaults) -> int:
    """Return the wefts that a loom takes; with boxes stated, one box is free for the next pick."""
    if loom.boxes is None or loom.weft_selectors is not None:
        return defaults.whole("/weft_selectors")
    return sum(loom.boxes) - 1


def _shedding(loom: Loom, defaults: _Defaults) -> SheddingLimits:
    if loom.shedding.kind is SheddingKind.JACQUARD:
        return _jacquard(loom, defaults.ledger)
    given = loom.shedding
    cam = given.kind is SheddingKind.CAM
    if given.shafts is None:
        raise _missing(given, "shafts", "the heald shafts that the loom carries, such as 8")
    return ShaftLimits(
        kind=given.kind,
        shafts=given.shafts,
        max_repeat_picks=defaults.whole(
            f"/shedding/{'max_repeat_picks' if cam else 'max_pattern_picks'}"
        ),
        max_speed_picks_per_min=_shedding_speed(loom, defaults.ledger),
        max_healds_per_cm_per_shaft=defaults.take("/shedding/max_healds_per_cm_per_shaft"),
        max_healds_per_shaft=given.max_healds_per_shaft,
    )


def _jacquard(loom: Loom, ledger: Ledger) -> JacquardLimits:
    given = loom.shedding
    if given.hooks is None:
        raise _missing(given, "hooks", "the hooks that lift ends of the ground, such as 2688")
    with pointing_below("/shedding/tie"):
        check_tie(given.tie, given.hooks)
    if given.tie:
        tied = hook_of_end(given.tie)
        ends_per_hook, ends = max(Counter(tied).values()), len(tied)
    else:
        ends_per_hook = _ends_per_hook(given, given.hooks, loom.reed_width_cm, ledger)
        ends = given.hooks * ends_per_hook
    density = float(f"{ends / loom.reed_width_cm:.6g}")
    return JacquardLimits(
        hooks=given.hooks,
        ends_per_hook=ends_per_hook,
        tie=given.tie,
        cord_cm=given.cord_cm,
        hook_lift_cm=given.hook_lift_cm,
        max_repeat_picks=given.max_pattern_picks,
        max_speed_picks_per_min=_shedding_speed(loom, ledger),
        harness_ends_per_cm=ledger.take(
            "/shedding/harness_ends_per_cm",
            given.harness_ends_per_cm,
            density,
            unit="ends/cm",
            reason="ends of the harness / reed width: harness tied to the full width",
            grade=Grade.ESTIMATE,
            band=ValueBand(density, max(density, DENSEST_HARNESS_ENDS_PER_CM)),
        ),
        selvedge_hooks=ledger.take(
            "/shedding/selvedge_hooks",
            given.selvedge_hooks,
            16,
            unit=None,
            reason="common practice, no source",
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(8, 64),
        ),
    )


def _ends_per_hook(given: Shedding, hooks: int, reed_width_cm: float, ledger: Ledger) -> int:
    """Return the ends on a hook: as stated, by the density of the harness, else one."""
    usual, reason = 1, "one repeat across the width; state it for a harness tied in several repeats"
    most = int(LOOM_BOUNDS["/shedding/ends_per_hook"].most)
    if given.harness_ends_per_cm is not None:
        usual = min(max(1, round(given.harness_ends_per_cm * reed_width_cm / hooks)), most)
        reason = "harness density x reed width / hooks"
    densest = min(int(DENSEST_HARNESS_ENDS_PER_CM * reed_width_cm / hooks), most)
    return ledger.take(
        "/shedding/ends_per_hook",
        given.ends_per_hook,
        usual,
        unit=None,
        reason=reason,
        grade=Grade.ESTIMATE,
        band=ValueBand(1, max(usual, densest)),
    )


def _shedding_speed(loom: Loom, ledger: Ledger) -> float:
    return ledger.take(
        "/shedding/max_speed_picks_per_min",
        loom.shedding.max_speed_picks_per_min,
        loom.max_speed_picks_per_min,
        unit="picks/min",
        reason="the loom's own greatest speed: no lower one is stated for the shedding motion",
        grade=Grade.ESTIMATE,
        band=ValueBand(0.5 * loom.max_speed_picks_per_min, loom.max_speed_picks_per_min),
    )


def _missing(shedding: Shedding, name: str, example: str) -> InputError:
    return InputError.of(
        f"/shedding/{name}",
        f"A {shedding.kind} loom needs shedding.{name}: {example}.",
        allowed="a whole number above 0",
    )


STOP_RATES: Final = (
    "warp_stops_per_100k_picks",
    "weft_stops_per_100k_picks",
    "minutes_per_warp_stop",
    "minutes_per_weft_stop",
)
CREW: Final = ("looms_per_weaver", "looms_per_set", "weavers")
"""Fields of a loom's running from which its efficiency is computed: stops, and who mends them."""


class _RunningBand(NamedTuple):
    expected: Running
    at_best: Running
    at_worst: Running


def _running(defaults: _Defaults) -> _RunningBand:
    """Return how a loom runs, and at the ends of the bands of what of it is assumed."""
    given = defaults.loom.running
    stated = [name for name in (*STOP_RATES, *CREW) if getattr(given, name) is not None]
    if not stated:
        value = defaults.take("/running/efficiency_pct")
        low, high = defaults.ends("/running/efficiency_pct", value)
        return _RunningBand(*(Efficiency(efficiency_pct=each) for each in (value, high, low)))
    if given.efficiency_pct is not None:
        raise InputError.of(
            f"/running/{stated[0]}",
            f"Leave out {stated[0]}: the efficiency is given; either it or the stop rates.",
            given=getattr(given, stated[0]),
        )
    looms, weavers = _crew(given)
    rates = {name: defaults.take(f"/running/{name}") for name in STOP_RATES}
    expected = StopRates(**rates, looms_per_set=looms, weavers=weavers)
    _refuse_no_running_time(expected, defaults.loom.max_speed_picks_per_min)
    ends = {name: defaults.ends(f"/running/{name}", rate) for name, rate in rates.items()}
    moved: list[dict[str, Any]] = [{name: ends[name][at] for name in STOP_RATES} for at in (0, 1)]
    least, most = (
        _with_work(expected, [replace(expected, **{name: each[name]}) for name in STOP_RATES])
        for each in moved
    )
    return _RunningBand(expected, least, most)


def _with_work(expected: StopRates, moved: Sequence[StopRates]) -> StopRates:
    """Return stops with the work of mending that is expected if each rate may be moved so far.

    The rates have nothing to do with one another, so that they are not all at the same end: their
    effects on the work are added as independent errors are, by squares.
    """
    work = expected.minutes_per_100k_picks
    if work <= 0.0:
        return moved[0]
    changes = [each.minutes_per_100k_picks - work for each in moved]
    times = 1 + copysign(hypot(*changes), sum(changes)) / work
    return replace(
        expected,
        warp_stops_per_100k_picks=max(times, 0.0) * expected.warp_stops_per_100k_picks,
        weft_stops_per_100k_picks=max(times, 0.0) * expected.weft_stops_per_100k_picks,
    )


def _crew(given: StatedRunning) -> tuple[int, int]:
    """Return the looms that weavers mind together, and the weavers."""
    looms, weavers = given.looms_per_set, given.weavers
    if given.looms_per_weaver is not None and looms is None and weavers is None:
        return given.looms_per_weaver, 1
    if given.looms_per_weaver is not None or looms is None or weavers is None or weavers > looms:
        raise InputError.of(
            "/running/looms_per_weaver" if looms is None else "/running/looms_per_set",
            "State either looms_per_weaver alone, or looms_per_set and weavers, at most as many.",
            given=looms,
            allowed={"looms_per_weaver": 12},
        )
    return looms, weavers


def _refuse_no_running_time(stops: StopRates, speed_picks_per_min: float) -> None:
    """Refuse stops that leave no time to weave: stops or minutes are mistaken."""
    efficiency_pct = efficiency_at(stops, speed_picks_per_min=speed_picks_per_min)
    if efficiency_pct < LEAST_EFFICIENCY_PCT:
        raise InputError.of(
            "/running/warp_stops_per_100k_picks",
            f"These stops let the loom run {efficiency_pct:.2g} % of the time at its "
            "greatest speed; correct the stops, the minutes for each or the looms per weaver.",
            given=stops.warp_stops_per_100k_picks,
            allowed=f"stops that let it run at least {LEAST_EFFICIENCY_PCT:g} % of the time",
        )
