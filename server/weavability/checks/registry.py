"""The register of checks, and the runner that applies them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Annotated, Any, Final

import numpy as np
from numpy.typing import NDArray

from weavability.checks import (
    colour,
    insertion,
    layers,
    order,
    picks,
    reed,
    selvedge,
    sett,
    shedding,
    warp,
    weave,
    weft,
    width,
    yarn,
)
from weavability.checks.codes import CheckCode
from weavability.checks.facts import (
    Facts,
    WeaveNumbers,
    WeaveWords,
    Words,
    facts_of,
    words_of,
)
from weavability.checks.finding import Figure, Finding, Severity, margin_pct
from weavability.checks.rules import (
    COMPARISONS,
    DESCRIPTIONS,
    MESSAGES,
    About,
    Checks,
    Comparison,
    Message,
    Observation,
    Wording,
)
from weavability.looms.fit import Fit
from weavability.looms.thresholds import NAMES, Threshold, Thresholds, Usual, in_force
from weavability.textiles.assumptions import Assumption
from weavability.textiles.field_marks import Since
from weavability.textiles.numbers import Floats, N, anywhere, short
from weavability.textiles.sources import cite

SUBJECTS: Final = (
    width,
    reed,
    shedding,
    weave,
    selvedge,
    layers,
    sett,
    weft,
    insertion,
    picks,
    warp,
    yarn,
    colour,
    order,
)
"""The subjects, each a module of this package, in the order in which findings are listed."""

Ranks = NDArray[np.int8]

COUNTED: Final = frozenset(
    {
        "layers",
        "crossings",
        "threads",
        "panels",
        "ends",
        "picks",
        "ends/dent",
        "shafts",
        "healds/shaft",
        "hooks",
        "yarns",
        "let-offs",
    }
)
"""Units of what is counted: a finding states it as a whole number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckInfo:
    """Public description of a check."""

    code: Annotated[CheckCode, "`subject.topic`, stable for ever"]
    subject: Annotated[str, "What the check is about"]
    says: Annotated[str, "The rule, in a sentence"]
    compares: Annotated[str, "What is compared with what"]
    severities: Annotated[
        tuple[Severity, ...], "The severities that it can give, the heaviest first"
    ]
    formula: Annotated[str, "How the compared value is computed"]
    source: Annotated[str, "Source of formula and limit"]
    thresholds: Annotated[
        tuple[Threshold, ...],
        "Numbers of the trade that decide, each with its source",
        Since("0.2"),
    ]
    messages: Annotated[
        Mapping[str, str],
        "The sentences of its findings by `message_key`; `{name}` is one of `message_values`",
        Since("0.2"),
    ]


@cache
def comparisons() -> Checks:
    """Return the comparisons of every check, by subject and in the order of the files."""
    rank = {module.__name__.rpartition(".")[2]: place for place, module in enumerate(SUBJECTS)}
    ordered = sorted(COMPARISONS.items(), key=lambda entry: rank[_subject(entry[0])])
    return tuple(tuple(made) for _, made in ordered)


def comparisons_of(codes: Iterable[CheckCode]) -> Checks:
    """Return the comparisons of some checks, in the order of the codes."""
    by_code = {made[0].code: made for made in comparisons()}
    return tuple(by_code[code] for code in codes)


def _subject(code: CheckCode) -> str:
    return code.value.partition(".")[0]


def all_checks() -> tuple[CheckInfo, ...]:
    """Return every check, by subject, with the thresholds in force."""
    return tuple(_described(in_force()).values())


def find_check(code: str) -> CheckInfo | None:
    """Return the check with a code, or ``None``."""
    return next((info for info in all_checks() if info.code == code), None)


def set_by_mill(codes: Iterable[CheckCode]) -> tuple[Assumption, ...]:
    """Return the values that the mill has set itself among the thresholds of some checks."""
    thresholds = in_force()
    described = _described(thresholds)
    return thresholds.assumptions(
        {one.name for code in codes for one in described[code].thresholds}
    )


@lru_cache(maxsize=4)
def _described(thresholds: Thresholds) -> Mapping[CheckCode, CheckInfo]:
    return {made[0].code: _info(made, thresholds) for made in comparisons()}


def _info(made: tuple[Comparison, ...], thresholds: Thresholds) -> CheckInfo:
    code = made[0].code
    text = DESCRIPTIONS[code]
    values = {name: getattr(thresholds.usual, name) for name in NAMES}
    listed = tuple(thresholds.of(name) for name in _threshold_names(made))
    found = {severity for one in made for severity in one.severities}
    return CheckInfo(
        code=code,
        subject=_subject(code),
        says=text.says.format_map(values),
        compares=text.compares.format_map(values),
        severities=tuple(severity for severity in Severity if severity in found),
        formula=text.formula.format_map(values),
        source="; ".join(filter(None, (cite(text.source), *_sources_of(listed)))),
        thresholds=listed,
        messages={
            _key(code, variant): template
            for one in made
            for variant, template in MESSAGES[one.rule].templates.items()
        },
    )


def _threshold_names(made: tuple[Comparison, ...]) -> tuple[str, ...]:
    """Thresholds that the rules of a check read, and those that decide before them."""
    text = DESCRIPTIONS[made[0].code]
    read = (name for one in made for name in one.rule.__code__.co_names)
    return tuple(name for name in dict.fromkeys((*read, *text.thresholds)) if name in NAMES)


def _sources_of(listed: Iterable[Threshold]) -> Iterator[str]:
    """Say where thresholds come from, those of one source together."""
    values: dict[str, list[str]] = {}
    for one in listed:
        values.setdefault(one.source, []).append(f"{one.value:.4g} {one.unit}")
    for source, some in values.items():
        yield f"{', '.join(some)}: {source}"


def run_checks(fit: Fit) -> Iterator[Finding]:
    """Yield every finding on one cloth on one loom."""
    facts, words = facts_of(fit), words_of(fit)
    thresholds = in_force()
    for seen in observe_facts(comparisons(), facts, thresholds.usual):
        yield _finding(seen, facts, words, thresholds)


def observe(fit: Fit) -> list[Observation]:
    """Return what every check finds, without its message."""
    return observe_facts(comparisons(), facts_of(fit), in_force().usual)


def explain(seen: Observation, facts: Facts[float], words: Words) -> Finding:
    """Return the finding that an observation amounts to."""
    return _finding(seen, facts, words, in_force())


def observe_facts(checks: Checks, facts: Facts[float], usual: Usual[float]) -> list[Observation]:
    """Return what some checks find in the numbers of one cloth on one loom."""
    return _observed(checks, _about(facts, usual))


def observe_weave(
    checks: Checks, weave: WeaveNumbers[float], usual: Usual[float]
) -> list[Observation]:
    """Return what checks of weave and shedding find in the numbers of a weave alone."""
    return _observed(checks, ((), ((weave, usual),), (), (), ()))


def _observed(checks: Checks, given: tuple[tuple[tuple[Any, ...], ...], ...]) -> list[Observation]:
    """Apply each check to what is given of its kind; the heaviest severity that holds counts."""
    found = []
    for made in checks:
        for one in made:
            for place, numbers in enumerate(given[one.about]):
                actual, limits, applies = one.rule(*numbers)
                # The limits rise or fall with the severity: if the last does not hold, none does.
                if applies and one.test(actual, limits[-1]):
                    found.append(_heaviest(one, actual, limits, place))
    return found


def _heaviest(one: Comparison, actual: float, limits: Sequence[float], place: int) -> Observation:
    """Return what a comparison finds if its last limit is passed."""
    held = zip(one.severities, limits, strict=True)
    severity, limit = next(each for each in held if one.test(actual, each[1]))
    return Observation(one, severity, actual, limit, place)


def observe_rows(facts: Facts[Floats], usual: Usual[float], rows: int) -> list[list[Observation]]:
    """Return what every check finds in each row of a column of pairs, as :func:`observe` does.

    Args:
        facts: The numbers of the pairs; a number may be one for all rows.
        usual: The thresholds in force.
        rows: How many pairs they are.
    """
    found: list[list[Observation]] = [[] for _ in range(rows)]
    about = _about(facts, usual)
    for made in comparisons():
        for one in made:
            for place, numbers in enumerate(about[one.about]):
                actual, limits, applies = one.rule(*numbers)
                here = one.test(actual, limits[-1]) & applies
                if anywhere(here):
                    there = np.flatnonzero(_row_by_row(here, rows))
                    figures = [
                        _row_by_row(each, rows)[there].tolist() for each in (actual, *limits)
                    ]
                    for row, (figure, *figured) in zip(
                        there.tolist(), zip(*figures, strict=True), strict=True
                    ):
                        found[row].append(_heaviest(one, figure, figured, place))
    return found


def _row_by_row(column: Any, rows: int) -> NDArray[Any]:
    return np.broadcast_to(np.ravel(column), rows)


def _about(facts: Facts[N], usual: Usual[float]) -> tuple[tuple[tuple[Any, ...], ...], ...]:
    """Return what is given to the rules of each kind, see :class:`About`."""
    wefts = tuple((facts, usual, weft) for weft in facts.order.wefts)
    warps = tuple((facts, usual, warp) for warp in facts.order.warps)
    groups = tuple((facts, usual, group) for group in facts.fit.groups)
    return (((facts, usual),), ((facts.weave, usual),), wefts, warps, groups)


def column_severities(
    facts: Facts[Floats], usual: Usual[float], ranks: Mapping[Severity, int], found: Ranks
) -> None:
    """Find the heaviest severity of every check for columns of pairs.

    Args:
        facts: The numbers of the pairs.
        usual: The thresholds in force.
        ranks: How each severity is written.
        found: Receives the ranks; its first axis is that of :func:`comparisons`, the others are
            those of the columns. It holds zeros.
    """
    given = _about(facts, usual)
    for made, heaviest in zip(comparisons(), found, strict=True):
        for one in made:
            for numbers in given[one.about]:
                actual, limits, applies = one.rule(*numbers)
                for severity, limit in zip(one.severities, limits, strict=True):
                    here = one.test(actual, limit) & applies
                    if np.any(here):
                        np.maximum(heaviest, here * np.int8(ranks[severity]), out=heaviest)


def explain_weave(
    seen: Observation, weave: WeaveNumbers[float], words: WeaveWords, thresholds: Thresholds
) -> Finding:
    """Return the finding that an observation about a weave alone amounts to."""
    return _rendered(seen, _worded(seen, weave, words), thresholds)


def _finding(
    seen: Observation, facts: Facts[float], words: Words, thresholds: Thresholds
) -> Finding:
    if seen.comparison.about is About.WEAVE:
        return explain_weave(seen, facts.weave, words.weave, thresholds)
    return _rendered(seen, _worded(seen, facts, words), thresholds)


_NOTHING_ADDED: Final = Wording(values=MappingProxyType({}))


def _worded(seen: Observation, numbers: object, words: object) -> Wording:
    speaker = MESSAGES[seen.comparison.rule].speaker
    return _NOTHING_ADDED if speaker is None else speaker(numbers, words, seen)


def _rendered(seen: Observation, wording: Wording, thresholds: Thresholds) -> Finding:
    one, text = seen.comparison, MESSAGES[seen.comparison.rule]
    actual: Figure = _figure(seen.actual, one.unit)
    limit: Figure = _figure(seen.limit, one.unit)
    at_least = one.test is short
    if wording.reported is not None:
        actual, limit, at_least = wording.reported
    variant = _variant(text, wording, seen.severity)
    quoted: dict[str, Any] = {}
    for name in text.quoted[variant]:
        if name in wording.values:
            quoted[name] = wording.values[name]
        elif name == "actual":
            quoted[name] = actual
        else:
            quoted[name] = limit if name == "limit" else getattr(thresholds.usual, name)
    pointer = text.pointer
    return Finding(
        code=one.code,
        severity=seen.severity,
        message=text.templates[variant].format_map(quoted),
        message_key=_key(one.code, variant),
        message_values=quoted,
        pointer=pointer.format_map(wording.values) if "{" in pointer else pointer,
        actual=actual,
        limit=limit,
        unit=one.unit,
        margin_pct=margin_pct(actual, limit, at_least=at_least),
        source=_described(thresholds)[one.code].source,
    )


def _variant(text: Message, wording: Wording, severity: Severity) -> str:
    if wording.variant:
        return wording.variant
    return severity if severity in text.templates else next(iter(text.templates))


@cache
def _key(code: CheckCode, variant: str) -> str:
    return f"{code.value}.{variant}"


def _figure(number: float, unit: str | None) -> float:
    """State what is counted as a whole number."""
    return int(number) if unit in COUNTED and number == int(number) else number
