"""The answer to a question for changes."""

from __future__ import annotations

from dataclasses import replace

from weavability_client.models._generated import ChangedReportFields


class ChangedReport(ChangedReportFields):
    """A report that is no longer what it was; its fields are those of ``ChangedReportFields``."""

    __slots__ = ()

    def shifted(self, places: int) -> ChangedReport:
        """Return the same with an index that is ``places`` greater."""
        return replace(self, index=self.index + places)
