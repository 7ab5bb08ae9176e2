"""Yarns as stated, and the facts of a yarn: diameter, strength and stiffness."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from weavability.textiles.assumptions import Assumption, Ledger
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.designations import (
    EXAMPLES,
    Designation,
    parse_designation,
)
from weavability.textiles.errors import Fault, InputError, pointing_below
from weavability.textiles.fibres import Fibre, Form, Kind, find_fibre
from weavability.textiles.geometry import yarn_diameter_mm


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
        crimp_pct: Crimp of this yarn in the cloth, on the length of the grey cloth.
        contraction_pct: The same on yarn length, in its place.
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
    crimp_pct: float | None = None
    contraction_pct: float | None = None


WEAKEST_PLACE_CVS: Final = 3
"""Coefficients of variation by which the weakest place is below the mean strength."""

WEAKEST_PLACE: Final = f"weakest place = mean strength x (1 - {WEAKEST_PLACE_CVS} CV)"


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnFacts:
    """A yarn with everything that is computed with.

    Attributes:
        designation: In canonical form, ``None`` if only the linear density was given.
        linear_density_tex: Of the yarn as it runs in the cloth.
        single_tex: Of one single.
        plies: Number of singles.
        filaments: Filaments of one single; ``None`` if not stated.
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
    """Complete a yarn.

    Strength is tenacity × linear density, its weakest place mean·(1 − 3·CV) (common practice,
    no source); the modulus is the secant to the breaking point.

    Args:
        yarn: As stated.
        ledger: Every value that was not stated is noted in it; pointers are relative to the yarn.

    Raises:
        InputError: The designation or fibre cannot be read, a value is out of bounds, both or
            neither of designation and linear density are given, or the diameter is smaller than
            that of the solid fibre.

    >>> facts = resolve_yarn(Yarn(designation="Ne 30/2", fibre="cotton"), Ledger())
    >>> round(facts.linear_density_tex, 2), round(facts.diameter_mm, 3)
    (39.37, 0.234)
    """
    facts, noted = _completed(yarn)
    ledger.extend(noted)
    return facts


@lru_cache(maxsize=4096)
def _completed(yarn: Yarn) -> tuple[YarnFacts, tuple[Assumption, ...]]:
    """Complete a yarn once: the same few are ordered again and again."""
    ledger = Ledger()
    _check_numbers(yarn)
    read, stated_fibre = _read_yarn(yarn)
    fibre = _fibre(stated_fibre, read, ledger)
    kind = _kind(read, fibre)
    form = fibre.form(kind)
    tex = _folded_tex(yarn, read, ledger)
    density, packing, diameter = _round(yarn, fibre, form, tex, ledger)
    tenacity, cv, elongation = _strength(yarn, fibre, form, kind, ledger)
    facts = YarnFacts(
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
        weakest_strength_cn=tenacity * tex * max(0.0, 1.0 - WEAKEST_PLACE_CVS / 100 * cv),
        modulus_cn_per_tex=100.0 * tenacity / elongation,
        colour=yarn.colour,
    )
    return facts, tuple(ledger)


def _check_numbers(yarn: Yarn) -> None:
    faults = []
    for name, bounds in YARN_BOUNDS.items():
        value = getattr(yarn, name)
        if value is not None and value not in bounds:
            least, most = bounds.least, bounds.most
            faults.append(
                Fault(
                    f"/{name}",
                    f"{name} must lie between {least:g} and {most:g}.",
                    value,
                    f"{least:g} to {most:g}",
                )
            )
    if faults:
        raise InputError(faults)


def _read_yarn(yarn: Yarn) -> tuple[Designation, Fibre | None]:
    """Return the designation, and the fibre if it is stated."""
    text, tex = yarn.designation, yarn.linear_density_tex
    if text is not None and tex is None:
        fibre = _stated_fibre(yarn)
        with pointing_below("/designation"):
            return parse_designation(text, fibre=fibre), fibre
    if text is None and tex is not None:
        return _of_linear_density(tex), _stated_fibre(yarn)
    raise InputError.of(
        "/designation",
        "Give the yarn either a designation or linear_density_tex.",
        given=text,
        allowed=f"for example {EXAMPLES}",
    )


def _of_linear_density(tex: float) -> Designation:
    return Designation(
        text=f"{tex:.10g} tex",
        system="tex",
        linear_density_tex=tex,
        single_tex=tex,
        plies=1,
        filaments=None,
    )


def _stated_fibre(yarn: Yarn) -> Fibre | None:
    with pointing_below("/fibre"):
        return None if yarn.fibre is None else find_fibre(yarn.fibre)


def _fibre(stated: Fibre | None, read: Designation, ledger: Ledger) -> Fibre:
    if read.reading is not None:
        ledger.note("/designation", read.text, unit=None, reason=read.reading)
    if stated is not None:
        if stated.shares_assumed:
            reason = "shares of the blend not stated; common practice, no source"
            ledger.note("/fibre", stated.key, unit=None, reason=reason)
        return stated
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
                "Leave it out: the linear density given is that of the yarn as it is.",
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
        if yarn.packing_fraction is not None:
            raise InputError.of(
                "/packing_fraction",
                "Leave it out if diameter_mm is given: one follows from the other.",
            )
        return density, _packing_of_diameter(yarn.diameter_mm, density, tex), yarn.diameter_mm
    packing = ledger.take(
        "/packing_fraction",
        yarn.packing_fraction,
        form.packing_fraction,
        unit=None,
        reason=f"{fibre.key}: {form.sources['packing_fraction']}",
    )
    diameter = yarn_diameter_mm(
        linear_density_tex=tex, fibre_density_g_per_cm3=density, packing_fraction=packing
    )
    return density, packing, diameter


def _packing_of_diameter(diameter: float, density: float, tex: float) -> float:
    solid = yarn_diameter_mm(
        linear_density_tex=tex, fibre_density_g_per_cm3=density, packing_fraction=1.0
    )
    if diameter < solid:
        raise InputError.of(
            "/diameter_mm",
            f"A yarn of {tex:.4g} tex cannot be thinner than its solid fibre.",
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
