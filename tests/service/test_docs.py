"""The pages: documentation, problem types, and a report to read and to print."""

from __future__ import annotations

import itertools
import json
import re
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from service.pages import Page, read
from service.support import changed, full_request, small_request

from weavability.answers.validation import assess, judge
from weavability.service.app import openapi_document
from weavability.service.http.problems import KINDS
from weavability.service.pages import report_page
from weavability.service.pages.report_page import LONGEST_LISTED
from weavability.service.requests.validation_answer import ValidationAnswer
from weavability.service.schemas.request_schemas import ValidationRequestSchema

STATIC = Path(__file__).parents[2] / "server" / "weavability" / "service" / "pages" / "static"
HTML = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


def report_of(client: FlaskClient, request: dict[str, Any]) -> tuple[dict[str, Any], Page, Any]:
    report = client.post("/v1/validations", json=request).get_json()
    answer = client.get(report["links"]["self"], headers=HTML)
    assert answer.status_code == 200, answer.text
    return report, read(answer.text), answer


PAGES = [
    pytest.param("/docs", marks=pytest.mark.slow),
    "/problems/invalid-request",
    "report",
    "bad report",
]


@pytest.fixture(scope="module", params=PAGES)
def page(request: pytest.FixtureRequest, app: Flask) -> Page:
    client = app.test_client()
    if request.param.startswith("/"):
        return read(client.get(request.param, headers=HTML).text)
    wide = changed(full_request(), "/construction/width_cm", 192)
    return report_of(client, wide if request.param == "bad report" else full_request())[1]


@pytest.fixture(scope="module")
def docs(app: Flask) -> Page:
    return read(app.test_client().get("/docs").text)


class TestEveryPage:
    """WCAG 2.2: 1.3.1, 2.4.1, 2.4.2, 3.1.1, 4.1.2."""

    @pytest.mark.slow
    def test_language_title_and_one_heading(self, page: Page) -> None:
        assert page.one("html").attributes["lang"] == "en"
        assert page.all("title")[0].text.strip()
        assert page.one("h1").text.strip()
        assert page.one("main").attributes["id"] == "main"
        assert page.all("a")[0].attributes["href"] == "#main"

    def test_headings_do_not_skip_a_level(self, page: Page) -> None:
        levels = [int(each.tag[1]) for each in page.elements if re.fullmatch("h[1-6]", each.tag)]
        assert all(below <= above + 1 for above, below in itertools.pairwise(levels))

    def test_every_table_has_a_caption_and_headers(self, page: Page) -> None:
        tables = page.all("table")
        assert len(page.all("caption")) == len(tables)
        assert all(each.text.strip() for each in page.all("caption"))
        assert all(each.attributes["scope"] in ("row", "col") for each in page.all("th"))

    @pytest.mark.slow
    def test_ids_are_unique_and_links_inside_lead_somewhere(self, page: Page) -> None:
        assert len(page.ids) == len(set(page.ids))
        for link in page.all("a"):
            target = link.attributes["href"]
            assert not target.startswith("#") or target[1:] in page.ids, target
            assert link.text.strip()

    def test_every_field_of_a_form_is_labelled(self, page: Page) -> None:
        labelled = {each.attributes["for"] for each in page.all("label")}
        for tag in ("input", "select", "textarea"):
            assert {each.attributes["id"] for each in page.all(tag)} <= labelled

    def test_nothing_comes_from_elsewhere_and_nothing_is_inline(self, page: Page) -> None:
        for each in page.elements:
            assert "style" not in each.attributes
            assert not any(name.startswith("on") for name in each.attributes)
            assert each.tag not in ("style", "iframe", "object", "base")
            for name in ("href", "src", "action"):
                assert re.match(r"[#/](?!/)|$", each.attributes.get(name, "#")), each
        assert all(each.text == "" for each in page.all("script"))

    def test_what_it_loads_is_there(self, page: Page, client: FlaskClient) -> None:
        wanted = [each.attributes["href"] for each in page.all("link")
                  if each.attributes["rel"] in ("stylesheet", "icon")]  # fmt: skip
        wanted += [each.attributes["src"] for each in page.all("script")]
        for path in wanted:
            assert client.get(path, buffered=True).status_code == 200


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_is_that_of_wcag() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 is the lightest grey that passes AA on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_every_text_has_contrast_enough_in_light_and_dark() -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5:1."""
    css = (STATIC / "plain.css").read_text("utf-8")
    schemes = re.findall(r":root \{(.*?)\}", css, re.DOTALL)[:2]
    assert len(schemes) == 2
    for scheme in schemes:
        colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", scheme))
        for ground in ("paper", "sheet", "code"):
            for ink in ("ink", "accent"):
                assert contrast(colours[ink], colours[ground]) >= 4.5, (ink, ground)
        for ground in ("paper", "sheet"):
            for ink in ("quiet", "bad"):
                assert contrast(colours[ink], colours[ground]) >= 4.5, (ink, ground)
            # Success criterion 1.4.11: the edge of a field, 3:1.
            assert contrast(colours["edge"], colours[ground]) >= 3
        assert contrast(colours["on-accent"], colours["accent"]) >= 4.5
        for mark in ("good", "fair", "bad", "quiet"):
            assert contrast(colours["on-mark"], colours[mark]) >= 4.5, mark


class TestReportPage:
    def test_it_says_what_the_json_says(self, client: FlaskClient) -> None:
        request = changed(full_request(), "/construction/width_cm", 192)
        report, page, _ = report_of(client, request)
        text = " ".join(page.one("main").text.split())
        assert "Not weavable" in text
        for finding in report["findings"]:
            assert finding["message"] in text
            assert finding["code"] in text
            for remedy in finding["remedies"]:
                assert remedy["message"] in text
        assert " ".join(report["caution"].split()) in text
        for yarn in report["yarn"]:
            assert yarn["yarn"] in text
        for assumption in report["assumptions"]:
            assert assumption["reason"] in text
        cells = {each.text for each in page.all("td")}
        for part in ("setup", "rates", "cloth", "warp"):
            for name, value in report[part].items():
                if isinstance(value, int) and value < 10_000:
                    assert str(value) in cells, name

    def test_its_sections(self, client: FlaskClient) -> None:
        _, page, _ = report_of(client, full_request())
        assert [each.text for each in page.all("h2")] == [
            "What to change", "What decides", "Key figures and their limits", "The order as stated",
            "Face of the cloth and point paper", "A pick over the crank angle", "Set-up", "Yarn",
            "Warp and beams", "Assumptions", "All figures", "Sources", "Caution",
        ]  # fmt: skip

    def test_the_gravest_finding_comes_first(self, client: FlaskClient) -> None:
        request = changed(full_request(), "/construction/width_cm", 192)
        _, page, _ = report_of(client, request)
        marks = [each.attributes["class"].split()[1] for each in page.all("article")]
        assert marks == sorted(marks, key=["bad", "fair", "plain"].index)
        assert marks[0] == "bad"

    def test_an_assumption_is_named_without_its_unit(self, client: FlaskClient) -> None:
        _, page, _ = report_of(client, full_request())
        labels = {each.text for each in page.all("th")}
        assert {"Tenacity", "Greatest speed of the weft feeder", "Wrap angle of the weft"} <= labels
        assert {"Rapier travel outside the cloth", "Share of the wire in a dent"} <= labels
        # Those of the cloth in its states have their unit in the row's head.
        labels -= {"Width, cm", "Ends per cm", "Picks per cm"}
        assert not [each for each in labels if each.lower().endswith((" per", " cm", " deg"))]

    def test_the_weave_is_drawn_for_those_who_cannot_see_it_too(self, client: FlaskClient) -> None:
        _, page, _ = report_of(client, full_request())
        drawing = next(each for each in page.all("svg") if each.attributes.get("role") == "img")
        for name in drawing.attributes["aria-labelledby"].split():
            assert name in page.ids

    def test_a_browser_gets_the_page_and_a_program_the_json(self, client: FlaskClient) -> None:
        report, _, answer = report_of(client, full_request())
        assert answer.mimetype == "text/html"
        plain = client.get(report["links"]["self"])
        assert plain.mimetype == "application/json"
        for each in (answer, plain):
            assert "Accept" in each.headers["Vary"]
        assert answer.headers["ETag"] != plain.headers["ETag"]

    def test_a_current_page_is_not_sent_again(self, client: FlaskClient) -> None:
        report, _, answer = report_of(client, full_request())
        again = {**HTML, "If-None-Match": answer.headers["ETag"]}
        assert client.get(report["links"]["self"], headers=again).status_code == 304
        other = {**HTML, "If-None-Match": f'"{report["validation_id"]}"'}
        assert client.get(report["links"]["self"], headers=other).status_code == 200

    def test_a_long_lift_plan_is_cut_and_says_so(self, client: FlaskClient) -> None:
        twill = ["1100", "0110", "0011", "1001"]
        rows = ["1010", *(twill[pick % 4] for pick in range(LONGEST_LISTED + 9))]
        request = changed(small_request(), "/construction/weave", {"rows": rows})
        report, page, _ = report_of(client, request)
        assert len(report["setup"]["lift_plan"]) == LONGEST_LISTED + 10
        (plan,) = (each for each in page.all("p") if "… and" in each.text)
        assert plan.text.split()[:LONGEST_LISTED] == report["setup"]["lift_plan"][:LONGEST_LISTED]
        assert "… and 10 more" in plan.text

    @pytest.mark.slow
    @pytest.mark.parametrize("weave", ["plain", "8-end satin move 3", "2/2 herringbone 8"])
    def test_any_weave_makes_a_page(self, client: FlaskClient, weave: str) -> None:
        _, page, _ = report_of(client, changed(full_request(), "/construction/weave", weave))
        assert weave.lower() in page.one("h1").text.lower()

    def test_text_of_a_request_cannot_become_markup(self, app: Flask) -> None:
        hostile = '"><script>alert(1)</script>'
        read_in = ValidationRequestSchema().read(full_request())
        assert read_in.loom is not None
        report = assess(read_in.construction, read_in.loom)
        with app.test_request_context():
            page = report_page.render(
                ValidationAnswer(
                    validation_id=hostile,
                    report=replace(
                        report,
                        loom_id=hostile,
                        cloth=replace(report.cloth, weave=hostile),
                        yarn=(replace(report.yarn[0], colour=hostile, designation=hostile),),
                    ),
                    links={"self": hostile, "loom": hostile},
                ),
                judge(read_in.construction, read_in.loom),
            )
        (script,) = read(page).all("script")
        assert script.attributes["src"] == "/static/today.js"
        assert hostile in read(page).one("h1").text


@pytest.mark.slow
class TestDocs:
    def test_every_operation_schema_and_problem_is_there(self, docs: Page) -> None:
        text = docs.one("main").text
        for path, methods in openapi_document()["paths"].items():
            for method, operation in methods.items():
                assert operation["operationId"] in docs.ids
                assert f"{method.upper()} {path}" in text
        for name in openapi_document()["components"]["schemas"]:
            assert f"schema-{name}" in docs.ids
        links = {each.attributes["href"] for each in docs.all("a")}
        assert {kind.type for kind in KINDS.values()} <= links

    def test_every_operation_can_be_tried(self, docs: Page) -> None:
        forms = {
            (each.attributes["data-method"], each.attributes["data-path"])
            for each in docs.all("form")
            if "data-path" in each.attributes
        }
        described = {
            (method.upper(), path)
            for path, methods in openapi_document()["paths"].items()
            for method in methods
        }
        assert forms == described

    def test_what_is_filled_in_works(self, docs: Page, client: FlaskClient) -> None:
        bodies = [each for each in docs.all("textarea") if each.text.lstrip().startswith("{")]
        assert bodies
        by_id = {
            operation["operationId"]: (method.upper(), path)
            for path, methods in openapi_document()["paths"].items()
            for method, operation in methods.items()
        }
        for each in bodies:
            method, path = by_id[each.attributes["id"].removesuffix("-body")]
            body = json.loads(each.text)
            assert client.open(path, method=method, json=body).status_code == 200, path

    def test_every_sample_in_python_runs_as_it_is(
        self, docs: Page, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        called: list[str] = []

        class Answered:
            def __init__(self, method: str, address: str, body: object = None) -> None:
                path = address.removeprefix("http://127.0.0.1:8080")
                made = client.open(path, method=method, json=body, follow_redirects=True)
                self.status, self.text = made.status_code, made.text
                called.append(path)

            def raise_for_status(self) -> None:
                assert self.status == 200

            def json(self) -> object:
                return json.loads(self.text)

        fake = ModuleType("requests")
        for method in ("get", "post"):
            setattr(
                fake,
                method,
                lambda address, *, json=None, timeout, m=method: Answered(m, address, json),
            )
        monkeypatch.setitem(sys.modules, "requests", fake)
        samples = [each.text for each in docs.all("pre") if "import requests" in each.text]
        for each in samples:
            exec(each, {"print": lambda _: None})
        assert len(called) == len(samples) == sum(map(len, openapi_document()["paths"].values()))

    def test_its_policy_allows_its_own_script_and_nothing_else(self, client: FlaskClient) -> None:
        policy = client.get("/docs").headers["Content-Security-Policy"]
        parts = dict(each.strip().split(" ", 1) for each in policy.split(";"))
        assert parts["default-src"] == "'none'"
        assert parts["script-src"] == "'self'"
        assert parts["connect-src"] == "'self'"
        assert "unsafe" not in policy
        assert "http" not in policy

    def test_the_script_keeps_no_token_and_makes_no_markup(self) -> None:
        script = (STATIC / "docs.js").read_text("utf-8")
        for word in ("innerHTML", "localStorage", "sessionStorage", "cookie", "eval(", "http"):
            assert word not in script

    def test_it_is_not_sent_again_while_current(self, client: FlaskClient) -> None:
        etag = client.get("/docs").headers["ETag"]
        assert client.get("/docs", headers={"If-None-Match": etag}).status_code == 304

    def test_static_files_are_ours_and_small(self) -> None:
        sizes = {path.name: path.stat().st_size for path in STATIC.iterdir()}
        assert {name.rpartition(".")[2] for name in sizes} == {"css", "js", "svg"}
        assert sum(sizes.values()) < 120_000
