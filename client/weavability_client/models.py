"""What goes in and what comes out, as typed, frozen dataclasses.

The names are those of the API; every number's name ends in its unit. What a class does not know is
kept in its ``extra``. ``None`` means "not stated" going in and "not applicable" coming out.
"""

from __future__ import annotations

import html
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from weavability_client._record import Record
from weavability_client.tables import cell

# ------------------------------------------------------------------ what goes in: the construction


@dataclass(frozen=True, slots=True, kw_only=True)
class Yarn(Record):
    """A yarn: a ``designation`` as the trade writes it, or its linear density.

    Attributes:
        designation: ``20 tex``, ``R 40 tex/2``, ``150 dtex f48``, ``Ne 30/2``, ``Nm 60/2`` …
        linear_density_tex: Alternatively the linear density as it runs in the cloth.
        fibre: ``cotton``, ``wool``, ``polyester`` …
        colour: ``#rrggbb``.
    """

    designation: str | None = None
    linear_density_tex: float | None = None
    fibre: str | None = None
    colour: str | None = None
    fibre_density_g_per_cm3: float | None = None
    packing_fraction: float | None = None
    diameter_mm: float | None = None
    tenacity_cn_per_tex: float | None = None
    strength_cv_pct: float | None = None
    breaking_elongation_pct: float | None = None
    folding_take_up_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Warp(Record):
    """The warp; exactly one of ``ends_per_cm`` and ``ends_per_in``.

    Attributes:
        yarns: Yarns by their key in the thread order.
        order: Thread order such as ``24A 4B``, groups as ``3(2A 2B) 4C``.
        crimp_pct: Crimp on the length of the cloth, ``(yarn - cloth) / cloth``.
    """

    yarns: Mapping[str, Yarn]
    order: str | None = None
    ends_per_cm: float | None = None
    ends_per_in: float | None = None
    crimp_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weft(Record):
    """The weft; exactly one of ``picks_per_cm`` and ``picks_per_in``.

    Attributes:
        yarns: Yarns by their key in the thread order.
        order: Thread order such as ``24A 4B``, groups as ``3(2A 2B) 4C``.
        crimp_pct: Crimp on the length of the cloth, ``(yarn - cloth) / cloth``.
    """

    yarns: Mapping[str, Yarn]
    order: str | None = None
    picks_per_cm: float | None = None
    picks_per_in: float | None = None
    crimp_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Selvedge(Record):
    """The edges of each panel."""

    ends_per_side: int | None = None
    ends_per_dent: int | None = None
    shafts: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reed(Record):
    """The reed that the order asks for.

    Attributes:
        dents_per_10cm: Dents in 10 cm.
        count: The reed in another counting system instead, together with ``system``.
        system: That system, such as ``stockport``.
        ends_per_dent: Ends of the ground in each dent.
        ends_in_dents: One repeat of an uneven denting instead, ``0`` for an empty dent.
        wire_share_pct: Share of a dent that its wire takes.
    """

    dents_per_10cm: float | None = None
    count: float | None = None
    system: str | None = None
    ends_per_dent: int | None = None
    ends_in_dents: tuple[int, ...] | None = None
    wire_share_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft(Record):
    """The drawing-in that the order asks for: a name, or the shaft of every end."""

    threading: str | tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finishing(Record):
    """What happens to the cloth after the loom."""

    width_shrinkage_pct: float | None = None
    length_shrinkage_pct: float | None = None
    relaxation_pct: float | None = None
    stabilised: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowances(Record):
    """What is used beyond the yarn that lies in the cloth."""

    warp_waste_pct: float | None = None
    weft_waste_pct: float | None = None
    size_pct: float | None = None
    loom_waste_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Construction(Record):
    """A cloth as ordered; exactly one of each metric and inch pair.

    Attributes:
        reference: The caller's own name of the order; it comes back in the report.
        stage: Where sett and width were measured: ``loom_state``, ``grey`` or ``finished``.
        weave: A named weave (``2/2 twill Z``) or an object such as ``{"rows": ["10", "01"]}``.
        width_cm: Width of one panel.
        panels: Panels woven side by side.
        length_m: Cloth ordered, all panels together.
        thickness_mm: Thickness of the grey cloth under the tension of winding.
    """

    reference: str | None = None
    stage: str | None = None
    warp: Warp
    weft: Weft
    weave: str | Mapping[str, object]
    width_cm: float | None = None
    width_in: float | None = None
    selvedge: Selvedge | None = None
    panels: int | None = None
    panel_gap_cm: float | None = None
    length_m: float | None = None
    length_yd: float | None = None
    thickness_mm: float | None = None
    reed: Reed | None = None
    draft: Draft | None = None
    finishing: Finishing | None = None
    allowances: Allowances | None = None
    requested_speed_picks_per_min: float | None = None


# -------------------------------------------------------------------------- what goes in: the loom


@dataclass(frozen=True, slots=True, kw_only=True)
class Band(Record):
    """A closed range; either end may be open."""

    min: float | None = None
    max: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Insertion(Record):
    """Weft insertion: ``rapier``, ``projectile``, ``air_jet``, ``water_jet`` or ``shuttle``."""

    system: str
    max_rate_m_per_min: float | None = None
    entry_deg: float | None = None
    transfer_deg: float | None = None
    exit_deg: float | None = None
    motion_law: str | None = None
    rapiers: str | None = None
    overrun_cm: float | None = None
    carrier_length_cm: float | None = None
    launch_length_cm: float | None = None
    stopping_length_cm: float | None = None
    extra_weft_cm: float | None = None
    free_weft_length_m: float | None = None
    base_tension_cn_per_tex: float | None = None
    max_feeder_speed_m_per_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shedding(Record):
    """Shedding: ``cam`` and ``dobby`` with shafts, ``jacquard`` with hooks."""

    kind: str
    shafts: int | None = None
    max_repeat_picks: int | None = None
    max_pattern_picks: int | None = None
    max_speed_picks_per_min: float | None = None
    max_healds_per_cm_per_shaft: float | None = None
    max_healds_per_shaft: int | None = None
    hooks: int | None = None
    ends_per_hook: int | None = None
    harness_ends_per_cm: float | None = None
    selvedge_hooks: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpBeam(Record):
    """The weaver's beam."""

    flange_diameter_cm: float | None = None
    barrel_diameter_cm: float | None = None
    width_cm: float | None = None
    count: int | None = None
    density_g_per_cm3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpStrain(Record):
    """What the loom does to an end at every pick."""

    base_tension_cn_per_tex: float | None = None
    shed_half_height_cm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeoverRates(Record):
    """The mill's own rates of changing a style; what is left out has a starting value."""

    minutes_per_weft: float | None = None
    minutes_for_picks: float | None = None
    minutes_for_design: float | None = None
    hours_for_cams: float | None = None
    minutes_for_width: float | None = None
    knots_per_h: float | None = None
    tie_in_ends_per_h: float | None = None
    tie_in_fixed_hours: float | None = None
    hand_drawing_ends_per_h: float | None = None
    reeding_ends_per_h: float | None = None
    reeding_fixed_hours: float | None = None
    drawing_in_ends_per_h: float | None = None
    gaiting_hours: float | None = None
    jacquard_threading_ends_per_h: float | None = None
    harness_tie_ends_per_h: float | None = None
    harness_fixed_hours: float | None = None
    minutes_to_leave_ends_out: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Running(Record):
    """How the loom runs: an efficiency, or the stop rates from which it is computed."""

    efficiency_pct: float | None = None
    warp_stops_per_100k_picks: float | None = None
    weft_stops_per_100k_picks: float | None = None
    minutes_per_warp_stop: float | None = None
    minutes_per_weft_stop: float | None = None
    looms_per_weaver: int | None = None
    hours_per_day: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint(Record):
    """One point of a loom's speed curve."""

    reed_width_cm: float
    picks_per_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Loom(Record):
    """A weaving machine as its park file states it; the rest is assumed by insertion system."""

    loom_id: str | None = None
    description: str | None = None
    insertion: Insertion
    reed_width_cm: float
    min_reed_width_cm: float | None = None
    max_speed_picks_per_min: float
    speed_curve: tuple[CurvePoint, ...] = ()
    shedding: Shedding
    weft_selectors: int | None = None
    picks_per_cm: Band | None = None
    weft_tex: Band | None = None
    warp_beam: WarpBeam | None = None
    warp_strain: WarpStrain | None = None
    cloth_roll_diameter_cm: float | None = None
    cloth_tube_diameter_cm: float | None = None
    max_tightness_pct: float | None = None
    reeds_in_stock_dents_per_10cm: tuple[float, ...] = ()
    running: Running | None = None
    changeover_rates: ChangeoverRates | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidationRequest(Record):
    """One item of a batch: a construction, and a loom of the park or a loom as such."""

    construction: Construction
    loom: Loom | None = None
    loom_id: str | None = None


# ----------------------------------------------------------------------- what comes out: the report


class Verdict(StrEnum):
    """The answer in a word."""

    WEAVABLE = "weavable"
    WEAVABLE_WITH_WARNINGS = "weavable_with_warnings"
    NOT_WEAVABLE = "not_weavable"


class Severity(StrEnum):
    """How much a finding weighs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy(Record):
    """A change that was tried: ``to_value`` at ``pointer`` clears the codes in ``clears``."""

    pointer: str
    from_value: object = field(default=None, metadata={"key": "from"})
    to_value: object = field(metadata={"key": "to"})
    unit: str | None = None
    message: str
    clears: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding(Record):
    """What one check found.

    Attributes:
        code: ``subject.topic``, stable for ever.
        message: What, how much, against what limit, and what helps.
        pointer: JSON Pointer into the request of the field that drives it.
        margin_pct: Room left, in per cent of the limit; negative where the limit is passed.
        source: Where the limit comes from.
    """

    code: str
    severity: Severity
    message: str
    pointer: str
    actual: float | str | None = None
    limit: float | str | None = None
    unit: str | None = None
    margin_pct: float | None = None
    remedies: tuple[Remedy, ...] = ()
    source: str = ""

    def __str__(self) -> str:
        """Return severity, code and message on one line."""
        return f"{self.severity} {self.code}: {self.message}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption(Record):
    """A value that was not stated and was therefore assumed; state it at ``pointer``."""

    pointer: str
    value: object
    unit: str | None = None
    reason: str

    def __str__(self) -> str:
        """Return the field, the value and the reason on one line."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.pointer} = {self.value}{unit}: {self.reason}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts(Record):
    """Findings by severity."""

    errors: int
    warnings: int
    notes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops(Record):
    """Where the time of a loom goes, where its efficiency is computed from stop rates.

    Attributes:
        efficiency_pct: Running time; with the two losses it makes 100 %.
        stop_loss_pct: Time under repair.
        waiting_loss_pct: Time waiting for the weaver.
        efficiency_without_waiting_pct: What a weaver who is always at hand would reach.
        constant_repair_efficiency_pct: Running time where every repair takes the same time.
        weaver_load_pct: Share of the weaver's time that goes into repairs.
        stop_meets_busy_weaver_pct: Share of the stops that find the weaver busy.
        mean_wait_min: Mean wait of a stopped loom.
        stops_per_loom_hour: Stops of one loom in an hour of the clock.
    """

    efficiency_pct: float
    stop_loss_pct: float
    waiting_loss_pct: float
    efficiency_without_waiting_pct: float
    constant_repair_efficiency_pct: float
    weaver_load_pct: float
    stop_meets_busy_weaver_pct: float
    mean_wait_min: float
    stops_per_loom_hour: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates(Record):
    """How fast this cloth runs on this loom, and what limits it.

    Attributes:
        limited_by: Name of the limit that decides the speed.
        stops: How the efficiency came about, where the loom states stop rates.
        days_for_order: In days of the mill's calendar.
    """

    speed_picks_per_min: float
    limited_by: str
    speed_limits_picks_per_min: Mapping[str, float] = field(default_factory=dict)
    insertion_rate_m_per_min: float
    insertion_rate_limit_m_per_min: float
    insertion_rate_use_pct: float
    insertion_time_ms: float
    mean_insertion_speed_m_per_s: float | None = None
    peak_insertion_speed_m_per_s: float
    hand_overs_per_min: float | None = None
    peak_weft_tension_cn: float
    weft_strength_use_pct: float
    feeder_speed_m_per_min: float | None = None
    efficiency_pct: float
    stops: Stops | None = None
    output_m_per_h: float
    output_m2_per_h: float
    hours_for_order: float | None = None
    days_for_order: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup(Record):
    """The setting-up data.

    Attributes:
        ends_per_dent: Ground ends in a dent; the mean of an uneven denting.
        dents: Dents filled, selvedges included.
        threading: Shaft of every end of the drawing-in repeat, from 1; ``None`` on a Jacquard.
        lift_plan: One string a pick, first pick first, one character a shaft, ``1`` = raised.
        lift_plan_picks: Picks of the lift plan, also where it is too long to be printed.
    """

    total_ends: int
    selvedge_ends: int
    panels: int | None = None
    reed_width_cm: float
    reed_width_use_pct: float
    reed_dents_per_10cm: float
    ends_per_dent: float
    dents: int | None = None
    selvedge_dents_per_side: int | None = None
    ends_per_cm_in_reed: float | None = None
    picks_per_cm_on_loom: float | None = None
    shafts_needed: int | None = None
    shafts_used: int | None = None
    draft: str | None = None
    threading: tuple[int, ...] | None = None
    lift_plan: tuple[str, ...] | None = None
    lift_plan_picks: int | None = None
    healds_per_shaft: tuple[int, ...] | None = None
    healds_per_cm_per_shaft: float | None = None
    hooks_used: int | None = None
    hooks_idle: int | None = None
    ends_per_hook: int | None = None
    weave_repeats_across: float | None = None
    weft_selectors_used: int

    @property
    def lifting(self) -> str:
        """What lifts the ends, in words: so many shafts, or so many hooks of a Jacquard."""
        if self.hooks_used is not None:
            return f"{self.hooks_used} hooks"
        return f"{cell(self.shafts_used)} shafts"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothSummary(Record):
    """What the cloth is, in its grey state unless a name says otherwise."""

    weave: str | None = None
    repeat_ends: int | None = None
    repeat_picks: int | None = None
    ends_per_cm: float | None = None
    picks_per_cm: float | None = None
    grey_width_cm: float | None = None
    finished_width_cm: float | None = None
    warp_tex: float
    weft_tex: float
    warp_diameter_mm: float | None = None
    weft_diameter_mm: float | None = None
    warp_cover_factor: float
    weft_cover_factor: float
    cloth_cover_factor: float
    warp_cover_factor_cotton: float | None = None
    weft_cover_factor_cotton: float | None = None
    cloth_cover_factor_cotton: float | None = None
    warp_crimp_pct: float
    weft_crimp_pct: float
    mass_g_per_m2: float
    finished_mass_g_per_m2: float | None = None
    thickness_mm: float | None = None
    tightness_pct: float
    ends_setting_use_pct: float | None = None
    picks_setting_use_pct: float | None = None
    longest_warp_float_picks: int | None = None
    longest_weft_float_ends: int | None = None
    longest_float_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnUse(Record):
    """Yarn of one colour that the order takes, waste included."""

    yarn: str
    designation: str | None = None
    colour: str | None = None
    linear_density_tex: float | None = None
    threads: int | None = None
    length_km: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpSummary(Record):
    """The warp: how long, how many beams, and what the shed asks of its weakest ends.

    Attributes:
        length_m: For the order, loom waste included; for 1000 m of cloth where none is ordered.
        beams_needed: Beams, or sets of beams abreast, one after the other.
        knots: Knots of all tyings-in, the first warp too.
        doffs: Cloth rolls taken off.
        days_between_warps: Days that a full beam lasts.
    """

    length_m: float | None = None
    mass_kg: float | None = None
    beam_capacity_m: float | None = None
    beams_needed: int | None = None
    knots: int | None = None
    cloth_roll_capacity_m: float | None = None
    doffs: int | None = None
    days_between_warps: float | None = None
    peak_tension_cn: float | None = None
    strength_use_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Report(Record):
    """The answer to one validation.

    ``print(report)`` gives a readable page; a notebook shows a table.
    """

    validation_id: str
    ruleset: str
    reference: str | None = None
    loom_id: str | None = None
    verdict: Verdict
    counts: Counts
    findings: tuple[Finding, ...]
    rates: Rates
    setup: Setup
    cloth: ClothSummary
    yarn: tuple[YarnUse, ...]
    warp: WarpSummary
    assumptions: tuple[Assumption, ...]
    links: Mapping[str, str | None]
    caution: str

    @property
    def ok(self) -> bool:
        """Whether the cloth can be woven on this loom, with warnings or without."""
        return self.verdict is not Verdict.NOT_WEAVABLE

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Findings because of which the cloth cannot or must not run."""
        return self._of(Severity.ERROR)

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """Findings with which the cloth runs, but not without trouble."""
        return self._of(Severity.WARNING)

    @property
    def notes(self) -> tuple[Finding, ...]:
        """Findings worth knowing."""
        return self._of(Severity.NOTE)

    @property
    def gravest(self) -> Finding | None:
        """The first of the gravest findings; ``None`` where there is nothing to say."""
        return next(iter(self._by_weight()), None)

    @property
    def link(self) -> str | None:
        """Path under which this report can be had again; ``None`` where the request is too long."""
        return self.links.get("self")

    def finding(self, code: str) -> Finding | None:
        """Return the first finding with ``code``, such as ``shedding.shafts``, or ``None``."""
        return next((each for each in self.findings if each.code == code), None)

    def summary(self) -> dict[str, object]:
        """Return one flat row: the verdict and every single number of rates, setup and cloth."""
        head = {
            "reference": self.reference,
            "loom_id": self.loom_id,
            "verdict": str(self.verdict),
            **self.counts.to_json(),
            "finding_codes": " ".join(each.code for each in self.findings),
        }
        parts = (self.rates, self.setup, self.cloth)
        return head | {
            key: value
            for part in parts
            for key, value in part.to_json().items()
            if isinstance(value, int | float | str)
        }

    def to_rows(self) -> list[dict[str, object]]:
        """Return one flat row a finding, for a data frame or a spreadsheet."""
        head = {"reference": self.reference, "loom_id": self.loom_id, "verdict": str(self.verdict)}
        return [
            head
            | {
                "severity": str(each.severity),
                "code": each.code,
                "pointer": each.pointer,
                "actual": each.actual,
                "limit": each.limit,
                "unit": each.unit,
                "margin_pct": each.margin_pct,
                "message": each.message,
            }
            for each in self.findings
        ]

    def __str__(self) -> str:
        """Return a page that a weaving manager can read."""
        lines = [self._headline(), *(f"  {name}: {value}" for name, value in self._facts())]
        lines += [f"  {each}" for each in self._by_weight()]
        lines.append(f"  assumed: {len(self.assumptions)} values (report.assumptions)")
        lines.append(f"  {self.caution}")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        facts = "".join(
            f"<tr><th scope='row'>{name}</th><td>{html.escape(value)}</td></tr>"
            for name, value in self._facts()
        )
        findings = "".join(
            f"<li><b>{each.severity}</b> <code>{html.escape(each.code)}</code> "
            f"{html.escape(each.message)}</li>"
            for each in self._by_weight()
        )
        headline = html.escape(self._headline())
        caution = html.escape(self.caution)
        return (
            f"<table><caption>{headline}</caption>{facts}</table>"
            f"<ul>{findings}</ul><p><small>{caution}</small></p>"
        )

    def _of(self, severity: Severity) -> tuple[Finding, ...]:
        return tuple(each for each in self.findings if each.severity is severity)

    def _by_weight(self) -> tuple[Finding, ...]:
        return self.errors + self.warnings + self.notes

    def _headline(self) -> str:
        order = self.reference or "construction"
        loom = f" on {self.loom_id}" if self.loom_id else ""
        return f"{order}{loom}: {self.verdict.replace('_', ' ')}"

    def _facts(self) -> list[tuple[str, str]]:
        return [
            ("speed", self._speed_text()),
            ("output", self._output_text()),
            ("reed", self._reed_text()),
            ("shedding", self._shedding_text()),
            ("cloth", self._cloth_text()),
        ]

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
        efficiency = cell(rates.efficiency_pct)
        return f"{cell(rates.output_m_per_h)} m/h at {efficiency} % efficiency{order}"

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

    def _cloth_text(self) -> str:
        cloth = self.cloth
        return f"{cell(cloth.mass_g_per_m2)} g/m², tightness {cell(cloth.tightness_pct)} %"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Record):
    """One rule by which the service judges.

    Attributes:
        code: ``subject.topic``, as in the findings.
        says: What it says, in a sentence.
        compares: What is held against what.
        severities: The severities that it can give, the heaviest first.
        formula: How the compared value is computed.
        source: Where formula and limit come from.
    """

    code: str
    subject: str
    says: str | None = None
    compares: str | None = None
    severities: tuple[Severity, ...] = ()
    formula: str | None = None
    source: str | None = None
