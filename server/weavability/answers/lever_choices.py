"""Choices from a few values: reeds, yarns, selvedges, beams and feeders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from math import ceil, inf, isinf
from string import ascii_uppercase
from typing import Final

from weavability.answers.field_changes import (
    ROOT,
    Change,
    Write,
    as_json,
    distance_of,
    form_of,
    one_field,
    value_at,
)
from weavability.answers.levers import (
    LEAST_WIDTH_CM,
    MOST_SIZE_PCT,
    SAME_CLOTH_PCT,
    At,
    ChoiceLever,
)
from weavability.answers.rounding import tidy
from weavability.answers.yarn_counts import OtherYarn, folded_counts, other_counts
from weavability.checks.codes import CheckCode
from weavability.looms.denting import (
    DentingInStock,
    cost_of_reed,
    dentings_in_stock,
    is_within_stock_tolerance,
)
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.looms.thresholds import in_force
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.construction import ThreadSystem
from weavability.textiles.numbers import SLACK
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS
from weavability.textiles.thread_order import LONGEST_TEXT
from weavability.textiles.yarns import Yarn

MOST_OUTER_ENDS_PCT: Final = 2.0
"""Ends that are taken out at the sides, at most, in % of the ends."""

_TRIED_A_SIDE: Final = 16

_MOST_DIGITS: Final = 3
_PART_OF_AN_END: Final = 0.4
"""A width that is rounded by less has the same ends."""

MOST_PARTS: Final = 20
"""Parts into which a piece is divided, at most."""

_NEAREST_REEDS: Final = 3
_OTHER_REEDS: Final = 2
_SIZE_STEP_PCT: Final = 1


# ----------------------------------------------------------------------------------- reed and width


def _stock_reeds(at: At) -> Iterator[Change]:
    """Yield the nearest reeds in stock: as requested, by the ends in a dent, or by the sett."""
    stock = at.fit.limits.reeds_in_stock_dents_per_10cm
    if at.fit.cloth.construction.reed.count is not None or not stock:
        return
    if at.fit.denting.requested_dents_per_10cm is None:
        yield from _stock_reeds_of_open_order(at.fit, stock)
    else:
        yield from _stock_reeds_of_stated_reed(at.fit, stock)


def _stock_reeds_of_stated_reed(fit: Fit, stock: Sequence[float]) -> Iterator[Change]:
    """Yield the reeds in stock that give the ordered width, beside the sett for it if need be.

    Other ends in a dent have to be nearer than any reed for those of the order, and either as good,
    or leave the sett as it is.
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
        if each.cost <= cost or is_within_stock_tolerance(each.change_pct)
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
    writes = [Write(field=f"{ROOT}/reed/dents_per_10cm", to=tidy(dents), unit="dents/10 cm")]
    words = f"Use the reed of {dents:g} dents/10 cm that is in stock"
    if ends_per_dent != own.ends_per_dent:
        drawn = Write(field=f"{ROOT}/reed/ends_per_dent", to=ends_per_dent, unit="ends/dent")
        writes.append(drawn)
        words += f", with {ends_per_dent:g} in a dent"
    if not is_within_stock_tolerance(100 * (needed / dents - 1)):
        now = fit.cloth.construction.warp.threads_per_cm
        to = round(now * dents / needed, 2)
        if not _is_same_cloth(to, now):
            return None
        sett = _ends(fit, to, words + ", and set {to:g} {unit}, which it gives")
        writes, words = [*writes, *sett.writes], sett.message
    return Change(writes=tuple(writes), message=f"{words}.")


def _stock_reeds_of_open_order(fit: Fit, stock: Sequence[float]) -> Iterator[Change]:
    """Yield what uses a reed in stock, if the order requests none: other dentings, other setts."""
    now, own = fit.cloth.construction.warp.threads_per_cm, fit.denting
    others, in_a_dent = _other_dentings(fit), f"{ROOT}/reed/ends_per_dent"
    for other in others:
        if is_within_stock_tolerance(other.change_pct):
            ends = "1 end" if other.ends_per_dent == 1 else f"{other.ends_per_dent} ends"
            message = f"Draw {ends} in a dent, for the reed of {other.dents_per_10cm:g}."
            yield one_field(in_a_dent, other.ends_per_dent, message, unit="ends/dent")
    for dents in sorted(stock, key=lambda each: abs(each - own.needed_dents_per_10cm))[
        :_NEAREST_REEDS
    ]:
        to = round(now * dents / own.needed_dents_per_10cm, 2)
        if _is_same_cloth(to, now):
            yield _ends(fit, to, f"Set {{to:g}} {{unit}}, which the reed of {dents:g} gives.")
    nearest = min(others, key=lambda each: abs(each.change_pct), default=None)
    if nearest is not None and not is_within_stock_tolerance(nearest.change_pct):
        to = round(now / (1 + nearest.change_pct / 100), 2)
        if _is_same_cloth(to, now):
            sett = _ends(
                fit,
                to,
                f"Set {{to:g}} {{unit}}, which the reed of {nearest.dents_per_10cm:g} gives with "
                f"{nearest.ends_per_dent} in a dent.",
            )
            denting = Write(field=in_a_dent, to=nearest.ends_per_dent, unit="ends/dent")
            yield replace(sett, writes=(*sett.writes, denting))


def _other_dentings(fit: Fit) -> list[DentingInStock]:
    own = fit.denting
    if own.ends_per_dent != own.fullest_dent:
        return []
    reeds, usual = fit.limits.numbers.reeds, in_force().usual
    found = dentings_in_stock(fit.order, fit.cloth.numbers, reeds, usual, fit.denting.ends_per_dent)
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


def _reed_of_sett(at: At) -> Iterator[Change]:
    reed = at.fit.cloth.construction.reed
    is_of_width = at.code in (CheckCode.WIDTH_REED_SPACE, CheckCode.WIDTH_BELOW_MINIMUM)
    if reed.count is not None or (is_of_width and reed.dents_per_10cm is None):
        return
    to, usual = round(at.fit.denting.needed_dents_per_10cm, 1), in_force().usual
    if usual.reed_coarsest_dents_per_10cm <= to <= usual.reed_finest_dents_per_10cm:
        message = f"Use a reed of {to:g} dents/10 cm."
        yield one_field(f"{ROOT}/reed/dents_per_10cm", to, message, unit="dents/10 cm")


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


def _whole_repeats(at: At) -> Iterator[Change]:
    """Yield the widths of whole repeats of the warp order, the nearest first."""
    ends, repeat = at.fit.cloth.ends.ground, at.fit.cloth.warp.order.threads
    below = ends // repeat
    for repeats in sorted((below, below + 1), key=lambda each: abs(each * repeat - ends)):
        message = f"Weave it {{to:.5g}} {{unit}} wide, for {repeats} whole repeats."
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
    usual, side_cm = in_force().usual, side / cloth.warp.threads_per_cm
    share_pct = 2 * side_cm / cloth.widths.grey_cm * 100
    if (
        side > MOST_USUAL_ENDS
        or side_cm > usual.selvedge_widest_cm
        or share_pct > usual.selvedge_widest_share_pct
    ):
        return  # it is a border, or a part of the check
    width = narrower.writes[0]
    message = (
        f"Weave {cloth.ends.ground // repeat} whole repeats, {width.to:.5g} {width.unit} wide, and "
        f"share the {remainder} {'end that is' if remainder == 1 else 'ends that are'} left "
        f"between the selvedges: {side} a side."
    )
    edge = Write(field=f"{ROOT}/selvedge/ends_per_side", to=side, unit="ends")
    yield Change(writes=(width, edge), message=message)


def _shorter_pieces(at: At) -> Iterator[Change]:
    """Yield the same length in twice as many pieces, three times as many, and so on."""
    order = at.fit.cloth.construction.order
    if order is None:
        return
    for times in range(2, MOST_PARTS + 1):
        pieces, length_m = order.pieces * times, _whole_cm_up(order.piece_length_m / times)
        yield Change(
            writes=(
                Write(field=f"{ROOT}/order/pieces", to=pieces, unit="pieces"),
                Write(field=f"{ROOT}/order/piece_length_m", to=length_m, unit="m"),
            ),
            message=f"Make {pieces} pieces of {length_m:g} m.",
        )


def _whole_cm_up(metres: float) -> float:
    return ceil(metres * 100 - 1e-6) / 100


STOCK_REED: Final = ChoiceLever(words="a reed in stock", choose=_stock_reeds)
REED_OF_SETT: Final = ChoiceLever(words="the reed of the sett", choose=_reed_of_sett)
OUTER_ENDS: Final = ChoiceLever(words="a few outer ends fewer", choose=_outer_ends, is_ordered=True)
WHOLE_REPEATS: Final = ChoiceLever(words="whole repeats", choose=_whole_repeats)
SPLIT_REMAINDER: Final = ChoiceLever(
    words="the remainder of a repeat in the selvedges", choose=_split_remainder
)
SHORTER_PIECES: Final = ChoiceLever(
    words="more pieces, each shorter", choose=_shorter_pieces, is_ordered=True
)


# ----------------------------------------------------------------------------------------- selvedge


def _binding_selvedge(at: At) -> Iterator[Change]:
    if at.fit.cloth.ends.selvedge:
        for to in ("2/2 weft rib", "plain"):
            yield one_field(f"{ROOT}/selvedge/weave", to, f"Weave the selvedge in {to}.")


BINDING_SELVEDGE: Final = ChoiceLever(words="a selvedge that binds", choose=_binding_selvedge)


# -------------------------------------------------------------------------------------------- yarns


def _threads(fit: Fit, system: str) -> ThreadSystem:
    stated = fit.cloth.construction
    return stated.warp if system == "warp" else stated.weft


def _alike(threads: ThreadSystem, key: str) -> list[str]:
    """Return the keys of all yarns that differ from one in colour and crimp at most."""

    def kind(yarn: Yarn) -> Yarn:
        return replace(yarn, colour=None, crimp_pct=None, contraction_pct=None)

    own = kind(threads.yarns[key])
    return [name for name, yarn in threads.yarns.items() if kind(yarn) == own]


def _yarns(
    system: str, others: Callable[[Yarn], Sequence[OtherYarn]], message: str
) -> Callable[[At], Iterator[Change]]:
    def choose(at: At) -> Iterator[Change]:
        threads = _threads(at.fit, system)
        key = at.warp_key if system == "warp" else at.weft_key
        if at.code is CheckCode.WEFT_MIXED_COUNTS and others is _coarser:
            key = _finest_weft(at.fit)
        keys = _alike(threads, key)
        for other in others(threads.yarns[key]):
            made = dict.fromkeys(keys, other) | _beyond_range_too(at, key, keys, other, others)
            shown = dict.fromkeys(map(str, made.values()))
            is_twisted = any("twist_per_m" in dict(each.moved) for each in made.values())
            yield Change(
                writes=tuple(
                    write
                    for name, each in made.items()
                    for write in _writes_of(f"{ROOT}/{system}/yarns/{name}", each)
                ),
                message=message.format(yarn=" and ".join(shown))
                + (" The twist factor stays the same." if is_twisted else ""),
            )

    return choose


def _writes_of(field: str, other: OtherYarn) -> Iterator[Write]:
    """Yield what makes another yarn of one: its count, and what is stated and goes with it."""
    yield Write(
        field=f"{field}/{other.name}",
        to=other.to,
        unit="tex" if other.name == "linear_density_tex" else None,
        change_pct=other.change_pct,
    )
    for name, to in other.moved:
        yield Write(field=f"{field}/{name}", to=to, unit=YARN_BOUNDS[name].unit)


def _beyond_range_too(
    at: At,
    key: str,
    keys: Sequence[str],
    other: OtherYarn,
    others: Callable[[Yarn], Sequence[OtherYarn]],
) -> dict[str, OtherYarn]:
    """Return what the other wefts become that are beyond the loom's range, at either end.

    Args:
        at: What is to be helped.
        key: The weft that is changed.
        keys: Its key, and those of the yarns like it.
        other: What it becomes: those beyond the same end become the nearest of their counts that
            goes as far; those beyond the other end, the nearest that is within the range.
        others: Return the counts that a yarn may become.
    """
    if at.code is not CheckCode.WEFT_LINEAR_DENSITY:
        return {}
    limits, weft, is_finer = at.fit.limits, at.fit.cloth.weft, other.change_pct < 0
    least, most = limits.min_weft_tex, limits.max_weft_tex
    tex = {name: weft.yarns[name].linear_density_tex for name in weft.order.counts}
    aim = tex[key] * (1 + other.change_pct / 100)
    found: dict[str, OtherYarn] = {}
    for name, now in tex.items():
        if name in keys or least <= now <= most:
            continue
        if (now > most) is is_finer:
            some, low, high = others, *((0.0, aim) if is_finer else (aim, inf))
        else:
            some, low, high = _coarser if is_finer else _finer, least, most
        for each in some(at.fit.cloth.construction.weft.yarns[name]):
            if low - SLACK <= now * (1 + each.change_pct / 100) <= high + SLACK:
                found[name] = each
                break
    return found


def _finest_weft(fit: Fit) -> str:
    weft = fit.cloth.weft
    return min(weft.order.counts, key=lambda key: weft.yarns[key].linear_density_tex)


def _finer(yarn: Yarn) -> Sequence[OtherYarn]:
    return other_counts(yarn, finer=True)


def _coarser(yarn: Yarn) -> Sequence[OtherYarn]:
    return other_counts(yarn, finer=False)


def _yarn_lever(
    system: str, words: str, others: Callable[[Yarn], Sequence[OtherYarn]], message: str
) -> ChoiceLever:
    return ChoiceLever(
        words=f"{words} {system}",
        choose=_yarns(system, others, message),
        is_ordered=others is not folded_counts,
        is_in_proportion=others is not folded_counts,
    )


FINER_WARP: Final = _yarn_lever("warp", "a finer", _finer, "Use {yarn} in the warp.")
COARSER_WARP: Final = _yarn_lever("warp", "a coarser", _coarser, "Use {yarn} in the warp.")
FOLDED_WARP: Final = _yarn_lever(
    "warp", "a folded", folded_counts, "Use folded yarn, {yarn}, in the warp."
)
FINER_WEFT: Final = _yarn_lever("weft", "a finer", _finer, "Use {yarn} in the weft.")
COARSER_WEFT: Final = _yarn_lever("weft", "a coarser", _coarser, "Use {yarn} in the weft.")
FOLDED_WEFT: Final = _yarn_lever(
    "weft", "a folded", folded_counts, "Use folded yarn, {yarn}, in the weft."
)


def _size(at: At) -> Iterator[Change]:
    """Yield size for a warp that is stated to have none, or less than it needs."""
    stated = at.fit.cloth.construction
    if stated.warp.yarns[at.warp_key].sized is False:
        field = f"{ROOT}/warp/yarns/{at.warp_key}/sized"
        yield one_field(field, True, f"Size warp {at.warp_key}.")  # noqa: FBT003  # a JSON value
    if stated.allowances.size_pct is not None:
        first = int(stated.allowances.size_pct) + _SIZE_STEP_PCT
        for to in range(first, int(MOST_SIZE_PCT) + 1, _SIZE_STEP_PCT):
            field, message = f"{ROOT}/allowances/size_pct", "Size the warp with {to:g} {unit}."
            yield one_field(field, float(to), message, unit="%", step=float(_SIZE_STEP_PCT))


def _two_feeders(at: At) -> Iterator[Change]:
    """Yield two feeders in alternation for the one yarn of a weft."""
    weft = at.fit.cloth.construction.weft
    used = tuple(at.fit.cloth.weft.order.counts)
    if len(used) > 1:
        return
    (key,) = used
    yarn = as_json(weft.yarns[key])
    free = next((name for name in ascii_uppercase if name not in weft.yarns), None)
    if free is None:
        return
    order = Write(field=f"{ROOT}/weft/order", to=f"{key} {free}")
    new = Write(field=f"{ROOT}/weft/yarns/{free}", to=yarn)
    message = f"Insert the weft from two feeders in alternation, {key} and {free}."
    yield Change(writes=(order, new), message=message)


def _second_beam(at: At) -> Iterator[Change]:
    """Yield a beam for the finest or the coarsest yarn, and one for the others."""
    warp, beams = at.fit.cloth.construction.warp, at.fit.limits.beams
    if warp.beams or len(warp.yarns) < 2 or beams.let_offs < 2:  # two beams
        return
    facts = at.fit.cloth.warp
    by_count = sorted(warp.yarns, key=lambda key: facts.yarns[key].linear_density_tex)
    by_crimp = sorted(warp.yarns, key=lambda key: facts.crimps_pct[key])
    for key in dict.fromkeys((by_count[-1], by_count[0], by_crimp[-1], by_crimp[0])):
        rest = [name for name in warp.yarns if name != key]
        groups = [{"name": "first", "yarns": rest}, {"name": "second", "yarns": [key]}]
        message = f"Wind warp {key} on a beam of its own."
        yield one_field(f"{ROOT}/warp/beams", groups, message)


def _runs(sequence: Iterable[str]) -> str:
    """Write a thread order: ``24A 4B``."""
    runs = ((key, sum(1 for _ in threads)) for key, threads in groupby(sequence))
    return " ".join(key if times == 1 else f"{times}{key}" for key, times in runs)


def _one_selector(at: At) -> Iterator[Change]:
    """Yield the weft with every yarn that is the same as another, colour included, under one key.

    Wefts without a stated colour may be those of a check, which one selector would wipe out. A weft
    of a figured design has its place in the design.
    """
    stated, order = at.fit.cloth.construction, at.fit.cloth.weft.order
    first: dict[Yarn, str] = {}
    key_of = {
        key: key if yarn.colour is None else first.setdefault(yarn, key)
        for key, yarn in stated.weft.yarns.items()
    }
    kept = dict.fromkeys(key_of.values())
    if stated.design is not None or len(kept) == len(key_of):
        return
    yarns = {key: as_json(stated.weft.yarns[key]) for key in kept}
    merged = ", ".join(key for key, other in key_of.items() if key != other)
    writes = (
        Write(field=f"{ROOT}/weft/order", to=_runs(key_of[key] for key in order.sequence)),
        Write(field=f"{ROOT}/weft/yarns", to=yarns),
    )
    message = f"Insert {merged} from the selector of the yarn that is the same."
    if len(writes[0].to) <= LONGEST_TEXT:
        yield Change(writes=writes, message=message)


def perhaps_the_same_wefts(at: At) -> list[str]:
    """Return the keys of wefts that are alike as far as is stated, and of which no colour is."""
    stated, used = at.fit.cloth.construction, at.fit.cloth.weft.order.counts
    alike = Counter(stated.weft.yarns[key] for key in used)
    return [
        key for key in used if (yarn := stated.weft.yarns[key]).colour is None and alike[yarn] > 1
    ]


def _split_by_interlacing(at: At) -> Iterator[Change]:
    """Yield two beams for the ends of one yarn: one for those that interlace often."""
    cloth, stated = at.fit.cloth, at.fit.cloth.construction
    warp, per_end = stated.warp, cloth.structure.interlacings_per_end
    if warp.beams or len(warp.yarns) != 1 or at.fit.limits.beams.let_offs < 2:  # two beams
        return
    least, most = int(per_end.min()), int(per_end.max())
    (key,) = warp.yarns
    free = next((name for name in ascii_uppercase if name != key), None)
    if least == most or stated.design is not None or stated.layers is not None or free is None:
        return
    # Between them in proportion: what interlaces twice as often takes up about twice as much.
    often = (per_end > (max(least, 1) * most) ** 0.5).tolist()
    order = _runs(free if each else key for each in often)
    groups = [{"name": "ground", "yarns": [key]}, {"name": "often", "yarns": [free]}]
    if len(order) <= LONGEST_TEXT:
        yield Change(
            writes=(
                Write(field=f"{ROOT}/warp/order", to=order),
                Write(field=f"{ROOT}/warp/yarns/{free}", to=as_json(warp.yarns[key])),
                Write(field=f"{ROOT}/warp/beams", to=groups),
            ),
            message=f"Wind the ends that interlace often, as warp {free}, on a beam of their own.",
        )


SIZE: Final = ChoiceLever(words="size", choose=_size)
ONE_SELECTOR: Final = ChoiceLever(words="equal wefts on one selector", choose=_one_selector)
SPLIT_WARP: Final = ChoiceLever(
    words="a second beam for the ends that interlace often", choose=_split_by_interlacing
)
TWO_FEEDERS: Final = ChoiceLever(words="two feeders in alternation", choose=_two_feeders)
SECOND_BEAM: Final = ChoiceLever(words="a second beam", choose=_second_beam)


# ---------------------------------------------------------------------------------------- finishing


def _stabilised(at: At) -> Iterable[Change]:
    if at.fit.cloth.construction.finishing.stabilised:
        return
    yield one_field(
        f"{ROOT}/finishing/stabilised",
        True,  # noqa: FBT003  # a JSON value
        "Hold the cloth by a finish or in leno.",
    )


STABILISED: Final = ChoiceLever(words="a finish that holds the threads", choose=_stabilised)
