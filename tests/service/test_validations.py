from __future__ import annotations

import json
from random import Random
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import DELETE, PARK_TEXT, changed, full_request, pretty, small_request

from weavability.service import create_app
from weavability.service.requests.park import parse_park

ADDRESS = "/v1/validations"


def ask(client: FlaskClient, request: object) -> Any:
    answer = client.post(ADDRESS, json=request)
    assert answer.status_code == 200, answer.text
    return answer.json


def test_the_contracts_example_is_judged(client: FlaskClient) -> None:
    report = ask(client, full_request())
    assert report["verdict"] in {"weavable", "weavable_with_warnings"}
    assert report["reference"] == "SO-10482/1"
    assert report["loom_id"] == "rapier-190-dobby"
    assert report["setup"]["total_ends"] == 4912  # 32/cm × 152 cm + 48
    assert report["rates"]["limited_by"] == "requested_speed"
    assert "safety approval" in report["caution"]


def test_a_cloth_that_cannot_be_woven_is_an_answer_and_not_a_problem(client: FlaskClient) -> None:
    report = ask(client, changed(small_request(), "/construction/width_cm", 400))
    assert report["verdict"] == "not_weavable"
    assert "width.reed_space" in {finding["code"] for finding in report["findings"]}


def test_inches_and_centimetres_give_the_same_cloth(client: FlaskClient) -> None:
    metric = ask(client, small_request())
    inch = small_request()
    del inch["construction"]["warp"]["ends_per_cm"], inch["construction"]["width_cm"]
    inch["construction"]["warp"]["ends_per_in"] = 28 * 2.54
    inch["construction"]["width_in"] = 150 / 2.54
    converted = ask(client, inch)
    assert converted["setup"]["total_ends"] == metric["setup"]["total_ends"]
    assert converted["cloth"]["ends_per_cm"] == pytest.approx(28)
    assert converted["validation_id"] != metric["validation_id"]


def test_yards_are_metres(client: FlaskClient) -> None:
    metres = ask(client, changed(small_request(), "/construction/length_m", 914.4))
    yards = ask(client, changed(small_request(), "/construction/length_yd", 1000))
    assert yards["rates"]["hours_for_order"] == pytest.approx(metres["rates"]["hours_for_order"])


def test_the_id_comes_first_and_links_and_caution_last(client: FlaskClient) -> None:
    report = ask(client, small_request())
    (first, *_, last_but_one, last) = report
    assert (first, last_but_one, last) == ("validation_id", "links", "caution")


class TestIdentity:
    def test_it_is_the_etag_and_the_answer_names_its_own_address(self, client: FlaskClient) -> None:
        answer = client.post(ADDRESS, json=small_request())
        report = json.loads(answer.data)
        assert answer.headers["ETag"] == f'"{report["validation_id"]}"'
        assert answer.headers["Content-Location"] == report["links"]["self"]
        assert answer.headers["Cache-Control"] == "private, no-cache"
        assert report["links"]["loom"] == "/v1/looms/rapier-190-dobby"

    @pytest.mark.parametrize(
        ("pointer", "value"),
        [
            ("/construction/warp/ends_per_cm", 28.0),
            ("/construction/reference", "another order"),
            ("/construction/panels", None),
            ("/construction/selvedge", {}),
            ("/construction/warp/order", None),
        ],
    )
    def test_what_means_the_same_is_the_same(
        self, client: FlaskClient, pointer: str, value: object
    ) -> None:
        one = ask(client, small_request())
        other = ask(client, changed(small_request(), pointer, value))
        assert other["validation_id"] == one["validation_id"]
        assert other["links"]["self"] == one["links"]["self"]

    def test_order_of_names_and_white_space_do_not_matter(self, client: FlaskClient) -> None:
        one = client.post(ADDRESS, json=full_request())
        other = client.post(ADDRESS, data=pretty(full_request()), content_type="application/json")
        assert other.headers["ETag"] == one.headers["ETag"]
        assert other.data == one.data

    @pytest.mark.parametrize(
        ("pointer", "value"),
        [
            ("/construction/warp/ends_per_cm", 28.5),
            ("/construction/weave", "2/2 twill Z"),
            ("/construction/stage", "grey"),
            ("/construction/length_m", 1000),
            ("/loom_id", "air-jet-190-cam"),
        ],
    )
    def test_what_means_something_else_differs(
        self, client: FlaskClient, pointer: str, value: object
    ) -> None:
        one = ask(client, small_request())
        other = ask(client, changed(small_request(), pointer, value))
        assert other["validation_id"] != one["validation_id"]

    def test_it_follows_the_limits_of_a_loom_of_the_park_but_not_its_description(
        self, client: FlaskClient
    ) -> None:
        def identity(text: str) -> str:
            other = create_app(park=parse_park(text, name="park.toml")).test_client()
            return str(ask(other, small_request())["validation_id"])

        now = ask(client, small_request())["validation_id"]
        assert identity(PARK_TEXT.replace("Rapier, 190 cm", "The old rapier")) == now
        assert identity(PARK_TEXT.replace("shafts = 8", "shafts = 10")) == now  # the other loom
        assert identity(PARK_TEXT.replace("shafts = 20", "shafts = 16")) != now


class TestLinks:
    def test_a_link_gives_the_report_again_without_the_reference(self, client: FlaskClient) -> None:
        report = ask(client, full_request())
        again = client.get(report["links"]["self"])
        assert again.status_code == 200
        assert again.headers["ETag"] == f'"{report["validation_id"]}"'
        assert again.json == {**report, "reference": None}

    @pytest.mark.parametrize("condition", ['"{}"', 'W/"{}"', '"other", "{}"', "*"])
    def test_a_current_copy_is_not_sent_again(self, client: FlaskClient, condition: str) -> None:
        report = ask(client, small_request())
        headers = {"If-None-Match": condition.format(report["validation_id"])}
        answer = client.get(report["links"]["self"], headers=headers)
        assert (answer.status_code, answer.data) == (304, b"")
        assert answer.headers["ETag"] == f'"{report["validation_id"]}"'
        assert answer.headers["Cache-Control"] == "private, no-cache"

    def test_no_rule_runs_for_a_current_copy(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        report = ask(client, small_request())

        def fail(*_: object, **__: object) -> None:
            raise AssertionError("a rule ran")

        monkeypatch.setattr("weavability.answers.validation.assess", fail)
        headers = {"If-None-Match": f'"{report["validation_id"]}"'}
        assert client.get(report["links"]["self"], headers=headers).status_code == 304

    def test_an_outdated_copy_is_sent_again(self, client: FlaskClient) -> None:
        report = ask(client, small_request())
        answer = client.get(report["links"]["self"], headers={"If-None-Match": '"old"'})
        assert answer.status_code == 200

    def test_free_text_stays_out_of_addresses(self, client: FlaskClient) -> None:
        request = changed(full_request(), "/loom/description", "next to the stairs")
        with_text = ask(client, request)
        request["construction"]["reference"] = "Order of a customer"
        request["loom"]["description"] = DELETE
        del request["loom"]["description"]
        without = ask(client, request)
        assert without["links"]["self"] == with_text["links"]["self"]

    def test_a_request_too_long_for_an_address_gets_no_link_and_a_reason(
        self, client: FlaskClient
    ) -> None:
        dice = Random(1)
        rows = [format(dice.getrandbits(200), "0200b") for _ in range(200)]
        answer = client.post(
            ADDRESS, json=changed(small_request(), "/construction/weave", {"rows": rows})
        )
        assert answer.status_code == 200
        report = json.loads(answer.data)
        assert report["links"]["self"] is None
        assert "3500 characters" in report["links"]["self_note"]
        assert "Content-Location" not in answer.headers

    def test_a_link_to_a_loom_that_is_gone_says_so(self, client: FlaskClient) -> None:
        report = ask(client, small_request())
        without = PARK_TEXT.replace('"rapier-190-dobby"', '"rapier-190-dobby-2"')
        other = create_app(park=parse_park(without, name="park.toml")).test_client()
        answer = other.get(report["links"]["self"])
        assert answer.status_code == 422
        (error,) = json.loads(answer.data)["errors"]
        assert error["pointer"] == "/loom_id"
        assert error["allowed"] == ["rapier-190-dobby-2"]
