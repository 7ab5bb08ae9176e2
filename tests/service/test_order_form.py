"""The form of the start page, by address and by body, as a browser without script sends it."""

from __future__ import annotations

import base64
import io
import json
import logging
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlencode

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from profiles import share_of_examples
from service.pages import Page, read
from werkzeug.test import TestResponse

from weavability.answers.caution import CAUTION
from weavability.service.access.tokens import Scope, make_token
from weavability.service.app import create_app
from weavability.service.batches import pasted_orders
from weavability.service.batches.csv_columns import columns
from weavability.service.batches.csv_orders import MOST_COLUMNS
from weavability.service.batches.order_lines import read_order_line
from weavability.service.batches.pasted_orders import NO_ORDER
from weavability.service.http.form_bodies import FORM, MULTIPART
from weavability.service.pages.order_examples import examples
from weavability.service.pages.order_state import settled
from weavability.service.requests.park import load_park
from weavability.service.settings import Settings

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
ORDER = {
    "loom_id": "rapier-190-dobby",
    "weave": "2/2 twill Z",
    "warp_yarn_A": "Ne 30",
    "warp_fibre_A": "cotton",
    "weft_yarn_A": "Ne 20",
    "weft_fibre_A": "cotton",
    "ends_per_cm": "32",
    "picks_per_cm": "24",
    "width_cm": "200",
    "length_m": "3000",
}


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


def shown(client: FlaskClient, fields: Mapping[str, str]) -> TestResponse:
    return client.get(f"/?{urlencode(fields)}", headers=BROWSER)


def sent(client: FlaskClient, fields: Mapping[str, Any], **more: Any) -> TestResponse:
    return client.post("/", data=fields, headers=BROWSER, **more)


def moved_to(answer: TestResponse) -> dict[str, str]:
    """The fields of the address that a form leads to."""
    assert answer.status_code == 303, answer.text[:300]
    path, _, query = answer.headers["Location"].partition("?")
    assert path == "/"
    return dict(parse_qsl(query, keep_blank_values=True))


def words(answer: TestResponse) -> str:
    return " ".join(read(answer.text).one("main").text.split())


def answer_of(page: Page) -> str:
    return " ".join(page.one("aside").text.split())


def typed(page: Page) -> dict[str, str]:
    """What the form has in its fields; empty ones left out."""
    order = [each for each in page.elements if "name" in each.attributes and "form" in each.inside]
    found = {
        each.attributes["name"]: each.attributes.get("value", "")
        for each in order
        if each.tag == "input"
    }
    found |= {each.attributes["name"]: each.text for each in order if each.tag == "textarea"}
    for option in page.all("option"):
        if "selected" in option.attributes and option.attributes["value"]:
            found[option.attributes["value"]] = "selected"
    return {name: value for name, value in found.items() if value}


def typed_again(answer: TestResponse) -> str:
    """The text in the box for orders that are pasted; a browser drops its first line break."""
    page = read(answer.text)
    box = next(each for each in page.all("textarea") if each.attributes["id"] == "pasted")
    return box.text.removeprefix("\n")


def test_programs_get_the_index_and_browsers_an_empty_form(client: FlaskClient) -> None:
    assert client.get("/").mimetype == "application/json"
    assert client.get("/", headers={"Accept": "*/*"}).mimetype == "application/json"
    answer = client.get("/", headers=BROWSER)
    assert answer.mimetype == "text/html"
    assert "Accept" in answer.vary
    page = read(answer.text)
    assert len(page.ids) == len(set(page.ids))
    assert "Describe the cloth" in answer_of(page)
    assert CAUTION in " ".join(page.one("aside").text.split())
    assert 'class="fault"' not in answer.text


def test_every_column_of_a_sheet_has_a_field_or_a_row(client: FlaskClient) -> None:
    text = client.get("/", headers=BROWSER).text
    inches = {"ends_per_in", "picks_per_in", "width_in", "length_yd"}
    tables = {"warp_beams": "beam.1.name", "requirements.fibre_pct": "fibre.1.min"}
    missing = [
        name
        for name in columns()
        if name not in inches and f'name="{tables.get(name, name)}"' not in text
    ]
    assert missing == []


@pytest.mark.slow
def test_an_address_is_an_order_and_its_answer(client: FlaskClient) -> None:
    answer = shown(client, ORDER)
    page = read(answer.text)
    found = answer_of(page)
    assert "Not weavable" in found
    assert "The cloth needs 207.3 cm in the reed" in found
    assert "picks/min" in found
    assert "Hours for the order" in found
    links = [each.attributes.get("href", "") for each in page.all("a")]
    assert not any("setup-sheet" in each for each in links)
    assert "The browser's Back undoes it" in found
    assert any(each.startswith("/matches?") and "loom_id" not in each for each in links)
    assert sum(each.startswith("/board#add=v1.") for each in links) == 1
    report = next(each for each in links if re.fullmatch(r"/v1/validations/v1\.[\w-]+", each))
    assert client.get(report, headers=BROWSER).status_code == 200
    figure = page.one("figcaption").text
    assert "2/2 twill Z" in figure
    assert "4 shafts" in figure


def test_everything_typed_is_on_the_page_again(client: FlaskClient) -> None:
    odd = {**ORDER, "weave": '3/1 "twil" <b>', "warp_yarn_B": "<script>", "width_cm": "1,250"}
    odd |= {
        "requirements.mass_g_per_m2.min": "x&y",
        "warp_twist_per_m_A": "lots",
        "weft_order": "A",
    }
    answer = shown(client, odd)
    page = read(answer.text)
    again = typed(page)
    assert {name: again.get(name) for name in odd if name != "loom_id"} == {
        name: text for name, text in odd.items() if name != "loom_id"
    }
    assert again[ORDER["loom_id"]] == "selected"
    assert all(each.attributes.get("src") for each in page.all("script"))
    assert page.all("b") == []


def test_faults_are_beside_their_fields_and_summed_up(client: FlaskClient) -> None:
    faulty = {**ORDER, "weave": "2/2 twil Z", "ends_per_cm": "x", "warp_fibre_A": "cottn"}
    del faulty["picks_per_cm"]
    page = read(shown(client, faulty).text)
    summary = [each for each in page.all("a") if "section" in each.inside]
    assert [each.attributes["href"] for each in summary] == [
        "#f-warp_fibre_A",
        "#f-ends_per_cm",
        "#f-weave",
    ]
    marked = {each.attributes["id"] for each in page.elements if "aria-invalid" in each.attributes}
    assert marked == {"f-warp_fibre_A", "f-ends_per_cm", "f-weave"}
    beside = {
        each.attributes["id"]: each.text for each in page.all("div") if "id" in each.attributes
    }
    assert "2/2 twill Z" in beside["f-weave-note"]
    assert "must be a number" in beside["f-ends_per_cm-note"]
    found = answer_of(page)
    assert "Not judged: 3 to mend" in found
    assert "Still to state" in found
    assert "Picks" in found
    assert "per_cm" not in re.sub(r"\s+", " ", " ".join(each.text for each in page.all("aside")))


def test_what_is_no_field_is_refused_and_nothing_judged(client: FlaskClient) -> None:
    found = words(shown(client, {**ORDER, "widht_cm": "150"}))
    assert "There is no field 'widht_cm'. Did you mean \"width_cm\"?" in found
    assert "Hours for the order" not in found


def test_what_is_no_field_hides_no_other_fault(client: FlaskClient) -> None:
    faulty = {**ORDER, "width_cm": "-5", "ends_per_cm": "9999", "picks_per_cm": "0"}
    faulty |= {"bogus": "3", "loom_id": "none"}
    page = read(shown(client, faulty).text)
    marked = {each.attributes["id"] for each in page.elements if "aria-invalid" in each.attributes}
    assert marked == {"f-width_cm", "f-ends_per_cm", "f-picks_per_cm", "f-loom_id"}
    assert "There is no field 'bogus'." in page.one("main").text
    del faulty["loom_id"], faulty["width_cm"]
    found = answer_of(read(shown(client, faulty).text))
    assert "Not judged: 3 to mend" in found
    assert "Still to state" in found


def test_a_decimal_comma_is_understood_and_said(client: FlaskClient) -> None:
    page = shown(client, {**ORDER, "width_cm": "152,5"}).text
    assert "Read as 152.5" in page
    assert "The cloth needs 158.1 cm" in page or "Weavable" in page
    count = shown(client, {**ORDER, "warp_yarn_A": "Ne 29,5"}).text
    assert "Read as Ne 29.5" in count
    assert "Not judged" not in count
    assert "Not judged" in shown(client, {**ORDER, "warp_yarn_A": "1,250 dtex"}).text


def test_a_field_may_be_spelt_in_another_case(client: FlaskClient) -> None:
    fields = {**ORDER, "Ends_per_CM": ORDER["ends_per_cm"]}
    del fields["ends_per_cm"]
    assert moved_to(shown(client, fields)) == ORDER


def test_without_a_loom_the_park_is_ranked(client: FlaskClient) -> None:
    order = {name: text for name, text in ORDER.items() if name != "loom_id"}
    page = read(shown(client, order).text)
    found = answer_of(page)
    assert "5 of 12 looms can weave it" in found
    assert any(
        "loom_id=air-jet-340-dobby" in each.attributes.get("href", "") for each in page.all("a")
    )


class TestButtons:
    def test_a_form_leads_to_the_address_of_its_order(self, client: FlaskClient) -> None:
        assert moved_to(sent(client, {**ORDER, "reference": "", "warp_order": " "})) == ORDER

    def test_a_unit_is_changed_with_what_is_typed(self, client: FlaskClient) -> None:
        there = moved_to(sent(client, {**ORDER, "convert": "ends_per_in"}))
        assert there["ends_per_in"] == "81.28"
        assert "ends_per_cm" not in there
        back = moved_to(sent(client, {**there, "convert": "ends_per_cm"}))
        assert back == ORDER

    def test_an_empty_field_changes_its_unit_too(self, client: FlaskClient) -> None:
        there = moved_to(sent(client, {"convert": "width_in"}))
        assert there == {"width_in": ""}
        assert 'name="width_in"' in shown(client, there).text

    def test_yarns_are_added_and_removed(self, client: FlaskClient) -> None:
        two = moved_to(sent(client, {**ORDER, "add": "warp"}))
        assert two["warp_yarn_B"] == ""
        assert 'id="f-warp_yarn_B"' in shown(client, two).text
        assert moved_to(sent(client, {**two, "remove": "warp_B"})) == ORDER
        full = {**two, "warp_fibre_B": "linen", "warp_crimp_pct_B": "4"}
        assert moved_to(sent(client, {**full, "remove": "warp_B"})) == ORDER

    @pytest.mark.slow
    def test_a_remedy_changes_the_form_and_the_verdict(self, client: FlaskClient) -> None:
        page = read(shown(client, ORDER).text)
        remedy = next(
            each for each in page.all("button") if each.text.strip() == "Weave it 183 cm wide."
        )
        there = moved_to(sent(client, {**ORDER, "set": remedy.attributes["value"]}))
        assert there == {**ORDER, "width_cm": "183"}
        assert "Weavable, with warnings" in words(shown(client, there))

    def test_a_remedy_empties_a_field(self, client: FlaskClient) -> None:
        drawn = {**ORDER, "draft": "1 2 3 3"}
        assert moved_to(sent(client, {**drawn, "set": '{"/construction/draft": null}'})) == ORDER

    @pytest.mark.slow
    def test_a_button_beside_the_verdict_searches_for_what_makes_the_order_weavable(
        self, client: FlaskClient
    ) -> None:
        order = {**ORDER, "requested_speed_picks_per_min": "900"}
        before = read(shown(client, order).text)
        offered = [each for each in before.all("button") if each.text == "Search for the way out"]
        assert [each.attributes["value"] for each in offered] == ["1"]
        page = read(shown(client, {**order, "search": "1"}).text)
        assert "Search for the way out" not in {each.text for each in page.all("button")}
        way_out = next(each for each in page.all("section") if "Way out" in each.text)
        first = next(each for each in page.all("button") if each.attributes.get("name") == "set")
        assert first.text in way_out.text
        there = moved_to(sent(client, {**order, "set": first.attributes["value"]}))
        assert "Not weavable" not in words(shown(client, there))

    def test_a_remedy_that_no_button_sends_is_refused(self, client: FlaskClient) -> None:
        for value in ("[]", '{"/construction/warp/yarns/A/designation/x": 1}', '{"": 1}'):
            assert sent(client, {**ORDER, "set": value}).status_code == 422

    def test_a_weave_may_be_written_in_rows(self, client: FlaskClient) -> None:
        rows = "1100\r\n0110\r\n0011\r\n1001\r\n"
        there = moved_to(sent(client, {**ORDER, "weave": "", "weave_rows": rows}))
        assert there["weave"] == "1100|0110|0011|1001"
        assert typed(read(shown(client, there).text))["weave_rows"].split() == rows.split()
        both = moved_to(sent(client, {**ORDER, "weave_rows": "10\n01"}))
        assert both["weave"] in ("2/2 twill Z", "10|01")

    @pytest.mark.slow
    def test_rows_of_fibres_and_beams_state_what_a_sheet_has_as_json(
        self, client: FlaskClient
    ) -> None:
        rows = {"fibre.1.fibre": "cotton", "fibre.1.min": "60", "beam.1.name": "all"}
        there = moved_to(sent(client, {**ORDER, **rows, "beam.1.yarns": "A", "beam.2.name": ""}))
        assert json.loads(there["requirements.fibre_pct"]) == {"cotton": {"min": 60}}
        assert json.loads(there["warp_beams"]) == [{"name": "all", "yarns": ["A"]}]
        again = typed(read(shown(client, there).text))
        assert {name: again[name] for name in rows} == rows

    @pytest.mark.slow
    def test_a_picture_of_point_paper_is_a_weave(self, client: FlaskClient) -> None:
        file = io.BytesIO()
        picture = Image.new("L", (4, 4), 255)
        for pick, ends in enumerate(["1100", "0110", "0011", "1001"]):
            for end, raised in enumerate(ends):
                picture.putpixel((end, 3 - pick), 0 if raised == "1" else 255)
        picture.save(file, "PNG")
        file.seek(0)
        fields = {**ORDER, "picture": (file, "twill.png")}
        there = moved_to(sent(client, fields, content_type="multipart/form-data"))
        assert json.loads(there["weave"]).keys() == {"image_png"}
        plain = words(shown(client, there))
        assert "4 ends, 4 picks; 4 shafts" in plain
        assert "more than two colours" not in plain
        picture.putpixel((0, 0), 60)
        file = io.BytesIO()
        picture.save(file, "PNG")
        file.seek(0)
        fields = {**ORDER, "picture": (file, "grey.png")}
        there = moved_to(sent(client, fields, content_type="multipart/form-data"))
        assert "The picture has more than two colours." in words(shown(client, there))

    @pytest.mark.slow
    def test_a_picture_of_a_design_gets_a_row_for_each_colour(self, client: FlaskClient) -> None:
        file = io.BytesIO()
        picture = Image.new("P", (16, 16))
        picture.putpalette([255, 255, 255, 192, 16, 48])
        picture.paste(1, (4, 4, 12, 12))
        picture.save(file, "PNG")
        file.seek(0)
        base = {**ORDER, "loom_id": "rapier-190-jacquard", "width_cm": "150"}
        fields = {**base, "picture_is": "design", "picture": (file, "flower.png")}
        there = moved_to(sent(client, fields, content_type="multipart/form-data"))
        page = shown(client, there).text
        assert "Effect #c01030: Weave is missing." in page
        stated = {"effect.ffffff.weave": "8-end satin move 3", "effect.c01030.face": "weft"}
        stated |= {"effect.c01030.weave": "8-end satin move 3", "effect.c01030.name": "flower"}
        woven = moved_to(sent(client, {**there, **stated}))
        effects = json.loads(woven["weave"])["design"]["effects"]
        assert effects["#c01030"] == {
            "face": "weft",
            "weave": "8-end satin move 3",
            "name": "flower",
        }
        answer = shown(client, woven)
        assert "Weavable" in words(answer)
        assert {name: typed(read(answer.text)).get(name) for name in stated} == {
            **stated,
            "effect.c01030.face": None,
        }
        assert moved_to(sent(client, {**woven, "remove": "weave"})).get("weave") is None
        file = io.BytesIO(b"no picture")
        fields = {**base, "picture_is": "design", "picture": (file, "x.png")}
        found = sent(client, fields, content_type="multipart/form-data")
        assert "Not judged: 1 to mend" in words(found)
        beside = found.text.partition('id="f-picture-note"')[2].partition("</div>")[0]
        assert "This is not a PNG picture." in beside
        assert 'value="design" selected' in found.text
        fields = {**ORDER, "picture": (io.BytesIO(b"no picture"), "x.png")}
        found = sent(client, fields, content_type="multipart/form-data")
        assert "This is not a PNG picture." in words(found)
        assert typed(read(found.text))["weave"] == ORDER["weave"]
        assert 'value="design" selected' not in found.text

    def test_an_address_with_buttons_leads_to_its_own(self, client: FlaskClient) -> None:
        assert (
            moved_to(shown(client, {**ORDER, "convert": "ends_per_in"}))["ends_per_in"] == "81.28"
        )

    @pytest.mark.slow
    def test_the_window_is_drawn_on_request(self, client: FlaskClient) -> None:
        there = moved_to(sent(client, {**ORDER, "window": "1"}))
        page = shown(client, there).text
        assert '<figure class="drawing wide-drawing"' in page
        assert 'name="window" value=""' in page
        assert " style=" not in page


class TestPrices:
    @pytest.mark.slow
    def test_they_are_costed_and_in_no_address(
        self, client: FlaskClient, caplog: pytest.LogCaptureFixture
    ) -> None:
        priced = {**ORDER, "prices.yarn_per_kg.warp A": "4.2173", "prices.currency": "EUR"}
        with caplog.at_level(logging.DEBUG):
            answer = sent(client, priced)
        assert answer.status_code == 200
        assert answer.headers["Cache-Control"] == "no-store"
        assert "ETag" not in answer.headers
        page = read(answer.text)
        found = answer_of(page)
        assert "Cost of the order" in found
        changes = re.findall(r"(?:Also:|;) ([a-z ]+) ([\d.]+) to ([\d.]+)( [^ .;]+)?", found)
        assert ("cost", " EUR/m") in {(name, unit) for name, _, _, unit in changes}
        assert all(before != after for _, before, after, _ in changes)
        rows = [each.text for each in page.all("tr")]
        assert any("warp" in each.lower() and "4.217" in each for each in rows), rows
        assert "Not priced, and in no sum:" in words(answer)
        assert len(page.ids) == len(set(page.ids))
        assert "never part of a link" in answer_of(page)
        assert typed(page)["prices.yarn_per_kg.warp A"] == "4.2173"
        own = [each.attributes.get("href", "") for each in page.all("a")]
        file = next(each for each in own if each.startswith("data:"))
        assert not any("4.2173" in each for each in own if each != file)
        kept = json.loads(base64.b64decode(file.partition(",")[2]))
        assert kept["prices"]["yarn_per_kg"] == {"warp A": 4.2173}
        assert "4.2173" not in caplog.text
        ranked = {
            each.attributes["name"]: each.attributes["value"]
            for each in page.all("input")
            if {"form", "aside"} <= set(each.inside)
        }
        assert ranked["prices.yarn_per_kg.warp A"] == "4.2173"
        assert "loom_id" not in ranked
        assert "EUR per m" in client.post("/matches", data=ranked, headers=BROWSER).text

    def test_an_address_that_has_one_is_refused_without_repeating_it(
        self, client: FlaskClient
    ) -> None:
        answer = shown(client, {**ORDER, "prices.loom_hour": "6.6173"})
        assert "Prices do not belong in an address" in answer.text
        assert "6.6173" not in answer.text

    def test_their_faults_are_at_their_fields(self, client: FlaskClient) -> None:
        text = sent(
            client, {**ORDER, "prices.loom_hour": "-1", "prices.yarn_per_kg.warp B": "3"}
        ).text
        page = read(text)
        wrong = {
            each.attributes["id"] for each in page.elements if "aria-invalid" in each.attributes
        }
        assert wrong == {"f-prices-loom_hour", "f-prices-yarn_per_kg-warp-B"}


class TestPasting:
    JSON = json.dumps(
        {
            "loom_id": "rapier-190-dobby",
            "construction": {
                "warp": {
                    "yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}},
                    "ends_per_cm": 32,
                },
                "weft": {
                    "yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}},
                    "picks_per_cm": 24,
                },
                "weave": "2/2 twill Z",
                "width_cm": 200,
                "length_m": 3000,
            },
        }
    )
    TOML = """
        [[order]]
        loom_id = "rapier-190-dobby"
        [order.construction]
        weave = "2/2 twill Z"
        width_cm = 200
        length_m = 3000
        warp = {yarns = {A = {designation = "Ne 30", fibre = "cotton"}}, ends_per_cm = 32}
        weft = {yarns = {A = {designation = "Ne 20", fibre = "cotton"}}, picks_per_cm = 24}
    """
    SHEET = ";".join(ORDER) + "\n" + ";".join({**ORDER, "ends_per_cm": "32,0"}.values())

    @pytest.mark.parametrize(
        "text",
        [JSON, TOML, SHEET, f"sep=;\n{SHEET.replace('width_cm', 'Width_cm')}", json.dumps(ORDER)],
    )
    def test_an_order_in_any_form_fills_the_form(self, client: FlaskClient, text: str) -> None:
        there = moved_to(sent(client, {"paste": text}))
        assert {**there, "ends_per_cm": str(float(there["ends_per_cm"]))} == {
            **ORDER,
            "ends_per_cm": "32.0",
        }

    @pytest.mark.slow
    @pytest.mark.parametrize(
        ("text", "cells", "said"),
        [
            (
                "2/2 twill Z, Ne 30 cotton x Ne 20 cotton, 32 x 24 per cm; 200 cm; 3000 m",
                {name: text for name, text in ORDER.items() if name != "loom_id"},
                "",
            ),
            (
                '40x40/133x72, 63", plain, cotton, by Friday',
                {
                    "warp_yarn_A": "40",
                    "weft_yarn_A": "40",
                    "ends_per_in": "133",
                    "picks_per_in": "72",
                    "width_in": "63",
                    "weave": "plain",
                    "warp_fibre_A": "cotton",
                    "weft_fibre_A": "cotton",
                },
                "133 x 72 is taken per inch, because the width is in inches. "
                "Not understood: by Friday.",
            ),
            (
                "20 tex x R 40 tex/2, 28 x 26, 150 cm, 160 cm",
                {"warp_yarn_A": "20 tex", "weft_yarn_A": "R 40 tex/2", "width_cm": "150"},
                "Not understood: 28 x 26, per cm or per inch? Not understood: 160 cm.",
            ),
            (
                "Nm 60/2 x Nm 60/2, 25 x 23 /cm, 2/2 twill, 164 cm, wool, 1200 m",
                {
                    "warp_yarn_A": "Nm 60/2",
                    "weft_yarn_A": "Nm 60/2",
                    "ends_per_cm": "25",
                    "picks_per_cm": "23",
                    "weave": "2/2 twill",
                    "width_cm": "164",
                    "warp_fibre_A": "wool",
                    "weft_fibre_A": "wool",
                    "length_m": "1200",
                },
                "",
            ),
            (
                "Ne 40/2 x Ne 20/2/32x24 per cm",
                {
                    "warp_yarn_A": "Ne 40/2",
                    "weft_yarn_A": "Ne 20/2",
                    "ends_per_cm": "32",
                    "picks_per_cm": "24",
                },
                "",
            ),
            (
                '40x40/133x72 63" poplin 100% cotton',
                {
                    "warp_yarn_A": "40",
                    "weft_yarn_A": "40",
                    "ends_per_in": "133",
                    "picks_per_in": "72",
                    "width_in": "63",
                    "weave": "poplin",
                    "warp_fibre_A": "100% cotton",
                    "weft_fibre_A": "100% cotton",
                },
                "133 x 72 is taken per inch, because the width is in inches.",
            ),
            (
                'C 40*40 133*72 63"',
                {"ends_per_in": "133", "picks_per_in": "72", "width_in": "63"},
                "133 x 72 is taken per inch, because the width is in inches. "
                "Not understood: C 40*40.",
            ),
        ],
    )
    def test_the_line_of_an_order_is_read(
        self, client: FlaskClient, text: str, cells: dict[str, str], said: str
    ) -> None:
        read_line, notes, remarks = read_order_line(text)
        assert read_line == cells
        assert " ".join((*remarks, *notes)) == said
        answer = sent(client, {"paste": text})
        if said:
            assert all(each in words(answer) for each in (*remarks, *notes))
            assert ("What was not taken over" in words(answer)) == bool(notes)
            assert typed_again(answer) == text
        else:
            assert moved_to(answer) == cells

    def test_a_file_is_read_as_well(self, client: FlaskClient) -> None:
        fields = {"paste": "", "order_file": (io.BytesIO(self.JSON.encode()), "order.json")}
        there = moved_to(sent(client, fields, content_type="multipart/form-data"))
        assert there == ORDER

    @pytest.mark.slow
    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ('{"weave": "plain", "colour": "blue"}', "Not understood: colour."),
            (
                '{"construction": {"weave": "plain"}, "loom": {"shafts": 3}}',
                "Not understood: loom.",
            ),
            ('{"weave": ', "begins like JSON"),
            ("[1, 2]", NO_ORDER),
            ('[{"weave": "plain"}, {}]', "Only the first order was taken; there are 2."),
            (
                "weave,widht_cm,width_cm\nplain,1,150\nplain,2,160",
                "the column 'widht_cm'. Did you mean",
            ),
            ("weave,width_cm", "headings and no row"),
            ("Ne 30 by Ne 20", NO_ORDER),
            ("Dear all, please find order 4711 attached", NO_ORDER),
            ("12345", NO_ORDER),
            ("code;count\n1;2", NO_ORDER),
            (
                'weave = "plain"\nwidth_cm = 15o',
                "This begins like TOML, but line 2 cannot be read: width_cm = 15o",
            ),
            ("", "There is nothing in it"),
            ('{"construction": 3}', "Not understood"),
            ('weave,width_cm\n"plain,150', ""),
            ("\x00", ""),
            ("[" * 5000, ""),
        ],
    )
    def test_what_is_not_understood_is_said(
        self, client: FlaskClient, text: str, said: str
    ) -> None:
        answer = sent(client, {"paste": text})
        assert answer.status_code == 200
        assert said in words(answer)
        assert "What was not taken over" in answer.text


class TestBodies:
    @pytest.mark.slow
    def test_an_order_too_long_for_a_link_is_answered_and_offered_as_a_file(
        self, client: FlaskClient
    ) -> None:
        rows = "|".join(format((row * 2654435761) % 2**96, "096b") for row in range(1, 97))
        answer = sent(client, {**ORDER, "weave": rows, "width_cm": "150"})
        assert answer.status_code == 200
        found = answer_of(read(answer.text))
        assert "This order is too long for a link" in found
        assert "as JSON" in found

    @pytest.mark.slow
    def test_a_form_of_very_many_fields_is_refused(self, client: FlaskClient) -> None:
        assert sent(client, {f"x{number}": "1" for number in range(2_001)}).status_code == 413
        escaped = {"data": "paste=" + "%2C" * 800_000, "headers": BROWSER}
        assert client.post("/", **escaped, content_type=FORM).status_code == 413
        few = sent(client, {f"x{number}": "1" for number in range(2_000)})
        assert few.status_code == 200
        assert len(few.data) < 200_000

    @pytest.mark.slow
    def test_a_header_of_very_many_columns_is_read_no_further(self, client: FlaskClient) -> None:
        """Each cell was looked for among the columns: a minute for two megabytes of commas."""
        strange = ",".join(f"enps_per_cm{number}" for number in range(990))
        wide = f"weave,width_cm,{strange}\nplain,150" + "," * 990
        said = words(sent(client, {"paste": wide}))
        assert said.count("Did you mean") == 8
        assert "982 more columns were not understood" in said
        asked: list[str] = []
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(pasted_orders, "column", asked.append)
            sent(client, {"paste": "," * 20_000})
        assert len(asked) <= MOST_COLUMNS

    def test_other_bodies_are_refused(self, client: FlaskClient) -> None:
        assert client.post("/", json=ORDER, headers=BROWSER).status_code == 415
        small = create_app(Settings(max_body_bytes=1_000)).test_client()
        assert sent(small, {"weave": "1" * 2_000}).status_code == 413
        picture = {"picture": (io.BytesIO(bytes(3_000)), "design.png")}
        refused = small.post("/", data=picture, content_type=MULTIPART, headers=BROWSER)
        assert refused.status_code == 413
        assert "The picture or file is too large" in words(refused)
        assert sent(client, {}).headers["Location"] == "/"

    @pytest.mark.slow
    @pytest.mark.parametrize(
        "fields",
        [
            {"weave": '{"a":' * 200 + "1" + "}" * 200},
            {"weave": '{"rows": [' + "9" * 4000 + "]}"},
            {"weave": '{"design": {"picture_png": "x"}}', "warp_yarn_A": "Ne 30"},
            {"warp_beams": "[[[[{}]]]]", "requirements.fibre_pct": '{"cotton": 3}'},
            {
                "warp_beams": '[{"name": {}, "yarns": {}}]',
                "set": '{"/construction/warp/beams/0/name": 1}',
            },
            {"fibre.1.min": "x", "fibre.99.fibre": "wool", "beam.7.yarns": "a b c"},
            {"ends_per_cm": "1e400", "picks_per_cm": "-", "width_cm": "٣"},
            {"window": "1", "weave": "plain"},
            {"add": "warp\u0000", "remove": "_", "convert": "weave"},
            {f"warp_yarn_A{number}": "" for number in range(400)},
        ],
    )
    def test_hostile_fields_are_answered_with_a_page(
        self, client: FlaskClient, fields: dict[str, str]
    ) -> None:
        answer = sent(client, fields, follow_redirects=True)
        assert answer.status_code in (200, 422)
        assert answer.mimetype == "text/html"


@pytest.mark.slow
def test_a_service_with_tokens_judges_for_nobody_without_one(tmp_path: Path) -> None:
    token, lines = make_token("erp", [Scope.VALIDATE])
    (tmp_path / "tokens.toml").write_text(lines, encoding="utf-8")
    guarded = create_app(Settings(tokens=tmp_path / "tokens.toml")).test_client()
    path = f"/?{urlencode(ORDER)}"
    assert guarded.get("/").status_code == 200
    for accept in (BROWSER, {}, {"Accept": "*/*"}):
        assert guarded.post("/", data=ORDER, headers=accept).status_code == 401
    for text in ("text/*", "text/html;q=0.9, application/problem+json"):
        assert guarded.get(path, headers={"Accept": text}).status_code == 401
    assert guarded.get(path, headers=BROWSER).status_code == 401
    with_token = {**BROWSER, "Authorization": f"Bearer {token}"}
    assert guarded.get(path, headers=with_token).status_code == 200
    assert guarded.post("/", data=ORDER, headers=with_token).status_code == 303


@pytest.mark.slow
def test_pages_of_addresses_are_revalidated_and_change_with_typing(client: FlaskClient) -> None:
    path = f"/?{urlencode(ORDER)}"
    first = client.get(path, headers=BROWSER)
    etag = first.headers["ETag"]
    again = client.get(path, headers={**BROWSER, "If-None-Match": etag})
    assert (again.status_code, again.data) == (304, b"")
    assert "script-src 'self'" in again.headers["Content-Security-Policy"]
    hasty = client.get(path, headers={**BROWSER, "Prefer": "return=minimal"})
    assert hasty.headers["ETag"] != etag
    assert "Prefer" in hasty.vary
    assert "computed as soon as you pause" in hasty.text
    assert "computed as soon as you pause" not in first.text


@pytest.mark.slow
def test_the_order_book_is_there_to_start_from(client: FlaskClient) -> None:
    page = read(client.get("/", headers=BROWSER).text)
    listed = [each.attributes["href"] for each in page.all("a") if "details" in each.inside]
    book = examples(load_park(None).looms)
    assert [each.address for each in book] == [each for each in listed if each.startswith("/?")]
    assert all("prices" not in each.partition("#")[0] for each in listed)
    assert any("#prices." in each for each in listed)
    denim = next(each for each in book if each.cloth.startswith("Denim"))
    assert "Weavable" in words(client.get(denim.address.partition("#")[0], headers=BROWSER))
    assert "loom_id" not in examples({})[0].address


@share_of_examples(0.5)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(
                [
                    *list(columns())[:12],
                    *("warp_yarn_A", "warp_yarn_B", "weft_fibre_C", "width_in", "weave_rows"),
                    *("window", "fibre.1.min", "add", "remove", "convert", "strange"),
                ]
            ),
            st.sampled_from(
                ["", " ", "32", "warp", "warp_B", "width_in", "ends_per_in", "10\n01", "1"]
            ),
        ),
        max_size=12,
    )
)
def test_what_is_settled_is_settled(fields: list[tuple[str, str]]) -> None:
    once = settled(fields)
    assert settled(once) == once
