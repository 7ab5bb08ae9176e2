"""A report as a page for people: the same facts in the same order, with words and units."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from flask import render_template
from markupsafe import Markup

from weavability.answers.field_words import FieldWords, without_unit, words_of
from weavability.answers.order_chain import OrderStep
from weavability.answers.report import Report
from weavability.answers.requirement_summary import RequirementSummary
from weavability.checks.finding import Alteration
from weavability.drawing.loose_cloth import loose_cloth_words
from weavability.drawing.point_paper import draw_point_paper
from weavability.looms.fit import Fit
from weavability.service.pages.wording import SEVERITIES, VERDICTS, measure, show, spoken
from weavability.service.requests.validation_answer import ValidationAnswer
from weavability.textiles.assumptions import Assumption

LONGEST_LISTED: Final = 120
"""Most places of a threading, or picks of a lift plan, that are printed in the page."""

_HEADLINES: Final = (
    "speed_picks_per_min",
    "limited_by",
    "insertion_rate_m_per_min",
    "efficiency_pct",
    "output_m_per_h",
    "hours_for_order",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of a table of facts."""

    words: str
    value: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedRow:
    """One assumed value, with every place at which it was assumed."""

    words: str
    places: str
    value: str
    reason: str


def render(answer: ValidationAnswer, fit: Fit) -> str:
    """Return the page of a report.

    Args:
        answer: What was answered.
        fit: The facts that it rests on; the weave is drawn from them.
    """
    report = answer.report
    return render_template(
        "report.html",
        validation_id=answer.validation_id,
        links=answer.links,
        report=report,
        verdict=VERDICTS[report.verdict],
        heading=report.cloth.weave[:1].upper() + report.cloth.weave[1:],
        counts=_counts(report),
        findings=sorted(report.findings, key=lambda each: list(SEVERITIES).index(each.severity)),
        severities=SEVERITIES,
        headlines=[row for name in _HEADLINES for row in _rows(report.rates, [name])],
        drawing=Markup(_drawing(fit)),  # noqa: S704 (our own SVG, its texts are escaped)
        sections=list(_sections(report)),
        costs=report.costs,
        steps=[_step(each) for each in report.order.steps],
        required=[_required(each) for each in report.requirements],
        limits=_limits(report),
        threading=_listed(report.setup.threading or ()),
        healds=_listed(report.setup.healds_per_shaft or ()),
        lift_plan=_listed(report.setup.lift_plan or ()),
        assumed=list(assumed_rows(report.assumptions)),
        show=show,
        altered=_altered,
    )


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


def _drawing(fit: Fit) -> str:
    cloth = fit.cloth
    return draw_point_paper(
        cloth.weave,
        draft=fit.draft,
        tightest=cloth.setting.tightest,
        layers=cloth.symbols.layered_weave,
        faults=loose_cloth_words(cloth.structure, cloth.symbols.layered_weave),
    )


def _sections(report: Report) -> Iterator[tuple[str, list[Row]]]:
    yield "Setting up the loom", _rows(report.setup)
    yield "Rates", _rows(report.rates)
    yield "The cloth", _rows(report.cloth)
    yield "The cloth in the loom", _rows(report.states.loom_state)
    yield "The grey cloth", _rows(report.states.grey)
    yield "The finished cloth", _rows(report.states.finished)
    yield "The order", _rows(report.order)
    if report.order.cuts is not None:
        yield "Pieces on rolls and beams", _rows(report.order.cuts)
    yield "The warp", _rows(report.warp)
    for beam in report.warp.beams:
        yield f"The warp of {beam.name}", _rows(beam)
    if report.energy is not None:
        yield "Energy and air", _rows(report.energy)
    if report.layers is not None:
        yield "The layers", _rows(report.layers)
        for layer in report.layers.layers:
            yield f"Layer {layer.layer}", _rows(layer)


def _step(step: OrderStep) -> tuple[str, str, str, str, str]:
    """Return the cells of a step of the order's chain."""
    pct = "" if step.pct is None else show(step.pct)
    grade = "stated" if step.grade is None else show(str(step.grade))
    return spoken(step.step), show(step.from_m), show(step.to_m), pct, grade


def _required(required: RequirementSummary) -> tuple[str, ...]:
    """Return the cells of a figure that the customer requires."""
    name = spoken(without_unit(required.figure)) + (f" {required.fibre}" if required.fibre else "")
    limits = ("" if each is None else show(each) for each in (required.min, required.max))
    band = (required.band.low, required.value, required.band.high)
    return (name, *limits, *map(show, band), required.unit, required.met)


def _altered(each: Alteration) -> str:
    """Say what else a remedy changes."""
    name = without_unit(each["name"]).removesuffix("_per").replace("_", " ")
    return f"{name} {show(each['from'])} to {show(each['to'])} {each['unit']}"


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
    """Every limit of the speed, the tightest first, and whether it is the one that holds."""
    by_speed = sorted(report.rates.speed_limits_picks_per_min.items(), key=lambda item: item[1])
    limited_by = report.rates.limited_by
    return [(name.replace("_", " "), show(speed), name == limited_by) for name, speed in by_speed]


def _listed(items: Sequence[object]) -> tuple[list[str], int]:
    """Return the first items as text, and how many more there are."""
    return [str(item) for item in items[:LONGEST_LISTED]], max(0, len(items) - LONGEST_LISTED)


def assumed_rows(assumptions: Iterable[Assumption]) -> Iterator[AssumedRow]:
    """Yield the assumptions, the same value for the same reason in one row."""
    places: dict[tuple[str, str, str], list[str]] = {}
    for each in assumptions:
        place, _, field = each.pointer.rpartition("/")
        value = measure(each.value, each.unit)
        places.setdefault((spoken(without_unit(field)), value, each.reason), []).append(
            _place(place)
        )
    for (words, value, reason), found in places.items():
        yield AssumedRow(words=words, value=value, reason=reason, places=", ".join(found))


def _place(pointer: str) -> str:
    """Name a part of the request in words.

    >>> _place("/construction/warp/yarns/A"), _place("/loom")
    ('warp yarn A', 'loom')
    """
    path = pointer.strip("/").removeprefix("construction").strip("/")
    return path.replace("yarns/", "yarn ").replace("/", " ").replace("_", " ") or "order"
