"""The page on which an order is stated and judged: a form, and beside it what comes of it."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
import orjson
from flask import render_template
from markupsafe import Markup

from weavability.answers.caution import CAUTION
from weavability.answers.few_names import capitalised
from weavability.answers.loom_match import LoomMatch, MatchReport
from weavability.checks.finding import Remedy, Verdict
from weavability.drawing import svg
from weavability.service.batches.csv_columns import column
from weavability.service.batches.csv_grammar import YARN_PRICE, Kind, read_cell
from weavability.service.batches.flat_order import (
    FieldFault,
    is_price,
    query_of_pairs,
    read_fields,
)
from weavability.service.pages import order_fields, order_state
from weavability.service.pages.key_figures import headline_figures
from weavability.service.pages.order_designs import DesignRows, design_rows
from weavability.service.pages.order_examples import Example
from weavability.service.pages.order_fields import FoldedGroup, FormField, form_field
from weavability.service.pages.order_state import BESIDE, Pairs
from weavability.service.pages.order_tables import MOST_ROWS, TABLES, Row
from weavability.service.pages.way_out import WayOut, lead_of
from weavability.service.pages.wording import (
    SEVERITIES,
    VERDICTS,
    also_helped,
    change_of,
    deciding,
    effects_of,
    linked,
    may_be_more,
    rounded,
    show,
    shown_findings,
    untried,
)
from weavability.service.requests.validation_answer import ValidationAnswer
from weavability.textiles.bounds import MOST_YARNS
from weavability.textiles.drafting import draft_weave
from weavability.textiles.point_paper_image import has_more_than_dark_and_light
from weavability.textiles.weave_matrix import Weave

MOST_LOOMS_LISTED: Final = 300
"""Looms that can be chosen from a list; of a larger park the name is typed."""

MOST_RANKED: Final = 6
_DRAWN_OFTEN: Final = 20
"""Threads of a repeat that is drawn three times over."""

_DRAWN_ONCE: Final = 120
_OF_EFFECT: Final = re.compile(r"/design/effects/(#[0-9a-f]{6})")
_NOT_IN_ID: Final = re.compile(r"[^A-Za-z0-9_-]")


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedOrder:
    """What came of the order on the form.

    Attributes:
        faults: What is wrong with its fields; without any there is a report or a ranking.
        answer: The report, if a loom is chosen.
        matches: The ranking of the park, if none is.
        weave: The weave, as soon as it can be read.
        window: A drawing of what could be woven instead; empty if none was requested.
        window_note: Of how many points it is, or why none was drawn that was requested; else empty.
        is_searched: Whether more remedies were searched than a report tries.
        way_out: What makes the order weavable, if no remedy of a finding does.
        decides_note: Why it was not searched which assumed values decide; empty if it was.
        commas: What numbers with a decimal comma were read as, by their heading.
        is_design: Whether a picture that was refused was to be a figured design.
    """

    faults: tuple[FieldFault, ...] = ()
    answer: ValidationAnswer | None = None
    matches: MatchReport | None = None
    weave: Weave | None = None
    window: str = ""
    window_note: str = ""
    is_searched: bool = False
    way_out: WayOut | None = None
    decides_note: str = ""
    commas: Mapping[str, float | str] = field(default_factory=dict)
    is_design: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldNote:
    """What is said beside a field.

    Attributes:
        heading: The field; empty for the order as a whole.
        label: What the form calls it.
        message: What is wrong or missing.
        allowed: What would be accepted; empty if the message says it.
        is_missing: Whether it is only not stated yet.
    """

    heading: str
    label: str
    message: str
    allowed: str
    is_missing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveFigure:
    """The weave as it is shown beside its field."""

    name: str
    size: str
    shafts: int
    drawing: Markup


def render(
    pairs: Pairs,
    judged: JudgedOrder,
    *,
    looms: Mapping[str, str],
    book: Sequence[Example],
    notes: Sequence[str] = (),
    remarks: Sequence[str] = (),
    pasted: str = "",
) -> str:
    """Return the page.

    Args:
        pairs: What is typed, settled.
        judged: What came of it.
        looms: Description of each loom of the park, by its name.
        book: Examples to start from.
        notes: What is to be said of an order that was pasted.
        remarks: How it was read, where that is not plain from it.
        pasted: The text of it, to be mended and read again.
    """
    form = OrderForm(pairs=pairs, judged=judged)
    report = judged.answer.report if judged.answer else None
    address = query_of_pairs(pairs)
    way_out_remedies = judged.way_out.remedies if judged.way_out else ()
    return render_template(
        "order.html",
        form=form,
        judged=judged,
        answer=judged.answer,
        report=report,
        looms=looms,
        looms_listed=len(looms) <= MOST_LOOMS_LISTED,
        book=book,
        notes=notes,
        remarks=remarks,
        pasted=pasted,
        is_priced=any(is_price(name) for name, _ in pairs),
        address=None if address is None else f"/?{address}",
        park_address=_without_loom(pairs, "/?"),
        matches_address=_without_loom(pairs, "/matches?"),
        loom_address=lambda loom_id: _address([*_order_only(pairs), ("loom_id", loom_id)], "/?"),
        file=_as_file(pairs),
        ranked_cells=_ranked_cells(pairs),
        rounded=rounded,
        weave=weave_figure(judged.weave) if judged.weave else None,
        window=Markup(judged.window),  # noqa: S704 (our own SVG, its texts are escaped)
        suggestions=order_fields.suggestions(),
        tables=TABLES,
        groups=order_fields.folded_groups(),
        required_figures=order_fields.REQUIRED_FIGURES,
        required_limits=order_fields.REQUIRED_LIMITS,
        stages=order_fields.STAGES,
        verdict=VERDICTS[report.verdict] if report else None,
        is_woven=report is not None and report.verdict is not Verdict.NOT_WEAVABLE,
        verdicts=VERDICTS,
        severities=SEVERITIES,
        findings=shown_findings(report.findings, above=way_out_remedies) if report else (),
        figures=headline_figures(report) if report else (),
        most_ranked=MOST_RANKED,
        in_words=order_fields.in_words,
        heading_of=read_fields(_order_only(pairs)).heading_of,
        changes=changes_of,
        also_helped=also_helped,
        change_of=change_of,
        effects_of=effects_of,
        lead_of=lead_of,
        reason_of=reason_of,
        linked=linked,
        show=show,
        untried=untried,
        may_be_more=may_be_more,
        decides=deciding(
            report.decisive_assumptions if report else None,
            report.turning_corner if report else None,
        ),
        caution=CAUTION,
    )


@dataclass(frozen=True, kw_only=True)
class OrderForm:
    """The fields of the form with what is typed in them, and what is said beside them."""

    pairs: Pairs
    judged: JudgedOrder

    @cached_property
    def _texts(self) -> Mapping[str, str]:
        return dict(reversed(self.pairs))

    @property
    def is_empty(self) -> bool:
        """Whether nothing is stated of the cloth yet."""
        return not any(text for name, text in self.pairs if name not in (*BESIDE, "loom_id"))

    @staticmethod
    def field(heading: str) -> FormField:
        """Return a field."""
        return form_field(heading)

    @staticmethod
    def id(heading: str) -> str:
        """Return the id of a field in the page."""
        return "f-" + _NOT_IN_ID.sub("-", heading)

    def text(self, heading: str) -> str:
        """Return what is typed in a field; never a price that an address holds."""
        return self._texts.get(heading, "")

    @cached_property
    def notes(self) -> tuple[FieldNote, ...]:
        """What is said beside the fields, one note a fault."""
        return tuple(self._note(each) for each in self.judged.faults)

    @staticmethod
    def label(heading: str) -> str:
        """Return what a field is called away from its place."""
        if not heading:
            return "The order"
        if heading == order_state.PICTURE:
            return "Picture"
        label = form_field(heading).label.removeprefix("or ")
        yarn = order_state.yarn_of(heading)
        return f"{label} of {yarn[0]} yarn {yarn[1]}" if yarn else capitalised(label)

    def _note(self, found: FieldFault) -> FieldNote:
        heading, fault = found.heading, found.fault
        missing = bool(heading) and fault.given is None and not self.text(heading)
        message: str = fault.message
        if fault.pointer:
            message = order_fields.in_words(message, fault.pointer)
        effect = _OF_EFFECT.search(fault.pointer)
        return FieldNote(
            heading=heading,
            label=self.label(heading),
            message=f"Effect {effect[1]}: {message}" if effect else message,
            allowed=""
            if missing or "Did you mean" in fault.message
            else order_fields.allowed_in_words(fault.allowed),
            is_missing=missing,
        )

    @property
    def wrong(self) -> list[FieldNote]:
        """Return the notes on what is wrong."""
        return [each for each in self.notes if not each.is_missing]

    @property
    def missing(self) -> list[FieldNote]:
        """Return the notes on what is not stated yet."""
        return [each for each in self.notes if each.is_missing]

    def notes_at(self, heading: str) -> list[FieldNote]:
        """Return what is said beside a field."""
        return [each for each in self.notes if each.heading == heading]

    def is_wrong(self, heading: str) -> bool:
        """Return whether something is wrong with a field."""
        return any(each.heading == heading for each in self.wrong)

    def yarns(self, system: str) -> list[tuple[str, list[str], list[str]]]:
        """Return key, headings in the row and folded headings of every yarn of warp or weft."""
        keys = order_state.yarn_keys(self.pairs, system)[:MOST_YARNS]
        return [(key, *order_fields.yarn_headings(system, key)) for key in keys]

    def forms_of(self, metric: str) -> list[str]:
        """Return the headings under which a measure is shown: one, or both if both are stated."""
        inch, _ = order_fields.INCH_HEADINGS[metric]
        shown = [name for name in (metric, inch) if name in self._texts]
        return shown if len(shown) > 1 or shown == [inch] else [metric]

    @staticmethod
    def units_of(metric: str) -> tuple[str, str]:
        """Return the headings of both forms of a measure."""
        return metric, order_fields.INCH_HEADINGS[metric][0]

    @property
    def rows(self) -> str:
        """Return the weave as rows, a line a pick, if it is written so."""
        weave = self.text("weave")
        return weave.replace("|", "\n") if re.fullmatch(r"[01| ]+\|[01| ]+", weave) else ""

    def rows_of(self, heading: str) -> list[Row] | None:
        """Return the rows of a field that is a table, and an empty one; ``None`` if it is none."""
        table = TABLES.get(heading)
        rows = table.rows(self.text(heading)) if table else None
        return None if rows is None else [*rows[:MOST_ROWS], {}]

    @cached_property
    def design(self) -> DesignRows | None:
        """Return the figured design, if the weave is one that rows can show."""
        return design_rows(self.text("weave"))

    @property
    def is_of_many_colours(self) -> bool:
        """Whether the weave is a picture of more than dark and light that was read as one."""
        if self.judged.weave is None or not self.weave_object:
            return False
        value = read_cell(Kind.WEAVE, self.weave_object, decimal_comma=False)
        picture = value.get("image_png") if isinstance(value, dict) else None
        return isinstance(picture, str) and has_more_than_dark_and_light(picture)

    @property
    def weave_object(self) -> str:
        """Return the weave as JSON, if it is a draft, a picture or a design."""
        weave = self.text("weave")
        return weave if weave.startswith("{") else ""

    def headings_of(self, group: FoldedGroup) -> list[str]:
        """Return the headings of a folded group; prices have one for every yarn."""
        if group.name != "prices":
            return list(group.headings)
        yarns = [
            f"{YARN_PRICE}{system} {key}"
            for system in ("warp", "weft")
            for key, _, _ in self.yarns(system)
        ]
        others = [name for name in self._texts if is_price(name) and column(name) is not None]
        known = [*group.headings[:1], *yarns, *group.headings[1:]]
        return [*known, *(name for name in others if name not in known)]

    def count_set(self, headings: Iterable[str]) -> int:
        """Return how many of some fields are stated."""
        return sum(bool(self.text(each)) for each in headings)

    def is_open(self, headings: Iterable[str]) -> bool:
        """Return whether a folded group is unfolded: if something in it is to be mended."""
        return any(self.notes_at(each) for each in headings)


def changes_of(remedy: Remedy) -> str:
    """Write the changes of a remedy as the value of its button."""
    values = {each["pointer"]: each["to"] for each in remedy["changes"]}
    return orjson.dumps(values).decode()


def reason_of(match: LoomMatch) -> Markup:
    """Write what the figures of a row do not say: why it is not woven, what to expect if it is."""
    if match.verdict is Verdict.NOT_WEAVABLE:
        return linked(match.reason)
    rejected = match.rejected_if_assumed
    doubt = f"Not weavable ({', '.join(rejected)}) if what is assumed is so." if rejected else ""
    others = [code for code in match.codes.warnings if code not in rejected]
    warned = f"Warnings: {', '.join(others)}." if others else ""
    left = match.costs.not_priced if match.costs and match.costs.cost_per_m is not None else ()
    unpriced = f"The cost is without {', '.join(left)}." if left else ""
    return linked(" ".join(filter(None, (doubt, warned, unpriced))))


def _order_only(pairs: Pairs) -> Pairs:
    return tuple(pair for pair in pairs if pair[0] not in BESIDE)


def _address(pairs: Iterable[tuple[str, str]], start: str) -> str | None:
    query = query_of_pairs(dict(pairs).items())
    return None if query is None else start + query


def _without_loom(pairs: Pairs, start: str) -> str | None:
    return _address((pair for pair in _order_only(pairs) if pair[0] != "loom_id"), start)


def _ranked_cells(pairs: Pairs) -> Mapping[str, str]:
    """Return the fields of the order, prices too, of which the looms are ranked."""
    cells = read_fields(_order_only(pairs)).cells
    return {name: text for name, text in cells.items() if name != "loom_id"}


def _as_file(pairs: Pairs) -> str:
    """Return an address that holds the order as a JSON file, prices included."""
    request = read_fields(_order_only(pairs)).request
    written = json.dumps(request, indent=2, ensure_ascii=False)
    return "data:application/json;base64," + base64.b64encode(written.encode()).decode()


def weave_figure(weave: Weave) -> WeaveFigure:
    """Return how a weave is shown beside its field."""
    repeat = weave.reduced()
    large = max(repeat.ends, repeat.picks)
    times = 3 if large <= _DRAWN_OFTEN else 1
    drawn = large <= _DRAWN_ONCE
    return WeaveFigure(
        name=weave.name or "Weave in rows",
        size=f"{repeat.ends} ends, {repeat.picks} picks",
        shafts=draft_weave(repeat).shafts,
        drawing=Markup(_point_paper(repeat, times) if drawn else ""),  # noqa: S704 (our own SVG)
    )


def _point_paper(repeat: Weave, times: int) -> str:
    """Draw a weave several times over, the first repeat in ink and framed."""
    ends, picks = repeat.ends * times, repeat.picks * times
    raised = repeat.matrix.astype(np.bool_)
    others = np.tile(raised, (times, times))
    others[: repeat.picks, : repeat.ends] = False
    lines = "".join(f"M{x} 0v{picks}" for x in range(1, ends))
    lines += "".join(f"M0 {y}h{ends}" for y in range(1, picks))
    first = svg.squares(raised)
    label = f"Point paper, {'three repeats' if times > 1 else 'one repeat'} each way"
    return (
        f'<svg class="paper" viewBox="-0.2 -0.2 {ends + 0.4:g} {picks + 0.4:g}" role="img" '
        f'aria-label="{label}; the first pick is at the bottom, the first end at the left">'
        f'<path class="rules" d="{lines}"/>'
        f'<path class="pale" d="{svg.squares(others)}"/>'
        f'<path class="ink" transform="translate(0 {picks - repeat.picks})" d="{first}"/>'
        f'<rect class="frame" x="0" y="{picks - repeat.picks}" width="{repeat.ends}" '
        f'height="{repeat.picks}"/></svg>'
    )
