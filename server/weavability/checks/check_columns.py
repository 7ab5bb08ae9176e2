"""The checks applied to columns of pairs: what is found in each row, or only how heavy it is."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons, given_by_kind, heaviest_of
from weavability.checks.rules import AnyRule, Comparison, Observation
from weavability.checks.settling import given_to, if_certain
from weavability.looms.thresholds import Usual
from weavability.textiles.assumptions import Moves
from weavability.textiles.numbers import Floats, Truth, anywhere

Ranks = NDArray[np.int8]


class MovedOrders(Protocol):
    """Computes columns of pairs again with other values assumed."""

    def moved(
        self, moves: Moves, orders: NDArray[np.intp]
    ) -> tuple[Facts[Floats], NDArray[np.bool_]]:
        """Return the numbers of some orders, and where they cannot be computed."""


class AssumedValues(Protocol):
    """Knows where columns of pairs rest on what is assumed."""

    def rest_on(self, moves: Moves) -> NDArray[np.bool_]:
        """Return where a value that is moved is assumed: looms in rows, orders in columns."""


class MovedColumns(AssumedValues, MovedOrders, Protocol):
    """Knows both."""


def observe_rows(
    facts: Facts[Floats], usual: Usual[float], rows: int, moved: MovedColumns
) -> list[list[Observation]]:
    """Return what every check finds in each row of a column of pairs, like one pair after another.

    Args:
        facts: The numbers of the pairs; a number may be one for all rows.
        usual: The thresholds in force.
        rows: How many pairs they are, of one order.
        moved: Computes the numbers with other values assumed.
    """
    found: list[list[Observation]] = [[] for _ in range(rows)]
    about = given_by_kind(facts, usual)
    for made in comparisons():
        for one in made:
            for place, numbers in enumerate(about[one.about]):
                actual, limits, applies = one.rule(*numbers)
                here = one.test(actual, limits[-1]) & applies
                if anywhere(here):
                    there = np.flatnonzero(_row_by_row(here, rows))
                    figures = [
                        _row_by_row(each, rows)[there].tolist() for each in (actual, *limits)
                    ]
                    for row, (figure, *figured) in zip(
                        there.tolist(), zip(*figures, strict=True), strict=True
                    ):
                        found[row].append(heaviest_of(one, figure, figured, place))
    _settle_rows(found, usual, rows, moved)
    return found


def _settle_rows(
    found: list[list[Observation]], usual: Usual[float], rows: int, moved: MovedColumns
) -> None:
    """Make warnings of the errors of each row that rest on what is assumed."""
    known: dict[Moves, tuple[Facts[Floats], NDArray[np.bool_]]] = {}
    certain: dict[tuple[AnyRule, int], NDArray[np.bool_]] = {}
    for row, some in enumerate(found):
        for at, seen in enumerate(some):
            one = seen.comparison
            if seen.severity is not Severity.ERROR or not one.moves.ends:
                continue
            if (one.rule, seen.weft) not in certain:
                if one.moves not in known:
                    known[one.moves] = moved.moved(one.moves, np.zeros(1, np.intp))
                facts, kept = known[one.moves]
                still = _remains(one, facts, usual, seen.weft) | kept | ~moved.rest_on(one.moves)
                certain[one.rule, seen.weft] = _row_by_row(still, rows)
            some[at] = if_certain(seen, is_certain=bool(certain[one.rule, seen.weft][row]))


def _remains(one: Comparison, facts: Facts[Floats], usual: Usual[float], place: int) -> Truth:
    """Return whether a comparison finds an error in columns of pairs."""
    actual, limits, applies = one.rule(*given_to(one, facts, usual, place))
    here: Truth = one.test(actual, limits[0]) & applies
    return here


def _row_by_row(column: Any, rows: int) -> NDArray[Any]:
    return np.broadcast_to(np.ravel(column), rows)


def column_severities(
    facts: Facts[Floats],
    usual: Usual[float],
    ranks: Mapping[Severity, int],
    found: Ranks,
    assumed: AssumedValues,
    only: Collection[CheckCode] | None = None,
) -> list[Unsettled]:
    """Find the heaviest severity of every check for columns of pairs.

    Errors that may rest on what is assumed are warnings until :func:`settle_columns` has seen them.

    Args:
        facts: The numbers of the pairs.
        usual: The thresholds in force.
        ranks: How each severity is written.
        found: Receives the ranks; its first axis is that of :func:`comparisons`, the others are
            those of the columns. It holds zeros.
        assumed: Knows where they rest on what is assumed.
        only: The checks that are applied; ``None`` for all.
    """
    given, warning = given_by_kind(facts, usual), np.int8(ranks[Severity.WARNING])
    unsettled: list[Unsettled] = []
    for made, heaviest in zip(comparisons(), found, strict=True):
        if only is not None and made[0].code not in only:
            continue
        for one in made:
            for place, numbers in enumerate(given[one.about]):
                actual, limits, applies = one.rule(*numbers)
                # The limits rise or fall with the severity: if the last does not hold, none does.
                for severity, limit in zip(reversed(one.severities), reversed(limits), strict=True):
                    here = one.test(actual, limit) & applies
                    if not anywhere(here):
                        break
                    if severity is Severity.ERROR and one.moves.ends:
                        rests = here & assumed.rest_on(one.moves)
                        if rests.any():
                            rests = np.broadcast_to(rests, found.shape[1:])
                            unsettled.append(Unsettled(one, place, heaviest, rests))
                            here = here & ~rests
                            _raise(heaviest, rests, warning)
                    _raise(heaviest, here, np.int8(ranks[severity]))
    return unsettled


def _raise(heaviest: Ranks, here: Truth, rank: np.int8) -> None:
    """Write a rank where it is true and none is heavier."""
    ranked = np.asarray(here).view(np.int8) * rank
    np.maximum(heaviest, ranked, out=heaviest)


class Unsettled(NamedTuple):
    """Errors in columns of pairs that may rest on what is assumed.

    Attributes:
        heaviest: The ranks of the check, which hold that of a warning.
        here: Where they are.
    """

    one: Comparison
    place: int
    heaviest: Ranks
    here: NDArray[np.bool_]


def settle_columns(
    unsettled: Sequence[tuple[Unsettled, MovedOrders]], usual: Usual[float], error: int
) -> None:
    """Write the errors that remain with other values assumed.

    Args:
        unsettled: Of several columns of looms and the same orders.
        usual: The thresholds in force.
        error: How an error is written.
    """
    by_moves: dict[Moves, list[tuple[Unsettled, MovedOrders]]] = {}
    for known in unsettled:
        by_moves.setdefault(known[0].one.moves, []).append(known)
    for moves, some in by_moves.items():
        orders = np.flatnonzero(np.any([each.here.any(axis=0) for each, _ in some], axis=0))
        by_looms: dict[MovedOrders, list[Unsettled]] = {}
        for each, moved in some:
            by_looms.setdefault(moved, []).append(each)
        for moved, few in by_looms.items():
            facts, kept = moved.moved(moves, orders)
            for each in few:
                remains = _remains(each.one, facts, usual, each.place) | kept
                certain = each.here[:, orders] & remains
                each.heaviest[:, orders] = np.maximum(
                    each.heaviest[:, orders], certain * np.int8(error)
                )
