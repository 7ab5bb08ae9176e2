"""Published values beside the computed ones."""

from __future__ import annotations

from weavability_client._record import Scalar
from weavability_client.models._generated import EvidenceFields
from weavability_client.models.answer import Answer, Page, entries_with


class Evidence(EvidenceFields, Answer):
    """Every published value beside the computed one; see ``EvidenceFields``."""

    __slots__ = ()

    def on(self, *words: str) -> Evidence:
        """Return the subjects that have every one of these words in their name."""
        return entries_with(self, words, {"subjects": lambda each: each.subject})

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a value."""
        return [
            each.picked("subject")
            | value.picked(
                *("case", "what", "source", "kind", "published", "computed", "unit", "deviation"),
                *("deviation_pct", "tolerance", "agrees", "note"),
            )
            for each in self.subjects
            for value in each.values
        ]

    def _headline(self) -> str:
        """Count the outside values that agree; some subjects have none to count."""
        if not self.subjects:
            return "evidence: no subject has these words in its name; without words all are listed"
        counts = [each.counts for each in self.subjects]
        outside = sum(each.outside for each in counts)
        if not outside:
            return (
                "evidence: no outside value has been found; others are fitted, derived or recalled"
            )
        agree = sum(each.outside_agree for each in counts)
        return f"evidence: {agree} of {outside} outside values agree"

    def _page(self) -> Page:
        """Lay it out: a line a subject, and below what does not agree."""
        return Page(
            headline=self._headline(),
            header=("subject", "outside", "agree", "fitted", "derived", "recalled"),
            rows=[
                (
                    each.subject,
                    each.counts.outside,
                    each.counts.outside_agree,
                    each.counts.fitted,
                    each.counts.derived,
                    each.counts.recalled,
                )
                for each in self.subjects
            ],
            remarks=[
                *(
                    f"{value.kind}: {value.case}: {value.published} published, "
                    f"{value.computed} computed"
                    for each in self.subjects
                    for value in each.values
                    if not value.agrees
                ),
                f"left out: {len(self.left_out)}; --format json or .left_out lists them",
                self.caution,
            ],
        )
