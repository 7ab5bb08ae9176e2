"""Choose the remedies that are listed: none that does no more than one which changes less."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import Final

from weavability.answers.field_changes import ROOT, Change, Write
from weavability.answers.levers import SAME_CLOTH_PCT
from weavability.answers.trials import Proof
from weavability.answers.weighed_findings import Weighed
from weavability.checks.codes import CheckCode
from weavability.checks.layers import LAYERS

WEAVE: Final = f"{ROOT}/weave"

MOST_REMEDIES: Final = 12
"""Remedies that are listed for one loom."""

FAR_POINTS: Final = 10.0
"""Distance beyond which one change is hardly the same order: two smaller ones are then sought."""

FARTHEST_POINTS: Final = 2 * SAME_CLOTH_PCT
"""Distance beyond which a change, or several together, is no way out: it makes another cloth."""

_HARDLY_FARTHER: Final = 1.5
"""What leaves no warning of an error may be so many times as far as what does, to be preferred."""

A_HAIR_PCT: Final = 2.0
"""Per cent of each number by which a change that leaves less may be farther, to take the place of
another."""

_EDGES: Final = f"{ROOT}/selvedge/"


def worth_listing(
    proofs: Iterable[Proof], codes: Iterable[CheckCode], found: Weighed
) -> list[Proof]:
    """Return the proofs of a loom that are listed, those of errors first, then the nearest.

    Changes made together go if a nearer one clears as much of what is sought, and those that leave
    warnings of errors if one that leaves none is near, or hardly farther. Every code that can be
    cleared keeps its nearest. None is listed that does no more than one which changes less. Of
    an order that is rejected, those after which it is not weavable if what is assumed is so come
    after those of which that is certain.

    Args:
        proofs: What was proved.
        codes: The findings of which remedies are sought, the errors first.
        found: How much each weighs.
    """
    nearest = undominated(proofs)
    clear = [one for one in nearest if found.rejected | one.mends <= one.clears]
    nearest = [
        one
        for one in nearest
        if not one.change.is_combined
        or one.mends <= one.clears
        or _nearest_of(clear, one.doubts) > max(FAR_POINTS, _HARDLY_FARTHER * one.distance)
    ]
    useful = [
        one
        for place, one in enumerate(nearest)
        if not (
            one.change.is_combined and any(_does_for(each, one, codes) for each in nearest[:place])
        )
    ]
    first: dict[object, Proof] = {}
    for code in codes:
        best = next((one for one in useful if code in one.clears), None)
        if best is not None:
            first[best.change.key] = best
    whole = [one for one in useful if found.rejected <= one.mends]
    certain = [one for one in whole if not one.doubts]
    for one in (*whole[:1], *certain[:1]):
        first[one.change.key] = one
    for one in useful:
        if len(first) >= MOST_REMEDIES:
            break
        first[one.change.key] = one
    nearest = certain_first(first.values(), found.errors)
    return sorted(nearest, key=lambda one: found.errors.isdisjoint(one.helps))


def _does_for(nearer: Proof, other: Proof, codes: Iterable[CheckCode]) -> bool:
    """Return whether a nearer change does as much of what is sought as several made together.

    One that weaves it otherwise does not, if these leave the face of the cloth as it is.
    """
    return (
        other.clears.intersection(codes) <= nearer.clears
        and other.mends <= nearer.mends
        and nearer.doubts <= other.doubts
        and (WEAVE not in _by_field(nearer.change) or WEAVE in _by_field(other.change))
    )


def certain_first(proofs: Iterable[Proof], errors: frozenset[CheckCode]) -> list[Proof]:
    """Return proofs by rank; of errors those last that leave a rejection to what is assumed."""
    return sorted(proofs, key=lambda one: (bool(errors and one.rejected_if_assumed), one.rank))


def _nearest_of(proofs: Iterable[Proof], doubts: frozenset[CheckCode]) -> float:
    """Return the least distance of those that leave no other doubt; infinite if none does."""
    return min((one.distance for one in proofs if one.doubts <= doubts), default=inf)


def undominated(proofs: Iterable[Proof]) -> list[Proof]:
    """Return the proofs of which none changes less and does as much, the nearest first.

    Nor one of which a change of the same numbers that is a hair farther leaves less.
    """
    nearest: list[Proof] = []
    for one in sorted(proofs, key=lambda each: each.rank):
        if not any(_does_as_much(less, one) and _is_less(less, one) for less in nearest):
            nearest.append(one)
    return [
        one
        for place, one in enumerate(nearest)
        if not any(_leaves_less(more, one) for more in nearest[place + 1 :])
    ]


def _leaves_less(more: Proof, less: Proof) -> bool:
    """Return whether a change leaves fewer errors or doubts than one that is a hair nearer."""
    return (
        (more.mends > less.mends or more.doubts < less.doubts)
        and more.mends >= less.mends
        and more.doubts <= less.doubts
        and more.clears >= less.clears
        and more.brings <= less.brings
        and _is_a_hair_farther(more.change, less.change)
    )


def _is_a_hair_farther(more: Change, less: Change) -> bool:
    farther, nearer = _by_field(more), _by_field(less)
    return farther.keys() == nearer.keys() and all(
        nearer[name].to == write.to
        or (
            write.step is not None and abs(write.change_pct - nearer[name].change_pct) <= A_HAIR_PCT
        )
        for name, write in farther.items()
    )


def _does_as_much(less: Proof, more: Proof) -> bool:
    return (
        more.clears <= less.clears
        and more.mends <= less.mends
        and less.eases & more.clears <= more.eases
        and less.brings <= more.brings
        and less.doubts <= more.doubts
    )


def _is_less(less: Proof, more: Proof) -> bool:
    """Return whether a change is part of another, or moves the same fields not as far.

    To state the layers of a weave changes nothing of the cloth, and so is less than all that does.
    One that moves ends to the selvedges as well is not more: it keeps them, which no check sees.
    """
    lesser, greater = (_by_field(each.change) for each in (less, more))
    besides = greater.keys() - lesser.keys()
    keeps_ends = not more.change.is_combined and any(name.startswith(_EDGES) for name in besides)
    if lesser.keys() == {LAYERS}:
        return less.distance < more.distance
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
