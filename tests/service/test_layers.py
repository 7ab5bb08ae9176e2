"""Layers and groups of ends in requests: what is read, what is refused, and where it comes back."""

from __future__ import annotations

import json
from csv import DictReader
from typing import Any, Final

import pytest
from builders import terry_document
from flask.testing import FlaskClient
from service.support import DELETE, changed

BATCH: Final = "/v1/validations"

TERRY: Final[dict[str, Any]] = {"construction": terry_document(), "loom_id": "rapier-190-dobby"}

DOUBLE: Final[dict[str, Any]] = {
    "construction": {
        "warp": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "ends_per_cm": 52},
        "weft": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "picks_per_cm": 50},
        "weave": "double cloth plain + plain",
        "layers": {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"},
        "width_cm": 150,
    },
    "loom_id": "rapier-190-dobby",
}


def faults(client: FlaskClient, body: object) -> dict[str, str]:
    answer = client.post(BATCH, json=body)
    assert answer.status_code == 422, answer.text
    return {each["pointer"]: each["message"] for each in answer.get_json()["errors"]}


def with_layers(request: dict[str, Any], **layers: Any) -> dict[str, Any]:
    for name, value in layers.items():
        request = changed(request, f"/construction/layers/{name}", value)
    return request


@pytest.mark.parametrize(
    ("layers", "pointer"),
    [
        ({"ends": DELETE}, "/ends"),
        ({"picks": DELETE}, "/picks"),
        ({"ends": ""}, "/ends"),
        ({"ends": "FB"}, "/ends"),
        ({"ends": "2(F"}, "/ends"),
        ({"picks": "5000F 1B"}, "/picks"),
        ({"picks": "1023F 1B 1F"}, "/picks"),
        ({"joined": DELETE}, "/joined"),
        ({"joined": "sewn"}, "/joined"),
        ({"pile": ["Q"]}, "/pile/0"),
        ({"pile": ["F", "F"]}, "/pile/1"),
        ({"pile": ["FB"]}, "/pile/0"),
        ({"pile": ["F", "B"]}, "/picks"),
        ({"pile": "B"}, "/pile"),
        ({"letters": "F"}, "/letters"),
    ],
    ids=str,
)
def test_a_faulty_declaration_is_refused_at_its_field(
    client: FlaskClient, layers: dict[str, Any], pointer: str
) -> None:
    found = faults(client, with_layers(DOUBLE, **layers))
    assert f"/construction/layers{pointer}" in found


@pytest.mark.parametrize(
    ("pointer", "value", "at"),
    [
        ("/beams", [], "/beams"),
        ("/beams/1/pile_ratio", 0.99, "/beams/1/pile_ratio"),
        ("/beams/1/pile_ratio", "5", "/beams/1/pile_ratio"),
        ("/beams/1/pile_ratio", DELETE, "/beams"),
        ("/beams/1/yarns", ["P", "P"], "/beams/1/yarns/1"),
        ("/beams/1/yarns", ["X"], "/beams/1/yarns/0"),
        ("/beams/1/yarns", [], "/beams/1/yarns"),
        ("/beams/1/yarns", [5], "/beams/1/yarns/0"),
        ("/beams/1/yarns", [None], "/beams/1/yarns/0"),
        ("/beams/1/yarns", "P", "/beams/1/yarns"),
        ("/beams/1", "pile", "/beams/1"),
        ("/beams/1/name", "ground", "/beams/1/name"),
        ("/beams/1/name", "<b>", "/beams/1/name"),
        ("/beams/1/name", DELETE, "/beams/1/name"),
        ("/beams/0/ratio", 2, "/beams/0/ratio"),
        ("/beams", DELETE, "/beams"),
    ],
    ids=str,
)
def test_a_faulty_group_is_refused_at_its_field(
    client: FlaskClient, pointer: str, value: object, at: str
) -> None:
    found = faults(client, changed(TERRY, f"/construction/warp{pointer}", value))
    assert f"/construction/warp{at}" in found


def test_faults_of_layers_and_groups_come_with_all_others(client: FlaskClient) -> None:
    body = with_layers(TERRY, pile=["Q"])
    body = changed(body, "/construction/warp/beams/1/yarns", ["X"])
    body = changed(body, "/construction/width_cm", -1)
    assert {
        "/construction/layers/pile/0",
        "/construction/warp/beams/1/yarns/0",
        "/construction/width_cm",
    } <= set(faults(client, body))


def test_layers_and_beams_are_reported(client: FlaskClient) -> None:
    answer = client.post(BATCH, json=TERRY).get_json()
    assert [each["kind"] for each in answer["layers"]["layers"]] == ["cloth", "pile"]
    assert answer["layers"]["joined"] is None
    assert [each["name"] for each in answer["warp"]["beams"]] == ["ground", "pile"]
    assert [each["pile_ratio"] for each in answer["warp"]["beams"]] == [None, 5.2]
    plain = client.post(BATCH, json=changed(DOUBLE, "/construction/layers", None)).get_json()
    assert (plain["layers"], plain["warp"]["beams"]) == (None, [])


@pytest.mark.slow
@pytest.mark.parametrize("body", [TERRY, DOUBLE], ids=["terry", "double"])
def test_a_link_gives_the_same_report_and_a_page(client: FlaskClient, body: Any) -> None:
    answer = client.post(BATCH, json=body).get_json()
    link = answer["links"]["self"]
    assert client.get(link).get_json() == answer
    page = client.get(link, headers={"Accept": "text/html"}).text
    for layer in answer["layers"]["layers"]:
        assert f"Layer {layer['layer']}" in page
    for beam in answer["warp"]["beams"]:
        assert f"The warp of {beam['name']}" in page


def test_a_row_of_a_sheet_may_have_layers_and_beams(client: FlaskClient) -> None:
    beams = json.dumps(TERRY["construction"]["warp"]["beams"]).replace('"', '""')
    header = (
        "loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_G,warp_fibre_G,warp_yarn_P,"
        "warp_fibre_P,warp_order,weft_yarn_A,weft_fibre_A,layers_ends,layers_picks,layers_pile,"
        "warp_beams"
    )
    row = (
        "rapier-190-dobby,1000|1101|0111,100,22,20,R 50 tex/2,cotton,R 60 tex/2,cotton,G P,34 tex,"
        f'cotton,G P,G,P,"{beams}"'
    )
    csv = {"Content-Type": "text/csv", "Accept": "application/x-ndjson"}
    sent = client.post(BATCH, data=f"{header}\n{row}\n", headers=csv)
    item = json.loads(sent.data.splitlines()[0])
    assert item["report"] == client.post(BATCH, json=TERRY).get_json()
    (cells,) = DictReader(
        client.post(BATCH, data=f"{header}\n{row}\n", headers={"Content-Type": "text/csv"})
        .get_data(as_text=True)
        .splitlines()
    )
    assert json.loads(cells["warps"]) == item["report"]["warp"]["beams"]
    assert cells["beams_needed"] == str(item["report"]["warp"]["beams_needed"])
    spoilt = row.replace("[{", "{[")
    sent = client.post(BATCH, data=f"{header}\n{spoilt}\n", headers=csv)
    problem = json.loads(sent.data.splitlines()[0])["problem"]
    assert [each["pointer"] for each in problem["errors"]] == ["/construction/warp/beams"]


def test_a_weave_is_analysed_with_its_layers(client: FlaskClient) -> None:
    body = {
        "weave": DOUBLE["construction"]["weave"],
        "layers": DOUBLE["construction"]["layers"],
        "ends_per_cm": 52,
        "picks_per_cm": 50,
    }
    sheet = client.post("/v1/weaves", json=body).get_json()
    assert [each["weave"] for each in sheet["layers"]["layers"]] == ["plain", "plain"]
    assert sheet["findings"] == []
    stitched = {**body, "layers": {**body["layers"], "joined": "stitched"}}
    found = client.post("/v1/weaves", json=stitched).get_json()["findings"]
    assert [(each["code"], each["pointer"]) for each in found] == [
        ("layers.unstitched", "/layers/joined")
    ]
    wrong = {**body, "layers": {"ends": "F B", "picks": "F B"}}
    refused = client.post("/v1/weaves", json=wrong)
    assert [each["pointer"] for each in refused.get_json()["errors"]] == ["/layers/joined"]
    drawn = client.post("/v1/weaves", json=body, headers={"Accept": "image/svg+xml"}).text
    assert "Layers from the face: F, B, separate" in drawn
