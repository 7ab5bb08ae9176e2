"""The selvedge of a cloth: its ends, its weave, and whether that binds the weft at the edge."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import gcd, lcm
from typing import Final, NamedTuple

import numpy as np

from weavability.textiles.assumptions import Grade, Ledger, ValueBand, remembered
from weavability.textiles.construction import Construction, Selvedge
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.sentences import say
from weavability.textiles.thread_systems import Threads
from weavability.textiles.weave_matrix import Matrix, Repeat, Weave, turned
from weavability.textiles.weave_structure import (
    MAX_REMEMBERED_CELLS,
    Structure,
    ThreadFloats,
    remembered_structure,
    remembered_with_weave,
    thread_floats,
)
from weavability.textiles.yarn_facts import YarnFacts

MAX_SELVEDGE_SIDE: Final = 64
"""Most ends, and most picks, of the repeat of a selvedge weave."""

MOST_USUAL_ENDS: Final = 48
"""Most ends of a selvedge that are usual, and so may be assumed; common practice, no source."""

EDGE_ENDS: Final = 16
"""Outermost ends by which the edge of a wide design without a selvedge weave is judged."""

_BLOCK_PICKS: Final = 512


class Edge(NamedTuple):
    """How the outermost ends weave.

    Attributes:
        floats: Their floats.
        unheld_turns: Picks of their repeat that lie in one shed with the next.
    """

    floats: ThreadFloats
    unheld_turns: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SelvedgeFacts:
    """The selvedges of a cloth, with nothing left open.

    Attributes:
        ends: Extra ends of all selvedges of all panels.
        are_many: Whether they are more than is usual.
        repeat: The selvedge's own weave; ``None`` if its ends weave as the ground.
        shafts: Shafts, or hooks, that only selvedge ends are drawn on.
        lift_picks: Picks after which ground and selvedge repeat together.
        is_known: Whether it is known how the edge weaves. Shafts of an unknown weave leave it open,
            and so do several layers, outside of which the selvedge lies.
        edge: How the ends at the edge weave.
        yarn_key: Key of the warp yarn of the selvedge.
        yarn: That yarn.
    """

    ends: int
    are_many: bool
    repeat: Repeat | None
    shafts: int
    lift_picks: int
    is_known: bool
    edge: Edge
    yarn_key: str
    yarn: YarnFacts


def check_selvedge_weave(weave: Weave) -> Repeat:
    """Return the repeat of a selvedge weave.

    Raises:
        InputError: It repeats on too many threads, or a thread of it never interlaces.
    """
    repeat, structure = remembered_structure(weave)
    most = MAX_SELVEDGE_SIDE
    if max(structure.ends, structure.picks) > most:
        message = say(
            "fault.selvedge.weave_too_large",
            "A selvedge weave repeats on at most {most_threads} ends and {most_threads} picks.",
            most_threads=most,
        )
        given = f"{structure.ends} ends x {structure.picks} picks"
        raise InputError.of("", message, given=given, allowed="such as plain or 2/2 weft rib")
    if structure.loose_ends or structure.loose_picks:
        message = say(
            "fault.selvedge.weave_does_not_bind",
            "Every end and pick of a selvedge weave must interlace.",
        )
        loose = f"ends {list(structure.loose_ends)}, picks {list(structure.loose_picks)}"
        raise InputError.of("", message, given=loose, allowed="such as plain or 2/2 weft rib")
    return repeat


def resolve_selvedge(
    construction: Construction,
    ground: Repeat,
    structure: Structure,
    woven: LayeredWeave | None,
    warp: Threads,
    panels: int,
    ledger: Ledger,
    ground_edge: Edge | None = None,
) -> SelvedgeFacts:
    """Settle what an order says of its selvedges.

    Args:
        construction: As stated.
        ground: The weave of the ground.
        structure: Of that weave.
        woven: Its layers, if they are declared.
        warp: Its warp.
        panels: Panels woven side by side.
        ledger: Takes a note of what is assumed.
        ground_edge: How the outermost ends of the ground weave, if that was read before.

    Raises:
        InputError: The yarn is not one of the warp's, or the weave is no selvedge weave.
    """
    stated, in_layers = construction.selvedge, woven is not None and len(woven.layers) > 1
    is_small = warp.is_remembered and ground.weave.matrix.size <= MAX_REMEMBERED_CELLS
    # With values moved nothing is remembered.
    if stated.weave is None and is_small and ledger.moves is None:
        return _remembered_selvedge(ledger, stated, ground, structure, in_layers, warp, panels)
    return _selvedge(ledger, stated, ground, structure, in_layers, warp, panels, ground_edge)


def _selvedge(
    ledger: Ledger,
    stated: Selvedge,
    ground: Repeat,
    structure: Structure,
    in_layers: bool,  # noqa: FBT001 - a key of what is remembered
    warp: Threads,
    panels: int,
    ground_edge: Edge | None = None,
) -> SelvedgeFacts:
    for note in stated.weave_notes:
        ledger.repeat(note, "/selvedge/weave")
    if stated.ends_per_side is None:
        # More that may be there are not counted among the ends: see `looms.denting`.
        ledger.note(
            "/selvedge/ends_per_side",
            0,
            unit=None,
            reason=say("assumption.selvedge.no_ends", "no extra selvedge ends stated")
            if stated.weave is None
            else say(
                "assumption.selvedge.weave_without_ends",
                "no extra selvedge ends stated, so that its weave has none",
            ),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(0, MOST_USUAL_ENDS),
        )
    ends = 2 * panels * (stated.ends_per_side or 0)
    repeat = None
    if stated.weave is not None:
        try:
            repeat = check_selvedge_weave(stated.weave)
        except InputError as error:
            raise error.below("/selvedge/weave") from None
    shafts = _shafts(stated.shafts, ground, repeat, ends, ledger)
    key = _yarn_key(stated.yarn, warp)
    if stated.weave is not None:
        ground_edge = _edge_of(*remembered_structure(stated.weave))
    return SelvedgeFacts(
        ends=ends,
        are_many=ends > 2 * panels * MOST_USUAL_ENDS,
        repeat=repeat,
        shafts=shafts,
        lift_picks=_lift_picks(ground, repeat, shafts),
        is_known=repeat is not None or not (stated.shafts or in_layers),
        edge=ground_edge or _edge_of(ground, structure),
        yarn_key=key,
        yarn=warp.yarns[key],
    )


_remembered_selvedge: Final = remembered(maxsize=1024)(_selvedge)


def _yarn_key(stated: str | None, warp: Threads) -> str:
    if stated is None:
        return warp.order.sequence[0]
    if stated not in warp.yarns:
        raise InputError([unknown_selvedge_yarn(stated, warp.yarns)])
    return stated


MOST_LISTED: Final = 64
"""Keys of yarns that a fault lists at most."""


def unknown_selvedge_yarn(stated: str, yarns: Collection[str]) -> Fault:
    """Return the fault of a selvedge yarn that is no yarn of the warp.

    Args:
        stated: Its key.
        yarns: Keys of the warp's yarns.
    """
    message = say(
        "fault.selvedge.unknown_yarn", "The selvedge has a yarn that is not among the warp's."
    )
    return Fault("/selvedge/yarn", message, stated, sorted(yarns)[:MOST_LISTED])


def _shafts(
    stated: int | None, ground: Repeat, own: Repeat | None, ends: int, ledger: Ledger
) -> int:
    """Return the shafts that only selvedge ends are drawn on."""
    if not ends:
        return 0 if stated is None else stated
    if own is None:
        return ledger.take(
            "/selvedge/shafts",
            stated,
            0,
            unit=None,
            reason=say(
                "assumption.selvedge.on_ground_shafts",
                "the selvedge is drawn on the ground's shafts; [COMMON-PRACTICE]",
            ),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(0, 4),
        )
    needed = shafts_beside(ground, own)
    if not needed:
        return 0 if stated is None else stated
    return ledger.take(
        "/selvedge/shafts",
        stated,
        needed,
        unit=None,
        reason=say(
            "assumption.selvedge.own_shafts",
            "ends of the selvedge weave that no shaft of the ground lifts alike; "
            "a selvedge motion of the loom's own needs none",
        ),
        grade=Grade.ESTIMATE,
        band=ValueBand(0, needed),
    )


@remembered_with_weave
def shafts_beside(ground: Repeat, own: Repeat) -> int:
    """Count the ends of a selvedge weave that no end of the ground weaves like, however repeated.

    Two ends of unlike repeats weave alike only if both repeat on the picks that divide both.

    >>> from weavability.textiles.notation import parse_weave
    >>> def shafts(ground: str, own: str) -> int:
    ...     return shafts_beside(Repeat.of(parse_weave(ground)), Repeat.of(parse_weave(own)))
    >>> shafts("plain", "2/2 weft rib"), shafts("2/2 twill Z", "plain")
    (0, 2)
    """
    common = gcd(ground.weave.picks, own.weave.picks)
    there = _columns(ground, common)
    return sum(column is None or column not in there for column in _columns(own, common))


def _columns(repeat: Repeat, common: int) -> list[bytes | None]:
    """Return each kind of end on the common picks; ``None`` for one that does not repeat on them.

    Blocks of picks bound the memory.
    """
    matrix, first = repeat.weave.matrix, np.unique(repeat.end_kinds, return_index=True)[1]
    repeats = np.ones(repeat.weave.ends, dtype=np.bool_)
    step = max(1, _BLOCK_PICKS // common) * common
    for start in range(0, len(matrix), step):
        block = matrix[start : start + step].reshape(-1, common, repeat.weave.ends)
        repeats &= (block == matrix[:common]).all(axis=(0, 1))
    return [matrix[:common, end].tobytes() if repeats[end] else None for end in first]


def _lift_picks(ground: Repeat, own: Repeat | None, shafts: int) -> int:
    picks = ground.weave.picks
    return picks if own is None or not shafts else lcm(picks, own.weave.picks)


def _edge_of(repeat: Repeat, structure: Structure) -> Edge:
    """Read the edge of a weave: all of a narrow one, which is analysed already."""
    weave = repeat.weave
    if weave.ends <= MAX_SELVEDGE_SIDE and not weave.has_edges:
        floats = ThreadFloats(
            structure.longest_warp_float_picks,
            structure.mean_float_of_picks,
            structure.mean_float_of_ends,
        )
        return Edge(floats, _unheld_turns(weave.matrix))
    return _read_edge(repeat)


@remembered_with_weave
def _read_edge(repeat: Repeat) -> Edge:
    matrix = repeat.weave.matrix
    outermost = matrix[:, :EDGE_ENDS] if matrix.shape[1] > MAX_SELVEDGE_SIDE else matrix
    return Edge(thread_floats(outermost), _unheld_turns(outermost))


def _unheld_turns(matrix: Matrix) -> int:
    """Count the picks after which no end changes: the returning weft pulls them out again."""
    changes = matrix != turned(matrix, -1)
    return int((~changes.any(axis=1)).sum())
