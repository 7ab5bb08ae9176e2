"""Checks of the weft yarns: can this loom select, insert and not break them?"""

from __future__ import annotations

from typing import Final, NamedTuple

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
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
from weavability.looms.order_numbers import WeftNumbers
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, either, no, passed, reached, short
from weavability.textiles.yarns import WEAKEST_PLACE

ORDER: Final = "/construction/weft/order"
YARNS: Final = "/construction/weft/yarns"
YARN: Final = "/construction/weft/yarns/{weft}"
SPEED: Final = "/construction/requested_speed_picks_per_min"

describe(
    CheckCode.WEFT_SELECTORS,
    says="Every weft yarn needs a selector of its own.",
    compares="weft yarns in the order with the loom's weft selectors",
    formula="distinct yarns of the weft order",
    source="[LOOM-LIMIT]",
)


@compare(CheckCode.WEFT_SELECTORS, passed, Severity.ERROR, Severity.WARNING, unit="yarns")
def selectors(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the weft yarns among which the loom selects, stated or usual."""
    return f.order.weft_yarns, (f.loom.firm_weft_selectors, f.loom.weft_selectors), True


message(
    selectors,
    pointer=ORDER,
    error="{actual} weft yarns are ordered; this loom selects among {limit}. Use fewer yarns, or a "
    "loom with more selectors.",
    warning="{actual} weft yarns are ordered; such looms usually select among {limit}. State the "
    "weft selectors of the loom.",
)

describe(
    CheckCode.WEFT_LINEAR_DENSITY,
    says="Clamps, nozzles and brakes suit a range of yarns.",
    compares="linear density of each weft yarn with the loom's range",
    formula="tex of the yarn as it runs in the cloth",
    source="[LOOM-LIMIT]; ranges by insertion system: [COMMON-PRACTICE]",
)


@compare_each_weft(
    CheckCode.WEFT_LINEAR_DENSITY, short, Severity.ERROR, Severity.WARNING, unit="tex"
)
def too_fine(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a weft too fine for clamp or jet to hold."""
    return weft.tex, (f.loom.firm_min_weft_tex, f.loom.min_weft_tex), weft.present


@compare_each_weft(
    CheckCode.WEFT_LINEAR_DENSITY, passed, Severity.ERROR, Severity.WARNING, unit="tex"
)
def too_coarse(f: Facts[N], u: Usual[N], weft: WeftNumbers[N], /) -> Compared[N]:
    """Find a weft too coarse to pass clamp or nozzle."""
    return weft.tex, (f.loom.firm_max_weft_tex, f.loom.max_weft_tex), weft.present


_OUT_OF_RANGE: Final = (
    "Weft {weft} has {actual:.4g} tex; this loom inserts {least:g}-{most:g} tex. Use another yarn "
    "or another loom."
)
_UNUSUAL: Final = (
    "Weft {weft} has {actual:.4g} tex; such looms usually insert {least:g}-{most:g} tex. State the "
    "range of the loom in weft_tex."
)


@message(too_fine, pointer=YARN, fine=_OUT_OF_RANGE, unusually_fine=_UNUSUAL)
def _too_fine(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _range(f, words, seen, "fine")


@message(too_coarse, pointer=YARN, coarse=_OUT_OF_RANGE, unusually_coarse=_UNUSUAL)
def _too_coarse(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _range(f, words, seen, "coarse")


def _range(f: Facts[float], words: Words, seen: Observation, side: str) -> Wording:
    return Wording(
        variant=side if seen.severity is Severity.ERROR else f"unusually_{side}",
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


@compare(CheckCode.WEFT_STRENGTH, passed, Severity.ERROR, unit="%")
def overloaded(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find an overloaded weft, which does not run."""
    return f.fit.weft_strength_use_pct, (u.weft_strength_error_pct,), True


@compare(CheckCode.WEFT_STRENGTH, reached, Severity.WARNING, Severity.NOTE, unit="%")
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


@message(overloaded, pointer=SPEED, error=_PEAKS + "more than {limit:g} %: " + _BREAKS)
def _overloaded(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _peak(f, words)


@message(
    strained,
    pointer=SPEED,
    warning=_PEAKS + "{limit:g} % or more: " + _BREAKS,
    note=_PEAKS + "{limit:g} % or more. Keep the brake soft.",
)
def _strained(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _peak(f, words)


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


@compare(CheckCode.WEFT_FEEDER_SPEED, passed, Severity.WARNING, unit="m/min")
def feeder_speed(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the speed at which the feeder supplies the weft."""
    return f.fit.feeder_speed_m_per_min, (f.loom.max_feeder_speed_m_per_min,), True


_FEEDER: Final = "The feeder of weft {weft} runs at {actual:.0f} m/min; its limit is {limit:g}. "


@message(
    feeder_speed,
    pointer=ORDER,
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
    says="A water jet inserts only hydrophobic filament yarn.",
    compares="kind and fibre of each weft yarn with what the insertion system can carry",
    formula="water jet: filament of a fibre that repels water",
    source="[WATER-JET-OVERVIEW]: hydrophobic filament only",
)


@compare_each_weft(CheckCode.WEFT_UNSUITABLE_FOR_SYSTEM, short, Severity.ERROR, unit=None)
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
