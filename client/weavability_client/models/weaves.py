"""The answer to the analysis of a weave, and the list of names.

Rows are picks, the first pick first; 1 is a raised warp end, the first end first. Threads, shafts
and treadles are numbered from 1. What would be too long to print is ``None``, and ``left_out`` says
why.
"""

from __future__ import annotations

from weavability_client._record import Scalar
from weavability_client.models._generated import WeaveNotationsFields, WeaveSheetFields
from weavability_client.models.answer import Answer, Listing, Page, WithFindings, assumed_line
from weavability_client.tables import cell, words

MOST_PICTURED = 32 * 32
"""Crossings of the largest repeat that a page shows as squares."""


class WeaveNotations(WeaveNotationsFields, Listing):
    """How weaves are written, and the names of the trade; see ``WeaveNotationsFields``."""

    __slots__ = ()

    _texts = dict.fromkeys(
        ("notations", "names"), lambda each: " ".join((each.name, *(each.aliases or ())))
    )

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a notation or name."""
        notations: list[dict[str, Scalar]] = [
            {
                "name": each.name,
                "aliases": ", ".join(each.aliases or ()),
                "write": each.pattern,
                "read_as": each.example if isinstance(each.example, str) else None,
                "meaning": each.meaning,
            }
            for each in self.notations
        ]
        return notations + [
            {
                "name": each.name,
                "aliases": ", ".join(each.aliases),
                "write": each.example,
                "read_as": each.reads_as,
                "meaning": each.leaves_open or each.answer or each.meaning,
            }
            for each in self.names or ()
        ]

    def _page(self) -> Page:
        """Lay the list out: a line a name, and what it leaves open."""
        names = self.names or ()
        return Page(
            headline=f"notations: {len(self.notations)}; names of the trade: {len(names)}",
            header=("name", "write", "read as"),
            rows=[(each["name"], each["write"], each["read_as"]) for each in self.to_rows()],
            remarks=[
                f"{each.name}: {each.leaves_open or each.answer}"
                for each in names
                if each.leaves_open or each.answer
            ]
            + ([self.caution] if self.caution else []),
        )


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
                assumed_line(self.assumptions),
                self.caution,
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
