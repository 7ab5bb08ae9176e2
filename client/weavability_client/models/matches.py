"""What comes out of matching a construction with looms."""

from __future__ import annotations

from collections.abc import Mapping

from weavability_client._record import Record, Scalar, record
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Assumption, Verdict
from weavability_client.tables import words


@record
class Codes(Record):
    """Codes of the findings by severity, each once."""

    errors: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@record
class ChangeoverSummary(Record):
    """The change from the cloth that is on the loom."""

    route: str
    loom_stop_hours: float
    off_loom_hours: float


@record
class LoomMatch(Record):
    """One loom in the ranking.

    Attributes:
        rank: 1 for the best.
        index: Its place among the looms as given, from 0.
        running_hours: For the order, or for 1000 m where it states no length.
        hours: Running and change-over together; what the ranking compares.
        idle_shafts: Shafts of the loom that stay empty; ``None`` on a Jacquard.
        idle_hooks: Hooks cast out; ``None`` without a Jacquard.
        changeover: From what is on the loom, where that was stated.
        reason: In a line, why it stands where it stands.
    """

    rank: int
    index: int
    loom_id: str | None = None
    verdict: Verdict
    codes: Codes
    speed_picks_per_min: float
    limited_by: str
    insertion_rate_m_per_min: float
    output_m_per_h: float
    running_hours: float
    hours: float
    reed_width_use_pct: float
    idle_shafts: int | None = None
    idle_hooks: int | None = None
    changeover: ChangeoverSummary | None = None
    reason: str

    @property
    def ok(self) -> bool:
        """Whether the cloth can be woven on this loom, with warnings or without."""
        return self.verdict is not Verdict.NOT_WEAVABLE


@record
class MatchReport(Answer):
    """Every loom, the best first.

    Attributes:
        counts: Looms by verdict.
        assumptions: On the construction; those on a loom are in its own validation.
    """

    ruleset: str
    reference: str | None = None
    ranked_by: str
    counts: Mapping[str, int]
    matches: tuple[LoomMatch, ...]
    assumptions: tuple[Assumption, ...] = ()
    caution: str

    @property
    def ok(self) -> bool:
        """Whether any of the looms can weave the cloth."""
        return any(each.ok for each in self.matches)

    @property
    def best(self) -> LoomMatch | None:
        """The first loom of the ranking that can weave the cloth; ``None`` where none can."""
        return next((each for each in self.matches if each.ok), None)

    def match(self, loom_id: str) -> LoomMatch | None:
        """Return the place of one loom, or ``None`` where it was not tried."""
        return next((each for each in self.matches if each.loom_id == loom_id), None)

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a loom, the best first."""
        return [
            each.to_row()
            | {
                f"codes.{kind}": " ".join(getattr(each.codes, kind))
                for kind in ("errors", "warnings", "notes")
            }
            for each in self.matches
        ]

    def _page(self) -> Page:
        """Lay the ranking out, a loom a line."""
        return Page(
            headline=f"{self.reference or 'construction'}: "
            + ", ".join(f"{number} {words(verdict)}" for verdict, number in self.counts.items()),
            header=(
                "rank",
                "loom",
                "verdict",
                "picks/min",
                "weft m/min",
                "reed %",
                "hours",
                "findings",
            ),
            rows=[_row(each) for each in self.matches],
            remarks=[
                *(f"{each.rank} {each.loom_id or ''}: {each.reason}" for each in self.matches[:1]),
                f"ranked by {self.ranked_by}",
                self.caution,
            ],
        )


def _row(match: LoomMatch) -> tuple[object, ...]:
    return (
        match.rank,
        match.loom_id,
        words(match.verdict),
        match.speed_picks_per_min,
        match.insertion_rate_m_per_min,
        match.reed_width_use_pct,
        match.hours,
        " ".join(match.codes.errors or match.codes.warnings),
    )
