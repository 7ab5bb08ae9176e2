"""What was found of an order by its weight, and checks limited to what weighs more.

A trial is compared with its order by what each check finds: what is gone, what is lighter, and what
is heavier or new.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache, lru_cache
from typing import Final, NamedTuple

from weavability.answers.verdicts import RANKS, by_weight
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons_of
from weavability.checks.requirement import is_unmet
from weavability.checks.rules import About, Checks, Observation

TIGHTNESS: Final = (CheckCode.SETT_TIGHT, CheckCode.SETT_NOT_JUDGED, CheckCode.SETT_JAMMED)
"""Checks of one figure, of which each gives way to the next if the cloth is set closer."""


class Weighed(NamedTuple):
    """What was found, by check.

    Attributes:
        severities: The heaviest of each.
        errors: What rejects the order, whatever the assumed values are.
        beyond: Those of errors, and of what would be one if what is assumed were stated.
        unmet: Requirements beyond whose limits the figure is, and not only an end of its band.
        tightness_pct: The greatest that a check of it found; 0 if none did.
        warned_pct: The same if a check of it gives more than a note; infinite if none does.
    """

    severities: dict[CheckCode, Severity]
    errors: frozenset[CheckCode]
    beyond: frozenset[CheckCode]
    unmet: frozenset[CheckCode]
    tightness_pct: float
    warned_pct: float

    @classmethod
    def of(cls, found: Sequence[Observation], facts: Facts[float]) -> Weighed:
        """Weigh what was found in the numbers of a pair."""
        beyond, unmet = set[CheckCode](), set[CheckCode]()
        tight, warned = [0.0], []
        for one in found:
            if one.severity is Severity.ERROR or one.is_assumed:
                beyond.add(one.code)
            if one.code in TIGHTNESS:
                tight.append(one.actual)
                if one.severity is not Severity.NOTE:
                    warned.append(one.actual)
            elif one.comparison.about is About.EACH_REQUIREMENT and is_unmet(one.code, facts):
                unmet.add(one.code)
        severities = by_weight(found)
        return cls(
            severities=severities,
            errors=frozenset(
                code for code, severity in severities.items() if severity is Severity.ERROR
            ),
            beyond=frozenset(beyond),
            unmet=frozenset(unmet),
            tightness_pct=max(tight),
            warned_pct=max(warned, default=math.inf),
        )

    def cleared_in(self, after: Weighed) -> frozenset[CheckCode]:
        """Return what is gone afterwards, or only noted; not what gave way to a graver check."""
        gone = (
            code
            for code, severity in self.severities.items()
            if code not in after.severities
            or after.severities[code] is Severity.NOTE is not severity
        )
        return frozenset(code for code in gone if not after.has_graver_than(code))

    def mended_in(self, after: Weighed) -> frozenset[CheckCode]:
        """Return what rejects the order and does not do so afterwards, and no graver check instead.

        That are errors, and doubts that are none any more. A requirement that is a warning only
        because its limit came inside the band of the figure is still not met if all is as it is
        assumed.
        """
        still = after.unmet | (self.doubts & after.beyond)
        return frozenset(
            code
            for code in self.errors | self.doubts
            if after.severities.get(code) is not Severity.ERROR
            and code not in still
            and not after.has_graver_than(code)
        )

    @property
    def doubts(self) -> frozenset[CheckCode]:
        """Warnings that would be errors if what is assumed were stated."""
        return (self.beyond | self.unmet) - self.errors

    @property
    def rejected(self) -> frozenset[CheckCode]:
        """What rejects the order: its errors, or if it has none its doubts."""
        return self.errors or self.doubts

    def has_graver_than(self, code: CheckCode) -> bool:
        """Return whether a graver check of the same figure finds something."""
        later = TIGHTNESS[TIGHTNESS.index(code) + 1 :] if code in TIGHTNESS else ()
        return any(each in self.severities for each in later)

    def heavier_in(self, after: Weighed) -> frozenset[CheckCode]:
        """Return what is found only afterwards, or weighs more then."""
        return frozenset(
            code
            for code, severity in after.severities.items()
            if code not in self.severities or RANKS[severity] < RANKS[self.severities[code]]
        )


@cache
def can_be_eased(code: CheckCode, to: Severity = Severity.NOTE) -> bool:
    """Return whether a check finds what is only worth a note, or another severity, too."""
    return any(to in one.severities for (made,) in [comparisons_of([code])] for one in made)


@lru_cache(maxsize=1024)
def to_clear(
    codes: tuple[CheckCode, ...],
    unwarned: tuple[CheckCode, ...] = (),
    unrejected: tuple[CheckCode, ...] = (),
) -> Checks:
    """Return what is to find nothing: checks, some without their notes, some without warnings."""
    return (
        *comparisons_of(codes),
        *_graver_than(Severity.NOTE, comparisons_of(unwarned)),
        *_graver_than(Severity.WARNING, comparisons_of(unrejected)),
    )


def _graver_than(lightest: Severity, made: Checks) -> Checks:
    """Return checks with those limits only beyond which a finding is graver than a severity."""
    rank = RANKS[lightest]
    graver = (
        tuple(
            replace(one, severities=heavier)
            for one in some
            if (heavier := tuple(each for each in one.severities if RANKS[each] < rank))
        )
        for some in made
    )
    return tuple(some for some in graver if some)
