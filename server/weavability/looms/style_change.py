"""Change of style: by which route a new cloth follows on a loom, and the hours of its work.

The first question is what can stay: warp, draft and reed. What the draft and the reed that are on
the loom can serve is decided in ``kept_harness``; the work is written in ``changeover_work``. There
are several routes to a new warp: its ends are tied to the old ones, which keeps the draft; it is
drawn in away from the loom and the loom is gaited up with it, or, if its ends are few, drawn in on
the loom; or, on a Jacquard, whose harness stays on the loom, its ends are threaded there one by
one.

A warp stays as far as it reaches: if what is left of it does not suffice, a new beam is tied in.
The route is chosen by rule, not by hours: new ends are tied in wherever draft, ends and reed allow,
whatever their number, because drawing-in takes people and a second set of shafts. Only if the rule
does not decide, the route with the shortest stop is taken. The other routes are listed with their
hours.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import takewhile
from typing import Annotated, Final, NamedTuple

from weavability.looms.changeover_rates import (
    DEFAULT_RATES,
    ChangeoverRates,
    RateSpan,
    further_warps_hours,
)
from weavability.looms.changeover_work import (
    StepKind,
    Work,
    beam_work,
    drawing_in_on_loom_work,
    drawing_in_work,
    further_beam_work,
    harness_work,
    other_work,
    reed_work,
    selvedge_work,
    threading_work,
    tie_in_work,
)
from weavability.looms.loom import SheddingKind
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.warp_left import used_up
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.errors import InputError
from weavability.textiles.field_marks import Since
from weavability.textiles.sentences import say


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
    left_m: tuple[float, ...]
    further: FurtherWarps

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


class _Found(NamedTuple):
    """What a change of style begins with.

    Attributes:
        old: The cloth on the loom.
        left_m: Warp that is left of it, by groups of ends.
        span: How fast the work goes.
    """

    old: StyleOnLoom
    left_m: tuple[float, ...]
    span: RateSpan


_Pieces = Callable[[ChangeoverRates], Iterator[Work]]
_Draw = Callable[[StyleOnLoom, ChangeoverRates], Iterator[Work]]


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
    found = _Found(old, old.left_m if left_m is None else tuple(left_m), span)
    routes = _routes_to(found, new)
    if routes[0].route is RouteKind.TIE_IN:
        routes += _drawn_anew(found, own or new)
        if not ties_in(old, new, span.usual):
            routes.sort(key=lambda route: route.stop_hours)
    # In a reed that does not give the cloth its width it is another cloth: listed, not taken.
    for style in others:
        routes += [
            route
            for route in _routes_to(found, style)
            if keeps_draft(route.route) or route not in routes
        ]
    taken, *rest = routes
    return Changeover(
        taken=taken, alternatives=tuple(sorted(rest, key=lambda route: route.stop_hours))
    )


def _routes_to(found: _Found, style: StyleOnLoom) -> list[WarpRoute]:
    """Return the routes to a style on what stays for it, the shortest stop first."""
    if not style.has_draft_of(found.old):
        return _drawn_anew(found, style)
    if style.has_warp_of(found.old) and not used_up(style.beams, found.left_m):
        return [_kept(found, style)]
    return [_tied_in(found, style)]


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


def goes_on(old: StyleOnLoom, route: WarpRoute) -> bool:
    """Return whether a route goes on with the warp on the loom, as far as that reaches."""
    return _goes_on(old, route.route, route.style)


def _goes_on(old: StyleOnLoom, kind: RouteKind, style: StyleOnLoom) -> bool:
    return keeps_draft(kind) and style.has_warp_of(old)


def _kept(found: _Found, style: StyleOnLoom) -> WarpRoute:
    kind = RouteKind.KEEP if style.sleying == found.old.sleying else RouteKind.CHANGE_REED
    return _route(found, kind, style, lambda rates: _on_the_warp(found.old, style, rates))


def _tied_in(found: _Found, style: StyleOnLoom) -> WarpRoute:
    old = found.old

    def new_warp(rates: ChangeoverRates) -> Iterator[Work]:
        yield from tie_in_work(old, style, rates)
        yield from _on_the_warp(old, style, rates)

    if not style.has_warp_of(old):
        return _route(found, RouteKind.TIE_IN, style, new_warp)
    # The warp that is on the loom is woven out before another is tied in.
    return _route(
        found,
        RouteKind.TIE_IN,
        style,
        lambda rates: _on_the_warp(old, style, rates),
        lambda rates: further_beam_work(style, found.left_m, rates),
    )


def _on_the_warp(old: StyleOnLoom, style: StyleOnLoom, rates: ChangeoverRates) -> Iterator[Work]:
    yield from reed_work(old, style, rates)
    yield from selvedge_work(old, style, rates)


def _drawn_anew(found: _Found, own: StyleOnLoom) -> list[WarpRoute]:
    """Return the routes that draw every end in, the shortest stop first.

    Few ends are drawn in on the loom sooner than it is gaited up.
    """

    def drawn(kind: RouteKind, work: _Draw) -> WarpRoute:
        return _route(found, kind, own, lambda rates: work(own, rates))

    if own.shedding is SheddingKind.JACQUARD:
        if found.old.harness == own.harness:
            return [drawn(RouteKind.THREAD_JACQUARD, threading_work)]
        return [drawn(RouteKind.TIE_HARNESS, harness_work)]
    away = drawn(RouteKind.DRAW_IN, drawing_in_work)
    on_loom = drawn(RouteKind.DRAW_IN_ON_LOOM, drawing_in_on_loom_work)
    return [on_loom, away] if on_loom.stop_hours < away.stop_hours else [away]


def _route(
    found: _Found,
    kind: RouteKind,
    style: StyleOnLoom,
    warp_work: _Pieces,
    later_work: _Pieces = lambda _: iter(()),
) -> WarpRoute:
    """Make a route: its work at the rates that are expected, with the band of its hours.

    ``later_work`` follows when the new style is being woven.
    """
    old, left_m, span = found
    usual, quick, slow = (
        (
            *beam_work(old, style, rates),
            *warp_work(rates),
            *other_work(old, style, rates),
            *later_work(rates),
        )
        for rates in span
    )
    keeps_warp = _goes_on(old, kind, style)
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
        left_m=_left_after(style, left_m) if keeps_warp else style.left_m,
        further=_further_warps(kind, style, left_m if keeps_warp else None, span),
    )


def _left_after(style: StyleOnLoom, left_m: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(beams.left_m(left) for beams, left in zip(style.beams, left_m, strict=True))


def _further_warps(
    kind: RouteKind, style: StyleOnLoom, goes_on_m: tuple[float, ...] | None, span: RateSpan
) -> FurtherWarps:
    """Return the warps that a route does not bring; it may go on with the warp on the loom."""
    if goes_on_m is None:
        none_m = (0.0,) * len(style.beams)
        return further_warps(style, none_m, range(len(style.beams)), span)
    brought = used_up(style.beams, goes_on_m) if kind is RouteKind.TIE_IN else ()
    return further_warps(style, goes_on_m, brought, span)
