"""A cloth with other values assumed for what its order leaves open."""

from __future__ import annotations

from typing import Any

from weavability.textiles.assumptions import YARNS, End, Ledger, Moves
from weavability.textiles.cloth_crimps import points_of_crimp
from weavability.textiles.cloth_defaults import (
    resolve_allowances,
    resolve_panels,
    resolve_shrinkages,
)
from weavability.textiles.cloth_numbers import ClothNumbers, StatedCloth
from weavability.textiles.cloth_states import (
    as_wide_as,
    cloth_like,
    cloth_on_use,
    estimated_crimps_pct,
    is_wider_alone,
)
from weavability.textiles.cloth_symbols import WEFT_CRIMP, ClothSymbols, MovedCloth
from weavability.textiles.crimp import Crimps
from weavability.textiles.layered_cloth import layered_threads
from weavability.textiles.numbers import N, anywhere, changed, greatest, least
from weavability.textiles.selvedge_facts import resolve_selvedge
from weavability.textiles.thread_systems import resolve_threads
from weavability.textiles.warp_groups import warp_groups


def moved_symbols(symbols: ClothSymbols, moves: Moves) -> ClothSymbols:
    """Settle again what may be moved; what is counted stays, and so does the length to weave.

    Args:
        symbols: What the order says.
        moves: Values to assume in place of the defaults.

    Raises:
        InputError: The values contradict one another.
    """
    key = moves, symbols.assumed
    known = symbols.moved_alike.get(key)
    if known is None:
        known = _moved_symbols(symbols, moves)
        if moves.only is None:
            symbols.moved_alike[key] = known
    elif known.construction is not symbols.construction:
        return known.for_setts_of(symbols.construction, symbols.assumed)
    return known


def _moved_symbols(symbols: ClothSymbols, moves: Moves) -> ClothSymbols:
    one, ledger = symbols.construction, Ledger("/construction", keeps=False, moves=moves)
    changes: dict[str, Any] = {"moves": moves}
    warp, weft = symbols.warp, symbols.weft
    if moves.touch(symbols.assumed, *YARNS):
        warp, weft = resolve_threads(one, ledger)
        woven = symbols.layered_weave
        changes |= {"warp": warp, "weft": weft, "groups": warp_groups(one, warp, woven)}
        if woven:
            changes["layers"] = layered_threads(woven, warp, weft, one.reed.ends_in_dents)
    if warp is not symbols.warp or moves.touch(symbols.assumed, "/construction/selvedge/"):
        changes["selvedge"] = resolve_selvedge(
            one,
            symbols.repeat,
            symbols.structure,
            symbols.layered_weave,
            warp,
            symbols.panels,
            ledger,
            symbols.ground_edge,
        )
    if moves.touch(symbols.assumed, "/construction/finishing/"):
        changes["shrinkages"] = resolve_shrinkages(
            one, symbols.stage, warp=warp, weft=weft, ledger=ledger
        )
    if moves.touch(symbols.assumed, "/construction/panel_gap_cm"):
        changes["panel_gap_cm"] = resolve_panels(one, ledger)[1]
    if moves.touch(symbols.assumed, "/construction/allowances/"):
        changes["allowances"] = resolve_allowances(one, warp, ledger)
    return symbols.with_values(**changes)


def moved_cloth(
    stated: StatedCloth[N],
    *,
    estimated_weft_crimp_pct: N,
    moves: Moves,
    estimated: Crimps[N] | None = None,
) -> ClothNumbers[N]:
    """Bring a cloth to the grey state with an estimated weft crimp moved as well.

    Each number is computed when it is read.

    Args:
        stated: As stated and otherwise moved.
        estimated_weft_crimp_pct: Of the cloth with nothing moved: the band lies around it.
        moves: Values to assume in place of the defaults.
        estimated: Crimps estimated of the cloth as stated and otherwise moved, if they are known.
    """
    return cloth_on_use(_moved_crimp(stated, estimated_weft_crimp_pct, moves, estimated))


def moved_like(
    symbols: ClothSymbols,
    stated: StatedCloth[float],
    *,
    estimated_weft_crimp_pct: float,
    moves: Moves,
    estimated: Crimps[float] | None = None,
) -> ClothNumbers[float]:
    """Bring a cloth to the grey state, as :func:`moved_cloth` does, that may be a trial of another.

    If it differs in width, panels or length alone from the first that was moved so, all else is
    taken from that.

    Args:
        symbols: What the order says, with nothing moved.
        stated: As for :func:`moved_cloth`, and so all that follows.
        estimated_weft_crimp_pct: Of the cloth with nothing moved.
        moves: Values to assume in place of the defaults.
        estimated: Crimps that are known.
    """
    estimate, first = estimated_weft_crimp_pct, symbols.moved_first.get(moves)
    is_alike = first is not None and first.estimated_weft_crimp_pct == estimate
    if first is not None and is_alike and is_wider_alone(stated, first.stated):
        return cloth_like(as_wide_as(stated, first.moved), first.moved, first.cloth)
    moved = _moved_crimp(stated, estimate, moves, estimated)
    cloth = symbols.grey if moved is symbols.stated() else cloth_on_use(moved)
    if first is None and moves.only is None:
        symbols.moved_first[moves] = MovedCloth(stated, estimate, moved, cloth)
    return cloth


def _moved_crimp(
    stated: StatedCloth[N],
    estimated_weft_crimp_pct: N,
    moves: Moves,
    estimated: Crimps[N] | None = None,
) -> StatedCloth[N]:
    """Return a cloth with its estimated weft crimp moved, if it is one of the values."""
    end = moves.end_of(WEFT_CRIMP)
    if end is None:
        return stated
    crimp = moved_crimp_pct(stated, estimated_weft_crimp_pct, end)
    if anywhere(stated.warp_stated_share < 1.0):
        beside = moved_crimp_pct(stated, _beside_warp(stated, estimated, end), end)
        crimp = least(crimp, beside) if end is End.LOW else greatest(crimp, beside)
    share = stated.weft_stated_share
    mean_pct = share * stated.weft_crimp_pct + (1.0 - share) * crimp
    return changed(
        stated,
        weft_stated_share=1.0 + 0 * share,
        weft_crimp_pct=mean_pct,
        weft_least_crimp_pct=mean_pct,
        weft_greatest_crimp_pct=mean_pct,
        weft_moved_points=(1.0 - share) * (crimp - estimated_weft_crimp_pct),
    )


def _beside_warp(stated: StatedCloth[N], estimated: Crimps[N] | None, end: End) -> N:
    """Return the weft crimp that is estimated beside the other end of the band of the warp's.

    Length goes from one system to the other: the more the warp crimps, the less the weft does.
    """
    share = stated.warp_stated_share
    other = End.HIGH if end is End.LOW else End.LOW
    known = estimated_crimps_pct(stated) if estimated is None else estimated
    estimated_pct = known.warp_crimp_pct
    warp_pct = moved_crimp_pct(stated, estimated_pct, other)
    mean_pct = share * stated.warp_crimp_pct + (1.0 - share) * warp_pct
    beside = changed(
        stated,
        warp_stated_share=1.0 + 0 * share,
        warp_crimp_pct=mean_pct,
        warp_least_crimp_pct=mean_pct,
        warp_greatest_crimp_pct=mean_pct,
        warp_moved_points=(1.0 - share) * (warp_pct - estimated_pct),
    )
    return estimated_crimps_pct(beside).weft_crimp_pct


def moved_crimp_pct(stated: StatedCloth[N], estimated_pct: N, end: End | None) -> N:
    """Return an estimated crimp, moved to an end of its band if one is given."""
    if end is None:
        return estimated_pct
    side = -1.0 if end is End.LOW else 1.0
    return greatest(0.0, estimated_pct + side * points_of_crimp(stated))
