"""A loom's limits, all of them: what the loom states, and starting values for the rest.

The starting values stand in ``data/default_limits.toml`` with their sources; each one that is used
becomes an assumption.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from operator import attrgetter
from typing import Any

from weavability.looms.beams import WarpTensionRule, winding_diameter_cm
from weavability.looms.carriers import InsertionSetup, InsertionSystem, default_insertion
from weavability.looms.guards import between, positive
from weavability.looms.interference import StopRates, efficiency_from_stops
from weavability.looms.loom import Band, CurvePoint, Loom, Shedding, SheddingKind
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.weft_insertion import speed_on_curve
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.bounds import Bounds
from weavability.textiles.errors import InputError, pointing_below

LEAST_EFFICIENCY_PCT = LOOM_BOUNDS["/running/efficiency_pct"].least
"""A loom that runs less stands: the figure is mistaken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheddingLimits:
    """Shedding with every limit that applies to its kind; ``None`` does not apply."""

    kind: SheddingKind
    shafts: int | None
    max_repeat_picks: int | None
    max_speed_picks_per_min: float
    max_healds_per_cm_per_shaft: float | None
    max_healds_per_shaft: int | None
    hooks: int | None
    ends_per_hook: int | None
    harness_ends_per_cm: float | None
    selvedge_hooks: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomLimits:
    """Every limit of a loom as a number.

    Attributes:
        base_tension_cn_per_tex: Tension of the weft at rest, by its linear density.
        stop_rates: Where the loom states stop rates; then ``efficiency_pct`` is ``None``.
        assumptions: The starting values that were used, with pointers relative to the loom.
    """

    system: InsertionSystem
    motion: InsertionSetup
    base_tension_cn_per_tex: float
    max_rate_m_per_min: float
    extra_weft_cm: float
    max_feeder_speed_m_per_min: float
    reed_width_cm: float
    min_reed_width_cm: float
    max_speed_picks_per_min: float
    speed_curve: tuple[CurvePoint, ...]
    shedding: SheddingLimits
    weft_selectors: int
    min_picks_per_cm: float
    max_picks_per_cm: float
    min_weft_tex: float
    max_weft_tex: float
    flange_diameter_cm: float
    barrel_diameter_cm: float
    beam_width_cm: float
    beam_count: int
    beam_density_g_per_cm3: float
    warp_tension: WarpTensionRule
    cloth_roll_diameter_cm: float
    cloth_tube_diameter_cm: float
    max_tightness_pct: float
    reeds_in_stock_dents_per_10cm: tuple[float, ...]
    efficiency_pct: float | None
    stop_rates: StopRates | None
    hours_per_day: float
    assumptions: tuple[Assumption, ...]


@cache
def _defaults() -> Mapping[str, Any]:
    text = resources.files("weavability").joinpath("data/default_limits.toml").read_text("utf-8")
    limits: Mapping[str, Any] = tomllib.loads(text)["limits"]
    return limits


def default_limits_text() -> str:
    """The table of starting values as it is stored; part of what a rule set is."""
    return resources.files("weavability").joinpath("data/default_limits.toml").read_text("utf-8")


@dataclass(slots=True)
class _Defaults:
    """Looks starting values up for one loom and writes them into its ledger."""

    loom: Loom
    ledger: Ledger

    def take(self, pointer: str, given: float | None) -> float:
        return self._noted(pointer, self._usual(pointer)) if given is None else given

    def band(self, pointer: str, given: Band) -> tuple[float, float]:
        """Both ends of a range; an end that is left open gives way to the one that is stated."""
        low, high = given.min, given.max
        if low is None:
            usual = self._usual(f"{pointer}/min")
            low = self._noted(f"{pointer}/min", usual if high is None else min(usual, high))
        if high is None:
            high = self._noted(f"{pointer}/max", max(self._usual(f"{pointer}/max"), low))
        return low, high

    def _noted(self, pointer: str, value: float) -> float:
        row, system = _defaults()[pointer], self.loom.insertion.system.value
        source = row["sources"][system] if "sources" in row else row["source"]
        return self.ledger.note(
            pointer,
            value,
            unit=row.get("unit"),
            reason=source.replace("c.p.", "common practice, no source"),
        )

    def whole(self, pointer: str, given: int | None) -> int:
        return int(self.take(pointer, given))

    def _usual(self, pointer: str) -> float:
        row, system = _defaults()[pointer], self.loom.insertion.system.value
        if "share_of_reed_width" in row:
            return round(float(row["share_of_reed_width"][system]) * self.loom.reed_width_cm, 1)
        value: float = row["values"][system] if "values" in row else row["value"]
        return value


@lru_cache(maxsize=4096)
def resolve_loom(loom: Loom) -> LoomLimits:
    """Give every limit of a loom a number.

    Raises:
        InputError: The limits contradict one another (pointers relative to the loom).
    """
    _refuse_impossible(loom)
    ledger = Ledger()
    defaults = _Defaults(loom, ledger)
    insertion = loom.insertion
    motion, base_tension = _motion(loom, ledger)
    min_picks_per_cm, max_picks_per_cm = defaults.band("/picks_per_cm", loom.picks_per_cm)
    min_weft_tex, max_weft_tex = defaults.band("/weft_tex", loom.weft_tex)
    stop_rates = _stop_rates(loom)
    limits = LoomLimits(
        system=insertion.system,
        motion=motion,
        base_tension_cn_per_tex=base_tension,
        max_rate_m_per_min=defaults.take(
            "/insertion/max_rate_m_per_min", insertion.max_rate_m_per_min
        ),
        extra_weft_cm=defaults.take("/insertion/extra_weft_cm", insertion.extra_weft_cm),
        max_feeder_speed_m_per_min=defaults.take(
            "/insertion/max_feeder_speed_m_per_min", insertion.max_feeder_speed_m_per_min
        ),
        reed_width_cm=loom.reed_width_cm,
        min_reed_width_cm=defaults.take("/min_reed_width_cm", loom.min_reed_width_cm),
        max_speed_picks_per_min=loom.max_speed_picks_per_min,
        speed_curve=tuple(sorted(loom.speed_curve, key=lambda point: point.reed_width_cm)),
        shedding=_shedding(loom, defaults),
        weft_selectors=defaults.whole("/weft_selectors", loom.weft_selectors),
        min_picks_per_cm=min_picks_per_cm,
        max_picks_per_cm=max_picks_per_cm,
        min_weft_tex=min_weft_tex,
        max_weft_tex=max_weft_tex,
        flange_diameter_cm=defaults.take(
            "/warp_beam/flange_diameter_cm", loom.warp_beam.flange_diameter_cm
        ),
        barrel_diameter_cm=defaults.take(
            "/warp_beam/barrel_diameter_cm", loom.warp_beam.barrel_diameter_cm
        ),
        beam_width_cm=ledger.take(
            "/warp_beam/width_cm",
            loom.warp_beam.width_cm,
            loom.reed_width_cm,
            unit="cm",
            reason="flanges set to the reed width; common practice, no source",
        ),
        beam_count=defaults.whole("/warp_beam/count", loom.warp_beam.count),
        beam_density_g_per_cm3=defaults.take(
            "/warp_beam/density_g_per_cm3", loom.warp_beam.density_g_per_cm3
        ),
        warp_tension=WarpTensionRule(
            base_cn_per_tex=defaults.take(
                "/warp_strain/base_tension_cn_per_tex", loom.warp_strain.base_tension_cn_per_tex
            ),
            shed_half_height_cm=defaults.take(
                "/warp_strain/shed_half_height_cm", loom.warp_strain.shed_half_height_cm
            ),
        ),
        cloth_roll_diameter_cm=defaults.take(
            "/cloth_roll_diameter_cm", loom.cloth_roll_diameter_cm
        ),
        cloth_tube_diameter_cm=defaults.take(
            "/cloth_tube_diameter_cm", loom.cloth_tube_diameter_cm
        ),
        max_tightness_pct=defaults.take("/max_tightness_pct", loom.max_tightness_pct),
        reeds_in_stock_dents_per_10cm=tuple(sorted(loom.reeds_in_stock_dents_per_10cm)),
        efficiency_pct=None
        if stop_rates
        else defaults.take("/running/efficiency_pct", loom.running.efficiency_pct),
        stop_rates=stop_rates,
        hours_per_day=defaults.take("/running/hours_per_day", loom.running.hours_per_day),
        assumptions=tuple(ledger),
    )
    _refuse_contradictions(limits)
    return limits


def _shedding(loom: Loom, defaults: _Defaults) -> SheddingLimits:
    given = loom.shedding
    if given.kind is SheddingKind.JACQUARD:
        return _jacquard(loom, defaults.ledger)
    pointer = "max_repeat_picks" if given.kind is SheddingKind.CAM else "max_pattern_picks"
    stated = given.max_repeat_picks if given.kind is SheddingKind.CAM else given.max_pattern_picks
    if given.shafts is None:
        raise _missing(given, "shafts", "the heald shafts that the loom carries, such as 8")
    return SheddingLimits(
        kind=given.kind,
        shafts=given.shafts,
        max_repeat_picks=defaults.whole(f"/shedding/{pointer}", stated),
        max_speed_picks_per_min=_shedding_speed(loom, defaults.ledger),
        max_healds_per_cm_per_shaft=defaults.take(
            "/shedding/max_healds_per_cm_per_shaft", given.max_healds_per_cm_per_shaft
        ),
        max_healds_per_shaft=given.max_healds_per_shaft,
        hooks=None,
        ends_per_hook=None,
        harness_ends_per_cm=None,
        selvedge_hooks=None,
    )


def _jacquard(loom: Loom, ledger: Ledger) -> SheddingLimits:
    given = loom.shedding
    if given.hooks is None:
        raise _missing(given, "hooks", "the hooks that lift ends of the ground, such as 2688")
    ends_per_hook = given.ends_per_hook
    density = given.harness_ends_per_cm
    if ends_per_hook is None and density is not None:
        ends_per_hook = ledger.note(
            "/shedding/ends_per_hook",
            max(1, round(density * loom.reed_width_cm / given.hooks)),
            unit=None,
            reason="harness density x reed width / hooks",
        )
    ends_per_hook = ledger.take(
        "/shedding/ends_per_hook",
        ends_per_hook,
        1,
        unit=None,
        reason="one repeat across the width; state it for a harness tied in several repeats",
    )
    return SheddingLimits(
        kind=given.kind,
        shafts=None,
        max_repeat_picks=given.max_pattern_picks,
        max_speed_picks_per_min=_shedding_speed(loom, ledger),
        max_healds_per_cm_per_shaft=None,
        max_healds_per_shaft=None,
        hooks=given.hooks,
        ends_per_hook=ends_per_hook,
        harness_ends_per_cm=ledger.take(
            "/shedding/harness_ends_per_cm",
            density,
            float(f"{given.hooks * ends_per_hook / loom.reed_width_cm:.6g}"),
            unit="ends/cm",
            reason="hooks x ends per hook / reed width: harness tied to the full width",
        ),
        selvedge_hooks=ledger.take(
            "/shedding/selvedge_hooks",
            given.selvedge_hooks,
            16,
            unit=None,
            reason="common practice, no source",
        ),
    )


def _shedding_speed(loom: Loom, ledger: Ledger) -> float:
    return ledger.take(
        "/shedding/max_speed_picks_per_min",
        loom.shedding.max_speed_picks_per_min,
        loom.max_speed_picks_per_min,
        unit="picks/min",
        reason="the loom's own greatest speed: no lower one is stated for the shedding motion",
    )


def _missing(shedding: Shedding, name: str, example: str) -> InputError:
    return InputError.of(
        f"/shedding/{name}",
        f"A {shedding.kind} loom needs shedding.{name}: {example}.",
        allowed="a whole number above 0",
    )


_MOTION_FIELDS = (
    "entry_deg",
    "transfer_deg",
    "exit_deg",
    "motion_law",
    "rapiers",
    "overrun_cm",
    "carrier_length_cm",
    "launch_length_cm",
    "stopping_length_cm",
    "free_weft_length_m",
    "base_tension_cn_per_tex",
)


def _motion(loom: Loom, ledger: Ledger) -> tuple[InsertionSetup, float]:
    """The insertion motion as stated, completed by the defaults of its insertion system.

    The base tension follows the weft, so it is returned by its linear density and left 0 here.
    """
    system = loom.insertion.system
    defaults = default_insertion(system)
    values: dict[str, Any] = {}
    for name in _MOTION_FIELDS:
        given = getattr(loom.insertion, name)
        if given is not None:
            values[name] = given
        elif name in defaults:
            value, unit, reason = defaults[name]
            values[name] = ledger.note(f"/insertion/{name}", value, unit=unit, reason=reason)
    if "motion_law" in values:
        values["motion_law"] = MotionLaw(values["motion_law"])
    base_tension_cn_per_tex = values.pop("base_tension_cn_per_tex")
    with pointing_below("/insertion"):
        setup = InsertionSetup(system=system, base_tension_cn=0.0, **values)
    return setup, base_tension_cn_per_tex


_STOP_FIELDS = (
    "warp_stops_per_100k_picks",
    "weft_stops_per_100k_picks",
    "minutes_per_warp_stop",
    "minutes_per_weft_stop",
    "looms_per_weaver",
)


def _stop_rates(loom: Loom) -> StopRates | None:
    given = {name: getattr(loom.running, name) for name in _STOP_FIELDS}
    missing = [name for name, value in given.items() if value is None]
    if len(missing) == len(given):
        return None
    if missing or loom.running.efficiency_pct is not None:
        raise InputError.of(
            f"/running/{missing[0]}" if missing else "/running/efficiency_pct",
            "State either running.efficiency_pct alone, or all stop rates: "
            + ", ".join(_STOP_FIELDS)
            + ".",
            allowed={"efficiency_pct": 88},
        )
    stops = StopRates(**given)
    _refuse_standing(stops, loom.max_speed_picks_per_min)
    return stops


def _refuse_standing(stops: StopRates, speed_picks_per_min: float) -> None:
    """Refuse stops that leave no time to weave: stops or minutes are mistaken."""
    running = efficiency_from_stops(stops, speed_picks_per_min=speed_picks_per_min)
    if running.efficiency_pct < LEAST_EFFICIENCY_PCT:
        raise InputError.of(
            "/running/warp_stops_per_100k_picks",
            f"These stops let the loom run {running.efficiency_pct:.2g} % of the time at its "
            "greatest speed; correct the stops, the minutes for each or the looms per weaver.",
            given=stops.warp_stops_per_100k_picks,
            allowed=f"stops that let it run at least {LEAST_EFFICIENCY_PCT:g} % of the time",
        )


_BOUNDED = (
    "reed_width_cm",
    "min_reed_width_cm",
    "max_speed_picks_per_min",
    "weft_selectors",
    "cloth_roll_diameter_cm",
    "cloth_tube_diameter_cm",
    "max_tightness_pct",
    "insertion/max_rate_m_per_min",
    "insertion/max_feeder_speed_m_per_min",
    "shedding/shafts",
    "shedding/max_repeat_picks",
    "shedding/max_pattern_picks",
    "shedding/max_speed_picks_per_min",
    "shedding/max_healds_per_cm_per_shaft",
    "shedding/max_healds_per_shaft",
    "shedding/hooks",
    "shedding/ends_per_hook",
    "picks_per_cm/min",
    "picks_per_cm/max",
    "weft_tex/min",
    "weft_tex/max",
    "warp_beam/flange_diameter_cm",
    "warp_beam/barrel_diameter_cm",
    "warp_beam/width_cm",
    "warp_beam/count",
    "warp_beam/density_g_per_cm3",
    "running/efficiency_pct",
    "running/hours_per_day",
)


def _refuse_impossible(loom: Loom) -> None:
    """Refuse figures that no loom has, so that whatever is computed from them is a number."""
    for name in _BOUNDED:
        value = attrgetter(name.replace("/", "."))(loom)
        if value is not None:
            _within(name, value, LOOM_BOUNDS[f"/{name}"])
    # Hooks and width, each within its bounds, may give a density that nobody would state.
    if loom.shedding.harness_ends_per_cm is not None:
        positive("shedding/harness_ends_per_cm", loom.shedding.harness_ends_per_cm)
    reed_bounds = LOOM_BOUNDS["/reeds_in_stock_dents_per_10cm"]
    for place, reed in enumerate(loom.reeds_in_stock_dents_per_10cm):
        _within(f"reeds_in_stock_dents_per_10cm/{place}", reed, reed_bounds)
    if loom.speed_curve:
        speed_on_curve(loom.speed_curve, reed_width_cm=loom.reed_width_cm)


def _within(name: str, value: float, bounds: Bounds) -> None:
    between(name, value, least=bounds.least, most=bounds.most)


def _refuse_contradictions(limits: LoomLimits) -> None:
    pairs = (
        ("/min_reed_width_cm", limits.min_reed_width_cm, limits.reed_width_cm, "reed_width_cm"),
        ("/picks_per_cm/min", limits.min_picks_per_cm, limits.max_picks_per_cm, "picks_per_cm.max"),
        ("/weft_tex/min", limits.min_weft_tex, limits.max_weft_tex, "weft_tex.max"),
    )
    for pointer, low, high, name in pairs:
        if low > high:
            raise InputError.of(
                pointer,
                f"{low:g} is above {name}, which is {high:g}; state limits that leave a range.",
                given=low,
                allowed=f"at most {high:g}",
            )
    _refuse_thick_core(
        "/warp_beam/barrel_diameter_cm",
        limits.barrel_diameter_cm,
        winding_diameter_cm(flange_diameter_cm=limits.flange_diameter_cm),
        "the full beam",
    )
    _refuse_thick_core(
        "/cloth_tube_diameter_cm",
        limits.cloth_tube_diameter_cm,
        limits.cloth_roll_diameter_cm,
        "the full cloth roll",
    )


def _refuse_thick_core(pointer: str, core_cm: float, full_cm: float, what: str) -> None:
    if core_cm >= full_cm:
        raise InputError.of(
            pointer,
            f"With {core_cm:g} cm there is no room to wind: {what} measures {full_cm:g} cm.",
            given=core_cm,
            allowed=f"below {full_cm:g}",
        )
