"""What a yarn in a cloth is: its figures as stated, read or assumed."""

from __future__ import annotations

from math import sqrt
from typing import Final

from weavability.textiles.designation_parts import TwistDirection
from weavability.textiles.fibres import Fibre, Kind
from weavability.textiles.records import record

WEAKEST_PLACE_CVS: Final = 3
"""Coefficients of variation by which the weakest place is below the mean strength."""


WEAKEST_PLACE: Final = f"weakest place = mean strength x (1 - {WEAKEST_PLACE_CVS} CV)"


ROUND_FROM_TWIST_FACTOR: Final = 45.0
"""Twist factor from which a filament yarn stays round in the cloth; common practice, no source."""


@record(kw_only=True)
class YarnFacts:
    """A yarn with everything that is computed with.

    Attributes:
        designation: In canonical form, ``None`` if only the linear density was given.
        linear_density_tex: Of the yarn as it runs in the cloth.
        single_tex: Of one single.
        plies: Number of singles, elastane left out.
        filaments: Filaments of one single; ``None`` if not stated.
        kind: ``spun`` or ``filament``.
        fibre: The fibre or blend.
        fibre_density_g_per_cm3: Density of the fibre substance.
        packing_fraction: Share of the cross-section that is fibre.
        diameter_mm: Diameter, as a round yarn.
        width_mm: Of a tape its width, else the diameter.
        thickness_mm: What it adds to the thickness of the cloth.
        tenacity_cn_per_tex: Mean breaking force per linear density.
        strength_cv_pct: Coefficient of variation of the breaking force.
        breaking_elongation_pct: Mean elongation at break.
        strength_cn: Mean breaking force.
        weakest_strength_cn: Breaking force of the weakest place, mean·(1 − 3·CV), at least 0.
        modulus_cn_per_tex: Secant modulus up to the break.
        twist_per_m: Turns per metre; ``None`` if not stated.
        twist_direction: ``S`` or ``Z``; ``None`` without a twist.
        sized: Whether it is sized; ``None`` if not stated.
        is_monofilament: Whether it is one filament.
        is_tape: Whether it is a tape or a spread tow.
        is_short_staple_single: Whether it is a single, spun of short staple: as warp it is sized.
        elastane_pct: Share of elastane, by mass.
        elastane_dtex: Linear density of its elastane at rest; ``None`` if its draft is not stated.
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
    width_mm: float
    thickness_mm: float
    tenacity_cn_per_tex: float
    strength_cv_pct: float
    breaking_elongation_pct: float
    strength_cn: float
    weakest_strength_cn: float
    modulus_cn_per_tex: float
    twist_per_m: float | None
    twist_direction: TwistDirection | None
    sized: bool | None
    is_monofilament: bool
    is_tape: bool
    is_short_staple_single: bool
    elastane_pct: float
    elastane_dtex: float | None
    colour: str | None

    @property
    def is_bare_elastane(self) -> bool:
        """Whether it is elastane alone."""
        return self.elastane_pct == 100.0

    @property
    def depth_mm(self) -> float:
        """Of a tape its thickness, else the diameter."""
        return self.thickness_mm if self.is_tape else self.diameter_mm

    @property
    def is_multifilament(self) -> bool:
        """Whether it is made of loose filaments: no monofilament, tape, wire or elastane."""
        whole = self.is_monofilament or self.is_tape or self.is_bare_elastane
        return self.kind == "filament" and not whole and not self.fibre.is_metal

    @property
    def twist_factor(self) -> float:
        """Turns/m × √(tex/1000), 0 if no twist is stated."""
        return stated_twist_factor(self.twist_per_m, self.linear_density_tex)


def twist_factor(*, twist_per_m: float, tex: float) -> float:
    """Return the twist factor of a yarn, turns/m × √(tex/1000), which is turns/m over √Nm.

    Args:
        twist_per_m: Turns per metre.
        tex: Linear density.

    A cotton twist multiplier of 4 turns/inch for √Ne, Ne 30 [BY-DEFINITION]:

    >>> round(twist_factor(twist_per_m=4 * 30**0.5 / 0.0254, tex=590.5412 / 30), 1)
    121.0
    """
    return twist_per_m * sqrt(tex / 1000)


def stated_twist_factor(twist_per_m: float | None, tex: float) -> float:
    """Return the twist factor, 0 if no twist is stated."""
    return 0.0 if twist_per_m is None else twist_factor(twist_per_m=twist_per_m, tex=tex)
