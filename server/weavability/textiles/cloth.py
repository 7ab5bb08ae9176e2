"""The facts of a cloth: everything that follows from the construction alone, computed once.

No loom is known here. An order is settled (``thread_systems``, ``cloth_defaults``), brought to the
grey state (``cloth_states``), and what follows is computed from numbers alone (``geometry``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Final, NamedTuple

from weavability.textiles.assumptions import Assumption, Ledger, Moves, ValueBand
from weavability.textiles.cloth_bounds import refuse_endless, refuse_impossible
from weavability.textiles.cloth_defaults import (
    AllowanceFacts,
    note_crimps,
    note_weave,
    resolve_allowances,
    resolve_layered_thickness_mm,
    resolve_panels,
    resolve_shrinkages,
    resolve_stage,
    resolve_thickness_mm,
)
from weavability.textiles.cloth_states import (
    ClothNumbers,
    Shrinkages,
    StatedCloth,
    StateNumbers,
    grey_cloth,
    grey_length_factor,
    grey_width_factor,
    in_finished_state,
    in_loom_state,
)
from weavability.textiles.construction import Construction, Joined, Stage, ThreadSystem
from weavability.textiles.errors import pointing_below
from weavability.textiles.geometry import (
    cloth_cover_factor,
    cloth_cover_factor_cotton,
    cover_factor,
    cover_factor_cotton,
    mass_g_per_m2,
)
from weavability.textiles.jamming import (
    NO_SQUARES,
    Place,
    Squares,
    remembered_squares,
    squares_tightness_pct,
)
from weavability.textiles.layered_cloth import (
    NO_LAYERS,
    LayeredThreads,
    LayerFacts,
    layer_facts,
    layered_threads,
)
from weavability.textiles.layered_weave import LayeredWeave, layered_weave
from weavability.textiles.numbers import Lists
from weavability.textiles.order_lengths import Lengths, resolve_lengths
from weavability.textiles.selvedge_facts import Edge, SelvedgeFacts, resolve_selvedge
from weavability.textiles.setting_rules import (
    Opinion,
    brierley_square_sett_per_cm,
    disagreement,
    ends_plus_intersections_use_pct,
    is_plain_or_regular_twill,
)
from weavability.textiles.thread_systems import SystemFacts, Threads, resolve_threads
from weavability.textiles.warp_group_crimps import stated_groups
from weavability.textiles.warp_groups import GroupFacts, pile_ratio_of, warp_groups
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_structure import Structure, remembered_structure


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
class Setting:
    """How close the threads of the grey cloth are set.

    Attributes:
        tightness_pct: Share of the jam where the threads are closest; at 100 % round yarns can come
            no closer. Of layers, in the tightest one; so are the others.
        mean_tightness_pct: The same by mean floats and setts of the whole cloth.
        tightest: Where the threads are closest; ``None`` of a cloth that is judged as a whole or
            in layers.
        tightest_in_plane: Where among threads that cannot lie over one another; ``None`` likewise.
        ends_use_pct: Ends as a share of the ends-plus-intersections limit.
        picks_use_pct: Picks as a share of that limit.
        square_sett_per_cm: Brierley's greatest square sett; ``None`` for other cloth than cotton in
            plain and regular twill.
        square_sett_use_pct: Geometric mean of both setts as a share of it; ``None`` likewise.
        disagreement: Where these rules and the jam disagree; ``None`` if they do not.
    """

    tightness_pct: float
    mean_tightness_pct: float
    tightest: Place | None
    tightest_in_plane: Place | None
    ends_use_pct: float
    picks_use_pct: float
    square_sett_per_cm: float | None
    square_sett_use_pct: float | None
    disagreement: str | None


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
        states: The cloth in the loom, grey and finished.
        longest_float_mm: Longest float on either side of the cloth, warp or weft.
        layers: Each layer, from the face to the back, then the pile; empty if none is declared.
        stitches_per_cm2: Of stitched layers; ``None`` if the cloth has none.
        symbols: What the order says, before anything was computed.
        numbers: What follows from it, in numbers.
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
    states: States
    longest_float_mm: float
    layers: tuple[LayerFacts, ...]
    stitches_per_cm2: float | None
    symbols: ClothSymbols
    numbers: ClothNumbers[float]
    assumptions: tuple[Assumption, ...]

    @property
    def weave(self) -> Weave:
        """The weave, reduced to its true repeat."""
        return self.repeat.weave


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClothSymbols:
    """What an order says of its cloth before anything is computed: what is counted, not measured.

    Attributes:
        construction: As stated.
        stage: Where sett, width and length are measured.
        shrinkages: Of relaxation and finishing.
        repeat: The weave's true repeat.
        structure: Of the weave.
        squares: Of the weave, those that may govern its jam.
        warp: Yarns and thread order of the warp.
        weft: Yarns and thread order of the weft.
        layers: The layers and their yarns; ``None`` if none is declared.
        groups: Groups of ends with a beam of their own.
        panels: Woven side by side.
        panel_gap_cm: In the reed between two panels.
        selvedge: Its edges.
        lengths: Cloth to weave.
        allowances: Waste and size.
        assumed: Pointers in the request of what is assumed of it and bears on how it is woven,
            ``*`` for the key of a yarn.
        moves: Values that were assumed in place of the defaults, to see what they decide.
    """

    construction: Construction
    stage: Stage
    shrinkages: Shrinkages
    repeat: Repeat
    structure: Structure
    squares: Squares
    warp: Threads
    weft: Threads
    layers: LayeredThreads | None
    groups: tuple[GroupFacts, ...]
    panels: int
    panel_gap_cm: float
    selvedge: SelvedgeFacts
    lengths: Lengths
    allowances: AllowanceFacts
    assumed: frozenset[str]
    moves: Moves | None = None

    @property
    def selvedge_ends(self) -> int:
        """Extra ends of all selvedges of all panels."""
        return self.selvedge.ends

    @property
    def selvedge_shafts(self) -> int:
        """Shafts that only selvedge ends are drawn on."""
        return self.selvedge.shafts

    def stated(self) -> StatedCloth[float]:
        """Return the cloth in numbers, as it is stated."""
        warp, weft, structure = self.construction.warp, self.construction.weft, self.structure
        warp_share, warp_crimp_pct = self.warp.stated_crimp(pile=pile_ratio_of(self.groups))
        weft_share, weft_crimp_pct = self.weft.stated_crimp()
        return StatedCloth(
            ends_per_cm=warp.threads_per_cm,
            picks_per_cm=weft.threads_per_cm,
            width_cm=self.construction.width_cm,
            grey_width_factor=grey_width_factor(self.stage, self.shrinkages),
            grey_length_factor=grey_length_factor(self.stage, self.shrinkages),
            in_loom_state=self.stage is Stage.LOOM_STATE,
            relaxed_kept=self.shrinkages.relaxed_kept,
            width_kept=self.shrinkages.width_kept,
            length_kept=self.shrinkages.length_kept,
            warp_width_mm=self.warp.width_mm,
            weft_width_mm=self.weft.width_mm,
            warp_depth_mm=self.warp.depth_mm,
            weft_depth_mm=self.weft.depth_mm,
            has_tape=self.warp.has_tape or self.weft.has_tape,
            mean_float_of_picks=structure.mean_float_of_picks,
            mean_float_of_ends=structure.mean_float_of_ends,
            squares=self._squares(),
            lies_over=not self.in_layers and (structure.cloths > 1 or self.squares.all_lie_over),
            longest_warp_float_picks=structure.longest_warp_float_picks,
            longest_weft_float_ends=structure.longest_weft_float_ends,
            warp_stated_share=warp_share,
            warp_crimp_pct=warp_crimp_pct,
            weft_stated_share=weft_share,
            weft_crimp_pct=weft_crimp_pct,
            panels=self.panels,
            panel_gap_cm=self.panel_gap_cm,
            selvedge_ends=self.selvedge_ends,
            loom_length_m=self.lengths.loom_m,
            layers=NO_LAYERS if self.layers is None else self.layers.stated,
            in_layers=self.in_layers,
            groups=stated_groups(
                self.groups, self.warp, self.weft, self.repeat, self.structure, self.layers
            ),
        )

    @property
    def in_layers(self) -> bool:
        """Whether several layers are declared, or pile: one layer for all threads is none."""
        return self.layers is not None and len(self.layers.woven.layers) > 1

    def _squares(self) -> Lists:
        """Return the squares that may govern the jam: of layers, those of each layer."""
        if self.layers is not None and self.in_layers:
            return Lists.end_to_end(self.layers.squares, in_rows=False)
        return NO_SQUARES if self.squares.is_whole else self.squares.lists

    @property
    def ground_edge(self) -> Edge | None:
        """How the outermost ends of the ground weave; ``None`` if the selvedge has a weave."""
        known = self.selvedge
        return Edge(known.edge, known.unheld_turns) if known.repeat is None else None

    @property
    def layered_weave(self) -> LayeredWeave | None:
        """The layers in the weave, without their yarns; ``None`` if none is declared."""
        return None if self.layers is None else self.layers.woven


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
    construction = symbols.construction
    warp, weft = grey_systems(symbols, numbers, estimated_crimps(symbols, numbers))
    states = cloth_in_states(warp, weft, symbols, numbers)
    layers = _layers(symbols, warp, weft, numbers)
    thickness_mm = _thickness_mm(symbols, layers, more)
    return ClothFacts(
        construction=construction,
        repeat=symbols.repeat,
        structure=symbols.structure,
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
        selvedge_shafts=symbols.selvedge_shafts,
        picks_per_cm_on_loom=numbers.picks_per_cm_on_loom,
        lengths=symbols.lengths,
        thickness_mm=thickness_mm,
        covers=_covers(warp, weft),
        setting=_setting(warp, weft, symbols, numbers),
        states=states,
        longest_float_mm=numbers.longest_float_mm,
        layers=layers,
        stitches_per_cm2=_stitches_per_cm2(symbols, numbers),
        symbols=symbols,
        numbers=numbers,
        assumptions=(*first, *more),
    )


class EstimatedCrimps(NamedTuple):
    """Crimps of threads that state none: of every warp yarn by its key, and of the weft."""

    warp_pct: Mapping[str, float]
    weft_pct: float


def estimated_crimps(symbols: ClothSymbols, numbers: ClothNumbers[float]) -> EstimatedCrimps:
    """Return the estimated crimps; that of a warp yarn is that of its group."""
    by_yarn = {
        key: found.estimated_warp_crimp_pct
        for group, found in zip(symbols.groups, numbers.groups, strict=True)
        for key in group.yarns
    }
    return EstimatedCrimps(by_yarn, numbers.estimated_weft_crimp_pct)


def cloth_symbols(
    construction: Construction, first: Ledger, more: Ledger, like: ClothSymbols | None = None
) -> ClothSymbols:
    """Settle everything that an order says of its cloth and that needs no computing.

    Args:
        construction: The cloth as ordered.
        first: Takes what is assumed about weave, yarns and shrinkage.
        more: Takes what else is assumed.
        like: Of a construction from which this one was changed: what the change leaves as it is,
            is taken from it, and its assumptions are not noted again.

    Raises:
        InputError: For yarns, thread orders or values that cannot be read; pointers are relative
            to the construction.
    """
    refuse_impossible(construction)
    changed = None if like is None else changed_fields(construction, like.construction)
    if like is not None and changed is not None and changed <= _OF_NO_SYMBOL:
        return replace(like, construction=construction)
    note_weave(construction, first)
    stage = resolve_stage(construction, first)
    if like is not None and changed is not None:
        warp, weft = like.warp, like.weft
        first.assumed |= {at.removeprefix(CONSTRUCTION) for at in like.assumed if _YARNS in at}
    else:
        warp, weft = resolve_threads(construction, first)
    is_woven_alike = like is not None and like.construction.weave is construction.weave
    same = like if is_woven_alike else None
    repeat, structure = (
        (same.repeat, same.structure) if same else remembered_structure(construction.weave)
    )
    woven = _woven_layers(construction, repeat, same)
    groups = warp_groups(construction, warp, woven)
    shrinkages = resolve_shrinkages(construction, stage, warp=warp, weft=weft, ledger=first)
    panels, gap_cm = resolve_panels(construction, more)
    edge = None if same is None else same.ground_edge
    selvedge = resolve_selvedge(construction, repeat, woven, warp, panels, more, edge)
    lengths = resolve_lengths(
        construction,
        grey_per_stated=grey_length_factor(stage, shrinkages),
        length_kept=shrinkages.length_kept,
        panels=panels,
        ledger=more,
    )
    allowances = resolve_allowances(construction, warp, more)
    dents = construction.reed.ends_in_dents
    is_dented_alike = same is not None and same.construction.reed.ends_in_dents == dents
    return ClothSymbols(
        construction=construction,
        stage=stage,
        shrinkages=shrinkages,
        repeat=repeat,
        structure=structure,
        squares=same.squares
        if same is not None and is_dented_alike
        else remembered_squares(repeat, dents),
        warp=warp,
        weft=weft,
        layers=None if woven is None else layered_threads(woven, warp, weft, dents),
        groups=groups,
        panels=panels,
        panel_gap_cm=gap_cm,
        selvedge=selvedge,
        lengths=lengths,
        allowances=allowances,
        assumed=_assumed(construction, stage, weft, first, more),
    )


def _woven_layers(
    construction: Construction, repeat: Repeat, same: ClothSymbols | None
) -> LayeredWeave | None:
    """Return the layers in the weave, those of an order of the same weave if it declares them."""
    if construction.layers is None:
        return None
    if same is not None and same.construction.layers == construction.layers:
        return same.layered_weave
    with pointing_below("/layers"):
        return layered_weave(repeat.weave, construction.layers)


_FIELDS: Final = tuple(field.name for field in fields(Construction))
_OF_NO_SYMBOL: Final = frozenset(
    {"requested_speed_picks_per_min", "warp", "weft", "width_cm", "draft", "reed"}
)
"""Fields of which the symbols hold nothing beside the construction itself; of warp and weft, their
setts, and of the reed, all but its pattern."""


def changed_fields(one: Construction, other: Construction) -> frozenset[str] | None:
    """Name the fields that are not the same objects; ``None`` if yarns or thread orders are not.

    A denting pattern counts as ``ends_in_dents``, because the jam of a cloth depends on it.
    """
    if not (_same_threads(one.warp, other.warp) and _same_threads(one.weft, other.weft)):
        return None
    if one.selvedge.yarn != other.selvedge.yarn:
        return None
    found = {name for name in _FIELDS if getattr(one, name) is not getattr(other, name)}
    if one.reed.ends_in_dents != other.reed.ends_in_dents:
        found.add("ends_in_dents")
    return frozenset(found)


def _same_threads(one: ThreadSystem, other: ThreadSystem) -> bool:
    """Whether two systems are the same but for their setts."""
    if one is other:
        return True
    return one == replace(other, threads_per_cm=one.threads_per_cm)


CONSTRUCTION: Final = "/construction"
WEFT_CRIMP: Final = "/construction/weft/crimp_pct"
_YARNS: Final = "/yarns/"


_OF_FINISHING: Final = {
    f"{CONSTRUCTION}/finishing/{name}_shrinkage_pct" for name in ("width", "length")
}
GROUP_DENSITY: Final = "/construction/warp/beams/*/density_g_per_cm3"


def _assumed(
    construction: Construction, stage: Stage, weft: Threads, *ledgers: Ledger
) -> frozenset[str]:
    """Return what is assumed of a cloth and bears on how it is woven.

    Crimps and densities on the beam are noted later. Cloth that is measured before it is finished
    is woven alike, however it shrinks then; what is required of it finished depends on that.
    """
    found: set[str] = set()
    for ledger in ledgers:
        found |= ledger.assumed if ledger.prefix else {CONSTRUCTION + at for at in ledger.assumed}
    if any(group.density_g_per_cm3 is None for group in construction.warp.beams):
        found.add(GROUP_DENSITY)
    if weft.stated_crimp()[0] < 1.0:
        found.add(WEFT_CRIMP)
    if stage is not Stage.FINISHED and construction.requirements is None:
        found -= _OF_FINISHING
    return _kept_once(frozenset(found))


@lru_cache(maxsize=4096)
def _kept_once(assumed: frozenset[str]) -> frozenset[str]:
    """Return the same object for equal sets: most orders leave the same fields open."""
    return assumed


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
    symbols: ClothSymbols, numbers: ClothNumbers[float], estimated: EstimatedCrimps
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


def cloth_thickness_mm(symbols: ClothSymbols) -> float:
    """Return the thickness of the grey cloth, of which only layers ask for the whole cloth."""
    if symbols.layers is None:
        return _thickness_mm(symbols, (), Ledger(keeps=False))
    return estimated_thickness(symbols, grey_cloth(symbols.stated()))[0]


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
    if symbols.layers is None or symbols.layers.woven.joined is not Joined.STITCHED:
        return None
    return symbols.layers.stitches_per_crossing * numbers.ends_per_cm * numbers.picks_per_cm


def _thickness_mm(symbols: ClothSymbols, layers: tuple[LayerFacts, ...], ledger: Ledger) -> float:
    construction = symbols.construction
    if not layers:
        return resolve_thickness_mm(construction, symbols.warp, symbols.weft, ledger)
    pile = [layer.thickness_mm for layer in layers if layer.layer.is_pile]
    ground = [layer.thickness_mm for layer in layers if not layer.layer.is_pile]
    return resolve_layered_thickness_mm(
        construction, ground_mm=sum(ground), pile_mm=sum(pile), ledger=ledger
    )


def _setting(
    warp: SystemFacts, weft: SystemFacts, symbols: ClothSymbols, numbers: ClothNumbers[float]
) -> Setting:
    tightest, in_plane = _tightest(warp, weft, symbols)
    ends_use_pct, picks_use_pct = _ends_plus_intersections(warp, weft, symbols, numbers)
    square, square_use_pct = _square_sett(warp, weft, symbols)
    opinions = [
        Opinion("the jam", numbers.tightness_pct),
        Opinion("ends plus intersections for the ends", ends_use_pct),
        Opinion("ends plus intersections for the picks", picks_use_pct),
    ]
    if square_use_pct is not None:
        opinions.append(Opinion("Brierley's square sett", square_use_pct))
    return Setting(
        tightness_pct=numbers.tightness_pct,
        mean_tightness_pct=numbers.mean_tightness_pct,
        tightest=tightest,
        tightest_in_plane=in_plane,
        ends_use_pct=ends_use_pct,
        picks_use_pct=picks_use_pct,
        square_sett_per_cm=square,
        square_sett_use_pct=square_use_pct,
        disagreement=disagreement(opinions),
    )


def _ends_plus_intersections(
    warp: SystemFacts, weft: SystemFacts, symbols: ClothSymbols, numbers: ClothNumbers[float]
) -> tuple[float, float]:
    """Return the use of that limit by ends and picks; of layers, that of the closest one."""
    if symbols.layers is None:
        structure = symbols.structure
        closest = [
            (warp.threads_per_cm, warp.width_mm, structure.mean_float_of_picks),
            (weft.threads_per_cm, weft.width_mm, structure.mean_float_of_ends),
        ]
        return _use_pct([closest[0]]), _use_pct([closest[1]])
    layers = list(zip(numbers.layers, symbols.layers.stated, strict=True))
    return (
        _use_pct(
            [
                (grey.ends_per_cm, layer.warp_width_mm, layer.mean_float_of_picks)
                for grey, layer in layers
            ]
        ),
        _use_pct(
            [
                (grey.picks_per_cm, layer.weft_width_mm, layer.mean_float_of_ends)
                for grey, layer in layers
            ]
        ),
    )


def _use_pct(sets: Sequence[tuple[float, float, float]]) -> float:
    """Return the greatest use of sets of threads: sett, diameter and float of what crosses them."""
    return max(
        ends_plus_intersections_use_pct(
            threads_per_cm=threads_per_cm, diameter_mm=diameter_mm, mean_float=mean_float
        )
        for threads_per_cm, diameter_mm, mean_float in sets
    )


def _square_sett(
    warp: SystemFacts, weft: SystemFacts, symbols: ClothSymbols
) -> tuple[float | None, float | None]:
    """Return Brierley's square sett and the use of it, for cotton in plain and regular twill."""
    yarns = (*warp.yarns.values(), *weft.yarns.values())
    is_cotton = all(yarn.fibre.key == "cotton" and yarn.kind == "spun" for yarn in yarns)
    if not (
        is_cotton and not symbols.in_layers and is_plain_or_regular_twill(symbols.repeat.weave)
    ):
        return None, None
    square = brierley_square_sett_per_cm(
        linear_density_tex=(warp.linear_density_tex + weft.linear_density_tex) / 2,
        mean_float=symbols.structure.mean_float_of_picks,
    )
    return square, 100 * math.sqrt(warp.threads_per_cm * weft.threads_per_cm) / square


def _tightest(
    warp: SystemFacts, weft: SystemFacts, symbols: ClothSymbols
) -> tuple[Place | None, Place | None]:
    """Return where the threads are closest, of all and of those that lie in one plane."""
    squares = symbols.squares
    if squares.is_whole or symbols.in_layers:
        return None, None
    return squares.tightest(
        squares_tightness_pct(
            squares.lists,
            ends_per_cm=warp.threads_per_cm,
            picks_per_cm=weft.threads_per_cm,
            warp_diameter_mm=warp.width_mm,
            weft_diameter_mm=weft.width_mm,
            warp_depth_mm=warp.depth_mm,
            weft_depth_mm=weft.depth_mm,
        )
    )


def cloth_in_states(
    warp: SystemFacts, weft: SystemFacts, symbols: ClothSymbols, numbers: ClothNumbers[float]
) -> States:
    """Return the cloth in each of its states, from warp and weft in the grey cloth."""
    shrinkages = symbols.shrinkages
    grey = StateNumbers(
        ends_per_cm=numbers.ends_per_cm,
        picks_per_cm=numbers.picks_per_cm,
        width_cm=numbers.grey_width_cm,
        length_m=symbols.lengths.grey_m,
        mass_g_per_m2=mass_g_per_m2(
            ends_per_cm=warp.threads_per_cm,
            picks_per_cm=weft.threads_per_cm,
            warp_tex=warp.linear_density_tex,
            weft_tex=weft.linear_density_tex,
            warp_crimp_pct=warp.mass_crimp_pct,
            weft_crimp_pct=weft.mass_crimp_pct,
        ),
    )
    return States(
        loom_state=in_loom_state(
            grey,
            weft_crimp_pct=numbers.weft_crimp_pct,
            relaxed_kept=shrinkages.relaxed_kept,
        ),
        grey=grey,
        finished=in_finished_state(
            grey,
            width_kept=shrinkages.width_kept,
            length_kept=shrinkages.length_kept,
            mass_kept=shrinkages.mass_kept,
        ),
    )
