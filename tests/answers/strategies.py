"""Constructions and looms over the whole range that a request may have, good sense or not."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import replace
from functools import cache, lru_cache
from typing import Any, TypeVar

import numpy as np
from hypothesis import strategies as st

from weavability.looms.carriers import InsertionSystem, Rapiers
from weavability.looms.loom import (
    Band,
    BeamArrangement,
    CurvePoint,
    Insertion,
    Loom,
    Running,
    Shedding,
    SheddingKind,
    WarpBeam,
    WarpStrain,
)
from weavability.looms.motion_laws import MotionLaw
from weavability.textiles.construction import (
    Allowances,
    Construction,
    DraftRequest,
    Finish,
    Finishing,
    PieceOrder,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
    Stage,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.fibres import fibres
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

T = TypeVar("T")
H = TypeVar("H", bound=Hashable)

# A strategy is dear to make and cheap to draw from: those made while drawing are made once.


@lru_cache(maxsize=None, typed=True)
def one_of(*values: H) -> st.SearchStrategy[H]:
    return st.sampled_from(values)


@cache
def _maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


def maybe(strategy: st.SearchStrategy[T]) -> st.SearchStrategy[T | None]:
    return _maybe(strategy)


@cache
def over(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers from ``low`` to ``high``, every order of magnitude alike, now and then an end."""
    bottom, top = math.log(low) - 0.1, math.log(high) + 0.1
    return st.floats(bottom, top).map(
        lambda log: min(max(float(f"{math.exp(log):.6g}"), low), high)
    )


@cache
def up_to(high: float) -> st.SearchStrategy[float]:
    return st.just(0.0) | over(high / 1e5, high)


@cache
def nil_or(low: float, high: float) -> st.SearchStrategy[float]:
    return st.just(0.0) | over(low, high)


DESIGNATIONS = (
    *(
        "20 tex",
        "R 40 tex/2",
        "20 tex x 2",
        "150 dtex f48",
        "75 den",
        "Ne 30",
        "Ne 30/2",
        "Nm 60/2",
    ),
    *("worsted 2/48", "linen 25 lea", "silk 40/2", "jute 8 lb", "Ne 30 + Ne 40", "0.1 tex"),
)
NAMES = (
    *("plain", "2/1 twill Z", "3/1 twill S", "2/2 twill Z", "5-end satin move 2", "2/2 hopsack"),
    *("8-end satin move 3", "2/2 warp rib", "2/2 weft rib", "2/2 herringbone 8", "27-end satin"),
    *("48-end satin move 7", "500-end satin move 7"),
)

by_count = st.builds(Yarn, designation=st.sampled_from(DESIGNATIONS))
by_tex = st.builds(
    Yarn,
    linear_density_tex=over(0.5, 5000.0),
    fibre=st.sampled_from([fibre.key for fibre in fibres()]),
)
weak = st.builds(
    Yarn,
    linear_density_tex=over(0.5, 5000.0),
    tenacity_cn_per_tex=over(0.1, 1000.0),
    strength_cv_pct=st.sampled_from((0.0, 10.0, 33.0, 34.0, 50.0)),
    breaking_elongation_pct=over(0.1, 1500.0),
    packing_fraction=maybe(over(0.1, 1.0)),
    fibre_density_g_per_cm3=maybe(over(0.5, 20.0)),
)
peculiar = st.sampled_from(
    (
        Yarn(designation="220 dtex f1", fibre="nylon"),
        Yarn(designation="111 tex", fibre="polypropylene tape"),
        Yarn(linear_density_tex=200.0, fibre="carbon", tape_width_mm=2.0),
        Yarn(designation="44 dtex", fibre="elastane", elastane_draft=3.0),
        Yarn(designation="44 dtex", fibre="elastane"),
        Yarn(designation="Ne 16 + 78 dtex", fibre="cotton/elastane"),
        Yarn(designation="Ne 60 Z 1500", fibre="cotton"),
        Yarn(designation="75 den f36 t0"),
        Yarn(designation="75 den f36 S 600"),
        Yarn(sample_length_yd=120.0, sample_mass_grains=25.0, fibre="cotton slub"),
        Yarn(linear_density_tex=30.0, fibre="steel"),
    )
)
yarns = by_count | by_tex | weak | peculiar

THREAD_ORDERS = {
    1: ("A", "7A"),
    2: ("A B", "24A 4B 24A 8B", "500A 1B"),
    3: ("3(2A 2B) 4C", "A B C"),
}


base_tensions: st.SearchStrategy[dict[str, float]] = st.one_of(
    st.just({}),
    over(0.01, 20.0).map(lambda tension: {"base_tension_cn_per_tex": tension}),
    over(0.1, 50.0).map(lambda share: {"base_tension_pct": share}),
)


@cache
def either_of(
    crimps: st.SearchStrategy[float], contractions: st.SearchStrategy[float]
) -> st.SearchStrategy[dict[str, Any]]:
    return st.builds(dict, crimp_pct=crimps) | st.builds(dict, contraction_pct=contractions)


@cache
def some_of(keys: str) -> st.SearchStrategy[set[str]]:
    return st.sets(st.sampled_from(keys))


def stated_crimps(
    draw: st.DrawFn, chosen: dict[str, Yarn], either: st.SearchStrategy[dict[str, Any]]
) -> tuple[dict[str, Yarn], dict[str, Any]]:
    """Crimp or contraction of some yarns and of their set, neither stated twice nor for none."""
    own = draw(some_of("".join(sorted(chosen)))) if draw(st.booleans()) else set()
    stated = {
        key: replace(yarn, **draw(either)) if key in own else yarn for key, yarn in chosen.items()
    }
    of_set = None if len(own) == len(chosen) else draw(maybe(either))
    return stated, of_set or {}


@cache
@st.composite
def thread_systems(draw: st.DrawFn) -> ThreadSystem:
    count = draw(one_of(1, 1, 2, 3))
    chosen = {key: draw(yarns) for key in "ABC"[:count]}
    chosen, of_set = stated_crimps(draw, chosen, either_of(up_to(300.0), up_to(75.0)))
    order = draw(one_of(*THREAD_ORDERS[count]))
    return ThreadSystem(
        yarns=chosen,
        order=order if count > 1 or draw(st.booleans()) else None,
        threads_per_cm=draw(over(0.5, 500.0)),
        **of_set,
    )


@st.composite
def on_beams(draw: st.DrawFn, systems: st.SearchStrategy[ThreadSystem]) -> ThreadSystem:
    """A warp, its first yarn on a beam of its own if it has several."""
    warp = draw(systems)
    if len(warp.yarns) == 1 or draw(st.booleans()):
        return warp
    first, *others = warp.yarns
    # A pile ratio is in place of the crimp of a yarn.
    by_crimp = any(
        (warp.yarns[key].crimp_pct, warp.yarns[key].contraction_pct) != (None, None)
        for key in others
    )
    ratios = st.none() if by_crimp else maybe(one_of(1.0, 1.2, 5.2))
    other = WarpGroup(
        name="other",
        yarns=tuple(others),
        pile_ratio=draw(ratios),
        density_g_per_cm3=draw(maybe(over(0.05, 10.0))),
    )
    return replace(warp, beams=(WarpGroup(name="first", yarns=(first,)), other))


@st.composite
def matrices(draw: st.DrawFn, most: int = 24) -> Weave:
    shape = draw(st.tuples(st.integers(1, most), st.integers(1, most)))
    generator = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    return Weave(matrix=generator.integers(0, 2, shape, dtype=np.uint8))


@st.composite
def striped(draw: st.DrawFn) -> Weave:
    """Plain beside satin: columns that differ in how many ends weave alike."""
    plain, satin = parse_weave("plain").matrix, parse_weave("5-end satin move 2").matrix
    left = np.tile(plain, (5, draw(st.integers(1, 40))))
    right = np.tile(satin, (2, draw(st.integers(1, 40))))
    return Weave(matrix=np.hstack([left, right]))


selvedge_weaves = st.sampled_from(
    ("plain", "2/2 weft rib", "2/2 warp rib", "3/1 twill Z", "5-end satin move 2")
).map(parse_weave)
weaves = st.sampled_from(NAMES).map(parse_weave) | matrices() | striped()

threadings = st.sampled_from(("straight", "point", "skip", "wild", "")) | st.lists(
    st.integers(1, 64), min_size=1, max_size=40
).map(tuple)

finishings = st.builds(
    Finishing,
    width_shrinkage_pct=maybe(st.sampled_from((-50.0, 0.0, 4.0, 80.0))),
    length_shrinkage_pct=maybe(st.sampled_from((-50.0, 0.0, 3.0, 80.0))),
    relaxation_pct=maybe(st.sampled_from((-50.0, 0.0, 2.0, 80.0))),
    finish=maybe(st.sampled_from(Finish)),
    mass_change_pct=maybe(st.sampled_from((-80.0, -4.0, 0.0, 500.0))),
    stabilised=st.booleans(),
)
INCH_FIELDS = ("/warp/ends_per_in", "/weft/picks_per_in", "/width_in", "/length_yd")


@cache
@st.composite
def ranges(draw: st.DrawFn, low: float, high: float) -> RequiredRange:
    ends = sorted(draw(st.tuples(over(low, high), over(low, high))))
    which = draw(one_of("both", "min", "max"))
    return RequiredRange(
        min=None if which == "max" else ends[0], max=None if which == "min" else ends[1]
    )


requirements = st.builds(
    Requirements,
    mass_g_per_m2=maybe(ranges(40.0, 900.0)),
    mass_g_per_m=maybe(ranges(40.0, 900.0)),
    finished_width_cm=maybe(ranges(60.0, 210.0)),
    ends_per_cm=maybe(ranges(10.0, 60.0)),
    picks_per_cm=maybe(ranges(10.0, 60.0)),
    thickness_mm=maybe(ranges(0.1, 1.5)),
    open_area_pct=maybe(ranges(1.0, 60.0)),
    cover_factor=maybe(ranges(12.0, 26.0)),
    fibre_pct=st.dictionaries(st.sampled_from(("cotton", "polyester")), ranges(1.0, 100.0)),
)


pieces = st.builds(
    PieceOrder,
    pieces=st.integers(1, 400),
    piece_length_m=st.sampled_from((10.0, 60.0, 110.0)),
    overage_pct=maybe(st.sampled_from((0.0, 5.0))),
    rejects_pct=maybe(st.sampled_from((0.0, 2.0))),
)


@st.composite
def specified(draw: st.DrawFn, orders: st.SearchStrategy[Construction]) -> Construction:
    """An order, a third of which state pieces or what the customer requires."""
    order = draw(orders)
    if draw(st.integers(0, 2)):
        return order
    if draw(st.booleans()):
        order = replace(order, length_m=None, order=draw(pieces))
    return replace(order, requirements=draw(maybe(requirements)))


any_constructions = st.builds(
    Construction,
    reference=maybe(st.just("{order} %s")),
    stage=maybe(st.sampled_from(Stage)),
    warp=on_beams(thread_systems()),
    weft=thread_systems(),
    weave=weaves,
    width_cm=over(1.0, 3500.0),
    selvedge=st.builds(
        Selvedge,
        ends_per_side=maybe(st.sampled_from((0, 1, 24, 2000))),
        ends_per_dent=maybe(st.sampled_from((1, 4, 24))),
        shafts=maybe(st.integers(0, 8)),
        weave=maybe(selvedge_weaves),
        leno_ends_per_side=maybe(st.integers(0, 24)),
        catch_cord_ends=maybe(st.integers(0, 200)),
    ),
    panels=maybe(st.sampled_from((1, 2, 5, 100))),
    panel_gap_cm=maybe(st.sampled_from((0.0, 2.0, 100.0))),
    length_m=maybe(over(0.01, 1e8)),
    reed=st.builds(
        Reed,
        dents_per_10cm=maybe(over(5.0, 1000.0)),
        ends_per_dent=maybe(st.integers(1, 24)),
        wire_share_pct=maybe(over(1.0, 90.0)),
    ),
    draft=maybe(st.builds(DraftRequest, threading=threadings)),
    finishing=finishings,
    allowances=st.builds(
        Allowances,
        warp_waste_pct=maybe(up_to(100.0)),
        weft_waste_pct=maybe(up_to(100.0)),
        size_pct=maybe(up_to(100.0)),
        loom_waste_m=maybe(up_to(1000.0)),
    ),
    requested_speed_picks_per_min=maybe(over(1.0, 10_000.0)),
    inch_fields=st.frozensets(st.sampled_from(INCH_FIELDS)),
)
constructions = specified(any_constructions)


@cache
@st.composite
def bands(draw: st.DrawFn, low: float, high: float) -> Band:
    ends = sorted(draw(st.tuples(over(low, high), over(low, high))))
    return Band(
        min=draw(st.sampled_from((None, low, ends[0]))),
        max=draw(st.sampled_from((None, high, ends[1]))),
    )


@cache
@st.composite
def warp_beams(draw: st.DrawFn) -> WarpBeam:
    flange = draw(over(2.0, 400.0))
    barrel = draw(st.sampled_from((1.0, min(flange / 2 - 0.5, 200.0), flange - 2.5)))
    stated = 1.0 <= barrel <= 200.0
    count = draw(maybe(st.integers(1, 16)))
    arrangements = {None: [BeamArrangement.ONE, BeamArrangement.STACKED], 1: [BeamArrangement.ONE]}
    return WarpBeam(
        flange_diameter_cm=flange if stated else None,
        barrel_diameter_cm=barrel if stated else None,
        width_cm=draw(maybe(over(1.0, 3500.0))),
        count=count,
        arrangement=draw(maybe(one_of(*arrangements.get(count, [BeamArrangement.STACKED])))),
        density_g_per_cm3=draw(maybe(over(0.05, 10.0))),
    )


@cache
@st.composite
def insertions(draw: st.DrawFn) -> Insertion:
    system = draw(one_of(*InsertionSystem))
    rapier, strokes = system is InsertionSystem.RAPIER, system.has_strokes
    return Insertion(
        system=system,
        max_rate_m_per_min=draw(maybe(over(1.0, 20_000.0))),
        entry_deg=draw(maybe(one_of(0.0, 60.0, 90.0))),
        exit_deg=draw(maybe(one_of(245.0, 300.0, 360.0))),
        motion_law=draw(maybe(one_of(*MotionLaw))) if strokes else None,
        rapiers=draw(maybe(one_of(*Rapiers))) if rapier else None,
        picks_per_insertion=draw(one_of(None, 2)),
        overrun_cm=draw(maybe(nil_or(0.001, 100.0))) if strokes else None,
        transfer_travel_cm=draw(maybe(nil_or(0.001, 100.0))) if rapier else None,
        launch_length_cm=None if strokes else draw(maybe(nil_or(0.001, 300.0))),
        stopping_length_cm=None if strokes else draw(maybe(nil_or(0.001, 300.0))),
        extra_weft_cm=draw(maybe(up_to(200.0))),
        free_weft_length_m=draw(maybe(nil_or(0.001, 50.0))),
        base_tension_cn_per_tex=draw(maybe(up_to(20.0))),
        withdrawal_factor=draw(one_of(None, 1.0, 3.0)),
        friction_coefficient=draw(one_of(None, 0.0, 0.3)),
        wrap_deg=draw(one_of(None, 0.0, 720.0)),
        initial_modulus_times=draw(maybe(over(1.0, 100.0))),
        max_feeder_speed_m_per_min=draw(maybe(over(1.0, 20_000.0))),
    )


@cache
@st.composite
def sheddings(draw: st.DrawFn) -> Shedding:
    kind = draw(one_of(*SheddingKind))
    speed = draw(maybe(over(1.0, 10_000.0)))
    if kind is SheddingKind.JACQUARD:
        return Shedding(
            kind=kind,
            hooks=draw(one_of(8, 400, 2688, 100_000)),
            ends_per_hook=draw(maybe(st.integers(1, 1000))),
            harness_ends_per_cm=draw(maybe(over(0.5, 500.0))),
            selvedge_hooks=draw(maybe(st.integers(0, 64))),
            cord_cm=draw(maybe(over(10.0, 1_000.0))),
            hook_lift_cm=draw(maybe(over(0.5, 50.0))),
            max_pattern_picks=draw(maybe(st.integers(1, 10_000))),
            max_speed_picks_per_min=speed,
        )
    cam = kind is SheddingKind.CAM
    return Shedding(
        kind=kind,
        shafts=draw(st.integers(2, 64)),
        max_repeat_picks=draw(maybe(st.integers(1, 100))) if cam else None,
        max_pattern_picks=None if cam else draw(maybe(st.integers(1, 10_000))),
        max_healds_per_cm_per_shaft=draw(maybe(over(0.5, 100.0))),
        max_healds_per_shaft=draw(maybe(st.integers(1, 100_000))),
        max_speed_picks_per_min=speed,
    )


efficiency = st.builds(Running, efficiency_pct=maybe(over(1.0, 100.0)))
stops = st.builds(
    Running,
    warp_stops_per_100k_picks=up_to(100_000.0),
    weft_stops_per_100k_picks=up_to(100_000.0),
    minutes_per_warp_stop=up_to(10_000.0),
    minutes_per_weft_stop=up_to(10_000.0),
    looms_per_weaver=one_of(1, 12, 1000),
)
sets = st.builds(
    Running,
    warp_stops_per_100k_picks=maybe(up_to(100_000.0)),
    minutes_per_warp_stop=maybe(up_to(10_000.0)),
    looms_per_set=one_of(4, 24, 1000),
    weavers=one_of(2, 4),
)


@cache
@st.composite
def speed_curves(draw: st.DrawFn) -> tuple[CurvePoint, ...]:
    """Curves that do not rise: no loom runs faster the wider it is.

    On one that did, an assumed value that makes a cloth wider would allow more picks.
    """
    widths = draw(st.lists(over(1.0, 3500.0), max_size=3, unique=True))
    speeds = [draw(over(1.0, 10_000.0)) for _ in widths]
    falling = dict(zip(sorted(widths), sorted(speeds, reverse=True), strict=True))
    return tuple(CurvePoint(reed_width_cm=width, picks_per_min=falling[width]) for width in widths)


@cache
@st.composite
def looms(draw: st.DrawFn) -> Loom:
    width = draw(over(1.0, 3500.0))
    return Loom(
        loom_id=draw(maybe(st.just("any"))),
        insertion=draw(insertions()),
        reed_width_cm=width,
        min_reed_width_cm=draw(st.sampled_from((None, 1.0, width / 2, width))),
        max_speed_picks_per_min=draw(over(1.0, 10_000.0)),
        speed_curve=draw(speed_curves()),
        shedding=draw(sheddings()),
        weft_selectors=draw(maybe(st.integers(1, 64))),
        picks_per_cm=draw(bands(0.1, 500.0)),
        weft_tex=draw(bands(0.1, 20_000.0)),
        warp_beam=draw(warp_beams()),
        warp_strain=WarpStrain(
            shed_half_height_cm=draw(maybe(up_to(20.0))),
            easing_pct=draw(maybe(up_to(100.0))),
            **draw(base_tensions),
        ),
        max_tightness_pct=draw(maybe(over(10.0, 300.0))),
        reeds_in_stock_dents_per_10cm=tuple(draw(st.lists(over(5.0, 1000.0), max_size=4))),
        running=draw(efficiency | stops | sets),
    )


# Orders and looms such as a mill sees them, a little off here and there.

trade_yarns = st.builds(
    Yarn,
    linear_density_tex=st.sampled_from((7.4, 15.0, 20.0, 29.5, 50.0, 100.0)),
    fibre=st.sampled_from(("cotton", "worsted", "polyester", "viscose")),
    strength_cv_pct=maybe(st.sampled_from((8.0, 15.0))),
)


_trade_crimp = st.floats(0.5, 15.0).map(lambda crimp: round(crimp, 1))
trade_crimps = either_of(_trade_crimp, _trade_crimp)
trade_setts = st.floats(6.0, 60.0).map(lambda sett: round(sett, 1))


@cache
@st.composite
def trade_threads(draw: st.DrawFn) -> ThreadSystem:
    count = draw(one_of(1, 1, 2))
    chosen = {key: draw(trade_yarns) for key in "AB"[:count]}
    chosen, of_set = stated_crimps(draw, chosen, trade_crimps)
    return ThreadSystem(
        yarns=chosen,
        order=draw(one_of("A B", "24A 4B", "20A 20B")) if count == 2 else None,
        threads_per_cm=draw(trade_setts),
        **of_set,
    )


trade_names = tuple(name for name in NAMES if not name.startswith(("27", "48", "500")))

plain_trade_orders = st.builds(
    Construction,
    stage=maybe(st.sampled_from(Stage)),
    warp=on_beams(trade_threads()),
    weft=trade_threads(),
    weave=st.sampled_from(trade_names).map(parse_weave),
    width_cm=st.floats(60.0, 210.0).map(lambda width: round(width, 1)),
    selvedge=st.builds(
        Selvedge, ends_per_side=maybe(st.sampled_from((0, 24))), weave=maybe(selvedge_weaves)
    ),
    panels=maybe(st.integers(1, 2)),
    length_m=maybe(st.sampled_from((50.0, 3000.0, 40_000.0))),
    reed=st.builds(
        Reed,
        dents_per_10cm=maybe(st.sampled_from((80.0, 120.0, 160.0))),
        ends_per_dent=maybe(st.integers(1, 6)),
    ),
    draft=maybe(st.builds(DraftRequest, threading=threadings)),
    finishing=st.builds(
        Finishing,
        width_shrinkage_pct=maybe(st.sampled_from((0.0, 4.0))),
        length_shrinkage_pct=maybe(st.sampled_from((0.0, 3.0))),
        relaxation_pct=maybe(st.sampled_from((0.0, 2.0))),
        finish=maybe(st.sampled_from(Finish)),
        mass_change_pct=maybe(st.sampled_from((-4.0, 6.0))),
    ),
    requested_speed_picks_per_min=maybe(st.sampled_from((300.0, 520.0, 700.0))),
    inch_fields=st.frozensets(st.sampled_from(INCH_FIELDS)),
)
trade_orders = specified(plain_trade_orders)

jacquards = st.builds(
    Shedding,
    kind=st.just(SheddingKind.JACQUARD),
    hooks=st.sampled_from((1200, 2688)),
    ends_per_hook=st.integers(1, 8),
    harness_ends_per_cm=st.floats(15.0, 60.0),
)
shaft_motions = st.builds(
    Shedding,
    kind=st.just(SheddingKind.DOBBY),
    shafts=st.integers(4, 28),
    max_pattern_picks=st.sampled_from((6, 4000)),
    max_speed_picks_per_min=st.sampled_from((400.0, 600.0)),
    max_healds_per_cm_per_shaft=st.floats(6.0, 12.0),
    max_healds_per_shaft=maybe(st.sampled_from((900, 1800))),
)

trade_looms = st.builds(
    Loom,
    insertion=st.builds(
        Insertion,
        system=st.sampled_from(InsertionSystem),
        max_rate_m_per_min=st.sampled_from((400.0, 900.0, 1300.0)),
    ),
    reed_width_cm=st.sampled_from((150.0, 190.0, 230.0)),
    min_reed_width_cm=st.sampled_from((60.0, 120.0)),
    max_speed_picks_per_min=st.sampled_from((400.0, 650.0)),
    speed_curve=st.sampled_from(
        (
            (),
            (
                CurvePoint(reed_width_cm=100.0, picks_per_min=600.0),
                CurvePoint(reed_width_cm=200.0, picks_per_min=450.0),
            ),
        )
    ),
    shedding=shaft_motions | jacquards,
    weft_selectors=st.integers(1, 8),
    picks_per_cm=st.builds(Band, min=st.just(4.0), max=st.sampled_from((30.0, 80.0))),
    weft_tex=st.builds(Band, min=st.sampled_from((5.0, 15.0)), max=st.sampled_from((40.0, 500.0))),
    warp_beam=st.builds(WarpBeam, width_cm=st.just(200.0), count=st.sampled_from((1, 2)))
    | st.sampled_from(BeamArrangement).map(lambda how: WarpBeam(arrangement=how)),
    max_tightness_pct=st.sampled_from((90.0, 105.0)),
    reeds_in_stock_dents_per_10cm=st.sampled_from(((), (80.0, 120.0, 160.0))),
    running=st.builds(Running, efficiency_pct=st.just(88.0)),
)
