"""The set-up sheet: one page in black and white that hangs at the loom while it is set up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from flask import render_template
from markupsafe import Markup

from weavability.answers.report import Report
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.drawing.draft_plan import Plan, draw_draft_plans, draw_lift_picture
from weavability.looms.fit import Fit
from weavability.service.pages.order_words import cloth_heading, yarns_in_a_line
from weavability.service.pages.setup_blocks import setup_blocks
from weavability.service.pages.wording import VERDICTS, linked, rounded, show
from weavability.service.requests.validation_answer import ValidationAnswer

WIDEST_BESIDE: Final = 330
"""Greatest width of a drawing, in pixels, beside which there is room for words."""

_OF_THE_OFFICE: Final = ("requirement.", "order.", "width.reed_use_low", "insertion.near_limit")
"""Beginnings of codes that concern who took the order, not who sets the loom up."""


def render(
    answer: ValidationAnswer, fit: Fit, *, reference: str | None = None, report_link: str | None
) -> str:
    """Return the set-up sheet of an order.

    If the loom cannot weave it, the sheet says so first and has no instructions.

    Args:
        answer: What was answered.
        fit: The facts that it rests on.
        reference: The caller's own name of the order.
        report_link: The address of the report; ``None`` if it has none.
    """
    report = answer.report
    is_refused = report.verdict is Verdict.NOT_WEAVABLE
    plans = [] if is_refused else _plans(fit)
    return render_template(
        "setup_sheet.html",
        report=report,
        reference=reference,
        verdict=VERDICTS[report.verdict],
        is_refused=is_refused,
        is_beside=sum(plan.width for plan in plans) <= WIDEST_BESIDE,
        heading=cloth_heading(fit),
        yarn_line=yarns_in_a_line(fit),
        errors=[each for each in report.findings if each.severity is Severity.ERROR],
        blocks=[] if is_refused else list(setup_blocks(fit, report)),
        drawings=[_svg(plan.drawing) for plan in plans],
        checked=list(_of_the_setter(report.findings)),
        measured=_measured(report),
        report_link=report_link,
        linked=linked,
        rounded=rounded,
        show=show,
    )


def _svg(drawing: str) -> Markup:
    return Markup(drawing)  # noqa: S704 (our own SVG, its texts are escaped)


def _plans(fit: Fit) -> Sequence[Plan]:
    """Draw the drawing-in and the lift plan; of a Jacquard, what the hooks lift."""
    if fit.draft is not None:
        return draw_draft_plans(fit.draft)
    return [draw_lift_picture(fit.cloth.weave)]


def _of_the_setter(findings: Iterable[Finding]) -> Iterable[Finding]:
    """Yield what is to be checked before start: warnings first."""
    concern = [each for each in findings if not each.code.startswith(_OF_THE_OFFICE)]
    for severity in (Severity.WARNING, Severity.NOTE):
        yield from (each for each in concern if each.severity is severity)


def _measured(report: Report) -> list[str]:
    """Return the fields on which warnings rest, each once."""
    warnings = (each for each in report.findings if each.severity is Severity.WARNING)
    pointers = (pointer for each in warnings for pointer in each.rests_on)
    return list(dict.fromkeys(pointers))
