"""Named weaves as the trade writes them: from text to a weave, and back to one canonical spelling.

Case, spaces, hyphens and the order of the words do not matter. What cannot be read is answered with
the nearest name, the rest of the text kept, or with what the trade means by the word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from difflib import SequenceMatcher, get_close_matches
from functools import lru_cache
from typing import Final, NoReturn

from weavability.textiles import basic_weaves as basic
from weavability.textiles.assumptions import Grade, Ledger
from weavability.textiles.digits import require_plain_digits
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import listed, say
from weavability.textiles.trade_names import TradeName, trade_names
from weavability.textiles.weave_kinds import KIND_WORDS, KINDS, SPOKEN, Kind, Notation, named
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_words import (
    MEANT,
    Guess,
    Reading,
    Spellings,
    folded,
    is_known,
    read_words,
    words_of,
)

MAX_TEXT_LENGTH: Final = 200
MAX_COMBINED_WEAVES: Final = 8
MAX_CORRECTED_WORDS: Final = 16
"""Most words of a text in which a misspelt one is looked for."""
LEAST_LETTERS: Final = 4
"""Letters of a word from which it is taken for a misspelt one, and fewer of a name than which would
be offered has to read as a weave; ours, no source."""
MOST_TRIED: Final = 6
"""Most names that are tried for the last misspelt word of a text."""

_Read = tuple[Weave, tuple[Guess, ...]]


def parse_weave(text: str, *, ledger: Ledger | None = None) -> Weave:
    """Read a named weave.

    Args:
        text: The notation, at most 200 characters; see ``notations`` and ``trade_names``.
        ledger: Where what the text left open (such as the direction of a twill) is noted.

    Returns:
        The weave at its true smallest repeat, named in the canonical spelling.

    Raises:
        InputError: When it cannot be read: with the nearest name, or with what is meant by the
            name, and an example.

    >>> parse_weave("TWILL 2/1, left-hand").name
    '2/1 twill S'
    >>> parse_weave("satin 8 (3)").name
    '8-end satin move 3'
    >>> parse_weave("left-hand denim").name
    '3/1 twill S'
    """
    if len(text) > MAX_TEXT_LENGTH:
        message = say(
            "fault.weave.name_too_long",
            "A weave's name has at most {most_characters} characters.",
            most_characters=MAX_TEXT_LENGTH,
        )
        raise InputError.of("", message, given=f"{len(text)} characters", allowed="2/2 twill Z")
    require_plain_digits(text)
    if below_zero := _BELOW_ZERO.search(text):
        message = say(
            "fault.weave.negative",
            "'{text}' has a number below 0: leave out the sign of {number}.",
            text=text,
            number=below_zero.group(),
        )
        raise InputError.of("", message, given=text, allowed="8-end satin move 3")
    try:
        weave, guesses = _parse(folded(text), text)
    except InputError:
        _correct(text)
        raise
    if ledger is not None and guesses:
        reason = listed(list(dict.fromkeys(guess.reason for guess in guesses)))
        grade = next((g.grade for g in guesses if g.grade is not Grade.SOURCE), Grade.SOURCE)
        ledger.note(
            "",
            weave.name,
            unit=None,
            reason=say(
                "assumption.weave.reading", "'{text}': {reason}", text=text.strip(), reason=reason
            ),
            grade=grade,
        )
    return weave


def notations() -> tuple[Notation, ...]:
    """Return every notation that ``parse_weave`` understands, beside the names of the trade."""
    return (*(kind.notation for kind in KINDS.values()), *_COMBINED_NOTATIONS)


def _parse(plain: str, text: str) -> _Read:
    """Read a folded notation."""
    normalised = _SPELLINGS.replaced(plain)
    for name, combine in _COMBINATIONS.items():
        if name in normalised:
            rest = normalised.replace(name, " ", 1)
            return _combined(name, combine, rest, text)
    return _single(normalised, text)


@lru_cache(maxsize=128)
def _single(normalised: str, text: str) -> _Read:
    """Read a weave that is not combined; cached, for the same few come again and again."""
    reading = Reading(text)
    words = words_of(normalised)
    if not words:
        reading.refuse(say("fault.weave.unknown", "It is not a weave that is known here."))
    read_words(words, reading, KIND_WORDS, trade_names())
    if reading.unknown:
        reading.refuse(
            say("fault.weave.unknown_word", "'{word}' is not known.", word=reading.unknown[0])
        )
    trade = _trade_name(reading)
    if trade is not None and not trade.reads_as:
        _explain(trade, text)
    kind = KINDS[_kind_of(reading, trade)]
    reading.examples = (kind.notation.example,)
    if trade is not None:
        _fill_from(trade, reading)
    _pair_numbers(reading, kind)
    unwanted = sorted(reading.parts() - kind.takes)
    if unwanted:
        reading.refuse(
            say(
                "fault.weave.takes_no",
                "'{weave}' takes no {words}.",
                weave=kind.notation.name,
                words=" and no ".join(unwanted),
            )
        )
    try:
        weave = kind.build(reading)
    except InputError as error:
        _refuse_as(error, kind, text, trade)
    return weave, tuple(reading.guesses)


def _combined(
    name: str,
    combine: Callable[[Sequence[Weave]], Weave],
    rest: str,
    text: str,
) -> _Read:
    """Read the weaves between the plus signs and combine them."""
    if any(other in rest for other in _COMBINATIONS):
        message = say(
            "fault.weave.combined_twice",
            "'{text}': a combined weave cannot be combined again; give it as rows.",
            text=text,
        )
        raise InputError.of("", message, given=text, allowed="double cloth plain + plain")
    parts = rest.split("+")
    needed = _CLOTHS.get(name)
    if not 2 <= len(parts) <= MAX_COMBINED_WEAVES or (needed and len(parts) != needed):
        count = needed or f"2 to {MAX_COMBINED_WEAVES}"
        message = say(
            "fault.weave.not_of_so_many",
            "'{text}': '{weave}' is made of {count} weaves with + between them.",
            text=text,
            weave=name,
            count=count,
        )
        raise InputError.of("", message, given=text, allowed=f"{name} plain + plain")
    read = [_single(" ".join(part.split()), part.strip()) for part in parts]
    weave = combine([single for single, _ in read])
    full = f"{name} {' + '.join(single.name for single, _ in read)}"
    return named(weave, full), tuple(guess for _, guesses in read for guess in guesses)


def _trade_name(reading: Reading) -> TradeName | None:
    """Return the one name of the trade, if there is one."""
    found = {trade_names()[word].key: trade_names()[word] for word in reading.trade_names}
    if len(found) > 1:
        names = sorted(each.name for each in found.values())
        reading.refuse(
            say(
                "fault.weave.several_names",
                "It names {count} weaves: {names}.",
                count=len(names),
                names=", ".join(names),
            )
        )
    return next(iter(found.values()), None)


def _explain(trade: TradeName, text: str) -> NoReturn:
    """Say what is meant by a name that is no weave by itself."""
    message = say(
        "fault.weave.no_weave",
        "'{text}' does not name a weave. {answer}",
        text=text,
        answer=trade.answer,
    )
    raise InputError.of("", message, given=text, allowed=trade.declare)


def _fill_from(trade: TradeName, reading: Reading) -> None:
    """Take from a name of the trade what the text does not state beside it."""
    whole = Reading(reading.text)
    read_words(words_of(folded(trade.reads_as)) or (), whole, KIND_WORDS, ())
    # A name of plain weave has no part but the weave itself.
    took = reading.fill(whole) or not (reading.kinds or whole.parts())
    if took and trade.leaves:
        reading.guesses.append(Guess(trade.reads_as, trade.leaves, trade.grade))


def _pair_numbers(reading: Reading, kind: Kind) -> None:
    """Read ``3 1 twill`` as 3/1, if the kind takes a fraction and no number."""
    if "fraction" not in kind.takes or "number" in kind.takes or reading.fractions:
        return
    if reading.numbers and len(reading.numbers) % 2 == 0:
        terms = tuple(reading.numbers)
        reading.fractions, reading.numbers = [terms], []
        reading.guess(
            terms,
            say(
                "assumption.weave.numbers_as_fraction",
                "the numbers are read as a fraction, warp up first",
            ),
        )


def _kind_of(reading: Reading, trade: TradeName | None) -> str:
    """Decide the one kind of weave; ``twill`` yields to a kind of twill."""
    kinds = set(reading.kinds)
    if trade is not None:
        own = Reading(reading.text)
        read_words(words_of(folded(trade.reads_as)) or (), own, KIND_WORDS, ())
        kinds |= set(own.kinds)
        if len(kinds) > 1 and not kinds <= _TWILLS:
            kinds = {trade.name, *reading.kinds}
            reading.refuse(
                say(
                    "fault.weave.several_names",
                    "It names {count} weaves: {names}.",
                    count=len(kinds),
                    names=", ".join(sorted(kinds)),
                )
            )
    if kinds & (_TWILLS - {"twill"}):
        kinds -= {"twill"}
    if len(kinds) > 1:
        reading.refuse(
            say(
                "fault.weave.several_names",
                "It names {count} weaves: {names}.",
                count=len(kinds),
                names=", ".join(sorted(kinds)),
            )
        )
    if kinds:
        return kinds.pop()
    if not reading.fractions:
        reading.refuse(say("fault.weave.no_kind", "It does not say which weave."))
    if reading.fractions == [(1, 1)]:
        return "plain"
    return reading.guess(
        "twill", say("assumption.weave.fraction_alone", "a fraction alone is read as a twill")
    )


def _correct(text: str) -> None:
    """Refuse a text with a word that is not known by naming the nearest that makes sense there.

    Nothing is guessed if every word is known, or if no name is near: then it returns.
    """
    first: tuple[str, InputError] | None = None
    for near, fixed in _corrections(folded(text)):
        try:
            meant = _parse(fixed, fixed)[0].name
        except InputError as error:
            if len(near) > LEAST_LETTERS:
                first = first or (near, error)
            continue
        message = (
            say(
                "fault.weave.misspelt",
                "'{text}' cannot be read as a weave. Did you mean \"{meant}\"?",
                text=text,
                meant=meant,
            )
            if near in meant
            else say(
                "fault.weave.misspelt_name",
                "'{text}' cannot be read as a weave. Did you mean '{near}', which is \"{meant}\"?",
                text=text,
                near=near,
                meant=meant,
            )
        )
        raise InputError.of("", message, given=text, allowed=[meant])
    if first is not None:
        near, refused = first
        fault = refused.faults[0]
        message = say(
            "fault.weave.misspelt_and_wrong",
            "'{text}' cannot be read as a weave. Did you mean '{near}'? {fault}",
            text=text,
            near=near,
            fault=fault.message,
        )
        raise InputError.of("", message, given=text, allowed=fault.allowed)


def _corrections(text: str, most_words: int = 4) -> Iterator[tuple[str, str]]:
    """Yield what a misspelt word may mean, and the text with it in place, the nearest first.

    Args:
        text: The folded text.
        most_words: Words that are not known of which the text may have so many.
    """
    words, unknown = text.split(), _unknown(text)
    if not 1 <= len(unknown) <= most_words or len(words) > MAX_CORRECTED_WORDS:
        return
    # Few are tried while more words are not known, so that the work is bounded.
    tried = MOST_TRIED if len(unknown) == 1 else 2
    for near, start, size in _nearest(words, unknown)[:tried]:
        fixed = " ".join((*words[:start], near, *words[start + size :]))
        if not _unknown(fixed):
            yield near, fixed
        else:
            yield from ((near, more) for _, more in _corrections(fixed, len(unknown) - 1))


def _unknown(text: str) -> list[int]:
    """Return the places of the words that say nothing, alone or with their neighbours."""
    marked = zip(text.split(), _SPELLINGS.marked(text), strict=True)
    return [
        place for place, (word, is_part) in enumerate(marked) if not is_part and not _is_known(word)
    ]


def _nearest(words: Sequence[str], unknown: Sequence[int]) -> list[tuple[str, int, int]]:
    """Return names that are like the words about the first that is not known.

    Beside each: where those words begin, and how many they are.

    A name of several words takes no number into it, so that a correction keeps what is stated.
    """
    found, at = [], unknown[0]
    for size, phrases in _PHRASES.items():
        for start in range(max(0, at - size + 1), min(at, len(words) - size) + 1):
            phrase = " ".join(words[start : start + size])
            longest = max((words[one] for one in unknown if start <= one < start + size), key=len)
            if size > 1 and any(char.isdigit() for char in phrase):
                continue
            for near in get_close_matches(phrase, phrases, n=3, cutoff=_cutoff(phrase)):
                if _may_be(longest, near):
                    likeness = SequenceMatcher(None, near, phrase).ratio()
                    found.append((-likeness, near, start, size))
    return [(near, start, size) for _, near, start, size in sorted(found)]


def _is_known(word: str) -> bool:
    parts = words_of(word.replace("+", " ").strip())
    return parts is not None and all(
        part[0].isdigit() or part in _COMBINING or is_known(part, KIND_WORDS, trade_names())
        for part in parts
    )


def _may_be(word: str, near: str) -> bool:
    """Return whether a word is long enough to be a misspelt one.

    A word of three letters may lack one of a name, such as ``lft``; shorter ones are like many.
    """
    if len(word) >= LEAST_LETTERS:
        return True
    letters = iter(near)
    return len(word) == len(near) - 1 == LEAST_LETTERS - 1 and all(one in letters for one in word)


def _cutoff(word: str) -> float:
    """Return how like a word must be: one letter of a short one may differ, two of a long one."""
    return max(0.5, min(1 - 1 / len(word), 0.8) - 0.001)


def _refuse_as(error: InputError, kind: Kind, text: str, trade: TradeName | None) -> NoReturn:
    """Say which notation a fault of construction belongs to."""
    fault = error.faults[0]
    message = fault.message
    if trade is not None and not trade.is_whole:
        message = say(
            "fault.weave.meaning_of_name", "'{text}': {meaning}", text=text, meaning=trade.meaning
        )
        raise InputError.of("", message, given=text, allowed=fault.allowed) from error
    if not message.startswith("'"):
        message = say(
            "fault.weave.wrong",
            "'{text}': {fault} For example: {example}.",
            text=text,
            fault=message,
            example=kind.notation.example,
        )
    raise InputError.of("", message, given=text, allowed=fault.allowed) from error


_COMBINATIONS: Final[dict[str, Callable[[Sequence[Weave]], Weave]]] = {
    "double cloth": basic.multiple_cloth,
    "triple cloth": basic.multiple_cloth,
    "quadruple cloth": basic.multiple_cloth,
    "end and end": basic.end_and_end,
    "pick and pick": basic.pick_and_pick,
}
_CLOTHS: Final = {"double cloth": 2, "triple cloth": 3, "quadruple cloth": 4}


def cloths_named(notation: str) -> int:
    """Return how many cloths lie one above the other by a notation; 0 if it is of no such weave.

    >>> cloths_named("double cloth plain + plain"), cloths_named("plain")
    (2, 0)
    """
    return next((count for name, count in _CLOTHS.items() if notation.startswith(name)), 0)


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

_BELOW_ZERO: Final = re.compile(r"(?<![^\s(])[-−]\d+")
_TWILLS: Final = frozenset(
    {"twill", "broken", "pointed", "diamond", "herringbone", "steep", "reclined"}
)
_COMBINING: Final = frozenset(word for name in _COMBINATIONS for word in name.split())
_SPELLINGS: Final = Spellings(
    {
        **{spelling: key for key, name in trade_names().items() for spelling in name.spellings},
        **SPOKEN,
        "lht": "lh twill",
        "rht": "rh twill",
        "lefthand": "left hand",
        "righthand": "right hand",
        "end on end": "end and end",
        "pick on pick": "pick and pick",
        "2 ply cloth": "double cloth",
        "3 ply cloth": "triple cloth",
        "4 ply cloth": "quadruple cloth",
        "double weave": "double cloth",
    }
)


def _phrases() -> dict[int, tuple[str, ...]]:
    """Return the names that a misspelt one may mean, by the number of their words."""
    by_words: dict[int, list[str]] = {}
    for phrase in dict.fromkeys((*KIND_WORDS, *_SPELLINGS.words, *_COMBINATIONS, *MEANT)):
        if not any(char.isdigit() for char in phrase) and len(phrase) > 2:
            by_words.setdefault(len(phrase.split()), []).append(phrase)
    return {size: tuple(phrases) for size, phrases in by_words.items()}


_PHRASES: Final = _phrases()
