"""What a check is made of: comparisons, the sentences about them, and a description.

Each comparison is a typed function that returns what is compared, its limits beside the severities,
and whether it applies; it is written once for a float and for a column. Messages are apart:
templates that are filled in for a finding only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import IntEnum
from inspect import unwrap
from string import Formatter
from types import CodeType, FunctionType, MappingProxyType
from typing import Any, Final, NamedTuple, Protocol, TypeAlias, TypeVar

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, WeaveNumbers, WeaveWords, Words
from weavability.checks.finding import Figure, Severity
from weavability.looms.beam_groups import GroupOnLoom
from weavability.looms.thresholds import Usual
from weavability.looms.yarn_numbers import WarpNumbers, WeftNumbers
from weavability.textiles.assumptions import Assumption, End, Moves
from weavability.textiles.numbers import N, Truth
from weavability.textiles.required_values import RequiredNumbers
from weavability.textiles.sentences import Value

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


class WarpRule(Protocol):
    """A rule about one warp yarn; it is applied to each."""

    def __call__(self, f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
        """Compare."""


class GroupRule(Protocol):
    """A rule about one group of ends on its beams; it is applied to each."""

    def __call__(self, f: Facts[N], u: Usual[N], group: GroupOnLoom[N], /) -> Compared[N]:
        """Compare."""


class RequirementRule(Protocol):
    """A rule about one figure that the customer requires; it is applied to each."""

    def __call__(self, f: Facts[N], u: Usual[N], required: RequiredNumbers[N], /) -> Compared[N]:
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
    EACH_WARP = 3
    EACH_GROUP = 4
    EACH_REQUIREMENT = 5


NOTHING: Final[Mapping[str, End]] = MappingProxyType({})

AnyRule: TypeAlias = Callable[..., Any]
R = TypeVar("R", Rule, WeftRule, WarpRule, GroupRule, RequirementRule, WeaveRule)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A rule with what its decorator states.

    Attributes:
        severities: What it yields for each limit of the rule, the heaviest first.
        unit: Of what it compares.
        moves: The assumed values that decide it, and the end of its band at which each helps: an
            error that is none with all of them there is a warning. Empty if it does not depend on
            what is assumed, or must not.
        clearing: The assumed values that may clear a warning or note, likewise; several if the
            figure may be wrong on either side. The finding names those on which it rests.
    """

    code: CheckCode
    about: About
    test: Test
    severities: tuple[Severity, ...]
    unit: str | None
    rule: AnyRule
    moves: Moves
    clearing: tuple[Moves, ...]


Checks: TypeAlias = tuple[tuple[Comparison, ...], ...]
"""The comparisons of some checks, by check."""


class Observation(NamedTuple):
    """A comparison that found something.

    Attributes:
        weft: The place of the yarn, group of ends or requirement.
        is_assumed: Whether it would be an error, if what is assumed were stated.
    """

    comparison: Comparison
    severity: Severity
    actual: float
    limit: float
    weft: int
    is_assumed: bool = False

    @property
    def warp(self) -> int:
        """The place of the warp yarn that a rule about each of them was applied to."""
        return self.weft

    @property
    def worded_as(self) -> Severity:
        """The severity by which its sentence is chosen: that which it would have if all is so."""
        return Severity.ERROR if self.is_assumed else self.severity

    @property
    def unsettled(self) -> Observation:
        """What was found before it was asked whether it rests on what is assumed."""
        return self._replace(severity=self.worded_as, is_assumed=False)

    @property
    def group(self) -> int:
        """The place of the group of ends that a rule about each of them was applied to."""
        return self.weft

    @property
    def requirement(self) -> int:
        """The place of the requirement that a rule about each of them was applied to."""
        return self.weft

    @property
    def code(self) -> CheckCode:
        """The check that found it."""
        return self.comparison.code


class Reported(NamedTuple):
    """Figures that a finding states in place of those compared."""

    actual: Figure
    limit: Figure
    at_least: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """What a message function adds to a message.

    Attributes:
        values: Values that the template quotes, beside ``actual``, ``limit`` and thresholds.
        variant: Name of the template, if it does not follow from the severity.
        reported: Figures to state in place of those compared.
        rests_on: The assumed values that make a warning of an error, if its rule allows for them.
        computed_from: The assumed values from which a warning or note is computed, that is none
            of an error: the finding names them and keeps its pointer.
    """

    values: Mapping[str, Value] = field(default_factory=dict)
    variant: str = ""
    reported: Reported | None = None
    rests_on: tuple[Assumption, ...] = ()
    computed_from: tuple[Assumption, ...] = ()


Speaker = Callable[[Facts[float], Words, Observation], Wording]
WeaveSpeaker = Callable[[WeaveNumbers[float], WeaveWords, Observation], Wording]
S = TypeVar("S", Speaker, WeaveSpeaker)


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """The templates of a comparison, what each quotes, and the function that adds the values."""

    pointer: str
    templates: Mapping[str, str]
    quoted: Mapping[str, tuple[str, ...]]
    speaker: Callable[..., Wording]


def _adds_nothing(*_: object) -> Wording:
    return _NOTHING_ADDED


_NOTHING_ADDED: Final = Wording(values=MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """What a check says of itself; thresholds are quoted by name."""

    says: str
    compares: str
    formula: str
    source: str
    thresholds: tuple[str, ...]


COMPARISONS: dict[CheckCode, list[Comparison]] = {}
MESSAGES: dict[AnyRule, Message] = {}
DESCRIPTIONS: dict[CheckCode, Description] = {}


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
        thresholds: Thresholds that decide before the comparison; those that the rules read and
            those that these texts quote are found by themselves.
    """
    DESCRIPTIONS[code] = Description(
        says=says, compares=compares, formula=formula, source=source, thresholds=thresholds
    )


def compare(
    code: CheckCode,
    test: Test,
    *severities: Severity,
    unit: str | None,
    eased_by: Mapping[str, End] = NOTHING,
    cleared_by: tuple[Mapping[str, End], ...] = (),
) -> Callable[[Rule], Rule]:
    """Register a comparison of cloth and loom."""
    return _registering(code, About.PAIR, test, severities, unit, eased_by, cleared_by)


def compare_each_weft(
    code: CheckCode,
    test: Test,
    *severities: Severity,
    unit: str | None,
    eased_by: Mapping[str, End] = NOTHING,
    cleared_by: tuple[Mapping[str, End], ...] = (),
) -> Callable[[WeftRule], WeftRule]:
    """Register a comparison that is made for every weft yarn."""
    return _registering(code, About.EACH_WEFT, test, severities, unit, eased_by, cleared_by)


def compare_each_warp(
    code: CheckCode,
    test: Test,
    *severities: Severity,
    unit: str | None,
    eased_by: Mapping[str, End] = NOTHING,
    cleared_by: tuple[Mapping[str, End], ...] = (),
) -> Callable[[WarpRule], WarpRule]:
    """Register a comparison that is made for every warp yarn."""
    return _registering(code, About.EACH_WARP, test, severities, unit, eased_by, cleared_by)


def compare_each_group(
    code: CheckCode,
    test: Test,
    *severities: Severity,
    unit: str | None,
    eased_by: Mapping[str, End] = NOTHING,
    cleared_by: tuple[Mapping[str, End], ...] = (),
) -> Callable[[GroupRule], GroupRule]:
    """Register a comparison that is made for every group of ends."""
    return _registering(code, About.EACH_GROUP, test, severities, unit, eased_by, cleared_by)


def compare_each_requirement(
    code: CheckCode, test: Test, *severities: Severity, unit: str | None
) -> Callable[[RequirementRule], RequirementRule]:
    """Register a comparison that is made for every figure that the customer requires."""
    return _registering(code, About.EACH_REQUIREMENT, test, severities, unit, NOTHING)


def compare_weave(
    code: CheckCode,
    test: Test,
    *severities: Severity,
    unit: str | None,
    eased_by: Mapping[str, End] = NOTHING,
) -> Callable[[WeaveRule], WeaveRule]:
    """Register a comparison that a weave and its shedding motion allow without a cloth."""
    return _registering(code, About.WEAVE, test, severities, unit, eased_by)


def _registering(
    code: CheckCode,
    about: About,
    test: Test,
    severities: tuple[Severity, ...],
    unit: str | None,
    eased_by: Mapping[str, End],
    cleared_by: tuple[Mapping[str, End], ...] = (),
) -> Callable[[R], R]:
    def register(rule: R) -> R:
        made = Comparison(
            code=code,
            about=about,
            test=test,
            severities=severities,
            unit=unit,
            rule=rule,
            moves=_moves_to(eased_by),
            clearing=tuple(map(_moves_to, cleared_by)) or (_moves_to(eased_by),),
        )
        COMPARISONS.setdefault(code, []).append(made)
        return rule

    return register


_MOVES: Final[dict[tuple[tuple[str, End], ...], Moves]] = {}


def _moves_to(ends: Mapping[str, End]) -> Moves:
    """Return the moves to some ends: one object for all comparisons, a key of what follows."""
    return _MOVES.setdefault(tuple(ends.items()), Moves(ends))


def read_by(rule: AnyRule) -> frozenset[str]:
    """Return every name that a rule reads, and that the functions do which it calls: some too many.

    A rule takes no turns, so that what it reads is written in it.
    """
    names: set[str] = set()
    left, known = [rule], {rule}
    while left:
        function = left.pop()
        read = set(_names_in(function.__code__))
        names |= read
        for name in read:
            called = function.__globals__.get(name)
            called = unwrap(called) if callable(called) else None
            if isinstance(called, FunctionType) and called not in known:
                known.add(called)
                left.append(called)
    return frozenset(names)


def _names_in(code: CodeType) -> Iterator[str]:
    """Yield the names that a function reads, within its comprehensions too."""
    yield from code.co_names
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield from _names_in(each)


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
    made = MESSAGES[rule] = Message(
        pointer=pointer,
        templates=templates,
        quoted={name: _quoted(template) for name, template in templates.items()},
        speaker=_adds_nothing,
    )

    def add_values(speaker: S) -> S:
        MESSAGES[rule] = replace(made, speaker=speaker)
        return speaker

    return add_values


def _quoted(template: str) -> tuple[str, ...]:
    """Return the names that a template quotes."""
    names = (name for _, name, _, _ in Formatter().parse(template) if name)
    return tuple(dict.fromkeys(names))
