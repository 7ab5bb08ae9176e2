"""Thresholds of the trade by which the closeness of threads is judged, for the formulas of a cloth.

They are rows of ``data/thresholds.toml`` as all thresholds are, and a mill replaces them likewise:
``looms.thresholds`` puts its values in force here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any, Final, NamedTuple


class SettThresholds(NamedTuple):
    """What decides whether threads that are close lie in one plane, or hold one another.

    Attributes:
        sett_jammed_error_pct: Room that threads side by side take of what they have, up to which
            they flatten, as in the limit of every sett.
        sett_abreast_pct: Room that threads take which are abreast of one another: those that change
            sides in one gap, and those on one side of a thread that crosses them.
        sett_abreast_width_cm: Width of a cloth up to which so many may be abreast of one another.
        sett_touching_pct: Room that threads side by side take of what they have, in wider cloth,
            if they have room to pass.
        sett_over_pct: Tightness, as if all lay in one plane, up to which threads lie over one
            another.
        sett_holding_times: Cover of a set over that of the other up to which it helps to hold it:
            threads slip along those that cross them, however close these are.
    """

    sett_jammed_error_pct: float
    sett_abreast_pct: float
    sett_abreast_width_cm: float
    sett_touching_pct: float
    sett_over_pct: float
    sett_holding_times: float

    @property
    def most_touching(self) -> float:
        """Greatest share of their room that threads side by side take."""
        return self.sett_jammed_error_pct / 100.0

    @property
    def most_passing(self) -> float:
        """Greatest such share in cloth wider than webbing, of threads that pass one another."""
        return self.sett_touching_pct / 100.0

    @property
    def most_abreast(self) -> float:
        """Greatest share of their room that threads abreast of one another take."""
        return self.sett_abreast_pct / 100.0


@cache
def threshold_rows() -> Mapping[str, Any]:
    """Return the rows of ``data/thresholds.toml``, by name."""
    text = resources.files("weavability").joinpath("data/thresholds.toml").read_text("utf-8")
    rows: Mapping[str, Any] = tomllib.loads(text)
    return rows


_in_force: Final[list[SettThresholds]] = []


def sett_thresholds() -> SettThresholds:
    """Return the thresholds by which this process judges."""
    return _in_force[0] if _in_force else _shipped()


def put_sett_thresholds_in_force(thresholds: SettThresholds) -> None:
    """Judge by other thresholds from now on."""
    _in_force[:] = [thresholds]


@cache
def _shipped() -> SettThresholds:
    rows = threshold_rows()
    return SettThresholds(*(float(rows[name]["value"]) for name in SettThresholds._fields))
