"""What operators do to a service that is in use: reload it, stop it, lose a worker of it."""

from __future__ import annotations

import json
import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import requests
from service.servers import WITHIN_S, Server, serving, until
from service.support import PARK_TEXT, small_request

from weavability.service.access.tokens import Scope, make_token
from weavability_client import Client

pytestmark = pytest.mark.slow

CALLERS = 4
RETRIES = 10
LOOMS_COUNTED = 'weavability_requests_total{method="GET",route="/v1/looms"'


class Load:
    """Callers that ask without a pause, through the client."""

    def __init__(self, url: str, *, token: str | None = None) -> None:
        self.answers: list[float] = []
        self.failures: list[BaseException] = []
        self._stop = threading.Event()
        self._client = Client(url, retries=RETRIES, token=token)
        self._threads = [threading.Thread(target=self._ask) for _ in range(CALLERS)]

    def _ask(self) -> None:
        request = small_request()
        while not self._stop.is_set():
            try:
                self._client.validate(request["construction"], loom_id=request["loom_id"])
            except BaseException as error:
                self.failures.append(error)
            else:
                self.answers.append(time.monotonic())

    def wait_for_more(self) -> None:
        """Wait until every caller has been answered anew."""
        wanted = len(self.answers) + 2 * CALLERS
        until(lambda: len(self.answers) >= wanted or self.failures)

    @contextmanager
    def running(self) -> Iterator[Load]:
        for thread in self._threads:
            thread.start()
        try:
            self.wait_for_more()
            yield self
        finally:
            self._stop.set()
            for thread in self._threads:
                thread.join(WITHIN_S)
            self._client.close()


@pytest.fixture
def park(tmp_path: Path) -> Path:
    path = tmp_path / "hall.toml"
    path.write_text(PARK_TEXT, encoding="utf-8")
    return path


@pytest.fixture
def server(park: Path) -> Iterator[Server]:
    with serving("--looms", str(park), "--workers", "2", "--grace-s", "10") as started:
        yield started


def readiness(server: Server) -> Any:
    return requests.get(f"{server.url}/readyz", timeout=10).json()


def counted(server: Server, start: str) -> float:
    text = requests.get(f"{server.url}/metrics", timeout=10).text
    return sum(float(line.split()[-1]) for line in text.splitlines() if line.startswith(start))


def refuses(server: Server) -> bool:
    """Whether the service refuses to be connected to."""
    try:
        server.connect().close()
    except ConnectionRefusedError:
        return True
    return False


def gone(server: Server, workers: set[int]) -> bool:
    """Whether other workers have taken the place of these."""
    return not workers & set(server.workers())


def problems_of(server: Server) -> list[Any]:
    return [line for line in server.lines() if line.get("status", 0) >= 500]


class TestUnderLoad:
    def test_a_worker_that_is_killed_loses_no_request(self, server: Server) -> None:
        with Load(server.url).running() as load:
            before = set(server.workers())
            victim = min(before)
            os.kill(victim, signal.SIGKILL)
            until(lambda: len(server.workers()) == 2 and victim not in server.workers())
            load.wait_for_more()
        assert load.failures == []
        assert set(server.workers()) - before
        assert problems_of(server) == []

    def test_a_reload_loses_no_request(self, server: Server, park: Path) -> None:
        first = readiness(server)
        with Load(server.url).running() as load:
            before = set(server.workers())
            park.write_text(PARK_TEXT.replace("= 900", "= 880"), encoding="utf-8")
            server.signal(signal.SIGHUP)
            until(partial(gone, server, before))
            load.wait_for_more()
        assert load.failures == []
        assert readiness(server)["park"] != first["park"]
        assert problems_of(server) == []

    def test_a_service_that_is_replaced_loses_no_request(self, server: Server, park: Path) -> None:
        with Load(server.url).running() as load:
            server.signal(signal.SIGTERM)
            assert server.process.wait(WITHIN_S) == 0
            arguments = ["--looms", str(park), "--workers", "2"]
            with serving(*arguments, port=server.port) as successor:
                load.wait_for_more()
                load._stop.set()
                until(lambda: not any(thread.is_alive() for thread in load._threads))
                assert problems_of(successor) == []
        assert load.failures == []
        assert problems_of(server) == []


class TestStopping:
    def test_a_request_under_way_is_answered_first(self, server: Server) -> None:
        body = json.dumps(small_request()).encode()
        head = (
            b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
            b"Content-Length: %d\r\n\r\n" % len(body)
        )
        with server.connect() as peer:
            peer.sendall(head + body[:50])
            time.sleep(0.3)
            server.signal(signal.SIGTERM)
            time.sleep(0.3)
            peer.sendall(body[50:])
            answer = peer.recv(65536)
        assert answer.startswith(b"HTTP/1.1 200 ")
        head, _, _ = answer.partition(b"\r\n\r\n")
        assert b"connection: close" in head.lower().split(b"\r\n")
        assert server.process.wait(WITHIN_S) == 0

    def test_nobody_is_left_waiting_at_a_closed_door(self, server: Server) -> None:
        """While a request is under way, new connections are refused, not taken and forgotten."""
        with server.connect() as peer:
            peer.sendall(b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n")
            time.sleep(0.3)
            server.signal(signal.SIGTERM)
            until(lambda: refuses(server))
            assert server.process.poll() is None
            with pytest.raises(ConnectionRefusedError):
                server.connect()

    def test_the_files_of_the_counts_go_with_it(
        self, park: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("TMPDIR", str(tmp_path))
        with serving("--looms", str(park), "--workers", "2") as server:
            (directory,) = tmp_path.glob("weavability-*")
            os.kill(server.workers()[0], signal.SIGKILL)
            until(lambda: len(server.workers()) == 2)
            assert directory.is_dir()
        assert not directory.exists()


class TestReloading:
    def test_ready_states_park_and_rules(self, server: Server, park: Path) -> None:
        first = readiness(server)
        assert (first["status"], first["looms"]) == ("ready", 2)
        before = set(server.workers())
        park.write_text(PARK_TEXT.rpartition("[[loom]]")[0], encoding="utf-8")
        server.signal(signal.SIGHUP)
        until(partial(gone, server, before))
        second = readiness(server)
        assert second["looms"] == 1
        assert second["park"] != first["park"]
        assert second["ruleset"] == first["ruleset"]
        assert counted(server, 'weavability_reloads_total{outcome="done"}') == 1

    def test_a_broken_park_changes_nothing_and_is_reported(
        self, server: Server, park: Path
    ) -> None:
        first = readiness(server)
        for times, broken in enumerate(("", "[[loom]]\nloom_id = 1", "[[", None), start=1):
            before = set(server.workers())
            if broken is None:
                park.unlink()
            else:
                park.write_text(broken, encoding="utf-8")
            server.signal(signal.SIGHUP)
            until(partial(gone, server, before))
            assert readiness(server) == first
            refused = [each for each in server.lines() if "reload refused" in each["message"]]
            assert len(refused) == times
            assert refused[-1]["level"] == "error"
            assert "hall.toml" in refused[-1]["message"]
            assert counted(server, 'weavability_reloads_total{outcome="refused"}') == times

    def test_tokens_can_be_replaced_without_a_gap(self, park: Path, tmp_path: Path) -> None:
        old, old_lines = make_token("erp-1", [Scope.VALIDATE])
        new, new_lines = make_token("erp-2", [Scope.VALIDATE])
        tokens = tmp_path / "tokens.toml"
        tokens.write_text(old_lines, encoding="utf-8")
        arguments = ["--looms", str(park), "--tokens", str(tokens), "--workers", "1"]

        def status(server: Server, token: str) -> int:
            headers = {"Authorization": f"Bearer {token}"}
            return requests.get(f"{server.url}/v1/looms", headers=headers, timeout=10).status_code

        with serving(*arguments) as server:
            assert (status(server, old), status(server, new)) == (200, 401)
            for written, expected in ((old_lines + new_lines, (200, 200)), (new_lines, (401, 200))):
                before = set(server.workers())
                tokens.write_text(written, encoding="utf-8")
                server.signal(signal.SIGHUP)
                until(partial(gone, server, before))
                assert (status(server, old), status(server, new)) == expected
            assert {line.get("caller") for line in server.lines()} >= {"erp-1", "erp-2", None}
            assert old not in server.log.read_text("utf-8")


class TestCounting:
    def test_all_workers_end_in_one_count(self, server: Server) -> None:
        for _ in range(30):
            requests.get(f"{server.url}/v1/looms", timeout=10)
        # A request is counted when its answer is closed, which is after the caller has it.
        until(lambda: counted(server, LOOMS_COUNTED) == 30)
        served = {line["process"] for line in server.lines() if line.get("route") == "/v1/looms"}
        assert served <= set(server.workers())

    def test_counts_outlive_a_worker_and_its_requests_in_flight_do_not(
        self, server: Server
    ) -> None:
        for _ in range(10):
            requests.get(f"{server.url}/v1/looms", timeout=10)
        until(lambda: counted(server, LOOMS_COUNTED) == 10)
        with server.connect() as peer:
            peer.sendall(b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n"
                         b"Content-Type: application/json\r\n\r\n")  # fmt: skip
            until(lambda: counted(server, "weavability_requests_in_flight") == 2)
            for worker in server.workers():
                os.kill(worker, signal.SIGKILL)
            until(lambda: len(server.workers()) == 2 and counted_again(server))
        assert counted(server, LOOMS_COUNTED) == 10


def counted_again(server: Server) -> bool:
    try:
        return counted(server, "weavability_requests_in_flight") == 1
    except requests.RequestException:
        return False
