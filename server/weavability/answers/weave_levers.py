"""Levers that change the weave: another of its family."""

from __future__ import annotations

from collections.abc import Callable, Iterator
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
        some = sorted(
            (one for one in others if fits(own, one)),
            key=lambda one: (abs(one.mean_float - own.mean_float), abs(one.shafts - own.shafts)),
        )
        for one in islice(some, MOST_WEAVES):
            write = Write(
                field=f"{ROOT}/weave",
                to=one.name,
                change_pct=(one.mean_float / own.mean_float - 1) * 100,
            )
            yield Change(writes=(write,), message=message.format(weave=one.name))

    return choose


def _family(words: str, fits: Callable[[Member, Member], bool]) -> ChoiceLever:
    return ChoiceLever(words=words, choose=_weaves(fits, "Weave it in {weave}."))


LOOSER_WEAVE: Final = _family(
    "a looser weave of the family", lambda own, one: one.mean_float > own.mean_float
)


FIRMER_WEAVE: Final = _family(
    "a firmer weave of the family", lambda own, one: one.mean_float < own.mean_float
)


SMALLER_WEAVE: Final = _family(
    "a smaller weave of the family", lambda own, one: one.shafts < own.shafts
)


LESS_RAISED: Final = _family(
    "a weave of the family that raises fewer ends", lambda own, one: one.up_share < own.up_share
)


OTHER_WEAVE: Final = _family("another weave of the family", lambda own, one: one != own)
