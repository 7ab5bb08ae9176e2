"""Checks of the weft yarns: can this loom select, insert and not break them?"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import Final, NamedTuple

from weavability.checks.codes import CheckCode
from weavability.checks.easing import GENTLE, HEAVY_WEFT, LIGHT_WEFT, NARROW, away, no_least
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import SPEED, WEFT_ORDER
from weavability.checks.rules import (
    COMPARISONS,
    Compared,
    Observation,
    Reported,
    Test,
    Wording,
    compare,
    compare_each_weft,
    describe,
    message,
)
from weavability.checks.settling import ASSUMED_STRENGTH, of_strength
from weavability.looms.thresholds import Usual
from weavability.looms.yarn_numbers import WeftNumbers
from weavability.textiles.assumptions import End
from weavability.textiles.numbers import N, Truth, either, no, passed, reached, short
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.yarn_facts import WEAKEST_PLACE

YARNS: Final = "/construction/weft/yarns"
YARN: Final = "/construction/weft/yarns/{weft}"

describe(
    CheckCode.WEFT_SELECTORS,
    says="Every weft yarn needs a selector of its own.",
    compares="weft yarns in the order with the loom's weft selectors",
    formula="distinct yarns of the weft order",
    source="[LOOM-LIMIT]",
)


@compare(
    CheckCode.WEFT_SELECTORS,
    passed,
    Severity.ERROR,
    unit="yarns",
    eased_by=away("weft_selectors"),
)
def selectors(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the weft yarns among which the loom selects."""
    return f.order.weft_yarns, (f.loom.weft_selectors,), True


message(
    selectors,
    pointer=WEFT_ORDER,
    error="{actual} weft yarns are ordered; this loom selects among {limit}. Use fewer yarns, or a "
    "loom with more selectors.",
)

describe(
    CheckCode.WEFT_LINEAR_DENSITY,
    says="Clamps, nozzles and brakes suit a range of yarns.",
    compares="linear density of each weft yarn with the loom's range",
    formula="tex of the yarn as it runs in the cloth",
    source="[LOOM-LIMIT]; ranges by insertion system: [COMMON-PRACTICE]",
)


@compare_each_weft(
    CheckCode.WEFT_LINEAR_DENSITY,
    short,
    Severity.ERROR,
    unit="tex",
    eased_by={**HEAVY_WEFT, **no_least("weft_tex/min")},
)
def too_fine(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a weft too fine for clamp or jet to hold."""
    return weft.tex, (f.loom.min_weft_tex,), weft.present


@compare_each_weft(
    CheckCode.WEFT_LINEAR_DENSITY,
    passed,
    Severity.ERROR,
    unit="tex",
    eased_by={**LIGHT_WEFT, **away("weft_tex/max")},
)
def too_coarse(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a weft too coarse to pass clamp or nozzle."""
    return weft.tex, (f.loom.max_weft_tex,), weft.present


_OUT_OF_RANGE: Final = (
    "Weft {weft} has {actual:.4g} tex; this loom inserts {least:g}-{most:g} tex. Use another yarn "
    "or another loom."
)


@message(too_fine, pointer=YARN, fine=_OUT_OF_RANGE)
def _too_fine(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _range(f, words, seen)


@message(too_coarse, pointer=YARN, coarse=_OUT_OF_RANGE)
def _too_coarse(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _range(f, words, seen)


def _range(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={
            "weft": words.weft_keys[seen.weft],
            "least": f.loom.min_weft_tex,
            "most": f.loom.max_weft_tex,
        },
    )


describe(
    CheckCode.WEFT_MIXED_COUNTS,
    says="One brake, one clamp and one take-up must suit all weft yarns.",
    compares="coarsest weft yarn with {weft_counts_note_times:g} and "
    "{weft_counts_warning_times:g} times the finest",
    formula="ratio of linear densities",
    source="",
)


@compare(CheckCode.WEFT_MIXED_COUNTS, passed, Severity.WARNING, Severity.NOTE, unit="times")
def mixed_counts(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Unlike wefts need unlike settings."""
    limits = (u.weft_counts_warning_times, u.weft_counts_note_times)
    return f.order.weft_counts_times, limits, True


message(
    mixed_counts,
    pointer=YARNS,
    warning="The coarsest weft is {actual:.1f} times the finest, more than {limit:g} times. Set "
    "brake and tension for each selector; expect misses and uneven pick spacing.",
    note="The coarsest weft is {actual:.1f} times the finest, more than {limit:g} times. Set brake "
    "and tension for each selector; expect uneven pick spacing.",
)

describe(
    CheckCode.WEFT_STRENGTH,
    says="The weft must not break at its weakest place during insertion.",
    compares="peak weft tension with {weft_strength_note_pct:g} %, {weft_strength_warning_pct:g} % "
    "and {weft_strength_error_pct:g} % of the strength of the weft's weakest place",
    formula="greatest of (T0 + k v^2) e^(f w) + mu L a over the crank angle; apart from it the "
    "jerks at pick-up and transfer, T0 + v sqrt(E A mu), and those of launch and brake; "
    + WEAKEST_PLACE,
    source="[BY-MECHANICS]; friction: [EXAM-CAPSTAN]",
    thresholds=("yarn_weakest_place_least_pct",),
)


@compare(CheckCode.WEFT_STRENGTH, passed, Severity.ERROR, unit="%", eased_by=GENTLE)
def overloaded(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find an overloaded weft, which does not run."""
    return f.fit.weft_strength_use_pct, (u.weft_strength_error_pct,), True


@compare(
    CheckCode.WEFT_STRENGTH,
    reached,
    Severity.WARNING,
    Severity.NOTE,
    unit="%",
    cleared_by=(GENTLE,),
)
def strained(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a strained weft, which breaks now and then."""
    use_pct = f.fit.weft_strength_use_pct
    limits = (u.weft_strength_warning_pct, u.weft_strength_note_pct)
    return use_pct, limits, no(passed(use_pct, u.weft_strength_error_pct))


class StrengthBand(NamedTuple):
    """A band of the use of the weft's strength; ``test(use, limit)`` says whether it is entered."""

    severity: Severity
    limit_pct: float
    test: Test


def strength_bands(u: Usual[float]) -> tuple[StrengthBand, ...]:
    """Return the bands into which the rules above divide the use of strength, the least first."""
    limits = {
        Severity.NOTE: u.weft_strength_note_pct,
        Severity.WARNING: u.weft_strength_warning_pct,
        Severity.ERROR: u.weft_strength_error_pct,
    }
    tests = {
        severity: one.test
        for one in COMPARISONS[CheckCode.WEFT_STRENGTH]
        for severity in one.severities
    }
    return tuple(StrengthBand(each, limit, tests[each]) for each, limit in limits.items())


_PEAKS: Final = (
    "The tension of weft {weft} peaks at {peak_cn:.0f} cN at a crank angle of {at_deg:.0f}° "
    "({moment}), "
    "{actual:.0f} % of the strength of its weakest place ({weakest_cn:.0f} cN), "
)
_BREAKS: Final = "expect weft breaks. Run slower, or use a softer brake or a stronger yarn."


@message(
    overloaded,
    pointer=SPEED,
    error=_PEAKS + "more than {limit:g} %: " + _BREAKS,
    any_speed=_PEAKS + "more than {limit:g} %, however slowly the loom runs: the weft cannot be "
    "inserted. Use a softer brake, less tension at the feeder or a stronger yarn.",
)
def _overloaded(f: Facts[float], words: Words, seen: Observation) -> Wording:
    wording = _peak(f, words)
    return wording if f.fit.weft_speed.strength_limits else replace(wording, variant="any_speed")


@message(
    strained,
    pointer=SPEED,
    warning=_PEAKS + "{limit:g} % or more: " + _BREAKS,
    warning_of_assumed_strength=_PEAKS + "{limit:g} % or more: " + _BREAKS + ASSUMED_STRENGTH,
    note=_PEAKS + "{limit:g} % or more. Keep the brake soft.",
)
def _strained(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return of_strength(_peak(f, words), words, seen, "weft", words.hardest_weft)


def _peak(f: Facts[float], words: Words) -> Wording:
    return Wording(
        values={
            "weft": words.hardest_weft,
            "peak_cn": words.weft_peak_tension_cn,
            "at_deg": words.weft_peak_at_deg,
            "moment": words.weft_peak_moment,
            "weakest_cn": words.weft_weakest_place_cn,
        }
    )


describe(
    CheckCode.WEFT_FEEDER_SPEED,
    says="A weft feeder has a greatest speed; two feeders in alternation halve it.",
    compares="mean speed of the busiest weft feeder with its greatest",
    formula="picks/min x (reed width + extra weft per pick) x share of the picks",
    source="limit of the feeder; [COMMON-PRACTICE]",
)


@compare(
    CheckCode.WEFT_FEEDER_SPEED,
    passed,
    Severity.WARNING,
    unit="m/min",
    cleared_by=({**NARROW, **away("insertion/max_feeder_speed_m_per_min")},),
)
def feeder_speed(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the speed at which the feeder supplies the weft."""
    return f.fit.feeder_speed_m_per_min, (f.loom.max_feeder_speed_m_per_min,), True


_FEEDER: Final = "The feeder of weft {weft} runs at {actual:.0f} m/min; its limit is {limit:g}. "


@message(
    feeder_speed,
    pointer=WEFT_ORDER,
    two=_FEEDER + "Two feeders in alternation would run at {half:.0f} m/min.",
    slower=_FEEDER + "Run slower.",
)
def _feeder_speed(f: Facts[float], words: Words, seen: Observation) -> Wording:
    half = seen.actual / 2
    is_free = f.order.weft_yarns < f.loom.weft_selectors
    return Wording(
        values={"weft": words.busiest_weft, "half": half},
        variant="two" if is_free and not passed(half, seen.limit) else "slower",
    )


describe(
    CheckCode.WEFT_UNSUITABLE_FOR_SYSTEM,
    says="A water jet inserts only hydrophobic filament yarn; wire, tapes, carbon, monofilament "
    "and bare elastane do not suit every system.",
    compares="kind and fibre of each weft yarn with what the insertion system can carry",
    formula="water jet: filament of a fibre that repels water; air jet: neither wire nor tape",
    source="[WATER-JET-OVERVIEW]: hydrophobic filament only; others: [COMMON-PRACTICE]",
)


@compare_each_weft(
    CheckCode.WEFT_UNSUITABLE_FOR_SYSTEM,
    short,
    Severity.ERROR,
    unit=None,
    eased_by={"/construction/weft/yarns/*/fibre": End.OTHER},
)
def unsuitable_for_system(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a yarn that takes up water, which does not carry it."""
    one = 1 + 0 * weft.tex
    suitable = either(weft.is_hydrophobic_filament, one, 0 * one)
    return suitable, (one,), f.loom.is_water_jet & weft.present


@message(
    unsuitable_for_system,
    pointer=YARN,
    water_jet="Weft {weft} ({material}) cannot be woven with a water jet, which inserts only "
    "filament of fibres that repel water, such as polyester or nylon. Use a rapier or air-jet "
    "loom.",
)
def _unsuitable_for_system(f: Facts[float], words: Words, seen: Observation) -> Wording:
    material = words.weft_materials[seen.weft]
    return Wording(
        values={"weft": words.weft_keys[seen.weft], "material": material},
        reported=Reported(actual=material, limit="water-repelling filament"),
    )


class Unsuited(NamedTuple):
    """A kind of weft on a system that does not suit it.

    Attributes:
        kind: Its truth in the nature of a yarn.
        system: The truth of the loom.
        level: 3 if the system cannot carry it, 2 if it takes special care, 1 if it is worth
            knowing.
        words: What to expect.
    """

    kind: str
    system: str
    level: float
    words: Sentence


_NO_GRIP: Final = say(
    "part.unsuited_no_grip", "it is smooth and stiff, and the jet has little hold on it"
)
_TURNS: Final = say(
    "part.unsuited_turns_over",
    "it turns over when it is drawn off over the end of its package; unroll it",
)
_STRETCHES: Final = say(
    "part.unsuited_stretches",
    "it stretches under every change of tension; feed it positively, or cover it",
)
_FLY: Final = say(
    "part.unsuited_flies",
    "its loose filaments break and fly; they conduct electricity, so enclose the drives",
)
UNSUITED: Final = (
    Unsuited(
        "is_metal", "is_air_jet", 3, say("part.unsuited_no_wire", "the jet cannot carry wire")
    ),
    Unsuited(
        "is_metal", "is_water_jet", 3, say("part.unsuited_no_wire", "the jet cannot carry wire")
    ),
    Unsuited(
        "is_metal",
        "is_rapier",
        1,
        say("part.unsuited_kinks", "it kinks; keep the brake soft and the guides wide"),
    ),
    Unsuited(
        "is_metal",
        "is_projectile",
        1,
        say("part.unsuited_kinks", "it kinks; keep the brake soft and the guides wide"),
    ),
    Unsuited(
        "is_metal",
        "is_shuttle",
        1,
        say("part.unsuited_kinks_at_pirn", "it kinks as it leaves the pirn; keep its brake soft"),
    ),
    Unsuited(
        "is_metal",
        "is_needle",
        1,
        say("part.unsuited_kinks", "it kinks; keep the brake soft and the guides wide"),
    ),
    Unsuited(
        "is_tape",
        "is_air_jet",
        3,
        say("part.unsuited_tape_in_jet", "a tape turns over in the jet and does not arrive flat"),
    ),
    Unsuited("is_tape", "is_water_jet", 2, _TURNS),
    Unsuited("is_tape", "is_rapier", 1, _TURNS),
    Unsuited("is_tape", "is_projectile", 1, _TURNS),
    Unsuited("is_tape", "is_shuttle", 1, _TURNS),
    Unsuited("is_tape", "is_needle", 1, _TURNS),
    Unsuited("is_carbon", "is_air_jet", 2, _FLY),
    Unsuited(
        "is_carbon",
        "is_water_jet",
        2,
        say("part.unsuited_jet_spreads", "the jet spreads its filaments and washes its size off"),
    ),
    Unsuited(
        "is_carbon",
        "is_projectile",
        2,
        say("part.unsuited_gripper_crushes", "the gripper crushes its filaments"),
    ),
    Unsuited("is_carbon", "is_rapier", 1, _FLY),
    Unsuited(
        "is_carbon",
        "is_shuttle",
        2,
        say("part.unsuited_pirn_breaks", "pirn winding and the shuttle's eye break its filaments"),
    ),
    Unsuited("is_carbon", "is_needle", 2, _FLY),
    Unsuited("is_monofilament", "is_air_jet", 2, _NO_GRIP),
    Unsuited("is_monofilament", "is_water_jet", 1, _NO_GRIP),
    Unsuited(
        "is_monofilament",
        "is_shuttle",
        1,
        say("part.unsuited_springs_off", "it springs off the pirn; line the shuttle"),
    ),
    Unsuited("is_bare_elastane", "is_air_jet", 2, _STRETCHES),
    Unsuited("is_bare_elastane", "is_water_jet", 2, _STRETCHES),
    Unsuited("is_bare_elastane", "is_rapier", 2, _STRETCHES),
    Unsuited("is_bare_elastane", "is_projectile", 2, _STRETCHES),
    Unsuited("is_bare_elastane", "is_shuttle", 2, _STRETCHES),
    Unsuited("is_bare_elastane", "is_needle", 2, _STRETCHES),
)
"""Common practice, no source. What a system cannot carry at all rejects; the rest needs care."""


@compare_each_weft(
    CheckCode.WEFT_UNSUITABLE_FOR_SYSTEM,
    reached,
    Severity.ERROR,
    Severity.WARNING,
    Severity.NOTE,
    unit=None,
)
def unsuited(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find wire, tape, carbon, monofilament and bare elastane on a system that does not suit it."""
    here: dict[float, Truth] = {1: False, 2: False, 3: False}
    for one in UNSUITED:
        is_unsuited = getattr(weft.nature, one.kind) & getattr(f.loom, one.system)
        here[one.level] = here[one.level] | is_unsuited
    level: N = 0 * weft.tex
    for each, is_so in here.items():
        level = either(is_so, each, level)
    three, two, one_ = 3 + 0 * level, 2 + 0 * level, 1 + 0 * level
    return level, (three, two, one_), weft.present


_UNSUITED: Final = "Weft {weft} ({material}) {how} this insertion system: {why}."


@message(
    unsuited,
    pointer=YARN,
    cannot=_UNSUITED,
    with_care=_UNSUITED,
)
def _unsuited(f: Facts[float], words: Words, seen: Observation) -> Wording:
    nature, material = f.order.wefts[seen.weft].nature, words.weft_materials[seen.weft]
    why = next(
        one.words
        for one in UNSUITED
        if getattr(nature, one.kind) and getattr(f.loom, one.system) and one.level == seen.actual
    )
    cannot = seen.severity is Severity.ERROR
    return Wording(
        values={
            "weft": words.weft_keys[seen.weft],
            "material": material,
            "how": say("part.not_inserted_by", "cannot be inserted by")
            if cannot
            else say("part.needs_care_with", "needs care with"),
            "why": why,
        },
        variant="cannot" if cannot else "with_care",
        reported=Reported(actual=material, limit="yarn that suits the insertion system"),
    )


describe(
    CheckCode.WEFT_BOXES,
    says="Every shuttle needs a free box on the side at which it arrives.",
    compares="shuttle boxes that the weft order needs on one side, beside those of the other, with "
    "the boxes of the loom",
    formula="fewest boxes over every place of the shuttles at the start of the order; with one box "
    "on a side each weft must come in an even number of picks",
    source="[BY-DEFINITION] of the drop box",
)


@compare(CheckCode.WEFT_BOXES, passed, Severity.ERROR, unit="boxes", eased_by=away("boxes"))
def too_few_boxes(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a weft order that the boxes of a shuttle loom cannot weave."""
    needed = f.order.boxes.beside(f.loom.fewer_boxes)
    return needed, (f.loom.more_boxes,), f.loom.is_shuttle


_BOXES: Final = (
    "The weft order cannot be woven with {fewer:g} and {more:g} shuttle boxes: a shuttle would "
    "arrive where no box is free. "
)
_OTHERWISE: Final = "Change the order, or use a loom with boxes on both sides."


@message(
    too_few_boxes,
    pointer=WEFT_ORDER,
    few=_BOXES + "Beside the {fewer:g} on one side it needs {needed} on the other. " + _OTHERWISE,
    odd=_BOXES
    + "With one box on a side each weft must come in an even number of picks. "
    + _OTHERWISE,
    both=_BOXES + "It needs more on both sides. Change the order, or use a loom with more boxes.",
    one=_BOXES + "With one box on each side there is one shuttle, and so one weft. Use a loom with "
    "more boxes.",
)
def _too_few_boxes(f: Facts[float], words: Words, seen: Observation) -> Wording:
    is_enough = isfinite(seen.actual)
    needed = int(seen.actual) if is_enough else "more on both sides"
    variant = "few" if is_enough else "odd" if f.loom.fewer_boxes == 1 else "both"
    return Wording(
        values={"fewer": f.loom.fewer_boxes, "more": f.loom.more_boxes, "needed": needed},
        variant="one" if f.loom.more_boxes == 1 else variant,
        reported=Reported(actual=needed, limit=int(f.loom.more_boxes)),
    )
