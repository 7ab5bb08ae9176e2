"""Figured and large orders on the form of the start page: what is judged keeps its verdict."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Mapping
from urllib.parse import parse_qsl, urlencode

import numpy as np
import pytest
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image
from service.pages import Page, read

from weavability.answers import finding_remedies
from weavability.answers.trials import Bound
from weavability.service.http import work
from weavability.service.resources import windows

pytestmark = pytest.mark.slow

BROWSER = {"Accept": "text/html"}
ORDER = {
    "loom_id": "rapier-190-jacquard",
    "warp_yarn_A": "Nm 34/2",
    "warp_fibre_A": "cotton",
    "weft_yarn_A": "Nm 20",
    "weft_fibre_A": "cotton",
    "ends_per_cm": "28",
    "picks_per_cm": "14",
    "width_cm": "140",
}
TWILL = {**ORDER, "weave": "2/2 twill Z"}
EFFECTS = {"effect.ffffff.weave": "8-end satin move 3", "effect.c01030.weave": "8-end satin move 5"}


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


def page_of(client: FlaskClient, fields: Mapping[str, str]) -> Page:
    answer = client.get(f"/?{urlencode(fields)}", headers=BROWSER)
    assert answer.status_code == 200, answer.text[:2000]
    return read(answer.text)


def flower(width: int = 16, height: int = 16) -> io.BytesIO:
    picture = Image.new("P", (width, height))
    picture.putpalette([255, 255, 255, 192, 16, 48])
    picture.paste(1, (4, 4, 12, 12))
    file = io.BytesIO()
    picture.save(file, "PNG")
    file.seek(0)
    return file


@pytest.fixture(scope="module")
def figured(client: FlaskClient) -> dict[str, str]:
    """The fields of an order of a figured design."""
    fields = {**ORDER, "picture_is": "design", "picture": (flower(), "flower.png")}
    uploaded = client.post("/", data=fields, headers=BROWSER)
    there = dict(parse_qsl(uploaded.headers["Location"].partition("?")[2]))
    woven = client.post("/", data={**there, **EFFECTS}, headers=BROWSER)
    return dict(parse_qsl(woven.headers["Location"].partition("?")[2]))


def answer_of(page: Page) -> str:
    return " ".join(page.one("aside").text.split())


def buttons(page: Page) -> list[str]:
    return [each.text.strip() for each in page.all("button")]


def test_the_verdict_stays_if_what_decides_and_the_window_take_too_much(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "MOST_UNITS", 10)
    page = page_of(client, {**TWILL, "window": "1"})
    answer = answer_of(page)
    assert "Weavable" in answer
    assert "too large to search which assumed values decide" in answer
    assert "not judged" not in answer.lower()
    assert "too large to be judged at so many setts" in page.one("main").text


def test_an_order_of_many_yarns_says_where_what_decides_is_searched(client: FlaskClient) -> None:
    yarns = {f"warp_yarn_{key}": "Nm 34/2" for key in "ABCDEFGHI"}
    fibres = {f"warp_fibre_{key}": "cotton" for key in "ABCDEFGHI"}
    order = {**TWILL, **yarns, **fibres, "warp_order": " ".join("ABCDEFGHI")}
    answer = answer_of(page_of(client, order))
    assert "not searched here for an order of so many yarns" in answer
    assert "as soon as you pause" not in answer


def test_a_picture_that_was_uploaded_is_counted_once(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "MOST_CROSSINGS_AT_ONCE", 200 * 100)
    fields = {
        **ORDER,
        "prices.loom_hour": "30",
        "picture_is": "design",
        "picture": (flower(200, 100), "flower.png"),
    }
    answer = client.post("/", data=fields, headers=BROWSER)
    assert answer.status_code == 200, answer.text[:2000]
    assert "Weave is missing" in answer.text


def test_a_figured_design_has_a_window_of_few_setts(
    client: FlaskClient, figured: dict[str, str]
) -> None:
    page = page_of(client, figured)
    assert "Draw the window of setts" in buttons(page)
    drawn = page_of(client, {**figured, "window": "1"})
    (figure,) = [
        a for a in drawn.all("figure") if a.attributes.get("aria-label") == "Window of setts"
    ]
    assert "this order" in figure.text
    assert "It has 7 x 7 points" in drawn.one("main").text
    (report,) = [a for a in page.all("a") if a.text == "Report"]
    shown = read(client.get(report.attributes["href"], headers=BROWSER).text)
    addresses = {a.text: a.attributes["href"] for a in shown.all("a") if "Window" in a.text}
    setts = read(client.get(addresses["Window of ends and picks"], headers=BROWSER).text)
    assert "It has 7 x 7 points, because the figured design" in setts.one("main").text
    width = read(client.get(addresses["Window of width and picks"], headers=BROWSER).text)
    assert "It has 32 x 15 points" in width.one("main").text


def test_a_page_says_how_much_work_a_window_of_a_figured_design_would_take(
    client: FlaskClient, figured: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # 4 units a weaving, and a little for its crossings: 5 x 5 are 100, 5 along the picks 20.
    monkeypatch.setattr(windows, "MOST_UNITS_OF_WEAVINGS", 99)
    said = page_of(client, {**figured, "window": "1"}).one("main").text
    assert "woven anew for each sett, at 25 of them" in said
    assert "a page does 99 at most. A program that asks the service gets up to 12,000" in said
    (report,) = [a for a in page_of(client, figured).all("a") if a.text == "Report"]
    for window, words in (("setts", "a page does 99 at most"), ("width", "It has 32 x 15 points")):
        linked = client.get(f"{report.attributes['href']}?window={window}", headers=BROWSER)
        assert linked.status_code == 200
        assert words in read(linked.text).one("main").text


def test_a_window_of_a_figured_design_waits_for_a_pause(
    client: FlaskClient, figured: dict[str, str]
) -> None:
    typing = {**BROWSER, "Prefer": "return=minimal"}
    page = read(client.get("/", query_string={**figured, "window": "1"}, headers=typing).text)
    assert "It is drawn as soon as you pause." in page.one("main").text


def test_a_report_says_that_its_order_is_too_large_for_a_window(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    (report,) = [a for a in page_of(client, TWILL).all("a") if a.text == "Report"]
    monkeypatch.setattr(work, "MOST_UNITS", 10)
    shown = client.get(f"{report.attributes['href']}?window=setts", headers=BROWSER)
    assert "too large to be judged at so many setts" in read(shown.text).one("main").text


def test_the_examples_of_a_weave_are_weaves(client: FlaskClient) -> None:
    page = page_of(client, TWILL)
    (hint,) = [each for each in page.all("p") if each.attributes.get("id") == "f-weave-hint"]
    for weave in hint.text.partition(": ")[2].split(", "):
        answer = client.post("/v1/weaves", json={"weave": weave})
        assert answer.status_code == 200, weave


def test_an_order_that_no_address_holds_has_report_and_set_up_sheet(client: FlaskClient) -> None:
    noise = np.random.default_rng(1).integers(0, 2, (160, 440), np.uint8)
    file = io.BytesIO()
    Image.fromarray(noise * 255).convert("1").save(file, "PNG")
    weave = {"image_png": base64.b64encode(file.getvalue()).decode()}
    fields = {**ORDER, "reference": "D-9", "weave": json.dumps(weave)}
    page = read(client.post("/", data=fields, headers=BROWSER).text)
    shown = {
        each.text.strip(): each.attributes["value"]
        for each in page.all("button")
        if each.attributes.get("name") == "show"
    }
    report = client.post("/", data={**fields, "show": shown["Report"]}, headers=BROWSER)
    assert "D-9" in read(report.text).all("title")[0].text
    assert "Key figures and their limits" in report.text
    sheet = client.post("/", data={**fields, "show": shown["Set-up sheet"]}, headers=BROWSER)
    assert "Key figures and their limits" not in sheet.text
    assert "Set-up" in read(sheet.text).all("title")[0].text
    wrong = client.post("/", data={**fields, "width_cm": "wide", "show": "report"}, headers=BROWSER)
    assert "1 thing to mend" in wrong.text


def test_a_remedy_of_two_fields_is_a_button_and_of_no_program_half_made(
    client: FlaskClient,
) -> None:
    fields = {**ORDER, "picture_is": "design", "picture": (flower(244, 242), "flower.png")}
    there = client.post("/", data=fields, headers=BROWSER).headers["Location"]
    woven = {**dict(parse_qsl(there.partition("?")[2])), **EFFECTS}
    answer = client.post("/", data=woven, headers=BROWSER, follow_redirects=True)
    page = read(answer.text)
    (cast_out,) = [a for a in page.all("button") if a.text.startswith("Cast the design out to")]
    (report,) = [a for a in page.all("a") if a.text == "Report"]
    address = report.attributes["href"]
    assert "Cast the design out to 240 columns" in client.get(address, headers=BROWSER).text
    # Who has read only the pointer of a remedy since 0.1 would make half of it.
    findings = client.get(address).get_json()["findings"]
    (breaks,) = [each for each in findings if each["code"] == "design.ground_break"]
    assert breaks["remedies"] == []
    assert not any("POST" in each for each in breaks["tried"])
    changed = {**woven, "set": cast_out.attributes["value"]}
    after = client.post("/", data=changed, headers=BROWSER, follow_redirects=True)
    assert "Weavable" in answer_of(read(after.text))
    assert "design.ground_break" not in after.text


def test_what_a_report_has_not_tried_is_searched_by_a_button(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding_remedies, "OF_REPORT", Bound(probes=1, proofs=1))
    wide = {**TWILL, "width_cm": "200", "loom_id": "rapier-190-dobby"}
    page = page_of(client, wide)
    assert "More may help: not searched here." in answer_of(page)
    assert "POST" not in answer_of(page)
    assert "Search for remedies" in buttons(page)
    searched = page_of(client, {**wide, "search": "1"})
    assert [each for each in buttons(searched) if each.startswith("Weave it ")]
    assert "Search for remedies" not in buttons(searched)
    (report,) = [a for a in page.all("a") if a.text == "Report"]
    shown = read(client.get(report.attributes["href"], headers=BROWSER).text)
    (search,) = [a for a in shown.all("a") if a.text == "Search for remedies"]
    found = client.get(search.attributes["href"], headers=BROWSER).text
    assert [each for each in buttons(read(found)) if each.startswith("Weave it ")]
