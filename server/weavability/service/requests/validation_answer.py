"""The answer to a validation: the core's report, with its identity and its addresses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Annotated, Final

from weavability.answers.report import Report
from weavability.answers.rounding import plain, tidy
from weavability.service.http.responses import FlatAnswer

_REPORTED: Final = tuple(field.name for field in fields(Report))


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidationAnswer:
    """A report, not rounded, under its name and address.

    It is sent :meth:`written` as one flat object, see :data:`WRITTEN`, or read :meth:`rounded`.
    """

    validation_id: Annotated[
        str, "Digest over the normalised request, the rules and the loom's limits; the ETag"
    ]
    report: Annotated[Report, "What was found"]
    links: Annotated[
        Mapping[str, str | None],
        "Addresses: `self` gives the report again; null if the request is too long for an "
        "address, and `self_note` then says so",
    ]

    def written(self) -> dict[str, object]:
        """Return the object that is sent.

        Raises:
            ArithmeticError: A figure is NaN or infinite.
        """
        report = plain(self.report)
        return {
            name: report[name] if kind is Report else getattr(self, name)
            for name, kind in WRITTEN.members.items()
        }

    def rounded(self) -> ValidationAnswer:
        """Return the same answer with the figures that are sent.

        Raises:
            ArithmeticError: A figure is NaN or infinite.
        """
        return replace(self, report=tidy(self.report))


WRITTEN: Final = FlatAnswer(
    title="Report",
    words="The answer to one validation.",
    members={
        "validation_id": ValidationAnswer,
        **{name: Report for name in _REPORTED if name != "caution"},
        "links": ValidationAnswer,
        "caution": Report,
    },
)
"""The members of the object that is sent, in order; the caution ends it."""
