"""Many constructions on many looms at once: what every check finds, as arrays."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, facts_of
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons, observe_facts
from weavability.looms.fit import fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits, resolve_loom
from weavability.looms.thresholds import in_force
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.numbers import Floats

Ranks = NDArray[np.int8]

SEVERITY_RANKS: Final[Mapping[Severity, int]] = {
    Severity.NOTE: 1,
    Severity.WARNING: 2,
    Severity.ERROR: 3,
}
"""How a severity is written in an array; 0 is none."""

WEAVABLE: Final = 0
WEAVABLE_WITH_WARNINGS: Final = 1
NOT_WEAVABLE: Final = 2
NOT_JUDGED: Final = -1
"""How a verdict is written in an array; a pair that cannot be judged has no other figures."""

_CLOTH: Final = (
    "tightness_pct",
    "reed_width_cm",
    "total_ends",
    "picks_per_cm_on_loom",
    "loom_length_m",
)
_FIT: Final = (
    "speed_picks_per_min",
    "insertion_rate_m_per_min",
    "weft_strength_use_pct",
    "warp_strength_use_pct",
    "feeder_speed_m_per_min",
    "needed_dents_per_10cm",
    "dents_per_10cm",
    "ends_per_dent",
    "gap_fill_pct",
    "beam_capacity_m",
    "warp_length_m",
    "beams_needed",
    "output_m_per_h",
    "hours",
)
_WEAVE: Final = ("longest_float_mm", "shafts_needed", "shafts_used", "healds_per_cm")

NUMBERS: Final = (*_CLOTH, *_FIT, *_WEAVE)
"""The numbers that may be asked for; ``hours`` is infinite for an order without a length."""

BLOCK_PAIRS: Final = 100_000
"""Pairs that are judged at a time, which bounds the memory in use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedColumns:
    """What every check finds for every construction on every loom.

    Attributes:
        codes: The checks, in the order of reports.
        severities: Shape (orders, looms, codes): 0 none, 1 note, 2 warning, 3 error.
        verdicts: Shape (orders, looms): 0 weavable, 1 with warnings, 2 not weavable; -1 if the
            pair cannot be judged.
        numbers: What was asked for by name, each of shape (orders, looms); NaN where a pair cannot
            be judged.
        refused: Why an order cannot be read, by its place; pointers start with ``/construction``.
    """

    codes: tuple[CheckCode, ...]
    severities: Ranks
    verdicts: Ranks
    numbers: Mapping[str, Floats]
    refused: Mapping[int, InputError]


def judge_columns(
    orders: Sequence[Construction], looms: Sequence[Loom], *, numbers: Sequence[str] = ()
) -> JudgedColumns:
    """Judge every construction on every loom, without messages.

    Verdicts are those of :func:`weavability.answers.validation.assess`. Memory beside the result is
    bounded, since the pairs are judged in blocks.

    Args:
        orders: The cloths as ordered.
        looms: The looms as stated.
        numbers: Names of :data:`NUMBERS` that are wanted beside the codes.

    Raises:
        InputError: A loom cannot be read, at ``/looms/<index>``, or a number has no such name, at
            ``/numbers/<index>``. An order that cannot be read is listed in ``refused``.
    """
    _refuse_unknown(numbers)
    limits = []
    for index, loom in enumerate(looms):
        with pointing_below(f"/looms/{index}"):
            limits.append(resolve_loom(loom))
    shape = (len(orders), len(limits))
    judged = JudgedColumns(
        codes=tuple(made[0].code for made in comparisons()),
        severities=np.zeros((*shape, len(comparisons())), np.int8),
        verdicts=np.full(shape, NOT_JUDGED, np.int8),
        numbers={name: np.full(shape, np.nan) for name in numbers},
        refused=(refused := {}),
    )
    for place, order in enumerate(orders):
        try:
            with pointing_below("/construction"):
                cloth = cloth_facts(order)
        except InputError as error:
            refused[place] = error
            continue
        _judge_order(judged, place, cloth, limits)
    return judged


def _refuse_unknown(numbers: Sequence[str]) -> None:
    for index, name in enumerate(numbers):
        if name not in NUMBERS:
            raise InputError.of(
                f"/numbers/{index}",
                "No number has this name.",
                given=name,
                allowed=sorted(NUMBERS),
            )


def _judge_order(
    judged: JudgedColumns, place: int, cloth: ClothFacts, limits: Sequence[LoomLimits]
) -> None:
    columns = {code: column for column, code in enumerate(judged.codes)}
    for on, limit in enumerate(limits):
        try:
            facts = facts_of(fit_cloth(cloth, limit))
        except InputError:
            continue
        severities = judged.severities[place, on]
        for seen in observe_facts(comparisons(), facts, in_force().usual):
            column = columns[seen.code]
            severities[column] = max(severities[column], SEVERITY_RANKS[seen.severity])
        judged.verdicts[place, on] = max(0, int(severities.max()) - 1)
        for name, value in _asked(facts, judged.numbers):
            judged.numbers[name][place, on] = value


def _asked(facts: Facts[float], names: Mapping[str, Floats]) -> Iterator[tuple[str, float]]:
    for name in names:
        record = facts.cloth if name in _CLOTH else facts.fit if name in _FIT else facts.weave
        yield name, getattr(record, name)
