"""How often one caller may ask."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import PARK_TEXT

from weavability.service import Settings, create_app
from weavability.service.access.rate_limit import MOST_CALLERS, Limiter, address_key
from weavability.service.access.tokens import Scope, make_token
from weavability.service.requests.park import parse_park

PARK = parse_park(PARK_TEXT, name="park.toml")
RATES = st.integers(1, 100_000)


@given(rate=RATES, gaps_s=st.lists(st.floats(0, 30), min_size=1, max_size=200))
def test_never_more_than_the_burst_and_the_rate(rate: int, gaps_s: list[float]) -> None:
    limiter, now, passed, burst = Limiter(), 1000.0, 0, 0
    start = now
    for gap in gaps_s:
        now += gap
        allowance = limiter.take("a", per_min=rate, now_s=now)
        passed += allowance.allowed
        burst = allowance.burst
    assert passed <= burst + (now - start) * rate / 60 + 1e-6


@pytest.mark.slow
@given(rate=RATES)
def test_who_comes_again_when_the_wait_is_over_is_let_in(rate: int) -> None:
    limiter, now = Limiter(), 5.0
    while (taken := limiter.take("a", per_min=rate, now_s=now)).allowed:
        assert taken.remaining < taken.burst
    assert taken.wait_s > 0
    assert not limiter.take("a", per_min=rate, now_s=now + taken.wait_s * 0.99).allowed
    assert limiter.take("a", per_min=rate, now_s=now + taken.wait_s * 1.01).allowed


@given(rate=RATES)
def test_remaining_counts_down_to_the_refusal(rate: int) -> None:
    limiter = Limiter()
    first = limiter.take("a", per_min=rate, now_s=0.0)
    left = first.remaining
    for _ in range(min(left, 50)):
        taken = limiter.take("a", per_min=rate, now_s=0.0)
        assert taken.allowed
        assert taken.remaining == left - 1
        left = taken.remaining
    if left == 0:
        assert not limiter.take("a", per_min=rate, now_s=0.0).allowed


def test_callers_do_not_take_from_one_another() -> None:
    limiter = Limiter()
    for _ in range(5):
        limiter.take("greedy", per_min=6, now_s=0.0)
    assert limiter.take("modest", per_min=6, now_s=0.0).allowed


@pytest.mark.slow
def test_memory_is_bounded_and_those_who_ask_are_remembered() -> None:
    limiter = Limiter()
    limiter.take("busy", per_min=6, now_s=0.0)
    for number in range(MOST_CALLERS * 2):
        limiter.take(f"passer-by {number}", per_min=6, now_s=0.0)
        if number % 1000 == 0:
            limiter.take("busy", per_min=6, now_s=0.0)
    assert len(limiter._due) == MOST_CALLERS
    assert not limiter.take("busy", per_min=6, now_s=0.0).allowed


def test_an_ipv6_caller_is_its_network() -> None:
    assert address_key("2001:db8::1") == address_key("2001:db8::ffff:1")
    assert address_key("2001:db8::1") != address_key("2001:db8:0:1::1")
    assert address_key("192.0.2.1") != address_key("192.0.2.2")


class TestOverHttp:
    @pytest.fixture
    def limited(self) -> FlaskClient:
        limits = Settings(requests_per_min=12, work_per_min=12)
        return create_app(limits, park=PARK).test_client()

    def test_the_request_too_many_is_answered_with_when_to_come_again(
        self, limited: FlaskClient
    ) -> None:
        answers = [limited.get("/v1/looms") for _ in range(3)]
        assert [answer.status_code for answer in answers] == [200, 200, 429]
        refused = answers[-1]
        assert 1 <= int(refused.headers["Retry-After"]) <= 5
        assert refused.get_json(force=True)["type"] == "/problems/too-many-requests"
        assert refused.headers["X-Request-Id"]

    @pytest.mark.parametrize("work_per_min", [1, 6, 12, 120, 6_000])
    def test_the_limit_is_that_of_a_minute(self, work_per_min: int) -> None:
        client = create_app(Settings(work_per_min=work_per_min), park=PARK).test_client()
        headers = client.get("/v1/looms").headers
        assert headers["RateLimit-Limit"] == str(work_per_min)
        assert int(headers["RateLimit-Remaining"]) <= work_per_min / 6

    def test_every_answer_states_what_is_left(self, limited: FlaskClient) -> None:
        headers = limited.get("/v1/looms").headers
        assert headers["RateLimit-Limit"] == "12"
        assert headers["RateLimit-Remaining"] == "1"
        assert headers["RateLimit-Reset"] == "5"

    def test_addresses_are_counted_apart(self, limited: FlaskClient) -> None:
        for address in ("192.0.2.1", "192.0.2.2"):
            here = {"REMOTE_ADDR": address}
            assert limited.get("/v1/looms", environ_overrides=here).status_code == 200

    @pytest.mark.parametrize("path", ["/healthz", "/readyz", "/metrics", "/"])
    def test_probes_are_not_counted(self, limited: FlaskClient, path: str) -> None:
        assert {limited.get(path).status_code for _ in range(5)} == {200}

    def test_without_a_limit_nothing_is_counted(self, client: FlaskClient) -> None:
        answer = client.get("/v1/looms")
        assert "RateLimit-Limit" not in answer.headers

    def test_a_forwarded_address_is_believed_only_from_own_proxies(self) -> None:
        said = {"X-Forwarded-For": "198.51.100.1"}
        near = create_app(Settings(requests_per_min=6), park=PARK).test_client()
        far = create_app(Settings(requests_per_min=6, proxies=1), park=PARK).test_client()
        for app, second in ((near, 429), (far, 200)):
            assert app.get("/v1/looms", headers=said).status_code == 200
            other = {"X-Forwarded-For": "198.51.100.2"}
            assert app.get("/v1/looms", headers=other).status_code == second

    def test_a_token_may_have_a_limit_of_its_own(self, tmp_path: Path) -> None:
        slow, slow_lines = make_token("slow", [Scope.VALIDATE])
        quick, quick_lines = make_token("quick", [Scope.VALIDATE])
        path = tmp_path / "tokens.toml"
        path.write_text(f"{slow_lines}work_per_min = 6\n{quick_lines}", encoding="utf-8")
        client = create_app(Settings(tokens=path, work_per_min=60), park=PARK).test_client()
        for token, limit in ((slow, "6"), (quick, "60")):
            answer = client.get("/v1/looms", headers={"Authorization": f"Bearer {token}"})
            assert answer.headers["RateLimit-Limit"] == limit
