"""The answer to a validation: the report. ``None`` means "not applicable"."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from weavability_client._record import Scalar
from weavability_client.models._generated import (
    Costs,
    LayerSummary,
    ReportFields,
    RequirementSummary,
    SetupFields,
)
from weavability_client.models.answer import Answer, Page, WithFindings, WithRequest, assumed_line
from weavability_client.models.designs import design_facts
from weavability_client.models.findings import Finding, Severity, Verdict
from weavability_client.models.report_columns import sheet_columns
from weavability_client.tables import cell, money


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

    def summary(self) -> dict[str, object]:
        """Return one flat row: verdict, single numbers of rates, setup, cloth, order and cost.

        It has the columns of the service's own sheet, by the same names, and more.
        """
        head: dict[str, object] = {
            **self.picked("reference", "loom_id", "verdict"),
            **self.counts.to_json(),
            "codes": " ".join(each.code for each in self.findings),
        }
        row = head | {
            key: value
            for part in (self.rates, self.setup, self.cloth)
            for key, value in _scalars(part.to_json()).items()
        }
        order = {} if self.order is None else self.order.to_json()
        pieces = None if self.order is None else self.order.cuts
        cuts = {} if pieces is None else pieces.to_json()
        energy = {} if self.energy is None else self.energy.to_json()
        below = {"order.": order, "order.cuts.": cuts, "energy.": energy}
        named = {
            f"{section}{key}": value
            for section, part in below.items()
            for key, value in _scalars(part).items()
        }
        noted = {} if self.verdict_note is None else {"verdict_note": self.verdict_note}
        return row | sheet_columns(self) | noted | named | self._cost_row() | self._decisive_row()

    def _decisive_row(self) -> dict[str, object]:
        """Return what a flat row has of the values that decide; nothing unless requested."""
        decisive = self.decisive_assumptions
        if decisive is None:
            return {}
        said = " ".join(each.message for each in decisive)
        return {"verdict_holds": self.verdict_holds, "decisive_assumptions": said}

    def _cost_row(self) -> dict[str, object]:
        """Return what a flat row has of the costs; nothing without prices."""
        costs = self.costs
        if costs is None:
            return {}
        sums = ("currency", "cost_per_m", "cost_per_m2", "cost_for_order", "cost_per_ordered_m")
        row: dict[str, object] = {f"costs.{name}": getattr(costs, name) for name in sums}
        drivers = json.dumps([each.to_json() for each in costs.drivers], ensure_ascii=False)
        missing = "; ".join(one.driver for one in costs.not_priced)
        return row | {"costs.drivers": drivers, "costs.not_priced": missing}

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a finding, for a data frame or a spreadsheet."""
        head = self.picked("reference", "loom_id", "verdict")
        shown = ("severity", "code", "pointer", "actual", "limit", "unit", "margin_pct", "message")
        return [head | each.picked(*shown) for each in self.findings]

    def _page(self) -> Page:
        """Lay the report out, the gravest findings first."""
        return Page(
            headline=self._headline(),
            facts=self._facts(),
            remarks=[
                *(line for each in self._by_weight() for line in each.lines()),
                *self.decides(),
                assumed_line(self.assumptions),
                self.caution,
            ],
        )

    def decides(self) -> Iterator[str]:
        """Yield what the verdict rests on, a sentence each, if that was requested."""
        for each in self.decisive_assumptions or ():
            yield f"decides: {each.message}"
        if self.turning_corner is not None:
            yield f"decides together: {self.turning_corner.message}"
        if self.verdict_holds:
            yield "the verdict holds over the bands of all assumed values"

    def _by_weight(self) -> list[Finding]:
        """Return the gravest first; a severity that this client does not know is grave."""
        known: list[str] = list(Severity)
        return sorted(
            self.findings,
            key=lambda each: known.index(each.severity) if each.severity in known else 0,
        )

    def _headline(self) -> str:
        order = self.reference or "construction"
        loom = f" on {self.loom_id}" if self.loom_id else ""
        return f"{order}{loom}: {self.verdict.replace('_', ' ')}"

    def _facts(self) -> list[tuple[str, str]]:
        costs = [] if self.costs is None else [("cost", self._cost_text(self.costs))]
        return [
            ("speed", self._speed_text()),
            ("output", self._output_text()),
            ("reed", self._reed_text()),
            ("shedding", self._shedding_text()),
            ("cloth", self._cloth_text()),
            *(("order", text) for text in self._order_texts()),
            *(("required", _required_text(each)) for each in self.requirements or ()),
            *self._layer_texts(),
            *self._design_texts(),
            *costs,
        ]

    def _order_texts(self) -> Iterator[str]:
        """Yield the lengths of the order; nothing if it states none."""
        order = self.order
        if order is None or not order.is_ordered:
            return
        yield (
            f"{cell(order.ordered_m)} m ordered, {cell(order.grey_m)} m grey, "
            f"{cell(order.beam_m)} m on the beam ({cell(order.beam_contraction_pct)} % contraction)"
        )
        cuts = order.cuts
        if cuts is not None:
            yield (
                f"{order.pieces} pieces of {cell(order.piece_length_m)} m: weave "
                f"{cuts.pieces_to_weave}; the ends of full beams cut {cuts.pieces_cut}"
                + (f"; {cell(cuts.more_pct)} % more than yarn is for" if cuts.more_pct else "")
            )

    def _speed_text(self) -> str:
        rates = self.rates
        return (
            f"{cell(rates.speed_picks_per_min)} picks/min, limited by "
            f"{rates.limited_by.replace('_', ' ')}; {cell(rates.insertion_rate_m_per_min)} m/min "
            f"of weft, {cell(rates.insertion_rate_use_pct)} % of what the loom inserts"
        )

    def _output_text(self) -> str:
        rates = self.rates
        hours = rates.hours_for_order
        order = "" if hours is None else f", {cell(hours)} h for the order"
        efficiency = f"{cell(rates.efficiency_pct)} % efficiency"
        band = rates.efficiency_pct_band
        if band is not None:
            efficiency += f" (assumed, {cell(band.low)} to {cell(band.high)} %)"
        return f"{cell(rates.output_m_per_h)} m/h at {efficiency}{order}"

    def _reed_text(self) -> str:
        setup = self.setup
        return (
            f"{setup.total_ends} ends over {cell(setup.reed_width_cm)} cm "
            f"({cell(setup.reed_width_use_pct)} % of the reed), "
            f"{cell(setup.reed_dents_per_10cm)} dents/10 cm, {cell(setup.ends_per_dent)} a dent"
        )

    def _shedding_text(self) -> str:
        setup = self.setup
        if setup.hooks_used is not None:
            return f"{setup.lifting}, {setup.hooks_idle or 0} idle"
        healds = cell(setup.healds_per_cm_per_shaft)
        return f"{setup.lifting}, {cell(setup.shafts_needed)} needed, {healds} healds/cm on a shaft"

    def _layer_texts(self) -> Iterator[tuple[str, str]]:
        """Yield a line for each layer, from the face to the back, then the pile."""
        if self.layers is None:
            return
        for each in self.layers.layers:
            yield f"layer {each.layer}", ", ".join(_about_layer(each))
        if self.layers.joined is not None:
            stitches = self.layers.stitches_per_cm2
            count = "" if stitches is None else f", {cell(stitches)} stitches/cm²"
            yield "joined", f"{self.layers.joined}{count}"

    def _design_texts(self) -> Iterator[tuple[str, str]]:
        """Yield a line for each fact of a figured design."""
        if self.design is None:
            return
        for name, text in design_facts(self.design):
            yield f"design, {name}", text
        floats = ", ".join(
            f"{each.system} {each.side} {each.longest} ({cell(each.longest_mm)} mm)"
            for each in self.design.floats
        )
        yield "design, longest floats", floats

    def _cost_text(self, costs: Costs) -> str:
        label = f" {costs.currency}" if costs.currency else ""
        order = ""
        if costs.cost_for_order is not None:
            order = f", {money(costs.cost_for_order)}{label} for the order"
        if costs.cost_per_ordered_m not in (None, costs.cost_per_m):
            order += f", {money(costs.cost_per_ordered_m)}{label} per ordered metre"
        parts = ", ".join(
            f"{each.driver} {cell(each.share_pct)} %"
            for each in costs.drivers
            if each.share_pct is not None
        )
        missing = ", ".join(each.driver for each in costs.not_priced)
        if costs.cost_per_m is None:
            return f"nothing is priced: {missing}"
        return (
            f"{money(costs.cost_per_m)}{label}/m, {money(costs.cost_per_m2)}{label}/m²{order}"
            + (f": {parts}" if parts else "")
            + (f"; not priced: {missing}" if missing else "")
        )

    def _cloth_text(self) -> str:
        cloth = self.cloth
        return f"{cell(cloth.mass_g_per_m2)} g/m², tightness {cell(cloth.tightness_pct)} %"


def _required_text(required: RequirementSummary) -> str:
    """Write a figure that the customer requires beside its limits, and whether it is met."""
    limits = (
        f"at {which} {limit:.4g}"
        for which, limit in (("least", required.min), ("most", required.max))
        if limit is not None
    )
    of = f" of {required.fibre}" if required.fibre else ""
    band = f"{required.band.low:.4g} to {required.band.high:.4g}"
    return (
        f"{required.figure}{of} {' and '.join(limits)}: {required.value:.4g} ({band}), "
        f"met: {required.met}"
    )


def _about_layer(layer: LayerSummary) -> Iterator[str]:
    yield layer.kind if layer.weave is None else f"{layer.kind}, {layer.weave}"
    yield f"{cell(layer.ends_per_cm)} x {cell(layer.picks_per_cm)} per cm"
    yield f"{cell(layer.mass_g_per_m2)} g/m²"
    if layer.tightness_pct is not None:
        yield f"tightness {cell(layer.tightness_pct)} %"
    if layer.pile_height_mm is not None:
        yield f"pile {cell(layer.pile_height_mm)} mm high"


def _scalars(part: Mapping[str, object]) -> dict[str, object]:
    """Return the single numbers and texts of a part of a report."""
    return {
        name: value
        for name, value in part.items()
        if isinstance(value, int | float | str) and not isinstance(value, bool)
    }
