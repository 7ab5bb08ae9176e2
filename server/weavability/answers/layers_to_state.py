"""The layers that an order may state of its weave: of cloths that come off one another, of pile."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby, permutations
from typing import Final

from weavability.textiles.cloth import ClothFacts
from weavability.textiles.construction import Joined, Layers
from weavability.textiles.errors import InputError
from weavability.textiles.layer_declaration import MOST_LAYERS, layer_orders
from weavability.textiles.layered_weave import layered_weave
from weavability.textiles.weave_structure import MAX_REMEMBERED_CELLS, Structure

_FACE, _BETWEEN, _BACK = "F", "CDEGHIJKLM", "B"

_GROUND, _PILES = "G", "PQRSTUVWXYZ"

MOST_EXCHANGED: Final = 3
"""Layers of which the letters of the picks are exchanged with one another, at most."""

LONGEST_ORDER: Final = 60
"""Characters of an order of layers that is named, at most."""


def layers_of_parts(structure: Structure) -> Layers | None:
    """Return the cloths that come off one another in a weave, as their threads lie in it.

    ``None`` if there is one, if a thread lies loose, or if there are more than can be stated.
    """
    parts = structure.layers
    if not 1 < structure.layer_count <= MOST_LAYERS or structure.cloths < structure.layer_count:
        return None
    letters = (_FACE, *_BETWEEN[: len(parts) - 2], _BACK)
    ends, picks = [""] * structure.ends, [""] * structure.picks
    for letter, part in zip(letters, parts, strict=True):
        for places, threads in ((ends, part.ends), (picks, part.picks)):
            for thread in threads:
                places[thread - 1] = letter
    found = Layers(ends=_order(ends), picks=_order(picks), joined=Joined.SEPARATE)
    return found if max(len(found.ends), len(found.picks)) <= LONGEST_ORDER else None


def layers_of_pile(cloth: ClothFacts) -> Layers | None:
    """Return the layers of a cloth of which some beams let off pile, and the others one ground.

    ``None`` if there are layers already, or no pile, or if the weave contradicts it.
    """
    order = cloth.construction
    piles = [group for group in order.warp.beams if group.pile_ratio is not None]
    if order.layers is not None or not 0 < len(piles) <= len(_PILES):
        return None
    letters = {
        yarn: letter for letter, group in zip(_PILES, piles, strict=False) for yarn in group.yarns
    }
    ends = [letters.get(yarn, _GROUND) for yarn in cloth.warp.order.sequence]
    stated = Layers(ends=_order(ends), picks=_GROUND, pile=tuple(dict.fromkeys(letters.values())))
    return stated if _agrees(cloth, stated) else None


def layers_that_agree(cloth: ClothFacts) -> Layers | None:
    """Return layers that the weave does not contradict, near those that are stated.

    The cloths into which it falls, or the letters of the picks exchanged, or the layers joined
    otherwise. ``None`` if none of them agrees, or if their repeat is large.
    """
    stated, woven = cloth.construction.layers, cloth.symbols.layered_weave
    if stated is None or woven is None:
        return None
    if woven.joint_ends * woven.joint_picks > MAX_REMEMBERED_CELLS:
        return None
    return next((one for one in _near(stated, cloth.structure) if _agrees(cloth, one)), None)


def as_stated(layers: Layers) -> str:
    """Return layers as a request states them, such as ``"layers": {"ends": "1F 1B", ...}``."""
    fields: dict[str, object] = {"ends": layers.ends, "picks": layers.picks}
    if layers.joined is not None:
        fields["joined"] = layers.joined.value
    if layers.pile:
        fields["pile"] = layers.pile
    return f'"layers": {json.dumps(fields)}'


def _near(stated: Layers, structure: Structure) -> Iterator[Layers]:
    parts = None if stated.pile else layers_of_parts(structure)
    if parts is not None:
        yield parts
    ends, picks = layer_orders(stated)
    ground = sorted({*ends.counts, *picks.counts} - {*stated.pile})
    if len(ground) > MOST_EXCHANGED:
        return
    for joined in dict.fromkeys((stated.joined, *Joined)):
        for others in permutations(ground):
            to = dict(zip(ground, others, strict=True))
            exchanged = [to.get(letter, letter) for letter in picks.sequence]
            yield replace(stated, picks=_order(exchanged), joined=joined)


def _agrees(cloth: ClothFacts, layers: Layers) -> bool:
    """Return whether a weave does not contradict layers, and falls apart into no other cloths."""
    try:
        found = layered_weave(cloth.weave, layers)
    except InputError:
        return False
    return found.contradiction is None and found.cloths == cloth.structure.cloths


def _order(letters: Sequence[str]) -> str:
    """Write the shortest order of which the letters of some threads are repeats: ``1F 1B``."""
    threads = len(letters)
    repeat = next(
        many
        for many in range(1, threads + 1)
        if threads % many == 0 and [*letters[:many]] * (threads // many) == [*letters]
    )
    runs = ((letter, len([*run])) for letter, run in groupby(letters[:repeat]))
    return " ".join(f"{many}{letter}" for letter, many in runs)
