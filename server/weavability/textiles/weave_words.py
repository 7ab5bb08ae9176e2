"""The words of a weave's name: spellings made alike, and sorted by what they say."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NoReturn, TypeVar

from weavability.textiles import basic_weaves as basic
from weavability.textiles.assumptions import Grade
from weavability.textiles.basic_weaves import Direction, Fraction
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import Sentence, say

T = TypeVar("T")
W = TypeVar("W", bound=str)

EXAMPLES: Final = ("2/2 twill Z", "plain", "8-end satin move 3", "2/2 warp rib", "2/2 hopsack")


@dataclass(frozen=True, slots=True)
class Guess:
    """A value that the text left open."""

    value: object
    reason: Sentence
    grade: Grade = Grade.COMMON_PRACTICE


@dataclass(slots=True)
class Reading:
    """The words of a notation, sorted by what they say.

    Attributes:
        text: As it was written.
        examples: What is offered instead if it cannot be read.
        kinds: Words that name a kind of weave.
        trade_names: Words that are names of the trade.
        unknown: Words that say nothing that is known.
    """

    text: str
    examples: tuple[str, ...] = EXAMPLES
    kinds: list[str] = field(default_factory=list)
    trade_names: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    fractions: list[Fraction] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    move: int | None = None
    degrees: int | None = None
    direction: Direction | None = None
    face: Literal["warp", "weft"] | None = None
    opposite: bool = False
    guesses: list[Guess] = field(default_factory=list)

    def parts(self) -> set[str]:
        """Name the parts that the text gives."""
        given = {
            "fraction": self.fractions,
            "number": self.numbers,
            "move": self.move,
            "angle": self.degrees,
            "direction": self.direction,
            "face": self.face,
            "'opposite'": self.opposite,
        }
        return {name for name, value in given.items() if value}

    def fill(self, other: Reading) -> bool:
        """Take from another reading every part that this one lacks; return whether any was."""
        open_parts = other.parts() - self.parts()
        if "fraction" in open_parts:
            self.fractions = other.fractions
        if "number" in open_parts:
            self.numbers = other.numbers
        self.move = other.move if self.move is None else self.move
        self.degrees = other.degrees if self.degrees is None else self.degrees
        self.direction = self.direction or other.direction
        self.face = self.face or other.face
        return bool(open_parts)

    def fraction(self) -> Fraction:
        """Return the one fraction, which is required."""
        if len(self.fractions) != 1:
            self.refuse(say("fault.weave.fraction_needed", "It needs one fraction, warp up first."))
        return basic.checked_fraction(self.fractions[0])

    def twill_direction(self) -> Direction:
        """Return the direction; Z, as a guess, if it is not given."""
        if self.direction is not None:
            return self.direction
        self.guess(
            "Z",
            say(
                "assumption.weave.direction",
                "no direction given: the line rises to the right",
            ),
        )
        return "Z"

    def size(self, default: int, reason: Sentence) -> int:
        """Return the one number; ``default``, as a guess, if it is not given."""
        if len(self.numbers) > 1:
            self.refuse(say("fault.weave.one_number", "It takes one number."))
        return self.numbers[0] if self.numbers else self.guess(default, reason)

    def square(self, default: int, reason: Sentence) -> int:
        """Return the one number of a square weave, which may be written twice, as ``8x8``."""
        sizes = set(self.numbers).union(*self.fractions)
        if len(sizes) > 1:
            self.refuse(say("fault.weave.square", "It has as many ends as picks."))
        return sizes.pop() if sizes else self.guess(default, reason)

    def guess(self, value: T, reason: Sentence) -> T:
        """Write down a value that the text left open."""
        self.guesses.append(Guess(value, reason))
        return value

    def refuse(self, why: Sentence) -> NoReturn:
        """Refuse the notation, with an example of what is meant."""
        message = say(
            "fault.weave.unreadable",
            "'{text}' cannot be read as a weave. {why} For example: {example}.",
            text=self.text,
            why=why,
            example=self.examples[0],
        )
        raise InputError.of("", message, given=self.text, allowed=list(self.examples))


class Spellings:
    """Names of several words, or of letters and digits, each read as one word.

    Args:
        words: The word for each spelling.
    """

    def __init__(self, words: Mapping[str, str]) -> None:
        self.words = {folded(spelling): word for spelling, word in words.items()}
        longest_first = sorted(self.words, key=len, reverse=True)
        alternatives = "|".join(map(re.escape, longest_first))
        self._pattern = re.compile(rf"(?<![a-z0-9])(?:{alternatives})(?![a-z0-9])")

    def replaced(self, text: str) -> str:
        """Return a folded text with every spelling replaced by its word."""
        return self._pattern.sub(lambda match: self.words[match.group()], text)

    def marked(self, text: str) -> list[bool]:
        """Return for each word of a folded text whether it belongs to a spelling."""
        mark = self._pattern.sub(lambda match: re.sub(r"[^ ]+", "+", match.group()), text)
        return [word == "+" for word in mark.split()]


def folded(text: str) -> str:
    """Fold case, accents, dashes and brackets, and write fractions alike.

    >>> folded("3-1 TWILL, left-hand"), folded("2 up 1 down"), folded("five-end satin")
    ('3/1 twill left hand', '2/1', '5 end satin')
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(char for char in plain if not unicodedata.combining(char))
    plain = re.sub(r"[⁄∕÷]", "/", plain).replace("×", "x").replace("°", " degrees ")
    plain = _NUMBER_WORD.sub(lambda match: _NUMBERS[match.group()], plain)
    if "/" not in plain:
        plain = _JOINED.sub(lambda match: _as_fraction(match.group()), plain)
    plain = re.sub(r"(?<=\d)(?=[a-z])|(?<=[a-z])(?=\d)", " ", plain)
    plain = re.sub(r"[\s\-‐-―−_,;:()\[\]\"]+", " ", re.sub("['’]", "", plain))
    plain = re.sub(r" ?/ ?", "/", plain).strip()
    plain = _UP_AND_DOWN.sub(lambda match: _as_fraction(match.group()) + " ", plain)
    return plain.strip().rstrip(".").rstrip()


def _as_fraction(text: str) -> str:
    """Write ``2 up 1 down``, ``2-1`` or ``2x1`` as ``2/1``."""
    return "/".join(re.findall(r"\d+", text))


def words_of(normalised: str) -> list[str] | None:
    """Split a normalised text into fractions, numbers and words; ``None`` if anything is left."""
    words = _WORD.findall(normalised)
    return words if "".join(words) == normalised.replace(" ", "") else None


def read_words(
    words: Iterable[str], reading: Reading, kinds: Mapping[str, str], trade: Iterable[str]
) -> Reading:
    """Sort the words of a notation by what they say.

    Args:
        words: The words.
        reading: Receives them.
        kinds: The kind of weave that a word names.
        trade: Words that are names of the trade.
    """
    previous = ""
    for word in words:
        if word[0].isdigit():
            _read_number(reading, word, previous)
        elif word in trade:
            reading.trade_names.append(word)
        elif word == _TIMES and not previous[:1].isdigit():
            reading.unknown.append(word)
        else:
            _read_word(reading, _singular(word, kinds), kinds)
        previous = word
    return reading


def is_known(word: str, kinds: Mapping[str, str], trade: Iterable[str]) -> bool:
    """Return whether a word of letters says something, or is one of those that say nothing."""
    return word in trade or _singular(word, kinds) in kinds or word in _OTHER_WORDS


def _singular(word: str, kinds: Mapping[str, str]) -> str:
    return word[:-1] if word.endswith("s") and word not in kinds and word[:-1] in kinds else word


def _read_number(reading: Reading, word: str, previous: str) -> None:
    """Take a fraction or a number, which is a move after the word ``move``."""
    # The longest number that any limit lets pass has five digits.
    values = tuple(int(digits[:6]) for digits in word.strip("/").split("/"))
    if len(values) > 1:
        reading.fractions.append(values)
    elif previous in _MOVE_WORDS:
        reading.move = values[0]
    else:
        reading.numbers.append(values[0])


def _read_word(reading: Reading, word: str, kinds: Mapping[str, str]) -> None:
    """Take a word that names the kind, the direction or the face, or says nothing."""
    if word in kinds:
        reading.kinds.append(kinds[word])
    elif word in _DIRECTIONS:
        reading.direction = _one(
            reading, reading.direction, _DIRECTIONS[word], say("part.directions", "directions")
        )
    elif word in _FACES:
        reading.face = _one(reading, reading.face, _FACES[word], say("part.faces", "faces"))
    elif word in _DEGREES and reading.numbers:
        reading.degrees = reading.numbers.pop()
    elif word == "opposite":
        reading.opposite = True
    elif word not in _SILENT_WORDS and word not in _MOVE_WORDS:
        reading.unknown.append(word)


def _one(reading: Reading, before: W | None, now: W, what: Sentence) -> W:
    """Return what a word says; two words that say unlike things contradict one another."""
    if before is not None and before != now:
        reading.refuse(
            say(
                "fault.weave.two_of_a_kind",
                "It names two {what}, {before} and {now}: give one.",
                what=what,
                before=before,
                now=now,
            )
        )
    return now


_WORD: Final = re.compile(r"\d+(?:/\d+)*|[a-z]+")
_JOINED: Final = re.compile(r"(?<![\d.])\d{1,3}(?:(?: ?x ?|[-‐-―−])\d{1,3})+(?!\d)")
_UP_AND_DOWN: Final = re.compile(r"(?:\d+ ?up(?: and)? \d+ ?down ?(?:and )?)+")
_NUMBERS: Final = {
    word: str(number)
    for number, word in enumerate(
        (
            *("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
            *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen"),
        ),
        start=1,
    )
}
_NUMBER_WORD: Final = re.compile(rf"\b(?:{'|'.join(_NUMBERS)})\b")
_MOVE_WORDS: Final = frozenset({"move", "step", "counter", "moves", "steps"})
_DEGREES: Final = frozenset({"degree", "degrees", "deg"})
_DIRECTIONS: Final[dict[str, Direction]] = {
    "z": "Z", "right": "Z", "rh": "Z", "s": "S", "left": "S", "lh": "S",
}  # fmt: skip
_FACES: Final[dict[str, Literal["warp", "weft"]]] = {
    "warp": "warp", "weft": "weft", "filling": "weft",
}  # fmt: skip
_SILENT_WORDS: Final = frozenset({
    "a", "and", "by", "cloth", "each", "end", "ends", "fabric", "face", "faced", "hand", "handed",
    "harness", "heald", "healds", "leaf", "line", "of", "on", "pick", "picks", "regular",
    "shaft", "shafts", "stave", "staves", "the", "thread", "threads", "to", "up", "weave",
    "weaves", "with", "x",
})  # fmt: skip
_TIMES: Final = "x"
"""Says nothing between two numbers; elsewhere it may be meant for a direction."""
_OTHER_WORDS: Final = _SILENT_WORDS | _MOVE_WORDS | _DEGREES | {*_DIRECTIONS, *_FACES, "opposite"}

MEANT: Final = (
    *(word for word in (*_DIRECTIONS, *_FACES) if len(word) > 2),
    "move",
    "opposite",
    "weave",
)
"""Words beside the names of weaves that a misspelt word may have meant."""
