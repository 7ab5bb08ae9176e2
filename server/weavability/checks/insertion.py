"""Checks of weft insertion: can the loom run at the requested speed, and with what reserve?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import GENTLE, LOW, NARROW, SHORT_FLIGHT, away
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import SPEED, WEAVE, WEFT_ORDER, WIDTH
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, passed, short

describe(
    CheckCode.INSERTION_RATE_EXCEEDED,
    says="Speed times width must not exceed the insertion rate of the loom.",
    compares="weft insertion rate at the requested speed with the loom's greatest",
    formula="rate in m/min = picks/min x reed width in use in m",
    source="[BY-DEFINITION] of the weft insertion rate; [LOOM-LIMIT]",
)


@compare(
    CheckCode.INSERTION_RATE_EXCEEDED,
    passed,
    Severity.ERROR,
    unit="m/min",
    eased_by={**NARROW, **away("insertion/max_rate_m_per_min")},
)
def rate_exceeded(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare the insertion rate with the loom's greatest."""
    rate = f.order.requested_speed_picks_per_min * (f.cloth.reed_width_cm / 100)
    return rate, (f.loom.max_rate_m_per_min,), f.order.speed_requested


@message(
    rate_exceeded,
    pointer=SPEED,
    error="{requested:g} picks/min over {width_m:.2f} m is an insertion rate of {actual:.0f} "
    "m/min; the loom reaches {limit:g}, which is {possible:.0f} picks/min at this width.",
)
def _rate_exceeded(f: Facts[float], words: Words, seen: Observation) -> Wording:
    width_m = f.cloth.reed_width_cm / 100
    return Wording(
        values={
            "requested": f.order.requested_speed_picks_per_min,
            "width_m": width_m,
            "possible": seen.limit / width_m,
        }
    )


describe(
    CheckCode.INSERTION_SPEED_EXCEEDED,
    says="The loom has a greatest speed, which is lower on a wide cloth.",
    compares="requested speed with the loom's greatest speed at this width, to the nearest "
    "pick/min",
    formula="the lesser of the loom's greatest speed and its speed curve at the reed width in use",
    source="[LOOM-LIMIT]",
)


@compare(
    CheckCode.INSERTION_SPEED_EXCEEDED,
    passed,
    Severity.ERROR,
    unit="picks/min",
    eased_by=NARROW,
)
def speed_exceeded(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare the requested speed with the loom's greatest at this width.

    A speed curve gives parts of a pick, to which nobody sets a loom.
    """
    limit = f.fit.speeds.by_loom + _HALF_A_PICK_PER_MIN
    return f.order.requested_speed_picks_per_min, (limit,), f.order.speed_requested


@message(
    speed_exceeded,
    pointer=SPEED,
    error="{actual:g} picks/min are requested; at {width_cm:.0f} cm the loom runs at most "
    "{limit:.0f}.",
)
def _speed_exceeded(f: Facts[float], words: Words, seen: Observation) -> Wording:
    most = f.fit.speeds.by_loom
    return Wording(
        values={"width_cm": f.cloth.reed_width_cm, "limit": most},
        reported=Reported(seen.actual, most),
    )


_HALF_A_PICK_PER_MIN: Final = 0.5
"""By which a requested speed may be above the limit that it is rounded to."""


describe(
    CheckCode.INSERTION_SHEDDING_SPEED,
    says="The shedding motion may be slower than the loom.",
    compares="requested speed with the greatest speed of the shedding motion",
    formula="as stated for cam, dobby or Jacquard",
    source="[LOOM-LIMIT]",
)


@compare(
    CheckCode.INSERTION_SHEDDING_SPEED,
    passed,
    Severity.ERROR,
    unit="picks/min",
    eased_by=away("shedding/max_speed_picks_per_min"),
)
def shedding_speed(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Cam, dobby or Jacquard must follow."""
    limit = f.loom.max_shedding_speed_picks_per_min
    return f.order.requested_speed_picks_per_min, (limit,), f.order.speed_requested


@message(
    shedding_speed,
    pointer=SPEED,
    error="{actual:g} picks/min are requested; the {shedding} can run at up to "
    "{limit:g} picks/min.",
)
def _shedding_speed(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"shedding": words.weave.shedding})


describe(
    CheckCode.INSERTION_WEFT_SPEED,
    says="The requested speed overloads the weft.",
    compares="requested speed with the greatest speed that the weft's strength allows",
    formula="speed at which the peak tension is {weft_strength_error_pct:g} % of the strength of "
    "the weft's weakest place",
    source="[BY-MECHANICS]",
)


@compare(CheckCode.INSERTION_WEFT_SPEED, passed, Severity.ERROR, unit="picks/min", eased_by=GENTLE)
def weft_speed(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare the requested speed with the one that the weft's strength allows."""
    limit = f.fit.weft_speed.by_strength
    applies = f.order.speed_requested & f.fit.weft_speed.strength_limits
    return f.order.requested_speed_picks_per_min, (limit,), applies


message(
    weft_speed,
    pointer=SPEED,
    error="{actual:g} picks/min are requested; above {limit:.0f} the weft's peak tension exceeds "
    "{weft_strength_error_pct:g} % of the strength of its weakest place. Run slower, or use a "
    "stronger weft.",
)

describe(
    CheckCode.INSERTION_NEAR_LIMIT,
    says="A loom at its greatest insertion rate has no reserve for a weak weft.",
    compares="insertion rate in use with {insertion_near_limit_note_pct:g} % of the loom's "
    "greatest",
    formula="use = insertion rate / greatest insertion rate",
    source="",
)


@compare(
    CheckCode.INSERTION_NEAR_LIMIT,
    passed,
    Severity.NOTE,
    unit="%",
    cleared_by=({**NARROW, **away("insertion/max_rate_m_per_min")},),
)
def near_limit(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Ask for some reserve, which keeps weft breaks few."""
    use_pct = 100 * f.fit.insertion_rate_m_per_min / f.loom.max_rate_m_per_min
    return use_pct, (u.insertion_near_limit_note_pct,), True


message(
    near_limit,
    pointer=WIDTH,
    note="The loom runs at {actual:.0f} % of its greatest insertion rate, more than {limit:g} %: "
    "there is no reserve, and weft breaks will increase first.",
)

describe(
    CheckCode.INSERTION_CRAWL,
    says="The weft's strength limits the loom to less than {insertion_crawl_pct:g} % of its own "
    "speed.",
    compares="speed that the weft's strength allows with {insertion_crawl_pct:g} % of the speed "
    "that the loom could run",
    formula="speed at which the peak tension is {weft_strength_error_pct:g} % of the strength of "
    "the weft's weakest place, over the least of the loom's own limits",
    source="[BY-MECHANICS]",
)


@compare(
    CheckCode.INSERTION_CRAWL,
    short,
    Severity.ERROR,
    unit="picks/min",
    eased_by={
        **GENTLE,
        "/loom/insertion/max_rate_m_per_min": LOW,
        "/loom/shedding/max_speed_picks_per_min": LOW,
    },
)
def crawl(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a weft for which the loom must crawl: it is the wrong loom."""
    least = u.insertion_crawl_pct / 100 * f.fit.speeds.own
    return f.fit.weft_speed.by_strength, (least,), f.fit.weft_speed.strength_limits


@message(
    crawl,
    pointer="/construction/weft/yarns/{weft}",
    error="The weft allows only {actual:.0f} picks/min, less than {insertion_crawl_pct:g} % of "
    "the {own:.0f} that the loom could run at this width. Use a stronger weft, a softer brake or a "
    "gentler insertion system.",
)
def _crawl(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"weft": words.hardest_weft, "own": f.fit.speeds.own})


describe(
    CheckCode.INSERTION_WEFT_VELOCITY,
    says="Air or water carries a weft only so fast.",
    compares="mean speed of the weft in flight with {insertion_jet_speed_note_m_per_s:g} and "
    "{insertion_jet_speed_warning_m_per_s:g} m/s",
    formula="6 x picks/min x reed width in use / crank degrees of the flight",
    source="",
)


@compare(
    CheckCode.INSERTION_WEFT_VELOCITY,
    passed,
    Severity.WARNING,
    Severity.NOTE,
    unit="m/s",
    cleared_by=(SHORT_FLIGHT,),
)
def weft_velocity(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare the speed at which a jet must carry the weft with what jets reach."""
    limits = (u.insertion_jet_speed_warning_m_per_s, u.insertion_jet_speed_note_m_per_s)
    return f.fit.flight_speed_m_per_s, limits, f.loom.is_jet


_FLIGHT: Final = (
    "At {speed:.0f} picks/min the weft flies at {actual:.0f} m/s, more than {limit:g}: "
)


@message(
    weft_velocity,
    pointer=SPEED,
    warning=_FLIGHT + "no jet is expected to carry it so fast. Run slower, or state entry_deg and "
    "exit_deg of the loom.",
    note=_FLIGHT + "few jets carry it so fast. State entry_deg and exit_deg of the loom.",
)
def _weft_velocity(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"speed": f.fit.speed_picks_per_min})


describe(
    CheckCode.INSERTION_ACCELERATION,
    says="A rapier starts and stops the weft only so hard.",
    compares="peak acceleration of the rapier at the speed of the loom with "
    "{insertion_acceleration_note_m_per_s2:g} and {insertion_acceleration_warning_m_per_s2:g} "
    "m/s²; 3000 m/s² are published for a double rapier of medium speed",
    formula="peak of the motion law x stroke / time of the stroke squared; a pair of rapiers has "
    "strokes of half the reed width in use and the overrun",
    source="[BY-MECHANICS]; [RAPIER-MODEL-2005]",
)


@compare(
    CheckCode.INSERTION_ACCELERATION,
    passed,
    Severity.WARNING,
    Severity.NOTE,
    unit="m/s²",
    cleared_by=(SHORT_FLIGHT,),
)
def acceleration(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare what the weft must follow with what is published of rapiers."""
    limits = (u.insertion_acceleration_warning_m_per_s2, u.insertion_acceleration_note_m_per_s2)
    return f.fit.rapier_acceleration_m_per_s2, limits, f.loom.is_rapier


_ACCELERATED: Final = (
    "At {speed:.0f} picks/min over {width_cm:.0f} cm the rapier and the weft are accelerated by "
    "{actual:.0f} m/s², more than {limit:g}: "
)
_PUBLISHED: Final = (
    "no published value is as high, so that the tension of the weft is uncertain. State entry_deg, "
    "exit_deg and motion_law of the loom."
)


@message(
    acceleration,
    pointer=SPEED,
    warning=_ACCELERATED
    + "no rapier is expected to hold the weft. Run slower, or state entry_deg, "
    "exit_deg and motion_law of the loom.",
    note=_ACCELERATED + _PUBLISHED,
)
def _acceleration(f: Facts[float], words: Words, seen: Observation) -> Wording:
    speed, width_cm = f.fit.speed_picks_per_min, f.cloth.reed_width_cm
    return Wording(values={"speed": speed, "width_cm": width_cm})


describe(
    CheckCode.INSERTION_DOUBLE_PICK,
    says="A needle lays two picks of one weft in one shed, and so does a loom that inserts two "
    "picks at once.",
    compares="pairs of picks that lift differently, or are of two wefts, with none",
    formula="picks 1 and 2 are a pair, 3 and 4, and so on; odd repeats twice over",
    source="[RAPIER-SERIES]",
)

_A_LOOP: Final = (
    "A needle lays the first pick and the second, and so every two, as a loop of one weft in one "
    "shed; "
)


@compare(CheckCode.INSERTION_DOUBLE_PICK, passed, Severity.WARNING, unit="pairs")
def two_sheds(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find pairs of picks that a needle, or two wefts at once, cannot lay in two sheds."""
    pairs = f.order.unlike_lifts
    return pairs, (0 * pairs,), f.loom.insertion.picks_per_insertion > 1


_LIFT: Final = (
    "pairs that lift differently in this weave: {actual}. It is then not woven as drawn. "
)


@message(
    two_sheds,
    pointer=WEAVE,
    lift=_A_LOOP + _LIFT + "If a pick of the order is the double pick of the needle, draw it twice "
    "and count both in the picks per cm.",
    lift_at_once="The loom inserts two picks at once, and lays both in one shed unless it opens "
    "two, one above the other, as for face-to-face cloth; " + _LIFT + "Use a weave that lifts two "
    "picks alike, or insert one pick at a time.",
)
def _two_sheds(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(variant="lift" if f.loom.is_needle else "lift_at_once")


@compare(CheckCode.INSERTION_DOUBLE_PICK, passed, Severity.WARNING, unit="pairs")
def two_wefts(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find pairs of picks of two wefts."""
    return f.order.unlike_wefts, (0 * f.order.unlike_wefts,), f.loom.is_needle


message(
    two_wefts,
    pointer=WEFT_ORDER,
    weft=_A_LOOP + "pairs of two wefts in this order: {actual}. Give every weft an "
    "even number of picks.",
)
