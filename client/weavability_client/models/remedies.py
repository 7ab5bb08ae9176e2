"""The smallest changes that make an order weavable, loom by loom."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Self

from weavability_client._record import Scalar
from weavability_client.errors import UsageError
from weavability_client.models._generated import LoomRemedies, OtherLoom, RemedyReportFields
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Remedy, Verdict
from weavability_client.tables import money, words


class RemedyReport(RemedyReportFields, Answer):
    """The remedies of an order; its fields are those of ``RemedyReportFields``."""

    __slots__ = ("_request",)

    _request: Mapping[str, object]

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

    def fixed(self, remedy: Remedy, request: Mapping[str, object] | None = None) -> dict[str, Any]:
        """Return the request with a remedy made on its loom: ``validate(**fixed)`` proves it.

        Args:
            remedy: One of the remedies of a loom here.
            request: ``{construction, loom | loom_id}`` in the API's names, if this was not returned
                by ``Client.remedies``, which keeps it.

        Raises:
            UsageError: The request is not known, and none is given.
        """
        stated = request if request is not None else getattr(self, "_request", None)
        if stated is None:
            raise UsageError("these remedies do not know their request: pass it to fixed()")
        named = {name: value for name, value in stated.items() if name != "loom_ids"}
        for each in self.looms:
            is_here = any(one is remedy for one in each.remedies)
            if is_here and "loom" not in named and each.loom_id is not None:
                named["loom_id"] = each.loom_id
        return remedy.applied(named)

    def for_request(self, request: Mapping[str, object]) -> Self:
        """Keep the request that this answers, for :meth:`fixed`; it is no part of it."""
        object.__setattr__(self, "_request", request)
        return self

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a remedy."""
        return [
            {
                "reference": self.reference,
                "loom_id": loom.loom_id,
                "remedy": number,
                "distance": remedy.distance,
                "verdict": None if remedy.verdict is None else str(remedy.verdict),
                "message": remedy.message,
                "clears": " ".join(remedy.clears),
                "brings": " ".join(remedy.brings or ()),
            }
            for loom in self.looms
            for number, remedy in enumerate(loom.remedies, 1)
        ]

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
