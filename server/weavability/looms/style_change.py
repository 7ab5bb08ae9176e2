"""Change of style: the work on a loom between two cloths, and its hours.

There are several routes to a new warp: its ends are tied to the old ones, which keeps the draft; it
is drawn in away from the loom and the loom is gaited up with it; or, on a Jacquard, whose harness
stays on the loom, its ends are threaded there one by one. Every open route is planned. The one that
stops the loom for the shortest time is taken; the others are listed with their hours, so that a
person sees why ends are tied and not threaded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Annotated, Final

from weavability.looms.guards import not_negative, positive, whole
from weavability.looms.loom import SheddingKind
from weavability.textiles.errors import InputError

MAX_ENDS: Final = 10**6
MINUTES_PER_HOUR: Final = 60.0


class RouteKind(StrEnum):
    """How the new warp is brought on; ``KEEP`` leaves warp and reed as they are."""

    KEEP = "keep"
    CHANGE_REED = "change_reed"
    TIE_IN = "tie_in"
    DRAW_IN = "draw_in"
    THREAD_JACQUARD = "thread_jacquard"
    TIE_HARNESS = "tie_harness"


class StepKind(StrEnum):
    """One kind of work of a change of style."""

    CHANGE_WEFT = "change_weft"
    SET_PICKS = "set_picks"
    LOAD_DESIGN = "load_design"
    CHANGE_CAMS = "change_cams"
    SET_WIDTH = "set_width"
    TIE_IN = "tie_in"
    DRAW_IN_BY_HAND = "draw_in_by_hand"
    LEAVE_OUT_ENDS = "leave_out_ends"
    CHANGE_REED = "change_reed"
    DRAW_IN = "draw_in"
    GAIT_UP = "gait_up"
    THREAD_JACQUARD = "thread_jacquard"
    TIE_HARNESS = "tie_harness"


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleOnLoom:
    """The figures of a cloth on a loom that a change of style compares.

    Attributes:
        ends: Ends of the warp.
        reed_dents_per_10cm: The reed.
        ends_per_dent: Ends in a dent.
        threading: Draft, the shaft of each end over its repeat; empty on a Jacquard.
        lift_plan: Key of the lift plan or design; equal keys lift alike.
        weft_yarns: Wefts, in the order of the selectors.
        warp: Key of the warp: yarns and their colour order.
        shedding: The shedding motion of the loom.
        harness: Key of a Jacquard's harness tie; ``None`` on shafts.
        picks_per_cm: Picks at the take-up.
        reed_width_cm: Width in the reed.
    """

    ends: int
    reed_dents_per_10cm: float
    ends_per_dent: float
    threading: tuple[int, ...] = ()
    lift_plan: str
    weft_yarns: tuple[str, ...]
    warp: str
    shedding: SheddingKind
    harness: str | None = None
    picks_per_cm: float
    reed_width_cm: float

    def __post_init__(self) -> None:
        whole("ends", self.ends, least=1, most=MAX_ENDS)
        positive("reed_dents_per_10cm", self.reed_dents_per_10cm)
        positive("ends_per_dent", self.ends_per_dent)
        positive("picks_per_cm", self.picks_per_cm)
        positive("reed_width_cm", self.reed_width_cm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverRates:
    """Rates of the work of a change of style; the mill may set each of them.

    Sources: [TYING-NOTE-2022]: a tying-in stops the loom for 3 h at 3000 ends and 6 h at 6000;
    [SEYAM-OXENHAM-2017]: tying alone 30 to 120 min, a change of style 4 to 8 h. All other values:
    common practice, no source.

    Attributes:
        minutes_per_weft: Change one weft: package, feeder, brake, selector.
        minutes_for_picks: Set another pick density, and prove it.
        minutes_for_design: Load another lift plan or design on dobby or Jacquard.
        hours_for_cams: Change the cams (tappets) of a cam motion.
        minutes_for_width: Set temples, cutters and weft stop motion to another width.
        knots_per_h: Ends tied an hour by the tying machine, stops included; 100 a minute, within
            (2).
        tie_in_ends_per_h: Ends an hour of everything about tying that grows with them: brushing
            and clamping both warps, mending the missed knots, pulling the knots through healds
            and reed; set so that the whole stop is that of (1).
        tie_in_fixed_hours: Bring the beam and couple it.
        hand_drawing_ends_per_h: Ends an hour that one person draws in or out on the loom, through
            drop wire, heald and reed.
        reeding_ends_per_h: Ends an hour sleyed into another reed on the loom.
        reeding_fixed_hours: Take the reed out, put the other in, weave up.
        drawing_in_ends_per_h: Ends an hour drawn in away from the loom by a pair of hands.
        gaiting_hours: Take the old warp with its harness off and gait the loom up with the new
            one; middle of (2).
        jacquard_threading_ends_per_h: Ends an hour threaded through a harness on the loom.
        harness_tie_ends_per_h: Ends an hour of tying a new harness and levelling it.
        harness_fixed_hours: Take the old harness down and hang the comber board.
        minutes_to_leave_ends_out: Cut the outer ends of the old warp that the new one lacks.
    """

    minutes_per_weft: float = 10.0
    minutes_for_picks: float = 10.0
    minutes_for_design: float = 5.0
    hours_for_cams: float = 2.0
    minutes_for_width: float = 30.0
    knots_per_h: float = 6000.0
    tie_in_ends_per_h: float = 1250.0
    tie_in_fixed_hours: float = 0.25
    hand_drawing_ends_per_h: float = 150.0
    reeding_ends_per_h: float = 800.0
    reeding_fixed_hours: float = 0.5
    drawing_in_ends_per_h: float = 1000.0
    gaiting_hours: float = 6.0
    jacquard_threading_ends_per_h: float = 100.0
    harness_tie_ends_per_h: float = 75.0
    harness_fixed_hours: float = 8.0
    minutes_to_leave_ends_out: float = 15.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name.endswith("_per_h"):
                positive(field.name, value)
            else:
                not_negative(field.name, value)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverStep:
    """One piece of work."""

    step: Annotated[StepKind, "Its kind"]
    message: Annotated[str, "What is done and why"]
    hours: Annotated[float, "How long it takes"]
    stops_loom: Annotated[
        bool, "Whether the loom is stopped meanwhile; false for work away from it"
    ] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpRoute:
    """One route to the new warp.

    Attributes:
        route: Its kind.
        steps: Its work, in order.
    """

    route: RouteKind
    steps: tuple[ChangeoverStep, ...]

    @property
    def stop_hours(self) -> float:
        """Hours that the loom is stopped."""
        return sum(step.hours for step in self.steps if step.stops_loom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Changeover:
    """The plan of a change of style.

    Attributes:
        route: How the warp is brought on.
        steps: All work in order, the warp's first.
        loom_stop_hours: Hours that the loom is stopped: the sum of the steps that stop it.
        off_loom_hours: Hours of work away from the loom, before the stop.
        alternatives: The routes not taken, the shortest stop first.
    """

    route: RouteKind
    steps: tuple[ChangeoverStep, ...]
    loom_stop_hours: float
    off_loom_hours: float
    alternatives: tuple[WarpRoute, ...]


DEFAULT_RATES: Final = ChangeoverRates()


def changeover(
    old: StyleOnLoom, new: StyleOnLoom, *, rates: ChangeoverRates = DEFAULT_RATES
) -> Changeover:
    """Plan the change from one cloth to another on the same loom.

    Args:
        old: The cloth on the loom.
        new: The cloth that follows.
        rates: How fast the work goes.

    Returns:
        Steps with hours; of the open routes the one with the shortest stop.

    Raises:
        InputError: The two cloths are set up for different shedding motions, which is not a
            change of style but another loom.

    A warp of 3000 ends tied to the old one stops the loom for about 3 h, one of 6000 for 6 h
    [TYING-NOTE-2022]:

    >>> style = StyleOnLoom(ends=3000, reed_dents_per_10cm=120, ends_per_dent=2,
    ...     threading=(1, 2, 3, 4), lift_plan="2/2 twill", weft_yarns=("A",), warp="white",
    ...     shedding=SheddingKind.DOBBY, picks_per_cm=20, reed_width_cm=125)
    >>> from dataclasses import replace
    >>> plan = changeover(style, replace(style, warp="navy"))
    >>> plan.route.value, round(plan.loom_stop_hours, 2)
    ('tie_in', 3.15)
    """
    if old.shedding is not new.shedding:
        raise InputError.of(
            "/to/shedding",
            "Both styles must be set up for the shedding motion of the loom.",
            given=new.shedding,
            allowed=old.shedding,
        )
    best, *others = sorted(_warp_routes(old, new, rates), key=lambda route: route.stop_hours)
    steps = (*best.steps, *_other_steps(old, new, rates))
    return Changeover(
        route=best.route,
        steps=steps,
        loom_stop_hours=sum(step.hours for step in steps if step.stops_loom),
        off_loom_hours=sum(step.hours for step in steps if not step.stops_loom),
        alternatives=tuple(others),
    )


def _warp_routes(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[WarpRoute]:
    """Yield every open route; there is always at least one."""
    same_harness = old.harness == new.harness and old.threading == new.threading
    reed = tuple(_reed_steps(old, new, rates))
    if same_harness and old.warp == new.warp and old.ends == new.ends:
        yield WarpRoute(route=RouteKind.CHANGE_REED if reed else RouteKind.KEEP, steps=reed)
        return
    if same_harness:
        yield WarpRoute(route=RouteKind.TIE_IN, steps=(*_tie_in_steps(old, new, rates), *reed))
    if new.shedding is not SheddingKind.JACQUARD:
        yield WarpRoute(route=RouteKind.DRAW_IN, steps=_drawing_in_steps(new, rates))
    elif old.harness == new.harness:
        yield WarpRoute(route=RouteKind.THREAD_JACQUARD, steps=(_threading_step(new, rates),))
    else:
        harness = _harness_step(new, rates)
        yield WarpRoute(route=RouteKind.TIE_HARNESS, steps=(harness, _threading_step(new, rates)))


def _reed_steps(
    old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates
) -> Iterator[ChangeoverStep]:
    was = (old.reed_dents_per_10cm, old.ends_per_dent)
    now = (new.reed_dents_per_10cm, new.ends_per_dent)
    if was != now:
        yield ChangeoverStep(
            step=StepKind.CHANGE_REED,
            message=(
                f"Sley {new.ends} ends into a reed of {now[0]:g} dents/10 cm, {now[1]:g} in a "
                f"dent, instead of {was[0]:g} with {was[1]:g}, and weave up."
            ),
            hours=rates.reeding_fixed_hours + new.ends / rates.reeding_ends_per_h,
        )


def _tie_in_steps(
    old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates
) -> Iterator[ChangeoverStep]:
    knots, added = min(old.ends, new.ends), new.ends - old.ends
    yield ChangeoverStep(
        step=StepKind.TIE_IN,
        message=f"Tie {knots} new ends to the old ones and pull the knots through; the draft "
        "stays the same.",
        hours=rates.tie_in_fixed_hours
        + knots / rates.knots_per_h
        + knots / rates.tie_in_ends_per_h,
    )
    if added > 0:
        jacquard = new.shedding is SheddingKind.JACQUARD
        rate = rates.jacquard_threading_ends_per_h if jacquard else rates.hand_drawing_ends_per_h
        yield ChangeoverStep(
            step=StepKind.DRAW_IN_BY_HAND,
            message=f"Draw {added} further ends in at the sides by hand.",
            hours=added / rate,
        )
    if added < 0:
        yield ChangeoverStep(
            step=StepKind.LEAVE_OUT_ENDS,
            message=f"Leave {-added} outer ends of the old warp out.",
            hours=rates.minutes_to_leave_ends_out / MINUTES_PER_HOUR,
        )


def _drawing_in_steps(new: StyleOnLoom, rates: ChangeoverRates) -> tuple[ChangeoverStep, ...]:
    return (
        ChangeoverStep(
            step=StepKind.DRAW_IN,
            message=(
                f"Draw {new.ends} ends into drop wires, healds and reed away from the loom, "
                "while it still weaves."
            ),
            hours=new.ends / rates.drawing_in_ends_per_h,
            stops_loom=False,
        ),
        ChangeoverStep(
            step=StepKind.GAIT_UP,
            message="Take the old warp with its shafts and reed off and gait up the new one.",
            hours=rates.gaiting_hours,
        ),
    )


def _threading_step(new: StyleOnLoom, rates: ChangeoverRates) -> ChangeoverStep:
    return ChangeoverStep(
        step=StepKind.THREAD_JACQUARD,
        message=f"Thread {new.ends} ends one by one through the harness and reed on the loom.",
        hours=new.ends / rates.jacquard_threading_ends_per_h,
    )


def _harness_step(new: StyleOnLoom, rates: ChangeoverRates) -> ChangeoverStep:
    return ChangeoverStep(
        step=StepKind.TIE_HARNESS,
        message=f"Take the harness down, tie another for {new.ends} ends and level it.",
        hours=rates.harness_fixed_hours + new.ends / rates.harness_tie_ends_per_h,
    )


def _other_steps(
    old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates
) -> Iterator[ChangeoverStep]:
    """Yield the work that does not depend on the warp."""
    if old.lift_plan != new.lift_plan:
        yield _lift_step(new, rates)
    wefts = _wefts_to_change(old.weft_yarns, new.weft_yarns)
    if wefts:
        yield ChangeoverStep(
            step=StepKind.CHANGE_WEFT,
            message=f"Change {wefts} weft{'s' if wefts > 1 else ''}: package, feeder, brake.",
            hours=wefts * rates.minutes_per_weft / MINUTES_PER_HOUR,
        )
    if old.picks_per_cm != new.picks_per_cm:
        yield ChangeoverStep(
            step=StepKind.SET_PICKS,
            message=f"Set {new.picks_per_cm:g} picks/cm instead of {old.picks_per_cm:g}.",
            hours=rates.minutes_for_picks / MINUTES_PER_HOUR,
        )
    if old.reed_width_cm != new.reed_width_cm:
        yield ChangeoverStep(
            step=StepKind.SET_WIDTH,
            message=(
                f"Set temples, cutters and weft stop motion to {new.reed_width_cm:g} cm in the "
                f"reed instead of {old.reed_width_cm:g} cm."
            ),
            hours=rates.minutes_for_width / MINUTES_PER_HOUR,
        )


def _lift_step(new: StyleOnLoom, rates: ChangeoverRates) -> ChangeoverStep:
    if new.shedding is SheddingKind.CAM:
        return ChangeoverStep(
            step=StepKind.CHANGE_CAMS,
            message="Change the cams to another lift.",
            hours=rates.hours_for_cams,
        )
    plan = "design" if new.shedding is SheddingKind.JACQUARD else "lift plan"
    return ChangeoverStep(
        step=StepKind.LOAD_DESIGN,
        message=f"Load another {plan}.",
        hours=rates.minutes_for_design / MINUTES_PER_HOUR,
    )


def _wefts_to_change(old: tuple[str, ...], new: tuple[str, ...]) -> int:
    """Count the selectors whose weft differs; a weft that is no longer used stays in place."""
    return sum(1 for index, weft in enumerate(new) if index >= len(old) or old[index] != weft)
