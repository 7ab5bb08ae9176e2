"""Construction and loom in, report out: facts once, checks over the facts, remedies tried."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache, lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final, NamedTuple

from weavability.answers.altered import Pricing
from weavability.answers.caution import CAUTION
from weavability.answers.costs import cost_assumptions, energy_use, order_cost
from weavability.answers.costs_section import Costs
from weavability.answers.decisive_assumptions import decide
from weavability.answers.design_section import design_section
from weavability.answers.field_changes import form_of
from weavability.answers.finding_remedies import FoundRemedies, remedies_of
from weavability.answers.layer_summary import layers_summary
from weavability.answers.order_chain import order_chain
from weavability.answers.prices import Prices
from weavability.answers.report import (
    BeamOnLoom,
    ClothState,
    ClothStates,
    ClothSummary,
    Counts,
    Rates,
    Report,
    SelvedgeSetup,
    Setup,
    WarpGroupSummary,
    WarpSummary,
    YarnUse,
)
from weavability.answers.requirement_summary import requirement_summaries
from weavability.answers.rounding import tidy
from weavability.answers.tightest_square import tightest_square
from weavability.answers.verdicts import verdict_of
from weavability.checks.codes import CheckCode
from weavability.checks.facts import pair_of, words_of
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.checks.pointers import DENTS, ENDS_PER_DENT
from weavability.checks.registry import explain, observe_pair, run_checks
from weavability.checks.settling import IF_ASSUMED_KEY
from weavability.looms.drawing_in import OnHooks, OnShafts
from weavability.looms.figured_warp import woven_on
from weavability.looms.fit import Fit, GroupWarp, fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.reeds import reed_counts
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import picks_per_min_by_name
from weavability.looms.yarn_amounts import yarn_amounts
from weavability.textiles.assumptions import Assumption
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.cloth_states import StateNumbers
from weavability.textiles.construction import Construction, Reed
from weavability.textiles.crimp import contraction_of_crimp_pct
from weavability.textiles.errors import pointing_below
from weavability.textiles.geometry import fibre_volume_pct
from weavability.textiles.naming import size_in_words
from weavability.textiles.weave_matrix import write_rows

MAX_PRINTED_PICKS: Final = 2000
"""Longest lift plan that is printed in a report; ``POST /v1/weaves`` gives any."""


def ruleset() -> str:
    """Return a short digest of everything that an answer follows from, besides its request.

    It covers source and data of the core, and the thresholds that the mill has set itself. It also
    changes when no answer does, which only costs a repeated answer.
    """
    return _ruleset(in_force().replaced)


@lru_cache(maxsize=8)
def _ruleset(replaced: tuple[tuple[str, float], ...]) -> str:
    return hashlib.sha256(_core_digest() + repr(replaced).encode()).hexdigest()[:16]


@cache
def _core_digest() -> bytes:
    """Digest every file of the package but those of the service; read once a process."""
    return digest_of_files(resources.files("weavability"), leave_out="/service")


def digest_of_files(folder: Traversable, *, leave_out: str = "") -> bytes:
    """Digest paths and contents of all files below a folder, but for caches of Python.

    Args:
        folder: The folder; it may be within an archive.
        leave_out: A folder below it that does not count, as ``/name``; empty for none.
    """
    digest = hashlib.sha256()
    for path, file in sorted(_files(folder, "", leave_out)):
        digest.update(f"{path}\n".encode())
        digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.digest()


def _files(folder: Traversable, path: str, leave_out: str) -> Iterator[tuple[str, Traversable]]:
    for entry in folder.iterdir():
        below = f"{path}/{entry.name}"
        if entry.is_dir() and entry.name != "__pycache__" and below != leave_out:
            yield from _files(entry, below, leave_out)
        elif entry.is_file():
            yield below, entry


def assess(
    construction: Construction,
    loom: Loom,
    *,
    prices: Prices | None = None,
    rounded: bool = True,
    remedies: bool = True,
    several_fields: bool = False,
) -> Report:
    """Judge a construction on a loom.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.
        prices: What the mill pays, if costs are to be reported.
        remedies: Whether remedies are looked for; without them no change of the order is tried.
        several_fields: Whether a remedy may write several fields, for who reads its ``changes``.
        rounded: Whether its figures are rounded; :func:`weavability.answers.rounding.plain` does
            so too, for who writes it.

    Raises:
        InputError: Something in the request cannot be read or contradicts itself; pointers start
            with ``/construction``, ``/loom`` or ``/prices``.
    """
    report = report_on(
        judge(construction, loom),
        loom,
        prices=prices,
        remedies=remedies,
        several_fields=several_fields,
    )
    return tidy(report) if rounded else report


def report_on(
    fit: Fit,
    loom: Loom,
    *,
    prices: Prices | None = None,
    remedies: bool = True,
    several_fields: bool = False,
) -> Report:
    """Judge the facts of a construction on a loom; figures are not rounded."""
    priced = None if prices is None else _Priced.of(fit, loom, prices)
    pair = pair_of(fit)
    words = words_of(fit, pair)
    seen = observe_pair(pair)
    found = [explain(each, pair.facts, words) for each in seen]
    if remedies and seen:
        pricing = None if prices is None else Pricing(loom=loom, prices=prices)
        helping = remedies_of(fit, pair.facts, seen, pricing, several_fields=several_fields)
        found = list(_with_remedies(found, helping))
    return _report(fit, loom, tuple(found), priced)


class _Priced(NamedTuple):
    """The costs of an order, and what is assumed for them."""

    costs: Costs
    assumptions: tuple[Assumption, ...]

    @classmethod
    def of(cls, fit: Fit, loom: Loom, prices: Prices) -> _Priced:
        """Compute them."""
        return cls(order_cost(fit, loom, prices), tuple(cost_assumptions(fit, loom, prices)))


def with_decisive_assumptions(report: Report, construction: Construction, loom: Loom) -> Report:
    """Return a report with the assumed values that turn its verdict inside their bands.

    Args:
        report: Of the construction on the loom.
        construction: The cloth as ordered.
        loom: The loom as stated.
    """
    decided = decide(construction, loom)
    return replace(
        report,
        verdict_holds=decided.holds,
        verdict_holds_note=decided.note,
        decisive_assumptions=decided.decisive,
        reed_note=decided.reed_note,
        turning_corner=decided.corner,
    )


def judge(construction: Construction, loom: Loom) -> Fit:
    """Compute the facts of a construction on a loom; see :func:`assess` for the errors."""
    with pointing_below("/loom"):
        limits = resolve_loom(loom)
        construction = woven_on(construction, loom)
    with pointing_below("/construction"):
        cloth = cloth_facts(construction)
    return fit_cloth(cloth, limits)


def stated_findings(fit: Fit) -> Iterator[Finding]:
    """Yield every finding on a fit, without remedies, pointing at the fields that were stated."""
    for finding in run_checks(fit):
        yield _as_stated(finding, fit.cloth.construction)


def verdict_note(findings: Iterable[Finding]) -> str | None:
    """Return which stated values would decide a verdict that rests on what is only assumed."""
    found = list(findings)
    if verdict_of(found) is Verdict.NOT_WEAVABLE:
        return None
    eased = [finding for finding in found if finding.message_key.endswith(IF_ASSUMED_KEY)]
    pointers = dict.fromkeys(pointer for finding in eased for pointer in finding.rests_on)
    if not pointers:
        return None
    codes = ", ".join(dict.fromkeys(finding.code for finding in eased))
    return (
        f"It is not weavable ({codes}) if what is assumed is so; it may be weavable if it is not. "
        f"State {', '.join(pointers)} to decide it."
    )


def _with_remedies(
    found: Iterable[Finding], remedies: Mapping[CheckCode, FoundRemedies]
) -> Iterator[Finding]:
    """Yield findings with the remedies of their checks."""
    for finding in found:
        of_it = remedies.get(finding.code)
        if of_it is None:
            yield finding
            continue
        is_note = finding.severity is Severity.NOTE
        yield replace(finding, remedies=of_it.remedies, tried=() if is_note else of_it.tried)


def _as_stated(finding: Finding, construction: Construction) -> Finding:
    """Point a finding at the field that the caller wrote."""
    pointer = _of_reed(finding.pointer, construction.reed)
    pointer = form_of(construction, pointer).pointer
    return finding if pointer == finding.pointer else replace(finding, pointer=pointer)


def _of_reed(pointer: str, reed: Reed) -> str:
    """Return the pointer of a reed's field in the form in which the order states it."""
    if reed.count is not None and pointer == DENTS:
        return "/construction/reed/count"
    if reed.ends_in_dents and pointer == ENDS_PER_DENT:
        return "/construction/reed/ends_in_dents"
    return pointer


def _report(fit: Fit, loom: Loom, findings: tuple[Finding, ...], priced: _Priced | None) -> Report:
    construction = fit.cloth.construction
    severities = [finding.severity for finding in findings]
    return Report(
        ruleset=ruleset(),
        reference=construction.reference,
        loom_id=loom.loom_id,
        verdict=verdict_of(findings),
        verdict_note=verdict_note(findings),
        verdict_holds=None,
        verdict_holds_note=None,
        decisive_assumptions=None,
        reed_note=None,
        turning_corner=None,
        counts=Counts(
            errors=severities.count(Severity.ERROR),
            warnings=severities.count(Severity.WARNING),
            notes=severities.count(Severity.NOTE),
        ),
        findings=tuple(_as_stated(finding, construction) for finding in findings),
        rates=_rates(fit),
        setup=_setup(fit),
        cloth=_cloth(fit.cloth),
        states=_states(fit.cloth),
        layers=layers_summary(fit),
        design=None
        if construction.figured is None
        else design_section(fit, {each.code for each in findings}),
        order=order_chain(fit),
        requirements=tuple(requirement_summaries(fit)),
        yarn=tuple(_yarn_uses(fit)),
        warp=_warp(fit),
        energy=energy_use(fit, loom),
        costs=None if priced is None else priced.costs,
        assumptions=(*assumptions_of(fit), *(() if priced is None else priced.assumptions)),
        caution=CAUTION,
    )


def _rates(fit: Fit) -> Rates:
    tension = fit.hardest_weft.tension
    return Rates(
        speed_picks_per_min=fit.speed_picks_per_min,
        limited_by=fit.limited_by.name,
        speed_limits_picks_per_min=picks_per_min_by_name(fit.speed_limits),
        insertion_rate_m_per_min=fit.insertion_rate_m_per_min,
        insertion_rate_limit_m_per_min=fit.limits.max_rate_m_per_min,
        insertion_rate_use_pct=100 * fit.insertion_rate_m_per_min / fit.limits.max_rate_m_per_min,
        insertion_time_ms=fit.motion.insertion_time_ms,
        mean_insertion_speed_m_per_s=fit.motion.mean_speed_m_per_s,
        peak_insertion_speed_m_per_s=fit.motion.peak_speed_m_per_s,
        hand_overs_per_min=fit.motion.hand_overs_per_min,
        peak_weft_tension_cn=tension.peak_tension_cn,
        weft_strength_use_pct=tension.strength_use_pct,
        feeder_speed_m_per_min=max(run.feeder_speed_m_per_min for run in fit.wefts),
        efficiency_pct=fit.efficiency_pct,
        stops=fit.efficiency,
        output_m_per_h=fit.output_m_per_h,
        output_m2_per_h=fit.output_m2_per_h,
        hours_for_order=fit.hours,
        days_for_order=fit.days,
        efficiency_pct_band=fit.efficiency_band,
        hours_for_order_band=fit.hours_band,
        stops_for_order=fit.stops,
    )


def _setup(fit: Fit) -> Setup:
    cloth, denting, on = fit.cloth, fit.denting, fit.drawing_in
    drawn = on.drawn if isinstance(on, OnShafts) else None
    draft = fit.draft
    printed = draft is not None and len(draft.lift_plan) <= MAX_PRINTED_PICKS
    free_cm = (fit.limits.reed_width_cm - denting.filled_width_cm) / 2
    return Setup(
        total_ends=cloth.ends.total,
        selvedge_ends=cloth.ends.selvedge,
        panels=cloth.panels,
        reed_width_cm=cloth.widths.reed_cm,
        reed_width_use_pct=100 * cloth.widths.reed_cm / fit.limits.reed_width_cm,
        reed_dents_per_10cm=denting.dents_per_10cm,
        reed_counts=reed_counts(denting.dents_per_10cm),
        ends_per_dent=denting.ends_per_dent,
        dents=denting.dents,
        filled_width_cm=denting.filled_width_cm,
        first_dent_cm=free_cm if free_cm >= 0 else None,
        selvedge_dents_per_side=denting.selvedge_dents,
        ends_per_cm_in_reed=denting.ends_per_cm_in_reed,
        wire_share_pct=denting.air.wire_share_pct,
        gap_fill_pct=denting.air.fill_pct,
        whole_dents=denting.whole_dents,
        whole_repeats=denting.whole_repeats,
        picks_per_cm_on_loom=cloth.picks_per_cm_on_loom,
        shafts_needed=on.shafts_needed if isinstance(on, OnShafts) else None,
        shafts_used=drawn.shafts_used if drawn else None,
        draft=None if draft is None else draft.kind,
        threading=None if draft is None else draft.threading,
        lift_plan=write_rows(draft.lift_plan) if draft is not None and printed else None,
        lift_plan_picks=cloth.structure.picks,
        healds_per_shaft=drawn.healds_per_shaft if drawn else None,
        healds_per_cm_per_shaft=drawn.healds_per_cm_per_shaft if drawn else None,
        hooks_used=on.hooks_used if isinstance(on, OnHooks) else None,
        hooks_idle=on.hooks_idle if isinstance(on, OnHooks) else None,
        ends_per_hook=on.limits.ends_per_hook if isinstance(on, OnHooks) else None,
        weave_repeats_across=on.weave_repeats_across,
        weft_selectors_used=fit.weft_selectors_used,
        beam_arrangement=fit.limits.beams.arrangement,
        beams=tuple(_beams_on_loom(fit)),
        selvedge=_selvedge(fit),
    )


def _selvedge(fit: Fit) -> SelvedgeSetup:
    selvedge, denting = fit.cloth.symbols.selvedge, fit.denting
    own = None if selvedge.repeat is None else selvedge.repeat.weave
    tightness_pct = fit.numbers.selvedge_tightness_pct
    has_ends = selvedge.ends > 0
    return SelvedgeSetup(
        ends_per_side=selvedge.ends // (2 * fit.cloth.panels),
        ends_per_dent=denting.selvedge_ends_per_dent if has_ends else None,
        dents_per_side=denting.selvedge_dents,
        width_cm=10 * denting.selvedge_dents / denting.dents_per_10cm,
        ends_per_cm_in_reed=denting.selvedge_ends_per_dent * denting.dents_per_10cm / 10
        if has_ends
        else None,
        tightness_pct=tightness_pct or None,
        yarn=selvedge.yarn_key,
        weave=None if own is None else own.name or f"{own.ends} ends x {own.picks} picks",
        rows=None if own is None else own.rows,
        own_shafts=selvedge.shafts,
        lift_repeat_picks=selvedge.lift_picks,
        leno_ends_per_side=fit.edge_yarn.leno_ends_per_side,
        catch_cord_ends=fit.edge_yarn.catch_cord_ends,
    )


def _cloth(cloth: ClothFacts) -> ClothSummary:
    covers = cloth.covers
    return ClothSummary(
        weave=cloth.weave.name or size_in_words(cloth.weave),
        repeat_ends=cloth.structure.ends,
        repeat_picks=cloth.structure.picks,
        ends_per_cm=cloth.warp.threads_per_cm,
        picks_per_cm=cloth.weft.threads_per_cm,
        grey_width_cm=cloth.widths.grey_cm,
        finished_width_cm=cloth.widths.finished_cm,
        warp_tex=cloth.warp.linear_density_tex,
        weft_tex=cloth.weft.linear_density_tex,
        warp_diameter_mm=cloth.warp.diameter_mm,
        weft_diameter_mm=cloth.weft.diameter_mm,
        warp_cover_factor=covers.warp,
        weft_cover_factor=covers.weft,
        cloth_cover_factor=covers.cloth,
        warp_cover_factor_cotton=covers.warp_cotton,
        weft_cover_factor_cotton=covers.weft_cotton,
        cloth_cover_factor_cotton=covers.cloth_cotton,
        warp_crimp_pct=cloth.warp.crimp_pct,
        weft_crimp_pct=cloth.weft.crimp_pct,
        warp_contraction_pct=contraction_of_crimp_pct(cloth.warp.crimp_pct),
        weft_contraction_pct=contraction_of_crimp_pct(cloth.weft.crimp_pct),
        mass_g_per_m2=cloth.states.grey.mass_g_per_m2,
        finished_mass_g_per_m2=cloth.states.finished.mass_g_per_m2,
        thickness_mm=cloth.thickness_mm,
        fibre_volume_pct=fibre_volume_pct(
            mass_g_per_m2=cloth.states.grey.mass_g_per_m2,
            thickness_mm=cloth.thickness_mm,
            fibre_density_g_per_cm3=_fibre_density_g_per_cm3(cloth),
        ),
        tightness_pct=cloth.setting.tightness_pct,
        mean_tightness_pct=cloth.setting.mean_tightness_pct,
        tightest_square=tightest_square(cloth),
        ends_setting_use_pct=cloth.setting.ends_use_pct,
        picks_setting_use_pct=cloth.setting.picks_use_pct,
        brierley_square_sett_per_cm=cloth.setting.square_sett_per_cm,
        brierley_setting_use_pct=cloth.setting.square_sett_use_pct,
        setting_disagreement=cloth.setting.disagreement,
        longest_warp_float_picks=cloth.structure.longest_warp_float_picks,
        longest_weft_float_ends=cloth.structure.longest_weft_float_ends,
        longest_float_mm=cloth.longest_float_mm,
    )


def _fibre_density_g_per_cm3(cloth: ClothFacts) -> float:
    """Return the density of all fibre in a cloth: its mass over its volume."""
    mass, volume = 0.0, 0.0
    for system in (cloth.warp, cloth.weft):
        for key, count in system.order.counts.items():
            yarn = system.yarns[key]
            threads = system.threads_per_cm * count / system.order.threads
            in_cloth = threads * yarn.linear_density_tex * (1 + system.crimps_pct[key] / 100)
            mass += in_cloth
            volume += in_cloth / yarn.fibre_density_g_per_cm3
    return mass / volume


def _states(cloth: ClothFacts) -> ClothStates:
    return ClothStates(
        loom_state=_state(cloth.states.loom_state),
        grey=_state(cloth.states.grey),
        finished=_state(cloth.states.finished),
    )


def _state(numbers: StateNumbers[float]) -> ClothState:
    return ClothState(
        ends_per_cm=numbers.ends_per_cm,
        picks_per_cm=numbers.picks_per_cm,
        width_cm=numbers.width_cm,
        length_m=numbers.length_m,
        mass_g_per_m2=numbers.mass_g_per_m2,
    )


def _yarn_uses(fit: Fit) -> Iterator[YarnUse]:
    for amount in yarn_amounts(fit):
        yield YarnUse(
            yarn=f"{amount.system} {amount.key}",
            designation=amount.yarn.designation,
            colour=amount.yarn.colour,
            linear_density_tex=amount.yarn.linear_density_tex,
            threads=amount.threads,
            crimp_pct=amount.crimp_pct,
            contraction_pct=contraction_of_crimp_pct(amount.crimp_pct),
            waste_pct=amount.waste_pct,
            length_km=amount.length_km,
            mass_kg=amount.mass_kg,
        )


def _warp(fit: Fit) -> WarpSummary:
    plan = fit.warp
    yarn_kg = sum(group.yarn_kg for group in fit.groups)
    size_kg = sum(group.size_kg for group in fit.groups)
    return WarpSummary(
        length_m=plan.warp_length_m,
        mass_kg=yarn_kg + size_kg,
        size_kg=size_kg,
        beam_capacity_m=plan.beam_capacity_m,
        beams_needed=plan.beams_needed,
        knots=plan.knots,
        cloth_roll_capacity_m=fit.cloth_roll_capacity_m,
        doffs=plan.doffs,
        days_between_warps=plan.days_between_warps,
        peak_tension_cn=fit.hardest_warp[1].peak_tension_cn,
        strength_use_pct=fit.hardest_warp[1].strength_use_pct,
        beams=tuple(map(_group, fit.groups)) if fit.cloth.construction.warp.beams else (),
    )


def _group(warp: GroupWarp) -> WarpGroupSummary:
    return WarpGroupSummary(
        name=warp.group.name,
        yarns=warp.group.yarns,
        pile_ratio=warp.group.pile_ratio,
        take_up=warp.take_up,
        ends=warp.ends,
        length_m=warp.length_m,
        mass_kg=warp.yarn_kg + warp.size_kg,
        size_kg=warp.size_kg,
        density_g_per_cm3=warp.density_g_per_cm3,
        beam_capacity_m=warp.beam_capacity_m,
        beams_needed=warp.beams_needed,
        cloth_per_beam_m=warp.cloth_per_beam_m,
        days_between_beams=warp.days_between_beams,
        knots=warp.ends * warp.beams_needed,
    )


def _beams_on_loom(fit: Fit) -> Iterator[BeamOnLoom]:
    """Yield what is wound on each beam that is on the loom at once."""
    for number, (names, ends) in enumerate(fit.ends_on_beams, 1):
        width_cm = fit.limits.beams.width_cm
        yield BeamOnLoom(
            beam=number,
            warps=names,
            ends=ends,
            width_cm=width_cm,
            ends_per_cm=ends / width_cm,
        )


def assumptions_of(fit: Fit) -> Iterator[Assumption]:
    """Return every value that was assumed, with its pointer into the request."""
    yield from fit.assumptions
    yield from in_force().assumptions()
