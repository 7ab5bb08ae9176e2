"""Where in a figured design the checks found something, for lists and drawings."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final

import numpy as np

from weavability.checks.codes import CheckCode
from weavability.looms.fit import Fit
from weavability.textiles.figured.design_numbers import FoundPlace
from weavability.textiles.figured.figured_cloth import FiguredCloth
from weavability.textiles.figured.float_search import (
    blocks_of_ends,
    blocks_of_picks,
    floats_of,
    lines_with_long_floats,
)
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.weave_matrix import Matrix
from weavability.textiles.weave_squares import Place

_TIGHT: Final = frozenset({CheckCode.SETT_TIGHT, CheckCode.SETT_JAMMED})


def places_of(
    fit: Fit, cloth: FiguredCloth, codes: Collection[CheckCode]
) -> tuple[FoundPlace, ...]:
    """Return the places of what the checks found; first those of which there is one.

    Args:
        fit: The order on the loom.
        cloth: Its design.
        codes: What the checks found.
    """
    words, setting = cloth.words, fit.cloth.setting
    places = [*words.turns]
    if CheckCode.DESIGN_EFFECT_UNBOUND in codes:
        places += _unbound(cloth)
    if CheckCode.DESIGN_GROUND_BREAK in codes:
        places += _breaks(cloth)
    if CheckCode.DESIGN_WEFT_LOOSE in codes:
        loose = say("part.loose_pick", "pick {pick} binds nowhere", pick=words.loose_pick)
        places.append(FoundPlace(1, words.loose_pick, loose))
    if CheckCode.DESIGN_BACK_FLOAT in codes:
        places += _behind(cloth)
    if CheckCode.WEAVE_LONG_FLOAT in codes:
        places += _longest(fit, cloth)
    if CheckCode.DESIGN_TAKE_UP in codes:
        busy, idle = words.unlike_ends
        most = say("part.take_up_most", "ends from {end} on take up most", end=busy)
        least = say("part.take_up_least", "ends from {end} on take up least", end=idle)
        places += [FoundPlace(busy, 1, most), FoundPlace(idle, 1, least)]
    if CheckCode.DESIGN_THIN_OUTLINE in codes:
        line, column = words.thin_place
        what = say("part.thin_outline", "{effect} is one thread thin", effect=words.thin)
        places.append(_at(cloth, line - 1, column - 1, what))
    if CheckCode.DESIGN_OPEN_AREA in codes and setting.loosest is not None:
        places.append(_of_square(cloth, setting.loosest, say("part.open_area", "an open area")))
    if _TIGHT.intersection(codes) and setting.tightest is not None:
        places.append(_of_square(cloth, setting.tightest, say("part.tight_area", "a tight area")))
    return (*places, *words.conflicts, *words.long_floats)


def _at(cloth: FiguredCloth, line: int, column: int, what: Sentence) -> FoundPlace:
    """Return the place of a pixel, both from 0: the first end on its hook, its first pick."""
    end = column
    if cloth.tie is not None:
        end = int(np.flatnonzero(cloth.tie == column)[:1].sum())
    return FoundPlace(end + 1, int(np.searchsorted(cloth.lifts.line_of_pick, line)) + 1, what)


def _of_square(cloth: FiguredCloth, square: Place, what: Sentence) -> FoundPlace:
    """Return the middle of a square, within the repeat."""
    end = (square.first_end + square.last_end) // 2
    pick = (square.first_pick + square.last_pick) // 2
    return FoundPlace((end - 1) % cloth.weave.ends + 1, (pick - 1) % cloth.weave.picks + 1, what)


def _unbound(cloth: FiguredCloth) -> Iterator[FoundPlace]:
    """Yield for every effect without a binding the middle of the line on which it is widest."""
    design, lines = cloth.lifts.design, cloth.lifts.effect_lines
    for value in cloth.unbound:
        line = int(lines[:, value].argmax())
        columns = np.flatnonzero(design.picture.pixels[line] == value)
        name = design.effects_by_value[value].name
        what = say("part.unbound_effect", "{effect} is not bound by its weave", effect=name)
        yield _at(cloth, line, int(columns[len(columns) // 2]), what)


def _breaks(cloth: FiguredCloth) -> Iterator[FoundPlace]:
    """Yield where weaves break: beside a join of hooks, and at the last pick of the repeat."""
    words, pixels = cloth.words, cloth.lifts.design.picture.pixels
    name = words.broken[0]
    last, first, _ = words.join
    if words.breaks_across:
        meeting = pixels[:, last - 1] == pixels[:, first - 1]
        what = say("part.breaks_across", "{effect} breaks beside the next repeat", effect=name)
        place = _at(cloth, int(meeting.argmax()), last - 1, what)
        if cloth.tie is not None:
            joins = (cloth.tie == last - 1) & (np.roll(cloth.tie, -1) == first - 1)
            place = place._replace(end=int(joins.argmax()) + 1)
        yield place
    if words.breaks_up:
        meeting = pixels[0] == pixels[-1]
        what = say("part.breaks_up", "{effect} breaks below the next repeat", effect=name)
        place = _at(cloth, 0, int(meeting.argmax()), what)
        yield place._replace(pick=cloth.weave.picks)


def _behind(cloth: FiguredCloth) -> Iterator[FoundPlace]:
    """Yield the longest float of a figuring weft behind the cloth."""
    key, lifts = cloth.words.freest, cloth.lifts
    picks = np.flatnonzero(lifts.weft_of_pick == lifts.design.weft_keys.index(key))
    ends = cloth.words.back_floats[key]
    found = _first(cloth.weave.matrix[picks], ends, has_edges=cloth.has_edges, side=1)
    if found is not None:
        row, end = found
        what = say("part.float_behind", "weft {weft}: {ends} ends behind", weft=key, ends=ends)
        yield FoundPlace(end + 1, int(picks[row]) + 1, what)


def _longest(fit: Fit, cloth: FiguredCloth) -> Iterator[FoundPlace]:
    """Yield the longest float of the cloth in mm, but for figuring wefts behind it."""
    ends_per_cm, picks_per_cm = cloth.setts_per_cm
    ends = int(cloth.numbers.weft_float_ends)
    picks = fit.cloth.structure.longest_warp_float_picks
    matrix = cloth.weave.matrix
    if ends / ends_per_cm >= picks / picks_per_cm:
        for first, rows in blocks_of_picks(matrix):
            found = _first(rows, ends, has_edges=cloth.has_edges)
            if found is not None:
                what = say("part.longest_over_ends", "{ends} ends, the longest float", ends=ends)
                yield FoundPlace(found[1] + 1, first + found[0] + 1, what)
                return
    for first, rows in blocks_of_ends(matrix):
        found = _first(rows, picks, has_edges=False)
        if found is not None:
            what = say("part.longest_over_picks", "{picks} picks, the longest float", picks=picks)
            yield FoundPlace(first + found[0] + 1, found[1] + 1, what)
            return


def _first(
    rows: Matrix, length: int, *, has_edges: bool, side: int | None = None
) -> tuple[int, int] | None:
    """Return row and first thread, from 0, of the first float of so many threads."""
    for row in lines_with_long_floats(rows, max(1, length - 1), has_edges=has_edges):
        found = floats_of(rows[row], has_edges=has_edges)
        as_long = found.lengths == length
        if side is not None:
            as_long &= found.values == side
        if as_long.any():
            return row, int(found.starts[as_long][0])
    return None
