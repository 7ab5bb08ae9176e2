"""Stops, and looms that wait for their weaver: the finite-source queue.

A loom runs for a time, stops, waits until a weaver is free and is repaired. With N looms, c
weavers, running times exponential with mean ``run`` and repair times exponential with mean
``repair`` this is the queue M/M/c//N, solved here exactly. For one weaver and repairs that all take
the same time the formula of [ASHCROFT-1950] is exact; real repairs lie between the two, mostly
nearer to the exponential one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Final

import numpy as np

from weavability.textiles.assumptions import ValueBand
from weavability.textiles.field_marks import Since, Unit
from weavability.textiles.guards import SMALLEST, not_negative, positive, whole
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
    ratio = positive("mean_repair", mean_repair) / positive("mean_run", mean_run)
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
    p = positive("mean_repair", mean_repair) / positive("mean_run", mean_run)
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
    """How often a loom stops, for how long, and who mends it.

    Attributes:
        warp_stops_per_100k_picks: Warp stops in 100,000 picks.
        weft_stops_per_100k_picks: Weft stops in 100,000 picks.
        minutes_per_warp_stop: Mean time to mend a warp break, waiting not included.
        minutes_per_weft_stop: Mean time to mend a weft stop, waiting not included.
        looms_per_set: Looms that the weavers mind together.
        weavers: Weavers to that set; any of them mends any loom of it.

    Raises:
        InputError: A value is negative, or looms or weavers are not whole and 1 to 10,000.
    """

    warp_stops_per_100k_picks: float
    weft_stops_per_100k_picks: float
    minutes_per_warp_stop: float
    minutes_per_weft_stop: float
    looms_per_set: int
    weavers: int = 1

    @property
    def numbers(self) -> StopNumbers[float]:
        """What the efficiency depends on."""
        return StopNumbers(
            present=True,
            minutes_per_100k_picks=self.minutes_per_100k_picks,
            looms_per_set=self.looms_per_set,
            weavers=self.weavers,
        )

    def __post_init__(self) -> None:
        not_negative("warp_stops_per_100k_picks", self.warp_stops_per_100k_picks)
        not_negative("weft_stops_per_100k_picks", self.weft_stops_per_100k_picks)
        not_negative("minutes_per_warp_stop", self.minutes_per_warp_stop)
        not_negative("minutes_per_weft_stop", self.minutes_per_weft_stop)
        whole("looms_per_set", self.looms_per_set, least=1, most=MAX_MACHINES)
        whole("weavers", self.weavers, least=1, most=MAX_MACHINES)

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
        looms_per_set: Looms that the weavers mind together.
        weavers: Weavers to that set.
    """

    present: Truth
    minutes_per_100k_picks: N
    looms_per_set: N
    weavers: N


NO_STOP_RATES: Final[StopNumbers[float]] = StopNumbers(
    present=False, minutes_per_100k_picks=0.0, looms_per_set=1, weavers=1
)
"""The stops of a loom that states its efficiency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EfficiencyFacts:
    """Where the time of a loom goes; efficiency, stop loss and waiting loss make 100 %."""

    efficiency_pct: Annotated[float, "Running time, with exponential repair times"]
    stop_loss_pct: Annotated[float, "Time under repair"]
    waiting_loss_pct: Annotated[float, "Time waiting for a weaver"]
    efficiency_without_waiting_pct: Annotated[
        float, "What a weaver who is always at hand would reach"
    ]
    constant_repair_efficiency_pct: Annotated[
        float | None,
        "Running time if every repair takes the same time; null with several weavers, for whom it "
        "is not known exactly",
    ]
    weaver_load_pct: Annotated[
        float,
        "Share of a weaver's time that goes into repairs; walking, inspection and other duties "
        "are not included",
    ]
    stop_meets_busy_weaver_pct: Annotated[
        float, "Probability of waiting as met by a *stopping loom*: every weaver is at work"
    ]
    mean_wait_min: Annotated[float, "Mean wait of a stopped loom"]
    stops_per_loom_hour: Annotated[float, "Stops of one loom in an hour of the clock"]
    looms_per_set: Annotated[
        int, "Looms that the weavers mind together", Unit("looms"), Since("0.2")
    ]
    weavers: Annotated[int, "Weavers to those looms", Since("0.2")]
    all_weavers_busy_pct: Annotated[
        float,
        "Probability of waiting as a *time average*: share of the time in which every weaver is at "
        "work",
        Since("0.2"),
    ]
    all_looms_run_pct: Annotated[
        float, "Share of the time in which no loom of the set is stopped", Since("0.2")
    ]
    mean_stop_min: Annotated[float, "Mean time of a stop, wait and repair together", Since("0.2")]
    further_warp_stop_cost_pct: Annotated[
        float,
        "What one more warp stop in 100,000 picks costs, on every loom of the set",
        Unit("percentage points of efficiency"),
        Since("0.2"),
    ]
    further_weft_stop_cost_pct: Annotated[
        float,
        "What one more weft stop in 100,000 picks costs, on every loom of the set",
        Unit("percentage points of efficiency"),
        Since("0.2"),
    ]


NEGLIGIBLE_RATIO: Final = SMALLEST
"""Stopped over running time below which nothing is lost."""


@lru_cache(maxsize=4096)
def efficiency_from_stops(stops: StopRates, *, speed_picks_per_min: float) -> EfficiencyFacts:
    """Compute the efficiency of a loom from its stops and the work load of its weavers.

    Running time between stops = 100,000 picks ÷ speed ÷ stops; warp and weft stops are taken as
    one kind with the mean repair time of both.

    Args:
        stops: Stop rates, repair times, looms and weavers.
        speed_picks_per_min: Loom speed while it runs.

    Raises:
        InputError: The speed is not a positive number.
    """
    count, numbers = stops.stops_per_100k_picks, stops.numbers
    run_minutes = PICKS_BASE / positive("speed_picks_per_min", speed_picks_per_min)
    ratio = stops.minutes_per_100k_picks / run_minutes
    found = _efficiency_pct(numbers, ratio)
    looms, weavers = stops.looms_per_set, stops.weavers
    queue, between_stops_min = _never_stopped(looms), 0.0
    constant = found if weavers == 1 else None
    if ratio >= NEGLIGIBLE_RATIO:
        # The unit of time is the mean running time between two stops.
        queue = finite_source_queue(
            machines=looms, weavers=weavers, mean_run=1.0, mean_repair=ratio
        )
        between_stops_min = run_minutes / count
        if weavers == 1:
            running = constant_repair_running(machines=looms, mean_run=1.0, mean_repair=ratio)
            constant = running / looms * 100
    return EfficiencyFacts(
        efficiency_pct=found,
        stop_loss_pct=queue.in_repair / looms * 100,
        waiting_loss_pct=queue.waiting / looms * 100,
        efficiency_without_waiting_pct=100 / (1 + ratio),
        constant_repair_efficiency_pct=constant,
        weaver_load_pct=queue.in_repair / weavers * 100,
        stop_meets_busy_weaver_pct=queue.waiting_probability_of_stopping_machine * 100,
        mean_wait_min=queue.mean_wait * between_stops_min,
        stops_per_loom_hour=queue.running_share * count / run_minutes * 60,
        looms_per_set=looms,
        weavers=weavers,
        all_weavers_busy_pct=queue.all_weavers_busy_probability * 100,
        all_looms_run_pct=queue.all_running_probability * 100,
        mean_stop_min=queue.mean_down * between_stops_min,
        further_warp_stop_cost_pct=found
        - _efficiency_pct(numbers, ratio + stops.minutes_per_warp_stop / run_minutes),
        further_weft_stop_cost_pct=found
        - _efficiency_pct(numbers, ratio + stops.minutes_per_weft_stop / run_minutes),
    )


def _never_stopped(machines: int) -> QueueFacts:
    """Return the queue of looms that lose no time at stops."""
    return QueueFacts(
        machines=machines,
        running=float(machines),
        in_repair=0.0,
        waiting=0.0,
        all_running_probability=1.0,
        all_weavers_busy_probability=0.0,
        waiting_probability_of_stopping_machine=0.0,
        mean_wait=0.0,
        mean_down=0.0,
    )


_CELLS_AT_A_TIME: Final = 2**20
_CREW: Final = MAX_MACHINES + 1


def efficiency_pct(stops: StopNumbers[N], *, speed_picks_per_min: N) -> N:
    """Return the efficiency of :func:`efficiency_from_stops`, of a loom or of a column of them.

    Args:
        stops: Stop rates, repair times, looms and weavers.
        speed_picks_per_min: Loom speed while it runs.

    Raises:
        InputError: The speed is not a positive number.
    """
    run_minutes: N = PICKS_BASE / positive("speed_picks_per_min", speed_picks_per_min)
    ratio: N = stops.minutes_per_100k_picks / run_minutes
    if not isinstance(ratio, np.ndarray):
        return _efficiency_pct(stops, ratio)
    # Looms and weavers as one number, which a column compares quickly.
    ratio, crews = np.broadcast_arrays(ratio, stops.looms_per_set * _CREW + stops.weavers)
    found = np.full(ratio.shape, 100.0)
    lost = ratio >= NEGLIGIBLE_RATIO
    for crew in np.unique(crews[lost]).tolist():
        here = lost & (crews == crew)
        looms, weavers = divmod(int(crew), _CREW)
        found[here] = _efficiencies_pct(looms, weavers, ratio[here])
    return found


def efficiency_at(running: Running, *, speed_picks_per_min: float) -> float:
    """Return the efficiency of a loom at a speed, as stated or from its stops.

    Args:
        running: How the loom runs.
        speed_picks_per_min: Loom speed while it runs.

    Raises:
        InputError: The speed is not a positive number.
    """
    if isinstance(running, Efficiency):
        return running.efficiency_pct
    return efficiency_pct(running.numbers, speed_picks_per_min=speed_picks_per_min)


Running = Efficiency | StopRates
"""How a loom runs: at an efficiency, or with the stops from which it follows."""


def _efficiency_pct(stops: StopNumbers[float], ratio: float) -> float:
    if ratio < NEGLIGIBLE_RATIO:
        return 100.0
    looms, weavers = int(stops.looms_per_set), int(stops.weavers)
    in_repair = float(_in_repair(_remembered_shares(looms, weavers, ratio), weavers))
    return _running(looms, in_repair, ratio) / looms * 100


def _efficiencies_pct(looms: int, weavers: int, ratios: Floats) -> Floats:
    # Few speeds occur: most cloths run at a limit of the loom.
    distinct, back = np.unique(ratios, return_inverse=True)
    found = np.empty(len(distinct))
    at_a_time = max(1, _CELLS_AT_A_TIME // looms)
    for start in range(0, len(distinct), at_a_time):
        some = distinct[start : start + at_a_time]
        in_repair = _in_repair(_stopped_shares(looms, weavers, some), weavers)
        found[start : start + at_a_time] = _running(looms, in_repair, some) / looms * 100
    return found[back]


BREAKS_OF_NINE_LOOMS: Final = ((401 / 9, 327.53), (169 / 9, 23.94))
"""Mean and variance of the warp breaks of nine looms that wove the same length of the same warp: of
the published warps, the one with the greatest and the one with the least variance over mean
([TIPPETT-1950])."""

_VARIATIONS: Final = tuple((variance - mean) / mean**2 for mean, variance in BREAKS_OF_NINE_LOOMS)
"""Squares of the coefficient of variation between looms, beyond what chance alone explains."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStops:
    """The stops of an order, how far they may scatter, and what one more costs."""

    stops: Annotated[float, "Stops that are expected", Unit("stops")]
    poisson_deviation: Annotated[
        float, "Standard deviation of that number if each stop came by itself", Unit("stops")
    ]
    deviation: Annotated[
        ValueBand,
        "Standard deviation of that number as it was published of looms that wove the same: breaks "
        "are not Poisson, one warp or loom is worse than another",
        Unit("stops"),
    ]
    deviation_hours: Annotated[ValueBand, "The same in hours of the order", Unit("h")]
    further_warp_stop_hours: Annotated[
        float, "Hours that one more warp stop in 100,000 picks costs the order", Unit("h")
    ]
    further_weft_stop_hours: Annotated[
        float, "Hours that one more weft stop in 100,000 picks costs the order", Unit("h")
    ]


def order_stops(facts: EfficiencyFacts, *, hours: float) -> OrderStops:
    """Return the stops of an order that takes some hours, stops included.

    Looms that weave the same differ by more than chance: the variance of their stops was counted as
    ``S + (v·S)²``, with S stops expected and v the coefficient of variation between looms, 12 to
    38 % ([TIPPETT-1950], of warp breaks; taken for all stops). Length does not average v out, as an
    order stays on its loom.

    Args:
        facts: The efficiency of the loom at the speed of the order.
        hours: Hours of the order.

    >>> rates = StopRates(
    ...     warp_stops_per_100k_picks=6,
    ...     weft_stops_per_100k_picks=4,
    ...     minutes_per_warp_stop=1.5,
    ...     minutes_per_weft_stop=0.6,
    ...     looms_per_set=24,
    ...     weavers=2,
    ... )
    >>> facts = efficiency_from_stops(rates, speed_picks_per_min=500)
    >>> found = order_stops(facts, hours=200)
    >>> round(found.stops), round(found.poisson_deviation), round(found.deviation.high)
    (553, 24, 210)
    """
    count = hours * facts.stops_per_loom_hour
    low, high = sorted(math.sqrt(count + variation * count**2) for variation in _VARIATIONS)
    hours_per_stop = facts.mean_stop_min / 60
    return OrderStops(
        stops=count,
        poisson_deviation=math.sqrt(count),
        deviation=ValueBand(low, high),
        deviation_hours=ValueBand(low * hours_per_stop, high * hours_per_stop),
        further_warp_stop_hours=_longer(hours, facts, facts.further_warp_stop_cost_pct),
        further_weft_stop_hours=_longer(hours, facts, facts.further_weft_stop_cost_pct),
    )


def _longer(hours: float, facts: EfficiencyFacts, cost_pct: float) -> float:
    """Return the hours more that an order takes if the efficiency is lower by so much."""
    return hours * cost_pct / (facts.efficiency_pct - cost_pct)
