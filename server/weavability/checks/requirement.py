"""Checks of what the customer requires: does the finished cloth keep within the limits?

The figures of the finished cloth have a band over all that is assumed of it. If the whole band lies
beyond a limit, that is an error; if a part of it does, a warning that names what to state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import inf
from typing import Final, NamedTuple

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    RequirementRule,
    Test,
    Wording,
    compare_each_requirement,
    describe,
    message,
)
from weavability.checks.settling import IF_ASSUMED, IF_ASSUMED_KEY, in_words
from weavability.looms.thresholds import Usual
from weavability.textiles.assumptions import Assumption, Moves
from weavability.textiles.bounds import REQUIRED_UNITS
from weavability.textiles.numbers import SLACK, N, Truth, no, passed, short
from weavability.textiles.required_values import (
    FIGURES,
    RequiredNumbers,
    moves_to,
)
from weavability.textiles.sentences import NO_WORDS, say


class _Figure(NamedTuple):
    """A figure that may be required, and how it is written.

    Attributes:
        name: Its field in the request.
        words: What the cloth has, in a sentence; it may quote values.
        formula: How it is computed.
        source: Source of the formula.
    """

    code: CheckCode
    name: str
    words: str
    formula: str
    source: str = "[BY-ARITHMETIC]"


_FIGURES: Final = (
    _Figure(
        CheckCode.REQUIREMENT_MASS,
        "mass_g_per_m2",
        "a mass",
        "grey mass x mass kept / (width kept x length kept); yarn by sett, linear density and "
        "crimp, without size",
    ),
    _Figure(
        CheckCode.REQUIREMENT_MASS_PER_M,
        "mass_g_per_m",
        "a mass per running metre",
        "mass of a square metre x finished width of a panel, and that of the selvedge ends; what "
        "wide selvedges have beside the ordered width has weft as well",
    ),
    _Figure(
        CheckCode.REQUIREMENT_WIDTH,
        "finished_width_cm",
        "a width",
        "grey width x (1 - shrinkage), over all: with what wide selvedges have beside the ordered "
        "width",
    ),
    _Figure(
        CheckCode.REQUIREMENT_ENDS,
        "ends_per_cm",
        "a sett of the warp",
        "grey ends/cm / (1 - shrinkage in width)",
    ),
    _Figure(
        CheckCode.REQUIREMENT_PICKS,
        "picks_per_cm",
        "a sett of the weft",
        "grey picks/cm / (1 - shrinkage in length)",
    ),
    _Figure(
        CheckCode.REQUIREMENT_THICKNESS,
        "thickness_mm",
        "a thickness",
        "as stated, or the yarns over one another; the finished cloth taken as thick as the grey",
    ),
    _Figure(
        CheckCode.REQUIREMENT_OPEN_AREA,
        "open_area_pct",
        "an open area",
        "(1 - ends/cm x width of an end) x (1 - picks/cm x width of a pick), the yarns as wide as "
        "their diameter, tapes as their width, all side by side",
        "[PEIRCE-1937]",
    ),
    _Figure(
        CheckCode.REQUIREMENT_COVER,
        "cover_factor",
        "a cover factor",
        "cover factor of the finished cloth in SI units",
        "[PEIRCE-1937]",
    ),
    _Figure(
        CheckCode.REQUIREMENT_FIBRE,
        "fibre_pct",
        "a share of {fibre}",
        "mass of the fibre / mass of the yarn in the cloth",
    ),
)


class _Side(NamedTuple):
    """A limit on one side.

    Attributes:
        name: In keys of messages.
        which: In sentences.
        test: Whether a figure is beyond the limit.
        is_most: Whether it is the greatest that is allowed.
    """

    name: str
    which: str
    test: Test
    is_most: bool


def _rules(place: int, *, is_most: bool) -> tuple[RequirementRule, RequirementRule]:
    """Return the rules of a figure on one side: the whole band is beyond, or only a part of it."""

    def all_below(f: Facts[N], u: Usual[N], required: RequiredNumbers[N], /) -> Compared[N]:
        """Require that the whole band reaches the least."""
        return required.high, (required.least,), required.present & (required.figure == place)

    def part_below(f: Facts[N], u: Usual[N], required: RequiredNumbers[N], /) -> Compared[N]:
        """Warn if only a part of it does."""
        here = required.present & (required.figure == place)
        return required.low, (required.least,), here & no(short(required.high, required.least))

    def all_above(f: Facts[N], u: Usual[N], required: RequiredNumbers[N], /) -> Compared[N]:
        """Require that the whole band keeps within the greatest."""
        return required.low, (required.most,), required.present & (required.figure == place)

    def part_above(f: Facts[N], u: Usual[N], required: RequiredNumbers[N], /) -> Compared[N]:
        """Warn if only a part of it does."""
        here = required.present & (required.figure == place)
        return required.high, (required.most,), here & no(passed(required.low, required.most))

    return (all_above, part_above) if is_most else (all_below, part_below)


def reach_of(
    code: CheckCode, f: Facts[float], *, as_assumed: bool = False
) -> tuple[bool, float, bool]:
    """Return whether a band of a figure reaches beyond a limit, how many times it, and if above it.

    An error, of which all of the band is beyond, and a warning are measured alike: by the end that
    has to come in.

    Args:
        code: The check of the figure.
        f: The numbers of a cloth.
        as_assumed: Whether the figure itself is measured, as all is assumed, and not its band.
    """
    place = CODES.index(code)
    is_beyond, worst = False, (0.0, False)
    for one in f.order.requirements:
        if one.present and one.figure == place:
            if one.least > 0.0:  # of a trial, an end of a band is computed if it is read
                low = one.value if as_assumed else one.low
                is_beyond |= bool(short(low, one.least))
                worst = max(worst, (_times(one.least, low), False))
            if one.most < inf:
                high = one.value if as_assumed else one.high
                is_beyond |= bool(passed(high, one.most))
                worst = max(worst, (_times(high, one.most), True))
    times, is_above = worst
    return is_beyond, times if is_beyond or times <= 1.0 else 0.0, is_above


def _times(over: float, under: float) -> float:
    if under:
        return over / under
    return inf if over else 0.0


CODES: Final = tuple(figure.code for figure in _FIGURES)
"""The checks of what a customer requires."""


def is_unmet(code: CheckCode, f: Facts[N]) -> Truth:
    """Return whether a required figure itself is beyond a limit, and not only an end of its band.

    Args:
        code: The check of the figure.
        f: The numbers of a cloth.
    """
    found: Truth = False
    for one in f.order.requirements:
        here = one.present & (one.figure == CODES.index(code))
        found = found | here & (short(one.value, one.least) | passed(one.value, one.most))
    return found


class Beyond(NamedTuple):
    """A limit that the band of a figure passes.

    Attributes:
        place: The requirement, in the order of the numbers.
        is_most: Whether it is the greatest that is allowed.
        severity: An error if all of the band is beyond, a warning if a part of it is.
        limit: The limit.
        end: The end of the band that is farthest beyond it.
    """

    code: CheckCode
    place: int
    is_most: bool
    severity: Severity
    limit: float
    end: float

    @property
    def test(self) -> Test:
        """Whether a figure is beyond the limit."""
        return passed if self.is_most else short

    @property
    def moves(self) -> Moves:
        """The ends of the bands of what is assumed at which the figure is at that end."""
        return moves_to(FIGURES[CODES.index(self.code)], is_high=self.is_most)


def beyond(required: Iterable[RequiredNumbers[float]]) -> Iterator[Beyond]:
    """Yield the limits of what is required that all or a part of the band of a figure passes."""
    for place, one in enumerate(required):
        code = CODES[int(one.figure)]
        if short(one.low, one.least):
            severity = _severity(is_all=bool(short(one.high, one.least)))
            yield Beyond(code, place, False, severity, one.least, one.low)  # noqa: FBT003
        if passed(one.high, one.most):
            severity = _severity(is_all=bool(passed(one.low, one.most)))
            yield Beyond(code, place, True, severity, one.most, one.high)  # noqa: FBT003


def _severity(*, is_all: bool) -> Severity:
    return Severity.ERROR if is_all else Severity.WARNING


def _register(figure: _Figure) -> None:
    """Register the check of a figure."""
    noun = figure.words.partition(" ")[2].format(fibre="a fibre")
    describe(
        figure.code,
        says=f"The finished cloth has the {noun} that the customer requires.",
        compares=f"the figure with the limits of requirements.{figure.name}: an error if all of "
        "its band over what is assumed lies beyond, a warning if a part of it does",
        formula=figure.formula,
        source=figure.source,
    )
    _register_side(figure, _Side("below", "least", short, is_most=False))
    _register_side(figure, _Side("above", "most", passed, is_most=True))


def _register_side(figure: _Figure, side: _Side) -> None:
    beyond, perhaps = _rules(FIGURES.index(figure.name), is_most=side.is_most)
    # The unit of a cover factor is no words.
    stated_in = REQUIRED_UNITS[figure.name]
    unit = "" if figure.name == "cover_factor" else f" {stated_in}"
    words = f"The finished cloth has {figure.words} of "
    required = f"the customer requires at {side.which} {{limit:.4g}}{unit}."
    is_so = f"{words}{{actual:.4g}}{unit}{{band}}; {required}"
    may_be = (
        f"{words}{{actual:.4g}}{unit}, but it may be {{end:.4g}}{unit} over what is assumed, and "
        f"{required} State to settle it: {{assumed}}."
    )
    compare_each_requirement(
        figure.code, side.test, Severity.ERROR, unit=REQUIRED_UNITS[figure.name]
    )(beyond)
    compare_each_requirement(
        figure.code, side.test, Severity.WARNING, unit=REQUIRED_UNITS[figure.name]
    )(perhaps)

    @message(beyond, pointer="{at}", **{side.name: is_so})
    def _beyond(f: Facts[float], words: Words, seen: Observation) -> Wording:
        return _wording(f, words, seen, side)

    if_assumed, if_not = side.name + IF_ASSUMED_KEY, f"{side.name}_perhaps"

    @message(perhaps, pointer="{at}", **{if_assumed: is_so + IF_ASSUMED, if_not: may_be})
    def _perhaps(f: Facts[float], words: Words, seen: Observation) -> Wording:
        wording = _wording(f, words, seen, side)
        is_beyond = bool(side.test(f.order.requirements[seen.requirement].value, seen.limit))
        lines = _deciding(words, seen, side, is_beyond=is_beyond)
        at = lines[0].pointer if lines else words.requirements[seen.requirement].pointer
        return replace(
            wording,
            variant=if_assumed if is_beyond else if_not,
            rests_on=lines if is_beyond else (),
            values={**wording.values, "at": at, "assumed": "; ".join(map(in_words, lines))},
        )


def _wording(f: Facts[float], words: Words, seen: Observation, side: _Side) -> Wording:
    found, stated = f.order.requirements[seen.requirement], words.requirements[seen.requirement]
    band = say(
        "part.band_of_requirement",
        " ({low:.4g} to {high:.4g} over what is assumed)",
        low=found.low,
        high=found.high,
    )
    return Wording(
        values={
            "at": stated.pointer,
            "fibre": stated.fibre,
            "band": band if found.high - found.low > SLACK * found.high else NO_WORDS,
            "end": found.high if side.is_most else found.low,
        },
        reported=Reported(found.value, seen.limit, at_least=not side.is_most),
    )


def _deciding(
    words: Words, seen: Observation, side: _Side, *, is_beyond: bool
) -> tuple[Assumption, ...]:
    """Return the assumed values that decide, the most effective first.

    With those stated as they are assumed, all of the band is on the side of the limit on which the
    figure is, wherever the others lie.

    Args:
        words: With what the finding may rest on.
        seen: The finding.
        side: Of the limit.
        is_beyond: Whether the figure is beyond the limit.
    """
    figures, grounds, place = words.figures, words.grounds, seen.requirement
    if figures is None or grounds is None:
        return ()
    is_share = bool(figures.required[place].fibre)
    moved = moves_to(figures.required[place].figure, is_high=True)
    lines = {
        line.pointer: line
        for line in grounds.assumptions
        if moved.covers(line.pointer) or (is_share and line.pointer.endswith("/fibre"))
    }
    is_high = side.is_most is not is_beyond

    def end_over(pointers: Iterable[str]) -> float:
        return figures.end_of(place, is_high=is_high, only=frozenset(pointers))

    alone = {pointer: end_over([pointer]) for pointer in lines}
    ranked = sorted(lines, key=lambda pointer: alone[pointer], reverse=is_high)
    stated: list[str] = []
    for pointer in ranked:
        stated.append(pointer)
        if side.test(end_over(lines.keys() - stated), seen.limit) is is_beyond:
            break
    return tuple(lines[pointer] for pointer in stated)


for _figure in _FIGURES:
    _register(_figure)
