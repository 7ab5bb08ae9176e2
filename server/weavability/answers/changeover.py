"""Change of style: from two constructions and a loom to the work between them, and its hours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from types import MappingProxyType
from typing import Annotated, Final

from weavability.answers.caution import CAUTION
from weavability.answers.field_words import (
    AssumedValues,
    CautionText,
    DraftName,
    ExpectedHours,
    GreyPicks,
    HooksUsed,
    LoomName,
    OffLoomHours,
    OrderReference,
    ReedToUse,
    ReedWidthInUse,
    RouteTaken,
    ShaftsUsed,
    TotalEnds,
    WeftsToInsert,
)
from weavability.answers.on_loom_summary import (
    DraftOnLoom,
    WarpOnLoom,
    WidthOnLoom,
    draft_on_loom,
    warp_on_loom,
    width_message,
    width_on_loom,
)
from weavability.answers.rounding import tidy
from weavability.answers.validation import assumptions_of, stated_findings
from weavability.answers.verdicts import verdict_of
from weavability.answers.woven_style import (
    Woven,
    as_woven,
    has_reed_of,
    weavable,
    width_findings,
)
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.looms.changeover_rates import DEFAULT_RATES, RATE_BASES, ChangeoverRates, RateSpan
from weavability.looms.drawing_in import OnHooks, OnShafts
from weavability.looms.figured_warp import woven_on
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.kept_harness import (
    Drawn,
    Slant,
    harness_slant,
    harness_wider_mm,
    settle,
    style_on_loom,
)
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits, resolve_loom
from weavability.looms.style_change import (
    Changeover,
    ChangeoverStep,
    RouteKind,
    WarpRoute,
    changeover,
)
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.warp_left import WARP_LEFT_M
from weavability.textiles.assumptions import Assumption, Grade, Ledger, ValueBand
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault, InputError, collecting, pointing_below
from weavability.textiles.field_marks import Since
from weavability.textiles.guards import between
from weavability.textiles.sentences import say

RATE_NAMES: Final = tuple(field.name for field in fields(ChangeoverRates))


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleSummary:
    """A style on the loom: the figures that a change of style compares."""

    reference: OrderReference
    verdict: Annotated[Verdict, "The answer for this loom in a word"]
    total_ends: TotalEnds
    reed_dents_per_10cm: ReedToUse
    ends_per_dent: Annotated[float, "Ends drawn into one dent of the ground"]
    shafts_used: ShaftsUsed
    draft: DraftName
    hooks_used: HooksUsed
    reed_width_cm: ReedWidthInUse
    picks_per_cm: GreyPicks
    weft_selectors_used: WeftsToInsert


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A route to the new style that was not taken, complete, and how long it would take."""

    route: RouteTaken
    loom_stop_hours: Annotated[float, "Hours that the loom is stopped, all work included"]
    loom_stop_hours_band: Annotated[ExpectedHours, Since("0.2")]
    loom_stop_hours_at_start: Annotated[
        float, "Those of them before the new style is woven", Since("0.2")
    ]
    off_loom_hours: Annotated[OffLoomHours, Since("0.2")]
    off_loom_hours_band: Annotated[ExpectedHours, Since("0.2")]
    needs: Annotated[str, "What it needs, and whether its stop is shorter", Since("0.2")]
    steps: Annotated[tuple[ChangeoverStep, ...], "Its work, in order"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverReport:
    """The answer to one change of style."""

    loom_id: LoomName
    findings: Annotated[
        tuple[Finding, ...],
        "Findings on the new style as it is woven, in the reed and on the draft that stay; with an "
        "error among them nothing is set up: no route, no steps, no hours",
        Since("0.2"),
    ]
    findings_on_loom: Annotated[
        tuple[Finding, ...],
        "Findings on the style on the loom, which is taken as it is: an error among them says that "
        "it is stated otherwise than it is woven",
        Since("0.2"),
    ]
    route: Annotated[
        RouteKind | None, "How the warp is brought on; null if the loom cannot weave the new style"
    ]
    steps: Annotated[tuple[ChangeoverStep, ...], "All work in order"]
    loom_stop_hours: Annotated[
        float | None,
        "Hours that the loom is stopped; null if it cannot weave the new style",
    ]
    loom_stop_hours_band: Annotated[
        ValueBand | None,
        "Between how many hours that is expected, by the bands of the rates",
        Since("0.2"),
    ]
    loom_stop_hours_at_start: Annotated[
        float | None,
        "Those of them before the new style is woven; the others come when the warp that is left "
        "is woven out",
        Since("0.2"),
    ]
    further_warps_hours: Annotated[
        float | None,
        "Hours that the loom is stopped while further warps of the new style are tied in, beside "
        "those of the steps; null if it cannot weave the new style",
        Since("0.2"),
    ]
    further_warps_hours_band: Annotated[
        ValueBand | None, "Between how many hours that is expected", Since("0.2")
    ]
    off_loom_hours: Annotated[
        float | None,
        "Hours of work away from the loom; null if it cannot weave the new style",
    ]
    off_loom_hours_band: Annotated[
        ValueBand | None, "Between how many hours that is expected", Since("0.2")
    ]
    alternatives: Annotated[tuple[Route, ...], "The routes not taken, the shortest stop first"]
    draft: Annotated[
        DraftOnLoom | None,
        "The draft on which the new style is woven; null without a route",
        Since("0.2"),
    ]
    width: Annotated[
        WidthOnLoom | None, "The width that results; null without a route", Since("0.2")
    ]
    warp: Annotated[
        WarpOnLoom | None,
        "The warp on the loom, and how far it reaches; null without a route",
        Since("0.2"),
    ]
    old: Annotated[StyleSummary, "The style on the loom"]
    new: Annotated[StyleSummary, "The next style"]
    assumptions: AssumedValues
    caution: CautionText


def change_style(
    old: Construction,
    new: Construction,
    loom: Loom,
    *,
    warp_left_m: float | None = None,
    rates: Mapping[str, float] = MappingProxyType({}),
) -> ChangeoverReport:
    """Plan the change from one construction to another on a loom.

    Args:
        old: The construction on the loom.
        new: The construction that follows.
        loom: The loom; its own changeover rates count if ``rates`` does not state one.
        warp_left_m: Warp left on the loom; of several beams on that which runs out first.
        rates: Rates by name, see :data:`RATE_NAMES`.

    Returns:
        The work and its hours; of a construction that the loom cannot weave, the findings alone.

    Raises:
        InputError: Something cannot be read; pointers start with ``/from``, ``/to``, ``/loom`` or
            ``/rates``.
    """
    ledger = Ledger()
    full_rates = rates_for(loom, rates, ledger)
    before, after = judge_all({"/from": old, "/to": new}, loom)
    then, own = style_on_loom(before), style_on_loom(after)
    left_m = warp_left(then, [own], warp_left_m, ledger)
    findings = findings_below("/to", after)
    answer = partial(
        ChangeoverReport,
        loom_id=loom.loom_id,
        findings_on_loom=findings_below("/from", before),
        old=_summary(before, then, findings_below("/from", before)),
        caution=CAUTION,
    )
    if has_error(findings):
        report = answer(
            findings=findings,
            route=None,
            steps=(),
            loom_stop_hours=None,
            loom_stop_hours_band=None,
            loom_stop_hours_at_start=None,
            further_warps_hours=None,
            further_warps_hours_band=None,
            off_loom_hours=None,
            off_loom_hours_band=None,
            alternatives=(),
            draft=None,
            width=None,
            warp=None,
            new=_summary(after, own, findings),
            assumptions=tuple(assumptions_in_all({"/from": before, "/to": after}, ledger)),
        )
        return tidy(report)
    plan = plan_change(after, then, own, full_rates, left_m=left_m)
    taken = plan.taken
    has_reed = has_reed_of(then, taken)
    woven = as_woven(after, own, taken.style, has_reed=has_reed)
    findings = (
        *findings_below("/to", woven),
        *_below("/to", width_findings(after, own, taken.style)),
    )
    report = answer(
        findings=findings,
        route=taken.route,
        steps=taken.steps,
        loom_stop_hours=taken.stop_hours,
        loom_stop_hours_band=taken.stop_band,
        loom_stop_hours_at_start=taken.stop_hours_at_start,
        further_warps_hours=taken.further.hours,
        further_warps_hours_band=taken.further.band,
        off_loom_hours=taken.off_loom_hours,
        off_loom_hours_band=taken.off_loom_band,
        alternatives=tuple(_routes(after, then, plan)),
        draft=draft_on_loom(after, taken),
        width=width_of_route(after, then, taken),
        warp=warp_on_loom(then, taken, left_m),
        new=_summary(woven, taken.style, findings),
        assumptions=tuple(assumptions_in_all({"/from": before, "/to": woven}, ledger)),
    )
    return tidy(report)


def rates_for(loom: Loom, stated: Mapping[str, float], ledger: Ledger) -> RateSpan:
    """Return every rate: as the request states it, as the loom does, else its starting value.

    A rate that is stated has no band.

    Raises:
        InputError: A rate has an unknown name or is out of its domain; pointers start with
            ``/rates`` or ``/loom/changeover_rates``.
    """
    own = dict(loom.changeover_rates)
    for pointer, given in (("/rates", stated), ("/loom/changeover_rates", own)):
        for name in given:
            if name not in RATE_NAMES:
                raise InputError.of(
                    f"{pointer}/{name}",
                    say(
                        "fault.changeover.unknown_rate",
                        "There is no changeover rate named {rate}.",
                        rate=name,
                    ),
                    given=name,
                    allowed=list(RATE_NAMES),
                )
    values: dict[str, float] = {
        field.name: ledger.take(
            f"/rates/{field.name}",
            stated.get(field.name, own.get(field.name)),
            getattr(DEFAULT_RATES, field.name),
            unit=_unit(field.name),
            reason=RATE_BASES[field.name].reason(field.name),
            grade=RATE_BASES[field.name].grade,
            band=RATE_BASES[field.name].band,
        )
        for field in fields(ChangeoverRates)
    }
    with pointing_below("/rates"):
        return RateSpan.of(ChangeoverRates(**values), stated=stated.keys() | own.keys())


def _unit(name: str) -> str:
    if name.startswith("minutes"):
        return "min"
    if name.endswith("_pct"):
        return "%"
    return "1/h" if name.endswith("_per_h") else "h"


def plan_change(
    after: Fit,
    old: StyleOnLoom,
    own: StyleOnLoom,
    rates: ChangeoverRates | RateSpan,
    *,
    left_m: Sequence[float] | None = None,
    known: dict[Drawn, str | None] | None = None,
    woven: Woven | None = None,
) -> Changeover:
    """Plan the change to a cloth, keeping what is on the loom as far as it serves.

    What stays serves if the cloth has no error as it is woven so.

    Args:
        after: The new cloth on the loom.
        old: What is on the loom.
        own: The new cloth on its own draft and in its own reed.
        rates: How fast the work goes.
        left_m: Warp left on the loom, by groups of ends; without it what ``old`` leaves of full
            beams.
        known: What was found of the new cloth on drafts before; takes what is found.
        woven: What was judged of the new cloth as it is woven; takes what is judged.

    Raises:
        InputError: The styles are for different shedding motions.
    """
    settled = settle(after, own, old, known=known)
    settled = weavable(after, own, settled, {} if woven is None else woven)
    return changeover(
        old,
        settled.style,
        own=own,
        others=settled.others,
        left_m=left_m,
        rates=rates,
    )


def judge_all(cloths: Mapping[str, Construction], loom: Loom) -> tuple[Fit, ...]:
    """Judge constructions on a loom, each once.

    Args:
        cloths: The constructions by their pointers in the request.
        loom: The loom.

    Raises:
        InputError: With the faults of all constructions, and those of the loom once.
    """
    faults: list[Fault] = []
    facts: dict[int, ClothFacts] = {}
    with collecting(faults, below="/loom"):
        limits = resolve_loom(loom)
    for pointer, cloth in cloths.items():
        woven = cloth
        with collecting(faults, below="/loom"):
            woven = woven_on(cloth, loom)
        with collecting(faults, below=pointer):
            if id(cloth) not in facts:
                facts[id(cloth)] = cloth_facts(woven)
    if faults:
        raise InputError(faults)
    fits: dict[int, Fit] = {}
    for pointer, cloth in cloths.items():
        with collecting(faults):
            if id(cloth) not in fits:
                fits[id(cloth)] = _fit(facts[id(cloth)], limits, pointer)
    if faults:
        raise InputError(faults)
    return tuple(fits[id(cloth)] for cloth in cloths.values())


def _fit(cloth: ClothFacts, limits: LoomLimits, pointer: str) -> Fit:
    try:
        return fit_cloth(cloth, limits)
    except InputError as error:
        raise InputError(
            replace(fault, pointer=fault.pointer.replace("/construction", pointer, 1))
            for fault in error.faults
        ) from None


def findings_below(prefix: str, fit: Fit) -> tuple[Finding, ...]:
    """Return every finding on a cloth, pointing at its place in the request."""
    return tuple(_below(prefix, stated_findings(fit)))


def _below(prefix: str, findings: Iterable[Finding]) -> Iterator[Finding]:
    for finding in findings:
        yield replace(finding, pointer=finding.pointer.replace("/construction", prefix, 1))


def has_error(findings: tuple[Finding, ...]) -> bool:
    """Return whether a loom cannot weave a cloth."""
    return any(finding.severity is Severity.ERROR for finding in findings)


def warp_left(
    old: StyleOnLoom, new: Sequence[StyleOnLoom], stated_m: float | None, ledger: Ledger
) -> tuple[float, ...]:
    """Return the warp left on the loom, by groups of ends: as stated, else that of full beams.

    Args:
        old: What is on the loom.
        new: The styles that may follow; the warp matters if one of them is woven from it.
        stated_m: Of the beam that runs out first.
        ledger: Takes what is assumed.

    Raises:
        InputError: The stated length is out of its bounds, at ``/warp_left_m``.
    """
    left_m = old.left_m
    if stated_m is not None:
        between("warp_left_m", stated_m, least=WARP_LEFT_M.least, most=WARP_LEFT_M.most)
        return (stated_m,) * len(left_m)
    if any(style.has_warp_of(old) for style in new):
        shortest = min(range(len(left_m)), key=lambda at: left_m[at] / old.beams[at].woven_m)
        ledger.note(
            "/warp_left_m",
            left_m[shortest],
            unit="m",
            reason=say(
                "assumption.warp_left.filled_beams",
                "the beams were filled, less what the cloth on the loom takes of "
                "them; [COMMON-PRACTICE]",
            ),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(0.0, max(left_m[shortest], old.beams[shortest].filling_m)),
        )
    return left_m


def _routes(fit: Fit, old: StyleOnLoom, plan: Changeover) -> Iterator[Route]:
    for route in plan.alternatives:
        yield Route(
            route=route.route,
            loom_stop_hours=route.stop_hours,
            loom_stop_hours_band=route.stop_band,
            loom_stop_hours_at_start=route.stop_hours_at_start,
            off_loom_hours=route.off_loom_hours,
            off_loom_hours_band=route.off_loom_band,
            needs=_needs(fit, old, route, plan.taken),
            steps=route.steps,
        )


def _needs(fit: Fit, old: StyleOnLoom, route: WarpRoute, taken: WarpRoute) -> str:
    """Say what an alternative needs, and whether its stop is shorter than that of the route."""
    saved = taken.stop_hours - route.stop_hours
    if saved > 0:
        head = f"Stops the loom for {saved:.1f} h less, but needs "
    else:
        head = f"Stops the loom for {-saved:.1f} h more, and needs "
    return head + _means(fit, old, route)


def _means(fit: Fit, old: StyleOnLoom, route: WarpRoute) -> str:
    width = width_message(fit, route.style, has_reed=has_reed_of(old, route))
    slant = _slant_message(fit, old, route)
    match route.route:
        case RouteKind.DRAW_IN:
            return (
                f"people to draw {route.style.ends} ends in for {route.off_loom_hours:.1f} h "
                "before the stop, and a second set of shafts, drop wires and reed."
            )
        case RouteKind.DRAW_IN_ON_LOOM:
            return f"{route.style.ends} ends to be drawn in on the loom by hand."
        case RouteKind.KEEP:
            return f"another width to be accepted: {width}"
        case RouteKind.TIE_IN:
            return f"knots to be tied and pulled through. {width}{slant}"
        case RouteKind.CHANGE_REED:
            return f"the warp to be sleyed anew. {width}{slant}"
        case _:
            return f"every end to be threaded through the harness on the loom. {width}"


def width_of_route(fit: Fit, old: StyleOnLoom, route: WarpRoute) -> WidthOnLoom:
    """Describe the width in which a cloth comes out, and how far the cords run aslant for it."""
    width = width_on_loom(fit, route.style, has_reed=has_reed_of(old, route))
    return replace(width, message=width.message + _slant_message(fit, old, route))


def _slant_message(fit: Fit, old: StyleOnLoom, route: WarpRoute) -> str:
    """Say how far the cords of a harness that stays run aslant in another reed, if that is much."""
    if route.style.reed == old.reed or harness_slant(fit, route.style) is Slant.STRAIGHT:
        return ""
    wider_mm = harness_wider_mm(fit, route.style)
    than = "wider" if wider_mm > 0 else "narrower"
    return (
        f" The cords stay as they are cast out for the old reed: the harness is then "
        f"{abs(wider_mm):.0f} mm {than} than the warp on either side, and the ends there chafe."
    )


def _summary(fit: Fit, style: StyleOnLoom, findings: Iterable[Finding]) -> StyleSummary:
    """Summarise a cloth as it is woven in the reed of a style, with what is found of it so."""
    on = fit.drawing_in
    return StyleSummary(
        reference=fit.cloth.construction.reference,
        verdict=verdict_of(findings),
        total_ends=fit.cloth.ends.total,
        reed_dents_per_10cm=style.reed_dents_per_10cm,
        ends_per_dent=style.ends_per_dent,
        shafts_used=on.drawn.shafts_used if isinstance(on, OnShafts) and on.drawn else None,
        draft=fit.draft.kind if fit.draft else None,
        hooks_used=on.hooks_used if isinstance(on, OnHooks) else None,
        reed_width_cm=style.reed_width_cm,
        picks_per_cm=fit.cloth.weft.threads_per_cm,
        weft_selectors_used=fit.weft_selectors_used,
    )


def assumptions_in_all(fits: Mapping[str, Fit], ledger: Ledger) -> Iterator[Assumption]:
    """Yield what was assumed of cloths, of the loom and of the work, each value once.

    Args:
        fits: The cloths on the loom, by their pointers in the request.
        ledger: Has the rates of the work.
    """
    of_loom: dict[str, Assumption] = {}
    for prefix, fit in fits.items():
        for line in assumptions_of(fit):
            if line.pointer.startswith("/construction"):
                yield replace(line, pointer=line.pointer.replace("/construction", prefix, 1))
            else:
                of_loom[line.pointer] = line
    yield from of_loom.values()
    yield from ledger
