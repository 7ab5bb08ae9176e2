"""What is counted, and that callers cannot make it grow."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from prometheus_client import values
from prometheus_client.parser import text_string_to_metric_families
from service.support import changed, small_request

from weavability.checks.registry import all_checks
from weavability.service.http.problems import KINDS
from weavability.service.observability.metrics import (
    DIRECTORY,
    FILE_BYTES,
    begin_anew,
    metrics,
    take_room,
)
from weavability.service.operations import OPERATIONS

Samples = dict[tuple[str, tuple[tuple[str, str], ...]], float]


def samples(client: FlaskClient) -> Samples:
    """Everything counted so far, read by Prometheus' own parser."""
    text = client.get("/metrics", buffered=True).text
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def rise(client: FlaskClient, act: Callable[[], Any]) -> Samples:
    """What has risen while ``act`` was done."""
    before = samples(client)
    act()
    return {
        key: value - before.get(key, 0.0)
        for key, value in samples(client).items()
        if value != before.get(key, 0.0)
    }


def of(name: str, **labels: str) -> tuple[str, tuple[tuple[str, str], ...]]:
    return name, tuple(sorted(labels.items()))


def post(client: FlaskClient, request: object) -> Any:
    return client.post("/v1/validations", json=request, buffered=True).get_json(force=True)


def test_a_request_is_counted_by_its_route(client: FlaskClient) -> None:
    risen = rise(client, lambda: client.get("/v1/looms/air-jet-190-cam", buffered=True))
    route = "/v1/looms/{loom_id}"
    assert risen[of("weavability_requests_total", method="GET", route=route, status="200")] == 1
    counted = of("weavability_request_duration_seconds_count", method="GET", route=route)
    assert risen[counted] == 1


def test_a_report_is_counted_with_its_findings(client: FlaskClient) -> None:
    reports: list[Any] = []
    wide = changed(small_request(), "/construction/width_cm", 400)
    risen = rise(client, lambda: reports.append(post(client, wide)))
    assert risen[of("weavability_verdicts_total", verdict="not_weavable")] == 1
    for finding in reports[0]["findings"]:
        code, severity = finding["code"], finding["severity"]
        assert risen[of("weavability_findings_total", code=code, severity=severity)] >= 1
    counted = sum(v for (name, _), v in risen.items() if name == "weavability_findings_total")
    assert counted == len(reports[0]["findings"])


@pytest.mark.slow
def test_work_and_trials_are_counted(client: FlaskClient) -> None:
    wide = changed(small_request(), "/construction/width_cm", 205.5)
    answers: list[Any] = []
    risen = rise(client, lambda: answers.append(post(client, wide)))
    tried = {kind: risen[of("weavability_trials_total", kind=kind)] for kind in ("probe", "proof")}
    assert 0 < tried["proof"] <= tried["probe"]
    units = 1 + 0.1 * tried["probe"] + 0.25 * tried["proof"]
    assert risen[of("weavability_work_units_total")] == pytest.approx(units)
    without = {**changed(small_request(), "/construction/width_cm", 206.5)}
    without["options"] = {"remedies": False}
    unrisen = rise(client, lambda: post(client, without))
    assert unrisen[of("weavability_work_units_total")] == 1
    assert not any(unrisen.get(of("weavability_trials_total", kind=kind)) for kind in tried)
    search = rise(client, lambda: client.post("/v1/remedies", json=wide, buffered=True))
    assert search[of("weavability_work_units_total")] > 50
    assert search[of("weavability_trials_total", kind="proof")] > 0


def test_a_rejection_is_counted_by_its_reason(client: FlaskClient) -> None:
    risen = rise(client, lambda: client.post("/v1/validations", data=b"{", buffered=True))
    assert risen[of("weavability_rejections_total", reason="unsupported-media-type")] == 1


def test_a_request_is_in_flight_until_its_answer_is_closed(client: FlaskClient) -> None:
    in_flight = of("weavability_requests_in_flight")
    before = samples(client)[in_flight]
    answer = client.get("/healthz")
    assert samples(client)[in_flight] == before + 1
    answer.close()
    assert samples(client)[in_flight] == before


@pytest.mark.slow
def test_callers_cannot_add_labels(client: FlaskClient) -> None:
    def hostile() -> None:
        for number in range(50):
            client.get(f"/nowhere/{number}", buffered=True)
            client.open("/v1/looms", method=f"X{number}", buffered=True)
            client.get(f"/v1/looms/L{number}", buffered=True)
            client.get(f"/v1/checks/a.b{number}", buffered=True)
            client.get("/healthz", headers={"X-Request-Id": f"r{number}"}, buffered=True)

    hostile()
    known = samples(client).keys()
    hostile()
    assert samples(client).keys() == known


def test_every_label_is_of_a_known_set(client: FlaskClient) -> None:
    post(client, small_request())
    allowed = {
        "route": {each.path for each in OPERATIONS.values()}
        | {"unmatched", "/static/{path:filename}", "/docs"},
        "code": {each.code.value for each in all_checks()},
        "reason": set(KINDS),
        "verdict": {"weavable", "weavable_with_warnings", "not_weavable"},
        "severity": {"error", "warning", "note"},
    }
    for _, labels in samples(client):
        for label, value in labels:
            assert label not in allowed or value in allowed[label], (label, value)


def test_its_descriptions_are_the_same_before_requests_and_after(client: FlaskClient) -> None:
    """The OpenAPI document shows them, in whichever process it is made."""
    client.post("/v1/validations", json={})
    lines = client.get("/metrics").text.splitlines()
    described = [line for line in lines if line.startswith("# HELP")]
    assert described
    assert not any("_created" in line for line in lines)


def test_it_is_given_in_prometheus_text_format(client: FlaskClient) -> None:
    answer = client.get("/metrics")
    assert answer.headers["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-store"
    assert re.search(r"^# HELP weavability_requests_total ", answer.text, re.MULTILINE)


def test_a_process_takes_its_room_to_count_in_before_it_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where room is only taken as it is used, a full disk ends the process at its next count."""
    monkeypatch.setenv(DIRECTORY, str(tmp_path))
    take_room()
    for kind in ("counter", "gauge_livesum", "histogram"):
        taken = (tmp_path / f"{kind}_{os.getpid()}.db").stat()
        assert taken.st_size == taken.st_blocks * 512 == FILE_BYTES


def test_a_process_without_room_counts_for_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setenv(DIRECTORY, str(tmp_path))
    monkeypatch.setattr(os, "posix_fallocate", full)
    monkeypatch.setattr(values, "ValueClass", values.ValueClass)
    take_room()
    metrics().reloads.labels("done").inc()
    assert not list(tmp_path.iterdir())
    assert "no room for counts" in caplog.text
    metrics.cache_clear()


def test_a_process_that_is_killed_as_it_takes_its_room_leaves_counts_readable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class KilledError(BaseException):
        pass

    def killed(*_: object) -> None:
        raise KilledError

    monkeypatch.setenv(DIRECTORY, str(tmp_path))
    monkeypatch.setattr(os, "posix_fallocate", killed)
    with pytest.raises(KilledError):
        take_room()
    assert list(tmp_path.iterdir())
    assert metrics().written({"version": "1"})


def test_a_reload_deletes_the_files_of_all_but_the_master(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DIRECTORY, str(tmp_path))
    for name in ("counter_7", "histogram_7", "gauge_livesum_8", f"counter_{os.getpid()}"):
        (tmp_path / f"{name}.db").touch()
    (tmp_path / "counter_9.new").touch()
    begin_anew()
    assert [path.name for path in tmp_path.iterdir()] == [f"counter_{os.getpid()}.db"]
