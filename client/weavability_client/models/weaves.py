"""The answers to the analysis of a weave and of a figured design.

Rows are picks, the first pick first; 1 is a raised warp end, the first end first. Threads, hooks,
shafts and treadles are numbered from 1. What would be too long to print is ``None``, and
``left_out`` says why.
"""

from __future__ import annotations

from collections.abc import Iterator

from weavability_client._record import Scalar
from weavability_client.models._generated import (
    DesignSection,
    DesignSheetFields,
    DesignWeftFigures,
    WeaveSheetFields,
)
from weavability_client.models.answer import Answer, Page, WithFindings
from weavability_client.models.findings import Verdict
from weavability_client.tables import cell, words

MOST_PICTURED = 32 * 32
"""Crossings of the largest repeat that a page shows as squares."""


class WeaveSheet(WithFindings, WeaveSheetFields, Answer):
    """Everything that follows from a weave; its fields are those of ``WeaveSheetFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether nothing among the findings is an error."""
        return not self.errors

    @property
    def rows(self) -> tuple[str, ...] | None:
        """The matrix of the repeat, first pick first; ``1`` is a raised end."""
        return self.repeat.rows

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a finding."""
        return [each.to_row() for each in self.findings]

    def point_paper(self) -> str:
        """Return the repeat as squares, the first pick at the bottom; nothing if it is long."""
        squares = str.maketrans({"1": "█", "0": "·"})
        return "\n".join(row.translate(squares) for row in reversed(self.repeat.rows or ()))

    def _page(self) -> Page:
        """Lay the sheet out."""
        return Page(
            headline=f"{self.name or self.recognised_name or 'weave'}: repeat of "
            f"{self.repeat.ends} ends x {self.repeat.picks} picks",
            facts=self._facts(),
            picture=self.point_paper() if self.repeat.crossings <= MOST_PICTURED else "",
            remarks=[
                *(line for each in self.findings for line in each.lines()),
                *(f"left out {each.pointer}: {each.reason}" for each in self.left_out),
            ],
        )

    def _facts(self) -> list[tuple[str, str]]:
        drafting, floats = self.drafting, self.floats
        together = "hangs together" if self.integrity.hangs_together else "falls apart"
        return [
            ("known as", self.recognised_name or "no name of the trade"),
            ("cloth", f"{together}, {words(self.face)} face, {cell(self.warp_up_pct)} % warp up"),
            (
                "longest floats",
                f"warp {floats.warp_face_float_picks} picks, weft {floats.weft_face_float_ends} "
                f"ends on the face; warp {floats.warp_back_float_picks}, "
                f"weft {floats.weft_back_float_ends} on the back",
            ),
            (
                "drafting",
                f"{drafting.shafts_needed} shafts, {drafting.picks_needed} different picks"
                + (f", {words(drafting.least.kind)} draft" if drafting.least else ""),
            ),
        ]


MOST_PLACES = 5
"""Places that a page names; the answer lists more."""


def design_facts(design: DesignSection | DesignSheetFields) -> Iterator[tuple[str, str]]:
    """Yield what a page says of a figured design, in a report or in an answer of its own."""
    plan, made, conflicts = design.plan, design.correction, design.tie_conflicts
    used = "no Jacquard" if plan.hooks_used is None else f"{plan.hooks_used} in use"
    idle = "" if plan.hooks_idle is None else f", {plan.hooks_idle} idle"
    yield "hooks", f"{used}{idle}"
    picks = ", ".join(f"{key} {number}" for key, number in plan.picks_by_weft.items())
    yield (
        "repeat",
        f"{plan.lines} lines, {plan.repeat_ends} ends x {plan.picks} picks ({picks}), "
        f"{plan.cards} cards",
    )
    whole = ", the whole cloth" if plan.is_whole_cloth else ""
    yield (
        "repeat in the cloth",
        f"{cell(plan.repeat_width_cm)} cm x {cell(plan.repeat_height_cm)} cm{whole}",
    )
    if plan.columns_cast_out or plan.lines_cast_out:
        yield (
            "cast out",
            f"{plan.columns_cast_out} columns and {plan.lines_cast_out} lines of the picture",
        )
    for effect in design.effects:
        face = "" if effect.face is None else f", {effect.face} face"
        weft = f", weft {effect.weft}" if effect.weft else ""
        yield (
            f"effect {effect.name}",
            f"{effect.colour}: {effect.weave}{face}{weft}, {cell(effect.share_pct)} % of the "
            f"picture, {cell(effect.warp_up_pct)} % raised",
        )
    for each in design.wefts:
        yield f"weft {each.key}", ", ".join(_about_weft(each))
    if conflicts.pixels:
        yield "tie", f"{conflicts.pixels} pixels of {conflicts.ends} ends contradict it"
    yield (
        "correction",
        f"{made.dots} dots, {made.floats_left} floats left"
        if made.requested
        else f"not requested; {made.floats_left} floats beyond the limits",
    )
    yield "tightness", _tightness_text(design)
    yield (
        "lift",
        f"{cell(design.lift.mean_pct)} % of the cords on average, "
        f"{cell(design.lift.greatest_pct)} % on pick {design.lift.heaviest_pick}",
    )
    for place in design.places[:MOST_PLACES]:
        yield "place", place.what
    more = len(design.places) - MOST_PLACES
    if more > 0:
        yield "place", f"and {more} more"


def _about_weft(weft: DesignWeftFigures) -> Iterator[str]:
    yield f"{words(weft.role)}, {weft.picks} picks, {words(weft.insert)}"
    if weft.weave is not None:
        yield f"{weft.weave} under figures"
    if weft.back is not None:
        binding = "" if weft.binding is None else f" by {weft.binding}"
        yield f"back {words(weft.back)}{binding}"
    if weft.back_float_mm is not None:
        yield f"longest behind {cell(weft.back_float_mm)} mm"


def _tightness_text(design: DesignSection | DesignSheetFields) -> str:
    found, at = design.tightness, design.tightness.tightest
    mean = f"{cell(found.mean_pct)} % of the jam on average"
    if at is None:
        return mean
    return (
        f"{mean}, {cell(found.greatest_pct)} % at ends {at.first_end}-{at.last_end}, picks "
        f"{at.first_pick}-{at.last_pick}"
    )


class DesignSheet(WithFindings, DesignSheetFields, Answer):
    """What becomes of a figured design on a loom; its fields are those of ``DesignSheetFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether it can be woven."""
        return self.verdict is not Verdict.NOT_WEAVABLE

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row an effect, with the verdict on the whole."""
        return [
            self.picked("reference", "loom_id", "verdict")
            | {"effect": each.name}
            | each.picked(
                *("colour", "weave", "weft", "share_pct", "warp_up_pct", "is_bound"),
                *("longest_warp_float_picks", "longest_weft_float_ends", "dots"),
            )
            for each in self.effects
        ]

    def _page(self) -> Page:
        """Lay the sheet out, with a table of the longest floats."""
        return Page(
            headline=f"design of {self.plan.lines} lines on {self.loom_id or 'the loom'}: "
            f"{words(self.verdict)}",
            facts=list(design_facts(self)),
            rows=[
                {
                    "system": each.system,
                    "side": each.side,
                    "longest float": each.longest,
                    "mm": each.longest_mm,
                    "as drawn": each.longest_before,
                }
                for each in self.floats
            ],
            remarks=[line for each in self.findings for line in each.lines()],
        )
