"""The answer on a figured design.

Ends, picks and hooks are numbered from 1; the first pick is at the bottom of a picture.
"""

from __future__ import annotations

from weavability_client._record import Scalar
from weavability_client.models._generated import DesignSheetFields
from weavability_client.models.answer import Answer, Page, assumed_line
from weavability_client.models.findings import Finding, Severity, Verdict
from weavability_client.tables import cell, words


class DesignSheet(DesignSheetFields, Answer):
    """What becomes of a figured design on a loom; its fields are those of ``DesignSheetFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether it can be woven."""
        return self.verdict is not Verdict.NOT_WEAVABLE

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Findings because of which it cannot be woven."""
        return tuple(each for each in self.findings if each.severity is Severity.ERROR)

    def finding(self, code: str) -> Finding | None:
        """Return the first finding with ``code``, such as ``design.tie_conflict``, or ``None``."""
        return next((each for each in self.findings if each.code == code), None)

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row an effect."""
        return [
            {
                "effect": each.name,
                "colour": each.colour,
                "weft": each.weft,
                "share_pct": each.share_pct,
                "warp_up_pct": each.warp_up_pct,
                "is_bound": each.is_bound,
                "longest_warp_float_picks": each.longest_warp_float_picks,
                "longest_weft_float_ends": each.longest_weft_float_ends,
                "dots": each.dots,
            }
            for each in self.effects
        ]

    def _page(self) -> Page:
        """Lay the sheet out: a line an effect."""
        rows = self.to_rows()
        return Page(
            headline=f"design of {self.plan.lines} lines on {self.loom_id or 'the loom'}: "
            f"{words(self.verdict)}",
            facts=self._facts(),
            header=[words(name) for name in rows[0]] if rows else (),
            rows=[list(each.values()) for each in rows],
            remarks=[
                *(line for each in self.findings for line in each.lines()),
                assumed_line(self.assumptions),
                self.caution,
            ],
        )

    def _facts(self) -> list[tuple[str, str]]:
        plan, made = self.plan, self.correction
        used = "no Jacquard" if plan.hooks_used is None else f"{plan.hooks_used} in use"
        idle = "" if plan.hooks_idle is None else f", {plan.hooks_idle} idle"
        return [
            ("hooks", f"{used}{idle}"),
            ("repeat", f"{plan.repeat_ends} ends x {plan.picks} picks, {plan.cards} cards"),
            (
                "repeat in the cloth",
                f"{cell(plan.repeat_width_cm)} cm x {cell(plan.repeat_height_cm)} cm",
            ),
            *(
                (
                    f"longest {each.system} float, {each.side}",
                    f"{each.longest} threads, {cell(each.longest_mm)} mm; as drawn "
                    f"{each.longest_before}",
                )
                for each in self.floats
            ),
            (
                "correction",
                f"{made.dots} dots, {made.floats_left} floats left"
                if made.requested
                else f"not requested; {made.floats_left} floats beyond the limits",
            ),
            (
                "lift",
                f"{cell(self.lift.mean_pct)} % of the cords on average, "
                f"{cell(self.lift.greatest_pct)} % on pick {self.lift.heaviest_pick}",
            ),
        ]
