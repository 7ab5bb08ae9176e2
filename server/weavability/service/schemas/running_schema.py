"""How a loom runs, and how fast its style is changed, as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from weavability.looms.loom import Running
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.running_limits import CREW, STOP_RATES
from weavability.service.schemas.base import Body, ascending, without
from weavability.service.schemas.fields import Number, WholeNumber
from weavability.textiles.errors import Fault
from weavability.textiles.sentences import say


class ChangeoverRatesSchema(Body[tuple[tuple[str, float], ...]]):
    """The mill's own rates of changing a style; what is left out has a starting value."""

    title = "ChangeoverRates"

    minutes_per_weft = Number(
        "Time to change one weft", LOOM_BOUNDS["/changeover_rates/minutes_per_weft"], example=10
    )
    minutes_for_picks = Number(
        "Time to set another pick density and prove it",
        LOOM_BOUNDS["/changeover_rates/minutes_for_picks"],
        example=10,
    )
    minutes_for_design = Number(
        "Time to load another lift plan or design",
        LOOM_BOUNDS["/changeover_rates/minutes_for_design"],
        example=5,
    )
    hours_for_cams = Number(
        "Time to change the cams of a cam motion",
        LOOM_BOUNDS["/changeover_rates/hours_for_cams"],
        example=2,
    )
    minutes_for_width = Number(
        "Time to set temples and cutters to another width",
        LOOM_BOUNDS["/changeover_rates/minutes_for_width"],
        example=30,
    )
    knots_per_h = Number(
        "Rate of the tying machine, stops included",
        LOOM_BOUNDS["/changeover_rates/knots_per_h"],
        example=6_000,
    )
    tie_in_ends_per_h = Number(
        "Rate of all tying-in work that grows with the number of ends",
        LOOM_BOUNDS["/changeover_rates/tie_in_ends_per_h"],
        example=1_250,
    )
    tie_in_fixed_hours = Number(
        "Time to bring the beam and couple it",
        LOOM_BOUNDS["/changeover_rates/tie_in_fixed_hours"],
        example=0.25,
    )
    most_further_ends_pct = Number(
        "Most ends beyond those on the loom that are drawn in by hand so that a warp is tied in",
        LOOM_BOUNDS["/changeover_rates/most_further_ends_pct"],
        example=5,
    )
    hand_drawing_ends_per_h = Number(
        "Rate of drawing in or out on the loom by one person",
        LOOM_BOUNDS["/changeover_rates/hand_drawing_ends_per_h"],
        example=150,
    )
    reeding_ends_per_h = Number(
        "Rate of sleying into another reed on the loom",
        LOOM_BOUNDS["/changeover_rates/reeding_ends_per_h"],
        example=800,
    )
    reeding_fixed_hours = Number(
        "Time to take the reed out, fit the other and weave up",
        LOOM_BOUNDS["/changeover_rates/reeding_fixed_hours"],
        example=0.5,
    )
    drawing_in_ends_per_h = Number(
        "Rate of drawing in away from the loom by a pair of hands",
        LOOM_BOUNDS["/changeover_rates/drawing_in_ends_per_h"],
        example=1_000,
    )
    gaiting_hours = Number(
        "Time to take the old warp and harness off and gait up the new one",
        LOOM_BOUNDS["/changeover_rates/gaiting_hours"],
        example=6,
    )
    jacquard_threading_ends_per_h = Number(
        "Rate of threading through a harness on the loom",
        LOOM_BOUNDS["/changeover_rates/jacquard_threading_ends_per_h"],
        example=100,
    )
    harness_tie_ends_per_h = Number(
        "Rate of tying a new harness and levelling it",
        LOOM_BOUNDS["/changeover_rates/harness_tie_ends_per_h"],
        example=100,
    )
    harness_fixed_hours = Number(
        "Time to take the old harness down and hang the comber board",
        LOOM_BOUNDS["/changeover_rates/harness_fixed_hours"],
        example=8,
    )
    minutes_to_leave_ends_out = Number(
        "Time to cut the outer ends that the new warp lacks",
        LOOM_BOUNDS["/changeover_rates/minutes_to_leave_ends_out"],
        example=20,
    )
    hours_per_beam = Number(
        "Time to mount one more beam with its let-off, or to take one off",
        LOOM_BOUNDS["/changeover_rates/hours_per_beam"],
        example=2,
    )
    minutes_for_pile = Number(
        "Time to set pile let-off and loops to another pile ratio",
        LOOM_BOUNDS["/changeover_rates/minutes_for_pile"],
        example=30,
    )

    def build(
        self, values: dict[str, Any], _given: Mapping[str, Any], /
    ) -> tuple[tuple[str, float], ...]:
        """Pair the rates with their names."""
        return tuple(sorted(values.items()))


class RunningSchema(Body[Running]):
    """How the loom runs: an efficiency, or stops and weavers, from which it is computed.

    One weaver minds `looms_per_weaver` looms, or several `weavers` mind `looms_per_set` together;
    stops and minutes that are left out are assumed.
    """

    title = "Running"
    makes = Running

    efficiency_pct = Number(
        "Share of the time that the loom runs; in place of stop rates",
        LOOM_BOUNDS["/running/efficiency_pct"],
        example=88,
    )
    warp_stops_per_100k_picks = Number(
        "Stops for the warp", LOOM_BOUNDS["/running/warp_stops_per_100k_picks"], example=3
    )
    weft_stops_per_100k_picks = Number(
        "Stops for the weft", LOOM_BOUNDS["/running/weft_stops_per_100k_picks"], example=2
    )
    minutes_per_warp_stop = Number(
        "Mean time to mend a warp stop", LOOM_BOUNDS["/running/minutes_per_warp_stop"], example=1.5
    )
    minutes_per_weft_stop = Number(
        "Mean time to mend a weft stop", LOOM_BOUNDS["/running/minutes_per_weft_stop"], example=0.7
    )
    looms_per_weaver = WholeNumber(
        "Looms that one weaver tends", LOOM_BOUNDS["/running/looms_per_weaver"], example=12
    )
    looms_per_set = WholeNumber(
        "Looms that several weavers tend together, in place of looms_per_weaver",
        LOOM_BOUNDS["/running/looms_per_set"],
        example=24,
    )
    weavers = WholeNumber(
        "Weavers to that set of looms", LOOM_BOUNDS["/running/weavers"], example=2
    )
    hours_per_day = Number(
        "Hours of the mill's day", LOOM_BOUNDS["/running/hours_per_day"], example=24
    )

    def judge(self, values: Mapping[str, Any], given: Mapping[str, Any], /) -> Iterator[Fault]:
        """Take an efficiency, or stops with those who mend them; not both."""
        stops = (*STOP_RATES, *CREW)
        if "efficiency_pct" in given:
            yield from without(
                stops,
                given,
                because=say(
                    "part.efficiency_given", "the efficiency is given; either it or the stop rates"
                ),
            )
        elif "looms_per_weaver" in given:
            yield from without(
                ("looms_per_set", "weavers"),
                given,
                because=say(
                    "part.looms_of_one_weaver",
                    "looms_per_weaver is given, which are the looms of one weaver",
                ),
            )
        elif given.keys() & {"looms_per_set", "weavers"}:
            for name in ("looms_per_set", "weavers"):
                if name not in given:
                    yield Fault(
                        f"/{name}",
                        say(
                            "fault.running.crew_incomplete",
                            "{field} is missing: state looms_per_set and weavers together.",
                            field=name,
                        ),
                        None,
                        "looms_per_set and weavers",
                    )
            yield from ascending(values, "weavers", "looms_per_set", strict=False)
        elif given.keys() & set(stops):
            yield Fault(
                "/looms_per_weaver",
                say(
                    "fault.running.looms_per_weaver_missing",
                    "looms_per_weaver is missing: the efficiency is computed from stops "
                    "and from who mends them.",
                ),
                None,
                "looms_per_weaver, or looms_per_set and weavers",
            )
