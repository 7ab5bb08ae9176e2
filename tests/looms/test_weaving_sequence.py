"""The best sequence against brute force, and against a library where the loom has no memory."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from scipy.optimize import Bounds, LinearConstraint, milp

from weavability.looms.changeover_rates import DEFAULT_RATES, ChangeoverRates, RateSpan
from weavability.looms.loom import SheddingKind
from weavability.looms.style_change import (
    NO_FURTHER,
    FurtherWarps,
    WarpRoute,
    changeover,
    further_warps,
)
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.warp_left import Beams
from weavability.looms.weaving_sequence import (
    OnLoom,
    Sequenced,
    best_sequence,
    follow,
    saved_band,
)

RATES = RateSpan(DEFAULT_RATES, DEFAULT_RATES, DEFAULT_RATES)
PLAIN = StyleOnLoom(
    ends=4800,
    reed_dents_per_10cm=120,
    ends_per_dent=2,
    threading=(1, 2),
    lift_plan="plain",
    weft_yarns=("A",),
    warp="white",
    shedding=SheddingKind.DOBBY,
    picks_per_cm=20,
    reed_width_cm=200,
)


@dataclass(frozen=True)
class Order:
    """A style on its own draft, and the other drafts that weave it."""

    own: StyleOnLoom
    also: frozenset[tuple[int, ...]]


class Mill:
    """Orders on one loom, and what their changes take."""

    def __init__(self, orders: list[Order]) -> None:
        self.orders = orders
        self.own = [order.own for order in orders]
        self.planned: dict[tuple[OnLoom, int], WarpRoute] = {}

    def plan(self, old: OnLoom, to: int) -> WarpRoute:
        if (old, to) not in self.planned:
            self.planned[old, to] = self._plan(old, to)
        return self.planned[old, to]

    def _plan(self, old: OnLoom, to: int) -> WarpRoute:
        own, also = self.own[to], self.orders[to].also
        threading = old.style.threading
        kept = replace(own, threading=threading) if threading in also else own
        return changeover(old.style, kept, own=own, left_m=old.left_m).taken

    def begin(self, place: int) -> FurtherWarps:
        style = self.own[place]
        return further_warps(style, (0.0,) * len(style.beams), range(len(style.beams)), RATES)

    def brute_force(self, on_loom: StyleOnLoom | None) -> float:
        now = None if on_loom is None else OnLoom.on_full_beams(on_loom)
        return min(
            follow(self.own, self.plan, self.begin, order, on_loom=now).hours
            for order in permutations(range(len(self.own)))
        )

    def best(self, on_loom: StyleOnLoom | None) -> Sequenced:
        now = None if on_loom is None else OnLoom.on_full_beams(on_loom)
        return best_sequence(self.own, self.plan, self.begin, on_loom=now)


DRAFTS = [(1, 2), (1, 2, 3, 4), (1, 2, 3, 4, 3, 2), (1, 2, 3, 4, 5)]

styles = st.builds(
    replace,
    st.just(PLAIN),
    ends=st.sampled_from([4600, 4800, 4850, 6000]),
    reed_dents_per_10cm=st.sampled_from([120, 130]),
    threading=st.sampled_from(DRAFTS),
    lift_plan=st.sampled_from(["plain", "twill", "satin"]),
    weft_yarns=st.sampled_from([("A",), ("B",), ("A", "B")]),
    warp=st.sampled_from(["white", "navy"]),
    beams=st.lists(
        st.builds(
            Beams,
            ends=st.just(2400),
            woven_m=st.sampled_from([300.0, 1600.0, 2100.0, 5000.0]),
            filling_m=st.sampled_from([2000.0, 4000.0]),
            m_per_h=st.just(14.0),
        ),
        min_size=2,
        max_size=2,
    ).map(tuple),
    picks_per_cm=st.sampled_from([18, 20]),
    reed_width_cm=st.sampled_from([180, 200]),
)
mills = st.lists(
    st.builds(Order, own=styles, also=st.frozensets(st.sampled_from(DRAFTS))),
    min_size=1,
    max_size=6,
).map(Mill)


@pytest.mark.slow
@given(mill=mills, on_loom=st.none() | styles)
@share_of_examples(0.5)
def test_no_permutation_stops_the_loom_for_less(mill: Mill, on_loom: StyleOnLoom | None) -> None:
    best = mill.best(on_loom)
    assert sorted(best.order) == list(range(len(mill.own)))
    now = None if on_loom is None else OnLoom.on_full_beams(on_loom)
    again = follow(mill.own, mill.plan, mill.begin, best.order, on_loom=now)
    assert best.hours == again.hours
    assert best.hours == pytest.approx(mill.brute_force(on_loom), abs=1e-4)


@pytest.mark.slow
@given(
    mill=st.lists(
        st.builds(Order, own=styles, also=st.frozensets(st.sampled_from(DRAFTS))),
        min_size=7,
        max_size=7,
    ).map(Mill)
)
@share_of_examples(0.05)
def test_no_permutation_of_seven_orders_stops_the_loom_for_less(mill: Mill) -> None:
    assert mill.best(None).hours == pytest.approx(mill.brute_force(None), abs=1e-4)


def shortest_path_through_all(hours: list[list[float]]) -> float:
    """Return the length of the shortest path through all points, by integer programming.

    A tour through the points and one more, which is at no distance from any, is such a path. The
    places of the points in it forbid shorter tours: Miller, Tucker and Zemlin (1960).
    """
    count = len(hours) + 1
    cost = np.zeros((count, count))
    cost[1:, 1:] = hours
    arcs, places = count * count, count
    rows, low, high = [], [], []

    def require(terms: dict[int, float], least: float, most: float) -> None:
        rows.append([terms.get(column, 0.0) for column in range(arcs + places)])
        low.append(least)
        high.append(most)

    for point in range(count):
        others = [other for other in range(count) if other != point]
        require({point * count + other: 1.0 for other in others}, 1, 1)
        require({other * count + point: 1.0 for other in others}, 1, 1)
        if point:
            for other in set(others) - {0}:
                arc = point * count + other
                terms = {arcs + point: 1.0, arcs + other: -1.0, arc: float(count)}
                require(terms, -np.inf, count - 1)
    loops = np.eye(count).ravel()
    found = milp(
        np.concatenate([cost.ravel(), np.zeros(places)]),
        constraints=LinearConstraint(np.array(rows), low, high),
        integrality=np.concatenate([np.ones(arcs), np.zeros(places)]),
        bounds=Bounds(0, np.concatenate([1 - loops, np.full(places, count)])),
    )
    assert found.success
    return float(found.fun)


@pytest.mark.slow
@given(own=st.lists(styles, min_size=2, max_size=7))
@share_of_examples(0.2)
def test_without_memory_of_the_draft_it_is_the_shortest_path_through_the_matrix(
    own: list[StyleOnLoom],
) -> None:
    """If every draft weaves one order alone, each is woven on its own, and the matrix decides."""
    apart = [
        replace(style, threading=tuple(range(1, place + 3))) for place, style in enumerate(own)
    ]
    mill = Mill([Order(style, frozenset()) for style in apart])
    hours = [
        [mill.plan(OnLoom.on_full_beams(old), to).stop_hours for to in range(len(apart))]
        for old in apart
    ]
    best = mill.best(None)
    assert best.stop_hours == pytest.approx(shortest_path_through_all(hours), abs=1e-4)


def test_the_loom_keeps_its_draft_so_the_matrix_alone_would_mislead() -> None:
    """Plain is woven on the draft of either twill, but each twill only on its own.

    Between the twills one drawing-in is needed in any sequence. On their own drafts, plain and the
    twills seem to need one at every change.
    """
    plain = Order(PLAIN, frozenset(DRAFTS))
    four = Order(replace(PLAIN, threading=DRAFTS[1], lift_plan="twill"), frozenset())
    point = Order(replace(PLAIN, threading=DRAFTS[2], lift_plan="zigzag"), frozenset())
    mill = Mill([four, plain, point, replace(plain, own=replace(PLAIN, lift_plan="rib"))])
    best = mill.best(None)
    drawn = [change.route for change in best.changes if change and change.route == "draw_in"]
    assert len(drawn) == 1
    assert best.order[0] in (0, 2)  # begun with a plain, both twills would be drawn in


def test_the_order_given_is_kept_if_none_is_better() -> None:
    own = [replace(PLAIN, lift_plan=name) for name in ("c", "a", "b")]
    assert Mill([Order(style, frozenset()) for style in own]).best(None).order == (0, 1, 2)


def test_a_further_warp_counts_as_a_change_does() -> None:
    """Worked by hand: 4.89 h for 4800 knots; the short cloth leaves 2700 m for the long one's 2100.

    Woven first, the long one needs two fillings of 2000 m, the second as a further warp.
    """

    def of(warp: str, woven_m: float, filling_m: float) -> Order:
        beams = Beams(ends=4800, woven_m=woven_m, filling_m=filling_m, m_per_h=14.0)
        return Order(replace(PLAIN, warp=warp, beams=(beams,)), frozenset())

    mill = Mill([of("white", 2100, 2000), of("white", 300, 3000), of("navy", 300, 2000)])
    given = follow(mill.own, mill.plan, mill.begin, (0, 1, 2))
    best = mill.best(None)
    assert (given.stop_hours, given.further_hours) == pytest.approx((4.89, 4.89))
    assert best.order.index(1) < best.order.index(0)
    assert (best.stop_hours, best.further_hours) == pytest.approx((4.89, 0.0))
    assert saved_band(given, best).low > 0


@pytest.mark.slow
def test_twelve_orders_on_as_many_drafts_are_searched() -> None:
    """All drafts unlike, and half of the orders are woven on any of them."""
    drafts = [tuple(range(1, shafts + 1)) for shafts in range(2, 8)]
    twills = [
        Order(replace(PLAIN, threading=each, lift_plan=str(each)), frozenset()) for each in drafts
    ]
    plains = [
        Order(
            replace(PLAIN, lift_plan=f"plain {place}", picks_per_cm=15 + place), frozenset(drafts)
        )
        for place in range(6)
    ]
    best = Mill([*plains, *twills]).best(PLAIN)
    drawn = [change.route for change in best.changes if change and change.route == "draw_in"]
    assert len(drawn) == 5  # every draft but that on the loom, once


def test_rates_of_nothing_make_all_sequences_alike() -> None:
    rates = ChangeoverRates(minutes_for_design=0)
    own = [replace(PLAIN, lift_plan=name) for name in ("b", "a")]
    found = best_sequence(
        own,
        lambda old, to: changeover(old.style, own[to], rates=rates).taken,
        lambda place: NO_FURTHER,
    )
    assert (found.order, found.stop_hours) == ((0, 1), 0)
