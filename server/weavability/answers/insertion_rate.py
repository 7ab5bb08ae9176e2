"""Weft insertion on a loom: every speed limit, the motion, the weft's tension, and sweeps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, Final

import numpy as np

from weavability.answers.caution import CAUTION
from weavability.answers.field_words import (
    AssumedValues,
    CanonicalDesignation,
    CautionText,
    DecidingLimit,
    HandOvers,
    InsertedWeft,
    InsertionRateLimit,
    InsertionRateUse,
    InsertionTime,
    LinearDensity,
    LoomName,
    MeanInsertionSpeed,
    PeakInsertionSpeed,
    PeakWeftTension,
    ReedWidthInUse,
    RunningSpeed,
    SpeedLimits,
    WeftStrengthUse,
)
from weavability.answers.rate_findings import (
    STATED_WEFT,
    RatedCloth,
    beyond_at,
    findings_at,
    rated_cloth,
)
from weavability.answers.rounding import tidy
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Finding
from weavability.checks.registry import set_by_mill
from weavability.checks.weft import strength_bands
from weavability.looms.carriers import (
    CarrierStroke,
    InsertionMotion,
    InsertionSystem,
    Rapiers,
    insertion_motion,
)
from weavability.looms.denting import cloth_in_reed
from weavability.looms.figured_warp import woven_on
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits, resolve_loom
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.order_numbers import order_numbers
from weavability.looms.speed import (
    LoadedWeft,
    WeftShare,
    load_weft,
    speed_limits,
    weft_shares,
)
from weavability.looms.thresholds import in_force
from weavability.looms.weft_insertion import (
    SpeedLimit,
    SpeedLimitName,
    extra_weft_pct,
    feeder_speed_m_per_min,
    insertion_rate_m_per_min,
    picks_per_min_by_name,
    speed_limit,
)
from weavability.looms.weft_tension import Moment, TensionPeak
from weavability.textiles.assumptions import Assumption, Grade, Ledger, ValueBand
from weavability.textiles.bounds import SPEED_PICKS_PER_MIN, WIDTH_CM, Bounds
from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.field_marks import Since
from weavability.textiles.guards import whole, within
from weavability.textiles.numbers import passed
from weavability.textiles.sentences import say
from weavability.textiles.yarns import Yarn, resolve_yarn

MOST_SWEEP_POINTS: Final = 200
USUAL_SWEEP_POINTS: Final = 25
FEEDERS: Final = Bounds(1, 16, "feeders")


class SweepOver(StrEnum):
    """What a sweep varies."""

    SPEED = "speed_picks_per_min"
    WIDTH = "reed_width_cm"


SWEPT: Final[Mapping[SweepOver, Bounds]] = MappingProxyType(
    {SweepOver.SPEED: SPEED_PICKS_PER_MIN, SweepOver.WIDTH: WIDTH_CM}
)
"""Bounds of what a sweep varies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """A row of points from one value to another, both included."""

    over: SweepOver
    start: float
    stop: float
    points: int = USUAL_SWEEP_POINTS


@dataclass(frozen=True, slots=True, kw_only=True)
class RateRequest:
    """What is known of weft, width and speed.

    Attributes:
        reed_width_cm: Reed width in use; if not stated that of the construction, else the loom's.
        construction: Gives width, wefts and requested speed if they are not stated beside it.
        weft: The weft; without one, and without a construction, no tension is computed.
        speed_picks_per_min: Requested speed.
        feeders: Feeders that deliver the weft in turn.
        sweep: Points to compute as well.
    """

    reed_width_cm: float | None = None
    construction: Construction | None = None
    weft: Yarn | None = None
    speed_picks_per_min: float | None = None
    feeders: int | None = None
    sweep: Sweep | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """The motion of the carrier or of the weft over one insertion."""

    system: Annotated[InsertionSystem, "What carries the weft"]
    motion_law: Annotated[MotionLaw | None, "Law of the rapier's motion; null without a rapier"]
    rapiers: Annotated[Rapiers | None, "A pair that hands over, or a single rapier; null without"]
    entry_deg: Annotated[float, "Crank angle at which carrier or weft enters the shed"]
    transfer_deg: Annotated[
        float | None, "Crank angle of the hand-over; null without a pair of rapiers"
    ]
    exit_deg: Annotated[float, "Crank angle at which carrier or weft has left the shed"]
    overrun_cm: Annotated[float, "Travel of each rapier outside the reed width in use"]
    insertion_time_ms: InsertionTime
    mean_speed_m_per_s: MeanInsertionSpeed
    peak_speed_m_per_s: PeakInsertionSpeed
    peak_acceleration_m_per_s2: Annotated[
        float | None, "Greatest acceleration; null in free flight"
    ]
    hand_overs_per_min: HandOvers
    strokes: Annotated[
        tuple[CarrierStroke, ...], "The strokes of one pick: two of a pair of rapiers, else one"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class BandSpeed:
    """The speed at which the peak tension uses a share of the weft's weakest place."""

    strength_use_pct: WeftStrengthUse
    speed_picks_per_min: Annotated[float, "Speed at which the band is reached"]
    insertion_rate_m_per_min: InsertedWeft


@dataclass(frozen=True, slots=True, kw_only=True)
class WeftOnLoom:
    """One weft at the loom's speed."""

    weft: Annotated[str, "Its key in the construction; `weft` for one that was stated alone"]
    designation: CanonicalDesignation
    linear_density_tex: LinearDensity
    weakest_strength_cn: Annotated[float, "Strength of the weft's weakest place"]
    base_tension_cn: Annotated[float, "Tension at rest, from feeder and brake"]
    peak_tension_cn: PeakWeftTension
    peak_at_deg: Annotated[float, "Crank angle of the greatest tension"]
    peak_moment: Annotated[Moment, "What happens then"]
    pick_up_jerk_cn: Annotated[
        float | None,
        "Tension that taking up the weft adds, by a moving rapier or at the launch; null for jets",
    ]
    transfer_jerk_cn: Annotated[
        float | None,
        "Tension that the taker adds when it takes the weft over; null without a pair of rapiers",
        Since("0.2"),
    ]
    stopping_jerk_cn: Annotated[
        float | None, "Tension that bringing the weft to rest adds; null if no brake does it"
    ]
    strength_use_pct: WeftStrengthUse
    peaks: Annotated[tuple[TensionPeak, ...], "Every peak of the tension over the pick"]
    bands: Annotated[tuple[BandSpeed, ...], "Speeds at which each band of use is reached"]
    feeders: Annotated[int, "Feeders that deliver this weft in turn"]
    feeder_speed_m_per_min: Annotated[float, "Speed at which each of its feeders winds"]
    feeder_speed_limit_m_per_min: Annotated[float, "Greatest speed of one weft feeder"]
    feeder_speed_with_one_more_m_per_min: Annotated[float, "The same with one more feeder in turn"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepPoint:
    """One point of a sweep; the tension is that of the weft under most strain."""

    speed_picks_per_min: RunningSpeed
    reed_width_cm: ReedWidthInUse
    limited_by: Annotated[
        SpeedLimitName | None,
        "The limit that sets the speed; of a sweep over the speed, the least limit below it",
    ]
    insertion_rate_m_per_min: InsertedWeft
    peak_speed_m_per_s: PeakInsertionSpeed
    peak_tension_cn: Annotated[
        float | None, "Greatest tension of the weft during insertion; null if no weft is known"
    ]
    strength_use_pct: Annotated[
        float | None, "Peak tension as a share of the strength of the weft's weakest place"
    ]
    beyond: Annotated[
        tuple[CheckCode, ...],
        "Checks that refuse this setting as a validation does, and those of weft, width, speed and "
        "shedding that warn of it; of a sweep over the speed, at the speed of the point, whatever "
        "the loom reaches",
        Since("0.2"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class RateSheet:
    """The answer to one insertion-rate request."""

    loom_id: LoomName
    reed_width_cm: ReedWidthInUse
    speed_picks_per_min: RunningSpeed
    limited_by: DecidingLimit
    speed_limits_picks_per_min: SpeedLimits
    insertion_rate_m_per_min: InsertedWeft
    insertion_rate_limit_m_per_min: InsertionRateLimit
    insertion_rate_use_pct: InsertionRateUse
    motion: Annotated[Motion, "How the carrier or the weft moves at this speed"]
    wefts: Annotated[tuple[WeftOnLoom, ...], "Every weft at this speed; empty if no weft is known"]
    sweep: Annotated[tuple[SweepPoint, ...], "The points of the requested sweep"]
    findings: Annotated[
        tuple[Finding, ...],
        "What a validation finds at this setting, without remedies; of a weft and a width alone, "
        "what concerns them and the speed",
        Since("0.2"),
    ]
    assumptions: AssumedValues
    caution: CautionText


@dataclass(frozen=True, slots=True, kw_only=True)
class RateCase:
    """A resolved request; answer and drawing are made from it."""

    loom: Loom
    limits: LoomLimits
    reed_width_cm: float
    wished_picks_per_min: float | None
    wefts: tuple[WeftShare, ...]
    rated: RatedCloth
    feeders: int
    assumptions: tuple[Assumption, ...]

    def speed_limits(self, *, reed_width_cm: float) -> tuple[SpeedLimit, ...]:
        """Return every limit of the speed at a width."""
        return tuple(
            speed_limits(
                self.limits,
                reed_width_cm=reed_width_cm,
                requested_picks_per_min=self.wished_picks_per_min,
                wefts=(weft.loaded for weft in self.wefts),
            )
        )

    def findings(self) -> tuple[Finding, ...]:
        """Return what the validation finds at this setting.

        Raises:
            InputError: The construction cannot be judged.
        """
        with pointing_below("/construction"):
            return findings_at(
                self.rated,
                self.limits,
                speed_picks_per_min=self.wished_picks_per_min,
                reed_width_cm=self.reed_width_cm,
            )


def resolve_rate_request(request: RateRequest, loom: Loom) -> RateCase:
    """Resolve a request: limits, width, wefts and speed, with every assumption written down.

    Args:
        request: What is known of weft, width and speed.
        loom: The loom as stated.

    Raises:
        InputError: Something cannot be read; pointers start with ``/loom``, ``/construction`` or
            ``/weft``.
    """
    ledger = Ledger()
    with pointing_below("/loom"):
        limits = resolve_loom(loom)
        if request.construction is not None:
            request = replace(request, construction=woven_on(request.construction, loom))
    cloth = _cloth(request)
    width_cm = request.reed_width_cm or (cloth.widths.reed_cm if cloth else None)
    width_cm = ledger.take(
        "/reed_width_cm",
        width_cm,
        limits.reed_width_cm,
        unit="cm",
        reason=say(
            "assumption.insertion_rate.full_reed_width",
            "neither a width nor a construction is given: the loom's full reed width",
        ),
        grade=Grade.ESTIMATE,
        band=ValueBand(limits.min_reed_width_cm, limits.reed_width_cm),
    )
    _refuse_out_of_bounds(request)
    _refuse_wider_than_the_loom(request, limits)
    feeders = ledger.take(
        "/feeders",
        request.feeders,
        1,
        unit=None,
        reason=say("assumption.insertion_rate.one_feeder", "one feeder for each weft"),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(1, 2),
    )
    wished = request.speed_picks_per_min
    if wished is None and cloth is not None:
        wished = cloth.construction.requested_speed_picks_per_min
    wefts = _wefts(request, cloth, limits, ledger)
    return RateCase(
        loom=loom,
        limits=limits,
        reed_width_cm=width_cm,
        wished_picks_per_min=wished,
        wefts=wefts,
        rated=rated_cloth(
            request.construction,
            request.weft,
            own_width_cm=cloth.widths.reed_cm if cloth else None,
            reed_width_cm=width_cm,
            pointers=_stated_beside(request),
        ),
        feeders=feeders,
        assumptions=(
            *_all_assumptions(cloth, limits, ledger),
            *(set_by_mill([CheckCode.WEFT_STRENGTH]) if wefts else ()),
        ),
    )


def _stated_beside(request: RateRequest) -> tuple[tuple[str, str], ...]:
    """Return where the request states what a finding points at in a construction."""
    stated = []
    if request.speed_picks_per_min is not None or request.construction is None:
        stated.append(("/construction/requested_speed_picks_per_min", "/speed_picks_per_min"))
    if request.reed_width_cm is not None:
        stated.append(("/construction/width_cm", "/reed_width_cm"))
    return tuple(stated)


def _refuse_out_of_bounds(request: RateRequest) -> None:
    if request.feeders is not None:
        whole("feeders", request.feeders, least=int(FEEDERS.least), most=int(FEEDERS.most))
    if request.sweep is not None:
        for name, value in (("from", request.sweep.start), ("to", request.sweep.stop)):
            within(f"sweep/{name}", value, SWEPT[request.sweep.over])


def _refuse_wider_than_the_loom(request: RateRequest, limits: LoomLimits) -> None:
    """Refuse widths in the reed that are stated; that of a cloth is judged, as in a validation."""
    widths = {}
    if request.reed_width_cm is not None:
        widths["/reed_width_cm"] = request.reed_width_cm
    if request.sweep is not None and request.sweep.over is SweepOver.WIDTH:
        widths["/sweep/to"] = request.sweep.stop
    for pointer, needed_cm in widths.items():
        if needed_cm > limits.reed_width_cm:
            raise InputError.of(
                pointer,
                say(
                    "fault.insertion_rate.wider_than_reed",
                    "{needed_cm:.1f} cm is wider than the loom's reed.",
                    needed_cm=needed_cm,
                ),
                given=needed_cm,
                allowed=f"at most {limits.reed_width_cm:g} cm",
            )


def _cloth(request: RateRequest) -> ClothFacts | None:
    if request.construction is None:
        return None
    with pointing_below("/construction"):
        cloth = cloth_facts(request.construction)
    return cloth_in_reed(cloth, order_numbers(cloth.symbols))


def _wefts(
    request: RateRequest, cloth: ClothFacts | None, limits: LoomLimits, ledger: Ledger
) -> tuple[WeftShare, ...]:
    if request.weft is not None:
        with pointing_below("/weft"):
            yarn = resolve_yarn(request.weft, ledger.below("/weft"))
        return (WeftShare(key=STATED_WEFT, share=1.0, loaded=load_weft(limits, yarn)),)
    return () if cloth is None else weft_shares(limits, cloth.weft)


def _all_assumptions(
    cloth: ClothFacts | None, limits: LoomLimits, ledger: Ledger
) -> Iterator[Assumption]:
    for prefix, lines in (
        ("/construction", cloth.assumptions if cloth else ()),
        ("/loom", limits.assumptions),
    ):
        for line in lines:
            yield replace(line, pointer=prefix + line.pointer)
    yield from ledger


def insertion_rates(request: RateRequest, loom: Loom) -> RateSheet:
    """Compute how fast a loom inserts weft, what limits it, and the tension of the weft.

    Args:
        request: What is known of weft, width and speed.
        loom: The loom as stated.

    Raises:
        InputError: See :func:`resolve_rate_request`; ``/sweep`` for a sweep that cannot be drawn.
    """
    case = resolve_rate_request(request, loom)
    found = case.speed_limits(reed_width_cm=case.reed_width_cm)
    slowest = speed_limit(found)
    speed, width_cm = slowest.picks_per_min, case.reed_width_cm
    rate = insertion_rate_m_per_min(speed_picks_per_min=speed, reed_width_cm=width_cm)
    return tidy(
        RateSheet(
            loom_id=loom.loom_id,
            reed_width_cm=width_cm,
            speed_picks_per_min=speed,
            limited_by=slowest.name,
            speed_limits_picks_per_min=picks_per_min_by_name(found),
            insertion_rate_m_per_min=rate,
            insertion_rate_limit_m_per_min=case.limits.max_rate_m_per_min,
            insertion_rate_use_pct=100 * rate / case.limits.max_rate_m_per_min,
            motion=_motion(
                case.limits,
                insertion_motion(
                    case.limits.motion, speed_picks_per_min=speed, reed_width_cm=width_cm
                ),
            ),
            wefts=tuple(_weft_on_loom(case, weft, speed) for weft in case.wefts),
            sweep=() if request.sweep is None else tuple(_sweep(case, request.sweep)),
            findings=case.findings(),
            assumptions=case.assumptions,
            caution=CAUTION,
        )
    )


def _motion(limits: LoomLimits, motion: InsertionMotion) -> Motion:
    setup = limits.motion
    return Motion(
        system=setup.system,
        motion_law=setup.motion_law,
        rapiers=setup.rapiers,
        entry_deg=setup.entry_deg,
        transfer_deg=setup.transfer_deg,
        exit_deg=setup.exit_deg,
        overrun_cm=setup.overrun_cm,
        insertion_time_ms=motion.insertion_time_ms,
        mean_speed_m_per_s=motion.mean_speed_m_per_s,
        peak_speed_m_per_s=motion.peak_speed_m_per_s,
        peak_acceleration_m_per_s2=motion.peak_acceleration_m_per_s2,
        hand_overs_per_min=motion.hand_overs_per_min,
        strokes=motion.strokes,
    )


def _weft_on_loom(case: RateCase, weft: WeftShare, speed: float) -> WeftOnLoom:
    width_cm, yarn, limits = case.reed_width_cm, weft.loaded.yarn, case.limits
    tension = weft.loaded.tension(speed_picks_per_min=speed, reed_width_cm=width_cm)

    def feeder_speed(feeders: int) -> float:
        return feeder_speed_m_per_min(
            insertion_rate_m_per_min=speed * width_cm / 100,
            extra_weft_pct=extra_weft_pct(
                extra_weft_cm=limits.extra_weft_cm, reed_width_cm=width_cm
            ),
            feeders=feeders,
            share_of_picks=weft.share,
        )

    return WeftOnLoom(
        weft=weft.key,
        designation=yarn.designation,
        linear_density_tex=yarn.linear_density_tex,
        weakest_strength_cn=yarn.weakest_strength_cn,
        base_tension_cn=tension.base_tension_cn,
        peak_tension_cn=tension.peak_tension_cn,
        peak_at_deg=tension.at_deg,
        peak_moment=tension.moment,
        pick_up_jerk_cn=tension.pick_up_jerk_cn,
        transfer_jerk_cn=tension.transfer_jerk_cn,
        stopping_jerk_cn=tension.stopping_jerk_cn,
        strength_use_pct=tension.strength_use_pct,
        peaks=tension.peaks,
        bands=tuple(_bands(weft.loaded, width_cm)),
        feeders=case.feeders,
        feeder_speed_m_per_min=feeder_speed(case.feeders),
        feeder_speed_limit_m_per_min=limits.max_feeder_speed_m_per_min,
        feeder_speed_with_one_more_m_per_min=feeder_speed(case.feeders + 1),
    )


def _bands(weft: LoadedWeft, width_cm: float) -> Iterator[BandSpeed]:
    for band in strength_bands(in_force().usual):
        speed = weft.speed_at_use(band.limit_pct, reed_width_cm=width_cm)
        yield BandSpeed(
            strength_use_pct=band.limit_pct,
            speed_picks_per_min=speed,
            insertion_rate_m_per_min=speed * width_cm / 100,
        )


def _sweep(case: RateCase, sweep: Sweep) -> Iterator[SweepPoint]:
    """Yield the points of a sweep: over speed at the width in use, or over width at its speed."""
    if not (0 < sweep.start < sweep.stop and 2 <= sweep.points <= MOST_SWEEP_POINTS):
        raise InputError.of(
            "/sweep",
            say(
                "fault.insertion_rate.sweep",
                "A sweep runs upward from a value above 0 to a greater one in 2 to "
                "{most_points} points.",
                most_points=MOST_SWEEP_POINTS,
            ),
            given={"from": sweep.start, "to": sweep.stop, "points": sweep.points},
            allowed={"over": "reed_width_cm", "from": 100, "to": 190, "points": 10},
        )
    values: list[float] = np.linspace(sweep.start, sweep.stop, sweep.points).tolist()
    over_speed = sweep.over is SweepOver.SPEED
    settings: list[tuple[float | None, float]] = [
        (value, case.reed_width_cm) if over_speed else (case.wished_picks_per_min, value)
        for value in values
    ]
    marks = beyond_at(case.rated, case.loom, settings, driven=over_speed)
    for (speed, width_cm), beyond in zip(settings, marks, strict=True):
        slowest = speed_limit(case.speed_limits(reed_width_cm=width_cm))
        if over_speed and speed is not None:
            free = replace(case, wished_picks_per_min=None)
            least = speed_limit(free.speed_limits(reed_width_cm=width_cm))
            name = least.name if passed(speed, least.picks_per_min) else None
            yield _point(case, speed, width_cm, name, beyond)
        else:
            yield _point(case, slowest.picks_per_min, width_cm, slowest.name, beyond)


def _point(
    case: RateCase,
    speed: float,
    width_cm: float,
    limited_by: SpeedLimitName | None,
    beyond: tuple[CheckCode, ...],
) -> SweepPoint:
    motion = insertion_motion(case.limits.motion, speed_picks_per_min=speed, reed_width_cm=width_cm)
    tensions = [
        weft.loaded.tension(speed_picks_per_min=speed, reed_width_cm=width_cm)
        for weft in case.wefts
    ]
    hardest = max(tensions, key=lambda tension: tension.strength_use_pct, default=None)
    return SweepPoint(
        speed_picks_per_min=speed,
        reed_width_cm=width_cm,
        limited_by=limited_by,
        insertion_rate_m_per_min=insertion_rate_m_per_min(
            speed_picks_per_min=speed, reed_width_cm=width_cm
        ),
        peak_speed_m_per_s=motion.peak_speed_m_per_s,
        peak_tension_cn=hardest.peak_tension_cn if hardest else None,
        strength_use_pct=hardest.strength_use_pct if hardest else None,
        beyond=beyond,
    )
