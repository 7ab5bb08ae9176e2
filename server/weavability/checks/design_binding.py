"""Checks of how a figured design is bound: effects, floats, figuring wefts, take-up."""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import EFFECTS, LIMITS, PICTURE, WEFTS
from weavability.checks.rules import Compared, Observation, Wording, compare, describe, message
from weavability.looms.thresholds import Usual
from weavability.textiles.figured.float_binding import MOST_DOTS, MOST_TRIALS
from weavability.textiles.numbers import N, either, no, passed
from weavability.textiles.sentences import NO_WORDS, say

describe(
    CheckCode.DESIGN_EFFECT_UNBOUND,
    says="Each effect is bound by its own weave; a correction does not make one.",
    compares="effects whose weave leaves a thread unbound or floats beyond the limits, with none; "
    "an error if one covers a whole line",
    formula="floats of the weave of the effect alone, both sides",
    source="[BY-DEFINITION] of a binding",
)


@compare(CheckCode.DESIGN_EFFECT_UNBOUND, passed, Severity.ERROR, unit="effects")
def unbound_line(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Bind a pick that shows one effect from edge to edge."""
    unbound = f.order.design.unbound_lines
    return unbound, (0 * unbound,), True


_UNBOUND: Final = (
    "The weave of {effects} leaves a thread unbound, or floats beyond the limits{where}. Give it a "
    "weave that binds, or allow longer floats; no dots are added to the design."
)


@message(unbound_line, pointer=EFFECTS, line=_UNBOUND)
def _unbound_line(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={
            "effects": ", ".join(words.design.unbound),
            "where": say("part.on_whole_lines", ", on whole lines"),
        }
    )


@compare(CheckCode.DESIGN_EFFECT_UNBOUND, passed, Severity.WARNING, unit="effects")
def unbound_effect(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Bind every effect by its own weave."""
    design = f.order.design
    applies = no(passed(design.unbound_lines, 0 * design.unbound_lines))
    return design.unbound_effects, (0 * design.unbound_effects,), applies


@message(unbound_effect, pointer=EFFECTS, area=_UNBOUND)
def _unbound_effect(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"effects": ", ".join(words.design.unbound), "where": NO_WORDS})


describe(
    CheckCode.DESIGN_LONG_FLOAT,
    says="Where effects meet, floats may be longer than in either; long ones snag.",
    compares="floats beyond the limits that the design states, with none",
    formula="floats of the cloth on both sides, each against the least limit that it passes over",
    source="form of the rule: [BELL-1895], p. 126; the limits are stated",
)


@compare(CheckCode.DESIGN_LONG_FLOAT, passed, Severity.WARNING, unit="floats")
def long_float(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find floats that a correction could bind."""
    design = f.order.design
    return design.long_floats, (0 * design.long_floats,), no(design.is_corrected)


@message(
    long_float,
    pointer=LIMITS,
    any="{actual:.0f} floats are longer than the design allows, the first over {first}. Bind them "
    "on the point paper, or set correct.",
)
def _long_float(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"first": words.design.first_long})


describe(
    CheckCode.DESIGN_FLOAT_LEFT,
    says="A correction adds no dot that makes another float too long or loosens the cloth.",
    compares="floats beyond the limits that the correction left, with none; it stops after "
    f"{MOST_DOTS:,} dots, or {MOST_TRIALS:,} ends at which one was tried",
    formula="as for design.long_float, after the correction",
    source="[BELL-1895], p. 117-118; integrity: [CLAPHAM-1980]",
)


@compare(CheckCode.DESIGN_FLOAT_LEFT, passed, Severity.WARNING, unit="floats")
def float_left(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find floats that no dot could bind."""
    design = f.order.design
    return design.long_floats, (0 * design.long_floats,), design.is_corrected


_STILL_LONG: Final = (
    "{actual:.0f} floats are still longer than the design allows, the first over {first}. "
)


@message(
    float_left,
    pointer=LIMITS,
    any=_STILL_LONG + "Change the figure or a weave there.",
    stopped="The correction stopped at {stopped_at}, the most that it makes. " + _STILL_LONG + "An "
    "area that needs so many is not bound by its weave: change the weave, or allow longer floats.",
)
def _float_left(f: Facts[float], words: Words, seen: Observation) -> Wording:
    first, stopped_at = words.design.first_long, words.design.stopped_at
    if stopped_at is None:
        return Wording(values={"first": first})
    return Wording(variant="stopped", values={"first": first, "stopped_at": stopped_at})


describe(
    CheckCode.DESIGN_THIN_OUTLINE,
    says="A line of one thread breaks up in the weave; two are the least in full harness.",
    compares="share of an effect that is one thread thin, up or across, with "
    "{design_thin_note_pct:g} %",
    formula="pixels of another effect on both sides, over all pixels of the effect",
    source="two threads: [BELL-1895], p. 118",
)


@compare(CheckCode.DESIGN_THIN_OUTLINE, passed, Severity.NOTE, unit="%")
def thin_outline(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Draw lines of two threads at least."""
    return f.order.design.thin_pct, (u.design_thin_note_pct,), True


@message(
    thin_outline,
    pointer=PICTURE,
    any="{actual:.0f} % of {effect} is one thread thin, more than {limit:g} %, first in line "
    "{line} at column {column}. Draw its lines two threads wide.",
)
def _thin_outline(f: Facts[float], words: Words, seen: Observation) -> Wording:
    line, column = words.design.thin_place
    return Wording(values={"effect": words.design.thin, "line": line, "column": column})


describe(
    CheckCode.DESIGN_WEFT_LOOSE,
    says="A figuring weft must bind at least once on a pick on which it is inserted.",
    compares="picks of figuring wefts that bind nowhere, with none",
    formula="picks on which all ends are lifted alike",
    source="[BY-DEFINITION] of a binding",
)


@compare(CheckCode.DESIGN_WEFT_LOOSE, passed, Severity.ERROR, unit="picks")
def weft_loose(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Bind every pick, or leave it out."""
    loose = f.order.design.loose_weft_picks
    return loose, (0 * loose,), True


@message(
    weft_loose,
    pointer=WEFTS,
    any="{actual} picks of figuring wefts bind nowhere, the first is pick {first}. Bind the back, "
    "or insert the weft where it shows.",
)
def _weft_loose(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"first": words.design.loose_pick})


describe(
    CheckCode.DESIGN_BACK_FLOAT,
    says="A figuring weft that floats behind the cloth catches and is pulled.",
    compares="longest float of a figuring weft at the back with {design_back_note_mm:g} and "
    "{design_back_warning_mm:g} mm, or with the limit of the design; clipped wefts do not count",
    formula="ends of the float / ends per cm",
    source="stitching ends every quarter of an inch: [TAYLOR-1909], p. 191",
)


@compare(CheckCode.DESIGN_BACK_FLOAT, passed, Severity.WARNING, Severity.NOTE, unit="mm")
def back_float(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Bind a weft behind the cloth."""
    design = f.order.design
    stated = design.back_limit_mm > 0
    limits = (
        either(stated, design.back_limit_mm, u.design_back_warning_mm),
        either(stated, design.back_limit_mm, u.design_back_note_mm),
    )
    return 10 * design.back_float_ends / f.cloth.ends_per_cm, limits, True


_BEHIND: Final = (
    "Weft {weft} floats over {actual:.0f} mm behind the cloth, more than {limit:g} mm. "
)


@message(
    back_float,
    pointer=WEFTS,
    any=_BEHIND + "Bind its back.",
    bound=_BEHIND + "Its binding leaves it free there, as where repeats meet or the tie turns. Use "
    "a closer binding, or one whose ends divide the hooks.",
)
def _back_float(f: Facts[float], words: Words, seen: Observation) -> Wording:
    variant = "bound" if words.design.is_freest_bound else "any"
    return Wording(variant=variant, values={"weft": words.design.freest})


describe(
    CheckCode.DESIGN_BINDING_SHOWS,
    says="A binding behind the cloth is hidden under a weft float of the ground.",
    compares="share of the bindings behind the cloth that no such float hides, with "
    "{design_binding_note_pct:g} %",
    formula="a float of the ground weft over two ends or more, on the pick of the ground before or "
    "after",
    source="[TAYLOR-1909], p. 191",
)


@compare(CheckCode.DESIGN_BINDING_SHOWS, passed, Severity.NOTE, unit="%")
def binding_shows(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Hide bindings of the back."""
    return f.order.design.binding_shows_pct, (u.design_binding_note_pct,), True


message(
    binding_shows,
    pointer=WEFTS,
    any="{actual:.0f} % of the bindings behind the cloth are not hidden by a weft float of the "
    "ground, more than {limit:g} %, and may show. Bind by separate ends, or change the ground.",
)
