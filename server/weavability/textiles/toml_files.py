"""Reading a TOML file that a mill wrote: whatever is wrong with it ends in one plain sentence."""

from __future__ import annotations

import sys
import tomllib
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

_LONGEST_SHOWN = 60


class TomlFileError(ValueError):
    """The file cannot be read; the message says why, but not which file."""


def read_text(path: Path, *, most_bytes: int) -> str:
    """Return the text of a file in UTF-8; a byte order mark is left out.

    Raises:
        TomlFileError: There is no such file, it is too long, or it is not UTF-8.
    """
    try:
        with path.open("rb") as file:
            content = file.read(most_bytes + 1)
        if len(content) > most_bytes:
            raise TomlFileError(f"it is longer than {most_bytes} bytes")
        return content.decode("utf-8-sig")
    except OSError as error:
        raise TomlFileError(error.strerror or str(error)) from None
    except UnicodeDecodeError as error:
        raise TomlFileError(f"it is not UTF-8: {error.reason} at byte {error.start}") from None


def parse_toml(text: str) -> dict[str, Any]:
    """Return the table that a text states.

    Raises:
        TomlFileError: It is not TOML, or goes beyond what can be read of it.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise TomlFileError(str(error)) from None
    except RecursionError:
        raise TomlFileError("it is nested too deeply") from None
    except ValueError:
        digits = sys.get_int_max_str_digits()
        raise TomlFileError(f"a number in it has more than {digits} digits") from None


def as_written(value: object) -> str:
    """Write a value for a message as TOML has it; a long one is cut.

    >>> as_written(True), as_written(date(1979, 5, 27)), as_written("x"), as_written([1])
    ('true', '1979-05-27', "'x'", 'a list')
    """
    match value:
        case bool():
            return str(value).lower()
        case datetime() | date() | time():
            return value.isoformat()
        case int() if abs(value) >= 10**_LONGEST_SHOWN:
            return "a number of very many digits"
        case list():
            return "a list"
        case dict():
            return "a table"
    shown = repr(value)
    return shown if len(shown) <= _LONGEST_SHOWN else f"{shown[: _LONGEST_SHOWN - 1]}…"
