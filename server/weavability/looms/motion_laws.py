"""Laws of motion of a rapier: one stroke from rest to rest, without dimensions.

A stroke runs from displacement 0 to 1 while the time ``u`` runs from 0 to 1. All five laws are
symmetric about mid-stroke, so each is written down for its first half only and mirrored.
Multiply displacement by the stroke S, velocity by S/T and acceleration by S/T² to give it
dimensions, T being the time of the stroke.

Sources: simple harmonic, cycloidal and 3-4-5 polynomial motion follow from their definitions;
modified sine and modified trapezoid are integrated from their definition as acceleration curves
(quarter sines of period 1/2 at the ends; between them a sine of period 3/2, or a constant).
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import cache, lru_cache
from math import pi, sqrt
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from weavability.textiles.errors import InputError
from weavability.textiles.numbers import (
    Floats,
    N,
    Steps,
    either,
    greatest,
    least,
    quotient,
    taken,
)
from weavability.textiles.sentences import say

MODIFIED_SINE_PEAK: Final = 4 * pi**2 / (pi + 4)
MODIFIED_TRAPEZOID_PEAK: Final = 8 * pi / (pi + 2)

GRID_STEPS: Final = 2400
"""Steps of the grid on which maxima over a stroke are sought; a multiple of 24, so that the
joints of the piecewise laws (1/8, 3/8) and the peaks of the others lie on it."""


class Stroke(NamedTuple):
    """Displacement, velocity and acceleration over a stroke, without dimensions."""

    displacement: Floats
    velocity: Floats
    acceleration: Floats


class MotionLaw(StrEnum):
    """How a rapier moves between rest and rest."""

    SIMPLE_HARMONIC = "simple_harmonic"
    CYCLOIDAL = "cycloidal"
    MODIFIED_SINE = "modified_sine"
    POLYNOMIAL_345 = "polynomial_345"
    MODIFIED_TRAPEZOID = "modified_trapezoid"

    def stroke(self, u: ArrayLike) -> Stroke:
        """Evaluate the law at the dimensionless times ``u`` (any shape, each from 0 to 1).

        Raises:
            InputError: A time lies outside 0 to 1 or is NaN.
        """
        times = np.asarray(u, dtype=np.float64)
        if not bool(np.all((times >= 0) & (times <= 1))):
            raise _outside()
        half = _FIRST_HALF[self](np.minimum(times, 1 - times))
        late = times > 0.5
        return Stroke(
            np.where(late, 1 - half.displacement, half.displacement),
            half.velocity,
            np.where(late, -half.acceleration, half.acceleration),
        )

    def displacement(self, u: ArrayLike) -> Floats:
        """Return the share of the stroke covered at the times ``u``."""
        return self.stroke(u).displacement

    def velocity(self, u: ArrayLike) -> Floats:
        """Return the velocity at the times ``u``, in strokes per stroke time; 1 is the mean."""
        return self.stroke(u).velocity

    def acceleration(self, u: ArrayLike) -> Floats:
        """Return the acceleration at the times ``u``, in strokes per stroke time squared."""
        return self.stroke(u).acceleration

    @property
    def peak_velocity(self) -> float:
        """Greatest velocity over mean velocity; every law has it at mid-stroke.

        >>> [round(law.peak_velocity, 4) for law in MotionLaw]
        [1.5708, 2.0, 1.7596, 1.875, 2.0]
        """
        return _peaks(self)[0]

    @property
    def peak_acceleration(self) -> float:
        """Greatest acceleration, in strokes per stroke time squared.

        >>> [round(law.peak_acceleration, 4) for law in MotionLaw]
        [4.9348, 6.2832, 5.528, 5.7735, 4.8881]
        """
        return _peaks(self)[1]

    def time_at(self, displacement: N) -> N:
        """Return the time at which the share ``displacement`` of the stroke is covered.

        The chord of the grid's step, refined by one Newton step within it; good to about
        1e-9, except in the first and last thousandth, in which the rapier hardly moves.
        """
        covered = _covered(self)
        index = least(covered.up_to(displacement), GRID_STEPS) - 1
        low, high = covered.at(index), covered.at(index + 1)
        chord = least(greatest((displacement - low) / (high - low), 0.0), 1.0)
        s, v = self._place_and_velocity((index + chord) / GRID_STEPS)
        newton = index + chord + quotient(displacement - s, v) * GRID_STEPS
        refined = least(greatest(newton, index), index + 1) / GRID_STEPS
        return either(v == 0, (index + chord) / GRID_STEPS, refined)

    def met_after(self, displacement: N) -> tuple[N, N]:
        """Return time and velocity at which the share ``displacement`` of the stroke is covered."""
        if isinstance(displacement, np.ndarray):
            time: N = self.time_at(displacement)
            return time, self.velocity_at(time)
        return _met_after(self, displacement)

    def velocity_at(self, time: N) -> N:
        """Return the velocity at a time, as :meth:`velocity` does."""
        return self._place_and_velocity(time)[1]

    def _place_and_velocity(self, time: N) -> tuple[N, N]:
        if isinstance(time, np.ndarray):
            s, v, _ = self.stroke(time)
            return s, v
        if not 0.0 <= time <= 1.0:
            raise _outside()
        # The same for one time, without the columns of a single row.
        one: Any = np.float64(min(time, 1 - time))
        half = _FIRST_HALF[self](one)
        covered = float(half.displacement)
        return (1 - covered if time > 0.5 else covered), float(half.velocity)


def _outside() -> InputError:
    return InputError.of(
        "/u", say("fault.motion_law.time", "The time of a stroke runs from 0 to 1."), allowed=[0, 1]
    )


@lru_cache(maxsize=1024)
def _met_after(law: MotionLaw, displacement: float) -> tuple[float, float]:
    """Remember the last places: both rapiers, and trials of one order, meet the weft alike."""
    time = law.time_at(displacement)
    return time, law.velocity_at(time)


@cache
def stroke_on_grid(law: MotionLaw) -> Stroke:
    """Return ``law`` at ``GRID_STEPS + 1`` even times from 0 to 1, computed once."""
    return law.stroke(np.linspace(0.0, 1.0, GRID_STEPS + 1))


@cache
def _covered(law: MotionLaw) -> Steps:
    return Steps(tuple(stroke_on_grid(law).displacement.tolist()))


@cache
def _accelerated(law: MotionLaw) -> Steps:
    return Steps(tuple(stroke_on_grid(law).acceleration.tolist()))


@cache
def _by_acceleration(law: MotionLaw) -> NDArray[np.intp]:
    """Return the steps of the grid by rising acceleration, of equal ones the fastest.

    It draws most, whatever the weights: while the rapier speeds up it has also come furthest, and
    while it slows down least far.
    """
    _, velocity, acceleration = stroke_on_grid(law)
    steps = np.lexsort((velocity, acceleration))
    rising = acceleration[steps]
    fastest: NDArray[np.intp] = steps[np.append(rising[1:] != rising[:-1], True)]
    return fastest


class StrokePeaks:
    """The greatest of ``times·v² + s·a + share·a`` over a stroke, whatever the share.

    For each step of the grid this is a straight line in the share. The greatest of all lines is
    their upper envelope, in which the line for a share is found by bisection.

    Args:
        law: Law of the stroke.
        times: Weight of the square of the velocity, above 0.
    """

    def __init__(self, law: MotionLaw, times: float) -> None:
        s, v, a = stroke_on_grid(law)
        thrust = times * v**2 + s * a
        steps = _upper_envelope(_by_acceleration(law), slope=a, intercept=thrust)
        # An array, of which one share looks up a dozen places: as floats it takes as long to make
        # as all else here.
        self._breaks: Floats = -np.diff(thrust[steps]) / np.diff(a[steps])
        self._step, self._thrust = steps.astype(np.float64), thrust
        self._acceleration = _accelerated(law)
        self._covered = _covered(law)

    def greatest(self, share: N, *, start: N) -> tuple[N, N]:
        """Return the greatest value from a place on, and the time at which it is reached.

        Args:
            share: Length that moves at the start of the stroke, over the stroke.
            start: Share of the stroke from which on the maximum is sought. Before it the value
                rises, or falls from there on, as the weft is taken up no later than mid-stroke.
        """
        line: Any = np.searchsorted(self._breaks, share)
        step = greatest(taken(self._step, line), self._covered.below(start))
        value = taken(self._thrust, step) + share * self._acceleration.at(step)
        return value, step / GRID_STEPS


@lru_cache(maxsize=64)
def stroke_peaks(law: MotionLaw, times: float) -> StrokePeaks:
    """Return the peaks of a law with a weight of the square of the velocity, found once."""
    return StrokePeaks(law, times)


def _upper_envelope(
    kept: NDArray[np.intp], *, slope: Floats, intercept: Floats
) -> NDArray[np.intp]:
    """Return those of some lines, which are by rising slope, that are the greatest somewhere.

    A line that is nowhere above both of its neighbours goes, all such at a time, until none is
    left; of a law that is smooth two passes do.
    """
    is_needed = np.zeros(1, np.bool_)
    while not is_needed.all():
        a, c = slope[kept], intercept[kept]
        (left_a, middle_a, right_a), (left_c, middle_c, right_c) = (
            (each[:-2], each[1:-1], each[2:]) for each in (a, c)
        )
        is_needed = np.ones(len(kept), np.bool_)
        is_needed[1:-1] = (left_c - right_c) * (middle_a - left_a) > (left_c - middle_c) * (
            right_a - left_a
        )
        kept = kept[is_needed]
    return kept


@cache
def _peaks(law: MotionLaw) -> tuple[float, float]:
    return float(law.velocity(0.5)), float(law.acceleration(_ACCELERATION_PEAKS_AT[law]))


def _simple_harmonic(w: Floats) -> Stroke:
    return Stroke((1 - np.cos(pi * w)) / 2, pi / 2 * np.sin(pi * w), pi**2 / 2 * np.cos(pi * w))


def _cycloidal(w: Floats) -> Stroke:
    turn = 2 * pi * w
    return Stroke(w - np.sin(turn) / (2 * pi), 1 - np.cos(turn), 2 * pi * np.sin(turn))


def _polynomial_345(w: Floats) -> Stroke:
    rest = 1 - w
    return Stroke(
        w**3 * (10 - w * (15 - 6 * w)),
        30 * (w * rest) ** 2,
        60 * w * rest * (1 - 2 * w),
    )


def _modified_sine(w: Floats) -> Stroke:
    rise, unit = 4 * pi * w, MODIFIED_SINE_PEAK / (4 * pi)
    slow = (rise + pi) / 3
    early, sin_rise, sin_slow = w < 1 / 8, np.sin(rise), np.sin(slow)
    return Stroke(
        unit * either(early, w - sin_rise / (4 * pi), w + (8 - 9 * sin_slow) / (4 * pi)),
        unit * either(early, 1 - np.cos(rise), 1 - 3 * np.cos(slow)),
        MODIFIED_SINE_PEAK * either(early, sin_rise, sin_slow),
    )


def _modified_trapezoid(w: Floats) -> Stroke:
    k = 4 * pi
    flat, fall = w - 1 / 8, w - 3 / 8
    pieces = [w < 1 / 8, w < 3 / 8]
    at_1_8 = (1 / 8 - 1 / k) / k
    v_3_8 = 1 / k + 1 / 4
    at_3_8 = at_1_8 + 1 / (4 * k) + 1 / 32
    shape = Stroke(
        np.select(
            pieces,
            [(w - np.sin(k * w) / k) / k, at_1_8 + flat / k + flat**2 / 2],
            at_3_8 + v_3_8 * fall + (1 - np.cos(k * fall)) / k**2,
        ),
        np.select(pieces, [(1 - np.cos(k * w)) / k, 1 / k + flat], v_3_8 + np.sin(k * fall) / k),
        np.select(pieces, [np.sin(k * w), np.ones_like(w)], np.cos(k * fall)),
    )
    return Stroke(*(MODIFIED_TRAPEZOID_PEAK * part for part in shape))


_FIRST_HALF: Final[dict[MotionLaw, Callable[[Floats], Stroke]]] = {
    MotionLaw.SIMPLE_HARMONIC: _simple_harmonic,
    MotionLaw.CYCLOIDAL: _cycloidal,
    MotionLaw.MODIFIED_SINE: _modified_sine,
    MotionLaw.POLYNOMIAL_345: _polynomial_345,
    MotionLaw.MODIFIED_TRAPEZOID: _modified_trapezoid,
}

_ACCELERATION_PEAKS_AT: Final[dict[MotionLaw, float]] = {
    MotionLaw.SIMPLE_HARMONIC: 0.0,
    MotionLaw.CYCLOIDAL: 1 / 4,
    MotionLaw.MODIFIED_SINE: 1 / 8,
    MotionLaw.POLYNOMIAL_345: (1 - 1 / sqrt(3)) / 2,
    MotionLaw.MODIFIED_TRAPEZOID: 1 / 4,
}
