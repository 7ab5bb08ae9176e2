"""The facts of a cloth: everything that follows from the construction alone, computed once.

No loom is known here. Setts and widths are brought to three states:

* **grey**: off the loom, relaxed, unfinished; the state in which cover, mass and crimp are told;
* **finished**: after finishing, by the stated shrinkages;
* **loom state**: in the reed (warp way, width) and under the take-up's tension (picks).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import Allowances, Construction, Stage, ThreadSystem
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.geometry import (
    CRIMP_FLATTENING,
    CrimpEstimate,
    cloth_cover_factor,
    cloth_cover_factor_cotton,
    cover_factor,
    cover_factor_cotton,
    ends_plus_intersections_use_pct,
    estimate_crimps,
    fractional_cover,
    mass_g_per_m2,
    tightness_pct,
)
from weavability.textiles.thread_order import ThreadOrder, parse_order
from weavability.textiles.weave_matrix import Repeat, Structure, Weave, analyse, float_lengths
from weavability.textiles.yarns import YarnFacts, resolve_yarn

COMMON_PRACTICE = "common practice, no source"

MAX_REMEMBERED_CELLS = 16_384
"""Largest weave whose analysis is kept for the next order of the same weave."""

MAX_KEPT_CELLS = 4_194_304
"""Largest weave whose analysis is kept for the remedies of its own order."""


CRIMP_DECIMALS = 2
"""Decimals of an estimated crimp, in per cent: its error is a hundred times larger."""

PANEL_GAP_CM = 2.0
"""Reed width between two panels, for the cutters; common practice, no source."""

MOST_ENDS = 1_000_000
"""More ends than any warp has: beyond it sett, width or panels are mistaken."""

MOST_REED_WIDTH_CM = 10_000.0
"""Wider than any loom, several times over."""

MOST_WARP_M = 4e8
"""Longer than any order: it would go round the earth ten times."""


CRIMP_ROUNDS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemFacts:
    """Warp or weft with its yarns resolved.

    Attributes:
        yarns: The facts of each yarn, by its key.
        order: One repeat of the thread order.
        linear_density_tex: Mean over the order.
        diameter_mm: Mean over the order.
        threads_per_cm: In the grey cloth.
        crimp_pct: On the length of the grey cloth.
    """

    yarns: Mapping[str, YarnFacts]
    order: ThreadOrder
    linear_density_tex: float
    diameter_mm: float
    threads_per_cm: float
    crimp_pct: float

    def mean(self, values: Mapping[str, float]) -> float:
        """Mean of a value by yarn, weighted by the threads of one repeat of the order."""
        return _order_mean(self.order, values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covers:
    """Cover factors: SI (threads/cm × √tex ÷ 10) and cotton form (threads/inch ÷ √Ne)."""

    warp: float
    weft: float
    cloth: float
    warp_cotton: float
    weft_cotton: float
    cloth_cotton: float
    warp_fraction: float
    weft_fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothFacts:
    """Everything that follows from the construction alone.

    Attributes:
        repeat: The weave's true repeat, read once.
        grey_width_cm: Of one panel.
        finished_width_cm: Of one panel.
        reed_width_cm: Of all panels with the gaps between them: weft lies straight at beat-up.
        panel_reed_width_cm: Of one panel.
        ground_ends: Of one panel, without the selvedges' extra ends.
        selvedge_ends: Extra ends of all selvedges of all panels.
        selvedge_shafts: Shafts of their own on which they are drawn.
        total_ends: All panels, selvedges included.
        ends_per_cm_in_reed: All ends over the whole reed width: what healds and beams see.
        picks_per_cm_on_loom: Before the cloth relaxes.
        length_ordered: Whether the order states a length; otherwise amounts are told for 1000 m.
        grey_length_m: Cloth ordered, in the grey, all panels together.
        loom_length_m: Cloth to weave: the ordered length shared by the panels.
        setting_use_pct: Ends and picks as a share of the ends-plus-intersections limit.
        longest_float_mm: Longest float on either side of the cloth, warp or weft.
    """

    construction: Construction
    stage: Stage
    repeat: Repeat
    structure: Structure
    warp: SystemFacts
    weft: SystemFacts
    allowances: Allowances
    panels: int
    panel_gap_cm: float
    grey_width_cm: float
    finished_width_cm: float
    panel_reed_width_cm: float
    reed_width_cm: float
    ground_ends: int
    selvedge_ends: int
    selvedge_shafts: int
    total_ends: int
    ends_per_cm_in_reed: float
    picks_per_cm_on_loom: float
    length_ordered: bool
    grey_length_m: float
    loom_length_m: float
    thickness_mm: float
    covers: Covers
    mass_g_per_m2: float
    finished_mass_g_per_m2: float
    tightness_pct: float
    ends_setting_use_pct: float
    picks_setting_use_pct: float
    longest_float_mm: float
    assumptions: tuple[Assumption, ...]

    @property
    def weave(self) -> Weave:
        """The weave, reduced to its true repeat."""
        return self.repeat.weave


def cloth_facts(construction: Construction) -> ClothFacts:
    """Compute the facts of a cloth.

    Args:
        construction: As stated.

    Raises:
        InputError: For yarns, thread orders or values that cannot be read; pointers are relative
            to the construction.
    """
    _refuse_impossible(construction)
    ledger = Ledger()
    for note in construction.weave_notes:
        ledger.note("/weave" + note.pointer, note.value, unit=note.unit, reason=note.reason)
    stage = ledger.take(
        "/stage",
        construction.stage,
        Stage.GREY,
        unit=None,
        reason="most orders state grey sett and width; " + COMMON_PRACTICE,
    )
    warp_yarns, warp_order, weft_yarns, weft_order = _threads(construction, ledger)
    repeat, structure = _woven(construction.weave)
    finishing = _Shrinkage.of(construction, stage, ledger)
    sett = _grey_sett(
        construction,
        stage,
        finishing,
        structure,
        (warp_yarns, warp_order),
        (weft_yarns, weft_order),
    )
    _note_crimp(sett.crimp, construction, ledger)
    warp = _system(warp_yarns, warp_order, sett.ends_per_cm, sett.crimp.warp_crimp_pct)
    weft = _system(weft_yarns, weft_order, sett.picks_per_cm, sett.crimp.weft_crimp_pct)
    panels = ledger.take(
        "/panels", construction.panels, 1, unit=None, reason="one cloth across the loom"
    )
    gap_cm = _panel_gap_cm(construction, panels, ledger)
    panel_reed_width_cm = sett.width_cm * (1 + weft.crimp_pct / 100)
    ground_ends = max(1, round(warp.threads_per_cm * sett.width_cm))
    selvedge_ends = panels * 2 * _selvedge_ends_per_side(construction, ledger)
    tightness, ends_use, picks_use = _setting(warp, weft, structure)
    floats = float_lengths(
        structure, ends_per_cm=warp.threads_per_cm, picks_per_cm=weft.threads_per_cm
    )
    grey_length_m = ledger.take(
        "/length_m",
        sett.length_m,
        1000.0,
        unit="m",
        reason="no length ordered: yarn, warp and beams are told for 1000 m, hours are left out",
    )
    mass = _mass(warp, weft)
    total_ends = panels * ground_ends + selvedge_ends
    if total_ends > MOST_ENDS:
        raise _too_many_ends(construction, total_ends)
    reed_width_cm = panels * panel_reed_width_cm + (panels - 1) * gap_cm
    _refuse_endless(
        construction,
        reed_width_cm=reed_width_cm,
        warp_m=grey_length_m / panels * (1 + warp.crimp_pct / 100),
    )
    return ClothFacts(
        construction=construction,
        stage=stage,
        repeat=repeat,
        structure=structure,
        warp=warp,
        weft=weft,
        allowances=_allowances(construction, ledger),
        panels=panels,
        panel_gap_cm=gap_cm,
        grey_width_cm=sett.width_cm,
        finished_width_cm=sett.width_cm * finishing.width_kept,
        panel_reed_width_cm=panel_reed_width_cm,
        reed_width_cm=reed_width_cm,
        ground_ends=ground_ends,
        selvedge_ends=selvedge_ends,
        selvedge_shafts=_selvedge_shafts(construction, selvedge_ends, ledger),
        total_ends=total_ends,
        ends_per_cm_in_reed=total_ends / reed_width_cm,
        picks_per_cm_on_loom=weft.threads_per_cm * finishing.relaxed_kept,
        length_ordered=sett.length_m is not None,
        grey_length_m=grey_length_m,
        loom_length_m=grey_length_m / panels,
        thickness_mm=ledger.take(
            "/thickness_mm",
            construction.thickness_mm,
            round(CRIMP_FLATTENING * (warp.diameter_mm + weft.diameter_mm), 3),
            unit="mm",
            reason=f"both diameters, flattened to {CRIMP_FLATTENING:g} where they cross",
        ),
        covers=_covers(warp, weft),
        mass_g_per_m2=mass,
        finished_mass_g_per_m2=mass / (finishing.width_kept * finishing.length_kept),
        tightness_pct=tightness,
        ends_setting_use_pct=ends_use,
        picks_setting_use_pct=picks_use,
        longest_float_mm=floats.longest_mm,
        assumptions=tuple(ledger),
    )


def _refuse_impossible(construction: Construction) -> None:
    """Refuse figures that no cloth has, so that whatever is computed from them is a number."""
    warp, weft, finishing = construction.warp, construction.weft, construction.finishing
    for pointer, value in (
        ("/warp/ends_per_cm", warp.threads_per_cm),
        ("/weft/picks_per_cm", weft.threads_per_cm),
        ("/width_cm", construction.width_cm),
        ("/length_m", construction.length_m),
        ("/warp/crimp_pct", warp.crimp_pct),
        ("/weft/crimp_pct", weft.crimp_pct),
        ("/panels", construction.panels),
        ("/panel_gap_cm", construction.panel_gap_cm),
        ("/thickness_mm", construction.thickness_mm),
        ("/finishing/width_shrinkage_pct", finishing.width_shrinkage_pct),
        ("/finishing/length_shrinkage_pct", finishing.length_shrinkage_pct),
        ("/finishing/relaxation_pct", finishing.relaxation_pct),
    ):
        bounds = CONSTRUCTION_BOUNDS[pointer]
        if value is not None and value not in bounds:
            raise InputError.of(
                construction.as_stated(pointer),
                f"No cloth has such a figure; it must lie between {bounds.least:g} and "
                f"{bounds.most:g}.",
                given=value,
                allowed=f"{bounds.least:g} to {bounds.most:g}",
            )


def _refuse_endless(construction: Construction, *, reed_width_cm: float, warp_m: float) -> None:
    if reed_width_cm > MOST_REED_WIDTH_CM:
        raise InputError.of(
            construction.as_stated("/width_cm"),
            f"Width and panels take {reed_width_cm:.0f} cm in the reed; correct the one that is "
            "mistaken.",
            given=construction.width_cm,
            allowed=f"at most {MOST_REED_WIDTH_CM:g} cm in the reed, all panels together",
        )
    if warp_m > MOST_WARP_M:
        raise InputError.of(
            construction.as_stated("/length_m"),
            f"The order takes {warp_m:.3g} m of warp; correct its length.",
            given=construction.length_m,
            allowed=f"at most {MOST_WARP_M:g} m of warp",
        )


def _too_many_ends(construction: Construction, total_ends: int) -> InputError:
    return InputError.of(
        construction.as_stated("/warp/ends_per_cm"),
        f"Sett, width and panels make {total_ends} ends; correct the one that is mistaken.",
        given=construction.warp.threads_per_cm,
        allowed=f"at most {MOST_ENDS} ends in all",
    )


_Woven = tuple[Repeat, Structure]


def _woven(weave: Weave) -> _Woven:
    """The true repeat of a weave and its structure; small weaves are remembered."""
    if weave.matrix.size > MAX_KEPT_CELLS:
        return _examined(weave)
    if weave.matrix.size > MAX_REMEMBERED_CELLS:
        return _kept(weave, weave.name)
    return _remembered(weave, weave.name)


# Weaves of one matrix are equal whatever they are called, so the name is part of the key.
@lru_cache(maxsize=256)
def _remembered(weave: Weave, _name: str) -> _Woven:
    return _examined(weave)


@lru_cache(maxsize=1)
def _kept(weave: Weave, _name: str) -> _Woven:
    """The last of the larger weaves is kept, because remedies of its order are tried next."""
    return _examined(weave)


def _examined(weave: Weave) -> _Woven:
    read = Repeat.of(weave)
    return read, analyse(read)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shrinkage:
    """What is kept of a length at each step, as factors."""

    width_kept: float
    length_kept: float
    relaxed_kept: float

    @classmethod
    def of(cls, construction: Construction, stage: Stage, ledger: Ledger) -> _Shrinkage:
        finishing = construction.finishing
        finished = stage is Stage.FINISHED
        width_pct = ledger.take(
            "/finishing/width_shrinkage_pct",
            finishing.width_shrinkage_pct,
            5.0 if finished else 0.0,
            unit="%",
            reason="sett stated as finished; " + COMMON_PRACTICE
            if finished
            else "no finishing stated: finished cloth taken as grey",
        )
        length_pct = ledger.take(
            "/finishing/length_shrinkage_pct",
            finishing.length_shrinkage_pct,
            3.0 if finished else 0.0,
            unit="%",
            reason="sett stated as finished; " + COMMON_PRACTICE
            if finished
            else "no finishing stated: finished cloth taken as grey",
        )
        relaxation_pct = ledger.take(
            "/finishing/relaxation_pct",
            finishing.relaxation_pct,
            1.5,
            unit="%",
            reason="C. P. Brooks, Cotton Manufacturing (1892): 1.5 % shrinkage after weaving",
        )
        return cls(
            width_kept=1 - width_pct / 100,
            length_kept=1 - length_pct / 100,
            relaxed_kept=1 - relaxation_pct / 100,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _GreySett:
    ends_per_cm: float
    picks_per_cm: float
    width_cm: float
    length_m: float | None
    crimp: CrimpEstimate


_Threads = tuple[Mapping[str, YarnFacts], ThreadOrder]


def _grey_sett(
    construction: Construction,
    stage: Stage,
    finishing: _Shrinkage,
    structure: Structure,
    warp: _Threads,
    weft: _Threads,
) -> _GreySett:
    """Bring sett, width and length to the grey state, and find the crimp that goes with them."""
    width_kept, length_kept = _kept_to_grey(stage, finishing)
    length_m = construction.length_m
    ends, picks = construction.warp.threads_per_cm, construction.weft.threads_per_cm
    d_warp, d_weft = _mean_diameter_mm(*warp), _mean_diameter_mm(*weft)

    def estimate(ends_per_cm: float, picks_per_cm: float) -> CrimpEstimate:
        found = estimate_crimps(
            ends_per_cm=ends_per_cm,
            picks_per_cm=picks_per_cm,
            warp_diameter_mm=d_warp,
            weft_diameter_mm=d_weft,
            mean_float_of_picks=structure.mean_float_of_picks,
            mean_float_of_ends=structure.mean_float_of_ends,
            warp_crimp_pct=construction.warp.crimp_pct,
            weft_crimp_pct=construction.weft.crimp_pct,
        )
        # Rounded as it is told, so that to state the estimate changes nothing.
        return replace(
            found,
            warp_crimp_pct=_as_told(found.warp_crimp_pct, estimated=found.warp_estimated),
            weft_crimp_pct=_as_told(found.weft_crimp_pct, estimated=found.weft_estimated),
        )

    picks /= length_kept
    crimp = estimate(ends / width_kept, picks)
    if stage is Stage.LOOM_STATE:
        # In the reed the weft lies straight, so the grey width needs the crimp, which needs the
        # grey sett: a few rounds bring the two together to well under the estimate's error.
        for _ in range(CRIMP_ROUNDS):
            crimp = estimate(ends * (1 + crimp.weft_crimp_pct / 100), picks)
        width_kept = 1 / (1 + crimp.weft_crimp_pct / 100)
    return _GreySett(
        ends_per_cm=ends / width_kept,
        picks_per_cm=picks,
        width_cm=construction.width_cm * width_kept,
        length_m=None if length_m is None else length_m * length_kept,
        crimp=crimp,
    )


def _as_told(crimp_pct: float, *, estimated: bool) -> float:
    return round(crimp_pct, CRIMP_DECIMALS) if estimated else crimp_pct


def _kept_to_grey(stage: Stage, finishing: _Shrinkage) -> tuple[float, float]:
    """Factors by which a stated width and length are multiplied to give the grey ones."""
    if stage is Stage.FINISHED:
        return 1 / finishing.width_kept, 1 / finishing.length_kept
    if stage is Stage.LOOM_STATE:
        return 1.0, finishing.relaxed_kept
    return 1.0, 1.0


def _threads(
    construction: Construction, ledger: Ledger
) -> tuple[Mapping[str, YarnFacts], ThreadOrder, Mapping[str, YarnFacts], ThreadOrder]:
    """Resolve yarns and orders of both systems, and report every fault of both at once."""
    faults: list[Fault] = []
    with collecting(faults, below="/warp"):
        warp_yarns, warp_order = _threads_of(construction.warp, ledger.below("/warp"))
    with collecting(faults, below="/weft"):
        weft_yarns, weft_order = _threads_of(construction.weft, ledger.below("/weft"))
    if faults:
        raise InputError(faults)
    return warp_yarns, warp_order, weft_yarns, weft_order


def _threads_of(system: ThreadSystem, ledger: Ledger) -> _Threads:
    yarns: dict[str, YarnFacts] = {}
    faults: list[Fault] = []
    for key, yarn in system.yarns.items():
        with collecting(faults, below=f"/yarns/{key}"):
            yarns[key] = resolve_yarn(yarn, ledger.below(f"/yarns/{key}"))
    with collecting(faults, below="/order"):
        order = _order(system)
    if faults:
        raise InputError(faults)
    return yarns, order


def _order(system: ThreadSystem) -> ThreadOrder:
    text = system.order
    if text is None:
        if len(system.yarns) != 1:
            raise InputError.of(
                "",
                f"{len(system.yarns)} yarns are given but no thread order; say how they follow "
                "one another",
                allowed="a thread order such as 24A 4B or 3(2A 2B) 4C",
            )
        text = next(iter(system.yarns))
    return parse_order(text, known=tuple(system.yarns))


def _order_mean(order: ThreadOrder, values: Mapping[str, float]) -> float:
    return sum(values[key] * count for key, count in order.counts.items()) / order.threads


def _mean_diameter_mm(yarns: Mapping[str, YarnFacts], order: ThreadOrder) -> float:
    return _order_mean(order, {key: yarn.diameter_mm for key, yarn in yarns.items()})


def _system(
    yarns: Mapping[str, YarnFacts], order: ThreadOrder, threads_per_cm: float, crimp_pct: float
) -> SystemFacts:
    return SystemFacts(
        yarns=yarns,
        order=order,
        linear_density_tex=_order_mean(
            order, {key: yarn.linear_density_tex for key, yarn in yarns.items()}
        ),
        diameter_mm=_mean_diameter_mm(yarns, order),
        threads_per_cm=threads_per_cm,
        crimp_pct=crimp_pct,
    )


def _note_crimp(crimp: CrimpEstimate, construction: Construction, ledger: Ledger) -> None:
    reason = (
        "estimated from Peirce's geometry (J. Text. Inst. 1937) with crossings flattened to "
        f"{CRIMP_FLATTENING:g} and the weave's average float; within {crimp.error_band_pct:g} "
        "percentage points on most of the published cloths it was fitted to"
    )
    for way, stated, value in (
        ("warp", construction.warp.crimp_pct, crimp.warp_crimp_pct),
        ("weft", construction.weft.crimp_pct, crimp.weft_crimp_pct),
    ):
        if stated is None:
            ledger.note(f"/{way}/crimp_pct", value, unit="%", reason=reason)


def _panel_gap_cm(construction: Construction, panels: int, ledger: Ledger) -> float:
    """The gap between panels; for one panel, the gap that a second one would need."""
    stated = construction.panel_gap_cm
    if panels == 1:
        return PANEL_GAP_CM if stated is None else stated
    return ledger.take(
        "/panel_gap_cm",
        stated,
        PANEL_GAP_CM,
        unit="cm",
        reason="room for the cutters between two panels; " + COMMON_PRACTICE,
    )


def _selvedge_ends_per_side(construction: Construction, ledger: Ledger) -> int:
    return ledger.take(
        "/selvedge/ends_per_side",
        construction.selvedge.ends_per_side,
        0,
        unit=None,
        reason="no extra selvedge ends stated",
    )


def _selvedge_shafts(construction: Construction, selvedge_ends: int, ledger: Ledger) -> int:
    stated = construction.selvedge.shafts
    if not selvedge_ends:
        return stated or 0
    return ledger.take(
        "/selvedge/shafts",
        stated,
        0,
        unit=None,
        reason="the selvedge is drawn on the ground's shafts; " + COMMON_PRACTICE,
    )


def _allowances(construction: Construction, ledger: Ledger) -> Allowances:
    given = construction.allowances
    at = ledger.below("/allowances")
    return Allowances(
        warp_waste_pct=at.take(
            "/warp_waste_pct", given.warp_waste_pct, 1.0, unit="%", reason=COMMON_PRACTICE
        ),
        weft_waste_pct=at.take(
            "/weft_waste_pct", given.weft_waste_pct, 1.0, unit="%", reason=COMMON_PRACTICE
        ),
        size_pct=at.take(
            "/size_pct", given.size_pct, 0.0, unit="%", reason="no size stated: unsized mass"
        ),
        loom_waste_m=at.take(
            "/loom_waste_m",
            given.loom_waste_m,
            4.6,
            unit="m",
            reason="2.8 m at tying or drawing-in and 1.8 m at the loom (course work on a flax "
            "weaving mill)",
        ),
    )


def _covers(warp: SystemFacts, weft: SystemFacts) -> Covers:
    def both(system: SystemFacts) -> tuple[float, float]:
        return (
            cover_factor(
                threads_per_cm=system.threads_per_cm,
                linear_density_tex=system.linear_density_tex,
            ),
            cover_factor_cotton(
                threads_per_cm=system.threads_per_cm,
                linear_density_tex=system.linear_density_tex,
            ),
        )

    (warp_si, warp_cotton), (weft_si, weft_cotton) = both(warp), both(weft)
    return Covers(
        warp=warp_si,
        weft=weft_si,
        cloth=cloth_cover_factor(warp=warp_si, weft=weft_si),
        warp_cotton=warp_cotton,
        weft_cotton=weft_cotton,
        cloth_cotton=cloth_cover_factor_cotton(warp=warp_cotton, weft=weft_cotton),
        warp_fraction=fractional_cover(
            threads_per_cm=warp.threads_per_cm, diameter_mm=warp.diameter_mm
        ),
        weft_fraction=fractional_cover(
            threads_per_cm=weft.threads_per_cm, diameter_mm=weft.diameter_mm
        ),
    )


def _mass(warp: SystemFacts, weft: SystemFacts) -> float:
    return mass_g_per_m2(
        ends_per_cm=warp.threads_per_cm,
        picks_per_cm=weft.threads_per_cm,
        warp_tex=warp.linear_density_tex,
        weft_tex=weft.linear_density_tex,
        warp_crimp_pct=warp.crimp_pct,
        weft_crimp_pct=weft.crimp_pct,
    )


def _setting(
    warp: SystemFacts, weft: SystemFacts, structure: Structure
) -> tuple[float, float, float]:
    """Tightness, and the use of the ends-plus-intersections limit either way, in per cent."""
    tightness = tightness_pct(
        ends_per_cm=warp.threads_per_cm,
        picks_per_cm=weft.threads_per_cm,
        warp_diameter_mm=warp.diameter_mm,
        weft_diameter_mm=weft.diameter_mm,
        mean_float_of_picks=structure.mean_float_of_picks,
        mean_float_of_ends=structure.mean_float_of_ends,
    )
    ends_use = ends_plus_intersections_use_pct(
        threads_per_cm=warp.threads_per_cm,
        diameter_mm=warp.diameter_mm,
        mean_float=structure.mean_float_of_picks,
    )
    picks_use = ends_plus_intersections_use_pct(
        threads_per_cm=weft.threads_per_cm,
        diameter_mm=weft.diameter_mm,
        mean_float=structure.mean_float_of_ends,
    )
    return tightness, ends_use, picks_use


def threads_by_yarn(system: SystemFacts, *, total: int, extra: int = 0) -> dict[str, int]:
    """Threads of each yarn in ``total`` threads of the order; ``extra`` go to the first yarn.

    Selvedge ends are taken from the first yarn of the order.
    """
    threads = system.order.over(total)
    if extra:
        first = system.order.sequence[0]
        threads[first] = threads.get(first, 0) + extra
    return threads


def coarsest_and_finest(yarns: Iterable[YarnFacts]) -> tuple[YarnFacts, YarnFacts]:
    """The coarsest and the finest of some yarns, by linear density."""
    ranked = sorted(yarns, key=lambda yarn: yarn.linear_density_tex)
    return ranked[-1], ranked[0]
