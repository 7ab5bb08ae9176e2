"""Starting values of weft insertion: what a loom leaves open about how the weft is carried.

Each has a band, in which the value is expected, and a grade; each that is used becomes an
assumption.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from weavability.looms.carriers import InsertionSetup, InsertionSystem, Rapiers
from weavability.looms.loom import Loom
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.shuttle_boxes import MOST_BOXES
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.sentences import Sentence, say


class Default(NamedTuple):
    """A starting value for a field that is not stated, with all that its assumption says of it."""

    value: float | MotionLaw | Rapiers
    unit: str | None
    reason: Sentence
    grade: Grade = Grade.COMMON_PRACTICE
    band: ValueBand | None = None


def _default(
    value: float,
    unit: str | None,
    low: float,
    high: float,
    reason: Sentence,
    grade: Grade | None = None,
) -> Default:
    return Default(value, unit, reason, grade or Grade.COMMON_PRACTICE, ValueBand(low, high))


def _window(
    entry_deg: float, exit_deg: float, reason: Sentence, grade: Grade
) -> dict[str, Default]:
    return {
        "entry_deg": _default(entry_deg, "deg", entry_deg - 15, entry_deg + 15, reason, grade),
        "exit_deg": _default(exit_deg, "deg", exit_deg - 15, exit_deg + 15, reason, grade),
    }


_FEEDER: Final = _default(
    0.5,
    "m",
    0.2,
    1.5,
    say("assumption.insertion.feeder", "common practice: feeder to the reed's edge"),
)
_SET_TENSION: Final = _default(
    0.3,
    "cN/tex",
    0.1,
    0.6,
    say(
        "assumption.insertion.set_tension",
        "common practice: about 0.5 cN/tex behind brake and guides, which add to it",
    ),
)
_JET_TENSION: Final = _default(
    0.1,
    "cN/tex",
    0.02,
    0.3,
    say(
        "assumption.insertion.jet_tension",
        "common practice: in flight the weft leaves the feeder nearly free",
    ),
)
_BRAKING: Final = _default(
    30.0,
    "cm",
    10.0,
    60.0,
    say("assumption.insertion.braking", "common practice: weft run in while braking"),
)
_WITHDRAWAL: Final = _default(
    2.0,
    None,
    1.0,
    4.0,
    say(
        "assumption.insertion.withdrawal",
        "from memory: μv² to set the yarn in motion, and as much again for the "
        "balloon at the feeder",
    ),
    Grade.FROM_MEMORY,
)
_FRICTION: Final = _default(
    0.2,
    None,
    0.15,
    0.3,
    say("assumption.insertion.friction", "yarn on a guide: [EXAM-CAPSTAN]"),
    Grade.SOURCE,
)
_MODULUS: Final = _default(
    3.0,
    None,
    2.0,
    4.0,
    say(
        "assumption.insertion.initial_modulus",
        "from memory: a yarn resists its first stretch more than that up to its "
        "break; one that breaks below 4 % stretches in proportion, and has 1",
    ),
    Grade.FROM_MEMORY,
)


def _wrap(wrap_deg: float, low: float, high: float, reason: Sentence) -> Default:
    return _default(wrap_deg, "deg", low, high, reason, Grade.FROM_MEMORY)


def _held(wrap: Default, base_tension: Default = _SET_TENSION) -> dict[str, Default]:
    """Return the starting values of how feeder, brake and guides hold the weft back."""
    return {
        "base_tension_cn_per_tex": base_tension,
        "withdrawal_factor": _WITHDRAWAL,
        "friction_coefficient": _FRICTION,
        "wrap_deg": wrap,
        "initial_modulus_times": _MODULUS,
    }


_STROKES: Final = {
    "motion_law": Default(
        MotionLaw.MODIFIED_SINE,
        None,
        say("assumption.insertion.motion_law", "common practice: a smooth law of low peak speed"),
    ),
    "overrun_cm": _default(
        1.0,
        "cm",
        0.0,
        4.0,
        say(
            "assumption.insertion.overrun",
            "from memory: the rapier has moved a little before the weft is taut in its clamp",
        ),
        Grade.FROM_MEMORY,
    ),
    "free_weft_length_m": _FEEDER,
    **_held(
        _wrap(
            180.0,
            90.0,
            360.0,
            say(
                "assumption.insertion.wrap_of_rapier",
                "from memory: brake, eyes and selector turn it through half a turn",
            ),
        )
    ),
}
_RAPIER: Final = {
    **_STROKES,
    "rapiers": Default(
        Rapiers.DOUBLE,
        None,
        say("assumption.insertion.rapiers", "common practice: a pair that hands over at mid-width"),
    ),
    **_window(
        60.0,
        300.0,
        say(
            "assumption.insertion.window_of_rapier",
            "rapiers are in the shed for two thirds of the cycle, 240 deg: [RAPIER-SERIES]",
        ),
        Grade.SOURCE,
    ),
    "transfer_deg": _default(
        180.0,
        "deg",
        170.0,
        190.0,
        say("assumption.insertion.transfer", "common practice: hand-over at mid-cycle"),
    ),
    "transfer_travel_cm": _default(
        1.0,
        "cm",
        0.0,
        4.0,
        say(
            "assumption.insertion.transfer_travel",
            "from memory: the taker has moved a little before it draws the weft",
        ),
        Grade.FROM_MEMORY,
    ),
}
_NEEDLE: Final = {
    **_STROKES,
    "picks_per_insertion": Default(
        2,
        None,
        say(
            "assumption.insertion.loop",
            "the needle lays the weft as a loop, two picks: [RAPIER-SERIES]",
        ),
        Grade.SOURCE,
    ),
    **_window(
        60.0,
        300.0,
        say(
            "assumption.insertion.window_of_needle",
            "common practice: a needle moves in and out in 240 deg",
        ),
        Grade.COMMON_PRACTICE,
    ),
    "transfer_deg": _default(
        180.0,
        "deg",
        170.0,
        190.0,
        say(
            "assumption.insertion.transfer_of_needle",
            "common practice: the needle turns at mid-cycle",
        ),
    ),
    "overrun_cm": _default(
        2.0,
        "cm",
        0.0,
        6.0,
        say(
            "assumption.insertion.overrun_of_needle",
            "from memory: a needle draws the weft from its own place of rest",
        ),
        Grade.FROM_MEMORY,
    ),
}
_PROJECTILE: Final = {
    **_window(
        110.0,
        260.0,
        say("assumption.insertion.window_of_projectile", "common practice: a flight of 150 deg"),
        Grade.COMMON_PRACTICE,
    ),
    "carrier_length_cm": _default(
        9.0,
        "cm",
        8.5,
        9.5,
        say(
            "assumption.insertion.projectile_length",
            "a projectile is 90 mm long: [PROJECTILE-NOTES]",
        ),
        Grade.SOURCE,
    ),
    "launch_length_cm": _default(
        6.5,
        "cm",
        5.0,
        8.0,
        say(
            "assumption.insertion.launch_of_projectile",
            "common practice: stroke of the picking lever",
        ),
    ),
    "stopping_length_cm": _BRAKING,
    "free_weft_length_m": _FEEDER,
    **_held(
        _wrap(
            180.0,
            90.0,
            360.0,
            say(
                "assumption.insertion.wrap_of_projectile",
                "from memory: brake, tensioner and eyes turn it through half a turn",
            ),
        )
    ),
}
_SHUTTLE: Final = {
    **_window(
        110.0,
        245.0,
        say(
            "assumption.insertion.window_of_shuttle",
            "a shuttle is in the shed for 135 deg: [SLIDES-2006]",
        ),
        Grade.SOURCE,
    ),
    "carrier_length_cm": _default(
        30.0,
        "cm",
        25.0,
        45.0,
        say("assumption.insertion.shuttle_length", "example of a shuttle of 0.30 m: [SLIDES-2006]"),
        Grade.SOURCE,
    ),
    "launch_length_cm": _default(
        20.0,
        "cm",
        15.0,
        25.0,
        say(
            "assumption.insertion.launch_of_shuttle",
            "common practice: stroke of the picker in the box",
        ),
    ),
    "free_weft_length_m": _default(
        0.2,
        "m",
        0.1,
        0.3,
        say(
            "assumption.insertion.free_weft_of_shuttle",
            "common practice: pirn to the eye of the shuttle",
        ),
    ),
    **_held(
        _wrap(
            180.0,
            90.0,
            360.0,
            say(
                "assumption.insertion.wrap_of_shuttle",
                "from memory: pirn end, tensioner and eye turn it through half a turn",
            ),
        )
    ),
}

NARROW_JET_CM: Final = 190.0
"""Reed width up to which a jet has its usual window."""

_NARROW_JET_WINDOW_DEG: Final = 140.0
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
    wider = max(0.0, reed_width_cm - NARROW_JET_CM) * _JET_DEG_PER_CM
    return min(_NARROW_JET_WINDOW_DEG + wider, _WIDE_JET_WINDOW_DEG)


def _jet(reed_width_cm: float, free_weft_length_m: float) -> dict[str, Default]:
    window = jet_window_deg(reed_width_cm)
    early = round((window - _NARROW_JET_WINDOW_DEG) / 2, 1)
    return {
        **_window(
            90.0 - early,
            230.0 + early,
            say(
                "assumption.insertion.window_of_jet",
                "common practice: a flight of {window_deg:.0f} deg on a loom of "
                "{reed_width_cm:.0f} cm",
                window_deg=window,
                reed_width_cm=reed_width_cm,
            ),
            Grade.ESTIMATE,
        ),
        "stopping_length_cm": _BRAKING,
        "free_weft_length_m": _FEEDER._replace(value=free_weft_length_m),
        **_held(
            _wrap(
                60.0,
                0.0,
                180.0,
                say(
                    "assumption.insertion.wrap_of_jet",
                    "from memory: few guides between feeder and nozzle",
                ),
            ),
            _JET_TENSION,
        ),
    }


_OF_ANY_WIDTH: Final[Mapping[InsertionSystem, Mapping[str, Default]]] = MappingProxyType(
    {
        InsertionSystem.RAPIER: MappingProxyType(_RAPIER),
        InsertionSystem.PROJECTILE: MappingProxyType(_PROJECTILE),
        InsertionSystem.SHUTTLE: MappingProxyType(_SHUTTLE),
        InsertionSystem.NEEDLE: MappingProxyType(_NEEDLE),
    }
)
_FREE_JET_WEFT_M: Final = {InsertionSystem.AIR_JET: 0.5, InsertionSystem.WATER_JET: 0.4}


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
    if system in _FREE_JET_WEFT_M:
        return _jet(reed_width_cm, _FREE_JET_WEFT_M[system])
    return _OF_ANY_WIDTH[system]


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
            "a box on one side, one for each weft on the other; common practice, no source",
        ),
        grade=Grade.COMMON_PRACTICE,
    )
