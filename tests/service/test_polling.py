"""Dashboards that poll: conditional links one by one, and thousands of them in one question."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from service.support import PARK_TEXT, changed, full_request, small_request

from weavability.answers import validation
from weavability.service import create_app
from weavability.service.http.edition import edition
from weavability.service.http.links import pack
from weavability.service.requests.canonical import canonical_request, digest
from weavability.service.requests.park import parse_park
from weavability.service.resources import validations
from weavability.service.schemas.polling_schema import MOST_CODES, MOST_ITEMS

CHANGES = "/v1/validation-changes"
OTHER_TAG = "0" * 32


@pytest.fixture
def narrowed() -> FlaskClient:
    """The same service after the rapier loom was found to be narrower."""
    text = PARK_TEXT.replace("reed_width_cm = 190.0", "reed_width_cm = 140.0")
    return create_app(park=parse_park(text, name="park.toml")).test_client()


@pytest.fixture
def emptied() -> FlaskClient:
    """The same service after the rapier loom was sold."""
    text = PARK_TEXT.replace("rapier-190-dobby", "rapier-340-dobby")
    return create_app(park=parse_park(text, name="park.toml")).test_client()


def seen(client: FlaskClient, request: dict[str, Any]) -> dict[str, Any]:
    """What a dashboard remembers of a report."""
    report = client.post("/v1/validations", json=request).get_json()
    codes = sorted({finding["code"] for finding in report["findings"]})
    return {"link": report["links"]["self"], "etag": report["validation_id"], "codes": codes}


def ask(client: FlaskClient, *items: dict[str, Any]) -> Any:
    answer = client.post(CHANGES, json={"items": list(items)})
    assert answer.status_code == 200, answer.text
    return answer.get_json()


def without_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make every look at the cloth fail."""
    monkeypatch.setattr(validations, "resolved", None)
    monkeypatch.setattr(validation, "judge", None)
    monkeypatch.setattr(validation, "assess", None)


class TestOneLink:
    def test_a_current_copy_costs_no_look_at_the_cloth(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        known = seen(client, small_request())
        without_rules(monkeypatch)
        answer = client.get(known["link"], headers={"If-None-Match": f'W/"{known["etag"]}", "x"'})
        assert (answer.status_code, answer.data) == (304, b"")
        assert answer.headers["ETag"] == f'"{known["etag"]}"'

    def test_new_limits_of_the_loom_make_a_new_report(
        self, client: FlaskClient, narrowed: FlaskClient
    ) -> None:
        known = seen(client, small_request())
        answer = narrowed.get(known["link"], headers={"If-None-Match": f'"{known["etag"]}"'})
        assert answer.status_code == 200
        assert answer.get_json()["verdict"] == "not_weavable"

    def test_any_copy_is_current_only_where_there_is_a_report(
        self, client: FlaskClient, emptied: FlaskClient
    ) -> None:
        known = seen(client, small_request())
        assert client.get(known["link"], headers={"If-None-Match": "*"}).status_code == 304
        assert emptied.get(known["link"], headers={"If-None-Match": "*"}).status_code == 422
        damaged = known["link"][:-3] + "AAA"
        assert client.get(damaged, headers={"If-None-Match": "*"}).status_code == 404

    def test_head_is_conditional_too(self, client: FlaskClient) -> None:
        known = seen(client, small_request())
        assert client.head(known["link"]).headers["ETag"] == f'"{known["etag"]}"'
        answer = client.head(known["link"], headers={"If-None-Match": f'"{known["etag"]}"'})
        assert answer.status_code == 304

    def test_the_tag_of_a_link_is_that_of_the_report(self, app: Flask, client: FlaskClient) -> None:
        park = app.extensions["weavability"].park
        for request in (small_request(), full_request()):
            packed = canonical_request(request)
            report = client.post("/v1/validations", json=request).get_json()
            found = validations.identity_of(packed, json.loads(packed), park)
            assert found == report["validation_id"]


class TestManyLinks:
    def test_what_is_as_it_was_is_not_repeated_and_not_judged(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        known = [seen(client, small_request()), seen(client, full_request())]
        without_rules(monkeypatch)
        answer = ask(client, *known)
        assert (answer["requested"], answer["asked"], answer["items"]) == (2, 2, [])

    def test_what_has_changed_is_listed_in_order(
        self, client: FlaskClient, narrowed: FlaskClient
    ) -> None:
        own_loom = seen(client, full_request())
        park_loom = seen(client, small_request())
        answer = ask(narrowed, own_loom, park_loom, own_loom, park_loom)
        assert [item["index"] for item in answer["items"]] == [1, 3]
        for item in answer["items"]:
            assert item["link"] == park_loom["link"]
            assert item["verdict"] == "not_weavable"
            assert "width.reed_space" in item["findings_added"]
            assert item["problem"] is None

    def test_the_new_tag_and_codes_are_those_of_the_report(
        self, client: FlaskClient, narrowed: FlaskClient
    ) -> None:
        item = ask(narrowed, seen(client, small_request()))["items"][0]
        now = seen(narrowed, small_request())
        assert {name: item[name] for name in now} == now
        assert ask(narrowed, {**now})["items"] == []

    def test_added_and_cleared_are_listed_against_the_codes_seen(self, client: FlaskClient) -> None:
        known = seen(client, full_request())
        assert len(known["codes"]) >= 2
        remembered = [*known["codes"][1:], "width.reed_space"]
        item = ask(client, {**known, "etag": OTHER_TAG, "codes": remembered})["items"][0]
        assert item["findings_added"] == known["codes"][:1]
        assert item["findings_cleared"] == ["width.reed_space"]

    def test_without_codes_nobody_can_say_what_was_added(self, client: FlaskClient) -> None:
        known = seen(client, full_request())
        item = ask(client, {"link": known["link"], "etag": OTHER_TAG})["items"][0]
        assert (item["findings_added"], item["findings_cleared"]) == (None, None)
        assert item["codes"] == known["codes"]

    def test_no_codes_seen_is_a_memory_too(self, client: FlaskClient) -> None:
        known = seen(client, full_request())
        item = ask(client, {**known, "etag": OTHER_TAG, "codes": []})["items"][0]
        assert item["findings_added"] == known["codes"]
        assert item["findings_cleared"] == []

    @pytest.mark.parametrize("form", ["{}", '"{}"', 'W/"{}"'])
    def test_the_tag_is_taken_as_report_or_header_write_it(
        self, client: FlaskClient, form: str
    ) -> None:
        known = seen(client, small_request())
        assert ask(client, {**known, "etag": form.format(known["etag"])})["items"] == []

    def test_whole_addresses_are_understood(self, client: FlaskClient) -> None:
        known = seen(client, small_request())
        whole = {**known, "link": "https://cloth.example/mill" + known["link"]}
        assert ask(client, whole)["items"] == []
        item = ask(client, {**whole, "etag": OTHER_TAG})["items"][0]
        assert item["link"] == whole["link"]

    def test_a_link_that_no_longer_opens_spoils_only_itself(
        self, client: FlaskClient, emptied: FlaskClient
    ) -> None:
        good = seen(client, full_request())
        sold = seen(client, small_request())
        items = [{**good, "link": good["link"][:-4]}, sold, {**good, "etag": OTHER_TAG}]
        damaged, gone, judged = ask(emptied, *items)["items"]
        assert (damaged["problem"]["status"], damaged["etag"]) == (404, None)
        assert damaged["problem"]["instance"].endswith("/0")
        assert gone["problem"]["status"] == 422
        assert gone["problem"]["errors"][0]["pointer"] == "/loom_id"
        assert judged["problem"] is None

    def test_a_failure_of_the_service_spoils_only_its_item(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
    ) -> None:
        known = seen(client, small_request())

        def fails(*_: object) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr(validation, "judge", fails)
        items = ask(client, {**known, "etag": OTHER_TAG}, known)["items"]
        assert [item["problem"]["status"] for item in items] == [500]
        assert "ZeroDivisionError" in caplog.text

    def test_a_link_that_was_written_by_hand_is_judged_as_what_it_means(
        self, client: FlaskClient
    ) -> None:
        known = seen(client, small_request())
        by_hand = pack(
            json.dumps(changed(small_request(), "/construction/width_cm", 150.0)).encode()
        )
        assert ask(client, {**known, "link": f"/v1/validations/{by_hand}"})["items"] == []

    def test_the_same_link_is_judged_once(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        known = seen(client, small_request())
        judged = 0
        judge = validation.judge

        def counting(*given: Any) -> Any:
            nonlocal judged
            judged += 1
            return judge(*given)

        monkeypatch.setattr(validation, "judge", counting)
        assert len(ask(client, *[{**known, "etag": OTHER_TAG}] * 20)["items"]) == 20
        assert judged == 1

    @pytest.mark.slow
    def test_as_many_as_allowed_are_taken_and_not_one_more(self, client: FlaskClient) -> None:
        known = seen(client, small_request())
        assert ask(client, *[known] * MOST_ITEMS)["requested"] == MOST_ITEMS
        answer = client.post(CHANGES, json={"items": [known] * (MOST_ITEMS + 1)})
        assert answer.status_code == 422
        assert answer.get_json()["errors"][0]["pointer"] == "/items"

    def test_as_many_codes_as_allowed_are_taken_and_not_one_more(self, client: FlaskClient) -> None:
        known = seen(client, small_request())
        ask(client, {**known, "codes": ["a.b"] * MOST_CODES})
        answer = client.post(
            CHANGES, json={"items": [{**known, "codes": ["a"] * (MOST_CODES + 1)}]}
        )
        assert answer.get_json()["errors"][0]["pointer"] == "/items/0/codes"

    def test_no_items_are_a_question_too(self, client: FlaskClient) -> None:
        assert ask(client)["items"] == []

    @pytest.mark.parametrize(
        ("body", "pointer"),
        [
            ({}, "/items"),
            ({"items": {}}, "/items"),
            ({"items": [3]}, "/items/0"),
            ({"items": [{"link": "x"}]}, "/items/0/etag"),
            ({"items": [{"etag": "x"}]}, "/items/0/link"),
            ({"items": [{"link": "x", "etag": "x", "tag": 1}]}, "/items/0/tag"),
        ],
        ids=str,
    )
    def test_a_wrong_question_is_refused_with_its_place(
        self, client: FlaskClient, body: object, pointer: str
    ) -> None:
        answer = client.post(CHANGES, json=body)
        assert answer.status_code == 422
        assert pointer in [error["pointer"] for error in answer.get_json()["errors"]]


def test_a_forged_tag_of_a_bad_link_costs_nothing_and_gives_nothing_away(
    client: FlaskClient,
) -> None:
    content = b'{"construction":{}}'
    tag = digest(content, edition().encode())
    assert ask(client, {"link": f"/v1/validations/{pack(content)}", "etag": tag})["items"] == []
