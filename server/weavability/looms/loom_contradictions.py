"""What a loom as stated contradicts: figures that no loom has, and limits that leave no range."""

from __future__ import annotations

from collections.abc import Iterator
from operator import attrgetter
from typing import Final, NamedTuple

from weavability.looms.beams import winding_diameter_cm
from weavability.looms.loom import Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.weft_insertion import SpeedCurve
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.guards import positive, within
from weavability.textiles.sentences import say

_FIGURES: Final = (
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
    "shedding/cord_cm",
    "shedding/hook_lift_cm",
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
_BOUNDED: Final = tuple(
    (name, attrgetter(name.replace("/", ".")), LOOM_BOUNDS[f"/{name}"]) for name in _FIGURES
)


def impossible_figures(loom: Loom) -> list[Fault]:
    """Return the figures that no loom has, so that whatever is computed from the rest is a number.

    Pointers are relative to the loom.
    """
    faults: list[Fault] = []
    for name, read, bounds in _BOUNDED:
        value = read(loom)
        if value is not None and value not in bounds:
            with collecting(faults):
                within(name, value, bounds)
    # Hooks and width, each within its bounds, may give a density that nobody would state.
    if loom.shedding.harness_ends_per_cm is not None:
        with collecting(faults):
            positive("shedding/harness_ends_per_cm", loom.shedding.harness_ends_per_cm)
    reed_bounds = LOOM_BOUNDS["/reeds_in_stock_dents_per_10cm"]
    for place, reed in enumerate(loom.reeds_in_stock_dents_per_10cm):
        if reed not in reed_bounds:
            with collecting(faults):
                within(f"reeds_in_stock_dents_per_10cm/{place}", reed, reed_bounds)
    for place, boxes in enumerate(loom.boxes or ()):
        with collecting(faults):
            within(f"boxes/{place}", boxes, LOOM_BOUNDS["/boxes"])
    if loom.speed_curve and loom.reed_width_cm > 0:
        with collecting(faults):
            SpeedCurve.through(loom.speed_curve)
    return faults


class Extents(NamedTuple):
    """The limits of a loom of which one must leave room for the other, stated or assumed."""

    min_reed_width_cm: float
    reed_width_cm: float
    picks_per_cm: tuple[float, float]
    weft_tex: tuple[float, float]
    flange_diameter_cm: float
    barrel_diameter_cm: float
    cloth_roll_diameter_cm: float
    cloth_tube_diameter_cm: float


def without_room(one: Extents) -> Iterator[Fault]:
    """Yield the limits that leave no range, or no room to wind; pointers relative to the loom."""
    for pointer, low, high, name in (
        ("/min_reed_width_cm", one.min_reed_width_cm, one.reed_width_cm, "reed_width_cm"),
        ("/picks_per_cm/min", *one.picks_per_cm, "picks_per_cm.max"),
        ("/weft_tex/min", *one.weft_tex, "weft_tex.max"),
    ):
        if low > high:
            yield Fault(
                pointer,
                say(
                    "fault.loom.no_range",
                    "{low:g} is above {high_field}, which is {high:g}; state limits "
                    "that leave a range.",
                    low=low,
                    high_field=name,
                    high=high,
                ),
                low,
                f"at most {high:g}",
            )
    full_cm = winding_diameter_cm(flange_diameter_cm=one.flange_diameter_cm)
    for pointer, core_cm, around_cm, what in (
        (
            "/warp_beam/barrel_diameter_cm",
            one.barrel_diameter_cm,
            full_cm,
            say("part.the_full_beam", "the full beam"),
        ),
        (
            "/cloth_tube_diameter_cm",
            one.cloth_tube_diameter_cm,
            one.cloth_roll_diameter_cm,
            say("part.the_full_roll", "the full cloth roll"),
        ),
    ):
        if core_cm >= around_cm:
            yield Fault(
                pointer,
                say(
                    "fault.loom.no_room_to_wind",
                    "With {core_cm:g} cm there is no room to wind: {part} measures "
                    "{around_cm:g} cm.",
                    core_cm=core_cm,
                    part=what,
                    around_cm=around_cm,
                ),
                core_cm,
                f"below {around_cm:g}",
            )
