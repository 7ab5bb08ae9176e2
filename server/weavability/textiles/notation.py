"""Named weaves as the trade writes them: from text to a weave, and back to one canonical spelling.

Case, spaces, hyphens and the order of the words do not matter. What cannot be read is answered with
the nearest notation and an example.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from typing import Final, Literal, NoReturn, TypeVar

from weavability.textiles import basic_weaves as basic
from weavability.textiles.assumptions import Ledger
from weavability.textiles.basic_weaves import Direction, Fraction
from weavability.textiles.errors import InputError
from weavability.textiles.weave_matrix import Weave

T = TypeVar("T")

MAX_TEXT_LENGTH: Final = 200
MAX_COMBINED_WEAVES: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Notation:
    """A form in which a weave is named.

    Attributes:
        name: What the trade calls it.
        pattern: How it is written; words in angle brackets are placeholders for values.
        example: A notation in its canonical spelling.
        meaning: What the values mean, and the source of the construction.
    """

    name: str
    pattern: str
    example: str
    meaning: str


@dataclass(frozen=True, slots=True)
class _Guess:
    """A value that the text left open."""

    value: object
    reason: str


@dataclass(slots=True)
class _Reading:
    """The words of a notation, sorted by what they say."""

    text: str
    is_correction: bool = False
    kinds: list[str] = field(default_factory=list)
    fractions: list[Fraction] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    move: int | None = None
    degrees: int | None = None
    direction: Direction | None = None
    face: Literal["warp", "weft"] | None = None
    opposite: bool = False
    guesses: list[_Guess] = field(default_factory=list)

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

    def fraction(self) -> Fraction:
        """Return the one fraction, which is required."""
        if len(self.fractions) != 1:
            _refuse(self, "It needs one fraction, warp up first.")
        return basic.checked_fraction(self.fractions[0])

    def twill_direction(self) -> Direction:
        """Return the direction; Z, as a guess, if it is not given."""
        if self.direction is not None:
            return self.direction
        self.guess("Z", "no direction given: the line rises to the right")
        return "Z"

    def size(self, default: int, reason: str) -> int:
        """Return the one number; ``default``, as a guess, if it is not given."""
        if len(self.numbers) > 1:
            _refuse(self, "It takes one number.")
        return self.numbers[0] if self.numbers else self.guess(default, reason)

    def guess(self, value: T, reason: str) -> T:
        """Write down a value that the text left open."""
        self.guesses.append(_Guess(value, reason))
        return value


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of weave: its public description, what it may be given, and how it is built."""

    notation: Notation
    takes: frozenset[str]
    build: Callable[[_Reading], Weave]


def parse_weave(text: str, *, ledger: Ledger | None = None) -> Weave:
    """Read a named weave.

    Args:
        text: The notation, at most 200 characters; see ``notations``.
        ledger: Where what the text left open (such as the direction of a twill) is noted.

    Returns:
        The weave at its true smallest repeat, named in the canonical spelling.

    Raises:
        InputError: When it cannot be read, with the nearest notation and an example.

    >>> parse_weave("TWILL 2/1, left-hand").name
    '2/1 twill S'
    >>> parse_weave("satin 8 (3)").name
    '8-end satin move 3'
    """
    if len(text) > MAX_TEXT_LENGTH:
        message = f"A weave's name has at most {MAX_TEXT_LENGTH} characters."
        raise InputError.of("", message, given=f"{len(text)} characters", allowed="2/2 twill Z")
    weave, guesses = _parse(_normalised(text), text)
    if ledger is not None and guesses:
        reason = "; ".join(dict.fromkeys(guess.reason for guess in guesses))
        ledger.note("", weave.name, unit=None, reason=f"'{text.strip()}': {reason}")
    return weave


def notations() -> tuple[Notation, ...]:
    """Return every notation that ``parse_weave`` understands."""
    return (*(kind.notation for kind in _KINDS.values()), *_COMBINED_NOTATIONS)


def _parse(normalised: str, text: str) -> tuple[Weave, tuple[_Guess, ...]]:
    """Read a normalised notation."""
    for name, combine in _COMBINATIONS.items():
        if name in normalised:
            return _combined(name, combine, normalised.replace(name, " ", 1), text)
    return _single(normalised, text)


@lru_cache(maxsize=128)
def _single(
    normalised: str, text: str, *, is_correction: bool = False
) -> tuple[Weave, tuple[_Guess, ...]]:
    """Read a weave that is not combined; cached, for the same few come again and again."""
    reading = _read_words(normalised, _Reading(text, is_correction))
    kind = _KINDS[_kind_of(reading)]
    unwanted = sorted(reading.parts() - kind.takes)
    if unwanted:
        _refuse(reading, f"'{kind.notation.name}' takes no {' and no '.join(unwanted)}.", kind)
    try:
        weave = kind.build(reading)
    except InputError as error:
        _refuse_as(error, kind, text)
    return weave, tuple(reading.guesses)


def _combined(
    name: str, combine: Callable[[Sequence[Weave]], Weave], rest: str, text: str
) -> tuple[Weave, tuple[_Guess, ...]]:
    """Read the weaves between the plus signs and combine them."""
    if any(other in rest for other in _COMBINATIONS):
        message = f"'{text}': a combined weave cannot be combined again; give it as rows."
        raise InputError.of("", message, given=text, allowed="double cloth plain + plain")
    parts = rest.split("+")
    wanted = _CLOTHS.get(name)
    if not 2 <= len(parts) <= MAX_COMBINED_WEAVES or (wanted and len(parts) != wanted):
        count = wanted or f"2 to {MAX_COMBINED_WEAVES}"
        message = f"'{text}': '{name}' is made of {count} weaves with + between them."
        raise InputError.of("", message, given=text, allowed=f"{name} plain + plain")
    read = [_single(" ".join(part.split()), part.strip()) for part in parts]
    weave = combine([single for single, _ in read])
    full = f"{name} {' + '.join(single.name for single, _ in read)}"
    return _named(weave, full), tuple(guess for _, guesses in read for guess in guesses)


def _normalised(text: str) -> str:
    """Fold case, accents, dashes, brackets and the trade's two-word names."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    folded = "".join(char for char in folded if not unicodedata.combining(char))
    folded = re.sub(r"[⁄∕÷]", "/", folded).replace("×", "x").replace("°", " degrees ")
    folded = re.sub(r"[\s\-‐-―−_,;:()\[\]'\"]+", " ", folded)
    folded = re.sub(r" ?/ ?", "/", folded).strip()
    folded = _UP_AND_DOWN.sub(_fraction_in_words, folded)
    for spoken, one_word in _TWO_WORDS.items():
        folded = folded.replace(spoken, one_word)
    return folded


def _fraction_in_words(match: re.Match[str]) -> str:
    """Write ``2 up 1 down`` as ``2/1``."""
    return "/".join(re.findall(r"\d+", match.group())) + " "


def _read_words(normalised: str, reading: _Reading) -> _Reading:
    """Sort the words of a notation by what they say."""
    words = _WORD.findall(normalised)
    if not words or "".join(words) != normalised.replace(" ", ""):
        _refuse(reading, "It is not a weave that is known here.")
    previous = ""
    for word in words:
        if word[0].isdigit():
            _read_number(reading, word, previous)
        else:
            _read_word(reading, word)
        previous = word
    return reading


def _read_number(reading: _Reading, word: str, previous: str) -> None:
    """Take a fraction or a number, which is a move after the word ``move``."""
    # The longest number that any limit lets pass has five digits.
    values = tuple(int(digits[:6]) for digits in word.strip("/").split("/"))
    if len(values) > 1:
        reading.fractions.append(values)
    elif previous in _MOVE_WORDS:
        reading.move = values[0]
    else:
        reading.numbers.append(values[0])


def _read_word(reading: _Reading, word: str) -> None:
    """Take a word that names the kind, the direction or the face, or says nothing."""
    if word in _KIND_WORDS:
        reading.kinds.append(_KIND_WORDS[word])
    elif word in _DIRECTIONS:
        reading.direction = _DIRECTIONS[word]
    elif word in _FACES:
        reading.face = _FACES[word]
    elif word in ("degree", "degrees", "deg") and reading.numbers:
        reading.degrees = reading.numbers.pop()
    elif word == "opposite":
        reading.opposite = True
    elif word not in _SILENT_WORDS and word not in _MOVE_WORDS:
        _refuse_word(reading, word)


def _kind_of(reading: _Reading) -> str:
    """Decide the one kind of weave; ``twill`` yields to a kind of twill."""
    kinds = set(reading.kinds)
    if len(kinds) > 1:
        kinds -= {"twill"}
    if len(kinds) > 1:
        _refuse(reading, f"It names {len(kinds)} weaves: {', '.join(sorted(kinds))}.")
    if kinds:
        return kinds.pop()
    if not reading.fractions:
        _refuse(reading, "It does not say which weave.")
    if reading.fractions == [(1, 1)]:
        return "plain"
    return reading.guess("twill", "a fraction alone is read as a twill")


def _refuse(reading: _Reading, why: str, kind: _Kind | None = None) -> NoReturn:
    """Refuse a notation, with an example of what is meant."""
    if kind is None and reading.kinds:
        kind = _KINDS[reading.kinds[0]]
    examples = [kind.notation.example] if kind else list(_EXAMPLES)
    message = f"'{reading.text}' cannot be read as a weave. {why} For example: {examples[0]}."
    raise InputError.of("", message, given=reading.text, allowed=examples)


def _refuse_word(reading: _Reading, word: str) -> NoReturn:
    """Refuse a word that is not known, naming the nearest that is."""
    if word == "leno" or word == "gauze":
        _refuse(reading, "In a true leno ends cross each other, which no weave matrix can show.")
    near = get_close_matches(word, _VOCABULARY, n=1, cutoff=0.6)
    if not near or reading.is_correction:
        _refuse(reading, f"'{word}' is not known.")
    meant = _corrected(reading.text, word, near[0])
    if meant is None:
        kind = _KIND_WORDS.get(near[0])
        _refuse(reading, f"Did you mean '{near[0]}'?", _KINDS[kind] if kind else None)
    message = f"'{reading.text}' cannot be read as a weave. Did you mean \"{meant}\"?"
    raise InputError.of("", message, given=reading.text, allowed=[meant])


def _corrected(text: str, word: str, known: str) -> str | None:
    """Return the weave that a text names with one word replaced; ``None`` if it names none."""
    fixed = _normalised(text).replace(word, known, 1)
    try:
        weave, _ = _single(fixed, fixed, is_correction=True)
    except InputError:
        return None
    return weave.name


def _refuse_as(error: InputError, kind: _Kind, text: str) -> NoReturn:
    """Say which notation a fault of construction belongs to."""
    fault = error.faults[0]
    message = fault.message
    if not message.startswith("'"):
        message = f"'{text}': {message} For example: {kind.notation.example}."
    raise InputError.of("", message, given=text, allowed=fault.allowed) from error


def _named(weave: Weave, name: str) -> Weave:
    """Return the true repeat under its canonical name."""
    return Weave(matrix=weave.reduced().matrix, name=name)


def _text(fraction: Fraction) -> str:
    return "/".join(map(str, fraction))


def _plain(reading: _Reading) -> Weave:
    if any(basic.checked_fraction(terms) != (1, 1) for terms in reading.fractions):
        _refuse(reading, "Plain weave is 1/1.")
    return basic.plain()


def _twill(reading: _Reading) -> Weave:
    fraction = reading.fraction()
    if fraction == (1, 1):
        return basic.plain()
    if reading.move is not None and reading.move != 1:
        return _reclined(reading)
    direction = reading.twill_direction()
    return _named(
        basic.twill(fraction, direction=direction), f"{_text(fraction)} twill {direction}"
    )


def _steps(reading: _Reading, kind: str, angles: dict[int, int]) -> int:
    """Return the threads by which a steep or reclined twill moves."""
    if reading.degrees is not None:
        if reading.degrees not in angles:
            _refuse(reading, f"The angles of {kind} twills are {', '.join(map(str, angles))}.")
        return angles[reading.degrees]
    move = reading.move or reading.guess(2, f"no move given: a {kind} twill of 2")
    if not 2 <= move <= basic.MAX_FRACTION_THREADS:
        _refuse(reading, f"A {kind} twill moves by 2 threads or more.")
    return move


def _steep(reading: _Reading) -> Weave:
    fraction, direction = reading.fraction(), reading.twill_direction()
    move = _steps(reading, "steep", {63: 2, 70: 3, 72: 3, 75: 4, 76: 4})
    weave = basic.twill(fraction, direction=direction, picks_per_end=move)
    return _named(weave, f"{_text(fraction)} steep twill {direction} move {move}")


def _reclined(reading: _Reading) -> Weave:
    fraction, direction = reading.fraction(), reading.twill_direction()
    move = _steps(reading, "reclined", {27: 2, 20: 3, 18: 3, 15: 4, 14: 4})
    weave = basic.twill(fraction, direction=direction, ends_per_pick=move)
    return _named(weave, f"{_text(fraction)} reclined twill {direction} move {move}")


def _broken(reading: _Reading) -> Weave:
    fraction, direction = reading.fraction(), reading.twill_direction()
    weave = basic.broken_twill(fraction, direction=direction)
    return _named(weave, f"{_text(fraction)} broken twill {direction}")


def _herringbone(reading: _Reading) -> Weave:
    fraction = reading.fraction()
    if len(reading.numbers) > 2:
        _refuse(reading, "It takes the ends of one stripe, or of two.")
    sizes = reading.numbers or [
        reading.guess(sum(fraction), "no stripe given: each as wide as the twill's repeat")
    ]
    first, second = sizes[0], sizes[-1]
    direction = reading.direction or "Z"
    weave = basic.herringbone(
        fraction,
        first_ends=first,
        second_ends=second,
        direction=direction,
        opposite=reading.opposite,
    )
    width = str(first) if first == second else f"{first} and {second}"
    tail = " S" * (direction == "S") + " opposite" * reading.opposite
    return _named(weave, f"{_text(fraction)} herringbone {width}{tail}")


def _pointed(reading: _Reading) -> Weave:
    fraction = reading.fraction()
    shafts = reading.size(sum(fraction), "no point given: at the last end of the twill's repeat")
    direction = reading.direction or "Z"
    weave = basic.pointed(fraction, shafts=shafts, direction=direction)
    return _named(weave, f"{_text(fraction)} pointed twill {shafts}{' S' * (direction == 'S')}")


def _diamond(reading: _Reading) -> Weave:
    fraction = reading.fraction()
    shafts = reading.size(sum(fraction), "no point given: at the last thread of the twill")
    return _named(basic.diamond(fraction, shafts=shafts), f"{_text(fraction)} diamond {shafts}")


def _satin_size(reading: _Reading) -> tuple[int, int | None]:
    """Return ends and move, written as ``8-end move 3``, ``8/3`` or as a fraction ``7/1``."""
    if len(reading.fractions) > 1 or len(reading.fractions) + len(reading.numbers) not in (1, 2):
        _refuse(reading, "It needs the number of ends, and the move.")
    if reading.fractions:
        first, second, *more = reading.fractions[0]
        if more:
            _refuse(reading, "A satin's fraction has two numbers.")
        if 1 in (first, second):
            return first + second, reading.numbers[0] if reading.numbers else reading.move
        return first, second
    ends, *move = reading.numbers
    return ends, move[0] if move else reading.move


def _satin_face(reading: _Reading, default: Literal["warp", "weft"]) -> Literal["warp", "weft"]:
    """Return the face; a fraction such as 1/4 or 4/1 states it as well as a word."""
    terms = reading.fractions[0] if reading.fractions else ()
    if reading.face is None and 1 in terms and terms != (1, 1):
        return "weft" if terms[0] == 1 else "warp"
    return reading.face or default


def _satin_or_sateen(reading: _Reading, default: Literal["warp", "weft"]) -> Weave:
    ends, given = _satin_size(reading)
    move = given
    if move is None:
        move = basic.best_satin_move(ends)
        reading.guess(move, f"no move given: {move} spreads the binding points best")
    face = _satin_face(reading, default)
    weave = basic.satin(ends, move=move, face=face)
    return _named(weave, f"{ends}-end {'satin' if face == 'warp' else 'sateen'} move {move}")


def _rib(reading: _Reading) -> Weave:
    fraction = reading.fraction()
    if reading.face is None:
        _refuse(reading, "Say whether it is a warp rib or a weft rib.")
    if fraction == (1, 1):
        return basic.plain()
    weave = basic.warp_rib(fraction) if reading.face == "warp" else basic.weft_rib(fraction)
    return _named(weave, f"{_text(fraction)} {reading.face} rib")


def _hopsack(reading: _Reading) -> Weave:
    if len(reading.fractions) not in (1, 2):
        _refuse(reading, "It needs the groups of ends, and of picks if they differ.")
    across, upward = map(basic.checked_fraction, (reading.fractions[0], reading.fractions[-1]))
    if across == upward == (1, 1):
        return basic.plain()
    groups = _text(across) if across == upward else f"{_text(across)} x {_text(upward)}"
    return _named(basic.hopsack(across, upward), f"{groups} hopsack")


def _honeycomb(reading: _Reading) -> Weave:
    threads = reading.size(8, "no size given: the usual 8 by 8")
    return _named(basic.honeycomb(threads), f"honeycomb {threads}")


def _huckaback(reading: _Reading) -> Weave:
    threads = reading.size(10, "no size given: the usual 10 by 10")
    return _named(basic.huckaback(threads), f"huckaback {threads}")


def _mock_leno(reading: _Reading) -> Weave:
    sizes = set(reading.numbers).union(*reading.fractions)
    if len(sizes) > 1:
        _refuse(reading, "Its groups of ends and picks are alike.")
    group = sizes.pop() if sizes else reading.guess(3, "no group given: the usual 3 and 3")
    return _named(basic.mock_leno(group), f"mock leno {group}")


def _crepe(reading: _Reading) -> Weave:
    _refuse(reading, "A crepe has no notation of its own: give it as rows.")


_UP_AND_DOWN: Final = re.compile(r"(?:\d+ ?up(?: and)? \d+ ?down ?(?:and )?)+")
_WORD: Final = re.compile(r"\d+(?:/\d+)*|[a-z]+")
_TWO_WORDS: Final = {
    "hop sack": "hopsack",
    "herring bone": "herringbone",
    "honey comb": "honeycomb",
    "zig zag": "zigzag",
    "mock leno": "mockleno",
    "huck a back": "huckaback",
    "end on end": "end and end",
    "pick on pick": "pick and pick",
    "2 ply cloth": "double cloth",
    "3 ply cloth": "triple cloth",
    "4 ply cloth": "quadruple cloth",
}
_MOVE_WORDS: Final = frozenset({"move", "step", "counter", "moves", "steps"})
_DIRECTIONS: Final[dict[str, Direction]] = {
    "z": "Z", "right": "Z", "rh": "Z", "s": "S", "left": "S", "lh": "S",
}  # fmt: skip
_FACES: Final[dict[str, Literal["warp", "weft"]]] = {
    "warp": "warp", "weft": "weft", "filling": "weft",
}  # fmt: skip
_SILENT_WORDS: Final = frozenset({
    "a", "and", "by", "cloth", "each", "end", "ends", "face", "faced", "hand", "handed",
    "harness", "heald", "healds", "leaf", "line", "of", "on", "pick", "picks", "regular",
    "shaft", "shafts", "stave", "staves", "the", "thread", "threads", "to", "up", "weave",
    "weaves", "with", "x",
})  # fmt: skip
_KIND_WORDS: Final = {
    "plain": "plain", "tabby": "plain", "calico": "plain", "taffeta": "plain",
    "twill": "twill", "serge": "twill",
    "satin": "satin", "sateen": "sateen",
    "rib": "rib", "rep": "rib", "repp": "rib",
    "hopsack": "hopsack", "basket": "hopsack", "basketweave": "hopsack", "panama": "hopsack",
    "matt": "hopsack", "mat": "hopsack",
    "herringbone": "herringbone",
    "pointed": "pointed", "point": "pointed", "waved": "pointed", "zigzag": "pointed",
    "diamond": "diamond",
    "broken": "broken",
    "steep": "steep", "elongated": "steep",
    "reclined": "reclined", "flat": "reclined",
    "honeycomb": "honeycomb", "waffle": "honeycomb",
    "mockleno": "mock leno",
    "huckaback": "huckaback", "huck": "huckaback",
    "crepe": "crepe", "oatmeal": "crepe",
}  # fmt: skip
_VOCABULARY: Final = (*_KIND_WORDS, *_DIRECTIONS, *_FACES, "move", "opposite", "degrees")
_EXAMPLES: Final = ("2/2 twill Z", "plain", "8-end satin move 3", "2/2 warp rib", "2/2 hopsack")


def _kind(
    name: str,
    pattern: str,
    example: str,
    meaning: str,
    *takes: str,
    build: Callable[[_Reading], Weave],
) -> _Kind:
    notation = Notation(name=name, pattern=pattern, example=example, meaning=meaning)
    return _Kind(notation, frozenset(takes), build)


_KINDS: Final[dict[str, _Kind]] = {
    "plain": _kind(
        "plain", "plain", "plain", "Over one, under one; the first end is up on the first pick.",
        "fraction", build=_plain,
    ),
    "twill": _kind(
        "twill", "<up>/<down>[/<up>/<down> ...] twill Z|S", "2/1 twill Z",
        "Warp up and down along the first pick, warp up first; Z rises to the right (one end "
        "to the right each pick), S to the left.",
        "fraction", "direction", "move", build=_twill,
    ),
    "broken": _kind(
        "broken twill", "<fraction> broken twill Z|S", "3/1 broken twill Z",
        "The second half of the twill's ends in reversed order; on four ends 1, 2, 4, 3.",
        "fraction", "direction", build=_broken,
    ),
    "pointed": _kind(
        "pointed twill", "<fraction> pointed twill <ends>", "2/2 pointed twill 8",
        "The twill on a point draft with so many ends up to the point: 2 x ends - 2 in the repeat.",
        "fraction", "number", "direction", build=_pointed,
    ),
    "diamond": _kind(
        "diamond", "<fraction> diamond <threads>", "2/2 diamond 8",
        "The twill pointed across and along, with so many threads up to each point.",
        "fraction", "number", build=_diamond,
    ),
    "herringbone": _kind(
        "herringbone", "<fraction> herringbone <ends>[ and <ends>][ S][ opposite]",
        "2/2 herringbone 8",
        "Stripes of so many ends, in turn to the right and left (S: left first), cut clean by a "
        "skip of half the twill's repeat. 'opposite': the second stripe is the complement of the "
        "first run backwards, so that the face changes with the stripe.",
        "fraction", "number", "direction", "'opposite'", build=_herringbone,
    ),
    "steep": _kind(
        "steep twill", "<fraction> steep twill Z|S move <picks>", "5/2/1/2 steep twill Z move 2",
        "The line climbs so many picks for one end: every second, third ... end of the twill. "
        "Also by angle: 63 (2), 70 (3), 75 (4) degrees.",
        "fraction", "direction", "move", "angle", build=_steep,
    ),
    "reclined": _kind(
        "reclined twill", "<fraction> reclined twill Z|S move <ends>",
        "5/2/1/2 reclined twill Z move 2",
        "The line moves so many ends in one pick. Also by angle: 27 (2), 20 (3), 15 (4) degrees.",
        "fraction", "direction", "move", "angle", build=_reclined,
    ),
    "satin": _kind(
        "satin", "<ends>-end satin move <ends>", "8-end satin move 3",
        "Warp face; the binding point moves so many ends to the right each pick. The move has no "
        "common factor with the ends and is neither 1 nor ends - 1, so that 4 and 6 ends have "
        "none: give those as rows.",
        "fraction", "number", "move", "face",
        build=lambda reading: _satin_or_sateen(reading, "warp"),
    ),
    "sateen": _kind(
        "sateen", "<ends>-end sateen move <ends>", "5-end sateen move 2",
        "Weft face; otherwise as satin.",
        "fraction", "number", "move", "face",
        build=lambda reading: _satin_or_sateen(reading, "weft"),
    ),
    "rib": _kind(
        "warp rib or weft rib", "<fraction> warp|weft rib", "2/2 warp rib",
        "Warp rib: every end floats over so many picks, alternate ends opposed. Weft rib: every "
        "pick floats over so many ends, alternate picks opposed.",
        "fraction", "face", build=_rib,
    ),
    "hopsack": _kind(
        "hopsack", "<groups of ends>[ x <groups of picks>] hopsack", "2/2 hopsack",
        "Plain weave with ends and picks in groups; unequal groups as 3/2, different ones for "
        "ends and picks as 4/4 x 2/2.",
        "fraction", build=_hopsack,
    ),
    "honeycomb": _kind(
        "honeycomb", "honeycomb <threads>", "honeycomb 8",
        "The ordinary honeycomb on a point draft, an even number of ends and picks in a cell.",
        "number", build=_honeycomb,
    ),
    "mock leno": _kind(
        "mock leno", "mock leno <group>", "mock leno 3",
        "Groups of 3, 4 or 5 ends and picks; 3 after [TAYLOR-1909], 4 and 5 from memory.",
        "number", "fraction", build=_mock_leno,
    ),
    "huckaback": _kind(
        "huckaback", "huckaback <threads>", "huckaback 10",
        "Plain blocks in turn with blocks of weft floats; twice an odd number of threads.",
        "number", build=_huckaback,
    ),
    "crepe": _kind(
        "crepe", '{"rows": [...]}', '{"rows": ["1001", "0110", "1100", "0011"]}',
        "A crepe has no notation of its own: it is given as a matrix.",
        "number", "fraction", build=_crepe,
    ),
}  # fmt: skip

_COMBINATIONS: Final[dict[str, Callable[[Sequence[Weave]], Weave]]] = {
    "double cloth": basic.multiple_cloth,
    "triple cloth": basic.multiple_cloth,
    "quadruple cloth": basic.multiple_cloth,
    "end and end": basic.end_and_end,
    "pick and pick": basic.pick_and_pick,
}
_CLOTHS: Final = {"double cloth": 2, "triple cloth": 3, "quadruple cloth": 4}
_COMBINED_NOTATIONS: Final = (
    Notation(
        name="double cloth",
        pattern="double|triple|quadruple cloth <weave> + <weave> ...",
        example="double cloth plain + 2/2 twill Z",
        meaning="Separate cloths from the face down, ends and picks in turn; unstitched.",
    ),
    Notation(
        name="end and end",
        pattern="end and end <weave> + <weave> ...",
        example="end and end 2/2 twill Z + 2/1 twill Z",
        meaning="Ends of the weaves in turn, each keeping its own picks ([TAYLOR-1909], p. 181).",
    ),
    Notation(
        name="pick and pick",
        pattern="pick and pick <weave> + <weave> ...",
        example="pick and pick plain + 2/2 twill Z",
        meaning="Picks of the weaves in turn, each weave keeping its own ends.",
    ),
)
