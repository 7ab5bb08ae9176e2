"""The figures of the finished cloth that an order requires, and the ends of their bands.

A figure of the finished cloth rests on values that may be assumed: crimps, shrinkages, the change
of mass, the sections of yarns, the denting of wide selvedges. Each moves it one way, so that it is
least with all of them at the ends of their bands that leave the cloth open and light, and greatest
at the others.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import fields
from functools import cached_property, lru_cache, reduce
from math import inf
from typing import Any, Final, Generic, NamedTuple, cast

from weavability.looms.edge_dents import Edges, edges_of
from weavability.looms.wide_selvedges import moved_selvedge_ends, selvedges_in_reed
from weavability.textiles.assumptions import YARNS, End, Ledger, Moves, ValueBand, of_any
from weavability.textiles.cloth import (
    EstimatedCrimps,
    estimated_crimps,
    estimated_thickness,
)
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth
from weavability.textiles.cloth_states import cloth_on_use
from weavability.textiles.cloth_symbols import ENDS_PER_DENT, WEFT_CRIMP, ClothSymbols
from weavability.textiles.construction import (
    Construction,
)
from weavability.textiles.crimp import Crimps, mean_crimps
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import content_pct
from weavability.textiles.finished_cloth import FinishedCloth, YarnPlace, finished_cloth
from weavability.textiles.moved_cloth import moved_crimp_pct, moved_symbols
from weavability.textiles.numbers import (
    Floats,
    N,
    changed,
    greatest,
    least,
    on_use,
)
from weavability.textiles.required_values import (
    CLOSE,
    FALLING,
    FIGURES,
    OF_WHOLE_WIDTH,
    OPEN,
    THICKNESS,
    WARP_CRIMP,
    WIDTH,
    RequiredNumbers,
    moves_to,
    required_of,
)
from weavability.textiles.weave_structure import MAX_KEPT_CELLS
from weavability.textiles.yarns import resolve_yarn


def finished_figures(symbols: ClothSymbols) -> FinishedFigures[float]:
    """Return the figures that an order requires; those of the last orders are remembered."""
    return _figures(symbols) if _is_large(symbols) else _kept_figures(symbols)


def figures_like(
    symbols: ClothSymbols, like: ClothSymbols, grey: ClothNumbers[float] | None = None
) -> FinishedFigures[float]:
    """Return the figures that an order requires which was changed from another.

    Args:
        symbols: What the order says.
        like: What the other says; what of it the change leaves as it is, is not settled again.
        grey: The grey cloth of the order, if that is known.
    """
    is_kept = _is_settled_alike(symbols, like) and not _is_large(symbols)
    return _figures(symbols, grey, finished_figures(like) if is_kept else None)


def figures_over(
    symbols: ClothSymbols,
    stated: StatedCloth[Floats],
    like: FinishedFigures[Floats] | None = None,
) -> FinishedFigures[Floats]:
    """Return the figures that an order requires, for columns of its setts and width.

    Args:
        symbols: What the order says, without layers, whose thickness follows from their setts.
        stated: Its cloth, with other setts and another width in columns.
        like: Those of another order in the same columns.
    """
    if like is not None and (figures := like.with_limits_of(symbols)) is not None:
        return figures
    thickness = estimated_thickness(symbols, symbols.grey)
    return FinishedFigures(symbols, stated, cloth_on_use(stated), thickness)


def _figures(
    symbols: ClothSymbols,
    grey: ClothNumbers[float] | None = None,
    like: FinishedFigures[float] | None = None,
) -> FinishedFigures[float]:
    known = grey or symbols.grey
    thickness = estimated_thickness(symbols, known)
    return FinishedFigures(symbols, symbols.stated(), known, thickness, like)


def _is_settled_alike(symbols: ClothSymbols, like: ClothSymbols) -> bool:
    return all(getattr(symbols, name) is getattr(like, name) for name in _SETTLED)


def _is_large(symbols: ClothSymbols) -> bool:
    return symbols.construction.weave.matrix.size > MAX_KEPT_CELLS


_SETTLED: Final = tuple(
    each.name for each in fields(ClothSymbols) if each.name not in {"construction", "lengths"}
)
"""All that the symbols of an order hold beside what it states, but what no figure depends on."""


def required_numbers(figures: FinishedFigures[N]) -> tuple[RequiredNumbers[N], ...]:
    """Gather what an order requires of its finished cloth, with what is computed of it."""
    found = []
    for place, one in enumerate(figures.required):
        value = figures.value(place)
        nothing: N = 0 * value
        found.append(
            RequiredNumbers(
                present=True,
                figure=nothing + FIGURES.index(one.figure),
                value=value,
                low=figures.end_of(place, is_high=False),
                high=figures.end_of(place, is_high=True),
                least=nothing + (0.0 if one.limits.min is None else one.limits.min),
                most=nothing + (inf if one.limits.max is None else one.limits.max),
            )
        )
    return tuple(found)


def required_on_use(figures: FinishedFigures[float]) -> tuple[RequiredNumbers[float], ...]:
    """Gather the same; a figure, and each end of its band, is computed when it is read."""
    made = (_RequiredOnUse(figures, place) for place in range(len(figures.required)))
    return cast("tuple[RequiredNumbers[float], ...]", tuple(made))


@on_use
class _RequiredOnUse:
    """The numbers of one figure that is required."""

    present = True

    def __init__(self, figures: FinishedFigures[float], place: int) -> None:
        one = figures.required[place]
        self.figure = FIGURES.index(one.figure)
        self.least = 0.0 if one.limits.min is None else one.limits.min
        self.most = inf if one.limits.max is None else one.limits.max
        self._figures, self._place = figures, place

    @property
    def value(self) -> float:
        return self._figures.value(self._place)

    @property
    def low(self) -> float:
        return self._figures.end_of(self._place, is_high=False)

    @property
    def high(self) -> float:
        return self._figures.end_of(self._place, is_high=True)


class FinishedFigures(Generic[N]):
    """The figures of the finished cloth that an order requires, and the ends of their bands.

    Args:
        symbols: What the order says.
        stated: Its cloth in numbers; of many orders that differ in setts and width, in columns.
        grey: Its grey cloth, likewise.
        thickness: Of the grey cloth, with its band.
        like: Those of an order whose symbols are the same.

    Attributes:
        required: What is required; figures are named by their places in it.
    """

    def __init__(
        self,
        symbols: ClothSymbols,
        stated: StatedCloth[N],
        grey: ClothNumbers[N],
        thickness: tuple[float, ValueBand],
        like: FinishedFigures[N] | None = None,
    ) -> None:
        self.required = required_of(symbols.construction.requirements)
        self._symbols = symbols
        self._like: FinishedFigures[N] | None = like
        self._stated: StatedCloth[N] = stated
        self._grey: ClothNumbers[N] = grey
        self._thickness_mm, self._thickness_band = thickness
        self._estimated: EstimatedCrimps[N] = estimated_crimps(symbols, self._grey)
        self._as_it_is: FinishedCloth[N] = finished_cloth(
            symbols, self._grey, self._estimated, self._thickness_mm
        )
        self._shares_pct: dict[str, N] = {}
        self._known_parts: dict[tuple[str, frozenset[str] | None], list[_Part[N]]] = {}
        self._ends: dict[tuple[bool, frozenset[str] | None], FinishedCloth[N]] = {}
        self._settled: dict[Moves, ClothSymbols] = {}

    def with_limits_of(self, symbols: ClothSymbols) -> FinishedFigures[N] | None:
        """Return them for an order that differs in its limits alone; ``None`` if it does not."""
        required = required_of(symbols.construction.requirements)
        thickness = estimated_thickness(symbols, symbols.grey)
        both = [[(one.figure, one.fibre) for one in each] for each in (required, self.required)]
        is_alike = both[0] == both[1] and thickness == (self._thickness_mm, self._thickness_band)
        is_edged_alike = edges_of(symbols) == self._edges
        if not (is_alike and is_edged_alike and _is_settled_alike(symbols, self._symbols)):
            return None
        made = copy(self)
        made.required = required
        return made

    @property
    def whole_width_cm(self) -> N:
        """Width of the finished cloth, with what wide selvedges have beside the ordered one."""
        return self._of_whole_width(WIDTH, self._as_it_is, self._times_wider)

    def value(self, place: int) -> N:
        """Return a figure as it is computed."""
        one = self.required[place]
        if one.figure in OF_WHOLE_WIDTH:
            return self._of_whole_width(one.figure, self._as_it_is, self._times_wider)
        if not one.fibre:
            return self._as_it_is.figure(one.figure)
        if one.fibre not in self._shares_pct:
            self._shares_pct[one.fibre] = self._as_it_is.share_pct(one.fibre)
        return self._shares_pct[one.fibre]

    def end_of(self, place: int, *, is_high: bool, only: frozenset[str] | None = None) -> N:
        """Return the least or the greatest that a figure may be over what is assumed.

        Args:
            place: Of the figure.
            is_high: Whether the greatest is requested.
            only: Pointers of the assumed values that are moved, with the keys of yarns; ``None``
                for all.
        """
        one, value = self.required[place], self.value(place)
        end: N
        if one.fibre:
            end = _share_end(self._parts(one.fibre, only), is_most=is_high)
        else:
            end = self._end_of(one.figure, is_high=is_high, only=only)
        return greatest(value, end) if is_high else least(value, end)

    def _end_of(self, name: str, *, is_high: bool, only: frozenset[str] | None) -> N:
        """Return the least or the greatest that a figure but a share may be."""
        is_close = is_high is not (name in FALLING)
        found = self._end(is_close=is_close, only=only)
        if name not in OF_WHOLE_WIDTH:
            return found.figure(name)
        moves = _limited(moves_to(name, is_high=is_high), only)
        # A close cloth is narrow, but its selvedges are wide beside it.
        other = self._end(is_close=not is_close, only=only)
        times = [self._times_wider_with(moves, each.grey) for each in (found, other)]
        widest = greatest(*times) if is_high else least(*times)
        return self._of_whole_width(name, found, widest, moves)

    @cached_property
    def _edges(self) -> Edges[N]:
        # What is no column holds for every row of those.
        found: Edges[N] = cast("Any", edges_of(self._symbols))
        return found

    @cached_property
    def _times_wider(self) -> N:
        return self._times_wider_with(None, self._as_it_is.grey)

    def _times_wider_with(self, moves: Moves | None, grey: ClothNumbers[N]) -> N:
        """Return the width of the whole cloth over the ordered one."""
        edges, one = self._edges, 1.0 + 0 * grey.grey_width_cm
        if edges.denting.is_reed_stated or not edges.selvedge.are_many:
            return one
        in_reed = None if moves is None else _in_reed(moves)
        beside_cm: N = selvedges_in_reed(edges, grey, in_reed).beside_cm
        return one + 2 * beside_cm / grey.panel_reed_width_cm

    def _of_whole_width(
        self, name: str, cloth: FinishedCloth[N], times_wider: N, moves: Moves | None = None
    ) -> N:
        """Return the width, or the mass of a running metre, with what is beside the ordered width.

        Args:
            name: Which of the two.
            cloth: The finished cloth, as ordered.
            times_wider: The width of the whole cloth over the ordered one.
            moves: Values to assume in place of the defaults.
        """
        if name == WIDTH:
            return cloth.finished_width_cm * times_wider
        ends = moved_selvedge_ends(self._edges, moves) / self._edges.panels
        beside: N = (times_wider - 1) * cloth.weft_g_per_m
        return cloth.mass_g_per_m + ends * cloth.selvedge_end_g_per_m + beside

    def _parts(self, fibre: str, only: frozenset[str] | None) -> list[_Part[N]]:
        if (fibre, only) not in self._known_parts:
            cloths: list[FinishedCloth[N]] = [self._as_it_is]
            cloths += [self._end(is_close=is_close, only=only) for is_close in (False, True)]
            doubtful = {
                at for at in self._doubtful if only is None or _FIBRE_OF.format(*at) in only
            }
            self._known_parts[fibre, only] = _parts(fibre, cloths, doubtful)
        return self._known_parts[fibre, only]

    @cached_property
    def _doubtful(self) -> frozenset[YarnPlace]:
        return frozenset(_doubtful_yarns(self._symbols.construction))

    def _end(self, *, is_close: bool, only: frozenset[str] | None) -> FinishedCloth[N]:
        key = (is_close, only)
        if key not in self._ends:
            try:
                self._ends[key] = self._moved(_limited(CLOSE if is_close else OPEN, only))
            except InputError:  # Peculiar values that contradict one another when they are moved.
                self._ends[key] = self._as_it_is
        return self._ends[key]

    def _moved(self, moves: Moves) -> FinishedCloth[N]:
        """Compute the finished cloth with other values assumed; bands lie around its estimates."""
        moved = self._moved_symbols(moves)
        setts: dict[str, Any] = {name: getattr(self._stated, name) for name in _SETTS}
        # Whatever is no column holds for every row of those.
        stated: StatedCloth[N] = cast("Any", changed(moved.stated(), **setts))
        of_weft = moves.end_of(WEFT_CRIMP)
        estimated = EstimatedCrimps(
            self._moved_warp_crimps(moved, stated, moves),
            moved_crimp_pct(stated, self._grey.estimated_weft_crimp_pct, of_weft),
        )
        mean = mean_crimps(
            Crimps(self._mean_of_open(moved, estimated.warp_pct), estimated.weft_pct),
            warp_stated_share=stated.warp_stated_share,
            warp_crimp_pct=stated.warp_crimp_pct,
            weft_stated_share=stated.weft_stated_share,
            weft_crimp_pct=stated.weft_crimp_pct,
        )
        settled = changed(
            stated,
            warp_stated_share=1.0,
            weft_stated_share=1.0,
            warp_least_crimp_pct=mean.warp_crimp_pct,
            warp_greatest_crimp_pct=mean.warp_crimp_pct,
            weft_least_crimp_pct=mean.weft_crimp_pct,
            weft_greatest_crimp_pct=mean.weft_crimp_pct,
            warp_moved_points=mean.warp_crimp_pct - self._grey.warp_crimp_pct,
            weft_moved_points=mean.weft_crimp_pct - self._grey.weft_crimp_pct,
            **mean._asdict(),
        )
        return finished_cloth(
            moved, cloth_on_use(settled), estimated, self._moved_thickness_mm(moves)
        )

    def _moved_symbols(self, moves: Moves) -> ClothSymbols:
        if self._like is not None:
            moved = self._like._moved_symbols(moves)
            return moved.for_setts_of(self._symbols.construction, moved.assumed)
        if moves not in self._settled:
            self._settled[moves] = moved_symbols(self._symbols, moves)
        return self._settled[moves]

    def _moved_warp_crimps(
        self, moved: ClothSymbols, stated: StatedCloth[N], moves: Moves
    ) -> dict[str, N]:
        """Move the estimated crimp of each warp yarn by the band of the ends that weave alike."""
        found: dict[str, N] = {}
        for group, own in zip(moved.groups, stated.groups, strict=True):
            as_woven = changed(stated, layers=own.parts) if own.present else stated
            for key in group.yarns:
                at = f"{YARNS[0]}{key}/crimp_pct" if own.present else WARP_CRIMP
                end = moves.end_of(at)
                found[key] = moved_crimp_pct(as_woven, self._estimated.warp_pct[key], end)
        return found

    def _mean_of_open(self, moved: ClothSymbols, crimps_pct: Mapping[str, N]) -> N:
        """Return the mean crimp of the ends that state none, which pile has no part in."""
        warp = moved.warp
        ends = {
            key: warp.order.counts.get(key, 0)
            for group in moved.groups
            if group.pile_ratio is None
            for key in group.yarns
            if key not in warp.stated_crimps_pct
        }
        total = sum(ends.values())
        if not total:
            return self._grey.estimated_warp_crimp_pct
        nothing: N = 0 * self._grey.estimated_warp_crimp_pct
        return sum((count * crimps_pct[key] for key, count in ends.items()), nothing) / total

    def _moved_thickness_mm(self, moves: Moves) -> float:
        end = moves.end_of(THICKNESS)
        if end is None:
            return self._thickness_mm
        return self._thickness_band.low if end is End.LOW else self._thickness_band.high


_SETTS: Final = ("ends_per_cm", "picks_per_cm", "width_cm")
"""What may be in columns of a stated cloth beside one record of symbols."""


_kept_figures = lru_cache(maxsize=2)(_figures)


def _limited(moves: Moves, only: frozenset[str] | None) -> Moves:
    """Return those of some moves that are at some pointers."""
    if only is None:
        return moves
    kinds = {of_any(pointer) for pointer in only}
    return Moves({at: end for at, end in moves.ends.items() if at in kinds}, only)


def _in_reed(moves: Moves) -> Moves:
    """Return some moves of the selvedges as the reed has them.

    More ends in a dent of the ground leave the ends of a stated selvedge dent wide beside it;
    :func:`selvedges_in_reed` names the other end for both reeds.
    """
    ends = dict(moves.ends)
    if ENDS_PER_DENT in ends:
        ends[ENDS_PER_DENT] = End.LOW if ends[ENDS_PER_DENT] is End.HIGH else End.HIGH
    return Moves(ends, moves.only)


_FIBRE_OF: Final = "/construction/{}/yarns/{}/fibre"


def _doubtful_yarns(construction: Construction) -> Iterator[YarnPlace]:
    """Yield the yarns of which the fibre, or the shares of the blend, are assumed."""
    for name, system in (("warp", construction.warp), ("weft", construction.weft)):
        for key, yarn in system.yarns.items():
            noted = Ledger(keeps=False)
            resolve_yarn(yarn, noted)
            if "/fibre" in noted.assumed:
                yield name, key


class _Part(NamedTuple, Generic[N]):
    """A yarn in the cloth: between which values its mass and its share of a fibre lie."""

    least_mass: N
    most_mass: N
    least_pct: float
    most_pct: float


def _parts(
    fibre: str, cloths: Sequence[FinishedCloth[N]], doubtful: Collection[YarnPlace]
) -> list[_Part[N]]:
    """Return the band of each yarn: the masses of warp and weft may be moved apart."""
    parts = []
    for at in cloths[0].masses:
        masses = [each.masses[at] for each in cloths]
        shares = [content_pct(each.fibres[at], fibre) for each in cloths]
        if at in doubtful:
            shares += [0.0, 100.0]
        parts.append(
            _Part(reduce(least, masses), reduce(greatest, masses), min(shares), max(shares))
        )
    return parts


def _share_end(parts: Sequence[_Part[N]], *, is_most: bool) -> N:
    """Return the least or the greatest share of a fibre in the mass of the yarn, in per cent."""
    if is_most:
        return _most_pct(parts)
    rest = [
        _Part(part.least_mass, part.most_mass, 100 - part.most_pct, 100 - part.least_pct)
        for part in parts
    ]
    # Rounding may leave the sum of the rest a little beyond the whole.
    return greatest(100 - _most_pct(rest), 0.0)


def _most_pct(parts: Sequence[_Part[N]]) -> N:
    """Return the greatest share: yarns that hold most of the fibre heavy, the others light."""
    ranked = sorted(parts, key=lambda part: -part.most_pct)
    nothing: N = 0 * ranked[0].least_mass
    mass = sum((part.least_mass for part in ranked), nothing)
    fibre = sum((part.least_mass * part.most_pct for part in ranked), nothing)
    most = fibre / mass
    for part in ranked:
        more = part.most_mass - part.least_mass
        mass, fibre = mass + more, fibre + more * part.most_pct
        most = greatest(most, fibre / mass)
    return least(most, ranked[0].most_pct)
