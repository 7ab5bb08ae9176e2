"""The fields of what goes in and what comes out. Generated: run ``openapi/regenerate``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import Required, TypedDict

from weavability_client import models
from weavability_client._record import Record, record

__all__ = [
    "Allowances",
    "Alteration",
    "AnswerOptions",
    "Band",
    "BandSpeed",
    "BeamOnLoom",
    "CarrierStroke",
    "Centring",
    "ChangeoverOptions",
    "ChangeoverRates",
    "ChangeoverStep",
    "ChangeoverSummary",
    "Check",
    "CheckInfo",
    "ClothState",
    "ClothStates",
    "ClothSummary",
    "Codes",
    "ColourSheet",
    "ColouredThreads",
    "Comparison",
    "Construction",
    "CornerValue",
    "CorrectionFigures",
    "CostDriver",
    "CostSummary",
    "Costs",
    "Counts",
    "CurvePoint",
    "DecisiveAssumption",
    "DesignEffect",
    "DesignFloatLimits",
    "DesignPlace",
    "DesignPlan",
    "DesignSection",
    "DesignSheetOptions",
    "DesignTightness",
    "DesignWeft",
    "DesignWeftFigures",
    "Draft",
    "DraftFault",
    "DraftOnLoom",
    "DraftSheet",
    "DraftToCheck",
    "DraftingSheet",
    "EffectFigures",
    "EnergyUse",
    "EvidenceCount",
    "EvidenceSubject",
    "EvidenceValue",
    "FaceShare",
    "FieldChange",
    "FiguredDesign",
    "Finishing",
    "FloatFigures",
    "FloatSheet",
    "GivenDraft",
    "Insertion",
    "InsertionRateOptions",
    "IntegritySheet",
    "InterlacingSheet",
    "JacquardSheet",
    "LayerInWeave",
    "LayerSheet",
    "LayerSummary",
    "Layers",
    "LayersInWeave",
    "LayersSummary",
    "LeftOut",
    "LeftOutValue",
    "LiftFigures",
    "LiftShares",
    "ListedMessage",
    "LongestFloat",
    "Loom",
    "LoomMatchOptions",
    "LoomMatchRequest",
    "LoomRemedies",
    "MatchOptions",
    "MatrixRow",
    "Motion",
    "NoRemedy",
    "NotPriced",
    "Notation",
    "OrderChain",
    "OrderInSequence",
    "OrderLeftOut",
    "OrderSheet",
    "OrderStep",
    "OrderStops",
    "OtherLoom",
    "PieceCuts",
    "PieceOrder",
    "Prices",
    "QuotedValue",
    "Rates",
    "Reed",
    "RemedyOptions",
    "RepeatSheet",
    "ReportSummary",
    "RequiredRange",
    "RequirementSummary",
    "Requirements",
    "Route",
    "Running",
    "Selvedge",
    "SelvedgeSetup",
    "Shedding",
    "StatedFloatLimits",
    "Stops",
    "StyleSummary",
    "Sweep",
    "SweepPoint",
    "TakeUpFigures",
    "TensionPeak",
    "Threshold",
    "TieConflicts",
    "TieSection",
    "TightArea",
    "TightestSquare",
    "TightnessMap",
    "TurnedWeave",
    "TurningCorner",
    "ValidationOptions",
    "ValidationRequest",
    "ValueBand",
    "VariedField",
    "Warp",
    "WarpBeam",
    "WarpGroup",
    "WarpGroupSummary",
    "WarpOnLoom",
    "WarpStrain",
    "WarpSummary",
    "Watched",
    "WeaveAsDesign",
    "WeaveAsRows",
    "WeaveForm",
    "WeaveName",
    "WeaveOptions",
    "Weft",
    "WeftOnLoom",
    "WholeWarp",
    "WidthOnLoom",
    "WindowAxis",
    "WindowBorder",
    "WindowCase",
    "WindowOptions",
    "WindowPoint",
    "Yarn",
    "YarnInOrder",
    "YarnUse",
]


@record
class Allowances(Record):
    """What is used beyond the yarn that lies in the cloth.

    Attributes:
        warp_waste_pct: Warp yarn lost in preparation, on the warp woven [%].
        weft_waste_pct: Weft yarn lost at package and stops, on the weft inserted [%].
        size_pct: Size on the warp, on the mass of the unsized warp [%].
        loom_waste_m: Warp lost at tying and at the end of the warp [m].
        size_strength_gain_pct: What the size adds to the strength of the spun yarns that are sized
            [%].
        size_elongation_loss_pct: What the size takes off the elongation at break of the spun yarns
            that are sized, on that elongation [%].
    """

    warp_waste_pct: float | None = None
    weft_waste_pct: float | None = None
    size_pct: float | None = None
    loom_waste_m: float | None = None
    size_strength_gain_pct: float | None = None
    size_elongation_loss_pct: float | None = None


@record
class Alteration(Record):
    """A figure of the cloth or the order that a remedy changes as well.

    Attributes:
        name: What changes with it, named like the field of the report.
        from_value: Before the change.
        to_value: After the change.
        unit: Unit of both values.
    """

    name: str
    from_value: float = field(metadata={"key": "from"})
    to_value: float = field(metadata={"key": "to"})
    unit: str


@record
class AnswerOptions(Record):
    """What is to be answered beside the report.

    Attributes:
        remedies: Whether to look for changes that clear the findings; without, no change of the
            order is tried; yes if not given.
        decisive_assumptions: Whether to find the assumed values that turn the verdict inside their
            bands; it takes the work of judging the order for each assumed value with a band, about
            40; not if not given.
    """

    remedies: bool | None = None
    decisive_assumptions: bool | None = None


@record
class AssumptionFields(Record):
    """A value that was not given and was therefore assumed.

    Attributes:
        pointer: JSON Pointer of the field that would replace the assumption when given.
        value: The assumed value.
        unit: Its unit, or ``None`` if it has none.
        reason: Why this value, with its source or ``common practice``.
        reason_key: Key of the reason, for a translation; ``GET /v1/messages`` lists all.
        reason_values: The values that the reason quotes, by name.
        grade: How well the value is supported: by a source, by common practice, from memory, as an
            estimate computed from what is stated, or by the mill itself.
        band: The range in which the true value is expected; ``None`` if it is not a number, or not
            known.
    """

    pointer: str
    value: object = None
    unit: str | None = None
    reason: str
    reason_key: str | None = None
    reason_values: Mapping[str, int | float | str | Mapping[str, object]] | None = None
    grade: str | None = None
    band: models.ValueBand | None = None


@record
class Band(Record):
    """Pick densities that the take-up allows.

    Linear densities of the weft that the insertion takes.

    Attributes:
        min: Fewest picks [picks/cm]. Or: Finest weft [tex].
        max: Coarsest weft [tex]. Or: Most picks [picks/cm].
    """

    min: float | None = None
    max: float | None = None


@record
class BandSpeed(Record):
    """The speed at which the peak tension uses a share of the weft's weakest place.

    Attributes:
        strength_use_pct: Peak tension as a share of the strength of the weft's weakest place [%].
        speed_picks_per_min: Speed at which the band is reached [picks/min].
        insertion_rate_m_per_min: Weft inserted per minute at this speed [m/min].
    """

    strength_use_pct: float
    speed_picks_per_min: float
    insertion_rate_m_per_min: float


@record
class BeamOnLoom(Record):
    """A warp beam that is on the loom while the cloth is woven.

    Attributes:
        beam: Its number, from 1.
        warps: Names of the groups of ends on it.
        ends: Ends on it.
        width_cm: Distance between its flanges [cm].
        ends_per_cm: Ends on it per cm between the flanges [ends/cm].
    """

    beam: int
    warps: tuple[str, ...]
    ends: int
    width_cm: float
    ends_per_cm: float


@record
class CarrierStroke(Record):
    """One movement of a carrier (or of the weft of a jet) at a stated speed of the loom.

    Attributes:
        carrier: Giver or taker of a pair, a single rapier, or free flight.
        from_deg: Crank angle at which it starts [degrees of the crank circle].
        to_deg: Crank angle at which it ends [degrees of the crank circle].
        length_m: Its travel [m].
        time_ms: Its duration [ms].
        mean_speed_m_per_s: Travel over duration [m/s].
        peak_speed_m_per_s: Greatest speed; the mean speed in free flight [m/s].
        peak_acceleration_m_per_s2: Greatest acceleration of a rapier; ``None`` in free flight
            [m/s²].
    """

    carrier: str
    from_deg: float
    to_deg: float
    length_m: float
    time_ms: float
    mean_speed_m_per_s: float
    peak_speed_m_per_s: float
    peak_acceleration_m_per_s2: float | None = None


@record
class Centring(Record):
    """The position of a thread order over the whole width, or length.

    Attributes:
        order_threads: True repeat of the order.
        total_threads: Threads over the whole width.
        whole_repeats: Whole repeats over the width.
        remainder_threads: Threads of the part repeat that is left.
        symmetrical_order: Whether the order is its own mirror image about some thread or gap.
        balanced: Whether the cloth reads the same from both edges when begun at ``first_thread``.
        first_thread: Thread of the order, 1-based, to begin with: the part repeat is shared between
            the edges, as symmetrically as the order allows, the widest band at the edge.
        left_edge_threads: Threads of the first band.
        right_edge_threads: Threads of the last band.
    """

    order_threads: int
    total_threads: int
    whole_repeats: int
    remainder_threads: int
    symmetrical_order: bool
    balanced: bool
    first_thread: int
    left_edge_threads: int
    right_edge_threads: int


@record
class ChangedReportFields(Record):
    """A report that is no longer what the caller saw, or a link that cannot be opened any more.

    Attributes:
        index: Place among the items of the request, from 0.
        link: The link as it was given.
        etag: Entity tag of the report now; ``None`` if there is a problem.
        verdict: Verdict now; ``None`` if there is a problem.
        codes: Codes of the findings now, to be sent with the next question.
        findings_added: Codes that the caller did not send; ``None`` if it sent no codes.
        findings_cleared: Codes that the caller sent and that are gone; ``None`` if it sent no
            codes.
        problem: Why the link cannot be judged any more; else ``None``.
        severities: The gravest severity of each of ``codes``, in their order; ``None`` if there is
            a problem.
        loom_id: Name of the loom in the park; ``None`` if the link states the loom itself.
        cloth: The cloth in a line; ``None`` if there is a problem.
    """

    index: int
    link: str
    etag: str | None = None
    verdict: models.Verdict | None = None
    codes: tuple[str, ...] | None = None
    findings_added: tuple[str, ...] | None = None
    findings_cleared: tuple[str, ...] | None = None
    problem: Mapping[str, object] | None = None
    severities: tuple[models.Severity | str, ...] | None = None
    loom_id: str | None = None
    cloth: str | None = None


class ChangeoverOptions(TypedDict, total=False):
    """Keywords of a request.

    From and to, or several orders, and the loom: exactly one of loom and loom_id. Of several orders
    the best sequence is found; on_loom may state what is woven before them. Each rate is taken from
    rates, else from the loom, else from the starting values.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
        warp_left_m: Warp left of what is on the loom when the new cloth begins; of several beams on
            that which runs out first [m].
        rates: The mill's own rates.
    """

    loom: models.Loom | Mapping[str, object] | None
    loom_id: str | None
    warp_left_m: float | None
    rates: models.ChangeoverRates | Mapping[str, object] | None


@record
class ChangeoverRates(Record):
    """The mill's own rates of changing a style; what is left out has a starting value.

    Attributes:
        minutes_per_weft: Time to change one weft [min].
        minutes_for_picks: Time to set another pick density and prove it [min].
        minutes_for_design: Time to load another lift plan or design [min].
        hours_for_cams: Time to change the cams of a cam motion [h].
        minutes_for_width: Time to set temples and cutters to another width [min].
        knots_per_h: Rate of the tying machine, stops included [knots/h].
        tie_in_ends_per_h: Rate of all tying-in work that grows with the number of ends [ends/h].
        tie_in_fixed_hours: Time to bring the beam and couple it [h].
        most_further_ends_pct: Most ends beyond those on the loom that are drawn in by hand so that
            a warp is tied in [%].
        hand_drawing_ends_per_h: Rate of drawing in or out on the loom by one person [ends/h].
        reeding_ends_per_h: Rate of sleying into another reed on the loom [ends/h].
        reeding_fixed_hours: Time to take the reed out, fit the other and weave up [h].
        drawing_in_ends_per_h: Rate of drawing in away from the loom by a pair of hands [ends/h].
        gaiting_hours: Time to take the old warp and harness off and gait up the new one [h].
        jacquard_threading_ends_per_h: Rate of threading through a harness on the loom [ends/h].
        harness_tie_ends_per_h: Rate of tying a new harness and levelling it [ends/h].
        harness_fixed_hours: Time to take the old harness down and hang the comber board [h].
        minutes_to_leave_ends_out: Time to cut the outer ends that the new warp lacks [min].
        hours_per_beam: Time to mount one more beam with its let-off, or to take one off [h].
        minutes_for_pile: Time to set pile let-off and loops to another pile ratio [min].
    """

    minutes_per_weft: float | None = None
    minutes_for_picks: float | None = None
    minutes_for_design: float | None = None
    hours_for_cams: float | None = None
    minutes_for_width: float | None = None
    knots_per_h: float | None = None
    tie_in_ends_per_h: float | None = None
    tie_in_fixed_hours: float | None = None
    most_further_ends_pct: float | None = None
    hand_drawing_ends_per_h: float | None = None
    reeding_ends_per_h: float | None = None
    reeding_fixed_hours: float | None = None
    drawing_in_ends_per_h: float | None = None
    gaiting_hours: float | None = None
    jacquard_threading_ends_per_h: float | None = None
    harness_tie_ends_per_h: float | None = None
    harness_fixed_hours: float | None = None
    minutes_to_leave_ends_out: float | None = None
    hours_per_beam: float | None = None
    minutes_for_pile: float | None = None


@record
class ChangeoverReportFields(Record):
    """The answer to one change of style.

    Attributes:
        loom_id: Name of the loom, if it has one.
        findings: Findings on the new style as it is woven, in the reed and on the draft that stay;
            with an error among them nothing is set up: no route, no steps, no hours.
        findings_on_loom: Findings on the style on the loom, which is taken as it is: an error among
            them says that it is stated otherwise than it is woven.
        route: How the warp is brought on; ``None`` if the loom cannot weave the new style.
        steps: All work in order.
        loom_stop_hours: Hours that the loom is stopped; ``None`` if it cannot weave the new style
            [h].
        loom_stop_hours_band: Between how many hours that is expected, by the bands of the rates.
        loom_stop_hours_at_start: Those of them before the new style is woven; the others come when
            the warp that is left is woven out [h].
        further_warps_hours: Hours that the loom is stopped while further warps of the new style are
            tied in, beside those of the steps; ``None`` if it cannot weave the new style [h].
        further_warps_hours_band: Between how many hours that is expected.
        off_loom_hours: Hours of work away from the loom; ``None`` if it cannot weave the new style
            [h].
        off_loom_hours_band: Between how many hours that is expected.
        alternatives: The routes not taken, the shortest stop first.
        draft: The draft on which the new style is woven; ``None`` without a route.
        width: The width that results; ``None`` without a route.
        warp: The warp on the loom, and how far it reaches; ``None`` without a route.
        old: The style on the loom.
        new: The next style.
        assumptions: Every value that was not given and was therefore assumed.
        caution: What a computed result is not.
    """

    loom_id: str | None = None
    findings: tuple[models.Finding, ...] | None = None
    findings_on_loom: tuple[models.Finding, ...] | None = None
    route: str | None = None
    steps: tuple[models.ChangeoverStep, ...]
    loom_stop_hours: float | None = None
    loom_stop_hours_band: models.ValueBand | None = None
    loom_stop_hours_at_start: float | None = None
    further_warps_hours: float | None = None
    further_warps_hours_band: models.ValueBand | None = None
    off_loom_hours: float | None = None
    off_loom_hours_band: models.ValueBand | None = None
    alternatives: tuple[models.Route, ...]
    draft: models.DraftOnLoom | None = None
    width: models.WidthOnLoom | None = None
    warp: models.WarpOnLoom | None = None
    old: models.StyleSummary
    new: models.StyleSummary
    assumptions: tuple[models.Assumption, ...]
    caution: str


@record
class ChangeoverStep(Record):
    """One piece of work.

    Attributes:
        step: Its kind.
        message: What is done and why.
        hours: How long it takes [h].
        hours_band: Between how many hours that is expected, by the bands of the rates.
        stops_loom: Whether the loom is stopped meanwhile; false for work away from it, and for
            weaving.
    """

    step: str
    message: str
    hours: float
    hours_band: models.ValueBand | None = None
    stops_loom: bool


@record
class ChangeoverSummary(Record):
    """The change from the cloth that is on the loom.

    Attributes:
        route: How the warp is brought on.
        loom_stop_hours: Hours that the loom is stopped [h].
        loom_stop_hours_band: Between how many hours that is expected.
        off_loom_hours: Hours of work away from the loom [h].
        off_loom_hours_band: Between how many hours that is expected.
    """

    route: str
    loom_stop_hours: float
    loom_stop_hours_band: models.ValueBand | None = None
    off_loom_hours: float
    off_loom_hours_band: models.ValueBand | None = None


@record
class Check(Record):
    """Public description of one check, with the caution.

    Attributes:
        code: ``subject.topic``, stable for ever.
        subject: What the check is about.
        says: The rule, in a sentence.
        compares: What is compared with what.
        severities: The severities that it can give, the heaviest first.
        stated_for_error: Pointers of the values on which an error may rest; ``*`` is the key of any
            yarn. As long as one that decides is only assumed, and its band allows the order, the
            finding is a warning.
        formula: How the compared value is computed.
        source: Source of formula and limit.
        thresholds: Numbers of the trade that decide, each with its source.
        messages: The sentences of its findings by ``message_key``; ``{name}`` is one of
            ``message_values``.
        caution: What a computed result is not.
    """

    code: str
    subject: str
    says: str
    compares: str
    severities: tuple[models.Severity | str, ...]
    stated_for_error: tuple[str, ...] | None = None
    formula: str
    source: str
    thresholds: tuple[models.Threshold, ...] | None = None
    messages: Mapping[str, str] | None = None
    caution: str | None = None


@record
class CheckInfo(Record):
    """Public description of a check.

    Attributes:
        code: ``subject.topic``, stable for ever.
        subject: What the check is about.
        says: The rule, in a sentence.
        compares: What is compared with what.
        severities: The severities that it can give, the heaviest first.
        stated_for_error: Pointers of the values on which an error may rest; ``*`` is the key of any
            yarn. As long as one that decides is only assumed, and its band allows the order, the
            finding is a warning.
        formula: How the compared value is computed.
        source: Source of formula and limit.
        thresholds: Numbers of the trade that decide, each with its source.
        messages: The sentences of its findings by ``message_key``; ``{name}`` is one of
            ``message_values``.
    """

    code: str
    subject: str
    says: str
    compares: str
    severities: tuple[models.Severity | str, ...]
    stated_for_error: tuple[str, ...] | None = None
    formula: str
    source: str
    thresholds: tuple[models.Threshold, ...] | None = None
    messages: Mapping[str, str] | None = None


@record
class ClothState(Record):
    """The cloth in one of its states.

    Attributes:
        ends_per_cm: Ends per centimetre [ends/cm].
        picks_per_cm: Picks per centimetre [picks/cm].
        width_cm: Width of a panel, without what ``selvedge.wide`` finds beside the ordered width
            [cm].
        length_m: Length of all panels; from 1000 m of grey cloth if none is ordered [m].
        mass_g_per_m2: Mass of the cloth, without size [g/m²].
    """

    ends_per_cm: float
    picks_per_cm: float
    width_cm: float
    length_m: float
    mass_g_per_m2: float


@record
class ClothStates(Record):
    """The cloth in the loom, grey and finished, whichever of them the order states.

    Attributes:
        loom_state: In the reed and under the tension of the take-up.
        grey: Off the loom, relaxed, unfinished.
        finished: After finishing.
    """

    loom_state: models.ClothState
    grey: models.ClothState
    finished: models.ClothState


@record
class ClothSummary(Record):
    """What the cloth is, in its grey state unless a name says otherwise.

    Attributes:
        weave: The weave in words.
        repeat_ends: Ends of the weave's true repeat.
        repeat_picks: Picks of the weave's true repeat.
        ends_per_cm: Ends in the grey cloth [ends/cm].
        picks_per_cm: Picks in the grey cloth [picks/cm].
        grey_width_cm: Width of a panel in the grey [cm].
        finished_width_cm: Width of a panel when finished [cm].
        warp_tex: Mean linear density of the warp [tex].
        weft_tex: Mean linear density of the weft [tex].
        warp_diameter_mm: Mean diameter of the warp yarn [mm].
        weft_diameter_mm: Mean diameter of the weft yarn [mm].
        warp_cover_factor: Cover factor of the warp, SI form [threads/cm × √tex ÷ 10].
        weft_cover_factor: Cover factor of the weft, SI form [threads/cm × √tex ÷ 10].
        cloth_cover_factor: Cover factor of the cloth, SI form [threads/cm × √tex ÷ 10].
        warp_cover_factor_cotton: Cover factor of the warp, cotton form [threads/in ÷ √Ne].
        weft_cover_factor_cotton: Cover factor of the weft, cotton form [threads/in ÷ √Ne].
        cloth_cover_factor_cotton: Cover factor of the cloth, cotton form [threads/in ÷ √Ne].
        warp_crimp_pct: Crimp of the warp on the length of the cloth, mean over its ends; those of
            beams that state a pile ratio are left out [%].
        weft_crimp_pct: Crimp of the weft on the width of the cloth [%].
        warp_contraction_pct: Contraction of the warp on the length of the yarn [%].
        weft_contraction_pct: Contraction of the weft on the length of the yarn [%].
        mass_g_per_m2: Mass of the grey cloth [g/m²].
        finished_mass_g_per_m2: Mass of the finished cloth [g/m²].
        thickness_mm: Thickness of the grey cloth, by which rolls are wound [mm].
        fibre_volume_pct: Share of the volume of the grey cloth that is fibre, by that thickness;
            the rest is its porosity [%].
        tightness_pct: How near the cloth is to jamming where its threads are closest: 100 is the
            jammed cloth; of layers, each is set against itself [%].
        mean_tightness_pct: The same by the mean floats and setts of the whole cloth, or of the
            tightest layer [%].
        tightest_square: Where the threads are closest; ``None`` if the weave repeats within 16 x 16
            threads and is set evenly, so that it is judged as a whole, and of layers, each of which
            has its own.
        ends_setting_use_pct: Ends as a share of the most that ends-plus-intersections allows [%].
        picks_setting_use_pct: Picks as a share of the most that ends-plus-intersections allows [%].
        brierley_square_sett_per_cm: Greatest square sett by Brierley's rule, of the mean count;
            ``None`` for other cloth than cotton in plain and regular twill [threads/cm].
        brierley_setting_use_pct: Geometric mean of both setts as a share of Brierley's square sett;
            ``None`` likewise [%].
        setting_disagreement: Which of these rules and the jam find the cloth too close, and which
            do not; ``None`` if they agree.
        longest_warp_float_picks: Longest float of an end [picks].
        longest_weft_float_ends: Longest float of a pick [ends].
        longest_float_mm: Longest float in the cloth; what figuring wefts do behind a design is in
            ``design.wefts`` [mm].
    """

    weave: str
    repeat_ends: int
    repeat_picks: int
    ends_per_cm: float
    picks_per_cm: float
    grey_width_cm: float
    finished_width_cm: float
    warp_tex: float
    weft_tex: float
    warp_diameter_mm: float
    weft_diameter_mm: float
    warp_cover_factor: float
    weft_cover_factor: float
    cloth_cover_factor: float
    warp_cover_factor_cotton: float
    weft_cover_factor_cotton: float
    cloth_cover_factor_cotton: float
    warp_crimp_pct: float
    weft_crimp_pct: float
    warp_contraction_pct: float | None = None
    weft_contraction_pct: float | None = None
    mass_g_per_m2: float
    finished_mass_g_per_m2: float
    thickness_mm: float
    fibre_volume_pct: float | None = None
    tightness_pct: float
    mean_tightness_pct: float | None = None
    tightest_square: models.TightestSquare | None = None
    ends_setting_use_pct: float
    picks_setting_use_pct: float
    brierley_square_sett_per_cm: float | None = None
    brierley_setting_use_pct: float | None = None
    setting_disagreement: str | None = None
    longest_warp_float_picks: int
    longest_weft_float_ends: int
    longest_float_mm: float


@record
class Codes(Record):
    """Codes of the findings, each once, at its heaviest severity, in the order of the report.

    Attributes:
        errors: Codes of what cannot or must not run.
        warnings: Codes of what runs, but with trouble to expect.
        notes: Codes of what is worth knowing.
    """

    errors: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]


@record
class ColourSheet(Record):
    """Colour and weave together.

    Attributes:
        repeat_ends: Ends after which colour and weave repeat together.
        repeat_picks: Picks, likewise.
        repeat_width_cm: Width of one repeat; ``None`` if the ends per cm are not known [cm].
        repeat_length_cm: Length of one repeat; ``None`` if the picks per cm are not known [cm].
        weave_breaks_in_warp: Equal stripes of the warp meet the weave at different places.
        weave_breaks_in_weft: The same for the weft.
        warp: The order of the ends, and how it lies over the width.
        weft: The order of the picks.
        face: The colours of the face, the largest share first; the shares add up to 100.
    """

    repeat_ends: int
    repeat_picks: int
    repeat_width_cm: float | None = None
    repeat_length_cm: float | None = None
    weave_breaks_in_warp: bool
    weave_breaks_in_weft: bool
    warp: models.OrderSheet
    weft: models.OrderSheet
    face: tuple[models.FaceShare, ...]


@record
class ColouredThreads(Record):
    """Warp or weft in colours: the thread order, and the colour of each of its yarns.

    Attributes:
        order: Thread order, such as ``24A 4B``; needed for more than one colour.
        colours: Colours by their key in the thread order.
    """

    order: str | None = None
    colours: Mapping[str, str]


@record
class Comparison(Record):
    """How another weave is related to this one.

    Attributes:
        name: What the other is called.
        same: Whether the two differ at most in where the repeat begins.
        relations: Everything that can be done to this weave to get the other: ``same``,
            ``mirrored``, ``reverse side``, ``quarter turn`` and so on; ``None`` if the weaves are
            too large to be compared.
    """

    name: str | None = None
    same: bool | None = None
    relations: tuple[str, ...] | None = None


@record
class Construction(Record):
    """A woven construction as an order states it.

    Exactly one of width_cm and width_in; at most one of length_m, length_yd and order. What is left
    out, or ``None``, is assumed if it is needed, and listed in the report's assumptions.

    Attributes:
        reference: The caller's own name of the order; returned in the report, never part of a link.
        stage: Stage at which sett, width and length were measured.
        warp: The warp.
        weft: The weft.
        weave: The weave.
        layers: The layer of each thread, for double, backed and pile cloths.
        width_cm: Width of one panel at the stated stage, selvedges included; what very wide ones
            have beyond usual ones is beside it [cm].
        width_in: Width of one panel at the stated stage, selvedges included; what very wide ones
            have beyond usual ones is beside it [in].
        thickness_mm: Thickness of the grey cloth under the tension of winding [mm].
        selvedge: The edges of each panel.
        panels: Panels woven side by side.
        panel_gap_cm: Reed width left between two panels [cm].
        length_m: Cloth to weave, all panels together, as long as it is at the stated stage [m].
        length_yd: Cloth to weave, all panels together, as long as it is at the stated stage [yd].
        reed: The reed requested.
        draft: The drawing-in requested.
        finishing: What happens after the loom.
        allowances: Waste, size and loom waste.
        requested_speed_picks_per_min: Speed at which the order is planned [picks/min].
        order: The order in pieces of finished cloth, in place of length_m.
        requirements: What the customer requires of the finished cloth.
    """

    reference: str | None = None
    stage: str | None = None
    warp: models.Warp
    weft: models.Weft
    weave: str | Mapping[str, object] | models.WeaveAsDesign
    layers: models.Layers | None = None
    width_cm: float | None = None
    width_in: float | None = None
    thickness_mm: float | None = None
    selvedge: models.Selvedge | None = None
    panels: int | None = None
    panel_gap_cm: float | None = None
    length_m: float | None = None
    length_yd: float | None = None
    reed: models.Reed | None = None
    draft: models.Draft | None = None
    finishing: models.Finishing | None = None
    allowances: models.Allowances | None = None
    requested_speed_picks_per_min: float | None = None
    order: models.PieceOrder | None = None
    requirements: models.Requirements | None = None


@record
class CornerValue(Record):
    """A value at the end of its band that makes things worse.

    Attributes:
        pointer: The field.
        name: The field in words.
        value: The value: an end of its band, or beyond it if the band of another value moves the
            band.
        unit: Its unit, or ``None`` if it has none.
        towards_limit_pct: How much of the distance of the deciding figure, as all is assumed, to
            its limit it takes up alone: 0 if it acts only together with the others, 100 if the loom
            is slowed so far that the limit is just kept; ``None`` if the figure is at its limit
            already, or is not compared, as all is assumed [%].
    """

    pointer: str
    name: str | None = None
    value: float
    unit: str | None = None
    towards_limit_pct: float | None = None


@record
class CorrectionFigures(Record):
    """What the correction did.

    Attributes:
        requested: Whether it was requested.
        dots: Crossings of the hooks that were changed.
        changed_ppm: The same, of a million crossings [ppm].
        floats_before: Floats beyond the limits before it.
        floats_left: Floats beyond the limits that remain.
        is_complete: Whether it ended by itself, not at 100,000 dots or 900,000 ends at which a dot
            was tried.
    """

    requested: bool
    dots: int
    changed_ppm: float
    floats_before: int
    floats_left: int
    is_complete: bool


@record
class CostDriver(Record):
    """What one cause adds to the cost.

    Attributes:
        driver: A yarn as in ``yarn``, ``size``, ``loom hours``, ``change-over``, ``further warps``
            (tying in each filling of the beams after the first), ``energy``, ``air``, or ``seconds
            sold``, which earn.
        quantity: How much of it the order takes; 1000 m of cloth if no length is ordered.
        unit: Unit of the quantity.
        price: Price of a unit; negative for what is earned, such as by seconds [per unit].
        cost_per_m: Quantity x price, for a metre of first quality [per m].
        cost_per_m2: The same for a square metre [per m²].
        cost_for_order: The same for the order; ``None`` if no length is ordered [per order].
        share_pct: Share of the total; ``None`` if that is 0 [%].
    """

    driver: str
    quantity: float
    unit: str
    price: float
    cost_per_m: float
    cost_per_m2: float
    cost_for_order: float | None = None
    share_pct: float | None = None


@record
class CostSummary(Record):
    """The cost of the order on one loom, as far as it is priced.

    Attributes:
        cost_per_m: For a metre of first quality, as the order measures it; ``None`` if nothing is
            priced [per m].
        cost_per_m2: For a square metre of it; ``None`` likewise [per m²].
        cost_for_order: For the order; ``None`` likewise, or if no length is ordered [per order].
        loom_hour: Price of an hour of the loom; ``None`` if it is not priced [per h].
        changeover_hours: Hours of change-over that are priced: those of ``changeover``, or as usual
            for a new style [h].
        not_priced: What the order takes and is in no sum.
    """

    cost_per_m: float | None = None
    cost_per_m2: float | None = None
    cost_for_order: float | None = None
    loom_hour: float | None = None
    changeover_hours: float
    not_priced: tuple[str, ...]


@record
class Costs(Record):
    """The cost of the order, as far as it is priced: the sum of its drivers.

    Attributes:
        currency: The label as sent; nothing is converted.
        cost_per_m: For a metre of first quality, as the order measures it; ``None`` if nothing is
            priced [per m].
        cost_per_m2: For a square metre of it; ``None`` likewise [per m²].
        cost_for_order: For the order; ``None`` likewise, or if no length is ordered [per order].
        cost_per_ordered_m: The same for a metre that is ordered, which bears the overage as long as
            nobody buys it; ``None`` likewise, or if no length is ordered [per m].
        rejects_cost_per_m: What of it rejects add, after what seconds earn; ``None`` likewise, or
            if none are expected [per m].
        stage: State of the cloth whose metres are counted.
        first_quality_m: Length that bears the cost, all panels together, overage included and
            rejects left out; of 1000 m of grey cloth if none is ordered [m].
        second_quality_m: Length that is rejected and sold as seconds [m].
        loom_hour: Price of an hour of the loom; ``None`` if it is not priced [per h].
        loom_hour_from: JSON Pointer of the field that it follows from: ``/loom/loom_hour``,
            ``/loom/price`` (capital alone, without wages, room and repairs) or
            ``/prices/loom_hour``, the first that is stated.
        drivers: What the cost is made up of.
        not_priced: What the order takes and is in no sum, with what to state.
    """

    currency: str | None = None
    cost_per_m: float | None = None
    cost_per_m2: float | None = None
    cost_for_order: float | None = None
    cost_per_ordered_m: float | None = None
    rejects_cost_per_m: float | None = None
    stage: str
    first_quality_m: float
    second_quality_m: float
    loom_hour: float | None = None
    loom_hour_from: str | None = None
    drivers: tuple[models.CostDriver, ...]
    not_priced: tuple[models.NotPriced, ...]


@record
class Counts(Record):
    """Findings by severity.

    Attributes:
        errors: Findings that mean: cannot or must not run.
        warnings: Findings that mean: runs, but expect this.
        notes: Findings that are worth knowing.
    """

    errors: int
    warnings: int
    notes: int


@record
class CurvePoint(Record):
    """One point of a loom's speed curve.

    Attributes:
        reed_width_cm: Reed width in use [cm].
        picks_per_min: Greatest speed at this width [picks/min].
    """

    reed_width_cm: float
    picks_per_min: float


@record
class DecisiveAssumption(Record):
    """An assumed value that turns the verdict inside its band.

    Attributes:
        pointer: The field that would replace the assumption when given.
        name: The field in words.
        assumed: The assumed value.
        band: The range in which the true value is expected.
        turns_at: The last value with ``verdict_otherwise``; one ``resolution`` further it is
            ``verdict``. Null if ``side`` is ``anywhere``.
        side: On which side of the value at which it turns ``verdict`` holds; ``anywhere`` if it
            does as soon as any value of the band is stated, because what is only assumed rejects
            nothing.
        until: The value on that side at which it turns back; ``None`` if it does not.
        where: On which values of its band ``verdict`` holds, in words: ``above 7.1 %``.
        resolution: How far apart the values are that were tried.
        unit: Unit of the value, or ``None`` if it has none.
        verdict: The graver verdict, if the value were measured on that side.
        verdict_otherwise: The verdict if it were measured on the other side.
        codes: The checks that make it graver.
        still_beyond: Those of ``codes`` whose limit is passed with ``verdict_otherwise`` as well:
            no errors there only because other values are assumed, so that measuring this one alone
            settles nothing.
        is_of_stock: Whether it decides nothing but which reed serves of those in stock, which is
            settled when the reed is chosen.
        message: What follows from the value, in sentences.
    """

    pointer: str
    name: str | None = None
    assumed: float
    band: models.ValueBand
    turns_at: float | None = None
    side: str
    until: float | None = None
    where: str | None = None
    resolution: float
    unit: str | None = None
    verdict: models.Verdict
    verdict_otherwise: models.Verdict
    codes: tuple[str, ...]
    still_beyond: tuple[str, ...]
    is_of_stock: bool | None = None
    message: str


@record
class DesignEffect(Record):
    """What a colour of the picture means.

    Attributes:
        name: What the effect is called.
        weave: Its weave, in words or as rows; at most 500 ends and picks.
        face: The threads that it shows most of: a weave of the other face is turned, warp and weft
            exchanged at the same places.
        shift: Ends to the right and picks up by which the weave is moved from the first hook and
            line [threads].
        weft: Key of the weft that shows in it; the ground weft if not given.
        max_float_mm: Longest float that it may have on either side, in place of float_limits [mm].
    """

    name: str | None = None
    weave: str | models.WeaveAsRows
    face: str | None = None
    shift: tuple[int, ...] | None = None
    weft: str | None = None
    max_float_mm: float | None = None


@record
class DesignFloatLimits(Record):
    """Longest floats that the design may have: on either side of the cloth, or behind it.

    Attributes:
        warp_mm: Longest float of an end [mm].
        weft_mm: Longest float of a pick; what figuring wefts do behind the cloth does not count
            [mm].
        back_mm: Longest float of a figuring weft behind the cloth; the usual limits if not given.
            No dots are made for it: its binding decides [mm].
    """

    warp_mm: float | None = None
    weft_mm: float | None = None
    back_mm: float | None = None


@record
class DesignPlace(Record):
    """A place in the cloth where something was found.

    Attributes:
        end: End of the repeat, from 1; of a tie conflict, of the whole cloth.
        pick: Pick of the repeat, from 1.
        what: What is there.
    """

    end: int
    pick: int
    what: str


@record
class DesignPlan(Record):
    """The design on the machine.

    Attributes:
        design_id: Digest of what the hooks lift: the same point paper has the same.
        covers: What a column of the picture is: a hook, or an end of the cloth.
        columns: Columns of the picture that are woven.
        lines: Lines of the design.
        columns_cast_out: Columns of the picture that are left out.
        lines_cast_out: Lines of the picture that are left out.
        wefts: Keys of the wefts, in the order of insertion in a line.
        picks: Picks of a repeat, all wefts together.
        cards: Cards, one for each pick.
        picks_by_weft: Picks of each weft [picks].
        hooks_used: Hooks that lift ends; ``None`` without a Jacquard.
        hooks_idle: Hooks cast out; ``None`` without a Jacquard.
        selvedge_hooks: Hooks kept for the selvedges; ``None`` without a Jacquard.
        repeat_ends: Ends after which the cloth repeats, through the tie.
        is_whole_cloth: Whether that repeat is a cloth from edge to edge, so that its last end is no
            neighbour to the first.
        hooks_by_cords: Hooks by the number of their ends in that repeat [hooks].
        repeat_width_cm: Width of that repeat at the stated sett [cm].
        repeat_height_cm: Height of the repeat at the stated sett [cm].
        paper: Columns and lines of a large square of design paper, 8 needles to a row.
        fitting_columns: Greatest number of columns, up to those of the picture, at which no weave
            breaks where the repeats meet; 0 if there is none.
        fitting_lines: The same of lines.
    """

    design_id: str
    covers: str
    columns: int
    lines: int
    columns_cast_out: int
    lines_cast_out: int
    wefts: tuple[str, ...]
    picks: int
    cards: int
    picks_by_weft: Mapping[str, int]
    hooks_used: int | None = None
    hooks_idle: int | None = None
    selvedge_hooks: int | None = None
    repeat_ends: int
    is_whole_cloth: bool
    hooks_by_cords: Mapping[str, int]
    repeat_width_cm: float
    repeat_height_cm: float
    paper: tuple[int, ...]
    fitting_columns: int
    fitting_lines: int


@record
class DesignSection(Record):
    """The figured design of an order, as the loom weaves it.

    Attributes:
        plan: The design on the machine.
        effects: The effects: of each colour its weave.
        wefts: The wefts; empty if one weft weaves it all.
        float_limits: Longest floats that the design allows.
        floats: Longest floats of the cloth.
        correction: What the correction did.
        tie_conflicts: How a picture of the cloth agrees with the tie.
        turn_float_ends: Longest weft float across a turn of the tie; 0 if it does not turn [ends].
        places: Where something was found: one place for each finding that has one, and at most 20
            ends in conflict with the tie and 50 floats beyond their limits.
        tightness: How closely it is set.
        take_up_times: Interlacings of the neighbouring ends that have most over those with fewest
            [times].
        lift: Cords raised.
    """

    plan: models.DesignPlan
    effects: tuple[models.EffectFigures, ...]
    wefts: tuple[models.DesignWeftFigures, ...]
    float_limits: models.StatedFloatLimits
    floats: tuple[models.LongestFloat, ...]
    correction: models.CorrectionFigures
    tie_conflicts: models.TieConflicts
    turn_float_ends: int
    places: tuple[models.DesignPlace, ...]
    tightness: models.DesignTightness
    take_up_times: float
    lift: models.LiftShares


@record
class DesignSheetFields(Record):
    """What becomes of a figured design on a loom.

    Attributes:
        ruleset: Digest of the rules, thresholds and default limits.
        reference: The caller's own name of the order, as sent.
        loom_id: Name of the loom, if it has one.
        verdict: The answer for the whole cloth, as its validation gives it.
        verdict_note: Which stated values would decide a verdict that rests on what is assumed.
        counts: Findings by severity.
        findings: All findings of the validation.
        plan: The design on the machine.
        effects: The effects: of each colour its weave.
        wefts: The wefts; empty if one weft weaves it all.
        float_limits: Longest floats that the design allows.
        floats: Floats of the cloth.
        correction: What the correction did.
        tie_conflicts: How a picture of the cloth agrees with the tie.
        turn_float_ends: Longest weft float across a turn of the tie; 0 if it does not turn [ends].
        places: Where something was found: one place for each finding that has one, and at most 20
            ends in conflict with the tie and 50 floats beyond their limits.
        take_up: Take-up by groups of ends.
        take_up_times: Interlacings of the neighbouring ends that have most over those with fewest
            [times].
        tightness: How closely it is set.
        tightness_map: Tightness by place; ``None`` if the order declares layers.
        lift: Cords raised.
        rates: How fast the cloth runs on the loom.
        assumptions: Every value that was assumed.
        caution: What a computed result is not.
    """

    ruleset: str
    reference: str | None = None
    loom_id: str | None = None
    verdict: models.Verdict
    verdict_note: str | None = None
    counts: models.Counts
    findings: tuple[models.Finding, ...]
    plan: models.DesignPlan
    effects: tuple[models.EffectFigures, ...]
    wefts: tuple[models.DesignWeftFigures, ...]
    float_limits: models.StatedFloatLimits
    floats: tuple[models.FloatFigures, ...]
    correction: models.CorrectionFigures
    tie_conflicts: models.TieConflicts
    turn_float_ends: int
    places: tuple[models.DesignPlace, ...]
    take_up: tuple[models.TakeUpFigures, ...]
    take_up_times: float
    tightness: models.DesignTightness
    tightness_map: models.TightnessMap | None = None
    lift: models.LiftFigures
    rates: models.Rates
    assumptions: tuple[models.Assumption, ...]
    caution: str


class DesignSheetOptions(TypedDict, total=False):
    """Keywords of a request.

    A construction whose weave is a figured design, and the loom: one of loom and loom_id.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
    """

    loom: models.Loom | Mapping[str, object] | None
    loom_id: str | None


@record
class DesignTightness(Record):
    """How near to its jam the design is set, by the squares that the checks of the sett judge.

    Attributes:
        greatest_pct: Tightness of its tightest square, as ``cloth.tightness_pct`` [%].
        mean_pct: Tightness by the mean floats of the whole [%].
        tightest: The tightest square; ``None`` if the cloth is as tight everywhere.
    """

    greatest_pct: float
    mean_pct: float
    tightest: models.TightestSquare | None = None


@record
class DesignWeft(Record):
    """A weft of a figured design; one of them is the ground, the others figure on it.

    Attributes:
        role: What it is for.
        weave: How the ground weft weaves under the figures of other wefts; without it, it lies
            under them, in words or as rows; at most 500 ends and picks.
        back: What a figuring weft does behind the cloth: it is bound, floats there, or floats and
            is clipped off after weaving; if not given, it floats there.
        binding: How it is bound behind the cloth, counted on its own picks, in words or as rows; at
            most 500 ends and picks.
        insert: On which lines a figuring weft is inserted; on every line if not given.
        without_take_up: Whether the take-up stops on the picks of a figuring weft, so that a line
            is as high with them as without; picks_per_cm still counts every pick, as the mean of a
            repeat.
    """

    role: str
    weave: str | models.WeaveAsRows | None = None
    back: str | None = None
    binding: str | models.WeaveAsRows | None = None
    insert: str | None = None
    without_take_up: bool | None = None


@record
class DesignWeftFigures(Record):
    """A weft of the design.

    Attributes:
        key: Its key among the yarns of the weft.
        role: Whether it weaves the ground or figures on it.
        insert: On which lines it is inserted.
        without_take_up: Whether the take-up stops on its picks.
        picks: Its picks, and cards, in a repeat.
        weave: How the ground weft weaves under figures; ``None`` if it lies under them.
        back: What a figuring weft does behind the cloth; ``None`` of the ground.
        binding: The weave by which it is bound there; ``None`` if it is not.
        back_float_ends: Its longest float behind the cloth; ``None`` of the ground weft [ends].
        back_float_mm: The same in the cloth [mm].
    """

    key: str
    role: str
    insert: str
    without_take_up: bool
    picks: int
    weave: str | None = None
    back: str | None = None
    binding: str | None = None
    back_float_ends: int | None = None
    back_float_mm: float | None = None


@record
class Draft(Record):
    """The drawing-in that the order requests.

    Attributes:
        threading: Named draft, or the shaft (from 1) of every end of the repeat.
    """

    threading: str | tuple[int, ...]


@record
class DraftFault(Record):
    """Why a draft that was given cannot weave this cloth; the pointer is into the request.

    Attributes:
        pointer: JSON Pointer into the request of what is wrong.
        message: What is wrong there.
        message_key: Key of the message, for a translation.
        message_values: The values that the message quotes, by name.
    """

    pointer: str
    message: str
    message_key: str | None = None
    message_values: Mapping[str, int | float | str | Mapping[str, object]] | None = None


@record
class DraftOnLoom(Record):
    """The draft that is on the loom when the new style is woven.

    Attributes:
        kept: Whether it is the one that is on the loom now.
        draft: Name of the draft; ``None`` on a Jacquard.
        threading: Shaft of every end of its repeat (1-based); ``None`` on a Jacquard.
        lift_plan: The new lift plan for it, one string a pick, one character a shaft, ``1`` =
            raised; ``None`` on a Jacquard, and if it is too long.
    """

    kept: bool
    draft: str | None = None
    threading: tuple[int, ...] | None = None
    lift_plan: tuple[str, ...] | None = None


@record
class DraftSheet(Record):
    """A drawing-in with its lift plan; ``cloth[pick, end] = lift_plan[pick, threading[end]]``.

    Attributes:
        kind: Straight, point, skip, broken, grouped, repeated or irregular.
        shafts: Shafts that the draft takes.
        threading_ends: Ends of the threading's repeat.
        threading: The shaft of every end.
        lift_plan_picks: Picks of the lift plan.
        lift_plan: One string a pick, one character a shaft.
        treadles: Picks that lift differently.
        tie_up: One string a treadle, one character a shaft.
        treadling: The treadle of every pick.
        healds_per_repeat: Healds of every shaft in one repeat of the threading.
        healds_per_shaft: Healds of every shaft over the whole width, if the ends are known.
        healds_per_cm_per_shaft: Healds on the fullest shaft; ``None`` if the sett in the reed is
            not known [healds/cm/shaft].
    """

    kind: str
    shafts: int
    threading_ends: int
    threading: tuple[int, ...]
    lift_plan_picks: int
    lift_plan: tuple[str, ...] | None = None
    treadles: int
    tie_up: tuple[str, ...] | None = None
    treadling: tuple[int, ...] | None = None
    healds_per_repeat: tuple[int, ...]
    healds_per_shaft: tuple[int, ...] | None = None
    healds_per_cm_per_shaft: float | None = None


@record
class DraftToCheck(Record):
    """A drawing-in that is checked against the weave; its lift plan is derived if not given.

    Attributes:
        threading: Named draft, or the shaft (from 1) of every end, for one repeat or several.
        lift_plan: One string a pick, one character a shaft, 1 = lifted.
        shafts: Shafts of a named threading [shafts].
    """

    threading: str | tuple[int, ...]
    lift_plan: tuple[str, ...] | None = None
    shafts: int | None = None


@record
class DraftingSheet(Record):
    """The drawings-in of the weave.

    Attributes:
        shafts_needed: Ends that weave differently: the least shafts.
        picks_needed: Picks that lift differently: the least treadles, or cards.
        in_use: The draft that the findings refer to: the given one if it weaves the cloth, else the
            spread one if the healds need it, else the least; ``None`` on a Jacquard or if no draft
            is made.
        least: On the least shafts, numbered by first appearance.
        spread: The draft that relieves crowded healds, straight if the shafts are there; ``None``
            if they are not crowded.
        given: The draft that was given.
    """

    shafts_needed: int
    picks_needed: int
    in_use: str | None = None
    least: models.DraftSheet | None = None
    spread: models.DraftSheet | None = None
    given: models.GivenDraft | None = None


@record
class EffectFigures(Record):
    """An effect of the design; floats are those of its own weave.

    Attributes:
        name: Its name, or its colour if it has none.
        colour: Its colour in the picture.
        weave: Its weave, by its notation or its size.
        face: The face that the weave is turned to; ``None`` if it is as stated.
        shift: Ends and picks by which the weave is moved from the first hook and line.
        weft: Key of the weft that shows in it; empty if one weft weaves it all.
        share_pct: Share of the picture [%].
        warp_up_pct: Hooks of it that are raised, over all picks [%].
        is_bound: Whether its weave binds it within the limits.
        longest_warp_float_picks: Longest float of an end in its weave; ``None`` if no end of it is
            bound [picks].
        longest_weft_float_ends: Longest float of a pick in its weave; ``None`` if no pick of it is
            bound [ends].
        warp_float_limit_picks: Picks that an end may float; ``None`` for no limit.
        weft_float_limit_ends: Ends that a pick may float; ``None`` for no limit.
        dots: Dots that the correction made in it.
        thin_pct: Share of it that is one thread thin, up or across [%].
    """

    name: str
    colour: str
    weave: str
    face: str | None = None
    shift: tuple[int, ...]
    weft: str
    share_pct: float
    warp_up_pct: float
    is_bound: bool
    longest_warp_float_picks: int | None = None
    longest_weft_float_ends: int | None = None
    warp_float_limit_picks: int | None = None
    weft_float_limit_ends: int | None = None
    dots: int
    thin_pct: float


@record
class EnergyUse(Record):
    """Energy and compressed air by the power and the air that the loom states.

    Attributes:
        energy_kwh_per_m: Electric energy for a metre of first quality; ``None`` if the loom states
            none [kWh/m].
        energy_kwh_per_kg: The same for a kilogram of grey cloth; ``None`` likewise [kWh/kg].
        energy_kwh_for_order: The same for the order; ``None`` likewise, or if no length is ordered
            [kWh].
        air_m3_per_m: Free air for a metre of first quality; ``None`` if the loom states none
            [m³/m].
        air_m3_for_order: The same for the order; ``None`` likewise, or if no length is ordered
            [m³].
        air_kg_per_kg_weft: Air for a mass of weft, while the loom runs; ``None`` likewise [kg/kg].
        air_note: How that compares with what was measured on an air jet; ``None`` likewise.
    """

    energy_kwh_per_m: float | None = None
    energy_kwh_per_kg: float | None = None
    energy_kwh_for_order: float | None = None
    air_m3_per_m: float | None = None
    air_m3_for_order: float | None = None
    air_kg_per_kg_weft: float | None = None
    air_note: str | None = None


@record
class EvidenceFields(Record):
    """Every published value beside the computed one, and what was left out.

    Attributes:
        about: What counts as evidence here.
        counts: Counts over all subjects.
        subjects: The evidence by subject.
        left_out: Published values that are not compared.
        caution: What a computed figure is not.
    """

    about: str
    counts: models.EvidenceCount
    subjects: tuple[models.EvidenceSubject, ...]
    left_out: tuple[models.LeftOutValue, ...]
    caution: str


@record
class EvidenceCount(Record):
    """How many values were compared, and how many agree.

    Attributes:
        outside: Values printed or measured by others.
        outside_agree: How many of them agree.
        fitted: Values on which a number of the formula was chosen.
        fitted_agree: How many of them agree.
        derived: Values that follow from a printed rule or drawing.
        derived_agree: How many of them agree.
        recalled: Values of common knowledge whose document was not read.
        recalled_agree: How many of them agree.
    """

    outside: int
    outside_agree: int
    fitted: int
    fitted_agree: int
    derived: int
    derived_agree: int
    recalled: int
    recalled_agree: int


@record
class EvidenceSubject(Record):
    """The evidence on one subject.

    Attributes:
        subject: Name of the subject.
        about: What is compared, and how.
        counts: Counts of this subject.
        values: Every value; those that do not agree first.
    """

    subject: str
    about: str
    counts: models.EvidenceCount
    values: tuple[models.EvidenceValue, ...]


@record
class EvidenceValue(Record):
    """A published value beside the computed one.

    Attributes:
        case: Name of the case in the tests.
        what: What is compared, with the inputs.
        source: Who published it, and on which page as far as known.
        kind: ``outside`` was printed or measured by others; ``fitted`` likewise, but a number of
            the formula was chosen on it; ``derived`` follows from a printed rule or drawing;
            ``recalled`` is of common knowledge, the document was not read.
        published: The published figure, or what was stated.
        computed: What this service computes or answers.
        unit: Unit of both figures; ``None`` if they have none.
        deviation: Computed less published; ``None`` if they are not two different figures.
        deviation_pct: The same in per cent of the published figure; ``None`` if that is 0 or no
            figure [%].
        tolerance: Greatest deviation that counts as agreement; ``None`` if it has to be the same.
        agrees: Whether the two agree.
        note: What explains a deviation or a reading; ``None`` if nothing does.
    """

    case: str
    what: str
    source: str
    kind: str
    published: float | str
    computed: float | str
    unit: str | None = None
    deviation: float | None = None
    deviation_pct: float | None = None
    tolerance: float | None = None
    agrees: bool
    note: str | None = None


@record
class FaceShare(Record):
    """The share of the face at which a colour is on top.

    Attributes:
        colour: Colour as given.
        share_pct: Share of the face [%].
    """

    colour: str
    share_pct: float


@record
class FieldChange(Record):
    """One field of an order, and the value to put there.

    Attributes:
        pointer: JSON Pointer into the request of the field to change.
        from_value: The value that it has; ``None`` if it is not stated.
        to_value: The value to put there; ``None`` to state nothing there.
        unit: Unit of both values.
        step: Resolution in the same unit: one step less is no remedy; ``None`` if it is one of a
            few, or if the trials were used up before that was proved.
    """

    pointer: str
    from_value: object = field(default=None, metadata={"key": "from"})
    to_value: object = field(default=None, metadata={"key": "to"})
    unit: str | None = None
    step: float | None = None


@record
class FiguredDesign(Record):
    """A figured design for a Jacquard: a picture, and a weave for each of its colours.

    Weaves are laid on the hooks from the bottom left, and turned and repeated by the tie of the
    loom. The order of wefts in a line is that of their keys.

    Attributes:
        picture_png: The PNG file in base64: a palette of 1 to 8 bits, at most 64 colours in use and
            12000 pixels a side; one pixel a hook and line, the bottom line first.
        covers: What a column of the picture is: a hook, or an end of the whole width, which is held
            against the tie.
        effects: The effect of each colour of the picture, as #rrggbb.
        wefts: The wefts by their keys among the weft's yarns, if there are several.
        float_limits: Longest floats allowed.
        designed_width_cm: Width in the cloth for which the whole picture was drawn; with the
            height, its proportion is compared [cm].
        designed_height_cm: The height that goes with it [cm].
        columns: Columns of the picture that are woven, from the first; the others are cast out. All
            if not given [threads].
        lines: Lines of the picture that are woven, from the first; all if not given [threads].
        correct: Whether floats beyond the limits are bound by further dots.
    """

    picture_png: str
    covers: str | None = None
    effects: Mapping[str, models.DesignEffect]
    wefts: Mapping[str, models.DesignWeft] | None = None
    float_limits: models.DesignFloatLimits | None = None
    designed_width_cm: float | None = None
    designed_height_cm: float | None = None
    columns: int | None = None
    lines: int | None = None
    correct: bool | None = None


@record
class FindingFields(Record):
    """One finding of a report; ``code`` is ``subject.topic``, stable for ever.

    Attributes:
        code: ``subject.topic``, stable for ever; ``/v1/checks/{code}`` explains it.
        severity: How much the finding weighs.
        message: What, how much, against what limit, and what helps.
        message_key: Key of the sentence, for a translation; stable like the code.
        message_values: The values that the sentence quotes, by name.
        pointer: JSON Pointer into the request of the field that drives it.
        actual: What the cloth needs.
        limit: What the loom or the trade allows.
        unit: Unit of actual and limit.
        margin_pct: Room left, on the limit; negative if it is passed [%].
        remedies: Changes that were tried and clear the finding, or have it in ``leaves_warnings``,
            the smallest first.
        tried: What was tried if no remedy of an error or warning was found; empty if one was, or if
            none was looked for.
        source: Source of the limit.
        rests_on: Pointers of the assumed values on which a warning or note rests, the most
            effective first: elsewhere in their bands it would be lighter or none. Empty if it rests
            on none. If its ``message_key`` ends in ``_if_assumed``, it is an error if they are
            stated as they are assumed. ``assumptions`` has their bands.
    """

    code: str
    severity: models.Severity | str
    message: str
    message_key: str | None = None
    message_values: Mapping[str, int | float | str | Mapping[str, object]] | None = None
    pointer: str
    actual: int | float | str | None = None
    limit: int | float | str | None = None
    unit: str | None = None
    margin_pct: float | None = None
    remedies: tuple[models.Remedy, ...]
    tried: tuple[str, ...] | None = None
    source: str
    rests_on: tuple[str, ...] | None = None


@record
class Finishing(Record):
    """What happens to the cloth after the loom.

    Attributes:
        finish: How the cloth is finished, which decides about shrinkages that are not stated:
            scoured, bleached or dyed and dried to width (washed), also shrunk in length
            (pre_shrunk), or felted (milled).
        width_shrinkage_pct: Loss of width from grey to finished, on the grey width [%].
        length_shrinkage_pct: Loss of length from grey to finished, on the grey length [%].
        relaxation_pct: Loss of length when the cloth leaves the loom's tension [%].
        mass_change_pct: Gain of mass in finishing, or loss if negative, on the mass of the yarn
            without size [%].
        stabilised: Whether a finish, or leno, holds an open cloth together.
    """

    finish: str | None = None
    width_shrinkage_pct: float | None = None
    length_shrinkage_pct: float | None = None
    relaxation_pct: float | None = None
    mass_change_pct: float | None = None
    stabilised: bool | None = None


@record
class FloatFigures(Record):
    """The floats of one system on one side of the cloth, before and after the correction.

    Attributes:
        system: Which threads float.
        side: On which side.
        longest_before: Longest float as the design requests it [threads].
        longest: Longest float after the correction [threads].
        longest_mm: The same in the cloth [mm].
        histogram_before: Pairs of threads and number of floats of that length, as the design
            requests it.
        histogram: Pairs of threads and number of floats of that length, after the correction.
    """

    system: str
    side: str
    longest_before: int
    longest: int
    longest_mm: float
    histogram_before: tuple[tuple[int, ...], ...]
    histogram: tuple[tuple[int, ...], ...]


@record
class FloatSheet(Record):
    """The longest floats of four kinds: threads that a thread passes on one side.

    Attributes:
        warp_face_float_picks: Picks that an end passes over [picks].
        warp_back_float_picks: Picks that an end passes under [picks].
        weft_face_float_ends: Ends that a pick passes over [ends].
        weft_back_float_ends: Ends that a pick passes under [ends].
        mean_warp_float_picks: Picks per interlacing along an end [picks].
        mean_weft_float_ends: Ends per interlacing along a pick [ends].
        warp_face_float_mm: The longest float of an end on the face, if the picks are known [mm].
        warp_back_float_mm: The longest float of an end on the back, if the picks are known [mm].
        weft_face_float_mm: The longest float of a pick on the face, if the ends are known [mm].
        weft_back_float_mm: The longest float of a pick on the back, if the ends are known [mm].
        longest_float_mm: The longest of the four in the cloth, if both setts are known [mm].
    """

    warp_face_float_picks: int
    warp_back_float_picks: int
    weft_face_float_ends: int
    weft_back_float_ends: int
    mean_warp_float_picks: float
    mean_weft_float_ends: float
    warp_face_float_mm: float | None = None
    warp_back_float_mm: float | None = None
    weft_face_float_mm: float | None = None
    weft_back_float_mm: float | None = None
    longest_float_mm: float | None = None


@record
class GivenDraft(Record):
    """The draft that was given, held against the weave.

    Attributes:
        weaves_the_cloth: Whether it makes this weave.
        faults: Why not; the first ten.
        draft: The draft with its lift plan, if it weaves the cloth.
    """

    weaves_the_cloth: bool
    faults: tuple[models.DraftFault, ...]
    draft: models.DraftSheet | None = None


@record
class Insertion(Record):
    """Weft insertion: the system, its limits and its motion.

    Attributes:
        system: What carries the weft through the shed.
        max_rate_m_per_min: Greatest weft insertion rate [m/min].
        entry_deg: Crank angle at which carrier or weft enters the shed [degrees of the crank
            circle].
        transfer_deg: Crank angle of the hand-over between two rapiers [degrees of the crank
            circle].
        exit_deg: Crank angle at which carrier or weft has left the shed [degrees of the crank
            circle].
        motion_law: Law of the motion of rapier or needle.
        picks_per_insertion: Picks that one turn of the crank inserts: 2 of a needle, or of a loom
            that inserts two wefts at once; speeds and picks/cm count every pick [picks].
        rapiers: A pair of rapiers that hand over the weft, or a single one.
        overrun_cm: Travel of each rapier outside the reed width in use [cm].
        transfer_travel_cm: Travel of the taker from its turning point until it draws the weft [cm].
        carrier_length_cm: Length of a shuttle or projectile [cm].
        launch_length_cm: Distance over which a shuttle or projectile is accelerated [cm].
        stopping_length_cm: Length of weft inserted while it is braked to rest [cm].
        extra_weft_cm: Weft used beyond the reed width at each pick [cm].
        free_weft_length_m: Length of weft between feeder and carrier that is accelerated [m].
        base_tension_cn_per_tex: Tension of the weft at rest, from feeder and brake [cN/tex].
        withdrawal_factor: Tension that withdrawal from the feeder adds, over linear density x speed
            squared; 1 for setting the yarn in motion, more with a balloon [times mu v^2].
        friction_coefficient: Friction of the weft at brake, eyes and guides.
        wrap_deg: Angle through which brake, eyes and guides turn the weft in all [degrees].
        initial_modulus_times: Initial modulus of a weft over its mean modulus up to the break, for
            a jerk [times].
        max_feeder_speed_m_per_min: Greatest speed of one weft feeder [m/min].
    """

    system: str
    max_rate_m_per_min: float | None = None
    entry_deg: float | None = None
    transfer_deg: float | None = None
    exit_deg: float | None = None
    motion_law: str | None = None
    picks_per_insertion: int | None = None
    rapiers: str | None = None
    overrun_cm: float | None = None
    transfer_travel_cm: float | None = None
    carrier_length_cm: float | None = None
    launch_length_cm: float | None = None
    stopping_length_cm: float | None = None
    extra_weft_cm: float | None = None
    free_weft_length_m: float | None = None
    base_tension_cn_per_tex: float | None = None
    withdrawal_factor: float | None = None
    friction_coefficient: float | None = None
    wrap_deg: float | None = None
    initial_modulus_times: float | None = None
    max_feeder_speed_m_per_min: float | None = None


class InsertionRateOptions(TypedDict, total=False):
    """Keywords of a request.

    A loom (exactly one of loom and loom_id), width in use, weft and requested speed. Width, wefts
    and speed come from the construction if they are not stated beside it. At most one of
    reed_width_cm and reed_width_in; without either, and without a construction, the loom's full
    reed width is taken.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
        reed_width_cm: Reed width in use [cm].
        reed_width_in: Reed width in use [in].
        construction: The cloth that is to be woven.
        weft: The weft.
        speed_picks_per_min: Requested speed [picks/min].
        feeders: Feeders that deliver each weft in turn [feeders].
        sweep: A row of points to compute as well.
    """

    loom: models.Loom | Mapping[str, object] | None
    loom_id: str | None
    reed_width_cm: float | None
    reed_width_in: float | None
    construction: models.Construction | Mapping[str, object] | None
    weft: models.Yarn | Mapping[str, object] | None
    speed_picks_per_min: float | None
    feeders: int | None
    sweep: models.Sweep | Mapping[str, object] | None


@record
class IntegritySheet(Record):
    """Whether the threads hold one another in one cloth.

    Attributes:
        hangs_together: Whether the threads hold one another in one cloth.
        layer_count: Parts that could be lifted off one another; 1 when it hangs together.
        layers: The parts from the top of the cloth down; empty if it hangs together.
        loose_end_count: Ends that never interlace.
        loose_pick_count: Picks that never interlace.
        loose_ends: Those ends, as many as are listed.
        loose_picks: Those picks, as many as are listed.
    """

    hangs_together: bool
    layer_count: int
    layers: tuple[models.LayerSheet, ...]
    loose_end_count: int
    loose_pick_count: int
    loose_ends: tuple[int, ...]
    loose_picks: tuple[int, ...]


@record
class InterlacingSheet(Record):
    """Changes of side over the repeat.

    Attributes:
        of_ends: Changes of side of all ends together.
        of_picks: Changes of side of all picks together.
        per_end: Changes of side of every end.
        per_pick: Changes of side of every pick.
        uneven_ends: The ends do not all interlace equally often, so that they take up unequally.
    """

    of_ends: int
    of_picks: int
    per_end: tuple[int, ...] | None = None
    per_pick: tuple[int, ...] | None = None
    uneven_ends: bool


@record
class JacquardSheet(Record):
    """The weave on the hooks of the stated Jacquard.

    Attributes:
        hooks: Hooks for the figure.
        fits: Whether the hooks hold a whole repeat; if not, the fields below are ``None``.
        repeats_on_hooks: Repeats of the design side by side on the hooks.
        hooks_used: Hooks that lift an end.
        hooks_idle: Hooks cast out.
        nearest_full_repeats_ends: The repeats nearest to this one, shorter and longer, that leave
            no hook idle.
        ends_per_hook: Harness cords on a hook; if the warp does not divide, the most on any.
        hooks_with_fewer: Hooks with one cord less.
        repeats_across: Whole repeats of the design over the width.
        remainder_ends: Ends of the part repeat that is left.
        repeat_width_cm: Width of one repeat in the cloth [cm].
        harness_ends_per_cm: Ends per cm for which the comber board is built [ends/cm].
        usable_harness_ends_per_cm: What it gives with the idle hooks left empty [ends/cm].
        harness_width_cm: Width of the comber board that the ends take up [cm].
        harness_density_ratio: Ends per cm in the reed over those usable in the harness.
        design_paper: Squares across and up a large square of eight ends.
    """

    hooks: int
    fits: bool
    repeats_on_hooks: int | None = None
    hooks_used: int | None = None
    hooks_idle: int | None = None
    nearest_full_repeats_ends: tuple[int, ...]
    ends_per_hook: int | None = None
    hooks_with_fewer: int | None = None
    repeats_across: int | None = None
    remainder_ends: int | None = None
    repeat_width_cm: float | None = None
    harness_ends_per_cm: float | None = None
    usable_harness_ends_per_cm: float | None = None
    harness_width_cm: float | None = None
    harness_density_ratio: float | None = None
    design_paper: tuple[int, ...] | None = None


@record
class LayerInWeave(Record):
    """A layer in a weave.

    Attributes:
        layer: Its letter.
        kind: ``cloth`` with ends and picks of its own, ``backing`` (or wadding) with ends or picks
            alone, or ``pile``.
        weave: The weave of its threads alone; of a backing and of pile, with the threads that bind
            it; ``None`` if nothing does.
    """

    layer: str
    kind: str
    weave: str | None = None


@record
class LayerSheet(Record):
    """A cloth of its own, or a thread that lies loose.

    Attributes:
        end_count: Its ends in the repeat.
        pick_count: Its picks in the repeat.
        ends: Its ends, as many as are listed.
        picks: Its picks, as many as are listed.
    """

    end_count: int
    pick_count: int
    ends: tuple[int, ...]
    picks: tuple[int, ...]


@record
class LayerSummary(Record):
    """A layer of the grey cloth.

    Attributes:
        layer: Its letter.
        kind: ``cloth`` with ends and picks of its own, ``backing`` (or wadding) with ends or picks
            alone, or ``pile``.
        weave: The weave of its threads alone; of a backing and of pile, with the threads that bind
            it; ``None`` if nothing does.
        ends_per_cm: Its own ends in the grey cloth [ends/cm].
        picks_per_cm: Its own picks in the grey cloth [picks/cm].
        tightness_pct: How near it is to its own jam; ``None`` of pile and of a wadding [%].
        tightest_square: Where that is, counted among its own ends and picks; ``None`` if its weave
            repeats within 16 x 16 threads and is set evenly, so that it is judged as a whole.
        warp_crimp_pct: Crimp that its ends would have by themselves; those of the cloth have the
            mean of all layers, because they come from one warp [%].
        weft_crimp_pct: Crimp that its picks would have by themselves; those of the cloth have the
            mean of all layers, because all picks are inserted over one width [%].
        pile_height_mm: Height of the pile: of ends from the pile ratio, of picks half of their
            longest float; ``None`` if it is no pile [mm].
        thickness_mm: Thickness of the layer; of pile its height [mm].
        mass_g_per_m2: Mass of its own threads in the grey cloth [g/m²].
        warp_yarn_kg: Warp yarn that it takes, waste included, without selvedges [kg].
        weft_yarn_kg: Weft yarn that it takes, waste included [kg].
    """

    layer: str
    kind: str
    weave: str | None = None
    ends_per_cm: float
    picks_per_cm: float
    tightness_pct: float | None = None
    tightest_square: models.TightestSquare | None = None
    warp_crimp_pct: float | None = None
    weft_crimp_pct: float | None = None
    pile_height_mm: float | None = None
    thickness_mm: float
    mass_g_per_m2: float
    warp_yarn_kg: float
    weft_yarn_kg: float


@record
class Layers(Record):
    """Which layer each thread belongs to, for cloths whose threads lie over one another.

    Layers are listed by letter; each is set against its own threads, and pile against none.
    Selvedge ends are outside.

    Attributes:
        ends: The layer of every end, as a thread order with one letter a layer: ``1F 1B``, ``2(F B)
            1F``.
        picks: The layer of every pick, as a thread order with one letter a layer: ``1F 1B``, ``2(F
            B) 1F``.
        joined: How the layers that are not pile are joined; needed if there are several.
        pile: The layers that are pile.
    """

    ends: str
    picks: str
    joined: str | None = None
    pile: tuple[str, ...] | None = None


@record
class LayersInWeave(Record):
    """The layers that are declared, in a weave.

    Attributes:
        joined: How they are joined; ``None`` if one alone is not pile.
        stitches_per_repeat: Stitches in the repeat of weave and layers together; ``None`` if none
            are meant.
        repeat_ends: Ends after which weave and layers repeat together.
        repeat_picks: Picks after which weave and layers repeat together.
        layers: From the face to the back, then the pile.
    """

    joined: str | None = None
    stitches_per_repeat: int | None = None
    repeat_ends: int
    repeat_picks: int
    layers: tuple[models.LayerInWeave, ...]


@record
class LayersSummary(Record):
    """The layers of the cloth, each set against itself.

    Attributes:
        joined: How they are joined; ``None`` if one alone is not pile.
        stitches_per_repeat: Stitches in the repeat of weave and layers together; ``None`` if none
            are meant.
        stitches_per_cm2: Stitches in the grey cloth; ``None`` if none are meant [1/cm²].
        layers: From the face to the back, then the pile.
    """

    joined: str | None = None
    stitches_per_repeat: int | None = None
    stitches_per_cm2: float | None = None
    layers: tuple[models.LayerSummary, ...]


@record
class LeftOut(Record):
    """A part of the sheet that was not computed or not printed.

    Attributes:
        pointer: JSON Pointer of the part, relative to the sheet.
        reason: Why, with the size that decided it.
    """

    pointer: str
    reason: str


@record
class LeftOutValue(Record):
    """A published value that is not compared.

    Attributes:
        case: Name of the case in the tests.
        what: What was published.
        source: Who published it.
        reason: Why it is not compared.
    """

    case: str
    what: str
    source: str
    reason: str


@record
class LiftFigures(Record):
    """The cords raised, as shares of all.

    Attributes:
        mean_pct: Mean over the picks [%].
        least_pct: Least of any pick [%].
        greatest_pct: Most of any pick [%].
        heaviest_pick: The pick with most, from 1.
        left_pct: Mean of the left half of the repeat [%].
        right_pct: Mean of the right half [%].
        by_picks_pct: Means of equal groups of picks, at most 64 [%].
    """

    mean_pct: float
    least_pct: float
    greatest_pct: float
    heaviest_pick: int
    left_pct: float
    right_pct: float
    by_picks_pct: tuple[float, ...]


@record
class LiftShares(Record):
    """The cords raised, as shares of all.

    Attributes:
        mean_pct: Mean over the picks [%].
        least_pct: Least of any pick [%].
        greatest_pct: Most of any pick [%].
        heaviest_pick: The pick with most, from 1.
    """

    mean_pct: float
    least_pct: float
    greatest_pct: float
    heaviest_pick: int


@record
class ListedMessage(Record):
    """A sentence by its key.

    Attributes:
        key: Key of the sentence; stable for ever.
        kind: ``finding``, ``assumption``, ``fault`` (an entry of a problem's ``errors``),
            ``problem`` (its ``detail``), or ``part`` (within another sentence).
        pattern: The English sentence; ``{name}`` is one of its values.
        values: What it quotes.
    """

    key: str
    kind: str
    pattern: str
    values: tuple[models.QuotedValue, ...]


@record
class LongestFloat(Record):
    """The longest float of one system on one side of the cloth, after the correction.

    Attributes:
        system: Which threads float.
        side: On which side.
        longest: Longest float; 0 if no thread is bound [threads].
        longest_mm: The same in the cloth [mm].
    """

    system: str
    side: str
    longest: int
    longest_mm: float


@record
class Loom(Record):
    """A loom: what it is and what it can do.

    Limits that are left out are assumed and listed.

    Attributes:
        loom_id: Name of the loom in its park.
        description: Description of the loom in words.
        insertion: Weft insertion.
        reed_width_cm: Greatest reed width [cm].
        min_reed_width_cm: Smallest reed width at which it runs [cm].
        max_speed_picks_per_min: Greatest speed of the loom [picks/min].
        speed_curve: Greatest speed by reed width in use, widths rising.
        shedding: The shedding motion.
        weft_selectors: Number of different wefts that it can insert [wefts].
        boxes: Shuttle boxes on the two sides of a shuttle loom.
        picks_per_cm: Pick densities of the take-up [picks/cm].
        weft_tex: Linear densities of the weft [tex].
        warp_beam: The weaver's beam.
        warp_strain: Tension and shed height that strain the warp.
        cloth_roll_diameter_cm: Greatest cloth roll [cm].
        cloth_tube_diameter_cm: Tube on which the cloth is wound [cm].
        max_tightness_pct: Greatest tightness that can be beaten up; 100 is the jammed cloth [%].
        reeds_in_stock_dents_per_10cm: Reeds in stock [dents/10 cm].
        running: How the loom runs.
        changeover_rates: Rates of changing a style.
        power_kw: Mean electric power while it weaves [kW].
        air_m3_per_h: Compressed air while it weaves, as free air [m³/h].
        loom_hour: Price of an hour for which it is occupied, stops included, in the currency of the
            prices. Prices of a loom are in no link and no list of looms, and count only beside
            prices [per h].
        price: Price of the loom, in place of loom_hour: with interest, years and hours it gives the
            capital cost of an hour [in that currency].
        interest_pct: Interest a year [%].
        life_years: Years over which the price is paid back [years].
        hours_per_year: Hours a year for which it is occupied, stops included [h].
        assumed: Limits that the loom does not state and that are assumed, in the list of the park.
        caution: What a computed result is not.
    """

    loom_id: str | None = None
    description: str | None = None
    insertion: models.Insertion
    reed_width_cm: float
    min_reed_width_cm: float | None = None
    max_speed_picks_per_min: float
    speed_curve: tuple[models.CurvePoint, ...] = ()
    shedding: models.Shedding
    weft_selectors: int | None = None
    boxes: tuple[int, ...] | None = None
    picks_per_cm: models.Band | None = None
    weft_tex: models.Band | None = None
    warp_beam: models.WarpBeam | None = None
    warp_strain: models.WarpStrain | None = None
    cloth_roll_diameter_cm: float | None = None
    cloth_tube_diameter_cm: float | None = None
    max_tightness_pct: float | None = None
    reeds_in_stock_dents_per_10cm: tuple[float, ...] = ()
    running: models.Running | None = None
    changeover_rates: models.ChangeoverRates | None = None
    power_kw: float | None = None
    air_m3_per_h: float | None = None
    loom_hour: float | None = None
    price: float | None = None
    interest_pct: float | None = None
    life_years: float | None = None
    hours_per_year: float | None = None
    assumed: tuple[models.Assumption, ...] | None = None
    caution: str | None = None


@record
class LoomMatchFields(Record):
    """One loom in the ranking.

    Attributes:
        rank: 1 for the best; looms with equal figures follow in the order given.
        index: Its place among the looms as given, from 0.
        loom_id: Name of the loom, if it has one.
        verdict: The answer for this loom in a word.
        codes: Codes of the findings; ``/v1/checks/{code}`` explains each.
        rejected_if_assumed: Codes for which the order is not weavable on the loom if what is
            assumed is so; a validation says in its ``verdict_note`` what to state. Looms without
            any are first of those of a verdict.
        speed_picks_per_min: Speed at which this cloth runs on this loom [picks/min].
        limited_by: The limit that sets the speed.
        insertion_rate_m_per_min: Weft inserted per minute at this speed [m/min].
        output_m_per_h: Cloth woven per hour, efficiency included [m/h].
        running_hours: Hours of weaving for the order, or for 1000 m if it states no length [h].
        further_warps_hours: Hours that the loom is stopped while the warps of the order after the
            first are tied in [h].
        further_warps_hours_band: Between how many hours that is expected.
        hours: Running, change-over and tying in further warps together; what the ranking compares
            [h].
        reed_width_use_pct: Reed width in use as a share of the loom's [%].
        idle_shafts: Shafts of the loom that stay empty; ``None`` on a Jacquard.
        idle_hooks: Hooks cast out; ``None`` without a Jacquard.
        changeover: The change from the cloth that is on the loom, if that was stated and the loom
            can weave the new one.
        costs: What the order costs on this loom; ``None`` if the request states no prices.
        reason: Why it has this rank, in a line.
        verdict_holds: Whether the verdict is the same over the bands of all assumed values, as in a
            validation; ``None`` unless requested, and below rank 8.
        verdict_holds_note: Why it does not hold; ``None`` if it does, or likewise.
        decisive_assumptions: Assumed values that turn the verdict inside their bands; ``None``
            likewise.
        reed_note: With which of them no reed in stock serves, in a sentence; ``None`` if with none,
            or likewise.
        turning_corner: Assumed values that turn it together; ``None`` likewise, or if none do or
            one alone does as much and no requirement is in doubt.
    """

    rank: int
    index: int
    loom_id: str | None = None
    verdict: models.Verdict
    codes: models.Codes
    rejected_if_assumed: tuple[str, ...] | None = None
    speed_picks_per_min: float
    limited_by: str
    insertion_rate_m_per_min: float
    output_m_per_h: float
    running_hours: float
    further_warps_hours: float | None = None
    further_warps_hours_band: models.ValueBand | None = None
    hours: float
    reed_width_use_pct: float
    idle_shafts: int | None = None
    idle_hooks: int | None = None
    changeover: models.ChangeoverSummary | None = None
    costs: models.CostSummary | None = None
    reason: str
    verdict_holds: bool | None = None
    verdict_holds_note: str | None = None
    decisive_assumptions: tuple[models.DecisiveAssumption, ...] | None = None
    reed_note: str | None = None
    turning_corner: models.TurningCorner | None = None


class LoomMatchOptions(TypedDict, total=False):
    """Keywords of a request.

    A construction, and the looms to try: looms, or loom_ids, or neither for the whole park. If
    on_loom states what is woven now, the change-over from it counts in the ranking. With prices
    each loom has its costs, and rank_by may rank the looms of one verdict by them.

    Attributes:
        looms: The looms, stated in full.
        loom_ids: The looms, by their names in the park.
        on_loom: What is woven now, by the name of the loom.
        prices: What the mill pays, for costs.
        rank_by: What looms of the same verdict are ranked by: ``hours`` if not given, or ``cost``,
            which needs prices.
    """

    looms: Sequence[models.Loom | Mapping[str, object]] | None
    loom_ids: Sequence[str] | None
    on_loom: Mapping[str, models.Construction | Mapping[str, object]] | None
    prices: models.Prices | Mapping[str, object] | None
    rank_by: str | None


@record
class LoomMatchRequest(Record):
    """A construction, and the looms to try: looms, or loom_ids, or neither for the whole park.

    If on_loom states what is woven now, the change-over from it counts in the ranking. With prices
    each loom has its costs, and rank_by may rank the looms of one verdict by them.

    Attributes:
        construction: The cloth as ordered.
        looms: The looms, stated in full.
        loom_ids: The looms, by their names in the park.
        on_loom: What is woven now, by the name of the loom.
        prices: What the mill pays, for costs.
        rank_by: What looms of the same verdict are ranked by: ``hours`` if not given, or ``cost``,
            which needs prices.
        options: What is to be answered beside the ranking.
    """

    construction: models.Construction
    looms: tuple[models.Loom, ...] | None = None
    loom_ids: tuple[str, ...] | None = None
    on_loom: Mapping[str, models.Construction] | None = None
    prices: models.Prices | None = None
    rank_by: str | None = None
    options: models.MatchOptions | None = None


@record
class LoomRemedies(Record):
    """The remedies of an order on one loom.

    Attributes:
        loom_id: Name of the loom, if it has one.
        verdict: The answer for the order as it is.
        codes: Codes of its findings; ``/v1/checks/{code}`` explains each.
        rejected_if_assumed: Codes for which the order as it is is not weavable if what is assumed
            is so.
        remedies: Changes that were proved, the smallest first of those that clear an error or make
            a warning of one, last of them those that leave a rejection to what is assumed, then of
            the others. Two fields are changed together only if no single change clears the finding,
            or none within 10 points makes the order weavable without leaving that; three only if no
            two make it weavable.
        not_found: Errors and warnings that no remedy clears, and errors that each have one if what
            clears all of them makes another cloth.
        trials: Changed orders that were judged by every check.
        trials_used_up: Whether the trials of a search were used up: something may be left untried.
    """

    loom_id: str | None = None
    verdict: models.Verdict
    codes: models.Codes
    rejected_if_assumed: tuple[str, ...] | None = None
    remedies: tuple[models.Remedy, ...]
    not_found: tuple[models.NoRemedy, ...]
    trials: int
    trials_used_up: bool


@record
class MatchOptions(Record):
    """What is to be answered beside a ranking.

    Attributes:
        decisive_assumptions: Whether to find the assumed values that turn the verdicts of the 8
            best ranked looms inside their bands; for each loom it takes the work of judging the
            order for each such value, about 40; not if not given.
    """

    decisive_assumptions: bool | None = None


@record
class MatchReportFields(Record):
    """Every loom, the best first.

    Attributes:
        ruleset: Digest of the rules, thresholds and default limits.
        reference: The caller's own name of the order, as sent.
        ranked_by: The order of the ranking.
        currency: Label of the currency of the costs, as sent.
        counts: Looms by verdict.
        matches: Every loom, the best first.
        assumptions: On the construction, and thresholds that the mill has set itself; those on a
            loom are in its own validation.
        caution: What a computed result is not.
    """

    ruleset: str
    reference: str | None = None
    ranked_by: str
    currency: str | None = None
    counts: Mapping[str, int]
    matches: tuple[models.LoomMatch, ...]
    assumptions: tuple[models.Assumption, ...]
    caution: str


@record
class MatrixRow(Record):
    """The changes from one cloth to every order of the sequence.

    Attributes:
        index: Place of the order in the request, from 0; ``None`` for the cloth on the loom now.
        reference: The caller's own name of the order, as sent.
        loom_stop_hours: Stop of the change to each order of the request; ``None`` if the loom
            cannot weave it [h].
    """

    index: int | None = None
    reference: str | None = None
    loom_stop_hours: tuple[float | None, ...]


@record
class MessageListFields(Record):
    """Every sentence that an answer may have.

    Attributes:
        rules: How a sentence is made of its pattern and its values.
        messages: The sentences, by key.
    """

    rules: tuple[str, ...]
    messages: tuple[models.ListedMessage, ...]


@record
class Motion(Record):
    """The motion of the carrier or of the weft over one insertion.

    Attributes:
        system: What carries the weft.
        motion_law: Law of the rapier's motion; ``None`` without a rapier.
        rapiers: A pair that hands over, or a single rapier; ``None`` without.
        entry_deg: Crank angle at which carrier or weft enters the shed [degrees of the crank
            circle].
        transfer_deg: Crank angle of the hand-over; ``None`` without a pair of rapiers [degrees of
            the crank circle].
        exit_deg: Crank angle at which carrier or weft has left the shed [degrees of the crank
            circle].
        overrun_cm: Travel of each rapier outside the reed width in use [cm].
        insertion_time_ms: Time from entry to exit of the weft [ms].
        mean_speed_m_per_s: Mean speed of the carrier or of the weft [m/s].
        peak_speed_m_per_s: Greatest speed of the carrier or of the weft [m/s].
        peak_acceleration_m_per_s2: Greatest acceleration; ``None`` in free flight [m/s²].
        hand_overs_per_min: Hand-overs from rapier to rapier; ``None`` without a pair of rapiers
            [1/min].
        strokes: The strokes of one pick: two of a pair of rapiers, else one.
    """

    system: str
    motion_law: str | None = None
    rapiers: str | None = None
    entry_deg: float
    transfer_deg: float | None = None
    exit_deg: float
    overrun_cm: float
    insertion_time_ms: float
    mean_speed_m_per_s: float
    peak_speed_m_per_s: float
    peak_acceleration_m_per_s2: float | None = None
    hand_overs_per_min: float | None = None
    strokes: tuple[models.CarrierStroke, ...]


@record
class NoRemedy(Record):
    """A finding that no remedy clears, though one may make a warning of an error.

    Attributes:
        code: Code of the finding.
        severity: How much it weighs.
        tried: What was tried, or why nothing was.
    """

    code: str
    severity: models.Severity | str
    tried: tuple[str, ...]


@record
class NotPriced(Record):
    """Something that the order takes and that is in no sum, because its price is missing.

    Attributes:
        driver: What it is, as among the drivers.
        pointer: JSON Pointer of the field that would price it.
        message: What to state.
    """

    driver: str
    pointer: str
    message: str


@record
class Notation(Record):
    """A notation of a weave in words.

    Attributes:
        name: What the trade calls it.
        pattern: How it is written; values in angle brackets.
        example: A weave of this kind, which can be sent as it is.
        meaning: What the values mean, and the source of the construction.
        aliases: Other words for the kind.
        rows: The example, one string a pick, first pick first, 1 = warp up; ``None`` if it is an
            object.
    """

    name: str
    pattern: str
    example: str | Mapping[str, object]
    meaning: str
    aliases: tuple[str, ...] | None = None
    rows: tuple[str, ...] | None = None


@record
class OrderChain(Record):
    """The lengths of the order; those of the usual grey length if none is ordered.

    Attributes:
        is_ordered: Whether the order states a length.
        pieces: Pieces ordered; ``None`` if the order is not in pieces.
        piece_length_m: Length of a finished piece; ``None`` likewise [m].
        ordered_m: Finished cloth ordered, all panels together; ``None`` if the order states none
            [m].
        finished_m: Finished cloth to make, overage and rejects included [m].
        grey_m: Grey cloth for it, all panels together [m].
        loom_m: Cloth on the loom, under its tension; panels are woven at once [m].
        beam_m: Warp on the beams, their waste included; of the ends without pile, the longest [m].
        warp_crimp_pct: Crimp of that warp on the length of the grey cloth [%].
        beam_contraction_pct: The same on the length on the beam, as planners state it: 1 - grey /
            beam [%].
        steps: From the length ordered to that on the beams.
        cuts: The pieces on rolls and beams; ``None`` if it is not in pieces.
    """

    is_ordered: bool
    pieces: int | None = None
    piece_length_m: float | None = None
    ordered_m: float | None = None
    finished_m: float
    grey_m: float
    loom_m: float
    beam_m: float
    warp_crimp_pct: float
    beam_contraction_pct: float
    steps: tuple[models.OrderStep, ...]
    cuts: models.PieceCuts | None = None


@record
class OrderInSequence(Record):
    """One order of the sequence, and the change to it.

    Attributes:
        index: Place of the order in the request, from 0.
        reference: The caller's own name of the order, as sent.
        verdict: The answer for this loom in a word, as the order is woven here.
        codes: Codes of what is found of the order as it is woven here, on the draft and in the reed
            that stay; ``/v1/checks/{code}`` explains each.
        route: How the warp is brought on; ``None`` for the first order, if nothing is said to be on
            the loom.
        steps: All work in order.
        loom_stop_hours: Hours that the loom is stopped before this order [h].
        loom_stop_hours_band: Between how many hours that is expected.
        loom_stop_hours_at_start: Those of them before this order is woven; the others come when the
            warp that is left is woven out [h].
        further_warps_hours: Hours that the loom is stopped while further warps of this order are
            tied in, beside those of the steps [h].
        further_warps_hours_band: Between how many hours that is expected.
        off_loom_hours: Hours of work away from the loom [h].
        off_loom_hours_band: Between how many hours that is expected.
        warp: The warp on the loom, and how far it reaches; ``None`` for an order that needs no
            change.
        draft_of: Place of the order whose draft is on the loom; ``None`` for that of the cloth on
            the loom now.
        width: The width that results.
    """

    index: int
    reference: str | None = None
    verdict: models.Verdict
    codes: models.Codes | None = None
    route: str | None = None
    steps: tuple[models.ChangeoverStep, ...]
    loom_stop_hours: float
    loom_stop_hours_band: models.ValueBand
    loom_stop_hours_at_start: float | None = None
    further_warps_hours: float | None = None
    further_warps_hours_band: models.ValueBand | None = None
    off_loom_hours: float
    off_loom_hours_band: models.ValueBand | None = None
    warp: models.WarpOnLoom | None = None
    draft_of: int | None = None
    width: models.WidthOnLoom


@record
class OrderLeftOut(Record):
    """An order that the loom cannot weave.

    Attributes:
        index: Place of the order in the request, from 0.
        reference: The caller's own name of the order, as sent.
        findings: Its findings on this loom.
    """

    index: int
    reference: str | None = None
    findings: tuple[models.Finding, ...]


@record
class OrderSheet(Record):
    """A thread order.

    Attributes:
        order: In canonical form.
        threads: Threads of the order as written.
        repeat_threads: Threads of the true repeat of its colours.
        yarns: Its yarns.
        centring: How it lies over the whole width; only for a warp whose ends are known.
    """

    order: str
    threads: int
    repeat_threads: int
    yarns: tuple[models.YarnInOrder, ...]
    centring: models.Centring | None = None


@record
class OrderStep(Record):
    """A step of the chain: with ``pct`` of ``from_m`` or of ``to_m``, one follows from the other.

    Attributes:
        step: ``overage`` and ``rejects`` of an order in pieces, ``finishing`` to grey cloth,
            ``panels`` woven side by side, ``relaxation`` to the cloth on the loom, ``contraction``
            to the warp in it, ``loom_waste`` to the warp on the beams.
        from_m: Length before the step [m].
        to_m: Length after it [m].
        pct: What the step adds, on the length that ``pct_of`` names; ``None`` of ``panels`` [%].
        pct_of: ``from``: to = from x (1 + pct/100); ``to``: from = to x (1 - pct/100); ``None``
            likewise.
        grade: How well the percentage is supported if it is assumed; ``None`` if it is stated.
    """

    step: str
    from_m: float
    to_m: float
    pct: float | None = None
    pct_of: str | None = None
    grade: str | None = None


@record
class OrderStops(Record):
    """The stops of an order, how far they may scatter, and what one more costs.

    Attributes:
        stops: Stops that are expected [stops].
        poisson_deviation: Standard deviation of that number if each stop came by itself [stops].
        deviation: Standard deviation of that number as it was published of looms that wove the
            same: breaks are not Poisson, one warp or loom is worse than another [stops].
        deviation_hours: The same in hours of the order [h].
        further_warp_stop_hours: Hours that one more warp stop in 100,000 picks costs the order [h].
        further_weft_stop_hours: Hours that one more weft stop in 100,000 picks costs the order [h].
    """

    stops: float
    poisson_deviation: float
    deviation: models.ValueBand
    deviation_hours: models.ValueBand
    further_warp_stop_hours: float
    further_weft_stop_hours: float


@record
class OtherLoom(Record):
    """A loom that weaves the order as it is, or with fewer errors than the loom requested.

    Attributes:
        loom_id: Name of the loom.
        verdict: The answer for this loom.
        codes: Codes of its findings.
        rejected_if_assumed: Codes for which the order is not weavable on the loom if what is
            assumed is so; a validation says in its ``verdict_note`` what to state. Looms without
            any are first of those of a verdict.
        hours: Running and tying in further warps, as the ranking of looms compares them [h].
        costs: What the order costs on it; ``None`` if the request states no prices.
    """

    loom_id: str | None = None
    verdict: models.Verdict
    codes: models.Codes
    rejected_if_assumed: tuple[str, ...] | None = None
    hours: float | None = None
    costs: models.CostSummary | None = None


@record
class PieceCuts(Record):
    """The pieces of the order on rolls and beams, none of them in two parts.

    Attributes:
        piece_grey_m: Length of a piece of grey cloth [m].
        pieces_to_weave: Pieces to weave, overage and rejects included.
        grey_m: Grey cloth of these pieces, all panels together [m].
        more_pct: How much more that is than ``grey_m`` of the order, for which yarn, hours, warp
            and costs are: for whole pieces they grow by as much [%].
        pieces_per_roll: Whole pieces on a full cloth roll, of all panels; 0 if it holds none.
        doffs: Rolls of whole pieces; ``None`` if a roll holds none.
        pieces_per_beam: Whole pieces from a full warp beam, of all panels; 0 if it gives none.
        beams: Beams that give whole pieces; ``None`` if a beam gives none.
        beam_end_m: Grey cloth that a full beam gives beyond whole pieces [m].
        pieces_cut: Pieces that the ends of full beams cut; none if they are wound for whole pieces.
        warp_per_beam_m: Warp to wind on a beam for whole pieces, its waste included; ``None``
            likewise [m].
        warp_m: Warp to wind on all these beams, of the ends without pile; ``None`` likewise [m].
    """

    piece_grey_m: float
    pieces_to_weave: int
    grey_m: float
    more_pct: float
    pieces_per_roll: int
    doffs: int | None = None
    pieces_per_beam: int
    beams: int | None = None
    beam_end_m: float
    pieces_cut: int
    warp_per_beam_m: float | None = None
    warp_m: float | None = None


@record
class PieceOrder(Record):
    """The order in pieces of finished cloth, in place of length_m.

    Overage and rejects that are not stated are assumed by the length of the order.

    Attributes:
        pieces: Pieces to deliver, of all panels together [pieces].
        piece_length_m: Length of a piece of finished cloth [m].
        overage_pct: Cloth to make beyond the order, on the length ordered [%].
        rejects_pct: Cloth that inspection rejects, on the length woven [%].
    """

    pieces: int
    piece_length_m: float
    overage_pct: float | None = None
    rejects_pct: float | None = None


@record
class Prices(Record):
    """What the mill pays, in one currency; what is left out is not priced.

    Prices decide no finding. They are in no link, no ``validation_id``, no entity tag and no log:
    the answer to a request with prices has no entity tag, and a report from a link has no costs.

    Attributes:
        currency: Label of the currency of all prices; nothing is converted.
        yarn_per_kg: Prices of yarn, by its name in the report: ``warp A``, ``weft A``; that of leno
            ends and catch cords costs what its warp yarn does, unless ``leno A`` or ``catch cord
            A`` is stated [per kg].
        size_per_kg: Price of size, dry [per kg].
        loom_hour: Price of an hour for which a loom is occupied, of looms that state none of their
            own [per h].
        changeover_hour: Price of an hour for which a change-over stops the loom [per h].
        changeover_hours: Hours for which it does; if not given, as planned from what is on the
            loom, else as assumed for a new style [h].
        energy_per_kwh: Price of electric energy [per kWh].
        air_per_m3: Price of compressed air, as free air [per m³].
        second_quality_value_pct: Value of a metre of seconds as a share of that of a first [%].
    """

    currency: str | None = None
    yarn_per_kg: Mapping[str, float] | None = None
    size_per_kg: float | None = None
    loom_hour: float | None = None
    changeover_hour: float | None = None
    changeover_hours: float | None = None
    energy_per_kwh: float | None = None
    air_per_m3: float | None = None
    second_quality_value_pct: float | None = None


@record
class QuotedValue(Record):
    """A value that a sentence quotes.

    Attributes:
        name: Its name among the values.
        unit: Its unit, from the end of its name; ``None`` if it has none, or that of the finding.
        format: How it is written, as in the pattern; ``None`` if as it is in JSON.
    """

    name: str
    unit: str | None = None
    format: str | None = None


@record
class RateSheetFields(Record):
    """The answer to one insertion-rate request.

    Attributes:
        loom_id: Name of the loom, if it has one.
        reed_width_cm: Reed width in use [cm].
        speed_picks_per_min: Speed at which this cloth runs on this loom [picks/min].
        limited_by: The limit that sets the speed.
        speed_limits_picks_per_min: Every limit of the speed, by name [picks/min].
        insertion_rate_m_per_min: Weft inserted per minute at this speed [m/min].
        insertion_rate_limit_m_per_min: Greatest weft insertion rate of the loom [m/min].
        insertion_rate_use_pct: Insertion rate as a share of its limit [%].
        motion: How the carrier or the weft moves at this speed.
        wefts: Every weft at this speed; empty if no weft is known.
        sweep: The points of the requested sweep.
        findings: What a validation finds at this setting, without remedies; of a weft and a width
            alone, what concerns them and the speed.
        assumptions: Every value that was not given and was therefore assumed.
        caution: What a computed result is not.
    """

    loom_id: str | None = None
    reed_width_cm: float
    speed_picks_per_min: float
    limited_by: str
    speed_limits_picks_per_min: Mapping[str, float]
    insertion_rate_m_per_min: float
    insertion_rate_limit_m_per_min: float
    insertion_rate_use_pct: float
    motion: models.Motion
    wefts: tuple[models.WeftOnLoom, ...]
    sweep: tuple[models.SweepPoint, ...]
    findings: tuple[models.Finding, ...] | None = None
    assumptions: tuple[models.Assumption, ...]
    caution: str


@record
class Rates(Record):
    """How fast this cloth runs on this loom, and what limits it.

    Attributes:
        speed_picks_per_min: Speed at which this cloth runs on this loom [picks/min].
        limited_by: The limit that sets the speed.
        speed_limits_picks_per_min: Every limit of the speed, by name [picks/min].
        insertion_rate_m_per_min: Weft inserted per minute at this speed [m/min].
        insertion_rate_limit_m_per_min: Greatest weft insertion rate of the loom [m/min].
        insertion_rate_use_pct: Insertion rate as a share of its limit [%].
        insertion_time_ms: Time from entry to exit of the weft [ms].
        mean_insertion_speed_m_per_s: Mean speed of the carrier or of the weft [m/s].
        peak_insertion_speed_m_per_s: Greatest speed of the carrier or of the weft [m/s].
        hand_overs_per_min: Hand-overs from rapier to rapier; ``None`` without a pair of rapiers
            [1/min].
        peak_weft_tension_cn: Greatest tension of the weft during insertion [cN].
        weft_strength_use_pct: Peak tension as a share of the strength of the weft's weakest place
            [%].
        feeder_speed_m_per_min: Speed at which one weft feeder winds [m/min].
        efficiency_pct: Share of the time that the loom runs [%].
        stops: How the efficiency is made up, if the loom states stop rates.
        output_m_per_h: Cloth woven per hour, efficiency included [m/h].
        output_m2_per_h: Cloth woven per hour, efficiency included [m²/h].
        hours_for_order: Loom hours for the whole order; ``None`` if no length is ordered [h].
        days_for_order: Days for the order, by the mill's hours a day [d].
        efficiency_pct_band: Between which values the efficiency is expected, as far as it rests on
            assumed stops, minutes or efficiency; ``None`` if all of these are stated [%].
        hours_for_order_band: The same of the hours; ``None`` if no length is ordered either. How
            the stops of one order scatter comes on top: ``stops_for_order`` [h].
        stops_for_order: The stops of the order, how far they scatter, and what one more costs;
            ``None`` if the loom states no stop rates or the order no length.
    """

    speed_picks_per_min: float
    limited_by: str
    speed_limits_picks_per_min: Mapping[str, float]
    insertion_rate_m_per_min: float
    insertion_rate_limit_m_per_min: float
    insertion_rate_use_pct: float
    insertion_time_ms: float
    mean_insertion_speed_m_per_s: float
    peak_insertion_speed_m_per_s: float
    hand_overs_per_min: float | None = None
    peak_weft_tension_cn: float
    weft_strength_use_pct: float
    feeder_speed_m_per_min: float
    efficiency_pct: float
    stops: models.Stops | None = None
    output_m_per_h: float
    output_m2_per_h: float
    hours_for_order: float | None = None
    days_for_order: float | None = None
    efficiency_pct_band: models.ValueBand | None = None
    hours_for_order_band: models.ValueBand | None = None
    stops_for_order: models.OrderStops | None = None


@record
class Reed(Record):
    """The reed that the order requests: dents_per_10cm, or count and system.

    It holds ends_per_dent everywhere, or the repeat of an uneven denting.

    Attributes:
        dents_per_10cm: Dents in 10 cm of the reed [dents/10 cm].
        count: The reed in another counting system, in place of dents_per_10cm [as its system
            counts].
        system: Counting system of count.
        ends_per_dent: Ends drawn into one dent [ends].
        ends_in_dents: One repeat of an uneven denting: ends in each dent, 0 for an empty one.
        wire_share_pct: Share of a dent that its wire takes [%].
    """

    dents_per_10cm: float | None = None
    count: float | None = None
    system: str | None = None
    ends_per_dent: int | None = None
    ends_in_dents: tuple[int, ...] | None = None
    wire_share_pct: float | None = None


@record
class RemedyFields(Record):
    """A change that was tried.

    Made and validated again, it clears the named codes and brings no new error.

    Attributes:
        pointer: JSON Pointer into the request of the field to change.
        from_value: The value that it has.
        to_value: The value to put there; ``None`` to state nothing there.
        unit: Unit of both values.
        message: What the change means on the shop floor.
        clears: Codes of the findings that are gone after it, or of which a note is left.
        leaves_notes: Those of ``clears`` of which a note is left.
        leaves_warnings: Codes of errors, and of warnings that would be errors if what is assumed is
            so, of which a lighter warning is left; they are not in ``clears``. A requirement among
            them is met then if what is assumed is so.
        rejected_if_assumed: Codes for which the order after it is not weavable if what is assumed
            is so: those of its ``verdict_note``. Of an order that is not weavable, remedies without
            any are first.
        brings: Codes of warnings and notes that come with it, also of notes that become warnings;
            never an error.
        verdict: The answer for the order after it.
        distance: How far the order is changed; remedies are listed by it. One point is one per cent
            of sett or width; server/docs/ways_out.md lists the points of other fields [points].
        changes: Every field to change, that of ``pointer`` first; in a finding there is only this
            one.
        alters: What else changes: mass, cover and width of the grey cloth, hours and yarn.
    """

    pointer: str
    from_value: object = field(default=None, metadata={"key": "from"})
    to_value: object = field(default=None, metadata={"key": "to"})
    unit: str | None = None
    message: str
    clears: tuple[str, ...]
    leaves_notes: tuple[str, ...] | None = None
    leaves_warnings: tuple[str, ...] | None = None
    rejected_if_assumed: tuple[str, ...] | None = None
    brings: tuple[str, ...] | None = None
    verdict: models.Verdict | None = None
    distance: float | None = None
    changes: tuple[models.FieldChange, ...] | None = None
    alters: tuple[models.Alteration, ...] | None = None


class RemedyOptions(TypedDict, total=False):
    """Keywords of a request.

    A construction, and where its remedies are sought: on one loom, or on the best of several. At
    most one of loom, loom_id and loom_ids; without any, the best ranked looms of the park.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
        loom_ids: Several looms, by their names in the park.
        prices: What the mill pays, for costs.
    """

    loom: models.Loom | Mapping[str, object] | None
    loom_id: str | None
    loom_ids: Sequence[str] | None
    prices: models.Prices | Mapping[str, object] | None


@record
class RemedyReportFields(Record):
    """The remedies of an order, loom by loom, and the looms that need none.

    Attributes:
        ruleset: Digest of the rules, thresholds and default limits.
        reference: The caller's own name of the order, as sent.
        looms: The loom requested, or the best ranked of those that are named or in the park, that
            on which the smallest change makes the order weavable first.
        not_searched: Names of the looms, of more than 8, on which no remedies were sought because
            others ranked before them; ask for them by name.
        other_looms: Looms on which the order is weavable as it is, the best first.
        caution: What a computed result is not.
    """

    ruleset: str
    reference: str | None = None
    looms: tuple[models.LoomRemedies, ...]
    not_searched: tuple[str | None, ...]
    other_looms: tuple[models.OtherLoom, ...]
    caution: str


@record
class RepeatSheet(Record):
    """The true smallest repeat.

    Attributes:
        ends: Ends of the repeat.
        picks: Picks of the repeat.
        crossings: Ends times picks.
        width_cm: Width of one repeat; ``None`` if the ends per cm are not known [cm].
        length_cm: Length of one repeat; ``None`` if the picks per cm are not known [cm].
        rows: The matrix.
    """

    ends: int
    picks: int
    crossings: int
    width_cm: float | None = None
    length_cm: float | None = None
    rows: tuple[str, ...] | None = None


@record
class ReportFields(Record):
    """The answer to one validation.

    Attributes:
        validation_id: Digest over the normalised request, the rules and the loom's limits; the
            ETag.
        ruleset: Digest of the rules, thresholds and default limits.
        reference: The caller's own name of the order, as sent.
        loom_id: Name of the loom, if it has one.
        verdict: The answer in a word.
        verdict_note: Which stated values would decide, if the verdict rests on what is only
            assumed; ``None`` if it does not.
        verdict_holds: Whether no assumed value turns the verdict inside its band, neither alone nor
            with all others at the ends that make things worse; ``None`` unless
            ``decisive_assumptions`` are requested.
        verdict_holds_note: Why the verdict does not hold; ``None`` if it does, or unless that is
            requested.
        decisive_assumptions: The assumed values that turn the verdict inside their bands, one at a
            time, those of the gravest verdict first; ``None`` unless they are requested in
            ``options``.
        reed_note: With which assumed values no reed in stock serves, in a sentence: those of which
            ``is_of_stock`` is true; ``None`` if with none, or unless that is requested.
        turning_corner: Assumed values that turn the verdict together; ``None`` if one alone turns
            it as far and no requirement is in doubt, if none do, or if they are not requested.
        counts: Findings by severity.
        findings: Every finding, by subject.
        rates: How fast the cloth runs on this loom, and what limits it.
        setup: How the loom is set up for it.
        cloth: What the cloth is.
        states: The cloth in the loom, grey and finished.
        layers: The layers of the cloth, each set against itself; ``None`` if the order declares
            none.
        design: The figured design as the loom weaves it; ``None`` if the weave is no design.
        order: The lengths of the order, from finished cloth to the beam.
        requirements: What the customer requires of the finished cloth, with what is computed of it.
        yarn: Yarn that the order takes, a line a yarn.
        warp: The warp: length and beams.
        energy: Energy and compressed air; ``None`` if the loom states neither its power nor its
            air.
        costs: What the order costs, as far as it is priced; ``None`` if the request states no
            prices, as in every report that is had from a link.
        assumptions: Every value that was not given and was therefore assumed.
        links: Addresses: ``self`` gives the report again; ``None`` if the request is too long for
            an address, and ``self_note`` then says so.
        caution: What a computed result is not.
    """

    validation_id: str
    ruleset: str
    reference: str | None = None
    loom_id: str | None = None
    verdict: models.Verdict
    verdict_note: str | None = None
    verdict_holds: bool | None = None
    verdict_holds_note: str | None = None
    decisive_assumptions: tuple[models.DecisiveAssumption, ...] | None = None
    reed_note: str | None = None
    turning_corner: models.TurningCorner | None = None
    counts: models.Counts
    findings: tuple[models.Finding, ...]
    rates: models.Rates
    setup: models.Setup
    cloth: models.ClothSummary
    states: models.ClothStates | None = None
    layers: models.LayersSummary | None = None
    design: models.DesignSection | None = None
    order: models.OrderChain | None = None
    requirements: tuple[models.RequirementSummary, ...] | None = None
    yarn: tuple[models.YarnUse, ...]
    warp: models.WarpSummary
    energy: models.EnergyUse | None = None
    costs: models.Costs | None = None
    assumptions: tuple[models.Assumption, ...]
    links: Mapping[str, str | None]
    caution: str


@record
class ReportSummary(Record):
    """A report in short.

    A computed result is not a safety approval: isolate and lock out before reaching into a loom;
    qualified staff decide.

    Attributes:
        validation_id: That of the whole report, by which ``/v1/validation-changes`` compares it.
        verdict: The answer in a word.
        codes: Codes of the findings, each once, the gravest first.
        more_codes: How many more there are than fit into 120 bytes; missing if none.
        limited_by: The limit that sets the speed.
        speed_picks_per_min: Speed at which this cloth runs on this loom [picks/min].
        insertion_rate_m_per_min: Weft inserted per minute [m/min].
        hours_for_order: Loom hours for the whole order; ``None`` if no length is ordered [h].
        link: Address that gives the whole report, if it is requested; ``None`` if the request is
            too long for one.
        caution: What a computed result is not; of the lines of a batch it is once in the header
            ``Caution``.
    """

    validation_id: str | None = None
    verdict: models.Verdict | None = None
    codes: tuple[str, ...] | None = None
    more_codes: int | None = None
    limited_by: str | None = None
    speed_picks_per_min: float | None = None
    insertion_rate_m_per_min: float | None = None
    hours_for_order: float | None = None
    link: str | None = None
    caution: str | None = None


@record
class RequiredRange(Record):
    """Between which values a figure must lie: min, max or both, or nominal and tolerance_pct.

    Attributes:
        min: The least that is required [%, cm, ends/cm, g/m, g/m², mm, picks/cm, threads/cm × √tex
            ÷ 10].
        max: The greatest that is allowed [%, cm, ends/cm, g/m, g/m², mm, picks/cm, threads/cm ×
            √tex ÷ 10].
        nominal: The figure, in place of min and max [%, cm, ends/cm, g/m, g/m², mm, picks/cm,
            threads/cm × √tex ÷ 10].
        tolerance_pct: How far from nominal it may be on either side [%].
    """

    min: float | None = None
    max: float | None = None
    nominal: float | None = None
    tolerance_pct: float | None = None


@record
class RequirementSummary(Record):
    """A figure of the finished cloth beside what the customer requires of it.

    Attributes:
        figure: The figure, by its field in ``requirements``.
        words: The figure in words.
        fibre: The fibre of a share, as the order calls it; ``None`` of all else.
        min: The least that is required; ``None`` if none is.
        max: The greatest that is allowed; ``None`` if none is.
        value: The figure as computed.
        unit: Unit of all these figures.
        band: Between which values it lies over the bands of what is assumed.
        met: ``yes`` if all of the band is within the limits, ``no`` if all of it is beyond one,
            else ``perhaps``; width and mass per metre are those of the whole cloth, with what
            ``selvedge.wide`` finds beside the ordered width.
    """

    figure: str
    words: str | None = None
    fibre: str | None = None
    min: float | None = None
    max: float | None = None
    value: float
    unit: str
    band: models.ValueBand
    met: str


@record
class Requirements(Record):
    """What the customer requires of the finished cloth, whatever stage the order is stated at.

    Attributes:
        mass_g_per_m2: Mass, without size [g/m²].
        mass_g_per_m: Mass of a running metre of one panel, selvedge ends included [g/m].
        finished_width_cm: Width of one panel over all, selvedges included [cm].
        ends_per_cm: Sett of the warp [ends/cm].
        picks_per_cm: Sett of the weft [picks/cm].
        thickness_mm: Thickness, taken as that of the grey cloth [mm].
        open_area_pct: Share of the surface that no yarn covers [%].
        cover_factor: Cover factor of the cloth in SI units [threads/cm × √tex ÷ 10].
        fibre_pct: Share of each fibre in the mass of the yarn [%].
    """

    mass_g_per_m2: models.RequiredRange | None = None
    mass_g_per_m: models.RequiredRange | None = None
    finished_width_cm: models.RequiredRange | None = None
    ends_per_cm: models.RequiredRange | None = None
    picks_per_cm: models.RequiredRange | None = None
    thickness_mm: models.RequiredRange | None = None
    open_area_pct: models.RequiredRange | None = None
    cover_factor: models.RequiredRange | None = None
    fibre_pct: Mapping[str, models.RequiredRange] | None = None


@record
class Route(Record):
    """A route to the new style that was not taken, complete, and how long it would take.

    Attributes:
        route: How the warp is brought on.
        loom_stop_hours: Hours that the loom is stopped, all work included [h].
        loom_stop_hours_band: Between how many hours that is expected.
        loom_stop_hours_at_start: Those of them before the new style is woven [h].
        off_loom_hours: Hours of work away from the loom [h].
        off_loom_hours_band: Between how many hours that is expected.
        needs: What it needs, and whether its stop is shorter.
        steps: Its work, in order.
    """

    route: str
    loom_stop_hours: float
    loom_stop_hours_band: models.ValueBand | None = None
    loom_stop_hours_at_start: float | None = None
    off_loom_hours: float | None = None
    off_loom_hours_band: models.ValueBand | None = None
    needs: str | None = None
    steps: tuple[models.ChangeoverStep, ...]


@record
class RuleSetFields(Record):
    """Every check.

    Attributes:
        ruleset: Digest of the rules, thresholds and default limits: changes when one of them does.
        checks: The checks, by subject.
        caution: What a computed result is not.
    """

    ruleset: str
    checks: tuple[models.CheckInfo, ...]
    caution: str | None = None


@record
class Running(Record):
    """How the loom runs: an efficiency, or stops and weavers, from which it is computed.

    One weaver minds ``looms_per_weaver`` looms, or several ``weavers`` mind ``looms_per_set``
    together; stops and minutes that are left out are assumed.

    Attributes:
        efficiency_pct: Share of the time that the loom runs; in place of stop rates [%].
        warp_stops_per_100k_picks: Stops for the warp [stops/100 000 picks].
        weft_stops_per_100k_picks: Stops for the weft [stops/100 000 picks].
        minutes_per_warp_stop: Mean time to mend a warp stop [min].
        minutes_per_weft_stop: Mean time to mend a weft stop [min].
        looms_per_weaver: Looms that one weaver tends [looms].
        looms_per_set: Looms that several weavers tend together, in place of looms_per_weaver
            [looms].
        weavers: Weavers to that set of looms [weavers].
        hours_per_day: Hours of the mill's day [h].
    """

    efficiency_pct: float | None = None
    warp_stops_per_100k_picks: float | None = None
    weft_stops_per_100k_picks: float | None = None
    minutes_per_warp_stop: float | None = None
    minutes_per_weft_stop: float | None = None
    looms_per_weaver: int | None = None
    looms_per_set: int | None = None
    weavers: int | None = None
    hours_per_day: float | None = None


@record
class Selvedge(Record):
    """The edges of each panel.

    Attributes:
        ends_per_side: Extra ends at each side of each panel [ends].
        ends_per_dent: Selvedge ends in one dent; if not given, twice those of the ground, or as
            many if the selvedge has a weave of its own [ends].
        shafts: Shafts of its own that the selvedge weave needs [shafts].
        yarn: Key of the warp yarn of the selvedge, also of leno and catch cords; it need not be in
            the thread order.
        weave: Weave of the selvedge, in words or as rows; at most 64 ends and picks. Without it the
            ends weave as the ground.
        leno_ends_per_side: Ends of a leno, from bobbins, at each side of each panel [ends].
        catch_cord_ends: Ends of the catch cords of the whole loom, which are cut off [ends].
    """

    ends_per_side: int | None = None
    ends_per_dent: int | None = None
    shafts: int | None = None
    yarn: str | None = None
    weave: str | models.WeaveAsRows | None = None
    leno_ends_per_side: int | None = None
    catch_cord_ends: int | None = None


@record
class SelvedgeSetup(Record):
    """The setting-up data of each selvedge.

    Attributes:
        ends_per_side: Extra ends at each side of each panel.
        ends_per_dent: Ends in a dent; ``None`` without selvedge ends.
        dents_per_side: Dents of one selvedge.
        width_cm: Width of one selvedge in the reed [cm].
        ends_per_cm_in_reed: Sett in the reed; ``None`` without selvedge ends [ends/cm].
        tightness_pct: How near the selvedge is to jamming at its own sett; ``None`` if its weave is
            not stated [%].
        yarn: Key of its warp yarn, also that of leno and catch cords.
        weave: Its own weave in words; ``None`` if it weaves as the ground.
        rows: That weave, one string a pick, first pick first, ``1`` = raised.
        own_shafts: Shafts, or hooks, that only selvedge ends are drawn on.
        lift_repeat_picks: Picks after which ground and selvedge repeat together.
        leno_ends_per_side: Ends of the leno at each side of each panel.
        catch_cord_ends: Ends of the catch cords of the loom, which are cut off.
    """

    ends_per_side: int
    ends_per_dent: int | None = None
    dents_per_side: int
    width_cm: float
    ends_per_cm_in_reed: float | None = None
    tightness_pct: float | None = None
    yarn: str
    weave: str | None = None
    rows: tuple[str, ...] | None = None
    own_shafts: int
    lift_repeat_picks: int
    leno_ends_per_side: int
    catch_cord_ends: int


@record
class SequenceReportFields(Record):
    """The answer to several orders on one loom: in which sequence they are best woven.

    Attributes:
        loom_id: Name of the loom, if it has one.
        not_weavable: Orders that the loom cannot weave; they are not in the sequence.
        sequence: The orders in the sequence with the shortest stops.
        loom_stop_hours: Hours that the loom is stopped for the changes of this sequence [h].
        loom_stop_hours_band: Between how many hours that is expected.
        further_warps_hours: Hours that it is stopped for further warps of its orders [h].
        further_warps_hours_band: Between how many hours that is expected.
        off_loom_hours: Hours of work away from the loom [h].
        off_loom_hours_band: Between how many hours that is expected.
        given_loom_stop_hours: Hours that it would be stopped for the changes if the orders were
            woven in the order given [h].
        given_further_warps_hours: Hours that it would then be stopped for further warps [h].
        findings_on_loom: Findings on the cloth on the loom now, which is taken as it is.
        saved_hours: Hours that the sequence saves against the order given, for changes and further
            warps together [h].
        saved_hours_band: Between how many hours that is expected; work of a kind is quick or slow
            in both alike, and a low end below 0 says that the order given may be the quicker.
        matrix: Stops of the changes between any two of the cloths.
        matrix_holds: When the entries of the matrix hold.
        assumptions: Every value that was not given and was therefore assumed.
        caution: What a computed result is not.
    """

    loom_id: str | None = None
    not_weavable: tuple[models.OrderLeftOut, ...]
    sequence: tuple[models.OrderInSequence, ...]
    loom_stop_hours: float
    loom_stop_hours_band: models.ValueBand
    further_warps_hours: float | None = None
    further_warps_hours_band: models.ValueBand | None = None
    off_loom_hours: float
    off_loom_hours_band: models.ValueBand | None = None
    given_loom_stop_hours: float
    given_further_warps_hours: float | None = None
    findings_on_loom: tuple[models.Finding, ...] | None = None
    saved_hours: float
    saved_hours_band: models.ValueBand | None = None
    matrix: tuple[models.MatrixRow, ...]
    matrix_holds: str
    assumptions: tuple[models.Assumption, ...]
    caution: str


@record
class SetupFields(Record):
    """The setting-up data.

    Attributes:
        total_ends: Ends over the whole width, selvedges included.
        selvedge_ends: Extra ends of all selvedges.
        panels: Panels woven side by side.
        reed_width_cm: Reed width in use [cm].
        reed_width_use_pct: Reed width in use as a share of the loom's [%].
        reed_dents_per_10cm: Reed to use [dents/10 cm].
        reed_counts: The same reed in every counting system, by the system's name.
        ends_per_dent: Ground ends in a dent; the mean of an uneven denting.
        dents: Dents filled, selvedges included.
        filled_width_cm: Width of these dents in the reed to use, which a reed in stock makes wider
            or narrower than ``reed_width_cm`` [cm].
        first_dent_cm: From each end of the loom's reed to the first filled dent; ``None`` if they
            do not fit [cm].
        selvedge_dents_per_side: Dents of each selvedge.
        ends_per_cm_in_reed: Ends of the ground over the ordered width in the reed; in their dents
            they are closer by what selvedges in that width take [ends/cm].
        wire_share_pct: Share of the reed's pitch that its wires take [%].
        gap_fill_pct: Ends of the fullest dent, side by side, as a share of the clear gap between
            two wires [%].
        whole_dents: The ends nearest to those ordered that fill their dents.
        whole_repeats: The ends nearest to those ordered that make whole repeats of weave, colours
            and denting together; ``None`` if the cloth is narrower than one.
        picks_per_cm_on_loom: Picks to set on the take-up, under the loom's tension [picks/cm].
        shafts_needed: Fewest shafts that the weave needs; ``None`` on a Jacquard.
        shafts_used: Shafts used so that no shaft is crowded; ``None`` on a Jacquard.
        draft: Name of the draft.
        threading: Shaft of every end of the drawing-in repeat (1-based); ``None`` on a Jacquard.
        lift_plan: One string a pick, first pick first, one character a shaft, ``1`` = raised.
        lift_plan_picks: Picks of the lift plan.
        healds_per_shaft: Healds on each shaft over the whole width.
        healds_per_cm_per_shaft: Healds on the fullest shaft [healds/cm/shaft].
        hooks_used: Hooks used; ``None`` without a Jacquard.
        hooks_idle: Hooks cast out; ``None`` without a Jacquard.
        ends_per_hook: Ends tied to each hook; ``None`` without a Jacquard.
        weave_repeats_across: Repeats of the weave over the width.
        weft_selectors_used: Different wefts to insert.
        selvedge: The selvedges, leno and catch cords.
        beam_arrangement: How the loom's warp beams are arranged.
        beams: The warp beams on the loom; empty if it has too few let-offs for the order.
    """

    total_ends: int
    selvedge_ends: int
    panels: int
    reed_width_cm: float
    reed_width_use_pct: float
    reed_dents_per_10cm: float
    reed_counts: Mapping[str, float]
    ends_per_dent: float
    dents: int
    filled_width_cm: float | None = None
    first_dent_cm: float | None = None
    selvedge_dents_per_side: int
    ends_per_cm_in_reed: float
    wire_share_pct: float | None = None
    gap_fill_pct: float | None = None
    whole_dents: models.WholeWarp | None = None
    whole_repeats: models.WholeWarp | None = None
    picks_per_cm_on_loom: float
    shafts_needed: int | None = None
    shafts_used: int | None = None
    draft: str | None = None
    threading: tuple[int, ...] | None = None
    lift_plan: tuple[str, ...] | None = None
    lift_plan_picks: int
    healds_per_shaft: tuple[int, ...] | None = None
    healds_per_cm_per_shaft: float | None = None
    hooks_used: int | None = None
    hooks_idle: int | None = None
    ends_per_hook: int | None = None
    weave_repeats_across: float
    weft_selectors_used: int
    selvedge: models.SelvedgeSetup | None = None
    beam_arrangement: str | None = None
    beams: tuple[models.BeamOnLoom, ...] | None = None


@record
class Shedding(Record):
    """The shedding motion: cam and dobby need shafts, a Jacquard needs hooks.

    Attributes:
        kind: How the shed is made.
        shafts: Heald shafts; needed for cam and dobby [shafts].
        max_repeat_picks: Longest lift repeat of a cam motion [picks].
        max_pattern_picks: Longest lift plan of a dobby, or design of a Jacquard [picks].
        max_speed_picks_per_min: Greatest speed of the shedding motion [picks/min].
        max_healds_per_cm_per_shaft: Crowding limit of the healds [healds/cm/shaft].
        max_healds_per_shaft: Healds that fit on one shaft [healds].
        hooks: Hooks that lift ends of the ground; needed for a Jacquard [hooks].
        ends_per_hook: Ends tied to each hook: repeats of the harness across the width [ends].
        harness_ends_per_cm: Density to which the harness is tied, in the reed [ends/cm].
        selvedge_hooks: Further hooks kept for the selvedges [hooks].
        cord_cm: Height of the hooks above the comber board; with the lift, what the slant of the
            outermost cords takes of it is judged [cm].
        hook_lift_cm: How high the hooks are lifted [cm].
        tie: How the ends are tied to the hooks, section by section from the left, in place of
            ends_per_hook.
    """

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
    cord_cm: float | None = None
    hook_lift_cm: float | None = None
    tie: tuple[models.TieSection, ...] | None = None


@record
class StatedFloatLimits(Record):
    """The longest floats that the design allows; ``None`` where it states no limit.

    Attributes:
        warp_mm: Longest float of an end [mm].
        weft_mm: Longest float of a pick, but for figuring wefts behind [mm].
        back_mm: Longest float of a figuring weft behind the cloth; ``None`` for the usual limits
            [mm].
    """

    warp_mm: float | None = None
    weft_mm: float | None = None
    back_mm: float | None = None


@record
class Stops(Record):
    """Where the time of a loom goes; efficiency, stop loss and waiting loss make 100 %.

    Attributes:
        efficiency_pct: Running time, with exponential repair times [%].
        stop_loss_pct: Time under repair [%].
        waiting_loss_pct: Time waiting for a weaver [%].
        efficiency_without_waiting_pct: What a weaver who is always at hand would reach [%].
        constant_repair_efficiency_pct: Running time if every repair takes the same time; ``None``
            with several weavers, for whom it is not known exactly [%].
        weaver_load_pct: Share of a weaver's time that goes into repairs; walking, inspection and
            other duties are not included [%].
        stop_meets_busy_weaver_pct: Probability of waiting as met by a *stopping loom*: every weaver
            is at work [%].
        mean_wait_min: Mean wait of a stopped loom [min].
        stops_per_loom_hour: Stops of one loom in an hour of the clock [stops/h].
        looms_per_set: Looms that the weavers mind together [looms].
        weavers: Weavers to those looms.
        all_weavers_busy_pct: Probability of waiting as a *time average*: share of the time in which
            every weaver is at work [%].
        all_looms_run_pct: Share of the time in which no loom of the set is stopped [%].
        mean_stop_min: Mean time of a stop, wait and repair together [min].
        further_warp_stop_cost_pct: What one more warp stop in 100,000 picks costs, on every loom of
            the set [percentage points of efficiency].
        further_weft_stop_cost_pct: What one more weft stop in 100,000 picks costs, on every loom of
            the set [percentage points of efficiency].
    """

    efficiency_pct: float
    stop_loss_pct: float
    waiting_loss_pct: float
    efficiency_without_waiting_pct: float
    constant_repair_efficiency_pct: float | None = None
    weaver_load_pct: float
    stop_meets_busy_weaver_pct: float
    mean_wait_min: float
    stops_per_loom_hour: float
    looms_per_set: int | None = None
    weavers: int | None = None
    all_weavers_busy_pct: float | None = None
    all_looms_run_pct: float | None = None
    mean_stop_min: float | None = None
    further_warp_stop_cost_pct: float | None = None
    further_weft_stop_cost_pct: float | None = None


@record
class StyleSummary(Record):
    """A style on the loom: the figures that a change of style compares.

    Attributes:
        reference: The caller's own name of the order, as sent.
        verdict: The answer for this loom in a word.
        total_ends: Ends over the whole width, selvedges included.
        reed_dents_per_10cm: Reed to use [dents/10 cm].
        ends_per_dent: Ends drawn into one dent of the ground.
        shafts_used: Shafts used so that no shaft is crowded; ``None`` on a Jacquard.
        draft: Name of the draft.
        hooks_used: Hooks used; ``None`` without a Jacquard.
        reed_width_cm: Reed width in use [cm].
        picks_per_cm: Picks in the grey cloth [picks/cm].
        weft_selectors_used: Different wefts to insert.
    """

    reference: str | None = None
    verdict: models.Verdict
    total_ends: int
    reed_dents_per_10cm: float
    ends_per_dent: float
    shafts_used: int | None = None
    draft: str | None = None
    hooks_used: int | None = None
    reed_width_cm: float
    picks_per_cm: float
    weft_selectors_used: int


@record
class Sweep(Record):
    """A row of points, both ends included: over the speed at the width in use, or over the width.

    Over the width, each point runs at the speed that the loom allows there.

    Attributes:
        over: What is varied.
        points: Points; 25 if not given [points].
        start: First value of what is varied [picks/min or cm].
        stop: Last value of what is varied [picks/min or cm].
    """

    over: str
    points: int | None = None
    start: float = field(metadata={"key": "from"})
    stop: float = field(metadata={"key": "to"})


@record
class SweepPoint(Record):
    """One point of a sweep; the tension is that of the weft under most strain.

    Attributes:
        speed_picks_per_min: Speed at which this cloth runs on this loom [picks/min].
        reed_width_cm: Reed width in use [cm].
        limited_by: The limit that sets the speed; of a sweep over the speed, the least limit below
            it.
        insertion_rate_m_per_min: Weft inserted per minute at this speed [m/min].
        peak_speed_m_per_s: Greatest speed of the carrier or of the weft [m/s].
        peak_tension_cn: Greatest tension of the weft during insertion; ``None`` if no weft is known
            [cN].
        strength_use_pct: Peak tension as a share of the strength of the weft's weakest place [%].
        beyond: Checks that refuse this setting as a validation does, and those of weft, width,
            speed and shedding that warn of it; of a sweep over the speed, at the speed of the
            point, whatever the loom reaches.
    """

    speed_picks_per_min: float
    reed_width_cm: float
    limited_by: str | None = None
    insertion_rate_m_per_min: float
    peak_speed_m_per_s: float
    peak_tension_cn: float | None = None
    strength_use_pct: float | None = None
    beyond: tuple[str, ...] | None = None


@record
class TakeUpFigures(Record):
    """The take-up of neighbouring ends.

    Attributes:
        from_end: First end of the repeat, from 1.
        to_end: Last end.
        interlacings_per_cm: Mean interlacings of an end [cm].
        contraction_pct: By a rule of thumb that only compares: 4 x interlacings per inch / weft Ne
            [%].
    """

    from_end: int
    to_end: int
    interlacings_per_cm: float
    contraction_pct: float


@record
class TensionPeak(Record):
    """One peak of the weft tension within a pick.

    Attributes:
        moment: What happens there.
        at_deg: Its crank angle [degrees of the crank circle].
        tension_cn: The tension there, base tension included [cN].
    """

    moment: str
    at_deg: float
    tension_cn: float


@record
class Threshold(Record):
    """A number of the trade that decides a verdict.

    Attributes:
        name: Name, by which a mill replaces it; it ends in the unit.
        value: The value in force.
        unit: Unit of the value.
        grade: How well it is supported: by a source, by common practice, or by the mill itself.
        source: Where the value comes from.
        meaning: What the threshold separates.
    """

    name: str
    value: float
    unit: str
    grade: str
    source: str
    meaning: str


@record
class TieConflicts(Record):
    """Where a picture of the cloth contradicts the tie of the harness; 0 if it agrees.

    Attributes:
        pixels: Pixels that differ from those of the first end on the same hook.
        ends: Ends with such a pixel.
    """

    pixels: int
    ends: int


@record
class TieSection(Record):
    """Neighbouring ends of a Jacquard whose hooks follow one another.

    Attributes:
        from_hook: The first hook of the section, from 1 [hooks].
        hooks: Hooks of the section [hooks].
        order: From the first hook to the last, from the last to the first, or there and back;
            straight if not given.
        times: How often the section is repeated side by side; once if not given [times].
        point: Whether a centred section has one end on the hook at which it turns, or two; two if
            not given.
    """

    from_hook: int
    hooks: int
    order: str | None = None
    times: int | None = None
    point: str | None = None


@record
class TightArea(Record):
    """A part of the map that is tight.

    Attributes:
        first_end: First end of the square, from 1.
        last_end: Last end of the square.
        first_pick: First pick of the square, from 1.
        last_pick: Last pick of the square.
        tightness_pct: Tightness of its tightest square [%].
    """

    first_end: int
    last_end: int
    first_pick: int
    last_pick: int
    tightness_pct: float


@record
class TightestSquare(Record):
    """Where the threads of a cloth are closest, counted from the first end and pick of the weave.

    Attributes:
        first_end: First end of the square, from 1.
        last_end: Last end of the square.
        first_pick: First pick of the square, from 1.
        last_pick: Last pick of the square.
    """

    first_end: int
    last_end: int
    first_pick: int
    last_pick: int


@record
class TightnessMap(Record):
    """How near to jamming each part of the repeat is: of each its tightest square.

    Attributes:
        rows: Rows of parts, the first picks first.
        columns: Columns of parts, from the first end.
        values_pct: Tightness of every part, by rows; the greatest is that of the cloth [%].
        tight_from_pct: Tightness from which ``sett.tight`` notes it [%].
        tight_share_pct: Squares that are as tight or tighter, of all [%].
        tight_areas: Parts of the map with such a square, the tightest first; 20 at most.
    """

    rows: int
    columns: int
    values_pct: tuple[tuple[float, ...], ...]
    tight_from_pct: float
    tight_share_pct: float
    tight_areas: tuple[models.TightArea, ...]


@record
class TurnedWeave(Record):
    """The weave seen another way, and its name where the trade has one.

    Attributes:
        name: Its name in the trade; ``None`` if it has none.
        rows: The matrix, first pick first; ``None`` if it is too long to print.
    """

    name: str | None = None
    rows: tuple[str, ...] | None = None


@record
class TurningCorner(Record):
    """Assumed values that turn the verdict together, each at the end that makes things worse.

    Attributes:
        verdict: The verdict with them.
        codes: The checks that make it graver: what is found with them, and not if the same fields
            are stated as they are assumed; with ``turns_at``, what is found one ``resolution``
            beyond it, and not at it.
        values: The values, the most effective first and as many as it takes, all others being as
            they are assumed; empty if the verdict is so with all as they are assumed.
        turns_at: If it is one value, the last at which the limits of ``codes`` are not yet passed,
            all other values being stated as they are assumed; ``None`` if they are several, or if
            the limit is passed only where estimates are made anew.
        resolution: How far apart the values are of which that is one; ``None`` as it is.
        stated_as_assumed: Pointers of the values that have to be stated beside them, as they are
            assumed, so that a validation finds the verdict: until then an error is a warning that
            rests on them. Not one of them can be left out.
        also_missed: Pointers of further limits that the customer requires, which other values
            inside their bands miss together, each at a corner of its own, and none alone.
        message: What follows from them, in sentences.
    """

    verdict: models.Verdict
    codes: tuple[str, ...]
    values: tuple[models.CornerValue, ...]
    turns_at: float | None = None
    resolution: float | None = None
    stated_as_assumed: tuple[str, ...]
    also_missed: tuple[str, ...] | None = None
    message: str


class ValidationOptions(TypedDict, total=False):
    """Keywords of a request.

    A construction, and the loom that it is to be woven on: exactly one of loom and loom_id.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
        prices: What the mill pays, for costs.
    """

    loom: models.Loom | Mapping[str, object] | None
    loom_id: str | None
    prices: models.Prices | Mapping[str, object] | None


@record
class ValidationRequest(Record):
    """A construction, and the loom that it is to be woven on: exactly one of loom and loom_id.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
        construction: The cloth as ordered.
        prices: What the mill pays, for costs.
        options: What is to be answered beside the report.
    """

    loom: models.Loom | None = None
    loom_id: str | None = None
    construction: models.Construction
    prices: models.Prices | None = None
    options: models.AnswerOptions | None = None


@record
class ValueBand(Record):
    """The range in which the true value is expected, both ends included.

    Attributes:
        low: Least value that is expected, in the unit of the value.
        high: Greatest value that is expected, in the unit of the value.
    """

    low: float
    high: float


@record
class VariedField(Record):
    """A numeric field of construction or loom, and the values over which it is varied.

    Both ends are included. A field that counts has each whole number once.

    Attributes:
        pointer: JSON Pointer of the field in this request; of a yarn's designation, the count in it
            is varied.
        points: Points; 50 if not given, and at most 10000 with those of the other field [points].
        start: First value, within the bounds of the field.
        stop: Last value, within the bounds of the field.
    """

    pointer: str
    points: int | None = None
    start: float = field(metadata={"key": "from"})
    stop: float = field(metadata={"key": "to"})


@record
class Warp(Record):
    """The warp: yarns, their order, and the sett: exactly one of ends_per_cm and ends_per_in.

    A yarn that only the selvedge has may be missing from the order, which the construction judges.

    Attributes:
        yarns: Yarns by their key in the thread order.
        order: Thread order, with groups if there are any: ``24A 4B``, ``3(2A 2B) 4C``; needed for
            more than one yarn.
        crimp_pct: Crimp on the length of the grey cloth, (yarn - cloth) / cloth, of the yarns that
            state none of their own [%].
        contraction_pct: The same on yarn length, (yarn - cloth) / yarn, in place of crimp_pct [%].
        ends_per_cm: Sett of the warp at the stated stage [ends/cm].
        ends_per_in: Sett of the warp at the stated stage [ends/in].
        beams: Groups of ends with a beam of their own; all ends come from one warp if not given.
    """

    yarns: Mapping[str, models.Yarn]
    order: str | None = None
    crimp_pct: float | None = None
    contraction_pct: float | None = None
    ends_per_cm: float | None = None
    ends_per_in: float | None = None
    beams: tuple[models.WarpGroup, ...] | None = None


@record
class WarpBeam(Record):
    """The weaver's beam.

    Attributes:
        flange_diameter_cm: Diameter of the flanges [cm].
        barrel_diameter_cm: Diameter of the bare barrel [cm].
        width_cm: Distance between the flanges of one beam; if not given the reed width, which beams
            abreast share [cm].
        count: Beams that the loom takes [beams].
        arrangement: How they are arranged: abreast they share the ends of one warp and a let-off
            speed, stacked each has a let-off of its own.
        density_g_per_cm3: Density of the yarn wound on the beam [g/cm³].
    """

    flange_diameter_cm: float | None = None
    barrel_diameter_cm: float | None = None
    width_cm: float | None = None
    count: int | None = None
    arrangement: str | None = None
    density_g_per_cm3: float | None = None


@record
class WarpGroup(Record):
    """Ends with a beam of their own, such as those of pile.

    Attributes:
        name: What the mill calls them.
        yarns: Keys of their yarns; every yarn of the warp is in exactly one group.
        pile_ratio: Yarn length per cloth length, for ends that weave pile [m/m].
        density_g_per_cm3: Density of their yarn wound on the beam; that of the loom's beams, or by
            the kind of yarn, if not given [g/cm³].
    """

    name: str
    yarns: tuple[str, ...]
    pile_ratio: float | None = None
    density_g_per_cm3: float | None = None


@record
class WarpGroupSummary(Record):
    """The warp of a group of ends with a beam of its own.

    Attributes:
        name: Its name.
        yarns: Keys of its yarns.
        pile_ratio: Yarn length per cloth length; ``None`` for ends without pile [m/m].
        take_up: Warp length per length of cloth on the loom [m/m].
        ends: Its ends; those of selvedges belong to the group of their yarn.
        length_m: Warp needed, loom waste included [m].
        mass_kg: Mass of that warp, its size included [kg].
        size_kg: Mass of the size on it [kg].
        density_g_per_cm3: Density of its yarn wound on the beam [g/cm³].
        beam_capacity_m: Warp that its beam holds; groups of the same take-up share one if the loom
            has no let-off for each [m].
        beams_needed: Beams, or sets of beams abreast, one after the other.
        cloth_per_beam_m: Cloth from a full beam [m].
        days_between_beams: Days that a full beam lasts [d].
        knots: Knots of its tyings-in, the first too.
    """

    name: str
    yarns: tuple[str, ...]
    pile_ratio: float | None = None
    take_up: float
    ends: int
    length_m: float
    mass_kg: float
    size_kg: float
    density_g_per_cm3: float
    beam_capacity_m: float
    beams_needed: int
    cloth_per_beam_m: float
    days_between_beams: float
    knots: int


@record
class WarpOnLoom(Record):
    """The warp on the loom at a change of style, and how far it reaches.

    Attributes:
        kept: Whether the new style is woven from the warp that is on the loom.
        left_m: Warp left of the old style, of several beams on that which runs out first; ``None``
            if the new style has another warp or draft [m].
        needed_m: Warp that goes into the new style, of that beam [m].
        left_after_m: Warp left of that when the new style is woven [m].
        message: The same in a sentence.
    """

    kept: bool
    left_m: float | None = None
    needed_m: float
    left_after_m: float
    message: str


@record
class WarpStrain(Record):
    """What the loom does to an end at every pick.

    Attributes:
        base_tension_cn_per_tex: Tension of the warp with the shed closed [cN/tex].
        base_tension_pct: Tension of the warp with the shed closed as a share of its breaking load,
            in place of base_tension_cn_per_tex [%].
        shed_half_height_cm: Distance of the farthest heald eye from the warp line [cm].
        easing_pct: Share of the shed's detour that the back rest gives back [%].
    """

    base_tension_cn_per_tex: float | None = None
    base_tension_pct: float | None = None
    shed_half_height_cm: float | None = None
    easing_pct: float | None = None


@record
class WarpSummary(Record):
    """The warp: its length and beams, and the tension of its weakest ends in the shed.

    Attributes:
        length_m: Warp needed, loom waste included; for 1000 m of cloth if no length is ordered. Of
            the ends without pile, the longest; beams has every group of ends [m].
        mass_kg: Mass of the warp, that of pile and its size included [kg].
        size_kg: Mass of the size on it [kg].
        beam_capacity_m: Warp that one filling of the beams holds; the least of the groups without
            pile [m].
        beams_needed: Beams, or sets of beams abreast, one after the other; the most of the groups
            without pile.
        knots: Knots of all tyings-in, the first warp too.
        cloth_roll_capacity_m: Cloth that one roll holds [m].
        doffs: Cloth rolls taken off; of an order in pieces, of whole pieces if a roll holds one.
        days_between_warps: Days that a full beam lasts; of several groups of ends, the first empty
            [d].
        peak_tension_cn: Greatest tension of an end in the shed [cN].
        strength_use_pct: Peak tension as a share of the strength of the end's weakest place [%].
        beams: The warp of every group of ends with a beam of its own; empty if the order states
            none.
    """

    length_m: float
    mass_kg: float
    size_kg: float | None = None
    beam_capacity_m: float
    beams_needed: int
    knots: int
    cloth_roll_capacity_m: float
    doffs: int
    days_between_warps: float
    peak_tension_cn: float
    strength_use_pct: float
    beams: tuple[models.WarpGroupSummary, ...] | None = None


@record
class Watched(Record):
    """A report that the caller has seen: its link, its entity tag, the codes of its findings.

    Attributes:
        link: The report's own link, as in links.self; a whole address is understood too.
        etag: The report's validation_id, or the ETag that its answer had, with or without quotation
            marks.
        codes: Codes of the findings that the caller saw last. The service stores nothing and an
            entity tag does not contain them: only with them can it report what was added and what
            has gone.
    """

    link: str
    etag: str
    codes: tuple[str, ...] | None = None


@record
class WeaveAsDesign(Record):
    """A figured design.

    Attributes:
        design: A picture, and a weave for each of its colours.
    """

    design: models.FiguredDesign


@record
class WeaveAsRows(Record):
    """The matrix: one string a pick, first pick first; 1 = warp up, first end first.

    Attributes:
        rows: One string a pick, first pick first, 1 = warp up.
    """

    rows: tuple[str, ...]


@record
class WeaveForm(Record):
    """A notation of a weave as an object.

    Attributes:
        members: The members that it needs.
        optional: Further members that it may have.
        meaning: Its meaning.
        example: An object of this form, which can be sent as it is.
    """

    members: tuple[str, ...]
    optional: tuple[str, ...]
    meaning: str
    example: Mapping[str, object]


@record
class WeaveName(Record):
    """A name of the trade: the weave that it is read as, or what is meant by it.

    Attributes:
        name: The name.
        aliases: Other names of the same.
        meaning: What the trade understands by it, with its source.
        reads_as: The weave that the example is read as; ``None`` if it is no weave by itself.
        leaves_open: What the name leaves open, which makes the weave an assumption; ``None`` if
            nothing.
        example: A text with the name, which can be sent as it is.
        rows: That weave, one string a pick, first pick first, 1 = warp up.
        answer: What is meant by a name that is no weave by itself.
        declare: An example of what to state instead; ``None`` if there is none.
        grade: How well the meaning is supported.
    """

    name: str
    aliases: tuple[str, ...]
    meaning: str
    reads_as: str | None = None
    leaves_open: str | None = None
    example: str | None = None
    rows: tuple[str, ...] | None = None
    answer: str | None = None
    declare: object = None
    grade: str


@record
class WeaveNotationsFields(Record):
    """The notations of a weave in words and as objects, and the names of the trade.

    Attributes:
        notations: In words: case, spaces, hyphens and the order of the words do not matter.
        forms: As an object.
        names: Names of the trade; what an order states beside a name takes the place of that part
            of it.
        caution: What a computed result is not.
    """

    notations: tuple[models.Notation, ...]
    forms: tuple[models.WeaveForm, ...]
    names: tuple[models.WeaveName, ...] | None = None
    caution: str | None = None


class WeaveOptions(TypedDict, total=False):
    """Keywords of a request.

    A weave, and as much else as is known: the more is stated, the more is computed. Setts give the
    floats in mm and the repeat in cm; colours give the colour repeat and the face; shedding and
    width give the shafts or hooks needed. A weave that is stated by a threading is also checked
    against it, unless draft gives another.

    Attributes:
        ends_per_cm: Sett of the warp in the cloth [ends/cm].
        ends_per_in: Sett of the warp in the cloth [ends/in].
        picks_per_cm: Sett of the weft in the cloth [picks/cm].
        picks_per_in: Sett of the weft in the cloth [picks/in].
        layers: The layer of each thread, for double, backed and pile cloths.
        warp: Colours of the ends.
        weft: Colours of the picks.
        total_ends: Ends of the ground over the whole width, without selvedges [ends].
        reed_width_cm: Width of those ends in the reed [cm].
        reed_width_in: Width of those ends in the reed [in].
        draft: A drawing-in that is checked against the weave.
        shedding: The shedding motion that is to weave it.
        against: Another weave, which is compared with it.
        view: What a drawing shows: point paper with draft and lift plan if not given, or the face
            of the cloth in its colours.
    """

    ends_per_cm: float | None
    ends_per_in: float | None
    picks_per_cm: float | None
    picks_per_in: float | None
    layers: models.Layers | Mapping[str, object] | None
    warp: models.ColouredThreads | Mapping[str, object] | None
    weft: models.ColouredThreads | Mapping[str, object] | None
    total_ends: int | None
    reed_width_cm: float | None
    reed_width_in: float | None
    draft: models.DraftToCheck | Mapping[str, object] | None
    shedding: models.Shedding | Mapping[str, object] | None
    against: str | Mapping[str, object] | None
    view: str | None


@record
class WeaveSheetFields(Record):
    """The answer about one weave.

    Attributes:
        name: Its canonical notation; ``None`` if it was not given by name.
        recognised_name: What the trade calls the matrix, wherever the repeat begins.
        repeat: The true smallest repeat.
        warp_up_pct: Share of the crossings at which the warp is up [%].
        face: Which system shows more.
        floats: The longest floats of four kinds, and the mean ones.
        interlacings: Changes from one side of the cloth to the other.
        integrity: Whether it hangs together, and which threads are loose if not.
        layers: The layers, if they are declared; else ``None``.
        reverse_side: The weave seen from the back.
        quarter_turn: The weave with warp and weft exchanged.
        symmetries: What can be done to the weave without changing it: names as in ``Comparison``.
        comparison: How the other weave is related to it; ``None`` if no other was given.
        drafting: Shafts, drawings-in and lift plans.
        jacquard: The weave on the hooks; ``None`` without a Jacquard.
        colour: Colour and weave together; ``None`` without colours.
        findings: What is wrong with the weave, and what the stated shedding cannot do; codes as in
            a report.
        left_out: What was too large to be computed or printed, and why.
        assumptions: Every value that was not given and was therefore assumed.
        caution: What a computed result is not.
    """

    name: str | None = None
    recognised_name: str | None = None
    repeat: models.RepeatSheet
    warp_up_pct: float
    face: str
    floats: models.FloatSheet
    interlacings: models.InterlacingSheet
    integrity: models.IntegritySheet
    layers: models.LayersInWeave | None = None
    reverse_side: models.TurnedWeave
    quarter_turn: models.TurnedWeave
    symmetries: tuple[str, ...] | None = None
    comparison: models.Comparison | None = None
    drafting: models.DraftingSheet
    jacquard: models.JacquardSheet | None = None
    colour: models.ColourSheet | None = None
    findings: tuple[models.Finding, ...]
    left_out: tuple[models.LeftOut, ...]
    assumptions: tuple[models.Assumption, ...]
    caution: str


@record
class Weft(Record):
    """The weft: yarns, their order, and the sett: exactly one of picks_per_cm and picks_per_in.

    Attributes:
        yarns: Yarns by their key in the thread order.
        order: Thread order, with groups if there are any: ``24A 4B``, ``3(2A 2B) 4C``; needed for
            more than one yarn.
        crimp_pct: Crimp on the length of the grey cloth, (yarn - cloth) / cloth, of the yarns that
            state none of their own [%].
        contraction_pct: The same on yarn length, (yarn - cloth) / yarn, in place of crimp_pct [%].
        picks_per_cm: Sett of the weft at the stated stage [picks/cm].
        picks_per_in: Sett of the weft at the stated stage [picks/in].
    """

    yarns: Mapping[str, models.Yarn]
    order: str | None = None
    crimp_pct: float | None = None
    contraction_pct: float | None = None
    picks_per_cm: float | None = None
    picks_per_in: float | None = None


@record
class WeftOnLoom(Record):
    """One weft at the loom's speed.

    Attributes:
        weft: Its key in the construction; ``weft`` for one that was stated alone.
        designation: Designation in canonical form; ``None`` if only a linear density was given.
        linear_density_tex: Linear density [tex].
        weakest_strength_cn: Strength of the weft's weakest place [cN].
        base_tension_cn: Tension at rest, from feeder and brake [cN].
        peak_tension_cn: Greatest tension of the weft during insertion [cN].
        peak_at_deg: Crank angle of the greatest tension [degrees of the crank circle].
        peak_moment: What happens then.
        pick_up_jerk_cn: Tension that taking up the weft adds, by a moving rapier or at the launch;
            ``None`` for jets [cN].
        transfer_jerk_cn: Tension that the taker adds when it takes the weft over; ``None`` without
            a pair of rapiers [cN].
        stopping_jerk_cn: Tension that bringing the weft to rest adds; ``None`` if no brake does it
            [cN].
        strength_use_pct: Peak tension as a share of the strength of the weft's weakest place [%].
        peaks: Every peak of the tension over the pick.
        bands: Speeds at which each band of use is reached.
        feeders: Feeders that deliver this weft in turn.
        feeder_speed_m_per_min: Speed at which each of its feeders winds [m/min].
        feeder_speed_limit_m_per_min: Greatest speed of one weft feeder [m/min].
        feeder_speed_with_one_more_m_per_min: The same with one more feeder in turn [m/min].
    """

    weft: str
    designation: str | None = None
    linear_density_tex: float
    weakest_strength_cn: float
    base_tension_cn: float
    peak_tension_cn: float
    peak_at_deg: float
    peak_moment: str
    pick_up_jerk_cn: float | None = None
    transfer_jerk_cn: float | None = None
    stopping_jerk_cn: float | None = None
    strength_use_pct: float
    peaks: tuple[models.TensionPeak, ...]
    bands: tuple[models.BandSpeed, ...]
    feeders: int
    feeder_speed_m_per_min: float
    feeder_speed_limit_m_per_min: float
    feeder_speed_with_one_more_m_per_min: float


@record
class WholeWarp(Record):
    """A warp that comes out whole, and what that changes: width or sett, not both.

    Attributes:
        total_ends: Ends over the whole width, selvedges included.
        ends_change: Ends more than ordered; negative if fewer.
        dents: Dents filled, selvedges included.
        grey_width_cm: Grey width of a panel, if its sett stays as ordered [cm].
        ends_per_cm: Grey sett, if the width stays as ordered [ends/cm].
    """

    total_ends: int
    ends_change: int
    dents: int
    grey_width_cm: float
    ends_per_cm: float


@record
class WidthOnLoom(Record):
    """The width that results: in a reed that stays, the cloth's width follows from the reed's.

    Attributes:
        reed_dents_per_10cm: Reed on the loom [dents/10 cm].
        reed_width_cm: Width in it [cm].
        grey_width_cm: Width of a panel in the grey [cm].
        finished_width_cm: Width of a panel when finished [cm].
        change_pct: Change of the cloth's width against the order [%].
        message: The same in a sentence.
    """

    reed_dents_per_10cm: float
    reed_width_cm: float
    grey_width_cm: float
    finished_width_cm: float
    change_pct: float
    message: str


@record
class WindowFields(Record):
    """The verdict over a grid of two fields; each point is what a validation would find there.

    Attributes:
        ruleset: Digest of the rules, thresholds and default limits.
        reference: The caller's own name of the order, as sent.
        loom_id: Name of the loom, if it has one.
        across: The field that is varied along each row of the grid.
        along: The field that is varied from row to row.
        cases: What holds at the points, the most frequent first.
        grid: The case of every point by its place in ``cases``: a row for every value of ``along``,
            in it one number for every value of ``across``.
        speeds_picks_per_min: The speed at which the loom runs, likewise; ``None`` if the point
            cannot be judged [picks/min].
        borders: The lines between unlike verdicts.
        own: The order as it is, which may lie outside the window.
        nearest: The point of the grid with a better verdict that changes the order least, by the
            ``distance`` of remedies, in which what no remedy changes counts like a sett; it meets
            what is required as a remedy has to, and has something in ``rejected_if_assumed`` only
            if every better point has; ``None`` if there is none.
        nearest_note: Why there is no ``nearest``, or what it leaves to what is assumed; ``None`` if
            nothing.
        caution: What a computed result is not.
    """

    ruleset: str
    reference: str | None = None
    loom_id: str | None = None
    across: models.WindowAxis
    along: models.WindowAxis
    cases: tuple[models.WindowCase, ...]
    grid: tuple[tuple[int, ...], ...]
    speeds_picks_per_min: tuple[tuple[float | None, ...], ...]
    borders: tuple[models.WindowBorder, ...]
    own: models.WindowPoint
    nearest: models.WindowPoint | None = None
    nearest_note: str | None = None
    caution: str


@record
class WindowAxis(Record):
    """A field that is varied.

    Attributes:
        pointer: JSON Pointer of the field in the request.
        words: The field in words.
        unit: Its unit, or ``None``; of a designation, the designation.
        values: The values, rising.
        own: The order's own value, stated or assumed; ``None`` if it has none.
    """

    pointer: str
    words: str
    unit: str | None = None
    values: tuple[float, ...]
    own: float | None = None


@record
class WindowBorder(Record):
    """A line between points with unlike verdicts, half way between them.

    Attributes:
        verdict: The graver of the two, which holds on one side of it.
        across: The value across of every corner of the line.
        along: The value along of every corner.
    """

    verdict: models.Verdict
    across: tuple[float, ...]
    along: tuple[float, ...]


@record
class WindowCase(Record):
    """What holds at some of the points: each point of the grid is one of the cases.

    Attributes:
        verdict: The verdict; ``None`` if the values contradict the request.
        errors: Checks that find an error.
        warnings: Checks that find a warning.
        notes: Checks that find a note, and nothing graver.
        rejected_if_assumed: Those of the warnings for which the order is not weavable if what is
            assumed is so: the codes of the ``verdict_note`` of a validation.
        limited_by: The limit that sets the speed.
        decided_by: What makes it another decision than other cases: its errors, or else its
            warnings, among which a reed that is not in stock, and can be bought, is only without
            others.
        points: Points at which it holds.
    """

    verdict: models.Verdict | None = None
    errors: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    rejected_if_assumed: tuple[str, ...]
    limited_by: str | None = None
    decided_by: tuple[str, ...]
    points: int


class WindowOptions(TypedDict, total=False):
    """Keywords of a request.

    An order on a loom (exactly one of loom and loom_id), and two numeric fields to vary.

    Attributes:
        loom: The loom, stated in full.
        loom_id: The loom, by its name in the park.
        across: The field that is varied along each row of the grid.
        along: The field that is varied from row to row.
    """

    loom: models.Loom | Mapping[str, object] | None
    loom_id: str | None
    across: Required[models.VariedField | Mapping[str, object]]
    along: Required[models.VariedField | Mapping[str, object]]


@record
class WindowPoint(Record):
    """One point, with what is found there.

    Attributes:
        across: The value across; ``None`` if the order has none.
        along: The value along; ``None`` if the order has none.
        verdict: The verdict there.
        codes: Checks that find an error or a warning there.
        rejected_if_assumed: Those of them for which the order is not weavable there if what is
            assumed is so, as of a remedy.
    """

    across: float | None = None
    along: float | None = None
    verdict: models.Verdict
    codes: tuple[str, ...]
    rejected_if_assumed: tuple[str, ...]


@record
class Yarn(Record):
    """One yarn: count (designation or linear density), fibre, and what else is known of it.

    Attributes:
        designation: Count as it is written in the trade.
        linear_density_tex: Linear density of the yarn, in place of a designation [tex].
        sample_length_m: Length of a sample that was weighed, in place of a count [m].
        sample_length_yd: Length of that sample in yards: 120 for a lea of cotton, 80 for one of
            worsted [yd].
        sample_mass_g: Mass of that sample [g].
        sample_mass_grains: Mass of that sample in grains [grains].
        fibre: Fibre or blend, with the style of the yarn if it has one: slub, chenille, core-spun,
            monofilament or tape.
        colour: Colour as #rrggbb.
        fibre_density_g_per_cm3: Density of the fibre substance [g/cm³].
        packing_fraction: Share of the yarn's cross-section that is fibre.
        diameter_mm: Measured diameter, in place of the packing fraction [mm].
        tenacity_cn_per_tex: Mean breaking force per linear density [cN/tex].
        strength_cv_pct: Coefficient of variation of the breaking force [%].
        breaking_elongation_pct: Mean elongation at break [%].
        folding_take_up_pct: Shortening of the singles in folding, on their length [%].
        crimp_pct: Crimp of this yarn in the cloth, on the length of the grey cloth; in place of
            that of warp or weft [%].
        contraction_pct: Contraction of this yarn in the cloth, on its own length; in place of
            crimp_pct [%].
        twist_per_m: Turns per metre of the yarn as it is woven, 0 for none; needs twist_direction
            [turns/m].
        twist_direction: Direction of the twist.
        sized: Whether the yarn is sized as warp.
        monofilament: Whether the yarn is one filament.
        elastane_draft: Length of the elastane in the yarn over its length at rest; of elastane
            alone, as it is woven.
        tape_width_mm: Width of a tape or spread tow, in place of a diameter [mm].
        tape_thickness_mm: Thickness of a tape or spread tow [mm].
        flattening_ratio: Width over thickness of a yarn that lies flat in the cloth.
    """

    designation: str | None = None
    linear_density_tex: float | None = None
    sample_length_m: float | None = None
    sample_length_yd: float | None = None
    sample_mass_g: float | None = None
    sample_mass_grains: float | None = None
    fibre: str | None = None
    colour: str | None = None
    fibre_density_g_per_cm3: float | None = None
    packing_fraction: float | None = None
    diameter_mm: float | None = None
    tenacity_cn_per_tex: float | None = None
    strength_cv_pct: float | None = None
    breaking_elongation_pct: float | None = None
    folding_take_up_pct: float | None = None
    crimp_pct: float | None = None
    contraction_pct: float | None = None
    twist_per_m: float | None = None
    twist_direction: str | None = None
    sized: bool | None = None
    monofilament: bool | None = None
    elastane_draft: float | None = None
    tape_width_mm: float | None = None
    tape_thickness_mm: float | None = None
    flattening_ratio: float | None = None


@record
class YarnInOrder(Record):
    """A yarn of a thread order, and its threads in the order as written.

    Attributes:
        yarn: Key of the yarn in the thread order.
        colour: Colour as given.
        threads: Ends of this yarn over the width; ``None`` in the weft.
    """

    yarn: str
    colour: str
    threads: int


@record
class YarnUse(Record):
    """Yarn of one colour for the order, waste included; for the usual length if none is ordered.

    Attributes:
        yarn: ``warp``, ``weft``, ``leno`` or ``catch cord``, and the yarn's key.
        designation: Designation in canonical form; ``None`` if only a linear density was given.
        colour: Colour as given.
        linear_density_tex: Linear density [tex].
        threads: Ends of this yarn over the width; ``None`` in the weft.
        crimp_pct: Crimp of this yarn on the length of the cloth [%].
        contraction_pct: Contraction of this yarn on its own length [%].
        waste_pct: Waste that is included, on the yarn woven [%].
        length_km: Yarn needed, waste included; for 1000 m of cloth if no length is ordered [km].
        mass_kg: Mass of that yarn [kg].
    """

    yarn: str
    designation: str | None = None
    colour: str | None = None
    linear_density_tex: float
    threads: int | None = None
    crimp_pct: float | None = None
    contraction_pct: float | None = None
    waste_pct: float | None = None
    length_km: float
    mass_kg: float
