"""Stops, and looms that wait for their weaver: the finite-source queue.

A loom runs for a time, stops, waits until a weaver is free and is repaired. With N looms, c
weavers, running times exponential with mean ``run`` and repair times exponential with mean
``repair`` this is the queue M/M/c//N, solved here exactly. For one weaver and repairs that all take
the same time the formula of [ASHCROFT-1950] is exact; real repairs lie between the two, mostly
nearer to the exponential one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated, Final

import numpy as np

from weavability.looms.guards import not_negative, positive, whole
from weavability.textiles.numbers import Floats, N, Record, Truth, least

MAX_MACHINES: Final = 10_000
PICKS_BASE: Final = 100_000
"""Stops are counted per 100,000 picks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QueueFacts:
    """The steady state of ``machines`` looms and their weavers; means are time averages.

    Attributes:
        running: Machines that run.
        in_repair: Machines under repair, which is also the number of weavers at work.
        waiting: Machines that are stopped and wait for a weaver.
        all_running_probability: Share of the time in which no machine is stopped.
        all_weavers_busy_probability: Share of the time in which every weaver is at work. This is
            the "probability of waiting" of the time average.
        waiting_probability_of_stopping_machine: Share of the *stops* that find every weaver at
            work: what a stopping machine meets. It is the other "probability of waiting", and the
            smaller one, because a machine that stops is not itself under repair.
        mean_wait: Mean wait of a stopped machine for a weaver, in the unit of run and repair.
        mean_down: Mean wait and repair together.
    """

    machines: int
    running: float
    in_repair: float
    waiting: float
    all_running_probability: float
    all_weavers_busy_probability: float
    waiting_probability_of_stopping_machine: float
    mean_wait: float
    mean_down: float

    @property
    def running_share(self) -> float:
        """Running time of a machine as a share of all time."""
        return self.running / self.machines


def finite_source_queue(
    *, machines: int, weavers: int, mean_run: float, mean_repair: float
) -> QueueFacts:
    """Solve the queue M/M/c//N exactly.

    The probability of k stopped machines is proportional to the product of
    ``(N − j)·repair / (run·min(j + 1, c))`` over j < k. The products are summed as logarithms, so
    that nothing over- or underflows up to 10,000 machines.

    Args:
        machines: N, 1 to 10,000.
        weavers: c, 1 to 10,000.
        mean_run: Mean running time between stops of one machine; any unit of time.
        mean_repair: Mean repair time, in the same unit.

    Raises:
        InputError: A value is out of its domain.

    Six machines that run 20 h and need 2 h of repair, one repairer (Anderson, Sweeney, Williams,
    *An Introduction to Management Science*, ch. 11): all run 0.4845 of the time, 0.8451 are
    stopped, a stopped machine waits 1.279 h.

    >>> queue = finite_source_queue(machines=6, weavers=1, mean_run=20, mean_repair=2)
    >>> round(queue.all_running_probability, 4), round(6 - queue.running, 3)
    (0.4845, 0.845)
    >>> round(queue.mean_wait, 3)
    1.279
    """
    whole("machines", machines, least=1, most=MAX_MACHINES)
    whole("weavers", weavers, least=1, most=MAX_MACHINES)
    positive("mean_run", mean_run)
    positive("mean_repair", mean_repair)
    return _solve(machines, weavers, mean_repair / mean_run, mean_repair)


def _solve(machines: int, weavers: int, ratio: float, mean_repair: float) -> QueueFacts:
    """Solve for the ratio of repair to run; stops balance repairs, which gives the running."""
    share = _remembered_shares(machines, weavers, ratio)
    stopped = np.arange(machines + 1)
    waiting = float(share @ np.maximum(stopped - weavers, 0))
    in_repair = float(_in_repair(share, weavers))
    mean_wait = mean_repair * waiting / in_repair
    return QueueFacts(
        machines=machines,
        running=_running(machines, in_repair, ratio),
        in_repair=in_repair,
        waiting=waiting,
        all_running_probability=float(share[0]),
        all_weavers_busy_probability=float(share[weavers:].sum()),
        waiting_probability_of_stopping_machine=float(
            _stopped_shares(machines - 1, weavers, ratio)[weavers:].sum()
        ),
        mean_wait=mean_wait,
        mean_down=mean_wait + mean_repair,
    )


def _stopped_shares(machines: int, weavers: int, ratio: float | Floats) -> Floats:
    """Return the probabilities that 0, 1, …, N machines are stopped, along the last axis."""
    stopped = np.arange(machines)
    ratios = np.asarray(ratio)[..., np.newaxis]
    steps = np.log((machines - stopped) * ratios / np.minimum(stopped + 1, weavers))
    logs = np.concatenate((np.zeros_like(ratios), np.cumsum(steps, axis=-1)), axis=-1)
    weights = np.exp(logs - logs.max(axis=-1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=-1, keepdims=True))


@lru_cache(maxsize=16)
def _remembered_shares(machines: int, weavers: int, ratio: float) -> Floats:
    """Remember the probabilities of the last looms: one report needs them twice."""
    return _stopped_shares(machines, weavers, ratio)


def _in_repair(shares: Floats, weavers: int) -> Floats:
    """Return the machines under repair; summed by rows, so that a row alone has the same sum."""
    at_work = np.minimum(np.arange(shares.shape[-1], dtype=np.float64), weavers)
    return np.asarray((shares * at_work).sum(axis=-1))


def _running(machines: int, in_repair: N, ratio: N) -> N:
    """Return the machines that run: stops balance repairs."""
    return least(in_repair / ratio, float(machines))


def constant_repair_running(*, machines: int, mean_run: float, mean_repair: float) -> float:
    """Return the machines that run under one weaver if every repair takes the same time.

    ``N·Y / (1 + N·p·Y)`` with p = repair/run and Y the sum over i from 0 to N − 1 of
    C(N − 1, i) times the product of ``e^(j·p) − 1`` over j = 1 … i ([ASHCROFT-1950];
    checked by simulation).

    Args:
        machines: N, 1 to 10,000.
        mean_run: Mean running time between stops, exponential.
        mean_repair: The repair time, in the same unit.

    Raises:
        InputError: A value is out of its domain.

    >>> round(constant_repair_running(machines=6, mean_run=10, mean_repair=1), 4)
    5.2779
    """
    whole("machines", machines, least=1, most=MAX_MACHINES)
    positive("mean_run", mean_run)
    return _constant_repair(machines, positive("mean_repair", mean_repair) / mean_run)


def _constant_repair(machines: int, p: float) -> float:
    i = np.arange(1, machines)
    steps = np.log((machines - i) / i) + i * p + np.log(-np.expm1(-i * p))
    logs = np.concatenate(([0.0], np.cumsum(steps)))
    top = float(logs.max())
    inverse_sum = float(np.exp(-top) / np.exp(logs - top).sum())
    return machines / (inverse_sum + machines * p)


@dataclass(frozen=True, slots=True, kw_only=True)
class Efficiency:
    """The efficiency of a loom that states no stop rates.

    Attributes:
        efficiency_pct: Running time as a share of all time.
    """

    efficiency_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRates:
    """How often a loom stops, and for how long.

    Attributes:
        warp_stops_per_100k_picks: Warp stops in 100,000 picks.
        weft_stops_per_100k_picks: Weft stops in 100,000 picks.
        minutes_per_warp_stop: Mean time to mend a warp break, waiting not included.
        minutes_per_weft_stop: Mean time to mend a weft stop, waiting not included.
        looms_per_weaver: Looms that one weaver minds.

    Raises:
        InputError: A value is negative, or the looms are not a whole number from 1 to 10,000.
    """

    warp_stops_per_100k_picks: float
    weft_stops_per_100k_picks: float
    minutes_per_warp_stop: float
    minutes_per_weft_stop: float
    looms_per_weaver: int

    @property
    def numbers(self) -> StopNumbers[float]:
        """What the efficiency depends on."""
        return StopNumbers(
            present=True,
            minutes_per_100k_picks=self.minutes_per_100k_picks,
            looms_per_weaver=self.looms_per_weaver,
        )

    def __post_init__(self) -> None:
        not_negative("warp_stops_per_100k_picks", self.warp_stops_per_100k_picks)
        not_negative("weft_stops_per_100k_picks", self.weft_stops_per_100k_picks)
        not_negative("minutes_per_warp_stop", self.minutes_per_warp_stop)
        not_negative("minutes_per_weft_stop", self.minutes_per_weft_stop)
        whole("looms_per_weaver", self.looms_per_weaver, least=1, most=MAX_MACHINES)

    @property
    def stops_per_100k_picks(self) -> float:
        """All stops in 100,000 picks."""
        return self.warp_stops_per_100k_picks + self.weft_stops_per_100k_picks

    @property
    def minutes_per_100k_picks(self) -> float:
        """Time of mending in 100,000 picks."""
        return (
            self.warp_stops_per_100k_picks * self.minutes_per_warp_stop
            + self.weft_stops_per_100k_picks * self.minutes_per_weft_stop
        )


@dataclass(slots=True, kw_only=True)
class StopNumbers(Record[N]):
    """The stops of a loom in numbers; one that states its efficiency has ``present`` false.

    Attributes:
        minutes_per_100k_picks: Time of mending in 100,000 picks.
        looms_per_weaver: Looms that one weaver minds.
    """

    present: Truth
    minutes_per_100k_picks: N
    looms_per_weaver: N


NO_STOP_RATES: Final[StopNumbers[float]] = StopNumbers(
    present=False, minutes_per_100k_picks=0.0, looms_per_weaver=1
)
"""The stops of a loom that states its efficiency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EfficiencyFacts:
    """Where the time of a loom goes; efficiency, stop loss and waiting loss make 100 %."""

    efficiency_pct: Annotated[float, "Running time, with exponential repair times"]
    stop_loss_pct: Annotated[float, "Time under repair"]
    waiting_loss_pct: Annotated[float, "Time waiting for the weaver"]
    efficiency_without_waiting_pct: Annotated[
        float, "What a weaver who is always at hand would reach"
    ]
    constant_repair_efficiency_pct: Annotated[
        float, "Running time if every repair takes the same time"
    ]
    weaver_load_pct: Annotated[
        float,
        "Share of the weaver's time that goes into repairs; walking, inspection and other duties "
        "are not included. It is the probability of waiting as a *time average*",
    ]
    stop_meets_busy_weaver_pct: Annotated[
        float, "Probability of waiting as met by a *stopping loom*"
    ]
    mean_wait_min: Annotated[float, "Mean wait of a stopped loom"]
    stops_per_loom_hour: Annotated[float, "Stops of one loom in an hour of the clock"]


NEGLIGIBLE_RATIO: Final = 1e-12
"""Stopped over running time below which nothing is lost."""

NO_STOPS: Final = EfficiencyFacts(
    efficiency_pct=100.0,
    stop_loss_pct=0.0,
    waiting_loss_pct=0.0,
    efficiency_without_waiting_pct=100.0,
    constant_repair_efficiency_pct=100.0,
    weaver_load_pct=0.0,
    stop_meets_busy_weaver_pct=0.0,
    mean_wait_min=0.0,
    stops_per_loom_hour=0.0,
)
"""A loom that loses no time at stops."""


@lru_cache(maxsize=4096)
def efficiency_from_stops(stops: StopRates, *, speed_picks_per_min: float) -> EfficiencyFacts:
    """Compute the efficiency of a loom from its stops and its weaver's work load.

    Running time between stops = 100,000 picks ÷ speed ÷ stops; warp and weft stops are taken as
    one kind with the mean repair time of both.

    Args:
        stops: Stop rates, repair times, looms per weaver.
        speed_picks_per_min: Loom speed while it runs.

    Raises:
        InputError: The speed is not a positive number.
    """
    positive("speed_picks_per_min", speed_picks_per_min)
    looms, count = stops.looms_per_weaver, stops.stops_per_100k_picks
    run_minutes = PICKS_BASE / speed_picks_per_min
    stops_per_running_hour = count / run_minutes * 60
    ratio = stops.minutes_per_100k_picks / run_minutes
    if ratio < NEGLIGIBLE_RATIO:
        return replace(NO_STOPS, stops_per_loom_hour=stops_per_running_hour)
    queue = _solve(looms, 1, ratio, stops.minutes_per_100k_picks / count)
    return EfficiencyFacts(
        efficiency_pct=queue.running_share * 100,
        stop_loss_pct=queue.in_repair / looms * 100,
        waiting_loss_pct=queue.waiting / looms * 100,
        efficiency_without_waiting_pct=100 / (1 + ratio),
        constant_repair_efficiency_pct=_constant_repair(looms, ratio) / looms * 100,
        weaver_load_pct=queue.in_repair * 100,
        stop_meets_busy_weaver_pct=queue.waiting_probability_of_stopping_machine * 100,
        mean_wait_min=queue.mean_wait,
        stops_per_loom_hour=queue.running_share * stops_per_running_hour,
    )


_CELLS_AT_A_TIME: Final = 2**20


def efficiency_pct(stops: StopNumbers[N], *, speed_picks_per_min: N) -> N:
    """Return the efficiency of :func:`efficiency_from_stops`, of a loom or of a column of them.

    Args:
        stops: Stop rates, repair times, looms per weaver.
        speed_picks_per_min: Loom speed while it runs.

    Raises:
        InputError: The speed is not a positive number.
    """
    run_minutes: N = PICKS_BASE / positive("speed_picks_per_min", speed_picks_per_min)
    ratio: N = stops.minutes_per_100k_picks / run_minutes
    if not isinstance(ratio, np.ndarray):
        return _efficiency_pct(int(stops.looms_per_weaver), ratio)
    found = np.full(ratio.shape, 100.0)
    looms = np.broadcast_to(stops.looms_per_weaver, ratio.shape)
    lost = ratio >= NEGLIGIBLE_RATIO
    for machines in np.unique(looms[lost]).tolist():
        here = lost & (looms == machines)
        found[here] = _efficiencies_pct(int(machines), ratio[here])
    return found


def _efficiency_pct(looms: int, ratio: float) -> float:
    if ratio < NEGLIGIBLE_RATIO:
        return 100.0
    in_repair = float(_in_repair(_remembered_shares(looms, 1, ratio), 1))
    return _running(looms, in_repair, ratio) / looms * 100


def _efficiencies_pct(looms: int, ratios: Floats) -> Floats:
    # Few speeds occur: most cloths run at a limit of the loom.
    distinct, back = np.unique(ratios, return_inverse=True)
    found = np.empty(len(distinct))
    at_a_time = max(1, _CELLS_AT_A_TIME // looms)
    for start in range(0, len(distinct), at_a_time):
        some = distinct[start : start + at_a_time]
        in_repair = _in_repair(_stopped_shares(looms, 1, some), 1)
        found[start : start + at_a_time] = _running(looms, in_repair, some) / looms * 100
    return found[back]
