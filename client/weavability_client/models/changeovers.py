"""What comes out of a change of style."""

from __future__ import annotations

from weavability_client._record import Record, Scalar, record
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Assumption, Verdict
from weavability_client.tables import cell, words


@record
class ChangeoverStep(Record):
    """One piece of work.

    Attributes:
        step: Its key, such as ``change_weft`` or ``tie_in``.
        message: What is done and why.
        hours: How long it takes.
        stops_loom: Whether the loom stands meanwhile; ``False`` for work away from it.
    """

    step: str
    message: str
    hours: float
    stops_loom: bool


@record
class Route(Record):
    """A way to bring the new warp on that was not taken, and how long the loom would stand."""

    route: str
    loom_stop_hours: float
    steps: tuple[ChangeoverStep, ...] = ()


@record
class StyleSummary(Record):
    """What a style asks of the loom: the figures that a change compares."""

    reference: str | None = None
    verdict: Verdict
    total_ends: int
    reed_dents_per_10cm: float
    ends_per_dent: float
    shafts_used: int | None = None
    draft: str | None = None
    hooks_used: int | None = None
    reed_width_cm: float
    picks_per_cm: float
    weft_selectors_used: int


@record
class ChangeoverReport(Answer):
    """What a change of style asks for, and how long it takes.

    Attributes:
        route: How the warp is brought on: ``keep``, ``change_reed``, ``tie_in``, ``draw_in``,
            ``thread_jacquard`` or ``tie_harness``.
        steps: All work in order.
        loom_stop_hours: Hours that the loom stands.
        off_loom_hours: Hours of work away from the loom.
        alternatives: The ways not taken, the shortest stop first.
        old: The style on the loom.
        new: The style to come.
    """

    loom_id: str | None = None
    route: str
    steps: tuple[ChangeoverStep, ...]
    loom_stop_hours: float
    off_loom_hours: float
    alternatives: tuple[Route, ...] = ()
    old: StyleSummary
    new: StyleSummary
    assumptions: tuple[Assumption, ...] = ()
    caution: str

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
            f"the loom stands {cell(self.loom_stop_hours)} h",
            facts=[
                ("off the loom", f"{cell(self.off_loom_hours)} h"),
                ("new style", words(self.new.verdict)),
                *(
                    (f"or {words(each.route)}", f"{cell(each.loom_stop_hours)} h standing")
                    for each in self.alternatives
                ),
            ],
            header=("step", "hours", "loom stands", "what"),
            rows=[
                (words(each.step), each.hours, "yes" if each.stops_loom else "no", each.message)
                for each in self.steps
            ],
            remarks=[f"assumed: {len(self.assumptions)} values (report.assumptions)", self.caution],
        )
