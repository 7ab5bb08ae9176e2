"""The board: its page without a script, and what a change states for it."""

from __future__ import annotations

import html

from flask.testing import FlaskClient
from service.pages import read
from service.support import full_request, small_request

from weavability.answers.caution import CAUTION


def test_without_its_script_the_page_says_what_it_needs_it_for(client: FlaskClient) -> None:
    answer = client.get("/board")
    page = read(answer.text)
    assert "This page needs JavaScript, since the list" in " ".join(answer.text.split())
    hidden = [each.attributes["id"] for each in page.elements if "hidden" in each.attributes]
    assert "board" in hidden
    assert "needs-script" not in hidden
    assert CAUTION in " ".join(html.unescape(answer.text).split())
    tag = answer.headers["ETag"]
    assert client.get("/board", headers={"If-None-Match": tag}).status_code == 304


def test_a_change_states_what_a_board_shows_of_it(client: FlaskClient) -> None:
    sent = [small_request(), full_request()]
    sent[0]["construction"] |= {"weave": {"rows": ["1100", "0110", "0011", "1001"]}, "panels": 2}
    sent[0]["construction"]["width_cm"] = 110
    reports = [client.post("/v1/validations", json=each).get_json() for each in sent]
    items = [{"link": report["links"]["self"], "etag": "-"} for report in reports]
    found = client.post("/v1/validation-changes", json={"items": items}).get_json()["items"]
    assert [each["loom_id"] for each in found] == ["rapier-190-dobby", None]
    assert found[0]["cloth"] == "2/2 twill Z, Ne 30 × Ne 30, 28 × 24 per cm, 2 × 110 cm"
    for change, report in zip(found, reports, strict=True):
        ranks = ["note", "warning", "error"]
        gravest: dict[str, str] = {}
        for each in report["findings"]:
            known = gravest.get(each["code"], "note")
            gravest[each["code"]] = max(known, each["severity"], key=ranks.index)
        assert dict(zip(change["codes"], change["severities"], strict=True)) == gravest
    assert "error" in found[0]["severities"]


def test_a_cloth_is_written_in_the_units_of_its_order(client: FlaskClient) -> None:
    sent = small_request()
    cloth = sent["construction"]
    cloth |= {"width_in": 63, "stage": "grey", "weave": {"rows": ["10" * 20, "01" * 20] * 20}}
    del cloth["width_cm"]
    cloth["warp"] = {
        "yarns": {
            "A": {"designation": "Ne 40"},
            "B": {"linear_density_tex": 30},
            "C": {"designation": "Ne 40"},
        },
        "order": "A B C",
        "ends_per_in": 78.5,
    }
    cloth["weft"]["yarns"] = {"A": {"diameter_mm": 0.3, "monofilament": True, "fibre": "nylon"}}
    link = client.post("/v1/validations", json=sent).get_json()["links"]["self"]
    body = {"items": [{"link": link, "etag": "-"}]}
    found = client.post("/v1/validation-changes", json=body).get_json()["items"]
    woven = "weave of 40 ends × 40 picks"
    setts = "78.5 ends per in, 24 picks per cm"
    assert found[0]["cloth"] == f"{woven}, Ne 40 (+1) × nylon, {setts}, 63 in grey"
