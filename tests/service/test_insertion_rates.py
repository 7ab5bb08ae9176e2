"""``POST /v1/insertion-rates``: the sheet as JSON, the pick as a drawing, and what is refused."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import changed, small_request

from weavability.answers.insertion_rate import RateRequest, insertion_rates
from weavability.service.openapi import example_requests
from weavability.service.requests.park import Park
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn

ADDRESS = "/v1/insertion-rates"
SVG = "image/svg+xml"
WEFT = {"designation": "Ne 20", "fibre": "cotton"}


def request(**changes: Any) -> dict[str, Any]:
    return {"loom_id": "rapier-190-dobby", "reed_width_cm": 160, "weft": WEFT} | changes


def sheet(client: FlaskClient, **changes: Any) -> Any:
    answer = client.post(ADDRESS, json=request(**changes))
    assert answer.status_code == 200, answer.text
    return json.loads(answer.data)


def faults(client: FlaskClient, body: object, accept: str = "*/*") -> dict[str, str]:
    answer = client.post(ADDRESS, json=body, headers={"Accept": accept})
    assert answer.status_code == 422, answer.text
    assert answer.mimetype == "application/problem+json"
    return {error["pointer"]: error["message"] for error in json.loads(answer.data)["errors"]}


def test_it_is_the_sheet_of_the_core(client: FlaskClient, park: Park) -> None:
    loom = park.looms["rapier-190-dobby"].loom
    yarn = Yarn(designation="Ne 20", fibre="cotton")
    found = insertion_rates(RateRequest(reed_width_cm=160, weft=yarn), loom)
    answer = sheet(client)
    assert answer["speed_picks_per_min"] == found.speed_picks_per_min
    assert answer["limited_by"] == found.limited_by
    assert answer["wefts"][0]["peak_tension_cn"] == found.wefts[0].peak_tension_cn
    assert answer["caution"]


@pytest.mark.parametrize(
    ("width_cm", "limited_by", "picks_per_min"),
    [(114.9, "loom_speed", 1000), (116, "insertion_rate", 991.379)],
)
def test_a_thousand_picks_are_for_narrow_looms_only(
    client: FlaskClient, width_cm: float, limited_by: str, picks_per_min: float
) -> None:
    """1150 m/min at 1000 picks/min is a reed width of 1.15 m (common practice, no source)."""
    loom = changed(example_requests.LOOM, "/speed_curve", [])
    loom |= {"max_speed_picks_per_min": 1000, "min_reed_width_cm": 60}
    loom["shedding"] |= {"max_speed_picks_per_min": 1200}
    answer = client.post(ADDRESS, json={"loom": loom, "reed_width_cm": width_cm})
    found = json.loads(answer.data)
    assert (found["limited_by"], found["speed_picks_per_min"]) == (limited_by, picks_per_min)
    assert found["motion"]["hand_overs_per_min"] == found["speed_picks_per_min"]


def test_inches_are_centimetres(client: FlaskClient) -> None:
    inch = request(reed_width_in=63)
    del inch["reed_width_cm"]
    metric = request(reed_width_cm=63 * 2.54)
    assert client.post(ADDRESS, json=inch).data == client.post(ADDRESS, json=metric).data


def test_a_construction_gives_width_wefts_and_speed(client: FlaskClient) -> None:
    body = {"loom_id": "rapier-190-dobby", "construction": example_requests.CONSTRUCTION}
    found = json.loads(client.post(ADDRESS, json=body).data)
    assert found["reed_width_cm"] == pytest.approx((152 * 32 / 2 + 2 * 6) / 16)
    assert found["limited_by"] == "requested_speed"
    assert [weft["weft"] for weft in found["wefts"]] == ["A"]


def test_what_was_not_stated_is_listed(client: FlaskClient) -> None:
    found = json.loads(client.post(ADDRESS, json={"loom_id": "rapier-190-dobby"}).data)
    pointers = {line["pointer"] for line in found["assumptions"]}
    assert {"/reed_width_cm", "/feeders", "/loom/insertion/motion_law"} <= pointers
    assert found["wefts"] == []


def test_feeders_in_turn_share_the_speed(client: FlaskClient) -> None:
    one, two = (sheet(client, feeders=feeders)["wefts"][0] for feeders in (1, 2))
    assert two["feeder_speed_m_per_min"] == pytest.approx(one["feeder_speed_m_per_min"] / 2)
    assert one["feeder_speed_with_one_more_m_per_min"] == two["feeder_speed_m_per_min"]


class TestSweep:
    def test_over_the_speed_at_the_width_in_use(self, client: FlaskClient) -> None:
        points = sheet(
            client, sweep={"over": "speed_picks_per_min", "from": 300, "to": 600, "points": 4}
        )["sweep"]
        assert [point["speed_picks_per_min"] for point in points] == [300, 400, 500, 600]
        assert {point["reed_width_cm"] for point in points} == {160}
        tensions = [point["peak_tension_cn"] for point in points]
        assert tensions == sorted(tensions)

    def test_over_the_width_at_the_speed_that_it_allows(self, client: FlaskClient) -> None:
        sweep = {"over": "reed_width_cm", "from": 120, "to": 190}
        points = sheet(client, sweep=sweep)["sweep"]
        assert len(points) == 25
        assert {"loom_speed", "insertion_rate"} >= {point["limited_by"] for point in points}
        speeds = [point["speed_picks_per_min"] for point in points]
        assert speeds == sorted(speeds, reverse=True)

    @pytest.mark.parametrize(
        ("sweep", "pointer", "words"),
        [
            ({"from": 300, "to": 600}, "/sweep/over", "over is missing"),
            ({"over": "width", "from": 1, "to": 2}, "/sweep/over", "reed_width_cm"),
            ({"over": "reed_width_cm", "to": 600}, "/sweep/from", "from is missing"),
            ({"over": "reed_width_cm", "from": 190, "to": 190}, "/sweep/to", "greater than"),
            ({"over": "reed_width_cm", "from": 0, "to": 190}, "/sweep/from", "at least 1"),
            (
                {"over": "reed_width_cm", "from": 1, "to": 190, "points": 201},
                "/sweep/points", "2 to 200",
            ),
            (
                {"over": "reed_width_cm", "from": 1, "to": 190, "points": 1},
                "/sweep/points", "2 to 200",
            ),
            ({"over": "reed_width_cm", "from": 1, "to": 3557}, "/sweep/to", "3556"),
            ({"over": "reed_width_cm", "start": 1, "to": 2}, "/sweep/start", "no field"),
            ([1, 2], "/sweep", "must be an object"),
        ],
    )  # fmt: skip
    def test_a_sweep_that_leads_nowhere(
        self, client: FlaskClient, sweep: object, pointer: str, words: str
    ) -> None:
        assert words in faults(client, request(sweep=sweep))[pointer]

    def test_the_most_points_are_computed(self, client: FlaskClient) -> None:
        sweep = {"over": "reed_width_cm", "from": 1, "to": 190, "points": 200}
        assert len(sheet(client, sweep=sweep)["sweep"]) == 200


def test_what_a_request_may_state_of_an_insertion_can_be_computed(client: FlaskClient) -> None:
    """A length over which something is brought to speed is 0 or measurable; others may be any."""

    def insertion(**stated: float) -> dict[str, Any]:
        loom = {
            "reed_width_cm": 190,
            "max_speed_picks_per_min": 500,
            "shedding": {"kind": "dobby", "shafts": 16},
        }
        jet = {"system": "projectile", **stated}
        return {"loom": loom | {"insertion": jet}, "reed_width_cm": 160, "weft": WEFT}

    short = {"carrier_length_cm": 0.0005, "free_weft_length_m": 1e-300}
    answer = client.post(ADDRESS, json=insertion(**short, launch_length_cm=0.001))
    assert answer.status_code == 200, answer.text
    assert client.post(ADDRESS, json=insertion(launch_length_cm=0)).status_code == 200
    for wrong in (0.0005, -1):
        found = faults(client, insertion(launch_length_cm=wrong))
        assert found == {
            "/loom/insertion/launch_length_cm": "launch_length_cm must be 0, or at least 0.001 cm."
        }


def test_the_core_takes_as_many_feeders_as_a_request_may_state(
    client: FlaskClient, park: Park
) -> None:
    assert sheet(client, feeders=16)["wefts"][0]["feeders"] == 16
    assert "/feeders" in faults(client, request(feeders=17))
    question = RateRequest(reed_width_cm=160, weft=Yarn(designation="Ne 20"), feeders=17)
    with pytest.raises(InputError) as refusal:
        insertion_rates(question, park.looms["rapier-190-dobby"].loom)
    assert [fault.pointer for fault in refusal.value.faults] == ["/feeders"]


class TestDrawing:
    def drawing(self, client: FlaskClient, **changes: Any) -> Any:
        answer = client.post(ADDRESS, json=request(**changes), headers={"Accept": SVG})
        assert answer.status_code == 200, answer.text
        return answer

    def test_it_is_a_titled_svg_that_may_not_load_anything(self, client: FlaskClient) -> None:
        answer = self.drawing(client)
        assert answer.mimetype == SVG
        assert answer.headers["Vary"] == "Accept"
        assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
        root = ET.fromstring(answer.text)
        names = {"svg": "http://www.w3.org/2000/svg"}
        assert root.findtext("svg:title", "", names)
        assert "picks/min" in answer.text

    def test_the_figures_and_the_drawing_have_tags_of_their_own(self, client: FlaskClient) -> None:
        found = client.post(ADDRESS, json=request())
        drawn = self.drawing(client)
        assert found.headers["Vary"] == drawn.headers["Vary"] == "Accept"
        assert found.headers["ETag"] != drawn.headers["ETag"]
        assert self.drawing(client).data == drawn.data

    def test_it_shows_the_weft_in_greatest_danger(self, client: FlaskClient) -> None:
        weak = changed(example_requests.CONSTRUCTION, "/weft/yarns/B", {"designation": "Nm 60"})
        weak["weft"] |= {"order": "A B"}
        weak["weft"]["yarns"]["B"] |= {"fibre": "wool"}
        of_both = self.drawing(client, weft=None, construction=weak).text
        alone = self.drawing(client, construction=weak, weft=weak["weft"]["yarns"]["B"]).text
        assert of_both == alone

    def test_without_a_weft_there_is_nothing_to_draw(self, client: FlaskClient) -> None:
        assert "/weft" in faults(client, request(weft=None), accept=SVG)
        assert sheet(client, weft=None)["wefts"] == []

    @pytest.mark.parametrize("accept", ["image/png", "text/html", "image/svg+xml;q=0"])
    def test_other_forms_are_refused_before_anything_is_computed(
        self, client: FlaskClient, accept: str
    ) -> None:
        answer = client.post(ADDRESS, data=b"{", headers={"Accept": accept})
        assert answer.status_code == 406
        assert "application/json or image/svg+xml" in answer.text

    @pytest.mark.parametrize("accept", ["", "*/*", "application/*", "image/svg+xml;q=0.5, */*"])
    def test_figures_come_first(self, client: FlaskClient, accept: str) -> None:
        answer = client.post(ADDRESS, json=request(), headers={"Accept": accept})
        assert answer.mimetype == "application/json"

    @pytest.mark.slow
    @pytest.mark.parametrize("loom_id", ["rapier-190-dobby", "air-jet-190-cam"])
    @pytest.mark.parametrize("width_cm", [1, 190])
    @pytest.mark.parametrize("tex", [0.1, 20_000])
    def test_it_is_drawn_at_the_ends_of_every_range(
        self, client: FlaskClient, loom_id: str, width_cm: float, tex: float
    ) -> None:
        weft = {"linear_density_tex": tex, "fibre": "cotton"}
        drawn = self.drawing(client, loom_id=loom_id, reed_width_cm=width_cm, weft=weft)
        ET.fromstring(drawn.text)


@pytest.mark.parametrize(
    ("body", "pointer", "words"),
    [
        ([], "", "object"),
        ({}, "/loom_id", "exactly one of loom_id or loom"),
        (request(loom=example_requests.LOOM), "/loom", "both loom_id and loom"),
        (request(loom_id="rapier-190-doby"), "/loom_id", 'Did you mean "rapier-190-dobby"'),
        (request(loom_id="../../etc"), "/loom_id", "letters, digits"),
        (request(reed_width_in=60), "/reed_width_in", "both reed_width_cm and reed_width_in"),
        (request(reed_width_cm=0), "/reed_width_cm", "at least 1 cm"),
        (request(reed_width_cm="160"), "/reed_width_cm", "160 instead of '160'"),
        (request(weft="Ne 20"), "/weft", "must be an object"),
        (request(weft={"fibre": "cotton"}), "/weft/designation", "linear_density_tex"),
        (request(weft=WEFT | {"fibre": "coton"}), "/weft/fibre", "cotton"),
        (request(feeders=0), "/feeders", "from 1 to 16"),
        (request(feeders=17), "/feeders", "from 1 to 16"),
        (request(speed_picks_per_min=-5), "/speed_picks_per_min", "at least 1 picks/min"),
        (request(width_cm=160), "/width_cm", 'Did you mean "reed_width_cm"'),
        (
            request(construction=example_requests.CONSTRUCTION | {"weave": {"rows": ["1", "01"]}}),
            "/construction/weave/rows/1", "threads",
        ),
        (
            {"loom": example_requests.LOOM | {"shedding": {"kind": "dobbie"}}},
            "/loom/shedding/kind", 'Did you mean "dobby"',
        ),
    ],
)  # fmt: skip
def test_the_answer_points_at_the_field_and_says_what_to_change(
    client: FlaskClient, body: object, pointer: str, words: str
) -> None:
    assert words in faults(client, body)[pointer]


def test_an_unknown_loom_is_reported_beside_whatever_else_is_wrong(client: FlaskClient) -> None:
    found = faults(client, request(loom_id="R999", feeders=0, speed=1))
    assert found.keys() == {"/loom_id", "/feeders", "/speed"}


def test_the_tag_follows_the_question_and_not_its_spelling(client: FlaskClient) -> None:
    def tag(body: object) -> str:
        return str(client.post(ADDRESS, json=body).headers["ETag"])

    assert tag(request()) == tag(request(reed_width_cm=160.0, feeders=None))
    assert tag(request()) != tag(request(reed_width_cm=161))
    assert tag(request()) != tag(request(loom_id="air-jet-190-cam"))


def test_the_rate_that_a_report_gives_is_the_rate_of_the_sheet(client: FlaskClient) -> None:
    report = json.loads(client.post("/v1/validations", json=small_request()).data)
    found = json.loads(client.post(ADDRESS, json=small_request()).data)
    rates = report["rates"]
    assert found["speed_picks_per_min"] == rates["speed_picks_per_min"]
    assert found["insertion_rate_m_per_min"] == rates["insertion_rate_m_per_min"]
    assert found["wefts"][0]["strength_use_pct"] == rates["weft_strength_use_pct"]
