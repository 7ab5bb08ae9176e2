"""The work of a request: known before it is done, bounded, and counted for its caller.

One unit is an order judged on one loom: two to four milliseconds. What is tried for its remedies is
counted beside it, and yarns beyond the first few. A million crossings of a design are
``UNITS_OF_A_MILLION_CROSSINGS``. A request may do ``MOST_UNITS``, a line
of a batch as much. The crossings that one judgement holds in memory are bounded apart, a worker
computes one large design at a time, and of smaller ones so many crossings at once: who comes
meanwhile is answered 503.

Without a request, as in an archive or on the command line, nothing is counted.
"""

from __future__ import annotations

import math
import select
import socket
import time
from dataclasses import dataclass, field
from threading import Lock
from typing import Final

from flask import g, has_request_context, request

from weavability.service.http import problems
from weavability.service.http.freed_memory import give_back
from weavability.service.http.problems import ProblemError
from weavability.textiles.construction import Construction
from weavability.textiles.sentences import Sentence, say
from weavability.textiles.weave_structure import MAX_KEPT_CELLS

UNITS_OF_A_MILLION_CROSSINGS: Final = 20
MOST_UNITS: Final = 12_000
"""Of one request: 10 000 links that are polled, or four designs of the largest size."""

MOST_CROSSINGS_AT_ONCE: Final = 150_000_000
"""Of all designs of one judgement: one of the largest size, and the plans by which it is stated."""

UNITS_OF_A_LINE: Final = 0.1
"""To read a line of a batch, beside what is judged of it: one with faults takes as long."""

UNITS_OF_A_PROBE: Final = 0.1
UNITS_OF_A_PROOF: Final = 0.25
"""Of what is tried for the remedies of an order, whose number is known when they are found."""

FEW_YARNS: Final = 8
"""Of warp and weft together; orders of so few yarns cost alike."""

YARNS_A_UNIT: Final = 16
"""Yarns beyond these that cost as much as the order without them."""

UNITS_OF_REQUIREMENTS: Final = 2
"""An order that requires figures of its finished cloth, over one that does not."""

MOST_UNITS_OF_VALUES: Final = 1_000
"""Of trying the assumed values of an order, on all looms of a request."""

LARGE_CROSSINGS: Final = 16_000_000
"""A design from here on is computed alone in its worker."""

MIDDLE_CROSSINGS: Final = MAX_KEPT_CELLS
"""Designs beyond share what a worker computes at once."""

MOST_MIDDLE_AT_ONCE: Final = 64_000_000
"""Crossings of all of them: fifteen of the smallest, four of the largest."""

GIVEN_BACK_CROSSINGS: Final = 1_000_000
"""What larger designs took is given back to the system when they are answered: that costs a few
milliseconds, and they a hundred or more."""

READINGS_OF_A_VALUE: Final = 4
"""How often an order is read for each assumed value that may turn its verdict, about."""

RETRY_AFTER_LARGE_S: Final = 2
_LOOK_EVERY_S: Final = 0.5


class _Shared:
    """The crossings that are computed at once in this worker."""

    def __init__(self) -> None:
        self._lock = Lock()
        self.taken = 0

    def take(self, crossings: int) -> bool:
        """Take room for ``crossings``; return whether there was as much."""
        with self._lock:
            if self.taken + crossings > MOST_MIDDLE_AT_ONCE:
                return False
            self.taken += crossings
            return True

    def give_back(self, crossings: int) -> None:
        """Let others have what was taken."""
        with self._lock:
            self.taken -= crossings


_large = Lock()
_middle: Final = _Shared()


class UsedUpError(ProblemError):
    """The request has done, or asks for, more work than one may."""


@dataclass(slots=True)
class Meter:
    """What a request has done so far.

    Attributes:
        units: Of the whole request; a batch counts all of its lines.
        before: Units of the lines before this one, which its bound leaves out.
        crossings: Of the designs that are held at once.
        shared: Crossings that it has taken of those that designs of middle size share.
        holds_large: Whether it is the one that computes a large design.
        order: Units of the order that was counted last; 0 before any.
        values: Units of the assumed values that are tried.
        decided: Looms on which they are.
        looked_at_s: When the caller was last seen to be there.
    """

    units: float = 0.0
    before: float = 0.0
    crossings: int = 0
    shared: int = 0
    holds_large: bool = False
    order: float = 0.0
    values: float = 0.0
    decided: int = 0
    looked_at_s: float = field(default_factory=time.monotonic)


def begin() -> None:
    """Begin to count the request at hand."""
    g.work = Meter()


def end() -> float:
    """Let others compute large designs; called when the request is over, whatever came of it.

    Returns:
        The units that it has done.
    """
    meter: Meter | None = g.get("work")
    if meter is None:
        return 0.0
    _release(meter)
    return meter.units


def units_done() -> int:
    """Return the units that the request at hand has done; each counts as one at least."""
    meter: Meter = g.work
    return max(1, math.ceil(meter.units))


def next_item(*, bounded: bool) -> None:
    """Begin the next item of many in one request: what the last one held is free again.

    Args:
        bounded: Whether the items share the bound of the request; those of a batch do not.
    """
    meter: Meter = g.work
    if not bounded:
        meter.units += UNITS_OF_A_LINE
    _release(meter)
    meter.values, meter.decided = 0.0, 0
    if not bounded:
        meter.before = meter.units
    _look(meter)


def spend(units: float) -> None:
    """Count units of work that is about to be done; what is refused is not counted.

    Raises:
        UsedUpError: 413, the request asks for too much.
    """
    meter = _meter()
    if meter is None:
        return
    if _is_too_much(meter, units):
        raise UsedUpError(
            kind=problems.TOO_MUCH_WORK,
            detail=say(
                "problem.too_many_units",
                "One request may do {most_units} units of work: one for each "
                "order on each loom, and {units_per_million_crossings} for each "
                "million crossings of a design. Ask for less at once, or of a smaller design.",
                most_units=MOST_UNITS,
                units_per_million_crossings=UNITS_OF_A_MILLION_CROSSINGS,
            ),
        )
    meter.units += units
    _look(meter)


def yarns_beyond_few(order: Construction) -> int:
    """Return how many yarns more than a few an order has."""
    return max(0, len(order.warp.yarns) + len(order.weft.yarns) - FEW_YARNS)


def units_of(order: Construction) -> float:
    """Return the units that an order takes on one loom, its remedies apart."""
    own = 1 + yarns_beyond_few(order) / YARNS_A_UNIT
    return own if order.requirements is None else UNITS_OF_REQUIREMENTS * own


def spend_order(order: Construction, *, looms: int = 1) -> None:
    """Count an order that is about to be judged; what is tried for it then counts too.

    Raises:
        ProblemError: 413, the request asks for too much.
    """
    meter = _meter()
    if meter is not None:
        meter.order = units_of(order)
        spend(meter.order * looms)


def spend_trials(probes: int, proofs: int) -> None:
    """Count what was tried for the remedies of the order that was counted last.

    Raises:
        ProblemError: 413, the request asks for too much.
    """
    meter = _meter()
    if meter is not None:
        spend(meter.order * (UNITS_OF_A_PROBE * probes + UNITS_OF_A_PROOF * proofs))


def spend_values(order: Construction, values: int) -> None:
    """Count the assumed values of an order that are about to be tried on a loom.

    Raises:
        ProblemError: 413, they are too many.
    """
    meter = _meter()
    if meter is None:
        return
    units = values * units_of(order)
    meter.values += units
    meter.decided += 1
    if meter.values > MOST_UNITS_OF_VALUES:
        raise ProblemError(kind=problems.TOO_MUCH_WORK, detail=_too_many_values(values, meter))
    spend(units)
    spend_readings(
        order.weave.matrix.size,
        READINGS_OF_A_VALUE * values,
        instead=say("part.no_decisive_assumptions", "leave out options.decisive_assumptions"),
    )


def _too_many_values(values: int, meter: Meter) -> Sentence:
    if meter.decided == 1:
        return say(
            "problem.too_many_assumed_values",
            "To try the {values} assumed values of this order takes {units:.0f} units of work "
            "on a loom; one request may spend {most_units} on that. State more of the yarns, "
            "or leave out options.decisive_assumptions.",
            values=values,
            units=meter.values,
            most_units=MOST_UNITS_OF_VALUES,
        )
    return say(
        "problem.too_many_assumed_values_on_looms",
        "To try the assumed values of this order takes {units:.0f} units of work on the first "
        "{looms} of the looms alone; one request may spend {most_units} on all. Name fewer than "
        "{looms} looms in loom_ids, state more of the yarns, or leave out "
        "options.decisive_assumptions.",
        units=meter.values,
        looms=meter.decided,
        most_units=MOST_UNITS_OF_VALUES,
    )


def spend_crossings(crossings: int) -> None:
    """Count a design that is about to be made.

    Raises:
        ProblemError: 413, the designs are too large together; 503, other large designs are being
            computed in this worker.
    """
    meter = _meter()
    if meter is None:
        return
    together = meter.crossings + crossings
    if together > MOST_CROSSINGS_AT_ONCE:
        raise ProblemError(
            kind=problems.TOO_MUCH_WORK,
            detail=say(
                "problem.too_many_crossings",
                "The designs of this request have {crossings} crossings "
                "together; at most {most_crossings} can be computed at once. "
                "Send smaller designs, or one alone.",
                crossings=together,
                most_crossings=MOST_CROSSINGS_AT_ONCE,
            ),
        )
    spend(crossings * UNITS_OF_A_MILLION_CROSSINGS / 1e6)
    if together > LARGE_CROSSINGS:
        if not meter.holds_large and not _large.acquire(blocking=False):
            raise _busy()
        meter.holds_large = True
    elif together > MIDDLE_CROSSINGS:
        if not _middle.take(together - meter.shared):
            raise _busy()
        meter.shared = together
    meter.crossings = together


def _busy() -> ProblemError:
    return ProblemError(
        kind=problems.BUSY,
        detail=say("problem.busy", "Another large design is being computed; this one has to wait."),
        headers={"Retry-After": str(RETRY_AFTER_LARGE_S)},
    )


def spend_readings(crossings: int, readings: float, *, instead: Sentence) -> None:
    """Count a design that is about to be read again; one that is remembered costs nothing.

    Args:
        crossings: Of the design.
        readings: How often it is read.
        instead: What the caller can do if that is too often.

    Raises:
        ProblemError: 413, the request asks for too much.
    """
    meter = _meter()
    if meter is None or crossings <= MAX_KEPT_CELLS:
        return
    units = readings * crossings * UNITS_OF_A_MILLION_CROSSINGS / 1e6
    if _is_too_much(meter, units):
        raise ProblemError(
            kind=problems.TOO_MUCH_WORK,
            detail=say(
                "problem.too_many_readings",
                "The design has {crossings} crossings and would be read {readings:.0f} times for "
                "this, which takes {units:.0f} units of work; one request may do {most_units}. "
                "Use a smaller design, or {instead}.",
                crossings=crossings,
                readings=readings,
                units=units,
                most_units=MOST_UNITS,
                instead=instead,
            ),
        )
    spend(units)


def _is_too_much(meter: Meter, units: float) -> bool:
    return meter.units + units - meter.before > MOST_UNITS


def _meter() -> Meter | None:
    return g.get("work") if has_request_context() else None


def _release(meter: Meter) -> None:
    """Give back what designs took: their memory to the system, and their place to others."""
    if meter.crossings > GIVEN_BACK_CROSSINGS:
        give_back()
    meter.crossings = 0
    _middle.give_back(meter.shared)
    meter.shared = 0
    if meter.holds_large:
        meter.holds_large = False
        _large.release()


def _look(meter: Meter) -> None:
    """See by time whether the caller is there: units say little of what is refused."""
    now_s = time.monotonic()
    if now_s - meter.looked_at_s >= _LOOK_EVERY_S:
        meter.looked_at_s = now_s
        _stop_if_nobody_waits()


def _stop_if_nobody_waits() -> None:
    """End long work whose caller has hung up; a caller that still waits sends nothing meanwhile."""
    sock: socket.socket | None = request.environ.get("gunicorn.socket")
    if sock is None or not select.select([sock], [], [], 0)[0]:
        return
    if not sock.recv(1, socket.MSG_PEEK | socket.MSG_DONTWAIT):
        raise ConnectionResetError("the caller has hung up")
