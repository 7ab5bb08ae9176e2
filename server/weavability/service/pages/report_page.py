"""A report as a page for people: the verdict, what to change, what decides, then the figures."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from flask import render_template
from markupsafe import Markup

from weavability.answers.design_section import figured_cloth_of
from weavability.answers.few_names import capitalised
from weavability.answers.field_words import FieldWords, words_of
from weavability.answers.order_chain import OrderStep
from weavability.answers.report import Report
from weavability.answers.requirement_summary import RequirementSummary
from weavability.drawing.design_view import draw_design
from weavability.drawing.fit_views import draw_fit_face, draw_fit_paper, draw_fit_pick
from weavability.drawing.point_paper_picture import point_paper_png
from weavability.looms.fit import Fit
from weavability.service.pages.assumed_values import assumed_groups
from weavability.service.pages.key_figures import key_figures
from weavability.service.pages.order_words import (
    cloth_heading,
    shown_yarns,
    stated_rows,
    yarns_in_a_line,
)
from weavability.service.pages.setup_blocks import setup_blocks
from weavability.service.pages.way_out import OtherLooms, WayOut, lead_of
from weavability.service.pages.wording import (
    SEVERITIES,
    VERDICTS,
    Row,
    also_helped,
    between,
    change_of,
    deciding,
    effects_of,
    linked,
    may_be_more,
    rounded,
    show,
    shown_findings,
    spoken,
    untried,
)
from weavability.service.requests.validation_answer import ValidationAnswer

LONGEST_LISTED: Final = 120
"""Most places of a threading, or picks of a lift plan, that are listed in the page."""

LARGEST_PAPER: Final = 250_000
"""Bytes of a point paper that a page holds, to be saved from there."""

_STATE_WORDS: Final[Mapping[str, str]] = {
    "ends_per_cm": "Ends per cm",
    "picks_per_cm": "Picks per cm",
    "width_cm": "Width, cm",
    "length_m": "Length, m",
    "mass_g_per_m2": "Mass, g/m²",
}
"""What the figures of a state of the cloth are called, with their units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportLinks:
    """Addresses that a report leads to, apart from its own; ``None`` if there is none.

    Attributes:
        form: The start page with its order.
        ranking: All looms, ranked for it.
        setup_sheet: Its set-up sheet.
        decisive: The report with the assumed values that decide its verdict.
        windows: Pages with a window of feasibility, with what each varies.
    """

    form: str | None = None
    ranking: str | None = None
    setup_sheet: str | None = None
    decisive: str | None = None
    windows: Sequence[tuple[str, str]] = ()

    @property
    def search(self) -> str | None:
        """The start page with its order and the answer of a search for remedies."""
        if self.form is None:
            return None
        # Prices are in the fragment, behind all that is sent.
        sent, mark, kept = self.form.partition("#")
        return f"{sent}&search=1{mark}{kept}"


def render(
    answer: ValidationAnswer,
    fit: Fit,
    *,
    reference: str | None = None,
    leads_to: ReportLinks | None = None,
    way_out: WayOut | None = None,
    other_looms: OtherLooms | None = None,
    window: str | None = None,
    window_note: str = "",
) -> str:
    """Return the page of a report.

    Args:
        answer: What was answered.
        fit: The facts that it rests on; the drawings are made from them.
        reference: The caller's own name of the order, if the report has none.
        leads_to: Where it leads to.
        way_out: What makes the order weavable, if no remedy of a finding does.
        other_looms: What other looms of the park make of an order that is not weavable.
        window: The drawing of a window of feasibility, if one is shown.
        window_note: Of how many points it is, or why none is shown that was requested.
    """
    report = answer.report
    return render_template(
        "report.html",
        validation_id=answer.validation_id,
        links=answer.links,
        leads_to=leads_to or ReportLinks(),
        report=report,
        reference=reference or report.reference,
        verdict=VERDICTS[report.verdict],
        verdicts=VERDICTS,
        heading=cloth_heading(fit),
        yarn_line=yarns_in_a_line(fit),
        loom_words=fit.limits.loom.description,
        counts=_counts(report),
        decides=deciding(report.decisive_assumptions, report.turning_corner),
        way_out=way_out,
        other_looms=other_looms,
        findings=shown_findings(report.findings, above=way_out.remedies if way_out else ()),
        severities=SEVERITIES,
        sources=_sources(report),
        headlines=list(_headlines(report)),
        key_figures=list(key_figures(fit, report)),
        stated=list(stated_rows(fit, report)),
        yarns={system: shown_yarns(fit, system) for system in ("warp", "weft")},
        face=_svg(draw_fit_face(fit)),
        paper=_svg(draw_fit_paper(fit)),
        pick=_svg(draw_fit_pick(fit, report.findings)),
        overview=None if report.design is None else _svg(draw_design(fit)),
        point_paper=None if report.design is None else _point_paper(fit),
        window=None if window is None else _svg(window),
        window_note=window_note,
        blocks=list(setup_blocks(fit, report)),
        states=list(_states(report)),
        sections=list(_sections(report)),
        beams=[(each.name, _rows(each)) for each in report.warp.beams],
        warp_rows=list(_warp_rows(report)),
        costs=report.costs,
        steps=[_step(each) for each in report.order.steps],
        required=[_required(each) for each in report.requirements],
        limits=_limits(report),
        rate_rows=list(_rate_rows(report)),
        threading=_listed(report.setup.threading or ()),
        healds=_listed(report.setup.healds_per_shaft or ()),
        lift_plan=_listed(report.setup.lift_plan or ()),
        assumed=list(assumed_groups(report.assumptions)),
        between=between,
        linked=linked,
        rounded=rounded,
        show=show,
        untried=untried,
        may_be_more=may_be_more,
        also_helped=also_helped,
        change_of=change_of,
        effects_of=effects_of,
        lead_of=lead_of,
    )


def _svg(drawing: str) -> Markup:
    return Markup(drawing)  # noqa: S704 (our own SVG, its texts are escaped)


def _point_paper(fit: Fit) -> str | None:
    """Return the address of the point paper as a picture; ``None`` if it is too large for a page.

    It is what the hooks lift, after the correction.
    """
    png = point_paper_png(figured_cloth_of(fit).correction.lift)
    if len(png) > LARGEST_PAPER:
        return None
    return "data:image/png;base64," + base64.b64encode(png).decode()


def _counts(report: Report) -> str:
    counted = {
        "error": report.counts.errors,
        "warning": report.counts.warnings,
        "note": report.counts.notes,
        "assumed value": len(report.assumptions),
    }
    return ", ".join(
        f"{number} {word}{'' if number == 1 else 's'}" for word, number in counted.items()
    )


def _sources(report: Report) -> dict[str, str]:
    """Return the codes of the findings by their source."""
    found: dict[str, list[str]] = {}
    for each in report.findings:
        found.setdefault(each.source, []).append(each.code)
    return {source: ", ".join(dict.fromkeys(codes)) for source, codes in found.items()}


def _headlines(report: Report) -> Iterator[Row]:
    """Yield what a planner looks for first."""
    rates, costs = report.rates, report.costs
    yield Row(words="Speed", value=rounded(rates.speed_picks_per_min), unit="picks/min")
    yield Row(words="Weft inserted", value=rounded(rates.insertion_rate_m_per_min), unit="m/min")
    yield Row(words="Efficiency", value=rounded(rates.efficiency_pct), unit="%")
    yield Row(words="Cloth woven", value=rounded(rates.output_m_per_h), unit="m/h")
    if rates.hours_for_order is not None:
        yield Row(words="For the order", value=rounded(rates.hours_for_order), unit="loom hours")
    if costs is not None and costs.drivers and costs.cost_per_m is not None:
        unit = f"{costs.currency or ''}/m"
        yield Row(words="Cost of a metre", value=rounded(costs.cost_per_m), unit=unit)


def _states(report: Report) -> Iterator[tuple[str, tuple[str, str, str]]]:
    """Yield each figure of the cloth in its three states: words with the unit, three values."""
    states = report.states
    for name, words in _STATE_WORDS.items():
        in_loom, grey, finished = (
            rounded(getattr(state, name), 4)
            for state in (states.loom_state, states.grey, states.finished)
        )
        yield words, (in_loom, grey, finished)


def _warp_rows(report: Report) -> Iterator[Row]:
    """Yield the figures of the warp that a planner needs."""
    warp = report.warp
    yield Row(words="Warp, size included", value=rounded(warp.mass_kg), unit="kg")
    yield Row(words="Warp on full beams", value=rounded(warp.beam_capacity_m), unit="m")
    yield Row(words="Fillings of the beams", value=show(warp.beams_needed))
    yield Row(words="Full beams last", value=rounded(warp.days_between_warps), unit="d")
    yield Row(words="Knots of all tyings-in", value=show(warp.knots))
    yield Row(words="Cloth on a full roll", value=rounded(warp.cloth_roll_capacity_m), unit="m")
    yield Row(words="Cloth rolls", value=show(warp.doffs))


def _rate_rows(report: Report) -> Iterator[Row]:
    """Yield the figures of a pick."""
    rates = report.rates
    for words, value, unit in (
        ("Weft under way", rates.insertion_time_ms, "ms"),
        ("Mean speed of the weft", rates.mean_insertion_speed_m_per_s, "m/s"),
        ("Greatest speed of the weft", rates.peak_insertion_speed_m_per_s, "m/s"),
        ("Greatest weft tension", rates.peak_weft_tension_cn, "cN"),
        ("Speed of a feeder", rates.feeder_speed_m_per_min, "m/min"),
        ("Greatest tension of an end", report.warp.peak_tension_cn, "cN"),
    ):
        yield Row(words=words, value=rounded(value), unit=unit)


def _sections(report: Report) -> Iterator[tuple[str, list[Row]]]:
    """Yield all figures that the page does not show elsewhere."""
    yield "The cloth", _rows(report.cloth)
    yield "Setting up the loom", _rows(report.setup)
    yield "Rates", _rows(report.rates)
    yield "The warp", _rows(report.warp)
    yield "The order", _rows(report.order)
    if report.order.cuts is not None:
        yield "Pieces on rolls and beams", _rows(report.order.cuts)
    if report.energy is not None:
        yield "Energy and air", _rows(report.energy)
    if report.layers is not None:
        yield "The layers", _rows(report.layers)
        for layer in report.layers.layers:
            yield f"Layer {layer.layer}", _rows(layer)


def _step(step: OrderStep) -> tuple[str, str, str, str, str]:
    """Return the cells of a step of the order's chain."""
    pct = "" if step.pct is None else rounded(step.pct, 2)
    grade = "stated" if step.grade is None else show(str(step.grade))
    return spoken(step.step), show(step.from_m), show(step.to_m), pct, grade


def _required(required: RequirementSummary) -> tuple[str, ...]:
    """Return the cells of a figure that the customer requires."""
    name = capitalised(required.words)
    limits = ("" if each is None else show(each) for each in (required.min, required.max))
    band = (required.band.low, required.value, required.band.high)
    return (name, *limits, *map(show, band), required.unit, required.met)


def _rows(part: Any, names: Iterable[str] = ()) -> list[Row]:
    """Make a row of every plain value; what does not apply is left out."""
    chosen = tuple(names) or tuple(each.name for each in fields(part))
    known = words_of(type(part))
    return [
        Row(words=_words(known[name]), value=show(value), unit=known[name].unit or "")
        for name in chosen
        if isinstance(value := getattr(part, name), str | int | float)
    ]


def _words(field: FieldWords) -> str:
    """Return the words of a field that applies, so that no word on ``null`` is needed."""
    return field.words.partition("; null")[0].replace("`", "")


def _limits(report: Report) -> list[tuple[str, str, bool]]:
    """Return every limit of the speed, the tightest first, and whether it is the one that holds."""
    by_speed = sorted(report.rates.speed_limits_picks_per_min.items(), key=lambda item: item[1])
    limited_by = report.rates.limited_by
    return [(name.replace("_", " "), show(speed), name == limited_by) for name, speed in by_speed]


def _listed(items: Sequence[object]) -> tuple[list[str], int]:
    """Return the first items as text, and how many more there are."""
    return [str(item) for item in items[:LONGEST_LISTED]], max(0, len(items) - LONGEST_LISTED)
