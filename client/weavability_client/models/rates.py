"""The answer to an insertion-rate request."""

from __future__ import annotations

import json
from collections.abc import Iterable

from weavability_client._record import Scalar
from weavability_client.models._generated import RateSheetFields, SweepPoint, WeftOnLoom
from weavability_client.models.answer import Answer, Page
from weavability_client.tables import cell, words


class RateSheet(RateSheetFields, Answer):
    """The weft insertion of a loom; its fields are those of ``RateSheetFields``."""

    __slots__ = ()

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a point of the sweep; without a sweep, one a weft.

        The codes that a point is beyond, or what is found at the setting, are a list in JSON.
        """
        if self.sweep:
            return [each.to_row() | {"beyond": _codes(each.beyond)} for each in self.sweep]
        found = _codes(each.code for each in self.findings or ())
        return [each.to_row() | {"findings": found} for each in self.wefts]

    def _page(self) -> Page:
        """Lay the sheet out, with the sweep as a table."""
        return Page(
            headline=f"{self.loom_id or 'loom'} at {cell(self.reed_width_cm)} cm: "
            f"{cell(self.insertion_rate_m_per_min)} m/min of weft",
            facts=[
                ("speed", self._speed_text()),
                ("motion", self._motion_text()),
                *((_name(each), _weft_text(each)) for each in self.wefts),
            ],
            rows=list(map(_point_row, self.sweep)),
            remarks=list(map(str, self.findings or ())),
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


def _name(weft: WeftOnLoom) -> str:
    """Return the heading of a weft; one that is stated beside a loom has no name of its own."""
    return "weft" if weft.weft == "weft" else f"weft {weft.weft}"


def _weft_text(weft: WeftOnLoom) -> str:
    yarn = weft.designation or f"{cell(weft.linear_density_tex)} tex"
    return (
        f"{yarn}: {cell(weft.peak_tension_cn)} cN at {cell(weft.peak_at_deg)} deg, "
        f"{cell(weft.strength_use_pct)} % of its weakest place"
    )


def _point_row(point: SweepPoint) -> dict[str, object]:
    return {
        "picks/min": point.speed_picks_per_min,
        "reed cm": point.reed_width_cm,
        "limited by": words(point.limited_by),
        "weft m/min": point.insertion_rate_m_per_min,
        "peak m/s": point.peak_speed_m_per_s,
        "use %": point.strength_use_pct,
        "beyond": ", ".join(point.beyond or ()),
    }


def _codes(codes: Iterable[str] | None) -> str:
    return json.dumps([str(each) for each in codes or ()])
