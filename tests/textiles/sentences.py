"""What every message has in common."""

from __future__ import annotations


def is_sentence(message: str) -> bool:
    """Whether a message starts like a sentence, or with a field's name, and ends like one."""
    first = message.split(maxsplit=1)[0]
    return (not first[0].islower() or "_" in first) and message.endswith((".", "?"))
