"""A figured design woven through the tie of a harness: the cloth, and what is found in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.errors import InputError
from weavability.textiles.figured.design_numbers import DesignNumbers, DesignWords, FoundPlace
from weavability.textiles.figured.effect_picture import EffectPicture
from weavability.textiles.figured.figured_design import Back, Covers, Design, Role
from weavability.textiles.figured.float_binding import (
    MOST_DOTS,
    MOST_TRIALS,
    Correction,
    bind_floats,
)
from weavability.textiles.figured.float_limits import (
    LongFloats,
    System,
    ThreadLimits,
    Tie,
    figuring_picks,
    long_floats,
    thread_limits,
    unbound_effects,
)
from weavability.textiles.figured.float_search import blocks_of_picks, count_lengths
from weavability.textiles.figured.harness_joins import (
    TurnFloat,
    find_breaks,
    fitting_repeat,
    thin_lines,
    turn_float,
)
from weavability.textiles.figured.hook_lifts import HookLifts, lay_on_hooks
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.weave_matrix import (
    MAX_SIDE,
    Matrix,
    Weave,
    about_to_make,
    smallest_period,
)
from weavability.textiles.weave_structure import remembered_structure, take_up_ends, take_up_times

MOST_PLACES: Final = 50
"""Most floats beyond their limits whose places are listed."""

MOST_CONFLICTS: Final = 20
"""Most ends in conflict with their hooks whose places are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HarnessTie:
    """How the ends are tied to the hooks.

    Attributes:
        hooks: Hooks of the machine for the figure.
        hook_of_end: The hook of every end of the tie, from 0; empty if no tie is stated, so that it
            is straight.
        panels: Panels of cloth that the tie is divided into.
    """

    hooks: int
    hook_of_end: tuple[int, ...] = ()
    panels: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FiguredCloth:
    """A design as a loom weaves it.

    Attributes:
        lifts: The design on the hooks as requested.
        limits: The longest floats that it allows.
        correction: Its long floats bound, if that was requested.
        tie: The hook of every end of the smallest repeat; ``None`` if that is once the hooks.
        has_edges: Whether that repeat is a cloth from edge to edge, so that its last end is no
            neighbour to the first.
        weave: The cloth.
        covers: What a column of the picture is.
        harness: The harness through which it is woven.
        setts_per_cm: Ends and picks of the cloth, to which the limits were converted.
        unbound: The effects without a binding of their own within the limits.
        numbers: What the checks compare.
        words: What their messages quote.
    """

    lifts: HookLifts
    limits: ThreadLimits
    correction: Correction
    tie: Tie | None
    has_edges: bool
    weave: Weave
    covers: Covers
    harness: HarnessTie
    setts_per_cm: tuple[float, float]
    unbound: tuple[int, ...]
    numbers: DesignNumbers[float]
    words: DesignWords


def weave_design(
    as_pictured: HookLifts, harness: HarnessTie, *, ends_per_cm: float, picks_per_cm: float
) -> FiguredCloth:
    """Weave a design through a harness.

    Args:
        as_pictured: The design laid on as many hooks as its picture has columns.
        harness: The harness of the loom.
        ends_per_cm: Ends of the cloth.
        picks_per_cm: Picks of the cloth, all wefts together.

    Raises:
        InputError: The tie has a repeat of more than ``MAX_SIDE`` ends.
    """
    design, (stated, conflicts) = as_pictured.design, _on_hooks(as_pictured.design, harness)
    lifts = as_pictured if stated is design else lay_on_hooks(stated)
    tie = _tie_of_repeat(harness, lifts.lift.shape[1])
    limits = thread_limits(stated, ends_per_cm=ends_per_cm, picks_per_cm=picks_per_cm)
    has_edges = _is_whole_cloth(design, harness, lifts.lift.shape[1] if tie is None else len(tie))
    correction = _correction(lifts, tie, limits, has_edges=has_edges)
    weave = Weave(matrix=_through(correction.lift, tie), has_edges=has_edges)
    numbers, words = _examined(
        lifts, correction, tie, limits, weave, harness, design, conflicts, ends_per_cm, picks_per_cm
    )
    return FiguredCloth(
        lifts=lifts,
        limits=limits,
        correction=correction,
        tie=tie,
        has_edges=has_edges,
        weave=weave,
        covers=design.covers,
        harness=harness,
        setts_per_cm=(ends_per_cm, picks_per_cm),
        unbound=unbound_effects(lifts.design, limits),
        numbers=numbers,
        words=words,
    )


class _Conflict(NamedTuple):
    """The pixels of an end that differ from those of the first end on its hook.

    Attributes:
        end: The end, from 0.
        of_hook: The first end on its hook, from 0.
        pixels: How many differ.
        line: The first of them.
    """

    end: int
    of_hook: int
    pixels: int
    line: int


class _Conflicts(NamedTuple):
    """Where a picture of the cloth contradicts its tie; the first ends are listed."""

    pixels: int = 0
    ends: int = 0
    first: tuple[_Conflict, ...] = ()


def _on_hooks(design: Design, harness: HarnessTie) -> tuple[Design, _Conflicts]:
    """Return a design of the hooks; of a picture of the cloth, with its conflicts with the tie.

    Each hook takes what its first end shows.
    """
    if design.covers is Covers.HOOKS:
        return design, _Conflicts()
    pixels = design.picture.pixels
    ends = np.arange(pixels.shape[1])
    stated = np.array(harness.hook_of_end, dtype=np.intp)
    tied = stated[ends % len(stated)] if len(stated) else ends % harness.hooks
    hooks, first_end = np.unique(tied, return_index=True)
    of_hook = np.zeros(int(tied.max()) + 1, dtype=np.intp)
    of_hook[hooks] = first_end
    per_end = np.zeros(len(ends), dtype=np.int64)
    first_line = np.zeros_like(per_end)
    first_of_hook = of_hook[tied]
    for line, row in enumerate(pixels):
        differs = row != row[first_of_hook]
        first_line[differs & (per_end == 0)] = line
        per_end += differs
    picture = EffectPicture(
        pixels=np.ascontiguousarray(pixels[:, of_hook]), colours=design.picture.colours
    ).without_unused()
    unlike = np.flatnonzero(per_end)
    return replace(
        design,
        picture=picture,
        covers=Covers.HOOKS,
        effects={colour: design.effects[colour] for colour in picture.colours},
    ), _Conflicts(
        pixels=int(per_end.sum()),
        ends=len(unlike),
        first=tuple(
            _Conflict(end, int(first_of_hook[end]), int(per_end[end]), int(first_line[end]))
            for end in unlike[:MOST_CONFLICTS].tolist()
        ),
    )


def _tie_of_repeat(harness: HarnessTie, columns: int) -> Tie | None:
    """Return the hook of every end of the smallest repeat; ``None`` if it is the picture itself."""
    if not harness.hook_of_end:
        return None
    tie = np.array(harness.hook_of_end, dtype=np.intp) % columns
    tie = tie[: smallest_period(tie)]
    if np.array_equal(tie, np.arange(columns)):
        return None
    if len(tie) > MAX_SIDE:
        message = say(
            "fault.design.tie_too_long",
            "The tie repeats after {ends} ends; {most_ends} at most.",
            ends=len(tie),
            most_ends=MAX_SIDE,
        )
        raise InputError.of("", message, given=len(tie), allowed=MAX_SIDE)
    return tie


def _is_whole_cloth(design: Design, harness: HarnessTie, repeat_ends: int) -> bool:
    """Return whether a tie is not repeated in a panel, or a picture not on the hooks."""
    if harness.hook_of_end:
        return repeat_ends * harness.panels >= len(harness.hook_of_end)
    return design.covers is Covers.CLOTH and design.picture.columns <= harness.hooks


def _through(lift: Matrix, tie: Tie | None) -> Matrix:
    """Return the cloth that hooks weave through a tie; read-only."""
    if tie is None:
        return lift
    about_to_make(ends=len(tie), picks=len(lift))
    cloth = np.empty((len(lift), len(tie)), dtype=np.uint8)
    for first, rows in blocks_of_picks(lift):
        cloth[first : first + len(rows)] = rows[:, tie]
    cloth.setflags(write=False)
    return cloth


def _correction(
    lifts: HookLifts, tie: Tie | None, limits: ThreadLimits, *, has_edges: bool
) -> Correction:
    if lifts.design.correct:
        return bind_floats(lifts, tie, limits, has_edges=has_edges)
    none = (0,) * len(lifts.design.picture.colours)
    return Correction(lift=lifts.lift, dots=0, dots_by_effect=none, is_complete=True)


def _stopped_at(correction: Correction) -> Sentence | None:
    if correction.is_complete:
        return None
    if correction.dots >= MOST_DOTS:
        return say("part.most_dots", "{most_dots:,} dots", most_dots=MOST_DOTS)
    return say("part.most_trials", "{most_trials:,} trials of dots", most_trials=MOST_TRIALS)


def _examined(
    lifts: HookLifts,
    correction: Correction,
    tie: Tie | None,
    limits: ThreadLimits,
    weave: Weave,
    harness: HarnessTie,
    stated: Design,
    conflicts: _Conflicts,
    ends_per_cm: float,
    picks_per_cm: float,
) -> tuple[DesignNumbers[float], DesignWords]:
    design = lifts.design
    names = [effect.name for effect in design.effects_by_value]
    has_edges = weave.has_edges
    unbound = unbound_effects(design, limits)
    breaks = find_breaks(lifts, tie, has_edges=has_edges)
    floats, places = _count_long(lifts, correction.lift, tie, limits, has_edges=has_edges)
    uncorrected = floats
    if correction.dots:
        uncorrected = _count_long(lifts, lifts.lift, tie, limits, has_edges=has_edges)[0]
    turn = TurnFloat()
    if tie is not None:
        turn = turn_float(lifts, correction.lift, tie, limits, has_edges=has_edges)
    thin = thin_lines(lifts, has_edges=has_edges)
    thinnest = thin.shares.index(max(thin.shares))
    figuring = figuring_picks(lifts)
    back_floats = dict(_back_floats(lifts, weave))
    longest_back, freest = max(
        (
            (longest, key)
            for key, longest in back_floats.items()
            if design.wefts[key].back is not Back.CLIPPED
        ),
        default=(0, ""),
    )
    loose = [pick for pick in np.flatnonzero(figuring).tolist() if not np.ptp(weave.matrix[pick])]
    structure = remembered_structure(weave)[1]
    weft_float_ends = structure.longest_weft_float_ends
    if figuring.any():
        on_ground = _longest_behind(weave, ~figuring)
        weft_float_ends = max(structure.weft_face_float_ends, on_ground)
    tie_hooks = len(set(harness.hook_of_end))
    is_cloth = stated.covers is Covers.CLOTH
    woven_cm = _woven_cm(lifts, stated, ends_per_cm, picks_per_cm)
    designed_cm = stated.designed_cm or woven_cm
    whole_lines = lifts.effect_lines.max(axis=0) == design.picture.columns
    idle = _idle_columns(harness, stated)
    lost = _only_in(stated, idle)
    fitting_ends, fitting_lines = fitting_repeat(lifts, breaks, tie, has_edges=has_edges)
    on_columns = np.array(harness.hook_of_end, dtype=np.intp) % lifts.lift.shape[1]
    numbers = DesignNumbers[float](
        is_figured=True,
        covers_cloth=is_cloth,
        is_tied=bool(harness.hook_of_end),
        columns=stated.picture.columns,
        tie_columns=_tie_columns(harness, is_cloth=is_cloth, columns=stated.picture.columns),
        idle_columns=len(idle),
        lost_effects=len(lost),
        distortion_pct=_distortion_pct(woven_cm, designed_cm),
        higher_lines_pct=lifts.higher_lines_pct,
        tie_hooks=tie_hooks,
        tie_ends=len(harness.hook_of_end),
        tie_conflicts=conflicts.pixels,
        conflicting_ends=conflicts.ends,
        turn_float_ends=turn.ends,
        turn_limit_ends=turn.limit,
        broken_effects=len(breaks.effects),
        unbound_effects=len(unbound),
        unbound_lines=sum(bool(whole_lines[value]) for value in unbound),
        long_floats=floats,
        is_corrected=design.correct,
        thin_pct=100 * thin.shares[thinnest],
        loose_weft_picks=len(loose),
        weft_float_ends=weft_float_ends,
        back_float_ends=longest_back,
        back_limit_mm=design.float_limits.back_mm or 0.0,
        binding_shows_pct=_binding_shows_pct(lifts, correction.lift),
        take_up_times=take_up_times(structure.interlacings_per_end, has_edges=weave.has_edges)
        or 1.0,
    )
    words = DesignWords(
        idle_columns=tuple(_stretches(idle)),
        lost=lost,
        unbound=tuple(names[value] for value in unbound),
        broken=tuple(names[value] for value in breaks.effects),
        breaks_across=bool(breaks.across),
        breaks_up=bool(breaks.up),
        join=(breaks.last_hook, breaks.first_hook, breaks.hooks),
        own_picks=breaks.own_picks,
        fitting_ends=fitting_ends,
        fitting_tied_ends=int(np.count_nonzero(on_columns < fitting_ends)),
        fitting_lines=fitting_lines,
        woven_cm=woven_cm,
        designed_cm=designed_cm,
        thin=names[thinnest],
        thin_place=thin.first[thinnest],
        thin_shares=thin.shares,
        unlike_ends=take_up_ends(structure.interlacings_per_end, has_edges=weave.has_edges),
        back_floats=back_floats,
        freest=freest,
        is_freest_bound=bool(freest) and design.wefts[freest].back is Back.BOUND,
        conflicts=tuple(_conflict_places(conflicts, lifts, stated)),
        turns=_turn_places(turn),
        is_turn_limited=turn.is_stated,
        longest_turn_ends=turn.longest,
        long_floats=places,
        uncorrected_floats=uncorrected,
        stopped_at=_stopped_at(correction),
        loose_pick=loose[0] + 1 if loose else 0,
    )
    return numbers, words


def _woven_cm(
    lifts: HookLifts, stated: Design, ends_per_cm: float, picks_per_cm: float
) -> tuple[float, float]:
    """Return width and height of the whole picture, as it was drawn, in the cloth.

    A picture shows its ends over ends per cm by its lines over lines per cm: [BELL-1895], p. 112.
    """
    columns, lines = (
        woven + out
        for woven, out in zip((stated.columns, stated.lines), stated.cast_out, strict=True)
    )
    picks = len(lifts.lift) / stated.lines * lines
    return columns / ends_per_cm, picks / picks_per_cm


def _distortion_pct(woven_cm: tuple[float, float], designed_cm: tuple[float, float]) -> float:
    """Return how far the wider of two proportions is from the other."""
    times = woven_cm[0] / woven_cm[1] / (designed_cm[0] / designed_cm[1])
    return 100 * (max(times, 1 / times) - 1)


def _conflict_places(
    conflicts: _Conflicts, lifts: HookLifts, stated: Design
) -> Iterator[FoundPlace]:
    """Yield the first ends in conflict with their hooks, each at its first pick."""
    pixels, effects = stated.picture.pixels, stated.effects_by_value
    for each in conflicts.first:
        own, other = (effects[pixels[each.line, end]].name for end in (each.end, each.of_hook))
        pick = int(np.searchsorted(lifts.line_of_pick, each.line)) + 1
        what = say(
            "part.conflict_on_hook",
            "end {end} shows {effect} on pick {pick}, and end {first_end} on the same hook "
            "{first_effect}; pixels that differ: {pixels}",
            end=int(each.end) + 1,
            effect=own,
            pick=pick,
            first_end=int(each.of_hook) + 1,
            first_effect=other,
            pixels=int(each.pixels),
        )
        yield FoundPlace(each.end + 1, pick, what)


def _turn_places(turn: TurnFloat) -> tuple[FoundPlace, ...]:
    if turn.ends <= turn.limit:
        return ()
    what = say(
        "part.float_across_turn",
        "{ends} ends on pick {pick} across the turn after end {first_end}",
        ends=turn.ends,
        pick=turn.pick,
        first_end=turn.first_end,
    )
    return (FoundPlace(turn.first_end, turn.pick, what),)


def _tie_columns(harness: HarnessTie, *, is_cloth: bool, columns: int) -> int:
    """Return the columns that the tie asks of a picture; a picture may be repeated on the hooks."""
    if not harness.hook_of_end:
        return 0
    if is_cloth:
        return len(harness.hook_of_end)
    needed = max(harness.hook_of_end) + 1
    return columns if needed % columns == 0 else needed


def _idle_columns(harness: HarnessTie, stated: Design) -> NDArray[np.intp]:
    """Return the columns, from 0, of a picture of the hooks whose hooks the tie leaves out."""
    if not harness.hook_of_end or stated.covers is Covers.CLOTH:
        return np.empty(0, dtype=np.intp)
    tied = np.array(harness.hook_of_end, dtype=np.intp) % stated.columns
    return np.setdiff1d(np.arange(stated.columns), tied)


def _only_in(stated: Design, columns: NDArray[np.intp]) -> tuple[str, ...]:
    """Return the names of the effects that show in some columns and in no other."""
    if not len(columns):
        return ()
    pixels = stated.picture.pixels
    # A line at a time, so that no second picture is made.
    elsewhere = np.zeros(len(stated.picture.colours), dtype=np.bool_)
    woven = np.ones(stated.columns, dtype=np.bool_)
    woven[columns] = False
    for row in pixels:
        elsewhere[row[woven]] = True
    effects = zip(stated.effects_by_value, elsewhere.tolist(), strict=True)
    return tuple(effect.name for effect, is_woven in effects if not is_woven)


def _stretches(columns: NDArray[np.intp]) -> Iterator[tuple[int, int]]:
    """Yield first and last, from 1, of columns that lie next to one another."""
    for stretch in np.split(columns, np.flatnonzero(np.diff(columns) > 1) + 1):
        if len(stretch):
            yield int(stretch[0]) + 1, int(stretch[-1]) + 1


def _count_long(
    lifts: HookLifts, lift: Matrix, tie: Tie | None, limits: ThreadLimits, *, has_edges: bool
) -> tuple[int, tuple[FoundPlace, ...]]:
    """Count the floats beyond their limits in a repeat, and return the first ones."""
    count, places = 0, list[FoundPlace]()
    hooks = np.arange(lift.shape[1]) if tie is None else tie
    cords = np.bincount(hooks, minlength=lift.shape[1])
    for system in System:
        for found in long_floats(lifts, lift, tie, limits, system, has_edges=has_edges):
            times = int(cords[found.line]) if system is System.WARP else 1
            count += times * len(found.starts)
            if len(places) < MOST_PLACES:
                places += _places(found, hooks)
    return count, tuple(places[:MOST_PLACES])


def _places(found: LongFloats, hooks: Tie) -> Iterator[FoundPlace]:
    """Yield where floats begin; one of a hook, at its first end."""
    for start, length in zip(found.starts.tolist(), found.lengths.tolist(), strict=True):
        if found.system is System.WARP:
            where = say(
                "part.float_on_hook",
                "{picks} picks on hook {hook} from pick {first_pick}",
                picks=length,
                hook=found.line + 1,
                first_pick=start + 1,
            )
            ends = np.flatnonzero(hooks == found.line)
            if len(ends):
                yield FoundPlace(int(ends[0]) + 1, start + 1, where)
        else:
            where = say(
                "part.float_on_pick",
                "{ends} ends on pick {pick} from end {first_end}",
                ends=length,
                pick=found.line + 1,
                first_end=start + 1,
            )
            yield FoundPlace(start + 1, found.line + 1, where)


def _back_floats(lifts: HookLifts, weave: Weave) -> Iterator[tuple[str, int]]:
    """Yield the figuring wefts, each with its longest float behind the cloth."""
    for place, (key, weft) in enumerate(lifts.design.wefts.items()):
        if weft.role is not Role.GROUND:
            yield key, _longest_behind(weave, lifts.weft_of_pick == place)


def _longest_behind(weave: Weave, picks: NDArray[np.bool_]) -> int:
    """Return the longest float of some picks on the back, in ends."""
    longest = 0
    for first, rows in blocks_of_picks(weave.matrix):
        some = rows[picks[first : first + len(rows)]]
        _, raised = count_lengths(some, has_edges=weave.has_edges)
        longest = max(longest, int(np.flatnonzero(raised).max(initial=0)))
    return longest


def _binding_shows_pct(lifts: HookLifts, lift: Matrix) -> float:
    """Return the share of the bindings at the back that no weft float of the ground hides.

    The extra weft is brought up under a weft float of the ground: [TAYLOR-1909], p. 191. One that
    has it neither on the pick of the ground before nor on that after shows.
    """
    design = lifts.design
    bound = [place for place, weft in enumerate(design.wefts.values()) if weft.back is Back.BOUND]
    if not bound:
        return 0.0
    ground = design.weft_keys.index(design.ground_key)
    on_ground = np.flatnonzero(lifts.weft_of_pick == ground)
    shown = np.array([design.weft_of(effect) for effect in design.effects_by_value])
    bindings = showing = 0
    for pick in np.flatnonzero(np.isin(lifts.weft_of_pick, bound)).tolist():
        own = shown[lifts.effects_of_pick(pick)] == lifts.weft_of_pick[pick]
        binds = (lift[pick] == 0) & ~own
        following = int(np.searchsorted(on_ground, pick))
        before = lift[on_ground[following - 1]]
        after = lift[on_ground[following % len(on_ground)]]
        bindings += int(binds.sum())
        showing += int((binds & ~_weft_floats(before) & ~_weft_floats(after)).sum())
    return 100 * showing / bindings if bindings else 0.0


def _weft_floats(row: Matrix) -> NDArray[np.bool_]:
    """Return the hooks at which a pick passes over two ends or more."""
    down = row == 0
    floats: NDArray[np.bool_] = down & (np.roll(down, 1) | np.roll(down, -1))
    return floats
