"""The answers to a validation and to a question for changes. ``None`` is "not applicable"."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import partial

from weavability_client._record import Scalar
from weavability_client._report_row import row_of
from weavability_client.models._generated import (
    ChangedReportFields,
    Costs,
    DesignSection,
    LayersSummary,
    LayerSummary,
    OrderChain,
    ReportFields,
    RequirementSummary,
    SetupFields,
)
from weavability_client.models.answer import (
    Answer,
    Page,
    WithFindings,
    WithRequest,
    of_another_answer,
)
from weavability_client.models.deciding import decides
from weavability_client.models.findings import Finding, Remedy, Severity, Verdict
from weavability_client.models.weaves import design_facts
from weavability_client.tables import cell, money, words

_compact = partial(json.dumps, ensure_ascii=False, separators=(",", ":"))


class ChangedReport(ChangedReportFields):
    """A report that is no longer what it was; its fields are those of ``ChangedReportFields``."""

    __slots__ = ()

    def shifted(self, places: int) -> ChangedReport:
        """Return the same with an index that is ``places`` greater."""
        return replace(self, index=self.index + places)


class Setup(SetupFields):
    """How the loom is set up; its fields are those of ``SetupFields``."""

    __slots__ = ()

    @property
    def lifting(self) -> str:
        """What lifts the ends, in words: so many shafts, or so many hooks of a Jacquard."""
        if self.hooks_used is not None:
            return f"{self.hooks_used} hooks"
        return f"{cell(self.shafts_used)} shafts"


class Report(WithFindings, WithRequest, ReportFields, Answer):
    """The report on one validation; its fields are those of ``ReportFields``."""

    __slots__ = ("_request",)

    @property
    def ok(self) -> bool:
        """Whether the cloth can be woven on this loom, with warnings or without."""
        return self.verdict is not Verdict.NOT_WEAVABLE

    @property
    def gravest(self) -> Finding | None:
        """The first of the gravest findings; ``None`` if there is nothing to say."""
        return next(iter(self._by_weight()), None)

    @property
    def link(self) -> str | None:
        """Path under which this report is available again; ``None`` if the request is too long."""
        return self.links.get("self")

    @property
    def etag(self) -> str:
        """Name of this very judgement: it changes with request, loom limits or rules."""
        return self.validation_id

    def _for_remedy(self, request: Mapping[str, object], remedy: Remedy) -> Mapping[str, object]:
        """Return the request; a remedy may also be one that a search found for it."""
        is_own = any(remedy in each.remedies for each in self.findings)
        if not is_own and (field := remedy.unlike(request)) is not None:
            raise of_another_answer(remedy, f"changes {field} from a value that this order has not")
        return request

    @property
    def missed_requirements(self) -> list[str]:
        """What the customer requires and the cloth misses, as all is assumed, in words."""
        return [
            f"{_required(each)}: {each.value:.4g}"
            for each in self.requirements or ()
            if (each.min is not None and each.value < each.min)
            or (each.max is not None and each.value > each.max)
        ]

    def summary(self) -> dict[str, object]:
        """Return one flat row: verdict, single numbers of rates, setup, cloth, order and cost.

        It has the columns of the service's own sheet, by the same names, and more.
        """
        return row_of(self.to_json(), _compact)

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a finding, for a data frame or a spreadsheet."""
        head = self.picked("reference", "loom_id", "verdict")
        shown = ("severity", "code", "pointer", "actual", "limit", "unit", "margin_pct", "message")
        return [head | each.picked(*shown) for each in self.findings]

    def _page(self) -> Page:
        """Lay the report out, the gravest findings first."""
        loom = f" on {self.loom_id}" if self.loom_id else ""
        return Page(
            headline=f"{self.reference or 'construction'}{loom}: {words(self.verdict)}",
            facts=[
                ("speed", self._speed_text()),
                ("output", self._output_text()),
                *_setup_facts(self.setup),
                ("cloth", self._cloth_text()),
                *_order_facts(self.order),
                *(("required", _required_text(each)) for each in self.requirements or ()),
                *_layer_facts(self.layers),
                *_design_facts(self.design),
                *([] if self.costs is None else [("cost", _cost_text(self.costs))]),
            ],
            remarks=[
                *([self.verdict_note] if self.verdict_note else ()),
                *(line for each in self._by_weight() for line in each.lines()),
                *self.decides(),
            ],
        )

    def decides(self) -> Iterator[str]:
        """Yield what the verdict rests on, a sentence each, if that was requested."""
        yield from decides(self)

    def _by_weight(self) -> list[Finding]:
        """Return the gravest first; a severity that this client does not know is grave."""
        weights: dict[str, int] = {severity: place for place, severity in enumerate(Severity)}
        return sorted(self.findings, key=lambda each: weights.get(each.severity, 0))

    def _speed_text(self) -> str:
        rates = self.rates
        return (
            f"{cell(rates.speed_picks_per_min)} picks/min, limited by {words(rates.limited_by)}; "
            f"{cell(rates.insertion_rate_m_per_min)} m/min of weft, "
            f"{cell(rates.insertion_rate_use_pct)} % of what the loom inserts"
        )

    def _output_text(self) -> str:
        rates, band = self.rates, self.rates.efficiency_pct_band
        hours = rates.hours_for_order
        order = "" if hours is None else f", {cell(hours)} h for the order"
        assumed = f" (assumed, {cell(band.low)} to {cell(band.high)} %)" if band else ""
        efficiency = f"{cell(rates.efficiency_pct)} % efficiency{assumed}"
        return f"{cell(rates.output_m_per_h)} m/h at {efficiency}{order}"

    def _cloth_text(self) -> str:
        cloth = self.cloth
        return f"{cell(cloth.mass_g_per_m2)} g/m², tightness {cell(cloth.tightness_pct)} %"


def _setup_facts(setup: Setup) -> Iterator[tuple[str, str]]:
    yield (
        "reed",
        f"{setup.total_ends} ends over {cell(setup.reed_width_cm)} cm "
        f"({cell(setup.reed_width_use_pct)} % of the reed), "
        f"{cell(setup.reed_dents_per_10cm)} dents/10 cm, {cell(setup.ends_per_dent)} a dent",
    )
    if setup.hooks_used is not None:
        yield "shedding", f"{setup.lifting}, {setup.hooks_idle or 0} idle"
    else:
        needed, healds = cell(setup.shafts_needed), cell(setup.healds_per_cm_per_shaft)
        yield "shedding", f"{setup.lifting}, {needed} needed, {healds} healds/cm on a shaft"


def _order_facts(order: OrderChain | None) -> Iterator[tuple[str, str]]:
    """Yield the lengths of the order; nothing if it states none."""
    if order is None or not order.is_ordered:
        return
    yield (
        "order",
        f"{cell(order.ordered_m)} m ordered, {cell(order.grey_m)} m grey, "
        f"{cell(order.beam_m)} m on the beam ({cell(order.beam_contraction_pct)} % contraction)",
    )
    if (cuts := order.cuts) is not None:
        more_pct = cell(cuts.more_pct)
        more = "" if more_pct == "0" else f"; {more_pct} % more than yarn is for"
        yield (
            "order",
            f"{order.pieces} pieces of {cell(order.piece_length_m)} m: weave "
            f"{cuts.pieces_to_weave}; the ends of full beams cut {cuts.pieces_cut}{more}",
        )


def _layer_facts(layers: LayersSummary | None) -> Iterator[tuple[str, str]]:
    """Yield a line for each layer, from the face to the back, then the pile."""
    if layers is None:
        return
    for each in layers.layers:
        yield f"layer {each.layer}", ", ".join(_about_layer(each))
    if layers.joined is not None:
        stitches = layers.stitches_per_cm2
        count = "" if stitches is None else f", {cell(stitches)} stitches/cm²"
        yield "joined", f"{layers.joined}{count}"


def _design_facts(design: DesignSection | None) -> Iterator[tuple[str, str]]:
    """Yield a line for each fact of a figured design."""
    if design is None:
        return
    for name, text in design_facts(design):
        yield f"design, {name}", text
    floats = ", ".join(
        f"{each.system} {each.side} {each.longest} ({cell(each.longest_mm)} mm)"
        for each in design.floats
    )
    yield "design, longest floats", floats


def _cost_text(costs: Costs) -> str:
    label = f" {costs.currency}" if costs.currency else ""
    missing = ", ".join(each.driver for each in costs.not_priced)
    if costs.cost_per_m is None:
        return f"nothing is priced: {missing}"
    said = f"{money(costs.cost_per_m)}{label}/m, {money(costs.cost_per_m2)}{label}/m²"
    if costs.cost_for_order is not None:
        said += f", {money(costs.cost_for_order)}{label} for the order"
    if costs.cost_per_ordered_m not in (None, costs.cost_per_m):
        said += f", {money(costs.cost_per_ordered_m)}{label} per ordered metre"
    shares = [
        f"{each.driver} {cell(each.share_pct)} %"
        for each in costs.drivers
        if each.share_pct is not None
    ]
    parts = f": {', '.join(shares)}" if shares else ""
    return said + parts + (f"; not priced: {missing}" if missing else "")


def _required_text(required: RequirementSummary) -> str:
    """Write a figure that the customer requires beside its limits, and whether it is met."""
    band = f"{required.band.low:.4g} to {required.band.high:.4g}"
    return f"{_required(required)}: {required.value:.4g} ({band}), met: {required.met}"


def _required(required: RequirementSummary) -> str:
    """Write a figure in words beside its limits."""
    limits = (
        f"at {which} {limit:.4g}"
        for which, limit in (("least", required.min), ("most", required.max))
        if limit is not None
    )
    name = required.words or words(required.figure)
    # Setts have their unit in their name; that of a cover factor says nothing to whoever uses it.
    is_said = required.unit.replace("/", " per ") in name or required.figure == "cover_factor"
    return f"{name} {' and '.join(limits)}" + ("" if is_said else f" {required.unit}")


def _about_layer(layer: LayerSummary) -> Iterator[str]:
    yield layer.kind if layer.weave is None else f"{layer.kind}, {layer.weave}"
    yield f"{cell(layer.ends_per_cm)} x {cell(layer.picks_per_cm)} per cm"
    yield f"{cell(layer.mass_g_per_m2)} g/m²"
    if layer.tightness_pct is not None:
        yield f"tightness {cell(layer.tightness_pct)} %"
    if layer.pile_height_mm is not None:
        yield f"pile {cell(layer.pile_height_mm)} mm high"
