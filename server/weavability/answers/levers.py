"""What a mill can change of an order: fields that are moved in steps, and choices from a few.

A lever gives options, the nearest first; :mod:`weavability.answers.trials` finds the first that
clears a check. :mod:`weavability.answers.check_levers` names the levers of every check.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Final, Protocol, overload

from weavability.answers.field_changes import ROOT, Change, Write, form_of, one_field
from weavability.checks.codes import CheckCode
from weavability.looms.fit import Fit
from weavability.textiles.numbers import SLACK

Number = Callable[[Fit], float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """What a lever is to help: a check, on a cloth on a loom.

    Attributes:
        fit: The cloth on the loom.
        code: The check.
        warp_key: The warp yarn that it is about.
        weft_key: The weft yarn that it is about.
        kept: Choices of levers that were asked before, by their words.
    """

    fit: Fit
    code: CheckCode
    warp_key: str
    weft_key: str
    kept: dict[str, Options] = field(default_factory=dict, init=False, compare=False)


class Options(Sequence[Change]):
    """Changes of one lever, the nearest first.

    Args:
        count: How many they are.
        make: Makes one of them, once.
        is_ordered: Whether each moves the check's number further than the one before.
        guess: Guesses the place of the first that clears, from how many times a limit is passed.
    """

    def __init__(
        self,
        count: int,
        make: Callable[[int], Change],
        *,
        is_ordered: bool,
        guess: Callable[[float], int] = lambda _: 0,
    ) -> None:
        self._count, self._make = count, make
        self._made: dict[int, Change] = {}
        self.is_ordered, self.guess = is_ordered, guess

    @classmethod
    def of(cls, choices: Sequence[Change]) -> Options:
        """Return a few choices."""
        return cls(len(choices), choices.__getitem__, is_ordered=False)

    def up_to(self, count: int) -> Options:
        """Return so many of them, the nearest."""
        return Options(count, self._make, is_ordered=self.is_ordered, guess=self.guess)

    def place_of(self, change: Change) -> int:
        """Return the place of one of ordered options; -1 if a change is none of them.

        It is sought first where the numbers change as much, because there may be millions.
        """
        near = bisect_left(self, change.moved_pct, key=lambda each: each.moved_pct)
        places = chain(range(near, self._count), range(near))
        return next((each for each in places if self[each].key == change.key), -1)

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, place: int) -> Change: ...
    @overload
    def __getitem__(self, place: slice) -> list[Change]: ...
    def __getitem__(self, place: int | slice) -> Change | list[Change]:
        if isinstance(place, slice):
            return [self._make(each) for each in range(*place.indices(self._count))]
        if not 0 <= place < self._count:
            raise IndexError(place)
        if place not in self._made:
            self._made[place] = self._make(place)
        return self._made[place]


class Lever(Protocol):
    """A way to change an order."""

    @property
    def words(self) -> str:
        """What is changed, for a list of what was tried."""

    def options(self, at: At) -> Options:
        """Return the changes that it offers, the nearest first."""

    def beyond(self, at: At) -> Options:
        """Return those beyond the last of them, which make another cloth; they are no remedy."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberLever:
    """A field that is moved up or down in the steps of the shop floor.

    Attributes:
        words: What is changed.
        field: Its pointer in metric form.
        unit: Metric unit.
        step: Step in the metric unit.
        step_in_inches: Step of the inch form.
        reach_pct: Greatest change; beyond it, it would be another order.
        rises: Whether it goes up.
        message: What the change means; ``{to}`` and ``{unit}`` are filled in.
        message_of_one: What a change to 1 means, if that is said otherwise.
        now: The value from which it moves, in the metric unit; ``None`` if it cannot.
        least: The least value that makes sense, if the reach may go below.
    """

    words: str
    field: str
    unit: str
    step: float
    step_in_inches: float = 0.0
    reach_pct: float
    rises: bool
    message: str
    message_of_one: str | None = None
    now: Number
    least: Callable[[Fit], float] = lambda _: 0.0

    def options(self, at: At) -> Options:
        """Return the steps within reach and within the bounds of a request."""
        now = self.now(at.fit)
        if now is None or now <= 0:
            return NO_OPTIONS
        form = form_of(at.fit.cloth.construction, self.field)
        step = self.step_in_inches if form.in_inches else self.step
        stated = now * form.per_metric
        share = self.reach_pct / 100
        least = max(form.bounds.least, stated * (1 - share), self.least(at.fit) * form.per_metric)
        most = min(form.bounds.most, stated * (1 + share))
        if self.rises:
            first, last = math.floor(stated / step + 1e-6) + 1, math.floor(most / step + SLACK)
            count, sign = last - first + 1, 1
        else:
            first, last = math.ceil(stated / step - 1e-6) - 1, math.ceil(least / step - SLACK)
            count, sign = first - last + 1, -1
        is_whole = float(step).is_integer() and self.unit in _WHOLE

        def make(place: int) -> Change:
            to = round((first + sign * place) * step, 6)
            return one_field(
                self.field,
                int(to) if is_whole else to,
                self.message_of_one if self.message_of_one and to == 1 else self.message,
                unit=form.unit_of(self.unit),
                step=step,
                now=stated,
            )

        def guess(over: float) -> int:
            """Take what is compared to be in proportion to the field."""
            if not math.isfinite(over):
                return count - 1
            if self.rises:
                return math.ceil(stated * over / step - SLACK) - first
            return first - math.floor(stated / over / step + SLACK)

        return Options(max(0, count), make, is_ordered=True, guess=guess)

    def beyond(self, at: At) -> Options:
        """Return the steps beyond the reach of the same cloth."""
        if self.reach_pct != SAME_CLOTH_PCT:
            return NO_OPTIONS
        first, far = len(self.options(at)), replace(self, reach_pct=ANOTHER_CLOTH_PCT).options(at)
        return Options(
            len(far) - first,
            lambda place: far[first + place],
            is_ordered=True,
            guess=lambda over: max(0, far.guess(over) - first),
        )


_WHOLE: Final = frozenset({"panels", "ends/dent", "ends"})
Choose = Callable[[At], Iterable[Change]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceLever:
    """A choice from a few values.

    Attributes:
        words: What is changed.
        choose: Yields the changes, the nearest first.
        is_ordered: Whether each moves the number of a check further than the one before.
        is_in_proportion: Whether that is in proportion to the number that the first write changes,
            or to its inverse.
        choose_beyond: Yields what is beyond the last of them, the nearest first.
    """

    words: str
    choose: Choose
    is_ordered: bool = False
    is_in_proportion: bool = False
    choose_beyond: Choose = lambda _: ()

    def options(self, at: At) -> Options:
        """Return the choices."""
        if self.words not in at.kept:
            at.kept[self.words] = self._options(tuple(self.choose(at)))
        return at.kept[self.words]

    def beyond(self, at: At) -> Options:
        """Return the choices beyond these."""
        return self._options(tuple(self.choose_beyond(at)))

    def _options(self, found: tuple[Change, ...]) -> Options:

        def guess(over: float) -> int:
            far = (abs(math.log1p(one.writes[0].change_pct / 100)) for one in found)
            reached = (place for place, each in enumerate(far) if each >= math.log(over) - SLACK)
            return next(reached, len(found) - 1) if self.is_in_proportion else 0

        return Options(len(found), found.__getitem__, is_ordered=self.is_ordered, guess=guess)


def up_to_the_last(words: str, options: Options) -> str:
    """Say of options that were tried in vain how far they reach, if they are a range.

    >>> change = Change(writes=(Write(field="/width_cm", to=112.5, unit="cm"),), message="")
    >>> up_to_the_last("a narrower cloth", Options(1, lambda _: change, is_ordered=True))
    'a narrower cloth (to 112.5 cm)'
    """
    if not (options and options.is_ordered):
        return words
    writes = options[len(options) - 1].writes
    if not all(map(is_a_value, writes)):
        return words
    ends = dict.fromkeys(map(with_unit, writes))
    return f"{words} (to {' and '.join(ends)})"


def with_unit(write: Write) -> str:
    """Return the value of a change with its unit: ``112.5 cm``, ``1 end/dent``."""
    if isinstance(write.to, str) or write.unit is None:
        return str(write.to)
    counted, per, of = write.unit.partition("/")
    return f"{write.to:g} {counted.removesuffix('s') if write.to == 1 else counted}{per}{of}"


def is_a_value(write: Write) -> bool:
    """Return whether a change is to a number or a word, such as a count."""
    return isinstance(write.to, str | int | float) and not isinstance(write.to, bool)


NO_OPTIONS: Final = Options(0, lambda _: Change(writes=(), message=""), is_ordered=True)

LEAST_WIDTH_CM: Final = 2.0
"""Narrower than this is a tape, which is woven on other machines; common practice, no source."""

SAME_CLOTH_PCT: Final = 25.0
"""A sett or width changed by more makes another cloth, and is not proposed; common practice."""

ANOTHER_CLOTH_PCT: Final = 90.0
"""How far a sett or width is tried to say which other cloth can be woven."""

SLOWEST_SHARE: Final = 0.5
"""A loom that has to run at less than this share of its speed is the wrong one; common practice."""

_SLOWEST_PCT: Final = 90.0
_LONGER_PCT: Final = 50.0
MOST_SIZE_PCT: Final = 15.0


def _number(
    field: str,
    unit: str,
    words: tuple[str, str],
    message: str,
    now: Number,
    *,
    step: float,
    step_in_inches: float = 0.0,
    reach_pct: float = SAME_CLOTH_PCT,
    least: Callable[[Fit], float] = lambda _: 0.0,
    message_of_one: str | None = None,
) -> tuple[NumberLever, NumberLever]:
    """Return the levers that lower and raise a field."""
    less, more = (
        NumberLever(
            words=word,
            field=f"{ROOT}/{field}",
            unit=unit,
            step=step,
            step_in_inches=step_in_inches,
            reach_pct=reach_pct,
            rises=rises,
            message=message,
            message_of_one=message_of_one,
            now=now,
            least=least,
        )
        for word, rises in zip(words, (False, True), strict=True)
    )
    return less, more


def _stated_width_cm(fit: Fit) -> float | None:
    width_cm = fit.cloth.construction.width_cm
    return width_cm if width_cm > LEAST_WIDTH_CM else None


def _even_ends_per_dent(fit: Fit) -> float | None:
    uneven = fit.cloth.construction.reed.ends_in_dents
    return None if uneven else fit.denting.ends_per_dent


FEWER_PICKS, MORE_PICKS = _number(
    "weft/picks_per_cm",
    "picks/cm",
    ("fewer picks", "more picks"),
    "Set {to:g} {unit}.",
    lambda fit: fit.cloth.construction.weft.threads_per_cm,
    step=0.1,
    step_in_inches=0.25,
)
FEWER_ENDS, MORE_ENDS = _number(
    "warp/ends_per_cm",
    "ends/cm",
    ("fewer ends", "more ends"),
    "Set {to:g} {unit}.",
    lambda fit: fit.cloth.construction.warp.threads_per_cm,
    step=0.1,
    step_in_inches=0.25,
)
NARROWER, WIDER = _number(
    "width_cm",
    "cm",
    ("a narrower cloth", "a wider cloth"),
    "Weave it {to:g} {unit} wide.",
    _stated_width_cm,
    step=0.5,
    step_in_inches=0.25,
)
FEWER_PANELS, MORE_PANELS = _number(
    "panels",
    "panels",
    ("fewer panels", "more panels"),
    "Weave {to} panels side by side.",
    lambda fit: fit.cloth.panels,
    step=1.0,
    reach_pct=900.0,
    message_of_one="Weave it in one panel.",
)
SLOWER, _ = _number(
    "requested_speed_picks_per_min",
    "picks/min",
    ("a lower speed", "a higher speed"),
    "Run at {to:g} {unit}.",
    lambda fit: fit.cloth.construction.requested_speed_picks_per_min or fit.speed_picks_per_min,
    step=5.0,
    reach_pct=_SLOWEST_PCT,
    least=lambda fit: fit.speed_picks_per_min * SLOWEST_SHARE,
)
FEWER_IN_DENT, MORE_IN_DENT = _number(
    "reed/ends_per_dent",
    "ends/dent",
    ("fewer ends in a dent", "more ends in a dent"),
    "Draw {to} ends in a dent.",
    _even_ends_per_dent,
    step=1.0,
    reach_pct=900.0,
    message_of_one="Draw 1 end in a dent.",
)
FEWER_IN_EDGE_DENT, _ = _number(
    "selvedge/ends_per_dent",
    "ends/dent",
    ("fewer selvedge ends in a dent", "more selvedge ends in a dent"),
    "Draw {to} selvedge ends in a dent.",
    lambda fit: fit.denting.selvedge_ends_per_dent,
    step=1.0,
    reach_pct=900.0,
    message_of_one="Draw 1 selvedge end in a dent.",
)
FEWER_SELVEDGE_ENDS, _ = _number(
    "selvedge/ends_per_side",
    "ends",
    ("fewer selvedge ends", "more selvedge ends"),
    "Use {to} selvedge ends a side.",
    lambda fit: fit.cloth.construction.selvedge.ends_per_side,
    step=1.0,
    reach_pct=100.0,
    least=lambda _: 1.0,
    message_of_one="Use 1 selvedge end a side.",
)
SHORTER, LONGER = _number(
    "length_m",
    "m",
    ("a shorter order", "a longer order"),
    "Weave {to:g} {unit}.",
    lambda fit: fit.cloth.construction.length_m,
    step=1.0,
    step_in_inches=1.0,
    reach_pct=_LONGER_PCT,
)

SETTS: Final = (FEWER_PICKS, FEWER_ENDS)
CLOSER_SETTS: Final = (MORE_PICKS, MORE_ENDS)
