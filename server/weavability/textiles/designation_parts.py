"""A designation of yarn, and the reading of each of the parts of which it is written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final, NoReturn

from weavability.textiles.count_systems import (
    WOOLLEN,
    System,
    systems_by_name,
    woollen_systems,
)
from weavability.textiles.errors import InputError
from weavability.textiles.records import record
from weavability.textiles.sentences import Sentence, say

MOST_PLIES: Final = 24


MOST_FILAMENTS: Final = 20_000


FEWEST_FILAMENTS_AFTER_STROKE: Final = 13
"""``150/48 den``: from this number on it is filaments, below it could be plies."""


EXAMPLES: Final = (
    "20 tex, R 40 tex/2, 20 tex x 2, 150 dtex f48, 75 den, Ne 30, Ne 30/2, Nm 60/2, "
    "worsted 2/48, linen 25 lea, silk 40/2, jute 8 lb"
)


LEAST_FILAMENTS: Final = 12
"""A number behind the first from which on it is no number of plies; common practice, no source."""

TITRE_SPREAD: Final = 1.3
"""Greatest over least linear density of a titre, such as 13/15 or 100/120; common practice."""


class TwistDirection(StrEnum):
    """Direction of a twist: the slope of the fibres, as in the middle stroke of the letter."""

    S = "S"
    Z = "Z"


@record(kw_only=True)
class Designation:
    """A designation that was read.

    Attributes:
        text: The same in canonical form; reading it again gives the same yarn.
        system: Key of its system; of the first yarn if unequal yarns are folded.
        linear_density_tex: Resultant linear density, before any twist take-up that is not stated.
        single_tex: Linear density of one single; the mean if they are unequal.
        plies: Number of singles in the yarn.
        filaments: Filaments of one single, on average if they are unequal; ``None`` if they are
            not stated.
        resultant_stated: Whether the number is that of the folded yarn, twist take-up included.
        spun: Whether the system is one of spun yarns.
        fibre: The fibre that the system is used for; ``None`` if it is used for many.
        reading: What was understood, if another reading is possible; otherwise ``None``.
        folded_tex: Linear density of each yarn that ``+`` folds; one if nothing is.
        twist_per_m: Turns per metre of the yarn as it is woven; ``None`` if not written.
        twist_direction: Their direction; ``None`` if there is no twist, or none is written.
    """

    text: str
    system: str
    linear_density_tex: float
    single_tex: float
    plies: int
    filaments: int | None
    resultant_stated: bool = False
    spun: bool = False
    fibre: str | None = None
    reading: Sentence | None = None
    folded_tex: tuple[float, ...] = ()
    twist_per_m: float | None = None
    twist_direction: TwistDirection | None = None


def refuse_designation(
    text: str, message: Sentence, allowed: str = f"for example {EXAMPLES}"
) -> NoReturn:
    """Refuse a designation, with what is allowed instead."""
    raise InputError.of("", message, given=text, allowed=allowed)


_TOKENS: Final = re.compile(
    r"(?P<number>\d+(?:\.\d+)?|\.\d+)(?P<english>s(?![a-z0-9]))?"
    r"|(?P<word>[a-z]+)|(?P<mark>[/*×-])|(?P<space>\s+)",
    re.ASCII,
)


TWIST: Final = re.compile(
    r"(?<![a-z0-9])(?P<letter>[sz](?=\s*\d)|t(?=\s*0(?!\d)))\s*(?P<turns>\d+)(?![\d.])", re.ASCII
)


_IDLE_WORDS: Final = frozenset({"count", "counts", "yarn", "s"})


_JOINTS: Final = frozenset("/-x*×")


_PLY_WORDS: Final = frozenset({"ply", "plies", "fold"})


_FILAMENT_WORDS: Final = frozenset({"f", "fil", "filament", "filaments"})


@dataclass(slots=True)
class Component:
    """One yarn of a designation, split into its parts but not yet understood."""

    system: System | None
    numbers: list[float]
    joints: list[str]
    leading_number_owns_unit: bool
    resultant: bool
    english: bool
    filaments: int | None
    plies: int

    @classmethod
    def read(cls, part: str, *, whole: str) -> Component:
        """Sort the tokens of a part into numbers, joints (``/``, ``x``) and words."""
        sorter = _Sorter(whole)
        sorter.feed(_tokens(part, whole))
        return sorter.component()

    def designation(self, system: System, text: str) -> Designation:
        """Understand the numbers in ``system``."""
        if not self.numbers:
            refuse_designation(
                text, say("fault.designation.number_missing", "Write the number of the yarn.")
            )
        if min(self.numbers) <= 0.0:
            refuse_designation(
                text,
                say(
                    "fault.designation.not_above_zero",
                    "The numbers of a designation must be above 0.",
                ),
            )
        if self.resultant and not system.direct:
            refuse_designation(
                text,
                say(
                    "fault.designation.resultant_of_indirect",
                    "R goes with direct systems; write {system} and the count.",
                    system=system.key,
                ),
            )
        return self._direct(system, text) if system.direct else self._indirect(system, text)

    def _direct(self, system: System, text: str) -> Designation:
        number, rest = self._split_direct()
        filaments, plies = self.filaments, self.plies
        folded = self._filaments_and_times()
        if folded is not None:
            number, of_each, rest = folded
            filaments = _whole(of_each, text, "filaments", MOST_FILAMENTS)
        elif "/" in self.joints and not self.resultant:
            filaments, rest = self._after_stroke(number, rest, system, text), []
        elif "x" in self.joints and self.resultant:
            refuse_designation(
                text,
                say(
                    "fault.designation.resultant_and_times",
                    "R names the resultant: write R 40 tex/2, or 20 tex x 2 without R.",
                ),
            )
        for ply in rest:
            plies *= _whole(ply, text, "plies", MOST_PLIES)
        total = system.tex(number) * (1 if self.resultant else plies)
        return Designation(
            text=_direct_text(system, number, plies, filaments, resultant=self.resultant),
            system=system.key,
            linear_density_tex=total,
            single_tex=total / plies,
            plies=plies,
            filaments=filaments,
            resultant_stated=self.resultant and plies > 1,
            spun=system.spun,
            fibre=system.fibre,
        )

    def _split_direct(self) -> tuple[float, list[float]]:
        """Return the linear density and the other numbers.

        ``20 tex x 2``: the number at the unit; ``2 x 20 tex`` and ``20 x 2 tex``: the larger.
        """
        first, *others = self.numbers
        if self.leading_number_owns_unit or "x" not in self.joints:
            return first, others
        largest = max(self.numbers)
        at = self.numbers.index(largest)
        return largest, self.numbers[:at] + self.numbers[at + 1 :]

    def _filaments_and_times(self) -> tuple[float, float, list[float]] | None:
        """Return number, filaments and plies of ``167/48 x 2``, or of ``2 x 167/48``."""
        if self.resultant or self.filaments is not None:
            return None
        if self.joints == ["/", "x"]:
            number, filaments, plies = self.numbers
        elif self.joints == ["x", "/"]:
            plies, number, filaments = self.numbers
        else:
            return None
        if filaments < FEWEST_FILAMENTS_AFTER_STROKE:
            return None
        return number, filaments, [plies]

    def _after_stroke(
        self, number: float, rest: list[float], system: System, text: str
    ) -> int | None:
        """Return the filaments that follow a stroke without R; ``/1`` says that it is a single."""
        open_numbers = [other for other in rest if other != 1.0]
        if not open_numbers:
            return self.filaments
        alone = len(open_numbers) == 1 and self.filaments is None
        if alone and open_numbers[0] >= FEWEST_FILAMENTS_AFTER_STROKE:
            return _whole(open_numbers[0], text, "filaments", MOST_FILAMENTS)
        filaments, ply = self.filaments, rest[-1]
        if filaments is None and len(open_numbers) > 1:
            # 167/48/2: the middle number is that of the filaments, if it can be one.
            filaments = _filaments_of(open_numbers[0])
        name = _direct_text(system, number, 1, filaments, resultant=False)
        if filaments is None:
            several = say(
                "fault.designation.stroke_or_filaments",
                "A stroke after {single} has several readings: write R {single}/{plies:g} if "
                "{number:g} is the resultant, {single} x {plies:g} for {plies:g} such yarns, "
                "{single} f{plies:g} for filaments.",
                single=name,
                plies=ply,
                number=number,
            )
        else:
            several = say(
                "fault.designation.stroke",
                "A stroke after {single} has several readings: write R {single}/{plies:g} if "
                "{number:g} is the resultant, {single} x {plies:g} for {plies:g} such yarns.",
                single=name,
                plies=ply,
                number=number,
            )
        refuse_designation(text, several)

    def _indirect(self, system: System, text: str) -> Designation:
        count = max(self.numbers)
        others = sorted(self.numbers)[:-1]
        if system.resultant and others and LEAST_FILAMENTS <= count <= TITRE_SPREAD * others[-1]:
            refuse_designation(
                text,
                say(
                    "fault.designation.titre_of_raw_silk",
                    "{low:g}/{high:g} is the titre of raw silk: write {low:g}/{high:g} den. Spun "
                    "silk states few plies: silk {high:g}/2.",
                    low=others[-1],
                    high=count,
                ),
            )
        plies = self.plies
        for ply in others:
            plies *= _whole(ply, text, "plies", MOST_PLIES)
        number_tex = system.tex(count)
        single = number_tex / plies if system.resultant else number_tex
        folded = plies > 1
        return Designation(
            text=f"{system.key} {count:.10g}" + (f"/{plies}" if folded else ""),
            system=system.key,
            linear_density_tex=single * plies,
            single_tex=single,
            plies=plies,
            filaments=self.filaments,
            resultant_stated=system.resultant and folded,
            spun=system.spun and self.filaments is None,
            fibre=system.fibre,
            reading=_reading(system, count, plies, others),
        )


def _reading(system: System, count: float, plies: int, others: list[float]) -> Sentence | None:
    if system.resultant and plies > 1:
        return say(
            "assumption.designation.spun_silk",
            "spun silk is numbered by the resultant: {count:g} is the count of the folded yarn",
            count=count,
        )
    if others and count <= MOST_PLIES and count == int(count) and max(others) < count:
        return say(
            "assumption.designation.smaller_is_ply",
            "read as {plies} plies of {count:g}: the smaller number is the ply",
            plies=plies,
            count=count,
        )
    return None


def _filaments_of(number: float) -> int | None:
    """Return a number of filaments; ``None`` if it could be one of plies."""
    likely = FEWEST_FILAMENTS_AFTER_STROKE <= number <= MOST_FILAMENTS
    return int(number) if likely and number == int(number) else None


def _whole(number: float, text: str, what: str, most: int) -> int:
    if number != int(number) or not 1 <= number <= most:
        refuse_designation(
            text,
            say(
                "fault.designation.not_countable",
                "{number:g} {what} cannot be.",
                number=number,
                what=what,
            ),
            f"a whole number from 1 to {most} {what}",
        )
    return int(number)


def _direct_text(
    system: System, number: float, plies: int, filaments: int | None, *, resultant: bool
) -> str:
    written = f"{number:.10g} lb" if system.key == "jute lb" else f"{number:.10g} {system.key}"
    written = f"jute {written}" if system.key == "jute lb" else written
    written += f" f{filaments}" if filaments is not None else ""
    if plies == 1:
        return written
    return f"R {written}/{plies}" if resultant else f"{written} x {plies}"


@dataclass(frozen=True, slots=True)
class _Token:
    """A token; ``glued`` is whether it touches the one before it."""

    text: str
    glued: bool
    number: float | None = None
    english: bool = False


_POSSESSIVE: Final = re.compile(r"['’](?=s\b)")
"""Some write 20's for 20s."""


def _tokens(part: str, whole: str) -> list[_Token]:
    plain = _POSSESSIVE.sub("", part.strip().lower())
    if re.search(r"(?:^|\s)-\s*[\d.]", plain):
        refuse_designation(
            whole,
            say(
                "fault.designation.not_above_zero", "The numbers of a designation must be above 0."
            ),
        )
    if re.search(r"\d,\d", plain):
        refuse_designation(
            whole, say("fault.designation.decimal_comma", "Write a decimal point, not a comma.")
        )
    tokens: list[_Token] = []
    end, glued = 0, False
    plain = TWIST.sub(" ", plain)
    while end < len(plain):
        match = _TOKENS.match(plain, end)
        if match is None:
            refuse_designation(
                whole,
                say(
                    "fault.designation.no_meaning",
                    "{word!r} has no meaning in a yarn designation.",
                    word=plain[end],
                ),
            )
        end = match.end()
        if match["number"]:
            number, english = float(match["number"]), bool(match["english"])
            tokens.append(_Token(match["number"], glued, number, english))
        elif not match["space"]:
            tokens.append(_Token(match[0], glued))
        glued = not match["space"]
    return tokens


def _belongs_before(words: list[_Token]) -> bool:
    """Return whether the ``f`` that leads ``words`` counts what comes before it, as in ``48f``.

    In ``150f48`` and ``150 f 48`` it counts what follows.
    """
    if len(words) == 1 or words[1].number is None:
        return True
    return words[0].glued and not words[1].glued


class _Sorter:
    """Sorts tokens by what they are; knows nothing of what they mean together."""

    def __init__(self, whole: str) -> None:
        self.whole = whole
        self.numbers: list[float] = []
        self.joints: list[str] = []
        self.words: list[str] = []
        self.pending: str | None = None
        self.unit_place: int | None = None
        self.filaments: int | None = None
        self.plies = 1
        self.english = False

    def feed(self, tokens: list[_Token]) -> None:
        """Sort all tokens; a number belongs to ``f`` or ``ply`` if it is next to it."""
        for before, after in pairwise(tokens):
            if before.text in _JOINTS and after.text in _JOINTS:
                self._refuse_two_joints(before.text + after.text)
        at = 0
        while at < len(tokens):
            at += self._take(tokens[at], tokens[at + 1 : at + 3])
        if self.pending is not None:
            self._refuse_cut_off(tokens)

    def _refuse_cut_off(self, tokens: list[_Token]) -> None:
        """Refuse a joint after which no number comes, but not 20-tex or lb/spyndle."""
        place, joint = [(at, each.text) for at, each in enumerate(tokens) if each.text in _JOINTS][
            -1
        ]
        joins_words = joint == "-" or tokens[place - 1].number is None
        if place == len(tokens) - 1 or not joins_words:
            refuse_designation(
                self.whole,
                say(
                    "fault.designation.number_missing_after_joint",
                    'No number follows "{joint}": write how many are folded, or leave it out.',
                    joint=joint,
                ),
            )

    def _refuse_two_joints(self, joints: str) -> NoReturn:
        refuse_designation(
            self.whole,
            say(
                "fault.designation.two_joints",
                'Nothing is written between the two marks "{joints}": write one of them, or the '
                "number that is missing.",
                joints=joints,
            ),
        )

    def _refuse_headless(self, joint: str) -> NoReturn:
        refuse_designation(
            self.whole,
            say(
                "fault.designation.number_missing_before_joint",
                'No number comes before "{joint}": write the count of the yarn before it.',
                joint=joint,
            ),
        )

    def _take(self, token: _Token, after: list[_Token]) -> int:
        """Sort a token, and what follows it if that belongs to it; return how many."""
        if token.number is not None:
            return self._take_number(token.number, after, english=token.english)
        if token.text in _FILAMENT_WORDS and after and after[0].number is not None:
            self._set_filaments(after[0].number)
            return 2
        if token.text in _JOINTS:
            if not self.numbers and token.text != "-" and after and after[0].number is not None:
                self._refuse_headless(token.text)
            self.pending = "/" if token.text in "/-" else "x"
        elif token.text not in _IDLE_WORDS:
            self._take_word(token.text)
        return 1

    def _take_number(self, number: float, after: list[_Token], *, english: bool) -> int:
        hyphen = bool(after) and after[0].text == "-"
        words = after[hyphen:]
        word = words[0].text if words else ""
        if word in _PLY_WORDS:
            self.plies *= _whole(number, self.whole, "plies", MOST_PLIES)
            self.pending = None
            return 2 + hyphen
        if word in _FILAMENT_WORDS and _belongs_before(words):
            self._set_filaments(number)
            return 2 + hyphen
        self._join_number(number)
        self.english = self.english or english
        return 1

    def _join_number(self, number: float) -> None:
        if self.numbers:
            if self.pending is None:
                refuse_designation(
                    self.whole,
                    say(
                        "fault.designation.numbers_side_by_side",
                        "Two numbers are side by side: join them by '/' or 'x'.",
                    ),
                )
            self.joints.append(self.pending)
        self.pending = None
        self.numbers.append(number)

    def _take_word(self, word: str) -> None:
        self.words.append(word)
        if word != "r" and self.unit_place is None:
            self.unit_place = len(self.numbers)

    def _set_filaments(self, number: float) -> None:
        if self.filaments is not None:
            refuse_designation(
                self.whole,
                say("fault.designation.filaments_twice", "The number of filaments is given twice."),
            )
        self.filaments = _whole(number, self.whole, "filaments", MOST_FILAMENTS)
        self.pending = None

    def component(self) -> Component:
        """Return what was sorted, its words looked up among the systems."""
        names = frozenset(self.words) - {"r"}
        system = systems_by_name().get(names)
        if names and names <= WOOLLEN:
            refuse_designation(
                self.whole,
                say(
                    "fault.designation.woollen_system",
                    "Woollen yarn is numbered in several systems: write which, for "
                    "example skein 24.",
                ),
                f"the number and one of {', '.join(woollen_systems())}",
            )
        if names and system is None:
            refuse_designation(
                self.whole,
                say(
                    "fault.designation.unreadable",
                    "{designation!r} cannot be read as a yarn count. Write the number "
                    "and its system; a fibre, with a style such as slub, goes in its "
                    "own field.",
                    designation=self.whole,
                ),
            )
        if len(self.numbers) > 3:
            refuse_designation(
                self.whole,
                say(
                    "fault.designation.too_many_numbers",
                    "Write at most a number and two ply numbers.",
                ),
            )
        return Component(
            system=system,
            numbers=self.numbers,
            joints=self.joints,
            leading_number_owns_unit=self.unit_place in (0, 1),
            resultant="r" in self.words,
            english=self.english,
            filaments=self.filaments,
            plies=self.plies,
        )
