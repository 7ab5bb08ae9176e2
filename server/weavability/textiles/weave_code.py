"""Weave codes of the form of ISO 9354: kind, rise and fall, threads together, move.

The text of the standard was not at hand. That a code has these four parts is confirmed by a trade
lexicon (entry on the short signs of weaves); the digits of the kinds and the count of the move
are from memory of textbooks and are not verified. Kinds whose digits are not remembered are
refused rather than guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, NoReturn

import numpy as np

from weavability.textiles.basic_weaves import MAX_FRACTION_THREADS, checked_fraction, twill
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.weave_matrix import Weave

MAX_CODE_LENGTH: Final = 100
KINDS: Final = {
    "10": "plain",
    "11": "warp rib",
    "12": "weft rib",
    "13": "hopsack",
    "20": "twill",
    "30": "satin",
}
"""The kinds that are read, by their two digits (from memory)."""

EXAMPLE: Final = "20-02 02-01-01"

_PAIRS: Final = r"\d\d(?: ?\d\d)*"
_CODE: Final = re.compile(rf"(\d\d)[- ]({_PAIRS})-(\d\d)-(\d\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveCode:
    """The four parts of a code.

    Attributes:
        kind: Two digits, one of ``KINDS``.
        fraction: Threads up and down in turn, up first.
        threads_together: Ends that weave alike, side by side.
        move: Ends by which the weave moves each pick; 0 if every group opposes the last.
    """

    kind: str
    fraction: tuple[int, ...]
    threads_together: int
    move: int

    def __str__(self) -> str:
        pairs = " ".join(f"{number:02d}" for number in self.fraction)
        return f"{self.kind}-{pairs}-{self.threads_together:02d}-{self.move:02d}"


def parse_code(text: str) -> WeaveCode:
    """Take a code apart.

    Args:
        text: Two digits of the kind, pairs of digits for up and down, two for the threads together
            and two for the move, with hyphens between the parts.

    Raises:
        InputError: When the text has not this form.

    >>> print(parse_code("20-0202-01-01"))
    20-02 02-01-01
    """
    spaced = re.sub(r"[\s/.]+", " ", text[: MAX_CODE_LENGTH + 1].strip())
    match = _CODE.fullmatch(re.sub(r" ?[-‐-―] ?", "-", spaced))
    if match is None or len(text) > MAX_CODE_LENGTH:
        message = say(
            "fault.weave_code.parts",
            "A weave code has four parts: kind, warp up and down, threads together, "
            "move, all in two digits. For example: {example}.",
            example=EXAMPLE,
        )
        raise InputError.of("", message, given=text[:MAX_CODE_LENGTH], allowed=EXAMPLE)
    kind, pairs, together, move = match.groups()
    digits = pairs.replace(" ", "")
    fraction = tuple(int(digits[place : place + 2]) for place in range(0, len(digits), 2))
    return WeaveCode(kind=kind, fraction=fraction, threads_together=int(together), move=int(move))


def weave_from_code(text: str) -> Weave:
    """Make the weave of a code, named in words if it has a name.

    Raises:
        InputError: When the code cannot be read, or its parts do not fit together.

    >>> weave_from_code("20-0201-01-01").name
    '2/1 twill Z'
    >>> weave_from_code("30-01 04-01-02").name
    '5-end sateen move 2'
    """
    code = parse_code(text)
    _check_parts(code)
    if code.kind == "20" and code.threads_together > 1:
        regular = twill(code.fraction, ends_per_pick=code.move)
        return Weave(matrix=np.repeat(regular.matrix, code.threads_together, axis=1))
    try:
        return parse_weave(_in_words(code))
    except InputError as error:
        fault = error.faults[0]
        raise InputError.of(
            "",
            say("fault.weave_code.wrong", "{code}: {fault}", code=str(code), fault=fault.message),
            given=text,
            allowed=fault.allowed,
        ) from error


def _in_words(code: WeaveCode) -> str:
    """Name the weave of a code in the notation of words."""
    fraction = "/".join(map(str, checked_fraction(code.fraction)))
    group = f"{code.threads_together}/{code.threads_together}"
    ends = sum(code.fraction)
    return {
        "10": "plain",
        "11": f"{fraction} warp rib",
        "12": f"{group} weft rib",
        "13": f"{group} x {fraction} hopsack",
        "20": _twill_in_words(fraction, code.move, sum(checked_fraction(code.fraction))),
        "30": f"{ends}-end {'sateen' if code.fraction[0] == 1 else 'satin'} move {code.move}",
    }[code.kind]


def _twill_in_words(fraction: str, move: int, ends: int) -> str:
    """Name a twill; a move one short of its repeat runs to the left."""
    if move in (1, ends - 1):
        return f"{fraction} twill {'Z' if move == 1 else 'S'}"
    return f"{fraction} reclined twill Z move {move}"


def _check_parts(code: WeaveCode) -> None:
    """Refuse a code whose parts contradict its kind."""
    if code.kind not in KINDS:
        _refuse(
            code,
            say(
                "fault.weave_code.unknown_kind",
                "The kind {kind} is not known here: give the weave as rows.",
                kind=code.kind,
            ),
        )
    if len(code.fraction) % 2 or min(code.fraction) < 1 or not code.threads_together:
        _refuse(
            code,
            say(
                "fault.weave_code.ups_and_downs",
                "Up and down come in pairs of 1 or more, and 1 or more threads together.",
            ),
        )
    if sum(code.fraction) * code.threads_together > MAX_FRACTION_THREADS:
        _refuse(
            code,
            say(
                "fault.weave_code.too_large",
                "The repeat has at most {most_threads} threads.",
                most_threads=MAX_FRACTION_THREADS,
            ),
        )
    if (code.kind in ("20", "30")) == (code.move == 0):
        _refuse(
            code,
            say(
                "fault.weave_code.move",
                "A twill or satin moves by 1 or more, any other kind by 00.",
            ),
        )
    if code.kind in ("10", "12") and set(code.fraction) != {1}:
        _refuse(code, say("fault.weave_code.plain", "Plain weave and weft rib are 01 01."))
    if (code.kind in ("12", "13")) == (code.threads_together == 1) and code.kind != "20":
        _refuse(
            code,
            say(
                "fault.weave_code.together",
                "A weft rib or hopsack has 02 or more threads together, other kinds 01.",
            ),
        )
    if code.kind == "30" and (len(code.fraction) > 2 or 1 not in code.fraction):
        _refuse(
            code, say("fault.weave_code.satin", "A satin has one thread up or one thread down.")
        )


def _refuse(code: WeaveCode, why: Sentence) -> NoReturn:
    message = say(
        "fault.weave_code.contradictory",
        "{code}: {why} For example: {example}.",
        code=str(code),
        why=why,
        example=EXAMPLE,
    )
    raise InputError.of("", message, given=str(code), allowed=EXAMPLE)
