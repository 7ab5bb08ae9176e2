"""Jacquard sizes: hooks used and idle, repeats across, design paper, harness.

Rules of casting out and of design paper after [TAYLOR-1909], p. 216-225;
[POSSELT-1888], ch. 52-53; [BELL-1895], p. 45-54.
"""

from __future__ import annotations

from dataclasses import dataclass

from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say


@dataclass(frozen=True, slots=True, kw_only=True)
class HookPlan:
    """How a design sits on the hooks of a machine.

    Attributes:
        hooks: Hooks for the figure; hooks for selvedges and functions are apart.
        repeat_ends: Ends of the design's true repeat.
        repeats_on_hooks: Times that the repeat is on the hooks side by side.
        hooks_used: Hooks that lift an end.
        hooks_idle: Hooks cast out, their ends left out of the harness.
        total_ends: Ends of the figure across the cloth.
        ends_per_hook: Harness cords on a hook: parts of the warp that are lifted alike. If the warp
            does not divide, the most on any hook.
        hooks_with_fewer: Hooks that have one cord less than that.
        repeats_across: Repeats of the design across the cloth.
        remainder_ends: Ends of a part repeat at the end.
    """

    hooks: int
    repeat_ends: int
    repeats_on_hooks: int
    hooks_used: int
    hooks_idle: int
    total_ends: int
    ends_per_hook: int
    hooks_with_fewer: int
    repeats_across: int
    remainder_ends: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Harness:
    """The tie of the machine against the cloth.

    Attributes:
        harness_ends_per_cm: Ends per cm in the comber board.
        reed_ends_per_cm: Ends per cm in the reed.
        usable_ends_per_cm: Ends per cm that the comber board gives when idle hooks are left empty.
        harness_width_cm: Width of the comber board that the ends take up.
        density_ratio: Ends per cm in the reed over those usable; over 1 the cords spread too wide,
            under 1 they draw inwards.
    """

    harness_ends_per_cm: float
    reed_ends_per_cm: float
    usable_ends_per_cm: float
    harness_width_cm: float
    density_ratio: float


def plan_hooks(*, repeat_ends: int, hooks: int, total_ends: int) -> HookPlan:
    """Put a design on the hooks: as many whole repeats as they hold, the rest cast out.

    Args:
        repeat_ends: Ends of the design's true smallest repeat.
        hooks: Hooks of the machine for the figure.
        total_ends: Ends of the figure across the cloth.

    Raises:
        InputError: When the design has more ends than the machine has hooks, or a number is not
            positive.

    A 12-end ground on a 400's machine leaves four hooks empty ([TAYLOR-1909], p. 220):

    >>> plan = plan_hooks(repeat_ends=12, hooks=400, total_ends=1584)
    >>> plan.hooks_used, plan.hooks_idle, plan.ends_per_hook
    (396, 4, 4)
    """
    for name, number in (("repeat", repeat_ends), ("hooks", hooks), ("ends", total_ends)):
        if number < 1:
            raise InputError.of(
                "",
                say("fault.jacquard.not_counted", "A Jacquard's {field} is 1 or more.", field=name),
                given=number,
            )
    if repeat_ends > hooks:
        message = say(
            "fault.jacquard.too_few_hooks",
            "The design repeats on {ends} ends but the machine has {hooks} hooks "
            "for the figure. Give a design of fewer ends, or a larger machine.",
            ends=repeat_ends,
            hooks=hooks,
        )
        raise InputError.of("", message, given=repeat_ends, allowed=f"1 to {hooks}")
    used = min(hooks // repeat_ends * repeat_ends, total_ends)
    whole, part = divmod(total_ends, used)
    return HookPlan(
        hooks=hooks,
        repeat_ends=repeat_ends,
        repeats_on_hooks=hooks // repeat_ends,
        hooks_used=used,
        hooks_idle=hooks - used,
        total_ends=total_ends,
        ends_per_hook=whole + (part > 0),
        hooks_with_fewer=used - part if part else 0,
        repeats_across=total_ends // repeat_ends,
        remainder_ends=total_ends % repeat_ends,
    )


def repeats_without_casting_out(hooks: int) -> tuple[int, ...]:
    """Return the repeats that use every hook: the divisors of their number.

    >>> repeats_without_casting_out(12)
    (1, 2, 3, 4, 6, 12)
    """
    small = [size for size in range(1, int(hooks**0.5) + 1) if hooks % size == 0]
    return tuple(sorted({*small, *(hooks // size for size in small)}))


def repeat_width_cm(repeat_ends: int, *, ends_per_cm: float) -> float:
    """Return the width of a repeat in cm.

    Args:
        repeat_ends: Ends of the repeat.
        ends_per_cm: Ends per cm of the cloth, above 0.

    >>> repeat_width_cm(400, ends_per_cm=40.0)
    10.0
    """
    return repeat_ends / ends_per_cm


def fit_harness(plan: HookPlan, *, harness_ends_per_cm: float, reed_ends_per_cm: float) -> Harness:
    """Compare the sett of the harness with that of the reed.

    Hooks that are cast out leave their holes in the comber board empty, so that the harness is
    finer than what it gives: an eighth of a 400's cast out turns a 100's reed to an 87's
    ([TAYLOR-1909], p. 220).

    Args:
        plan: The design on the hooks.
        harness_ends_per_cm: Ends per cm that the comber board is built for, all hooks in use.
        reed_ends_per_cm: Ends per cm in the reed.

    >>> plan = plan_hooks(repeat_ends=350, hooks=400, total_ends=3500)
    >>> fit_harness(plan, harness_ends_per_cm=40.0, reed_ends_per_cm=35.0).density_ratio
    1.0
    """
    usable = harness_ends_per_cm * plan.hooks_used / plan.hooks
    return Harness(
        harness_ends_per_cm=harness_ends_per_cm,
        reed_ends_per_cm=reed_ends_per_cm,
        usable_ends_per_cm=usable,
        harness_width_cm=plan.total_ends / usable,
        density_ratio=reed_ends_per_cm / usable,
    )


def design_paper(*, ends: float, picks: float, first: int) -> tuple[int, int]:
    """Return the ruling of design paper: squares across and up a large square.

    The large square is as wide as high in the cloth, so the two numbers are as ends to picks; the
    first is set by the rows of needles.

    Args:
        ends: Ends per unit of width of the cloth that the paper shows.
        picks: Picks per the same unit of length.
        first: Squares across.

    Raises:
        InputError: A number is not above 0.

    >>> design_paper(ends=80, picks=120, first=8)
    (8, 12)
    """
    if not (ends > 0 and picks > 0 and first > 0):
        raise InputError.of(
            "", say("fault.jacquard.no_paper", "Ends, picks and squares are more than 0.")
        )
    return first, max(1, round(first * picks / ends))
