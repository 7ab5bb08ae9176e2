"""The facts of a cloth: everything that follows from the construction alone, computed once.

No loom is known here. An order is settled (``thread_systems``, ``cloth_defaults``), brought to the
grey state (``cloth_states``), and what follows is computed from numbers alone (``geometry``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.cloth_bounds import refuse_endless, refuse_impossible
from weavability.textiles.cloth_defaults import (
    AllowanceFacts,
    note_crimps,
    note_weave,
    resolve_allowances,
    resolve_grey_length_m,
    resolve_panels,
    resolve_selvedge_ends,
    resolve_selvedge_shafts,
    resolve_shrinkages,
    resolve_stage,
    resolve_thickness_mm,
)
from weavability.textiles.cloth_states import Sett, Shrinkages, grey_length_factor, grey_state
from weavability.textiles.construction import Construction, Stage
from weavability.textiles.geometry import (
    CrimpEstimate,
    cloth_cover_factor,
    cloth_cover_factor_cotton,
    cover_factor,
    cover_factor_cotton,
    crowding,
    ends_plus_intersections_use_pct,
    estimate_crimps,
    float_length_mm,
    mass_g_per_m2,
    tightness_pct,
)
from weavability.textiles.thread_systems import SystemFacts, Threads, resolve_threads
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_structure import Structure, remembered_structure

CRIMP_DECIMALS = 2
"""Decimals of an estimated crimp, in per cent: its error is a hundred times larger."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Widths:
    """Widths of the cloth, in cm.

    Attributes:
        grey_cm: Of one panel off the loom.
        finished_cm: Of one panel after finishing.
        panel_reed_cm: Of one panel in the reed: the weft lies straight at beat-up.
        panel_gap_cm: In the reed between two panels.
        reed_cm: Of all panels in the reed, with the gaps between them.
    """

    grey_cm: float
    finished_cm: float
    panel_reed_cm: float
    panel_gap_cm: float
    reed_cm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Ends of the warp.

    Attributes:
        ground: Of one panel, without the extra ends of its selvedges.
        selvedge: Extra ends of all selvedges of all panels.
        total: Of all panels, selvedges included.
    """

    ground: int
    selvedge: int
    total: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Cloth to weave, in m.

    Attributes:
        ordered: Whether the order states a length; otherwise the lengths are for 1000 m.
        grey_m: Grey cloth, all panels together.
        loom_m: Grey cloth to weave on the loom: the panels share it.
    """

    ordered: bool
    grey_m: float
    loom_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Covers:
    """Cover factors: SI (threads/cm × √tex ÷ 10) and cotton form (threads/inch ÷ √Ne)."""

    warp: float
    weft: float
    cloth: float
    warp_cotton: float
    weft_cotton: float
    cloth_cotton: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How close the threads of the grey cloth are set.

    Attributes:
        tightness_pct: Share of the jam; at 100 % round yarns can come no closer.
        ends_use_pct: Ends as a share of the ends-plus-intersections limit.
        picks_use_pct: Picks as a share of that limit.
        warp_crowding: Diameters of the ends over their spacing; at 1 they touch side by side.
    """

    tightness_pct: float
    ends_use_pct: float
    picks_use_pct: float
    warp_crowding: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Masses:
    """Mass of the yarn in the cloth, in g/m².

    Attributes:
        grey_g_per_m2: Of grey cloth, without size.
        finished_g_per_m2: Of finished cloth: the same yarn on less area.
    """

    grey_g_per_m2: float
    finished_g_per_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothFacts:
    """Everything that follows from the construction alone.

    Attributes:
        construction: As stated.
        repeat: The weave's true repeat, read once.
        structure: Floats, interlacings and layers of the weave.
        warp: The warp in the grey cloth.
        weft: The weft in the grey cloth.
        allowances: Waste and size.
        panels: Panels woven side by side.
        widths: In the reed, grey and finished.
        ends: Of the ground, the selvedges and the whole warp.
        selvedge_shafts: Shafts that only selvedge ends are drawn on.
        picks_per_cm_on_loom: Before the cloth relaxes.
        lengths: Cloth to weave.
        thickness_mm: Of the grey cloth.
        covers: Cover factors of both sets and of the cloth.
        setting: How close the threads are set.
        masses: Grey and finished.
        longest_float_mm: Longest float on either side of the cloth, warp or weft.
        assumptions: Every value that the order did not state.
    """

    construction: Construction
    repeat: Repeat
    structure: Structure
    warp: SystemFacts
    weft: SystemFacts
    allowances: AllowanceFacts
    panels: int
    widths: Widths
    ends: Ends
    selvedge_shafts: int
    picks_per_cm_on_loom: float
    lengths: Lengths
    thickness_mm: float
    covers: Covers
    setting: Setting
    masses: Masses
    longest_float_mm: float
    assumptions: tuple[Assumption, ...]

    @property
    def weave(self) -> Weave:
        """The weave, reduced to its true repeat."""
        return self.repeat.weave


@dataclass(frozen=True, slots=True, kw_only=True)
class _GreyCloth:
    """The cloth in the grey state, before anything is counted or measured on it."""

    stage: Stage
    shrinkages: Shrinkages
    repeat: Repeat
    structure: Structure
    warp: SystemFacts
    weft: SystemFacts
    width_cm: float


def cloth_facts(construction: Construction) -> ClothFacts:
    """Compute the facts of a cloth.

    Args:
        construction: The cloth as ordered; what it leaves open is assumed and noted.

    Returns:
        The facts, with every assumption in ``assumptions``.

    Raises:
        InputError: For yarns, thread orders or values that cannot be read; pointers are relative
            to the construction.

    >>> from weavability.textiles.construction import ThreadSystem
    >>> from weavability.textiles.notation import parse_weave
    >>> from weavability.textiles.yarns import Yarn
    >>> cotton = {"A": Yarn(designation="20 tex", fibre="cotton")}
    >>> facts = cloth_facts(
    ...     Construction(
    ...         warp=ThreadSystem(yarns=cotton, threads_per_cm=24.0, crimp_pct=5.0),
    ...         weft=ThreadSystem(yarns=cotton, threads_per_cm=22.0, crimp_pct=7.0),
    ...         weave=parse_weave("plain"),
    ...         width_cm=160.0,
    ...     )
    ... )
    >>> facts.ends.total, round(facts.widths.reed_cm, 1), round(facts.masses.grey_g_per_m2, 1)
    (3840, 171.2, 97.5)
    """
    refuse_impossible(construction)
    ledger = Ledger()
    grey = _grey_cloth(construction, ledger)
    warp, weft = grey.warp, grey.weft
    panels, gap_cm = resolve_panels(construction, ledger)
    widths = _widths(grey, panels, gap_cm)
    ends = _ends(grey, panels, per_side=resolve_selvedge_ends(construction, ledger))
    lengths = _lengths(construction, grey, panels, ledger)
    warp_m = lengths.loom_m * (1 + warp.crimp_pct / 100)
    refuse_endless(construction, total_ends=ends.total, reed_cm=widths.reed_cm, warp_m=warp_m)
    return ClothFacts(
        construction=construction,
        repeat=grey.repeat,
        structure=grey.structure,
        warp=warp,
        weft=weft,
        allowances=resolve_allowances(construction, ledger),
        panels=panels,
        widths=widths,
        ends=ends,
        selvedge_shafts=resolve_selvedge_shafts(construction, ends.selvedge, ledger),
        picks_per_cm_on_loom=weft.threads_per_cm * grey.shrinkages.relaxed_kept,
        lengths=lengths,
        thickness_mm=resolve_thickness_mm(construction, warp.diameter_mm, weft.diameter_mm, ledger),
        covers=_covers(warp, weft),
        setting=_setting(warp, weft, grey.structure),
        masses=_masses(warp, weft, grey.shrinkages),
        longest_float_mm=_longest_float_mm(warp, weft, grey.structure),
        assumptions=tuple(ledger),
    )


def _grey_cloth(construction: Construction, ledger: Ledger) -> _GreyCloth:
    note_weave(construction, ledger)
    stage = resolve_stage(construction, ledger)
    warp, weft = resolve_threads(construction, ledger)
    repeat, structure = remembered_structure(construction.weave)
    shrinkages = resolve_shrinkages(construction, stage, ledger)
    stated = Sett(
        ends_per_cm=construction.warp.threads_per_cm,
        picks_per_cm=construction.weft.threads_per_cm,
        width_cm=construction.width_cm,
    )
    crimps = partial(_crimps, construction, warp, weft, structure)
    sett, crimp = grey_state(stated, stage, shrinkages, crimps)
    note_crimps(crimp, ledger)
    return _GreyCloth(
        stage=stage,
        shrinkages=shrinkages,
        repeat=repeat,
        structure=structure,
        warp=SystemFacts.of(warp, threads_per_cm=sett.ends_per_cm, crimp_pct=crimp.warp_crimp_pct),
        weft=SystemFacts.of(weft, threads_per_cm=sett.picks_per_cm, crimp_pct=crimp.weft_crimp_pct),
        width_cm=sett.width_cm,
    )


def _crimps(
    construction: Construction,
    warp: Threads,
    weft: Threads,
    structure: Structure,
    ends_per_cm: float,
    picks_per_cm: float,
) -> CrimpEstimate:
    found = estimate_crimps(
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        warp_diameter_mm=warp.diameter_mm,
        weft_diameter_mm=weft.diameter_mm,
        mean_float_of_picks=structure.mean_float_of_picks,
        mean_float_of_ends=structure.mean_float_of_ends,
        warp_crimp_pct=construction.warp.crimp_pct,
        weft_crimp_pct=construction.weft.crimp_pct,
    )
    # Rounded to the reported precision, so that stating the estimate changes nothing.
    return replace(
        found,
        warp_crimp_pct=_as_reported(found.warp_crimp_pct, estimated=found.warp_estimated),
        weft_crimp_pct=_as_reported(found.weft_crimp_pct, estimated=found.weft_estimated),
    )


def _as_reported(crimp_pct: float, *, estimated: bool) -> float:
    return round(crimp_pct, CRIMP_DECIMALS) if estimated else crimp_pct


def _widths(grey: _GreyCloth, panels: int, gap_cm: float) -> Widths:
    panel_reed_cm = grey.width_cm * (1 + grey.weft.crimp_pct / 100)
    return Widths(
        grey_cm=grey.width_cm,
        finished_cm=grey.width_cm * grey.shrinkages.width_kept,
        panel_reed_cm=panel_reed_cm,
        panel_gap_cm=gap_cm,
        reed_cm=panels * panel_reed_cm + (panels - 1) * gap_cm,
    )


def _ends(grey: _GreyCloth, panels: int, *, per_side: int) -> Ends:
    ground = max(1, round(grey.warp.threads_per_cm * grey.width_cm))
    selvedge = panels * 2 * per_side
    return Ends(ground=ground, selvedge=selvedge, total=panels * ground + selvedge)


def _lengths(construction: Construction, grey: _GreyCloth, panels: int, ledger: Ledger) -> Lengths:
    grey_m = resolve_grey_length_m(
        construction,
        grey_per_stated=grey_length_factor(grey.stage, grey.shrinkages),
        ledger=ledger,
    )
    return Lengths(ordered=construction.length_m is not None, grey_m=grey_m, loom_m=grey_m / panels)


def _covers(warp: SystemFacts, weft: SystemFacts) -> Covers:
    warp_si, warp_cotton = _cover(warp)
    weft_si, weft_cotton = _cover(weft)
    return Covers(
        warp=warp_si,
        weft=weft_si,
        cloth=cloth_cover_factor(warp=warp_si, weft=weft_si),
        warp_cotton=warp_cotton,
        weft_cotton=weft_cotton,
        cloth_cotton=cloth_cover_factor_cotton(warp=warp_cotton, weft=weft_cotton),
    )


def _cover(system: SystemFacts) -> tuple[float, float]:
    """Return the cover factor in SI and in cotton units."""
    n, tex = system.threads_per_cm, system.linear_density_tex
    return (
        cover_factor(threads_per_cm=n, linear_density_tex=tex),
        cover_factor_cotton(threads_per_cm=n, linear_density_tex=tex),
    )


def _setting(warp: SystemFacts, weft: SystemFacts, structure: Structure) -> Setting:
    return Setting(
        tightness_pct=tightness_pct(
            ends_per_cm=warp.threads_per_cm,
            picks_per_cm=weft.threads_per_cm,
            warp_diameter_mm=warp.diameter_mm,
            weft_diameter_mm=weft.diameter_mm,
            mean_float_of_picks=structure.mean_float_of_picks,
            mean_float_of_ends=structure.mean_float_of_ends,
        ),
        ends_use_pct=ends_plus_intersections_use_pct(
            threads_per_cm=warp.threads_per_cm,
            diameter_mm=warp.diameter_mm,
            mean_float=structure.mean_float_of_picks,
        ),
        picks_use_pct=ends_plus_intersections_use_pct(
            threads_per_cm=weft.threads_per_cm,
            diameter_mm=weft.diameter_mm,
            mean_float=structure.mean_float_of_ends,
        ),
        warp_crowding=crowding(threads_per_cm=warp.threads_per_cm, diameter_mm=warp.diameter_mm),
    )


def _masses(warp: SystemFacts, weft: SystemFacts, shrinkages: Shrinkages) -> Masses:
    grey = mass_g_per_m2(
        ends_per_cm=warp.threads_per_cm,
        picks_per_cm=weft.threads_per_cm,
        warp_tex=warp.linear_density_tex,
        weft_tex=weft.linear_density_tex,
        warp_crimp_pct=warp.crimp_pct,
        weft_crimp_pct=weft.crimp_pct,
    )
    return Masses(
        grey_g_per_m2=grey,
        finished_g_per_m2=grey / (shrinkages.width_kept * shrinkages.length_kept),
    )


def _longest_float_mm(warp: SystemFacts, weft: SystemFacts, structure: Structure) -> float:
    return max(
        float_length_mm(
            float_threads=structure.longest_warp_float_picks, threads_per_cm=weft.threads_per_cm
        ),
        float_length_mm(
            float_threads=structure.longest_weft_float_ends, threads_per_cm=warp.threads_per_cm
        ),
    )
