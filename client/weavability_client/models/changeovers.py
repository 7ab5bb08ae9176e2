"""The answers to a change of style, and to several orders on one loom."""

from __future__ import annotations

from weavability_client._record import Scalar
from weavability_client.models._generated import (
    ChangeoverReportFields,
    Route,
    SequenceReportFields,
    ValueBand,
)
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Severity, Verdict
from weavability_client.tables import cell, words


class ChangeoverReport(ChangeoverReportFields, Answer):
    """What a change of style needs; its fields are those of ``ChangeoverReportFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether the new style can be woven on the loom."""
        return self.new.verdict is not Verdict.NOT_WEAVABLE

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a step, in order; without a route, one a finding.

        Every row also has the route, the whole stop, the width and the warp; a change without any
        work is a row of these.
        """
        if self.route is None:
            return [each.to_row() for each in self.findings or ()]
        whole = self.picked(
            *("route", "loom_stop_hours", "loom_stop_hours_at_start", "further_warps_hours"),
            "off_loom_hours",
        )
        for name, part in (("width", self.width), ("warp", self.warp)):
            row = {} if part is None else part.to_row()
            whole |= {f"{name}.{key}": value for key, value in row.items()}
        return [each.to_row() | whole for each in self.steps] or [whole]

    def _page(self) -> Page:
        """Lay the change out, a step a line; of a style that cannot be woven, its findings."""
        between = (
            f"{self.old.reference or 'old style'} to {self.new.reference or 'new style'}"
            f" on {self.loom_id or 'the loom'}"
        )
        findings = [
            *(str(each) for each in self.findings or ()),
            *(f"on the loom: {each}" for each in self.findings_on_loom or ()),
        ]
        if self.route is None or self.loom_stop_hours is None:
            return Page(headline=f"{between}: {words(self.new.verdict)}", remarks=findings)
        return Page(
            headline=f"{between}: {words(self.route)}, "
            f"the loom is stopped for {_hours(self.loom_stop_hours, self.loom_stop_hours_band)}",
            facts=[
                *_at_start(self.loom_stop_hours, self.loom_stop_hours_at_start),
                *_further_warps(self.further_warps_hours, self.further_warps_hours_band),
                ("off the loom", f"{cell(self.off_loom_hours)} h"),
                ("new style", words(self.new.verdict)),
                *([("width", self.width.message)] if self.width else []),
                *([("warp", self.warp.message)] if self.warp else []),
                *((f"or {words(each.route)}", _alternative(each)) for each in self.alternatives),
            ],
            rows=[
                {
                    "step": words(each.step),
                    "hours": each.hours,
                    "loom stopped": "yes" if each.stops_loom else "no",
                    "what": each.message,
                }
                for each in self.steps
            ],
            remarks=findings,
        )


class SequenceReport(SequenceReportFields, Answer):
    """The best sequence of orders on a loom; its fields are those of ``SequenceReportFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether every order can be woven on the loom."""
        return not self.not_weavable

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row an order, in the sequence found."""
        return [each.to_row() for each in self.sequence]

    def _page(self) -> Page:
        """Lay the sequence out, an order a line."""
        return Page(
            headline=f"{len(self.sequence)} orders on {self.loom_id or 'the loom'}: the loom is "
            f"stopped for {_hours(self.loom_stop_hours, self.loom_stop_hours_band)}",
            facts=[
                *_further_warps(self.further_warps_hours, self.further_warps_hours_band),
                (
                    "in the order given",
                    _with_further(self.given_loom_stop_hours, self.given_further_warps_hours),
                ),
                ("saved", _hours(self.saved_hours, self.saved_hours_band)),
                ("off the loom", f"{cell(self.off_loom_hours)} h"),
            ],
            rows=[
                {
                    "order": each.reference or f"order {each.index + 1}",
                    "verdict": words(each.verdict),
                    "route": words(each.route) or "set up already",
                    "loom stopped h": each.loom_stop_hours,
                    "further warps h": each.further_warps_hours,
                    "grey cm": each.width.grey_width_cm,
                    "warp left m": each.warp and each.warp.left_after_m,
                    "work": ", ".join(words(step.step) for step in each.steps),
                }
                for each in self.sequence
            ],
            remarks=[
                *(
                    f"{each.reference or f'order {each.index + 1}'} is left out: {finding}"
                    for each in self.not_weavable
                    for finding in each.findings
                    if finding.severity == Severity.ERROR
                ),
                *(f"on the loom: {each}" for each in self.findings_on_loom or ()),
            ],
        )


def _hours(hours: float, band: ValueBand | None) -> str:
    """Write hours with their band, if there is one."""
    between = "" if band is None else f" ({cell(band.low)} to {cell(band.high)})"
    return f"{cell(hours)} h{between}"


def _further_warps(hours: float | None, band: ValueBand | None) -> list[tuple[str, str]]:
    """Return the line of the further warps, if there are any."""
    return [("further warps", _hours(hours, band))] if hours else []


def _with_further(hours: float, further: float | None) -> str:
    """Write the stops for changes, and those for further warps beside them, if there are any."""
    return f"{cell(hours)} h" + (f", and {cell(further)} h for further warps" if further else "")


def _at_start(hours: float, at_start: float | None) -> list[tuple[str, str]]:
    """Say how much of a stop comes before the new style is woven, if some comes later."""
    if at_start is None or at_start == hours:
        return []
    later = f"{cell(at_start)} h; the other {cell(hours - at_start)} h when the warp is woven out"
    return [("at the start", later)]


def _alternative(route: Route) -> str:
    return f"{cell(route.loom_stop_hours)} h stopped" + (f"; {route.needs}" if route.needs else "")
