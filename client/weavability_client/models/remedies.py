"""The smallest changes that make an order weavable, loom by loom."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from weavability_client._record import Scalar
from weavability_client.models._generated import LoomRemedies, OtherLoom, RemedyReportFields
from weavability_client.models.answer import Answer, Page, WithRequest
from weavability_client.models.findings import Remedy, Verdict
from weavability_client.tables import money, words


class RemedyReport(WithRequest, RemedyReportFields, Answer):
    """The remedies of an order; its fields are those of ``RemedyReportFields``."""

    __slots__ = ("_request",)

    @property
    def ok(self) -> bool:
        """Whether a remedy makes the order weavable on a loom searched, or one weaves it as is."""
        return self.best is not None or any(map(_is_woven, self.looms)) or bool(self.other_looms)

    @property
    def best(self) -> Remedy | None:
        """The smallest remedy after which the order is weavable on the first loom that has one."""
        found = (self.best_on(each.loom_id) for each in self.looms)
        return next((each for each in found if each is not None), None)

    def best_on(self, loom_id: str | None) -> Remedy | None:
        """Return the smallest remedy after which the order is weavable on a loom, or ``None``."""
        makes = (
            remedy
            for loom in self.looms
            if loom.loom_id == loom_id
            for remedy in loom.remedies
            if remedy.verdict not in (None, Verdict.NOT_WEAVABLE)
        )
        return next(makes, None)

    def _for_remedy(self, request: Mapping[str, object], remedy: Remedy) -> Mapping[str, object]:
        named = {name: value for name, value in request.items() if name != "loom_ids"}
        for each in self.looms:
            is_here = any(one is remedy for one in each.remedies)
            if is_here and "loom" not in named and each.loom_id is not None:
                named["loom_id"] = each.loom_id
        return named

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a remedy, a finding that nothing clears, and a loom not searched.

        ``row`` says which of them it is.
        """
        nothing = dict.fromkeys(Remedy(pointer="", message="", clears=()).to_row())
        rows: list[dict[str, Scalar]] = []

        def add(row: str, loom_id: str | None, **values: Scalar) -> None:
            head: dict[str, Scalar] = {"reference": self.reference, "loom_id": loom_id}
            blank: dict[str, Scalar] = {"remedy": None, **nothing, "not_found": None, "tried": None}
            rows.append({**head, **blank, **values, "row": row})

        for loom in self.looms:
            for number, remedy in enumerate(loom.remedies, 1):
                add("remedy", loom.loom_id, remedy=number, **remedy.to_row())
            for each in loom.not_found:
                tried = "; ".join(each.tried)
                add("not_found", loom.loom_id, not_found=each.code, tried=tried)
        for left_out in self.not_searched:
            add("not_searched", left_out)
        return rows

    def _page(self) -> Page:
        """Lay the remedies out, a line each."""
        return Page(
            headline=f"{self.reference or 'construction'}: "
            + ", ".join(f"{each.loom_id or 'loom'} {words(each.verdict)}" for each in self.looms),
            header=("loom", "no.", "points", "then", "change", "clears"),
            rows=[
                (
                    loom.loom_id,
                    number,
                    remedy.distance,
                    words(remedy.verdict or ""),
                    remedy.message,
                    " ".join(remedy.clears),
                )
                for loom in self.looms
                for number, remedy in enumerate(loom.remedies, 1)
            ],
            least=("points",),
            remarks=[*self._remarks(), self.caution],
        )

    def _remarks(self) -> Iterator[str]:
        for loom in self.looms:
            for number, remedy in enumerate(loom.remedies, 1):
                if altered := remedy.altered():
                    yield f"{loom.loom_id or 'loom'} {number}: {altered}"
            if not _is_woven(loom) and self.best_on(loom.loom_id) is None:
                yield f"{loom.loom_id or 'loom'}: nothing found makes the order weavable here"
            for each in loom.not_found:
                tried = ", ".join(each.tried) or "nothing: only another loom helps"
                yield f"{loom.loom_id or 'loom'}: no remedy found for {each.code}; tried {tried}"
        if self.not_searched:
            unsearched = ", ".join(
                str(each or "a loom without a name") for each in self.not_searched
            )
            yield f"not searched, because others rank before them: {unsearched}"
        if self.other_looms:
            yield f"weavable as it is on {', '.join(map(_named, self.other_looms))}"


def _named(other: OtherLoom) -> str:
    cost = None if other.costs is None else other.costs.cost_per_m
    return str(other.loom_id) if cost is None else f"{other.loom_id} ({money(cost)} per m)"


def _is_woven(loom: LoomRemedies) -> bool:
    return loom.verdict is not Verdict.NOT_WEAVABLE
