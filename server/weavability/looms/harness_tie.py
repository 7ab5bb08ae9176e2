"""The tie of a Jacquard harness: which hook lifts each end across the width.

Sections are read from the left of the cloth. Forms and terms: [BELL-1895], p. 82 and 94-104;
[POSSELT-1888], ch. 31.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Final

from weavability.textiles.errors import Fault, InputError
from weavability.textiles.numbers import N, quotient, root
from weavability.textiles.sentences import say

MOST_SECTIONS: Final = 64
MOST_TIED_ENDS: Final = 100_000


class TieOrder(StrEnum):
    """In which order the hooks of a section lift its ends."""

    STRAIGHT = "straight"
    RETURNED = "returned"
    CENTRED = "centred"


class TiePoint(StrEnum):
    """Whether the hook at which a centred tie turns lifts one end there or two."""

    SINGLE = "single"
    DOUBLE = "double"


@dataclass(frozen=True, slots=True, kw_only=True)
class TieSection:
    """Neighbouring ends whose hooks follow one another.

    Attributes:
        from_hook: The first hook, from 1.
        hooks: Hooks of the section.
        order: From the first to the last, from the last to the first, or there and back.
        times: How often that is repeated.
        point: How a centred section turns.
    """

    from_hook: int
    hooks: int
    order: TieOrder = TieOrder.STRAIGHT
    times: int = 1
    point: TiePoint = TiePoint.DOUBLE

    @property
    def last_hook(self) -> int:
        """The last hook, from 1."""
        return self.from_hook + self.hooks - 1

    @property
    def ends(self) -> int:
        """Ends of the section."""
        return self.times * len(_once(self))


def _once(section: TieSection) -> list[int]:
    forward = list(range(section.from_hook - 1, section.last_hook))
    back = forward[::-1]
    if section.order is TieOrder.STRAIGHT:
        return forward
    if section.order is TieOrder.RETURNED:
        return back
    return forward + (back[1:] if section.point is TiePoint.SINGLE else back)


@lru_cache(maxsize=64)
def hook_of_end(sections: tuple[TieSection, ...]) -> tuple[int, ...]:
    """Return the hook of every end, from 0.

    A border of 80 hooks on both sides of four repeats of 120 has 800 ends ([BELL-1895], p. 97):

    >>> border = TieSection(from_hook=1, hooks=80, order=TieOrder.CENTRED)
    >>> centre = TieSection(from_hook=81, hooks=120, times=4)
    >>> len(hook_of_end((border, centre, border)))
    800
    """
    return tuple(hook for section in sections for hook in _once(section) * section.times)


def cord_length_cm(*, height_cm: N, aside_cm: N) -> N:
    """Return the length of a harness cord that reaches to one side.

    From hooks 140 cm above the comber board to an end 75 cm from the middle ([EXAM-GATE], 2007):

    >>> round(cord_length_cm(height_cm=140.0, aside_cm=75.0), 1)
    158.8
    """
    length: N = root(height_cm * height_cm + aside_cm * aside_cm)
    return length


def lift_lost_pct(*, height_cm: N, aside_cm: N, lift_cm: N) -> N:
    """Return the share of a hook's lift by which an end at one side rises less, in per cent.

    >>> round(lift_lost_pct(height_cm=140.0, aside_cm=75.0, lift_cm=7.0))
    11
    """
    rest = cord_length_cm(height_cm=height_cm, aside_cm=aside_cm)
    lifted = cord_length_cm(height_cm=height_cm + lift_cm, aside_cm=aside_cm)
    return 100 * (1 - quotient(lifted - rest, lift_cm))


def check_tie(sections: Sequence[TieSection], hooks: int) -> None:
    """Refuse a tie that the machine does not have.

    Sections may repeat the hooks of another, as the borders of a cloth do, but not some of them.

    Args:
        sections: From the left.
        hooks: Hooks of the machine for the figure.

    Raises:
        InputError: With every fault; pointers are relative to the list.
    """
    faults = [
        *_impossible(sections),
        *_beyond(sections, hooks),
        *_overlaps(sections),
        *_too_many(sections),
    ]
    if faults:
        raise InputError(faults)


def _impossible(sections: Sequence[TieSection]) -> Iterator[Fault]:
    for index, section in enumerate(sections):
        for name in ("from_hook", "hooks", "times"):
            number = getattr(section, name)
            if number < 1:
                yield Fault(
                    f"/{index}/{name}",
                    say("fault.tie.not_counted", "{field} is 1 or more.", field=name),
                    number,
                    "1 or more",
                )
        if section.point is TiePoint.SINGLE and section.order is not TieOrder.CENTRED:
            message = say(
                "fault.tie.point_not_centred",
                "Only a centred section turns at a point; this one is {section_order}.",
                section_order=section.order,
            )
            yield Fault(f"/{index}/point", message, section.point.value, "order: centred")


def _beyond(sections: Sequence[TieSection], hooks: int) -> Iterator[Fault]:
    for index, section in enumerate(sections):
        if section.last_hook > hooks:
            message = say(
                "fault.tie.beyond_hooks",
                "The section goes on to hook {last_hook}; the machine has {hooks}, "
                "so that its last ends would have no hook.",
                last_hook=section.last_hook,
                hooks=hooks,
            )
            yield Fault(f"/{index}", message, section.last_hook, f"1 to {hooks}")


def _overlaps(sections: Sequence[TieSection]) -> Iterator[Fault]:
    spans = [(section.from_hook, section.last_hook) for section in sections]
    for index, (first, last) in enumerate(spans):
        for other_first, other_last in spans[:index]:
            unlike = (first, last) != (other_first, other_last)
            if unlike and first <= other_last and other_first <= last:
                named = f"{max(first, other_first)} to {min(last, other_last)}"
                message = say(
                    "fault.tie.shared_hooks",
                    "Hooks {hooks} are in another section too, which has other "
                    "hooks beside them. Give sections that share hooks all of them, "
                    "or none.",
                    hooks=named,
                )
                yield Fault(f"/{index}", message, [first, last])
                break


def _too_many(sections: Sequence[TieSection]) -> Iterator[Fault]:
    ends = sum(
        section.times * section.hooks * (2 if section.order is TieOrder.CENTRED else 1)
        for section in sections
    )
    if ends > MOST_TIED_ENDS:
        message = say(
            "fault.tie.too_many_ends",
            "The tie has {ends} ends; a cloth has {most_ends} at most.",
            ends=ends,
            most_ends=MOST_TIED_ENDS,
        )
        yield Fault("", message, ends, f"1 to {MOST_TIED_ENDS}")
