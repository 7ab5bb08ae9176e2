"""The lever that gives the picture of a figured design the proportion in which it was designed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile
from typing import Final

from weavability.answers.field_changes import Change
from weavability.answers.levers import FEWER_PICKS, MORE_PICKS, At, ChoiceLever
from weavability.textiles.numbers import SLACK


def _picks_in_proportion(at: At) -> Iterator[Change]:
    """Yield the picks between those ordered and those with which the picture is as designed."""
    figured = at.fit.cloth.construction.figured
    if figured is None or not all(figured.words.designed_cm):
        return
    (width, height), (wide, high) = figured.words.woven_cm, figured.words.designed_cm
    times = height / width * wide / high
    lever = MORE_PICKS if times > 1.0 else FEWER_PICKS

    def is_between(change: Change) -> bool:
        moved = 1.0 + change.writes[0].change_pct / 100
        return moved <= times + SLACK if times > 1.0 else moved >= times - SLACK

    yield from takewhile(is_between, lever.options(at))


PICKS_IN_PROPORTION: Final = ChoiceLever(
    words="picks in the proportion of the picture", choose=_picks_in_proportion, is_ordered=True
)
