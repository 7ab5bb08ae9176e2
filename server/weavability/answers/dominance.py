"""Leave out of some remedies those that do no more than one which changes less."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from weavability.answers.field_changes import ROOT, Change, Write
from weavability.answers.trials import Proof

WEAVE: Final = f"{ROOT}/weave"


def undominated(proofs: Iterable[Proof]) -> list[Proof]:
    """Return the proofs of which none changes less and does as much, the nearest first."""
    nearest: list[Proof] = []
    for one in sorted(proofs, key=lambda each: each.distance):
        if not any(_does_as_much(less, one) and _is_less(less, one) for less in nearest):
            nearest.append(one)
    return nearest


def _does_as_much(less: Proof, more: Proof) -> bool:
    return (
        more.clears <= less.clears
        and more.mends <= less.mends
        and less.eases & more.clears <= more.eases
        and less.brings <= more.brings
    )


def _is_less(less: Proof, more: Proof) -> bool:
    """Return whether a change is part of another, or moves the same fields not as far.

    What one lever writes in several fields is one change, so that it is more than another only if
    that writes all of these fields.
    """
    lesser, greater = (_by_field(each.change) for each in (less, more))
    is_part = lesser.keys() <= greater.keys()
    if not is_part or (not more.change.is_combined and len(lesser) < len(greater)):
        return False
    return less.distance < more.distance and all(
        _reaches(lesser[name], greater[name]) for name in lesser
    )


def _by_field(change: Change) -> dict[str, Write]:
    return {write.field: write for write in change.writes}


def _reaches(less: Write, more: Write) -> bool:
    """Return whether a field is moved as far as by another change, in the same direction.

    Another weave is not more of one.
    """
    if less.to == more.to:
        return True
    is_same_way = less.change_pct * more.change_pct > 0.0
    is_farther = abs(less.change_pct) <= abs(more.change_pct)
    return is_same_way and is_farther and less.field != WEAVE
