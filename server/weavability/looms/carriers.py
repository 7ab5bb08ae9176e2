"""Carriers of the weft through the shed, and how fast they have to move.

The insertion takes ``theta`` degrees of the crank circle, so at ``n`` picks a minute it lasts
``theta / (6·n)`` seconds. A pair of rapiers carries the weft in two strokes from rest to rest, a
single rapier in one stroke up to its turning point; shuttles, projectiles and jets are taken to
fly at constant speed.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import exp, radians
from typing import Annotated, Final

from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.motion_laws import MotionLaw
from weavability.textiles.errors import InputError
from weavability.textiles.guards import counted, not_negative, positive, within
from weavability.textiles.numbers import N, Record, either, greatest, least
from weavability.textiles.records import record
from weavability.textiles.sentences import say

DEGREES_PER_SECOND_PER_PICK: Final = 6.0
"""Crank degrees a second at one pick a minute: 360 / 60."""


class InsertionSystem(StrEnum):
    """How the weft is brought through the shed."""

    RAPIER = "rapier"
    PROJECTILE = "projectile"
    AIR_JET = "air_jet"
    WATER_JET = "water_jet"
    SHUTTLE = "shuttle"
    NEEDLE = "needle"

    @property
    def is_jet(self) -> bool:
        """Whether air or water carries the weft, and no body does."""
        return self in {InsertionSystem.AIR_JET, InsertionSystem.WATER_JET}

    @property
    def has_strokes(self) -> bool:
        """Whether a rapier or needle that the crank drives carries the weft."""
        return self in {InsertionSystem.RAPIER, InsertionSystem.NEEDLE}


class Rapiers(StrEnum):
    """How many rapiers carry the weft."""

    DOUBLE = "double"
    SINGLE = "single"


class Carrier(StrEnum):
    """What carries the weft in one stroke; ``FLIGHT`` is a projectile, shuttle or jet."""

    GIVER = "giver"
    TAKER = "taker"
    RAPIER = "rapier"
    NEEDLE = "needle"
    FLIGHT = "flight"


@record(kw_only=True)
class InsertionSetup:
    """Everything that the motion of the weft depends on, besides speed and width.

    Attributes:
        system: The insertion system.
        motion_law: Law of each stroke of a rapier or needle; ``None`` for all other systems.
        rapiers: A pair that hands over at mid-width, or a single rapier; ``None`` for all other
            systems.
        picks_per_insertion: Picks that one turn of the crank inserts: 2 of a needle, which lays the
            weft as a loop, or of a loom that inserts two wefts at once.
        entry_deg: Crank angle at which the carrier, or the weft of a jet, enters the shed.
        transfer_deg: Crank angle of the hand-over of a pair, or at which a single rapier or needle
            turns back; ``None`` for all other systems.
        exit_deg: Crank angle at which the carrier has left the shed, or the weft arrived.
        overrun_cm: Travel of each rapier outside the reed width in use. A rapier at rest takes
            up the weft only if this is 0; otherwise it meets the weft in motion.
        transfer_travel_cm: Travel of the taker from its turning point until it draws the weft; 0 if
            it takes the weft over at rest.
        carrier_length_cm: Length of a projectile or shuttle, which must clear the shed too.
        launch_length_cm: Travel over which a projectile or shuttle is brought to speed; 0 if
            nothing pulls at the weft at the start.
        stopping_length_cm: Length of weft that runs in while weft brake and carrier brake bring
            it to rest; 0 if the weft is not brought to rest by a brake.
        free_weft_length_m: Weft from the feeder (the pirn in a shuttle) to the reed's edge,
            which has to be accelerated with the weft in the shed.
        base_tension_cn: Tension of the weft that feeder and brake give it at rest.
        withdrawal_factor: Tension that withdrawal from the feeder adds, over mu·v²: 1 for setting
            the yarn in motion alone, more with a balloon.
        friction_coefficient: Of the weft at brake, eyes and guides.
        wrap_deg: Angle through which they turn it in all.

    Raises:
        InputError: A value is out of its domain, the angles are out of order, or a rapier field
            is missing on a rapier or given elsewhere.
    """

    system: InsertionSystem
    motion_law: MotionLaw | None = None
    rapiers: Rapiers | None = None
    picks_per_insertion: int = 1
    entry_deg: float
    transfer_deg: float | None = None
    exit_deg: float
    overrun_cm: float = 0.0
    transfer_travel_cm: float = 0.0
    carrier_length_cm: float = 0.0
    launch_length_cm: float = 0.0
    stopping_length_cm: float = 0.0
    free_weft_length_m: float
    base_tension_cn: float
    withdrawal_factor: float = 1.0
    friction_coefficient: float = 0.0
    wrap_deg: float = 0.0

    def __post_init__(self) -> None:
        for name in _BOUNDED:
            within(name, getattr(self, name), LOOM_BOUNDS[f"/insertion/{name}"])
        not_negative("base_tension_cn", self.base_tension_cn)
        picks = LOOM_BOUNDS["/insertion/picks_per_insertion"]
        counted("picks_per_insertion", self.picks_per_insertion, least=picks.least, most=picks.most)
        _check_rapier_fields(self)
        _check_loop(self)
        _check_angles(self)

    @property
    def guide_times(self) -> float:
        """How many times brake and guides multiply the tension of a weft that runs over them.

        A rope over a drum: e to the friction times the angle of wrap.
        """
        return exp(self.friction_coefficient * radians(self.wrap_deg))

    @property
    def numbers(self) -> InsertionNumbers[float]:
        """The figures of the motion."""
        return InsertionNumbers(
            motion_law=self.motion_law,
            rapiers=self.rapiers,
            pull=Pull(
                withdrawal_times=self.withdrawal_factor * self.guide_times,
                is_loop=self.system is InsertionSystem.NEEDLE,
            ),
            picks_per_insertion=self.picks_per_insertion,
            entry_deg=self.entry_deg,
            transfer_deg=self.transfer_deg or 0.0,
            exit_deg=self.exit_deg,
            overrun_cm=self.overrun_cm,
            transfer_travel_cm=self.transfer_travel_cm,
            carrier_length_cm=self.carrier_length_cm,
            launch_length_cm=self.launch_length_cm,
            stopping_length_cm=self.stopping_length_cm,
            free_weft_length_m=self.free_weft_length_m,
            guide_times=self.guide_times,
        )


@dataclass(frozen=True, slots=True)
class Pull:
    """How a weft is drawn and held back; looms of a column share it, as they share their law.

    Attributes:
        withdrawal_times: Tension in the shed that withdrawal adds, over mu·v².
        is_loop: Whether it is laid as a loop, so that it runs twice as fast as its carrier.
    """

    withdrawal_times: float
    is_loop: bool


@dataclass(slots=True, kw_only=True)
class InsertionNumbers(Record[N]):
    """The figures of an :class:`InsertionSetup`; a column of them shares its ``tables``.

    Attributes:
        guide_times: See :attr:`InsertionSetup.guide_times`.
    """

    motion_law: MotionLaw | None
    rapiers: Rapiers | None
    pull: Pull
    picks_per_insertion: N
    entry_deg: N
    transfer_deg: N
    exit_deg: N
    overrun_cm: N
    transfer_travel_cm: N
    carrier_length_cm: N
    launch_length_cm: N
    stopping_length_cm: N
    free_weft_length_m: N
    guide_times: N

    @property
    def tables(self) -> Hashable:
        """What is no number."""
        return (self.motion_law, self.rapiers, self.pull)


_BOUNDED: Final = (
    "entry_deg",
    "exit_deg",
    "withdrawal_factor",
    "friction_coefficient",
    "wrap_deg",
    "overrun_cm",
    "transfer_travel_cm",
    "carrier_length_cm",
    "launch_length_cm",
    "stopping_length_cm",
    "free_weft_length_m",
)


def _check_rapier_fields(setup: InsertionSetup) -> None:
    strokes = setup.system.has_strokes
    for name, has in (
        ("motion_law", strokes),
        ("rapiers", setup.system is InsertionSystem.RAPIER),
        ("transfer_deg", strokes),
    ):
        if has == (getattr(setup, name) is None):
            raise InputError.of(
                f"/{name}",
                say(
                    "fault.insertion.field_missing",
                    "Insertion by {system} needs {field}.",
                    system=setup.system,
                    field=name,
                )
                if has
                else say(
                    "fault.insertion.field_of_other_system",
                    "Insertion by {system} has no {field}.",
                    system=setup.system,
                    field=name,
                ),
            )


def _check_loop(setup: InsertionSetup) -> None:
    if setup.system is InsertionSystem.NEEDLE and setup.picks_per_insertion != 2:
        raise InputError.of(
            "/picks_per_insertion",
            say(
                "fault.insertion.needle_loop",
                "A needle lays the weft as a loop: two picks at every turn of the crank.",
            ),
            given=setup.picks_per_insertion,
            allowed=2,
        )


def _check_angles(setup: InsertionSetup) -> None:
    angles = [setup.entry_deg, setup.transfer_deg, setup.exit_deg]
    given = [angle for angle in angles if angle is not None]
    if any(later - earlier < 1.0 for earlier, later in pairwise(given)):
        raise InputError.of(
            "/exit_deg",
            say(
                "fault.insertion.angles",
                "The angles must follow each other: entry, transfer (rapiers only), "
                "exit, each at least 1 degree after the one before.",
            ),
            given=given,
            allowed="for example entry 60, transfer 180, exit 300",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierStroke:
    """One movement of a carrier (or of the weft of a jet) at a stated speed of the loom."""

    carrier: Annotated[Carrier, "Giver or taker of a pair, a single rapier, or free flight"]
    from_deg: Annotated[float, "Crank angle at which it starts"]
    to_deg: Annotated[float, "Crank angle at which it ends"]
    length_m: Annotated[float, "Its travel"]
    time_ms: Annotated[float, "Its duration"]
    mean_speed_m_per_s: Annotated[float, "Travel over duration"]
    peak_speed_m_per_s: Annotated[float, "Greatest speed; the mean speed in free flight"]
    peak_acceleration_m_per_s2: Annotated[
        float | None, "Greatest acceleration of a rapier; null in free flight"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class InsertionMotion:
    """How fast the weft goes in.

    Attributes:
        insertion_time_ms: From entry until the weft has crossed the shed.
        mean_speed_m_per_s: Travel of the carrier over that time.
        peak_speed_m_per_s: Greatest speed of any stroke.
        peak_acceleration_m_per_s2: Greatest acceleration of a rapier; ``None`` in free flight.
        hand_overs_per_min: Hand-overs from giver to taker, one a pick; ``None`` elsewhere.
        strokes: The movements one by one.
    """

    insertion_time_ms: float
    mean_speed_m_per_s: float
    peak_speed_m_per_s: float
    peak_acceleration_m_per_s2: float | None
    hand_overs_per_min: float | None
    strokes: tuple[CarrierStroke, ...]


@dataclass(slots=True)
class Leg(Record[N]):
    """A stroke without its speed: the part that does not depend on picks a minute.

    ``start_m`` is the place at which the weft starts, seen from the reed's edge on the feeder side:
    a projectile or shuttle enters with its nose and holds the weft at its tail. ``deg_per_second``
    is the speed of the crank at one pick a minute.
    """

    carrier: Carrier
    from_deg: N
    to_deg: N
    start_m: N
    length_m: N
    law: MotionLaw | None
    deg_per_second: N

    def speed_per_pick(self) -> N:
        """Return the mean speed in m/s at one pick a minute."""
        return self.deg_per_second * self.length_m / (self.to_deg - self.from_deg)


def insertion_legs(setup: InsertionSetup, *, reed_width_cm: float) -> tuple[Leg[float], ...]:
    """Return the movements that carry the weft across ``reed_width_cm``, in order."""
    return legs_of(setup.numbers, reed_width_cm=reed_width_cm)


def flight_of(motion: InsertionNumbers[N], *, reed_width_cm: N) -> Leg[N]:
    """Return the flight of a projectile, a shuttle or the weft of a jet."""
    carrier_m = motion.carrier_length_cm / 100
    return Leg(
        carrier=Carrier.FLIGHT,
        from_deg=motion.entry_deg,
        to_deg=motion.exit_deg,
        start_m=-carrier_m,
        length_m=reed_width_cm / 100 + carrier_m,
        law=None,
        deg_per_second=DEGREES_PER_SECOND_PER_PICK / motion.picks_per_insertion,
    )


def legs_of(motion: InsertionNumbers[N], *, reed_width_cm: N) -> tuple[Leg[N], ...]:
    """Return the movements of :func:`insertion_legs`, of one insertion or of a column of them."""
    width_m, law = reed_width_cm / 100, motion.motion_law
    entry, turn, exit_ = motion.entry_deg, motion.transfer_deg, motion.exit_deg
    crank: N = DEGREES_PER_SECOND_PER_PICK / motion.picks_per_insertion
    if law is None:
        return (flight_of(motion, reed_width_cm=reed_width_cm),)
    outside = motion.overrun_cm / 100
    if motion.rapiers is not Rapiers.DOUBLE:
        single = Carrier.NEEDLE if motion.pull.is_loop else Carrier.RAPIER
        return (Leg(single, entry, turn, -outside, width_m + outside, law, crank),)
    travel = width_m / 2 + outside
    return (
        Leg(Carrier.GIVER, entry, turn, -outside, travel, law, crank),
        Leg(Carrier.TAKER, turn, exit_, width_m / 2, travel, law, crank),
    )


def rapier_acceleration_m_per_s2(
    motion: InsertionNumbers[N],
    *,
    law_times: N,
    strokes: N,
    reed_width_cm: N,
    speed_picks_per_min: N,
) -> N:
    """Return the greatest acceleration of a rapier, of one loom or of a column of unlike ones.

    Args:
        motion: The motion of the carrier.
        law_times: Peak of its law, over stroke by the square of its time; 0 in free flight.
        strokes: Strokes by which the weft crosses the shed: 2 of a pair of rapiers, else 1.
        reed_width_cm: Reed width in use.
        speed_picks_per_min: Speed of the loom.

    Returns:
        m/s²; 0 in free flight.
    """
    first, second = motion.transfer_deg - motion.entry_deg, motion.exit_deg - motion.transfer_deg
    # Angles follow each other by a degree at least; in free flight there is none between.
    shorter: N = greatest(either(strokes > 1, least(first, second), first), 1.0)
    travel_m = reed_width_cm / 100 / strokes + motion.overrun_cm / 100
    crank = DEGREES_PER_SECOND_PER_PICK / motion.picks_per_insertion * speed_picks_per_min
    return law_times * travel_m * (crank / shorter) ** 2


def insertion_motion(
    setup: InsertionSetup, *, speed_picks_per_min: float, reed_width_cm: float
) -> InsertionMotion:
    """Compute how fast the carrier has to move.

    Mean speed = 6·n·travel/theta with ``theta`` the crank angle used; each half of a pair of
    rapiers makes a stroke of half the reed width plus its overrun, a single rapier one stroke of
    the whole width plus its overrun between entry and turning point. Projectile and shuttle fly
    their own length further than the reed width. Peaks are the coefficients of the motion law
    times mean speed and travel/time².

    Args:
        setup: The insertion; angles, motion law, lengths.
        speed_picks_per_min: Loom speed n.
        reed_width_cm: Reed width in use.

    Returns:
        Times in ms, speeds in m/s, acceleration in m/s².

    Raises:
        InputError: Speed or width is not a positive number.

    A shuttle of 0.30 m through 1.15 m within 135 degrees at 213 picks/min needs 13.73 m/s
    (printed, from rounded picks: 13.75; [SLIDES-2006]):

    >>> shuttle = InsertionSetup(system=InsertionSystem.SHUTTLE, entry_deg=110, exit_deg=245,
    ...     carrier_length_cm=30, free_weft_length_m=0.2, base_tension_cn=10)
    >>> motion = insertion_motion(shuttle, speed_picks_per_min=213, reed_width_cm=115)
    >>> round(motion.mean_speed_m_per_s, 2)
    13.73
    """
    positive("speed_picks_per_min", speed_picks_per_min)
    positive("reed_width_cm", reed_width_cm)
    legs = insertion_legs(setup, reed_width_cm=reed_width_cm)
    strokes = tuple(_stroke(leg, speed_picks_per_min) for leg in legs)
    time_ms = sum(stroke.time_ms for stroke in strokes)
    accelerations = [
        stroke.peak_acceleration_m_per_s2
        for stroke in strokes
        if stroke.peak_acceleration_m_per_s2 is not None
    ]
    return InsertionMotion(
        insertion_time_ms=time_ms,
        mean_speed_m_per_s=sum(leg.length_m for leg in legs) / time_ms * 1000,
        peak_speed_m_per_s=max(stroke.peak_speed_m_per_s for stroke in strokes),
        peak_acceleration_m_per_s2=max(accelerations, default=None),
        hand_overs_per_min=(
            speed_picks_per_min / setup.picks_per_insertion
            if setup.rapiers is Rapiers.DOUBLE
            else None
        ),
        strokes=strokes,
    )


def _stroke(leg: Leg[float], speed_picks_per_min: float) -> CarrierStroke:
    mean = leg.speed_per_pick() * speed_picks_per_min
    time_s = leg.length_m / mean
    return CarrierStroke(
        carrier=leg.carrier,
        from_deg=leg.from_deg,
        to_deg=leg.to_deg,
        length_m=leg.length_m,
        time_ms=time_s * 1000,
        mean_speed_m_per_s=mean,
        peak_speed_m_per_s=mean * (1.0 if leg.law is None else leg.law.peak_velocity),
        peak_acceleration_m_per_s2=(
            None if leg.law is None else mean / time_s * leg.law.peak_acceleration
        ),
    )
