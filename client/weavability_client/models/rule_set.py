"""The rules of the service."""

from __future__ import annotations

from weavability_client._record import Scalar
from weavability_client.models._generated import RuleSetFields
from weavability_client.models.answer import Listing, Page


class RuleSet(RuleSetFields, Listing):
    """The rules by which a service judges; its fields are those of ``RuleSetFields``."""

    __slots__ = ()

    _texts = {"checks": lambda each: f"{each.code} {each.says}"}  # noqa: RUF012

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a check."""
        return [
            each.picked("code", "subject")
            | {"severities": " ".join(each.severities)}
            | each.picked("says", "compares", "formula", "source")
            for each in self.checks
        ]

    def _page(self) -> Page:
        """Lay the rules out: a line a check, or all that is known of one."""
        remarks = [self.caution] if self.caution else []
        if len(self.checks) == 1:
            (check,) = self.checks
            return Page(
                headline=f"{check.code}: {check.says}",
                facts=[
                    ("severities", ", ".join(check.severities)),
                    ("compares", check.compares),
                    ("formula", check.formula),
                    ("source", check.source),
                ],
                header=("threshold", "value", "unit", "meaning"),
                rows=[
                    (each.name, each.value, each.unit, each.meaning)
                    for each in check.thresholds or ()
                ],
                remarks=remarks,
            )
        return Page(
            headline=f"checks: {len(self.checks)}",
            header=("code", "severities", "rule"),
            rows=[(each.code, ", ".join(each.severities), each.says) for each in self.checks],
            remarks=remarks,
        )
