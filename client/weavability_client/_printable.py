"""Text that others wrote, such as a service, without what would steer a terminal."""

from __future__ import annotations

import re
from typing import Final

_STEERING: Final = re.compile(r"[\0-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters but for tabulator and line feed, and what turns the direction of writing."""

_BLANKS: Final = str.maketrans("\t\n", "  ")
"""Lines are made by those who lay a text out: a text of others begins none."""


def printable(text: str) -> str:
    r"""Return ``text`` in one line, a mark in place of each character that steers a terminal.

    Example:
        >>> printable("\x1b[31mred\x07\nas well")
        '�[31mred� as well'
    """
    return _STEERING.sub("\ufffd", text.translate(_BLANKS))


def printable_json(document: str) -> str:
    r"""Return a JSON document that says the same with these characters written as escapes.

    Example:
        >>> printable_json('"\x7f"')
        '"\\u007f"'
    """
    return _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", document)
