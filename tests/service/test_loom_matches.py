"""``/v1/loom-matches``: which looms are tried, what is on them, and what is refused."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import DELETE, PARK_TEXT, changed, small_request

from weavability.answers import loom_matching
from weavability.service import create_app
from weavability.service.openapi import example_requests
from weavability.service.requests.park import parse_park
from weavability.service.resources import loom_matches
from weavability.service.schemas import request_schemas
from weavability.service.schemas.construction_schema import ConstructionSchema

ADDRESS = "/v1/loom-matches"
CLOTH = small_request()["construction"]


def loom(loom_id: str | None, **changes: Any) -> dict[str, Any]:
    return deepcopy(example_requests.LOOM) | {"loom_id": loom_id} | changes


def ranking(client: FlaskClient, **changes: Any) -> Any:
    answer = client.post(ADDRESS, json={"construction": CLOTH} | changes)
    assert answer.status_code == 200, answer.text
    return json.loads(answer.data)


def faults(client: FlaskClient, body: object) -> dict[str, str]:
    answer = client.post(ADDRESS, json=body)
    assert answer.status_code == 422, answer.text
    return {error["pointer"]: error["message"] for error in json.loads(answer.data)["errors"]}


def names(report: Any) -> list[str]:
    return [match["loom_id"] for match in report["matches"]]


class TestWhichLooms:
    def test_the_whole_park_where_nothing_is_said(self, client: FlaskClient) -> None:
        report = ranking(client)
        assert set(names(report)) == {"rapier-190-dobby", "air-jet-190-cam"}
        assert [match["rank"] for match in report["matches"]] == [1, 2]
        assert sum(report["counts"].values()) == 2

    def test_those_of_the_park_that_are_named(self, client: FlaskClient) -> None:
        assert names(ranking(client, loom_ids=["air-jet-190-cam"])) == ["air-jet-190-cam"]

    def test_those_that_are_stated(self, client: FlaskClient) -> None:
        narrow, wide = loom("narrow", reed_width_cm=130), loom("wide")
        report = ranking(client, looms=[narrow, wide])
        assert names(report) == ["wide", "narrow"]
        assert [match["index"] for match in report["matches"]] == [1, 0]
        assert report["matches"][1]["verdict"] == "not_weavable"
        assert "width.reed_space" in report["matches"][1]["codes"]["errors"]

    def test_looms_without_a_name_are_named_by_their_place(self, client: FlaskClient) -> None:
        report = ranking(client, looms=[loom(None, reed_width_cm=130), loom(None)])
        assert names(report) == [None, None]
        assert [match["index"] for match in report["matches"]] == [1, 0]

    def test_the_figures_are_those_of_the_validation(self, client: FlaskClient) -> None:
        for match in ranking(client)["matches"]:
            body = {"construction": CLOTH, "loom_id": match["loom_id"]}
            report = json.loads(client.post("/v1/validations", json=body).data)
            assert match["verdict"] == report["verdict"]
            assert match["speed_picks_per_min"] == report["rates"]["speed_picks_per_min"]
            errors = [f["code"] for f in report["findings"] if f["severity"] == "error"]
            assert match["codes"]["errors"] == list(dict.fromkeys(errors))


class TestWhatIsOnTheLooms:
    def test_the_change_over_counts(self, client: FlaskClient) -> None:
        # With the crimp stated, so that another weft does not ask for another width in the reed.
        cloth = changed(CLOTH, "/weft/crimp_pct", 5)
        other = changed(cloth, "/weft/yarns/A/designation", "Ne 20")
        on_loom = {"rapier-190-dobby": cloth, "air-jet-190-cam": other}
        report = ranking(client, construction=cloth, on_loom=on_loom)
        matches = {match["loom_id"]: match for match in report["matches"]}
        assert matches["rapier-190-dobby"]["changeover"]["loom_stop_hours"] == 0
        change = matches["air-jet-190-cam"]["changeover"]
        assert change["route"] == "keep"
        assert matches["air-jet-190-cam"]["hours"] == pytest.approx(
            matches["air-jet-190-cam"]["running_hours"] + change["loom_stop_hours"], rel=1e-5
        )

    def test_it_is_the_change_over_that_is_planned(self, client: FlaskClient) -> None:
        new = changed(CLOTH, "/weave", "3/1 twill Z")
        (match,) = ranking(
            client,
            construction=new,
            loom_ids=["rapier-190-dobby"],
            on_loom={"rapier-190-dobby": CLOTH},
        )["matches"]
        body = {"from": CLOTH, "to": new, "loom_id": "rapier-190-dobby"}
        planned = json.loads(client.post("/v1/changeovers", json=body).data)
        assert match["changeover"] == {
            name: planned[name]
            for name in (
                "route",
                "loom_stop_hours",
                "loom_stop_hours_band",
                "off_loom_hours",
                "off_loom_hours_band",
            )
        }

    def test_a_cloth_that_is_on_many_looms_is_read_once(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        read: list[object] = []
        original = ConstructionSchema.load

        def counted(self: Any, given: Any, **options: Any) -> Any:
            read.append(given)
            return original(self, given, **options)

        monkeypatch.setattr(ConstructionSchema, "load", counted)
        looms = [loom(f"L{number}") for number in range(20)]
        ranking(client, looms=looms, on_loom={each["loom_id"]: CLOTH for each in looms})
        assert len(read) == 2  # the order, and the cloth on the looms

    def test_weaves_on_the_looms_are_bounded_together(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(request_schemas, "MOST_CROSSINGS_ON_LOOMS", 16)
        looms = [loom(name) for name in "ABC"]
        twill, satin = (changed(CLOTH, "/weave", w) for w in ("2/2 twill Z", "5-end satin move 2"))
        on_loom = {"A": twill, "B": satin, "C": changed(CLOTH, "/weave", "plain")}
        body = {"construction": CLOTH, "looms": looms, "on_loom": on_loom}
        assert "too many crossings" in faults(client, body)["/on_loom/C/weave"]
        assert ranking(client, looms=looms, on_loom={"A": twill, "B": satin})

    @pytest.mark.parametrize(
        ("on_loom", "pointer", "words"),
        [
            ({"rapier-190-doby": CLOTH}, "/on_loom/rapier-190-doby", 'mean "rapier-190-dobby"'),
            ({"a b": CLOTH}, "/on_loom/a b", "letters, digits"),
            ({"a/b~": CLOTH}, "/on_loom/a~1b~0", "letters, digits"),
            ({"": CLOTH}, "/on_loom/", "letters, digits"),
            ({"rapier-190-dobby": "plain"}, "/on_loom/rapier-190-dobby", "JSON object"),
            ({"rapier-190-dobby": {}}, "/on_loom/rapier-190-dobby/weave", "weave is missing"),
            (
                {"rapier-190-dobby": changed(CLOTH, "/weave", {"rows": ["1", "01"]})},
                "/on_loom/rapier-190-dobby/weave/rows/1", "threads",
            ),
            (
                {"rapier-190-dobby": CLOTH | {"width_cm": 3500}
                 | {"warp": CLOTH["warp"] | {"ends_per_cm": 500}}},
                "/on_loom/rapier-190-dobby/warp/ends_per_cm", "",
            ),
            ([CLOTH], "/on_loom", "object of at most 500"),
            ({f"L{number}": CLOTH for number in range(501)}, "/on_loom", "at most 500"),
        ],
    )  # fmt: skip
    def test_what_cannot_be_on_a_loom(
        self, client: FlaskClient, on_loom: object, pointer: str, words: str
    ) -> None:
        assert words in faults(client, {"construction": CLOTH, "on_loom": on_loom})[pointer]


@pytest.mark.parametrize(
    ("body", "pointer", "words"),
    [
        ({}, "/construction", "construction is missing"),
        (7, "", "object"),
        ({"loom_ids": ["rapier-190-dobby"], "looms": [loom("A")]}, "/loom_ids", "both looms and"),
        ({"loom_ids": ["rapier-190-cam", "rapier-190-doby"]}, "/loom_ids/1", "rapier-190-dobby"),
        ({"loom_ids": ["air-jet-190-cam", "air-jet-190-cam"]}, "/loom_ids/1", "has this name"),
        ({"loom_ids": []}, "/loom_ids", "1 to 500 items"),
        ({"loom_ids": ["rapier-190-dobby"] * 501}, "/loom_ids", "1 to 500 items"),
        ({"loom_ids": "rapier-190-dobby"}, "/loom_ids", "must be a list"),
        ({"loom_ids": [None]}, "/loom_ids/0", "must be a string"),
        ({"looms": []}, "/looms", "1 to 500 items"),
        ({"looms": [loom(None)] * 501}, "/looms", "1 to 500 items"),
        ({"looms": [loom("A"), loom("B"), loom("A")]}, "/looms/2/loom_id", "has this name"),
        ({"looms": [loom("A"), "B"]}, "/looms/1", "must be an object"),
        (
            {"looms": [loom("A"), loom("B"), loom("C"), loom("D", shedding={"kind": "dobbie"})]},
            "/looms/3/shedding/kind", 'Did you mean "dobby"',
        ),
        ({"looms": [loom("A", reed_width_cm=0)]}, "/looms/0/reed_width_cm", "at least 1 cm"),
        ({"construction": CLOTH | {"weave": "plan"}}, "/construction/weave", "plain"),
        ({"construction": CLOTH, "loom_id": "rapier-190-dobby"}, "/loom_id", "loom_ids"),
    ],
)  # fmt: skip
def test_the_answer_points_at_the_field_and_says_what_to_change(
    client: FlaskClient, body: object, pointer: str, words: str
) -> None:
    if isinstance(body, dict) and body:
        body = {"construction": CLOTH} | body
    assert words in faults(client, body)[pointer]


def test_unknown_looms_are_reported_beside_whatever_else_is_wrong(client: FlaskClient) -> None:
    unknown = [f"X{number}" for number in range(10)]
    found = faults(client, {"construction": CLOTH | {"width_cm": 0}, "loom_ids": unknown})
    assert found.keys() == {"/construction/width_cm", *(f"/loom_ids/{n}" for n in range(10))}


def test_large_designs_are_not_drawn_in_on_any_number_of_looms(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loom_matching, "MOST_CROSSINGS_DRAWN_IN", 32)  # a 2/2 twill on two looms
    body = {"construction": CLOTH | {"weave": "2/2 twill Z"}}
    two, three = ([loom(f"L{n}", reed_width_cm=180 + n) for n in range(most)] for most in (2, 3))
    assert len(ranking(client, **body, looms=two)["matches"]) == 2
    assert "ask for fewer" in faults(client, body | {"looms": three})["/construction/weave"]
    # On hooks there is nothing to draw in, and looms that are alike are drawn in once.
    hooks = {"kind": "jacquard", "hooks": 1200}
    assert ranking(client, **body, looms=[loom(f"J{n}", shedding=hooks) for n in range(9)])
    assert ranking(client, **body, looms=[loom(f"A{n}") for n in range(9)])


def test_what_no_loom_can_weave_is_an_answer(client: FlaskClient) -> None:
    report = ranking(client, construction=CLOTH | {"width_cm": 400})
    assert report["counts"]["not_weavable"] == 2
    assert all("Not weavable" in match["reason"] for match in report["matches"])


class TestQuery:
    def ask(self, client: FlaskClient, body: object, **headers: str) -> Any:
        return client.open(ADDRESS, method="QUERY", json=body, headers=headers)

    def test_it_requests_the_same(self, client: FlaskClient) -> None:
        body = {"construction": CLOTH}
        posted, queried = client.post(ADDRESS, json=body), self.ask(client, body)
        assert queried.data == posted.data
        assert queried.headers["ETag"] == posted.headers["ETag"]
        accepted = "application/json, text/csv, application/x-ndjson"
        assert queried.headers["Accept-Query"] == accepted

    def test_a_current_copy_is_recognised_before_any_loom_is_tried(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        body = {"construction": CLOTH}
        etag = self.ask(client, body).headers["ETag"]
        monkeypatch.setattr(loom_matches, "match_looms", None)
        respelt = {"construction": CLOTH | {"width_cm": 150.0, "panels": None}, "on_loom": {}}
        answer = self.ask(client, respelt, **{"If-None-Match": etag})
        assert (answer.status_code, answer.data) == (304, b"")

    @pytest.mark.parametrize(
        "other",
        [
            {"construction": CLOTH | {"width_cm": 151}},
            {"construction": CLOTH, "loom_ids": ["rapier-190-dobby"]},
            {"construction": CLOTH, "on_loom": {"rapier-190-dobby": CLOTH}},
        ],
    )
    def test_another_question_has_another_tag(
        self, client: FlaskClient, other: dict[str, Any]
    ) -> None:
        etag = self.ask(client, {"construction": CLOTH}).headers["ETag"]
        assert self.ask(client, other).headers["ETag"] != etag

    def test_it_follows_the_looms_that_are_requested(self, client: FlaskClient) -> None:
        text = PARK_TEXT.replace("shafts = 8", "shafts = 10")
        later = create_app(park=parse_park(text, name="park.toml")).test_client()
        for looms, same in (
            (["rapier-190-dobby"], True),
            (["air-jet-190-cam"], False),
            (None, False),
        ):
            body = {"construction": CLOTH, "loom_ids": looms}
            now, then = (self.ask(each, body).headers["ETag"] for each in (client, later))
            assert (now == then) is same


def test_the_construction_must_be_there_even_if_looms_are(client: FlaskClient) -> None:
    body = changed({"construction": CLOTH, "looms": [loom("A")]}, "/construction", DELETE)
    assert faults(client, body).keys() == {"/construction"}


@pytest.mark.slow
def test_what_the_verdicts_on_the_best_looms_rest_on_is_found_on_request(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    wide = CLOTH | {"width_cm": 176}
    plain = ranking(client, construction=wide)
    assert {each["decisive_assumptions"] is None for each in plain["matches"]} == {True}
    monkeypatch.setattr(loom_matching, "MOST_LOOMS_DECIDED", 1)
    options = {"decisive_assumptions": True}
    best, other = ranking(client, construction=wide, options=options)["matches"]
    assert other["verdict_holds"] is None
    request = {"construction": wide, "loom_id": best["loom_id"], "options": options}
    report = client.post("/v1/validations", json=request).get_json()
    for name in ("verdict_holds", "decisive_assumptions", "turning_corner"):
        assert best[name] == report[name], name
    assert faults(client, {"construction": wide, "options": {"decisive": True}}).keys() == {
        "/options/decisive"
    }
