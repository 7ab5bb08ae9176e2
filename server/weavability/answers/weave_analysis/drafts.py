"""The drawings-in of a weave: the least, the spread one, and one that was given."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Final

from weavability.answers.weave_analysis.request import DraftToCheck
from weavability.answers.weave_analysis.weave_shedding import HooksForWeave, ShaftsForWeave
from weavability.looms.drawing_in import (
    MOST_SHAFTS_DRAWN,
    is_straight_better,
    shafts_per_column,
    straight_repeats,
)
from weavability.textiles.drafting import (
    MAX_DRAFT_ENDS,
    NAMED_THREADINGS,
    THREADING_EXAMPLES,
    Draft,
    check_draft,
    draft_weave,
    spread_draft,
)
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.numbers import SLACK
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import Matrix, Repeat, read_rows

_WIDTH_CM: Final = 1000.0
"""Width over which ends are counted that are stated by their sett: no part repeat matters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drafts:
    """The drafts that come into question.

    Attributes:
        least: On the least shafts; ``None`` where no loom carries so many.
        spread: What heald crowding asks for; ``None`` where it asks for nothing.
        given: The draft that was given, where it weaves the cloth.
        given_faults: Why it does not; pointers are relative to the request.
        for_hooks: A Jacquard is to weave it, which needs no draft.
    """

    least: Draft | None
    spread: Draft | None
    given: Draft | None
    given_faults: tuple[Fault, ...]
    for_hooks: bool

    @property
    def in_use(self) -> Draft | None:
        """The draft that the shafts are threaded to."""
        return None if self.for_hooks else self.given or self.spread or self.least


def find_drafts(
    repeat: Repeat,
    *,
    given: DraftToCheck | None,
    shedding: ShaftsForWeave | HooksForWeave | None,
    ends_per_cm_in_reed: float | None,
) -> Drafts:
    """Draw a weave in, and hold the draft that was given against it.

    Args:
        repeat: The weave at its true repeat.
        given: A draft to be checked.
        shedding: The shedding motion, with its crowding limit.
        ends_per_cm_in_reed: Ends per cm that the healds share.

    Raises:
        InputError: The given draft cannot be read; pointers start with ``/draft``.
    """
    least = draft_weave(repeat) if repeat.shafts_needed <= MOST_SHAFTS_DRAWN else None
    held, faults = _hold(repeat, given)
    return Drafts(
        least=least,
        spread=_spread(repeat, least, shedding, ends_per_cm_in_reed),
        given=held,
        given_faults=faults,
        for_hooks=isinstance(shedding, HooksForWeave),
    )


def _spread(
    repeat: Repeat,
    least: Draft | None,
    shedding: ShaftsForWeave | HooksForWeave | None,
    ends_per_cm: float | None,
) -> Draft | None:
    """Deal the ends over more shafts where the healds would be crowded, straight if they reach."""
    if least is None or ends_per_cm is None or not isinstance(shedding, ShaftsForWeave):
        return None
    shares = Counter(least.threading)
    ends = [shares[shaft] for shaft in range(1, least.shafts + 1)]
    limit = shedding.max_healds_per_cm_per_shaft
    available = max(shedding.shafts, least.shafts)
    multiples = shafts_per_column(
        ends, ends_per_cm=ends_per_cm, max_healds_per_cm_per_shaft=limit, available=available
    )
    if max(multiples) == 1:
        return None
    ground, most = ends_per_cm * _WIDTH_CM, limit * _WIDTH_CM * (1 + SLACK)
    straight = repeat.weave.ends * straight_repeats(
        ground_ends=ground,
        repeat_ends=float(repeat.weave.ends),
        most_healds=most,
        available=float(available),
    )
    if is_straight_better(
        straight_shafts=straight,
        fewest_shafts=float(sum(multiples)),
        ground_ends=ground,
        healds_on_fullest=ground
        * max(count / over for count, over in zip(ends, multiples, strict=True))
        / sum(ends),
        most_healds=most,
    ):
        return check_draft(repeat, "straight", shafts=int(straight))
    return spread_draft(least, shafts_per_column=multiples, by_first_appearance=True)


def _hold(repeat: Repeat, given: DraftToCheck | None) -> tuple[Draft | None, tuple[Fault, ...]]:
    """Hold a given draft against the weave: the draft, or why it does not weave the cloth."""
    if given is None:
        return None, ()
    threading = _readable(given)
    plan = None
    if given.lift_plan is not None:
        plan = read_rows(given.lift_plan, pointer="/draft/lift_plan")
    shafts = _shafts_asked_for(threading, plan, given.shafts, repeat)
    if shafts > MOST_SHAFTS_DRAWN:
        message = say(
            "fault.draft.more_shafts_than_any_loom",
            "The draft takes {shafts} shafts; no loom carries more than {most_shafts}.",
            shafts=shafts,
            most_shafts=MOST_SHAFTS_DRAWN,
        )
        return None, (Fault("/draft/threading", message, shafts, MOST_SHAFTS_DRAWN),)
    if repeat.shafts_needed > MOST_SHAFTS_DRAWN:
        message = say(
            "fault.draft.fewer_shafts_than_weave",
            "The draft has {shafts} shafts; the weave needs {shafts_needed}.",
            shafts=shafts,
            shafts_needed=repeat.shafts_needed,
        )
        return None, (Fault("/draft/threading", message, shafts, repeat.shafts_needed),)
    try:
        return check_draft(repeat, threading, plan, shafts=given.shafts), ()
    except InputError as error:
        return None, error.below("/draft").faults


def _readable(given: DraftToCheck) -> str | tuple[int, ...]:
    """Refuse a threading that means nothing, whatever the weave."""
    threading = given.threading
    if isinstance(threading, str):
        name = threading.strip().casefold()
        if name in NAMED_THREADINGS:
            return name
        message = say(
            "fault.draft.threading_not_by_name",
            "That is no threading that can be drawn by its name alone.",
        )
        raise InputError.of(
            "/draft/threading", message, given=threading[:80], allowed=[*THREADING_EXAMPLES]
        )
    if given.shafts is not None:
        message = say(
            "fault.draft.shafts_beside_numbers",
            "Shafts are stated beside a threading that is given by name; leave them out here.",
        )
        raise InputError.of("/draft/shafts", message, given=given.shafts)
    if 1 <= len(threading) <= MAX_DRAFT_ENDS and min(threading) >= 1:
        return threading
    message = say(
        "fault.draft.threading_length",
        "Give the shaft, 1 or more, of every end; at most {most_ends} ends.",
        most_ends=MAX_DRAFT_ENDS,
    )
    raise InputError.of(
        "/draft/threading", message, given=len(threading), allowed=[*THREADING_EXAMPLES]
    )


def _shafts_asked_for(
    threading: str | tuple[int, ...], plan: Matrix | None, shafts: int | None, repeat: Repeat
) -> int:
    """Return the shafts of a draft; of a named threading, as many as it takes by itself."""
    if isinstance(threading, tuple):
        return max(*threading, plan.shape[1] if plan is not None else 1)
    ends = repeat.weave.ends
    by_itself = {"straight": ends, "point": ends // 2 + 1, "skip": 2 * repeat.shafts_needed}
    return by_itself[threading] if shafts is None else shafts
