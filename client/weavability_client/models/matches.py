"""The looms for a construction, ranked."""

from __future__ import annotations

from collections.abc import Iterator

from weavability_client._record import Scalar
from weavability_client.models._generated import LoomMatchFields, MatchReportFields
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Verdict
from weavability_client.tables import money, words


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
        return any(each.ok for each in self.matches)

    @property
    def best(self) -> LoomMatch | None:
        """The first loom of the ranking that can weave the cloth; ``None`` if none can."""
        return next((each for each in self.matches if each.ok), None)

    def match(self, loom_id: str) -> LoomMatch | None:
        """Return the place of one loom, or ``None`` if it was not tried."""
        return next((each for each in self.matches if each.loom_id == loom_id), None)

    @property
    def _is_priced(self) -> bool:
        return any(each.costs is not None for each in self.matches)

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a loom, the best first."""
        return [
            {"reference": self.reference}
            | each.to_row()
            | {
                f"codes.{kind}": " ".join(getattr(each.codes, kind))
                for kind in ("errors", "warnings", "notes")
            }
            | {"codes": " ".join((*each.codes.errors, *each.codes.warnings, *each.codes.notes))}
            | ({"currency": self.currency} if each.costs else {})
            | ({"costs.not_priced": "; ".join(each.costs.not_priced)} if each.costs else {})
            | _decisive_row(each)
            for each in self.matches
        ]

    def _rests_on(self) -> Iterator[str]:
        """Yield what the verdicts rest on, if that was requested."""
        for each in self.matches:
            loom = f"{each.rank} {each.loom_id or ''}"
            for one in each.decisive_assumptions or ():
                yield f"{loom}: decides: {one.message}"
            if each.verdict_holds:
                yield f"{loom}: the verdict holds over the bands of all assumed values"

    def _page(self) -> Page:
        """Lay the ranking out, a loom a line."""
        return Page(
            headline=f"{self.reference or 'construction'}: "
            + ", ".join(f"{number} {words(verdict)}" for verdict, number in self.counts.items()),
            header=(
                *("rank", "loom", "verdict", "picks/min", "weft m/min", "reed %", "hours"),
                *([f"{self.currency or 'cost'}/m"] if self._is_priced else []),
                "findings",
            ),
            rows=[_row(each, is_priced=self._is_priced) for each in self.matches],
            least=("reed %", "weft m/min", "findings", "picks/min"),
            remarks=[
                *(f"{each.rank} {each.loom_id or ''}: {each.reason}" for each in self.matches[:1]),
                *self._rests_on(),
                f"ranked by {self.ranked_by}",
                self.caution,
            ],
        )


def _decisive_row(match: LoomMatch) -> dict[str, Scalar]:
    if match.decisive_assumptions is None:
        return {}
    return {"decisive_assumptions": " ".join(one.message for one in match.decisive_assumptions)}


def _row(match: LoomMatch, *, is_priced: bool) -> tuple[object, ...]:
    cost = None if match.costs is None else money(match.costs.cost_per_m)
    return (
        match.rank,
        match.loom_id,
        words(match.verdict),
        match.speed_picks_per_min,
        match.insertion_rate_m_per_min,
        match.reed_width_use_pct,
        match.hours,
        *([cost] if is_priced else []),
        " ".join(match.codes.errors or match.codes.warnings),
    )
