"""Changes of one order made together, and the parts of which they are made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from weavability.answers.field_changes import Change
from weavability.answers.levers import Lever, Options
from weavability.answers.trials import Goal, Proof, Trials
from weavability.checks.codes import CheckCode


class Part(NamedTuple):
    """One of the changes that are made together, and the lever that makes it."""

    lever: Lever
    change: Change


class Step(NamedTuple):
    """Changes that were judged together.

    Attributes:
        parts: The changes, and what makes each.
        proof: The judgement.
        mended: What some of them brought, and others cleared.
    """

    parts: tuple[Part, ...]
    proof: Proof
    mended: frozenset[CheckCode] = frozenset()


def jointly(one: Options, other: Options) -> Options | None:
    """Return two levers moved together, by the same share of the reach of each."""

    def make(place: int) -> Change | None:
        first, second = _shares(one, other, place)
        return first.beside(second)

    if make(0) is None:
        return None
    return Options(
        max(len(one), len(other)), lambda place: make(place) or one[place], is_ordered=True
    )


def _shares(one: Options, other: Options, place: int) -> list[Change]:
    """Return the options of two levers that are moved together at a place."""
    count = max(len(one), len(other))
    return [each[-(-(place + 1) * len(each) // count) - 1] for each in (one, other)]


def parts_of(
    place: int, one: tuple[Lever, Options], other: tuple[Lever, Options]
) -> tuple[Part, ...]:
    """Return what two levers make that are moved together, at a place."""
    changes = _shares(one[1], other[1], place)
    return tuple(
        Part(lever, change) for (lever, _), change in zip((one, other), changes, strict=True)
    )


def change_without(before: Change, both: Change) -> Change:
    """Return the change that was made beside another."""
    return Change(
        writes=both.writes[len(before.writes) :],
        message=both.message.removeprefix(before.message).strip(),
    )


def together_of(parts: Sequence[Part]) -> Change:
    """Return changes of different fields as one."""
    made = parts[0].change
    for part in parts[1:]:
        both = made.beside(part.change)
        if both is None:
            raise ValueError("changes that are made together write different fields")
        made = both
    return made


def options_after(change: Change, options: Options) -> Options:
    """Return options of a lever made beside another change; none if they write the same part."""
    if not options or change.beside(options[0]) is None:
        return Options(0, options.__getitem__, is_ordered=True)
    return Options(
        len(options),
        lambda place: change.beside(options[place]) or change,
        is_ordered=options.is_ordered,
        guess=options.guess,
    )


def tightened(trials: Trials, parts: tuple[Part, ...], goal: Goal) -> tuple[Part, ...]:
    """Return changes of which none but the last is larger than need be beside the others.

    Args:
        trials: They try it.
        parts: The changes.
        goal: What they are to reach together.
    """
    codes, unwarned, unrejected = goal
    at = trials.at((*codes, *unrejected)[0])
    for place, part in enumerate(parts):
        others = together_of((*parts[:place], *parts[place + 1 :]))
        options = options_after(others, part.lever.options(at))
        if not options.is_ordered:
            continue
        for each in trials.clearing(
            codes, options, 1, unwarned=unwarned, unrejected=unrejected, begun=others
        ):
            less = Part(part.lever, change_without(others, each))
            parts = (*parts[:place], less, *parts[place + 1 :])
    return parts


def does_instead(less: Proof, more: Proof) -> bool:
    """Return whether a change is a remedy of all that another one is a remedy of."""
    return not less.worsens and more.clears <= less.clears and more.mends <= less.mends
