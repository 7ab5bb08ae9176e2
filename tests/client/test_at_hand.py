"""What helps a person at work: a log, other options, raw answers, notebooks and data frames."""

from __future__ import annotations

import logging
import pickle
import sys
from collections.abc import Iterator
from typing import Any

import pytest
import responses
from client.recorded import sample
from client.test_client import ANSWER, REQUEST, URL, VALIDATIONS

from weavability_client import Client, ConnectionFailed, InvalidInput, LoomPark, Report, UsageError
from weavability_client._record import Several
from weavability_client.models import Finding

TOKEN = "a-very-secret-token"


@pytest.fixture
def played() -> Iterator[responses.RequestsMock]:
    with responses.RequestsMock() as mock:
        yield mock


@pytest.fixture
def debugged(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("WEAVABILITY_LOG", "debug")
    yield
    log = logging.getLogger("weavability_client")
    log.handlers.clear()
    log.setLevel(logging.NOTSET)


class TestLog:
    @pytest.mark.usefixtures("debugged")
    def test_it_has_every_exchange_and_never_the_token(
        self, played: responses.RequestsMock, capsys: pytest.CaptureFixture[str]
    ) -> None:
        played.post(VALIDATIONS, json=ANSWER, headers={"X-Request-Id": "r-17"})
        with Client(URL, token=TOKEN) as client:
            client.validate(**REQUEST)
        Client(URL)  # a second client logs nothing twice
        (line,) = capsys.readouterr().err.splitlines()
        assert "POST /v1/validations -> 200" in line
        assert "r-17" in line
        assert TOKEN not in line

    @pytest.mark.usefixtures("debugged")
    def test_it_says_what_failed_and_when_it_is_sent_again(
        self,
        played: responses.RequestsMock,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        monkeypatch.setattr("time.sleep", lambda _s: None)
        played.post(VALIDATIONS, status=503, json={"status": 503})
        played.post(VALIDATIONS, json=ANSWER)
        Client(URL).validate(**REQUEST)
        first, again, second = capsys.readouterr().err.splitlines()
        assert "-> 503" in first
        assert "attempt 2 in" in again
        assert "-> 200" in second
        with pytest.raises(ConnectionFailed):
            Client("http://127.0.0.1:9", retries=0).looms()
        assert "GET /v1/looms failed" in capsys.readouterr().err

    @pytest.mark.usefixtures("debugged")
    def test_it_has_neither_the_order_of_a_link_nor_a_token_of_a_query(
        self, played: responses.RequestsMock, capsys: pytest.CaptureFixture[str]
    ) -> None:
        packed = "v1.eJyrVkrLTFGyUkorUtJRykvMTVWyqlYqLU4t0k"
        played.get(f"{URL}/v1/validations/{packed}", json=ANSWER)
        Client(URL).raw("GET", f"/v1/validations/{packed}?reference=a&token={TOKEN}&b=1")
        (line,) = capsys.readouterr().err.splitlines()
        assert "GET /v1/validations/v1.eJyrVkrL…?reference=a&token=…&b=1 -> 200" in line

    def test_without_the_variable_nothing_is_logged(
        self, played: responses.RequestsMock, capsys: pytest.CaptureFixture[str]
    ) -> None:
        played.post(VALIDATIONS, json=ANSWER)
        Client(URL).validate(**REQUEST)
        assert capsys.readouterr().err == ""

    def test_a_level_that_is_none_is_refused(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("WEAVABILITY_LOG", "loud")
        with pytest.raises(UsageError, match="debug, info, warning"):
            Client(URL)


class TestOtherOptions:
    def test_only_what_is_named_is_another(self, played: responses.RequestsMock) -> None:
        played.post(VALIDATIONS, json=ANSWER)
        played.post(VALIDATIONS, json=ANSWER)
        client = Client(URL, token=TOKEN, retries=3)
        hasty = client.with_options(timeout=(1, 2), retries=0)
        hasty.validate(**REQUEST)
        client.with_options(token="another").validate(**REQUEST)
        sent = [call.request.headers["Authorization"] for call in played.calls]
        assert sent == [f"Bearer {TOKEN}", "Bearer another"]
        assert pickle.loads(pickle.dumps(hasty)).base_url == client.base_url

    def test_the_connections_are_shared(self) -> None:
        with Client(URL) as client:
            other = client.with_options(retries=0)
            shared = client._transport.connections.session()
            assert other._transport.connections.session() is shared

    @pytest.mark.parametrize(
        "timeout", [-1, 0, "x", float("nan"), (1, 0), (3,), (1, 2, 3), (), True, 10**400]
    )
    def test_a_timeout_that_is_none_is_refused_at_once(self, timeout: Any) -> None:
        with pytest.raises(UsageError, match="timeout must be seconds above 0"):
            Client(URL, timeout=timeout)
        with pytest.raises(UsageError, match="timeout must be seconds above 0"):
            Client(URL).with_options(timeout=timeout)

    def test_retries_below_none_are_refused(self) -> None:
        with pytest.raises(UsageError, match="retries"):
            Client(URL).with_options(retries=-1)


class TestRaw:
    def test_status_headers_and_body_come_as_they_are(self, played: responses.RequestsMock) -> None:
        played.post(VALIDATIONS, body="<p>ö</p>".encode(), content_type="text/html; charset=utf-8")
        answer = Client(URL).raw("POST", "/v1/validations", REQUEST, accept="text/html")
        assert (answer.status, answer.headers["content-type"]) == (200, "text/html; charset=utf-8")
        assert answer.body.decode() == "<p>ö</p>"
        assert played.calls[0].request.headers["Accept"].startswith("text/html")

    def test_it_reads_as_json(self, played: responses.RequestsMock) -> None:
        played.get(f"{URL}/readyz", json={"status": "ready"})
        assert Client(URL).raw("GET", "/readyz").json() == {"status": "ready"}

    def test_a_problem_is_raised_as_of_every_call(self, played: responses.RequestsMock) -> None:
        refused = sample("invalid")
        played.post(VALIDATIONS, status=422, json=refused["answer"])
        with pytest.raises(InvalidInput):
            Client(URL).raw("POST", "/v1/validations", {})

    def test_a_path_begins_with_a_slash(self) -> None:
        with pytest.raises(UsageError, match="slash"):
            Client(URL).raw("GET", "readyz")


class TestNotebooks:
    report = Report.from_json(sample("not_weavable")["answer"])

    def test_the_verdict_is_coloured_and_words_are_at_the_left(self) -> None:
        shown = self.report._repr_html_()
        assert "<strong style='color:#c62828'>not weavable</strong>" in shown
        assert "text-align:left" in shown
        assert "<td style='text-align:right'>" not in shown
        assert "<caption" not in shown  # which is no wider than its table
        assert "--assumptions" not in shown
        assert "; .assumptions lists them" in shown

    def test_numbers_of_a_table_are_at_the_right(self) -> None:
        loom = sample("loom")["answer"]
        park = LoomPark.from_json({"park": "x", "looms": [loom, loom]})
        assert "<td style='text-align:right'>190</td>" in park._repr_html_()

    def test_a_list_of_findings_reads_as_lines_and_shows_as_a_table(self) -> None:
        findings = self.report.findings
        assert isinstance(findings, tuple)
        assert [line.strip().partition(": ")[2] for line in repr(findings).splitlines()[1:-1]] == [
            str(each) for each in findings
        ]
        assert repr(findings[:1]).count("\n") == 2
        shown = findings[:1]._repr_html_()  # type: ignore[attr-defined]
        assert findings[0].code in shown
        assert findings[0].message.replace("'", "&#x27;") in shown
        assert "<strong style='color:#c62828'>error</strong>" in shown
        assert "message_key" not in shown
        assert "reason_key" not in self.report.assumptions._repr_html_()  # type: ignore[attr-defined]

    def test_a_list_of_looms_reads_as_lines(self) -> None:
        loom = sample("loom")["answer"]
        park = LoomPark.from_json({"park": "x", "looms": [loom] * 2})
        lines = repr(park.looms).splitlines()[1:-1]
        assert len(lines) == 2
        assert all(f"loom_id={loom['loom_id']!r}" in line for line in lines)
        assert all(len(line) < 400 for line in lines)

    def test_nothing_in_a_list_is_markup(self) -> None:
        hostile = Several([self.report.findings[0]])
        stated: dict[str, Any] = {**hostile[0].to_json(), "message": "<script>x</script>"}
        shown = Several([Finding.from_json(stated)])._repr_html_()
        assert "<script>" not in shown

    def test_an_empty_list_says_so(self) -> None:
        assert repr(Several[Finding]()) == "[]"
        assert Several[Finding]()._repr_html_() == "<p>none</p>"


class TestFrames:
    @pytest.mark.slow
    def test_a_report_is_a_frame_of_its_findings(self) -> None:
        from pandas import DataFrame  # slow to import, and needed by no other test

        report = TestNotebooks.report
        frame = report.to_frame()
        assert isinstance(frame, DataFrame)
        assert list(frame["code"]) == [each.code for each in report.findings]
        assert list(frame.columns) == list(report.to_rows()[0])

    def test_without_pandas_it_says_what_to_install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "pandas", None)
        with pytest.raises(UsageError, match=r"weavability\[frames\]"):
            TestNotebooks.report.to_frame()
