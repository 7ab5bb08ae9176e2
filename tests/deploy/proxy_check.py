"""Tries ``server/deploy/nginx.conf`` before the running service: slow clients wait at the proxy.

Needs nginx. Run it with ``.venv/bin/python tests/deploy/proxy_check.py``; it prints what it saw and
ends with 0 where everything held.
"""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests"))

import requests  # noqa: E402
from service.servers import Server, free_port, serving, until  # noqa: E402
from service.support import small_request  # noqa: E402

THREADS: Final = 2
SLOW_CLIENTS: Final = 20
SLOWEST_ANSWER_S: Final = 1.0
HEAD_WITHIN_S: Final = 20.0
CONNECTIONS_OF_ONE_ADDRESS: Final = 100
HEAD: Final = (
    b"POST /v1/validations HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    b"Content-Length: %d\r\n\r\n"
)
BODY: Final = json.dumps(small_request()).encode()


def configuration(service_ports: Sequence[int], port: int, scratch: Path) -> str:
    """The shipped configuration with this machine's ports and a directory of its own."""
    text = (ROOT / "server" / "deploy" / "nginx.conf").read_text("utf-8")
    changes = {
        "        server weavability:8080 max_fails=0;": "\n".join(
            f"        server 127.0.0.1:{each} max_fails=0;" for each in service_ports
        ),
        "listen 8080": f"listen 127.0.0.1:{port}",
        " /tmp/": f" {scratch}/",
    }
    for old, new in changes.items():
        if old not in text:
            raise ValueError(f"the configuration has no {old!r}")
        text = text.replace(old, new)
    return text


@contextmanager
def proxy(*servers: Server) -> Iterator[str]:
    """Run nginx before one service or several replicas of it; give its address."""
    port = free_port()
    with tempfile.TemporaryDirectory() as directory:
        Path(directory).chmod(0o755)  # started by root, the proxy works as somebody else
        path = Path(directory, "nginx.conf")
        path.write_text(
            configuration([each.port for each in servers], port, Path(directory)), encoding="utf-8"
        )
        command = ["nginx", "-c", str(path), "-p", directory]
        subprocess.run([*command, "-t", "-q"], check=True)
        process = subprocess.Popen([*command, "-g", "daemon off;"], stderr=subprocess.DEVNULL)
        try:
            until(lambda: answers(port))
            yield f"http://127.0.0.1:{port}"
        finally:
            process.terminate()
            process.wait(30)


def answers(port: int) -> bool:
    """Whether somebody listens there."""
    with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
        return True
    return False


def connect(url: str) -> socket.socket:
    host, _, port = url.removeprefix("http://").partition(":")
    return socket.create_connection((host, int(port)), timeout=30)


def timed(url: str) -> float:
    """How long an ordinary request takes."""
    began = time.monotonic()
    answer = requests.post(f"{url}/v1/validations", json=small_request(), timeout=30)
    expect(answer.status_code == 200, f"an ordinary request got {answer.status_code}")
    return time.monotonic() - began


def expect(held: object, otherwise: str) -> None:
    if not held:
        raise SystemExit(f"proxy_check: {otherwise}")


def slow_senders(url: str, media_type: bytes) -> None:
    """Many more slow clients than threads; nobody else waits, and they are answered in the end."""
    head = HEAD.replace(b"application/json", media_type)
    peers = [connect(url) for _ in range(SLOW_CLIENTS)]
    done: list[bytes] = []

    def dawdle(peer: socket.socket) -> None:
        peer.sendall(head % len(BODY))
        for start in range(0, len(BODY), 60):
            peer.sendall(BODY[start : start + 60])
            time.sleep(0.5)
        done.append(peer.recv(65536))

    threads = [threading.Thread(target=dawdle, args=(peer,)) for peer in peers]
    for thread in threads:
        thread.start()
    worst = max(timed(url) for _ in range(10))
    expect(not done, "the slow clients were not slow enough to show it")
    expect(worst < SLOWEST_ANSWER_S, f"others waited {worst:.2f} s for slow senders")
    for thread in threads:
        thread.join()
    good = sum(answer.startswith(b"HTTP/1.1 200 ") for answer in done)
    expect(good == SLOW_CLIENTS, f"only {good} of {SLOW_CLIENTS} slow clients were answered")
    say(
        f"{SLOW_CLIENTS} slow senders of {media_type.decode()}, {THREADS} threads: others waited "
        f"at most {worst:.3f} s"
    )


def slow_heads(url: str) -> None:
    """Heads that trickle wait at the proxy, which ends them."""
    peers = [connect(url) for _ in range(SLOW_CLIENTS)]
    began = time.monotonic()
    took_s: list[float] = []

    def dawdle(peer: socket.socket) -> None:
        peer.settimeout(0.5)
        peer.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\nX: ")
        while time.monotonic() - began < 2 * HEAD_WITHIN_S:
            try:
                peer.sendall(b"y")
                if not peer.recv(65536):
                    break
            except TimeoutError:
                continue
            except OSError:
                break
        took_s.append(time.monotonic() - began)
        peer.close()

    threads = [threading.Thread(target=dawdle, args=(peer,)) for peer in peers]
    for thread in threads:
        thread.start()
    worst = max(timed(url) for _ in range(10))
    expect(not took_s, "the slow heads were not slow enough to show it")
    expect(worst < SLOWEST_ANSWER_S, f"others waited {worst:.2f} s for slow heads")
    for thread in threads:
        thread.join()
    longest = max(took_s)
    expect(longest < HEAD_WITHIN_S + 5, f"a head that trickled was borne for {longest:.0f} s")
    say(f"{SLOW_CLIENTS} slow heads: others waited at most {worst:.3f} s; cut in {longest:.0f} s")


def slow_readers(url: str) -> None:
    """Clients that do not read their answer hold no thread either."""
    expect(requests.get(f"{url}/openapi.json", timeout=30).ok, "the description is not there")
    lines = (BODY + b"\n") * 200
    batch = HEAD.replace(b"application/json", b"application/x-ndjson") % len(lines) + lines
    peers = [connect(url) for _ in range(SLOW_CLIENTS)]
    for peer in peers:
        peer.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        peer.sendall(b"GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n")
    for peer in peers[:THREADS]:
        peer.sendall(batch)
    # What they ordered is computed first; only then are they slow.
    until(lambda: max(timed(url) for _ in range(10)) < SLOWEST_ANSWER_S)
    worst = max(timed(url) for _ in range(10))
    expect(worst < SLOWEST_ANSWER_S, f"others waited {worst:.2f} s for slow readers")
    for peer in peers:
        peer.close()
    say(f"{SLOW_CLIENTS} slow readers, {THREADS} threads: others waited at most {worst:.3f} s")


def too_many(url: str) -> None:
    """One address holds so many connections and no more."""
    peers = [connect(url) for _ in range(CONNECTIONS_OF_ONE_ADDRESS)]
    for peer in peers:
        peer.sendall(HEAD % len(BODY))
    time.sleep(0.5)
    answer = requests.get(f"{url}/healthz", timeout=30)
    problem(answer, 429, "too-many-requests")
    expect(answer.headers["Retry-After"] == "1", "no Retry-After with the 429")
    for peer in peers:
        peer.close()
    say(f"{CONNECTIONS_OF_ONE_ADDRESS} connections of one address; the next was answered with 429")


def problem(answer: Any, status: int, slug: str) -> None:
    expect(answer.status_code == status, f"{answer.status_code} instead of {status}")
    expect(answer.headers["Content-Type"] == "application/problem+json", "no problem+json")
    found = answer.json()
    expect(found["type"] == f"/problems/{slug}", f"the problem is {found['type']}")
    expect(answer.headers["X-Request-Id"] == found["request_id"], "no request id")


def refusals(url: str) -> None:
    """What the proxy itself refuses is a problem as well."""
    large = requests.post(f"{url}/v1/validations", data=b"x" * (9 * 2**20), timeout=30)
    problem(large, 413, "body-too-large")
    problem(requests.get(f"{url}/{'a' * 20_000}", timeout=30), 414, "address-too-long")
    huge = requests.get(f"{url}/healthz", headers={"X-Huge": "x" * 20_000}, timeout=30)
    problem(huge, 431, "headers-too-large")
    with connect(url) as peer:
        peer.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nHost: y\r\n\r\n")
        expect(b'"/problems/malformed-http"' in peer.recv(65536), "broken HTTP is no problem")
    problem(requests.get(f"{url}/metrics", timeout=30), 404, "not-found")
    unknown = {"Transfer-Encoding": "xchunked"}
    for path in ("/v1/validations", "/healthz"):
        problem(requests.request("TRACE", url + path, timeout=30), 405, "method-not-allowed")
        coded = requests.post(url + path, headers=unknown, timeout=30)
        problem(coded, 400, "malformed-http")
    with connect(url) as peer:
        peer.sendall(b"CONNECT x:80 HTTP/1.1\r\nHost: x\r\n\r\n")
        expect(b'"/problems/m' in peer.recv(65536), "a refused CONNECT is no problem")
    with connect(url) as peer:
        peer.sendall(b"GET / HTTP/3.0\r\nHost: x\r\n\r\n")
        expect(b'"/problems/malformed-http"' in peer.recv(65536), "HTTP/3.0 is no problem")
    own = requests.delete(f"{url}/healthz", timeout=30)
    problem(own, 405, "method-not-allowed")
    expect("POST" not in own.headers["Allow"], "the proxy answers in place of the service")
    say("too large, too long, broken HTTP, unknown methods and codings and /metrics are refused")


def batches(url: str) -> None:
    """A batch of many lines comes back whole."""
    line = json.dumps(small_request()).encode() + b"\n"
    headers = {"Content-Type": "application/x-ndjson"}
    answer = requests.post(f"{url}/v1/validations", data=line * 2000, headers=headers, timeout=60)
    lines = answer.text.splitlines()
    expect(answer.status_code == 200 and len(lines) == 2000, f"{len(lines)} lines of 2000")
    expect(json.loads(lines[-1])["status"] == 200, "the last line is no report")
    say("a batch of 2000 lines came back whole")


def say(words: str) -> None:
    print(words, flush=True)


def main() -> int:
    """Run every check."""
    if shutil.which("nginx") is None:
        print("nginx is not here: its configuration was not tried")
        return 2
    arguments = ["--workers", "1", "--threads", str(THREADS), "--proxies", "1"]
    with serving(*arguments) as server, proxy(server) as url:
        refusals(url)
        slow_senders(url, b"application/json")
        slow_senders(url, b"application/x-ndjson")
        slow_heads(url)
        slow_readers(url)
        batches(url)
        too_many(url)
        time.sleep(1)
        server.process.terminate()
        server.process.wait(30)
        problem(requests.get(f"{url}/healthz", timeout=30), 503, "not-ready")
        say("without the service, the proxy says so")
        slow = [line for line in server.lines() if line.get("status", 0) >= 500]
        expect(not slow, f"the service failed: {slow[:1]}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
