"""Levers that change the weave, to another of its family, or state the layers of a named one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import islice
from typing import Final

from weavability.answers.field_changes import (
    ROOT,
    Change,
    Write,
    distance_of,
    weave_as_json,
)
from weavability.answers.layers_to_state import layers_of_parts
from weavability.answers.levers import (
    At,
    ChoiceLever,
)
from weavability.answers.weave_family import Member, family_of
from weavability.checks.layers import LAYERS
from weavability.textiles.construction import Joined
from weavability.textiles.notation import cloths_named
from weavability.textiles.weave_matrix import Weave

_FIELD: Final = f"{ROOT}/weave"

Fits = Callable[[Member, Member], bool]

MOST_WEAVES: Final = 6
"""Weaves of a family that are proposed, the nearest."""

MOST_IN_STRIPES: Final = 4
"""Of them, those that are put into the stripes of a cloth, which takes longer to judge."""

MOST_OF_A_FLOAT: Final = 2
"""Of those of one mean float, the nearest by the share of warp on the face."""


def _weaves(fits: Fits) -> Callable[[At], Iterator[Change]]:
    def choose(at: At) -> Iterator[Change]:
        stated = at.fit.cloth.construction
        if stated.layers is not None:
            return
        if stated.weave.stripes:
            yield from islice(_in_stripes(stated.weave, fits), MOST_IN_STRIPES)
            return
        found = family_of(at.fit.cloth.weave)
        for own, one in islice(nearest_weaves(found, fits), MOST_WEAVES) if found else ():
            yield _change(one.name, f"Weave it in {one.name}.", own, one)

    return choose


def _in_stripes(weave: Weave, fits: Fits) -> Iterator[Change]:
    """Yield a striped weave with another weave in those of its stripes that have one weave.

    Stripes with the longest floats come first: they are the figure, the others the ground.
    """
    kinds = {each: family_of(each) for each, _ in weave.stripes}
    families = [(each, found) for each, found in kinds.items() if found]
    families.sort(key=lambda one: -one[1][0].mean_float)
    for kind, found in families:
        share = sum(ends for each, ends in weave.stripes if each == kind) / sum(
            ends for _, ends in weave.stripes
        )
        for own, one in nearest_weaves(found, fits):
            stripes = [
                {"weave": one.name if each == kind else weave_as_json(each), "ends": ends}
                for each, ends in weave.stripes
            ]
            message = f"Weave {one.name} in place of {own.name}."
            yield _change({"stripes": stripes}, message, own, one, share)


def _change(to: object, message: str, own: Member, one: Member, share: float = 1.0) -> Change:
    return Change(writes=(weave_write(_FIELD, to, own, one, share),), message=message)


def weave_write(field: str, to: object, own: Member, one: Member, share: float = 1.0) -> Write:
    """Return the write of another weave, of so large a share of the cloth."""
    return Write(
        field=field,
        to=to,
        change_pct=(one.mean_float / own.mean_float - 1) * 100 * share,
        face_pct=(one.up_share - own.up_share) * 100 * share,
    )


def nearest_weaves(
    family: tuple[Member, tuple[Member, ...]], fits: Fits
) -> Iterator[tuple[Member, Member]]:
    """Yield a weave with each of its family that fits: the nearest first, few of a mean float."""
    own, others = family

    def distance(one: Member) -> tuple[float, bool, int]:
        far = distance_of(_change(one.name, "", own, one))
        is_turned = (one.up_share - 0.5) * (own.up_share - 0.5) < 0.0
        return round(far, 6), is_turned, abs(one.shafts - own.shafts)

    taken: Counter[float] = Counter()
    for one in sorted((each for each in others if fits(own, each)), key=distance):
        taken[one.mean_float] += 1
        if taken[one.mean_float] <= MOST_OF_A_FLOAT:
            yield own, one


def _family(words: str, fits: Fits) -> ChoiceLever:
    return ChoiceLever(words=words, choose=_weaves(fits))


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


def _of_one_warp(at: At) -> Iterator[Change]:
    """Yield any other weave, for ends on one beam; no weave takes the place of a let-off."""
    if at.fit.order.take_ups <= at.fit.limits.beams.let_offs:
        yield from _weaves(lambda own, one: one != own)(at)


OTHER_WEAVE: Final = ChoiceLever(words="another weave of the family", choose=_of_one_warp)


def _layers(at: At) -> Iterator[Change]:
    """Yield the layers of cloths one above the other, whose notation says what lies where.

    Their ends and picks lie in turn in the cloths from the face down, which nothing joins.
    """
    stated = at.fit.cloth.construction
    if stated.layers is not None or not cloths_named(stated.weave.name):
        return
    layers = layers_of_parts(at.fit.cloth.structure)
    if layers is None:
        return
    to = {"ends": layers.ends, "picks": layers.picks, "joined": Joined.SEPARATE.value}
    message = (
        f"State the layers, ends and picks {layers.ends}, separate: "
        f"{at.fit.cloth.structure.cloths} cloths that come off one another, each of them set "
        "against itself."
    )
    yield Change(writes=(Write(field=LAYERS, to=to),), message=message)


STATED_LAYERS: Final = ChoiceLever(words="the layers stated", choose=_layers)
