"""The best sequence of orders on one loom: each order judged once, every change planned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import InitVar, dataclass, field
from types import MappingProxyType
from typing import Annotated, Final

from weavability.answers.caution import CAUTION
from weavability.answers.changeover import (
    assumptions_in_all,
    findings_below,
    has_error,
    judge_all,
    plan_change,
    rates_for,
    warp_left,
    width_of_route,
)
from weavability.answers.field_words import (
    AssumedValues,
    CautionText,
    ExpectedHours,
    LoomName,
    OffLoomHours,
    OrderReference,
)
from weavability.answers.on_loom_summary import (
    WarpOnLoom,
    WidthOnLoom,
    warp_on_loom,
    width_on_loom,
)
from weavability.answers.rounding import tidy
from weavability.answers.verdicts import Codes, codes_of, verdict_of
from weavability.answers.woven_style import Woven, as_woven, has_reed_of, width_findings
from weavability.checks.finding import Finding, Verdict
from weavability.checks.registry import observe
from weavability.checks.rules import Observation
from weavability.looms.changeover_rates import ChangeoverRates, RateSpan
from weavability.looms.fit import Fit
from weavability.looms.kept_harness import Drawn, style_on_loom
from weavability.looms.loom import Loom
from weavability.looms.style_change import (
    ChangeoverStep,
    FurtherWarps,
    RouteKind,
    WarpRoute,
    further_warps,
    keeps_draft,
)
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.weaving_sequence import (
    OnLoom,
    Sequenced,
    best_sequence,
    follow,
    saved_band,
)
from weavability.textiles.assumptions import Ledger, ValueBand
from weavability.textiles.construction import Construction
from weavability.textiles.field_marks import Since

MATRIX_WORDS: Final = (
    "An entry is the stop of the change from the order of its row to that of its column, if the "
    "order of the row is woven on its own draft, in its own reed and from full beams of its own. "
    "In a sequence the loom may still have the draft, the reed and the warp of an earlier order, "
    "so that its stops may differ. Further warps of a long order are not in it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderInSequence:
    """One order of the sequence, and the change to it."""

    index: Annotated[int, "Place of the order in the request, from 0"]
    reference: OrderReference
    verdict: Annotated[Verdict, "The answer for this loom in a word, as the order is woven here"]
    codes: Annotated[
        Codes,
        "Codes of what is found of the order as it is woven here, on the draft and in the reed "
        "that stay; `/v1/checks/{code}` explains each",
        Since("0.2"),
    ]
    route: Annotated[
        RouteKind | None,
        "How the warp is brought on; null for the first order, if nothing is said to be on the "
        "loom",
    ]
    steps: Annotated[tuple[ChangeoverStep, ...], "All work in order"]
    loom_stop_hours: Annotated[float, "Hours that the loom is stopped before this order"]
    loom_stop_hours_band: ExpectedHours
    loom_stop_hours_at_start: Annotated[
        float,
        "Those of them before this order is woven; the others come when the warp that is left is "
        "woven out",
        Since("0.2"),
    ]
    further_warps_hours: Annotated[
        float,
        "Hours that the loom is stopped while further warps of this order are tied in, beside "
        "those of the steps",
        Since("0.2"),
    ]
    further_warps_hours_band: Annotated[ExpectedHours, Since("0.2")]
    off_loom_hours: OffLoomHours
    off_loom_hours_band: Annotated[ExpectedHours, Since("0.2")]
    warp: Annotated[
        WarpOnLoom | None,
        "The warp on the loom, and how far it reaches; null for an order that needs no change",
        Since("0.2"),
    ]
    draft_of: Annotated[
        int | None,
        "Place of the order whose draft is on the loom; null for that of the cloth on the loom now",
    ]
    width: Annotated[WidthOnLoom, "The width that results"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLeftOut:
    """An order that the loom cannot weave."""

    index: Annotated[int, "Place of the order in the request, from 0"]
    reference: OrderReference
    findings: Annotated[tuple[Finding, ...], "Its findings on this loom"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixRow:
    """The changes from one cloth to every order of the sequence."""

    index: Annotated[
        int | None, "Place of the order in the request, from 0; null for the cloth on the loom now"
    ]
    reference: OrderReference
    loom_stop_hours: Annotated[
        tuple[float | None, ...],
        "Stop of the change to each order of the request; null if the loom cannot weave it",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceReport:
    """The answer to several orders on one loom: in which sequence they are best woven."""

    loom_id: LoomName
    not_weavable: Annotated[
        tuple[OrderLeftOut, ...], "Orders that the loom cannot weave; they are not in the sequence"
    ]
    sequence: Annotated[
        tuple[OrderInSequence, ...], "The orders in the sequence with the shortest stops"
    ]
    loom_stop_hours: Annotated[
        float, "Hours that the loom is stopped for the changes of this sequence"
    ]
    loom_stop_hours_band: ExpectedHours
    further_warps_hours: Annotated[
        float, "Hours that it is stopped for further warps of its orders", Since("0.2")
    ]
    further_warps_hours_band: Annotated[ExpectedHours, Since("0.2")]
    off_loom_hours: OffLoomHours
    off_loom_hours_band: Annotated[ExpectedHours, Since("0.2")]
    given_loom_stop_hours: Annotated[
        float,
        "Hours that it would be stopped for the changes if the orders were woven in the order "
        "given",
    ]
    given_further_warps_hours: Annotated[
        float, "Hours that it would then be stopped for further warps", Since("0.2")
    ]
    findings_on_loom: Annotated[
        tuple[Finding, ...],
        "Findings on the cloth on the loom now, which is taken as it is",
        Since("0.2"),
    ]
    saved_hours: Annotated[
        float,
        "Hours that the sequence saves against the order given, for changes and further warps "
        "together",
    ]
    saved_hours_band: Annotated[
        ValueBand,
        "Between how many hours that is expected; work of a kind is quick or slow in both alike, "
        "and a low end below 0 says that the order given may be the quicker",
        Since("0.2"),
    ]
    matrix: Annotated[tuple[MatrixRow, ...], "Stops of the changes between any two of the cloths"]
    matrix_holds: Annotated[str, "When the entries of the matrix hold"]
    assumptions: AssumedValues
    caution: CautionText


def sequence_orders(
    orders: Sequence[Construction],
    loom: Loom,
    *,
    on_loom: Construction | None = None,
    warp_left_m: float | None = None,
    rates: Mapping[str, float] = MappingProxyType({}),
) -> SequenceReport:
    """Find the sequence of orders on a loom that stops it for the shortest time.

    Args:
        orders: The constructions; at most
            :data:`weavability.looms.weaving_sequence.MOST_ORDERS`.
        loom: The loom; its own changeover rates count if ``rates`` does not state one.
        on_loom: The construction on the loom now; without it the first order needs no change.
        warp_left_m: Warp left of it on the loom; of several beams on that which runs out first.
        rates: Rates by name, as for :func:`weavability.answers.changeover.change_style`.

    Raises:
        InputError: Something cannot be read; pointers start with ``/orders/<index>``,
            ``/on_loom``, ``/loom`` or ``/rates``.
    """
    ledger = Ledger()
    full_rates = rates_for(loom, rates, ledger)
    cloths = {f"/orders/{index}": order for index, order in enumerate(orders)}
    if on_loom is not None:
        cloths["/on_loom"] = on_loom
    fits = dict(zip(cloths, judge_all(cloths, loom), strict=True))
    found = {
        index: findings_below(pointer, fits[pointer])
        for index, pointer in enumerate(f"/orders/{place}" for place in range(len(orders)))
    }
    woven = [index for index in found if not has_error(found[index])]
    planner = _Planner(
        fits=[fits[f"/orders/{index}"] for index in woven],
        now=fits.get("/on_loom"),
        warp_left_m=warp_left_m,
        ledger=ledger,
        rates=full_rates,
    )
    best, given = planner.best(), planner.as_given()
    return tidy(
        SequenceReport(
            loom_id=loom.loom_id,
            not_weavable=tuple(
                OrderLeftOut(index=index, reference=orders[index].reference, findings=findings)
                for index, findings in found.items()
                if index not in woven
            ),
            sequence=tuple(_sequence(planner, best, woven)),
            loom_stop_hours=best.stop_hours,
            loom_stop_hours_band=best.stop_band,
            further_warps_hours=best.further_hours,
            further_warps_hours_band=best.further_band,
            off_loom_hours=best.off_loom_hours,
            off_loom_hours_band=best.off_loom_band,
            given_loom_stop_hours=given.stop_hours,
            given_further_warps_hours=given.further_hours,
            findings_on_loom=findings_below("/on_loom", fits["/on_loom"])
            if "/on_loom" in fits
            else (),
            saved_hours=max(0.0, given.hours - best.hours),
            saved_hours_band=saved_band(given, best),
            matrix=tuple(_matrix(planner, woven, orders)),
            matrix_holds=MATRIX_WORDS,
            assumptions=tuple(assumptions_in_all(fits, ledger)),
            caution=CAUTION,
        )
    )


@dataclass(slots=True, kw_only=True)
class _Planner:
    """Plans the changes between the orders that the loom can weave.

    Attributes:
        fits: Those orders on the loom.
        now: The cloth that is on the loom.
        warp_left_m: Warp that is left of it, if that is stated.
        ledger: Takes it, if it is not.
        rates: How fast the work goes.
        own: Every order on its own draft and in its own reed.
        start: What is on the loom now.
        known: Of every order, what was found of it on drafts.
        woven: Of every order, what was judged of it as it is woven.
    """

    fits: Sequence[Fit]
    now: Fit | None
    warp_left_m: InitVar[float | None]
    ledger: InitVar[Ledger]
    rates: RateSpan
    own: list[StyleOnLoom] = field(init=False)
    start: OnLoom | None = field(init=False)
    known: list[dict[Drawn, str | None]] = field(init=False)
    woven: list[Woven] = field(init=False)

    def __post_init__(self, warp_left_m: float | None, ledger: Ledger) -> None:
        self.own = [style_on_loom(fit) for fit in self.fits]
        self.known = [{} for _ in self.fits]
        self.woven = [{} for _ in self.fits]
        self.start = None
        if self.now is not None:
            style = style_on_loom(self.now)
            self.start = OnLoom(style, warp_left(style, self.own, warp_left_m, ledger))

    def plan(self, old: OnLoom, to: int, rates: ChangeoverRates | RateSpan) -> WarpRoute:
        """Plan the change from what is on the loom to an order."""
        return plan_change(
            self.fits[to],
            old.style,
            self.own[to],
            rates,
            left_m=old.left_m,
            known=self.known[to],
            woven=self.woven[to],
        ).taken

    def best(self) -> Sequenced:
        """Find the best sequence, with the bands of its hours."""
        if not self.own:
            return Sequenced((), (), ())
        found = best_sequence(
            self.own,
            lambda old, to: self.plan(old, to, self.rates.usual),
            self._begin,
            on_loom=self.start,
        )
        return self._followed(found.order)

    def as_given(self) -> Sequenced:
        """Plan the changes in the order given."""
        return self._followed(range(len(self.own)))

    def _followed(self, order: Sequence[int]) -> Sequenced:
        return follow(
            self.own,
            lambda old, to: self.plan(old, to, self.rates),
            self._begin,
            order,
            on_loom=self.start,
        )

    def _begin(self, place: int) -> FurtherWarps:
        """Return the further warps of an order that is set up already."""
        style = self.own[place]
        none_m, all_groups = (0.0,) * len(style.beams), range(len(style.beams))
        return further_warps(style, none_m, all_groups, self.rates)


def _sequence(
    planner: _Planner, best: Sequenced, woven: Sequence[int]
) -> Iterator[OrderInSequence]:
    draft_of: int | None = None
    now = planner.start
    for place, change, further in zip(best.order, best.changes, best.further, strict=True):
        index, fit = woven[place], planner.fits[place]
        style = planner.own[place] if change is None else change.style
        warp, has_reed = None, False
        width = width_on_loom(fit, style, has_reed=False)
        if change is not None and now is not None:
            warp = warp_on_loom(now.style, change, now.left_m)
            has_reed = has_reed_of(now.style, change)
            width = width_of_route(fit, now.style, change)
        now = OnLoom.on_full_beams(style) if change is None else OnLoom(style, change.left_m)
        if change is None or not keeps_draft(change.route):
            draft_of = index
        own = planner.own[place]
        found: list[Finding | Observation] = [
            *observe(as_woven(fit, own, style, has_reed=has_reed)),
            *width_findings(fit, own, style),
        ]
        yield OrderInSequence(
            index=index,
            reference=fit.cloth.construction.reference,
            verdict=verdict_of(found),
            codes=codes_of(found),
            route=None if change is None else change.route,
            steps=() if change is None else change.steps,
            loom_stop_hours=0.0 if change is None else change.stop_hours,
            loom_stop_hours_band=ValueBand(0.0, 0.0) if change is None else change.stop_band,
            loom_stop_hours_at_start=0.0 if change is None else change.stop_hours_at_start,
            further_warps_hours=further.hours,
            further_warps_hours_band=further.band,
            off_loom_hours=0.0 if change is None else change.off_loom_hours,
            off_loom_hours_band=ValueBand(0.0, 0.0) if change is None else change.off_loom_band,
            warp=warp,
            draft_of=draft_of,
            width=width,
        )


def _matrix(
    planner: _Planner, woven: Sequence[int], orders: Sequence[Construction]
) -> Iterator[MatrixRow]:
    columns = {index: place for place, index in enumerate(woven)}

    def row(now: OnLoom) -> tuple[float | None, ...]:
        return tuple(
            planner.plan(now, columns[index], planner.rates.usual).stop_hours
            if index in columns
            else None
            for index in range(len(orders))
        )

    if planner.start is not None and planner.now is not None:
        name = planner.now.cloth.construction.reference
        yield MatrixRow(index=None, reference=name, loom_stop_hours=row(planner.start))
    for place, index in enumerate(woven):
        yield MatrixRow(
            index=index,
            reference=orders[index].reference,
            loom_stop_hours=row(OnLoom.on_full_beams(planner.own[place])),
        )
