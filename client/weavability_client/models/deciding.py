"""What a verdict rests on, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from weavability_client.models._generated import CornerValue, DecisiveAssumption, TurningCorner


def decides(
    found: Sequence[DecisiveAssumption] | None,
    corner: TurningCorner | None,
    *,
    holds: bool | None,
    note: str | None,
) -> Iterator[str]:
    """Yield what a verdict rests on, a line each; what turns only with the reeds in stock in one.

    Args:
        found: The values that turn it alone.
        corner: The values that turn it together.
        holds: Whether it holds over all bands.
        note: Why it does not.
    """
    if note:
        yield note
    of_stock: dict[str, list[DecisiveAssumption]] = {}
    for each in found or ():
        if each.is_of_stock:
            of_stock.setdefault(str(each.name), []).append(each)
        else:
            yield f"decides: {each.message}"
    if of_stock:
        values = ", or with ".join(
            f"{name} {' or '.join(str(each.where) for each in turns)} "
            f"(assumed: {turns[0].assumed:.6g}{f' {turns[0].unit}' if turns[0].unit else ''})"
            for name, turns in of_stock.items()
        )
        yield (
            f"with {values}, no reed in stock serves (reed.not_in_stock): the choice of the reed "
            "settles this"
        )
    if corner is not None:
        yield f"decides together: {corner.message}"
        if not all((each.name or "") in corner.message for each in corner.values):
            yield f"all together, the most effective first: {'; '.join(map(_said, corner.values))}"
    if holds:
        yield "the verdict holds over the bands of all assumed values"


def _said(taken: CornerValue) -> str:
    unit = f" {taken.unit}" if taken.unit else ""
    return f"{taken.name or taken.pointer} {taken.value:.6g}{unit}"
