"""The facts of a cloth: everything that follows from the construction alone, computed once.

No loom is known here. An order is settled (``thread_systems``, ``cloth_defaults``), brought to the
grey state (``cloth_states``), and what follows is computed from numbers alone (``geometry``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Final, Generic, NamedTuple

from weavability.textiles.assumptions import Assumption, Ledger, ValueBand
from weavability.textiles.cloth_bounds import refuse_endless
from weavability.textiles.cloth_defaults import (
    PILE_ON_ROLL,
    AllowanceFacts,
    note_crimps,
    resolve_layered_thickness_mm,
    resolve_thickness_mm,
    yarns_thickness_mm,
)
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_setting import Setting, setting_of
from weavability.textiles.cloth_states import (
    StateNumbers,
    grey_cloth,
    in_finished_state,
    in_loom_state,
)
from weavability.textiles.cloth_symbols import ClothSymbols, cloth_symbols
from weavability.textiles.construction import Construction
from weavability.textiles.crimp import Crimps
from weavability.textiles.geometry import (
    cloth_cover_factor,
    cloth_cover_factor_cotton,
    cover_factor,
    cover_factor_cotton,
    mass_g_per_m2,
)
from weavability.textiles.layered_cloth import (
    LayerFacts,
    layer_facts,
)
from weavability.textiles.numbers import N
from weavability.textiles.order_lengths import Lengths
from weavability.textiles.records import record
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.warp_groups import pile_ratio_of
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_structure import Structure


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
class Covers:
    """Cover factors: SI (threads/cm × √tex ÷ 10) and cotton form (threads/inch ÷ √Ne)."""

    warp: float
    weft: float
    cloth: float
    warp_cotton: float
    weft_cotton: float
    cloth_cotton: float


@dataclass(frozen=True, slots=True, kw_only=True)
class States:
    """The cloth in each of its states: the width of one panel, the length of all together.

    Attributes:
        loom_state: In the reed and under the take-up's tension.
        grey: Off the loom.
        finished: After finishing.
    """

    loom_state: StateNumbers[float]
    grey: StateNumbers[float]
    finished: StateNumbers[float]


@record(kw_only=True)
class ClothMeasures:
    """What of the facts of a cloth decides how much yarn it takes, and what it costs.

    Attributes:
        construction: As stated.
        warp: The warp in the grey cloth.
        weft: The weft in the grey cloth.
        allowances: Waste and size.
        panels: Panels woven side by side.
        widths: In the reed, grey and finished.
        ends: Of the ground, the selvedges and the whole warp.
        lengths: Cloth to weave.
        covers: Cover factors of both sets and of the cloth.
        states: The cloth in the loom, grey and finished.
        symbols: What the order says, before anything was computed.
        numbers: What follows from it, in numbers.
    """

    construction: Construction
    warp: SystemFacts
    weft: SystemFacts
    allowances: AllowanceFacts
    panels: int
    widths: Widths
    ends: Ends
    lengths: Lengths
    covers: Covers
    states: States
    symbols: ClothSymbols
    numbers: ClothNumbers[float]


@record(kw_only=True)
class ClothFacts(ClothMeasures):
    """Everything that follows from the construction alone.

    Attributes:
        repeat: The weave's true repeat, read once.
        structure: Floats, interlacings and layers of the weave.
        selvedge_shafts: Shafts that only selvedge ends are drawn on.
        picks_per_cm_on_loom: Those for which the take-up moves on, before the cloth relaxes.
        thickness_mm: Of the grey cloth.
        setting: How close the threads are set.
        longest_float_mm: Longest float on either side of the cloth, warp or weft.
        layers: Each layer, from the face to the back, then the pile; empty if none is declared.
        stitches_per_cm2: Of stitched layers; ``None`` if the cloth has none.
        assumptions: Every value that the order did not state.
    """

    repeat: Repeat
    structure: Structure
    selvedge_shafts: int
    picks_per_cm_on_loom: float
    thickness_mm: float
    setting: Setting
    longest_float_mm: float
    layers: tuple[LayerFacts, ...]
    stitches_per_cm2: float | None
    assumptions: tuple[Assumption, ...]

    @property
    def weave(self) -> Weave:
        """The weave, reduced to its true repeat."""
        return self.repeat.weave


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
    >>> facts.ends.total, round(facts.widths.reed_cm, 1), round(facts.states.grey.mass_g_per_m2, 1)
    (3840, 171.2, 97.5)
    """
    first, more = Ledger(), Ledger()
    symbols = cloth_symbols(construction, first, more)
    stated = symbols.stated()
    numbers = grey_cloth(stated)
    refuse_endless(
        construction,
        total_ends=int(numbers.total_ends),
        reed_cm=numbers.reed_width_cm,
        warp_m=numbers.woven_warp_m,
    )
    note_crimps(stated, numbers, symbols.warp, symbols.groups, first)
    return computed_facts(symbols, numbers, first, more)


def computed_facts(
    symbols: ClothSymbols, numbers: ClothNumbers[float], first: Ledger, more: Ledger
) -> ClothFacts:
    """Put together the facts of a cloth whose numbers are computed.

    Args:
        symbols: What the order says.
        numbers: What follows from it.
        first: Holds what was assumed about weave, yarns, shrinkage and crimp.
        more: Holds what else was assumed, and takes a note of the thickness.
    """
    measures = cloth_measures(symbols, numbers)
    warp, weft = measures.warp, measures.weft
    layers = _layers(symbols, warp, weft, numbers)
    thickness_mm = _thickness_mm(symbols, layers, more)
    return ClothFacts(
        **{name: getattr(measures, name) for name in _MEASURES},
        repeat=symbols.repeat,
        structure=symbols.structure,
        selvedge_shafts=symbols.selvedge_shafts,
        picks_per_cm_on_loom=numbers.picks_per_cm_on_loom,
        thickness_mm=thickness_mm,
        setting=setting_of(warp, weft, symbols, numbers, layers),
        longest_float_mm=numbers.longest_float_mm,
        layers=layers,
        stitches_per_cm2=_stitches_per_cm2(symbols, numbers),
        assumptions=(*first, *more),
    )


_MEASURES: Final = tuple(each.name for each in fields(ClothMeasures))


def cloth_measures(symbols: ClothSymbols, numbers: ClothNumbers[float]) -> ClothMeasures:
    """Put together what of the facts of a cloth decides how much yarn it takes.

    Args:
        symbols: What the order says.
        numbers: What follows from it.
    """
    warp, weft = grey_systems(symbols, numbers, estimated_crimps(symbols, numbers))
    states = cloth_in_states(warp, weft, symbols, numbers)
    return ClothMeasures(
        construction=symbols.construction,
        warp=warp,
        weft=weft,
        allowances=symbols.allowances,
        panels=symbols.panels,
        widths=Widths(
            grey_cm=numbers.grey_width_cm,
            finished_cm=states.finished.width_cm,
            panel_reed_cm=numbers.panel_reed_width_cm,
            panel_gap_cm=symbols.panel_gap_cm,
            reed_cm=numbers.reed_width_cm,
        ),
        ends=Ends(
            ground=int(numbers.ground_ends),
            selvedge=symbols.selvedge_ends,
            total=int(numbers.total_ends),
        ),
        lengths=symbols.lengths,
        covers=_covers(warp, weft),
        states=states,
        symbols=symbols,
        numbers=numbers,
    )


class EstimatedCrimps(NamedTuple, Generic[N]):
    """Crimps of threads that state none: of every warp yarn by its key, and of the weft."""

    warp_pct: Mapping[str, N]
    weft_pct: N


def estimated_crimps(symbols: ClothSymbols, numbers: ClothNumbers[N]) -> EstimatedCrimps[N]:
    """Return the estimated crimps; that of a warp yarn is that of its group."""
    by_yarn = {
        key: found.estimated_warp_crimp_pct
        for group, found in zip(symbols.groups, numbers.groups, strict=True)
        for key in group.yarns
    }
    return EstimatedCrimps(by_yarn, numbers.estimated_weft_crimp_pct)


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


def grey_systems(
    symbols: ClothSymbols, numbers: ClothNumbers[float], estimated: EstimatedCrimps[float]
) -> tuple[SystemFacts, SystemFacts]:
    """Return warp and weft in the grey cloth.

    Args:
        symbols: What the order says.
        numbers: The grey cloth.
        estimated: Crimps of the threads that state none.
    """
    warp = SystemFacts.of(
        symbols.warp,
        threads_per_cm=numbers.ends_per_cm,
        crimp_pct=numbers.warp_crimp_pct,
        estimated_crimps_pct=estimated.warp_pct,
        pile_ratios=pile_ratio_of(symbols.groups),
    )
    weft = SystemFacts.of(
        symbols.weft,
        threads_per_cm=numbers.picks_per_cm,
        crimp_pct=numbers.weft_crimp_pct,
        estimated_crimps_pct=dict.fromkeys(symbols.weft.yarns, estimated.weft_pct),
    )
    return warp, weft


def thickness_on_roll_mm(symbols: ClothSymbols) -> float:
    """Return the thickness of the grey cloth on the cloth roll.

    Pile is pressed there to a share of what it adds to the ground. Only layers ask for the whole
    cloth.
    """
    if symbols.layers is None:
        stated_mm = symbols.construction.thickness_mm
        return yarns_thickness_mm(symbols.warp, symbols.weft) if stated_mm is None else stated_mm
    numbers = symbols.grey
    warp, weft = grey_systems(symbols, numbers, estimated_crimps(symbols, numbers))
    layers = _layers(symbols, warp, weft, numbers)
    full_mm = _thickness_mm(symbols, layers, Ledger(keeps=False))
    ground_mm = sum(layer.thickness_mm for layer in layers if not layer.layer.is_pile)
    has_pile = any(layer.layer.is_pile for layer in layers)
    pile_mm = max(0.0, full_mm - ground_mm) if has_pile else 0.0
    return full_mm - (1 - PILE_ON_ROLL) * pile_mm


def estimated_thickness(
    symbols: ClothSymbols, numbers: ClothNumbers[float]
) -> tuple[float, ValueBand]:
    """Return the thickness of the grey cloth and its band, which is itself if it is stated."""
    ledger = Ledger()
    warp, weft = grey_systems(symbols, numbers, estimated_crimps(symbols, numbers))
    found = _thickness_mm(symbols, _layers(symbols, warp, weft, numbers), ledger)
    band = next((line.band for line in ledger), None)
    return found, band or ValueBand(found, found)


def _layers(
    symbols: ClothSymbols, warp: SystemFacts, weft: SystemFacts, numbers: ClothNumbers[float]
) -> tuple[LayerFacts, ...]:
    if symbols.layers is None:
        return ()
    return tuple(layer_facts(symbols.layers, warp, weft, numbers))


def _stitches_per_cm2(symbols: ClothSymbols, numbers: ClothNumbers[float]) -> float | None:
    per_crossing = None if symbols.layers is None else symbols.layers.stitches_per_crossing
    if per_crossing is None:
        return None
    return per_crossing * numbers.ends_per_cm * numbers.picks_per_cm


def _thickness_mm(symbols: ClothSymbols, layers: tuple[LayerFacts, ...], ledger: Ledger) -> float:
    construction = symbols.construction
    if not symbols.in_layers:
        return resolve_thickness_mm(construction, symbols.warp, symbols.weft, ledger)
    pile = [layer.thickness_mm for layer in layers if layer.layer.is_pile]
    ground = [layer.thickness_mm for layer in layers if not layer.layer.is_pile]
    return resolve_layered_thickness_mm(
        construction, ground_mm=sum(ground), pile_mm=sum(pile), ledger=ledger
    )


def cloth_in_states(
    warp: SystemFacts, weft: SystemFacts, symbols: ClothSymbols, numbers: ClothNumbers[float]
) -> States:
    """Return the cloth in each of its states, from warp and weft in the grey cloth."""
    shrinkages = symbols.shrinkages
    by_mass = Crimps(warp.mass_crimp_pct, weft.mass_crimp_pct)
    grey = grey_state(symbols, numbers, by_mass)
    return States(
        loom_state=in_loom_state(
            grey,
            weft_crimp_pct=numbers.weft_crimp_pct,
            relaxed_kept=shrinkages.relaxed_kept,
        ),
        grey=grey,
        finished=finished_state(symbols, grey),
    )


def grey_state(
    symbols: ClothSymbols, numbers: ClothNumbers[N], by_mass: Crimps[N]
) -> StateNumbers[N]:
    """Return the grey cloth.

    Args:
        symbols: What the order says.
        numbers: The grey cloth in numbers.
        by_mass: Mean crimps, weighted by linear density.
    """
    return StateNumbers(
        ends_per_cm=numbers.ends_per_cm,
        picks_per_cm=numbers.picks_per_cm,
        width_cm=numbers.grey_width_cm,
        length_m=symbols.lengths.grey_m + 0 * numbers.ends_per_cm,
        mass_g_per_m2=mass_g_per_m2(
            ends_per_cm=numbers.ends_per_cm,
            picks_per_cm=numbers.picks_per_cm,
            warp_tex=symbols.warp.linear_density_tex,
            weft_tex=symbols.weft.linear_density_tex,
            warp_crimp_pct=by_mass.warp_crimp_pct,
            weft_crimp_pct=by_mass.weft_crimp_pct,
        ),
    )


def finished_state(symbols: ClothSymbols, grey: StateNumbers[N]) -> StateNumbers[N]:
    """Return a grey cloth as it is when finished."""
    kept = symbols.shrinkages
    return in_finished_state(
        grey,
        width_kept=kept.width_kept,
        length_kept=kept.length_kept,
        mass_kept=kept.mass_kept,
    )
