"""How close the threads of the grey cloth are set: the jam, and what other rules say of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.jamming import squares_tightness_pct
from weavability.textiles.layered_cloth import (
    LayerFacts,
)
from weavability.textiles.records import record
from weavability.textiles.setting_rules import (
    Opinion,
    brierley_square_sett_per_cm,
    disagreement,
    ends_plus_intersections_use_pct,
    is_plain_or_regular_twill,
)
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.weave_squares import Place


@record(kw_only=True)
class Setting:
    """How close the threads of the grey cloth are set.

    Attributes:
        tightness_pct: Share of the jam where the threads are closest; at 100 % round yarns can come
            no closer. Of layers, in the tightest one; so are the others.
        mean_tightness_pct: The same by mean floats and setts of the whole cloth.
        tightest: Where the threads are closest; ``None`` of a cloth that is judged as a whole or
            in layers.
        tightest_in_plane: Where among threads that cannot lie over one another; ``None`` likewise.
        loosest: Where it is set loosest, but for a hundredth of its squares.
        tightest_layer: Letter of the layer that is set closest; ``""`` of a cloth without layers.
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
    loosest: Place
    tightest_layer: str
    ends_use_pct: float
    picks_use_pct: float
    square_sett_per_cm: float | None
    square_sett_use_pct: float | None
    disagreement: str | None


def setting_of(
    warp: SystemFacts,
    weft: SystemFacts,
    symbols: ClothSymbols,
    numbers: ClothNumbers[float],
    layers: tuple[LayerFacts, ...],
) -> Setting:
    """Return how close the threads are set, by the jam and by other rules.

    Args:
        warp: The warp in the grey cloth.
        weft: The weft in the grey cloth.
        symbols: What the order says.
        numbers: The grey cloth.
        layers: Its layers; empty if none is declared.
    """
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
        loosest=symbols.squares.loose.place,
        tightest_layer=_tightest_layer(layers) if symbols.in_layers else "",
        ends_use_pct=ends_use_pct,
        picks_use_pct=picks_use_pct,
        square_sett_per_cm=square,
        square_sett_use_pct=square_use_pct,
        disagreement=disagreement(opinions),
    )


def _tightest_layer(layers: Sequence[LayerFacts]) -> str:
    """Return the letter of the layer that is set closest, the first from the face of equal ones."""
    found = {
        each.layer.letter: each.tightness_pct for each in layers if each.tightness_pct is not None
    }
    return max(found, key=lambda letter: found[letter], default="")


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
