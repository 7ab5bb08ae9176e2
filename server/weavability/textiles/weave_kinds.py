"""The kinds of weave that have a notation: what each may be given, and how it is built."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

from weavability.textiles import basic_weaves as basic
from weavability.textiles.basic_weaves import Fraction
from weavability.textiles.sentences import say
from weavability.textiles.sources import cite
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_words import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Notation:
    """A form in which a weave is named.

    Attributes:
        name: What the trade calls it.
        aliases: Other words for the kind.
        pattern: How it is written; words in angle brackets are placeholders for values.
        example: A notation in its canonical spelling.
        meaning: What the values mean, and the source of the construction.
    """

    name: str
    aliases: tuple[str, ...] = ()
    pattern: str
    example: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of weave: its public description, what it may be given, and how it is built."""

    notation: Notation
    takes: frozenset[str]
    build: Callable[[Reading], Weave]


def named(weave: Weave, name: str) -> Weave:
    """Return the true repeat under its canonical name."""
    return Weave(matrix=weave.reduced().matrix, name=name)


def _text(fraction: Fraction) -> str:
    return "/".join(map(str, fraction))


def _plain(reading: Reading) -> Weave:
    if any(basic.checked_fraction(terms) != (1, 1) for terms in reading.fractions):
        reading.refuse(say("fault.weave.plain", "Plain weave is 1/1."))
    return basic.plain()


def _twill(reading: Reading) -> Weave:
    fraction = reading.fraction()
    if fraction == (1, 1):
        return basic.plain()
    if reading.move is not None and reading.move != 1:
        return _reclined(reading)
    direction = reading.twill_direction()
    weave = basic.twill(fraction, direction=direction)
    return replace(weave, name=f"{_text(fraction)} twill {direction}")


# Sizes that a notation leaves open; common practice, no source.
USUAL_MOVE: Final = 2
USUAL_HONEYCOMB: Final = 8
USUAL_HUCKABACK: Final = 10
USUAL_LENO_GROUP: Final = 3
USUAL_CORD_ENDS: Final = 10


def _steps(reading: Reading, kind: str, angles: dict[int, int]) -> int:
    """Return the threads by which a steep or reclined twill moves."""
    if reading.degrees is not None:
        if reading.degrees not in angles:
            reading.refuse(
                say(
                    "fault.weave.twill_angles",
                    "The angles of {kind} twills are {angles}.",
                    kind=kind,
                    angles=", ".join(map(str, angles)),
                )
            )
        return angles[reading.degrees]
    move = reading.move or reading.guess(
        USUAL_MOVE,
        say(
            "assumption.weave.twill_move",
            "no move given: a {kind} twill of {threads}",
            kind=kind,
            threads=USUAL_MOVE,
        ),
    )
    if not 2 <= move <= basic.MAX_FRACTION_THREADS:
        reading.refuse(
            say("fault.weave.twill_move", "A {kind} twill moves by 2 threads or more.", kind=kind)
        )
    return move


def _steep(reading: Reading) -> Weave:
    fraction, direction = reading.fraction(), reading.twill_direction()
    move = _steps(reading, "steep", {63: 2, 70: 3, 72: 3, 75: 4, 76: 4})
    weave = basic.twill(fraction, direction=direction, picks_per_end=move)
    return named(weave, f"{_text(fraction)} steep twill {direction} move {move}")


def _reclined(reading: Reading) -> Weave:
    fraction, direction = reading.fraction(), reading.twill_direction()
    move = _steps(reading, "reclined", {27: 2, 20: 3, 18: 3, 15: 4, 14: 4})
    weave = basic.twill(fraction, direction=direction, ends_per_pick=move)
    return named(weave, f"{_text(fraction)} reclined twill {direction} move {move}")


def _broken(reading: Reading) -> Weave:
    fraction, direction = reading.fraction(), reading.twill_direction()
    weave = basic.broken_twill(fraction, direction=direction)
    return named(weave, f"{_text(fraction)} broken twill {direction}")


def _herringbone(reading: Reading) -> Weave:
    fraction = reading.fraction()
    if len(reading.numbers) > 2:
        reading.refuse(
            say("fault.weave.herringbone_stripes", "It takes the ends of one stripe, or of two.")
        )
    sizes = reading.numbers or [
        reading.guess(
            sum(fraction),
            say("assumption.weave.stripe", "no stripe given: each as wide as the twill's repeat"),
        )
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
    return named(weave, f"{_text(fraction)} herringbone {width}{tail}")


def _pointed(reading: Reading) -> Weave:
    fraction = reading.fraction()
    shafts = reading.size(
        sum(fraction),
        say("assumption.weave.point", "no point given: at the last end of the twill's repeat"),
    )
    direction = reading.direction or "Z"
    weave = basic.pointed(fraction, shafts=shafts, direction=direction)
    return named(weave, f"{_text(fraction)} pointed twill {shafts}{' S' * (direction == 'S')}")


def _diamond(reading: Reading) -> Weave:
    fraction = reading.fraction()
    shafts = reading.size(
        sum(fraction),
        say("assumption.weave.diamond_point", "no point given: at the last thread of the twill"),
    )
    return named(basic.diamond(fraction, shafts=shafts), f"{_text(fraction)} diamond {shafts}")


def _satin_size(reading: Reading) -> tuple[int, int | None]:
    """Return ends and move, written as ``8-end move 3``, ``8/3`` or as a fraction ``7/1``."""
    if len(reading.fractions) > 1 or len(reading.fractions) + len(reading.numbers) not in (1, 2):
        reading.refuse(
            say("fault.weave.satin_numbers", "It needs the number of ends, and the move.")
        )
    if reading.fractions:
        first, second, *more = reading.fractions[0]
        if more:
            reading.refuse(say("fault.weave.satin_fraction", "A satin's fraction has two numbers."))
        if 1 in (first, second):
            return first + second, reading.numbers[0] if reading.numbers else reading.move
        return first, second
    ends, *move = reading.numbers
    return ends, move[0] if move else reading.move


def _satin_face(reading: Reading, default: Literal["warp", "weft"]) -> Literal["warp", "weft"]:
    """Return the face; a fraction such as 1/4 or 4/1 states it as well as a word."""
    terms = reading.fractions[0] if reading.fractions else ()
    if reading.face is None and 1 in terms and terms != (1, 1):
        return "weft" if terms[0] == 1 else "warp"
    return reading.face or default


def _satin_or_sateen(reading: Reading, default: Literal["warp", "weft"]) -> Weave:
    ends, given = _satin_size(reading)
    move = given
    if move is None:
        move = basic.best_satin_move(ends)
        reading.guess(
            move,
            say(
                "assumption.weave.satin_move",
                "no move given: {move} spreads the binding points best",
                move=move,
            ),
        )
    face = _satin_face(reading, default)
    weave = basic.satin(ends, move=move, face=face)
    return named(weave, f"{ends}-end {'satin' if face == 'warp' else 'sateen'} move {move}")


def _rib(reading: Reading) -> Weave:
    fraction = reading.fraction()
    if reading.face is None:
        reading.refuse(
            say("fault.weave.rib_direction", "Say whether it is a warp rib or a weft rib.")
        )
    if fraction == (1, 1):
        return basic.plain()
    weave = basic.warp_rib(fraction) if reading.face == "warp" else basic.weft_rib(fraction)
    return named(weave, f"{_text(fraction)} {reading.face} rib")


def _hopsack(reading: Reading) -> Weave:
    if len(reading.fractions) not in (1, 2):
        reading.refuse(
            say(
                "fault.weave.hopsack_groups",
                "It needs the groups of ends, and of picks if they differ.",
            )
        )
    across, upward = map(basic.checked_fraction, (reading.fractions[0], reading.fractions[-1]))
    if across == upward == (1, 1):
        return basic.plain()
    groups = _text(across) if across == upward else f"{_text(across)} x {_text(upward)}"
    return named(basic.hopsack(across, upward), f"{groups} hopsack")


def _honeycomb(reading: Reading) -> Weave:
    threads = reading.square(
        USUAL_HONEYCOMB,
        say(
            "assumption.weave.honeycomb",
            "no size given: the usual {threads} by {threads}",
            threads=USUAL_HONEYCOMB,
        ),
    )
    return named(basic.honeycomb(threads), f"honeycomb {threads}")


def _huckaback(reading: Reading) -> Weave:
    threads = reading.square(
        USUAL_HUCKABACK,
        say(
            "assumption.weave.huckaback",
            "no size given: the usual {threads} by {threads}",
            threads=USUAL_HUCKABACK,
        ),
    )
    return named(basic.huckaback(threads), f"huckaback {threads}")


def _mock_leno(reading: Reading) -> Weave:
    group = reading.square(
        USUAL_LENO_GROUP,
        say(
            "assumption.weave.mock_leno",
            "no group given: the usual {threads} and {threads}",
            threads=USUAL_LENO_GROUP,
        ),
    )
    return named(basic.mock_leno(group), f"mock leno {group}")


def _bedford_cord(reading: Reading) -> Weave:
    face_ends = reading.size(
        USUAL_CORD_ENDS,
        say(
            "assumption.weave.bedford_cord",
            "no size given: the usual {ends} face ends in a cord",
            ends=USUAL_CORD_ENDS,
        ),
    )
    return named(basic.bedford_cord(face_ends), f"bedford cord {face_ends}")


def _crepe(reading: Reading) -> Weave:
    reading.refuse(say("fault.weave.crepe", "A crepe has no notation of its own: give it as rows."))


def _kind(
    name: str,
    pattern: str,
    example: str,
    meaning: str,
    *takes: str,
    build: Callable[[Reading], Weave],
    also: tuple[str, ...] = (),
) -> Kind:
    notation = Notation(
        name=name, aliases=also, pattern=pattern, example=example, meaning=cite(meaning)
    )
    return Kind(notation, frozenset(takes), build)


KINDS: Final[dict[str, Kind]] = {
    "plain": _kind(
        "plain", "plain", "plain", "Over one, under one; the first end is up on the first pick.",
        "fraction", build=_plain, also=("tabby",),
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
        "fraction", "number", "direction", build=_pointed, also=("point", "waved", "zig-zag"),
    ),
    "diamond": _kind(
        "diamond", "<fraction> diamond <threads>", "2/2 diamond 8",
        "The twill pointed across and along, with so many threads up to each point.",
        "fraction", "number", build=_diamond, also=("lozenge",),
    ),
    "herringbone": _kind(
        "herringbone", "<fraction> herringbone <ends>[ and <ends>][ S][ opposite]",
        "2/2 herringbone 8",
        "Stripes of so many ends, in turn to the right and left (S: left first), cut clean by a "
        "skip of half the twill's repeat. 'opposite': the second stripe is the complement of the "
        "first run backwards, so that the face changes with the stripe.",
        "fraction", "number", "direction", "'opposite'",
        build=_herringbone, also=("herring bone", "chevron"),
    ),
    "steep": _kind(
        "steep twill", "<fraction> steep twill Z|S move <picks>", "5/2/1/2 steep twill Z move 2",
        "The line climbs so many picks for one end: every second, third ... end of the twill. "
        "Also by angle: 63 (2), 70 (3), 75 (4) degrees.",
        "fraction", "direction", "move", "angle", build=_steep, also=("elongated",),
    ),
    "reclined": _kind(
        "reclined twill", "<fraction> reclined twill Z|S move <ends>",
        "5/2/1/2 reclined twill Z move 2",
        "The line moves so many ends in one pick. Also by angle: 27 (2), 20 (3), 15 (4) degrees.",
        "fraction", "direction", "move", "angle", build=_reclined, also=("flat",),
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
        "fraction", "face", build=_rib, also=("rep", "repp"),
    ),
    "hopsack": _kind(
        "hopsack", "<groups of ends>[ x <groups of picks>] hopsack", "2/2 hopsack",
        "Plain weave with ends and picks in groups; unequal groups as 3/2, different ones for "
        "ends and picks as 4/4 x 2/2.",
        "fraction", build=_hopsack,
        also=("basket", "basketweave", "panama", "matt", "mat", "natte", "hop sack"),
    ),
    "honeycomb": _kind(
        "honeycomb", "honeycomb <threads>", "honeycomb 8",
        "The ordinary honeycomb on a point draft, an even number of ends and picks in a cell.",
        "number", "fraction", build=_honeycomb, also=("waffle", "honey comb"),
    ),
    "mock leno": _kind(
        "mock leno", "mock leno <group>", "mock leno 3",
        "Groups of 3, 4 or 5 ends and picks; 3 after [TAYLOR-1909], 4 and 5 from memory.",
        "number", "fraction", build=_mock_leno, also=("mockleno", "imitation gauze"),
    ),
    "huckaback": _kind(
        "huckaback", "huckaback <threads>", "huckaback 10",
        "Plain blocks in turn with blocks of weft floats; twice an odd number of threads.",
        "number", "fraction", build=_huckaback, also=("huck", "huck a back"),
    ),
    "bedford cord": _kind(
        "bedford cord", "bedford cord <ends>", "bedford cord 10",
        "Two cords, each of two plain cutting ends and so many face ends; picks in pairs weave "
        "plain in one cord and lie under the other ([CORD-LECTURE]).",
        "number", build=_bedford_cord, also=("bedford",),
    ),
    "crepe": _kind(
        "crepe", '{"rows": [...]}', '{"rows": ["1001", "0110", "1100", "0011"]}',
        "A crepe has no notation of its own: it is given as a matrix.",
        "number", "fraction", build=_crepe, also=("oatmeal",),
    ),
}  # fmt: skip

KIND_WORDS: Final[dict[str, str]] = {
    **{key: key for key in KINDS if " " not in key},
    **{
        word: key
        for key, kind in KINDS.items()
        for word in ("".join(key.split()), *(a for a in kind.notation.aliases if a.isalpha()))
    },
    "zigzag": "pointed",
}
"""The kind that a word names; a name of several words is read as one."""

SPOKEN: Final[dict[str, str]] = {
    spelling: "".join(key.split())
    for key, kind in KINDS.items()
    for spelling in (key, *kind.notation.aliases)
    if not spelling.isalpha()
}
"""The word for a kind's name of several words."""
