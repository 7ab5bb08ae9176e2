"""The answer to a change of style."""

from __future__ import annotations

from weavability_client._record import Scalar
from weavability_client.models._generated import ChangeoverReportFields
from weavability_client.models.answer import Answer, Page, assumed_line
from weavability_client.models.findings import Verdict
from weavability_client.tables import cell, words


class ChangeoverReport(ChangeoverReportFields, Answer):
    """What a change of style needs; its fields are those of ``ChangeoverReportFields``."""

    __slots__ = ()

    @property
    def ok(self) -> bool:
        """Whether the new style can be woven on the loom."""
        return self.new.verdict is not Verdict.NOT_WEAVABLE

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a step, in order."""
        return [each.to_row() for each in self.steps]

    def _page(self) -> Page:
        """Lay the change out, a step a line."""
        return Page(
            headline=f"{self.old.reference or 'old style'} to {self.new.reference or 'new style'}"
            f" on {self.loom_id or 'the loom'}: {words(self.route)}, "
            f"the loom is stopped for {cell(self.loom_stop_hours)} h",
            facts=[
                ("off the loom", f"{cell(self.off_loom_hours)} h"),
                ("new style", words(self.new.verdict)),
                *(
                    (f"or {words(each.route)}", f"{cell(each.loom_stop_hours)} h stopped")
                    for each in self.alternatives
                ),
            ],
            header=("step", "hours", "loom stopped", "what"),
            rows=[
                (words(each.step), each.hours, "yes" if each.stops_loom else "no", each.message)
                for each in self.steps
            ],
            remarks=[assumed_line(self.assumptions), self.caution],
        )
