"""What a request costs a worker, beside a bare echo: ``python tests/bench/request.py``.

Three servers run under the same gunicorn settings, a worker each: an echo (Flask, one route that
sends the body back), the service, and the service with every cache emptied before each request.
They are sent the same kinds of order in turns, and what is printed is the CPU time of the worker
process, not the time of day, with its ratio to the echo of the same run. Every order is new: width,
setts, yarns, length, speed and loom are drawn anew, so that no part of it was read before; only
``repeated`` sends one order again. What each stage of the README's order costs follows, in process,
in CPU time as well, with all caches emptied before each order.

    .venv/bin/python tests/bench/request.py [ROUNDS]
"""

from __future__ import annotations

import functools
import gc
import http.client
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from time import thread_time_ns
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import orjson
from flask import Flask, Response, request

sys.path.insert(0, str(Path(__file__).parents[1]))

from service.servers import cpu_ns, free_port, is_ready, until

from weavability.answers import validation
from weavability.answers.finding_remedies import remedies_of
from weavability.answers.rounding import plain
from weavability.checks.facts import Pair, pair_of, words_of
from weavability.checks.finding import Finding
from weavability.checks.registry import explain, observe_pair
from weavability.checks.rules import Observation
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom_limits import resolve_loom
from weavability.service.app import create_app
from weavability.service.gunicorn import command
from weavability.service.http.json_bodies import parse
from weavability.service.http.links import pack
from weavability.service.openapi import example_requests
from weavability.service.requests.canonical import canonical_request
from weavability.service.requests.loom_choice import identity, resolve_request
from weavability.service.requests.park import load_park
from weavability.service.schemas.base import Recurring
from weavability.service.schemas.request_schemas import ValidationRequestSchema
from weavability.service.settings import Settings
from weavability.textiles.cloth import cloth_facts

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

ROUNDS: Final = 20
IN_A_ROUND: Final = 20
DESIGNS_IN_A_ROUND: Final = 2
PATH: Final = "/v1/validations"
WEAVES: Final = ("2/2 twill Z", "3/1 twill Z", "2/1 twill S", "1/3 twill S")
README: Final[dict[str, Any]] = {
    "warp": {
        "yarns": {
            "A": {"designation": "Ne 40/2", "fibre": "cotton", "colour": "#1c2a4a"},
            "B": {"designation": "Ne 40/2", "fibre": "cotton", "colour": "#f4f1e8"},
        },
        "order": "24A 4B 24A 8B",
    },
    "weft": {"yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}}},
}
"""What every order has of the README's."""

PARK: Final = load_park(None)
SCHEMA: Final = ValidationRequestSchema()
"""The schema under which the service reads an order, made again here for the stages."""

Order = dict[str, Any]


# The orders.


class Orders:
    """Orders that differ from one another in every part."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)
        self._numbers = count()

    def readme(self) -> Order:
        """The order of the README, a little changed: it is requested too fast."""
        cloth = deepcopy(README)
        cloth["reference"] = f"order {next(self._numbers)}"
        cloth["warp"]["ends_per_cm"] = self._near(32, 0.03)
        cloth["weft"]["picks_per_cm"] = self._near(24, 0.03)
        for yarn in cloth["warp"]["yarns"].values():
            yarn["designation"] = f"Ne {self._near(40, 0.03)}/2"
        cloth["weft"]["yarns"]["A"]["designation"] = f"Ne {self._near(20, 0.03)}"
        cloth["weave"] = self._random.choice(WEAVES)
        cloth["width_cm"] = self._near(152, 0.01)
        cloth["length_m"] = self._near(3000, 0.3)
        cloth["requested_speed_picks_per_min"] = self._near(615, 0.005)
        return {"construction": cloth, "loom_id": "rapier-190-dobby"}

    def with_loom(self) -> Order:
        """The same with a loom that is stated."""
        order = self.readme()
        del order["loom_id"]
        order["loom"] = deepcopy(example_requests.LOOM)
        order["loom"]["reed_width_cm"] = self._near(190, 0.01)
        return order

    def without_trial(self) -> Order:
        """An order on which no remedy is to be tried."""
        while True:
            order = self.readme()
            order["construction"]["requested_speed_picks_per_min"] = self._near(500, 0.02)
            order["construction"]["warp"]["order"] = "A B"
            if not tries(order):
                return order

    def design(self) -> Order:
        """An order with a design of 1200 x 800 that was never seen, on a Jacquard."""
        order = self.readme()
        order["construction"].pop("requested_speed_picks_per_min")
        bits = np.random.default_rng(self._random.getrandbits(32)).integers(0, 2, (800, 1200))
        rows = (bits + ord("0")).astype(np.uint8)
        order["construction"]["weave"] = {"rows": [row.tobytes().decode() for row in rows]}
        order["loom_id"] = "rapier-190-jacquard"
        return order

    def _near(self, value: float, share: float) -> float:
        return round(value * self._random.uniform(1 - share, 1 + share), 4)


def tries(order: Order) -> bool:
    """Whether a remedy is sought for anything that is found."""
    found = resolve_request(SCHEMA, order, PARK)
    report = validation.assess(found.request.construction, found.loom)
    return any(finding.remedies or finding.tried for finding in report.findings)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of request; ``most`` is the ratio that it is to keep, without caches."""

    name: str
    body: Callable[[], bytes]
    most: float | None
    in_a_round: int = IN_A_ROUND


def kinds(orders: Orders) -> list[Kind]:
    again = orjson.dumps(orders.readme())
    return [
        Kind("README's order", lambda: orjson.dumps(orders.readme()), 4.0),
        Kind("its loom stated", lambda: orjson.dumps(orders.with_loom()), None),
        Kind("no remedy tried", lambda: orjson.dumps(orders.without_trial()), 3.2),
        Kind(
            "new design of 1200 x 800", lambda: orjson.dumps(orders.design()), 40,
            DESIGNS_IN_A_ROUND,
        ),
        Kind("repeated", lambda: again, None),
    ]  # fmt: skip


# The servers.


def echo() -> Flask:
    app = Flask("echo")

    @app.post(PATH)
    def answer() -> Response:
        return Response(request.get_data(), mimetype="application/json")

    @app.get("/readyz")
    def ready() -> Response:
        return Response("ready")

    return app


OF_THE_RULES: Final = {"_described", "_ruleset"}
"""Caches of what follows from the thresholds in force alone: they hold nothing of a request."""


def bounded_caches() -> list[Any]:
    """Every cache of the package that holds what requests brought; tables of data stay."""
    return [
        each
        for each in gc.get_objects()
        if isinstance(each, functools._lru_cache_wrapper)
        and each.cache_parameters()["maxsize"]
        and each.__module__.startswith("weavability.")
        and each.__name__ not in OF_THE_RULES
    ]


def recurring() -> list[Recurring[Any]]:
    return [each for each in gc.get_objects() if isinstance(each, Recurring)]


def forgetting() -> Callable[[], None]:
    """What empties every cache."""
    caches, schemas = bounded_caches(), recurring()

    def forget() -> None:
        for cache in caches:
            cache.cache_clear()
        for schema in schemas:
            schema._kept.clear()

    return forget


def forgetful() -> Any:
    """The service, which knows nothing of the requests before."""
    app = create_app(Settings(kept_answers_bytes=0))
    forget = forgetting()

    def answer(environ: WSGIEnvironment, start_response: StartResponse) -> Any:
        forget()
        return app(environ, start_response)

    return answer


SERVED: Final[Mapping[str, Callable[[], Any]]] = {
    "echo": echo, "service": create_app, "forgetful": forgetful
}  # fmt: skip


def serve(what: str, port: str) -> None:
    """Serve one of them under the settings of the service."""

    class Server(command._Server):
        def load(self) -> Any:
            return SERVED[what]()

    options = command._parser().parse_args(["--bind", f"127.0.0.1:{port}", "--workers", "1"])
    Server(command._settings(options), command._options(options)).run()


@dataclass(slots=True)
class Served:
    """A running server, and the CPU time that its worker took for each request of a kind."""

    connection: http.client.HTTPConnection
    worker: int

    def cost_us(self, bodies: list[bytes]) -> float:
        """CPU time of the worker for a request, in microseconds."""
        before = cpu_ns(self.worker)
        for body in bodies:
            self.connection.request("POST", PATH, body, {"Content-Type": "application/json"})
            answer = self.connection.getresponse()
            said = answer.read()
            assert answer.status == 200, said[:300]
        time.sleep(0.005)  # what follows the last byte of an answer belongs to it
        return (cpu_ns(self.worker) - before) / len(bodies) / 1000


@contextmanager
def serving(what: str) -> Iterator[Served]:
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, __file__, "--serve", what, str(port)], stderr=subprocess.DEVNULL
    )
    try:
        until(lambda: is_ready(f"http://127.0.0.1:{port}"))
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text()
        connection = http.client.HTTPConnection("127.0.0.1", port)
        yield Served(connection, int(children.split()[0]))
        connection.close()
    finally:
        process.terminate()
        process.wait(60)


def compare(rounds: int) -> float:
    """Print what each kind costs; return the median of the echo in microseconds."""
    sent = kinds(Orders(seed=1))
    costs: dict[tuple[str, str], list[float]] = {}
    with serving("echo") as bare, serving("service") as service, serving("forgetful") as fresh:
        servers = {"echo": bare, "service": service, "forgetful": fresh}
        for number in range(-2, rounds):
            for kind in sent:
                bodies = [kind.body() for _ in range(kind.in_a_round)]
                for what, server in servers.items():
                    cost = server.cost_us(bodies)
                    if number >= 0:
                        costs.setdefault((kind.name, what), []).append(cost)
    median = {key: float(np.median(found)) for key, found in costs.items()}
    one = median["README's order", "echo"]
    print(f"CPU of the worker for a request, echo of the README's order = {one:.0f} µs = 1")
    print(f"{'':28}{'echo':>8}{'service':>10}{'ratio':>8}{'no caches':>11}{'ratio':>8}{'goal':>7}")
    for kind in sent:
        bare_us, with_us, without_us = (median[kind.name, what] for what in servers)
        goal = "" if kind.most is None else f"{kind.most:g}"
        print(f"{kind.name:28}{bare_us:8.0f}{with_us:10.0f}{with_us / one:8.2f}"
              f"{without_us:11.0f}{without_us / one:8.2f}{goal:>7}")  # fmt: skip
    return one


# The stages, in process.


def stages(order: Order) -> Iterator[tuple[str, Callable[[dict[str, Any]], Any]]]:
    """Each stage of an order, which finds what the ones before it have made."""
    body, at = orjson.dumps(order), PARK.looms[order["loom_id"]]
    yield "body parsed", lambda _: parse(body)
    yield "request read", lambda made: SCHEMA.read(made["body parsed"])
    yield "canonical form", lambda made: canonical_request(made["body parsed"])
    yield "identity", lambda made: identity(made["canonical form"], [at])
    yield "link", lambda made: pack(made["canonical form"])
    yield "facts of the cloth", lambda made: cloth_facts(made["request read"].construction)
    yield "limits of the loom", lambda _: resolve_loom(at.loom)
    yield (
        "cloth on loom",
        lambda made: fit_cloth(made["facts of the cloth"], made["limits of the loom"]),
    )
    yield "checks", lambda made: _observed(made["cloth on loom"])
    yield "findings", lambda made: _explained(made["cloth on loom"], *made["checks"])
    yield (
        "remedies tried",
        lambda made: remedies_of(made["cloth on loom"], made["checks"][0].facts, made["checks"][1]),
    )
    yield (
        "report",
        lambda made: validation._report(
            made["cloth on loom"],
            at.loom,
            tuple(validation._with_remedies(made["findings"], made["remedies tried"])),
            None,
        ),
    )
    yield "rounding", lambda made: plain(made["report"])
    yield "written", lambda made: orjson.dumps(made["rounding"])


def _observed(fit: Fit) -> tuple[Pair, list[Observation]]:
    pair = pair_of(fit)
    return pair, observe_pair(pair)


def _explained(fit: Fit, pair: Pair, seen: list[Observation]) -> list[Finding]:
    words = words_of(fit, pair)
    return [explain(each, pair.facts, words) for each in seen]


def print_stages(one_us: float, rounds: int) -> None:
    """Print the CPU time of each stage, and its ratio to the echo."""
    orders, forget = Orders(seed=2), forgetting()
    times: dict[str, list[int]] = {}
    for number in range(-5, rounds):
        forget()
        made: dict[str, Any] = {}
        for name, stage in stages(orders.readme()):
            began = thread_time_ns()
            made[name] = stage(made)
            if number >= 0:
                times.setdefault(name, []).append(thread_time_ns() - began)
    print("\nstages of the README's order without caches, in process")
    total = 0.0
    for name, found in times.items():
        cost = float(np.median(found)) / 1000
        total += cost
        print(f"{name:28}{cost:8.0f} µs{cost / one_us:8.2f}")
    print(f"{'together':28}{total:8.0f} µs{total / one_us:8.2f}")


def main(arguments: list[str]) -> None:
    if arguments[:1] == ["--serve"]:
        serve(*arguments[1:])
        return
    rounds = int(arguments[0]) if arguments else ROUNDS
    print_stages(compare(rounds), rounds * IN_A_ROUND)


if __name__ == "__main__":
    main(sys.argv[1:])
