"""A construction against a park of looms: every loom judged, the best first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from weavability.assessment import CAUTION, ruleset, verdict_of
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.checks.registry import run_checks
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.limits import resolve_loom
from weavability.looms.loom import Loom
from weavability.style_change import plan_change, rates_for
from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.tidy import tidy

RANKED_BY: Final = (
    "verdict, then hours (running and change-over) for the order, then reed width use"
)

_VERDICT_RANK: Final = {
    Verdict.WEAVABLE: 0,
    Verdict.WEAVABLE_WITH_WARNINGS: 1,
    Verdict.NOT_WEAVABLE: 2,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """Codes of the findings by severity, each once, in the order of the report."""

    errors: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverSummary:
    """The change from the cloth that is on the loom."""

    route: str
    loom_stop_hours: float
    off_loom_hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomMatch:
    """One loom in the ranking.

    Attributes:
        rank: 1 for the best; looms with equal figures follow in the order given.
        running_hours: For the order, or for 1000 m where it states no length.
        hours: Running and change-over together; what the ranking compares.
        idle_shafts: Shafts of the loom that stay empty; ``None`` on a Jacquard.
        idle_hooks: Hooks cast out; ``None`` without a Jacquard.
        changeover: From what is on the loom, where that was stated.
        reason: In a line, why it stands where it stands.
    """

    rank: int
    loom_id: str | None
    verdict: Verdict
    codes: Codes
    speed_picks_per_min: float
    limited_by: str
    insertion_rate_m_per_min: float
    output_m_per_h: float
    running_hours: float
    hours: float
    reed_width_use_pct: float
    idle_shafts: int | None
    idle_hooks: int | None
    changeover: ChangeoverSummary | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchReport:
    """Every loom, the best first.

    Attributes:
        counts: Looms by verdict.
        assumptions: On the construction; those on a loom are in its own validation.
    """

    ruleset: str
    reference: str | None
    ranked_by: str
    counts: dict[str, int]
    matches: tuple[LoomMatch, ...]
    assumptions: tuple[Assumption, ...]
    caution: str


def match_looms(
    construction: Construction,
    looms: Sequence[Loom],
    *,
    on_loom: Mapping[str, Construction] = MappingProxyType({}),
) -> MatchReport:
    """Judge a construction on every loom and rank them.

    Looms that differ only in their name are computed once.

    Args:
        construction: The cloth as ordered.
        looms: The looms to try.
        on_loom: What is woven now, by loom; its change-over is then counted in.

    Raises:
        InputError: Something cannot be read; pointers start with ``/construction``,
            ``/looms/<index>`` or ``/on_loom/<loom_id>``.
    """
    try:
        cloth = cloth_facts(construction)
    except InputError as error:
        raise error.below("/construction") from None
    judged: dict[tuple[Loom, str | None], LoomMatch] = {}
    unranked = []
    for index, loom in enumerate(looms):
        now = on_loom.get(loom.loom_id or "")
        alike = (replace(loom, loom_id=None, description=None), loom.loom_id if now else None)
        if alike not in judged:
            try:
                fit = fit_cloth(cloth, resolve_loom(alike[0]))
            except InputError as error:
                raise _at_loom(error, index) from None
            judged[alike] = _match(fit, loom, now)
        unranked.append(replace(judged[alike], loom_id=loom.loom_id))
    ranked = sorted(unranked, key=_place)
    return tidy(
        MatchReport(
            ruleset=ruleset(),
            reference=construction.reference,
            ranked_by=RANKED_BY,
            counts={verdict.value: _count(ranked, verdict) for verdict in Verdict},
            matches=tuple(replace(match, rank=rank) for rank, match in enumerate(ranked, start=1)),
            assumptions=tuple(
                replace(line, pointer="/construction" + line.pointer) for line in cloth.assumptions
            ),
            caution=CAUTION,
        )
    )


def _at_loom(error: InputError, index: int) -> InputError:
    """Point faults of a loom at its place in the list; those of the construction stay."""
    return InputError(
        fault
        if fault.pointer.startswith("/construction")
        else replace(fault, pointer=f"/looms/{index}{fault.pointer}")
        for fault in error.faults
    )


def _place(match: LoomMatch) -> tuple[int, float, float]:
    return (_VERDICT_RANK[match.verdict], match.hours, -match.reed_width_use_pct)


def _count(matches: Sequence[LoomMatch], verdict: Verdict) -> int:
    return sum(match.verdict is verdict for match in matches)


def _match(fit: Fit, loom: Loom, now: Construction | None) -> LoomMatch:
    found = tuple(run_checks(fit))
    change = None if now is None else _change(fit, loom, now)
    running_hours = fit.cloth.loom_length_m / fit.output_m_per_h
    verdict = verdict_of(found)
    shafts = fit.limits.shedding.shafts
    used = fit.harness.shafts_used
    return LoomMatch(
        rank=0,
        loom_id=loom.loom_id,
        verdict=verdict,
        codes=Codes(
            errors=_codes(found, Severity.ERROR),
            warnings=_codes(found, Severity.WARNING),
            notes=_codes(found, Severity.NOTE),
        ),
        speed_picks_per_min=fit.speed_picks_per_min,
        limited_by=fit.limited_by.name,
        insertion_rate_m_per_min=fit.insertion_rate_m_per_min,
        output_m_per_h=fit.output_m_per_h,
        running_hours=running_hours,
        hours=running_hours + (change.loom_stop_hours if change else 0.0),
        reed_width_use_pct=100 * fit.cloth.reed_width_cm / fit.limits.reed_width_cm,
        idle_shafts=None if shafts is None or used is None else max(0, shafts - used),
        idle_hooks=fit.harness.hooks_idle,
        changeover=change,
        reason=_reason(fit, found, running_hours, change),
    )


def _codes(found: Sequence[Finding], severity: Severity) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.code for one in found if one.severity is severity))


def _change(fit: Fit, loom: Loom, now: Construction) -> ChangeoverSummary:
    try:
        before = fit_cloth(cloth_facts(now), fit.limits)
    except InputError as error:
        raise error.below(f"/on_loom/{loom.loom_id}") from None
    plan = plan_change(before, fit, rates_for(loom, {}, Ledger()))
    return ChangeoverSummary(
        route=plan.route,
        loom_stop_hours=plan.loom_stop_hours,
        off_loom_hours=plan.off_loom_hours,
    )


def _reason(
    fit: Fit, found: Sequence[Finding], running_hours: float, change: ChangeoverSummary | None
) -> str:
    errors = [one for one in found if one.severity is Severity.ERROR]
    if errors:
        more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
        return f"Not weavable{more}: {errors[0].message}"
    warnings = _codes(found, Severity.WARNING)
    parts = [
        f"{running_hours:.0f} h at {fit.speed_picks_per_min:.0f} picks/min "
        f"(limited by {fit.limited_by.name.replace('_', ' ')})",
        f"{100 * fit.cloth.reed_width_cm / fit.limits.reed_width_cm:.0f} % of the reed used",
    ]
    if change is not None:
        parts.append(f"{change.loom_stop_hours:.1f} h to change over ({change.route})")
    if warnings:
        parts.append("warnings: " + ", ".join(warnings))
    return "; ".join(parts) + "."
