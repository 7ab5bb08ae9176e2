"""The denting of one cloth on one loom, with what was assumed for it."""

from __future__ import annotations

from dataclasses import dataclass
from math import lcm
from typing import Annotated

from weavability.looms.denting import DentingNumbers
from weavability.looms.denting_request import stated_pattern
from weavability.looms.edge_dents import edge_ends_per_dent
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.order_numbers import OrderNumbers
from weavability.looms.reeds import (
    MAX_ENDS_PER_DENT,
    WIRE_SHARE_BAND_POINTS,
    WIRE_SHARE_SOURCE,
    AirSpace,
    DentingPattern,
)
from weavability.looms.suited_denting import ENDS_PER_DENT_BAND, OF_A_WARNING, cost_of_reed
from weavability.looms.thresholds import in_force
from weavability.looms.wide_selvedges import (
    BESIDE_EDGES_BAND,
    is_dented_beside_edges,
    nearest_ends_per_dent,
)
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.numbers import down
from weavability.textiles.sentences import Sentence, say, say_row


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeWarp:
    """A warp that comes out whole, and what that changes: width or sett, not both."""

    total_ends: Annotated[int, "Ends over the whole width, selvedges included"]
    ends_change: Annotated[int, "Ends more than ordered; negative if fewer"]
    dents: Annotated[int, "Dents filled, selvedges included"]
    grey_width_cm: Annotated[float, "Grey width of a panel, if its sett stays as ordered"]
    ends_per_cm: Annotated[float, "Grey sett, if the width stays as ordered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Denting:
    """The reed for one cloth on one loom.

    Attributes:
        ends_per_cm_in_reed: Ground ends over the reed width in use.
        needed_dents_per_10cm: Reed in which ground and selvedges fill the reed width exactly.
        requested_dents_per_10cm: Reed that the order requests, if any.
        dents_per_10cm: Reed to mount: the requested one, else the nearest in stock within
            tolerance, else the one needed.
        ends_per_dent: Ground ends in a dent; the mean of an uneven denting.
        fullest_dent: Ground ends in the fullest dent.
        dents: Dents filled by all panels, those of the selvedges included.
        filled_width_cm: Width of these dents in the reed to mount, with the gaps between panels.
        selvedge_dents: Dents of one selvedge.
        selvedge_ends_per_dent: Ends in a dent of a selvedge.
        from_stock: Whether ``dents_per_10cm`` is one of the loom's reeds in stock.
        width_change_pct: Change of the cloth's width with the reed requested or nearest in stock.
        air: Room between two wires, for the mean end and for a knot in the coarsest.
        whole_dents: The ends nearest to those ordered that fill their dents.
        whole_repeats: Those that make whole repeats of weave, colours and denting; ``None`` if the
            cloth is narrower than one.
    """

    ends_per_cm_in_reed: float
    needed_dents_per_10cm: float
    requested_dents_per_10cm: float | None
    dents_per_10cm: float
    ends_per_dent: float
    fullest_dent: int
    dents: int
    filled_width_cm: float
    selvedge_dents: int
    selvedge_ends_per_dent: int
    from_stock: bool
    width_change_pct: float
    air: AirSpace[float]
    whole_dents: WholeWarp
    whole_repeats: WholeWarp | None


def dent(
    cloth: ClothFacts,
    limits: LoomLimits,
    order: OrderNumbers[float],
    numbers: DentingNumbers[float],
    ledger: Ledger,
) -> Denting:
    """Describe the denting of a cloth on a loom.

    Args:
        cloth: The cloth.
        limits: The loom.
        order: What the order requests.
        numbers: The denting in numbers.
        ledger: Takes the denting that had to be assumed; pointers relative to the request.
    """
    request, stock = order.denting, limits.reeds_in_stock_dents_per_10cm
    pattern = stated_pattern(cloth.construction.reed)
    if pattern is None:
        chosen = int(numbers.ends_per_dent)
        pattern = DentingPattern(ends_in_dent=(chosen,))
        ledger.note(
            "/construction/reed/ends_per_dent",
            chosen,
            unit=None,
            reason=_reason(order, numbers, stock),
            grade=Grade.COMMON_PRACTICE,
            band=_band(order, chosen),
        )
    _note_selvedge(cloth, numbers, ledger)
    _note_wire(cloth, numbers.air, ledger)
    selvedge_dents = int(numbers.selvedge_dents)
    repeat = lcm(int(order.joint_repeat_ends), pattern.ends)
    dents = _dents(cloth, pattern, selvedge_dents, cloth.ends.ground)
    gaps_cm = (cloth.panels - 1) * cloth.widths.panel_gap_cm
    return Denting(
        ends_per_cm_in_reed=numbers.ends_per_cm_in_reed,
        needed_dents_per_10cm=numbers.needed_dents_per_10cm,
        requested_dents_per_10cm=request.dents_per_10cm if request.is_reed_stated else None,
        dents_per_10cm=numbers.dents_per_10cm,
        ends_per_dent=pattern.mean_ends_per_dent,
        fullest_dent=pattern.fullest_dent,
        dents=dents,
        filled_width_cm=10 * dents / numbers.dents_per_10cm + gaps_cm,
        selvedge_dents=selvedge_dents,
        selvedge_ends_per_dent=int(numbers.selvedge_ends_per_dent),
        from_stock=numbers.dents_per_10cm in stock,
        width_change_pct=numbers.width_change_pct,
        air=numbers.air,
        whole_dents=_come_out(
            cloth, pattern, selvedge_dents, pattern.nearest_whole_dents(cloth.ends.ground)
        ),
        whole_repeats=None
        if repeat > cloth.ends.ground
        else _come_out(cloth, pattern, selvedge_dents, repeat * round(cloth.ends.ground / repeat)),
    )


def _dents(cloth: ClothFacts, pattern: DentingPattern, selvedge_dents: int, ground: int) -> int:
    """Count the dents of all panels, of so many ground ends each."""
    return cloth.panels * (pattern.dents_of_warp(ground) + 2 * selvedge_dents)


def _come_out(
    cloth: ClothFacts, pattern: DentingPattern, selvedge_dents: int, ground: int
) -> WholeWarp:
    """Say what so many ground ends a panel, instead of those ordered, would change."""
    total = cloth.panels * ground + cloth.ends.selvedge
    times = ground / cloth.ends.ground
    return WholeWarp(
        total_ends=total,
        ends_change=total - cloth.ends.total,
        dents=_dents(cloth, pattern, selvedge_dents, ground),
        grey_width_cm=cloth.widths.grey_cm * times,
        ends_per_cm=cloth.warp.threads_per_cm * times,
    )


def _band(order: OrderNumbers[float], chosen: int) -> ValueBand:
    """Return how many ends a dent of the ground may take instead."""
    if is_dented_beside_edges(order):
        fewest, most = BESIDE_EDGES_BAND
        return ValueBand(int(fewest), int(most))
    fewer, more = ENDS_PER_DENT_BAND
    return ValueBand(max(1, chosen - fewer), min(chosen + more, MAX_ENDS_PER_DENT))


def _reason(
    order: OrderNumbers[float], numbers: DentingNumbers[float], stock: tuple[float, ...]
) -> Sentence:
    """Say why so many ends were taken in a dent."""
    request = order.denting
    chosen, ends_per_10cm = int(numbers.ends_per_dent), 10 * numbers.ends_per_cm_in_reed
    if is_dented_beside_edges(order):
        return say(
            "assumption.denting.beside_selvedges",
            "suits the ground, whatever reeds are in stock: the width of the wide selvedges, whose "
            "own denting is stated, rests on it; [COMMON-PRACTICE]",
        )
    if request.is_reed_stated:
        nearest = int(nearest_ends_per_dent(request, ends_per_10cm))
        if chosen < nearest:
            return say(
                "assumption.denting.full_dent",
                "the most that a dent takes; the sett in the stated reed needs {ends_per_dent}",
                ends_per_dent=nearest,
            )
        return say(
            "assumption.denting.nearest",
            "the whole number that comes nearest to the sett in the stated reed",
        )
    in_stock = numbers.dents_per_10cm in stock
    if numbers.air.knot_room_pct < 100:
        return (
            say(
                "assumption.denting.most_room_in_stock",
                "as much room for knots as a reed in stock gives; [COMMON-PRACTICE]",
            )
            if in_stock
            else say(
                "assumption.denting.most_room",
                "as much room for knots as a reed of usual fineness gives; [COMMON-PRACTICE]",
            )
        )
    return (
        say(
            "assumption.denting.knots_pass_in_stock",
            "suits a reed in stock, in whose gaps a knot passes; [COMMON-PRACTICE]",
        )
        if in_stock
        else say(
            "assumption.denting.knots_pass",
            "suits a reed of usual fineness, in whose gaps a knot passes; [COMMON-PRACTICE]",
        )
    )


def _note_wire(cloth: ClothFacts, air: AirSpace[float], ledger: Ledger) -> None:
    share, bounds = air.wire_share_pct, CONSTRUCTION_BOUNDS["/reed/wire_share_pct"]
    ledger.take(
        "/construction/reed/wire_share_pct",
        cloth.construction.reed.wire_share_pct,
        share,
        unit="%",
        reason=say(
            "assumption.reed.wire_share",
            "of this reed; {source}",
            source=say_row("part.wire_share", WIRE_SHARE_SOURCE),
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(
            max(bounds.least, share - WIRE_SHARE_BAND_POINTS),
            min(bounds.most, share + WIRE_SHARE_BAND_POINTS),
        ),
    )


def _note_selvedge(cloth: ClothFacts, numbers: DentingNumbers[float], ledger: Ledger) -> None:
    """Note the ends in an edge dent, if there are edges."""
    if not cloth.ends.selvedge:
        return
    fullest = int(numbers.fullest_dent)
    doubled = int(edge_ends_per_dent(fullest))
    own_weave = cloth.construction.selvedge.weave is not None
    ledger.take(
        "/construction/selvedge/ends_per_dent",
        cloth.construction.selvedge.ends_per_dent,
        fullest if own_weave else doubled,
        unit=None,
        reason=_reason_of_selvedge(fullest, own_weave=own_weave),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(fullest, doubled),
    )


def _reason_of_selvedge(fullest: int, *, own_weave: bool) -> Sentence:
    if own_weave:
        return say(
            "assumption.denting.selvedge_with_weave",
            "as the ground, since its weave is stated; [COMMON-PRACTICE]",
        )
    if 2 * fullest <= MAX_ENDS_PER_DENT:
        return say("assumption.denting.selvedge", "edge dents doubled; [COMMON-PRACTICE]")
    return say(
        "assumption.denting.full_selvedge",
        "edge dents doubled, to the {most_ends} of a full dent; [COMMON-PRACTICE]",
        most_ends=MAX_ENDS_PER_DENT,
    )


def is_served_by(
    order: OrderNumbers[float], own: Denting, dents_per_10cm: float, ends_per_dent: float
) -> bool:
    """Return whether a reed and a denting that are on a loom serve an order that leaves both open.

    They do if no check warns of them, or of the denting that would be chosen as much.
    """
    if order.denting.is_pattern_stated or ends_per_dent != down(ends_per_dent):
        return False
    if is_dented_beside_edges(order):
        return False  # in others the selvedges, and so the cloth, have another width
    usual = in_force().usual
    cost = cost_of_reed(order, usual, dents_per_10cm, ends_per_dent)
    of_own = cost_of_reed(order, usual, own.dents_per_10cm, float(own.fullest_dent))
    return cost < OF_A_WARNING or cost <= of_own
