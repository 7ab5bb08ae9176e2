"""What can stay on the loom when another cloth follows: the draft and the reed.

A draft weaves a cloth if no shaft holds two ends that weave differently. How the shafts are
numbered does not matter, and a shaft more than the cloth needs does no harm. On a Jacquard the
hooks take the place of the shafts.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import IntEnum
from itertools import groupby
from math import lcm
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.looms.denting import (
    chosen_panel_cm,
    dents_needed_per_10cm,
    is_within_stock_tolerance,
)
from weavability.looms.denting_facts import is_served_by
from weavability.looms.drawing_in import OnHooks, OnShafts
from weavability.looms.fit import Fit
from weavability.looms.selvedge_on_loom import NO_SELVEDGE, SelvedgeOnLoom
from weavability.looms.shedding_limits import JacquardLimits
from weavability.looms.style_on_loom import ReedBasis, StyleOnLoom
from weavability.looms.thresholds import in_force
from weavability.looms.warp_left import Beams
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.crimp import crimp_band
from weavability.textiles.draft_kinds import draft_kind
from weavability.textiles.numbers import passed
from weavability.textiles.thread_systems import SystemFacts
from weavability.textiles.warp_size import size_by_yarn_pct
from weavability.textiles.weave_matrix import Matrix, Repeat
from weavability.textiles.weave_structure import Structure
from weavability.textiles.yarn_facts import YarnFacts

Lines = NDArray[np.intp]

Drawn = tuple[str | None, tuple[int, ...]]
"""Harness and draft of the ground: what decides whether it weaves a cloth, in whatever reed."""


MOST_IN_DOUBT_PCT: Final = 3.0
"""Change of the cloth's width up to which the reed stays if only an estimated crimp is against it;
for a greater one the warp is sleyed anew, and the other width is listed. Common practice, no
source."""


MOST_LISTED_PCT: Final = 10.0
"""A cloth whose width changes by more is not the one ordered, and its reed is no alternative.
Common practice, no source."""


REED_DIGITS: Final = 2
"""Decimals of the dents in 10 cm by which reeds are compared."""


class Settled(NamedTuple):
    """A cloth on what is on the loom, as far as that serves.

    Attributes:
        style: On the draft and in the reed of the loom if they serve, else on its own.
        in_own_reed: On the draft of the loom in the reed of its own if that serves, else on its
            own draft.
        others: In the reeds that were not chosen, if the order leaves that open: the cloth then
            comes out in another width. They are on the draft of the loom, if that serves.
    """

    style: StyleOnLoom
    in_own_reed: StyleOnLoom
    others: tuple[StyleOnLoom, ...] = ()


def style_on_loom(fit: Fit, *, lift_plan: str | None = None) -> StyleOnLoom:
    """Collect the figures that a change of style compares, for a cloth on its own draft.

    Args:
        fit: The cloth on the loom.
        lift_plan: The fingerprint of its lift plan, if it is known already.
    """
    shedding, cloth = fit.limits.shedding, fit.cloth
    plan = lift_plan or fingerprint(lift_plan_of(fit))
    reed_width_cm = _width_in_reed_cm(
        fit,
        fit.denting.dents_per_10cm,
        fit.denting.ends_per_dent,
        fit.denting.selvedge_ends_per_dent,
    )
    return StyleOnLoom(
        ends=cloth.ends.total,
        reed_dents_per_10cm=round(fit.denting.dents_per_10cm, REED_DIGITS),
        ends_per_dent=fit.denting.ends_per_dent,
        threading=_own_threading(fit),
        selvedge=replace(
            _own_selvedge(fit, plan),
            ends_per_dent=fit.denting.selvedge_ends_per_dent if cloth.ends.selvedge else 0,
        ),
        lift_plan=plan,
        weft_yarns=tuple(_yarn_keys(cloth.weft).values()),
        weft_order=_weft_order(cloth.weft.order.sequence),
        warp=_warp_key(fit),
        beams=tuple(_beams(fit)),
        let_offs=len(fit.groups) if len(fit.groups) <= fit.limits.beams.let_offs else 1,
        pile_ratios=tuple(
            ratio for each in fit.groups if (ratio := each.group.pile_ratio) is not None
        ),
        shedding=shedding.kind,
        harness=f"{shedding.hooks} x {shedding.ends_per_hook}"
        if isinstance(shedding, JacquardLimits)
        else None,
        cords_per_cm=_own_cords_per_cm(fit, reed_width_cm),
        picks_per_cm=round(cloth.picks_per_cm_on_loom, 3),
        reed_width_cm=reed_width_cm,
        panels=cloth.panels,
        reed_basis=_reed_basis(fit),
    )


def _reed_basis(fit: Fit) -> ReedBasis | None:
    """Return the cloth for whose width its reed was chosen; ``None`` if the reed does not give it.

    A reed that an order requests may leave the cloth any width.
    """
    denting, cloth = fit.denting, fit.cloth
    change_pct = 100 * (denting.needed_dents_per_10cm / denting.dents_per_10cm - 1)
    if not is_within_stock_tolerance(change_pct):
        return None
    return ReedBasis(
        ends_per_cm=cloth.warp.threads_per_cm,
        weft_crimp_pct=cloth.weft.crimp_pct,
        is_crimp_estimated=cloth.symbols.weft.stated_crimp()[0] < 1.0,
        crimp_band_points=_crimp_band_points(cloth.structure),
    )


def lift_plan_of(fit: Fit) -> Matrix:
    """Return what the shedding lifts: shafts by the draft; without one, hooks by the weave."""
    return fit.cloth.weave.matrix if fit.draft is None else fit.draft.lift_plan


def fingerprint(plan: Matrix) -> str:
    """Return a short text that differs between lift plans."""
    return f"{plan.shape}{hashlib.sha256(np.packbits(plan).tobytes()).hexdigest()}"


def _own_selvedge(fit: Fit, plan: str) -> SelvedgeOnLoom:
    """Return where the ends of the selvedges hang if nothing else is on the loom.

    ``plan`` is the key of the ground's lift plan. On a Jacquard a selvedge with a weave of its own
    has hooks of its own.
    """
    ends, selvedge = fit.cloth.ends.selvedge, fit.cloth.symbols.selvedge
    if not ends:
        return NO_SELVEDGE
    repeat, shafts = selvedge.repeat, selvedge.shafts
    if repeat is None:
        return SelvedgeOnLoom(
            ends=ends,
            shafts=shafts,
            threading=tuple(range(1, shafts + 1)),
            lifts=f"{shafts} shafts" if shafts else "",
            is_known=not shafts,
        )
    if not shafts and repeat.weave == fit.cloth.repeat.weave:
        return SelvedgeOnLoom(ends=ends)
    lifts = fingerprint(repeat.weave.matrix)
    threading = tuple((repeat.end_kinds + 1).tolist())
    in_ground = f"{plan} {lifts}"
    if shafts >= max(threading) or isinstance(fit.drawing_in, OnHooks):
        in_ground = ""
        lifts = _lifts_of(threading, repeat) or lifts
    elif not shafts:
        threading, lifts = (), ""
    return SelvedgeOnLoom(
        ends=ends, shafts=shafts, threading=threading, in_ground=in_ground, lifts=lifts
    )


def _lifts_of(threading: tuple[int, ...], repeat: Repeat) -> str | None:
    """Return the key of what shafts lift that weave a repeat, ``None`` if they cannot."""
    plan = lift_plan_on(threading, repeat, ends=lcm(len(threading), repeat.weave.ends))
    return None if plan is None else fingerprint(plan)


def _kept_selvedge(fit: Fit, own: StyleOnLoom, old: StyleOnLoom, plan: str) -> SelvedgeOnLoom:
    """Return where the ends of the selvedges hang if the ground stays on the draft on the loom.

    They stay on the shafts on which those of the loom hang, if these weave them; else they are
    drawn in as on the cloth's own draft. ``plan`` is the key of the ground's lift plan.
    """
    new, was, facts = own.selvedge, old.selvedge, fit.cloth.symbols.selvedge
    if new.in_ground and facts.repeat is not None:
        new = replace(new, in_ground=f"{plan} {fingerprint(facts.repeat.weave.matrix)}")
    if not (new.ends and was.ends) or new.hangs_as(was) or not facts.is_known:
        return new
    if not was.threading or was.in_ground or not was.is_known:
        return new
    lifts = _lifts_of(was.threading, facts.repeat or fit.cloth.repeat)
    return (
        new
        if lifts is None
        else replace(was, ends=new.ends, lifts=lifts, ends_per_dent=new.ends_per_dent)
    )


def settle(
    fit: Fit, own: StyleOnLoom, old: StyleOnLoom, *, known: dict[Drawn, str | None] | None = None
) -> Settled:
    """Put a cloth on what is on the loom, as far as that serves.

    Args:
        fit: The cloth on the loom.
        own: The same on its own draft and in its own reed.
        old: What is on the loom.
        known: What was found of this cloth on drafts before; takes what is found.
    """
    drawn = (old.harness, old.threading)
    if known is None or drawn not in known:
        plan = _kept_lift_plan(fit, own, old)
        if known is not None:
            known[drawn] = plan
    else:
        plan = known[drawn]
    if plan is None:
        return Settled(own, own)
    on_draft = replace(
        own,
        threading=old.threading,
        cords_per_cm=old.cords_per_cm,
        lift_plan=plan,
        selvedge=_kept_selvedge(fit, own, old, plan),
    )
    return _with_reed(fit, own, on_draft, old)


def lift_plan_on(threading: Sequence[int], weave: Repeat, *, ends: int) -> Matrix | None:
    """Return the lift plan by which a draft weaves a cloth, or ``None`` if it cannot.

    Args:
        threading: Shaft of every end of the draft's repeat, 1-based.
        weave: Repeat of the weave, which begins at the first end.
        ends: Ends of the warp: draft and weave are compared as far as it reaches.

    Returns:
        ``uint8`` array of shape (picks, shafts), 1 where the shaft is lifted; a shaft without ends
        stays down.

    A straight draft on four shafts weaves plain, one on three does not:

    >>> from weavability.textiles.weave_matrix import Weave
    >>> plain = Repeat.of(Weave.from_rows(["10", "01"]))
    >>> lift_plan_on((1, 2, 3, 4), plain, ends=100).tolist()
    [[1, 0, 1, 0], [0, 1, 0, 1]]
    >>> lift_plan_on((1, 2, 3), plain, ends=100) is None
    True
    """
    kind_of_shaft = _kinds_of_shafts(threading, weave, ends)
    if kind_of_shaft is None:
        return None
    matrix = weave.weave.matrix
    first_ends = np.unique(weave.end_kinds, return_index=True)[1]
    plan = np.zeros((len(matrix), len(kind_of_shaft) - 1), dtype=np.uint8)
    used = np.flatnonzero(kind_of_shaft >= 0)
    plan[:, used - 1] = matrix[:, first_ends[kind_of_shaft[used]]]
    return plan


def _kinds_of_shafts(threading: Sequence[int], weave: Repeat, ends: int) -> Lines | None:
    """Return how the ends of each shaft weave, if those of none weave differently."""
    return _partners(*_side_by_side(np.asarray(threading), weave.end_kinds, ends))


def is_renumbered(one: Sequence[int], other: Sequence[int], *, ends: int) -> bool:
    """Return whether two drafts differ in the numbers of their shafts alone.

    >>> is_renumbered((1, 2, 3, 4), (2, 4, 1, 3), ends=100)
    True
    >>> is_renumbered((1, 2, 3, 4), (1, 2, 1, 2), ends=100)
    False
    """
    pair = _side_by_side(np.asarray(one), np.asarray(other), ends)
    return _partners(*pair) is not None and _partners(*pair[::-1]) is not None


def _side_by_side(one: Lines, other: Lines, ends: int) -> tuple[Lines, Lines]:
    """Lay two repeats out over the warp, as far as they do not repeat together."""
    length = min(ends, lcm(len(one), len(other)))
    return np.resize(one, length), np.resize(other, length)


def _partners(one: Lines, other: Lines) -> Lines | None:
    """Return the number in ``other`` that goes with each in ``one``, -1 if none does.

    ``None`` if one number goes with several.
    """
    partner = np.full(int(one.max()) + 1, -1, dtype=np.intp)
    partner[one] = other
    return partner if np.array_equal(partner[one], other) else None


def _kept_lift_plan(fit: Fit, own: StyleOnLoom, old: StyleOnLoom) -> str | None:
    """Return the key of the lift plan by which the draft of the loom weaves the cloth, if it can.

    An order that requests a draft gets that one, whatever the numbers of its shafts. Selvedges
    that are on other shafts than on the loom are drawn in anew. The healds must be no more
    crowded than the loom allows or the cloth's own draft would have them.
    """
    if old.harness != own.harness:
        return None
    if old.threading == own.threading:
        return own.lift_plan
    if not (old.threading and own.threading) or not _is_requested(fit, own, old):
        return None
    ends = _ends_on_draft(fit)
    if isinstance(fit.drawing_in, OnHooks):
        kinds = _kinds_of_shafts(old.threading, fit.cloth.repeat, ends)
        return None if kinds is None else own.lift_plan
    plan = lift_plan_on(old.threading, fit.cloth.repeat, ends=ends)
    if plan is None or _is_crowded(fit, old.threading, ends):
        return None
    return fingerprint(plan)


def _own_cords_per_cm(fit: Fit, reed_width_cm: float) -> float:
    """Return the cords per cm in use of a harness: those of the hooks in use, or as in the reed.

    A harness that is much narrower than the warp in the reed has cords cast out evenly, as
    ``shedding.harness_density`` asks.
    """
    on = fit.drawing_in
    if not isinstance(on, OnHooks):
        return 0.0
    limits, ground = on.limits, fit.cloth.panels * fit.cloth.ends.ground
    tied = limits.harness_ends_per_cm * (limits.hooks - on.hooks_idle) / limits.hooks
    wider_mm = 5 * ground * (1 / tied - 1 / fit.denting.ends_per_cm_in_reed)
    fits = not passed(-wider_mm, in_force().usual.shedding_harness_narrower_note_mm)
    return round(tied if fits else ground / (reed_width_cm - _gaps_cm(fit)), 3)


def harness_wider_mm(fit: Fit, style: StyleOnLoom) -> float:
    """Return how much wider than the warp in its reed the cords of a style are, on either side.

    0 on shafts, whose healds follow the warp.
    """
    if not style.cords_per_cm:
        return 0.0
    ground = fit.cloth.panels * fit.cloth.ends.ground
    return 5 * (ground / style.cords_per_cm - (style.reed_width_cm - _gaps_cm(fit)))


class Slant(IntEnum):
    """How the cords of a harness run to the reed."""

    STRAIGHT = 0
    AT_THE_SIDES = 1
    TOO_MUCH = 2


def harness_slant(fit: Fit, style: StyleOnLoom) -> Slant:
    """Return how the cords of a style run to its reed, by the limits of the checks."""
    usual, wider_mm = in_force().usual, harness_wider_mm(fit, style)
    straight = (usual.shedding_harness_narrower_note_mm, usual.shedding_harness_wider_warning_mm)
    most = (usual.shedding_harness_narrower_error_mm, usual.shedding_harness_wider_error_mm)
    for slant, (narrower, wider) in ((Slant.STRAIGHT, straight), (Slant.AT_THE_SIDES, most)):
        if not (passed(-wider_mm, narrower) or passed(wider_mm, wider)):
            return slant
    return Slant.TOO_MUCH


def _slant(fit: Fit, style: StyleOnLoom, own: StyleOnLoom, old: StyleOnLoom) -> Slant:
    """Return how the cords on the loom run to the reed of a style.

    They must run about straight, for which some are cast out evenly. In the reed on the loom they
    run as they do now, and those of the cloth's own draft run as well as any.
    """
    runs_as_now = style.sleying == old.sleying and style.ends <= old.ends
    if runs_as_now or (style.reed, style.cords_per_cm) == (own.reed, own.cords_per_cm):
        return Slant.STRAIGHT
    return harness_slant(fit, style)


def _is_requested(fit: Fit, own: StyleOnLoom, old: StyleOnLoom) -> bool:
    """Return whether the draft of the loom is one that the order may be drawn in on."""
    request = fit.cloth.construction.draft
    if request is None or isinstance(fit.drawing_in, OnHooks):
        return True
    if isinstance(request.threading, str):
        return draft_kind(old.threading) == draft_kind(own.threading)
    return is_renumbered(old.threading, own.threading, ends=_ends_on_draft(fit))


def _ends_on_draft(fit: Fit) -> int:
    """Count the ends on the ground's shafts or hooks, the selvedge's if it has none of its own."""
    ends, own = fit.cloth.ends, fit.cloth.selvedge_shafts or isinstance(fit.drawing_in, OnHooks)
    return ends.total - (ends.selvedge if own else 0)


def _is_crowded(fit: Fit, threading: Sequence[int], ends: int) -> bool:
    on = fit.drawing_in
    if isinstance(on, OnHooks) or on.drawn is None:
        return False
    fullest = int(np.bincount(np.resize(np.asarray(threading), ends)).max())
    limits, width_cm = on.limits, fit.cloth.widths.reed_cm
    allowed = limits.max_healds_per_cm_per_shaft * width_cm
    if limits.max_healds_per_shaft is not None:
        allowed = min(allowed, limits.max_healds_per_shaft)
    return bool(passed(fullest, max(allowed, *on.drawn.healds_per_shaft)))


def _with_reed(fit: Fit, own: StyleOnLoom, style: StyleOnLoom, old: StyleOnLoom) -> Settled:
    """Choose between the reed of the loom and the cloth's own, for ``style`` on the draft there.

    An order that requests a reed gets it, and one that states a denting. Otherwise reed and denting
    of the loom stay if no check warns of them for this cloth, and if the cloth comes out within the
    accepted change of width; and they stay if the order has the width and ends of
    that for which the reed was chosen, only an estimated crimp is in favour of another, and the
    width then changes by a few percent at most. A harness whose cords do not run straight to one of
    the reeds is no obstacle in the other. Up to the greatest slant the cords stay in a reed of the
    cloth's own, and to thread them anew is listed.
    """
    slant = _slant(fit, style, own, old)
    in_own = own if slant is Slant.TOO_MUCH else style
    straight = (own,) if slant is Slant.AT_THE_SIDES else ()
    kept = _in_reed_of_loom(fit, style, old)
    if kept is None or _slant(fit, kept, own, old) is not Slant.STRAIGHT:
        return Settled(in_own, in_own, straight)
    if style.reed == old.reed:
        kept = replace(kept, reed_basis=style.reed_basis)
        return Settled(kept, in_own)
    change_pct = width_change_pct(fit, kept)
    if is_within_stock_tolerance(change_pct):
        return Settled(kept, in_own)
    if abs(change_pct) <= MOST_IN_DOUBT_PCT and _is_in_doubt(style, old):
        return Settled(kept, in_own, (in_own,))
    listed = (kept,) if abs(change_pct) <= MOST_LISTED_PCT else ()
    return Settled(in_own, in_own, (*listed, *straight))


def _in_reed_of_loom(fit: Fit, style: StyleOnLoom, old: StyleOnLoom) -> StyleOnLoom | None:
    """Return a style in the reed and denting of the loom, ``None`` if the order excludes them."""
    is_requested = fit.denting.requested_dents_per_10cm is not None
    if style.reed != old.reed and (is_requested or not _has_denting_of(fit, style, old)):
        return None
    edge = style.selvedge.ends_per_dent
    if edge and fit.cloth.construction.selvedge.ends_per_dent is None:
        edge = old.selvedge.ends_per_dent or edge
    return replace(
        style,
        reed_dents_per_10cm=old.reed_dents_per_10cm,
        ends_per_dent=old.ends_per_dent,
        selvedge=replace(style.selvedge, ends_per_dent=edge),
        reed_basis=old.reed_basis,
        reed_width_cm=_width_in_reed_cm(fit, *old.reed, edge),
    )


def _has_denting_of(fit: Fit, style: StyleOnLoom, old: StyleOnLoom) -> bool:
    """Return whether the cloth may be drawn in as many ends to a dent as are on the loom."""
    return style.ends_per_dent == old.ends_per_dent or is_served_by(
        fit.order, fit.denting, old.reed_dents_per_10cm, old.ends_per_dent
    )


def width_change_pct(fit: Fit, style: StyleOnLoom) -> float:
    """Return how much wider the cloth comes out in the reed of ``style`` than it is ordered."""
    needed = _dents_needed(fit, style.ends_per_dent, style.selvedge.ends_per_dent)
    return 100 * (needed / style.reed_dents_per_10cm - 1)


def _dents_needed(fit: Fit, ends_per_dent: float, edge_ends_per_dent: int) -> float:
    """Return the reed that gives the width ordered, with so many ends in a dent and at the edge."""
    own, order = fit.denting, fit.order
    has_edge = edge_ends_per_dent in (0, own.selvedge_ends_per_dent)
    if ends_per_dent == own.ends_per_dent and has_edge:
        return own.needed_dents_per_10cm
    if edge_ends_per_dent:
        edge = replace(order.denting, edge_ends_per_dent=float(edge_ends_per_dent))
        order = replace(order, denting=edge)
    return dents_needed_per_10cm(order, fit.cloth.numbers, ends_per_dent)


def _width_in_reed_cm(
    fit: Fit, dents_per_10cm: float, ends_per_dent: float, edge_ends_per_dent: int
) -> float:
    """Return the width in use in a reed: the same ends always fill the same dents."""
    needed = _dents_needed(fit, ends_per_dent, edge_ends_per_dent)
    filled = chosen_panel_cm(fit.order, fit.cloth.numbers) * needed / dents_per_10cm
    return fit.cloth.panels * filled + _gaps_cm(fit)


def _gaps_cm(fit: Fit) -> float:
    """Return the width of the empty dents between panels."""
    return (fit.cloth.panels - 1) * fit.cloth.widths.panel_gap_cm


def _is_in_doubt(new: StyleOnLoom, old: StyleOnLoom) -> bool:
    """Return whether only an estimated crimp is in favour of another reed."""
    now, then = new.reed_basis, old.reed_basis
    if now is None or then is None or not (now.is_crimp_estimated or then.is_crimp_estimated):
        return False
    sett_pct = 100 * (now.ends_per_cm / then.ends_per_cm - 1)
    crimp_pct = abs(now.weft_crimp_pct - then.weft_crimp_pct)
    points = max(now.crimp_band_points, then.crimp_band_points)
    return is_within_stock_tolerance(sett_pct) and crimp_pct <= points


def _crimp_band_points(structure: Structure) -> float:
    """Return the half width of the band of an estimated crimp, in percentage points."""
    return crimp_band(
        mean_float_of_picks=structure.mean_float_of_picks,
        mean_float_of_ends=structure.mean_float_of_ends,
    ).points


def _own_threading(fit: Fit) -> tuple[int, ...]:
    """Return the draft; on a Jacquard the hooks in use, one after the other."""
    on = fit.drawing_in
    if isinstance(on, OnShafts):
        return on.drawn.draft.threading if on.drawn else ()
    return tuple(range(1, on.hooks_used + 1))


def _yarn_keys(system: SystemFacts) -> dict[str, str]:
    """Return what each yarn is, not its name: fibre, linear density, plies, twist and colour."""
    return {
        key: f"{yarn.fibre.key} {yarn.linear_density_tex:.4g} tex/{yarn.plies} {_twist(yarn)}"
        f"{yarn.colour}"
        for key, yarn in system.yarns.items()
    }


def _weft_order(sequence: Sequence[str]) -> str:
    """Return an order of wefts over its true repeat, whatever the wefts are called."""
    places = {name: chr(place) for place, name in enumerate(dict.fromkeys(sequence), ord("A"))}
    order = "".join(places[name] for name in sequence)
    return order[: (order + order).find(order, 1)]


def _twist(yarn: YarnFacts) -> str:
    return f"{yarn.twist_direction} {yarn.twist_per_m:.4g} " if yarn.twist_per_m else ""


def _warp_yarn_keys(cloth: ClothFacts) -> dict[str, str]:
    """Return what each warp yarn is as it lies on its beam, and so with its size."""
    stated_pct, symbols = cloth.construction.allowances.size_pct, cloth.symbols
    size = size_by_yarn_pct(symbols.warp, stated_pct, symbols.allowances.size_pct)
    return {key: f"{yarn} size {size[key]:.3g}" for key, yarn in _yarn_keys(cloth.warp).items()}


def _warp_key(fit: Fit) -> str:
    """Return the yarns of a warp in their order, each run of one yarn once, and their beams.

    Selvedge ends of another yarn lie on the beam as well.
    """
    keys, cloth = _warp_yarn_keys(fit.cloth), fit.cloth
    beams = [[keys[name] for name in group.group.yarns] for group in fit.groups]
    own = f" on {beams}" if len(beams) > 1 else ""
    edge, edge_ends = keys[cloth.symbols.selvedge.yarn_key], cloth.ends.selvedge
    runs = list(_runs(cloth.warp.order.sequence, keys))
    if edge_ends and runs != [(edge, 1)]:
        own += f" and {edge_ends} x {edge}"
    return " ".join(f"{count} x {key}" for key, count in runs) + own


def _beams(fit: Fit) -> Iterator[Beams]:
    """Yield the warp that the cloth needs, by groups of ends with beams of their own."""
    for group in fit.groups:
        yield Beams(
            ends=group.ends,
            woven_m=fit.cloth.lengths.loom_m * group.take_up,
            filling_m=group.cloth_per_beam_m * group.take_up,
            m_per_h=fit.output_m_per_h * group.take_up,
        )


def _runs(sequence: Sequence[str], keys: dict[str, str]) -> Iterator[tuple[str, int]]:
    if len({keys[name] for name in sequence}) == 1:
        yield keys[sequence[0]], 1
        return
    for key, run in groupby(keys[name] for name in sequence):
        yield key, sum(1 for _ in run)
