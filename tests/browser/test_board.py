"""The board: links in, a park that changes, what is different, and a list that stays."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
import requests
from browser.tabs import Tab
from selenium.webdriver import Chrome
from selenium.webdriver.common.keys import Keys
from service.servers import Server, free_port, serving, until
from service.support import PARK_TEXT, small_request

from weavability.service.http.links import pack
from weavability.service.requests.canonical import canonical_request
from weavability.service.requests.park import parse_park
from weavability.service.resources.validations import identity_of
from weavability_client import Client

NARROW_PARK: Final = PARK_TEXT.replace("reed_width_cm = 190.0", "reed_width_cm = 130.0")
DEMO_PARK: Final = Path(__file__).parents[2] / "server/weavability/data/demo_park.toml"
MANY: Final = 2_500
"""Three polls of up to a thousand links, and five pages of the list."""


class Board:
    """The board of a service whose park is changed and which is started again."""

    def __init__(self, tab: Tab, port: int) -> None:
        self.tab = tab
        self.tab.url = f"http://127.0.0.1:{port}"
        origin = {"origin": self.tab.url, "storageTypes": "all"}
        tab.driver.execute_cdp_cmd("Storage.clearDataForOrigin", origin)

    def open(self, fragment: str = "") -> None:
        self.tab.driver.get("about:blank")
        self.tab.open(f"/board{fragment}")
        self.tab.until(lambda: self.tab.one("#board").is_displayed())

    def paste(self, text: str) -> None:
        if not self.tab.one("#adding").get_attribute("open"):
            self.tab.press("Add links")
        self.tab.driver.execute_script(
            "arguments[0].value = arguments[1]", self.tab.field("Links to reports"), text
        )
        self.tab.press("Put on the board")

    def rows(self) -> dict[str, str]:
        """What can be read of each row, by its label."""
        lines = [each.text for each in self.tab.all("#rows tr")]
        return {line.split()[0]: " ".join(line.split()) for line in lines}

    def shows(self, *labels: str) -> None:
        self.tab.until(lambda: list(self.rows()) == list(labels))

    def says(self, words: str) -> None:
        self.tab.until(lambda: words in " ".join(self.tab.text.split()))


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def board(tab: Tab, port: int) -> Board:
    return Board(tab, port)


def request_of(width_cm: float, loom_id: str = "rapier-190-dobby") -> dict[str, Any]:
    request = small_request()
    request["construction"]["width_cm"] = width_cm
    return {**request, "loom_id": loom_id}


def link_of(request: dict[str, Any]) -> str:
    return f"/v1/validations/{pack(canonical_request(request))}"


def test_a_changed_park_is_seen_and_a_service_that_is_away_is_said_once(
    board: Board, port: int, tmp_path: Path
) -> None:
    park = tmp_path / "park.toml"
    park.write_text(PARK_TEXT, encoding="utf-8")
    wide, jet, narrow = (
        link_of(request_of(width, loom))
        for width, loom in (
            (150, "rapier-190-dobby"),
            (150, "air-jet-190-cam"),
            (120, "rapier-190-dobby"),
        )
    )
    with serving("--looms", str(park), "--workers", "1", port=port):
        board.open()
        assert "Nothing is on the board yet" in board.tab.text
        board.paste(
            f"SO-1  {wide}\nSO-2;https://mill.example{jet}?reference=other\n"
            f"{narrow}?reference=SO-3\nno link at all\nSO-4 {wide[:-3]}AAA"
        )
        board.says("4 links added. One line holds no link to a report: line 4, “no link at all”.")
        board.shows("SO-1", "SO-2", "SO-3", "SO-4")
        board.says("Last poll")
        rows = board.rows()
        assert "plain, Ne 30 × Ne 30, 28 × 24 per cm, 150 cm rapier-190-dobby" in rows["SO-1"]
        assert "Weavable" in rows["SO-1"]
        assert "air-jet-190-cam" in rows["SO-2"]
        assert "Cannot be judged" in rows["SO-4"]
        assert board.tab.field("Links to reports").get_property("value") == "no link at all"
    board.tab.press("Poll now")
    board.says("The service has been away since")
    board.tab.press("Poll now")
    board.tab.until(lambda: board.tab.one("#poll").get_attribute("aria-disabled") == "false")
    assert board.tab.text.count("away") == 1
    assert list(board.rows()) == ["SO-1", "SO-2", "SO-3", "SO-4"]
    refused = board.tab.complaints()
    assert refused
    assert all("ERR_CONNECTION_REFUSED" in each for each in refused)

    park.write_text(NARROW_PARK.replace("air-jet-190-cam", "air-jet-340-cam"), encoding="utf-8")
    with serving("--looms", str(park), "--workers", "1", port=port):
        board.tab.press("Poll now")
        board.says("The service is back")
        assert "has been away" not in board.tab.text
        board.tab.press("Changed 2")
        board.shows("SO-1", "SO-2")
        rows = board.rows()
        assert "Not weavable" in rows["SO-1"]
        assert "was: weavable added: width.reed_space" in rows["SO-1"]
        assert "air-jet-190-cam: There is no loom of this name" in rows["SO-2"]
        assert board.tab.driver.title == "(2) Board"
        board.tab.driver.refresh()
        board.shows("SO-1", "SO-2")
        assert "was: weavable added: width.reed_space" in board.rows()["SO-1"]
        board.tab.one("#rows .see").click()
        board.shows("SO-2")
        board.tab.press("Not weavable 1")
        board.shows("SO-1")
        assert "was:" not in board.rows()["SO-1"]
        park.write_text(PARK_TEXT, encoding="utf-8")
    with serving("--looms", str(park), "--workers", "1", port=port):
        board.tab.press("Poll now")
        board.tab.press("Changed")
        board.shows("SO-1")
        assert "was: not weavable cleared: width.reed_space" in board.rows()["SO-1"]


@pytest.fixture(scope="module")
def kept(chrome: Chrome) -> Iterator[Server]:
    with serving() as server:
        yield server


def test_thousands_of_links_of_a_sheet_are_polled_in_parts_and_filtered(
    tab: Tab, kept: Server, tmp_path: Path
) -> None:
    board = Board(tab, kept.port)
    park = parse_park(DEMO_PARK.read_text("utf-8"), name="demo")
    lines = ["label,link,validation_id,verdict,codes,severities,loom_id,cloth"]
    for number in range(MANY):
        request = request_of(120 + number / 100)
        written = canonical_request(request)
        bad = number % 10 == 0
        verdict, code = ("not_weavable", "width.reed_space") if bad else ("weavable", "")
        tag = identity_of(written, request, park)
        lines.append(
            f"SO-{number},{link_of(request)},{tag},{verdict},{code},{'error' if bad else ''},"
            f"{'rapier-190-dobby' if number % 2 else 'air-jet-190-cam'},plain"
        )
    sheet = tmp_path / "links.csv"
    sheet.write_text("\n".join(lines), encoding="utf-8")
    board.open()
    tab.field("Or a CSV file").send_keys(str(sheet))
    board.says("2 500 links added.")
    board.says("Last poll")
    board.says("2 500 links, none changed.")
    polls = [each for each in kept.lines() if each.get("route") == "/v1/validation-changes"]
    assert [each["status"] for each in polls] == [200] * 3

    assert len(tab.all("#rows tr")) == 500
    board.says("1–500 of 2 500 reports")
    tab.one("#after").click()
    board.says("501–1 000 of 2 500 reports")
    assert tab.one("#rows .label").text == "SO-500"
    tab.fill("Text", "so-24")
    board.says("111 reports")
    tab.press("Not weavable")
    board.says("11 reports")
    tab.driver.refresh()
    board.says("11 reports")
    tab.fill("Text", "")
    tab.fill("Loom", "air-jet-190-cam")
    tab.fill("Finding", "width.reed_space")
    tab.fill("Severity", "error")
    board.says("250 reports")
    tab.fill("Severity", "note")
    board.says("0 reports")
    tab.press("All")
    tab.fill("Severity", "any")
    board.says("250 reports")
    tab.one("#remove-all").send_keys(Keys.ENTER)
    board.says("250 links removed.")
    # What was pressed is gone; the keyboard goes on at the list.
    tab.until(lambda: tab.one("#panel") == tab.driver.switch_to.active_element)
    tab.one("#undo").send_keys(Keys.ENTER)
    board.says("250 links put back.")
    tab.until(lambda: tab.one("#panel") == tab.driver.switch_to.active_element)


REFUSED_FIRST: Final = """
const asks = window.fetch;
window.polls = [];
window.fetch = (...given) => {
  window.polls.push(document.getElementById("polled").textContent);
  if (window.polls.length > 1) return asks(...given);
  const said = JSON.stringify({detail: "One caller may send 30 requests a minute."});
  return Promise.resolve(new Response(said, {status: 429, headers: {"Retry-After": "1"}}));
};
"""


def test_a_poll_that_is_too_soon_goes_on_when_the_service_allows_it(tab: Tab, kept: Server) -> None:
    board = Board(tab, kept.port)
    board.open()
    tab.driver.execute_script(REFUSED_FIRST)
    board.paste(link_of(request_of(150)))
    board.says("Last poll")
    first, second = tab.driver.execute_script("return window.polls")
    assert first == "Polling 1 link …"
    assert second.startswith("One caller may send 30 requests a minute. Polling goes on at ")
    assert "away" not in tab.text


def test_links_from_other_pages_and_a_sheet_that_goes_out_and_comes_back(
    tab: Tab, kept: Server, tmp_path: Path
) -> None:
    board = Board(tab, kept.port)
    token = link_of(request_of(150)).rpartition("/")[2]
    other = link_of(request_of(220))
    board.open(f"#add={token}&label=%3D1%2B1&add={other}&label=SO%2C%222%22")
    board.says("2 links added.")
    board.says("Last poll")
    assert "add=" not in tab.path
    assert [each.text for each in tab.all("#rows .label")] == ["=1+1", 'SO,"2"']
    for scheme in ("light", "dark"):
        tab.scheme(scheme)
        assert tab.barriers() == []
    tab.sized(390)
    assert tab.overflow_px() <= 0
    tab.sized(1280)

    here = tab.driver.current_window_handle
    tab.driver.switch_to.new_window("tab")
    board.open()
    tab.one("#rows .remove").click()
    board.shows('SO,"2"')
    tab.press("Undo")
    board.says("1 link put back.")
    tab.driver.close()
    tab.driver.switch_to.window(here)
    board.shows("=1+1", 'SO,"2"')

    folder = {"behavior": "allow", "downloadPath": str(tmp_path)}
    tab.driver.execute_cdp_cmd("Browser.setDownloadBehavior", folder)
    tab.press("Export these as CSV")
    until(lambda: list(tmp_path.glob("board-*.csv")))
    sheet = next(tmp_path.glob("board-*.csv"))
    rows = list(csv.DictReader(io.StringIO(sheet.read_text("utf-8-sig"))))
    assert [row["label"] for row in rows] == ["'=1+1", 'SO,"2"']
    assert [row["verdict"] for row in rows] == ["weavable", "not_weavable"]
    assert rows[1]["codes"].split()[rows[1]["severities"].split().index("error")]
    with Client(kept.url) as mill:
        assert mill.changes([{"link": row["link"], "etag": row["etag"]} for row in rows]) == ()

    tab.press("Remove these")
    board.says("Nothing is on the board yet")
    tab.driver.refresh()
    board.says("Nothing is on the board yet")
    tab.field("Or a CSV file").send_keys(str(sheet))
    board.says("2 links added.")
    board.says("2 links, none changed.")
    assert [each.text for each in tab.all("#rows .label")] == ["=1+1", 'SO,"2"']
    orders = (
        "reference,loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A\n"
        "SO-8,rapier-190-dobby,plain,152,28,24,Ne 30,Ne 30\n"
        "SO-9,rapier-190-dobby,plain,252,28,24,Ne 30,Ne 30\n"
    )
    answer = requests.post(
        f"{kept.url}/v1/validations", data=orders, headers={"Content-Type": "text/csv"}, timeout=30
    )
    judged = tmp_path / "judged.csv"
    judged.write_text(answer.text, encoding="utf-8")
    tab.press("Add links")
    tab.field("Or a CSV file").send_keys(str(judged))
    board.says("4 links, none changed.")
    shown = board.rows()
    assert "plain, Ne 30 × Ne 30, 28 × 24 per cm, 252 cm" in shown["SO-9"]
    assert "✕ error width.reed_space" in shown["SO-9"]

    tab.press("=1+1")
    tab.until(lambda: re.match(r"/v1/validations/v1\.", tab.path))
