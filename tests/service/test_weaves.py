"""``/v1/weaves``: how weaves are written, what follows from one, drawings, and what is refused."""

from __future__ import annotations

import base64
import json
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest
from flask.testing import FlaskClient
from service.support import changed, small_request
from textiles.pictures import png_of_weave

from weavability.service.openapi import example_requests
from weavability.service.resources import weaves
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

ADDRESS = "/v1/weaves"
SVG = "image/svg+xml"


def sheet(client: FlaskClient, weave: object, **more: Any) -> Any:
    answer = client.post(ADDRESS, json={"weave": weave} | more)
    assert answer.status_code == 200, answer.text
    return json.loads(answer.data)


def faults(client: FlaskClient, body: object, accept: str = "*/*") -> dict[str, str]:
    answer = client.post(ADDRESS, json=body, headers={"Accept": accept})
    assert answer.status_code == 422, answer.text
    return {error["pointer"]: error["message"] for error in json.loads(answer.data)["errors"]}


class TestNotations:
    @pytest.mark.slow
    def test_every_example_can_be_sent(self, client: FlaskClient) -> None:
        found = json.loads(client.get(ADDRESS).data)
        shown = [each["example"] for each in (*found["notations"], *found["forms"])]
        assert len(shown) >= 20
        for example in shown:
            assert sheet(client, example)["repeat"]["crossings"] >= 4

    @pytest.mark.slow
    def test_every_name_of_the_trade_can_be_sent_or_says_what_to_send(
        self, client: FlaskClient
    ) -> None:
        names = json.loads(client.get(ADDRESS).data)["names"]
        assert {"denim", "houndstooth", "terry", "leno"} <= {each["name"] for each in names}
        for each in names:
            if each["example"] is None:
                message = faults(client, {"weave": each["name"]})["/weave"]
                assert each["answer"] in message
            else:
                read = sheet(client, each["example"])
                assert read["name"] == each["reads_as"]
                assert tuple(read["repeat"]["rows"]) == tuple(each["rows"])
                said = [line["reason"] for line in read["assumptions"]]
                assert each["leaves_open"] is None or each["leaves_open"] in " ".join(said)

    def test_every_form_of_the_contract_is_listed(self, client: FlaskClient) -> None:
        found = json.loads(client.get(ADDRESS).data)
        assert [form["members"] for form in found["forms"]] == [
            ["rows"],
            ["code"],
            ["threading", "lift_plan"],
            ["threading", "tie_up", "treadling"],
            ["image_png"],
            ["stripes"],
        ]
        assert all(form["meaning"] for form in found["forms"])
        assert found["forms"][4]["optional"] == ["dark_below"]

    def test_a_current_copy_is_not_sent_again(self, client: FlaskClient) -> None:
        etag = client.get(ADDRESS).headers["ETag"]
        answer = client.get(ADDRESS, headers={"If-None-Match": etag})
        assert (answer.status_code, answer.data) == (304, b"")


class TestSheet:
    def test_structure(self, client: FlaskClient) -> None:
        found = sheet(client, "2/2 twill Z")
        assert found["repeat"]["rows"] == ["1100", "0110", "0011", "1001"]
        assert found["drafting"]["shafts_needed"] == 4
        assert found["drafting"]["least"]["threading"] == [1, 2, 3, 4]
        assert found["integrity"]["hangs_together"] is True
        assert found["findings"] == []
        assert found["caution"]

    def test_setts_give_lengths_in_either_unit(self, client: FlaskClient) -> None:
        metric = sheet(client, "3/1 twill Z", ends_per_cm=30, picks_per_cm=20)
        inch = sheet(client, "3/1 twill Z", ends_per_in=76.2, picks_per_in=50.8)
        assert metric["floats"]["warp_face_float_mm"] == pytest.approx(1.5)  # 3 picks at 20/cm
        assert inch["floats"] == metric["floats"]
        wide = sheet(client, "plain", ends_per_cm=30, reed_width_in=63)
        assert wide["assumptions"][0]["value"] == round(30 * 63 * 2.54)

    def test_what_the_notation_left_open_is_listed(self, client: FlaskClient) -> None:
        (line,) = sheet(client, "2/1 twill")["assumptions"]
        assert (line["pointer"], line["value"]) == ("/weave", "2/1 twill Z")
        png = base64.b64encode(png_of_weave(parse_weave("plain"))).decode()
        (line,) = sheet(client, {"image_png": png})["assumptions"]
        assert line["pointer"] == "/weave/dark_below"

    def test_the_threading_by_which_it_is_stated_is_kept(self, client: FlaskClient) -> None:
        stated = {"threading": [4, 3, 2, 1], "lift_plan": ["1100", "0110", "0011", "1001"]}
        found = sheet(client, stated)
        assert found["drafting"]["in_use"] == "given"
        assert found["drafting"]["given"]["draft"]["threading"] == [4, 3, 2, 1]
        another = sheet(client, stated, draft={"threading": "straight"})
        assert another["drafting"]["given"]["draft"]["threading"] == [1, 2, 3, 4]

    def test_a_stated_draft_may_repeat_its_weave(self, client: FlaskClient) -> None:
        twice = {"threading": [1, 2, 1, 2], "lift_plan": ["10", "01", "10", "01"]}
        found = sheet(client, twice)
        assert (found["repeat"]["ends"], found["repeat"]["picks"]) == (2, 2)
        assert found["drafting"]["given"]["weaves_the_cloth"] is True

    def test_a_draft_that_does_not_weave_it_is_an_answer(self, client: FlaskClient) -> None:
        found = sheet(client, "2/2 twill Z", draft={"threading": [1, 1, 2, 2]})
        assert found["drafting"]["given"]["weaves_the_cloth"] is False
        assert found["drafting"]["given"]["faults"][0]["pointer"].startswith("/draft/threading")

    def test_colours(self, client: FlaskClient) -> None:
        colours = {"colours": {"B": "#F4F1E8", "A": "#1c2a4a"}, "order": "2A 2B"}
        found = sheet(client, "plain", warp=colours, weft={"colours": {"Z": "#a8481f"}})
        assert found["colour"]["repeat_ends"] == 4
        assert sum(share["share_pct"] for share in found["colour"]["face"]) == pytest.approx(100)
        assert found["colour"]["weft"]["order"] == "Z"

    def test_shedding_and_comparison(self, client: FlaskClient) -> None:
        found = sheet(
            client,
            "5-end satin move 2",
            shedding={"kind": "cam", "shafts": 4},
            against={"rows": ["10", "01"]},
        )
        assert "shedding.shafts" in {finding["code"] for finding in found["findings"]}
        assert found["comparison"]["same"] is False

    def test_what_falls_apart_is_an_answer(self, client: FlaskClient) -> None:
        found = sheet(client, "double cloth plain + plain")
        assert found["integrity"]["hangs_together"] is False
        assert "weave.falls_apart" in {finding["code"] for finding in found["findings"]}

    def test_a_weave_is_the_same_here_and_in_a_construction(self, client: FlaskClient) -> None:
        stripes = example_requests.WEAVE_ON_JACQUARD["weave"]
        found = sheet(client, stripes)
        body = changed(small_request(), "/construction/weave", stripes)
        report = json.loads(client.post("/v1/validations", json=body).data)
        assert report["cloth"]["repeat_ends"] == found["repeat"]["ends"]
        assert report["cloth"]["longest_warp_float_picks"] == max(
            found["floats"]["warp_face_float_picks"], found["floats"]["warp_back_float_picks"]
        )


class TestDrawing:
    def drawing(self, client: FlaskClient, weave: object, **more: Any) -> Any:
        answer = client.post(ADDRESS, json={"weave": weave} | more, headers={"Accept": SVG})
        assert answer.status_code == 200, answer.text
        assert answer.mimetype == SVG
        ET.fromstring(answer.text)
        return answer

    def test_point_paper_unless_the_face_is_requested(self, client: FlaskClient) -> None:
        paper = self.drawing(client, "2/2 twill Z")
        face = self.drawing(client, "2/2 twill Z", view="cloth_face")
        assert paper.data == self.drawing(client, "2/2 twill Z", view="point_paper").data
        assert "Point paper: 2/2 twill Z" in paper.text
        assert "Point paper" not in face.text
        assert paper.headers["ETag"] != face.headers["ETag"]

    def test_figures_do_not_depend_on_the_view(self, client: FlaskClient) -> None:
        assert sheet(client, "plain", view="cloth_face") == sheet(client, "plain")

    def test_the_face_shows_the_stated_colours(self, client: FlaskClient) -> None:
        warp, weft = {"colours": {"A": "#123456"}}, {"colours": {"A": "#fedcba"}}
        drawn = self.drawing(client, "plain", view="cloth_face", warp=warp, weft=weft)
        assert "#123456" in drawn.text
        assert "#fedcba" in drawn.text

    @pytest.mark.slow
    @pytest.mark.parametrize("side", [1, 7, 200, 1_500])
    def test_any_size_is_drawn(self, client: FlaskClient, side: int) -> None:
        chance = np.random.default_rng(side).integers(0, 2, size=(side, side), dtype=np.uint8)
        png = base64.b64encode(png_of_weave(Weave(matrix=chance))).decode()
        for view in ("point_paper", "cloth_face"):
            drawn = self.drawing(client, {"image_png": png}, view=view)
            assert len(drawn.data) < 4_000_000

    def test_other_forms_are_refused(self, client: FlaskClient) -> None:
        answer = client.post(ADDRESS, json={"weave": "plain"}, headers={"Accept": "image/png"})
        assert answer.status_code == 406
        assert client.get(ADDRESS, headers={"Accept": SVG}).status_code == 406


class TestQuery:
    @pytest.mark.parametrize(
        ("accept", "worker"), [("application/json", "examine_weave"), (SVG, "draw_weave")]
    )
    def test_a_current_copy_is_recognised_before_anything_is_computed(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch, accept: str, worker: str
    ) -> None:
        def ask(**headers: str) -> Any:
            return client.open(
                ADDRESS,
                method="QUERY",
                json={"weave": "plain"},
                headers={"Accept": accept, **headers},
            )

        etag = ask().headers["ETag"]
        monkeypatch.setattr(weaves, worker, None)
        answer = ask(**{"If-None-Match": etag})
        assert (answer.status_code, answer.data) == (304, b"")
        assert answer.headers["Vary"] == "Accept"

    def test_a_copy_of_the_figures_is_no_copy_of_the_drawing(self, client: FlaskClient) -> None:
        found = client.open(ADDRESS, method="QUERY", json={"weave": "plain"})
        headers = {"Accept": SVG, "If-None-Match": found.headers["ETag"]}
        drawn = client.open(ADDRESS, method="QUERY", json={"weave": "plain"}, headers=headers)
        assert drawn.status_code == 200


@pytest.mark.parametrize(
    ("more", "pointer", "words"),
    [
        ({"weave": None}, "/weave", "weave is missing"),
        ({"weave": "plan"}, "/weave", "plain"),
        ({"weave": {"rows": ["10", "0"]}}, "/weave/rows/1", "1 thread;"),
        ({"weave": {"stripes": [{"weave": "plan", "ends": 1}]}}, "/weave/stripes/0/weave", "plain"),
        ({"against": {"code": "x"}}, "/against/code", "four parts"),
        ({"ends_per_in": 80, "ends_per_cm": 30}, "/ends_per_in", "both"),
        ({"picks_per_in": 80, "picks_per_cm": 30}, "/picks_per_in", "both"),
        ({"reed_width_in": 80, "reed_width_cm": 30}, "/reed_width_in", "both"),
        ({"ends_per_cm": 0}, "/ends_per_cm", "at least 0.5"),
        ({"total_ends": 1_000_001}, "/total_ends", "from 1 to 1 000 000"),
        ({"view": "face"}, "/view", "cloth_face"),
        ({"draft": {"threading": [0]}}, "/draft/threading/0", "from 1 to 64"),
        ({"draft": {"threading": "strait"}}, "/draft/threading", "by its name"),
        ({"draft": {"lift_plan": ["10"]}}, "/draft/threading", "threading is missing"),
        ({"draft": {"threading": [1, 2], "lift_plan": ["1", "01"]}}, "/draft/lift_plan/1", ""),
        ({"shedding": {"kind": "dobby"}}, "/shedding/shafts", "needs shafts"),
        ({"shedding": {"kind": "cam", "shafts": 8, "hooks": 8}}, "/shedding/hooks", "Leave out"),
        ({"warp": {"order": "2A"}}, "/warp/colours", "colours is missing"),
        ({"warp": {"colours": {}}}, "/warp/colours", "1 to 64"),
        ({"warp": {"colours": {"A": "navy"}}}, "/warp/colours/A", "hexadecimal"),
        ({"warp": {"colours": {"1": "#000000"}}}, "/warp/colours/1", "letter"),
        (
            {"warp": {"colours": {"A": "#000000", "B": "#ffffff"}}},
            "/warp/order", "with 2 colours",
        ),
        ({"weft": {"order": "2A C", "colours": {"A": "#000000"}}}, "/weft/order", "C"),
        (
            {"weft": {"order": "9999999(9999999A)", "colours": {"A": "#000000"}}},
            "/weft/order", "",
        ),
        ({"construction": {}}, "/construction", "no field"),
    ],
)  # fmt: skip
def test_the_answer_points_at_the_field_and_says_what_to_change(
    client: FlaskClient, more: dict[str, Any], pointer: str, words: str
) -> None:
    body = {"weave": "2/2 twill Z"} | more
    assert words in faults(client, body)[pointer]
    assert pointer in faults(client, body, accept=SVG)


HOSTILE: dict[str, dict[str, Any]] = {
    "threading far longer than the repeat": {
        "weave": "plain", "draft": {"threading": [1, 2] * 10_000},
    },
    "named draft on many shafts": {
        "weave": "honeycomb 64", "draft": {"threading": "skip", "shafts": 64},
    },
    "orders that hardly share a repeat": {
        "weave": "61-end satin move 2",
        "warp": {"order": "97A 2B", "colours": {"A": "#000000", "B": "#ffffff"}},
        "weft": {"order": "89A 12B", "colours": {"A": "#000000", "B": "#ffffff"}},
        "total_ends": 1_000_000,
    },
    "the finest sett on the widest reed": {
        "weave": "plain", "ends_per_cm": 500, "reed_width_cm": 3_500,
        "shedding": {"kind": "jacquard", "hooks": 100_000},
    },
    "one end on the widest reed": {
        "weave": "plain", "total_ends": 1, "reed_width_cm": 3_500, "ends_per_cm": 0.5,
        "shedding": {"kind": "cam", "shafts": 2},
    },
    "drafts of 12 000 ends": {
        "weave": {"threading": [1, 2] * 6_000, "lift_plan": ["10", "01"] * 6_000},
    },
    "500 stripes": {
        "weave": {"stripes": [{"weave": f"{3 + n % 4}/1 twill Z", "ends": 20}
                              for n in range(500)]},
    },
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("accept", ["application/json", SVG])
@pytest.mark.parametrize("case", HOSTILE)
def test_hostile_requests_are_answered(client: FlaskClient, case: str, accept: str) -> None:
    views = ("point_paper", "cloth_face") if accept == SVG else ("point_paper",)
    for view in views:
        body = HOSTILE[case] | {"view": view}
        answer = client.post(ADDRESS, json=body, headers={"Accept": accept})
        assert answer.status_code in {200, 422}, answer.text
