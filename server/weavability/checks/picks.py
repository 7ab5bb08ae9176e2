"""Checks of the take-up: can the loom space the picks as ordered?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import FEW_PICKS, MANY_PICKS, away, no_least
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import PICKS
from weavability.checks.rules import (
    Compared,
    Observation,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.default_limits import starting_value
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, passed, short

describe(
    CheckCode.PICKS_OUT_OF_RANGE,
    says="The take-up spaces picks within a range.",
    compares="picks per cm on the loom with the range of the take-up",
    formula="picks/cm on the loom = grey picks/cm x (1 - relaxation)",
    source="[LOOM-LIMIT]; " + starting_value("/picks_per_cm/min", "/picks_per_cm/max"),
)


@compare(
    CheckCode.PICKS_OUT_OF_RANGE,
    short,
    Severity.ERROR,
    unit="picks/cm",
    eased_by={**MANY_PICKS, **no_least("picks_per_cm/min")},
)
def too_few(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the greatest step of the take-up."""
    return f.cloth.picks_per_cm_on_loom, (f.loom.min_picks_per_cm,), True


@compare(
    CheckCode.PICKS_OUT_OF_RANGE,
    passed,
    Severity.ERROR,
    unit="picks/cm",
    eased_by={**FEW_PICKS, **away("picks_per_cm/max")},
)
def too_many(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the least step of the take-up."""
    return f.cloth.picks_per_cm_on_loom, (f.loom.max_picks_per_cm,), True


_NEEDED: Final = (
    "The cloth needs {actual:.2f} picks/cm on the loom; the loom's take-up can set "
    "{least:g}-{most:g} picks/cm. "
)


@message(too_few, pointer=PICKS, few=_NEEDED + "Use more picks.")
def _too_few(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _range(f)


@message(too_many, pointer=PICKS, many=_NEEDED + "Use fewer picks.")
def _too_many(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _range(f)


def _range(f: Facts[float]) -> Wording:
    return Wording(values={"least": f.loom.min_picks_per_cm, "most": f.loom.max_picks_per_cm})
