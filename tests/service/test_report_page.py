"""The page of a report: the order, the limits, the drawings, and where it leads."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from importlib import resources
from typing import Any

import pytest
from archived_orders import demo_orders
from builders import construction, loom
from flask.testing import FlaskClient
from service.pages import Page, read
from service.support import changed, full_request, small_request

from weavability.answers.decisive_section import CornerValue, TurningCorner
from weavability.answers.validation import assess
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity, Verdict
from weavability.service import create_app
from weavability.service.openapi.example_requests import DESIGN
from weavability.service.pages.wording import also_helped, change_of, deciding, shown_findings
from weavability.service.requests.park import load_park, parse_park

HTML = {"Accept": "text/html"}


def page_of(client: FlaskClient, request: dict[str, Any], query: str = "") -> Page:
    link = client.post("/v1/validations", json=request).get_json()["links"]["self"]
    answer = client.get(f"{link}{query}", headers=HTML)
    assert answer.status_code == 200, answer.text
    return read(answer.text)


def words(page: Page) -> str:
    return " ".join(page.one("main").text.split())


def listed(page: Page) -> dict[str, str]:
    """The values of lists of terms, by term; the first of a name."""
    found: dict[str, str] = {}
    for term, value in zip(page.all("dt"), page.all("dd"), strict=True):
        found.setdefault(" ".join(term.text.split()), " ".join(value.text.split()))
    return found


def figures(page: Page) -> dict[str, list[str]]:
    """The cells of the tables, by the heading of their row; the first of a name."""
    found: dict[str, list[str]] = {}
    row: list[str] = []
    for each in page.elements:
        if each.tag == "th" and each.attributes.get("scope") == "row":
            row = []
            found.setdefault(each.text.strip(), row)
        elif each.tag == "td":
            row.append(" ".join(each.text.split()))
    return found


def test_the_order_is_stated_as_it_was_sent(client: FlaskClient) -> None:
    request = changed(small_request(), "/construction/warp", {
        "yarns": {
            "A": {"designation": "Ne 30", "fibre": "cotton", "colour": "#1c2a4a"},
            "B": {"designation": "Ne 30", "fibre": "cotton", "colour": "#f4f1e8"},
        },
        "order": "24A 4B",
        "ends_per_in": 70,
    })  # fmt: skip
    request["construction"]["order"] = {"pieces": 20, "piece_length_m": 60, "rejects_pct": 1}
    request["construction"]["requested_speed_picks_per_min"] = 500
    page = page_of(client, request, "?reference=SO-10482%2F1")
    stated = listed(page)
    assert stated["Warp: yarns"] == "A B Ne 30 cotton"
    assert stated["Warp: ends"] == "70 per in (27.56 per cm)"
    assert stated["Warp: order"] == "24A 4B (28 ends)"
    assert " estimated, " in stated["Weft: crimp"]
    assert stated["Sett and width hold for"] == "grey cloth assumed"
    assert stated["Length"] == "20 pieces of 60 m, finished, rejects 1 %"
    assert stated["Speed requested"] == "500 picks/min"
    assert words(page).startswith("SO-10482/1 ")
    assert page.one("html").attributes["data-band"].startswith("SO-10482/1 · Plain, 70 ends per in")


@pytest.mark.slow
def test_a_key_figure_has_its_limit_and_says_whose_it_is(client: FlaskClient) -> None:
    wide = changed(full_request(), "/construction/width_cm", 192)
    found = figures(page_of(client, wide))
    value, share, limit, unit, origin = found["Reed width in use"]
    assert float(value) == pytest.approx((192 * 32 / 2 + 2 * 6) / 16, abs=1)
    assert (float(limit), unit) == (190.0, "cm")
    assert share.endswith("% ✕")
    assert origin == "of the loom"
    assert "✕" not in found["Shafts"][1]
    del wide["loom"]["max_tightness_pct"]
    assert figures(page_of(client, wide))["Tightness"][-1] == "of the loom, assumed"


def test_a_jacquard_has_hooks_and_harness_and_no_shafts(client: FlaskClient) -> None:
    request = changed(full_request(), "/loom/shedding", {
        "kind": "jacquard", "hooks": 2400, "ends_per_hook": 3, "harness_ends_per_cm": 33,
    })  # fmt: skip
    del request["construction"]["draft"]
    page = page_of(client, request)
    assert {"Hooks", "Tie", "Harness", "Selvedge hooks"} <= listed(page).keys()
    assert "Hooks" in figures(page)
    assert not {"Shafts", "Healds", "Drawing-in"} & listed(page).keys()
    assert "Healds on the fullest shaft" not in figures(page)
    drawn = next(each.text for each in page.all("desc") if "weave repeats" in each.text)
    assert "so no shafts are drawn" in drawn
    assert "lift plan" not in drawn


@pytest.mark.slow
def test_pointers_are_words_and_codes_lead_to_their_pages(client: FlaskClient) -> None:
    request = changed(full_request(), "/construction/weft/crimp_pct", None)
    del request["construction"]["reed"]
    request["construction"]["requested_speed_picks_per_min"] = 600
    page = page_of(client, request)
    assert "/construction/" not in words(page)
    assert "weft crimp = " in words(page)
    links = {each.attributes["href"] for each in page.all("a")}
    assert any(link.startswith("/v1/checks/insertion.") for link in links)


@pytest.mark.slow
def test_assumptions_are_grouped_with_bands(client: FlaskClient) -> None:
    page = page_of(client, small_request())
    captions = [each.text for each in page.all("caption")]
    groups = [
        each for each in captions if each.startswith(("Estimates", "Limits and", "Constants"))
    ]
    assert [each[:6] for each in groups] == ["Estima", "Limits", "Consta"]
    of, value, band, support, _ = figures(page)["Crimp"]
    assert (of, support) == ("warp", "estimated")
    low, high = map(float, band.split(" to "))
    assert low < float(value.split("\u202f")[0].replace(" %", "")) < high


@pytest.mark.slow
def test_the_face_the_paper_and_a_pick_are_drawn(client: FlaskClient) -> None:
    titles = [each.text for each in page_of(client, full_request()).all("title")[1:]]
    assert [each.partition(":")[0] for each in titles] == [
        "Face of the cloth", "Point paper", "Weft insertion by rapier",
    ]  # fmt: skip


@pytest.mark.slow
def test_a_figured_design_is_drawn_and_its_point_paper_can_be_saved(client: FlaskClient) -> None:
    request = {name: DESIGN[name] for name in ("construction", "loom")}
    answer = client.post("/v1/validations", json=request, headers=HTML)
    page = read(answer.text)
    assert "The design of 2 effects as the loom weaves it" in answer.text
    saved = next(each for each in page.all("a") if "download" in each.attributes)
    png = base64.b64decode(saved.attributes["href"].removeprefix("data:image/png;base64,"))
    asked = client.post("/v1/designs", json=request, headers={"Accept": "image/png"})
    assert png == asked.data


@pytest.mark.slow
def test_a_window_is_drawn_on_request(client: FlaskClient) -> None:
    request = full_request()
    page = page_of(client, request)
    (link,) = (
        each.attributes["href"]
        for each in page.all("a")
        if each.text == "Window of width and picks"
    )
    drawn = read(client.get(link.partition("#")[0], headers=HTML).text)
    assert "Window of feasibility" in [each.text for each in drawn.all("h2")]
    assert "Width and weft picks per cm: what can be woven" in words(drawn)
    assert "Window of feasibility" not in [each.text for each in page.all("h2")]


@pytest.mark.slow
def test_a_link_leads_to_what_decides(client: FlaskClient) -> None:
    page = page_of(client, small_request())
    (link,) = (each.attributes["href"] for each in page.all("a") if "turn the verdict" in each.text)
    decided = client.get(link.partition("#")[0]).get_json()
    assert decided["decisive_assumptions"] is not None
    assert decided["verdict_holds"] is not None


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("?window=speed", "/window"),
        ("?reference=a%00b", "/reference"),
        (f"?reference={'x' * 201}", "/reference"),
    ],
)
def test_what_the_address_of_a_page_cannot_say_is_refused(
    client: FlaskClient, query: str, pointer: str
) -> None:
    link = client.post("/v1/validations", json=small_request()).get_json()["links"]["self"]
    for path in (link, f"{link}/setup-sheet"):
        answer = client.get(path + query, headers={"Accept": "text/html, application/problem+json"})
        assert answer.status_code == 422
        assert pointer in answer.text


@pytest.mark.slow
def test_reference_and_window_have_copies_of_their_own(client: FlaskClient) -> None:
    link = client.post("/v1/validations", json=small_request()).get_json()["links"]["self"]
    tags = {
        client.get(link + query, headers=HTML).headers["ETag"]
        for query in (
            "",
            "?reference=A",
            "?reference=B",
            "?window=setts",
            "?reference=A&window=setts",
        )
    }
    assert len(tags) == 5
    for path in (f"{link}?reference=A", f"{link}/setup-sheet?reference=A"):
        tag = client.get(path, headers=HTML).headers["ETag"]
        again = client.get(path, headers={**HTML, "If-None-Match": tag})
        assert again.status_code == 304


@pytest.mark.slow
def test_a_posted_order_gets_the_same_page_with_its_costs(client: FlaskClient) -> None:
    request = changed(full_request(), "/prices", {"currency": "EUR", "loom_hour": 6.5})
    answer = client.post("/v1/validations", json=request, headers=HTML)
    page = read(answer.text)
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Costs, in EUR" in [each.text for each in page.all("h2")]
    assert not any(each.text == "Change the order" for each in page.all("a"))  # its loom is stated
    plain = client.post("/v1/validations", json=full_request(), headers=HTML).text
    assert (
        plain
        == client.get(
            client.post("/v1/validations", json=full_request()).get_json()["links"]["self"],
            headers=HTML,
            query_string={"reference": full_request()["construction"]["reference"]},
        ).text
    )


@pytest.mark.slow
def test_it_leads_to_the_form_with_its_order_and_its_prices(client: FlaskClient) -> None:
    request = changed(small_request(), "/prices", {"loom_hour": 6.5})
    answer = client.post("/v1/validations", json=request, headers=HTML)
    links = {each.text: each.attributes["href"] for each in read(answer.text).all("a")}
    address, _, prices = links["Change the order"].partition("#")
    assert prices == "prices.loom_hour=6.5"
    verdict = read(answer.text).all("title")[0].text.partition(":")[0]
    assert verdict in client.get(address, headers=HTML).text


@pytest.mark.slow
def test_pages_style_and_script_nothing_in_place(client: FlaskClient) -> None:
    link = client.post("/v1/validations", json=full_request()).get_json()["links"]["self"]
    for path in (f"{link}?window=setts", f"{link}/setup-sheet"):
        text = client.get(path, headers=HTML).text
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|<script(?! src=)", text)


@pytest.mark.slow
def test_where_each_remedy_clears_one_error_the_page_has_what_makes_the_order_weavable(
    client: FlaskClient,
) -> None:
    request = small_request()
    request["construction"] |= {"width_cm": 200, "requested_speed_picks_per_min": 700}
    search = client.post("/v1/remedies", json=request).get_json()["looms"][0]["remedies"]
    (whole,) = [each for each in search if each["verdict"] != "not_weavable"]
    page = page_of(client, request)
    way_out = next(each for each in page.all("section") if "Way out" in each.text)
    assert whole["message"] in way_out.text
    assert "weavable" in way_out.text.partition(whole["message"])[2]
    # Without trials, as requested, it leads to the search.
    asked = page_of(client, {**request, "options": {"remedies": False}})
    assert whole["message"] not in words(asked)
    (to_search,) = [each for each in asked.all("a") if each.text == "Search for the way out"]
    assert "search=1" in to_search.attributes["href"]
    # Prices stay in the fragment, which browsers do not send.
    priced = {**request, "options": {"remedies": False}, "prices": {"loom_hour": 6.5}}
    shown = read(client.post("/v1/validations", json=priced, headers=HTML).text)
    (to_search,) = [each for each in shown.all("a") if each.text == "Search for the way out"]
    assert to_search.attributes["href"].endswith("&search=1#prices.loom_hour=6.5")
    # One change is enough: it is with its finding, and says so.
    del request["construction"]["requested_speed_picks_per_min"]
    simple = page_of(client, request)
    assert not [each for each in simple.all("section") if "Way out" in each.text]
    assert "The order is then weavable" in words(simple)


@pytest.mark.slow
def test_a_page_says_why_a_verdict_does_not_hold(client: FlaskClient) -> None:
    request = small_request()
    request["construction"]["weft"]["yarns"] = {"A": {"designation": "Ne 20"}}
    request["construction"]["requirements"] = {"fibre_pct": {"cotton": {"min": 90}}}
    request["options"] = {"decisive_assumptions": True}
    report = client.post("/v1/validations", json=request).get_json()
    assert "share of cotton" in report["verdict_holds_note"]
    assert "a fibre that is only assumed decides what is required" in words(
        page_of(client, request)
    )


def test_a_remedy_that_leaves_a_warning_is_not_said_to_clear_it() -> None:
    narrow = assess(construction(width_cm=200.0), loom(reed_width_cm=190.0))
    (wide,) = (each for each in narrow.findings if each.code == "width.reed_space")
    remedy = wide.remedies[0]
    other = replace(wide, code=CheckCode.SETT_TIGHT, severity=Severity.WARNING, remedies=(remedy,))
    assert other.code not in remedy["clears"]
    graver, lighter = shown_findings([wide, other])
    assert (graver.remedies, lighter.remedies) == (wide.remedies, ())
    change = change_of(remedy).rstrip(".")
    said = also_helped(lighter.above, lighter.easing)
    assert said == f"It is left as a warning by “{change}” above."
    (cleared,) = shown_findings([wide], above=[remedy])
    assert also_helped(cleared.above[:1]) == f"It is cleared as well by “{change}” above."


def test_a_page_lists_the_values_of_a_corner_that_its_sentence_only_counts() -> None:
    names = [f"weft yarn {key} tenacity" for key in "ABCDEF"]
    corner = TurningCorner(
        verdict=Verdict.NOT_WEAVABLE,
        codes=(),
        values=tuple(
            CornerValue(pointer="", name=name, value=9.5, unit="%", towards_limit_pct=share)
            for name, share in zip(names, (31.4, 20.0, 9.0, 2.0, 0.0, None), strict=True)
        ),
        turns_at=None,
        resolution=None,
        stated_as_assumed=(),
        also_missed=(),
        message=f"With {names[0]} 9.5 % and 5 other values",
    )
    listed = deciding((), corner).together
    assert [each.split(" 9.5")[0] for each in listed] == names
    assert listed[0].endswith(": alone 31 % of the distance to the limit")
    assert listed[-1].endswith("%")
    few = replace(corner, values=corner.values[:1])
    assert deciding((), few).together == ()


@pytest.fixture(scope="module")
def mill() -> FlaskClient:
    """The service with the demo park."""
    return create_app(park=load_park(None)).test_client()


def other_looms_of(mill: FlaskClient, reference: str, **changes: object) -> str:
    (order,) = (each for each in demo_orders() if each["construction"]["reference"] == reference)
    request = {"construction": order["construction"] | changes, "loom_id": order["loom_id"]}
    said = words(page_of(mill, request)).partition(" Other looms ")[2]
    return said.partition(" What to change ")[0]


@pytest.mark.slow
def test_the_page_of_an_order_that_is_not_weavable_names_looms_that_help(
    mill: FlaskClient,
) -> None:
    # 252 cm in the reed of 230.
    said = other_looms_of(mill, "D-118")
    looms = r"air-jet-340-dobby(.*) rapier-340-dobby(.*) projectile-360-cam(.*?) Rank all"
    found = re.search(rf"The order is weavable as it is on: {looms}", said)
    assert found is not None
    assert all(re.fullmatch(r", weavable; \d+ h at \d+ picks/min", each) for each in found.groups())
    # The cloth as ordered in one width is nearer than another weave on the wide loom, and leaves
    # nothing to what is assumed if the selvedge takes no shafts of its own.
    one_width = "On rapier-230-dobby: Weave it in one panel."
    said = other_looms_of(mill, "D-119")
    assert f"{one_width} Weave the selvedge as the ground. The order is then weavable" in said
    assert "if what is assumed" not in said
    without_shafts = {"ends_per_side": 24, "weave": "2/2 weft rib", "shafts": 0}
    said = other_looms_of(mill, "D-119", selvedge=without_shafts)
    assert one_width in said
    assert "if what is assumed" not in said
    # A small change on its own loom is enough, and a weavable order needs none.
    assert not other_looms_of(mill, "D-116")
    assert not other_looms_of(mill, "D-101")


@pytest.mark.slow
def test_the_tag_of_a_page_changes_with_the_park_that_it_names(mill: FlaskClient) -> None:
    (order,) = (each for each in demo_orders() if each["construction"]["reference"] == "D-118")
    request = {name: order[name] for name in ("construction", "loom_id")}
    link = mill.post("/v1/validations", json=request).get_json()["links"]["self"]
    tag = mill.get(link, headers=HTML).headers["ETag"]
    assert mill.get(link, headers={**HTML, "If-None-Match": tag}).status_code == 304
    text = resources.files("weavability").joinpath("data/demo_park.toml").read_text("utf-8")
    sold = create_app(park=parse_park(text.replace("air-jet-340", "sold"), name="park.toml"))
    again = sold.test_client().get(link, headers={**HTML, "If-None-Match": tag})
    assert again.status_code == 200
    assert "air-jet-340" not in again.text
