"""Starting values of weft insertion: what a loom leaves open about how the weft is carried.

Values, bands, reasons and grades are in ``data/insertion_defaults.toml``; each one that is used
becomes an assumption.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from weavability.looms.carriers import InsertionSetup, InsertionSystem, Rapiers
from weavability.looms.loom import Loom
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.shuttle_boxes import MOST_BOXES
from weavability.looms.weft_tension import BRITTLE_PCT
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.sentences import Sentence, quoted, say, say_row


class Default(NamedTuple):
    """A starting value for a field that is not stated, with all that its assumption says of it."""

    value: float | MotionLaw | Rapiers
    unit: str | None
    reason: Sentence
    grade: Grade
    band: ValueBand | None


@cache
def _table() -> Mapping[str, Mapping[str, Any]]:
    text = resources.files("weavability").joinpath("data/insertion_defaults.toml")
    table: dict[str, dict[str, Any]] = tomllib.loads(text.read_text("utf-8"))
    return table


@cache
def _rows(system: InsertionSystem) -> Mapping[str, Mapping[str, Any]]:
    """Return value, unit, band, reason and grade of every field that a system has."""
    found = {}
    for field, row in _table()["insertion"].items():
        of_system = {
            name: row[f"{name}s"][system.value] if f"{name}s" in row else row.get(name)
            for name in ("value", "band", "reason", "grade")
            if system.value in row.get(f"{name}s", (system.value,))
        }
        if "value" in of_system:
            found[field] = {"unit": row.get("unit"), **of_system}
    return found


NARROW_JET_CM: Final = 190.0
"""Reed width up to which a jet has its usual window."""

_JETS: Final = (InsertionSystem.AIR_JET, InsertionSystem.WATER_JET)
_WIDE_JET_WINDOW_DEG: Final = 190.0
_JET_DEG_PER_CM: Final = 1 / 3


def jet_window_deg(reed_width_cm: float) -> float:
    """Return the part of the crank circle that a jet loom of a width gives to the flight.

    A wide loom keeps its shed open longer, as the weft cannot fly much faster. 140 degrees up to
    1.9 m, one more for every 3 cm of width, at most 190 (common practice for the ends; the line
    between is an estimate).

    >>> jet_window_deg(150.0), jet_window_deg(340.0)
    (140.0, 190.0)
    """
    narrow = _rows(_JETS[0])
    window_deg = float(narrow["exit_deg"]["value"] - narrow["entry_deg"]["value"])
    wider = max(0.0, reed_width_cm - NARROW_JET_CM) * _JET_DEG_PER_CM
    return min(window_deg + wider, _WIDE_JET_WINDOW_DEG)


def default_insertion(
    system: InsertionSystem, *, reed_width_cm: float = NARROW_JET_CM
) -> Mapping[str, Default]:
    """Return the starting values of an insertion system, for the fields that a loom leaves out.

    The keys are the fields of :class:`InsertionSetup`, except that the base tension is given per
    tex of weft, as ``base_tension_cn_per_tex``, and that ``initial_modulus_times`` belongs to the
    weft on this loom. Fields that do not apply are absent.

    Args:
        system: The insertion system.
        reed_width_cm: Greatest reed width of the loom, on which the window of a jet depends.

    >>> default_insertion(InsertionSystem.SHUTTLE)["carrier_length_cm"].value
    30.0
    """
    return _of_jet(system, reed_width_cm) if system in _JETS else _of_carrier(system)


def _defaults(system: InsertionSystem, reed_width_cm: float) -> Mapping[str, Default]:
    rows = _rows(system)
    window_deg = rows["exit_deg"]["value"] - rows["entry_deg"]["value"]
    early_deg = 0.0
    if system in _JETS:
        wide_deg = jet_window_deg(reed_width_cm)
        early_deg = round((wide_deg - window_deg) / 2, 1)
        window_deg = wide_deg
    values = {field: row["value"] for field, row in rows.items()}
    further = {
        "window_deg": window_deg,
        "reed_width_cm": reed_width_cm,
        "brittle_pct": BRITTLE_PCT,
    }
    earlier_deg = {"entry_deg": early_deg, "exit_deg": -early_deg}
    return MappingProxyType(
        {
            field: _default(field, row, {**values, **further}, earlier_deg.get(field, 0.0))
            for field, row in rows.items()
        }
    )


@cache
def _of_carrier(system: InsertionSystem) -> Mapping[str, Default]:
    return _defaults(system, NARROW_JET_CM)


_of_jet: Final = lru_cache(maxsize=256)(_defaults)


_CHOICES: Final = MappingProxyType({"motion_law": MotionLaw, "rapiers": Rapiers})


def _default(
    field: str, row: Mapping[str, Any], quotable: Mapping[str, float], less: float
) -> Default:
    """Return a starting value; a number and its band are ``less`` than those of the row."""
    value, band = row["value"], row["band"]
    if field in _CHOICES:
        value = _CHOICES[field](value)
    elif band is not None:
        value = value - less
        band = ValueBand(*(end - less for end in band))
    pattern = _table()["reasons"][row["reason"]]
    quotes = {each.name: quotable[each.name] for each in quoted(pattern)}
    reason = say_row(_key(row["reason"]), pattern, **quotes)
    return Default(value, row["unit"], reason, Grade(row["grade"]), band)


def _key(reason: str) -> str:
    return f"assumption.insertion.{reason}"


def patterns() -> Mapping[str, str]:
    """Return the reason of every starting value, by key."""
    return {_key(reason): pattern for reason, pattern in _table()["reasons"].items()}


_MOTION_FIELDS: Final = (
    "entry_deg",
    "transfer_deg",
    "exit_deg",
    "motion_law",
    "rapiers",
    "picks_per_insertion",
    "overrun_cm",
    "transfer_travel_cm",
    "carrier_length_cm",
    "launch_length_cm",
    "stopping_length_cm",
    "free_weft_length_m",
    "withdrawal_factor",
    "friction_coefficient",
    "wrap_deg",
)
_OF_WEFT: Final = ("base_tension_cn_per_tex", "initial_modulus_times")
"""What a loom states of its wefts; with a weft it becomes a tension and a modulus."""


def resolve_motion(loom: Loom, ledger: Ledger) -> tuple[InsertionSetup, dict[str, float]]:
    """Return the insertion as stated, completed by the starting values of its system.

    What follows the weft is returned apart; the base tension of the setup is 0.

    Raises:
        InputError: What is stated contradicts itself; pointers are relative to the loom.
    """
    system = loom.insertion.system
    defaults = default_insertion(system, reed_width_cm=loom.reed_width_cm)
    values: dict[str, Any] = {}
    for name in (*_MOTION_FIELDS, *_OF_WEFT):
        given = getattr(loom.insertion, name)
        if given is not None:
            values[name] = given
        elif name in defaults:
            usual = defaults[name]
            values[name] = ledger.note(
                f"/insertion/{name}",
                usual.value,
                unit=usual.unit,
                reason=usual.reason,
                grade=usual.grade,
                band=usual.band,
            )
    of_weft = {name: values.pop(name) for name in _OF_WEFT}
    with pointing_below("/insertion"):
        setup = InsertionSetup(system=system, base_tension_cn=0.0, **values)
    return setup, of_weft


def resolve_boxes(loom: Loom, selectors: int, ledger: Ledger) -> tuple[int, int]:
    """Return the shuttle boxes on the two sides; a loom without shuttles has one on each.

    Args:
        loom: The loom as stated.
        selectors: Wefts that it takes.
        ledger: Takes a note of an assumption.

    Raises:
        InputError: A loom without shuttles states boxes; the pointer is relative to the loom.
    """
    if loom.insertion.system is not InsertionSystem.SHUTTLE:
        if loom.boxes is not None:
            raise InputError.of(
                "/boxes",
                say(
                    "fault.loom.no_boxes",
                    "Insertion by {system} has no shuttle boxes.",
                    system=loom.insertion.system,
                ),
                given=list(loom.boxes),
                allowed="boxes of a shuttle loom",
            )
        return (1, 1)
    return ledger.take(
        "/boxes",
        loom.boxes,
        (1, min(selectors, MOST_BOXES)),
        unit=None,
        reason=say(
            "assumption.boxes.one_side",
            "a box on one side, one for each weft on the other; [COMMON-PRACTICE]",
        ),
        grade=Grade.COMMON_PRACTICE,
    )
