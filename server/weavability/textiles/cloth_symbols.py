"""What an order says of its cloth before anything is computed: what is counted, not measured."""

from __future__ import annotations

from dataclasses import fields
from functools import cached_property, lru_cache
from typing import Any, Final, NamedTuple

from weavability.textiles.assumptions import Ledger, Moves
from weavability.textiles.cloth_bounds import refuse_impossible
from weavability.textiles.cloth_defaults import (
    AllowanceFacts,
    note_weave,
    resolve_allowances,
    resolve_panels,
    resolve_shrinkages,
    resolve_stage,
)
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth
from weavability.textiles.cloth_states import (
    Shrinkages,
    cloth_on_use,
    grey_length_factor,
    grey_width_factor,
)
from weavability.textiles.construction import Construction, Stage, ThreadSystem
from weavability.textiles.errors import pointing_below
from weavability.textiles.layered_cloth import (
    NO_LAYERS,
    LayeredThreads,
    layered_threads,
)
from weavability.textiles.layered_weave import LayeredWeave, layered_weave
from weavability.textiles.numbers import Lists, changed
from weavability.textiles.order_lengths import Lengths, resolve_lengths
from weavability.textiles.records import record
from weavability.textiles.selvedge_facts import (
    MOST_USUAL_ENDS,
    Edge,
    SelvedgeFacts,
    resolve_selvedge,
)
from weavability.textiles.thread_systems import Threads, resolve_threads
from weavability.textiles.warp_group_crimps import stated_groups
from weavability.textiles.warp_groups import GroupFacts, pile_ratio_of, warp_groups
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_squares import (
    NO_SQUARES,
    Squares,
    remembered_squares,
)
from weavability.textiles.weave_structure import Structure, remembered_structure


class MovedCloth(NamedTuple):
    """A cloth with other values assumed for what its order leaves open.

    Attributes:
        stated: As stated and otherwise moved, before its estimated weft crimp was.
        estimated_weft_crimp_pct: Around which the band of that lies.
        moved: With it as well.
        cloth: In the grey state.
    """

    stated: StatedCloth[float]
    estimated_weft_crimp_pct: float
    moved: StatedCloth[float]
    cloth: ClothNumbers[float]


@record(kw_only=True, eq=False, slots=False)
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
        return self._stated

    def for_setts_of(self, construction: Construction, assumed: frozenset[str]) -> ClothSymbols:
        """Return them for a construction of other setts and width, and all else alike."""
        made = self._but(construction=construction, assumed=assumed)
        vars(made)["_stated"] = changed(
            self._stated,
            ends_per_cm=construction.warp.threads_per_cm,
            picks_per_cm=construction.weft.threads_per_cm,
            width_cm=construction.width_cm,
        )
        vars(made)["moved_alike"] = self.moved_alike
        vars(made)["moved_first"] = self.moved_first
        return made

    @cached_property
    def moved_alike(self) -> dict[tuple[Moves, frozenset[str]], ClothSymbols]:
        """What was settled with other values assumed: once for all setts and widths."""
        return {}

    @cached_property
    def moved_first(self) -> dict[Moves, MovedCloth]:
        """The first cloth that was computed with other values assumed, of these setts or others."""
        return {}

    def with_values(self, **changes: Any) -> ClothSymbols:
        """Return them with some other values that were assumed."""
        made = self._but(**changes)
        if changes.keys() <= _NOT_STATED:
            vars(made)["_stated"] = self._stated
        return made

    def _but(self, **changes: Any) -> ClothSymbols:
        """Return them with others, like ``replace``, which takes several times as long."""
        made = object.__new__(ClothSymbols)
        kept = vars(self) | changes
        for name in ("_stated", "grey", "moved_alike", "moved_first"):
            kept.pop(name, None)
        vars(made).update(kept)
        return made

    @cached_property
    def grey(self) -> ClothNumbers[float]:
        """The grey cloth, in a reed of its sett and width; each number is computed when read."""
        return cloth_on_use(self._stated)

    def take_grey_of(self, like: ClothSymbols) -> None:
        """Take the grey cloth from another order, with all that is known of it, if both are one."""
        if self._stated == like.stated():
            vars(self)["grey"] = like.grey

    @cached_property
    def _stated(self) -> StatedCloth[float]:
        warp, weft, structure = self.construction.warp, self.construction.weft, self.structure
        pile = pile_ratio_of(self.groups)
        warp_share, warp_crimp_pct = self.warp.stated_crimp(pile=pile)
        weft_share, weft_crimp_pct = self.weft.stated_crimp()
        warp_least_pct, warp_greatest_pct = self.warp.stated_crimp_range_pct(pile=pile)
        weft_least_pct, weft_greatest_pct = self.weft.stated_crimp_range_pct()
        loose_picks, loose_ends, loose_share = self._loose
        return StatedCloth(
            ends_per_cm=warp.threads_per_cm,
            picks_per_cm=weft.threads_per_cm,
            width_cm=self.construction.width_cm,
            grey_width_factor=grey_width_factor(self.stage, self.shrinkages),
            grey_length_factor=grey_length_factor(self.stage, self.shrinkages),
            in_loom_state=self.stage is Stage.LOOM_STATE,
            taken_up_share=_taken_up_share(self.construction),
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
            side_share=max(structure.warp_up_share, 1.0 - structure.warp_up_share),
            picks_per_shed=structure.picks_per_shed,
            squares=self._squares(),
            lies_over=not self.in_layers and (structure.cloths > 1 or self.squares.all_lie_over),
            loose_float_of_picks=loose_picks,
            loose_float_of_ends=loose_ends,
            loose_picks_share=loose_share,
            longest_warp_float_picks=structure.longest_warp_float_picks,
            longest_weft_float_ends=self._longest_weft_float_ends,
            warp_stated_share=warp_share,
            warp_crimp_pct=warp_crimp_pct,
            warp_least_crimp_pct=warp_least_pct,
            warp_greatest_crimp_pct=warp_greatest_pct,
            weft_stated_share=weft_share,
            weft_crimp_pct=weft_crimp_pct,
            weft_least_crimp_pct=weft_least_pct,
            weft_greatest_crimp_pct=weft_greatest_pct,
            warp_moved_points=0.0,
            weft_moved_points=0.0,
            panels=self.panels,
            panel_gap_cm=self.panel_gap_cm,
            selvedge_ends=self.selvedge_ends,
            loom_length_m=self.lengths.loom_m,
            layers=NO_LAYERS if self.layers is None else self.layers.stated,
            groups=stated_groups(
                self.groups, self.warp, self.weft, self.repeat, self.structure, self.layers
            ),
        )

    @property
    def _loose(self) -> tuple[float, float, float]:
        """The mean floats, and the sett of the picks, of the loosest hundredth of a design."""
        if self.construction.figured is None or self.in_layers:
            return 0.0, 0.0, 1.0
        loose = self.squares.loose
        return loose.mean_float_of_picks, loose.mean_float_of_ends, loose.picks_share

    @property
    def _longest_weft_float_ends(self) -> int:
        """The longest float of a pick; what figuring wefts do behind the cloth is apart."""
        figured = self.construction.figured
        if figured is None:
            return self.structure.longest_weft_float_ends
        return int(figured.numbers.weft_float_ends)

    @property
    def fills_reed(self) -> bool:
        """Whether more than sett, width and crimp may decide the width in the reed."""
        return states_reed(self.construction) or _has_many_selvedge_ends(self.construction)

    @property
    def in_layers(self) -> bool:
        """Whether several layers are declared, or pile: one layer for all threads is none."""
        return self.layers is not None and len(self.layers.woven.layers) > 1

    def _squares(self) -> Lists:
        """Return the squares that may govern the jam: of layers, those of each layer."""
        if self.layers is not None and self.in_layers:
            squares = (*self.layers.squares, *self.layers.shared)
            return Lists.end_to_end(squares, in_rows=False)
        return NO_SQUARES if self.squares.is_whole else self.squares.lists

    @property
    def ground_edge(self) -> Edge | None:
        """How the outermost ends of the ground weave; ``None`` if the selvedge has a weave."""
        return self.selvedge.edge if self.selvedge.repeat is None else None

    @property
    def layered_weave(self) -> LayeredWeave | None:
        """The layers in the weave, without their yarns; ``None`` if none is declared."""
        return None if self.layers is None else self.layers.woven


_NOT_STATED: Final = frozenset({"moves", "allowances"})
"""Attributes from which no number of a stated cloth follows."""


def picks_taken_up(construction: Construction) -> bytes:
    """Return a byte for each pick of a design, 0 if the take-up stops on it; empty if on none.

    Picks on which it stops lie closer to the one before than the mean.
    """
    lifts = construction.design
    taken_up = None if lifts is None else lifts.taken_up
    return b"" if taken_up is None or taken_up.all() else taken_up.tobytes()


def _taken_up_share(construction: Construction) -> float:
    """Return the share of the picks for which the take-up moves the cloth on."""
    return 1.0 if construction.design is None else float(construction.design.taken_up.mean())


def cloth_symbols(
    construction: Construction,
    first: Ledger,
    more: Ledger,
    like: ClothSymbols | None = None,
    other: frozenset[str] | None = None,
) -> ClothSymbols:
    """Settle everything that an order says of its cloth and that needs no computing.

    Args:
        construction: The cloth as ordered.
        first: Takes what is assumed about weave, yarns and shrinkage.
        more: Takes what else is assumed.
        like: Of a construction from which this one was changed: what the change leaves as it is,
            is taken from it, and its assumptions are not noted again.
        other: What :func:`changed_fields` names between the two.

    Raises:
        InputError: For yarns, thread orders or values that cannot be read; pointers are relative
            to the construction.
    """
    refuse_impossible(construction, None if like is None else like.construction)
    if like is not None and other is not None and other <= _OF_NO_SYMBOL:
        assumed = _kept_once(like.assumed - _IN_REED | _assumed_in_reed(construction))
        return like.for_setts_of(construction, assumed)
    note_weave(construction, first)
    stage = resolve_stage(construction, first)
    if like is not None and other is not None:
        warp, weft = like.warp, like.weft
        noted = {at for at in like.assumed if _YARNS in at}
        first.assumed |= noted if first.prefix else {at.removeprefix(CONSTRUCTION) for at in noted}
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
    selvedge = resolve_selvedge(construction, repeat, structure, woven, warp, panels, more, edge)
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
        else remembered_squares(repeat, dents, picks_taken_up(construction)),
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


def states_reed(construction: Construction) -> bool:
    """Return whether an order states its reed, in whatever counting system."""
    return construction.reed.count is not None or construction.reed.dents_per_10cm is not None


def _has_many_selvedge_ends(construction: Construction) -> bool:
    """Return whether selvedges have more ends than usual, and may make a cloth wider."""
    return (construction.selvedge.ends_per_side or 0) > MOST_USUAL_ENDS


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
    """Return whether two systems are the same but for their setts."""
    pairs = ((getattr(one, name), getattr(other, name)) for name in _BUT_SETT)
    return one is other or all(mine is its or mine == its for mine, its in pairs)


_BUT_SETT: Final = tuple(
    each.name for each in fields(ThreadSystem) if each.name != "threads_per_cm"
)


CONSTRUCTION: Final = "/construction"

WEFT_CRIMP: Final = "/construction/weft/crimp_pct"

ENDS_PER_DENT: Final = "/construction/reed/ends_per_dent"
SELVEDGE_ENDS: Final = "/construction/selvedge/ends_per_side"
EDGE_ENDS_PER_DENT: Final = "/construction/selvedge/ends_per_dent"

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
    return _kept_once(frozenset(found - _IN_REED | _assumed_in_reed(construction)))


_IN_REED: Final = frozenset({ENDS_PER_DENT, EDGE_ENDS_PER_DENT, SELVEDGE_ENDS})


def _assumed_in_reed(construction: Construction) -> frozenset[str]:
    """Return what is assumed of denting and selvedges, on which the width in the reed rests.

    It does in a stated reed, and on the denting of wide selvedges in any. Usual selvedges are part
    of a width that no stated reed makes.
    """
    reed, selvedge, in_stated_reed = (
        construction.reed,
        construction.selvedge,
        states_reed(construction),
    )
    found = set()
    rests_on_denting = in_stated_reed or _has_many_selvedge_ends(construction)
    if rests_on_denting and reed.ends_per_dent is None and not reed.ends_in_dents:
        found.add(ENDS_PER_DENT)
    if rests_on_denting and selvedge.ends_per_dent is None:
        found.add(EDGE_ENDS_PER_DENT)
    if selvedge.ends_per_side is None and in_stated_reed:
        found.add(SELVEDGE_ENDS)
    return frozenset(found)


@lru_cache(maxsize=4096)
def _kept_once(assumed: frozenset[str]) -> frozenset[str]:
    """Return the same object for equal sets: most orders leave the same fields open."""
    return assumed
