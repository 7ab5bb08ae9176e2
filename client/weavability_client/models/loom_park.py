"""The looms of the service, with what it assumes of them."""

from __future__ import annotations

from collections.abc import Iterator

from weavability_client._record import Scalar, record
from weavability_client.models._generated import Loom
from weavability_client.models.answer import Listing, Page
from weavability_client.models.findings import Assumption


@record
class LoomPark(Listing):
    """The loom park that a service was started with.

    Attributes:
        park: Digest of the park: it changes when a loom does.
        looms: Every loom as stated; ``assumed`` has its limits that are not.
        caution: What a computed result is not; ``None`` from a service before 0.2.
    """

    park: str
    looms: tuple[Loom, ...]
    caution: str | None = None

    _texts = {"looms": lambda each: f"{each.loom_id} {each.description or ''}"}  # noqa: RUF012

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a limit that is assumed."""
        return [
            {"loom_id": loom.loom_id, **_row(each)}
            for loom in self.looms
            for each in loom.assumed or ()
        ]

    def _page(self) -> Page:
        """Lay the park out: a line a loom, or a line a limit that one loom leaves open."""
        remarks = [self.caution] if self.caution else []
        if len(self.looms) == 1:
            (loom,) = self.looms
            rows = [tuple(_row(each).values()) for each in loom.assumed or ()]
            headline = f"{loom.loom_id}: {loom.description or 'no description'}; limits assumed:"
            header = ("limit", "assumed", "unit", "low", "high", "grade", "reason")
            return Page(
                headline=headline, header=header, rows=rows, least=("grade",), remarks=remarks
            )
        return Page(
            headline=f"{len(self.looms)} looms",
            header=("loom", "insertion", "shedding", "reed cm", "picks/min", "limits assumed"),
            rows=list(self._lines()),
            remarks=remarks,
        )

    def _lines(self) -> Iterator[tuple[object, ...]]:
        for loom in self.looms:
            yield (
                loom.loom_id,
                loom.insertion.system.replace("_", " "),
                loom.shedding.kind,
                loom.reed_width_cm,
                loom.max_speed_picks_per_min,
                len(loom.assumed or ()),
            )


def _row(line: Assumption) -> dict[str, Scalar]:
    value = line.value
    return {
        "limit": line.pointer.strip("/").replace("/", "."),
        "assumed": value if isinstance(value, int | float | str) else str(value),
        "unit": line.unit,
        "low": None if line.band is None else line.band.low,
        "high": None if line.band is None else line.band.high,
        "grade": line.grade,
        "reason": line.reason,
    }
