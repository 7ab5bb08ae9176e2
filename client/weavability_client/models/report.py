"""What comes out of a validation: the report. ``None`` means "not applicable"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from weavability_client._record import Record, Scalar, record
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Assumption, Finding, Severity, Verdict
from weavability_client.tables import cell


@record
class Counts(Record):
    """Findings by severity."""

    errors: int
    warnings: int
    notes: int


@record
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


@record
class Rates(Record):
    """How fast this cloth runs on this loom, and what limits it.

    Attributes:
        limited_by: Name of the limit that decides the speed.
        stops: How the efficiency came about, where the loom states stop rates.
        days_for_order: In days of the mill's calendar.
    """

    speed_picks_per_min: float
    limited_by: str
    speed_limits_picks_per_min: Mapping[str, float] = field(default_factory=dict[str, float])
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


@record
class Setup(Record):
    """The setting-up data.

    Attributes:
        reed_counts: The reed in every counting system, by the system's name.
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
    reed_counts: Mapping[str, float] = field(default_factory=dict[str, float])
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


@record
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


@record
class YarnUse(Record):
    """Yarn of one colour that the order takes, waste included."""

    yarn: str
    designation: str | None = None
    colour: str | None = None
    linear_density_tex: float | None = None
    threads: int | None = None
    length_km: float
    mass_kg: float


@record
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


@record
class Report(Answer):
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

    @property
    def etag(self) -> str:
        """Name of this very judgement: it changes with request, loom limits or rules."""
        return self.validation_id

    def finding(self, code: str) -> Finding | None:
        """Return the first finding with ``code``, such as ``shedding.shafts``, or ``None``."""
        return next((each for each in self.findings if each.code == code), None)

    def summary(self) -> dict[str, object]:
        """Return one flat row: the verdict and every single number of rates, setup and cloth."""
        head: dict[str, object] = {
            "reference": self.reference,
            "loom_id": self.loom_id,
            "verdict": str(self.verdict),
            **self.counts.to_json(),
            "codes": " ".join(each.code for each in self.findings),
        }
        parts = (self.rates, self.setup, self.cloth)
        return head | {
            key: value
            for part in parts
            for key, value in part.to_json().items()
            if isinstance(value, int | float | str)
        }

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a finding, for a data frame or a spreadsheet."""
        head: dict[str, Scalar] = {
            "reference": self.reference,
            "loom_id": self.loom_id,
            "verdict": str(self.verdict),
        }
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

    def _page(self) -> Page:
        """Lay the report out, the gravest findings first."""
        return Page(
            headline=self._headline(),
            facts=self._facts(),
            remarks=[
                *(line for each in self._by_weight() for line in each.lines()),
                f"assumed: {len(self.assumptions)} values (report.assumptions)",
                self.caution,
            ],
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
