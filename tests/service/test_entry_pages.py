"""The pages of checks, looms and weaves say what the data of the same address says."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient
from service.pages import Page, read

from weavability.answers.caution import CAUTION

HTML = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}


def page_of(client: FlaskClient, path: str) -> Page:
    answer = client.get(path, headers=HTML)
    assert (answer.status_code, answer.mimetype) == (200, "text/html")
    again = client.get(path, headers={**HTML, "If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304
    assert again.headers["Content-Security-Policy"] == answer.headers["Content-Security-Policy"]
    assert client.get(path).headers["ETag"] != answer.headers["ETag"]
    return read(answer.text)


def words(page: Page) -> str:
    return " ".join(page.one("main").text.split())


def links(page: Page) -> set[str]:
    return {each.attributes["href"] for each in page.all("a")}


def test_the_list_of_checks_leads_to_each(client: FlaskClient) -> None:
    page = page_of(client, "/v1/checks")
    for check in client.get("/v1/checks").json["checks"]:  # type: ignore[index]
        assert f"/v1/checks/{check['code']}" in links(page)
        assert check["says"] in words(page)


@pytest.mark.parametrize("code", ["sett.tight", "width.reed_space", "yarn.tape"])
def test_a_check_has_what_decides_it(client: FlaskClient, code: str) -> None:
    check = client.get(f"/v1/checks/{code}").json
    text = words(page_of(client, f"/v1/checks/{code}"))
    assert check is not None
    for said in (check["says"], check["formula"], check["source"], CAUTION):
        assert " ".join(said.split()) in text
    for threshold in check["thresholds"]:
        assert threshold["source"] in text
    for pattern in check["messages"].values():
        assert " ".join(re.sub(r"\{[^}]*\}", "…", pattern).split()) in text
    assert "/construction" not in text
    assert "{" not in text


def test_the_park_leads_to_each_loom_and_each_loom_to_an_order_on_it(client: FlaskClient) -> None:
    found = links(page_of(client, "/v1/looms"))
    for loom in client.get("/v1/looms").json["looms"]:  # type: ignore[index]
        path = f"/v1/looms/{loom['loom_id']}"
        assert path in found
        page = page_of(client, path)
        assert f"/?loom_id={loom['loom_id']}" in links(page)
        text = words(page)
        for assumed in loom["assumed"]:
            assert " ".join(assumed["reason"].split()) in text
        assert f"{loom['reed_width_cm']}\u202fcm" in page.one("main").text
        assert CAUTION in text
        assert "Power kw" not in text
        assert "picks per min" not in text
        assert ("Pick densities of the take-up" in text) is ("picks_per_cm" in loom)


def test_a_problem_leads_to_what_it_names(client: FlaskClient) -> None:
    answer = client.get("/v1/looms/nowhere", headers={"Accept": "text/html"})
    assert answer.status_code == 404
    assert "/v1/looms" in links(read(answer.text))
    assert "GET /v1" not in words(read(answer.text))


def test_a_weave_is_drawn_and_named(client: FlaskClient) -> None:
    page = page_of(client, "/v1/weaves")
    known = client.get("/v1/weaves").json
    assert known is not None
    text = words(page)
    drawn = [each for each in page.all("svg") if each.attributes.get("class") == "weave"]
    with_rows = [each for each in (*known["notations"], *known["names"]) if each["rows"]]
    assert len(drawn) == len(with_rows)
    for each in (*known["notations"], *known["names"]):
        assert each["name"] in text
        assert " ".join(each["meaning"].split()) in text
