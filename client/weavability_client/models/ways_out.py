"""The answers that look beyond one order on one loom: ranked looms, remedies, windows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from math import isnan
from numbers import Real
from typing import Final

from weavability_client._record import Scalar
from weavability_client.errors import UsageError
from weavability_client.models._generated import (
    LoomMatchFields,
    LoomRemedies,
    MatchReportFields,
    OtherLoom,
    RemedyReportFields,
    WindowAxis,
    WindowCase,
    WindowFields,
    WindowPoint,
)
from weavability_client.models.answer import Answer, Page, WithRequest, of_another_answer
from weavability_client.models.deciding import decides
from weavability_client.models.findings import Remedy, Verdict
from weavability_client.tables import cell, money, words


class LoomMatch(LoomMatchFields):
    """A loom in the ranking; its fields are those of ``LoomMatchFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether the cloth can be woven on this loom, with warnings or without."""
        return self.verdict is not Verdict.NOT_WEAVABLE


class MatchReport(MatchReportFields, Answer):
    """The looms, ranked; its fields are those of ``MatchReportFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether any of the looms can weave the cloth."""
        return self.best is not None

    @property
    def best(self) -> LoomMatch | None:
        """The first loom of the ranking that can weave the cloth; ``None`` if none can."""
        return next((each for each in self.matches if each.ok), None)

    def match(self, loom_id: str) -> LoomMatch | None:
        """Return the place of one loom, or ``None`` if it was not tried."""
        return next((each for each in self.matches if each.loom_id == loom_id), None)

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a loom, the best first."""
        return [{"reference": self.reference, **self._row(each)} for each in self.matches]

    def _row(self, match: LoomMatch) -> dict[str, Scalar]:
        found = match.codes
        row = match.to_row() | {
            "codes.errors": " ".join(found.errors),
            "codes.warnings": " ".join(found.warnings),
            "codes.notes": " ".join(found.notes),
            "codes": " ".join((*found.errors, *found.warnings, *found.notes)),
            "rejected_if_assumed": " ".join(match.rejected_if_assumed or ()),
        }
        if match.costs:
            row["currency"] = self.currency
            row["costs.not_priced"] = "; ".join(match.costs.not_priced)
        if match.decisive_assumptions is not None:
            said = [match.verdict_holds_note] if match.verdict_holds_note else []
            said += [each.message for each in match.decisive_assumptions]
            if match.turning_corner is not None:
                said.append(match.turning_corner.message)
            row["decisive_assumptions"] = " ".join(said)
        return row

    def _page(self) -> Page:
        """Lay the ranking out, a loom a line."""
        return Page(
            headline=f"{self.reference or 'construction'}: "
            + ", ".join(f"{number} {words(verdict)}" for verdict, number in self.counts.items()),
            rows=list(map(self._line, self.matches)),
            least=("reed %", "weft m/min", "findings", "picks/min"),
            remarks=[
                *(f"{each.rank} {each.loom_id or ''}: {each.reason}" for each in self.matches[:1]),
                *_doubts([each for each in self.matches if each.rejected_if_assumed]),
                *self._rests_on(),
                f"ranked by {self.ranked_by}",
            ],
        )

    def _line(self, match: LoomMatch) -> dict[str, object]:
        cost = {f"{self.currency or 'cost'}/m": match.costs and money(match.costs.cost_per_m)}
        has_doubts = any(each.rejected_if_assumed for each in self.matches)
        return {
            "rank": match.rank,
            "loom": match.loom_id,
            "verdict": words(match.verdict),
            **(_if_as_assumed(match) if has_doubts else {}),
            "picks/min": match.speed_picks_per_min,
            "weft m/min": match.insertion_rate_m_per_min,
            "reed %": match.reed_width_use_pct,
            "hours": match.hours,
            **(cost if any(each.costs for each in self.matches) else {}),
            "findings": " ".join(match.codes.errors or match.codes.warnings),
        }

    def _rests_on(self) -> Iterator[str]:
        """Yield what the verdicts rest on, if that was requested."""
        for each in self.matches:
            loom = f"{each.rank} {each.loom_id or ''}"
            yield from (f"{loom}: {line}" for line in decides(each))

    def _below(self) -> Iterator[str]:
        """Yield the caution only: the values assumed differ from loom to loom."""
        yield self.caution


class RemedyReport(WithRequest, RemedyReportFields, Answer):
    """The remedies of an order; its fields are those of ``RemedyReportFields``."""

    __slots__ = ("_request",)

    @property
    def ok(self) -> bool:
        """Whether a remedy makes the order weavable on a loom searched, or one weaves it as is."""
        return self.best is not None or any(map(_is_woven, self.looms)) or bool(self.other_looms)

    @property
    def best(self) -> Remedy | None:
        """The smallest remedy after which the order is weavable on the first loom that has one.

        One after which it is so only if what is assumed is not so is it only without another.
        """
        found = (self.best_on(each.loom_id) for each in self.looms)
        return next((each for each in found if each is not None), None)

    def best_on(self, loom_id: str | None) -> Remedy | None:
        """Return the smallest remedy after which the order is weavable on a loom, or ``None``.

        See :attr:`best`.
        """
        makes = (
            remedy
            for loom in self.looms
            if loom.loom_id == loom_id
            for remedy in loom.remedies
            if remedy.verdict not in (None, Verdict.NOT_WEAVABLE)
        )
        # Of an order that is weavable they are listed by distance alone.
        return next(iter(sorted(makes, key=lambda each: bool(each.rejected_if_assumed))), None)

    def _for_remedy(self, request: Mapping[str, object], remedy: Remedy) -> Mapping[str, object]:
        named = {name: value for name, value in request.items() if name != "loom_ids"}
        here = [each for each in self.looms if remedy in each.remedies]
        if not here:
            raise of_another_answer(remedy, "is listed for none of its looms")
        # Two looms may have equal remedies: that which was taken from one is of it.
        of_it = (each for each in here if any(one is remedy for one in each.remedies))
        loom_id = next(of_it, here[0]).loom_id
        if "loom" not in named and loom_id is not None:
            named["loom_id"] = loom_id
        return named

    def _numbered(self) -> Iterator[tuple[LoomRemedies, int, Remedy]]:
        for loom in self.looms:
            for number, remedy in enumerate(loom.remedies, 1):
                yield loom, number, remedy

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a remedy, a finding that nothing clears, and a loom that is named.

        The looms are those not searched, and the others that weave the order as it is.

        ``row`` says which of them it is.
        """
        nothing = dict.fromkeys(Remedy(pointer="", message="", clears=()).to_row())
        blank = {"remedy": None, **nothing}
        blank |= dict.fromkeys(("not_found", "tried", "hours", "cost_per_m"))
        rows: list[dict[str, Scalar]] = []

        def add(row: str, loom_id: str | None, **values: Scalar) -> None:
            head: dict[str, Scalar] = {"reference": self.reference, "loom_id": loom_id}
            rows.append({**head, **blank, **values, "row": row})

        for loom in self.looms:
            for number, remedy in enumerate(loom.remedies, 1):
                add("remedy", loom.loom_id, remedy=number, **remedy.to_row())
            for each in loom.not_found:
                add("not_found", loom.loom_id, not_found=each.code, tried="; ".join(each.tried))
        for left_out in self.not_searched:
            add("not_searched", left_out)
        for other in self.other_looms:
            doubts = " ".join(other.rejected_if_assumed or ())
            named: dict[str, Scalar] = {**other.picked("verdict", "hours")}
            cost = None if other.costs is None else other.costs.cost_per_m
            add("other_loom", other.loom_id, **named, rejected_if_assumed=doubts, cost_per_m=cost)
        return rows

    def _page(self) -> Page:
        """Lay the remedies out, a line each."""
        has_doubts = any(each.rejected_if_assumed for _, _, each in self._numbered())
        return Page(
            headline=f"{self.reference or 'construction'}: "
            + ", ".join(f"{each.loom_id or 'loom'} {words(each.verdict)}" for each in self.looms),
            rows=[
                {
                    "loom": loom.loom_id,
                    "no.": number,
                    "points": remedy.distance,
                    "then": words(remedy.verdict),
                    **(_if_as_assumed(remedy) if has_doubts else {}),
                    "change": remedy.message,
                    "clears": " ".join(remedy.clears),
                }
                for loom, number, remedy in self._numbered()
            ],
            least=("points",),
            remarks=list(self._remarks()),
        )

    def _remarks(self) -> Iterator[str]:
        for loom in self.looms:
            name = loom.loom_id or "loom"
            if loom.rejected_if_assumed:
                codes = ", ".join(loom.rejected_if_assumed)
                yield f"{name}: not weavable ({codes}) as it is, if what is assumed is so"
            for number, remedy in enumerate(loom.remedies, 1):
                if altered := remedy.altered():
                    yield f"{name} {number}: {altered}"
            if not _is_woven(loom) and self.best_on(loom.loom_id) is None:
                yield f"{name}: nothing found makes the order weavable here"
            if loom.trials_used_up:
                yield f"{name}: the trials of a search were used up; something may be left untried"
            for each in loom.not_found:
                tried = ", ".join(each.tried) or "nothing: only another loom helps"
                yield f"{name}: no remedy found for {each.code}; tried {tried}"
        if self.not_searched:
            unsearched = (str(each or "a loom without a name") for each in self.not_searched)
            yield f"not searched, because others rank before them: {', '.join(unsearched)}"
        sure = [each for each in self.other_looms if not each.rejected_if_assumed]
        if sure:
            yield f"weavable as it is on {', '.join(map(_named, sure))}"
        yield from _doubts([each for each in self.other_looms if each.rejected_if_assumed])


def _named(other: OtherLoom) -> str:
    """Name a loom, with the hours and the cost of a metre as far as they are known."""
    cost = None if other.costs is None else other.costs.cost_per_m
    known = [
        *([] if other.hours is None else [f"{cell(other.hours)} h"]),
        *([] if cost is None else [f"{money(cost)} per m"]),
    ]
    return f"{other.loom_id} ({', '.join(known)})" if known else str(other.loom_id)


def _if_as_assumed(one: LoomMatch | Remedy) -> dict[str, object]:
    """Return the cell that says what comes of an order if all is as it is assumed."""
    return {"if as assumed": "not weavable" if one.rejected_if_assumed else None}


def _doubts(doubtful: Sequence[LoomMatch | OtherLoom]) -> Iterator[str]:
    """Say on which looms an order is weavable only if not all is as it is assumed."""
    if doubtful:
        codes = [", ".join(each.rejected_if_assumed or ()) for each in doubtful]
        looms = [each.loom_id or "a loom without a name" for each in doubtful]
        named = (f"{loom} ({of_it})" for loom, of_it in zip(looms, codes, strict=True))
        yield (
            f"if what is assumed is so, not weavable on {', '.join(named)}: a validation on the "
            "loom says what to state"
        )


def _is_woven(loom: LoomRemedies) -> bool:
    return loom.verdict is not Verdict.NOT_WEAVABLE


_SIGNS: Final = {
    Verdict.WEAVABLE: ".",
    Verdict.WEAVABLE_WITH_WARNINGS: "!",
    Verdict.NOT_WEAVABLE: "#",
    None: " ",
}
_IN_DOUBT: Final = "?"
_OWN: Final = "+"
_NEAREST: Final = "o"
_KEY: Final = (
    "key: . weavable, ! with warnings, # not weavable,\n"
    "     ? not weavable if what is assumed is so,\n"
    f"     {_OWN} this order, {_NEAREST} nearest better"
)
_WIDEST: Final = 60
_HIGHEST: Final = 20
_MOST_OUTCOMES: Final = 30


class Window(WindowFields, Answer):
    """A window of feasibility; its fields are those of ``WindowFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether the order as it is can be woven, with warnings or without."""
        return self.own.verdict is not Verdict.NOT_WEAVABLE

    def case_at(self, across: float, along: float) -> WindowCase:
        """Return what holds at the point of the grid that is nearest to two values.

        Args:
            across: Value of the field that is varied along a row, in its unit.
            along: Value of the field that is varied from row to row, in its unit.

        Raises:
            UsageError: A value is no number, or outside of the window by more than half a step.
        """
        row = _place(self.along, along, "along")
        column = _place(self.across, across, "across")
        return self.cases[self.grid[row][column]]

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a point, for a data frame or a spreadsheet."""
        lines = zip(self.along.values, self.grid, self.speeds_picks_per_min, strict=True)
        return [
            {
                self.across.pointer: across,
                self.along.pointer: along,
                **self.cases[place].picked("verdict"),
                "errors": " ".join(self.cases[place].errors),
                "warnings": " ".join(self.cases[place].warnings),
                "limited_by": self.cases[place].limited_by,
                "speed_picks_per_min": speed,
                "rejected_if_assumed": " ".join(self.cases[place].rejected_if_assumed),
            }
            for along, places, speeds in lines
            for across, place, speed in zip(self.across.values, places, speeds, strict=True)
        ]

    def _page(self) -> Page:
        """Lay the window out: what decides as a table, and the field in signs."""
        loom = f" on {self.loom_id}" if self.loom_id else ""
        note = f" ({self.nearest_note})" if self.nearest_note else ""
        nearest = self.nearest_note or "none in this window"
        if self.nearest:
            nearest = self._point_text(self.nearest) + note
        rows = self._outcome_rows()
        more = len(rows) - _MOST_OUTCOMES
        return Page(
            headline=f"{self.reference or 'construction'}{loom}: "
            f"{self.across.words} and {self.along.words}",
            facts=[
                ("across", _span(self.across)),
                ("along", _span(self.along)),
                ("the order", self._point_text(self.own)),
                ("nearest better", nearest),
            ],
            rows=rows[:_MOST_OUTCOMES],
            least=("rejected if assumed",),
            picture="\n".join([*self._picture(), _KEY]),
            remarks=[] if more <= 0 else [f"not listed here but among the cases: {more} more"],
        )

    def _outcome_rows(self) -> list[dict[str, object]]:
        """Return a row for the cases in which the same decides, the most frequent first.

        They may differ in notes and in what limits the speed.
        """
        alike: dict[tuple[object, ...], list[WindowCase]] = {}
        for case in self.cases:
            key = case.verdict, case.decided_by, case.rejected_if_assumed
            alike.setdefault(key, []).append(case)
        total = sum(case.points for case in self.cases)
        in_doubt = any(case.rejected_if_assumed for case in self.cases)
        return [
            {
                "verdict": words(some[0].verdict) or "cannot be requested",
                "share %": round(100 * _points(some) / total, 1),
                "decided by": _deciding(some),
                **(
                    {"rejected if assumed": " ".join(some[0].rejected_if_assumed)}
                    if in_doubt
                    else {}
                ),
            }
            for some in sorted(alike.values(), key=_points, reverse=True)
        ]

    def _point_text(self, point: WindowPoint) -> str:
        codes = f" ({', '.join(point.codes)})" if point.codes else ""
        rejected = ", ".join(point.rejected_if_assumed)
        doubt = f"; not weavable if what is assumed is so ({rejected})" if rejected else ""
        return (
            f"{_value(self.across, point.across)}, {_value(self.along, point.along)}: "
            f"{words(point.verdict)}{codes}{doubt}"
        )

    def _picture(self) -> list[str]:
        """Draw the field in signs with its axes, the greatest value of ``along`` at the top."""
        rows, columns = _thinned(len(self.grid), _HIGHEST), _thinned(len(self.grid[0]), _WIDEST)
        signs = [
            _IN_DOUBT if case.rejected_if_assumed else _SIGNS.get(case.verdict, "*")
            for case in self.cases
        ]
        field = [[signs[self.grid[row][column]] for column in columns] for row in rows]
        for sign, point in ((_NEAREST, self.nearest), (_OWN, self.own)):
            if point is not None and self._has(point):
                row = _nearest([self.along.values[each] for each in rows], point.along)
                column = _nearest([self.across.values[each] for each in columns], point.across)
                field[row][column] = sign
        low, high = (cell(self.along.values[end]) for end in (0, -1))
        left, right = (cell(self.across.values[end]) for end in (0, -1))
        wide = max(len(low), len(high))
        ends = [low, *([""] * (len(field) - 2)), high]
        lines = [f"{end:>{wide}} |{''.join(line)}" for end, line in zip(ends, field, strict=True)]
        between = " " * max(1, len(columns) - len(left) - len(right))
        return [
            f"{_label(self.along)}, upwards",
            *reversed(lines),
            f"{'':{wide}}  {left}{between}{right}",
            f"{'':{wide}}  {_label(self.across)}",
        ]

    def _has(self, point: WindowPoint) -> bool:
        """Return whether a point is in the window."""
        return _is_within(self.across, point.across) and _is_within(self.along, point.along)


def _points(cases: Sequence[WindowCase]) -> int:
    return sum(case.points for case in cases)


def _deciding(cases: Sequence[WindowCase]) -> str:
    """Return what decides in cases of one outcome, and what does besides in some of them."""
    codes = [case.errors or case.warnings for case in cases]
    always = [code for code in codes[0] if all(code in each for each in codes)]
    more = dict.fromkeys(code for each in codes for code in each if code not in always)
    return " ".join([*always, *(["(in part also", f"{', '.join(more)})"] if more else [])])


def _is_within(axis: WindowAxis, value: float | None) -> bool:
    """Return whether a value is no more than half a step outside of those of an axis."""
    values = axis.values
    half = (values[-1] - values[0]) / (len(values) - 1) / 2 if len(values) > 1 else 0.0
    return value is not None and values[0] - half <= value <= values[-1] + half


def _place(axis: WindowAxis, given: object, argument: str) -> int:
    """Return the place of the value of an axis that is nearest to a number.

    Raises:
        UsageError: It is no number, or outside of the window.
    """
    if isinstance(given, bool) or not isinstance(given, Real) or isnan(given):
        raise UsageError(f"{argument} must be a number, not {given!r}: {_span(axis)}")
    value = float(given)
    if not _is_within(axis, value):
        raise UsageError(f"{_value(axis, value)} is outside of this window: {_span(axis)}")
    return _nearest(axis.values, value)


def _nearest(values: Sequence[float], value: float | None) -> int:
    return min(range(len(values)), key=lambda place: abs(values[place] - (value or 0.0)))


def _thinned(count: int, most: int) -> list[int]:
    """Return at most so many places, from the first to the last."""
    if count <= most:
        return list(range(count))
    return [round(place * (count - 1) / (most - 1)) for place in range(most)]


def _unit(axis: WindowAxis) -> str:
    """Return the unit of a field, unless its name says it: ends per cm."""
    unit = axis.unit
    if unit is None or re.search(
        rf"\b{re.escape(unit.replace('/', ' per '))}(?:ch)?\b", axis.words
    ):
        return ""
    return f" {unit.removesuffix(f' {_GAP}')}"


def _label(axis: WindowAxis) -> str:
    """Return the label of an axis: its field and unit."""
    return f"{axis.words},{unit}" if (unit := _unit(axis)) else axis.words


def _span(axis: WindowAxis) -> str:
    first, last = axis.values[0], axis.values[-1]
    return f"{axis.words}, {cell(first)} to {cell(last)}{_unit(axis)}"


def _value(axis: WindowAxis, value: float | None) -> str:
    if value is None:
        return f"{axis.words} not stated"
    if axis.unit is not None and _GAP in axis.unit:
        return f"{axis.words} {axis.unit.replace(_GAP, cell(value))}"
    return f"{axis.words} {cell(value)}{_unit(axis)}"


_GAP: Final = "…"
"""The place of the count in a designation."""
