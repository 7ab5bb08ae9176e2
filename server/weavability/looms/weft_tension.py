"""Tension of the weft while it is inserted, and the speed at which it becomes dangerous.

While a rapier draws the weft, the tension at its clamp is ``(T0 + k·v²)·e^(f·w) + mu·L·a``. T0 is
the tension that feeder and brake give the weft; k·v² is that of withdrawal, with k = c·mu, c = 1
for setting the yarn in motion and more with a balloon at the feeder; brake, eyes and guides with
the friction f multiply both like a rope over a drum that is turned through the angle w; and the
length L already moving, from the feeder to the clamp (the free length plus the length in the
shed), is accelerated by a.

If yarn changes its speed by v at one blow, a wave of tension ``v·sqrt(E·A·mu)`` runs along it, with
the initial modulus E; it is compared apart, above the tension at rest, for the rapier that meets
the weft in motion and the taker that takes it over. If the change takes a distance d (the launch
of a projectile, the weft brake of a jet) the tension is the steady force ``mu·L·v²/(2·d)``, as
brakes come on gradually, and never more than the blow. The drag of the air is neglected.

With tension split so, every peak is a multiple of the base tension plus a term in the loom speed n
(a blow) or in n² (everything else). The terms are found once for a setup, yarn and width; tension
at any speed and the speed for any tension follow from them in closed form.

Source: mechanics of a moving string and of a rope over a drum; that withdrawal grows with v² is
common practice. The starting values are in :mod:`weavability.looms.carriers`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import inf
from typing import Annotated, Final, Generic, NamedTuple

from weavability.looms.carriers import (
    Carrier,
    InsertionNumbers,
    InsertionSetup,
    Leg,
    Rapiers,
    legs_of,
)
from weavability.looms.motion_laws import MotionLaw, stroke_peaks
from weavability.textiles.guards import positive
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    either,
    greatest,
    least,
    quotient,
    root,
)
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.units import CN_PER_N

KG_PER_M_PER_TEX: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class WeftYarn:
    """The figures of a weft on which its tension depends.

    Attributes:
        linear_density_tex: Linear density as it runs into the cloth.
        weakest_strength_cn: Strength of its weakest place.
        modulus_cn_per_tex: Initial tensile modulus, which a blow meets; see
            :func:`initial_modulus_cn_per_tex`.

    Raises:
        InputError: A value is not a positive number.
    """

    linear_density_tex: float
    weakest_strength_cn: float
    modulus_cn_per_tex: float

    def __post_init__(self) -> None:
        positive("linear_density_tex", self.linear_density_tex)
        positive("weakest_strength_cn", self.weakest_strength_cn)
        positive("modulus_cn_per_tex", self.modulus_cn_per_tex)

    @property
    def strain(self) -> Strain[float]:
        """What motion does to it."""
        return strain_of(
            linear_density_tex=self.linear_density_tex, modulus_cn_per_tex=self.modulus_cn_per_tex
        )


def secant_modulus_cn_per_tex(
    *, tenacity_cn_per_tex: float, breaking_elongation_pct: float
) -> float:
    """Estimate the tensile modulus of a yarn from its breaking point.

    The straight line from the origin to the breaking point; the initial modulus of most yarns is
    several times as high, and measured moduli are better.

    >>> secant_modulus_cn_per_tex(tenacity_cn_per_tex=15, breaking_elongation_pct=6)
    250.0
    """
    positive("tenacity_cn_per_tex", tenacity_cn_per_tex)
    positive("breaking_elongation_pct", breaking_elongation_pct)
    return tenacity_cn_per_tex / breaking_elongation_pct * 100


BRITTLE_PCT: Final = 4.0
"""Breaking elongation below which a yarn stretches in proportion to its load, as bast, glass and
carbon do: its initial modulus is the mean one up to the break (from memory)."""


def initial_modulus_cn_per_tex(
    *, secant_modulus_cn_per_tex: N, is_brittle: Truth, initial_modulus_times: N
) -> N:
    """Return the modulus that a blow meets.

    Args:
        secant_modulus_cn_per_tex: Mean modulus up to the break.
        is_brittle: Whether the yarn breaks below :data:`BRITTLE_PCT`.
        initial_modulus_times: Initial over mean modulus of every other yarn.

    Returns:
        cN/tex.
    """
    return secant_modulus_cn_per_tex * either(
        is_brittle, 1.0 + 0 * initial_modulus_times, initial_modulus_times
    )


def _wave_factor(modulus_cn_per_tex: N) -> N:
    """Return sqrt(E·A·mu) in cN per tex and m/s: E·A = modulus·tex cN, mu = tex·1e-6 kg/m."""
    return CN_PER_N * root(modulus_cn_per_tex / CN_PER_N * KG_PER_M_PER_TEX)


class Moment(StrEnum):
    """The moment of a pick at which the weft tension has a peak.

    ``PICK_UP`` is a rapier that meets the weft in motion, ``TRANSFER`` the taker that does;
    ``GIVER``, ``TAKER``, ``RAPIER`` and ``NEEDLE`` are the stroke of a carrier, ``LAUNCH``,
    ``FLIGHT`` and ``STOP`` moments of a projectile, shuttle or jet.
    """

    PICK_UP = "pick_up"
    GIVER = "giver"
    TRANSFER = "transfer"
    TAKER = "taker"
    RAPIER = "rapier"
    NEEDLE = "needle"
    LAUNCH = "launch"
    FLIGHT = "flight"
    STOP = "stop"

    @property
    def in_words(self) -> Sentence:
        """Its name in a sentence or a drawing."""
        return _MOMENT_WORDS[self]


_MOMENT_WORDS: Final = {
    Moment.PICK_UP: say("part.moment_pick_up", "pick-up"),
    Moment.GIVER: say("part.moment_giver", "giver draws"),
    Moment.TRANSFER: say("part.moment_transfer", "transfer"),
    Moment.TAKER: say("part.moment_taker", "taker draws"),
    Moment.RAPIER: say("part.moment_rapier", "rapier draws"),
    Moment.NEEDLE: say("part.moment_needle", "needle draws"),
    Moment.LAUNCH: say("part.moment_launch", "launch"),
    Moment.FLIGHT: say("part.moment_flight", "flight"),
    Moment.STOP: say("part.moment_stop", "braking"),
}


_STROKE_OF: Final = {carrier: Moment(carrier.value) for carrier in Carrier}


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionPeak:
    """One peak of the weft tension within a pick."""

    moment: Annotated[Moment, "What happens there"]
    at_deg: Annotated[float, "Its crank angle"]
    tension_cn: Annotated[float, "The tension there, base tension included"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeftTension:
    """Tension of the weft over a pick.

    Attributes:
        peak_tension_cn: Greatest tension.
        at_deg: Crank angle of it.
        moment: What happens there.
        base_tension_cn: Tension at rest.
        pick_up_jerk_cn: What taking up the weft adds: by a rapier already moving (0 from rest),
            or by the launch of a projectile or shuttle; ``None`` for jets.
        transfer_jerk_cn: What taking it over adds; ``None`` without a pair of rapiers.
        stopping_jerk_cn: What bringing the weft to rest adds; ``None`` if no brake does it.
        strength_use_pct: Greatest tension as a share of the strength at the weakest place.
        peaks: All peaks in the order of the crank angle.
    """

    peak_tension_cn: float
    at_deg: float
    moment: Moment
    base_tension_cn: float
    pick_up_jerk_cn: float | None
    transfer_jerk_cn: float | None
    stopping_jerk_cn: float | None
    strength_use_pct: float
    peaks: tuple[TensionPeak, ...]


@dataclass(slots=True)
class Rise(Record[N]):
    """A peak of the tension: a multiple of the base tension, and what motion adds to it.

    Motion adds the lesser of what a blow does, which grows with the loom speed n, and of what
    moving mass does, which grows with n².

    Attributes:
        moment: What happens there.
        at_deg: Crank angle of it.
        present: Whether there is such a peak; else its tension is 0.
        base_times: Tension at very low speed over base tension.
        blow_speed: Speed of the blow in m/s at one pick a minute; infinite if none limits the rise.
        speed: Speed of the weft in m/s at one pick a minute.
        times: Rise by moving mass over mu·v².
    """

    moment: Moment
    at_deg: N
    present: Truth
    base_times: N
    blow_speed: N
    speed: N
    times: N

    def at_speed(self, weft: Strain[N], picks: N) -> N:
        """Return what motion adds to the tension of a weft at a loom speed, in cN."""
        by_blow = weft.blow * self.blow_speed * picks
        return least(by_blow, self._square(weft) * (picks * picks))

    def tension_cn(self, weft: Strain[N], base_tension_cn: N, picks: N) -> N:
        """Return the tension of a weft at a loom speed, in cN."""
        return base_tension_cn * self.base_times + self.at_speed(weft, picks)

    def speed_for(self, weft: Strain[N], base_tension_cn: N, tension_cn: N) -> N:
        """Return the speed at which a weft's tension reaches a value.

        0 if it does at any speed, infinite if it never does.
        """
        room = tension_cn - base_tension_cn * self.base_times
        some: N = greatest(room, 0.0)
        by_blow = quotient(some, weft.blow * self.blow_speed)
        speed: N = greatest(by_blow, root(quotient(some, self._square(weft))))
        return either(room > 0, speed, 0.0)

    def _square(self, weft: Strain[N]) -> N:
        return weft.thrust * (self.speed * self.speed) * self.times


class Strain(NamedTuple, Generic[N]):
    """What motion does to a weft.

    Attributes:
        blow: Tension v·sqrt(E·A·mu) of a yarn brought to a speed v at one blow, in cN for each m/s.
        thrust: Tension mu·v² of a yarn in motion, in cN for each (m/s)²; of mu·L·a, for each m of
            moving yarn and m/s².
    """

    blow: N
    thrust: N


def strain_of(*, linear_density_tex: N, modulus_cn_per_tex: N) -> Strain[N]:
    """Return what motion does to a weft of a linear density and modulus.

    30 tex of 500 cN/tex taken up at 5 m/s, and inserted at 37.31 m/s:

    >>> weft = strain_of(linear_density_tex=30.0, modulus_cn_per_tex=500.0)
    >>> round(5 * weft.blow, 3), round(37.31**2 * weft.thrust, 3)
    (33.541, 4.176)
    """
    return Strain(
        blow=linear_density_tex * _wave_factor(modulus_cn_per_tex),
        thrust=linear_density_tex * KG_PER_M_PER_TEX * CN_PER_N,
    )


def weft_tension(
    setup: InsertionSetup, yarn: WeftYarn, *, speed_picks_per_min: float, reed_width_cm: float
) -> WeftTension:
    """Compute every peak of the weft's tension and the greatest of them.

    The peak of a stroke is the maximum of ``(T0 + k·v²)·e^(f·w) + mu·L·a`` over the stroke, not the
    sum of separate maxima: at the greatest speed the acceleration is nil.

    Args:
        setup: The insertion, with base tension and lengths.
        yarn: The weft.
        speed_picks_per_min: Loom speed.
        reed_width_cm: Reed width in use.

    Returns:
        Tensions in cN, angles in crank degrees, the use of strength in %.

    Raises:
        InputError: Speed or width is not a positive number.
    """
    positive("reed_width_cm", reed_width_cm)
    rises = pick_rises(setup.numbers, reed_width_cm=reed_width_cm)
    return tension_of(setup, yarn, rises, speed_picks_per_min=speed_picks_per_min)


def tension_of(
    setup: InsertionSetup,
    yarn: WeftYarn,
    rises: Iterable[Rise[float]],
    *,
    speed_picks_per_min: float,
) -> WeftTension:
    """Compute what :func:`weft_tension` does from the rises of a pick.

    Raises:
        InputError: The speed is not a positive number.
    """
    positive("speed_picks_per_min", speed_picks_per_min)
    base, weft = setup.base_tension_cn, yarn.strain
    there = [rise for rise in rises if rise.present]
    jerks = {rise.moment: rise.at_speed(weft, speed_picks_per_min) for rise in there}
    peaks = tuple(
        TensionPeak(
            moment=rise.moment,
            at_deg=rise.at_deg,
            tension_cn=rise.tension_cn(weft, base, speed_picks_per_min),
        )
        for rise in there
    )
    top = max(peaks, key=lambda peak: peak.tension_cn)
    return WeftTension(
        peak_tension_cn=top.tension_cn,
        at_deg=top.at_deg,
        moment=top.moment,
        base_tension_cn=base,
        pick_up_jerk_cn=jerks.get(
            Moment.PICK_UP, jerks.get(Moment.LAUNCH, 0.0 if setup.system.has_strokes else None)
        ),
        transfer_jerk_cn=jerks.get(
            Moment.TRANSFER, 0.0 if setup.rapiers is Rapiers.DOUBLE else None
        ),
        stopping_jerk_cn=jerks.get(Moment.STOP),
        strength_use_pct=strength_use_pct(top.tension_cn, yarn.weakest_strength_cn),
        peaks=peaks,
    )


def strength_use_pct(tension_cn: N, weakest_strength_cn: N) -> N:
    """Return a tension as a share of the strength at the weakest place, in per cent."""
    return tension_cn / weakest_strength_cn * 100


def peak_tension_cn(
    rises: Sequence[Rise[N]], weft: Strain[N], *, base_tension_cn: N, speed_picks_per_min: N
) -> N:
    """Return the greatest tension of a weft in a pick."""
    first, *others = (rise.tension_cn(weft, base_tension_cn, speed_picks_per_min) for rise in rises)
    for other in others:
        first = greatest(first, other)
    return first


def speed_within(
    rises: Sequence[Rise[N]],
    weft: Strain[N],
    *,
    base_tension_cn: N,
    weakest_strength_cn: N,
    strength_use_pct: float,
) -> N:
    """Return the loom speed at which the greatest tension uses a share of the strength.

    Args:
        rises: The peaks of a pick.
        weft: What motion does to the weft.
        base_tension_cn: Its tension at rest.
        weakest_strength_cn: Strength of its weakest place.
        strength_use_pct: The share of it.

    Returns:
        Picks a minute; 0 where the weft reaches the share at any speed.
    """
    tension_cn = strength_use_pct / 100 * weakest_strength_cn
    first, *others = (rise.speed_for(weft, base_tension_cn, tension_cn) for rise in rises)
    for other in others:
        first = least(first, other)
    return first


def speed_at_strength_use(
    setup: InsertionSetup, yarn: WeftYarn, *, strength_use_pct: float, reed_width_cm: float
) -> float:
    """Return the loom speed at which the greatest tension uses a share of the strength.

    The inverse of :func:`weft_tension`: every peak grows with speed, so the least speed at which
    any peak reaches the share is the answer.

    Args:
        setup: The insertion.
        yarn: The weft.
        strength_use_pct: The share of the strength at the weakest place.
        reed_width_cm: Reed width in use.

    Returns:
        Picks a minute; 0.0 if the weft reaches the share at any speed.

    Raises:
        InputError: Share or width is not a positive number.
    """
    positive("strength_use_pct", strength_use_pct)
    positive("reed_width_cm", reed_width_cm)
    return speed_within(
        pick_rises(setup.numbers, reed_width_cm=reed_width_cm),
        yarn.strain,
        base_tension_cn=setup.base_tension_cn,
        weakest_strength_cn=yarn.weakest_strength_cn,
        strength_use_pct=strength_use_pct,
    )


def pick_rises(motion: InsertionNumbers[N], *, reed_width_cm: N) -> list[Rise[N]]:
    """Return every peak of the tension over a pick, as it depends on speed and weft.

    Args:
        motion: The figures of the insertion.
        reed_width_cm: Reed width in use.
    """
    legs = legs_of(motion, reed_width_cm=reed_width_cm)
    law = motion.motion_law
    if law is None:
        return _flight_rises(motion, legs[0], reed_width_cm / 100)
    first = legs[0]
    rises = [_stroke_rise(first, law, motion)]
    if anywhere(first.start_m < 0):
        rises.insert(0, _blow_rise(Moment.PICK_UP, first, law, motion, -first.start_m))
    for taker in legs[1:]:
        travel_m = motion.transfer_travel_cm / 100
        if anywhere(travel_m > 0):
            rises.append(_blow_rise(Moment.TRANSFER, taker, law, motion, travel_m))
        rises.append(_stroke_rise(taker, law, motion))
    return rises


def loop_times(motion: InsertionNumbers[N]) -> float:
    """Return how many times as fast as its carrier the weft runs: twice if laid as a loop."""
    return 2.0 if motion.pull.is_loop else 1.0


def _blow_rise(
    moment: Moment, leg: Leg[N], law: MotionLaw, motion: InsertionNumbers[N], travel_m: N
) -> Rise[N]:
    """Return the blow of a carrier that meets the weft in motion, after some of its travel."""
    time, velocity = law.met_after(least(travel_m / leg.length_m, 1.0))
    speed = velocity * leg.speed_per_pick() * loop_times(motion)
    moving = (travel_m > 0) & (speed > 0)
    at_deg = leg.from_deg + time * (leg.to_deg - leg.from_deg)
    return _rise(moment, at_deg, moving, speed, inf)


def _stroke_rise(leg: Leg[N], law: MotionLaw, motion: InsertionNumbers[N]) -> Rise[N]:
    """Return the maximum of the tension over a stroke, from the take-up of the weft on.

    With s, v, a the law without dimensions, S the stroke, L = free + start + S·s, and w the weight
    of withdrawal, the rise is mu·(S/T)² times w·v² + s·a + (free + start)/S·a. In a loop, of which
    one leg moves, twice as fast as the carrier, it is mu·(2S/T)²/2 times the same with 2w.
    """
    loop = loop_times(motion)
    peaks = stroke_peaks(law, loop * motion.pull.withdrawal_times)
    share = (motion.free_weft_length_m + leg.start_m) / leg.length_m
    value, time = peaks.greatest(share, start=-leg.start_m / leg.length_m)
    # A weft that is taken up while the rapier already slows down is never drawn taut.
    times: N = greatest(0.0, value) / loop
    at_deg = leg.from_deg + time * (leg.to_deg - leg.from_deg)
    speed = leg.speed_per_pick() * loop
    return _drawn(_STROKE_OF[leg.carrier], at_deg, speed, times, motion)


def _flight_rises(motion: InsertionNumbers[N], leg: Leg[N], width_m: N) -> list[Rise[N]]:
    """Compute free flight: the launch sets the free weft in motion, the brake stops all of it."""
    speed, free_m = leg.speed_per_pick(), motion.free_weft_length_m
    launch_m, stopping_m = motion.launch_length_cm / 100, motion.stopping_length_cm / 100
    launched = (launch_m > 0) & (free_m > 0)
    launch: N = quotient(free_m, 2 * launch_m)
    stop: N = quotient(free_m + width_m, 2 * stopping_m)
    middle_deg = (leg.from_deg + leg.to_deg) / 2
    withdrawal = motion.pull.withdrawal_times + 0 * speed
    return [
        _rise(Moment.LAUNCH, leg.from_deg, launched, speed, launch),
        _drawn(Moment.FLIGHT, middle_deg, speed, withdrawal, motion),
        _rise(Moment.STOP, leg.to_deg, stopping_m > 0, speed, stop),
    ]


def _drawn(moment: Moment, at_deg: N, speed: N, times: N, motion: InsertionNumbers[N]) -> Rise[N]:
    """Return a peak of a weft that runs over brake and guides; every pick has it."""
    return Rise(
        moment=moment,
        at_deg=at_deg,
        present=True,
        base_times=motion.guide_times + 0 * speed,
        blow_speed=inf + 0 * speed,
        speed=speed,
        times=times,
    )


def _rise(moment: Moment, at_deg: N, present: Truth, speed: N, times: N | float) -> Rise[N]:
    """Return a peak above the tension at rest; 0 where it is not present."""
    blow_speed: N = either(present, speed, 0.0)
    return Rise(
        moment=moment,
        at_deg=at_deg,
        present=present,
        base_times=either(present, 1.0 + 0 * speed, 0.0),
        blow_speed=blow_speed,
        speed=speed,
        times=either(present, times, 0 * speed),
    )
