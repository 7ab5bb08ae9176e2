"""Choices from a few values: pieces, selvedges, yarns, beams and feeders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from math import ceil, inf
from string import ascii_uppercase
from typing import Final

from weavability.answers.few_names import listed
from weavability.answers.field_changes import (
    ROOT,
    Change,
    Write,
    as_json,
    one_field,
)
from weavability.answers.levers import (
    MOST_SIZE_PCT,
    At,
    ChoiceLever,
)
from weavability.answers.yarn_counts import OtherYarn, folded_counts, other_counts
from weavability.checks.codes import CheckCode
from weavability.looms.fit import Fit
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, YARN_BOUNDS
from weavability.textiles.construction import ThreadSystem, WarpGroup
from weavability.textiles.numbers import SLACK
from weavability.textiles.thread_order import LONGEST_TEXT
from weavability.textiles.yarns import Yarn

MOST_PARTS: Final = 20
"""Parts into which a piece is divided, at most."""

_SIZE_STEP_PCT: Final = 1


# ------------------------------------------------------------------------------------------- pieces


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


SHORTER_PIECES: Final = ChoiceLever(
    words="more pieces, each shorter", choose=_shorter_pieces, is_ordered=True
)


# ----------------------------------------------------------------------------------------- selvedge


def _binding_selvedge(at: At) -> Iterator[Change]:
    if at.fit.cloth.ends.selvedge:
        for to in ("2/2 weft rib", "plain"):
            yield one_field(f"{ROOT}/selvedge/weave", to, f"Weave the selvedge in {to}.")


BINDING_SELVEDGE: Final = ChoiceLever(words="a selvedge that binds", choose=_binding_selvedge)


def _selvedge_as_ground(at: At) -> Iterator[Change]:
    """Yield a selvedge without shafts of its own."""
    stated = at.fit.cloth.construction.selvedge
    names = [name for name in ("weave", "shafts") if getattr(stated, name) is not None]
    if at.fit.cloth.ends.selvedge and (stated.weave is not None or stated.shafts):
        yield Change(
            writes=tuple(Write(field=f"{ROOT}/selvedge/{name}", to=None) for name in names),
            message="Weave the selvedge as the ground.",
        )


SELVEDGE_AS_GROUND: Final = ChoiceLever(
    words="a selvedge woven as the ground", choose=_selvedge_as_ground
)


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
                message=message.format(
                    yarn=" and ".join(shown), place=_place(system, threads, tuple(made))
                )
                + (" The twist factor stays the same." if is_twisted else ""),
            )

    return choose


def _place(system: str, threads: ThreadSystem, keys: Sequence[str]) -> str:
    """Name the yarns of some keys, as they are ordered; if they are all, the warp or weft."""
    if len(keys) == len(threads.yarns):
        return f"the {system}"
    named = listed([key for key in threads.yarns if key in keys])
    return f"{system} {named}" if len(keys) == 1 else f"{system}s {named}"


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


def _much_finer(yarn: Yarn) -> Sequence[OtherYarn]:
    return other_counts(yarn, finer=True, beyond=True)


def _much_coarser(yarn: Yarn) -> Sequence[OtherYarn]:
    return other_counts(yarn, finer=False, beyond=True)


def _none_beyond(_: Yarn) -> Sequence[OtherYarn]:
    return ()


_BEYOND: Final[Mapping[object, Callable[[Yarn], Sequence[OtherYarn]]]] = {
    _finer: _much_finer,
    _coarser: _much_coarser,
}


def _yarn_lever(
    system: str, words: str, others: Callable[[Yarn], Sequence[OtherYarn]], message: str
) -> ChoiceLever:
    return ChoiceLever(
        words=f"{words} {system}",
        choose=_yarns(system, others, message),
        choose_beyond=_yarns(system, _BEYOND.get(others, _none_beyond), message),
        is_ordered=others is not folded_counts,
        is_in_proportion=others is not folded_counts,
    )


FINER_WARP: Final = _yarn_lever("warp", "a finer", _finer, "Use {yarn} in {place}.")
COARSER_WARP: Final = _yarn_lever("warp", "a coarser", _coarser, "Use {yarn} in {place}.")
FOLDED_WARP: Final = _yarn_lever(
    "warp", "a folded", folded_counts, "Use folded yarn, {yarn}, in {place}."
)
FINER_WEFT: Final = _yarn_lever("weft", "a finer", _finer, "Use {yarn} in {place}.")
COARSER_WEFT: Final = _yarn_lever("weft", "a coarser", _coarser, "Use {yarn} in {place}.")
FOLDED_WEFT: Final = _yarn_lever(
    "weft", "a folded", folded_counts, "Use folded yarn, {yarn}, in {place}."
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


def _one_beam(at: At) -> Iterator[Change]:
    """Yield one beam for groups without a ratio, on a loom that lets off fewer than there are."""
    warp, beams = at.fit.cloth.construction.warp, at.fit.limits.beams
    if len(warp.beams) > beams.let_offs and all(each.pile_ratio is None for each in warp.beams):
        message = "Wind all ends on one beam."
        yield one_field(f"{ROOT}/warp/beams", None, message)


def _runs(sequence: Iterable[str]) -> str:
    """Write a thread order: ``24A 4B``."""
    runs = ((key, sum(1 for _ in threads)) for key, threads in groupby(sequence))
    return " ".join(key if times == 1 else f"{times}{key}" for key, times in runs)


def _one_selector(at: At) -> Iterator[Change]:
    """Yield the weft with every yarn that is the same as another, colour included, under one key.

    Wefts without a stated colour may be those of a check, which one selector would wipe out. A weft
    of a figured design has its place in the design. If there are still more than the loom feeds,
    nothing is gained.
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
    if len({key_of[key] for key in order.counts}) > _selectors(at):
        return
    yarns = {key: as_json(stated.weft.yarns[key]) for key in kept}
    merged = {one: [key for key in key_of if key_of[key] == one and key != one] for one in kept}
    fed = [f"{listed(keys)} from the selector of {one}" for one, keys in merged.items() if keys]
    writes = (
        Write(field=f"{ROOT}/weft/order", to=_runs(key_of[key] for key in order.sequence)),
        Write(field=f"{ROOT}/weft/yarns", to=yarns),
    )
    has = "which has" if len(fed) == 1 else "each of which has"
    message = f"Insert {listed(fed)}, {has} the same yarn."
    if len(writes[0].to) <= LONGEST_TEXT:
        yield Change(writes=writes, message=message)


def _selectors(at: At) -> int:
    """Return among how many wefts the loom selects."""
    return at.fit.limits.weft_selectors


def perhaps_the_same_wefts(at: At) -> list[str]:
    """Return the keys of wefts that are alike as far as is stated, and of which no colour is.

    None if the loom selects among fewer, also with those that are alike under one key.
    """
    stated, used = at.fit.cloth.construction, at.fit.cloth.weft.order.counts
    alike = Counter(stated.weft.yarns[key] for key in used)
    if len(alike) > _selectors(at):
        return []
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


SIZE: Final = ChoiceLever(words="size", choose=_size, is_ordered=True)
ONE_SELECTOR: Final = ChoiceLever(words="equal wefts on one selector", choose=_one_selector)
SPLIT_WARP: Final = ChoiceLever(
    words="a second beam for the ends that interlace often", choose=_split_by_interlacing
)
TWO_FEEDERS: Final = ChoiceLever(words="two feeders in alternation", choose=_two_feeders)
ONE_BEAM: Final = ChoiceLever(words="one beam for all ends", choose=_one_beam)
SECOND_BEAM: Final = ChoiceLever(words="a second beam", choose=_second_beam)


# --------------------------------------------------------------------------------------------- pile

_PILE_STEP: Final = 0.1
_PILE_PCT: Final = 50.0
"""A loop changed by more makes another pile; common practice, no source."""


def _pile(*, rises: bool) -> Callable[[At], Iterator[Change]]:
    def choose(at: At) -> Iterator[Change]:
        """Yield other lengths of all pile: the longest in tenths, the others in proportion."""
        groups = at.fit.cloth.construction.warp.beams
        ratios = [each.pile_ratio for each in groups if each.pile_ratio is not None]
        if not ratios:
            return
        longest, bounds = max(ratios), CONSTRUCTION_BOUNDS["/warp/beams/pile_ratio"]
        for step in range(1, int(longest * _PILE_PCT / 100 / _PILE_STEP + SLACK) + 1):
            times = 1 + (step if rises else -step) * _PILE_STEP / longest
            made = tuple(
                each
                if each.pile_ratio is None
                else replace(each, pile_ratio=round(each.pile_ratio * times, 1))
                for each in groups
            )
            if any(each.pile_ratio not in bounds for each in made if each.pile_ratio is not None):
                return
            write = Write(
                field=f"{ROOT}/warp/beams", to=as_json(made), change_pct=100 * (times - 1)
            )
            yield Change(writes=(write,), message=_let_off(made))

    return choose


def _let_off(groups: Iterable[WarpGroup]) -> str:
    pile = [
        (f"warp {listed(each.yarns)}", f"{each.pile_ratio:g} m")
        for each in groups
        if each.pile_ratio is not None
    ]
    comma = "," if len(pile) == 1 else ""
    each_by = listed([f"{warp}{comma} {length}" for warp, length in pile])
    return f"Let off {each_by} for a metre of cloth."


LESS_PILE: Final = ChoiceLever(words="less pile", choose=_pile(rises=False), is_ordered=True)
MORE_PILE: Final = ChoiceLever(words="more pile", choose=_pile(rises=True), is_ordered=True)


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
