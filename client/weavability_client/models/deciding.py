"""What a verdict rests on, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from weavability_client.models._generated import CornerValue, LoomMatchFields, ReportFields


def decides(answer: ReportFields | LoomMatchFields) -> Iterator[str]:
    """Yield what a verdict rests on, a line each; what turns only with the reeds in stock in one.

    Args:
        answer: A report, or a loom of a ranking.
    """
    if answer.verdict_holds_note:
        yield answer.verdict_holds_note
    for each in answer.decisive_assumptions or ():
        if not each.is_of_stock:
            yield f"decides: {each.message}"
    if answer.reed_note:
        yield answer.reed_note
    corner = answer.turning_corner
    if corner is not None:
        yield f"decides{' together' if len(corner.values) > 1 else ''}: {corner.message}"
        if not all((each.name or "") in corner.message for each in corner.values):
            yield f"all together, the most effective first: {'; '.join(map(_said, corner.values))}"
    if answer.verdict_holds:
        yield "the verdict holds over the bands of all assumed values"


def _said(taken: CornerValue) -> str:
    unit = f" {taken.unit}" if taken.unit else ""
    far = taken.towards_limit_pct
    alone = "" if far is None else f" (alone {far:.0f} % of the distance to the limit)"
    if far is not None and far <= 0:
        alone = " (only together with the others)"
    return f"{taken.name or taken.pointer} {taken.value:.6g}{unit}{alone}"
