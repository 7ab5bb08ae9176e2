"""What a search says of errors and warnings that no remedy clears."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Annotated, Final

from weavability.answers.change_parts import Part
from weavability.answers.changes_together import Search
from weavability.answers.check_levers import LEVERS
from weavability.answers.few_names import joined, listed
from weavability.answers.finding_remedies import (
    ANOTHER_LOOM,
    NOTHING_HELPS,
    STATE_FIRST,
    nothing_for,
    values_of,
)
from weavability.answers.loom_match import LoomMatch
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity
from weavability.looms.loom import Loom
from weavability.textiles.construction import Construction

USED_UP: Final = "no more, because the trials of a search were used up"
"""Last of what was tried, if a search ended before everything was."""

MOST_NAMED: Final = 4
"""Looms that are named of those that clear one of several errors."""

NEARLY_WIDE_ENOUGH_PCT: Final = 115.0
"""Reed width that a cloth takes, at most, if a change of it is to fit it in; a wider one is another
cloth: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRemedy:
    """A finding that no remedy clears, though one may make a warning of an error.

    Or one of several errors that each have a remedy, if what clears all makes another cloth.
    """

    code: Annotated[CheckCode, "Code of the finding"]
    severity: Annotated[Severity, "How much it weighs"]
    tried: Annotated[tuple[str, ...], "What was tried, or why nothing was"]


def not_found(search: Search) -> Iterator[NoRemedy]:
    """Yield what no remedy of a search clears, and errors if none clears all of them."""
    open_codes, far = search.open_codes(), _too_far_together(search)
    for code, severity in search.codes.items():
        tried = _tried(search, code) if code in open_codes else ()
        together = (far,) if far and severity is Severity.ERROR else ()
        if tried or together:
            yield NoRemedy(code=code, severity=severity, tried=(*tried, *together))


def _tried(search: Search, code: CheckCode) -> tuple[str, ...]:
    """Return what was tried of a finding in vain."""
    tried = tuple(search.tried.get(code, ())) or (nothing_for(search.trials.at(code)),)
    if search.is_cut_short and code in LEVERS and tried != (STATE_FIRST,):
        return (*(each for each in tried if each != NOTHING_HELPS), USED_UP)
    return tried


def _too_far_together(search: Search) -> str | None:
    """Say which changes together mend all errors if only too many points do; else ``None``."""
    errors = search.trials.errors
    if any(errors <= one.mends for one in search.listed()):
        return None
    whole = [
        step
        for step in search.steps.values()
        if len(step.parts) > 1 and errors <= step.proof.mends and not step.proof.worsens
    ]
    if not whole:
        return None
    parts, proof, _ = min(whole, key=lambda one: one.proof.distance)
    words = joined(list(map(_with_values, parts)))
    return f"{words}, together {proof.distance:.0f} points: only as another cloth"


def _with_values(part: Part) -> str:
    """Say what is changed, and to what: ``a finer weft (80 tex)``."""
    values = " and ".join(values_of(part.change))
    return f"{part.lever.words} ({values})" if values else part.lever.words


def on_another_loom(
    order: Construction, looms: Sequence[Loom], ranked: Sequence[LoomMatch], *, is_woven: bool
) -> Callable[[NoRemedy], NoRemedy]:
    """Return what says of an error for which nothing was tried whether another loom weaves it.

    Args:
        order: The order.
        looms: All looms on which it was judged as it is.
        ranked: How those beside the loom requested weave it, the best first.
        is_woven: Whether it is weavable on one of them.
    """

    def said(missing: NoRemedy) -> NoRemedy:
        if missing.severity is not Severity.ERROR:
            return missing
        if is_woven:
            words = {NOTHING_HELPS: ANOTHER_LOOM}
        else:
            none = f"{ANOTHER_LOOM}, and none of the looms judged does"
            why = _of_selectors(order, looms, missing.code) or _with_the_rest(
                ranked, missing.code, order.panels or 1
            )
            words = {ANOTHER_LOOM: why or none}
        return replace(missing, tried=tuple(words.get(each, each) for each in missing.tried))

    return said


def _with_the_rest(ranked: Sequence[LoomMatch], code: CheckCode, panels: int) -> str | None:
    """Say on which looms an error is gone, and which others are left to be mended there.

    A loom that is far too narrow for a panel is named only if all are: the widest, and how much of
    its reed is taken.
    """
    without = [each for each in ranked if each.loom_id and code not in each.codes.errors]
    if not without:
        return None

    def share_pct(match: LoomMatch) -> float:
        is_narrow = CheckCode.WIDTH_REED_SPACE in match.codes.errors
        return match.reed_width_use_pct / panels if is_narrow else 0.0

    nearest = min(without, key=share_pct)
    at = ""
    if share_pct(nearest) > NEARLY_WIDE_ENOUGH_PCT:
        without, at = [nearest], f", where a panel takes {share_pct(nearest):.0f} % of the reed"
    without = [each for each in without if at or share_pct(each) <= NEARLY_WIDE_ENOUGH_PCT]
    left = min((each.codes.errors for each in without), key=len)
    looms = [str(each.loom_id) for each in without if each.codes.errors == left]
    return (
        f"nothing, because only another loom clears it, such as {listed(looms[:MOST_NAMED])}; "
        f"{listed(left)} would be left to be mended there{at}"
    )


def _of_selectors(order: Construction, looms: Sequence[Loom], code: CheckCode) -> str | None:
    """Say how many wefts the looms feed, if it is that for which none weaves an order."""
    most = max(loom.weft_selectors or inf for loom in looms)
    if code is not CheckCode.WEFT_SELECTORS or most == inf or len(order.weft.yarns) <= most:
        return None
    return f"nothing, because none of the looms judged feeds more than {most} weft yarns"
