"""An order in a line of text, as the trade writes it: counts, setts, width, length, weave, fibre.

``Ne 40 x Ne 40 / 133 x 72, 63 in, plain, cotton`` has the warp before the cross and the weft behind
it. Whatever is not one of these is named, and nothing is guessed: a sett without a unit is taken
per inch only if the width is in inches, and that is said. Of two pairs of bare numbers the first is
taken as counts, whose system is then missing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from weavability.textiles.count_systems import systems_by_name
from weavability.textiles.designations import parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import find_fibre
from weavability.textiles.notation import parse_weave

Cells = dict[str, str]

_PLAIN_NUMBER: Final = r"\d+(?:[.,]\d+)?"
_NUMBER: Final = rf"({_PLAIN_NUMBER})"
_CROSS: Final = r"(?:\s+[x×*]\s+|(?<=\d)[x×*](?=\d))"
_INCH: Final = r"(?:in|inch|inches|\"|″|'')"
_SETTS: Final = re.compile(
    rf"{_NUMBER}{_CROSS}{_NUMBER}\s*(?:(?:per|/|ends and picks per)?\s*(cm|{_INCH}))?",
    re.IGNORECASE,
)
_COUNTS: Final = re.compile(rf"(?=.*[a-z])(.*\d.*?){_CROSS}(.*\d.*)", re.IGNORECASE)
_WIDTH: Final = re.compile(rf"{_NUMBER}\s*(cm|{_INCH})(?:\s+wide)?", re.IGNORECASE)
_LENGTH: Final = re.compile(rf"{_NUMBER}\s*(m|metres|yd|yards)", re.IGNORECASE)
_PARTS: Final = re.compile(r"[,;\n]\s+|[;\n]|\s/\s")
_SLASH_BEFORE_SETTS: Final = re.compile(
    rf"({_CROSS}[^,;\n]*?\d)/(?={_PLAIN_NUMBER}\s*[x×*])", re.IGNORECASE
)
"""As in ``40x40/133x72``; the slash of a folded yarn has no cross of its part before it."""

_PIECES: Final = re.compile(
    rf"(?<=\d)\s+(?={_PLAIN_NUMBER}(?:[x×*]\d|\s*{_INCH}(?!\w)))"
    r"|(?<=[\"″])\s+(?!wide)|\s+(?=100\s*%)",
    re.IGNORECASE,
)
"""Where a part that is nothing as a whole may be several, with no comma between them."""

_NO_SYSTEM: Final = re.compile(rf"{_PLAIN_NUMBER}(?:/\d+)?")
_BARE: Final = "two bare numbers"


class ReadLine(NamedTuple):
    """What a line states: cells by their headings, what was not understood, how it was read."""

    cells: Cells
    notes: tuple[str, ...]
    remarks: tuple[str, ...]


def read_order_line(text: str) -> ReadLine:
    """Read the text of an order in a line.

    >>> read_order_line("Ne 30 x Ne 20 / 32 x 24 per cm, 2/2 twill Z, 152 cm, by Friday").notes
    ('Not understood: by Friday.',)
    """
    cells: Cells = {}
    strange: list[str] = []
    for part, found in _read_parts(text):
        if found and _BARE in found and _BARE in cells and "warp_yarn_A" not in cells:
            cells["warp_yarn_A"], cells["weft_yarn_A"] = cells.pop(_BARE).split()
        if found is None or cells.keys() & found.keys():
            strange.append(part[:60])
        else:
            cells |= found
    remarks = tuple(_per_inch(cells))
    return ReadLine(cells, tuple(_not_understood(cells, strange)), remarks)


def _read_parts(text: str) -> Iterator[tuple[str, Cells | None]]:
    """Yield each part and what it states; the pieces of one that is nothing as a whole."""
    for part in _stripped(_PARTS.split(_SLASH_BEFORE_SETTS.sub(r"\1 / ", text))):
        found = _read_part(part)
        if found is None:
            yield from ((piece, _read_part(piece)) for piece in _stripped(_PIECES.split(part)))
        else:
            yield part, found


def _stripped(parts: list[str]) -> Iterator[str]:
    return filter(None, (each.strip(" .") for each in parts))


def _read_part(part: str) -> Cells | None:
    return next((read for reader in _READERS if (read := reader(part)) is not None), None)


def _per_inch(cells: Cells) -> Iterator[str]:
    """Give setts without a unit that of a width in inches, and yield that it was done."""
    if _BARE in cells and "width_in" in cells:
        ends, picks = cells.pop(_BARE).split()
        cells |= {"ends_per_in": ends, "picks_per_in": picks}
        yield f"{ends} x {picks} is taken per inch, because the width is in inches."


def _not_understood(cells: Cells, strange: list[str]) -> Iterator[str]:
    """Take out setts that are left without a unit, and yield what was not understood."""
    bare = cells.pop(_BARE, None)
    if bare is not None:
        ends, picks = bare.split()
        yield f"Not understood: {ends} x {picks}, per cm or per inch?"
    if strange:
        yield f"Not understood: {', '.join(strange)}."


def _setts(part: str) -> Cells | None:
    found = _SETTS.fullmatch(part)
    if found is None:
        return None
    ends, picks, unit = found.groups()
    if unit is None:
        return {_BARE: f"{ends} {picks}"}
    end = "cm" if unit.lower() == "cm" else "in"
    return {f"ends_per_{end}": ends, f"picks_per_{end}": picks}


def _counts(part: str) -> Cells | None:
    found = _COUNTS.fullmatch(part)
    if found is None:
        return None
    cells: Cells = {}
    for system, stated in zip(("warp", "weft"), found.groups(), strict=True):
        count, fibre = _count_and_fibre(stated.strip())
        if not _is_count(count):
            return None
        cells[f"{system}_yarn_A"] = count
        if fibre:
            cells[f"{system}_fibre_A"] = fibre
    return cells


def _is_count(stated: str) -> bool:
    """Return whether it is a count, be it one whose field says what is wrong with it."""
    words = re.findall(r"[a-z]+", stated.lower())
    return (
        _NO_SYSTEM.fullmatch(stated) is not None
        or any(frozenset([each]) in systems_by_name() for each in words)
        or _is_designation(stated)
    )


def _is_designation(stated: str) -> bool:
    try:
        parse_designation(stated)
    except InputError:
        return False
    return True


def _count_and_fibre(stated: str) -> tuple[str, str]:
    """Part a fibre from the count before it: ``Ne 30 combed cotton``."""
    words = stated.split()
    for place in range(1, len(words)):
        fibre = " ".join(words[place:])
        if _is_fibre(fibre):
            return " ".join(words[:place]), fibre
    return stated, ""


def _width(part: str) -> Cells | None:
    found = _WIDTH.fullmatch(part)
    if found is None:
        return None
    return {"width_cm" if found[2].lower() == "cm" else "width_in": found[1]}


def _length(part: str) -> Cells | None:
    found = _LENGTH.fullmatch(part)
    if found is None:
        return None
    return {"length_m" if found[2].lower().startswith("m") else "length_yd": found[1]}


def _weave(part: str) -> Cells | None:
    try:
        parse_weave(part)
    except InputError:
        return None
    return {"weave": part}


def _fibre(part: str) -> Cells | None:
    return {"warp_fibre_A": part, "weft_fibre_A": part} if _is_fibre(part) else None


def _is_fibre(words: str) -> bool:
    try:
        find_fibre(words)
    except InputError:
        return False
    return True


_READERS: Final[tuple[Callable[[str], Cells | None], ...]] = (
    _setts,
    _width,
    _length,
    _fibre,
    _weave,
    _counts,
)
