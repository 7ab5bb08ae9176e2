"""Many constructions on many looms at once: what every check finds, as arrays."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from weavability.answers.moved_columns import MovedBlock, Row
from weavability.checks.check_columns import (
    Ranks,
    Unsettled,
    column_severities,
    settle_columns,
)
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, WeaveCounts, facts_from, weave_counts
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons, place_of
from weavability.checks.requirement import CODES, is_unmet
from weavability.looms.denting import in_stated_reed
from weavability.looms.drawing_in_columns import draw_in_columns
from weavability.looms.figured_warp import harness_for, woven_on
from weavability.looms.fit_numbers import fit_numbers
from weavability.looms.loom import Loom
from weavability.looms.loom_columns import LoomColumn, ParkColumns, park_columns
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.order_numbers import OrderNumbers, order_numbers
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Ledger
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.cloth_bounds import is_endless
from weavability.textiles.cloth_numbers import StatedCloth
from weavability.textiles.cloth_states import grey_cloth
from weavability.textiles.cloth_symbols import (
    CONSTRUCTION,
    ClothSymbols,
    changed_fields,
    cloth_symbols,
)
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.numbers import Floats, Record, columns_of
from weavability.textiles.sentences import say

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
    "mean_tightness_pct",
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
    "beam_capacity_m",
    "warp_length_m",
    "beams_needed",
    "output_m_per_h",
    "hours",
)
_LIMITED_BY: Final = "limited_by"
_DENTING: Final = ("needed_dents_per_10cm", "dents_per_10cm", "ends_per_dent")
_WEAVE: Final = ("longest_float_mm", "shafts_needed", "shafts_used", "healds_per_cm")

NUMBERS: Final = (*_CLOTH, *_FIT, *_DENTING, *_WEAVE, _LIMITED_BY)
"""The numbers that may be requested; ``hours`` is infinite for an order without a length, and
``limited_by`` is the place of what limits the speed among ``SpeedLimitName``."""

PAIRS_AT_A_TIME: Final = 100_000
"""Pairs that are judged together, which bounds the memory in use."""

MOST_ORDERS_AT_A_TIME: Final = 4_000

PAIRS_IN_A_COLUMN: Final = 8_000
"""Pairs from which on a column costs no less by being longer; looms with unlike tables share one
until it is so long. By ``tests/bench/columns.py``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedColumns:
    """What every check finds for every construction on every loom.

    Attributes:
        codes: The checks, in the order of reports.
        severities: Shape (orders, looms, codes): 0 none, 1 note, 2 warning, 3 error.
        verdicts: Shape (orders, looms): 0 weavable, 1 with warnings, 2 not weavable; -1 if the
            pair cannot be judged.
        numbers: What was requested by name, each of shape (orders, looms); NaN if a pair cannot
            be judged.
        refused: Why an order cannot be read, by its place; pointers start with ``/construction``.
        doubts: If requested, where a pair is weavable, but not if what is assumed is so, by the
            check that says so, each of shape (orders, looms); one that nowhere does may be missing.
    """

    codes: tuple[CheckCode, ...]
    severities: Ranks
    verdicts: Ranks
    numbers: Mapping[str, Floats]
    refused: Mapping[int, InputError]
    doubts: Doubts


Doubts: TypeAlias = Mapping[CheckCode, NDArray[np.bool_]]


def judge_columns(
    orders: Sequence[Construction],
    looms: Sequence[Loom],
    *,
    numbers: Sequence[str] = (),
    driven: bool = False,
    checks: Collection[CheckCode] | None = None,
    doubts: bool = False,
    like: ClothSymbols | None = None,
) -> JudgedColumns:
    """Judge every construction on every loom, without messages.

    Verdicts are those of :func:`weavability.answers.validation.assess`. Memory beside the result is
    bounded, since the pairs are judged in blocks. An order that requests a draft, or whose warp has
    more than 20,000 ends, is drawn in by itself on every shedding motion: its pairs take three to
    four times as long on a hundred looms.

    Args:
        orders: The cloths as ordered.
        looms: The looms as stated.
        numbers: Names of :data:`NUMBERS` that are requested beside the codes.
        driven: Whether weft and carrier are judged at the requested speed although the loom, or the
            weft, allows less, at which a validation judges them.
        checks: By which alone verdicts are given; ``None`` for all.
        doubts: Whether they are requested.
        like: What an order says from which they were changed: what a change leaves as it is, is
            taken from it.

    Raises:
        InputError: A loom cannot be read, at ``/looms/<index>``, or a number has no such name, at
            ``/numbers/<index>``. An order that cannot be read is listed in ``refused``.
    """
    _refuse_unknown(numbers)
    at_a_time = min(max(1, PAIRS_AT_A_TIME // max(1, len(looms))), MOST_ORDERS_AT_A_TIME)
    together = -(-PAIRS_IN_A_COLUMN // max(1, min(at_a_time, len(orders))))
    park = _in_columns(looms, at_least=together)
    shape = (len(looms), len(orders))
    into = _Judged(
        severities=np.zeros((len(comparisons()), len(looms), len(orders)), np.int8),
        verdicts=np.full(shape, NOT_JUDGED, np.int8),
        numbers={name: np.full(shape, np.nan) for name in numbers},
        refused={},
        doubts={} if doubts else None,
    )
    with np.errstate(all="ignore"):
        for start in range(0, len(orders), at_a_time):
            places = range(start, min(start + at_a_time, len(orders)))
            rows = _read(orders, looms, places, into.refused, like)
            if rows:
                _judge_block(rows, park, into, driven=driven, checks=checks)
    return JudgedColumns(
        codes=tuple(made[0].code for made in comparisons()),
        severities=into.severities.transpose(2, 1, 0),
        verdicts=into.verdicts.T,
        numbers={name: column.T for name, column in into.numbers.items()},
        refused=into.refused,
        doubts={code: where.T for code, where in (into.doubts or {}).items()},
    )


def _refuse_unknown(numbers: Sequence[str]) -> None:
    for index, name in enumerate(numbers):
        if name not in NUMBERS:
            raise InputError.of(
                f"/numbers/{index}",
                say("fault.columns.unknown_number", "No number has this name."),
                given=name,
                allowed=sorted(NUMBERS),
            )


@dataclass(slots=True, kw_only=True)
class _Judged:
    """The result while it is made: orders last, and codes first, as columns are written."""

    severities: Ranks
    verdicts: Ranks
    numbers: Mapping[str, Floats]
    refused: dict[int, InputError]
    doubts: dict[CheckCode, NDArray[np.bool_]] | None


def _in_columns(looms: Sequence[Loom], *, at_least: int) -> ParkColumns:
    """Put looms into columns of so many at least.

    Raises:
        InputError: A loom cannot be read, at ``/looms/<index>``.
    """
    limits = []
    for index, loom in enumerate(looms):
        with pointing_below(f"/looms/{index}"):
            limits.append(resolve_loom(loom))
    return park_columns(tuple(limits), at_least=min(at_least, len(limits)))


def _read(
    orders: Sequence[Construction],
    looms: Sequence[Loom],
    places: range,
    refused: dict[int, InputError],
    like: ClothSymbols | None,
) -> list[Row]:
    """Read a block of orders; those that cannot be read are noted.

    What they have in common with one that is given, or else with the first, is taken from that one:
    many differ in one field.
    """
    rows: list[Row] = []
    weaves: dict[tuple[int, int], WeaveCounts[float]] = {}
    for place in places:
        try:
            with pointing_below(CONSTRUCTION):
                unkept = Ledger(CONSTRUCTION, keeps=False)
                woven = _woven_alike(orders[place], looms)
                other = None if like is None else changed_fields(woven, like.construction)
                symbols = cloth_symbols(woven, unkept, unkept, like, other)
            if like is not None:
                symbols.take_grey_of(like)
            order = order_numbers(symbols, like)
        except InputError as error:
            refused[place] = error
            continue
        layers = symbols.layered_weave
        kind = (id(symbols.structure), id(layers))
        if kind not in weaves:
            weaves[kind] = weave_counts(symbols.structure, layers)
        rows.append(Row(place, symbols, symbols.stated(), order, weaves[kind]))
        like = symbols if like is None else like
    return rows


def _woven_alike(order: Construction, looms: Sequence[Loom]) -> Construction:
    """Weave a figured design that is one cloth on all looms."""
    if order.design is None or order.figured is not None or not looms:
        return order
    if len({harness_for(order, loom) for loom in looms}) > 1:
        message = say(
            "fault.design.another_cloth_on_each_tie",
            "This figured design is another cloth on each tie of these looms. Judge "
            "it on one tie at a time, or match it with looms.",
        )
        raise InputError.of("/weave/design", message)
    return woven_on(order, looms[0])


def _judge_block(
    rows: list[Row],
    park: ParkColumns,
    into: _Judged,
    *,
    driven: bool,
    checks: Collection[CheckCode] | None,
) -> None:
    stated: StatedCloth[Floats] = columns_of([row.stated for row in rows], shape=(-1,))
    order: OrderNumbers[Floats] = columns_of([row.order for row in rows], shape=(-1,))
    ordered = grey_cloth(stated)
    endless = is_endless(
        total_ends=ordered.total_ends, reed_cm=ordered.reed_width_cm, warp_m=ordered.woven_warp_m
    )
    if np.any(endless):
        endless = np.broadcast_to(endless, len(rows))
        _judge_block_of_possible(rows, endless, park, into, driven=driven, checks=checks)
        return
    cloth = in_stated_reed(order, ordered)
    weave: WeaveCounts[Floats] = columns_of([row.weave for row in rows], shape=(-1,))
    drawn = draw_in_columns([row.symbols for row in rows], cloth, park.shedding_motions)
    orders = _places([row.place for row in rows])
    usual = in_force().usual
    moved, unsettled, judged = MovedBlock(rows, cloth, park), [], []
    for at, column in enumerate(park.columns):
        rises = column.pick_rises(reed_width_cm=cloth.reed_width_cm)
        fit = fit_numbers(order, cloth, column.numbers, rises, usual, driven=driven)
        on_looms = column.drawing_in(drawn)
        facts = facts_from(weave, order, cloth, column.shedding, on_looms, column.numbers, fit)
        found = _Found.of(into.severities, _places(column.places.tolist()), orders)
        here = moved.on(at)
        some = column_severities(facts, usual, SEVERITY_RANKS, found.ranks, here, checks)
        unsettled += [(each, here) for each in some]
        judged.append((found, _write_numbers(into, column, orders, facts), (some, facts)))
    settle_columns(unsettled, usual, SEVERITY_RANKS[Severity.ERROR])
    for found, is_judged, in_doubt in judged:
        _write_found(into, found, is_judged)
        if into.doubts is not None:
            _write_doubts(into.doubts, found, doubts_of(found.ranks, *in_doubt), into.verdicts)


def _judge_block_of_possible(
    rows: list[Row],
    endless: NDArray[np.bool_],
    park: ParkColumns,
    into: _Judged,
    *,
    driven: bool,
    checks: Collection[CheckCode] | None,
) -> None:
    """Refuse the orders that are possible in each figure but not in all, and judge the others."""
    for row, refuse in zip(rows, endless.tolist(), strict=True):
        if refuse:
            try:
                with pointing_below("/construction"):
                    cloth_facts(row.symbols.construction)
            except InputError as error:
                into.refused[row.place] = error
    possible = [row for row, refuse in zip(rows, endless.tolist(), strict=True) if not refuse]
    if possible:
        _judge_block(possible, park, into, driven=driven, checks=checks)


Places = slice | NDArray[np.intp]


def _places(places: list[int]) -> Places:
    """Return places as a slice if they are evenly apart, which is quicker to write to."""
    step = places[1] - places[0] if len(places) > 1 else 1
    even = slice(places[0], places[-1] + 1, step) if step > 0 else slice(0)
    return even if places == [*range(*even.indices(places[-1] + 1))] else np.array(places)


class _Found(NamedTuple):
    """What is found for the looms of a column and a block of orders.

    Attributes:
        looms: The places of the looms.
        orders: The places of the orders.
        ranks: By code, loom and order: a part of the result if both are evenly apart.
        is_apart: Whether it is to be written into the result.
    """

    looms: Places
    orders: Places
    ranks: Ranks
    is_apart: bool

    @classmethod
    def of(cls, severities: Ranks, looms: Places, orders: Places) -> _Found:
        """Return where to write what is found; it holds zeros."""
        if isinstance(looms, slice) and isinstance(orders, slice):
            return cls(looms, orders, severities[:, looms, orders], is_apart=False)
        some = severities[:, looms][:, :, orders]
        return cls(looms, orders, some, is_apart=True)


def _write_numbers(
    into: _Judged, column: LoomColumn, orders: Places, facts: Facts[Floats]
) -> NDArray[np.bool_]:
    """Write the requested numbers for the looms of a column, and return which pairs are judged."""
    shape = (column.looms, np.arange(into.verdicts.shape[1])[orders].size)
    judged = np.broadcast_to(facts.fit.is_judged, shape)
    here = _grid(_places(column.places.tolist()), orders)
    for name, numbers in into.numbers.items():
        numbers[here] = np.where(judged, _number(facts, name), np.nan)
    return judged


def _write_found(into: _Judged, found: _Found, judged: NDArray[np.bool_]) -> None:
    """Write what was found for the looms of a column and a block of orders."""
    ranks = found.ranks
    if not judged.all():
        ranks *= judged
    verdicts = np.maximum(ranks.max(axis=0) - np.int8(1), np.int8(0))
    here = _grid(found.looms, found.orders)
    into.verdicts[here] = np.where(judged, verdicts, NOT_JUDGED)
    if found.is_apart:
        into.severities[:, *here] = ranks


def _write_doubts(
    into: dict[CheckCode, NDArray[np.bool_]], found: _Found, doubts: Doubts, like: Ranks
) -> None:
    """Write what is in doubt for the looms of a column and a block of orders."""
    for code, where in doubts.items():
        whole = into.setdefault(code, np.zeros(like.shape, np.bool_))
        whole[_grid(found.looms, found.orders)] = where


def doubts_of(found: Ranks, unsettled: Iterable[Unsettled], facts: Facts[Floats]) -> Doubts:
    """Return where a pair is weavable, but not if what is assumed is so, by the check that says so.

    That a figure which the customer requires is beyond its limit itself, and not only an end of its
    band, is such a doubt.

    Args:
        found: What was found by code, with the errors that remain.
        unsettled: Errors that may rest on what is assumed, of which it holds what they are.
        facts: The numbers.
    """
    doubts = {code: np.asarray(is_unmet(code, facts)) for code in CODES}
    for each in unsettled:
        doubts[each.one.code] = each.here | doubts.get(each.one.code, np.False_)
    some = {code: where for code, where in doubts.items() if where.any()}
    if not some:
        return {}
    is_weavable = found.max(axis=0) < SEVERITY_RANKS[Severity.ERROR]
    return {
        code: where & is_weavable & (found[place_of(code)] == _WARNING)
        for code, where in some.items()
    }


_WARNING: Final = SEVERITY_RANKS[Severity.WARNING]


def _grid(looms: Places, orders: Places) -> tuple[Any, ...]:
    """Return an index of all of some looms with all of some orders."""
    if isinstance(looms, slice) or isinstance(orders, slice):
        return looms, orders
    return np.ix_(looms, orders)


def limiting_places(facts: Facts[Floats]) -> Floats:
    """Return the place of the limit that sets the speed among ``SpeedLimitName``."""
    order, speeds, loom = facts.order, facts.fit.speeds, facts.loom
    limits = (
        np.where(order.speed_requested, order.requested_speed_picks_per_min, np.inf),
        loom.max_speed_picks_per_min,
        speeds.by_curve,
        speeds.by_rate,
        loom.max_shedding_speed_picks_per_min,
        facts.fit.weft_speed.by_strength,
    )
    places: Floats = np.argmin(np.stack(np.broadcast_arrays(*limits)), axis=0).astype(np.float64)
    return places


def _number(facts: Facts[Floats], name: str) -> Floats:
    if name == _LIMITED_BY:
        return limiting_places(facts)
    record: Record[Floats] = facts.fit
    for some, of in ((_CLOTH, facts.cloth), (_DENTING, facts.fit.denting), (_WEAVE, facts.weave)):
        if name in some:
            record = of
    number: Floats = getattr(record, name)
    return number
