"""Choices of the reed, and of the width and the sett that its dents give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil, inf, isinf
from typing import Final

from weavability.answers.dominance import FAR_POINTS
from weavability.answers.field_changes import (
    ROOT,
    Change,
    Write,
    changed,
    distance_of,
    form_of,
    one_field,
    value_at,
)
from weavability.answers.levers import LEAST_WIDTH_CM, SAME_CLOTH_PCT, At, ChoiceLever
from weavability.answers.rounding import tidy
from weavability.checks.codes import CheckCode
from weavability.checks.trial_facts import Trial
from weavability.looms.denting import (
    DentingInStock,
    dentings_in_stock,
    is_within_stock_tolerance,
)
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.looms.suited_denting import cost_of_reed
from weavability.looms.thresholds import in_force
from weavability.looms.wide_selvedges import selvedges_in_reed
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import SLACK
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS

MOST_OUTER_ENDS_PCT: Final = 2.0
"""Ends that are taken out at the sides, at most, in % of the ends."""

_TRIED_A_SIDE: Final = 16

_MOST_DIGITS: Final = 3
_PART_OF_AN_END: Final = 0.4
"""A width that is rounded by less has the same ends."""

_NEAREST_REEDS: Final = 3
_OTHER_REEDS: Final = 2
_SETTS_TRIED: Final = 3


def _stock_reeds(at: At) -> Iterator[Change]:
    """Yield the nearest reeds in stock: as requested, by the ends in a dent, or by the sett."""
    stock = at.fit.limits.reeds_in_stock_dents_per_10cm
    if not stock:
        return
    if at.fit.denting.requested_dents_per_10cm is None:
        yield from _stock_reeds_of_open_order(at.fit, stock)
    else:
        yield from _stock_reeds_of_stated_reed(at.fit, stock)


def _stock_reeds_of_stated_reed(fit: Fit, stock: Sequence[float]) -> Iterator[Change]:
    """Yield the reeds in stock that give the ordered width, beside the sett for it if need be.

    Other ends in a dent have to be nearer than any reed for those of the order, and either as good,
    or leave the sett as it is, unless any reed for those is far.
    """
    own, usual = fit.denting, in_force().usual
    by_nearness = sorted(stock, key=lambda each: abs(each - own.needed_dents_per_10cm))
    found = (
        _in_reed(fit, dents, own.ends_per_dent, own.needed_dents_per_10cm)
        for dents in by_nearness[:_NEAREST_REEDS]
    )
    alike = [each for each in found if each is not None]
    nearest = min(map(distance_of, alike), default=inf)
    cost = cost_of_reed(fit.order, usual, own.needed_dents_per_10cm, own.ends_per_dent)
    others = (
        _in_reed(fit, each.dents_per_10cm, each.ends_per_dent, each.needed_dents_per_10cm)
        for each in _other_dentings(fit)
        if nearest > FAR_POINTS or each.cost <= cost or is_within_stock_tolerance(each.change_pct)
    )
    nearer = (each for each in others if each is not None and distance_of(each) < nearest)
    yield from sorted((*alike, *nearer), key=distance_of)[:_OTHER_REEDS]


def _in_reed(fit: Fit, dents: float, ends_per_dent: float, needed: float) -> Change | None:
    """Return the change to a reed in stock.

    Args:
        fit: The cloth on the loom.
        dents: The reed, in dents per 10 cm.
        ends_per_dent: Ends in each dent of it.
        needed: The reed that the cloth needs with so many.

    Returns:
        ``None`` if it is the reed of the order, or the sett of another cloth.
    """
    own = fit.denting
    if dents == own.requested_dents_per_10cm:
        return None
    writes = _reed_writes(fit, dents)
    words = f"Use the reed of {dents:g} dents/10 cm that is in stock"
    if ends_per_dent != own.ends_per_dent:
        writes.extend(_denting_writes(fit, int(ends_per_dent)))
        words += f", with {_so_many_ends(int(ends_per_dent))} in {_a_dent(fit)}"
    if is_within_stock_tolerance(100 * (needed / dents - 1)):
        return Change(writes=tuple(writes), message=f"{words}.")
    return _with_its_sett(fit, writes, words, dents / needed)


def _reed_writes(fit: Fit, dents: float) -> list[Write]:
    """Return what states a reed in dents per 10 cm, in place of one in a counting system."""
    reed = fit.cloth.construction.reed
    counted = {"count": reed.count, "system": reed.system}
    return [
        Write(field=f"{ROOT}/reed/dents_per_10cm", to=tidy(dents), unit="dents/10 cm"),
        *(
            Write(field=f"{ROOT}/reed/{name}", to=None)
            for name, stated in counted.items()
            if stated is not None
        ),
    ]


def _denting_writes(fit: Fit, ends_per_dent: int) -> Iterator[Write]:
    """Yield what states so many ends in every dent, in place of an uneven denting."""
    yield Write(field=f"{ROOT}/reed/ends_per_dent", to=ends_per_dent, unit="ends/dent")
    if fit.cloth.construction.reed.ends_in_dents:
        yield Write(field=f"{ROOT}/reed/ends_in_dents", to=None)


def _a_dent(fit: Fit) -> str:
    return "every dent" if fit.cloth.construction.reed.ends_in_dents else "a dent"


def _so_many_ends(count: int) -> str:
    return "1 end" if count == 1 else f"{count} ends"


def is_denting_of_cloth(fit: Fit) -> bool:
    """Return whether crammed or empty dents are a part of the cloth.

    Dents of which the fullest has one end more than the emptiest only give a sett that no even
    denting does.
    """
    dents = fit.cloth.construction.reed.ends_in_dents
    return bool(dents) and (0 in dents or max(dents) - min(dents) > 1)


def _with_its_sett(fit: Fit, writes: list[Write], words: str, times: float) -> Change | None:
    """Return the change to another reed with the sett that it gives.

    Crimp and selvedges move with the sett, so that it is corrected until the cloth comes out in the
    width that is ordered.

    Args:
        fit: The cloth on the loom.
        writes: What states the reed and its denting.
        words: What that means.
        times: By how much the sett changes if crimp and selvedges stay as they are.

    Returns:
        ``None`` if no sett of the same cloth does.
    """
    now = fit.cloth.construction.warp.threads_per_cm
    for _ in range(_SETTS_TRIED):
        to = round(now * times, 2)
        if not _is_same_cloth(to, now):
            return None
        sett = _ends(fit, to, words + ", and set {to:g} {unit}, which it gives.")
        change = replace(sett, writes=(*writes, *sett.writes))
        try:
            trial = Trial(changed(fit.cloth.construction, change), fit.limits, fit)
            wider_pct = trial.fit.denting.width_change_pct
        except InputError:
            return None
        if is_within_stock_tolerance(wider_pct):
            return change
        times /= 1 + wider_pct / 100
    return None


def _stock_reeds_of_open_order(fit: Fit, stock: Sequence[float]) -> Iterator[Change]:
    """Yield what uses a reed in stock, if the order requests none: other dentings, other setts."""
    now, own = fit.cloth.construction.warp.threads_per_cm, fit.denting
    others, a_dent = _other_dentings(fit), _a_dent(fit)
    for other in others:
        if is_within_stock_tolerance(other.change_pct):
            yield Change(
                writes=tuple(_denting_writes(fit, other.ends_per_dent)),
                message=f"Draw {_so_many_ends(other.ends_per_dent)} in {a_dent}, for the reed of "
                f"{other.dents_per_10cm:g} dents/10 cm.",
            )
    for dents in sorted(stock, key=lambda each: abs(each - own.needed_dents_per_10cm))[
        :_NEAREST_REEDS
    ]:
        to = round(now * dents / own.needed_dents_per_10cm, 2)
        if _is_same_cloth(to, now):
            message = f"Set {{to:g}} {{unit}}, which the reed of {dents:g} dents/10 cm gives."
            yield _ends(fit, to, message)
    nearest = min(others, key=lambda each: abs(each.change_pct), default=None)
    if nearest is not None and not is_within_stock_tolerance(nearest.change_pct):
        to = round(now / (1 + nearest.change_pct / 100), 2)
        if _is_same_cloth(to, now):
            sett = _ends(
                fit,
                to,
                f"Set {{to:g}} {{unit}}, which the reed of {nearest.dents_per_10cm:g} dents/10 cm "
                f"gives with {_so_many_ends(nearest.ends_per_dent)} in {a_dent}.",
            )
            denting = _denting_writes(fit, nearest.ends_per_dent)
            yield replace(sett, writes=(*sett.writes, *denting))


def _other_dentings(fit: Fit) -> list[DentingInStock]:
    if is_denting_of_cloth(fit):
        return []
    own, reeds, usual = fit.denting, fit.limits.numbers.reeds, in_force().usual
    found = dentings_in_stock(fit.order, fit.cloth.numbers, reeds, usual, own.ends_per_dent)
    others = (each for each in found if each.ends_per_dent != own.ends_per_dent)
    return sorted(others, key=lambda each: each.cost)


def _ends(fit: Fit, per_cm: float, message: str) -> Change:
    return _stated(fit, "warp/ends_per_cm", per_cm, "ends/cm", message, digits=2)


def _stated(fit: Fit, field: str, metric: float, unit: str, message: str, *, digits: int) -> Change:
    """Return a change to an exact metric value, in the form that the order uses."""
    form = form_of(fit.cloth.construction, f"{ROOT}/{field}")
    to = round(metric * form.per_metric, digits)
    now = value_at(fit.cloth.construction, f"{ROOT}/{field}") * form.per_metric
    return one_field(f"{ROOT}/{field}", to, message, unit=form.unit_of(unit), now=now)


def _is_same_cloth(to: float, now: float) -> bool:
    return abs(to / now - 1) * 100 <= SAME_CLOTH_PCT


def _even_denting(at: At) -> Iterator[Change]:
    """Yield even dents in place of unlike ones that are no part of the cloth, the nearest first."""
    fit = at.fit
    dents = fit.cloth.construction.reed.ends_in_dents
    if dents and not is_denting_of_cloth(fit):
        for count in sorted(
            {min(dents), max(dents)}, key=lambda each: abs(each - sum(dents) / len(dents))
        ):
            message = f"Draw {_so_many_ends(count)} in every dent."
            yield Change(writes=tuple(_denting_writes(fit, count)), message=message)


def _reed_of_sett(at: At) -> Iterator[Change]:
    is_of_width = at.code in (CheckCode.WIDTH_REED_SPACE, CheckCode.WIDTH_BELOW_MINIMUM)
    if is_of_width and at.fit.denting.requested_dents_per_10cm is None:
        return
    to, usual = round(at.fit.denting.needed_dents_per_10cm, 1), in_force().usual
    if usual.reed_coarsest_dents_per_10cm <= to <= usual.reed_finest_dents_per_10cm:
        message = f"Use a reed of {to:g} dents/10 cm."
        yield Change(writes=tuple(_reed_writes(at.fit, to)), message=message)


def _stated_per_grey(fit: Fit) -> float:
    """Return the factor from a grey width to the width as the order states it."""
    return fit.cloth.construction.width_cm / fit.cloth.widths.grey_cm


def width_of_ends(fit: Fit, ends: int, message: str) -> Change | None:
    """Return the change to the width of so many ground ends, in as few decimals as give these."""
    per_cm = fit.cloth.warp.threads_per_cm / _stated_per_grey(fit)
    to = ends / per_cm
    if to < LEAST_WIDTH_CM or not _is_same_cloth(to, fit.cloth.construction.width_cm):
        return None
    per_metric = form_of(fit.cloth.construction, f"{ROOT}/width_cm").per_metric
    digits = next(
        each
        for each in range(_MOST_DIGITS + 1)
        if each == _MOST_DIGITS
        or abs(round(to * per_metric, each) / per_metric - to) * per_cm < _PART_OF_AN_END
    )
    return _stated(fit, "width_cm", to, "cm", message, digits=digits)


def _whole(repeats: int) -> str:
    return "one whole repeat" if repeats == 1 else f"{repeats} whole repeats"


def _whole_repeats(at: At) -> Iterator[Change]:
    """Yield the widths of whole repeats of the warp order, the nearest first."""
    ends, repeat = at.fit.cloth.ends.ground, at.fit.cloth.warp.order.threads
    below = ends // repeat
    for repeats in sorted((below, below + 1), key=lambda each: abs(each * repeat - ends)):
        message = f"Weave it {{to:.5g}} {{unit}} wide, for {_whole(repeats)}."
        found = width_of_ends(at.fit, repeats * repeat, message)
        if found is not None:
            yield found


def _outer_ends(at: At) -> Iterator[Change]:
    """Yield the widths without a few outer ends, as many at either side, the fewest first."""
    cloth, too_many = at.fit.cloth, _share_too_many(at)
    if not 0 < too_many <= MOST_OUTER_ENDS_PCT / 100:
        return
    fewest = ceil(cloth.ends.ground * too_many / 2 - SLACK)
    for a_side in range(fewest, fewest + _TRIED_A_SIDE):
        of_panel = " of each panel" if cloth.panels > 1 else ""
        message = (
            f"Take the {2 * a_side} outer ends out, {a_side} at each side{of_panel}: {{to:g}} "
            "{unit} wide."
        )
        found = width_of_ends(at.fit, cloth.ends.ground - 2 * a_side, message)
        if found is not None:
            yield found


def _share_too_many(at: At) -> float:
    """Return the share of the ends for which reed, shafts or hooks have no room."""
    fit, on = at.fit, at.fit.drawing_in
    if at.code is CheckCode.WIDTH_REED_SPACE:
        return 1 - fit.limits.reed_width_cm / fit.cloth.widths.reed_cm
    if isinstance(on, OnHooks):
        room = on.hooks_used * on.limits.ends_per_hook
        return 1 - room / (fit.cloth.panels * fit.cloth.ends.ground)
    if on.drawn is None or isinf(on.limits.max_healds_per_shaft):
        return 0.0
    return 1 - on.limits.max_healds_per_shaft / max(on.drawn.healds_per_shaft)


def _split_remainder(at: At) -> Iterator[Change]:
    """Yield the ground of whole repeats with what is left of one shared by the two selvedges."""
    cloth = at.fit.cloth
    repeat = cloth.warp.order.threads
    remainder = cloth.ends.ground % repeat
    now = cloth.construction.selvedge.ends_per_side
    narrower = width_of_ends(at.fit, cloth.ends.ground - remainder, "")
    if narrower is None or not remainder:
        return
    side = (now or 0) + (remainder + 1) // 2
    shared = replace(at.fit.order, selvedge_ends=2.0 * cloth.panels * side)
    edges = selvedges_in_reed(shared, cloth.numbers)
    if side > MOST_USUAL_ENDS or edges.width_cm > edges.usual_cm:
        return  # it is a border, or a part of the check
    width = narrower.writes[0]
    message = (
        f"Weave {_whole(cloth.ends.ground // repeat)}, {width.to:.5g} {width.unit} wide, and "
        f"share the {remainder} {'end that is' if remainder == 1 else 'ends that are'} left "
        f"between the selvedges: {side} a side."
    )
    edge = Write(field=f"{ROOT}/selvedge/ends_per_side", to=side, unit="ends")
    yield Change(writes=(width, edge), message=message)


STOCK_REED: Final = ChoiceLever(words="a reed in stock", choose=_stock_reeds)
REED_OF_SETT: Final = ChoiceLever(words="the reed that the sett needs", choose=_reed_of_sett)
EVEN_DENTING: Final = ChoiceLever(words="the same ends in every dent", choose=_even_denting)
OUTER_ENDS: Final = ChoiceLever(words="a few outer ends fewer", choose=_outer_ends, is_ordered=True)
WHOLE_REPEATS: Final = ChoiceLever(words="whole repeats", choose=_whole_repeats)
SPLIT_REMAINDER: Final = ChoiceLever(
    words="the remainder of a repeat in the selvedges", choose=_split_remainder
)
