"""A pick over one turn of the crank: travel, speed and tension of the weft, for drawings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weavability.looms.carriers import InsertionSetup, Leg, insertion_legs
from weavability.looms.motion_laws import Stroke
from weavability.looms.weft_tension import WeftYarn, loop_times
from weavability.textiles.guards import positive, whole
from weavability.textiles.numbers import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class InsertionCurve:
    """A pick over the crank circle; every array has the shape of ``angle_deg``.

    Attributes:
        angle_deg: Crank angles from 0 to 360.
        displacement_m: Distance of the end of the weft (of its loop) from the reed's edge; the
            reed width once it has arrived, so that an empty return is not shown.
        speed_m_per_s: Speed of the weft in the shed; 0 before it is taken up at the reed's edge
            and once it has left the shed, though a rapier may still move.
        tension_cn: Tension of the weft, without the blows of
            :class:`weavability.looms.weft_tension.WeftTension`; the base tension while it rests.
            Never below 0: there the weft runs slack.
    """

    angle_deg: Floats
    displacement_m: Floats
    speed_m_per_s: Floats
    tension_cn: Floats


def insertion_curve(
    setup: InsertionSetup,
    yarn: WeftYarn,
    *,
    speed_picks_per_min: float,
    reed_width_cm: float,
    steps: int = 720,
) -> InsertionCurve:
    """Follow the end of the weft over one turn of the crank, for drawings and sweeps.

    Args:
        setup: The insertion.
        yarn: The weft.
        speed_picks_per_min: Loom speed.
        reed_width_cm: Reed width in use.
        steps: Even steps into which the circle is cut, 36 to 36000.

    Raises:
        InputError: Speed or width is not a positive number, or ``steps`` is out of range.
    """
    positive("speed_picks_per_min", speed_picks_per_min)
    positive("reed_width_cm", reed_width_cm)
    angles = np.linspace(0.0, 360.0, whole("steps", steps, least=36, most=36000) + 1)
    travel, speed, acceleration = (np.zeros_like(angles) for _ in range(3))
    legs = insertion_legs(setup, reed_width_cm=reed_width_cm)
    for leg in legs:
        here = (angles >= leg.from_deg) & (angles <= leg.to_deg)
        mean = leg.speed_per_pick() * speed_picks_per_min
        s, v, a = _shape(leg, (angles[here] - leg.from_deg) / (leg.to_deg - leg.from_deg))
        travel[here] = leg.start_m + leg.length_m * s
        speed[here] = mean * v
        acceleration[here] = mean**2 / leg.length_m * a
    width_m = reed_width_cm / 100
    travel[angles > legs[-1].to_deg] = width_m
    carried = (travel >= 0) & (travel <= width_m)
    travel, speed, acceleration = (
        np.clip(travel, 0.0, width_m),
        speed * carried,
        acceleration * carried,
    )
    return InsertionCurve(
        angle_deg=angles,
        displacement_m=travel,
        speed_m_per_s=speed,
        tension_cn=_tension_along(setup, yarn, travel, speed, acceleration),
    )


def _shape(leg: Leg[float], times: Floats) -> Stroke:
    if leg.law is not None:
        return leg.law.stroke(times)
    return Stroke(times, np.ones_like(times), np.zeros_like(times))


def _tension_along(
    setup: InsertionSetup, yarn: WeftYarn, travel_m: Floats, speed: Floats, acceleration: Floats
) -> Floats:
    motion = setup.numbers
    loop = loop_times(motion)
    moving_m = motion.free_weft_length_m + travel_m
    withdrawal = motion.pull.withdrawal_times * (loop * speed) ** 2
    rise = yarn.strain.thrust * (withdrawal + moving_m * loop * acceleration)
    base = setup.base_tension_cn * np.where(speed > 0, motion.guide_times, 1.0)
    return np.maximum(base + rise, 0.0)
