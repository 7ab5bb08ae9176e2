"""What the checks compare of a figured design, in numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from weavability.textiles.numbers import N, Record, Truth
from weavability.textiles.sentences import Sentence


@dataclass(slots=True, kw_only=True)
class DesignNumbers(Record[N]):
    """A figured design on the harness of a loom; all 0 or false without one.

    Attributes:
        is_figured: Whether the order is a figured design.
        covers_cloth: Whether the picture is the whole cloth, an end a column.
        is_tied: Whether the loom states how its harness is tied.
        columns: Hooks, or ends, that the picture covers.
        tie_columns: The same that the tie has; 0 if none is stated.
        idle_columns: Columns of a picture of the hooks whose hooks have no end.
        lost_effects: Effects that show in no other column.
        distortion_pct: How far the picture in the cloth is off its designed proportion.
        higher_lines_pct: How much higher lines with figuring wefts are than lines without.
        tie_hooks: Hooks that lift ends.
        tie_ends: Ends of the tie over the whole width.
        tie_conflicts: Pixels at which a picture of the cloth asks ends of one hook for two effects.
        conflicting_ends: Ends with such a pixel.
        turn_float_ends: Weft float across a turn of the tie that is longest for its limit.
        turn_limit_ends: What it may be, by the effects that it passes over.
        broken_effects: Effects whose weave breaks where repeats meet.
        unbound_effects: Effects without a binding within their limits.
        unbound_lines: Those of them that cover a whole line.
        long_floats: Floats beyond the limits, after the correction.
        is_corrected: Whether the correction was requested.
        thin_pct: Share of an effect that is one thread thin, of the thinnest effect.
        loose_weft_picks: Picks of figuring wefts that bind nowhere.
        weft_float_ends: Longest float of a pick, but for those of figuring wefts at the back.
        back_float_ends: Longest float of a figuring weft at the back, of those not clipped.
        back_limit_mm: What it may be, as stated; 0 for the usual limits.
        binding_shows_pct: Bindings at the back that no float of the ground weft hides.
        take_up_times: Interlacings of the neighbouring ends that have most over those with fewest.
    """

    is_figured: Truth
    covers_cloth: Truth
    is_tied: Truth
    columns: N
    tie_columns: N
    idle_columns: N
    lost_effects: N
    distortion_pct: N
    higher_lines_pct: N
    tie_hooks: N
    tie_ends: N
    tie_conflicts: N
    conflicting_ends: N
    turn_float_ends: N
    turn_limit_ends: N
    broken_effects: N
    unbound_effects: N
    unbound_lines: N
    long_floats: N
    is_corrected: Truth
    thin_pct: N
    loose_weft_picks: N
    weft_float_ends: N
    back_float_ends: N
    back_limit_mm: N
    binding_shows_pct: N
    take_up_times: N


class FoundPlace(NamedTuple):
    """A place in the cloth where something was found; end and pick count from 1.

    Attributes:
        what: In words.
    """

    end: int
    pick: int
    what: Sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignWords:
    """Names and places of what the checks find in a design, for messages; ends and picks from 1.

    Attributes:
        idle_columns: First and last column, from 1, of those next to one another without an end.
        lost: Names of the effects that show in no other column.
        unbound: Names of the effects without a binding.
        broken: Names of the effects whose weave breaks.
        breaks_across: Whether one breaks where hooks meet side by side.
        breaks_up: Whether one breaks where repeats meet one above the other.
        join: The hooks before and after the first join across that breaks, and the hooks from the
            one to the other, which the ends of a weave must divide.
        own_picks: Picks in a repeat of the weft of the first effect that breaks above.
        fitting_ends: Most columns of the picture at which no weave breaks; 0 if there are none.
        fitting_tied_ends: Ends of the tie on the hooks of so many columns; 0 without a tie.
        fitting_lines: Likewise of its lines.
        woven_cm: Width and height of the whole picture in the cloth.
        designed_cm: The same as it was designed.
        thin: Name of the effect that is thinnest.
        thin_place: Line and column of its first pixel that is one thread thin, from 1.
        thin_shares: Of each effect the share that is one thread thin.
        unlike_ends: The first of the few neighbouring ends that interlace most, and of those that
            interlace least.
        back_floats: Of each figuring weft its longest float behind the cloth, in ends.
        freest: The weft with the longest of them, those that are clipped left out; empty if there
            is none.
        is_freest_bound: Whether its back is bound.
        conflicts: The first ends in conflict with their hooks, each at its first pick.
        turns: The worst float across a turn, if it is too long, at the end before the turn.
        is_turn_limited: Whether the design states the limit that it has.
        longest_turn_ends: The longest float across a turn.
        long_floats: The first floats beyond their limits.
        uncorrected_floats: Floats beyond the limits before the correction.
        stopped_at: At what the correction stopped before its end; ``None`` if it did not.
        loose_pick: First pick of a figuring weft that binds nowhere.
    """

    idle_columns: tuple[tuple[int, int], ...] = ()
    lost: tuple[str, ...] = ()
    unbound: tuple[str, ...] = ()
    broken: tuple[str, ...] = ()
    breaks_across: bool = False
    breaks_up: bool = False
    join: tuple[int, int, int] = (0, 0, 0)
    own_picks: int = 0
    fitting_ends: int = 0
    fitting_tied_ends: int = 0
    fitting_lines: int = 0
    woven_cm: tuple[float, float] = (0.0, 0.0)
    designed_cm: tuple[float, float] = (0.0, 0.0)
    thin: str = ""
    thin_place: tuple[int, int] = (0, 0)
    thin_shares: tuple[float, ...] = ()
    unlike_ends: tuple[int, int] = (0, 0)
    back_floats: Mapping[str, int] = field(default_factory=dict)
    freest: str = ""
    is_freest_bound: bool = False
    conflicts: tuple[FoundPlace, ...] = ()
    turns: tuple[FoundPlace, ...] = ()
    is_turn_limited: bool = False
    longest_turn_ends: int = 0
    long_floats: tuple[FoundPlace, ...] = ()
    uncorrected_floats: int = 0
    stopped_at: Sentence | None = None
    loose_pick: int = 0

    @property
    def first_long(self) -> str:
        """The first float beyond its limit, in words."""
        return self.long_floats[0].what if self.long_floats else ""


NO_DESIGN: Final[DesignNumbers[float]] = DesignNumbers(
    is_figured=False,
    covers_cloth=False,
    is_tied=False,
    columns=0,
    tie_columns=0,
    idle_columns=0,
    lost_effects=0,
    distortion_pct=0.0,
    higher_lines_pct=0.0,
    tie_hooks=0,
    tie_ends=0,
    tie_conflicts=0,
    conflicting_ends=0,
    turn_float_ends=0,
    turn_limit_ends=0,
    broken_effects=0,
    unbound_effects=0,
    unbound_lines=0,
    long_floats=0,
    is_corrected=False,
    thin_pct=0.0,
    loose_weft_picks=0,
    weft_float_ends=0,
    back_float_ends=0,
    back_limit_mm=0.0,
    binding_shows_pct=0.0,
    take_up_times=1.0,
)
"""An order that is no figured design."""

NO_DESIGN_WORDS: Final = DesignWords()
