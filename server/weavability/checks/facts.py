"""What the rules compare: flat records of numbers, for one pair or for columns of pairs.

A record holds numbers and truths only. What is absent has a neutral number: infinity for a greatest
limit, 0 for a least one. A request that may be absent is a truth beside its number. Names, keys and
texts, which only messages quote, are in :class:`Words`. Records of numbers are not frozen, because
they are made for every pair, and that would cost a tenth of its judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, cast

from weavability.looms.denting import in_stated_reed
from weavability.looms.drawing_in import DrawingIn, DrawnNumbers, OnShafts, draw_in, drawn_numbers
from weavability.looms.finished_figures import FinishedFigures, finished_figures
from weavability.looms.fit import Fit
from weavability.looms.fit_numbers import FitNumbers, fit_on_use
from weavability.looms.loom_limits import LoomLimits, resolve_moved_loom
from weavability.looms.loom_numbers import LoomNumbers, SheddingNumbers
from weavability.looms.order_numbers import (
    OrderNumbers,
    is_requested_alike,
    order_on_use,
)
from weavability.looms.thresholds import in_force
from weavability.looms.weft_tension import Rise, pick_rises
from weavability.textiles.assumptions import Assumption, Moves
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.figured.design_numbers import NO_DESIGN_WORDS, DesignWords
from weavability.textiles.layered_weave import Contradiction, LayeredWeave
from weavability.textiles.moved_cloth import moved_like, moved_symbols
from weavability.textiles.numbers import N, Record, Truth, either, on_use, quotient
from weavability.textiles.required_values import (
    Required,
    required_of,
)
from weavability.textiles.sentences import NO_WORDS, Sentence
from weavability.textiles.weave_squares import Place
from weavability.textiles.weave_structure import Structure
from weavability.textiles.yarn_facts import YarnFacts


@dataclass(slots=True, kw_only=True)
class WeaveNumbers(Record[N]):
    """A weave, its drawing-in and the shedding motion; all that a request about a weave alone has.

    Attributes:
        cloths: Cloths that are not bound to one another; loose threads do not count.
        cloths_meant: Cloths that the order declares to be separate, or that ``layers.unstitched``
            reports; else 1.
        layer_clashes: Crossings (or 1 for all else) at which the weave contradicts the layers that
            are declared.
        layer_parts: Parts of stitched layers that no stitch joins; else 1.
        free_float_mm: Longest float over two threads or more; 0 if there is none.
        draft_faults: Requested drafts that cannot weave the cloth.
        lift_picks: Picks after which the lift repeats.
        lift_swing_pct: Greatest less least share of the ends raised on a pick.
        warp_up_pct: Mean share of the ends raised.
        shafts_needed: Fewest shafts; 0 on a Jacquard.
        shafts_used: Shafts of the draft in use; 0 if there is none.
        healds_per_cm: On the fullest shaft; 0 if not known.
        healds_on_fullest_shaft: 0 if not known.
        max_healds_per_cm: On one shaft.
        repeat_ends: Ends of the repeat, or the hooks of a tie that a figured design is woven on.
        hooks: 0 without a Jacquard.
        hooks_in_use: Hooks under whole repeats; 0 if they do not hold one.
        harness_ends: Ends that the harness lifts with them; 0 if not known.
        harness_ends_per_cm: Density to which the harness is tied; 0 if not known.
        reed_ends_per_cm: Ground ends per cm in the reed; 0 if not known.
        harness_known: Whether the densities of harness and reed are both known.
        ground_ends: Of all panels; 0 if not known.
    """

    cloths: N
    cloths_meant: N
    layer_clashes: N
    layer_parts: N
    loose_ends: N
    loose_picks: N
    longest_float_mm: N
    free_float_mm: N
    draft_faults: N
    lift_picks: N
    lift_swing_pct: N
    warp_up_pct: N
    repeat_ends: N
    shafts_needed: N
    shafts_used: N
    healds_per_cm: N
    healds_on_fullest_shaft: N
    loom_shafts: N
    max_healds_per_cm: N
    max_healds_per_shaft: N
    max_lift_picks: N
    is_jacquard: Truth
    hooks: N
    hooks_in_use: N
    ends_per_hook: N
    harness_ends: N
    harness_ends_per_cm: N
    reed_ends_per_cm: N
    harness_known: Truth
    ground_ends: N


@dataclass(kw_only=True)
class Facts(Record[N]):
    """Everything that a rule may read."""

    weave: WeaveNumbers[N]
    order: OrderNumbers[N]
    cloth: ClothNumbers[N]
    shedding: SheddingNumbers[N]
    loom: LoomNumbers[N]
    fit: FitNumbers[N]


class Grounds(NamedTuple):
    """What the findings on a pair may rest on: its numbers, and all that was assumed for them."""

    pair: Pair
    assumptions: tuple[Assumption, ...]


@dataclass(slots=True, kw_only=True)
class WeaveWords:
    """Names and texts of a weave and its shedding motion, for messages.

    Attributes:
        draft_fault: Why the requested draft cannot weave the cloth; empty if it can.
        has_other_draft: Whether another draft takes its place.
        contradiction: How the weave contradicts the declared layers, if it does.
    """

    loose_ends: tuple[int, ...]
    loose_picks: tuple[int, ...]
    shedding: str
    draft_fault: Sentence
    has_other_draft: bool
    contradiction: Contradiction | None = None


@dataclass(slots=True, kw_only=True)
class Words:
    """Names and texts of an order, and figures that messages alone quote.

    Attributes:
        weft_keys: Key of each weft yarn, in the order of the numbers.
        weft_materials: Fibre and kind of each.
        weft_elastane_dtex: Linear density of the elastane of each at rest; 0 if not known.
        warp_keys: Key of each warp yarn, in the order of the numbers.
        group_names: Name of each group of ends, in the order of the numbers.
        group_ends: Ends of each over the width.
        hardest_weft: Key of the weft yarn that uses most of its weakest place.
        tightest: Where the cloth is set closest; ``None`` if it is so everywhere.
        tightest_in_plane: Where among threads that lie in one plane.
        loosest: Where it is set loosest, but for single squares.
        tightest_layer: Letter of the layer that is set closest; ``""`` without layers.
        requirements: What the customer requires, in the order of the numbers.
        figures: Computes what is required with other values assumed.
        design: Names and places of a figured design.
        grounds: What a finding may rest on.
    """

    weave: WeaveWords
    weft_keys: tuple[str, ...] = field(default=())
    weft_materials: tuple[str, ...] = field(default=())
    weft_elastane_dtex: tuple[float, ...] = field(default=())
    warp_keys: tuple[str, ...] = field(default=())
    group_names: tuple[str, ...] = field(default=())
    group_ends: tuple[int, ...] = field(default=())
    hardest_weft: str = ""
    weft_peak_tension_cn: float = 0.0
    weft_peak_at_deg: float = 0.0
    weft_peak_moment: Sentence = NO_WORDS
    weft_weakest_place_cn: float = 0.0
    busiest_weft: str = ""
    hardest_warp: str = ""
    warp_peak_tension_cn: float = 0.0
    design: DesignWords = NO_DESIGN_WORDS
    tightest: Place | None = None
    tightest_in_plane: Place | None = None
    loosest: Place | None = None
    tightest_layer: str = ""
    requirements: tuple[Required, ...] = ()
    figures: FinishedFigures[float] | None = None
    grounds: Grounds | None = None


def facts_of(fit: Fit) -> Facts[float]:
    """Gather the numbers of one cloth on one loom."""
    cloth = fit.cloth
    return facts_from(
        weave_counts(cloth.structure, cloth.symbols.layered_weave),
        fit.order,
        cloth.numbers,
        fit.limits.shedding.numbers,
        drawn_numbers(fit.drawing_in),
        fit.limits.numbers,
        fit.numbers,
    )


class Pair(NamedTuple):
    """The numbers of one cloth on one loom, and what they were computed from.

    Attributes:
        symbols: What the order says.
        limits: The loom.
    """

    facts: Facts[float]
    symbols: ClothSymbols
    limits: LoomLimits

    def rests_on(self, moves: Moves) -> bool:
        """Return whether any value that is moved is assumed of this pair."""
        moved = moves.pointers
        return not (
            self.symbols.assumed.isdisjoint(moved) and self.limits.assumed.isdisjoint(moved)
        )

    def is_assumed(self, pointer: str) -> bool:
        """Return whether a value that counts for this pair is assumed; ``*``: of any yarn."""
        return pointer in self.symbols.assumed or pointer in self.limits.assumed

    def moved(self, moves: Moves) -> Facts[float] | None:
        """Compute the numbers again with other values assumed; ``None`` if that cannot be.

        What no value that is moved decides stays; the rest is computed when a rule reads it.
        """
        try:
            symbols = moved_symbols(self.symbols, moves)
            limits = resolve_moved_loom(self.limits, moves)
            cloth, stated = self.facts.cloth, symbols.stated()
            cloth = moved_like(
                self.symbols,
                stated,
                estimated_weft_crimp_pct=cloth.estimated_weft_crimp_pct,
                moves=moves,
                estimated=cloth.estimated_crimps if stated is self.symbols.stated() else None,
            )
        except InputError:
            return None
        order = self.facts.order if is_requested_alike(symbols, self.symbols, moves) else None
        return cast("Facts[float]", _FactsOnUse(symbols, cloth, order, limits, moves))


@on_use
class _FactsOnUse:
    """Facts of a pair of which each part is computed when it is read; few rules read all."""

    def __init__(
        self,
        symbols: ClothSymbols,
        cloth: ClothNumbers[float],
        order: OrderNumbers[float] | None,
        limits: LoomLimits,
        moves: Moves,
    ) -> None:
        self._as_requested = order
        self._symbols, self._limits, self._moves = symbols, limits, moves
        self._as_ordered, self.loom = cloth, limits.numbers
        self.shedding = limits.shedding.numbers

    @property
    def cloth(self) -> ClothNumbers[float]:
        if not self._symbols.fills_reed:
            return self._as_ordered
        return in_stated_reed(self.order, self._as_ordered, self._moves)

    @property
    def order(self) -> OrderNumbers[float]:
        as_requested = self._as_requested
        return order_on_use(self._symbols) if as_requested is None else as_requested

    @property
    def fit(self) -> FitNumbers[float]:
        return fit_numbers_of(self.order, self.cloth, self._limits)

    @property
    def weave(self) -> WeaveNumbers[float]:
        return facts_on(self._symbols, self.order, self.cloth, self._limits, self.fit).weave


def pair_of(fit: Fit) -> Pair:
    """Gather the numbers of one cloth on one loom, with what they were computed from."""
    return Pair(facts_of(fit), fit.cloth.symbols, fit.limits)


def fit_numbers_of(
    order: OrderNumbers[float],
    cloth: ClothNumbers[float],
    limits: LoomLimits,
    like: Fit | None = None,
    but_for_speed: FitNumbers[float] | None = None,
) -> FitNumbers[float]:
    """Return the numbers of a cloth on a loom, each computed when a rule reads it.

    Args:
        order: What the order requests.
        cloth: The cloth.
        limits: The loom.
        like: Another cloth on the same loom: at the same width its weft tension rises alike.
        but_for_speed: The numbers of the same cloth, if nothing but the requested speed differs.
    """

    def rises() -> Sequence[Rise[float]]:
        width_cm = cloth.reed_width_cm
        if like is not None and width_cm == like.cloth.widths.reed_cm:
            return like.rises
        return pick_rises(limits.numbers.insertion, reed_width_cm=width_cm)

    return fit_on_use(
        order,
        cloth,
        limits.numbers,
        rises,
        in_force().usual,
        but_for_speed,
    )


def facts_on(
    symbols: ClothSymbols,
    order: OrderNumbers[float],
    cloth: ClothNumbers[float],
    limits: LoomLimits,
    fit: FitNumbers[float],
    drawing_in: DrawingIn | None = None,
) -> Facts[float]:
    """Put the numbers of a cloth on a loom together; it is drawn in if that is not given."""
    return facts_from(
        weave_counts(symbols.structure, symbols.layered_weave),
        order,
        cloth,
        limits.shedding.numbers,
        drawn_numbers(drawing_in or draw_in(symbols, cloth, limits.shedding)),
        limits.numbers,
        fit,
    )


def words_of(fit: Fit, pair: Pair) -> Words:
    """Gather the names and texts of one cloth on one loom, whose numbers are gathered already."""
    required = fit.cloth.construction.requirements
    return Words(
        weave=weave_words(fit.cloth.symbols, fit.drawing_in),
        weft_keys=weft_keys(fit.cloth),
        weft_materials=weft_materials(fit.cloth),
        weft_elastane_dtex=weft_elastane_dtex(fit.cloth),
        warp_keys=warp_keys(fit.cloth),
        group_names=tuple(each.group.name for each in fit.groups),
        group_ends=tuple(each.ends for each in fit.groups),
        hardest_weft=fit.hardest_weft.key,
        weft_peak_tension_cn=fit.hardest_weft.tension.peak_tension_cn,
        weft_peak_at_deg=fit.hardest_weft.tension.at_deg,
        weft_peak_moment=fit.hardest_weft.tension.moment.in_words,
        weft_weakest_place_cn=fit.hardest_weft.loaded.strained.weakest_strength_cn,
        busiest_weft=max(fit.wefts, key=lambda run: run.feeder_speed_m_per_min).key,
        hardest_warp=fit.hardest_warp[0],
        warp_peak_tension_cn=fit.hardest_warp[1].peak_tension_cn,
        design=_design_words(fit.cloth.construction),
        tightest=fit.cloth.setting.tightest,
        tightest_in_plane=fit.cloth.setting.tightest_in_plane,
        loosest=fit.cloth.setting.loosest,
        tightest_layer=fit.cloth.setting.tightest_layer,
        requirements=required_of(required),
        figures=None if required is None else finished_figures(fit.cloth.symbols),
        grounds=Grounds(pair, fit.assumptions),
    )


def _design_words(construction: Construction) -> DesignWords:
    figured = construction.figured
    return NO_DESIGN_WORDS if figured is None else figured.words


def weft_keys(cloth: ClothFacts) -> tuple[str, ...]:
    """Return the key of each weft yarn, in the order of the numbers."""
    return tuple(cloth.weft.order.counts)


def weft_materials(cloth: ClothFacts) -> tuple[str, ...]:
    """Return fibre and kind of each weft yarn."""
    yarns = (cloth.weft.yarns[key] for key in weft_keys(cloth))
    return tuple(_material(yarn) for yarn in yarns)


def _material(yarn: YarnFacts) -> str:
    fibre = yarn.fibre
    if fibre.style in ("monofilament", "tape"):
        return fibre.key
    kind = "wire" if fibre.is_metal and yarn.kind == "filament" else yarn.kind
    return f"{fibre.key} {kind}"


def weft_elastane_dtex(cloth: ClothFacts) -> tuple[float, ...]:
    """Return the linear density of the elastane of each weft yarn at rest, 0 if not known."""
    yarns = (cloth.weft.yarns[key] for key in weft_keys(cloth))
    return tuple(yarn.elastane_dtex or 0.0 for yarn in yarns)


def warp_keys(cloth: ClothFacts) -> tuple[str, ...]:
    """Return the key of each warp yarn, in the order of the numbers."""
    return tuple(cloth.warp.yarns)


def weave_words(cloth: ClothSymbols, on: DrawingIn) -> WeaveWords:
    """Gather the names and texts of the weave of a cloth that is drawn in on a loom."""
    structure = cloth.structure
    drawn = on.drawn if isinstance(on, OnShafts) else None
    return WeaveWords(
        loose_ends=structure.loose_ends,
        loose_picks=structure.loose_picks,
        shedding=on.limits.kind.in_words,
        draft_fault=(drawn.draft_fault or NO_WORDS) if drawn else NO_WORDS,
        has_other_draft=drawn is not None,
        contradiction=contradiction_of(cloth.layered_weave),
    )


@dataclass(slots=True, kw_only=True)
class WeaveCounts(Record[N]):
    """What a weave alone decides; see :class:`WeaveNumbers`."""

    cloths: N
    cloths_meant: N
    layer_clashes: N
    layer_parts: N
    loose_ends: N
    loose_picks: N
    lift_swing_pct: N
    warp_up_pct: N
    repeat_ends: N


def weave_counts(structure: Structure, layers: LayeredWeave | None) -> WeaveCounts[float]:
    """Count what a weave alone decides, with the layers that are declared in it."""
    contradiction = contradiction_of(layers)
    return WeaveCounts(
        cloths=structure.cloths,
        cloths_meant=layers.cloths if layers else 1,
        layer_clashes=contradiction.crossings if contradiction else 0,
        layer_parts=layers.unbound_parts if layers else 1,
        loose_ends=len(structure.loose_ends),
        loose_picks=len(structure.loose_picks),
        lift_swing_pct=100 * structure.lift_swing,
        warp_up_pct=100 * structure.warp_up_share,
        repeat_ends=structure.ends,
    )


def contradiction_of(layers: LayeredWeave | None) -> Contradiction | None:
    """Return how a weave contradicts the layers that are declared in it, if it does."""
    return layers.contradiction if layers else None


def facts_from(
    weave: WeaveCounts[N],
    order: OrderNumbers[N],
    cloth: ClothNumbers[N],
    shedding: SheddingNumbers[N],
    drawn: DrawnNumbers[N],
    loom: LoomNumbers[N],
    fit: FitNumbers[N],
) -> Facts[N]:
    """Put together what the rules read of one pair, or of columns of pairs."""
    design = order.design
    repeat_ends = either(design.is_tied, design.tie_hooks, weave.repeat_ends)
    hooks = either(design.is_tied, design.tie_hooks, shedding.hooks)
    in_use = hooks_in_use(hooks, repeat_ends)
    tied_ends: N = either(
        shedding.tied_ends > 0, shedding.tied_ends, in_use * shedding.ends_per_hook
    )
    tied_ends = either(design.is_tied, design.tie_ends, tied_ends)
    return Facts(
        weave=WeaveNumbers(
            cloths=weave.cloths,
            cloths_meant=weave.cloths_meant,
            layer_clashes=weave.layer_clashes,
            layer_parts=weave.layer_parts,
            loose_ends=weave.loose_ends,
            loose_picks=weave.loose_picks,
            longest_float_mm=cloth.longest_float_mm,
            free_float_mm=cloth.free_float_mm,
            draft_faults=drawn.draft_faults,
            lift_picks=order.selvedge.lift_picks,
            lift_swing_pct=weave.lift_swing_pct,
            warp_up_pct=weave.warp_up_pct,
            repeat_ends=repeat_ends,
            shafts_needed=drawn.shafts_needed,
            shafts_used=drawn.shafts_used,
            healds_per_cm=drawn.healds_per_cm,
            healds_on_fullest_shaft=drawn.healds_on_fullest_shaft,
            loom_shafts=shedding.shafts,
            max_healds_per_cm=shedding.max_healds_per_cm,
            max_healds_per_shaft=shedding.max_healds_per_shaft,
            max_lift_picks=shedding.max_lift_picks,
            is_jacquard=shedding.is_jacquard,
            hooks=hooks,
            hooks_in_use=in_use,
            ends_per_hook=shedding.ends_per_hook,
            harness_ends=tied_ends,
            # Mails of a tie that a design casts out thin its harness.
            harness_ends_per_cm=either(
                design.is_tied,
                quotient(shedding.harness_ends_per_cm * tied_ends, shedding.tied_ends),
                shedding.harness_ends_per_cm,
            ),
            reed_ends_per_cm=fit.denting.ends_per_cm_in_reed,
            harness_known=shedding.is_jacquard,
            ground_ends=order.panels * cloth.ground_ends,
        ),
        order=order,
        cloth=cloth,
        shedding=shedding,
        loom=loom,
        fit=fit,
    )


def hooks_in_use(hooks: N, repeat_ends: N) -> N:
    """Return the hooks under whole repeats of the weave."""
    return hooks - hooks % repeat_ends
