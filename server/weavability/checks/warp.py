"""Checks of the warp: is it strong enough, does it fit the beam, can one beam serve it?"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import HIGH, LARGE_BEAM, NARROW, STRONG_WARP, away
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import LENGTH, SETT, WEAVE, WIDTH
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    compare_each_group,
    compare_each_warp,
    describe,
    message,
)
from weavability.checks.settling import ASSUMED_STRENGTH, of_strength
from weavability.looms.beam_groups import GroupOnLoom
from weavability.looms.beams import BEAT_UP_SHARE
from weavability.looms.default_limits import starting_value
from weavability.looms.thresholds import Usual
from weavability.looms.yarn_numbers import WarpNumbers
from weavability.textiles.assumptions import End
from weavability.textiles.numbers import N, Truth, either, no, passed, reached, short
from weavability.textiles.trade_names import named_for_slack_ends
from weavability.textiles.weave_structure import TAKE_UP_ENDS
from weavability.textiles.yarn_facts import WEAKEST_PLACE

YARNS: Final = "/construction/warp/yarns"
YARN: Final = "/construction/warp/yarns/{warp}"
BEAMS: Final = "/construction/warp/beams"

describe(
    CheckCode.WARP_STRENGTH,
    says="Ends are strained at every pick and break at their weakest place.",
    compares="peak tension of an end in the shed and at beat-up with {warp_strength_note_pct:g} % "
    "and {warp_strength_warning_pct:g} % of the strength of its weakest place",
    formula="base tension + stretch of the shed x modulus, or base tension x "
    f"{1 + BEAT_UP_SHARE:g} at beat-up; the back rest gives back a share of the stretch; "
    f"{WEAKEST_PLACE}",
    source="stated tension rule: [COMMON-PRACTICE]; base tension as a share of the breaking load "
    + starting_value("/warp_strain/base_tension_pct")
    + "; easing of the back rest "
    + starting_value("/warp_strain/easing_pct"),
    thresholds=("yarn_weakest_place_least_pct",),
)


@compare(
    CheckCode.WARP_STRENGTH,
    reached,
    Severity.WARNING,
    Severity.NOTE,
    unit="%",
    cleared_by=(STRONG_WARP,),
)
def strength(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Keep the end from breaking at its weakest place."""
    limits = (u.warp_strength_warning_pct, u.warp_strength_note_pct)
    return f.fit.warp_strength_use_pct, limits, True


_PEAKS: Final = (
    "The tension of warp {warp} peaks at {peak_cn:.0f} cN, {actual:.0f} % of the strength of its "
    "weakest place, {limit:g} % or more"
)
_BREAKS: Final = ": expect warp breaks. Size or fold it, lower the shed, or run slower."


@message(
    strength,
    pointer=YARNS + "/{warp}",
    warning=_PEAKS + _BREAKS,
    warning_of_assumed_strength=_PEAKS + _BREAKS + ASSUMED_STRENGTH,
    note=_PEAKS + ". Size it well and keep the shed low.",
    note_without_size=_PEAKS + ". Keep the shed low.",
)
def _strength(f: Facts[float], words: Words, seen: Observation) -> Wording:
    variant = ""
    if seen.severity is Severity.NOTE:
        of = f.order.warps[words.warp_keys.index(words.hardest_warp)]
        # Of what is not sized no one asks that it be sized well: linen, jute, folded yarn.
        variant = "note" if of.size_pct > 0 or of.needs_size else "note_without_size"
    wording = Wording(
        values={"warp": words.hardest_warp, "peak_cn": words.warp_peak_tension_cn}, variant=variant
    )
    return of_strength(wording, words, seen, "warp", words.hardest_warp)


describe(
    CheckCode.WARP_BEAM_CAPACITY,
    says="The order needs several warp beams, or a beam holds little more than its waste.",
    compares="warp for the order, and the waste of a beam, with what the loom's beams hold",
    formula="capacity = pi/4 (D^2 - d^2) B density / (ends x tex); an error if a beam does not "
    "hold its waste twice, or its waste and {warp_beam_least_useful_m:g} m",
    source="[BY-GEOMETRY]; densities: [COURSE-MILL-DESIGN]",
)


@compare_each_group(
    CheckCode.WARP_BEAM_CAPACITY, short, Severity.ERROR, unit="m", eased_by=LARGE_BEAM
)
def beam_wasted(f: Facts[N], u: Usual[N], group: GroupOnLoom[N], /) -> Compared[N]:
    """Require of a beam that it holds more than is lost at its ends."""
    return group.beam_capacity_m, (f.fit.least_beam_m,), group.present & group.speaks


_WASTED: Final = "and {waste_m:g} m are lost at every beam. Use a loom with larger beams."


@message(
    beam_wasted,
    pointer=SETT,
    error="The beam holds {actual:.1f} m of this warp, " + _WASTED,
    error_of_group="The beam holds {actual:.1f} m of warp {warp}, " + _WASTED,
)
def _beam_wasted(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={"waste_m": f.order.waste_per_beam_m, "warp": words.group_names[seen.group]},
        variant="error" if f.order.group_count == 1 else "error_of_group",
    )


@compare_each_group(
    CheckCode.WARP_BEAM_CAPACITY, passed, Severity.NOTE, unit="m", cleared_by=(LARGE_BEAM,)
)
def several_beams(f: Facts[N], u: Usual[N], group: GroupOnLoom[N], /) -> Compared[N]:
    """Find an order that is woven from one warp after another."""
    wasted = short(group.beam_capacity_m, f.fit.least_beam_m)
    beams = group.beams_needed
    speaks = group.present & group.speaks
    return beams, (1 + 0 * beams,), speaks & f.order.length_ordered & no(wasted)


_SEVERAL: Final = (
    "{capacity_m:.0f} m: {beams} warps one after the other, each tied to the one before with "
    "{knots} knots."
)


@message(
    several_beams,
    pointer=LENGTH,
    one_beam="The order takes {warp_m:.0f} m of warp; the beam holds " + _SEVERAL,
    beams_abreast="The order takes {warp_m:.0f} m of warp; the beams together hold " + _SEVERAL,
    of_group="The order takes {warp_m:.0f} m of warp {warp}; the beam holds " + _SEVERAL,
)
def _several_beams(f: Facts[float], words: Words, seen: Observation) -> Wording:
    group = f.fit.groups[seen.group]
    if f.order.group_count > 1:
        variant = "of_group"
    else:
        variant = "one_beam" if f.loom.beams_abreast == 1 else "beams_abreast"
    return Wording(
        values={
            "warp": words.group_names[seen.group],
            "warp_m": group.warp_length_m,
            "capacity_m": group.beam_capacity_m,
            "beams": int(group.beams_needed),
            "knots": words.group_ends[seen.group],
        },
        variant=variant,
        reported=Reported(actual=group.warp_length_m, limit=group.beam_capacity_m),
    )


describe(
    CheckCode.WARP_BEAM_WIDTH,
    says="The warp must run straight from beam to reed.",
    compares="reed width in use with the distance between the flanges plus "
    "{warp_beam_width_tolerance_pct:g} %",
    formula="flanges of one beam, or of all beams abreast; the reed width in use",
    source="[BY-GEOMETRY]",
)


@compare(
    CheckCode.WARP_BEAM_WIDTH,
    passed,
    Severity.ERROR,
    unit="cm",
    eased_by={**NARROW, **away("warp_beam/width_cm"), "/loom/warp_beam/count": HIGH},
)
def beam_width(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find ends that run in from the flanges, where they chafe."""
    needed = f.cloth.reed_width_cm
    limit = _between_flanges_cm(f) * (1 + u.warp_beam_width_tolerance_pct / 100)
    return needed, (limit,), no(passed(needed, f.loom.reed_width_cm))


def _between_flanges_cm(f: Facts[N]) -> N:
    return f.loom.beam_width_cm * f.loom.beams_abreast


@message(
    beam_width,
    pointer=WIDTH,
    error="The warp is {actual:.1f} cm wide in the reed; the beam takes {limit:.1f} cm between its "
    "flanges: above {most:.1f} cm the edges run in and chafe. Use a wider beam or a narrower "
    "cloth.",
)
def _beam_width(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={"most": seen.limit},
        reported=Reported(actual=seen.actual, limit=_between_flanges_cm(f)),
    )


describe(
    CheckCode.WARP_YARN_VARIETY,
    says="Unlike yarns run slack or tight from one beam.",
    compares="coarsest warp yarn on a beam with {warp_counts_note_times:g} times the finest",
    formula="ratio of linear densities",
    source="",
)


@compare(CheckCode.WARP_YARN_VARIETY, passed, Severity.NOTE, unit="times")
def mixed_counts(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Unlike yarns crimp and unwind differently."""
    return f.fit.warp_counts_times, (u.warp_counts_note_times,), True


message(
    mixed_counts,
    pointer=YARNS,
    counts="The coarsest warp yarn is {actual:.1f} times the finest, more than {limit:g} times: "
    "they take size, crimp and unwind differently. Consider a second beam.",
)

describe(
    CheckCode.WARP_SECOND_WARP,
    says="Ends that take up differently need warps with let-offs of their own.",
    compares=f"interlacing of {TAKE_UP_ENDS} neighbouring ends on a beam (of single ends, if the "
    "order has layers or several warps) with {warp_interlacing_note_times:g} and "
    "{warp_interlacing_warning_times:g} times that of others; crimps that differ, an estimated "
    "one by the end of its band, by "
    "{warp_take_up_note_pct:g} and {warp_take_up_warning_pct:g} percentage points; take-ups and "
    "warps of the order with the let-offs of the loom: a take-up is a pile ratio, or crimps that "
    "differ by at most {warp_take_up_error_pct:g} percentage points; and the warps of a weave that "
    "is named for its slack ends, as seersucker, with two",
    formula="ratio of interlacings per pick of the ends with most and fewest; greatest less least "
    "crimp, of an estimated one the near end of its band; let-offs = beams if they are stacked, "
    "else 1",
    source="beams abreast are let off at one speed, and a loom that states no beams has one: "
    "[COMMON-PRACTICE]",
)


@compare(
    CheckCode.WARP_SECOND_WARP,
    passed,
    Severity.ERROR,
    unit="let-offs",
    eased_by={**away("warp_beam/count"), "/loom/warp_beam/arrangement": End.OTHER},
)
def too_few_let_offs(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Require a let-off for every take-up."""
    return f.order.take_ups, (f.loom.let_offs,), True


_TAKE_UPS: Final = (
    "The warps of the order take up {actual:d} different lengths for a length of cloth and need as "
    "many let-offs; "
)


@message(
    too_few_let_offs,
    pointer=BEAMS,
    error=_TAKE_UPS + "the loom has {limit:d}. Use a loom with stacked beams.",
)
def _too_few_let_offs(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording()


@compare(
    CheckCode.WARP_SECOND_WARP,
    passed,
    Severity.WARNING,
    unit="let-offs",
    cleared_by=({**away("warp_beam/count"), "/loom/warp_beam/arrangement": End.OTHER},),
)
def shared_beams(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find groups of ends that the order puts on beams of their own and the loom on one."""
    return f.order.group_count, (f.loom.let_offs,), no(passed(f.order.take_ups, f.loom.let_offs))


@message(
    shared_beams,
    pointer=BEAMS,
    shared="The order states {actual:d} warps, more than the loom's let-offs, {limit:d}: warps of "
    "one take-up are wound on one beam, and are judged so. Use a loom with more stacked beams.",
)
def _shared_beams(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording()


def _second_warp(what: str, why: str, slack: str) -> dict[str, str]:
    """Say what helps ends that take up differently from one beam, by the beams of the loom."""
    needed = why + slack + "They need a second warp, and "
    return {
        f"{what}_note": why + "watch for slack ends if the order is long.",
        f"{what}_on_one_beam": needed + "this loom has only one beam.",
        f"{what}_on_beams_abreast": needed + "beams abreast are let off at one speed. Use a loom "
        "with stacked beams.",
        f"{what}_with_stacked_beams": why + slack + "Wind them on a beam of their own: state "
        "warp.beams.",
    }


def _by_beams(what: str, f: Facts[float], seen: Observation) -> Wording:
    if seen.severity is Severity.NOTE:
        return Wording(variant=f"{what}_note")
    if f.loom.let_offs > 1:
        return Wording(variant=f"{what}_with_stacked_beams")
    beams = "one_beam" if f.loom.beams_abreast == 1 else "beams_abreast"
    return Wording(variant=f"{what}_on_{beams}")


@compare(CheckCode.WARP_SECOND_WARP, passed, Severity.WARNING, Severity.NOTE, unit="%")
def mixed_take_up(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find ends on one beam whose crimps differ."""
    limits = (u.warp_take_up_warning_pct, u.warp_take_up_note_pct)
    return f.fit.crimp_spread_pct, limits, True


_CRIMPS_DIFFER: Final = (
    "The crimps of ends on one beam, of which some at least are stated, differ by {actual:.1f} "
    "percentage points or more, above {limit:g}{of}: "
)


@message(
    mixed_take_up,
    pointer=YARNS,
    **_second_warp("crimp", _CRIMPS_DIFFER, "those of the least crimp run slack. "),
)
def _mixed_take_up(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return replace(_by_beams("crimp", f, seen), values={"of": _unlike_yarn(f, words)})


def _unlike_yarn(f: Facts[float], words: Words) -> str:
    """Name the yarn that states the most crimp, or the least if none states much."""
    if words.grounds is None:
        return ""
    symbols = words.grounds.pair.symbols
    ground = {key for one in symbols.groups if one.pile_ratio is None for key in one.yarns}
    crimps = {key: pct for key, pct in symbols.warp.stated_crimps_pct.items() if key in ground}
    most = max(crimps, key=lambda key: crimps[key])
    if crimps[most] > f.cloth.estimated_warp_crimp_pct:
        return f", the most in warp {most}"
    return f", the least in warp {min(crimps, key=lambda key: crimps[key])}"


@compare(CheckCode.WARP_SECOND_WARP, passed, Severity.WARNING, Severity.NOTE, unit="times")
def mixed_interlacing(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find ends on one beam that interlace more and so take up more.

    Those of a figured design on one beam take up with their neighbours: see ``design.take_up``.
    """
    limits = (u.warp_interlacing_warning_times, u.warp_interlacing_note_times)
    of_one_beam = f.order.design.is_figured & (f.order.group_count < 2)
    return f.fit.interlacing_times, limits, no(of_one_beam)


_MORE_OFTEN: Final = (
    "Some ends interlace {actual:.1f} times as often as others, more than {limit:g} times, and "
    "take up more: "
)


@message(
    mixed_interlacing,
    pointer=WEAVE,
    **_second_warp("interlacing", _MORE_OFTEN, "from one beam the others run slack. "),
)
def _mixed_interlacing(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _by_beams("interlacing", f, seen)


@compare(CheckCode.WARP_SECOND_WARP, short, Severity.WARNING, unit="warps")
def slack_ends_named(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a weave that is named for its slack ends, of which the order states none."""
    warps, are_alike = f.order.group_count, f.fit.crimp_spread_pct <= 0
    return warps, (2 + 0 * warps,), f.order.names_slack_ends & are_alike


@message(
    slack_ends_named,
    pointer=BEAMS,
    slack_ends_named="The order names {weave} and states one warp, of which all ends take up "
    "alike: that gives flat cloth. Its puckers come from slack ends on a beam of their own: state "
    "warp.beams, and the crimp_pct of the slack yarn.",
)
def _slack_ends_named(f: Facts[float], words: Words, seen: Observation) -> Wording:
    notes = () if words.grounds is None else words.grounds.pair.symbols.construction.weave_notes
    return Wording(values={"weave": named_for_slack_ends(notes)})


describe(
    CheckCode.WARP_UNSUITABLE_FOR_SYSTEM,
    says="A water jet wets the warp at every pick.",
    compares="fibres of each warp yarn with those that repel water, and whether it is filament",
    formula="as the yarn is stated",
    source="[COMMON-PRACTICE]",
)


@compare_each_warp(
    CheckCode.WARP_UNSUITABLE_FOR_SYSTEM,
    short,
    Severity.WARNING,
    unit=None,
    cleared_by=({"/construction/warp/yarns/*/fibre": End.OTHER},),
)
def takes_up_water(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find ends that take up the water of the jet, or have hairs and size that it ruffles."""
    one = 1 + 0 * warp.tex
    bears_water: Truth = warp.repels_water & warp.is_filament
    return either(bears_water, one, 0 * one), (one,), f.loom.is_water_jet & warp.present


@message(
    takes_up_water,
    pointer=YARN,
    water_jet="Warp {warp} takes up water: on a water jet its size dissolves, it breaks, "
    "and the cloth leaves the loom wet. Use yarn of fibres that repel water, such as polyester or "
    "nylon, or a rapier or air-jet loom.",
    spun="Warp {warp} is spun: on a water jet its hairs stick together and break, and what size it "
    "has dissolves. Use filament yarn, or a rapier or air-jet loom.",
)
def _takes_up_water(f: Facts[float], words: Words, seen: Observation) -> Wording:
    is_spun = f.order.warps[seen.warp].repels_water
    return Wording(
        values={"warp": words.warp_keys[seen.warp]},
        variant="spun" if is_spun else "water_jet",
        reported=Reported(
            actual="spun" if is_spun else "takes up water", limit="water-repelling filament"
        ),
    )


describe(
    CheckCode.WARP_PILE_RATIO,
    says="Ends of pile are longer than those of the ground, and weave in a layer of their own.",
    compares="the pile ratio of a warp with the take-up of the ground, and, if no layer is "
    "declared as pile, with {warp_pile_ratio_least:g}",
    formula="take-up of the ground = 1 + crimp; both are yarn length per cloth length",
    source="[BY-DEFINITION] of a pile ratio; [COMMON-PRACTICE]",
)


@compare_each_group(CheckCode.WARP_PILE_RATIO, short, Severity.WARNING, unit="m/m")
def flat_pile(f: Facts[N], u: Usual[N], group: GroupOnLoom[N], /) -> Compared[N]:
    """Find ends of pile that are no longer than the ground lets them be without any pile."""
    ground = 1 + f.cloth.warp_crimp_pct / 100
    return _take_up(group), (ground,), _is_pile(group)


@compare_each_group(CheckCode.WARP_PILE_RATIO, passed, Severity.WARNING, unit="m/m")
def pile_in_ground(f: Facts[N], u: Usual[N], group: GroupOnLoom[N], /) -> Compared[N]:
    """Find ends of pile that are judged as if they lay among the ground."""
    undeclared = _is_pile(group) & no(group.has_pile_layer)
    return _take_up(group), (u.warp_pile_ratio_least,), undeclared


def _take_up(group: GroupOnLoom[N]) -> N:
    return 1 + group.crimp_pct / 100


def _is_pile(group: GroupOnLoom[N]) -> Truth:
    return group.present & no(group.of_ground)


RATIO: Final = "/construction/warp/beams/{group}/pile_ratio"


@message(
    flat_pile,
    pointer=RATIO,
    flat="Warp {warp} takes {actual:.3g} m of yarn for a metre of cloth, less than the ground, "
    "which takes {limit:.3g}: it makes no pile and is the tightest of the warps. Check its pile "
    "ratio.",
)
@message(
    pile_in_ground,
    pointer="/construction/layers",
    undeclared="Warp {warp} takes {actual:.3g} m of yarn for a metre of cloth, which is pile, but "
    "no layer of pile is declared: sett, jam, crimp and reed are judged as if its ends lay in the "
    "ground. Declare the layer of each end and pick, with that of the pile in layers.pile.",
)
def _of_pile(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"warp": words.group_names[seen.group], "group": seen.group})


describe(
    CheckCode.WARP_UNSIZED,
    says="Singles of short staple fray and break in weaving unless they are sized.",
    compares="size on each single of short staple with {warp_size_least_pct:g} %",
    formula="allowances.size_pct, or 0 for a yarn that is stated as not sized; folded, "
    "long-staple, bast and filament yarns are left out",
    source="[COMMON-PRACTICE]",
)


@compare_each_warp(CheckCode.WARP_UNSIZED, short, Severity.WARNING, unit="%")
def unsized(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find short-staple singles that nothing protects."""
    return warp.size_pct, (u.warp_size_least_pct,), warp.needs_size & warp.present


@message(
    unsized,
    pointer=YARN + "/sized",
    warning="Warp {warp} is a single of short staple with {actual:g} % of size: it frays and "
    "breaks in heald and reed. Size it, or fold it.",
)
def _unsized(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"warp": words.warp_keys[seen.warp]})


describe(
    CheckCode.WARP_UNTWISTED,
    says="Loose filaments of a warp catch at heald and reed unless twist or size holds them.",
    compares="turns per metre of each filament warp that is not sized with "
    "{warp_filament_twist_least_per_m:g}",
    formula="a note if neither twist nor size is stated; textured yarn, monofilament, tape and "
    "elastane are left out",
    source="[COMMON-PRACTICE]",
)


@compare_each_warp(CheckCode.WARP_UNTWISTED, short, Severity.WARNING, unit="turns/m")
def untwisted(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find loose filaments that are stated to be neither twisted nor sized."""
    stated = warp.is_protection_stated & _loose_and_unsized(warp)
    return warp.twist_per_m, (u.warp_filament_twist_least_per_m,), stated


@compare_each_warp(CheckCode.WARP_UNTWISTED, short, Severity.NOTE, unit="turns/m")
def twist_unknown(f: Facts[N], u: Usual[N], warp: WarpNumbers[N], /) -> Compared[N]:
    """Find loose filaments of which neither twist nor size is stated."""
    unknown = no(warp.is_protection_stated) & _loose_and_unsized(warp)
    return warp.twist_per_m, (u.warp_filament_twist_least_per_m,), unknown


def _loose_and_unsized(warp: WarpNumbers[N]) -> Truth:
    return warp.present & warp.is_loose & no(passed(warp.size_pct, 0 * warp.size_pct))


@message(
    untwisted,
    pointer=YARN + "/twist_per_m",
    loose="Warp {warp} is filament with {actual:g} turns/m and no size: its filaments catch at "
    "heald and reed. Size it, twist it to {limit:g} turns/m, or use intermingled yarn.",
)
def _untwisted(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"warp": words.warp_keys[seen.warp]})


@message(
    twist_unknown,
    pointer=YARN + "/twist_per_m",
    not_stated="Warp {warp} is filament; neither its twist nor a size is stated. Without either "
    "its filaments catch at heald and reed: state twist_per_m or sized.",
)
def _twist_unknown(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"warp": words.warp_keys[seen.warp]})
