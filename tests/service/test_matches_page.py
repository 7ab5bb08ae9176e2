"""The pages that rank looms for an order and set two reports side by side."""

from __future__ import annotations

import html
import json
import re
from typing import Any
from urllib.parse import urlsplit

from flask.testing import FlaskClient
from service.pages import read
from service.support import PARK_TEXT, changed, full_request, small_request
from werkzeug.test import TestResponse

from weavability.answers.caution import CAUTION
from weavability.service import create_app
from weavability.service.batches.flat_order import query_of, write_fields
from weavability.service.http.links import pack
from weavability.service.requests.park import parse_park

PRICE = "4711.25"


def fields_of(request: dict[str, Any]) -> dict[str, str]:
    """An order as the fields of a form."""
    return dict(write_fields({"construction": request["construction"]}).cells)


def address_of(request: dict[str, Any], beside: str = "") -> str:
    return f"/matches?{query_of(fields_of(request))}{beside}"


def text_of(answer: TestResponse) -> str:
    """What can be read, in a line."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def order() -> dict[str, Any]:
    request = small_request()
    request["construction"] |= {"reference": "SO-1 <&>", "length_m": 3000}
    return request


class TestRanking:
    def test_the_page_lists_what_the_matches_do_and_leads_to_each_report(
        self, client: FlaskClient
    ) -> None:
        answer = client.get(address_of(order()))
        assert answer.status_code == 200
        page = read(answer.text)
        body = {"construction": order()["construction"]}
        matches = client.post("/v1/loom-matches", json=body).get_json()["matches"]
        boxes = [
            each.attributes["value"]
            for each in page.elements
            if each.attributes.get("name") == "compare"
        ]
        assert boxes == [each["loom_id"] for each in matches]
        said = text_of(answer)
        assert "SO-1 <&>" in said
        assert "plain, Ne 30 × Ne 30, 28 × 24 per cm, 150 cm, 3000 m" in said
        for match in matches:
            if match["verdict"] == "not_weavable":
                assert match["reason"] in said
            else:
                assert match["reason"] not in said
                rejected = match["rejected_if_assumed"]
                warned = ", ".join(
                    each for each in match["codes"]["warnings"] if each not in rejected
                )
                assert not warned or f"Warnings: {warned}." in said
        reports = [
            each.attributes["href"]
            for each in page.elements
            if each.tag == "a" and each.text == "Report"
        ]
        for link, match in zip(reports, matches, strict=True):
            assert link.endswith("?reference=SO-1%20%3C%26%3E")
            report = client.get(link, headers={"Accept": "application/json"}).get_json()
            assert (report["loom_id"], report["verdict"]) == (match["loom_id"], match["verdict"])
        boards = [
            each.attributes["href"] for each in page.elements if each.text == "Put on the board"
        ]
        assert boards == [
            f"/board#add={link.rpartition('/')[2].replace('?reference=', '&label=')}"
            for link in reports
        ]
        sheets = [
            each.text
            for each in page.elements
            if each.attributes.get("href", "").endswith("SO-1%20%3C%26%3E")
            and "setup-sheet" in each.attributes["href"]
        ]
        assert len(sheets) == sum(each["verdict"] != "not_weavable" for each in matches)
        assert f"/?{query_of(fields_of(order()))}" in [
            each.attributes.get("href") for each in page.elements
        ]
        assert CAUTION in said
        tag = answer.headers["ETag"]
        again = client.get(address_of(order()), headers={"If-None-Match": tag})
        assert again.status_code == 304

    def test_a_loom_that_only_an_assumed_value_allows_is_marked_in_its_row(self) -> None:
        # 168 cm take about 178 cm in the reed, if the weft crimp is as it is estimated.
        narrow = PARK_TEXT.replace("reed_width_cm = 190\n", "reed_width_cm = 170\n", 1)
        park = create_app(park=parse_park(narrow, name="park.toml")).test_client()
        said = text_of(park.get(address_of(changed(order(), "/construction/width_cm", 168))))
        head = re.search(
            r"(\d) of \d looms can weave it, 1 of them only if not all is as assu", said
        )
        assert head is not None
        table = said.partition("Compare the two ticked looms")[2]
        rows = re.findall(r"Weavable(?:, with warnings)? (.*?) Set-up sheet", table)
        assert len(rows) == int(head[1]) > 1
        marked = ["not weavable if all is as assumed" in each for each in rows]
        assert marked == [*[False] * (len(rows) - 1), True]
        assert "Not weavable ( width.reed_space ) if what is assumed is so." in rows[-1]
        assert "width.reed_space" not in rows[-1].partition("Warnings: ")[2]

    def test_without_an_order_it_says_what_to_do_first(self, client: FlaskClient) -> None:
        assert "State an order first" in text_of(client.get("/matches"))
        assert "State an order first" in text_of(client.post("/matches"))

    def test_every_fault_is_named_as_the_form_does_and_no_price_is_repeated(
        self, client: FlaskClient
    ) -> None:
        answer = client.get(
            f"/matches?weave=plane&width_cm=12x&ends=3&prices.loom_hour={PRICE}&picks_per_cm=20"
        )
        said = text_of(answer)
        assert "Weave: 'plane' cannot be read as a weave." in said
        assert "Width of the cloth: This must be a number." in said
        assert "Given: 12x." in said
        assert "There is no field 'ends'." in said
        assert "Prices do not belong in an address" in said
        assert PRICE not in answer.text

    def test_a_form_without_prices_leads_to_the_address_of_the_same_page(
        self, client: FlaskClient
    ) -> None:
        sent = {**fields_of(order()), "rank_by": "hours", "on_loom": " ", "prices.loom_hour": ""}
        answer = client.post("/matches", data={**sent, "compare": ["rapier-190-dobby", "x y"]})
        assert answer.status_code == 303
        where = urlsplit(answer.headers["Location"])
        assert where.path == "/matches"
        assert where.query == (
            f"{query_of(fields_of(order()))}&compare=rapier-190-dobby&compare=x+y"
        )
        assert "There is no loom of this name" in text_of(client.get(answer.headers["Location"]))

    def test_prices_rank_by_cost_and_are_in_no_link(self, client: FlaskClient) -> None:
        sent = {
            **fields_of(order()),
            "prices.currency": "EUR",
            "prices.loom_hour": "47,11",
            "prices.yarn_per_kg.warp A": "4.2",
            "rank_by": "cost",
        }
        answer = client.post("/matches", data=sent)
        assert answer.status_code == 200
        assert answer.headers["Cache-Control"] == "no-store"
        assert "ETag" not in answer.headers
        assert "then the fewest things that are not priced, then cost per metre" in text_of(answer)
        page = read(answer.text)
        prices = {"currency": "EUR", "loom_hour": 47.11, "yarn_per_kg": {"warp A": 4.2}}
        body = {"construction": order()["construction"], "prices": prices, "rank_by": "cost"}
        best = client.post("/v1/loom-matches", json=body).get_json()["matches"][0]
        assert f"{best['costs']['cost_per_m']:.3g}" in text_of(answer)
        links = [each.attributes["href"] for each in page.elements if "href" in each.attributes]
        assert not any("price" in link or "47" in link.partition("?")[2] for link in links)
        forms = [each.attributes for each in page.elements if each.tag == "form"]
        assert {each["method"] for each in forms} == {"post"}
        compared = client.post(
            "/matches", data={**sent, "compare": ["rapier-190-dobby", "air-jet-190-cam"]}
        )
        assert "Costs" in text_of(compared)
        assert (
            text_of(client.get(address_of(order(), "&rank_by=cost"))).count("only if prices") == 1
        )

    def test_what_is_on_the_looms_is_stated_by_links(self, client: FlaskClient) -> None:
        now = changed(small_request(), "/construction/weave", "2/2 twill Z")
        link = client.post("/v1/validations", json=now).get_json()["links"]["self"]
        sent = {**fields_of(order()), "on_loom": f"https://mill.example{link}\nnothing"}
        answer = client.post("/matches", data=sent, follow_redirects=True)
        said = text_of(answer)
        assert "This is no link to a report on a loom of the park: nothing" in said
        other = pack(json.dumps(changed(now, "/construction/weave", "plane")).encode())
        wrong = text_of(client.get(address_of(order(), f"&on_loom={other}")))
        assert "What is on rapier-190-dobby: 'plane' cannot be read as a weave." in wrong
        sold = pack(json.dumps({**now, "loom_id": "sold"}).encode())
        assert "on a loom of the park: v1." in text_of(
            client.get(address_of(order(), f"&on_loom={sold}"))
        )
        on_loom = {"rapier-190-dobby": now["construction"]}
        body = {"construction": order()["construction"], "on_loom": on_loom}
        matches = client.post("/v1/loom-matches", json=body).get_json()["matches"]
        hours = next(each["changeover"] for each in matches if each["changeover"])
        assert f"{hours['loom_stop_hours']:.2g} h" in said
        assert "Change-over" in said

    def test_an_order_that_is_too_long_for_an_address_stays_in_the_form(
        self, client: FlaskClient
    ) -> None:
        long = order()
        rows = ["10" * 64, "01" * 64] * 32
        long["construction"]["weave"] = {"rows": rows}
        answer = client.post("/matches", data=fields_of(long))
        assert answer.status_code == 200
        page = read(answer.text)
        hidden = {
            each.attributes["name"]: each.attributes["value"]
            for each in page.elements
            if each.attributes.get("type") == "hidden"
        }
        assert hidden["weave"] == "|".join(rows)
        assert "2 of 2 looms can weave it" in text_of(answer)
        assert {"/", "/matches", "/matches#compared"} == {
            each.attributes["action"] for each in page.elements if each.tag == "form"
        }

    def test_of_many_strange_links_the_first_are_named(self, client: FlaskClient) -> None:
        """Each was repeated on the page, a body of 2 MB in one of 23 MB."""
        sent = {**fields_of(order()), "on_loom": "v1.AAAA " * 300}
        answer = client.post("/matches", data=sent, follow_redirects=True)
        assert answer.text.count("This is no link to a report") == 5
        assert "295 more are none either" in answer.text

    def test_a_body_that_is_no_form_is_refused(self, client: FlaskClient) -> None:
        answer = client.post("/matches", json={}, headers={"Accept": "text/html"})
        assert answer.status_code == 415


class TestComparison:
    def test_two_looms_are_compared_by_what_differs(self, client: FlaskClient) -> None:
        wide = changed(order(), "/construction/width_cm", 186)
        narrow = PARK_TEXT.replace("reed_width_cm = 190\n", "reed_width_cm = 170\n")
        park = create_app(park=parse_park(narrow, name="park.toml")).test_client()
        ticked = "&compare=air-jet-190-cam&compare=rapier-190-dobby"
        answer = park.get(address_of(wide, ticked))
        said = text_of(answer)
        page = read(answer.text)
        rows = {
            each.text.split("\n")[0].strip(): " ".join(each.text.split())
            for each in page.elements
            if each.tag == "tr"
        }
        assert "air-jet-190-cam and rapier-190-dobby: what differs" in said
        assert "✕ Error: The cloth needs 197.7 cm" in rows["width.reed_space"]
        assert "! Warning: The cloth needs 197.7 cm" in rows["width.reed_space"]
        assert "only assumed: the weft crimp = 6.28 %" in said
        assert "/construction" not in said
        assert "Speed at which this cloth runs on this loom" in said
        assert "Reed width 170 cm 190 cm" in said
        assert "Mass of the grey cloth" not in said
        assert "Weave plain" not in said
        assert "*" not in said
        assert "in the unit of the value" not in said
        boxes = [
            each.attributes for each in page.elements if each.attributes.get("name") == "compare"
        ]
        assert all("checked" in each for each in boxes)

    def test_one_loom_is_not_enough_and_three_are_too_many(self, client: FlaskClient) -> None:
        one = text_of(client.get(address_of(order(), "&compare=rapier-190-dobby")))
        assert "Tick two looms to compare them." in one
        three = "&compare=rapier-190-dobby&compare=nowhere&compare=air-jet-190-cam"
        said = text_of(client.get(address_of(order(), three)))
        assert "Two looms are compared: rapier-190-dobby and air-jet-190-cam." in said

    def test_two_reports_are_compared_by_their_links(self, client: FlaskClient) -> None:
        first = small_request()
        other = changed(full_request(), "/construction/reference", "SO-2")
        links = [
            client.post("/v1/validations", json=each).get_json()["links"]["self"]
            for each in (first, other)
        ]
        token = links[0].rpartition("/")[2]
        address = f"/compare?one={token}&other=https://mill.example{links[1]}%3Freference%3DSO-2"
        answer = client.get(address)
        said = text_of(answer)
        warp = other["construction"]["warp"]["yarns"]["A"]
        assert f"Warp yarn A Ne 30, cotton {warp['designation']}, {warp['fibre']}" in said
        assert "Weave plain" in said
        assert "What First report SO-2" in said
        assert CAUTION in said
        assert (
            client.get(address, headers={"If-None-Match": answer.headers["ETag"]}).status_code
            == 304
        )
        same = text_of(client.get(f"/compare?one={token}&other={token}"))
        assert "Nothing differs" in same

    def test_a_link_that_does_not_open_is_named_at_its_field(self, client: FlaskClient) -> None:
        link = client.post("/v1/validations", json=small_request()).get_json()["links"]["self"]
        priced = pack(json.dumps({**small_request(), "prices": {"loom_hour": 4711}}).encode())
        assert "no prices" in text_of(client.get(f"/compare?one={priced}"))
        answer = client.get(f"/compare?one=hello&other={link[:-3]}AAA")
        page = read(answer.text)
        assert "This is no link to a report" in text_of(answer)
        assert "This link cannot be opened: it is damaged" in text_of(answer)
        wrong = [
            each.attributes["id"] for each in page.elements if "aria-invalid" in each.attributes
        ]
        assert wrong == ["one", "other"]
        text = PARK_TEXT.replace("rapier-190-dobby", "rapier-340-dobby")
        sold = create_app(park=parse_park(text, name="park.toml")).test_client()
        said = text_of(sold.get(f"/compare?one={link}"))
        assert "There is no loom of this name in the park." in said
