"""The register of checks, and the runner that applies them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from string import Formatter
from types import MappingProxyType
from typing import Annotated, Any, Final, NamedTuple

from weavability.checks import (
    colour,
    contraction,
    design,
    design_areas,
    design_binding,
    insertion,
    layers,
    order,
    picks,
    reed,
    requirement,
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
    Pair,
    WeaveNumbers,
    WeaveWords,
    Words,
    pair_of,
    words_of,
)
from weavability.checks.finding import Figure, Finding, Severity, margin_pct
from weavability.checks.rules import (
    COMPARISONS,
    DESCRIPTIONS,
    MESSAGES,
    About,
    AnyRule,
    Checks,
    Comparison,
    Message,
    Observation,
    Wording,
    read_by,
)
from weavability.checks.settling import (
    IF_ASSUMED,
    IF_ASSUMED_KEY,
    clearing,
    deciding_in_words,
    decisive,
    given_to,
    if_certain,
    in_words,
    settled,
)
from weavability.looms.fit import Fit
from weavability.looms.thresholds import NAMES, Threshold, Thresholds, Usual, in_force
from weavability.textiles.assumptions import Assumption
from weavability.textiles.field_marks import Since
from weavability.textiles.numbers import N, short
from weavability.textiles.sentences import quotation, reported_as, say
from weavability.textiles.sources import cite

SUBJECTS: Final = (
    width,
    reed,
    shedding,
    weave,
    selvedge,
    layers,
    contraction,
    design,
    design_binding,
    design_areas,
    sett,
    weft,
    insertion,
    picks,
    warp,
    yarn,
    colour,
    order,
    requirement,
)
"""The subjects, each a module of this package, in the order in which findings are listed."""

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
        "effects",
        "floats",
        "pixels",
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
    stated_for_error: Annotated[
        tuple[str, ...],
        "Pointers of the values on which an error may rest; `*` is the key of any yarn. As long as "
        "one that decides is only assumed, and its band allows the order, the finding is a warning",
        Since("0.2"),
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


def place_of(code: CheckCode) -> int:
    """Return the place of a check among :func:`comparisons`."""
    return _places_by_code()[code]


@cache
def _places_by_code() -> Mapping[CheckCode, int]:
    return {made[0].code: place for place, made in enumerate(comparisons())}


def comparisons_of(codes: Iterable[CheckCode]) -> Checks:
    """Return the comparisons of some checks, in the order of the codes."""
    by_code = _comparisons_by_code()
    return tuple(by_code[code] for code in codes)


@cache
def _comparisons_by_code() -> Mapping[CheckCode, tuple[Comparison, ...]]:
    return {made[0].code: made for made in comparisons()}


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
    if any(one.moves.ends for one in made):
        found.add(Severity.WARNING)
    return CheckInfo(
        code=code,
        subject=_subject(code),
        says=text.says.format_map(values),
        compares=text.compares.format_map(values),
        severities=tuple(severity for severity in Severity if severity in found),
        stated_for_error=tuple(dict.fromkeys(at for one in made for at in one.moves.ends)),
        formula=text.formula.format_map(values),
        source="; ".join(filter(None, (cite(text.source), *_sources_of(listed)))),
        thresholds=listed,
        messages={
            _key(code, variant): template for one in made for variant, template in _templates(one)
        },
    )


def _templates(one: Comparison) -> Iterator[tuple[str, str]]:
    """Yield the sentences of a comparison, those of what is only assumed included."""
    for variant, template in MESSAGES[one.rule].templates.items():
        yield variant, template
        if one.moves.ends:
            yield variant + IF_ASSUMED_KEY, template + IF_ASSUMED


def _threshold_names(made: tuple[Comparison, ...]) -> tuple[str, ...]:
    """Return the thresholds that the rules of a check read, its description quotes, or it names."""
    text = DESCRIPTIONS[made[0].code]
    read = (name for one in made for name in one.rule.__code__.co_names)
    texts = (text.says, text.compares, text.formula)
    quoted = (name for each in texts for _, name, _, _ in Formatter().parse(each))
    found = dict.fromkeys((*read, *quoted, *text.thresholds))
    return tuple(name for name in found if name in NAMES)


def _sources_of(listed: Iterable[Threshold]) -> Iterator[str]:
    """Say where thresholds come from, those of one source together."""
    values: dict[str, list[str]] = {}
    for one in listed:
        values.setdefault(one.source, []).append(f"{one.value:.4g} {one.unit}")
    for source, some in values.items():
        yield f"{', '.join(some)}: {source}"


def run_checks(fit: Fit) -> Iterator[Finding]:
    """Yield every finding on one cloth on one loom."""
    pair, thresholds = pair_of(fit), in_force()
    words = words_of(fit, pair)
    for seen in observe_pair(pair):
        yield _finding(seen, pair.facts, words, thresholds)


def observe(fit: Fit) -> list[Observation]:
    """Return what every check finds, without its message."""
    return observe_pair(pair_of(fit))


def observe_pair(pair: Pair, checks: Checks | None = None) -> list[Observation]:
    """Return what every check, or some, find in the numbers of one cloth on one loom."""
    usual = in_force().usual
    found = observe_facts(comparisons() if checks is None else checks, pair.facts, usual)
    return settled(found, pair, usual)


def observe_altered(
    pair: Pair, before: Iterable[Observation], altered: frozenset[str]
) -> list[Observation]:
    """Return what every check finds in the numbers of a pair of which many are those of another.

    Only the rules are applied that read any of the others.

    Args:
        pair: The numbers.
        before: What every check found in those of the other.
        altered: The names of those in which they may differ.
    """
    usual, places = in_force().usual, _places()
    rules, checks = _reading(altered)
    found = observe_facts(checks, pair.facts, usual)
    found += (seen.unsettled for seen in before if seen.comparison.rule not in rules)
    found.sort(key=lambda seen: places[seen.comparison.rule])
    return settled(found, pair, usual)


@cache
def _reading(names: frozenset[str]) -> tuple[frozenset[AnyRule], Checks]:
    """Return the rules that read any of some numbers."""
    reading = tuple(
        tuple(one for one in made if not names.isdisjoint(_read_by(one))) for made in comparisons()
    )
    return frozenset(one.rule for made in reading for one in made), tuple(filter(None, reading))


def _read_by(one: Comparison) -> Iterator[str]:
    """Yield what the rule of a comparison reads, and where what it is given comes from."""
    yield from read_by(one.rule)
    if one.about in _GIVEN_EACH_OF:
        yield _GIVEN_EACH_OF[one.about]


_GIVEN_EACH_OF: Final = MappingProxyType(
    {
        About.EACH_WEFT: "wefts",
        About.EACH_WARP: "warps",
        About.EACH_GROUP: "groups",
        About.EACH_REQUIREMENT: "requirements",
    }
)


@cache
def _places() -> Mapping[AnyRule, int]:
    """Return the place of each rule among all."""
    rules = (one.rule for made in comparisons() for one in made)
    return {rule: place for place, rule in enumerate(rules)}


def explain(seen: Observation, facts: Facts[float], words: Words) -> Finding:
    """Return the finding that an observation amounts to."""
    return _finding(seen, facts, words, in_force())


def observe_facts(checks: Checks, facts: Facts[float], usual: Usual[float]) -> list[Observation]:
    """Return what some checks find in the numbers of a pair, whatever is assumed of it."""
    return _observed(checks, given_by_kind(facts, usual))


class Excess(NamedTuple):
    """How a check compares with the point from which it finds something.

    Attributes:
        is_found: Whether it finds something.
        times: Its figure over its last limit, or the inverse of a least limit: the greatest of all
            that it compares, above 1 if something is found, infinite if the limit is 0.
        is_above: Whether it is the upper of the two limits between which a figure is required.
    """

    is_found: bool
    times: float
    is_above: bool = False

    def is_past(self, before: Excess) -> bool:
        """Return whether a change led beyond the other one of two limits than before."""
        both = self.is_found and before.is_found and self.times < math.inf
        return both and self.is_above is not before.is_above


def excess_of(made: tuple[Comparison, ...], facts: Facts[float], usual: Usual[float]) -> Excess:
    """Return how far a check is from the point at which it finds something.

    It reads only the numbers of the check, so that facts may be computed when they are read.

    Args:
        made: The comparisons of the check; with the lightest of their severities left out, the
            point is that from which it finds something graver. What a customer requires is no
            error then if the figure meets it as all is assumed: an end of its band is not enough.
        facts: The numbers of a pair.
        usual: The thresholds in force.
    """
    if made[0].about is About.EACH_REQUIREMENT:
        is_eased = all(one.severities == (Severity.ERROR,) for one in made)
        return Excess(*requirement.reach_of(made[0].code, facts, as_assumed=is_eased))
    seen: list[tuple[Comparison, float, float, bool]] = []
    passed: list[tuple[Comparison, float, float]] = []
    for one in made:
        for place in range(places_of(one.about, facts)):
            actual, limits, applies = one.rule(*given_to(one, facts, usual, place))
            last = limits[len(one.severities) - 1]
            is_found = bool(one.test(actual, last))
            if is_found:
                passed.append((one, actual, last))
            if applies:
                seen.append((one, actual, last, is_found))
    worst = Excess(is_found=False, times=0.0)
    for one, actual, limit, is_found in seen:
        nearest = limit
        if is_found:
            # A check may compare one figure with two limits; the nearer is to be cleared at last,
            # also if the comparison with it gives way to a graver one.
            alike = [each for of, own, each in passed if of.test is one.test and own == actual]
            nearest = max(alike) if one.test is short else min(alike)
        worst = max(worst, Excess(is_found, _times(one, actual, nearest, is_found=is_found)))
    return worst


def _times(one: Comparison, actual: float, limit: float, *, is_found: bool) -> float:
    over, under = (limit, actual) if one.test is short else (actual, limit)
    times = float(over / under) if under else math.inf
    if is_found:
        return times if times > 0 else math.inf
    return times if 0.0 < times <= 1.0 else 0.0


def places_of(about: About, facts: Facts[float]) -> int:
    """Return how many yarns or groups a comparison is made about; 1 if about none."""
    if about is About.EACH_WEFT:
        return len(facts.order.wefts)
    if about is About.EACH_WARP:
        return len(facts.order.warps)
    if about is About.EACH_REQUIREMENT:
        return len(facts.order.requirements)
    return len(facts.fit.groups) if about is About.EACH_GROUP else 1


def observe_weave(
    checks: Checks,
    weave: WeaveNumbers[float],
    usual: Usual[float],
    unlimited: WeaveNumbers[float] | None = None,
) -> list[Observation]:
    """Return what checks of weave and shedding find in the numbers of a weave alone.

    Args:
        checks: The checks.
        weave: The numbers.
        usual: The thresholds in force.
        unlimited: The numbers without the limits that are only assumed, which reject nothing; if
            all are stated, none.
    """
    unlimited = weave if unlimited is None else unlimited
    found, certain = (
        _observed(checks, ((), ((numbers, usual),), (), (), (), ()))
        for numbers in (weave, unlimited)
    )
    refused = {seen.comparison.rule for seen in certain if seen.severity is Severity.ERROR}
    return [if_certain(seen, is_certain=seen.comparison.rule in refused) for seen in found]


def _observed(checks: Checks, given: tuple[tuple[tuple[Any, ...], ...], ...]) -> list[Observation]:
    """Apply each check to what is given of its kind; the heaviest severity that holds counts."""
    found = []
    for made in checks:
        for one in made:
            for place, numbers in enumerate(given[one.about]):
                actual, limits, applies = one.rule(*numbers)
                # The limits rise or fall with the severity: if the last does not hold, none does.
                if applies and one.test(actual, limits[-1]):
                    found.append(heaviest_of(one, actual, limits, place))
    return found


def heaviest_of(one: Comparison, actual: float, limits: Sequence[float], place: int) -> Observation:
    """Return what a comparison finds if its last limit is passed."""
    held = zip(one.severities, limits, strict=True)
    severity, limit = next(each for each in held if one.test(actual, each[1]))
    return Observation(one, severity, actual, limit, place)


def given_by_kind(facts: Facts[N], usual: Usual[float]) -> tuple[tuple[tuple[Any, ...], ...], ...]:
    """Return what the rules of each kind are given, by :class:`About`."""
    wefts = tuple((facts, usual, weft) for weft in facts.order.wefts)
    warps = tuple((facts, usual, warp) for warp in facts.order.warps)
    groups = tuple((facts, usual, group) for group in facts.fit.groups)
    required = tuple((facts, usual, one) for one in facts.order.requirements)
    return (((facts, usual),), ((facts.weave, usual),), wefts, warps, groups, required)


def explain_weave(
    seen: Observation,
    weave: WeaveNumbers[float],
    words: WeaveWords,
    thresholds: Thresholds,
    rests_on: tuple[Assumption, ...],
) -> Finding:
    """Return the finding that an observation about a weave alone amounts to.

    Args:
        seen: What was found.
        weave: The numbers of the weave.
        words: Its names and texts.
        thresholds: Those in force.
        rests_on: The assumed limits on which it may rest.
    """
    return _rendered(seen, _worded(seen, weave, words), thresholds, rests_on)


def _finding(
    seen: Observation, facts: Facts[float], words: Words, thresholds: Thresholds
) -> Finding:
    about_weave = seen.comparison.about is About.WEAVE
    given = (facts.weave, words.weave) if about_weave else (facts, words)
    rests_on: tuple[Assumption, ...] = ()
    if seen.is_assumed and words.grounds is not None:
        rests_on = decisive(seen, words.grounds, thresholds.usual)
    wording = _worded(seen, *given)
    if rests_on and words.grounds is not None:
        assumed = deciding_in_words(seen, rests_on, words.grounds)
        wording = replace(wording, values={**wording.values, "assumed": assumed})
    named = rests_on or wording.rests_on or wording.computed_from
    if seen.severity is not Severity.ERROR and not named and words.grounds is not None:
        computed_from = clearing(seen, words.grounds, thresholds.usual)
        wording = replace(wording, computed_from=computed_from)
    return _rendered(seen, wording, thresholds, rests_on)


def _worded(seen: Observation, numbers: object, words: object) -> Wording:
    return MESSAGES[seen.comparison.rule].speaker(numbers, words, seen)


def _rendered(
    seen: Observation,
    wording: Wording,
    thresholds: Thresholds,
    rests_on: tuple[Assumption, ...] = (),
) -> Finding:
    one, text = seen.comparison, MESSAGES[seen.comparison.rule]
    actual: Figure = _figure(seen.actual, one.unit)
    limit: Figure = _figure(seen.limit, one.unit)
    at_least = one.test is short
    if wording.reported is not None:
        actual, limit, at_least = wording.reported
    variant = _variant(text, wording, seen.worded_as)
    values = dict(wording.values)
    template, key = text.templates[variant], _key(one.code, variant)
    if seen.is_assumed:
        template, key = template + IF_ASSUMED, key + IF_ASSUMED_KEY
        values.setdefault("assumed", "; ".join(map(in_words, rests_on)))
    quoted: dict[str, Any] = {}
    for name in (*text.quoted[variant], *(("assumed",) if seen.is_assumed else ())):
        if name in values:
            quoted[name] = values[name]
        elif name == "actual":
            quoted[name] = actual
        else:
            quoted[name] = limit if name == "limit" else getattr(thresholds.usual, name)
    reported = {name: reported_as(value) for name, value in quoted.items()}
    pointer, rests_on = text.pointer, rests_on or wording.rests_on
    return Finding(
        code=one.code,
        severity=seen.severity,
        message=template.format_map(_in_sentence(reported)),
        message_key=key,
        message_values=quotation(reported),
        pointer=rests_on[0].pointer
        if rests_on
        else pointer.format_map(values)
        if "{" in pointer
        else pointer,
        rests_on=tuple(line.pointer for line in rests_on or wording.computed_from),
        actual=actual,
        limit=limit,
        unit=one.unit,
        margin_pct=margin_pct(actual, limit, at_least=at_least),
        source=_described(thresholds)[one.code].source,
    )


def _in_sentence(quoted: Mapping[str, Any]) -> dict[str, Any]:
    """Name a yarn that is itself called weft or warp without saying the word twice.

    >>> [_in_sentence({"weft": key})["weft"] for key in ("A", "weft", "weft_2")]
    ['A', 'yarn', '2']
    """
    named = {
        system: key[len(system) :].strip("_") or say("part.yarn", "yarn")
        for system in ("weft", "warp")
        if (key := str(quoted.get(system, ""))).lower().startswith(system)
    }
    return {**quoted, **named}


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
