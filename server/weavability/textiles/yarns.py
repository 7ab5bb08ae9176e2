"""Yarns as stated, and the facts of a yarn: count, cross-section, strength and stiffness."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import pi
from typing import Final

from weavability.textiles.assumptions import Assumption, End, Grade, Ledger, Moves, ValueBand
from weavability.textiles.bounds import YARN_BOUNDS
from weavability.textiles.designation_parts import EXAMPLES, Designation, TwistDirection
from weavability.textiles.designations import parse_designation
from weavability.textiles.elastane import stretched, with_elastane
from weavability.textiles.errors import Fault, InputError, pointing_below
from weavability.textiles.fibres import ELASTANE, Fibre, Form, Kind, band_of, find_fibre
from weavability.textiles.records import record
from weavability.textiles.sentences import say
from weavability.textiles.units import G_PER_GRAIN, M_PER_YARD
from weavability.textiles.wool import wool_as_spun
from weavability.textiles.yarn_facts import (
    ROUND_FROM_TWIST_FACTOR,
    WEAKEST_PLACE_CVS,
    YarnFacts,
    stated_twist_factor,
)
from weavability.textiles.yarn_sections import Section, resolve_section


@record(kw_only=True)
class Yarn:
    """A yarn as stated; what is ``None`` was not given.

    Attributes:
        designation: As the trade writes it; or ``linear_density_tex`` in its place, or a sample.
        linear_density_tex: Resultant linear density.
        sample_length_m: Length of a sample that was weighed.
        sample_length_yd: The same in yards: 120 for a lea of cotton.
        sample_mass_g: Mass of that sample.
        sample_mass_grains: The same in grains.
        fibre: Fibre or blend, with the style of the yarn if it has one: ``cotton slub``.
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
        twist_per_m: Turns per metre of the yarn as it is woven; 0 for none.
        twist_direction: ``S`` or ``Z``.
        sized: Whether the yarn is sized as warp.
        monofilament: Whether the yarn is one filament.
        elastane_draft: Length of the elastane in the yarn over its length at rest.
        tape_width_mm: Width of a tape or spread tow.
        tape_thickness_mm: Its thickness.
        flattening_ratio: Width over thickness of a yarn that lies flat in the cloth.
    """

    designation: str | None = None
    linear_density_tex: float | None = None
    sample_length_m: float | None = None
    sample_length_yd: float | None = None
    sample_mass_g: float | None = None
    sample_mass_grains: float | None = None
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
    twist_per_m: float | None = None
    twist_direction: TwistDirection | None = None
    sized: bool | None = None
    monofilament: bool | None = None
    elastane_draft: float | None = None
    tape_width_mm: float | None = None
    tape_thickness_mm: float | None = None
    flattening_ratio: float | None = None


def resolve_yarn(yarn: Yarn, ledger: Ledger) -> YarnFacts:
    """Complete a yarn.

    Strength is tenacity × linear density, its weakest place mean·(1 − 3·CV) (common practice,
    no source); the modulus is the secant to the breaking point.

    Args:
        yarn: As stated.
        ledger: Every value that was not stated is noted in it; pointers are relative to the yarn.

    Raises:
        InputError: The designation or fibre cannot be read, a value is out of bounds, the count is
            not stated exactly once, what is stated of the yarn is contradictory, or the yarn would
            be thinner than its solid fibre.

    >>> facts = resolve_yarn(Yarn(designation="Ne 30/2", fibre="cotton"), Ledger())
    >>> round(facts.linear_density_tex, 2), round(facts.diameter_mm, 3)
    (39.37, 0.234)
    """
    ends = () if ledger.moves is None else ledger.moves.of_yarn(ledger.prefix)
    facts, noted = _completed(yarn, ends)
    ledger.extend(noted)
    return facts


@lru_cache(maxsize=4096)
def _completed(
    yarn: Yarn, ends: tuple[tuple[str, End], ...]
) -> tuple[YarnFacts, tuple[Assumption, ...]]:
    """Complete a yarn once: the same few are ordered again and again."""
    ledger = Ledger(moves=Moves(dict(ends)) if ends else None)
    _check_numbers(yarn)
    read, stated_fibre = _read_yarn(yarn)
    faults = list(_contradictions(yarn, read, stated_fibre))
    if faults:
        raise InputError(faults)
    fibre = wool_as_spun(yarn.fibre, _fibre(stated_fibre, read, ledger), read, ledger)
    is_one = _is_monofilament(yarn, read, fibre)
    if is_one and fibre.style != "monofilament":
        fibre = fibre.in_style("monofilament")
    kind = _kind(read, fibre)
    folded_tex, breaks_at_pct = _folded_tex(yarn, read, ledger), yarn.breaking_elongation_pct
    if breaks_at_pct is None:
        breaks_at_pct = fibre.form(kind).breaking_elongation_pct
    tex, fibre, draft = with_elastane(
        yarn.elastane_draft, read, fibre, folded_tex, breaks_at_pct, ledger
    )
    _note_fibre(stated_fibre, fibre, ledger)
    form = fibre.form(kind)
    twist = yarn.twist_per_m if yarn.twist_per_m is not None else read.twist_per_m
    elastane_pct = fibre.share_pct(ELASTANE)
    section = resolve_section(
        _as_section(yarn, is_tape=_is_tape(yarn, fibre), is_monofilament=is_one),
        fibre,
        form,
        tex=tex,
        lies_flat=kind == "filament"
        and not fibre.is_bulked
        and not fibre.is_metal
        and elastane_pct < 100.0
        and stated_twist_factor(twist, tex) < ROUND_FROM_TWIST_FACTOR,
        ledger=ledger,
    )
    tenacity, cv, elongation = _strength(yarn, fibre, form, kind, ledger)
    if elastane_pct == 100.0 and draft is not None:
        tenacity, elongation = stretched(tenacity, elongation, draft)
    plies = read.plies - (len(read.folded_tex) > 1 and elastane_pct > 0.0)
    facts = YarnFacts(
        designation=read.text if yarn.designation is not None else None,
        linear_density_tex=tex,
        single_tex=read.single_tex,
        plies=plies,
        filaments=read.filaments,
        kind=kind,
        fibre=fibre,
        fibre_density_g_per_cm3=section.density_g_per_cm3,
        packing_fraction=section.packing_fraction,
        diameter_mm=section.diameter_mm,
        width_mm=section.width_mm,
        thickness_mm=section.thickness_mm,
        tenacity_cn_per_tex=tenacity,
        strength_cv_pct=cv,
        breaking_elongation_pct=elongation,
        strength_cn=tenacity * tex,
        weakest_strength_cn=tenacity * tex * max(0.0, 1.0 - WEAKEST_PLACE_CVS / 100 * cv),
        modulus_cn_per_tex=100.0 * tenacity / elongation,
        twist_per_m=twist,
        twist_direction=yarn.twist_direction or read.twist_direction,
        sized=yarn.sized,
        is_monofilament=is_one,
        is_tape=_is_tape(yarn, fibre),
        is_short_staple_single=kind == "spun"
        and plies == 1
        and fibre.is_short_staple
        and read.fibre not in _LONG_STAPLE,
        elastane_pct=elastane_pct,
        elastane_dtex=None if draft is None else 10 * tex * draft * elastane_pct / 100,
        colour=yarn.colour,
    )
    return facts, tuple(ledger)


_LONG_STAPLE: Final = frozenset({"wool", "worsted", "linen", "jute", "spun-silk"})
"""Fibres whose count systems number yarns that are not of short staple, whatever their fibre."""


def _check_numbers(yarn: Yarn) -> None:
    faults = []
    for name, bounds in YARN_BOUNDS.items():
        value = getattr(yarn, name)
        if value is not None and value not in bounds:
            least, most = bounds.least, bounds.most
            faults.append(
                Fault(
                    f"/{name}",
                    say(
                        "fault.value.not_between_bounds",
                        "{field} must lie between {least:g} and {most:g}.",
                        field=name,
                        least=least,
                        most=most,
                    ),
                    value,
                    f"{least:g} to {most:g}",
                )
            )
    if faults:
        raise InputError(faults)


def _read_yarn(yarn: Yarn) -> tuple[Designation, Fibre | None]:
    """Return the designation, and the fibre if it is stated."""
    text, tex, sample = yarn.designation, yarn.linear_density_tex, _sampled_tex(yarn)
    numbers = [one for one in (tex, sample) if one is not None]
    stated = len(numbers) + (text is not None)
    fibre = _stated_fibre(yarn)
    if not stated and (wire := _wire_tex(yarn, fibre)) is not None:
        return _of_linear_density(wire), fibre
    if stated != 1:
        raise InputError.of(
            "/designation",
            say(
                "fault.yarn.no_count",
                "Give the yarn either a designation or linear_density_tex, or length "
                "and mass of a sample; of a monofilament its diameter_mm does as well.",
            ),
            given=text,
            allowed=f"for example {EXAMPLES}",
        )
    if text is None:
        return _of_linear_density(numbers[0]), fibre
    with pointing_below("/designation"):
        return parse_designation(text, fibre=fibre), fibre


def _wire_tex(yarn: Yarn, fibre: Fibre | None) -> float | None:
    """Return the linear density of a monofilament whose diameter is stated: it is solid.

    ``None`` if it is none, or no diameter is stated.
    """
    is_one = yarn.monofilament or (fibre is not None and fibre.style == "monofilament")
    if not is_one or fibre is None or yarn.diameter_mm is None:
        return None
    density = yarn.fibre_density_g_per_cm3 or fibre.density_g_per_cm3
    return 1000.0 * density * pi / 4.0 * yarn.diameter_mm**2


def _sampled_tex(yarn: Yarn) -> float | None:
    """Return the linear density of a yarn by the mass of a sample; ``None`` if none is stated.

    A lea of cotton, 120 yd, of 25 grains is Ne 40 [BROOKS-1892].
    """
    length_m = _converted(yarn.sample_length_m, yarn.sample_length_yd, M_PER_YARD)
    mass_g = _converted(yarn.sample_mass_g, yarn.sample_mass_grains, G_PER_GRAIN)
    if length_m is None and mass_g is None:
        return None
    missing = "length" if length_m is None else "mass" if mass_g is None else ""
    if length_m is None or mass_g is None:
        units = ("m", "yd") if missing == "length" else ("g", "grains")
        raise InputError.of(
            f"/sample_{missing}_{units[0]}",
            say("fault.yarn.sample_incomplete", "A sample needs its {what} as well.", what=missing),
            allowed=" or ".join(f"sample_{missing}_{unit}" for unit in units),
        )
    tex, bounds = 1000 * mass_g / length_m, YARN_BOUNDS["linear_density_tex"]
    if tex not in bounds:
        name = "sample_mass_g" if yarn.sample_mass_grains is None else "sample_mass_grains"
        raise InputError.of(
            f"/{name}",
            say(
                "fault.yarn.sample_out_of_range",
                "The sample is of {linear_density_tex:.4g} tex; check its length and mass.",
                linear_density_tex=tex,
            ),
            given=getattr(yarn, name),
            allowed=f"{bounds.least:g} to {bounds.most:g} tex",
        )
    return tex


def _converted(metric: float | None, other: float | None, per_other: float) -> float | None:
    return other * per_other if other is not None else metric


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


def _contradictions(yarn: Yarn, read: Designation, fibre: Fibre | None) -> Iterator[Fault]:
    """Yield what cannot be true of one yarn."""
    yield from _twist_faults(yarn, read)
    yield from _monofilament_faults(yarn, read, fibre)
    is_tape = _is_tape(yarn, fibre)
    if is_tape and yarn.diameter_mm is not None:
        message = say(
            "fault.yarn.diameter_of_tape",
            "Leave it out: a tape has a width and a thickness, no diameter.",
        )
        yield Fault("/diameter_mm", message, yarn.diameter_mm, "tape_width_mm, tape_thickness_mm")
    if is_tape and yarn.flattening_ratio is not None:
        message = say(
            "fault.yarn.flattening_of_tape",
            "Leave it out: a tape is as flat as its width and thickness state.",
        )
        yield Fault("/flattening_ratio", message, yarn.flattening_ratio)
    stretches = fibre is not None and fibre.share_pct(ELASTANE) > 0.0
    if yarn.elastane_draft is not None and not stretches:
        message = say(
            "fault.yarn.draft_without_elastane",
            "Leave it out, or name elastane in fibre: this yarn has none.",
        )
        yield Fault("/elastane_draft", message, yarn.elastane_draft, "98/2 cotton/elastane")


def _twist_faults(yarn: Yarn, read: Designation) -> Iterator[Fault]:
    for name in ("twist_per_m", "twist_direction"):
        stated, written = getattr(yarn, name), getattr(read, name)
        if stated is not None and written is not None and stated != written:
            message = say(
                "fault.yarn.twist_twice",
                "The designation says {written}; state the twist once.",
                written=written if isinstance(written, str) else f"{written:g}",
            )
            yield Fault(f"/{name}", message, stated, written)
            return
    twist = yarn.twist_per_m if yarn.twist_per_m is not None else read.twist_per_m
    direction = yarn.twist_direction or read.twist_direction
    if twist is None and direction is not None:
        message = say(
            "fault.yarn.twist_missing", "twist_per_m is missing: a direction alone is no twist."
        )
        yield Fault("/twist_per_m", message, None, "turns per metre, such as 800")
    elif twist and direction is None:
        message = say(
            "fault.yarn.twist_direction_missing",
            "twist_direction is missing: which direction have the {twist_per_m:g} turns?",
            twist_per_m=twist,
        )
        yield Fault("/twist_direction", message, None, "S or Z")
    elif twist == 0 and direction is not None:
        message = say(
            "fault.yarn.direction_without_twist",
            "Leave it out: a yarn without turns has no direction of twist.",
        )
        yield Fault("/twist_direction", message, direction)


def _monofilament_faults(yarn: Yarn, read: Designation, fibre: Fibre | None) -> Iterator[Fault]:
    styled = fibre is not None and fibre.style == "monofilament"
    written = read.filaments == 1 or styled
    if yarn.monofilament is False and written:
        message = say(
            "fault.yarn.is_monofilament",
            "Leave it out: the designation or the fibre says that it is one filament.",
        )
        yield Fault("/monofilament", message, given=False, allowed=True)
    if not yarn.monofilament and not written:
        return
    at, given = ("/monofilament", True) if yarn.monofilament else ("/fibre", yarn.fibre)
    if read.filaments not in (None, 1):
        yield Fault(
            at,
            say(
                "fault.yarn.several_filaments",
                "{designation} has {filaments} filaments, not one.",
                designation=read.text,
                filaments=read.filaments,
            ),
            given,
        )
    elif read.spun:
        yield Fault(
            at,
            say(
                "fault.yarn.spun_count",
                "{designation} is the count of a spun yarn, not of a filament.",
                designation=read.text,
            ),
            given,
        )
    elif fibre is not None and "filament" not in fibre.forms:
        yield Fault(
            at,
            say(
                "fault.yarn.no_filament_of_fibre",
                "No filament is made of {fibre}.",
                fibre=fibre.key,
            ),
            given,
        )
    if _is_tape(yarn, fibre):
        yield Fault(
            at,
            say(
                "fault.yarn.tape_and_monofilament",
                "A tape is no monofilament; state one of the two.",
            ),
            given,
        )
    if yarn.flattening_ratio is not None:
        message = say(
            "fault.yarn.round_monofilament",
            "Leave it out: a monofilament stays round; a flat one is a tape.",
        )
        yield Fault("/flattening_ratio", message, yarn.flattening_ratio)


def _is_monofilament(yarn: Yarn, read: Designation, fibre: Fibre) -> bool:
    return bool(yarn.monofilament) or read.filaments == 1 or fibre.style == "monofilament"


def _is_tape(yarn: Yarn, fibre: Fibre | None) -> bool:
    measured = yarn.tape_width_mm is not None or yarn.tape_thickness_mm is not None
    return measured or (fibre is not None and fibre.style == "tape")


def _fibre(stated: Fibre | None, read: Designation, ledger: Ledger) -> Fibre:
    if read.reading is not None:
        ledger.note(
            "/designation",
            read.text,
            unit=None,
            reason=read.reading,
            grade=Grade.COMMON_PRACTICE,
        )
    if stated is not None:
        return stated
    other = None
    if read.fibre is not None:
        name = read.fibre
        why = say(
            "assumption.fibre.of_system",
            "the fibre for which {system} is used",
            system=read.system,
        )
    elif read.filaments is not None or read.system in ("den", "dtex"):
        name = "polyester"
        why = say("assumption.fibre.filament", "the usual filament yarn; [COMMON-PRACTICE]")
    else:
        name = "cotton"
        why = say("assumption.fibre.spun", "[COMMON-PRACTICE]")
        other = None if read.spun else "polyester"
    found = ledger.note(
        "/fibre", name, unit=None, reason=why, grade=Grade.COMMON_PRACTICE, other=other
    )
    return find_fibre(found)


def _note_fibre(stated: Fibre | None, fibre: Fibre, ledger: Ledger) -> None:
    """Note what the name of the fibre left open."""
    if stated is None or not (stated.fibre_assumed or stated.shares_assumed):
        return
    reason = (
        say(
            "assumption.fibre.of_style",
            "fibre of the {style} yarn not stated; [COMMON-PRACTICE]",
            style=str(stated.style),
        )
        if stated.fibre_assumed
        else say(
            "assumption.fibre.shares",
            "shares of the blend not stated; [COMMON-PRACTICE]",
        )
    )
    ledger.note(
        "/fibre",
        fibre.key,
        unit=None,
        reason=reason,
        grade=Grade.COMMON_PRACTICE,
    )


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
                say(
                    "fault.yarn.take_up_of_known_density",
                    "Leave it out: the linear density given is that of the yarn as it is.",
                ),
                given=yarn.folding_take_up_pct,
            )
        return read.linear_density_tex
    take_up = ledger.take(
        "/folding_take_up_pct",
        yarn.folding_take_up_pct,
        0.0,
        unit="%",
        reason=say(
            "assumption.yarn.no_folding_take_up",
            "twist take-up of folding left out, as counting books do",
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(0.0, 6.0),
    )
    return read.linear_density_tex / (1.0 - take_up / 100.0)


def _as_section(yarn: Yarn, *, is_tape: bool, is_monofilament: bool) -> Section:
    """Return what is stated of the cross-section."""
    return Section(
        fibre_density_g_per_cm3=yarn.fibre_density_g_per_cm3,
        packing_fraction=yarn.packing_fraction,
        diameter_mm=yarn.diameter_mm,
        tape_width_mm=yarn.tape_width_mm,
        tape_thickness_mm=yarn.tape_thickness_mm,
        flattening_ratio=yarn.flattening_ratio,
        is_tape=is_tape,
        is_monofilament=is_monofilament,
    )


def _strength(
    yarn: Yarn, fibre: Fibre, form: Form, kind: Kind, ledger: Ledger
) -> tuple[float, float, float]:
    """Return tenacity, its coefficient of variation and the breaking elongation."""

    def take(name: str, given: float | None, usual: float, unit: str) -> float:
        return ledger.take(
            f"/{name}",
            given,
            usual,
            unit=unit,
            reason=say(
                "assumption.yarn.strength",
                "{kind} {fibre}: {source}",
                kind=kind,
                fibre=fibre.key,
                source=form.sources[name],
            ),
            grade=form.grades[name],
            band=band_of(name, usual, form.grades[name]),
        )

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
