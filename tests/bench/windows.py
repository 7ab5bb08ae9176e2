"""CPU time of windows and decisive assumptions in process: ``python tests/bench/windows.py``.

Every round has an order that was not seen before. Beside each time is its ratio to one judgement of
the same order without a report, measured in the same rounds: machines differ, the ratio less. The
worst of decisive assumptions is sought among 1000 made-up orders, as many as can be tried in 40 s
of CPU; the worst window over random pairs of fields of 60, as many as can be tried in 20 s. Each
is timed once, and the longest again.
"""

from __future__ import annotations

import random
import statistics
import sys
import warnings
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from time import thread_time, thread_time_ns

import numpy as np
from hypothesis.errors import NonInteractiveExampleWarning

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.remedies import AGAIN, cpu_ms, made_up
from builders import bare_loom, bare_order, construction, example_loom, example_order, loom, threads

from weavability.answers.decisive_assumptions import decide
from weavability.answers.validation import judge
from weavability.answers.window import Stretch, make_window
from weavability.drawing.window_view import draw_window
from weavability.looms.loom import Loom
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

ROUNDS = 30
MADE_UP, MOST_S = 1000, 40.0
OF_WINDOWS, MOST_S_OF_WINDOWS = 60, 20.0
OPEN = construction(warp=threads(24.0, crimp_pct=None), weft=threads(22.0, crimp_pct=None))
PAIRS = {
    "all stated": (construction(), loom()),
    "crimp estimated": (OPEN, loom()),
    "example": (example_order(), example_loom()),
    "bare": (bare_order(), bare_loom()),
}
ENDS, PICKS = "/construction/warp/ends_per_cm", "/construction/weft/picks_per_cm"
WIDTH, SPEED = "/construction/width_cm", "/construction/requested_speed_picks_per_min"
WINDOWS = {
    "ends x picks": ((ENDS, 12, 50), (PICKS, 12, 50)),
    "picks x width": ((PICKS, 12, 50), (WIDTH, 80, 200)),
    "speed x width": ((SPEED, 300, 800), (WIDTH, 80, 200)),
    "count x sett": (("/construction/weft/yarns/A/linear_density_tex", 10, 60), (PICKS, 12, 50)),
    "loom speed x width": (("/loom/max_speed_picks_per_min", 300, 900), (WIDTH, 80, 200)),
}
VARIED = (
    (ENDS, 8, 60),
    (PICKS, 8, 60),
    (WIDTH, 60, 230),
    (SPEED, 200, 900),
    ("/construction/length_m", 100, 9000),
    ("/construction/warp/crimp_pct", 0.5, 20),
    ("/construction/weft/crimp_pct", 0.5, 20),
    ("/construction/finishing/width_shrinkage_pct", 0, 14),
    ("/construction/warp/yarns/A/linear_density_tex", 8, 80),
    ("/construction/weft/yarns/A/linear_density_tex", 8, 80),
    ("/loom/max_speed_picks_per_min", 300, 900),
    ("/loom/reed_width_cm", 120, 240),
)


def timed(job: Callable[[], object]) -> float:
    begun = thread_time_ns()
    job()
    return (thread_time_ns() - begun) / 1e6


def show(words: str, order: Construction, on: Loom, job: Callable[[Construction], object]) -> None:
    choose = random.Random(7)
    times, ratios = [], []
    for _ in range(ROUNDS):
        new = replace(order, width_cm=order.width_cm + choose.uniform(-2, 2))
        once = timed(partial(judge, new, on))
        times.append(timed(partial(job, new)))
        ratios.append(times[-1] / once)
    print(
        f"{words:48} {statistics.median(times):7.1f} ms, least {min(times):6.1f}; "
        f"{statistics.median(ratios):6.1f} judgements"
    )


def show_made_up() -> None:
    """Print what decisive assumptions of made-up orders on made-up looms take."""
    tried, orders = [], made_up(MADE_UP)
    until = thread_time() + MOST_S
    for order, on in orders:
        if thread_time() > until:
            break
        try:
            tried.append((timed(partial(decide, order, on)), order, on))
        except InputError:
            continue
    once = [ms for ms, _, _ in tried]
    longest = sorted(tried, key=lambda each: each[0])[-AGAIN:]
    again = max(cpu_ms(partial(decide, order, on)) for _, order, on in longest)
    print(
        f"decisive assumptions, {len(tried)} made-up orders: p50 {np.median(once):.1f}, "
        f"p95 {np.percentile(once, 95):.1f}, worst {again:.1f} ms"
    )


def show_random_windows() -> None:
    """Print what windows of made-up orders over random pairs of fields take."""
    choose = random.Random(7)
    tried: list[tuple[float, str, Callable[[], object]]] = []
    until = thread_time() + MOST_S_OF_WINDOWS
    for order, on in made_up(OF_WINDOWS):
        if thread_time() > until:
            break
        across, along = choose.sample(VARIED, 2)
        job = partial(_window, on, {"across": stretch(across), "along": stretch(along)}, order)
        try:
            tried.append((timed(job), f"{across[0]} x {along[0]}", job))
        except InputError:
            continue
    once = [ms for ms, _, _ in tried]
    longest = sorted(tried, key=lambda each: each[0])[-AGAIN:]
    worst, fields = max((cpu_ms(job), fields) for _, fields, job in longest)
    print(
        f"windows of 100 x 100, {len(tried)} of made-up orders: p50 {np.median(once):.1f}, "
        f"p95 {np.percentile(once, 95):.1f}, worst {worst:.1f} ms ({fields})"
    )


def stretch(field: tuple[str, float, float]) -> Stretch:
    pointer, start, stop = field
    return Stretch(pointer=pointer, start=start, stop=stop, points=100)


def _decide(on: Loom, order: Construction) -> object:
    return decide(order, on)


def _window(on: Loom, axes: dict[str, Stretch], order: Construction) -> object:
    return make_window(order, on, **axes)


def main() -> None:
    warnings.simplefilter("ignore", NonInteractiveExampleWarning)
    for name, (order, on) in PAIRS.items():
        show(f"decisive assumptions, {name}", order, on, partial(_decide, on))
    show_made_up()
    for fields, (across, along) in WINDOWS.items():
        axes = {"across": stretch(across), "along": stretch(along)}
        for name in ("all stated", "example"):
            order, on = PAIRS[name]
            show(
                f"window of 100 x 100, {fields}, {name}",
                order,
                on,
                partial(_window, on, axes),
            )
    show_random_windows()
    order, on = PAIRS["example"]
    window = make_window(order, on, across=stretch((ENDS, 12, 50)), along=stretch((PICKS, 12, 50)))
    show("the drawing of one", order, on, lambda _: draw_window(window.window))


if __name__ == "__main__":
    main()
