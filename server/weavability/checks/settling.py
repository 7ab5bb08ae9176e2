"""What a finding rests on: an error that an assumed value may clear is a warning.

A limit or a figure that nobody stated has a band. Each comparison that can refuse an order names
the assumed values that decide it, and the end of its band at which each helps (``eased_by``). If
the error is none with all of them there, it is a warning that names them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final, NamedTuple

from weavability.checks.facts import Facts, Grounds, Pair, Words
from weavability.checks.finding import Severity
from weavability.checks.rules import About, Comparison, Observation, Wording
from weavability.looms.thresholds import Usual
from weavability.textiles.assumptions import Assumption, Moves, of_any
from weavability.textiles.cloth_symbols import WEFT_CRIMP
from weavability.textiles.errors import InputError

IF_ASSUMED: Final = (
    " It is no error, because it rests on values that are only assumed: {assumed}. State them to "
    "settle it."
)
IF_ASSUMED_KEY: Final = "_if_assumed"
"""What is added to sentence and key of an error that what is assumed may clear."""

BAND_SLACK: Final = 0.01
"""Points of crimp outside a band that are rounding."""


def in_words(line: Assumption, reach: float | None = None) -> str:
    """Name an assumed value with its band, and how far outside it the value goes if it does."""
    value = f"{line.value:.6g}" if isinstance(line.value, float | int) else f"{line.value}"
    text = f"{line.pointer} = {value}" + (f" {line.unit}" if line.unit else "")
    band = line.band
    if band is None:
        return text
    farther = ""
    if reach is not None and not band.low - BAND_SLACK <= reach <= band.high + BAND_SLACK:
        farther = f", or {reach:.3g} beside another warp crimp"
    return f"{text} ({band.low:.6g} to {band.high:.6g}{farther})"


def deciding_in_words(seen: Observation, lines: Iterable[Assumption], grounds: Grounds) -> str:
    """Name the values on which an error rests, with how far each goes that would clear it.

    The band of an estimated weft crimp lies around its estimate. Beside another crimp of the warp,
    if that is only estimated too, the estimate is another one, and so it may go farther.
    """
    return "; ".join(
        in_words(
            line, _beside_another_warp_pct(seen, grounds) if line.pointer == WEFT_CRIMP else None
        )
        for line in lines
    )


def _beside_another_warp_pct(seen: Observation, grounds: Grounds) -> float | None:
    pair = grounds.pair
    if pair.symbols.weft.stated_crimp()[0] > 0:
        return None
    moved = pair.moved(seen.comparison.moves)
    return None if moved is None else moved.cloth.weft_crimp_pct


OF_STRENGTH: Final = ("tenacity_cn_per_tex", "strength_cv_pct")
"""What the strength of a yarn's weakest place is computed from, beside its linear density."""

ASSUMED_STRENGTH: Final = " Its strength is assumed: {strength}. State it to settle this."


def assumed_at(words: Words, *pointers: str) -> tuple[Assumption, ...]:
    """Return what was assumed of a pair at some pointers."""
    lines = () if words.grounds is None else words.grounds.assumptions
    return tuple(line for line in lines if line.pointer in pointers)


def of_strength(
    wording: Wording, words: Words, seen: Observation, system: str, key: str
) -> Wording:
    """Name what a warning on the strength of a yarn is computed from, if that is assumed.

    Args:
        wording: Of the finding.
        words: Names, and what was assumed.
        seen: What was found.
        system: ``warp`` or ``weft``.
        key: The yarn.
    """
    found = assumed_at(
        words, *(f"/construction/{system}/yarns/{key}/{name}" for name in OF_STRENGTH)
    )
    if seen.severity is not Severity.WARNING or not found:
        return wording
    return replace(
        wording,
        values={**wording.values, "strength": "; ".join(map(in_words, found))},
        variant="warning_of_assumed_strength",
        computed_from=found,
    )


def given_to(
    one: Comparison, facts: Facts[Any], usual: Usual[float], place: int
) -> tuple[Any, ...]:
    """Return what is given to the rule of a comparison, of what is at a place if any."""
    if one.about is About.WEAVE:
        return facts.weave, usual
    if one.about is About.EACH_WEFT:
        return facts, usual, facts.order.wefts[place]
    if one.about is About.EACH_WARP:
        return facts, usual, facts.order.warps[place]
    if one.about is About.EACH_GROUP:
        return facts, usual, facts.fit.groups[place]
    if one.about is About.EACH_REQUIREMENT:
        return facts, usual, facts.order.requirements[place]
    return facts, usual


def settled(found: Iterable[Observation], pair: Pair, usual: Usual[float]) -> list[Observation]:
    """Return what was found, with the errors that rest on what is assumed as warnings.

    Args:
        found: What was found for one pair.
        pair: Its numbers.
        usual: The thresholds in force.
    """
    moved: dict[Moves, Facts[float] | None] = {}
    return [
        if_certain(seen, is_certain=_is_certain(seen, pair, usual, moved))
        if seen.severity is Severity.ERROR
        else seen
        for seen in found
    ]


def _is_certain(
    seen: Observation, pair: Pair, usual: Usual[float], moved: dict[Moves, Facts[float] | None]
) -> bool:
    """Return whether an error remains one wherever the assumed values lie on which it rests."""
    moves = seen.comparison.moves
    if not pair.rests_on(moves):
        return True
    if moves not in moved:
        moved[moves] = pair.moved(moves)
    return _excess_of(seen, moved[moves], usual).holds


def if_certain(seen: Observation, *, is_certain: bool) -> Observation:
    """Return an error that is certain as it is, and one that is not as a warning."""
    if is_certain or seen.severity is not Severity.ERROR:
        return seen
    return seen._replace(severity=Severity.WARNING, is_assumed=True)


class _Excess(NamedTuple):
    """Whether it is found as heavy, and how far the figure is on the wrong side of the limit."""

    holds: bool
    ratio: float


def _excess_moved(seen: Observation, pair: Pair, moves: Moves, usual: Usual[float]) -> _Excess:
    """Return the excess with other values assumed; it holds if they cannot be computed."""
    if not pair.rests_on(moves):
        return _excess(seen, pair.facts, usual)
    return _excess_of(seen, pair.moved(moves), usual)


def _excess_of(seen: Observation, moved: Facts[float] | None, usual: Usual[float]) -> _Excess:
    try:
        if moved is not None:
            return _excess(seen, moved, usual)
    except InputError:
        pass
    return _Excess(holds=True, ratio=0.0)


def _excess(seen: Observation, facts: Facts[float], usual: Usual[float]) -> _Excess:
    one = seen.comparison
    actual, limits, applies = one.rule(*given_to(one, facts, usual, seen.weft))
    limit = limits[one.severities.index(seen.worded_as)]
    holds = bool(applies and one.test(actual, limit))
    ratio = actual / limit if limit else 0.0
    rises = seen.actual > seen.limit
    return _Excess(holds, ratio if rises else -ratio)


def decisive(seen: Observation, grounds: Grounds, usual: Usual[float]) -> tuple[Assumption, ...]:
    """Return the assumed values that decide an observation, the most effective first.

    If they are stated as they are assumed, the finding is an error, wherever the others lie; with
    all of them where they help most, it is none.
    """
    return _named_first(seen, grounds, seen.comparison.moves, usual)


def clearing(seen: Observation, grounds: Grounds, usual: Usual[float]) -> tuple[Assumption, ...]:
    """Return the assumed values on which a warning or note rests, the most effective first.

    If they are stated as they are assumed, it is found wherever the others lie, and with all of
    them where they help most it is not; none if it is found however they lie.
    """
    pair = grounds.pair
    for moves in seen.comparison.clearing:
        if pair.rests_on(moves):
            with_all = _excess_moved(seen, pair, moves, usual)
            if not with_all.holds:
                return _named_first(seen, grounds, moves, usual, with_all)
    return ()


def _named_first(
    seen: Observation,
    grounds: Grounds,
    moves: Moves,
    usual: Usual[float],
    with_all: _Excess | None = None,
) -> tuple[Assumption, ...]:
    pair = grounds.pair
    lines = {line.pointer: line for line in grounds.assumptions if moves.covers(line.pointer)}
    # What nobody assumed because there is none of it, as the ends in a dent of no selvedge, goes
    # along with what would bring it.
    along = moves.ends.keys() - {of_any(pointer) for pointer in lines}

    # Of what the report lists, not all counts for how this cloth is woven on this loom.
    counting = frozenset(pointer for pointer in lines if pair.is_assumed(of_any(pointer)))
    known = {} if with_all is None else {counting: with_all}

    def with_moved(pointers: Iterable[str]) -> _Excess:
        moved = counting.intersection(pointers)
        if moved not in known:
            known[moved] = _excess_moved(seen, pair, moves.only_at(along.union(moved)), usual)
        return known[moved]

    if len(lines) > 1:
        alone = {pointer: with_moved([pointer]) for pointer in lines}
        ranked = sorted(lines, key=lambda pointer: alone[pointer])
    else:
        ranked = list(lines)
    stated: list[str] = []
    for pointer in ranked:
        stated.append(pointer)
        if with_moved(lines.keys() - stated).holds and not with_moved(stated).holds:
            break
    return tuple(lines[pointer] for pointer in stated)
