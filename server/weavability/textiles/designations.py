"""Yarn designations: what the trade writes (``Ne 30/2``, ``150 dtex f48``).

How a designation is read:

* The system may be written before or after the number: ``Ne 30``, ``30 Ne``, ``worsted 2/48``.
* In count systems the ply may be written on either side of the stroke; the smaller number is the
  ply: ``Ne 30/2`` and ``Ne 2/30`` are both two-fold thirties, 15 Ne resultant.
* Spun silk (``silk 40/2``) is numbered by the resultant: 40 is already the folded count. That is
  the trap: the same figures in cotton mean half the count.
* In direct systems ``20 tex x 2`` folds two yarns of 20 tex, and ``R 40 tex/2`` is a resultant of
  40 tex in two plies (ISO 1139). ``40 tex/2`` could be either and is refused.
* ``f48`` is the number of filaments; ``167/48 dtex`` is read so too, from 13 upward, and
  ``167/48 x 2 dtex`` folds two of them. Of silk ``20/22 den`` is a titre, 21 den on average, and
  ``silk 21 den`` is raw silk.
* ``30s`` without a system takes that of the fibre: cotton, worsted or linen count.
* ``+`` folds unequal yarns: ``Ne 30 + Ne 40``. ``20 tex x 2; R 41.2 tex`` states the resultant.
* ``woollen`` alone names no system: it is refused with the list of them.
* Twist (``Z 600``, ``S400``, ``t0``) is that of the single, or after the ply number of the folding.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import lru_cache
from typing import Final

from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.count_systems import (
    COUNT_OF_FIBRE,
    SYSTEMS,
    System,
)
from weavability.textiles.designation_parts import (
    LEAST_FILAMENTS,
    MOST_PLIES,
    TITRE_SPREAD,
    TWIST,
    Component,
    Designation,
    TwistDirection,
    refuse_designation,
)
from weavability.textiles.digits import require_plain_digits
from weavability.textiles.fibres import Fibre
from weavability.textiles.sentences import Sentence, listed, say

LONGEST_DESIGNATION: Final = 80

LEAST_RESULTANT_SHARE: Final = 0.9
GREATEST_RESULTANT_SHARE: Final = 1.25
"""A stated resultant over the sum of the singles; outside, one of the numbers is mistaken."""


def parse_designation(text: str, *, fibre: Fibre | None = None) -> Designation:
    """Read a yarn designation; the module's docstring says how each form is read.

    Args:
        text: The designation, at most 80 characters.
        fibre: The fibre, if it is stated; it decides what ``30s`` means and warns of spun silk.

    Raises:
        InputError: It cannot be read, has two readings, or is out of bounds (0.1 to
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
        refuse_designation(
            text[:LONGEST_DESIGNATION],
            say(
                "fault.designation.too_long",
                "Shorten the designation to {most_characters} characters.",
                most_characters=LONGEST_DESIGNATION,
            ),
        )
    require_plain_digits(text)
    if _A_DIAMETER.fullmatch(text.strip()):
        refuse_designation(
            text,
            say(
                "fault.designation.diameter",
                "It is a diameter: state it in diameter_mm, with monofilament: true and "
                "the fibre; or give the linear density.",
            ),
            "for example diameter_mm: 0.2, monofilament: true, fibre: nylon",
        )
    # Of a blend only the leading component matters.
    leading = None if fibre is None else max(fibre.components, key=lambda part: part[1])[0]
    return _read_cached(text, leading)


_A_DIAMETER: Final = re.compile(
    r"(?:ø|⌀|diameter)?\s*\d*[.,]?\d+\s*mm(?:\s+[a-z ]+)?", re.IGNORECASE
)


@lru_cache(maxsize=2048)
def _read_cached(text: str, fibre_key: str | None) -> Designation:
    main, _, stated = text.partition(";")
    silk = _RAW_SILK.fullmatch(text) if fibre_key in (None, "silk") else None
    if silk is not None:
        return replace(_read_cached(silk["before"] or silk["after"], "silk"), fibre="silk")
    titre = _TITRE.search(main.lower()) if fibre_key == "silk" else None
    if titre is not None and _is_titre(titre):
        return _of_titre(text, titre, fibre_key)
    parts = [Component.read(part, whole=text) for part in main.split("+")]
    systems = [part.system for part in parts if part.system is not None]
    system = systems[0] if systems else _system_of_fibre(parts, fibre_key, text)
    read = [part.designation(part.system or system, text) for part in parts]
    folded = read[0] if len(read) == 1 else _fold(read)
    if stated:
        folded = _with_resultant(folded, Component.read(stated, whole=text), text)
    if len(systems) == 0:
        reading = say(
            "assumption.designation.usual_count",
            "read as {designation}, the usual count of the fibre",
            designation=folded.text,
        )
        folded = replace(folded, reading=reading)
    folded = _with_twist(folded, main, text)
    return _warn_of_silk(_check_bounds(folded, text), fibre_key)


def _is_titre(found: re.Match[str]) -> bool:
    low, high = float(found["low"]), float(found["high"])
    return low < high <= TITRE_SPREAD * low


def _of_titre(text: str, found: re.Match[str], fibre_key: str | None) -> Designation:
    """Read raw silk by its titre, the range of its linear density: the mean counts.

    >>> from weavability.textiles.fibres import find_fibre
    >>> parse_designation("20/22 den x 2", fibre=find_fibre("silk")).text
    '21 den x 2'
    """
    mean = (float(found["low"]) + float(found["high"])) / 2
    before = _PLIES_BEFORE.sub(r"\1 x ", text[: found.start()])
    read = _read_cached(before + f"{mean:g} " + text[found.end() :], fibre_key)
    titre = f"{found['low']}/{found['high']}"
    if found["unit"] == "dtex":
        reading = say(
            "assumption.designation.titre_in_dtex",
            "{titre} dtex is a titre of raw silk, {mean_dtex:g} dtex on average",
            titre=titre,
            mean_dtex=mean,
        )
    else:
        reading = say(
            "assumption.designation.titre",
            "{titre} den is a titre of raw silk, {mean_den:g} den on average",
            titre=titre,
            mean_den=mean,
        )
    return replace(read, reading=reading)


def _with_twist(read: Designation, main: str, text: str) -> Designation:
    """Read the twist of the yarn; that of the singles of a folded yarn is not its own."""
    written = list(TWIST.finditer(main.lower()))
    if not written:
        return read
    last = written[-1]
    if read.plies > 1 and main[last.end() :].strip():
        return read
    turns = float(last["turns"])
    if turns and turns not in YARN_BOUNDS["twist_per_m"]:
        most = YARN_BOUNDS["twist_per_m"].most
        refuse_designation(
            text,
            say(
                "fault.designation.no_twist",
                "{twist_per_m:g} turns per metre are no twist of a yarn.",
                twist_per_m=turns,
            ),
            f"0 to {most:g}",
        )
    direction = TwistDirection(last["letter"].upper()) if turns else None
    return replace(read, twist_per_m=turns, twist_direction=direction)


def _system_of_fibre(parts: list[Component], fibre_key: str | None, text: str) -> System:
    if not parts[0].numbers:
        refuse_designation(
            text,
            say(
                "fault.designation.number_missing_with_system",
                "Write the number of the yarn and its system.",
            ),
        )
    number = f"{parts[0].numbers[0]:g}"
    if not all(part.english for part in parts):
        refuse_designation(text, _ask_for_system(parts[0], fibre_key))
    name = COUNT_OF_FIBRE.get(fibre_key or "")
    if name is None:
        refuse_designation(
            text,
            say(
                "fault.designation.which_count",
                "State which count {number}s is: Ne {number}, worsted {number}, NeL {number}?",
                number=number,
            ),
        )
    return next(system for system in SYSTEMS if system.key == name)


def _ask_for_system(part: Component, fibre_key: str | None) -> Sentence:
    """Ask for the system of a number, with the plies as they are written in each."""
    number = "/".join(f"{each:g}" for each in part.numbers)
    in_tex = " tex x ".join(f"{each:g}" for each in part.numbers)
    in_tex += " tex" if len(part.numbers) == 1 else ""
    question = say(
        "fault.designation.system",
        "State the system of the number: Ne {number}, Nm {number} or {in_tex}?",
        number=number,
        in_tex=in_tex,
    )
    first, *others = part.numbers
    if others and others[-1] >= LEAST_FILAMENTS:
        question = say(
            "fault.designation.system_or_filaments",
            "State the system of the number: {first:g} den f{filaments:g} or {first:g} dtex "
            "f{filaments:g} of {filaments:g} filaments, or Ne {number}?",
            first=first,
            filaments=others[-1],
            number=number,
        )
    if COUNT_OF_FIBRE.get(fibre_key or "") == "silk":
        return say(
            "fault.designation.system_of_silk",
            "{question} Spun silk is mostly numbered by the folded yarn: silk {number}.",
            question=question,
            number=number,
        )
    return question


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
        folded_tex=tuple(part.linear_density_tex for part in read),
        reading=listed([part.reading for part in read if part.reading]) or None,
    )


def _with_resultant(folded: Designation, stated: Component, text: str) -> Designation:
    if stated.system is None or not stated.resultant or len(stated.numbers) != 1:
        refuse_designation(
            text,
            say(
                "fault.designation.resultant_not_alone",
                "After ';' write the resultant alone, for example R 41.2 tex.",
            ),
        )
    resultant = stated.system.tex(stated.numbers[0])
    share = resultant / folded.linear_density_tex
    if not LEAST_RESULTANT_SHARE <= share <= GREATEST_RESULTANT_SHARE:
        refuse_designation(
            text,
            say(
                "fault.designation.resultant_unlike_singles",
                "A resultant of {resultant_tex:.4g} tex does not go with singles that "
                "add up to {singles_tex:.4g} tex.",
                resultant_tex=resultant,
                singles_tex=folded.linear_density_tex,
            ),
        )
    return replace(
        folded,
        text=f"{folded.text}; R {resultant:.10g} tex",
        linear_density_tex=resultant,
        resultant_stated=True,
    )


def _check_bounds(read: Designation, text: str) -> Designation:
    bounds = YARN_BOUNDS["linear_density_tex"]
    if read.linear_density_tex not in bounds:
        refuse_designation(
            text,
            say(
                "fault.designation.out_of_range",
                "{designation} is {linear_density_tex:.4g} tex; check the number and its system.",
                designation=read.text,
                linear_density_tex=read.linear_density_tex,
            ),
            f"{bounds.least:g} to {bounds.most:g} tex",
        )
    if read.plies > MOST_PLIES:
        refuse_designation(
            text,
            say(
                "fault.designation.too_many_plies", "{plies} plies are too many.", plies=read.plies
            ),
            f"1 to {MOST_PLIES} plies",
        )
    return read


def _warn_of_silk(read: Designation, fibre_key: str | None) -> Designation:
    if read.system == "Ne" and read.plies > 1 and fibre_key in ("silk", "spun-silk"):
        trap = say(
            "assumption.designation.silk_as_cotton",
            "read as cotton count, which numbers the single; spun silk numbers the folded yarn: "
            "write silk in place of Ne for that",
        )
        return replace(read, reading=trap)
    return read


_TITRE: Final = re.compile(
    r"(?<![\d.])(?P<low>\d+)\s*[/-]\s*(?P<high>\d+)\s*"
    r"(?=(?P<unit>dtex|den|deniers?|td|d)(?![a-z0-9]))",
    re.ASCII,
)

_PLIES_BEFORE: Final = re.compile(r"(\d+)\s*/\s*$", re.ASCII)
"""Plies before a titre, as in ``2/20/22 den``."""

_IN_DENIERS: Final = r"\b.*\d\s*(?:dtex|tex|den|deniers?|td|d)(?![a-z0-9]).*?"

_RAW_SILK: Final = re.compile(
    rf"\s*(?:raw\s+)?silk(?P<before>{_IN_DENIERS})|(?P<after>{_IN_DENIERS})\s+(?:raw\s+)?silk\s*",
    re.IGNORECASE | re.ASCII,
)
"""Raw silk is numbered by its linear density, spun silk by a count."""
