"""What comes out of a question for changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from weavability_client._record import Record, record
from weavability_client.models.findings import Verdict


@record
class ChangedReport(Record):
    """A report that is no longer what it was, or a link that cannot be judged any more.

    Attributes:
        index: Place among the items asked about, from 0.
        link: The link as it was given.
        etag: Etag of the report now; ``None`` where there is a problem.
        verdict: Verdict now, likewise.
        codes: Codes of the findings now, likewise.
        findings_added: Codes that are new; ``None`` where the known codes were not given.
        findings_cleared: Codes that are gone, likewise.
        problem: Why the link cannot be judged any more, as a problem document.
    """

    index: int
    link: str
    etag: str | None = None
    verdict: Verdict | None = None
    codes: tuple[str, ...] | None = None
    findings_added: tuple[str, ...] | None = None
    findings_cleared: tuple[str, ...] | None = None
    problem: Mapping[str, object] | None = None

    def shifted(self, places: int) -> ChangedReport:
        """Return the same with an index that is ``places`` greater."""
        return replace(self, index=self.index + places)
