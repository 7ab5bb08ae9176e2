"""Drafting: which end is drawn on which shaft, and which shafts every pick lifts.

``cloth[pick, end] = lift_plan[pick, threading[end] - 1]`` holds for every draft made here, and is
checked when it is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd, lcm
from typing import Final

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.basic_weaves import point_order
from weavability.textiles.draft_kinds import DraftKind, draft_kind
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import (
    MAX_FAULTS_LISTED,
    MAX_SIDE,
    Matrix,
    Repeat,
    Weave,
    about_to_make,
    distinct_lines,
    number_lines,
    packed_lines,
    read_rows,
)

MAX_DRAFT_ENDS: Final = 200_000
"""Most ends in the repeat of a draft that is given."""

WIDEST_WARP_ENDS: Final = 20_000
"""Ends over which a spread draft is dealt at most: more than a warp has."""

NAMED_THREADINGS: Final = ("straight", "point", "skip")
THREADING_EXAMPLES: Final = (
    *NAMED_THREADINGS,
    "or the shaft of every end, such as [1, 2, 4, 3]",
)
"""Threadings that may be requested by name."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """A threading and its lift plan.

    Attributes:
        threading: The shaft of every end of the draft's repeat, 1-based, the first end first.
        lift_plan: ``uint8`` array of shape (picks, shafts), 1 where the shaft is lifted.
        kind: How the ends go over the shafts; see ``draft_kind``.

    Raises:
        InputError: When the threading names a shaft that the lift plan has not.
    """

    threading: tuple[int, ...]
    lift_plan: Matrix
    kind: DraftKind

    def __post_init__(self) -> None:
        _check_threading(self.threading, shafts=self.lift_plan.shape[1])
        take = np.array if self.lift_plan.flags.writeable else np.asarray
        plan = take(self.lift_plan, dtype=np.uint8, order="C")
        plan.setflags(write=False)
        object.__setattr__(self, "lift_plan", plan)

    @property
    def shafts(self) -> int:
        """Shafts of the lift plan."""
        return int(self.lift_plan.shape[1])

    @property
    def picks(self) -> int:
        """Picks of the lift plan: what a dobby has to be pegged with."""
        return int(self.lift_plan.shape[0])

    def cloth(self) -> Weave:
        """Return the weave that this draft makes, one repeat of the threading wide.

        Raises:
            InputError: When that is wider than a weave may be.
        """
        if len(self.threading) > MAX_SIDE:
            message = say(
                "fault.draft.too_many_ends",
                "The draft repeats on more than {most_ends} ends.",
                most_ends=MAX_SIDE,
            )
            raise InputError.of("/threading", message, given=len(self.threading), allowed=MAX_SIDE)
        about_to_make(ends=len(self.threading), picks=self.picks)
        return Weave(matrix=self.lift_plan[:, np.array(self.threading) - 1])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Draft):
            return NotImplemented
        same_threading = self.threading == other.threading
        return same_threading and np.array_equal(self.lift_plan, other.lift_plan)

    def __hash__(self) -> int:
        return hash((self.threading, self.lift_plan.tobytes()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Treadling:
    """A lift plan as tie-up and treadling.

    Attributes:
        tie_up: One string a treadle, ``1`` for every shaft that it lifts, the first shaft first.
        treadling: The treadle of every pick, 1-based.
    """

    tie_up: tuple[str, ...]
    treadling: tuple[int, ...]


def draft_weave(weave: Weave | Repeat) -> Draft:
    """Draw a weave in on the fewest shafts, numbered by first appearance.

    Args:
        weave: The weave, or its repeat if it was read already.

    >>> draft = draft_weave(Weave.from_rows(["1100", "1100", "0011", "0011"]))
    >>> draft.threading, draft.shafts, draft.kind
    ((1, 1, 2, 2), 2, 'repeated')
    """
    repeat = Repeat.of(weave)
    matrix = repeat.weave.matrix
    first_ends = np.unique(repeat.end_kinds, return_index=True)[1]
    threading = tuple((repeat.end_kinds + 1).tolist())
    return Draft(
        threading=threading,
        lift_plan=matrix[:, first_ends],
        kind=draft_kind(threading),
    )


def check_draft(
    weave: Weave | Repeat,
    threading: Sequence[int] | str,
    lift_plan: Matrix | None = None,
    *,
    shafts: int | None = None,
) -> Draft:
    """Hold a given threading, and lift plan, against the weave.

    Threading and lift plan may go on for several repeats of the weave.

    Args:
        weave: The weave to be woven.
        threading: Shaft of every end, 1-based, or one of ``NAMED_THREADINGS``. ``straight`` runs
            over as many shafts as the weave has ends, ``point`` over half as many and one, ``skip``
            over twice the least shafts, unless ``shafts`` says otherwise.
        lift_plan: Shape (picks, shafts), 1 where a shaft is lifted; derived when not given.
        shafts: Shafts of a named threading.

    Returns:
        The draft, whose cloth is the weave.

    Raises:
        InputError: At ``/threading/<end>`` for every end that shares a shaft with an end that
            weaves differently; at ``/lift_plan`` if the plan makes another cloth.

    >>> twill = Weave.from_rows(["1100", "0110", "0011", "1001"])
    >>> check_draft(twill, "straight", shafts=8).threading
    (1, 2, 3, 4, 5, 6, 7, 8)
    """
    repeat = Repeat.of(weave)
    if isinstance(threading, str):
        name = threading.strip().casefold()
        if name == "skip":
            return _named_skip(repeat, shafts, lift_plan)
        threading = _named_threading(name, repeat.weave, shafts)
    drawn = _whole_repeats(threading, repeat.weave.ends)
    derived = _derive_lift_plan(repeat, drawn)
    if lift_plan is not None:
        _compare_lift_plans(derived, lift_plan, drawn)
        derived = lift_plan
    draft = Draft(threading=tuple(drawn.tolist()), lift_plan=derived, kind=draft_kind(threading))
    _check_cloth(draft, repeat.weave.matrix, np.arange(len(drawn)) % repeat.weave.ends)
    return draft


def spread_draft(
    weave: Weave | Draft, *, shafts_per_column: Sequence[int], by_first_appearance: bool = False
) -> Draft:
    """Spread the ends of every shaft evenly over several.

    The ends that weave alike are dealt in turn over their shafts. The repeat grows until every deal
    comes out even, but not over ``WIDEST_WARP_ENDS``.

    Args:
        weave: The weave, or its draft, whose shafts are to be spread.
        shafts_per_column: For every shaft of the least draft, the shafts that its ends get.
        by_first_appearance: Number shafts in the order in which ends are drawn on them, so that
            plain on two shafts a column is drawn 1 2 3 4. Otherwise the shafts of a column are side
            by side: the skip draft, 1 3 2 4.

    Raises:
        InputError: When a number is missing or under one, or the shafts are too many.

    >>> spread = spread_draft(Weave.from_rows(["10", "01"]), shafts_per_column=[2, 2])
    >>> spread.threading, spread.kind
    ((1, 3, 2, 4), 'skip')
    >>> twill = Weave.from_rows(["110", "011", "101"])
    >>> spread_draft(twill, shafts_per_column=[2, 2, 2], by_first_appearance=True).threading
    (1, 2, 3, 4, 5, 6)
    """
    draft = weave if isinstance(weave, Draft) else draft_weave(weave)
    _check_spread(draft, shafts_per_column)
    per_column = np.array(shafts_per_column)
    column = np.array(draft.threading) - 1
    times = _repeats_to_come_out_even(column, per_column)
    column = np.tile(column, times)
    dealt = _deal(column, per_column)
    plan = np.repeat(draft.lift_plan, per_column, axis=1)
    kind: DraftKind = "skip" if per_column.max() > 1 else draft.kind
    if by_first_appearance:
        dealt, plan = _by_first_appearance(dealt, plan)
        kind = draft_kind(dealt.tolist())
    spread = Draft(threading=tuple(dealt.tolist()), lift_plan=plan, kind=kind)
    _check_cloth(spread, draft.lift_plan, column)
    return spread


def healds_per_shaft(draft: Draft, total_ends: int) -> tuple[int, ...]:
    """Count the healds of every shaft over the whole warp, a last part repeat included.

    Args:
        draft: The draft, which is repeated across the warp from its first end.
        total_ends: Ends of the warp, with the selvedge ends that are drawn on the same shafts.

    Returns:
        Healds by shaft, the first shaft first.

    Raises:
        InputError: ``total_ends`` is negative.

    >>> healds_per_shaft(draft_weave(Weave.from_rows(["100", "010", "001"])), 1000)
    (334, 333, 333)
    """
    if total_ends < 0:
        raise InputError.of(
            "", say("fault.draft.negative_ends", "Total ends cannot be negative."), given=total_ends
        )
    shaft_of_end = np.array(draft.threading) - 1
    whole, part = divmod(total_ends, len(shaft_of_end))
    counts = whole * np.bincount(shaft_of_end, minlength=draft.shafts)
    counts += np.bincount(shaft_of_end[:part], minlength=draft.shafts)
    return tuple(counts.tolist())


def treadling(draft: Draft) -> Treadling:
    """Write the lift plan as tie-up and treadling, treadles numbered by first appearance.

    >>> treadling(draft_weave(Weave.from_rows(["10", "10", "01", "01"])))
    Treadling(tie_up=('10', '01'), treadling=(1, 1, 2, 2))
    """
    treadle = distinct_lines(draft.lift_plan, axis=0)
    first_picks = np.unique(treadle, return_index=True)[1]
    tie_up = Weave(matrix=draft.lift_plan[first_picks]).rows
    return Treadling(tie_up=tie_up, treadling=tuple((treadle + 1).tolist()))


def draft_from_lift_plan(threading: Sequence[int], lift_plan: Sequence[str]) -> Draft:
    """Read a draft that was given as threading and lift plan.

    Args:
        threading: Shaft of every end, 1-based.
        lift_plan: One string a pick, ``1`` for every shaft lifted, the first shaft first.

    Raises:
        InputError: At ``/threading`` or ``/lift_plan`` and the index.

    >>> draft_from_lift_plan([1, 3, 2, 4], ["1000", "1101", "0100", "1110"]).cloth().rows
    ('1000', '1011', '0010', '1110')
    """
    plan = read_rows(lift_plan, pointer="/lift_plan")
    _check_threading(threading, shafts=plan.shape[1])
    return Draft(threading=tuple(threading), lift_plan=plan, kind=draft_kind(threading))


def draft_from_treadling(
    threading: Sequence[int], tie_up: Sequence[str], treadling: Sequence[int]
) -> Draft:
    """Read a draft that was given as threading, tie-up and treadling.

    Args:
        threading: Shaft of every end, 1-based.
        tie_up: One string a treadle, ``1`` for every shaft that it lifts, the first shaft first.
        treadling: Treadle of every pick, 1-based.

    Raises:
        InputError: At ``/threading``, ``/tie_up`` or ``/treadling`` and the index.

    >>> draft_from_treadling([1, 2], ["10", "01"], [1, 1, 2, 2]).cloth().rows
    ('10', '10', '01', '01')
    """
    treadles = read_rows(tie_up, pointer="/tie_up")
    _check_numbers(treadling, most=len(treadles), name="treadling", unit="treadle")
    _check_threading(threading, shafts=treadles.shape[1])
    plan = treadles[np.array(treadling) - 1]
    return Draft(threading=tuple(threading), lift_plan=plan, kind=draft_kind(threading))


def _check_threading(threading: Sequence[int], *, shafts: int) -> None:
    """Refuse a threading that is empty, too long or names a shaft that there is not."""
    if len(threading) > MAX_DRAFT_ENDS:
        message = say(
            "fault.draft.threading_too_long",
            "A draft has at most {most_ends} ends in the repeat.",
            most_ends=MAX_DRAFT_ENDS,
        )
        raise InputError.of("/threading", message, given=len(threading))
    _check_numbers(threading, most=shafts, name="threading", unit="shaft")


def _check_numbers(numbers: Sequence[int], *, most: int, name: str, unit: str) -> None:
    """Refuse numbers outside 1 to ``most``, listing the first of them."""
    if not numbers:
        raise InputError.of(
            f"/{name}",
            say("fault.draft.no_thread", "Give the {unit} of at least one thread.", unit=unit),
            allowed=[1, 2],
        )
    if name == "treadling" and len(numbers) > MAX_SIDE:
        message = say(
            "fault.draft.treadling_too_long",
            "A treadling has at most {most_picks} picks.",
            most_picks=MAX_SIDE,
        )
        raise InputError.of(f"/{name}", message, given=len(numbers))
    wrong = [index for index, number in enumerate(numbers) if not 1 <= number <= most]
    if wrong:
        known = (
            say("part.only_one", "there is only {unit} 1", unit=unit)
            if most == 1
            else say("part.one_to_most", "the {unit}s are 1 to {most}", unit=unit, most=most)
        )
        raise InputError(
            Fault(
                f"/{name}/{index}",
                say(
                    "fault.draft.no_such_number",
                    "There is no {unit} {number}: {known}.",
                    unit=unit,
                    number=numbers[index],
                    known=known,
                ),
                numbers[index],
                f"1 to {most}",
            )
            for index in wrong[:MAX_FAULTS_LISTED]
        )


def _check_cloth(draft: Draft, columns: Matrix, column_of_end: NDArray[np.intp]) -> None:
    """Make sure that every end of a draft weaves the column that it should.

    Lines are compared by number, so that the cloth need not be laid out over a wide draft.
    """
    times = draft.picks // len(columns)
    tall = columns if times == 1 else np.tile(columns, (times, 1))
    both = np.concatenate([packed_lines(tall, axis=1), packed_lines(draft.lift_plan, axis=1)])
    needed, lifted = np.split(number_lines(both), [tall.shape[1]])
    if not np.array_equal(needed[column_of_end], lifted[np.array(draft.threading) - 1]):
        raise AssertionError("the draft does not make its weave")


def _named_threading(name: str, repeat: Weave, shafts: int | None) -> tuple[int, ...]:
    """Return the threading of a name for this weave."""
    if name == "straight":
        return tuple(range(1, _shaft_count(shafts or repeat.ends) + 1))
    if name == "point":
        return tuple((point_order(_shaft_count(shafts or repeat.ends // 2 + 1)) + 1).tolist())
    message = say(
        "fault.draft.unknown_threading",
        "'{name}' is not a threading that can be drawn by its name alone.",
        name=name,
    )
    raise InputError.of("/threading", message, given=name[:80], allowed=[*THREADING_EXAMPLES])


def _shaft_count(shafts: int) -> int:
    """Refuse a number of shafts that no threading can have."""
    if 1 <= shafts <= MAX_SIDE:
        return shafts
    message = say(
        "fault.draft.shaft_count",
        "A threading has 1 to {most_shafts} shafts.",
        most_shafts=MAX_SIDE,
    )
    raise InputError.of("/threading", message, given=shafts)


def _named_skip(repeat: Repeat, shafts: int | None, lift_plan: Matrix | None) -> Draft:
    """Spread the least shafts of a weave evenly over ``shafts``."""
    least = draft_weave(repeat)
    needed = 2 * least.shafts if shafts is None else shafts
    if needed < 1 or needed % least.shafts:
        message = say(
            "fault.draft.skip_shafts",
            "A skip draft of this weave takes a multiple of {shafts} shafts.",
            shafts=least.shafts,
        )
        raise InputError.of("/threading", message, given=needed, allowed=2 * least.shafts)
    spread = spread_draft(least, shafts_per_column=[needed // least.shafts] * least.shafts)
    if lift_plan is not None:
        _compare_lift_plans(spread.lift_plan, lift_plan, np.array(spread.threading))
    return spread


def _whole_repeats(threading: Sequence[int], ends: int) -> NDArray[np.int64]:
    """Refuse a threading that is no multiple of the weave's repeat: it could never come out."""
    _check_threading(threading, shafts=MAX_SIDE)
    if len(threading) % ends:
        message = say(
            "fault.draft.threading_not_whole_repeats",
            "The threading has {threading_ends} ends but the weave repeats on "
            "{repeat_ends}: give {repeat_ends} ends or a multiple.",
            threading_ends=len(threading),
            repeat_ends=ends,
        )
        raise InputError.of("/threading", message, given=len(threading), allowed=ends)
    return np.array(threading)


def _derive_lift_plan(repeat: Repeat, drawn: NDArray[np.int64]) -> Matrix:
    """Return the lift plan, refusing ends of one shaft that weave differently."""
    matrix = repeat.weave.matrix
    shafts, first_ends = np.unique(drawn, return_index=True)
    first_of_end = first_ends[np.searchsorted(shafts, drawn)]
    alike = repeat.end_kinds[np.arange(len(drawn)) % matrix.shape[1]]
    wrong = np.flatnonzero(alike[first_of_end] != alike)
    if wrong.size:
        raise InputError(
            _shared_shaft(matrix, int(drawn[end]), int(first_of_end[end]), int(end))
            for end in wrong[:MAX_FAULTS_LISTED]
        )
    plan = np.zeros((len(matrix), int(shafts[-1])), dtype=np.uint8)
    plan[:, shafts - 1] = matrix[:, first_ends % matrix.shape[1]]
    return plan


def _shared_shaft(repeat: Matrix, shaft: int, first: int, end: int) -> Fault:
    """Describe an end that is drawn with another which weaves differently."""
    ends = repeat.shape[1]
    pick = int(np.flatnonzero(repeat[:, first % ends] != repeat[:, end % ends])[0]) + 1
    message = say(
        "fault.draft.shared_shaft",
        "Ends {first_end} and {end} are both on shaft {shaft} but weave "
        "differently, first on pick {pick}. Draw one of them on another shaft.",
        first_end=first + 1,
        end=end + 1,
        shaft=shaft,
        pick=pick,
    )
    return Fault(f"/threading/{end}", message, shaft)


def _compare_lift_plans(derived: Matrix, given: Matrix, drawn: NDArray[np.int64]) -> None:
    """Refuse a lift plan that lifts other ends than the weave does."""
    used = np.unique(drawn) - 1
    if given.shape[1] <= used[-1]:
        message = say(
            "fault.draft.lift_plan_shafts",
            "The lift plan has {shafts} shafts; the threading uses {shafts_used}.",
            shafts=given.shape[1],
            shafts_used=used[-1] + 1,
        )
        raise InputError.of("/lift_plan", message, given=given.shape[1], allowed=int(used[-1]) + 1)
    if len(given) % len(derived) or len(given) > MAX_SIDE:
        message = say(
            "fault.draft.lift_plan_picks",
            "The lift plan has {lift_plan_picks} picks but the weave repeats on "
            "{repeat_picks}: give {repeat_picks} picks or a multiple.",
            lift_plan_picks=len(given),
            repeat_picks=len(derived),
        )
        raise InputError.of("/lift_plan", message, given=len(given), allowed=len(derived))
    needed = np.tile(derived[:, used], (len(given) // len(derived), 1))
    wrong = needed != given[:, used]
    if wrong.any():
        raise InputError(_wrong_lifts(wrong, used))


def _wrong_lifts(wrong: NDArray[np.bool_], used: NDArray[np.int64]) -> list[Fault]:
    """Describe the first picks on which a lift plan lifts other shafts than the weave needs."""
    faults = []
    for row in np.flatnonzero(wrong.any(axis=1))[:MAX_FAULTS_LISTED].tolist():
        shafts = (used[wrong[row]] + 1).tolist()[:MAX_FAULTS_LISTED]
        message = say(
            "fault.draft.wrong_lift",
            "On pick {pick} the weave needs the opposite on shaft(s) {shafts}.",
            pick=row + 1,
            shafts=str(shafts),
        )
        faults.append(Fault(f"/lift_plan/{row}", message))
    return faults


def _check_spread(draft: Draft, shafts_per_column: Sequence[int]) -> None:
    """Refuse a spread that misses a shaft, has an empty one or is too large."""
    if len(shafts_per_column) != draft.shafts:
        message = say(
            "fault.draft.spread_columns",
            "Give the number of shafts for each of the {columns} columns.",
            columns=draft.shafts,
        )
        raise InputError.of("", message, given=len(shafts_per_column), allowed=draft.shafts)
    if min(shafts_per_column) < 1 or sum(shafts_per_column) > MAX_SIDE:
        message = say(
            "fault.draft.spread_shafts",
            "Each column takes one shaft or more, all together at most {most_shafts}.",
            most_shafts=MAX_SIDE,
        )
        raise InputError.of("", message, given=sum(shafts_per_column))


def _repeats_to_come_out_even(column: NDArray[np.int64], per_column: NDArray[np.int64]) -> int:
    """Return how often the threading is repeated until every deal comes out even.

    A deal that would take more ends than any warp has is broken off there.
    """
    ends = np.bincount(column, minlength=len(per_column)).tolist()
    times = lcm(
        *(
            shafts // gcd(shafts, count)
            for count, shafts in zip(ends, per_column.tolist(), strict=True)
        )
    )
    return max(1, min(times, WIDEST_WARP_ENDS // len(column)))


def _by_first_appearance(
    threading: NDArray[np.int64], plan: Matrix
) -> tuple[NDArray[np.int64], Matrix]:
    """Renumber the shafts, those on which no end is drawn last."""
    first = np.full(plan.shape[1], len(threading))
    np.minimum.at(first, threading - 1, np.arange(len(threading)))
    order = np.argsort(first, kind="stable")
    number = np.empty_like(order)
    number[order] = np.arange(1, len(order) + 1)
    return number[threading - 1], plan[:, order]


def _deal(column: NDArray[np.int64], per_column: NDArray[np.int64]) -> NDArray[np.int64]:
    """Deal the ends of every column in turn over the column's own shafts."""
    first_shaft = np.cumsum(per_column) - per_column + 1
    order = np.argsort(column, kind="stable")
    starts = np.searchsorted(column[order], column[order])
    turn = np.empty_like(column)
    turn[order] = np.arange(len(column)) - starts
    return first_shaft[column] + turn % per_column[column]
