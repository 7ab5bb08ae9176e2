"""How a loom runs, resolved: its efficiency, or the stops and weavers from which it is computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import copysign, hypot
from typing import Any, Final, NamedTuple

from weavability.looms.default_limits import Defaults
from weavability.looms.interference import Efficiency, Running, StopRates, efficiency_at
from weavability.looms.loom import Running as StatedRunning
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

LEAST_EFFICIENCY_PCT: Final = LOOM_BOUNDS["/running/efficiency_pct"].least
"""An efficiency below this is an input error."""


STOP_RATES: Final = (
    "warp_stops_per_100k_picks",
    "weft_stops_per_100k_picks",
    "minutes_per_warp_stop",
    "minutes_per_weft_stop",
)
CREW: Final = ("looms_per_weaver", "looms_per_set", "weavers")
"""Fields of a loom's running from which its efficiency is computed: stops, and who mends them."""


class RunningBand(NamedTuple):
    """How a loom runs: as is expected, and at the ends of the bands of what is assumed."""

    expected: Running
    at_best: Running
    at_worst: Running


def resolve_running(defaults: Defaults) -> RunningBand:
    """Return how a loom runs, and at the ends of the bands of what of it is assumed."""
    given = defaults.loom.running
    stated = [name for name in (*STOP_RATES, *CREW) if getattr(given, name) is not None]
    if not stated:
        value = defaults.take("/running/efficiency_pct")
        low, high = defaults.ends("/running/efficiency_pct", value)
        return RunningBand(*(Efficiency(efficiency_pct=each) for each in (value, high, low)))
    if given.efficiency_pct is not None:
        raise InputError.of(
            f"/running/{stated[0]}",
            say(
                "fault.running.efficiency_and_stops",
                "Leave out {field}: the efficiency is given; either it or the stop rates.",
                field=stated[0],
            ),
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
    return RunningBand(expected, least, most)


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
            say(
                "fault.running.looms_and_weavers",
                "State either looms_per_weaver alone, or looms_per_set and weavers, at "
                "most as many.",
            ),
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
            say(
                "fault.running.hardly_runs",
                "These stops let the loom run {efficiency_pct:.2g} % of the time at its "
                "greatest speed; correct the stops, the minutes for each or the looms "
                "per weaver.",
                efficiency_pct=efficiency_pct,
            ),
            given=stops.warp_stops_per_100k_picks,
            allowed=f"stops that let it run at least {LEAST_EFFICIENCY_PCT:g} % of the time",
        )
