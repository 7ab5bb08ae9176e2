"""Levers that change the weave: another of its family."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import Final

from weavability.answers.field_changes import (
    ROOT,
    Change,
    Write,
)
from weavability.answers.levers import (
    At,
    ChoiceLever,
)
from weavability.answers.weave_family import Member, family_of

MOST_WEAVES: Final = 6
"""Weaves of a family that are proposed, the nearest by mean float."""

MOST_OF_A_FLOAT: Final = 2
"""Of those of one mean float, the nearest by the share of the warp raised, which makes the face."""


def _weaves(
    fits: Callable[[Member, Member], bool], message: str
) -> Callable[[At], Iterator[Change]]:
    def choose(at: At) -> Iterator[Change]:
        cloth = at.fit.cloth
        if cloth.construction.layers is not None:
            return
        found = family_of(cloth.weave)
        if found is None:
            return
        own, others = found
        for one in islice(_nearest(own, (one for one in others if fits(own, one))), MOST_WEAVES):
            write = Write(
                field=f"{ROOT}/weave",
                to=one.name,
                change_pct=(one.mean_float / own.mean_float - 1) * 100,
            )
            yield Change(writes=(write,), message=message.format(weave=one.name))

    return choose


def _nearest(own: Member, others: Iterable[Member]) -> Iterator[Member]:
    """Yield the nearest weaves by mean float, a few of each."""

    def distance(one: Member) -> tuple[float, float, int]:
        face = abs(one.up_share - own.up_share)
        return abs(one.mean_float - own.mean_float), round(face, 6), abs(one.shafts - own.shafts)

    taken: Counter[float] = Counter()
    for one in sorted(others, key=distance):
        taken[one.mean_float] += 1
        if taken[one.mean_float] <= MOST_OF_A_FLOAT:
            yield one


def _family(words: str, fits: Callable[[Member, Member], bool]) -> ChoiceLever:
    return ChoiceLever(words=words, choose=_weaves(fits, "Weave it in {weave}."))


LOOSER_WEAVE: Final = _family(
    "a looser weave of the family", lambda own, one: one.mean_float > own.mean_float
)


FIRMER_WEAVE: Final = _family(
    "a firmer weave of the family", lambda own, one: one.mean_float < own.mean_float
)


SMALLER_WEAVE: Final = _family(
    "a smaller weave of the family",
    lambda own, one: one.shafts < own.shafts or one.picks < own.picks,
)


LESS_RAISED: Final = _family(
    "a weave of the family that raises fewer ends", lambda own, one: one.up_share < own.up_share
)


OTHER_WEAVE: Final = _family("another weave of the family", lambda own, one: one != own)
