"""What comes out of an insertion-rate request."""

from __future__ import annotations

from collections.abc import Mapping

from weavability_client._record import Record, Scalar, record
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Assumption
from weavability_client.tables import cell, words


@record
class CarrierStroke(Record):
    """One movement of a carrier, or of the weft of a jet.

    Attributes:
        carrier: ``giver``, ``taker``, ``rapier`` (a single one) or ``flight``.
        from_deg: Crank angle at which it starts.
        to_deg: Crank angle at which it ends.
        length_m: Its way.
        peak_acceleration_m_per_s2: Of a rapier; ``None`` in free flight.
    """

    carrier: str
    from_deg: float
    to_deg: float
    length_m: float
    time_ms: float
    mean_speed_m_per_s: float
    peak_speed_m_per_s: float
    peak_acceleration_m_per_s2: float | None = None


@record
class Motion(Record):
    """How the carrier moves at the speed of the answer."""

    system: str
    motion_law: str | None = None
    rapiers: str | None = None
    entry_deg: float
    transfer_deg: float | None = None
    exit_deg: float
    overrun_cm: float | None = None
    insertion_time_ms: float
    mean_speed_m_per_s: float
    peak_speed_m_per_s: float
    peak_acceleration_m_per_s2: float | None = None
    hand_overs_per_min: float | None = None
    strokes: tuple[CarrierStroke, ...] = ()


@record
class TensionPeak(Record):
    """One peak of the weft tension within a pick."""

    moment: str
    at_deg: float
    tension_cn: float


@record
class BandSpeed(Record):
    """The speed at which the peak tension uses a share of the weft's weakest place."""

    strength_use_pct: float
    speed_picks_per_min: float
    insertion_rate_m_per_min: float


@record
class WeftOnLoom(Record):
    """One weft at the loom's speed.

    Attributes:
        weft: Its key in the construction; ``weft`` for one that was stated alone.
        bands: Speeds at which each band of use is reached.
        feeder_speed_m_per_min: Of each of its feeders.
        feeder_speed_with_one_more_m_per_min: The same with one more feeder in alternation.
    """

    weft: str
    designation: str | None = None
    linear_density_tex: float
    weakest_strength_cn: float
    base_tension_cn: float
    peak_tension_cn: float
    peak_at_deg: float
    peak_moment: str
    pick_up_jerk_cn: float | None = None
    stopping_jerk_cn: float | None = None
    strength_use_pct: float
    peaks: tuple[TensionPeak, ...] = ()
    bands: tuple[BandSpeed, ...] = ()
    feeders: int
    feeder_speed_m_per_min: float
    feeder_speed_limit_m_per_min: float
    feeder_speed_with_one_more_m_per_min: float


@record
class SweepPoint(Record):
    """One point of a sweep; the tension is that of the hardest weft."""

    speed_picks_per_min: float
    reed_width_cm: float
    limited_by: str | None = None
    insertion_rate_m_per_min: float
    peak_speed_m_per_s: float
    peak_tension_cn: float | None = None
    strength_use_pct: float | None = None


@record
class RateSheet(Answer):
    """How fast a loom inserts weft, what limits it, and what the weft suffers.

    Attributes:
        limited_by: Name of the limit that decides the speed.
        speed_limits_picks_per_min: Every limit of the speed, by name.
        wefts: Each weft; none where neither a weft nor a construction was stated.
        sweep: The points of the sweep that was asked for.
    """

    loom_id: str | None = None
    reed_width_cm: float
    speed_picks_per_min: float
    limited_by: str
    speed_limits_picks_per_min: Mapping[str, float]
    insertion_rate_m_per_min: float
    insertion_rate_limit_m_per_min: float
    insertion_rate_use_pct: float
    motion: Motion
    wefts: tuple[WeftOnLoom, ...] = ()
    sweep: tuple[SweepPoint, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    caution: str

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a point of the sweep; without a sweep, one a weft."""
        return [each.to_row() for each in self.sweep or self.wefts]

    def _page(self) -> Page:
        """Lay the sheet out, with the sweep as a table."""
        return Page(
            headline=f"{self.loom_id or 'loom'} at {cell(self.reed_width_cm)} cm: "
            f"{cell(self.insertion_rate_m_per_min)} m/min of weft",
            facts=[
                ("speed", self._speed_text()),
                ("motion", self._motion_text()),
                *((f"weft {each.weft}", _weft_text(each)) for each in self.wefts),
            ],
            header=("picks/min", "reed cm", "limited by", "weft m/min", "peak m/s", "use %"),
            rows=[_point_row(each) for each in self.sweep],
            remarks=[f"assumed: {len(self.assumptions)} values (sheet.assumptions)", self.caution],
        )

    def _speed_text(self) -> str:
        limits = ", ".join(
            f"{words(name)} {cell(value)}"
            for name, value in self.speed_limits_picks_per_min.items()
            if name != self.limited_by
        )
        others = f" (others: {limits})" if limits else ""
        return (
            f"{cell(self.speed_picks_per_min)} picks/min, limited by {words(self.limited_by)}"
            f"{others}; {cell(self.insertion_rate_use_pct)} % of "
            f"{cell(self.insertion_rate_limit_m_per_min)} m/min"
        )

    def _motion_text(self) -> str:
        motion = self.motion
        law = f", {words(motion.motion_law)}" if motion.motion_law else ""
        hand_overs = motion.hand_overs_per_min
        hand_over = "" if hand_overs is None else f", {cell(hand_overs)} hand-overs/min"
        return (
            f"{words(motion.system)}{law}: {cell(motion.insertion_time_ms)} ms from "
            f"{cell(motion.entry_deg)} to {cell(motion.exit_deg)} deg, peak "
            f"{cell(motion.peak_speed_m_per_s)} m/s{hand_over}"
        )


def _weft_text(weft: WeftOnLoom) -> str:
    yarn = weft.designation or f"{cell(weft.linear_density_tex)} tex"
    return (
        f"{yarn}: {cell(weft.peak_tension_cn)} cN at {cell(weft.peak_at_deg)} deg, "
        f"{cell(weft.strength_use_pct)} % of its weakest place"
    )


def _point_row(point: SweepPoint) -> tuple[object, ...]:
    return (
        point.speed_picks_per_min,
        point.reed_width_cm,
        words(point.limited_by),
        point.insertion_rate_m_per_min,
        point.peak_speed_m_per_s,
        point.strength_use_pct,
    )
