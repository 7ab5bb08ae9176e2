"""The command, and what only a real socket can show."""

from __future__ import annotations

import json
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
from service.support import PARK_TEXT, small_request

from weavability.service.gunicorn import command

START_WITHIN_S = 30.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("park")
    park, log = folder / "hall.toml", folder / "server.log"
    park.write_text(PARK_TEXT, encoding="utf-8")
    port = free_port()
    arguments = ["--bind", f"127.0.0.1:{port}", "--looms", str(park), "--workers", "1"]
    with log.open("wb") as output:  # a pipe that nobody empties would stop the server
        server = subprocess.Popen(
            [sys.executable, "-m", "weavability", *arguments],
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    url = f"http://127.0.0.1:{port}"
    try:
        wait_for(url, server)
        yield url
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(timeout=START_WITHIN_S)
    assert server.returncode == 0, log.read_text()
    assert "Traceback" not in log.read_text()


def wait_for(url: str, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + START_WITHIN_S
    while time.monotonic() < until:
        assert server.poll() is None, "the server ended before it answered"
        try:
            if requests.get(f"{url}/readyz", timeout=2).ok:
                return
        except requests.ConnectionError:
            time.sleep(0.05)
    raise TimeoutError("the service did not start")


def raw_exchange(address: str, sent: bytes, *, within_s: float = 20.0) -> bytes:
    """Send bytes as they are and return all that comes back until the peer closes."""
    host, port = address.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=within_s) as peer:
        peer.sendall(sent)
        received = b""
        while chunk := peer.recv(65536):
            received += chunk
    return received


@pytest.mark.slow
class TestOverASocket:
    def test_an_order_is_judged(self, address: str) -> None:
        answer = requests.post(f"{address}/v1/validations", json=small_request(), timeout=10)
        assert answer.status_code == 200
        again = requests.get(address + answer.json()["links"]["self"], timeout=10)
        assert again.json() == answer.json()

    def test_nothing_shows_the_version_of_anything(self, address: str) -> None:
        answer = requests.get(f"{address}/healthz", timeout=10)
        shown = " ".join(f"{name}: {value}" for name, value in answer.headers.items())
        assert not re.search(r"(?i)(python|werkzeug|flask|gunicorn)/?\d", shown)

    def test_ten_megabytes_are_refused_with_a_problem(self, address: str) -> None:
        answer = requests.post(
            f"{address}/v1/validations",
            data=b'{"construction": "' + b"x" * 10_000_000 + b'"}',
            headers={"Content-Type": "application/json"},
            timeout=30,
        )
        assert answer.status_code == 413
        assert answer.headers["Content-Type"] == "application/problem+json"

    def test_a_stream_without_a_length_is_refused_when_it_grows_too_long(
        self, address: str
    ) -> None:
        answer = requests.post(
            f"{address}/v1/validations",
            data=(b"x" * 65536 for _ in range(200)),
            headers={"Content-Type": "application/json"},
            timeout=30,
        )
        assert answer.status_code == 413

    def test_a_stream_without_a_length_is_read(self, address: str) -> None:
        body = json.dumps(small_request()).encode()
        answer = requests.post(
            f"{address}/v1/validations",
            data=iter([body[:50], body[50:]]),
            headers={"Content-Type": "application/json"},
            timeout=10,
        )
        assert answer.status_code == 200

    def test_a_connection_is_kept_after_a_problem(self, address: str) -> None:
        with requests.Session() as session:
            bad = session.post(f"{address}/v1/validations", json={}, timeout=10)
            good = session.post(f"{address}/v1/validations", json=small_request(), timeout=10)
        assert (bad.status_code, good.status_code) == (422, 200)
        assert bad.headers.get("Connection", "keep-alive") == "keep-alive"

    @pytest.mark.parametrize(
        "sent",
        [
            b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",
            b"GET / HTTP/9.9\r\n\r\n",
            b"GET /" + b"a" * 9000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
            b"GET / HTTP/1.1\r\nHost: x\r\n" + b"X: y\r\n" * 200 + b"\r\n",
            b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\n"
            b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
            b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n",
        ],
        ids=["tls", "version", "long line", "many fields", "smuggling", "negative length"],
    )
    def test_broken_http_is_refused_and_harms_nobody(self, address: str, sent: bytes) -> None:
        received = raw_exchange(address, sent)
        assert re.match(rb"HTTP/1\.[01] [45]\d\d ", received)
        assert b"Traceback" not in received
        assert requests.get(f"{address}/healthz", timeout=10).ok


class TestRefusingToStart:
    @pytest.mark.parametrize("bind", ["0.0.0.0:8080", "[::]:8080", ":8080", "192.0.2.1:80", "h:80"])
    def test_an_address_that_strangers_reach_needs_open(
        self, bind: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert command.main(["--bind", bind]) == 2
        assert "--open" in capsys.readouterr().err

    @pytest.mark.parametrize("bind", ["8080", "127.0.0.1", "127.0.0.1:x", "127.0.0.1:99999", ""])
    def test_an_address_that_is_none_is_refused(
        self, bind: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert command.main(["--bind", bind]) == 2
        assert "host:port" in capsys.readouterr().err

    @pytest.mark.parametrize("bind", ["127.0.0.1:1", "localhost:1", "[::1]:1", "127.9.9.9:1",
                                      "unix:/run/x.sock"])  # fmt: skip
    def test_this_machine_is_always_allowed(
        self, bind: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        assert started(monkeypatch, "--bind", bind)["bind"] == bind

    def test_open_allows_any_address(self, monkeypatch: pytest.MonkeyPatch) -> None:
        assert started(monkeypatch, "--bind", "0.0.0.0:80", "--open")["bind"] == "0.0.0.0:80"

    def test_a_park_that_cannot_be_used_is_reported(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        park = tmp_path / "hall.toml"
        park.write_text(PARK_TEXT.replace("shafts = 8", "shafts = 0"), encoding="utf-8")
        assert command.main(["--looms", str(park)]) == 2
        assert "loom 2 ('air-jet-190-cam'), shedding.shafts" in capsys.readouterr().err

    def test_thresholds_that_cannot_be_used_are_refused(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        own = tmp_path / "mill.toml"
        own.write_text("order_short_run_hors = 12", encoding="utf-8")
        assert command.main(["--thresholds", str(own)]) == 2
        assert "Did you mean order_short_run_hours?" in capsys.readouterr().err

    def test_a_directory_for_batches_that_is_none_is_refused(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.setenv("TMPDIR", str(tmp_path / "gone"))
        assert command.main([]) == 2
        assert "TMPDIR" in capsys.readouterr().err

    @pytest.mark.parametrize("workers", ["0", "-1", "x", "1025"])
    def test_a_number_of_workers_that_is_none_is_refused(self, workers: str) -> None:
        with pytest.raises(SystemExit) as caught:
            command.main(["--workers", workers])
        assert caught.value.code == 2


def started(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> dict[str, Any]:
    """Return the options with which the command would start gunicorn."""
    options: dict[str, Any] = {}

    class Server:
        def __init__(self, _settings: object, given: dict[str, Any]) -> None:
            options.update(given)

        def run(self) -> None:
            """Nothing is served."""

    monkeypatch.setattr(command, "_Server", Server)
    assert command.main(list(arguments)) == 0
    return options


def test_gunicorn_is_set_up_for_clients_that_keep_their_connections(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    options = started(monkeypatch, "--workers", "3", "--threads", "5")
    assert options["workers"] == 3
    assert options["threads"] == 5
    assert options["keepalive"] == 75
    assert options["limit_request_line"] == 8190
    assert options["preload_app"] is True


def test_batches_are_kept_where_the_environment_says_even_if_that_is_full(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python would go on in /tmp, if it looked for a place only with the first batch."""

    def full(*_: object) -> None:
        raise FileNotFoundError("no place was usable")

    monkeypatch.setattr(tempfile, "tempdir", None)
    monkeypatch.setattr(tempfile, "_get_default_tempdir", full)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    started(monkeypatch)
    assert tempfile.gettempdir() == str(tmp_path)


WITHOUT_THE_EXTRA = """
import sys
from importlib.abc import MetaPathFinder

class Missing(MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"flask", "gunicorn", "marshmallow", "numpy", "orjson"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Missing())
from weavability.__main__ import main
sys.exit(main())
"""


def test_without_the_extra_the_command_says_in_a_sentence_what_to_install() -> None:
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_THE_EXTRA], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert done.stdout == ""
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("weavability-server: ")
    assert "pip install 'weavability[server]'" in sentence
