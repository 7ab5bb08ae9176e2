"""What a verdict rests on, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from weavability_client.models._generated import DecisiveAssumption, TurningCorner

_OF_STOCK = ("reed.not_in_stock",)
"""What decides nothing but which reed serves of those in stock."""


def decides(
    found: Sequence[DecisiveAssumption] | None,
    corner: TurningCorner | None,
    *,
    holds: bool | None,
) -> Iterator[str]:
    """Yield what a verdict rests on, a line each; what turns only with the reeds in stock in one.

    Args:
        found: The values that turn it alone.
        corner: The values that turn it together.
        holds: Whether it holds over all bands.
    """
    of_stock: dict[str, list[str]] = {}
    for each in found or ():
        if tuple(each.codes) != _OF_STOCK:
            yield f"decides: {each.message}"
        else:
            unit = f" {each.unit}" if each.unit else ""
            at = "anywhere" if each.turns_at is None else f"{each.turns_at:g}{unit}"
            # A message begins with the words of its field.
            field = each.message.partition(":")[0] or each.pointer
            of_stock.setdefault(field[:1].lower() + field[1:], []).append(at)
    if of_stock:
        values = "; ".join(f"{field} ({', '.join(at)})" for field, at in of_stock.items())
        yield f"decides only whether a reed in stock serves: {values}"
    if corner is not None:
        yield f"decides together: {corner.message}"
    if holds:
        yield "the verdict holds over the bands of all assumed values"
