"""Yarns: what the trade writes (``Ne 30/2``, ``150 dtex f48``) and what follows from it.

How a designation is read:

* The system may stand before or after the number: ``Ne 30``, ``30 Ne``, ``worsted 2/48``.
* In count systems the ply may stand on either side of the stroke; the smaller number is the ply:
  ``Ne 30/2`` and ``Ne 2/30`` are both two-fold thirties, 15 Ne resultant.
* Spun silk (``silk 40/2``) is numbered by the resultant: 40 is already the folded count. That is
  the trap: the same figures in cotton mean half the count.
* In direct systems ``20 tex x 2`` folds two yarns of 20 tex, and ``R 40 tex/2`` is a resultant of
  40 tex in two plies (ISO 1139). ``40 tex/2`` could be either and is refused.
* ``f48`` is the number of filaments; ``167/48 dtex`` is read so too, from 13 upward.
* ``30s`` without a system takes that of the fibre: cotton, worsted or linen count.
* ``+`` folds unequal yarns: ``Ne 30 + Ne 40``. ``20 tex x 2; R 41.2 tex`` states the resultant.
* Twist (``Z 600``, ``S400``, ``t0``) is read over.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Final, NoReturn

from weavability.textiles import geometry
from weavability.textiles.assumptions import Ledger
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.errors import Fault, InputError, pointing_below
from weavability.textiles.fibres import Fibre, Form, Kind, find_fibre

LONGEST_DESIGNATION: Final = 80
MOST_PLIES: Final = 24
MOST_FILAMENTS: Final = 20_000
FEWEST_FILAMENTS_AFTER_STROKE: Final = 13
"""``150/48 den``: from this number on it is filaments, below it could be plies."""

LEAST_RESULTANT_SHARE: Final = 0.9
GREATEST_RESULTANT_SHARE: Final = 1.25
"""A stated resultant over the sum of the singles; outside it is a slip of the pen."""

EXAMPLES: Final = (
    "20 tex, R 40 tex/2, 20 tex x 2, 150 dtex f48, 75 den, Ne 30, Ne 30/2, Nm 60/2, "
    "worsted 2/48, linen 25 lea, silk 40/2, jute 8 lb"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """A way of numbering yarn.

    Attributes:
        key: How a canonical designation writes it.
        tex_of_one: tex of a yarn of number 1.
        direct: Whether the number is mass per length (tex), not length per mass (Ne).
        names: Every name of it, lower case.
        fibre: The fibre that it is used for, where it is used for one.
        spun: Whether it numbers spun yarns only.
        resultant: Whether the number of a folded yarn is already that of the whole.
    """

    key: str
    tex_of_one: float
    direct: bool
    names: tuple[str, ...]
    fibre: str | None = None
    spun: bool = False
    resultant: bool = False

    def tex(self, number: float) -> float:
        """Return the linear density of a yarn of ``number``."""
        return number * self.tex_of_one if self.direct else self.tex_of_one / number

    def number(self, linear_density_tex: float) -> float:
        """Return the number of a yarn of ``linear_density_tex``: the inverse of ``tex``."""
        if self.direct:
            return linear_density_tex / self.tex_of_one
        return self.tex_of_one / linear_density_tex


def _count(
    key: str,
    tex_of_one: float,
    *names: str,
    fibre: str | None = None,
    resultant: bool = False,
    direct: bool = False,
) -> System:
    return System(
        key=key,
        tex_of_one=tex_of_one,
        direct=direct,
        names=names,
        fibre=fibre,
        spun=True,
        resultant=resultant,
    )


SYSTEMS: Final[tuple[System, ...]] = (
    System(key="tex", tex_of_one=1.0, direct=True, names=("tex", "tt")),
    System(key="dtex", tex_of_one=0.1, direct=True, names=("dtex", "decitex")),
    System(key="mtex", tex_of_one=0.001, direct=True, names=("mtex", "millitex")),
    System(key="ktex", tex_of_one=1000.0, direct=True, names=("ktex", "kilotex")),
    System(
        key="den",
        tex_of_one=geometry.TEX_PER_DENIER,
        direct=True,
        names=("den", "denier", "deniers", "d", "td"),
    ),
    System(
        key="dram",
        tex_of_one=geometry.TEX_PER_DRAM,
        direct=True,
        names=("dram", "drams", "dram silk", "drams silk"),
        fibre="silk",
    ),
    _count(
        "Ne",
        geometry.TEX_NE,
        *("ne", "nec", "ecc", "cc", "cotton", "english cotton", "ne cotton", "nec cotton"),
        fibre="cotton",
    ),
    _count("Nm", geometry.TEX_NM, "nm", "metric", "nm metric"),
    _count(
        "NeK",
        geometry.TEX_WORSTED,
        *("nek", "new", "worsted", "wc", "ne worsted", "nek worsted"),
        fibre="worsted",
    ),
    _count(
        "NeL",
        geometry.TEX_LEA,
        *("nel", "lea", "leas", "linen", "flax", "linen lea", "nel linen", "ne linen", "flax lea"),
        fibre="linen",
    ),
    _count(
        "run",
        geometry.TEX_RUN,
        *("run", "runs", "woollen run", "woolen run", "american run"),
        fibre="wool",
    ),
    _count(
        "skein",
        geometry.TEX_SKEIN,
        *("skein", "skeins", "ysw", "yorkshire", "yorkshire skein", "yorkshire skeins"),
        *("yorkshire woollen", "yorkshire woollen skein", "woollen skein"),
        fibre="wool",
    ),
    _count(
        "Galashiels",
        geometry.TEX_GALASHIELS,
        *("galashiels", "gala", "galashiels cut", "gala cut", "cut galashiels", "cut gala"),
        fibre="wool",
    ),
    _count("Alloa", geometry.TEX_ALLOA, "alloa", "alloa woollen", "alloa cut", fibre="wool"),
    _count("Nf", geometry.TEX_FRENCH, "nf", "french", "french cotton", fibre="cotton"),
    _count("silk", geometry.TEX_NE, "silk", "spun silk", "nes", fibre="spun-silk", resultant=True),
    _count(
        "jute lb",
        geometry.TEX_PER_JUTE_LB,
        *("jute", "lb", "lbs", "jute lb", "jute lbs", "lb spyndle", "spyndle", "aberdeen"),
        *("jute lb spyndle",),
        fibre="jute",
        direct=True,
    ),
)

COUNT_OF_FIBRE: Final = {
    "cotton": "Ne",
    "polyester": "Ne",
    "viscose": "Ne",
    "modal": "Ne",
    "lyocell": "Ne",
    "spun-polyester": "Ne",
    "worsted": "NeK",
    "linen": "NeL",
    "spun-silk": "silk",
}
"""The English count that ``30s`` means when the fibre is known."""


@cache
def _systems_by_name() -> dict[frozenset[str], System]:
    return {frozenset(name.split()): system for system in SYSTEMS for name in system.names}


@dataclass(frozen=True, slots=True, kw_only=True)
class Designation:
    """A designation that was read.

    Attributes:
        text: The same in canonical form; reading it again gives the same yarn.
        system: Key of its system; of the first yarn where unequal yarns are folded.
        linear_density_tex: Resultant linear density, before any twist take-up that is not stated.
        single_tex: Linear density of one single; the mean where they are unequal.
        plies: Number of singles in the yarn.
        filaments: Filaments of one single, on average where they are unequal; ``None`` where they
            are not stated.
        resultant_stated: Whether the number is that of the folded yarn, twist take-up included.
        spun: Whether the system is one of spun yarns.
        fibre: The fibre that the system is used for, ``None`` where it says nothing.
        reading: What was understood where another reading is possible, else ``None``.
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
    reading: str | None = None


def parse_designation(text: str, *, fibre: str | None = None) -> Designation:
    """Read a yarn designation; the module's docstring says how each form is read.

    Args:
        text: The designation, at most 80 characters.
        fibre: The fibre as stated; it decides what ``30s`` means and warns of spun silk.

    Raises:
        InputError: It cannot be read, can be read in two ways, or is out of bounds (0.1 to
            100,000 tex, 24 plies).

    Source: the count systems of ASTM D2260; notation of ISO 1139.

    >>> round(parse_designation("Ne 30/2").linear_density_tex, 3)
    39.369
    >>> parse_designation("2/30s cotton").text
    'Ne 30/2'
    >>> parse_designation("150 dtex f48 x 2").linear_density_tex
    30.0
    """
    if len(text) > LONGEST_DESIGNATION:
        _refuse(
            text[:LONGEST_DESIGNATION],
            f"shorten the designation to {LONGEST_DESIGNATION} characters",
        )
    return _parsed(text, find_fibre(fibre) if fibre is not None else None)


def _refuse(text: str, message: str, allowed: str = f"for example {EXAMPLES}") -> NoReturn:
    raise InputError.of("", message, given=text, allowed=allowed)


def _parsed(text: str, fibre: Fibre | None) -> Designation:
    """Read, with the fibre reduced to what matters: its leading component."""
    key = None if fibre is None else max(fibre.components, key=lambda part: part[1])[0]
    return _read_cached(text, key)


@lru_cache(maxsize=2048)
def _read_cached(text: str, fibre_key: str | None) -> Designation:
    main, _, stated = text.partition(";")
    parts = [_Component.read(part, whole=text) for part in main.split("+")]
    systems = [part.system for part in parts if part.system is not None]
    system = systems[0] if systems else _system_of_fibre(parts, fibre_key, text)
    read = [part.designation(part.system or system, text) for part in parts]
    folded = read[0] if len(read) == 1 else _fold(read)
    if stated:
        folded = _with_resultant(folded, _Component.read(stated, whole=text), text)
    if len(systems) == 0:
        folded = replace(folded, reading=f"read as {folded.text}, the usual count of the fibre")
    return _warn_of_silk(_check_bounds(folded, text), fibre_key)


def _system_of_fibre(parts: list[_Component], fibre_key: str | None, text: str) -> System:
    if not parts[0].numbers:
        _refuse(text, "write the number of the yarn and its system")
    number = f"{parts[0].numbers[0]:g}"
    if not all(part.english for part in parts):
        _refuse(text, f"say the system of the number: Ne {number}, Nm {number} or {number} tex?")
    name = COUNT_OF_FIBRE.get(fibre_key or "")
    if name is None:
        _refuse(text, f"say which count {number}s is: Ne {number}, worsted {number}, NeL {number}?")
    return next(system for system in SYSTEMS if system.key == name)


def _fold(read: list[Designation]) -> Designation:
    total = math.fsum(part.linear_density_tex for part in read)
    plies = sum(part.plies for part in read)
    filaments = [part.filaments * part.plies for part in read if part.filaments is not None]
    return Designation(
        text=" + ".join(part.text for part in read),
        system=read[0].system,
        linear_density_tex=total,
        single_tex=total / plies,
        plies=plies,
        filaments=round(sum(filaments) / plies) if len(filaments) == len(read) else None,
        spun=all(part.spun for part in read),
        fibre=read[0].fibre,
        reading="; ".join(part.reading for part in read if part.reading) or None,
    )


def _with_resultant(folded: Designation, stated: _Component, text: str) -> Designation:
    if stated.system is None or not stated.resultant or len(stated.numbers) != 1:
        _refuse(text, "after ';' write the resultant alone, for example R 41.2 tex")
    resultant = stated.system.tex(stated.numbers[0])
    share = resultant / folded.linear_density_tex
    if not LEAST_RESULTANT_SHARE <= share <= GREATEST_RESULTANT_SHARE:
        _refuse(
            text,
            f"a resultant of {resultant:.4g} tex does not go with singles that add up to "
            f"{folded.linear_density_tex:.4g} tex",
        )
    return replace(
        folded,
        text=f"{folded.text}; R {resultant:.10g} tex",
        linear_density_tex=resultant,
        resultant_stated=True,
    )


def _check_bounds(read: Designation, text: str) -> Designation:
    tex = YARN_BOUNDS["linear_density_tex"]
    if read.linear_density_tex not in tex:
        _refuse(
            text,
            f"{read.text} is {read.linear_density_tex:.4g} tex; check the number and its system",
            f"{tex.least:g} to {tex.most:g} tex",
        )
    if read.plies > MOST_PLIES:
        _refuse(text, f"{read.plies} plies are too many", f"1 to {MOST_PLIES} plies")
    return read


def _warn_of_silk(read: Designation, fibre_key: str | None) -> Designation:
    if read.system == "Ne" and read.plies > 1 and fibre_key in ("silk", "spun-silk"):
        trap = "read as cotton count, which numbers the single; spun silk numbers the folded yarn"
        return replace(read, reading=f"{trap}: write silk in place of Ne for that")
    return read


_TOKENS: Final = re.compile(
    r"(?P<number>\d+(?:\.\d+)?|\.\d+)(?P<english>s(?![a-z0-9]))?"
    r"|(?P<word>[a-z]+)|(?P<mark>[/*×-])|(?P<space>\s+)",
    re.ASCII,
)
_TWIST: Final = re.compile(r"(?<![a-z0-9])(?:[sz]\s*\d+|t\s*0)(?![\d.])")
_IDLE_WORDS: Final = frozenset({"count", "counts", "yarn", "s"})
_JOINTS: Final = frozenset("/-x*×")
_PLY_WORDS: Final = frozenset({"ply", "plies", "fold"})
_FILAMENT_WORDS: Final = frozenset({"f", "fil", "filament", "filaments"})


@dataclass(slots=True)
class _Component:
    """One yarn of a designation, taken apart but not yet understood."""

    system: System | None
    numbers: list[float]
    joints: list[str]
    leading_number_owns_unit: bool
    resultant: bool
    english: bool
    filaments: int | None
    plies: int

    @classmethod
    def read(cls, part: str, *, whole: str) -> _Component:
        """Sort the tokens of a part into numbers, joints (``/``, ``x``) and words."""
        sorter = _Sorter(whole)
        sorter.feed(_tokens(part, whole))
        return sorter.component()

    def designation(self, system: System, text: str) -> Designation:
        """Understand the numbers in ``system``."""
        if not self.numbers:
            _refuse(text, "write the number of the yarn")
        if min(self.numbers) <= 0.0:
            _refuse(text, "the numbers of a designation must be above 0")
        if self.resultant and not system.direct:
            _refuse(text, f"R goes with direct systems; write {system.key} and the count")
        return self._direct(system, text) if system.direct else self._indirect(system, text)

    def _direct(self, system: System, text: str) -> Designation:
        number, rest = self._split_direct()
        filaments, plies = self.filaments, self.plies
        if "/" in self.joints and not self.resultant:
            filaments, rest = self._after_stroke(number, rest, system, text), []
        elif "x" in self.joints and self.resultant:
            _refuse(text, "R names the resultant: write R 40 tex/2, or 20 tex x 2 without R")
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
        name, ply = _direct_text(system, number, 1, self.filaments, resultant=False), rest[-1]
        filaments = f", {name} f{ply:g} for filaments" if self.filaments is None else ""
        _refuse(
            text,
            f"a stroke after {name} can be read in several ways: write R {name}/{ply:g} where "
            f"{number:g} is the resultant, {name} x {ply:g} for {ply:g} such yarns{filaments}",
        )

    def _indirect(self, system: System, text: str) -> Designation:
        count = max(self.numbers)
        others = sorted(self.numbers)[:-1]
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


def _reading(system: System, count: float, plies: int, others: list[float]) -> str | None:
    if system.resultant and plies > 1:
        return f"spun silk is numbered by the resultant: {count:g} is the count of the folded yarn"
    if others and count <= MOST_PLIES and count == int(count) and max(others) < count:
        return f"read as {plies} plies of {count:g}: the smaller number is the ply"
    return None


def _whole(number: float, text: str, what: str, most: int) -> int:
    if number != int(number) or not 1 <= number <= most:
        _refuse(text, f"{number:g} {what} cannot be", f"a whole number from 1 to {most} {what}")
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


def _tokens(part: str, whole: str) -> list[_Token]:
    plain = part.strip().lower()
    if re.search(r"(?:^|\s)-\s*[\d.]", plain):
        _refuse(whole, "the numbers of a designation must be above 0")
    if re.search(r"\d,\d", plain):
        _refuse(whole, "write a decimal point, not a comma")
    tokens: list[_Token] = []
    end, glued = 0, False
    plain = _TWIST.sub(" ", plain)
    while end < len(plain):
        match = _TOKENS.match(plain, end)
        if match is None:
            _refuse(whole, f"{plain[end]!r} has no meaning in a yarn designation")
        end = match.end()
        if match["number"]:
            number, english = float(match["number"]), bool(match["english"])
            tokens.append(_Token(match["number"], glued, number, english))
        elif not match["space"]:
            tokens.append(_Token(match[0], glued))
        glued = not match["space"]
    return tokens


def _belongs_before(words: list[_Token]) -> bool:
    """Tell whether the ``f`` that leads ``words`` counts what stands before it, as in ``48f``.

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
        """Sort all tokens; a number belongs to ``f`` or ``ply`` when it stands beside it."""
        at = 0
        while at < len(tokens):
            at += self._take(tokens[at], tokens[at + 1 : at + 3])

    def _take(self, token: _Token, after: list[_Token]) -> int:
        """Sort a token, with what follows it where that belongs to it; return how many."""
        if token.number is not None:
            return self._take_number(token.number, after, english=token.english)
        if token.text in _FILAMENT_WORDS and after and after[0].number is not None:
            self._set_filaments(after[0].number)
            return 2
        if token.text in _JOINTS:
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
                _refuse(self.whole, "two numbers stand side by side: join them by '/' or 'x'")
            self.joints.append(self.pending)
        self.pending = None
        self.numbers.append(number)

    def _take_word(self, word: str) -> None:
        self.words.append(word)
        if word != "r" and self.unit_place is None:
            self.unit_place = len(self.numbers)

    def _set_filaments(self, number: float) -> None:
        if self.filaments is not None:
            _refuse(self.whole, "the number of filaments is given twice")
        self.filaments = _whole(number, self.whole, "filaments", MOST_FILAMENTS)
        self.pending = None

    def component(self) -> _Component:
        """Return what was sorted, its words looked up among the systems."""
        names = frozenset(self.words) - {"r"}
        system = _systems_by_name().get(names)
        if names and system is None:
            unknown = " ".join(word for word in self.words if word != "r")
            _refuse(
                self.whole,
                f"no count system is known as {unknown!r}; a fibre goes in its own field",
            )
        if len(self.numbers) > 3:
            _refuse(self.whole, "write at most a number and two ply numbers")
        return _Component(
            system=system,
            numbers=self.numbers,
            joints=self.joints,
            leading_number_owns_unit=self.unit_place in (0, 1),
            resultant="r" in self.words,
            english=self.english,
            filaments=self.filaments,
            plies=self.plies,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Yarn:
    """A yarn as stated; what is ``None`` was not given.

    Attributes:
        designation: As the trade writes it; or ``linear_density_tex`` in its place.
        linear_density_tex: Resultant linear density.
        fibre: Fibre or blend.
        colour: As given; not judged here.
        fibre_density_g_per_cm3: Density of the fibre substance.
        packing_fraction: Share of the yarn's cross-section that is fibre.
        diameter_mm: Measured diameter, in place of ``packing_fraction``.
        tenacity_cn_per_tex: Mean breaking force per linear density.
        strength_cv_pct: Coefficient of variation of the breaking force.
        breaking_elongation_pct: Mean elongation at break.
        folding_take_up_pct: Shortening of the singles in folding, on their length.
    """

    designation: str | None = None
    linear_density_tex: float | None = None
    fibre: str | None = None
    colour: str | None = None
    fibre_density_g_per_cm3: float | None = None
    packing_fraction: float | None = None
    diameter_mm: float | None = None
    tenacity_cn_per_tex: float | None = None
    strength_cv_pct: float | None = None
    breaking_elongation_pct: float | None = None
    folding_take_up_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnFacts:
    """A yarn with everything that is computed with.

    Attributes:
        designation: In canonical form, ``None`` where only the linear density was given.
        linear_density_tex: Of the yarn as it runs in the cloth.
        single_tex: Of one single.
        plies: Number of singles.
        filaments: Filaments of one single, where stated.
        kind: ``spun`` or ``filament``.
        fibre: The fibre or blend.
        fibre_density_g_per_cm3: Density of the fibre substance.
        packing_fraction: Share of the cross-section that is fibre.
        diameter_mm: Diameter, as a round yarn.
        tenacity_cn_per_tex: Mean breaking force per linear density.
        strength_cv_pct: Coefficient of variation of the breaking force.
        breaking_elongation_pct: Mean elongation at break.
        strength_cn: Mean breaking force.
        weakest_strength_cn: Breaking force of the weakest place, mean·(1 − 3·CV), at least 0.
        modulus_cn_per_tex: Secant modulus up to the break.
        colour: As given.
    """

    designation: str | None
    linear_density_tex: float
    single_tex: float
    plies: int
    filaments: int | None
    kind: Kind
    fibre: Fibre
    fibre_density_g_per_cm3: float
    packing_fraction: float
    diameter_mm: float
    tenacity_cn_per_tex: float
    strength_cv_pct: float
    breaking_elongation_pct: float
    strength_cn: float
    weakest_strength_cn: float
    modulus_cn_per_tex: float
    colour: str | None


def resolve_yarn(yarn: Yarn, ledger: Ledger) -> YarnFacts:
    """Complete a yarn; every value that was not given is noted in ``ledger``.

    Pointers are relative to the yarn. Strength is tenacity × linear density, its weakest place
    mean·(1 − 3·CV) (common practice); the modulus is the secant to the breaking point.

    Raises:
        InputError: The designation or fibre cannot be read, a value is out of bounds, both or
            neither of designation and linear density are given, or the diameter is smaller than
            that of the solid fibre.
    """
    _check_numbers(yarn)
    read = _read_yarn(yarn)
    fibre = _fibre(yarn, read, ledger)
    kind = _kind(read, fibre)
    form = fibre.form(kind)
    tex = _folded_tex(yarn, read, ledger)
    density, packing, diameter = _round(yarn, fibre, form, tex, ledger)
    tenacity, cv, elongation = _strength(yarn, fibre, form, kind, ledger)
    return YarnFacts(
        designation=read.text if yarn.designation is not None else None,
        linear_density_tex=tex,
        single_tex=read.single_tex,
        plies=read.plies,
        filaments=read.filaments,
        kind=kind,
        fibre=fibre,
        fibre_density_g_per_cm3=density,
        packing_fraction=packing,
        diameter_mm=diameter,
        tenacity_cn_per_tex=tenacity,
        strength_cv_pct=cv,
        breaking_elongation_pct=elongation,
        strength_cn=tenacity * tex,
        weakest_strength_cn=tenacity * tex * max(0.0, 1.0 - 0.03 * cv),
        modulus_cn_per_tex=100.0 * tenacity / elongation,
        colour=yarn.colour,
    )


def _check_numbers(yarn: Yarn) -> None:
    faults = []
    for name, bounds in YARN_BOUNDS.items():
        value = getattr(yarn, name)
        if value is not None and value not in bounds:
            least, most = bounds.least, bounds.most
            faults.append(
                Fault(
                    f"/{name}",
                    f"{name} must lie between {least:g} and {most:g}",
                    value,
                    f"{least:g} to {most:g}",
                )
            )
    if faults:
        raise InputError(faults)


def _read_yarn(yarn: Yarn) -> Designation:
    if (yarn.designation is None) == (yarn.linear_density_tex is None):
        raise InputError.of(
            "/designation",
            "give the yarn either a designation or linear_density_tex",
            given=yarn.designation,
            allowed=f"for example {EXAMPLES}",
        )
    if yarn.designation is not None:
        return _read_designation(yarn.designation, yarn.fibre)
    tex = yarn.linear_density_tex or 0.0
    return Designation(
        text=f"{tex:.10g} tex",
        system="tex",
        linear_density_tex=tex,
        single_tex=tex,
        plies=1,
        filaments=None,
    )


def _read_designation(text: str, fibre: str | None) -> Designation:
    known = _find_fibre(fibre) if fibre is not None else None
    with pointing_below("/designation"):
        if len(text) > LONGEST_DESIGNATION:
            return parse_designation(text)
        return _parsed(text, known)


def _find_fibre(name: str) -> Fibre:
    with pointing_below("/fibre"):
        return find_fibre(name)


def _fibre(yarn: Yarn, read: Designation, ledger: Ledger) -> Fibre:
    if read.reading is not None:
        ledger.note("/designation", read.text, unit=None, reason=read.reading)
    if yarn.fibre is not None:
        fibre = _find_fibre(yarn.fibre)
        if fibre.shares_assumed:
            reason = "shares of the blend not stated; common practice, no source"
            ledger.note("/fibre", fibre.key, unit=None, reason=reason)
        return fibre
    if read.fibre is not None:
        name, why = read.fibre, f"the fibre for which {read.system} is used"
    elif read.filaments is not None or read.system in ("den", "dtex"):
        name, why = "polyester", "the usual filament yarn; common practice, no source"
    else:
        name, why = "cotton", "common practice, no source"
    return find_fibre(ledger.note("/fibre", name, unit=None, reason=why))


def _kind(read: Designation, fibre: Fibre) -> Kind:
    if read.filaments is not None:
        return "filament"
    return "spun" if read.spun else fibre.usual


def _folded_tex(yarn: Yarn, read: Designation, ledger: Ledger) -> float:
    """Return the linear density after folding: singles shortened by t make it 1/(1 − t) heavier."""
    if read.plies == 1 or read.resultant_stated:
        if yarn.folding_take_up_pct is not None:
            raise InputError.of(
                "/folding_take_up_pct",
                "leave it out: the linear density given is that of the yarn as it is",
                given=yarn.folding_take_up_pct,
            )
        return read.linear_density_tex
    take_up = ledger.take(
        "/folding_take_up_pct",
        yarn.folding_take_up_pct,
        0.0,
        unit="%",
        reason="twist take-up of folding left out, as counting books do",
    )
    return read.linear_density_tex / (1.0 - take_up / 100.0)


def _round(
    yarn: Yarn, fibre: Fibre, form: Form, tex: float, ledger: Ledger
) -> tuple[float, float, float]:
    """Return density, packing fraction and diameter."""
    density = ledger.take(
        "/fibre_density_g_per_cm3",
        yarn.fibre_density_g_per_cm3,
        fibre.density_g_per_cm3,
        unit="g/cm³",
        reason=f"{fibre.key}: {fibre.density_source}",
    )
    if yarn.diameter_mm is not None:
        return density, _packing_of_diameter(yarn, density, tex), yarn.diameter_mm
    packing = ledger.take(
        "/packing_fraction",
        yarn.packing_fraction,
        form.packing_fraction,
        unit=None,
        reason=f"{fibre.key}: {form.sources['packing_fraction']}",
    )
    diameter = geometry.yarn_diameter_mm(
        linear_density_tex=tex, fibre_density_g_per_cm3=density, packing_fraction=packing
    )
    return density, packing, diameter


def _packing_of_diameter(yarn: Yarn, density: float, tex: float) -> float:
    diameter = yarn.diameter_mm or 0.0
    if yarn.packing_fraction is not None:
        raise InputError.of(
            "/packing_fraction",
            "leave it out where diameter_mm is given: one follows from the other",
        )
    solid = geometry.yarn_diameter_mm(
        linear_density_tex=tex, fibre_density_g_per_cm3=density, packing_fraction=1.0
    )
    if diameter < solid:
        raise InputError.of(
            "/diameter_mm",
            f"a yarn of {tex:.4g} tex cannot be thinner than its solid fibre",
            given=diameter,
            allowed=f"at least {solid:.4f} mm",
        )
    return (solid / diameter) ** 2


def _strength(
    yarn: Yarn, fibre: Fibre, form: Form, kind: Kind, ledger: Ledger
) -> tuple[float, float, float]:
    """Return tenacity, its coefficient of variation and the breaking elongation."""

    def take(name: str, given: float | None, usual: float, unit: str) -> float:
        reason = f"{kind} {fibre.key}: {form.sources[name]}"
        return ledger.take(f"/{name}", given, usual, unit=unit, reason=reason)

    return (
        take("tenacity_cn_per_tex", yarn.tenacity_cn_per_tex, form.tenacity_cn_per_tex, "cN/tex"),
        take("strength_cv_pct", yarn.strength_cv_pct, form.strength_cv_pct, "%"),
        take(
            "breaking_elongation_pct",
            yarn.breaking_elongation_pct,
            form.breaking_elongation_pct,
            "%",
        ),
    )
