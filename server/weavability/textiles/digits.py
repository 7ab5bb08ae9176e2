"""The digits of the numbers in a text that is read, such as a designation or a weave."""

from __future__ import annotations

import unicodedata

from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say


def require_plain_digits(text: str, *, allowed: str = "") -> None:
    """Refuse digits other than 0 to 9: what such a number says would be a guess for most readers.

    Args:
        text: What is read.
        allowed: What the error names as allowed; if nothing, the text in these digits.

    Raises:
        InputError: There are some, such as full-width or Arabic-Indic ones.

    >>> require_plain_digits("Nm 40")
    """
    if text.isascii():
        return
    written = "".join(str(unicodedata.decimal(each)) if each.isdecimal() else each for each in text)
    if written != text:
        message = say(
            "fault.text.digits",
            "Write numbers with the digits 0 to 9: {written!r}.",
            written=written,
        )
        raise InputError.of("", message, given=text, allowed=allowed or written)
