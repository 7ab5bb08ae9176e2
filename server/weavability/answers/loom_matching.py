"""A construction against a park of looms: every loom judged, the best first."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from math import inf
from types import MappingProxyType
from typing import Final, NamedTuple

from weavability.answers.caution import CAUTION
from weavability.answers.changeover import plan_change, rates_for
from weavability.answers.check_levers import LEVERS
from weavability.answers.costs import (
    OrderQuantities,
    order_quantities,
    priced,
    refuse_strange_yarns,
)
from weavability.answers.decisive_assumptions import decide_on, values_tried
from weavability.answers.levers import SAME_CLOTH_PCT
from weavability.answers.loom_match import (
    MOST_LOOMS_DECIDED,
    RANKED_BY,
    ChangeoverSummary,
    CostSummary,
    LoomMatch,
    MatchReport,
    RankBy,
)
from weavability.answers.order_columns import JudgedPair, judge_on_looms
from weavability.answers.prices import Prices
from weavability.answers.rounding import tidy
from weavability.answers.validation import judge, ruleset
from weavability.answers.verdicts import codes_of, verdict_of
from weavability.answers.weighed_findings import Weighed
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, pair_of, words_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import explain, observe_pair
from weavability.checks.rules import About, Observation
from weavability.looms.changeover_rates import ChangeoverRates, RateSpan, further_warps_hours
from weavability.looms.drawing_in import MOST_SHAFTS_DRAWN, hooks_used
from weavability.looms.figured_warp import harness_for, woven_on
from weavability.looms.fit import Fit, ends_by_group, fit_cloth
from weavability.looms.fit_numbers import FitNumbers
from weavability.looms.kept_harness import fingerprint, lift_plan_of, style_on_loom
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits, resolve_loom
from weavability.looms.shedding_limits import ShaftLimits
from weavability.looms.speed import named_limits
from weavability.looms.style_change import WarpRoute
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import SpeedLimit, speed_limit
from weavability.textiles.assumptions import Ledger, ValueBand
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.rounded_numbers import significant
from weavability.textiles.sentences import say

MOST_CROSSINGS_DRAWN_IN: Final = 2_000_000_000
"""Crossings that are drawn in for one ranking: a design of ten million on two hundred looms."""

LOOMS_IN_COLUMNS: Final = 8
"""Unlike looms from which on they are judged in columns. One column costs about 9 ms however few
looms are in it, a loom alone more than 1 ms; ``tests/bench/loom_matches.py`` measures both."""


_NO_FURTHER_WARP: Final = (0.0, ValueBand(0.0, 0.0))

_Found = Sequence[Observation]

_VERDICT_RANK: Final = {
    Verdict.WEAVABLE: 0,
    Verdict.WEAVABLE_WITH_WARNINGS: 1,
    Verdict.NOT_WEAVABLE: 2,
}


def match_looms(
    construction: Construction,
    looms: Sequence[Loom],
    *,
    on_loom: Mapping[str, Construction] = MappingProxyType({}),
    prices: Prices | None = None,
    rank_by: RankBy = RankBy.HOURS,
) -> MatchReport:
    """Judge a construction on every loom and rank them.

    Looms that differ only in their name are computed once.

    Args:
        construction: The cloth as ordered.
        looms: The looms to try.
        on_loom: What is woven now, by loom; its change-over is then counted in.
        prices: What the mill pays, if costs are to be reported.
        rank_by: What looms of the same verdict are ranked by; by cost needs prices.

    Raises:
        InputError: Something cannot be read; pointers start with ``/construction``,
            ``/looms/<index>``, ``/on_loom/<loom_id>`` or ``/prices``.
    """
    if prices is None and rank_by is RankBy.COST:
        raise InputError.of(
            "/rank_by",
            say(
                "fault.matches.cost_without_prices",
                "Looms are ranked by cost only if prices are stated.",
            ),
        )
    trials = _Trials(construction, on_loom, prices)
    for alike in trials.by_harness(looms).values():
        try:
            trial = trials.of(alike[0])
        except InputError as error:
            raise _at_loom(error, looms.index(alike[0])) from None
        if prices is None:
            trial.judge_in_columns(alike)
    if prices is not None:
        refuse_strange_yarns(construction, prices)
    tried = [
        (trials.of(loom).judged_on(loom, index), index, loom) for index, loom in enumerate(looms)
    ]
    costs = [_cost_on(judged, loom, index, prices) for judged, index, loom in tried]
    cloth = trials.of(looms[0]).cloth
    ranked = sorted(tried, key=lambda each: each[0].order_by(rank_by, costs[each[1]]))
    return MatchReport(
        ruleset=ruleset(),
        reference=construction.reference,
        ranked_by=RANKED_BY[rank_by],
        currency=None if prices is None else prices.currency,
        counts={
            verdict.value: sum(judged.verdict is verdict for judged, _, _ in tried)
            for verdict in Verdict
        },
        matches=tuple(
            judged.match(
                rank=rank,
                index=index,
                loom_id=loom.loom_id,
                costs=costs[index],
                reason=_with_cost(judged, costs[index], prices),
            )
            for rank, (judged, index, loom) in enumerate(ranked, start=1)
        ),
        assumptions=tidy(
            (
                *(line.below("/construction") for line in cloth.assumptions),
                *in_force().assumptions(),
            )
        ),
        caution=CAUTION,
    )


def with_decisive_assumptions(
    report: MatchReport,
    construction: Construction,
    looms: Sequence[Loom],
    before: Callable[[Construction, int], None],
) -> MatchReport:
    """Return a ranking with what the verdicts on the best ranked looms rest on.

    Args:
        report: Of the construction on the looms.
        construction: The cloth as ordered.
        looms: The looms as they were tried.
        before: Called before each of them with the cloth as the loom weaves it and with how many
            assumed values are tried; it may raise.
    """
    first, rest = report.matches[:MOST_LOOMS_DECIDED], report.matches[MOST_LOOMS_DECIDED:]
    decided = (_decided(each, construction, looms[each.index], before) for each in first)
    return replace(report, matches=(*decided, *rest))


def _decided(
    match: LoomMatch,
    construction: Construction,
    loom: Loom,
    before: Callable[[Construction, int], None],
) -> LoomMatch:
    fit = judge(construction, loom)
    before(fit.cloth.construction, values_tried(fit.assumptions))
    found = decide_on(fit, loom)
    return replace(
        match,
        verdict_holds=found.holds,
        verdict_holds_note=found.note,
        decisive_assumptions=tidy(found.decisive),
        reed_note=found.reed_note,
        turning_corner=tidy(found.corner),
    )


@dataclass(slots=True)
class _Trials:
    """One order on all looms; a figured design is another cloth on each tie of a harness."""

    construction: Construction
    on_loom: Mapping[str, Construction]
    prices: Prices | None
    made: dict[Hashable, _Trial] = field(default_factory=dict)

    def by_harness(self, looms: Sequence[Loom]) -> dict[Hashable, list[Loom]]:
        """Put looms together on which the order is one cloth."""
        found: dict[Hashable, list[Loom]] = {}
        for loom in looms:
            found.setdefault(self._harness(loom), []).append(loom)
        return found

    def of(self, loom: Loom) -> _Trial:
        """Return the order's cloth on a loom, to be judged there."""
        harness = self._harness(loom)
        if harness not in self.made:
            woven = woven_on(self.construction, loom)
            with pointing_below("/construction"):
                self.made[harness] = _Trial(
                    cloth=cloth_facts(woven), on_loom=self.on_loom, prices=self.prices
                )
        return self.made[harness]

    def _harness(self, loom: Loom) -> Hashable:
        return harness_for(self.construction, loom)


class _Judged(NamedTuple):
    """A loom that is judged: its order in the ranking, and its match but for rank, name and cost.

    Attributes:
        quantities: What the order takes on it, if that is priced.
    """

    order: tuple[float, ...]
    verdict: Verdict
    reason: str
    match: partial[LoomMatch]
    quantities: OrderQuantities | None = None

    def order_by(self, rank_by: RankBy, costs: CostSummary | None) -> tuple[float, ...]:
        """Return by what it is ranked."""
        if rank_by is RankBy.HOURS or costs is None:
            return self.order
        cost = inf if costs.cost_per_m is None else costs.cost_per_m
        *first, hours, width_use = self.order
        return (*first, len(costs.not_priced), cost, hours, width_use)


def _cost_on(judged: _Judged, loom: Loom, index: int, prices: Prices | None) -> CostSummary | None:
    """Price what an order takes on a loom; looms that can do the same may cost unlike."""
    if prices is None or judged.quantities is None:
        return None
    try:
        found = priced(judged.quantities, loom, prices)
    except InputError as error:
        raise _at_loom(error, index) from None
    return tidy(
        CostSummary(
            cost_per_m=found.cost_per_m,
            cost_per_m2=found.cost_per_m2,
            cost_for_order=found.cost_for_order,
            loom_hour=found.loom_hour,
            changeover_hours=judged.quantities.changeover_hours,
            not_priced=tuple(each.driver for each in found.not_priced),
        )
    )


@dataclass(kw_only=True)
class _Trial:
    """One cloth on loom after loom; what looms have in common is computed once.

    Attributes:
        judged: By the limits of the loom and the construction that is on it, both by identity.
        kept: Those limits, so that no other can take their identity.
        resolved: Limits of looms, by the identity of the loom.
        facts_now: Of the constructions on the looms, by their identity.
        fingerprints: Of designs, by the identity of the facts of their cloth.
        crossings_drawn_in: Of all weaves that were drawn in on shafts.
    """

    cloth: ClothFacts
    on_loom: Mapping[str, Construction]
    prices: Prices | None = None
    judged: dict[tuple[int, int | None], _Judged] = field(default_factory=dict)
    kept: list[LoomLimits] = field(default_factory=list)
    resolved: Mapping[int, LoomLimits] = field(default_factory=dict)
    facts_now: dict[int, ClothFacts] = field(default_factory=dict)
    fingerprints: dict[int, str] = field(default_factory=dict)
    crossings_drawn_in: int = 0

    def judged_on(self, loom: Loom, index: int) -> _Judged:
        """Judge the cloth on a loom, or take the judgement of an equal loom."""
        now = self.on_loom.get(loom.loom_id) if loom.loom_id else None
        try:
            limits = self.resolved.get(id(loom)) or resolve_loom(loom)
        except InputError as error:
            raise _at_loom(error, index) from None
        # Looms that can do the same share their limits, which are kept with the fits judged here;
        # constructions hold mappings and cannot be hashed, but live as long as this trial.
        alike = (id(limits), None if now is None else id(now))
        if alike not in self.judged:
            self.kept.append(limits)
            self.judged[alike] = self._judge(loom, limits, index, now)
        return self.judged[alike]

    def judge_in_columns(self, looms: Sequence[Loom]) -> None:
        """Judge the cloth on all looms that nothing is on at once, if they are many.

        What is refused is left to :meth:`judged_on`, which gives the reason.
        """
        if len(looms) < LOOMS_IN_COLUMNS:
            return
        try:
            self.resolved = {id(loom): resolve_loom(loom) for loom in looms}
            free = (self.resolved[id(loom)] for loom in looms if loom.loom_id not in self.on_loom)
            limits = tuple(dict.fromkeys(free))
            looms_of = {id(self.resolved[id(loom)]): loom for loom in looms}
            if len(limits) < LOOMS_IN_COLUMNS or self._is_too_large(len(limits)):
                return
            judged = judge_on_looms(self.cloth, limits)
        except InputError:
            return
        for one, pair in zip(limits, judged, strict=True):
            if pair is not None:
                self.kept.append(one)
                self._count_drawing_in(self.cloth, one)
                further = self._further_warps(looms_of[id(one)], one, pair.facts.fit)
                self.judged[id(one), None] = _judged(self.cloth, one, pair, None, further)

    def _is_too_large(self, looms: int) -> bool:
        return self.cloth.weave.matrix.size * looms > MOST_CROSSINGS_DRAWN_IN

    def _judge(
        self, loom: Loom, limits: LoomLimits, index: int, now: Construction | None
    ) -> _Judged:
        try:
            fit = self._fit(self.cloth, limits)
        except InputError as error:
            raise _at_loom(error, index) from None
        route = None if now is None else self._change(fit, loom, now)
        change = None if route is None else _summary(route)
        numbers = pair_of(fit)
        pair = JudgedPair(
            facts=numbers.facts, found=observe_pair(numbers), words=words_of(fit, numbers)
        )
        further = self._further_warps(loom, limits, fit.numbers)
        judged = _judged(self.cloth, limits, pair, change, further)
        if self.prices is None:
            return judged
        stop_hours = None if route is None else route.stop_hours
        return judged._replace(
            quantities=order_quantities(fit, loom, self.prices, changeover_hours=stop_hours)
        )

    def _further_warps(
        self, loom: Loom, limits: LoomLimits, fit: FitNumbers[float]
    ) -> tuple[float, ValueBand]:
        """Return the hours of tying in the warps after the first, and their band."""
        fillings = [int(each.beams_needed) for each in fit.groups]
        if max(fillings) == 1:
            return _NO_FURTHER_WARP
        warps = list(zip(self.group_ends, fillings, strict=True))
        own = dict(loom.changeover_rates)
        usual, quick, slow = (
            further_warps_hours(
                warps, have_own_beams=len(warps) <= limits.beams.let_offs, rates=rates
            )
            for rates in RateSpan.of(ChangeoverRates(**own), stated=own.keys())
        )
        return usual, ValueBand(quick, slow)

    @cached_property
    def group_ends(self) -> tuple[int, ...]:
        """Ends of each group of the warp."""
        return ends_by_group(self.cloth)

    def _fit(self, cloth: ClothFacts, limits: LoomLimits) -> Fit:
        """Put a cloth on a loom, as long as the drawing-in of large designs keeps within bounds."""
        self._count_drawing_in(cloth, limits)
        if self.crossings_drawn_in > MOST_CROSSINGS_DRAWN_IN:
            raise InputError.of(
                "/construction/weave",
                say(
                    "fault.matches.design_too_large",
                    "This design is too large to be drawn in on so many looms; ask for "
                    "fewer at once.",
                ),
                given=cloth.weave.matrix.size,
                allowed=f"{MOST_CROSSINGS_DRAWN_IN} crossings on all looms together",
            )
        return fit_cloth(cloth, limits)

    def _count_drawing_in(self, cloth: ClothFacts, limits: LoomLimits) -> None:
        on_shafts = isinstance(limits.shedding, ShaftLimits)
        if on_shafts and cloth.structure.shafts_needed <= MOST_SHAFTS_DRAWN:
            self.crossings_drawn_in += cloth.weave.matrix.size

    def _change(self, fit: Fit, loom: Loom, now: Construction) -> WarpRoute:
        """Plan the change from the cloth that is on the loom."""
        try:
            if id(now) not in self.facts_now:
                self.facts_now[id(now)] = cloth_facts(woven_on(now, loom))
            before = self._fit(self.facts_now[id(now)], fit.limits)
        except InputError as error:
            raise _below_loom(error, loom) from None
        rates = rates_for(loom, {}, Ledger())
        return plan_change(fit, self._style(before), self._style(fit), rates).taken

    def _style(self, fit: Fit) -> StyleOnLoom:
        """Collect the figures that a change compares; a large design is digested once."""
        if fit.draft is not None:
            return style_on_loom(fit)
        known = self.fingerprints.get(id(fit.cloth))
        if known is None:
            known = self.fingerprints[id(fit.cloth)] = fingerprint(lift_plan_of(fit))
        return style_on_loom(fit, lift_plan=known)


def _summary(route: WarpRoute) -> ChangeoverSummary:
    return ChangeoverSummary(
        route=route.route,
        loom_stop_hours=significant(route.stop_hours),
        loom_stop_hours_band=_tidy_band(route.stop_band),
        off_loom_hours=significant(route.off_loom_hours),
        off_loom_hours_band=_tidy_band(route.off_loom_band),
    )


def _tidy_band(band: ValueBand) -> ValueBand:
    return ValueBand(significant(band.low), significant(band.high))


def _at_loom(error: InputError, index: int) -> InputError:
    """Point faults of a loom at its place in the list; those of the construction stay."""
    return InputError(
        fault
        if fault.pointer.startswith("/construction")
        else replace(fault, pointer=f"/looms/{index}{fault.pointer}")
        for fault in error.faults
    )


def _below_loom(error: InputError, loom: Loom) -> InputError:
    """Point faults of what is woven now at its place in ``on_loom``."""
    return InputError(
        replace(
            fault,
            pointer=f"/on_loom/{loom.loom_id}{fault.pointer.removeprefix('/construction')}",
        )
        for fault in error.faults
    )


def _judged(
    cloth: ClothFacts,
    limits: LoomLimits,
    pair: JudgedPair,
    change: ChangeoverSummary | None,
    further_warps: tuple[float, ValueBand],
) -> _Judged:
    found, fit = pair.found, pair.facts.fit
    running_hours = cloth.lengths.loom_m / fit.output_m_per_h
    verdict = verdict_of(found)
    if verdict is Verdict.NOT_WEAVABLE:
        change = None
    rejected = _rejected_if_assumed(pair, verdict)
    further_hours, further_band = further_warps
    stop_hours = (change.loom_stop_hours if change else 0.0) + further_hours
    hours = significant(running_hours + stop_hours)
    width_use_pct = 100 * pair.facts.cloth.reed_width_cm / limits.reed_width_cm
    requested = cloth.construction.requested_speed_picks_per_min
    slowest = speed_limit(
        tuple(named_limits(limits.numbers, fit.speeds, fit.weft_speed, requested))
    )
    match = partial(
        LoomMatch,
        verdict=verdict,
        codes=codes_of(found),
        rejected_if_assumed=rejected,
        speed_picks_per_min=significant(slowest.picks_per_min),
        limited_by=slowest.name,
        insertion_rate_m_per_min=significant(fit.insertion_rate_m_per_min),
        output_m_per_h=significant(fit.output_m_per_h),
        running_hours=significant(running_hours),
        further_warps_hours=significant(further_hours),
        further_warps_hours_band=_tidy_band(further_band),
        hours=hours,
        reed_width_use_pct=significant(width_use_pct),
        idle_shafts=_idle_shafts(limits, pair.facts),
        idle_hooks=_idle_hooks(limits, cloth),
        changeover=change,
        verdict_holds=None,
        verdict_holds_note=None,
        decisive_assumptions=None,
        reed_note=None,
        turning_corner=None,
    )
    order = (
        _VERDICT_RANK[verdict],
        bool(rejected),
        *_to_mend(cloth, limits, found),
        hours,
        -significant(width_use_pct),
    )
    reason = _reason(pair, slowest, running_hours, width_use_pct, change, further_hours, rejected)
    return _Judged(order=order, verdict=verdict, reason=reason, match=match)


def _rejected_if_assumed(pair: JudgedPair, verdict: Verdict) -> tuple[CheckCode, ...]:
    """Return the codes for which an order is not weavable if what is assumed is so."""
    may_be = (
        seen.is_assumed or seen.comparison.about is About.EACH_REQUIREMENT for seen in pair.found
    )
    if verdict is not Verdict.WEAVABLE_WITH_WARNINGS or not any(may_be):
        return ()  # a doubt is a warning
    return tuple(sorted(Weighed.of(pair.found, pair.facts).doubts))


def _to_mend(cloth: ClothFacts, limits: LoomLimits, found: _Found) -> tuple[bool, float, int]:
    """Return how far an order is from being woven on a loom; the same for all that weave it.

    First whether no change of the order helps, as far as its errors say so at once; then the share
    of the reed that a panel of it is too wide for, and how many checks refuse it.
    """
    errors = set(codes_of(found).errors)
    if CheckCode.WIDTH_REED_SPACE in errors:
        of_panel_cm = cloth.widths.reed_cm / cloth.panels
        is_hopeless = of_panel_cm * (1 - SAME_CLOTH_PCT / 100) > limits.reed_width_cm
        missing = max(0.0, significant(of_panel_cm / limits.reed_width_cm - 1))
    else:
        is_hopeless, missing = False, 0.0
    return is_hopeless or any(code not in LEVERS for code in errors), missing, len(errors)


def _idle_shafts(limits: LoomLimits, facts: Facts[float]) -> int | None:
    shedding, used = limits.shedding, int(facts.weave.shafts_used)
    return max(0, shedding.shafts - used) if isinstance(shedding, ShaftLimits) and used else None


def _idle_hooks(limits: LoomLimits, cloth: ClothFacts) -> int | None:
    shedding = limits.shedding
    if isinstance(shedding, ShaftLimits):
        return None
    ground_ends = cloth.panels * cloth.ends.ground
    figured = cloth.construction.figured
    tied = 0 if figured is None else int(figured.numbers.tie_hooks)
    used = tied or hooks_used(shedding, repeat_ends=cloth.structure.ends, ground_ends=ground_ends)
    return max(0, shedding.hooks - used)


def _with_cost(judged: _Judged, costs: CostSummary | None, prices: Prices | None) -> str:
    """Add the cost to the reason of a loom that can weave the cloth."""
    cost = None if costs is None else costs.cost_per_m
    if costs is None or cost is None or judged.verdict is Verdict.NOT_WEAVABLE:
        return judged.reason
    label = "" if prices is None or prices.currency is None else f" {prices.currency}"
    figure = f"{cost:.4g}" if cost < 10_000 else f"{cost:.0f}"
    missing = f" without {', '.join(costs.not_priced)}" if costs.not_priced else ""
    return f"{judged.reason.removesuffix('.')}; {figure}{label}/m{missing}."


def _reason(
    pair: JudgedPair,
    slowest: SpeedLimit,
    running_hours: float,
    width_use_pct: float,
    change: ChangeoverSummary | None,
    further_hours: float,
    rejected: Sequence[CheckCode],
) -> str:
    errors = [seen for seen in pair.found if seen.severity is Severity.ERROR]
    if errors:
        more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
        return f"Not weavable{more}: {explain(errors[0], pair.facts, pair.words).message}"
    warnings = [code for code in codes_of(pair.found).warnings if code not in rejected]
    doubt = f"if what is assumed is so, not weavable ({', '.join(rejected)})"
    parts = [
        *([doubt] if rejected else []),
        f"{running_hours:.0f} h at {slowest.picks_per_min:.0f} picks/min "
        f"(limited by {slowest.name.replace('_', ' ')})",
        f"{width_use_pct:.0f} % of the reed used",
    ]
    if change is not None:
        route = change.route.replace("_", " ")
        parts.append(f"{change.loom_stop_hours:.1f} h to change over ({route})")
    if further_hours > 0:
        parts.append(f"{further_hours:.1f} h to tie in further warps")
    if warnings:
        parts.append("warnings: " + ", ".join(warnings))
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."
