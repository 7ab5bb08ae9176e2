"""How the number of a cell is to be written, as a sentence with its key."""

from __future__ import annotations

from weavability.service.batches.csv_grammar import ADVICE, advice_of
from weavability.textiles.sentences import Sentence, say_row


def advice(cell: str, *, decimal_comma: bool) -> Sentence:
    """Return how to write the number of a cell that is not read as one."""
    key, values = advice_of(cell, decimal_comma=decimal_comma)
    return say_row(key, ADVICE[key], **values)
