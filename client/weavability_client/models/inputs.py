"""What goes in: constructions, looms and the like, as typed, frozen dataclasses.

The names are those of the API; every number's name ends in its unit. ``None`` means "not stated".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from weavability_client._record import Record, record


@record
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


@record
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


@record
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


@record
class Selvedge(Record):
    """The edges of each panel."""

    ends_per_side: int | None = None
    ends_per_dent: int | None = None
    shafts: int | None = None


@record
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


@record
class Draft(Record):
    """The drawing-in that the order asks for: a name, or the shaft of every end."""

    threading: str | tuple[int, ...]


@record
class Finishing(Record):
    """What happens to the cloth after the loom."""

    width_shrinkage_pct: float | None = None
    length_shrinkage_pct: float | None = None
    relaxation_pct: float | None = None
    stabilised: bool | None = None


@record
class Allowances(Record):
    """What is used beyond the yarn that lies in the cloth."""

    warp_waste_pct: float | None = None
    weft_waste_pct: float | None = None
    size_pct: float | None = None
    loom_waste_m: float | None = None


@record
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


@record
class Band(Record):
    """A closed range; either end may be open."""

    min: float | None = None
    max: float | None = None


@record
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


@record
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


@record
class WarpBeam(Record):
    """The weaver's beam."""

    flange_diameter_cm: float | None = None
    barrel_diameter_cm: float | None = None
    width_cm: float | None = None
    count: int | None = None
    density_g_per_cm3: float | None = None


@record
class WarpStrain(Record):
    """What the loom does to an end at every pick."""

    base_tension_cn_per_tex: float | None = None
    shed_half_height_cm: float | None = None


@record
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


@record
class Running(Record):
    """How the loom runs: an efficiency, or the stop rates from which it is computed."""

    efficiency_pct: float | None = None
    warp_stops_per_100k_picks: float | None = None
    weft_stops_per_100k_picks: float | None = None
    minutes_per_warp_stop: float | None = None
    minutes_per_weft_stop: float | None = None
    looms_per_weaver: int | None = None
    hours_per_day: float | None = None


@record
class CurvePoint(Record):
    """One point of a loom's speed curve."""

    reed_width_cm: float
    picks_per_min: float


@record
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


@record
class ValidationRequest(Record):
    """One item of a batch: a construction, and a loom of the park or a loom as such."""

    construction: Construction
    loom: Loom | None = None
    loom_id: str | None = None


@record
class Sweep(Record):
    """A row of points between two values, both included, for the insertion rates.

    Attributes:
        over: What varies: ``speed_picks_per_min`` or ``reed_width_cm``.
        start: First value.
        stop: Last value.
        points: Number of points.
    """

    over: str
    start: float = field(metadata={"key": "from"})
    stop: float = field(metadata={"key": "to"})
    points: int | None = None


@record
class ColouredThreads(Record):
    """The thread order of warp or weft in colours.

    Attributes:
        order: The order, such as ``24A 4B`` or ``3(2A 2B) 4C``; a single colour needs none.
        colours: The colour of each yarn, such as ``{"A": "#1c2a4a", "B": "#f4f1e8"}``.
    """

    order: str | None = None
    colours: Mapping[str, str]


@record
class DraftToCheck(Record):
    """A drawing-in that is to be held against a weave.

    Attributes:
        threading: The shaft of every end, from 1; or ``straight``, ``point`` or ``skip``.
        lift_plan: One string a pick, one character a shaft, ``1`` = lifted.
        shafts: Shafts of a threading that is given by name.
    """

    threading: str | tuple[int, ...]
    lift_plan: tuple[str, ...] | None = None
    shafts: int | None = None


@record
class Watched(Record):
    """A report that is watched for changes.

    Attributes:
        link: Its ``report.link``.
        etag: Its ``report.etag``, of the report as it is known.
        codes: Codes of its findings as they are known; without them the service cannot tell which
            were added and which are gone, for it keeps nothing.
    """

    link: str
    etag: str
    codes: tuple[str, ...] | None = None
