"""What a verdict rests on: which assumed values turn it inside their bands, and where.

A value is tried by stating it and judging again, as a caller would who has measured it; all others
stay assumed. So an error that is eased because it rests on what is assumed counts as soon as the
values that decide it are stated.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from typing import Final, Literal, NamedTuple

import numpy as np

from weavability.answers.band_scale import BandScale
from weavability.answers.columns import (
    NOT_WEAVABLE,
    WEAVABLE,
    WEAVABLE_WITH_WARNINGS,
)
from weavability.answers.decisive_section import (
    CornerValue,
    Decided,
    DecisiveAssumption,
    TurningCorner,
    note_of_reeds,
)
from weavability.answers.few_names import capitalised, few, joined
from weavability.answers.field_names import field_in_words
from weavability.answers.least_set import SetsTried
from weavability.answers.requirement_summary import required_in_words
from weavability.answers.stated_judgement import Seen, StatedJudge, Statement, seen_of
from weavability.answers.stated_values import CLOTH
from weavability.answers.towards_limit import in_a_sentence
from weavability.answers.verdict_turns import Turn, band_of, banded, graver, turns_of
from weavability.answers.worst_corner import Corner, Corners, Missed
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Pair, pair_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import observe_pair
from weavability.checks.rules import About, Observation
from weavability.looms.figured_warp import woven_on
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.assumptions import Assumption
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.cloth_symbols import WEFT_CRIMP
from weavability.textiles.construction import Construction
from weavability.textiles.errors import pointing_below

VERDICTS: Final[Mapping[int, Verdict]] = {
    WEAVABLE: Verdict.WEAVABLE,
    WEAVABLE_WITH_WARNINGS: Verdict.WEAVABLE_WITH_WARNINGS,
    NOT_WEAVABLE: Verdict.NOT_WEAVABLE,
}
"""Verdicts by how they are written in an array."""


def values_tried(assumptions: Iterable[Assumption]) -> int:
    """Return how many assumed values :func:`decide` tries; its work is in proportion to them."""
    return sum(band_of(line) is not None for line in assumptions)


def decide(construction: Construction, loom: Loom) -> Decided:
    """Find the assumed values that turn the verdict on an order inside their bands.

    Each is judged at both ends of its band, but for those that no error of the order rests on. If
    these differ, from one another or from the order as it is, it is judged as it is assumed and at
    15 values between as well, unless one check gives the same verdict each time. Where the verdict
    turns is narrowed down to a fiftieth of the band or less. If it turns and turns back between
    values that were judged, that is not seen; of the values on which an error may rest none does,
    because each such error grows in one direction (``checks/easing.py``).

    Then, for each requirement that a part of a band misses, and for each comparison whose error may
    rest on assumed values, all of these are put to the ends of their bands that make it worse.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.

    Raises:
        InputError: As :func:`weavability.answers.validation.assess` does.
    """
    with pointing_below("/loom"):
        limits = resolve_loom(loom)
        woven = woven_on(construction, loom)
    with pointing_below("/construction"):
        cloth = cloth_facts(woven)
    return decide_on(fit_cloth(cloth, limits), loom)


def decide_on(fit: Fit, loom: Loom) -> Decided:
    """Do the same for the facts of an order on a loom."""
    pair, lines = pair_of(fit), fit.assumptions
    found = observe_pair(pair)
    now = seen_of(found)
    judge = StatedJudge(fit, loom)
    tried = [line for line in lines if band_of(line) is not None]
    turns = tuple(turns_of(judge, now, _bearing(tried, found, pair)))
    decisive = tuple(_explained(turn, judge, now, _beyond(turn, turns)) for turn in _listed(turns))
    turning = _turning(judge, pair, lines, now=now, turns=turns)
    note = _why_open(decisive, turning, lines)
    return Decided(
        decisive,
        holds=note is None,
        corner=turning.corner,
        note=note,
        reed_note=note_of_reeds(decisive),
    )


def _bearing(
    lines: Iterable[Assumption], found: Iterable[Observation], pair: Pair
) -> list[Assumption]:
    """Return the values that bear on every error of the order: any other leaves it not weavable.

    An error bears on the values that may clear it (``eased_by``). If any of these is of the cloth,
    so may all else of the cloth, because estimates follow from it. What a customer requires, which
    most of what is assumed may decide, is left out.
    """
    bearing = list(lines)
    for seen in found:
        one = seen.comparison
        if seen.severity is not Severity.ERROR or one.about is About.EACH_REQUIREMENT:
            continue
        moves, is_open = one.moves, pair.rests_on(one.moves)
        of_cloth = is_open and any(at.startswith(_OF_CLOTH) for at in moves.ends)
        bearing = [
            line
            for line in bearing
            if (is_open and moves.covers(line.pointer))
            or (of_cloth and line.pointer.startswith(_OF_CLOTH))
        ]
    return bearing


_OF_CLOTH: Final = CLOTH + "/"


def _listed(turns: Iterable[Turn]) -> Iterator[Turn]:
    """Yield the turns by weight; of the two ends of one stretch the nearer, which names both."""
    seen: set[tuple[str, int, frozenset[float | None]]] = set()
    for turn in sorted(turns, key=_weight):
        stretch = turn.line.pointer, turn.worse.rank, frozenset((turn.better.value, turn.until))
        if turn.until is None or stretch not in seen:
            seen.add(stretch)
            yield turn


def _weight(turn: Turn) -> tuple[int, bool, float]:
    """Sort by the gravest verdict, then by how near to the assumed value the verdict turns.

    Whether a reed is in stock comes last: it turns with many values, and settles itself when the
    reed is chosen.
    """
    band = banded(turn.line)
    distance = abs(turn.better.value - float(str(turn.line.value)))
    codes = graver(turn.better.seen, turn.worse.seen)
    return -turn.worse.rank, codes == _OF_STOCK, distance / (band.high - band.low)


_OF_STOCK: Final = (CheckCode.REED_NOT_IN_STOCK,)
"""What decides nothing but which reed serves of those in stock."""


def _beyond(turn: Turn, turns: Iterable[Turn]) -> Turn | None:
    """Return the turn of the same value to a graver verdict yet, before any that turns it back."""
    towards = 1 if turn.worse.value > turn.better.value else -1

    def distance(other: Turn) -> float:
        return towards * (other.better.value - turn.worse.value)

    farther = (
        other
        for other in turns
        if other.line is turn.line
        and not (turn.is_anywhere or other.is_anywhere)
        and other.better.rank == turn.worse.rank < other.worse.rank
        and distance(other) >= 0
        and towards * (other.worse.value - other.better.value) > 0
        and (turn.until is None or towards * (turn.until - other.better.value) > 0)
    )
    return min(farther, key=distance, default=None)


def _still_beyond(
    turn: Turn, judge: StatedJudge, codes: tuple[CheckCode, ...]
) -> tuple[CheckCode, ...]:
    """Return the checks that a turn only makes warnings of, their limits passed as before."""
    if (
        turn.is_anywhere
        or turn.worse.rank != NOT_WEAVABLE
        or turn.better.rank != WEAVABLE_WITH_WARNINGS
    ):
        return ()
    beyond = judge.beyond(((turn.line.pointer, turn.better.value),))
    return tuple(code for code in codes if code in beyond)


def _explained(
    turn: Turn, judge: StatedJudge, now: Seen, farther: Turn | None
) -> DecisiveAssumption:
    line, better, worse = turn.line, turn.better, turn.worse
    side: Literal["above", "below", "anywhere"]
    side = "above" if worse.value > better.value else "below"
    if turn.is_anywhere:
        side = "anywhere"
    codes = graver(better.seen, worse.seen)
    verdict, otherwise = VERDICTS[worse.rank], VERDICTS[better.rank]
    unit, band = f" {line.unit}" if line.unit else "", banded(line)
    other_side = "below" if side == "above" else "above"
    back = "" if turn.until is None else f" and {other_side} {turn.until:g}{unit}"
    still = _still_beyond(turn, judge, codes)
    passed = (
        f"At {better.value:g}{unit} the limit of {', '.join(still)} is passed too: that only "
        "warns as long as other values are assumed, so measure these as well. "
        if still
        else ""
    )
    words, value = field_in_words(line.pointer), f"{better.value:g}{unit}"
    within = f"{band.low:g} to {band.high:g}"
    at, assumed = f"at {value}", f"It is assumed at {line.value:g}{unit}, {within}."
    if better.value == line.value:
        at, assumed = f"as it is assumed, at {value},", f"Its band is {within}."
    name = capitalised(words)
    message = (
        f"{name}: anywhere in its band, {within}{unit}, the order is {_said(verdict)} "
        f"({', '.join(codes)}) if it is stated. It is {_said(otherwise)} only because it is "
        f"assumed, at {line.value:g}{unit}."
        if turn.is_anywhere
        else f"{name}: {at} the order is "
        f"{_said(otherwise)}, {side} that{back} {_said(verdict)} ({', '.join(codes)})"
        f"{_and_farther(farther, unit)}. {passed}{assumed}{_while_assumed(turn, now)}"
    )
    return DecisiveAssumption(
        pointer=line.pointer,
        name=words,
        assumed=float(str(line.value)),
        band=band,
        turns_at=None if turn.is_anywhere else better.value,
        side=side,
        until=turn.until,
        where=_where(side, turn, farther.better.value if farther else turn.until, unit),
        resolution=turn.scale.step,
        unit=line.unit,
        verdict=verdict,
        verdict_otherwise=otherwise,
        codes=codes,
        still_beyond=still,
        is_of_stock=codes == _OF_STOCK,
        message=message,
    )


def _and_farther(farther: Turn | None, unit: str) -> str:
    """Say where the verdict gets graver yet; that turn is listed as well."""
    if farther is None:
        return ""
    side = "above" if farther.worse.value > farther.better.value else "below"
    codes = ", ".join(graver(farther.better.seen, farther.worse.seen))
    verdict = _said(VERDICTS[farther.worse.rank])
    return f", {side} {farther.better.value:g}{unit} {verdict} ({codes})"


def _while_assumed(turn: Turn, now: Seen) -> str:
    """Say the verdict while a value is only assumed, if stating it alone gives another."""
    value = float(str(turn.line.value))
    towards = 1 if turn.worse.value > turn.better.value else -1
    is_better = towards * (value - turn.better.value) <= 0
    there = turn.better if is_better else turn.worse
    is_beyond = turn.until is not None and towards * (value - turn.until) >= 0
    if is_beyond or now.rank == there.rank:
        return ""
    return f" As long as it is not stated, the order is {_said(VERDICTS[now.rank])}."


def _said(verdict: Verdict) -> str:
    return verdict.value.replace("_", " ")


def _where(side: str, turn: Turn, until: float | None, unit: str) -> str:
    """Write on which values the graver verdict holds."""
    turns_at, band = turn.better.value, banded(turn.line)
    if side == "anywhere":
        return side
    last = until
    if until is None:
        last = band.high + 1 if side == "above" else band.low - 1
    if turn.scale.is_whole and last is not None and abs(last - turns_at) == 2:
        return f"at {turn.worse.value:g}{unit}"
    if until is None:
        return f"{side} {turns_at:g}{unit}"
    low, high = sorted((turns_at, until))
    return f"between {low:g} and {high:g}{unit}"


class _Turning(NamedTuple):
    """What values turn together.

    Attributes:
        is_any: Whether any do.
        corner: The values; ``None`` if one alone does as much.
        of_fibres: Requirements that only a fibre that is assumed may miss.
    """

    is_any: bool
    corner: TurningCorner | None
    of_fibres: Sequence[Missed] = ()


def _turning(
    judge: StatedJudge,
    pair: Pair,
    lines: Sequence[Assumption],
    *,
    now: Seen,
    turns: Sequence[Turn],
) -> _Turning:
    """Return what turns the verdict together, if no value alone does as much.

    A requirement comes first, and is left out only if a value alone makes the cloth miss it. So is
    the other limit of one that is missed as all is assumed: with all stated the check finds it
    either way.
    """
    corners = Corners(pair, lines)
    required = corners.required() if now.rank < NOT_WEAVABLE else []
    of_numbers = [each for each in required if corners.is_of_numbers(each)]
    of_fibres = [each.missed for each in required if each.missed and each not in of_numbers]
    alone = {at for turn in turns for at in judge.missed(turn.line.pointer, turn.worse.value)}
    together = [each for each in of_numbers if each.missed and each.sought.limit not in alone]
    already = {each.code for each in of_numbers if corners.is_as_assumed(each)}
    for each in together:
        if each.code in already and not corners.is_as_assumed(each):
            continue
        others = [other.missed for other in together if other.missed and other is not each]
        described = _described(each, corners, judge, lines, others)
        if described is not None:
            return _Turning(is_any=True, corner=described, of_fibres=of_fibres)
    corner = corners.worst(now.rank)
    is_any = corner is not None or bool(of_numbers)
    described = None
    if corner is not None and corner.rank > max(
        (turn.worse.rank for turn in turns), default=WEAVABLE
    ):
        described = _described(corner, corners, judge, lines, ())
    return _Turning(is_any, described, of_fibres)


def _why_open(
    decisive: Sequence[DecisiveAssumption], turning: _Turning, lines: Iterable[Assumption]
) -> str | None:
    """Say why a verdict does not hold over the bands of what is assumed; ``None`` if it does."""
    why = []
    alone = list(dict.fromkeys(each.name for each in decisive if not each.is_of_stock))
    of_stock = list(dict.fromkeys(each.name for each in decisive if each.is_of_stock))
    if alone:
        why.append(f"{joined(alone)} {'turns' if len(alone) == 1 else 'each turn'} it alone")
    if of_stock:
        why.append(f"whether a reed in stock serves turns with {joined(of_stock)}")
    if turning.corner is not None:
        why.append(_together(turning.corner))
    elif turning.is_any and not decisive:
        why.append("values together turn it")
    if turning.of_fibres:
        fibres = (line.pointer for line in lines if line.pointer.endswith("/fibre"))
        limits = ", ".join(map(_limit_in_words, turning.of_fibres))
        why.append(
            f"a fibre that is only assumed decides what is required ({limits}): state "
            f"{', '.join(fibres)}"
        )
    if not why:
        return None
    return f"The verdict does not hold over the bands of all assumed values: {'; '.join(why)}."


def _together(corner: TurningCorner) -> str:
    """Say which values turn the verdict together, or with all else as it is assumed."""
    names = [each.name for each in corner.values]
    if not names:
        return f"it is {_said(corner.verdict)} once all is stated as it is assumed"
    if len(names) == 1:
        return f"{names[0]} turns it once all else is stated"
    return f"{joined(names)} turn it together"


def _limit_in_words(missed: Missed) -> str:
    return f"{'greatest' if missed.is_most else 'least'} {required_in_words(missed.required)}"


def _described(
    corner: Corner,
    corners: Corners,
    judge: StatedJudge,
    lines: Sequence[Assumption],
    others: Sequence[Missed],
) -> TurningCorner | None:
    """Describe a corner; ``None`` if no statement of numbers leads there."""
    effects = corners.needed(corner)
    needed = [each.line for each in effects]
    at = corners.taken(corner, needed)
    there = tuple(at.items())
    beside = _beside(corner, there, judge, lines)
    if beside is None:
        return None
    seen = judge.at_once((*there, *_as_assumed(beside)))
    before = judge.at_once(_as_assumed((*needed, *beside)) if needed else ())
    values = tuple(
        CornerValue(
            pointer=line.pointer,
            name=field_in_words(line.pointer),
            value=at[line.pointer],
            unit=line.unit,
            towards_limit_pct=effect,
        )
        for line, effect in effects
    )
    listed = _listed_else(corner, lines, at)
    is_as_listed = judge.finds((*there, *listed), corner.sought, as_assumed=True)
    turn = None
    if len(needed) == 1 and is_as_listed:
        turn = _turn_of(needed[0], at[needed[0].pointer], listed, judge, corner)
    verdict, turns_at = VERDICTS[corner.rank], None if turn is None else turn.turns_at
    codes = (graver(before, seen) if turn is None else turn.codes) or (corner.code,)
    return TurningCorner(
        verdict=verdict,
        codes=codes,
        values=values,
        turns_at=turns_at,
        resolution=None if turn is None else turn.step,
        stated_as_assumed=tuple(line.pointer for line in beside),
        also_missed=tuple(each.pointer for each in others),
        message=f"{_with_all_else(values, turns_at, is_as_listed=is_as_listed)} the order is "
        f"{_said(verdict)} ({', '.join(codes)})."
        + in_a_sentence(values, corner.code)
        + _so_already(values, turn)
        + "".join(map(_beyond_band, needed, values))
        + _only_if_stated(beside, values, turns_at)
        + _also_missed(others),
    )


def _listed_else(corner: Corner, lines: Iterable[Assumption], taken: Container[str]) -> Statement:
    """State all numbers but some as they are assumed, and whatever else a corner rests on."""
    return _as_assumed(
        line
        for line in lines
        if line.pointer not in taken and (band_of(line) is not None or corner.bears(line.pointer))
    )


def _beside(
    corner: Corner,
    there: Statement,
    judge: StatedJudge,
    lines: Sequence[Assumption],
) -> tuple[Assumption, ...] | None:
    """Return the values to state as they are assumed with those of a corner.

    As long as others are only assumed that may clear it, an error counts as a warning. None of them
    can be left out; ``None`` if a validation finds it with none.
    """
    taken = {pointer for pointer, _ in there}
    bearing = (line for line in lines if corner.bears(line.pointer) and line.pointer not in taken)
    rest = {line.pointer: line for line in bearing}

    def given(beside: Iterable[str]) -> Statement:
        return (*there, *_as_assumed(rest[pointer] for pointer in beside))

    is_found = SetsTried(lambda beside: judge.finds(given(beside), corner.sought))
    beside: list[str] = []
    while not is_found(beside):
        if len(beside) >= len(rest):
            return None
        deciding = judge.rests_on(given(beside), corner.code, lines) - {*taken, *beside}
        if any(map(_WARP_CRIMPS.fullmatch, (*taken, *deciding))):
            # The crimp of the weft is estimated anew beside another crimp of the warp.
            deciding |= {WEFT_CRIMP}
        more = [pointer for pointer in rest if pointer in deciding and pointer not in beside]
        beside = [*beside, *more] if more else list(rest)
    return tuple(rest[pointer] for pointer in is_found.least_of(beside))


_WARP_CRIMPS: Final = re.compile(r"/construction/warp/(?:yarns/[^/]+/)?crimp_pct")


def _as_assumed(lines: Iterable[Assumption]) -> Statement:
    return tuple((line.pointer, line.value) for line in lines)


class _CornerTurn(NamedTuple):
    """Where the limit of a corner of one value is passed, with all else stated as it is assumed.

    Attributes:
        turns_at: The last value before that.
        step: How much farther it is passed.
        codes: The checks that are found one step farther, and not before.
        already: Those that give the same verdict before.
    """

    turns_at: float
    step: float
    codes: tuple[CheckCode, ...]
    already: tuple[CheckCode, ...]


def _turn_of(
    line: Assumption, end: float, listed: Statement, judge: StatedJudge, corner: Corner
) -> _CornerTurn | None:
    """Find where the limit of a corner of one value is passed, with all else stated as listed.

    ``None`` if it is with that value as it is assumed.
    """
    scale = BandScale.of(line, banded(line))
    towards = 1 if end > float(str(line.value)) else -1
    start = round(float(str(line.value)) / scale.step)
    steps = range(towards * (round(end / scale.step) - start))

    def at(step: int) -> Statement:
        return ((line.pointer, scale.stated(scale.at(start + towards * step))), *listed)

    def is_found(step: int) -> bool:
        return judge.finds(at(step), corner.sought, as_assumed=True)

    first = bisect_left(steps, x=True, key=is_found)
    if not first:
        return None
    before, beyond = judge.at_once(at(first - 1)), judge.at_once(at(first))
    already: tuple[CheckCode, ...] = ()
    if before.rank >= corner.rank:
        nothing = Seen(WEAVABLE, np.zeros_like(before.severities))
        already = graver(nothing, before)
    turns_at = scale.at(start + towards * (first - 1))
    return _CornerTurn(turns_at, scale.step, graver(before, beyond), already)


def _with_all_else(
    values: Sequence[CornerValue], turns_at: float | None, *, is_as_listed: bool
) -> str:
    if not values:
        return "With all values as they are assumed"
    if turns_at is None:
        listed = few([_at_end(each) for each in values], "at the ends of their bands")
    else:
        (taken,) = values
        side, way = ("above", "up") if taken.value > turns_at else ("below", "down")
        unit = _unit(taken)
        listed = f"{taken.name} {side} {turns_at:g}{unit} ({way} to {taken.value:.6g}"
        listed += f"{unit})"
    anew = "" if is_as_listed else ", with estimates made anew beside that,"
    return f"With {listed}, and all else as it is assumed{anew or ','}"


def _so_already(values: Sequence[CornerValue], turn: _CornerTurn | None) -> str:
    if turn is None or not turn.already:
        return ""
    (taken,) = values
    return f" At {turn.turns_at:g}{_unit(taken)} it is so already by {', '.join(turn.already)}."


def _at_end(taken: CornerValue) -> str:
    return f"{taken.name} {taken.value:.6g}{_unit(taken)}"


def _unit(taken: CornerValue) -> str:
    return f" {taken.unit}" if taken.unit else ""


def _only_if_stated(
    beside: Sequence[Assumption], values: Sequence[CornerValue], turns_at: float | None
) -> str:
    if not beside:
        return ""
    listed = few([field_in_words(line.pointer) for line in beside], "")
    it = "The order" if turns_at is None else f"At {values[0].value:.6g}{_unit(values[0])} it"
    return (
        f" {it} is reported so only if these are stated as well, as they are assumed: {listed}; "
        "until then it is a warning that rests on them."
    )


def _also_missed(others: Sequence[Missed]) -> str:
    if not others:
        return ""
    listed = ", ".join(map(_limit_in_words, others))
    return f" Other values together may miss what else is required: {listed}."


def _beyond_band(line: Assumption, taken: CornerValue) -> str:
    """Explain a crimp of the weft beyond its band, which lies around the estimate of now."""
    band = banded(line)
    if band.low <= taken.value <= band.high:
        return ""
    outside = f" The {field_in_words(line.pointer)} is outside its own band there"
    return f"{outside}, because the band of the other crimp moves its estimate."
