"""Choose the remedies that are listed: none that does no more than one which changes less."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import Final

from weavability.answers.field_changes import ROOT, Change, Write
from weavability.answers.trials import Proof
from weavability.checks.codes import CheckCode

WEAVE: Final = f"{ROOT}/weave"

MOST_REMEDIES: Final = 12
"""Remedies that are listed for one loom."""

FAR_POINTS: Final = 10.0
"""Distance beyond which one change is hardly the same order: two smaller ones are then sought."""

_HARDLY_FARTHER: Final = 1.5
"""What leaves no warning of an error may be so many times as far as what does, to be preferred."""

_EDGES: Final = f"{ROOT}/selvedge/"


def worth_listing(
    proofs: Iterable[Proof], codes: Iterable[CheckCode], errors: frozenset[CheckCode]
) -> list[Proof]:
    """Return the proofs of a loom that are listed, those of errors first, then the nearest.

    Changes made together go if a nearer one clears as much, and those that leave warnings of
    errors if one that leaves none is near, or hardly farther. Every code that can be cleared keeps
    its nearest. None is listed that does no more than one which changes less.

    Args:
        proofs: What was proved.
        codes: The findings of which remedies are sought, the errors first.
        errors: Those that are errors.
    """
    nearest = undominated(proofs)
    clear = min((one.distance for one in nearest if errors <= one.clears), default=inf)
    nearest = [
        one
        for one in nearest
        if not one.change.is_combined
        or one.mends <= one.clears
        or clear > max(FAR_POINTS, _HARDLY_FARTHER * one.distance)
    ]
    useful = [
        one
        for place, one in enumerate(nearest)
        if not (
            one.change.is_combined
            and any(
                one.clears <= each.clears and one.mends <= each.mends for each in nearest[:place]
            )
        )
    ]
    first: dict[object, Proof] = {}
    for code in codes:
        best = next((one for one in useful if code in one.clears), None)
        if best is not None:
            first[best.change.key] = best
    whole = next((one for one in useful if errors <= one.mends), None)
    if whole is not None:
        first[whole.change.key] = whole
    for one in useful:
        if len(first) >= MOST_REMEDIES:
            break
        first[one.change.key] = one
    return sorted(first.values(), key=lambda one: (errors.isdisjoint(one.helps), one.rank))


def undominated(proofs: Iterable[Proof]) -> list[Proof]:
    """Return the proofs of which none changes less and does as much, the nearest first."""
    nearest: list[Proof] = []
    for one in sorted(proofs, key=lambda each: each.rank):
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

    One that moves ends to the selvedges as well is not more: it keeps them, which no check sees.
    """
    lesser, greater = (_by_field(each.change) for each in (less, more))
    besides = greater.keys() - lesser.keys()
    keeps_ends = not more.change.is_combined and any(name.startswith(_EDGES) for name in besides)
    if keeps_ends or not lesser.keys() <= greater.keys():
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
