"""The cross-section of a yarn: round, flattened in the cloth, or a tape."""

from __future__ import annotations

from math import sqrt
from typing import Final, NamedTuple

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.crimp import CRIMP_FLATTENING
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import Fibre, Form, band_of
from weavability.textiles.geometry import yarn_diameter_mm
from weavability.textiles.records import record
from weavability.textiles.sentences import say

FLATTENING_RATIO: Final = 6.0
"""Width over thickness of filament yarn without twist in the cloth; from memory.

Published thicknesses of glass cloth ask for 5 to 9, of carbon cloth of 3000 filaments for 15.
"""

FLATTENING_BAND: Final = ValueBand(3.0, 16.0)

TAPE_THICKNESS_MM: Final = 0.05
"""Thickness of a slit film; common practice, no source."""

TAPE_THICKNESS_BAND: Final = ValueBand(0.03, 0.10)


ROUNDED_FIBRE: Final = 1.10
"""Up to so much fibre in its section, a tape or monofilament is taken as solid.

Its linear density, width and thickness are nominal, each rounded: a film of 0.045 mm may have 0.043
or 0.047, 5 % more or less, and its density is often assumed. Common practice, no source.
"""

LEAST_SOLID: Final = 0.7
"""Share of fibre below which a monofilament would be hollow; common practice, no source."""


@record(kw_only=True)
class Section:
    """What is stated of the cross-section of a yarn; what is ``None`` was not given.

    Attributes:
        fibre_density_g_per_cm3: Density of the fibre substance.
        packing_fraction: Share of the cross-section that is fibre.
        diameter_mm: Measured diameter, in place of the packing fraction.
        tape_width_mm: Width of a tape or spread tow.
        tape_thickness_mm: Its thickness.
        flattening_ratio: Width over thickness of a yarn that lies flat in the cloth.
        is_tape: Whether it is a tape or spread tow.
        is_monofilament: Whether it is one filament.
    """

    fibre_density_g_per_cm3: float | None
    packing_fraction: float | None
    diameter_mm: float | None
    tape_width_mm: float | None
    tape_thickness_mm: float | None
    flattening_ratio: float | None
    is_tape: bool
    is_monofilament: bool


class ResolvedSection(NamedTuple):
    """A cross-section, with nothing left open.

    Attributes:
        diameter_mm: As a round yarn of the same area.
        width_mm: Of a tape its width, else the diameter.
        thickness_mm: What the yarn adds to the thickness of the cloth.
    """

    density_g_per_cm3: float
    packing_fraction: float
    diameter_mm: float
    width_mm: float
    thickness_mm: float


def resolve_section(
    stated: Section, fibre: Fibre, form: Form, *, tex: float, lies_flat: bool, ledger: Ledger
) -> ResolvedSection:
    """Complete the cross-section of a yarn.

    Round yarns are flattened at the crossings as in the estimate of crimp, filaments without twist
    by a ratio of width to thickness, monofilaments not at all; a tape has its stated measures.

    Args:
        stated: What is stated of it.
        fibre: The fibre.
        form: Its values for yarns of this kind.
        tex: Linear density of the yarn.
        lies_flat: Whether its filaments spread in the cloth.
        ledger: Takes a note of every value that is not stated.

    Raises:
        InputError: The yarn would be thinner than its solid fibre; pointers are relative to the
            yarn.
    """
    density = ledger.take(
        "/fibre_density_g_per_cm3",
        stated.fibre_density_g_per_cm3,
        fibre.density_g_per_cm3,
        unit="g/cm³",
        reason=say(
            "assumption.fibre.density",
            "{fibre}: {source}",
            fibre=fibre.key,
            source=fibre.density_source,
        ),
        grade=fibre.density_grade,
        band=band_of("density_g_per_cm3", fibre.density_g_per_cm3, fibre.density_grade),
    )
    if stated.is_tape:
        return _tape(stated, fibre, form, density, tex, ledger)
    if stated.diameter_mm is not None:
        if stated.packing_fraction is not None:
            raise InputError.of(
                "/packing_fraction",
                say(
                    "fault.yarn.packing_and_diameter",
                    "Leave it out if diameter_mm is given: one follows from the other.",
                ),
            )
        rounded = sqrt(ROUNDED_FIBRE) if stated.is_monofilament else 1.0
        packing = _packing_of_diameter(stated.diameter_mm, density, tex, rounded)
        diameter = stated.diameter_mm
        if stated.is_monofilament and packing < LEAST_SOLID:
            solid = _diameter_mm(tex, density, 1.0)
            raise InputError.of(
                "/diameter_mm",
                say(
                    "fault.yarn.monofilament_diameter",
                    "A monofilament of {linear_density_tex:.4g} tex is solid and "
                    "{solid_mm:.3g} mm thick; check diameter and linear density.",
                    linear_density_tex=tex,
                    solid_mm=solid,
                ),
                given=diameter,
                allowed=f"{solid:.4f} to {solid / sqrt(LEAST_SOLID):.4f} mm",
            )
    else:
        packing = _packing(stated, fibre, form, ledger)
        diameter = _diameter_mm(tex, density, packing)
    thickness = diameter if stated.is_monofilament else CRIMP_FLATTENING * diameter
    ratio = stated.flattening_ratio
    if ratio is None and lies_flat and not stated.is_monofilament and stated.diameter_mm is None:
        ratio = ledger.note(
            "/flattening_ratio",
            FLATTENING_RATIO,
            unit=None,
            reason=say(
                "assumption.yarn.flattening_ratio",
                "width over thickness of filament yarn without twist in the cloth; from memory",
            ),
            grade=Grade.FROM_MEMORY,
            band=FLATTENING_BAND,
        )
    if ratio is not None:
        thickness = diameter / sqrt(ratio)
    return ResolvedSection(density, packing, diameter, diameter, thickness)


def _packing(stated: Section, fibre: Fibre, form: Form, ledger: Ledger) -> float:
    name, usual = "packing_fraction", form.packing_fraction
    return ledger.take(
        f"/{name}",
        stated.packing_fraction,
        usual,
        unit=None,
        reason=say(
            "assumption.yarn.packing",
            "{fibre}: {source}",
            fibre=fibre.key,
            source=form.sources[name],
        ),
        grade=form.grades[name],
        band=band_of(name, usual, form.grades[name]),
    )


def _diameter_mm(tex: float, density: float, packing: float) -> float:
    return yarn_diameter_mm(
        linear_density_tex=tex, fibre_density_g_per_cm3=density, packing_fraction=packing
    )


def _packing_of_diameter(diameter: float, density: float, tex: float, rounded: float) -> float:
    solid = _diameter_mm(tex, density, 1.0)
    if diameter < solid <= rounded * diameter:
        return 1.0
    if diameter < solid:
        raise InputError.of(
            "/diameter_mm",
            say(
                "fault.yarn.too_thin",
                "A yarn of {linear_density_tex:.4g} tex cannot be thinner than its solid fibre.",
                linear_density_tex=tex,
            ),
            given=diameter,
            allowed=f"at least {solid:.4f} mm",
        )
    return (solid / diameter) ** 2


def _tape(
    stated: Section, fibre: Fibre, form: Form, density: float, tex: float, ledger: Ledger
) -> ResolvedSection:
    """Complete a tape: of width, thickness and packing, one follows from the others."""
    solid_mm2 = tex / (1000 * density)
    width, thickness = stated.tape_width_mm, stated.tape_thickness_mm
    if width is not None and thickness is not None:
        if stated.packing_fraction is not None:
            raise InputError.of(
                "/packing_fraction",
                say(
                    "fault.yarn.packing_and_tape",
                    "Leave it out if width and thickness of the tape are given: it "
                    "follows from them.",
                ),
                given=stated.packing_fraction,
            )
        packing = _packing_of_tape(width, thickness, solid_mm2, tex)
    else:
        packing = _packing(stated, fibre, form, ledger)
        area = solid_mm2 / packing
        if width is not None:
            thickness = area / width
        else:
            thickness = ledger.take(
                "/tape_thickness_mm",
                thickness,
                TAPE_THICKNESS_MM,
                unit="mm",
                reason=say("assumption.yarn.tape_thickness", "slit film; [COMMON-PRACTICE]"),
                grade=Grade.COMMON_PRACTICE,
                band=TAPE_THICKNESS_BAND,
            )
            width = area / thickness
    if thickness > width:
        name = "thickness" if stated.tape_width_mm is None else "width"
        raise InputError.of(
            f"/tape_{name}_mm",
            say(
                "fault.yarn.no_tape",
                "A tape of {linear_density_tex:.4g} tex with this {measure} would be "
                "{width_mm:.3g} mm wide and {thickness_mm:.3g} mm thick: no tape.",
                linear_density_tex=tex,
                measure=name,
                width_mm=width,
                thickness_mm=thickness,
            ),
            given=getattr(stated, f"tape_{name}_mm"),
            allowed="a width of at least the thickness",
        )
    return ResolvedSection(density, packing, _diameter_mm(tex, density, packing), width, thickness)


def _packing_of_tape(width: float, thickness: float, solid_mm2: float, tex: float) -> float:
    packing, bounds = solid_mm2 / (width * thickness), YARN_BOUNDS["packing_fraction"]
    if 1.0 < packing <= ROUNDED_FIBRE:
        return 1.0
    if packing not in bounds:
        least = solid_mm2 / (width * ROUNDED_FIBRE * bounds.most)
        most = solid_mm2 / (width * bounds.least)
        raise InputError.of(
            "/tape_thickness_mm",
            say(
                "fault.yarn.tape_packing",
                "A tape of {linear_density_tex:.4g} tex that is {width_mm:g} mm wide "
                "and {thickness_mm:g} mm thick would be {fibre_pct:.0f} % fibre, more "
                "or less than rounded measures explain. Check linear density, width, "
                "thickness and fibre.",
                linear_density_tex=tex,
                width_mm=width,
                thickness_mm=thickness,
                fibre_pct=100 * packing,
            ),
            given=thickness,
            allowed=f"{least:.4f} to {most:.4f} mm",
        )
    return packing
