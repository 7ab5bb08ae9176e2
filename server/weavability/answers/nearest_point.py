"""The nearest better point of a window: that which changes the order least, and why there is none.

It is chosen as remedies are: by their distance, and after points of which the verdict does not rest
on what is assumed.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.columns import NOT_JUDGED, NOT_WEAVABLE, SEVERITY_RANKS, WEAVABLE
from weavability.answers.field_changes import weight_of_number
from weavability.answers.grid_rows import Axis
from weavability.answers.judged_grid import JudgedGrid
from weavability.answers.stated_values import with_values
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons
from weavability.checks.requirement import CODES
from weavability.looms.loom import Loom
from weavability.textiles.assumptions import Ledger
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import resolve_yarn

_MOST_NAMED: Final = 4
"""Checks that a note names; of more it says how many there are."""


class NearestPoint(NamedTuple):
    """The place of the nearest better point, and what is to be said of it.

    Attributes:
        at: Its place along and across; ``None`` if there is none.
        note: Why there is none, or what it leaves to what is assumed; ``None`` if it leaves
            nothing.
    """

    at: tuple[int, int] | None
    note: str | None


def nearest_point(
    grid: JudgedGrid,
    own: int,
    errors: Collection[CheckCode],
    points: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> NearestPoint:
    """Return the point with a better verdict that changes the order least.

    Like a remedy, it does not mend an error by bringing only an end of a band inside what the
    customer requires, and one at which the order is not weavable if what is assumed is so comes
    after all others.

    Args:
        grid: What is found at every point.
        own: The verdict on the order as it is, as the grid writes it.
        errors: Of the order as it is.
        points: How far each value across, and along, is from the order as it is.
    """
    better = (grid.verdicts != NOT_JUDGED) & (grid.verdicts < own)
    if not better.any():
        return NearestPoint(None, _none_better(grid, own))
    missed = {code: grid.doubts[code] for code in CODES if code in errors and code in grid.doubts}
    met = better & ~_any_of(missed.values(), better)
    if not met.any():
        return NearestPoint(None, _only_by_a_band(list(missed), better))
    across, along = points
    distance = np.where(met, along[:, None] + across[None, :], np.inf)
    firm = np.where(_any_of(grid.doubts.values(), met), np.inf, distance)
    is_firm = bool(np.isfinite(firm).any())
    chosen = firm if is_firm else distance
    row, column = map(int, np.unravel_index(int(chosen.argmin()), chosen.shape))
    note = None if is_firm else _in_doubt(grid.doubted_at(row, column))
    return NearestPoint((row, column), note)


def _any_of(some: Collection[NDArray[np.bool_]], like: NDArray[np.bool_]) -> NDArray[np.bool_]:
    found = np.zeros(like.shape, np.bool_)
    for each in some:
        found |= each
    return found


def _none_better(grid: JudgedGrid, own: int) -> str:
    """Say why no point is better: what is found at all of them, or at each something else."""
    if own == WEAVABLE:
        return "The order is weavable without warnings as it is."
    is_error = own == NOT_WEAVABLE
    rank = SEVERITY_RANKS[Severity.ERROR if is_error else Severity.WARNING]
    found = grid.severities[grid.verdicts != NOT_JUDGED] >= rank
    counts = found.sum(axis=0)
    places = np.argsort(-counts, kind="stable")[: np.count_nonzero(counts)].tolist()
    codes = [comparisons()[place][0].code for place in places]
    always = [
        code for code, place in zip(codes, places, strict=True) if counts[place] == len(found)
    ]
    verdict, one = "weavable", "an error"
    if not is_error:
        verdict, one = "weavable without warnings", "a warning, or an error,"
    of = _listed(always) if always else f"one of {_listed(codes)}"
    return f"No point of this window is {verdict}: each has {one} of {of}."


def _only_by_a_band(codes: Sequence[CheckCode], better: NDArray[np.bool_]) -> str:
    return (
        f"Better points ({np.count_nonzero(better)}) bring only an end of a band inside what is "
        f"required ({_listed(codes)}): the figure itself, as all is assumed, misses it there."
    )


def _in_doubt(codes: Sequence[CheckCode]) -> str:
    return (
        f"The order is not weavable there ({_listed(codes)}) if what is assumed is so; no better "
        "point is without such a doubt."
    )


def _listed(codes: Sequence[CheckCode]) -> str:
    more = len(codes) - _MOST_NAMED
    return ", ".join(codes[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


_OF_EQUALS: Final = 1e-6
"""Points for a per cent of change, so that of values that count alike the nearest is taken."""


def points_of(
    axis: Axis, own: float | None, construction: Construction, loom: Loom
) -> NDArray[np.float64]:
    """Return how far each value of a field is, in points of the distance of remedies.

    Args:
        axis: The field and its values.
        own: The order's own value; without one it is taken from the middle.
        construction: The cloth as ordered.
        loom: The loom as stated.
    """
    values = np.array(axis.values, dtype=float)
    start = (values[0] + values[-1]) / 2 if own is None else own
    figures = np.array([start, *values])
    if axis.place.pointer.endswith("/designation"):
        figures = np.array([_tex(axis.place.pointer, construction, loom, each) for each in figures])
    pct = 100 * np.abs(figures[1:] - figures[0]) / (abs(figures[0]) or np.ptp(values) or 1.0)
    weight = weight_of_number(axis.place.metric_pointer)
    points: NDArray[np.float64] = weight.points * (pct > 0) + (weight.per_pct + _OF_EQUALS) * pct
    return points


def _tex(pointer: str, construction: Construction, loom: Loom, count: float) -> float:
    """Return the linear density of a yarn with a count; 0 if it cannot be, and is not judged."""
    system, _, key, _ = pointer.split("/")[2:]
    stated, _ = with_values(construction, loom, [(pointer, count)])
    try:
        facts = resolve_yarn(getattr(stated, system).yarns[key], Ledger(keeps=False))
    except InputError:
        return 0.0
    return facts.linear_density_tex
