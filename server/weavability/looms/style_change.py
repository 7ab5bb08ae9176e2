"""Change of style: the work on a loom between two cloths, and its hours.

The first question is what can stay: warp, draft and reed. What the draft and the reed that are on
the loom can serve is decided in ``kept_harness``; here the work follows. There are several routes
to a new warp: its ends are tied to the old ones, which keeps the draft; it is drawn in away from
the loom and the loom is gaited up with it, or, if its ends are few, drawn in on the loom; or, on a
Jacquard, whose harness stays on the loom, its ends are threaded there one by one.

A warp stays as far as it reaches: if what is left of it does not suffice, a new beam is tied in.
The route is chosen by rule, not by hours: new ends are tied in wherever draft, ends and reed allow,
whatever their number, because drawing-in takes people and a second set of shafts. Only if the rule
does not decide, the route with the shortest stop is taken. The other routes are listed with their
hours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import takewhile
from typing import Annotated, Final, NamedTuple

from weavability.looms.changeover_rates import (
    DEFAULT_RATES,
    ChangeoverRates,
    RateSpan,
    further_warps_hours,
    tie_in_hours,
)
from weavability.looms.loom import SheddingKind
from weavability.looms.selvedge_on_loom import ends_to_draw
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.warp_left import used_up
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.errors import InputError
from weavability.textiles.field_marks import Since
from weavability.textiles.sentences import say
from weavability.textiles.units import MINUTES_PER_HOUR

LEAST_LEFT_M: Final = 1.0
"""Less warp on the loom is none to weave."""

SAME_WIDTH_CM: Final = 0.5
"""Widths in the reed that differ by no more are set alike: the rings of the temples hold the cloth
over some centimetres. Common practice, no source."""


class RouteKind(StrEnum):
    """How the new warp is brought on; ``KEEP`` leaves warp and reed as they are."""

    KEEP = "keep"
    CHANGE_REED = "change_reed"
    TIE_IN = "tie_in"
    DRAW_IN = "draw_in"
    DRAW_IN_ON_LOOM = "draw_in_on_loom"
    THREAD_JACQUARD = "thread_jacquard"
    TIE_HARNESS = "tie_harness"


def keeps_draft(route: RouteKind) -> bool:
    """Return whether a route leaves the draft on the loom."""
    return route in (RouteKind.KEEP, RouteKind.CHANGE_REED, RouteKind.TIE_IN)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverStep:
    """One piece of work."""

    step: Annotated[StepKind, "Its kind"]
    message: Annotated[str, "What is done and why"]
    hours: Annotated[float, "How long it takes"]
    hours_band: Annotated[
        ValueBand,
        "Between how many hours that is expected, by the bands of the rates",
        Since("0.2"),
    ]
    stops_loom: Annotated[
        bool, "Whether the loom is stopped meanwhile; false for work away from it, and for weaving"
    ] = True


def band_of_all(bands: Iterable[ValueBand]) -> ValueBand:
    """Return the band of a sum of hours, all of which are at one end of their bands together."""
    each = tuple(bands)
    return ValueBand(sum((one.low for one in each), 0.0), sum((one.high for one in each), 0.0))


class FurtherWarps(NamedTuple):
    """The hours of tying in the warps of a style that no step of a change brings.

    Attributes:
        hours: At the rates that are expected.
        band: At the ends of their bands.
    """

    hours: float
    band: ValueBand


NO_FURTHER: Final = FurtherWarps(0.0, ValueBand(0.0, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpRoute:
    """One route to the new style, complete.

    Attributes:
        route: How the warp is brought on.
        style: What is on the loom afterwards.
        steps: All work in order, the warp's first, but for a beam that follows when the warp on
            the loom is woven out.
        left_m: Warp that is left when the new style is woven, by groups of ends.
        further: The warps that the steps do not bring: each brings one filling of what is tied in,
            or drawn in, anew.
    """

    route: RouteKind
    style: StyleOnLoom
    steps: tuple[ChangeoverStep, ...]
    left_m: tuple[float, ...] = ()
    further: FurtherWarps = NO_FURTHER

    @property
    def stop_hours(self) -> float:
        """Hours that the loom is stopped."""
        return sum((step.hours for step in self.steps if step.stops_loom), 0.0)

    @property
    def stop_band(self) -> ValueBand:
        """The band of these hours, if all rates are quick or all are slow."""
        return band_of_all(step.hours_band for step in self.steps if step.stops_loom)

    @property
    def stop_hours_at_start(self) -> float:
        """Hours that it is stopped before the new style is woven."""
        first = takewhile(lambda step: step.step is not StepKind.WEAVE_OUT, self.steps)
        return sum((step.hours for step in first if step.stops_loom), 0.0)

    @property
    def off_loom_hours(self) -> float:
        """Hours of work away from the loom, before the stop."""
        return sum((step.hours for step in self._off_loom), 0.0)

    @property
    def off_loom_band(self) -> ValueBand:
        """The band of these hours."""
        return band_of_all(step.hours_band for step in self._off_loom)

    @property
    def _off_loom(self) -> list[ChangeoverStep]:
        away = (step for step in self.steps if step.step is not StepKind.WEAVE_OUT)
        return [step for step in away if not step.stops_loom]


@dataclass(frozen=True, slots=True, kw_only=True)
class Changeover:
    """The plan of a change of style.

    Attributes:
        taken: The route that is taken.
        alternatives: The routes not taken, the shortest stop first.
    """

    taken: WarpRoute
    alternatives: tuple[WarpRoute, ...]


class _Work(NamedTuple):
    """A piece of work at one set of rates."""

    step: StepKind
    message: str
    hours: float
    stops_loom: bool = True


_Steps = Callable[[ChangeoverRates], Iterator[_Work]]
_Draw = Callable[[StyleOnLoom, ChangeoverRates], Iterator[_Work]]


def changeover(
    old: StyleOnLoom,
    new: StyleOnLoom,
    *,
    own: StyleOnLoom | None = None,
    others: Sequence[StyleOnLoom] = (),
    left_m: Sequence[float] | None = None,
    rates: ChangeoverRates | RateSpan = DEFAULT_RATES,
) -> Changeover:
    """Plan the change from one cloth to another on the same loom.

    Args:
        old: The cloth on the loom.
        new: The cloth that follows, on the draft and in the reed of ``old`` as far as they serve.
        own: The same cloth on its own draft and in its own reed, if that differs.
        others: The same cloth in the reeds that were not chosen: alternatives with another width.
        left_m: Warp left on the loom, by the groups of ends of ``old``; without it what ``old``
            leaves of its own full beams.
        rates: How fast the work goes.

    Returns:
        Steps with hours. Warp and draft stay if they can and enough warp is left; else the new ends
        are tied in wherever draft, ends and reed allow; else the open route with the shortest stop.

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
    >>> plan.taken.route.value, round(plan.taken.stop_hours, 2)
    ('tie_in', 3.15)
    """
    if old.shedding is not new.shedding:
        raise InputError.of(
            "/to/shedding",
            say(
                "fault.changeover.another_shedding",
                "Both styles must be set up for the shedding motion of the loom.",
            ),
            given=new.shedding,
            allowed=old.shedding,
        )
    span = rates if isinstance(rates, RateSpan) else RateSpan(rates, rates, rates)
    left = old.left_m if left_m is None else tuple(left_m)
    routes = _routes_to(old, new, left, span)
    if routes[0].route is RouteKind.TIE_IN:
        routes += _drawn_anew(old, own or new, span)
        if not ties_in(old, new, span.usual):
            routes.sort(key=lambda route: route.stop_hours)
    # In a reed that does not give the cloth its width it is another cloth: listed, not taken.
    for style in others:
        routes += [
            route
            for route in _routes_to(old, style, left, span)
            if keeps_draft(route.route) or route not in routes
        ]
    taken, *rest = (_with_further_warps(old, route, left, span) for route in routes)
    return Changeover(
        taken=taken, alternatives=tuple(sorted(rest, key=lambda route: route.stop_hours))
    )


def _routes_to(
    old: StyleOnLoom, style: StyleOnLoom, left_m: tuple[float, ...], span: RateSpan
) -> list[WarpRoute]:
    """Return the routes to a style on what stays for it, the shortest stop first."""
    if not style.has_draft_of(old):
        return _drawn_anew(old, style, span)
    if style.has_warp_of(old) and not used_up(style.beams, left_m):
        return [_kept(old, style, left_m, span)]
    return [_tied_in(old, style, left_m, span)]


def ties_in(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates = DEFAULT_RATES) -> bool:
    """Return whether the ends of a new warp are tied to those on the loom, by rule.

    They are, however many ends are on the loom, if the draft and the reed stay, and few enough ends
    have to be drawn in beside them. A further warp of the same cloth is thus always
    tied in, which is what the report of a validation counts its knots by.
    """
    further = new.ends - old.ends
    allowed = old.ends * rates.most_further_ends_pct / 100
    return new.has_draft_of(old) and new.sleying == old.sleying and further <= allowed


def further_warps(
    style: StyleOnLoom, found_m: Sequence[float], brought: Collection[int], span: RateSpan
) -> FurtherWarps:
    """Return the hours of tying in the warps of a style that are not brought otherwise.

    Args:
        style: The style.
        found_m: Warp that is on the loom, by groups of ends.
        brought: Places of the groups of which one filling is brought.
        span: How fast the work goes.
    """
    warps = [
        (beams.ends, 1 + beams.fillings(found) - (place in brought))
        for place, (beams, found) in enumerate(zip(style.beams, found_m, strict=True))
    ]
    if all(fillings <= 1 for _, fillings in warps):
        return NO_FURTHER
    own_beams = style.let_offs >= len(warps)
    usual, quick, slow = (
        further_warps_hours(warps, have_own_beams=own_beams, rates=each) for each in span
    )
    return FurtherWarps(usual, ValueBand(quick, slow))


def _with_further_warps(
    old: StyleOnLoom, route: WarpRoute, left_m: tuple[float, ...], span: RateSpan
) -> WarpRoute:
    style = route.style
    brought: Collection[int] = range(len(style.beams))
    found_m = (0.0,) * len(style.beams)
    if goes_on(old, route):
        found_m = left_m
        brought = used_up(style.beams, left_m) if route.route is RouteKind.TIE_IN else ()
    return replace(route, further=further_warps(style, found_m, brought, span))


def goes_on(old: StyleOnLoom, route: WarpRoute) -> bool:
    """Return whether a route goes on with the warp on the loom, as far as that reaches."""
    return keeps_draft(route.route) and route.style.has_warp_of(old)


def _kept(
    old: StyleOnLoom, style: StyleOnLoom, left_m: tuple[float, ...], span: RateSpan
) -> WarpRoute:
    kind = RouteKind.KEEP if style.sleying == old.sleying else RouteKind.CHANGE_REED

    def work(rates: ChangeoverRates) -> Iterator[_Work]:
        yield from _reed_work(old, style, rates)
        yield from _selvedge_work(old, style, rates)

    return _going_on(_route(kind, old, style, span, work), left_m)


def _tied_in(
    old: StyleOnLoom, style: StyleOnLoom, left_m: tuple[float, ...], span: RateSpan
) -> WarpRoute:
    def new_warp(rates: ChangeoverRates) -> Iterator[_Work]:
        yield from _tie_in_work(old, style, rates)
        yield from on_the_warp(rates)

    def on_the_warp(rates: ChangeoverRates) -> Iterator[_Work]:
        yield from _reed_work(old, style, rates)
        yield from _selvedge_work(old, style, rates)

    if not style.has_warp_of(old):
        return _route(RouteKind.TIE_IN, old, style, span, new_warp)
    route = _route(
        RouteKind.TIE_IN,
        old,
        style,
        span,
        on_the_warp,
        lambda rates: _further_beam_work(style, left_m, rates),
    )
    return _going_on(route, left_m)


def _going_on(route: WarpRoute, left_m: tuple[float, ...]) -> WarpRoute:
    """Go on with the warp that is on the loom, which is woven out before another is tied in."""
    after = tuple(beams.left_m(left) for beams, left in zip(route.style.beams, left_m, strict=True))
    return replace(route, left_m=after)


def _drawn_anew(old: StyleOnLoom, own: StyleOnLoom, span: RateSpan) -> list[WarpRoute]:
    """Return the routes that draw every end in, the shortest stop first.

    Few ends are drawn in on the loom sooner than it is gaited up.
    """

    def drawn(kind: RouteKind, work: _Draw) -> WarpRoute:
        return _route(kind, old, own, span, lambda rates: work(own, rates))

    if own.shedding is SheddingKind.JACQUARD:
        if old.harness == own.harness:
            return [drawn(RouteKind.THREAD_JACQUARD, _threading_work)]
        return [drawn(RouteKind.TIE_HARNESS, _harness_work)]
    away = drawn(RouteKind.DRAW_IN, _drawing_in_work)
    on_loom = drawn(RouteKind.DRAW_IN_ON_LOOM, _drawing_in_on_loom_work)
    return [on_loom, away] if on_loom.stop_hours < away.stop_hours else [away]


def _route(
    kind: RouteKind,
    old: StyleOnLoom,
    style: StyleOnLoom,
    span: RateSpan,
    warp_work: _Steps,
    later_work: _Steps = lambda _: iter(()),
) -> WarpRoute:
    """Complete a route: its work at the rates that are expected, with the band of its hours.

    ``later_work`` follows when the new style is being woven.
    """
    usual, quick, slow = (
        (
            *_beam_work(old, style, rates),
            *warp_work(rates),
            *_other_work(old, style, rates),
            *later_work(rates),
        )
        for rates in span
    )
    return WarpRoute(
        route=kind,
        style=style,
        steps=tuple(
            ChangeoverStep(
                step=work.step,
                message=work.message,
                hours=work.hours,
                hours_band=ValueBand(fast.hours, long.hours),
                stops_loom=work.stops_loom,
            )
            for work, fast, long in zip(usual, quick, slow, strict=True)
        ),
        left_m=style.left_m,
    )


def _reed_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    if old.reed != new.reed:
        (was, was_in_dent), (now, in_dent) = old.reed, new.reed
        yield _Work(
            StepKind.CHANGE_REED,
            f"Sley {new.ends} ends into a reed of {now:g} dents/10 cm, {in_dent:g} in a dent, "
            f"instead of {was:g} with {was_in_dent:g}, and weave up.",
            rates.reeding_fixed_hours + new.ends / rates.reeding_ends_per_h,
        )
    elif old.panels != new.panels:
        # One panel stays in its dents, and the others are moved by the gap between two.
        moved = round(new.ends * (1 - 1 / max(old.panels, new.panels)))
        yield _Work(
            StepKind.CHANGE_REED,
            f"Sley {moved} ends anew in the same reed, for {new.panels} "
            f"panel{'s' if new.panels > 1 else ''} instead of {old.panels}, and weave up.",
            rates.reeding_fixed_hours + moved / rates.reeding_ends_per_h,
        )


def _selvedge_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
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
    yield _Work(
        StepKind.DRAW_SELVEDGES,
        f"Draw {ends} selvedge ends in anew by hand, on {on}; the draft of the ground stays.",
        ends / rate,
    )


def _beam_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    """Mount or take off beams, of which each has a let-off."""
    more = new.let_offs - old.let_offs
    if more:
        kind = StepKind.MOUNT_BEAMS if more > 0 else StepKind.TAKE_BEAMS_OFF
        yield _Work(
            kind,
            ("Mount" if more > 0 else "Take off")
            + f" {abs(more)} beam{'s' if abs(more) > 1 else ''} with let-off and tension rollers: "
            f"{new.let_offs} instead of {old.let_offs}.",
            abs(more) * rates.hours_per_beam,
        )


def _tie_in_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    knots, added = min(old.ends, new.ends), new.ends - old.ends
    yield _Work(
        StepKind.TIE_IN,
        f"Tie {knots} new ends to the old ones and pull the knots through; the draft stays the "
        "same.",
        tie_in_hours(knots, rates),
    )
    if added > 0:
        jacquard = new.shedding is SheddingKind.JACQUARD
        rate = rates.jacquard_threading_ends_per_h if jacquard else rates.hand_drawing_ends_per_h
        yield _Work(
            StepKind.DRAW_IN_BY_HAND,
            f"Draw {added} further ends in at the sides by hand.",
            added / rate,
        )
    if added < 0:
        yield _Work(
            StepKind.LEAVE_OUT_ENDS,
            f"Leave {-added} outer ends of the old warp out.",
            rates.minutes_to_leave_ends_out / MINUTES_PER_HOUR,
        )


def _further_beam_work(
    style: StyleOnLoom, left_m: Sequence[float], rates: ChangeoverRates
) -> Iterator[_Work]:
    """Weave out a warp of the same ends that does not suffice, and tie new beams to it."""
    places = used_up(style.beams, left_m)
    knots = sum(style.beams[place].ends for place in places)
    first = min(places, key=lambda place: left_m[place] / style.beams[place].woven_m)
    beams, rest_m = style.beams[first], left_m[first]
    is_left = rest_m >= LEAST_LEFT_M
    if is_left:
        yield _Work(
            StepKind.WEAVE_OUT,
            f"Weave the new style until the {rest_m:.0f} m of warp that are left are woven out: "
            f"it needs {beams.woven_m:.0f} m.",
            rest_m / beams.m_per_h,
            stops_loom=False,
        )
    yield _Work(
        StepKind.TIE_IN,
        ("Then tie" if is_left else "The warp is woven out: tie")
        + f" {knots} ends of a new beam to it and pull the knots through; the draft stays the "
        "same.",
        tie_in_hours(knots, rates),
    )


def _drawing_in_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    yield _Work(
        StepKind.DRAW_IN,
        f"Draw {new.ends} ends into drop wires, healds and reed away from the loom, while it "
        "still weaves.",
        new.ends / rates.drawing_in_ends_per_h,
        stops_loom=False,
    )
    yield _Work(
        StepKind.GAIT_UP,
        "Take the old warp with its shafts and reed off and gait up the new one.",
        rates.gaiting_hours,
    )


def _drawing_in_on_loom_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    yield _Work(
        StepKind.DRAW_IN_BY_HAND,
        f"Draw {new.ends} ends into drop wires, healds and reed by hand, on the loom.",
        new.ends / rates.hand_drawing_ends_per_h,
    )


def _threading_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    yield _Work(
        StepKind.THREAD_JACQUARD,
        f"Thread {new.ends} ends one by one through the harness and reed on the loom.",
        new.ends / rates.jacquard_threading_ends_per_h,
    )


def _harness_work(new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    yield _Work(
        StepKind.TIE_HARNESS,
        f"Take the harness down, tie another for {new.ends} ends and level it.",
        rates.harness_fixed_hours + new.ends / rates.harness_tie_ends_per_h,
    )
    yield from _threading_work(new, rates)


def _other_work(old: StyleOnLoom, new: StyleOnLoom, rates: ChangeoverRates) -> Iterator[_Work]:
    """Yield the work that does not depend on the warp."""
    if not new.lifts_as(old):
        yield _lift_work(new, rates)
    elif old.weft_order != new.weft_order:
        yield _Work(
            StepKind.LOAD_DESIGN,
            "Load another order of the wefts.",
            rates.minutes_for_design / MINUTES_PER_HOUR,
        )
    wefts = len(list((Counter(new.weft_yarns) - Counter(old.weft_yarns)).elements()))
    if wefts:
        yield _Work(
            StepKind.CHANGE_WEFT,
            f"Change {wefts} weft{'s' if wefts > 1 else ''}: package, feeder, brake.",
            wefts * rates.minutes_per_weft / MINUTES_PER_HOUR,
        )
    if old.picks_per_cm != new.picks_per_cm:
        yield _Work(
            StepKind.SET_PICKS,
            f"Set {new.picks_per_cm:g} picks/cm on the loom instead of {old.picks_per_cm:g}.",
            rates.minutes_for_picks / MINUTES_PER_HOUR,
        )
    if new.pile_ratios and old.pile_ratios != new.pile_ratios:
        now, was = (
            " and ".join(f"{each:g}" for each in style.pile_ratios) or "no pile"
            for style in (new, old)
        )
        yield _Work(
            StepKind.SET_PILE,
            f"Set let-off and loops of the pile to a ratio of {now} instead of {was}.",
            rates.minutes_for_pile / MINUTES_PER_HOUR,
        )
    if abs(old.reed_width_cm - new.reed_width_cm) > SAME_WIDTH_CM:
        yield _Work(
            StepKind.SET_WIDTH,
            f"Set temples, cutters and weft stop motion to {new.reed_width_cm:.1f} cm in the reed "
            f"instead of {old.reed_width_cm:.1f} cm.",
            rates.minutes_for_width / MINUTES_PER_HOUR,
        )


def _lift_work(new: StyleOnLoom, rates: ChangeoverRates) -> _Work:
    if new.shedding is SheddingKind.CAM:
        return _Work(StepKind.CHANGE_CAMS, "Change the cams to another lift.", rates.hours_for_cams)
    plan = "design" if new.shedding is SheddingKind.JACQUARD else "lift plan"
    return _Work(
        StepKind.LOAD_DESIGN,
        f"Load another {plan}.",
        rates.minutes_for_design / MINUTES_PER_HOUR,
    )
