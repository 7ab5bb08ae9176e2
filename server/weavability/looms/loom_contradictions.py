"""What a loom as stated contradicts: figures that no loom has, and limits that leave no range."""

from __future__ import annotations

from collections.abc import Iterator
from operator import attrgetter
from typing import Final, NamedTuple

from weavability.looms.beams import WINDING_CLEARANCE_CM, winding_diameter_cm
from weavability.looms.loom import Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS, MOST_REEDS
from weavability.looms.weft_insertion import SpeedCurve
from weavability.textiles.bounds import Bounds
from weavability.textiles.errors import Fault, collecting
from weavability.textiles.guards import positive, within
from weavability.textiles.sentences import Sentence, say

_OF_LISTS: Final = (
    "/boxes",
    "/changeover_rates/",
    "/reeds_in_stock_dents_per_10cm",
    "/shedding/tie/",
    "/speed_curve/",
)
"""Where a field has a number for each of several objects."""

_HARNESS: Final = "/shedding/harness_ends_per_cm"
_BOUNDED: Final = tuple(
    (pointer[1:], attrgetter(pointer[1:].replace("/", ".")), bounds)
    for pointer, bounds in LOOM_BOUNDS.items()
    if not pointer.startswith((*_OF_LISTS, _HARNESS))
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
    # Hooks and width, each within its bounds, may give a density that nobody would state, and a
    # loom is judged with such an assumption stated, too.
    if loom.shedding.harness_ends_per_cm is not None:
        with collecting(faults):
            positive(_HARNESS[1:], loom.shedding.harness_ends_per_cm)
    for name, value, bounds in _of_lists(loom):
        if value not in bounds:
            with collecting(faults):
                within(name, value, bounds)
    if len(loom.reeds_in_stock_dents_per_10cm) > MOST_REEDS:
        faults.append(
            Fault(
                "/reeds_in_stock_dents_per_10cm",
                say(
                    "fault.loom.too_many_reeds",
                    "At most {most_reeds} reeds in stock are read.",
                    most_reeds=MOST_REEDS,
                ),
                len(loom.reeds_in_stock_dents_per_10cm),
                f"at most {MOST_REEDS}",
            )
        )
    if loom.speed_curve:
        with collecting(faults):
            SpeedCurve.through(loom.speed_curve)
    return faults


def _of_lists(loom: Loom) -> Iterator[tuple[str, float, Bounds]]:
    for name, values in (
        ("boxes", loom.boxes or ()),
        ("reeds_in_stock_dents_per_10cm", loom.reeds_in_stock_dents_per_10cm),
    ):
        for place, value in enumerate(values):
            yield f"{name}/{place}", value, LOOM_BOUNDS[f"/{name}"]
    for rate, value in loom.changeover_rates:
        yield f"changeover_rates/{rate}", value, LOOM_BOUNDS[f"/changeover_rates/{rate}"]
    for place, section in enumerate(loom.shedding.tie):
        for number in ("from_hook", "hooks", "times"):
            bounds = LOOM_BOUNDS[f"/shedding/tie/{number}"]
            yield f"shedding/tie/{place}/{number}", getattr(section, number), bounds


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


class _Pair(NamedTuple):
    """Two limits of which the lower one must leave room, by their pointers relative to the loom."""

    low_field: str
    low: float
    high_field: str
    high: float


def without_room(loom: Loom, one: Extents) -> Iterator[Fault]:
    """Yield the limits that leave no range, or no room to wind; pointers relative to the loom.

    A fault is at the lower limit, unless that is assumed and only the other one is stated. What is
    assumed of a range leaves one beside what is stated.
    """
    for pair in (
        _Pair("/min_reed_width_cm", one.min_reed_width_cm, "/reed_width_cm", one.reed_width_cm),
        _Pair("/picks_per_cm/min", one.picks_per_cm[0], "/picks_per_cm/max", one.picks_per_cm[1]),
        _Pair("/weft_tex/min", one.weft_tex[0], "/weft_tex/max", one.weft_tex[1]),
    ):
        if pair.low > pair.high:
            yield _no_range(pair)
    barrel_cm, flange_cm = one.barrel_diameter_cm, one.flange_diameter_cm
    beam = _Pair(
        "/warp_beam/barrel_diameter_cm", barrel_cm, "/warp_beam/flange_diameter_cm", flange_cm
    )
    full_cm = winding_diameter_cm(flange_diameter_cm=flange_cm)
    if barrel_cm >= full_cm:
        least_cm = min(barrel_cm + WINDING_CLEARANCE_CM, 2 * barrel_cm)
        yield _no_room(loom, beam, full_cm, say("part.the_full_beam", "the full beam"), least_cm)
    tube_cm, roll_cm = one.cloth_tube_diameter_cm, one.cloth_roll_diameter_cm
    roll = _Pair("/cloth_tube_diameter_cm", tube_cm, "/cloth_roll_diameter_cm", roll_cm)
    if tube_cm >= roll_cm:
        yield _no_room(
            loom, roll, roll_cm, say("part.the_full_roll", "the full cloth roll"), tube_cm
        )


def _no_range(pair: _Pair) -> Fault:
    message = say(
        "fault.loom.no_range",
        "{low:g} is above {high_field}, which is {high:g}; state limits that leave a range.",
        low=pair.low,
        high_field=_named(pair.high_field),
        high=pair.high,
    )
    return Fault(pair.low_field, message, pair.low, f"at most {pair.high:g}")


def _no_room(loom: Loom, pair: _Pair, around_cm: float, what: Sentence, least_cm: float) -> Fault:
    if _is_assumed(loom, pair.low_field) and not _is_assumed(loom, pair.high_field):
        message = say(
            "fault.loom.no_room_around_assumed",
            "There is no room to wind: {part} measures {around_cm:g} cm, and {core_field}, which "
            "is not stated, is taken to be {core_cm:g} cm. State that, too, if this is right.",
            part=what,
            around_cm=around_cm,
            core_field=_named(pair.low_field),
            core_cm=pair.low,
        )
        return Fault(pair.high_field, message, pair.high, f"above {least_cm:g}")
    message = say(
        "fault.loom.no_room_to_wind",
        "With {core_cm:g} cm there is no room to wind: {part} measures {around_cm:g} cm.",
        core_cm=pair.low,
        part=what,
        around_cm=around_cm,
    )
    return Fault(pair.low_field, message, pair.low, f"below {around_cm:g}")


def _named(field: str) -> str:
    return field[1:].replace("/", ".")


def _is_assumed(loom: Loom, field: str) -> bool:
    """Return whether a loom states no value of a field."""
    return attrgetter(_named(field))(loom) is None
