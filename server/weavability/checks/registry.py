"""The register of checks: rules, the sentences about them, and the runner.

A check is a code with one or several comparisons. Each comparison is a typed function that returns
what is compared, its limits beside the severities, and whether it applies; it is written once for a
float and for a column. Messages are apart: templates that are filled in for a finding only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cache, lru_cache
from importlib import import_module
from string import Formatter
from types import MappingProxyType
from typing import Annotated, Any, Final, NamedTuple, Protocol, TypeAlias, TypeVar

from weavability.checks.codes import CheckCode
from weavability.checks.facts import (
    Facts,
    WeaveNumbers,
    WeaveWords,
    WeftNumbers,
    Words,
    facts_of,
    words_of,
)
from weavability.checks.finding import Figure, Finding, Severity, margin_pct
from weavability.looms.fit import Fit
from weavability.looms.thresholds import NAMES, Threshold, Thresholds, Usual, in_force
from weavability.textiles.field_marks import Since
from weavability.textiles.numbers import N, Truth, short
from weavability.textiles.sources import cite

SUBJECTS: Final = (
    "width",
    "reed",
    "shedding",
    "weave",
    "sett",
    "weft",
    "insertion",
    "picks",
    "warp",
    "colour",
    "order",
)
"""The subjects, each a module of this package, in the order in which findings are listed."""

COUNTED: Final = frozenset(
    {
        "layers",
        "threads",
        "panels",
        "ends",
        "picks",
        "ends/dent",
        "shafts",
        "healds/shaft",
        "hooks",
        "yarns",
    }
)
"""Units of what is counted: a finding states it as a whole number."""

Compared: TypeAlias = tuple[N, tuple[N, ...], Truth]
"""What is compared, a limit for each severity, the heaviest first, and whether this applies."""


class Test(Protocol):
    """One of the three comparisons ``passed``, ``reached`` and ``short``."""

    def __call__(self, actual: N, limit: N, /) -> Truth:
        """Compare."""


class Rule(Protocol):
    """A rule about cloth and loom."""

    def __call__(self, f: Facts[N], u: Usual[N], /) -> Compared[N]:
        """Compare."""


class WeftRule(Protocol):
    """A rule about one weft yarn; it is applied to each."""

    def __call__(self, f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
        """Compare."""


class WeaveRule(Protocol):
    """A rule about a weave and its shedding, which needs neither cloth nor loom."""

    def __call__(self, w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
        """Compare."""


class About(IntEnum):
    """What a comparison is made about."""

    PAIR = 0
    WEAVE = 1
    EACH_WEFT = 2


AnyRule: TypeAlias = Callable[..., Any]
R = TypeVar("R", Rule, WeftRule, WeaveRule)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A rule with what its decorator states.

    Attributes:
        severities: What it yields for each limit of the rule, the heaviest first.
        unit: Of what it compares.
    """

    code: CheckCode
    about: About
    test: Test
    severities: tuple[Severity, ...]
    unit: str | None
    rule: AnyRule


Checks: TypeAlias = tuple[tuple[Comparison, ...], ...]
"""The comparisons of some checks, by check."""


class Observation(NamedTuple):
    """A comparison that found something."""

    comparison: Comparison
    severity: Severity
    actual: float
    limit: float
    weft: int

    @property
    def code(self) -> CheckCode:
        """The check that found it."""
        return self.comparison.code


class Reported(NamedTuple):
    """Figures that a finding states in place of those compared."""

    actual: Figure
    limit: Figure
    at_least: bool = False


@dataclass(slots=True, kw_only=True)
class Wording:
    """What a message function adds to a message.

    Attributes:
        values: Values that the template quotes, beside ``actual``, ``limit`` and thresholds.
        variant: Name of the template, if it does not follow from the severity.
        reported: Figures to state in place of those compared.
    """

    values: Mapping[str, float | int | str] = field(default_factory=dict)
    variant: str = ""
    reported: Reported | None = None


Speaker = Callable[[Facts[float], Words, Observation], Wording]
WeaveSpeaker = Callable[[WeaveNumbers[float], WeaveWords, Observation], Wording]
S = TypeVar("S", Speaker, WeaveSpeaker)


@dataclass(slots=True, kw_only=True)
class _Message:
    """The templates of a comparison, and the function that adds their values."""

    pointer: str
    templates: Mapping[str, str]
    quoted: Mapping[str, tuple[str, ...]]
    speaker: Callable[..., Wording] | None = None


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Description:
    says: str
    compares: str
    formula: str
    source: str
    thresholds: tuple[str, ...]


_COMPARISONS: dict[CheckCode, list[Comparison]] = {}
_MESSAGES: dict[AnyRule, _Message] = {}
_DESCRIPTIONS: dict[CheckCode, _Description] = {}


def describe(
    code: CheckCode,
    *,
    says: str,
    compares: str,
    formula: str,
    source: str,
    thresholds: tuple[str, ...] = (),
) -> None:
    """Describe a check to its readers; texts quote thresholds by name, ``{sett_tight_note_pct:g}``.

    Args:
        code: The check.
        says: The rule, in a sentence.
        compares: What is compared with what.
        formula: How the compared value is computed.
        source: Source of the formula and of a loom's limit, with ``[KEY]``s of
            ``data/sources.toml``; the sources of thresholds are added.
        thresholds: Thresholds that decide before the comparison; those that the rules read are
            found by themselves.
    """
    _DESCRIPTIONS[code] = _Description(
        says=says, compares=compares, formula=formula, source=source, thresholds=thresholds
    )


def compare(
    code: CheckCode, test: Test, *severities: Severity, unit: str | None
) -> Callable[[Rule], Rule]:
    """Register a comparison of cloth and loom."""
    return _registering(code, About.PAIR, test, severities, unit)


def compare_each_weft(
    code: CheckCode, test: Test, *severities: Severity, unit: str | None
) -> Callable[[WeftRule], WeftRule]:
    """Register a comparison that is made for every weft yarn."""
    return _registering(code, About.EACH_WEFT, test, severities, unit)


def compare_weave(
    code: CheckCode, test: Test, *severities: Severity, unit: str | None
) -> Callable[[WeaveRule], WeaveRule]:
    """Register a comparison that a weave and its shedding motion allow without a cloth."""
    return _registering(code, About.WEAVE, test, severities, unit)


def _registering(
    code: CheckCode,
    about: About,
    test: Test,
    severities: tuple[Severity, ...],
    unit: str | None,
) -> Callable[[R], R]:
    def register(rule: R) -> R:
        made = Comparison(
            code=code, about=about, test=test, severities=severities, unit=unit, rule=rule
        )
        _COMPARISONS.setdefault(code, []).append(made)
        return rule

    return register


def message(rule: AnyRule, *, pointer: str, **templates: str) -> Callable[[S], S]:
    """Give a comparison its messages; use it as a decorator of the function that adds values.

    Args:
        rule: The comparison.
        pointer: JSON Pointer into the request of the field that drives it; may quote values.
        templates: The sentences by variant. One alone is always used; of several, the one that is
            named like the severity, or that the decorated function names. A message's key is the
            code and the variant. Templates quote ``actual``, ``limit``, any threshold by its name,
            and the values that the function adds.
    """
    made = _MESSAGES[rule] = _Message(
        pointer=pointer,
        templates=templates,
        quoted={name: _quoted(template) for name, template in templates.items()},
    )

    def add_values(speaker: S) -> S:
        made.speaker = speaker
        return speaker

    return add_values


def _quoted(template: str) -> tuple[str, ...]:
    """Names that a template quotes."""
    names = (name for _, name, _, _ in Formatter().parse(template) if name)
    return tuple(dict.fromkeys(names))


@cache
def comparisons() -> Checks:
    """Return the comparisons of every check, by subject and in the order of the files."""
    for subject in SUBJECTS:
        import_module(f"weavability.checks.{subject}")
    rank = {subject: place for place, subject in enumerate(SUBJECTS)}
    ordered = sorted(_COMPARISONS.items(), key=lambda entry: rank[_subject(entry[0])])
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


@lru_cache(maxsize=4)
def _described(thresholds: Thresholds) -> Mapping[CheckCode, CheckInfo]:
    return {made[0].code: _info(made, thresholds) for made in comparisons()}


def _info(made: tuple[Comparison, ...], thresholds: Thresholds) -> CheckInfo:
    code = made[0].code
    text = _DESCRIPTIONS[code]
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
            for variant, template in _MESSAGES[one.rule].templates.items()
        },
    )


def _threshold_names(made: tuple[Comparison, ...]) -> tuple[str, ...]:
    """Thresholds that the rules of a check read, and those that decide before them."""
    text = _DESCRIPTIONS[made[0].code]
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


def explain(seen: Observation, fit: Fit) -> Finding:
    """Return the finding that an observation amounts to."""
    return _finding(seen, facts_of(fit), words_of(fit), in_force())


def observe_facts(checks: Checks, facts: Facts[float], usual: Usual[float]) -> list[Observation]:
    """Return what some checks find in the numbers of one cloth on one loom."""
    wefts = tuple((facts, usual, weft) for weft in facts.order.wefts)
    return _observed(checks, (((facts, usual),), ((facts.weave, usual),), wefts))


def observe_weave(
    checks: Checks, weave: WeaveNumbers[float], usual: Usual[float]
) -> list[Observation]:
    """Return what checks of weave and shedding find in the numbers of a weave alone."""
    return _observed(checks, ((), ((weave, usual),), ()))


def _observed(checks: Checks, given: tuple[tuple[tuple[Any, ...], ...], ...]) -> list[Observation]:
    """Apply each check to what is given of its kind; the heaviest severity that holds counts."""
    found = []
    for made in checks:
        for place, numbers in enumerate(given[made[0].about]):
            for one in made:
                actual, limits, applies = one.rule(*numbers)
                # The limits rise or fall with the severity: if the last does not hold, none does.
                if applies and one.test(actual, limits[-1]):
                    for severity, limit in zip(one.severities, limits, strict=True):
                        if one.test(actual, limit):
                            found.append(Observation(one, severity, actual, limit, place))
                            break
    return found


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
    speaker = _MESSAGES[seen.comparison.rule].speaker
    return _NOTHING_ADDED if speaker is None else speaker(numbers, words, seen)


def _rendered(seen: Observation, wording: Wording, thresholds: Thresholds) -> Finding:
    one, text = seen.comparison, _MESSAGES[seen.comparison.rule]
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


def _variant(text: _Message, wording: Wording, severity: Severity) -> str:
    if wording.variant:
        return wording.variant
    return severity if severity in text.templates else next(iter(text.templates))


@cache
def _key(code: CheckCode, variant: str) -> str:
    return f"{code.value}.{variant}"


def _figure(number: float, unit: str | None) -> float:
    """State what is counted as a whole number."""
    return int(number) if unit in COUNTED and number == int(number) else number
