"""The reed: counting systems, dents, reeds in stock, room between the wires, cloths abreast."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib import resources
from itertools import accumulate
from types import MappingProxyType
from typing import Final

from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.errors import InputError
from weavability.textiles.guards import between, not_negative, positive, whole
from weavability.textiles.numbers import (
    SLACK,
    N,
    Record,
    Steps,
    Truth,
    anywhere,
    down,
    either,
    greatest,
    least,
)
from weavability.textiles.numbers import whole as whole_number
from weavability.textiles.sentences import say
from weavability.textiles.sources import cite

DECIMETRE_INCHES: Final = Fraction(500, 127)
"""10 cm in inches, exactly."""

MM_PER_10CM: Final = 100.0
WIRE_SHARE_SOURCE: Final = (
    "wires cannot be thinned as far as dents: [COMMON-PRACTICE]; 40 % for a reed that is not "
    "named: [EXAM-REED-AIR]"
)
WIRE_SHARE_BAND_POINTS: Final = 8.0
"""Half the band of a share that is not stated, in % of the pitch: it holds the 30-40 % that are
usual for 120 dents/10 cm, and the 40 % of [EXAM-REED-AIR] at any reed from 120 to 280."""

MAX_ENDS_PER_DENT: Final = int(CONSTRUCTION_BOUNDS["/reed/ends_per_dent"].most)
MAX_PATTERN: Final = 20_000
_WIRE_SHARE: Final = CONSTRUCTION_BOUNDS["/reed/wire_share_pct"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReedSystem:
    """A system of counting reeds.

    Attributes:
        name: Key of the system.
        title: What one unit of the count means, in words.
        dents: Dents that one unit counts.
        inches: Width over which they are counted.
        source: Source of the definition.
    """

    name: str
    title: str
    dents: int
    inches: Fraction
    source: str

    @property
    def dents_per_10cm_per_count(self) -> Fraction:
        """Dents in 10 cm for a count of 1, exactly."""
        return self.dents / self.inches * DECIMETRE_INCHES


@cache
def reed_systems() -> Mapping[str, ReedSystem]:
    """Return the counting systems by name, read from the data file once."""
    text = resources.files("weavability").joinpath("data/reed_systems.toml").read_text("utf-8")
    return MappingProxyType({name: _system(name, row) for name, row in tomllib.loads(text).items()})


def _system(name: str, row: Mapping[str, str | int]) -> ReedSystem:
    return ReedSystem(
        name=name,
        title=str(row["title"]),
        dents=int(row["dents"]),
        inches=Fraction(row["inches"]),
        source=cite(str(row["source"])),
    )


def reed_system(name: str) -> ReedSystem:
    """Return one counting system.

    Raises:
        InputError: No counting system has this name.
    """
    systems = reed_systems()
    if name not in systems:
        raise InputError.of(
            "/system",
            say("fault.reed.unknown_system", "Name a counting system of reeds."),
            given=name,
            allowed=sorted(systems),
        )
    return systems[name]


def convert_reed_count(count: float, *, from_system: str, to_system: str) -> float:
    """Convert a reed count from one system to another, exactly but for the last rounding.

    Args:
        count: The count in ``from_system``.
        from_system: Name of a system, see :func:`reed_systems`.
        to_system: Likewise.

    Raises:
        InputError: The count is not a positive number, or a system is unknown.

    40 Stockport are 24 1/4 Bolton [BROOKS-1892], 10 Irish are 25 dents
    an inch:

    >>> convert_reed_count(40, from_system="stockport", to_system="bolton")
    24.25
    >>> convert_reed_count(10, from_system="irish", to_system="radcliffe")
    25.0
    """
    exact = Fraction(positive("count", count)) * reed_system(from_system).dents_per_10cm_per_count
    return float(exact / reed_system(to_system).dents_per_10cm_per_count)


def dents_per_10cm(count: float, *, system: str) -> float:
    """Return the dents in 10 cm of a reed counted in another system.

    Raises:
        InputError: The count is not a positive number, or the system is unknown.

    >>> round(dents_per_10cm(60, system="stockport"), 2)
    118.11
    """
    return convert_reed_count(count, from_system=system, to_system="metric")


def reed_counts(dents_per_10cm: float) -> dict[str, float]:
    """Return a reed in every counting system.

    Stockport counts dents in 2 inches, Radcliffe in 1 [BROOKS-1892]:

    >>> counts = reed_counts(118.11023622047244)
    >>> round(counts["stockport"], 6), round(counts["radcliffe"], 6)
    (60.0, 30.0)
    """
    return {name: dents_per_10cm / one for name, one in _dents_per_10cm_of_one().items()}


@cache
def _dents_per_10cm_of_one() -> Mapping[str, float]:
    return {name: float(one.dents_per_10cm_per_count) for name, one in reed_systems().items()}


def reed_for_sett(*, reed_ends_per_cm: N, ends_per_dent: N) -> N:
    """Return the dents per 10 cm that give a sett in the reed.

    Args:
        reed_ends_per_cm: Ends over reed width, before the cloth draws in.
        ends_per_dent: Ends in a dent; the mean over a pattern of dents.

    Raises:
        InputError: A value is not a positive number.

    240 ends an inch at 3 in a dent want 80 dents an inch [WOLFENSBERGER-1921]:

    >>> round(reed_for_sett(reed_ends_per_cm=240 / 2.54, ends_per_dent=3) * 0.254, 6)
    80.0
    """
    positive("reed_ends_per_cm", reed_ends_per_cm)
    return reed_ends_per_cm * 10 / positive("ends_per_dent", ends_per_dent)


@dataclass(frozen=True, slots=True, kw_only=True)
class DentingPattern:
    """Ends in each dent of a repeat, 0 for an empty dent; crammed and empty dents count as dents.

    The stripe of [TAYLOR-1909]: 48 ends at 4 in a dent, three times
    5 in a dent, an empty dent, 1 in a dent and an empty dent, then 5 in a dent.

    >>> stripe = DentingPattern(ends_in_dent=(4,) * 12 + (5, 0, 1, 0) * 3 + (5,))
    >>> stripe.dents, stripe.ends
    (25, 71)
    """

    ends_in_dent: tuple[int, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.ends_in_dent) <= MAX_PATTERN:
            raise InputError.of(
                "/ends_in_dent",
                say(
                    "fault.reed.pattern_length",
                    "A denting pattern has 1 to {most_dents} dents.",
                    most_dents=MAX_PATTERN,
                ),
                given=len(self.ends_in_dent),
            )
        for index, ends in enumerate(self.ends_in_dent):
            whole(f"ends_in_dent/{index}", ends, least=0, most=MAX_ENDS_PER_DENT)
        if self.ends == 0:
            raise InputError.of(
                "/ends_in_dent",
                say("fault.reed.no_end_in_pattern", "At least one dent must hold an end."),
            )

    @property
    def dents(self) -> int:
        """Dents of a repeat."""
        return len(self.ends_in_dent)

    @property
    def ends(self) -> int:
        """Ends of a repeat."""
        return sum(self.ends_in_dent)

    @property
    def fullest_dent(self) -> int:
        """Ends in the fullest dent."""
        return max(self.ends_in_dent)

    @property
    def mean_ends_per_dent(self) -> float:
        """Ends over dents of a repeat."""
        return self.ends / self.dents

    def dents_of_warp(self, ends: int) -> int:
        """Return the dents of a whole warp: full repeats, and the dents that the rest begins."""
        repeats, rest = divmod(whole("ends", ends, least=0, most=10**7), self.ends)
        begun = 0
        while rest > 0:
            rest -= self.ends_in_dent[begun]
            begun += 1
        return repeats * self.dents + begun

    def nearest_whole_dents(self, ends: int) -> int:
        """Return the ends nearest to a number of ends that fill their dents, at least one dent.

        >>> DentingPattern(ends_in_dent=(3,)).nearest_whole_dents(4471)
        4470
        >>> DentingPattern(ends_in_dent=(4, 0, 1)).nearest_whole_dents(8)
        9
        """
        repeats = whole("ends", ends, least=1, most=10**7) // self.ends
        filled = repeats * self.ends
        near = [filled + part for part in accumulate(self.ends_in_dent, initial=0)]
        return min((part for part in near if part > 0), key=lambda part: (abs(part - ends), -part))


def panels_in_reed(*, reed_width_cm: N, panel_reed_width_cm: N, panel_gap_cm: N) -> N:
    """Return how many panels fit side by side in a reed, with a gap between every two.

    Args:
        reed_width_cm: Reed width of the loom.
        panel_reed_width_cm: Width of one panel in the reed.
        panel_gap_cm: Clear reed between two panels.

    Raises:
        InputError: A value is out of its domain.

    >>> panels_in_reed(reed_width_cm=190, panel_reed_width_cm=94, panel_gap_cm=2)
    2.0
    """
    gap_cm = not_negative("panel_gap_cm", panel_gap_cm)
    pitch_cm = positive("panel_reed_width_cm", panel_reed_width_cm) + gap_cm
    # A sum of floats that misses the whole number by its last digit still counts as whole.
    return down((positive("reed_width_cm", reed_width_cm) + gap_cm) / pitch_cm + SLACK)


@dataclass(frozen=True, slots=True)
class ReedStock(Record[N]):
    """The reeds in stock.

    Attributes:
        dents_per_10cm: Dents per 10 cm, one or more, rising.
        present: Whether the loom states its reeds.
    """

    dents_per_10cm: Steps
    present: Truth = True

    def nearest(self, dents_per_10cm: N) -> N:
        """Return the reed in stock whose ratio to the needed one is nearest to 1.

        Args:
            dents_per_10cm: The needed reed.

        Returns:
            Dents per 10 cm; of two reeds that are equally near the coarser one, and the needed one
            itself if no stock is stated.

        >>> ReedStock(Steps((120.0, 140.0, 160.0))).nearest(151.875)
        160.0
        """
        if not anywhere(self.present):
            return dents_per_10cm
        stock = self.dents_per_10cm
        place: N = stock.below(dents_per_10cm)
        finer, coarser = stock.at(least(place, stock.last)), stock.at(greatest(place - 1, 0))
        nearest: N = either(finer * coarser < dents_per_10cm * dents_per_10cm, finer, coarser)
        return either(self.present, nearest, dents_per_10cm)

    def count(self, dents_per_10cm: N) -> N:
        """Return how many of the reeds are the one requested."""
        stock = self.dents_per_10cm
        alike: N = stock.up_to(dents_per_10cm) - stock.below(dents_per_10cm)
        return either(self.present, alike, 0.0)


NO_STOCK: Final[ReedStock[float]] = ReedStock(Steps((1.0,)), present=False)
"""The stock of a loom that does not state its reeds."""


def check_wire_share(wire_share_pct: N) -> N:
    """Return the share of the pitch that the wire takes when it leaves room for ends.

    Raises:
        InputError: It is out of the bounds of the field.
    """
    return between("wire_share_pct", wire_share_pct, least=_WIRE_SHARE.least, most=_WIRE_SHARE.most)


def usual_wire_share_pct(dents_per_10cm: N, *, share_of_pitch_pct: float, least_mm: float) -> N:
    """Return the share of the pitch that the wire takes in a reed, if it is not stated.

    A wire has a least thickness that it keeps in the finest reed, and grows with the pitch: the
    finer the reed, the more of it is wire.

    Args:
        dents_per_10cm: The reed.
        share_of_pitch_pct: What a wire takes of the pitch beside its least thickness: the
            threshold ``reed_wire_share_of_pitch_pct``.
        least_mm: Least thickness of a wire: the threshold ``reed_wire_least_mm``.

    Returns:
        % to one decimal, within the bounds of the field.

    >>> [usual_wire_share_pct(dents, share_of_pitch_pct=20.0, least_mm=0.1)
    ...     for dents in (60.0, 120.0, 240.0)]
    [26.0, 32.0, 44.0]
    """
    pitch = MM_PER_10CM / positive("dents_per_10cm", dents_per_10cm)
    share = whole_number(10 * (share_of_pitch_pct + 100 * least_mm / pitch)) / 10
    return least(greatest(share, _WIRE_SHARE.least), _WIRE_SHARE.most)


@dataclass(slots=True, kw_only=True)
class AirSpace(Record[N]):
    """The room between two wires of a reed, and the ends and knots that pass through it.

    Attributes:
        wire_share_pct: Share of the pitch that the wire takes.
        gap_mm: Clear space.
        fill_pct: Diameters of all ends of the dent, side by side, over the gap. Above 100 they
            have to lie one above the other.
        knot_mm: Thickness of a knot.
        knot_room_pct: Gap over knot; below 100 a knot does not pass freely.
    """

    wire_share_pct: N
    gap_mm: N
    fill_pct: N
    knot_mm: N
    knot_room_pct: N


def air_space(
    *,
    dents_per_10cm: N,
    ends_per_dent: N,
    end_width_mm: N,
    wire_share_pct: N,
    knot_widths: N,
) -> AirSpace[N]:
    """Compute the room in a dent.

    Args:
        dents_per_10cm: The reed.
        ends_per_dent: Ends in the dent that is judged, the fullest for a check.
        end_width_mm: Width of an end: its diameter, of a tape the width at which it lies flat.
        wire_share_pct: Share of the pitch that the wire takes; see :func:`usual_wire_share_pct`.
        knot_widths: Thickness of a knot in widths of the end.

    Returns:
        Widths in mm, shares in %.

    Raises:
        InputError: A value is out of its domain.

    120 dents in 10 cm with 60 % of air [EXAM-REED-AIR]: gap 0.5 mm.

    >>> room = air_space(
    ...     dents_per_10cm=120, ends_per_dent=2, end_width_mm=0.2, wire_share_pct=40,
    ...     knot_widths=2.5)
    >>> round(room.gap_mm, 3), round(room.fill_pct)
    (0.5, 80)
    """
    pitch: N = MM_PER_10CM / positive("dents_per_10cm", dents_per_10cm)
    check_wire_share(wire_share_pct)
    gap = pitch * (1 - wire_share_pct / 100)
    width = positive("end_width_mm", end_width_mm)
    knot = width * positive("knot_widths", knot_widths)
    return AirSpace(
        wire_share_pct=wire_share_pct,
        gap_mm=gap,
        fill_pct=not_negative("ends_per_dent", ends_per_dent) * width / gap * 100,
        knot_mm=knot,
        knot_room_pct=gap / knot * 100,
    )
