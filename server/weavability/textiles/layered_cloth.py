"""The layers of a cloth with their yarns: what is set against what, and the facts of each layer."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple, TypeAlias

import numpy as np

from weavability.textiles.cloth_numbers import ClothNumbers, GreyLayer, StatedLayer
from weavability.textiles.jamming import squares_tightness_pct
from weavability.textiles.joint_threads import joint_shares
from weavability.textiles.layered_weave import LayeredWeave, LayerWeave
from weavability.textiles.numbers import Floats, Lists
from weavability.textiles.thread_systems import SystemFacts, Threads
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_squares import Place, Squares, squares_of


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerFacts:
    """A layer of the grey cloth.

    Attributes:
        layer: What its threads and their weave are.
        warp_shares: By yarn, its ends as a share of all ends of the order.
        weft_shares: By yarn, its picks likewise.
        ends_per_cm: Its own ends.
        picks_per_cm: Its own picks.
        grey: How it is set; ``None`` of pile, and of a wadding that nothing binds.
        tightness_pct: Share of its own jam where its threads are closest; ``None`` likewise.
        tightest: Where that is, among its own ends and picks; ``None`` likewise, and of a layer
            that is judged as a whole.
        pile_height_mm: Height of loop or tuft over the ground; ``None`` if it is no pile.
        thickness_mm: Of the layer alone, flattened at the crossings; of pile its height.
        mass_g_per_m2: Of its own threads.
    """

    layer: LayerWeave
    warp_shares: Mapping[str, float]
    weft_shares: Mapping[str, float]
    ends_per_cm: float
    picks_per_cm: float
    grey: GreyLayer[float] | None
    tightness_pct: float | None
    tightest: Place | None
    pile_height_mm: float | None
    thickness_mm: float
    mass_g_per_m2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LayeredThreads:
    """The yarns of the layers of a cloth.

    Attributes:
        woven: The layers in the weave.
        warp: Share of the ends by yarn and layer.
        weft: Share of the picks, likewise.
        stated: The layers that are set each against itself, in numbers.
        squares: Of each of them the squares that may govern its jam, against the cloth as a whole.
        places: Of each of them where these squares lie among its own threads; empty of one that is
            judged as a whole.
        shared: Likewise of all layers together that share the threads which cross them.
    """

    woven: LayeredWeave
    warp: Mapping[tuple[str, str], float]
    weft: Mapping[tuple[str, str], float]
    stated: tuple[StatedLayer[float], ...]
    squares: tuple[Lists, ...]
    places: tuple[tuple[Place, ...], ...]
    shared: tuple[Lists, ...]

    @property
    def stitches_per_crossing(self) -> float | None:
        """Stitches over the crossings of the joint repeat; ``None`` if none are meant."""
        stitches = self.woven.stitches
        return stitches and stitches / (self.woven.joint_ends * self.woven.joint_picks)


NO_LAYERS: Final = (
    StatedLayer(
        present=False,
        ends_share=1.0,
        picks_share=1.0,
        set_ends_share=1.0,
        set_picks_share=1.0,
        holding_ends_share=1.0,
        holding_picks_share=1.0,
        stated_ends_share=0.0,
        open_ends_share=0.0,
        stated_ends_pct=0.0,
        least_ends_pct=0.0,
        stated_picks_share=0.0,
        stated_picks_pct=0.0,
        least_picks_pct=0.0,
        warp_width_mm=1.0,
        weft_width_mm=1.0,
        warp_depth_mm=1.0,
        weft_depth_mm=1.0,
        mean_float_of_picks=1.0,
        mean_float_of_ends=1.0,
        longest_warp_float_picks=1.0,
        longest_weft_float_ends=1.0,
    ),
)
"""The layers of a cloth whose threads lie in one plane: one slot that is not filled."""


def layered_threads(
    woven: LayeredWeave, warp: Threads, weft: Threads, ends_in_dents: tuple[int, ...]
) -> LayeredThreads:
    """Find the yarns of every layer, and which threads are set against one another.

    Args:
        woven: The layers in the weave.
        warp: The warp.
        weft: The weft.
        ends_in_dents: An uneven denting; it gives a local sett to a layer that has all ends.
    """
    of_warp, of_weft = joint_shares(warp.order, woven.ends), joint_shares(weft.order, woven.picks)
    set_ones = [layer for layer in woven.layers if layer.is_set]
    squares = [_squares(layer, woven, ends_in_dents) for layer in set_ones]
    stated = tuple(_stated(each, woven, (of_warp, warp), (of_weft, weft)) for each in set_ones)
    return LayeredThreads(
        woven=woven,
        warp=of_warp,
        weft=of_weft,
        stated=stated,
        squares=tuple(
            _in_cloth(found, each, warp, weft) for found, each in zip(squares, stated, strict=True)
        ),
        places=tuple(() if found.is_whole else found.places for found in squares),
        shared=tuple(
            _in_cloth(
                _squares(layer, woven, ends_in_dents),
                _stated(layer, woven, (of_warp, warp), (of_weft, weft)),
                warp,
                weft,
                is_shared=True,
            )
            for layer in woven.shared
        ),
    )


def _squares(layer: LayerWeave, woven: LayeredWeave, ends_in_dents: tuple[int, ...]) -> Squares:
    """Return the squares of the weave of a layer."""
    if layer.weave is None:
        raise ValueError(f"layer {layer.letter} has no weave")
    dents = ends_in_dents if woven.set_shares(layer)[0] == 1 else ()
    return squares_of(Repeat.of(layer.weave), ends_in_dents=dents)


def _in_cloth(
    squares: Squares,
    stated: StatedLayer[float],
    warp: Threads,
    weft: Threads,
    *,
    is_shared: bool = False,
) -> Lists:
    """Return the squares of a layer, its setts and diameters as shares of those of the cloth."""
    figures = squares.lists.figures
    return Lists(
        figures={
            **figures,
            "lies_over": np.zeros_like(figures["lies_over"]),
            "is_shared": np.full_like(figures["is_shared"], is_shared),
            "ends_share": figures["ends_share"] * stated.set_ends_share,
            "picks_share": figures["picks_share"] * stated.set_picks_share,
            "warp_width_share": figures["warp_width_share"]
            * (stated.warp_width_mm / warp.width_mm),
            "weft_width_share": figures["weft_width_share"]
            * (stated.weft_width_mm / weft.width_mm),
            "warp_depth_share": figures["warp_depth_share"]
            * (stated.warp_depth_mm / warp.depth_mm),
            "weft_depth_share": figures["weft_depth_share"]
            * (stated.weft_depth_mm / weft.depth_mm),
        }
    )


_Set: TypeAlias = tuple[Mapping[tuple[str, str], float], Threads]


def _stated(layer: LayerWeave, woven: LayeredWeave, warp: _Set, weft: _Set) -> StatedLayer[float]:
    structure = layer.structure
    if structure is None:
        raise ValueError(f"layer {layer.letter} has no weave")
    ends_share, picks_share = woven.set_shares(layer)
    holding_ends, holding_picks = woven.holding_shares(layer)
    of_ends = crimps_in_layer(warp[1], warp[0], layer.set_with_ends)
    of_picks = crimps_in_layer(weft[1], weft[0], layer.set_with_picks)
    return StatedLayer(
        present=True,
        ends_share=layer.ends_share,
        picks_share=layer.picks_share,
        set_ends_share=ends_share,
        set_picks_share=picks_share,
        holding_ends_share=holding_ends,
        holding_picks_share=holding_picks,
        stated_ends_share=of_ends.stated_share,
        open_ends_share=of_ends.open_share,
        stated_ends_pct=of_ends.mean_pct,
        least_ends_pct=of_ends.least_pct,
        stated_picks_share=of_picks.stated_share,
        stated_picks_pct=of_picks.mean_pct,
        least_picks_pct=of_picks.least_pct,
        warp_width_mm=_mean_of_yarns(warp, layer.set_with_ends, "width_mm"),
        weft_width_mm=_mean_of_yarns(weft, layer.set_with_picks, "width_mm"),
        warp_depth_mm=_mean_of_yarns(warp, layer.set_with_ends, "depth_mm"),
        weft_depth_mm=_mean_of_yarns(weft, layer.set_with_picks, "depth_mm"),
        mean_float_of_picks=structure.mean_float_of_picks,
        mean_float_of_ends=structure.mean_float_of_ends,
        longest_warp_float_picks=structure.longest_warp_float_picks,
        longest_weft_float_ends=structure.longest_weft_float_ends,
    )


class CrimpsInLayer(NamedTuple):
    """The crimps that threads of a layer state.

    Attributes:
        stated_share: Threads that state one, as a share of all threads of the order.
        open_share: Those that state none, likewise.
        mean_pct: Mean of what they state; 0 if none do.
        least_pct: The least; 0 likewise.
    """

    stated_share: float
    open_share: float
    mean_pct: float
    least_pct: float


def crimps_in_layer(
    threads: Threads, shares: Mapping[tuple[str, str], float], letters: Collection[str]
) -> CrimpsInLayer:
    """Gather the crimps that the threads of some letters state.

    Args:
        threads: Warp or weft.
        shares: Share of the threads by yarn and layer.
        letters: Of the layers.
    """
    of_yarns: dict[str, float] = {}
    for (yarn, letter), share in shares.items():
        if letter in letters:
            of_yarns[yarn] = of_yarns.get(yarn, 0.0) + share
    known = {
        key: threads.stated_crimps_pct[key] for key in of_yarns if key in threads.stated_crimps_pct
    }
    stated = sum(of_yarns[key] for key in known)
    crimps = set(known.values())
    mean = sum(of_yarns[key] * pct for key, pct in known.items()) / stated if stated else 0.0
    return CrimpsInLayer(
        stated_share=stated,
        open_share=sum(share for key, share in of_yarns.items() if key not in known),
        mean_pct=crimps.pop() if len(crimps) == 1 else mean,
        least_pct=min(known.values(), default=0.0),
    )


def _mean_of_yarns(of: _Set, letters: Sequence[str], figure: str) -> float:
    shares, threads = of
    found = {key: share for key, share in shares.items() if key[1] in letters}
    total = sum(share * getattr(threads.yarns[yarn], figure) for (yarn, _), share in found.items())
    return float(total / sum(found.values()))


def layer_facts(
    layered: LayeredThreads,
    warp: SystemFacts,
    weft: SystemFacts,
    numbers: ClothNumbers[float],
) -> Iterator[LayerFacts]:
    """Yield the facts of every layer, from the face to the back, then of the pile.

    Args:
        layered: The layers and their yarns.
        warp: The warp in the grey cloth.
        weft: The weft in the grey cloth.
        numbers: The grey cloth.
    """
    set_ones = iter(zip(numbers.layers, layered.squares, layered.places, strict=True))
    for layer in layered.woven.layers:
        grey, tightness_pct, tightest = None, None, None
        if layer.is_set:
            grey, squares, places = next(set_ones)
            of_squares = _tightness_pct(squares, warp, weft, numbers)
            tightness_pct = float(of_squares.max())
            tightest = places[int(of_squares.argmax())] if places else None
        own_warp = _of_layer(layered.warp, layer.letter)
        own_weft = _of_layer(layered.weft, layer.letter)
        height = _pile_height_mm(layer, layered, own_warp, warp, numbers)
        yield LayerFacts(
            layer=layer,
            warp_shares=own_warp,
            weft_shares=own_weft,
            ends_per_cm=numbers.ends_per_cm * layer.ends_share,
            picks_per_cm=numbers.picks_per_cm * layer.picks_share,
            grey=grey,
            tightness_pct=tightness_pct,
            tightest=tightest,
            pile_height_mm=height,
            thickness_mm=_thickness_mm(own_warp, own_weft, warp, weft)
            if height is None
            else height,
            mass_g_per_m2=_mass_g_per_m2(own_warp, own_weft, warp, weft),
        )


def _tightness_pct(
    squares: Lists, warp: SystemFacts, weft: SystemFacts, numbers: ClothNumbers[float]
) -> Floats:
    return squares_tightness_pct(
        squares,
        ends_per_cm=numbers.ends_per_cm,
        picks_per_cm=numbers.picks_per_cm,
        warp_diameter_mm=warp.width_mm,
        weft_diameter_mm=weft.width_mm,
        warp_depth_mm=warp.depth_mm,
        weft_depth_mm=weft.depth_mm,
    )


def _of_layer(shares: Mapping[tuple[str, str], float], letter: str) -> dict[str, float]:
    return {yarn: share for (yarn, layer), share in shares.items() if layer == letter}


def _pile_height_mm(
    layer: LayerWeave,
    layered: LayeredThreads,
    own_warp: Mapping[str, float],
    warp: SystemFacts,
    numbers: ClothNumbers[float],
) -> float | None:
    """Return the height of loop or tuft.

    Of ends, from the pile ratio: a loop rises and falls once for two interlacings with the picks
    of the ground, and what is beyond the length of the cloth is in its two legs. Of picks, from
    the rows: a float that is cut in the middle rises on both sides.
    """
    structure = layer.structure
    if not layer.is_pile or structure is None:
        return None
    ends_share, picks_share = layered.woven.set_shares(layer)
    if not own_warp:
        return 5.0 * structure.longest_weft_float_ends / (numbers.ends_per_cm * ends_share)
    total = sum(own_warp.values())
    beyond = sum(share * warp.crimps_pct[yarn] / 100 for yarn, share in own_warp.items()) / total
    picks_per_cm = numbers.picks_per_cm * picks_share
    return 10.0 * beyond * structure.mean_float_of_ends / picks_per_cm


def _thickness_mm(
    own_warp: Mapping[str, float],
    own_weft: Mapping[str, float],
    warp: SystemFacts,
    weft: SystemFacts,
) -> float:
    return sum(
        sum(share * threads.yarns[yarn].thickness_mm for yarn, share in own.items())
        / sum(own.values())
        for own, threads in ((own_warp, warp), (own_weft, weft))
        if own
    )


def _mass_g_per_m2(
    own_warp: Mapping[str, float],
    own_weft: Mapping[str, float],
    warp: SystemFacts,
    weft: SystemFacts,
) -> float:
    """Add up the yarn of a layer, each by its own crimp; that of pile is what its ratio makes."""
    return (
        sum(
            system.threads_per_cm
            * share
            * system.yarns[yarn].linear_density_tex
            * (1.0 + system.crimps_pct[yarn] / 100.0)
            for system, own in ((warp, own_warp), (weft, own_weft))
            for yarn, share in own.items()
        )
        / 10.0
    )
