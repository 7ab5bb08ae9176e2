"""The work on a loom between two cloths, piece by piece, at one set of rates.

Which of it is to be done is decided in ``style_change``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import Final, NamedTuple

from weavability.looms.changeover_rates import ChangeoverRates, tie_in_hours
from weavability.looms.loom import SheddingKind
from weavability.looms.selvedge_on_loom import ends_to_draw
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.warp_left import used_up
from weavability.textiles.units import MINUTES_PER_HOUR

LEAST_LEFT_M: Final = 1.0
"""Less warp on the loom is none to weave."""

SAME_WIDTH_CM: Final = 0.5
"""Widths in the reed that differ by no more are set alike: the rings of the temples hold the cloth
over some centimetres. Common practice, no source."""


class StepKind(StrEnum):
    """One kind of work of a change of style."""

    CHANGE_WEFT = "change_weft"
    SET_PICKS = "set_picks"
    SET_PILE = "set_pile"
    MOUNT_BEAMS = "mount_beams"
    TAKE_BEAMS_OFF = "take_beams_off"
    DRAW_SELVEDGES = "draw_selvedges"
    LOAD_DESIGN = "load_design"
    CHANGE_CAMS = "change_cams"
    SET_WIDTH = "set_width"
    WEAVE_OUT = "weave_out"
    TIE_IN = "tie_in"
    DRAW_IN_BY_HAND = "draw_in_by_hand"
    LEAVE_OUT_ENDS = "leave_out_ends"
    CHANGE_REED = "change_reed"
    DRAW_IN = "draw_in"
    GAIT_UP = "gait_up"
    THREAD_JACQUARD = "thread_jacquard"
    TIE_HARNESS = "tie_harness"


class Work(NamedTuple):
    """A piece of work at one set of rates."""

    step: StepKind
    message: str
    hours: float
    stops_loom: bool = True


def reed_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Sley the ends anew for another reed, or for other panels in the same."""
    if old.reed != new.reed:
        (was, was_in_dent), (now, in_dent) = old.reed, new.reed
        yield Work(
            StepKind.CHANGE_REED,
            f"Sley {new.ends} ends into a reed of {now:g} dents/10 cm, {in_dent:g} in a dent, "
            f"instead of {was:g} with {was_in_dent:g}, and weave up.",
            rates.reeding_fixed_hours + new.ends / rates.reeding_ends_per_h,
        )
    elif old.panels != new.panels:
        # One panel stays in its dents, and the others are moved by the gap between two.
        moved = round(new.ends * (1 - 1 / max(old.panels, new.panels)))
        yield Work(
            StepKind.CHANGE_REED,
            f"Sley {moved} ends anew in the same reed, for {new.panels} "
            f"panel{'s' if new.panels > 1 else ''} instead of {old.panels}, and weave up.",
            rates.reeding_fixed_hours + moved / rates.reeding_ends_per_h,
        )


def selvedge_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Draw selvedges in anew that have other shafts than before; the ground stays as it is."""
    ends = ends_to_draw(old.selvedge, new.selvedge, added_ends=new.ends - old.ends)
    shafts = new.selvedge.shafts
    if not ends:
        return
    jacquard = new.shedding is SheddingKind.JACQUARD
    rate = rates.jacquard_threading_ends_per_h if jacquard else rates.hand_drawing_ends_per_h
    name = "hook" if jacquard else "shaft"
    own = f"{shafts} {name}{'s' if shafts > 1 else ''} of their own"
    on = own if shafts else f"the {name}s of the ground"
    yield Work(
        StepKind.DRAW_SELVEDGES,
        f"Draw {ends} selvedge ends in anew by hand, on {on}; the draft of the ground stays.",
        ends / rate,
    )


def beam_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Mount or take off beams, of which each has a let-off."""
    more = new.let_offs - old.let_offs
    if more:
        kind = StepKind.MOUNT_BEAMS if more > 0 else StepKind.TAKE_BEAMS_OFF
        yield Work(
            kind,
            ("Mount" if more > 0 else "Take off")
            + f" {abs(more)} beam{'s' if abs(more) > 1 else ''} with let-off and tension rollers: "
            f"{new.let_offs} instead of {old.let_offs}.",
            abs(more) * rates.hours_per_beam,
        )


def tie_in_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Tie a new warp to the old one, and draw in or leave out what differs at the sides."""
    knots, added = min(old.ends, new.ends), new.ends - old.ends
    yield Work(
        StepKind.TIE_IN,
        f"Tie {knots} new ends to the old ones and pull the knots through; the draft stays the "
        "same.",
        tie_in_hours(knots, rates),
    )
    if added > 0:
        jacquard = new.shedding is SheddingKind.JACQUARD
        rate = rates.jacquard_threading_ends_per_h if jacquard else rates.hand_drawing_ends_per_h
        yield Work(
            StepKind.DRAW_IN_BY_HAND,
            f"Draw {added} further ends in at the sides by hand.",
            added / rate,
        )
    if added < 0:
        yield Work(
            StepKind.LEAVE_OUT_ENDS,
            f"Leave {-added} outer ends of the old warp out.",
            rates.minutes_to_leave_ends_out / MINUTES_PER_HOUR,
        )


def further_beam_work(
    style: StyleOnLoom, left_m: Sequence[float], rates: ChangeoverRates
) -> Iterator[Work]:
    """Weave out a warp of the same ends that does not suffice, and tie new beams to it."""
    places = used_up(style.beams, left_m)
    knots = sum(style.beams[place].ends for place in places)
    first = min(places, key=lambda place: left_m[place] / style.beams[place].woven_m)
    beams, rest_m = style.beams[first], left_m[first]
    is_left = rest_m >= LEAST_LEFT_M
    if is_left:
        yield Work(
            StepKind.WEAVE_OUT,
            f"Weave the new style until the {rest_m:.0f} m of warp that are left are woven out: "
            f"it needs {beams.woven_m:.0f} m.",
            rest_m / beams.m_per_h,
            stops_loom=False,
        )
    yield Work(
        StepKind.TIE_IN,
        ("Then tie" if is_left else "The warp is woven out: tie")
        + f" {knots} ends of a new beam to it and pull the knots through; the draft stays the "
        "same.",
        tie_in_hours(knots, rates),
    )


def drawing_in_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Draw the ends in away from the loom and gait the loom up with them."""
    yield Work(
        StepKind.DRAW_IN,
        f"Draw {new.ends} ends into drop wires, healds and reed away from the loom, while it "
        "still weaves.",
        new.ends / rates.drawing_in_ends_per_h,
        stops_loom=False,
    )
    yield Work(
        StepKind.GAIT_UP,
        "Take the old warp with its shafts and reed off and gait up the new one.",
        rates.gaiting_hours,
    )


def drawing_in_on_loom_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Draw the ends in by hand on the loom."""
    yield Work(
        StepKind.DRAW_IN_BY_HAND,
        f"Draw {new.ends} ends into drop wires, healds and reed by hand, on the loom.",
        new.ends / rates.hand_drawing_ends_per_h,
    )


def threading_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Thread the ends through the harness that is on the loom."""
    yield Work(
        StepKind.THREAD_JACQUARD,
        f"Thread {new.ends} ends one by one through the harness and reed on the loom.",
        new.ends / rates.jacquard_threading_ends_per_h,
    )


def harness_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Tie another harness and thread the ends through it."""
    yield Work(
        StepKind.TIE_HARNESS,
        f"Take the harness down, tie another for {new.ends} ends and level it.",
        rates.harness_fixed_hours + new.ends / rates.harness_tie_ends_per_h,
    )
    yield from threading_work(new, rates)


def other_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    """Yield the work that does not depend on the warp."""
    if not new.lifts_as(old):
        yield _lift_work(new, rates)
    elif old.weft_order != new.weft_order:
        yield Work(
            StepKind.LOAD_DESIGN,
            "Load another order of the wefts.",
            rates.minutes_for_design / MINUTES_PER_HOUR,
        )
    wefts = len(list((Counter(new.weft_yarns) - Counter(old.weft_yarns)).elements()))
    if wefts:
        yield Work(
            StepKind.CHANGE_WEFT,
            f"Change {wefts} weft{'s' if wefts > 1 else ''}: package, feeder, brake.",
            wefts * rates.minutes_per_weft / MINUTES_PER_HOUR,
        )
    if old.picks_per_cm != new.picks_per_cm:
        yield Work(
            StepKind.SET_PICKS,
            f"Set {new.picks_per_cm:g} picks/cm on the loom instead of {old.picks_per_cm:g}.",
            rates.minutes_for_picks / MINUTES_PER_HOUR,
        )
    if new.pile_ratios and old.pile_ratios != new.pile_ratios:
        now, was = (
            " and ".join(f"{each:g}" for each in style.pile_ratios) or "no pile"
            for style in (new, old)
        )
        yield Work(
            StepKind.SET_PILE,
            f"Set let-off and loops of the pile to a ratio of {now} instead of {was}.",
            rates.minutes_for_pile / MINUTES_PER_HOUR,
        )
    if abs(old.reed_width_cm - new.reed_width_cm) > SAME_WIDTH_CM:
        yield Work(
            StepKind.SET_WIDTH,
            f"Set temples, cutters and weft stop motion to {new.reed_width_cm:.1f} cm in the reed "
            f"instead of {old.reed_width_cm:.1f} cm.",
            rates.minutes_for_width / MINUTES_PER_HOUR,
        )


def _lift_work(new: StyleOnLoom, rates: ChangeoverRates) -> Work:
    if new.shedding is SheddingKind.CAM:
        return Work(StepKind.CHANGE_CAMS, "Change the cams to another lift.", rates.hours_for_cams)
    plan = "design" if new.shedding is SheddingKind.JACQUARD else "lift plan"
    return Work(
        StepKind.LOAD_DESIGN,
        f"Load another {plan}.",
        rates.minutes_for_design / MINUTES_PER_HOUR,
    )
