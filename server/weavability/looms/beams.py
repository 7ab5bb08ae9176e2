"""Warp: its length, the capacity of beam and cloth roll, and the tension of the ends."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, hypot, pi
from typing import Final, Generic, NamedTuple

from weavability.looms.pieces import Pieces
from weavability.textiles.cloth_bounds import MOST_ENDS
from weavability.textiles.errors import InputError
from weavability.textiles.guards import between, counted, is_so, not_negative, positive, whole
from weavability.textiles.numbers import N, greatest, up
from weavability.textiles.sentences import say
from weavability.textiles.units import TEX_M_PER_G

WINDING_CLEARANCE_CM: Final = 2.0
"""Flange diameter less winding diameter, 1 to 3 cm [COURSE-MILL-DESIGN]."""

BEAT_UP_SHARE: Final = 0.5
"""Rise of the warp tension at beat-up as a share of the base tension, common practice."""


def warp_length_m(*, cloth_length_m: N, warp_crimp_pct: N, waste_m: N | float = 0.0) -> N:
    """Return the length of warp for a length of cloth: ``cloth × (1 + crimp) + waste``.

    Args:
        cloth_length_m: Cloth as it leaves the loom.
        warp_crimp_pct: Crimp on cloth length, (yarn − cloth) / cloth.
        waste_m: Waste at tying-in and on the loom, of all beams.

    Raises:
        InputError: A value is out of its domain.

    94 yards at 4 % are "roughly 98" [TAYLOR-1909]:

    >>> round(warp_length_m(cloth_length_m=94, warp_crimp_pct=4), 2)
    97.76
    """
    positive("cloth_length_m", cloth_length_m)
    not_negative("warp_crimp_pct", warp_crimp_pct)
    woven: N = cloth_length_m * (1 + warp_crimp_pct / 100)
    return woven + not_negative("waste_m", 0 * woven + waste_m)


def beam_volume_cm3(*, winding_diameter_cm: N, barrel_diameter_cm: N, width_cm: N) -> N:
    """Return the volume of yarn on a full beam: ``π/4 × width × (winding² − barrel²)``.

    Raises:
        InputError: A value is not positive, or the barrel is not thinner than the winding.

    Winding 57 cm on a barrel of 15 cm, 184 cm wide [COURSE-MILL-DESIGN]:

    >>> round(beam_volume_cm3(winding_diameter_cm=57, barrel_diameter_cm=15, width_cm=184), 1)
    437008.1
    """
    positive("width_cm", width_cm)
    positive("barrel_diameter_cm", barrel_diameter_cm)
    if is_so(positive("winding_diameter_cm", winding_diameter_cm) <= barrel_diameter_cm):
        raise InputError.of(
            "/barrel_diameter_cm",
            say(
                "fault.warp_beam.barrel_too_thick", "The barrel must be thinner than the full beam."
            ),
            given=barrel_diameter_cm,
            allowed=f"below {winding_diameter_cm:g}",
        )
    return pi / 4 * width_cm * (winding_diameter_cm**2 - barrel_diameter_cm**2)


def winding_diameter_cm(*, flange_diameter_cm: N) -> N:
    """Return the diameter to which a beam is wound: the flange less 2 cm.

    A flange of 4 cm or less is wound to half its diameter, as 2 cm would leave little or nothing.

    Args:
        flange_diameter_cm: Diameter of the flanges.

    Returns:
        cm.

    Raises:
        InputError: The diameter is not a positive number.

    >>> winding_diameter_cm(flange_diameter_cm=80), winding_diameter_cm(flange_diameter_cm=3)
    (78.0, 1.5)
    """
    positive("flange_diameter_cm", flange_diameter_cm)
    return greatest(flange_diameter_cm - WINDING_CLEARANCE_CM, flange_diameter_cm / 2)


def warp_mass_kg(
    *, length_m: float, ends: int, linear_density_tex: float, size_pct: float = 0.0
) -> float:
    """Return the mass of a warp: ``ends × length × tex``, with its size.

    Raises:
        InputError: A value is out of its domain.

    3588 ends of 20 tex, 3018 m long [COURSE-MILL-DESIGN]:

    >>> round(warp_mass_kg(length_m=3018, ends=3588, linear_density_tex=20), 2)
    216.57
    """
    positive("length_m", length_m)
    whole("ends", ends, least=1, most=MOST_ENDS)
    sized_tex = linear_density_tex * (1 + not_negative("size_pct", size_pct) / 100)
    return ends * length_m * positive("linear_density_tex", sized_tex) / 1e6


def beam_capacity_m(
    *,
    winding_diameter_cm: N,
    barrel_diameter_cm: N,
    width_cm: N,
    density_g_per_cm3: N,
    ends: N,
    linear_density_tex: N,
    size_pct: N | float = 0.0,
    beams_abreast: N | float = 1,
) -> N:
    """Return the length of warp on a beam: volume × density ÷ (ends × tex of the sized yarn).

    Args:
        winding_diameter_cm: Diameter of the full beam.
        barrel_diameter_cm: Diameter of the bare barrel.
        width_cm: Distance between the flanges of one beam.
        density_g_per_cm3: Density of the wound yarn, size included.
        ends: All ends of the warp.
        linear_density_tex: Mean linear density of the ends, unsized.
        size_pct: Size on the weight of the yarn.
        beams_abreast: Beams that share the ends between them.

    Returns:
        Metres of warp.

    Raises:
        InputError: A value is out of its domain.

    2000 ends of 110 tex with 4 % of size at 0.55 g/cm³ on the beam of the example above:

    >>> round(beam_capacity_m(winding_diameter_cm=57, barrel_diameter_cm=15, width_cm=184,
    ...     density_g_per_cm3=0.55, ends=2000, linear_density_tex=110, size_pct=4), 1)
    1050.5
    """
    volume = beam_volume_cm3(
        winding_diameter_cm=winding_diameter_cm,
        barrel_diameter_cm=barrel_diameter_cm,
        width_cm=width_cm,
    )
    counted("ends", ends, least=1, most=MOST_ENDS)
    beams = counted("beams_abreast", 0 * volume + beams_abreast, least=1, most=1000)
    positive("linear_density_tex", linear_density_tex)
    mass_g = volume * beams * positive("density_g_per_cm3", density_g_per_cm3)
    size = not_negative("size_pct", 0 * linear_density_tex + size_pct)
    sized_tex = linear_density_tex * (1 + size / 100)
    return mass_g * TEX_M_PER_G / (ends * sized_tex)


def beams_needed(
    *, cloth_warp_length_m: N, beam_capacity_m: N, waste_per_beam_m: N | float = 0.0
) -> N:
    """Return the beams for a length of warp that goes into cloth, each losing its waste.

    Raises:
        InputError: A value is out of its domain, or a beam holds no more than its waste.
    """
    positive("cloth_warp_length_m", cloth_warp_length_m)
    waste = not_negative("waste_per_beam_m", 0 * beam_capacity_m + waste_per_beam_m)
    useful = positive("beam_capacity_m", beam_capacity_m) - waste
    if is_so(useful <= 0):
        raise InputError.of(
            "/beam_capacity_m",
            say(
                "fault.warp_beam.too_small",
                "The beam holds no more warp than is lost at each beam; use a larger beam.",
            ),
            given=beam_capacity_m,
            allowed=f"above {waste_per_beam_m:g}",
        )
    return up(cloth_warp_length_m / useful)


def cloth_roll_capacity_m(*, roll_diameter_cm: N, tube_diameter_cm: N, cloth_thickness_mm: N) -> N:
    """Return the length of cloth on a full roll: ``π/4 × (roll² − tube²) ÷ thickness``.

    The thickness is that of the cloth under the tension of winding.

    Raises:
        InputError: A value is out of its domain, or the tube is not thinner than the roll.

    >>> round(cloth_roll_capacity_m(
    ...     roll_diameter_cm=55, tube_diameter_cm=15, cloth_thickness_mm=0.5))
    440
    """
    positive("tube_diameter_cm", tube_diameter_cm)
    if is_so(positive("roll_diameter_cm", roll_diameter_cm) <= tube_diameter_cm):
        raise InputError.of(
            "/roll_diameter_cm",
            say(
                "fault.cloth_roll.tube_too_thick",
                "The full cloth roll must be thicker than its tube.",
            ),
            given=roll_diameter_cm,
            allowed=f"above {tube_diameter_cm:g}",
        )
    face_cm2 = pi / 4 * (roll_diameter_cm**2 - tube_diameter_cm**2)
    return face_cm2 / (positive("cloth_thickness_mm", cloth_thickness_mm) / 10) / 100


def days_between_warps(
    *, cloth_per_warp_m: float, output_m_per_h: float, hours_per_day: float
) -> float:
    """Return the days from one warp change to the next on one loom.

    Raises:
        InputError: A value is out of its domain; a day has at most 24 hours.

    A warp of 3714 m with a take-up of 5 % (on warp length) at 13.8 m/h around the clock:

    >>> round(days_between_warps(
    ...     cloth_per_warp_m=3714 * 0.95, output_m_per_h=13.8, hours_per_day=24), 3)
    10.653
    """
    positive("hours_per_day", hours_per_day)
    between("hours_per_day", hours_per_day, least=0.0, most=24.0)
    positive("cloth_per_warp_m", cloth_per_warp_m)
    return cloth_per_warp_m / positive("output_m_per_h", output_m_per_h) / hours_per_day


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpPlan:
    """The warp of an order on one loom.

    Attributes:
        warp_length_m: Warp to prepare, the waste of every beam included; like the two that follow
            of the ends without pile: of their groups the longest, the least and the most.
        beam_capacity_m: Warp that a filling of the beams holds.
        beams_needed: Beams, or sets of beams abreast, one after the other.
        knots: Knots of all tyings-in, one an end a beam; the first beam too, on a loom that has
            the draft on it.
        doffs: Cloth rolls taken off; of an order in pieces, of whole ones if a roll holds one.
        pieces: The pieces on rolls and beams; ``None`` if the order is not in pieces.
        days_between_warps: Days until the first beam is empty.
    """

    warp_length_m: float
    beam_capacity_m: float
    beams_needed: int
    knots: int
    doffs: int
    pieces: Pieces | None
    days_between_warps: float


def doffs(*, cloth_length_m: float, cloth_roll_capacity_m: float) -> int:
    """Return the cloth rolls that an order fills, the last one perhaps in part.

    Raises:
        InputError: A value is not a positive number.
    """
    positive("cloth_length_m", cloth_length_m)
    return ceil(cloth_length_m / positive("cloth_roll_capacity_m", cloth_roll_capacity_m))


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpTensionRule:
    """How the tension of an end in weaving is estimated; all values are common practice.

    Attributes:
        base_cn_per_tex: Tension of the closed shed, by linear density.
        base_strength_pct: Tension of the closed shed, as a share of the breaking load of the end;
            the two are added, so that one of them is 0.
        beat_up_share: Rise at beat-up as a share of the base tension.
        shed_half_height_cm: Travel of the farthest heald eye from the warp line.
        front_shed_cm: Fell of the cloth to that heald.
        back_shed_cm: That heald to the lease rods or drop wires.
        free_length_cm: Warp and cloth between the clamping points, which share the stretch.
        easing_pct: Share of the detour that the back rest gives back.
    """

    base_cn_per_tex: float = 0.0
    base_strength_pct: float = 6.0
    beat_up_share: float = BEAT_UP_SHARE
    shed_half_height_cm: float = 4.0
    front_shed_cm: float = 25.0
    back_shed_cm: float = 50.0
    free_length_cm: float = 150.0
    easing_pct: float = 50.0

    def __post_init__(self) -> None:
        not_negative("beat_up_share", self.beat_up_share)
        not_negative("shed_half_height_cm", self.shed_half_height_cm)
        not_negative("base_cn_per_tex", self.base_cn_per_tex)
        not_negative("base_strength_pct", self.base_strength_pct)
        positive("base_cn_per_tex", self.base_cn_per_tex + self.base_strength_pct)
        between("easing_pct", self.easing_pct, least=0, most=100)
        for name in ("front_shed_cm", "back_shed_cm", "free_length_cm"):
            positive(name, getattr(self, name))

    @property
    def shed_stretch_pct(self) -> float:
        """Stretch of an end in the open shed: the detour over the heald eye, by the free length.

        The back rest moves and gives back a share of it. For small heights the detour is
        ``h²/2 × (1/front + 1/back)``; here it is exact.
        """
        height = self.shed_half_height_cm
        sides = (self.front_shed_cm, self.back_shed_cm)
        detour = sum(hypot(side, height) - side for side in sides)
        return detour * (1 - self.easing_pct / 100) / self.free_length_cm * 100


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpTension:
    """Tension of one end over the cycle of the loom.

    Attributes:
        base_tension_cn: Closed shed.
        peak_tension_cn: The greatest of it and those of open shed and beat-up.
        strength_use_pct: That over the strength of the weakest place.
    """

    base_tension_cn: float
    peak_tension_cn: float
    strength_use_pct: float


@lru_cache(maxsize=4096)
def warp_tension(
    rule: WarpTensionRule,
    *,
    linear_density_tex: float,
    modulus_cn_per_tex: float,
    strength_cn: float,
    weakest_strength_cn: float,
) -> WarpTension:
    """Estimate the cyclic tension of an end by a stated rule.

    Base tension by linear density or as a share of the breaking load; in the open shed the stretch
    of the shed times the modulus is added, at beat-up (into a shed that is crossing or already open
    again) a share of the base.

    Args:
        rule: The rule.
        linear_density_tex: Linear density of the end.
        modulus_cn_per_tex: Its tensile modulus.
        strength_cn: Its mean breaking load.
        weakest_strength_cn: Strength of its weakest place.

    Returns:
        Tensions in cN, the use of strength in %.

    Raises:
        InputError: A value is not a positive number.
    """
    positive("linear_density_tex", linear_density_tex)
    positive("modulus_cn_per_tex", modulus_cn_per_tex)
    tension = end_tension(
        base_cn_per_tex=rule.base_cn_per_tex,
        base_strength_pct=rule.base_strength_pct,
        beat_up_share=rule.beat_up_share,
        shed_stretch_pct=rule.shed_stretch_pct,
        linear_density_tex=linear_density_tex,
        modulus_cn_per_tex=modulus_cn_per_tex,
        strength_cn=strength_cn,
    )
    positive("weakest_strength_cn", weakest_strength_cn)
    return WarpTension(
        base_tension_cn=tension.base_cn,
        peak_tension_cn=tension.peak_cn,
        strength_use_pct=tension.peak_cn / weakest_strength_cn * 100,
    )


class EndTension(NamedTuple, Generic[N]):
    """Tensions of one end in cN: in the closed shed, and the greater of open shed and beat-up."""

    base_cn: N
    peak_cn: N


def end_tension(
    *,
    base_cn_per_tex: N,
    base_strength_pct: N,
    beat_up_share: N,
    shed_stretch_pct: N,
    linear_density_tex: N,
    modulus_cn_per_tex: N,
    strength_cn: N,
) -> EndTension[N]:
    """Compute the tensions of :func:`warp_tension` from the figures of its rule."""
    base = base_cn_per_tex * linear_density_tex + base_strength_pct / 100 * strength_cn
    shed = base + shed_stretch_pct / 100 * modulus_cn_per_tex * linear_density_tex
    beat_up = base * (1 + beat_up_share)
    return EndTension(base, greatest(shed, beat_up))
